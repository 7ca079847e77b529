"""Air as it is today: carried between elevations at its own temperature, humid, and its density altitude."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from sensorcal.physics.altimeter import station_pressure_pa, station_pressure_slopes
from sensorcal.physics.atmosphere import (
    G0_M_S2,
    HIGHEST_PA,
    LAPSE_K_PER_M,
    LOWEST_PA,
    R_DRY_AIR_J_KG_K,
    ZERO_C_K,
    altitude_of_density_m,
)
from sensorcal.physics.numeric import FloatArray, floats, within
from sensorcal.physics.water import saturation_pressure_pa

WATER_TO_DRY_AIR = 18.015268 / 28.9644  # ratio of molar masses: IAPWS and ISO 2533


def column_temperature_c(
    temperature_c: ArrayLike, at_m: ArrayLike, other_m: ArrayLike, lapse_k_per_m: float = LAPSE_K_PER_M
) -> FloatArray:
    """Mean temperature of the air between two elevations, from a reading at one of them and a lapse rate.

    Parameters
    ----------
    temperature_c : array_like
        Outside air temperature at `at_m`, °C.
    at_m, other_m : array_like
        Elevation of the thermometer and of the other end of the column, m.
    lapse_k_per_m : float, optional
        Fall of temperature with height, K/m; 0.0065 as in the standard atmosphere.

    Returns
    -------
    ndarray of float
        Temperature half way, °C.

    References
    ----------
    Common practice, no source: a straight line taken at its middle.

    Examples
    --------
    >>> round(float(column_temperature_c(10.84, 640.0, 340.0)), 3)
    11.815
    """
    return floats(floats(temperature_c) + 0.5 * lapse_k_per_m * (floats(at_m) - floats(other_m)))


def carried_pressure_pa(
    pressure_pa: ArrayLike, from_m: ArrayLike, to_m: ArrayLike, temperature_c: ArrayLike
) -> FloatArray:
    """Pressure at one elevation from the pressure at another, through air of the temperature it really has.

    Parameters
    ----------
    pressure_pa : array_like
        Pressure at `from_m`, Pa.
    from_m, to_m : array_like
        The two elevations, m.
    temperature_c : array_like
        Mean temperature of the air between them, °C (the virtual one, if humidity counts). All broadcast.

    Returns
    -------
    ndarray of float
        Pressure at `to_m`, Pa.

    Raises
    ------
    InputError
        If a pressure is not positive or a temperature lies outside -90 to 70 °C.

    References
    ----------
    Hypsometric equation, WMO-No. 8 (from memory): p2 = p1 exp(-g0 (H2 - H1) / (R Tv)).

    Examples
    --------
    >>> round(float(carried_pressure_pa(93_000.0, 610.0, 640.0, 35.0)), 1)
    92691.2
    """
    p = within("pressure_pa", pressure_pa, LOWEST_PA, HIGHEST_PA, "Pa", "give the absolute pressure of the air")
    kelvin = within("temperature_c", temperature_c, -90.0, 70.0, "°C") + ZERO_C_K
    return floats(p * np.exp(-G0_M_S2 * (floats(to_m) - floats(from_m)) / (R_DRY_AIR_J_KG_K * kelvin)))


def carried_pressure_slopes(
    pressure_pa: ArrayLike, from_m: ArrayLike, to_m: ArrayLike, temperature_c: ArrayLike
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Change of `carried_pressure_pa` with the starting pressure, the upper elevation and the temperature.

    Parameters
    ----------
    pressure_pa, from_m, to_m, temperature_c : array_like
        As for `carried_pressure_pa`.

    Returns
    -------
    slope_pressure : ndarray of float
        Pa/Pa.
    slope_to : ndarray of float
        Pa/m for `to_m`; the slope for `from_m` is its negative.
    slope_temperature : ndarray of float
        Pa/K.

    Raises
    ------
    InputError
        As for `carried_pressure_pa`.

    References
    ----------
    Derivatives of the hypsometric equation, WMO-No. 8 (from memory).

    Examples
    --------
    >>> slopes = carried_pressure_slopes(93_000.0, 610.0, 640.0, 10.0)
    >>> [round(float(slope), 3) for slope in slopes]
    [0.996, -11.18, 1.185]
    """
    carried = carried_pressure_pa(pressure_pa, from_m, to_m, temperature_c)
    kelvin = floats(temperature_c) + ZERO_C_K
    slope_to = floats(-G0_M_S2 * carried / (R_DRY_AIR_J_KG_K * kelvin))
    rise_m = floats(to_m) - floats(from_m)
    return floats(carried / floats(pressure_pa)), slope_to, floats(-slope_to * rise_m / kelvin)


