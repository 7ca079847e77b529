"""What an altimeter setting means: QNH to station pressure and back, and the national variants of the law.

QNH is neither the pressure at the field nor the true pressure at sea level: it is the station pressure taken
down through the *standard* atmosphere, so that an altimeter set to it shows the elevation on the ground.
"""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from sensorcal.errors import InputError
from sensorcal.physics.atmosphere import (
    LAPSE_K_PER_M,
    SEA_LEVEL_PRESSURE_PA,
    pressure_altitude_m,
    standard_pressure_pa,
    standard_pressure_slope_pa_per_m,
)
from sensorcal.physics.numeric import FloatArray, floats, within

Variant = Literal["icao", "smithsonian", "asos"]
VARIANTS: tuple[Variant, ...] = ("icao", "smithsonian", "asos")

_FT_M = 0.3048
_INHG_PA = 0.0254 * 13_595.1 * 9.80665  # conventional inch of mercury: the variants are written in it
_SMITHSONIAN_EXPONENT, _SMITHSONIAN_T0_K, _SMITHSONIAN_OFFSET_PA = 0.190284, 288.0, 30.0
_ASOS_EXPONENT, _ASOS_INHG_PER_FT = 0.1903, 1.313e-5


def station_pressure_pa(qnh_pa: ArrayLike, elevation_m: ArrayLike) -> FloatArray:
    """Pressure at a station of known elevation from the QNH it reports (QFE, where it is an aerodrome's).

    QNH is made with the *standard* atmosphere, so this inverse is exact at the reporting station whatever the
    air temperature. From there to elsewhere, carry the result with `carried_pressure_pa`.

    Parameters
    ----------
    qnh_pa : array_like
        Altimeter setting, Pa.
    elevation_m : array_like
        Elevation of the station that reports, m. Both broadcast.

    Returns
    -------
    ndarray of float
        Station pressure, Pa.

    Raises
    ------
    InputError
        If a pressure or an altitude leaves the standard atmosphere.

    References
    ----------
    ICAO Doc 7488/3 relation between pressure and altitude; WMO-No. 8 for the definition of QNH.

    Examples
    --------
    >>> round(float(station_pressure_pa(101_325.0, 1000.0)), 2)
    89874.56
    """
    return standard_pressure_pa(pressure_altitude_m(qnh_pa) + floats(elevation_m))


def qnh_pa(station_pressure_pa: ArrayLike, elevation_m: ArrayLike) -> FloatArray:
    """QNH that a station of known elevation reports when its barometer shows this pressure.

    Parameters
    ----------
    station_pressure_pa : array_like
        Pressure at the station (QFE), Pa.
    elevation_m : array_like
        Elevation of the station, m. Both broadcast.

    Returns
    -------
    ndarray of float
        Altimeter setting (QNH), Pa.

    Raises
    ------
    InputError
        If a pressure or an altitude leaves the standard atmosphere.

    References
    ----------
    ICAO Doc 7488/3 relation between pressure and altitude; WMO-No. 8 for the definition of QNH.

    Examples
    --------
    >>> round(float(qnh_pa(89_874.56, 1000.0)), 1)
    101325.0
    """
    return standard_pressure_pa(pressure_altitude_m(station_pressure_pa) - floats(elevation_m))


def station_pressure_slopes(qnh_pa: ArrayLike, elevation_m: ArrayLike) -> tuple[FloatArray, FloatArray]:
    """Change of `station_pressure_pa` with QNH and with elevation.

    Parameters
    ----------
    qnh_pa : array_like
        Altimeter setting, Pa.
    elevation_m : array_like
        Elevation of the station, m. Both broadcast.

    Returns
    -------
    slope_qnh : ndarray of float
        dp/dQNH, Pa/Pa.
    slope_elevation : ndarray of float
        dp/dH, Pa/m; negative.

    Raises
    ------
    InputError
        If a pressure or an altitude leaves the standard atmosphere.

    References
    ----------
    Derivative of the ICAO Doc 7488/3 relation; both ends obey dp = -ρ g0 dH.

    Examples
    --------
    >>> slope_qnh, slope_elevation = station_pressure_slopes(100_900.0, 610.0)
    >>> round(float(slope_qnh), 3), round(float(slope_elevation), 2)
    (0.943, -11.29)
    """
    datum_m = pressure_altitude_m(qnh_pa)
    slope_elevation = standard_pressure_slope_pa_per_m(datum_m + floats(elevation_m))
    return floats(slope_elevation / standard_pressure_slope_pa_per_m(datum_m)), slope_elevation


def shown_altitude_m(pressure_pa: ArrayLike, setting_pa: ArrayLike) -> FloatArray:
    """Altitude that a perfect altimeter shows at this pressure with this setting in its window.

    Parameters
    ----------
    pressure_pa : array_like
        Pressure at the altimeter, Pa.
    setting_pa : array_like
        Setting in the window, Pa. Both broadcast.

    Returns
    -------
    ndarray of float
        Altitude shown, m.

    Raises
    ------
    InputError
        If a pressure lies outside the standard atmosphere.

    References
    ----------
    ICAO Doc 7488/3; an altimeter shows the difference of two pressure altitudes.

    Examples
    --------
    >>> round(float(shown_altitude_m(89_874.56, 101_325.0)), 1)
    1000.0
    """
    return floats(pressure_altitude_m(pressure_pa) - pressure_altitude_m(setting_pa))


