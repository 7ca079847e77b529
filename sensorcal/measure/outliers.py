"""Which observation of a fit does not belong, how far it is off, and what could never be seen."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

_DIRECTIONS = 8_000
_GROUPS = 200
_ONE_SIDED_90 = 1.2816  # normal quantile for 90 % power


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OutlierTest:
    """Test of each observation against all the others.

    Parameters
    ----------
    statistic : array, shape (n,)
        Normalised: standard normal where the observation is sound. Zero where the fit cannot test it.
    size : array, shape (n,)
        Best estimate of how far the observation is off (observed minus true), in its own unit.
    u_size : array, shape (n,)
        Standard uncertainty of that; infinite where the fit cannot test it.
    limit : float
        The largest |statistic| of all exceeds it by chance with the stated false-alarm probability.
    """

    statistic: Floats
    size: Floats
    u_size: Floats
    limit: float

    @property
    def detectable(self) -> Floats:
        """Smallest error of each observation that is found nine times in ten, in its unit; infinite if none is."""
        return (self.limit + _ONE_SIDED_90) * self.u_size


def outlier_test(
    design: Floats, residual: Floats, variance: Floats, *, testable: int | None = None, false_alarm: float = 0.01
) -> OutlierTest:
    """Test every observation of a generalised least-squares fit for a gross error.

    Parameters
    ----------
    design : array, shape (n, p)
    residual : array, shape (n,)
        Observed minus fitted.
    variance : array, shape (n, n)
        Covariance of the observations, shared errors included.
    testable : int, optional
        Only the first so many observations can be wrong; the others are prior knowledge.
    false_alarm : float
        Probability that sound data exceed the limit anywhere.

    References
    ----------
    Baarda W. (1968), A testing procedure for use in geodetic networks, Netherlands Geodetic Commission,
    Publications on Geodesy 2 (5); the form with correlated observations.
    """
    n = residual.size
    k = n if testable is None else testable
    weighted_design = np.linalg.solve(variance, design)
    normal = design.T @ weighted_design
    weight = np.linalg.solve(variance, np.eye(n))
    # Covariance of V⁻¹ r; its diagonal is the redundancy each observation has.
    spread = weight - weighted_design @ np.linalg.solve(normal, weighted_design.T)
    spread = 0.5 * (spread + spread.T)
    pulled = weight @ residual
    redundancy = np.clip(np.diag(spread)[:k], 0.0, None)
    seen = redundancy > 1e-9 * np.diag(weight)[:k]
    root = np.sqrt(np.where(seen, redundancy, 1.0))
    statistic = np.where(seen, pulled[:k] / root, 0.0)
    size = np.where(seen, pulled[:k] / root**2, 0.0)
    u_size = np.where(seen, 1.0 / root, np.inf)
    kept = np.flatnonzero(seen)
    if kept.size == 0:
        return OutlierTest(statistic=statistic, size=size, u_size=u_size, limit=float("inf"))
    block = spread[np.ix_(kept, kept)]
    scale = np.sqrt(np.diag(block))
    correlation = block / np.outer(scale, scale)
    limit = _largest_limit(correlation, false_alarm)
    return OutlierTest(statistic=statistic, size=size, u_size=u_size, limit=limit)


def _largest_limit(correlation: Floats, false_alarm: float) -> float:
    """Value that the largest of some correlated |normal| variables exceeds with probability `false_alarm`.

    The variables lie in a space of few dimensions d (the redundancy of the fit), so Bonferroni's bound would give
    power away. There they are the length of a normal vector, whose chance is known exactly, times the largest of
    their projections on its direction: only directions have to be drawn, and a few thousand fixed ones are enough.
    """
    from scipy.special import chdtrc, chdtri

    values, vectors = np.linalg.eigh(correlation)
    kept = values > 1e-6
    root = vectors[:, kept] * np.sqrt(values[kept])
    d = int(kept.sum())
    reach2 = np.square(root @ _directions(d)).max(axis=0)
    if reach2.size > _GROUPS:  # the chance is smooth in it: neighbours may stand together
        reach2 = np.sort(reach2).reshape(_GROUPS, -1).mean(axis=1)
    low, high = math.sqrt(chdtri(1.0, false_alarm)), math.sqrt(chdtri(float(d), false_alarm))
    for _ in range(40):
        limit = 0.5 * (low + high)
        if float(chdtrc(float(d), limit * limit / reach2).mean()) > false_alarm:
            low = limit
        else:
            high = limit
        if high - low < 1e-4:
            break
    return 0.5 * (low + high)


@lru_cache(maxsize=32)
def _directions(d: int) -> Floats:
    """Fixed unit vectors spread evenly over all directions of d dimensions, shape (d, count)."""
    if d == 1:
        return np.ones((1, 1))
    if d == 2:
        angle = np.pi * (np.arange(_DIRECTIONS) + 0.5) / _DIRECTIONS  # half a turn: the far half is alike
        return np.stack([np.cos(angle), np.sin(angle)])
    vectors = np.random.default_rng(20_260_502).standard_normal((d, _DIRECTIONS))
    return np.asarray(vectors / np.linalg.norm(vectors, axis=0), dtype=np.float64)
