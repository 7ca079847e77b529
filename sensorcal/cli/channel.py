"""The installed channel that several commands start from: a record or a sensor of the setup, and the keyed table."""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from typing import TYPE_CHECKING

from sensorcal.errors import FileError, InputError, SensorcalError

if TYPE_CHECKING:
    from sensorcal.calibration.calibration import Calibration
    from sensorcal.calibration.pressurecal import PressureCalibration
    from sensorcal.installed.fromsetup import InstalledChannel
    from sensorcal.installed.keyedrows import KeyedRows
    from sensorcal.setup import Setup


def channel_of(args: argparse.Namespace, setup: Setup) -> tuple[InstalledChannel, str, str]:
    """Build the channel of `args.record` or `args.sensor`; give also its role and the mark of invented data."""
    from sensorcal.installed.fromsetup import installed_channel

    if (args.record is None) == (args.sensor is None):
        raise InputError(
            "a record or a sensor is needed, one of the two",
            do="give CAL.json, or --sensor TAG for the maker's sheet in the setup",
        )
    keyed = keyed_of(args.keyed) if args.keyed else None
    if args.record is None:
        return installed_channel(setup, args.sensor, keyed=keyed), setup.probe(args.sensor).role, setup.note
    calibration, name, confirmed, role, scenario = any_record(args.record)
    channel = installed_channel(
        setup, calibration.sensor, calibration, keyed=keyed, shape_confirmed=confirmed, record=name
    )
    return channel, role, scenario


def any_record(path: str) -> tuple[Calibration | PressureCalibration, str, bool, str, str]:
    """Read a record of either kind."""
    from sensorcal.book.pressurerecord import PRESSURE_SCHEMA, read_pressure_record
    from sensorcal.book.store import read_record

    try:
        schema = json.loads(Path(path).read_text(encoding="utf-8")).get("schema")
    except (OSError, ValueError, AttributeError):
        schema = None  # `read_record` says what is wrong with it
    found = read_pressure_record(path) if schema == PRESSURE_SCHEMA else read_record(path)
    facts = found.facts
    return found.calibration, f"record {facts.identifier}", facts.shape_confirmed, facts.role, facts.scenario


def keyed_of(path: str) -> KeyedRows:
    """Read the table that stands in the monitor."""
    from sensorcal.installed.keyedrows import keyed_rows

    try:
        data = Path(path).read_bytes()
    except OSError as error:
        raise FileError(f"cannot be read ({error.strerror})", do="check the name", file=path) from None
    return keyed_rows(data, Path(path).name)


def quantity(option: str, text: str, unit: str, dimension: str = "", *, difference: bool = False) -> float:
    """Read a quantity of an option in its home unit, a bare number in `unit`; a mistake names the option."""
    from sensorcal.units import parse_quantity

    try:
        return float(parse_quantity(text, unit, dimension, difference=difference))
    except SensorcalError as error:
        raise InputError(f"{option}: {error.what}", do=error.do) from None
