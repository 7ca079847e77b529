"""What the engine was doing row by row, found from the log itself: any channel may be missing, or be the faulty one."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sensorcal.errors import InputError
from sensorcal.firststart.channels import PHASES, Span
from sensorcal.firststart.enginepower import power_of_rows
from sensorcal.firststart.engineturns import Turning, turning
from sensorcal.firststart.events import FIRST_S, SPUN_DOWN_S, events_of
from sensorcal.firststart.startlog import StartLog

Codes = NDArray[np.int8]
Mask = NDArray[np.bool_]

UNKNOWN = -1
_RUNNING = ("first_30_s", "idle", "warm_up", "run_up")
_CODE = {name: np.int8(index) for index, name in enumerate(PHASES)}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Phases:
    """The phases of a log.

    Parameters
    ----------
    spans : tuple of Span
        In order of time; each reaches to the first row of the next one.
    code : ndarray of int8, shape (n,)
        By row: index into `channels.PHASES`, -1 where it is not known.
    start_s, stop_s : float or None
        When the engine (last) fires and keeps running for the first time, and when it stops for good; None where
        the log does not show it, as when it begins or ends with the engine running.
    crank : tuple of Span
        Every stretch of cranking, a pause of the log included where the monitor restarted meanwhile.
    notes : tuple of str
        From what it was known, and what is doubtful.
    """

    spans: tuple[Span, ...]
    code: Codes
    start_s: float | None = None
    stop_s: float | None = None
    crank: tuple[Span, ...] = ()
    notes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        """Copy the codes and lock the copy."""
        code = np.array(self.code, dtype=np.int8)
        code.flags.writeable = False
        object.__setattr__(self, "code", code)

    def mask(self, *names: str) -> Mask:
        """Give the rows that lie in any of the phases named."""
        for name in names:
            if name not in _CODE:
                raise InputError(f"{name!r} is no phase", do=f"use one of {', '.join(PHASES)}")
        return np.isin(self.code, [_CODE[name] for name in names])

    def has(self, name: str) -> bool:
        """Say whether any row lies in that phase."""
        return bool(self.mask(name).any())


def find_phases(log: StartLog) -> Phases:
    """Find rest, pump, crank, first 30 s, idle, warm-up, run-up, shutdown and soak in a log.

    Parameters
    ----------
    log : StartLog
        A logger's rows, or an event list, whose labels then rule.

    Returns
    -------
    Phases
        'idle' is running at idle speed, whatever the temperatures; 'warm_up' is running faster than that, below
        run-up power; without any engine speed, low power while coolant or gearbox oil still rise is 'warm_up'.
        'run_up' is high power, 'shutdown' the ten seconds after a stop, 'soak' what follows.

    Notes
    -----
    Engine speed says whether the engine runs. Where it is missing or never moves, manifold pressure, oil pressure and
    bus voltage vote, so that one of them may be faulty. All thresholds are common practice, no source.

    Examples
    --------
    >>> from sensorcal.firststart.startlog import start_log
    >>> rpm = [0.0] * 20 + [220.0] * 3 + [1600.0] * 60 + [0.0] * 20
    >>> phases = find_phases(start_log(range(103), {"rpm": rpm}))
    >>> phases.start_s, phases.stop_s, [span.phase for span in phases.spans]
    (23.0, 83.0, ['rest', 'crank', 'first_30_s', 'idle', 'shutdown', 'soak'])
    """
    if log.kind == "events":
        return _from_labels(log)
    return _from_rows(log)


def _from_rows(log: StartLog) -> Phases:
    """Find the phases of a logger's rows."""
    engine = turning(log)
    time_s, n = log.time_s, len(log)
    code = np.full(n, UNKNOWN, dtype=np.int8)
    start_s: float | None = None
    stop_s: float | None = None
    ends = [(0, False), *((run.stop, True) for run in engine.runs)]
    starts = [*(run.start for run in engine.runs), n]
    for (begin, after_run), end in zip(ends, starts, strict=True):
        _engine_off(log, engine, code, begin, end, after_run=after_run)
    for run in engine.runs:
        _running(log, engine, code, run)
        if run.start > 0 and start_s is None:
            start_s = float(time_s[run.start])
    if engine.runs and engine.runs[-1].stop < n:
        stop_s = float(time_s[engine.runs[-1].stop])
    for span in engine.crank:
        code[span] = _CODE["crank"]
    code[~engine.known] = UNKNOWN
    return Phases(
        spans=_spans(code, time_s), code=code, start_s=start_s, stop_s=stop_s, crank=_cranks(log, engine),
        notes=engine.notes,
    )  # fmt: skip


