"""The hose of the manifold pressure sensor: off, so that the sensor sees the air; or pinched, so that it lags."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from sensorcal.firststart.cause import PRIOR, Cause
from sensorcal.firststart.healthy import tail
from sensorcal.firststart.summary import W
from sensorcal.firststart.windows import Windows

Floats = NDArray[np.float64]

_RUNNING = ("s60", "s120", "s300", "end_run", "idle_cold", "idle_warm", "boost", "run_low", "run_high")
_LINES = ("map.idle", "map.vacuum", "map.crank", "charge_in.boost", "charge_in.climb")


def hose_causes(rows: Mapping[str, Floats], base: Mapping[str, float], view: Windows, station_pa: float) -> list[Cause]:
    """Weigh a hose that is off and one that is pinched.

    Parameters
    ----------
    rows : mapping of channel to (windows,) float
    base : mapping of line to float
        Log-likelihood of the lines of the healthy engine.
    view : Windows
    station_pa : float

    Returns
    -------
    list of Cause
    """
    found = []
    off = hose_off_support(rows, base)
    if off is not None:
        support, freed = off
        found.append(
            Cause(kind="map_hose_off", channels=("map",), support=support, weight=PRIOR + support, lines=freed, rows={},
                  evidence=("manifold pressure stays at the pressure of the air with the engine running",))
        )  # fmt: skip
    since = off_since(view, station_pa)
    if since is not None and "map" in rows:
        start, end, blocks = since
        support = min(35.0, 0.6 * blocks - 1.0)
        found.append(
            Cause(kind="map_hose_off", also=(), channels=("map",), support=support, weight=PRIOR + support,
                  lines={}, rows={}, start_s=start, end_s=end,
                  evidence=(f"manifold pressure is that of the air outside at idle speed, from {start:.0f} s",))
        )  # fmt: skip
    seen = lags(view)
    support, tau = lag_lines(seen)
    if seen and "map" in rows:
        said = ", ".join(f"{_LAG_WORDS[name]} {value:.0f} s" for name, value in seen.items())
        found.append(
            Cause(kind="map_hose_pinched", channels=("map",), support=support, weight=PRIOR + support, lines={},
                  rows={}, size=(tau,), text=f"time constant about {tau:.0f} s", evidence=(said,))
        )  # fmt: skip
    return found


_LAG_WORDS = {"fall": "63 % of the fall after the start takes", "return": "63 % of the return after the stop takes",
              "behind": "manifold pressure follows the engine speed by"}  # fmt: skip


def off_since(view: Windows, station_pa: float) -> tuple[float, float, int] | None:
    """Longest stretch at idle speed in which the manifold stands at the pressure of the air: start, end, blocks."""
    x, speed = view.values.get("map"), view.values.get("rpm")
    if x is None or speed is None:
        return None
    use = view.running & np.isfinite(x) & np.isfinite(speed)
    if use.sum() < 20:
        return None
    low, high = np.quantile(speed[use], (0.1, 0.98))
    still = x[view.rest & np.isfinite(x)]
    air = float(np.median(still)) if still.size else station_pa
    if abs(air - station_pa) > 9e3 or not 55e3 < air < 108e3:
        return None  # what it shows at rest is no air: another cause
    with np.errstate(invalid="ignore"):
        idle = use & (speed < max(low + 0.3 * (high - low), 1.15 * low)) & (speed > 300.0)
        open_air = idle & (np.abs(x - air) < 3_500.0)
    edges = np.flatnonzero(np.diff(np.concatenate(([0], open_air.astype(np.int8), [0]))))
    runs = [(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]
    if not runs:
        return None
    a, b = max(runs, key=lambda run: view.time_s[run[1] - 1] - view.time_s[run[0]])
    if view.time_s[b - 1] - view.time_s[a] < 8.0:
        return None
    return float(view.time_s[a]), float(view.time_s[b - 1]), b - a


def hose_off_support(rows: Mapping[str, Floats], base: Mapping[str, float]) -> tuple[float, dict[str, float]] | None:
    """Log-likelihood ratio of a hose that is off: the manifold reads the air outside, engine running or not."""
    x = rows.get("map")
    if x is None or not np.isfinite(x[W["run_low"]]):
        return None
    still = x[W["rest"]] if np.isfinite(x[W["rest"]]) else x[W["again"]]
    if not np.isfinite(still):
        still = x[W["run_high"]]
    away = np.array([x[W[name]] for name in _RUNNING]) - still
    away = away[np.isfinite(away)]
    freed = {name: -base[name] - 0.5 for name in _LINES if np.isfinite(base.get(name, np.nan))}
    # Propwash and wind ripple of a kilopascal, common practice, no source.
    support = sum(freed.values()) + float(np.mean(tail(away / 1_200.0, 3.0))) * min(away.size, 4)
    return support, freed


def lags(view: Windows) -> dict[str, float]:
    """Time to 63 % of the fall at the start, of the return after the stop, and lag behind the engine speed, s."""
    x = view.values.get("map")
    found: dict[str, float] = {}
    if x is None:
        return found
    t = view.time_s
    if view.start_s is not None:
        before = x[(t < view.start_s - 0.5) & np.isfinite(x)]
        later = x[(t > view.start_s + 20.0) & (t < view.start_s + 60.0) & np.isfinite(x)]
        if before.size and later.size >= 5:
            found["fall"] = _time_to(t, x, view.start_s, float(np.median(before[-20:])), float(np.median(later)))
    if view.stop_s is not None:
        before = x[(t > view.stop_s - 12.0) & (t < view.stop_s - 1.0) & np.isfinite(x)]
        later = x[(t > view.stop_s + 60.0) & np.isfinite(x)]
        if not later.size:
            later = x[(t > view.stop_s + 15.0) & np.isfinite(x)][-5:]
        if before.size >= 3 and later.size:
            found["return"] = _time_to(t, x, view.stop_s, float(np.median(before)), float(np.median(later)))
    speed = view.values.get("rpm")
    if speed is not None:
        found["behind"] = _behind(t, x, speed, view)
    return {name: value for name, value in found.items() if np.isfinite(value)}


def _time_to(t: Floats, x: Floats, from_s: float, first: float, last: float) -> float:
    if abs(last - first) < 8_000.0:
        return float("nan")
    share = (x - first) / (last - first)
    after = (t > from_s - 1.0) & np.isfinite(x)
    reached = np.flatnonzero(after & (share > 0.63))
    return float(max(t[reached[0]] - from_s, 0.3)) if reached.size else float("nan")


def _behind(t: Floats, x: Floats, speed: Floats, view: Windows) -> float:
    """Shift at which manifold pressure follows engine speed best, s; NaN where the speed does not vary enough."""
    use = view.running & np.isfinite(x) & np.isfinite(speed)
    if use.sum() < 60:
        return float("nan")
    step = float(np.median(np.diff(t)))
    s = np.interp(t, t[use], speed[use])
    m = np.interp(t, t[use], x[use])
    if np.std(s[use]) < 0.08 * np.mean(s[use]):
        return float("nan")
    ds, dm = np.gradient(s), np.gradient(m)
    best, where = 0.0, float("nan")
    norm = float(np.sqrt(np.sum(ds[use] ** 2) * np.sum(dm[use] ** 2))) or 1.0
    # A lag shows as an exponential tail of the response: its mean delay is the time constant.
    lags_s = np.arange(0, int(60.0 / step) + 1)
    strength = np.array([float(np.sum(ds[: ds.size - k] * dm[k:] * use[k:])) / norm for k in lags_s])
    best = float(strength.max())
    if best < 0.25:
        return float("nan")
    useful = np.where(strength > 0.12 * best, strength, 0.0)
    # Stop at the first gap after the peak, so that later throttle moves do not count.
    peak = int(np.argmax(strength))
    stop = next((k for k in range(peak, useful.size) if useful[k] == 0.0), useful.size)
    part = useful[:stop]
    where = float(np.sum(part * lags_s[:stop]) / np.sum(part)) * step
    return max(where, 0.3)


def lag_lines(found: Mapping[str, float]) -> tuple[float, float]:
    """Log-likelihood ratio for a pinched hose, and its time constant, s."""
    if not found:
        return 0.0, 0.0
    usual = {"fall": (1.3, 0.5), "return": (1.3, 0.5), "behind": (1.1, 0.55)}
    taus = np.geomspace(2.5, 45.0, 14)
    sound = sum(
        float(tail(np.array(np.log(value / usual[name][0]) / usual[name][1]), 10.0)) for name, value in found.items()
    )
    pinched = np.zeros(taus.size)
    for value in found.values():
        pinched += tail(np.log(value / (taus + 0.5)) / 0.45, 4.0)
    return float(np.logaddexp.reduce(pinched) - np.log(taus.size)) - sound, float(taus[int(np.argmax(pinched))])
