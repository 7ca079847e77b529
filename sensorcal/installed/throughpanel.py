"""A calibration through the panel: shown values and the table now keyed give signals, a fit and a corrected table."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sensorcal.calibration.calibration import Calibration, u_temperature_c
from sensorcal.calibration.thermistor import fit_thermistor
from sensorcal.errors import InputError, TableError
from sensorcal.installed.monitor import MonitorInput
from sensorcal.installed.table import MonitorTable, make_table
from sensorcal.measure.terms import Term
from sensorcal.physics.eseries import preferred_ohm

FloatArray = NDArray[np.float64]
_STEP_U = 1.0 / np.sqrt(12.0)
# Resistors that prove an input at its cold and hot end without the probe; in every drawer.
_INSIDE = 1.1
"""The hot resistor lies a little inside the run, so that the panel stands off its end."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PanelRun:
    """What a run through the panel says.

    Attributes
    ----------
    true_c, shown : ndarray
        As given; shown in the monitor's value unit.
    error_c : ndarray
        Shown minus true, degC.
    resistance_ohm, u_resistance_ohm : ndarray
        What stood at the input by the keyed table and the monitor's description, and its u from the display step.
    one_offset : bool
        Whether one and the same offset explains all errors within their uncertainty.
    calibration : Calibration
        Fit of probe, harness and input together: it belongs to this channel, not to the probe alone.
    table : MonitorTable
        Corrected.
    notes : tuple of str
    """

    true_c: FloatArray
    shown: FloatArray
    error_c: FloatArray
    resistance_ohm: FloatArray
    u_resistance_ohm: FloatArray
    one_offset: bool
    calibration: Calibration
    table: MonitorTable
    notes: tuple[str, ...]


def signal_of_shown(monitor: MonitorInput, signal: ArrayLike, value: ArrayLike, shown: ArrayLike) -> FloatArray:
    """Signal at which a monitor with this table shows a value: the inverse of reading it.

    Parameters
    ----------
    monitor : MonitorInput
    signal, value : array_like, shape (n,)
        The table now keyed, in the monitor's units, any order.
    shown : array_like
        Any shape, in the monitor's value unit.

    Returns
    -------
    ndarray
        In the monitor's signal unit.

    Raises
    ------
    TableError
        If the table is not monotone, or a value lies beyond its ends, where the signal cannot be told.

    Examples
    --------
    >>> monitor = MonitorInput()
    >>> float(signal_of_shown(monitor, [721.0, 325.0], [50.0, 75.0], 62.5))
    523.0
    """
    x, y = _rows(signal, value)
    at = np.asarray(shown, dtype=float)
    if not np.isfinite(at).all():
        raise TableError("a shown value is no number", do="leave blanks out")
    if (at < y.min()).any() or (at > y.max()).any():
        beyond = float(at[(at < y.min()) | (at > y.max())].flat[0])
        raise TableError(
            f"{beyond:g} was shown, and the keyed table ends at {y.min():g} and {y.max():g}",
            do="stay within the table, or key wider rows for the run",
        )
    axis = np.log(x) if monitor.interpolation == "linear in ln signal" else x
    rising = y[-1] > y[0]
    found = np.interp(at, y if rising else y[::-1], axis if rising else axis[::-1])
    return np.asarray(np.exp(found) if monitor.interpolation == "linear in ln signal" else found)


