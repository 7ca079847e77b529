"""Manifold pressure: definitions, stories of the fuel rail, columns kept, refusals that name the field."""

from __future__ import annotations

import sys

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sensorcal.errors import InputError
from sensorcal.physics import air, atmosphere, manifold

PRESSURES = st.floats(20_000.0, 250_000.0)
OUTSIDE = st.floats(20_000.0, 105_000.0)
CHARGE = st.floats(-40.0, 150.0)


@given(PRESSURES, OUTSIDE, CHARGE)
def test_the_ways_of_saying_one_reading_agree(map_pa, ambient_pa, charge_c):
    """Boost, ratio, δ, θ and density would be computed from different definitions of the same reading."""
    ratio = float(manifold.pressure_ratio(map_pa, ambient_pa))
    assert float(manifold.boost_pa(map_pa, ambient_pa)) == pytest.approx((ratio - 1.0) * ambient_pa, abs=1e-6)
    referred = float(manifold.sea_level_map_pa(map_pa, ambient_pa))
    assert referred == pytest.approx(map_pa / float(manifold.delta_ratio(ambient_pa)), rel=1e-12)
    cool = float(manifold.temperature_referred_map_pa(map_pa, charge_c))
    assert cool == pytest.approx(map_pa / float(manifold.theta_ratio(charge_c)), rel=1e-12)
    density = float(manifold.charge_density_kg_m3(map_pa, charge_c))
    assert float(manifold.charge_density_kg_m3(cool, 15.0)) == pytest.approx(density, rel=1e-12)
    assert float(manifold.charge_density_ratio(map_pa, charge_c)) == pytest.approx(density / 1.2250001, rel=2e-7)


def test_charge_density_is_the_density_of_air():
    """At rest the charge is outside air: the two rooms of the house would disagree about its density, dry or humid."""
    p, t, e = 93_470.0, 30.0, 3_000.0
    assert float(manifold.charge_density_kg_m3(p, t)) == pytest.approx(float(air.air_density_kg_m3(p, t)), rel=1e-12)
    humid = float(manifold.charge_density_kg_m3(p, t, e))
    assert humid == pytest.approx(float(air.air_density_kg_m3(p, t, e)), rel=1e-12)


def test_full_throttle_reads_the_same_at_every_field_once_referred():
    """The referral to sea level would not take the altitude out of an unsupercharged engine's full throttle."""
    h = np.array([0.0, 640.0, 1_500.0, 3_000.0])
    ambient = atmosphere.standard_pressure_pa(h)
    full = manifold.full_throttle_map_pa(ambient, loss_ratio=0.03)
    np.testing.assert_allclose(manifold.sea_level_map_pa(full, ambient), 0.97 * 101_325.0, rtol=1e-12)
    np.testing.assert_allclose(manifold.full_throttle_map_at_pa(h, loss_ratio=0.03), full, rtol=1e-12)


def test_fuel_rail_of_the_scenario():
    """Story of the referenced regulator: 300 kPa over an airbox at 140 is 346.5 gauge; an alarm at 310 hides 36.5."""
    expected = manifold.expected_rail_gauge_pa(300e3, 93.5e3, 140e3)
    assert float(expected) == pytest.approx(346.5e3)
    assert float(manifold.fuel_differential_pa(expected, 93.5e3, 140e3)) == pytest.approx(300e3)
    assert float(manifold.hidden_deficit_pa(310e3, expected)) == pytest.approx(36.5e3)
    idle = manifold.expected_rail_gauge_pa(300e3, 93.5e3, 35e3)
    assert float(manifold.hidden_deficit_pa(310e3, idle)) == 0.0  # at idle the same alarm sounds without a fault


