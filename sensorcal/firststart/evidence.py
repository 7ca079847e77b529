"""Why a cause stands: the lines of the healthy engine that do not fit, with what was seen and what would have fitted.

The interval that 'would have fitted' is asked of the very lines that judge (`healthy`): the value of one window is
moved until the line falls by as much as two standard deviations cost. Nothing is stated twice.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from sensorcal.engine import PRESSURES, TEMPERATURES
from sensorcal.firststart.cause import Cause
from sensorcal.firststart.channels import WORDS
from sensorcal.firststart.healthy import Context, healthy
from sensorcal.firststart.summary import W
from sensorcal.firststart.words import WHEN, number_text, symbol_of, where_words
from sensorcal.setup import UnitsOut

if TYPE_CHECKING:
    from sensorcal.firststart.judge import Verdict

Floats = NDArray[np.float64]

_COST = 1.8  # log-likelihood that two standard deviations cost a line with tails: 19 times in 20 a sound one keeps it
_USUAL_COST = 0.47  # and one standard deviation: two times in three
_LEAST_GAIN, _USUAL_GAIN = 1.0, 0.4
_MOST = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """One sentence that speaks for a finding, and when it was seen.

    Parameters
    ----------
    text : str
    start_s, end_s : float or None
        Since the log's first row; None for what concerns the whole log.
    """

    text: str
    start_s: float | None = None
    end_s: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What a line asks of one channel.

    Parameters
    ----------
    channel, window : str
        The number that is moved to see what would fit.
    words : str
    against : (channel, window) or None
        What it is compared with, where a difference is asked for.
    together : tuple of str
        Windows of the channel that move with it.
    others : tuple of str
        Channels that move with it, their distances kept.
    """

    channel: str
    window: str
    words: str
    against: tuple[str, str] | None = None
    together: tuple[str, ...] = ()
    others: tuple[str, ...] = ()


_BY_LABEL: dict[str, tuple[str, str, str | None, tuple[str, ...]]] = {
    "crank_step": ("crank", "when cranking begins {what} moves by", "before", ()),
    "start_step": ("after_start", "5 to 15 s after the start {what} has moved by", "before", ()),
    "stop_step": ("after_stop", "3 to 10 s after the stop {what} has moved by", "end_run", ()),
    "load_step": ("loaded", "when an electrical load comes on {what} moves by", "unloaded", ()),
    "below_air": ("run_low", "{what} while running, at its lowest:", None, ()),
    "before": ("before", "{what} just before cranking:", None, ()),
    "onset_late": ("s120", "{what} two minutes after the start:", None, ()),
    "surge": ("boost", "{what} at high power:", None, ()),
    "onset": ("s60", "{what} one minute after the start:", None, ()),
    "plateau": ("end_run", "{what} steady at the end of the run:", None, ("s600",)),
    "too_hot": ("run_high", "{what} while running, at its highest:", None, ()),
    "soak": ("soak60", "in the minutes after the stop {what} moves by", "end_run", ("soak150",)),
    "after_soak": ("soak150", "in the minutes after the stop {what} moves by", "end_run", ()),
    "behind": ("end_run", "{what} at the end of the run:", None, ()),
    "idle_cold": ("idle_cold", "{what} at the first idle:", None, ()),
    "idle_warm": ("idle_warm", "{what} at the warm idle:", None, ()),
    "boost": ("boost", "{what} at high power:", None, ()),
    "climb": ("boost", "from idle to high power {what} moves by", "near_boost", ()),
    "rest": ("rest", "{what} at rest before the start:", None, ()),
    "again": ("again", "{what} after the stop:", None, ()),
    "crank": ("crank_low", "while cranking {what} moves by", "rest", ()),
    "vacuum": ("run_low", "{what} while running, at its lowest:", None, ()),
    "level": ("run_high", "{what} while running, at its highest:", None, ()),
    "idle": ("idle_warm", "{what} at the warm idle:", None, ()),
    "with_speed": ("boost", "{what} at high power:", None, ()),
    "power": ("boost", "{what} at high power:", None, ()),
}
_BY_NAME = {
    "map.again": ("again", "between rest before and rest after {what} has moved by", "rest", ()),
    "map.idle": ("idle_warm", "{what} at the warm idle:", None, ("run_low",)),
    "fuel_pressure.level": ("idle_warm", "{what} at idle:", None, ("idle_cold",)),
}
_PAIRS = {
    "charge.idle_cold_pair": ("idle_cold", "at the first idle"), "charge.idle_warm_pair": ("idle_warm", "at warm idle"),
    "charge.order": ("boost", "at high power"), "charge.effectiveness": ("boost", "at high power"),
}  # fmt: skip


