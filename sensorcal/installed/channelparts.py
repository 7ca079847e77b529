"""The parts of a chain as the setup describes them; what nobody stated is taken from ordinary practice and named."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from sensorcal.declared import Assumed, assumptions
from sensorcal.errors import InputError
from sensorcal.installed.chainparts import Converter, Display, Divider, Ground, Wiring, wire_ohm
from sensorcal.measure.inputs import Shape
from sensorcal.monitorsetup import MonitorSetup
from sensorcal.physics.wire import COPPER_PER_K
from sensorcal.setup import Setup
from sensorcal.units import format_quantity, parse_unit
from sensorcal.wiring import ChannelWiring

_SQRT3 = math.sqrt(3.0)
PULL_OHM = 1000.0
SUPPLY_V = 5.0
GAUGE = 20
"""Taken where the setup is silent: common practice, no source."""
_U_WIRE_C = 15.0
_LIFT_V = 0.020
_U_LEAK = 0.30
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

    def u(self, name: str, stated: float | None, otherwise: float, unit: str, why: str) -> float:
        """Standard uncertainty as stated, or the one that is assumed and named; unit for people."""
        if stated is not None:
            return stated
        self.add(name, format_quantity(float(f"{otherwise:.2g}"), unit, difference=True), why)
        return otherwise

    def channel_u(self, key: str, stated: float | None, otherwise: float, unit: str, why: str) -> float:
        """The same for a value of this channel."""
        return self.u(f"channels.{self.tag}.{key}", stated, otherwise, unit, why)

    def leave_out(self, *keys: str) -> None:
        """Strike assumptions that do not touch this channel, by the last part of their name."""
        self.found = [one for one in self.found if one.name.rpartition(".")[2] not in keys]


def _of_a_chain(name: str) -> bool:
    """Whether an assumption about the monitor touches the chain, not only the table's form."""
    return name.rpartition(".")[2] in _OF_A_CHAIN


