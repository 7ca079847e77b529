"""The channels of a first start: their names, their units at home, and the kinds and families of what can be wrong."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from sensorcal.calibration.figures import RUNNING, figures_of, kind_of_channel
from sensorcal.engine import JUDGED, PRESSURES, TEMPERATURES

Dimension = Literal["temperature", "pressure", "speed", "voltage", "time"]

DRIVERS = ("rpm", "bus", "oat")
"""Channels that explain the others and are not judged themselves."""

CHANNELS = (*JUDGED, *DRIVERS)

DIMENSION: dict[str, Dimension] = {
    **dict.fromkeys(TEMPERATURES, "temperature"),
    **dict.fromkeys(PRESSURES, "pressure"),
    "rpm": "speed", "bus": "voltage", "oat": "temperature",
}  # fmt: skip

WORDS = {
    "coolant": "coolant", "gearbox_oil": "gearbox oil", "charge_in": "charge air before the cooler",
    "charge_out": "charge air after the cooler", "oil_pressure": "oil pressure", "fuel_pressure": "fuel pressure",
    "map": "manifold pressure", "rpm": "engine speed", "bus": "bus voltage", "oat": "outside air",
}  # fmt: skip
"""Each channel in plain words."""

TOLERANCE = {name: figures_of(kind_of_channel(name), RUNNING).worth_acting for name in JUDGED}
"""What is worth acting on while the engine runs, degC or Pa, from the one table of figures."""

FAMILY = {
    "open_circuit": "hard_electrical", "short_circuit": "hard_electrical",
    "wrong_curve": "resistance_scale", "wrong_pullup": "resistance_scale", "contact_resistance": "resistance_scale",
    "intermittent": "bad_connection", "noise": "bad_connection", "dropouts": "bad_connection",
    "swapped_charge": "wiring_order", "swapped_oil_fuel": "wiring_order", "channel_slip": "wiring_order",
    "ref_sag": "supply_or_ground", "ground_offset": "supply_or_ground",
    "map_hose_off": "map_hose", "map_hose_leak": "map_hose", "map_hose_pinched": "map_hose",
    "wrong_unit": "wrong_unit", "wrong_reference_type": "wrong_reference_type", "map_pulsation": "map_pulsation",
    "stuck": "stuck", "slow_probe": "slow_probe", "clipped": "clipped",
    "low_oil_pressure_real": "low_oil_pressure_real", "overheat_real": "overheat_real",
    "coolant_airlock_real": "coolant_airlock_real", "low_fuel_pressure_real": "low_fuel_pressure_real",
}  # fmt: skip
"""Every kind of cause and the family it belongs to; causes of one family are measured alike."""

KINDS = tuple(FAMILY)
GENUINE = tuple(kind for kind in KINDS if kind.endswith("_real"))
"""Trouble of the engine itself: never explained away."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """A stretch of time of one phase, s since the log's start."""

    phase: str
    start_s: float
    end_s: float


PHASES = ("rest", "pump", "crank", "first_30_s", "idle", "warm_up", "run_up", "shutdown", "soak")
"""rest: power on, engine off, before the start; pump: fuel pump on, engine off; soak: engine off after a run."""
