"""What a monitor shows for a signal by its rows: straight between them, and as found by experiment beyond the ends."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from sensorcal.installed.chainparts import FloatArray
from sensorcal.measure import minimax


def read_past_ends(
    x: FloatArray, y: FloatArray, signal: ArrayLike, past_ends: str, *, ln_signal: bool = False
) -> FloatArray:
    """Read rows (x rising, y) as a monitor does.

    Parameters
    ----------
    x, y : ndarray, shape (n,)
    signal : array_like
        In the unit of x, any shape.
    past_ends : {'holds', 'extends', 'blank', 'unknown'}
    ln_signal : bool
        Straight in the logarithm of the signal.

    Returns
    -------
    ndarray
        nan beyond the ends where the monitor goes blank or nobody has tried.

    Examples
    --------
    >>> read_past_ends(np.array([1.0, 2.0]), np.array([10.0, 20.0]), [0.5, 1.5, 3.0], "holds").tolist()
    [10.0, 15.0, 20.0]
    """
    at = np.asarray(signal, dtype=float)
    shown = minimax.read_table(x, y, at, lines="ln x" if ln_signal else "x")
    first, last = y[0], y[-1]
    if past_ends == "extends":
        z, t = (np.log(x), np.log(at)) if ln_signal else (x, at)
        first = y[0] + (t - z[0]) * (y[1] - y[0]) / (z[1] - z[0])
        last = y[-1] + (t - z[-1]) * (y[-1] - y[-2]) / (z[-1] - z[-2])
    elif past_ends != "holds":
        return np.asarray(shown)
    return np.asarray(np.where(at < x[0], first, np.where(at > x[-1], last, shown)))
