"""The standard atmosphere of ISO 2533 and ICAO Doc 7488, both ways, from -5 to 80 km.

Altitudes are geopotential metres unless a name says geometric; a surveyed field elevation may stand for
either (0.06 m apart at 640 m, 1.4 m at 3000 m). Functions take scalars or arrays and broadcast as NumPy does.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from sensorcal.physics.numeric import FloatArray, floats, within

G0_M_S2 = 9.80665  # standard acceleration of free fall, exact
R_DRY_AIR_J_KG_K = 287.05287  # gas constant of dry air, ISO 2533 and ICAO Doc 7488
EARTH_RADIUS_M = 6_356_766.0  # nominal radius for geopotential altitude, ISO 2533
ZERO_C_K = 273.15
SEA_LEVEL_PRESSURE_PA = 101_325.0
SEA_LEVEL_TEMPERATURE_C = 15.0
LAPSE_K_PER_M = 0.0065  # fall of temperature with altitude in the lowest layer
LOWEST_M, HIGHEST_M = -5_000.0, 80_000.0  # range of ICAO Doc 7488/3


class _Layer(NamedTuple):
    """One stretch of the atmosphere with a constant temperature gradient."""

    base_m: float
    gradient_k_per_m: float
    base_k: float
    base_pa: float

    @property
    def base_kg_m3(self) -> float:
        return self.base_pa / (R_DRY_AIR_J_KG_K * self.base_k)

    @property
    def scale_m(self) -> float:
        """Height in which pressure falls by e where the temperature is constant."""
        return R_DRY_AIR_J_KG_K * self.base_k / G0_M_S2

    @property
    def power(self) -> float:
        """Exponent of temperature in the pressure, ISO 2533 equation (12)."""
        return -G0_M_S2 / (R_DRY_AIR_J_KG_K * self.gradient_k_per_m)

    def temperature_k(self, altitude_m: FloatArray) -> FloatArray:
        return floats(self.base_k + self.gradient_k_per_m * (altitude_m - self.base_m))

    def pressure_pa(self, altitude_m: FloatArray) -> FloatArray:
        if self.gradient_k_per_m == 0.0:
            return floats(self.base_pa * np.exp((self.base_m - altitude_m) / self.scale_m))
        return floats(self.base_pa * (self.temperature_k(altitude_m) / self.base_k) ** self.power)

    def of_pressure_m(self, pressure_pa: FloatArray) -> FloatArray:
        return self._altitude_m(pressure_pa / self.base_pa, self.power if self.gradient_k_per_m else 0.0)

    def of_density_m(self, density_kg_m3: FloatArray) -> FloatArray:
        # density has one power of temperature less than pressure
        return self._altitude_m(density_kg_m3 / self.base_kg_m3, self.power - 1.0 if self.gradient_k_per_m else 0.0)

    def _altitude_m(self, fraction: FloatArray, power: float) -> FloatArray:
        if self.gradient_k_per_m == 0.0:
            return floats(self.base_m - self.scale_m * np.log(fraction))
        return floats(self.base_m + self.base_k / self.gradient_k_per_m * (fraction ** (1.0 / power) - 1.0))


def _layers() -> tuple[_Layer, ...]:
    # ISO 2533:1975 / ICAO Doc 7488/3: base (geopotential m) of each layer and its gradient (K/m);
    # the last entry is the upper end of the model, whose gradient serves nobody
    gradients = {
        0.0: -LAPSE_K_PER_M,
        11_000.0: 0.0,
        20_000.0: 0.001,
        32_000.0: 0.0028,
        47_000.0: 0.0,
        51_000.0: -0.0028,
        71_000.0: -0.002,
        HIGHEST_M: -0.002,
    }
    layers: list[_Layer] = []
    base_k, base_pa = ZERO_C_K + SEA_LEVEL_TEMPERATURE_C, SEA_LEVEL_PRESSURE_PA
    for base_m, gradient in gradients.items():
        if layers:
            base_k = float(layers[-1].temperature_k(floats(base_m)))
            base_pa = float(layers[-1].pressure_pa(floats(base_m)))
        layers.append(_Layer(base_m, gradient, base_k, base_pa))
    return tuple(layers)


*_LAYERS, _END = _layers()
_BASES_M = np.array([layer.base_m for layer in _LAYERS])
_BASES_PA = np.array([layer.base_pa for layer in _LAYERS])
_BASES_KG_M3 = np.array([layer.base_kg_m3 for layer in _LAYERS])
LOWEST_PA, HIGHEST_PA = _END.base_pa, float(_LAYERS[0].pressure_pa(floats(LOWEST_M)))
_HIGHEST_KG_M3 = HIGHEST_PA / (R_DRY_AIR_J_KG_K * float(_LAYERS[0].temperature_k(floats(LOWEST_M))))


def geopotential_altitude_m(geometric_altitude_m: ArrayLike) -> FloatArray:
    """Geopotential altitude of a height measured with a tape.

    Parameters
    ----------
    geometric_altitude_m : array_like
        Geometric altitude above mean sea level, m; scalar or array. Valid -5000 to 81 100 m.

    Returns
    -------
    ndarray of float
        Geopotential altitude, m.

    Raises
    ------
    InputError
        If an altitude lies outside the range of the standard atmosphere.

    References
    ----------
    ISO 2533:1975, equation (8), H = r Z / (r + Z).

    Examples
    --------
    >>> round(float(geopotential_altitude_m(3000.0)), 2)
    2998.58
    """
    z = within("geometric_altitude_m", geometric_altitude_m, LOWEST_M, 81_100.0, "m")
    return floats(EARTH_RADIUS_M * z / (EARTH_RADIUS_M + z))


def geometric_altitude_m(altitude_m: ArrayLike) -> FloatArray:
    """Height as a tape would measure it, of a geopotential altitude.

    Parameters
    ----------
    altitude_m : array_like
        Geopotential altitude, m; scalar or array. Valid -5004 to 80 100 m.

    Returns
    -------
    ndarray of float
        Geometric altitude, m.

    Raises
    ------
    InputError
        If an altitude lies outside the range of the standard atmosphere.

    References
    ----------
    ISO 2533:1975, equation (8) solved for Z.

    Examples
    --------
    >>> round(float(geometric_altitude_m(2998.58)), 2)
    3000.0
    """
    h = within("altitude_m", altitude_m, LOWEST_M - 4.0, HIGHEST_M + 100.0, "m")
    return floats(EARTH_RADIUS_M * h / (EARTH_RADIUS_M - h))


def standard_temperature_c(altitude_m: ArrayLike) -> FloatArray:
    """Air temperature of the standard atmosphere at a geopotential altitude.

    Parameters
    ----------
    altitude_m : array_like
        Geopotential altitude, m; scalar or array. Valid -5000 to 80 000 m.

    Returns
    -------
    ndarray of float
        Temperature, °C.

    Raises
    ------
    InputError
        If an altitude lies outside -5000 to 80 000 m.

    References
    ----------
    ISO 2533:1975 table 4; ICAO Doc 7488/3.

    Examples
    --------
    >>> round(float(standard_temperature_c(640.0)), 2)
    10.84
    """
    h = within("altitude_m", altitude_m, LOWEST_M, HIGHEST_M, "m")
    return floats(_by_layer(h, _BASES_M, _Layer.temperature_k) - ZERO_C_K)


def standard_pressure_pa(altitude_m: ArrayLike) -> FloatArray:
    """Pressure of the standard atmosphere at a geopotential altitude.

    Parameters
    ----------
    altitude_m : array_like
        Geopotential altitude, m; scalar or array. Valid -5000 to 80 000 m.

    Returns
    -------
    ndarray of float
        Pressure, Pa.

    Raises
    ------
    InputError
        If an altitude lies outside -5000 to 80 000 m.

    References
    ----------
    ISO 2533:1975, equations (12) and (13); ICAO Doc 7488/3.

    Examples
    --------
    >>> round(float(standard_pressure_pa(1000.0)), 2)
    89874.56
    """
    h = within("altitude_m", altitude_m, LOWEST_M, HIGHEST_M, "m")
    return _by_layer(h, _BASES_M, _Layer.pressure_pa)


def standard_density_kg_m3(altitude_m: ArrayLike) -> FloatArray:
    """Density of dry air in the standard atmosphere at a geopotential altitude.

    Parameters
    ----------
    altitude_m : array_like
        Geopotential altitude, m; scalar or array. Valid -5000 to 80 000 m.

    Returns
    -------
    ndarray of float
        Density, kg/m³.

    Raises
    ------
    InputError
        If an altitude lies outside -5000 to 80 000 m.

    References
    ----------
    ISO 2533:1975, equation (14): the ideal gas law at the standard pressure and temperature.

    Examples
    --------
    >>> round(float(standard_density_kg_m3(0.0)), 4)
    1.225
    """
    kelvin = standard_temperature_c(altitude_m) + ZERO_C_K
    return floats(standard_pressure_pa(altitude_m) / (R_DRY_AIR_J_KG_K * kelvin))


def standard_pressure_slope_pa_per_m(altitude_m: ArrayLike) -> FloatArray:
    """Change of standard pressure with altitude: the weight of a metre of standard air, negative upwards.

    Parameters
    ----------
    altitude_m : array_like
        Geopotential altitude, m; scalar or array. Valid -5000 to 80 000 m.

    Returns
    -------
    ndarray of float
        dp/dH, Pa/m.

    Raises
    ------
    InputError
        If an altitude lies outside -5000 to 80 000 m.

    References
    ----------
    ISO 2533:1975, equation (7), dp = -ρ g0 dH.

    Examples
    --------
    >>> round(float(standard_pressure_slope_pa_per_m(0.0)), 3)
    -12.013
    """
    return floats(-G0_M_S2 * standard_density_kg_m3(altitude_m))


def pressure_altitude_m(pressure_pa: ArrayLike) -> FloatArray:
    """Altitude at which the standard atmosphere has this pressure, shown by an altimeter set to 1013.25 hPa.

    Parameters
    ----------
    pressure_pa : array_like
        Absolute air pressure, Pa; scalar or array. Valid 0.89 Pa (80 km) to 177 687 Pa (-5 km).

    Returns
    -------
    ndarray of float
        Geopotential pressure altitude, m.

    Raises
    ------
    InputError
        If a pressure lies outside the standard atmosphere; so a zero, negative or gauge reading is refused.

    References
    ----------
    ISO 2533:1975, equations (12) and (13) solved for H; ICAO Doc 7488/3.

    Examples
    --------
    >>> round(float(pressure_altitude_m(93_470.0)), 1)
    675.4
    """
    p = within("pressure_pa", pressure_pa, LOWEST_PA, HIGHEST_PA, "Pa", "give the absolute pressure of the air")
    return _by_layer(p, _BASES_PA, _Layer.of_pressure_m)


def altitude_of_density_m(density_kg_m3: ArrayLike) -> FloatArray:
    """Altitude at which the standard atmosphere has this density.

    Parameters
    ----------
    density_kg_m3 : array_like
        Density of the air, kg/m³; scalar or array. Valid 1.6e-5 (80 km) to 1.931 (-5 km).

    Returns
    -------
    ndarray of float
        Geopotential density altitude, m.

    Raises
    ------
    InputError
        If a density lies outside the standard atmosphere.

    References
    ----------
    ISO 2533:1975, equations (12) to (14) solved for H.

    Examples
    --------
    >>> round(float(altitude_of_density_m(1.111643)), 1)
    1000.0
    """
    rho = within("density_kg_m3", density_kg_m3, _END.base_kg_m3, _HIGHEST_KG_M3, "kg/m³")
    return _by_layer(rho, _BASES_KG_M3, _Layer.of_density_m)


def _by_layer(value: FloatArray, bases: FloatArray, law: Callable[[_Layer, FloatArray], FloatArray]) -> FloatArray:
    """Apply to each element the law of its layer; `bases` may rise (altitude) or fall (pressure, density)."""
    if value.size == 0:
        return value
    sign = 1.0 if bases[0] < bases[-1] else -1.0

    def layer_of(x: FloatArray | float) -> np.ndarray:
        return np.searchsorted(sign * bases[1:], sign * x, side="left")

    ends = layer_of(np.array([np.fmin.reduce(value, axis=None), np.fmax.reduce(value, axis=None)]))
    first, last = int(ends.min()), int(ends.max())
    if first == last:  # a log of one flight stays in one layer
        return law(_LAYERS[first], value)
    numbers = layer_of(value)
    result = np.full_like(value, np.nan)
    for number in range(first, last + 1):
        here = numbers == number
        result[here] = law(_LAYERS[number], value[here])
    return result
