"""What every channel should show in each phase of the day's start, before it happens, with its three figures.

From the air of the place and day, the sensors and their records, and what the setup says of the engine. What it does
not say is taken from trade practice and marked so.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np

from sensorcal.bench.station import StationPressure, reported_station_pressure
from sensorcal.calibration.atrest import AtRest, expected_at_rest
from sensorcal.calibration.calibration import Calibration
from sensorcal.calibration.figures import AT_REST, RUNNING, figures_of, kind_of_channel
from sensorcal.calibration.pressurecal import PressureCalibration
from sensorcal.engine import JUDGED, PRESSURES, TEMPERATURES, Engine
from sensorcal.errors import InputError
from sensorcal.firststart.channels import WORDS
from sensorcal.firststart.expectedphases import (
    PHASES,
    Expected,
    pressure_notes,
    pressure_phases,
    still_air_c,
    temperature_phases,
)
from sensorcal.firststart.facts import StartFacts, start_facts
from sensorcal.installed.boilmargin import coolant_boiling_c
from sensorcal.installed.budget import budget, has_budget
from sensorcal.installed.harness import known_channels
from sensorcal.installed.keyedrows import KeyedRows
from sensorcal.measure.interval import coverage_factor
from sensorcal.setup import Setup
from sensorcal.transducer import Transducer

EVENTS = (
    "master", "pump", "crank", "5 s", "10 s", "30 s", "1 min", "2 min", "5 min", "10 min", "stop", "+10 s", "+3 min",
)  # fmt: skip
"""Rows of the list to fill in; `sensorcal.firststart.logread.read_log` reads it as typed."""

@dataclass(frozen=True, slots=True, kw_only=True)
class ChannelExpected:
    """One channel of the sheet.

    Parameters
    ----------
    channel, tag : str
    expected : tuple of Expected
        In the order of `PHASES`.
    measurable : float
        Expanded uncertainty of the shown value, 19 times in 20, degC or Pa.
    at : float
        Where that holds.
    known_by : {'record', 'sheet', 'usual'}
        What stands behind it.
    worth_acting : float
    worth_acting_at_rest : float
        From here something is done about a difference: engine running, and at rest.
    stop_low, stop_high : float or None
        The engine maker's limits as typed.
    stop_at_rest : float or None
        Difference at rest from which the channel is not used.
    at_rest, u_at_rest : float
        Expected with the engine stopped, and the standard uncertainty of what is then shown; NaN where the outside air
        is not known.
    notes : tuple of str
    """

    channel: str
    tag: str
    expected: tuple[Expected, ...]
    measurable: float
    at: float
    known_by: Literal["record", "sheet", "usual"]
    worth_acting: float
    worth_acting_at_rest: float
    stop_low: float | None
    stop_high: float | None
    stop_at_rest: float | None
    at_rest: float
    u_at_rest: float
    notes: tuple[str, ...] = ()

    def phase(self, name: str) -> Expected:
        """Give what is expected in one phase."""
        return next(one for one in self.expected if one.phase == name)


@dataclass(frozen=True, slots=True, kw_only=True)
class StartSheet:
    """The sheet of one start.

    Parameters
    ----------
    station : StationPressure
    oat_c : float or None
    channels : tuple of ChannelExpected
    coolant_boils_c, cap_pa : float or None
        Boiling of plain water under the cap at this place; the cap, or None where it is not stated (0 is taken).
    boiling_margin_c : float or None
        To the coolant's limit, where one is typed.
    still_air_c : (float, float) or None
        By how much a charge-air probe may read above one in liquid or metal at rest, from its own current.
    oil_rise_s : float
    oil_rise_stated : bool
        False where the usual time stands in for the maker's.
    missing : tuple of str
        What the setup does not state and the engine maker's manual does.
    notes : tuple of str
    scenario : str
    """

    station: StationPressure
    oat_c: float | None
    channels: tuple[ChannelExpected, ...]
    coolant_boils_c: float
    cap_pa: float | None
    boiling_margin_c: float | None
    still_air_c: tuple[float, float] | None
    oil_rise_s: float
    oil_rise_stated: bool
    missing: tuple[str, ...]
    notes: tuple[str, ...]
    scenario: str = ""

    def channel(self, name: str) -> ChannelExpected:
        """Give one channel's part."""
        return next(one for one in self.channels if one.channel == name)


