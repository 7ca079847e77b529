"""The parts of a chain as the setup describes them; what nobody stated is taken from ordinary practice and named."""

from __future__ import annotations

import math
from dataclasses import dataclass

from sensorcal.declared import Assumed, assumptions
from sensorcal.errors import InputError
from sensorcal.installed.chainparts import Converter, Display, Divider, Ground, Wiring, wire_ohm
from sensorcal.measure.inputs import Shape
from sensorcal.monitorsetup import MonitorSetup
from sensorcal.physics.wire import COPPER_PER_K
from sensorcal.setup import Setup
from sensorcal.units import parse_unit
from sensorcal.wiring import ChannelWiring

_SQRT3 = math.sqrt(3.0)
PULL_OHM = 1000.0
SUPPLY_V = 5.0
GAUGE = 20
"""Taken where the setup is silent: common practice, no source."""
_U_WIRE_C = 15.0
_LIFT_V = 0.020
_PART = 0.10
"""How well a current, a strap or a length that somebody stated is known: estimate."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ChannelParts:
    """Everything between a sensor and the number on the panel, but for the sensor and the monitor's conversion.

    Attributes
    ----------
    wiring, ground, divider, converter, display
    pull_ohm, supply_v : float
        What the monitor takes pull resistor and supply for.
    shapes : tuple of (str, str)
        Distribution of the elements that are known by a tolerance only.
    assumed : tuple of Assumed
        What nobody stated.
    """

    wiring: Wiring
    ground: Ground
    divider: Divider
    converter: Converter
    display: Display
    pull_ohm: float
    supply_v: float
    shapes: tuple[tuple[str, Shape], ...]
    assumed: tuple[Assumed, ...]


class _Notes:
    """Collects what is assumed while the parts are put together."""

    def __init__(self, setup: Setup, tag: str) -> None:
        wired = setup.channel(tag)
        monitor = [a for a in assumptions(setup.monitor, "monitor", setup.stated) if _of_a_chain(a.name)]
        own = assumptions(wired, f"channels.{tag}", setup.stated)
        self.found = [*(a for a in own if not a.name.endswith("supply_current")), *monitor]
        self.silent = {one.name for one in own}
        self.tag = tag

    def add(self, name: str, value: str, why: str) -> None:
        if all(one.name != name for one in self.found):
            self.found.append(Assumed(name=name, value=value, why=why))

    def channel(self, key: str, value: str, why: str) -> None:
        self.add(f"channels.{self.tag}.{key}", value, why)

    def given(self, key: str) -> bool:
        """Whether the setup states a value of this channel for which something could be assumed."""
        return f"channels.{self.tag}.{key}" not in self.silent


def _of_a_chain(name: str) -> bool:
    """Whether an assumption about the monitor touches the chain, not only the table's form."""
    return name.rpartition(".")[2] in {"interpolation", "past_ends", "pull_up_tolerance", "input"}


def thermistor_parts(setup: Setup, tag: str) -> ChannelParts:
    """Put together what stands between a thermistor and the panel.

    Parameters
    ----------
    setup : Setup
        `[channels.TAG]` and `[monitor]`; both may be left out.
    tag : str

    Raises
    ------
    InputError
        A wire that no table knows.

    Examples
    --------
    >>> parts = thermistor_parts(Setup(), "P1")
    >>> round(parts.wiring.wire_20c_ohm, 2), parts.divider.pull_ohm, len(parts.assumed) > 6
    (0.3, 1000.0, True)
    """
    notes = _Notes(setup, tag)
    wired, monitor = setup.channel(tag), setup.monitor
    each_ohm, u_each = _wire(wired, notes)
    ground = _ground(wired, notes)
    wiring = Wiring(
        contact_ohm=wired.contact_ohm,
        u_contact_ohm=wired.u_contact_ohm,
        wire_20c_ohm=wired.wires * each_ohm,
        u_wire_20c_ohm=wired.wires * u_each,
        wire_temperature_c=wired.wire_temperature_c,
        u_wire_temperature_c=_U_WIRE_C,
        leak_siemens=0.0 if wired.leak_ohm is None else 1.0 / wired.leak_ohm,
    )
    notes.channel("u_wire_temperature", f"{_U_WIRE_C:g} degC", "between a cold and a hot engine bay, estimate")
    pull_assumed = monitor.pull_up_ohm
    if pull_assumed is None:
        pull_assumed = PULL_OHM
        notes.add("monitor.pull_up", f"{PULL_OHM:g} ohm", "not stated: measure it; ground and leaks depend on it")
    if wired.pull_up_ohm is None:
        pull, u_pull = pull_assumed, monitor.pull_up_tolerance_ratio / _SQRT3 * pull_assumed
        shapes: tuple[tuple[str, Shape], ...] = (("pull_ohm", "rectangular"),)
    else:
        pull, u_pull, shapes = wired.pull_up_ohm, 0.002 * wired.pull_up_ohm, ()
        notes.found = [a for a in notes.found if not a.name.endswith("pull_up_tolerance")]
        notes.channel("u_pull_up", f"{u_pull:.2g} ohm", "measured with a hand meter, 0.2 %, estimate")
    supply, assumed_supply, u_supply = _supply(setup, wired, notes)
    divider = Divider(pull_ohm=pull, u_pull_ohm=u_pull, supply_v=supply, u_supply_v=u_supply)
    return ChannelParts(
        wiring=wiring,
        ground=ground,
        divider=divider,
        converter=_converter(monitor, monitor.bits, notes),
        display=_display(monitor.value_unit, monitor.display_step, monitor.value_step, "monitor.display_step", notes),
        pull_ohm=pull_assumed,
        supply_v=assumed_supply,
        shapes=shapes,
        assumed=tuple(notes.found),
    )


