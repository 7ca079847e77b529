"""The sheet of one installed channel in plain words: lines for a screen, JSON for machines, one page to print."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np

from sensorcal.installed.throughchain import NOT_SETTLED
from sensorcal.setup import UnitsOut
from sensorcal.units import from_si, interval_from_si, interval_to_si, to_si
from sensorcal.views.budgetview import (
    budget_lines,
    budget_sentence,
    budget_text,
    measured_unit,
    plain,
    range_figure,
    signed,
    tornado_figure,
)
from sensorcal.views.words import TIMES, number, plainly, typeset, unit_symbol

if TYPE_CHECKING:
    from sensorcal.declared import Assumed
    from sensorcal.installed.budget import ChainPoint
    from sensorcal.installed.budgetmc import DrawnBudget
    from sensorcal.installed.channelsheet import ChannelSheet
    from sensorcal.installed.readout import ReadOut
    from sensorcal.installed.throughchain import ChainTable, Undone

CAUTION = (
    "Measure grounds with the propeller chocked and everybody clear of it; while cranking ignition off and plugs out, "
    "as the engine maker says. A high temperature or a low oil pressure is real until proved otherwise. The engine, "
    "sensor and monitor makers' manuals, local rules and licensed practice decide."
)
_PICTURE_INCHES = (5.6, 2.15)


def chain_lines(sheet: ChannelSheet, units: UnitsOut | None = None, *, table: ChainTable | None = None) -> list[str]:
    """Write the sheet as lines for a screen.

    Parameters
    ----------
    sheet : ChannelSheet
    units : UnitsOut, optional
    table : ChainTable, optional
        A table made through the channel.

    Returns
    -------
    list of str
    """
    units = units or UnitsOut()
    channel = sheet.channel
    lines = [f"{channel.tag}: {channel.source}; {channel.monitor}", ""]
    symbol = unit_symbol(_unit(sheet, units))
    lines.append(f"{'true':>10} {'panel':>9} {'off':>8} {'± U':>7}   {symbol}, known errors and what stays unknown")
    wide = {"true": 10, "panel": 9, "off": 8, "expanded": 7}
    for row in _rows(sheet, units):
        cells = (f"{row[name]:>{width}}" for name, width in wide.items())
        lines += [f"{' '.join(cells)}   {row['flag']}".rstrip()]
    lines += ["", _headline(sheet, units), "", *budget_text(sheet.point, units)]
    lines += ["", drawn_sentence(sheet, units)]
    if sheet.reads:
        lines += ["", *_reads(sheet, units)]
    if table is not None:
        lines += ["", *table_sentences(table, units)]
    lines += ["", "Assumed, because nobody stated it (the names are those of the setup file):"]
    lines += [f"  - {assumed_text(one, units)}" for one in channel.assumed]
    return [*lines, "", f"Caution: {CAUTION}"]


def assumed_text(one: Assumed, units: UnitsOut) -> str:
    """Write an assumption with its value in the reader's unit; steps stay in the unit of what is keyed or shown.

    Examples
    --------
    >>> from sensorcal.declared import Assumed
    >>> warm = Assumed(name="channels.P1.wire_temperature", value="40 degC", why="estimate")
    >>> assumed_text(warm, UnitsOut(temperature="degF"))
    'channels.P1.wire_temperature = 104 degF (estimate)'
    >>> doubt = Assumed(name="channels.P1.u_wire_temperature", value="15 degC", why="estimate")
    >>> assumed_text(doubt, UnitsOut(temperature="degF"))
    'channels.P1.u_wire_temperature = 27 degF (estimate)'
    """
    figure, _, unit = one.value.partition(" ")
    key = one.name.rpartition(".")[2]
    wanted = {"degC": units.temperature, "kPa": units.pressure}.get(unit, unit)
    if wanted == unit or key.endswith("step"):
        return str(one)
    try:
        home = float(figure)
    except ValueError:
        return str(one)
    apart = key.startswith("u_") or unit == "kPa"
    value = interval_from_si(interval_to_si(home, unit), wanted) if apart else from_si(to_si(home, unit), wanted)
    return f"{one.name} = {value:.3g} {wanted} ({one.why})"


def read_sentence(
    read: ReadOut, units: UnitsOut | None = None, *, pressure: bool = False, extrapolated: bool = False
) -> str:
    """Say what is true behind a shown number.

    Examples
    --------
    >>> from sensorcal.installed.readout import ReadOut
    >>> read_sentence(ReadOut(shown=97.0, low=97.1, high=98.1, true=97.6, u=0.7, reasons=()))
    '97 °C shown: true 97.6 °C ± 1.4 (19 times in 20); the steps alone leave 97.1 to 98.1 °C.'
    >>> read_sentence(ReadOut(shown=150.0, low=149.5, high=math.inf, true=math.nan, u=math.nan, reasons=("held",)))
    '150 °C shown: 149.5 °C or more, no measurement: held.'
    """
    units = units or UnitsOut()
    unit = units.pressure if pressure else units.temperature
    symbol = unit_symbol(unit)
    head = "nothing shown" if math.isnan(read.shown) else f"{from_si(read.shown, unit):.6g} {symbol} shown"
    low, high = (number(float(from_si(end, unit)), 1) for end in (read.low, read.high))
    why = "; ".join(read.reasons)
    if read.closed:
        steps = f"; the steps alone leave {low} to {high} {symbol}" if read.high - read.low > 1e-6 else ""
        beyond = ", extrapolated beyond tested points or sheet" if extrapolated else ""
        return f"{head}: true {plainly(read.true, read.expanded, unit)}{beyond}{steps}."
    if math.isfinite(read.low):
        return f"{head}: {low} {symbol} or more, no measurement: {why}."
    if math.isfinite(read.high):
        return f"{head}: {high} {symbol} or less, no measurement: {why}."
    return f"{head}: nothing can be said: {why}."


def drawn_sentence(sheet: ChannelSheet, units: UnitsOut | None = None) -> str:
    """Say whether the law of propagation and Monte Carlo agree, and why where they do not."""
    drawn = sheet.drawn
    at = f"{drawn.draws} draws of every part"
    if all(drawn.agree):
        return f"Checked by {at}: the ± above hold."
    inside = (drawn.low >= drawn.first_order_low - drawn.tolerance) & (
        drawn.high <= drawn.first_order_high + drawn.tolerance
    )
    if np.all((drawn.agree | inside) & (drawn.blank == 0.0)):
        return f"Checked by {at}: the ± above hold; where steps and tolerances rule they are wider than need be."
    worst = sheet.main if not drawn.agree[sheet.main] else next(k for k, ok in enumerate(drawn.agree) if not ok)
    unit = _unit(sheet, units or UnitsOut())
    half = _apart(0.5 * float(drawn.high[worst] - drawn.low[worst]), unit)
    point = f"{from_si(float(drawn.measurand[worst]), unit):.6g} {unit_symbol(unit)}"
    why = disagreement_words(drawn, worst, unit)
    return f"Checked by {at}: at {point} take ± {half:.2f} {unit_symbol(unit)} for the ± above; {why}."


def disagreement_words(drawn: DrawnBudget, k: int, unit: str) -> str:
    """Say why Monte Carlo and the law of propagation differ at one value; '' where they agree."""
    why = drawn.why[k]
    if why is None:
        return ""
    if why.cause == "blank":
        return f"in {100 * drawn.blank[k]:.2g} % of the draws the monitor shows nothing, and these are left out"
    symbol = unit_symbol(unit)
    if why.cause == "bend":
        return f"the channel bends over the width of '{why.group}', by {_apart(why.bend, unit):.2g} {symbol}"
    if why.cause == "shape":
        return f"the errors are not normal ({', '.join(why.shapes)})"
    own, law = (_apart(float(u[k]), unit) for u in (drawn.u, drawn.first_order_u))
    return f"the standard uncertainty is {own:.3g} {symbol} by the draws, {law:.3g} by the law of propagation"


def table_sentences(table: ChainTable, units: UnitsOut | None = None) -> list[str]:
    """Say what a table made through the channel undoes, what it leaves, and what it is worth."""
    units = units or UnitsOut()
    pressure = not hasattr(table.table, "worst_error_c")
    unit = units.pressure if pressure else units.temperature
    symbol = unit_symbol(unit)

    def amount(value: float) -> str:
        return f"{signed(_apart(value, unit))} {symbol}"

    def told(one: Undone) -> str:
        return f"{one.group} ({amount(one.worst_error)} at {from_si(one.worst_at, unit):.4g} {symbol})"

    undone = [told(one) for one in table.groups if one.undone]
    left = [told(one) for one in table.groups if not one.undone]
    lines = [
        (
            f"Table through the channel: worst error {amount(table.worst_error)}, where a table of the bare sensor "
            f"would show {amount(table.plain_worst_error)}."
        ),
        f"It undoes {', '.join(undone)}." if undone else "The channel has no known error to undo.",
    ]
    if any(one.undone and one.group == "ground, constant" for one in table.groups):
        lines.append(
            "A lifted ground is better mended than undone: mended later, the panel is off by as much the other way."
        )
    if left:
        lines.append(f"It leaves {', '.join(left)}: they come and go.")
    return [*lines, "Make it anew after any change of wire, connector, ground or monitor."]


def chain_machine(sheet: ChannelSheet, table: ChainTable | None = None) -> dict[str, Any]:
    """Give the sheet for machines: degC and Pa, null where there is no number.

    Parameters
    ----------
    sheet : ChannelSheet
    table : ChainTable, optional
    """
    channel = sheet.channel
    out: dict[str, Any] = {
        "format": "sensorcal-chain/1",
        "sensor": channel.tag,
        "measurand": "pressure" if channel.pressure else "temperature",
        "unit": channel.chain.sensor.unit,
        "curve_from": channel.source,
        "monitor": channel.monitor,
        "guarded_limit": sheet.budget.limit,
        "points": [_machine_point(sheet, k, point) for k, point in enumerate(sheet.budget.points)],
        "monte_carlo_agrees": [bool(ok) for ok in sheet.drawn.agree],
        "monte_carlo_why": [
            disagreement_words(sheet.drawn, k, channel.chain.sensor.unit) for k in range(len(sheet.drawn.why))
        ],
        "shown": [
            {
                "shown": _finite(one.shown),
                "low": _finite(one.low),
                "high": _finite(one.high),
                "true": _finite(one.true),
                "expanded": _finite(one.expanded),
                "reasons": list(one.reasons),
            }
            for one in sheet.reads
        ],
        "assumed": [{"name": one.name, "value": one.value, "why": one.why} for one in channel.assumed],
    }
    if table is not None:
        out["table"] = {
            "worst_error": table.worst_error,
            "bare_sensor_table_worst_error": table.plain_worst_error,
            "groups": [
                {"group": g.group, "worst_error": g.worst_error, "worst_at": g.worst_at, "undone": g.undone}
                for g in table.groups
            ],
        }
    return out


def chain_page_html(
    sheet: ChannelSheet,
    units: UnitsOut | None = None,
    *,
    title: str = "",
    scenario: str = "",
    table: ChainTable | None = None,
) -> str:
    """Write the sheet as one self-contained page to print.

    Parameters
    ----------
    sheet : ChannelSheet
    units : UnitsOut, optional
    title : str
        Name of the channel for the head, such as 'P1, coolant'.
    scenario : str
        Marks invented data.
    table : ChainTable, optional
    """
    from jinja2 import Environment, PackageLoader, StrictUndefined

    from sensorcal.views.plots import fig_to_svg

    units = units or UnitsOut()
    channel = sheet.channel
    pictures = {
        "tornado": (tornado_figure(sheet.point, units), "What each part does to the shown number"),
        "range": (
            range_figure(sheet.over_range, redline=channel.redline, units=units, tested=channel.supported),
            "Shown minus true over the range",
        ),
    }
    drawings = {}
    for name, (figure, alt) in pictures.items():
        figure.set_size_inches(*_PICTURE_INCHES)
        drawings[name] = fig_to_svg(figure, name, alt)
    total = sheet.point
    unit = _unit(sheet, units)
    page = {
        "title": f"From sensor to panel: {title or channel.tag}",
        "source": f"Curve: {channel.source}. Monitor: {channel.monitor}.",
        "scenario": scenario,
        "big": _headline(sheet, units),
        "dangerous": total.dangerous,
        "symbol": unit_symbol(unit),
        "rows": _rows(sheet, units),
        "parts": [
            {"name": one.name, "error": signed(one.error), "expanded": f"{one.expanded:.2f}"}
            for one in budget_lines(total, units)
        ],
        "total": {"error": signed(_apart(total.error, unit)), "expanded": f"{_apart(total.expanded, unit):.2f}"},
        "at": f"{plain(from_si(total.measurand, unit))} {unit_symbol(unit)}",
        "times": TIMES,
        "drawn": drawn_sentence(sheet, units),
        "reads": _reads(sheet, units),
        "table": table_sentences(table, units) if table is not None else [],
        "assumed": [assumed_text(one, units) for one in channel.assumed],
        "caution": CAUTION,
        "pictures": drawings,
    }
    environment = Environment(
        loader=PackageLoader("sensorcal.views", "."), autoescape=True, undefined=StrictUndefined, trim_blocks=True
    )
    environment.filters["t"] = typeset
    return environment.get_template("chain.html").render(p=page)


def _headline(sheet: ChannelSheet, units: UnitsOut) -> str:
    """The budget in one sentence; and what is left of it when that which comes and goes has gone, where it matters."""
    point = sheet.point
    text = budget_sentence(point, units, redline=sheet.at_limit)
    if abs(sheet.lasting - point.error) <= 0.25 * point.expanded:
        return text
    unit = _unit(sheet, units)
    moving = [line.group for line in point.lines if line.group in NOT_SETTLED and line.error]
    toward = -1.0 if sheet.budget.limit == "high" else 1.0
    unsafe = toward * sheet.lasting > 0.0 and toward * point.error <= 0.0
    side = ", on the dangerous side" if unsafe else ""
    return f"{text} Without {', '.join(moving)} it is {signed(_apart(sheet.lasting, unit))}{side}."


def _reads(sheet: ChannelSheet, units: UnitsOut) -> list[str]:
    channel = sheet.channel
    return [
        read_sentence(
            one,
            units,
            pressure=channel.pressure,
            extrapolated=one.closed and bool(channel.beyond(np.asarray(one.true))),
        )
        for one in sheet.reads
    ]


def _rows(sheet: ChannelSheet, units: UnitsOut) -> list[dict[str, Any]]:
    unit = _unit(sheet, units)
    rows = []
    for point, displayed, beyond, far in zip(
        sheet.budget.points, sheet.displayed, sheet.extrapolated, sheet.far, strict=True
    ):
        flags = ["extrapolated too far to be used" if far else "extrapolated"] if beyond else []
        flags += ["dangerous side"] if point.dangerous else []
        rows.append(
            {
                "true": plain(from_si(point.measurand, unit)),
                "panel": "nothing" if math.isnan(displayed) else plain(from_si(displayed, unit)),
                "off": signed(_apart(point.error, unit)),
                "expanded": f"{_apart(point.expanded, unit):.2f}",
                "flag": ", ".join(flags),
                "dangerous": point.dangerous,
            }
        )
    return rows


def _machine_point(sheet: ChannelSheet, k: int, point: ChainPoint) -> dict[str, Any]:
    return {
        "true": point.measurand,
        "panel": _finite(sheet.displayed[k]),
        "before_rounding": point.shown,
        "error": point.error,
        "u": point.u,
        "expanded": point.expanded,
        "dangerous": point.dangerous,
        "extrapolated": sheet.extrapolated[k],
        "extrapolated_too_far": sheet.far[k],
        "parts": [{"group": line.group, "error": line.error, "u": line.u} for line in point.lines],
    }


def _unit(sheet: ChannelSheet, units: UnitsOut) -> str:
    return measured_unit(sheet.channel.chain.sensor.unit, units)


def _apart(value: float, unit: str) -> float:
    return float(interval_from_si(value, unit))


def _finite(value: float) -> float | None:
    """JSON has no word for infinite or 'not a number'."""
    return value if math.isfinite(value) else None
