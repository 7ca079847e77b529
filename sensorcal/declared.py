"""How a setup value is declared: its default, what it is, its unit, and why the default may be assumed."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from typing import Any

from sensorcal.errors import InputError
from sensorcal.units import format_quantity


@dataclass(frozen=True, slots=True, kw_only=True)
class Assumed:
    """One value that nobody stated: its name, the value taken, and why."""

    name: str
    value: str
    why: str

    def __str__(self) -> str:
        return f"{self.name} = {self.value} ({self.why})"


def declared(  # a dataclass field takes the type of its annotation, which only Any can stand for
    default: Any,  # noqa: ANN401
    what: str,
    unit: str = "",
    *,
    why: str = "",
    difference: bool = False,
) -> Any:  # noqa: ANN401
    """Declare one setup value.

    Parameters
    ----------
    default : object
        Value when nobody states one; None when nothing can stand in for it.
    what : str
        What it is, as the comment beside it in the setup file.
    unit : str, optional
        Unit for people; 'measurand' means degC or kPa after the part's measurand.
    why : str, optional
        Why the default may be assumed; left out, the default is not an assumption.
    difference : bool, optional
        True for uncertainties and steps.
    """
    metadata = {"what": what, "unit": unit, "why": why, "difference": difference}
    return dataclasses.field(default=default, metadata=metadata)


def key_of(name: str) -> str:
    """Give the key in the file of a value: its name without the unit ending.

    Examples
    --------
    >>> key_of("elevation_m"), key_of("u_gain_ratio"), key_of("rows")
    ('elevation', 'u_gain', 'rows')
    """
    for ending in ("_w_per_k", "_per_k", "_ratio", "_ohm", "_pa", "_c", "_m", "_s", "_a", "_v"):
        if name.endswith(ending):
            return name.removesuffix(ending)
    return name


def unit_of(part: object, entry: dataclasses.Field[Any]) -> str:
    """Give the unit in which a value is written for people; '' for words and counts."""
    unit = str(entry.metadata.get("unit", ""))
    if unit != "measurand":
        return unit
    return "kPa" if getattr(part, "measurand", "temperature") == "pressure" else "degC"


def text_of(part: object, entry: dataclasses.Field[Any]) -> str:
    """Write one value of a setup part as a person would type it, with its unit."""
    value = getattr(part, entry.name)
    unit = unit_of(part, entry)
    if unit and isinstance(value, int | float):
        return format_quantity(float(value), unit, difference=bool(entry.metadata.get("difference")))
    return f"{value:.15g}" if isinstance(value, float) else str(value)


def assumptions(part: Any, path: str, stated: frozenset[str]) -> list[Assumed]:  # noqa: ANN401
    """List what is assumed in one setup part.

    A part may have a method `stand_in(name)`: what stands in for that value, '' where nothing has to, or None
    for the default itself.
    """
    found = []
    for entry in dataclasses.fields(part):
        why = entry.metadata.get("why", "")
        name = f"{path}.{key_of(entry.name)}"
        if not why or name in stated or getattr(part, entry.name) != entry.default:
            continue
        stand_in = part.stand_in(entry.name) if hasattr(part, "stand_in") else None
        value = text_of(part, entry) if stand_in is None else stand_in
        if value:
            found.append(Assumed(name=name, value=value, why=why))
    return found


def one_of(part: object, name: str, words: tuple[str, ...]) -> None:
    """Refuse a word that is not in the list."""
    value = getattr(part, name)
    if value not in words:
        raise InputError(f"{name} = {value!r} is not known", do=f"write one of {', '.join(map(repr, words))}")


def not_negative(part: object, *names: str) -> None:
    """Refuse negative values where none can be."""
    for name in names:
        value = getattr(part, name)
        if value is not None and value < 0:
            raise InputError(f"{key_of(name)} = {value:g} is below zero")
