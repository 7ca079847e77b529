"""From a bench session to the calibration of one transducer: points, terms, curve, performance, body, supply."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from pathlib import PurePath
from typing import TYPE_CHECKING

import numpy as np

from sensorcal.bench.pressurepoints import PressurePoint, PressureReadings, nominal_groups, pressure_points
from sensorcal.calibration.bodytemp import BodyEffect, body_effect
from sensorcal.calibration.linearity import Performance, PointBudgets, performance, point_budgets
from sensorcal.calibration.pressure import Order, fit_pressure, loop_pa
from sensorcal.calibration.pressurecal import PressureCalibration
from sensorcal.calibration.pressurefindings import kind_found, leak_found, leak_term, screening_of, station_of
from sensorcal.calibration.pressurescreen import PressureBlunder, PressureScreening
from sensorcal.calibration.pressureterms import Repeat, bench_terms, places_pa, pointer_u_pa, repeat_of, use_terms
from sensorcal.calibration.unitslip import UNITS, unit_from_slope
from sensorcal.errors import CurveError, FitError, InputError
from sensorcal.physics.transducer import RatioPolynomial, supply_ignored_pa

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from sensorcal.bench.run import Run
    from sensorcal.measure.terms import Term
    from sensorcal.setup import Setup
    from sensorcal.transducer import Transducer

    Floats = NDArray[np.float64]

WRONG_READING = "wrong-reading"
"""Word under which a questioned reading is kept in the setup, followed by a colon and the sensor's tag."""
SEA_LEVEL_PA = 101_325.0
"""Pressure in a sealed-gauge sensor's back, where nothing else is known: one standard atmosphere."""
ROUND_SUPPLY_V = 5.0
_HOT_K = 10.0
_FAR_SLOPE = 1.25


@dataclass(frozen=True, slots=True, kw_only=True)
class SupplyCost:
    """What it would have cost to take the supply for 5 V, at one pressure: shown minus true, Pa."""

    pressure_pa: float
    error_pa: float
    supply_v: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PressureResult:
    """What one session says of one transducer.

    Parameters
    ----------
    calibration : PressureCalibration
    readings : PressureReadings
        The settled points, hot ones included, in the order of the file.
    performance : Performance or None
        Zero, span, linearities, hysteresis, repeatability, zero return and error band; None with readings at fewer
        than three pressures.
    budgets : PointBudgets or None
        U at each tested pressure in the manner of the guides.
    repeat : Repeat
    body : BodyEffect or None
        None where no reading was taken with a hot body: the term then stands in the budget.
    supply_cost : tuple of SupplyCost
        Empty where no supply was measured or stated.
    station_pa : float or None
        Station pressure that was added to gauge readings, for absolute and sealed sensors.
    screening : PressureScreening
        Whether a reading looks wrong, which, and what could not be seen.
    kept : str
        Reason for which questioned readings are kept; empty where none was given.
    """

    calibration: PressureCalibration
    readings: PressureReadings
    performance: Performance | None
    budgets: PointBudgets | None
    repeat: Repeat
    body: BodyEffect | None
    supply_cost: tuple[SupplyCost, ...]
    station_pa: float | None
    screening: PressureScreening
    kept: str = ""

    @property
    def blunders(self) -> tuple[PressureBlunder, ...]:
        """Explanations of readings that look wrong, the likeliest first."""
        return self.screening.blunders

    @property
    def questioned(self) -> bool:
        """True while a reading is suspected and nobody has said why it may stand."""
        return self.screening.suspect and not self.kept


