"""The one-page report of a pressure calibration, and the sheet from which its table or constants are keyed in."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from sensorcal.book.facts import STATEMENT
from sensorcal.calibration.frompoints import (
    budgets_again,
    performance_again,
    pressure_claims,
    use_budget,
)
from sensorcal.calibration.pressurecal import PressureCalibration
from sensorcal.setup import UnitsOut
from sensorcal.transducer import Transducer
from sensorcal.units import from_si
from sensorcal.views import plots, pressureplots
from sensorcal.views.pressurearithmetic import pressure_arithmetic, pressure_assumed
from sensorcal.views.pressurekeyed import keyed_in
from sensorcal.views.pressurewords import (
    CAUTIONS,
    ROUND_SUPPLY_V,
    WRONG,
    beside,
    in_units,
    kind_lines,
    limit_line,
    plain_number,
    plain_pressure,
    round_pressures_pa,
    share,
    small,
    u_text,
)
from sensorcal.views.report import _blocks, _environment, _join, _number_lines, _origin, _sentence
from sensorcal.views.words import TIMES, margin, number, unit_symbol

if TYPE_CHECKING:
    from sensorcal.book.facts import Remark
    from sensorcal.book.pressurerecord import PressureRecord
    from sensorcal.installed.pressuretable import PressureTable
    from sensorcal.installed.twoconstants import TwoConstants

_CURVE_ROWS = 11
_BUDGET_SHOWN = 7
_PRINT = ((17, 7.1), (24, 6.6), (31, 6.1))
_SMALLEST_PRINT = 5.7
# These statements are told again in the reader's unit, from the points themselves.
_TOLD_AGAIN = ("output over supply", "linearity", "hysteresis", "repeatability", "zero return", "error band")
_MEANING = {
    "independent": "from the best straight line",
    "least squares": "from the line of least squares",
    "terminal-based": "from the line through both ends",
    "zero-based": "from the best line through zero",
}


def pressure_report_html(
    record: PressureRecord,
    table: PressureTable | TwoConstants | None = None,
    units: UnitsOut | None = None,
    *,
    limits_pa: Sequence[tuple[str, float]] = (),
) -> str:
    """Write the report of one pressure sensor as a self-contained page: no script, nothing fetched, one sheet on paper.

    What to key in and the limits stand first, then plain words, pictures, the terms of its data sheet, U at each
    pressure and the budget; the arithmetic is folded on a screen and open on paper. The same record gives the same
    text.

    Parameters
    ----------
    record : PressureRecord
        Calibration and facts, as written or as read back.
    table : PressureTable or TwoConstants, optional
        What is keyed in; without it the page lists the curve at round pressures.
    units : UnitsOut, optional
        Units of every number on the page except the table's own, which are the monitor's.
    limits_pa : sequence of (str, float)
        Limits of the engine maker by name, Pa.

    Returns
    -------
    str
    """
    units = units or UnitsOut()
    cal, facts, unit = record.calibration, record.facts, units.pressure
    limits = [(name, limit) for name, limit in limits_pa if cal.low_pa <= limit <= cal.high_pa]
    claims = pressure_claims(cal, [limit for _, limit in limits])
    page: dict[str, Any] = {
        "sensor": cal.sensor,
        "identifier": facts.identifier,
        "title": f"Pressure sensor {cal.sensor}" + (f", {facts.role}" if facts.role else ""),
        "subtitle": _join(
            f"read at the bench on {facts.bench_date}" if facts.bench_date else "",
            facts.serial,
            facts.channel,
            facts.condition,
            facts.scenario,
        ),
        "number_lines": _number_lines(facts),
        "statement": STATEMENT,
        "big": [limit_line(claim, name, unit) for claim, (name, _) in zip(claims, limits, strict=True)]
        or [_constants_line(cal, unit)],
        "open": [
            f"A reading is questioned: {remark.text.rstrip('.')}. Key nothing in before this is settled."
            for remark in facts.remarks
            if remark.kind == "blunder" and not remark.answer
        ],
        "pressure_head": unit_symbol(unit),
        "supply": f"{ROUND_SUPPLY_V:g} V",
        "curve_blocks": _blocks(_curve_rows(cal, unit), _CURVE_ROWS),
        "plain": _plain_lines(record, table, units),
        "kind": kind_lines(cal.kind, unit) if cal.kind_found is None else [],
        "cautions": CAUTIONS,
        "pictures": _pictures(record, table, units, tuple(limit for _, limit in limits)),
        "terms": _terms(record, unit),
        "missing": [in_units(line, units) for line in facts.undetectable],
        "points": _points(cal, unit),
        "budget": _budget(cal, units),
        "remarks": [_remark(remark, units) for remark in facts.remarks],
        "origin": [*_origin(facts), f"Content of the record: SHA-256 {record.content_sha256[:16]}…"],
        "arithmetic": pressure_arithmetic(cal, unit),
        "assumed": pressure_assumed(record),
        "footer": _join(cal.sensor, facts.identifier, STATEMENT, facts.software, "end of the record"),
    }
    keyed = None if table is None else keyed_in(table, units)
    page["points_of_print"] = _points_of_print(page, keyed)
    return _environment().get_template("pressurereport.html").render(r=page, table=keyed)


def _points_of_print(page: dict[str, Any], keyed: dict[str, Any] | None) -> float:
    """Size of the print: the more stands on the page, the smaller, so that one sheet still holds it."""
    lines = len(page["plain"]) + len(page["kind"]) + len(page["points"]) + 2 * len(page["remarks"])
    lines += 3 * len(page["open"]) + len(page["big"])
    if keyed is not None:
        lines += (4 if "table" in page["pictures"] else 1) + len(keyed["blocks"][0]) // 2 + len(keyed["notes"]) // 2
    return next((size for most, size in _PRINT if lines <= most), _SMALLEST_PRINT)


def _sheet(record: PressureRecord) -> Transducer | None:
    """Give the data sheet that the record keeps."""
    kept = record.facts.setup.get("transducers", {}).get(record.calibration.sensor)
    if kept is None:
        return None
    known = set(Transducer.__dataclass_fields__)
    return Transducer(**{key: value for key, value in kept.items() if key in known})


def _constants_line(cal: PressureCalibration, unit: str) -> str:
    (zero, full) = pressure_claims(cal, (cal.low_pa, cal.high_pa))
    return (
        f"{100 * zero.ratio:.2f} % of supply at {plain_pressure(cal.low_pa, unit)}, {100 * full.ratio:.2f} % at "
        f"{plain_pressure(cal.high_pa, unit)}; a reading holds to {margin(_worst(cal), unit)} ({TIMES})"
    )


def _worst(cal: PressureCalibration, *, bench: bool = False) -> float:
    low, high = cal.tested_pa
    at = [low + share_of * (high - low) for share_of in (0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0)]
    return max(one.expanded_bench_pa if bench else one.expanded_pa for one in pressure_claims(cal, at))


def _curve_rows(cal: PressureCalibration, unit: str) -> list[dict[str, Any]]:
    rows = pressure_claims(cal, round_pressures_pa(cal.low_pa, cal.high_pa, unit, _CURVE_ROWS))
    return [
        {
            "pressure": plain_number(from_si(one.pressure_pa, unit)),
            "extrapolated": one.extrapolated,
            "ratio": f"{100 * one.ratio:.2f}",
            "volts": number(ROUND_SUPPLY_V * one.ratio, 3),
            "use": u_text(one.expanded_pa, unit),
            "bench": u_text(one.expanded_bench_pa, unit),
        }
        for one in rows
    ]


def _plain_lines(record: PressureRecord, table: PressureTable | TwoConstants | None, units: UnitsOut) -> list[str]:
    cal, unit = record.calibration, units.pressure
    points = cal.points
    ways = [word for way, word in (("up", "rising"), ("down", "falling")) if way in points.direction]
    low, high = cal.tested_pa
    curve = {"line": "a straight line", "table": "a curve through the tested pressures"}.get(
        cal.model, f"a {cal.model} curve"
    )
    lines = [
        (
            f"Tested at {len(points.labels)} points from {beside(low, high, unit)} to {beside(high, high, unit)}"
            f"{', ' if ways else ''}{' and '.join(ways)}; {curve} fits."
        ),
        (
            f"One reading in use holds to {margin(_worst(cal), unit)} between them, {TIMES}, body hot or cold; to "
            f"{margin(_worst(cal, bench=True), unit)} at bench temperature."
        ),
    ]
    if cal.low_pa < low - 0.005 * (high - low) or cal.high_pa > high + 0.005 * (high - low):
        lines.append("Beyond the tested pressures every number is extrapolated.")
    lines += [_sentence(in_units(line, units)) for line in record.facts.statements if not line.startswith(_TOLD_AGAIN)]
    if table is not None:
        lines.append(
            f"What is keyed in adds at most {u_text(abs(table.worst_error_pa), unit)} {unit_symbol(unit)} of its own "
            f"(at {plain_pressure(table.worst_at_pa, unit)})."
        )
    told = {in_units(line, units) for line in record.facts.statements}
    notes = [note for note in cal.notes if not note.startswith(WRONG)]
    lines += [_sentence(note) for note in (in_units(one, units) for one in notes) if note not in told]
    return lines


def _pictures(
    record: PressureRecord, table: PressureTable | TwoConstants | None, units: UnitsOut, limits_pa: tuple[float, ...]
) -> dict[str, str]:
    from sensorcal.installed.pressuretable import PressureTable

    cal, sheet = record.calibration, _sheet(record)
    drawn = [
        (
            "line",
            pressureplots.line_figure(cal, limits_pa=limits_pa, units=units),
            f"Pressure over output of {cal.sensor}",
        ),
        (
            "loop",
            pressureplots.loop_figure(cal, sheet=sheet, units=units),
            "Rising and falling readings minus the independent straight line",
        ),
        ("trust", pressureplots.trust_figure(cal, limits_pa=limits_pa, units=units), "U over pressure"),
    ]
    if isinstance(table, PressureTable):
        figure = pressureplots.pressure_table_figure(table, units=units)
        drawn.append(("table", figure, "Error between the rows of the table"))
    return {name: plots.fig_to_svg(figure, name, alt) for name, figure, alt in drawn}


def _terms(record: PressureRecord, unit: str) -> list[dict[str, str]]:
    """The sensor in the terms of its data sheet, in the unit and in per cent of the span."""
    sheet = _sheet(record)
    cal = record.calibration
    seen = performance_again(cal, sheet or Transducer(name=cal.sensor, low_pa=cal.low_pa, high_pa=cal.high_pa))
    if seen is None:
        return []
    wanted: list[tuple[str, float | None, str, bool]] = [
        (f"linearity, {name}", size, _MEANING[name], False) for name, size in seen.linearity_pa.items()
    ]
    at = "" if seen.hysteresis_at_pa is None else f" at {plain_pressure(seen.hysteresis_at_pa, unit)}"
    wanted += [
        ("hysteresis", seen.hysteresis_pa, f"falling − rising{at}", False),
        ("repeatability", seen.repeatability_pa, "between cycles, one direction", False),
        ("zero return", seen.zero_return_pa, "last zero − first zero", True),
        ("static error band", seen.static_error_band_pa, "any reading, from the best line", False),
    ]
    if sheet is not None:
        wanted.append(("total error band", seen.total_error_band_pa, "any reading, from the data sheet's line", False))
    return [
        {
            "name": name,
            "size": "not seen" if size is None else small(size, unit, signed=signed),
            "share": "" if size is None else share(size, seen.span_pa),
            "meaning": meaning,
        }
        for name, size, meaning, signed in wanted
    ]


def _points(cal: PressureCalibration, unit: str) -> list[dict[str, str]]:
    """U at each tested pressure in the manner of the guides, with its parts."""
    budgets = budgets_again(cal)
    if budgets is None:
        return []
    series = budgets.series
    rows = []
    for n, p in enumerate(budgets.pressure_pa.tolist()):
        up, down = float(series.mean_up[n]) - p, float(series.mean_down[n]) - p
        rows.append(
            {
                "pressure": number(from_si(p, unit), 1 if unit in {"kPa", "hPa"} else 2),
                "up": small(up, unit, signed=True),
                "down": "-" if down != down else small(down, unit, signed=True),  # noqa: PLR0124 - not a number
                "hysteresis": "-" if series.hysteresis is None else small(float(series.hysteresis[n]), unit),
                "repeat": "-" if series.repeatability is None else small(float(series.repeatability[n]), unit),
                "gauge": small(float((budgets.gauge_pa[n] ** 2 + budgets.reading_pa[n] ** 2) ** 0.5), unit),
                "expanded": u_text(float(series.expanded[n]), unit),
            }
        )
    return rows


def _budget(cal: PressureCalibration, units: UnitsOut) -> dict[str, Any]:
    unit = units.pressure
    low, high = cal.tested_pa
    at = (low, 0.5 * (low + high), high)
    rows = [row for row in use_budget(cal, at) if max(row.u_pa) > 0.0]
    claims = pressure_claims(cal, at)
    return {
        "heads": [beside(one, high, unit) for one in at],
        "rows": [
            {"name": in_units(row.meaning, units), "body": row.body, "u": [small(one, unit) for one in row.u_pa]}
            for row in rows[:_BUDGET_SHOWN]
        ],
        "more": len(rows[_BUDGET_SHOWN:]),
        "together": [small(one.u_pa, unit) for one in claims],
        "k": f"{cal.k:.3g}",
        "expanded": [u_text(one.expanded_pa, unit) for one in claims],
        "bench": [u_text(one.expanded_bench_pa, unit) for one in claims],
    }


def _remark(remark: Remark, units: UnitsOut) -> dict[str, str]:
    head = {"question": "Asked:", "blunder": "Found:", "note": "Note:"}[remark.kind]
    answer = _sentence(remark.answer) if remark.answer else "" if remark.kind == "note" else "Still open."
    return {
        "head": head,
        "text": in_units(remark.text.rstrip("."), units),
        "suggestion": in_units(remark.suggestion.rstrip("."), units),
        "answer": answer,
    }