def questions_of(line: str, rows: Mapping[str, Floats], channels: Sequence[str] = ()) -> tuple[Asked, ...]:
    """What a line of the healthy engine asks, so that it can be said in words; empty where no words are known.

    Parameters
    ----------
    line : str
        Name of the line, as in `Verdict.lines`.
    rows : mapping of channel to (windows,) float
    channels : sequence of str, optional
        Channels of the cause in question; all where left out.

    Returns
    -------
    tuple of Asked
    """
    if line == "rest":
        resting = [name for name in TEMPERATURES if name in rows and np.isfinite(rows[name][W["rest"]])]
        moved = [name for name in resting if not channels or name in channels]
        if len(moved) < 2:
            return tuple(_asked(name, _BY_LABEL["rest"]) for name in moved)
        words = f"{where_words(moved)} at rest before the start, {WORDS[moved[0]]} at"
        return (Asked(channel=moved[0], window="rest", words=words, others=tuple(moved[1:])),)
    if line in _PAIRS:
        window, when = _PAIRS[line]
        words = f"charge air before minus after the cooler {when}:"
        return (Asked(channel="charge_in", window=window, words=words, against=("charge_out", window)),)
    channel, _, label = line.partition(".")
    if channel not in rows:
        pair = [name for name in (f"{channel}_in", f"{channel}_out") if name in rows]
        return tuple(asked for name in pair for asked in _anywhere(name))
    if line == "coolant.rate":
        minutes = {"s120": "two", "s180": "three", "s300": "five"}
        return tuple(
            Asked(channel=channel, window=window, words=f"coolant {minutes[window]} minutes after the start:")
            for window in ("s300", "s180", "s120")
        )
    if line == "map.rest" and not np.isfinite(rows["map"][W["rest"]]):
        return (_asked(channel, _BY_LABEL["again"]),)
    found = _BY_NAME.get(line) or _BY_LABEL.get(label)
    return _anywhere(channel) if found is None else (_asked(channel, found),)


def _anywhere(channel: str) -> tuple[Asked, ...]:
    """Ask every window in turn, where no words stand ready for a line."""
    return tuple(
        Asked(channel=channel, window=window, words=f"{WORDS[channel]} {when}:")
        for window, when in WHEN.items() if window != "loaded"
    )  # fmt: skip


def _asked(channel: str, how: tuple[str, str, str | None, tuple[str, ...]]) -> Asked:
    window, words, against, together = how
    return Asked(
        channel=channel, window=window, words=words.format(what=WORDS[channel]),
        against=None if against is None else (channel, against), together=together,
    )  # fmt: skip


def line_evidence(cause: Cause, rows: Mapping[str, Floats], verdict: Verdict, units: UnitsOut) -> list[Evidence]:
    """Say which lines a cause explains better than a sound installation does, the strongest first.

    Parameters
    ----------
    cause : Cause
    rows : mapping of channel to (windows,) float
        The summary against which the cause was weighed: what stronger causes did is undone in it.
    verdict : Verdict
    units : UnitsOut

    Returns
    -------
    list of Evidence
        At most four; where none lies outside what would fit, those that are unusual; empty where the lines say
        nothing.
    """
    for cost, least in ((_COST, _LEAST_GAIN), (_USUAL_COST, _USUAL_GAIN)):
        if told := _told(cause, rows, verdict, units, cost, least):
            return told
    return []


