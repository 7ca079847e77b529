"""JCGM 101:2008, clauses 9.2 and 9.3: the Monte Carlo engine against exact and published values."""

from __future__ import annotations

import math

import pytest

from sensorcal.measure.inputs import Input, limits
from sensorcal.measure.montecarlo import compare, first_order, monte_carlo
from tests.outside.table import cases, rows

DRAWS = 1_000_000
# Four standard errors of an end point with 1e6 draws, as the table's head gives them; 9.2.2 has a longer tail.
ENDS = {"9.2.2": 0.02, "9.2.3": 0.012, "9.2.4": 0.04}


def _additive(clause: str) -> list[Input]:
    if clause == "9.2.2":
        return [Input(name=f"X{i}", value=0.0, u=1.0) for i in range(4)]
    last = 10.0 if clause == "9.2.4" else 1.0
    return [limits(f"X{i}", 0.0, half_width=u * math.sqrt(3.0)) for i, u in enumerate((1.0, 1.0, 1.0, last))]


@pytest.mark.parametrize("row", cases("13_jcgm101_additive.csv", "clause"))
def test_additive_model(row):
    """A wrong distribution or a wrong shortest interval would move the ends of these exactly known sums."""
    inputs = _additive(row["clause"])
    linear = first_order(lambda a, b, c, d: a + b + c + d, inputs)
    drawn = monte_carlo(lambda a, b, c, d: a + b + c + d, inputs, draws=DRAWS, seed=20_260_502)
    assert linear.u == pytest.approx(float(row["u_y"]), abs=5e-5)
    assert linear.high == pytest.approx(float(row["guf_95_exact"]), abs=1e-4)
    # the shortest interval of a symmetric sum wanders; half its width does not
    assert drawn.half_width == pytest.approx(float(row["exact_95"]), abs=ENDS[row["clause"]])
    assert drawn.u == pytest.approx(float(row["u_y"]), rel=2e-3)


def _mass(m_rc, dm_rc, rho_a, rho_w, rho_r):
    return (m_rc + dm_rc) * (1.0 + (rho_a - 1.2) * (1.0 / rho_w - 1.0 / rho_r)) - 100_000.0


MASS = [
    Input(name="m_Rc", value=100_000.0, u=0.050),
    Input(name="dm_Rc", value=1.234, u=0.020),
    limits("rho_a", 1.20, half_width=0.10),
    limits("rho_W", 8000.0, half_width=1000.0),
    limits("rho_R", 8000.0, half_width=50.0),
]


def _published() -> dict[str, dict[str, str]]:
    return {row["method"]: row for row in rows("13_jcgm101_mass_calibration.csv")}


def test_mass_calibration_by_the_first_order_law():
    """The first-order law must give its known, too small, answer: else the comparison below proves nothing."""
    wanted = _published()["GUF1"]
    found = first_order(_mass, MASS)
    assert found.value == pytest.approx(float(wanted["estimate"]), abs=5e-5)
    assert found.u == pytest.approx(float(wanted["u"]), abs=5e-5)
    assert found.low == pytest.approx(float(wanted["low_published"]), abs=1e-4)
    assert found.high == pytest.approx(float(wanted["high_published"]), abs=1e-4)


def test_mass_calibration_by_monte_carlo():
    """An engine that samples wrongly would miss u or the width of this lopsided case; tolerances as the head states."""
    wanted = _published()["MCM"]
    found = monte_carlo(_mass, MASS, draws=DRAWS, seed=20_260_502)
    assert found.value == pytest.approx(float(wanted["estimate"]), abs=0.0003)
    assert found.u == pytest.approx(float(wanted["u"]), abs=0.0003)
    width = float(wanted["high"]) - float(wanted["low"])
    assert found.high - found.low == pytest.approx(width, abs=0.0005 + 4e-4)  # 1e6 draws: width good to 1e-4 a sigma
    assert found.low == pytest.approx(float(wanted["low"]), abs=0.002)
    assert found.high == pytest.approx(float(wanted["high"]), abs=0.002)


def test_disagreement_is_said():
    """A user who is not told that the first-order law fails here would state u a third too small."""
    found = compare(_mass, MASS, seed=1)
    assert not found.agree
    assert "0.0539" in found.sentence
    assert "bends" in found.sentence
    assert not compare(lambda a, b, c, d: a + b + c + d, _additive("9.2.4"), seed=1).agree
    assert compare(lambda a, b, c, d: a + b + c + d, _additive("9.2.2"), seed=1).agree
