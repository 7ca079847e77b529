"""Water between ice and steam: the saturation line both ways, its slope, and the density of the liquid."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from sensorcal.physics.numeric import FloatArray, floats, within

ZERO_C_K = 273.15
_TRIPLE_SIDE_K, _CRITICAL_K = 273.15, 647.096  # range of IAPWS R7-97 region 4

# IAPWS R7-97(2012), table 34
_N1, _N2, _N3, _N4, _N5 = (
    0.11670521452767e4,
    -0.72421316703206e6,
    -0.17073846940092e2,
    0.12020824702470e5,
    -0.32325550322333e7,
)
_N6, _N7, _N8, _N9, _N10 = (
    0.14915108613530e2,
    -0.48232657361591e4,
    0.40511340542057e6,
    -0.23855557567849,
    0.65017534844798e3,
)


def saturation_pressure_pa(temperature_c: ArrayLike) -> FloatArray:
    """Pressure at which pure water boils at a given temperature.

    Parameters
    ----------
    temperature_c : array_like
        Temperature, °C; scalar or array. Valid 0 to 373.946 °C.

    Returns
    -------
    ndarray of float
        Absolute pressure, Pa. IAPWS states 0.025 % for the line near 100 °C (from memory).

    Raises
    ------
    InputError
        If a temperature leaves 0 to 373.946 °C.

    References
    ----------
    IAPWS R7-97(2012), equation (30), table 34.

    Examples
    --------
    >>> round(float(saturation_pressure_pa(99.9743)))
    101325
    """
    t_c = within("temperature_c", temperature_c, 0.0, _CRITICAL_K - ZERO_C_K, "°C")
    kelvin = t_c + ZERO_C_K
    theta = kelvin + _N9 / (kelvin - _N10)
    a = theta**2 + _N1 * theta + _N2
    b = _N3 * theta**2 + _N4 * theta + _N5
    c = _N6 * theta**2 + _N7 * theta + _N8
    return floats(1e6 * (2.0 * c / (-b + np.sqrt(b**2 - 4.0 * a * c))) ** 4)


def boiling_point_c(pressure_pa: ArrayLike) -> FloatArray:
    """Temperature at which pure water boils, and its vapour condenses on a probe, at a given pressure.

    Parameters
    ----------
    pressure_pa : array_like
        Absolute pressure, Pa; scalar or array. Valid 611.213 Pa to 22.064 MPa.

    Returns
    -------
    ndarray of float
        Temperature, °C (ITS-90); agrees with `saturation_pressure_pa` to rounding.

    Raises
    ------
    InputError
        If a pressure leaves 611.213 Pa to 22.064 MPa; so a gauge reading of zero or below is refused.

    References
    ----------
    IAPWS R7-97(2012), equation (31), table 34.

    Examples
    --------
    >>> round(float(boiling_point_c(93_470.0)), 2)
    97.73
    """
    beta = (_line_pressure(pressure_pa) / 1e6) ** 0.25
    e = beta**2 + _N3 * beta + _N6
    f = _N1 * beta**2 + _N4 * beta + _N7
    g = _N2 * beta**2 + _N5 * beta + _N8
    d = 2.0 * g / (-f - np.sqrt(f**2 - 4.0 * e * g))
    root = np.sqrt((_N10 + d) ** 2 - 4.0 * (_N9 + _N10 * d))
    return floats(0.5 * (_N10 + d - root) - ZERO_C_K)


def boiling_slope_c_per_pa(pressure_pa: ArrayLike) -> FloatArray:
    """Change of the boiling point with pressure.

    Parameters
    ----------
    pressure_pa : array_like
        Absolute pressure, Pa; scalar or array. Valid 611.213 Pa to 22.064 MPa.

    Returns
    -------
    ndarray of float
        dT/dp, °C/Pa.

    Raises
    ------
    InputError
        If a pressure leaves 611.213 Pa to 22.064 MPa.

    References
    ----------
    IAPWS R7-97(2012), derivative of the implicit equation (29) between equations (30) and (31).

    Examples
    --------
    >>> round(float(boiling_slope_c_per_pa(93_470.0)) * 1000.0, 4)
    0.2956
    """
    p = _line_pressure(pressure_pa)
    beta = (p / 1e6) ** 0.25
    kelvin = boiling_point_c(p) + ZERO_C_K
    theta = kelvin + _N9 / (kelvin - _N10)
    # equation (29): F(beta, theta) = 0, so dtheta/dbeta = -F_beta / F_theta
    f_beta = 2.0 * beta * (theta**2 + _N1 * theta + _N2) + _N3 * theta**2 + _N4 * theta + _N5
    f_theta = beta**2 * (2.0 * theta + _N1) + beta * (2.0 * _N3 * theta + _N4) + 2.0 * _N6 * theta + _N7
    theta_by_kelvin = 1.0 - _N9 / (kelvin - _N10) ** 2
    beta_by_pa = beta / (4.0 * p)
    return floats(-f_beta / f_theta * beta_by_pa / theta_by_kelvin)


def condensing_point_c(pressure_pa: ArrayLike, air_fraction: ArrayLike) -> FloatArray:
    """Temperature of steam that has some air mixed in, as above a pot with a badly closed lid.

    Parameters
    ----------
    pressure_pa : array_like
        Absolute pressure of the mixture, Pa.
    air_fraction : array_like
        Share of air by volume, 0 to 0.9 (ratio). Both broadcast.

    Returns
    -------
    ndarray of float
        Temperature at which the vapour condenses, °C.

    Raises
    ------
    InputError
        If the pressure or the share of air leaves its range.

    References
    ----------
    Dalton's law with IAPWS R7-97(2012), equation (31).

    Examples
    --------
    >>> round(float(condensing_point_c(93_470.0, 0.01) - boiling_point_c(93_470.0)), 2)
    -0.28
    """
    share = within("air_fraction", air_fraction, 0.0, 0.9, "(ratio)")
    return boiling_point_c(floats(pressure_pa) * (1.0 - share))


def liquid_density_kg_m3(temperature_c: ArrayLike) -> FloatArray:
    """Density of pure air-free water at about one atmosphere, for a water-filled U-tube.

    Parameters
    ----------
    temperature_c : array_like
        Water temperature, °C; scalar or array. Valid 0 to 40 °C.

    Returns
    -------
    ndarray of float
        Density, kg/m³. Tap water is some hundredths of a per cent denser.

    Raises
    ------
    InputError
        If a temperature leaves 0 to 40 °C.

    References
    ----------
    Tanaka et al. (2001), Recommended table for the density of water between 0 °C and 40 °C,
    Metrologia 38, 301-309, equation (1) with the maximum of Vienna standard water (from memory).

    Examples
    --------
    >>> round(float(liquid_density_kg_m3(20.0)), 2)
    998.21
    """
    t = within("temperature_c", temperature_c, 0.0, 40.0, "°C")
    return floats(999.974950 * (1.0 - (t - 3.983035) ** 2 * (t + 301.797) / (522528.9 * (t + 69.34881))))


_LOWEST_PA = float(saturation_pressure_pa(0.0))
_HIGHEST_PA = float(saturation_pressure_pa(_CRITICAL_K - ZERO_C_K))


def _line_pressure(pressure_pa: ArrayLike) -> FloatArray:
    return within("pressure_pa", pressure_pa, _LOWEST_PA, _HIGHEST_PA, "Pa", "give the absolute pressure")
