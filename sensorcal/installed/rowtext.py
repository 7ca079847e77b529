"""Rows of a table as cells of text: number, signal and value with the decimals of their steps, and a remark."""

from __future__ import annotations

from typing import Protocol

from sensorcal.installed.chainparts import FloatArray


class _Monitor(Protocol):
    def signal_text(self, signal: float, /) -> str: ...
    def value_text(self, value: float, /) -> str: ...


def row_remark(*, fixed: bool, outside: bool, extrapolated: bool) -> str:
    """Say what is to be known of one row.

    Examples
    --------
    >>> row_remark(fixed=True, outside=False, extrapolated=True)
    'fixed; extrapolated'
    """
    words = (("fixed", fixed), ("outside the range", outside), ("extrapolated", extrapolated))
    return "; ".join(word for word, holds in words if holds)


def row_cells(monitor: _Monitor, signal: FloatArray, value: FloatArray, remarks: list[str]) -> list[list[str]]:
    """Write rows as cells, numbered from 1.

    Parameters
    ----------
    monitor : MonitorInput or PressureInput
        Knows the decimals of both columns.
    signal, value : ndarray, shape (n,)
        In the monitor's units.
    remarks : list of str
        One a row.
    """
    return [
        [str(n), monitor.signal_text(float(x)), monitor.value_text(float(y)), remark]
        for n, (x, y, remark) in enumerate(zip(signal, value, remarks, strict=True), start=1)
    ]
