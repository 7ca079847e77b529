"""The cells of a log's CSV file: where its headings stand, how it writes numbers, and its columns, quickly."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from sensorcal.bench.dialect import decimal_mark, number_in
from sensorcal.errors import FileError, InputError
from sensorcal.firststart.logclock import numbers_between
from sensorcal.firststart.logcolumns import recognised
from sensorcal.firststart.logwords import SPEED_FACTOR, unit_of
from sensorcal.firststart.startlog import Floats
from sensorcal.setup import Setup
from sensorcal.units import dimension, to_si

_DELIMITERS = ("\t", ";", ",", "|")
# A heading row stands in the first lines, after whatever a logger writes about itself.
_SEARCHED = 250
_SAMPLED = 400
_NUMBER = re.compile(r"\s*[+\-−]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+\-]?\d+)?\s*")
_MESSAGE = re.compile(r"(?i)(?!(?:am|pm|utc|gmt|z|t)\b)[a-zäöüéè]{2,}")


@dataclass(frozen=True, slots=True, kw_only=True)
class _Found:
    """Where the headings stand: index of the line, its cells, and the separator."""

    line: int
    cells: tuple[str, ...]
    delimiter: str
    score: int


class Table:
    """The cells of a file below its headings.

    Parameters
    ----------
    headings, units : tuple of str
        The heading row, and the row of units below it where there is one.
    heading_row : int
        Its row in the file, counted from 1.
    rows : list of int
        Row in the file of each line.
    lines : list of str
        The lines as written, without comments and blank ones.
    delimiter, decimal : str
        How they are written.
    notes : list of str
        What was understood unasked.
    """

    def __init__(
        self, *, headings: tuple[str, ...], units: tuple[str, ...], heading_row: int, rows: list[int],
        lines: list[str], delimiter: str, decimal: str, notes: list[str], file: str,
    ) -> None:  # fmt: skip
        self.headings, self.units, self.heading_row = headings, units, heading_row
        self.rows, self.lines = rows, lines
        self.delimiter, self.decimal = delimiter, decimal
        self.notes, self.file = notes, file
        self._left, self._block = self._numbers_at_once()
        self._columns: list[tuple[str, ...]] | None = None

    def __len__(self) -> int:
        """Count the rows."""
        return len(self.lines)

    def text(self, row: int) -> str:
        """Give a line as written."""
        return self.lines[row].strip(self.delimiter + " ")

    def cell(self, row: int, column: int) -> str:
        """Give one cell."""
        cells = self._split([self.lines[row]])[0]
        return cells[column].strip() if column < len(cells) else ""

    def cells(self, column: int) -> list[str]:
        """Give the cells of a column."""
        return [cell.strip() for cell in self._texts(column)]

    def numbers(self, column: int) -> Floats | None:
        """Give a column's numbers as typed, NaN for blanks and words; None where it holds other things than numbers."""
        place = column - self._left
        if self._block is not None and 0 <= place < self._block.shape[1]:
            return np.ascontiguousarray(self._block[:, place])
        cells = self._texts(column)
        if cells and self._plain(cells[0]) is None:
            return None  # a clock shows itself in its first cell
        known = {cell: self._plain(cell) for cell in set(cells)}
        if any(value is None for value in known.values()):
            return None
        return np.array([known[cell] for cell in cells], dtype=np.float64)

    def channel(self, column: int, kind: str, unit: str) -> Floats:
        """Give a column in home units; a cell may name its own unit.

        Raises
        ------
        FileError
            For a cell that begins like a number and is none.
        """
        numbers = self.numbers(column)
        if numbers is not None:
            return numbers * SPEED_FACTOR[unit] if unit in SPEED_FACTOR else np.asarray(to_si(numbers, unit))
        cells = self._texts(column)
        known: dict[str, float] = {}
        for row, cell in enumerate(cells):
            if cell not in known:
                try:
                    known[cell] = self._quantity(cell.strip(), kind, unit)
                except InputError as error:
                    raise FileError(
                        error.what, do=error.do, file=self.file, row=self.rows[row], column=self.headings[column]
                    ) from None
        return np.array([known[cell] for cell in cells], dtype=np.float64)

    def words_only(self, time_column: int, columns: Iterable[int]) -> list[int]:
        """Find the rows that hold no number in any of the columns and no time either: messages of the logger."""
        empty = np.ones(len(self), dtype=bool)
        for column in columns:
            numbers = self.numbers(column)
            empty &= np.isnan(numbers) if numbers is not None else [not _has_digit(c) for c in self.cells(column)]
            if not empty.any():
                return []
        times = self.numbers(time_column)
        if times is not None:
            return [int(row) for row in np.flatnonzero(empty & np.isnan(times))]
        return [
            int(row) for row in np.flatnonzero(empty)
            if not _has_digit(cell := self.cell(int(row), time_column)) or _MESSAGE.search(cell)
        ]  # fmt: skip

    def without(self, rows: Sequence[int]) -> Table:
        """Leave rows out."""
        gone = set(rows)
        keep = [row for row in range(len(self)) if row not in gone]
        return Table(
            headings=self.headings, units=self.units, heading_row=self.heading_row,
            rows=[self.rows[row] for row in keep], lines=[self.lines[row] for row in keep], delimiter=self.delimiter,
            decimal=self.decimal, notes=self.notes, file=self.file,
        )  # fmt: skip

    def _texts(self, column: int) -> Sequence[str]:
        """Give a column as text; one at the left without cutting up the rest of the lines."""
        if self._block is not None and column < self._left:
            return [line.split(self.delimiter, column + 1)[column] for line in self.lines]
        return self._all()[column]

    def _all(self) -> list[tuple[str, ...]]:
        """Give every column as text."""
        if self._columns is None:
            rows = self._split(self.lines)
            self._columns = list(zip(*rows, strict=True)) if rows else [() for _ in self.headings]
        return self._columns

    def _split(self, lines: list[str]) -> list[list[str]]:
        """Cut lines into cells."""
        if any('"' in line for line in lines):
            return list(csv.reader(lines, delimiter=self.delimiter))
        return [line.split(self.delimiter) for line in lines]

    def _plain(self, cell: str) -> float | None:
        """Read one cell as a bare number: NaN for a blank or a word, None for anything else."""
        text = cell.strip()
        if self.decimal == "," and "." not in text:
            text = text.replace(",", ".")
        try:
            value = float(text)
        except ValueError:
            return float("nan") if not _has_digit(text) or text[0].isalpha() else None
        return value if np.isfinite(value) else float("nan")

    def _quantity(self, cell: str, kind: str, unit: str) -> float:
        """Read one cell that may hold a unit, in home units."""
        value = self._plain(cell)
        own = unit
        if value is None:
            value, rest = number_in(cell, self.decimal)
            if rest:
                own, _ = unit_of(rest)
                fits = own in SPEED_FACTOR if kind == "speed" else bool(own) and dimension(own) == kind
                if not fits:
                    raise InputError(f"{cell!r} is not a number of the column's kind", do="correct the cell")
        return value * SPEED_FACTOR[own] if own in SPEED_FACTOR else to_si(value, own)

    def _numbers_at_once(self) -> tuple[int, Floats | None]:
        """Read all columns but text ones at the left with one call of the C parser; None where that cannot be done."""
        mark = self.delimiter
        if not self.lines or any('"' in line for line in self.lines[:50]):
            return 0, None
        first = [cell.strip() for cell in self.lines[0].split(mark)]
        texts = [bool(cell) and _has_digit(cell) and not _NUMBER.fullmatch(cell) for cell in first]
        left = len(texts) - texts[::-1].index(True) if True in texts else 0
        wide = len(self.headings) - left
        if left > 3 or wide < 1:
            return 0, None
        lines = [line.split(mark, left)[left] for line in self.lines] if left else self.lines
        text = mark.join(lines)
        if self.decimal == ",":
            if "." in text:
                return 0, None
            text = text.replace(",", ".")
        text = _blanks_named(text, mark)
        numbers = numbers_between(text, mark)
        if numbers is None:
            inside = re.escape(mark)
            words = re.sub(rf"(?:(?<=^)|(?<={inside}))[^\d{inside}]+(?={inside}|$)", "nan", text)
            numbers = numbers_between(words, mark)
        if numbers is None or numbers.size != wide * len(self.lines):
            return 0, None
        block = numbers.reshape(len(self.lines), wide)
        block[np.isinf(block)] = np.nan
        return left, block


