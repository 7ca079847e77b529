"""Checks of a finished harness, with the ohms and volts that a sound one gives: continuity, supply, substitution."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from itertools import product
from typing import Literal

import numpy as np

from sensorcal.bench.station import StationPressure, measured_station_pressure, reported_station_pressure
from sensorcal.calibration.atrest import expected_at_rest
from sensorcal.calibration.pressurecal import PressureCalibration
from sensorcal.installed.chain import (
    Chain,
    Values,
    converted,
    displayed,
    fraction_of_input,
    node_of,
    return_v,
    series_of,
    supply_pins,
)
from sensorcal.installed.chainparts import FloatArray, u_of
from sensorcal.installed.channelparts import wire_of
from sensorcal.installed.elements import values_of
from sensorcal.installed.fromsetup import InstalledChannel
from sensorcal.installed.harness import Channels, is_transducer, known_channels, limit_of, tags_of
from sensorcal.measure.interval import coverage_factor
from sensorcal.physics import loop
from sensorcal.physics.eseries import preferred_ohm
from sensorcal.setup import Setup

Kind = Literal["continuity", "insulation", "sensor", "supply", "at rest", "substitution"]

INSULATION_OHM = 1e6
"""Least insulation between a wire and anything else, all plugs open: common practice, no source."""
METER_OHM = 0.2
"""A clean crimp and the last digits of a hand meter with its leads taken off: common practice, no source."""
HANGAR_C = 0.5
METER_RATIO = 0.005
"""Thermometer of a hangar, and a hand meter on ohms: common practice, no source."""
ROOM_C = (10.0, 20.0, 30.0)
_SUBSTITUTE_C = (0.0, 20.0, 50.0, 95.0)
_DIVIDERS_OHM = ((9100.0, 1000.0), (1000.0, 1000.0), (1000.0, 3900.0))
_SUPPLY_RATIO = 0.01
_CURRENT_A = 0.010


@dataclass(frozen=True, slots=True, kw_only=True)
class Expected:
    """One number that a sound harness gives.

    Attributes
    ----------
    what : str
        Beside the box: 'ohms', 'volts', 'shown', or '20 degC' for a row of several.
    value : float or None
        None where only a limit stands.
    low, high : float or None
        Limits, in the same unit.
    unit : {'ohm', 'V', 'degC', 'Pa'}
    """

    what: str
    value: float | None
    low: float | None
    high: float | None
    unit: Literal["ohm", "V", "degC", "Pa"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """One line to work through with a meter.

    Attributes
    ----------
    tag : str
    kind : {'continuity', 'insulation', 'sensor', 'supply', 'at rest', 'substitution'}
    do : str
        Where to measure, or where to plug in.
    label : str
        What to plug in, or what is measured, in two or three words.
    expected : tuple of Expected
    """

    tag: str
    kind: Kind
    do: str
    label: str
    expected: tuple[Expected, ...]

    @property
    def powered(self) -> bool:
        """Whether the master is on for it."""
        return self.kind in {"supply", "at rest", "substitution"}


def checks(
    setup: Setup,
    *,
    tolerance_ratio: float = 0.01,
    channels: Channels | None = None,
    records: Mapping[str, PressureCalibration] | None = None,
) -> tuple[Check, ...]:
    """List the checks of every channel, in the order of work: cold and unplugged first, powered last.

    Parameters
    ----------
    setup : Setup
    tolerance_ratio : float
        Half-width of the substitution resistors: 0.01 for 1 %.
    channels : mapping of str to InstalledChannel, optional
        From `known_channels`, where there are records; by the maker's sheets if left out.
    records : mapping of str to PressureCalibration, optional
        Of pressure sensors, for what they show at rest.

    Returns
    -------
    tuple of Check

    Raises
    ------
    InputError
        No sensor, or a wire that no table knows.

    References
    ----------
    Ohm's law; limits of insulation and crimps common practice, no source.

    Examples
    --------
    >>> from sensorcal.setupfile import setup_from_text
    >>> setup = setup_from_text('''
    ... [probes.P1]
    ... sheet = [["0 degC", "5230 ohm"], ["50 degC", "721 ohm"], ["97.7 degC", "172.1 ohm"]]
    ... ''')
    >>> plugged = [one for one in checks(setup) if one.kind == "substitution"]
    >>> plugged[0].label, plugged[0].do
    ('5100 ohm', 'in place of the probe, between the pins of its plug')
    """
    station = _station(setup)
    known = known_channels(setup) if channels is None else channels
    found: list[Check] = []
    for tag in tags_of(setup):
        found += _copper(setup, tag)
        channel = known.get(tag)
        if is_transducer(setup, tag):
            found += _transducer(setup, tag, channel, station, tolerance_ratio, (records or {}).get(tag))
        else:
            found += _thermistor(setup, tag, channel, tolerance_ratio)
    return tuple(sorted(found, key=lambda one: one.powered))


def _copper(setup: Setup, tag: str) -> list[Check]:
    wired = setup.channel(tag)
    each, u = wire_of(wired)
    jobs = [*(["supply"] if is_transducer(setup, tag) else []), "signal"]
    jobs += ["return"] if wired.returns == "own wire" else []
    found = [
        Check(
            tag=tag,
            kind="continuity",
            do=f"both plugs open: {' and '.join(jobs)} wire, end to end, each; leads shorted first and taken off",
            label="each wire",
            expected=(Expected(what="ohms", value=each, low=None, high=each + 2.0 * u + METER_OHM, unit="ohm"),),
        ),
        Check(
            tag=tag,
            kind="insulation",
            do="both plugs open: each wire to its neighbours, to the shield and to the engine's metal",
            label="insulation",
            expected=(Expected(what="ohms", value=None, low=INSULATION_OHM, high=None, unit="ohm"),),
        ),
    ]
    if wired.returns == "case":
        found.append(
            Check(
                tag=tag,
                kind="continuity",
                do="sensor screwed in: its body to the monitor's ground pin",
                label="body to ground",
                expected=(Expected(what="ohms", value=0.0, low=None, high=METER_OHM, unit="ohm"),),
            )
        )
    return found


def _thermistor(setup: Setup, tag: str, channel: InstalledChannel | None, tolerance_ratio: float) -> list[Check]:
    if channel is None:
        return []
    chain, values = channel.chain, values_of(channel.chain)
    series = float(series_of(values))
    at = np.array([t for t in ROOM_C if channel.low <= t <= channel.high])
    ohm = np.asarray(chain.sensor.raw(at)) + series
    within = np.full(at.shape, setup.probe(tag).sheet_tolerance_ratio)
    if channel.tested is not None:
        # By a record: the curve's own U in ohm, and what a hand meter and a hangar's thermometer add.
        slope = np.abs(np.asarray(chain.sensor.raw_slope(at))) / ohm
        within = slope * np.hypot(coverage_factor() * u_of(chain.sensor.u_error, at), HANGAR_C) + METER_RATIO
    probe = Check(
        tag=tag,
        kind="sensor",
        do="sensor plugged in, monitor plug open: ohms between its pins, at the temperature of the hangar",
        label="the sensor",
        expected=tuple(
            Expected(what=f"{t:g}", value=float(r), low=float(r * (1.0 - w)), high=float(r * (1.0 + w)), unit="ohm")
            for t, r, w in zip(at, ohm, within, strict=True)
        ),
    )  # fmt: skip
    own = setup.channel(tag).returns == "own wire"
    where = "between the pins of its plug" if own else "from the pin of its plug to the engine's metal"
    return [probe, *(_resistor(chain, tag, one, where, tolerance_ratio) for one in _resistors(setup, channel))]


def _resistors(setup: Setup, channel: InstalledChannel) -> list[float]:
    """Resistors of E24 that stand for a cold start, a mild day, a warm engine and the red line."""
    at = [*_SUBSTITUTE_C, limit_of(setup, channel)]
    at = [t for t in at if channel.low <= t <= channel.high]
    drawer = preferred_ohm("E24", 1.0, 1e6)
    wanted = np.asarray(channel.chain.sensor.raw(np.array(at)))
    near = [float(drawer[int(np.argmin(np.abs(np.log(drawer / ohm))))]) for ohm in wanted]
    return sorted(dict.fromkeys(near), reverse=True)


def _resistor(chain: Chain, tag: str, ohm: float, where: str, tolerance_ratio: float) -> Check:
    """What stands at the input and on the panel with a resistor in place of the probe; limits by all corners."""
    values = values_of(chain)
    up = chain.divider.arrangement == "pull-up"
    pull, u_pull = chain.divider.pull_ohm, math.sqrt(3.0) * chain.divider.u_pull_ohm

    def at(ratio: float, pull_share: float) -> tuple[float, float]:
        moved = {**values, "pull_ohm": pull + pull_share * u_pull}
        end_v = return_v(chain, moved) if up else moved["supply_v"]
        volts = float(loop.input_voltage_v(end_v, ohm * ratio + series_of(moved), **node_of(chain, moved)))
        return volts, _shown(chain, moved, volts)

    middle = at(1.0, 0.0)
    corners = [at(1.0 + a * tolerance_ratio, b) for a, b in product((-1.0, 1.0), repeat=2)]
    supply = _SUPPLY_RATIO
    volts = [one[0] for one in corners]
    return Check(
        tag=tag,
        kind="substitution",
        do=f"in place of the probe, {where}",
        label=f"{ohm:g} ohm",
        expected=(
            Expected(what="volts", value=middle[0], low=min(volts) * (1 - supply), high=max(volts) * (1 + supply),
                     unit="V"),
            _panel(chain, middle[1], [one[1] for one in corners], "degC"),
        ),
    )  # fmt: skip


def _transducer(
    setup: Setup,
    tag: str,
    channel: InstalledChannel | None,
    station: StationPressure | None,
    tolerance_ratio: float,
    record: PressureCalibration | None,
) -> list[Check]:
    if channel is None:
        return []
    chain, values = channel.chain, values_of(channel.chain)
    stated = setup.channel(tag).supply_current_a
    feed, ground = (float(pin) for pin in supply_pins(chain, {**values, "current_a": stated or 0.0}))
    far = float(values["feed_ohm"] + values["return_ohm"]) * (stated or _CURRENT_A)
    supply_v = values["supply_v"]
    found = [
        Check(
            tag=tag,
            kind="supply",
            do="all plugged in: supply to ground pin at the sensor's plug",
            label="supply",
            expected=(
                Expected(what="volts", value=feed - ground, low=supply_v * (1 - _SUPPLY_RATIO) - far,
                         high=supply_v * (1 + _SUPPLY_RATIO), unit="V"),
            ),
        )
    ]  # fmt: skip
    data = setup.transducers.get(tag)
    if data is not None and (data.kind == "gauge" or station is not None):
        here = station or measured_station_pressure(pressure_pa=101_325.0, u_pressure_pa=1.0)
        (rest,) = expected_at_rest(here, {tag: data}, calibrations={} if record is None else {tag: record})
        per_pa = (data.output_high_ratio - data.output_low_ratio) / data.span_pa
        within_v = rest.tolerance_pa * per_pa * supply_v
        found.append(
            Check(
                tag=tag,
                kind="at rest",
                do="engine stopped, its line at the air's pressure: signal to ground pin",
                label="line open",
                expected=(
                    Expected(what="volts", value=rest.ratio * supply_v, low=rest.ratio * supply_v - within_v,
                             high=rest.ratio * supply_v + within_v, unit="V"),
                    Expected(what="shown", value=rest.expected_pa, low=rest.expected_pa - rest.tolerance_pa,
                             high=rest.expected_pa + rest.tolerance_pa, unit="Pa"),
                ),
            )
        )  # fmt: skip
    low, high = chain.sensor.low, chain.sensor.high
    for top, bottom in _DIVIDERS_OHM:
        one = _divider(chain, tag, top, bottom, tolerance_ratio)
        shown_pa = one.expected[1].value
        if shown_pa is not None and math.isfinite(shown_pa) and low <= shown_pa <= high:
            found.append(one)
    return found


def _divider(chain: Chain, tag: str, top: float, bottom: float, tolerance_ratio: float) -> Check:
    values = {**values_of(chain), "current_a": chain.divider.supply_v / (top + bottom)}

    def at(a: float, b: float) -> tuple[float, float]:
        upper, lower = top * (1.0 + a * tolerance_ratio), bottom * (1.0 + b * tolerance_ratio)
        source = loop.transducer_output_v(lower / (upper + lower), *supply_pins(chain, values))
        parallel = upper * lower / (upper + lower)
        volts = float(loop.input_voltage_v(source, parallel + series_of(values), **node_of(chain, values)))
        return volts, _shown(chain, values, volts)

    middle = at(0.0, 0.0)
    corners = [at(a, b) for a, b in product((-1.0, 1.0), repeat=2)]
    volts = [one[0] for one in corners]
    ground = "the return pin" if chain.ground.returns == "own wire" else "the engine's metal"
    return Check(
        tag=tag,
        kind="substitution",
        do=f"sensor unplugged: first resistor from supply to signal pin, second from signal pin to {ground}",
        label=f"{top:g} and {bottom:g} ohm",
        expected=(
            Expected(what="volts", value=middle[0], low=min(volts) * (1 - _SUPPLY_RATIO),
                     high=max(volts) * (1 + _SUPPLY_RATIO), unit="V"),
            _panel(chain, middle[1], [one[1] for one in corners], "Pa"),
        ),
    )  # fmt: skip


def _shown(chain: Chain, values: Values, volts: float) -> float:
    fraction = np.asarray(fraction_of_input(chain, values, np.asarray(volts)), dtype=float)
    shown: FloatArray = displayed(chain, chain.conversion.value(converted(chain, fraction)))
    return float(shown)


def _panel(chain: Chain, middle: float, corners: list[float], unit: Literal["degC", "Pa"]) -> Expected:
    """The shown value with its corners, one display step wider, because a reading may sit between two."""
    if not np.isfinite([middle, *corners]).all():
        return Expected(what="shown", value=None, low=None, high=None, unit=unit)
    step = chain.display_step
    return Expected(what="shown", value=middle, low=min(corners) - step, high=max(corners) + step, unit=unit)


def _station(setup: Setup) -> StationPressure | None:
    """Air pressure of the setup's field; None where it does not say."""
    field = setup.field
    if field.elevation_m is None or field.qnh_pa is None:
        return None
    return reported_station_pressure(
        elevation_m=field.elevation_m,
        qnh_pa=field.qnh_pa,
        station_elevation_m=field.station_elevation_m,
        temperature_c=field.air_temperature_c,
    )
