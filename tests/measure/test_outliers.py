"""The test of each observation: its false alarms, its size, and what it says it cannot see."""

from __future__ import annotations

import math

import numpy as np
import pytest

from sensorcal.measure.interval import coverage_factor
from sensorcal.measure.outliers import _largest_limit, outlier_test


def _line(n=6):
    x = np.linspace(-1.0, 1.0, n)
    return np.stack([np.ones(n), x], axis=1)


def _fit(design, observed, variance):
    weight = np.linalg.inv(variance)
    p = np.linalg.solve(design.T @ weight @ design, design.T @ weight @ observed)
    return observed - design @ p


@pytest.mark.parametrize(("n", "d"), [(1, 1), (4, 1), (2, 2), (5, 2), (6, 3), (6, 4), (8, 6)])
def test_limit(n, d):
    """Sound observations would exceed the limit more or less often than once in a hundred, in d free dimensions."""
    rng = np.random.default_rng(n * 10 + d)
    a = rng.standard_normal((n, d))
    a /= np.linalg.norm(a, axis=1)[:, None]
    limit = _largest_limit(a @ a.T, 0.01)
    draws = 200_000
    share = float(np.mean(np.abs(rng.standard_normal((draws, d)) @ a.T).max(axis=1) > limit))
    # four standard errors of the drawing, and 4 % of the fixed directions
    assert share == pytest.approx(0.01, abs=4 * math.sqrt(0.01 * 0.99 / draws) + 4e-4)


def test_limit_lies_between_one_and_bonferroni():
    """Observations that move together would be tested as if each were a new chance of a false alarm."""
    assert _largest_limit(np.ones((5, 5)), 0.01) == pytest.approx(coverage_factor(probability=0.99), abs=2e-4)
    independent = coverage_factor(probability=0.99 ** (1 / 5))
    assert _largest_limit(np.eye(5), 0.01) == pytest.approx(independent, abs=0.01)


def test_false_alarms_of_a_line_with_shared_errors():
    """A line with shared errors would raise an alarm other than once in a hundred."""
    rng = np.random.default_rng(8)
    design = _line()
    common = np.array([[0.3, 0.3, 0.3, 0.3, 0.3, 0.3], [0.0, 0.1, 0.2, 0.3, 0.2, 0.1]])
    variance = np.diag(np.linspace(0.1, 0.2, 6) ** 2) + common.T @ common
    root = np.linalg.cholesky(variance)
    alarms, runs = 0, 5000
    for _ in range(runs):
        test = outlier_test(design, _fit(design, root @ rng.standard_normal(6), variance), variance)
        alarms += bool(np.any(np.abs(test.statistic) > test.limit))
    assert alarms / runs == pytest.approx(0.01, abs=4 * math.sqrt(0.01 * 0.99 / runs))


def test_size_and_row():
    """An error of 1.0 put into one observation would be found elsewhere, or with another size."""
    design, variance = _line(), np.diag(np.full(6, 0.15**2))
    for i in range(6):
        observed = np.zeros(6)
        observed[i] = 1.0
        test = outlier_test(design, _fit(design, observed, variance), variance)
        assert int(np.argmax(np.abs(test.statistic))) == i
        assert test.size[i] == pytest.approx(1.0)
        assert test.statistic[i] == pytest.approx(1.0 / test.u_size[i])


def test_detectable_is_found_nine_times_in_ten():
    """The smallest error said to be found nine times in ten would be found more or less often."""
    rng = np.random.default_rng(9)
    design, variance = _line(), np.diag(np.full(6, 0.15**2))
    least = outlier_test(design, np.zeros(6), variance).detectable
    for i in (0, 3):
        found, runs = 0, 2000
        for _ in range(runs):
            observed = 0.15 * rng.standard_normal(6)
            observed[i] += least[i]
            test = outlier_test(design, _fit(design, observed, variance), variance)
            found += bool(np.any(np.abs(test.statistic) > test.limit))
        assert found / runs == pytest.approx(0.90, abs=0.025)  # other rows add up to 1 % to the row's own 90 %


def test_nothing_to_spare():
    """Two points for a line would seem to be tested."""
    test = outlier_test(_line(2), np.zeros(2), np.eye(2))
    assert test.limit == math.inf
    assert np.all(np.isinf(test.u_size))
    assert np.all(np.isinf(test.detectable))
    assert np.all(test.statistic == 0.0)


def test_a_point_that_nothing_checks():
    """A point with a coefficient of its own would be cleared, where no other point speaks of it."""
    design = np.array([[1.0, 0.0], [1.0, 0.0], [1.0, 0.0], [1.0, 1.0]])
    test = outlier_test(design, _fit(design, np.array([0.1, -0.1, 0.0, 50.0]), np.eye(4)), np.eye(4))
    assert np.isinf(test.u_size[3])
    assert test.statistic[3] == 0.0
    assert np.all(np.isfinite(test.u_size[:3]))


def test_prior_rows_are_not_accused():
    """A row of prior knowledge would be listed among the readings that may be wrong."""
    design = np.vstack([_line(3), [[0.0, 1.0]]])
    test = outlier_test(design, np.zeros(4), np.eye(4), testable=3)
    assert test.statistic.shape == (3,)
