"""A log of any origin read from its CSV file: every row kept, what was understood unasked said, bad cells named."""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from sensorcal.bench.dialect import decoded
from sensorcal.engine import JUDGED
from sensorcal.errors import FileError, InputError
from sensorcal.firststart.channels import CHANNELS, DIMENSION, WORDS
from sensorcal.firststart.events import events_of, nominal_times
from sensorcal.firststart.logclock import TimeLine, seconds_in, time_line
from sensorcal.firststart.logcolumns import Columns, read_columns
from sensorcal.firststart.logtable import Table, read_table
from sensorcal.firststart.startlog import Floats, StartLog, gaps_in
from sensorcal.setup import Setup

# A list of events is typed by hand; a logger that also names the phase of each row writes more of them.
_EVENT_ROWS = 80


def read_log(path: str | Path, setup: Setup | None = None) -> StartLog:
    """Read the log of a first start, or the list of its events typed afterwards.

    Parameters
    ----------
    path : path
        CSV separated by comma, semicolon or tab, with decimal point or comma, and any lines before its heading row.
        The headings are understood by the setup's ``[log.columns]``, the tags of its probes, or trade words.
    setup : Setup, optional
        Its units stand in where a heading has none.

    Returns
    -------
    StartLog
        With every row that holds a reading; each column's meaning, and every blank, pause, repeat and new beginning
        of the clock, in its notes and cautions. No value is repaired: what looks like another unit is judged later.

    Raises
    ------
    FileError
        Naming file, row, column, what is wrong and what to do.
    """
    file = Path(path)
    try:
        data = file.read_bytes()
    except FileNotFoundError:
        raise FileError("there is no such file", do="check the name", file=str(path)) from None
    except OSError as error:
        raise FileError(f"it cannot be read ({error.strerror})", do="check the name", file=str(path)) from None
    return log_from_bytes(data, setup, file=file.name)


def log_from_bytes(data: bytes, setup: Setup | None = None, *, file: str = "") -> StartLog:
    r"""Read a log from the bytes of its CSV file.

    Examples
    --------
    >>> log = log_from_bytes("Time [s];CLT °C;Oil P (bar)\n0;20,5;0,0\n0,5;20,5;1,2\n".encode())
    >>> log.time_s.tolist(), log.values["oil_pressure"].tolist(), log.heading("coolant")
    ([0.0, 0.5], [0.0, 120000.0], 'CLT °C')
    """
    setup = setup or Setup()
    # A logger that loses its supply leaves a tail of zero bytes; one or two of them end a text in UTF-16.
    bare = data.rstrip(b"\x00")
    zeros = len(data) - len(bare) if len(data) - len(bare) > 2 else 0
    try:
        text, _, _ = decoded(data[: len(data) - zeros])
    except UnicodeDecodeError:
        raise FileError("it is no text file", do="export the log as CSV, in UTF-8 if asked", file=file) from None
    table = read_table(text, setup, file)
    if zeros:
        table.notes.append(f"{zeros} zero bytes at the end were left out: the logger lost power while writing")
    columns = read_columns(table.headings, setup, units=table.units, file=file, row=table.heading_row)
    if not columns.channels:
        raise FileError(
            f"no column of {', '.join(repr(h) for h in table.headings if h)} is a channel of the engine",
            do='say which is which under [log.columns] in the setup, as in "CLT" = "coolant degC"',
            file=file, row=table.heading_row,
        )  # fmt: skip
    labels = _event_column(table, columns)
    if labels is not None:
        return _events(table, columns, labels, file)
    return _rows(table, columns, file)


def _rows(table: Table, columns: Columns, file: str) -> StartLog:
    """Put a logger's rows together."""
    if columns.time is None:
        if columns.date is None:
            raise FileError(
                f"no column with the time among {', '.join(repr(h) for h in table.headings if h)}",
                do='head it "Time [s]", or say which it is under [log.columns], as in "n" = "time s"',
                file=file, row=table.heading_row,
            )  # fmt: skip
        time_at, dates = columns.date, None
    else:
        time_at, dates = columns.time, columns.date
    words = table.words_only(time_at, columns.channels.values())
    notes = [*table.notes, *columns.notes, *_left_aside(table, columns)]
    if words:
        shown = "; ".join(f"row {table.rows[i]}: {table.text(i)!r}" for i in words[:3])
        more = "; ..." if len(words) > 3 else ""
        notes.append(f"{len(words)} rows without any reading are left aside ({shown}{more})")
        table = table.without(words)
    if not len(table):
        raise FileError("it has a heading but no readings", do="export the log with its rows", file=file)
    line = _clock(table, columns, time_at, dates, file)
    values, blanks = _values(table, columns)
    same = sum(1 for above, line in itertools.pairwise(table.lines) if above == line)
    if same:
        notes.append(f"{same} rows repeat the row above in every cell, the time included: kept")
    gaps = gaps_in(line.time_s)
    if gaps:
        longest = max(gaps, key=lambda gap: gap[1] - gap[0])
        length_s = longest[1] - longest[0]
        notes.append(f"{len(gaps)} pauses in the log, the longest of {length_s:.3g} s at {longest[0]:.4g} s")
    return StartLog(
        file=file, kind="log", time_s=line.time_s, values=values, columns=columns.described,
        restarts_s=tuple(float(line.time_s[row]) for row in line.restarts), gaps=gaps, ignored=columns.ignored,
        notes=(*notes, *blanks, *line.notes), cautions=(*columns.cautions, *line.cautions, *_missing(values, columns)),
    )  # fmt: skip


