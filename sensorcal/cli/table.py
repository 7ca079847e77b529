"""The command `sensorcal table`: a calibration becomes the rows to key into the monitor."""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sensorcal.cli.files import setup_and_source, write_text
from sensorcal.cli.pressure import table_of_pressure
from sensorcal.errors import InputError

if TYPE_CHECKING:
    from sensorcal.book.facts import Facts
    from sensorcal.book.record import Record
    from sensorcal.installed.table import MonitorTable
    from sensorcal.setup import Setup

_EXAMPLE = """\
example:
  sensorcal table calibrations/P1.json --setup setup.toml --rows 16 --from -20 --to 150 --at 120 --out tables/P1.csv
  sensorcal table calibrations/O1.json --setup setup.toml --at 150 --out tables/O1.csv
  sensorcal table calibrations/O1.json --setup setup.toml --two-constants --out tables/O1.csv
"""


def add_parser(subparsers: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add `table` to the commands."""
    parser = subparsers.add_parser(
        "table",
        help="the table to key into the monitor",
        description=(
            "The table with the smallest worst error that the monitor's rows and rounding allow, as CSV, as Markdown "
            "and as a page to print and tick off. The monitor is described in the setup file: a thermistor's input "
            "under [monitor], a pressure sensor's under [pressure_input]."
        ),
        epilog=_EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.set_defaults(run=run)
    parser.add_argument("record", metavar="CAL.json", help="calibration record written by `sensorcal fit`")
    parser.add_argument("--setup", metavar="SETUP.toml", required=True, help="describes the monitor")
    parser.add_argument("--rows", metavar="N", type=int, help="rows of the table (those of the monitor)")
    parser.add_argument("--from", dest="low", metavar="X", help="lower end, in the setup's unit (the sensor's range)")
    parser.add_argument("--to", dest="high", metavar="X", help="upper end")
    parser.add_argument(
        "--at",
        metavar="X",
        action="append",
        default=[],
        help="a row on the curve here, such as the redline or a low limit; repeatable",
    )
    parser.add_argument(
        "--two-constants", action="store_true", help="zero and span in place of rows (pressure sensors)"
    )
    parser.add_argument(
        "--out", metavar="TABLE.csv", required=True, help="TABLE.md and TABLE.html are written beside it"
    )
    parser.add_argument("--json", action="store_true", help="print the table for machines")


def run(args: argparse.Namespace) -> int:
    """Make the table, write it three times, and say how good it is."""
    from sensorcal.book.anyrecord import read_any_record
    from sensorcal.book.record import Record
    from sensorcal.calibration.claims import claim_at
    from sensorcal.installed.tabletext import table_csv, table_markdown
    from sensorcal.views.report import report_html, table_page_html
    from sensorcal.views.tableview import table_view

    setup, _ = setup_and_source(args.setup)
    record = read_any_record(args.record)
    _refuse_questioned(record.facts, setup, args.record)
    if not isinstance(record, Record):
        return table_of_pressure(args, setup, record)
    if args.two_constants:
        raise InputError("--two-constants is for pressure sensors: a thermistor's curve is no line", do="leave it out")
    table = _make(args, setup, record)
    out = Path(args.out)
    sensor, facts = record.calibration.sensor, record.facts
    role = f" ({facts.role})" if facts.role else ""
    whose = f"{sensor}{role}, record {facts.identifier}" + (f"; {facts.scenario}" if facts.scenario else "")
    markdown = f"# {sensor}{role}\n\n- record: {whose}\n{table_markdown(table)}"
    write_text(out, f"# record: {whose}\n{table_csv(table)}")
    write_text(out.with_suffix(".md"), markdown)
    claim = None
    if facts.redline_c is not None:
        claim = claim_at(record.calibration, facts.redline_c, shape_confirmed=facts.shape_confirmed)
    view = table_view(table)
    page = table_page_html(view, facts, setup.units, sensor=sensor, claim=claim)
    write_text(out.with_suffix(".html"), page)
    # The report of the same calibration, with the rows to key in on its first lines.
    report = out.with_name(f"{out.stem}-report.html")
    write_text(report, report_html(record.calibration, view, facts, setup.units))
    if args.json:
        print(json.dumps(_machine(table, sensor), indent=2, ensure_ascii=False))
    else:
        print(markdown)
        print(f"Written: {out}, {out.with_suffix('.md')}, to print {out.with_suffix('.html')}, with the curve {report}")
    return 0


def _make(args: argparse.Namespace, setup: Setup, record: Record) -> MonitorTable:
    from sensorcal.installed.monitor import monitor_input
    from sensorcal.installed.table import make_table

    def celsius(option: str, text: str | None, otherwise: float) -> float:
        from sensorcal.errors import SensorcalError
        from sensorcal.units import parse_quantity

        if text is None:
            return otherwise
        try:
            return float(parse_quantity(text, setup.units.temperature))
        except SensorcalError as error:
            raise InputError(f"{option}: {error.what}", do=error.do) from None

    low, high = record.facts.range_c
    return make_table(
        record.calibration,
        monitor_input(setup.monitor),
        rows=args.rows,
        from_c=celsius("--from", args.low, low),
        to_c=celsius("--to", args.high, high),
        at_c=[celsius("--at", text, 0.0) for text in args.at],
        tested_range_c=record.calibration.tested_c,
    )


def _refuse_questioned(facts: Facts, setup: Setup, path: str) -> None:
    """No table from a curve with a reading that looks wrong, until somebody says why it may stand."""
    for remark in facts.remarks:
        if remark.kind == "blunder" and not remark.answer and not setup.reason_to_keep(remark.what):
            raise InputError(
                f"no table yet, a reading looks wrong: {remark.text}",
                do="mend the run file and fit again, or keep it with a reason: "
                f'keep = [{{what = "{remark.what}", reason = "…"}}] in the setup',
                file=Path(path).name,
            )


def _machine(table: MonitorTable, sensor: str) -> dict[str, Any]:
    monitor = table.monitor
    return {
        "format": "sensorcal-table/1",
        "sensor": sensor,
        "signal": monitor.signal_name,
        "signal_unit": monitor.signal_unit,
        "value_unit": monitor.value_unit,
        "interpolation": monitor.interpolation,
        "past_ends": monitor.past_ends,
        "from_c": table.from_c,
        "to_c": table.to_c,
        "rows": [
            {"signal": float(monitor.signal_text(s)), "value": float(monitor.value_text(v)), "extrapolated": e}
            for s, v, e in zip(table.signal.tolist(), table.value.tolist(), table.extrapolated, strict=True)
        ],
        "worst_error_c": table.worst_error_c,
        "worst_at_c": table.worst_at_c,
        "bound_c": table.bound_c,
        "even_rows_worst_error_c": table.even_worst_error_c,
        "notes": list(table.notes),
    }
