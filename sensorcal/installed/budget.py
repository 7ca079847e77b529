"""The error budget of a chain: what each element does to the shown value, with U, sorted, and which one matters."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sensorcal.errors import InputError
from sensorcal.installed.chain import Chain, sensitivities, value_at
from sensorcal.installed.chainparts import FloatArray
from sensorcal.installed.elements import Element, elements_of, ideal_of, u_of_element, values_of
from sensorcal.measure.interval import coverage_factor

Limit = Literal["high", "low"]
TOGETHER = "together"
"""Name of the line for what elements do to one another: the total less the sum of the single errors."""
TABLE = "table or curve"
"""Name of the line for the monitor's own conversion: what it shows of an ideal chain, less the truth."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ChainLine:
    """What one group of elements does at one value of the measurand.

    Attributes
    ----------
    group : str
        In plain words: 'contacts', 'ground, constant'.
    error : float
        Shown minus shown without it, signed, degC or Pa.
    u : float
        Standard uncertainty of the shown value that comes from it, degC or Pa.
    by_element : mapping of str to float
        The same uncertainty by element, signed as the slope.
    """

    group: str
    error: float
    u: float
    by_element: Mapping[str, float]

    @property
    def weight(self) -> float:
        """Size by which lines are sorted: error and expanded uncertainty together."""
        return abs(self.error) + coverage_factor() * self.u


@dataclass(frozen=True, slots=True, kw_only=True)
class ChainPoint:
    """The budget at one value of the measurand.

    Attributes
    ----------
    measurand, shown, error, u : float
        True value; shown before rounding; shown minus true; standard uncertainty of the shown value. degC or Pa.
    lines : tuple of ChainLine
        Largest first. Their errors add up to `error`.
    dangerous : bool
        True where the error lies on the side that hides an exceeded limit (too cold under a high limit), and is
        larger than half of its own expanded uncertainty.
    unit : str
    """

    measurand: float
    shown: float
    error: float
    u: float
    lines: tuple[ChainLine, ...]
    dangerous: bool
    unit: str

    @property
    def expanded(self) -> float:
        """Expanded uncertainty of the shown value, 19 times in 20."""
        return coverage_factor() * self.u


@dataclass(frozen=True, slots=True, kw_only=True)
class ChainBudget:
    """Budgets at several values of the measurand; `sensorcal.views.budgetview` puts them into words.

    Attributes
    ----------
    points : tuple of ChainPoint
    limit : {'high', 'low'}
        Which limit is to be guarded: with 'high', reading too low is dangerous.
    """

    points: tuple[ChainPoint, ...]
    limit: Limit


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BudgetFigure:
    """Numbers of a picture of the budget: stacked errors or a tornado.

    Attributes
    ----------
    measurand : ndarray, shape (n,)
    groups : tuple of str, length m
        Largest anywhere first.
    error, expanded : ndarray, shape (m, n)
        Signed errors, and expanded uncertainties, in degC or Pa.
    total, expanded_total : ndarray, shape (n,)
    unit : str
    """

    measurand: FloatArray
    groups: tuple[str, ...]
    error: FloatArray
    expanded: FloatArray
    total: FloatArray
    expanded_total: FloatArray
    unit: str

    def __post_init__(self) -> None:
        """Copy the arrays."""
        for name in ("measurand", "error", "expanded", "total", "expanded_total"):
            copy = np.array(getattr(self, name), dtype=np.float64)
            copy.setflags(write=False)
            object.__setattr__(self, name, copy)


