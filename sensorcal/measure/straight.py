"""Straight lines through a characteristic by the definitions that data sheets and standards use for linearity."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from sensorcal.errors import FitError

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

Definition = Literal["independent", "least squares", "terminal-based", "zero-based"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A straight line ``y = intercept + slope x`` and how far the characteristic leaves it.

    Parameters
    ----------
    definition : {'independent', 'least squares', 'terminal-based', 'zero-based'}
    intercept, slope : float
    max_deviation : float
        Largest distance of a point from the line, in the unit of y.
    span : float
        Largest minus smallest y: what deviations are compared with.
    """

    definition: Definition
    intercept: float
    slope: float
    max_deviation: float
    span: float

    @property
    def share_of_span(self) -> float:
        """Largest deviation as a share of the span."""
        return self.max_deviation / self.span


def straight_lines(x: ArrayLike, y: ArrayLike) -> dict[Definition, Line]:
    """Give the line of each definition through one characteristic.

    ``independent``: the line whose largest deviation is smallest (minimax), which is what ISA-51.1 calls independent
    linearity. ``least squares``: what many data sheets call best-fit straight line (BFSL). ``terminal-based``:
    through both ends. ``zero-based``: through the lower end, its largest deviation as small as it can be.

    Parameters
    ----------
    x : array, shape (n,)
        Applied value of each point, all different.
    y : array, shape (n,)
        Output there: the mean of rising and falling readings.

    Returns
    -------
    dict of str to Line

    Raises
    ------
    FitError
        Fewer than three points, or two at the same x.

    References
    ----------
    ANSI/ISA-51.1-1979 (R1993), terms under 'linearity'; IEC 61298-2:2008, conformity and linearity (both from memory).

    Examples
    --------
    >>> lines = straight_lines([0.0, 1.0, 2.0], [0.0, 1.2, 2.0])
    >>> [round(lines[d].max_deviation, 3) for d in ("independent", "least squares", "terminal-based", "zero-based")]
    [0.1, 0.133, 0.2, 0.133]
    """
    x_, y_ = np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64)
    if x_.ndim != 1 or x_.shape != y_.shape or x_.size < 3:
        raise FitError("linearity needs three points or more", do="read the sensor at zero, half-way and full scale")
    order = np.argsort(x_)
    x_, y_ = x_[order], y_[order]
    if np.any(np.diff(x_) <= 0.0):
        raise FitError("two points of the characteristic stand at the same value", do="average them first")
    slope_ls = float(((x_ - x_.mean()) * (y_ - y_.mean())).sum() / np.square(x_ - x_.mean()).sum())
    chord = float((y_[-1] - y_[0]) / (x_[-1] - x_[0]))
    slope_zero = _zero_based_slope(x_ - x_[0], y_ - y_[0])
    found: dict[Definition, Line] = {
        "independent": _minimax(x_, y_),
        "least squares": _line("least squares", float(y_.mean()) - slope_ls * float(x_.mean()), slope_ls, x_, y_),
        "terminal-based": _line("terminal-based", float(y_[0]) - chord * float(x_[0]), chord, x_, y_),
        "zero-based": _line("zero-based", float(y_[0]) - slope_zero * float(x_[0]), slope_zero, x_, y_),
    }
    return found


def _line(definition: Definition, intercept: float, slope: float, x: Floats, y: Floats) -> Line:
    worst = float(np.abs(y - intercept - slope * x).max())
    return Line(
        definition=definition, intercept=intercept, slope=slope, max_deviation=worst, span=float(np.ptp(y)) or np.inf
    )


def _minimax(x: Floats, y: Floats) -> Line:
    """Exact minimax line: the narrowest strip that holds the points lies along an edge of their convex hull."""
    slopes = np.concatenate([_hull_slopes(x, y, +1.0), _hull_slopes(x, y, -1.0)])
    rest = y - slopes[:, None] * x
    best = int(np.argmin(np.ptp(rest, axis=1)))
    slope = float(slopes[best])
    intercept = 0.5 * float(rest[best].max() + rest[best].min())
    return _line("independent", intercept, slope, x, y)


def _hull_slopes(x: Floats, y: Floats, side: float) -> Floats:
    """Slopes of the edges of the lower (+1) or upper (-1) hull of points sorted by x."""
    kept: list[int] = []
    for i in range(x.size):
        while len(kept) > 1:
            a, b = kept[-2], kept[-1]
            turn = (x[b] - x[a]) * (y[i] - y[a]) - (y[b] - y[a]) * (x[i] - x[a])
            if side * turn > 0.0:
                break
            kept.pop()
        kept.append(i)
    return np.asarray(np.diff(y[kept]) / np.diff(x[kept]), dtype=np.float64)


def _zero_based_slope(x: Floats, y: Floats) -> float:
    """Slope of the line through the origin whose largest deviation from the points is smallest.

    The largest deviation is a convex function of the slope with its least value where two deviations, of opposite
    sign, are alike: one of finitely many slopes.
    """
    x, y = x[1:], y[1:]
    i, j = np.triu_indices(x.size, k=1)
    slopes = np.concatenate([(y[i] + y[j]) / (x[i] + x[j]), y / x])
    best, at = np.inf, 0.0
    for start in range(0, slopes.size, 4096):
        part = slopes[start : start + 4096]
        worst = np.abs(y - part[:, None] * x).max(axis=1)
        k = int(np.argmin(worst))
        if worst[k] < best:
            best, at = float(worst[k]), float(part[k])
    return at


def middle_line(x: ArrayLike, y: ArrayLike) -> tuple[float, float]:
    """Line through the middle of all pairs of points, which a few wrong ones do not bend.

    Parameters
    ----------
    x, y : array, shape (n,)

    Returns
    -------
    slope, intercept : float
        Median of the slopes of all pairs that are apart in x, and the median height of the points above it.

    Raises
    ------
    FitError
        All points stand at one x.

    References
    ----------
    Theil H. (1950) and Sen P.K. (1968), J. Am. Stat. Assoc. 63, 1379 (from memory): up to 29 % of the points may be
    wrong.

    Examples
    --------
    >>> middle_line([0.0, 1.0, 2.0, 3.0, 4.0], [1.0, 3.0, 5.0, 70.0, 9.0])
    (2.0, 1.0)
    """
    along, up = np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64)
    i, j = np.triu_indices(along.size, 1)
    apart = np.abs(along[j] - along[i]) > 1e-3 * float(np.ptp(along))
    if not apart.any():
        raise FitError("all points stand at one place", do="read at two places at least")
    slope = float(np.median((up[j] - up[i])[apart] / (along[j] - along[i])[apart]))
    return slope, float(np.median(up - slope * along))
