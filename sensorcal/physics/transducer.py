"""Ratiometric pressure transducers: the line of the data sheet, fitted curves pressure(ratio), supply and ground."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from sensorcal.errors import CurveError, InputError
from sensorcal.physics.numeric import FloatArray, floats

LOWEST_SOUND_RATIO = 0.05
HIGHEST_SOUND_RATIO = 0.95
"""Outputs beyond 0.25 V and 4.75 V on 5 V are a broken wire or a short: common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RatioPolynomial:
    """Pressure as a polynomial in the centred, scaled ratio x = (ratio - centre) / scale.

    Parameters
    ----------
    coefficients_pa : array, shape (p,)
        Of x⁰, x¹, ...; at least two.
    centre, scale : float
        Middle and half-width of the tested ratios.
    low_ratio, high_ratio : float
        Tested ratios; the curve must rise between them, and is inverted on the rising branch around them.

    Raises
    ------
    CurveError
        The curve does not rise all the way between the tested ratios.

    Examples
    --------
    >>> line = RatioPolynomial.through(zero_ratio=0.1, span_ratio=0.8, low_pa=0.0, high_pa=1e6)
    >>> float(line.pressure_pa(0.42).round(3)), float(line.ratio(400_000.0).round(6))
    (400000.0, 0.42)
    """

    coefficients_pa: FloatArray
    centre: float
    scale: float
    low_ratio: float
    high_ratio: float

    def __post_init__(self) -> None:
        """Copy the coefficients; refuse a curve that turns round."""
        coefficients = np.array(self.coefficients_pa, dtype=np.float64)
        coefficients.setflags(write=False)
        object.__setattr__(self, "coefficients_pa", coefficients)
        if coefficients.size < 2 or not self.scale > 0.0 or not self.high_ratio > self.low_ratio:
            raise CurveError("a curve of pressure needs two coefficients and a range of ratios above zero")
        inside = np.linspace(self.low_ratio, self.high_ratio, 257)
        slope = self.slope_pa_per_ratio(inside)
        if not np.all(slope > 0.0):
            where = float(inside[int(np.argmin(slope))])
            raise CurveError(
                f"the curve does not rise with the ratio at {where:.4f}",
                do="look for a wrong reading, or ask for a curve of lower order",
            )

    @classmethod
    def through(cls, *, zero_ratio: float, span_ratio: float, low_pa: float, high_pa: float) -> RatioPolynomial:
        """Give the straight line through a zero ratio at `low_pa` that rises by `span_ratio` up to `high_pa`."""
        if not span_ratio > 0.0:
            raise CurveError(f"a span of {span_ratio:g} in ratio is none", do="give output over supply at both ends")
        middle, half = zero_ratio + 0.5 * span_ratio, 0.5 * span_ratio
        mean, reach = 0.5 * (low_pa + high_pa), 0.5 * (high_pa - low_pa)
        return cls(
            coefficients_pa=np.array([mean, reach]),
            centre=middle,
            scale=half,
            low_ratio=zero_ratio,
            high_ratio=zero_ratio + span_ratio,
        )

    @property
    def order(self) -> int:
        """Power of the last term: 1 for a straight line."""
        return self.coefficients_pa.size - 1

    def design(self, ratio: ArrayLike) -> FloatArray:
        """Derivatives of the pressure by each coefficient at a ratio, shape (..., p)."""
        x = (floats(ratio) - self.centre) / self.scale
        return np.asarray(x[..., None] ** np.arange(self.coefficients_pa.size), dtype=np.float64)

    def pressure_pa(self, ratio: ArrayLike) -> FloatArray:
        """Pressure in Pa at a ratio V_out / V_supply (any shape)."""
        x = (floats(ratio) - self.centre) / self.scale
        return np.asarray(np.polynomial.polynomial.polyval(x, self.coefficients_pa), dtype=np.float64)

    def slope_pa_per_ratio(self, ratio: ArrayLike) -> FloatArray:
        """Slope dp/d(ratio) in Pa at a ratio (any shape)."""
        x = (floats(ratio) - self.centre) / self.scale
        derivative = np.polynomial.polynomial.polyder(self.coefficients_pa)
        return np.asarray(np.polynomial.polynomial.polyval(x, derivative) / self.scale, dtype=np.float64)

    def ratio(self, pressure_pa: ArrayLike) -> FloatArray:
        """Ratio at a pressure in Pa (any shape), by Newton's method guarded by bisection.

        Raises
        ------
        CurveError
            The pressure lies beyond the rising part of the curve.
        """
        wanted = floats(pressure_pa)
        if self.order == 1:
            c0, c1 = self.coefficients_pa.tolist()
            return np.asarray(self.centre + self.scale * (wanted - c0) / c1, dtype=np.float64)
        low, high = self._rising()
        if np.any(wanted < self.pressure_pa(low)) or np.any(wanted > self.pressure_pa(high)):
            ends = f"{float(self.pressure_pa(low)):.6g} to {float(self.pressure_pa(high)):.6g} Pa"
            raise CurveError(
                f"the curve rises from {ends} only",
                do="ask within that range",
            )
        below, above = np.full(wanted.shape, low), np.full(wanted.shape, high)
        r = below + (above - below) * 0.5
        for _ in range(60):
            error = self.pressure_pa(r) - wanted
            below, above = np.where(error <= 0.0, r, below), np.where(error >= 0.0, r, above)
            slope = self.slope_pa_per_ratio(r)
            step = r - error / np.where(slope > 0.0, slope, np.inf)
            following = np.where((step > below) & (step < above), step, 0.5 * (below + above))
            if np.all(np.abs(following - r) <= 1e-15):
                break
            r = following
        return np.asarray(r, dtype=np.float64)

    def _rising(self) -> tuple[float, float]:
        """Widest stretch around the tested ratios, within -0.2 to 1.2, on which the curve rises."""
        turns = np.polynomial.polynomial.polyroots(np.polynomial.polynomial.polyder(self.coefficients_pa))
        real = self.centre + self.scale * turns[np.abs(turns.imag) < 1e-12].real
        low = max([-0.2, *(float(t) for t in real if t <= self.low_ratio)])
        high = min([1.2, *(float(t) for t in real if t >= self.high_ratio)])
        return low, high


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RatioTable:
    """Pressure by straight lines between points (ratio, pressure), the end lines continued.

    Parameters
    ----------
    knots_ratio, coefficients_pa : array, shape (p,)
        Rising ratios and the pressures there, which rise too.

    Raises
    ------
    CurveError
        Ratios or pressures do not rise.

    Examples
    --------
    >>> table = RatioTable(knots_ratio=[0.1, 0.5, 0.9], coefficients_pa=[0.0, 510e3, 1000e3])
    >>> float(table.pressure_pa(0.3).round(3)), float(table.ratio(255e3).round(6))
    (255000.0, 0.3)
    """

    knots_ratio: FloatArray
    coefficients_pa: FloatArray

    def __post_init__(self) -> None:
        """Copy the points; refuse points that do not rise."""
        for name in ("knots_ratio", "coefficients_pa"):
            values = np.array(getattr(self, name), dtype=np.float64)
            values.setflags(write=False)
            object.__setattr__(self, name, values)
        knots, pressures = self.knots_ratio, self.coefficients_pa
        if knots.size < 2 or knots.size != pressures.size or np.any(np.diff(knots) <= 0.0):
            raise CurveError("a table of pressures needs two points or more whose ratios rise")
        if np.any(np.diff(pressures) <= 0.0):
            raise CurveError("the pressures of the table do not rise with the ratio", do="look for a wrong reading")

    @property
    def low_ratio(self) -> float:
        """Lowest ratio of the table."""
        return float(self.knots_ratio[0])

    @property
    def high_ratio(self) -> float:
        """Highest ratio of the table."""
        return float(self.knots_ratio[-1])

    def design(self, ratio: ArrayLike) -> FloatArray:
        """Derivatives of the pressure by the pressure at each point, shape (..., p)."""
        r = floats(ratio)
        knots = self.knots_ratio
        at = np.clip(np.searchsorted(knots, r, side="right") - 1, 0, knots.size - 2)
        share = (r - knots[at]) / (knots[at + 1] - knots[at])
        each = np.arange(knots.size)
        left = (each == at[..., None]) * (1.0 - share)[..., None]
        return np.asarray(left + (each == (at + 1)[..., None]) * share[..., None], dtype=np.float64)

    def pressure_pa(self, ratio: ArrayLike) -> FloatArray:
        """Pressure in Pa at a ratio V_out / V_supply (any shape)."""
        return np.asarray(self.design(ratio) @ self.coefficients_pa, dtype=np.float64)

    def slope_pa_per_ratio(self, ratio: ArrayLike) -> FloatArray:
        """Slope dp/d(ratio) in Pa of the line on which a ratio lies (any shape)."""
        r = floats(ratio)
        slopes = np.diff(self.coefficients_pa) / np.diff(self.knots_ratio)
        at = np.clip(np.searchsorted(self.knots_ratio, r, side="right") - 1, 0, slopes.size - 1)
        return np.asarray(slopes[at], dtype=np.float64)

    def ratio(self, pressure_pa: ArrayLike) -> FloatArray:
        """Ratio at a pressure in Pa (any shape)."""
        turned = RatioTable(knots_ratio=self.coefficients_pa, coefficients_pa=self.knots_ratio)
        return turned.pressure_pa(pressure_pa)


