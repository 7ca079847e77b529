"""Every kind of fault of a first start as an edit of the signal chain or of the engine, drawn at random.

Sizes are spread evenly in their logarithm from what nobody sees to what nobody misses.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

import numpy as np

from sensorcal.engine import PRESSURES, TEMPERATURES
from sensorcal.errors import InputError
from sensorcal.firststart.channels import KINDS
from sensorcal.firststart.simulate_cases import Rng
from sensorcal.firststart.simulate_plan import Plan, Trouble, plan_of
from sensorcal.firststart.simulate_scenario import StartCase
from sensorcal.units import to_si

ALL = "multiple"
"""Channel of a fault that stands in several channels at once."""

UNITS = {"temperature": ("degF",), "pressure": ("psi", "bar", "hPa", "inHg")}
"""Units that are taken for degC or kPa."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One fault and its size.

    Parameters
    ----------
    kind : str
        One of `channels.KINDS`.
    channel : str
        The channel it stands in, or 'multiple'.
    size : mapping of str to float
        In home units, by names that the kind knows; flags are 0 or 1.
    from_s : float
        From when, s since the first row of the log; 0 for always.
    channels : tuple of str
        Every channel that it touches.
    unit : str
        The wrong unit, for that kind.
    seed : int
        Of the fault's own randomness.

    Raises
    ------
    InputError
        An unknown kind.

    Examples
    --------
    >>> Fault(kind="contact_resistance", channel="coolant", size={"series_ohm": 50.0}).channels
    ('coolant',)
    """

    kind: str
    channel: str
    size: Mapping[str, float] = field(default_factory=dict)
    from_s: float = 0.0
    channels: tuple[str, ...] = ()
    unit: str = ""
    seed: int = 0

    def __post_init__(self) -> None:
        """Refuse unknown kinds; a fault in one channel touches that channel."""
        if self.kind not in KINDS:
            raise InputError(f"{self.kind!r} is no kind of fault", do=f"use one of {', '.join(KINDS)}")
        object.__setattr__(self, "size", dict(self.size))
        if not self.channels and self.channel != ALL:
            object.__setattr__(self, "channels", (self.channel,))

    def get(self, name: str, default: float = 0.0) -> float:
        """One figure of the size."""
        return float(self.size.get(name, default))


def draw_fault(rng: Rng, kind: str, case: StartCase) -> Fault:
    """Draw a fault of a kind that the case can have, at a drawn size.

    Parameters
    ----------
    rng : numpy.random.Generator
    kind : str
        One of `channels.KINDS`.
    case : StartCase

    Returns
    -------
    Fault

    Raises
    ------
    InputError
        An unknown kind.

    Examples
    --------
    >>> import numpy as np
    >>> from sensorcal.firststart.simulate_cases import draw_case
    >>> rng = np.random.default_rng(3)
    >>> draw_fault(rng, "map_hose_off", draw_case(rng)).channel
    'map'
    """
    if kind not in _DRAW:
        raise InputError(f"{kind!r} is no kind of fault", do=f"use one of {', '.join(KINDS)}")
    return _DRAW[kind](rng, kind, case)


def trouble_of(fault: Fault | None, plan: Plan) -> Trouble:
    """Genuine trouble of a fault, with its times since power on; none for a fault of the sensors."""
    if fault is None or not fault.kind.endswith("_real"):
        return Trouble()
    since = fault.from_s + plan.begins_s if fault.from_s > 0.0 else 0.0
    if fault.kind == "low_oil_pressure_real":
        return Trouble(
            oil_ratio=fault.get("flow_ratio", 1.0), oil_from_s=since, oil_fall_s=fault.get("fall_s"),
            oil_flutter=fault.get("flutter_ratio"),
        )  # fmt: skip
    if fault.kind == "overheat_real":
        return Trouble(
            cooling_ratio=fault.get("cooling_ratio", 1.0), heat_ratio=fault.get("heat_ratio"), cooling_from_s=since
        )
    if fault.kind == "coolant_airlock_real":
        return Trouble(airlock_ratio=fault.get("vapour_ratio"), airlock_from_s=since)
    return Trouble(
        fuel_sag_pa=fault.get("sag_pa"), fuel_loss_pa=fault.get("loss_pa"), fuel_from_s=since,
        fuel_fall_s=fault.get("fall_s"),
    )  # fmt: skip


def _log(rng: Rng, low: float, high: float) -> float:
    return float(np.exp(rng.uniform(math.log(low), math.log(high))))


def _of(rng: Rng, case: StartCase, names: tuple[str, ...]) -> str:
    logged = [name for name in names if name in case.recording.channels]
    return str(rng.choice(logged))


def _seed(rng: Rng) -> int:
    return int(rng.integers(2**31))


def _when(rng: Rng, case: StartCase, always: float) -> float:
    """From the first row with that probability, else somewhere in the first four fifths of the log."""
    plan = plan_of(case)
    return 0.0 if rng.random() < always else float(rng.uniform(0.1, 0.8) * (plan.ends_s - plan.begins_s))


def _rail(rng: Rng, kind: str, case: StartCase) -> Fault:
    channel = _of(rng, case, (*TEMPERATURES, *TEMPERATURES, *PRESSURES))
    return Fault(kind=kind, channel=channel, from_s=_when(rng, case, 0.6))


def _scale(rng: Rng, kind: str, case: StartCase) -> Fault:
    every = rng.random() < (0.4 if kind == "wrong_curve" else 0.5)
    touched = (
        tuple(c for c in TEMPERATURES if c in case.recording.channels) if every else (_of(rng, case, TEMPERATURES),)
    )
    sign = 1.0 if rng.random() < 0.6 else -1.0
    if kind == "wrong_pullup":
        size = {"pull_up_ratio": math.exp(sign * _log(rng, 0.015, 1.3))}
    elif rng.random() < 0.55:
        size = {"ohm_ratio": math.exp(sign * _log(rng, 0.015, 1.3)), "beta_ratio": 1.0}
    else:
        size = {
            "ohm_ratio": math.exp(float(rng.normal(0.0, 0.05))) if rng.random() < 0.3 else 1.0,
            "beta_ratio": 1.0 + sign * _log(rng, 0.008, 0.2),
        }
    return Fault(kind=kind, channel=ALL if every else touched[0], channels=touched, size=size)


def _unit(rng: Rng, kind: str, case: StartCase) -> Fault:
    if rng.random() < 0.4:
        every = rng.random() < 0.4
        touched = tuple(c for c in TEMPERATURES if c in case.recording.channels)
        one = _of(rng, case, TEMPERATURES)
        return Fault(kind=kind, channel=ALL if every else one, channels=touched if every else (one,), unit="degF")
    channel = _of(rng, case, PRESSURES)
    unit = str(rng.choice(["inHg", "hPa", "psi", "bar"] if channel == "map" else ["psi", "psi", "bar"]))
    return Fault(kind=kind, channel=channel, unit=unit)


def _contact(rng: Rng, kind: str, case: StartCase) -> Fault:
    at_90 = float(case.panel.sheet_ohm(np.array([90.0]))[0])
    size = {
        "series_ohm": at_90 * _log(rng, 0.03, 3.0),
        "jitter_ratio": float(rng.choice([0.0, rng.uniform(0.01, 0.08)])),
    }
    channel = _of(rng, case, TEMPERATURES)
    return Fault(kind=kind, channel=channel, size=size, from_s=_when(rng, case, 0.8), seed=_seed(rng))


def _sag(rng: Rng, kind: str, case: StartCase) -> Fault:
    follows = rng.random() < 0.3
    size = {
        "feed_v": 5.0 - _log(rng, 0.015, 1.2),
        "follows_bus": float(follows),
        "pull_up_too": float(rng.random() < 0.4),
    }
    touched = _sagging(case, size["pull_up_too"] > 0)
    return Fault(kind=kind, channel=ALL, channels=touched, size=size, from_s=_when(rng, case, 0.85))


def _sagging(case: StartCase, pull_up_too: bool) -> tuple[str, ...]:
    names = (*TEMPERATURES, *PRESSURES) if pull_up_too else PRESSURES
    return tuple(name for name in names if name in case.recording.channels)


def _ground(rng: Rng, kind: str, case: StartCase) -> Fault:
    logged = tuple(c for c in (*TEMPERATURES, *PRESSURES) if c in case.recording.channels)
    if rng.random() < 0.4:
        touched = logged
    else:  # some sensors are grounded through their case
        count = int(rng.integers(2, max(3, len(logged) - 1)))
        touched = tuple(sorted(rng.choice(logged, size=count, replace=False).tolist(), key=logged.index))
    if rng.random() < 0.7:
        size = {"strap_ohm": _log(rng, 0.2e-3, 30e-3), "running_v": 0.0}
    else:
        size = {"strap_ohm": 0.0, "running_v": (1.0 if rng.random() < 0.5 else -1.0) * _log(rng, 0.008, 0.4)}
    return Fault(kind=kind, channel=ALL, channels=touched, size=size, from_s=_when(rng, case, 0.85))


def _reference(rng: Rng, kind: str, case: StartCase) -> Fault:
    channel = _of(rng, case, PRESSURES)
    sealed = rng.random() < 0.5
    return Fault(kind=kind, channel=channel, size={"sealed": float(sealed), "other": float(not sealed)})


def _swap(first: str, second: str) -> Callable[[Rng, str, StartCase], Fault]:
    def drawn(_: Rng, kind: str, __: StartCase) -> Fault:
        return Fault(kind=kind, channel=ALL, channels=(first, second))

    return drawn


def _slip(rng: Rng, kind: str, case: StartCase) -> Fault:
    names = TEMPERATURES if rng.random() < 0.6 else PRESSURES
    logged = [c for c in names if c in case.recording.channels]
    way = 1.0 if rng.random() < 0.5 else -1.0
    if names is TEMPERATURES and rng.random() < 0.25 and {"coolant", "gearbox_oil"} <= set(logged):
        logged = ["coolant", "gearbox_oil"]
    return Fault(kind=kind, channel=ALL, channels=tuple(logged), size={"steps": way})


def _hose_off(rng: Rng, kind: str, case: StartCase) -> Fault:
    return Fault(
        kind=kind,
        channel="map",
        size={"ripple_pa": _log(rng, 50.0, 600.0)},
        from_s=_when(rng, case, 0.7),
        seed=_seed(rng),
    )


def _hose_leak(rng: Rng, kind: str, case: StartCase) -> Fault:
    return Fault(kind=kind, channel="map", size={"leak_ratio": _log(rng, 0.008, 0.7)}, from_s=_when(rng, case, 0.8))


def _hose_pinched(rng: Rng, kind: str, case: StartCase) -> Fault:
    del case
    return Fault(kind=kind, channel="map", size={"lag_s": _log(rng, 1.0, 90.0)})


def _pulsation(rng: Rng, kind: str, case: StartCase) -> Fault:
    return Fault(
        kind=kind, channel="map", size={"rms_pa": _log(rng, 250.0, 12e3)}, from_s=_when(rng, case, 0.8), seed=_seed(rng)
    )


def _stuck(rng: Rng, kind: str, case: StartCase) -> Fault:
    if rng.random() < 0.12:  # at a number of its own from the first row
        channel = _of(rng, case, (*TEMPERATURES, *PRESSURES))
        tops = {"oil_pressure": 500e3, "fuel_pressure": case.motor.fuel_set_pa, "map": 110e3}
        held = float(rng.uniform(0.05, 1.0)) * tops.get(channel, 95.0)
        return Fault(kind=kind, channel=channel, size={"held": held})
    return Fault(kind=kind, channel=_of(rng, case, (*TEMPERATURES, *PRESSURES)), from_s=_when(rng, case, 0.35))


def _slow(rng: Rng, kind: str, case: StartCase) -> Fault:
    return Fault(kind=kind, channel=_of(rng, case, TEMPERATURES), size={"lag_s": _log(rng, 20.0, 300.0)})


def _intermittent(rng: Rng, kind: str, case: StartCase) -> Fault:
    size = {
        "share": _log(rng, 0.03, 0.5),
        "length_s": _log(rng, 0.3, 8.0),
        "depth": 1.0 if rng.random() < 0.6 else _log(rng, 0.02, 0.5),
        "top": float(rng.random() < 0.3),
        "with_speed": float(rng.random() < 0.6),
    }
    channel = _of(rng, case, (*TEMPERATURES, *TEMPERATURES, *PRESSURES))
    return Fault(kind=kind, channel=channel, size=size, from_s=_when(rng, case, 0.7), seed=_seed(rng))


def _noise(rng: Rng, kind: str, case: StartCase) -> Fault:
    channel = _of(rng, case, (*TEMPERATURES, *PRESSURES))
    unit = {"oil_pressure": 20e3, "fuel_pressure": 12e3, "map": 2e3}.get(channel, 3.0)
    size = {"rms": unit * _log(rng, 0.08, 5.0), "with_speed": float(rng.choice([0.0, 0.5, 1.0]))}
    return Fault(kind=kind, channel=channel, size=size, from_s=_when(rng, case, 0.8), seed=_seed(rng))


def _clipped(rng: Rng, kind: str, case: StartCase) -> Fault:
    motor, day = case.motor, case.day
    thermostat = motor.thermostat_c
    tops = {
        "map": (day.station_pa, max(motor.full_map_pa, day.station_pa + 1.0)),
        "oil_pressure": (0.3 * motor.oil_relief_pa, 1.15 * motor.oil_relief_pa),
        "fuel_pressure": (0.5 * motor.fuel_set_pa, 1.05 * motor.fuel_set_pa),
        "coolant": (day.oat_c + 0.4 * (thermostat - day.oat_c), thermostat + 5.0),
        "gearbox_oil": (day.oat_c + 12.0, 65.0 if day.oat_c < 40.0 else 70.0),
        "charge_in": (day.oat_c + 8.0, day.oat_c + 60.0),
    }  # fmt: skip
    channel = _of(
        rng,
        case,
        ("map", "map", "map", "oil_pressure", "oil_pressure", "fuel_pressure", "coolant", "gearbox_oil", "charge_in"),
    )
    low, high = tops[channel]
    return Fault(kind=kind, channel=channel, size={"top": high - (high - low) * float(rng.uniform(0.1, 1.0))})


def _dropouts(rng: Rng, kind: str, case: StartCase) -> Fault:
    every = rng.random() < 0.35
    logged = case.recording.channels
    judged = tuple(c for c in (*TEMPERATURES, *PRESSURES) if c in logged)
    one = str(rng.choice(judged))
    size = {
        "share": _log(rng, 0.005, 0.6),
        "length_s": _log(rng, 0.5, 12.0),
        "repeats": float(rng.random() < 0.35),
    }
    return Fault(
        kind=kind,
        channel=ALL if every else one,
        channels=tuple(logged) if every else (one,),
        size=size,
        seed=_seed(rng),
    )


def _low_oil(rng: Rng, kind: str, case: StartCase) -> Fault:
    way = rng.random()
    if way < 0.4:
        return Fault(kind=kind, channel="oil_pressure", size={"flow_ratio": 1.0 - _log(rng, 0.1, 0.98)})
    if way < 0.75:
        size = {"flow_ratio": 1.0 - _log(rng, 0.15, 0.97), "fall_s": _log(rng, 3.0, 200.0)}
        return Fault(kind=kind, channel="oil_pressure", size=size, from_s=_running(rng, case))
    return Fault(kind=kind, channel="oil_pressure", size={"flutter_ratio": _log(rng, 0.05, 0.95)})


def _overheat(rng: Rng, kind: str, case: StartCase) -> Fault:
    size = {"cooling_ratio": _log(rng, 0.005, 0.5), "heat_ratio": float(rng.choice([0.0, _log(rng, 0.05, 1.0)]))}
    return Fault(kind=kind, channel="coolant", size=size, from_s=_running(rng, case) if rng.random() < 0.5 else 0.0)


def _airlock(rng: Rng, kind: str, case: StartCase) -> Fault:
    return Fault(kind=kind, channel="coolant", size={"vapour_ratio": _log(rng, 0.15, 1.0)}, from_s=_running(rng, case))


def _low_fuel(rng: Rng, kind: str, case: StartCase) -> Fault:
    channel = "fuel_pressure"
    size = _log(rng, 5e3, 0.9 * case.motor.fuel_set_pa)
    way = rng.random()
    if way < 0.5:
        return Fault(kind=kind, channel=channel, size={"sag_pa": size})
    if way < 0.7:
        return Fault(kind=kind, channel=channel, size={"loss_pa": size, "sag_pa": 0.5 * size})
    late = {"loss_pa": size, "sag_pa": 0.5 * size, "fall_s": _log(rng, 5.0, 200.0)}
    return Fault(kind=kind, channel=channel, size=late, from_s=_running(rng, case))


def _running(rng: Rng, case: StartCase) -> float:
    """Somewhere in the first two thirds of the run, s since the first row."""
    plan = plan_of(case)
    begins = max(plan.fires_s, plan.begins_s)
    return float(begins - plan.begins_s + rng.uniform(0.02, 0.65) * (plan.stop_s - begins))


_DRAW: dict[str, Callable[[Rng, str, StartCase], Fault]] = {
    "open_circuit": _rail, "short_circuit": _rail, "wrong_curve": _scale, "wrong_pullup": _scale,
    "wrong_unit": _unit, "contact_resistance": _contact, "ref_sag": _sag, "ground_offset": _ground,
    "wrong_reference_type": _reference, "swapped_charge": _swap("charge_in", "charge_out"),
    "swapped_oil_fuel": _swap("oil_pressure", "fuel_pressure"), "channel_slip": _slip, "map_hose_off": _hose_off,
    "map_hose_leak": _hose_leak, "map_hose_pinched": _hose_pinched, "map_pulsation": _pulsation, "stuck": _stuck,
    "slow_probe": _slow, "intermittent": _intermittent, "noise": _noise, "clipped": _clipped, "dropouts": _dropouts,
    "low_oil_pressure_real": _low_oil, "overheat_real": _overheat, "coolant_airlock_real": _airlock,
    "low_fuel_pressure_real": _low_fuel,
}  # fmt: skip


def wrong_unit_shown(home: np.ndarray, unit: str) -> np.ndarray:
    """What a column in degC or kPa shows, in home units, where its numbers are in another unit.

    Examples
    --------
    >>> import numpy as np
    >>> wrong_unit_shown(np.array([20.0]), "degF"), wrong_unit_shown(np.array([101_325.0]), "hPa").round(3)
    (array([68.]), array([1013250.]))
    """
    if unit == "degF":
        return np.asarray(home * 1.8 + 32.0)
    return np.asarray(home / float(to_si(1.0, unit)) * 1000.0)
