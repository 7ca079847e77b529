"""One bench session as it was written down: readings in time, untouched, with where each stands in the file."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from sensorcal.errors import InputError


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One column of the file: its heading as typed, what it holds, and the unit it was read in.

    `holds` is one of 'time', 'point', 'reference', 'reference_id', 'signal', 'range', 'current', 'immersion',
    'direction', 'supply', 'note' or 'other' (kept verbatim). `name` is the probe of a signal, the identifier of a
    reference, and else the heading.
    """

    heading: str
    holds: str
    name: str = ""
    unit: str = ""
    unit_assumed: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Dialect:
    """How the file was written."""

    delimiter: str = ","
    decimal: str = "."
    encoding: str = "utf-8"
    byte_order_mark: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Note:
    """Something the reader of a run understood without being told, for the user to weigh."""

    text: str
    file_row: int | None = None
    column: str = ""

    def __str__(self) -> str:
        where = ", ".join(part for part in (f"row {self.file_row}" if self.file_row else "", self.column) if part)
        return f"{where}: {self.text}" if where else self.text


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """One row of a run; a blank cell is None or ''.

    Parameters
    ----------
    file_row : int
        Row in the file, counted from 1 as a spreadsheet does.
    time_s : float, optional
        Seconds since midnight of the first day, or as typed where the column is in seconds.
    point : str
        Label of the point to which the row belongs.
    reference : float, optional
        What the reference showed, in degC or Pa.
    fixed : str
        'ice' or 'steam' where a fixed point stands by name in place of a number.
    reference_id : str
        Which reference it was.
    signals : mapping of str to float
        Probe tag to ohm, V or ratio. A probe without a reading in this row is absent.
    range_ohm, current_a, immersion_m, supply_v : float, optional
        Meter range, test current, immersed length, supply of the transducer.
    direction : str
        'up', 'down' or ''.
    note : str
        As typed.
    other : mapping of str to str
        Cells of unknown columns, verbatim.
    """

    file_row: int = 0
    time_s: float | None = None
    point: str = ""
    reference: float | None = None
    fixed: str = ""
    reference_id: str = ""
    signals: Mapping[str, float] = field(default_factory=dict)
    range_ohm: float | None = None
    current_a: float | None = None
    immersion_m: float | None = None
    direction: str = ""
    supply_v: float | None = None
    note: str = ""
    other: Mapping[str, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Copy the mappings and refuse two references in one."""
        object.__setattr__(self, "signals", dict(self.signals))
        object.__setattr__(self, "other", dict(self.other))
        if self.fixed not in {"", "ice", "steam"}:
            raise InputError(f"{self.fixed!r} is not a fixed point", do="write 'ice' or 'steam'")
        if self.fixed and self.reference is not None:
            raise InputError("a row holds a fixed point by name and a number", do="keep one of the two")

    @property
    def has_reference(self) -> bool:
        """Whether the row says what the reference was."""
        return self.reference is not None or bool(self.fixed)


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """One session at the bench.

    Parameters
    ----------
    readings : tuple of Reading
        The rows, in the order of the file.
    measurand : str
        'temperature' (references in degC) or 'pressure' (Pa).
    signal_kinds : mapping of str to str
        Probe tag to 'resistance' (ohm), 'voltage' (V) or 'ratio', in the order of the columns.
    columns : tuple of Column
        The columns as read.
    comments : tuple of (int, str)
        Comment lines with their file rows.
    cells : tuple of (int, tuple of str)
        Every row as entered, with its file row.
    dialect : Dialect
        How the file was written.
    notes : tuple of Note
        What was understood without being told.
    file, sha256 : str
        Name of the file and hash of its bytes; empty for a run made in memory.
    date : str
        ISO date of the first row where the clock column gives one.
    """

    readings: tuple[Reading, ...]
    measurand: str = "temperature"
    signal_kinds: Mapping[str, str] = field(default_factory=dict)
    columns: tuple[Column, ...] = ()
    comments: tuple[tuple[int, str], ...] = ()
    cells: tuple[tuple[int, tuple[str, ...]], ...] = ()
    dialect: Dialect = Dialect()
    notes: tuple[Note, ...] = ()
    file: str = ""
    sha256: str = ""
    date: str = ""

    def __post_init__(self) -> None:
        """Copy the mapping; name a kind for every probe that has a reading."""
        kinds = dict(self.signal_kinds)
        for reading in self.readings:
            for name in reading.signals:
                kinds.setdefault(name, "resistance")
        object.__setattr__(self, "signal_kinds", kinds)
        if self.measurand not in {"temperature", "pressure"}:
            raise InputError(f"{self.measurand!r} is not a measurand", do="write 'temperature' or 'pressure'")

    @property
    def probes(self) -> tuple[str, ...]:
        """Tags of the probes, in the order of the columns."""
        return tuple(self.signal_kinds)

    def of_probe(self, name: str) -> tuple[Reading, ...]:
        """Give the rows in which that probe has a reading.

        Examples
        --------
        >>> run = Run(readings=(Reading(fixed="ice", signals={"P1": 5230.0}),))
        >>> run.probes, len(run.of_probe("P1"))
        (('P1',), 1)
        """
        if name not in self.signal_kinds:
            known = ", ".join(self.probes) or "none"
            raise InputError(f"no probe {name} in this run", do=f"choose from {known}", file=self.file)
        return tuple(reading for reading in self.readings if name in reading.signals)
