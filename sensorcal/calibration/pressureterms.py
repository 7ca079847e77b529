"""The error terms of a transducer: of the bench, which the fit sees, and of the sensor in use."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sensorcal.bench.pressurepoints import nominal_groups
from sensorcal.calibration.pressure import FORM, loop_pa, places_of
from sensorcal.calibration.pressurecal import BODY, UseTerm
from sensorcal.measure.terms import Axis, Term

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from sensorcal.bench.pressurepoints import PressurePoint, PressureReadings
    from sensorcal.calibration.bodytemp import BodyEffect
    from sensorcal.measure.inputs import Shape
    from sensorcal.setup import Reference, Setup
    from sensorcal.transducer import Transducer

    Floats = NDArray[np.float64]

_SQRT3 = math.sqrt(3.0)
ASSUMED_REPEAT_SHARE = 0.001
"""Repeatability of one cycle, as a standard uncertainty in shares of the span: estimate, no source."""
TILT = 0.5
"""Tilt of a gauge over the pressures read, in shares of its u: estimate, no source; 12 % too much at both ends."""
_NODES = 21
_FEWEST_DOF = 3  # fewer repeated readings say nothing of their scatter


@dataclass(frozen=True, slots=True, kw_only=True)
class Repeat:
    """Repeatability of one reading.

    Parameters
    ----------
    u_pa : float
        Standard uncertainty, Pa.
    dof : float
        Degrees of freedom; infinite where stated or assumed.
    source : {'stated', 'readings', 'assumed'}
    """

    u_pa: float
    dof: float
    source: str


def repeat_of(
    p: Floats, r: Floats, direction: tuple[str, ...], *, stated_pa: float | None, beside_pa: float, span_pa: float
) -> Repeat:
    """Repeatability of a reading: as stated, else from cycles at one pressure and direction, else assumed.

    Parameters
    ----------
    p, r : array, shape (n,)
        Reference in Pa and ratio of each point.
    direction : tuple of str
    stated_pa : float or None
    beside_pa : float
        Standard uncertainty of reading gauge and voltmeter, Pa, which the scatter holds too.
    span_pa : float
        Of the data sheet's line.
    """
    if stated_pa is not None:
        return Repeat(u_pa=stated_pa, dof=math.inf, source="stated")
    slope = float(np.ptp(p) / np.ptp(r))
    shows = slope * r - p
    ways = np.array(direction)
    squares, dof = 0.0, 0
    for group in nominal_groups(p.tolist()):
        index = np.array(group)
        for way in ("up", "down", ""):
            same = shows[index[ways[index] == way]]
            if same.size > 1:
                squares += float(np.square(same - same.mean()).sum())
                dof += same.size - 1
    if dof < _FEWEST_DOF:
        return Repeat(u_pa=ASSUMED_REPEAT_SHARE * span_pa, dof=math.inf, source="assumed")
    scatter = math.sqrt(squares / dof)
    return Repeat(u_pa=math.sqrt(max(scatter**2 - beside_pa**2, 0.0)), dof=float(dof), source="readings")


def bench_terms(
    readings: PressureReadings, setup: Setup, sheet: Transducer, repeat: Repeat, *, sensor: str, station_u_pa: ArrayLike
) -> tuple[Term, ...]:
    """Turn the shares of the points into error terms of the fit.

    A gauge's whole u is one level, common to all readings of the run. Its scale may err besides: half of u as a tilt,
    so that the span is no better known than a single pressure. A bow of the gauge may excuse a misfit in the tests.
    """
    points = readings.points
    n = len(points)
    # From vacuum to pressure a tilt runs through, so that it is no mirror image about the open line.
    places = places_pa(points).tolist()
    bottom = min((0.0, *places))
    reach = max((0.0, *places)) - bottom or 1.0
    shared: dict[tuple[str, Axis], Floats] = {}
    own: dict[tuple[str, Axis], Floats] = {}
    words: dict[str, str] = {}

    def add(where: dict[tuple[str, Axis], Floats], key: str, axis: Axis, i: int, u: float) -> None:
        column = where.setdefault((key, axis), np.zeros(n))
        column[i] = column[i] + u if where is shared else math.hypot(column[i], u)

    for i, one in enumerate(points):
        for part in one.point.parts:
            axis: Axis = "signal" if part.axis == "signal" else "value"
            if part.key == f"reference:{one.point.reference_id}":
                x = (places[i] - bottom) / reach
                for ending, share, where in (
                    ("", 1.0, "alike everywhere"),
                    (":scale", TILT * (2.0 * x - 1.0), "against its two ends"),
                    (FORM, 4.0 * x * (1.0 - x), "bow between its ends"),
                ):
                    add(shared, part.key + ending, axis, i, part.u * share)
                    words[part.key + ending] = f"{part.what}, {where}"
            elif part.key:
                add(shared, part.key, axis, i, part.u)
                words[part.key] = part.what
            else:
                add(own, part.what, axis, i, part.u)
        pointer = pointer_u_pa(one, setup, sheet)
        if pointer:
            add(own, "reading the gauge", "value", i, pointer)
    terms = [
        Term(identifier=key, u=u, common=True, axis=axis, meaning=words[key], shape=_shape(key, setup))
        for (key, axis), u in shared.items()
    ]
    terms += [
        Term(
            identifier=what,
            u=u,
            common=False,
            axis=axis,
            meaning=what,
            shape="rectangular" if what.startswith(("last", "reading")) else "normal",
        )
        for (what, axis), u in own.items()
    ]
    least = 1e-6 * sheet.span_pa  # so that a point whose every share is zero still has a weight
    terms.append(
        Term(
            identifier="repeat",
            u=np.full(n, max(repeat.u_pa, least)),
            common=False,
            dof=repeat.dof,
            meaning=f"repeatability of the sensor ({repeat.source})",
        )
    )
    u_station = np.broadcast_to(np.asarray(station_u_pa, dtype=np.float64), (n,))
    if u_station.any():
        terms.append(Term(identifier="station", u=u_station, common=True, meaning="station pressure of the day"))
    if not both_ways(points):
        u = 0.5 * sheet.assumed_hysteresis_pa / _SQRT3 * _bow(np.array([one.point.value for one in points]), sheet)
        terms.append(
            Term(
                identifier=f"hysteresis:{sensor}", u=u, common=True, meaning="hysteresis, assumed", shape="rectangular"
            )
        )
    return tuple(terms)


def places_pa(points: tuple[PressurePoint, ...]) -> Floats:
    """Where on the gauge's scale each point stands, Pa: see `sensorcal.calibration.pressure.places_of`."""
    return places_of(np.array([one.point.value for one in points]), np.array([one.point.signal for one in points]))


