"""Columns of liquid: the head in a hose full of oil, and a water U-tube as a pressure standard."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from sensorcal.physics.atmosphere import G0_M_S2
from sensorcal.physics.columns import rows_of
from sensorcal.physics.numeric import FloatArray, floats, within
from sensorcal.physics.water import liquid_density_kg_m3

OIL_DENSITY_KG_M3 = 870.0  # engine or light machine oil near 20 °C, ± 20; common practice, no source


def liquid_head_pa(height_m: ArrayLike, *, density_kg_m3: ArrayLike, gravity_m_s2: ArrayLike = G0_M_S2) -> FloatArray:
    """Pressure that a column of liquid adds to an instrument below its top.

    Parameters
    ----------
    height_m : array_like
        Height of the reference's port above the sensor's, m; negative if below. Valid -20 to 20 m.
    density_kg_m3 : array_like
        Density of the liquid in the hose, kg/m³: about 870 for oil (`OIL_DENSITY_KG_M3`), 998 for water.
        Valid 500 to 2000 kg/m³.
    gravity_m_s2 : array_like, optional
        Local acceleration of free fall; the standard value if left out.

    Returns
    -------
    ndarray of float, or pandas column
        Pressure at the sensor minus pressure at the reference, Pa. A hose full of air adds next to nothing.

    Raises
    ------
    InputError
        If a height or density cannot be.

    References
    ----------
    Hydrostatics, p = ρ g h; the correction for height is asked for by EURAMET cg-17 (seen in an excerpt).

    Examples
    --------
    >>> round(float(liquid_head_pa(1.0, density_kg_m3=OIL_DENSITY_KG_M3)))
    8532
    """
    back = rows_of(height_m=height_m, density_kg_m3=density_kg_m3, gravity_m_s2=gravity_m_s2)
    height = within("height_m", height_m, -20.0, 20.0, "m", "give the height in metres")
    density = within("density_kg_m3", density_kg_m3, 500.0, 2_000.0, "kg/m³", "give 998 for water, 870 for oil")
    return back(floats(density * within("gravity_m_s2", gravity_m_s2, 9.7, 9.9, "m/s²") * height))


def water_column_pa(
    height_m: ArrayLike,
    *,
    temperature_c: ArrayLike,
    gravity_m_s2: ArrayLike = G0_M_S2,
    air_density_kg_m3: ArrayLike = 0.0,
) -> FloatArray:
    """Pressure between the two legs of a water U-tube, from the difference of their levels.

    Parameters
    ----------
    height_m : array_like
        Difference of the two levels, m, both legs read; positive for a pressure above the open leg's.
        Valid -3 to 3 m.
    temperature_c : array_like
        Temperature of the water, °C. Valid 0 to 40 °C.
    gravity_m_s2 : array_like, optional
        Local acceleration of free fall; the standard value if left out (`normal_gravity_m_s2` gives it; up to 0.3 %).
    air_density_kg_m3 : array_like, optional
        Density of the air in the open leg, which weighs against the water: 1.1 lowers the result by 0.11 %.
        Left out where the conventional water column is wanted.

    Returns
    -------
    ndarray of float, or pandas column
        Pressure difference, Pa: 9789 Pa per metre at 20 °C.

    Raises
    ------
    InputError
        If a height or a temperature cannot be.

    References
    ----------
    Hydrostatics; density of water Tanaka et al. (2001), Metrologia 38, 301-309 (from memory).

    Examples
    --------
    >>> round(float(water_column_pa(1.5, temperature_c=20.0)))
    14684
    """
    back = rows_of(height_m=height_m, temperature_c=temperature_c)
    height = within("height_m", height_m, -3.0, 3.0, "m", "give the difference of the levels in metres")
    gravity = within("gravity_m_s2", gravity_m_s2, 9.7, 9.9, "m/s²")
    air = within("air_density_kg_m3", air_density_kg_m3, 0.0, 2.0, "kg/m³")
    return back(floats((liquid_density_kg_m3(temperature_c) - air) * gravity * height))


def water_column_slopes(
    height_m: ArrayLike, *, temperature_c: ArrayLike, gravity_m_s2: ArrayLike = G0_M_S2
) -> tuple[FloatArray, FloatArray]:
    """Change of `water_column_pa` with the height and with the water's temperature.

    Parameters
    ----------
    height_m, temperature_c, gravity_m_s2 : array_like
        As for `water_column_pa`.

    Returns
    -------
    slope_height : ndarray of float
        Pa/m.
    slope_temperature : ndarray of float
        Pa/K.

    Raises
    ------
    InputError
        As for `water_column_pa`.

    References
    ----------
    Derivatives of `water_column_pa`; that of the density by central difference over 0.02 K.

    Examples
    --------
    >>> [round(float(slope), 1) for slope in water_column_slopes(1.5, temperature_c=20.0)]
    [9789.1, -3.0]
    """
    by_height = floats(liquid_density_kg_m3(temperature_c) * floats(gravity_m_s2))
    t = np.clip(floats(temperature_c), 0.01, 39.99)
    by_kelvin = (liquid_density_kg_m3(t + 0.01) - liquid_density_kg_m3(t - 0.01)) / 0.02
    return by_height, floats(by_kelvin * floats(gravity_m_s2) * floats(height_m))


def normal_gravity_m_s2(latitude_deg: ArrayLike, elevation_m: ArrayLike = 0.0) -> FloatArray:
    """Acceleration of free fall at a latitude and elevation, without the local rock.

    Parameters
    ----------
    latitude_deg : array_like
        Latitude, degrees, north or south. Valid -90 to 90.
    elevation_m : array_like, optional
        Elevation, m. Valid -450 to 9000 m.

    Returns
    -------
    ndarray of float, or pandas column
        m/s²; right to about 0.0005 in most places (common practice, no source).

    Raises
    ------
    InputError
        If a latitude or elevation cannot be.

    References
    ----------
    Geodetic Reference System 1980, Moritz H. (1980), Somigliana's closed formula, and the free-air gradient of
    3.086e-6 per s² (from memory).

    Examples
    --------
    >>> [round(float(normal_gravity_m_s2(latitude)), 4) for latitude in (0.0, 45.0, 90.0)]
    [9.7803, 9.8062, 9.8322]
    """
    back = rows_of(latitude_deg=latitude_deg, elevation_m=elevation_m)
    latitude = np.deg2rad(within("latitude_deg", latitude_deg, -90.0, 90.0, "°"))
    height = within("elevation_m", elevation_m, -450.0, 9_000.0, "m")
    sine_2 = np.sin(latitude) ** 2
    at_sea = 9.7803267715 * (1.0 + 0.001931851353 * sine_2) / np.sqrt(1.0 - 0.00669438002290 * sine_2)
    return back(floats(at_sea - 3.086e-6 * height))
