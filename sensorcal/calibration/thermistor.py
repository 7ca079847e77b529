"""Fit a thermistor's curve to bench points, with every error that the points share kept as such."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from sensorcal.calibration.calibration import Calibration, CurvaturePrior, FitPoints, Model, PriorReport
from sensorcal.errors import FitError
from sensorcal.measure.estimate import Estimate, gls
from sensorcal.measure.interval import chi_squared_limit, effective_dof
from sensorcal.measure.terms import Term, split
from sensorcal.physics.curves import KELVIN_AT_0_C, SteinhartHart

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

TYPICAL = CurvaturePrior(
    kappa=0.0175,
    u_kappa=0.30 * 0.0175,
    source="typical ceramic thermistor, ± 30 % (standard)",
)
"""Default shape: 0.0178 for the published ratio curve in shared/03_ntc_ratio_curve_a.csv and 0.0174 for the common
10 kohm coefficients in shared/03_steinhart_hart_apply.csv, both read over 0 to 98 °C; the ± 30 % is common practice,
no source."""

# How far beyond the hottest point the prior's pull is shown, K.
_BEYOND_K = 22.0


def fit_thermistor(
    temperature_c: ArrayLike,
    resistance_ohm: ArrayLike,
    terms: tuple[Term, ...],
    *,
    sensor: str = "probe",
    model: Model = "steinhart-hart",
    prior: CurvaturePrior | None = TYPICAL,
    labels: tuple[str, ...] = (),
    rows: tuple[tuple[int, ...], ...] = (),
) -> Calibration:
    """Fit Steinhart-Hart, or the two-term Beta, to settled points by generalised least squares.

    Parameters
    ----------
    temperature_c, resistance_ohm : array, shape (n,)
        Reference temperature in °C and resistance in ohm of each point.
    terms : tuple of Term
        Every error of the bench: in °C on the axis ``'value'``, in ln R on the axis ``'signal'``. At least one
        independent term, above zero at every point.
    sensor : str
        Tag of the probe.
    model : {'steinhart-hart', 'beta'}
    prior : CurvaturePrior or None
        Shape known beforehand, as one more observation of the curvature; None switches it off.
    labels, rows : tuple, optional
        Name, and rows of the file, of each point.

    Returns
    -------
    Calibration

    Raises
    ------
    FitError
        Too few points, a value that is no number, resistance not above zero, or resistances that rise with
        temperature.

    References
    ----------
    Steinhart J.S., Hart S.R. (1968), Deep-Sea Research 15, 497-503; JCGM 100:2008 (GUM), 5.2 and H.3.

    Examples
    --------
    >>> import numpy as np
    >>> from sensorcal.measure.terms import term
    >>> t, r = [0.0, 25.0, 50.0, 75.0, 97.7], [5230.0, 1800.0, 721.0, 325.4, 172.1]
    >>> cal = fit_thermistor(t, r, (term("bath", 0.1, 5, common=False),))
    >>> round(float(cal.temperature_c(211.8)), 1)
    90.0
    """
    t, r = _checked(temperature_c, resistance_ohm)
    n = t.size
    kelvin = t + KELVIN_AT_0_C
    ln_r = np.log(r)
    centre = float(ln_r.sum()) / n
    order = ln_r.tolist()
    low, high = min(order), max(order)
    scale = 0.5 * (high - low)
    if scale <= 0.0:
        raise FitError("all points have the same resistance", do="take points at different temperatures")
    if prior is not None and centre < 1.0:
        raise FitError("the resistances are below a few ohm", do="check the unit: were kilohms typed as ohms?")
    x = (ln_r - centre) / scale
    secant = (1.0 / float(kelvin[order.index(high)]) - 1.0 / float(kelvin[order.index(low)])) / (high - low)
    if secant <= 0.0:
        raise FitError(
            "the resistance does not fall from the coldest point to the hottest",
            do="check the two end points: an NTC thermistor falls by 2 to 6 % a degree",
        )

    p = 3 if model == "steinhart-hart" else 2
    shape = prior if prior is not None else TYPICAL
    # d²(1/T)/d(ln R)² = kappa d(1/T)/d ln R at the centre is p2 = kappa g p1 in the centred terms.
    g = scale * scale / (6.0 * centre)
    with_prior = prior is not None and p == 3
    weight = -kelvin * kelvin
    columns = np.empty((n + 1, 4))
    columns[n] = 0.0
    body = columns[:n]
    body[:, 0] = weight
    body[:, 1] = weight * x
    square = body[:, 1] * x
    body[:, 3] = square * x
    body[:, 2] = body[:, 3] + square * (3.0 * centre / scale)
    typical_p2 = shape.kappa * g * secant * scale
    if with_prior:
        columns[n, 1] = -shape.kappa * g
        columns[n, 2] = 1.0
    m = n + 1 if with_prior else n
    observed = np.zeros(m)
    observed[:n] = -kelvin
    passenger = columns[:m, p : p + 1] if p == 2 else columns[:m, 3:4]

    slope = weight * secant
    estimate, u, common, names = _estimate(
        columns[:m, :p], observed, passenger, terms, slope, shape, g * secant * scale
    )
    if any(one.axis == "signal" for one in terms):
        curvature = float(estimate.parameters[2]) if p == 3 else typical_p2
        bend = 3.0 * x * x + (6.0 * centre / scale) * x
        slope = weight * ((float(estimate.parameters[1]) + curvature * bend) / scale)
        estimate, u, common, names = _estimate(
            columns[:m, :p], observed, passenger, terms, slope, shape, g * secant * scale
        )

    coefficients = estimate.parameters.tolist()
    if coefficients[1] <= 0.0:
        raise FitError(
            "the fitted curve does not fall with temperature", do="look for a wrong reading among the points"
        )
    curve = SteinhartHart(
        p0=coefficients[0],
        p1=coefficients[1],
        p2=coefficients[2] if p == 3 else 0.0,
        centre=centre,
        scale=scale,
    )
    alone: Estimate | None = estimate
    report = None
    if with_prior:
        try:
            alone = gls(columns[:n, :3], observed[:n], u[:n], common[:, :n])
        except FitError:
            alone = None
        report = _prior_report(shape, estimate, alone, curve, g)
    # Scatter is judged from the readings alone: a probe whose bend differs from the prior is no noisier for that.
    inflation = 1.0
    if alone is not None and alone.dof > 0 and alone.chi_squared > chi_squared_limit(alone.dof):
        inflation = math.sqrt(alone.chi_squared / alone.dof)
    fitted_kelvin = -kelvin / (columns[:n, :p] @ estimate.parameters) * kelvin
    total = np.sqrt(u[:n] ** 2 + (common[:, :n] ** 2).sum(axis=0)) if common.size else u[:n]
    form_spread = (
        shape.form_ratio * typical_p2 if p == 3 else math.hypot(shape.kappa, shape.u_kappa) * g * secant * scale
    )
    return Calibration(
        sensor=sensor,
        model=model,
        curve=curve,
        root=estimate.root * inflation if inflation != 1.0 else estimate.root,
        shared_identifiers=names,
        sensitivities=estimate.sensitivities,
        points=FitPoints(
            temperature_c=t,
            resistance_ohm=r,
            residual_c=fitted_kelvin - kelvin,
            u_c=total,
            u_independent_c=u[:n],
            labels=labels or tuple(f"point {i + 1}" for i in range(n)),
            rows=rows or ((),) * n,
        ),
        chi_squared=estimate.chi_squared,
        dof=estimate.dof,
        inflation=inflation,
        prior=report,
        form_carried=estimate.carried[0],
        form_size=_next_term(estimate, form_spread),
        form_order=3 if p == 3 else 2,
        dof_effective=_dof(terms, slope),
        notes=_notes(n, p, estimate.dof, inflation, report),
    )


def _checked(temperature_c: ArrayLike, resistance_ohm: ArrayLike) -> tuple[Floats, Floats]:
    t = np.asarray(temperature_c, dtype=np.float64)
    r = np.asarray(resistance_ohm, dtype=np.float64)
    if t.ndim != 1 or t.shape != r.shape:
        raise FitError(
            f"{t.size} temperatures stand beside {r.size} resistances", do="give one of each for every point"
        )
    if t.size < 2:
        raise FitError("one point makes no curve", do="take at least ice and steam")
    if not math.isfinite(float(t.sum()) + float(r.sum())):
        raise FitError(
            "a temperature or resistance is no number", do="leave the point out, with its reason, or mend it"
        )
    if min(r.tolist()) <= 0.0:
        raise FitError("a resistance is not above zero", do="check the sign and the unit")
    if min(t.tolist()) <= -KELVIN_AT_0_C:
        raise FitError("a temperature is below absolute zero", do="check the unit")
    return t, r


def _estimate(
    design: Floats,
    observed: Floats,
    passenger: Floats,
    terms: tuple[Term, ...],
    slope: Floats,
    shape: CurvaturePrior,
    unit_p2: float,
) -> tuple[Estimate, Floats, Floats, tuple[str, ...]]:
    """Weigh the points, add the prior's row where there is one, and solve."""
    n, m = slope.size, observed.size
    u_points, common_points, names = split(terms, slope)
    if m == n:
        return gls(design, observed, u_points, common_points, passenger), u_points, common_points, names
    u = np.empty(m)
    u[:n] = u_points
    u[n] = shape.u_kappa * unit_p2
    common = np.zeros((common_points.shape[0], m))
    common[:, :n] = common_points
    return gls(design, observed, u, common, passenger), u, common, names


