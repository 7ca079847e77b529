"""Three invented probes that many tests share; none is the product's own code."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.interpolate import CubicSpline, PPoly

TABLE_C = (-20.0, 0.0, 20.0, 25.0, 50.0, 75.0, 90.0, 97.7, 110.0, 120.0, 130.0, 150.0)
TABLE_OHM = (14079.0, 5230.0, 2199.0, 1800.0, 721.0, 325.4, 211.8, 172.1, 125.4, 98.2, 77.8, 50.3)
"""Probe J of the invented scenario."""
ZERO_C_K = 273.15


@dataclass(frozen=True, slots=True, kw_only=True)
class SteinhartHartProbe:
    """1/T = a + b ln R + c (ln R)^3."""

    a: float
    b: float
    c: float

    def temperature_c(self, resistance_ohm):
        """Temperature of the probe at a resistance."""
        x = np.log(np.asarray(resistance_ohm, dtype=float))
        return 1.0 / (self.a + x * (self.b + self.c * x * x)) - ZERO_C_K

    def resistance_ohm(self, temperature_c):
        """Resistance of the probe at a temperature, by Newton's method."""
        wanted = 1.0 / (np.asarray(temperature_c, dtype=float) + ZERO_C_K)
        x = (wanted - self.a) / self.b
        for _ in range(12):
            x = x - (self.a + x * (self.b + self.c * x * x) - wanted) / (self.b + 3 * self.c * x * x)
        return np.exp(x)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SplineProbe:
    """ln R as a natural cubic spline of 1/T, its end pieces continued."""

    spline: PPoly

    def resistance_ohm(self, temperature_c):
        """Resistance of the probe at a temperature."""
        return np.exp(self.spline(1.0 / (np.asarray(temperature_c, dtype=float) + ZERO_C_K)))

    def temperature_c(self, resistance_ohm):
        """Temperature of the probe at a resistance, by Newton's method from a fine table."""
        x = np.log(np.asarray(resistance_ohm, dtype=float))
        grid = np.linspace(self.spline.x[0] * 0.95, self.spline.x[-1] * 1.05, 4001)
        inverse_t = np.interp(x, self.spline(grid), grid)
        for _ in range(6):
            inverse_t = inverse_t - (self.spline(inverse_t) - x) / self.spline(inverse_t, 1)
        return 1.0 / inverse_t - ZERO_C_K


def through(temperature_c, resistance_ohm):
    """The Steinhart-Hart probe through three points."""
    x = np.log(np.asarray(resistance_ohm, dtype=float))
    rows = np.stack([np.ones(3), x, x**3], axis=1)
    a, b, c = np.linalg.solve(rows, 1.0 / (np.asarray(temperature_c, dtype=float) + ZERO_C_K))
    return SteinhartHartProbe(a=float(a), b=float(b), c=float(c))


def j_spline():
    """Probe J: natural cubic spline of ln R against 1/T through the twelve points of its table."""
    inverse_t = 1.0 / (np.array(TABLE_C[::-1]) + ZERO_C_K)
    return SplineProbe(spline=CubicSpline(inverse_t, np.log(TABLE_OHM[::-1]), bc_type="natural"))


def j_sh():
    """Probe J-SH: exactly Steinhart-Hart through 0, 50 and 97.7 degC of the table of probe J."""
    return through((0.0, 50.0, 97.7), (5230.0, 721.0, 172.1))


def k_sh():
    """Probe K: 10 kohm at 25 degC, B(0/25) 3850 K, B(25/100) 3950 K, exactly Steinhart-Hart."""
    t0, t25, t100 = 273.15, 298.15, 373.15
    r0 = 10_000.0 * np.exp(3850.0 * (1 / t0 - 1 / t25))
    r100 = 10_000.0 * np.exp(3950.0 * (1 / t100 - 1 / t25))
    return through((0.0, 25.0, 100.0), (r0, 10_000.0, r100))