def transducer_parts(setup: Setup, tag: str) -> ChannelParts:
    """Put together what stands between a three-wire transducer and the panel.

    Parameters
    ----------
    setup : Setup
        `[channels.TAG]`, `[pressure_input]` and, for the converter, `[monitor]`.
    tag : str

    Raises
    ------
    InputError
        A wire that no table knows.
    """
    notes = _Notes(setup, tag)
    notes.found = [a for a in notes.found if not a.name.startswith("monitor.")]
    notes.found += assumptions(setup.pressure_input, "pressure_input", setup.stated)
    notes.found = [a for a in notes.found if not a.name.endswith((".rows", ".signal_step", ".counts_full", ".form"))]
    wired, pressure = setup.channel(tag), setup.pressure_input
    each_ohm, u_each = _wire(wired, notes)
    warm = 1.0 + COPPER_PER_K * (wired.wire_temperature_c - 20.0)
    own = wired.returns == "own wire"
    wiring = Wiring(
        contact_ohm=wired.contact_ohm,
        u_contact_ohm=wired.u_contact_ohm,
        wire_20c_ohm=each_ohm,
        u_wire_20c_ohm=u_each,
        wire_temperature_c=wired.wire_temperature_c,
        u_wire_temperature_c=_U_WIRE_C,
        leak_siemens=0.0 if wired.leak_ohm is None else 1.0 / wired.leak_ohm,
        feed_ohm=each_ohm * warm,
        u_feed_ohm=math.hypot(u_each, wired.u_contact_ohm),
        return_ohm=each_ohm * warm if own else 0.0,
        u_return_ohm=math.hypot(u_each if own else 0.0, wired.u_contact_ohm),
    )
    notes.channel("u_wire_temperature", f"{_U_WIRE_C:g} degC", "between a cold and a hot engine bay, estimate")
    notes.add("pressure_input.input_resistance", "without end", "not measured: no load on the sensor's output")
    bits = setup.monitor.bits
    if pressure.signal == "counts":
        full = math.log2(pressure.counts_full + 1)
        bits = round(full) if abs(full - round(full)) < 1e-9 else bits
    supply = wired.supply_v
    if supply is None:
        supply = pressure.supply_v
        notes.channel("supply", f"{supply:g} V", "not measured at the plug: that of the pressure input")
    u_supply = (0.01 if wired.supply_v is not None else 0.01 * supply) / _SQRT3
    notes.channel(
        "u_supply", f"{u_supply:.2g} V", "measured with a hand meter" if wired.supply_v else "within 1 %, estimate"
    )
    return ChannelParts(
        wiring=wiring,
        ground=_ground(wired, notes),
        divider=Divider(arrangement="none", supply_v=supply, u_supply_v=u_supply),
        converter=_converter(setup.monitor, bits, notes),
        display=_display(pressure.value_unit, None, pressure.value_step, "pressure_input.display_step", notes),
        pull_ohm=PULL_OHM,
        supply_v=pressure.supply_v,
        shapes=(),
        assumed=tuple(notes.found),
    )