def both_ways(points: tuple[PressurePoint, ...]) -> bool:
    """Whether some pressure was read both rising and falling."""
    p = np.array([one.point.value for one in points])
    r = np.array([one.point.signal for one in points])
    return loop_pa(p, r, tuple(one.direction for one in points)) is not None


def pointer_u_pa(one: PressurePoint, setup: Setup, sheet: Transducer) -> float:
    """Standard uncertainty of reading the gauge at a point; 0 with the line open or a display of stated step."""
    reference = setup.references.get(one.point.reference_id)
    if one.open_line or reference is None:
        return 0.0
    if reference.resolution is not None and sheet.u_gauge_reading_pa is None:
        return 0.0
    return sheet.gauge_reading_u_pa(reference.standard_u)


def gauge_own_u_pa(gauge_id: str, setup: Setup, sheet: Transducer) -> float:
    """Standard uncertainty of one reading of a gauge against its own others: last digit, or pointer; 0 if unknown."""
    reference = setup.references.get(gauge_id)
    if reference is None:
        return 0.0
    pointer = reference.resolution is None or sheet.u_gauge_reading_pa is not None
    return math.hypot(reference.step / math.sqrt(12.0), sheet.gauge_reading_u_pa(reference.standard_u) * pointer)


def _shape(key: str, setup: Setup) -> Shape:
    """Limits are rectangular; everything else is taken as normal."""
    if key.startswith("supply:"):
        return "rectangular"
    pieces = key.split(":")
    reference: Reference | None = setup.references.get(pieces[1]) if pieces[0] == "reference" else None
    return "rectangular" if reference is not None and reference.limits is not None else "normal"