def start_sheet(
    setup: Setup,
    *,
    records: Mapping[str, Calibration | PressureCalibration] | None = None,
    keyed: Mapping[str, KeyedRows] | None = None,
) -> StartSheet:
    """Work out what the day's start should look like.

    Parameters
    ----------
    setup : Setup
        Field with elevation and QNH; outside air, sensors, limits and engine as far as they are known.
    records : mapping of tag to Calibration or PressureCalibration, optional
        Their U then stands for what is measurable; the makers' sheets stand in for the others.
    keyed : mapping of tag to KeyedRows, optional
        Tables as keyed into the monitor.

    Returns
    -------
    StartSheet

    Raises
    ------
    InputError
        No elevation or no QNH.

    References
    ----------
    Station pressure: ICAO standard atmosphere, Doc 7488. Compression: any text of thermodynamics. Boiling: IAPWS
    R7-97(2012), equation 31. Tolerances of the engine: common practice, no source, beside each in the code.

    Examples
    --------
    >>> from sensorcal.setupfile import setup_from
    >>> sheet = start_sheet(setup_from(elevation_m=640.0, qnh_pa=100_900.0, probes=()))
    >>> one = sheet.channel("map").phase("master on")
    >>> round((one.low + one.high) / 2)
    93470
    """
    place = setup.field
    if place.elevation_m is None or place.qnh_pa is None:
        name = "elevation" if place.elevation_m is None else "qnh"
        raise InputError(
            f"{name} is not stated, and the manifold pressure at rest rests on it",
            do=f"give --{name}, or {name} under [field] in the setup",
        )
    station = reported_station_pressure(
        elevation_m=place.elevation_m, qnh_pa=place.qnh_pa, station_elevation_m=place.station_elevation_m,
        temperature_c=place.air_temperature_c,
    )  # fmt: skip
    facts = start_facts(setup)
    oat_c = place.air_temperature_c
    still = None if oat_c is None else still_air_c(facts, "charge_in", oat_c)
    u = _Measurable(setup, facts, records or {}, keyed or {})
    pressures = {name: rest for name in PRESSURES for rest in [_at_rest(setup, facts, station, name, records)]}
    channels = tuple(
        _channel(name, temperature_phases(name, facts, oat_c, still), facts, u, _air(oat_c))
        if name in TEMPERATURES
        else _channel(
            name, pressure_phases(name, facts, pressures[name], u.of(name)[0]), facts, u, _rest(pressures[name]),
            pressure_notes(name, facts, pressures[name]),
        )
        for name in JUDGED
    )
    cap = facts.engine.cap_pressure_pa
    boils = float(coolant_boiling_c(0.0, cap or 0.0, ambient_pa=station.pressure_pa))
    limit = facts.high.get("coolant")
    return StartSheet(
        station=station, oat_c=oat_c, channels=channels, coolant_boils_c=boils, cap_pa=cap,
        boiling_margin_c=None if limit is None else boils - limit, still_air_c=still,
        oil_rise_s=facts.engine.oil_rise_s, oil_rise_stated=oil_rise_stated(setup),
        missing=_missing(setup, facts), notes=station.notes, scenario=setup.note,
    )  # fmt: skip


# --- what is measurable -------------------------------------------------------------------------------------------