def wire_of(wired: ChannelWiring) -> tuple[float, float]:
    """Resistance at 20 degC of one length of a channel's wire, with its standard uncertainty, ohm.

    Without gauge or area an aircraft wire of 20 AWG is taken (common practice, no source).

    Examples
    --------
    >>> [round(ohm, 4) for ohm in wire_of(ChannelWiring(name="P1", length_m=5.0, gauge=18))]
    [0.0959, 0.0037]
    """
    if wired.wire == "solid" or wired.area_mm2 is not None:
        area = None if wired.area_mm2 is None else 1e-6 * wired.area_mm2
        gauge = None if area is not None else (wired.gauge or GAUGE)
        return wire_ohm(gauge, wired.length_m, area_m2=area, wires=1, kind="solid")
    return wire_ohm(wired.gauge or GAUGE, wired.length_m, wires=1)


def _wire(wired: ChannelWiring, notes: _Notes) -> tuple[float, float]:
    try:
        ohm, u = wire_of(wired)
    except InputError as error:
        raise InputError(f"channel {wired.name}: {error.what}", do=error.do) from None
    if not wired.gauge and wired.area_mm2 is None:
        notes.channel("gauge", str(GAUGE), "neither gauge nor area stated: a usual signal wire")
    if not notes.given("length"):
        return ohm, math.hypot(u, 0.3 * ohm)
    return ohm, math.hypot(u, 0.02 * ohm)


def _ground(wired: ChannelWiring, notes: _Notes) -> Ground:
    """Lift of the engine's metal, which an own return wire does not see."""
    lift_known = notes.given("ground")
    strap = wired.strap_ohm or 0.0
    u_lift = 0.001 if lift_known else _LIFT_V / _SQRT3
    if wired.returns == "own wire":
        notes.found = [a for a in notes.found if a.name.rpartition(".")[2] not in {"ground", "current"}]
    elif not lift_known:
        notes.found = [a for a in notes.found if not a.name.endswith(".ground")]
        notes.channel("ground", f"0 V, within {1000 * _LIFT_V:g} mV", "not measured: ground test, loads off and on")
    else:
        notes.channel("u_ground", "1 mV", "a hand meter, estimate")
    if wired.returns == "case" and wired.strap_ohm is None:
        notes.channel("strap", "0 ohm", "not measured: ground test while cranking, ignition off")
        notes.found = [a for a in notes.found if not a.name.endswith(".current")]
    return Ground(
        returns=wired.returns,  # type: ignore[arg-type]  # ChannelWiring checks the word
        constant_v=wired.ground_v,
        u_constant_v=u_lift,
        strap_ohm=strap,
        u_strap_ohm=_PART * strap,
        current_a=wired.current_a,
        u_current_a=_PART * abs(wired.current_a),
    )


def _supply(setup: Setup, wired: ChannelWiring, notes: _Notes) -> tuple[float, float, float]:
    """True supply, supply that the monitor assumes, standard uncertainty, V."""
    assumed = setup.monitor.supply_v
    if assumed is None:
        assumed = SUPPLY_V
        notes.add("monitor.supply", f"{SUPPLY_V:g} V", "not stated")
    if wired.supply_v is None:
        u = 0.01 * assumed / _SQRT3
        notes.channel("u_supply", f"{u:.2g} V", "within 1 %, estimate; a converter that follows it does not see it")
        return assumed, assumed, u
    u = 0.01 / _SQRT3
    notes.channel("u_supply", f"{u:.2g} V", "measured with a hand meter, estimate")
    return wired.supply_v, assumed, u


def _converter(monitor: MonitorSetup, bits: int, notes: _Notes) -> Converter:
    if not bits:
        notes.add("monitor.bits", "without steps", "not stated: the converter's steps are left out")
    if monitor.reference_v is None:
        notes.add("monitor.reference", "follows the supply", "not stated: a ratiometric input")
        return Converter(bits=bits or None)
    u = 0.005 * monitor.reference_v / _SQRT3
    notes.add("monitor.u_reference", f"{u:.2g} V", "within 0.5 %, estimate")
    return Converter(
        bits=bits or None,
        ratiometric=False,
        reference_v=monitor.reference_v,
        nominal_reference_v=monitor.reference_v,
        u_reference_v=u,
    )


def _display(unit: str, step: float | None, value_step: float, name: str, notes: _Notes) -> Display:
    if step is None:
        step = value_step
        notes.add(name, f"{step:g} {parse_unit(unit)}", "not stated: as fine as the table's values")
    return Display(unit=parse_unit(unit), step=step)
