"""The monitor's pressure input as the setup describes it, and ranges whose ends can be keyed in."""

from __future__ import annotations

import numpy as np

from sensorcal import units
from sensorcal.installed.pressuretable import PressureInput
from sensorcal.monitorsetup import PressureInput as PressureInputSetup

_STEPS_UNSTATED = {"ratio": 0.001, "voltage": 0.01, "counts": 1.0}


def pressure_input(setup: PressureInputSetup, stated: frozenset[str] | None = None) -> PressureInput:
    """Take the pressure input as the setup file describes it.

    Parameters
    ----------
    setup : sensorcal.monitorsetup.PressureInput
        The setup's ``[pressure_input]``.
    stated : frozenset of str, optional
        Dotted names that the file gave: a step of the signal that nobody stated follows what a row holds, a count for
        counts and a thousandth for a ratio.

    Returns
    -------
    PressureInput

    Examples
    --------
    >>> pressure_input(PressureInputSetup()).full_signal
    5.0
    >>> pressure_input(PressureInputSetup(signal="counts"), frozenset()).signal_step
    1.0
    """
    step = setup.signal_step
    if stated is not None and "pressure_input.signal_step" not in stated and step == PressureInputSetup().signal_step:
        step = _STEPS_UNSTATED[setup.signal]
    return PressureInput(
        kind=setup.signal,  # type: ignore[arg-type]  # the setup and PressureInput check the words themselves
        supply_v=setup.supply_v if setup.signal == "voltage" else None,
        counts_full=setup.counts_full if setup.signal == "counts" else None,
        rows=setup.rows,
        signal_step=step,
        value_step=setup.value_step,
        value_unit=setup.value_unit,
        past_ends=setup.past_ends,  # type: ignore[arg-type]
    )


def whole_range(monitor: PressureInput, low_pa: float, high_pa: float) -> tuple[float, float]:
    """Narrow a range to the whole steps of the value column within it, so that its ends can be keyed in.

    Parameters
    ----------
    monitor : PressureInput
    low_pa, high_pa : float

    Returns
    -------
    (float, float)
        Pa; the range itself where no two steps lie in it.

    Examples
    --------
    >>> low, high = whole_range(PressureInput(value_unit="psi"), 0.0, 1e6)
    >>> low, round(high / 6894.757, 3)
    (0.0, 145.0)
    """
    step = float(units.interval_to_si(monitor.value_step, monitor.value_unit))
    low, high = np.ceil(low_pa / step - 1e-9), np.floor(high_pa / step + 1e-9)
    if high <= low:
        return low_pa, high_pa
    # Whole steps of the unit, not of its value in pascals: 400 kPa stays 400 000 Pa to the last digit.
    return tuple(float(units.to_si(float(n) * monitor.value_step + 0.0, monitor.value_unit)) for n in (low, high))  # type: ignore[return-value]
