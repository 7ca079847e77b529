"""The budget of a chain for people: a tornado at one value, errors over the range, and the same in words.

Figures are made without pyplot, as in `sensorcal.views.plots`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from sensorcal.installed.budget import BudgetFigure, ChainPoint
from sensorcal.measure.interval import coverage_factor
from sensorcal.setup import UnitsOut
from sensorcal.units import from_si, interval_from_si
from sensorcal.views.plots import _BAND, _BEYOND, _GREY, _INK, _OLIVE, _RUST, _axes, _mark_redline, _style
from sensorcal.views.words import unit_symbol

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

SMALL = 0.02
"""Lines below this part of the largest stand together as 'the rest'."""
_MOST = 7
_LINES = (("-", _INK), ("--", _OLIVE), (":", _RUST), ("-.", _GREY))


@dataclass(frozen=True, slots=True, kw_only=True)
class BudgetLine:
    """One line as people read it.

    Attributes
    ----------
    name : str
    error, expanded : float
        Signed error and U, in the unit shown.
    """

    name: str
    error: float
    expanded: float


def measured_unit(unit: str, units: UnitsOut) -> str:
    """Unit for people of a chain's measurand: 'degC' and 'Pa' become those of the setup."""
    return units.temperature if unit == "degC" else units.pressure


def budget_lines(point: ChainPoint, units: UnitsOut | None = None) -> tuple[BudgetLine, ...]:
    """Give the lines of a budget in the reader's unit, largest first, the smallest ones together as 'the rest'.

    Parameters
    ----------
    point : ChainPoint
    units : UnitsOut, optional

    Examples
    --------
    >>> from sensorcal.installed.budget import ChainLine
    >>> sizes = {"a": 2.0, "b": 0.01, "c": 0.02}
    >>> lines = tuple(ChainLine(group=g, error=e, u=0.0, by_element={}) for g, e in sizes.items())
    >>> point = ChainPoint(measurand=90.0, shown=92.03, error=2.03, u=0.0, lines=lines, dangerous=False, unit="degC")
    >>> [(line.name, round(line.error, 2)) for line in budget_lines(point)]
    [('a', 2.0), ('the rest', 0.03)]
    """
    unit = measured_unit(point.unit, units or UnitsOut())
    k = coverage_factor()
    largest = max((line.weight for line in point.lines), default=0.0)
    large = [line for line in point.lines if line.weight >= SMALL * largest][:_MOST]
    rest = [line for line in point.lines if all(line is not one for one in large)]
    if len(rest) == 1:
        large, rest = [*large, *rest], []
    shown = [BudgetLine(name=one.group, error=_out(one.error, unit), expanded=_out(k * one.u, unit)) for one in large]
    if rest:
        error, u = sum(one.error for one in rest), math.hypot(*(one.u for one in rest))
        shown.append(BudgetLine(name="the rest", error=_out(error, unit), expanded=_out(k * u, unit)))
    return tuple(shown)


def budget_text(point: ChainPoint, units: UnitsOut | None = None) -> list[str]:
    """Write the budget as aligned columns: part, error, U; the total below.

    Parameters
    ----------
    point : ChainPoint
    units : UnitsOut, optional

    Returns
    -------
    list of str
    """
    units = units or UnitsOut()
    unit = measured_unit(point.unit, units)
    symbol = unit_symbol(unit)
    lines = budget_lines(point, units)
    total = BudgetLine(name="all together", error=_out(point.error, unit), expanded=_out(point.expanded, unit))
    width = max(len(line.name) for line in (*lines, total))
    head = f"{'':{width}}  {'error':>8}  {'± U':>7}   {symbol}"
    rows = [f"{line.name:{width}}  {signed(line.error):>8}  {line.expanded:7.2f}" for line in (*lines, total)]
    return [head, *rows]


def budget_sentence(point: ChainPoint, units: UnitsOut | None = None, *, redline: bool = False) -> str:
    """Say what the panel shows at one true value, which part matters most, and whether it hides an exceeded limit.

    Parameters
    ----------
    point : ChainPoint
    units : UnitsOut, optional
    redline : bool
        True where the value is the engine maker's limit.
    """
    unit = measured_unit(point.unit, units or UnitsOut())
    symbol = unit_symbol(unit)
    at = f"{plain(from_si(point.measurand, unit))} {symbol}"
    limit = "redline" if point.unit == "degC" else "limit"
    head = f"At the {at} {limit}" if redline else f"At {at}"
    worst = max(point.lines, key=lambda line: line.weight, default=None)
    if worst is None or worst.weight == 0.0:
        return f"{head} nothing disturbs the channel."
    shown = signed(_out(point.error, unit))
    text = (
        f"{head} the panel is {shown} {symbol} off, ± {_out(point.expanded, unit):.2f} (19 times in 20); what matters "
        f"most is {worst.group} ({signed(_out(worst.error, unit))}, ± {_out(coverage_factor() * worst.u, unit):.2f})."
    )
    if point.dangerous:
        cold = point.unit == "degC"
        text += " DANGEROUS DIRECTION: it reads too cold when hot." if cold else (
            " DANGEROUS DIRECTION: it reads on the safe-looking side of the limit."
        )  # fmt: skip
    return text


def signed(value: float) -> str:
    """Write a signed number with two decimals; zero has no sign.

    Examples
    --------
    >>> signed(-0.003), signed(0.5), signed(-1.84)
    ('0.00', '+0.50', '-1.84')
    """
    text = f"{value:+.2f}"
    return text if float(text) else text[1:]


