"""Invented logs of first starts, healthy or with one fault, each beside its twin without the fault."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sensorcal.engine import JUDGED, TEMPERATURES
from sensorcal.firststart.channels import TOLERANCE, Span
from sensorcal.firststart.simulate_cases import draw_case
from sensorcal.firststart.simulate_chain import Rows, bursts, shown_channels
from sensorcal.firststart.simulate_engine import run_engine
from sensorcal.firststart.simulate_faults import Fault, draw_fault, trouble_of
from sensorcal.firststart.simulate_plan import Plan, Truth, lagged, plan_of, ripple_of
from sensorcal.firststart.simulate_scenario import StartCase
from sensorcal.firststart.startlog import StartLog, start_log
from sensorcal.setup import Setup

__all__ = [
    "BUCKETS", "Fault", "SimulatedStart", "StartCase", "bucket_of", "draw_case", "draw_fault", "draw_start",
    "simulate_start",
]  # fmt: skip

Floats = NDArray[np.float64]

BUCKETS = ("unseen", "faint", "mild", "clear", "gross")
_EDGES = (0.5, 1.5, 3.0, 8.0)
_RANDOM_EDGES = (0.3, 1.0, 2.0, 4.0)
RANDOM_KINDS = ("noise", "map_pulsation")
_BLANK_TOLERANCES = 50.0
LOST_UNIT_RATIO = 0.02
"""Share of lost rows that counts as one tolerance in the effect of dropouts: 1, 3, 6 and 16 % part the buckets."""
_LIMIT_S = 2.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SimulatedStart:
    """One invented log with all that was put into it.

    Parameters
    ----------
    log, twin : StartLog
        With the fault, and the same start without it; the same object where there is no fault.
    fault : Fault or None
    case : StartCase
    setup : Setup
        What the builder wrote down, for the judge.
    effect : float
        95th percentile of abs(log - twin) on the worst channel over its tolerance.
    bucket : str
        One of `BUCKETS`; 'healthy' without a fault.
    worst : str
        Channel of the largest effect; '' without a fault.
    truth : mapping of str to ndarray, shape (n,)
        True values by channel at the rows of the log; coolant is that of the block, whatever the probe's tip feels.
    broke_limit : bool
        True where the true state of a logged channel stood beyond a typed limit for 2 s or more within the log.
    broke_by : float
        By how much at worst, in tolerances; 0 where none was broken.
    spans : tuple of Span
        True phases.
    clock_s : ndarray, shape (n,)
        What the logger's own clock wrote: it begins anew after some brown-outs.
    """

    log: StartLog
    twin: StartLog
    fault: Fault | None
    case: StartCase
    setup: Setup
    effect: float
    bucket: str
    worst: str
    truth: Mapping[str, Floats]
    broke_limit: bool
    broke_by: float
    spans: tuple[Span, ...]
    clock_s: Floats


def simulate_start(case: StartCase, fault: Fault | None = None) -> SimulatedStart:
    """Run one invented start and log it, with a fault and without.

    Parameters
    ----------
    case : StartCase
        From `draw_case`.
    fault : Fault, optional
        From `draw_fault`; none for a healthy start.

    Returns
    -------
    SimulatedStart

    Examples
    --------
    >>> import numpy as np
    >>> case = draw_case(np.random.default_rng(5))
    >>> start = simulate_start(case, Fault(kind="map_hose_off", channel="map", size={"ripple_pa": 200.0}))
    >>> start.bucket, start.worst
    ('gross', 'map')
    """
    rng = np.random.default_rng(case.seed)
    plan = plan_of(case)
    ripple = ripple_of(case, plan, rng)
    clean = run_engine(case, plan, ripple)
    trouble = trouble_of(fault, plan)
    genuine = fault is not None and fault.kind.endswith("_real")
    true = run_engine(case, plan, ripple, trouble) if genuine else clean
    time_s, at, clock_s, blank = _logged(case, plan, clean, rng)
    channels = case.recording.channels
    noise = {name: sd * rng.standard_normal(time_s.size) for name, sd in case.panel.noise.items()}
    turns = clean.values["rpm"][at] > 150.0
    noise["map"] += case.motor.pulsation_pa * turns * rng.standard_normal(at.size)
    noise["fuel_pressure"] += case.motor.fuel_ripple_pa * _pumping(clean)[at] * rng.standard_normal(at.size)
    clean_rows = _rows(case, clean, None, time_s, at, noise, {})
    renewed = _renewed(case, time_s)
    shown = shown_channels(case.panel, clean_rows, None, channels)
    for name in channels:
        shown[name] = np.where(blank[name], np.nan, shown[name][renewed])
    twin = _as_log(shown, time_s, clock_s)
    truth = {name: values[at] for name, values in true.values.items()}
    broke_by = _beyond(case, true, truth, time_s, at)
    common: dict[str, Any] = {
        "case": case, "fault": fault, "setup": case.setup, "truth": truth, "broke_limit": broke_by > 0.0,
        "broke_by": broke_by, "spans": plan.spans, "clock_s": clock_s,
    }  # fmt: skip
    if fault is None:
        return SimulatedStart(log=twin, twin=twin, effect=0.0, bucket="healthy", worst="", **common)
    known = {} if genuine else clean_rows.felt
    rows = _rows(case, true, fault, time_s, at, noise, known)
    touched = tuple(name for name in channels if name in fault.channels or (genuine and name in JUDGED))
    faulty = dict(shown) | shown_channels(case.panel, rows, fault, touched)
    for name in touched:
        faulty[name] = np.where(blank[name], np.nan, faulty[name][renewed])
    lost = None
    if fault.kind == "dropouts":
        faulty, lost = _dropped(fault, time_s, faulty)
    log = _as_log(faulty, time_s, clock_s)
    effect, worst = _effect(fault, shown, faulty, lost)
    bucket = bucket_of(fault.kind, effect)
    return SimulatedStart(log=log, twin=twin, effect=effect, bucket=bucket, worst=worst, **common)


def draw_start(seed: int, kind: str = "") -> SimulatedStart:
    """Draw a case and a fault of a kind from one seed, and run it: what a study of thousands calls in each process.

    Parameters
    ----------
    seed : int
    kind : str, optional
        One of `channels.KINDS`; none for a healthy start.

    Returns
    -------
    SimulatedStart

    Examples
    --------
    >>> draw_start(3).bucket, draw_start(3, "open_circuit").bucket
    ('healthy', 'gross')
    """
    rng = np.random.default_rng(seed)
    case = draw_case(rng)
    return simulate_start(case, draw_fault(rng, kind, case) if kind else None)


def bucket_of(kind: str, effect: float) -> str:
    """Name the size of an effect: unseen, faint, mild, clear or gross.

    Examples
    --------
    >>> bucket_of("stuck", 2.0), bucket_of("noise", 2.5)
    ('mild', 'clear')
    """
    edges = _RANDOM_EDGES if kind in RANDOM_KINDS else _EDGES
    return BUCKETS[int(np.searchsorted(edges, effect, side="right"))]


def _renewed(case: StartCase, time_s: Floats) -> NDArray[np.intp]:
    """For each row, the row at which the monitor last renewed its numbers."""
    rows = np.arange(time_s.size)
    if case.recording.update_s <= 0.0:
        return rows
    fresh = np.diff(np.floor(time_s / case.recording.update_s), prepend=-1.0) > 0.0
    return np.asarray(np.maximum.accumulate(np.where(fresh, rows, 0)))


def _pumping(truth: Truth) -> Floats:
    t, plan = truth.time_s, truth.plan
    return np.asarray((t >= plan.pump_on_s) & (t < plan.pump_off_s), dtype=float)


def _logged(
    case: StartCase, plan: Plan, truth: Truth, rng: np.random.Generator
) -> tuple[Floats, NDArray[np.intp], Floats, dict[str, NDArray[np.bool_]]]:
    """Times of the rows, their fine steps, the logger's own clock, and the cells left blank."""
    habits = case.recording
    step = 1.0 / habits.rate_hz
    ticks = np.arange(plan.begins_s, plan.ends_s, step)
    jitter = np.clip(habits.jitter * rng.standard_normal(ticks.size), -0.4, 0.4) * step
    lost = rng.random(ticks.size) < habits.lost_ratio
    blank_draw = {name: rng.random(ticks.size) < habits.blank_ratio for name in habits.channels}
    moments = np.maximum.accumulate(ticks + jitter)
    begin = plan.cranks[-1][0] + 0.3
    restarted = (moments >= begin) & (moments < begin + habits.brown_out_s)
    pause = plan.begins_s + habits.gap_s[0] * (plan.ends_s - plan.begins_s)
    keep = ~(lost | restarted | ((moments >= pause) & (moments < pause + habits.gap_s[1])))
    keep[0] = True
    moments = moments[keep]
    time_s = np.round(moments - moments[0], 2)
    # Two rows at one hundredth of a second would not rise.
    time_s = time_s + 0.01 * (np.arange(time_s.size) * (np.diff(time_s, prepend=-1.0) <= 0.0) > 0.0)
    at = np.clip(np.round(moments / truth.step_s).astype(np.intp), 0, truth.time_s.size - 1)
    clock = time_s.copy()
    if habits.brown_out_s > 0.0 and habits.clock_restarts:
        after = moments >= begin
        if after.any() and not after.all():
            clock[after] -= time_s[after][0]
    return time_s, at, clock, {name: drawn[keep] for name, drawn in blank_draw.items()}


