"""The command `sensorcal alarm`: from an engine limit to the number to key in, with the arithmetic."""

from __future__ import annotations

import argparse
import json
from typing import TYPE_CHECKING

from sensorcal.cli.channel import channel_of, quantity
from sensorcal.cli.files import setup_and_source
from sensorcal.errors import InputError, SensorcalError

if TYPE_CHECKING:
    from sensorcal.installed.alarm import Alarm, Side, SustainedRate
    from sensorcal.installed.boilmargin import BoilingMargin
    from sensorcal.installed.panellimit import PanelLimit
    from sensorcal.setup import Setup

_EXAMPLE = """\
example:
  sensorcal alarm --limit 120degC --u 1.6 --rate 0.3 --lag 15
  sensorcal alarm --limit 150kPa --low --u 7 --caution 10
  sensorcal alarm --sensor O1 --setup setup.toml
  sensorcal alarm calibrations/P1.json --setup setup.toml --log logs/climb.csv --lag 15 --normal 105
  sensorcal alarm --limit 120 --u 1.6 --accept 0.01 --cap 90kPa --altitude 0,640,3000
"""
_REPEATABILITY_SHARE = 0.25


def add_parser(subparsers: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add `alarm` to the commands."""
    parser = subparsers.add_parser(
        "alarm",
        help="the number to key in as an alarm, from limit, uncertainty and lag",
        description=(
            "The engine maker's limit less what the reading cannot know: guard band for U by a decision rule, what the "
            "quantity moves while probe and monitor lag, and half a display step. With a setup, limit, U and step are "
            "those of the installed channel, in the unit that its panel shows; oil and fuel pressure are guarded "
            "against too little, everything else against too much, unless you say otherwise."
        ),
        epilog=_EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.set_defaults(run=run, keyed=None)
    parser.add_argument("record", metavar="CAL.json", nargs="?", help="record of the sensor; needs --setup")
    parser.add_argument("--setup", metavar="SETUP.toml", help="wiring, monitor and limits of the channel")
    parser.add_argument("--sensor", metavar="TAG", help="without a record: the maker's sheet of this sensor")
    parser.add_argument("--limit", metavar="V", help="the engine maker's limit, with its unit (that of the setup)")
    side = parser.add_mutually_exclusive_group()
    side.add_argument("--low", action="store_true", help="a limit that must not be undershot, such as oil pressure")
    side.add_argument("--high", action="store_true", help="a limit that must not be exceeded, such as boost")
    parser.add_argument("--u", metavar="U", help="expanded uncertainty of the reading at the limit, 19 times in 20")
    moving = parser.add_argument_group("how fast it moves")
    moving.add_argument("--rate", metavar="R", help="worst change toward the limit, per second")
    moving.add_argument("--log", metavar="LOG.csv", help="take it from a log instead, while the engine runs")
    moving.add_argument("--channel", metavar="NAME", help="channel of the log, such as coolant (by the sensor's role)")
    moving.add_argument("--window", metavar="S", type=float, help="how long it lasts, s (twice the lag, 20 or more)")
    moving.add_argument("--lag", metavar="S", type=float, default=0.0, help="of probe and monitor together, s (0)")
    shown = parser.add_argument_group("display and rule")
    shown.add_argument("--step", metavar="D", help="display step (1, or that of the setup)")
    shown.add_argument("--caution", metavar="D", help="caution so much before the alarm (5)")
    shown.add_argument("--rule", default="ilac-g8", help="guard band: ilac-g8, iso 14253-1, 3 sigma, 6 sigma, simple")
    shown.add_argument("--accept", metavar="P", type=float, help="accepted probability instead of a rule, such as 0.01")
    normal = parser.add_argument_group("normal running")
    normal.add_argument("--normal", metavar="V", help="highest (lowest) value in normal running: nuisance check")
    normal.add_argument("--repeatability", metavar="D", help="standard deviation at rest (a quarter of a step)")
    normal.add_argument("--ripple", metavar="D", help="half of the swing in normal running (0)")
    coolant = parser.add_argument_group("coolant")
    coolant.add_argument("--cap", metavar="P", help="pressure that the cap holds above the air: boiling by altitude")
    coolant.add_argument("--altitude", metavar="H,H", default="", help="pressure altitudes (0 to 3000 m)")
    coolant.add_argument("--mixture", metavar="D", default="0", help="by how much the mixture boils above water (0)")
    parser.add_argument("--json", action="store_true", help="everything, for machines, in the limit's unit")


def run(args: argparse.Namespace) -> int:
    """Work the alarm out and show the arithmetic."""
    from sensorcal.installed.alarm import alarm, nuisance
    from sensorcal.units import from_si, interval_from_si
    from sensorcal.views.alarmlines import alarm_lines, alarm_machine

    setup = setup_and_source(args.setup)[0] if args.setup else None
    found, typed_unit = _limit(args, setup)
    unit = found.unit

    def apart(option: str, text: str | None, otherwise: float) -> float:
        if text is None:
            return otherwise
        return float(interval_from_si(quantity(option, text, typed_unit, difference=True), unit))

    side: Side = "low" if found.low else "high"
    log_rate = _log_rate(args, setup, found, side)
    rate = apart("--rate", args.rate, 0.0)
    if log_rate is not None:
        rate = max(0.0, log_rate.rate_per_s if side == "high" else -log_rate.rate_per_s)
    if rate and not args.lag:
        raise InputError("a rate counts only with a lag", do="give --lag, of probe and monitor together, in seconds")
    step = apart("--step", args.step, 1.0 if found.step is None else found.step)
    caution = apart("--caution", args.caution, 5.0)

    def for_limit(limit: float) -> Alarm:
        return alarm(
            limit, found.expanded, side=side, rate_per_s=rate, lag_s=args.lag, step=step, caution_before=caution,
            rule=args.rule, accepted=args.accept, k=found.k, unit=unit,
        )  # fmt: skip

    result = for_limit(found.limit)
    room = None
    if args.normal is not None:
        room = nuisance(
            result,
            float(from_si(quantity("--normal", args.normal, typed_unit), unit)),
            repeatability=apart("--repeatability", args.repeatability, _REPEATABILITY_SHARE * step),
            ripple=apart("--ripple", args.ripple, 0.0),
        )
    boiling = _boiling(args, setup, found)
    at_boiling = None
    if boiling is not None and found.true_c is not None and float(boiling.margin_c.min()) < 0.0:
        below = interval_from_si(float(boiling.margin_c.min()), unit)
        at_boiling = for_limit(found.limit + below)
    if args.json:
        machine = alarm_machine(result, rate=log_rate, nuisance=room, boiling=boiling, at_boiling=at_boiling)
        print(json.dumps(machine, indent=2))
        return 0
    altitude_unit = _unit("--altitude", args.altitude.split(",")[0], "m" if setup is None else setup.units.altitude)
    lines = alarm_lines(
        result, before=found.said, rate=log_rate, room=room, boiling=boiling, at_boiling=at_boiling,
        altitude_unit=altitude_unit,
    )  # fmt: skip
    print("\n".join(lines))
    return 0


def _value(option: str, text: str, unit: str) -> float:
    """A quantity in the alarm's unit."""
    from sensorcal.units import from_si

    return float(from_si(quantity(option, text, unit), unit))


def _unit(option: str, text: str, otherwise: str) -> str:
    """Unit that stands behind a number, or the other one."""
    from sensorcal.units import parse_unit

    word = text.lstrip("+-0123456789.,eE ").strip()
    try:
        return parse_unit(word) if word else otherwise
    except SensorcalError as error:
        raise InputError(f"{option}: {error.what}", do=error.do) from None


def _limit(args: argparse.Namespace, setup: Setup | None) -> tuple[PanelLimit, str]:
    """The limit as typed, or that of the installed channel; and the unit of numbers typed without one."""
    from sensorcal.installed.panellimit import panel_limit, typed_limit
    from sensorcal.units import dimension, interval_from_si

    low = True if args.low else False if args.high else None
    if setup is None:
        if args.record or args.sensor:
            raise InputError("a record or a sensor needs its setup", do="give --setup SETUP.toml")
        if args.limit is None or args.u is None:
            raise InputError("--limit and --u are needed", do="or a record or sensor with --setup")
        unit = _unit("--limit", args.limit, "degC")
        u = float(interval_from_si(quantity("--u", args.u, unit, difference=True), unit))
        if low is None and dimension(unit) == "pressure":
            raise InputError(f"--limit: {args.limit} may be a low or a high limit", do="add --low or --high")
        return typed_limit(_value("--limit", args.limit, unit), u, unit=unit, low=bool(low)), unit
    channel, role, scenario = channel_of(args, setup)
    kind, unit = ("pressure", setup.units.pressure) if channel.pressure else ("temperature", setup.units.temperature)
    limit_si = None
    if args.limit is not None:
        unit = _unit("--limit", args.limit, unit)
        limit_si = quantity("--limit", args.limit, unit, kind)
    expanded = None if args.u is None else quantity("--u", args.u, unit, difference=True)
    found = panel_limit(setup, channel, role, limit_si=limit_si, low=low, expanded_si=expanded)
    if scenario and not args.json:
        print(f"{scenario}\n")
    return found, unit


def _log_rate(args: argparse.Namespace, setup: Setup | None, found: PanelLimit, side: Side) -> SustainedRate | None:
    if args.log is None:
        return None
    if args.rate is not None:
        raise InputError("--rate and --log both give the rate", do="keep one")
    import numpy as np

    from sensorcal.firststart.channels import DIMENSION
    from sensorcal.firststart.logread import read_log
    from sensorcal.installed.alarm import running_rows, worst_rate
    from sensorcal.units import dimension, from_si

    log = read_log(args.log, setup)
    channel = args.channel or found.channel
    if not channel or not log.has(channel):
        known = ", ".join(name for name in log.values if log.has(name))
        raise InputError(
            f"{args.log} has no channel {channel!r}" if channel else "the log's channel is not named",
            do=f"give --channel, one of {known}",
        )
    kind = DIMENSION[channel]
    if kind != dimension(found.unit):
        raise InputError(f"{channel} is a {kind}, the limit is in {found.unit}", do="take another channel")
    value = log.values[channel]
    there = np.isfinite(value)
    if log.has("rpm"):
        there &= running_rows(log.time_s, log.values["rpm"])
    window = args.window or max(2.0 * args.lag, 20.0)
    return worst_rate(
        log.time_s[there], from_si(value[there], found.unit), window_s=window, side=side, unit=found.unit
    )


def _boiling(args: argparse.Namespace, setup: Setup | None, found: PanelLimit) -> BoilingMargin | None:
    from sensorcal.installed.boilmargin import boiling_margin

    cap = None
    if args.cap is not None:
        cap = quantity("--cap", args.cap, "kPa", "pressure")
    elif setup is not None and found.channel == "coolant":
        cap = setup.engine.cap_pressure_pa
    if cap is None:
        return None
    if found.true_c is None or found.low:
        raise InputError("--cap is for the high limit of a coolant", do="leave it out")
    unit = "m" if setup is None else setup.units.altitude
    asked = args.altitude or "0m,640m,2000m,3000m"
    altitudes = [quantity("--altitude", one, unit, "length") for one in asked.split(",") if one.strip()]
    raise_c = quantity("--mixture", args.mixture, "degC", "temperature", difference=True)
    return boiling_margin(found.true_c, altitudes, cap, mixture_raise_c=raise_c)