def _bow(pressure_pa: Floats, sheet: Transducer) -> Floats:
    """Form of a loop: nothing at both ends, one in the middle."""
    x = np.clip((pressure_pa - sheet.low_pa) / sheet.span_pa, 0.0, 1.0)
    return np.asarray(4.0 * x * (1.0 - x), dtype=np.float64)


def use_terms(
    sheet: Transducer,
    repeat: Repeat,
    *,
    loop: tuple[Floats, Floats] | None,
    zero_return_pa: float | None,
    body: BodyEffect | None,
) -> tuple[UseTerm, ...]:
    """Give what stays uncertain of one reading in use, beyond the curve.

    Parameters
    ----------
    sheet : Transducer
    repeat : Repeat
    loop : tuple of array, or None
        Pressures and widths of the measured loop, in the calibration's pressures.
    zero_return_pa : float or None
        Largest change of the zero over a cycle.
    body : BodyEffect or None
        As measured; None takes the data sheet's or the assumed half-width.
    """
    at = np.linspace(sheet.low_pa, sheet.high_pa, _NODES)
    if loop is None:
        half = 0.5 * sheet.assumed_hysteresis_pa * _bow(at, sheet)
        meaning = "hysteresis, assumed: rising and falling were not both read"
    else:
        half = 0.5 * np.abs(np.interp(at, *loop))
        meaning = "hysteresis: where in the measured loop the reading stands"
    found = [
        UseTerm(
            identifier="hysteresis",
            pressure_pa=at,
            u_pa=half / _SQRT3,
            shape="rectangular",
            each_reading=True,
            meaning=meaning,
        ),
        UseTerm(
            identifier="repeat",
            pressure_pa=at,
            u_pa=np.full(_NODES, repeat.u_pa),
            each_reading=True,
            dof=repeat.dof,
            meaning=f"repeatability of one reading ({repeat.source})",
        ),
    ]
    if zero_return_pa is not None:
        found.append(
            UseTerm(
                identifier="zero return",
                pressure_pa=at,
                u_pa=np.full(_NODES, 0.5 * zero_return_pa / _SQRT3),
                shape="rectangular",
                meaning="zero return over a cycle",
            )
        )
    return (*found, *_body_terms(sheet, body, at))


def _body_terms(sheet: Transducer, body: BodyEffect | None, at: Floats) -> list[UseTerm]:
    """Terms of body temperature: as measured, or the stated half-width, alike at all pressures."""
    share = (at - sheet.low_pa) / sheet.span_pa
    if body is None:
        u = sheet.assumed_body_effect_pa / _SQRT3
        words = "hot body, not measured: half-width from the data sheet or assumed"
        # Like the gauge: the effect on zero and that on full scale are two draws.
        forms = (("level", u * np.cos(0.5 * math.pi * share)), ("scale", u * np.sin(0.5 * math.pi * share)))
        return [
            UseTerm(identifier=f"{BODY}:{name}", pressure_pa=at, u_pa=form, shape="rectangular", meaning=words)
            for name, form in forms
        ]
    reach = max(abs(sheet.body_high_c - body.cold_c), abs(sheet.body_low_c - body.cold_c))
    zero, span = body.zero_pa_per_k, body.span_pa_per_k
    unknown = sheet.assumed_body_effect_pa / reach
    found = [
        UseTerm(
            identifier=f"{BODY}:temperature",
            pressure_pa=at,
            u_pa=reach * (zero + span * share) / _SQRT3,
            shape="rectangular",
            meaning=f"body at {sheet.body_low_c:g} to {sheet.body_high_c:g} °C, effect as measured, not corrected",
        )
    ]
    for name, u, form in (
        ("zero", body.u_zero_pa_per_k, np.ones(_NODES)),
        ("span", unknown if math.isnan(body.u_span_pa_per_k) else body.u_span_pa_per_k, share),
    ):
        found.append(
            UseTerm(
                identifier=f"{BODY}:u {name}",
                pressure_pa=at,
                u_pa=reach * u * form / _SQRT3,
                meaning=f"uncertainty of the measured effect on {name}",
            )
        )
    return found
