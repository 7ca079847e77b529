"""How far straight lines between rows lie from a graph, exactly: at rows, ends of the range and inner extremes."""

from __future__ import annotations

import numpy as np

from sensorcal.measure.minimax_graph import FloatArray, Graph


def line_extremes(
    graph: Graph, z_a: FloatArray, y_a: FloatArray, z_b: FloatArray, y_b: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Largest and smallest of line minus graph, for lines from points a to points b, and where.

    Only the part of a line inside the range counts.

    Parameters
    ----------
    graph : Graph
        The curve.
    z_a, y_a, z_b, y_b : ndarray, shape (n,)
        Ends of the lines, a left of b.

    Returns
    -------
    highest, where_highest, lowest, where_lowest : ndarray, shape (n,)
        Signed differences in y and the z at which they occur.
    """
    slope = (y_b - y_a) / (z_b - z_a)
    low = np.clip(z_a, graph.z0, graph.z1)
    high = np.clip(z_b, graph.z0, graph.z1)
    places = [low, high]
    for piece in graph.pieces:
        touch = graph.where_slope(slope, piece)
        places.append(np.clip(touch, low, high))
    z = np.stack(places)
    apart = y_a + slope * (z - z_a) - graph.value(z)
    top = np.argmax(apart, axis=0)
    bottom = np.argmin(apart, axis=0)
    n = np.arange(slope.size)
    return apart[top, n], z[top, n], apart[bottom, n], z[bottom, n]


def line_error(graph: Graph, z_a: FloatArray, y_a: FloatArray, z_b: FloatArray, y_b: FloatArray) -> FloatArray:
    """Largest distance between lines and graph; see `line_extremes`."""
    highest, _, lowest, _ = line_extremes(graph, z_a, y_a, z_b, y_b)
    return np.maximum(highest, -lowest)


def rows_error(graph: Graph, z: FloatArray, y: FloatArray) -> tuple[float, float]:
    """Worst signed difference between the lines through rows and the graph, and the z where it is."""
    highest, z_high, lowest, z_low = line_extremes(graph, z[:-1], y[:-1], z[1:], y[1:])
    up = int(np.argmax(highest))
    down = int(np.argmin(lowest))
    if highest[up] >= -lowest[down]:
        return float(highest[up]), float(z_high[up])
    return float(lowest[down]), float(z_low[down])
