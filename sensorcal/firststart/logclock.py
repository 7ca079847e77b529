"""The clock of a log: seconds, milliseconds, clock times or dates, brought to one line that rises from row to row."""

from __future__ import annotations

import re
import warnings
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sensorcal.bench.clock import clock_s
from sensorcal.errors import InputError
from sensorcal.firststart.startlog import Floats

_DAY_S = 86400.0
_FACTOR = {"": 1.0, "s": 1.0, "ms": 1e-3, "min": 60.0, "h": 3600.0}
_DATED = re.compile(r"^\s*(\d{1,4}[-./]\d{1,2}[-./]\d{1,4})(?:[T\s]+(\S.*?))?\s*(?:Z|UTC|[+\-]\d{2}:?\d{2})?\s*$")
_CLOCK_SIGNS = frozenset("0123456789:.")
# A step longer than this, forwards, is a clock that was set, not a pause of a first start (common practice, no source).
_SET_S = 6 * 3600.0
# Rows that may stand before the highest time so far until it is a new beginning and not a row out of order.
_JITTER_ROWS = 5


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TimeLine:
    """A log's time.

    Parameters
    ----------
    time_s : ndarray, shape (n,)
        Seconds since the first row, rising.
    restarts : tuple of int
        First row after each new beginning of the clock, counted from 0.
    notes, cautions : tuple of str
    """

    time_s: Floats
    restarts: tuple[int, ...] = ()
    notes: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()


def seconds_in(cells: Sequence[str], unit: str, dates: Sequence[str] | None = None) -> tuple[Floats, bool, list[str]]:
    """Read the cells of a time column.

    Parameters
    ----------
    cells : sequence of str
        Numbers, clock times or dates with a clock; '' for a blank.
    unit : str
        's', 'ms', 'min', 'h', a clock format such as 'mm:ss', or ''.
    dates : sequence of str, optional
        A date column beside it.

    Returns
    -------
    ndarray, bool, list of str
        Seconds as they stand (NaN for a blank), whether they are times of day, and what was understood unasked.

    Raises
    ------
    InputError
        For a cell that is no time; its `row` is the place in `cells`, counted from 0.
    """
    notes: list[str] = []
    try:
        numbers = np.array([float(cell) if cell else np.nan for cell in cells])
    except ValueError:
        pass
    else:
        return numbers * _FACTOR.get(unit, 1.0), False, notes
    first = next(cell for cell in cells if cell)
    if _DATED.match(first):
        dates, cells = _parted(cells)
    clock, stopwatch = _clock(cells, unit, notes)
    if dates is not None:
        clock = clock + _days(dates, notes)
    return clock, not stopwatch, notes


def _parted(cells: Sequence[str]) -> tuple[list[str], list[str]]:
    """Part dates and clock times."""
    place = re.search(r"[T ]", cells[0])
    at = place.start() if place else -1
    if at > 0 and all(cell[at : at + 1] == cells[0][at] and _CLOCK_SIGNS.issuperset(cell[at + 1 :]) for cell in cells):
        return [cell[:at] for cell in cells], [cell[at + 1 :] for cell in cells]
    parts = [_DATED.match(cell) for cell in cells]
    for row, (cell, part) in enumerate(zip(cells, parts, strict=True)):
        if cell and part is None:
            raise InputError(f"{cell!r} is not a date and time", do="write it as 2026-05-02 19:05:30", row=row)
    dates = [part.group(1) if part else "" for part in parts]
    return dates, [(part.group(2) or "0:00:00") if part else "" for part in parts]


