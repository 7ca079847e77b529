"""Thermistor curves: there and back, forms that closed formulas cannot invert, refusals that name the turning point."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sensorcal.errors import CurveError
from sensorcal.physics.curves import KELVIN_AT_0_C, SteinhartHart, basis, to_abc

T_C = np.linspace(-55.0, 300.0, 356)
LOWEST_OHM, HIGHEST_OHM = 10.0, 1e7


def probe(r25_ohm: float, beta_k: float, kappa: float) -> SteinhartHart:
    """The curve of a probe by its resistance and local Beta at 25 degC and by how fast the latter rises."""
    x = math.log(r25_ohm)
    c = kappa / (6.0 * x * beta_k)
    b = 1.0 / beta_k - 3.0 * c * x * x
    return SteinhartHart.from_abc(1.0 / 298.15 - b * x - c * x**3, b, c)


@settings(deadline=None, max_examples=200, derandomize=True)
@given(
    st.floats(1.5, 6.5).map(lambda v: 10.0**v),
    st.floats(2500.0, 5000.0),
    st.one_of(st.just(0.0), st.floats(1e-9, 0.05), st.floats(-0.05, -1e-9)),
)
def test_round_trip(r25_ohm, beta_k, kappa):
    """A temperature would not come back from its resistance to 1e-12 degC, whatever the sign of the cubic term."""
    curve = probe(r25_ohm, beta_k, kappa)
    highest_ohm = HIGHEST_OHM
    if kappa < 0.0:  # such a curve turns somewhere: only as far as it is monotone
        highest_ohm = min(highest_ohm, 0.9 * math.exp(min(20.0, math.sqrt(-curve.p1 / (3.0 * curve.p2)))))
    a, b, c = curve.abc
    x = np.log(np.geomspace(LOWEST_OHM, highest_ohm, 2000))
    inverse_t = a + b * x + c * x**3
    t = T_C[(inverse_t[0] < 1.0 / (T_C + KELVIN_AT_0_C)) & (inverse_t[-1] > 1.0 / (T_C + KELVIN_AT_0_C))]
    r = curve.resistance_ohm(t)
    assert t.size > 20
    assert np.max(np.abs(curve.temperature_c(r) - t)) <= 1e-12
    back = curve.resistance_ohm(curve.temperature_c(r))
    # one last bit of the temperature in kelvin, brought over by up to 10 % a kelvin
    assert np.max(np.abs(back / r - 1.0)) <= 2e-13


@pytest.mark.parametrize("c", [0.0, -2e-9, -2e-8, 1e-12, 1e-300], ids=str)
def test_forms_without_a_closed_inverse(c):
    """The inverse would fail where the cube-root formula divides by C: at C zero, tiny or negative."""
    curve = SteinhartHart.from_abc(1.2e-3, 2.4e-4, c)
    r = np.geomspace(LOWEST_OHM, 1e6, 200)
    t = curve.temperature_c(r)
    assert np.all(np.diff(t) < 0)
    assert curve.resistance_ohm(t) == pytest.approx(r, rel=2e-13)
    assert curve.temperature_c(curve.resistance_ohm(t)) == pytest.approx(t, abs=1e-12)


@pytest.mark.parametrize(
    "abc", [(1.12924e-3, 2.34108e-4, 0.87755e-7), (9e-4, 3e-4, -1.5e-7), (1e-3, 2.5e-4, 0.0)], ids=["C>0", "C<0", "C=0"]
)
def test_every_resistance_of_the_range_returns(abc):
    """A resistance of 10 ohm to 10 Mohm would not come back, where the curve is monotone over all of them."""
    curve = SteinhartHart.from_abc(*abc)
    r = np.geomspace(LOWEST_OHM, HIGHEST_OHM, 400)
    assert curve.resistance_ohm(curve.temperature_c(r)) == pytest.approx(r, rel=1e-12)


def test_turning_point_is_named():
    """A curve that turns would be inverted to a resistance it never has, or refused without saying where it turns."""
    curve = SteinhartHart.from_abc(1.2e-3, 2.4e-4, -8e-7)  # turns at ln R = 10, 22 026 ohm
    turn_c = float(curve.temperature_c(math.exp(10.0)))
    assert float(curve.resistance_ohm(turn_c + 1e-3)) == pytest.approx(math.exp(10.0), rel=0.02)
    with pytest.raises(CurveError, match=rf"22026\.5 ohm \({turn_c:.4g} °C\)") as caught:
        curve.resistance_ohm([100.0, turn_c - 1.0])
    assert "\n" not in str(caught.value)


def test_a_rising_curve_is_refused():
    """Swapped signs would give numbers instead of 'no negative-temperature-coefficient thermistor'."""
    with pytest.raises(CurveError, match="does not fall"):
        SteinhartHart.from_abc(4e-3, -2e-4, 0.0).resistance_ohm(25.0)


@pytest.mark.parametrize("bad", [0.0, -5.0, math.nan, math.inf])
def test_resistances_that_are_none(bad):
    """A resistance of zero, below zero or no number would give a temperature."""
    with pytest.raises(CurveError, match="resistance"):
        SteinhartHart.from_abc(1.2e-3, 2.4e-4).temperature_c([100.0, bad])


@pytest.mark.parametrize("bad", [-273.15, -300.0, math.nan, math.inf])
def test_temperatures_that_are_none(bad):
    """A temperature at or below absolute zero, or no number, would give a resistance."""
    with pytest.raises(CurveError, match="absolute zero"):
        SteinhartHart.from_abc(1.2e-3, 2.4e-4).resistance_ohm([20.0, bad])


def test_slope_is_the_derivative():
    """The slope that carries ohms into degC would not be the derivative of the curve."""
    curve = SteinhartHart.through_points([0.0, 50.0, 97.7], [5230.0, 721.0, 172.1])
    r = np.geomspace(30.0, 30_000.0, 40)
    step = 1e-5
    numeric = (curve.temperature_c(r * math.exp(step)) - curve.temperature_c(r * math.exp(-step))) / (2.0 * step)
    assert curve.slope_k_per_ln(r) == pytest.approx(numeric, rel=1e-8)
    assert curve.slope_k_per_ohm(r) * r == pytest.approx(numeric, rel=1e-8)


def test_centred_and_plain_coefficients_are_one_curve():
    """A, B, C as exported would draw another curve than the centred terms of the fit."""
    curve = SteinhartHart.through_points([0.0, 50.0, 97.7], [5230.0, 721.0, 172.1])
    a, b, c = curve.abc
    r = np.geomspace(30.0, 30_000.0, 40)
    x = np.log(r)
    assert 1.0 / (a + b * x + c * x**3) - KELVIN_AT_0_C == pytest.approx(curve.temperature_c(r), abs=1e-11)
    assert SteinhartHart.from_abc(a, b, c).resistance_ohm(T_C) == pytest.approx(curve.resistance_ohm(T_C), rel=1e-12)
    by_matrix = to_abc(curve.centre, curve.scale) @ (curve.p0, curve.p1, curve.p2)
    assert by_matrix == pytest.approx(curve.abc, rel=1e-12)
    columns = basis(curve.x(r), curve.centre, curve.scale) @ (curve.p0, curve.p1, curve.p2)
    assert columns == pytest.approx(1.0 / (curve.temperature_c(r) + KELVIN_AT_0_C), rel=1e-14)


def test_through_points():
    """A curve through two or three points would miss one of them."""
    t, r = np.array([0.0, 50.0, 97.7]), np.array([5230.0, 721.0, 172.1])
    assert SteinhartHart.through_points(t, r).temperature_c(r) == pytest.approx(t, abs=1e-11)
    assert SteinhartHart.through_points(t[:2], r[:2]).temperature_c(r[:2]) == pytest.approx(t[:2], abs=1e-11)
    with pytest.raises(CurveError, match="same resistance"):
        SteinhartHart.through_points([0.0, 50.0, 97.7], [5230.0, 5230.0, 172.1])
    with pytest.raises(CurveError, match="two or three"):
        SteinhartHart.through_points([0.0], [5230.0])


def test_beta():
    """The two-term curve would not be R0 exp(B (1/T - 1/T0))."""
    curve = SteinhartHart.from_beta(3500.0, 1800.0, 25.0)
    t = np.array([-20.0, 25.0, 120.0])
    by_hand = 1800.0 * np.exp(3500.0 * (1.0 / (t + 273.15) - 1.0 / 298.15))
    assert curve.resistance_ohm(t) == pytest.approx(by_hand, rel=1e-13)
    with pytest.raises(CurveError, match="above zero"):
        SteinhartHart.from_beta(-3500.0, 1800.0)


def test_shapes_are_kept():
    """A number would come back as an array of another shape, or a table would be flattened."""
    curve = SteinhartHart.from_beta(3500.0, 1800.0)
    assert curve.resistance_ohm(25.0).shape == ()
    assert curve.temperature_c(np.full((2, 3), 500.0)).shape == (2, 3)
    assert curve.resistance_ohm(np.full((2, 3), 60.0)).shape == (2, 3)