def _rows(
    case: StartCase, truth: Truth, fault: Fault | None, time_s: Floats, at: NDArray[np.intp],
    noise: Mapping[str, Floats], known: Mapping[str, Floats],
) -> Rows:  # fmt: skip
    """What each sensor feels, through hose, lag and sun, at the logged rows."""
    panel, step, t = case.panel, truth.step_s, truth.time_s
    felt: dict[str, Floats] = {}
    kind = fault.kind if fault is not None else ""
    for name, values in truth.values.items():
        if name in known and not (kind == "slow_probe" or kind.startswith("map_hose")):
            felt[name] = known[name]
            continue
        outside = truth.tip_c if name == "coolant" else values
        if name in TEMPERATURES and case.day.sun_k[name]:
            outside = outside + case.day.sun_k[name] * np.exp(-np.clip(t - truth.plan.fires_s, 0.0, None) / 200.0)
        if name == "map" and fault is not None and kind.startswith("map_hose"):
            outside = _hose(truth, fault, outside)
        tau = panel.lag_s.get(name, 0.0)
        if kind == "slow_probe" and fault is not None and name == fault.channel:
            tau = fault.get("lag_s")
        felt[name] = lagged(outside, tau, step)[at]
    flowing = np.clip(truth.values["rpm"][at] / 2500.0, 0.0, 1.5)
    return Rows(
        time_s=time_s, felt=felt, noise=noise, flowing=flowing, warm_k=truth.body_c[at] - 20.0,
        current_a=truth.current_a[at], running=truth.running[at], bus_v=truth.values["bus"][at],
        rpm=truth.values["rpm"][at], station_pa=truth.station_pa,
    )  # fmt: skip


