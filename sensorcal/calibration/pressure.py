"""Fit a pressure sensor's curve on the ratio: a line, bent only where the data demand it."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Literal

import numpy as np

from sensorcal.bench.pressurepoints import nominal_groups
from sensorcal.calibration.pressurecal import OrderTest, PressureCalibration, PressureModel, PressurePoints, UseTerm
from sensorcal.errors import CurveError, FitError
from sensorcal.measure.estimate import Estimate, gain, gls
from sensorcal.measure.interval import chi_squared_limit, effective_dof
from sensorcal.measure.straight import middle_line
from sensorcal.measure.terms import Term, split
from sensorcal.physics.transducer import RatioCurve, RatioPolynomial, RatioTable, sound_ratio

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

Order = Literal[1, 2, 3, "table"]
_FALSE_ALARM = 0.01
_FEWEST_FOR_A_MIDDLE = 4
_FAR_SHARE = 0.03  # of the span: further from the line than any sound sensor's bow and loop
FORM = ":form"
BETWEEN = ":between"
"""Endings of identifiers of a reference's bow. Such a term may excuse a misfit in the tests, but the estimate does not
learn from it: a straight sensor would otherwise 'prove' the gauge straight, and U between its ends would come out too
small. The bow left between two checks of a gauge is counted in full; that of an unchecked gauge is not counted again,
because its level holds its whole u."""
_MODELS: dict[int, PressureModel] = {1: "line", 2: "quadratic", 3: "cubic"}
_ORDERS: dict[PressureModel, Order] = {"line": 1, "quadratic": 2, "cubic": 3, "table": "table"}


def fit_pressure(
    pressure_pa: ArrayLike,
    ratio: ArrayLike,
    terms: tuple[Term, ...],
    *,
    sensor: str = "transducer",
    order: Order | None = None,
    direction: tuple[str, ...] = (),
    cycle: tuple[int, ...] = (),
    low_pa: float | None = None,
    high_pa: float | None = None,
    kind: str = "gauge",
    use: tuple[UseTerm, ...] = (),
    labels: tuple[str, ...] = (),
    rows: tuple[tuple[int, ...], ...] = (),
) -> PressureCalibration:
    """Fit pressure against V_out / V_supply by generalised least squares.

    Where rising and falling readings are given, the curve runs through the middle of the loop: its width, measured
    from the same readings, is one signed error that all points share, so that an unequal number of rising and
    falling readings does not pull the curve to one side.

    Parameters
    ----------
    pressure_pa, ratio : array, shape (n,)
        Reference in Pa and V_out / V_supply of each point.
    terms : tuple of Term
        Errors in Pa on the axis ``'value'``, in ratio on ``'signal'``; at least one independent term above zero at
        every point.
    sensor : str
    order : {1, 2, 3, 'table'} or None
        Power of the curve, or straight lines between the tested pressures; None takes the line unless a quadratic
        is demanded at 1 % by chi-squared and by F, and the table where even that leaves a misfit.
    direction : tuple of str
        'up', 'down' or '' for each point.
    cycle : tuple of int
    low_pa, high_pa : float, optional
        Ends of the sensor's range; the tested range where left out.
    kind : {'gauge', 'sealed', 'absolute'}
    use : tuple of UseTerm
        Errors of the sensor in use.
    labels, rows : tuple, optional
        Name, and rows of the file, of each point.

    Returns
    -------
    PressureCalibration

    Raises
    ------
    FitError
        Too few points, numbers that are none, or an output that does not rise with pressure.
    InputError
        A ratio outside 0 to 1.
    CurveError
        The curve asked for turns round between the tested points.

    References
    ----------
    JCGM 100:2008 (GUM), 5.2 and H.3; F test of added terms: any text on regression, from memory.

    Examples
    --------
    >>> from sensorcal.measure.terms import term
    >>> p, r = [0.0, 250e3, 500e3, 1000e3], [0.1003, 0.3002, 0.5003, 0.9001]
    >>> cal = fit_pressure(p, r, (term("repeat", 300.0, 4, common=False),))
    >>> cal.model, round(float(cal.pressure_pa(0.42)) / 1000, 1)
    ('line', 399.7)
    """
    p, r = _checked(pressure_pa, ratio)
    n = p.size
    ways = direction or ("",) * n
    all_terms = _with_loop(terms, p, r, ways, sensor)
    if order is None:
        tested, orders, order_notes = _choose(p, r, all_terms)
    else:
        tested, orders, order_notes = _fit(p, r, all_terms, order), (), ()
    chi_squared, model = tested[1].chi_squared, tested[5]
    kept = tuple(one for one in all_terms if not one.identifier.endswith((FORM, BETWEEN)))
    fitted = tested if len(kept) == len(all_terms) else _fit(p, r, kept, _ORDERS[model])
    curve, estimate, u, common, names, _ = fitted
    slope = curve.slope_pa_per_ratio(r)
    weights = gain(estimate, curve.design(r), u, common)
    forms = tuple(one for one in all_terms if one.identifier.endswith(BETWEEN))
    moved = np.array([weights @ one.u for one in forms]).reshape(len(forms), estimate.parameters.size)
    inflation = 1.0
    notes = [*order_notes]
    if estimate.dof > 0 and chi_squared > chi_squared_limit(estimate.dof, _FALSE_ALARM):
        inflation = math.sqrt(chi_squared / estimate.dof)
        notes.append(
            "the points scatter more than their stated uncertainties allow (once in a hundred by chance): every U of "
            f"the curve is enlarged {inflation:.2f} times; look for a wrong reading or a leak first"
        )
    if estimate.dof <= 0:
        notes.append(f"{n} points for {estimate.parameters.size} coefficients: a wrong reading leaves no trace")
    total = np.sqrt(u**2 + (common**2).sum(axis=0) + sum((one.u**2 for one in forms), start=np.zeros(n)))
    return PressureCalibration(
        sensor=sensor,
        model=model,
        curve=curve,
        low_pa=float(p.min()) if low_pa is None else low_pa,
        high_pa=float(p.max()) if high_pa is None else high_pa,
        root=_joined(estimate.root, moved) * inflation,
        shared_identifiers=(*names, *(one.identifier for one in forms)),
        sensitivities=np.concatenate([estimate.sensitivities, moved]),
        gain=weights,
        terms=_in_pascals((*kept, *forms), slope),
        points=PressurePoints(
            pressure_pa=p,
            ratio=r,
            residual_pa=curve.pressure_pa(r) - p,
            u_pa=total,
            u_independent_pa=u,
            direction=ways,
            cycle=cycle or (1,) * n,
            labels=labels or tuple(f"point {i + 1}" for i in range(n)),
            rows=rows or ((),) * n,
        ),
        chi_squared=chi_squared,
        dof=estimate.dof,
        inflation=inflation,
        orders=orders,
        use=use,
        dof_effective=_dof(all_terms, slope, use),
        kind=kind,
        notes=tuple(notes),
    )


def _joined(root: Floats, moved: Floats) -> Floats:
    """Root of the covariance with the rows of `moved` added as further errors of one standard uncertainty."""
    if not moved.size:
        return root
    triangle = np.asarray(np.linalg.qr(np.concatenate([root.T, moved]), mode="r"), dtype=np.float64)
    return triangle.T


_Fitted = tuple[RatioCurve, Estimate, "Floats", "Floats", tuple[str, ...], PressureModel]


def _checked(pressure_pa: ArrayLike, ratio: ArrayLike) -> tuple[Floats, Floats]:
    p, r = np.asarray(pressure_pa, dtype=np.float64), np.asarray(ratio, dtype=np.float64)
    if p.ndim != 1 or p.shape != r.shape:
        raise FitError(f"{p.size} pressures stand beside {r.size} ratios", do="give one of each for every point")
    if p.size < 2:
        raise FitError("one point makes no line", do="read the sensor at zero and near full scale at least")
    if not math.isfinite(float(p.sum()) + float(r.sum())):
        raise FitError("a pressure or ratio is no number", do="leave the point out, with its reason, or mend it")
    sound_ratio(r)
    if not np.ptp(p) > 0.0 or not np.ptp(r) > 0.0:
        raise FitError("all points have the same pressure or ratio", do="take points at different pressures")
    if float(r[p.argmax()]) <= float(r[p.argmin()]):
        raise FitError("the output does not rise with pressure", do="check the sign, the column and the wiring")
    return p, r


def _fit(p: Floats, r: Floats, terms: tuple[Term, ...], order: Order) -> _Fitted:
    """Fit one form; the slope that carries errors of the ratio comes from a first round."""
    low, high = float(r.min()), float(r.max())
    slope = np.full(p.size, np.ptp(p) / (high - low))
    curve: RatioCurve
    for _ in range(2):
        u, common, names = split(terms, slope)
        if order == "table":
            groups = nominal_groups(p.tolist())
            knots = np.array([r[g].mean() for g in groups])
            curve = RatioTable(knots_ratio=knots, coefficients_pa=np.array([p[g].mean() for g in groups]))
            estimate = gls(curve.design(r), p, u, common)
            curve = RatioTable(knots_ratio=knots, coefficients_pa=estimate.parameters)
        else:
            centre, scale = 0.5 * (low + high), 0.5 * (high - low)
            x = (r - centre) / scale
            estimate = gls(x[:, None] ** np.arange(order + 1), p, u, common)
            curve = RatioPolynomial(
                coefficients_pa=estimate.parameters, centre=centre, scale=scale, low_ratio=low, high_ratio=high
            )
        slope = curve.slope_pa_per_ratio(r)
    return curve, estimate, u, common, names, "table" if order == "table" else _MODELS[order]


def _choose(p: Floats, r: Floats, terms: tuple[Term, ...]) -> tuple[_Fitted, tuple[OrderTest, ...], tuple[str, ...]]:
    """Take the line; bend it only where the data demand it, and say so."""
    line = _fit(p, r, terms, 1)
    places = len(nominal_groups(p.tolist()))
    if places < 4:
        few = f"{places} different pressures cannot show whether the sensor is straight: read four or more"
        return line, (), (few,) if places < 3 else ()
    tests: list[OrderTest] = []
    notes: list[str] = []
    best = line
    try:
        bent = _fit(p, r, terms, 2)
    except CurveError:
        bent = line
    if bent is not line:
        tests.append(_order_test(line, bent))
        if tests[-1].demanded:
            best = bent
            bow = _bow(line[0], bent[0], p)
            notes.append(
                f"a straight line does not fit (chi-squared falls by {tests[-1].chi_squared_drop:.0f}, chance gives "
                f"{tests[-1].limit:.1f} once in a hundred): a quadratic is used, which bows by {bow / 1000:.2f} kPa"
            )
    misfit = best[1].dof > 0 and best[1].chi_squared > chi_squared_limit(best[1].dof, _FALSE_ALARM)
    if misfit and p.size > places:
        try:
            table = _fit(p, r, terms, "table")
        except (CurveError, FitError):
            return best, tuple(tests), tuple(notes)
        tests.append(_order_test(best, table))
        if tests[-1].demanded:
            best = table
            notes.append(
                "neither a line nor a quadratic fits: straight lines between the tested pressures are used; between "
                "them nothing was tested"
            )
    return best, tuple(tests), tuple(notes)


def _order_test(simpler: _Fitted, richer: _Fitted) -> OrderTest:
    from scipy.special import fdtri

    a, b = simpler[1], richer[1]
    added = a.dof - b.dof
    drop = a.chi_squared - b.chi_squared
    limit = chi_squared_limit(added, _FALSE_ALARM)
    if b.dof > 0:
        f_limit = float(fdtri(added, b.dof, 1.0 - _FALSE_ALARM))
        f_ratio = drop / added / (b.chi_squared / b.dof) if b.chi_squared > 0.0 else math.inf
    else:
        f_ratio, f_limit = math.inf, math.inf
    return OrderTest(
        simpler=simpler[5],
        richer=richer[5],
        chi_squared_drop=drop,
        added=added,
        limit=limit,
        f_ratio=f_ratio,
        f_limit=f_limit,
        demanded=drop > limit and f_ratio > f_limit,
    )


def _bow(line: RatioCurve, bent: RatioCurve, p: Floats) -> float:
    """Largest distance between the two curves over the tested pressures, Pa."""
    at = np.linspace(float(p.min()), float(p.max()), 101)
    r = line.ratio(at)
    return float(np.abs(bent.pressure_pa(r) - line.pressure_pa(r)).max())


def loop_pa(p: Floats, r: Floats, direction: tuple[str, ...]) -> tuple[Floats, Floats] | None:
    """Width of the loop at each pressure read both rising and falling: falling minus rising, in Pa.

    Returns
    -------
    pressure_pa, width_pa : array
        Rising pressures, the ends of the tested range added with no width where one of them was not read both ways;
        None where no pressure was.
    """
    slope = float(np.ptp(p) / np.ptp(r))
    mean_p, mean_r = float(p.mean()), float(r.mean())
    shows = slope * (r - mean_r) - (p - mean_p)
    ways = np.array(direction)
    found: list[tuple[float, float]] = []
    for group in nominal_groups(p.tolist()):
        index = np.array(group)
        up, down = index[ways[index] == "up"], index[ways[index] == "down"]
        if up.size and down.size:
            found.append((float(p[index].mean()), float(shows[down].mean() - shows[up].mean())))
    if not found:
        return None
    low, high = float(p.min()), float(p.max())
    near = 0.005 * (high - low)
    if found[0][0] > low + near:
        found.insert(0, (low, 0.0))
    if found[-1][0] < high - near:
        found.append((high, 0.0))
    at, width = zip(*found, strict=True)
    return np.array(at), np.array(width)


def places_of(p: Floats, r: Floats) -> Floats:
    """Where on the scale each point stands, Pa: as entered, or by the sensor where an entry is far off.

    A shared error is a smooth function of the pressure. Taken at an entry that is wrong, it would let the whole curve
    bend to excuse that entry.
    """
    if p.size < _FEWEST_FOR_A_MIDDLE or not np.ptp(r) > 0.0:
        return p.copy()
    slope, offset = middle_line(r, p)
    shown = slope * r + offset
    off = np.abs(p - shown)
    sound = off <= max(_FAR_SHARE * float(np.ptp(shown)), 3.0 * float(np.median(off)))
    return np.asarray(np.where(sound, p, np.clip(shown, p[sound].min(), p[sound].max())), dtype=np.float64)


def _with_loop(
    terms: tuple[Term, ...], p: Floats, r: Floats, direction: tuple[str, ...], sensor: str
) -> tuple[Term, ...]:
    """Add the measured loop as one signed error of all points."""
    identifier = f"hysteresis:{sensor}"
    if any(one.identifier == identifier for one in terms):
        return terms
    places = places_of(p, r)
    loop = loop_pa(p, r, tuple(way if at == own else "" for way, at, own in zip(direction, places, p, strict=True)))
    if loop is None:
        return terms
    signs = np.array([{"up": 1.0, "down": -1.0}.get(way, 0.0) for way in direction])
    u = 0.5 * signs * np.interp(places, *loop)
    half_loop = Term(identifier=identifier, u=u, common=True, meaning="half the loop of rising and falling readings")
    return (*terms, half_loop)


def _in_pascals(terms: tuple[Term, ...], slope: Floats) -> tuple[Term, ...]:
    """Bring terms of the ratio to Pa, for Monte Carlo."""
    return tuple(
        Term(
            identifier=one.identifier,
            u=one.u * -slope if one.axis == "signal" else one.u,
            common=one.common,
            dof=one.dof,
            meaning=one.meaning,
            shape=one.shape,
        )
        for one in terms
    )


def _dof(terms: tuple[Term, ...], slope: Floats, use: tuple[UseTerm, ...]) -> float:
    """Degrees of freedom behind the stated u; infinite unless a term says it was estimated."""
    if all(math.isinf(one.dof) for one in terms):
        return math.inf
    sized = [
        (float(np.sqrt(np.mean((one.u * slope if one.axis == "signal" else one.u) ** 2))), one.dof) for one in terms
    ]
    known = [(float(np.sqrt(np.mean(one.u_pa**2))), math.inf) for one in use if not one.each_reading]
    return effective_dof(sized + known)
