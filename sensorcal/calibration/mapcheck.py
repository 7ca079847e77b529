"""The manifold pressure sensor at rest: with the engine stopped it must show the pressure in the workshop.

The check costs nothing and is good to about 0.2 kPa. One point cannot tell an offset from a wrong span; it shows what
each would leave behind if the other were trimmed.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from sensorcal.bench.budgetline import BudgetLine, combined
from sensorcal.bench.station import StationPressure
from sensorcal.calibration.figures import Judgement, figures_of, judge
from sensorcal.calibration.unitslip import unit_from_slope
from sensorcal.errors import InputError
from sensorcal.measure.interval import coverage_factor
from sensorcal.physics.altimeter import station_pressure_pa
from sensorcal.physics.atmosphere import pressure_altitude_m
from sensorcal.physics.transducer import ratio_of
from sensorcal.transducer import Transducer

U_REPEAT_PA = 50.0  # noise, hose and hysteresis of one reading at rest; common practice, no source
SHOW_AT_PA = (30_000.0, 200_000.0)  # idle and boost, where a wrong trim shows
MAP_SENSOR = Transducer(name="M1", kind="absolute", low_pa=0.0, high_pa=250_000.0, supply_v=5.0)
"""A manifold pressure sensor of 0 to 250 kPa absolute on 0.1 to 0.9 of its supply."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MapReading:
    """One reading of the sensor in pressure, with the budget of the reading itself.

    Parameters
    ----------
    shown_pa : float
        Absolute pressure that the reading stands for, Pa.
    u_shown_pa : float
        Standard uncertainty of reading it, Pa; the sensor's own error is what the check looks for.
    low_pa : float
        Pressure at the lower end of the sensor's line, Pa: a span error grows from there.
    budget : tuple of BudgetLine
        Contributions, Pa.
    assumptions : tuple of str
        Values that nobody stated.
    """

    shown_pa: float
    u_shown_pa: float
    low_pa: float = 0.0
    budget: tuple[BudgetLine, ...] = ()
    assumptions: tuple[str, ...] = ()


def map_reading_from_volts(
    output_v: float, supply_v: float, *, sensor: Transducer = MAP_SENSOR, u_repeat_pa: float | None = None
) -> MapReading:
    """Pressure that a ratiometric sensor's output stands for, by its data sheet's line.

    Parameters
    ----------
    output_v, supply_v : float
        Both measured with one meter at the sensor's plug, V.
    sensor : Transducer, optional
        Its line and the meter's uncertainty; 0 to 250 kPa absolute on 0.1 to 0.9 of the supply if left out.
    u_repeat_pa : float, optional
        Standard uncertainty of one reading for noise and hose, Pa; assumed and named if left out.

    Returns
    -------
    MapReading

    Raises
    ------
    InputError
        If the supply is zero, the output lies outside it, the sensor is not absolute, or the pressure is negative.

    References
    ----------
    Ratiometric output, common practice, no source; law of propagation, JCGM 100:2008, equation (10).

    Examples
    --------
    >>> reading = map_reading_from_volts(2.013, 5.000)
    >>> f"{reading.shown_pa / 1000:.2f} kPa, u {reading.u_shown_pa:.0f} Pa"
    '94.56 kPa, u 66 Pa'
    """
    if sensor.kind != "absolute":
        raise InputError(
            f"{sensor.name} is a {sensor.kind} sensor, which shows nothing of the air's pressure at rest",
            do="state kind = 'absolute' if it is a manifold pressure sensor",
        )
    ratio = float(ratio_of(output_v, supply_v))
    per_ratio_pa = sensor.span_pa / (sensor.output_high_ratio - sensor.output_low_ratio)
    shown_pa = sensor.low_pa + (ratio - sensor.output_low_ratio) * per_ratio_pa
    u_step_v = sensor.meter_step_v / math.sqrt(12.0)
    budget = (
        BudgetLine(
            name="voltmeter, output over supply", identifier="meter-ratio",
            u_input=sensor.u_meter_ratio * ratio, unit="1", slope=per_ratio_pa, source="as stated for the sensor",
        ),
        BudgetLine(
            name="last digit of the two voltages", identifier="meter-step",
            u_input=u_step_v * math.hypot(1.0, ratio) / supply_v, unit="1", slope=per_ratio_pa,
            source=f"step {sensor.meter_step_v * 1000:g} mV",
        ),
        _repeat(u_repeat_pa),
    )  # fmt: skip
    return _reading(shown_pa, sensor.low_pa, budget, u_repeat_pa)