def reported_pressure_pa(
    qnh_pa: ArrayLike, station_elevation_m: ArrayLike, elevation_m: ArrayLike, temperature_c: ArrayLike
) -> FloatArray:
    """Pressure at a workshop, from the QNH of a station at another elevation and the outside air temperature.

    Two steps: QNH to the pressure at the reporting station through the standard atmosphere, which is exact;
    then from there to the workshop through air of its real temperature, with the standard lapse rate.

    Parameters
    ----------
    qnh_pa : array_like
        Altimeter setting reported, Pa.
    station_elevation_m : array_like
        Elevation of the station that reports, m.
    elevation_m : array_like
        Elevation of the workshop, m.
    temperature_c : array_like
        Outside air temperature at the workshop, °C. All broadcast.

    Returns
    -------
    ndarray of float
        Pressure at the workshop, Pa.

    Raises
    ------
    InputError
        If a pressure or an altitude leaves the standard atmosphere, or a temperature -90 to 70 °C.

    References
    ----------
    ICAO Doc 7488/3 relation, then the hypsometric equation of WMO-No. 8 (from memory).

    Examples
    --------
    >>> round(float(reported_pressure_pa(100_900.0, 610.0, 640.0, 10.84)))
    93470
    """
    column_c = column_temperature_c(temperature_c, elevation_m, station_elevation_m)
    at_station_pa = station_pressure_pa(qnh_pa, station_elevation_m)
    return carried_pressure_pa(at_station_pa, station_elevation_m, elevation_m, column_c)


