"""The words of an event list typed afterwards, such as master, pump, crank, 10 s, 2 min, stop, +3 min."""

from __future__ import annotations

import itertools
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

EventKind = Literal["rest", "pump", "crank", "after start", "running", "stop", "after stop"]

_WORDS: dict[EventKind, dict[str, tuple[str, ...]]] = {
    "rest": {"rest": ("master", "power", "battery", "key", "before", "rest", "cold", "avionics", "off")},
    "pump": {"pump": ("pump", "boost pump", "fuel pump")},
    "crank": {"crank": ("crank", "cranking", "starter", "cranked")},
    "after start": {"first_30_s": ("start", "started", "fires", "fired", "firing", "catches", "lit", "running")},
    "running": {
        "idle": ("idle", "idling", "slow"),
        "warm_up": ("warm", "warmup", "warming", "fast"),
        "run_up": ("runup", "run up", "full", "static", "mag", "mags", "ignition", "takeoff", "load", "throttle"),
    },
    "stop": {"shutdown": ("stop", "stopped", "shutdown", "shut", "shut down", "cut", "cutoff", "kill")},
    "after stop": {"soak": ("soak", "cooling", "after")},
}  # fmt: skip
_LOOKUP = {word: (kind, phase) for kind, phases in _WORDS.items() for phase, words in phases.items() for word in words}
_TIME = re.compile(
    r"(?:t\s*)?(\+)?\s*(\d+(?:[.,]\d+)?)\s*(s|sec|secs|second|seconds|min|mins|minute|minutes|m|h|\"|')(?![a-z])"
)
_SECONDS = {"s": 1.0, '"': 1.0, "m": 60.0, "'": 60.0, "h": 3600.0}

FIRST_S, SPUN_DOWN_S = 30.0, 10.0
"""How long 'first 30 s' and 'shutdown' last: common practice, no source."""

# Where the label gives no time: seconds from the master switch on, in the order of a usual start (common practice, no
# source). They only put the rows in order; no rate is ever taken from them.
_NOMINAL_S: dict[str, float] = {"rest": 0.0, "pump": 30.0, "crank": 40.0, "after start": 45.0}
_STEP_S = 30.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """One row of an event list.

    Parameters
    ----------
    kind : str
        'rest', 'pump', 'crank', 'after start', 'running' (a phase by its word, without a time), 'stop' or 'after stop'.
    phase : str
        One of `channels.PHASES`.
    offset_s : float or None
        Seconds after the start or after the stop, where the label says so.
    said : bool
        False where the label gives only a time, so that the phase is the usual one at that time.
    """

    kind: EventKind
    phase: str
    offset_s: float | None = None
    said: bool = True


def events_of(labels: Sequence[str]) -> tuple[Event | None, ...]:
    """Read the labels of an event list in order; None for one that nobody knows.

    A bare time counts from the start until a 'stop' has been read, and from the stop afterwards.

    Examples
    --------
    >>> [(e.kind, e.phase, e.offset_s) for e in events_of(["master", "crank", "10 s", "stop", "+3 min"])]
    [('rest', 'rest', None), ('crank', 'crank', None), ('after start', 'first_30_s', 10.0), \
('stop', 'shutdown', None), ('after stop', 'soak', 180.0)]
    """
    found: list[Event | None] = []
    stopped = started = False
    for label in labels:
        event = _event(label, started=started, stopped=stopped)
        found.append(event)
        if event is not None:
            stopped = event.kind in {"stop", "after stop"} or (stopped and event.kind in {"rest", "pump"})
            started = event.kind not in {"rest", "pump"} or (started and stopped)
    return tuple(found)


def nominal_times(events: Sequence[Event | None]) -> tuple[float, ...]:
    """Give each event a time in seconds after the first row, rising, from its label or from the usual order.

    Examples
    --------
    >>> nominal_times(events_of(["master", "pump", "crank", "10 s", "5 min", "stop", "+10 s"]))
    (0.0, 30.0, 40.0, 55.0, 345.0, 375.0, 385.0)
    """
    times: list[float] = []
    start_s = stop_s = 0.0
    for event in events:
        last = times[-1] if times else 0.0
        kind = event.kind if event else ""
        after = 0.0 if not times else last + _STEP_S
        if event is not None and kind in _NOMINAL_S and not stop_s:
            after = _NOMINAL_S[kind] + (event.offset_s or 0.0)
            if kind == "crank":
                start_s = max(after, last) + 5.0
            elif kind == "after start":
                start_s = start_s or _NOMINAL_S[kind]
                after = start_s + (event.offset_s or 0.0)
        elif event is not None and kind == "after stop" and event.offset_s is not None:
            after = stop_s + event.offset_s
        times.append(after if not times or after > last else last + 1.0)
        if kind == "stop":
            stop_s, start_s = times[-1], 0.0
    first = times[0] if times else 0.0
    return tuple(t - first for t in times)


def _event(label: str, *, started: bool, stopped: bool) -> Event | None:
    """Read one label, knowing whether the engine has been started or stopped in the rows above."""
    text = " ".join(re.sub(r"[_\-/]+", " ", label.lower()).split())
    found = _TIME.search(text)
    offset_s = None
    if found:
        unit = found.group(3)
        factor = _SECONDS["m" if unit.startswith("m") else unit[0]]
        offset_s = float(found.group(2).replace(",", ".")) * factor
        text = " ".join((text[: found.start()] + " " + text[found.end() :]).split())
    kind, phase = _by_word(text)
    if offset_s is None:
        if kind == "rest" and started and "off" in text.split():
            return Event(kind="stop", phase="shutdown")
        return Event(kind=kind, phase=phase, offset_s=0.0 if kind == "after start" else None) if kind else None
    if kind in {"stop", "after stop"} or (stopped and kind is None):
        return Event(
            kind="after stop", phase="shutdown" if offset_s <= SPUN_DOWN_S else "soak", offset_s=offset_s
        )
    if kind == "running":
        return Event(kind="after start", phase=phase, offset_s=offset_s)
    if kind in {None, "after start"}:
        phase = "first_30_s" if offset_s <= FIRST_S else "warm_up"
        return Event(kind="after start", phase=phase, offset_s=offset_s, said=offset_s <= FIRST_S)
    return Event(kind=kind, phase=phase)


def _by_word(text: str) -> tuple[EventKind | None, str]:
    """Find the trade word in a label: the whole of it first, then word by word; 'stop' beats what stands beside it."""
    if text in _LOOKUP:
        return _LOOKUP[text]
    found = [_LOOKUP[word] for word in (*text.split(), *(" ".join(p) for p in _pairs(text))) if word in _LOOKUP]
    if "before" in text.split() and "start" in text.split():
        return "rest", "rest"
    for first in ("stop", "pump", "crank", "running", "after start", "after stop", "rest"):
        for kind, phase in found:
            if kind == first:
                return kind, phase
    return None, ""


def _pairs(text: str) -> list[tuple[str, str]]:
    """Give each word with the one after it."""
    return list(itertools.pairwise(text.split()))