def read_table(text: str, setup: Setup, file: str = "") -> Table:
    """Find the headings of a log and the lines below them.

    Parameters
    ----------
    text : str
        The file's text.
    setup : Setup
        Its ``[log.columns]`` and probes name columns too.
    file : str, optional
        For messages.

    Raises
    ------
    FileError
        When there is nothing in it, no heading is known, or a row has more cells than there are headings.
    """
    notes: list[str] = []
    if "\x00" in text:
        notes.append(f"{text.count(chr(0))} zero bytes were left out: the logger lost power while writing")
        text = text.replace("\x00", "")
    ends = text.endswith(("\n", "\r"))
    lines = text.splitlines()
    found = _headings(lines, setup)
    if found is None:
        raise FileError(
            "no row of headings with a channel of the engine stands in it" if any(lines) else "there is nothing in it",
            do='head the columns in trade words, as in "CLT [degC]", or list them under [log.columns] in the setup',
            file=file,
        )
    if found.line:
        above = sum(1 for line in lines[: found.line] if line.strip())
        notes.append(f"{above} line{'s' if above != 1 else ''} above the headings (row {found.line + 1}) not read")
    rows, body = _body(lines, found, notes)
    units: tuple[str, ...] = ()
    if body and _is_units(body[0], found.delimiter):
        units = tuple(cell.strip() for cell in body[0].split(found.delimiter))
        rows, body = rows[1:], body[1:]
    headings = _trimmed(found.cells)
    decimal = _decimal(body, found.delimiter, file)
    body = _even(body, rows, len(headings), found.delimiter, ends=ends, notes=notes, file=file)
    return Table(
        headings=headings, units=units, heading_row=found.line + 1, rows=rows, lines=body,
        delimiter=found.delimiter, decimal=decimal, notes=notes, file=file,
    )  # fmt: skip


