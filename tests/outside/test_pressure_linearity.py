"""Linearity by definition, on two characteristics whose lines were found by two other methods each."""

from __future__ import annotations

import pytest

from sensorcal.measure.straight import straight_lines
from tests.outside.table import cases, rows

NAMES = {
    "least_squares": "least squares",
    "independent_minimax": "independent",
    "terminal_based": "terminal-based",
    "zero_based": "zero-based",
}


@pytest.mark.parametrize("row", cases("07_linearity_definitions_example.csv", "definition"))
def test_two_point_sensor(row):
    """A 'BFSL' taken for the minimax line, or the reverse, would state linearity wrong by 40 % (trap 8)."""
    points = rows("07_pressure_sensor_two_point_example.csv")
    lines = straight_lines([float(p["p_applied"]) for p in points], [float(p["x_reading"]) for p in points])
    _check(lines[NAMES[row["definition"]]], row, row["intercept"], row["slope"], row["max_deviation"])


@pytest.mark.parametrize("row", cases("07_pressure_series_linearity.csv", "definition"))
def test_six_series(row):
    """The characteristic is the mean of rising and falling readings: either alone would shift the lines."""
    points = rows("07_pressure_series_data.csv")
    mean = [sum(float(p[f"M{i}"]) for i in range(1, 7)) / 6.0 for p in points]
    lines = straight_lines([float(p["p_kPa"]) for p in points], mean)
    _check(lines[NAMES[row["definition"]]], row, row["intercept_V"], row["slope_V_per_kPa"], row["max_deviation_V"])


def _check(line, row, intercept, slope, deviation):
    assert line.intercept == pytest.approx(float(intercept), abs=1e-6 * line.span)
    assert line.slope == pytest.approx(float(slope), abs=5e-10)
    assert line.max_deviation == pytest.approx(float(deviation), abs=1e-6 * line.span)
    assert 100.0 * line.share_of_span == pytest.approx(float(row["pct_of_span"]), abs=0.5e-4)
