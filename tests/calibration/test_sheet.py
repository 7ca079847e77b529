"""The maker's sheet: does the probe meet it, and the shape it lends (job map 9.4)."""

from __future__ import annotations

import numpy as np
import pytest

from sensorcal.calibration.calibration import u_statistical_c
from sensorcal.calibration.sheet import _rounding_ratio, check_against_sheet, sheet_curve, sheet_prior
from sensorcal.calibration.thermistor import TYPICAL, fit_thermistor
from sensorcal.errors import InputError
from sensorcal.measure.terms import term
from tests.probes import TABLE_C, TABLE_OHM, j_spline

SHEET = [(0.0, 5230.0), (25.0, 1800.0), (97.7, 172.1), (120.0, 98.2)]
ICE, STEAM = 5262.0, 172.9


def checks(**options):
    """Ice and steam of the scenario against its sheet."""
    given = {"tolerance_ratio": 0.03, **options}
    return check_against_sheet([0.0, 97.7], [ICE, STEAM], [0.08, 0.12], SHEET, **given)


def test_the_scenario():
    """+0.6 and +0.5 % would not be -0.13 and -0.18 °C, or would not meet a sheet of ± 3 % (job map 9.4)."""
    ice, steam = checks()
    assert (ice.ratio, steam.ratio) == pytest.approx((0.0061, 0.0046), abs=1e-4)
    assert (ice.error_c, steam.error_c) == pytest.approx((-0.13, -0.18), abs=0.005)
    assert (ice.verdict, steam.verdict) == ("meets", "meets")
    assert ice.expanded_c == pytest.approx(1.96 * 0.08, abs=1e-3)
    assert steam.tolerance_c == pytest.approx(0.03 / 0.0265, rel=0.01)  # slope 2.65 % a kelvin there


def test_verdicts_with_a_guard_band():
    """A probe within U of its tolerance would be passed or failed (ILAC-G8:09/2019, 4.2.2: guard band U)."""
    assert [c.verdict for c in checks(tolerance_ratio=0.001)] == ["cannot tell", "cannot tell"]
    assert [c.verdict for c in checks(tolerance_ratio=0.007)] == ["cannot tell", "cannot tell"]
    off = check_against_sheet([97.7], [STEAM * 1.06], [0.12], SHEET, tolerance_ratio=0.03)
    assert off[0].verdict == "does not meet"
    assert off[0].error_c < -2.0


def test_two_points_with_the_sheet_as_shape():
    """Ice, steam and the sheet would not give U(120) of 0.33 to 0.34, ice, 50, steam and the ± 30 % not 0.52."""
    prior = sheet_prior(SHEET, [ICE, STEAM])
    two = fit_thermistor([0.0, 97.7], [ICE, STEAM], (term("point", [0.08, 0.12], 2, common=False),), prior=prior)
    assert 2.0 * float(u_statistical_c(two, 120.0)) == pytest.approx(0.33, abs=0.015)
    r = j_spline().resistance_ohm(np.array([0.0, 50.0, 97.7]))
    three = fit_thermistor([0.0, 50.0, 97.7], r, (term("point", [0.08, 0.25, 0.12], 3, common=False),), prior=TYPICAL)
    assert 2.0 * float(u_statistical_c(three, 120.0)) == pytest.approx(0.52, abs=0.03)
    # and the redline of the sheet comes out where this probe has it
    assert float(two.temperature_c(98.2)) == pytest.approx(120.3, abs=0.1)


def test_curve_of_the_sheet():
    """The curve through a sheet would miss its pairs by more than their rounding allows, or need more than two."""
    curve = sheet_curve(list(zip(TABLE_C, TABLE_OHM, strict=True)))
    assert curve.temperature_c(np.array(TABLE_OHM)) == pytest.approx(TABLE_C, abs=0.35)  # probe J is not this form
    through_two = sheet_curve(SHEET[1:3])
    assert through_two.abc[2] == 0.0
    assert through_two.temperature_c([1800.0, 172.1]) == pytest.approx([25.0, 97.7], abs=1e-9)


def test_a_point_of_the_sheet_has_no_error():
    """A probe that reads what the sheet prints would be told an error, or outside the sheet as inside."""
    exact = check_against_sheet(
        TABLE_C, TABLE_OHM, [0.1] * 12, list(zip(TABLE_C, TABLE_OHM, strict=True)), tolerance_ratio=0.01
    )
    assert [c.error_c for c in exact] == pytest.approx([0.0] * 12, abs=1e-9)
    assert all(c.inside_table for c in exact)
    beyond = check_against_sheet([130.0], [77.8], [0.1], SHEET, tolerance_ratio=0.03)[0]
    assert not beyond.inside_table


def test_a_sheet_that_tells_no_shape():
    """Two pairs, or three of two digits, would be taken for knowledge of the curvature."""
    two = sheet_prior(SHEET[:2], [ICE, STEAM])
    assert (two.kappa, two.u_kappa) == (TYPICAL.kappa, TYPICAL.u_kappa)
    assert "tell no shape" in two.source
    coarse = sheet_prior([(0.0, 5200.0), (25.0, 1800.0), (50.0, 720.0)], [ICE, STEAM])
    assert (coarse.kappa, coarse.u_kappa) == (TYPICAL.kappa, TYPICAL.u_kappa)
    assert "digits are too few" in coarse.source


@pytest.mark.parametrize(
    ("ohms", "steps"),
    [
        ((5230.0, 1800.0, 172.1, 98.2), (1.0, 1.0, 0.1, 0.1)),
        ((5200.0, 1800.0, 720.0), (100.0, 100.0, 10.0)),
        ((32650.0, 10000.0, 3603.0, 680.0), (10.0, 10.0, 1.0, 1.0)),
        ((14079.0, 5230.0, 50.3), (1.0, 1.0, 0.1)),
        ((9.82, 98.2, 982.0), (0.01, 0.1, 1.0)),
    ],
    ids=str,
)
def test_last_digit_of_a_sheet(ohms, steps):
    """Zeros that only hold places would be taken for digits, and a coarse sheet for a fine one."""
    step = _rounding_ratio(np.array(ohms)) * np.sqrt(12.0) * ohms
    assert step == pytest.approx(steps)


def test_shape_of_a_full_sheet():
    """The curvature of probe J's sheet would not be near 0.016 to 5 %, digits of the sheet included."""
    prior = sheet_prior(list(zip(TABLE_C, TABLE_OHM, strict=True)), [ICE, STEAM])
    assert prior.kappa == pytest.approx(0.0165, abs=0.0015)
    assert prior.u_kappa == pytest.approx(0.05 * prior.kappa, rel=0.35)
    assert prior.u_kappa >= 0.05 * prior.kappa


@pytest.mark.parametrize(
    ("sheet", "says"),
    [
        (SHEET[:1], "fewer than two points"),
        ([(0.0, 1800.0), (25.0, 5230.0)], "do not fall"),
        ([(25.0, 1800.0), (25.0, 1800.0)], "do not fall"),
        ([(0.0, 5230.0), (25.0, -1.0)], "do not fall"),
    ],
)
def test_refusals(sheet, says):
    """A sheet typed the wrong way round would be used."""
    with pytest.raises(InputError, match=says):
        sheet_curve(sheet)