def budget(chain: Chain, measurand: ArrayLike, *, limit: Limit = "high") -> ChainBudget:
    """Work out what every element does to the shown value.

    Parameters
    ----------
    chain : Chain
    measurand : array_like
        Values of interest, degC or Pa; a number or one dimension.
    limit : {'high', 'low'}
        Which limit is guarded: 'high' for temperatures and boost, 'low' for oil and fuel pressure.

    Returns
    -------
    ChainBudget

    Raises
    ------
    InputError
        A value of interest at which the chain stands at an end: no budget can be given there.

    Notes
    -----
    The error of a group is what the chain shows with that group alone, all else ideal, less what the ideal chain
    shows. What remains of the total is named 'together'. Uncertainty is propagated by the law of propagation from
    the exact slopes; rounding of converter and display counts as rectangular.

    References
    ----------
    JCGM 100:2008 (GUM), equation (10).

    Examples
    --------
    >>> from sensorcal.installed.chainparts import Ground, Thermistor, Wiring
    >>> from sensorcal.installed.conversion import CurveConversion
    >>> from sensorcal.physics.curves import SteinhartHart
    >>> probe = SteinhartHart.through_points([0.0, 50.0, 97.7], [5230.0, 721.0, 172.1])
    >>> chain = Chain(
    ...     sensor=Thermistor(curve=probe), conversion=CurveConversion(curve=probe, pull_ohm=1000.0),
    ...     wiring=Wiring(contact_ohm=0.3, u_contact_ohm=0.1), ground=Ground(returns="case", constant_v=0.020),
    ... )
    >>> (point,) = budget(chain, 120.0).points
    >>> round(point.error, 2), point.lines[0].group, round(point.lines[0].error, 2), point.dangerous
    (-1.96, 'ground, constant', -1.84, True)
    """
    at = np.atleast_1d(np.asarray(measurand, dtype=np.float64))
    if limit not in {"high", "low"}:
        raise InputError(f"a limit {limit!r} is not known", do="write 'high' or 'low'")
    if at.ndim != 1:
        raise InputError("the values of interest must stand in one row")
    elements = elements_of(chain)
    groups = list(dict.fromkeys(element.group for element in elements))
    actual = values_of(chain)
    ideal = {**actual, **{element.name: ideal_of(chain, element) for element in elements}}
    plain = value_at(chain, ideal, at)
    total = value_at(chain, actual, at)
    slopes = sensitivities(chain, at)
    if not np.all(np.isfinite(total)) or not np.all(np.isfinite(plain)):
        wrong = float(at[~np.isfinite(total + plain)][0])
        raise InputError(
            f"at {wrong:g} {chain.sensor.unit} the monitor shows nothing, or nobody knows what",
            do="ask within its table, or find out what it does past the ends",
        )
    errors = {TABLE: plain - at}
    for group in groups:
        alone = {**ideal, **{e.name: actual[e.name] for e in elements if e.group == group}}
        errors[group] = value_at(chain, alone, at) - plain
    errors[TOGETHER] = total - at - sum(errors.values())
    parts = {e.name: slopes[e.name] * u_of_element(chain, e, at) for e in elements}
    points = [_point(chain, at, total, errors, parts, elements, k, limit) for k in range(at.size)]
    return ChainBudget(points=tuple(points), limit=limit)


def has_budget(chain: Chain, measurand: ArrayLike) -> NDArray[np.bool_]:
    """Whether the panel shows a number, with and without the errors of the chain: only there a budget can be given.

    Parameters
    ----------
    chain : Chain
    measurand : array_like
        degC or Pa, any shape.
    """
    at = np.asarray(measurand, dtype=np.float64)
    actual = values_of(chain)
    ideal = {**actual, **{element.name: ideal_of(chain, element) for element in elements_of(chain)}}
    return np.asarray(np.isfinite(value_at(chain, actual, at)) & np.isfinite(value_at(chain, ideal, at)))


def _point(
    chain: Chain,
    at: FloatArray,
    total: FloatArray,
    errors: Mapping[str, FloatArray],
    parts: Mapping[str, FloatArray],
    elements: tuple[Element, ...],
    k: int,
    limit: Limit,
) -> ChainPoint:
    lines = []
    for group, error in errors.items():
        own = {e.name: float(parts[e.name][k]) for e in elements if e.group == group}
        lines.append(ChainLine(group=group, error=float(error[k]), u=math.hypot(*own.values()), by_element=own))
    # Rounding of the arithmetic is no line.
    floor = 1e-9 * (chain.sensor.high - chain.sensor.low)
    lines = sorted((line for line in lines if line.weight > floor), key=lambda line: -line.weight)
    u = math.hypot(*(line.u for line in lines))
    off = float(total[k] - at[k])
    side = off if limit == "high" else -off
    dangerous = side < -floor and abs(side) > 0.5 * coverage_factor() * u
    return ChainPoint(
        measurand=float(at[k]),
        shown=float(total[k]),
        error=off,
        u=u,
        lines=tuple(lines),
        dangerous=bool(dangerous),
        unit=chain.sensor.unit,
    )


def budget_figure(found: ChainBudget) -> BudgetFigure:
    """Give the numbers of a picture that shows which element matters where.

    Parameters
    ----------
    found : ChainBudget

    Returns
    -------
    BudgetFigure
    """
    k = coverage_factor()
    names = list(dict.fromkeys(line.group for point in found.points for line in point.lines))
    shape = (len(names), len(found.points))
    error, expanded = np.zeros(shape), np.zeros(shape)
    for j, point in enumerate(found.points):
        for line in point.lines:
            i = names.index(line.group)
            error[i, j], expanded[i, j] = line.error, k * line.u
    order = np.argsort(-(np.abs(error) + expanded).max(axis=1), kind="stable") if names else np.arange(0)
    return BudgetFigure(
        measurand=np.array([point.measurand for point in found.points]),
        groups=tuple(names[i] for i in order),
        error=error[order],
        expanded=expanded[order],
        total=np.array([point.error for point in found.points]),
        expanded_total=np.array([point.expanded for point in found.points]),
        unit=found.points[0].unit if found.points else "degC",
    )
