"""Compare the table read back from the monitor with the one that was made: row, size in degC, likely slip."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from sensorcal import units
from sensorcal.errors import TableError
from sensorcal.installed.table import FloatArray, MonitorTable, read_rows


@dataclass(frozen=True, slots=True, kw_only=True)
class RowSlip:
    """One row that was keyed differently.

    Attributes
    ----------
    row : int
        Counted from 1.
    column : {'signal', 'value'}
    made, keyed : str
        Entries as texts of the column's step.
    likely : str
        The likely slip, or 'no known slip'.
    true_c, shown_c : float
        The temperature at which the slip alone does most harm, and what the monitor then shows, degC.
    """

    row: int
    column: str
    made: str
    keyed: str
    likely: str
    true_c: float
    shown_c: float

    @property
    def error_c(self) -> float:
        """Shown minus true, degC."""
        return self.shown_c - self.true_c

    def sentence(self) -> str:
        """Say it in one line: 'row 7: true 109.4 shows 97.6, 11.8 cold, digits transposed'."""
        side = "hot" if self.error_c > 0 else "cold"
        return (
            f"row {self.row}: {self.made} keyed as {self.keyed}: true {self.true_c:.1f} shows "
            f"{self.shown_c:.1f}, {abs(self.error_c):.1f} {side}, {self.likely}"
        )


def read_back(table: MonitorTable, keyed_signal: ArrayLike, keyed_value: ArrayLike) -> list[RowSlip]:
    """Find every row whose keyed entries differ from the table, with the harm that each does by itself.

    Parameters
    ----------
    table : MonitorTable
        The table that was made; its own readings count as true.
    keyed_signal, keyed_value : array_like, shape (n,)
        The rows as the monitor lists them, in the table's order and units.

    Returns
    -------
    list of RowSlip
        By row; empty when all is as made.

    Raises
    ------
    TableError
        If the number of rows differs, or an entry is not a number.

    References
    ----------
    Reading back what was keyed: common practice, no source.
    """
    signal = np.asarray(keyed_signal, dtype=float)
    value = np.asarray(keyed_value, dtype=float)
    n = table.signal.size
    if signal.shape != (n,) or value.shape != (n,):
        raise TableError(
            f"{max(signal.size, value.size)} rows read back, but the table has {n}",
            do="look for a row left out or keyed twice",
        )
    if not (np.isfinite(signal).all() and np.isfinite(value).all()):
        raise TableError("an entry read back is not a number", do="read the row again")
    slips = []
    monitor = table.monitor
    for column, made, keyed, text, step in (
        ("signal", table.signal, signal, monitor.signal_text, monitor.signal_step),
        ("value", table.value, value, monitor.value_text, monitor.value_step),
    ):
        for row in np.flatnonzero(np.abs(made - keyed) > 1e-6 * step):
            x, y = table.signal.copy(), table.value.copy()
            (x if column == "signal" else y)[row] = keyed[row]
            true_c, shown_c = _worst(table, x, y, int(row))
            slips.append(
                RowSlip(
                    row=int(row) + 1,
                    column=column,
                    made=text(float(made[row])),
                    keyed=text(float(keyed[row])),
                    likely=likely_slip(made, keyed, int(row), text(float(made[row])), text(float(keyed[row]))),
                    true_c=true_c,
                    shown_c=shown_c,
                )
            )
    return sorted(slips, key=lambda slip: (slip.row, slip.column))


def keyed_in_order(table: MonitorTable, keyed_signal: ArrayLike, keyed_value: ArrayLike) -> bool:
    """Whether the keyed rows still run strictly one way in both columns, so that a monitor would take them."""
    rising = table.monitor.order == "ascending"
    steps = np.diff(np.asarray(keyed_signal, dtype=float)) * (1 if rising else -1)
    values = np.diff(np.asarray(keyed_value, dtype=float))
    return bool((steps > 0).all() and ((values > 0).all() or (values < 0).all()))


def _worst(table: MonitorTable, x: FloatArray, y: FloatArray, row: int) -> tuple[float, float]:
    """Where rows (x, y) differ most from the table, over the signals that a monitor would see."""
    made = np.argsort(table.signal)
    # A row out of order is searched as a monitor may: by the rows around it. Sorting stands for that.
    order = np.argsort(x, kind="stable")
    signal = np.unique(np.concatenate([table.signal, x[row : row + 1], np.linspace(*_ends(table), 2001)]))
    true = read_rows(table.monitor, table.signal[made], table.value[made], signal)
    x_keyed = x[order] + 1e-9 * table.monitor.signal_step * np.arange(x.size)  # two equal signals make a jump
    shown = read_rows(table.monitor, x_keyed, y[order], signal)
    apart = np.abs(shown - true)
    k = int(np.nanargmax(apart))
    unit = table.monitor.value_unit
    return float(units.to_si(float(true[k]), unit)), float(units.to_si(float(shown[k]), unit))


def _ends(table: MonitorTable) -> tuple[float, float]:
    return float(table.signal.min()), float(table.signal.max())


def likely_slip(made: FloatArray, keyed: FloatArray, row: int, made_text: str, keyed_text: str) -> str:
    """Name the slip that turns one entry of a column into the other.

    Parameters
    ----------
    made, keyed : ndarray, shape (n,)
        The column as made and as keyed.
    row : int
        Index of the entry.
    made_text, keyed_text : str
        The two entries as they stand on the page.

    Returns
    -------
    str
        'no known slip' where none is.

    Examples
    --------
    >>> likely_slip(np.array([98.0, 172.0]), np.array([98.0, 127.0]), 1, "172", "127")
    'digits transposed'
    """
    same = np.flatnonzero((made == keyed[row]) & (keyed == made[row]))
    if same.size:
        return f"rows {min(row, int(same[0])) + 1} and {max(row, int(same[0])) + 1} swapped"
    if made[row] == -keyed[row]:
        return "sign left out or added"
    a, b = (text.lstrip("-").replace(".", "") for text in (made_text, keyed_text))
    if keyed[row] != 0:
        power = np.log10(abs(made[row] / keyed[row])) if made[row] != 0 else 0.5
        if abs(power - round(power)) < 1e-9 and round(power) != 0:
            return "decimal point or a zero misplaced"
    if len(a) == len(b):
        differ = [k for k, (p, q) in enumerate(zip(a, b, strict=True)) if p != q]
        if len(differ) == 1:
            return "one digit wrong"
        if len(differ) == 2 and a[differ[0]] == b[differ[1]] and a[differ[1]] == b[differ[0]]:
            return "digits transposed"
    if _one_left_out(a, b):
        return "a digit left out"
    if _one_left_out(b, a):
        return "a digit keyed twice or added"
    near = [n for n in (row - 1, row + 1) if 0 <= n < made.size and made[n] == keyed[row]]
    if near:
        return f"the entry of row {near[0] + 1}"
    return "no known slip"


def _one_left_out(long: str, short: str) -> bool:
    return len(long) == len(short) + 1 and any(long[:k] + long[k + 1 :] == short for k in range(len(long)))
