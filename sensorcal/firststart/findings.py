"""What the log shows, as findings to read: rank, cause, evidence with times, size, what to do first and check next."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from sensorcal.firststart.cause import Cause
from sensorcal.firststart.channels import GENUINE, TOLERANCE
from sensorcal.firststart.evidence import Evidence, line_evidence
from sensorcal.firststart.nextcheck import NextCheck
from sensorcal.firststart.real import DO_FIRST
from sensorcal.firststart.summary import W
from sensorcal.firststart.words import (
    NEXT,
    SHORT,
    TITLES,
    WHEN,
    in_units,
    number_text,
    quantity_text,
    shown_number,
    symbol_of,
    unit_of,
    where_words,
)
from sensorcal.setup import UnitsOut

if TYPE_CHECKING:
    from sensorcal.firststart.judge import Verdict

Floats = NDArray[np.float64]

MULTIPLE = "multiple"
"""Stands for the column where a finding concerns more than one, or the whole log."""

_ALSO_CONSISTENT = "also consistent with"


@dataclass(frozen=True, slots=True, kw_only=True)
class Size:
    """How large it is.

    Parameters
    ----------
    value : float or None
        In `unit`; None where a size makes no sense, as for an open circuit.
    unit : str
        The user's unit of the measurand, such as 'degC' or 'kPa'.
    text : str
        In words, with the size of the cause itself where it has one, such as ohms.
    """

    value: float | None = None
    unit: str = ""
    text: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One thing in the log that does not fit, with its likeliest cause.

    Parameters
    ----------
    rank : int
        From 1; trouble of the engine first.
    kind : str
        One of `channels.KINDS`.
    also : tuple of str
        Kinds that this log cannot tell from it.
    family : str
    channel : str
        Heading of the column in the log, or 'multiple'.
    columns : tuple of str
        Headings of all the columns it concerns.
    channels : tuple of str
        The same as channel names; empty where it concerns the log as a whole.
    probability : float
        Of the cause (with those it cannot be told from), among all causes weighed and a sound installation.
    title : str
        In plain words.
    evidence : tuple of Evidence
    size : Size
    genuine : bool
        Trouble of the engine itself: stop and check.
    crossed : bool
        A limit was crossed, or the handbook's rule where none is typed.
    stop_and_check : str
        What to do first; '' where nothing in the engine is in question.
    next_check : str
        The measurement to make next, with the numbers to look for.
    checks : tuple of NextCheck
        The same and others after it, computed from the posterior; empty where none tells anything, and the usual look
        stands in `next_check`.
    start_s, end_s : float
        First and last moment of the evidence, s since the log's first row.
    """

    rank: int
    kind: str
    also: tuple[str, ...] = ()
    family: str
    channel: str
    columns: tuple[str, ...] = ()
    channels: tuple[str, ...] = ()
    probability: float
    title: str
    evidence: tuple[Evidence, ...] = ()
    size: Size
    genuine: bool = False
    crossed: bool = False
    stop_and_check: str = ""
    next_check: str
    checks: tuple[NextCheck, ...] = ()
    start_s: float = 0.0
    end_s: float = 0.0


def findings_of(
    verdict: Verdict, units: UnitsOut | None = None, checks: Sequence[Sequence[NextCheck]] = ()
) -> tuple[Finding, ...]:
    """Put the causes found by the judge in words.

    Parameters
    ----------
    verdict : Verdict
    units : UnitsOut, optional
        Units of sizes and sentences.
    checks : sequence of sequences of NextCheck, optional
        For each finding the measurements to make next, the best first; the usual look where there is none.

    Returns
    -------
    tuple of Finding
        By rank; empty where nothing was found.

    Examples
    --------
    >>> import numpy as np
    >>> from sensorcal.firststart.judge import judge
    >>> from sensorcal.firststart.startlog import start_log
    >>> t = np.arange(240.0)
    >>> wave = 60.0 + np.sin(t / 9.0)
    >>> shown = {"coolant": np.where(t > 60.0, -40.0, wave), "gearbox_oil": wave}
    >>> log = start_log(t, shown, headings={"coolant": "CLT"})
    >>> [(one.rank, one.kind, one.channel) for one in findings_of(judge(log))]
    [(1, 'open_circuit', 'CLT')]
    """
    units = units or UnitsOut()
    real = {channel for cause in verdict.findings if cause.kind in GENUINE for channel in cause.channels}
    found = []
    rows: dict[str, Floats] = dict(verdict.summary.rows)
    for rank, cause in enumerate(verdict.findings, start=1):
        own = tuple(checks[rank - 1]) if rank <= len(checks) else ()
        found.append(_finding(rank, cause, rows, verdict, units, own, real))
        # The judge undid this cause before it looked for the next one.
        rows = {**rows, **cause.rows}
    return tuple(found)