def _hose(truth: Truth, fault: Fault, outside: Floats) -> Floats:
    """Manifold pressure at the sensor's end of a hose that is off, leaks or is pinched."""
    t = truth.time_s
    since = t >= (fault.from_s + truth.plan.begins_s if fault.from_s > 0.0 else 0.0)
    if fault.kind == "map_hose_off":
        # Open end: station pressure with the propeller's wash on it.
        rng = np.random.default_rng(fault.seed)
        wash = fault.get("ripple_pa") * np.clip(truth.values["rpm"] / 2500.0, 0.0, 1.5) ** 2
        open_end = truth.station_pa + wash * (0.5 + lagged(rng.standard_normal(t.size), 0.4, truth.step_s, start=0.0))
        return np.asarray(np.where(since, open_end, outside))
    if fault.kind == "map_hose_leak":
        leak = fault.get("leak_ratio")
        return np.asarray(np.where(since, outside + leak * (truth.station_pa - outside), outside))
    return lagged(outside, fault.get("lag_s"), truth.step_s)


def _as_log(shown: Mapping[str, Floats], time_s: Floats, clock_s: Floats) -> StartLog:
    log = start_log(time_s, shown, file="invented.csv")
    restarts = np.flatnonzero(np.diff(clock_s) < 0.0) + 1
    if restarts.size:
        return dataclasses.replace(log, restarts_s=tuple(float(time_s[i]) for i in restarts))
    return log


