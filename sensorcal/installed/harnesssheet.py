"""Everything that the printed harness sheet holds, from the setup: wires, purchases, copper, checks, ranges, doubts."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from sensorcal.calibration.calibration import Calibration
from sensorcal.calibration.pressurecal import PressureCalibration
from sensorcal.errors import InputError
from sensorcal.installed.chain import shown
from sensorcal.installed.chainparts import Ground
from sensorcal.installed.channelparts import GAUGE
from sensorcal.installed.fromsetup import InstalledChannel
from sensorcal.installed.harness import (
    SPARE_RATIO,
    Channels,
    CopperCost,
    Purchase,
    WireRun,
    bare_chain,
    copper_cost,
    is_transducer,
    known_channels,
    limit_of,
    purchases,
    tags_of,
    wire_list,
)
from sensorcal.installed.harnesschecks import Check, checks
from sensorcal.installed.keyedrows import KeyedRows
from sensorcal.installed.sensorrange import RangeCheck, range_checks
from sensorcal.setup import Setup
from sensorcal.units import format_quantity
from sensorcal.wiring import ChannelWiring

LIFT_V = 0.020
"""Lift by which a case ground is sized: a common size, no source."""
_COPPER_C = 0.5
_COPPER_PA = 2_000.0


@dataclass(frozen=True, slots=True, kw_only=True)
class HarnessSheet:
    """The harness of one aircraft, ready to print.

    Attributes
    ----------
    wires, purchases, copper, checks, ranges : tuple
    doubts : tuple of (str, str)
        Tag and what is to be settled before the first crimp.
    assumed : tuple of str
        What nobody stated.
    roles : dict of str
        Role by tag.
    highest_m, coldest_c, tolerance_ratio : float
        What ranges and substitution resistors were reckoned with.
    note : str
        Of the setup, such as that it is invented.
    """

    wires: tuple[WireRun, ...]
    purchases: tuple[Purchase, ...]
    copper: tuple[CopperCost, ...]
    checks: tuple[Check, ...]
    ranges: tuple[RangeCheck, ...]
    doubts: tuple[tuple[str, str], ...]
    assumed: tuple[str, ...]
    roles: dict[str, str]
    highest_m: float
    coldest_c: float
    tolerance_ratio: float
    note: str


def harness_sheet(
    setup: Setup,
    *,
    highest_m: float = 3000.0,
    coldest_c: float = -20.0,
    tolerance_ratio: float = 0.01,
    records: Mapping[str, Calibration | PressureCalibration] | None = None,
    keyed: Mapping[str, KeyedRows] | None = None,
) -> HarnessSheet:
    r"""Put the harness sheet of a setup together.

    Parameters
    ----------
    setup : Setup
        Sensors with their wiring under `[channels.TAG]`, the monitor, and for the ranges limits and engine.
    highest_m, coldest_c : float
        Highest pressure altitude, and coldest morning, that the sensors will see.
    tolerance_ratio : float
        Half-width of the substitution resistors.
    records : mapping of str to Calibration or PressureCalibration, optional
        By tag: the checks then expect what that sensor does, not its sheet.
    keyed : mapping of str to KeyedRows, optional
        By tag: the table that stands in the monitor, for what the panel shows.

    Returns
    -------
    HarnessSheet

    Raises
    ------
    InputError
        No sensor, a wire that no table knows, or a tolerance that is none.

    Examples
    --------
    >>> from sensorcal.setupfile import setup_from_text
    >>> sheet = harness_sheet(setup_from_text('[channels.P1]\ngauge = 20\nlength = "4 m"'))
    >>> [(one.wire, one.length_m, one.buy_m) for one in sheet.purchases]
    [('20 AWG tin-plated', 8.0, 9.0)]
    """
    if not 0.0 <= tolerance_ratio < 0.2:
        raise InputError(
            f"resistors within {100 * tolerance_ratio:g} % prove nothing", do="take 1 % or better, or measure them"
        )
    wires = wire_list(setup)
    tags = tags_of(setup)
    channels = known_channels(setup, records, keyed)
    copper = tuple(copper_cost(setup, tag, channels) for tag in tags)
    pressures = {tag: one for tag, one in (records or {}).items() if isinstance(one, PressureCalibration)}
    return HarnessSheet(
        wires=wires,
        purchases=purchases(wires),
        copper=copper,
        checks=checks(setup, tolerance_ratio=tolerance_ratio, channels=channels, records=pressures),
        ranges=range_checks(setup, highest_m=highest_m, coldest_c=coldest_c, channels=channels),
        doubts=_doubts(setup, copper, channels),
        assumed=_assumed(setup, tuple(records or ()), tuple(keyed or ())),
        roles={tag: setup.probe(tag).role for tag in tags},
        highest_m=highest_m,
        coldest_c=coldest_c,
        tolerance_ratio=tolerance_ratio,
        note=setup.note,
    )


def _doubts(setup: Setup, copper: tuple[CopperCost, ...], channels: Channels) -> tuple[tuple[str, str], ...]:
    found: list[tuple[str, str]] = []
    taken: dict[str, str] = {}
    for tag in tags_of(setup):
        wired = setup.channel(tag)
        for place in filter(None, (place.strip() for place in wired.firewall.split(","))):
            if place in taken:
                found.append((tag, f"firewall position {place} is taken by {taken[place]} as well"))
            taken.setdefault(place, tag)
        if wired.returns == "case":
            found.append((tag, _case(setup, channels.get(tag))))
    found += [
        (one.tag, _size(setup, one))
        for one in copper
        if one.error is not None and abs(one.error) > (_COPPER_C if one.measurand == "temperature" else _COPPER_PA)
    ]
    return tuple(found)


def _case(setup: Setup, channel: InstalledChannel | None) -> str:
    """What a ground on the engine costs, in the sensor's own unit."""
    said = "is grounded on the engine: the return of starter and alternator moves it"
    if channel is None:
        return f"{said}; an own return wire does not see that"
    chain = replace(bare_chain(channel), ground=Ground(returns="case", constant_v=LIFT_V))
    pressure = channel.pressure
    at = channel.low if pressure else limit_of(setup, channel)
    shift = float(shown(chain, at)) - at
    unit = setup.units.pressure if pressure else setup.units.temperature
    size = format_quantity(round(shift, -2) if pressure else shift, unit, 1, difference=True)
    where = format_quantity(at, unit, 0)
    cold = "" if pressure else ", cold when hot"
    return f"{said}, {1e3 * LIFT_V:g} mV are {size} at {where}{cold}; an own return wire does not see that"


