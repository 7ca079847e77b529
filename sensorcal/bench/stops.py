"""Which rows of a run belong to one stop: one temperature or pressure at which the bath or pump stood."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from sensorcal.bench.run import Reading, Run
from sensorcal.errors import InputError

_BY_LABEL = re.compile(r"^\s*(ice|steam)(?![a-z])", re.IGNORECASE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stop:
    """The rows of one stop.

    Parameters
    ----------
    label, key : str
        As typed, and made unique within the run ('ice', 'ice (2)').
    fixed : str
        'ice', 'steam' or '' where a reference was read.
    readings : tuple of Reading
        Rows of the stop.
    references : tuple of Reading
        Rows whose reference may be carried to the stop's readings.
    direction : str
        'up', 'down' or ''.
    notes : tuple of str
        What was understood without being told.
    """

    label: str
    key: str
    fixed: str
    readings: tuple[Reading, ...]
    references: tuple[Reading, ...]
    direction: str = ""
    notes: tuple[str, ...] = ()


def stops(run: Run, probe: str) -> tuple[Stop, ...]:
    """Gather the rows of a run into stops, and give those in which the probe was read.

    Raises
    ------
    InputError
        When a stop has a fixed point by name in one row and a number, or another name, in the next.
    """
    labelled = any(reading.point for reading in run.readings)
    groups = _by_label(run.readings) if labelled else _by_row(run.readings, probe)
    seen: dict[str, int] = {}
    found = []
    for n, (label, readings, references, notes) in enumerate(groups, start=1):
        name = label or _name(readings, n)
        seen[name] = seen.get(name, 0) + 1
        key = name if seen[name] == 1 else f"{name} ({seen[name]})"
        if any(probe in reading.signals for reading in readings):
            fixed, told = _fixed(label, key, readings, run)
            found.append(
                Stop(
                    label=label,
                    key=key,
                    fixed=fixed,
                    readings=tuple(readings),
                    references=tuple(references),
                    direction=readings[0].direction,
                    notes=(*notes, *told),
                )
            )
    return tuple(found)


_Group = tuple[str, list[Reading], list[Reading], list[str]]


def _by_label(readings: Sequence[Reading]) -> list[_Group]:
    """Rows with the same label and direction, one after the other; a blank label goes on with the one above."""
    groups: list[_Group] = []
    for reading in readings:
        same = bool(groups) and groups[-1][1][-1].direction == reading.direction
        if groups and same and reading.point in {"", groups[-1][0]}:
            groups[-1][1].append(reading)
            if not reading.point:
                groups[-1][3].append(f"row {reading.file_row} has no point label: taken with {groups[-1][0]!r}")
        else:
            groups.append((reading.point, [reading], [], []))
    for _, rows, references, _ in groups:
        references += [row for row in rows if row.reference is not None]
    return groups


def _by_row(readings: Sequence[Reading], probe: str) -> list[_Group]:
    """Without labels: rows of one fixed point together, every other row by itself."""
    groups: list[_Group] = []
    for index, reading in enumerate(readings):
        if reading.fixed and groups and groups[-1][1][-1] is readings[index - 1]:
            before = groups[-1][1][-1]
            if before.fixed == reading.fixed and before.direction == reading.direction:
                groups[-1][1].append(reading)
                continue
        references = [reading] if reading.reference is not None else []
        if not reading.has_reference and probe in reading.signals:
            references = _neighbours(readings, index)
        groups.append(("", [reading], references, []))
    return groups


def _neighbours(readings: Sequence[Reading], index: int) -> list[Reading]:
    """The rows with a reference on both sides in time, or in the file where there are no times."""
    moment = readings[index].time_s
    numbered = [r for r in readings if r.reference is not None]
    if moment is None:
        return numbered[:0]
    before = [r for r in numbered if r.time_s is not None and r.time_s <= moment]
    after = [r for r in numbered if r.time_s is not None and r.time_s >= moment]
    pair = []
    if before:
        pair.append(max(before, key=lambda r: (r.time_s or 0.0, r.file_row)))
    if after:
        pair.append(min(after, key=lambda r: (r.time_s or 0.0, r.file_row)))
    return _distinct(pair)


def _distinct(rows: Sequence[Reading]) -> list[Reading]:
    """Take a row that stands twice only once."""
    return [row for n, row in enumerate(rows) if all(row is not other for other in rows[:n])]


def _fixed(label: str, key: str, readings: Sequence[Reading], run: Run) -> tuple[str, list[str]]:
    """Say whether the stop is a fixed point by name, by its cells or, where no reference was read, by its label."""
    names = {reading.fixed for reading in readings if reading.fixed}
    numbers = [reading.file_row for reading in readings if reading.reference is not None]
    if len(names) > 1 or (names and numbers):
        rows = ", ".join(str(reading.file_row) for reading in readings)
        raise InputError(
            f"stop {key!r} (rows {rows}) holds {' and '.join(sorted(names))}{' and a number' if numbers else ''}",
            do="give each its own point label",
            file=run.file,
        )
    if names:
        return names.pop(), []
    by_label = _BY_LABEL.match(label)
    if by_label and not numbers and run.measurand == "temperature":
        name = by_label.group(1).lower()
        return name, [f"no reference at {key!r}: taken as the {name} point by its label"]
    return "", []


def _name(readings: Sequence[Reading], n: int) -> str:
    """Name a stop without a label: by its fixed point, by its row, or by its place where there is no file."""
    first = readings[0]
    return first.fixed or (f"row {first.file_row}" if first.file_row else f"reading {n}")
