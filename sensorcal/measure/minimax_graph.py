"""A falling smooth function as cubic cells split at its inflections: values, slopes, inverses, tangents."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
Function = Callable[[FloatArray], FloatArray]

RELATIVE_MISFIT = 1e-12
"""The cells follow the function to this part of its span (1.7e-10 of 170): far below any rounding step."""
MAX_CELLS = 12_000
NEGLIGIBLE_BEND = 1e-9
"""Curvature that moves nothing by more than this part of the span is treated as straight."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Graph:
    """A strictly falling function of z on cells, each a cubic; curvature keeps one sign within a piece.

    Attributes
    ----------
    z : ndarray, shape (n + 1,)
        Ends of the cells, rising.
    y : ndarray, shape (n + 1,)
        Values at the ends of the cells, falling.
    coefficients : ndarray, shape (4, n)
        Cubic of each cell in powers 0..3 of the distance from its left end.
    slopes : ndarray, shape (n + 1,)
        Slopes at the ends of the cells.
    first, last : int
        Cells first..last-1 make up the range in which errors count; the others lie outside it.
    pieces : tuple of (int, int, int)
        Left cell end, right cell end and sign of curvature (1 or -1) of the pieces inside the range.
    misfit : float
        Largest difference between cells and function, measured at the middles of the cells.
    """

    z: FloatArray
    y: FloatArray
    coefficients: FloatArray
    slopes: FloatArray
    first: int
    last: int
    pieces: tuple[tuple[int, int, int], ...]
    misfit: float

    @property
    def z0(self) -> float:
        """Left end of the range in which errors count."""
        return float(self.z[self.first])

    @property
    def z1(self) -> float:
        """Right end of the range in which errors count."""
        return float(self.z[self.last])

    def _cell(self, z: FloatArray) -> tuple[IntArray, FloatArray]:
        cell = np.clip(np.searchsorted(self.z, z, side="right") - 1, 0, self.z.size - 2)
        return cell, z - self.z[cell]

    def value(self, z: ArrayLike) -> FloatArray:
        """Value at z, any shape."""
        at = np.asarray(z, dtype=float)
        cell, t = self._cell(at)
        c = self.coefficients
        return np.asarray(c[0, cell] + t * (c[1, cell] + t * (c[2, cell] + t * c[3, cell])))

    def slope(self, z: ArrayLike) -> FloatArray:
        """First derivative at z, any shape."""
        at = np.asarray(z, dtype=float)
        cell, t = self._cell(at)
        c = self.coefficients
        return np.asarray(c[1, cell] + t * (2 * c[2, cell] + 3 * t * c[3, cell]))

    def inverse(self, y: ArrayLike) -> FloatArray:
        """The z at which the function has the value y; beyond the cells, the nearest end."""
        wanted = np.clip(np.asarray(y, dtype=float), self.y[-1], self.y[0])
        cell = np.clip(np.searchsorted(-self.y, -wanted, side="right") - 1, 0, self.z.size - 2)
        c0, c1, c2, c3 = self.coefficients[:, cell]
        width = self.z[cell + 1] - self.z[cell]
        t = width * (self.y[cell] - wanted) / (self.y[cell] - self.y[cell + 1])
        for _ in range(5):
            excess = c0 + t * (c1 + t * (c2 + t * c3)) - wanted
            t = np.clip(t - excess / (c1 + t * (2 * c2 + 3 * t * c3)), 0.0, width)
        return np.asarray(self.z[cell] + t)

    def where_slope(self, slope: ArrayLike, piece: tuple[int, int, int]) -> FloatArray:
        """The z in one piece at which the slope has the given value; beyond the piece, its nearer end."""
        left, right, sign = piece
        wanted = np.asarray(slope, dtype=float)
        knots = sign * self.slopes[left : right + 1]
        cell = np.clip(np.searchsorted(knots, sign * wanted, side="right") - 1, 0, right - left - 1) + left
        _, c1, c2, c3 = self.coefficients[:, cell]
        width = self.z[cell + 1] - self.z[cell]
        # The stable root of 3 c3 t^2 + 2 c2 t + (c1 - slope) = 0: it stays finite when c3 vanishes.
        root = np.sqrt(np.maximum(c2 * c2 - 3 * c3 * (c1 - wanted), 0.0))
        below = c2 + sign * root
        with np.errstate(divide="ignore", invalid="ignore"):
            t = np.where(below == 0.0, 0.0, (wanted - c1) / below)
        return np.asarray(self.z[cell] + np.clip(t, 0.0, width))

    def tangents(self, z: FloatArray, y: FloatArray, piece: tuple[int, int, int]) -> tuple[FloatArray, FloatArray]:
        """Tangents from points to one piece of the graph, to the right of the points.

        The points lie on the inner side: below a piece that is curved upwards, above one that is curved
        downwards, or left of it.

        Parameters
        ----------
        z, y : ndarray, shape (n,)
            The points.
        piece : tuple of int
            One of `pieces`.

        Returns
        -------
        touch, slope : ndarray, shape (n,)
            Where the tangent touches and its slope; nan where there is none in this piece.
        """
        left, right, sign = piece
        slopes = self.slopes[left : right + 1]
        start = np.clip(np.searchsorted(self.z, z, side="right") - 1, left, right)
        end = np.full(z.shape, right)
        # The overshoot q = slope * distance - rise is monotone on a piece (its derivative is
        # curvature * distance), so that the touching cell is found by halving.
        last_q = sign * (slopes[-1] * (self.z[right] - z) - (self.y[right] - y))
        first_q = sign * (slopes[0] * (self.z[left] - z) - (self.y[left] - y))
        # A tie at the left end belongs to a touch of the piece before; only a strict sign change counts.
        none = (last_q <= 0) | ((z < self.z[left]) & (first_q >= 0)) | (z >= self.z[right])
        low = np.minimum(start, right - 1)
        for _ in range(int(right - left).bit_length()):
            middle = (low + end) // 2
            q = sign * (slopes[middle - left] * (self.z[middle] - z) - (self.y[middle] - y))
            up = (q > 0) & (middle > low)
            end = np.where(up, middle, end)
            low = np.where(up, low, middle)
        c0, c1, c2, c3 = self.coefficients[:, low]
        base = self.z[low]
        width = self.z[low + 1] - base
        t_low = np.clip(z - base, 0.0, width)
        t_high = width.copy()
        t = 0.5 * (t_low + t_high)
        for _ in range(6):
            bend = 2 * c2 + 6 * t * c3
            steep = c1 + t * (2 * c2 + 3 * t * c3)
            away = base + t - z
            q = steep * away - (c0 + t * (c1 + t * (c2 + t * c3)) - y)
            over = sign * q > 0
            t_high = np.where(over, t, t_high)
            t_low = np.where(over, t_low, t)
            with np.errstate(divide="ignore", invalid="ignore"):
                step = t - q / (bend * away)
            inside = (step > t_low) & (step < t_high)
            t = np.where(inside, step, 0.5 * (t_low + t_high))
        touch = base + t
        away = touch - z
        near = away <= 1e-7 * width
        with np.errstate(divide="ignore", invalid="ignore"):
            chord = (c0 + t * (c1 + t * (c2 + t * c3)) - y) / away
        slope = np.where(near, c1 + t * (2 * c2 + 3 * t * c3), chord)
        return np.where(none, np.nan, touch), np.where(none, np.nan, slope)


