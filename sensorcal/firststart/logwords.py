"""Headings of a log in trade words: which channel 'CLT', 'Oil P kPa' or 'cooler_out_degC' mean, and in which unit.

Only words of the trade and symbols of units are known here, and the meaning of each is common practice, no source.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache

from sensorcal import roles
from sensorcal.errors import InputError
from sensorcal.firststart.channels import DIMENSION, WORDS
from sensorcal.units import dimension, parse_unit

# Each word of the trade stands for an idea; a heading is read by the ideas in it.
_IDEAS: dict[str, str] = {
    "coolant": "coolant cool water clt ect h2o wtemp",
    "gearbox": "gearbox gear gbox gbx gb reduction redux",
    "oil": "oil lube lubricant",
    "fuel": "fuel petrol gasoline avgas mogas",
    "charge": "charge cac",
    "cooler": "cooler intercooler aftercooler ic",
    "compressor": "compressor comp turbo turbocharger supercharger blower",
    "intake": "intake iat mat act plenum induction airbox",
    "manifold": "manifold",
    "map": "map mp boost",
    "rpm": "rpm revs rev tach tacho tachometer crankshaft",
    "engine": "engine eng motor",
    "speed": "speed",
    "prop": "prop propeller airscrew",
    "bus": "bus battery batt bat vbat vbatt vbus",
    "volts": "volts volt voltage",
    "outside": "oat ambient outside",
    "air": "air",
    "temperature": "temperature temp temps tmp t",
    "pressure": "pressure press pres prs p",
    "in": "in inlet before pre upstream entry entering ahead",
    "out": "out outlet after post downstream exit leaving behind",
    "time": "time elapsed timestamp clock uptime datetime seconds second secs sec millis milliseconds minutes",
    "date": "date day",
    "label": "event events label phase step moment point what",
    "statistic": "min max avg mean average minimum maximum peak std sigma median highest lowest",
    "setting": "limit alarm warning warn status flag valid target setpoint set redline caution state",
    "other": (
        "flow level qty quantity current amp amps amperes egt cht exhaust humidity altitude alt ias tas gps raw "
        "counts adc ohm ohms resistance rate delta diff difference margin lambda afr torque power throttle tps "
        "reference ref supply sensor dew baro barometer qnh airspeed used remaining differential"
    ),
}
_IDEA = {word: idea for idea, words in _IDEAS.items() for word in words.split()}
_IDEA |= dict.fromkeys(("the", "of", "a", "main", "system", "sys", "1", "no", "at", "to", "total", "mon"), "")
_IDEA |= dict.fromkeys(("abs", "gauge", "utc", "gmt", "local"), "")  # words that add nothing
# Longer words first, so that 'temperature' is not cut to 'temp' and a rest.
_FUSABLE = sorted((w for w, idea in _IDEA.items() if len(w) > 2 and idea and w not in {"act", "day"}), key=len)[::-1]

_SPEED_UNITS = {
    "rpm": 1.0, "1/min": 1.0, "r/min": 1.0, "rev/min": 1.0, "revs/min": 1.0, "min-1": 1.0, "/min": 1.0,
    "krpm": 1e3, "x1000": 1e3, "x100": 1e2, "rpmx1000": 1e3, "rpmx100": 1e2,
    "x 1000": 1e3, "x 100": 1e2, "rpm x100": 1e2, "rpm x1000": 1e3, "rpm x 100": 1e2, "rpm x 1000": 1e3,
}  # fmt: skip
SPEED_FACTOR = {"1/min": 1.0, "100/min": 1e2, "1000/min": 1e3}
"""Units of engine speed and what they are in 1/min."""

_CLOCKS = frozenset({"h:mm", "hh:mm", "h:mm:ss", "hh:mm:ss", "m:ss", "mm:ss", "min:s", "hms", "iso", "hh:mm:ss.s"})
_DATUM = re.compile(r"(?i)^(.*?)\s*[\s(_]?(gauge|gage|g|abs|absolute|a)\)?$")
_BRACKET = re.compile(r"[\[({<]\s*([^\])}>]*)\s*[\])}>]")
_TAIL = re.compile(
    r"(?:^|(?<=[^A-Za-z])|(?<=[a-z)])(?=[A-Z°]))"
    r"(°\s?[CFcf]|º\s?[CFcf]|℃|℉|(?:[Dd][Ee][Gg])[\s_]?[CFcf]|[KkHhMm]?[Pp][Aa]|[Mm]?[Bb][Aa][Rr]|[Pp][Ss][Ii]"
    r"|[Ii][Nn]\s?[Hh][Gg]|[Mm][Mm]\s?[Hh][Gg]|atm|[Vv](?:dc|DC)?|m[Vv]|[CcFfKs]|ms|min|[Rr][Pp][Mm]|1/min|[Xx]\s?1000?)"
    r"[\s_]?(g|a|gauge|abs|absolute)?$"
)
_FUSED_TAIL = re.compile(r"^([a-z]{3,}?)(degc|degf|kpa|hpa|psi|mbar|bar|inhg|[cfv])$")


@dataclass(frozen=True, slots=True, kw_only=True)
class Heading:
    """A heading understood.

    Parameters
    ----------
    holds : str
        A channel, 'time', 'date', 'label', 'statistic', or '' for nothing that is read here.
    unit : str
        Name of the unit in sensorcal, a clock format, or '' where the heading names none.
    datum : {'', 'gauge', 'absolute'}
        What pressures are counted from, where the heading says so.
    doubt : str
        Why it was not read although it sounds like a channel.
    general : bool
        True where a more exact heading in the same file has the better claim.
    """

    holds: str = ""
    unit: str = ""
    datum: str = ""
    doubt: str = ""
    general: bool = False


def understand(heading: str) -> Heading:
    """Read a heading by the trade words and the unit in it.

    Examples
    --------
    >>> understand("CLT [°F]").holds, understand("CLT [°F]").unit
    ('coolant', 'degF')
    >>> understand("OilPress_kPa").holds, understand("compressor outlet degC").holds, understand("oil").doubt
    ('oil_pressure', 'charge_in', 'oil may be its temperature or its pressure')
    """
    name, unit, datum = split_unit(heading)
    ideas = frozenset(_ideas(name))
    if _words(name) == ["t"] and _kind(unit) in {"", "time"}:
        # A lone t is time, as in physics; a lone T may be any temperature.
        return Heading(holds="time", unit=unit) if name == "t" or unit else Heading(doubt="T may be any temperature")
    if _kind(unit) == "time" and ideas and not ideas & {"time", "date"}:
        # 'oil temp min' is the least of it, not minutes.
        unit, ideas = "", frozenset(_ideas(heading))
    holds, doubt, general = _channel(ideas, _kind(unit), datum)
    if holds == "time" and not unit:
        unit = _time_unit(heading)
    if holds in DIMENSION and unit and _kind(unit) != DIMENSION[holds]:
        return Heading(doubt=f"{unit} is no unit of {DIMENSION[holds]}")
    return Heading(holds=holds, unit=unit, datum=datum, doubt=doubt, general=general)


def split_unit(heading: str) -> tuple[str, str, str]:
    """Split a heading into its name, its unit ('' for none) and the datum of a pressure.

    Examples
    --------
    >>> split_unit("MAP (kPa abs)"), split_unit("coolantDegC"), split_unit("Oil P")
    (('MAP', 'kPa', 'absolute'), ('coolant', 'degC', ''), ('Oil P', '', ''))
    """
    text = " ".join(_mended(heading).replace("_", " ").split())
    for inside in _BRACKET.finditer(text):
        unit, datum = unit_of(inside.group(1))
        rest = " ".join((text[: inside.start()] + " " + text[inside.end() :]).split())
        if unit:
            return rest, unit, datum
    name, _, last = text.rpartition(" ")
    if name and "/" in last and unit_of(last)[0]:
        return name, *unit_of(last)
    for mark in (",", "/"):
        name, between, tail = text.rpartition(mark)
        unit, datum = unit_of(tail) if between and name else ("", "")
        if unit and unit != "1/min":
            return name.strip(), unit, datum
    fused = _FUSED_TAIL.match(text)
    if fused and text.lower() not in _IDEA and not any(idea[0] == "?" for idea in _fused(fused.group(1))):
        return fused.group(1), unit_of(fused.group(2))[0], ""
    found = _TAIL.search(text)
    if found:
        unit, datum = unit_of(found.group(1))
        name = text[: found.start()].rstrip(" -/.,:([")
        if unit and found.group(2):
            datum = "gauge" if found.group(2).startswith("g") else "absolute"
            if _kind(unit) != "pressure":
                unit = ""
        if unit == "1/min" and "/" not in found.group(1):
            return text, unit, ""  # 'rpm' is the name as well
        if unit and name:
            return name, unit, datum
    return text, "", ""


@cache
def unit_of(text: str) -> tuple[str, str]:
    """Name the unit in a text and the datum of a pressure; ('', '') where it is no unit a log has.

    Examples
    --------
    >>> unit_of("barg"), unit_of("1/min"), unit_of("VDC"), unit_of("note")
    (('bar', 'gauge'), ('1/min', ''), ('V', ''), ('', ''))
    """
    bare = " ".join(_mended(text).replace("_", " ").split()).strip("[](){} ")
    lowered = bare.lower()
    if lowered in _CLOCKS:
        return lowered, ""
    if lowered in _SPEED_UNITS:
        factor = _SPEED_UNITS[lowered]
        return next(name for name, size in SPEED_FACTOR.items() if size == factor), ""
    if lowered in {"ms", "msec", "millis", "milliseconds"}:
        return "ms", ""
    if lowered in {"v dc", "vdc", "volts dc"}:
        return "V", ""
    try:
        unit = parse_unit(bare)
    except InputError:
        with_datum = _DATUM.match(bare)
        if with_datum and with_datum.group(1):
            unit, datum = unit_of(with_datum.group(1))
            if unit and not datum and _kind(unit) == "pressure":
                return unit, "gauge" if with_datum.group(2).lower().startswith("g") else "absolute"
        return "", ""
    return (unit, "") if dimension(unit) in {"temperature", "pressure", "voltage", "time"} else ("", "")


def channel_of_role(role: str, measurand: str) -> str:
    """Say which channel of a log a probe's role in the setup is, '' for one that nobody knows.

    The seven channels with limits are those of `sensorcal.roles`; the words of a heading tell the rest, such as the
    outside air.

    Examples
    --------
    >>> channel_of_role("gearbox oil", "temperature"), channel_of_role("oil pressure", "pressure")
    ('gearbox_oil', 'oil_pressure')
    """
    known = roles.channel_of_role(role, measurand)
    if known is not None:
        return known
    holds, _, _ = _channel(frozenset(_ideas(role)), measurand, "")
    return holds if holds in DIMENSION and DIMENSION[holds] == measurand else ""


def _mended(text: str) -> str:
    """Put a degree sign that was lost between two encodings right, and thin spaces to plain ones."""
    text = text.replace("\u00a0", " ").replace("\u202f", " ").replace("Â°", "°").replace("\ufeff", "")
    return re.sub(r"[\ufffd?](?=[CFcf]\b)", "°", text)


def _kind(unit: str) -> str:
    """Say what a unit measures; '' for none."""
    if not unit:
        return ""
    if unit in SPEED_FACTOR:
        return "speed"
    return "time" if unit == "ms" or unit in _CLOCKS else dimension(unit)


def _words(name: str) -> list[str]:
    """Cut a name into lower-case words at spaces, marks, CamelCase and figures."""
    text = re.sub(r"(?<=[a-z])(?=[A-Z])|(?<=[A-Z])(?=[A-Z][a-z]{2})", " ", _mended(name))
    return [word for word in re.split(r"[\s_\-./:,#()\[\]°&+]+", text.lower()) if word]


def _ideas(name: str) -> list[str]:
    """Read a name as ideas; a word that nobody knows is an idea of its own, in question marks."""
    found: list[str] = []
    for word in _words(name):
        if word not in _IDEA:
            found += _fused(word)
        elif _IDEA[word]:
            found.append(_IDEA[word])
    return found


def _fused(word: str) -> list[str]:
    """Cut a word such as 'oilpress' or 'coolanttempin' into known ones."""
    rest = word.rstrip("1")
    found: list[str] = []
    while rest:
        piece = next((one for one in _FUSABLE if rest.startswith(one)), "")
        if not piece:
            if found and rest in {"t", "p", "in"}:
                return [*found, _IDEA[rest]]  # 'oilp', 'coolantin'
            return [f"?{word}"]
        found.append(_IDEA[piece])
        rest = rest[len(piece) :]
    return found


def _time_unit(heading: str) -> str:
    """Take the unit of a time column from a word such as 'seconds' or 'millis'."""
    words = set(_words(heading))
    if words & {"ms", "millis", "milliseconds"}:
        return "ms"
    if words & {"s", "sec", "secs", "second", "seconds"}:
        return "s"
    return "min" if words & {"min", "minutes"} else ""


def _channel(ideas: frozenset[str], kind: str, datum: str) -> tuple[str, str, bool]:
    """Say what a set of ideas and a kind of unit hold: channel, doubt, and whether it is a general word."""
    if kind == "speed" and ideas <= {"engine", "speed"}:
        return "rpm", "", False
    if not ideas and kind == "time":
        return "time", "", True
    strange = {idea for idea in ideas if idea.startswith("?")}
    if ideas & {"setting", "other"}:
        return "", "", False
    if "statistic" in ideas:
        holds = _channel(ideas - {"statistic"}, kind, datum)[0]
        return ("statistic", "", False) if holds in DIMENSION else ("", "", False)
    if ideas & {"time", "date"} and not strange and not ideas & {"coolant", "oil", "fuel", "rpm", "map", "bus"}:
        return ("date" if "time" not in ideas else "time"), "", False
    holds, doubt, general = _reading(ideas, kind)
    if strange and holds:
        unknown = ", ".join(repr(idea[1:]) for idea in sorted(strange))
        return "", f"it sounds like {WORDS.get(holds, holds)}, but {unknown} is no word known here", False
    if not holds and not doubt and "label" in ideas and len(ideas) == 1:
        return "label", "", False
    return holds, doubt, general


def _reading(ideas: frozenset[str], kind: str) -> tuple[str, str, bool]:
    """Choose the channel; the kind of the unit rules where the words leave it open."""
    if kind not in {"", "temperature", "pressure", "speed", "voltage"}:
        return "", "", False
    judged = ideas & {"coolant", "gearbox", "oil", "fuel", "charge", "cooler", "intake", "manifold", "map"}
    if judged and (kind == "voltage" or "volts" in ideas):
        return "", "a sensor's volts are not what the monitor shows", False
    has = ideas.__contains__
    hot = kind == "temperature" or (not kind and has("temperature"))
    pressed = kind == "pressure" or (not kind and has("pressure"))
    if has("rpm") or (has("speed") and has("engine")):
        if has("prop"):
            return "", "the propeller's speed is not the engine's", False
        return "rpm", "", False
    if has("coolant") and not ideas & {"oil", "fuel", "cooler"}:
        return ("", "", False) if pressed else ("coolant", "", False)
    if has("gearbox"):
        return ("", "a pressure of the gearbox is not judged", False) if pressed else ("gearbox_oil", "", False)
    if has("oil"):
        if hot:
            return "gearbox_oil", "", True
        return ("oil_pressure", "", False) if pressed else ("", "oil may be its temperature or its pressure", False)
    if has("fuel"):
        if hot:
            return "", "", False
        return ("fuel_pressure", "", False) if pressed else ("", "fuel may be its pressure or another reading", False)
    if has("outside"):
        return ("", "", False) if pressed else ("oat", "", False)
    charge = _charge(ideas, hot=hot, pressed=pressed)
    if charge is not None:
        return charge
    if ideas & {"bus", "volts"}:
        return ("bus", "", "bus" not in ideas) if kind in {"", "voltage"} else ("", "", False)
    if ideas in ({"air", "temperature"}, {"air"}):
        return "", "air may be that outside or the charge", False
    return "", "", False


def _charge(ideas: frozenset[str], *, hot: bool, pressed: bool) -> tuple[str, str, bool] | None:
    """Tell charge air before and after the cooler and the manifold's pressure apart; None for none of them."""
    if not ideas & {"charge", "cooler", "compressor", "intake", "manifold", "map"}:
        return None
    if "map" in ideas and not hot:
        return "map", "", False
    if pressed or ("manifold" in ideas and not hot and not ideas & {"in", "out", "air"}):
        if ideas & {"manifold", "intake", "map"} or ideas <= {"charge", "air", "pressure"}:
            return "map", "", False
        return "", "pressure at the compressor or cooler is not that of the manifold", False
    before, after = "in" in ideas, "out" in ideas
    if "compressor" in ideas:
        if before == after or before:
            return "", "at the compressor, only its outlet is the charge before the cooler", False
        return "charge_in", "", False
    if before != after and ideas & {"charge", "cooler"}:
        return ("charge_in" if before else "charge_out"), "", False
    if ideas & {"intake", "manifold", "map"} and not before:
        return "charge_out", "", False
    return "", "charge air may be that before or after the cooler", False