def _size(setup: Setup, cost: CopperCost) -> str:
    assert cost.error is not None
    assert cost.at is not None
    pressure = cost.measurand == "pressure"
    unit = setup.units.pressure if pressure else setup.units.temperature
    size = format_quantity(cost.error, unit, 1, difference=True)
    where = format_quantity(cost.at, unit, 0)
    return f"the copper alone moves the reading by {size} at {where}: take thicker wire, or a table for the chain"


def _assumed(setup: Setup, records: tuple[str, ...], keyed: tuple[str, ...]) -> tuple[str, ...]:
    found = []
    unstated = [tag for tag in tags_of(setup) if not setup.channel(tag).gauge and setup.channel(tag).area_mm2 is None]
    if unstated:
        found.append(f"wire of {', '.join(unstated)}: {GAUGE} AWG tin-plated (not stated; a usual signal wire)")
    length = [tag for tag in tags_of(setup) if not _length_stated(setup, tag)]
    if length:
        found.append(f"length of {', '.join(length)}: 5 m one way (not stated, estimate)")
    current = [t for t in tags_of(setup) if is_transducer(setup, t) and not setup.channel(t).supply_current_a]
    if current:
        found.append(f"supply current of {', '.join(current)}: up to 10 mA (not stated, estimate)")
    if any(not is_transducer(setup, tag) for tag in tags_of(setup)):
        if setup.monitor.pull_up_ohm is None:
            found.append("pull-up of the monitor: 1000 ohm (not stated; measure it)")
        if setup.monitor.supply_v is None:
            found.append("supply of the pull-up: 5 V (not stated; measure it)")
    found.append(f"spare of {100 * SPARE_RATIO:g} % on every wire; crimps and meter within 0.2 ohm; insulation 1 Mohm")
    others = [tag for tag in tags_of(setup) if tag not in records]
    if others:
        found.append(f"curve of {', '.join(others)} by the maker's sheet")
    own = [tag for tag in tags_of(setup) if tag not in keyed]
    if own:
        found.append(f"the panel is taken to hold the sensor's own curve for {', '.join(own)}")
    return tuple(found)


def _length_stated(setup: Setup, tag: str) -> bool:
    """Whether somebody gave the length, in the file or by hand."""
    return f"channels.{tag}.length" in setup.stated or setup.channel(tag).length_m != ChannelWiring().length_m
