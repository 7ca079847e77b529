"""The harness from the setup: every wire with its label, what to buy, and what the copper costs in degC or kPa."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

from sensorcal.calibration.calibration import Calibration
from sensorcal.calibration.pressurecal import PressureCalibration
from sensorcal.errors import InputError
from sensorcal.installed.chain import Chain, sensitivities, shown
from sensorcal.installed.chainparts import Converter, Display, Ground, RatioSensor
from sensorcal.installed.channelparts import GAUGE, wire_of
from sensorcal.installed.fromsetup import InstalledChannel, installed_channel
from sensorcal.installed.keyedrows import KeyedRows
from sensorcal.physics.wire import copper_factor
from sensorcal.roles import channel_of_role
from sensorcal.setup import Setup
from sensorcal.wiring import ChannelWiring

Channels = Mapping[str, InstalledChannel]
"""The channels whose sensor is known, by tag."""
SPARE_RATIO = 0.10
"""Bought beyond the measured length, for service loops and crimps spoiled: common practice, no source."""
_BUY_STEP_M = 0.5
CURRENT_A = 0.010
"""Supply current of a transducer where none is stated: up to 10 mA, estimate."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WireRun:
    """One wire from a sensor to the monitor.

    Attributes
    ----------
    label : str
        To be written on both ends: 'P1-S'.
    tag : str
    job : {'supply', 'signal', 'return'}
    start, end : str
        Where it begins and ends; empty where the setup does not say.
    firewall : str
        Position in the firewall connector; empty where it is to be chosen and written in.
    wire : str
        Gauge or area and kind.
    length_m : float
    ohm_20c : float
        Resistance of the whole wire at 20 degC.
    shield : str
    """

    label: str
    tag: str
    job: str
    start: str
    end: str
    firewall: str
    wire: str
    length_m: float
    ohm_20c: float
    shield: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Purchase:
    """What to buy of one kind of wire.

    Attributes
    ----------
    wire : str
        Kind; a shielded channel is one cable with its cores in it.
    runs : int
        Wires or cables.
    length_m : float
        As measured.
    buy_m : float
        With 10 % spare, in half metres.
    """

    wire: str
    runs: int
    length_m: float
    buy_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class CopperCost:
    """What wire and contacts of one channel do to the reading.

    Attributes
    ----------
    tag, measurand : str
    loop_ohm : float
        Wire, at its temperature in use, and contacts, in the signal's loop of a thermistor; supply and return of a
        transducer.
    current_a : float
        Supply current of a transducer; zero for a thermistor, whose pull resistor sits in the monitor.
    current_assumed : bool
    drop_v, at_sensor_v : float or None
        Voltage drop of the supply, supply and return together, and what is left at the plug; None for a thermistor.
    error, at : float or None
        Shown minus true, degC or Pa, where it is largest or at the limit, and that temperature or pressure; None where
        no curve is known.
    """

    tag: str
    measurand: str
    loop_ohm: float
    current_a: float
    current_assumed: bool
    drop_v: float | None
    at_sensor_v: float | None
    error: float | None
    at: float | None


def tags_of(setup: Setup) -> tuple[str, ...]:
    """Tags of all sensors of a setup, in its order.

    Raises
    ------
    InputError
        If the setup names no sensor.
    """
    found = dict.fromkeys([*setup.probes, *setup.transducers, *setup.channels])
    if not found:
        raise InputError("the setup names no sensor", do="list them under [channels.TAG], with [probes.TAG]")
    return tuple(found)


def is_transducer(setup: Setup, tag: str) -> bool:
    """Whether a tag is a pressure transducer: three wires instead of two."""
    return tag in setup.transducers or setup.probe(tag).measurand == "pressure"


def wire_words(wired: ChannelWiring) -> str:
    """Gauge or area and kind of a channel's wire, as a shop understands it.

    Examples
    --------
    >>> wire_words(ChannelWiring(name="P1", gauge=20)), wire_words(ChannelWiring(name="P1", area_mm2=0.75))
    ('20 AWG tin-plated', '0.75 mm²')
    """
    if wired.area_mm2 is not None:
        return f"{wired.area_mm2:g} mm²"
    return f"{wired.gauge or GAUGE} AWG {'solid' if wired.wire == 'solid' else 'tin-plated'}"


