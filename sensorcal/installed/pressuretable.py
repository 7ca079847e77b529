"""The pressure table keyed into a monitor: ratio, volts or counts to pressure.

The rows come from the same search as those of a thermistor: the smallest worst error that the monitor's steps allow.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, Protocol, get_args

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sensorcal import units
from sensorcal.errors import TableError
from sensorcal.installed.monitor import _decimals
from sensorcal.installed.rowreading import read_past_ends
from sensorcal.measure import minimax

FloatArray = NDArray[np.float64]
PressureKind = Literal["ratio", "voltage", "counts"]
ERROR_POINTS = 401
FINE_GRID = 6e6
"""Grids of more points are searched on every second, fifth or tenth value: the exact search would take minutes."""
_NAMES = {"ratio": "output over supply", "voltage": "output voltage", "counts": "converter counts"}
_UNITS = {"ratio": "1", "voltage": "V", "counts": "counts"}


class RatioToPressure(Protocol):
    """Anything that turns a ratio V_out / V_supply into pressure and back, both rising, arrays of any shape."""

    def pressure_pa(self, ratio: ArrayLike, /) -> FloatArray:
        """Pressure at a ratio."""
        ...

    def ratio(self, pressure_pa: ArrayLike, /) -> FloatArray:
        """Ratio at a pressure."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class PressureInput:
    """One pressure input of an engine monitor, with the form of the table it accepts.

    Parameters
    ----------
    kind : {'ratio', 'voltage', 'counts'}
        What stands in the signal column.
    supply_v : float, optional
        Supply at the sensor's plug, V; needed for voltage: the table holds at this supply only.
    counts_full : int, optional
        Count that stands for output = supply, such as 1023; needed for counts.
    rows : int
        Most rows the table can hold.
    signal_step, value_step : float
        Smallest step that can be keyed into each column, in that column's unit.
    value_unit : str
        Unit of the pressure column: 'kPa', 'bar', 'psi', 'inHg', ...
    past_ends : {'holds', 'extends', 'blank', 'unknown'}
        What the monitor shows beyond the first and last row.

    Raises
    ------
    TableError
        If the description contradicts itself.

    References
    ----------
    Common practice, no source.

    Examples
    --------
    >>> volts = PressureInput(kind="voltage", supply_v=5.0, signal_step=0.01)
    >>> float(volts.signal(0.42).round(3)), float(volts.ratio(2.1).round(3))
    (2.1, 0.42)
    """

    kind: PressureKind = "ratio"
    supply_v: float | None = None
    counts_full: int | None = None
    rows: int = 16
    signal_step: float = 0.001
    value_step: float = 1.0
    value_unit: str = "kPa"
    past_ends: Literal["holds", "extends", "blank", "unknown"] = "unknown"

    def __post_init__(self) -> None:
        """Refuse a description that contradicts itself."""
        if self.kind not in get_args(PressureKind):
            raise TableError(f"kind {self.kind!r} is not known", do="use one of 'ratio', 'voltage', 'counts'")
        if self.kind == "voltage" and not (self.supply_v is not None and self.supply_v > 0.0):
            raise TableError(
                "a voltage input needs the supply of the sensor above zero", do="measure it at the plug, set supply_v"
            )
        if self.kind == "counts" and not (self.counts_full is not None and self.counts_full > 0):
            raise TableError("a table in counts needs the full count", do="set counts_full, such as 1023 for 10 bits")
        if self.rows < 2:
            raise TableError(f"a monitor table of {self.rows} rows is none", do="give two rows or more")
        for name in ("signal_step", "value_step"):
            step = getattr(self, name)
            if not (np.isfinite(step) and step > 0.0):
                raise TableError(f"the rounding step {name} must be above zero, not {step:g}")
        if units.dimension(self.value_unit) != "pressure":
            raise TableError(f"pressure cannot be shown in {self.value_unit!r}", do="correct value_unit")
        object.__setattr__(self, "value_unit", units.parse_unit(self.value_unit))

    @property
    def full_signal(self) -> float:
        """Signal at which output equals supply."""
        if self.kind == "voltage":
            return float(self.supply_v or 0.0)
        return float(self.counts_full or 0) if self.kind == "counts" else 1.0

    @property
    def signal_name(self) -> str:
        """What the signal column holds, in words."""
        return _NAMES[self.kind]

    @property
    def signal_unit(self) -> str:
        """Unit of the signal column; '1' for a ratio."""
        return _UNITS[self.kind]

    def signal(self, ratio: ArrayLike) -> FloatArray:
        """What the monitor measures at a ratio V_out / V_supply (any shape)."""
        return np.asarray(ratio, dtype=np.float64) * self.full_signal

    def ratio(self, signal: ArrayLike) -> FloatArray:
        """Ratio V_out / V_supply behind a signal: the inverse of `signal`."""
        return np.asarray(signal, dtype=np.float64) / self.full_signal

    def signal_text(self, signal: float) -> str:
        """Write a signal with the decimals of its step."""
        return f"{signal:.{_decimals(self.signal_step)}f}"

    def value_text(self, value: float) -> str:
        """Write a value with the decimals of its step."""
        text = f"{value:.{_decimals(self.value_step)}f}"
        return text if float(text) else text.removeprefix("-")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PressureTable:
    """Rows to key in, and everything a reader needs to judge them.

    Attributes
    ----------
    monitor : PressureInput
    signal, value : ndarray, shape (n,)
        The rows, rising, in the monitor's units.
    forced, extrapolated : tuple of bool
        Per row: fixed by request; beyond the tested range of the calibration.
    rows_asked : int
        Rows that were allowed; fewer stand here when more would not lower the worst error.
    from_pa, to_pa : float
        Range in which the worst error holds, Pa.
    worst_error_pa, worst_at_pa : float
        Largest error, shown minus true, with its sign, and the true pressure where it is.
    bound_pa, proven_pa : float
        No table of so many rows has a smaller worst error than `bound_pa`; none on these steps one below `proven_pa`.
    even_worst_error_pa : float
        Worst error of rows evenly spaced in pressure and rounded to the same steps.
    step_worth_pa : float
        Most that one step of the signal column is worth.
    error_at_pa, error_pa : ndarray
        Error curve: true pressure; shown minus true.
    notes : tuple of str
        What the user should weigh, one sentence each.
    """

    monitor: PressureInput
    signal: FloatArray
    value: FloatArray
    forced: tuple[bool, ...]
    extrapolated: tuple[bool, ...]
    rows_asked: int
    from_pa: float
    to_pa: float
    worst_error_pa: float
    worst_at_pa: float
    bound_pa: float
    proven_pa: float
    even_worst_error_pa: float
    step_worth_pa: float
    error_at_pa: FloatArray
    error_pa: FloatArray
    notes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        """Copy the arrays and make them read-only."""
        for name in ("signal", "value", "error_at_pa", "error_pa"):
            copy = np.array(getattr(self, name), dtype=np.float64)
            copy.flags.writeable = False
            object.__setattr__(self, name, copy)

    def shown_pa(self, signal: ArrayLike) -> FloatArray:
        """Pressure in Pa that the monitor shows for a signal (any shape); nan beyond the ends unless it holds them."""
        shown = read_past_ends(self.signal, self.value, signal, self.monitor.past_ends)
        return np.asarray(units.to_si(shown, self.monitor.value_unit), dtype=np.float64)


