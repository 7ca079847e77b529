"""The command `sensorcal startsheet`: what the panel should show at the day's start, as a sheet to print."""

from __future__ import annotations

import argparse
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from sensorcal.errors import InputError, SensorcalError

if TYPE_CHECKING:
    from sensorcal.firststart.expected import StartSheet
    from sensorcal.setup import Setup

_EXAMPLE = """\
example:
  sensorcal startsheet --setup setup.toml --qnh 1013 --oat 8 --html start.html --events events.csv
  sensorcal startsheet --setup setup.toml --record calibrations/P1.json --record calibrations/O1.json --html start.html
  sensorcal startsheet --elevation 2100ft --qnh 29.80inHg --oat 46F
  sensorcal startsheet --setup setup.toml --oat 12 --shown coolant=11.8 --shown gearbox_oil=12.1 --shown map=93.9
  sensorcal startsheet --setup setup.toml --oiling 210 205 14 12
"""


def add_parser(subparsers: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add `startsheet` to the commands."""
    parser = subparsers.add_parser(
        "startsheet",
        help="the day of a first start: what every channel should show, and a card for the fire guard",
        description=(
            "From the field, the day's air, the sensors with their records and the engine in the setup: the expected "
            "value of every channel in every phase, three figures for each, the pre-oiling crank, a list to fill in "
            "that `sensorcal check` reads, and one large card with six numbers and the stop rule."
        ),
        epilog=_EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.set_defaults(run=run)
    parser.add_argument("--setup", metavar="SETUP.toml", help="field, sensors, limits, engine, units")
    parser.add_argument("--elevation", metavar="E", help="elevation of the field, m")
    parser.add_argument("--qnh", metavar="P", help="today's altimeter setting, hPa")
    parser.add_argument("--station-elevation", metavar="E", help="elevation of the reporting station, m")
    parser.add_argument("--oat", metavar="T", help="outside air, °C")
    parser.add_argument(
        "--record", metavar="CAL.json", action="append", default=[],
        help="a sensor's record: its own U instead of its sheet's; repeatable",
    )  # fmt: skip
    parser.add_argument(
        "--shown", metavar="CHANNEL=VALUE", action="append", default=[],
        help="what the panel shows at rest, to be judged: coolant=11.8; repeatable",
    )  # fmt: skip
    parser.add_argument(
        "--oiling", metavar=("GAUGE", "PANEL", "U", "SECONDS"), nargs=4,
        help="the pre-oiling crank judged: gauge and panel, ± of both together, time to the rise ('none')",
    )  # fmt: skip
    parser.add_argument("--html", metavar="SHEET.html", help="three pages to print, A4 or Letter")
    parser.add_argument("--events", metavar="EVENTS.csv", help="the empty list of events, to be typed in")


def run(args: argparse.Namespace) -> int:
    """Print the short form, and write what was asked for."""
    from sensorcal.cli.channel import any_record
    from sensorcal.cli.files import setup_and_source, write_text
    from sensorcal.firststart.expected import start_sheet
    from sensorcal.setup import Setup
    from sensorcal.views.daysheet import DECIDES
    from sensorcal.views.startsheet import events_csv, start_sheet_html, start_sheet_lines

    setup = setup_and_source(args.setup)[0] if args.setup else Setup()
    taken = _taken(args, setup)
    setup = _today(args, setup)
    records = {one.sensor: one for one in (any_record(path)[0] for path in args.record)}
    try:
        sheet = start_sheet(setup, records=records)
    except SensorcalError as error:
        raise InputError(_by_option(error.what), do=error.do) from None
    if args.shown or args.oiling:
        judged = [*_shown(args, setup, sheet), *_oiling(args, setup, sheet)]
        print("\n".join([*taken, *([setup.note] if setup.note else []), *judged, DECIDES]))
    else:
        print("\n".join([*taken, *start_sheet_lines(sheet, setup.units), DECIDES]))
    written = []
    if args.html:
        write_text(Path(args.html), start_sheet_html(sheet, setup.units, field=setup.field.name))
        written.append(args.html)
    if args.events:
        if Path(args.events).exists():
            raise InputError(f"--events: {args.events} exists already", do="it may hold readings: choose a new name")
        write_text(Path(args.events), events_csv(setup.units))
        written.append(args.events)
    if written:
        print(f"Written: {', '.join(written)}")
    return 0


def _shown(args: argparse.Namespace, setup: Setup, sheet: StartSheet) -> list[str]:
    """Judge what the panel shows with the engine stopped: temperatures together, pressures by the air."""
    from sensorcal.cli.channel import quantity
    from sensorcal.engine import JUDGED, PRESSURES, TEMPERATURES
    from sensorcal.firststart.byhand import judge_cold_soak, judge_pressures_at_rest
    from sensorcal.firststart.channels import WORDS
    from sensorcal.firststart.words import quantity_text
    from sensorcal.views.pressurewords import in_units as pressures_in_units

    units = setup.units
    values: dict[str, float] = {}
    for text in args.shown:
        name, mark, value = text.partition("=")
        channel = name.strip().lower().replace(" ", "_").replace("-", "_")
        if not mark or channel not in JUDGED:
            raise InputError(f"--shown: {text!r} names no channel", do=f"write one of {', '.join(JUDGED)}, =, a number")
        values[channel] = quantity("--shown", value, units.temperature if channel in TEMPERATURES else units.pressure)
    lines = []
    hot = {name: value for name, value in values.items() if name in TEMPERATURES}
    if hot:
        if sheet.oat_c is None:
            raise InputError("--shown: the cold probes need the air they stood in", do="give --oat")
        found = judge_cold_soak(hot, sheet.oat_c, setup)
        lines.append(f"Cold soak: {found.text}")
    for one in judge_pressures_at_rest({n: v for n, v in values.items() if n in PRESSURES}, sheet):
        shown, expected = (quantity_text(one.channel, x, units) for x in (one.shown_pa, one.expected_pa))
        said = pressures_in_units(one.judgement.text, units)
        lines.append(f"{WORDS[one.channel].capitalize()} at rest: {shown}, expected {expected}: {said}.")
    return lines


def _oiling(args: argparse.Namespace, setup: Setup, sheet: StartSheet) -> list[str]:
    """Judge the pre-oiling crank."""
    if not args.oiling:
        return []
    from sensorcal.cli.channel import quantity
    from sensorcal.firststart.byhand import judge_pre_oiling

    gauge, panel, expanded, seconds = args.oiling
    unit = setup.units.pressure
    none = {"none", "no", "-"}
    found = judge_pre_oiling(
        gauge_pa=quantity("--oiling", gauge, unit),
        panel_pa=None if panel.lower() in none else quantity("--oiling", panel, unit),
        expanded_pa=quantity("--oiling", expanded, unit, difference=True),
        rise_s=None if seconds.lower() in none else quantity("--oiling", seconds, "s"),
        allowed_s=sheet.oil_rise_s, units=setup.units,
    )  # fmt: skip
    allowed = f"allowed: {sheet.oil_rise_s:g} s by the setup; the starter rests as its maker says"
    return [f"Pre-oiling crank: {found.verdict.upper()}. {found.text} ({allowed})."]


def _today(args: argparse.Namespace, setup: Setup) -> Setup:
    """Take the day's values from the options, the others from the setup."""
    from sensorcal.cli.channel import quantity

    units = setup.units
    report = "inHg" if units.pressure == "inHg" else "hPa"
    place = setup.field

    def given(option: str, text: str | None, known: float | None, unit: str) -> float | None:
        return known if text is None else quantity(option, text, unit)

    today = replace(
        place,
        elevation_m=given("--elevation", args.elevation, place.elevation_m, units.altitude),
        qnh_pa=given("--qnh", args.qnh, place.qnh_pa, report),
        station_elevation_m=given(
            "--station-elevation", args.station_elevation, place.station_elevation_m, units.altitude
        ),
        air_temperature_c=given("--oat", args.oat, place.air_temperature_c, units.temperature),
    )
    return replace(setup, field=today)


def _taken(args: argparse.Namespace, setup: Setup) -> list[str]:
    """Say which of the day's values are the setup's: yesterday's QNH is the likeliest mistake of all."""
    old = [
        name for name, given, known in (
            ("QNH", args.qnh, setup.field.qnh_pa), ("outside air", args.oat, setup.field.air_temperature_c)
        ) if given is None and known is not None
    ]  # fmt: skip
    return [f"{' and '.join(old)} as in the setup; give today's with --qnh and --oat.", ""] if old else []


def _by_option(what: str) -> str:
    """A library's error speaks of arguments; the user typed options or a setup."""
    for argument, option in (("station_elevation_m", "--station-elevation"), ("elevation_m", "--elevation"),
                             ("qnh_pa", "--qnh"), ("temperature_c", "--oat")):  # fmt: skip
        if what.startswith(argument):
            return option + what.removeprefix(argument)
    return what