RatioCurve = RatioPolynomial | RatioTable
"""Either kind of curve: both give pressure, slope, design and the inverse."""


def sound_ratio(ratio: ArrayLike, *, name: str = "ratio") -> FloatArray:
    """Hand a ratio V_out / V_supply on if it can be one.

    Parameters
    ----------
    ratio : array_like
        Output over supply; scalar or any shape.
    name : str
        Name of the argument, for the message.

    Returns
    -------
    ndarray of float

    Raises
    ------
    InputError
        A ratio outside 0 to 1; the first such number is shown.

    Examples
    --------
    >>> float(sound_ratio(0.42))
    0.42
    """
    r = floats(ratio)
    wrong = r[~((r >= 0.0) & (r <= 1.0)) & ~np.isnan(r)]
    if wrong.size:
        raise InputError(
            f"{name} {float(wrong.flat[0]):g} is outside 0 to 1",
            do="an output lies between zero and its supply: check volts, supply, and the unit (V or mV)",
        )
    return r


def ratio_of(output_v: ArrayLike, supply_v: ArrayLike) -> FloatArray:
    """Ratio of the output to the supply, both in V (any shapes that broadcast).

    Raises
    ------
    InputError
        A supply of zero or less, or an output outside zero to the supply.

    References
    ----------
    Ratiometric output V = V_supply (0.1 + 0.8 p / p_span): common practice, no source.

    Examples
    --------
    >>> round(float(ratio_of(2.0706, 4.93)), 4)
    0.42
    """
    supply = floats(supply_v)
    if np.any(supply <= 0.0):
        raise InputError(
            f"supply_v {float(supply[supply <= 0.0].flat[0]):g} V is not above zero",
            do="measure the supply at the sensor's plug",
        )
    return sound_ratio(floats(output_v) / supply, name="output over supply")


