"""Slips of the pen at a pressure bench, undone: what the entries would have been without them."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Literal

import numpy as np

from sensorcal.bench.pressurewritten import Written
from sensorcal.units import to_si

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

SlipKind = Literal["decade", "digits", "digit", "swapped", "unit", "single"]
Side = Literal["gauge", "output", "supply", "either"]

BEFORE: dict[SlipKind, float] = {
    "decade": 0.15,
    "digits": 0.25,
    "digit": 0.15,
    "swapped": 0.10,
    "unit": 0.10,
    "single": 0.25,
}
"""Weights of the explanations before the data speak: common practice, no source."""
# Gauges often carry two scales: the inner one read in place of the outer.
_SCALES = ("psi", "bar", "kPa", "inHg")
_NEARER = 0.1  # a row mended comes ten times nearer to its neighbours: common practice, no source
_THOUSAND_FOLD = (10.0, 0.1, 100.0, 0.01, 1000.0, 0.001)


@dataclass(frozen=True, slots=True)
class Slip:
    """One slip, undone.

    Parameters
    ----------
    kind : str
        'decade', 'digits' (two exchanged), 'digit' (one wrong), 'swapped' or 'unit'.
    points : tuple of int
        Whose entries it concerns, from 0.
    side : {'gauge', 'output', 'supply'}
    pressure_pa, ratio : float
        Of the first point without the slip; swapped points exchange their ratios.
    typed, likely, unit : str
        The entry as it stands and as it would stand, with its unit.
    row : int
        Row of the file, where the point is the mean of several; else 0.
    """

    kind: SlipKind
    points: tuple[int, ...]
    side: Side
    pressure_pa: float
    ratio: float
    typed: str = ""
    likely: str = ""
    unit: str = ""
    row: int = 0


def slips(pressure_pa: Floats, ratio: Floats, entries: tuple[tuple[Written, ...], ...]) -> Iterator[Slip]:
    """Undo every slip that could stand behind the entries of each point.

    Parameters
    ----------
    pressure_pa, ratio : array, shape (n,)
        As the entries stand, corrected.
    entries : tuple of tuple of Written
        One for each row of each point; nothing is tried where an entry is empty.
    """
    for i, rows in enumerate(entries):
        p, r = float(pressure_pa[i]), float(ratio[i])
        outputs = [float(entry.output) for entry in rows if entry.output]
        mean = sum(outputs) / len(outputs) if outputs else 0.0
        share = 1.0 / max(len(rows), 1)  # of one row in the point's mean
        for entry in rows:
            row = entry.file_row if len(rows) > 1 else 0
            for kind, text, unit in (*_changed_gauge(entry), *_other_scale(entry)):
                moved = to_si(float(entry.gauge if kind == "unit" else text), unit)
                moved = share * (moved - to_si(float(entry.gauge), entry.gauge_unit))
                yield Slip(kind, (i,), "gauge", p + moved, r, entry.gauge, text, entry.gauge_unit, row)
            if not mean:
                continue
            here = r * (float(entry.output) / mean if entry.output else 1.0)
            for kind, text in _changed(entry.output):
                moved = share * here * (float(text) / float(entry.output) - 1.0)
                yield Slip(kind, (i,), "output", p, r + moved, entry.output, text, entry.output_unit, row)
            for kind, text in _changed(entry.supply):
                if float(text) != 0.0:
                    moved = share * here * (float(entry.supply) / float(text) - 1.0)
                    yield Slip(kind, (i,), "supply", p, r + moved, entry.supply, text, entry.supply_unit, row)
        for j in range(i + 1, len(entries)):
            if ratio[i] != ratio[j]:
                yield Slip("swapped", (i, j), "output", p, float(ratio[j]))


def _changed_gauge(entry: Written) -> Iterator[tuple[SlipKind, str, str]]:
    """Slips of the pen in a gauge reading, each with the unit it stays in."""
    for kind, text in _changed(entry.gauge):
        yield kind, text, entry.gauge_unit


def _other_scale(entry: Written) -> Iterator[tuple[SlipKind, str, str]]:
    """Read on another scale of the dial and typed as if it were this one's unit."""
    if not entry.gauge or float(entry.gauge) == 0.0:
        return
    now = to_si(float(entry.gauge), entry.gauge_unit)
    for unit in _SCALES:
        if unit != entry.gauge_unit and to_si(float(entry.gauge), unit) != now:
            yield "unit", unit, unit


