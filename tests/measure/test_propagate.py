"""Propagation with correlations: against an independent library, limits, refusals."""

from __future__ import annotations

import math

import GTC
import numpy as np
import pytest

from sensorcal.errors import InputError
from sensorcal.measure.propagate import correlation_matrix, propagated_u


def test_against_gtc():
    """A correlated combination would differ from GTC's by more than rounding."""
    u = [0.3, 0.2, 0.5]
    pairs = {(0, 1): 0.8, (0, 2): -0.2, (1, 2): 0.1}
    x = [GTC.ureal(value, u_x, independent=False) for value, u_x in zip((95.0, 48.0, 22.0), u, strict=True)]
    for (i, j), r in pairs.items():
        GTC.set_correlation(r, x[i], x[j])
    theirs = GTC.uncertainty((x[0] - x[1]) / (x[0] - x[2]))
    above, e = 73.0, 47.0 / 73.0
    ours = propagated_u([(1 - e) / above, -1 / above, e / above], u, correlation_matrix(3, pairs))
    assert ours == pytest.approx(theirs, rel=1e-10)


def test_independent_is_the_root_of_squares():
    """Without correlations the law would not reduce to the root of the sum of squares."""
    assert propagated_u([2.0, -1.0], [0.5, 1.0]) == pytest.approx(math.sqrt(2.0))
    assert propagated_u([2.0, -1.0], [0.5, 1.0], np.eye(2)) == pytest.approx(math.sqrt(2.0))


def test_refusals():
    """A correlation that cannot be, or a negative u, would give an uncertainty all the same."""
    with pytest.raises(InputError, match=r"correlation 1\.2 is outside -1 to 1"):
        correlation_matrix(2, {(0, 1): 1.2})
    with pytest.raises(InputError, match="contradict each other"):
        correlation_matrix(3, {(0, 1): 1.0, (1, 2): 1.0, (0, 2): -1.0})
    with pytest.raises(InputError, match=r"standard uncertainty -0\.1"):
        propagated_u([1.0], [-0.1])
