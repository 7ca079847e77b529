"""The maker's resistance sheet: whether the probe meets it, by how many degrees, and what it says of the shape."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from sensorcal.calibration.calibration import CurvaturePrior
from sensorcal.calibration.thermistor import TYPICAL, fit_thermistor
from sensorcal.errors import InputError
from sensorcal.measure.estimate import gls, standard_uncertainty
from sensorcal.measure.interval import coverage_factor
from sensorcal.measure.terms import term
from sensorcal.physics.curves import KELVIN_AT_0_C, SteinhartHart, basis

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

Verdict = Literal["meets", "does not meet", "cannot tell"]

SHAPE_RATIO = 0.05
"""How well a sheet knows the curvature of the lot it describes, relative standard uncertainty: common practice,
no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetCheck:
    """One measured point against the sheet.

    Parameters
    ----------
    temperature_c, resistance_ohm : float
        As measured.
    sheet_ohm : float
        What the sheet gives at that temperature.
    ratio : float
        Measured over sheet, minus one.
    error_c : float
        What a monitor that uses the sheet would show, minus the true temperature, °C.
    tolerance_c : float
        The sheet's tolerance as °C.
    expanded_c : float
        U of the comparison, °C (19 times in 20).
    inside_table : bool
        False where the temperature lies outside the sheet's own points and the sheet was extrapolated.
    verdict : {'meets', 'does not meet', 'cannot tell'}
        'meets' only where error and U together stay within the tolerance.
    """

    temperature_c: float
    resistance_ohm: float
    sheet_ohm: float
    ratio: float
    error_c: float
    tolerance_c: float
    expanded_c: float
    inside_table: bool
    verdict: Verdict


def sheet_curve(sheet: Sequence[tuple[float, float]]) -> SteinhartHart:
    """Smooth curve through a maker's (temperature in °C, resistance in ohm) pairs: two give Beta, more Steinhart-Hart.

    Raises
    ------
    InputError
        Fewer than two pairs, or resistances that do not fall with temperature.
    """
    t, r = _columns(sheet)
    if t.size <= 3:
        return SteinhartHart.through_points(t, r)
    # Every pair is given to the same number of digits, so all weigh the same in ln R.
    return fit_thermistor(t, r, (term("digits", 1e-3, t.size, common=False, axis="signal"),), prior=None).curve


def check_against_sheet(
    temperature_c: Sequence[float],
    resistance_ohm: Sequence[float],
    u_c: Sequence[float],
    sheet: Sequence[tuple[float, float]],
    *,
    tolerance_ratio: float,
) -> tuple[SheetCheck, ...]:
    """Compare measured points with the maker's sheet.

    Parameters
    ----------
    temperature_c, resistance_ohm, u_c : sequence of float, length n
        Reference in °C, corrected resistance in ohm, standard uncertainty of the point in °C.
    sheet : sequence of (temperature_c, resistance_ohm)
    tolerance_ratio : float
        Half-width of the sheet's tolerance on resistance, such as 0.03.

    Returns
    -------
    tuple of SheetCheck

    References
    ----------
    Decision rule: guard band equal to U (ILAC-G8:09/2019, 4.2.2), told from failure and from 'cannot tell'.

    Examples
    --------
    >>> sheet = [(0, 5230.0), (25, 1800.0), (97.7, 172.1), (120, 98.2)]
    >>> ice, steam = check_against_sheet([0, 97.7], [5262.0, 172.9], [0.08, 0.12], sheet, tolerance_ratio=0.03)
    >>> f"{ice.error_c:+.2f} {steam.error_c:+.2f} {ice.verdict}"
    '-0.13 -0.18 meets'
    """
    pairs = sorted((float(t), float(r)) for t, r in sheet)
    curve = sheet_curve(pairs)
    known_t = np.array([t for t, _ in pairs])
    # The smooth curve misses the printed pairs by their rounding; the remainder is interpolated back in.
    missed = np.log([r for _, r in pairs]) - np.log(curve.resistance_ohm(known_t))
    k = coverage_factor()
    out: list[SheetCheck] = []
    for t, r, u in zip(temperature_c, resistance_ohm, u_c, strict=True):
        nominal = float(curve.resistance_ohm(t)) * math.exp(float(np.interp(t, known_t, missed)))
        per_ln = float(curve.slope_k_per_ln(nominal))
        error = per_ln * math.log(r / nominal)
        tolerance = abs(per_ln) * tolerance_ratio
        expanded = k * u
        verdict: Verdict = "cannot tell"
        if abs(error) + expanded <= tolerance:
            verdict = "meets"
        elif abs(error) - expanded > tolerance:
            verdict = "does not meet"
        out.append(
            SheetCheck(
                temperature_c=float(t),
                resistance_ohm=float(r),
                sheet_ohm=nominal,
                ratio=r / nominal - 1.0,
                error_c=error,
                tolerance_c=tolerance,
                expanded_c=expanded,
                inside_table=bool(known_t[0] - 1e-6 <= t <= known_t[-1] + 1e-6),
                verdict=verdict,
            )
        )
    return tuple(out)


