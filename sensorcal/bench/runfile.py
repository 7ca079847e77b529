"""A run as a spreadsheet file: read with every bad cell named by row and column, written in any dialect."""

from __future__ import annotations

import datetime as dt
import hashlib
import re
from collections.abc import Callable, Sequence
from dataclasses import replace
from operator import attrgetter
from pathlib import Path
from typing import Any

from sensorcal.bench.clock import after, clock_s, clock_text, days_between
from sensorcal.bench.columns import read_headings, with_units_row
from sensorcal.bench.dialect import BLANKS, decimal_mark, number_in, read_sheet
from sensorcal.bench.run import Column, Dialect, Note, Reading, Run
from sensorcal.errors import FileError, InputError
from sensorcal.setup import Setup
from sensorcal.units import dimension, from_si, parse_quantity, parse_unit

_FIXED = {
    "ice": "ice", "ice point": "ice", "icepoint": "ice", "melting ice": "ice",
    "steam": "steam", "steam point": "steam", "boil": "steam", "boiling": "steam", "boiling point": "steam",
    "vapour": "steam", "vapor": "steam",
}  # fmt: skip
_NUMBERS = frozenset({"time", "reference", "signal", "range", "current", "immersion", "supply"})
_UP = frozenset({"up", "rising", "rise", "+", "increasing"})
_DOWN = frozenset({"down", "falling", "fall", "decreasing"})


def read_run(path: str | Path, setup: Setup | None = None) -> Run:
    """Read one session from its CSV file.

    Parameters
    ----------
    path : path
        Separated by comma, semicolon or tab, with decimal point or comma, as a spreadsheet writes it. The
        heading row names what each column holds and its unit; rows that begin with # are comments.
    setup : Setup, optional
        Its probes and references name columns, and its units stand in where a heading has none.

    Returns
    -------
    Run
        Every row, as read and as entered; unknown columns verbatim; what was understood without being told
        is in its notes.

    Raises
    ------
    FileError
        Naming file, row, column, what is wrong and what to do; the first bad cell rules.
    """
    file = Path(path)
    try:
        data = file.read_bytes()
    except FileNotFoundError:
        raise FileError("there is no such file", do="check the name", file=str(path)) from None
    except OSError as error:
        raise FileError(f"it cannot be read ({error.strerror})", do="check the name", file=str(path)) from None
    return run_from_bytes(data, setup, file=file.name)


def run_from_bytes(data: bytes, setup: Setup | None = None, *, file: str = "") -> Run:
    r"""Read one session from the bytes of its CSV file.

    Examples
    --------
    >>> run = run_from_bytes("time;reference [°C];P1 [kΩ]\n19:05;ice;5,23\n".encode())
    >>> run.readings[0].signals, run.readings[0].fixed
    ({'P1': 5230.0}, 'ice')
    """
    setup = setup or Setup()
    sheet = read_sheet(data, file)
    (heading_row, heading), *rows = sheet.rows
    columns = read_headings(heading, setup, file=file, row=heading_row)
    if rows:
        with_units = with_units_row(columns, rows[0][1])
        if with_units is not None:
            columns, rows = with_units, rows[1:]
    if not rows:
        raise FileError("it has a heading but no readings", do="put one row a reading", file=file)
    kinds = {dimension(column.unit) for column in columns if column.holds == "reference"}
    if len(kinds) > 1:
        raise FileError("it has references of temperature and of pressure", do="keep one run for each", file=file)
    numbered = [index for index, column in enumerate(columns) if column.holds in _NUMBERS]
    cells = [row[index] for _, row in rows for index in numbered if index < len(row)]
    dialect = replace(sheet.dialect, decimal=decimal_mark(cells, sheet.dialect.delimiter, file))
    reader = _Reader(columns, dialect, file)
    readings = tuple(reader.reading(number, cells) for number, cells in rows)
    notes = [
        Note(text=f"no unit in the heading: read as {column.unit}", file_row=heading_row, column=column.heading)
        for column in columns
        if column.unit_assumed and column.holds != "time"
    ]
    return Run(
        readings=readings,
        measurand=kinds.pop() if kinds else "temperature",
        signal_kinds={c.name: dimension(c.unit) for c in columns if c.holds == "signal"},
        columns=columns,
        comments=sheet.comments,
        cells=sheet.rows,
        dialect=dialect,
        notes=(*notes, *reader.notes),
        file=file,
        sha256=hashlib.sha256(data).hexdigest(),
        date=reader.date,
    )


