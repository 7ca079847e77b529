"""What no table can beat, and the best table when nothing is rounded."""

from __future__ import annotations

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

    def excess(eps: float) -> float:
        at = graph.z0
        for _ in range(lines - 1):
            at = _furthest(graph, at, eps)
            if at >= graph.z1:
                return -eps
        return _half_width(graph, at, graph.z1) - eps

    low = high = guess
    low_excess = high_excess = excess(guess)
    while low_excess <= 0:
        high, high_excess = low, low_excess
        low *= 0.8
        low_excess = excess(low)
    while high_excess > 0:
        low, low_excess = high, high_excess
        high *= 1.25
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
        z = [graph.z0]
        for _ in range(rows - 2):
            z.append(_furthest(graph, z[-1], bound))
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


def _piece_at(graph: Graph, z: float) -> tuple[int, int, int]:
    for piece in graph.pieces:
        if z < graph.z[piece[1]]:
            return piece
    return graph.pieces[-1]


def _half_width(graph: Graph, a: float, b: float) -> float:
    """Largest error of the best straight line on [a, b]."""
    piece = _piece_at(graph, a)
    if b <= graph.z[piece[1]]:
        y_a, y_b = graph.value(np.array([a, b]))
        slope = (y_b - y_a) / (b - a)
        touch = graph.where_slope(slope, piece)
        return abs(float(y_a + slope * (touch - a) - graph.value(touch))) / 2
    first = int(np.searchsorted(graph.z, a, side="right"))
    last = int(np.searchsorted(graph.z, b, side="left"))
    z = np.concatenate([[a], graph.z[first:last], [b]])
    y = np.concatenate([graph.value([a]), graph.y[first:last], graph.value([b])])
    # The width of the set y - s z is convex in s, and its derivative is the distance between its two
    # extremes: halving finds the slope at which they change sides. Seen at the ends of the cells only,
    # the width is at most the true one, as a lower bound needs it.
    slopes = np.diff(y) / np.diff(z)
    low, high = float(slopes.min()), float(slopes.max())
    best = np.inf
    for _ in range(60):
        middle = (low + high) / 2
        rest = y - middle * z
        top, bottom = int(rest.argmax()), int(rest.argmin())
        best = min(best, float(rest[top] - rest[bottom]))
        if top < bottom:
            high = middle
        else:
            low = middle
        if high - low <= 1e-13 * abs(middle):
            break
    # `best` is above the minimum by at most the last bracket times the length; take that off.
    return max(best - (high - low) * (b - a), 0.0) / 2


def _furthest(graph: Graph, a: float, eps: float) -> float:
    """Right end of the longest stretch from a that one straight line fits within eps."""
    piece = _piece_at(graph, a)
    end = float(graph.z[piece[1]])

    def excess(b: float) -> float:
        return float(np.sqrt(_half_width(graph, a, b)) - np.sqrt(eps))

    low, low_excess = a, -float(np.sqrt(eps))
    for index in [piece[1]] + [p[1] for p in graph.pieces if graph.z[p[1]] > end]:
        high = float(graph.z[index])
        high_excess = excess(high)
        if high_excess > 0:
            low, high = _root(excess, low, high, low_excess, high_excess, close=1e-12 * (graph.z1 - graph.z0))
            return high  # the further end: a bound must not be too large
        low, low_excess = high, high_excess
    return graph.z1


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
