"""The table of N rows with the smallest largest error: exact on a rounding grid, with the bound beside it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike

from sensorcal.errors import TableError
from sensorcal.measure.minimax_bound import lower_bound, unrounded_rows
from sensorcal.measure.minimax_error import rows_error
from sensorcal.measure.minimax_graph import FloatArray, Graph
from sensorcal.measure.minimax_grid import Grid, Rows, reach
from sensorcal.measure.minimax_target import Lines, Target, target

__all__ = [
    "BestRows",
    "Lines",
    "Target",
    "best_on_grid",
    "best_unrounded",
    "bound",
    "read_table",
    "steepest",
    "table_error",
    "target",
]

NEAR = 1e-11
"""The search ends when nothing better by more than this part of the span of y can exist."""
FINE = 600_000
"""With more grid points than this near the curve a proven gap may be accepted instead of the best."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BestRows:
    """A table and how good it is.

    Attributes
    ----------
    x, y : ndarray, shape (n,)
        The rows, x rising; n is at most the number asked for: rows that would not help are left out.
    worst_error : float
        Largest difference, table minus curve, with its sign, over the range.
    worst_x : float
        Where it is.
    proven : float
        No table on the same grid with as many rows as asked for has a smaller largest error than this.
    bound : float
        No table at all, rounded or not, has a smaller one.
    """

    x: FloatArray
    y: FloatArray
    worst_error: float
    worst_x: float
    proven: float
    bound: float

    def __post_init__(self) -> None:
        for name in ("x", "y"):
            copy = np.array(getattr(self, name), dtype=float)
            copy.flags.writeable = False
            object.__setattr__(self, name, copy)


def bound(curve: Target, rows: int) -> float:
    """Largest error that no table of so many rows can undercut, rounded or not.

    Examples
    --------
    >>> import numpy as np
    >>> round(bound(target(np.square, 1.0, 3.0), 2), 6)  # one line: an eighth of f'' times length squared, halved
    0.5
    """
    return lower_bound(curve.graph, rows - 1)


def best_unrounded(curve: Target, rows: int) -> BestRows:
    """Best table of so many rows when neither column is rounded.

    Parameters
    ----------
    curve : Target
        From `target`.
    rows : int
        Number of rows, at least 2.

    Returns
    -------
    BestRows
        With curvature of one sign it reaches the bound; otherwise it is a local optimum close to it.

    Examples
    --------
    >>> import numpy as np
    >>> best = best_unrounded(target(np.square, 1.0, 3.0), 3)
    >>> best.x, best.y + 0.0
    (array([1., 2., 3.]), array([0.875, 3.875, 8.875]))
    >>> round(abs(best.worst_error), 6)
    0.125
    """
    _check_rows(rows)
    graph = curve.graph
    least = lower_bound(graph, rows - 1)
    start = None
    if len(graph.pieces) > 1:
        start = _coarse_start(curve, rows, least)
    z, y = unrounded_rows(graph, rows, least, start)
    return _result(curve, z, y, proven=least, least=least)


def best_on_grid(
    curve: Target,
    rows: int,
    *,
    x_step: float,
    y_step: float,
    y_low: float = -np.inf,
    y_high: float = np.inf,
    forced: Sequence[tuple[float, float]] = (),
    gap: float = 0.0,
) -> BestRows:
    """Best of all strictly monotone tables of at most so many rows on a rounding grid.

    Parameters
    ----------
    curve : Target
        From `target`. The table covers the range: its first row lies at or before x0, its last at or after
        x1, within x_low..x_high. Where no grid point lies there, none can be made.
    rows : int
        Largest number of rows, at least 2.
    x_step, y_step : float
        Both columns are whole multiples of these.
    y_low, y_high : float
        Values allowed. Rows outside the range never have values beyond those of the curve at x_low and x_high.
    forced : sequence of (x, y)
        Rows that must be in the table; on the grid.
    gap : float
        On very fine grids (a million grid points near the curve and more), settle for a table that is proven
        to be within this part of the best; 0 asks for the best itself everywhere.

    Returns
    -------
    BestRows

    Raises
    ------
    TableError
        If there is no such table.

    Notes
    -----
    Whether a table with errors of at most eps exists is decided exactly (see `minimax_grid`), so halving
    eps ends at the best table of all, not at the best of a few candidates.

    Examples
    --------
    >>> import numpy as np
    >>> best = best_on_grid(target(np.square, 1.0, 3.0), 3, x_step=0.5, y_step=0.25)
    >>> best.x, round(abs(best.worst_error), 6)
    (array([1., 2., 3.]), 0.25)
    """
    _check_rows(rows)
    graph = curve.graph
    sign = 1 if curve.falls else -1
    pins = sorted((round(x / x_step), sign * round(y / y_step)) for x, y in forced)
    if any(a[0] == b[0] or a[1] <= b[1] for a, b in pairwise(pins)):
        raise TableError("two fixed rows fall on the same step of the grid", do="drop one or use finer steps")
    if rows < len(pins):
        raise TableError(f"{len(pins)} fixed rows do not fit into {rows} rows")
    least = lower_bound(graph, rows - 1)
    for coarser in _coarser(curve, least, x_step, y_step, pins) if gap > 0 and not pins else ():
        grid = _grid(curve, x_step * coarser[0], y_step * coarser[1], y_low, y_high)
        try:
            found, best, proven = _search(graph, grid, rows, coarser[2], least, near=0.2 * gap * least)
        except TableError:
            continue
        if best <= (1 + gap) * least:
            return _result(curve, *_places(grid, found), proven=least, least=least)
    grid = _grid(curve, x_step, y_step, y_low, y_high)
    near = NEAR * float(graph.y[graph.first] - graph.y[graph.last])
    if _points(curve, least, x_step, y_step) > FINE:
        near = max(near, gap * least)
    found, best, proven = _search(graph, grid, rows, pins, least, near=near)
    return _result(curve, *_places(grid, found), proven=proven, least=least)


