"""Which column holds what: trade words, probe tags and units in the heading row of a run."""

from __future__ import annotations

import re
from collections.abc import Sequence

from sensorcal.bench.run import Column
from sensorcal.errors import FileError, InputError
from sensorcal.setup import Setup
from sensorcal.units import dimension, parse_header, parse_unit

_WORDS: dict[str, tuple[str, ...]] = {
    "time": ("time", "clock", "clock time", "when", "hour", "date", "date time", "timestamp"),
    "point": ("point", "step", "label", "stop", "point label", "plateau"),
    "reference": (
        "reference", "ref", "bath", "temperature", "temp", "thermometer", "standard", "true", "gauge", "pressure",
        "reference temperature", "bath temperature", "reference pressure", "gauge pressure", "manometer",
        "u tube", "water column",
    ),
    "reference_id": (
        "reference id", "ref id", "which reference", "instrument", "thermometer id", "gauge id", "reference tag",
    ),
    "range": ("range", "meter range", "ohm range"),
    "current": ("current", "test current", "meter current"),
    "immersion": ("immersion", "immersed", "immersed length", "depth", "immersion depth"),
    "direction": ("direction", "up down", "rising falling", "way"),
    "supply": ("supply", "supply volts", "supply voltage", "v supply", "vs", "excitation"),
    "note": ("note", "notes", "comment", "comments", "remark", "remarks"),
}  # fmt: skip
_HOLDS = {word: holds for holds, words in _WORDS.items() for word in words}
_TAG = re.compile(r"[A-Z][0-9]{1,2}")
_CLOCKS = frozenset({"h:mm", "hh:mm", "h:mm:ss", "hh:mm:ss", "m:ss", "mm:ss", "min:s", "hms", "iso"})
_DIMENSIONS: dict[str, tuple[str, ...]] = {
    "time": ("time",),
    "reference": ("temperature", "pressure"),
    "signal": ("resistance", "voltage", "ratio"),
    "range": ("resistance",),
    "current": ("current",),
    "immersion": ("length",),
    "supply": ("voltage",),
}
_KIND_UNIT = {"resistance": "ohm", "voltage": "V", "ratio": "1"}


def read_headings(cells: Sequence[str], setup: Setup, *, file: str = "", row: int = 1) -> tuple[Column, ...]:
    """Say what each column holds.

    Parameters
    ----------
    cells : sequence of str
        The heading row.
    setup : Setup
        Its probes and references name columns too; its units stand in where a heading has none.
    file, row : optional
        For the message.

    Returns
    -------
    tuple of Column
        One for each cell; headings nobody knows are kept as 'other'.

    Raises
    ------
    FileError
        When a column stands twice, a unit does not fit, or there is no probe or no reference.
    """
    columns = tuple(_column(cell, setup, file, row) for cell in cells)
    seen: dict[tuple[str, str], str] = {}
    for column in columns:
        if column.holds == "other":
            continue
        key = (column.holds, column.name if column.holds in {"signal", "reference"} else "")
        if key in seen:
            raise FileError(
                f"{seen[key]!r} and {column.heading!r} name the same thing",
                do="rename one of the two columns",
                file=file,
                row=row,
                column=column.heading,
            )
        seen[key] = column.heading
    held = {column.holds for column in columns}
    heads = ", ".join(repr(cell) for cell in cells if cell)
    if "signal" not in held:
        raise FileError(
            f"no probe column among {heads}", do="head it with the tag and unit, as in 'P1 [ohm]'", file=file, row=row
        )
    if "reference" not in held and "point" not in held:
        raise FileError(f"no reference column among {heads}", do="head it 'reference [degC]'", file=file, row=row)
    return columns


def with_units_row(columns: tuple[Column, ...], cells: Sequence[str]) -> tuple[Column, ...] | None:
    """Take the units from a second heading row, or give None when the row is no such row."""
    units: dict[int, str] = {}
    for index, cell in enumerate(cells):
        bare = cell.strip("[]() ")
        if not bare:
            continue
        if index >= len(columns) or any(sign.isdigit() for sign in bare):
            return None
        if columns[index].holds in {"time", "point", "note", "other", "reference_id", "direction"}:
            continue
        try:
            units[index] = parse_unit(bare)
        except InputError:
            return None
    if not units:
        return None
    return tuple(
        Column(heading=c.heading, holds=c.holds, name=c.name, unit=units[i]) if i in units else c
        for i, c in enumerate(columns)
    )


def _column(heading: str, setup: Setup, file: str, row: int) -> Column:
    """Say what one column holds."""
    if not heading:
        return Column(heading="", holds="other")
    clock = re.fullmatch(r"(?i)(.*?)[\[(]\s*([a-z:]+)\s*[\])]", heading)
    if clock and clock.group(2).lower() in _CLOCKS and _HOLDS.get(_words(clock.group(1))) == "time":
        return Column(heading=heading, holds="time", unit=clock.group(2).lower())
    problem: InputError | None = None
    try:
        name, unit = parse_header(heading)
    except InputError as error:
        name, unit, problem = re.split(r"[\[(]", heading)[0].strip(), "", error
    column = _known(name, unit, heading, setup)
    if column is None:
        return Column(heading=heading, holds="other", name=heading)
    if problem is not None:
        raise FileError(problem.what, do=problem.do, file=file, row=row, column=heading)
    fitting = _DIMENSIONS.get(column.holds)
    if column.unit and fitting and dimension(column.unit) not in fitting:
        raise FileError(
            f"{column.unit} is no unit of {' or '.join(fitting)}",
            do="correct the unit in the heading",
            file=file,
            row=row,
            column=heading,
        )
    return column


def _known(name: str, unit: str, heading: str, setup: Setup) -> Column | None:
    """Recognise a probe, a reference or a trade word; None for a heading nobody knows."""
    probe = next((tag for tag in setup.probes if tag.casefold() == name.casefold()), "")
    if not probe and _TAG.fullmatch(name.upper()) and name not in setup.references:
        probe = name.upper()
    if probe:
        kind = setup.probe(probe).signal
        default = setup.units.resistance if kind == "resistance" else _KIND_UNIT[kind]
        return Column(heading=heading, holds="signal", name=probe, unit=unit or default, unit_assumed=not unit)
    reference = next((tag for tag in setup.references if tag.casefold() == name.casefold()), "")
    holds = "reference" if reference else _HOLDS.get(_words(name), "")
    if not holds:
        return None
    if holds == "reference":
        pressure = _words(name) in {"pressure", "gauge", "reference pressure", "gauge pressure", "manometer"} or (
            bool(reference) and setup.reference(reference).measurand == "pressure"
        )
        default = setup.units.pressure if pressure else setup.units.temperature
        return Column(heading=heading, holds=holds, name=reference, unit=unit or default, unit_assumed=not unit)
    defaults = {"range": "ohm", "current": "mA", "immersion": "mm", "supply": "V"}
    return Column(
        heading=heading,
        holds=holds,
        name=heading,
        unit=unit or defaults.get(holds, ""),
        unit_assumed=not unit and holds in defaults,
    )


def _words(name: str) -> str:
    """Bring a heading to plain lower-case words."""
    return " ".join(re.sub(r"[_\-./]+", " ", name).lower().split())
