"""The sheet for the day of a first start: expected values, figures, the pre-oiling crank, a list to fill in, a card."""

from __future__ import annotations

import csv
import io
from typing import TYPE_CHECKING, Any

from sensorcal.firststart.expected import EVENTS
from sensorcal.setup import UnitsOut
from sensorcal.units import from_si, interval_from_si
from sensorcal.views.daysheet import DECIDES
from sensorcal.views.pressurewords import in_units
from sensorcal.views.words import TIMES, number, unit_symbol

if TYPE_CHECKING:
    from sensorcal.firststart.expected import ChannelExpected, StartSheet
    from sensorcal.firststart.expectedphases import Expected

CAUTIONS = (
    ("Propeller: its arc is deadly whenever anyone turns, cranks or powers anything. Nobody in it or beside it; shout "
    "'clear', wait, look."),
    "Chocks in, tail tied down, brakes held; nose over clean ground, nobody behind.",
    ("A fire guard with an extinguisher stands where the pilot sees both, out of the propeller's plane, and has done "
    "nothing else until the engine stands still."),
    ("Hearing protection and goggles on; loose clothes, cowls and tools away; exhaust and turbo burn for half an hour "
    "after."),
    "One stop signal is agreed aloud before: either may give it, and it is obeyed at once.",
    ("Oil pressure shows within the engine maker's time or the engine is stopped, whatever any software says. A low "
    "pressure or a high temperature is real until a gauge or a thermometer proves otherwise."),
    "Never open a hot cooling system. Fuel work outdoors only, with the pressure relieved and a leak check after.",
    DECIDES,
)
_STAGES = (
    ("Engine stopped, then cranking", ("master on", "pump on", "cranking", "first 30 s")),
    ("Running", ("idle", "warm-up", "run-up")),
    ("Stopped again, master left on", ("stop +10 s", "stop +3 min")),
)
_SHORT = {
    "coolant": "Coolant", "gearbox_oil": "Gearbox oil", "charge_in": "Charge air in", "charge_out": "Charge air out",
    "oil_pressure": "Oil pressure", "fuel_pressure": "Fuel pressure", "map": "Manifold (MAP)",
}  # fmt: skip
_COLUMN = {**_SHORT, "map": "MAP"}
_EXTRA = ("RPM", "Bus [V]")
_DECIMALS = {"Pa": -3, "hPa": 0, "mbar": 0, "kPa": 0, "MPa": 2, "bar": 2, "atm": 2, "psi": 1, "inHg": 1, "mmHg": 0}
_KNOWN_BY = {"record": "by its record", "sheet": "by its maker's sheet", "usual": "usual, nothing stated"}
_BLANK = "______"


def start_sheet_html(sheet: StartSheet, units: UnitsOut | None = None, *, field: str = "") -> str:
    """Write the sheet as a page to print on three sides of A4, black and white.

    Parameters
    ----------
    sheet : StartSheet
    units : UnitsOut, optional
    field : str
        Name of the field.

    Returns
    -------
    str
        Self-contained HTML: no script, nothing fetched.
    """
    from sensorcal.views.report import _environment

    units = units or UnitsOut()
    page = {
        "title": "First start",
        "field": field,
        "scenario": sheet.scenario,
        "big": _big(sheet, units),
        "boiling": _boiling(sheet, units),
        "missing": sheet.missing,
        "stages": [_stage(name, phases, sheet, units) for name, phases in _STAGES],
        "notes": _notes(sheet, units),
        "figures": [_figures(one, units) for one in sheet.channels],
        "figures_note": f"Measurable holds {TIMES}, at the value beside it. Stops are the maker's limits as typed in "
        "the setup; ______ is to be filled in from the engine maker's manual. To act from: common practice, no source; "
        "where measurable is the wider one, only a calibration can tell a fault from the sensor's own error.",
        "oiling": _oiling(sheet, units),
        "events": EVENTS,
        "heads": _event_heads(units),
        "card": _card(sheet, units),
        "oil_rise": f"{sheet.oil_rise_s:g} s",
        "cautions": CAUTIONS,
    }
    return _environment().get_template("startsheet.html").render(p=page)


def start_sheet_lines(sheet: StartSheet, units: UnitsOut | None = None) -> list[str]:
    """Say for a screen what the sheet holds: the day, the values at rest and at idle, and the card.

    Parameters
    ----------
    sheet : StartSheet
    units : UnitsOut, optional

    Returns
    -------
    list of str
    """
    units = units or UnitsOut()
    lines = [*([sheet.scenario] if sheet.scenario else []), *_big(sheet, units), _boiling(sheet, units)]
    phases = ("master on", "pump on", "cranking", "idle", "run-up")
    rows: list[tuple[str, ...]] = [("", *phases)]
    for one in sheet.channels:
        cells = [_cell(one, one.phase(name), units)[0] or "-" for name in phases]
        rows.append((f"{_SHORT[one.channel]}, {_unit(one, units)}", *cells))
    width = [max(len(row[index]) for row in rows) for index in range(len(phases) + 1)]
    lines += ["", *("  ".join(f"{cell:<{width[i]}}" for i, cell in enumerate(row)).rstrip() for row in rows)]
    lines += ["", "Card for the fire guard:"]
    lines += [f"  {line['what']}: {line['number']}" for line in _card(sheet, units)]
    if sheet.missing:
        lines += ["", f"Not in the setup, to be taken from the engine maker's manual: {', '.join(sheet.missing)}."]
    return [*lines, *(f"Note: {note}" for note in _notes(sheet, units))]