class _Reader:
    """Reads the rows in order, because a clock needs the row before it."""

    def __init__(self, columns: tuple[Column, ...], dialect: Dialect, file: str) -> None:
        self._columns = columns
        self._dialect = dialect
        self._file = file
        self._last_s: float | None = None
        self.date = ""
        self.notes: list[Note] = []

    def reading(self, row: int, cells: Sequence[str]) -> Reading:
        """Read one row."""
        values: dict[str, Any] = {"file_row": row}
        signals: dict[str, float] = {}
        other: dict[str, str] = {}
        for index, cell in enumerate(cells):
            if index >= len(self._columns) or not self._columns[index].heading:
                self._beyond(row, cell)
                continue
            column = self._columns[index]
            if column.holds == "other":
                other[column.heading] = cell
            elif column.holds in {"point", "note"}:
                values[column.holds] = cell
            elif column.holds == "reference_id":
                values.setdefault("reference_id", "")
                values["reference_id"] = cell or values["reference_id"]
            elif cell not in BLANKS or (column.holds == "direction" and cell):
                self._cell(row, column, cell, values, signals)
        return Reading(**values, signals=signals, other=other)

    def _beyond(self, row: int, cell: str) -> None:
        """Refuse a filled cell that has no heading."""
        if not cell:
            return
        do = "head the column, or empty the cell"
        if self._dialect.delimiter == ",":
            do += "; decimal commas in a comma-separated file need quotation marks or semicolons between cells"
        raise FileError(f"{cell!r} stands in a column without a heading", do=do, file=self._file, row=row)

    def _cell(self, row: int, column: Column, cell: str, values: dict[str, Any], signals: dict[str, float]) -> None:
        """Read one filled cell into its place."""
        try:
            if column.holds == "signal":
                signals[column.name] = self._quantity(column, cell)
            elif column.holds == "reference":
                self._reference(column, cell, values)
            elif column.holds == "time":
                values["time_s"] = self._time(row, column, cell)
            elif column.holds == "direction":
                values["direction"] = _direction(cell)
            else:
                name = {"range": "range_ohm", "current": "current_a", "immersion": "immersion_m", "supply": "supply_v"}
                values[name[column.holds]] = self._quantity(column, cell)
        except InputError as error:
            raise FileError(error.what, do=error.do, file=self._file, row=row, column=column.heading) from None

    def _quantity(self, column: Column, cell: str) -> float:
        """Read a number in the column's unit, or in its own where the cell names one."""
        value, unit_text = number_in(cell, self._dialect.decimal)
        kind = dimension(column.unit)
        unit = column.unit
        if unit_text:
            try:
                unit = parse_unit("K" if unit_text == "k" and kind == "temperature" else unit_text)
            except InputError:
                raise InputError(
                    f"{cell!r} is not a number with a unit", do="type the number, and remarks in the note column"
                ) from None
        result = parse_quantity(value, unit, kind)
        if column.holds == "signal" and kind == "resistance" and result <= 0:
            raise InputError(f"{cell!r} is no resistance of a probe", do="leave it blank if nothing was read")
        if kind == "temperature" and result < -273.15:
            raise InputError(f"{cell!r} is below absolute zero", do="check the number and the unit of the heading")
        return result

    def _reference(self, column: Column, cell: str, values: dict[str, Any]) -> None:
        """Read a reference: a fixed point by name, or a number."""
        if "reference" in values or "fixed" in values:
            raise InputError(f"{cell!r} is a second reference in one row", do="give it a row of its own")
        word = " ".join(cell.lower().replace("_", " ").replace("-", " ").split())
        if word in _FIXED:
            values["fixed"] = _FIXED[word]
        elif word[:1].isalpha() and dimension(column.unit) == "pressure":
            raise InputError(
                f"{cell!r} is no pressure", do="type the number; words such as 'open' or 'leak' go in a column 'point'"
            )
        elif word[:1].isalpha():
            raise InputError(f"{cell!r} is no fixed point", do="write 'ice', 'steam' or a number")
        else:
            values["reference"] = self._quantity(column, cell)
        if column.name and not values.get("reference_id"):
            values["reference_id"] = column.name

    def _time(self, row: int, column: Column, cell: str) -> float:
        """Read the clock and put it on the run's time line."""
        time_s, date = clock_s(cell, column.unit, self._dialect.decimal)
        if date:
            self.date = self.date or date
            time_s += days_between(self.date, date)
        elif ":" in cell and self._last_s is not None:
            time_s, back = after(self._last_s, time_s)
            if back:
                self.notes.append(
                    Note(text=f"{cell} is earlier than the row above", file_row=row, column=column.heading)
                )
        self._last_s = time_s
        return time_s


def _direction(cell: str) -> str:
    """Read 'up' or 'down'."""
    word = cell.lower()
    if word in _UP:
        return "up"
    if word in _DOWN or word == "-":
        return "down"
    raise InputError(f"{cell!r} is no direction", do="write 'up' or 'down'")


def write_run(
    run: Run,
    path: str | Path,
    *,
    dialect: Dialect | None = None,
    temperature_unit: str = "degC",
    resistance_unit: str = "ohm",
    pressure_unit: str = "kPa",
) -> None:
    """Write a run as a CSV file that `read_run` reads back to the same numbers.

    Parameters
    ----------
    run : Run
        The session.
    path : path
        File to write; lines end in a plain line feed on every system.
    dialect : Dialect, optional
        Separator, decimal mark and encoding; comma, point and UTF-8 when left out.
    temperature_unit, resistance_unit, pressure_unit : str, optional
        Units of the columns, named in the headings.

    Raises
    ------
    InputError
        When separator and decimal mark are the same, or a row has no time line that can be written.
    """
    Path(path).write_bytes(
        run_bytes(
            run,
            dialect=dialect,
            temperature_unit=temperature_unit,
            resistance_unit=resistance_unit,
            pressure_unit=pressure_unit,
        )
    )


