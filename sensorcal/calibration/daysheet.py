"""The day sheet of a field: pressure, boiling point, altitudes, and what every pressure sensor shows at rest."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from sensorcal.bench.plausible import Question, questions_about_steam, usual_mistakes
from sensorcal.bench.station import BoilingPoint, StationPressure, boiling_point
from sensorcal.calibration.atrest import AtRest, expected_at_rest
from sensorcal.calibration.mapderived import altitudes
from sensorcal.calibration.pressurecal import PressureCalibration
from sensorcal.errors import InputError
from sensorcal.physics.air import density_altitude_m, vapour_pressure_pa
from sensorcal.physics.altimeter import variant_spread_pa
from sensorcal.transducer import Transducer

U_AIR_C = 1.0 / 3.0**0.5
"""Standard uncertainty of a temperature or dew point of the air as typed: ± 1 °C, common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DaySheet:
    """What the air of a place and day says before anything is switched on.

    Parameters
    ----------
    station : StationPressure
    steam : BoilingPoint
    at_rest : tuple of AtRest
        Expected reading of each pressure sensor, engine stopped.
    pressure_altitude_m : float
    density_altitude_m : float or None
        None without an outside air temperature.
    u_pressure_altitude_m : float
    u_density_altitude_m : float or None
        Standard uncertainties: the pressure of the place, and air temperature and dew point typed within ± 1 °C.
    saturated_more_m : float or None
        Without a dew point the air is taken as dry: by so much the density altitude is higher in saturated air.
    temperature_c, dew_point_c : float or None
        Outside air as it was typed; None where it was not.
    questions : tuple of Question
        What looks like a mistake of typing.
    mistakes : tuple of Question
        What the usual mistakes would do to the boiling point here.
    variants_pa : tuple of (str, float)
        Station pressure by other national formulas minus the one used, Pa.
    """

    station: StationPressure
    steam: BoilingPoint
    at_rest: tuple[AtRest, ...]
    pressure_altitude_m: float
    density_altitude_m: float | None
    u_pressure_altitude_m: float
    u_density_altitude_m: float | None
    saturated_more_m: float | None = None
    temperature_c: float | None = None
    dew_point_c: float | None = None
    questions: tuple[Question, ...] = ()
    mistakes: tuple[Question, ...] = ()
    variants_pa: tuple[tuple[str, float], ...] = ()


def day_sheet(
    station: StationPressure,
    *,
    temperature_c: float | None = None,
    dew_point_c: float | None = None,
    steam_c: float | None = None,
    transducers: Mapping[str, Transducer] | None = None,
    roles: Mapping[str, str] | None = None,
    calibrations: Mapping[str, PressureCalibration] | None = None,
    keep_reason: str = "",
) -> DaySheet:
    """Put together the day sheet of a field.

    Parameters
    ----------
    station : StationPressure
    temperature_c, dew_point_c : float, optional
        Outside air, °C; the dew point needs the temperature.
    steam_c : float, optional
        Steam temperature that somebody meant to use, °C, to be questioned.
    transducers, roles, calibrations : mapping, optional
        As for `sensorcal.calibration.atrest.expected_at_rest`.
    keep_reason : str, optional
        Why a questioned steam temperature stays.

    Returns
    -------
    DaySheet

    Raises
    ------
    InputError
        A dew point without a temperature, or above it.

    References
    ----------
    As named by the functions it calls; the sheet adds no formula of its own.

    Examples
    --------
    >>> from sensorcal.bench.station import reported_station_pressure
    >>> here = reported_station_pressure(elevation_m=640.0, qnh_pa=100_900.0, station_elevation_m=610.0)
    >>> sheet = day_sheet(here)
    >>> round(sheet.steam.temperature_c, 2), [round(one.expected_pa / 1000, 1) for one in sheet.at_rest]
    (97.73, [93.5, 0.0, -7.9])
    """
    steam = boiling_point(station)
    if dew_point_c is not None and (temperature_c is None or dew_point_c > temperature_c):
        raise InputError("dew_point_c needs a temperature_c that is not below it", do="give both as reported")
    asked = list(station.questions)
    if steam_c is not None:
        asked += questions_about_steam(
            steam_c,
            steam.temperature_c,
            u_boiling_c=steam.u_temperature_c,
            qnh_pa=station.qnh_pa,
            keep_reason=keep_reason,
        )
    vapour_pa = u_vapour_pa = 0.0
    if dew_point_c is not None:
        vapour_pa = float(vapour_pressure_pa(dew_point_c))
        u_vapour_pa = U_AIR_C * float(vapour_pressure_pa(dew_point_c + 0.5) - vapour_pressure_pa(dew_point_c - 0.5))
    high = altitudes(
        station,
        temperature_c=temperature_c,
        u_temperature_c=U_AIR_C,
        vapour_pressure_pa=vapour_pa,
        u_vapour_pressure_pa=u_vapour_pa,
    )
    dense = high[1] if len(high) > 1 else None
    saturated_m = None
    if dense is not None and temperature_c is not None and dew_point_c is None:
        saturated_pa = float(vapour_pressure_pa(temperature_c))
        saturated_m = float(density_altitude_m(station.pressure_pa, temperature_c, saturated_pa)) - dense.value
    mistakes: tuple[Question, ...] = ()
    variants: tuple[tuple[str, float], ...] = ()
    if station.qnh_pa is not None and station.elevation_m is not None and station.station_elevation_m is not None:
        mistakes = usual_mistakes(
            elevation_m=station.elevation_m,
            qnh_pa=station.qnh_pa,
            station_elevation_m=station.station_elevation_m,
            temperature_c=temperature_c,
        )
        spread = variant_spread_pa(station.qnh_pa, station.station_elevation_m)
        variants = tuple((name, float(difference_pa)) for name, difference_pa in spread.items())
    return DaySheet(
        station=station,
        steam=steam,
        at_rest=expected_at_rest(station, transducers, roles=roles, calibrations=calibrations),
        pressure_altitude_m=high[0].value,
        density_altitude_m=None if dense is None else dense.value,
        u_pressure_altitude_m=high[0].u,
        u_density_altitude_m=None if dense is None else dense.u,
        saturated_more_m=saturated_m,
        temperature_c=temperature_c,
        dew_point_c=dew_point_c,
        questions=tuple(asked),
        mistakes=mistakes,
        variants_pa=variants,
    )
