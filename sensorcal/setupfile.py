"""The setup as a TOML file: read with every slip named, written so that nobody starts from an empty one.

Values are text with their unit ("0.3 ohm", "29.80 inHg", "2100 ft") or bare numbers in the units under [units].
What is assumed is written as a comment line: taking the # away states it.
"""

from __future__ import annotations

import dataclasses
import difflib
import json
import re
import tomllib
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from sensorcal.declared import key_of, text_of, unit_of
from sensorcal.engine import PRESSURES, ChannelLimits, Engine, LogColumns
from sensorcal.errors import FileError, InputError
from sensorcal.monitorsetup import MonitorSetup, PressureInput
from sensorcal.setup import (
    Bath,
    Field,
    Keep,
    Meter,
    MeterCheck,
    Part,
    Probe,
    Reference,
    ReferenceCheck,
    Setup,
    UnitsOut,
    parts,
)
from sensorcal.sheet import check_sheet, parse_sheet
from sensorcal.transducer import Transducer
from sensorcal.units import HOME, dimension, format_quantity, from_si, parse_quantity
from sensorcal.wiring import ChannelWiring

_SINGLE: dict[str, type[Any]] = {
    "units": UnitsOut, "field": Field, "meter": Meter, "bath": Bath, "monitor": MonitorSetup,
    "pressure_input": PressureInput, "engine": Engine,
}  # fmt: skip
_MANY: dict[str, tuple[type[Any], str]] = {
    "references": (Reference, "identifier"), "probes": (Probe, "name"), "transducers": (Transducer, "name"),
    "channels": (ChannelWiring, "name"), "limits": (ChannelLimits, "name"),
}  # fmt: skip
_NESTED: dict[str, type[Any]] = {"meter": MeterCheck, "references": ReferenceCheck}
_TOP = (*_SINGLE, *_MANY, "log", "note", "keep")


def read_setup(path: str | Path) -> Setup:
    """Read a setup file.

    Parameters
    ----------
    path : path
        A TOML file; every table and key may be left out.

    Returns
    -------
    Setup
        With `stated` naming what the file gave.

    Raises
    ------
    FileError
        When the file cannot be read, a key is not known (the nearest known one is named), a value is of the wrong
        kind or unit, or two statements exclude each other.
    """
    file = Path(path)
    try:
        text = file.read_text(encoding="utf-8-sig")
    except FileNotFoundError:
        raise FileError("there is no such file", do="check the name", file=str(path)) from None
    except (OSError, UnicodeDecodeError) as error:
        raise FileError(f"it cannot be read ({error})", do="save it as UTF-8 text", file=str(path)) from None
    try:
        return setup_from_text(text)
    except FileError as error:
        raise FileError(error.what, do=error.do, file=str(path), row=error.row, column=error.column) from None


def setup_from_text(text: str) -> Setup:
    r"""Read a setup from TOML text.

    Examples
    --------
    >>> setup = setup_from_text('[field]\nelevation = "2100 ft"\nqnh = "29.80 inHg"')
    >>> round(setup.field.elevation_m, 1), round(setup.field.qnh_pa)
    (640.1, 100914)
    """
    try:
        table = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        place = re.search(r"\(at line (\d+), column \d+\)", str(error))
        raise FileError(
            f"it is not TOML: {str(error).split(' (at')[0]}",
            do='write values as key = "12.5 degC"',
            row=int(place.group(1)) if place else None,
        ) from None
    _known(table, _TOP, "the file")
    stated: set[str] = set()
    values: dict[str, Any] = {}
    units = _part(UnitsOut, _table(table, "units"), "units", UnitsOut(), stated) if "units" in table else UnitsOut()
    values["units"] = units
    for name, kind in _SINGLE.items():
        if name in table and name != "units":
            values[name] = _part(kind, _table(table, name), name, units, stated)
    for name, (kind, key) in _MANY.items():
        entries = _table(table, name) if name in table else {}
        values[name] = {
            tag: _part(kind, _table(entries, tag, name), f"{name}.{tag}", units, stated, {key: tag}) for tag in entries
        }
    if "log" in table:
        values["log"] = _log(_table(table, "log"))
    if "note" in table:
        values["note"] = _word(table["note"], "note")
    if "keep" in table:
        values["keep"] = tuple(_part(Keep, entry, "keep", units, stated) for entry in _tables(table["keep"], "keep"))
    return Setup(**values, stated=frozenset(stated))


