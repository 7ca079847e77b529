"""The exact minimax table on a rounding grid: which rows can be reached with errors below a given size."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sensorcal.measure.minimax_error import line_error
from sensorcal.measure.minimax_graph import FloatArray, Graph, IntArray

INDEX_SLACK = 1e-10
"""Rounding noise allowed when an interval is compared with whole steps, in steps."""
BLOCK = 1_000_000
"""Most source-line pairs handled at once, so that memory stays below some hundred megabytes."""

Rows = list[tuple[int, int]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Grid:
    """Whole steps of both columns, and how far rows may lie.

    Attributes
    ----------
    x_step, y_step : float
        Steps of the grid; rows are (i * x_step, k * y_step) with whole i and k.
    i_low, i_high : int
        Smallest and largest i allowed.
    k_low, k_high : int
        Smallest and largest k allowed.
    z_low, z_high : float
        Where the graph is known; steps outside are never asked for.
    to_z, to_x : callable
        From x to the coordinate in which the table is a straight line, and back; both rise.
    """

    x_step: float
    y_step: float
    i_low: int
    i_high: int
    k_low: int
    k_high: int
    z_low: float
    z_high: float
    to_z: Callable[[FloatArray], FloatArray]
    to_x: Callable[[FloatArray], FloatArray]

    def z(self, i: IntArray) -> FloatArray:
        """Coordinate of whole steps."""
        return self.to_z(np.asarray(i * self.x_step, dtype=float))

    def up(self, z: FloatArray) -> IntArray:
        """Return the first whole step at or right of z."""
        i = np.ceil(self.to_x(np.clip(z, self.z_low, self.z_high)) / self.x_step - INDEX_SLACK)
        return np.where(z > self.z_high, self.i_high + 1, np.maximum(i, self.i_low)).astype(np.int64)

    def down(self, z: FloatArray) -> IntArray:
        """Return the last whole step at or left of z."""
        i = np.floor(self.to_x(np.clip(z, self.z_low, self.z_high)) / self.x_step + INDEX_SLACK)
        return np.where(z < self.z_low, self.i_low - 1, np.minimum(i, self.i_high)).astype(np.int64)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Sources:
    """Rows from which lines are drawn, with what bounds the slopes of those lines.

    Each bound is a level and a slope: lines that go below the level must not be less steep than an upper
    bound, nor steeper than a lower one. Without a bound both are nan, and comparisons with them are false.
    """

    i: IntArray
    line: IntArray
    z: FloatArray
    y: FloatArray
    upper: tuple[tuple[FloatArray, FloatArray], ...]
    lower: tuple[tuple[FloatArray, FloatArray], ...]

    def take(self, pick: IntArray | NDArray[np.bool_]) -> _Sources:
        """Return some of the sources."""
        return _Sources(
            i=self.i[pick],
            line=self.line[pick],
            z=self.z[pick],
            y=self.y[pick],
            upper=tuple((level[pick], slope[pick]) for level, slope in self.upper),
            lower=tuple((level[pick], slope[pick]) for level, slope in self.lower),
        )


class Tube:
    """All grid rows within eps of the graph, and the lines between them that stay within eps.

    Rows of one value make a line, numbered downwards. On a line the rows within eps are neighbours, and so
    are those in sight of a row above: the band around a falling graph has no holes, so a triangle whose
    three sides lie in the band lies in it whole. Sets of rows are therefore handled as intervals. Two lines
    of sight between the same two lines of rows never need to cross, so both ends of the interval in sight
    move left (or stay) as the source moves right; this lets the outer rows of a line speak for the others.
    """

    def __init__(self, graph: Graph, grid: Grid, eps: float, forced: Rows) -> None:
        self.graph, self.grid, self.eps, self.forced = graph, grid, eps, forced
        g = graph
        top = int(np.floor((g.y[0] + eps) / grid.y_step + INDEX_SLACK))
        bottom = int(np.ceil((g.y[-1] - eps) / grid.y_step - INDEX_SLACK))
        self.k = np.arange(min(top, grid.k_high), max(bottom, grid.k_low) - 1, -1)
        self.y = np.asarray(self.k * grid.y_step, dtype=float)
        self.edge_y = float(g.value(g.z0)), float(g.value(g.z1))
        left = g.inverse(self.y + eps)
        right = g.inverse(self.y - eps)
        self.z_left = np.maximum(left, g.z0)
        self.z_right = np.minimum(right, g.z1)
        self.i_first, self.i_last = grid.up(left), grid.down(right)
        start, finish = grid.down(np.array([g.z0]))[0], grid.up(np.array([g.z1]))[0]
        # Rows at or left of the range start a table, rows at or right of it finish one.
        first, last = grid.up(np.array([g.z0]))[0], grid.down(np.array([g.z1]))[0]
        self.i_left = np.maximum(self.i_first, first)
        self.i_right = np.minimum(self.i_last, last)
        # Outside the range only what the lines do inside it counts: there any row may stand whose value
        # lies between the curve's values at the outermost steps. On the end itself the band counts.
        allowed = (self.y <= g.y[0]) & (self.y >= g.y[-1])
        on_start = (start == first) & (self.i_first <= start) & (start <= self.i_last)
        on_finish = (finish == last) & (self.i_first <= finish) & (finish <= self.i_last)
        none = grid.i_low - 1
        self.i_start_last = np.where(on_start, start, np.where(allowed, first - 1, none))
        self.i_start_first = np.where(allowed, grid.i_low, np.where(on_start, start, grid.i_low))
        self.i_finish = np.where(on_finish, finish, last + 1)
        self.i_finish_last = np.where(allowed, grid.i_high, np.where(on_finish, finish, none))
        self.finish_lines = np.flatnonzero(self.i_finish <= self.i_finish_last)
        self.base = np.concatenate([[0], np.cumsum(np.maximum(self.i_right - self.i_left + 1, 0) + 1)])

    def starts(self) -> tuple[IntArray, IntArray]:
        """All rows that may start a table: steps and lines."""
        # A start that cannot fall into the band is left out.
        useful = self.y >= self.edge_y[0] - self.eps
        counts = np.where(useful, np.maximum(self.i_start_last - self.i_start_first + 1, 0), 0)
        line = np.repeat(np.arange(self.k.size), counts)
        offset = np.arange(counts.sum()) - np.repeat(np.cumsum(counts) - counts, counts)
        i = self.i_start_first[line] + offset
        for i_forced, at in self.forced_lines():
            ok = (i < i_forced) & (line < at) | (i == i_forced) & (line == at)
            i, line = i[ok], line[ok]
        return i, line

    def forced_lines(self) -> Rows:
        """Forced rows as (step, line)."""
        return [(i, int(self.k[0]) - k) for i, k in self.forced]

    def holds_forced(self) -> bool:
        """Whether every forced row lies within eps, or outside the range."""
        for i, line in self.forced_lines():
            if not 0 <= line < self.k.size:
                return False
            starts = self.i_start_first[line] <= i <= self.i_start_last[line]
            finishes = self.i_finish[line] <= i <= self.i_finish_last[line]
            if not (starts or finishes or self.i_left[line] <= i <= self.i_right[line]):
                return False
        return True

    def sources(self, i: IntArray, line: IntArray) -> _Sources:
        """Rows with the bounds on lines that leave them to the right."""
        g, eps = self.graph, self.eps
        z, y = self.grid.z(i), self.y[line]
        upper: list[tuple[FloatArray, FloatArray]] = []
        lower: list[tuple[FloatArray, FloatArray]] = []
        outside = z < g.z0
        if outside.any():
            # A line from a row left of the range must enter the range inside the band.
            away = np.where(outside, g.z0 - z, np.nan)
            for bounds, entry in ((upper, self.edge_y[0] + eps), (lower, self.edge_y[0] - eps)):
                bounds.append((np.where(outside, entry, np.nan), (entry - y) / away))
        for piece in g.pieces:
            bounds, edge = (upper, eps) if piece[2] > 0 else (lower, -eps)
            touch, slope = g.tangents(z, y - edge, piece)
            if not np.isnan(touch).all():
                level = np.where(np.isnan(touch), np.nan, g.value(np.nan_to_num(touch, nan=g.z0)) + edge)
                bounds.append((level, slope))
        return _Sources(i=i, line=line, z=z, y=y, upper=tuple(upper), lower=tuple(lower))

    def view(self, s: _Sources, lines: IntArray, *, finish: bool) -> tuple[FloatArray, FloatArray]:
        """Return the interval of z in sight of each source on each line (sources by lines).

        With `finish` it is the part at or right of the end of the range, where only the way out through
        the band at that end bounds it.
        """
        z, y = s.z[:, None], s.y[:, None]
        target = self.y[lines][None, :]
        down = target - y
        upper, lower = list(s.upper), list(s.lower)
        if finish:
            left = np.full(down.shape, self.graph.z1)
            right = np.full(down.shape, np.inf)
            away = np.where(s.z < self.graph.z1, self.graph.z1 - s.z, np.nan)
            for bounds, way_out in ((upper, self.edge_y[1] + self.eps), (lower, self.edge_y[1] - self.eps)):
                # The level does not matter here: the line has passed the end of the range in any case.
                bounds.append((np.full(s.z.shape, np.inf), (way_out - s.y) / away))
        else:
            left = np.repeat(self.z_left[lines][None, :], s.z.size, axis=0)
            right = np.repeat(self.z_right[lines][None, :], s.z.size, axis=0)
        with np.errstate(divide="ignore", invalid="ignore"):
            for level, slope in upper:
                steep = slope[:, None]
                bound = (steep < 0) & (target < level[:, None])
                right = np.where(bound, np.minimum(right, z + down / steep), right)
            for level, slope in lower:
                steep = slope[:, None]
                bound = (steep < 0) & (target < level[:, None])
                left = np.where(bound, np.maximum(left, z + down / steep), left)
                # A falling line cannot obey a bound that asks it to rise.
                right = np.where(steep >= 0, -np.inf, right)
        return left, right

    def steps(
        self, s: _Sources, lines: IntArray, left: FloatArray, right: FloatArray, *, finish: bool
    ) -> tuple[IntArray, IntArray]:
        """First and last whole step of the intervals in sight; none where first > last."""
        i, line = s.i[:, None], s.line[:, None]
        if finish:
            least, most = self.i_finish[lines][None, :], self.i_finish_last[lines][None, :]
        else:
            least, most = self.i_left[lines][None, :], self.i_right[lines][None, :]
        first = np.maximum(np.maximum(self.grid.up(left), least), i + 1)
        last = np.minimum(self.grid.down(right), most)
        nothing = self.grid.i_low - 1
        last = np.where(lines[None, :] > line, last, nothing)
        for i_forced, at in self.forced_lines():
            # A line may end in a forced row but not pass it.
            before = i < i_forced
            here = before & (lines == at)[None, :]
            last = np.where(before & (lines > at)[None, :], nothing, last)
            above = nothing if finish else i_forced - 1
            last = np.where(before & (lines < at)[None, :], np.minimum(last, above), last)
            first = np.where(here, np.maximum(first, i_forced), first)
            last = np.where(here, np.minimum(last, i_forced), last)
        return first, last

    def sight(self, s: _Sources) -> Iterator[tuple[IntArray, IntArray, FloatArray, FloatArray]]:
        """Sources and lines block by block with the intervals in sight, until nothing more is in sight."""
        order = np.argsort(s.line, kind="stable")
        width = 48
        per_block = max(1, BLOCK // (4 * width))
        for start in range(0, order.size, per_block):
            alive = order[start : start + per_block]
            begin = int(s.line[alive[0]]) + 1
            while alive.size and begin < self.k.size:
                lines = np.arange(begin, min(begin + width, self.k.size))
                some = s.take(alive)
                left, right = self.view(some, lines, finish=False)
                yield alive, lines, left, right
                # Once a whole line is out of sight, so is everything below it.
                below = lines[None, :] > some.line[:, None]
                blocked = ((left > right) & below & (self.z_left <= self.z_right)[lines][None, :]).any(axis=1)
                alive = alive[~blocked]
                begin += width


def _outer(line: IntArray) -> tuple[IntArray, IntArray]:
    """Positions of the leftmost and rightmost row of each line, of rows sorted by line and step."""
    first = np.flatnonzero(np.diff(line, prepend=-1))
    return first, np.append(first[1:], line.size) - 1


def _speakers(tube: Tube, i: IntArray, line: IntArray) -> _Sources:
    """Rows whose sight covers that of all given rows (sorted by line and step).

    The leftmost row of a line sees all that the others see when no lower bound narrows its sight; the
    rightmost when no upper bound narrows its sight. Otherwise all rows of the line are kept.
    """
    first, last = _outer(line)
    outer = np.unique(np.concatenate([first, last]))
    s = tube.sources(i[outer], line[outer])
    left_open = np.ones(outer.size, dtype=bool)
    right_open = np.ones(outer.size, dtype=bool)
    for n, lines, left, right in tube.sight(s):
        looks = (lines[None, :] > s.line[n][:, None]) & (left <= right)
        left_open[n] &= ~(looks & (left > tube.z_left[lines][None, :])).any(axis=1)
        right_open[n] &= ~(looks & (right < tube.z_right[lines][None, :])).any(axis=1)
    a, b = np.searchsorted(outer, first), np.searchsorted(outer, last)
    only_a = left_open[a]
    only_b = right_open[b] & ~only_a
    keep = np.zeros(line.size, dtype=bool)
    keep[first[only_a]] = True
    keep[last[only_b]] = True
    rest = ~only_a & ~only_b
    if (last - first)[rest].max(initial=0) <= 1:
        keep[first[rest]] = keep[last[rest]] = True
        return s.take(keep[outer])
    keep |= np.isin(line, line[first[rest]])
    return tube.sources(i[keep], line[keep])


def _spread(tube: Tube, s: _Sources, visited: NDArray[np.bool_]) -> tuple[IntArray, IntArray]:
    """Rows newly in sight of the sources, sorted by line and step; marks them as visited."""
    low, high = tube.k.size, -1
    marks = np.zeros(visited.size + 1, dtype=np.int32)
    for n, lines, left, right in tube.sight(s):
        first, last = tube.steps(s.take(n), lines, left, right, finish=False)
        _, column = np.nonzero(first <= last)
        if column.size == 0:
            continue
        hit = first <= last
        line = lines[column]
        offset = tube.base[line] - tube.i_left[line]
        np.add.at(marks, offset + first[hit], 1)
        np.add.at(marks, offset + last[hit] + 1, -1)
        low, high = min(low, int(line.min())), max(high, int(line.max()))
    if high < 0:
        return np.empty(0, dtype=np.int64), np.empty(0, dtype=np.int64)
    begin, end = int(tube.base[low]), int(tube.base[high + 1])
    new = (np.cumsum(marks[begin:end]) > 0) & ~visited[begin:end]
    visited[begin:end] |= new
    at = np.flatnonzero(new) + begin
    line = np.searchsorted(tube.base, at, side="right") - 1
    return at - tube.base[line] + tube.i_left[line], line


def _finish(tube: Tube, i: IntArray, line: IntArray, *, outside: bool) -> Rows | None:
    """Last two rows (step, line) of a table if one of the given rows has a finishing row in sight."""
    ends = tube.finish_lines
    if ends.size == 0:
        return None
    if outside:
        return _finish_from(tube, i, line)
    first, last = _outer(line)
    s_first, s_last = tube.sources(i[first], line[first]), tube.sources(i[last], line[last])
    # What any row of a line sees lies between the left end seen by the rightmost row and the right end
    # seen by the leftmost. A way out of the range crosses the last line of rows above it.
    gate = np.flatnonzero((tube.y > tube.edge_y[1] + tube.eps) & (tube.z_left <= tube.z_right))[-1:]
    if gate.size:
        left, right = tube.view(s_last, gate, finish=False)[0], tube.view(s_first, gate, finish=False)[1]
        passes = (left <= right)[:, 0] | (line[first] >= gate[0])
        if not passes.any():
            return None
        first, last = first[passes], last[passes]
        s_first, s_last = s_first.take(passes), s_last.take(passes)
    found = _finish_from(tube, i[first], line[first]) or _finish_from(tube, i[last], line[last])
    if found is not None:
        return found
    # The inner rows of lines with no whole step in sight are not tried.
    hopeful = np.zeros(first.size, dtype=bool)
    for n in np.array_split(np.arange(first.size), first.size * ends.size // BLOCK + 1):
        left, _ = tube.view(s_last.take(n), ends, finish=True)
        _, right = tube.view(s_first.take(n), ends, finish=True)
        least = np.maximum(tube.grid.up(left), tube.i_finish[ends][None, :])
        most = np.minimum(tube.grid.down(right), tube.i_finish_last[ends][None, :])
        hopeful[n] = (least <= most).any(axis=1)
    hopeful &= last - first > 1
    inner = np.flatnonzero(np.isin(line, line[first[hopeful]]))
    return _finish_from(tube, i[inner], line[inner])


def _finish_from(tube: Tube, i: IntArray, line: IntArray) -> Rows | None:
    """Try to finish a table from every one of the given rows; of several ways, the nearest line wins."""
    ends = tube.finish_lines
    for block in np.array_split(np.arange(i.size), i.size * ends.size // BLOCK + 1):
        if block.size == 0:
            continue
        s = tube.sources(i[block], line[block])
        least, most = tube.steps(s, ends, *tube.view(s, ends, finish=True), finish=True)
        n, e = np.nonzero(least <= most)
        if n.size:
            some = np.linspace(0, n.size - 1, min(n.size, 256)).astype(np.int64)
            n, e = n[some], e[some]
            step = least[n, e]
            error = line_error(tube.graph, s.z[n], s.y[n], tube.grid.z(step), tube.y[ends[e]])
            best = int(np.argmin(error))
            return [
                (int(s.i[n[best]]), int(s.line[n[best]])),
                (int(step[best]), int(ends[e[best]])),
            ]
    return None


def _trace(tube: Tube, layers: list[_Sources], tail: Rows) -> Rows:
    """Complete a table leftwards from its last two rows; of all rows that fit, the nearest line wins."""
    rows = list(tail)
    for s in reversed(layers):
        i, line = rows[0]
        lines = np.array([line])
        first, last = tube.steps(s, lines, *tube.view(s, lines, finish=False), finish=False)
        fits = np.flatnonzero((first[:, 0] <= i) & (i <= last[:, 0]))[:256]
        target_z = np.full(fits.size, float(tube.grid.z(np.array([i]))[0]))
        target_y = np.full(fits.size, tube.y[line])
        error = line_error(tube.graph, s.z[fits], s.y[fits], target_z, target_y)
        best = fits[int(np.argmin(error))]
        rows.insert(0, (int(s.i[best]), int(s.line[best])))
    return [(i, int(tube.k[line])) for i, line in rows]


def reach(graph: Graph, grid: Grid, eps: float, rows: int, forced: Rows) -> Rows | None:
    """Find a table of at most `rows` rows with errors of at most eps, or None where there is none.

    Parameters
    ----------
    graph : Graph
        The curve.
    grid : Grid
        The rounding grid.
    eps : float
        Largest error allowed.
    rows : int
        Largest number of rows.
    forced : list of (int, int)
        Rows that the table must contain, from left to right, in whole steps.

    Returns
    -------
    list of (int, int), or None
        The rows in whole steps, from left to right; of all tables with errors of at most eps, one of those
        with the fewest rows.
    """
    tube = Tube(graph, grid, eps, forced)
    if tube.k.size == 0 or not tube.holds_forced():
        return None
    i, line = tube.starts()
    visited = np.zeros(int(tube.base[-1]), dtype=bool)
    inside = (i >= tube.i_left[line]) & (i <= tube.i_right[line])
    visited[(tube.base[line] + i - tube.i_left[line])[inside]] = True
    layers: list[_Sources] = []
    for _ in range(rows - 1):
        if i.size == 0:
            return None
        tail = _finish(tube, i, line, outside=not layers)
        if tail is not None:
            return _trace(tube, layers, tail)
        # Starting rows may lie outside the range, where the argument for speakers does not hold.
        speakers = _speakers(tube, i, line) if layers else tube.sources(i, line)
        i, line = _spread(tube, speakers, visited)
        layers.append(speakers)
    return None
