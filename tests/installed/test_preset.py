"""Presets judged by the worst error in the band that matters, and resistors that bring a probe to one."""

from __future__ import annotations

import numpy as np
import pytest

from sensorcal.errors import CurveError, InputError
from sensorcal.installed.chain import shown
from sensorcal.installed.preset import (
    choose_preset,
    curve_from_coefficients,
    curve_from_pairs,
    preset_error,
)
from sensorcal.physics.curves import SteinhartHart
from tests.installed.chains import J_SH, thermistor_chain
from tests.probes import TABLE_C, TABLE_OHM, j_spline

J = j_spline()
R25 = 1800.0
B = 3570.0  # effective between 25 and 97.7 degC
OFF = (30.0, 100.0, 300.0)
BETA = SteinhartHart.from_beta(B, R25)


class Steeper:
    """Probe J with its slope in 1/T shifted: its own ohms at 25 degC, its own bend."""

    def __init__(self, more_k):
        grid = np.linspace(-30.0, 170.0, 4001)
        ohm = J.resistance_ohm(grid) * np.exp(more_k * (1.0 / (grid + 273.15) - 1.0 / 298.15))
        self.ln_ohm, self.grid = np.log(ohm)[::-1], grid[::-1]

    def temperature_c(self, resistance_ohm):
        """Temperature at a resistance, from a fine table."""
        return np.interp(np.log(np.asarray(resistance_ohm, dtype=float)), self.ln_ohm, self.grid)


def test_three_presets_with_the_right_ohms_at_25():
    """If this fails, presets that agree at 25 degC with Beta 30, 100 and 300 K off are not 1.2, 3.8 and 10.7 wrong."""
    presets = {f"{off:g}": SteinhartHart.from_beta(B + off, R25) for off in OFF}
    found = choose_preset(BETA, presets, limit_c=120.0)
    assert [one.name for one in found.ranked] == ["30", "100", "300"]
    assert [abs(one.worst_c) for one in found.ranked] == pytest.approx([1.2, 3.8, 10.7], abs=0.05)
    assert all(one.worst_at_c == 130.0 for one in found.ranked)
    best = found.ranked[0]
    assert best.at_limit_c < 0.0
    assert best.alarm_shift_c == best.at_limit_c
    assert found.verdict.startswith("take 30: worst -1.2 degC at 130")


def test_the_same_with_the_bend_of_probe_j():
    """If this fails, the figures hang on the two-term form: with probe J's own bend they are 1.1, 3.7 and 10.4."""
    found = choose_preset(J, {f"{off:g}": Steeper(off) for off in OFF}, limit_c=120.0)
    assert [abs(one.worst_c) for one in found.ranked] == pytest.approx([1.14, 3.71, 10.40], abs=0.01)


@pytest.mark.parametrize(
    ("off", "expected"),
    [(100.0, {0.0: 0.6, 90.0: -2.2, 120.0: -3.4, 150.0: -4.8}), (300.0, {90.0: -6.0, 120.0: -9.5, 150.0: -13.3})],
)
def test_size_of_a_beta_that_is_off(off, expected):
    """If this fails, a preset right at room temperature is not up to 10 degC low at the red line.

    The notes' -3.6 and -5.2, -10.0 and -14.3 at 120 and 150 need a Beta of about 3350 K, below probe J's own.
    """
    preset = SteinhartHart.from_beta(B + off, R25)
    for at, wanted in expected.items():
        one = preset_error(BETA, "x", preset, low_c=60.0, high_c=130.0, limit_c=at)
        assert one.at_limit_c == pytest.approx(wanted, abs=0.06)
    flat = SteinhartHart.from_beta(3350.0, R25)
    low = preset_error(flat, "x", SteinhartHart.from_beta(3350.0 + off, R25), low_c=60.0, high_c=130.0, limit_c=120.0)
    assert low.at_limit_c == pytest.approx(-3.6 if off == 100.0 else -10.0, abs=0.06)


def test_the_ohms_at_25_do_not_decide():
    """If this fails, a preset that is right at 25 and 9 degC low at 120 beats one that is wrong at 25 only."""
    right_at_25 = SteinhartHart.from_beta(B + 300.0, R25)
    t = np.array([60.0, 95.0, 130.0])
    right_when_hot = curve_from_pairs(t, J.resistance_ohm(t))
    found = choose_preset(J, {"right at 25": right_at_25, "right when hot": right_when_hot}, limit_c=120.0)
    assert found.ranked[0].name == "right when hot"
    assert abs(found.ranked[0].worst_c) < 0.2
    assert abs(float(right_at_25.temperature_c(R25)) - 25.0) < 1e-9


