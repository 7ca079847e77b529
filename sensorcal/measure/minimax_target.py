"""A monotone curve prepared for tabulation: its range, its coordinate of straight lines, its graph."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from sensorcal.errors import TableError
from sensorcal.measure.minimax_graph import FloatArray, Function, Graph, graph_of

Lines = Literal["x", "ln x"]
"""In which coordinate the reader of the table draws straight lines between rows."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Target:
    """A monotone curve to be tabulated, prepared once for any number of tables.

    Attributes
    ----------
    x0, x1 : float
        Range of x in which errors count, x0 < x1.
    x_low, x_high : float
        Range of x in which rows may lie.
    lines : {'x', 'ln x'}
        The coordinate of the straight lines.
    falls : bool
        Whether y falls as x rises.
    graph : Graph
        The curve, turned so that it falls.
    """

    x0: float
    x1: float
    x_low: float
    x_high: float
    lines: Lines
    falls: bool
    graph: Graph

    def z(self, x: ArrayLike) -> FloatArray:
        """Coordinate in which the lines are straight."""
        at = np.asarray(x, dtype=float)
        return np.log(at) if self.lines == "ln x" else at

    def x(self, z: ArrayLike) -> FloatArray:
        """Inverse of `z`."""
        at = np.asarray(z, dtype=float)
        return np.exp(at) if self.lines == "ln x" else at

    def turned(self, y: ArrayLike) -> FloatArray:
        """Values turned so that they fall with x; turned twice they are themselves."""
        at = np.asarray(y, dtype=float)
        return at if self.falls else -at


def target(
    function: Function,
    x0: float,
    x1: float,
    *,
    lines: Lines = "x",
    x_low: float | None = None,
    x_high: float | None = None,
) -> Target:
    """Prepare a curve for tabulation.

    Parameters
    ----------
    function : callable
        y(x), vectorised, strictly monotone and smooth.
    x0, x1 : float
        Range in which errors count.
    lines : {'x', 'ln x'}
        How values between rows are found: straight in x or straight in ln x.
    x_low, x_high : float, optional
        Range in which rows may lie; the range itself if not given.

    Returns
    -------
    Target

    Raises
    ------
    TableError
        If the range is empty, or the curve is not monotone and finite on it.

    Examples
    --------
    >>> import numpy as np
    >>> curve = target(np.sqrt, 1.0, 9.0)
    >>> curve.falls
    False
    """
    low = x0 if x_low is None else min(x_low, x0)
    high = x1 if x_high is None else max(x_high, x1)
    if not (np.isfinite([low, high]).all() and x0 < x1):
        raise TableError(f"the range from {x0:g} to {x1:g} is empty", do="give its smaller end first")
    if lines == "ln x" and low <= 0:
        raise TableError(f"straight lines in the logarithm need positive inputs, not {low:g}")
    ends = np.asarray(function(np.array([x0, x1])), dtype=float)
    falls = bool(ends[1] < ends[0])
    sign = 1.0 if falls else -1.0
    log = lines == "ln x"

    def turned(z: FloatArray) -> FloatArray:
        # exp(log(x)) may fall outside the range by one rounding; the curve may refuse that.
        x = np.clip(np.exp(z), low, high) if log else z
        return sign * np.asarray(function(x), dtype=float)

    z = np.log([low, x0, x1, high]) if log else np.array([low, x0, x1, high])
    try:
        graph = graph_of(turned, float(z[1]), float(z[2]), z_low=float(z[0]), z_high=float(z[3]))
    except ValueError as problem:
        raise TableError(
            f"the curve cannot be tabulated from {x0:g} to {x1:g}: {problem}",
            do="choose a range in which it always rises or always falls",
        ) from problem
    return Target(x0=x0, x1=x1, x_low=low, x_high=high, lines=lines, falls=falls, graph=graph)
