"""A sensor with a pull-up resistor on a supply: voltage and ratio from resistance, back, and their slopes."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sensorcal.errors import InputError

FloatArray = NDArray[np.float64]


def divider_ratio(resistance_ohm: ArrayLike, pull_up_ohm: float) -> FloatArray:
    """Voltage across a sensor as a part of the supply, with a pull-up resistor in series.

    Parameters
    ----------
    resistance_ohm : array_like
        Sensor, from the input to ground, ohm; any shape.
    pull_up_ohm : float
        From the supply to the input, ohm.

    Returns
    -------
    ndarray
        V / V_supply, between 0 and 1.

    Raises
    ------
    InputError
        If the pull-up or a resistance is not positive.

    References
    ----------
    Ohm's law; no current into the input.

    Examples
    --------
    >>> divider_ratio(1000.0, 1000.0)
    array(0.5)
    """
    r = _positive(resistance_ohm, "resistance")
    return np.asarray(r / (r + _pull_up(pull_up_ohm)))


def divider_voltage(resistance_ohm: ArrayLike, pull_up_ohm: float, supply_v: float) -> FloatArray:
    """Voltage across a sensor with a pull-up resistor on a supply, V; see `divider_ratio`.

    Examples
    --------
    >>> divider_voltage(172.1, 1000.0, 5.0).round(4)
    np.float64(0.7342)
    """
    return np.asarray(_supply(supply_v) * divider_ratio(resistance_ohm, pull_up_ohm))


def ratio_resistance(ratio: ArrayLike, pull_up_ohm: float) -> FloatArray:
    """Resistance of a sensor from its part of the supply, ohm: the inverse of `divider_ratio`.

    Raises
    ------
    InputError
        If a ratio does not lie between 0 and 1: a short or an open circuit has no resistance to give.

    Examples
    --------
    >>> ratio_resistance(0.5, 1000.0)
    array(1000.)
    """
    part = np.asarray(ratio, dtype=float)
    if not ((part > 0) & (part < 1)).all():
        raise InputError(
            "a voltage at or beyond ground or supply is a short or an open circuit, not a sensor reading",
            do="look at the wiring of the input",
        )
    return np.asarray(_pull_up(pull_up_ohm) * part / (1.0 - part))


def divider_resistance(voltage_v: ArrayLike, pull_up_ohm: float, supply_v: float) -> FloatArray:
    """Resistance of a sensor from the voltage across it, ohm: the inverse of `divider_voltage`.

    Examples
    --------
    >>> divider_resistance(2.5, 1000.0, 5.0)
    array(1000.)
    """
    return ratio_resistance(np.asarray(voltage_v, dtype=float) / _supply(supply_v), pull_up_ohm)


def divider_slope_v_per_ohm(resistance_ohm: ArrayLike, pull_up_ohm: float, supply_v: float) -> FloatArray:
    """Change of voltage per ohm of the sensor, V/ohm.

    Examples
    --------
    >>> divider_slope_v_per_ohm(1000.0, 1000.0, 5.0)
    array(0.00125)
    """
    r = _positive(resistance_ohm, "resistance")
    pull_up = _pull_up(pull_up_ohm)
    return np.asarray(_supply(supply_v) * pull_up / (r + pull_up) ** 2)


def _positive(value: ArrayLike, name: str) -> FloatArray:
    array = np.asarray(value, dtype=float)
    if not (array > 0).all():
        raise InputError(f"a {name} must be above zero", do="look at the reading and its unit")
    return array


def _pull_up(pull_up_ohm: float) -> float:
    if not (np.isfinite(pull_up_ohm) and pull_up_ohm > 0):
        raise InputError(f"the pull-up resistor cannot be {pull_up_ohm:g} ohm", do="give its measured value")
    return float(pull_up_ohm)


def _supply(supply_v: float) -> float:
    if not (np.isfinite(supply_v) and supply_v > 0):
        raise InputError(f"the supply cannot be {supply_v:g} V", do="give its measured value")
    return float(supply_v)
