"""A pressure calibration: the curve on the ratio, what its points share, and what stays uncertain in use."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from sensorcal.bench.pressurehead import LiquidHead
from sensorcal.calibration.cycles import K_GUIDE
from sensorcal.calibration.leak import Leak
from sensorcal.calibration.sensorkind import SensorKind
from sensorcal.errors import FitError
from sensorcal.measure.interval import coverage_factor

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from sensorcal.measure.inputs import Shape
    from sensorcal.measure.terms import Term
    from sensorcal.physics.transducer import RatioCurve

    Floats = NDArray[np.float64]

PressureModel = Literal["line", "quadratic", "cubic", "table"]
BODY = "body"
"""Identifiers of the terms of body temperature begin with this word: left out at bench temperature."""


def frozen(values: ArrayLike) -> Floats:
    """Copy an array and make the copy read-only."""
    out = np.array(values, dtype=np.float64)
    out.setflags(write=False)
    return out


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class UseTerm:
    """An error of the sensor in use, beyond that of its curve.

    Parameters
    ----------
    identifier : str
    pressure_pa : array, shape (k,)
        Rising pressures at which u is given; straight lines between, constant beyond.
    u_pa : array, shape (k,)
        Standard uncertainty there; signed, so that one draw may move two pressures apart.
    shape : str
        Distribution of the error.
    each_reading : bool
        True where every reading draws anew, False where one draw moves all readings of a session.
    dof : float
        Degrees of freedom of u; infinite where it is taken as known.
    meaning : str
    """

    identifier: str
    pressure_pa: Floats
    u_pa: Floats
    shape: Shape = "normal"
    each_reading: bool = False
    dof: float = math.inf
    meaning: str = ""

    def __post_init__(self) -> None:
        """Copy the arrays; refuse pressures that do not rise."""
        object.__setattr__(self, "pressure_pa", frozen(np.atleast_1d(self.pressure_pa)))
        object.__setattr__(self, "u_pa", frozen(np.atleast_1d(self.u_pa)))
        if self.pressure_pa.shape != self.u_pa.shape or np.any(np.diff(self.pressure_pa) <= 0.0):
            raise FitError(f"term {self.identifier} needs one u for each of its rising pressures")

    def at(self, pressure_pa: ArrayLike) -> Floats:
        """Standard uncertainty in Pa at pressures in Pa (any shape)."""
        return np.asarray(
            np.interp(np.asarray(pressure_pa, dtype=np.float64), self.pressure_pa, self.u_pa), dtype=np.float64
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PressurePoints:
    """The points of a pressure fit as it saw them, and what it left of them.

    Parameters
    ----------
    pressure_pa, ratio : array, shape (n,)
    residual_pa : array, shape (n,)
        Curve minus reference at the ratio read, Pa.
    u_pa, u_independent_pa : array, shape (n,)
        Standard uncertainty of each point, all together and its own part, Pa.
    direction : tuple of str
        'up', 'down' or ''.
    cycle : tuple of int
    labels : tuple of str
    rows : tuple of tuple of int
        Rows of the file behind each point (empty where there is none).
    """

    pressure_pa: Floats
    ratio: Floats
    residual_pa: Floats
    u_pa: Floats
    u_independent_pa: Floats
    direction: tuple[str, ...]
    cycle: tuple[int, ...]
    labels: tuple[str, ...]
    rows: tuple[tuple[int, ...], ...]

    def __post_init__(self) -> None:
        """Copy the arrays and make them read-only."""
        for name in ("pressure_pa", "ratio", "residual_pa", "u_pa", "u_independent_pa"):
            object.__setattr__(self, name, frozen(getattr(self, name)))


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderTest:
    """Whether a bent curve was needed: line against quadratic, or polynomial against table.

    Parameters
    ----------
    simpler, richer : str
    chi_squared_drop : float
        By how much chi-squared falls for the added terms.
    added : int
        How many terms were added.
    limit : float
        What chance exceeds once in a hundred.
    f_ratio, f_limit : float
        The same judged by the points' own scatter; infinite where they leave none.
    demanded : bool
        True where both say so.
    """

    simpler: str
    richer: str
    chi_squared_drop: float
    added: int
    limit: float
    f_ratio: float
    f_limit: float
    demanded: bool


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PressureCalibration:
    """A ratiometric transducer's curve with everything needed to use it honestly.

    Parameters
    ----------
    sensor : str
    model : {'line', 'quadratic', 'cubic', 'table'}
    curve : RatioPolynomial or RatioTable
    low_pa, high_pa : float
        Ends of the sensor's range, between which zero and span are stated.
    root : array, shape (p, p)
        ``root @ root.T`` is the covariance of the curve's coefficients, inflation included.
    shared_identifiers : tuple of str, length m
    sensitivities : array, shape (m, p)
        Change of the coefficients for one standard uncertainty of each shared term.
    gain : array, shape (p, n)
        Change of the coefficients for a change of each point's reference.
    terms : tuple of Term
        Errors of the points, all in Pa.
    points : PressurePoints
    chi_squared : float
    dof : int
    inflation : float
        Factor on every u of the fit because the points scatter more than stated; 1 unless the 1 % test failed.
    orders : tuple of OrderTest
    use : tuple of UseTerm
        What stays uncertain of a single reading in use.
    dof_effective : float
        Degrees of freedom behind the stated u; infinite where they are taken as known.
    kind : {'gauge', 'sealed', 'absolute'}
        What the pressures of this calibration are measured from.
    notes : tuple of str
    kind_found : SensorKind or None
        What the readings at the air's pressure say of the kind; None where there are none.
    leak : Leak or None
        Of the shut line, where its decay was read.
    head : LiquidHead or None
        Column of liquid between gauge and sensor, already in the points.
    """

    sensor: str
    model: PressureModel
    curve: RatioCurve
    low_pa: float
    high_pa: float
    root: Floats
    shared_identifiers: tuple[str, ...]
    sensitivities: Floats
    gain: Floats
    terms: tuple[Term, ...]
    points: PressurePoints
    chi_squared: float
    dof: int
    inflation: float
    orders: tuple[OrderTest, ...] = ()
    use: tuple[UseTerm, ...] = ()
    dof_effective: float = math.inf
    kind: str = "gauge"
    notes: tuple[str, ...] = ()
    kind_found: SensorKind | None = None
    leak: Leak | None = None
    head: LiquidHead | None = None

    def __post_init__(self) -> None:
        """Copy the arrays and make them read-only."""
        for name in ("root", "sensitivities", "gain"):
            object.__setattr__(self, name, frozen(getattr(self, name)))

    @property
    def tested_pa(self) -> tuple[float, float]:
        """Lowest and highest reference pressure: beyond them the curve is extrapolated."""
        p = self.points.pressure_pa
        return float(p.min()), float(p.max())

    @property
    def zero_ratio(self) -> float:
        """Ratio at the lower end of the range."""
        return float(self.curve.ratio(self.low_pa))

    @property
    def span_ratio(self) -> float:
        """Ratio at the upper end minus that at the lower."""
        return float(self.curve.ratio(self.high_pa)) - self.zero_ratio

    @property
    def covariance(self) -> Floats:
        """Covariance of the coefficients, shape (p, p)."""
        return self.root @ self.root.T

    @property
    def k(self) -> float:
        """Coverage factor: the guides' 2, or more where u rests on few readings."""
        return max(K_GUIDE, coverage_factor(self.dof_effective))

    def pressure_pa(self, ratio: ArrayLike) -> Floats:
        """Pressure in Pa at a ratio V_out / V_supply (any shape)."""
        return self.curve.pressure_pa(ratio)

    def ratio(self, pressure_pa: ArrayLike) -> Floats:
        """Ratio V_out / V_supply at a pressure in Pa (any shape)."""
        return self.curve.ratio(pressure_pa)