def test_the_worst_error_decides_and_not_the_limits():
    """If this fails, a preset right at 120 and 6 degC off at 60 beats one that is 1 degC off throughout."""
    same_at_120 = float(J_SH.resistance_ohm(120.0)) * np.exp(-3900.0 * (1 / 393.15 - 1 / 298.15))
    t = np.array([60.0, 95.0, 130.0])
    presets = {
        "right at the limit": SteinhartHart.from_beta(3900.0, same_at_120),
        "off by one": curve_from_pairs(t + 1.0, J_SH.resistance_ohm(t)),
    }
    found = choose_preset(J_SH, presets, limit_c=120.0)
    assert [one.name for one in found.ranked] == ["off by one", "right at the limit"]
    assert abs(found.ranked[1].at_limit_c) < 0.01 < abs(found.ranked[0].at_limit_c)
    assert abs(found.ranked[1].worst_c) > 3.0


def test_over_two_degrees_it_asks_for_a_resistor():
    """If this fails, a preset 9 degC low at the red line is recommended without a word."""
    found = choose_preset(BETA, {"only": SteinhartHart.from_beta(B + 300.0, R25)}, limit_c=120.0)
    assert "trim it" in found.verdict


def test_the_chain_shows_the_same_error():
    """If this fails, preset and signal chain disagree about what the panel shows."""
    preset = SteinhartHart.from_beta(3600.0, 1850.0)
    one = preset_error(J_SH, "x", preset, low_c=60.0, high_c=130.0, limit_c=120.0)
    chain = thermistor_chain(J_SH, preset=preset)
    assert shown(chain, one.temperature_c) - one.temperature_c == pytest.approx(one.error_c, abs=1e-6)
    assert one.error_c[np.abs(one.error_c).argmax()] == one.worst_c


def test_coefficients_as_a_manual_prints_them():
    """If this fails, A, B, C in ohm and kelvin are read in another order: those of the probe itself must give it."""
    x = np.log([5230.0, 721.0, 172.1])
    a, b, c = np.linalg.solve(np.stack([np.ones(3), x, x**3], axis=1), 1.0 / (np.array([0.0, 50.0, 97.7]) + 273.15))
    curve = curve_from_coefficients(a, b, c)
    at = np.linspace(-20.0, 150.0, 30)
    assert curve.temperature_c(J_SH.resistance_ohm(at)) == pytest.approx(at, abs=1e-6)


def test_pairs_pass_through_every_pair():
    """If this fails, a preset typed as a list of pairs is smoothed away from the list."""
    curve = curve_from_pairs(TABLE_C, TABLE_OHM)
    assert curve.temperature_c(TABLE_OHM) == pytest.approx(TABLE_C, abs=1e-9)
    mixed = curve_from_pairs(TABLE_C[::-1], TABLE_OHM[::-1])
    at = J.resistance_ohm(np.linspace(-20.0, 150.0, 101))
    assert mixed.temperature_c(at) == pytest.approx(curve.temperature_c(at), abs=1e-12)
    # Between wide pairs the smooth line stays within 0.15 degC of probe J.
    assert np.abs(curve.temperature_c(at) - np.linspace(-20.0, 150.0, 101)).max() < 0.15


@pytest.mark.parametrize(
    ("call", "error", "word"),
    [
        (lambda: choose_preset(J_SH, {}, limit_c=120.0), InputError, "no preset"),
        (lambda: choose_preset(J_SH, {"x": J_SH}, limit_c=120.0, low_c=130.0, high_c=60.0), InputError, "empty"),
        (lambda: curve_from_coefficients(1e-3, np.nan), InputError, "no number"),
        (lambda: curve_from_coefficients(1.4e-3, 2.4e-4, -3e-6), CurveError, "does not fall"),
        (lambda: curve_from_pairs([0, 25, 50, 75], [5000, 1800, 1900, 300]), InputError, "must fall"),
        (
            lambda: choose_preset(
                J_SH, {"short": curve_from_pairs(TABLE_C[3:8], TABLE_OHM[3:8])}, limit_c=120.0
            ),
            InputError, "the pairs end at",
        ),
    ],
    ids=["none", "band", "blank", "turns", "rises", "short"],
)  # fmt: skip
def test_refusals(call, error, word):
    """If this fails, a slip in a typed list, or a list that ends below the limit, becomes a recommendation."""
    with pytest.raises(error, match=word):
        call()
