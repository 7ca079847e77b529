"""Signs in a single channel that need no physics of the engine: blanks, rails, spikes, frozen stretches, noise."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sensorcal.engine import PRESSURES, TEMPERATURES
from sensorcal.firststart.facts import StartFacts
from sensorcal.firststart.phases import Phases
from sensorcal.firststart.startlog import StartLog

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

_COLDEST_C = -36.0  # a real -40 degC never (first-start physics); inputs that read nothing rest there or below
_HOTTEST_C = 108.0
_FLAT = 4  # rows without any change that make a rail out of an odd value


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """A part of a log in which a sign holds, s, with its number of rows."""

    start_s: float
    end_s: float
    rows: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Signs:
    """What one channel shows by itself.

    Parameters
    ----------
    channel : str
    bad : (n,) bool
        Rows that say nothing of the measurand: blank, on a rail, in a spike.
    blanks, low_rail, high_rail : tuple of Stretch
    spikes : tuple of float
        Times of single excursions, s.
    spike_size : float
        Their median size, home unit.
    frozen : tuple of Stretch
        Stretches without any change where changes were to be expected.
    frozen_expected : float
        Number of changes that the longest of them should have had.
    clipped : tuple of Stretch
        Stretches at one highest number, while the channel moves elsewhere.
    clip_expected : float
    noise_rest, noise_run : float
        Standard deviation of the quick part, engine off and running, home unit; NaN where too short.
    resolution : float
    """

    channel: str
    bad: Bools
    blanks: tuple[Stretch, ...]
    low_rail: tuple[Stretch, ...]
    high_rail: tuple[Stretch, ...]
    spikes: tuple[float, ...]
    spike_size: float
    frozen: tuple[Stretch, ...]
    frozen_expected: float
    clipped: tuple[Stretch, ...]
    clip_expected: float
    noise_rest: float
    noise_run: float
    resolution: float


def stretches(time_s: Floats, mask: Bools) -> tuple[Stretch, ...]:
    """Runs of True rows.

    Examples
    --------
    >>> import numpy as np
    >>> [s.rows for s in stretches(np.arange(6.0), np.array([0, 1, 1, 0, 0, 1], bool))]
    [2, 1]
    """
    edges = np.flatnonzero(np.diff(np.concatenate(([0], mask.astype(np.int8), [0]))))
    return tuple(
        Stretch(start_s=float(time_s[a]), end_s=float(time_s[b - 1]), rows=int(b - a))
        for a, b in zip(edges[::2], edges[1::2], strict=True)
    )


def signs(log: StartLog, phases: Phases, facts: StartFacts) -> dict[str, Signs]:
    """Look at each judged channel of the log by itself.

    Parameters
    ----------
    log : StartLog
    phases : Phases
    facts : StartFacts

    Returns
    -------
    dict of channel to Signs
    """
    channels = [name for name in (*TEMPERATURES, *PRESSURES) if name in log.values]
    running: Bools = np.asarray(phases.mask("first_30_s", "idle", "warm_up", "run_up"))
    resting: Bools = np.asarray(phases.mask("rest", "pump", "shutdown", "soak"))
    table = np.vstack([log.values[name] for name in channels]) if channels else np.empty((0, len(log)))
    # A row that is blank in every channel is a hole of the log, not of one sensor.
    hole: Bools = np.asarray(np.isnan(table).all(axis=0)) if channels else np.zeros(len(log), bool)
    ambient = _ambient(log, facts, channels)
    return {name: _signs(log, name, facts, running, resting, hole, ambient) for name in channels}


def _ambient(log: StartLog, facts: StartFacts, channels: list[str]) -> float:
    """Air temperature for the one question whether a value can be a temperature at all."""
    if facts.oat_c is not None:
        return facts.oat_c
    oat = log.values.get("oat")
    if oat is not None and np.isfinite(oat).any():
        return float(np.nanmedian(oat))
    first = [log.values[name][:10] for name in channels if name in TEMPERATURES]
    seen = sorted(float(np.nanmedian(x)) for x in first if np.isfinite(x).any())
    # The coldest may be the faulty one; the warmest belong to an engine that has run before.
    return seen[min(1, len(seen) - 1)] if seen else 15.0


def _signs(
    log: StartLog, channel: str, facts: StartFacts, running: Bools, resting: Bools, hole: Bools, ambient_c: float
) -> Signs:
    time_s, x = log.time_s, log.values[channel]
    blank = np.isnan(x)
    resolution = log.resolution(channel)
    low, high = _rails(x, channel, facts, ambient_c, resolution)
    spike, size = _spikes(time_s, x, blank | low | high, running, channel, facts)
    bad = blank | low | high | spike
    flips, known = _flips(x, bad)
    frozen, frozen_expected = _frozen(channel, time_s, flips, known, running)
    clipped, clip_expected = _clipped(channel, time_s, x, flips, known, bad, running, resolution)
    driver = log.values.get("rpm") if channel in PRESSURES else None
    return Signs(
        channel=channel, bad=bad,
        blanks=stretches(time_s, blank & ~hole),
        low_rail=stretches(time_s, low), high_rail=stretches(time_s, high),
        spikes=tuple(float(t) for t in time_s[spike]), spike_size=size,
        frozen=frozen, frozen_expected=frozen_expected,
        clipped=clipped, clip_expected=clip_expected,
        noise_rest=_quick(x, resting & ~bad, 0.85), noise_run=_quick(x, running & ~bad, 0.97, driver),
        resolution=resolution,
    )  # fmt: skip


def _rails(x: Floats, channel: str, facts: StartFacts, ambient_c: float, resolution: float) -> tuple[Bools, Bools]:
    """Rows at one and the same number that only an open or a shorted input gives."""
    with np.errstate(invalid="ignore"):
        flat = _flat(x, resolution)
        if channel in TEMPERATURES:
            low = x < max(min(_COLDEST_C, ambient_c - 12.0), ambient_c - 18.0)
            high = x > _HOTTEST_C
            least = 25.0
        else:
            bottom, top = facts.ranges_pa[channel]
            span = top - bottom
            low = (x < 8e3) & (x < bottom + 0.02 * span) if channel == "map" else x < bottom - 0.06 * span
            high = x > top - 0.005 * span  # most monitors stop at the end of the range
            least = 0.1 * span
        return (
            _one_number(x, low & flat, resolution, least, lowest=True),
            _one_number(x, high & flat, resolution, least, lowest=False),
        )


def _one_number(x: Floats, rail: Bools, resolution: float, least: float, *, lowest: bool) -> Bools:
    """Keep a rail only where its rows share one number and are reached by jumps: heat climbs, a broken wire jumps."""
    if not rail.any():
        return rail
    end = float(x[rail].min() if lowest else x[rail].max())
    same = rail & (np.abs(x - end) <= 1.01 * resolution + 1e-9 * abs(end))
    if same.sum() < 0.8 * rail.sum():
        return np.zeros(x.size, bool)
    known = np.flatnonzero(np.isfinite(x))
    inside = same[known]
    edges = np.flatnonzero(inside[1:] != inside[:-1])
    if not edges.size:
        return same
    jumps = np.abs(x[known[edges + 1]] - x[known[edges]])
    return same if float(np.median(jumps)) > least else np.zeros(x.size, bool)


def _flat(x: Floats, resolution: float) -> Bools:
    """Rows within a stretch of at least a few equal values."""
    same = np.abs(np.diff(x)) <= 0.5 * resolution + 1e-9
    run = np.concatenate(([False], same)) | np.concatenate((same, [False]))
    edges = np.flatnonzero(np.diff(np.concatenate(([0], run.astype(np.int8), [0]))))
    out = np.zeros(x.size, bool)
    for a, b in zip(edges[::2], edges[1::2], strict=True):
        if b - a >= _FLAT:
            out[a:b] = True
    return out


def _spikes(
    time_s: Floats, x: Floats, bad: Bools, running: Bools, channel: str, facts: StartFacts
) -> tuple[Bools, float]:
    """Excursions of a second at most: far from the neighbours on both sides, which agree with each other."""
    good = np.flatnonzero(~bad)
    out = np.zeros(x.size, bool)
    if good.size < 9:
        return out, 0.0
    y = x[good]
    step = float(np.median(np.diff(time_s))) or 1.0
    half = 3 if step <= 0.25 else 2 if step <= 0.5 else 1
    padded = np.concatenate((y[:half][::-1], y, y[-half:][::-1]))
    around = np.median(np.lib.stride_tricks.sliding_window_view(padded, 2 * half + 1), axis=1)
    left, right = padded[: y.size], padded[2 * half :]
    away = y - around
    moves = np.abs(y[1:] - y[:-1])
    busy = moves[running[good[1:]]]
    scale = 1.4826 * float(np.median(busy if busy.size > 20 else moves))
    least = 6.0 if channel in TEMPERATURES else 0.1 * facts.span_pa(channel)
    far = np.abs(away) > max(least, 6.0 * scale)
    # Neighbours on both sides agree: a step of the engine is no excursion.
    far &= np.abs(left - right) < 0.5 * np.abs(away)
    out[good[far]] = True
    return out, float(np.median(np.abs(away[far]))) if far.any() else 0.0


def _flips(x: Floats, bad: Bools) -> tuple[Bools, Bools]:
    """Whether each row differs from the one before, and whether both are known."""
    known = np.zeros(x.size, bool)
    known[1:] = ~(bad[1:] | bad[:-1])
    flips = np.zeros(x.size, bool)
    flips[1:] = known[1:] & (np.abs(np.diff(x)) > 1e-9 * (1.0 + np.abs(x[1:])))
    return flips, known


def _quietest(flips: Bools, known: Bools, length: int) -> float | None:
    """Smallest share of changing rows in any window of some length; None where there is no such window."""
    f = flips[known].astype(float)
    if f.size < 2 * length:
        return None
    total = np.concatenate(([0.0], np.cumsum(f)))
    return float((total[length:] - total[:-length]).min()) / length


def _runs(flips: Bools, known: Bools, least: int) -> list[tuple[int, int]]:
    """Longest stretches without a change: index of the first and the row after the last."""
    quiet = known & ~flips
    edges = np.flatnonzero(np.diff(np.concatenate(([0], quiet.astype(np.int8), [0]))))
    return [(max(int(a) - 1, 0), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True) if b - a >= least]


def _frozen(
    channel: str, time_s: Floats, flips: Bools, known: Bools, running: Bools
) -> tuple[tuple[Stretch, ...], float]:
    """Stretches without a change, engine running, that the channel's own habit of changing does not allow.

    The habit is the quietest window elsewhere while running: a plateau seen with coarse steps is no standstill.
    """
    judged = known & running
    spans = [(a, b) for a, b in _runs(flips, judged, 8)]
    outside = judged.copy()
    for a, b in spans:
        if b - a > 0.04 * judged.sum():
            outside[a : b + 1] = False
    found: list[Stretch] = []
    most = 0.0
    for a, b in spans:
        length = int(np.clip((b - a) // 2, 8, 60))
        rest = outside.copy()
        rest[a : b + 1] = False
        rate = _quietest(flips, rest, length)
        if rate is None or rest.sum() < 40:
            continue
        # With steps coarser than the noise a steady value may stand for minutes: only a channel that is never quiet
        # elsewhere can be missed.
        enough = 0.25 if channel in PRESSURES and b - a >= 100 else 0.55
        expected = rate * (b - a) if rate > enough else 0.0
        if expected > 7.0:
            found.append(Stretch(start_s=float(time_s[a]), end_s=float(time_s[b - 1]), rows=b - a))
            most = max(most, expected)
    return tuple(found), most


def _clipped(
    channel: str, time_s: Floats, x: Floats, flips: Bools, known: Bools, bad: Bools, running: Bools, resolution: float
) -> tuple[tuple[Stretch, ...], float]:
    """Flat tops: the highest number of the run, held without a change, while the rows just beside it move."""
    rows = running & ~bad
    if rows.sum() < 30:
        return (), 0.0
    top = float(x[rows].max())
    at_top = rows & (x >= top - 0.25 * resolution - 1e-9 * abs(top))
    held = [stretch for stretch in stretches(time_s, at_top) if stretch.rows >= 4]
    total = sum(stretch.rows for stretch in held)
    if total < 5 or total > 0.9 * rows.sum():
        return (), 0.0
    if channel == "oil_pressure":
        # A relief valve holds within some per cent, an input's end to the last digit: nothing stands just below it.
        near = rows & ~at_top & (x > 0.96 * top)
        if resolution < 0.015 * top and at_top.sum() > max(12, 0.08 * rows.sum()) and near.sum() < 0.04 * at_top.sum():
            return tuple(held), 25.0
    beside = np.zeros(x.size, bool)
    for stretch in held:
        a, b = np.searchsorted(time_s, (stretch.start_s, stretch.end_s))
        beside[max(a - 12, 0) : a] = True
        beside[b + 2 : b + 14] = True
    beside &= known & ~at_top
    if beside.sum() < 8:
        return (), 0.0
    if float(np.median(top - x[beside])) < 3.0 * resolution:
        return (), 0.0  # the channel only hovers below its highest number: no driver rises through it
    # The habit at the quietest elsewhere: beside the top the channel moves by its ramp, not by its noise.
    rate = min(float(flips[beside].mean()), _quietest(flips, known & running & ~at_top, 20) or 0.0)
    # Coarse steps make a plateau of their own: only a long stretch in a channel that changes nearly always is a clip.
    expected = rate * max(stretch.rows for stretch in held) if rate > 0.3 else 0.0
    return tuple(held), expected


def _quick(x: Floats, rows: Bools, share: float, driver: Floats | None = None) -> float:
    """Standard deviation of what changes from row to row, by second differences of three neighbouring rows.

    What follows a driver's own quick changes, such as a hunting idle, is taken out first.
    """
    triple = rows[2:] & rows[1:-1] & rows[:-2]
    if triple.sum() < 24:
        return float("nan")
    bend = (x[2:] - 2.0 * x[1:-1] + x[:-2])[triple]
    if driver is not None:
        push = np.nan_to_num((driver[2:] - 2.0 * driver[1:-1] + driver[:-2])[triple])
        power = float(push @ push)
        if power > 0:
            bend = bend - push * float(push @ bend) / power
    # Between the robust and the plain estimate: bursts count, a single step does not.
    size = np.sort(np.abs(bend))
    kept = size[: max(int(share * size.size), 12)]
    return float(np.sqrt(np.mean(kept * kept) / 6.0))
