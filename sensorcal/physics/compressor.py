"""Compressor and charge-air cooler: outlet temperature, isentropic efficiency, effectiveness and loss.

Pressures are absolute. Arguments broadcast; a pandas column comes back as a column with the same rows. What has no
meaning at a sample (an efficiency where nothing is warmed) is missing there, and refused where it has none anywhere.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from sensorcal.errors import InputError
from sensorcal.physics.atmosphere import ZERO_C_K
from sensorcal.physics.columns import CHARGE_HIGH_C, CHARGE_LOW_C, MAP_HIGH_PA, MAP_LOW_PA, absolute, rows_of
from sensorcal.physics.numeric import FloatArray, floats, within

K_AIR = 1.4  # ratio of heat capacities of air; within 0.2 K of real air for one stage up to a ratio of 2.2


def compressor_outlet_c(
    inlet_c: ArrayLike, pressure_ratio: ArrayLike, efficiency_ratio: ArrayLike = 1.0, k_ratio: float = K_AIR
) -> FloatArray:
    """Temperature behind a compressor of known isentropic efficiency.

    Parameters
    ----------
    inlet_c : array_like
        Temperature before it, °C. Valid -60 to 350 °C.
    pressure_ratio : array_like
        Outlet over inlet, both absolute. Valid 1 to 6.
    efficiency_ratio : array_like, optional
        Isentropic efficiency, 0.2 to 1; 1 (no losses) if left out.
    k_ratio : float, optional
        Ratio of the heat capacities, 1.4 for air.

    Returns
    -------
    ndarray of float, or pandas column
        Outlet temperature, °C, of a steady machine; a short burst shows less, because ducts and probes lag.

    Raises
    ------
    InputError
        If an input cannot be.

    References
    ----------
    T2 = T1 (1 + (PR^((k-1)/k) - 1)/eta), any engineering thermodynamics text; checked against
    shared/12_compressor_and_cooler.csv.

    Examples
    --------
    >>> round(float(compressor_outlet_c(15.0, 1.5, 0.7)), 2)
    65.56
    """
    back = rows_of(inlet_c=inlet_c, pressure_ratio=pressure_ratio, efficiency_ratio=efficiency_ratio)
    kelvin = _charge("inlet_c", inlet_c) + ZERO_C_K
    eta = within("efficiency_ratio", efficiency_ratio, 0.2, 1.0, "(ratio)", "give 0.7 for 70 %")
    return back(floats(kelvin * (1.0 + _rise(pressure_ratio, k_ratio) / eta) - ZERO_C_K))


def compressor_outlet_slopes(
    inlet_c: ArrayLike, pressure_ratio: ArrayLike, efficiency_ratio: ArrayLike, k_ratio: float = K_AIR
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Change of `compressor_outlet_c` with inlet temperature, pressure ratio and efficiency.

    Parameters
    ----------
    inlet_c, pressure_ratio, efficiency_ratio, k_ratio : array_like
        As for `compressor_outlet_c`.

    Returns
    -------
    slope_inlet : ndarray of float
        K/K.
    slope_pressure_ratio, slope_efficiency : ndarray of float
        K for a whole unit of the ratio.

    Raises
    ------
    InputError
        As for `compressor_outlet_c`.

    References
    ----------
    Derivatives of `compressor_outlet_c`.

    Examples
    --------
    >>> [round(float(slope), 2) for slope in compressor_outlet_slopes(15.0, 1.5, 0.7)]
    [1.18, 88.04, -72.23]
    """
    kelvin = _charge("inlet_c", inlet_c) + ZERO_C_K
    eta = within("efficiency_ratio", efficiency_ratio, 0.2, 1.0, "(ratio)", "give 0.7 for 70 %")
    rise = _rise(pressure_ratio, k_ratio)
    power = (k_ratio - 1.0) / k_ratio
    by_ratio = kelvin / eta * power * (1.0 + rise) / floats(pressure_ratio)
    return floats(1.0 + rise / eta), floats(by_ratio), floats(-kelvin * rise / eta**2)


