"""What `sensorcal fit` and `sensorcal table` do with a pressure sensor."""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sensorcal.cli.files import write_text
from sensorcal.errors import InputError, SensorcalError

if TYPE_CHECKING:
    from sensorcal.bench.run import Run
    from sensorcal.book.facts import Source
    from sensorcal.book.pressurerecord import PressureRecord
    from sensorcal.calibration.pressurerun import PressureResult
    from sensorcal.installed.pressuretable import PressureTable
    from sensorcal.installed.twoconstants import TwoConstants
    from sensorcal.setup import Setup


def fit_pressure_sensor(
    result: PressureResult,
    session: Run,
    setup: Setup,
    source: Source,
    written: str,
    args: argparse.Namespace,
    record: Path,
) -> dict[str, Any]:
    """Write record and page of a pressure sensor and say the outcome; return the same for machines.

    Parameters
    ----------
    result : PressureResult
    session : Run
    setup : Setup
    source : Source
        Name and hash of the setup file.
    written : str
        ISO date of the record.
    args : argparse.Namespace
        Of `sensorcal fit`.
    record : Path

    Returns
    -------
    dict
    """
    from dataclasses import asdict, replace

    from sensorcal.book.pressurerecord import (
        PressureRecord,
        pressure_document,
        pressure_facts,
        pressure_statements,
        write_pressure_record,
    )
    from sensorcal.views.pressurereport import pressure_report_html
    from sensorcal.views.pressurewords import WRONG, in_units

    cal = result.calibration
    facts = pressure_facts(result, session, setup, setup_file=source, written=written)
    facts = replace(facts, person=args.person)
    older = write_pressure_record(record, cal, facts)
    document = pressure_document(cal, facts)
    kept = PressureRecord(calibration=cal, facts=facts, content_sha256=str(document["content_sha256"]))
    page = record.with_suffix(".html")
    write_text(page, pressure_report_html(kept, None, setup.units, limits_pa=pressure_limits(setup, cal.sensor)))
    open_remark = next((one for one in facts.remarks if one.kind == "blunder" and not one.answer), None)
    if not args.json:
        statements = pressure_statements(result)
        print(f"{cal.sensor}{f' ({facts.role})' if facts.role else ''}, pressure:")
        lines = [
            f"{WRONG}: {remark.text}" + (f"; {remark.answer}" if remark.answer else "")
            for remark in facts.remarks
            if remark.kind == "blunder"
        ]
        if open_remark is not None:
            lines.append(
                "no table is made until it is settled: mend the run file and fit again, or keep it: "
                f'keep = [{{what = "{open_remark.what}", reason = "…"}}] in the setup'
            )
        else:
            told = {*statements, *(note for note in cal.notes if note.startswith(WRONG))}
            lines += [*statements, *(f"note: {note}" for note in cal.notes if note not in told)]
        print("\n".join(f"  {in_units(line, setup.units)}" for line in lines))
        print(f"  record {record}, page {page}")
        if older is not None:
            print(f"  the record that stood there is kept as {older}")
        print()
    return {
        "sensor": cal.sensor,
        "record": str(record),
        "questioned": open_remark is not None,
        "remarks": [asdict(remark) for remark in facts.remarks],
        "for_people": document["for_people"],
        "calibration": document["calibration"],
    }


def pressure_limits(setup: Setup, tag: str) -> list[tuple[str, float]]:
    """List the limits that the setup states for a pressure sensor, by name, Pa.

    Parameters
    ----------
    setup : Setup
    tag : str
        Its probe's red line, and the limits of the channel that its role names.

    Returns
    -------
    list of (str, float)
    """
    from sensorcal.roles import channel_of_role

    found: list[tuple[str, float]] = []
    probe = setup.probes.get(tag)
    if probe is None or probe.measurand != "pressure":
        return found
    channel = channel_of_role(probe.role, "pressure")
    if channel is not None:
        limit = setup.limit(channel)
        found += [(name, at) for name, at in (("low limit", limit.low), ("high limit", limit.high)) if at is not None]
    if probe.redline is not None and probe.redline not in [at for _, at in found]:
        found.append(("red line", probe.redline))
    return found


