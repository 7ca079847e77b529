"""A calibration: the curve, its covariance, the range it was tested on and where it came from."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from sensorcal.measure.interval import coverage_factor
from sensorcal.physics.curves import KELVIN_AT_0_C, SteinhartHart, basis

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

Model = Literal["steinhart-hart", "beta"]

END_TOLERANCE_C = 0.05
"""How far beyond the end points still counts as tested, °C: a probe read in ice settles a few mK off 0 °C, and a row at
0 °C is no extrapolation for that."""


def _frozen(values: ArrayLike) -> Floats:
    out = np.array(values, dtype=np.float64)
    out.setflags(write=False)
    return out


@dataclass(frozen=True, slots=True, kw_only=True)
class CurvaturePrior:
    """What is known of the curve's shape before any reading: how fast the local B rises.

    ``kappa`` = -d ln B / d ln R in the middle of the tested points, where B = (d(1/T)/d ln R)⁻¹ is the local Beta.
    Unlike the coefficient C it does not change with the size of the probe.

    Parameters
    ----------
    kappa, u_kappa : float
        Value and standard uncertainty, dimensionless.
    source : str
        Where it comes from, in plain words.
    form_ratio : float
        How far the next term of the series may differ from the one that Steinhart-Hart implies, as a standard
        uncertainty relative to it; it sizes the model-form term beyond the tested points.
    """

    kappa: float
    u_kappa: float
    source: str
    form_ratio: float = 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class PriorReport:
    """What the shape prior did to the result.

    Parameters
    ----------
    prior : CurvaturePrior
    kappa_data, u_kappa_data : float or None
        Curvature from the readings alone; None where they cannot tell.
    kappa, u_kappa : float
        Curvature of the final curve.
    disagreement : float
        (data - prior) in standard uncertainties of the difference; 0 where the readings cannot tell.
    pull_c : tuple of (temperature_c, shift_c)
        How far the prior moved the curve, in °C, at a few temperatures.
    """

    prior: CurvaturePrior
    kappa_data: float | None
    u_kappa_data: float | None
    kappa: float
    u_kappa: float
    disagreement: float
    pull_c: tuple[tuple[float, float], ...]

    @property
    def disagrees(self) -> bool:
        """True where chance alone would part prior and readings this far less than once in twenty."""
        return abs(self.disagreement) > coverage_factor()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FitPoints:
    """The points of a fit as it saw them, and what it left of them.

    Parameters
    ----------
    temperature_c, resistance_ohm : array, shape (n,)
    residual_c : array, shape (n,)
        Curve minus reference at the reading, °C.
    u_c : array, shape (n,)
        Standard uncertainty of each point, all terms together, °C.
    u_independent_c : array, shape (n,)
        Its part that the other points do not share.
    labels : tuple of str
    rows : tuple of tuple of int
        Rows of the file behind each point (empty where there is none).
    """

    temperature_c: Floats
    resistance_ohm: Floats
    residual_c: Floats
    u_c: Floats
    u_independent_c: Floats
    labels: tuple[str, ...]
    rows: tuple[tuple[int, ...], ...]

    def __post_init__(self) -> None:
        for name in ("temperature_c", "resistance_ohm", "residual_c", "u_c", "u_independent_c"):
            object.__setattr__(self, name, _frozen(getattr(self, name)))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Calibration:
    """A thermistor's curve with everything needed to use it honestly.

    Parameters
    ----------
    sensor : str
        Tag of the probe, such as ``'P1'``.
    model : {'steinhart-hart', 'beta'}
    curve : SteinhartHart
    root : array, shape (p, p)
        ``root @ root.T`` is the covariance of the curve's first p coefficients, inflation included.
    shared_identifiers : tuple of str, length m
    sensitivities : array, shape (m, p)
        Change of the coefficients for one standard uncertainty of each shared term.
    points : FitPoints
    chi_squared : float
    dof : int
        Of the whole fit, the prior's row included where there is one.
    inflation : float
        Factor on every u because the points scatter more than stated; 1 unless the readings alone, without the
        prior, fail the test at 1 %.
    prior : PriorReport or None
        None where the prior was off.
    form_carried : array, shape (p,)
        What the coefficients take up of one unit of the next term.
    form_size : float
        Root mean square size of that next term's coefficient, 1/K.
    form_order : {2, 3}
        Power of x of the next term.
    dof_effective : float
        Degrees of freedom behind the stated u; infinite where they are taken as known.
    notes : tuple of str
        What the user should weigh, in plain words.
    """

    sensor: str
    model: Model
    curve: SteinhartHart
    root: Floats
    shared_identifiers: tuple[str, ...]
    sensitivities: Floats
    points: FitPoints
    chi_squared: float
    dof: int
    inflation: float
    prior: PriorReport | None
    form_carried: Floats
    form_size: float
    form_order: int
    dof_effective: float = float("inf")
    notes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        for name in ("root", "sensitivities", "form_carried"):
            object.__setattr__(self, name, _frozen(getattr(self, name)))

    @property
    def tested_c(self) -> tuple[float, float]:
        """Coldest and hottest reference temperature, °C: beyond them the curve is extrapolated."""
        t = self.points.temperature_c
        return float(t.min()), float(t.max())

    @property
    def covariance(self) -> Floats:
        """Covariance of the centred coefficients p0, p1(, p2), shape (p, p)."""
        return self.root @ self.root.T

    def temperature_c(self, resistance_ohm: ArrayLike) -> Floats:
        """Temperature in °C at a resistance in ohm (any shape)."""
        return self.curve.temperature_c(resistance_ohm)

    def resistance_ohm(self, temperature_c: ArrayLike) -> Floats:
        """Resistance in ohm at a temperature in °C (any shape)."""
        return self.curve.resistance_ohm(temperature_c)


def extrapolated(calibration: Calibration, temperature_c: ArrayLike) -> NDArray[np.bool_]:
    """Whether a temperature in °C lies outside the tested points (any shape)."""
    t = np.asarray(temperature_c, dtype=np.float64)
    low, high = calibration.tested_c
    return np.asarray((t < low - END_TOLERANCE_C) | (t > high + END_TOLERANCE_C))


def u_statistical_c(calibration: Calibration, temperature_c: ArrayLike) -> Floats:
    """Standard uncertainty in °C from the stated terms alone, at temperatures in °C (any shape)."""
    return u_statistical_at_c(calibration, calibration.resistance_ohm(temperature_c))


def u_form_c(calibration: Calibration, temperature_c: ArrayLike) -> Floats:
    """Standard uncertainty in °C because the curve's form is an approximation (any shape).

    For Steinhart-Hart it is counted in full beyond the tested points, where it grows several-fold, and by half
    between them, where the points hold the curve and a few hundredths of a degree are left; for the two-term Beta,
    whose form is known to be wrong by tenths of a degree, in full everywhere.
    """
    t = np.asarray(temperature_c, dtype=np.float64)
    x = calibration.curve.x(calibration.curve.resistance_ohm(t))
    centre, scale = calibration.curve.centre, calibration.curve.scale
    columns = basis(x, centre, scale)
    following = columns[..., 2] if calibration.form_order == 2 else x**3
    missed = following - columns[..., : calibration.form_carried.size] @ calibration.form_carried
    u = np.abs(missed) * calibration.form_size * (t + KELVIN_AT_0_C) ** 2
    if calibration.model == "steinhart-hart":
        u = np.where(extrapolated(calibration, t), u, 0.5 * u)
    return np.asarray(u, dtype=np.float64)


def u_temperature_c(calibration: Calibration, temperature_c: ArrayLike) -> Floats:
    """Standard uncertainty in °C of the curve, model-form term included, at temperatures in °C (any shape)."""
    return np.asarray(
        np.hypot(u_statistical_c(calibration, temperature_c), u_form_c(calibration, temperature_c)),
        dtype=np.float64,
    )


def expanded_c(calibration: Calibration, temperature_c: ArrayLike) -> Floats:
    """Half-width in °C of the interval that holds the true temperature 19 times in 20 (any shape)."""
    return coverage_factor(calibration.dof_effective) * u_temperature_c(calibration, temperature_c)


def shared_shift_c(calibration: Calibration, temperature_c: ArrayLike) -> dict[str, Floats]:
    """Shift of the curve in °C for one standard uncertainty of each shared term, by identifier.

    With it the difference of two calibrations that share a reference needs no covariance between them.
    """
    rows = _jacobian(calibration, calibration.resistance_ohm(temperature_c))
    return {
        name: np.asarray(rows @ s, dtype=np.float64)
        for name, s in zip(calibration.shared_identifiers, calibration.sensitivities, strict=True)
    }


def u_difference_c(first: Calibration, second: Calibration, temperature_c: ArrayLike) -> Floats:
    """Standard uncertainty in °C of the difference of two probes at one temperature (any shape).

    Terms with the same identifier moved both probes by the same draw, and cancel as far as they are alike.
    """
    shifts_1, shifts_2 = shared_shift_c(first, temperature_c), shared_shift_c(second, temperature_c)
    variance = u_temperature_c(first, temperature_c) ** 2 + u_temperature_c(second, temperature_c) ** 2
    f_1, f_2 = first.inflation, second.inflation
    for name in shifts_1.keys() & shifts_2.keys():
        # What one probe's points scatter too much says nothing of an error both share: it cancels all the same.
        s_1, s_2 = shifts_1[name], shifts_2[name]
        variance = variance - (f_1 * s_1) ** 2 - (f_2 * s_2) ** 2 + max(f_1, f_2) ** 2 * (s_1 - s_2) ** 2
    return np.asarray(np.sqrt(np.maximum(variance, 0.0)), dtype=np.float64)


def u_statistical_at_c(calibration: Calibration, resistance_ohm: ArrayLike) -> Floats:
    """Standard uncertainty in °C from the stated terms alone, at resistances in ohm (any shape)."""
    product = _jacobian(calibration, resistance_ohm) @ calibration.root
    return np.asarray(np.sqrt((product * product).sum(axis=-1)), dtype=np.float64)


def _jacobian(calibration: Calibration, resistance_ohm: ArrayLike) -> Floats:
    """DT/d(coefficients) at fixed resistance, K², shape (..., p)."""
    curve = calibration.curve
    p = calibration.root.shape[0]
    kelvin = curve.temperature_c(resistance_ohm) + KELVIN_AT_0_C
    columns = basis(curve.x(resistance_ohm), curve.centre, curve.scale)[..., :p]
    return np.asarray(-columns * (kelvin * kelvin)[..., None], dtype=np.float64)
