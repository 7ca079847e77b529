"""Use the freedom that the worst error leaves: better lines elsewhere, and the right side near a fixed row."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from sensorcal.measure.minimax import BestRows, Target
from sensorcal.measure.minimax_error import line_error, rows_error
from sensorcal.measure.minimax_graph import FloatArray, Graph

Cost = Callable[[FloatArray, FloatArray], FloatArray]
SLACK = 1e-12
MOST_CANDIDATES = 4000


def polished(
    curve: Target,
    best: BestRows,
    *,
    x_step: float,
    y_step: float,
    forced: Sequence[tuple[float, float]] = (),
    near: float = 5.0,
) -> BestRows:
    """Move rows within the worst error so that the other lines come closer to the curve.

    First the neighbours of each fixed row move so that within `near` of it the table is as little below the
    curve as it can be; then all other rows move to make the larger error of their two lines smaller.
    The worst error never grows.

    Parameters
    ----------
    curve : Target
    best : BestRows
        From `best_on_grid`.
    x_step, y_step : float
        The grid.
    forced : sequence of (x, y)
        Fixed rows.
    near : float
        Reach of the care around a fixed row, in y.

    Returns
    -------
    BestRows
    """
    graph = curve.graph
    x, y = np.array(best.x), curve.turned(best.y).copy()
    z = curve.z(x)
    limit = abs(rows_error(graph, z, y)[0])
    fixed = np.zeros(x.size, dtype=bool)
    for x_fixed, _ in forced:
        fixed |= np.abs(x - x_fixed) < 0.5 * x_step
    settled = fixed.copy()
    settled[0] = settled[-1] = True
    for j in np.flatnonzero(fixed):
        for n in (j - 1, j + 1):
            if 0 <= n < x.size and not fixed[n]:

                def low_side(at: FloatArray, to: FloatArray, j: int = int(j)) -> FloatArray:
                    return _short_fall(curve, float(z[j]), float(y[j]), at, to, near)

                if _move(curve, z, y, int(n), x_step, y_step, limit, low_side):
                    settled[n] = True
                if (low_side(z[n : n + 1], y[n : n + 1]) > SLACK).any():
                    settled[n] = True
    for _ in range(3):
        moved = [_move(curve, z, y, int(j), x_step, y_step, limit, None) for j in np.flatnonzero(~settled)]
        if not any(moved):
            break
    error, where = rows_error(graph, z, y)
    return BestRows(
        x=np.round(curve.x(z) / x_step) * x_step,
        y=curve.turned(y),
        worst_error=float(curve.turned(error)),
        worst_x=float(curve.x(where)),
        proven=min(best.proven, abs(error)),
        bound=best.bound,
    )


def _short_fall(curve: Target, z_fixed: float, y_fixed: float, z: FloatArray, y: FloatArray, near: float) -> FloatArray:
    """How far lines from a fixed row to candidates lie below the curve within `near` of the fixed row."""
    graph = curve.graph
    edge = graph.inverse(y_fixed + (near if z[0] < z_fixed else -near))
    share = np.linspace(0.0, 1.0, 33)[None, :]
    ends = np.clip(np.broadcast_to(edge, z.shape), np.minimum(z, z_fixed), np.maximum(z, z_fixed))
    at = np.clip(z_fixed + share * (ends[:, None] - z_fixed), graph.z0, graph.z1)
    line = y_fixed + (y - y_fixed)[:, None] / (z - z_fixed)[:, None] * (at - z_fixed)
    apart = curve.turned(line - graph.value(at))
    # At the fixed row itself nothing can change.
    own = float(curve.turned(y_fixed - float(graph.value(z_fixed))))
    return np.asarray(np.maximum(-np.minimum(apart.min(axis=1), 0.0) + min(own, 0.0), 0.0))


def _move(
    curve: Target,
    z: FloatArray,
    y: FloatArray,
    j: int,
    x_step: float,
    y_step: float,
    limit: float,
    cost: Cost | None,
) -> bool:
    """Move row j to the grid point of least cost; errors of its lines decide ties, or all without a cost."""
    graph = curve.graph
    at, to = _candidates(curve, float(z[j]), float(y[j]), x_step, y_step, limit)
    inside = np.ones(at.size, dtype=bool)
    if j > 0:
        inside &= (at > z[j - 1]) & (to < y[j - 1])
    if j < z.size - 1:
        inside &= (at < z[j + 1]) & (to > y[j + 1])
    if j == 0:
        inside &= at <= graph.z0
    if j == z.size - 1:
        inside &= at >= graph.z1
    at, to = np.append(z[j], at[inside]), np.append(y[j], to[inside])
    error = np.zeros(at.size)
    for n, left in ((j - 1, True), (j + 1, False)):
        if 0 <= n < z.size:
            other = np.full(at.size, z[n]), np.full(at.size, y[n])
            ends = (*other, at, to) if left else (at, to, *other)
            error = np.maximum(error, line_error(graph, *ends))
    allowed = error <= limit + SLACK
    allowed[0] = True
    first = np.zeros(at.size) if cost is None else np.round(cost(at, to), 6)
    order = np.lexsort((error, first, ~allowed))
    chosen = int(order[0])
    better = first[chosen] < first[0] or error[chosen] < error[0] - 1e-9
    if chosen == 0 or not better:
        return False
    z[j], y[j] = at[chosen], to[chosen]
    return True


def _candidates(
    curve: Target, z: float, y: float, x_step: float, y_step: float, limit: float
) -> tuple[FloatArray, FloatArray]:
    """Grid points within the limit of the curve, on the grid lines near the present value."""
    graph: Graph = curve.graph
    reach = max(3, int(np.ceil(limit / y_step)))
    values = (round(y / y_step) + np.arange(-reach, reach + 1)) * y_step
    places: list[FloatArray] = []
    levels: list[FloatArray] = []
    for value in values:
        if not graph.y[-1] - limit <= value <= graph.y[0] + limit:
            continue
        ends = curve.x(graph.inverse(np.array([value + limit, value - limit])))
        first = int(np.ceil(max(ends[0], curve.x_low) / x_step - 1e-9))
        last = int(np.floor(min(ends[1], curve.x_high) / x_step + 1e-9))
        if last < first:
            continue
        stride = max(1, (last - first + 1) * values.size // MOST_CANDIDATES)
        steps = np.arange(first, last + 1, stride)
        places.append(curve.z(steps * x_step))
        levels.append(np.full(steps.size, value))
    if not places:
        return np.array([z]), np.array([y])
    return np.concatenate(places), np.concatenate(levels)
