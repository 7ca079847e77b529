"""A thermometer or gauge corrected by its own readings in ice and steam, or at a known value."""

from __future__ import annotations

import math
from dataclasses import dataclass

from sensorcal.bench.fixed import fixed_point
from sensorcal.bench.point import UPart
from sensorcal.errors import InputError
from sensorcal.setup import Reference, ReferenceCheck, Setup
from sensorcal.units import parse_quantity

_SQRT12 = math.sqrt(12.0)
U_BETWEEN_C = 0.3 / math.sqrt(3.0)  # bow of a household thermometer between two checks: estimate, no source


@dataclass(frozen=True, slots=True, kw_only=True)
class CorrectedReference:
    """A reading of a reference with its correction and what is left of its uncertainty.

    Parameters
    ----------
    value : float
        Corrected reading, degC or Pa.
    correction : float
        What was added.
    parts : tuple of UPart
        Shares that every reading of this reference has in common; signed.
    notes : tuple of str
        What the user should weigh.
    """

    value: float
    correction: float
    parts: tuple[UPart, ...]
    notes: tuple[str, ...] = ()

    @property
    def u(self) -> float:
        """Standard uncertainty of the corrected reading, degC or Pa."""
        return math.hypot(*(part.u for part in self.parts))


def corrected_reference(reading: float, reference: Reference, setup: Setup) -> CorrectedReference:
    """Correct a reading of a reference by its checks.

    Without checks nothing is corrected and the stated uncertainty holds. One check takes the offset away: what is
    left grows with the distance from it. Two checks or more take a straight line away: what is left is the
    uncertainty of the checks, and the bow between them.

    Parameters
    ----------
    reading : float
        As shown, degC or Pa.
    reference : Reference
        With its checks.
    setup : Setup
        For ice and steam.

    Returns
    -------
    CorrectedReference
        Corrected reading with its shares.

    References
    ----------
    Weighted straight line of corrections, JCGM 100:2008 H.3; bow between the checks: estimate, no source.

    Examples
    --------
    >>> from sensorcal.setup import Field
    >>> here = Setup(field=Field(elevation_m=640.0, qnh_pa=100_900.0, station_elevation_m=610.0))
    >>> kitchen = Reference(identifier="T2", checks=(
    ...     ReferenceCheck(at="ice", reads=0.6), ReferenceCheck(at="steam", reads=98.9)))
    >>> found = corrected_reference(50.0, kitchen, here)
    >>> f"{found.correction:+.2f} °C, u {found.u:.2f} instead of {kitchen.standard_u:.2f}"
    '-0.89 °C, u 0.18 instead of 0.58'
    """
    name = f"reference:{reference.identifier}"
    if not reference.checks:
        part = UPart(key=name, u=reference.standard_u, what=f"{reference.kind} {reference.identifier}")
        return CorrectedReference(value=reading, correction=0.0, parts=(part,))
    rows = [_check(check, reference, setup) for check in reference.checks]
    if len(rows) == 1:
        return _offset(reading, reference, rows[0])
    weights = [1.0 / u**2 for _, _, u in rows]
    total = sum(weights)
    centre = sum(w * reads for w, (reads, _, _) in zip(weights, rows, strict=True)) / total
    mean = sum(w * size for w, (_, size, _) in zip(weights, rows, strict=True)) / total
    spread = sum(w * (reads - centre) ** 2 for w, (reads, _, _) in zip(weights, rows, strict=True))
    low, high = min(row[0] for row in rows), max(row[0] for row in rows)
    if high - low <= 0.0 or spread <= 0.0:
        raise InputError(
            f"the checks of reference {reference.identifier} all read the same", do="check it at ice and at steam"
        )
    slope = sum(w * (r - centre) * (c - mean) for w, (r, c, _) in zip(weights, rows, strict=True)) / spread
    correction = mean + slope * (reading - centre)
    x = (reading - low) / (high - low)
    parts = (
        UPart(key=f"{name}:level", u=total**-0.5, what=f"checks of {reference.identifier}, level"),
        UPart(
            key=f"{name}:slope", u=(reading - centre) * spread**-0.5, what=f"checks of {reference.identifier}, slope"
        ),
        UPart(
            key=f"{name}:between",
            u=4.0 * x * (1.0 - x) * _u_between(reference),
            what=f"bow of {reference.identifier} between its checks",
        ),
    )
    notes = () if 0.0 <= x <= 1.0 else (f"{reference.identifier} was not checked at {reading:g}: extrapolated",)
    return CorrectedReference(value=reading + correction, correction=correction, parts=parts, notes=notes)


def _u_between(reference: Reference) -> float:
    """Standard uncertainty half-way between the checks."""
    if reference.u_between is not None:
        return reference.u_between
    return U_BETWEEN_C if reference.measurand == "temperature" else reference.standard_u / 2.0


def _offset(reading: float, reference: Reference, row: tuple[float, float, float]) -> CorrectedReference:
    """Take away the offset that one check showed."""
    reads, correction, u_check = row
    name = f"reference:{reference.identifier}"
    span = 100.0 if reference.measurand == "temperature" else max(abs(reading), abs(reads), 1.0)
    # Two readings, each within its limits, differ by at most root 2 of their standard uncertainty a full span apart.
    parts = (
        UPart(key=f"{name}:level", u=u_check, what=f"check of {reference.identifier}"),
        UPart(
            key=f"{name}:slope",
            u=math.sqrt(2.0) * reference.standard_u * (reading - reads) / span,
            what=f"scale of {reference.identifier} away from its check",
        ),
    )
    note = f"{reference.identifier} was checked at one point only: its offset is corrected, its scale is not"
    return CorrectedReference(value=reading + correction, correction=correction, parts=parts, notes=(note,))


def _check(check: ReferenceCheck, reference: Reference, setup: Setup) -> tuple[float, float, float]:
    """Give what the reference read, the correction there, and its standard uncertainty."""
    bath, own = setup.bath, reference.step / _SQRT12
    if check.at in {"ice", "steam"}:
        if reference.measurand != "temperature":
            raise InputError(f"gauge {reference.identifier} cannot be checked in {check.at}", do="state a pressure")
        point = fixed_point(check.at, setup)
        flask = bath.u_ice_gradient_c if check.at == "ice" else math.hypot(bath.u_steam_vapour_c, bath.u_steam_film_c)
        u = math.hypot(point.u_c, flask, own)
        true = point.temperature_c
    else:
        unit = "kPa" if reference.measurand == "pressure" else setup.units.temperature
        true = parse_quantity(check.at, unit, reference.measurand)
        u = math.hypot(reference.standard_u if check.u is None else check.u, own)
    return check.reads, true - check.reads, max(u, 1e-9)
