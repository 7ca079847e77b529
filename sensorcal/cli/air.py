"""The command `sensorcal air`: pressure in the workshop, boiling point, and what they rest on."""

from __future__ import annotations

import argparse
import json
from collections.abc import Callable
from typing import TYPE_CHECKING, Any, TypeVar

from sensorcal.errors import InputError, SensorcalError

if TYPE_CHECKING:
    from sensorcal.bench.station import BoilingPoint, StationPressure

_Result = TypeVar("_Result")

K = 2.0  # coverage factor of every ± printed here: 19 times in 20
_U_BAROMETER_PA = 57.7  # ± 1 hPa of a phone or board barometer; common practice, no source

_EXAMPLE = """\
example:
  sensorcal air --elevation 640 --qnh 1009 --station-elevation 610
  sensorcal air --elevation 2100ft --qnh 29.80inHg --station-elevation 2001ft --oat 68F
  sensorcal air --elevation 640 --barometer 934.7hPa
"""
_CAUTION = (
    "Caution: steam scalds worse than water. Vent the lid, put the probe in before the water boils, hang it in the\n"
    "vapour and not in the water, keep the mains lead dry."
)


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
        help="pressure in the workshop and boiling point of water today",
        description=(
            "Pressure in the workshop and the boiling point of water there, from the weather report of a station "
            "nearby. Values may carry their unit: 2100ft, 29.80inHg, 68F."
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
    shown.add_argument("--json", action="store_true", help="everything, for machines, in SI units")


def run(args: argparse.Namespace) -> int:
    """Print the pressure and the boiling point that the arguments lead to.

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
        If an argument is missing or cannot be used; the message names it.
    """
    from sensorcal.bench.station import boiling_point

    station = _station(args)
    steam = boiling_point(station)
    day = _day(args, station, steam)
    if args.json:
        print(json.dumps(day, indent=2, ensure_ascii=False, allow_nan=False))
    else:
        print(_page(args, station, steam, day))
    return 0


def _quantity(option: str, text: str | None, unit: str, *, difference: bool = False) -> float | None:
    """Read one argument; an error names the option as the user typed it."""
    from sensorcal.units import parse_quantity

    if text is None:
        return None
    try:
        return parse_quantity(text, unit, difference=difference)
    except SensorcalError as error:
        raise InputError(f"{option}: {error.what}", do=error.do) from None


def _defaults(args: argparse.Namespace) -> tuple[str, str, str]:
    return "ft" if args.feet else "m", "inHg" if args.inhg else "hPa", "degF" if args.fahrenheit else "degC"


def _station(args: argparse.Namespace) -> StationPressure:
    from sensorcal.bench.station import measured_station_pressure, reported_station_pressure

    length, pressure, temperature = _defaults(args)
    elevation_m = _quantity("--elevation", args.elevation, length)
    if args.barometer is not None:
        if args.qnh is not None:
            raise InputError("--barometer and --qnh are both given", do="give the one you trust more")
        barometer_pa = _quantity("--barometer", args.barometer, pressure)
        limits_pa = _quantity("--barometer-limits", args.barometer_limits, pressure, difference=True)
        assert barometer_pa is not None
        u_pa = _U_BAROMETER_PA if limits_pa is None else limits_pa / 3.0**0.5
        return _named(
            measured_station_pressure,
            pressure_pa=barometer_pa,
            u_pressure_pa=u_pa,
            elevation_m=elevation_m,
            keep_reason=args.keep_anyway,
        )
    if elevation_m is None or args.qnh is None:
        raise InputError(
            "--elevation and --qnh are needed", do="or give --barometer; `sensorcal air --help` has examples"
        )
    from sensorcal.bench.weather import WeatherReport

    distance_m = _quantity("--distance", args.distance, "m")
    report = _named(
        WeatherReport,
        step_pa=_report_step_pa(args.qnh, pressure),
        rounding=args.rounding,
        half_step=args.half_step,
        distance_m=0.0 if distance_m is None else distance_m,
    )
    return _named(
        reported_station_pressure,
        elevation_m=elevation_m,
        qnh_pa=_quantity("--qnh", args.qnh, pressure),
        station_elevation_m=_quantity("--station-elevation", args.station_elevation, length),
        temperature_c=_quantity("--oat", args.oat, temperature),
        report=report,
        unit_stated=args.feet or not args.elevation.strip()[-1:].isdigit(),
        keep_reason=args.keep_anyway,
    )


_OPTIONS = {
    "station_elevation_m": "--station-elevation",
    "elevation_m": "--elevation",
    "qnh_pa": "--qnh",
    "temperature_c": "--oat",
    "pressure_pa": "--barometer",
    "distance_m": "--distance",
}


def _named(function: Callable[..., _Result], **inputs: object) -> _Result:
    """Call a function of the library; its errors speak of arguments, the user typed options."""
    try:
        return function(**inputs)
    except SensorcalError as error:
        argument, _, rest = error.what.partition(" ")
        if argument not in _OPTIONS:
            raise
        raise InputError(f"{_OPTIONS[argument]} {rest}", do=error.do) from None


def _report_step_pa(text: str, default_unit: str) -> float:
    """Step of the report, from how it was written: 1009 is whole hPa, 29.80 inHg hundredths of an inch."""
    from sensorcal.units import parse_unit, to_si

    unit = text.strip().lstrip("+-0123456789.,eE").strip() or default_unit
    number = text.strip().removesuffix(unit).strip()
    if parse_unit(unit) == "inHg":
        return float(to_si(0.01, "inHg"))
    tenths = parse_unit(unit) in {"hPa", "mbar"} and any(mark in number for mark in ".,")
    return 10.0 if tenths else 100.0


def _day(args: argparse.Namespace, station: StationPressure, steam: BoilingPoint) -> dict[str, Any]:
    """Everything the command knows, in SI units, ready for JSON."""
    from dataclasses import asdict

    from sensorcal.bench.plausible import questions_about_steam, usual_mistakes
    from sensorcal.physics.air import density_altitude_m, vapour_pressure_pa
    from sensorcal.physics.altimeter import variant_spread_pa
    from sensorcal.physics.atmosphere import pressure_altitude_m

    temperature = _defaults(args)[2]
    oat_c = _quantity("--oat", args.oat, temperature)
    dew_c = _quantity("--dew-point", args.dew_point, temperature)
    steam_c = _quantity("--steam", args.steam, temperature)
    if dew_c is not None and (oat_c is None or dew_c > oat_c):
        raise InputError("--dew-point needs an --oat that is not below it", do="give both from the weather report")
    asked = list(station.questions)
    if steam_c is not None:
        asked += questions_about_steam(
            steam_c,
            steam.temperature_c,
            u_boiling_c=steam.u_temperature_c,
            qnh_pa=station.qnh_pa,
            keep_reason=args.keep_anyway,
        )
    density_m = None
    if oat_c is not None:
        vapour_pa = 0.0 if dew_c is None else float(vapour_pressure_pa(dew_c))
        density_m = float(density_altitude_m(station.pressure_pa, oat_c, vapour_pa))
    mistakes: list[dict[str, Any]] = []
    variants: dict[str, float] = {}
    if station.qnh_pa is not None and station.elevation_m is not None and station.station_elevation_m is not None:
        mistakes = [
            {"code": mistake.code, "text": mistake.text, "size_c": mistake.size_c}
            for mistake in usual_mistakes(
                elevation_m=station.elevation_m,
                qnh_pa=station.qnh_pa,
                station_elevation_m=station.station_elevation_m,
                temperature_c=oat_c,
            )
        ]
        spread = variant_spread_pa(station.qnh_pa, station.station_elevation_m)
        variants = {name: float(difference_pa) for name, difference_pa in spread.items()}
    return {
        "format": "sensorcal-air/1",
        "source": station.source,
        "elevation_m": station.elevation_m,
        "qnh_pa": station.qnh_pa,
        "station_elevation_m": station.station_elevation_m,
        "temperature_c": station.temperature_c,
        "station_pressure_pa": station.pressure_pa,
        "u_station_pressure_pa": station.u_pressure_pa,
        "boiling_point_c": steam.temperature_c,
        "u_boiling_point_c": steam.u_temperature_c,
        "boiling_slope_c_per_pa": steam.slope_c_per_pa,
        "expanded": {
            "k": K,
            "probability": 0.95,
            "U_station_pressure_pa": K * station.u_pressure_pa,
            "U_boiling_point_c": K * steam.u_temperature_c,
        },
        "pressure_altitude_m": float(pressure_altitude_m(station.pressure_pa)),
        "density_altitude_m": density_m,
        "assumptions": list(station.assumptions),
        "questions": [asdict(question) for question in asked],
        "notes": list(station.notes),
        "usual_mistakes": mistakes,
        "other_formulas_minus_icao_pa": variants,
        "budget_pressure": [asdict(line) | {"u_pa": line.u} for line in station.budget],
        "budget_boiling_point": [asdict(line) | {"u_c": line.u} for line in steam.budget],
    }


def _page(args: argparse.Namespace, station: StationPressure, steam: BoilingPoint, day: dict[str, Any]) -> str:
    """Write the same in plain words, in the user's units."""
    from sensorcal.units import from_si, interval_from_si

    length, pressure, temperature = _defaults(args)
    pressure = "kPa" if pressure == "hPa" else pressure
    degree = "°F" if temperature == "degF" else "°C"
    other = "kPa" if pressure == "inHg" else "inHg"

    def in_pressure(value_pa: float, unit: str = pressure) -> str:
        return f"{from_si(value_pa, unit):.2f}"

    def apart(size_c: float, digits: int = 2) -> str:
        return f"{interval_from_si(size_c, temperature):+.{digits}f} {degree}"

    u_pa = interval_from_si(K * station.u_pressure_pa, pressure)
    u_c = interval_from_si(K * steam.u_temperature_c, temperature)
    boils = from_si(steam.temperature_c, temperature)
    lines = [f"Question: {question['text']}." for question in day["questions"]]
    lines += [f"Kept anyway: {args.keep_anyway}"] if lines and args.keep_anyway else []
    lines += [""] if lines else []
    also = f"{in_pressure(station.pressure_pa, other)} {other}"
    shown_pa = f"{in_pressure(station.pressure_pa)} {pressure} ± {u_pa:.2f}"
    lines += [
        f"Water boils at         {boils:.2f} {degree} ± {u_c:.2f}  (19 times in 20; the vapour, not the water)",
        f"Pressure in the shop   {shown_pa}  (19 times in 20; {also})",
        "                       a manifold pressure sensor of a stopped engine should show this",
        f"Pressure altitude      {from_si(day['pressure_altitude_m'], length):.0f} {length}",
    ]
    if day["density_altitude_m"] is not None:
        damp = "humid air" if args.dew_point is not None else "dry air"
        lines.append(f"Density altitude       {from_si(day['density_altitude_m'], length):.0f} {length} ({damp})")
    if station.assumptions:
        lines += ["", "Assumed:", *(f"  - {told}" for told in station.assumptions)]
    if station.notes:
        lines += ["", *(f"Note: {told}." for told in station.notes)]
    if day["usual_mistakes"]:
        lines += ["", "What the usual mistakes would do to the boiling point here:"]
        lines += [f"  {apart(mistake['size_c']):>9}  {mistake['text']}" for mistake in day["usual_mistakes"]]
    if args.arithmetic:
        lines += ["", *_arithmetic(station, steam, day)]
    return "\n".join([*lines, "", _CAUTION])


def _arithmetic(station: StationPressure, steam: BoilingPoint, day: dict[str, Any]) -> list[str]:
    lines = ["Standard uncertainties:            input        to pressure, Pa   to boiling point, °C"]
    by_identifier = {line.identifier: line for line in station.budget}
    for line in steam.budget:
        to_pressure = by_identifier[line.identifier].u if line.identifier in by_identifier else None
        shown_pa = "-" if to_pressure is None else f"{to_pressure:.1f}"
        lines.append(f"  {line.name:<32} {line.u_input:>7.2f} {line.unit:<5} {shown_pa:>12} {line.u:>20.4f}")
    lines.append(f"  {'together':<46} {station.u_pressure_pa:>12.1f} {steam.u_temperature_c:>20.4f}")
    lines.append(f"  ± is {K:g} times these. Slope {steam.slope_c_per_pa * 100:.4f} °C/hPa.")
    if day["other_formulas_minus_icao_pa"]:
        lines.append("Station pressure by other national formulas, minus the ICAO relation used here:")
        for name, difference_pa in day["other_formulas_minus_icao_pa"].items():
            lines.append(f"  {name:<12} {difference_pa / 100:+.3f} hPa")
    return lines
