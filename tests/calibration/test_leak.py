"""Leak-down of a shut line."""

from __future__ import annotations

import numpy as np
import pytest

from sensorcal.calibration.leak import leak_down
from sensorcal.errors import InputError

T = np.arange(30.0, 331.0, 30.0)


def _decay(tau, u, seed):
    return 600e3 * np.exp(-(T - T[0]) / tau) + u * np.random.default_rng(seed).standard_normal(T.size)


def test_a_known_leak_comes_back():
    """Put a time constant in and get it back within U nineteen times in twenty."""
    inside = 0
    for seed in range(200):
        found = leak_down(T, _decay(3000.0, 400.0, seed), u_pressure_pa=400.0)
        assert found.seen
        inside += abs(found.time_constant_s - 3000.0) < 2 * found.u_time_constant_s
    assert 182 <= inside <= 198  # 191 expected with k = 2, standard deviation 3
    assert found.rate_pa_per_s == pytest.approx(200.0, rel=0.05)
    assert found.effect_pa(15.0) == pytest.approx(600e3 * (1 - np.exp(-15 / 3000)), rel=0.05)
    assert found.effect_pa(15.0, 300e3) == pytest.approx(0.5 * found.effect_pa(15.0), rel=0.01)


def test_a_tight_line_is_not_called_leaky():
    """Noise alone may be called a leak about once in forty times only."""
    calls = sum(leak_down(T, _decay(np.inf, 400.0, seed), u_pressure_pa=400.0).seen for seed in range(400))
    assert calls <= 20  # 9 expected, standard deviation 3
    found = leak_down(T, _decay(np.inf, 400.0, 1), u_pressure_pa=400.0)
    assert "no leak seen: less than" in found.sentence
    assert found.time_constant_s is None


def test_cooling_air_is_left_out_or_told():
    """The fall of freshly pumped air is no leak."""
    t = np.concatenate([[0.0, 10.0], T])
    p = 600e3 * np.exp(-(t / 3000.0)) + 30e3 * np.exp(-t / 5.0)
    found = leak_down(t, p, u_pressure_pa=400.0)
    assert found.time_constant_s == pytest.approx(3000.0, rel=0.03)
    assert "2 readings before 20 s left out" in found.sentence
    early = leak_down(t, p, u_pressure_pa=400.0, settling_s=0.0)
    assert not early.fits
    assert "not steady" in early.sentence


@pytest.mark.parametrize(
    ("time", "pressure", "words"),
    [
        ([30.0, 60.0], [1e5, 1e5], "2 readings"),
        ([60.0, 30.0, 90.0], [1e5] * 3, "does not rise"),
        ([30.0, 60.0, 90.0], [1e5, 0.0, 1e5], "not above zero"),
        ([30.0, 60.0, 90.0], [1e5, 1e5], "stand beside"),
    ],
)
def test_bad_input_is_named(time, pressure, words):
    """One clear sentence must say what is wrong."""
    with pytest.raises(InputError, match=words):
        leak_down(time, pressure, u_pressure_pa=100.0)
