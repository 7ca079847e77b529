"""A probe that lags: undone by adding its own rate of change, for a few time constants."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from sensorcal.engine import TEMPERATURES
from sensorcal.firststart.edits import Edit, Undo
from sensorcal.firststart.summary import summarise_channel
from sensorcal.firststart.windows import Windows, smoothed

Floats = NDArray[np.float64]

_TAUS_S = (20.0, 40.0, 70.0, 110.0, 170.0, 260.0)


def slow_edits(rows: Mapping[str, Floats], view: Windows) -> list[Edit]:
    """One edit for each temperature channel: a first-order lag of tau seconds.

    Parameters
    ----------
    rows : mapping of channel to (windows,) float
    view : Windows

    Returns
    -------
    list of Edit

    References
    ----------
    First-order lag: true = shown + tau d(shown)/dt; any text of instrumentation.
    """
    found: list[Edit] = []
    if view.time_s.size < 60:
        return found
    for name in TEMPERATURES:
        if name not in rows or name not in view.values:
            continue
        undone = np.stack([summarise_channel(view, _undone(view, view.values[name], tau)) for tau in _TAUS_S])
        # Steps within seconds are noise of the derivative: those windows keep what was shown.
        found.append(
            Edit(kind="slow_probe", also=(), channels=(name,), sizes=np.array(_TAUS_S)[:, None],
                 undo=_constant(name, undone), unit="time constant about {:.0f} s")
        )  # fmt: skip
    return found


def _constant(name: str, undone: Floats) -> Undo:
    def undo(rows: Mapping[str, Floats], sizes: Floats) -> dict[str, Floats]:
        del sizes
        return {name: np.where(np.isfinite(rows[name]), undone, np.nan)}

    return undo


def _undone(view: Windows, x: Floats, tau_s: float) -> Floats:
    good = np.isfinite(x)
    if good.sum() < 30:
        return x
    filled = np.interp(view.time_s, view.time_s[good], x[good])
    width = max(3, int(max(6.0, 0.22 * tau_s) / view.width_s))
    even = smoothed(filled, width)
    rate = smoothed(np.gradient(even, view.time_s), width)
    return np.where(good, even + tau_s * rate, np.nan)
