"""Columns of liquid: sizes that the bench meets, slopes, gravity."""

from __future__ import annotations

import pytest

from sensorcal.errors import InputError
from sensorcal.physics import hydro


def test_sizes_of_the_bench():
    """The head in a hose would be off: 1 m of oil 8.5 kPa, 10 cm of water 1.0, a 1.5 m U-tube 14.68."""
    assert float(hydro.liquid_head_pa(1.0, density_kg_m3=hydro.OIL_DENSITY_KG_M3)) == pytest.approx(8_500.0, abs=50.0)
    assert float(hydro.liquid_head_pa(0.1, density_kg_m3=998.0)) == pytest.approx(1_000.0, abs=50.0)
    assert float(hydro.water_column_pa(1.0, temperature_c=20.0)) == pytest.approx(9_789.0, abs=0.5)
    assert float(hydro.water_column_pa(1.5, temperature_c=20.0)) == pytest.approx(14_680.0, abs=5.0)
    warm = float(hydro.water_column_pa(1.0, temperature_c=35.0) / hydro.water_column_pa(1.0, temperature_c=20.0))
    assert 1.0 - warm == pytest.approx(0.004, abs=0.0005)


def test_slopes_are_the_derivatives():
    """The U of a U-tube would not follow from its height and temperature."""
    by_height, by_kelvin = hydro.water_column_slopes(1.5, temperature_c=20.0)
    step_m = float(hydro.water_column_pa(1.501, temperature_c=20.0) - hydro.water_column_pa(1.499, temperature_c=20.0))
    assert float(by_height) == pytest.approx(step_m / 0.002, rel=1e-9)
    step_k = float(hydro.water_column_pa(1.5, temperature_c=20.5) - hydro.water_column_pa(1.5, temperature_c=19.5))
    assert float(by_kelvin) == pytest.approx(step_k, rel=1e-3)


def test_normal_gravity_at_equator_45_and_pole():
    """Local gravity would be wrong: 9.780327, 9.806199 and 9.832186 m/s² are printed for GRS 1980 (from memory)."""
    for latitude, printed in ((0.0, 9.780327), (45.0, 9.806199), (90.0, 9.832186)):
        assert float(hydro.normal_gravity_m_s2(latitude)) == pytest.approx(printed, abs=1e-6)
    assert float(hydro.normal_gravity_m_s2(45.0, 1_000.0)) == pytest.approx(9.806199 - 0.003086, abs=1e-6)


def test_air_in_the_open_leg_weighs_against_the_water():
    """The air's part, 0.11 % at 1.1 kg/m³, would be added instead of taken off."""
    dry = float(hydro.water_column_pa(1.0, temperature_c=20.0))
    assert float(hydro.water_column_pa(1.0, temperature_c=20.0, air_density_kg_m3=1.1)) / dry == pytest.approx(
        0.9989, abs=2e-5
    )


@pytest.mark.parametrize(
    ("call", "told"),
    [
        (lambda: hydro.water_column_pa(150.0, temperature_c=20.0), "height_m 150 m .* in metres"),
        (lambda: hydro.water_column_pa(1.5, temperature_c=68.0), "temperature_c 68 °C"),
        (lambda: hydro.liquid_head_pa(1.0, density_kg_m3=0.87), "density_kg_m3 0.87"),
        (lambda: hydro.normal_gravity_m_s2(120.0), "latitude_deg 120"),
    ],
)
def test_refusals_name_the_field(call, told):
    """Centimetres for metres or °F for °C would be computed with."""
    with pytest.raises(InputError, match=told):
        call()
