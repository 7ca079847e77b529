"""Uncertainty by the first-order law and by Monte Carlo from one description of inputs, and whether the two agree."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sensorcal.errors import InputError
from sensorcal.measure.inputs import Input, standard_draws
from sensorcal.measure.interval import COVERAGE, coverage_factor, effective_dof

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

Model = Callable[..., "Floats"]
"""A model takes one array (or number) for each input, in their order, and returns the measurand, same shape."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Interval:
    """An estimate with its standard uncertainty and a coverage interval.

    Parameters
    ----------
    value, u : float
    low, high : float
        Ends of the interval.
    probability : float
        Share of the distribution that it holds.
    """

    value: float
    u: float
    low: float
    high: float
    probability: float = COVERAGE

    @property
    def half_width(self) -> float:
        """Half the width of the interval."""
        return 0.5 * (self.high - self.low)


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """First-order law and Monte Carlo side by side.

    Parameters
    ----------
    first_order, monte_carlo : Interval
    tolerance : float
        Half a unit of the last of the two significant digits of u.
    agree : bool
        True where both ends of the interval with equal tails agree within the tolerance.
    sentence : str
        What the user should know of it.
    """

    first_order: Interval
    monte_carlo: Interval
    tolerance: float
    agree: bool
    sentence: str


def first_order(model: Model, inputs: Sequence[Input], *, probability: float = COVERAGE) -> Interval:
    """Propagate by the law of propagation of uncertainty, the slopes taken by central differences.

    Parameters
    ----------
    model : callable
        Of one argument an input.
    inputs : sequence of Input
        Independent.
    probability : float
        Of the interval, taken from the t distribution of the effective degrees of freedom.

    Returns
    -------
    Interval

    References
    ----------
    JCGM 100:2008 (GUM), 5.1.2, equation 10, and G.4.

    Examples
    --------
    >>> two = [Input(name="a", value=3.0, u=0.3), Input(name="b", value=4.0, u=0.4)]
    >>> round(first_order(lambda a, b: a + b, two).u, 3)
    0.5
    """
    values = [one.value for one in inputs]
    centre = float(model(*values))
    parts: list[tuple[float, float]] = []
    for i, one in enumerate(inputs):
        if one.u == 0.0:
            continue
        up, down = list(values), list(values)
        # A step of u itself shows the model as it bends over the width that matters; GUM 5.1.3, note 2.
        up[i], down[i] = one.value + one.u, one.value - one.u
        parts.append((0.5 * (float(model(*up)) - float(model(*down))), one.dof))
    u = math.hypot(*(size for size, _ in parts))
    k = coverage_factor(effective_dof(parts), probability)
    return Interval(value=centre, u=u, low=centre - k * u, high=centre + k * u, probability=probability)


def monte_carlo(
    model: Model,
    inputs: Sequence[Input],
    *,
    draws: int = 200_000,
    seed: int = 0,
    probability: float = COVERAGE,
    block: int = 500_000,
) -> Interval:
    """Propagate the distributions by Monte Carlo and give the shortest coverage interval.

    Parameters
    ----------
    model : callable
        Of one array an input.
    inputs : sequence of Input
        Independent.
    draws : int
        Trials; 200 000 give the ends to about half a per cent of u.
    seed : int
        Of the generator (PCG64): the same seed gives the same digits.
    probability : float
        Held by the interval.
    block : int
        Trials at a time, to bound memory.

    Returns
    -------
    Interval

    Raises
    ------
    InputError
        Fewer than a thousand draws, or a model that gives no number.

    References
    ----------
    JCGM 101:2008, clause 7 (draws 7.2 to 7.6, shortest interval 7.7 and 5.3.4).

    Examples
    --------
    >>> one = monte_carlo(lambda a: a, [Input(name="a", value=0.0, u=1.0, shape="rectangular")], seed=1)
    >>> round(one.u, 2), round(one.high - one.low, 2)
    (1.0, 3.29)
    """
    y = drawn(model, inputs, draws=draws, seed=seed, block=block)
    low, high = shortest_interval(y, probability)
    return Interval(value=float(y.mean()), u=float(y.std(ddof=1)), low=low, high=high, probability=probability)