def _left_aside(table: Table, columns: Columns) -> list[str]:
    """Say which filled columns were not read although nobody asked to ignore them."""
    said = [
        f"column {index + 1} has no heading: not read"
        for index, heading in enumerate(table.headings)
        if not heading and any(table.cells(index))
    ]
    if columns.label is not None:
        said.append(
            f"column {table.headings[columns.label]!r} was not read: the phases are found from the other channels"
        )
    told = " ".join((*columns.notes, *columns.cautions))
    unknown = [heading for heading in columns.ignored if f"column {heading!r}" not in told]
    if unknown:
        said.append(f"no channel is known for {', '.join(repr(heading) for heading in unknown)}: not read")
    return said


def _clock(table: Table, columns: Columns, time_at: int, date_at: int | None, file: str) -> TimeLine:
    """Read the time column and bring it to one line."""
    heading = table.headings[time_at]
    try:
        numbers = table.numbers(time_at)
        if numbers is not None:
            factor = {"ms": 1e-3, "min": 60.0, "h": 3600.0}.get(columns.time_unit, 1.0)
            line = time_line(numbers * factor, rows=table.rows)
            said: list[str] = []
            if not columns.time_unit:
                said.append(f"column {heading!r} has no unit: read as seconds")
        else:
            dates = None if date_at is None or date_at == time_at else table.cells(date_at)
            raw_s, of_day, said = seconds_in(table.cells(time_at), columns.time_unit, dates)
            line = time_line(raw_s, of_day=of_day, rows=table.rows)
    except InputError as error:
        row = None if error.row is None else table.rows[error.row]
        raise FileError(error.what, do=error.do, file=file, row=row, column=heading) from None
    cautions = list(line.cautions)
    usual_s = float(np.median(np.diff(line.time_s))) if line.time_s.size > 1 else 0.0
    if usual_s > 60.0 and not columns.time_unit:
        cautions.append(
            f"rows are {usual_s:.4g} s apart: if {heading!r} is in milliseconds, write "
            f'"{heading}" = "time ms" under [log.columns]'
        )
    return TimeLine(
        time_s=line.time_s, restarts=line.restarts, notes=(*said, *line.notes), cautions=tuple(cautions)
    )


def _values(table: Table, columns: Columns) -> tuple[dict[str, Floats], list[str]]:
    """Read every channel in home units, and say what blanks it has."""
    values: dict[str, Floats] = {}
    said: list[str] = []
    for channel in (name for name in CHANNELS if name in columns.channels):
        at = columns.channels[channel]
        unit = columns.described[channel].unit
        numbers = table.channel(at, DIMENSION[channel], unit)
        values[channel] = numbers
        blank = np.flatnonzero(np.isnan(numbers))
        if blank.size:
            words = Counter(word for word in (table.cell(int(i), at) for i in blank) if word)
            shown = ", ".join(f"{word!r} {count} times" for word, count in words.most_common(3))
            said.append(
                f"{table.headings[at]!r} has {blank.size} of {len(table)} cells without a number"
                + (f" ({shown})" if shown else "")
            )
    return values, said


def _missing(values: dict[str, Floats], columns: Columns, *, events: bool = False) -> list[str]:
    """Say which channels were not found, or show nothing."""
    absent = [WORDS[channel] for channel in JUDGED if channel not in columns.channels]
    silent = [
        columns.described[channel].heading
        for channel, numbers in values.items()
        if not np.isfinite(numbers).any()
    ]
    said = [f"no column was found for {', '.join(absent)}: not judged"] if absent else []
    said += [f"column {heading!r} holds no number at all" for heading in silent]
    if "rpm" not in columns.channels and not events:
        said.append("no column was found for engine speed: the phases are found from the other channels")
    return said


def _event_column(table: Table, columns: Columns) -> list[str] | None:
    """Give the labels of an event list, or None where the file is a logger's."""
    if len(table) > _EVENT_ROWS:
        return None
    candidates = [columns.label, columns.time, 0 if 0 not in columns.channels.values() else None]
    for at in dict.fromkeys(candidates):
        if at is None or table.numbers(at) is not None:
            continue
        labels = table.cells(at)
        known = [event for event in events_of(labels) if event is not None]
        engine_off = any(event.kind in {"rest", "pump", "crank", "stop"} for event in known)
        if len(known) >= max(2, 0.7 * len([label for label in labels if label])) and (
            engine_off or at == columns.label
        ):
            return labels
    return None


def _events(table: Table, columns: Columns, labels: Sequence[str], file: str) -> StartLog:
    """Put a list of events together; times from the labels, or those of the usual order."""
    values, blanks = _values(table, columns)
    events = events_of(labels)
    strange = [label for label, event in zip(labels, events, strict=True) if event is None]
    cautions = [*columns.cautions, *_missing(values, columns, events=True)]
    if strange:
        cautions.append(
            f"no phase is known for {', '.join(repr(label) for label in strange)}: write master, pump, crank, 10 s, "
            "2 min, idle, run-up, stop or +3 min"
        )
    time_s = np.array(nominal_times(events))
    said = "a list of events: times not given by a label are nominal, and no rate is taken from them"
    if columns.time is not None and table.cells(columns.time) != list(labels):
        time_s = _clock(table, columns, columns.time, columns.date, file).time_s
        said = "a list of events, with the times of its own column"
    return StartLog(
        file=file, kind="events", time_s=time_s, values=values, columns=columns.described,
        labels=tuple(labels), ignored=columns.ignored,
        notes=(*table.notes, *columns.notes, *blanks, said), cautions=tuple(cautions),
    )  # fmt: skip