def write_setup(setup: Setup, path: str | Path) -> None:
    """Write a setup file with what each value is beside it; assumed values stand as comment lines.

    Parameters
    ----------
    setup : Setup
        Reading the file back gives an equal setup with the same assumptions.
    path : path
        File to write, UTF-8 with plain line feeds on every system.
    """
    Path(path).write_text(setup_text(setup), encoding="utf-8", newline="\n")


def setup_text(setup: Setup) -> str:
    """Give the text of the setup file.

    Examples
    --------
    >>> text = setup_text(setup_from(elevation_m=640.0))
    >>> [line.split("  #")[0] for line in text.splitlines() if line.startswith("elevation")]
    ['elevation = "640 m"']
    """
    lines = [
        "# Setup of one bench. Values carry their unit; bare numbers are in the units under [units].",
        "# Lines that begin with # are assumed or not known: take the # away and correct the value to state it.",
        "",
    ]
    if setup.note:
        lines += [f"note = {_quoted(setup.note)}", ""]
    if setup.keep:
        entries = (f"{{what = {_quoted(k.what)}, reason = {_quoted(k.reason)}}}" for k in setup.keep)
        lines += ["keep = [", *(f"  {entry}," for entry in entries), "]  # questions answered by 'keep as typed'", ""]
    assumed = {line.name: line for line in setup.assumed}
    for path, part in parts(setup):
        lines.append("[" + ".".join(_bare(piece) for piece in path.split(".", 1)) + "]")
        lines += [_line(setup, part, entry, path, assumed) for entry in dataclasses.fields(part) if entry.metadata]
        lines.append("")
    if setup.log.columns:
        lines.append("[log.columns]  # heading in the log = channel and unit, or 'ignore'")
        lines += [f"{_bare(heading)} = {_quoted(channel)}" for heading, channel in setup.log.columns.items()]
        lines.append("")
    return "\n".join(lines)


def setup_from(
    *,
    elevation_m: float | None = None,
    qnh_pa: float | None = None,
    station_elevation_m: float | None = None,
    probes: Iterable[str] = ("P1",),
    reference: Reference | None = None,
    sheet: tuple[tuple[float, float], ...] = (),
    units: UnitsOut | None = None,
    note: str = "",
) -> Setup:
    """Make a first setup from the few things a builder knows; everything else is assumed and named.

    Parameters
    ----------
    elevation_m, qnh_pa, station_elevation_m : float, optional
        Workshop, weather report, and the report's station.
    probes : iterable of str, optional
        Tags of the probes.
    reference : Reference, optional
        The thermometer; a household one named T1 is assumed.
    sheet : pairs of float, optional
        Maker's sheet in degC and ohm, common to the probes; it then serves as prior if it has three rows or more.
    units : UnitsOut, optional
        Units of results.
    note : str, optional
        Free text.

    Examples
    --------
    >>> sorted(setup_from(probes=("P1", "P2")).probes)
    ['P1', 'P2']
    """
    known = {"elevation_m": elevation_m, "qnh_pa": qnh_pa, "station_elevation_m": station_elevation_m}
    thermometer = reference or Reference(identifier="T1")
    prior = "sheet" if len(sheet) >= 3 else "typical"
    return Setup(
        units=units or UnitsOut(),
        field=Field(**{name: value for name, value in known.items() if value is not None}),  # type: ignore[arg-type]
        references={thermometer.identifier: thermometer},
        probes={name: Probe(name=name, sheet=check_sheet(sheet) if sheet else (), prior=prior) for name in probes},
        note=note,
    )


# --- reading --------------------------------------------------------------------------------------------------


def _known(table: Mapping[str, Any], keys: Iterable[str], where: str) -> None:
    """Refuse a key that is not known, naming the nearest."""
    allowed = list(keys)
    for key in table:
        if key not in allowed:
            near = difflib.get_close_matches(key, allowed, n=1, cutoff=0.5)
            do = f"did you mean {near[0]!r}?" if near else f"known are {', '.join(allowed)}"
            raise FileError(f"{key!r} is not known in {where}", do=do.rstrip("?"), column=key)


def _table(table: Mapping[str, Any], key: str, parent: str = "") -> Mapping[str, Any]:
    """Give a table of the file, refusing anything else under its name."""
    value = table[key]
    if not isinstance(value, dict):
        name = f"{parent}.{key}" if parent else key
        raise FileError(f"{key!r} is a table", do=f"write [{name}] on a line of its own", column=name)
    return value


