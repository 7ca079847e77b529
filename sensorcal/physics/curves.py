"""Curves of negative-temperature-coefficient thermistors: Steinhart-Hart and, as its two-term case, Beta."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sensorcal.errors import CurveError

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

KELVIN_AT_0_C = 273.15
"""Celsius zero in kelvin, exact by definition (BIPM SI brochure, 9th edition, 2.3.1)."""

# Resistances between which an inverse is sought: far beyond any probe, so that only a turning point can stop it.
_LN_OHM_MIN = math.log(1e-3)
_LN_OHM_MAX = math.log(1e12)
_NEWTON_STEPS = 12
_BISECTION_STEPS = 80


@dataclass(frozen=True, slots=True, kw_only=True)
class SteinhartHart:
    """A thermistor curve 1/T = p0 + p1 x + p2 x² (x + 3 centre/scale), x = (ln R - centre)/scale.

    The three terms span the same functions as 1/T = A + B ln R + C (ln R)³, but in numbers of like size, so that
    neither the fit nor its covariance loses digits. With ``p2 = 0`` it is the two-term Beta curve.

    Parameters
    ----------
    p0, p1, p2 : float
        Coefficients of the centred terms, 1/K.
    centre : float
        ln(R / ohm) at the middle of the tested points.
    scale : float
        Half-spread of ln R, > 0.

    References
    ----------
    Steinhart J.S., Hart S.R. (1968), Calibration curves for thermistors, Deep-Sea Research 15, 497-503, eq. 1.

    Examples
    --------
    >>> curve = SteinhartHart.from_abc(1.12924e-3, 2.34108e-4, 0.87755e-7)
    >>> round(float(curve.temperature_c(10_000.0)), 4)
    24.9998
    >>> round(float(curve.resistance_ohm(24.99979)), 1)
    10000.0
    """

    p0: float
    p1: float
    p2: float
    centre: float = 0.0
    scale: float = 1.0

    @classmethod
    def from_abc(cls, a: float, b: float, c: float = 0.0) -> SteinhartHart:
        """Build the curve from the usual coefficients A, B, C of 1/T = A + B ln R + C (ln R)³ (R in ohm, 1/K)."""
        return cls(p0=float(a), p1=float(b), p2=float(c))

    @classmethod
    def from_beta(cls, beta_k: float, resistance_ohm: float, temperature_c: float = 25.0) -> SteinhartHart:
        """Build the two-term curve R = R0 exp(Beta (1/T - 1/T0)) through one point.

        Parameters
        ----------
        beta_k : float
            Beta, K, > 0.
        resistance_ohm, temperature_c : float
            The point (R0, T0).
        """
        if not (beta_k > 0 and resistance_ohm > 0):
            raise CurveError("Beta and the resistance must both be above zero", do="check the two numbers")
        b = 1.0 / beta_k
        return cls.from_abc(1.0 / (temperature_c + KELVIN_AT_0_C) - b * math.log(resistance_ohm), b)

    @classmethod
    def through_points(cls, temperature_c: ArrayLike, resistance_ohm: ArrayLike) -> SteinhartHart:
        """Return the curve through two (Beta) or three (Steinhart-Hart) exact points."""
        t = np.atleast_1d(np.asarray(temperature_c, dtype=float))
        r = np.atleast_1d(np.asarray(resistance_ohm, dtype=float))
        if t.shape != r.shape or t.size not in (2, 3):
            raise CurveError("a curve through exact points takes two or three of them")
        ln_r = _ln_ohm(r)
        centre = float(ln_r.mean())
        scale = float(np.abs(ln_r - centre).max()) or 1.0
        x = (ln_r - centre) / scale
        design = basis(x, centre, scale)[:, : t.size]
        try:
            p = np.linalg.solve(design, 1.0 / (t + KELVIN_AT_0_C))
        except np.linalg.LinAlgError:
            raise CurveError("two of the points have the same resistance", do="give different points") from None
        return cls(p0=float(p[0]), p1=float(p[1]), p2=float(p[2]) if t.size == 3 else 0.0, centre=centre, scale=scale)

    @property
    def abc(self) -> tuple[float, float, float]:
        """The coefficients A, B, C of 1/T = A + B ln R + C (ln R)³, R in ohm, in 1/K."""
        m = self.centre / self.scale
        c = self.p2 / self.scale**3
        b = self.p1 / self.scale - 3.0 * self.centre**2 * c
        a = self.p0 - self.p1 * m + 2.0 * m**3 * self.p2
        return a, b, c

    def x(self, resistance_ohm: ArrayLike) -> Floats:
        """Return the centred, scaled ln R of a resistance in ohm (any shape)."""
        return np.asarray((_ln_ohm(resistance_ohm) - self.centre) / self.scale, dtype=np.float64)

    def temperature_c(self, resistance_ohm: ArrayLike) -> Floats:
        """Temperature in °C at a resistance in ohm (any shape, > 0).

        Raises
        ------
        CurveError
            A resistance is not above zero, or 1/T is not, or it lies beyond the curve's turning point, where the
            curve would answer with a temperature it has already passed.
        """
        x = self.x(resistance_ohm)
        self._refuse_beyond_turning(x)
        y = self.p0 + x * (self.p1 + self.p2 * x * (x + 3.0 * self.centre / self.scale))
        if not np.all(y > 0):
            raise CurveError("the curve gives no temperature above absolute zero at this resistance")
        return np.asarray(1.0 / y - KELVIN_AT_0_C, dtype=np.float64)

    def slope_k_per_ln(self, resistance_ohm: ArrayLike) -> Floats:
        """DT/d ln R in K (negative), at a resistance in ohm (any shape)."""
        x = self.x(resistance_ohm)
        m = self.centre / self.scale
        y = self.p0 + x * (self.p1 + self.p2 * x * (x + 3.0 * m))
        dy = (self.p1 + self.p2 * x * (3.0 * x + 6.0 * m)) / self.scale
        return np.asarray(-dy / (y * y), dtype=np.float64)

    def slope_k_per_ohm(self, resistance_ohm: ArrayLike) -> Floats:
        """DT/dR in K/ohm (negative), at a resistance in ohm (any shape)."""
        r = np.asarray(resistance_ohm, dtype=np.float64)
        return np.asarray(self.slope_k_per_ln(r) / r, dtype=np.float64)

    def resistance_ohm(self, temperature_c: ArrayLike) -> Floats:
        """Resistance in ohm at a temperature in °C (any shape), for every curve that is monotone there.

        Newton's method in ln R, with bisection where it does not settle: it needs no closed form, so a zero or
        negative cubic term is no special case.

        Raises
        ------
        CurveError
            Not monotone up to the temperature asked; the sentence names the turning point.
        """
        t = np.asarray(temperature_c, dtype=np.float64)
        if not np.all(np.isfinite(t)) or np.any(t <= -KELVIN_AT_0_C):
            raise CurveError("a temperature must be a number above absolute zero")
        target = 1.0 / (t + KELVIN_AT_0_C)
        low, high = self._branch()
        x_low, x_high = (low - self.centre) / self.scale, (high - self.centre) / self.scale
        y_low, y_high = self._y(x_low), self._y(x_high)
        outside = (target < y_low) | (target > y_high)
        if np.any(outside):
            raise self._turning_error(float(t[outside].flat[0]) if t.ndim else float(t), low, high)
        return np.asarray(np.exp(self.centre + self.scale * self._solve(target, x_low, x_high)), dtype=np.float64)

    def _y(self, x: float) -> float:
        return self.p0 + x * (self.p1 + self.p2 * x * (x + 3.0 * self.centre / self.scale))

    def _branch(self) -> tuple[float, float]:
        """Interval of ln R around the centre on which 1/T rises with ln R."""
        _, b, c = self.abc
        if c == 0.0:
            if b > 0:
                return _LN_OHM_MIN, _LN_OHM_MAX
        elif b >= 0 and c > 0:
            return _LN_OHM_MIN, _LN_OHM_MAX
        elif b > 0 > c:
            turn = math.sqrt(-b / (3.0 * c))
            if turn > self._home():
                return max(_LN_OHM_MIN, -turn), min(_LN_OHM_MAX, turn)
        elif b < 0 < c:
            turn = math.sqrt(-b / (3.0 * c))
            if turn < self._home():
                return turn, _LN_OHM_MAX
        raise CurveError(
            "temperature does not fall as resistance rises on this curve",
            do="check the readings: this is no negative-temperature-coefficient thermistor",
        )

    def _refuse_beyond_turning(self, x: Floats) -> None:
        """Refuse a resistance beyond the turning point; nothing to do for the usual curve, which has none."""
        if self.p2 >= 0.0 and self.p1 - 3.0 * (self.centre / self.scale) ** 2 * self.p2 >= 0.0:
            return
        low, high = self._branch()
        ln_r = self.centre + self.scale * x
        beyond = (ln_r < low - 1e-12) | (ln_r > high + 1e-12)
        if np.any(beyond):
            worst = math.exp(float(np.atleast_1d(ln_r)[np.atleast_1d(beyond)][0]))
            turns = " and ".join(
                f"{math.exp(end):.6g} ohm ({1.0 / self._y((end - self.centre) / self.scale) - KELVIN_AT_0_C:.4g} °C)"
                for end in (low, high)
                if end not in (_LN_OHM_MIN, _LN_OHM_MAX)
            )
            raise CurveError(
                f"the curve turns at {turns}; {worst:.6g} ohm lies beyond it",
                do="stay short of the turning point, or fit with a shape prior",
            )

    def _home(self) -> float:
        # A curve given by A, B, C has no tested middle; e^7, about 1.1 kohm, lies inside every probe's range.
        return self.centre if self.centre != 0.0 else 7.0

    def _turning_error(self, asked_c: float, low: float, high: float) -> CurveError:
        at = [end for end in (low, high) if end not in (_LN_OHM_MIN, _LN_OHM_MAX)]
        if not at:
            return CurveError(
                f"{asked_c:.6g} °C lies beyond {math.exp(_LN_OHM_MIN):g} to {math.exp(_LN_OHM_MAX):g} ohm on this curve"
            )
        turns = " and ".join(
            f"{math.exp(end):.6g} ohm ({1.0 / self._y((end - self.centre) / self.scale) - KELVIN_AT_0_C:.4g} °C)"
            for end in at
        )
        return CurveError(
            f"the curve turns at {turns} and never reaches {asked_c:.6g} °C",
            do="ask for a range short of the turning point, or fit with a shape prior",
        )

    def _solve(self, target: Floats, x_low: float, x_high: float) -> Floats:
        m3 = 3.0 * self.centre / self.scale
        p0, p1, p2 = self.p0, self.p1, self.p2
        # Start on the straight line through the two ends of the tested points: close for every usual probe.
        y_a, y_b = self._y(-1.0), self._y(1.0)
        x = np.clip((target - 0.5 * (y_a + y_b)) / (0.5 * (y_b - y_a)) if y_b > y_a else target * 0.0, x_low, x_high)
        if self.centre == 0.0:
            x = np.clip(np.full_like(target, 7.0), x_low, x_high)
        for _ in range(_NEWTON_STEPS):
            slope = p1 + p2 * x * (3.0 * x + 2.0 * m3)
            step = (p0 + x * (p1 + p2 * x * (x + m3)) - target) / np.where(slope > 0, slope, np.inf)
            x = np.clip(x - step, x_low, x_high)
            if np.all(np.abs(step) <= 4e-16 * (np.abs(x) + abs(m3))):
                return x
        residual = np.abs(p0 + x * (p1 + p2 * x * (x + m3)) - target)
        if np.all(residual <= 8e-16 * target):
            return x
        return self._bisect(target, x_low, x_high)

    def _bisect(self, target: Floats, x_low: float, x_high: float) -> Floats:
        low, high = np.full_like(target, x_low), np.full_like(target, x_high)
        m3 = 3.0 * self.centre / self.scale
        for _ in range(_BISECTION_STEPS):
            middle = 0.5 * (low + high)
            above = self.p0 + middle * (self.p1 + self.p2 * middle * (middle + m3)) > target
            high = np.where(above, middle, high)
            low = np.where(above, low, middle)
        return 0.5 * (low + high)


def basis(x: ArrayLike, centre: float, scale: float) -> Floats:
    """Columns 1, x, x² (x + 3 centre/scale) of the centred Steinhart-Hart terms, shape (..., 3)."""
    x = np.asarray(x, dtype=np.float64)
    out = np.empty((*x.shape, 3))
    out[..., 0] = 1.0
    out[..., 1] = x
    out[..., 2] = x * x * (x + 3.0 * centre / scale)
    return out


def to_abc(centre: float, scale: float) -> Floats:
    """Matrix M with (A, B, C) = M (p0, p1, p2); the covariance of A, B, C is M cov Mᵀ."""
    m = centre / scale
    return np.array(
        [
            [1.0, -m, 2.0 * m**3],
            [0.0, 1.0 / scale, -3.0 * centre**2 / scale**3],
            [0.0, 0.0, 1.0 / scale**3],
        ]
    )


def _ln_ohm(resistance_ohm: ArrayLike) -> Floats:
    r = np.asarray(resistance_ohm, dtype=np.float64)
    if not np.all(r > 0) or not np.all(np.isfinite(r)):
        raise CurveError("a resistance must be a number above zero", do="check the reading, in ohm")
    return np.asarray(np.log(r), dtype=np.float64)