def make_pressure_table(
    curve: RatioToPressure,
    monitor: PressureInput,
    *,
    from_pa: float,
    to_pa: float,
    rows: int | None = None,
    at_pa: Sequence[float] = (),
    tested_range_pa: tuple[float, float] | None = None,
    outside_pa: float | None = None,
) -> PressureTable:
    """Make the pressure table whose worst error is the smallest of all tables the monitor accepts.

    Parameters
    ----------
    curve : object
        With `pressure_pa(ratio)` and `ratio(pressure_pa)`, such as a `PressureCalibration`.
    monitor : PressureInput
        The input and the form of its table.
    from_pa, to_pa : float
        Range in which the error counts, Pa.
    rows : int, optional
        Most rows; those of the monitor if not given.
    at_pa : sequence of float
        Pressures at which a row must stand on the curve to half a step of the signal, such as a low limit; each a
        whole step of the value column. Of two signals as near, the one is taken that shows low.
    tested_range_pa : (float, float), optional
        Tested range of the calibration; rows beyond it are marked extrapolated.
    outside_pa : float, optional
        How far beyond the range the end rows may lie, so that they need not be on the curve; 2 % of the range if not
        given, never less than the next whole step.

    Returns
    -------
    PressureTable

    Raises
    ------
    TableError
        If range, rows, steps and fixed rows allow no table.

    References
    ----------
    Best straight pieces over a grid of both columns, see `sensorcal.measure.minimax`; the sizes of steps are the
    owner's own findings.

    Examples
    --------
    >>> from sensorcal.physics.transducer import RatioPolynomial
    >>> line = RatioPolynomial.through(zero_ratio=0.103, span_ratio=0.795, low_pa=0.0, high_pa=1e6)
    >>> monitor = PressureInput(kind="voltage", supply_v=5.0, signal_step=0.001)
    >>> table = make_pressure_table(line, monitor, from_pa=0.0, to_pa=1e6)
    >>> len(table.signal), abs(table.worst_error_pa) < 200.0
    (2, True)
    """
    if not (np.isfinite([from_pa, to_pa]).all() and from_pa < to_pa):
        raise TableError(f"the range from {from_pa:g} to {to_pa:g} Pa is empty", do="give the lower end first")
    allowed = monitor.rows if rows is None else rows
    if not 2 <= allowed <= monitor.rows:
        raise TableError(f"{allowed} rows do not fit: the monitor holds 2 to {monitor.rows}", do="ask for such a table")
    unit = monitor.value_unit

    def value(signal: FloatArray) -> FloatArray:
        return np.asarray(units.from_si(curve.pressure_pa(monitor.ratio(signal)), unit), dtype=np.float64)

    step = monitor.signal_step
    low, high = (float(s) for s in monitor.signal(curve.ratio(np.array([from_pa, to_pa]))))
    outside = 0.02 * (to_pa - from_pa) if outside_pa is None else outside_pa
    far = outside / (to_pa - from_pa) * (high - low)
    target = minimax.target(
        value,
        low,
        high,
        x_low=max(min(low - far, np.floor(low / step + 1e-9) * step), 0.0),
        x_high=min(max(high + far, np.ceil(high / step - 1e-9) * step), monitor.full_signal),
    )
    forced = [_forced(curve, monitor, wanted, from_pa, to_pa) for wanted in at_pa]
    times = _coarser(monitor, forced, to_pa - from_pa, high - low)
    best = minimax.best_on_grid(
        target, allowed, x_step=step, y_step=times * monitor.value_step, forced=sorted(set(forced)), gap=0.01
    )
    even = _even_rows(curve, monitor, from_pa, to_pa, allowed)
    even_error = _worst(curve, monitor, *even, from_pa, to_pa)
    at = np.linspace(from_pa, to_pa, ERROR_POINTS)
    shown = minimax.read_table(best.x, best.y, np.clip(monitor.signal(curve.ratio(at)), best.x[0], best.x[-1]))
    worth = minimax.steepest(target) * step
    rows_pa = np.asarray(units.to_si(best.y, unit), dtype=np.float64)
    tested = tested_range_pa or (-np.inf, np.inf)
    near = 0.005 * (to_pa - from_pa)
    beyond = tuple(bool(not tested[0] - near <= p <= tested[1] + near) for p in rows_pa)

    def pascals(interval: float) -> float:
        return float(units.interval_to_si(interval, unit))

    return PressureTable(
        monitor=monitor,
        signal=best.x,
        value=best.y,
        forced=tuple(any(abs(s - x) < 0.5 * step for x, _ in forced) for s in best.x),
        extrapolated=beyond,
        rows_asked=allowed,
        from_pa=float(from_pa),
        to_pa=float(to_pa),
        worst_error_pa=pascals(best.worst_error),
        worst_at_pa=float(curve.pressure_pa(monitor.ratio(np.array([best.worst_x])))[0]),
        bound_pa=pascals(best.bound),
        proven_pa=pascals(best.proven if times == 1 else best.bound),
        even_worst_error_pa=even_error,
        step_worth_pa=pascals(worth),
        error_at_pa=at,
        error_pa=np.asarray(units.to_si(shown, unit)) - at,
        notes=_notes(
            monitor,
            best.x.size,
            allowed,
            any(beyond),
            times,
            pascals(abs(best.worst_error) - best.bound),
            below_zero=bool(from_pa >= 0.0 and best.y[0] < 0.0),
        ),
    )