def graph_of(function: Function, z0: float, z1: float, *, z_low: float, z_high: float) -> Graph:
    """Cells that follow a strictly falling smooth function on [z_low, z_high], refined where they must be.

    Parameters
    ----------
    function : callable
        Vectorised, strictly falling.
    z0, z1 : float
        The range in which errors count, z_low <= z0 < z1 <= z_high.
    z_low, z_high : float
        The range in which rows may lie.

    Returns
    -------
    Graph

    Raises
    ------
    ValueError
        If the function does not fall everywhere, or is not finite.
    """
    from scipy.interpolate import CubicSpline

    knots = np.linspace(z_low, z_high, 65)
    values = np.asarray(function(knots), dtype=float)
    for size in (129, 1025):  # as dense where the function is steep as where it is flat
        _check_falling(values)
        along = (knots - knots[0]) / (knots[-1] - knots[0]) + (values[0] - values) / (values[0] - values[-1])
        knots = np.interp(np.linspace(0.0, 2.0, size), along, knots)
        knots[0], knots[-1] = z_low, z_high
        for end in (z0, z1):
            knots = _with_knot(knots, end)
        values = np.asarray(function(knots), dtype=float)
    span = float(values[0] - values[-1])
    for remaining in range(13, -1, -1):
        _check_falling(values)
        spline = CubicSpline(knots, values)
        middles = 0.5 * (knots[:-1] + knots[1:])
        true = np.asarray(function(middles), dtype=float)
        wrong = np.abs(spline(middles) - true)
        split = wrong > RELATIVE_MISFIT * span
        if not split.any() or not remaining or knots.size + int(split.sum()) > MAX_CELLS:
            break
        # A cell much wider than its neighbour spoils a spline: neighbours are split along with it.
        split[1:] |= split[:-1]
        split[:-1] |= split[1:]
        order = np.argsort(np.concatenate([knots, middles[split]]), kind="stable")
        knots = np.concatenate([knots, middles[split]])[order]
        values = np.concatenate([values, true[split]])[order]
    misfit = float(wrong.max())
    cubic = np.ascontiguousarray(spline.c[::-1])
    bends = _sign_changes(knots, cubic)
    knots, cubic = _split_cells(knots, cubic, bends)
    ends = np.append(cubic[0], values[-1])
    width = knots[-1] - knots[-2]
    last_slope = cubic[1, -1] + width * (2 * cubic[2, -1] + 3 * width * cubic[3, -1])
    first = int(np.argmin(np.abs(knots - z0)))
    last = int(np.argmin(np.abs(knots - z1)))
    return Graph(
        z=_read_only(knots),
        y=_read_only(ends),
        coefficients=_read_only(cubic),
        slopes=_read_only(np.append(cubic[1], last_slope)),
        first=first,
        last=last,
        pieces=_pieces(knots, cubic, first, last, span=float(ends[first] - ends[last])),
        misfit=misfit,
    )


