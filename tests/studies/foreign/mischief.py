"""What goes wrong: one cause a log, of any kind, from too small to see to gross."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from tests.studies.foreign.day import CHANNELS, STEP_S, THERMISTORS, TRANSDUCERS
from tests.studies.foreign.panel import Edits, ohms
from tests.studies.foreign.plant import Trouble, lag, wander


@dataclass(frozen=True, slots=True, kw_only=True)
class Mischief:
    """One cause, with its channels, its size in plain numbers, and the edits that make it."""

    kind: str
    channels: tuple[str, ...]
    size: dict[str, float] = field(default_factory=dict)
    edits: Edits = field(default_factory=Edits)
    trouble: Trouble = field(default_factory=Trouble)
    pilot_stops_s: float | None = None


HEALTHY = Mischief(kind="healthy", channels=())


def draw_mischief(kind, day, panel, truth, units):
    """Draw a cause of this kind for this day; `truth` is the healthy run, `units` the headed unit of each channel."""
    rng = np.random.default_rng([day.seed, 55])
    return _DRAW[kind](rng, day, panel, truth, units)


def _log_uniform(rng, low, high):
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


def _moment(rng, day, *, from_start=0.5):
    """Give a moment when it begins: half of the time from the first row on."""
    length = day.plan.time_s[-1]
    return 0.0 if rng.random() < from_start else float(rng.uniform(0.05, 0.8) * length)


def _one(rng, names=THERMISTORS):
    return str(rng.choice(names))


def _hard(which):
    def draw(rng, day, _panel, _truth, _units):
        name, at = _one(rng), _moment(rng, day)
        return Mischief(
            kind=f"{which}_circuit", channels=(name,), size={"from_s": at},
            edits=Edits(rails={name: [(at, 1e9, which)]}),
        )  # fmt: skip

    return draw


def _wrong_curve(rng, _day, _panel, _truth, _units):
    names = THERMISTORS if rng.random() < 0.55 else (_one(rng),)
    if rng.random() < 0.6:
        r25 = float(np.exp(rng.choice([-1, 1]) * _log_uniform(rng, 0.025, 0.9)))
        beta = 1.0 if rng.random() < 0.6 else float(np.clip(rng.normal(1, 0.03), 0.93, 1.07))
    else:
        r25, beta = 1.0, 1.0 + float(rng.choice([-1, 1]) * _log_uniform(rng, 0.006, 0.16))
    return Mischief(
        kind="wrong_curve", channels=names, size={"r25_ratio": r25, "beta_ratio": beta},
        edits=Edits(keyed_curve=dict.fromkeys(names, (r25, beta))),
    )  # fmt: skip


def _wrong_pullup(rng, _day, _panel, _truth, _units):
    names = THERMISTORS if rng.random() < 0.75 else (_one(rng),)
    ratio = float(np.exp(rng.choice([-1, 1]) * _log_uniform(rng, 0.015, 1.0)))
    edits = Edits(pull_up_ratio=dict.fromkeys(names, ratio))
    return Mischief(kind="wrong_pullup", channels=names, size={"ratio": ratio}, edits=edits)


_HOME = {"kPa": 1e3, "psi": 6894.757, "bar": 1e5, "inHg": 3386.389, "mbar": 100.0, "hPa": 100.0}


def _wrong_unit(rng, _day, _panel, _truth, units):
    """The number of one unit under the heading of another."""
    if rng.random() < 0.35:
        names = THERMISTORS if rng.random() < 0.4 else (_one(rng),)
        # value in degF under degC: shown degC is 1.8 T + 32; value in degC under degF: shown degC is (T - 32) / 1.8
        edit = (1.8, 32.0) if units[names[0]] == "degC" else (1 / 1.8, -32.0 / 1.8)
        size = {"factor": edit[0]}
    else:
        names = (_one(rng, TRANSDUCERS),)
        headed = units[names[0]]
        likely = {"map": ["inHg", "mbar", "psi", "kPa"]}.get(names[0], ["psi", "bar", "kPa"])
        worn = [unit for unit in likely if abs(_HOME[unit] / _HOME[headed] - 1.0) > 0.01]
        shown = str(rng.choice(worn))
        edit = (_HOME[headed] / _HOME[shown], 0.0)
        size = {"factor": edit[0]}
    return Mischief(kind="wrong_unit", channels=names, size=size, edits=Edits(unit=dict.fromkeys(names, edit)))


def _contact(rng, day, panel, _truth, _units):
    """A poor joint: ohms in series, with a little life of their own once the engine shakes it."""
    name = _one(rng)
    r = _log_uniform(rng, 0.01, 1.5) * float(ohms(panel, 80.0))
    n = day.plan.command_rpm.size
    life = 1.0 + rng.uniform(0.01, 0.12) * wander(rng, n, 1.0, 1.5) * (0.1 + day.plan.running)
    return Mischief(
        kind="contact_resistance", channels=(name,), size={"ohm": r}, edits=Edits(series_ohm={name: r * np.abs(life)})
    )


def _ref_sag(rng, _day, _panel, _truth, _units):
    volts = 5.0 - _log_uniform(rng, 0.012, 0.8)
    names = CHANNELS if rng.random() < 0.4 else TRANSDUCERS
    edits = Edits(rail_v=dict.fromkeys(names, volts))
    return Mischief(kind="ref_sag", channels=names, size={"supply_v": volts}, edits=edits)


def _ground(rng, day, _panel, truth, _units):
    """Ground lift: the engine strap (starter positive, charging negative), or a return shared with loads."""
    groups = [CHANNELS, TRANSDUCERS, THERMISTORS]
    names = groups[rng.choice(3, p=[0.5, 0.25, 0.25])]
    if rng.random() < 0.6:
        ohm = _log_uniform(rng, 0.4e-3, 15e-3)
        lift = ohm * truth.current_a
    else:
        ohm = _log_uniform(rng, 1.5e-3, 40e-3)
        lift = ohm * day.plan.load_a
    lift = np.clip(lift, -1.0, 1.0)
    return Mischief(
        kind="ground_offset", channels=tuple(names), size={"ohm": ohm}, edits=Edits(ground_v=dict.fromkeys(names, lift))
    )


def _reference_type(rng, day, _panel, _truth, _units):
    station = day.weather.station_pa
    what = str(rng.choice(["gauge", "absolute", "sealed"], p=[0.35, 0.35, 0.3]))
    name = "map" if what == "gauge" else _one(rng, ("oil_pressure", "fuel_pressure"))
    added = {"gauge": -station, "absolute": station, "sealed": station - 101_325.0}[what]
    return Mischief(
        kind="wrong_reference_type",
        channels=(name,),
        size={"added_pa": added},
        edits=Edits(pressure_added={name: added}),
    )


def _swap(kind, first, second):
    def draw(_rng, _day, _panel, _truth, _units):
        edits = Edits(order={first: second, second: first})
        return Mischief(kind=kind, channels=(first, second), edits=edits)

    return draw


def _slip(rng, _day, _panel, _truth, _units):
    names = THERMISTORS if rng.random() < 0.65 else TRANSDUCERS
    by = int(rng.choice([1, len(names) - 1]))
    order = {name: names[(k + by) % len(names)] for k, name in enumerate(names)}
    return Mischief(kind="channel_slip", channels=tuple(names), size={"by": by}, edits=Edits(order=order))


def _hose(what, low, high):
    def draw(rng, _day, _panel, _truth, _units):
        size = _log_uniform(rng, low, high)
        edits = Edits(hose=(what, size))
        return Mischief(kind=f"map_hose_{what}", channels=("map",), size={what: size}, edits=edits)

    return draw


def _pulsation(rng, _day, _panel, _truth, _units):
    size = _log_uniform(rng, 0.3e3, 11e3)
    return Mischief(kind="map_pulsation", channels=("map",), size={"rms_pa": size}, edits=Edits(pulsation=size))


def _stuck(rng, day, _panel, _truth, _units):
    name = _one(rng, CHANNELS)
    at = 0.0 if rng.random() < 0.3 else float(rng.uniform(0.1, 0.75) * day.plan.time_s[-1])
    return Mischief(kind="stuck", channels=(name,), size={"from_s": at}, edits=Edits(stuck_from={name: at}))


def _slow(rng, _day, _panel, _truth, _units):
    name, tau = _one(rng), _log_uniform(rng, 15, 420)
    return Mischief(kind="slow_probe", channels=(name,), size={"tau_s": tau}, edits=Edits(lag_s={name: tau}))


def _intermittent(rng, _day, _panel, truth, _units):
    """Loses contact for moments, oftener the more it shakes; a share of the rows between 0.3 and 30 %."""
    name = _one(rng, CHANNELS)
    share = _log_uniform(rng, 0.003, 0.3)
    mean = _log_uniform(rng, 0.15, 2.5)
    shake = 0.15 + truth.rpm / 3000.0
    starts = np.flatnonzero(rng.random(shake.size) < share * STEP_S / mean * shake / np.mean(shake))
    which = "open" if rng.random() < 0.75 else "short"
    if name in TRANSDUCERS:
        which = "short"  # a lost signal wire reads nothing
    moments = [(float(k * STEP_S), float(rng.exponential(mean)), which) for k in starts]
    return Mischief(
        kind="intermittent", channels=(name,), size={"share": share, "mean_s": mean}, edits=Edits(rails={name: moments})
    )


def _noise(rng, _day, _panel, _truth, _units):
    name = _one(rng, CHANNELS)
    tolerance = {"oil_pressure": 20e3, "fuel_pressure": 12e3, "map": 2e3}.get(name, 3.0)
    size = tolerance * _log_uniform(rng, 0.06, 5.0)
    return Mischief(kind="noise", channels=(name,), size={"rms": size}, edits=Edits(noise={name: size}))


def _clipped(rng, day, _panel, truth, _units):
    """A ceiling of the sensor's or of the input, somewhere under what the channel reaches."""
    name = str(rng.choice(["map", "oil_pressure", *THERMISTORS], p=[0.38, 0.3, 0.12, 0.12, 0.04, 0.04]))
    values = truth.at_probe[name]
    low = day.weather.station_pa if name == "map" else float(np.quantile(values[day.plan.running], 0.25))
    top = float(values.max())
    level = top - float(rng.beta(1.1, 1.2)) * max(top - low, 0.0)
    return Mischief(kind="clipped", channels=(name,), size={"level": level}, edits=Edits(clip={name: (-np.inf, level)}))


