"""Fixed points by name: melting ice, and the steam over boiling water at today's pressure."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

from sensorcal.bench.plausible import Question, questions_about_steam
from sensorcal.bench.point import UPart
from sensorcal.bench.run import Run
from sensorcal.bench.station import BoilingPoint, boiling_point, reported_station_pressure
from sensorcal.errors import InputError
from sensorcal.setup import Setup

ICE_C = 0.0
"""Melting ice in air-saturated water, degC; 0.0025 without dissolved air (MSL Technical Guide 1, from an excerpt)."""

_STEAM_WORDS = re.compile(r"\b(steam|boil\w*|vapou?r)\b", re.IGNORECASE)
_NEAR_100_C = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class FixedPoint:
    """A fixed point as realised at this bench today.

    Parameters
    ----------
    name : str
        'ice' or 'steam'.
    temperature_c : float
        Its temperature, degC.
    shared : tuple of UPart
        Errors that every reading in this fixed point today has in common.
    """

    name: str
    temperature_c: float
    shared: tuple[UPart, ...]

    @property
    def u_c(self) -> float:
        """Standard uncertainty of the fixed point itself, degC, without flask, film and probe."""
        return float(sum(part.u**2 for part in self.shared) ** 0.5)


def local_boiling_point(setup: Setup) -> BoilingPoint:
    """Give the boiling point at the workshop from the field in the setup.

    Raises
    ------
    InputError
        When the elevation or the QNH is missing, or cannot be.

    Examples
    --------
    >>> from sensorcal.setup import Field
    >>> here = Setup(field=Field(elevation_m=640.0, qnh_pa=100_900.0, station_elevation_m=610.0))
    >>> round(local_boiling_point(here).temperature_c, 2)
    97.73
    """
    place = setup.field
    if place.elevation_m is None or place.qnh_pa is None:
        missing = "elevation" if place.elevation_m is None else "QNH"
        raise InputError(
            f"the steam point needs the {missing} of the field", do="state elevation and qnh under [field] in the setup"
        )
    return boiling_point(
        reported_station_pressure(
            elevation_m=place.elevation_m,
            qnh_pa=place.qnh_pa,
            station_elevation_m=place.station_elevation_m,
            temperature_c=place.air_temperature_c,
            unit_stated="field.elevation" not in setup.stated or "field.elevation:unit" in setup.stated,
            keep_reason=setup.reason_to_keep("qnh-unusual"),
        )
    )


def fixed_point(name: str, setup: Setup) -> FixedPoint:
    """Give a fixed point by name, with what all its readings today have in common.

    Parameters
    ----------
    name : str
        'ice' or 'steam'.
    setup : Setup
        Its field gives the boiling point, its bath the purity of the ice.

    Returns
    -------
    FixedPoint
        Temperature in degC with its shares.

    Raises
    ------
    InputError
        When the name is another, or steam is asked for without elevation and QNH.

    References
    ----------
    Ice: ITS-90 and MSL Technical Guide 1 (excerpt). Steam: IAPWS R7-97, see `sensorcal.bench.station`.

    Examples
    --------
    >>> fixed_point("ice", Setup()).temperature_c
    0.0
    """
    if name == "ice":
        purity = UPart(key="ice:purity", u=setup.bath.u_ice_purity_c, what="purity of the ice")
        return FixedPoint(name=name, temperature_c=ICE_C, shared=(purity,))
    if name == "steam":
        steam = local_boiling_point(setup)
        pressure = UPart(key="steam:pressure", u=steam.u_temperature_c, what="pressure at the steam point")
        return FixedPoint(name=name, temperature_c=steam.temperature_c, shared=(pressure,))
    raise InputError(f"{name!r} is not a fixed point", do="write 'ice' or 'steam'")


def questions_about_run(run: Run, setup: Setup) -> tuple[Question, ...]:
    """Ask about steam temperatures typed where water boils at another one, and about a field that looks mistaken.

    A row is taken for steam when its point or note says so, or when its reference is 100 degC to 0.05. Nothing is
    changed: `require_answers` stops on a question until the cell says 'steam' or the setup keeps it with a reason.

    Parameters
    ----------
    run : Run
        The session.
    setup : Setup
        Its field gives the boiling point; without elevation and QNH a typed 100 degC is still questioned.

    Returns
    -------
    tuple of Question
        One for each typed value, with its rows and the size of the error in degC; and where the session has a steam
        point, those about feet for metres, station pressure for QNH and a far station.
    """
    if run.measurand != "temperature":
        return ()
    return (*_about_field(run, setup), *_about_typed(run, setup))


def _about_field(run: Run, setup: Setup) -> tuple[Question, ...]:
    """Ask about elevations and a QNH that look like a mistake, where the steam point rests on them."""
    steam = any(r.fixed == "steam" or (not r.has_reference and _STEAM_WORDS.match(r.point)) for r in run.readings)
    if not steam or setup.field.elevation_m is None or setup.field.qnh_pa is None:
        return ()
    asked = local_boiling_point(setup).station.questions
    return tuple(replace(one, reason=setup.reason_to_keep(one.code)) for one in asked)


def _about_typed(run: Run, setup: Setup) -> tuple[Question, ...]:
    """Ask about typed steam temperatures."""
    typed: dict[float, list[int]] = {}
    for reading in run.readings:
        value = reading.reference
        if value is None:
            continue
        named = _STEAM_WORDS.search(f"{reading.point} {reading.note}".replace("_", " "))
        if named or abs(value - 100.0) <= _NEAR_100_C:
            typed.setdefault(value, []).append(reading.file_row)
    if not typed:
        return ()
    place = setup.field
    if place.elevation_m is None or place.qnh_pa is None:
        return tuple(
            Question(
                code="steam-100",
                field="steam_c",
                text=f"{_rows(rows)}: 100 °C typed, but the field's elevation and QNH are not stated: "
                "water boils 1 °C lower for each 300 m or so",
                size_c=float("nan"),
                reason=setup.reason_to_keep("steam-100"),
            )
            for value, rows in typed.items()
            if abs(value - 100.0) <= _NEAR_100_C
        )
    steam = local_boiling_point(setup)
    found: list[Question] = []
    for value, rows in typed.items():
        asked = questions_about_steam(
            value, steam.temperature_c, u_boiling_c=steam.u_temperature_c, qnh_pa=place.qnh_pa
        )
        found += [
            replace(one, text=f"{_rows(rows)}: {one.text}", reason=setup.reason_to_keep(one.code)) for one in asked
        ]
    return tuple(found)


def require_answers(questions: tuple[Question, ...], *, file: str = "") -> None:
    """Stop on the first question that has no answer, and say how to answer it.

    Stopping is the safe default: a point 2 degC off, taken as typed, would end in the monitor's table; replaced
    silently, it would hide that somebody believes in 100 degC.

    Raises
    ------
    InputError
        Naming the rows, the size of the error, and both answers.
    """
    for question in questions:
        if not question.reason:
            typed = question.field == "steam_c"
            steam = "write 'steam' in the reference cell, " if typed else "correct [field] in the setup, "
            raise InputError(
                question.text,
                do=f'{steam}or keep it as typed with keep = [{{what = "{question.code}", reason = "…"}}] in the setup',
                file=file,
            )


def _rows(rows: list[int]) -> str:
    """Name rows of the file."""
    return f"row{'s' if len(rows) > 1 else ''} {', '.join(map(str, rows))}"
