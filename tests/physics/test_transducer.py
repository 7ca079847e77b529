"""Ratiometric transducers: curves and their inverses, what supply and ground do, and what is refused."""

from __future__ import annotations

import numpy as np
import pytest

from sensorcal.errors import CurveError, InputError
from sensorcal.physics.transducer import (
    RatioPolynomial,
    RatioTable,
    lifted_ground_pa,
    ratio_of,
    sound_ratio,
    supply_ignored_pa,
)

LINE = RatioPolynomial.through(zero_ratio=0.1, span_ratio=0.8, low_pa=0.0, high_pa=1e6)
BENT = RatioPolynomial(
    coefficients_pa=np.array([510e3, 500e3, -20e3, 5e3]), centre=0.5, scale=0.4, low_ratio=0.1, high_ratio=0.9
)
TABLE = RatioTable(knots_ratio=np.array([0.1, 0.4, 0.9]), coefficients_pa=np.array([0.0, 380e3, 1e6]))


@pytest.mark.parametrize("curve", [LINE, BENT, TABLE], ids=["line", "cubic", "table"])
def test_inverse_slope_and_design(curve):
    """An inverse or a slope that is not the curve's own would shift every table and every U."""
    r = np.linspace(0.08, 0.92, 41)
    p = curve.pressure_pa(r)
    assert curve.ratio(p) == pytest.approx(r, abs=1e-12)
    assert curve.design(r) @ curve.coefficients_pa == pytest.approx(p, abs=1e-6)
    inner = r[(np.abs(r - 0.4) > 0.01)]
    step = (curve.pressure_pa(inner + 1e-6) - curve.pressure_pa(inner - 1e-6)) / 2e-6
    assert curve.slope_pa_per_ratio(inner) == pytest.approx(step, rel=1e-6)
    assert curve.pressure_pa(r.reshape(1, -1)).shape == (1, 41)
    assert float(curve.ratio(float(p[3]))) == pytest.approx(r[3])


def test_supply_ignored_at_4_93_and_4_75():
    """The cost of a round 5 V must be told with its sign: a low supply reads low."""
    assert float(supply_ignored_pa(LINE, 0.42, 4.93)) / 1000 == pytest.approx(-7.35, abs=0.005)
    assert float(supply_ignored_pa(LINE, 0.42, 4.75)) / 1000 == pytest.approx(-26.25, abs=0.005)
    assert float(supply_ignored_pa(LINE, 0.42, 5.0)) == pytest.approx(0.0, abs=1e-6)
    at = [0.1, 0.42, 0.74]  # 0, 400 and 800 kPa at 4.90 V
    assert (supply_ignored_pa(LINE, at, 4.90) / 1000).tolist() == pytest.approx([-2.5, -10.5, -18.5], abs=0.005)


def test_lifted_ground():
    """A ground lifted by 20 mV shifts by d (1 - r): 4.5 kPa at zero, 2.9 at 400; the sign follows the current."""
    shift = lifted_ground_pa(LINE, [0.1, 0.42], 0.020) / 1000
    assert shift.tolist() == pytest.approx([4.5, 2.9])
    assert lifted_ground_pa(LINE, [0.1, 0.42], -0.020).tolist() == pytest.approx([-4500.0, -2900.0])
    # by the circuit itself: the sensor sees 4.98 V from its own ground
    seen = 0.020 + 0.42 * (5.0 - 0.020)
    assert float(LINE.pressure_pa(seen / 5.0)) - 400e3 == pytest.approx(2900.0)


def test_what_is_refused():
    """A curve that turns round has two pressures for one reading; a ratio beyond 1 is a wrong unit."""
    with pytest.raises(CurveError, match="does not rise"):
        RatioPolynomial(coefficients_pa=np.array([0.0, 1e5, 4e5]), centre=0.5, scale=0.4, low_ratio=0.1, high_ratio=0.9)
    with pytest.raises(CurveError, match="do not rise"):
        RatioTable(knots_ratio=np.array([0.1, 0.5, 0.9]), coefficients_pa=np.array([0.0, 5e5, 4e5]))
    turning = RatioPolynomial(
        coefficients_pa=np.array([5e5, 5e5, -2e5]), centre=0.5, scale=0.4, low_ratio=0.1, high_ratio=0.9
    )
    with pytest.raises(CurveError, match="rises from"):
        turning.ratio(2e6)
    with pytest.raises(InputError, match="outside 0 to 1"):
        sound_ratio([0.5, 1.2])
    assert np.isnan(sound_ratio([np.nan])).all()  # a missing reading stays missing
    with pytest.raises(InputError, match="supply_v 0 V"):
        ratio_of(2.0, [5.0, 0.0])
    with pytest.raises(InputError, match="assumed_v"):
        supply_ignored_pa(LINE, 0.4, 5.0, assumed_v=0.0)
    with pytest.raises(InputError, match="supply_v"):
        lifted_ground_pa(LINE, 0.4, 0.02, supply_v=0.0)
