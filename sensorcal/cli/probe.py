"""The command `sensorcal probe`: two ohm readings become a curve, and the maker's sheet is checked. No file needed."""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sensorcal.errors import InputError

if TYPE_CHECKING:
    from sensorcal.bench.run import Run
    from sensorcal.calibration.fromrun import BenchResult
    from sensorcal.setup import Setup, UnitsOut

_EXAMPLE = """\
example:
  sensorcal probe --ice 5262 --steam 172.9 --elevation 640 --qnh 1009 --station-elevation 610
  sensorcal probe --ice 5262 --steam 172.9 --elevation 640 --qnh 1009 --sheet "0=5230, 25=1800, 97.7=172.1, 120=98.2" \\
      --redline 120 --write-setup setup.toml
  sensorcal probe --ice 5262 --steam 172.9 --setup setup.toml --unit degF --redline 248
"""
_CAUTION = (
    "Caution: steam scalds worse than water; lid vented, probe in first, in the vapour and not in the water.\n"
    "The engine maker's manual, local rules and licensed practice decide."
)


def add_parser(subparsers: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add `probe` to the commands."""
    parser = subparsers.add_parser(
        "probe",
        help="a probe from two ohm readings (ice, steam), and against its maker's sheet",
        description=(
            "A thermistor's curve from its resistance in melting ice and in steam, with its uncertainty, and whether "
            "it meets the maker's sheet. Everything not given is assumed and named."
        ),
        epilog=_EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.set_defaults(run=run)
    read = parser.add_argument_group("what you read")
    read.add_argument("--ice", metavar="R", help="resistance in melting ice, ohm (or 5.262kohm)")
    read.add_argument("--steam", metavar="R", help="resistance in the vapour of boiling water, ohm")
    read.add_argument("--elevation", metavar="E", help="elevation of the workshop, m")
    read.add_argument("--qnh", metavar="P", help="altimeter setting of the weather report, hPa")
    read.add_argument("--station-elevation", metavar="E", help="elevation of the reporting station, m")
    sheet = parser.add_argument_group("what the maker says")
    sheet.add_argument("--sheet", metavar="TEXT|FILE", help='"0=5230, 25=1800, …" in the --unit and ohm, or a file')
    sheet.add_argument(
        "--sheet-tolerance", metavar="PERCENT", type=float, default=3.0, help="± of the sheet's ohms (3)"
    )
    sheet.add_argument("--redline", metavar="T", help="the engine maker's limit, °C or the --unit")
    how = parser.add_argument_group("what is known, and in which units")
    how.add_argument("--setup", metavar="SETUP.toml", help="field, meter and units; options go before them")
    how.add_argument(
        "--unit", metavar="UNIT", help="degC or degF: of what is printed, the sheet and the redline (that of the setup)"
    )
    parser.add_argument("--write-setup", metavar="SETUP.toml", help="write a setup file with all that was assumed")
    parser.add_argument("--json", action="store_true", help="print the result for machines, in SI units")


def run(args: argparse.Namespace) -> int:
    """Fit the one or two readings, check the sheet, and print both in plain words."""
    from sensorcal.calibration.fromrun import calibrate

    setup, session = _bench(args)
    if args.write_setup:
        _write_setup(setup, args.write_setup)
    if len(session.readings) == 1:
        return _one_point(session, setup, as_json=args.json)
    result = calibrate(session, setup, "P1")
    if args.json:
        print(json.dumps(_machine(result), indent=2, ensure_ascii=False))
    else:
        print("\n".join([*_lines(result, setup), "", _CAUTION]))
        if args.write_setup:
            print(f"Setup written to {args.write_setup}: lines that begin with # are assumed; correct what you know.")
    return 0


def _bench(args: argparse.Namespace) -> tuple[Setup, Run]:
    """The setup and the session that the arguments amount to."""
    from dataclasses import replace

    from sensorcal.bench.run import Reading, Run
    from sensorcal.cli.files import setup_and_source
    from sensorcal.setup import Setup
    from sensorcal.setupfile import setup_from

    known = setup_and_source(args.setup)[0] if args.setup else Setup()
    field, units = known.field, _units(args.unit, known)

    def quantity(option: str, text: str | None, unit: str) -> float | None:
        from sensorcal.errors import SensorcalError
        from sensorcal.units import parse_quantity

        if text is None:
            return None
        try:
            return float(parse_quantity(text, unit))
        except SensorcalError as error:
            raise InputError(f"{option}: {error.what}", do=error.do) from None

    ice, steam = quantity("--ice", args.ice, "ohm"), quantity("--steam", args.steam, "ohm")
    if ice is None and steam is None:
        raise InputError("--ice and --steam are both missing", do="give at least one resistance, in ohm")
    elevation_m = quantity("--elevation", args.elevation, units.altitude)
    elevation_m = field.elevation_m if elevation_m is None else elevation_m
    qnh_pa = quantity("--qnh", args.qnh, "inHg" if units.pressure == "inHg" else "hPa")
    qnh_pa = field.qnh_pa if qnh_pa is None else qnh_pa
    station_m = quantity("--station-elevation", args.station_elevation, units.altitude)
    if steam is not None and (elevation_m is None or qnh_pa is None):
        raise InputError(
            "--steam needs --elevation and --qnh: water boils at 100 °C only at sea level on an ordinary day",
            do="give the workshop's elevation in m and the QNH of the weather report in hPa, or a --setup with both",
        )
    sheet = _sheet(args.sheet, units) if args.sheet else ()
    if (ice is None or steam is None) and not sheet:
        raise InputError("one resistance makes no curve", do="give --ice and --steam, or one of them with --sheet")
    setup = setup_from(
        elevation_m=elevation_m,
        qnh_pa=qnh_pa,
        station_elevation_m=field.station_elevation_m if station_m is None else station_m,
        sheet=sheet,
    )
    probe = replace(
        setup.probe("P1"),
        sheet_tolerance_ratio=args.sheet_tolerance / 100.0,
        redline=quantity("--redline", args.redline, units.temperature),
    )
    setup = replace(
        _with_known(setup, known), probes={"P1": probe}, units=units, stated=setup.stated | _stated(known, units)
    )
    readings = [
        Reading(file_row=i, fixed=name, signals={"P1": value})
        for i, (name, value) in enumerate((("ice", ice), ("steam", steam)), start=1)
        if value is not None
    ]
    return setup, Run(readings=tuple(readings))


def _with_known(setup: Setup, known: Setup) -> Setup:
    """Take over what the setup knows of the bench: its meter and its flask."""
    from dataclasses import replace

    return replace(setup, meter=known.meter, bath=known.bath, note=known.note, keep=known.keep)


def _stated(known: Setup, units: UnitsOut) -> frozenset[str]:
    """Names of what somebody stated, so that it is not called assumed."""
    from dataclasses import fields

    kept = {name for name in known.stated if name.startswith(("meter.", "bath.", "units.", "field."))}
    return frozenset(kept | {f"units.{one.name}" for one in fields(units) if getattr(units, one.name) != one.default})


def _units(unit: str | None, known: Setup) -> UnitsOut:
    """Units of the setup; --unit goes before it."""
    from dataclasses import replace

    from sensorcal.errors import SensorcalError
    from sensorcal.units import dimension, parse_unit

    if unit is None:
        return known.units
    try:
        kind, name = dimension(unit), parse_unit(unit)
    except SensorcalError as error:
        raise InputError(f"--unit: {error.what}", do="write degC or degF") from None
    if kind != "temperature":
        raise InputError(f"--unit {unit} is not a unit of temperature", do="write degC or degF")
    return replace(known.units, temperature=name)


def _sheet(text: str, units: UnitsOut) -> tuple[tuple[float, float], ...]:
    from sensorcal.sheet import parse_sheet

    unit = units.temperature
    path = Path(text)
    if path.suffix and path.exists():
        return parse_sheet(path.read_text(encoding="utf-8-sig"), file=path.name, temperature_unit=unit)
    if "=" not in text:
        raise InputError(f"--sheet {text[:40]!r} is neither a file nor pairs", do='write "0=5230, 25=1800, 97.7=172.1"')
    pairs = [part.strip() for part in text.replace(";", ",").replace("\n", ",").split(",") if part.strip()]
    lines = "\n".join(pair.replace("=", " ") for pair in pairs)
    return parse_sheet(lines, file="--sheet", temperature_unit=unit)


def _write_setup(setup: Setup, path: str) -> None:
    from sensorcal.errors import FileError
    from sensorcal.setupfile import write_setup

    if Path(path).exists():
        raise FileError(
            "a file stands there already", do="choose another name: nothing you wrote is overwritten", file=path
        )
    write_setup(setup, path)


def _one_point(session: Run, setup: Setup, *, as_json: bool) -> int:
    """One reading makes no curve, but it can be held against the sheet."""
    from dataclasses import asdict

    from sensorcal.bench.settle import settled_points
    from sensorcal.calibration.sheet import check_against_sheet, sheet_curve, sheet_sentence
    from sensorcal.views.words import in_degrees

    (point,) = settled_points(session, setup, "P1")
    probe = setup.probe("P1")
    per_ohm = abs(float(sheet_curve(probe.sheet).slope_k_per_ohm(point.signal)))
    u_c = (point.u_value**2 + (per_ohm * point.u_signal) ** 2) ** 0.5
    checks = check_against_sheet(
        [point.value], [point.signal], [u_c], probe.sheet, tolerance_ratio=probe.sheet_tolerance_ratio
    )
    if as_json:
        print(json.dumps({"format": "sensorcal-probe/1", "sheet": [asdict(check) for check in checks]}, indent=2))
    else:
        print(f"The probe {in_degrees(sheet_sentence(checks), setup.units.temperature)}.\n\n{_CAUTION}")
    return 0


def _lines(result: BenchResult, setup: Setup) -> list[str]:
    from sensorcal.calibration.claims import claim_at, shape_confirmed
    from sensorcal.calibration.sheet import sheet_sentence
    from sensorcal.units import from_si, interval_from_si
    from sensorcal.views import words

    cal, units = result.calibration, setup.units
    unit, symbol = units.temperature, words.unit_symbol(units.temperature)
    out: list[str] = []
    redline = setup.probe("P1").redline_c
    confirmed = shape_confirmed(cal, result.sheet, sheet_is_prior=setup.probe("P1").prior == "sheet")
    if redline is not None:
        out += [words.redline(claim_at(cal, redline, shape_confirmed=confirmed), unit, units.resistance), ""]
    if result.sheet:
        out += [f"The probe {words.in_degrees(sheet_sentence(result.sheet), unit)}:"]
        out += [
            f"  {words.temperature(check.temperature_c, unit):>8}: {100 * check.ratio:+.1f} % of the sheet's ohms, "
            f"with the sheet's curve it would show {words.shift(check.error_c, unit)} "
            f"± {interval_from_si(check.expanded_c, unit):.2f}: {check.verdict}"
            for check in result.sheet
        ]
        out += [""]
    if result.blunders:
        found = (words.in_degrees(blunder.sentence, unit) for blunder in result.blunders)
        out += ["A READING LOOKS WRONG:", *(f"  {sentence}" for sentence in found), ""]
    ohm = words.unit_symbol(units.resistance)
    out += ["Curve through the two readings (± holds 19 times in 20):", f"     {symbol}  {ohm:>7}    ± {symbol}"]
    for t in _round_temperatures_c(unit):
        claim = claim_at(cal, t, shape_confirmed=confirmed)
        at = from_si(t, unit)
        if claim.resistance_ohm is None or claim.expanded_c is None:
            out.append(f"  {at:5.0f}   no value: {claim.why_not}")
            continue
        tail = "   extrapolated" if claim.extrapolated else ""
        resistance = words.resistance(claim.resistance_ohm, units.resistance, symbol=False)
        out.append(f"  {at:5.0f}  {resistance:>8}  {interval_from_si(claim.expanded_c, unit):6.2f}{tail}")
    a, b, c = cal.curve.abc
    out += ["", f"Steinhart-Hart: A = {a:.10e}, B = {b:.10e}, C = {c:.10e} (R in ohm, T in K)"]
    if cal.prior is not None:
        out.append(f"Shape from: {cal.prior.prior.source} (two readings alone cannot tell a curve's shape)")
    out += [f"Note: {words.in_degrees(note, unit)}." for note in cal.notes]
    out += ["", "Assumed:", *(f"  - {line}" for line in setup.assumed if _matters(str(line)))]
    return out


def _round_temperatures_c(unit: str) -> tuple[float, ...]:
    """Temperatures of the printed curve, round in the unit that is read."""
    from sensorcal.units import to_si

    if unit != "degF":
        return (0.0, 25.0, 60.0, 90.0, 110.0, 120.0, 130.0)
    return tuple(float(to_si(t, unit)) for t in (32.0, 77.0, 140.0, 190.0, 230.0, 250.0, 270.0))


def _matters(line: str) -> bool:
    """Only what touched these numbers: not the monitor, and no thermometer was used."""
    return not line.startswith(("monitor", "references", "units"))


def _machine(result: BenchResult) -> dict[str, Any]:
    from dataclasses import asdict

    from sensorcal.calibration.claims import claims

    cal = result.calibration
    a, b, c = cal.curve.abc
    return {
        "format": "sensorcal-probe/1",
        "a_per_k": a,
        "b_per_k": b,
        "c_per_k": c,
        "tested_c": list(cal.tested_c),
        "claims": [asdict(claim) for claim in claims(cal, (0.0, 25.0, 60.0, 90.0, 110.0, 120.0, 130.0))],
        "sheet": [asdict(check) for check in result.sheet],
        "notes": list(cal.notes),
    }
