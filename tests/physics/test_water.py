"""The saturation line: inverse pair, slope, refusals; the weight of a water column."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sensorcal.errors import InputError
from sensorcal.physics import water


@given(st.floats(0.0, 373.0))
def test_there_and_back(temperature_c):
    """A temperature would not survive the way to pressure and back."""
    back = float(water.boiling_point_c(water.saturation_pressure_pa(temperature_c)))
    # near the critical point the quadratic loses digits: still far below a microkelvin
    assert back == pytest.approx(temperature_c, abs=1e-8)


def test_slope_is_the_derivative():
    """The slope used for uncertainty would not be the change of the boiling point itself."""
    p = np.array([1e3, 2e4, 7e4, 93_470.0, 101_325.0, 2e5, 1e6, 1e7])
    measured = (water.boiling_point_c(p * 1.0001) - water.boiling_point_c(p * 0.9999)) / (p * 0.0002)
    np.testing.assert_allclose(water.boiling_slope_c_per_pa(p), measured, rtol=1e-6)


def test_air_in_the_steam():
    """A badly closed lid would cost another amount: 1 % of air is -0.28 °C, 5 % -1.4 °C."""
    cost = water.condensing_point_c(93_470.0, np.array([0.01, 0.05])) - water.boiling_point_c(93_470.0)
    np.testing.assert_allclose(cost, [-0.277, -1.409], atol=0.003)


def test_weight_of_a_water_column():
    """A metre of water at 20 °C would not weigh 9.789 kPa."""
    assert float(water.liquid_density_kg_m3(20.0)) * 9.80665 == pytest.approx(9_789.1, abs=0.1)


@pytest.mark.parametrize(
    ("law", "value"),
    [
        (water.boiling_point_c, 0.0),
        (water.boiling_point_c, -8_000.0),
        (water.boiling_point_c, 3e7),
        (water.saturation_pressure_pa, -1.0),
        (water.saturation_pressure_pa, 400.0),
        (water.liquid_density_kg_m3, 60.0),
    ],
)
def test_nothing_extrapolated(law, value):
    """A law would run on beyond its range."""
    with pytest.raises(InputError, match="outside"):
        law(value)
