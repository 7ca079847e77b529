"""A maker's resistance sheet as a person pastes it: lines of temperature and resistance, in any usual writing."""

from __future__ import annotations

import re
from itertools import pairwise

from sensorcal.errors import InputError
from sensorcal.units import dimension, parse_header, parse_quantity, parse_unit

_NUMBER = r"[+\-−]?(?:\d+(?:[.,]\d+)?|[.,]\d+)"
_QUANTITY = re.compile(rf"{_NUMBER}\s*(?:[°º]\s*[CFcf]|deg\s?[CF]|[kM]?\s?[Ωω]|[kM]?ohms?|[kKCFrR](?![A-Za-z]))?")
_COLDEST_C, _HOTTEST_C = -90.0, 350.0


def parse_sheet(
    text: str,
    *,
    temperature_unit: str = "degC",
    resistance_unit: str = "ohm",
    file: str = "",
) -> tuple[tuple[float, float], ...]:
    r"""Read a pasted resistance sheet.

    Parameters
    ----------
    text : str
        One pair a line, such as '0 5230', '25; 1.80k' or '97,7;172,1'. A first line may name the units; blank
        lines and lines beginning with # are passed over. With ';' or a tab between them, a comma is a decimal mark.
    temperature_unit, resistance_unit : str, optional
        Units of numbers that carry none.
    file : str, optional
        Name for the message.

    Returns
    -------
    tuple of (float, float)
        Temperature in degC and resistance in ohm, from cold to hot.

    Raises
    ------
    InputError
        When a line is no pair, a temperature stands twice, or the resistance does not fall as it gets hotter.

    Examples
    --------
    >>> parse_sheet("T [°C]; R [kΩ]\n0; 5,23\n25; 1,80")
    ((0.0, 5230.0), (25.0, 1800.0))
    """
    pairs: list[tuple[float, float, int]] = []
    swapped = False
    for row, raw in enumerate(text.lstrip("\ufeff").splitlines(), start=1):
        line = raw.strip()
        if not line or line.startswith("#"):
            continue
        cells = _cells(line)
        if not pairs and not any(cell[:1].isdigit() or cell[:1] in "+-−.," for cell in cells):
            temperature_unit, resistance_unit, swapped = _heading(cells, temperature_unit, resistance_unit)
            continue
        if len(cells) != 2:
            raise InputError(
                f"{line!r} is not one temperature and one resistance",
                do="keep two columns, the temperature and the nominal resistance",
                file=file,
                row=row,
            )
        first, second = reversed(cells) if swapped else cells
        try:
            temperature_c = parse_quantity(first, temperature_unit, "temperature")
            resistance_ohm = parse_quantity(second, resistance_unit, "resistance")
        except InputError as error:
            raise InputError(error.what, do=error.do, file=file, row=row) from None
        pairs.append((temperature_c, resistance_ohm, row))
    return _checked(pairs, file)


def check_sheet(pairs: tuple[tuple[float, float], ...], file: str = "") -> tuple[tuple[float, float], ...]:
    """Sort a sheet from cold to hot and refuse one whose resistance does not fall.

    Examples
    --------
    >>> check_sheet(((25.0, 1800.0), (0.0, 5230.0)))
    ((0.0, 5230.0), (25.0, 1800.0))
    """
    return _checked([(t, r, row) for row, (t, r) in enumerate(pairs, start=1)], file)


def _cells(line: str) -> list[str]:
    """Split a line at ';', a tab or '|'; else at ', '; else between two quantities; else at its one comma."""
    for mark in (";", "\t", "|"):
        if mark in line:
            return [cell.strip() for cell in line.split(mark) if cell.strip()]
    if re.search(r",\s", line):
        return [cell.strip() for cell in re.split(r",\s+", line) if cell.strip()]
    if re.search(r"\s", line):
        found = [match.group().strip() for match in _QUANTITY.finditer(line)]
        if found and _QUANTITY.match(line):
            return found
        return line.split()
    return [cell for cell in line.split(",") if cell]


def _heading(cells: list[str], temperature_unit: str, resistance_unit: str) -> tuple[str, str, bool]:
    """Take the units from a first line; say whether the resistance stands first."""
    order: list[str] = []
    for cell in cells:
        try:
            _, unit = parse_header(cell)
            # A heading may be nothing but a unit, in brackets or bare.
            unit = unit or parse_unit(cell.strip("[]()"))
        except InputError:
            continue
        kind = dimension(unit)
        if kind == "temperature":
            temperature_unit = unit
        elif kind == "resistance":
            resistance_unit = unit
        order.append(kind)
    return temperature_unit, resistance_unit, order[:1] == ["resistance"]


def _checked(pairs: list[tuple[float, float, int]], file: str) -> tuple[tuple[float, float], ...]:
    """Sort from cold to hot and refuse what no thermistor does."""
    if not pairs:
        raise InputError("the sheet has no rows", do="paste lines such as '25 1800'", file=file)
    for temperature_c, resistance_ohm, row in pairs:
        if not _COLDEST_C <= temperature_c <= _HOTTEST_C:
            raise InputError(
                f"{temperature_c:g} degC is no temperature of a thermistor sheet",
                do="put the temperature first and the resistance second",
                file=file,
                row=row,
            )
        if resistance_ohm <= 0:
            raise InputError(f"a resistance of {resistance_ohm:g} ohm is none", file=file, row=row)
    ordered = sorted(pairs)
    for (cold, high, _), (hot, low, row) in pairwise(ordered):
        if hot == cold:
            raise InputError(f"{hot:g} degC stands twice in the sheet", do="keep one", file=file, row=row)
        if low >= high:
            raise InputError(
                f"{low:g} ohm at {hot:g} degC is not below {high:g} ohm at {cold:g} degC",
                do="a thermistor's resistance falls as it gets hotter: look for a typing slip",
                file=file,
                row=row,
            )
    return tuple((temperature_c, resistance_ohm) for temperature_c, resistance_ohm, _ in ordered)