def _headings(lines: Sequence[str], setup: Setup) -> _Found | None:
    """Find the row and the separator that give the most headings known."""
    hint = re.match(r'"?sep=(.)"?\s*$', lines[0]) if lines else None
    marks = (hint.group(1),) if hint else _DELIMITERS
    best: _Found | None = None
    for index, line in enumerate(lines[:_SEARCHED]):
        bare = line.strip(" \ufeff").removeprefix("#").strip(" ")
        if not bare.strip():
            continue
        if best is not None and best.score > 1 and re.match(r'[\s"]*[+\-]?\d', line):
            break
        for mark in marks:
            cells = _cells(bare, mark)
            if len(cells) < 2:
                continue
            score = recognised(cells, setup)
            if score and (best is None or score > best.score):
                best = _Found(line=index, cells=cells, delimiter=mark, score=score)
    return best


def _cells(line: str, mark: str) -> tuple[str, ...]:
    """Cut one line into stripped cells."""
    if mark not in line:
        return (line.strip().strip('"'),)
    return tuple(cell.strip() for cell in next(csv.reader([line], delimiter=mark)))


def _trimmed(cells: tuple[str, ...]) -> tuple[str, ...]:
    """Take empty headings at the right end off."""
    width = max(index + 1 for index, cell in enumerate(cells) if cell)
    return cells[:width]