def calibrate_through_panel(
    true_c: ArrayLike,
    shown: ArrayLike,
    *,
    monitor: MonitorInput,
    keyed_signal: ArrayLike,
    keyed_value: ArrayLike,
    from_c: float,
    to_c: float,
    u_true_c: ArrayLike = 0.1,
    display_step: float = 0.1,
    at_c: tuple[float, ...] = (),
    sensor: str = "channel",
) -> PanelRun:
    """Fit a channel from what its display showed at known temperatures, and make the table that corrects it.

    Parameters
    ----------
    true_c, shown : array_like, shape (n,)
        Two points or more: true temperatures in degC, displays in the monitor's value unit.
    monitor : MonitorInput
        With the interpolation as found by experiment: a wrong one moves every signal between rows.
    keyed_signal, keyed_value : array_like, shape (m,)
        The table keyed during the run, as read back from the monitor.
    from_c, to_c : float
        Range of the corrected table, degC.
    u_true_c : array_like
        Standard uncertainty of each true temperature, degC; independent from point to point.
    display_step : float
        In the monitor's value unit.
    at_c : tuple of float
        Rows wanted, such as the redline.
    sensor : str

    Returns
    -------
    PanelRun

    Raises
    ------
    TableError
        If a display lies beyond the keyed table.
    InputError
        If there are fewer than two points.

    References
    ----------
    Common practice, no source; the fit is `sensorcal.calibration.thermistor.fit_thermistor`.

    Examples
    --------
    >>> run = calibrate_through_panel(
    ...     [0.0, 97.7], [1.2, 96.1], monitor=MonitorInput(), keyed_signal=[5600.0, 5230.0, 4000.0, 180.0, 172.0, 98.0],
    ...     keyed_value=[-2.0, 0.0, 6.0, 96.0, 97.7, 120.0], from_c=0.0, to_c=120.0,
    ... )
    >>> run.one_offset, run.notes[0]
    (False, 'not one offset (+1.2 to -1.6 degC): prove the input with 5100 and 200 ohm in place of the probe')
    """
    from sensorcal import units

    true = np.atleast_1d(np.asarray(true_c, dtype=float))
    seen = np.atleast_1d(np.asarray(shown, dtype=float))
    if true.ndim != 1 or true.shape != seen.shape or true.size < 2:
        raise InputError("a run through the panel needs two or more pairs", do="take ice and steam at least")
    signal = signal_of_shown(monitor, keyed_signal, keyed_value, seen)
    ohm = monitor.resistance_ohm(signal)
    x, y = _rows(keyed_signal, keyed_value)
    # Half a step either way, kept inside the table's ends.
    low = np.clip(seen - 0.5 * display_step, y.min(), y.max())
    high = np.clip(seen + 0.5 * display_step, y.min(), y.max())
    ohm_low = monitor.resistance_ohm(signal_of_shown(monitor, x, y, low))
    ohm_high = monitor.resistance_ohm(signal_of_shown(monitor, x, y, high))
    u_ohm = np.abs(ohm_high - ohm_low) / (high - low) * display_step * _STEP_U
    u_true = np.broadcast_to(np.asarray(u_true_c, dtype=float), true.shape)
    terms = (
        Term(identifier="panel:true", meaning="true temperature of each point", u=u_true, common=False),
        Term(
            identifier="panel:step", meaning="display step through the keyed table", axis="signal", u=u_ohm / ohm,
            common=False, shape="rectangular",
        ),
    )  # fmt: skip
    calibration = fit_thermistor(true, ohm, terms, sensor=sensor)
    table = make_table(
        calibration.curve, monitor, from_c=from_c, to_c=to_c, at_c=at_c,
        tested_range_c=(float(true.min()), float(true.max())),
    )  # fmt: skip
    error = np.asarray(units.to_si(seen, monitor.value_unit)) - true
    u_step = float(units.interval_to_si(display_step, monitor.value_unit)) * _STEP_U
    weight = 1.0 / (u_true**2 + u_step**2)
    mean = float((weight * error).sum() / weight.sum())
    from scipy.stats import chi2

    one = bool(float((weight * (error - mean) ** 2).sum()) <= chi2.ppf(0.95, true.size - 1))
    order = np.argsort(true)
    cold, hot = order[0], order[-1]
    unit = monitor.value_unit

    def apart(size_c: float) -> float:
        return float(units.interval_from_si(size_c, unit))

    notes = [
        f"one offset of {apart(mean):+.1f} {unit} explains the errors"
        if one
        else f"not one offset ({apart(error[cold]):+.1f} to {apart(error[hot]):+.1f} {unit}): prove the input with "
        f"{_near_ohm(ohm[cold]):g} and {_near_ohm(_INSIDE * ohm[hot]):g} ohm in place of the probe"
    ]
    notes.append("the curve belongs to probe, harness and input together: a new probe or monitor needs a new run")
    if to_c > true.max() or from_c < true.min():
        u_hot = float(np.asarray(u_temperature_c(calibration, max(to_c, float(true.max())))))
        at = f"{units.from_si(max(to_c, float(true.max())), unit):.4g}"
        notes.append(f"the table reaches beyond the run: extrapolated, U {apart(2 * u_hot):.1f} {unit} at {at}")
    return PanelRun(
        true_c=true, shown=seen, error_c=error, resistance_ohm=np.asarray(ohm), u_resistance_ohm=np.asarray(u_ohm),
        one_offset=one, calibration=calibration, table=table, notes=tuple(notes),
    )  # fmt: skip


def _near_ohm(ohm: float) -> float:
    """Resistor of the drawer nearest to some ohms."""
    drawer = preferred_ohm("E24", 1.0, 1e6)
    return float(drawer[int(np.argmin(np.abs(np.log(drawer / float(ohm)))))])


def _rows(signal: ArrayLike, value: ArrayLike) -> tuple[FloatArray, FloatArray]:
    x, y = np.asarray(signal, dtype=float), np.asarray(value, dtype=float)
    if x.ndim != 1 or x.shape != y.shape or x.size < 2:
        raise TableError("the keyed table needs two rows or more", do="read it back from the monitor")
    order = np.argsort(x)
    x, y = x[order], y[order]
    steps = np.diff(y)
    if not ((np.diff(x) > 0).all() and ((steps > 0).all() or (steps < 0).all())):
        raise TableError(
            "the keyed table is not monotone, so a shown value has no one signal", do="look for a wrong row first"
        )
    return x, y


__all__ = ["PanelRun", "calibrate_through_panel", "signal_of_shown"]
