"""A pressure table or two constants in the words of a page, and the sheet from which they are keyed in."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from sensorcal.book.facts import STATEMENT
from sensorcal.calibration.frompoints import pressure_claims
from sensorcal.installed.pressuretable import PressureTable
from sensorcal.setup import UnitsOut
from sensorcal.units import from_si, interval_from_si, shortest
from sensorcal.views.pressurewords import CAUTIONS, in_unit, limit_line, plain_pressure, u_text
from sensorcal.views.report import _blocks, _environment, _join, _number_lines
from sensorcal.views.words import unit_symbol

if TYPE_CHECKING:
    from sensorcal.book.pressurerecord import PressureRecord
    from sensorcal.installed.twoconstants import TwoConstants

_ROWS_IN_ONE_COLUMN = 8
_BIG_ROWS_IN_ONE_COLUMN = 20


def pressure_table_page_html(
    table: PressureTable | TwoConstants,
    record: PressureRecord,
    units: UnitsOut | None = None,
    *,
    limits_pa: Sequence[tuple[str, float]] = (),
) -> str:
    """Write the sheet for the cockpit: the rows or the two constants in large print, a box beside each to tick.

    Parameters
    ----------
    table : PressureTable or TwoConstants
    record : PressureRecord
    units : UnitsOut, optional
    limits_pa : sequence of (str, float)
        As for `pressure_report_html`.
    """
    units = units or UnitsOut()
    facts, sensor = record.facts, record.calibration.sensor
    cal = record.calibration
    limits = [(name, limit) for name, limit in limits_pa if cal.low_pa <= limit <= cal.high_pa]
    claims = pressure_claims(cal, [limit for _, limit in limits])
    said = [limit_line(claim, name, units.pressure) for claim, (name, _) in zip(claims, limits, strict=True)]
    page = keyed_in(table, units, _BIG_ROWS_IN_ONE_COLUMN)
    page |= {
        "sensor": sensor,
        "size": f"{11.0 if len(page['rows']) <= 2 * _BIG_ROWS_IN_ONE_COLUMN else 8.0:g}",
        "title": f"Key into the monitor: {sensor}",
        "subtitle": _join(facts.role, facts.channel, facts.scenario),
        "number_lines": _number_lines(facts),
        "statement": STATEMENT,
        "how": page["heading"],
        "redline": " ".join(f"{line}." for line in said),
        "caution": CAUTIONS[0],
    }
    return _environment().get_template("tablepage.html").render(p=page)


def keyed_in(
    table: PressureTable | TwoConstants, units: UnitsOut, rows_in_one_column: int = _ROWS_IN_ONE_COLUMN
) -> dict[str, Any]:
    """Put a table or two constants into the words of a page."""
    monitor = table.monitor
    signal_head = "" if monitor.signal_unit == "1" else monitor.signal_unit
    value_head = unit_symbol(monitor.value_unit)
    own = units.pressure
    worst = f"{u_text(abs(table.worst_error_pa), own)} {unit_symbol(own)}"
    at = plain_pressure(table.worst_at_pa, own)
    behind = f" at a supply of {monitor.supply_v:g} V" if monitor.kind == "voltage" else ""
    if isinstance(table, PressureTable):
        low, high = plain_pressure(table.from_pa, own), plain_pressure(table.to_pa, own)
        heading = (
            f"{monitor.signal_name[:1].upper()}{monitor.signal_name[1:]}{behind} to {value_head}, a straight line "
            f"between rows. Made for {low} to {high}; worst error {worst} at {at}."
        )
        rows = [
            {
                "number": str(n),
                "signal": monitor.signal_text(float(signal)),
                "value": monitor.value_text(float(value)),
                "extrapolated": beyond,
                "redline": forced,
            }
            for n, (signal, value, beyond, forced) in enumerate(
                zip(table.signal, table.value, table.extrapolated, table.forced, strict=True), start=1
            )
        ]
        notes = [in_unit(note, own) for note in table.notes]
    else:
        low, high = plain_pressure(table.low_pa, own), plain_pressure(table.high_pa, own)
        heading = (
            f"Two constants: {monitor.signal_name}{behind} at {low} and at {high}, a straight line through both. "
            f"Worst error between them {worst} at {at}."
        )
        ends = (("zero", table.zero_signal, table.low_pa), ("span", table.full_signal, table.high_pa))
        rows = [
            {
                "number": name,
                "signal": monitor.signal_text(signal),
                "value": shortest(round(from_si(at_pa, monitor.value_unit), 6)),
                "extrapolated": False,
                "redline": False,
            }
            for name, signal, at_pa in ends
        ]
        per = f"{value_head} per {signal_head or 'unit of ratio'}"
        slope = f"{interval_from_si(table.slope_pa, monitor.value_unit):.5g}"
        notes = [f"Where the monitor asks for a slope: {slope} {per}.", *table.notes]
    how_many = f"{len(rows)} rows" if isinstance(table, PressureTable) else "two constants"
    return {
        "heading": heading,
        "input_line": f"Input: {monitor.signal_name}{f' in {signal_head}' if signal_head else ''}; shown in "
        f"{value_head}; {how_many}",
        "signal_head": signal_head or "ratio",
        "value_head": value_head,
        "rows": rows,
        "blocks": _blocks(rows, rows_in_one_column),
        "any_extrapolated": any(row["extrapolated"] for row in rows),
        "notes": notes,
    }
