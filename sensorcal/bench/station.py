"""Pressure in the workshop and the boiling point of water there, with the budget behind each.

Three numbers are enough: elevation, QNH and the elevation of the station that reports it. Everything else is
assumed and named. The standard uncertainties come from the inputs through the slopes of the laws.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from sensorcal.bench.budgetline import BudgetLine, combined
from sensorcal.bench.plausible import (
    Question,
    check_elevation,
    check_qnh,
    questions_about_air,
    questions_about_barometer,
)
from sensorcal.bench.weather import WeatherReport
from sensorcal.errors import InputError
from sensorcal.physics.air import reported_pressure_pa, reported_pressure_slopes
from sensorcal.physics.altimeter import station_pressure_pa, station_pressure_slopes
from sensorcal.physics.atmosphere import standard_temperature_c
from sensorcal.physics.water import boiling_point_c, boiling_slope_c_per_pa

_ROOT_3 = math.sqrt(3.0)

U_ELEVATION_M = 3.0 / _ROOT_3  # a map or a phone, half-width 3 m; common practice, no source
U_STATION_ELEVATION_M = 1.0 / _ROOT_3  # published to the metre or foot, half-width 1 m; common practice, no source
U_TEMPERATURE_TYPED_K = 5.0 / _ROOT_3  # one reading for a column of air, half-width 5 K; common practice, no source
U_TEMPERATURE_ASSUMED_K = 25.0 / _ROOT_3  # weather about the standard atmosphere, half-width 25 K; common practice
U_LINE_RATIO = 0.025e-2 / 2.0  # IAPWS, saturation line near 100 °C: 0.025 % of pressure, read as k = 2, from memory
U_ALTIMETER_M = 25.0 * 0.3048 / _ROOT_3  # scale error of an aircraft altimeter, half-width 25 ft: 14 CFR 43 app. E
# allows 20 to 35 ft below 4000 ft (from memory)


@dataclass(frozen=True, slots=True, kw_only=True)
class StationPressure:
    """Air pressure in the workshop, with its standard uncertainty and everything it rests on.

    Parameters
    ----------
    pressure_pa : float
        Absolute pressure, Pa.
    u_pressure_pa : float
        Standard uncertainty, Pa.
    source : {'report', 'barometer', 'altimeter'}
        Where the pressure comes from.
    elevation_m : float or None
        Elevation of the workshop, m; None where a barometer made it needless.
    qnh_pa, station_elevation_m, temperature_c : float or None
        The report: QNH as reported, Pa; elevation of the station, m; outside air temperature used, °C.
    budget : tuple of BudgetLine
        Contributions, Pa; independent, so that their squares add up to the square of `u_pressure_pa`.
    assumptions : tuple of str
        Values that nobody typed, each with its value.
    questions : tuple of Question
        Inputs that look like a mistake, with its size.
    notes : tuple of str
        Effects that are known and not applied, with their size.

    Examples
    --------
    >>> here = reported_station_pressure(elevation_m=640.0, qnh_pa=100_900.0, station_elevation_m=610.0)
    >>> f"{here.pressure_pa / 1000:.2f} kPa, u {here.u_pressure_pa / 1000:.2f} kPa"
    '93.47 kPa, u 0.08 kPa'
    """

    pressure_pa: float
    u_pressure_pa: float
    source: Literal["report", "barometer", "altimeter"]
    elevation_m: float | None = None
    qnh_pa: float | None = None
    station_elevation_m: float | None = None
    temperature_c: float | None = None
    budget: tuple[BudgetLine, ...] = ()
    assumptions: tuple[str, ...] = ()
    questions: tuple[Question, ...] = ()
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class BoilingPoint:
    """Boiling point of pure water in the workshop: the temperature of the vapour above it, not of the water.

    Parameters
    ----------
    temperature_c : float
        Boiling point, °C.
    u_temperature_c : float
        Standard uncertainty from the pressure and the saturation line, °C; what the pot, the lid and the probe
        add comes on top.
    slope_c_per_pa : float
        Change with pressure, °C/Pa.
    station : StationPressure
        The pressure it was computed from.
    budget : tuple of BudgetLine
        Contributions, °C: the station pressure's lines carried through the slope, and the line itself.

    Examples
    --------
    >>> here = reported_station_pressure(elevation_m=640.0, qnh_pa=100_900.0, station_elevation_m=610.0)
    >>> steam = boiling_point(here)
    >>> f"{steam.temperature_c:.2f} °C, u {steam.u_temperature_c:.3f} °C"
    '97.73 °C, u 0.024 °C'
    """

    temperature_c: float
    u_temperature_c: float
    slope_c_per_pa: float
    station: StationPressure
    budget: tuple[BudgetLine, ...] = ()


def reported_station_pressure(
    *,
    elevation_m: float,
    qnh_pa: float,
    station_elevation_m: float | None = None,
    temperature_c: float | None = None,
    report: WeatherReport | None = None,
    u_elevation_m: float | None = None,
    u_station_elevation_m: float | None = None,
    u_temperature_k: float | None = None,
    unit_stated: bool = False,
    keep_reason: str = "",
) -> StationPressure:
    """Pressure in the workshop from a weather report.

    Parameters
    ----------
    elevation_m : float
        Elevation of the workshop, m. Valid -450 to 9000 m.
    qnh_pa : float
        Altimeter setting as reported, Pa. Valid 94 000 to 106 000 Pa, wider with `keep_reason`.
    station_elevation_m : float, optional
        Elevation of the station that reports, m; that of the workshop if left out.
    temperature_c : float, optional
        Outside air temperature at the workshop, °C; that of the standard atmosphere if left out. Valid -60 to 60 °C.
    report : WeatherReport, optional
        Rounding and quality of the report; whole hPa rounded down, same field, if left out.
    u_elevation_m, u_station_elevation_m, u_temperature_k : float, optional
        Standard uncertainties, m and K; assumed and named if left out.
    unit_stated : bool, optional
        True where the person wrote the unit beside the elevation.
    keep_reason : str, optional
        Reason to keep a QNH outside 940 to 1060 hPa, or other questioned values; recorded.

    Returns
    -------
    StationPressure
        Pressure in Pa with its standard uncertainty, budget, assumptions, questions and notes.

    Raises
    ------
    InputError
        If an input is impossible; the message names it and guesses at the mistake.

    References
    ----------
    ICAO Doc 7488/3 relation and the hypsometric equation; law of propagation, JCGM 100:2008, equation (10).

    Examples
    --------
    >>> here = reported_station_pressure(elevation_m=640.0, qnh_pa=100_900.0, station_elevation_m=610.0)
    >>> round(here.pressure_pa)
    93470
    """
    report = WeatherReport() if report is None else report
    assumptions: list[str] = []
    check_elevation(elevation_m)
    if station_elevation_m is None:
        station_elevation_m = elevation_m
        assumptions.append(f"station elevation: {elevation_m:.0f} m, the workshop's own")
    check_elevation(station_elevation_m, "station_elevation_m")
    check_qnh(qnh_pa, elevation_m=elevation_m, keep_reason=keep_reason)
    typed_c = temperature_c
    if temperature_c is None:
        temperature_c = float(standard_temperature_c(elevation_m))
        assumptions.append(f"outside air: {temperature_c:.1f} °C, standard atmosphere at {elevation_m:.0f} m, ± 25 K")
        u_kelvin = U_TEMPERATURE_ASSUMED_K
    else:
        if not -60.0 <= temperature_c <= 60.0:
            raise InputError(f"temperature_c {temperature_c:g} °C is outside -60 to 60 °C", do="give outside air in °C")
        u_kelvin = U_TEMPERATURE_TYPED_K
    u_kelvin = _standard("u_temperature_k", u_temperature_k, u_kelvin)
    u_here_m = _standard("u_elevation_m", u_elevation_m, U_ELEVATION_M)
    u_there_m = _standard("u_station_elevation_m", u_station_elevation_m, U_STATION_ELEVATION_M)
    assumptions += [*report.assumptions, *_assumed_of_elevation(u_elevation_m, u_station_elevation_m)]

    inputs = (qnh_pa + report.correction_pa, station_elevation_m, elevation_m, temperature_c)
    pressure_pa = float(reported_pressure_pa(*inputs))
    by_qnh, by_station, by_elevation, by_kelvin = (float(slope) for slope in reported_pressure_slopes(*inputs))
    u_far_pa = report.u_gradient_pa_per_m * report.distance_m
    budget = (
        BudgetLine(
            name=f"rounding of the report ({report.rounding})", identifier="report-rounding",
            u_input=report.u_rounding_pa, unit="Pa", slope=by_qnh, source=f"step {report.step_pa / 100:.4g} hPa",
        ),
        BudgetLine(
            name="station's barometer", identifier="station-barometer",
            u_input=report.u_sensor_pa, unit="Pa", slope=1.0, source="FMH-1 appendix C, from memory",
        ),
        BudgetLine(
            name="elevation of the workshop", identifier="elevation",
            u_input=u_here_m, unit="m", slope=by_elevation, source="slope of the hypsometric equation",
        ),
        BudgetLine(
            name="elevation of the station", identifier="station-elevation",
            u_input=u_there_m, unit="m", slope=by_station, source="standard against real air: nearly cancels",
        ),
        BudgetLine(
            name="air temperature between the two", identifier="air-temperature",
            u_input=u_kelvin, unit="K", slope=by_kelvin, source="slope of the hypsometric equation",
        ),
        BudgetLine(
            name="age of the report", identifier="report-age",
            u_input=report.u_age_pa, unit="Pa", slope=1.0, source="common practice, no source",
        ),
        BudgetLine(
            name="distance to the station", identifier="report-distance",
            u_input=u_far_pa, unit="Pa", slope=1.0, source="common practice, no source",
        ),
        BudgetLine(
            name="wind and fans about the building", identifier="building",
            u_input=report.u_building_pa, unit="Pa", slope=1.0, source="common practice, no source",
        ),
    )  # fmt: skip
    return StationPressure(
        pressure_pa=pressure_pa,
        u_pressure_pa=combined(budget),
        source="report",
        elevation_m=elevation_m,
        qnh_pa=qnh_pa,
        station_elevation_m=station_elevation_m,
        temperature_c=temperature_c,
        budget=budget,
        assumptions=tuple(assumptions),
        questions=questions_about_air(
            elevation_m=elevation_m,
            qnh_pa=qnh_pa,
            station_elevation_m=station_elevation_m,
            temperature_c=typed_c,
            unit_stated=unit_stated,
            keep_reason=keep_reason,
        ),
        notes=_rounding_notes(report, pressure_pa, by_qnh),
    )


def measured_station_pressure(
    *, pressure_pa: float, u_pressure_pa: float, elevation_m: float | None = None, keep_reason: str = ""
) -> StationPressure:
    """Pressure in the workshop as an absolute barometer there shows it.

    Parameters
    ----------
    pressure_pa : float
        Reading, Pa. Valid 25 000 to 110 000 Pa.
    u_pressure_pa : float
        Standard uncertainty of the barometer, Pa; a phone's is about 60 (±1 hPa; common practice, no source).
    elevation_m : float, optional
        Elevation of the workshop, m, for the check that the reading is no QNH.
    keep_reason : str, optional
        Reason to keep a questioned reading; recorded.

    Returns
    -------
    StationPressure
        Pressure in Pa with its standard uncertainty and questions.

    Raises
    ------
    InputError
        If the reading is no air pressure, or its uncertainty is negative.

    Examples
    --------
    >>> measured_station_pressure(pressure_pa=93_470.0, u_pressure_pa=58.0, elevation_m=640.0).questions
    ()
    """
    if not 25_000.0 <= pressure_pa <= 110_000.0:
        raise InputError(
            f"pressure_pa {pressure_pa / 1000:g} kPa is no air pressure (25 to 110 kPa)",
            do="give the absolute pressure, not a gauge reading, and check the unit",
        )
    u_pa = _standard("u_pressure_pa", u_pressure_pa, 0.0)
    asked: tuple[Question, ...] = ()
    if elevation_m is not None:
        check_elevation(elevation_m)
        asked = questions_about_barometer(pressure_pa=pressure_pa, elevation_m=elevation_m, keep_reason=keep_reason)
    line = BudgetLine(name="barometer", identifier="barometer", u_input=u_pa, unit="Pa", slope=1.0, source="as given")
    return StationPressure(
        pressure_pa=float(pressure_pa),
        u_pressure_pa=u_pa,
        source="barometer",
        elevation_m=elevation_m,
        budget=(line,),
        questions=asked,
    )


def altimeter_station_pressure(
    *, shown_altitude_m: float, setting_pa: float = 101_325.0, u_altitude_m: float | None = None
) -> StationPressure:
    """Pressure in the workshop as an aircraft altimeter there shows it, whatever is set in its window.

    Parameters
    ----------
    shown_altitude_m : float
        Altitude shown, m. Valid -450 to 9000 m.
    setting_pa : float, optional
        Setting in the window, Pa; 1013.25 hPa if left out. Valid 94 000 to 106 000 Pa.
    u_altitude_m : float, optional
        Standard uncertainty of scale and reading, m; assumed and named if left out.

    Returns
    -------
    StationPressure
        Pressure in Pa with its standard uncertainty.

    Raises
    ------
    InputError
        If the altitude or the setting is impossible.

    References
    ----------
    ICAO Doc 7488/3 relation; scale tolerance 14 CFR 43 appendix E (from memory).

    Examples
    --------
    >>> here = altimeter_station_pressure(shown_altitude_m=675.4)
    >>> f"{here.pressure_pa / 1000:.2f} kPa, u {here.u_pressure_pa:.0f} Pa"
    '93.47 kPa, u 50 Pa'
    """
    check_elevation(shown_altitude_m, "shown_altitude_m")
    check_qnh(setting_pa)
    u_m = _standard("u_altitude_m", u_altitude_m, U_ALTIMETER_M)
    _, by_altitude = station_pressure_slopes(setting_pa, shown_altitude_m)
    line = BudgetLine(
        name="altimeter scale and reading",
        identifier="altimeter",
        u_input=u_m,
        unit="m",
        slope=float(by_altitude),
        source="14 CFR 43 appendix E, from memory" if u_altitude_m is None else "as given",
    )
    assumed = () if u_altitude_m is not None else ("altimeter: ± 25 ft, within its certified scale tolerance",)
    return StationPressure(
        pressure_pa=float(station_pressure_pa(setting_pa, shown_altitude_m)),
        u_pressure_pa=line.u,
        source="altimeter",
        budget=(line,),
        assumptions=assumed,
    )


def boiling_point(station: StationPressure) -> BoilingPoint:
    """Boiling point of pure water at the pressure in the workshop, with its standard uncertainty.

    Parameters
    ----------
    station : StationPressure
        Pressure in the workshop.

    Returns
    -------
    BoilingPoint
        Temperature of the vapour, °C, with standard uncertainty and budget.

    References
    ----------
    IAPWS R7-97(2012), equation (31); law of propagation, JCGM 100:2008, equation (10).

    Examples
    --------
    >>> steam = boiling_point(measured_station_pressure(pressure_pa=101_325.0, u_pressure_pa=10.0))
    >>> round(steam.temperature_c, 3)
    99.974
    """
    slope = float(boiling_slope_c_per_pa(station.pressure_pa))
    carried = tuple(
        BudgetLine(
            name=line.name,
            identifier=line.identifier,
            u_input=line.u_input,
            unit=line.unit,
            slope=line.slope * slope,
            source=line.source,
        )
        for line in station.budget
    )
    law = BudgetLine(
        name="saturation line",
        identifier="saturation-line",
        u_input=U_LINE_RATIO * station.pressure_pa,
        unit="Pa",
        slope=slope,
        source="IAPWS, 0.025 % of pressure, from memory",
    )
    budget = (*carried, law)
    return BoilingPoint(
        temperature_c=float(boiling_point_c(station.pressure_pa)),
        u_temperature_c=combined(budget),
        slope_c_per_pa=slope,
        station=station,
        budget=budget,
    )


def _standard(name: str, given: float | None, assumed: float) -> float:
    if given is None:
        return assumed
    if not (math.isfinite(given) and given >= 0.0):
        raise InputError(
            f"{name} {given:g} is negative or not a number", do="give a standard uncertainty, zero or more"
        )
    return float(given)


def _assumed_of_elevation(u_elevation_m: float | None, u_station_elevation_m: float | None) -> list[str]:
    told = [] if u_elevation_m is not None else ["elevation of the workshop: ± 3 m"]
    return told if u_station_elevation_m is not None else [*told, "elevation of the station: ± 1 m"]


def _rounding_notes(report: WeatherReport, pressure_pa: float, by_qnh: float) -> tuple[str, ...]:
    if report.rounding != "down":
        return ()
    half_pa = 0.5 * report.step_pa * by_qnh
    half_c = half_pa * float(boiling_slope_c_per_pa(pressure_pa))
    done = "has been added" if report.half_step else "is not added, the ± covers it"
    size = f"{half_pa / 1000:+.3f} kPa, {half_c:+.3f} °C of boiling point"
    return (f"a report rounded down is on average half a step low: {size}; it {done}",)
