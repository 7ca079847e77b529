"""Units of the bench, converted once at the edge: what a person types to SI, and back for what they read.

Inside sensorcal a number is always in its home unit: degC, ohm, Pa, V, A, m, s, W/K, or a plain ratio.
"""

from __future__ import annotations

import math
import re
from typing import Protocol, Self, TypeVar

from sensorcal.errors import InputError


class _Arithmetic(Protocol):
    """Anything that scales and shifts: a float or a NumPy array."""

    def __add__(self, other: float, /) -> Self: ...
    def __sub__(self, other: float, /) -> Self: ...
    def __mul__(self, other: float, /) -> Self: ...
    def __truediv__(self, other: float, /) -> Self: ...


Number = TypeVar("Number", bound=_Arithmetic)

# Defining constants: inch 0.0254 m, pound 0.45359237 kg, g_n 9.80665 m/s2, conventional mercury 13595.1 kg/m3,
# conventional water 1000 kg/m3 (NIST SP 811, 2008, appendix B; printed values from memory, recomputed in tests).
_G_N = 9.80665
_INCH = 0.0254

# name: (dimension, factor, zero) with home = (value - zero) * factor, or (value - zero) / -factor where the
# factor is written negative: 1.8 degF a kelvin, 1000 mV a volt divide exactly where 5/9 and 1e-3 would round.
_TABLE: dict[str, tuple[str, float, float]] = {
    "degC": ("temperature", 1.0, 0.0),
    "degF": ("temperature", -1.8, 32.0),
    "K": ("temperature", 1.0, 273.15),
    "ohm": ("resistance", 1.0, 0.0),
    "kohm": ("resistance", 1e3, 0.0),
    "Mohm": ("resistance", 1e6, 0.0),
    "milliohm": ("resistance", -1e3, 0.0),
    "Pa": ("pressure", 1.0, 0.0),
    "hPa": ("pressure", 100.0, 0.0),
    "mbar": ("pressure", 100.0, 0.0),
    "kPa": ("pressure", 1e3, 0.0),
    "MPa": ("pressure", 1e6, 0.0),
    "bar": ("pressure", 1e5, 0.0),
    "atm": ("pressure", 101325.0, 0.0),
    "psi": ("pressure", 0.45359237 * _G_N / _INCH**2, 0.0),
    "inHg": ("pressure", 13595.1 * _G_N * _INCH, 0.0),
    "mmHg": ("pressure", 13.5951 * _G_N, 0.0),
    "inH2O": ("pressure", 1000.0 * _G_N * _INCH, 0.0),
    "cmH2O": ("pressure", 10.0 * _G_N, 0.0),
    "mmH2O": ("pressure", _G_N, 0.0),
    "V": ("voltage", 1.0, 0.0),
    "mV": ("voltage", -1e3, 0.0),
    "A": ("current", 1.0, 0.0),
    "mA": ("current", -1e3, 0.0),
    "uA": ("current", -1e6, 0.0),
    "m": ("length", 1.0, 0.0),
    "mm": ("length", -1e3, 0.0),
    "cm": ("length", -1e2, 0.0),
    "km": ("length", 1e3, 0.0),
    "ft": ("length", 0.3048, 0.0),
    "in": ("length", _INCH, 0.0),
    "1": ("ratio", 1.0, 0.0),
    "%": ("ratio", -1e2, 0.0),
    "s": ("time", 1.0, 0.0),
    "min": ("time", 60.0, 0.0),
    "h": ("time", 3600.0, 0.0),
    "W/K": ("dissipation", 1.0, 0.0),
    "mW/K": ("dissipation", -1e3, 0.0),
    "1/K": ("tempco", 1.0, 0.0),
    "ppm/K": ("tempco", -1e6, 0.0),
}

HOME: dict[str, str] = {
    "temperature": "degC",
    "resistance": "ohm",
    "pressure": "Pa",
    "voltage": "V",
    "current": "A",
    "length": "m",
    "ratio": "1",
    "time": "s",
    "dissipation": "W/K",
    "tempco": "1/K",
}
"""The home unit of each dimension."""