def _next_term(estimate: Estimate, spread: float) -> float:
    """Root mean square size of the coefficient that the model leaves out, given its prior spread and the points."""
    left = estimate.leftover
    strength, projection = 0.0, 0.0
    if left.shape[0]:
        passenger = left[:, 1].tolist()
        strength = sum(v * v for v in passenger)
        projection = float(left[0, 0]) * passenger[0]
    variance = 1.0 / (strength + 1.0 / (spread * spread))
    return math.sqrt((projection * variance) ** 2 + variance)


def _prior_report(
    prior: CurvaturePrior,
    estimate: Estimate,
    alone: Estimate | None,
    curve: SteinhartHart,
    g: float,
) -> PriorReport:
    """Compare the curvature of prior, readings and result, and size the prior's pull in °C."""
    kappa, u_kappa = _curvature(estimate, g)
    kappa_data: float | None = None
    u_data: float | None = None
    disagreement = 0.0
    pull: tuple[tuple[float, float], ...] = ()
    if alone is not None:
        kappa_data, u_data = _curvature(alone, g)
        disagreement = (kappa_data - prior.kappa) / math.hypot(u_data, prior.u_kappa)
        d0, d1, d2 = (estimate.parameters - alone.parameters).tolist()
        m = curve.centre / curve.scale
        k0, k1, k2 = curve.p0, curve.p1, curve.p2
        at: list[tuple[float, float]] = []
        for x in (1.0, 0.0, -1.0):
            phi = x * x * (x + 3.0 * m)
            kelvin = 1.0 / (k0 + k1 * x + k2 * phi)
            at.append((kelvin - KELVIN_AT_0_C, -kelvin * kelvin * (d0 + d1 * x + d2 * phi)))
        x = -1.0 - _BEYOND_K / (kelvin * kelvin * (k1 + k2 * (3.0 - 6.0 * m)))
        phi = x * x * (x + 3.0 * m)
        kelvin = 1.0 / (k0 + k1 * x + k2 * phi)
        at.append((kelvin - KELVIN_AT_0_C, -kelvin * kelvin * (d0 + d1 * x + d2 * phi)))
        pull = tuple(at)
    return PriorReport(
        prior=prior,
        kappa_data=kappa_data,
        u_kappa_data=u_data,
        kappa=kappa,
        u_kappa=u_kappa,
        disagreement=disagreement,
        pull_c=pull,
    )


