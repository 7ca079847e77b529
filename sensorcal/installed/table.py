"""The table keyed into a monitor: the best on its grid, its worst error, and what it shows for a signal."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sensorcal import units
from sensorcal.calibration.calibration import END_TOLERANCE_C
from sensorcal.errors import SensorcalError, TableError
from sensorcal.installed.monitor import MonitorInput
from sensorcal.installed.rowreading import read_past_ends
from sensorcal.measure import minimax
from sensorcal.measure.minimax_graph import Function
from sensorcal.measure.minimax_polish import polished

FloatArray = NDArray[np.float64]
ERROR_POINTS = 681
"""Points of the error curve: every quarter degree of -20..150."""
NEAR_REDLINE_C = 5.0
"""Within this of a fixed row the table is kept from showing too cold where that costs nothing (our choice)."""


class Curve(Protocol):
    """Anything that turns temperature into resistance and back, both monotone, arrays of any shape."""

    def temperature_c(self, resistance_ohm: FloatArray, /) -> FloatArray:
        """Temperature at a resistance."""
        ...

    def resistance_ohm(self, temperature_c: FloatArray, /) -> FloatArray:
        """Resistance at a temperature."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MonitorTable:
    """Rows to key in, and everything a reader needs to judge them.

    Attributes
    ----------
    monitor : MonitorInput
        Units, steps, order and interpolation.
    signal, value : ndarray, shape (n,)
        The rows in the monitor's order and units.
    forced, extrapolated, outside : tuple of bool
        Per row: fixed by request; beyond the tested range of the calibration; beyond the range asked for.
    rows_asked : int
        Rows that were allowed; fewer stand here when more would not lower the worst error.
    from_c, to_c : float
        Range in which the worst error holds, degC.
    worst_error, worst_at : float
        Largest error, shown minus true, in `value_unit` with its sign, and the true value where it is.
    bound, proven : float
        No table of so many rows, rounded or not, has a smaller worst error than `bound`; none on this grid a
        smaller one than `proven`. In `value_unit`.
    even_signal, even_value, even_worst_error
        Rows evenly spaced in value, rounded to the same grid, for comparison, and their worst error.
    step_worth : float
        Most that one step of the signal column is worth, in `value_unit`.
    error_at_c, error_c, even_error_c : ndarray
        Error curves in degC: true temperature; shown minus true; the same of the evenly spaced rows.
    notes : tuple of str
        What the user should weigh, one sentence each.
    """

    monitor: MonitorInput
    signal: FloatArray
    value: FloatArray
    forced: tuple[bool, ...]
    extrapolated: tuple[bool, ...]
    outside: tuple[bool, ...]
    rows_asked: int
    from_c: float
    to_c: float
    worst_error: float
    worst_at: float
    bound: float
    proven: float
    even_signal: FloatArray
    even_value: FloatArray
    even_worst_error: float
    step_worth: float
    error_at_c: FloatArray
    error_c: FloatArray
    even_error_c: FloatArray
    notes: tuple[str, ...]

    def __post_init__(self) -> None:
        arrays = ("signal", "value", "even_signal", "even_value", "error_at_c", "error_c", "even_error_c")
        for name in arrays:
            copy = np.array(getattr(self, name), dtype=float)
            copy.flags.writeable = False
            object.__setattr__(self, name, copy)

    @property
    def worst_error_c(self) -> float:
        """Largest error in degC, with its sign."""
        return float(units.interval_to_si(self.worst_error, self.monitor.value_unit))

    @property
    def worst_at_c(self) -> float:
        """True temperature at which the largest error is, degC."""
        return float(units.to_si(self.worst_at, self.monitor.value_unit))

    @property
    def bound_c(self) -> float:
        """The bound in degC."""
        return float(units.interval_to_si(self.bound, self.monitor.value_unit))

    @property
    def even_worst_error_c(self) -> float:
        """Worst error of evenly spaced rows in degC, with its sign."""
        return float(units.interval_to_si(self.even_worst_error, self.monitor.value_unit))

    @property
    def ratio_to_bound(self) -> float:
        """Worst error over the bound; infinite where the bound is zero (a straight curve)."""
        return abs(self.worst_error) / self.bound if self.bound > 0 else float("inf")


