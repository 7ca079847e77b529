"""The command `sensorcal chain`: from the sensor to the panel and back, with the budget of everything between."""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from typing import TYPE_CHECKING

from sensorcal.cli.channel import channel_of, quantity
from sensorcal.cli.files import setup_and_source, write_text
from sensorcal.errors import FileError

if TYPE_CHECKING:
    from sensorcal.installed.channelsheet import ChannelSheet
    from sensorcal.installed.fromsetup import InstalledChannel
    from sensorcal.installed.throughchain import ChainTable
    from sensorcal.setup import Setup

_EXAMPLE = """\
example:
  sensorcal chain calibrations/P1.json --setup setup.toml --at 90,120 --shown 97
  sensorcal chain calibrations/P1.json --setup setup.toml --keyed tables/P1.csv --html chain.html
  sensorcal chain calibrations/P1.json --setup setup.toml --table tables/P1-channel.csv
  sensorcal chain --sensor P1 --setup setup.toml
"""


def add_parser(subparsers: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add `chain` to the commands."""
    parser = subparsers.add_parser(
        "chain",
        help="from the sensor to the panel: what is shown, what is true, which wire matters",
        description=(
            "What the panel will show at true values, what is true behind a shown number, and how much each wire, "
            "contact, ground, resistor and step does to it. The wiring stands under [channels.TAG] in the setup, the "
            "monitor under [monitor]; what is missing is assumed and named."
        ),
        epilog=_EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.set_defaults(run=run)
    parser.add_argument("record", metavar="CAL.json", nargs="?", help="calibration record written by `sensorcal fit`")
    parser.add_argument("--setup", metavar="SETUP.toml", required=True, help="sensor, wiring and monitor")
    parser.add_argument("--sensor", metavar="TAG", help="without a record: take the maker's sheet of this sensor")
    parser.add_argument("--at", metavar="V,V", help="true values of interest, in the setup's unit (usual ones)")
    parser.add_argument("--shown", metavar="V,V", help="numbers on the panel, traced back to what is true")
    parser.add_argument("--keyed", metavar="TABLE.csv", help="the table that stands in the monitor now")
    parser.add_argument("--limit", choices=("high", "low"), help="which limit is guarded (by the sensor)")
    made = parser.add_argument_group("a table for the whole channel")
    made.add_argument("--table", metavar="OUT.csv", help="make one that undoes the known errors of the channel")
    made.add_argument("--rows", metavar="N", type=int, help="its rows (those of the monitor)")
    made.add_argument("--from", dest="low", metavar="V", help="its lower end (the sensor's range)")
    made.add_argument("--to", dest="high", metavar="V", help="its upper end")
    made.add_argument("--row-at", metavar="V", action="append", default=[], help="a row on the curve here; repeatable")
    made.add_argument("--undo-all", action="store_true", help="undo also what comes and goes: charging, damp, warming")
    parser.add_argument("--png", metavar="PICTURE.png", help="the picture of the budget; PICTURE-range.png beside it")
    parser.add_argument("--html", metavar="PAGE.html", help="one page to print")
    parser.add_argument("--json", action="store_true", help="everything, for machines, in degC and Pa")


def run(args: argparse.Namespace) -> int:
    """Work out the channel, write what was asked for, and say it in plain words."""
    from sensorcal.installed.channelsheet import channel_sheet
    from sensorcal.views.chainpage import chain_lines, chain_machine, chain_page_html

    setup, _ = setup_and_source(args.setup)
    channel, role, scenario = channel_of(args, setup)
    at = _values("--at", args.at, channel, setup)
    shown = _values("--shown", args.shown, channel, setup)
    sheet = channel_sheet(channel, at or None, shown, limit=args.limit)
    table = _table(args, channel, setup) if args.table else None
    written = []
    if table is not None:
        write_text(Path(args.table), _table_text(table, channel, setup))
        written.append(args.table)
    if args.png:
        written += _pictures(Path(args.png), sheet, setup)
    if args.html:
        title = f"{channel.tag}, {role}" if role else channel.tag
        page = chain_page_html(sheet, setup.units, title=title, scenario=scenario, table=table)
        write_text(Path(args.html), page)
        written.append(args.html)
    if args.json:
        print(json.dumps(chain_machine(sheet, table), indent=2, ensure_ascii=False))
        return 0
    print("\n".join(chain_lines(sheet, setup.units, table=table)))
    if written:
        print(f"\nWritten: {', '.join(str(name) for name in written)}")
    return 0


def _values(option: str, text: str | None, channel: InstalledChannel, setup: Setup) -> list[float]:
    """Read a list of quantities, '90,120' or '194degF,248degF', in the setup's unit where none is written."""
    if text is None:
        return []
    return [_value(option, one, channel, setup) for one in text.replace(";", ",").split(",") if one.strip()]


def _value(option: str, text: str, channel: InstalledChannel, setup: Setup) -> float:
    unit, kind = (setup.units.pressure, "pressure") if channel.pressure else (setup.units.temperature, "temperature")
    return quantity(option, text, unit, kind)


def _table(args: argparse.Namespace, channel: InstalledChannel, setup: Setup) -> ChainTable:
    """Make the table through the channel, for the monitor as the setup describes it."""
    from sensorcal.installed.monitor import monitor_input
    from sensorcal.installed.throughchain import NOT_SETTLED, make_chain_pressure_table, make_chain_table

    low = channel.low if args.low is None else _value("--from", args.low, channel, setup)
    high = channel.high if args.high is None else _value("--to", args.high, channel, setup)
    at = [_value("--row-at", text, channel, setup) for text in args.row_at]
    leave = () if args.undo_all else NOT_SETTLED
    if channel.pressure:
        from sensorcal.installed.pressureinput import pressure_input

        return make_chain_pressure_table(
            channel.chain,
            pressure_input(setup.pressure_input, setup.stated),
            from_pa=low,
            to_pa=high,
            rows=args.rows,
            at_pa=at,
            tested_range_pa=channel.supported,
            leave_out=leave,
        )
    return make_chain_table(
        channel.chain,
        monitor_input(setup.monitor),
        from_c=low,
        to_c=high,
        rows=args.rows,
        at_c=at,
        tested_range_c=channel.supported,
        leave_out=leave,
    )


def _table_text(table: ChainTable, channel: InstalledChannel, setup: Setup) -> str:
    """The rows as CSV, with what they undo above them."""
    from sensorcal.installed.pressuretable import PressureTable
    from sensorcal.installed.pressuretext import pressure_csv
    from sensorcal.installed.tabletext import table_csv
    from sensorcal.views.chainpage import table_sentences

    head = [f"sensor: {channel.tag}, {channel.source}", *table_sentences(table, setup.units)]
    rows = table.table
    body = pressure_csv(rows) if isinstance(rows, PressureTable) else table_csv(rows)
    return "".join(f"# {line.rstrip('.')}\n" for line in head) + body


def _pictures(path: Path, sheet: ChannelSheet, setup: Setup) -> list[str]:
    """Write the two pictures of the budget."""
    from sensorcal.views.budgetview import range_figure, tornado_figure
    from sensorcal.views.plots import fig_to_png

    channel = sheet.channel
    over = range_figure(sheet.over_range, redline=channel.redline, units=setup.units, tested=channel.supported)
    other = path.with_name(f"{path.stem}-range{path.suffix}")
    for name, figure in ((path, tornado_figure(sheet.point, setup.units)), (other, over)):
        figure.set_size_inches(5.6, 2.7)
        try:
            name.parent.mkdir(parents=True, exist_ok=True)
            name.write_bytes(fig_to_png(figure, 200.0))
        except OSError as error:
            raise FileError(
                f"cannot be written ({error.strerror})", do="check the folder and its permissions", file=str(name)
            ) from None
    return [str(path), str(other)]
