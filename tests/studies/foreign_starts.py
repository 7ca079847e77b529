"""Invented first starts of a second maker, to score a judge that was never tuned on them.

One seed gives LOG.csv, SETUP.toml and TRUTH.json, and TWIN.csv, the same start with nothing wrong. Three logs in ten
are healthy. Seeds from 1 000 000 on are kept for the final score and should not be looked at while tuning.

Run `python -m tests.studies.foreign_starts FOLDER --count 100 --first 0` to write a folder of them,
`--kind KIND` for one kind only.
"""

from __future__ import annotations

import argparse
import json
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from tests.studies.foreign.day import CHANNELS, STEP_S, THERMISTORS, draw_day
from tests.studies.foreign.mischief import HEALTHY, KINDS, draw_mischief
from tests.studies.foreign.panel import draw_panel, show
from tests.studies.foreign.paper import draw_layout, log_text, rounded, setup_text
from tests.studies.foreign.plant import run_engine

TOLERANCE = {**dict.fromkeys(THERMISTORS, 3.0), "oil_pressure": 20e3, "fuel_pressure": 12e3, "map": 2e3}
"""What is worth acting on, degC or Pa (issue 5)."""

EDGES = {"": (0.5, 1.5, 3.0, 8.0), "noisy": (0.3, 1.0, 2.0, 4.0)}
BUCKETS = ("unseen", "faint", "mild", "clear", "gross")
HEALTHY_SHARE = 0.3
CLEARLY = {"oil_pressure": 8e3, "fuel_pressure": 6e3, "map": 1.5e3}
"""A state that a typed limit is broken by less than this (1 degC else) is too near to be called broken or kept."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ForeignStart:
    """One invented start: the two texts and what is true."""

    seed: int
    log: str
    setup: str
    truth: dict
    twin: dict
    shown: dict
    time_s: np.ndarray
    state: dict
    twin_text: str


def make_start(seed, kind=None):
    """Make the start of this seed; `kind` overrides what the seed would draw ('healthy' or one of KINDS).

    Examples
    --------
    >>> start = make_start(7)
    >>> start.log == make_start(7).log and start.truth["bucket"] in ("healthy", *BUCKETS)
    True
    """
    rng = np.random.default_rng([seed, 77])
    drawn = "healthy" if rng.random() < HEALTHY_SHARE else str(rng.choice(KINDS))
    kind = kind or drawn
    panel = draw_panel(seed)
    # Heat takes its time: most hot engines are run long enough to show it.
    least_s = 480.0 if kind in {"overheat_real", "coolant_airlock_real"} and rng.random() < 0.75 else 0.0
    for attempt in range(60):
        day = draw_day(seed, attempt)
        if day.plan.running.sum() * STEP_S < least_s:
            continue
        sound = run_engine(day)
        if not broken_limits(day, sound):  # a healthy engine keeps its limits; else the maker would not sell it so
            break
    layout = draw_layout(day, panel, sound)
    mischief = HEALTHY if kind == "healthy" else draw_mischief(kind, day, panel, sound, layout.units)
    if mischief.pilot_stops_s is not None:
        day = replace(day, plan=_stopped(day.plan, mischief.pilot_stops_s))
        sound = run_engine(day)
        layout = draw_layout(day, panel, sound)
    truth = run_engine(day, mischief.trouble) if kind.endswith("_real") else sound
    twin = rounded(layout, show(day, panel, sound, HEALTHY.edits))
    shown = twin if kind == "healthy" else rounded(layout, show(day, panel, truth, mischief.edits))
    time = layout.index * STEP_S
    lost = mischief.edits.lost_rows
    effect, worst = _effect(time, shown, twin, lost)
    broken = broken_limits(day, truth)
    facts = {
        "seed": seed, "kind": kind, "channels": list(mischief.channels), "size": mischief.size,
        "effect": round(min(effect, 999.0), 3), "worst_channel": worst,
        "bucket": "healthy" if kind == "healthy" else bucket_of(kind, effect),
        "broken_limits": broken, "cold_oil_over_limit": _cold_oil(day, truth), "sparse": layout.sparse,
        "headings": {name: layout.headings[name] for name in layout.order}, "start": day.weather.start,
        "fire_s": day.plan.fire_s, "stop_s": day.plan.stop_s,
        "limits": {k: list(v) for k, v in day.make.limits.items()},
        "ranges": {k: list(v) for k, v in panel.ranges.items()},
    }  # fmt: skip
    return ForeignStart(
        seed=seed, log=log_text(day, layout, shown, lost), setup=setup_text(day, panel, layout), truth=facts, twin=twin,
        shown=shown, time_s=time, twin_text=log_text(day, layout, twin, []),
        state={name: truth.state[name][layout.index] for name in CHANNELS},
    )  # fmt: skip


def bucket_of(kind, effect):
    """Name the size class of an effect.

    Examples
    --------
    >>> bucket_of("stuck", 2.0), bucket_of("noise", 2.0)
    ('mild', 'clear')
    """
    edges = EDGES["noisy" if kind in {"noise", "map_pulsation"} else ""]
    return BUCKETS[int(np.searchsorted(edges, effect, side="right"))]


def broken_limits(day, truth):
    """Name the typed limits that the true state broke for some seconds, with by how much at most.

    Low limits count from ten seconds after the start until the stop. Cold oil above its limit is legitimate: left out.
    """
    plan = day.plan
    since = plan.time_s - (plan.fire_s if plan.fire_s is not None else np.inf)
    on = plan.running & (since > 10.0)
    out = {}
    for name, (low, high) in day.make.limits.items():
        state, near = truth.state[name], CLEARLY.get(name, 1.0)
        over = np.zeros_like(on) if high is None else state > high + near
        if name == "oil_pressure":
            over &= truth.oil_warm
        under = np.zeros_like(on) if low is None else (state < low - near) & on
        for side, bad in (("high", over), ("low", under)):
            if bad.sum() * STEP_S >= 5.0:
                by = (state - high).max() if side == "high" else (low - state[on]).max()
                out[f"{name} {side}"] = round(float(by), 2)
    return out


def _cold_oil(day, truth):
    high = day.make.limits.get("oil_pressure", (None, None))[1]
    return bool(high is not None and (truth.state["oil_pressure"] > high).any())


def _effect(time, shown, twin, lost_rows):
    """95th percentile of difference from the twin over tolerance, on the worst channel; a blank counts as infinite."""
    gone = np.zeros(time.size, bool)
    for at, length in lost_rows:
        gone |= (time >= at) & (time < at + length)
    most, worst = 0.0, ""
    for name, tolerance in TOLERANCE.items():
        a, b = shown[name], twin[name]
        apart = np.abs(a - b) / tolerance
        apart = np.where(np.isnan(a) != np.isnan(b), np.inf, np.nan_to_num(apart, nan=0.0))
        apart = np.sort(np.where(gone, np.inf, apart))
        value = float(apart[min(apart.size - 1, int(0.95 * apart.size))])
        if value > most:
            most, worst = value, name
    return most, worst


def _stopped(plan, after_fire_s):
    """The pilot has seen it and stops."""
    if plan.fire_s is None:
        return plan
    at = min(int((plan.fire_s + after_fire_s) / STEP_S), plan.running.size - 2)
    early = np.arange(plan.running.size) < at
    if not plan.running[at:].any():
        return plan
    return replace(
        plan,
        command_rpm=plan.command_rpm * early,
        running=plan.running & early,
        pump=plan.pump & early,
        stop_s=at * STEP_S,
    )


def write_start(start, folder, *, twin=True):
    """Write LOG.csv, SETUP.toml, TRUTH.json and TWIN.csv of a start into a folder."""
    folder = Path(folder)
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "LOG.csv").write_text(start.log, encoding="utf-8", newline="\n")
    (folder / "SETUP.toml").write_text(start.setup, encoding="utf-8", newline="\n")
    (folder / "TRUTH.json").write_text(json.dumps(start.truth, indent=1), encoding="utf-8", newline="\n")
    if twin:
        (folder / "TWIN.csv").write_text(start.twin_text, encoding="utf-8", newline="\n")


def main(arguments=None):
    """Write a folder of starts."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument("--count", type=int, default=20)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--kind", choices=["healthy", *KINDS])
    told = parser.parse_args(arguments)
    for seed in range(told.first, told.first + told.count):
        start = make_start(seed, told.kind)
        write_start(start, told.folder / f"{seed:07d}-{start.truth['kind']}")
        print(seed, start.truth["kind"], start.truth["bucket"], start.truth["effect"], start.truth["broken_limits"])


if __name__ == "__main__":
    main()