_OF_A_CHAIN = {
    "interpolation", "past_ends", "pull_up_tolerance", "pull_up_tempco", "temperature", "arrangement", "input",
}  # fmt: skip


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
    if monitor.arrangement == "pull-down" and wired.returns == "case":
        raise InputError(
            f"channel {tag}: a sensor grounded on the engine cannot sit between supply and input",
            do="write returns = 'own wire', or arrangement = 'pull-up' under [monitor]",
        )
    each_ohm, u_each = _wire(wired, notes)
    ground = _ground(wired, notes)
    wiring = Wiring(
        contact_ohm=wired.contact_ohm,
        u_contact_ohm=wired.u_contact_ohm,
        wire_20c_ohm=wired.wires * each_ohm,
        u_wire_20c_ohm=wired.wires * u_each,
        wire_temperature_c=wired.wire_temperature_c,
        u_wire_temperature_c=_u_wire_temperature(wired, notes),
        **_leak(wired, notes),
    )
    pull_assumed = monitor.pull_up_ohm
    if pull_assumed is None:
        pull_assumed = PULL_OHM
        notes.add("monitor.pull_up", f"{PULL_OHM:g} ohm", "not stated: measure it; ground and leaks depend on it")
    shapes: list[tuple[str, Shape]] = [("tempco_per_k", "rectangular")]
    if wired.pull_up_ohm is None:
        pull, u_pull = pull_assumed, monitor.pull_up_tolerance_ratio / _SQRT3 * pull_assumed
        shapes.append(("pull_ohm", "rectangular"))
    else:
        pull = wired.pull_up_ohm
        notes.leave_out("pull_up_tolerance")
        why = "measured with a hand meter, 0.2 %, estimate"
        u_pull = notes.channel_u("u_pull_up", wired.u_pull_up_ohm, 0.002 * pull, "ohm", why)
    supply, assumed_supply, u_supply = _supply(setup, wired, notes)
    divider = Divider(
        arrangement=monitor.arrangement,  # type: ignore[arg-type]  # MonitorSetup checks the word
        pull_ohm=pull,
        u_pull_ohm=u_pull,
        u_tempco_per_k=monitor.pull_up_tempco_per_k / _SQRT3,
        monitor_temperature_c=monitor.temperature_c,
        supply_v=supply,
        u_supply_v=u_supply,
        input_siemens=_input_siemens(monitor.input_resistance_ohm, "monitor.input_resistance", notes),
    )
    return ChannelParts(
        wiring=wiring,
        ground=ground,
        divider=divider,
        converter=_converter(monitor, monitor.bits, notes),
        display=_display(monitor.value_unit, monitor.display_step, monitor.value_step, "monitor.display_step", notes),
        pull_ohm=pull_assumed,
        supply_v=assumed_supply,
        shapes=tuple(shapes),
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
        u_wire_temperature_c=_u_wire_temperature(wired, notes),
        **_leak(wired, notes),
        feed_ohm=each_ohm * warm,
        u_feed_ohm=math.hypot(u_each, wired.u_contact_ohm),
        return_ohm=each_ohm * warm if own else 0.0,
        u_return_ohm=math.hypot(u_each if own else 0.0, wired.u_contact_ohm),
    )
    bits = setup.monitor.bits
    if pressure.signal == "counts":
        full = math.log2(pressure.counts_full + 1)
        bits = round(full) if abs(full - round(full)) < 1e-9 else bits
    supply = wired.supply_v
    if supply is None:
        supply = pressure.supply_v
        notes.channel("supply", f"{supply:g} V", "not measured at the plug: that of the pressure input")
    doubt = _supply_doubt(supply, measured=wired.supply_v is not None)
    u_supply = notes.channel_u("u_supply", wired.u_supply_v, *doubt)
    display = _display(
        pressure.value_unit, pressure.display_step, pressure.value_step, "pressure_input.display_step", notes
    )
    load = _input_siemens(pressure.input_resistance_ohm, "pressure_input.input_resistance", notes)
    return ChannelParts(
        wiring=wiring,
        ground=_ground(wired, notes),
        divider=Divider(arrangement="none", supply_v=supply, u_supply_v=u_supply, input_siemens=load),
        converter=_converter(setup.monitor, bits, notes),
        display=display,
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


def _u_wire_temperature(wired: ChannelWiring, notes: _Notes) -> float:
    why = "between a cold and a hot engine bay, estimate"
    return notes.channel_u("u_wire_temperature", wired.u_wire_temperature_c, _U_WIRE_C, "degC", why)


def _leak(wired: ChannelWiring, notes: _Notes) -> dict[str, Any]:
    """Insulation leak as a conductance, and where it goes; a perfect insulation where none was measured."""
    if wired.leak_ohm is None:
        return {}
    why = "damp comes and goes, estimate"
    u_ohm = notes.channel_u("u_leak", wired.u_leak_ohm, _U_LEAK * wired.leak_ohm, "ohm", why)
    return {"leak_siemens": 1.0 / wired.leak_ohm, "u_leak_siemens": u_ohm / wired.leak_ohm**2, "leak_to": wired.leak_to}


def _input_siemens(input_ohm: float | None, name: str, notes: _Notes) -> float:
    if input_ohm is not None:
        return 1.0 / input_ohm
    notes.add(name, "without end", "not measured: no load on the sensor")
    return 0.0


def _ground(wired: ChannelWiring, notes: _Notes) -> Ground:
    """Lift of the engine's metal, which an own return wire does not see."""
    lift_known = notes.given("ground")
    case = wired.returns == "case"
    strap = wired.strap_ohm or 0.0
    if not case:
        notes.leave_out("ground", "current")
    elif not lift_known and wired.u_ground_v is None:
        notes.leave_out("ground")
        notes.channel("ground", f"0 V, within {1000 * _LIFT_V:g} mV", "not measured: ground test, loads off and on")
    u_lift = _LIFT_V / _SQRT3 if wired.u_ground_v is None else wired.u_ground_v
    u_strap, u_current = (_PART * size if u is None else u for size, u in (
        (strap, wired.u_strap_ohm), (abs(wired.current_a), wired.u_current_a),
    ))  # fmt: skip
    if lift_known and case:
        u_lift = notes.channel_u("u_ground", wired.u_ground_v, 0.001, "mV", "a hand meter, estimate")
    elif lift_known:
        u_lift = 0.001 if wired.u_ground_v is None else wired.u_ground_v
    if case and wired.strap_ohm is None:
        notes.channel("strap", "0 ohm", "not measured: ground test while cranking, ignition off")
        notes.leave_out("current")
    elif case:
        why = f"{100 * _PART:g} %, estimate; the ground test tells its own"
        u_strap = notes.channel_u("u_strap", wired.u_strap_ohm, u_strap, "milliohm", why)
        if wired.current_a:
            u_current = notes.channel_u("u_current", wired.u_current_a, u_current, "A", f"{100 * _PART:g} %, estimate")
    return Ground(
        returns=wired.returns,  # type: ignore[arg-type]  # ChannelWiring checks the word
        constant_v=wired.ground_v,
        u_constant_v=u_lift,
        strap_ohm=strap,
        u_strap_ohm=u_strap,
        current_a=wired.current_a,
        u_current_a=u_current,
    )


def _supply(setup: Setup, wired: ChannelWiring, notes: _Notes) -> tuple[float, float, float]:
    """True supply, supply that the monitor assumes, standard uncertainty, V."""
    assumed = setup.monitor.supply_v
    if assumed is None:
        assumed = SUPPLY_V
        notes.add("monitor.supply", f"{SUPPLY_V:g} V", "not stated")
    supply = assumed if wired.supply_v is None else wired.supply_v
    doubt = _supply_doubt(supply, measured=wired.supply_v is not None)
    return supply, assumed, notes.channel_u("u_supply", wired.u_supply_v, *doubt)


def _supply_doubt(supply_v: float, *, measured: bool) -> tuple[float, str, str]:
    """Standard uncertainty of a supply, its unit for people, and why."""
    if measured:
        return 0.01 / _SQRT3, "V", "measured with a hand meter, estimate"
    return 0.01 * supply_v / _SQRT3, "V", "within 1 %, estimate; a converter that follows it does not see it"


def _converter(monitor: MonitorSetup, bits: int, notes: _Notes) -> Converter:
    if not bits:
        notes.add("monitor.bits", "without steps", "not stated: the converter's steps are left out")
    if monitor.reference_v is None:
        notes.add("monitor.reference", "follows the supply", "not stated: a ratiometric input")
        return Converter(bits=bits or None)
    otherwise = 0.005 * monitor.reference_v / _SQRT3
    u = notes.u("monitor.u_reference", monitor.u_reference_v, otherwise, "V", "within 0.5 %, estimate")
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