def _curvature(estimate: Estimate, g: float) -> tuple[float, float]:
    """Kappa at the centre and its u, from the coefficients."""
    _, p1, p2 = estimate.parameters.tolist()
    kappa = p2 / (g * p1)
    (_, a, b), (_, _, c) = estimate.root[1].tolist(), estimate.root[2].tolist()
    toward_p1, toward_p2 = -kappa / p1, 1.0 / (g * p1)
    return kappa, math.hypot(toward_p1 * a, toward_p1 * b + toward_p2 * c)


def _dof(terms: tuple[Term, ...], slope: Floats) -> float:
    """Degrees of freedom behind the stated u; infinite unless a term says it was estimated."""
    if all(math.isinf(one.dof) for one in terms):
        return math.inf
    sized = [
        (float(np.sqrt(np.mean((one.u * slope if one.axis == "signal" else one.u) ** 2))), one.dof) for one in terms
    ]
    return effective_dof(sized)


def _notes(n: int, p: int, dof: int, inflation: float, report: PriorReport | None) -> tuple[str, ...]:
    notes: list[str] = []
    if dof <= 0:
        known = f"{n} points" if report is None else f"{n} points and the shape prior"
        notes.append(f"{known} for {p} coefficients: a wrong reading leaves no trace; nothing could be checked")
    if inflation > 1.0:
        notes.append(
            f"the points scatter more than their stated uncertainties allow (once in a hundred by chance): "
            f"every U is enlarged {inflation:.2f} times; look for a wrong reading first"
        )
    if report is not None and report.disagrees:
        notes.append(
            f"prior and data disagree: the readings bend {report.kappa_data:.4f} where the prior expects "
            f"{report.prior.kappa:.4f} ± {report.prior.u_kappa:.4f} ({report.disagreement:+.1f} standard "
            "uncertainties); look for a wrong reading, or fit without the prior"
        )
    return tuple(notes)
