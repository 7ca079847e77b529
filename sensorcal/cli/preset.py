"""The command `sensorcal preset`: which of the monitor's curves suits a probe, and a resistor that brings it nearer."""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from typing import TYPE_CHECKING

from sensorcal.cli.channel import channel_of, quantity
from sensorcal.cli.files import setup_and_source
from sensorcal.errors import InputError, SensorcalError

if TYPE_CHECKING:
    from sensorcal.installed.preset import ReadingCurve

_EXAMPLE = """\
example:
  sensorcal preset --sensor P1 --setup setup.toml --preset "A:0=5230, 25=1800, 100=161" --preset "B:25=1800, 85=260"
  sensorcal preset calibrations/P1.json --setup setup.toml --coefficients "C:1.4e-3,2.4e-4,1.5e-7" --trim
"""
_BAND = "60degC,130degC"


def add_parser(subparsers: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add `preset` to the commands."""
    parser = subparsers.add_parser(
        "preset",
        help="which preset of the monitor suits a probe",
        description=(
            "For a monitor that takes no table: its curves, typed in as pairs of degrees and ohm or as coefficients, "
            "ranked by the worst error with this probe in the band that matters, never by the ohms at 25 °C; then, "
            "where asked, resistors of E96 at the probe that bring it nearer."
        ),
        epilog=_EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.set_defaults(run=run, keyed=None)
    parser.add_argument("record", metavar="CAL.json", nargs="?", help="calibration record written by `sensorcal fit`")
    parser.add_argument("--setup", metavar="SETUP.toml", required=True, help="sensor and limits")
    parser.add_argument("--sensor", metavar="TAG", help="without a record: the maker's sheet of this sensor")
    parser.add_argument(
        "--preset", metavar="NAME:PAIRS", action="append", default=[],
        help='a curve as "NAME:0=5230, 25=1800, …" in the setup\'s degrees and ohm, or NAME:FILE of pairs; repeatable',
    )  # fmt: skip
    parser.add_argument(
        "--coefficients", metavar="NAME:A,B,C", action="append", default=[],
        help="a curve as Steinhart-Hart coefficients for ohm and kelvin; repeatable",
    )  # fmt: skip
    parser.add_argument("--limit", metavar="T", help="the engine maker's limit (that of the setup)")
    parser.add_argument("--band", metavar="T,T", default=_BAND, help="band that matters (60 to 130 °C)")
    trim = parser.add_argument_group("trim resistors")
    trim.add_argument("--trim", action="store_true", help="search resistors that bring the probe to the best preset")
    trim.add_argument("--series-only", action="store_true", help="no parallel resistor: it hides a broken probe")
    trim.add_argument("--tolerance", metavar="PERCENT", type=float, default=1.0, help="± of the resistors (1)")
    parser.add_argument("--json", action="store_true", help="for machines, in degC and ohm")


def run(args: argparse.Namespace) -> int:
    """Rank the presets and say what to do."""
    from dataclasses import asdict

    from sensorcal.installed.harness import limit_of
    from sensorcal.installed.preset import choose_preset
    from sensorcal.installed.trim import find_trim
    from sensorcal.views.monitorlines import preset_lines

    setup, _ = setup_and_source(args.setup)
    channel, _, scenario = channel_of(args, setup)
    if channel.pressure:
        raise InputError(f"{channel.tag} is a pressure sensor", do="give the tag of a thermistor")
    presets = {name: curve for option in args.preset for name, curve in [_pairs(option, setup.units.temperature)]}
    presets |= {name: curve for option in args.coefficients for name, curve in [_coefficients(option)]}
    unit = setup.units.temperature
    limit_c = limit_of(setup, channel) if args.limit is None else quantity("--limit", args.limit, unit, "temperature")
    ends = [quantity("--band", one, unit, "temperature") for one in args.band.split(",") if one.strip()]
    if len(ends) != 2:
        raise InputError(f"--band: {args.band!r} is not two temperatures", do=f"write it as in {_BAND}")
    probe = channel.chain.sensor.curve
    choice = choose_preset(probe, presets, limit_c=limit_c, low_c=ends[0], high_c=ends[1])  # type: ignore[arg-type]  # a thermistor's curve
    trim = None
    if args.trim:
        trim = find_trim(
            probe, presets[choice.ranked[0].name], limit_c=limit_c, low_c=ends[0], high_c=ends[1],  # type: ignore[arg-type]
            tolerance_ratio=args.tolerance / 100.0, parallel_allowed=not args.series_only,
        )  # fmt: skip
    if args.json:
        ranked = [
            {key: value for key, value in asdict(one).items() if not hasattr(value, "tolist")} for one in choice.ranked
        ]
        machine = {
            "format": "sensorcal-preset/1",
            "sensor": channel.tag,
            "ranked": ranked,
            "trim": None if trim is None else asdict(trim),
        }
        print(json.dumps(machine, indent=2, ensure_ascii=False))
        return 0
    print("\n".join([*([scenario, ""] if scenario else []), *preset_lines(choice, trim, setup.units)]))
    return 0


def _named(option: str, text: str) -> tuple[str, str]:
    name, mark, rest = text.partition(":")
    if not mark or not name.strip() or not rest.strip():
        raise InputError(f"{option}: {text[:40]!r} has no name before a colon", do='write "NAME:0=5230, 25=1800"')
    return name.strip(), rest.strip()


def _pairs(text: str, unit: str) -> tuple[str, ReadingCurve]:
    """A preset of pairs, typed in the argument or in a file."""
    from sensorcal.installed.preset import curve_from_pairs
    from sensorcal.sheet import parse_sheet

    name, rest = _named("--preset", text)
    path = Path(rest)
    try:
        if path.suffix and path.exists():
            pairs = parse_sheet(path.read_text(encoding="utf-8-sig"), temperature_unit=unit, file=path.name)
        else:
            each = [part.strip() for part in rest.replace(";", ",").split(",") if part.strip()]
            pairs = parse_sheet(
                "\n".join(part.replace("=", " ") for part in each), temperature_unit=unit, file="--preset"
            )
        return name, curve_from_pairs([t for t, _ in pairs], [ohm for _, ohm in pairs])
    except SensorcalError as error:
        raise InputError(f"--preset {name}: {error.what}", do=error.do) from None


def _coefficients(text: str) -> tuple[str, ReadingCurve]:
    from sensorcal.installed.preset import curve_from_coefficients

    name, rest = _named("--coefficients", text)
    try:
        numbers = [float(part) for part in rest.split(",") if part.strip()]
    except ValueError:
        raise InputError(f"--coefficients {name}: {rest!r} are no numbers", do="write NAME:A,B,C") from None
    if len(numbers) not in {2, 3}:
        raise InputError(f"--coefficients {name}: {len(numbers)} numbers are given", do="write two or three: A,B,C")
    try:
        return name, curve_from_coefficients(*numbers)
    except SensorcalError as error:
        raise InputError(f"--coefficients {name}: {error.what}", do=error.do) from None
