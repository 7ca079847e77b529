"""The command `sensorcal inputtest`: a monitor's input proven with resistors in place of the probe."""

from __future__ import annotations

import argparse
import csv
import io
import json
from pathlib import Path
from typing import TYPE_CHECKING

from sensorcal.cli.channel import channel_of, keyed_of, quantity
from sensorcal.cli.files import setup_and_source, write_text
from sensorcal.errors import FileError, InputError, SensorcalError

if TYPE_CHECKING:
    from sensorcal.installed.conversion import Conversion
    from sensorcal.installed.fromsetup import InstalledChannel
    from sensorcal.installed.inputproof import Substitute
    from sensorcal.setup import Setup

_EXAMPLE = """\
example:
  sensorcal inputtest --sensor P1 --setup setup.toml --plan inputtest.html --csv inputtest.csv
  sensorcal inputtest --sensor P1 --setup setup.toml --readings inputtest.csv
  sensorcal inputtest calibrations/P1.json --setup setup.toml --keyed tables/P1.csv --readings inputtest.csv \\
      --wrong-table tables/P2.csv
"""


def add_parser(subparsers: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add `inputtest` to the commands."""
    parser = subparsers.add_parser(
        "inputtest",
        help="prove the monitor's input with resistors in place of the probe",
        description=(
            "First the plan: which resistors (and voltages) tell a wrong pull-up, a reference error, an offset and a "
            "wrong table apart best, with what a sound input shows, as a page with boxes and a CSV. Then, from the "
            "filled CSV, what is wrong with the input, with its uncertainty and its effect at the limit."
        ),
        epilog=_EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.set_defaults(run=run)
    parser.add_argument("record", metavar="CAL.json", nargs="?", help="calibration record written by `sensorcal fit`")
    parser.add_argument("--setup", metavar="SETUP.toml", required=True, help="sensor, wiring and monitor")
    parser.add_argument("--sensor", metavar="TAG", help="without a record: the maker's sheet of this sensor")
    parser.add_argument("--keyed", metavar="TABLE.csv", help="the table that is meant to stand in the monitor")
    parser.add_argument(
        "--wrong-table", metavar="TABLE.csv", action="append", default=[],
        help="a table that might have been keyed instead; repeatable",
    )  # fmt: skip
    parser.add_argument("--limit", metavar="T", help="where the effect is told (the red line, or 120 °C)")
    parser.add_argument("--tolerance", metavar="PERCENT", type=float, default=1.0, help="± of the resistors (1)")
    planned = parser.add_argument_group("plan")
    planned.add_argument("--plan", metavar="PAGE.html", help="page to print, with a box for each reading")
    planned.add_argument("--csv", metavar="READINGS.csv", help="the same to type the readings into")
    planned.add_argument("--at-hand", metavar="R,R", help="resistors at hand, ohm (E24 from 51 ohm to 10 kohm)")
    planned.add_argument("--voltages", action="store_true", help="voltages from a stiff divider are at hand as well")
    planned.add_argument("--count", metavar="N", type=int, default=5, help="how many to plug in (5)")
    read = parser.add_argument_group("readings")
    read.add_argument("--readings", metavar="READINGS.csv", help="columns resistor, voltage, shown, as in --csv")
    read.add_argument("--json", action="store_true", help="the finding for machines, in SI units")


def run(args: argparse.Namespace) -> int:
    """Plan the test, or judge its readings."""
    from sensorcal.installed.inputproof import plan_input, prove_input
    from sensorcal.views import inputpage

    setup, _ = setup_and_source(args.setup)
    if not 0.0 <= args.tolerance < 20.0:
        raise InputError(f"--tolerance: resistors within {args.tolerance:g} % prove nothing", do="give 1 or less")
    channel, role, scenario = channel_of(args, setup)
    limit_c = _limit(args, setup, channel)
    wrong = {Path(path).stem: _conversion(path, setup, channel) for path in args.wrong_table}
    if args.readings:
        plugged, shown = _readings(args.readings, channel, setup, args.tolerance / 100.0)
        proof = prove_input(channel, plugged, shown, limit_c=limit_c, wrong_tables=wrong)
        if args.json:
            print(json.dumps(inputpage.proof_machine(proof), indent=2, ensure_ascii=False))
        else:
            print("\n".join(inputpage.proof_lines(proof, channel, setup.units)))
        return 0
    at_hand = None
    if args.at_hand:
        at_hand = [quantity("--at-hand", one, "ohm") for one in args.at_hand.split(",") if one.strip()]
    plan = plan_input(
        channel, limit_c=limit_c, at_hand_ohm=at_hand, voltages=args.voltages, count=args.count,
        tolerance_ratio=args.tolerance / 100.0, wrong_tables=wrong,
    )  # fmt: skip
    written = []
    if args.plan:
        page = inputpage.plan_page_html(plan, channel, setup.units, role=role, scenario=scenario)
        write_text(Path(args.plan), page)
        written.append(args.plan)
    if args.csv:
        write_text(Path(args.csv), inputpage.plan_csv(plan, channel, setup.units, scenario))
        written.append(args.csv)
    print("\n".join(inputpage.plan_lines(plan, channel, setup.units)))
    if written:
        print(f"Written: {', '.join(written)}")
    return 0


def _limit(args: argparse.Namespace, setup: Setup, channel: InstalledChannel) -> float:
    from sensorcal.installed.harness import limit_of

    if args.limit is not None:
        return quantity("--limit", args.limit, setup.units.temperature, "temperature")
    return limit_of(setup, channel)


def _conversion(path: str, setup: Setup, channel: InstalledChannel) -> Conversion:
    from sensorcal.installed.keyedrows import temperature_conversion

    conversion = channel.chain.conversion
    pull = conversion.pull_ohm
    if pull is None:
        raise InputError(f"{channel.tag} is a pressure sensor", do="give the tag of a thermistor")
    return temperature_conversion(keyed_of(path), setup.monitor, pull_ohm=pull, supply_v=conversion.supply_v)


def _readings(
    path: str, channel: InstalledChannel, setup: Setup, tolerance_ratio: float
) -> tuple[list[Substitute], list[float]]:
    """Read the filled CSV: blank shown values are left out by name, anything else is refused with its place."""
    from sensorcal.installed.inputproof import substitute
    from sensorcal.units import parse_header, parse_quantity

    try:
        text = Path(path).read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise FileError(f"it cannot be read ({error})", do="check the name", file=path) from None
    lines = [(n, line) for n, line in enumerate(text.splitlines(), start=1) if line.strip() and line[0] != "#"]
    if len(lines) < 2:
        raise FileError("there is no reading in it", do="fill in the CSV of the plan", file=path)
    mark = ";" if lines[0][1].count(";") > lines[0][1].count(",") else ","
    heads = next(csv.reader(io.StringIO(lines[0][1]), delimiter=mark))
    units = {"resistor": "ohm", "voltage": "%", "shown": setup.units.temperature}
    columns: dict[str, int] = {}
    for at, head in enumerate(heads):
        name, unit = parse_header(head.replace("% of supply", "%"))
        key = name.lower()
        if key in units:
            columns[key] = at
            units[key] = unit or units[key]
    if "shown" not in columns or not {"resistor", "voltage"} & set(columns):
        raise FileError("it needs the columns resistor (or voltage) and shown", do="use the plan's CSV", file=path)
    plugged, shown = [], []
    for row, line in lines[1:]:
        cells = next(csv.reader(io.StringIO(line), delimiter=mark))

        def cell(name: str, cells: list[str] = cells) -> str:
            at = columns.get(name)
            return "" if at is None or at >= len(cells) else cells[at].strip()

        column = "shown"
        try:
            if not cell("shown"):
                raise InputError("nothing is written for it", do="write what was shown, or delete the row")
            value = float(parse_quantity(cell("shown"), units["shown"], "temperature"))
            column = "resistor"
            ohm = parse_quantity(cell("resistor"), units["resistor"], "resistance") if cell("resistor") else None
            column = "voltage"
            ratio = parse_quantity(cell("voltage"), units["voltage"], "ratio") if cell("voltage") else None
            plugged.append(substitute(channel, resistance_ohm=ohm, ratio=ratio, tolerance_ratio=tolerance_ratio))
        except SensorcalError as error:
            raise FileError(error.what, do=error.do, file=Path(path).name, row=row, column=column) from None
        shown.append(value)
    return plugged, shown