def sheet_sentence(checks: Sequence[SheetCheck]) -> str:
    """Say whether the probe meets its sheet, and by how many degrees.

    Examples
    --------
    >>> sheet = [(0, 5230.0), (25, 1800.0), (97.7, 172.1), (120, 98.2)]
    >>> checks = check_against_sheet([0, 97.7], [5262.0, 172.9], [0.08, 0.12], sheet, tolerance_ratio=0.03)
    >>> sheet_sentence(checks)
    'meets its sheet at all 2 points: at most 0.13 °C off (at 0 °C, ± 0.16), where the sheet allows 0.65 °C'
    """
    failed = [check for check in checks if check.verdict == "does not meet"]
    open_ = [check for check in checks if check.verdict == "cannot tell"]
    worst = max(failed or open_ or checks, key=lambda check: abs(check.error_c) / check.tolerance_c)
    size = (
        f"{abs(worst.error_c):.2f} °C off (at {worst.temperature_c:.0f} °C, ± {worst.expanded_c:.2f}), "
        f"where the sheet allows {worst.tolerance_c:.2f} °C"
    )
    if failed:
        return f"does not meet its sheet at {len(failed)} of {len(checks)} points: up to {size}"
    if open_:
        return f"cannot be told to meet its sheet at {len(open_)} of {len(checks)} points: {size}"
    return f"meets its sheet at all {len(checks)} points: at most {size}"


def sheet_prior(
    sheet: Sequence[tuple[float, float]], tested_ohm: Sequence[float], *, shape_ratio: float = SHAPE_RATIO
) -> CurvaturePrior:
    """Shape prior from the maker's sheet, at the middle of the tested points.

    Parameters
    ----------
    sheet : sequence of (temperature_c, resistance_ohm)
        At least three pairs; with two the typical shape is returned, and says so.
    tested_ohm : sequence of float
        Resistances of the tested points, ohm.
    shape_ratio : float
        Relative standard uncertainty of the sheet's curvature.

    Returns
    -------
    CurvaturePrior
        Its uncertainty includes what the sheet's rounding leaves open.
    """
    t, r = _columns(sheet)
    if t.size < 3:
        return CurvaturePrior(
            kappa=TYPICAL.kappa,
            u_kappa=TYPICAL.u_kappa,
            source=f"{TYPICAL.source}; the sheet's two points tell no shape",
        )
    tested = np.log(np.asarray(tested_ohm, dtype=np.float64))
    centre = float(tested.mean())
    scale = max(0.5 * float(np.ptp(tested)), 0.5)
    kappa, u_kappa, form_ratio = _bend(t, r, centre, scale)
    if kappa <= 0.0 or u_kappa > TYPICAL.u_kappa:
        return CurvaturePrior(
            kappa=TYPICAL.kappa,
            u_kappa=TYPICAL.u_kappa,
            source=f"{TYPICAL.source}; the sheet's digits are too few to tell a shape",
        )
    return CurvaturePrior(
        kappa=kappa,
        u_kappa=math.hypot(shape_ratio * kappa, u_kappa),
        source=f"maker's sheet ({t.size} points), ± {100 * shape_ratio:.0f} % (standard)",
        form_ratio=form_ratio,
    )