def time_line(raw_s: Floats, *, of_day: bool = False, rows: Sequence[int] | None = None) -> TimeLine:
    """Bring the times of a log to one line that rises from row to row.

    Parameters
    ----------
    raw_s : ndarray, shape (n,)
        Seconds as they stand in the file; NaN for a blank.
    of_day : bool, optional
        True for times of day, which begin anew at midnight.
    rows : sequence of int, optional
        Row of each in the file, for the notes.

    Returns
    -------
    TimeLine
        Rows of one time are spread evenly up to the next one; a clock that begins anew is joined one usual step on,
        and listed, for the length of that pause is not known.

    Examples
    --------
    >>> line = time_line(np.array([0.0, 1.0, 2.0, 0.0, 1.0]))
    >>> line.time_s.tolist(), line.restarts
    ([0.0, 1.0, 2.0, 3.0, 4.0], (3,))
    """
    rows = rows if rows is not None else range(1, raw_s.size + 1)
    notes: list[str] = []
    cautions: list[str] = []
    time_s = _filled(raw_s, notes)
    if time_s.size < 2:
        return TimeLine(time_s=np.zeros(time_s.size), notes=tuple(notes))
    steps = np.diff(time_s)
    usual_s = float(np.median(steps[steps > 0])) if (steps > 0).any() else 1.0
    restarts: list[int] = []
    for at in np.flatnonzero((steps < 0) | (steps > _SET_S)).tolist():
        before, after = float(time_s[at]), float(time_s[at + 1])
        if after - before < 0 and of_day and _past_midnight(time_s, at):
            time_s[at + 1 :] += _DAY_S
        elif after - before < 0 and of_day and 0.0 <= after - before + _DAY_S / 2 < 60.0:
            time_s[at + 1 :] += _DAY_S / 2
            notes.append(f"the clock counts twelve hours: row {rows[at + 1]} is past noon or midnight")
        elif after - before > _SET_S or (after < before and not _out_of_order(time_s, at, usual_s)):
            time_s[at + 1 :] += before + usual_s - after
            restarts.append(at + 1)
            what = "begins anew" if after < before else "was set"
            cautions.append(
                f"the log's clock {what} at row {rows[at + 1]}: joined {usual_s:.3g} s after the row above; "
                "how long that pause was is not known"
            )
    return TimeLine(
        time_s=_spread(_in_order(time_s, notes), notes), restarts=tuple(restarts), notes=tuple(notes),
        cautions=tuple(cautions),
    )  # fmt: skip


def _clock(cells: Sequence[str], unit: str, notes: list[str]) -> tuple[Floats, bool]:
    """Read clock times; say whether they are a stopwatch's."""
    three = _three_parts(cells)
    if three is not None:
        hours, minutes, seconds = three.T
        wrong = np.flatnonzero((minutes >= 60.0) | (seconds >= 60.0))
        if wrong.size:
            row = int(wrong[0])
            raise InputError(f"{cells[row]!r} is not a time", do="minutes and seconds end at 59", row=row)
        return hours * 3600.0 + minutes * 60.0 + seconds, bool(np.nanmin(hours) == 0.0 == hours[np.isfinite(hours)][0])
    two_parts = [cell for cell in cells if re.fullmatch(r"\d{1,3}:\d{2}(?:[.,]\d+)?", cell)]
    stopwatch = unit in {"m:ss", "mm:ss", "min:s"}
    if two_parts and not stopwatch and unit not in {"h:mm", "hh:mm"}:
        # 12:30.5 can only be minutes; 00:07 at the beginning of a log is hardly past midnight.
        stopwatch = any(re.search(r"[.,]", cell) for cell in two_parts) or int(two_parts[0].split(":")[0]) == 0
        notes.append(
            f"times such as {two_parts[0]!r} are read as {'minutes and seconds' if stopwatch else 'hours and minutes'}"
        )
    found = np.full(len(cells), np.nan)
    known: dict[str, float] = {}
    for row, cell in enumerate(cells):
        if not cell:
            continue
        if cell not in known:
            known[cell] = _one(cell, row, unit, stopwatch=stopwatch)
        found[row] = known[cell]
    return found, stopwatch


def _three_parts(cells: Sequence[str]) -> Floats | None:
    """Read cells that are all hours, minutes and seconds, or blank; None where any is not."""
    texts = [cell or "nan:nan:nan" for cell in cells]
    if not all(text.count(":") == 2 for text in texts):
        return None
    numbers = numbers_between(":".join(texts), ":")
    return None if numbers is None or numbers.size != 3 * len(texts) else numbers.reshape(-1, 3)


def numbers_between(text: str, mark: str) -> Floats | None:
    """Read numbers between separators with NumPy's own parser; None where a cell is no number.

    Examples
    --------
    >>> numbers_between("19:05:30.5", ":").tolist(), numbers_between("1;x;3", ";")
    ([19.0, 5.0, 30.5], None)
    """
    with warnings.catch_warnings():
        # A cell that is no number ends the parsing with this warning, in later versions with an error.
        warnings.simplefilter("error", DeprecationWarning)
        try:
            return np.fromstring(text, dtype=np.float64, sep=mark)
        except (DeprecationWarning, ValueError):
            return None