def events_csv(units: UnitsOut | None = None) -> str:
    """Write the empty list of events, to be typed from the sheet and read by `sensorcal check`.

    Parameters
    ----------
    units : UnitsOut, optional

    Returns
    -------
    str

    Examples
    --------
    >>> print(events_csv().splitlines()[0][:42])
    event,Coolant [°C],Gearbox oil [°C],Charge
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    heads = _event_heads(units or UnitsOut())
    writer.writerow(["event", *heads])
    for event in EVENTS:
        writer.writerow([event, *([""] * len(heads))])
    return out.getvalue()


# --- the day ------------------------------------------------------------------------------------------------------


def _big(sheet: StartSheet, units: UnitsOut) -> list[str]:
    air = _around(sheet.station.pressure_pa, 1.96 * sheet.station.u_pressure_pa, units.pressure)
    said = [f"Air here {air} {unit_symbol(units.pressure)}: the manifold shows it before the start and after the stop."]
    if sheet.oat_c is None:
        return [*said, "Outside air not stated: the cold probes can only be held to each other."]
    oat = f"{number(from_si(sheet.oat_c, units.temperature), 0)} {unit_symbol(units.temperature)}"
    return [*said, (f"Outside air {oat}: the cold probes show it, all four alike, if the engine stood in the shade "
            "overnight.")]  # fmt: skip


def _boiling(sheet: StartSheet, units: UnitsOut) -> str:
    symbol = unit_symbol(units.temperature)
    boils = number(from_si(sheet.coolant_boils_c, units.temperature), 0)
    under = "without a cap that holds (none is stated)" if not sheet.cap_pa else (
        f"under its cap of {_plain(sheet.cap_pa, units.pressure)} {unit_symbol(units.pressure)}"
    )  # fmt: skip
    said = f"Plain water boils here at {boils} {symbol} {under}"
    if sheet.boiling_margin_c is None:
        return f"{said}; no limit of the coolant is typed."
    size = number(abs(interval_from_si(sheet.boiling_margin_c, units.temperature)), 0)
    where = "above" if sheet.boiling_margin_c >= 0 else "BELOW"
    extra = "" if sheet.boiling_margin_c >= 0 else ": only the mixture can keep it from boiling there"
    return f"{said}, {size} {symbol} {where} the coolant's limit{extra}."


def _notes(sheet: StartSheet, units: UnitsOut) -> list[str]:
    found = [f"{_SHORT[one.channel]}: {note}." for one in sheet.channels for note in one.notes]
    if sheet.still_air_c is not None:
        low, high = (number(interval_from_si(x, units.temperature), 1) for x in sheet.still_air_c)
        found.append(
            f"Charge-air probes stand in still air and may read {low} to {high} {unit_symbol(units.temperature)} above "
            "the other two from their own current: hold each pair to itself."
        )
    found.append("Warm from an earlier run, a heater or the sun: the cold row of the temperatures does not count.")
    told = (in_units(note, units) for note in sheet.notes)
    return [*found, *(f"{note[:1].upper()}{note[1:].rstrip('.')}." for note in told)]


# --- one cell -----------------------------------------------------------------------------------------------------


def _stage(name: str, phases: tuple[str, ...], sheet: StartSheet, units: UnitsOut) -> dict[str, Any]:
    return {
        "name": name,
        "phases": phases,
        "rows": [
            {"name": _SHORT[one.channel], "tag": one.tag, "unit": _unit(one, units),
             "cells": [_cell(one, one.phase(phase), units) for phase in phases]}
            for one in sheet.channels
        ],
    }  # fmt: skip


def _unit(one: ChannelExpected, units: UnitsOut) -> str:
    return unit_symbol(units.temperature if one.channel in _TEMPERATURES else units.pressure)


_TEMPERATURES = ("coolant", "gearbox_oil", "charge_in", "charge_out")


def _cell(channel: ChannelExpected, one: Expected, units: UnitsOut) -> tuple[str, str]:
    """Numbers and note of one cell."""
    unit = units.temperature if channel.channel in _TEMPERATURES else units.pressure
    if one.form == "value":
        return _value(one, unit), one.note
    fine = any(bound is not None and bound % 1.0 for bound in (one.low, one.high))
    decimals = max(1 if channel.channel in _TEMPERATURES and fine else 0, _decimals(unit))

    def size(value: float | None) -> str:
        text = number(float(interval_from_si(value or 0.0, unit)), decimals)
        return text if text.startswith("-") or not float(text) else f"+{text}"

    per = " a minute" if one.form == "rate" else ""
    if one.low is not None and one.high is not None and one.low == -one.high:
        return f"± {size(one.high).lstrip('+')} change", one.note
    if one.form == "rate":
        return f"{size(one.low).lstrip('+')} to {size(one.high).lstrip('+')}{per}", one.note
    return f"{size(one.low)} to {size(one.high)} change", one.note


def _value(one: Expected, unit: str) -> str:
    if one.low is None and one.high is None:
        return ""
    if one.low is None:
        return f"up to {_plain(one.high or 0.0, unit)}"
    if one.high is None:
        return f"above {_plain(one.low, unit)}"
    middle, half = 0.5 * (one.low + one.high), 0.5 * (one.high - one.low)
    if abs(middle) < 0.1 * half or half < 0.06 * abs(middle):
        return _around(middle, half, unit)
    return f"{_plain(one.low, unit)} to {_plain(one.high, unit)}"


def _around(middle: float, half: float, unit: str) -> str:
    """Value ± margin, both with the decimals that the margin deserves."""
    margin = float(interval_from_si(half, unit))
    decimals = 0 if margin >= 3.0 else 1 if margin >= 0.3 else 2
    return f"{number(from_si(middle, unit), decimals)} ± {number(margin, decimals)}"


def _plain(value: float, unit: str) -> str:
    return number(from_si(value, unit), _decimals(unit))


def _decimals(unit: str) -> int:
    return max(_DECIMALS.get(unit, 0), 0)


# --- figures, crank, card -----------------------------------------------------------------------------------------


def _figures(one: ChannelExpected, units: UnitsOut) -> dict[str, str]:
    temperature = one.channel in _TEMPERATURES
    unit = units.temperature if temperature else units.pressure

    def size(value: float) -> str:
        shown = float(interval_from_si(value, unit))
        return number(shown, 0 if shown >= 10.0 else 1 if shown >= 0.3 else 2)

    stops = [f"below {_plain(one.stop_low, unit)}"] if one.stop_low is not None else []
    stops += [f"above {_plain(one.stop_high, unit)}"] if one.stop_high is not None else []
    wanted = {"oil_pressure": "below", "fuel_pressure": "below"}.get(one.channel, "above")
    if not stops and one.channel not in {"charge_in", "charge_out"}:
        stops = [f"{wanted} {_BLANK}"]
    return {
        "name": _SHORT[one.channel], "tag": one.tag, "unit": unit_symbol(unit), "known": _KNOWN_BY[one.known_by],
        "measurable": f"± {size(one.measurable)}", "at": _plain(one.at, unit),
        "rest": size(one.worth_acting_at_rest), "running": size(one.worth_acting),
        "stop_rest": "-" if one.stop_at_rest is None else size(one.stop_at_rest),
        "stop": " or ".join(stops) or "-",
    }  # fmt: skip


def _oiling(sheet: StartSheet, units: UnitsOut) -> dict[str, str]:
    one = sheet.channel("oil_pressure")
    unit = units.pressure
    return {
        "unit": unit_symbol(unit),
        "panel_u": f"{number(float(interval_from_si(one.measurable, unit)), 0 if unit == 'kPa' else 1)}",
    }


def _card(sheet: StartSheet, units: UnitsOut) -> list[dict[str, str]]:
    """Six numbers for the person outside; a limit that nobody typed stands as a blank, never as a guess."""

    def limit(channel: str, side: str) -> str:
        one = sheet.channel(channel)
        value = one.stop_low if side == "low" else one.stop_high
        unit = units.temperature if channel in _TEMPERATURES else units.pressure
        return f"{_BLANK if value is None else _plain(value, unit)} {unit_symbol(unit)}"

    shorter = "" if sheet.oil_rise_stated else ", or the maker's shorter time"
    six = (
        (f"Oil pressure shows within{shorter}", f"{sheet.oil_rise_s:g} s"),
        ("Oil pressure, running, never below", limit("oil_pressure", "low")),
        ("Coolant never above", limit("coolant", "high")),
        ("Gearbox oil never above", limit("gearbox_oil", "high")),
        ("Fuel pressure, running, never below", limit("fuel_pressure", "low")),
        ("Manifold pressure never above", limit("map", "high")),
    )
    return [{"what": what, "number": shown} for what, shown in six]


def _event_heads(units: UnitsOut) -> list[str]:
    temperature, pressure = unit_symbol(units.temperature), unit_symbol(units.pressure)
    heads = [f"{_COLUMN[name]} [{temperature if name in _TEMPERATURES else pressure}]" for name in _COLUMN]
    return [*heads, *_EXTRA]
