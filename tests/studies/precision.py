"""How many digits of a covariance are right? The same fit from the same floats in 60-digit arithmetic.

Run `python -m tests.studies.precision`. Beside it stands the plain way that a spreadsheet or a short script takes:
powers of ln R as they are, and the inverse of the normal matrix.
"""

from __future__ import annotations

import mpmath
import numpy as np

from sensorcal.calibration.calibration import u_statistical_at_c
from sensorcal.calibration.core import fit_core
from sensorcal.calibration.thermistor import fit_thermistor
from sensorcal.measure.terms import term
from tests.probes import j_sh, k_sh

SPANS_C = ((0.0, 100.0), (20.0, 25.0), (20.0, 21.0))
N = 8


def readings(probe, low_c: float, high_c: float):
    """Points with reproducible errors of 1 mK times the span, so that the fit has something to do."""
    rng = np.random.default_rng(20_260_614)
    t_true = np.linspace(low_c, high_c, N)
    t = t_true + 1e-3 * (high_c - low_c) / 100.0 * rng.standard_normal(N)
    return t, np.asarray(probe.resistance_ohm(t_true), dtype=float)


def exact(t, r, u, common, at_ohm, centre: float, scale: float):
    """Covariance of the centred coefficients, of A, B, C, and variance of T at some resistances, in 60 digits."""
    with mpmath.workdps(60):
        mp = mpmath.mpf
        ln_r = [mpmath.log(mp(float(v))) for v in r]
        kelvin = [mp(float(v)) + mp("273.15") for v in t]
        c, s = mp(centre), mp(scale)

        def columns(x):
            z = (x - c) / s
            return [mp(1), z, z * z * (z + 3 * c / s)]

        n = len(ln_r)
        design = mpmath.matrix([[-k * k * v for v in columns(x)] for k, x in zip(kelvin, ln_r, strict=True)])
        variance = mpmath.matrix(n, n)
        for i in range(n):
            for j in range(n):
                variance[i, j] = sum((mp(float(row[i])) * mp(float(row[j])) for row in common), mp(0))
            variance[i, i] += mp(float(u[i])) ** 2
        weight = mpmath.inverse(variance)
        observed = mpmath.matrix([-k for k in kelvin])
        centred = mpmath.inverse(design.T * weight * design)
        p = centred * (design.T * weight * observed)
        m = c / s
        back = mpmath.matrix([[1, -m, 2 * m**3], [0, 1 / s, -3 * c * c / s**3], [0, 0, 1 / s**3]])
        of_t = []
        for ohm in at_ohm:
            f = mpmath.matrix(columns(mpmath.log(mp(float(ohm)))))
            value = 1 / (f.T * p)[0]
            of_t.append((f.T * centred * f)[0] * value**4)
        abc = back * centred * back.T

        def array(a):
            return np.array([[float(a[i, j]) for j in range(3)] for i in range(3)])

        return array(centred), array(abc), np.array([float(v) for v in of_t])


def raw_powers(t, r, u, common, at_ohm):
    """Covariance of A, B, C and variance of T as typed: powers of ln R, inverse of the normal matrix."""
    x, kelvin = np.log(r), t + 273.15

    def columns(v):
        return np.stack([np.ones_like(v), v, v**3], axis=-1)

    design = -columns(x) * (kelvin * kelvin)[:, None]
    weight = np.linalg.inv(np.diag(u * u) + common.T @ common)
    covariance = np.linalg.inv(design.T @ weight @ design)
    f = columns(np.log(at_ohm))
    p = covariance @ (design.T @ weight @ -kelvin)
    return covariance, np.einsum("ij,jk,ik->i", f, covariance, f) / (f @ p) ** 4


def digits(ours, right) -> float:
    """Digits that agree in the worst entry; those of a matrix relative to the u of its row and column."""
    ours, right = np.asarray(ours), np.asarray(right)
    u = np.sqrt(np.diag(right)) if right.ndim == 2 else np.sqrt(right)
    worst = float(np.max(np.abs(ours - right) / (np.outer(u, u) if right.ndim == 2 else right)))
    return float(-np.log10(max(worst, 1e-17)))


def measure(probe, low_c: float, high_c: float, *, shared: bool) -> dict[str, float]:
    """Digits right of each covariance over one span."""
    t, r = readings(probe, low_c, high_c)
    u, common = np.full(N, 0.01), np.full((1 if shared else 0, N), 0.02)
    at_ohm = np.asarray(probe.resistance_ohm(np.linspace(low_c, high_c, 9)))
    terms = (term("bath", u, N, common=False),)
    terms += (term("reference", 0.02, N, common=True),) if shared else ()
    cal = fit_thermistor(t, r, terms, prior=None)
    assert cal.inflation == 1.0
    centred, abc, of_t = exact(t, r, u, common, at_ohm, cal.curve.centre, cal.curve.scale)
    core_abc = fit_core(t, r, u, common if shared else None)[1]
    typed_abc, typed_t = raw_powers(t, r, u, common, at_ohm)
    return {
        "centred covariance": digits(cal.covariance, centred),
        "variance of T": digits(u_statistical_at_c(cal, at_ohm) ** 2, of_t),
        "core, covariance of A, B, C": digits(core_abc, abc),
        "as typed, covariance of A, B, C": digits(typed_abc, abc),
        "as typed, variance of T": digits(typed_t, of_t),
    }


def main() -> None:
    """Print the table."""
    print(f"{N} points; digits of the worst entry that agree with 60-digit arithmetic from the same floats")
    for name, probe in (("J-SH", j_sh()), ("K", k_sh())):
        for shared in (False, True):
            for low, high in SPANS_C:
                line = ", ".join(f"{k} {v:.1f}" for k, v in measure(probe, low, high, shared=shared).items())
                print(f"{name:<5}{'shared' if shared else 'alone':<7}{low:g}..{high:g} degC: {line}")


if __name__ == "__main__":
    main()