def _dropped(fault: Fault, time_s: Floats, shown: dict[str, Floats]) -> tuple[dict[str, Floats], dict[str, float]]:
    """Blanks or repeats in bursts, and the share of rows lost by channel."""
    rng = np.random.default_rng(fault.seed)
    bad = bursts(rng, time_s, np.full(time_s.shape, fault.get("share")), fault.get("length_s"))
    bad &= time_s >= fault.from_s
    bad[0] = False
    found = dict(shown)
    rows = np.arange(time_s.size)
    last = np.maximum.accumulate(np.where(bad, 0, rows))
    for channel in fault.channels:
        if channel in found:
            found[channel] = found[channel][last] if fault.get("repeats") else np.where(bad, np.nan, found[channel])
    return found, dict.fromkeys(fault.channels, float(bad.mean()))


def _effect(
    fault: Fault, twin: Mapping[str, Floats], faulty: Mapping[str, Floats], lost: Mapping[str, float] | None
) -> tuple[float, str]:
    """Size of the fault on its worst channel, in tolerances, and that channel."""
    found: list[tuple[float, str]] = [(0.0, fault.channels[0] if fault.channels else "")]
    for channel in JUDGED:
        if channel not in faulty or faulty[channel] is twin[channel]:
            continue
        if lost is not None:
            found.append((lost.get(channel, 0.0) / LOST_UNIT_RATIO, channel))
            continue
        there = np.isfinite(twin[channel])
        if not there.any():
            continue
        off = np.abs(faulty[channel] - twin[channel])[there] / TOLERANCE[channel]
        # A cell that the fault blanks stands for a reading at the far end of the scale.
        off = np.where(np.isfinite(off), off, _BLANK_TOLERANCES)
        found.append((float(np.percentile(off, 95.0)), channel))
    return max(found)


def _beyond(
    case: StartCase, true: Truth, truth: Mapping[str, Floats], time_s: Floats, at: NDArray[np.intp]
) -> float:
    """How far the true state stood beyond a typed limit for `_LIMIT_S` or longer, in tolerances."""
    plan = true.plan
    moment = true.time_s[at]
    judged_low = true.running[at] & (moment >= plan.fires_s + 30.0)
    worst = 0.0
    for channel, (low, high) in case.limits.items():
        if channel not in case.recording.channels:
            continue
        values = truth[channel]
        if high is not None:
            worst = max(worst, _held_beyond(values - high, time_s) / TOLERANCE[channel])
        if low is not None:
            short = np.where(judged_low, low - values, -math.inf)
            worst = max(worst, _held_beyond(short, time_s) / TOLERANCE[channel])
    return worst


def _held_beyond(excess: Floats, time_s: Floats) -> float:
    """Largest excess among stretches above zero of `_LIMIT_S` or longer; 0 where there is none."""
    above = excess > 0.0
    if not above.any():
        return 0.0
    edges = np.flatnonzero(np.diff(np.concatenate([[False], above, [False]]).astype(np.int8)))
    worst = 0.0
    for begin, end in zip(edges[::2], edges[1::2], strict=True):
        if end - begin > 1 and time_s[end - 1] - time_s[begin] >= _LIMIT_S:
            worst = max(worst, float(excess[begin:end].max()))
    return worst