def _one(cell: str, row: int, unit: str, *, stopwatch: bool) -> float:
    """Read one clock time."""
    short = re.fullmatch(r"(\d{1,3}):(\d{2}(?:[.,]\d+)?)", cell)
    try:
        if stopwatch and short:
            seconds = float(short.group(2).replace(",", "."))
            if seconds < 60.0:
                return int(short.group(1)) * 60.0 + seconds
        return clock_s(cell, unit if unit in {"s", "min", "h"} else "", ".")[0]
    except InputError as error:
        raise InputError(error.what, do=error.do, row=row) from None


def _days(dates: Sequence[str], notes: list[str]) -> Floats:
    """Count the days of dates in any spelling: ISO dates exactly, others one day at each change."""
    distinct = [date for date in dict.fromkeys(dates) if date]
    try:
        known = {date: float(np.datetime64(date, "D").astype(np.int64)) for date in distinct}
    except ValueError:
        known = {date: float(index) for index, date in enumerate(distinct)}
        if len(distinct) > 1:
            notes.append(f"each new date after {distinct[0]!r} is taken as the next day")
    last = 0.0
    days = np.empty(len(dates))
    for row, date in enumerate(dates):
        last = known.get(date, last)
        days[row] = last
    return days * _DAY_S


def _filled(raw_s: Floats, notes: list[str]) -> Floats:
    """Put rows without a time evenly between their neighbours."""
    time_s = np.array(raw_s, dtype=np.float64)
    blank = ~np.isfinite(time_s)
    if not blank.any():
        return time_s
    known = np.flatnonzero(~blank)
    if not known.size:
        raise InputError("no row has a time", do="give the time in seconds, or as a clock time")
    steps = np.diff(time_s[known]) / np.diff(known)
    usual_s = float(np.median(steps[steps > 0])) if (steps > 0).any() else 1.0
    index = np.arange(time_s.size, dtype=np.float64)
    time_s[blank] = np.interp(index, known, time_s[known])[blank]
    first, last = int(known[0]), int(known[-1])
    time_s[:first] = time_s[first] - usual_s * (first - index[:first])
    time_s[last + 1 :] = time_s[last] + usual_s * (index[last + 1 :] - last)
    notes.append(f"{int(blank.sum())} rows without a time stand evenly between those beside them")
    return time_s


def _past_midnight(time_s: Floats, at: int) -> bool:
    """Say whether a fall of the time of day is midnight: late before it, early after it."""
    before, after = float(time_s[at]), float(time_s[at + 1])
    late, early = before % _DAY_S > 0.75 * _DAY_S, after % _DAY_S < 0.25 * _DAY_S
    return late and early and before < after + _DAY_S < before + _SET_S


def _out_of_order(time_s: Floats, at: int, usual_s: float) -> bool:
    """Say whether the clock comes back to where it was within a few rows, as when rows were written out of order."""
    ahead = time_s[at + 1 : at + 2 + _JITTER_ROWS]
    near = float(time_s[at] - ahead[0]) < max(_JITTER_ROWS * usual_s, 1.5)
    return near and bool((ahead > time_s[at]).any())


def _in_order(time_s: Floats, notes: list[str]) -> Floats:
    """Lift rows that stand before the highest time so far up to it."""
    highest = np.maximum.accumulate(time_s)
    late = int((time_s < highest).sum())
    if late:
        notes.append(f"the clock of {late} rows lies before the row above: kept in the file's order")
    return highest


def _spread(time_s: Floats, notes: list[str]) -> Floats:
    """Spread rows of one time evenly up to the next one."""
    distinct, counts = np.unique(time_s, return_counts=True)
    same = int(time_s.size - distinct.size)
    if not same:
        return np.asarray(time_s - time_s[0])
    if distinct.size > 1:
        usual = float(np.median(np.diff(distinct) / counts[:-1]))
        share = np.minimum(np.append(np.diff(distinct) / counts[:-1], usual), usual)
    else:
        share = np.array([1.0])
    within = np.arange(time_s.size) - np.repeat(np.cumsum(counts) - counts, counts)
    notes.append(f"{same} rows have the time of the row above: spread evenly up to the next time")
    spread = np.repeat(distinct, counts) + within * np.repeat(share, counts)
    return np.asarray(spread - spread[0], dtype=np.float64)


