"""The standard atmosphere: inverse pairs, slopes, and refusals."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sensorcal.errors import InputError
from sensorcal.physics import atmosphere as isa

ALTITUDES_M = np.linspace(-5_000.0, 80_000.0, 1_701)
BASES_M = np.array([11_000.0, 20_000.0, 32_000.0, 47_000.0, 51_000.0, 71_000.0])


def test_there_and_back():
    """A layer's inverse would not undo its law, or take the neighbour layer's constants."""
    np.testing.assert_allclose(isa.pressure_altitude_m(isa.standard_pressure_pa(ALTITUDES_M)), ALTITUDES_M, atol=1e-6)
    np.testing.assert_allclose(
        isa.altitude_of_density_m(isa.standard_density_kg_m3(ALTITUDES_M)), ALTITUDES_M, atol=1e-6
    )
    np.testing.assert_allclose(
        isa.geometric_altitude_m(isa.geopotential_altitude_m(ALTITUDES_M)), ALTITUDES_M, atol=1e-6
    )


@given(st.floats(isa.LOWEST_PA, isa.HIGHEST_PA))
def test_pressure_there_and_back(pressure_pa):
    """Some pressure inside the atmosphere would not survive the way to altitude and back."""
    assert float(isa.standard_pressure_pa(isa.pressure_altitude_m(pressure_pa))) == pytest.approx(
        pressure_pa, rel=1e-11
    )


def test_no_step_between_layers():
    """Pressure or temperature would jump where two layers meet."""
    below, above = BASES_M - 1e-6, BASES_M + 1e-6
    np.testing.assert_allclose(isa.standard_pressure_pa(below), isa.standard_pressure_pa(above), rtol=1e-9)
    np.testing.assert_allclose(isa.standard_temperature_c(below), isa.standard_temperature_c(above), atol=1e-7)


def test_slope_is_the_derivative():
    """The slope used for uncertainty would not be the change of the pressure itself."""
    h = np.array([-4_000.0, 0.0, 640.0, 5_000.0, 15_000.0, 25_000.0, 40_000.0, 60_000.0])
    measured = (isa.standard_pressure_pa(h + 0.5) - isa.standard_pressure_pa(h - 0.5)) / 1.0
    np.testing.assert_allclose(isa.standard_pressure_slope_pa_per_m(h), measured, rtol=1e-7)


def test_shape_and_missing_readings():
    """An array would lose its shape, or a missing reading turn into a number or an error."""
    p = np.array([[90_000.0, np.nan], [5_000.0, 100.0]])
    h = isa.pressure_altitude_m(p)
    assert h.shape == p.shape
    np.testing.assert_array_equal(np.isnan(h), np.isnan(p))
    assert h[1, 0] == pytest.approx(float(isa.pressure_altitude_m(5_000.0)))
    assert isa.pressure_altitude_m([]).shape == (0,)
    assert np.isnan(isa.pressure_altitude_m(np.nan))


@pytest.mark.parametrize("pressure_pa", [0.0, -100.0, 0.5, 200_000.0, np.inf, -np.inf])
def test_no_such_air(pressure_pa):
    """A gauge reading, a zero or a unit slip would be turned into an altitude."""
    with pytest.raises(InputError, match="pressure_pa"):
        isa.pressure_altitude_m([90_000.0, pressure_pa])


@pytest.mark.parametrize("law", [isa.standard_pressure_pa, isa.standard_temperature_c, isa.standard_density_kg_m3])
@pytest.mark.parametrize("altitude_m", [-5_000.1, 80_000.1, np.inf])
def test_nothing_extrapolated(law, altitude_m):
    """The model would run on beyond its ends."""
    with pytest.raises(InputError, match="altitude_m"):
        law(altitude_m)
