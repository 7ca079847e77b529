"""ILAC-G8:09/2019, table 1 (from memory): guard factors and the probability of a false accept at the guarded limit."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from sensorcal.measure.decide import GUARD_FACTORS, false_accept_probability, guard_band

SHARED = Path(__file__).parents[2] / "shared"
LINES = (SHARED / "10_ilac_g8_decision_rules.csv").read_text(encoding="utf-8").splitlines()
ROWS = list(csv.DictReader(line for line in LINES if not line.startswith("#")))
NAMES = {
    "6 sigma": "6 sigma", "3 sigma": "3 sigma", "ILAC G8:2009 rule": "ilac-g8", "ISO 14253-1:2017": "iso 14253-1",
    "simple acceptance": "simple",
}  # fmt: skip


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["rule"])
def test_false_accept(row):
    """A factor that multiplied u instead of U would give 0.159 for the main rule; half a printed digit allowed."""
    assert false_accept_probability(float(row["r"])) == pytest.approx(float(row["specific_pfa_at_AL"]), rel=6e-6)


@pytest.mark.parametrize("row", [row for row in ROWS if row["rule"] in NAMES], ids=lambda row: row["rule"])
def test_factor(row):
    """A rule under the wrong factor would guard by the wrong width."""
    assert GUARD_FACTORS[NAMES[row["rule"]]] == float(row["r"])
    assert guard_band(1.6, rule=NAMES[row["rule"]]) == pytest.approx(1.6 * float(row["r"]))


def test_accepted_probability_is_the_same_arithmetic():
    """A guard band from an accepted probability must give that probability back."""
    width = guard_band(1.6, accepted=0.01)
    assert false_accept_probability(width / 1.6) == pytest.approx(0.01, rel=1e-9)