def _bend(t: Floats, r: Floats, centre: float, scale: float) -> tuple[float, float, float]:
    """Curvature of the sheet at `centre` with its u, and how far its next term differs from Steinhart-Hart's.

    A sheet may span twice the tested range, and no ceramic is exactly Steinhart-Hart: with three terms its
    curvature would be a mean over all of it (12 % low for the invented probe J over -20 to 150 °C). The next term is
    therefore left free, within its usual size, so that the curvature is that of the middle of the tested points.
    """
    x = (np.log(r) - centre) / scale
    kelvin = t + KELVIN_AT_0_C
    columns = np.empty((t.size + 1, 4))
    columns[:-1, :3] = basis(x, centre, scale) * -(kelvin * kelvin)[:, None]
    columns[:-1, 3] = x**3 * -(kelvin * kelvin)
    columns[-1] = (0.0, 0.0, 0.0, 1.0)
    g = scale**2 / (6.0 * centre)
    slope = float((1.0 / kelvin[0] - 1.0 / kelvin[-1]) / (x[0] - x[-1]))
    unit = TYPICAL.kappa * g * slope
    digits = _rounding_ratio(r) * kelvin * kelvin * slope
    fit = gls(columns, np.append(-kelvin, 0.0), np.append(digits, TYPICAL.form_ratio * unit))
    _, p1, p2, p3 = fit.parameters.tolist()
    kappa = p2 / (g * p1)
    row = np.array([[0.0, -kappa / p1, 1.0 / (g * p1), 0.0], [0.0, 0.0, 0.0, 1.0]])
    u = standard_uncertainty(fit, row).tolist()
    ratio = math.hypot(p3, u[1]) / abs(kappa * g * p1)
    return kappa, float(u[0]), min(TYPICAL.form_ratio, max(ratio, 0.3))


def _columns(sheet: Sequence[tuple[float, float]]) -> tuple[Floats, Floats]:
    pairs = sorted((float(t), float(r)) for t, r in sheet)
    if len(pairs) < 2:
        raise InputError(
            "the maker's sheet has fewer than two points", do="type at least two temperatures with their ohms"
        )
    t, r = np.array([p[0] for p in pairs]), np.array([p[1] for p in pairs])
    if np.any(np.diff(t) <= 0.0) or np.any(np.diff(r) >= 0.0) or np.any(r <= 0.0) or np.any(t <= -KELVIN_AT_0_C):
        raise InputError(
            "the resistances of the maker's sheet do not fall as temperature rises", do="check the pairs as typed"
        )
    return t, r


def _rounding_ratio(resistance_ohm: Floats) -> Floats:
    """Relative standard uncertainty of printed values from their last digit (half a step, rectangular)."""
    texts = [f"{value:.10g}" for value in resistance_ohm]
    decimals = [len(text.partition(".")[2]) for text in texts]
    digits = [len(text.replace(".", "").strip("0")) for text in texts]
    # A zero at an entry's end may be a place or a digit: the longest entries tell how many digits the sheet gives.
    given = min(4, max(digits))
    ratios = []
    for value, places, own in zip(resistance_ohm, decimals, digits, strict=True):
        by_digits = 10.0 ** (math.floor(math.log10(value)) - (given - 1))
        step = 10.0**-places if own > given else max(10.0 ** -max(decimals), by_digits)
        ratios.append(step / math.sqrt(12.0) / value)
    return np.array(ratios)
