"""The chain's uncertainty by Monte Carlo beside the law of propagation, from one description of inputs."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sensorcal.errors import InputError, SensorcalError
from sensorcal.installed.chain import Chain, Values, sensitivities, value_at
from sensorcal.installed.chainparts import FloatArray, ResistanceCurve, Thermistor
from sensorcal.installed.elements import Element, elements_of, shape_of, u_of_element, values_of
from sensorcal.measure.inputs import standard_draws
from sensorcal.measure.interval import COVERAGE, coverage_factor

_CHUNK = 12_500


@dataclass(frozen=True, slots=True, kw_only=True)
class Disagreement:
    """Why Monte Carlo and the law of propagation differ at one value of the measurand.

    Attributes
    ----------
    cause : {'blank', 'bend', 'shape', 'small'}
        The monitor shows nothing in some draws; the chain bends over the width of an element; errors that are not
        normal; none of these by itself.
    element, group : str
        The element over whose width the chain bends most, and its words; empty for other causes.
    bend : float
        By how much it bends at twice the element's u, degC or Pa.
    shapes : tuple of str
        Distributions that are not normal, for the cause 'shape'.
    """

    cause: Literal["blank", "bend", "shape", "small"]
    element: str = ""
    group: str = ""
    bend: float = 0.0
    shapes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DrawnBudget:
    """Uncertainty of the shown value by both methods.

    Attributes
    ----------
    measurand : ndarray, shape (n,)
        degC or Pa.
    value, u, low, high : ndarray, shape (n,)
        Mean, standard uncertainty and ends of the interval with equal tails, by Monte Carlo.
    first_order_value, first_order_u : ndarray, shape (n,)
        Shown value and standard uncertainty by the law of propagation.
    blank : ndarray, shape (n,)
        Share of draws in which the monitor shows nothing; they are left out of the rest.
    tolerance : ndarray, shape (n,)
        Half a unit of the second significant digit of u, and what chance leaves of the ends.
    agree : ndarray of bool, shape (n,)
    why : tuple of Disagreement or None, length n
        None where both agree.
    draws : int
    """

    measurand: FloatArray
    value: FloatArray
    u: FloatArray
    low: FloatArray
    high: FloatArray
    first_order_value: FloatArray
    first_order_u: FloatArray
    blank: FloatArray
    tolerance: FloatArray
    agree: NDArray[np.bool_]
    why: tuple[Disagreement | None, ...]
    draws: int

    @property
    def first_order_low(self) -> FloatArray:
        """Lower end of the interval by the law of propagation."""
        return np.asarray(self.first_order_value - coverage_factor() * self.first_order_u)

    @property
    def first_order_high(self) -> FloatArray:
        """Upper end of the interval by the law of propagation."""
        return np.asarray(self.first_order_value + coverage_factor() * self.first_order_u)


def drawn_budget(chain: Chain, measurand: ArrayLike, *, draws: int = 100_000, seed: int = 0) -> DrawnBudget:
    """Draw every uncertain element, run the chain, and compare with the law of propagation.

    Parameters
    ----------
    chain : Chain
    measurand : array_like
        Values of interest, degC or Pa; a number or one dimension.
    draws : int
        Trials at each value; the same draws of the elements serve all values, as the same resistor does.
    seed : int
        Of the generator: the same seed gives the same digits.

    Returns
    -------
    DrawnBudget

    Raises
    ------
    InputError
        Fewer than a thousand draws.

    References
    ----------
    JCGM 101:2008: clause 7 for the draws and the interval with equal tails (7.7), clause 8 for the comparison with
    a tolerance of two significant digits of u.
    """
    at = np.atleast_1d(np.asarray(measurand, dtype=np.float64))
    if draws < 1000:
        raise InputError(f"{draws} draws say little", do="ask for a thousand or more")
    elements = [e for e in elements_of(chain) if np.any(u_of_element(chain, e, at) > 0.0)]
    generator = np.random.default_rng(seed)
    z = {e.name: standard_draws(shape_of(chain, e), draws, generator) for e in elements}
    actual = values_of(chain)
    slopes = sensitivities(chain, at)
    parts = np.array([slopes[e.name] * u_of_element(chain, e, at) for e in elements]).reshape(len(elements), at.size)
    linear_u = np.sqrt((parts**2).sum(axis=0))
    centre = value_at(chain, actual, at)
    found = np.empty((6, at.size))
    tail = 0.5 * (1.0 - COVERAGE)
    for k, true in enumerate(at):
        y = _drawn(chain, actual, elements, z, true, draws)
        missing = np.isnan(y)
        lost = float(missing.mean())
        y = y[~missing] if lost else y
        if y.size < 2:
            found[:, k] = (np.nan, np.nan, np.nan, np.nan, lost, np.nan)
            continue
        ends = _ends(y, tail)
        found[:, k] = (y.mean(), y.std(ddof=1), *ends, lost, _end_noise(y, *ends, tail))
    value, u, low, high, blanks, noise = found
    tolerance = np.array([_tolerance(float(one)) for one in linear_u])
    # Chance moves an end by its standard error; four of them are no disagreement.
    limit = tolerance + 4.0 * noise
    k95 = coverage_factor()
    off = np.maximum(np.abs(centre - k95 * linear_u - low), np.abs(centre + k95 * linear_u - high))
    agree = (off <= limit) & (blanks == 0.0)
    why = tuple(
        None if agree[k] else _why(chain, actual, elements, at[k], float(linear_u[k]), float(blanks[k]))
        for k in range(at.size)
    )
    return DrawnBudget(
        measurand=at,
        value=value,
        u=u,
        low=low,
        high=high,
        first_order_value=centre,
        first_order_u=linear_u,
        blank=blanks,
        tolerance=limit,
        agree=agree,
        why=why,
        draws=draws,
    )


def _drawn(
    chain: Chain, actual: Values, elements: list[Element], z: dict[str, FloatArray], true: float, draws: int
) -> FloatArray:
    out = np.empty(draws)
    u = {e.name: float(u_of_element(chain, e, np.array(true))) for e in elements}
    chain = _near(chain, actual, u, z, true)
    for start in range(0, draws, _CHUNK):
        part = slice(start, min(start + _CHUNK, draws))
        values = {**actual, **{e.name: actual[e.name] + u[e.name] * z[e.name][part] for e in elements}}
        out[part] = value_at(chain, values, np.asarray(true))
    return out


def _near(chain: Chain, actual: Values, u: dict[str, float], z: dict[str, FloatArray], true: float) -> Chain:
    """Replace a thermistor's curve by a polynomial good to 1e-11 over what the draws can reach, for speed only."""
    sensor = chain.sensor
    if not isinstance(sensor, Thermistor):
        return chain

    def reach(name: str) -> tuple[float, float]:
        if name not in u:
            return float(actual[name]), float(actual[name])
        return actual[name] + u[name] * float(z[name].min()), actual[name] + u[name] * float(z[name].max())

    off, heating = reach("sensor_error"), reach("heating_k_per_w")
    # No more power than into a probe as large as the pull resistor; half as much again for the other elements.
    warming = 1.5 * max(heating[1], 0.0) * actual["supply_v"] ** 2 / (4.0 * actual["pull_ohm"])
    low, high = true + off[0] - 0.5, true + off[1] + warming + 0.5
    x = np.cos(np.pi * (np.arange(25) + 0.5) / 25.0)
    middle, half = 0.5 * (low + high), 0.5 * (high - low)
    try:
        ln_ohm = np.log(sensor.raw(middle + half * x))
    except SensorcalError:
        return chain
    powers = np.polynomial.polynomial.polyfit(x, ln_ohm, 9)
    if np.max(np.abs(np.polynomial.polynomial.polyval(x, powers) - ln_ohm)) > 1e-11:
        return chain
    local = _LocalCurve(curve=sensor.curve, powers=tuple(powers.tolist()), middle=middle, half=half)
    return replace(chain, sensor=replace(sensor, curve=local))


