"""The command `sensorcal interpolation`: how a monitor reads between and beyond its rows, found with resistors."""

from __future__ import annotations

import argparse
import json
from typing import TYPE_CHECKING

from sensorcal.cli.channel import keyed_of, quantity
from sensorcal.cli.files import setup_and_source
from sensorcal.errors import InputError

if TYPE_CHECKING:
    from sensorcal.installed.interpolation import KeyedTable, Plugged
    from sensorcal.installed.keyedrows import KeyedRows
    from sensorcal.setup import Setup

_EXAMPLE = """\
example:
  sensorcal interpolation tables/P1.csv --pull-up 1000
  sensorcal interpolation tables/P1.csv --pull-up 1000 --plugged 485=62.5 --plugged 15000=blank
"""
_DRAWER_OHM = (10.0, 100e3)
_PLUGGED = "R=SHOWN"


def add_parser(subparsers: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add `interpolation` to the commands."""
    parser = subparsers.add_parser(
        "interpolation",
        help="how the monitor reads between and beyond its rows",
        description=(
            "Plug a resistor into the monitor's input and write down what it shows: between two rows that tells "
            "whether the line is straight in ohms, volts or ln ohms; beyond the ends whether it holds, extends or goes "
            "blank. Without a reading the command says which resistor to plug in first, with one which to plug in next."
        ),
        epilog=_EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.set_defaults(run=run)
    parser.add_argument("keyed", metavar="TABLE.csv", help="the table that stands in the monitor now")
    parser.add_argument(
        "--plugged", metavar=_PLUGGED, action="append", default=[],
        help="a resistor in ohm and what was shown, or 'blank'; repeatable",
    )  # fmt: skip
    parser.add_argument("--setup", metavar="SETUP.toml", help="describes the monitor: pull-up, supply, display step")
    parser.add_argument("--pull-up", metavar="R", help="pull-up resistor, ohm; without it volts cannot be told")
    parser.add_argument("--step", metavar="D", help="display step, in the table's unit (0.1, or that of the setup)")
    parser.add_argument("--tolerance", metavar="PERCENT", type=float, default=1.0, help="± of the resistors (1)")
    parser.add_argument("--at-hand", metavar="R,R", help="resistors at hand for the next one (E24)")
    parser.add_argument("--json", action="store_true", help="odds for machines")


def run(args: argparse.Namespace) -> int:
    """Say what the readings tell, and what to plug in next."""
    from sensorcal.installed.interpolation import find_interpolation, next_resistor
    from sensorcal.physics.eseries import preferred_ohm
    from sensorcal.views.monitorlines import interpolation_lines

    setup = setup_and_source(args.setup)[0] if args.setup else None
    table = _table(args, setup)
    plugged = [_plugged(one, table, args.tolerance / 100.0) for one in args.plugged]
    found = find_interpolation(table, plugged) if plugged else None
    drawer = (
        [quantity("--at-hand", one, "ohm") for one in args.at_hand.split(",") if one.strip()]
        if args.at_hand
        else preferred_ohm("E24", *_DRAWER_OHM).tolist()
    )
    following = next_resistor(table, drawer, found, tolerance_ratio=args.tolerance / 100.0)
    if args.json:
        machine = {
            "format": "sensorcal-interpolation/1",
            "verdict": "" if found is None else found.verdict,
            "fits": None if found is None else found.fits,
            "line": {} if found is None else found.line,
            "past_ends": {} if found is None else found.past_ends,
            "next_ohm": following.resistance_ohm,
            "information_bit": following.information_bit,
        }
        print(json.dumps(machine, indent=2, ensure_ascii=False))
        return 0
    print("\n".join(interpolation_lines(found, following, table)))
    return 0


def _table(args: argparse.Namespace, setup: Setup | None) -> KeyedTable:
    import numpy as np

    from sensorcal.installed.interpolation import KeyedTable
    from sensorcal.units import from_si, interval_from_si

    rows = keyed_of(args.keyed)
    pull = None
    if args.pull_up is not None:
        pull = quantity("--pull-up", args.pull_up, "ohm", "resistance")
    elif setup is not None:
        pull = setup.monitor.pull_up_ohm
    step = 0.1
    if args.step is not None:
        step = float(interval_from_si(quantity("--step", args.step, rows.value_unit, difference=True), rows.value_unit))
    elif setup is not None:
        step = setup.monitor.display_step or setup.monitor.value_step
    return KeyedTable(
        resistance_ohm=np.asarray(_ohms(rows, pull, setup)), value=np.asarray(from_si(rows.value, rows.value_unit)),
        pull_up_ohm=pull, step=step, u_shown=0.5 * step, value_unit=rows.value_unit,
    )  # fmt: skip


def _ohms(rows: KeyedRows, pull: float | None, setup: Setup | None) -> list[float]:
    """Resistances of the rows, whatever signal they hold."""
    from sensorcal.physics.circuit import ratio_resistance
    from sensorcal.units import dimension

    kind = rows.signal_unit if rows.signal_unit == "counts" else dimension(rows.signal_unit)
    if kind == "resistance":
        return [float(ohm) for ohm in rows.signal]
    if kind not in {"voltage", "ratio"}:
        raise InputError(f"the rows hold {kind}, not ohms, volts or a ratio", do="take a thermistor's table")
    if pull is None:
        raise InputError("rows in volts need the pull-up", do="give --pull-up, or pull_up under [monitor]")
    supply = 1.0
    if kind == "voltage":
        supply = 5.0 if setup is None or setup.monitor.supply_v is None else setup.monitor.supply_v
    part = rows.signal / supply
    if setup is not None and setup.monitor.arrangement == "pull-down":
        part = 1.0 - part
    return [float(ohm) for ohm in ratio_resistance(part, pull)]


def _plugged(text: str, table: KeyedTable, tolerance_ratio: float) -> Plugged:
    from sensorcal.installed.interpolation import Plugged
    from sensorcal.units import from_si

    ohm, mark, shown = text.partition("=")
    if not mark:
        raise InputError(f"--plugged: {text!r} is not {_PLUGGED}", do="write it as in 485=62.5 or 9100=blank")
    value = None
    if shown.strip().lower() not in {"blank", "-", "--", "---", "nothing"}:
        value = float(from_si(quantity("--plugged", shown, table.value_unit), table.value_unit))
    resistance = quantity("--plugged", ohm, "ohm", "resistance")
    if resistance <= 0.0:
        raise InputError(f"--plugged: a resistor of {resistance:g} ohm is none", do="give its value")
    return Plugged(resistance_ohm=resistance, shown=value, tolerance_ratio=tolerance_ratio)
