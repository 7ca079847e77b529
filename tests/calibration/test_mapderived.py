"""Boost, ratio, referred pressures, full throttle and altitudes: their u against draws through the laws themselves."""

from __future__ import annotations

import numpy as np
import pytest

from sensorcal.bench.station import measured_station_pressure
from sensorcal.calibration.mapderived import altitudes, full_throttle_expected, manifold_figures
from sensorcal.errors import InputError
from sensorcal.physics import manifold
from sensorcal.physics.air import density_altitude_m
from sensorcal.physics.atmosphere import pressure_altitude_m

DRAWS = 100_000


def _draw(*inputs: tuple[float, float], correlation: float = 0.0) -> list[np.ndarray]:
    """Normal draws of inputs given as (value, u); the first two correlated."""
    z = np.random.default_rng(20_260_713).standard_normal((len(inputs), DRAWS))
    if len(inputs) > 1:
        z[1] = correlation * z[0] + np.sqrt(1.0 - correlation**2) * z[1]
    return [value + u * draws for (value, u), draws in zip(inputs, z, strict=True)]


@pytest.mark.parametrize("correlation", [-0.5, 0.0, 0.9])
def test_manifold_figures_follow_the_draws(correlation):
    """A slope with the wrong sign, or a correlation left out, would move u by far more than 1 %."""
    found = {
        one.name: one
        for one in manifold_figures(
            map_pa=140e3, ambient_pa=93.47e3, u_map_pa=600.0, u_ambient_pa=300.0, charge_c=45.0, u_charge_c=1.0,
            correlation=correlation,
        )
    }  # fmt: skip
    p, a, t = _draw((140e3, 600.0), (93.47e3, 300.0), (45.0, 1.0), correlation=correlation)
    for name, values in {
        "boost": manifold.boost_pa(p, a),
        "pressure ratio": manifold.pressure_ratio(p, a),
        "manifold pressure referred to sea level": manifold.sea_level_map_pa(p, a),
        "manifold pressure referred to standard temperature": manifold.temperature_referred_map_pa(p, t),
    }.items():
        assert found[name].value == pytest.approx(float(np.mean(values)), rel=1e-3), name
        assert found[name].u == pytest.approx(float(np.std(values)), rel=0.015), name


def test_one_sensor_for_both_readings_makes_boost_surer():
    """An offset of the one sensor cancels in the boost: U falls from 1.7 to 0.5 kPa at a correlation of 0.9."""
    apart, shared = (
        manifold_figures(map_pa=140e3, ambient_pa=93.47e3, u_map_pa=600.0, u_ambient_pa=600.0, correlation=r)[0]
        for r in (0.0, 0.9)
    )
    assert 2 * apart.u == pytest.approx(1697.0, abs=1.0)
    assert 2 * shared.u == pytest.approx(537.0, abs=1.0)


def test_full_throttle():
    """The inlet's loss, known to half a per cent, rules: 93.47 kPa and 3 % give 90.7 ± 0.9 kPa."""
    found = full_throttle_expected(ambient_pa=93_470.0, u_ambient_pa=80.0, loss_ratio=0.03, u_loss_ratio=0.005)
    a, loss = _draw((93_470.0, 80.0), (0.03, 0.005))
    values = manifold.full_throttle_map_pa(a, loss_ratio=loss)
    assert found.value == pytest.approx(90_666.0, abs=1.0)
    assert found.u == pytest.approx(float(np.std(values)), rel=0.015)


def test_altitudes_follow_the_draws():
    """A kelvin is worth some 35 m of density altitude, 100 Pa some 9 m of pressure altitude."""
    here = measured_station_pressure(pressure_pa=93_470.0, u_pressure_pa=100.0)
    high, dense = altitudes(
        here, temperature_c=30.0, u_temperature_c=1.0, vapour_pressure_pa=1_500.0, u_vapour_pressure_pa=200.0
    )
    p, t, e = _draw((93_470.0, 100.0), (30.0, 1.0), (1_500.0, 200.0))
    assert high.u == pytest.approx(float(np.std(pressure_altitude_m(p))), rel=0.015)
    assert dense.u == pytest.approx(float(np.std(density_altitude_m(p, t, e))), rel=0.015)
    assert dense.u == pytest.approx(36.0, abs=3.0)
    assert [one.name for one in altitudes(here)] == ["pressure altitude"]


def test_bad_input_is_named():
    """A vacuum below nothing, or a correlation of two, would be computed with."""
    with pytest.raises(InputError, match="map_pa"):
        manifold_figures(map_pa=-1.0, ambient_pa=93e3, u_map_pa=1.0, u_ambient_pa=1.0)
    with pytest.raises(InputError, match="orrelation"):
        manifold_figures(map_pa=90e3, ambient_pa=93e3, u_map_pa=1.0, u_ambient_pa=1.0, correlation=2.0)
    here = measured_station_pressure(pressure_pa=93_470.0, u_pressure_pa=100.0)
    with pytest.raises(InputError, match="vapour_pressure_pa -1"):
        altitudes(here, temperature_c=20.0, vapour_pressure_pa=-1.0)
