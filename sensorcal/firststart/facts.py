"""What is known before the log is opened: the air of the day, the sensors' ranges, the circuit, the limits."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sensorcal.bench.station import reported_station_pressure
from sensorcal.engine import PRESSURES, TEMPERATURES, Engine
from sensorcal.errors import InputError
from sensorcal.physics.altimeter import station_pressure_pa
from sensorcal.physics.atmosphere import standard_pressure_pa
from sensorcal.roles import channel_of_role
from sensorcal.setup import Probe, Setup

FloatArray = NDArray[np.float64]

_ZERO_K = 273.15
_RANGES_PA = {"oil_pressure": (0.0, 1_000e3), "fuel_pressure": (0.0, 600e3), "map": (0.0, 250e3)}


def sensors_by_channel(setup: Setup) -> dict[str, str]:
    """Tag of the sensor of each channel, as far as the roles in the setup say."""
    found: dict[str, str] = {}
    for tag, probe in setup.probes.items():
        channel = channel_of_role(probe.role, probe.measurand)
        if channel is not None:
            found.setdefault(channel, tag)
    return found


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SensorCurve:
    """Resistance of a thermistor by its maker's sheet, straight between the rows in ln R against 1/T, and its circuit.

    Parameters
    ----------
    inverse_k, ln_ohm : (n,) float
        1/T rising, and ln R there.
    pull_up_ohm : float
    known : bool
        False where nothing about the probe was stated and a usual one stands in.
    """

    inverse_k: FloatArray
    ln_ohm: FloatArray
    pull_up_ohm: float
    known: bool

    def resistance_ohm(self, temperature_c: ArrayLike) -> FloatArray:
        """Resistance at a temperature, ohm; any shape, beyond the sheet along its last straight."""
        inverse = 1.0 / (np.asarray(temperature_c, dtype=float) + _ZERO_K)
        return np.exp(_line(inverse, self.inverse_k, self.ln_ohm))

    def temperature_c(self, resistance_ohm: ArrayLike) -> FloatArray:
        """Temperature of a resistance, degC; any shape; NaN for a resistance that is none."""
        ohm = np.asarray(resistance_ohm, dtype=float)
        with np.errstate(invalid="ignore", divide="ignore"):
            inverse = _line(np.log(np.where(ohm > 0, ohm, np.nan)), self.ln_ohm, self.inverse_k)
            return np.where(inverse > 0, 1.0 / inverse - _ZERO_K, np.nan)

    def fraction(self, temperature_c: ArrayLike) -> FloatArray:
        """Share of the supply at the input, probe to ground under the pull-up."""
        ohm = self.resistance_ohm(temperature_c)
        return ohm / (ohm + self.pull_up_ohm)

    def temperature_of_fraction_c(self, fraction: ArrayLike) -> FloatArray:
        """Temperature that the monitor makes of a share of the supply, degC."""
        share = np.clip(np.asarray(fraction, dtype=float), 1e-6, 1.0 - 1e-6)
        return self.temperature_c(self.pull_up_ohm * share / (1.0 - share))


@dataclass(frozen=True, slots=True, kw_only=True)
class StartFacts:
    """Everything the judge knows besides the log.

    Parameters
    ----------
    station_pa, u_station_pa : float
        Air pressure of the place and its standard uncertainty, Pa; wide where nothing was stated.
    oat_c : float or None
        Outside air by the setup, degC.
    ranges_pa : mapping of channel to (low, high)
        Range of each pressure sensor's output, Pa.
    ranges_known : frozenset of str
    low, high : mapping of channel to float
        Typed limits, degC or Pa.
    curves : mapping of channel to SensorCurve
    tags : mapping of channel to str
        The sensor's tag in the setup.
    engine : Engine
    notes : tuple of str
        What was assumed, in words.
    """

    station_pa: float
    u_station_pa: float
    station_known: bool
    oat_c: float | None
    ranges_pa: Mapping[str, tuple[float, float]]
    ranges_known: frozenset[str]
    low: Mapping[str, float]
    high: Mapping[str, float]
    curves: Mapping[str, SensorCurve]
    tags: Mapping[str, str]
    engine: Engine
    notes: tuple[str, ...] = field(default=())

    def span_pa(self, channel: str) -> float:
        """Span of a pressure sensor's range, Pa."""
        low, high = self.ranges_pa[channel]
        return high - low