def make_table(
    curve: Curve,
    monitor: MonitorInput,
    *,
    from_c: float,
    to_c: float,
    rows: int | None = None,
    at_c: Sequence[float] = (),
    tested_range_c: tuple[float, float] | None = None,
    outside_c: float = 3.0,
) -> MonitorTable:
    """Make the table whose worst error is the smallest of all tables the monitor accepts.

    Parameters
    ----------
    curve : object
        With `resistance_ohm(temperature_c)` and `temperature_c(resistance_ohm)`, such as a Calibration.
    monitor : MonitorInput
        The input and the form of its table.
    from_c, to_c : float
        Range in which the error counts, degC.
    rows : int, optional
        Most rows; those of the monitor if not given.
    at_c : sequence of float
        Temperatures at which a row must stand on the curve (to half a step of the signal), such as the
        redline, degC. Each must be a whole step of the value column.
    tested_range_c : (float, float), optional
        Tested range of the calibration, degC; rows beyond it are marked extrapolated.
    outside_c : float
        How far beyond the range the end rows may lie, degC; never less than the next whole step.

    Returns
    -------
    MonitorTable

    Raises
    ------
    TableError
        If range, rows, steps and fixed rows allow no table.

    Notes
    -----
    Values are free: rows need not lie on the curve, which alone halves the error of the best rows on it.
    Among tables of the same worst error those are preferred that do not show too cold near a fixed row.

    Examples
    --------
    >>> from sensorcal.physics.curves import SteinhartHart
    >>> probe = SteinhartHart.through_points([0.0, 50.0, 97.7], [5230.0, 721.0, 172.1])
    >>> table = make_table(probe, MonitorInput(rows=8), from_c=-20, to_c=150, at_c=[120])
    >>> len(table.signal), bool(abs(table.worst_error) < 2.0)
    (8, True)
    """
    low_c, high_c = _range(from_c, to_c)
    allowed = monitor.rows if rows is None else rows
    if allowed > monitor.rows:
        raise TableError(f"{allowed} rows do not fit: the monitor holds {monitor.rows}", do="ask for fewer rows")
    if allowed < 2:
        raise TableError(f"a table needs at least 2 rows, not {allowed}")

    def value(signal: FloatArray) -> FloatArray:
        celsius = curve.temperature_c(monitor.resistance_ohm(signal))
        return np.asarray(units.from_si(np.asarray(celsius, dtype=float), monitor.value_unit))

    target = _target(curve, monitor, value, low_c, high_c, outside_c)
    forced = _forced(curve, monitor, value, at_c, low_c, high_c)
    limits = _value_limits(monitor)
    best = minimax.best_on_grid(
        target,
        allowed,
        x_step=monitor.signal_step,
        y_step=monitor.value_step,
        y_low=limits[0],
        y_high=limits[1],
        forced=forced,
        gap=0.01,
    )
    near = float(units.interval_from_si(NEAR_REDLINE_C, monitor.value_unit))
    best = polished(target, best, x_step=monitor.signal_step, y_step=monitor.value_step, forced=forced, near=near)
    even = _even_rows(curve, monitor, low_c, high_c, allowed)
    even_error, _ = minimax.table_error(target, *even)
    turn = slice(None) if monitor.order == "ascending" else slice(None, None, -1)
    row_c = np.asarray(units.to_si(best.y, monitor.value_unit))[turn]
    at = np.linspace(low_c, high_c, ERROR_POINTS)
    signal_at = monitor.signal(curve.resistance_ohm(at))
    worst_at = float(value(np.array([best.worst_x]))[0])
    signal = best.x[turn]
    tested = tested_range_c or (-np.inf, np.inf)
    worth = minimax.steepest(target)
    return MonitorTable(
        monitor=monitor,
        signal=signal,
        value=best.y[turn],
        forced=tuple(any(abs(s - x) < 0.5 * monitor.signal_step for x, _ in forced) for s in signal),
        extrapolated=tuple(not tested[0] - END_TOLERANCE_C <= t <= tested[1] + END_TOLERANCE_C for t in row_c),
        outside=tuple(not target.x0 - 1e-9 <= s <= target.x1 + 1e-9 for s in signal),
        rows_asked=allowed,
        from_c=low_c,
        to_c=high_c,
        worst_error=best.worst_error,
        worst_at=worst_at,
        bound=best.bound,
        proven=best.proven,
        even_signal=even[0][turn],
        even_value=even[1][turn],
        even_worst_error=even_error,
        step_worth=worth * monitor.signal_step,
        error_at_c=at,
        error_c=_error_c(monitor, target.lines, best.x, best.y, signal_at, at),
        even_error_c=_error_c(monitor, target.lines, *even, signal_at, at),
        notes=_notes(monitor, best, allowed, worth * monitor.signal_step, tested_range_c, low_c, high_c),
    )


