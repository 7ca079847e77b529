"""What no table can beat, and the best table when nothing is rounded."""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Callable

import numpy as np

from sensorcal.measure.minimax_error import rows_error
from sensorcal.measure.minimax_graph import FloatArray, Graph


def lower_bound(graph: Graph, lines: int) -> float:
    """Error of the best fit by separate straight lines, which need not meet; no table can be better.

    Parameters
    ----------
    graph : Graph
        The curve.
    lines : int
        Number of straight lines: rows - 1.

    Returns
    -------
    float
        A proven lower bound of the largest error, close to the smallest that separate lines reach.

    References
    ----------
    Its size for many lines is (integral of sqrt |f''|)^2 / (16 lines^2): from memory of the published
    literature on piecewise-linear approximation, used only as the starting value.
    """
    guess = _asymptote(graph, lines)
    if guess <= 1e-12 * (graph.y[graph.first] - graph.y[graph.last]):
        return 0.0

    fit = _Fit(graph)

    def excess(eps: float) -> float:
        at = graph.z0
        for _ in range(lines - 1):
            at = fit.furthest(at, eps)
            if at >= graph.z1:
                return -math.sqrt(eps)
        # Square roots, because a half width grows as the square of a length.
        return math.sqrt(fit.half_width(at, graph.z1)) - math.sqrt(eps)

    # Far above the bound the last line has nothing left to fit, and the excess tells little: small steps.
    growth = 1.0 + 0.5 / lines
    low = high = guess
    low_excess = high_excess = excess(guess)
    while low_excess <= 0:
        high, high_excess = low, low_excess
        low /= growth
        low_excess = excess(low)
    while high_excess > 0:
        low, low_excess = high, high_excess
        high *= growth
        high_excess = excess(high)
    return _root(excess, low, high, low_excess, high_excess, close=1e-9 * guess)[0]


def unrounded_rows(
    graph: Graph, rows: int, bound: float, start: tuple[FloatArray, FloatArray] | None
) -> tuple[FloatArray, FloatArray]:
    """Rows of the best table when no column is rounded.

    With curvature of one sign the rows reach the bound: lines that each just stay in the band of half width
    `bound`, from edge to edge. Otherwise a start is improved, row by row in both directions, until no small
    change helps.

    Parameters
    ----------
    graph : Graph
        The curve.
    rows : int
        Number of rows.
    bound : float
        `lower_bound(graph, rows - 1)`.
    start : tuple of ndarray, or None
        Rows (z, y) to start from; not needed where the curvature has one sign.

    Returns
    -------
    z, y : ndarray
        The rows.
    """
    if len(graph.pieces) == 1:
        fit = _Fit(graph)
        z = [graph.z0]
        for _ in range(rows - 2):
            z.append(fit.furthest(z[-1], bound))
        z.append(graph.z1)
        places = np.unique(np.minimum(z, graph.z1))
        return places, graph.value(places) - graph.pieces[0][2] * bound
    assert start is not None
    return _improve(graph, *start)


def _asymptote(graph: Graph, lines: int) -> float:
    cells = slice(graph.first, graph.last)
    width = np.diff(graph.z)[cells]
    mean_bend = np.abs(np.diff(graph.slopes)[cells]) / width
    return float((np.sqrt(mean_bend) * width).sum() ** 2 / (16 * lines**2))


class _Fit:
    """Best single lines on stretches of a graph; plain numbers, because they come one at a time."""

    def __init__(self, graph: Graph) -> None:
        self.graph = graph
        self.z: list[float] = graph.z.tolist()
        self.c: list[tuple[float, float, float, float]] = list(zip(*graph.coefficients.tolist(), strict=True))
        self.slopes: dict[int, list[float]] = {1: graph.slopes.tolist(), -1: (-graph.slopes).tolist()}

    def value(self, z: float) -> float:
        """Value of the graph."""
        cell = min(max(bisect_right(self.z, z) - 1, 0), len(self.c) - 1)
        c0, c1, c2, c3 = self.c[cell]
        t = z - self.z[cell]
        return c0 + t * (c1 + t * (c2 + t * c3))

    def piece_at(self, z: float) -> tuple[int, int, int]:
        """Return the piece that begins at or before z and ends after it."""
        for piece in self.graph.pieces:
            if z < self.z[piece[1]]:
                return piece
        return self.graph.pieces[-1]

    def half_width(self, a: float, b: float) -> float:
        """Largest error of the best straight line on [a, b]."""
        left, right, sign = self.piece_at(a)
        if b > self.z[right]:
            return _half_width_across(self.graph, a, b)
        y_a = self.value(a)
        slope = (self.value(b) - y_a) / (b - a)
        cell = min(max(bisect_right(self.slopes[sign], sign * slope, left, right) - 1, left), right - 1)
        c0, c1, c2, c3 = self.c[cell]
        below = c2 + sign * math.sqrt(max(c2 * c2 - 3 * c3 * (c1 - slope), 0.0))
        t = (slope - c1) / below if below else 0.0
        t = min(max(t, 0.0), self.z[cell + 1] - self.z[cell])
        chord = y_a + slope * (self.z[cell] + t - a)
        return abs(chord - (c0 + t * (c1 + t * (c2 + t * c3)))) / 2

    def furthest(self, a: float, eps: float) -> float:
        """Right end of the longest stretch from a that one straight line fits within eps."""
        root = math.sqrt(eps)

        def excess(b: float) -> float:
            return math.sqrt(self.half_width(a, b)) - root

        low, low_excess = a, -root
        for _, end, _ in self.graph.pieces:
            high = self.z[end]
            if high <= a:
                continue
            high_excess = excess(high)
            if high_excess > 0:
                close = 1e-12 * (self.graph.z1 - self.graph.z0)
                # The further end of the last bracket: a bound must not be too large.
                return _root(excess, low, high, low_excess, high_excess, close=close)[1]
            low, low_excess = high, high_excess
        return self.graph.z1


