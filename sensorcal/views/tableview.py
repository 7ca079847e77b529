"""A monitor table as a page needs it: texts as they are keyed in, and the error that was computed elsewhere."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from sensorcal.units import to_si

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from sensorcal.installed.table import MonitorTable

    Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class RowView:
    """One row: both entries as keyed, its temperature in °C, and what is to be said of it."""

    signal: str
    value: str
    temperature_c: float
    inside: bool = True
    extrapolated: bool = False
    redline: bool = False


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TableView:
    """What the pages print of a monitor table.

    Parameters
    ----------
    signal_name : str
        What the monitor takes, in words: 'resistance', 'voltage at the input'.
    signal_unit, value_unit : str
    interpolation, past_ends : str
    low_c, high_c : float
        Range the table was made for, °C.
    worst_error_c, worst_at_c : float
        Largest error between the rows and where it is, °C.
    bound_c : float or None
        Error below which no table of so many rows can come, °C.
    even_worst_c : float or None
        Worst error of evenly spaced rows, °C.
    error_at_c, error_c, even_error_c : array
        Error curves, °C.
    notes : tuple of str
    """

    rows: tuple[RowView, ...]
    signal_name: str
    signal_unit: str
    value_unit: str
    interpolation: str
    past_ends: str
    low_c: float
    high_c: float
    worst_error_c: float
    worst_at_c: float
    error_at_c: Floats
    error_c: Floats
    bound_c: float | None = None
    even_worst_c: float | None = None
    even_error_c: Floats | None = None
    notes: tuple[str, ...] = ()


def table_view(table: MonitorTable | TableView, redline_c: float | None = None) -> TableView:
    """Put a monitor table into the words of a page; a view is handed on as it is.

    Parameters
    ----------
    table : MonitorTable or TableView
    redline_c : float, optional
        The row at this temperature, °C, is set off from the others.
    """
    if isinstance(table, TableView):
        return table
    monitor = table.monitor
    circuit = monitor.circuit_text
    rows = []
    for signal, value, extrapolated, outside in zip(
        table.signal.tolist(), table.value.tolist(), table.extrapolated, table.outside, strict=True
    ):
        temperature_c = float(to_si(value, monitor.value_unit))
        rows.append(
            RowView(
                signal=monitor.signal_text(signal),
                value=monitor.value_text(value),
                temperature_c=temperature_c,
                inside=not outside,
                extrapolated=extrapolated,
                redline=redline_c is not None and abs(temperature_c - redline_c) < 1e-6,
            )
        )
    return TableView(
        rows=tuple(rows),
        signal_name=monitor.signal_name + (f" ({circuit})" if circuit else ""),
        signal_unit=monitor.signal_unit,
        value_unit=monitor.value_unit,
        interpolation=monitor.interpolation,
        past_ends=monitor.past_ends,
        low_c=table.from_c,
        high_c=table.to_c,
        worst_error_c=abs(table.worst_error_c),
        worst_at_c=table.worst_at_c,
        bound_c=table.bound_c,
        even_worst_c=abs(table.even_worst_error_c),
        error_at_c=table.error_at_c,
        error_c=table.error_c,
        even_error_c=table.even_error_c,
        notes=table.notes,
    )