def wire_list(setup: Setup) -> tuple[WireRun, ...]:
    """List every wire of every channel.

    A thermistor has signal and return, a transducer supply, signal and return; a case ground leaves the return out.
    Positions in the firewall connector that the setup gives as a list, 'F-1, F-2', are taken in that order.

    Raises
    ------
    InputError
        No sensor, or a wire that no table knows.

    Examples
    --------
    >>> from sensorcal.setupfile import setup_from_text
    >>> setup = setup_from_text('''
    ... [channels.P1]
    ... firewall = "F-1, F-2"
    ... gauge = 20
    ... length = "4 m"
    ... ''')
    >>> [(one.label, one.firewall, round(one.ohm_20c, 2)) for one in wire_list(setup)]
    [('P1-S', 'F-1', 0.12), ('P1-R', 'F-2', 0.12)]
    """
    found = []
    for tag in tags_of(setup):
        wired = setup.channel(tag)
        jobs = [*(["supply"] if is_transducer(setup, tag) else []), "signal"]
        jobs += ["return"] if wired.returns == "own wire" else []
        places = [place.strip() for place in wired.firewall.split(",")]
        if len(places) != len(jobs):
            places = [wired.firewall] * len(jobs)
        try:
            ohm = wire_of(wired)[0]
        except InputError as error:
            raise InputError(f"channel {tag}: {error.what}", do=error.do) from None
        found += [
            WireRun(
                label=f"{tag}-{_LETTER[job]}", tag=tag, job=job, start=wired.start, end=wired.end, firewall=place,
                wire=wire_words(wired), length_m=wired.length_m, ohm_20c=ohm, shield=wired.shield,
            )
            for job, place in zip(jobs, places, strict=True)
        ]  # fmt: skip
    return tuple(found)


_LETTER = {"supply": "V", "signal": "S", "return": "R"}


def purchases(wires: tuple[WireRun, ...]) -> tuple[Purchase, ...]:
    """Metres to buy of each kind of wire, with 10 % spare.

    Parameters
    ----------
    wires : tuple of WireRun
        From `wire_list`; the wires of a shielded channel are one cable.

    Returns
    -------
    tuple of Purchase
        Sorted by kind.

    References
    ----------
    Common practice, no source.
    """
    lengths: dict[str, list[float]] = {}
    for tag in dict.fromkeys(one.tag for one in wires):
        own = [one for one in wires if one.tag == tag]
        if own[0].shield:
            cores = f"{len(own)} cores" if len(own) > 1 else "1 core"
            lengths.setdefault(f"{own[0].wire}, {cores} in one shield", []).append(own[0].length_m)
        else:
            lengths.setdefault(own[0].wire, []).extend(one.length_m for one in own)
    return tuple(
        Purchase(
            wire=wire,
            runs=len(each),
            length_m=math.fsum(each),
            buy_m=math.ceil(math.fsum(each) * (1.0 + SPARE_RATIO) / _BUY_STEP_M - 1e-9) * _BUY_STEP_M,
        )
        for wire, each in sorted(lengths.items())
    )


