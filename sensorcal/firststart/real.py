"""Trouble of the engine itself, as the channels show it.

Which of it comes first in the findings is decided in one place, `sensorcal.firststart.realfirst`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sensorcal.firststart.channels import WORDS
from sensorcal.firststart.digital import Signs, stretches
from sensorcal.firststart.facts import StartFacts
from sensorcal.firststart.phases import Phases
from sensorcal.firststart.startlog import StartLog

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

NO_OIL_PA = 40e3  # by 30 s at the latest: none means stop (FAA Airplane Flying Handbook, engine start)
NO_OIL_S = 30.0
_USUAL_HIGH_C = {"coolant": 125.0, "gearbox_oil": 145.0}  # where no limit is typed; common practice, no source
_HELD_S = 3.0

STOP = "Stop and check"
LINES = {
    "low_oil_pressure_real": ("oil_pressure.level", "oil_pressure.idle", "oil_pressure.with_speed"),
    "overheat_real": (
        "coolant.plateau", "coolant.too_hot", "coolant.rate", "coolant.onset", "gearbox_oil.too_hot",
        "gearbox_oil.behind", "coolant.soak", "gearbox_oil.after_soak",
    ),
    "coolant_airlock_real": (
        "coolant.plateau", "coolant.rate", "coolant.onset", "coolant.soak", "gearbox_oil.behind",
        "coolant.stop_step", "coolant.start_step",
    ),
    "low_fuel_pressure_real": ("fuel_pressure.level", "fuel_pressure.power", "fuel_pressure.fade"),
}  # fmt: skip
"""Lines of the healthy engine that each trouble puts out of force."""

DO_FIRST = {
    "low_oil_pressure_real": "Stop and check: shut down and do not restart until a mechanical gauge or a finding "
    "(prime, level, relief valve, leak) says otherwise. 'Only the sensor' needs the gauge, not a log.",
    "overheat_real": "Stop and check: idle into wind or shut down by the engine maker's rule; do not open the cap hot.",
    "coolant_airlock_real": "Stop and check: treat it as loss of cooling. Shut down, let it cool below 50 °C, look for "
    "the level and bleed the system.",
    "low_fuel_pressure_real": "Stop and check: filter, pump, vent and leaks, before any flight.",
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Trouble:
    """One sign of real trouble.

    Parameters
    ----------
    kind, channel : str
    crossed : bool
        A limit was crossed (typed, or the handbook's where none is), or the pattern alone is alarming.
    support : float
        Log-likelihood ratio of the pattern itself; zero for a crossed limit, which needs none.
    evidence : tuple of str
    start_s, end_s : float
    worst : float
        In the channel's home unit.
    """

    kind: str
    channel: str
    crossed: bool
    support: float
    evidence: tuple[str, ...]
    start_s: float
    end_s: float
    worst: float


def trouble(log: StartLog, phases: Phases, facts: StartFacts, signs: Mapping[str, Signs]) -> list[Trouble]:
    """Look for real trouble in what the channels show, blanks and rails left out.

    Parameters
    ----------
    log : StartLog
    phases : Phases
    facts : StartFacts
    signs : mapping of channel to Signs

    Returns
    -------
    list of Trouble

    References
    ----------
    Oil pressure within 30 s: FAA Airplane Flying Handbook, engine start. The rest: common practice, no source.
    """
    running = phases.mask("first_30_s", "idle", "warm_up", "run_up")
    if phases.stop_s is not None:
        running = running & (log.time_s < phases.stop_s - 2.0)
    bus = log.values.get("bus")
    if not log.has("rpm") and bus is not None:
        # Without an engine speed the alternator says whether the engine still turns.
        with np.errstate(invalid="ignore"):
            running = running & ~(bus < 12.8)
    found = [
        _low_oil(log, phases, facts, signs, running),
        _low_fuel(log, phases, facts, signs, running),
        *(_hot(log, facts, signs, name) for name in ("coolant", "gearbox_oil", "charge_in", "charge_out")),
        _erratic(log, signs, running),
        _climbing(log, facts, signs, running),
    ]
    return [one for one in found if one is not None]


def _of(log: StartLog, signs: Mapping[str, Signs], channel: str) -> tuple[Floats, Bools] | None:
    if channel not in log.values or channel not in signs:
        return None
    x = log.values[channel]
    good = np.isfinite(x) & ~signs[channel].bad
    return (x, good) if good.any() else None


def _held(log: StartLog, mask: Bools) -> tuple[float, float] | None:
    """First stretch that lasts three seconds and three rows, or all of them where they add up to six seconds."""
    if log.kind == "events":
        parts = stretches(log.time_s, mask)
        return (parts[0].start_s, parts[-1].end_s) if parts else None
    parts = stretches(log.time_s, mask)
    for part in parts:
        if part.end_s - part.start_s >= _HELD_S and part.rows >= 3:
            return part.start_s, part.end_s
    # Many short visits beyond a limit count as a long one.
    step = float(np.median(np.diff(log.time_s))) if len(log) > 1 else 1.0
    again = [part for part in parts if part.rows >= 2]
    if sum(part.rows for part in again) * step >= 2.0 * _HELD_S and len(again) >= 2:
        return again[0].start_s, again[-1].end_s
    return None


def _low_oil(
    log: StartLog, phases: Phases, facts: StartFacts, signs: Mapping[str, Signs], running: Bools
) -> Trouble | None:
    seen = _of(log, signs, "oil_pressure")
    if seen is None:
        return None
    x, good = seen
    typed = facts.low.get("oil_pressure")
    limit = NO_OIL_PA if typed is None else typed
    begin = phases.start_s if phases.start_s is not None else float(log.time_s[0])
    grace = NO_OIL_S if typed is None else max(facts.engine.oil_rise_s, 10.0) + 2.0
    with np.errstate(invalid="ignore"):
        low = running & good & (log.time_s > begin + grace) & (x < limit)
        never = running & good & (log.time_s > begin + 5.0)
        if phases.start_s is not None and never.any() and log.time_s[never][-1] > begin + 8.5:
            # A start that was broken off without oil pressure: no need to wait for the maker's time.
            low |= never & bool((x[never] < 0.8 * limit).all())
    when = _held(log, low)
    if when is None:
        return None
    worst = float(x[low].min())
    name = "the limit" if typed is not None else "40 kPa (no limit is typed)"
    return Trouble(
        kind="low_oil_pressure_real", channel="oil_pressure", crossed=True, support=0.0,
        evidence=((f"oil pressure down to {worst / 1e3:.0f} kPa while running, below {name}"
                  f"{f' of {limit / 1e3:.0f} kPa' if typed is not None else ''}, from {when[0]:.0f} s"),),
        start_s=when[0], end_s=when[1], worst=worst,
    )  # fmt: skip


def _low_fuel(
    log: StartLog, phases: Phases, facts: StartFacts, signs: Mapping[str, Signs], running: Bools
) -> Trouble | None:
    seen = _of(log, signs, "fuel_pressure")
    if seen is None:
        return None
    x, good = seen
    typed = facts.low.get("fuel_pressure")
    begin = phases.start_s if phases.start_s is not None else float(log.time_s[0])
    settled = running & good & (log.time_s > begin + 5.0)
    if typed is None:
        if facts.engine.fuel_set_pa is None or settled.sum() < 10:
            return None
        limit = 0.5 * facts.engine.fuel_set_pa
    else:
        limit = typed
    with np.errstate(invalid="ignore"):
        low = settled & (x < limit)
    when = _held(log, low)
    if when is None:
        return None
    worst = float(x[low].min())
    return Trouble(
        kind="low_fuel_pressure_real", channel="fuel_pressure", crossed=True, support=0.0,
        evidence=((f"fuel pressure down to {worst / 1e3:.0f} kPa while running, below {limit / 1e3:.0f} kPa, "
                  f"from {when[0]:.0f} s"),),
        start_s=when[0], end_s=when[1], worst=worst,
    )  # fmt: skip


def _hot(log: StartLog, facts: StartFacts, signs: Mapping[str, Signs], channel: str) -> Trouble | None:
    seen = _of(log, signs, channel)
    typed = facts.high.get(channel)
    limit = typed if typed is not None else _USUAL_HIGH_C.get(channel)
    if seen is None or limit is None:
        return None
    x, good = seen
    with np.errstate(invalid="ignore"):
        high = good & (x > limit)
    high &= ~_jumped(log.time_s, x, good, high)
    when = _held(log, high)
    if when is None:
        return None
    worst = float(x[high].max())
    return Trouble(
        kind="overheat_real", channel=channel, crossed=True, support=0.0,
        evidence=((f"{WORDS[channel]} up to {worst:.0f} °C, above "
                  f"{'the limit of ' if typed is not None else 'a usual '}{limit:.0f} °C, from {when[0]:.0f} s"),),
        start_s=when[0], end_s=when[1], worst=worst,
    )  # fmt: skip


def _jumped(t: Floats, x: Floats, good: Bools, high: Bools) -> Bools:
    """Rows of a stretch that is entered by a jump: heat climbs, a contact jumps."""
    out = np.zeros(t.size, bool)
    rows = np.flatnonzero(good)
    for part in stretches(t, high):
        first = int(np.searchsorted(t, part.start_s))
        before = rows[rows < first]
        if before.size and t[first] - t[before[-1]] < 3.0 and x[first] - x[before[-1]] > 15.0:
            out |= (t >= part.start_s) & (t <= part.end_s)
    return out


def _climbing(log: StartLog, facts: StartFacts, signs: Mapping[str, Signs], running: Bools) -> Trouble | None:
    """Coolant far above its thermostat, or near its limit and still rising when the running part of the log ends."""
    seen = _of(log, signs, "coolant")
    if seen is None or log.kind == "events":
        return None
    x, good = seen
    limit = facts.high.get("coolant", _USUAL_HIGH_C["coolant"])
    rows = np.flatnonzero(running & good)
    if rows.size < 40:
        return None
    t, y = log.time_s[rows], x[rows]
    worst = float(np.quantile(y, 0.98))
    opens = facts.engine.thermostat_c if facts.engine.thermostat_c is not None else 84.0
    # A thermostat opens fully some ten degrees above its beginning; a working radiator holds it there.
    beyond = worst - max(opens + 17.0, 101.0)
    if beyond > 0.0:
        return Trouble(
            kind="overheat_real", channel="coolant", crossed=False, support=4.5 + 0.4 * beyond,
            evidence=(f"coolant at {worst:.0f} °C, {worst - opens:.0f} °C above where the thermostat opens",),
            start_s=float(t[int(np.argmax(y >= worst))]), end_s=float(t[-1]), worst=worst,
        )  # fmt: skip
    last = t > t[-1] - 60.0
    if last.sum() < 20 or t[last][-1] - t[last][0] < 40.0:
        return None
    rate = float(np.polyfit(t[last] - t[-1], y[last], 1)[0]) * 60.0
    level = float(np.median(y[last][-10:]))
    if level < limit - 10.0 or level > limit or rate < 2.0:
        return None
    said = (
        f"coolant at {level:.0f} °C, {limit - level:.0f} °C below its limit, and rising by {rate:.1f} °C/min "
        "when the log ends"
    )
    return Trouble(
        kind="overheat_real", channel="coolant", crossed=False, support=7.0,
        evidence=(said,), start_s=float(t[last][0]), end_s=float(t[-1]), worst=level,
    )  # fmt: skip


def _erratic(log: StartLog, signs: Mapping[str, Signs], running: Bools) -> Trouble | None:
    """Coolant that drops and jumps up again while the engine goes on heating: vapour at the tip."""
    seen = _of(log, signs, "coolant")
    if seen is None or log.kind == "events":
        return None
    x, good = seen
    rows = np.flatnonzero(running & good)
    if rows.size < 40:
        return None
    t, y = log.time_s[rows], x[rows]
    # Quick noise belongs to the wires: the mean of five seconds stays. Then every turn by more than some degrees
    # counts: a block of metal and water turns at the thermostat and after a run-up, a handful of times at most.
    # The trend of a minute is taken out, so that a warm-up does not hide what falls on the way.
    middle, level = _means(t, y, 5.0)
    if level.size < 16:
        return None
    edge = np.concatenate((np.full(6, level[0]), level, np.full(6, level[-1])))
    away = level - np.median(np.lib.stride_tricks.sliding_window_view(edge, 13), axis=1)
    noise = signs["coolant"].noise_run
    turn = max(1.6, 2.0 * noise if np.isfinite(noise) else 1.6, 1.2 * signs["coolant"].resolution)
    turns = _turns(middle[6:-6], away[6:-6], turn)
    step = np.interp(t + 1.5, t, y) - np.interp(t - 1.5, t, y)
    if len(turns) < 8 or float(np.abs(step).max()) > 40.0:
        return None  # vapour and water differ by 5-20 degC; more within seconds is a contact that comes and goes
    said = (
        f"coolant reads erratic: it turns {len(turns)} times by more than {turn:.1f} °C while the engine runs, "
        f"the first time at {turns[0]:.0f} s"
    )
    return Trouble(
        kind="coolant_airlock_real", channel="coolant", crossed=False, support=min(40.0, 2.2 * (len(turns) - 6.2)),
        evidence=(said,),
        start_s=turns[0], end_s=turns[-1], worst=float(np.abs(step).max()),
    )  # fmt: skip


def _means(t: Floats, y: Floats, width_s: float) -> tuple[Floats, Floats]:
    """Means over stretches of equal length."""
    index = ((t - t[0]) / width_s).astype(np.int64)
    rows = np.bincount(index)
    used = rows > 0
    return (np.bincount(index, weights=t)[used] / rows[used], np.bincount(index, weights=y)[used] / rows[used])


def _turns(t: Floats, y: Floats, least: float) -> list[float]:
    """Times at which a series turns round after having moved by more than some amount."""
    found: list[float] = []
    direction, end, end_at = 0, y[0], t[0]
    low, high = y[0], y[0]
    for when, value in zip(t, y, strict=True):
        if direction == 0:
            low, high = min(low, value), max(high, value)
            direction = 1 if value >= low + least else -1 if value <= high - least else 0
            end, end_at = value, when
        elif direction * (value - end) > 0.0:
            end, end_at = value, when
        elif direction * (end - value) >= least:
            found.append(float(end_at))
            direction, end, end_at = -direction, value, when
    return found