def _half_width_across(graph: Graph, a: float, b: float) -> float:
    """Largest error of the best straight line on [a, b] across inflections."""
    first = int(np.searchsorted(graph.z, a, side="right"))
    last = int(np.searchsorted(graph.z, b, side="left"))
    z = np.concatenate([[a], graph.z[first:last], [b]])
    y = np.concatenate([graph.value([a]), graph.y[first:last], graph.value([b])])
    # The width of the set y - s z is convex in s, and its derivative is the distance between its two
    # extremes: halving finds the slope at which they change sides. Seen at the ends of the cells only,
    # the width is at most the true one, as a lower bound needs it.
    slopes = np.diff(y) / np.diff(z)
    low, high = float(slopes.min()), float(slopes.max())
    best = math.inf
    for _ in range(60):
        middle = (low + high) / 2
        rest = y - middle * z
        top, bottom = int(rest.argmax()), int(rest.argmin())
        best = min(best, float(rest[top] - rest[bottom]))
        if top < bottom:
            high = middle
        else:
            low = middle
        if (high - low) * (b - a) <= 1e-10 * best:
            break
    # `best` is above the minimum by at most the last bracket times the length; take that off.
    return max(best - (high - low) * (b - a), 0.0) / 2


def _root(
    function: Callable[[float], float], low: float, high: float, f_low: float, f_high: float, *, close: float
) -> tuple[float, float]:
    """Narrow a sign change to `close` by regula falsi with halved ordinates (the Illinois rule)."""
    side = 0
    w_low, w_high = f_low, f_high
    for _ in range(100):
        if high - low <= close:
            break
        middle = (low * w_high - high * w_low) / (w_high - w_low)
        # Step a little past the estimate so that both ends close in.
        middle = min(max(middle, low + 0.25 * close), high - 0.25 * close)
        f_middle = function(middle)
        if (f_middle > 0) == (f_low > 0):
            low, w_low = middle, f_middle
            if side == 1:
                w_high /= 2
            side = 1
        else:
            high, w_high = middle, f_middle
            if side == -1:
                w_low /= 2
            side = -1
    return low, high


def _improve(graph: Graph, z: FloatArray, y: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Move rows in small linear steps as long as the largest error falls."""
    from scipy.optimize import linprog

    n = z.size
    best, _ = rows_error(graph, z, y)
    best = abs(best)
    trust = 0.2
    for _ in range(40):
        matrix, right = _linear_errors(graph, z, y)
        room: FloatArray = trust * np.minimum(
            np.diff(z, prepend=z[0] - (z[1] - z[0])), np.diff(z, append=2 * z[-1] - z[-2])
        )
        room[0] = room[-1] = 0.0
        bounds = [(-r, r) for r in room] + [(None, None)] * n + [(0, None)]
        cost = np.zeros(2 * n + 1)
        cost[-1] = 1.0
        answer = linprog(cost, A_ub=matrix, b_ub=right, bounds=bounds, method="highs")
        if answer.x is None:
            break
        new_z, new_y = z + answer.x[:n], y + answer.x[n : 2 * n]
        error = abs(rows_error(graph, new_z, new_y)[0])
        if error < best and (np.diff(new_y) < 0).all():
            gain = best - error
            z, y, best = new_z, new_y, error
            if gain < 1e-7 * best:
                break
        else:
            trust *= 0.4
            if trust < 1e-5:
                break
    return z, y


def _linear_errors(graph: Graph, z: FloatArray, y: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Errors at their present extremes as linear functions of changes of z and y, for a linear program."""
    n = z.size
    slope = np.diff(y) / np.diff(z)
    rows: list[FloatArray] = []
    right: list[float] = []

    def add(row: FloatArray, now: float) -> None:
        for sign in (1.0, -1.0):
            full = np.zeros(2 * n + 1)
            full[: 2 * n] = sign * row
            full[-1] = -1.0
            rows.append(full)
            right.append(-sign * now)

    for j in range(n):
        row = np.zeros(2 * n)
        row[n + j] = 1.0
        row[j] = -float(graph.slope(z[j]))
        add(row, float(y[j] - graph.value(z[j])))
    for j in range(n - 1):
        for piece in graph.pieces:
            touch = float(graph.where_slope(slope[j], piece))
            if not z[j] < touch < z[j + 1]:
                continue
            share = (touch - z[j]) / (z[j + 1] - z[j])
            row = np.zeros(2 * n)
            row[n + j], row[n + j + 1] = 1 - share, share
            row[j], row[j + 1] = -slope[j] * (1 - share), -slope[j] * share
            add(row, float(y[j] + slope[j] * (touch - z[j]) - graph.value(touch)))
    return np.array(rows), np.array(right)