def map_reading_shown(
    shown_pa: float, *, step_pa: float, low_pa: float = 0.0, u_repeat_pa: float | None = None
) -> MapReading:
    """Pressure as the monitor shows it, with the step of its display.

    Parameters
    ----------
    shown_pa : float
        Absolute pressure shown, Pa.
    step_pa : float
        Step of the display, Pa.
    low_pa : float, optional
        Pressure at the lower end of the sensor's line, Pa.
    u_repeat_pa : float, optional
        As for `map_reading_from_volts`.

    Returns
    -------
    MapReading

    Raises
    ------
    InputError
        If the pressure is negative or the step is not above zero.

    References
    ----------
    Rounding as a rectangular distribution, JCGM 100:2008 (GUM), F.2.2.1.

    Examples
    --------
    >>> round(map_reading_shown(94_600.0, step_pa=100.0).u_shown_pa)
    58
    """
    if not (math.isfinite(step_pa) and step_pa > 0.0):
        raise InputError(f"step_pa {step_pa:g} is not above zero", do="give the step of the display in Pa")
    step = BudgetLine(
        name="step of the display", identifier="display-step", u_input=step_pa / math.sqrt(12.0), unit="Pa",
        slope=1.0, source=f"step {step_pa / 1000:g} kPa",
    )  # fmt: skip
    return _reading(shown_pa, low_pa, (step, _repeat(u_repeat_pa)), u_repeat_pa)


@dataclass(frozen=True, slots=True, kw_only=True)
class TrimCase:
    """What stays wrong at one pressure if the sensor is trimmed by the difference found at rest.

    Parameters
    ----------
    pressure_pa : float
    offset_trimmed_as_offset_pa, span_trimmed_as_offset_pa : float
        Left after moving every reading by the difference, if the error was an offset (nothing) or a span error.
    offset_trimmed_as_span_pa : float
        Left after rescaling, if the error was an offset.
    """

    pressure_pa: float
    offset_trimmed_as_offset_pa: float
    span_trimmed_as_offset_pa: float
    offset_trimmed_as_span_pa: float


@dataclass(frozen=True, slots=True, kw_only=True)
class MapCheck:
    """A manifold pressure sensor at rest against the pressure in the workshop.

    Parameters
    ----------
    reading : MapReading
    station : StationPressure
    difference_pa : float
        Shown minus expected, Pa.
    u_difference_pa : float
        Its standard uncertainty, Pa.
    budget : tuple of BudgetLine
        Contributions of both sides, Pa.
    judgement : Judgement
        Against what is measurable, worth acting on, and the stop figure.
    trims : tuple of TrimCase
        What trimming on this one point would leave; empty where the two agree.
    question : str
        A mistake that would explain the difference; empty where there is none.
    text : str
        The result in plain words.
    """

    reading: MapReading
    station: StationPressure
    difference_pa: float
    u_difference_pa: float
    budget: tuple[BudgetLine, ...]
    judgement: Judgement
    trims: tuple[TrimCase, ...]
    question: str
    text: str

    def expanded_pa(self) -> float:
        """Half-width of the interval for the difference, 19 times in 20, Pa."""
        return coverage_factor() * self.u_difference_pa


def check_map_at_rest(
    reading: MapReading, station: StationPressure, *, show_at_pa: tuple[float, ...] = SHOW_AT_PA
) -> MapCheck:
    """Compare a manifold pressure sensor, engine stopped and hose open, with the pressure in the workshop.

    Parameters
    ----------
    reading : MapReading
        From `map_reading_from_volts` or `map_reading_shown`.
    station : StationPressure
        Pressure in the workshop with its uncertainty.
    show_at_pa : tuple of float, optional
        Pressures at which the two explanations are told apart, Pa; 30 and 200 kPa if left out.

    Returns
    -------
    MapCheck

    References
    ----------
    Law of propagation, JCGM 100:2008, equation (10); the figures of `figures_of` are common practice, no source.

    Examples
    --------
    >>> from sensorcal.bench.station import reported_station_pressure
    >>> here = reported_station_pressure(elevation_m=640.0, qnh_pa=100_900.0, station_elevation_m=610.0)
    >>> print(check_map_at_rest(map_reading_from_volts(2.013, 5.000), here).text)
    shows 94.56 kPa where 93.47 is expected: 1.09 kPa high, ± 0.20 (19 times in 20); this is worth acting on \
(from 1 kPa); within its uncertainty the verdict next to it is as likely. One point cannot tell an offset from a wrong \
span: as an offset it is +1.09 everywhere; if it is a span error, trimming it as an offset would leave -0.74 kPa at 30 \
and +1.25 kPa at 200. Take a second point before trimming.
    """
    difference_pa = reading.shown_pa - station.pressure_pa
    budget = (*reading.budget, *station.budget)
    u_pa = math.hypot(reading.u_shown_pa, station.u_pressure_pa)
    judgement = judge(figures_of("map", "at rest against station pressure"), difference_pa, u_pa)
    question = _question(reading, station)
    agrees = judgement.verdict == "agrees"
    trims = () if agrees else tuple(_trim(p, difference_pa, station.pressure_pa, reading.low_pa) for p in show_at_pa)
    return MapCheck(
        reading=reading,
        station=station,
        difference_pa=difference_pa,
        u_difference_pa=u_pa,
        budget=budget,
        judgement=judgement,
        trims=trims,
        question=question,
        text=_text(reading, station, difference_pa, u_pa, judgement, trims, question),
    )