def supply_ignored_pa(curve: RatioCurve, ratio: ArrayLike, supply_v: ArrayLike, assumed_v: float = 5.0) -> FloatArray:
    """Give what it costs to take the supply for a round figure: shown minus true pressure, Pa.

    Parameters
    ----------
    curve : RatioCurve
        The transducer's curve.
    ratio : array_like
        True output over supply; any shape.
    supply_v : array_like
        Supply as measured, V; broadcasts with `ratio`.
    assumed_v : float
        What it is taken for, V.

    Returns
    -------
    ndarray of float
        Error in Pa.

    Examples
    --------
    >>> line = RatioPolynomial.through(zero_ratio=0.1, span_ratio=0.8, low_pa=0.0, high_pa=1e6)
    >>> supply_ignored_pa(line, [0.1, 0.42, 0.74], 4.90).round(-2).tolist()
    [-2500.0, -10500.0, -18500.0]
    """
    r = sound_ratio(ratio)
    if not assumed_v > 0.0:
        raise InputError(f"assumed_v {assumed_v:g} V is not above zero", do="give the supply that was assumed")
    return curve.pressure_pa(r * floats(supply_v) / assumed_v) - curve.pressure_pa(r)


def lifted_ground_pa(curve: RatioCurve, ratio: ArrayLike, lift_v: ArrayLike, supply_v: float = 5.0) -> FloatArray:
    """Shift of the shown pressure when the sensor's ground stands `lift_v` above the monitor's, Pa.

    The sensor is fed from the monitor's supply: it sees supply - d, and its output is d + r (supply - d), so the
    monitor reads d (1 - r) too much.

    Parameters
    ----------
    curve : RatioCurve
    ratio : array_like
        True output over supply at the sensor.
    lift_v : array_like
        Sensor ground minus monitor ground, V; negative while charging through a case ground.
    supply_v : float
        The monitor's supply, V.

    Returns
    -------
    ndarray of float

    References
    ----------
    Kirchhoff's voltage law on the circuit stated; no source needed.

    Examples
    --------
    >>> line = RatioPolynomial.through(zero_ratio=0.1, span_ratio=0.8, low_pa=0.0, high_pa=1e6)
    >>> (lifted_ground_pa(line, [0.1, 0.42], 0.020) / 1000).round(1).tolist()
    [4.5, 2.9]
    """
    r = sound_ratio(ratio)
    if not supply_v > 0.0:
        raise InputError(f"supply_v {supply_v:g} V is not above zero", do="measure the supply at the sensor's plug")
    return curve.pressure_pa(r + floats(lift_v) * (1.0 - r) / supply_v) - curve.pressure_pa(r)