def drawn(model: Model, inputs: Sequence[Input], *, draws: int, seed: int, block: int = 500_000) -> Floats:
    """Draw the measurand: the model of drawn inputs, shape (draws,)."""
    if draws < 1000:
        raise InputError(f"{draws} draws say little", do="ask for a thousand or more")
    generator = np.random.default_rng(seed)
    found: list[Floats] = []
    for start in range(0, draws, block):
        n = min(block, draws - start)
        trial = [one.value + one.u * standard_draws(one.shape, n, generator, one.dof) for one in inputs]
        found.append(np.broadcast_to(np.asarray(model(*trial), dtype=np.float64), (n,)))
    y = np.concatenate(found)
    if not np.all(np.isfinite(y)):
        raise InputError(
            "the model gives no number for some draws", do="check that the inputs cannot leave the model's range"
        )
    return y


def shortest_interval(draws: Floats, probability: float = COVERAGE) -> tuple[float, float]:
    """Shortest interval that holds a share of the draws.

    Parameters
    ----------
    draws : array, shape (m,)
    probability : float

    Returns
    -------
    low, high : float

    References
    ----------
    JCGM 101:2008, 5.3.4 and 7.7.4.

    Examples
    --------
    >>> shortest_interval(np.array([0.0, 1.0, 1.5, 2.0, 9.0]), 0.6)
    (1.0, 2.0)
    """
    y = np.sort(np.asarray(draws, dtype=np.float64))
    held = min(max(int(probability * y.size + 0.5), 1), y.size)
    width = y[held - 1 :] - y[: y.size - held + 1]
    # A flat distribution has many shortest intervals: the middle one of those alike within a rounding error.
    alike = np.flatnonzero(width <= width.min() * (1.0 + 1e-12))
    start = int(alike[alike.size // 2])
    return float(y[start]), float(y[start + held - 1])


def compare(
    model: Model,
    inputs: Sequence[Input],
    *,
    draws: int = 200_000,
    seed: int = 0,
    probability: float = COVERAGE,
) -> Comparison:
    """Run both methods on the same inputs and say whether the first-order law may be used.

    Returns
    -------
    Comparison

    References
    ----------
    JCGM 101:2008, clause 8: validation of the first-order law with a tolerance of two significant digits of u.

    Examples
    --------
    >>> area = compare(lambda a: a**2, [Input(name="a", value=0.0, u=1.0)], seed=1)
    >>> area.agree
    False
    """
    linear = first_order(model, inputs, probability=probability)
    y = drawn(model, inputs, draws=draws, seed=seed)
    low, high = shortest_interval(y, probability)
    mcm = Interval(value=float(y.mean()), u=float(y.std(ddof=1)), low=low, high=high, probability=probability)
    tolerance = 0.5 * 10.0 ** (math.floor(math.log10(mcm.u)) - 1) if mcm.u > 0.0 else 0.0
    # The ends with equal tails are compared: those of the shortest interval wander on its flat minimum.
    tail = 0.5 * (1.0 - probability)
    ends = np.quantile(y, [tail, 1.0 - tail])
    off = max(abs(linear.low - float(ends[0])), abs(linear.high - float(ends[1])))
    agree = off <= tolerance
    if agree:
        sentence = "the first-order law and Monte Carlo give the same interval"
    elif abs(linear.u - mcm.u) > tolerance:
        sentence = (
            f"the first-order law gives u = {linear.u:.3g}, Monte Carlo {mcm.u:.3g}: the model bends over the "
            "width of its inputs; use the Monte Carlo interval"
        )
    else:
        sentence = (
            f"both give u = {mcm.u:.3g}, but the distribution is not normal: the interval by Monte Carlo is "
            f"{mcm.high - mcm.low:.3g} wide, the first-order law's {linear.high - linear.low:.3g}"
        )
    return Comparison(first_order=linear, monte_carlo=mcm, tolerance=tolerance, agree=agree, sentence=sentence)