def table_error(curve: Target, x: ArrayLike, y: ArrayLike) -> tuple[float, float]:
    """Worst signed error, table minus curve, of any table that covers the range, and where it is.

    Parameters
    ----------
    curve : Target
        From `target`.
    x, y : array_like, shape (n,)
        Rows, x rising.

    Returns
    -------
    error, x : float

    Examples
    --------
    >>> import numpy as np
    >>> error, where = table_error(target(np.square, 1.0, 3.0), [1.0, 3.0], [1.0, 9.0])
    >>> round(error, 9), round(where, 9)
    (1.0, 2.0)
    """
    error, z = rows_error(curve.graph, curve.z(x), curve.turned(y))
    return float(curve.turned(error)), float(curve.x(z))


def read_table(x: ArrayLike, y: ArrayLike, at: ArrayLike, *, lines: Lines = "x") -> FloatArray:
    """Value that a table gives at x, between its rows.

    Parameters
    ----------
    x, y : array_like, shape (n,)
        Rows, x rising.
    at : array_like
        Where to read, any shape; nan outside the rows.
    lines : {'x', 'ln x'}
        How values between rows are found.

    Returns
    -------
    ndarray, shape of `at`

    Examples
    --------
    >>> read_table([1.0, 100.0], [10.0, 20.0], 10.0, lines="ln x")
    array(15.)
    """
    inside = np.asarray(at, dtype=float)
    rows, values = np.asarray(x, dtype=float), np.asarray(y, dtype=float)
    if lines == "ln x":
        with np.errstate(divide="ignore", invalid="ignore"):
            z = np.log(inside)
        return np.asarray(np.interp(z, np.log(rows), values, left=np.nan, right=np.nan))
    return np.asarray(np.interp(inside, rows, values, left=np.nan, right=np.nan))


def steepest(curve: Target) -> float:
    """Largest change of y per change of x over the range.

    Examples
    --------
    >>> import numpy as np
    >>> round(steepest(target(np.square, 1.0, 3.0)), 6)
    6.0
    """
    graph = curve.graph
    z = graph.z[graph.first : graph.last + 1]
    slope = np.abs(graph.slopes[graph.first : graph.last + 1])
    return float((slope / np.exp(z) if curve.lines == "ln x" else slope).max())


def _check_rows(rows: int) -> None:
    if rows < 2:
        raise TableError(f"a table needs at least 2 rows, not {rows}")


def _grid(curve: Target, x_step: float, y_step: float, y_low: float, y_high: float) -> Grid:
    for name, step in (("input", x_step), ("value", y_step)):
        if not (np.isfinite(step) and step > 0):
            raise TableError(f"the rounding step of the {name} column must be positive, not {step:g}")
    low, high = sorted(float(curve.turned(v)) for v in (y_low, y_high))
    far = 2**52
    return Grid(
        x_step=x_step,
        y_step=y_step,
        i_low=int(np.ceil(curve.x_low / x_step - 1e-9)),
        i_high=int(np.floor(curve.x_high / x_step + 1e-9)),
        k_low=int(np.ceil(low / y_step - 1e-9)) if np.isfinite(low) else -far,
        k_high=int(np.floor(high / y_step + 1e-9)) if np.isfinite(high) else far,
        z_low=float(curve.graph.z[0]),
        z_high=float(curve.graph.z[-1]),
        to_z=curve.z,
        to_x=curve.x,
    )


