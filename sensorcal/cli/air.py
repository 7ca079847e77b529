"""The command `sensorcal air`: the day sheet of a field, from the report, a barometer, or the setup."""

from __future__ import annotations

import argparse
import json
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from sensorcal.errors import InputError, SensorcalError

if TYPE_CHECKING:
    from sensorcal.bench.station import StationPressure
    from sensorcal.calibration.daysheet import DaySheet
    from sensorcal.calibration.pressurecal import PressureCalibration
    from sensorcal.setup import Field, Setup, UnitsOut

_Result = TypeVar("_Result")

_U_BAROMETER_PA = 57.7  # ± 1 hPa of a phone or board barometer; common practice, no source

_EXAMPLE = """\
example:
  sensorcal air --elevation 640 --qnh 1009 --station-elevation 610
  sensorcal air --elevation 2100ft --qnh 29.80inHg --station-elevation 2001ft --oat 68F
  sensorcal air --elevation 640 --barometer 934.7hPa
  sensorcal air --setup setup.toml --qnh 1013 --html day.html
"""


def add_parser(subparsers: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add `air` to the commands.

    Parameters
    ----------
    subparsers : argparse subparsers
        The collection of commands to join.

    Examples
    --------
    >>> parser = argparse.ArgumentParser()
    >>> add_parser(parser.add_subparsers())
    >>> parser.parse_args(["air", "--elevation", "640", "--qnh", "1009"]).qnh
    '1009'
    """
    parser = subparsers.add_parser(
        "air",
        help="day sheet: air pressure, boiling point, what the pressure sensors show at rest",
        description=(
            "Pressure in the workshop, the boiling point of water there, and what each pressure sensor shows with the "
            "engine stopped, from the weather report of a station nearby. Values may carry their unit: 2100ft, "
            "29.80inHg, 68F. With a setup its field, sensors and units are taken; options go before it."
        ),
        epilog=_EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.set_defaults(run=run)
    given = parser.add_argument_group("what you know")
    given.add_argument("--elevation", metavar="E", help="elevation of the workshop, m")
    given.add_argument("--qnh", metavar="P", help="altimeter setting of the weather report, hPa")
    given.add_argument("--station-elevation", metavar="E", help="elevation of the reporting station, m")
    given.add_argument("--oat", metavar="T", help="outside air temperature at the workshop, °C")
    given.add_argument("--dew-point", metavar="T", help="dew point, °C, for the density altitude (needs --oat)")
    given.add_argument("--distance", metavar="D", help="distance to the reporting station, m (0: same field)")
    given.add_argument("--barometer", metavar="P", help="absolute barometer in the workshop, hPa, instead of --qnh")
    given.add_argument("--barometer-limits", metavar="P", help="its ± limits, hPa (1)")
    given.add_argument("--steam", metavar="T", help="steam temperature you meant to use, °C, to be checked")
    known = parser.add_argument_group("what your files know")
    known.add_argument("--setup", metavar="SETUP.toml", help="field, pressure sensors and units")
    known.add_argument(
        "--record",
        metavar="CAL.json",
        action="append",
        default=[],
        help="record of a pressure sensor: its own output and ± instead of the data sheet's; repeatable",
    )
    how = parser.add_argument_group("how to read it")
    how.add_argument("--feet", action="store_true", help="elevations without a unit are feet; show feet")
    how.add_argument("--inhg", action="store_true", help="pressures without a unit are inHg; show inHg")
    how.add_argument("--fahrenheit", action="store_true", help="temperatures without a unit are °F; show °F")
    how.add_argument(
        "--rounding", choices=("down", "nearest", "none"), default="down", help="how QNH is rounded (down)"
    )
    how.add_argument("--half-step", action="store_true", help="add half a step to a QNH that was rounded down")
    how.add_argument(
        "--keep-anyway", metavar="REASON", default="", help="keep an unusual value; the reason is recorded"
    )
    shown = parser.add_argument_group("what to show")
    shown.add_argument("--arithmetic", action="store_true", help="also the budget, and the formulas of other countries")
    shown.add_argument("--html", metavar="PAGE.html", help="also one page to print, with boxes for what is shown")
    shown.add_argument("--json", action="store_true", help="everything, for machines, in SI units")


def run(args: argparse.Namespace) -> int:
    """Print the day sheet that setup and arguments lead to.

    Parameters
    ----------
    args : argparse.Namespace
        As parsed by the parser of `add_parser`.

    Returns
    -------
    int
        Exit code 0.

    Raises
    ------
    SensorcalError
        If an argument is missing or cannot be used; the message names it, or the place in the setup.
    """
    from sensorcal.cli.files import setup_and_source, write_text
    from sensorcal.setup import Setup
    from sensorcal.views.daysheet import DECIDES, day_lines, day_page_html, machine

    setup = setup_and_source(args.setup)[0] if args.setup else Setup()
    units = _units(args, setup)
    sheet = _sheet(args, setup, units)
    if args.html:
        page = day_page_html(sheet, units, field=setup.field.name, scenario=setup.note)
        write_text(Path(args.html), page)
    if args.json:
        print(json.dumps(machine(sheet), indent=2, ensure_ascii=False, allow_nan=False))
        return 0
    print(
        "\n".join(
            [*_taken(args, setup, units), *day_lines(sheet, units, kept=args.keep_anyway, arithmetic=args.arithmetic)]
        )
    )
    print(DECIDES)
    if args.html:
        print(f"Written, to print: {args.html}")
    return 0


def _units(args: argparse.Namespace, setup: Setup) -> UnitsOut:
    """Units of the setup; the flags go before them."""
    from dataclasses import replace

    units = setup.units
    if args.feet:
        units = replace(units, altitude="ft")
    if args.inhg:
        units = replace(units, pressure="inHg")
    return replace(units, temperature="degF") if args.fahrenheit else units


def _report_unit(units: UnitsOut) -> str:
    """Unit of a bare QNH or barometer: weather reports give hPa, or inHg where the panel shows inHg."""
    return "inHg" if units.pressure == "inHg" else "hPa"


def _sheet(args: argparse.Namespace, setup: Setup, units: UnitsOut) -> DaySheet:
    from sensorcal.calibration.daysheet import day_sheet

    given = _Given(args, setup, units)
    return given.named(
        day_sheet,
        station=_station(args, given),
        temperature_c=given.value("temperature_c"),
        dew_point_c=given.quantity("--dew-point", args.dew_point, units.temperature),
        steam_c=given.quantity("--steam", args.steam, units.temperature),
        transducers=setup.transducers,
        roles={name: probe.role for name, probe in setup.probes.items()},
        calibrations=_records(args.record, setup),
        keep_reason=args.keep_anyway,
    )


def _records(paths: list[str], setup: Setup) -> dict[str, PressureCalibration]:
    """Read the records of pressure sensors; one that the setup does not know would stand on no line."""
    from sensorcal.book.pressurerecord import read_pressure_record

    found = {}
    for path in paths:
        calibration = read_pressure_record(path).calibration
        if calibration.sensor not in setup.transducers:
            raise InputError(
                f"--record {path} is of {calibration.sensor}, which is not among the transducers of the setup",
                do=f"add [transducers.{calibration.sensor}], or give the --setup it belongs to",
            )
        found[calibration.sensor] = calibration
    return found


def _station(args: argparse.Namespace, given: _Given) -> StationPressure:
    from sensorcal.bench.station import measured_station_pressure, reported_station_pressure

    unit = _report_unit(given.units)
    elevation_m = given.value("elevation_m")
    if args.barometer is not None:
        if args.qnh is not None:
            raise InputError("--barometer and --qnh are both given", do="give the one you trust more")
        limits_pa = given.quantity("--barometer-limits", args.barometer_limits, unit, difference=True)
        return given.named(
            measured_station_pressure,
            pressure_pa=given.quantity("--barometer", args.barometer, unit),
            u_pressure_pa=_U_BAROMETER_PA if limits_pa is None else limits_pa / 3.0**0.5,
            elevation_m=elevation_m,
            keep_reason=args.keep_anyway,
        )
    qnh_pa = given.value("qnh_pa")
    if elevation_m is None or qnh_pa is None:
        missing = [name for name, value in (("--elevation", elevation_m), ("--qnh", qnh_pa)) if value is None]
        if args.setup:
            keys = " and ".join(name.removeprefix("--") for name in missing)
            raise InputError(
                f"{' and '.join(missing)} missing: the setup has no {keys} under [field]",
                do="give it here or there, or give --barometer",
            )
        raise InputError(
            "--elevation and --qnh are needed", do="or give --barometer; `sensorcal air --help` has examples"
        )
    from sensorcal.bench.weather import WeatherReport

    distance_m = given.quantity("--distance", args.distance, "m")
    report = given.named(
        WeatherReport,
        step_pa=_report_step_pa(args.qnh, unit) if args.qnh is not None else 100.0,
        rounding=args.rounding,
        half_step=args.half_step,
        distance_m=0.0 if distance_m is None else distance_m,
    )
    if args.elevation is None:
        unit_stated = "field.elevation:unit" in given.setup.stated
    else:
        unit_stated = args.feet or not args.elevation.strip()[-1:].isdigit()
    return given.named(
        reported_station_pressure,
        elevation_m=elevation_m,
        qnh_pa=qnh_pa,
        station_elevation_m=given.value("station_elevation_m"),
        temperature_c=given.value("temperature_c"),
        report=report,
        unit_stated=unit_stated,
        keep_reason=args.keep_anyway,
    )


class _Given:
    """What was typed, and behind it what the setup says; an error names the place it came from."""

    _OPTIONS = {  # noqa: RUF012 - never changed
        "station_elevation_m": ("--station-elevation", "station_elevation"),
        "elevation_m": ("--elevation", "elevation"),
        "qnh_pa": ("--qnh", "qnh"),
        "temperature_c": ("--oat", "air_temperature"),
        "pressure_pa": ("--barometer", ""),
        "distance_m": ("--distance", ""),
        "dew_point_c": ("--dew-point", ""),
    }

    def __init__(self, args: argparse.Namespace, setup: Setup, units: UnitsOut) -> None:
        self.args, self.setup, self.units = args, setup, units
        self.from_setup: set[str] = set()

    def value(self, name: str) -> float | None:
        """Give a value of the field: as typed, else as the setup has it."""
        option, key = self._OPTIONS[name]
        typed = getattr(self.args, option.removeprefix("--").replace("-", "_"))
        if typed is None:
            field: Field = self.setup.field
            stated: float | None = field.air_temperature_c if name == "temperature_c" else getattr(field, name)
            if stated is not None and key:
                self.from_setup.add(name)
            return stated
        units = {"m": self.units.altitude, "a": _report_unit(self.units), "c": self.units.temperature}
        return self.quantity(option, typed, units[name[-1]])

    def quantity(self, option: str, text: str | None, unit: str, *, difference: bool = False) -> float | None:
        """Read one argument; an error names the option as the user typed it."""
        from sensorcal.units import parse_quantity

        if text is None:
            return None
        try:
            return parse_quantity(text, unit, difference=difference)
        except SensorcalError as error:
            raise InputError(f"{option}: {error.what}", do=error.do) from None

    def named(self, function: Callable[..., _Result], **inputs: object) -> _Result:
        """Call a function of the library; its errors speak of arguments, the user typed options or a setup."""
        try:
            return function(**inputs)
        except SensorcalError as error:
            argument, _, rest = error.what.partition(" ")
            if argument not in self._OPTIONS:
                raise
            option, key = self._OPTIONS[argument]
            if argument in self.from_setup:
                name = Path(self.args.setup).name
                raise InputError(f"{key} under [field] {rest}", do=error.do, file=name) from None
            raise InputError(f"{option} {rest.replace('temperature_c', '--oat')}", do=error.do) from None


def _taken(args: argparse.Namespace, setup: Setup, units: UnitsOut) -> list[str]:
    """Say what came from the setup: yesterday's QNH is the likeliest mistake of all."""
    if not args.setup or args.qnh is not None or args.barometer is not None or setup.field.qnh_pa is None:
        return []
    from sensorcal.units import from_si

    unit = _report_unit(units)
    at = f" of {setup.field.name}" if setup.field.name else ""
    return [f"QNH {from_si(setup.field.qnh_pa, unit):.6g} {unit}{at} is the setup's; give today's with --qnh.", ""]


def _report_step_pa(text: str, default_unit: str) -> float:
    """Step of the report, from how it was written: 1009 is whole hPa, 29.80 inHg hundredths of an inch."""
    from sensorcal.units import parse_unit, to_si

    unit = text.strip().lstrip("+-0123456789.,eE").strip() or default_unit
    number = text.strip().removesuffix(unit).strip()
    if parse_unit(unit) == "inHg":
        return float(to_si(0.01, "inHg"))
    tenths = parse_unit(unit) in {"hPa", "mbar"} and any(mark in number for mark in ".,")
    return 10.0 if tenths else 100.0