def _tables(value: object, where: str) -> list[Mapping[str, Any]]:
    """Give a list of small tables."""
    if isinstance(value, list) and all(isinstance(entry, dict) for entry in value):
        return value
    raise FileError(f"{where} is a list of small tables", do=f'write {where} = [{{name = "value"}}]', column=where)


def _word(value: object, where: str) -> str:
    """Give a text value, refusing anything else."""
    if not isinstance(value, str):
        raise FileError(f"{value!r} is not text", do="put it in quotes", column=where)
    return value


def _part(
    kind: type[Any],
    table: Mapping[str, Any],
    path: str,
    units: UnitsOut,
    stated: set[str],
    given: Mapping[str, str] | None = None,
    measurand: str = "",
) -> Any:  # noqa: ANN401 - the part that `kind` names
    """Make one part of the setup from its table."""
    entries = {entry.name: entry for entry in dataclasses.fields(kind) if entry.metadata}
    names = {key_of(name): name for name in entries} | {name: name for name in entries}
    _known(table, names, f"[{path}]")
    measurand = measurand or _measurand(kind, table, path)
    values: dict[str, Any] = dict(given or {})
    for key, value in table.items():
        name = names[key]
        if name in values:
            raise FileError(f"{key!r} is given twice in [{path}]", do="keep one", column=key)
        where = f"{path}.{key}"
        try:
            values[name] = _value(entries[name], value, where, units, stated, key, measurand)
        except InputError as error:
            raise FileError(error.what, do=error.do, column=where) from None
        stated.add(f"{path}.{key_of(name)}")
        if isinstance(value, str) or key != key_of(name):
            stated.add(f"{path}.{key_of(name)}:unit")
    try:
        return kind(**values)
    except InputError as error:
        raise FileError(error.what, do=error.do, column=path) from None


def _log(table: Mapping[str, Any]) -> LogColumns:
    """Read which column of a log is which channel."""
    _known(table, ("columns",), "[log]")
    columns = _table(table, "columns", "log") if "columns" in table else {}
    return LogColumns(columns={heading: _word(value, f"log.columns.{heading}") for heading, value in columns.items()})


def _measurand(kind: type[Any], table: Mapping[str, Any], path: str) -> str:
    """Say what 'measurand' means in this table."""
    if kind is ChannelLimits:
        return "pressure" if path.rpartition(".")[2] in PRESSURES else "temperature"
    if kind is Reference:
        return "pressure" if table.get("kind") == "gauge" else "temperature"
    return "pressure" if table.get("measurand") == "pressure" else "temperature"


def _value(
    entry: dataclasses.Field[Any],
    value: object,
    where: str,
    units: UnitsOut,
    stated: set[str],
    key: str,
    measurand: str,
) -> Any:  # noqa: ANN401 - whatever the entry holds
    """Read one value in the way its declaration says."""
    if entry.name == "checks":
        nested = _NESTED[where.split(".", maxsplit=1)[0]]
        return tuple(_part(nested, table, where, units, stated, None, measurand) for table in _tables(value, where))
    if entry.name == "sheet":
        return _sheet(value, units)
    unit = str(entry.metadata["unit"])
    if not unit:
        return _plain(entry, value)
    if isinstance(value, bool) or not isinstance(value, str | int | float):
        raise InputError(f"{value!r} is not a quantity", do=f"write it as in '{_example(unit, measurand)}'")
    if unit == "measurand":
        unit = HOME[measurand]
    if key == entry.name and key_of(key) != key:
        default = HOME[dimension(unit)]
    else:
        default = _default_unit(entry.name, unit, units)
        if unit == "%" and not isinstance(value, str):
            raise InputError(f"{value!r} may be a share or per cent", do=f"write '{value} %' or '{value} ratio'")
    return parse_quantity(value, default, dimension(unit), difference=bool(entry.metadata["difference"]))


def _default_unit(name: str, unit: str, units: UnitsOut) -> str:
    """Give the unit of a bare number: the file's own for what it prints, else the one in the comment."""
    kind = dimension(unit)
    if kind == "length":
        return units.altitude if "elevation" in name else unit
    if unit == "hPa":
        return unit  # weather reports give QNH in hPa whatever the panel shows
    return str(getattr(units, kind, unit))


def _plain(entry: dataclasses.Field[Any], value: object) -> object:
    """Read a word or a count."""
    if isinstance(entry.default, str):
        return _text(value)
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise InputError(f"{value!r} is not a number", do="write a bare number")
    if isinstance(entry.default, int):
        if not isinstance(value, int):
            raise InputError(f"{value!r} is not a whole number", do="write a whole number")
        return value
    return float(value)