def start_facts(setup: Setup) -> StartFacts:
    """Gather what the setup states, and assume the rest aloud.

    Examples
    --------
    >>> from sensorcal.setupfile import setup_from
    >>> facts = start_facts(setup_from(elevation_m=640.0, qnh_pa=100_900.0, probes=()))
    >>> round(facts.station_pa), facts.station_known
    (93470, True)
    """
    notes: list[str] = []
    station, u_station, known = _station(setup, notes)
    tags = sensors_by_channel(setup)
    ranges, stated = dict(_RANGES_PA), set()
    for channel in PRESSURES:
        tag = tags.get(channel)
        if tag is not None and tag in setup.transducers:
            sensor = setup.transducers[tag]
            ranges[channel] = (sensor.low_pa, sensor.high_pa)
            stated.add(channel)
        else:
            high = ranges[channel][1]
            notes.append(f"range of the {channel.replace('_', ' ')} sensor not stated: {high / 1000:g} kPa assumed")
    low_limits = {name: limit.low for name, limit in setup.limits.items() if limit.low is not None}
    high_limits = {name: limit.high for name, limit in setup.limits.items() if limit.high is not None}
    for channel, tag in tags.items():
        redline = setup.probes[tag].redline
        if redline is not None:
            high_limits.setdefault(channel, redline)
    return StartFacts(
        station_pa=station, u_station_pa=u_station, station_known=known,
        oat_c=setup.field.air_temperature_c,
        ranges_pa=ranges, ranges_known=frozenset(stated),
        low=low_limits, high=high_limits,
        curves={channel: _curve(setup, tags.get(channel)) for channel in TEMPERATURES},
        tags=tags, engine=setup.engine, notes=tuple(notes),
    )  # fmt: skip


def _station(setup: Setup, notes: list[str]) -> tuple[float, float, bool]:
    place = setup.field
    if place.elevation_m is None:
        notes.append("elevation and QNH not stated: manifold pressure at rest can only be compared with itself")
        return 97_000.0, 6_000.0, False
    if place.qnh_pa is None:
        notes.append("QNH not stated: the station pressure is the standard one within 2.4 kPa")
        return float(standard_pressure_pa(place.elevation_m)), 1_200.0, False
    try:
        report = reported_station_pressure(
            elevation_m=place.elevation_m,
            qnh_pa=place.qnh_pa,
            station_elevation_m=place.station_elevation_m,
            temperature_c=place.air_temperature_c,
        )
    except InputError as error:
        notes.append(f"station pressure by the report alone: {error}")
        return float(station_pressure_pa(place.qnh_pa, place.elevation_m)), 300.0, True
    return report.pressure_pa, report.u_pressure_pa, True


def _curve(setup: Setup, tag: str | None) -> SensorCurve:
    """Curve by the sheet, or a usual thermistor where none is stated."""
    probe = setup.probes.get(tag, Probe()) if tag is not None else Probe()
    pull_up = setup.channel(tag).pull_up_ohm if tag is not None else None
    pull = pull_up or setup.monitor.pull_up_ohm or 2200.0
    if len(probe.sheet) >= 2:
        rows = sorted(probe.sheet, reverse=True)
        inverse = np.array([1.0 / (temperature + _ZERO_K) for temperature, _ in rows])
        return SensorCurve(inverse_k=inverse, ln_ohm=np.log([ohm for _, ohm in rows]), pull_up_ohm=pull, known=True)
    # A usual engine thermistor: 2500 ohm at 25 degC, B 3500 K; common practice, no source.
    inverse = np.array([1.0 / 473.15, 1.0 / 233.15])
    ln_ohm = math.log(2500.0) + 3500.0 * (inverse - 1.0 / 298.15)
    return SensorCurve(inverse_k=inverse, ln_ohm=ln_ohm, pull_up_ohm=pull, known=False)


def _line(x: FloatArray, xs: FloatArray, ys: FloatArray) -> FloatArray:
    """Straight between the rows and along the last straight beyond them; xs rising."""
    if xs.size == 2:
        return np.asarray(ys[0] + (ys[1] - ys[0]) / (xs[1] - xs[0]) * (x - xs[0]))
    left, right = (ys[1] - ys[0]) / (xs[1] - xs[0]), (ys[-1] - ys[-2]) / (xs[-1] - xs[-2])
    inside = np.interp(x, xs, ys)
    return (
        np.asarray(inside)
        + np.where(x < xs[0], left * (x - xs[0]), 0.0)
        + np.where(x > xs[-1], right * (x - xs[-1]), 0.0)
    )