def _repeat(u_repeat_pa: float | None) -> BudgetLine:
    given = u_repeat_pa is not None
    u_pa = U_REPEAT_PA if u_repeat_pa is None else u_repeat_pa
    if not (math.isfinite(u_pa) and u_pa >= 0.0):
        raise InputError(f"u_repeat_pa {u_pa:g} is negative or not a number", do="give zero or more")
    return BudgetLine(
        name="noise and hose, one reading", identifier="map-repeat", u_input=u_pa, unit="Pa", slope=1.0,
        source="as given" if given else "common practice, no source",
    )  # fmt: skip


def _reading(shown_pa: float, low_pa: float, budget: tuple[BudgetLine, ...], u_repeat_pa: float | None) -> MapReading:
    if not (math.isfinite(shown_pa) and shown_pa >= 0.0):
        raise InputError(
            f"shown_pa {shown_pa:g} Pa is a negative absolute pressure",
            do="a manifold pressure sensor shows the full pressure of the air; one near zero at rest is a gauge sensor",
        )
    assumed = () if u_repeat_pa is not None else (f"noise and hose: u {U_REPEAT_PA / 1000:g} kPa a reading",)
    return MapReading(shown_pa=shown_pa, u_shown_pa=combined(budget), low_pa=low_pa, budget=budget, assumptions=assumed)


def _trim(pressure_pa: float, difference_pa: float, at_pa: float, low_pa: float) -> TrimCase:
    as_span_pa = difference_pa * (pressure_pa - low_pa) / (at_pa - low_pa)
    return TrimCase(
        pressure_pa=pressure_pa,
        offset_trimmed_as_offset_pa=0.0,
        span_trimmed_as_offset_pa=as_span_pa - difference_pa,
        offset_trimmed_as_span_pa=difference_pa - as_span_pa,
    )


def _question(reading: MapReading, station: StationPressure) -> str:
    """Name the mistake that would bring the two together within the stop figure, if there is one."""
    shown_pa, expected_pa = reading.shown_pa, station.pressure_pa
    stop_pa = figures_of("map", "at rest against station pressure").stop or 0.0
    if abs(shown_pa - expected_pa) < stop_pa:
        return ""
    if shown_pa < 5_000.0:
        return "is it a gauge sensor? One of that kind shows about zero at rest"
    if 97_000.0 <= expected_pa <= 104_500.0 and shown_pa < expected_pa:
        if station.elevation_m is not None:
            there_pa = float(station_pressure_pa(expected_pa, station.elevation_m))
            if abs(shown_pa - there_pa) < min(stop_pa, expected_pa - shown_pa):
                at_m, qnh_hpa = station.elevation_m, expected_pa / 100
                return (
                    f"{(expected_pa - there_pa) / 1000:.1f} kPa: did you use QNH? At {at_m:.0f} m a QNH of "
                    f"{qnh_hpa:.0f} hPa is {there_pa / 1000:.2f} kPa"
                )
        elif shown_pa >= 25_000.0:
            height_m = float(pressure_altitude_m(shown_pa) - pressure_altitude_m(expected_pa))
            return (
                f"{(expected_pa - shown_pa) / 1000:.1f} kPa: did you use QNH? It would fit a field at about "
                f"{round(height_m, -1):.0f} m"
            )
    for guess in unit_from_slope(expected_pa / shown_pa, tolerance_ratio=0.03):
        if guess.taken_as in {"kPa", ""}:
            return f"a unit: {guess.text.replace('entered', 'shown')}?"
    return ""


def _text(
    reading: MapReading,
    station: StationPressure,
    difference_pa: float,
    u_pa: float,
    judgement: Judgement,
    trims: tuple[TrimCase, ...],
    question: str,
) -> str:
    expanded_kpa = coverage_factor() * u_pa / 1000.0
    head = f"shows {reading.shown_pa / 1000:.2f} kPa where {station.pressure_pa / 1000:.2f} is expected: "
    way = "high" if difference_pa > 0.0 else "low"
    head += f"{abs(difference_pa) / 1000:.2f} kPa {way}, ± {expanded_kpa:.2f} (19 times in 20); this {judgement.text}."
    if question:
        return f"{head} First question: {question}."
    if not trims:
        return head
    left = " and ".join(
        f"{case.span_trimmed_as_offset_pa / 1000:+.2f} kPa at {case.pressure_pa / 1000:g}" for case in trims
    )
    return (
        f"{head} One point cannot tell an offset from a wrong span: as an offset it is {difference_pa / 1000:+.2f} "
        f"everywhere; if it is a span error, trimming it as an offset would leave {left}. "
        "Take a second point before trimming."
    )
