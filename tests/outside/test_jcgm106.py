"""JCGM 106:2012: conformance probabilities and risks. Inputs from memory of the guide, outputs recomputed."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from sensorcal.measure.decide import conformance_probability, global_risks, statement

SHARED = Path(__file__).parents[2] / "shared"


def _rows(name: str) -> list[dict[str, str]]:
    lines = (SHARED / name).read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


ROWS = _rows("10_jcgm106_examples.csv")
CASES = _rows("10_conformance_cases.csv")


@pytest.mark.parametrize(
    ("row", "given"),
    [(ROWS[0], {"value": -5.47, "u": 0.05, "upper": -5.40}), (ROWS[1], {"value": 509.7, "u": 8.6, "lower": 490.0})],
    ids=["diode", "bursting strength"],
)
def test_one_limit(row, given):
    """A tail on the wrong side of its limit would turn 0.919 into 0.081; half a printed digit allowed."""
    assert conformance_probability(**given) == pytest.approx(float(row["recomputed"]), abs=5e-7)


@pytest.mark.parametrize("row", ROWS[2:], ids=lambda row: f"{row['example']} {row['quantity']}")
def test_global_risk(row):
    """Consumer's and producer's risk exchanged or wrongly integrated would miss the quadrature's six decimals."""
    inputs = row["inputs"]
    edge = 0.12 if "0.12 (" in inputs or inputs.endswith("+-0.12") else 0.17 if "0.17" in inputs else 0.2
    if row["example"].endswith("guarded"):
        edge = 0.17 if "0.17" in inputs else 0.12
    risks = global_risks(
        mean=0.0, spread=0.12, u=0.04, lower=-0.2, upper=0.2, accept_lower=-edge, accept_upper=edge
    )  # fmt: skip
    found = {"prior conformance": risks.conforming, "R_C": risks.false_accept, "R_P": risks.false_reject}
    assert found[row["quantity"]] == pytest.approx(float(row["recomputed"]), abs=6e-7)


@pytest.mark.parametrize("row", CASES, ids=lambda row: row["case"])
def test_conformance_case(row):
    """A limit left out, or U mistaken for u, would change probability or statement; half a printed digit allowed."""
    lower = float(row["TL"]) if row["TL"] else None
    upper = float(row["TU"]) if row["TU"] else None
    value, u = float(row["value"]), float(row["u"])
    found = conformance_probability(value, u, lower=lower, upper=upper)
    assert found == pytest.approx(float(row["p_conform"]), abs=6e-9)
    assert statement(value, 2.0 * u, lower=lower, upper=upper) == row["nonbinary_w_U"]
    simple = statement(value, 0.0, lower=lower, upper=upper)
    assert ("accept" if simple == "pass" else "reject") == row["simple_acceptance"]