def station_pressure_by_variant_pa(qnh_pa: ArrayLike, elevation_m: ArrayLike, variant: Variant) -> FloatArray:
    """Station pressure from an altimeter setting, by the formula that a country's weather service uses.

    Parameters
    ----------
    qnh_pa : array_like
        Altimeter setting, Pa. Valid 80 000 to 110 000 Pa.
    elevation_m : array_like
        Elevation of the station, m. Valid -500 to 9000 m. Both broadcast.
    variant : {"icao", "smithsonian", "asos"}
        'icao' as in `station_pressure_pa`; 'smithsonian' with T0 = 288 K and 0.3 hPa taken from the pressure
        first (so it does not return QNH at elevation zero); 'asos' as United States automatic stations do.

    Returns
    -------
    ndarray of float
        Station pressure, Pa.

    Raises
    ------
    InputError
        If a setting or an elevation leaves its range, or the variant is unknown.

    References
    ----------
    Smithsonian Meteorological Tables (1951) p. 269; National Weather Service training page, ASOS algorithm.
    The outer exponent printed there, 5.255, is 1/0.1903 rounded, worth 7 Pa at 1500 m; 1/0.1903 is used here.

    Examples
    --------
    >>> round(float(station_pressure_by_variant_pa(100_000.0, 610.0, "smithsonian")), 0)
    92987.0
    """
    _known(variant)
    a = within("qnh_pa", qnh_pa, 80_000.0, 110_000.0, "Pa")
    h = within("elevation_m", elevation_m, -500.0, 9_000.0, "m")
    if variant == "icao":
        return station_pressure_pa(a, h)
    n, rise, offset, unit = _constants(variant)
    return floats((np.power(a / unit, n) - rise * h) ** (1.0 / n) * unit + offset)


def altimeter_setting_by_variant_pa(
    station_pressure_pa: ArrayLike, elevation_m: ArrayLike, variant: Variant
) -> FloatArray:
    """Altimeter setting that a country's weather service reports for a station pressure.

    Parameters
    ----------
    station_pressure_pa : array_like
        Pressure at the station, Pa. Valid 25 000 to 110 000 Pa.
    elevation_m : array_like
        Elevation of the station, m. Valid -500 to 9000 m. Both broadcast.
    variant : {"icao", "smithsonian", "asos"}
        As for `station_pressure_by_variant_pa`.

    Returns
    -------
    ndarray of float
        Altimeter setting, Pa.

    Raises
    ------
    InputError
        If a pressure or an elevation leaves its range, or the variant is unknown.

    References
    ----------
    As for `station_pressure_by_variant_pa`.

    Examples
    --------
    >>> round(float(altimeter_setting_by_variant_pa(101_325.0, 0.0, "smithsonian")), 0)
    101295.0
    """
    _known(variant)
    p = within("station_pressure_pa", station_pressure_pa, 25_000.0, 110_000.0, "Pa")
    h = within("elevation_m", elevation_m, -500.0, 9_000.0, "m")
    if variant == "icao":
        return qnh_pa(p, h)
    n, rise, offset, unit = _constants(variant)
    return floats((np.power((p - offset) / unit, n) + rise * h) ** (1.0 / n) * unit)


def variant_spread_pa(qnh_pa: ArrayLike, elevation_m: ArrayLike) -> dict[str, FloatArray]:
    """How far each national variant of the station pressure lies from the ICAO relation.

    Parameters
    ----------
    qnh_pa : array_like
        Altimeter setting, Pa. Valid 80 000 to 110 000 Pa.
    elevation_m : array_like
        Elevation of the station, m. Valid -500 to 9000 m. Both broadcast.

    Returns
    -------
    dict of str to ndarray of float
        Variant minus ICAO, Pa, by the variant's name.

    Raises
    ------
    InputError
        If a setting or an elevation leaves its range.

    References
    ----------
    As for `station_pressure_by_variant_pa`.

    Examples
    --------
    >>> {name: round(float(pa)) for name, pa in variant_spread_pa(101_325.0, 1000.0).items()}
    {'smithsonian': 26, 'asos': 0}
    """
    icao = station_pressure_by_variant_pa(qnh_pa, elevation_m, "icao")
    others = (variant for variant in VARIANTS if variant != "icao")
    return {name: floats(station_pressure_by_variant_pa(qnh_pa, elevation_m, name) - icao) for name in others}


def _known(variant: str) -> None:
    if variant not in VARIANTS:
        raise InputError(f"variant '{variant}' is not known", do=f"use one of {', '.join(VARIANTS)}")


def _constants(variant: Variant) -> tuple[float, float, float, float]:
    """Exponent n, rise per metre, offset (Pa) and unit of pressure (Pa) of (p - offset)^n = A^n - rise H."""
    if variant == "smithsonian":
        n = _SMITHSONIAN_EXPONENT
        rise = float(SEA_LEVEL_PRESSURE_PA**n * LAPSE_K_PER_M / _SMITHSONIAN_T0_K)
        return n, rise, _SMITHSONIAN_OFFSET_PA, 1.0
    return _ASOS_EXPONENT, _ASOS_INHG_PER_FT / _FT_M, 0.0, _INHG_PA