def plain(value: float) -> str:
    """Write a number to two decimals at most: a kilopascal is 0.15 psi, a whole degree Celsius 1.8 degF.

    Examples
    --------
    >>> plain(24.946452), plain(120.0), plain(-0.001)
    ('24.95', '120', '0')
    """
    return f"{round(value, 2) + 0.0:.7g}"


def tornado_figure(point: ChainPoint, units: UnitsOut | None = None) -> Figure:
    """Draw what each part does at one value: a bar for its error, a whisker for its U, the largest on top.

    Parameters
    ----------
    point : ChainPoint
    units : UnitsOut, optional

    Returns
    -------
    Figure
        Bars on the dangerous side are hatched.
    """
    units = units or UnitsOut()
    unit = measured_unit(point.unit, units)
    symbol = unit_symbol(unit)
    lines = budget_lines(point, units)
    total = BudgetLine(name="all together", error=_out(point.error, unit), expanded=_out(point.expanded, unit))
    rows = (*lines, total)
    y = np.arange(len(rows), dtype=np.float64)
    y[-1] += 0.4
    errors = np.array([row.error for row in rows])
    wide = np.array([row.expanded for row in rows])
    with _style():
        figure, axes = _axes()
        # The side of a single part is that of the whole only where it is said to be dangerous.
        hides = np.sign(errors) == np.sign(point.error) if point.dangerous else np.zeros(errors.size, dtype=bool)
        for at, error, danger in zip(y, errors, hides, strict=True):
            axes.barh(
                at,
                error,
                height=0.62,
                color=_RUST if danger else _BAND,
                hatch="////" if danger else None,
                edgecolor="white" if danger else _INK,
                linewidth=0.0 if danger else 0.5,
            )
        axes.errorbar(errors, y, xerr=wide, fmt="none", ecolor="black", elinewidth=0.9, capsize=2.5)
        axes.plot(errors, y, "o", color="black", markerfacecolor="white", markersize=3)
        axes.axvline(0.0, color=_GREY, linewidth=0.8)
        axes.axhline(y[-1] - 0.7, color=_GREY, linewidth=0.5)
        axes.set_yticks(y, [row.name for row in rows])
        axes.invert_yaxis()
        axes.grid(visible=False, axis="y")
        at_text = f"{plain(from_si(point.measurand, unit))} {symbol}"
        axes.set_title(f"What each part does to the shown number at {at_text}")
        side = ", reads too cold" if point.unit == "degC" else ", hides the limit"
        axes.set_xlabel(f"shown − true, {symbol}; whisker: U" + (f"; hatched{side}" if hides.any() else ""))
    return figure


def range_figure(
    figure_data: BudgetFigure,
    *,
    redline: float | None = None,
    units: UnitsOut | None = None,
    tested: tuple[float, float] | None = None,
) -> Figure:
    """Draw the error of the shown number over the range with its U, and the parts that matter most.

    Parameters
    ----------
    figure_data : BudgetFigure
        From `budget_figure`, at rising values of the measurand.
    redline : float, optional
        Limit to mark, degC or Pa.
    units : UnitsOut, optional
    tested : tuple of float, optional
        Tested range of the sensor's calibration; beyond it the picture is shaded.
    """
    units = units or UnitsOut()
    unit = measured_unit(figure_data.unit, units)
    symbol = unit_symbol(unit)
    with _style():
        figure, axes = _axes()
        x = from_si(figure_data.measurand, unit)
        total, half = _out(figure_data.total, unit), _out(figure_data.expanded_total, unit)
        axes.axhline(0.0, color=_GREY, linewidth=0.8)
        axes.fill_between(x, total - half, total + half, color=_BAND, linewidth=0, label="U, all together")
        axes.plot(x, total, color=_INK, linewidth=1.6, label="all together")
        drawn = [i for i in range(len(figure_data.groups)) if np.any(np.abs(figure_data.error[i]) > 1e-9)]
        drawn = [i for i in drawn if figure_data.groups[i] != "together"][:3]
        for i, (dashes, colour) in zip(drawn, _LINES[1:], strict=False):
            axes.plot(x, _out(figure_data.error[i], unit), dashes, color=colour, label=figure_data.groups[i])
        axes.set_xlim(float(x[0]), float(x[-1]))
        low, high = axes.get_ylim()
        axes.set_ylim(low, high + 0.35 * (high - low))
        if tested is not None:
            _shade(axes, [float(from_si(end, unit)) for end in tested])
        if figure_data.unit == "degC":
            _mark_redline(axes, redline, units, low=True)
        elif redline is not None:
            axes.axvline(float(from_si(redline, unit)), color=_RUST, linewidth=1.2)
        axes.set_title("Shown minus true over the range")
        axes.set_ylabel(f"shown − true, {symbol}")
        name = "temperature" if figure_data.unit == "degC" else "pressure"
        axes.set_xlabel(f"true {name}, {symbol}")
        axes.legend(loc="upper left", ncols=3)
    return figure


def _shade(axes: Axes, tested: Sequence[float]) -> None:
    """Hatch what lies beyond the tested points, as every picture of a curve does."""
    left, right = axes.get_xlim()
    for start, end in ((left, tested[0]), (tested[1], right)):
        if end - start > 1e-9 * (right - left):
            axes.axvspan(start, end, facecolor=_BEYOND, edgecolor="#d0d0d0", hatch="///", linewidth=0, zorder=0)
    axes.set_xlim(left, right)


def _out(value: Any, unit: str) -> Any:  # noqa: ANN401 - a float or an array
    return interval_from_si(value, unit)
