"""Whether the engine turns and runs, row by row, by whichever channels say so."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sensorcal.firststart.enginepower import power_levels
from sensorcal.firststart.runsigns import CHARGING_V, RESTING_V, Mask, bus_of, rest_level, smooth, stretches, vote
from sensorcal.firststart.startlog import Floats, StartLog

# All of these are common practice, no source.
_CRANK_DROP_V = 0.9  # the starter takes more than this off a resting battery; pumps and lights take less
_RUN_S = 4.0  # an engine that fires for less has not started
_CLOSE_S = 3.0  # a shorter stop of every sign is a missed reading, not a stopped engine
_TURNS_RPM = 40.0  # slower than this is a pick-up's noise
_TURNS_S = 0.8  # and so is what lasts shorter
_STEP_S = 4.0  # before and after a step of the bus
_LAG_S = 15.0  # by which oil pressure and bus may outlast the engine


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
    bus = bus_of(log)
    notes: list[str] = []
    if rpm is not None:
        state = _by_speed(rpm)
        notes.append(f"whether the engine runs is read from {log.heading('rpm')!r}")
    else:
        votes, said = vote(log, bus)
        state = np.sign(votes)
        notes.append(
            "no usable engine speed: whether the engine runs is read from " + ", ".join(said)
            if said else "no channel says whether the engine runs"
        )  # fmt: skip
    known = np.full(len(log), bool(state.any()))
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
    high, fast = power_levels(log, rpm, in_run)
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
    slow = (np.nan_to_num(rpm) > max(_TURNS_RPM, min(1.6 * step, 100.0))) & (state < 0)
    kept = np.zeros(rpm.size, dtype=bool)
    for one in stretches(slow):
        near = slice(max(one.start - 1, 0), one.stop + 1)
        lasts = one.stop - one.start > 1 and time_s[min(one.stop, rpm.size - 1)] - time_s[one.start] >= _TURNS_S
        if lasts or drop is None or drop[near].any():
            kept[one] = True
    return kept


def _starter_drop(bus: Floats | None, time_s: Floats) -> Mask:
    """Say where the starter pulls the bus down."""
    if bus is None:
        return np.zeros(time_s.size, dtype=bool)
    shown = bus[np.isfinite(bus)]
    below = shown[shown < RESTING_V]
    if not below.size:
        return np.zeros(time_s.size, dtype=bool)
    rest = float(np.median(below[below >= np.percentile(below, 50.0)])) if below.size > 3 else float(below.max())
    return np.nan_to_num(bus, nan=99.0) < min(rest, 12.7) - _CRANK_DROP_V


def _runs(running: Mask, drop: Mask, time_s: Floats) -> tuple[slice, ...]:
    """Give the stretches of running: short gaps closed, short firings left to the crank."""
    closed = running.copy()
    for gap in stretches(~running):
        inside = gap.start > 0 and gap.stop < running.size
        if inside and time_s[gap.stop] - time_s[gap.start] < _CLOSE_S and not drop[gap].any():
            closed[gap] = True
    found = []
    for run in stretches(closed):
        end = time_s[min(run.stop, running.size - 1)]
        at_edge = run.start == 0 or run.stop == running.size
        if end - time_s[run.start] >= _RUN_S or (at_edge and not drop[run].any() and run.stop - run.start > 2):
            found.append(run)
    return tuple(found)


def _stops_seen(log: StartLog, bus: Floats | None, runs: tuple[slice, ...]) -> tuple[slice, ...]:
    """Move each stop back to where the manifold showed it, or else bus or oil: they outlast the engine by seconds."""
    away: Mask | None = None
    if log.has("map"):
        pressure = smooth(log.values["map"], log.time_s, 0.5)
        rest = rest_level(pressure)
        away = None if rest is None else np.abs(pressure / rest - 1.0) > 0.1
    return tuple(slice(run.start, _stop_of(log, run, away, bus)) for run in runs)


def _stop_of(log: StartLog, run: slice, away: Mask | None, bus: Floats | None) -> int:
    """Give the first row without the engine, by the last sign of it within some seconds before the end of a run."""
    if run.stop >= len(log):
        return int(run.stop)
    time_s, end_s = log.time_s, float(log.time_s[run.stop])
    late = (time_s >= end_s - _LAG_S) & (time_s < end_s)
    signs = [] if away is None else [away]
    if away is None and bus is not None:
        signs.append(np.nan_to_num(bus) > CHARGING_V)
    if away is None and log.has("oil_pressure"):
        oil = log.values["oil_pressure"]
        usual = (time_s >= end_s - 3.0 * _LAG_S) & (time_s < end_s - _LAG_S) & np.isfinite(oil)
        before = oil[usual & (time_s >= time_s[run.start])]
        if before.size:
            signs.append(np.nan_to_num(oil) > 0.6 * float(np.median(before)))
    rows = [np.flatnonzero(sign & late) for sign in signs]
    last = [int(found[-1]) + 1 for found in rows if found.size and found[-1] >= run.start]
    return min([int(run.stop), *last])


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
    for gap in stretches(~ok):
        inside = gap.start > 0 and gap.stop < ok.size
        if inside and not in_run[gap].any() and time_s[gap.stop] - time_s[gap.start] < 1.0:
            joined[gap] = True
    return tuple(stretches(joined))


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
    return _load_step(bus_of(log), log.time_s, end)


def _load_step(bus: Floats | None, time_s: Floats, end: int) -> int | None:
    """Find where the bus steps down for good, in the rows before `end`: the pump's current, where fuel shows nothing.

    Fuel pressure left from an earlier run hides the pump; its current, some amperes, still shows on a resting battery.
    """
    if bus is None or time_s[end - 1] - time_s[0] < 4.0 * _STEP_S:
        return None
    # The row before the crank may already carry the starter's current.
    shown = np.where(time_s[:end] < time_s[end - 1] - 0.5, bus[:end], np.nan)
    kept = np.flatnonzero(np.isfinite(shown))
    if kept.size < 6:
        return None
    volts, at_s = shown[kept], time_s[kept]
    sums = np.concatenate([[0.0], np.cumsum(volts)])
    row = np.arange(kept.size)
    first, last = np.searchsorted(at_s, at_s - _STEP_S), np.searchsorted(at_s, at_s + _STEP_S)
    enough = (row - first >= 2) & (last - row >= 2)
    before = (sums[row] - sums[first]) / np.maximum(row - first, 1)
    after = (sums[last] - sums[row]) / np.maximum(last - row, 1)
    drop = np.where(enough, before - after, 0.0)
    best = int(drop.argmax())
    noise = float(np.percentile(np.abs(np.diff(volts)), 75.0))
    lasting = float(np.median(volts[best:])) < before[best] - 0.6 * drop[best]
    if not lasting or not max(0.06, 2.5 * noise) < drop[best] < _CRANK_DROP_V:
        return None
    return int(kept[best])


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
    if rise < max(0.25 * abs(level), min(4.0 * log.resolution(channel), 0.5 * abs(level))):
        return None
    high = np.flatnonzero(before > first + 0.15 * rise)
    # The first row above, from which on the channel does not come back down.
    down = np.flatnonzero(before <= first + 0.15 * rise)
    begin = int(down[-1]) + 1 if down.size else int(high[0])
    return begin if begin < end else None


def _fill(state: Floats) -> Floats:
    """Carry the last known state on over unknown rows, and the first one back."""
    known = np.flatnonzero(state)
    if not known.size:
        return state
    at = np.maximum.accumulate(np.where(state != 0.0, np.arange(state.size), -1))
    return np.where(at >= 0, state[np.maximum(at, 0)], state[known[0]])
