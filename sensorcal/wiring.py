"""How one sensor is wired to the monitor, as its owner describes it under ``[channels.TAG]`` in the setup."""

from __future__ import annotations

from dataclasses import dataclass

from sensorcal.declared import declared, not_negative, one_of
from sensorcal.errors import InputError

RETURNS = ("own wire", "case")


@dataclass(frozen=True, slots=True, kw_only=True)
class ChannelWiring:
    """Wire, contacts, ground and supply between one sensor and the monitor.

    `sensorcal.installed` builds the signal chain and the harness sheet from it. Give a gauge or an area, not both.

    Examples
    --------
    >>> ChannelWiring(name="P1", length_m=5.0, gauge=18).wires
    2
    """

    name: str = "P1"
    start: str = declared("", "where the wire begins, for instance 'coolant probe, two-pin plug'")
    end: str = declared("", "where it ends, for instance 'monitor plug A, pin 7'")
    firewall: str = declared("", "position in the firewall connector, for instance 'F-3'")
    length_m: float = declared(5.0, "one way, sensor to monitor", "m", why="an engine in front of the panel, estimate")
    gauge: int = declared(0, "American Wire Gauge, such as 20; 0 when the area is given")
    area_mm2: float | None = declared(None, "copper area in square millimetres, where no gauge is given")
    wire: str = declared("aircraft", "'aircraft' (tin-plated) or 'solid'", why="the usual wire")
    wire_temperature_c: float = declared(40.0, "temperature of the wire", "degC", why="behind a warm engine, estimate")
    u_wire_temperature_c: float | None = declared(
        None, "standard uncertainty of that temperature, over the seasons", "degC", difference=True
    )
    contact_ohm: float = declared(0.0, "all contacts of the signal's loop", "ohm", why="none measured")
    u_contact_ohm: float = declared(
        0.1, "standard uncertainty of the contacts", "ohm", why="clean crimped contacts, estimate"
    )
    leak_ohm: float | None = declared(None, "insulation from signal wire to return, where damp was measured", "ohm")
    u_leak_ohm: float | None = declared(None, "standard uncertainty of that leak", "ohm", difference=True)
    leak_to: str = declared("return", "'return' or 'engine': where that leak goes")
    returns: str = declared("own wire", "'own wire' or 'case': how the sensor's ground goes back", why="two-wire probe")
    shield: str = declared("", "shield and where it is grounded, at one end only")
    ground_v: float = declared(0.0, "lift of engine over monitor ground without any current", "V", why="none known")
    u_ground_v: float | None = declared(None, "standard uncertainty of that lift", "V", difference=True)
    strap_ohm: float | None = declared(None, "resistance from engine to the monitor's ground", "ohm")
    u_strap_ohm: float | None = declared(None, "standard uncertainty of that path", "ohm", difference=True)
    current_a: float = declared(0.0, "current in that path while running, negative when charging", "A", why="unknown")
    u_current_a: float | None = declared(None, "standard uncertainty of that current", "A", difference=True)
    supply_v: float | None = declared(None, "supply at the sensor's plug, if not the monitor's", "V")
    u_supply_v: float | None = declared(None, "standard uncertainty of that supply", "V", difference=True)
    supply_current_a: float = declared(
        0.0, "supply current of a transducer", "mA", why="a thermistor draws none; a transducer up to 10 mA, estimate"
    )
    u_supply_current_a: float | None = declared(None, "standard uncertainty of that current", "mA", difference=True)
    pull_up_ohm: float | None = declared(None, "measured pull-up of this input, if not that of the monitor", "ohm")
    u_pull_up_ohm: float | None = declared(None, "standard uncertainty of that pull-up", "ohm", difference=True)

    def __post_init__(self) -> None:
        """Refuse words nobody knows, two descriptions of one wire, and negative lengths."""
        one_of(self, "wire", ("aircraft", "solid"))
        one_of(self, "returns", RETURNS)
        one_of(self, "leak_to", ("return", "engine"))
        if self.gauge and self.area_mm2 is not None:
            raise InputError(f"channel {self.name} gives both gauge and area of its wire", do="keep one")
        if self.gauge < 0 or (self.area_mm2 is not None and self.area_mm2 <= 0):
            raise InputError(f"channel {self.name} has a wire without copper", do="give the gauge, such as 20")
        for name in ("pull_up_ohm", "leak_ohm", "supply_v"):
            value = getattr(self, name)
            if value is not None and not value > 0:
                raise InputError(f"channel {self.name} has {name} = {value:g}", do="measure it; it is above zero")
        not_negative(
            self, "length_m", "contact_ohm", "u_contact_ohm", "strap_ohm", "supply_current_a", "u_wire_temperature_c",
            "u_leak_ohm", "u_ground_v", "u_strap_ohm", "u_current_a", "u_supply_v",
            "u_supply_current_a", "u_pull_up_ohm",
        )  # fmt: skip

    @property
    def wires(self) -> int:
        """Lengths of wire in the signal's loop: two with an own return, one with a case ground."""
        return 2 if self.returns == "own wire" else 1
