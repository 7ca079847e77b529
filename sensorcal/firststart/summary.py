"""A log in a few dozen numbers: the median of each channel in each window of time that a question is asked of.

Medians and quantiles go through a rising curve unchanged, so an edit of the signal chain can be applied to these few
numbers instead of to the log, and to many sizes of it at once.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sensorcal.engine import PRESSURES
from sensorcal.firststart.channels import CHANNELS
from sensorcal.firststart.windows import Values, Windows

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

WINDOWS = (
    "rest", "before", "crank", "after_start", "s60", "s120", "s180", "s300", "s600", "end_run", "after_stop",
    "soak60", "soak150", "soak280", "again", "idle_cold", "idle_warm", "boost", "near_boost", "run_high", "run_low",
    "crank_low", "unloaded", "loaded",
)  # fmt: skip
"""Names of the windows; times are seconds after the start or the stop."""

W = {name: index for index, name in enumerate(WINDOWS)}
_AFTER_START = {"s60": (45.0, 75.0), "s120": (105.0, 135.0), "s180": (165.0, 195.0), "s300": (280.0, 320.0),
                "s600": (580.0, 620.0)}  # fmt: skip
_AFTER_STOP = {"soak60": (40.0, 80.0), "soak150": (120.0, 180.0), "soak280": (240.0, 320.0)}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Summary:
    """Medians of each channel by window.

    Parameters
    ----------
    rows : mapping of channel to (len(WINDOWS),) float
        Home units; NaN where the log has no such window.
    boost_rows, load_steps : int
        Blocks behind `boost`, and load steps found on the bus.
    """

    rows: Mapping[str, Floats]
    boost_rows: int
    load_steps: int


def summarise(view: Windows) -> Summary:
    """Take the medians of every channel in every window.

    Parameters
    ----------
    view : Windows

    Returns
    -------
    Summary
    """
    where = _places(view)
    steps = _load_steps(view)
    rows = {name: _row(view.values[name], where, view, steps) for name in CHANNELS if name in view.values}
    if not view.rest.any():
        for name in (*PRESSURES, "rpm", "bus"):
            if name in rows:  # the first seconds of cranking are a rest for temperatures only
                rows[name][W["rest"]] = np.nan
    return Summary(
        rows=rows,
        boost_rows=int(where["boost"].sum()),
        load_steps=len(steps),
    )


def summarise_channel(view: Windows, x: Floats) -> Floats:
    """Take the medians of one channel's changed block means, shape (len(WINDOWS),)."""
    return _row(x, _places(view), view, _load_steps(view))


def _places(view: Windows) -> dict[str, Bools]:
    t = view.time_s
    never = np.zeros(t.size, bool)
    where: dict[str, Bools] = {
        "rest": view.rest, "before": view.before, "crank": view.crank, "after_start": view.after_start,
        "end_run": view.end_run, "after_stop": view.after_stop, "again": view.at_rest_again,
    }  # fmt: skip
    if not view.rest.any() and view.start_s is not None:
        # The log begins with cranking: its first seconds stand in for the rest.
        where["rest"] = t < min(view.start_s, t[0] + 5.0)
    for names, from_s, condition in (
        (_AFTER_START, view.start_s, view.running), (_AFTER_STOP, view.stop_s, view.soak | view.at_rest_again),
    ):  # fmt: skip
        for name, (first, last) in names.items():
            where[name] = condition & (t > from_s + first) & (t < from_s + last) if from_s is not None else never
    where["boost"], power = _boost(view.values, view.running)
    begin = view.start_s if view.start_s is not None else t[0]
    idle = view.idle & ~power
    where["idle_cold"] = idle & (t < begin + 150.0)
    last = view.stop_s if view.stop_s is not None else t[-1]
    where["idle_warm"] = idle & (t > begin + 0.55 * (last - begin)) & (t < last - 3.0)
    where["near_boost"] = never
    if where["boost"].any():
        first_boost = t[where["boost"]][0]
        where["near_boost"] = idle & (t > first_boost - 90.0) & (t < first_boost - 5.0)
    return where


def _boost(values: Values, running: Bools) -> tuple[Bools, Bools]:
    """Blocks at high power, some seconds after it was set; and all that are clearly above idle."""
    for name, least_ratio in (("rpm", 1.45), ("map", 1.6)):
        x = values.get(name)
        if x is None:
            continue
        seen = x[running & np.isfinite(x)]
        if seen.size < 10:
            continue
        low, high = np.quantile(seen, (0.15, 0.99))
        if low <= 0 or high < least_ratio * low:
            continue
        with np.errstate(invalid="ignore"):
            near_top = running & (x > low + 0.8 * (high - low))
            above = running & (x > low + 0.35 * (high - low))
        # The probes need some seconds: leave out the first block of each stretch where there are enough.
        settled = near_top & np.roll(near_top, 1) & np.roll(near_top, 2)
        return (settled if settled.sum() >= 3 else near_top), above
    return np.zeros(running.size, bool), np.zeros(running.size, bool)


def _row(x: Floats, where: Mapping[str, Bools], view: Windows, steps: list[tuple[Bools, Bools, float]]) -> Floats:
    row = np.full(len(WINDOWS), np.nan)
    good = np.isfinite(x)
    for name, mask in where.items():
        part = x[mask & good]
        if part.size:
            row[W[name]] = np.median(part)
    part = x[view.running & good]
    if part.size >= 5:
        row[W["run_high"]], row[W["run_low"]] = np.quantile(part, (0.97, 0.1))
    part = x[view.crank & good]
    if part.size:
        row[W["crank_low"]] = part.min()
    moves = []
    for before, after, sign in steps:
        a, b = x[before & good], x[after & good]
        if a.size and b.size:
            moves.append(sign * (np.median(b) - np.median(a)))
    if moves:
        row[W["unloaded"]] = np.median(x[view.running & good]) if (view.running & good).any() else np.nan
        row[W["loaded"]] = row[W["unloaded"]] + np.median(moves)
    return row


def _load_steps(view: Windows) -> list[tuple[Bools, Bools, float]]:
    """Steps of the bus voltage while nothing else happens: blocks before, blocks after, +1 where a load came on."""
    bus = view.values.get("bus")
    if bus is None:
        return []
    t = view.time_s
    # Engine off, a step of the bus is the fuel pump itself as likely as a lamp.
    quiet = view.idle
    drop = np.diff(bus)
    with np.errstate(invalid="ignore"):
        places = np.flatnonzero((np.abs(drop) > 0.22) & quiet[1:] & quiet[:-1])
    rpm = view.values.get("rpm")
    found: list[tuple[Bools, Bools, float]] = []
    last = -1e9
    for i in places:
        at = t[i + 1]
        if at - last < 8.0:
            continue
        before = quiet & (t > at - 6.0) & (t < at - 0.2)
        after = quiet & (t > at + 0.3) & (t < at + 5.0)
        if before.sum() < 2 or after.sum() < 2:
            continue
        change = np.nanmedian(bus[after]) - np.nanmedian(bus[before])
        if abs(change) < 0.15:
            continue
        if rpm is not None:
            a, b = np.nanmedian(rpm[before]), np.nanmedian(rpm[after])
            if abs(b - a) > 0.06 * max(a, b, 500.0):
                continue
        found.append((before, after, -float(np.sign(change))))
        last = at
        if len(found) == 12:
            break
    return found