def test_pandas_columns_keep_their_rows():
    """A log's times would be lost, or two logs joined by position, on the way through a law."""
    rows = pd.date_range("2026-05-02 10:00", periods=3, freq="s")
    frame = pd.DataFrame({"map": [40e3, 93.5e3, np.nan], "air": [93.5e3] * 3, "charge": [20.0, 25.0, 30.0]}, index=rows)
    boost = manifold.boost_pa(frame["map"], frame["air"])
    assert isinstance(boost, pd.Series)
    assert boost.index.equals(frame.index)
    assert boost.tolist()[:2] == [-53_500.0, 0.0]
    assert np.isnan(boost.iloc[2])
    for result in (
        manifold.pressure_ratio(frame["map"], 93.5e3),
        manifold.sea_level_map_pa(frame["map"], frame["air"]),
        manifold.charge_density_kg_m3(frame["map"], frame["charge"]),
        manifold.full_throttle_map_pa(frame["air"], loss_ratio=0.03),
        manifold.theta_ratio(frame["charge"]),
        manifold.fuel_differential_pa(frame["air"], frame["air"], frame["air"]),
    ):
        assert isinstance(result, pd.Series)
        assert result.index.equals(frame.index)
    with pytest.raises(InputError, match="map_pa and ambient_pa have different rows"):
        manifold.boost_pa(frame["map"], frame["air"].reset_index(drop=True))
    assert isinstance(manifold.boost_pa([40e3], 93.5e3), np.ndarray)


def test_columns_of_the_new_numeric_kind():
    """A column with pandas' own missing value would stop the law or turn into zero."""
    column = pd.Series([90_000.0, None], dtype="Float64")
    ratio = manifold.pressure_ratio(column, 90_000.0)
    assert ratio.iloc[0] == 1.0
    assert np.isnan(ratio.iloc[1])


def test_physics_needs_no_pandas():
    """The laws would drag pandas in, which a plain installation lacks."""
    import subprocess

    code = "import sys, sensorcal.physics.manifoldlog, sensorcal.physics.power; assert 'pandas' not in sys.modules"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr


@pytest.mark.parametrize(
    ("call", "told"),
    [
        (lambda: manifold.boost_pa(-5_000.0, 93_500.0), r"map_pa -5000 Pa .* not a gauge reading"),
        (lambda: manifold.boost_pa(93.47, 93_500.0), r"map_pa 93.47 Pa .* looks like kPa: 93.47 kPa is 93470 Pa"),
        (lambda: manifold.boost_pa(93_500.0, 934.7), r"ambient_pa 934.7 Pa .* looks like hPa"),
        (
            lambda: manifold.boost_pa(93_500.0, 29.92),
            r"ambient_pa 29.92 Pa .* looks like inHg: 29.92 inHg is 101321 Pa",
        ),
        (lambda: manifold.boost_pa([9e4, 0.0], 9e4), r"map_pa 0 Pa \(value 2 of 2\)"),
        (lambda: manifold.boost_pa([9e4, 9e4], [9e4, 9e4, 9e4]), r"lengths do not fit: map_pa 2, ambient_pa 3"),
        (lambda: manifold.charge_density_kg_m3(9e4, 500.0), r"charge_c 500 °C is outside"),
        (lambda: manifold.charge_density_kg_m3(9e4, 20.0, 1e5), r"vapour_pressure_pa / map_pa"),
        (lambda: manifold.full_throttle_map_pa(9e4, loss_ratio=3.0), r"loss_ratio 3 .* give 0.03 for 3 %"),
        (lambda: manifold.full_throttle_map_at_pa(30_000.0, loss_ratio=0.03), r"altitude_m 30000 m"),
        (lambda: manifold.fuel_differential_pa(300e3, 0.0, 140e3), r"ambient_pa 0 Pa"),
        (lambda: manifold.expected_rail_gauge_pa(300e3, 93.5e3, 140.0), r"airbox_pa 140 Pa .* looks like kPa"),
    ],
)
def test_refusals_name_the_field(call, told):
    """A pressure in the wrong unit or against the wrong datum would be computed with."""
    with pytest.raises(InputError, match=told):
        call()
