"""The day sheet of a field in plain words: as lines for a screen, and as one page to print and take to the aircraft."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from sensorcal.calibration.sensorkind import KIND_WORDS
from sensorcal.setup import UnitsOut
from sensorcal.units import from_si, interval_from_si
from sensorcal.views.pressurewords import in_units
from sensorcal.views.words import TIMES, number, rounded, unit_symbol

if TYPE_CHECKING:
    from sensorcal.calibration.atrest import AtRest
    from sensorcal.calibration.daysheet import DaySheet

K = 2.0
"""Coverage factor of every ± of the air on this sheet: 19 times in 20."""
STEAM_CAUTION = (
    "Steam scalds worse than water. Vent the lid, put the probe in before the water boils, hang it in the vapour and "
    "not in the water, keep the mains lead dry."
)
LINE_CAUTION = (
    "Engine stopped, master on only as long as it takes to read. A fuel or oil line is opened only with its pressure "
    "relieved, with the cautions of its maker's manual and a leak check after. A low oil pressure with the engine "
    "running is real until proved otherwise."
)
DECIDES = "The engine, sensor and monitor makers' manuals, local rules and licensed practice decide."
# Decimals at which a hundredth of a kilopascal still shows.
_DECIMALS = {"Pa": 0, "hPa": 1, "mbar": 1, "kPa": 2, "MPa": 5, "bar": 4, "atm": 4, "psi": 3, "inHg": 2, "mmHg": 1}
_ROUND_SUPPLY_V = 5.0


def day_lines(sheet: DaySheet, units: UnitsOut | None = None, *, kept: str = "", arithmetic: bool = False) -> list[str]:
    """Write the day sheet as lines for a screen.

    Parameters
    ----------
    sheet : DaySheet
    units : UnitsOut, optional
        Units of temperature, pressure and altitude.
    kept : str, optional
        Reason for which a questioned value stands.
    arithmetic : bool, optional
        True adds the budget and the formulas of other countries.

    Returns
    -------
    list of str
    """
    units = units or UnitsOut()
    lines = [f"Question: {in_units(question.text, units)}." for question in sheet.questions]
    lines += [f"Kept anyway: {kept}"] if lines and kept else []
    lines += [""] if lines else []
    other = "inHg" if units.pressure != "inHg" else "kPa"
    also = f"{_air(sheet, other)} {unit_symbol(other)}"
    symbol = unit_symbol(units.pressure)
    lines += [
        f"Water boils at         {_boiling(sheet, units)}  ({TIMES}; the vapour, not the water)",
        (
            f"Pressure in the shop   {_air(sheet, units.pressure)} {symbol} ± {_u_air(sheet, units.pressure)}  "
            f"({TIMES}; {also})"
        ),
        f"Pressure altitude      {_altitude(sheet.pressure_altitude_m, sheet.u_pressure_altitude_m, units)}  ({TIMES})",
    ]
    if sheet.density_altitude_m is not None:
        lines.append(f"Density altitude       {_density(sheet, units)}")
    lines += ["", *_rest_lines(sheet, units)]
    if sheet.station.assumptions:
        lines += ["", "Assumed:", *(f"  - {in_units(told, units)}" for told in sheet.station.assumptions)]
    if sheet.station.notes:
        lines += ["", *(f"Note: {in_units(told, units)}." for told in sheet.station.notes)]
    if sheet.mistakes:
        lines += ["", "What the usual mistakes would do to the boiling point here:"]
        lines += [f"  {_apart(mistake.size_c, units):>9}  {mistake.text}" for mistake in sheet.mistakes]
    if arithmetic:
        lines += ["", *_arithmetic(sheet)]
    return [*lines, "", f"Caution: {STEAM_CAUTION[:1].lower()}{STEAM_CAUTION[1:]}"]


def day_page_html(sheet: DaySheet, units: UnitsOut | None = None, *, field: str = "", scenario: str = "") -> str:
    """Write the day sheet as a page to print, with a box for what each sensor shows.

    Parameters
    ----------
    sheet : DaySheet
    units : UnitsOut, optional
    field : str, optional
        Name of the field.
    scenario : str, optional
        Marks invented data.

    Returns
    -------
    str
        Self-contained HTML: no script, nothing fetched; the same inputs give the same text.
    """
    from sensorcal.views.report import _environment

    units = units or UnitsOut()
    station = sheet.station
    symbol = unit_symbol(units.pressure)
    facts = [
        ("elevation of the place", None if station.elevation_m is None else _metres(station.elevation_m, units)),
        ("QNH of the report", None if station.qnh_pa is None else _qnh(station.qnh_pa, units)),
        (
            "elevation of the reporting station",
            None if station.station_elevation_m is None else _metres(station.station_elevation_m, units),
        ),
        ("outside air", _degrees(sheet.temperature_c, units)),
        ("pressure altitude", _altitude(sheet.pressure_altitude_m, sheet.u_pressure_altitude_m, units)),
        ("density altitude", None if sheet.density_altitude_m is None else _density(sheet, units)),
    ]
    page = {
        "title": f"Day sheet{f', {field}' if field else ''}",
        "subtitle": scenario,
        "big": (
            f"Air here {_air(sheet, units.pressure)} {symbol} ± {_u_air(sheet, units.pressure)}; water boils at "
            f"{_boiling(sheet, units)}"
        ),
        "facts": [(name, value) for name, value in facts if value is not None],
        "questions": [in_units(question.text, units).rstrip(".") for question in sheet.questions],
        "pressure_head": symbol,
        "rest": [_rest(one, units) for one in sheet.at_rest],
        "supply": f"{_ROUND_SUPPLY_V:g} V",
        "how": _how(sheet, units),
        "assumed": [in_units(told, units) for told in station.assumptions],
        "coverage": f"Every ± on this page holds {TIMES}.",
        "notes": [f"{told[:1].upper()}{in_units(told[1:], units).rstrip('.')}." for told in station.notes],
        "mistakes": [(_apart(mistake.size_c, units), mistake.text) for mistake in sheet.mistakes],
        "cautions": (DECIDES, LINE_CAUTION, STEAM_CAUTION),
    }
    return _environment().get_template("daysheet.html").render(p=page)


def _rest_lines(sheet: DaySheet, units: UnitsOut) -> list[str]:
    symbol = unit_symbol(units.pressure)
    cells = [_rest(one, units) for one in sheet.at_rest]
    heads = {
        "name": "sensor",
        "kind": "kind",
        "shows": f"{symbol} ± ",
        "volts": f"output at {_ROUND_SUPPLY_V:g} V",
        "acting": "look for the cause from",
    }
    width = {key: max(len(head), *(len(cell[key]) for cell in cells)) for key, head in heads.items()}
    lines = [f"Engine off and every line at the air's pressure, the sensors should show ({TIMES}):"]
    lines += ["  " + "  ".join(f"{row[key]:<{width[key]}}" for key in heads).rstrip() for row in (heads, *cells)]
    return [*lines, *(f"  {line}" for line in _how(sheet, units))]


def _rest(one: AtRest, units: UnitsOut) -> dict[str, str]:
    unit = units.pressure
    value, margin = rounded(from_si(one.expected_pa, unit), interval_from_si(one.tolerance_pa, unit), 2)
    acting = [
        f"± {_figure(size, unit)} {unit_symbol(unit)}{told}"
        for size, told in ((one.worth_acting_pa, ""), (one.stop_pa, " stop"))
        if size is not None
    ]
    return {
        "name": f"{one.name} {one.role}".strip() if one.role != one.name else one.name,
        "kind": KIND_WORDS[one.kind],
        "shows": f"{value} ± {margin}",
        "volts": f"{number(_ROUND_SUPPLY_V * one.ratio, 3)} V",
        "acting": ", ".join(acting) or "-",
    }


def _how(sheet: DaySheet, units: UnitsOut) -> list[str]:
    """What stands behind the ± of the sensors."""
    known = [one.name for one in sheet.at_rest if one.calibrated]
    others = [one for one in sheet.at_rest if not one.calibrated]
    said = []
    if known:
        said.append(f"± holds air and sensor together; {', '.join(known)} by record, body cold.")
    if others:
        said.append(
            f"± holds air and sensor together; {'the others' if known else 'each'} by data sheet, zero within 0.5 % of "
            "span (common practice, no source): a record narrows it."
        )
    if any(one.kind == "sealed" for one in sheet.at_rest):
        said.append("A sealed gauge shows the air's pressure minus the 101.3 kPa sealed in it: not zero, and no fault.")
    wide = [one for one in sheet.at_rest if one.worth_acting_pa is not None and one.worth_acting_pa < one.tolerance_pa]
    if any(not one.calibrated for one in wide):
        said.append("Where ± is the wider one, only a calibration can tell a fault from the sensor's own zero.")
    by_record = ", ".join(one.name for one in wide if one.calibrated)
    if by_record:
        said.append(
            f"{by_record}: ± is wider than what is worth acting on; the gauge beside it was too coarse to tell a fault "
            "from its own error."
        )
    return [in_units(line, units) for line in said]


def _arithmetic(sheet: DaySheet) -> list[str]:
    station, steam = sheet.station, sheet.steam
    lines = ["Standard uncertainties:            input        to pressure, Pa   to boiling point, °C"]
    by_identifier = {line.identifier: line for line in station.budget}
    for line in steam.budget:
        to_pressure = by_identifier[line.identifier].u if line.identifier in by_identifier else None
        shown_pa = "-" if to_pressure is None else f"{to_pressure:.1f}"
        lines.append(f"  {line.name:<32} {line.u_input:>7.2f} {line.unit:<5} {shown_pa:>12} {line.u:>20.4f}")
    lines.append(f"  {'together':<46} {station.u_pressure_pa:>12.1f} {steam.u_temperature_c:>20.4f}")
    lines.append(f"  ± is {K:g} times these. Slope {steam.slope_c_per_pa * 100:.4f} °C/hPa.")
    if sheet.variants_pa:
        lines.append("Station pressure by other national formulas, minus the ICAO relation used here:")
        lines += [f"  {name:<12} {difference_pa / 100:+.3f} hPa" for name, difference_pa in sheet.variants_pa]
    return lines


def _air(sheet: DaySheet, unit: str) -> str:
    return number(from_si(sheet.station.pressure_pa, unit), _DECIMALS.get(unit, 2))


def _u_air(sheet: DaySheet, unit: str) -> str:
    return number(interval_from_si(K * sheet.station.u_pressure_pa, unit), _DECIMALS.get(unit, 2))


def _boiling(sheet: DaySheet, units: UnitsOut) -> str:
    value = number(from_si(sheet.steam.temperature_c, units.temperature), 2)
    margin = number(interval_from_si(K * sheet.steam.u_temperature_c, units.temperature), 2)
    return f"{value} {unit_symbol(units.temperature)} ± {margin}"


def _metres(length_m: float, units: UnitsOut) -> str:
    return f"{number(from_si(length_m, units.altitude), 0)} {units.altitude}"


def _altitude(value_m: float, u_m: float | None, units: UnitsOut) -> str:
    margin = number(interval_from_si(K * (u_m or 0.0), units.altitude), 0)
    return f"{number(from_si(value_m, units.altitude), 0)} {units.altitude} ± {margin}"


def _density(sheet: DaySheet, units: UnitsOut) -> str:
    """Density altitude with its ±, and what the ± does not hold: the humidity that nobody typed."""
    given = f"air within ± {number(interval_from_si(1.0, units.temperature), 1)} {unit_symbol(units.temperature)}"
    said = f"{_altitude(sheet.density_altitude_m or 0.0, sheet.u_density_altitude_m, units)}  ({given}"
    if sheet.saturated_more_m is None:
        return f"{said}, dew point too)"
    return f"{said}, dry; up to {_metres(sheet.saturated_more_m, units)} higher if damp)"


def _qnh(qnh_pa: float, units: UnitsOut) -> str:
    if units.pressure == "inHg":
        return f"{number(from_si(qnh_pa, 'inHg'), 2)} inHg"
    return f"{from_si(qnh_pa, 'hPa'):.6g} hPa"


def _degrees(temperature_c: float | None, units: UnitsOut) -> str | None:
    if temperature_c is None:
        return None
    return f"{number(from_si(temperature_c, units.temperature), 1)} {unit_symbol(units.temperature)}"


def _apart(size_c: float, units: UnitsOut) -> str:
    return f"{interval_from_si(size_c, units.temperature):+.2f} {unit_symbol(units.temperature)}"


def _figure(size_pa: float, unit: str) -> str:
    return f"{interval_from_si(size_pa, unit):.2g}" if unit != "Pa" else f"{size_pa:.0f}"


def machine(sheet: DaySheet) -> dict[str, Any]:
    """Give everything the sheet holds in SI units, ready for JSON."""
    from dataclasses import asdict

    station, steam = sheet.station, sheet.steam
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
        "pressure_altitude_m": sheet.pressure_altitude_m,
        "density_altitude_m": sheet.density_altitude_m,
        "u_pressure_altitude_m": sheet.u_pressure_altitude_m,
        "u_density_altitude_m": sheet.u_density_altitude_m,
        "saturated_more_m": sheet.saturated_more_m,
        "at_rest": [asdict(one) | {"tolerance_pa": one.tolerance_pa} for one in sheet.at_rest],
        "assumptions": list(station.assumptions),
        "questions": [asdict(question) for question in sheet.questions],
        "notes": list(station.notes),
        "usual_mistakes": [
            {"code": mistake.code, "text": mistake.text, "size_c": mistake.size_c} for mistake in sheet.mistakes
        ],
        "other_formulas_minus_icao_pa": dict(sheet.variants_pa),
        "budget_pressure": [asdict(line) | {"u_pa": line.u} for line in station.budget],
        "budget_boiling_point": [asdict(line) | {"u_c": line.u} for line in steam.budget],
    }
