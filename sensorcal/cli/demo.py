"""The command `sensorcal demo`: the whole job once, on the invented scenario, in a folder of its own."""

from __future__ import annotations

import argparse
from pathlib import Path

_EXAMPLE = """\
example:
  sensorcal demo my-first-look
"""
_DATE = "2026-05-03"
_PRESSURE_DATE = "2026-05-16"
_DATE_OF_PRESSURE_RECORDS = "2026-05-17"


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
    from sensorcal.firststart.simulate_demo import write_starts

    top = Path(args.directory)
    write_scenario(top)
    write_starts(top)
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
        *_pressure_steps(top),
        *_start_steps(top),
    ]
    for head, command in steps:
        if head:
            print(f"{head}\n")
        print(f"  $ sensorcal {' '.join(command)}\n")
        code = main(command)
        if code:
            raise SensorcalError(f"the demo stopped at `sensorcal {command[0]}`", do="see the line above")
        print()
    print(f"Open {top / 'tables' / 'P1-report.html'} first, then the pages beside it and in {top / 'calibrations'};")
    print(f"of the pressure sensors {top / 'tables' / 'O1-report.html'}, and to take along {top / 'day-sheet.html'};")
    print(f"of the first start {top / 'findings' / 'oil-falling.html'}.")
    return 0


def _pressure_steps(top: Path) -> list[tuple[str, list[str]]]:
    """The pressure evening: three sensors, their tables and two constants, and the day sheet they stand on."""
    folder = top / "pressure"
    setup, records = str(folder / "setup.toml"), top / "calibrations"
    fits = [
        [
            *("fit", str(folder / f"{_PRESSURE_DATE}-{run}.csv"), "--setup", setup, "--all"),
            *("--out", str(records), "--date", _DATE_OF_PRESSURE_RECORDS),
        ]
        for run in ("oil", "fuel", "map")
    ]
    ways = {"O1": ["--at", "150"], "F1": [], "M1": ["--two-constants"]}
    tables = [
        [
            *("table", str(records / f"{name}.json"), "--setup", setup, *how),
            *("--out", str(top / "tables" / f"{name}.csv")),
        ]
        for name, how in ways.items()
    ]
    known = [word for name in ways for word in ("--record", str(records / f"{name}.json"))]
    day = ["air", "--setup", setup, *known, "--html", str(top / "day-sheet.html")]
    heads = {
        0: "5. Another evening: oil, fuel and manifold pressure sensors beside a gauge, rising and falling.",
        len(fits): "6. What to key in for them: rows, or zero and span.",
    }
    steps = [(heads.get(n, ""), command) for n, command in enumerate([*fits, *tables])]
    return [*steps, ("7. The morning after: what do they show before the engine turns?", day)]


def _start_steps(top: Path) -> list[tuple[str, list[str]]]:
    """Two logs of a first start: real trouble, and a hose that is off."""
    folder, out = top / "starts", top / "findings"
    checks = [
        [
            *("check", str(folder / f"{log}.csv"), "--setup", str(folder / "setup.toml")),
            *("--out", str(out / f"{log}.json"), "--html", str(out / f"{log}.html")),
        ]
        for log in ("oil-falling", "map-hose-off")
    ]
    head = "8. After the first start: what does not fit, and what is to be checked next?"
    return [(head if n == 0 else "", command) for n, command in enumerate(checks)]