def _search(graph: Graph, grid: Grid, rows: int, pins: Rows, least: float, *, near: float) -> tuple[Rows, float, float]:
    """Return the best table on the grid, its error, and an error (less by at most `near`) none undercuts."""
    span = float(graph.y[graph.first] - graph.y[graph.last])
    found, best, proven = _first_table(graph, grid, rows, pins, least, span)
    proven = max(proven, least)
    lucky = False
    while best - proven > near:
        # Attainable errors are discrete: asking just below the present best often ends the search at once.
        eps = best - 0.9 * near if lucky and best - proven < 0.02 * best else (best + proven) / 2
        better = reach(graph, grid, eps, rows, pins)
        lucky = better is None or not lucky
        if better is None:
            proven = eps
        else:
            found = better
            # Never above eps, but for rounding noise: the search must move on.
            best = min(_error(graph, grid, better), eps)
    return found, best, proven


def _coarser(curve: Target, least: float, x_step: float, y_step: float, pins: Rows) -> list[tuple[int, int, Rows]]:
    """Coarser grids whose points all lie on a very fine one, the coarsest first."""
    points = _points(curve, least, x_step, y_step)
    factors = []
    for m_x, m_y in ((10, 10), (10, 5), (10, 1), (1, 10), (5, 1), (2, 1)):
        fits = all(i % m_x == 0 and k % m_y == 0 for i, k in pins)
        if points > FINE and 1e4 < points / (m_x * m_y) < FINE and fits:
            factors.append((m_x, m_y, [(i // m_x, k // m_y) for i, k in pins]))
    return factors


def _points(curve: Target, eps: float, x_step: float, y_step: float) -> float:
    """Count the grid points within eps of the curve, roughly."""
    return 2 * eps / y_step * (curve.x1 - curve.x0) / x_step


def _first_table(
    graph: Graph, grid: Grid, rows: int, pins: Rows, least: float, span: float
) -> tuple[Rows, float, float]:
    """Return some table, its error, and an error that no table undercuts."""
    eps = max(1.03 * least, 1e-7 * span)
    proven = 0.0
    growth = 1.06
    while eps < 2 * span:
        found = reach(graph, grid, eps, rows, pins)
        if found is not None:
            return found, min(_error(graph, grid, found), eps), proven
        proven = eps
        eps *= growth
        growth = growth**1.7
    raise TableError(
        "no strictly rising or falling table on this grid covers the range",
        do="use finer steps, more rows or a narrower range",
    )


def _places(grid: Grid, rows: Rows) -> tuple[FloatArray, FloatArray]:
    i, k = np.array(rows, dtype=np.int64).T
    return grid.z(i), k * grid.y_step


def _error(graph: Graph, grid: Grid, rows: Rows) -> float:
    return abs(rows_error(graph, *_places(grid, rows))[0])


def _coarse_start(curve: Target, rows: int, least: float) -> tuple[FloatArray, FloatArray]:
    """Return a table on a grid of its own, coarse in y and fine in z, as a start for the unrounded one."""
    graph = curve.graph

    def same(z: FloatArray) -> FloatArray:
        return np.asarray(z + graph.z0, dtype=float)

    def back(z: FloatArray) -> FloatArray:
        return np.asarray(z - graph.z0, dtype=float)

    steps = 60 * rows
    step = (graph.z1 - graph.z0) / steps
    grid = Grid(
        x_step=step,
        y_step=least / 2,
        i_low=0,
        i_high=steps,
        k_low=-(2**52),
        k_high=2**52,
        z_low=graph.z0,
        z_high=graph.z1,
        to_z=same,
        to_x=back,
    )
    span = float(graph.y[graph.first] - graph.y[graph.last])
    found, _, _ = _first_table(graph, grid, rows, [], least, span)
    z, y = _places(grid, found)
    while z.size < rows:  # spare rows go into the longest lines
        widest = int(np.argmax(np.diff(z)))
        z = np.insert(z, widest + 1, (z[widest] + z[widest + 1]) / 2)
        y = np.insert(y, widest + 1, (y[widest] + y[widest + 1]) / 2)
    z[0], z[-1] = graph.z0, graph.z1
    return z, y


def _result(curve: Target, z: FloatArray, y: FloatArray, *, proven: float, least: float) -> BestRows:
    error, where = rows_error(curve.graph, z, y)
    return BestRows(
        x=curve.x(z),
        y=curve.turned(y),
        worst_error=float(curve.turned(error)),
        worst_x=float(curve.x(where)),
        proven=min(proven, abs(error)),
        bound=least,
    )
