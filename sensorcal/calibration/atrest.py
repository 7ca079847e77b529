"""What pressure sensors should show with the engine stopped, from the air of the place and the day."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from sensorcal.bench.station import StationPressure
from sensorcal.calibration.figures import AT_REST, FIGURES, Figures
from sensorcal.calibration.pressurecal import PressureCalibration, u_pressure_pa
from sensorcal.calibration.sensorkind import SEALED_PA, U_SEALED_PA, U_ZERO_SHARE
from sensorcal.measure.interval import coverage_factor
from sensorcal.transducer import Transducer

TYPICAL: tuple[Transducer, ...] = (
    Transducer(name="manifold pressure", kind="absolute", high_pa=250_000.0),
    Transducer(name="vented oil or fuel sensor", kind="gauge"),
    Transducer(name="sealed oil or fuel sensor", kind="sealed"),
)
"""One of each kind, where no setup names the sensors."""


@dataclass(frozen=True, slots=True, kw_only=True)
class AtRest:
    """What one sensor should show, engine stopped and its line at the air's pressure.

    Parameters
    ----------
    name, role, kind : str
    expected_pa : float
        By its kind and the air alone, Pa.
    u_expected_pa : float
        Standard uncertainty of that: the air's pressure and what was sealed in; zero for a vented gauge.
    u_zero_pa : float
        Standard uncertainty of the sensor itself beside it, Pa: of its record at bench temperature, or of an
        uncalibrated sensor's zero.
    ratio : float
        Output over supply there, by its record or its data sheet.
    worth_acting_pa, stop_pa : float or None
        From here something is done about a difference; from here the channel is not used until the cause is found.
        None where no figure is agreed.
    calibrated : bool
        True where a record stands behind `u_zero_pa` and `ratio`.
    """

    name: str
    role: str
    kind: str
    expected_pa: float
    u_expected_pa: float
    u_zero_pa: float
    ratio: float
    worth_acting_pa: float | None
    stop_pa: float | None = None
    calibrated: bool = False

    @property
    def expanded_pa(self) -> float:
        """Half-width for the expected pressure, 19 times in 20, Pa."""
        return coverage_factor() * self.u_expected_pa

    @property
    def tolerance_pa(self) -> float:
        """Within this of the expected pressure a sound sensor shows, 19 times in 20, Pa: air and sensor together."""
        return coverage_factor() * math.hypot(self.u_expected_pa, self.u_zero_pa)


def expected_at_rest(
    station: StationPressure,
    transducers: Mapping[str, Transducer] | None = None,
    *,
    roles: Mapping[str, str] | None = None,
    calibrations: Mapping[str, PressureCalibration] | None = None,
) -> tuple[AtRest, ...]:
    """Expected reading of each pressure sensor with the engine stopped and its line at the air's pressure.

    Parameters
    ----------
    station : StationPressure
        Pressure of the place and day.
    transducers : mapping of str to Transducer, optional
        By tag; one of each kind if left out or empty.
    roles : mapping of str to str, optional
        Place on the engine by tag, such as 'oil pressure'.
    calibrations : mapping of str to PressureCalibration, optional
        By tag: the output and the uncertainty of the sensor are then those of its record, at bench temperature.

    Returns
    -------
    tuple of AtRest

    References
    ----------
    Definitions of gauge, sealed gauge and absolute pressure; what is sealed in and when to act: common practice, no
    source.

    Examples
    --------
    >>> from sensorcal.bench.station import measured_station_pressure
    >>> here = measured_station_pressure(pressure_pa=93_470.0, u_pressure_pa=80.0)
    >>> [(one.kind, round(one.expected_pa / 1000, 1)) for one in expected_at_rest(here)]
    [('absolute', 93.5), ('gauge', 0.0), ('sealed', -7.9)]
    """
    known = tuple(transducers.values()) if transducers else TYPICAL
    records = calibrations or {}
    return tuple(
        _one(station, sensor, (roles or {}).get(sensor.name, ""), records.get(sensor.name)) for sensor in known
    )


def _one(station: StationPressure, sensor: Transducer, role: str, record: PressureCalibration | None) -> AtRest:
    expected = {"gauge": 0.0, "sealed": station.pressure_pa - SEALED_PA, "absolute": station.pressure_pa}[sensor.kind]
    u = {
        "gauge": 0.0,
        "sealed": math.hypot(station.u_pressure_pa, U_SEALED_PA),
        "absolute": station.u_pressure_pa,
    }[sensor.kind]
    per_pa = (sensor.output_high_ratio - sensor.output_low_ratio) / sensor.span_pa
    figures = _figures(sensor, role)
    ratio = sensor.output_low_ratio + (expected - sensor.low_pa) * per_pa
    u_zero = U_ZERO_SHARE * sensor.span_pa
    if record is not None:
        ratio, u_zero = float(record.ratio(expected)), float(u_pressure_pa(record, expected, hot_body=False))
    return AtRest(
        name=sensor.name,
        role=role,
        kind=sensor.kind,
        expected_pa=expected,
        u_expected_pa=u,
        u_zero_pa=u_zero,
        ratio=ratio,
        worth_acting_pa=figures.worth_acting if figures else None,
        stop_pa=figures.stop if figures else None,
        calibrated=record is not None,
    )


def _figures(sensor: Transducer, role: str) -> Figures | None:
    """Figures of the channel that the role names; an absolute sensor is taken for the manifold's."""
    channel = "map" if sensor.kind == "absolute" else role
    check = AT_REST.get(channel)
    return next((one for one in FIGURES if (one.channel, one.check) == (channel, check)), None)
