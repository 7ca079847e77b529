"""The command `sensorcal reading`: why does this temperature read wrong, from a few facts, without a log."""

from __future__ import annotations

import argparse

from sensorcal.cli.channel import quantity
from sensorcal.errors import InputError

_EXAMPLE = """\
example:
  sensorcal reading --setup setup.toml --channel coolant --shown 84 --thermometer 90 --within 2
  sensorcal reading --setup setup.toml --shown 84 --thermometer 90 --within 2 --cold 10 --cold-off 0 --load-step 3
"""
_SURE = 0.6


def add_parser(subparsers: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add `reading` to the commands."""
    parser = subparsers.add_parser(
        "reading",
        help="why a temperature reads wrong: causes ranked from a thermometer, a cold soak and a load test",
        description=(
            "The panel shows one thing and a thermometer held beside the probe another. With what a cold soak and a "
            "load test showed, the causes are ranked: lifted ground, connector, curve, pull-up. The thermometer is "
            "held only with the engine stopped and the propeller still."
        ),
        epilog=_EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.set_defaults(run=run)
    parser.add_argument("--setup", metavar="SETUP.toml", help="the probe's sheet, its pull-up, units")
    parser.add_argument("--channel", metavar="NAME", default="coolant",
                        help="coolant, gearbox_oil, charge_in or charge_out (coolant)")  # fmt: skip
    parser.add_argument("--shown", metavar="T", required=True, help="what the panel shows, hot")
    parser.add_argument("--thermometer", metavar="T", required=True, help="what the thermometer shows beside it")
    parser.add_argument("--within", metavar="D", required=True, help="the thermometer's ±, 19 times in 20")
    parser.add_argument("--cold", metavar="T", help="temperature of a cold soak, where there was one")
    parser.add_argument("--cold-off", metavar="D", default="0", help="panel minus the others at the cold soak (0)")
    parser.add_argument("--load-step", metavar="D", help="by how much the reading moved with the loads on")


def run(args: argparse.Namespace) -> int:
    """Print the causes, the likeliest first, each with what to measure next."""
    from sensorcal.cli.files import setup_and_source
    from sensorcal.firststart.words import NEXT, in_units
    from sensorcal.firststart.wrongreading import judge_reading
    from sensorcal.measure.interval import coverage_factor
    from sensorcal.setup import Setup
    from sensorcal.views.daysheet import DECIDES

    setup = setup_and_source(args.setup)[0] if args.setup else Setup()
    unit = setup.units.temperature
    within = quantity("--within", args.within, unit, difference=True)
    if not within > 0:
        raise InputError("--within must be above zero", do="give the ± of the thermometer, such as 2")
    found = judge_reading(
        channel=args.channel, setup=setup,
        shown_c=quantity("--shown", args.shown, unit), true_c=quantity("--thermometer", args.thermometer, unit),
        u_true_c=within / coverage_factor(),
        cold_c=None if args.cold is None else quantity("--cold", args.cold, unit),
        cold_difference_c=quantity("--cold-off", args.cold_off, unit, difference=True),
        load_step_c=None if args.load_step is None
        else quantity("--load-step", args.load_step, unit, difference=True),
    )  # fmt: skip
    lines = [setup.note, ""] if setup.note else []
    lines += [f"{one.probability:6.1%}  {in_units(one.text, setup.units)}" for one in found]
    likely = found[0]
    if likely.kind in NEXT:
        lines += ["", f"Next: {in_units(NEXT[likely.kind], setup.units)}"]
    if likely.probability < _SURE:
        wanted = {"a cold soak (--cold)": args.cold, "a load test (--load-step)": args.load_step}
        missing = " and ".join(words for words, given in wanted.items() if given is None)
        more = missing or "the next measurement"
        lines += ["", f"None of them is likely by itself: more is told by {more}."]
    curve_known = args.setup and any(probe.sheet for probe in setup.probes.values())
    if not curve_known:
        lines += ["", "Assumed: a usual thermistor (2500 ohm at 25 °C, B 3500 K) on 2200 ohm; a setup knows yours."]
    lines += [
        "A high or a low reading is real until it is proved otherwise: these are causes to measure, not to believe.",
        DECIDES,
    ]
    print("\n".join(lines))
    return 0