# Spellings as people and spreadsheets write them. Case matters only between M and m, so these are looked up
# as typed first and in lower case second.
_SPELLINGS: dict[str, str] = {
    "°c": "degC", "c": "degC", "deg c": "degC", "celsius": "degC", "℃": "degC", "º c": "degC", "ºc": "degC",
    "° c": "degC", "°f": "degF", "f": "degF", "deg f": "degF", "fahrenheit": "degF", "℉": "degF", "ºf": "degF",
    "° f": "degF", "kelvin": "K",
    "ω": "ohm", "ohms": "ohm", "r": "ohm",
    "kω": "kohm", "kohms": "kohm", "k ohm": "kohm", "k": "kohm", "kiloohm": "kohm",
    "MΩ": "Mohm", "Mohms": "Mohm", "megohm": "Mohm", "megaohm": "Mohm",
    "pascal": "Pa", "millibar": "mbar", "mb": "mbar", "in hg": "inHg", "inches hg": "inHg", '"hg': "inHg",
    "mm hg": "mmHg", "in h2o": "inH2O", "inwc": "inH2O", "mm h2o": "mmH2O", "cm h2o": "cmH2O",
     "volt": "V", "volts": "V", "amp": "A", "amps": "A",
    "µa": "uA", "μa": "uA", "metre": "m", "metres": "m", "meter": "m", "meters": "m", "feet": "ft",
    "foot": "ft", "'": "ft", "inch": "in", "inches": "in", "percent": "%", "ratio": "1", "v/v": "1",
    "count": "1", "counts": "1",
    "sec": "s", "seconds": "s", "second": "s", "minutes": "min", "minute": "min", "hours": "h", "hour": "h",
    "celcius": "degC",
}  # fmt: skip
# Lower-cased names; where two units differ by case only (mohm would be milliohm) there is no entry.
_LOWER = {name.lower(): name for name in _TABLE if name not in {"Mohm", "MPa"}} | _SPELLINGS
_LOWER["mpa"] = "MPa"  # nobody at this bench means millipascal

_NUMBER = re.compile(r"[+\-−]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+\-]?\d+)?")
_HEADER_BRACKET = re.compile(r"^(?P<name>.*?)\s*[\[(]\s*(?P<unit>[^\])]*)\s*[\])]\s*$")


def parse_unit(text: str) -> str:
    """Name the unit that a person wrote.

    Parameters
    ----------
    text : str
        As typed: '°C', 'kΩ', 'k', 'in Hg', 'feet'.

    Returns
    -------
    str
        The name used throughout sensorcal, such as 'degC', 'kohm', 'inHg', 'ft'.

    Raises
    ------
    InputError
        When the unit is not one of the bench's; the message lists those that are.

    Examples
    --------
    >>> parse_unit("kΩ"), parse_unit("° C"), parse_unit("K")
    ('kohm', 'degC', 'K')
    """
    unit = " ".join(text.replace("\u2126", "Ω").replace("\u00a0", " ").split())
    if unit in _TABLE:
        return unit
    if unit in _SPELLINGS:
        return _SPELLINGS[unit]
    if unit.startswith("m") and unit[1:].strip().lower() in {"ω", "ohm", "ohms"}:
        raise InputError(
            f"{text!r} means milliohm, which no probe here has",
            do="write Mohm for a million ohms, milliohm in full for a strap",
        )
    lowered = unit.lower()
    if lowered in _LOWER:
        return _LOWER[lowered]
    raise InputError(f"{text!r} is not a unit known here", do=f"use one of {', '.join(_TABLE)}")


def dimension(unit: str) -> str:
    """Say what a unit measures: 'temperature', 'resistance', 'pressure' and so on.

    Examples
    --------
    >>> dimension("inHg")
    'pressure'
    """
    return _TABLE[parse_unit(unit)][0]


def to_si(value: Number, unit: str) -> Number:
    """Convert a value, or an array of values, to its home unit.

    Parameters
    ----------
    value : float or array
        Number in `unit`.
    unit : str
        Any spelling that `parse_unit` knows. Gauge and absolute pressure are the same unit with another datum.

    Returns
    -------
    float or array
        In degC, ohm, Pa, V, A, m, s, W/K or as a ratio.

    References
    ----------
    NIST SP 811 (2008), appendix B.8; exact factors from the definitions.

    Examples
    --------
    >>> to_si(212.0, "degF"), to_si(1.84, "kohm")
    (100.0, 1840.0)
    """
    _, factor, zero = _TABLE[parse_unit(unit)]
    shifted = value - zero if zero else value
    if factor == 1.0:
        return shifted
    return shifted * factor if factor > 0 else shifted / -factor


def from_si(value: Number, unit: str) -> Number:
    """Convert a value, or an array of values, from its home unit to `unit`.

    Examples
    --------
    >>> round(from_si(101325.0, "inHg"), 5)
    29.92126
    """
    _, factor, zero = _TABLE[parse_unit(unit)]
    if factor != 1.0:
        value = value / factor if factor > 0 else value * -factor
    return value + zero if zero else value


def interval_to_si(value: Number, unit: str) -> Number:
    """Convert a difference, such as an uncertainty or a step, to the home unit: 1.8 degF of difference is 1 degC.

    Examples
    --------
    >>> interval_to_si(1.8, "degF"), interval_to_si(0.2, "K")
    (1.0, 0.2)
    """
    _, factor, _ = _TABLE[parse_unit(unit)]
    if factor == 1.0:
        return value
    return value * factor if factor > 0 else value / -factor


def interval_from_si(value: Number, unit: str) -> Number:
    """Convert a difference in the home unit to `unit`.

    Examples
    --------
    >>> interval_from_si(1.0, "degF")
    1.8
    """
    _, factor, _ = _TABLE[parse_unit(unit)]
    if factor == 1.0:
        return value
    return value / factor if factor > 0 else value * -factor