def pressure_extrapolated(calibration: PressureCalibration, pressure_pa: ArrayLike) -> NDArray[np.bool_]:
    """Whether a pressure in Pa lies outside the tested points by more than half a per cent of them (any shape)."""
    p = np.asarray(pressure_pa, dtype=np.float64)
    low, high = calibration.tested_pa
    near = 0.005 * (high - low)
    return np.asarray((p < low - near) | (p > high + near))


def u_curve_pa(calibration: PressureCalibration, pressure_pa: ArrayLike) -> Floats:
    """Standard uncertainty in Pa of the curve alone, at pressures in Pa (any shape)."""
    rows = calibration.curve.design(calibration.ratio(pressure_pa)) @ calibration.root
    return np.asarray(np.sqrt((rows * rows).sum(axis=-1)), dtype=np.float64)


def u_pressure_pa(calibration: PressureCalibration, pressure_pa: ArrayLike, *, hot_body: bool = True) -> Floats:
    """Standard uncertainty in Pa of one reading in use: curve, hysteresis, repeatability, zero and body temperature.

    Parameters
    ----------
    calibration : PressureCalibration
    pressure_pa : array_like
        Any shape.
    hot_body : bool
        False leaves the body's temperature out: a sensor at bench temperature.
    """
    variance = u_curve_pa(calibration, pressure_pa) ** 2
    for one in calibration.use:
        if hot_body or not one.identifier.startswith(BODY):
            variance = variance + one.at(pressure_pa) ** 2
    return np.asarray(np.sqrt(variance), dtype=np.float64)


def expanded_pressure_pa(calibration: PressureCalibration, pressure_pa: ArrayLike, *, hot_body: bool = True) -> Floats:
    """Expanded uncertainty U = k u in Pa of one reading in use, k of the guides (any shape).

    References
    ----------
    EURAMET Calibration Guide No. 17; EA-4/02: k = 2 (both from memory).
    """
    return calibration.k * u_pressure_pa(calibration, pressure_pa, hot_body=hot_body)


def shared_shift_pa(calibration: PressureCalibration, pressure_pa: ArrayLike) -> dict[str, Floats]:
    """Shift of the curve in Pa for one standard uncertainty of each shared term, by identifier (any shape)."""
    rows = calibration.curve.design(calibration.ratio(pressure_pa))
    return {
        name: np.asarray(rows @ s, dtype=np.float64)
        for name, s in zip(calibration.shared_identifiers, calibration.sensitivities, strict=True)
    }


def u_pressure_difference_pa(first: PressureCalibration, second: PressureCalibration, pressure_pa: ArrayLike) -> Floats:
    """Standard uncertainty in Pa of the difference of two sensors' readings at one pressure (any shape).

    Terms with the same identifier (the same gauge, the same voltmeter) moved both curves by the same draw.
    """
    shifts_1, shifts_2 = shared_shift_pa(first, pressure_pa), shared_shift_pa(second, pressure_pa)
    variance = u_pressure_pa(first, pressure_pa) ** 2 + u_pressure_pa(second, pressure_pa) ** 2
    for name in shifts_1.keys() & shifts_2.keys():
        variance = variance - 2.0 * shifts_1[name] * shifts_2[name] * first.inflation * second.inflation
    return np.asarray(np.sqrt(np.maximum(variance, 0.0)), dtype=np.float64)
