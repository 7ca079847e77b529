"""What a pressure run says beside the curve: the sensor's kind, a leak, and readings that look wrong."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from sensorcal.bench.pressurewritten import written_of
from sensorcal.bench.station import StationPressure, reported_station_pressure
from sensorcal.calibration.leak import SETTLING_S, Leak, leak_down
from sensorcal.calibration.pressurescreen import PressureScreening, screen_pressure, sound_repeat
from sensorcal.calibration.pressureterms import ASSUMED_REPEAT_SHARE, Repeat, bench_terms, gauge_own_u_pa
from sensorcal.calibration.sensorkind import KIND_WORDS, U_ZERO_SHARE, SensorKind, sensor_kind
from sensorcal.errors import InputError
from sensorcal.measure.terms import Term

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from sensorcal.bench.pressurepoints import PressurePoint, PressureReadings
    from sensorcal.bench.run import Run
    from sensorcal.physics.transducer import RatioCurve
    from sensorcal.setup import Setup
    from sensorcal.transducer import Transducer

    Floats = NDArray[np.float64]

READ_DELAY_S = 15.0
"""Longest time between reading gauge and sensor: common practice, no source."""
_ENTRIES = {
    "elevation_m": "elevation under [field]",
    "station_elevation_m": "station_elevation under [field]",
    "qnh_pa": "qnh under [field]",
    "temperature_c": "air_temperature under [field]",
}
_SCATTER = "scatter of"  # as `sensorcal.bench.settle` calls what the readings of one stop scatter
_DOUBTED = 0.1  # a kind less probable than that is questioned: common practice, no source
_SQRT3 = math.sqrt(3.0)


def station_of(setup: Setup) -> StationPressure | None:
    """Give the air's pressure from the field in the setup; None where elevation or QNH is missing.

    Raises
    ------
    InputError
        Naming the entry under [field] that cannot be.
    """
    place = setup.field
    if place.elevation_m is None or place.qnh_pa is None:
        return None
    try:
        return reported_station_pressure(
            elevation_m=place.elevation_m,
            qnh_pa=place.qnh_pa,
            station_elevation_m=place.station_elevation_m,
            temperature_c=place.air_temperature_c,
            keep_reason=setup.reason_to_keep("qnh-unusual"),
        )
    except InputError as error:
        argument, _, rest = error.what.partition(" ")
        entry = _ENTRIES.get(argument)
        raise InputError(f"{entry} {rest}" if entry else error.what, do=error.do, file="setup") from None


def kind_found(
    points: Sequence[PressurePoint], line: RatioCurve, sheet: Transducer, setup: Setup
) -> tuple[SensorKind | None, list[str]]:
    """Tell the sensor's kind from the readings at the air's pressure.

    Those are the readings with the line open or, where there are none, those at which a gauge shows zero within its u.

    Parameters
    ----------
    points : sequence of PressurePoint
        At bench temperature.
    line : RatioCurve
        The data sheet's, in the sensor's own pressures.
    sheet : Transducer
    setup : Setup
        Its field gives the air's pressure.

    Returns
    -------
    SensorKind or None
        None where nothing was read at the air's pressure, or that is not known.
    list of str
        What the user should weigh.
    """
    chosen = [one for one in points if one.open_line]
    u_gauge = 0.0
    if not chosen and sheet.reference_reads == "gauge":
        sized = [(one, _u_of(one)) for one in points]
        chosen = [one for one, u in sized if abs(one.point.value) <= 2.0 * u]
        u_gauge = max((u for one, u in sized if one in chosen), default=0.0)
    if not chosen:
        return None, []
    station = station_of(setup)
    if station is None:
        what = "kind of the sensor not checked: state elevation and qnh under [field] in the setup"
        return None, [what] if any(one.open_line for one in chosen) else []
    shown = [float(line.pressure_pa(one.point.signal)) - one.point.value for one in chosen]
    found = sensor_kind(
        sum(shown) / len(shown),
        station_pressure_pa=station.pressure_pa,
        u_station_pressure_pa=station.u_pressure_pa,
        span_pa=sheet.span_pa,
        u_zero_pa=math.hypot(U_ZERO_SHARE * sheet.span_pa, u_gauge),
    )
    if not chosen[0].open_line:
        found = replace(found, sentence=found.sentence.replace("open to the air", "with the gauge at zero", 1))
    told = []
    if found.kind == "none":
        told = [found.sentence]
    elif found.probability[sheet.kind] < _DOUBTED:
        now, sure = KIND_WORDS[found.kind], 100 * found.probability[found.kind]
        said = f"the setup calls {sheet.name} a {KIND_WORDS[sheet.kind]} sensor, and it behaves like a {now} one"
        told = [f"{said} ({sure:.0f} %): correct kind under [transducers.{sheet.name}], or check supply and open line"]
    return found, told


def _u_of(one: PressurePoint) -> float:
    """Standard uncertainty of the gauge at one point, shared and own, Pa."""
    return math.hypot(*(part.u for part in one.point.parts if part.axis == "value"), 0.0)


def leak_found(
    readings: PressureReadings, line: RatioCurve, sheet: Transducer, setup: Setup, *, u_sensor_pa: float
) -> tuple[Leak | None, list[str]]:
    """Size the leak of the shut line, from the gauge where it was read, else from the sensor itself.

    Parameters
    ----------
    readings : PressureReadings
    line : RatioCurve
        The data sheet's.
    sheet : Transducer
    setup : Setup
    u_sensor_pa : float
        Standard uncertainty of one reading of the sensor, Pa.

    Returns
    -------
    Leak or None
    list of str
        What the user should weigh.
    """
    rows = [row for row in readings.leak if row.time_s is not None]
    untimed = len(readings.leak) - len(rows)
    if not readings.leak:
        return None, []
    if untimed:
        return None, [f"{untimed} rows of the shut line have no time: the leak is not sized"]
    gauged = [row for row in rows if row.pressure_pa is not None]
    by_gauge = len(gauged) >= 3
    used = gauged if by_gauge else [row for row in rows if row.ratio is not None]
    start = rows[0].time_s or 0.0
    if by_gauge:
        air = 0.0
        if sheet.reference_reads == "absolute":
            station = station_of(setup)
            if station is None:
                return None, ["the leak is not sized: an absolute gauge needs elevation and qnh under [field]"]
            air = station.pressure_pa
        pressure = [(row.pressure_pa or 0.0) - air for row in used]
        u = gauge_own_u_pa(used[0].reference_id or readings.gauge_id, setup, sheet) or u_sensor_pa
    else:
        pressure = [float(line.pressure_pa(row.ratio)) for row in used if row.ratio is not None]
        u = u_sensor_pa
    try:
        found = leak_down(
            [(row.time_s or 0.0) - start for row in used],
            pressure,
            u_pressure_pa=u,
            settling_s=SETTLING_S,
            read_delay_s=READ_DELAY_S,
        )
    except InputError as error:
        return None, [f"the leak is not sized: {error.what}; {error.do}"]
    if found.seen:
        budgeted = "up to that size, in proportion to pressure and alike at all points, stands in the budget"
        return found, [f"{found.sentence}; {budgeted}"]
    return found, [] if found.fits else [found.sentence]


def leak_term(leak: Leak | None, gauge_pa: Floats, session: str) -> tuple[Term, ...]:
    """Give the error that a leak makes between reading gauge and sensor, where one was seen."""
    if leak is None or not leak.seen:
        return ()
    effect = np.array([leak.effect_pa(READ_DELAY_S, max(float(p), 0.0)) for p in gauge_pa])
    meaning = f"leak, up to {READ_DELAY_S:g} s between gauge and sensor"
    return (Term(identifier=f"leak:{session}", u=effect / _SQRT3, common=True, meaning=meaning, shape="rectangular"),)


def screening_of(
    run: Run,
    cold: PressureReadings,
    setup: Setup,
    sheet: Transducer,
    p: Floats,
    r: Floats,
    *,
    sensor: str,
    stated_repeat_pa: float | None,
    beside_pa: float,
) -> PressureScreening:
    """Look for wrong readings among the points at bench temperature, in the entries as they were written down.

    Parameters
    ----------
    run : Run
    cold : PressureReadings
    setup : Setup
    sheet : Transducer
    p, r : array, shape (n,)
        What the sensor felt in Pa, and its ratio.
    sensor : str
    stated_repeat_pa : float or None
    beside_pa : float
        Standard uncertainty of reading gauge and voltmeter, Pa.
    """
    points = cold.points
    ways = tuple(one.direction for one in points)
    assumed = ASSUMED_REPEAT_SHARE * sheet.span_pa
    if stated_repeat_pa is not None:
        u_repeat, dof = stated_repeat_pa, math.inf
    else:
        u_repeat, dof = sound_repeat(p, r, ways, beside_pa=beside_pa, otherwise_pa=assumed)
    repeat = Repeat(u_pa=u_repeat, dof=dof, source="for the search")
    terms = bench_terms(_even(cold), setup, sheet, repeat, sensor=sensor, station_u_pa=0.0)
    return screen_pressure(
        p,
        r,
        tuple(one for one in terms if not one.identifier.startswith("hysteresis:")),
        direction=ways,
        entries=written_of(run, points, sensor),
        labels=tuple(_name(one) for one in points),
        dof=dof,
    )


def _even(cold: PressureReadings) -> PressureReadings:
    """Hold the scatter within each stop to twice the usual one: a wrong row must not excuse itself by its scatter."""

    def scatter(one: PressurePoint) -> float:
        return math.hypot(*(part.u for part in one.point.parts if part.what.startswith(_SCATTER)), 0.0)

    several = [scatter(one) for one in cold.points if one.point.n > 2]  # two show none
    if not several:
        return cold
    most = 2.0 * float(np.median(several))
    held = []
    for one in cold.points:
        parts = tuple(
            replace(part, u=min(part.u, most)) if part.what.startswith(_SCATTER) else part for part in one.point.parts
        )
        held.append(replace(one, point=replace(one.point, parts=parts)))
    return replace(cold, points=tuple(held))


def _name(one: PressurePoint) -> str:
    """Name a point by its rows, pressure and direction."""
    rows = one.point.file_rows
    where = f"row {rows[0]}" if len(rows) == 1 else f"rows {rows[0]} to {rows[-1]}"
    if not rows[0]:
        where = one.point.label
    way = {"up": ", rising", "down": ", falling"}.get(one.direction, "")
    shown = one.point.value - sum(step.size for step in one.point.corrections if step.axis == "value")
    place = "line open" if one.open_line else f"{shown / 1000:.4g} kPa"
    return f"{where} ({place}{way})"
