"""GUM H.1, end gauge: effective degrees of freedom (Welch-Satterthwaite) and the Student factor that goes with them."""

from __future__ import annotations

import math

import pytest

from sensorcal.measure.interval import coverage_factor, effective_dof
from tests.outside.table import rows

RIGHT = {row["quantity"]: row for row in rows("13_gum_h1_welch_satterthwaite.csv")}
# Components in nm with their degrees of freedom, from the head of the table (verbatim from a public copy).
STANDARD, D0, D1, D2 = (25.0, 18.0), (5.8, 24.0), (3.9, 5.0), (6.7, 8.0)
EXPANSION, TEMPERATURE = (2.887, 50.0), (16.599, 2.0)


def test_difference_of_the_two_gauges():
    """U of the comparison, or its effective degrees of freedom, would be wrong."""
    u = math.sqrt(sum(v * v for v, _ in (D0, D1, D2)))
    assert u == pytest.approx(float(RIGHT["u_d"]["recomputed"]), abs=0.5e-4)  # half a printed digit
    assert effective_dof([D0, D1, D2]) == pytest.approx(float(RIGHT["nu_d"]["recomputed"]), abs=0.5e-3)
    # the published 25.6 is from components with more digits than are printed
    assert effective_dof([D0, D1, D2]) == pytest.approx(float(RIGHT["nu_d"]["published"]), abs=0.2)


def test_combined():
    """The combined u, 16 effective degrees of freedom, or U at 99 % of the published example would be missed."""
    every = [STANDARD, D0, D1, D2, EXPANSION, TEMPERATURE]
    u = math.sqrt(sum(v * v for v, _ in every))
    dof = effective_dof(every)
    assert u == pytest.approx(float(RIGHT["u_c"]["published"]), abs=0.5)
    assert dof == pytest.approx(float(RIGHT["nu_eff"]["recomputed"]), abs=0.02)  # there with the rounded parts
    assert math.floor(dof) == int(RIGHT["nu_eff"]["published"])  # the GUM truncates
    assert coverage_factor(16, 0.99) == pytest.approx(float(RIGHT["t_99_at_16"]["recomputed"]), abs=0.5e-5)
    assert coverage_factor(16, 0.99) * u == pytest.approx(
        float(RIGHT["U_99"]["published"]), abs=1.0
    )  # 92.5, from 31.66
