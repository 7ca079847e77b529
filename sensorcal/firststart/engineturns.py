"""Whether the engine turns, runs, or runs at power, row by row, by whichever channels say so."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sensorcal.firststart.startlog import Floats, StartLog

Mask = NDArray[np.bool_]

# All of these are common practice, no source.
_CRANK_DROP_V = 0.9  # the starter takes more than this off a resting battery; pumps and lights take less
_CHARGING_V = 13.2  # above it an alternator works; a resting lead-acid battery stays below 12.95
_RESTING_V = 12.95
_RUN_S = 4.0  # an engine that fires for less has not started
_CLOSE_S = 3.0  # a shorter stop of every sign is a missed reading, not a stopped engine
_TURNS_RPM = 40.0  # slower than this is a pick-up's noise
_TURNS_S = 0.8  # and so is what lasts shorter
_LAG_S = 15.0  # by which oil pressure and bus may outlast the engine
_STEADY_S = {0: 5.0, 1: 8.0, 2: 2.0}  # shorter stretches of idle, faster running and power are none of their own


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Turning:
    """What is known of the engine's turning.

    Parameters
    ----------
    runs, crank : tuple of slice
        Rows during which it runs, and is turned by the starter.
    dark : tuple of (float, float)
        Pauses of the log at a start, s: the monitor restarted while the starter turned.
    pump_from : int or None
        First row before the first start with the fuel pump on.
    high_power, fast, known : ndarray of bool, shape (n,)
        Running at power; running faster than idle; whether anything is known at all.
    notes : tuple of str
    """

    runs: tuple[slice, ...]
    crank: tuple[slice, ...]
    dark: tuple[tuple[float, float], ...]
    pump_from: int | None
    high_power: Mask
    fast: Mask
    known: Mask
    notes: tuple[str, ...]


def turning(log: StartLog) -> Turning:
    """Find when the engine is cranked, runs, and runs at power.

    Parameters
    ----------
    log : StartLog
        A logger's rows; blanks carry the last known state on.
    """
    time_s = log.time_s
    rpm = _rpm(log)
    bus = _bus(log)
    notes: list[str] = []
    if rpm is not None:
        state = _by_speed(rpm)
        notes.append(f"whether the engine runs is read from {log.heading('rpm')!r}")
    else:
        votes, said = _votes(log, bus)
        state = np.sign(votes)
        notes.append(
            "no usable engine speed: whether the engine runs is read from " + ", ".join(said)
            if said else "no channel says whether the engine runs"
        )  # fmt: skip
    known = _carried(state != 0.0)
    running = _fill(state) > 0
    drop = _starter_drop(bus, time_s)
    turned = drop.copy()
    if rpm is not None:
        turned |= _turned(rpm, state, time_s, log.resolution("rpm"), drop if bus is not None else None)
    runs = _runs(running, drop, time_s)
    if rpm is None:
        runs = _stops_seen(log, bus, runs)
    in_run = np.zeros(len(log), dtype=bool)
    for run in runs:
        in_run[run] = True
    crank = _crank(turned, in_run, runs, time_s)
    high, fast = _power(log, rpm, in_run)
    return Turning(
        runs=runs, crank=crank, dark=_dark(log, runs, crank), pump_from=_pump_from(log, runs, crank),
        high_power=high, fast=fast, known=known, notes=tuple(notes),
    )  # fmt: skip


def _rpm(log: StartLog) -> Floats | None:
    """Give the engine speed where it can be used: it moves, or at least shows the engine running."""
    if not log.has("rpm"):
        return None
    rpm = log.values["rpm"]
    shown = rpm[np.isfinite(rpm)]
    top = float(np.percentile(shown, 95.0))
    if shown.max() < 4.0 * _TURNS_RPM or (np.ptp(shown) == 0.0 and shown.size > 20):
        return None
    # A few spikes on a dead pick-up are no engine speed.
    return None if top < 4.0 * _TURNS_RPM and np.count_nonzero(shown > 4.0 * _TURNS_RPM) < 5 else rpm


def _bus(log: StartLog) -> Floats | None:
    """Give the bus voltage as of a 12 V system."""
    if not log.has("bus"):
        return None
    bus = log.values["bus"]
    return bus / 2.0 if float(np.nanmedian(bus)) > 19.0 else bus


def _by_speed(rpm: Floats) -> Floats:
    """Say +1 running, -1 not, 0 unknown from the engine speed."""
    turns = rpm[rpm > 4.0 * _TURNS_RPM]
    # The slow end of running is idle; a starter turns an engine at a fifth of it.
    brisk = turns[turns > 0.3 * float(np.percentile(turns, 90.0))]
    idle = float(np.percentile(brisk, 15.0))
    state = np.where(rpm > 0.45 * idle, 1.0, -1.0)
    state[~np.isfinite(rpm)] = 0.0
    return state


def _turned(rpm: Floats, state: Floats, time_s: Floats, step: float, drop: Mask | None) -> Mask:
    """Say where the engine turns more slowly than it runs: for a second, or with the bus pulled down."""
    slow = (np.nan_to_num(rpm) > max(_TURNS_RPM, 1.6 * step)) & (state < 0)
    kept = np.zeros(rpm.size, dtype=bool)
    for one in _stretches(slow):
        near = slice(max(one.start - 1, 0), one.stop + 1)
        lasts = one.stop - one.start > 1 and time_s[min(one.stop, rpm.size - 1)] - time_s[one.start] >= _TURNS_S
        if lasts or drop is None or drop[near].any():
            kept[one] = True
    return kept


def _votes(log: StartLog, bus: Floats | None) -> tuple[Floats, list[str]]:
    """Let manifold, oil and bus vote: positive running, negative not."""
    votes = np.zeros(len(log))
    said: list[str] = []
    for channel, one in (("map", _map_vote(log)), ("oil_pressure", _oil_vote(log)), ("bus", _bus_vote(bus))):
        if one is not None:
            votes += np.nan_to_num(one)
            said.append(repr(log.heading(channel)))
    return votes, said


def _map_vote(log: StartLog) -> Floats | None:
    """An engine that runs holds the manifold away from the air outside; near it nothing much is said."""
    if not log.has("map"):
        return None
    pressure = _smooth(log.values["map"], log.time_s, 1.0)
    rest = _rest_level(pressure)
    if rest is None:
        return None
    away = np.abs(pressure / rest - 1.0)
    return np.where(np.isnan(pressure), 0.0, np.where(away > 0.15, 1.3, np.where(away < 0.06, -0.6, 0.0)))


def _rest_level(pressure: Floats) -> float | None:
    """Give the manifold pressure at rest: that of the log's beginning or end, whichever is not an idling engine's."""
    shown = pressure[np.isfinite(pressure)]
    if shown.size < 5:
        return None
    low, high = (float(v) for v in np.percentile(shown, [2.0, 98.0]))
    if high <= 0.0 or high - low < 0.12 * high:
        return None
    ends = max(float(np.median(shown[:5])), float(np.median(shown[-5:])))
    # Both ends low: the log shows neither rest before nor after.
    return ends if ends > low + 0.45 * (high - low) else None


def _oil_vote(log: StartLog) -> Floats | None:
    """Oil pressure stands while the engine runs, and for some seconds after."""
    if not log.has("oil_pressure"):
        return None
    oil = log.values["oil_pressure"]
    low, high = (float(v) for v in np.nanpercentile(oil, [1.0, 95.0]))
    if high - low <= max(3.0 * log.resolution("oil_pressure"), 0.25 * abs(high)) or low > 0.3 * high:
        return None
    share = (oil - low) / (high - low)
    return np.where(np.isnan(oil), 0.0, np.where(share > 0.2, 1.0, np.where(share < 0.08, -1.0, 0.0)))


def _bus_vote(bus: Floats | None) -> Floats | None:
    """A charging alternator says running, a resting battery says not: weakly, for its output may be low at idle."""
    if bus is None:
        return None
    return np.where(np.isnan(bus), 0.0, np.where(bus > _CHARGING_V, 1.0, np.where(bus < _RESTING_V, -0.7, 0.0)))


def _starter_drop(bus: Floats | None, time_s: Floats) -> Mask:
    """Say where the starter pulls the bus down."""
    if bus is None:
        return np.zeros(time_s.size, dtype=bool)
    shown = bus[np.isfinite(bus)]
    below = shown[shown < _RESTING_V]
    if not below.size:
        return np.zeros(time_s.size, dtype=bool)
    rest = float(np.median(below[below >= np.percentile(below, 50.0)])) if below.size > 3 else float(below.max())
    return np.nan_to_num(bus, nan=99.0) < min(rest, 12.7) - _CRANK_DROP_V


def _runs(running: Mask, drop: Mask, time_s: Floats) -> tuple[slice, ...]:
    """Give the stretches of running: short gaps closed, short firings left to the crank."""
    closed = running.copy()
    for gap in _stretches(~running):
        inside = gap.start > 0 and gap.stop < running.size
        if inside and time_s[gap.stop] - time_s[gap.start] < _CLOSE_S and not drop[gap].any():
            closed[gap] = True
    found = []
    for run in _stretches(closed):
        end = time_s[min(run.stop, running.size - 1)]
        at_edge = run.start == 0 or run.stop == running.size
        if end - time_s[run.start] >= _RUN_S or (at_edge and not drop[run].any() and run.stop - run.start > 2):
            found.append(run)
    return tuple(found)


def _stops_seen(log: StartLog, bus: Floats | None, runs: tuple[slice, ...]) -> tuple[slice, ...]:
    """Move each stop back to where the manifold or the bus showed it: oil pressure outlasts the engine."""
    signs: list[Mask] = []
    if log.has("map"):
        pressure = _smooth(log.values["map"], log.time_s, 0.5)
        rest = _rest_level(pressure)
        if rest is not None:
            signs.append(np.abs(pressure / rest - 1.0) > 0.1)
    if bus is not None:
        signs.append(np.nan_to_num(bus) > _CHARGING_V)
    if log.has("oil_pressure"):
        oil = log.values["oil_pressure"]
        signs.append(np.nan_to_num(oil) > 0.75 * float(np.nanpercentile(oil, 90.0)))
    found = []
    for run in runs:
        stop = run.stop
        if stop < len(log):
            late = log.time_s[run] >= log.time_s[stop] - _LAG_S
            for sign in signs:
                last = np.flatnonzero(sign[run] & late)
                if last.size and run.start + int(last[-1]) + 1 < stop:
                    stop = run.start + int(last[-1]) + 1
                    break
        found.append(slice(run.start, stop))
    return tuple(found)


def _crank(turned: Mask, in_run: Mask, runs: tuple[slice, ...], time_s: Floats) -> tuple[slice, ...]:
    """Give the stretches of cranking outside the runs; the engine turning down after a stop is none."""
    ok = turned & ~in_run
    for run in runs:
        coast = (time_s >= time_s[min(run.stop, time_s.size - 1)]) & (
            time_s < time_s[min(run.stop, time_s.size - 1)] + 3.0
        )
        ok &= ~(coast & (np.arange(time_s.size) >= run.stop))
    # A missed reading in the middle of a crank does not make two of it.
    joined = ok.copy()
    for gap in _stretches(~ok):
        inside = gap.start > 0 and gap.stop < ok.size
        if inside and not in_run[gap].any() and time_s[gap.stop] - time_s[gap.start] < 1.0:
            joined[gap] = True
    return tuple(_stretches(joined))


def _dark(log: StartLog, runs: tuple[slice, ...], crank: tuple[slice, ...]) -> tuple[tuple[float, float], ...]:
    """Give the pauses of the log at a start, in which the monitor restarted."""
    found = []
    for run in runs:
        if run.start == 0:
            continue
        start_s = float(log.time_s[run.start])
        for begin, end in (*log.gaps, *((s - 1e-9, s) for s in log.restarts_s)):
            near = start_s - 15.0 <= end <= start_s + 1e-6 or any(
                float(log.time_s[c.start]) - 1.0 <= begin <= float(log.time_s[c.stop - 1]) + 2.0 for c in crank
            )
            if near and end <= start_s + 1e-6:
                found.append((begin, end))
    return tuple(dict.fromkeys(found))


def _pump_from(log: StartLog, runs: tuple[slice, ...], crank: tuple[slice, ...]) -> int | None:
    """Find the row at which the fuel pump is switched on before the first start: a lasting step of a fuel channel."""
    ends = [one.start for one in (*runs[:1], *crank[:1])]
    end = min(ends) if ends else len(log)
    if end < 3:
        return None
    for channel in ("fuel_pressure", "oil_pressure"):
        at = _lasting_rise(log, channel, end)
        if at is not None:
            return at
    return None


def _lasting_rise(log: StartLog, channel: str, end: int) -> int | None:
    """Find where a channel rises, in the rows before `end`, to a level it keeps."""
    if not log.has(channel):
        return None
    numbers = log.values[channel]
    before = numbers[:end]
    shown = before[np.isfinite(before)]
    if shown.size < 3:
        return None
    level = float(np.nanpercentile(numbers, 90.0))
    last = float(np.median(shown[-max(1, min(5, shown.size // 3)) :]))
    first = float(np.median(shown[: max(1, min(5, shown.size // 3))]))
    rise = last - first
    if rise < max(0.25 * abs(level), 4.0 * log.resolution(channel)):
        return None
    high = np.flatnonzero(before > first + 0.15 * rise)
    # The first row above, from which on the channel does not come back down.
    down = np.flatnonzero(before <= first + 0.15 * rise)
    begin = int(down[-1]) + 1 if down.size else int(high[0])
    return begin if begin < end else None


def _power(log: StartLog, rpm: Floats | None, in_run: Mask) -> tuple[Mask, Mask]:
    """Say where the engine runs at power, and where it runs faster than at idle."""
    level = np.zeros(len(log), dtype=np.int8)
    if in_run.any():
        level = _by_rpm(rpm, in_run, log.time_s) if rpm is not None else _by_map(log, in_run)
        level[~in_run] = -1
        level = _steadied(level, log.time_s)
    return level == 2, level == 1


def _by_rpm(rpm: Floats, in_run: Mask, time_s: Floats) -> NDArray[np.int8]:
    """Level of power from the engine's speed: 0 idle, 1 faster, 2 power."""
    speed = _smooth(rpm, time_s, 2.0)
    slow = _smooth(rpm, time_s, 8.0)
    turns = speed[in_run & np.isfinite(speed)]
    if not turns.size:
        return np.zeros(rpm.size, dtype=np.int8)
    # The slowest twentieth is idle, once the engine has picked up its speed.
    settled = speed[in_run & np.isfinite(speed) & ~_began(in_run, time_s, 10.0)]
    idle = float(np.percentile(settled if settled.size else turns, 5.0))
    top = float(np.percentile(turns, 99.5))
    level = (np.nan_to_num(slow) > 1.15 * idle).astype(np.int8)
    level[np.nan_to_num(speed) > max(idle + 0.45 * (top - idle), 1.65 * idle)] = 2
    return level


