"""A probe that lags: undone by adding its own rate of change, for a few time constants."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from sensorcal.engine import TEMPERATURES
from sensorcal.firststart.cause import PRIOR, Cause
from sensorcal.firststart.edits import Edit, Undo
from sensorcal.firststart.healthy import tail
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


_LAGS_S = np.array([1.0, 2.0, 4.0, 7.0, 12.0, 20.0, 33.0, 55.0, 90.0, 150.0])


def charge_lag_s(view: Windows, name: str, station_pa: float) -> float:
    """Time constant with which a charge-air probe follows the compression, s; NaN where no boost moves it clearly.

    Parameters
    ----------
    view : Windows
    name : str
        'charge_in' or 'charge_out'.
    station_pa : float

    Returns
    -------
    float

    References
    ----------
    Adiabatic compression through a first-order lag, least squares over the lag; any text of instrumentation.
    """
    x, boost = view.values.get(name), view.values.get("map")
    if x is None or boost is None:
        return float("nan")
    use = view.running & np.isfinite(x) & np.isfinite(boost)
    if use.sum() < 60:
        return float("nan")
    t = view.time_s
    filled = np.interp(t, t[use], boost[use])
    push = np.maximum(np.clip(filled / station_pa, 0.2, 4.0), 1.0) ** 0.286 - 1.0
    if push[use].max() < 0.03 or (push[use] > 0.4 * push[use].max()).mean() > 0.6:
        return float("nan")
    step = float(np.median(np.diff(t)))
    slow = [np.ones(int(use.sum())), t[use] - t[use].mean(), (t[use] - t[use].mean()) ** 2]
    left = []
    for lag in _LAGS_S:
        kernel = np.exp(-np.arange(0, int(5 * lag / step) + 1) * step / lag)
        driven = np.convolve(push, kernel / kernel.sum())[: push.size][use]
        matrix = np.stack([*slow, driven], axis=1)
        answer, *_ = np.linalg.lstsq(matrix / np.linalg.norm(matrix, axis=0), x[use], rcond=None)
        rest = x[use] - matrix / np.linalg.norm(matrix, axis=0) @ answer
        left.append(float(rest @ rest) if answer[-1] > 0 else np.inf)
    base = np.stack(slow, axis=1)
    answer, *_ = np.linalg.lstsq(base / np.linalg.norm(base, axis=0), x[use], rcond=None)
    rest = x[use] - base / np.linalg.norm(base, axis=0) @ answer
    without = float(rest @ rest)
    best = int(np.argmin(left))
    if not np.isfinite(left[best]) or left[best] > 0.55 * without:
        return float("nan")
    return float(_LAGS_S[best])


def slow_charge_causes(view: Windows, station_pa: float) -> list[Cause]:
    """Weigh a slow probe before or after the cooler by how late it follows the boost.

    A sound probe before the cooler follows within some 10-50 s, the one after the cooler some two to four times later
    (metal of duct and cooler; common practice, no source).

    Parameters
    ----------
    view : Windows
    station_pa : float

    Returns
    -------
    list of Cause
    """
    before, after = (charge_lag_s(view, name, station_pa) for name in ("charge_in", "charge_out"))
    found: list[Cause] = []
    if np.isfinite(before):
        late = float(-tail(np.array(max(np.log(before / 22.0), 0.0) / 0.55), 10.0))
        order = max(float(np.log(before / after)) + 0.35, 0.0) if np.isfinite(after) else 0.0
        support = late + float(-tail(np.array(order / 0.35))) - 3.4
        found.append(_slow("charge_in", support, before))
    if np.isfinite(before) and np.isfinite(after):
        support = float(-tail(np.array(max(float(np.log(after / before)) - 1.0, 0.0) / 0.38))) - 2.5
        found.append(_slow("charge_out", support, after))
    return found


def _slow(name: str, support: float, lag_s: float) -> Cause:
    return Cause(
        kind="slow_probe", channels=(name,), support=support, weight=PRIOR + support, lines={}, rows={}, size=(lag_s,),
        text=f"time constant about {lag_s:.0f} s", evidence=(f"follows the boost only with about {lag_s:.0f} s",),
    )  # fmt: skip
