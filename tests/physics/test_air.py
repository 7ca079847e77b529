"""Air carried between elevations, humid air, density altitude."""

from __future__ import annotations

import numpy as np
import pytest

from sensorcal.errors import InputError
from sensorcal.physics import air
from sensorcal.physics.altimeter import station_pressure_pa
from sensorcal.physics.atmosphere import standard_pressure_pa, standard_temperature_c


def test_standard_air_carried_is_the_standard_atmosphere():
    """The hypsometric step would not agree with the standard atmosphere where the air is standard."""
    for low_m, high_m in ((610.0, 640.0), (0.0, 300.0), (640.0, 340.0)):
        middle_c = air.column_temperature_c(standard_temperature_c(high_m), high_m, low_m)
        carried = air.carried_pressure_pa(standard_pressure_pa(low_m), low_m, high_m, middle_c)
        # one mean temperature for the whole column costs 0.02 Pa in 300 m
        assert float(carried) == pytest.approx(float(standard_pressure_pa(high_m)), abs=0.02)


@pytest.mark.parametrize(
    ("rise_m", "temperature_c", "step_hpa"),
    # from sea level 100 m are 11.9 hPa; at the workshop's 935 hPa they are those of the second column
    [(100.0, 15.0, 11.02), (100.0, -10.0, 12.06), (100.0, 35.0, 10.31), (30.0, 15.0, 3.32), (300.0, 15.0, 32.7)],
)
def test_step_of_real_air(rise_m, temperature_c, step_hpa):
    """Cold or hot air between report and workshop would weigh the wrong amount (own arithmetic, p g h / R T)."""
    carried = air.carried_pressure_pa(93_470.0, 0.0, rise_m, temperature_c)
    assert (93_470.0 - float(carried)) / 100.0 == pytest.approx(step_hpa, abs=0.06)


def test_sea_level_pressure_is_another_number():
    """The report's SLP group would be taken for QNH without anyone knowing what that costs (+7.6, -4.9 hPa)."""
    here = station_pressure_pa(100_900.0, 640.0)
    for temperature_c, expected_hpa in ((-15.0, 7.62), (30.0, -4.89)):
        middle_c = air.column_temperature_c(temperature_c, 640.0, 0.0)
        slp = float(air.carried_pressure_pa(here, 640.0, 0.0, middle_c))
        assert (slp - 100_900.0) / 100.0 == pytest.approx(expected_hpa, abs=0.01)


def test_slopes_are_the_derivatives():
    """The slopes behind the budget would not be the changes of the pressure itself."""
    start = np.array([100_900.0, 610.0, 940.0, 30.0])
    steps = np.array([5.0, 0.5, 0.5, 0.05])
    slopes = air.reported_pressure_slopes(*start)
    for number, step in enumerate(steps):
        up, down = start.copy(), start.copy()
        up[number] += step
        down[number] -= step
        measured = (air.reported_pressure_pa(*up) - air.reported_pressure_pa(*down)) / (2.0 * step)
        assert float(slopes[number]) == pytest.approx(float(measured), rel=1e-5, abs=1e-6)


def test_humidity_in_a_step_of_100_m():
    """Humidity would be left out of a step where it counts: 0.19 hPa per 100 m at 35 °C and 45 hPa of vapour."""
    dry = air.carried_pressure_pa(93_470.0, 0.0, 100.0, 35.0)
    damp = air.carried_pressure_pa(93_470.0, 0.0, 100.0, air.virtual_temperature_c(35.0, 93_470.0, 4_500.0))
    assert float(damp - dry) / 100.0 == pytest.approx(0.187, abs=0.005)


def test_density_altitude_of_standard_air():
    """On a standard day density altitude would not be the altitude."""
    h = np.array([0.0, 640.0, 3_000.0])
    np.testing.assert_allclose(air.density_altitude_m(standard_pressure_pa(h), standard_temperature_c(h)), h, atol=1e-6)


def test_humidity_in_per_cent():
    """A humidity of 60 (per cent) would be taken as a ratio."""
    with pytest.raises(InputError, match=r"give 0\.60 for 60 %"):
        air.vapour_pressure_pa(20.0, 60.0)


@pytest.mark.parametrize(
    ("law", "inputs", "field"),
    [
        (air.carried_pressure_pa, (-5.0, 0.0, 100.0, 15.0), "pressure_pa"),
        (air.carried_pressure_pa, (93_000.0, 0.0, 100.0, 288.15), "temperature_c"),
        (air.virtual_temperature_c, (20.0, 2_000.0, 2_300.0), "vapour_pressure_pa"),
        (air.vapour_pressure_pa, (100.0,), "temperature_c"),
    ],
)
def test_refusals(law, inputs, field):
    """A gauge pressure, kelvin, or more vapour than air would be computed with."""
    with pytest.raises(InputError, match=field):
        law(*inputs)
