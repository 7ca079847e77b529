"""Straight lines by definition against linear programming, on characteristics drawn at random."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import linprog

from sensorcal.errors import FitError
from sensorcal.measure.straight import middle_line, straight_lines


def _smallest(x, y, *, through_first):
    """Least largest deviation of a line, by linear programming: another method, another library."""
    columns = (x - x[0])[:, None] if through_first else np.stack([np.ones(x.size), x], axis=1)
    target = y - y[0] if through_first else y
    ones = np.ones((x.size, 1))
    rows = np.concatenate([np.hstack([columns, -ones]), np.hstack([-columns, -ones])])
    cost = np.zeros(columns.shape[1] + 1)
    cost[-1] = 1.0
    found = linprog(cost, A_ub=rows, b_ub=np.concatenate([target, -target]), bounds=[(None, None)] * cost.size)
    return found.fun


@pytest.mark.parametrize("seed", range(12))
def test_minimax_and_zero_based(seed):
    """A line that is nearly the best would state a linearity that is nearly right."""
    rng = np.random.default_rng(seed)
    x = np.sort(rng.uniform(0.0, 10.0, 5 + seed))
    y = 0.5 + 0.4 * x + 0.05 * rng.standard_normal(x.size)
    lines = straight_lines(x, y)
    assert lines["independent"].max_deviation == pytest.approx(_smallest(x, y, through_first=False), abs=1e-9)
    assert lines["zero-based"].max_deviation == pytest.approx(_smallest(x, y, through_first=True), abs=1e-9)
    slope, intercept = np.polyfit(x, y, 1)
    assert (lines["least squares"].slope, lines["least squares"].intercept) == pytest.approx((slope, intercept))
    assert lines["independent"].max_deviation <= min(line.max_deviation for line in lines.values()) + 1e-12
    order = rng.permutation(x.size)
    assert straight_lines(x[order], y[order]) == lines


def test_too_few_points_are_refused():
    """Two points lie on every line: no linearity."""
    with pytest.raises(FitError, match="three points"):
        straight_lines([0.0, 1.0], [0.0, 1.0])
    with pytest.raises(FitError, match="same value"):
        straight_lines([0.0, 1.0, 1.0], [0.0, 1.0, 1.1])


def test_the_middle_line_is_not_bent_by_a_quarter_of_wrong_points():
    """A line that outliers bend would hide them in its own slope."""
    rng = np.random.default_rng(11)
    x = np.linspace(0.0, 1.0, 12)
    y = 3.0 + 2.0 * x + 0.01 * rng.standard_normal(12)
    y[[2, 5, 9]] = [50.0, -40.0, 30.0]
    slope, intercept = middle_line(x, y)
    assert slope == pytest.approx(2.0, abs=0.05)
    assert intercept == pytest.approx(3.0, abs=0.03)
    with pytest.raises(FitError, match="one place"):
        middle_line([1.0, 1.0], [1.0, 2.0])
