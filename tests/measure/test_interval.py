"""Coverage factors, effective degrees of freedom, limits of chi-squared: against tables and first principles."""

from __future__ import annotations

import math

import numpy as np
import pytest

from sensorcal.measure.interval import chance_beyond, chi_squared_limit, coverage_factor, effective_dof


@pytest.mark.parametrize(
    ("dof", "k"), [(1, 12.71), (2, 4.30), (5, 2.57), (9, 2.26), (20, 2.09), (50, 2.01), (math.inf, 1.960)]
)
def test_coverage_factor(dof, k):
    """A factor would not be that of table G.2 of the GUM (from memory), 95 %, two decimals."""
    assert coverage_factor(dof) == pytest.approx(k, abs=0.0051)


def test_infinite_is_the_limit():
    """The factor of many degrees of freedom would not run into the normal one."""
    assert coverage_factor(1e7) == pytest.approx(coverage_factor(), abs=1e-6)
    assert coverage_factor(probability=0.9545) == pytest.approx(2.0, abs=1e-4)


def test_effective_dof():
    """Welch-Satterthwaite would not keep a single term's degrees, or would give more than all terms together."""
    assert effective_dof([(0.3, 7.0)]) == pytest.approx(7.0)
    assert effective_dof([(0.3, 7.0), (0.3, 7.0)]) == pytest.approx(14.0)
    assert effective_dof([(0.3, math.inf), (0.1, math.inf)]) == math.inf
    assert effective_dof([(1.0, 4.0), (1.0, math.inf)]) == pytest.approx(16.0)


@pytest.mark.parametrize("dof", [1, 2, 4, 7])
def test_chi_squared_limit(dof):
    """Sound points would be taken for too scattered more or less often than once in a hundred."""
    draws = np.random.default_rng(3).standard_normal((200_000, dof))
    share = float(np.mean((draws**2).sum(axis=1) > chi_squared_limit(dof)))
    assert share == pytest.approx(0.01, abs=4 * math.sqrt(0.01 * 0.99 / 200_000))


def test_chance_beyond():
    """The two-sided chance beyond 1.96 would not be 5 %."""
    assert chance_beyond(coverage_factor()) == pytest.approx(0.05, abs=1e-12)
    assert chance_beyond(-1.0) == pytest.approx(0.3173, abs=5e-5)
