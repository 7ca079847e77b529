"""GUM H.3, calibration of a thermometer: every printed figure from our estimator of a straight line.

There u of the observations is not stated but estimated from the residuals: the fit is made with equal unit weights,
s² is chi-squared over the degrees of freedom, and the covariance is enlarged by it; U then needs Student's t with 9
degrees of freedom. `fit_thermistor` takes the other way, stated u, and so has no such factor unless its test fails.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from sensorcal.measure.estimate import gls, standard_uncertainty
from sensorcal.measure.interval import coverage_factor
from tests.outside.table import rows

DATA = rows("02_gum_h3_thermometer_data.csv")
T_C = np.array([float(row["t_k_degC"]) for row in DATA])
B_C = np.array([float(row["b_k_degC"]) for row in DATA])
RESULTS = {row["quantity"]: row for row in rows("02_gum_h3_thermometer_results.csv")}
H1 = {row["quantity"]: row for row in rows("13_gum_h1_welch_satterthwaite.csv")}
LINE = gls(np.stack([np.ones(T_C.size), T_C - 20.0], axis=1), B_C, np.ones(T_C.size))
S = math.sqrt(LINE.chi_squared / LINE.dof)
COVARIANCE = LINE.covariance * S**2


def _correction(t_c):
    row = np.array([[1.0, t_c - 20.0]])
    return float(row[0] @ LINE.parameters), float(S * standard_uncertainty(LINE, row)[0])


def _ours(quantity):
    u = np.sqrt(np.diag(COVARIANCE))
    named = {
        "y1_intercept": LINE.parameters[0],
        "u_y1": u[0],
        "y2_slope": LINE.parameters[1],
        "u_y2": u[1],
        "r_y1_y2": COVARIANCE[0, 1] / (u[0] * u[1]),
        "s": S,
        "dof": LINE.dof,
    }
    if quantity in named:
        return float(named[quantity])
    if quantity.startswith("residual_"):
        k = int(quantity.removeprefix("residual_")) - 1
        return float(B_C[k] - _correction(T_C[k])[0])
    if quantity.startswith("u_b_at_30_degC_if_correlation_ignored"):
        return math.hypot(u[0], 10.0 * u[1])
    t_c = float(quantity.split("_at_")[1].removesuffix("_degC"))
    return _correction(t_c)[1 if quantity.startswith("u_") else 0]


def _half_a_digit(text):
    return 0.5 * 10.0 ** -len(text.partition(".")[2])


@pytest.mark.parametrize("quantity", RESULTS, ids=lambda q: f"GUM H.3 {q}")
def test_figure(quantity):
    """A figure of GUM H.3, printed there or re-fitted by two libraries, would come out differently."""
    row, ours = RESULTS[quantity], _ours(quantity)
    if row["published"]:
        assert ours == pytest.approx(float(row["published"]), abs=1.000001 * _half_a_digit(row["published"]))
    # the re-fit is printed to seven or eight decimals
    assert ours == pytest.approx(float(row["refit"]), abs=1.01 * _half_a_digit(row["refit"]))


def test_student_factor_of_nine_degrees():
    """U of that correction would be taken with the factor of a known u, a seventh too small."""
    assert coverage_factor(LINE.dof) == pytest.approx(float(H1["t_95_at_9"]["recomputed"]), abs=0.5e-5)
    assert coverage_factor(LINE.dof, 0.9545) == pytest.approx(
        float(H1["t_95.45_at_9 (for H.3)"]["recomputed"]), abs=2e-4
    )
