"""The same readings given to independent libraries: fits to SciPy and ODRPACK, propagation to GTC and uncertainties."""

from __future__ import annotations

import numpy as np
import pytest

from sensorcal.calibration.calibration import shared_shift_c, u_statistical_at_c
from sensorcal.calibration.claims import abc_covariance
from sensorcal.calibration.core import fit_core
from sensorcal.calibration.thermistor import fit_thermistor
from sensorcal.measure.terms import term
from tests.probes import j_sh, k_sh

N = 7
ZERO_C_K = 273.15
AT_OHM = {"J-SH": (9000.0, 1800.0, 450.0, 212.0, 98.0), "K": (30_000.0, 10_000.0, 2600.0, 900.0, 380.0)}
PROBES = {"J-SH": j_sh(), "K": k_sh()}


def _readings(name):
    rng = np.random.default_rng(77)
    t_true = np.linspace(0.0, 98.0, N)
    r = np.asarray(PROBES[name].resistance_ohm(t_true))
    return t_true + 0.1 * rng.standard_normal(N), r, np.linspace(0.08, 0.14, N), 0.15 + 0.001 * t_true


def _calibration(name, *, shared=True):
    t, r, u, common = _readings(name)
    terms = (term("bath", u, N, common=False),)
    if shared:
        terms += (term("reference:T1", common, N, common=True),)
    return fit_thermistor(t, r, terms, prior=None)


def _law(ohm, a, b, c):
    x = np.log(ohm)
    return a + b * x + c * x**3


@pytest.mark.parametrize("name", PROBES)
@pytest.mark.parametrize("shared", [True, False], ids=["shared reference", "independent"])
def test_scipy_curve_fit(name, shared):
    """Coefficients or their covariance would differ from SciPy's curve_fit with the full covariance of 1/T."""
    from scipy.optimize import curve_fit

    t, r, u, common = _readings(name)
    kelvin = t + ZERO_C_K
    variance = np.diag(u * u) + (np.outer(common, common) if shared else 0.0)
    cal = _calibration(name, shared=shared)
    theirs, their_covariance = curve_fit(
        _law, r, 1.0 / kelvin, p0=cal.curve.abc, sigma=variance / np.outer(kelvin, kelvin) ** 2, absolute_sigma=True
    )
    ours = np.array(cal.curve.abc)
    their_u = np.sqrt(np.diag(their_covariance))
    # it works in raw powers of ln R: its u keeps about five digits, its coefficients more
    assert np.sqrt(np.diag(abc_covariance(cal))) == pytest.approx(their_u, rel=1e-4)
    assert ours / their_u == pytest.approx(theirs / their_u, abs=1e-4)
    core, core_covariance = fit_core(t, r, u, common[None] if shared else None)
    assert core / their_u == pytest.approx(ours / their_u, abs=1e-8)
    assert np.sqrt(np.diag(core_covariance)) == pytest.approx(np.sqrt(np.diag(abc_covariance(cal))), rel=1e-11)


@pytest.mark.parametrize("name", PROBES)
def test_odrpack(name):
    """With errors in ohms as well, carrying them over by the slope would differ from orthogonal distance regression."""
    odrpack = pytest.importorskip("odrpack")

    t, r, u, _ = _readings(name)
    u_ratio = 0.003
    terms = (term("bath", u, N, common=False), term("meter", u_ratio, N, common=False, axis="signal"))
    cal = fit_thermistor(t, r, terms, prior=None)
    curve = cal.curve

    def law(x, p):
        z = (x - curve.centre) / curve.scale
        return 1.0 / (p[0] + p[1] * z + p[2] * z * z * (z + 3.0 * curve.centre / curve.scale))

    start = np.array([curve.p0, curve.p1, curve.p2]) * (1.0, 1.01, 0.9)
    theirs = odrpack.odr_fit(
        law,
        np.log(r),
        t + ZERO_C_K,
        start,
        weight_x=np.full(N, 1.0 / u_ratio**2),
        weight_y=1.0 / u**2,
        scale_beta=1.0 / np.abs(start),
        diff_scheme="central",
        sstol=1e-14,
        partol=1e-14,
        maxit=200,
    )
    at = np.array(AT_OHM[name])
    ours_c, u_c = cal.temperature_c(at), u_statistical_at_c(cal, at)
    # both are approximations to second order in the errors: a hundredth of u parts them at most
    assert (law(np.log(at), theirs.beta) - ZERO_C_K - ours_c) / u_c == pytest.approx(np.zeros(at.size), abs=0.02)
    assert cal.covariance == pytest.approx(theirs.cov_beta, rel=0.02, abs=0.02 * float(cal.covariance[0, 0]))


def _estimate_in(numbers, t, r, variance):
    """The textbook solution (XᵀWX)⁻¹XᵀW y with uncertain numbers for the temperatures, in centred terms."""
    kelvin, ln_r = t + ZERO_C_K, np.log(r)
    centre, scale = float(ln_r.mean()), float(np.ptp(ln_r)) / 2
    z = (ln_r - centre) / scale
    design = np.stack([np.ones(N), z, z * z * (z + 3 * centre / scale)], axis=1)
    weight = np.linalg.inv(variance / np.outer(kelvin, kelvin) ** 2)
    gain = np.linalg.inv(design.T @ weight @ design) @ design.T @ weight
    inverse = [1 / (v + ZERO_C_K) for v in numbers]
    p = [sum(g * y for g, y in zip(row, inverse, strict=True)) for row in gain]

    def temperature(ohm):
        x = (float(np.log(ohm)) - centre) / scale
        return 1 / (p[0] + p[1] * x + p[2] * (x * x * (x + 3 * centre / scale))) - ZERO_C_K

    return temperature


@pytest.mark.parametrize("name", PROBES)
def test_gtc(name):
    """U of the curve, its part from the shared reference, or a correlation would differ from GTC's propagation."""
    gtc = pytest.importorskip("GTC")

    t, r, u, common = _readings(name)
    reference = gtc.ureal(0.0, 1.0, label="reference")
    seen = [gtc.ureal(float(v), float(s)) + float(c) * reference for v, s, c in zip(t, u, common, strict=True)]
    temperature = _estimate_in(seen, t, r, np.diag(u * u) + np.outer(common, common))
    cal = _calibration(name)
    shift = shared_shift_c(cal, cal.temperature_c(AT_OHM[name]))["reference:T1"]
    for i, ohm in enumerate(AT_OHM[name]):
        theirs = temperature(ohm)
        assert float(cal.temperature_c(ohm)) == pytest.approx(gtc.value(theirs), abs=1e-9)
        assert float(u_statistical_at_c(cal, ohm)) == pytest.approx(gtc.uncertainty(theirs), rel=1e-9)
        assert float(shift[i]) == pytest.approx(gtc.component(theirs, reference), rel=1e-8)


@pytest.mark.parametrize("name", PROBES)
def test_uncertainties(name):
    """U of the curve, or of the difference of two of its temperatures, would differ from the package uncertainties."""
    library = pytest.importorskip("uncertainties")

    t, r, u, common = _readings(name)
    variance = np.diag(u * u) + np.outer(common, common)
    seen = library.correlated_values(t, variance)
    temperature = _estimate_in(seen, t, r, variance)
    cal = _calibration(name)
    for ohm in AT_OHM[name]:
        theirs = temperature(ohm)
        assert float(cal.temperature_c(ohm)) == pytest.approx(theirs.nominal_value, abs=1e-9)
        # it takes the covariance apart into eigenvectors: eight digits
        assert float(u_statistical_at_c(cal, ohm)) == pytest.approx(theirs.std_dev, rel=1e-8)
