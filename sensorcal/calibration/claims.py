"""What a calibration may claim at a temperature: its U, whether that is extrapolated, and the cautious figure."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sensorcal.calibration.calibration import (
    Calibration,
    expanded_c,
    extrapolated,
    u_form_c,
    u_statistical_c,
    u_temperature_c,
)
from sensorcal.calibration.thermistor import TYPICAL
from sensorcal.errors import CurveError
from sensorcal.measure.interval import coverage_factor
from sensorcal.physics.curves import to_abc

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from numpy.typing import NDArray

    from sensorcal.calibration.sheet import SheetCheck

    Floats = NDArray[np.float64]

CLAIM_BEYOND_C = 1.5
"""Least half-width to claim beyond the hottest tested point, °C: common practice, no source."""

CLAIM_AGREED_C = 1.0
"""The same where sheet, usual shape and readings agree, °C. Our own choice: in simulated evenings with the sheet's
shape the error at 120 °C was up to 0.5 °C and U covered it 86 to 97 times in 100, so U alone is not claimed there."""

REACH_BEYOND_C = 35.0
"""How far beyond the tested points a curve may be used at all, °C: common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Claim:
    """What may be said of the curve at one temperature.

    Parameters
    ----------
    temperature_c : float
    resistance_ohm : float or None
        None where the curve never reaches the temperature; `why_not` then says so.
    u_c, u_statistical_c, u_form_c : float or None
        Standard uncertainty in °C: all, from the stated terms, from the form of the curve.
    expanded_c : float or None
        Half-width that holds the truth 19 times in 20, °C.
    claim_c : float or None
        Half-width to claim, °C: `expanded_c` inside the tested points, at least 1.5 beyond the hottest of them.
    extrapolated : bool
        Whether it lies outside the tested points.
    far : bool
        Whether it lies further outside than a curve should be used.
    why_not : str
        Why there is no number, or ''.
    """

    temperature_c: float
    resistance_ohm: float | None
    u_c: float | None
    u_statistical_c: float | None
    u_form_c: float | None
    expanded_c: float | None
    claim_c: float | None
    extrapolated: bool
    far: bool
    why_not: str = ""


def claim_at(calibration: Calibration, temperature_c: float, *, shape_confirmed: bool = False) -> Claim:
    """Say what the calibration may claim at a temperature in °C.

    Parameters
    ----------
    calibration : Calibration
    temperature_c : float
    shape_confirmed : bool
        True where the maker's sheet, the usual shape and the readings agree: beyond the hottest point less is then
        claimed than otherwise, but never less than U.

    References
    ----------
    Common practice, no source.

    Examples
    --------
    >>> from sensorcal.calibration.thermistor import fit_thermistor
    >>> from sensorcal.measure.terms import term
    >>> t, r = [0.0, 50.0, 97.7], [5230.0, 721.0, 172.1]
    >>> claim = claim_at(fit_thermistor(t, r, (term("bath", 0.1, 3, common=False),)), 120.0)
    >>> claim.extrapolated, claim.claim_c
    (True, 1.5)
    """
    low, high = calibration.tested_c
    outside = bool(extrapolated(calibration, temperature_c))
    far = temperature_c > high + REACH_BEYOND_C or temperature_c < low - REACH_BEYOND_C
    try:
        ohm = float(calibration.resistance_ohm(temperature_c))
    except CurveError as error:
        return Claim(
            temperature_c=temperature_c,
            resistance_ohm=None,
            u_c=None,
            u_statistical_c=None,
            u_form_c=None,
            expanded_c=None,
            claim_c=None,
            extrapolated=outside,
            far=far,
            why_not=error.what,
        )
    expanded = float(expanded_c(calibration, temperature_c))
    least = 0.0
    if outside and temperature_c > high:
        least = CLAIM_AGREED_C if shape_confirmed else CLAIM_BEYOND_C
    return Claim(
        temperature_c=temperature_c,
        resistance_ohm=ohm,
        u_c=float(u_temperature_c(calibration, temperature_c)),
        u_statistical_c=float(u_statistical_c(calibration, temperature_c)),
        u_form_c=float(u_form_c(calibration, temperature_c)),
        expanded_c=expanded,
        claim_c=max(expanded, least),
        extrapolated=outside,
        far=far,
    )


def shape_confirmed(calibration: Calibration, sheet: Sequence[SheetCheck], *, sheet_is_prior: bool) -> bool:
    """Whether the maker's sheet confirms the curve's shape, so that less may be claimed beyond the tested points.

    It does where the fit used the sheet's shape, that shape is a usual one, enough readings were there to contradict
    it and did not, and every point meets the sheet.

    References
    ----------
    Common practice, no source.
    """
    prior = calibration.prior
    usual = prior is not None and abs(prior.prior.kappa - TYPICAL.kappa) <= 2.0 * TYPICAL.u_kappa
    agrees = usual and prior is not None and prior.kappa_data is not None and not prior.disagrees
    return sheet_is_prior and agrees and bool(sheet) and all(check.verdict == "meets" for check in sheet)


def claims(
    calibration: Calibration, temperatures_c: Iterable[float], *, shape_confirmed: bool = False
) -> tuple[Claim, ...]:
    """Say what the calibration may claim at each of some temperatures in °C."""
    return tuple(claim_at(calibration, float(t), shape_confirmed=shape_confirmed) for t in temperatures_c)


def round_temperatures_c(low_c: float, high_c: float, step_c: float = 10.0) -> tuple[float, ...]:
    """Round temperatures from `low_c` to `high_c` in °C, both kept within.

    Examples
    --------
    >>> round_temperatures_c(-4.0, 31.0)
    (0.0, 10.0, 20.0, 30.0)
    """
    first, last = int(np.ceil(low_c / step_c - 1e-9)), int(np.floor(high_c / step_c + 1e-9))
    return tuple(step_c * i + 0.0 for i in range(first, last + 1))


def abc_covariance(calibration: Calibration) -> Floats:
    """Covariance of A, B, C (of A, B for the two-term Beta) in 1/K², shape (p, p).

    It is nearly singular: A, B and C are told apart badly even where the curve is known well, so propagate with
    the centred coefficients and keep this for reading.
    """
    p = calibration.root.shape[0]
    matrix = to_abc(calibration.curve.centre, calibration.curve.scale)[:p, :p] @ calibration.root
    return np.asarray(matrix @ matrix.T, dtype=np.float64)


def worst_tested(calibration: Calibration, steps: int = 200) -> Claim:
    """Say where between the coldest and hottest tested point U is largest, and how large.

    Parameters
    ----------
    calibration : Calibration
    steps : int
        Temperatures looked at, evenly spread; U is smooth, so 200 miss nothing that is read.
    """
    grid = np.linspace(*calibration.tested_c, steps)
    return claim_at(calibration, float(grid[int(np.argmax(expanded_c(calibration, grid)))]))


def point_expanded_c(calibration: Calibration, *, own: bool = False) -> Floats:
    """Half-width of each point, 19 times in 20, in °C, shape (n,), inflation included.

    Parameters
    ----------
    calibration : Calibration
    own : bool
        Only the part that a point does not share with the others.
    """
    u = calibration.points.u_independent_c if own else calibration.points.u_c
    return coverage_factor(calibration.dof_effective) * calibration.inflation * u
