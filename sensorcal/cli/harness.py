"""The command `sensorcal harness`: the wire list, what to buy, the checks and the ranges as a sheet to print."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from sensorcal.cli.channel import any_record, keyed_of, quantity
from sensorcal.cli.files import setup_and_source, write_text
from sensorcal.errors import InputError

if TYPE_CHECKING:
    from sensorcal.installed.keyedrows import KeyedRows

_EXAMPLE = """\
example:
  sensorcal harness --setup setup.toml --out harness.html --csv wires.csv
  sensorcal harness --setup setup.toml --out harness.html --highest 10000ft --coldest -25 --tolerance 0.1
  sensorcal harness --setup setup.toml --out harness.html --record calibrations/P1.json --keyed P1=tables/P1.csv
"""


def add_parser(subparsers: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add `harness` to the commands."""
    parser = subparsers.add_parser(
        "harness",
        help="the wiring as a sheet to print: wires, metres to buy, checks, sensor ranges",
        description=(
            "From the sensors and their wiring in the setup: a label for every wire, metres to buy of each gauge, what "
            "the copper costs in degC and kPa, continuity and substitution checks with the ohms and volts to expect "
            "beside a box, and whether each sensor's range suits what it will see."
        ),
        epilog=_EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.set_defaults(run=run)
    parser.add_argument("--setup", metavar="SETUP.toml", required=True, help="sensors, [channels.TAG], [monitor]")
    parser.add_argument("--out", metavar="SHEET.html", required=True, help="page to print, A4 or Letter")
    parser.add_argument("--csv", metavar="WIRES.csv", help="the wire list for a spreadsheet")
    parser.add_argument(
        "--record", metavar="CAL.json", action="append", default=[],
        help="expect what this sensor does, not its sheet; repeatable",
    )  # fmt: skip
    parser.add_argument(
        "--keyed", metavar="TAG=TABLE.csv", action="append", default=[],
        help="expect what the panel shows by this table; repeatable",
    )  # fmt: skip
    parser.add_argument("--highest", metavar="H", default="3000 m", help="highest pressure altitude (3000 m)")
    parser.add_argument("--coldest", metavar="T", default="-20 degC", help="coldest morning (-20 °C)")
    parser.add_argument(
        "--tolerance", metavar="PERCENT", type=float, default=1.0, help="± of the substitution resistors (1)"
    )


def run(args: argparse.Namespace) -> int:
    """Write the sheet, and say what is in doubt."""
    from sensorcal.installed.harnesssheet import harness_sheet
    from sensorcal.views.harness import harness_html, harness_lines, wires_csv

    setup, _ = setup_and_source(args.setup)
    sheet = harness_sheet(
        setup,
        highest_m=quantity("--highest", args.highest, setup.units.altitude),
        coldest_c=quantity("--coldest", args.coldest, setup.units.temperature),
        tolerance_ratio=args.tolerance / 100.0,
        records={one.sensor: one for one in (any_record(path)[0] for path in args.record)},
        keyed=dict(_keyed(text) for text in args.keyed),
    )
    out = Path(args.out)
    write_text(out, harness_html(sheet, setup.units))
    written = [str(out)]
    if args.csv:
        write_text(Path(args.csv), wires_csv(sheet))
        written.append(args.csv)
    print("\n".join([*harness_lines(sheet, setup.units), f"Written: {', '.join(written)}"]))
    return 0


def _keyed(text: str) -> tuple[str, KeyedRows]:
    tag, mark, path = text.partition("=")
    if not mark or not tag.strip():
        raise InputError(f"--keyed: {text!r} names no sensor", do="write it as in P1=tables/P1.csv")
    return tag.strip(), keyed_of(path.strip())