def _told(
    cause: Cause, rows: Mapping[str, Floats], verdict: Verdict, units: UnitsOut, cost: float, least: float
) -> list[Evidence]:
    context = context_of(verdict)
    told: list[tuple[float, Evidence]] = []
    said: set[tuple[str, str, str]] = set()
    for line, gain in sorted(cause.lines.items(), key=lambda item: -item[1]):
        if gain < least:
            break
        for asked in questions_of(line, rows, cause.channels):
            key = (asked.channel, asked.window, "" if asked.against is None else asked.against[0])
            if key in said:
                continue
            sentence = _sentence(line, asked, cause, rows, context, units, cost)
            if sentence is None:
                continue
            said.add(key)
            start_s, end_s = window_span(verdict, asked.window)
            told.append((gain, Evidence(text=sentence, start_s=start_s, end_s=end_s)))
            break
    return [evidence for _, evidence in told[:_MOST]]


def context_of(verdict: Verdict) -> Context:
    """What the lines need besides the rows, as the judge had it."""
    log = verdict.log
    return Context(
        facts=verdict.facts, ambient_c=verdict.view.ambient_c, u_ambient_c=verdict.view.u_ambient_c,
        resolution={name: log.resolution(name) for name in verdict.summary.rows},
    )  # fmt: skip


def _sentence(
    line: str, asked: Asked, cause: Cause, rows: Mapping[str, Floats], context: Context, units: UnitsOut, cost: float
) -> str | None:
    seen = float(rows[asked.channel][W[asked.window]])
    if not np.isfinite(seen):
        return None
    base = _base(asked, rows)
    if base is None:
        return None
    fitting = fitting_range(line, asked, rows, context, cost)
    if fitting is None or fitting[0] <= seen <= fitting[1]:
        return None
    channel, moved, symbol = asked.channel, asked.against is not None, symbol_of(asked.channel, units)
    low, high = (
        None if not np.isfinite(end) else number_text(channel, end - base, units, difference=moved) for end in fitting
    )
    if low is not None and high is not None:
        would = f"{low} to {high}"
    else:
        would = f"{high} or less" if low is None else f"{low} or more"
    would += " would fit" if cost == _COST else " is usual"
    undone = cause.rows.get(channel)
    if undone is not None:
        back, base_back = float(undone[W[asked.window]]), _base(asked, {**rows, **cause.rows})
        if np.isfinite(back) and base_back is not None:
            would += f"; without this cause {number_text(channel, back - base_back, units, difference=moved)}"
    return f"{asked.words} {number_text(channel, seen - base, units, difference=moved)} {symbol} ({would})"


def _base(asked: Asked, rows: Mapping[str, Floats]) -> float | None:
    """What the window is compared with; 0 where its own value counts, None where that is not known."""
    if asked.against is None:
        return 0.0
    channel, window = asked.against
    row = rows.get(channel)
    if row is None:
        return None
    value = float(row[W[window]])
    if not np.isfinite(value) and window == "before":
        value = float(row[W["rest"]])
    return value if np.isfinite(value) else None