def _dropouts(rng, day, _panel, _truth, _units):
    share, mean = _log_uniform(rng, 0.008, 0.45), _log_uniform(rng, 0.3, 6.0)
    time = day.plan.time_s
    starts = time[np.flatnonzero(rng.random(time.size) < share * STEP_S / mean)]
    spans = [(float(at), float(rng.exponential(mean))) for at in starts]
    size = {"share": share, "mean_s": mean}
    way = rng.random()
    if way < 0.3:
        return Mischief(kind="dropouts", channels=CHANNELS, size=size, edits=Edits(lost_rows=spans))
    name = _one(rng, CHANNELS)
    edits = Edits(blanks={name: spans}) if way < 0.75 else Edits(holds={name: spans})
    return Mischief(kind="dropouts", channels=(name,), size=size, edits=edits)


def _since_fire(day):
    return day.plan.time_s - (day.plan.fire_s or 0.0)


def _low_oil(rng, day, _panel, _truth, _units):
    way = str(rng.choice(["never", "worn", "loss", "aeration"], p=[0.2, 0.35, 0.25, 0.2]))
    oil, aeration = np.ones(day.plan.time_s.size), 0.0
    stops = None
    if way == "never":
        left = float(rng.uniform(0.0, 0.25))
        oil = oil * left
        stops = float(rng.uniform(17, 50)) if rng.random() < 0.6 else None
    elif way == "worn":
        left = 1.0 - _log_uniform(rng, 0.04, 0.85)
        oil = oil * left
    elif way == "loss":
        left = 1.0 - _log_uniform(rng, 0.1, 1.0)
        at = float(rng.uniform(0.15, 0.85) * max(_since_fire(day)[-1], 30.0))
        fall = np.clip((_since_fire(day) - at) / rng.uniform(1, 40), 0, 1)
        oil = 1.0 - (1.0 - left) * fall
        stops = at + float(rng.uniform(10, 40)) if rng.random() < 0.4 else None
    else:
        left, aeration = 1.0, _log_uniform(rng, 0.05, 0.9)
    return Mischief(
        kind="low_oil_pressure_real", channels=("oil_pressure",), size={"left": left, "aeration": aeration},
        trouble=Trouble(oil=oil, oil_aeration=aeration), pilot_stops_s=stops,
    )  # fmt: skip


