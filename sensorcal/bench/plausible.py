"""Typed air data that look like something else: feet for metres, QNH for station pressure, 100 °C for the steam.

A number that cannot be used is refused with an `InputError`. One that can be used but looks wrong becomes a
`Question` with the size of the mistake in degrees of boiling point, for the person to answer; nothing is changed.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from sensorcal.errors import InputError
from sensorcal.physics.air import reported_pressure_pa
from sensorcal.physics.altimeter import qnh_pa as qnh_of_station_pa
from sensorcal.physics.altimeter import station_pressure_pa
from sensorcal.physics.atmosphere import standard_pressure_pa, standard_temperature_c
from sensorcal.physics.water import boiling_point_c

FT_M = 0.3048
LOWEST_ELEVATION_M, HIGHEST_ELEVATION_M = -450.0, 9_000.0
QNH_LOW_PA, QNH_HIGH_PA = 94_000.0, 106_000.0  # outside is refused unless kept with a reason
QNH_RECORD_LOW_PA, QNH_RECORD_HIGH_PA = 85_000.0, 110_000.0  # beyond any sea-level pressure on record
_INHG_RANGE = (25.0, 32.5)
_QUESTION_FROM_C = 0.1  # smaller mistakes drown in the steam point's own uncertainty


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """Something typed that looks like a mistake, with its size, for the person to answer.

    Parameters
    ----------
    code : str
        Short fixed name of the kind of mistake, such as 'feet' or 'steam-100'.
    field : str
        Argument that is questioned.
    text : str
        The question in plain words, with numbers.
    size_c : float
        Error of the boiling point if the mistake was made, °C; positive where the typed value is too hot.
    suggestion : float or None
        Value that the field would have, in its own unit, if the mistake was made.
    reason : str
        Why the value is kept all the same, where the person has said so.

    Examples
    --------
    >>> Question(code="feet", field="elevation_m", text="feet?", size_c=-4.86, suggestion=640.1).size_c
    -4.86
    """

    code: str
    field: str
    text: str
    size_c: float
    suggestion: float | None = None
    reason: str = ""


def check_elevation(elevation_m: float, field: str = "elevation_m") -> float:
    """Hand on an elevation at which somebody can have a workshop, and refuse any other.

    Parameters
    ----------
    elevation_m : float
        Elevation, m.
    field : str, optional
        Name for the message.

    Returns
    -------
    float
        The same elevation, m.

    Raises
    ------
    InputError
        Below -450 m, above 9000 m, or not a number.

    Examples
    --------
    >>> check_elevation(640.0)
    640.0
    """
    if math.isfinite(elevation_m) and LOWEST_ELEVATION_M <= elevation_m <= HIGHEST_ELEVATION_M:
        return float(elevation_m)
    hint = "give it in metres"
    if HIGHEST_ELEVATION_M < elevation_m <= HIGHEST_ELEVATION_M / FT_M:
        hint = f"if these are feet, say so: {elevation_m:g} ft is {elevation_m * FT_M:.0f} m"
    raise InputError(f"{field} {elevation_m:g} m is no ground on earth (-450 to 9000 m)", do=hint)


def check_qnh(qnh_pa: float, *, elevation_m: float | None = None, keep_reason: str = "") -> float:
    """Hand on a QNH that weather can produce, and refuse any other with a guess at what it is.

    Parameters
    ----------
    qnh_pa : float
        Altimeter setting as typed, Pa.
    elevation_m : float, optional
        Elevation of the workshop, m, to recognise a station pressure typed as QNH.
    keep_reason : str, optional
        Reason to keep a value outside 940 to 1060 hPa all the same.

    Returns
    -------
    float
        The same QNH, Pa.

    Raises
    ------
    InputError
        Outside 940 to 1060 hPa without a reason; outside 850 to 1100 hPa in any case.

    Examples
    --------
    >>> check_qnh(100_900.0)
    100900.0
    >>> check_qnh(2_992.0)
    Traceback (most recent call last):
    sensorcal.errors.InputError: qnh_pa 29.92 hPa is outside 940 to 1060 hPa; it looks like inches of mercury: \