def reported_pressure_slopes(
    qnh_pa: ArrayLike, station_elevation_m: ArrayLike, elevation_m: ArrayLike, temperature_c: ArrayLike
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Change of `reported_pressure_pa` with each of its four inputs.

    The slope for the station's elevation nearly vanishes: undoing the QNH and carrying the pressure weigh the same
    metres, so that a wrong one costs only the difference between standard and real air. The workshop's own
    elevation counts in full.

    Parameters
    ----------
    qnh_pa, station_elevation_m, elevation_m, temperature_c : array_like
        As for `reported_pressure_pa`.

    Returns
    -------
    slope_qnh : ndarray of float
        Pa/Pa.
    slope_station, slope_elevation : ndarray of float
        Pa/m.
    slope_temperature : ndarray of float
        Pa/K.

    Raises
    ------
    InputError
        As for `reported_pressure_pa`.

    References
    ----------
    Derivatives of the two relations in `reported_pressure_pa`.

    Examples
    --------
    >>> slopes = reported_pressure_slopes(100_900.0, 610.0, 640.0, 10.84)
    >>> [round(float(slope), 3) for slope in slopes]
    [0.939, -0.009, -11.236, 1.187]
    """
    column_c = column_temperature_c(temperature_c, elevation_m, station_elevation_m)
    at_station_pa = station_pressure_pa(qnh_pa, station_elevation_m)
    by_qnh, by_height = station_pressure_slopes(qnh_pa, station_elevation_m)
    carry, by_rise, by_kelvin = carried_pressure_slopes(at_station_pa, station_elevation_m, elevation_m, column_c)
    by_rise = floats(by_rise + 0.5 * LAPSE_K_PER_M * by_kelvin)  # the column's middle moves with its ends
    return floats(by_qnh * carry), floats(by_height * carry - by_rise), by_rise, by_kelvin


def vapour_pressure_pa(temperature_c: ArrayLike, relative_humidity: ArrayLike = 1.0) -> FloatArray:
    """Pressure of the water vapour in air, from its temperature and relative humidity over liquid water.

    With the dew point as the temperature and a humidity of 1, it is that of the air with this dew point.

    Parameters
    ----------
    temperature_c : array_like
        Air temperature (or dew point), °C; scalar or array. Valid -45 to 60 °C.
    relative_humidity : array_like, optional
        Ratio, 0 to 1 (not per cent); saturated if left out. Both broadcast.

    Returns
    -------
    ndarray of float
        Vapour pressure, Pa.

    Raises
    ------
    InputError
        If a temperature leaves -45 to 60 °C, or a humidity 0 to 1.

    References
    ----------
    From 0 °C up IAPWS R7-97(2012), equation (30); below, over supercooled water, WMO-No. 8 annex 4.B
    (Magnus form, from memory). The enhancement of vapour pressure by air, under 0.5 %, is left out.

    Examples
    --------
    >>> round(float(vapour_pressure_pa(30.0)))
    4247
    """
    t = within("temperature_c", temperature_c, -45.0, 60.0, "°C")
    ratio = within("relative_humidity", relative_humidity, 0.0, 1.0, "(ratio)", "give 0.60 for 60 %")
    cold = 611.2 * np.exp(17.62 * np.minimum(t, 0.0) / (243.12 + np.minimum(t, 0.0)))
    # the two meet at 0 °C within 0.02 Pa
    return floats(ratio * np.where(t < 0.0, cold, saturation_pressure_pa(np.maximum(t, 0.0))))


def virtual_temperature_c(
    temperature_c: ArrayLike, pressure_pa: ArrayLike, vapour_pressure_pa: ArrayLike
) -> FloatArray:
    """Temperature at which dry air would be as light as this humid air.

    Parameters
    ----------
    temperature_c : array_like
        Air temperature, °C. Valid -90 to 70 °C.
    pressure_pa : array_like
        Air pressure, Pa.
    vapour_pressure_pa : array_like
        Pressure of the water vapour in it, Pa. All broadcast.

    Returns
    -------
    ndarray of float
        Virtual temperature, °C.

    Raises
    ------
    InputError
        If a temperature leaves -90 to 70 °C, a pressure is no air pressure, or there is more vapour than air.

    References
    ----------
    WMO-No. 8 (from memory): Tv = T / (1 - (1 - Mw/Md) e/p), an ideal mixture of ideal gases.

    Examples
    --------
    >>> round(float(virtual_temperature_c(30.0, 101_325.0, 4_250.0)), 1)
    34.9
    """
    kelvin = within("temperature_c", temperature_c, -90.0, 70.0, "°C") + ZERO_C_K
    p = within("pressure_pa", pressure_pa, LOWEST_PA, HIGHEST_PA, "Pa", "give the absolute pressure of the air")
    fraction = within("vapour_pressure_pa / pressure_pa", floats(vapour_pressure_pa) / p, 0.0, 1.0, "(ratio)")
    return floats(kelvin / (1.0 - (1.0 - WATER_TO_DRY_AIR) * fraction) - ZERO_C_K)


def air_density_kg_m3(
    pressure_pa: ArrayLike, temperature_c: ArrayLike, vapour_pressure_pa: ArrayLike = 0.0
) -> FloatArray:
    """Density of the air, dry or humid.

    Parameters
    ----------
    pressure_pa : array_like
        Air pressure, Pa.
    temperature_c : array_like
        Air temperature, °C. Valid -90 to 70 °C.
    vapour_pressure_pa : array_like, optional
        Pressure of the water vapour in it, Pa; dry if left out. All broadcast.

    Returns
    -------
    ndarray of float
        Density, kg/m³.

    Raises
    ------
    InputError
        As for `virtual_temperature_c`.

    References
    ----------
    Ideal gas law with the virtual temperature, WMO-No. 8 (from memory); real air is some 0.04 % denser.

    Examples
    --------
    >>> round(float(air_density_kg_m3(101_325.0, 15.0)), 4)
    1.225
    """
    kelvin = virtual_temperature_c(temperature_c, pressure_pa, vapour_pressure_pa) + ZERO_C_K
    return floats(floats(pressure_pa) / (R_DRY_AIR_J_KG_K * kelvin))


def density_altitude_m(
    pressure_pa: ArrayLike, temperature_c: ArrayLike, vapour_pressure_pa: ArrayLike = 0.0
) -> FloatArray:
    """Altitude at which the standard atmosphere is as thin as the air here today.

    Parameters
    ----------
    pressure_pa : array_like
        Pressure at the field (not QNH), Pa.
    temperature_c : array_like
        Outside air temperature, °C. Valid -90 to 70 °C.
    vapour_pressure_pa : array_like, optional
        Pressure of the water vapour in the air, Pa; dry if left out. All broadcast.

    Returns
    -------
    ndarray of float
        Density altitude, m (geopotential).

    Raises
    ------
    InputError
        As for `virtual_temperature_c`, or if the density leaves the standard atmosphere.

    References
    ----------
    ISO 2533:1975 solved for the altitude of a density; humidity as in `air_density_kg_m3`.

    Examples
    --------
    >>> round(float(density_altitude_m(82_066.1, 21.1111)))
    2350
    """
    return altitude_of_density_m(air_density_kg_m3(pressure_pa, temperature_c, vapour_pressure_pa))