def _overheat(rng, day, _panel, _truth, _units):
    way = str(rng.choice(["radiator", "thermostat", "gearbox"], p=[0.5, 0.3, 0.2]))
    stops = float(rng.uniform(300, 700)) if rng.random() < 0.15 else None
    if way == "gearbox":
        hot = _log_uniform(rng, 1.5, 16)
        return Mischief(
            kind="overheat_real",
            channels=("gearbox_oil",),
            size={"heat": hot},
            trouble=Trouble(gear_heat=hot),
            pilot_stops_s=stops,
        )
    left = float(rng.beta(0.8, 2.0)) if way == "radiator" else float(rng.uniform(0.0, 0.15))
    from_s = float(rng.uniform(0, 0.5) * day.plan.time_s[-1]) if rng.random() < 0.3 else 0.0
    radiator = np.where(day.plan.time_s >= from_s, left, 1.0) if way == "radiator" else 1.0
    trouble = Trouble(radiator=radiator) if way == "radiator" else Trouble(thermostat=left)
    return Mischief(
        kind="overheat_real",
        channels=("coolant", "gearbox_oil"),
        size={"left": left},
        trouble=trouble,
        pilot_stops_s=stops,
    )


def _airlock(rng, day, _panel, _truth, _units):
    depth = _log_uniform(rng, 5, 45)
    from_s = (day.plan.fire_s or 0.0) + (0.0 if rng.random() < 0.6 else float(rng.uniform(30, 300)))
    left = float(rng.beta(0.8, 2.0))
    radiator = np.where(day.plan.time_s >= from_s, left, 1.0)
    return Mischief(
        kind="coolant_airlock_real", channels=("coolant",), size={"low_c": depth, "radiator_left": left},
        trouble=Trouble(airlock_c=depth, airlock_from_s=from_s, radiator=radiator),
    )  # fmt: skip