def _forced(
    curve: RatioToPressure, monitor: PressureInput, wanted_pa: float, from_pa: float, to_pa: float
) -> tuple[float, float]:
    """Row on the curve at a wanted pressure: the nearest signal; of two as near, the one that shows low."""
    unit = monitor.value_unit
    wanted = float(units.from_si(float(wanted_pa), unit))
    if not from_pa <= wanted_pa <= to_pa:
        raise TableError(f"a row at {wanted:g} {unit} lies outside the range", do="widen the range or drop the row")
    row = round(wanted / monitor.value_step) * monitor.value_step
    if abs(row - wanted) > 1e-6 * monitor.value_step:
        raise TableError(
            f"{units.shortest(round(wanted, 6))} {unit} is not a whole step of the value column",
            do=f"ask for {units.shortest(row)} {unit}",
        )
    exact = float(monitor.signal(curve.ratio(np.array([wanted_pa])))[0]) / monitor.signal_step
    tie = abs(exact - np.floor(exact) - 0.5) < 1e-6
    return float((np.ceil(exact) if tie else round(exact)) * monitor.signal_step), float(row)


def _even_rows(
    curve: RatioToPressure, monitor: PressureInput, from_pa: float, to_pa: float, rows: int
) -> tuple[FloatArray, FloatArray]:
    """Rows evenly spaced in pressure and put on the curve, both columns rounded, as one would by hand."""
    ends = np.asarray(units.from_si(np.array([from_pa, to_pa]), monitor.value_unit), dtype=np.float64)
    value = np.unique(np.round(np.linspace(ends[0], ends[1], rows) / monitor.value_step)) * monitor.value_step
    pressure = np.asarray(units.to_si(value, monitor.value_unit), dtype=np.float64)
    signal = np.round(monitor.signal(curve.ratio(pressure)) / monitor.signal_step) * monitor.signal_step
    distinct = np.append(True, np.diff(signal) > 0.5 * monitor.signal_step)
    if int(distinct.sum()) < 2:
        raise TableError("the steps leave fewer than two rows", do="check the steps and the range")
    return signal[distinct], value[distinct]


