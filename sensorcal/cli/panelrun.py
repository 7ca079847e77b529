"""The command `sensorcal panelrun`: probe in ice and steam, read on the panel, to a corrected table."""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from typing import TYPE_CHECKING

from sensorcal.cli.channel import keyed_of, quantity
from sensorcal.cli.files import setup_and_source, write_text
from sensorcal.errors import InputError

if TYPE_CHECKING:
    from sensorcal.setup import Setup

_EXAMPLE = """\
example:
  sensorcal panelrun --setup setup.toml --keyed tables/P1.csv --read ice=1.2 --read steam=96.1 --out P1-corrected.csv
  sensorcal panelrun --setup setup.toml --keyed tables/P1.csv --read ice=0.4 --read 50.2=49.1 --read steam=95.8
"""
_PAIR = "TRUE=SHOWN"


def add_parser(subparsers: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add `panelrun` to the commands."""
    parser = subparsers.add_parser(
        "panelrun",
        help="calibrate through the panel: shown in ice and steam to a corrected table",
        description=(
            "The probe in ice, bath or steam, through its real wires, read on the panel: the shown values and the "
            "table that is keyed now give what stood at the input, a curve of the channel, and a corrected table. "
            "'ice' is 0 °C; 'steam' is the boiling point by elevation and QNH of the setup."
        ),
        epilog=_EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.set_defaults(run=run)
    parser.add_argument("--setup", metavar="SETUP.toml", required=True, help="describes the monitor, and the field")
    parser.add_argument("--keyed", metavar="TABLE.csv", required=True, help="the table that stands in the monitor now")
    parser.add_argument(
        "--read", metavar=_PAIR, action="append", default=[], help="true (or ice, steam) and shown; two or more"
    )
    parser.add_argument("--u", metavar="U", default="0.1 degC", help="standard uncertainty of a true value (0.1 °C)")
    parser.add_argument("--step", metavar="D", help="display step, in the table's unit (that of the setup)")
    parser.add_argument("--sensor", metavar="TAG", default="channel", help="tag for the table's heading")
    parser.add_argument("--from", dest="low", metavar="T", help="cold end of the new table (the coldest reading)")
    parser.add_argument("--to", dest="high", metavar="T", help="hot end (the hottest reading); beyond is extrapolated")
    parser.add_argument("--at", metavar="T", action="append", default=[], help="a row on the curve here; repeatable")
    parser.add_argument("--out", metavar="TABLE.csv", help="write the corrected table")
    parser.add_argument("--json", action="store_true", help="for machines")


def run(args: argparse.Namespace) -> int:
    """Invert what was shown, fit the channel, and make its table."""
    from sensorcal.installed.monitor import monitor_input
    from sensorcal.installed.tabletext import table_csv
    from sensorcal.installed.throughpanel import calibrate_through_panel
    from sensorcal.units import from_si, interval_from_si
    from sensorcal.views.monitorlines import panel_lines

    setup, _ = setup_and_source(args.setup)
    monitor = monitor_input(setup.monitor)
    rows = keyed_of(args.keyed)
    if rows.signal_unit == "counts":
        raise InputError("the keyed rows hold counts", do="take a thermistor's table, in ohm, V or ratio")
    pairs = [_pair(one, setup, monitor.value_unit) for one in args.read]
    unit = setup.units.temperature
    step = setup.monitor.display_step or setup.monitor.value_step
    if args.step is not None:
        step = float(
            interval_from_si(quantity("--step", args.step, monitor.value_unit, difference=True), monitor.value_unit)
        )
    true = [one for one, _ in pairs]
    found = calibrate_through_panel(
        true, [shown for _, shown in pairs], monitor=monitor,
        keyed_signal=from_si(rows.signal, monitor.signal_unit), keyed_value=from_si(rows.value, monitor.value_unit),
        from_c=_end("--from", args.low, unit, min(true, default=0.0)),
        to_c=_end("--to", args.high, unit, max(true, default=100.0)),
        u_true_c=quantity("--u", args.u, unit, "temperature", difference=True), display_step=step,
        at_c=tuple(quantity("--at", one, unit, "temperature") for one in args.at), sensor=args.sensor,
    )  # fmt: skip
    if args.out:
        head = f"# {args.sensor}: corrected through the panel from {len(pairs)} readings\n"
        head += f"# {setup.note}\n" if setup.note else ""
        write_text(Path(args.out), head + table_csv(found.table))
    if args.json:
        machine = {
            "format": "sensorcal-panelrun/1",
            "true_c": found.true_c.tolist(),
            "shown": found.shown.tolist(),
            "error_c": found.error_c.tolist(),
            "resistance_ohm": found.resistance_ohm.tolist(),
            "u_resistance_ohm": found.u_resistance_ohm.tolist(),
            "one_offset": found.one_offset,
            "signal": found.table.signal.tolist(),
            "value": found.table.value.tolist(),
            "notes": list(found.notes),
        }
        print(json.dumps(machine, indent=2, ensure_ascii=False))
        return 0
    lines = panel_lines(found, setup.units)
    if args.out:
        lines.append(f"Written: {args.out}; key it in, and read it back with `sensorcal readback`.")
    print("\n".join(lines))
    return 0


def _end(option: str, text: str | None, unit: str, otherwise: float) -> float:
    return otherwise if text is None else quantity(option, text, unit, "temperature")


def _pair(text: str, setup: Setup, value_unit: str) -> tuple[float, float]:
    """A true temperature in degC, and what was shown in the monitor's unit."""
    from sensorcal.units import from_si

    true, mark, shown = text.partition("=")
    if not mark:
        raise InputError(f"--read: {text!r} is not {_PAIR}", do="write it as in ice=1.2 or 50.2=49.1")
    word = true.strip().lower()
    if word == "ice":
        celsius = 0.0
    elif word == "steam":
        celsius = _steam_c(setup)
    else:
        celsius = quantity("--read", true, setup.units.temperature, "temperature")
    return celsius, float(from_si(quantity("--read", shown, value_unit, "temperature"), value_unit))


def _steam_c(setup: Setup) -> float:
    from sensorcal.bench.station import boiling_point, reported_station_pressure

    field = setup.field
    if field.elevation_m is None or field.qnh_pa is None:
        raise InputError(
            "'steam' needs elevation and qnh under [field]: water boils at 100 °C only at sea level", do="add them"
        )
    station = reported_station_pressure(
        elevation_m=field.elevation_m, qnh_pa=field.qnh_pa, station_elevation_m=field.station_elevation_m,
        temperature_c=field.air_temperature_c,
    )  # fmt: skip
    return boiling_point(station).temperature_c