def shown_value(table: MonitorTable, signal: ArrayLike) -> FloatArray:
    """Value that the monitor shows for a signal.

    Parameters
    ----------
    table : MonitorTable
    signal : array_like
        In the monitor's signal unit; any shape.

    Returns
    -------
    ndarray
        In the monitor's value unit. Beyond the ends: the end value where the monitor holds it, the end lines
        continued where it extends them, nan where it goes blank or nobody has tried.
    """
    rising = np.argsort(table.signal)
    return read_rows(table.monitor, table.signal[rising], table.value[rising], signal)


def read_rows(monitor: MonitorInput, x: FloatArray, y: FloatArray, signal: ArrayLike) -> FloatArray:
    """Value that the monitor shows for a signal with rows (x rising, y) keyed in; see `shown_value`."""
    return read_past_ends(x, y, signal, monitor.past_ends, ln_signal=monitor.interpolation == "linear in ln signal")


def _range(from_c: float, to_c: float) -> tuple[float, float]:
    if not (np.isfinite([from_c, to_c]).all() and from_c < to_c):
        raise TableError(f"the range from {from_c:g} to {to_c:g} degC is empty", do="give the colder end first")
    return float(from_c), float(to_c)


def _target(
    curve: Curve,
    monitor: MonitorInput,
    value: Function,
    low_c: float,
    high_c: float,
    outside_c: float,
) -> minimax.Target:
    """Prepare the curve, with room for end rows as far as curve and monitor allow it."""
    ends = np.sort(monitor.signal(curve.resistance_ohm(np.array([low_c, high_c]))))
    lines: minimax.Lines = "ln x" if monitor.interpolation == "linear in ln signal" else "x"
    step = monitor.signal_step
    low, high = float(ends[0]), float(ends[1])
    try:
        far = np.sort(monitor.signal(curve.resistance_ohm(np.array([low_c - outside_c, high_c + outside_c]))))
    except SensorcalError:
        far = ends
    far = np.array(
        [
            min(far[0], np.floor(low / step + 1e-9) * step),
            max(far[1], np.ceil(high / step - 1e-9) * step),
        ]
    )
    if monitor.signal_low is not None:
        far[0] = max(far[0], monitor.signal_low)
    if monitor.signal_high is not None:
        far[1] = min(far[1], monitor.signal_high)
    for k, inner in ((0, low), (1, high)):
        try:
            if not np.isfinite(value(far[k : k + 1])).all():
                far[k] = inner
        except SensorcalError:
            far[k] = inner
    return minimax.target(value, low, high, lines=lines, x_low=float(far[0]), x_high=float(far[1]))


