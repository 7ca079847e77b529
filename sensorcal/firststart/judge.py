"""Are these readings possible, and if not, what is the cause: all causes weighed against a sound installation.

Each cause is an edit of the chain, a sign in one channel, or trouble of the engine. Its weight is its prior times how
much better the log is explained with it; what cannot be told apart is reported as one finding with all its names.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from sensorcal.engine import PRESSURES, TEMPERATURES
from sensorcal.firststart.cause import PRIOR, Cause
from sensorcal.firststart.channels import GENUINE
from sensorcal.firststart.clues import Clue, clues
from sensorcal.firststart.digital import signs
from sensorcal.firststart.edits import Edit, edits
from sensorcal.firststart.facts import StartFacts, start_facts
from sensorcal.firststart.healthy import Context, healthy
from sensorcal.firststart.hoses import hose_causes
from sensorcal.firststart.phases import Phases, find_phases
from sensorcal.firststart.real import LINES, Trouble, trouble
from sensorcal.firststart.realfirst import real_first
from sensorcal.firststart.slow import slow_charge_causes, slow_edits
from sensorcal.firststart.startlog import StartLog
from sensorcal.firststart.summary import Summary, W, summarise
from sensorcal.firststart.windows import Windows, windows
from sensorcal.setup import Setup

Floats = NDArray[np.float64]

_SURE = 0.55  # a finding needs this much probability that anything is wrong at all
_LEAST = 2.9  # and this log-likelihood ratio, so that no single line within its tails makes one


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Verdict:
    """What the log says.

    Parameters
    ----------
    log, phases, facts, view, summary
        What it rests on.
    findings : tuple of Cause
        Ranked; empty where nothing is found.
    weighed : tuple of Cause
        Every cause of the first round with its probability, the likeliest first.
    sound : float
        Probability that nothing is wrong, as far as the log can show.
    lines : mapping of str to float
        Log-likelihood of each line of the healthy engine.
    notes, cautions : tuple of str
    """

    log: StartLog
    phases: Phases
    facts: StartFacts
    view: Windows
    summary: Summary
    findings: tuple[Cause, ...]
    weighed: tuple[Cause, ...]
    sound: float
    lines: Mapping[str, float]
    notes: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()


def judge(log: StartLog, setup: Setup | None = None, phases: Phases | None = None) -> Verdict:
    """Judge a log or an event list of a first start.

    Parameters
    ----------
    log : StartLog
    setup : Setup, optional
        Field, sensors, limits and engine; what it does not state is assumed and noted.
    phases : Phases, optional
        Found from the log if left out.

    Returns
    -------
    Verdict
    """
    facts = start_facts(setup or Setup())
    found = phases or find_phases(log)
    shown = signs(log, found, facts)
    view = windows(log, found, facts, shown)
    summary = summarise(view)
    context = Context(
        facts=facts, ambient_c=view.ambient_c, u_ambient_c=view.u_ambient_c,
        resolution={name: sign.resolution for name, sign in shown.items()},
        units={name: column.unit for name, column in log.columns.items() if column.stated},
    )  # fmt: skip
    rows = dict(summary.rows)
    by_itself = clues(log, found, facts, shown)
    troubles = trouble(log, found, facts, shown)
    weighed, sound, lines = _round(rows, context, view, by_itself, troubles)
    findings = _findings(weighed, sound, rows, context, view, by_itself)
    findings = real_first(findings, troubles, weighed, lines)
    return Verdict(
        log=log, phases=found, facts=facts, view=view, summary=summary, findings=tuple(findings),
        weighed=tuple(weighed), sound=sound, lines=lines, notes=(*log.notes, *facts.notes), cautions=log.cautions,
    )  # fmt: skip


# --- one round: every cause against a sound installation ----------------------------------------------------------


def _round(
    rows: Mapping[str, Floats], context: Context, view: Windows, by_itself: Sequence[Clue],
    troubles: Sequence[Trouble],
) -> tuple[list[Cause], float, dict[str, float]]:  # fmt: skip
    """Weigh every cause once; the likeliest first."""
    base = {name: float(value) for name, value in healthy(rows, context).items()}
    causes = [
        _by_edit(edit, rows, base, context)
        for edit in (*edits(rows, context.facts, context.units), *slow_edits(rows, view))
    ]
    causes += [_by_clue(clue) for clue in by_itself]
    causes += [_by_trouble(one, base) for one in troubles]
    causes += [_by_line(kind, base, rows, context) for kind in LINES]
    causes += hose_causes(rows, base, view, context.facts.station_pa)
    causes += slow_charge_causes(view, context.facts.station_pa)
    known = [cause for cause in causes if cause is not None and np.isfinite(cause.support)]
    merged = _merged(known)
    total = np.logaddexp.reduce([0.0, *(cause.weight for cause in merged)])
    ranked = sorted(
        (replace(cause, probability=float(np.exp(cause.weight - total))) for cause in merged),
        key=lambda cause: -cause.weight,
    )
    return ranked, float(np.exp(-total)), base


def _by_edit(edit: Edit, rows: Mapping[str, Floats], base: Mapping[str, float], context: Context) -> Cause | None:
    undone = edit.row_of(rows)
    lost = np.zeros(edit.sizes.shape[0], bool)
    for name, x in undone.items():
        lost |= (np.isnan(x) & np.isfinite(rows[name])).any(axis=-1) if edit.kind not in _REORDERING else False
    seen = context
    if edit.kind == "wrong_unit" and edit.channels[0] in PRESSURES:
        # A mistaken unit stretches the display's steps as well.
        steps = {name: context.resolution.get(name, 0.0) / float(edit.sizes[0, 0]) for name in edit.channels}
        seen = replace(context, resolution={**context.resolution, **steps})
    parts = healthy({**rows, **undone}, seen, undone)
    total = np.zeros(edit.sizes.shape[0])
    for name, value in parts.items():
        # A line that only falls silent is not explained: it keeps what it said.
        told = np.where(np.isnan(value), base.get(name, np.nan), value) - np.nan_to_num(base.get(name, np.nan))
        total = total + np.where(np.isfinite(told), told, 0.0)
    total = np.where(lost, -np.inf, total)
    if not np.isfinite(total).any():
        return None
    support = float(np.logaddexp.reduce(total) - np.log(total.size))
    best = int(np.argmax(total))
    gains = {
        name: float(np.broadcast_to(value, total.shape)[best]) - base[name]
        for name, value in parts.items()
        if name in base and np.isfinite(base[name]) and np.isfinite(np.broadcast_to(value, total.shape)[best])
    }
    size = tuple(float(number) for number in edit.sizes[best])
    best_rows = {name: np.broadcast_to(x, (total.size, x.shape[-1]))[best] for name, x in undone.items()}
    return Cause(
        fits_cold=_fits_cold(rows, best_rows, context) if edit.kind in _STATIC else False,
        kind=edit.kind, also=edit.also, channels=edit.channels, support=support,
        weight=PRIOR + float(np.log(edit.weight)) + support, lines=gains, size=size,
        text=edit.unit.format(*(np.expm1(size) if edit.detail == "ratio" else size)),
        start_s=0.0, end_s=0.0,
        exact=context.facts.engine.fuel_set_pa is not None,
        low=edit.kind == "wrong_unit" and size[0] < 1.0,
        rows=best_rows,
    )  # fmt: skip


_STATIC = frozenset({"wrong_unit", "wrong_curve", "wrong_pullup"})


def _fits_cold(rows: Mapping[str, Floats], undone: Mapping[str, Floats], context: Context) -> bool:
    """Say whether a cold engine before the start shows with the edit undone, and does not show without."""
    at = W["rest"]
    names = [name for name in TEMPERATURES if name in rows and np.isfinite(rows[name][at])]
    if len(names) < 3 or context.u_ambient_c > 4.0 or not any(name in undone for name in names):
        return False
    after = np.array([undone.get(name, rows[name])[at] for name in names]) - context.ambient_c
    before = np.array([rows[name][at] - context.ambient_c for name in names if name in undone])
    cold = bool(np.ptp(after) < 5.0 and np.abs(after).max() < 8.0)
    return cold and bool(np.abs(before).min() > 10.0)


_REORDERING = frozenset({"swapped_charge", "swapped_oil_fuel", "channel_slip"})


def _by_clue(clue: Clue) -> Cause:
    return Cause(
        kind=clue.kind, also=clue.also, channels=(clue.channel,) if clue.channel else (), support=clue.support,
        weight=PRIOR + clue.support, lines={}, evidence=clue.evidence, start_s=clue.start_s, end_s=clue.end_s,
        size=(clue.size,) if clue.size is not None else (), hard=clue.hard, rows={},
    )  # fmt: skip


def _by_trouble(one: Trouble, base: Mapping[str, float]) -> Cause:
    freed = {name: -base[name] - 0.5 for name in LINES[one.kind] if np.isfinite(base.get(name, np.nan))}
    support = one.support + max(sum(gain for gain in freed.values() if gain > 0) - 2.0, 0.0)
    return Cause(
        kind=one.kind, channels=(one.channel,), support=support + (6.0 if one.crossed else 0.0),
        weight=PRIOR + support + (6.0 if one.crossed else 0.0), lines=freed, evidence=one.evidence,
        start_s=one.start_s, end_s=one.end_s, size=(one.worst,), crossed=one.crossed, rows={},
    )  # fmt: skip


_CHANNEL = {"low_oil_pressure_real": "oil_pressure", "overheat_real": "coolant", "coolant_airlock_real": "coolant",
            "low_fuel_pressure_real": "fuel_pressure"}  # fmt: skip


def _by_line(kind: str, base: Mapping[str, float], rows: Mapping[str, Floats], context: Context) -> Cause | None:
    """Trouble without a crossed limit: the lines it puts out of force, at the price of their freedom."""
    channel = _CHANNEL[kind]
    if channel not in rows:
        return None
    if not _reads_low(kind, rows, base, context):
        return None
    if kind == "overheat_real" and not max(_highest(rows, "coolant"), _highest(rows, "gearbox_oil")) > 94.0:
        return None
    freed = {name: -base[name] - 0.5 for name in LINES[kind] if np.isfinite(base.get(name, np.nan))}
    support = sum(gain for gain in freed.values() if gain > 0) - 1.0
    return Cause(kind=kind, channels=(channel,), support=support, weight=PRIOR + support, lines=freed, rows={})


def _reads_low(kind: str, rows: Mapping[str, Floats], base: Mapping[str, float], context: Context) -> bool:
    """Say whether a pressure is on the low side at all, where its trouble is a low one."""
    engine = context.facts.engine
    if kind == "low_oil_pressure_real":
        falls = base.get("oil_pressure.with_speed", 0.0) < -1.5
        return falls or _highest(rows, "oil_pressure") < 0.8 * (engine.oil_warm_pa or 430e3)
    if kind == "low_fuel_pressure_real":
        typed = context.facts.low.get("fuel_pressure")
        usual = engine.fuel_set_pa or (1.3 * typed if typed else 300e3)
        seen = [float(rows["fuel_pressure"][W[name]]) for name in ("idle_cold", "idle_warm", "boost")]
        return any(value < 0.94 * usual for value in seen)
    return True


def _highest(rows: Mapping[str, Floats], name: str) -> float:
    """Highest steady value while running; minus infinity where there is none."""
    value = float(rows[name][W["run_high"]]) if name in rows else float("nan")
    return value if np.isfinite(value) else float("-inf")


def _merged(causes: Sequence[Cause]) -> list[Cause]:
    """Add up causes of one kind in one place: the largest speaks for them."""
    groups: dict[tuple[str, tuple[str, ...]], list[Cause]] = {}
    for cause in causes:
        groups.setdefault((cause.kind, cause.channels), []).append(cause)
    out = []
    for members in groups.values():
        best = max(members, key=lambda cause: cause.weight)
        out.append(replace(best, weight=float(np.logaddexp.reduce([cause.weight for cause in members]))))
    return out


# --- findings -----------------------------------------------------------------------------------------------------


def _findings(
    weighed: list[Cause], sound: float, rows: Mapping[str, Floats], context: Context, view: Windows,
    by_itself: Sequence[Clue],
) -> list[Cause]:  # fmt: skip
    """Take the likeliest cause, undo it, and look again."""
    found: list[Cause] = []
    left_clues, current = list(by_itself), dict(rows)
    ranking, chance = weighed, sound
    for number in range(3):
        best = next(
            (cause for cause in ranking if cause.kind not in GENUINE or cause.crossed or cause.support > _LEAST), None
        )
        least = _LEAST + 6.0 * number
        if best is None or _together(best, ranking) < least or chance > 1.0 - _SURE:
            break
        if any((best.kind, best.channels) == (one.kind, one.channels) for one in found):
            break
        found.append(_with_names(best, ranking))
        if number == 2 or best.kind in GENUINE:
            break
        left_clues = [clue for clue in left_clues if clue.channel not in best.channels and clue.channel]
        if best.rows:
            current = {**current, **best.rows}
        else:
            current = {name: row for name, row in current.items() if name not in best.channels}
        ranking, chance, _ = _round(current, context, view, left_clues, [])
    return found


def _together(best: Cause, ranking: Sequence[Cause]) -> float:
    """Log-likelihood ratio of a cause with all others of its family in the same channels."""
    kin = [c.weight for c in ranking if c.family == best.family and set(c.channels) == set(best.channels)]
    return float(np.logaddexp.reduce(kin)) - PRIOR


def _with_names(best: Cause, ranking: Sequence[Cause]) -> Cause:
    """Join the names of causes of the same channels that the log cannot tell apart."""
    alike = [
        cause.kind for cause in ranking
        if cause is not best and cause.weight > best.weight - np.log(4.0)
        and set(cause.channels) == set(best.channels) and cause.kind not in GENUINE
    ]  # fmt: skip
    names = tuple(dict.fromkeys(kind for kind in (*best.also, *alike) if kind != best.kind))
    together = sum(
        cause.probability for cause in ranking
        if set(cause.channels) == set(best.channels) and cause.kind in {best.kind, *names}
    )  # fmt: skip
    return replace(best, also=names, probability=min(together, 1.0))