def calibrate_pressure(run: Run, setup: Setup, probe: str, *, order: Order | None = None) -> PressureResult:
    """Fit one transducer of a session.

    Parameters
    ----------
    run : Run
        The session as read, its reference a pressure.
    setup : Setup
        Probe, transducer, gauge with its limits, field.
    probe : str
        Tag of the transducer.
    order : {1, 2, 3, 'table'} or None
        As for `sensorcal.calibration.pressure.fit_pressure`.

    Returns
    -------
    PressureResult

    Raises
    ------
    InputError
        A supply of zero or none, an output beyond its supply, a negative absolute pressure, or a gauge without limits.
    FitError
        The readings do not determine a line.

    Examples
    --------
    >>> from sensorcal.bench.run import Reading, Run
    >>> from sensorcal.setup import Reference, Setup
    >>> gauge = Reference(identifier="G1", kind="gauge", limits=5000.0)
    >>> rows = tuple(Reading(reference=p, signals={"O1": 4.93 * (0.1 + 0.8e-6 * p)}, supply_v=4.93)
    ...              for p in (0.0, 200e3, 400e3, 600e3, 800e3, 1e6))
    >>> run = Run(readings=rows, measurand="pressure", signal_kinds={"O1": "voltage"})
    >>> found = calibrate_pressure(run, Setup(references={"G1": gauge}), "O1")
    >>> round(found.calibration.zero_ratio, 4), round(found.supply_cost[2].error_pa / 1000, 1)
    (0.1, -7.4)
    """
    sheet = setup.transducer(probe)
    readings = pressure_points(run, setup, probe)
    added, u_air, station_pa, told = _air_added(readings.points, sheet, setup)
    everything = _pressures(readings.points, added, sheet, run)
    hot = _hot(readings.points)
    cold_points = tuple(one for one, warm in zip(readings.points, hot, strict=True) if not warm)
    cold = replace(readings, points=cold_points)
    p = everything[~hot]
    r = np.array([one.point.signal for one in cold_points])
    if len(cold_points) < 2:
        raise FitError(
            f"{probe} was read at {len(cold_points)} settled point{'s' if len(cold_points) != 1 else ''}",
            do="read the open line and a pressure near full scale at least",
        )
    if not np.ptp(p) > 0.0 or not np.ptp(r) > 0.0:
        raise FitError(
            f"{probe}: all {len(cold_points)} points have the same pressure or output",
            do="take points at different pressures, and check that the sensor is connected",
            file=run.file,
        )
    ways = tuple(one.direction for one in cold_points)
    cycles = tuple(one.cycle for one in cold_points)
    line = RatioPolynomial.through(
        zero_ratio=sheet.output_low_ratio,
        span_ratio=sheet.output_high_ratio - sheet.output_low_ratio,
        low_pa=sheet.low_pa,
        high_pa=sheet.high_pa,
    )
    pascal_per_ratio = sheet.span_pa / (sheet.output_high_ratio - sheet.output_low_ratio)
    reading, meter = _beside(cold_points, setup, sheet, pascal_per_ratio)
    stated, beside = _stated_repeat(setup, probe), float(np.sqrt(np.mean(reading**2 + meter**2)))
    repeat = repeat_of(p, r, ways, stated_pa=stated, beside_pa=beside, span_pa=sheet.span_pa)
    screening = screening_of(
        run, cold, setup, sheet, p, r, sensor=probe, stated_repeat_pa=stated, beside_pa=beside
    )  # fmt: skip
    kept = setup.reason_to_keep(f"{WRONG_READING}:{probe}")
    loop = loop_pa(p, r, ways)
    seen = _performance(p, r, ways, cycles, line, sheet)
    body = _body(readings.points, everything, hot, line, repeat, setup, sheet, pascal_per_ratio, loop)
    terms = bench_terms(cold, setup, sheet, repeat, sensor=probe, station_u_pa=u_air[~hot])
    leak, told_of_leak = leak_found(readings, line, sheet, setup, u_sensor_pa=math.hypot(repeat.u_pa, beside))
    leaking = leak_term(leak, places_pa(cold_points), PurePath(run.file).stem or "run")
    terms += leaking
    found_kind, told_of_kind = kind_found(cold_points, line, sheet, setup)
    in_use = use_terms(
        sheet,
        repeat,
        loop=loop,
        zero_return_pa=abs(seen.zero_return_pa) if seen and seen.zero_return_pa is not None else None,
        body=body,
    )
    try:
        calibration = fit_pressure(
            p,
            r,
            terms,
            sensor=probe,
            order=order,
            direction=ways,
            cycle=cycles,
            low_pa=sheet.low_pa,
            high_pa=sheet.high_pa,
            kind=sheet.kind,
            use=in_use,
            labels=tuple(one.point.label for one in cold_points),
            rows=tuple(one.point.file_rows for one in cold_points),
        )
    except (FitError, CurveError) as error:
        # No curve at all: the likeliest slip is the most useful thing to say.
        slip = screening.blunders[0].sentence if screening.blunders else error.do
        raise FitError(f"{probe}: {error.what}", do=slip, file=run.file) from None
    notes = [*_wrong(screening, kept, probe), *told_of_kind, *told_of_leak]
    notes += [*calibration.notes, *readings.notes, *told, *_spoken(seen, body, repeat, sheet)]
    notes += _slope_note(calibration, sheet, run)
    notes += [f"{one.point.label}: {note}" for one in readings.points for note in one.point.notes]
    budgets = point_budgets(
        p,
        calibration.pressure_pa(r),
        ways,
        cycles,
        u_gauge_pa=_reference_u_pa(cold_points, u_air[~hot], leaking),
        u_reading_pa=reading,
        u_meter_pa=meter,
        u_repeat_pa=repeat.u_pa,
        resolution_pa=_resolution_pa(sheet, pascal_per_ratio, readings),
    )
    return PressureResult(
        calibration=replace(
            calibration, notes=tuple(dict.fromkeys(notes)), kind_found=found_kind, leak=leak, head=readings.head
        ),
        readings=readings,
        performance=seen,
        budgets=budgets,
        repeat=repeat,
        body=body,
        supply_cost=_supply_cost(calibration, cold_points, p),
        station_pa=station_pa,
        screening=screening,
        kept=kept,
    )