def _engine_off(log: StartLog, engine: Turning, code: Codes, begin: int, end: int, *, after_run: bool) -> None:
    """Name the rows of one stretch without the engine running."""
    if end <= begin:
        return
    time_s = log.time_s
    if after_run:
        spun_down = time_s[begin:end] < time_s[begin] + SPUN_DOWN_S
        code[begin:end] = np.where(spun_down, _CODE["shutdown"], _CODE["soak"])
        return
    code[begin:end] = _CODE["rest"]
    if engine.pump_from is not None and begin <= engine.pump_from < end:
        code[engine.pump_from : end] = _CODE["pump"]


def _running(log: StartLog, engine: Turning, code: Codes, run: slice) -> None:
    """Name the rows of one run of the engine."""
    time_s = log.time_s
    code[run] = np.where(
        engine.high_power[run], _CODE["run_up"], np.where(engine.fast[run], _CODE["warm_up"], _CODE["idle"])
    )
    if run.start > 0:
        first = time_s[run] < time_s[run.start] + FIRST_S
        code[run][first] = _CODE["first_30_s"]


def _cranks(log: StartLog, engine: Turning) -> tuple[Span, ...]:
    """Give the stretches of cranking in time, with the pause of the log in which the monitor restarted."""
    time_s = log.time_s
    last = len(log) - 1
    found = [
        Span(phase="crank", start_s=float(time_s[one.start]), end_s=float(time_s[min(one.stop, last)]))
        for one in engine.crank
    ]
    for begin, end in engine.dark:
        held = next((span for span in found if span.end_s >= begin and span.start_s <= end), None)
        if held is None:
            found.append(Span(phase="crank", start_s=begin, end_s=end))
        elif held.end_s < end:
            found[found.index(held)] = Span(phase="crank", start_s=held.start_s, end_s=end)
    return tuple(sorted(found, key=lambda span: span.start_s))


def _from_labels(log: StartLog) -> Phases:
    """Take the phases from the labels of an event list."""
    events = events_of(log.labels)
    time_s = log.time_s
    code = np.array([_CODE[event.phase] if event else UNKNOWN for event in events], dtype=np.int8)
    running = np.array([event is not None and event.phase in _RUNNING for event in events])
    only_time = np.array([event is not None and not event.said for event in events])
    level = power_of_rows(log, running)
    if level is not None:
        named = np.array([_CODE["idle"], _CODE["warm_up"], _CODE["run_up"]])
        code[only_time] = named[level[only_time]]
    for index, event in enumerate(events):
        if event is not None and event.kind == "stop" and index and running[index - 1] and _still_runs(log, index):
            code[index] = code[index - 1]
    start_s: float | None = None
    stop_s: float | None = None
    crank = []
    for index, event in enumerate(events):
        if event is None:
            continue
        if event.kind == "after start" and start_s is None:
            start_s = float(time_s[index]) - (event.offset_s or 0.0)
        elif event.kind == "stop":
            stop_s = float(time_s[index])
        elif event.kind == "crank":
            end_s = float(time_s[min(index + 1, len(log) - 1)])
            crank.append(Span(phase="crank", start_s=float(time_s[index]), end_s=end_s))
    return Phases(
        spans=_spans(code, time_s), code=code, start_s=start_s, stop_s=stop_s, crank=tuple(crank),
        notes=("the phases are those of the labels; their times are nominal",),
    )  # fmt: skip


def _still_runs(log: StartLog, row: int) -> bool:
    """Say whether the readings at 'stop' are those just before it: the speed says so, else manifold, else oil."""
    for channel in ("rpm", "map", "oil_pressure"):
        if not log.has(channel):
            continue
        numbers = log.values[channel]
        off, on, here = (float(numbers[at]) for at in (0, row - 1, row))  # a list begins with the engine off
        if np.isfinite([off, on, here]).all() and abs(on - off) > 0.1 * max(abs(on), abs(off)):
            return abs(here - on) < abs(here - off)
    return False


def _spans(code: Codes, time_s: NDArray[np.float64]) -> tuple[Span, ...]:
    """Put the codes of the rows together to spans."""
    edges = [0, *(np.flatnonzero(np.diff(code)) + 1).tolist(), code.size]
    return tuple(
        Span(phase=PHASES[code[a]], start_s=float(time_s[a]), end_s=float(time_s[min(b, code.size - 1)]))
        for a, b in itertools.pairwise(edges)
        if code[a] != UNKNOWN
    )