def fitting_range(
    line: str, asked: Asked, rows: Mapping[str, Floats], context: Context, cost: float = _COST
) -> tuple[float, float] | None:
    """Give the values of a window that a sound installation would show, all others as they are.

    Parameters
    ----------
    line : str
    asked : Asked
    rows : mapping of channel to (windows,) float
    context : Context
    cost : float
        Log-likelihood that the line may lose; what two standard deviations cost, if left out.

    Returns
    -------
    tuple of float or None
        Home unit; an end that is open is infinite; None where the line does not depend on the window.
    """
    channel = asked.channel
    row = rows[channel]
    grid = _grid(channel, float(row[W[asked.window]]), context)
    moved = np.broadcast_to(row, (grid.size, row.size)).copy()
    for window in (asked.window, *asked.together):
        if window == asked.window or np.isfinite(row[W[window]]):
            moved[:, W[window]] = grid
    changed = {**rows, channel: moved}
    for other in asked.others:
        with_it = np.broadcast_to(rows[other], (grid.size, row.size)).copy()
        with_it[:, W[asked.window]] = grid + (rows[other][W[asked.window]] - row[W[asked.window]])
        changed[other] = with_it
    values = healthy(changed, context, (channel,)).get(line)
    if values is None or values.shape != grid.shape:
        return None
    known = np.isfinite(values)
    if known.sum() < 3 or float(np.ptp(values[known])) < cost:
        return None
    best = float(values[known].max())
    fits = np.flatnonzero(known & (values >= best - cost))
    first, last = int(fits[0]), int(fits[-1])
    return _edge(grid, values, first, -1, best - cost), _edge(grid, values, last, 1, best - cost)


def _grid(channel: str, seen: float, context: Context) -> Floats:
    if channel in TEMPERATURES:
        wide, fine = np.linspace(-60.0, 220.0, 561), 3.0
    else:
        low, high = context.facts.ranges_pa[channel] if channel in PRESSURES else (0.0, 1e6)
        wide, fine = np.linspace(low - 0.3 * (high - low), high + 0.3 * (high - low), 641), 0.01 * (high - low)
    return np.unique(np.concatenate((wide, seen + np.linspace(-fine, fine, 61))))


def _edge(grid: Floats, values: Floats, index: int, step: int, level: float) -> float:
    """Where the line crosses the level beside the last value that fits; infinite at the end of the grid."""
    beside = index + step
    if beside < 0 or beside >= grid.size:
        return float(step) * np.inf
    if not np.isfinite(values[beside]):
        return float(grid[index])
    share = (values[index] - level) / (values[index] - values[beside])
    return float(grid[index] + share * (grid[beside] - grid[index]))


# --- when it was seen ---------------------------------------------------------------------------------------------

_AFTER_START = {"s60": (45.0, 75.0), "s120": (105.0, 135.0), "s180": (165.0, 195.0), "s300": (280.0, 320.0),
                "s600": (580.0, 620.0), "after_start": (5.0, 15.0)}  # fmt: skip
_AFTER_STOP = {"soak60": (40.0, 80.0), "soak150": (120.0, 180.0), "soak280": (240.0, 320.0), "after_stop": (3.0, 10.0)}


def window_span(verdict: Verdict, window: str) -> tuple[float | None, float | None]:
    """Give the first and last second of a window of the summary, since the log's first row."""
    view = verdict.view
    last_s = float(verdict.log.time_s[-1])
    for names, origin in ((_AFTER_START, view.start_s), (_AFTER_STOP, view.stop_s)):
        if window in names and origin is not None:
            a, b = names[window]
            return origin + a, min(origin + b, last_s)
    masks = {
        "rest": view.rest, "before": view.before, "crank": view.crank, "crank_low": view.crank,
        "end_run": view.end_run, "again": view.at_rest_again, "idle_cold": view.idle, "idle_warm": view.idle,
        "near_boost": view.idle, "unloaded": view.idle, "loaded": view.idle, "run_high": view.running,
        "run_low": view.running,
    }  # fmt: skip
    if window == "boost":
        spans = [span for span in verdict.phases.spans if span.phase == "run_up"]
        return (spans[0].start_s, spans[-1].end_s) if spans else _ends(view.time_s, view.running)
    return _ends(view.time_s, masks[window]) if window in masks else (None, None)


def _ends(time_s: Floats, mask: NDArray[np.bool_]) -> tuple[float | None, float | None]:
    inside = time_s[mask]
    return (float(inside[0]), float(inside[-1])) if inside.size else (None, None)
