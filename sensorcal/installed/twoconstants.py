"""Zero and span for a monitor that takes no pressure table: the straight line that misses the curve least."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from sensorcal.errors import TableError
from sensorcal.installed.pressuretable import ERROR_POINTS, FloatArray, PressureInput, RatioToPressure

_NEIGHBOURS = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class TwoConstants:
    """Zero and span for a monitor that takes no table: the signal at two pressures, a straight line through both.

    Attributes
    ----------
    monitor : PressureInput
    zero_signal, full_signal : float
        To be keyed in at `low_pa` and `high_pa`, whole steps.
    low_pa, high_pa : float
    slope_pa : float
        Pressure per unit of the signal, Pa, for a monitor that wants zero and slope.
    worst_error_pa, worst_at_pa : float
        Largest error of the line, shown minus true, over the range, and the true pressure where it is.
    step_worth_pa : float
        What one step of the signal is worth, Pa: rounding alone may leave half of it.
    notes : tuple of str
        What the user should weigh, one sentence each.
    """

    monitor: PressureInput
    zero_signal: float
    full_signal: float
    low_pa: float
    high_pa: float
    slope_pa: float
    worst_error_pa: float
    worst_at_pa: float
    step_worth_pa: float = 0.0
    notes: tuple[str, ...] = ()

    def shown_pa(self, signal: ArrayLike) -> FloatArray:
        """Pressure in Pa that the monitor shows for a signal (any shape)."""
        return self.low_pa + (np.asarray(signal, dtype=np.float64) - self.zero_signal) * self.slope_pa


def two_constants(
    curve: RatioToPressure,
    monitor: PressureInput,
    *,
    low_pa: float = 0.0,
    high_pa: float,
    tested_range_pa: tuple[float, float] | None = None,
) -> TwoConstants:
    """Zero and span whose straight line misses the curve least, both rounded to the monitor's step.

    Parameters
    ----------
    curve : object
        As for `make_pressure_table`.
    monitor : PressureInput
    low_pa, high_pa : float
        The two pressures that the constants stand for, and the range in which the error counts, Pa.
    tested_range_pa : (float, float), optional
        Tested range of the calibration; a note says so where an end lies beyond it.

    Returns
    -------
    TwoConstants

    Raises
    ------
    TableError
        If the range is empty, or the steps leave no rising line.

    References
    ----------
    Independent (best-fit) straight line as in IEC 61298-2 (from memory), on the monitor's steps: the best of the steps
    around the unrounded line.

    Examples
    --------
    >>> from sensorcal.physics.transducer import RatioPolynomial
    >>> line = RatioPolynomial.through(zero_ratio=0.1034, span_ratio=0.795, low_pa=0.0, high_pa=1e6)
    >>> constants = two_constants(line, PressureInput(kind="voltage", supply_v=5.0, signal_step=0.01), high_pa=1e6)
    >>> round(constants.zero_signal, 3), round(constants.full_signal, 3), round(constants.worst_error_pa)
    (0.52, 4.49, -756)
    """
    if not (np.isfinite([low_pa, high_pa]).all() and low_pa < high_pa):
        raise TableError(f"the range from {low_pa:g} to {high_pa:g} Pa is empty", do="give the lower end first")
    at = np.linspace(low_pa, high_pa, ERROR_POINTS)
    signal = monitor.signal(curve.ratio(at))
    # Middle of the band between the steepest departures from the line through both ends.
    share = (at - low_pa) / (high_pa - low_pa)
    bow = signal - (signal[0] + share * (signal[-1] - signal[0]))
    middle = 0.5 * (float(bow.max()) + float(bow.min()))
    step = monitor.signal_step
    shifts = np.arange(-_NEIGHBOURS, _NEIGHBOURS + 1) * step
    zeros = np.round((signal[0] + middle) / step) * step + shifts
    fulls = np.round((signal[-1] + middle) / step) * step + shifts
    zero, full = (grid.ravel() for grid in np.meshgrid(zeros, fulls, indexing="ij"))
    rising = full - zero > 0.5 * step
    if not rising.any():
        raise TableError(f"a step of {step:g} leaves no line", do="check the step and the unit of the signal")
    zero, full = zero[rising], full[rising]
    slope = (high_pa - low_pa) / (full - zero)
    error = low_pa + (signal[None, :] - zero[:, None]) * slope[:, None] - at[None, :]
    best = int(np.argmin(np.abs(error).max(axis=1)))
    worst = int(np.argmax(np.abs(error[best])))
    return TwoConstants(
        monitor=monitor,
        zero_signal=float(zero[best]),
        full_signal=float(full[best]),
        low_pa=float(low_pa),
        high_pa=float(high_pa),
        slope_pa=float(slope[best]),
        worst_error_pa=float(error[best, worst]),
        worst_at_pa=float(at[worst]),
        step_worth_pa=float(slope[best]) * step,
        notes=_notes(monitor, low_pa, high_pa, tested_range_pa),
    )


def _notes(
    monitor: PressureInput, low_pa: float, high_pa: float, tested_pa: tuple[float, float] | None
) -> tuple[str, ...]:
    notes = []
    if monitor.kind == "voltage":
        notes.append(f"Volts hold at a supply of {monitor.supply_v:g} V only; a ratio would hold at any.")
    near = 0.005 * (high_pa - low_pa)
    if tested_pa is not None and (low_pa < tested_pa[0] - near or high_pa > tested_pa[1] + near):
        notes.append("The range goes beyond the tested pressures: extrapolated there.")
    return tuple(notes)
