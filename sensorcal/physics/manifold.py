"""What a manifold pressure means: against the air outside, on a standard day, as a density, and at the injectors.

All pressures are absolute unless a name says gauge. Arguments are numbers, arrays or pandas columns and broadcast;
a pandas column comes back as a column with the same rows.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from sensorcal.physics.air import WATER_TO_DRY_AIR
from sensorcal.physics.atmosphere import (
    R_DRY_AIR_J_KG_K,
    SEA_LEVEL_PRESSURE_PA,
    SEA_LEVEL_TEMPERATURE_C,
    ZERO_C_K,
    standard_pressure_pa,
)
from sensorcal.physics.columns import (
    AMBIENT_HIGH_PA,
    AMBIENT_LOW_PA,
    CHARGE_HIGH_C,
    CHARGE_LOW_C,
    MAP_HIGH_PA,
    MAP_LOW_PA,
    absolute,
    rows_of,
)
from sensorcal.physics.numeric import FloatArray, floats, within


def boost_pa(map_pa: ArrayLike, ambient_pa: ArrayLike) -> FloatArray:
    """Manifold gauge pressure: how far the manifold stands above the air outside.

    Parameters
    ----------
    map_pa : array_like
        Manifold pressure, absolute, Pa. Valid 1000 to 600 000 Pa.
    ambient_pa : array_like
        Pressure of the air outside (station pressure, not QNH), Pa. Valid 10 000 to 110 000 Pa.

    Returns
    -------
    ndarray of float, or pandas column
        MAP minus ambient, Pa; negative under a closed throttle.

    Raises
    ------
    InputError
        If a pressure cannot be, or columns do not fit; the message names the argument.

    References
    ----------
    Definition of gauge pressure.

    Examples
    --------
    >>> round(float(boost_pa(140_000.0, 93_500.0)))
    46500
    """
    back = rows_of(map_pa=map_pa, ambient_pa=ambient_pa)
    return back(floats(_map(map_pa) - _ambient(ambient_pa)))


def pressure_ratio(map_pa: ArrayLike, ambient_pa: ArrayLike) -> FloatArray:
    """Manifold pressure as a multiple of the air outside, both absolute.

    Parameters
    ----------
    map_pa, ambient_pa : array_like
        As for `boost_pa`.

    Returns
    -------
    ndarray of float, or pandas column
        Ratio; 1 at rest.

    Raises
    ------
    InputError
        As for `boost_pa`.

    References
    ----------
    Definition; with gauge pressures the ratio has no meaning.

    Examples
    --------
    >>> round(float(pressure_ratio(140_000.0, 93_500.0)), 3)
    1.497
    """
    back = rows_of(map_pa=map_pa, ambient_pa=ambient_pa)
    return back(floats(_map(map_pa) / _ambient(ambient_pa)))


def delta_ratio(ambient_pa: ArrayLike) -> FloatArray:
    """Pressure of the air outside as a share of standard sea-level pressure, written δ.

    Parameters
    ----------
    ambient_pa : array_like
        Station pressure, Pa. Valid 10 000 to 110 000 Pa.

    Returns
    -------
    ndarray of float, or pandas column
        δ = p / 101 325 Pa.

    Raises
    ------
    InputError
        If a pressure cannot be.

    References
    ----------
    ISO 2533:1975 for the standard pressure.

    Examples
    --------
    >>> round(float(delta_ratio(93_470.0)), 4)
    0.9225
    """
    return rows_of(ambient_pa=ambient_pa)(floats(_ambient(ambient_pa) / SEA_LEVEL_PRESSURE_PA))


def theta_ratio(temperature_c: ArrayLike) -> FloatArray:
    """Absolute temperature as a share of the standard 288.15 K at sea level, written θ.

    Parameters
    ----------
    temperature_c : array_like
        Temperature, °C. Valid -60 to 350 °C.

    Returns
    -------
    ndarray of float, or pandas column
        θ = T / 288.15 K.

    Raises
    ------
    InputError
        If a temperature cannot be one of outside or charge air.

    References
    ----------
    ISO 2533:1975 for the standard temperature.

    Examples
    --------
    >>> round(float(theta_ratio(45.0)), 4)
    1.1041
    """
    kelvin = within("temperature_c", temperature_c, CHARGE_LOW_C, CHARGE_HIGH_C, "°C") + ZERO_C_K
    return rows_of(temperature_c=temperature_c)(floats(kelvin / (ZERO_C_K + SEA_LEVEL_TEMPERATURE_C)))


def sea_level_map_pa(map_pa: ArrayLike, ambient_pa: ArrayLike) -> FloatArray:
    """Manifold pressure referred to sea level by pressure: MAP / δ.

    This is the MAP that the same pressure ratio would give where the air outside is at 101 325 Pa. Full throttle
    without a compressor reads near 101 kPa at every field; it says nothing of temperature and nothing of power.

    Parameters
    ----------
    map_pa, ambient_pa : array_like
        As for `boost_pa`.

    Returns
    -------
    ndarray of float, or pandas column
        MAP / δ with δ = ambient / 101 325 Pa, in Pa.

    Raises
    ------
    InputError
        As for `boost_pa`.

    References
    ----------
    Dimensional similarity, ratios of absolute pressure kept; that engine readings are referred in this way is common
    practice, no source. Standard pressure: ISO 2533:1975.

    Examples
    --------
    >>> round(float(sea_level_map_pa(90_666.0, 93_470.0)))
    98285
    """
    back = rows_of(map_pa=map_pa, ambient_pa=ambient_pa)
    return back(floats(_map(map_pa) / _ambient(ambient_pa) * SEA_LEVEL_PRESSURE_PA))


def temperature_referred_map_pa(map_pa: ArrayLike, charge_c: ArrayLike) -> FloatArray:
    """Manifold pressure referred to a 15 °C charge: MAP / θ, the pressure at which 15 °C air is as dense.

    Parameters
    ----------
    map_pa : array_like
        Manifold pressure, absolute, Pa. Valid 1000 to 600 000 Pa.
    charge_c : array_like
        Temperature of the charge in the manifold, °C. Valid -60 to 350 °C.

    Returns
    -------
    ndarray of float, or pandas column
        MAP / θ with θ = T_charge / 288.15 K, in Pa. This is a correction of density (first power of θ); power does
        not follow it exactly.

    Raises
    ------
    InputError
        If a pressure or a temperature cannot be.

    References
    ----------
    Ideal gas law at equal density; common practice, no source, for engine readings.

    Examples
    --------
    >>> round(float(temperature_referred_map_pa(140_000.0, 45.0)))
    126799
    """
    back = rows_of(map_pa=map_pa, charge_c=charge_c)
    return back(floats(_map(map_pa) * (ZERO_C_K + SEA_LEVEL_TEMPERATURE_C) / _charge_k(charge_c)))


def charge_density_kg_m3(map_pa: ArrayLike, charge_c: ArrayLike, vapour_pressure_pa: ArrayLike = 0.0) -> FloatArray:
    """Density of the charge in the manifold, from its pressure and temperature.

    Parameters
    ----------
    map_pa : array_like
        Manifold pressure, absolute, Pa. Valid 1000 to 600 000 Pa.
    charge_c : array_like
        Temperature of the charge, °C. Valid -60 to 350 °C.
    vapour_pressure_pa : array_like, optional
        Pressure of the water vapour in the charge, Pa: that of the outside air times the pressure ratio, as long as
        nothing condenses. Dry if left out.

    Returns
    -------
    ndarray of float, or pandas column
        Density of the air with its vapour, kg/m³; fuel is not counted.

    Raises
    ------
    InputError
        If a pressure or temperature cannot be, or there is more vapour than charge.

    References
    ----------
    Ideal gas law with R = 287.05287 J/(kg K), ISO 2533:1975; mixture of ideal gases for the vapour.

    Examples
    --------
    >>> round(float(charge_density_kg_m3(140_000.0, 45.0)), 4)
    1.533
    >>> round(float(charge_density_kg_m3(140_000.0, 45.0, 3_000.0)), 4)
    1.5206
    """
    back = rows_of(map_pa=map_pa, charge_c=charge_c, vapour_pressure_pa=vapour_pressure_pa)
    p = _map(map_pa)
    dry = p / (R_DRY_AIR_J_KG_K * _charge_k(charge_c))
    share = within("vapour_pressure_pa / map_pa", floats(vapour_pressure_pa) / p, 0.0, 1.0, "(ratio)")
    return back(floats(dry * (1.0 - (1.0 - WATER_TO_DRY_AIR) * share)))


def charge_density_ratio(map_pa: ArrayLike, charge_c: ArrayLike) -> FloatArray:
    """Density of the charge as a multiple of standard sea-level air.

    Parameters
    ----------
    map_pa, charge_c : array_like
        As for `charge_density_kg_m3`.

    Returns
    -------
    ndarray of float, or pandas column
        Ratio to dry air at 101 325 Pa and 15 °C.

    Raises
    ------
    InputError
        As for `charge_density_kg_m3`.

    References
    ----------
    Ideal gas law; ISO 2533:1975 for the standard air.

    Examples
    --------
    >>> round(float(charge_density_ratio(140_000.0, 45.0)), 6)
    1.251406
    """
    back = rows_of(map_pa=map_pa, charge_c=charge_c)
    standard_k = ZERO_C_K + SEA_LEVEL_TEMPERATURE_C
    return back(floats(_map(map_pa) / SEA_LEVEL_PRESSURE_PA * standard_k / _charge_k(charge_c)))


def full_throttle_map_pa(ambient_pa: ArrayLike, *, loss_ratio: ArrayLike, ram_pa: ArrayLike = 0.0) -> FloatArray:
    """Manifold pressure to expect at full throttle from an engine without a compressor.

    Parameters
    ----------
    ambient_pa : array_like
        Pressure of the air outside, Pa. Valid 10 000 to 110 000 Pa.
    loss_ratio : array_like
        Share of the pressure lost in filter, duct, carburettor or throttle body, 0 to 0.5; it has to be stated: a few
        hundredths is usual (common practice, no source), and the engine's own full-throttle reading tells it.
    ram_pa : array_like, optional
        Pressure gained from the airflow at the inlet, Pa; none if left out.

    Returns
    -------
    ndarray of float, or pandas column
        (ambient + ram)(1 - loss), Pa.

    Raises
    ------
    InputError
        If a pressure or the loss cannot be.

    References
    ----------
    Common practice, no source.

    Examples
    --------
    >>> round(float(full_throttle_map_pa(93_470.0, loss_ratio=0.03)))
    90666
    """
    back = rows_of(ambient_pa=ambient_pa, loss_ratio=loss_ratio, ram_pa=ram_pa)
    loss = within("loss_ratio", loss_ratio, 0.0, 0.5, "(ratio)", "give 0.03 for 3 %")
    ram = within("ram_pa", ram_pa, -5_000.0, 20_000.0, "Pa")
    return back(floats((_ambient(ambient_pa) + ram) * (1.0 - loss)))


def full_throttle_map_at_pa(altitude_m: ArrayLike, *, loss_ratio: ArrayLike) -> FloatArray:
    """Manifold pressure to expect at full throttle without a compressor, at a pressure altitude.

    Parameters
    ----------
    altitude_m : array_like
        Pressure altitude, m; on a standard day the altitude itself. Valid -500 to 15 000 m.
    loss_ratio : array_like
        As for `full_throttle_map_pa`.

    Returns
    -------
    ndarray of float, or pandas column
        Pa.

    Raises
    ------
    InputError
        If an altitude or the loss leaves its range.

    References
    ----------
    ISO 2533:1975 for the pressure; the loss is common practice, no source.

    Examples
    --------
    >>> [round(float(full_throttle_map_at_pa(h, loss_ratio=0.03)) / 1000, 1) for h in (0.0, 1500.0, 3000.0)]
    [98.3, 82.0, 68.0]
    """
    back = rows_of(altitude_m=altitude_m, loss_ratio=loss_ratio)
    outside = standard_pressure_pa(within("altitude_m", altitude_m, -500.0, 15_000.0, "m"))
    return back(full_throttle_map_pa(outside, loss_ratio=floats(loss_ratio)))


def fuel_differential_pa(rail_gauge_pa: ArrayLike, ambient_pa: ArrayLike, airbox_pa: ArrayLike) -> FloatArray:
    """Fuel pressure across the injectors (or over the float bowl): rail against the air it sprays into.

    Parameters
    ----------
    rail_gauge_pa : array_like
        Rail pressure as a vented gauge shows it, Pa.
    ambient_pa : array_like
        Pressure of the air outside, Pa. Valid 10 000 to 110 000 Pa.
    airbox_pa : array_like
        Absolute pressure that the regulator and the injectors see (airbox or manifold), Pa.

    Returns
    -------
    ndarray of float, or pandas column
        Rail + ambient - airbox, Pa.

    Raises
    ------
    InputError
        If a pressure cannot be.

    References
    ----------
    Definition; a sealed-gauge sensor reads against 101 325 Pa instead of the ambient.

    Examples
    --------
    >>> round(float(fuel_differential_pa(310_000.0, 93_500.0, 140_000.0)))
    263500
    """
    back = rows_of(rail_gauge_pa=rail_gauge_pa, ambient_pa=ambient_pa, airbox_pa=airbox_pa)
    rail = within("rail_gauge_pa", rail_gauge_pa, -110_000.0, 2e6, "Pa", "give the gauge pressure of the rail in Pa")
    return back(floats(rail + _ambient(ambient_pa) - absolute("airbox_pa", airbox_pa, MAP_LOW_PA, MAP_HIGH_PA)))


def expected_rail_gauge_pa(set_differential_pa: ArrayLike, ambient_pa: ArrayLike, airbox_pa: ArrayLike) -> FloatArray:
    """Rail pressure that a vented gauge should show when the regulator is referenced to the airbox.

    Parameters
    ----------
    set_differential_pa : array_like
        What the regulator holds above the airbox, Pa.
    ambient_pa, airbox_pa : array_like
        As for `fuel_differential_pa`.

    Returns
    -------
    ndarray of float, or pandas column
        Set differential + airbox - ambient, Pa. A fixed low alarm below it hides the difference.

    Raises
    ------
    InputError
        If a pressure cannot be.

    References
    ----------
    Definition.

    Examples
    --------
    >>> round(float(expected_rail_gauge_pa(300_000.0, 93_500.0, 140_000.0)))
    346500
    """
    back = rows_of(set_differential_pa=set_differential_pa, ambient_pa=ambient_pa, airbox_pa=airbox_pa)
    held = within("set_differential_pa", set_differential_pa, 0.0, 2e6, "Pa", "give the regulator's setting in Pa")
    return back(floats(held + absolute("airbox_pa", airbox_pa, MAP_LOW_PA, MAP_HIGH_PA) - _ambient(ambient_pa)))


def hidden_deficit_pa(alarm_gauge_pa: ArrayLike, expected_gauge_pa: ArrayLike) -> FloatArray:
    """How much fuel pressure can be missing before a fixed low alarm speaks.

    Parameters
    ----------
    alarm_gauge_pa : array_like
        Low alarm as set, gauge, Pa.
    expected_gauge_pa : array_like
        Pressure that should be shown now, from `expected_rail_gauge_pa`, Pa.

    Returns
    -------
    ndarray of float, or pandas column
        Pa; zero where the alarm stands at or above what is expected (it then sounds without a fault).

    References
    ----------
    Definition.

    Examples
    --------
    >>> round(float(hidden_deficit_pa(310_000.0, 346_500.0)))
    36500
    """
    back = rows_of(alarm_gauge_pa=alarm_gauge_pa, expected_gauge_pa=expected_gauge_pa)
    return back(floats(np.maximum(floats(expected_gauge_pa) - floats(alarm_gauge_pa), 0.0)))


def _map(map_pa: ArrayLike) -> FloatArray:
    return absolute("map_pa", map_pa, MAP_LOW_PA, MAP_HIGH_PA)


def _ambient(ambient_pa: ArrayLike) -> FloatArray:
    return absolute("ambient_pa", ambient_pa, AMBIENT_LOW_PA, AMBIENT_HIGH_PA)


def _charge_k(charge_c: ArrayLike) -> FloatArray:
    return floats(within("charge_c", charge_c, CHARGE_LOW_C, CHARGE_HIGH_C, "°C", "give the charge in °C") + ZERO_C_K)