def parse_quantity(
    text: str | float,
    default_unit: str = "",
    dimension: str = "",
    *,
    difference: bool = False,
) -> float:
    """Read '2100ft', '29.80 inHg', '0,3 ohm' or a bare number, and return it in the home unit.

    Parameters
    ----------
    text : str or float
        The number with or without a unit; a decimal comma is accepted.
    default_unit : str, optional
        Unit of a bare number. Without it a bare number is refused.
    dimension : str, optional
        What it must measure, such as 'length'; taken from `default_unit` when left out.
    difference : bool, optional
        True for uncertainties, steps and tolerances, so that 1.8 degF is 1 degC.

    Returns
    -------
    float
        In degC, ohm, Pa, V, A, m, s, W/K or as a ratio.

    Raises
    ------
    InputError
        When it is no number, not finite, has no unit, or measures something else.

    Examples
    --------
    >>> round(parse_quantity("2100ft", "m"), 2), parse_quantity("3 %", "1"), parse_quantity(640, "m")
    (640.08, 0.03, 640.0)
    """
    wanted = dimension or (_TABLE[parse_unit(default_unit)][0] if default_unit else "")
    if isinstance(text, str):
        value, unit_text = _split(text)
        unit = parse_unit(unit_text) if unit_text else default_unit
    else:
        value, unit = float(text), default_unit
    if not math.isfinite(value):
        raise InputError(f"{text!r} is not a finite number", do="give a number")
    if not unit:
        raise InputError(f"{text!r} has no unit", do=f"write it as in '12.5 {HOME.get(wanted, 'degC')}'")
    if unit == "kohm" and wanted == "temperature":
        # 'k' after a temperature is a kelvin written small, never a thousand ohms.
        unit = "K"
    unit = parse_unit(unit)
    if wanted and _TABLE[unit][0] != wanted:
        fitting = ", ".join(name for name, entry in _TABLE.items() if entry[0] == wanted)
        raise InputError(f"{text!r} is in {unit}, which is not a {wanted}", do=f"give it in {fitting}")
    return interval_to_si(value, unit) if difference else to_si(value, unit)


def format_quantity(value_si: float, unit: str, digits: int | None = None, *, difference: bool = False) -> str:
    """Write a home-unit value in `unit` for a person to read: '1.800 kohm'.

    Parameters
    ----------
    value_si : float
        In the home unit.
    unit : str
        Unit to show.
    digits : int, optional
        Digits after the decimal point; left out, the fewest that give the same number back.
    difference : bool, optional
        True for uncertainties and steps.

    Examples
    --------
    >>> format_quantity(1800.0, "kohm", 3), format_quantity(0.5, "degF", 1, difference=True)
    ('1.800 kohm', '0.9 degF')
    """
    name = parse_unit(unit)
    value = interval_from_si(value_si, name) if difference else from_si(value_si, name)
    number = shortest(value) if digits is None else f"{value:.{digits}f}"
    return number if name == "1" else f"{number} {name}"


def shortest(value: float) -> str:
    """Write a number in the fewest digits that a person would have typed, keeping 15 significant ones.

    Examples
    --------
    >>> shortest(1800.0), shortest(0.1 + 0.2)
    ('1800', '0.3')
    """
    return f"{value:.15g}"


def parse_header(text: str) -> tuple[str, str]:
    """Split a column heading into its name and its unit ('' when it names none).

    Accepts 'P1 [kΩ]', 'P1 (ohm)', 'P1/ohm', 'P1_ohm' and 'reference °C'.

    Raises
    ------
    InputError
        When the brackets hold something that is no unit.

    Examples
    --------
    >>> parse_header("P1 [kΩ]"), parse_header("reference °C"), parse_header("note")
    (('P1', 'kohm'), ('reference', 'degC'), ('note', ''))
    """
    heading = " ".join(text.replace("\u00a0", " ").split())
    bracket = _HEADER_BRACKET.match(heading)
    if bracket:
        inside = bracket["unit"].strip()
        return bracket["name"].strip(), parse_unit(inside) if inside and inside != "-" else ""
    for mark in ("/", ",", " ", "_"):
        name, found, unit = heading.partition(mark) if mark in "/," else heading.rpartition(mark)
        # One-letter endings ('probe C', 'T_K') and '1' ('probe 1') are names as often as units: brackets then.
        if found and name and (len(unit.strip()) > 1 or mark == "/" or unit.strip() in {"Ω", "%"}):
            try:
                return name.strip(), parse_unit(unit)
            except InputError:
                continue
    return heading, ""


def _split(text: str) -> tuple[float, str]:
    """Split '29.80 inHg' into number and unit text."""
    stripped = text.strip().replace("\u00a0", " ")
    found = _NUMBER.match(stripped)
    if not found:
        raise InputError(f"{text!r} is not a number", do="give a number, with its unit if it needs one")
    number, rest = found.group().replace("−", "-").replace(",", "."), stripped[found.end() :].strip()
    if rest[:1].isdigit() or rest[:1] in {".", ","}:
        raise InputError(f"{text!r} is not a number", do="leave thousands separators out")
    return float(number), rest
