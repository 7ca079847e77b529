"""How a weather report comes to be: rounding, barometer, age and distance, each with its standard uncertainty."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from sensorcal.errors import InputError

_ROOT_3 = math.sqrt(3.0)

Rounding = Literal["down", "nearest", "none"]


@dataclass(frozen=True, slots=True, kw_only=True)
class WeatherReport:
    """How a weather station rounds, how good its barometer is, and how far away in time and space it stands.

    Parameters
    ----------
    step_pa : float
        Step of the reported QNH, Pa: 100 for whole hPa, 33.86 for 0.01 inHg.
    rounding : {'down', 'nearest', 'none'}
        How the station rounds. Whole hPa are rounded down by ICAO practice (from memory).
    half_step : bool
        True to add half a step to a report rounded down. False keeps the reported value and lets the
        uncertainty cover the whole step.
    u_sensor_pa : float
        Standard uncertainty of the station's barometer, Pa; ±0.02 inHg (FMH-1 appendix C, from memory).
    u_age_pa : float
        Of the change since the report, Pa; ±0.5 hPa in an hour, common practice, no source.
    distance_m : float
        Distance to the station, m.
    u_gradient_pa_per_m : float
        Of the horizontal pressure gradient, Pa/m; ±1.5 hPa in 40 km, common practice, no source.
    u_building_pa : float
        Of the pressure difference made by wind and fans about the workshop, Pa; ±0.3 hPa, common practice, no source.

    Examples
    --------
    >>> WeatherReport(step_pa=33.86).rounding
    'down'
    """

    step_pa: float = 100.0
    rounding: Rounding = "down"
    half_step: bool = False
    u_sensor_pa: float = 67.7 / _ROOT_3
    u_age_pa: float = 50.0 / _ROOT_3
    distance_m: float = 0.0
    u_gradient_pa_per_m: float = 0.00375 / _ROOT_3
    u_building_pa: float = 30.0 / _ROOT_3

    def __post_init__(self) -> None:
        if self.rounding not in {"down", "nearest", "none"}:
            raise InputError(f"rounding '{self.rounding}' is not known", do="use down, nearest or none")
        if self.half_step and self.rounding != "down":
            raise InputError(
                f"half a step cannot be added to a report with rounding '{self.rounding}'",
                do="add it only where the report is rounded down",
            )
        for name in ("step_pa", "u_sensor_pa", "u_age_pa", "distance_m", "u_gradient_pa_per_m", "u_building_pa"):
            value = getattr(self, name)
            if not (math.isfinite(value) and value >= 0.0):
                raise InputError(f"{name} {value:g} is negative or not a number", do="give zero or more")

    @property
    def correction_pa(self) -> float:
        """Half a step where it is added, else zero, Pa of QNH."""
        return 0.5 * self.step_pa if self.half_step else 0.0

    @property
    def u_rounding_pa(self) -> float:
        """Standard uncertainty from rounding, Pa of QNH: root mean square of what the report may hide."""
        if self.rounding == "none":
            return 0.0
        whole_step = self.rounding == "down" and not self.half_step
        return self.step_pa / _ROOT_3 if whole_step else 0.5 * self.step_pa / _ROOT_3

    @property
    def assumptions(self) -> tuple[str, ...]:
        """What was left as it comes, named with its value."""
        plain = WeatherReport()
        step = "whole hPa" if self.step_pa == plain.step_pa else f"steps of {self.step_pa / 100:.4g} hPa"
        rounded = f"QNH: reported in {step}, rounded down" + (", half a step added" if self.half_step else "")
        left = (
            (self.rounding == plain.rounding, rounded),
            (self.u_sensor_pa == plain.u_sensor_pa, "station's barometer: ± 0.7 hPa"),
            (self.u_age_pa == plain.u_age_pa, "report: not older than an hour in quiet weather, ± 0.5 hPa"),
            (self.distance_m == plain.distance_m, "station: on the same field"),
            (self.u_building_pa == plain.u_building_pa, "doors and fans: pressure indoors as outdoors, ± 0.3 hPa"),
        )
        return tuple(told for as_it_comes, told in left if as_it_comes)
