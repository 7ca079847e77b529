"""What experiments with a monitor say, in plain words: its interpolation, its presets, a run through the panel."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sensorcal.setup import UnitsOut
from sensorcal.units import from_si, interval_from_si
from sensorcal.views.words import number, unit_symbol

if TYPE_CHECKING:
    from sensorcal.installed.interpolation import InterpolationFinding, KeyedTable, NextResistor
    from sensorcal.installed.preset import PresetChoice
    from sensorcal.installed.throughpanel import PanelRun
    from sensorcal.installed.trim import Trim

_TELLS_BIT = 0.05


def interpolation_lines(
    found: InterpolationFinding | None, following: NextResistor, table: KeyedTable
) -> list[str]:
    """Write the verdict on a monitor's interpolation, with the odds, and what to plug in next.

    Parameters
    ----------
    found : InterpolationFinding or None
        None before the first reading.
    following : NextResistor
    table : KeyedTable

    Returns
    -------
    list of str
    """
    lines = []
    if found is not None:
        lines.append(f"{found.verdict[:1].upper()}{found.verdict[1:]}.")
        between = ", ".join(f"{name} {100 * p:.1f} %" for name, p in found.line.items())
        beyond = ", ".join(f"{name} {100 * p:.1f} %" for name, p in found.past_ends.items())
        lines += [f"Odds between rows: {between}; beyond the ends: {beyond}."]
        if not found.fits:
            return lines
        lines.append("")
    if table.pull_up_ohm is None:
        lines.append("A line in volts was not tried: give --pull-up.")
    if following.information_bit < _TELLS_BIT:
        return [*lines, "No resistor at hand would tell more."]
    lines.append(f"Plug in {following.resistance_ohm:g} ohm next; it would show:")
    told: dict[str, list[tuple[str, str]]] = {}
    for pair, value in following.expected.items():
        shown = "nothing" if value is None else f"{value:.6g} {unit_symbol(table.value_unit)}"
        told.setdefault(shown, []).append(pair)
    inside = table.resistance_ohm[0] <= following.resistance_ohm <= table.resistance_ohm[-1]
    for shown, pairs in told.items():
        straight = " or ".join(dict.fromkeys(line for line, _ in pairs))
        past = " or ".join(dict.fromkeys(past for _, past in pairs))
        lines.append(f"  {shown:<12} if straight in {straight}" + ("" if inside else f", and it {_PAST[past]}"))
    return lines


_PAST = {"holds": "holds the last row", "extends": "extends the line", "blank": "shows nothing beyond the ends"}


def preset_lines(choice: PresetChoice, trim: Trim | None, units: UnitsOut) -> list[str]:
    """Write presets from best to worst with their signed errors, and a trim resistor where one was searched.

    Parameters
    ----------
    choice : PresetChoice
    trim : Trim or None
    units : UnitsOut

    Returns
    -------
    list of str
    """
    unit = units.temperature
    symbol = unit_symbol(unit)

    def apart(size_c: float) -> str:
        return f"{interval_from_si(size_c, unit):+.1f}"

    def at(temperature_c: float) -> str:
        return f"{number(from_si(temperature_c, unit), 0)} {symbol}"

    best = choice.ranked[0]
    width = max(len(one.name) for one in choice.ranked)
    lines = [f"Shown minus true, {symbol}, best first:"]
    lines += [
        f"  {one.name:<{width}}  worst {apart(one.worst_c):>6} at {at(one.worst_at_c)}, "
        f"{apart(one.at_limit_c):>6} at the limit of {at(one.limit_c)}"
        for one in choice.ranked
    ]
    cold = ": it reads cold when hot" if best.at_limit_c < 0.0 else ""
    moved = f"{apart(best.alarm_shift_c)} {symbol}{cold}"
    lines.append(f"Take {best.name}; move an alarm made for true degrees by {moved}.")
    if trim is not None:
        lines += ["", *_trim_lines(trim, best.name, unit)]
    return lines


def _trim_lines(trim: Trim, name: str, unit: str) -> list[str]:
    if trim.where == "none":
        return [f"No resistor of the series brings the probe nearer to {name}."]
    symbol = unit_symbol(unit)

    def apart(size_c: float, sign: str = "+") -> str:
        return f"{interval_from_si(size_c, unit):{sign}.1f}"

    parts = [f"{trim.series_ohm:g} ohm in series"] if trim.series_ohm else []
    parts += [f"{trim.parallel_ohm:g} ohm parallel"] if trim.parallel_ohm else []
    where = f" ({trim.where})" if len(parts) > 1 else ""
    said = (
        f"With {' and '.join(parts)}{where}: worst {apart(trim.worst_c)} {symbol} instead of "
        f"{apart(trim.untrimmed_c, '')}, {apart(trim.at_limit_c)} at the limit; at most "
        f"{apart(trim.worst_with_tolerance_c, '')} with the resistors anywhere within their tolerance."
    )
    lines = [said]
    if trim.parallel_ohm is not None:
        shown = "an unknown number"
        if trim.open_circuit_c is not None:
            shown = f"{number(from_si(trim.open_circuit_c, unit), 0)} {symbol}"
        lines.append(
            f"Caution: a broken probe then shows {shown}, not an open circuit; write that into the logbook, or use a "
            "series resistor alone."
        )
    return lines


def panel_lines(run: PanelRun, units: UnitsOut) -> list[str]:
    """Write a run through the panel: the errors, whether one offset explains them, and what is to be proven.

    Parameters
    ----------
    run : PanelRun
    units : UnitsOut

    Returns
    -------
    list of str
    """
    unit = units.temperature
    symbol = unit_symbol(unit)
    monitor = run.table.monitor
    lines = ["Through the panel, shown minus true:"]
    for true, shown, error, ohm in zip(run.true_c, run.shown, run.error_c, run.resistance_ohm, strict=True):
        lines.append(
            f"  true {number(from_si(float(true), unit), 2):>7} {symbol}  shown {float(shown):.6g} "
            f"{unit_symbol(monitor.value_unit)}  {interval_from_si(float(error), unit):+.2f} {symbol}  "
            f"(by the keyed table {float(ohm):.5g} ohm at the input)"
        )
    notes = (note.replace(f" {monitor.value_unit}", f" {unit_symbol(monitor.value_unit)}") for note in run.notes)
    return [*lines, *(f"{note[:1].upper()}{note[1:].rstrip('.')}." for note in notes)]
