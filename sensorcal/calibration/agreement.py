"""How well many variants of the same readings agree with a curve: chi-squared alone, for all of them at once."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from sensorcal.calibration.calibration import CurvaturePrior, Model
from sensorcal.physics.curves import KELVIN_AT_0_C

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from sensorcal.measure.terms import Term

    Floats = NDArray[np.float64]


def chi_squared_of_variants(
    temperature_c: Floats,
    resistance_ohm: Floats,
    terms: tuple[Term, ...],
    *,
    model: Model = "steinhart-hart",
    prior: CurvaturePrior | None = None,
) -> Floats:
    """Chi-squared that `fit_thermistor` would find for each variant of a set of points.

    The same estimate, prior and conversion of signal terms, without what a calibration needs beyond it: a screening
    that undoes a hundred possible slips has to be quick.

    Parameters
    ----------
    temperature_c, resistance_ohm : array, shape (s, n)
        One row a variant.
    terms : tuple of Term
        As for `fit_thermistor`, the same for all variants.
    model : {'steinhart-hart', 'beta'}
    prior : CurvaturePrior or None

    Returns
    -------
    array, shape (s,)
        Infinite where no falling curve fits.

    Examples
    --------
    >>> import numpy as np
    >>> from sensorcal.measure.terms import term
    >>> t = np.array([[0.0, 25.0, 50.0, 75.0, 97.7]] * 2)
    >>> r = np.array([[5230.0, 1800.0, 721.0, 325.4, 172.1], [5230.0, 1800.0, 7210.0, 325.4, 172.1]])
    >>> sound, slip = chi_squared_of_variants(t, r, (term("bath", 0.15, 5, common=False),))
    >>> bool(sound < 10 < 1000 < slip)
    True
    """
    s, n = temperature_c.shape
    p = 3 if model == "steinhart-hart" else 2
    kelvin = temperature_c + KELVIN_AT_0_C
    with np.errstate(all="ignore"):
        ln_r = np.log(resistance_ohm)
        centre, low, high = ln_r.mean(axis=1), ln_r.min(axis=1), ln_r.max(axis=1)
        scale = 0.5 * (high - low)
        at = np.arange(s)
        cold, hot = kelvin[at, ln_r.argmax(axis=1)], kelvin[at, ln_r.argmin(axis=1)]
        secant = (1.0 / cold - 1.0 / hot) / (high - low)
        usable = np.isfinite(secant) & (secant > 0.0) & (kelvin.min(axis=1) > 0.0)
        if prior is not None:
            usable &= centre >= 1.0
    # A variant without a curve is carried along as a harmless copy of nothing and set to infinity at the end.
    ln_r = np.where(usable[:, None], ln_r, np.arange(n)[::-1])
    kelvin = np.where(usable[:, None], kelvin, 300.0)
    centre, scale, secant = (np.where(usable, v, 1.0) for v in (centre, scale, secant))
    x = (ln_r - centre[:, None]) / scale[:, None]
    weight = -kelvin * kelvin
    bend = (3.0 * centre / scale)[:, None]
    g = scale * scale / (6.0 * centre)
    m = n + 1 if prior is not None and p == 3 else n
    system = np.zeros((s, m, p + 1))
    system[:, :n, 0] = weight
    system[:, :n, 1] = weight * x
    if p == 3:
        system[:, :n, 2] = weight * x * x * (x + bend)
    system[:, :n, p] = -kelvin
    u_prior = np.ones(s)
    if m > n and prior is not None:
        system[:, n, 1] = -prior.kappa * g
        system[:, n, 2] = 1.0
        u_prior = prior.u_kappa * g * secant * scale
    triangle = _triangle(system, terms, weight * secant[:, None], u_prior)
    if triangle is None:
        return np.full(s, np.inf)
    slope_p = _solved(triangle, p)
    if any(one.axis == "signal" for one in terms):
        curvature = slope_p[:, 2] if p == 3 else _typical_curvature(prior, g, secant, scale)
        rise = slope_p[:, 1, None] + curvature[:, None] * (3.0 * x * x + 2.0 * bend * x)
        triangle = _triangle(system, terms, weight * rise / scale[:, None], u_prior)
        if triangle is None:
            return np.full(s, np.inf)
        slope_p = _solved(triangle, p)
    chi_squared = triangle[:, p, p] ** 2 if m > p else np.zeros(s)
    return np.where(usable & (slope_p[:, 1] > 0.0), chi_squared, np.inf)


def _typical_curvature(prior: CurvaturePrior | None, g: Floats, secant: Floats, scale: Floats) -> Floats:
    from sensorcal.calibration.thermistor import TYPICAL

    return np.asarray((prior or TYPICAL).kappa * g * secant * scale, dtype=np.float64)


def _triangle(system: Floats, terms: tuple[Term, ...], slope: Floats, u_prior: Floats) -> Floats | None:
    """Triangle R of each whitened system; None where an observation has no uncertainty of its own."""
    s, n = slope.shape
    m = system.shape[1]
    variance = np.zeros((s, m, m))
    diagonal = np.einsum("sii->si", variance)
    for one in terms:
        u = one.u * slope if one.axis == "signal" else np.broadcast_to(one.u, (s, n))
        if one.common:
            variance[:, :n, :n] += u[:, :, None] * u[:, None, :]
        else:
            diagonal[:, :n] += u * u
    if m > n:
        diagonal[:, n] = u_prior * u_prior
    try:
        whitened = np.linalg.solve(np.linalg.cholesky(variance), system)
    except np.linalg.LinAlgError:
        return None
    return np.asarray(np.linalg.qr(whitened, mode="r"), dtype=np.float64)


def _solved(triangle: Floats, p: int) -> Floats:
    return np.asarray(np.linalg.solve(triangle[:, :p, :p], triangle[:, :p, p : p + 1])[:, :, 0], dtype=np.float64)
