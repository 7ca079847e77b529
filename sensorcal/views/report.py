"""The one-page report of a calibration and the sheet from which a monitor table is keyed in, both as HTML."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from sensorcal.book.facts import STATEMENT, Facts, Remark
from sensorcal.calibration.calibration import Calibration
from sensorcal.calibration.claims import (
    CLAIM_AGREED_C,
    CLAIM_BEYOND_C,
    Claim,
    claim_at,
    claims,
    point_expanded_c,
    round_temperatures_c,
    worst_tested,
)
from sensorcal.setup import UnitsOut
from sensorcal.units import from_si, interval_from_si
from sensorcal.views import plots
from sensorcal.views.arithmetic import arithmetic
from sensorcal.views.tableview import TableView, table_view
from sensorcal.views.words import (
    CAUTIONS,
    in_degrees,
    margin,
    number,
    redline,
    resistance,
    shift,
    size,
    temperature,
    typeset,
    unit_symbol,
)

if TYPE_CHECKING:
    from jinja2 import Environment

    from sensorcal.installed.table import MonitorTable
    from sensorcal.views.tableview import RowView

_ROWS_IN_ONE_COLUMN = 8
_BIG_ROWS_IN_ONE_COLUMN = 20
# Above so many lines of points, remarks and rows the print gets smaller, so that one sheet still holds them.
_LINES_ON_ONE_SHEET = 30


def report_html(
    calibration: Calibration,
    table: MonitorTable | TableView | None = None,
    facts: Facts | None = None,
    units: UnitsOut | None = None,
) -> str:
    """Write the report of one probe as a self-contained page: no script, nothing fetched, one sheet on paper.

    What to key in and the redline stand first, then plain words, pictures, points and questions; the arithmetic
    is folded on a screen and open on paper. The same inputs give the same text.

    Parameters
    ----------
    calibration : Calibration
    table : MonitorTable or TableView, optional
        The monitor table; without it the page lists the curve at round temperatures.
    facts : Facts, optional
    units : UnitsOut, optional
        Units of every number on the page except the table's own, which are the monitor's.
    """
    facts, units = facts or Facts(), units or UnitsOut()
    view = None if table is None else table_view(table, facts.redline_c)
    return (
        _environment()
        .get_template("report.html")
        .render(
            r=_report(calibration, view, facts, units),
            table=None if view is None else _table(view, units, _ROWS_IN_ONE_COLUMN),
            a=arithmetic(calibration, facts, units),
        )
    )


def table_page_html(
    table: MonitorTable | TableView,
    facts: Facts | None = None,
    units: UnitsOut | None = None,
    *,
    sensor: str = "",
    claim: Claim | None = None,
) -> str:
    """Write the sheet for the cockpit: the rows in large print, a box to tick beside each when it is read back.

    Parameters
    ----------
    table : MonitorTable or TableView
    facts : Facts, optional
    units : UnitsOut, optional
    sensor : str
        Tag of the probe.
    claim : Claim, optional
        What the calibration claims at the redline, to be repeated below the rows.
    """
    facts, units = facts or Facts(), units or UnitsOut()
    table = table_view(table, facts.redline_c)
    # More rows, smaller print: forty rows still stand on one sheet.
    points = 11.0 if len(table.rows) <= 2 * _BIG_ROWS_IN_ONE_COLUMN else 8.0
    page = _table(table, units, _BIG_ROWS_IN_ONE_COLUMN)
    page |= {
        "sensor": sensor,
        "size": f"{points:g}",
        "title": f"Key into the monitor: {sensor}" if sensor else "Key into the monitor",
        "subtitle": _join(facts.role, facts.channel, facts.scenario),
        "number_lines": _number_lines(facts),
        "statement": STATEMENT,
        "input_line": f"Input: {table.signal_name} in {unit_symbol(table.signal_unit)}; shown in "
        f"{unit_symbol(table.value_unit)}; {len(table.rows)} rows",
        "how": page["heading"],
        "redline": "" if claim is None else redline(claim, units.temperature, units.resistance) + ".",
        "caution": CAUTIONS[0],
    }
    return _environment().get_template("tablepage.html").render(p=page)


@lru_cache(maxsize=1)
def _environment() -> Environment:
    from jinja2 import Environment, PackageLoader, StrictUndefined

    environment = Environment(
        loader=PackageLoader("sensorcal", "views"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    environment.filters["t"] = typeset
    return environment


def _report(calibration: Calibration, table: TableView | None, facts: Facts, units: UnitsOut) -> dict[str, Any]:
    tag = calibration.sensor
    limit = facts.redline_c
    claim = None if limit is None else claim_at(calibration, limit, shape_confirmed=facts.shape_confirmed)
    rows = [
        {
            "temperature": number(_shown(c.temperature_c, units), 0),
            "extrapolated": c.extrapolated,
            "resistance": "-"
            if c.resistance_ohm is None
            else resistance(c.resistance_ohm, units.resistance, symbol=False),
            "margin": "-" if c.claim_c is None else margin(c.claim_c, units.temperature).split()[1],
        }
        for c in claims(calibration, round_temperatures_c(*facts.range_c), shape_confirmed=facts.shape_confirmed)
    ]
    return {
        "sensor": tag,
        "identifier": facts.identifier,
        "title": f"Probe {tag}" + (f", {facts.role}" if facts.role else ""),
        "subtitle": _join(
            f"read at the bench on {facts.bench_date}" if facts.bench_date else "",
            facts.serial,
            facts.channel,
            facts.condition,
            facts.scenario,
        ),
        "number_lines": _number_lines(facts),
        "statement": STATEMENT,
        "redline": "" if claim is None else redline(claim, units.temperature, units.resistance),
        "crowded": len(calibration.points.labels)
        + 2 * len(facts.remarks)
        + len(facts.corrections)
        + 2 * len(calibration.notes)
        + (len(table.rows) // 2 if table is not None else 0)
        > _LINES_ON_ONE_SHEET,
        "open": [
            f"A reading is questioned: {in_degrees(remark.text, units.temperature).rstrip('.')}. Key nothing in before "
            "this is settled."
            for remark in facts.remarks
            if remark.kind == "blunder" and not remark.answer
        ],
        "plain": _plain_lines(calibration, table, facts, units),
        "cautions": CAUTIONS,
        "temperature_head": unit_symbol(units.temperature),
        "resistance_head": unit_symbol(units.resistance),
        "curve_blocks": _blocks(rows, 9),
        "pictures": _pictures(calibration, table, facts, units),
        "points": _points(calibration, units),
        "undetectable": [in_degrees(line, units.temperature, sizes=True) for line in facts.undetectable],
        "remarks": [_remark(remark, units) for remark in facts.remarks],
        "corrections": [
            _join(c.what, c.size, "" if c.size_c is None else f"up to {shift(c.size_c, units.temperature)}")
            for c in facts.corrections
        ],
        "origin": _origin(facts),
        "footer": _join(f"{tag}", facts.identifier, STATEMENT, facts.software, "end of the record"),
    }


def _plain_lines(calibration: Calibration, table: TableView | None, facts: Facts, units: UnitsOut) -> list[str]:
    low, high = calibration.tested_c
    worst = worst_tested(calibration)
    lines = [
        (
            f"Tested at {len(calibration.points.labels)} points from {temperature(low, units.temperature)} to "
            f"{temperature(high, units.temperature)}. Between them the curve holds to "
            f"{margin(worst.expanded_c or 0.0, units.temperature)} or better, 19 times in 20."
        ),
        (
            f"Beyond them every number is extrapolated; above {temperature(high, units.temperature)} claim at least "
            f"{margin(CLAIM_BEYOND_C, units.temperature)}, as long as no maker's sheet confirms the shape."
        )
        if not facts.shape_confirmed
        else (
            f"Beyond them every number is extrapolated; sheet, usual shape and readings agree, so that above "
            f"{temperature(high, units.temperature)} {margin(CLAIM_AGREED_C, units.temperature)} may be claimed."
        ),
    ]
    lines += [_sentence(in_degrees(line, units.temperature)) for line in facts.statements]
    if table is not None:
        even = (
            ""
            if table.even_worst_c is None
            else f"; evenly spaced rows would add up to {size(table.even_worst_c, units.temperature)}"
        )
        lines.append(
            f"The table adds at most {size(table.worst_error_c, units.temperature)} of its own"
            f" (at {temperature(table.worst_at_c, units.temperature)}){even}."
        )
    if calibration.prior is not None and calibration.prior.pull_c:
        t, pull = max(calibration.prior.pull_c, key=lambda entry: abs(entry[1]))
        verdict = "They disagree" if calibration.prior.disagrees else "They agree"
        lines.append(
            f"What was known of the curve's shape beforehand ({calibration.prior.prior.source}) moves the result by "
            f"{shift(pull, units.temperature)} at {temperature(t, units.temperature, 0)}, where it moves it most. "
            f"{verdict}: readings and prior lie {abs(calibration.prior.disagreement):.1f} standard uncertainties apart."
        )
    elif calibration.prior is not None:
        lines.append(
            f"The curve's shape rests on what was known beforehand ({calibration.prior.prior.source}): "
            "the readings alone cannot tell it."
        )
    else:
        lines.append("Nothing was assumed of the curve's shape beforehand.")
    lines += [_sentence(in_degrees(note, units.temperature)) for note in calibration.notes]
    return lines


def _pictures(calibration: Calibration, table: TableView | None, facts: Facts, units: UnitsOut) -> dict[str, str]:
    tag = calibration.sensor
    limit, span = facts.redline_c, facts.range_c
    drawn = [
        (
            "curve",
            plots.curve_figure(calibration, range_c=span, redline_c=limit, units=units),
            f"Resistance of {tag} over temperature",
        ),
        ("left", plots.residual_figure(calibration, units=units), "Curve minus reference at each point"),
        (
            "trust",
            plots.uncertainty_figure(calibration, range_c=span, redline_c=limit, units=units),
            "Expanded uncertainty over temperature",
        ),
    ]
    if table is not None:
        figure = plots.table_figure(table, redline_c=facts.redline_c, units=units)
        drawn.append(("table", figure, "Error between the rows of the table"))
    return {name: plots.fig_to_svg(figure, name, alt) for name, figure, alt in drawn}


def _points(calibration: Calibration, units: UnitsOut) -> list[dict[str, str]]:
    points = calibration.points
    return [
        {
            "label": label,
            "temperature": number(_shown(float(t), units), 2),
            "resistance": resistance(float(ohm), units.resistance, symbol=False),
            "residual": shift(float(left), units.temperature).split()[0],
            "margin": number(interval_from_si(float(expanded), units.temperature), 2),
            "rows": _rows_text(rows),
        }
        for label, t, ohm, left, expanded, rows in zip(
            points.labels,
            points.temperature_c,
            points.resistance_ohm,
            points.residual_c,
            point_expanded_c(calibration),
            points.rows,
            strict=True,
        )
    ]


def _remark(remark: Remark, units: UnitsOut) -> dict[str, str]:
    head = {"question": "Asked:", "blunder": "Found:", "note": "Note:"}[remark.kind]
    text = in_degrees(remark.text, units.temperature)
    said = unit_symbol(units.temperature) in text
    amount = "" if remark.size_c is None or said else f" [{shift(remark.size_c, units.temperature)}]"
    return {
        "head": head,
        "text": text.rstrip(".") + amount,
        "suggestion": remark.suggestion.rstrip("."),
        "answer": _answer(remark),
    }


def _answer(remark: Remark) -> str:
    if remark.answer:
        return _sentence(remark.answer)
    return "" if remark.kind == "note" else "Still open."


def _origin(facts: Facts) -> list[str]:
    lines = []
    if facts.traceability:
        lines.append(f"Traced to: {facts.traceability}.")
    for name, source in (("Run", facts.run), ("Setup", facts.setup_file)):
        if source.file:
            lines.append(f"{name} {source.file}, SHA-256 {source.sha256[:16] or 'not taken'}…")
    if facts.hours:
        lines.append(f"Hours: {facts.hours}.")
    if facts.route:
        lines.append(f"Wiring: {facts.route}.")
    lines.append(f"Method: {facts.method}.")
    lines.append(f"Decision rule: {facts.decision}.")
    return lines


def _number_lines(facts: Facts) -> list[str]:
    return [
        _join(f"Record {facts.identifier}" if facts.identifier else "Record without number", facts.person),
        _join(
            f"written {facts.written}" if facts.written else "not dated",
            f"next check {facts.due}" if facts.due else "",
        ),
    ]


def _table(table: TableView, units: UnitsOut, rows_in_one_column: int) -> dict[str, Any]:
    signal, value = unit_symbol(table.signal_unit), unit_symbol(table.value_unit)
    low, high, worst_at = (temperature(t, units.temperature, 0) for t in (table.low_c, table.high_c, table.worst_at_c))
    heading = (
        f"{table.signal_name[:1].upper()}{table.signal_name[1:]} in {signal or 'parts of one'} to {value}, "
        f"{_between(table.interpolation)} between rows; past the ends the monitor {_past(table.past_ends)}. "
        f"Made for {low} to {high}; worst error {size(table.worst_error_c, units.temperature)} at {worst_at}."
    )
    rows = [_row(i, row) for i, row in enumerate(table.rows, start=1)]
    return {
        "heading": heading,
        "signal_head": unit_symbol(table.signal_unit) or "ratio",
        "value_head": unit_symbol(table.value_unit),
        "blocks": _blocks(rows, rows_in_one_column),
        "any_extrapolated": any(row.extrapolated for row in table.rows),
        "notes": table.notes,
    }


def _row(position: int, row: RowView) -> dict[str, Any]:
    return {
        "number": position,
        "signal": row.signal,
        "value": row.value,
        "extrapolated": row.extrapolated,
        "redline": row.redline,
    }


def _between(word: str) -> str:
    return {
        "linear in signal": "a straight line",
        "linear in ln signal": "a straight line in ln of the input",
    }.get(word, word)


def _past(word: str) -> str:
    return {
        "holds": "holds the last value",
        "extends": "extends the last line",
        "blank": "shows nothing",
        "unknown": "does something nobody has tried yet",
    }.get(word, word)


def _blocks(rows: Sequence[dict[str, Any]], most: int) -> list[Sequence[dict[str, Any]]]:
    """Split rows into side-by-side columns of like length, at most `most` in each."""
    columns = max(1, -(-len(rows) // most))
    length = -(-len(rows) // columns) or 1
    return [rows[i : i + length] for i in range(0, len(rows), length)]


def _rows_text(rows: tuple[int, ...]) -> str:
    if len(rows) > 2 and list(rows) == list(range(rows[0], rows[-1] + 1)):
        return f"{rows[0]}–{rows[-1]}"
    return ", ".join(map(str, rows))


def _shown(temperature_c: float, units: UnitsOut) -> float:
    return float(from_si(temperature_c, units.temperature))


def _sentence(text: str) -> str:
    return f"{text[:1].upper()}{text[1:].rstrip('.')}."


def _join(*parts: str) -> str:
    return " · ".join(part for part in parts if part)