def _text(value: object) -> str:
    """Read a word."""
    if not isinstance(value, str):
        raise InputError(f"{value!r} is not text", do="put it in quotes")
    return value


def _example(unit: str, measurand: str) -> str:
    """Give an example of a quantity."""
    return f"12.5 {HOME[measurand] if unit == 'measurand' else unit}"


def _sheet(value: object, units: UnitsOut) -> tuple[tuple[float, float], ...]:
    """Read a maker's sheet: pasted text, or a list of pairs."""
    if isinstance(value, str):
        return parse_sheet(value, temperature_unit=units.temperature, resistance_unit=units.resistance)
    if not isinstance(value, list) or not all(isinstance(pair, list) and len(pair) == 2 for pair in value):
        raise InputError(
            "a sheet is a list of pairs", do='write sheet = [["25 degC", "1800 ohm"], …] or paste its text'
        )
    return check_sheet(
        tuple(
            (
                parse_quantity(temperature, units.temperature, "temperature"),
                parse_quantity(resistance, units.resistance, "resistance"),
            )
            for temperature, resistance in value
        )
    )


# --- writing --------------------------------------------------------------------------------------------------


def _line(setup: Setup, part: Part, entry: dataclasses.Field[Any], path: str, assumed: Mapping[str, Any]) -> str:
    """Write one value with its comment; assumed and unknown ones as a comment line."""
    key = key_of(entry.name)
    what = entry.metadata["what"]
    value = getattr(part, entry.name)
    name = f"{path}.{key}"
    if name in assumed:
        shown = _quoted(_blank(part, entry)) if value is None else _toml(setup, part, entry)
        stand_in = f" {assumed[name].value};" if value is None else ""
        return f"# {key} = {shown}  # {what}; assumed:{stand_in} {assumed[name].why}"
    if value is None or (value == entry.default and value in {"", ()}):
        blank = "[]" if value == () else _quoted(_blank(part, entry))
        return f"# {key} = {blank}  # {what}; not stated"
    if value == entry.default and name not in setup.stated:
        return f"# {key} = {_toml(setup, part, entry)}  # {what}; not needed here"
    return f"{key} = {_toml(setup, part, entry)}  # {what}"


def _blank(part: Part, entry: dataclasses.Field[Any]) -> str:
    """Give what stands in the place of a value to be filled in."""
    unit = unit_of(part, entry)
    return f"… {unit}" if unit else ""


def _toml(setup: Setup, part: Part, entry: dataclasses.Field[Any]) -> str:
    """Write one value in TOML so that reading it gives exactly the same value."""
    value = getattr(part, entry.name)
    if entry.name == "checks":
        measurand = getattr(part, "measurand", "")
        return "[" + ", ".join(_small(check, measurand) for check in value) + "]"
    if entry.name == "sheet":
        pairs = (f'["{_exact(t, "degC")}", "{_exact(r, "ohm")}"]' for t, r in value)
        return "[" + ", ".join(pairs) + "]"
    unit = unit_of(part, entry)
    if unit:
        preferred = _default_unit(entry.name, unit, setup.units)
        return f'"{_exact(value, preferred, difference=bool(entry.metadata["difference"]))}"'
    return _quoted(value) if isinstance(value, str) else text_of(part, entry)


def _small(check: MeterCheck | ReferenceCheck, measurand: str) -> str:
    """Write one check as a small table."""
    pieces = []
    for entry in dataclasses.fields(check):
        value = getattr(check, entry.name)
        if value is None:
            continue
        unit = str(entry.metadata["unit"])
        unit = HOME[measurand] if unit == "measurand" else unit
        text = f'"{_exact(value, unit, difference=entry.metadata["difference"])}"' if unit else _quoted(value)
        pieces.append(f"{key_of(entry.name)} = {text}")
    return "{" + ", ".join(pieces) + "}"


def _exact(value: float, unit: str, *, difference: bool = False) -> str:
    """Write a quantity in `unit` if that gives it back to the last bit, else in full in its home unit."""
    text = format_quantity(value, unit, difference=difference)
    if parse_quantity(text, difference=difference) == value:
        return text
    home = HOME[dimension(unit)]
    return f"{from_si(value, home)!r} {'ratio' if home == '1' else home}"


def _quoted(text: str) -> str:
    """Write a TOML string."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def _bare(key: str) -> str:
    """Write a key of a table heading, quoted where TOML asks for it."""
    return key if re.fullmatch(r"[A-Za-z0-9_\-]+", key) else _quoted(key)