def _with_knot(knots: FloatArray, at: float) -> FloatArray:
    """Put a knot at a place: the nearest one moves there, but an outermost one stays and gets a neighbour."""
    nearest = int(np.argmin(np.abs(knots - at)))
    # Rows may stand on the outermost knots, however little they lie beyond the range; nearer than this is rounding.
    apart = abs(float(knots[nearest]) - at) > 1e-9 * float(knots[-1] - knots[0])
    if apart and nearest in {0, knots.size - 1}:
        return np.sort(np.append(knots, at))
    knots[nearest] = at
    return knots


def _check_falling(values: FloatArray) -> None:
    if not np.isfinite(values).all():
        raise ValueError("the function is not finite everywhere on the range")
    if not (np.diff(values) < 0).all():
        raise ValueError("the function does not fall everywhere on the range")


def _read_only(array: FloatArray) -> FloatArray:
    copy = np.array(array, dtype=float)
    copy.flags.writeable = False
    return copy


def _sign_changes(knots: FloatArray, cubic: FloatArray) -> FloatArray:
    """Return where the second derivative crosses zero inside a cell."""
    width = np.diff(knots)
    left = 2 * cubic[2]
    right = left + 6 * cubic[3] * width
    crossing = (left * right < 0) & (np.abs(cubic[3]) > 0)
    t = -cubic[2, crossing] / (3 * cubic[3, crossing])
    inside = (t > 1e-6 * width[crossing]) & (t < (1 - 1e-6) * width[crossing])
    return np.asarray((knots[:-1][crossing] + t)[inside])


def _split_cells(knots: FloatArray, cubic: FloatArray, at: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Split cells at the given places; the cubics stay the same curves."""
    if at.size == 0:
        return knots, cubic
    cell = np.searchsorted(knots, at, side="right") - 1
    t = at - knots[cell]
    c0, c1, c2, c3 = cubic[:, cell]
    moved = np.array([c0 + t * (c1 + t * (c2 + t * c3)), c1 + t * (2 * c2 + 3 * t * c3), c2 + 3 * t * c3, c3])
    order = np.argsort(np.concatenate([knots[:-1], at]), kind="stable")
    both = np.concatenate([cubic, moved], axis=1)[:, order]
    return np.append(np.concatenate([knots[:-1], at])[order], knots[-1]), np.ascontiguousarray(both)


def _pieces(
    knots: FloatArray, cubic: FloatArray, first: int, last: int, *, span: float
) -> tuple[tuple[int, int, int], ...]:
    """Runs of cells of one sign of curvature; runs too straight to matter join their neighbour."""
    width = np.diff(knots)[first:last]
    turn = 2 * cubic[2, first:last] * width + 3 * cubic[3, first:last] * width**2
    sign = np.where(turn >= 0, 1, -1)
    starts = np.concatenate([[0], np.flatnonzero(np.diff(sign)) + 1, [sign.size]])
    runs = [
        [int(a), int(b), int(sign[a]), abs(float(turn[a:b].sum())) * float(width[a:b].sum())]
        for a, b in pairwise(starts)
    ]
    while len(runs) > 1:
        weakest = min(range(len(runs)), key=lambda k: runs[k][3])
        if runs[weakest][3] > NEGLIGIBLE_BEND * span:
            break
        run = runs.pop(weakest)
        into = min(weakest, len(runs) - 1) if weakest == 0 else weakest - 1
        runs[into][0] = min(runs[into][0], run[0])
        runs[into][1] = max(runs[into][1], run[1])
        # Two neighbours that now meet with one sign become one run.
        merged: list[list[float]] = []
        for piece in runs:
            if merged and merged[-1][2] == piece[2]:
                merged[-1][1] = piece[1]
                merged[-1][3] += piece[3]
            else:
                merged.append(piece)
        runs = merged
    return tuple((first + int(a), first + int(b), int(s)) for a, b, s, _ in runs)
