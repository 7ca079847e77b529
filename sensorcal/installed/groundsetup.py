"""The channels of a setup as the ground tests take them: curve, circuit, return, and where their effect is asked."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sensorcal.installed.chainparts import RatioSensor
from sensorcal.installed.fromsetup import InstalledChannel
from sensorcal.installed.groundtest import Channel, Returns, ThermistorChannel, TransducerChannel
from sensorcal.installed.harness import Channels, known_channels, limit_of, tags_of
from sensorcal.roles import channel_of_role
from sensorcal.setup import Setup


@dataclass(frozen=True, slots=True, kw_only=True)
class GroundChannels:
    """What a ground test can size its effect on.

    Attributes
    ----------
    channels : tuple
        For `load_test` and `cranking_test`.
    at : dict of str to float
        By name: temperature in degC or pressure in Pa at which the effect is told.
    left_out : tuple of str
        Tags without a sheet, whose effect is not known.
    ungrounded : tuple of str
        Names of sensors between supply and input: no ground stands in their loop.
    """

    channels: tuple[Channel, ...]
    at: dict[str, float]
    left_out: tuple[str, ...]
    ungrounded: tuple[str, ...] = ()


def ground_channels(setup: Setup, channels: Channels | None = None) -> GroundChannels:
    """Take every sensor of a setup for a ground test.

    Parameters
    ----------
    setup : Setup
    channels : mapping of str to InstalledChannel, optional
        From `known_channels`, where there are records; by the maker's sheets if left out.

    Returns
    -------
    GroundChannels
        A thermistor at its limit, a transducer at its low limit or in the middle of its range.

    Raises
    ------
    InputError
        No sensor in the setup.

    Examples
    --------
    >>> from sensorcal.bench.demo_harness import harness_setup
    >>> found = ground_channels(harness_setup())
    >>> [(one.name, one.returns) for one in found.channels][3]
    ('P4 cooler out', 'case')
    """
    known = known_channels(setup) if channels is None else channels
    taken: list[Channel] = []
    at: dict[str, float] = {}
    left_out, ungrounded = [], []
    for tag in tags_of(setup):
        if tag not in known:
            left_out.append(tag)
            continue
        name = f"{tag} {setup.probe(tag).role}".strip()
        if known[tag].chain.divider.arrangement == "pull-down":
            ungrounded.append(name)
            continue
        one, where = _channel(setup, known[tag], name)
        taken.append(one)
        at[name] = where
    return GroundChannels(channels=tuple(taken), at=at, left_out=tuple(left_out), ungrounded=tuple(ungrounded))


def _channel(setup: Setup, known: InstalledChannel, name: str) -> tuple[Channel, float]:
    chain = known.chain
    returns: Returns = chain.ground.returns
    supply_v = chain.conversion.supply_v
    sensor = chain.sensor
    if isinstance(sensor, RatioSensor):
        named = channel_of_role(setup.probe(known.tag).role, "pressure")
        low = setup.limit(named).low if named else None
        where = 0.5 * (known.low + known.high) if low is None else low
        at = np.array(where)
        return TransducerChannel(
            name=name, at_ratio=float(sensor.raw(at)), pa_per_ratio=1.0 / float(sensor.raw_slope(at)),
            returns=returns, supply_v=supply_v,
        ), where  # fmt: skip
    limit = limit_of(setup, known)
    return ThermistorChannel(
        name=name, curve=sensor.curve, at_c=limit, returns=returns, pull_up_ohm=chain.divider.pull_ohm,
        supply_v=supply_v,
    ), limit  # fmt: skip