def table_of_pressure(args: argparse.Namespace, setup: Setup, record: PressureRecord) -> int:
    """Make the table or the two constants of a pressure sensor, write them, and say how good they are.

    Parameters
    ----------
    args : argparse.Namespace
        Of `sensorcal table`.
    setup : Setup
    record : PressureRecord

    Returns
    -------
    int
        Exit code 0.
    """
    from sensorcal.installed.pressuretext import pressure_csv, pressure_markdown
    from sensorcal.units import from_si, shortest
    from sensorcal.views.pressurekeyed import pressure_table_page_html
    from sensorcal.views.pressurereport import pressure_report_html

    table = _make(args, setup, record)
    out, facts, sensor = Path(args.out), record.facts, record.calibration.sensor
    role = f" ({facts.role})" if facts.role else ""
    whose = f"{sensor}{role}, record {facts.identifier}" + (f"; {facts.scenario}" if facts.scenario else "")
    limits = pressure_limits(setup, sensor)
    markdown = f"# {sensor}{role}\n\n- record: {whose}\n{pressure_markdown(table)}"
    report = out.with_name(f"{out.stem}-report.html")
    write_text(out, f"# record: {whose}\n{pressure_csv(table)}")
    write_text(out.with_suffix(".md"), markdown)
    write_text(out.with_suffix(".html"), pressure_table_page_html(table, record, setup.units, limits_pa=limits))
    write_text(report, pressure_report_html(record, table, setup.units, limits_pa=limits))
    if args.json:
        print(json.dumps(_machine(table, sensor), indent=2, ensure_ascii=False))
    else:
        print(markdown)
        if not args.at and not args.two_constants:
            unit = setup.units.pressure
            for name, at in limits:
                shown = shortest(round(from_si(at, unit), 6))
                print(f"No row is sure to stand at the {name} of {shown} {unit}: --at {shown} puts one on the curve.")
        print(f"Written: {out}, {out.with_suffix('.md')}, to print {out.with_suffix('.html')}, with the curve {report}")
    return 0


def _make(args: argparse.Namespace, setup: Setup, record: PressureRecord) -> PressureTable | TwoConstants:
    from sensorcal.installed.pressureinput import pressure_input, whole_range
    from sensorcal.installed.pressuretable import make_pressure_table
    from sensorcal.installed.twoconstants import two_constants
    from sensorcal.units import parse_quantity

    def pascals(option: str, text: str) -> float:
        try:
            return float(parse_quantity(text, setup.units.pressure, "pressure"))
        except SensorcalError as error:
            raise InputError(f"{option}: {error.what}", do=error.do) from None

    cal = record.calibration
    monitor = pressure_input(setup.pressure_input, setup.stated)
    low, high = whole_range(monitor, *_range(setup, record))
    low = low if args.low is None else pascals("--from", args.low)
    high = high if args.high is None else pascals("--to", args.high)
    if args.two_constants or setup.pressure_input.form == "two constants":
        if args.rows is not None or args.at:
            raise InputError(
                f"{'--rows' if args.rows is not None else '--at'} belongs to a table, and two constants were asked for",
                do="leave it out, or write form = 'table' under [pressure_input]",
            )
        return two_constants(cal, monitor, low_pa=low, high_pa=high, tested_range_pa=cal.tested_pa)
    return make_pressure_table(
        cal,
        monitor,
        from_pa=low,
        to_pa=high,
        rows=args.rows,
        at_pa=[pascals("--at", text) for text in args.at],
        tested_range_pa=cal.tested_pa,
    )


def _range(setup: Setup, record: PressureRecord) -> tuple[float, float]:
    """Range that matters where the setup states one for this sensor, else the sensor's own."""
    cal = record.calibration
    probe = setup.probes.get(cal.sensor)
    ends = [cal.low_pa, cal.high_pa]
    if probe is not None and probe.measurand == "pressure":
        for n, name in enumerate(("range_low", "range_high")):
            if f"probes.{cal.sensor}.{name}" in setup.stated:
                ends[n] = getattr(probe, name)
    return ends[0], ends[1]


def _machine(table: PressureTable | TwoConstants, sensor: str) -> dict[str, Any]:
    from sensorcal.installed.pressuretable import PressureTable

    monitor = table.monitor
    found: dict[str, Any] = {
        "format": "sensorcal-pressure-table/1",
        "sensor": sensor,
        "signal": monitor.signal_name,
        "signal_unit": monitor.signal_unit,
        "value_unit": monitor.value_unit,
        "supply_v": monitor.supply_v,
        "counts_full": monitor.counts_full,
        "worst_error_pa": table.worst_error_pa,
        "worst_at_pa": table.worst_at_pa,
        "step_worth_pa": table.step_worth_pa,
        "notes": list(table.notes),
    }
    if not isinstance(table, PressureTable):
        return found | {
            "zero_signal": float(monitor.signal_text(table.zero_signal)),
            "full_signal": float(monitor.signal_text(table.full_signal)),
            "low_pa": table.low_pa,
            "high_pa": table.high_pa,
            "slope_pa": table.slope_pa,
        }
    rows = zip(table.signal.tolist(), table.value.tolist(), table.extrapolated, table.forced, strict=True)
    return found | {
        "past_ends": monitor.past_ends,
        "from_pa": table.from_pa,
        "to_pa": table.to_pa,
        "rows": [
            {
                "signal": float(monitor.signal_text(signal)),
                "value": float(monitor.value_text(value)),
                "extrapolated": beyond,
                "fixed": fixed,
            }
            for signal, value, beyond, fixed in rows
        ],
        "bound_pa": table.bound_pa,
        "proven_pa": table.proven_pa,
        "even_rows_worst_error_pa": table.even_worst_error_pa,
    }