def run_bytes(
    run: Run,
    *,
    dialect: Dialect | None = None,
    temperature_unit: str = "degC",
    resistance_unit: str = "ohm",
    pressure_unit: str = "kPa",
) -> bytes:
    """Give the bytes that `write_run` writes.

    Examples
    --------
    >>> run = Run(readings=(Reading(fixed="ice", signals={"P1": 5230.0}),))
    >>> print(run_bytes(run).decode(), end="")
    reference [degC],P1 [ohm]
    ice,5230.0
    """
    dialect = dialect or Dialect()
    if dialect.delimiter == dialect.decimal:
        raise InputError("separator and decimal mark are the same", do="take ';' or a tab with a decimal comma")
    units = {"temperature": temperature_unit, "resistance": resistance_unit, "pressure": pressure_unit}
    columns = _columns(run, units)
    lines = [text for _, text in run.comments]
    lines.append(dialect.delimiter.join(_quoted(heading, dialect) for heading, _ in columns))
    for number, reading in enumerate(run.readings, start=1):
        cells = [_quoted(cell(reading), dialect) for _, cell in columns]
        if not any(cells):
            raise InputError(f"reading {number} of the run is empty", do="take it out, or put a note in it")
        lines.append(dialect.delimiter.join(cells))
    text = "\n".join(lines) + "\n"
    mark = "\ufeff" if dialect.byte_order_mark else ""
    return (mark + text).encode(dialect.encoding)


_Cell = Callable[[Reading], "str | float"]


def _columns(run: Run, units: dict[str, str]) -> list[tuple[str, _Cell]]:
    """Choose the columns a run needs, each with its heading and what stands in it."""
    columns: list[tuple[str, _Cell]] = []
    used = run.readings
    if any(r.time_s is not None for r in used):
        columns.append(_time_column(run))
    if any(r.point for r in used):
        columns.append(("point", lambda r: r.point))
    unit = units[run.measurand]

    def reference(r: Reading) -> str | float:
        return r.fixed if r.reference is None else from_si(r.reference, unit)

    columns.append((f"reference [{unit}]", reference))
    if any(r.reference_id for r in used):
        columns.append(("reference_id", lambda r: r.reference_id))
    others = {"voltage": "V", "ratio": "1"}
    for name, kind in run.signal_kinds.items():
        columns.append(_number(name, units.get(kind) or others[kind], _signal(name)))
    for name, unit_, field in (
        ("range", "ohm", "range_ohm"),
        ("current", "A", "current_a"),
        ("immersion", "m", "immersion_m"),
        ("supply", "V", "supply_v"),
    ):
        if any(getattr(r, field) is not None for r in used):
            columns.append(_number(name, unit_, attrgetter(field)))
    columns += [(name, attrgetter(name)) for name in ("direction", "note") if any(getattr(r, name) for r in used)]
    columns += [(heading, _other(heading)) for heading in dict.fromkeys(h for r in used for h in r.other)]
    return columns


def _signal(name: str) -> Callable[[Reading], float | None]:
    """Give what picks one probe's signal from a row."""
    return lambda reading: reading.signals.get(name)


def _other(heading: str) -> _Cell:
    """Give what picks an unknown column's cell from a row."""
    return lambda reading: reading.other.get(heading, "")


def _time_column(run: Run) -> tuple[str, _Cell]:
    """Write the time as a date and clock where the run has a date, else in seconds."""
    if run.date:
        return (
            "time",
            lambda r: "" if r.time_s is None else f"{_day(run.date, r.time_s)} {clock_text(r.time_s % 86400)}",
        )
    return "time [s]", lambda r: "" if r.time_s is None else r.time_s


def _day(date: str, time_s: float) -> str:
    """Give the ISO date on which a time of the run falls."""
    return (dt.date.fromisoformat(date) + dt.timedelta(days=time_s // 86400)).isoformat()


def _number(name: str, unit: str, value: Callable[[Reading], float | None]) -> tuple[str, _Cell]:
    """Make a column of numbers in `unit`."""

    def cell(reading: Reading) -> str | float:
        found = value(reading)
        return "" if found is None else from_si(found, unit)

    return f"{name} [{unit}]", cell


def _quoted(cell: str | float, dialect: Dialect) -> str:
    """Write one cell: a number in full with the file's decimal mark, text in quotation marks where it needs them."""
    if isinstance(cell, float):
        text = repr(cell).replace(".", dialect.decimal)
        # '5,234' alone could be read as five thousand; '5,2340' cannot.
        return f"{text}0" if dialect.decimal == "," and re.fullmatch(r"-?\d{1,3},\d{3}", text) else text
    if any(sign in cell for sign in (dialect.delimiter, '"', "\n", "\r")) or cell.startswith("#"):
        return '"' + cell.replace('"', '""') + '"'
    return cell