def _finding(
    rank: int, cause: Cause, rows: Mapping[str, Floats], verdict: Verdict, units: UnitsOut,
    checks: tuple[NextCheck, ...], real: set[str],
) -> Finding:  # fmt: skip
    genuine = cause.kind in GENUINE
    columns = tuple(verdict.log.heading(name) for name in cause.channels)
    evidence = _evidence(cause, rows, verdict, units)
    starts = [one.start_s for one in evidence if one.start_s is not None]
    ends = [one.end_s for one in evidence if one.end_s is not None]
    title = _title(cause)
    if not genuine and real & set(cause.channels):
        # A limit was crossed in this channel: the installation is a second reading of it, never the first word.
        title = f"{title} ({_ALSO_CONSISTENT} this log, to be proved by a measurement)"
    return Finding(
        rank=rank, kind=cause.kind, also=cause.also, family=cause.family,
        channel=columns[0] if len(columns) == 1 else MULTIPLE, columns=columns, channels=cause.channels,
        probability=float(np.clip(cause.probability, 0.0, 1.0)), title=title, evidence=tuple(evidence),
        size=_size(cause, rows, units), genuine=genuine, crossed=cause.crossed,
        stop_and_check=in_units(DO_FIRST[cause.kind], units) if genuine else "",
        next_check=checks[0].text if checks else in_units(NEXT[cause.kind], units), checks=checks,
        start_s=min(starts, default=0.0), end_s=max(ends, default=float(verdict.log.time_s[-1])),
    )  # fmt: skip


def _title(cause: Cause) -> str:
    """Where and what, in plain words; names that the log cannot tell apart are said together."""
    where = where_words(cause.channels)
    what = TITLES[cause.kind]
    if cause.kind in GENUINE:
        return f"{where[0].upper()}{where[1:]} {what}"
    if cause.kind == "wrong_unit" and cause.text:
        what = f"{what}: {cause.text}"
    if cause.kind in {"channel_slip", "wrong_reference_type"} and cause.text:
        what = f"{what}: {cause.text}"
    also = [SHORT[kind] for kind in cause.also]
    if also:
        what += f"; or {' or '.join(also)}, which this log cannot tell from it"
    return f"{where[0].upper()}{where[1:]}: {what}"


def _evidence(cause: Cause, rows: Mapping[str, Floats], verdict: Verdict, units: UnitsOut) -> list[Evidence]:
    """Collect what the cause itself says, then the lines that it explains better."""
    own = [
        Evidence(text=in_units(_tidy(_with_size(text, cause, units)), units), start_s=_time(cause.start_s, cause),
                 end_s=_time(cause.end_s, cause))
        for text in cause.evidence
    ]  # fmt: skip
    told = [*own, *line_evidence(cause, rows, verdict, units)]
    if told:
        return told
    return [
        Evidence(text="no single reading stands out; together the readings are "
                 f"{_times(cause.support)} times likelier with this cause than in a sound installation")
    ]  # fmt: skip


_NOT_A_NUMBER = re.compile(r" and nan \S+ at rest| of nan \S+ while running and")


