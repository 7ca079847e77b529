"""How a spreadsheet wrote its CSV: encoding, separator, decimal mark; and its numbers read without guessing."""

from __future__ import annotations

import codecs
import csv
import io
import re
from collections.abc import Iterable
from dataclasses import dataclass

from sensorcal.bench.run import Dialect
from sensorcal.errors import FileError, InputError

BLANKS = frozenset({"", "-", "–", "—"})
"""Cells that say 'nothing was read here'."""

_MARKS = (
    (codecs.BOM_UTF8, "utf-8"),
    (codecs.BOM_UTF16_LE, "utf-16-le"),
    (codecs.BOM_UTF16_BE, "utf-16-be"),
)
_NUMBER = re.compile(r"[+\-−]?(?=[\d.,])\d*(?:[ '\u00a0\u202f’]\d{3})*(?:[.,]\d+)*[.,]?(?:[eE][+\-]?\d+)?")
_SURE_COMMA = re.compile(r"^[+\-−]?(?:\d*,\d{1,2}|0*,\d+|\d*,\d{4,}|\d{4,},\d+|0,\d+)\b")
_SURE_POINT = re.compile(r"^[+\-−]?(?:\d*\.\d{1,2}|0*\.\d+|\d*\.\d{4,}|\d{4,}\.\d+|0\.\d+)\b")
_THREES = re.compile(r"^[+\-−]?[1-9]\d{0,2}[.,]\d{3}\b(?![.,])")
_OVERLOAD = frozenset({"ol", "0l", "o.l", "o.l.", "0.l", "0.l.", "overload", "inf", "∞", "1."})


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """The cells of a file with the row each stands in, its comments, and how it was written."""

    rows: tuple[tuple[int, tuple[str, ...]], ...]
    comments: tuple[tuple[int, str], ...]
    dialect: Dialect


def read_sheet(data: bytes, file: str = "") -> Sheet:
    """Split the bytes of a CSV into cells.

    Parameters
    ----------
    data : bytes
        UTF-8 or UTF-16 with or without byte order mark, or Windows-1252.
    file : str, optional
        Name for the message.

    Returns
    -------
    Sheet
        Without blank rows; rows that begin with # are comments.

    Raises
    ------
    FileError
        When there is nothing in it, or a quotation mark is not closed.
    """
    try:
        text, encoding, marked = decoded(data)
    except UnicodeDecodeError:
        raise FileError("it is no text file", do="save the sheet as CSV, in UTF-8 if asked", file=file) from None
    hint = re.match(r"\s*\"?sep=(.)\"?\s*?\r?\n", text)
    lines = text.splitlines()
    heading = next((line for line in lines[1 if hint else 0 :] if _content(line)), "")
    if not heading:
        raise FileError("there is nothing in it", do="put a heading row and one row a reading", file=file)
    delimiter = hint.group(1) if hint else _delimiter(heading)
    rows: list[tuple[int, tuple[str, ...]]] = []
    comments: list[tuple[int, str]] = []
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    last = 0
    try:
        for number, cells in enumerate(reader, start=1):
            last = number
            stripped = tuple(cell.strip() for cell in cells)
            if number == 1 and hint:
                continue
            if stripped and stripped[0].startswith("#"):
                comments.append((number, delimiter.join(cells).strip().rstrip(delimiter)))
            elif any(stripped):
                rows.append((number, stripped))
    except csv.Error as error:
        raise FileError(
            f"the row cannot be split into cells ({error})",
            do="look for a lone quotation mark",
            file=file,
            row=last + 1,
        ) from None
    if not rows:
        raise FileError("there is nothing in it", do="put a heading row and one row a reading", file=file)
    dialect = Dialect(delimiter=delimiter, encoding=encoding, byte_order_mark=marked)
    return Sheet(rows=tuple(rows), comments=tuple(comments), dialect=dialect)


def number_in(cell: str, decimal: str) -> tuple[float, str]:
    """Read the number at the head of a cell and give what follows it, its unit if it has one.

    Parameters
    ----------
    cell : str
        Such as '1837', '1,84 k', "14'079", '1.234,5'.
    decimal : str
        Decimal mark of the file.

    Returns
    -------
    float, str
        The number, and the text after it.

    Raises
    ------
    InputError
        When it is no number, or its separators can be read in two ways.

    Examples
    --------
    >>> number_in("1,84 kΩ", ","), number_in("14'079", ".")
    ((1.84, 'kΩ'), (14079.0, ''))
    """
    if cell.lower() in _OVERLOAD:
        raise InputError(
            f"{cell!r} is the meter's overload sign: an open circuit or too small a range",
            do="leave the cell blank and say so in the note column",
        )
    found = _NUMBER.match(cell)
    if not found or not any(sign.isdigit() for sign in found.group()):
        raise InputError(f"{cell!r} is not a number", do="type the number as the display showed it, or leave it blank")
    text, rest = found.group(), cell[found.end() :].strip()
    if rest[:1].isdigit() or rest[:1] in {".", ",", "'"}:
        raise InputError(f"{cell!r} is not a number", do="type it without separators")
    return float(_plain(text, decimal, cell)), rest