29.92 inHg is 1013.2 hPa.
    """
    if math.isfinite(qnh_pa):
        if QNH_LOW_PA <= qnh_pa <= QNH_HIGH_PA:
            return float(qnh_pa)
        if keep_reason.strip() and QNH_RECORD_LOW_PA <= qnh_pa <= QNH_RECORD_HIGH_PA:
            return float(qnh_pa)
    raise InputError(f"qnh_pa {qnh_pa / 100:g} hPa is outside 940 to 1060 hPa", do=_qnh_hint(qnh_pa, elevation_m))


def _qnh_hint(qnh_pa: float, elevation_m: float | None) -> str:
    hpa = qnh_pa / 100.0
    inhg_pa = 0.0254 * 13_595.1 * 9.80665
    for typed in (hpa, qnh_pa, qnh_pa / 1000.0):  # the bare number may have been meant as hPa, Pa or kPa
        if _INHG_RANGE[0] <= typed <= _INHG_RANGE[1]:
            return f"it looks like inches of mercury: {typed:g} inHg is {typed * inhg_pa / 100:.1f} hPa"
        if 2_700.0 <= typed <= 3_130.0:  # A2992 of a routine report, the decimal point left out
            inches, point_hpa = typed / 100.0, typed * inhg_pa / 1e4
            return f"it looks like inches of mercury without the point: {inches:.2f} inHg is {point_hpa:.1f} hPa"
    if QNH_LOW_PA <= qnh_pa * 10.0 <= QNH_HIGH_PA:
        return f"it looks like kilopascals: {hpa:g} kPa is {hpa * 10:g} hPa"
    if QNH_LOW_PA <= qnh_pa * 100.0 <= QNH_HIGH_PA:
        return f"it looks like hectopascals given as pascals: {qnh_pa:g} hPa"
    if elevation_m is not None and elevation_m > 0.0 and 25_000.0 < qnh_pa < QNH_LOW_PA:
        implied = float(qnh_of_station_pa(qnh_pa, elevation_m))
        if QNH_LOW_PA <= implied <= QNH_HIGH_PA:
            return (
                f"a barometer at {elevation_m:.0f} m reads this when QNH is {implied / 100:.0f} hPa: "
                "give it as the barometer's reading, or give the QNH of the report"
            )
    return "give the QNH of the weather report in hPa"


def questions_about_air(
    *,
    elevation_m: float,
    qnh_pa: float,
    station_elevation_m: float,
    temperature_c: float | None = None,
    unit_stated: bool = False,
    keep_reason: str = "",
) -> tuple[Question, ...]:
    """Ask about elevations and a QNH that look like a mistake, with the size of each in degrees of boiling point.

    Parameters
    ----------
    elevation_m, station_elevation_m : float
        Elevation of the workshop and of the reporting station, m.
    qnh_pa : float
        Altimeter setting, Pa.
    temperature_c : float, optional
        Outside air temperature at the workshop, °C; that of the standard atmosphere if left out.
    unit_stated : bool, optional
        True where the person wrote the unit beside the elevation; then high ground alone is not questioned.
    keep_reason : str, optional
        Reason that the person gave for keeping an unusual value; it is recorded with the question.

    Returns
    -------
    tuple of Question
        Empty where nothing looks wrong.

    Examples
    --------
    >>> asked = questions_about_air(
    ...     elevation_m=2100.0, qnh_pa=100_900.0, station_elevation_m=610.0)
    >>> [(question.code, round(question.size_c, 1)) for question in asked]
    [('feet', -4.9)]
    """

    def boils_c(at_m: float, report_pa: float = qnh_pa, station_m: float = station_elevation_m) -> float:
        return _boils_c(at_m, report_pa, station_m, temperature_c)

    asked: list[Question] = []
    typed_c = boils_c(elevation_m)
    suggested_m = _other_unit(elevation_m, station_elevation_m)
    if suggested_m is None and elevation_m > 1_500.0 and not unit_stated:
        suggested_m = elevation_m * FT_M
    if suggested_m is not None:
        size_c = typed_c - boils_c(suggested_m)
        if suggested_m < elevation_m:
            code, told = "feet", f"elevation {elevation_m:.0f} m: feet? {elevation_m:.0f} ft is {suggested_m:.0f} m"
        else:
            code = "metres"
            told = f"elevation {elevation_m:.0f} m: metres taken as feet? That would be {suggested_m:.0f} m"
        told += (
            f"; the station is at {station_elevation_m:.0f} m, and the boiling point would be off by {size_c:+.1f} °C"
        )
        asked.append(
            Question(
                code=code, field="elevation_m", text=told, size_c=size_c, suggestion=suggested_m, reason=keep_reason
            )
        )
    elif abs(elevation_m - station_elevation_m) > 1_000.0:
        size_c = typed_c - boils_c(elevation_m, station_m=elevation_m)
        told = (
            f"the station is {abs(elevation_m - station_elevation_m):.0f} m away in height: is it the right one, "
            "and the air temperature given?"
        )
        asked.append(
            Question(code="far-station", field="station_elevation_m", text=told, size_c=size_c, reason=keep_reason)
        )
    if not QNH_LOW_PA <= qnh_pa <= QNH_HIGH_PA:
        told = f"QNH {qnh_pa / 100:.1f} hPa is outside 940 to 1060 hPa and was kept"
        size_c = typed_c - boils_c(elevation_m, 101_325.0)
        asked.append(Question(code="qnh-unusual", field="qnh_pa", text=told, size_c=size_c, reason=keep_reason))
    if station_elevation_m > 100.0 and qnh_pa < 98_500.0:
        implied_pa = float(qnh_of_station_pa(qnh_pa, station_elevation_m))
        if 99_000.0 <= implied_pa <= 104_000.0:
            size_c = typed_c - boils_c(elevation_m, implied_pa)
            told = (
                f"QNH {qnh_pa / 100:.1f} hPa is low: is it the station pressure? "
                f"Then QNH is {implied_pa / 100:.0f} hPa and the boiling point off by {size_c:+.1f} °C"
            )
            asked.append(
                Question(
                    code="station-as-qnh",
                    field="qnh_pa",
                    text=told,
                    size_c=size_c,
                    suggestion=implied_pa,
                    reason=keep_reason,
                )
            )
    return tuple(asked)


def _boils_c(elevation_m: float, qnh_pa: float, station_elevation_m: float, temperature_c: float | None) -> float:
    """Boiling point as computed from these inputs, right or mistaken."""
    air_c = float(standard_temperature_c(elevation_m)) if temperature_c is None else temperature_c
    return float(boiling_point_c(reported_pressure_pa(qnh_pa, station_elevation_m, elevation_m, air_c)))


def _other_unit(elevation_m: float, station_m: float) -> float | None:
    """Elevation in the other unit, where that brings the workshop near its station and as typed it is far off."""
    if abs(elevation_m - station_m) < 150.0:
        return None
    for candidate_m in (elevation_m * FT_M, elevation_m / FT_M):
        if abs(candidate_m - station_m) <= max(60.0, 0.15 * abs(station_m)):
            return candidate_m
    return None


def questions_about_barometer(*, pressure_pa: float, elevation_m: float, keep_reason: str = "") -> tuple[Question, ...]:
    """Ask about a barometer's reading that does not fit the elevation, such as QNH typed as station pressure.

    Parameters
    ----------
    pressure_pa : float
        Reading, taken as the pressure in the workshop, Pa.
    elevation_m : float
        Elevation of the workshop, m.
    keep_reason : str, optional
        Reason that the person gave for keeping an unusual value.

    Returns
    -------
    tuple of Question
        Empty where the reading is one that weather can give there.

    Examples
    --------
    >>> asked = questions_about_barometer(pressure_pa=100_900.0, elevation_m=640.0)
    >>> [(question.code, round(question.size_c, 2)) for question in asked]
    [('qnh-as-station', 2.13)]
    """
    standard_pa = float(standard_pressure_pa(elevation_m))
    implied_pa = float(qnh_of_station_pa(pressure_pa, elevation_m))
    if 95_000.0 <= implied_pa <= 105_000.0 and abs(pressure_pa - standard_pa) <= 5_000.0:
        return ()
    typed_c = float(boiling_point_c(pressure_pa))
    if elevation_m > 100.0 and implied_pa > 105_000.0 and 97_000.0 <= pressure_pa <= 104_500.0:
        there_pa = float(station_pressure_pa(pressure_pa, elevation_m))
        size_c = typed_c - float(boiling_point_c(there_pa))
        told = (
            f"{pressure_pa / 100:.1f} hPa at {elevation_m:.0f} m: did you use QNH? The pressure there would be "
            f"{there_pa / 1000:.2f} kPa and the boiling point is off by {size_c:+.2f} °C"
        )
        return (
            Question(
                code="qnh-as-station",
                field="pressure_pa",
                text=told,
                size_c=size_c,
                suggestion=there_pa,
                reason=keep_reason,
            ),
        )
    size_c = typed_c - float(boiling_point_c(standard_pa))
    told = (
        f"{pressure_pa / 1000:.2f} kPa does not fit {elevation_m:.0f} m, where it is about "
        f"{standard_pa / 1000:.1f} kPa: check the barometer, its unit and the elevation"
    )
    return (Question(code="pressure-elevation", field="pressure_pa", text=told, size_c=size_c, reason=keep_reason),)


def questions_about_steam(
    typed_c: float, boiling_c: float, *, u_boiling_c: float = 0.0, qnh_pa: float | None = None, keep_reason: str = ""
) -> tuple[Question, ...]:
    """Ask about a steam temperature typed by hand where water boils at another one.

    Parameters
    ----------
    typed_c : float
        Steam temperature as typed, °C.
    boiling_c : float
        Boiling point at the workshop, °C.
    u_boiling_c : float, optional
        Its standard uncertainty, °C.
    qnh_pa : float, optional
        Reported altimeter setting, Pa, to recognise a boiling point computed from it directly.
    keep_reason : str, optional
        Reason that the person gave for keeping the typed value.

    Returns
    -------
    tuple of Question
        Empty where the two agree within 0.1 °C and twice the uncertainty.

    Examples
    --------
    >>> [(q.code, round(q.size_c, 2)) for q in questions_about_steam(100.0, 97.729)]
    [('steam-100', 2.27)]
    >>> questions_about_steam(100.0, 99.974)
    ()
    """
    size_c = typed_c - boiling_c
    if abs(size_c) <= _QUESTION_FROM_C + 2.0 * u_boiling_c:
        return ()
    code, why = "steam-typed", "check the elevation, the weather report and the typed value"
    if abs(typed_c - 100.0) < 0.05:
        code, why = "steam-100", "100 °C is water at 1014 hPa, not here today"
    elif qnh_pa is not None and abs(typed_c - float(boiling_point_c(qnh_pa))) < 0.05:
        code, why = "qnh-as-station", "it is the boiling point at the QNH, which is not the pressure here"
    elif abs((typed_c - 32.0) / 1.8 - boiling_c) < 3.0:
        code, why = "fahrenheit", f"it looks like °F: {(typed_c - 32.0) / 1.8:.2f} °C"
    told = f"steam typed as {typed_c:g} °C, but water boils at {boiling_c:.2f} °C here: {size_c:+.2f} °C off; {why}"
    return (Question(code=code, field="steam_c", text=told, size_c=size_c, suggestion=boiling_c, reason=keep_reason),)


def usual_mistakes(
    *, elevation_m: float, qnh_pa: float, station_elevation_m: float, temperature_c: float | None = None
) -> tuple[Question, ...]:
    """Size, at this workshop and in this weather, of the mistakes that people make with the steam point.

    Parameters
    ----------
    elevation_m, station_elevation_m : float
        Elevation of the workshop and of the reporting station, m.
    qnh_pa : float
        Altimeter setting, Pa.
    temperature_c : float, optional
        Outside air temperature at the workshop, °C; that of the standard atmosphere if left out.

    Returns
    -------
    tuple of Question
        One for each mistake; `size_c` is the mistaken boiling point minus the true one.

    Examples
    --------
    >>> for mistake in usual_mistakes(elevation_m=640.0, qnh_pa=100_900.0, station_elevation_m=610.0):
    ...     print(f"{mistake.code:15} {mistake.size_c:+.2f}")
    steam-100       +2.27
    qnh-as-station  +2.13
    no-weather      +0.12
    feet            -4.86
    metres          +1.48
    """
    true_c = _boils_c(elevation_m, qnh_pa, station_elevation_m, temperature_c)
    no_weather_c = float(boiling_point_c(standard_pressure_pa(elevation_m)))
    mistaken = [
        ("steam-100", "steam_c", "100 °C taken for the steam", 100.0),
        ("qnh-as-station", "pressure_pa", "QNH taken for the pressure here", float(boiling_point_c(qnh_pa))),
        ("no-weather", "qnh_pa", "elevation alone, no weather report", no_weather_c),
    ]
    for code, told, wrong_m in (
        ("feet", f"{elevation_m / FT_M:.0f} ft typed as metres", elevation_m / FT_M),
        ("metres", f"{elevation_m:.0f} m typed as feet", elevation_m * FT_M),
    ):
        # below 50 m the two units give the same boiling point to 0.4 °C, and above 9000 m the typed value is refused
        if elevation_m > 50.0 and wrong_m <= HIGHEST_ELEVATION_M:
            mistaken.append((code, "elevation_m", told, _boils_c(wrong_m, qnh_pa, station_elevation_m, temperature_c)))
    return tuple(
        Question(code=code, field=field, text=told, size_c=wrong_c - true_c) for code, field, told, wrong_c in mistaken
    )