class _Measurable:
    """Expanded uncertainty of each channel as shown: from its chain where the sensor is known, else the usual one."""

    def __init__(
        self, setup: Setup, facts: StartFacts, records: Mapping[str, Calibration | PressureCalibration],
        keyed: Mapping[str, KeyedRows],
    ) -> None:  # fmt: skip
        self.facts, self.records = facts, records
        self.known = known_channels(setup, records, keyed) if setup.probes or setup.transducers else {}

    def at(self, name: str) -> float:
        """Where the uncertainty is asked for: at the limit that is guarded, or in the middle of use."""
        facts = self.facts
        guarded = (facts.high if name in TEMPERATURES or name == "map" else facts.low).get(name)
        if guarded is not None:
            return guarded
        usual = {"map": facts.station_pa, "oil_pressure": 200e3, "fuel_pressure": facts.engine.fuel_set_pa or 200e3}
        return usual.get(name, 90.0)

    def of(self, name: str) -> tuple[float, float, Literal["record", "sheet", "usual"]]:
        """Expanded uncertainty, where, and by what."""
        where = self.at(name)
        tag = self.facts.tags.get(name, "")
        channel = self.known.get(tag)
        if channel is not None and bool(has_budget(channel.chain, np.array([where]))[0]):
            point = budget(channel.chain, np.array([where])).points[0]
            return point.expanded + abs(point.error), where, "record" if tag in self.records else "sheet"
        return figures_of(kind_of_channel(name), RUNNING).measurable, where, "usual"


def _channel(
    name: str, expected: list[Expected], facts: StartFacts, u: _Measurable, rest: tuple[float, float],
    notes: tuple[str, ...] = (),
) -> ChannelExpected:  # fmt: skip
    kind = kind_of_channel(name)
    running, resting = figures_of(kind, RUNNING), figures_of(kind, AT_REST[kind])
    measurable, at, known_by = u.of(name)
    by_phase = {one.phase: one for one in expected}
    return ChannelExpected(
        channel=name, tag=facts.tags.get(name, ""), expected=tuple(by_phase[phase] for phase in PHASES),
        measurable=measurable, at=at, known_by=known_by, worth_acting=running.worth_acting,
        worth_acting_at_rest=resting.worth_acting, stop_low=facts.low.get(name), stop_high=facts.high.get(name),
        stop_at_rest=resting.stop, at_rest=rest[0], u_at_rest=rest[1], notes=notes,
    )  # fmt: skip


def _air(oat_c: float | None) -> tuple[float, float]:
    figures = figures_of("temperature", AT_REST["temperature"])
    return math.nan if oat_c is None else oat_c, figures.measurable / coverage_factor()


def _rest(rest: AtRest) -> tuple[float, float]:
    return rest.expected_pa, math.hypot(rest.u_expected_pa, rest.u_zero_pa)


def _at_rest(
    setup: Setup, facts: StartFacts, station: StationPressure, name: str,
    records: Mapping[str, Calibration | PressureCalibration] | None,
) -> AtRest:  # fmt: skip
    tag = facts.tags.get(name, "")
    low, high = facts.ranges_pa[name]
    kind = "absolute" if name == "map" else "gauge"
    data = setup.transducers.get(tag) or Transducer(name=tag or name, kind=kind, low_pa=low, high_pa=high)
    record = (records or {}).get(tag)
    known = {data.name: record} if isinstance(record, PressureCalibration) else {}
    (found,) = expected_at_rest(station, {data.name: data}, roles={data.name: WORDS[name]}, calibrations=known)
    return found


def oil_rise_stated(setup: Setup) -> bool:
    """Whether the setup gives the maker's time for the oil pressure, or the usual one stands in."""
    return setup.engine.oil_rise_s != Engine().oil_rise_s or any(
        name.startswith("engine.oil_rise") for name in setup.stated
    )


def _missing(setup: Setup, facts: StartFacts) -> tuple[str, ...]:
    found = []
    if "oil_pressure" not in facts.low:
        found.append("lowest oil pressure")
    highest = {"coolant": "coolant temperature", "gearbox_oil": "gearbox oil temperature", "map": "manifold pressure"}
    found += [f"highest {words}" for name, words in highest.items() if name not in facts.high]
    if "fuel_pressure" not in facts.low:
        found.append("lowest fuel pressure")
    if facts.engine.fuel_set_pa is None:
        found.append("regulated fuel pressure")
    if facts.engine.cap_pressure_pa is None:
        found.append("pressure of the coolant cap")
    if not oil_rise_stated(setup):
        found.append("time by which oil pressure must show")
    return tuple(found)