def _worst(
    curve: RatioToPressure, monitor: PressureInput, x: FloatArray, y: FloatArray, from_pa: float, to_pa: float
) -> float:
    """Worst signed error in Pa of rows over the range, their end lines continued."""
    at = np.linspace(from_pa, to_pa, 10 * ERROR_POINTS)
    signal = monitor.signal(curve.ratio(at))
    table = np.interp(signal, x, y)
    table = np.where(signal < x[0], y[0] + (signal - x[0]) * (y[1] - y[0]) / (x[1] - x[0]), table)
    table = np.where(signal > x[-1], y[-1] + (signal - x[-1]) * (y[-1] - y[-2]) / (x[-1] - x[-2]), table)
    error = np.asarray(units.to_si(table, monitor.value_unit)) - at
    return float(error[int(np.argmax(np.abs(error)))])


def _coarser(monitor: PressureInput, forced: list[tuple[float, float]], range_pa: float, signal_range: float) -> int:
    """How many value steps are taken as one so that the search stays quick; fixed rows must still fit."""
    values = float(units.interval_from_si(range_pa, monitor.value_unit)) / monitor.value_step
    points = values * signal_range / monitor.signal_step
    for times in (1, 2, 5, 10):
        coarse = times * monitor.value_step
        if any(abs(y / coarse - round(y / coarse)) > 1e-6 for _, y in forced):
            return 1
        if points / times <= FINE_GRID:
            return times
    return 10


def _notes(
    monitor: PressureInput, rows: int, allowed: int, beyond: bool, times: int, left_pa: float, *, below_zero: bool
) -> tuple[str, ...]:
    notes = []
    if times > 1:
        notes.append(
            f"Values stand on every {times}th step to keep the search short; all steps could gain {left_pa:.2g} Pa "
            "at most."
        )
    if rows < allowed:
        notes.append(f"{rows} rows do as well as {allowed} on these steps.")
    if monitor.kind == "voltage":
        notes.append(f"Volts hold at a supply of {monitor.supply_v:g} V only; a ratio would hold at any.")
    if below_zero:
        notes.append("Where the monitor takes no value below zero, begin the range a little higher.")
    if beyond:
        notes.append("Rows beyond the tested range are extrapolated.")
    if monitor.past_ends == "unknown":
        notes.append("Nobody has tried yet what the monitor shows beyond the first and the last row.")
    return tuple(notes)