def _forced(
    curve: Curve,
    monitor: MonitorInput,
    value: Function,
    at_c: Sequence[float],
    low_c: float,
    high_c: float,
) -> list[tuple[float, float]]:
    """Rows on the curve at the wanted temperatures: the nearest signal; of two as near, the hotter reading."""
    rows = []
    for wanted_c in at_c:
        if not low_c <= wanted_c <= high_c:
            raise TableError(
                f"a row at {wanted_c:g} degC lies outside the range from {low_c:g} to {high_c:g} degC",
                do="widen the range or drop the row",
            )
        wanted = float(units.from_si(float(wanted_c), monitor.value_unit))
        step = monitor.value_step
        row = round(wanted / step) * step
        if abs(row - wanted) > 1e-6 * step:
            down, up = np.floor(wanted / step) * step, np.ceil(wanted / step) * step
            raise TableError(
                f"{units.shortest(round(wanted, 6))} {monitor.value_unit} is not a whole step of the value column",
                do=f"ask for {units.shortest(down)} or {units.shortest(up)} {monitor.value_unit}",
            )
        exact = float(monitor.signal(curve.resistance_ohm(np.array([wanted_c])))[0]) / monitor.signal_step
        near = [s * monitor.signal_step for s in (np.floor(exact), np.ceil(exact))]
        if abs(exact - np.floor(exact) - 0.5) > 1e-6:
            signal = round(exact) * monitor.signal_step
        else:
            # The row shows `row`; where the truth is lower it reads hot, the safe side of a high limit.
            signal = near[int(np.argmin(value(np.array(near))))]
        rows.append((float(signal), float(row)))
    return sorted(set(rows))


def _value_limits(monitor: MonitorInput) -> tuple[float, float]:
    low = -np.inf if monitor.value_low is None else monitor.value_low
    high = np.inf if monitor.value_high is None else monitor.value_high
    return low, high


def _even_rows(
    curve: Curve, monitor: MonitorInput, low_c: float, high_c: float, rows: int
) -> tuple[FloatArray, FloatArray]:
    """Rows evenly spaced in value and put on the curve, both columns rounded, as one would by hand."""
    ends = units.from_si(np.array([low_c, high_c]), monitor.value_unit)
    step = monitor.value_step
    value = np.unique(np.round(np.linspace(ends[0], ends[1], rows) / step) * step)
    resistance = curve.resistance_ohm(np.asarray(units.to_si(value, monitor.value_unit)))
    signal = np.round(monitor.signal(resistance) / monitor.signal_step) * monitor.signal_step
    rising = np.argsort(signal, kind="stable")
    signal, value = signal[rising], value[rising]
    distinct = np.append(True, np.diff(signal) > 0.5 * monitor.signal_step)
    return signal[distinct], value[distinct]


def _error_c(
    monitor: MonitorInput, lines: minimax.Lines, x: FloatArray, y: FloatArray, signal: FloatArray, at_c: FloatArray
) -> FloatArray:
    inside = np.clip(signal, x[0], x[-1])
    shown = minimax.read_table(x, y, inside, lines=lines)
    return np.asarray(units.to_si(shown, monitor.value_unit)) - at_c


def _notes(
    monitor: MonitorInput,
    best: minimax.BestRows,
    allowed: int,
    worth: float,
    tested_range_c: tuple[float, float] | None,
    low_c: float,
    high_c: float,
) -> tuple[str, ...]:
    notes = []
    unit = monitor.value_unit
    step = f"{units.shortest(monitor.signal_step)} {monitor.signal_unit}".removesuffix(" 1")
    if best.x.size < allowed:
        notes.append(
            f"{best.x.size} rows do as well as {allowed}: one step of {step} is worth up to {worth:.2g} {unit}, "
            f"more than the {abs(best.worst_error):.2g} {unit} left by the rows."
        )
    elif worth > abs(best.worst_error):
        notes.append(
            f"One step of {step} is worth up to {worth:.2g} {unit}, more than the worst error: finer steps would help."
        )
    if tested_range_c is not None and (
        low_c < tested_range_c[0] - END_TOLERANCE_C or high_c > tested_range_c[1] + END_TOLERANCE_C
    ):
        notes.append(
            f"Rows beyond the tested {tested_range_c[0]:.1f} to {tested_range_c[1]:.1f} degC are extrapolated."
        )
    if monitor.past_ends == "unknown":
        notes.append("Nobody has tried yet what the monitor shows beyond the first and the last row.")
    return tuple(notes)