def _changed(text: str) -> Iterator[tuple[SlipKind, str]]:
    """Every entry that one slip turns into this one: decimal point, two digits exchanged, one digit wrong."""
    if not text or not math.isfinite(float(text)) or float(text) == 0.0:
        return
    seen = {float(text)}
    at = [i for i, character in enumerate(text) if character.isdigit()]
    for factor in _THOUSAND_FOLD:
        value = float(text) * factor
        if value not in seen:
            seen.add(value)
            yield "decade", f"{value:.10g}"
    for a, b in pairwise(at):
        letters = list(text)
        letters[a], letters[b] = letters[b], letters[a]
        yield from _fresh("digits", "".join(letters), text, seen)
    for a in at:
        for digit in "0123456789":
            yield from _fresh("digit", text[:a] + digit + text[a + 1 :], text, seen)


def _fresh(kind: SlipKind, changed: str, text: str, seen: set[float]) -> Iterator[tuple[SlipKind, str]]:
    """Pass an entry on once, and not with a zero before it that nobody writes."""
    digits, before = changed.lstrip("+-"), text.lstrip("+-")
    leading = len(digits) > 1 and digits[0] == "0" and digits[1].isdigit()
    if float(changed) in seen or (leading and not (before[0] == "0" and before[1:2].isdigit())):
        return
    seen.add(float(changed))
    yield kind, changed


def joins_its_stop(slip: Slip, rows: tuple[Written, ...]) -> bool:
    """Whether a row that stands apart from the other rows of its stop stands among them without the slip."""
    if not slip.row or slip.kind == "unit":
        return False
    others = [float(text) for row in rows if row.file_row != slip.row and (text := getattr(row, slip.side))]
    if not others:
        return False
    middle = float(np.median(others))
    return abs(float(slip.likely) - middle) < _NEARER * abs(float(slip.typed) - middle)


def sentence(slip: Slip, size_pa: float, names: tuple[str, ...]) -> str:
    """Say a slip in plain words, with its size in kPa."""
    where = " and ".join(names[i] for i in slip.points)
    if slip.row:
        where += f", row {slip.row}"
    entry = {"gauge": "the gauge's", "output": "the output's", "supply": "the supply's", "either": "its"}[slip.side]
    unit = "" if slip.unit == "1" else f" {slip.unit}"
    words = {
        "decade": f"{entry} {slip.typed}{unit} looks like a slip of the decimal point, likely {slip.likely}{unit}",
        "digits": f"{entry} {slip.typed}{unit} has two digits exchanged, likely {slip.likely}{unit}",
        "digit": f"{entry} {slip.typed}{unit} has one digit wrong, likely {slip.likely}{unit}",
        "swapped": "the two outputs look swapped",
        "unit": f"{entry} {slip.typed} was likely read in {slip.likely}, not in {slip.unit}",
        "single": "",
    }[slip.kind]
    return f"{where}: {words} (worth {kilopascals(size_pa)})"


def unnamed(i: int, size_pa: float, names: tuple[str, ...]) -> str:
    """Say that a point is off and no slip of the pen explains it."""
    way = "low" if size_pa > 0.0 else "high"  # a gauge read too high is a sensor that reads too low
    return (
        f"{names[i]}: the sensor stands {kilopascals(size_pa)} too {way} against the other points; no slip of the pen "
        "explains it (not settled, a leak, the pointer misread?)"
    )


def kilopascals(size_pa: float) -> str:
    """Write the size of an error in kPa to two digits, without a power of ten."""
    size = abs(size_pa) / 1000.0
    return f"{size:.0f} kPa" if size >= 10.0 else f"{size:.2g} kPa"