def _wrong(screening: PressureScreening, kept: str, probe: str) -> list[str]:
    """Say first which readings look wrong, and how to keep them; else what no look at these readings can find."""
    if not screening.suspect:
        return []
    told = [one.sentence for one in screening.blunders] or ["the readings do not agree, and no single one is to blame"]
    if kept:
        return [f"a reading looks wrong; kept, because {kept}: {'; or '.join(told)}"]
    keep = f'keep = [{{what = "{WRONG_READING}:{probe}", reason = "…"}}] in the setup'
    return [f"A READING LOOKS WRONG: {'; or '.join(told)}. Mend the run file and fit again, or keep it: {keep}"]


def _air_added(
    points: tuple[PressurePoint, ...], sheet: Transducer, setup: Setup
) -> tuple[Floats, Floats, float | None, list[str]]:
    """Give what brings each reading to what the sensor measures, and what to say of it.

    Returns
    -------
    added_pa, u_pa : array, shape (n,)
        To be added to the reference, Pa, and its standard uncertainty, signed: the air's pressure is one for all.
    station_pa : float or None
        The air's pressure, where any reading needed it.
    notes : list of str
    """
    # An open line is at zero gauge pressure, whatever the gauge beside it reads.
    as_gauge = np.array([one.open_line or sheet.reference_reads == "gauge" for one in points], dtype=bool)
    share = np.where(as_gauge, 0.0 if sheet.kind == "gauge" else 1.0, -1.0 if sheet.kind == "gauge" else 0.0)
    sealed = SEA_LEVEL_PA if sheet.kind == "sealed" else 0.0
    station = station_of(setup) if share.any() else None
    if share.any() and station is None:
        if sheet.kind == "sealed" and as_gauge.all():
            note = "a sealed sensor without station pressure: this curve holds at today's air pressure only"
            return np.zeros(len(points)), np.zeros(len(points)), None, [note]
        missing = "elevation" if setup.field.elevation_m is None else "QNH"
        raise InputError(
            f"{sheet.name} and its gauge differ by the air's pressure, and the {missing} of the field is not stated",
            do="state elevation and qnh under [field] in the setup",
        )
    air, u_air = (station.pressure_pa, station.u_pressure_pa) if station else (0.0, 0.0)
    note = (
        "sealed sensor: pressures are above the air sealed in its back, taken as 101.325 kPa; gauge pressure is what "
        "it shows plus 101.325 kPa minus the air's pressure of the place and day"
    )
    return share * air - sealed, share * u_air, air if station else None, [note] if sealed else []