def isentropic_efficiency(
    inlet_c: ArrayLike, outlet_c: ArrayLike, pressure_ratio: ArrayLike, k_ratio: float = K_AIR
) -> FloatArray:
    """Isentropic efficiency of a compressor from the temperatures before and behind it.

    Parameters
    ----------
    inlet_c, outlet_c : array_like
        Temperatures, °C. Valid -60 to 350 °C.
    pressure_ratio : array_like
        Outlet over inlet, both absolute. Valid 1 to 6.
    k_ratio : float, optional
        Ratio of the heat capacities, 1.4 for air.

    Returns
    -------
    ndarray of float, or pandas column
        Efficiency, ratio; missing (NaN) where the outlet is less than 1 K warmer than the inlet. Above 1 a probe, a
        pressure or their exchange is to be questioned first.

    Raises
    ------
    InputError
        If an input cannot be, or the outlet is nowhere warmer than the inlet.

    References
    ----------
    As for `compressor_outlet_c`.

    Examples
    --------
    >>> round(float(isentropic_efficiency(15.0, 65.56, 1.5)), 3)
    0.7
    """
    back = rows_of(inlet_c=inlet_c, outlet_c=outlet_c, pressure_ratio=pressure_ratio)
    cold, hot = _charge("inlet_c", inlet_c), _charge("outlet_c", outlet_c)
    rise = _where_above(
        hot - cold, 1.0, "outlet_c is nowhere 1 K above inlet_c", "check that the two are not exchanged"
    )
    return back(floats((cold + ZERO_C_K) * _rise(pressure_ratio, k_ratio) / rise))