@dataclass(frozen=True, slots=True, kw_only=True)
class _LocalCurve:
    """ln R as a polynomial of the temperature near one value."""

    curve: ResistanceCurve
    powers: tuple[float, ...]
    middle: float
    half: float

    def resistance_ohm(self, temperature_c: FloatArray) -> FloatArray:
        x = (np.asarray(temperature_c) - self.middle) / self.half
        y = np.full(x.shape, self.powers[-1])
        for power in self.powers[-2::-1]:
            y *= x
            y += power
        return np.asarray(np.exp(y))

    def temperature_c(self, resistance_ohm: FloatArray) -> FloatArray:
        return self.curve.temperature_c(resistance_ohm)


def _ends(y: FloatArray, tail: float) -> tuple[float, float]:
    """Ends with equal tails, by partial sorting."""
    first = max(round(tail * y.size) - 1, 0)
    last = y.size - 1 - first
    ordered = np.partition(y, [first, last])
    return float(ordered[first]), float(ordered[last])


def _end_noise(y: FloatArray, low: float, high: float, tail: float) -> float:
    """Standard error of an end of the interval, from the density of the draws there."""
    # Density from the draws within a twentieth of the width of either end, the thinner of the two.
    reach = 0.05 * (high - low)
    if reach <= 0.0:
        return 0.0
    near = min(int(np.count_nonzero(np.abs(y - end) < reach)) for end in (low, high))
    return math.sqrt(tail * (1.0 - tail) / y.size) / (max(near, 1) / (2.0 * reach * y.size))


def _tolerance(u: float) -> float:
    """Half a unit of the second significant digit."""
    return 0.5 * 10.0 ** (math.floor(math.log10(u)) - 1) if u > 0.0 else 0.0


def _why(
    chain: Chain, actual: Values, elements: list[Element], true: float, linear_u: float, blank: float
) -> Disagreement:
    """Find what the law of propagation does not see."""
    if blank:
        return Disagreement(cause="blank")
    bends = {}
    for e in elements:
        step = 2.0 * float(u_of_element(chain, e, np.array(true)))
        up, down, middle = (
            float(value_at(chain, {**actual, e.name: actual[e.name] + d}, np.asarray(true))) for d in (step, -step, 0.0)
        )
        bends[e.name] = abs(up + down - 2.0 * middle)
    worst = max(bends, key=lambda name: bends[name], default="")
    if worst and bends[worst] > 0.05 * linear_u:
        group = next(e.group for e in elements if e.name == worst)
        return Disagreement(cause="bend", element=worst, group=group, bend=bends[worst])
    shapes = {shape_of(chain, e) for e in elements} - {"normal"}
    return Disagreement(cause="shape", shapes=tuple(sorted(shapes))) if shapes else Disagreement(cause="small")
