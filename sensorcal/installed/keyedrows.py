"""A keyed table as a CSV: the rows that stand in the monitor now, as `sensorcal table` wrote them or as read back."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sensorcal import units
from sensorcal.bench.dialect import decimal_mark, number_in, read_sheet
from sensorcal.errors import FileError, InputError, TableError
from sensorcal.installed.chainparts import FloatArray
from sensorcal.installed.conversion import Lines, Past, TableConversion
from sensorcal.monitorsetup import MonitorSetup, PressureInput

COUNTS = "counts"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class KeyedRows:
    """Rows as they stand in the monitor.

    Attributes
    ----------
    signal, value : ndarray, shape (n,)
        In ohm, V, ratio or counts; and in degC or Pa.
    signal_unit, value_unit : str
        As the file named them; 'counts' and '1' (a ratio) are signals too.
    """

    signal: FloatArray
    value: FloatArray
    signal_unit: str
    value_unit: str

    def __post_init__(self) -> None:
        """Copy the arrays and make them read-only."""
        for name in ("signal", "value"):
            copy = np.array(getattr(self, name), dtype=np.float64)
            copy.setflags(write=False)
            object.__setattr__(self, name, copy)


def keyed_rows(data: bytes, file: str = "") -> KeyedRows:
    r"""Read the rows of a table from the bytes of a CSV with the columns 'signal [unit]' and 'value [unit]'.

    Parameters
    ----------
    data : bytes
    file : str, optional
        Name for the message.

    Raises
    ------
    FileError
        A column is missing or has no unit, or an entry is no number; file, row and column are named.

    Examples
    --------
    >>> rows = keyed_rows(b"row,signal [ohm],value [degF]\n1,98,248\n2,5230,32\n")
    >>> rows.signal.tolist(), rows.value.round(3).tolist()
    ([98.0, 5230.0], [120.0, 0.0])
    """
    sheet = read_sheet(data, file)
    _, heads = sheet.rows[0]
    body = sheet.rows[1:]
    signal_at, signal_unit = _column(heads, "signal", file)
    value_at, value_unit = _column(heads, "value", file)
    cells = [cells[at] for _, cells in body for at in (signal_at, value_at) if at < len(cells)]
    decimal = decimal_mark(cells, sheet.dialect.delimiter, file)
    columns: tuple[list[float], list[float]] = ([], [])
    for row, entries in body:
        for into, at in zip(columns, (signal_at, value_at), strict=True):
            cell = entries[at] if at < len(entries) else ""
            try:
                number, rest = number_in(cell, decimal)
            except InputError as error:
                raise FileError(error.what, do=error.do, file=file, row=row, column=heads[at]) from None
            if rest:
                raise FileError(
                    f"{cell!r} is not a bare number",
                    do="write the unit in the heading only",
                    file=file,
                    row=row,
                    column=heads[at],
                )
            into.append(number)
    if len(columns[0]) < 2:
        raise FileError("a table needs two rows or more", do="write every row that stands in the monitor", file=file)
    signal = np.array(columns[0])
    return KeyedRows(
        signal=signal if signal_unit == COUNTS else units.to_si(signal, signal_unit),
        value=units.to_si(np.array(columns[1]), value_unit),
        signal_unit=signal_unit,
        value_unit=value_unit,
    )


def temperature_conversion(
    rows: KeyedRows, monitor: MonitorSetup, *, pull_ohm: float, supply_v: float
) -> TableConversion:
    """Take keyed rows of a temperature for the conversion of a chain; arguments as the monitor assumes them.

    Raises
    ------
    TableError
        Rows of a pressure, or of another signal than the monitor's description says.
    """
    _measures(rows, "temperature")
    kind = {"resistance": "resistance", "voltage": "voltage", "ratio": "ratio"}[units.dimension(rows.signal_unit)]
    if kind != monitor.input:
        raise TableError(
            f"the keyed rows hold a {kind}, the monitor of the setup takes a {monitor.input}",
            do="correct input under [monitor], or take the right table",
        )
    lines: Lines = "ln signal" if monitor.interpolation == "linear in ln signal" else "signal"
    return TableConversion(
        signal=rows.signal,
        reading=rows.value,
        reads=kind,  # type: ignore[arg-type]  # one of the three words
        lines=lines,
        past_ends=_past(monitor.past_ends),
        pull_ohm=pull_ohm,
        supply_v=supply_v,
        pull_down=monitor.arrangement == "pull-down",
    )


def pressure_rows_conversion(rows: KeyedRows, monitor: PressureInput) -> TableConversion:
    """Take keyed rows of a pressure for the conversion of a chain; two rows of a two-constant input go on beyond.

    Raises
    ------
    TableError
        Rows of a temperature, or of another signal than the pressure input's description says.
    """
    _measures(rows, "pressure")
    unit = rows.signal_unit
    kind = COUNTS if unit == COUNTS else {"voltage": "voltage", "ratio": "ratio"}.get(units.dimension(unit), unit)
    if kind != monitor.signal:
        raise TableError(
            f"the keyed rows hold {kind}, the pressure input of the setup takes {monitor.signal}",
            do="correct signal under [pressure_input], or take the right table",
        )
    full = {COUNTS: float(monitor.counts_full), "voltage": monitor.supply_v}.get(kind, 1.0)
    straight = monitor.form == "two constants"
    return TableConversion(
        signal=rows.signal / full,
        reading=rows.value,
        reads="ratio",
        past_ends="extends" if straight else _past(monitor.past_ends),
        supply_v=monitor.supply_v,
    )


def _measures(rows: KeyedRows, wanted: str) -> None:
    found = units.dimension(rows.value_unit)
    if found != wanted:
        raise TableError(f"the keyed rows show a {found}, this channel a {wanted}", do="take the right table")


def _past(word: str) -> Past:
    return {"holds": "holds", "extends": "extends", "blank": "blank"}.get(word, "unknown")  # type: ignore[return-value]


def _column(heads: tuple[str, ...], name: str, file: str) -> tuple[int, str]:
    """Find a column by its name and the unit in its heading; a signal without one is a ratio."""
    for at, head in enumerate(heads):
        bare = head.strip().lower()
        if not bare.startswith(name):
            continue
        if name == "signal" and bare in {"signal [counts]", "signal (counts)", "signal counts"}:
            return at, COUNTS
        try:
            _, unit = units.parse_header(head)
        except InputError as error:
            raise FileError(error.what, do=error.do, file=file, row=1, column=head) from None
        if not unit and name == "value":
            raise FileError(
                "the column of shown values has no unit", do=f"write it as '{name} [degC]'", file=file, column=head
            )
        return at, unit or "1"
    raise FileError(
        f"there is no column {name!r}", do="head the columns 'signal [ohm]' and 'value [degC]'", file=file
    )
