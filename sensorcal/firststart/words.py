"""What each cause is called, what to look at next, and how a size is written in the user's units.

Plain words for the person beside the engine: none of them says that anything is safe, and where a limit was crossed
none of them says that it was the sensor.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from sensorcal.engine import PRESSURES, TEMPERATURES
from sensorcal.firststart.channels import DIMENSION, WORDS
from sensorcal.setup import UnitsOut
from sensorcal.units import from_si, interval_from_si

TITLES = {
    "open_circuit": "open circuit (a wire, a plug or the sensor itself)",
    "short_circuit": "short circuit (a wire, a plug or the sensor itself)",
    "wrong_curve": "the monitor holds another curve than that of the probe",
    "wrong_pullup": "the pull-up resistor is another than the monitor reckons with",
    "contact_resistance": "extra resistance in the circuit, such as a poor contact",
    "ref_sag": "the supply of the sensors lies below what the monitor reckons with",
    "ground_offset": "the sensor ground is lifted by a current",
    "wrong_unit": "a unit is mixed up",
    "wrong_reference_type": "a sensor of another reference (gauge, absolute or sealed)",
    "swapped_charge": "the two plugs are exchanged",
    "swapped_oil_fuel": "the two plugs are exchanged",
    "channel_slip": "the plugs sit on each other's channels",
    "map_hose_off": "the hose is off, or open to the air",
    "map_hose_leak": "the hose leaks",
    "map_hose_pinched": "the hose is pinched or blocked in part",
    "map_pulsation": "pressure pulses of the engine reach the sensor",
    "stuck": "the reading stands still while the engine moves",
    "slow_probe": "the probe follows late",
    "intermittent": "a connection that comes and goes",
    "noise": "electrical noise",
    "clipped": "the top is cut off: sensor, input or display at its end",
    "dropouts": "readings are missing or repeated",
    "low_oil_pressure_real": "low",
    "overheat_real": "too hot",
    "coolant_airlock_real": "low and erratic, as with vapour or air at the probe",
    "low_fuel_pressure_real": "low",
}
"""Each kind of cause as it reads behind 'coolant: '."""

SHORT = {
    "open_circuit": "open circuit", "short_circuit": "short circuit", "wrong_curve": "wrong curve",
    "wrong_pullup": "wrong pull-up", "contact_resistance": "contact resistance", "ref_sag": "supply below reference",
    "ground_offset": "ground lifted", "wrong_unit": "wrong unit", "wrong_reference_type": "gauge / absolute / sealed",
    "swapped_charge": "plugs exchanged", "swapped_oil_fuel": "plugs exchanged", "channel_slip": "plugs slipped",
    "map_hose_off": "hose off", "map_hose_leak": "hose leaks", "map_hose_pinched": "hose pinched",
    "map_pulsation": "pulsation", "stuck": "stuck", "slow_probe": "slow probe", "intermittent": "loose connection",
    "noise": "noise", "clipped": "clipped", "dropouts": "dropouts", "low_oil_pressure_real": "really low",
    "overheat_real": "really too hot", "coolant_airlock_real": "vapour or air at the probe",
    "low_fuel_pressure_real": "really low",
}  # fmt: skip
"""Each kind in a word or two, for a picture."""

NEXT = {
    "open_circuit": "Engine off: unplug the sensor and measure it with an ohmmeter, then the two wires to the monitor "
    "one by one, wiggling each plug.",
    "short_circuit": "Engine off: unplug the sensor; if the reading stays at the top, the wire or the input is "
    "shorted, if it goes to the other end, the sensor is.",
    "wrong_curve": "Engine cold: unplug the probe and measure its resistance; put a fixed resistor of that value in "
    "its place and compare what is shown with the bench curve.",
    "wrong_pullup": "Put a fixed resistor in place of the probe: what is shown must be the temperature of that "
    "resistor on the keyed curve. If not, the input differs from what is believed.",
    "contact_resistance": "Short the wires at the probe's plug and measure the loop at the monitor's plug: below 2 ohm "
    "for a few metres of wire.",
    "ref_sag": "Measure the supply at a sensor's plug between its supply and its ground pin, pump off and on, and "
    "compare it with what the monitor reckons with.",
    "ground_offset": "Measure millivolts between the engine block and the monitor's ground pin, first with every load "
    "off and on, then while cranking with the ignition off.",
    "wrong_unit": "Compare one reading with a thermometer or a gauge, and look at the unit chosen in the monitor and "
    "in the log's export.",
    "wrong_reference_type": "Open the line to the air and read: a vented gauge shows nothing, an absolute sensor the "
    "pressure of the air; then read the label of the sensor.",
    "swapped_charge": "Engine off: warm one of the two probes with a hand and see which channel moves.",
    "swapped_oil_fuel": "Engine off: switch the fuel pump on and see which of the two channels moves.",
    "channel_slip": "Engine off: warm each probe with a hand, press each sensor with a syringe, and write down which "
    "channel moves.",
    "map_hose_off": "Look at the hose at both ends; draw a vacuum on it by hand: it must hold.",
    "map_hose_leak": "Draw about 50 kPa of vacuum by hand on the sensor's hose: it should lose less than 1 kPa in a "
    "minute.",
    "map_hose_pinched": "Follow the hose for kinks, water and dirt in the restrictor; blow through it with the sensor "
    "taken off.",
    "map_pulsation": "Fit a restrictor or a small volume in the hose; look for a hose that is short and wide.",
    "stuck": "Unplug the sensor: if the reading does not change, the input, the display or the log stands still.",
    "slow_probe": "Look how deep the probe sits in the flow, and for an air gap around its tip; warm it by hand and "
    "time how fast it follows.",
    "intermittent": "Engine off, power on: wiggle plug by plug and wire by wire while somebody watches the reading.",
    "noise": "Engine off, power on, look whether it stays; then switch pump, strobe, alternator field and ignition one "
    "by one, and look for a wire beside the ignition leads.",
    "clipped": "Compare the number at which it stands with the ends of the sensor's range and of the monitor's input.",
    "dropouts": "Look at the logger's own connection, its card and its supply; a logger that restarts at the crank "
    "needs another supply.",
    "low_oil_pressure_real": "A mechanical gauge teed in beside the sensor, cranking with the ignition off and plugs "
    "out before any start; then level, prime, relief valve, leaks.",
    "overheat_real": "Cold engine: coolant level, leaks, bleeding, flow through the cooler, thermostat in hot water; a "
    "contact thermometer beside the probe.",
    "coolant_airlock_real": "Cold engine: coolant level, then bleed at the highest point and fill up again; look "
    "where the tip of the probe sits.",
    "low_fuel_pressure_real": "Engine off, outdoors, fire guard ready: filter, pump supply voltage under load, vent, "
    "leaks; a mechanical gauge teed in by somebody who is allowed to.",
}
"""Where nothing better is computed: the usual next look. Common practice, no source."""
WHEN = {
    "rest": "at rest before the start", "before": "just before cranking", "crank": "while cranking",
    "after_start": "just after the start", "s60": "1 min after the start", "s120": "2 min after the start",
    "s180": "3 min after the start", "s300": "5 min after the start", "s600": "10 min after the start",
    "end_run": "at the end of the run", "after_stop": "just after the stop", "soak60": "1 min after the stop",
    "soak150": "2.5 min after the stop", "soak280": "5 min after the stop", "again": "at rest after the stop",
    "idle_cold": "at the first idle", "idle_warm": "at the warm idle", "boost": "at high power",
    "near_boost": "before high power", "run_high": "while running", "run_low": "while running",
    "crank_low": "while cranking", "unloaded": "while running", "loaded": "while running",
}  # fmt: skip
"""When a window of the summary lies, in words."""

_SYMBOL = {"degC": "°C", "degF": "°F"}
_DECIMALS = {"Pa": 0, "hPa": 0, "mbar": 0, "mmHg": 0, "kPa": 1, "MPa": 4, "bar": 3, "atm": 3, "psi": 1, "inHg": 2,
             "inH2O": 0}  # fmt: skip
_COARSE = {"oil_pressure", "fuel_pressure"}


def where_words(channels: Sequence[str]) -> str:
    """Say which channels, in plain words.

    Examples
    --------
    >>> where_words(("coolant", "gearbox_oil")), where_words(("oil_pressure", "fuel_pressure", "map"))
    ('coolant and gearbox oil', 'all three pressures')
    >>> where_words(())
    'the whole log'
    """
    if not channels:
        return "the whole log"
    found = set(channels)
    if found >= {*TEMPERATURES, *PRESSURES}:
        return "all sensors"
    groups = [
        words for words, group in (("all four temperatures", TEMPERATURES), ("all three pressures", PRESSURES))
        if found >= set(group)
    ]  # fmt: skip
    rest = [name for name in channels if not any(name in g for g in (TEMPERATURES, PRESSURES) if found >= set(g))]
    names = [*groups, *(WORDS[name] for name in rest)]
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def unit_of(channel: str, units: UnitsOut) -> str:
    """Unit in which a channel is written, as the user chose it."""
    kind = DIMENSION.get(channel, "")
    return {"temperature": units.temperature, "pressure": units.pressure, "voltage": "V"}.get(kind, "1/min")


def symbol_of(channel: str, units: UnitsOut) -> str:
    """Sign of that unit."""
    unit = unit_of(channel, units)
    return _SYMBOL.get(unit, unit)


def shown_number(channel: str, value: float, units: UnitsOut, *, difference: bool = False) -> float:
    """Convert a channel's value, or a difference of two, from its home unit to the user's."""
    unit = unit_of(channel, units)
    if unit == "1/min":
        return float(value)
    return float(interval_from_si(value, unit) if difference else from_si(value, unit))


def number_text(channel: str, value: float, units: UnitsOut, *, difference: bool = False) -> str:
    """Write a channel's value, or a signed difference, without its unit and with the decimals that matter.

    Examples
    --------
    >>> from sensorcal.setup import UnitsOut
    >>> number_text("coolant", 20.04, UnitsOut()), number_text("coolant", 5.0, UnitsOut(), difference=True)
    ('20.0', '+5.0')
    >>> number_text("oil_pressure", 412_300.0, UnitsOut()), number_text("map", 93_470.0, UnitsOut(pressure="inHg"))
    ('412', '27.60')
    """
    shown = shown_number(channel, value, units, difference=difference)
    unit = unit_of(channel, units)
    decimals = _DECIMALS.get(unit, 1)
    if channel in _COARSE:
        decimals = max(decimals - 1, 0)
    if unit == "1/min":
        decimals = 0
    text = f"{shown:+.{decimals}f}" if difference else f"{shown:.{decimals}f}"
    return text.lstrip("+-") if float(text) == 0.0 else text


def quantity_text(channel: str, value: float, units: UnitsOut, *, difference: bool = False) -> str:
    """Write a channel's value with its unit."""
    return f"{number_text(channel, value, units, difference=difference)} {symbol_of(channel, units)}"


