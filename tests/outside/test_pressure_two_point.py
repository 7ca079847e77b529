"""A linear sensor from its end points: Kessel, Kacker, Sommer, Measurement 45 (2012) 1661, in our fit's words."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from sensorcal.calibration.pressure import fit_pressure
from sensorcal.calibration.pressurecal import UseTerm, expanded_pressure_pa
from sensorcal.measure.terms import term
from tests.outside.table import cases, rows

TABLE = "07_pressure_sensor_two_point_example.csv"
DATA = rows(TABLE)
# The sensor's reading x runs to 2.041; a tenth of it is a ratio. u of the last digit: half-width 0.00005.
TENTH = 0.1
DIGIT = 0.00005 / math.sqrt(3.0) * TENTH


def _calibration():
    ends = [DATA[0], DATA[-1]]
    p = [float(row["p_applied"]) for row in ends]
    x = [float(row["x_reading"]) * TENTH for row in ends]
    terms = (
        # the paper's reference at zero is exact: a millionth of the last digit gives the fit an uncertainty to hold
        term("reference", 0.000115 * np.array(p), 2, common=True),
        term("last digit", DIGIT, 2, common=False, axis="signal"),
    )
    low, high = p
    slope = (high - low) / (x[1] - x[0])
    use = (
        UseTerm(identifier="last digit", pressure_pa=[low, high], u_pa=[slope * DIGIT] * 2, each_reading=True),
        UseTerm(identifier="linearity", pressure_pa=[low, high], u_pa=[0.005 / math.sqrt(3.0)] * 2),
    )
    return fit_pressure(p, x, terms, order=1, use=use)


# Printed in the head of the table, verbatim from the library's documentation.
B, U_B, U_A, CORR = 9.799118079372857, 0.0011438175474686209, 0.0002828761730473424, -0.12117041864179227


def _to_intercept_and_slope(cal):
    """From the centred coefficients to a and b of p = a + b x, x ten times the ratio."""
    m, s = cal.curve.centre / cal.curve.scale, TENTH / cal.curve.scale
    back = np.array([[1.0, -m], [0.0, s]])
    return back @ cal.curve.coefficients_pa, back @ cal.covariance @ back.T, back


def test_parameters():
    """Zero, slope, their u and their correlation are the paper's own result: a lost shared term would show here."""
    (a, b), covariance, _ = _to_intercept_and_slope(_calibration())
    u_a, u_b = np.sqrt(np.diag(covariance))
    assert a == pytest.approx(0.0, abs=1e-12)
    assert b == pytest.approx(B, rel=1e-12)
    # the fit's reference error at zero, none, and the digits: rounding of the printed figures only
    assert u_a == pytest.approx(U_A, rel=1e-9)
    assert u_b == pytest.approx(U_B, rel=1e-7)
    assert covariance[0, 1] / (u_a * u_b) == pytest.approx(CORR, rel=1e-7)


@pytest.mark.parametrize("row", cases(TABLE, "i"))
def test_readings(row):
    """U of each reading as printed follows from the certificate's rounded a, b, u and correlation."""
    cal = _calibration()
    _, _, back = _to_intercept_and_slope(cal)
    u_a, u_b, corr = 0.00028, 0.00114, -0.1212
    rounded = np.array([[u_a**2, corr * u_a * u_b], [corr * u_a * u_b, u_b**2]])
    forth = np.linalg.inv(back)
    as_certified = replace(
        cal,
        root=np.linalg.cholesky(forth @ rounded @ forth.T),
        curve=replace(cal.curve, coefficients_pa=forth @ np.array([0.0, 9.79912])),
    )
    p = float(as_certified.pressure_pa(float(row["x_reading"]) * TENTH))
    u95 = float(expanded_pressure_pa(as_certified, p))
    # the table asks 5e-6 of p and 1e-5 of U
    assert p == pytest.approx(float(row["recomputed_p"]), abs=5e-6)
    assert u95 == pytest.approx(float(row["recomputed_U_k2"]), rel=1e-5)
    assert u95 == pytest.approx(float(row["published_U_k2"]), rel=1e-5)
    # with all digits kept, U is up to 0.13 % larger: 0.00114 stands for 0.0011438
    assert float(expanded_pressure_pa(cal, p)) == pytest.approx(u95, rel=1.4e-3)