def isentropic_efficiency_slopes(
    inlet_c: ArrayLike, outlet_c: ArrayLike, pressure_ratio: ArrayLike, k_ratio: float = K_AIR
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Change of `isentropic_efficiency` with the two temperatures and the pressure ratio.

    Parameters
    ----------
    inlet_c, outlet_c, pressure_ratio, k_ratio : array_like
        As for `isentropic_efficiency`.

    Returns
    -------
    slope_inlet, slope_outlet : ndarray of float
        1/K.
    slope_pressure_ratio : ndarray of float
        For a whole unit of the ratio.

    Raises
    ------
    InputError
        As for `isentropic_efficiency`.

    References
    ----------
    Derivatives of `isentropic_efficiency`.

    Examples
    --------
    >>> [round(float(slope), 4) for slope in isentropic_efficiency_slopes(15.0, 65.56, 1.5)]
    [0.0163, -0.0138, 1.2189]
    """
    eta = floats(isentropic_efficiency(floats(inlet_c), floats(outlet_c), floats(pressure_ratio), k_ratio))
    kelvin, warmed = floats(inlet_c) + ZERO_C_K, floats(outlet_c) - floats(inlet_c)
    power = (k_ratio - 1.0) / k_ratio
    by_ratio = kelvin / warmed * power * (1.0 + _rise(pressure_ratio, k_ratio)) / floats(pressure_ratio)
    return floats(eta / kelvin + eta / warmed), floats(-eta / warmed), floats(by_ratio)


def cooler_effectiveness(
    in_c: ArrayLike, out_c: ArrayLike, ambient_c: ArrayLike, *, least_rise_k: float = 5.0
) -> FloatArray:
    """Effectiveness of a charge-air cooler: how much of the way down to the cooling air it brings the charge.

    Parameters
    ----------
    in_c, out_c : array_like
        Charge before and behind the cooler, °C. Valid -60 to 350 °C.
    ambient_c : array_like
        Cooling air as it enters, °C. Valid -60 to 350 °C.
    least_rise_k : float, optional
        Where the charge comes less than this above the cooling air, the ratio says nothing and is missing; 5 K,
        common practice, no source.

    Returns
    -------
    ndarray of float, or pandas column
        (in - out) / (in - ambient), ratio. Outside 0 to 1 a probe or an exchange is to be questioned first.

    Raises
    ------
    InputError
        If a temperature cannot be, or the charge is nowhere warm enough.

    References
    ----------
    Definition of heat-exchanger effectiveness for the smaller heat capacity on the charge side, any heat-transfer
    text; shared/12_compressor_and_cooler.csv.

    Examples
    --------
    >>> round(float(cooler_effectiveness(95.0, 48.0, 22.0)), 4)
    0.6438
    """
    back = rows_of(in_c=in_c, out_c=out_c, ambient_c=ambient_c)
    hot, cold, air = _charge("in_c", in_c), _charge("out_c", out_c), _charge("ambient_c", ambient_c)
    above = _where_above(
        hot - air,
        least_rise_k,
        f"in_c is nowhere {least_rise_k:g} K above ambient_c",
        "take readings under boost, and check that the probes are not exchanged",
    )
    return back(floats((hot - cold) / above))


def cooler_effectiveness_slopes(
    in_c: ArrayLike, out_c: ArrayLike, ambient_c: ArrayLike
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Change of `cooler_effectiveness` with its three temperatures; the three add up to zero.

    An error that all three probes share therefore cancels, and one that the two charge probes share leaves only
    the cooling air's part.

    Parameters
    ----------
    in_c, out_c, ambient_c : array_like
        As for `cooler_effectiveness`.

    Returns
    -------
    slope_in, slope_out, slope_ambient : ndarray of float
        1/K.

    Raises
    ------
    InputError
        As for `cooler_effectiveness`.

    References
    ----------
    Derivatives of `cooler_effectiveness`.

    Examples
    --------
    >>> [round(float(slope), 5) for slope in cooler_effectiveness_slopes(95.0, 48.0, 22.0)]
    [0.00488, -0.0137, 0.00882]
    """
    e = floats(cooler_effectiveness(floats(in_c), floats(out_c), floats(ambient_c)))
    above = floats(in_c) - floats(ambient_c)
    return floats((1.0 - e) / above), floats(-1.0 / above + 0.0 * e), floats(e / above)


def pulled_temperature_c(gas_c: ArrayLike, wall_c: ArrayLike, pull_ratio: ArrayLike) -> FloatArray:
    """Temperature that a short probe in a duct shows when its body is pulled towards the wall.

    Parameters
    ----------
    gas_c, wall_c : array_like
        Temperature of the air in the duct, and of the wall and bay that the probe's body sits in, °C.
    pull_ratio : array_like
        Share of their difference that the probe takes, 0 to 1: about 0.05 at full flow to 0.5 at idle for a brass
        probe 20 mm into the air (an estimate; common practice, no source).

    Returns
    -------
    ndarray of float, or pandas column
        °C.

    Raises
    ------
    InputError
        If a temperature or the share cannot be.

    References
    ----------
    Fin conduction, any heat-transfer text; the shares are estimates.

    Examples
    --------
    >>> round(float(pulled_temperature_c(95.0, 60.0, 0.07)), 2)
    92.55
    """
    back = rows_of(gas_c=gas_c, wall_c=wall_c, pull_ratio=pull_ratio)
    gas, wall = _charge("gas_c", gas_c), _charge("wall_c", wall_c)
    return back(floats(gas + within("pull_ratio", pull_ratio, 0.0, 1.0, "(ratio)") * (wall - gas)))


def pressure_loss_pa(before_pa: ArrayLike, after_pa: ArrayLike) -> FloatArray:
    """Pressure lost in a cooler, filter or duct.

    Parameters
    ----------
    before_pa, after_pa : array_like
        Absolute pressures on both sides, Pa (or both gauge, on one instrument). Valid 1000 to 600 000 Pa.

    Returns
    -------
    ndarray of float, or pandas column
        Loss, Pa; negative means that the two ports are exchanged or one sensor is off.

    Raises
    ------
    InputError
        If a pressure cannot be.

    References
    ----------
    Definition.

    Examples
    --------
    >>> round(float(pressure_loss_pa(146_000.0, 140_000.0)))
    6000
    """
    back = rows_of(before_pa=before_pa, after_pa=after_pa)
    before = absolute("before_pa", before_pa, MAP_LOW_PA, MAP_HIGH_PA)
    return back(floats(before - absolute("after_pa", after_pa, MAP_LOW_PA, MAP_HIGH_PA)))


def _charge(name: str, temperature_c: ArrayLike) -> FloatArray:
    return within(name, temperature_c, CHARGE_LOW_C, CHARGE_HIGH_C, "°C", "give it in °C")


def _rise(pressure_ratio: ArrayLike, k_ratio: float) -> FloatArray:
    """Isentropic rise of temperature, relative to the absolute inlet temperature."""
    if not 1.05 <= k_ratio <= 1.7:
        raise InputError(f"k_ratio {k_ratio:g} is outside 1.05 to 1.7", do="give 1.4 for air")
    ratio = within("pressure_ratio", pressure_ratio, 1.0, 6.0, "(ratio)", "divide absolute pressures, outlet by inlet")
    return floats(ratio ** ((k_ratio - 1.0) / k_ratio) - 1.0)


def _where_above(difference_k: FloatArray, least_k: float, what: str, do: str) -> FloatArray:
    """Differences large enough to divide by, the others missing; refused where none is."""
    enough = difference_k >= least_k
    if difference_k.size and not np.any(enough) and not np.all(np.isnan(difference_k)):
        raise InputError(what, do=do)
    return floats(np.where(enough, difference_k, np.nan))