def _plain(text: str, decimal: str, cell: str) -> str:
    """Take the thousands separators out where they can only be that."""
    other = "," if decimal == "." else "."
    text = re.sub(r"[ '\u00a0\u202f’]", "", text).replace("−", "-")
    points, others = text.count(decimal), text.count(other)
    if others == 0 and points <= 1:
        return text.replace(decimal, ".")
    # 1.234,5 and 1,234,567 can be read in one way only; 5,230 in a file with decimal points cannot.
    groups = re.fullmatch(rf"[+\-]?\d{{1,3}}((?:\{other}\d{{3}})+)(\{decimal}\d+)?", text)
    if groups and (groups.group(2) or others > 1):
        return text.replace(other, "").replace(decimal, ".")
    raise InputError(
        f"{cell!r} can be read in two ways in a file whose decimal mark is {decimal!r}",
        do="type it without a thousands separator",
    )


def decoded(data: bytes) -> tuple[str, str, bool]:
    """Decode the bytes of a CSV file: by byte order mark, UTF-16 by its zeros, as UTF-8, and as Windows-1252 last.

    Parameters
    ----------
    data : bytes
        As read from the file.

    Returns
    -------
    str, str, bool
        The text, the encoding's name, and whether there was a byte order mark.

    Raises
    ------
    UnicodeDecodeError
        When it is no text.

    Examples
    --------
    >>> decoded("°C".encode("cp1252"))
    ('°C', 'cp1252', False)
    """
    for mark, encoding in _MARKS:
        if data.startswith(mark):
            return data[len(mark) :].decode(encoding), encoding, True
    if b"\x00" in data[:200]:
        encoding = "utf-16-le" if data[1:2] == b"\x00" else "utf-16-be"
        return data.decode(encoding), encoding, False
    try:
        return data.decode("utf-8"), "utf-8", False
    except UnicodeDecodeError:
        return data.decode("cp1252"), "cp1252", False


def _content(line: str) -> bool:
    """Say whether a line holds more than separators and is no comment."""
    bare = line.strip().strip(",;\t\"' ")
    return bool(bare) and not bare.startswith("#")


def _delimiter(heading: str) -> str:
    """Find the separator in the heading row, outside quotation marks and brackets."""
    bare = re.sub(r'"[^"]*"|\[[^\]]*\]|\([^)]*\)', "", heading)
    for mark in ("\t", ";", ","):
        if mark in bare:
            return mark
    return ";"


def decimal_mark(cells: Iterable[str], delimiter: str, file: str = "") -> str:
    """Find the decimal mark from the cells that leave no choice; refuse a file that leaves one.

    Parameters
    ----------
    cells : iterable of str
        Cells of the columns that hold numbers.
    delimiter : str
        Separator of the file.
    file : str, optional
        Name for the message.

    Raises
    ------
    FileError
        When both marks are used, or '5,230' is all there is to go by.

    Examples
    --------
    >>> decimal_mark(["61,8", "5,230"], ";"), decimal_mark(["61.8", "5230"], ";")
    (',', '.')
    """
    numeric = [cell for cell in cells if not _clocklike(cell) and (cell[:1].isdigit() or cell[:1] in "+-−.,")]
    comma = next((cell for cell in numeric if _SURE_COMMA.match(cell) and "." not in cell), "")
    point = next((cell for cell in numeric if _SURE_POINT.match(cell) and "," not in cell), "")
    if comma and point:
        raise FileError(
            f"both {comma!r} and {point!r} stand in it, so the decimal mark is not clear",
            do="use one decimal mark throughout",
            file=file,
        )
    if comma:
        return ","
    # 1.234,5 shows its decimal mark by the order of the two.
    if any(re.match(r"^[+\-−]?\d{1,3}(?:\.\d{3})+,\d", cell) for cell in numeric):
        return ","
    doubtful = next((cell for cell in numeric if _THREES.match(cell) and "," in cell), "")
    if doubtful and not point and delimiter != ",":
        raise FileError(
            f"{doubtful!r} may be {doubtful.replace(',', '.')} or {doubtful.replace(',', '')}",
            do="type it without a thousands separator, or write 0,0 for a zero so that the decimal mark shows",
            file=file,
        )
    return "."


def _clocklike(cell: str) -> bool:
    """Say whether a cell is a date or time rather than a number."""
    return ":" in cell or (cell.count(".") > 1 and "," not in cell) or cell.count("-") > 1