_N = r"[+\-]?\d+(?:\.\d+)?(?:e[+\-]?\d+)?"
_DIFFERENCE = re.compile(
    rf"(?P<before>(?:\bby|\bmore than|\bdeviation of|\bseconds and|\brunning and) )(?P<value>{_N}) °C(?P<rate>/min)?"
    rf"|(?P<bare>{_N}) °C(?= below its limit)"
)
_TEMPERATURE = re.compile(rf"(?P<value>{_N}) °C(?!/min)")
_PRESSURE = re.compile(rf"(?P<value>{_N}) kPa")


def in_units(text: str, units: UnitsOut) -> str:
    """Rewrite the degrees Celsius and kilopascals of a sentence in the user's units.

    Examples
    --------
    >>> from sensorcal.setup import UnitsOut
    >>> in_units("coolant up to 125 °C, above the limit of 115 °C; rising by 2.0 °C/min", UnitsOut(temperature="degF"))
    'coolant up to 257 °F, above the limit of 239 °F; rising by 3.6 °F/min'
    >>> in_units("oil pressure down to 18 kPa", UnitsOut(pressure="psi"))
    'oil pressure down to 2.61 psi'
    """
    if units.temperature != "degC":
        symbol = _SYMBOL.get(units.temperature, units.temperature)

        def difference(found: re.Match[str]) -> str:
            said = found["value"] or found["bare"]
            shown = interval_from_si(float(said), units.temperature)
            return f"{found['before'] or ''}{shown:.1f} \0{found['rate'] or ''}"

        def temperature(found: re.Match[str]) -> str:
            return f"{from_si(float(found['value']), units.temperature):.0f} \0"

        text = _TEMPERATURE.sub(temperature, _DIFFERENCE.sub(difference, text)).replace("\0", symbol)
    if units.pressure != "kPa":
        text = _PRESSURE.sub(lambda m: f"{from_si(1e3 * float(m['value']), units.pressure):.3g} {units.pressure}", text)
    return text


def likely_words(probability: float) -> str:
    """Put a probability in words.

    Examples
    --------
    >>> likely_words(0.97), likely_words(0.6), likely_words(0.2)
    ('almost certain', 'more likely than not', 'possible')
    """
    for least, words in ((0.95, "almost certain"), (0.8, "likely"), (0.5, "more likely than not"), (0.1, "possible")):
        if probability >= least:
            return words
    return "a small part of the whole"