def copper_cost(setup: Setup, tag: str, channels: Channels | None = None) -> CopperCost:
    """Loop resistance or voltage drop of one channel, and what it does to the reading.

    Parameters
    ----------
    setup : Setup
    tag : str
    channels : mapping of str to InstalledChannel, optional
        From `known_channels`; made anew if left out.

    Returns
    -------
    CopperCost
        For a thermistor at its red line, or at the hot end of its range; for a transducer at the end of its range
        where the error is larger.

    Raises
    ------
    InputError
        A wire that no table knows.

    Examples
    --------
    >>> from sensorcal.setupfile import setup_from_text
    >>> setup = setup_from_text('''
    ... [channels.O1]
    ... gauge = 20
    ... length = "5 m"
    ... supply_current = "10 mA"
    ... [transducers.O1]
    ... high = "1000 kPa"
    ... ''')
    >>> cost = copper_cost(setup, "O1")
    >>> round(1000 * cost.drop_v, 1), round(cost.error)
    (3.3, 326)
    """
    known = known_channels(setup) if channels is None else channels
    channel = known.get(tag)
    wired = setup.channel(tag)
    each = wire_of(wired)[0] * float(copper_factor(wired.wire_temperature_c))
    loop = wired.wires * each
    if not is_transducer(setup, tag):
        loop += wired.contact_ohm
        error, at = None, None
        if channel is not None:
            at = limit_of(setup, channel)
            error = float(sensitivities(bare_chain(channel), at)["contact_ohm"]) * loop
        return CopperCost(
            tag=tag, measurand="temperature", loop_ohm=loop, current_a=0.0, current_assumed=False, drop_v=None,
            at_sensor_v=None, error=error, at=at,
        )  # fmt: skip
    current = wired.supply_current_a or CURRENT_A
    supply = setup.pressure_input.supply_v if wired.supply_v is None else wired.supply_v
    error, at = None, None
    if channel is not None:
        chain = bare_chain(channel)
        assert isinstance(chain.sensor, RatioSensor)
        fed = replace(chain, sensor=replace(chain.sensor, current_a=current))
        shifts = [(float(shown(fed, end)) - end, end) for end in (channel.low, channel.high)]
        error, at = max(shifts, key=lambda one: abs(one[0]))
    return CopperCost(
        tag=tag, measurand="pressure", loop_ohm=loop, current_a=current,
        current_assumed=not wired.supply_current_a, drop_v=current * loop, at_sensor_v=supply - current * loop,
        error=error, at=at,
    )  # fmt: skip


def known_channels(
    setup: Setup,
    records: Mapping[str, Calibration | PressureCalibration] | None = None,
    keyed: Mapping[str, KeyedRows] | None = None,
) -> dict[str, InstalledChannel]:
    """Give every channel whose sensor's curve is known, by its record or by its maker's sheet.

    Parameters
    ----------
    setup : Setup
    records : mapping of str to Calibration or PressureCalibration, optional
        By tag; the sheet stands in for the others.
    keyed : mapping of str to KeyedRows, optional
        The tables that stand in the monitor, by tag; the sensor's own curve stands in for the others.

    Returns
    -------
    dict of str to InstalledChannel
        Without those that have neither record nor sheet.

    Raises
    ------
    InputError
        A record or table of a sensor that the setup does not name, or one that does not fit its channel.

    Examples
    --------
    >>> from sensorcal.bench.demo_harness import harness_setup
    >>> len(known_channels(harness_setup()))
    7
    """
    records, keyed = records or {}, keyed or {}
    tags = tags_of(setup)
    for tag in (*records, *keyed):
        if tag not in tags:
            raise InputError(f"the setup names no sensor {tag}", do=f"its sensors are {', '.join(tags)}")
    found = {}
    for tag in tags:
        if tag in records:
            found[tag] = installed_channel(setup, tag, records[tag], keyed=keyed.get(tag), record="its record")
        elif tag in keyed or tag in setup.transducers or len(setup.probe(tag).sheet) > 1:
            found[tag] = installed_channel(setup, tag, keyed=keyed.get(tag))
    return found


def limit_of(setup: Setup, channel: InstalledChannel) -> float:
    """Temperature at which a thermistor's errors are told, degC: its red line, its channel's limit, or its hot end."""
    if channel.redline is not None:
        return channel.redline
    named = channel_of_role(setup.probe(channel.tag).role, "temperature")
    high = setup.limit(named).high if named else None
    return channel.high if high is None else min(high, channel.high)


def bare_chain(channel: InstalledChannel) -> Chain:
    """The chain without steps, lift and self-heating: only the copper is left to be looked at."""
    chain = channel.chain
    sensor = chain.sensor if isinstance(chain.sensor, RatioSensor) else replace(chain.sensor, heating_k_per_w=0.0)
    divider = replace(chain.divider, supply_v=chain.conversion.supply_v)
    return replace(
        chain, sensor=sensor, divider=divider, ground=Ground(returns=chain.ground.returns), converter=Converter(),
        display=Display(),
    )  # fmt: skip