def _began(in_run: Mask, time_s: Floats, within_s: float) -> Mask:
    """Say which rows lie in the first seconds of a run."""
    first = np.zeros(in_run.size, dtype=bool)
    for run in _stretches(in_run):
        first[run] = time_s[run] < time_s[run.start] + within_s
    return first


def _by_map(log: StartLog, in_run: Mask) -> NDArray[np.int8]:
    """Level of power from the manifold's pressure, and from temperatures that still climb: 0, 1 and 2 as above."""
    level = _warming(log).astype(np.int8)
    if not log.has("map"):
        return level
    pressure = _smooth(log.values["map"], log.time_s, 1.0)
    rest = _rest_level(pressure)
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


def _warming(log: StartLog) -> Mask:
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


def _smooth(numbers: Floats, time_s: Floats, width_s: float) -> Floats:
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


def _fill(state: Floats) -> Floats:
    """Carry the last known state on over unknown rows, and the first one back."""
    known = np.flatnonzero(state)
    if not known.size:
        return state
    at = np.maximum.accumulate(np.where(state != 0.0, np.arange(state.size), -1))
    return np.where(at >= 0, state[np.maximum(at, 0)], state[known[0]])


def _carried(known: Mask) -> Mask:
    """A state is known where any row tells it; blanks in between carry on."""
    return np.full(known.size, bool(known.any()))


def _stretches(mask: Mask) -> list[slice]:
    """Give the stretches in which a mask is true."""
    padded = np.concatenate([[False], mask, [False]]).astype(np.int8)
    edges = np.flatnonzero(np.diff(padded))
    return [slice(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]
