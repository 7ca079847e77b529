"""The command `sensorcal groundtest`: millivolts between engine and monitor, in degC and kPa of every channel."""

from __future__ import annotations

import argparse
import json

from sensorcal.cli.channel import quantity
from sensorcal.cli.files import setup_and_source
from sensorcal.errors import InputError

_EXAMPLE = """\
example:
  sensorcal groundtest --setup setup.toml --loads 0.2,3.1
  sensorcal groundtest --setup setup.toml --cranking 180mV,200A --charging 30A
"""


def add_parser(subparsers: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add `groundtest` to the commands."""
    parser = subparsers.add_parser(
        "groundtest",
        help="what a lifted ground does to every reading",
        description=(
            "Two measurements with a voltmeter, red lead on the sensor's side, black on the monitor's ground pin. With "
            "the engine stopped, loads off and on: the sensors' own return path. While cranking with the ignition off: "
            "the engine's strap, which the first cannot see; from it, the lift while charging, of the other sign."
        ),
        epilog=_EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.set_defaults(run=run)
    parser.add_argument("--setup", metavar="SETUP.toml", required=True, help="sensors and how each returns")
    loads = parser.add_argument_group("engine stopped")
    loads.add_argument("--loads", metavar="OFF,ON", help="millivolts with all loads off, and on")
    loads.add_argument("--metal", action="store_true", help="measured on the engine's metal, not on the return wire")
    loads.add_argument("--u-loads", metavar="U", default="0.3 mV", help="standard uncertainty of one voltage (0.3 mV)")
    crank = parser.add_argument_group("cranking, ignition off")
    crank.add_argument("--cranking", metavar="MV,A", help="block to monitor ground, and the starter's current")
    crank.add_argument("--rest", metavar="MV", default="0", help="the same voltage with the starter still (0)")
    crank.add_argument("--charging", metavar="A", default="0", help="current of the alternator in cruise (0)")
    crank.add_argument("--u-cranking", metavar="U,U", default="2 mV,20 A", help="standard uncertainties (2 mV, 20 A)")
    crank.add_argument("--u-charging", metavar="U", default="3 A", help="of the alternator's current (3 A)")
    parser.add_argument("--json", action="store_true", help="for machines, in SI units")


def run(args: argparse.Namespace) -> int:
    """Size one or both tests on the channels of the setup."""
    from sensorcal.installed.groundsetup import ground_channels
    from sensorcal.installed.groundtest import cranking_test, load_test
    from sensorcal.views.groundlines import GROUND_CAUTION, ground_lines, ground_machine

    if args.loads is None and args.cranking is None:
        raise InputError("no voltage is given", do="give --loads OFF,ON or --cranking MV,A, or both")
    setup, _ = setup_and_source(args.setup)
    known = ground_channels(setup)
    found = []
    if args.loads is not None:
        off, on = _two("--loads", args.loads, "mV", "mV")
        u = quantity("--u-loads", args.u_loads, "mV")
        found.append(("Loads on", load_test(off, on, known.channels, u_v=u, own_path=not args.metal)))
    if args.cranking is not None:
        volts, amps = _two("--cranking", args.cranking, "mV", "A")
        u_volts, u_amps = _two("--u-cranking", args.u_cranking, "mV", "A")
        charging = quantity("--charging", args.charging, "A")
        result = cranking_test(
            volts, amps, known.channels, charging_a=charging, rest_v=quantity("--rest", args.rest, "mV"), u_v=u_volts,
            u_cranking_a=u_amps, u_charging_a=quantity("--u-charging", args.u_charging, "A"),
        )  # fmt: skip
        found.append((f"Charging with {charging:g} A", result))
    if args.json:
        print(json.dumps([{"test": head, **ground_machine(one)} for head, one in found], indent=2, ensure_ascii=False))
        return 0
    lines = [setup.note, ""] if setup.note else []
    for head, one in found:
        lines += [*ground_lines(head, one, known, setup.units), ""]
    if args.cranking is not None:
        strap, current = found[-1][1].path_ohm, -quantity("--charging", args.charging, "A")
        keep = f'strap = "{strap:.3g} ohm", current = "{current:g} A"'
        lines += [f'To keep it, for every sensor with returns = "case" under [channels.TAG]: {keep}', ""]
    print("\n".join([*lines, GROUND_CAUTION]))
    return 0


def _two(option: str, text: str, first: str, second: str) -> tuple[float, float]:
    """Two quantities with a comma between them, in their home units."""
    parts = [part for part in text.replace(";", ",").split(",") if part.strip()]
    if len(parts) != 2:
        raise InputError(f"{option}: {text!r} is not two numbers", do=f"write them as in '12 {first},34 {second}'")
    return quantity(option, parts[0], first), quantity(option, parts[1], second)
