"""GUM H.2: resistance, reactance and impedance from correlated readings, by the law of propagation."""

from __future__ import annotations

import math

import numpy as np
import pytest

from sensorcal.measure.propagate import correlation_matrix, propagated_u
from tests.outside.table import rows

DATA = np.array([[float(r[c]) for c in ("V_volt", "I_mA", "phi_rad")] for r in rows("13_gum_h2_data.csv")])
RIGHT = {row["quantity"]: row for row in rows("13_gum_h2_results.csv")}
VOLT, MILLIAMP, PHI = DATA.mean(axis=0)
U = DATA.std(axis=0, ddof=1) / math.sqrt(len(DATA))
R = np.corrcoef(DATA.T)
CORRELATION = correlation_matrix(3, {(0, 1): R[0, 1], (0, 2): R[0, 2], (1, 2): R[1, 2]})
Z = VOLT / MILLIAMP * 1000.0
# d/dV, d/dI, d/dphi by hand
SLOPES = {
    "R": (Z * math.cos(PHI) / VOLT, -Z * math.cos(PHI) / MILLIAMP, -Z * math.sin(PHI)),
    "X": (Z * math.sin(PHI) / VOLT, -Z * math.sin(PHI) / MILLIAMP, Z * math.cos(PHI)),
    "Z": (Z / VOLT, -Z / MILLIAMP, 0.0),
}


@pytest.mark.parametrize("name", ["V", "I", "phi"])
def test_inputs(name):
    """If this fails, the comparison below starts from other inputs than the GUM's."""
    k = ("V", "I", "phi").index(name)
    assert U[k] == pytest.approx(float(RIGHT[f"u_{name}"]["approach1"]), rel=1e-4)


@pytest.mark.parametrize("name", ["R", "X", "Z"])
def test_correlated_inputs(name):
    """If this fails, correlations are left out or have the wrong sign: u(R) would be 0.195 instead of 0.071."""
    u = propagated_u(SLOPES[name], U.tolist(), CORRELATION)
    assert u == pytest.approx(float(RIGHT[f"u_{name}"]["approach1"]), rel=1e-4)  # as the data's own digits allow
    # half a printed digit, from correlations with all their digits
    assert u == pytest.approx(float(RIGHT[f"u_{name}"]["published"]), abs=6e-4)
