"""What each channel says of whether the engine runs: manifold, oil and bus vote, for one of them may be faulty."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sensorcal.firststart.startlog import Floats, StartLog

Mask = NDArray[np.bool_]

# Common practice, no source.
CHARGING_V = 13.2  # above it an alternator works; a resting lead-acid battery stays below 12.95
RESTING_V = 12.95


def bus_of(log: StartLog) -> Floats | None:
    """Give the bus voltage, V, as of a 12 V system: that of a 24 V system is halved; None where none was logged."""
    if not log.has("bus"):
        return None
    bus = log.values["bus"]
    return bus / 2.0 if float(np.nanmedian(bus)) > 19.0 else bus


def vote(log: StartLog, bus: Floats | None) -> tuple[Floats, list[str]]:
    """Let manifold, oil and bus vote on whether the engine runs.

    Parameters
    ----------
    log : StartLog
    bus : ndarray or None
        From `bus_of`.

    Returns
    -------
    ndarray, list of str
        Sum of the votes of each row, positive where it runs and 0 where nothing is known; and the headings of the
        columns that could vote. One channel is outvoted by the two others. The weights are common practice, no source.

    Examples
    --------
    >>> from sensorcal.firststart.startlog import start_log
    >>> kpa = [94.0] * 10 + [38.0] * 20 + [94.0] * 10
    >>> votes, said = vote(start_log(range(40), {"map": [1e3 * p for p in kpa]}), None)
    >>> np.sign(votes[[5, 20, 35]]).tolist(), said
    ([-1.0, 1.0, -1.0], ["'map'"])
    """
    votes = np.zeros(len(log))
    said: list[str] = []
    for channel, one in (("map", map_vote(log)), ("oil_pressure", oil_vote(log)), ("bus", bus_vote(bus))):
        if one is not None:
            votes += np.nan_to_num(one)
            said.append(repr(log.heading(channel)))
    return votes, said


def map_vote(log: StartLog) -> Floats | None:
    """An engine that runs holds the manifold away from the air outside; still air at its pressure says it does not."""
    if not log.has("map"):
        return None
    pressure = smooth(log.values["map"], log.time_s, 1.0)
    rest = rest_level(pressure)
    if rest is None:
        return _vacuum_vote(pressure)
    away = np.abs(pressure / rest - 1.0)
    still = (away < 0.03) & (_range(pressure, log.time_s, 6.0) < 0.012 * rest)
    near = np.where(still, -1.3, np.where(away < 0.06, -0.4, 0.0))
    return np.where(np.isnan(pressure), 0.0, np.where(away > 0.15, 1.3, near))


def _vacuum_vote(pressure: Floats) -> Floats | None:
    """Where neither end of the log shows the air outside, a manifold that returns to its lowest level idles there."""
    shown = pressure[np.isfinite(pressure)]
    if shown.size < 5:
        return None
    low, high = (float(v) for v in np.percentile(shown, [5.0, 98.0]))
    if not 0.15 * high < low < 0.7 * high:
        return None
    return np.where(np.nan_to_num(pressure, nan=np.inf) < 1.25 * low, 0.9, 0.0)


def rest_level(pressure: Floats) -> float | None:
    """Give the manifold pressure at rest, in its own unit: that of the log's beginning or end, or None.

    Examples
    --------
    >>> rest_level(np.array([94.0] * 10 + [38.0] * 20)), rest_level(np.array([40.0] * 10 + [120.0] * 5 + [38.0] * 10))
    (94.0, None)
    """
    shown = pressure[np.isfinite(pressure)]
    if shown.size < 5:
        return None
    low, high = (float(v) for v in np.percentile(shown, [2.0, 98.0]))
    if high <= 0.0 or high - low < 0.12 * high:
        return None
    ends = max(float(np.median(shown[:5])), float(np.median(shown[-5:])))
    # Both ends as low as idle: the log shows neither rest before nor after.
    return ends if ends > max(1.35 * low, 0.1 * high) else None


def oil_vote(log: StartLog) -> Floats | None:
    """Oil pressure stands while the engine runs, and for some seconds after."""
    if not log.has("oil_pressure"):
        return None
    oil = log.values["oil_pressure"]
    low, high = (float(v) for v in np.nanpercentile(oil, [1.0, 95.0]))
    steps = np.abs(np.diff(oil[np.isfinite(oil)]))
    noise = float(np.percentile(steps, 95.0)) if steps.size else 0.0
    if high - low <= max(3.0 * log.resolution("oil_pressure"), 5.0 * noise, 0.25 * abs(high)) or low > 0.3 * high:
        return None
    share = (oil - low) / (high - low)
    return np.where(np.isnan(oil), 0.0, np.where(share > 0.2, 1.0, np.where(share < 0.08, -1.0, 0.0)))


def bus_vote(bus: Floats | None) -> Floats | None:
    """A charging alternator says running, a resting battery says not: weakly, for its output may be low at idle."""
    if bus is None:
        return None
    return np.where(np.isnan(bus), 0.0, np.where(bus > CHARGING_V, 1.0, np.where(bus < RESTING_V, -0.7, 0.0)))


def warming(log: StartLog) -> Mask:
    """Say where coolant or gearbox oil climb by more than 2 degC a minute over two minutes."""
    rising = np.zeros(len(log), dtype=bool)
    for channel in ("coolant", "gearbox_oil"):
        if not log.has(channel):
            continue
        numbers = log.values[channel]
        ok = np.isfinite(numbers)
        ahead = np.interp(log.time_s + 60.0, log.time_s[ok], numbers[ok])
        behind = np.interp(log.time_s - 60.0, log.time_s[ok], numbers[ok])
        span = np.minimum(log.time_s + 60.0, log.time_s[-1]) - np.maximum(log.time_s - 60.0, 0.0)
        rising |= (ahead - behind) > 2.0 / 60.0 * np.maximum(span, 1.0)
    return rising


def smooth(numbers: Floats, time_s: Floats, width_s: float) -> Floats:
    """Mean over a window of about that width; blanks take the nearest reading."""
    ok = np.isfinite(numbers)
    if not ok.any() or time_s.size < 3:
        return numbers
    full = numbers if ok.all() else np.interp(time_s, time_s[ok], numbers[ok])
    half = int(0.5 * width_s / max(float(np.median(np.diff(time_s))), 1e-9))
    if half < 1:
        return full
    sums = np.concatenate([[0.0], np.cumsum(full)])
    index = np.arange(full.size)
    low, high = np.maximum(index - half, 0), np.minimum(index + half + 1, full.size)
    return np.asarray((sums[high] - sums[low]) / (high - low), dtype=np.float64)


def _range(numbers: Floats, time_s: Floats, width_s: float) -> Floats:
    """Highest minus lowest reading in a window of about that width."""
    size = max(3, round(width_s / max(float(np.median(np.diff(time_s))), 1e-9))) if time_s.size > 1 else 1
    size = min(size, numbers.size)
    padded = np.pad(numbers, (size // 2, size - 1 - size // 2), mode="edge")
    windows = np.lib.stride_tricks.sliding_window_view(padded, size)
    return np.asarray(windows.max(axis=1) - windows.min(axis=1), dtype=np.float64)


def stretches(mask: Mask) -> list[slice]:
    """Give the stretches in which a mask is true."""
    padded = np.concatenate([[False], mask, [False]]).astype(np.int8)
    edges = np.flatnonzero(np.diff(padded))
    return [slice(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]
