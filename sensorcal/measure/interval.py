"""Coverage factors, effective degrees of freedom and the limit of a chi-squared test."""

from __future__ import annotations

import math
from functools import lru_cache

COVERAGE = 0.95
"""Probability of every expanded uncertainty in sensorcal: 19 times in 20."""


@lru_cache(maxsize=256)
def coverage_factor(dof: float = math.inf, probability: float = COVERAGE) -> float:
    """Return k with U = k u, from the normal distribution, or from Student's t for a finite number of dof.

    References
    ----------
    JCGM 100:2008 (GUM), G.3 and Table G.2.

    Examples
    --------
    >>> round(coverage_factor(), 3), round(coverage_factor(9), 2)
    (1.96, 2.26)
    """
    from scipy.special import ndtri, stdtrit

    tail = 0.5 + 0.5 * probability
    return float(ndtri(tail)) if math.isinf(dof) else float(stdtrit(max(dof, 1.0), tail))


def effective_dof(contributions: list[tuple[float, float]]) -> float:
    """Degrees of freedom of a combined uncertainty (Welch-Satterthwaite).

    Parameters
    ----------
    contributions : list of (u, dof)
        Independent contributions to the combined standard uncertainty, all in its unit.

    References
    ----------
    JCGM 100:2008 (GUM), equation G.2b.

    Examples
    --------
    >>> effective_dof([(3.0, 5.0), (4.0, float("inf"))]) == 5.0**4 / (3.0**4 / 5.0)
    True
    """
    total = sum(u * u for u, _ in contributions)
    below = sum(u**4 / dof for u, dof in contributions if not math.isinf(dof))
    return math.inf if below == 0.0 else total * total / below


@lru_cache(maxsize=256)
def chi_squared_limit(dof: int, false_alarm: float = 0.01) -> float:
    """Value that a chi-squared variable of `dof` degrees exceeds with probability `false_alarm`."""
    from scipy.special import chdtri

    return float(chdtri(dof, false_alarm))


@lru_cache(maxsize=256)
def chance_beyond(z: float) -> float:
    """Two-sided probability of a normal variable beyond ±z."""
    return math.erfc(abs(z) / math.sqrt(2.0))
