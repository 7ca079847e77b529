"""The command `sensorcal demo`: the whole job once, on the invented scenario, in a folder of its own."""

from __future__ import annotations

import argparse
from pathlib import Path

_EXAMPLE = """\
example:
  sensorcal demo my-first-look
"""
_DATE = "2026-05-03"


def add_parser(subparsers: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add `demo` to the commands."""
    parser = subparsers.add_parser(
        "demo",
        help="the whole job on invented data: readings, curves, records, tables, pages",
        description=(
            "Write an invented evening at the bench into a folder (every file marked as invented), then do the whole "
            "job on it with the other commands, each shown as you would type it."
        ),
        epilog=_EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.set_defaults(run=run)
    parser.add_argument("directory", metavar="DIR", nargs="?", default="sensorcal-demo", help="folder (sensorcal-demo)")


def run(args: argparse.Namespace) -> int:
    """Write the scenario's files and run the commands of the job on them."""
    from sensorcal.bench.demo import BLUNDERS_RUN, WATER_BATH_RUN, write_scenario
    from sensorcal.cli.main import main
    from sensorcal.errors import SensorcalError

    top = Path(args.directory)
    write_scenario(top)
    setup = str(top / "setup.toml")
    print("INVENTED DATA: nothing in this folder was measured.\n")
    air = ["air", "--elevation", "640", "--qnh", "1009", "--station-elevation", "610"]
    fit = ["fit", str(top / WATER_BATH_RUN), "--setup", setup, "--all", "--out", str(top / "calibrations")]
    wrong = ["fit", str(top / BLUNDERS_RUN), "--setup", setup, "--all", "--out", str(top / "calibrations-with-slips")]
    redline = {"P1": ["--at", "120"], "P2": ["--at", "130"], "P3": [], "P4": []}
    tables = [
        [
            *("table", str(top / "calibrations" / f"{name}.json"), "--setup", setup, "--from", "-20", "--to", "150"),
            *(*at, "--out", str(top / "tables" / f"{name}.csv")),
        ]
        for name, at in redline.items()
    ]
    steps = [
        ("1. Where does water boil in the workshop today?", air),
        ("2. The evening's readings become curves.", [*fit, "--date", _DATE]),
        ("3. The same evening in a hurry, with slips of the pen: they are found.", [*wrong, "--date", _DATE]),
        *(("4. The tables to key in." if i == 0 else "", table) for i, table in enumerate(tables)),
    ]
    for head, command in steps:
        if head:
            print(f"{head}\n")
        print(f"  $ sensorcal {' '.join(command)}\n")
        code = main(command)
        if code:
            raise SensorcalError(f"the demo stopped at `sensorcal {command[0]}`", do="see the line above")
        print()
    print(f"Open {top / 'tables' / 'P1-report.html'} first, then the pages beside it and in {top / 'calibrations'}.")
    return 0