def _tidy(text: str) -> str:
    """Leave out what was not measured, and count one as one.

    Examples
    --------
    >>> _tidy("a deviation of 2.8 kPa while running and nan kPa at rest, 1 rows in 1 stretches")
    'a deviation of 2.8 kPa while running, 1 row in 1 stretch'
    """
    text = _NOT_A_NUMBER.sub(lambda found: " of" if "while" in found[0] else "", text)
    return re.sub(r"\b(1 (?:row|place|hole|stretch|rise|fall|time))(?:e?s)\b", r"\1", text)


def _times(support: float) -> str:
    """Write a likelihood ratio in round numbers."""
    ratio = float(np.exp(min(support, 23.0)))
    return "over a thousand million" if support >= 23.0 else f"{float(f'{ratio:.1g}'):,.0f}".replace(",", " ")


def _time(at_s: float, cause: Cause) -> float | None:
    return float(at_s) if cause.end_s > 0.0 else None


def _with_size(text: str, cause: Cause, units: UnitsOut) -> str:
    """Give the bare size of an excursion the unit of its channel."""
    if not cause.size or len(cause.channels) != 1 or ", about " not in text or " in size" not in text:
        return text
    before, _, rest = text.partition(", about ")
    _, _, after = rest.partition(" in size")
    said = quantity_text(cause.channels[0], cause.size[0], units, difference=True).lstrip("+")
    return f"{before}, about {said} in size{after}"


def _size(cause: Cause, rows: Mapping[str, Floats], units: UnitsOut) -> Size:
    """Give the largest error in the measurand's unit, and what the cause itself measures."""
    if cause.family == "wiring_order":
        return Size()
    if cause.rows:
        return _largest_error(cause, rows, units)
    if len(cause.channels) != 1 or not cause.size or cause.kind in {"map_hose_pinched", "map_hose_off"}:
        return Size(text=cause.text)
    channel, value = cause.channels[0], cause.size[0]
    unit, symbol = unit_of(channel, units), symbol_of(channel, units)
    if cause.kind in GENUINE and cause.kind != "coolant_airlock_real":
        shown = shown_number(channel, value, units)
        highest = "highest" if cause.kind == "overheat_real" else "lowest"
        return Size(value=shown, unit=unit, text=f"{highest} {number_text(channel, value, units)} {symbol}")
    shown = shown_number(channel, value, units, difference=True)
    said = number_text(channel, value, units, difference=True).lstrip("+")
    return Size(value=shown, unit=unit, text=f"{_SIZED.get(cause.kind, 'about')} {said} {symbol}")


_SIZED = {
    "noise": "standard deviation", "map_pulsation": "standard deviation", "intermittent": "excursions of about",
    "coolant_airlock_real": "jumps up to",
}  # fmt: skip


def _largest_error(cause: Cause, rows: Mapping[str, Floats], units: UnitsOut) -> Size:
    """Take the window and channel in which what is shown lies furthest from what would be, in tolerances."""
    best, worst, channel, window = -1.0, 0.0, "", ""
    for name, undone in cause.rows.items():
        if name not in rows:
            continue
        away = np.where(np.isfinite(undone), rows[name] - undone, np.nan)
        # A load's own window is a step and no level.
        away[[W["loaded"], W["unloaded"], W["run_high"], W["run_low"]]] = np.nan
        if not np.isfinite(away).any():
            continue
        index = int(np.nanargmax(np.abs(away)))
        if abs(away[index]) / TOLERANCE[name] > best:
            best, worst, channel = abs(away[index]) / TOLERANCE[name], float(away[index]), name
            window = next(key for key, place in W.items() if place == index)
    if not channel:
        return Size(text=cause.text)
    value = shown_number(channel, worst, units, difference=True)
    said = number_text(channel, abs(worst), units, difference=True).lstrip("+")
    symbol, high = symbol_of(channel, units), "high" if worst > 0 else "low"
    of = f" ({where_words((channel,))})" if len(cause.channels) > 1 else ""
    text = f"reads up to {said} {symbol} too {high}{of}, {WHEN[window]}"
    return Size(value=value, unit=unit_of(channel, units), text="; ".join(filter(None, (text, cause.text))))