def _pressures(points: tuple[PressurePoint, ...], added: Floats, sheet: Transducer, run: Run) -> Floats:
    """Bring the references to what the sensor measures; refuse a negative absolute pressure."""
    p = np.array([one.point.value for one in points]) + added
    if sheet.kind == "absolute" and p.size and float(p.min()) < 0.0:
        worst = int(p.argmin())
        shown = f"reference {points[worst].point.value / 1000:.6g} kPa"
        air = f" with the air's {added[worst] / 1000:.2f} kPa is {p[worst] / 1000:.2f} kPa," if added[worst] else " is"
        raise InputError(
            f"{shown}{air} a negative absolute pressure",
            do="check the sign, and whether the gauge shows absolute or gauge pressure (reference_reads)",
            file=run.file,
            row=points[worst].point.file_rows[0] or None,
            column="reference",
        )
    return np.asarray(p, dtype=np.float64)


def _hot(points: tuple[PressurePoint, ...]) -> NDArray[np.bool_]:
    """Which points were read with a hot body: they serve for its effect only."""
    known = [one.body_c for one in points if one.body_c is not None]
    limit = min(known, default=math.inf) + _HOT_K
    return np.array([one.body_c is not None and one.body_c > limit for one in points], dtype=bool)


def _beside(
    points: tuple[PressurePoint, ...], setup: Setup, sheet: Transducer, pascal_per_ratio: float
) -> tuple[Floats, Floats]:
    """Standard uncertainties in Pa of reading the gauge, and of the voltmeter's digits, at each point."""
    reading = [pointer_u_pa(one, setup, sheet) for one in points]
    digit = [
        math.hypot(*(part.u for part in one.point.parts if part.axis == "value" and not part.key), 0.0)
        for one in points
    ]
    meter = [
        pascal_per_ratio
        * math.hypot(*(part.u for part in one.point.parts if part.axis == "signal" and not part.key), 0.0)
        for one in points
    ]
    return np.hypot(np.array(reading), np.array(digit)), np.array(meter)


def _reference_u_pa(points: tuple[PressurePoint, ...], u_air_pa: Floats, leaking: tuple[Term, ...]) -> Floats:
    """Standard uncertainty in Pa of the reference at the sensor: gauge, liquid between, leak, and the air added."""
    shared = [
        math.hypot(*(part.u for part in one.point.parts if part.key.startswith(("reference:", "head:", "water:"))), air)
        for one, air in zip(points, u_air_pa.tolist(), strict=True)
    ]
    return np.sqrt(np.square(shared) + sum((one.u**2 for one in leaking), start=np.zeros(len(points))))


def _stated_repeat(setup: Setup, probe: str) -> float | None:
    known = setup.probes.get(probe)
    return known.u_repeat if known is not None else None


def _resolution_pa(sheet: Transducer, pascal_per_ratio: float, readings: PressureReadings) -> float:
    """Full width of the last digit, Pa."""
    if sheet.counts_full:
        return pascal_per_ratio / sheet.counts_full
    supplies = [one.supply_v for one in readings.points if one.supply_v]
    return pascal_per_ratio * sheet.meter_step_v / supplies[0] if supplies else 0.0


def _performance(
    p: Floats, r: Floats, ways: tuple[str, ...], cycles: tuple[int, ...], line: RatioPolynomial, sheet: Transducer
) -> Performance | None:
    try:
        return performance(p, r, ways, cycles, sheet_line=line, low_pa=sheet.low_pa, high_pa=sheet.high_pa)
    except FitError:
        return None


