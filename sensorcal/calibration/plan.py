"""Plan an evening before any water is heated: expected ohms at each point, and what U the finished curve will have."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sensorcal.calibration.calibration import (
    Calibration,
    CurvaturePrior,
    expanded_c,
    u_statistical_c,
    u_temperature_c,
)
from sensorcal.calibration.sheet import check_against_sheet, sheet_curve
from sensorcal.calibration.thermistor import TYPICAL, fit_thermistor
from sensorcal.errors import InputError
from sensorcal.measure.interval import coverage_factor
from sensorcal.measure.terms import Term, term

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike, NDArray

    from sensorcal.physics.curves import SteinhartHart

    Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Expected:
    """What the meter should show at a temperature, said before it is read.

    Parameters
    ----------
    label : str
        Name of the point.
    temperature_c : float
    resistance_ohm : float
    expanded_c : float
        Half-width that holds the reading 19 times in 20, °C.
    low_ohm, high_ohm : float
        The same interval in ohm.
    """

    label: str
    temperature_c: float
    resistance_ohm: float
    expanded_c: float
    low_ohm: float
    high_ohm: float

    def holds(self, resistance_ohm: float) -> bool:
        """Whether a reading in ohm lies within the interval."""
        return self.low_ohm <= resistance_ohm <= self.high_ohm


def planned_calibration(
    points_c: ArrayLike,
    u_c: ArrayLike,
    *,
    curve: SteinhartHart,
    prior: CurvaturePrior | None = TYPICAL,
    terms: tuple[Term, ...] = (),
    labels: tuple[str, ...] = (),
) -> Calibration:
    """Calibration that would come of points lying exactly on an expected curve: its U is the one to expect.

    With a prior whose shape is not the curve's own it bends a little away from it.

    Parameters
    ----------
    points_c : array, shape (n,)
        Temperatures of the planned points, °C; a temperature that stands twice is read twice.
    u_c : float or array, shape (n,)
        Standard uncertainty of each point that it shares with no other, °C; above zero.
    curve : SteinhartHart
        What is expected of the probe, from its maker's sheet or from another probe.
    prior : CurvaturePrior or None
        Shape prior of the fit to come.
    terms : tuple of Term, optional
        Errors that the points will share.
    labels : tuple of str, optional

    Returns
    -------
    Calibration

    Raises
    ------
    InputError
        An uncertainty is not above zero.
    FitError
        The points cannot determine a curve.

    Examples
    --------
    >>> from sensorcal.physics.curves import SteinhartHart
    >>> sheet = SteinhartHart.through_points([0.0, 50.0, 97.7], [5230.0, 721.0, 172.1])
    >>> plan = planned_calibration([0.0, 25.0, 97.7], [0.08, 0.25, 0.12], curve=sheet)
    >>> [round(float(ohm)) for ohm in plan.points.resistance_ohm]
    [5230, 1803, 172]
    """
    t = np.atleast_1d(np.asarray(points_c, dtype=np.float64))
    u = np.broadcast_to(np.asarray(u_c, dtype=np.float64), t.shape)
    if not np.all(np.isfinite(u) & (u > 0.0)):
        raise InputError(
            "the standard uncertainty of a planned point is not above zero",
            do="state what you expect in °C: 0.08 for packed ice, 0.12 for steam, 0.25 for a stirred bath are usual",
        )
    own = term("planned", u, t.size, common=False)
    return fit_thermistor(t, curve.resistance_ohm(t), (own, *terms), sensor="plan", prior=prior, labels=labels)


def predicted_expanded_c(
    points_c: ArrayLike,
    u_c: ArrayLike,
    at_c: ArrayLike,
    *,
    curve: SteinhartHart,
    prior: CurvaturePrior | None = TYPICAL,
    terms: tuple[Term, ...] = (),
    with_form: bool = True,
) -> Floats:
    """Half-width in °C, 19 times in 20, that the finished curve will have, before any water is heated.

    Parameters
    ----------
    points_c, u_c, curve, prior, terms
        As for `planned_calibration`.
    at_c : array
        Temperatures that matter, °C (any shape).
    with_form : bool
        False leaves out what the form of the curve adds beyond the planned points: the statistics alone.

    Returns
    -------
    array, of the shape of `at_c`

    References
    ----------
    Covariance of generalised least squares, which does not depend on what is read: JCGM 100:2008 (GUM), H.3.

    Examples
    --------
    >>> from sensorcal.physics.curves import SteinhartHart
    >>> sheet = SteinhartHart.through_points([0.0, 50.0, 97.7], [5230.0, 721.0, 172.1])
    >>> u = predicted_expanded_c([0, 25, 50, 75, 97.7], [0.08, 0.25, 0.25, 0.25, 0.12], [90, 120], curve=sheet)
    >>> [f"{value:.1f}" for value in u]
    ['0.2', '0.6']
    """
    plan = planned_calibration(points_c, u_c, curve=curve, prior=prior, terms=terms)
    if with_form:
        return expanded_c(plan, at_c)
    return np.asarray(coverage_factor(plan.dof_effective) * u_statistical_c(plan, at_c), dtype=np.float64)


def expected_reading(
    calibration: Calibration, temperature_c: float, *, u_point_c: float = 0.0, label: str = ""
) -> Expected:
    """Ohms that the next point should show, with their band, from what was read so far: a sealed envelope.

    Written down before the reading is made, it is the best check against blunders there is.

    Parameters
    ----------
    calibration : Calibration
        From the points read so far, or a plan.
    temperature_c : float
        Of the next point, °C.
    u_point_c : float
        Standard uncertainty of that point itself (film, gradient, meter), °C. What it shares with the points
        before is counted twice, so the band is wide rather than narrow.
    label : str

    Returns
    -------
    Expected

    References
    ----------
    Common practice, no source.

    Examples
    --------
    >>> from sensorcal.measure.terms import term
    >>> read = fit_thermistor([0, 25, 75], [5230, 1800, 325.4], (term("own", [0.08, 0.25, 0.25], 3, common=False),))
    >>> steam = expected_reading(read, 97.73, u_point_c=0.12, label="steam")
    >>> f"{steam.resistance_ohm:.0f} ohm, {steam.low_ohm:.1f} to {steam.high_ohm:.1f}", steam.holds(172.1)
    ('172 ohm, 168.2 to 176.2', True)
    """
    half = coverage_factor(calibration.dof_effective) * math.hypot(
        float(u_temperature_c(calibration, temperature_c)), u_point_c
    )
    middle, low, high = (
        float(calibration.resistance_ohm(t)) for t in (temperature_c, temperature_c + half, temperature_c - half)
    )
    return Expected(
        label=label,
        temperature_c=temperature_c,
        resistance_ohm=middle,
        expanded_c=half,
        low_ohm=low,
        high_ohm=high,
    )


def expected_from_sheet(
    points_c: Sequence[float],
    u_c: Sequence[float],
    sheet: Sequence[tuple[float, float]],
    *,
    tolerance_ratio: float,
    labels: Sequence[str] = (),
) -> tuple[Expected, ...]:
    """Ohms to expect at each planned point from the maker's sheet, with the band of its tolerance and of the point.

    Parameters
    ----------
    points_c, u_c : sequence of float, length n
        Planned temperatures and standard uncertainties of the points, °C.
    sheet : sequence of (temperature_c, resistance_ohm)
    tolerance_ratio : float
        Half-width of the sheet's tolerance on resistance, such as 0.03.
    labels : sequence of str, optional

    Returns
    -------
    tuple of Expected
        The tolerance is a limit and is taken whole; the point's U is added to it.

    Examples
    --------
    >>> sheet = [(0, 5230.0), (25, 1800.0), (50, 721.0), (97.7, 172.1)]
    >>> room, = expected_from_sheet([25], [0.25], sheet, tolerance_ratio=0.03, labels=["room"])
    >>> f"{room.resistance_ohm:.0f} ohm, {room.low_ohm:.0f} to {room.high_ohm:.0f}"
    '1800 ohm, 1713 to 1891'
    """
    curve = sheet_curve(sheet)
    guess = [float(ohm) for ohm in np.atleast_1d(curve.resistance_ohm(np.asarray(points_c, dtype=np.float64)))]
    out: list[Expected] = []
    for i, one in enumerate(check_against_sheet(points_c, guess, u_c, sheet, tolerance_ratio=tolerance_ratio)):
        half = one.tolerance_c + one.expanded_c
        swing = math.exp(half / abs(float(curve.slope_k_per_ln(one.sheet_ohm))))
        out.append(
            Expected(
                label=labels[i] if labels else f"{one.temperature_c:g} °C",
                temperature_c=one.temperature_c,
                resistance_ohm=one.sheet_ohm,
                expanded_c=half,
                low_ohm=one.sheet_ohm / swing,
                high_ohm=one.sheet_ohm * swing,
            )
        )
    return tuple(out)
