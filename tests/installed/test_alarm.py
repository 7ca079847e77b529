"""Alarms, the rate from a log and nuisance, with the numbers of the worked scenario."""

from __future__ import annotations

import numpy as np
import pytest

from sensorcal.errors import InputError
from sensorcal.installed.alarm import alarm, nuisance, worst_rate


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


def test_every_number_has_its_unit():
    """If this fails, an alarm in psi is keyed into a monitor that shows kPa."""
    low = alarm(22.0, 1.0, side="low", step=0.5, unit="psi")
    assert low.unit == "psi"
    assert low.arithmetic[0].endswith(" psi")
    assert "psi" in nuisance(low, 30.0, repeatability=0.2).words
    assert worst_rate([0, 1, 2, 3], [1.0, 2.0, 3.0, 4.0], window_s=2.0, unit="psi").unit == "psi"


@pytest.mark.parametrize(("u", "step"), [(0.06, 0.1), (0.03, 0.05), (1.6, 0.5), (40.0, 10.0)])
def test_the_arithmetic_adds_up_for_fine_displays(u, step):
    """If this fails, a manifold alarm in inHg is printed with terms rounded until they no longer add up."""
    found = alarm(41.0, u, step=step, caution_before=2.0 * step, unit="inHg")
    numbers = [float(line[33:].split()[0]) for line in found.arithmetic]
    assert sum(numbers[:4]) == pytest.approx(numbers[4], abs=1e-9)
    assert found.exact == pytest.approx(numbers[4], abs=0.1 * step)
    assert numbers[5:] == pytest.approx([found.red, found.caution], abs=1e-9)