def _body(
    points: tuple[PressurePoint, ...],
    p: Floats,
    hot: NDArray[np.bool_],
    line: RatioPolynomial,
    repeat: Repeat,
    setup: Setup,
    sheet: Transducer,
    pascal_per_ratio: float,
    loop: tuple[Floats, Floats] | None,
) -> BodyEffect | None:
    """Effect of a hot body from the readings whose body was written down, where some were hot.

    Cold readings count at the pressures that were read hot too, so that the sensor's bow is none of the effect; the
    measured loop is taken off, because hot readings may be rising ones only.
    """
    if not hot.any():
        return None
    known = np.array([one.body_c is not None for one in points])
    beside_hot = np.zeros(len(points), dtype=bool)
    for group in nominal_groups(p.tolist()):
        beside_hot[group] = bool(hot[group].any())
    if (known & beside_hot & ~hot).any():
        known = known & beside_hot
    chosen = tuple(one for one, use in zip(points, known, strict=True) if use)
    reading, meter = _beside(chosen, setup, sheet, pascal_per_ratio)
    shown = line.pressure_pa(np.array([one.point.signal for one in chosen]))
    if loop is not None:
        branch = np.array([{"up": -0.5, "down": 0.5}.get(one.direction, 0.0) for one in chosen])
        shown = shown - branch * np.interp(p[known], *loop)
    return body_effect(
        p[known],
        shown,
        np.array([one.body_c for one in chosen], dtype=np.float64),
        np.sqrt(reading**2 + meter**2 + repeat.u_pa**2),
        low_pa=sheet.low_pa,
        span_pa=sheet.span_pa,
    )


def _spoken(seen: Performance | None, body: BodyEffect | None, repeat: Repeat, sheet: Transducer) -> list[str]:
    """What the user should weigh of these readings."""
    notes: list[str] = []
    if seen is None or seen.hysteresis_pa is None:
        notes.append(
            f"only one direction was read: hysteresis of {sheet.assumed_hysteresis_pa / 1000:.3g} kPa stands in the "
            "budget instead of a measured one"
        )
    if repeat.source == "assumed":
        notes.append(f"one cycle shows no repeatability: {repeat.u_pa / 1000:.3g} kPa (standard) is assumed")
    if body is None:
        notes.append(
            f"hot body not tested: ± {sheet.assumed_body_effect_pa / 1000:.3g} kPa stands in the budget in use; read "
            "the transducer bagged in 20 then 70 °C water, line open and at a pressure"
        )
    else:
        notes += [body.sentence, *body.notes]
    return notes


def _slope_note(calibration: PressureCalibration, sheet: Transducer, run: Run) -> list[str]:
    """Say when the fitted slope is far from the data sheet's: a unit mixed up, or another sensor."""
    p, r = calibration.points.pressure_pa, calibration.points.ratio
    fitted = float(np.ptp(p) / np.ptp(r))
    factor = sheet.span_pa / (sheet.output_high_ratio - sheet.output_low_ratio) / fitted
    if 1.0 / _FAR_SLOPE < factor < _FAR_SLOPE:
        return []
    headed = {column.unit for column in run.columns if column.holds == "reference"}
    taken_as = headed.pop() if len(headed) == 1 else ""
    guesses = unit_from_slope(factor, tolerance_ratio=0.05, taken_as=taken_as if taken_as in UNITS else "")
    likely = f": {guesses[0].text}?" if guesses else ": another range, or a unit mixed up?"
    note = f"the sensor rises {factor:.4g} times as fast with the gauge's pressure as its data sheet says{likely}"
    return [note]


def _supply_cost(
    calibration: PressureCalibration, points: tuple[PressurePoint, ...], p: Floats
) -> tuple[SupplyCost, ...]:
    """What ignoring the supply would have cost at each point."""
    return tuple(
        SupplyCost(
            pressure_pa=float(pressure),
            error_pa=float(
                supply_ignored_pa(calibration.curve, one.point.signal, one.supply_v, assumed_v=ROUND_SUPPLY_V)
            ),
            supply_v=one.supply_v,
        )
        for one, pressure in zip(points, p, strict=True)
        if one.supply_v is not None
    )