def _low_fuel(rng, day, _panel, _truth, _units):
    way = str(rng.choice(["sag", "low", "fade", "vapour"], p=[0.4, 0.25, 0.2, 0.15]))
    time = day.plan.time_s
    size = 0.0
    fuel = np.ones(time.size)
    if way == "sag":
        size = _log_uniform(rng, 8e3, 300e3)
    elif way == "low":
        fuel = fuel * (1.0 - _log_uniform(rng, 0.02, 0.7))
    elif way == "fade":
        fall = np.clip((time - rng.uniform(0.1, 0.7) * time[-1]) / rng.uniform(20, 300), 0, 1)
        fuel = 1.0 - _log_uniform(rng, 0.05, 0.8) * fall
    else:  # vapour: dips that come and go once things are warm
        dips = np.abs(wander(rng, time.size, 1.0, 3.0)) * (time > rng.uniform(0.2, 0.6) * time[-1])
        fuel = np.clip(1.0 - _log_uniform(rng, 0.05, 0.5) * lag(dips, 0.5), 0.0, 1.0)
    return Mischief(
        kind="low_fuel_pressure_real", channels=("fuel_pressure",),
        size={"sag_pa": size, "least_left": float(fuel.min())},
        trouble=Trouble(fuel=fuel, fuel_sag=size),
    )  # fmt: skip


_DRAW = {
    "open_circuit": _hard("open"), "short_circuit": _hard("short"), "wrong_curve": _wrong_curve,
    "wrong_pullup": _wrong_pullup, "wrong_unit": _wrong_unit, "contact_resistance": _contact, "ref_sag": _ref_sag,
    "ground_offset": _ground, "wrong_reference_type": _reference_type,
    "swapped_charge": _swap("swapped_charge", "charge_in", "charge_out"),
    "swapped_oil_fuel": _swap("swapped_oil_fuel", "oil_pressure", "fuel_pressure"), "channel_slip": _slip,
    "map_hose_off": _hose("off", 1.0, 1.01), "map_hose_leak": _hose("leak", 0.01, 0.7),
    "map_hose_pinched": _hose("pinched", 1.0, 60.0), "map_pulsation": _pulsation, "stuck": _stuck, "slow_probe": _slow,
    "intermittent": _intermittent, "noise": _noise, "clipped": _clipped, "dropouts": _dropouts,
    "low_oil_pressure_real": _low_oil, "overheat_real": _overheat, "coolant_airlock_real": _airlock,
    "low_fuel_pressure_real": _low_fuel,
}  # fmt: skip
KINDS = tuple(_DRAW)
