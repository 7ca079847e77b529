"""At what power the engine runs: idle, faster, or power, by its speed or else by its manifold and temperatures."""

from __future__ import annotations

import itertools

import numpy as np
from numpy.typing import NDArray

from sensorcal.firststart.runsigns import Mask, rest_level, smooth, stretches, warming
from sensorcal.firststart.startlog import Floats, StartLog

_FAST_RATIO, _POWER_RATIO = 1.15, 1.65  # of idle speed (common practice, no source)
_STEADY_S = {0: 5.0, 1: 8.0, 2: 2.0}  # shorter stretches of idle, faster running and power are none of their own


def power_levels(log: StartLog, rpm: Floats | None, in_run: Mask) -> tuple[Mask, Mask]:
    """Say where the engine runs at power, and where it runs faster than at idle.

    Parameters
    ----------
    log : StartLog
    rpm : ndarray or None
        Engine speed, 1/min, where it can be used.
    in_run : ndarray of bool, shape (n,)
        Rows at which the engine runs.

    Returns
    -------
    ndarray of bool, ndarray of bool
        Without a speed, power is a manifold over half way from idle to the air outside, and 'faster' is an engine
        whose coolant or gearbox oil still climbs. All bounds are common practice, no source.
    """
    level = np.zeros(len(log), dtype=np.int8)
    if in_run.any():
        level = _by_rpm(rpm, in_run, log.time_s) if rpm is not None else _by_map(log, in_run)
        level[~in_run] = -1
        level = _steadied(level, log.time_s)
    return level == 2, level == 1


def power_of_rows(log: StartLog, running: Mask) -> NDArray[np.int8] | None:
    """Level of power of single rows, as in a list of events: 0 idle, 1 faster, 2 power; None where nothing tells it.

    Parameters
    ----------
    log : StartLog
    running : ndarray of bool, shape (n,)
        Rows at which the engine runs.
    """
    if log.has("rpm"):
        speed = log.values["rpm"]
        turns = speed[running & (np.nan_to_num(speed) > 0.0)]
        if turns.size:
            ratio = np.nan_to_num(speed) / float(turns.min())
            return np.select([ratio > _POWER_RATIO, ratio > _FAST_RATIO], [2, 1], 0).astype(np.int8)
    if log.has("map") and np.isfinite(log.values["map"][~running]).any():
        pressure = log.values["map"]
        rest, low = float(np.nanmax(pressure[~running])), float(np.nanmin(pressure))
        if low < 0.85 * rest:
            return np.where(np.nan_to_num(pressure) > low + 0.5 * (rest - low), 2, 1).astype(np.int8)
    return None


def _by_rpm(rpm: Floats, in_run: Mask, time_s: Floats) -> NDArray[np.int8]:
    """Level of power from the engine's speed: 0 idle, 1 faster, 2 power."""
    # Within a run, a reading far below any running is a missed one.
    missed = in_run & (np.nan_to_num(rpm) < 0.25 * float(np.nanpercentile(rpm[in_run], 75.0)))
    rpm = np.where(missed, np.nan, rpm)
    speed = smooth(rpm, time_s, 2.0)
    slow = smooth(rpm, time_s, 8.0)
    turns = speed[in_run & np.isfinite(speed)]
    if not turns.size:
        return np.zeros(rpm.size, dtype=np.int8)
    # The slowest twentieth is idle, once the engine has picked up its speed.
    settled = speed[in_run & np.isfinite(speed) & ~_began(in_run, time_s, 10.0)]
    idle = float(np.percentile(settled if settled.size else turns, 5.0))
    top = float(np.percentile(turns, 99.5))
    level = (np.nan_to_num(slow) > _FAST_RATIO * idle).astype(np.int8)
    level[np.nan_to_num(speed) > max(idle + 0.45 * (top - idle), _POWER_RATIO * idle)] = 2
    return level


def _began(in_run: Mask, time_s: Floats, within_s: float) -> Mask:
    """Say which rows lie in the first seconds of a run."""
    first = np.zeros(in_run.size, dtype=bool)
    for run in stretches(in_run):
        first[run] = time_s[run] < time_s[run.start] + within_s
    return first


def _by_map(log: StartLog, in_run: Mask) -> NDArray[np.int8]:
    """Level of power from the manifold's pressure, and from temperatures that still climb: 0, 1 and 2 as above."""
    level = warming(log).astype(np.int8)
    if not log.has("map"):
        return level
    pressure = smooth(log.values["map"], log.time_s, 1.0)
    rest = rest_level(pressure)
    turns = pressure[in_run & np.isfinite(pressure)]
    if rest is None or not turns.size:
        return level
    idle = float(np.percentile(turns, 20.0))
    if idle < 0.85 * rest:  # idle as high as the air outside is a hose off: it shows no power
        level[np.nan_to_num(pressure) > idle + 0.5 * (rest - idle)] = 2
    return level


def _steadied(level: NDArray[np.int8], time_s: Floats) -> NDArray[np.int8]:
    """Take short stretches of one level into the level before them; on the way down from power, into the one after."""
    edges = [0, *(np.flatnonzero(np.diff(level)) + 1).tolist(), level.size]
    kept = level.copy()
    for begin, end in itertools.pairwise(edges):
        here, before = int(level[begin]), int(kept[begin - 1]) if begin else -1
        lasts_s = time_s[min(end, level.size - 1)] - time_s[begin]
        if here >= 0 <= before and lasts_s < _STEADY_S[here]:
            after = int(level[end]) if end < level.size else -1
            kept[begin:end] = after if before == 2 and after >= 0 else before
    return kept
