"""Copper wire: diameter and area of a gauge number, resistance of a length, and what warmth adds to it."""

from __future__ import annotations

import math

from numpy.typing import ArrayLike

from sensorcal.errors import InputError
from sensorcal.physics.numeric import FloatArray, floats, within

IACS_OHM_M = 1e-6 / 58.0
"""Resistivity of annealed copper at 20 degC, 1/58 ohm mm²/m (IEC 60028:1925, from memory)."""
COPPER_PER_K = 0.00393
"""Rise of copper's resistance per kelvin, of that at 20 degC (IEC 60028:1925, constant mass, from memory)."""

# Largest resistance at 20 degC in ohm per 1000 ft, and nominal area in circular mils, of stranded tin-plated copper
# aircraft wire: AC 43.13-1B change 1, table 11-9. The 24 AWG line is doubtful: 26.2 fits plain copper of that size.
_AIRCRAFT = {
    24: (28.40, 475), 22: (16.20, 755), 20: (9.88, 1216), 18: (6.23, 1900), 16: (4.81, 2426),
    14: (3.06, 3831), 12: (2.02, 5874), 10: (1.26, 9354), 8: (0.70, 16983),
}  # fmt: skip
_M_PER_KFT = 304.8
_M2_PER_CMIL = math.pi / 4.0 * (25.4e-6) ** 2


def awg_diameter_m(gauge: int) -> float:
    """Diameter of a solid wire of American Wire Gauge, m.

    Parameters
    ----------
    gauge : int
        0 to 40.

    Raises
    ------
    InputError
        If the gauge number is not a whole number from 0 to 40.

    References
    ----------
    ASTM B258 (definition from memory): 0.127 mm times 92 to the power (36 - n)/39.

    Examples
    --------
    >>> round(awg_diameter_m(18) * 1000, 4)
    1.0237
    """
    if gauge != int(gauge) or not 0 <= gauge <= 40:
        raise InputError(f"{gauge} is no wire gauge from 0 to 40", do="give the AWG number, or the area in mm²")
    return float(0.127e-3 * 92.0 ** ((36 - int(gauge)) / 39.0))


def awg_area_m2(gauge: int) -> float:
    """Area of a solid wire of American Wire Gauge, m²; see `awg_diameter_m`.

    Aircraft wire of the same number has another area: up to 19 % more, or 10 % less.

    Examples
    --------
    >>> round(awg_area_m2(18) * 1e6, 3)
    0.823
    """
    return 0.25 * math.pi * awg_diameter_m(gauge) ** 2


def copper_ohm_per_m(area_m2: float) -> float:
    """Resistance of annealed copper at 20 degC, ohm per metre of an area in m².

    References
    ----------
    IEC 60028:1925, resistivity 1/58 ohm mm²/m (from memory).

    Examples
    --------
    >>> round(copper_ohm_per_m(awg_area_m2(18)), 5)
    0.02095
    """
    if not (math.isfinite(area_m2) and area_m2 > 0.0):
        raise InputError(f"a wire's area cannot be {area_m2 * 1e6:g} mm²", do="give its copper area")
    return IACS_OHM_M / area_m2


def aircraft_wire_limits_ohm_per_m(gauge: int) -> tuple[float, float]:
    """Least and largest resistance at 20 degC of stranded tin-plated aircraft wire, ohm/m.

    The largest is the specified maximum; the least is pure copper of the nominal area, which no tinned strand
    reaches.

    Parameters
    ----------
    gauge : int
        Even numbers from 8 to 24.

    Returns
    -------
    least, largest : float

    Raises
    ------
    InputError
        If the table has no such gauge.

    Notes
    -----
    The line of 24 AWG is doubtful in the source: 28.4 ohm per 1000 ft stands there, 26.2 would fit the others.

    References
    ----------
    AC 43.13-1B change 1, table 11-9 (largest, and nominal area); IEC 60028:1925 for copper (least).

    Examples
    --------
    >>> [round(1000 * limit, 2) for limit in aircraft_wire_limits_ohm_per_m(18)]
    [17.91, 20.44]
    """
    if gauge not in _AIRCRAFT:
        known = ", ".join(str(number) for number in sorted(_AIRCRAFT))
        raise InputError(f"no aircraft wire of {gauge} AWG is known here", do=f"use {known}, or the area in mm²")
    most, area_cmil = _AIRCRAFT[gauge]
    return copper_ohm_per_m(area_cmil * _M2_PER_CMIL), most / _M_PER_KFT


def copper_factor(temperature_c: ArrayLike) -> FloatArray:
    """Resistance of a copper wire over its resistance at 20 degC.

    Parameters
    ----------
    temperature_c : array_like
        Temperature of the wire, -60 to 200 degC; any shape.

    Raises
    ------
    InputError
        If a temperature lies outside that range.

    References
    ----------
    IEC 60028:1925: 1 + 0.00393 (t - 20) (from memory).

    Examples
    --------
    >>> float(copper_factor(90.0).round(4))
    1.2751
    """
    t = within("temperature_c", temperature_c, -60.0, 200.0, "degC")
    return floats(1.0 + COPPER_PER_K * (t - 20.0))


def wire_resistance_ohm(ohm_per_m: float, length_m: ArrayLike, temperature_c: ArrayLike = 20.0) -> FloatArray:
    """Resistance of a length of copper wire at a temperature, ohm.

    Parameters
    ----------
    ohm_per_m : float
        At 20 degC, from `copper_ohm_per_m` or `aircraft_wire_limits_ohm_per_m`.
    length_m : array_like
        Every metre that the current passes, there and back; any shape.
    temperature_c : array_like
        Of the wire; broadcasts with the length.

    Raises
    ------
    InputError
        If a length or the resistance is negative.

    Examples
    --------
    >>> float(wire_resistance_ohm(copper_ohm_per_m(awg_area_m2(18)), 2 * 5.0).round(2))
    0.21
    """
    length = floats(length_m)
    if not (ohm_per_m >= 0.0 and (length >= 0.0).all()):
        raise InputError("a wire's length and resistance cannot be below zero", do="check the two numbers")
    return floats(ohm_per_m * length * copper_factor(temperature_c))
