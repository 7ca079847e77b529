"""Pictures of one curve against another show what was computed."""

from __future__ import annotations

import numpy as np

from sensorcal.calibration.calibration import expanded_c
from sensorcal.calibration.thermistor import fit_thermistor
from sensorcal.measure.terms import term
from sensorcal.physics.curves import SteinhartHart
from sensorcal.setup import UnitsOut
from sensorcal.views.comparison import difference_figure, sheet_figure, trust_figure

SHEET = ((-20.0, 14079.0), (0.0, 5230.0), (25.0, 1800.0), (50.0, 721.0), (97.7, 172.1), (120.0, 98.2), (150.0, 50.3))
T = np.array([0.0, 50.0, 97.7])
J_SH = SteinhartHart.through_points(T, [5230.0, 721.0, 172.1])
OWN = (term("own", 0.1, 3, common=False),)


def _line(figure, label):
    (found,) = [one for one in figure.axes[0].lines if one.get_label() == label]
    return np.asarray(found.get_xdata()), np.asarray(found.get_ydata())


def _words(figure):
    return " ".join(text.get_text() for text in figure.axes[0].texts)


def test_sheet_picture_shows_a_probe_of_more_ohms_as_reading_cold() -> None:
    """If it failed, a probe 1 % above its sheet would look warm where it reads cold, or of another size."""
    cal = fit_thermistor(T, 1.01 * J_SH.resistance_ohm(T), OWN, prior=None)
    figure = sheet_figure(cal, SHEET, tolerance_ratio=0.03, redline_c=120.0)
    t, error = _line(figure, "this probe")
    expected = 0.01 * float(J_SH.slope_k_per_ln(721.0))
    # The sheet's seven pairs are followed to their rounding, and 1 % is small but not infinitely so: 0.01 °C.
    assert abs(float(np.interp(50.0, t, error)) - expected) < 0.01
    _, allowed = _line(figure, "what the sheet allows")
    assert abs(float(np.interp(50.0, t, allowed)) + 3.0 * expected) < 0.02
    assert (t[0], t[-1]) == (-20.0, 150.0)
    assert "redline 120" in _words(figure)
    assert "extrapolated" in _words(figure)


def test_trust_picture_has_each_u_under_its_own_name() -> None:
    """If it failed, the U of one plan would stand under the name of another."""
    loose = fit_thermistor(T, J_SH.resistance_ohm(T), (term("own", 0.2, 3, common=False),), prior=None)
    tight = fit_thermistor(T, J_SH.resistance_ohm(T), OWN, prior=None)
    figure = trust_figure({"loose": loose, "tight": tight}, units=UnitsOut(temperature="degF"))
    x, u = _line(figure, "loose")
    np.testing.assert_allclose(u, 1.8 * expanded_c(loose, (x - 32.0) / 1.8), rtol=1e-9)
    np.testing.assert_allclose(_line(figure, "tight")[1], 1.8 * expanded_c(tight, (x - 32.0) / 1.8), rtol=1e-9)


def test_difference_picture_shows_the_other_curve_minus_the_base() -> None:
    """If it failed, the error of a two-term curve would have the wrong sign: hot for cold."""
    base = fit_thermistor(T, J_SH.resistance_ohm(T), OWN, prior=None, sensor="P9")
    beta = fit_thermistor(T, J_SH.resistance_ohm(T), OWN, model="beta")
    figure = difference_figure(base, {"Beta": beta}, redline_c=120.0)
    t, shown = _line(figure, "Beta")
    np.testing.assert_allclose(shown, beta.temperature_c(base.resistance_ohm(t)) - t, atol=1e-9)
    assert 0.5 < float(np.interp(120.0, t, shown)) < 1.5
    assert "P9" in figure.axes[0].get_ylabel()
