"""Alarms, the rate from a log, nuisance and boiling margin, with the numbers of the worked scenario."""

from __future__ import annotations

import numpy as np
import pytest

from sensorcal.errors import InputError
from sensorcal.installed.alarm import alarm, nuisance, worst_rate
from sensorcal.installed.boilmargin import boiling_margin, coolant_boiling_c


@pytest.mark.parametrize(
    ("u", "rate", "red"), [(1.6, 0.3, 113.0), (1.6, 0.05, 117.0), (5.0, 0.3, 110.0)],
    ids=["fast climb", "slow climb", "careless calibration"],
)  # fmt: skip
def test_high_limit(u, rate, red):
    """An allowance left out or a rounding toward the limit would let the engine pass 120 before the alarm."""
    found = alarm(120.0, u, rate_per_s=rate, lag_s=15.0, step=1.0)
    assert found.red == red
    assert found.caution == red - 5.0
    assert found.red <= found.exact <= found.limit - u


def test_low_limit_is_mirrored():
    """A low oil pressure alarm below 150 + 7 would sound too late."""
    found = alarm(150.0, 7.0, side="low", step=1.0, unit="kPa")
    assert found.limit + found.guard == 157.0
    assert found.red == 158.0
    assert found.caution == 163.0
    with_fall = alarm(150.0, 7.0, side="low", rate_per_s=10.0, lag_s=0.5, step=1.0, unit="kPa")
    assert with_fall.red == 163.0


def test_arithmetic_adds_up():
    """A printed line that is not the number used would be a lie to the owner."""
    found = alarm(120.0, 1.6, rate_per_s=0.3, lag_s=15.0, step=1.0)
    numbers = [float(line[33:].split()[0]) for line in found.arithmetic]
    assert sum(numbers[:4]) == pytest.approx(numbers[4])
    assert numbers[5:] == [found.red, found.caution]
    assert found.false_accept == pytest.approx(0.02275, abs=1e-5)


@pytest.mark.parametrize("bad", [{"rate_per_s": -0.1}, {"lag_s": np.nan}, {"step": 0.0}, {"side": "both"}])
def test_refusals(bad):
    """A negative rate would move the alarm toward the limit without a word."""
    with pytest.raises(InputError):
        alarm(120.0, 1.6, **bad)


def test_worst_rate_of_a_log():
    """A rate from one noisy step instead of a sustained climb would be many times too large."""
    rng = np.random.default_rng(4)
    t = np.arange(0.0, 900.0, 1.0)
    true = 80.0 + 0.05 * np.clip(t - 300.0, 0.0, 200.0) - 0.02 * np.clip(t - 600.0, 0.0, 300.0)
    found = worst_rate(t, true + 0.1 * rng.standard_normal(t.size), window_s=60.0)
    assert found.rate_per_s == pytest.approx(0.05, abs=0.004)
    assert 290.0 < found.from_s < 450.0
    falling = worst_rate(t, true, window_s=60.0, side="low")
    assert falling.rate_per_s == pytest.approx(-0.02, rel=1e-6)
    assert alarm(120.0, 1.6, rate_per_s=found.rate_per_s, lag_s=15.0).red == 117.0


def test_worst_rate_does_not_cross_a_hole():
    """A jump across a pause in the log is no climb of the engine."""
    t = np.append(np.arange(0.0, 60.0, 1.0), np.arange(90.0, 150.0, 1.0))
    found = worst_rate(t, np.where(t < 70.0, 60.0, 90.0), window_s=20.0)
    assert found.rate_per_s == pytest.approx(0.0, abs=1e-12)


@pytest.mark.parametrize(
    ("t", "y"), [([0, 1, 1, 2], [1, 2, 3, 4]), ([0, 1, 2], [1, np.nan, 2]), ([0, 30], [1, 2])],
    ids=["time stands", "gap", "too few"],
)  # fmt: skip
def test_log_refusals(t, y):
    """A broken log must be refused, not smoothed over."""
    with pytest.raises(InputError):
        worst_rate(t, y, window_s=10.0)


def test_nuisance():
    """An alarm inside normal running would be switched off by its owner."""
    careless = nuisance(alarm(120.0, 5.0, rate_per_s=0.3, lag_s=15.0), 109.0, repeatability=0.3, ripple=1.0)
    careful = nuisance(alarm(120.0, 1.6, rate_per_s=0.3, lag_s=15.0), 109.0, repeatability=0.3, ripple=1.0)
    assert careless.likely
    assert careless.room == 1.0
    assert not careful.likely


def test_coolant_boiling():
    """Gauge taken for absolute pressure would put boiling under a 90 kPa cap near 97 degC."""
    altitude = [0.0, 640.0, 2000.0, 3000.0, 4500.0]
    assert np.allclose(coolant_boiling_c(altitude, 90e3), [118.8, 117.6, 115.1, 113.3, 110.9], atol=0.05)
    # 640 m is 97.85, where the scenario prints 97.9 and whole degrees above.
    assert np.allclose(coolant_boiling_c(altitude, 0.0), [100.0, 97.9, 93.3, 90.0, 84.9], atol=0.06)
    margin = boiling_margin(115.0, altitude, 90e3)
    assert margin.margin_c[0] > 0 > margin.margin_c[-1]
    assert (margin.unsealed_margin_c < 0).all()