def _body(lines: Sequence[str], found: _Found, notes: list[str]) -> tuple[list[int], list[str]]:
    """Take the lines below the headings, without blank ones, comments and headings written again."""
    heading = lines[found.line].strip()
    rows: list[int] = []
    body: list[str] = []
    comments = again = blank = 0
    only_marks = found.delimiter + " "
    for row, line in enumerate(lines[found.line + 1 :], start=found.line + 2):
        if line[:1] == "#":
            comments += 1
        elif line == heading or line.strip() == heading:
            again += 1
        elif not line or not line.strip(only_marks):
            blank += bool(line)
        else:
            rows.append(row)
            body.append(line)
    for count, what in ((comments, "comments"), (again, "headings written again"), (blank, "rows of blank cells")):
        if count:
            notes.append(f"{count} {what} among the rows left aside")
    return rows, body


def _is_units(line: str, mark: str) -> bool:
    """Say whether the line below the headings names their units."""
    cells = [cell.strip().strip('"') for cell in line.split(mark)]
    named = [cell for cell in cells if cell and cell not in {"-", "[-]"}]
    units = sum(1 for cell in named if unit_of(cell)[0])
    return bool(named) and units >= 0.5 * len(named) and not any(re.fullmatch(_NUMBER, cell) for cell in named)


def _decimal(body: Sequence[str], mark: str, file: str) -> str:
    """Find the decimal mark from a sample of the rows."""
    step = max(1, len(body) // _SAMPLED)
    sample = body[::step]
    if mark == ",":
        quoted = [cell for line in sample if '"' in line for cell in _cells(line, mark) if "," in cell]
        return "," if any(re.fullmatch(r"[+\-−]?\d+,\d+", cell) for cell in quoted) else "."
    if not any("," in line for line in sample):
        return "."
    return decimal_mark((cell for line in sample for cell in _cells(line, mark)), mark, file)


def _even(
    body: list[str], rows: Sequence[int], width: int, mark: str, *, ends: bool, notes: list[str], file: str
) -> list[str]:
    """Give every row as many cells as there are headings: short rows filled with blanks, never one cell dropped."""
    if any('"' in line for line in body):
        lengths = [len(cells) for cells in csv.reader(body, delimiter=mark)]
        if len(lengths) != len(body) or _is_open(body[-1], mark):
            row = next(row for row, line in zip(rows, body, strict=True) if _is_open(line, mark))
            raise FileError("a quotation mark is not closed", do="close it, or take it out", file=file, row=row)
    else:
        lengths = [line.count(mark) + 1 for line in body]
    odd = [index for index, length in enumerate(lengths) if length != width]
    short = 0
    for index in odd:
        missing = width - lengths[index]
        if missing < 0:
            bare = body[index].rstrip(" ")
            extra = bare[len(bare) + missing :]
            if extra.strip(mark):
                do = "head every column"
                if mark == ",":
                    do += "; decimal commas in a comma-separated file need quotation marks"
                raise FileError(
                    f"{lengths[index]} cells stand under {width} headings", do=do, file=file, row=rows[index]
                )
            body[index] = bare[:missing]
            continue
        if index == len(body) - 1 and not ends:
            # The last number of a line that was cut may have lost digits: 9 of 93.
            cut = body[index].rpartition(mark)
            body[index] = cut[0] + cut[1] if cut[1] else body[index]
            notes.append(f"row {rows[index]} was cut while being written: its last cell is left blank")
        body[index] += mark * missing
        short += 1
    if short:
        notes.append(f"{short} rows have fewer cells than there are headings: filled with blanks")
    return body


def _is_open(line: str, mark: str) -> bool:
    """Say whether a quotation mark of a line is still open at its end."""
    return len(list(csv.reader([line, '"'], delimiter=mark))) < 2


def _blanks_named(text: str, mark: str) -> str:
    """Write nan into empty cells."""
    double, filled = mark + mark, f"{mark}nan{mark}"
    if double in text:
        text = text.replace(double, filled).replace(double, filled)
    if text.startswith(mark):
        text = "nan" + text
    return text + "nan" if text.endswith(mark) else text


def _has_digit(cell: str) -> bool:
    """Say whether any figure stands in a cell."""
    return any("0" <= sign <= "9" for sign in cell)
