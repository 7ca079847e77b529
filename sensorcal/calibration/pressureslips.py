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
    """

    kind: SlipKind
    points: tuple[int, ...]
    side: Side
    pressure_pa: float
    ratio: float
    typed: str = ""
    likely: str = ""
    unit: str = ""


def slips(pressure_pa: Floats, ratio: Floats, entries: tuple[Written, ...]) -> Iterator[Slip]:
    """Undo every slip that could stand behind the entries of each point.

    Parameters
    ----------
    pressure_pa, ratio : array, shape (n,)
        As the entries stand, corrected.
    entries : tuple of Written
        One for each point; nothing is tried where an entry is empty.
    """
    for i, entry in enumerate(entries):
        p, r = float(pressure_pa[i]), float(ratio[i])
        for kind, text in _changed(entry.gauge):
            moved = to_si(float(text), entry.gauge_unit) - to_si(float(entry.gauge), entry.gauge_unit)
            yield Slip(kind, (i,), "gauge", p + moved, r, entry.gauge, text, entry.gauge_unit)
        if entry.gauge:
            # Read on another scale of the dial and typed as if it were this one's unit.
            now = to_si(float(entry.gauge), entry.gauge_unit)
            for unit in _SCALES:
                there = to_si(float(entry.gauge), unit)
                if unit != entry.gauge_unit and there != now:
                    yield Slip("unit", (i,), "gauge", p + there - now, r, entry.gauge, unit, entry.gauge_unit)
        for kind, text in _changed(entry.output):
            if float(entry.output) != 0.0:
                changed = r * float(text) / float(entry.output)
                yield Slip(kind, (i,), "output", p, changed, entry.output, text, entry.output_unit)
        for kind, text in _changed(entry.supply):
            if float(text) != 0.0:
                changed = r * float(entry.supply) / float(text)
                yield Slip(kind, (i,), "supply", p, changed, entry.supply, text, entry.supply_unit)
        for j in range(i + 1, len(entries)):
            if ratio[i] != ratio[j]:
                yield Slip("swapped", (i, j), "output", p, float(ratio[j]))


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


def sentence(slip: Slip, size_pa: float, names: tuple[str, ...]) -> str:
    """Say a slip in plain words, with its size in kPa."""
    where = " and ".join(names[i] for i in slip.points)
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
