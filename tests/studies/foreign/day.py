"""The day: weather, the engine's make, the panel's make and what the pilot does, all drawn from one seed.

All figures are common practice or invention, no source, but the altimeter relation (ICAO Doc 7488).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

STEP_S = 0.1
"""Grid on which the engine and the panel are worked out."""

CHANNELS = ("coolant", "gearbox_oil", "charge_in", "charge_out", "oil_pressure", "fuel_pressure", "map")
THERMISTORS = CHANNELS[:4]
TRANSDUCERS = CHANNELS[4:]
SIDE = ("rpm", "bus", "oat")


@dataclass(frozen=True, slots=True, kw_only=True)
class Weather:
    """Where and when: what is true, and what the builder typed."""

    elevation_m: float
    typed_elevation_m: float
    typed_qnh_pa: float
    station_pa: float
    air_c: float
    start: str  # 'cold', 'hangar', 'preheated' or 'hot'
    soak_c: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Make:
    """The engine: heat in kW, heat capacities in kJ/K, conductances in kW/K, pressures in Pa."""

    idle_rpm: float
    top_rpm: float
    map_closed: float
    map_span: float
    map_bend: float
    turbo_s: float
    turbo_damping: float
    heat: float
    exhaust: float
    c_coolant: float
    c_head: float
    c_radiator: float
    c_block: float
    c_gear: float
    ua_radiator: float
    ua_block: float
    ua_gear_block: float
    ua_gear_air: float
    pump_flow: float
    gear_heat: float
    thermostat_c: float
    thermostat_width: float
    wax_s: float
    pick_up_c: float
    eta: float
    cooler: float
    duct_s: float
    core_s: float
    cowl_soak: float
    oil_scale: float
    oil_relief: float
    oil_bend: float
    oil_b: float
    oil_cold_lift: float
    oil_fill_s: float
    oil_drain_s: float
    fuel_set: float
    fuel_reference: str
    fuel_droop: float
    fuel_hold_s: float
    fuel_residual: float
    fuel_soak_rise: float
    limits: dict[str, tuple[float | None, float | None]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """What is done, on the grid; `notes` are times of events in s since the log began."""

    command_rpm: np.ndarray
    running: np.ndarray
    cranking: np.ndarray
    pump: np.ndarray
    load_a: np.ndarray
    fire_s: float | None
    stop_s: float | None

    @property
    def time_s(self):
        """Grid of times, s."""
        return np.arange(self.command_rpm.size) * STEP_S


@dataclass(frozen=True, slots=True, kw_only=True)
class Day:
    """All that is drawn before anything goes wrong."""

    seed: int
    weather: Weather
    make: Make
    plan: Plan


def draw_day(seed, attempt=0):
    """Draw a day; the same seed and attempt give the same day."""
    rng = np.random.default_rng([seed, 11, attempt])
    weather = _weather(rng)
    make = _make(rng, weather)
    return Day(seed=seed, weather=weather, make=make, plan=_plan(rng, weather, make))


def station_pressure(qnh_pa, elevation_m):
    """Pressure at an elevation from the altimeter setting (ICAO Doc 7488 relation as usually written, hPa and m)."""
    n = 0.190263
    return 100.0 * ((qnh_pa / 100.0) ** n - 8.417286e-5 * elevation_m) ** (1.0 / n)


def _weather(rng):
    elevation = float(
        rng.choice([rng.uniform(0, 300), rng.uniform(200, 900), rng.uniform(800, 2100)], p=[0.4, 0.4, 0.2])
    )
    qnh = float(np.clip(rng.normal(101_500, 900), 98_600, 104_000))
    air = float(np.clip(rng.normal(13, 11) if rng.random() < 0.88 else rng.uniform(-19, 2), -19, 36))
    start = str(rng.choice(["cold", "hangar", "preheated", "hot"], p=[0.6, 0.17, 0.06, 0.17]))
    if start == "preheated" and air > 5:
        start = "cold"
    soak = {"cold": rng.normal(0.3, 0.9), "hangar": rng.uniform(1.5, 6.5)}.get(start, rng.normal(0, 0.8))
    return Weather(
        elevation_m=elevation, typed_elevation_m=round(elevation + rng.normal(0, 3)),
        typed_qnh_pa=100.0 * round((qnh + rng.normal(0, 50)) / 100.0), station_pa=station_pressure(qnh, elevation),
        air_c=air, start=start, soak_c=air + float(np.clip(soak, -2.2, 6.5)),
    )  # fmt: skip


def _make(rng, weather):
    u = rng.uniform
    fuel_set = float(rng.choice([250e3, 270e3, 300e3, 350e3, 380e3]))
    idle_oil, relief = u(170e3, 290e3), u(390e3, 500e3)
    oil_low = round(u(0.45, 0.68) * idle_oil / 1e4) * 1e4
    reference = str(rng.choice(["open air", "manifold", "airbox"], p=[0.5, 0.3, 0.2]))
    closed, span = u(26e3, 34e3), u(92e3, 112e3)
    idle = float(rng.choice([1400, 1500, 1650, 1800, 1900, 2050]))
    fuel_low = (
        round(fuel_set * u(0.62, 0.7) / 1e4) * 1e4
        if reference == "manifold"
        else round((fuel_set - u(45e3, 80e3)) / 1e4) * 1e4
    )
    fuel_high = fuel_set + (120e3 if reference != "open air" else 70e3)
    limits = {
        "coolant": (None, float(rng.choice([105, 110, 115, 118, 120]))),
        "gearbox_oil": (None, float(rng.choice([115, 120, 130]))),
        "charge_out": (None, float(rng.choice([75, 80, 90]))),
        "oil_pressure": (oil_low, float(rng.choice([600e3, 650e3, 700e3, 700e3, 800e3]))),
        "fuel_pressure": (fuel_low, round(fuel_high / 1e4) * 1e4),
        "map": (None, float(rng.choice([150e3, 155e3, 160e3]))),
    }
    for name in list(limits):
        if rng.random() < (0.45 if name == "charge_out" else 0.07):
            del limits[name]
    top = u(4900, 5700)
    return Make(
        idle_rpm=idle, top_rpm=top, map_closed=closed, map_span=span, map_bend=u(1.9, 2.4),
        turbo_s=u(0.35, 0.9), turbo_damping=u(0.65, 1.1), heat=u(44, 66), exhaust=u(0.007, 0.024),
        c_coolant=u(13, 20), c_head=u(10, 15), c_radiator=u(8, 13), c_block=u(24, 40), c_gear=u(12, 20),
        ua_radiator=u(1.3, 1.9), ua_block=u(0.1, 0.2), ua_gear_block=u(0.018, 0.045), ua_gear_air=u(0.03, 0.06),
        pump_flow=u(1.8, 2.6), gear_heat=u(2.2, 4.2), thermostat_c=u(77, 87), thermostat_width=u(1.2, 2.4),
        wax_s=u(5, 14), pick_up_c=u(0.5, 3.5), eta=u(0.58, 0.72), cooler=u(0.5, 0.8), duct_s=u(5, 14),
        core_s=u(10, 28), cowl_soak=u(0.25, 0.42),
        oil_scale=idle_oil / (idle / 5500.0), oil_relief=relief, oil_bend=u(3, 5.5), oil_b=u(3600, 4400),
        oil_cold_lift=u(0.045, 0.10), oil_fill_s=u(0.5, 2.2), oil_drain_s=u(0.7, 2.2),
        fuel_set=fuel_set, fuel_reference=reference, fuel_droop=u(0.5e3, 4e3),
        fuel_hold_s=float(10 ** u(0.8, 3.3)), fuel_soak_rise=float(rng.choice([0, u(10e3, 70e3)], p=[0.65, 0.35])),
        fuel_residual=float(u(0.1, 0.95)) if rng.random() < (0.7 if weather.start == "hot" else 0.2) else 0.0,
        limits=limits,
    )  # fmt: skip


def _plan(rng, weather, make):
    """Write the pilot's day as (seconds, command rpm, running, cranking, pump) pieces, then lay them on the grid."""
    u = rng.uniform
    pieces = []
    rest = 0.0 if rng.random() < 0.2 else u(6, 140)
    if rest:
        pieces.append((rest, 0, False, False, False))
    if rng.random() < 0.92:
        pieces.append((u(3, 24), 0, False, False, True))
    crank = u(1.2, 4.5) + (u(0.5, 3) if weather.soak_c < -5 else 0)
    if rng.random() < 0.12:  # the first try fails
        pieces += [(u(2.5, 6), 0, False, True, True), (u(4, 15), 0, False, False, rng.random() < 0.6)]
    pieces.append((crank, 0, False, True, True))
    fire = sum(piece[0] for piece in pieces)
    idle = make.idle_rpm
    runs = [(u(20, 90), idle + (u(0, 350) if weather.start != "hot" else 0))]
    if rng.random() >= 0.13:  # otherwise a first start for leaks only, stopped early
        runs += _warming(rng, idle, weather)
        if rng.random() < 0.25:  # a long first run on the ground, as a new engine wants it
            runs += [(u(80, 240), u(1900, 3200)) for _ in range(rng.integers(2, 5))]
        runs += _taxi(rng, idle) if rng.random() < 0.45 else []
        runs += _run_up(rng, make)
        runs += [(u(30, 150), idle + u(0, 150))]
    pieces += [(seconds, rpm, True, False, True) for seconds, rpm in runs]
    stop = sum(piece[0] for piece in pieces)
    if rng.random() < 0.82:
        pieces.append((u(1, 4), 0, False, False, rng.random() < 0.3))
        pieces.append((u(3, 280), 0, False, False, False))
    parts = [np.full(max(1, round(piece[0] / STEP_S)), 1) for piece in pieces]
    lay = [np.concatenate([part * piece[k] for part, piece in zip(parts, pieces, strict=True)]) for k in (1, 2, 3, 4)]
    size = lay[0].size
    ended = int(u(0.35, 0.95) * size) if rng.random() < 0.1 else size  # the log stops anywhere, often while running
    ended = max(ended, min(size, int((fire + 25) / STEP_S)))
    load = np.full(size, u(2, 6)) + u(3, 6) * lay[3]
    for _ in range(rng.integers(0, 5)):  # lights, pitot heat, radio
        at, length = u(0, size), u(50, 900)
        load[int(at) : int(at + length)] += u(3, 12)
    return Plan(
        command_rpm=lay[0][:ended].astype(float), running=lay[1][:ended].astype(bool),
        cranking=lay[2][:ended].astype(bool), pump=lay[3][:ended].astype(bool), load_a=load[:ended],
        fire_s=fire if fire < ended * STEP_S else None,
        stop_s=stop if stop < ended * STEP_S and stop < size * STEP_S else None,
    )  # fmt: skip


def _warming(rng, idle, weather):
    """Warm up: a few steady speeds, each somewhat higher, as patience allows."""
    total = rng.uniform(90, 260) if weather.start == "hot" else rng.uniform(200, 640)
    speeds = np.sort(rng.uniform(idle, 2700, rng.integers(2, 5)))
    shares = rng.dirichlet(np.full(speeds.size, 4.0))
    return [(max(15.0, total * share), speed) for share, speed in zip(shares, speeds, strict=True)]


def _taxi(rng, idle):
    """Taxi to the run-up place: bursts and pauses."""
    return [(rng.uniform(6, 35), rng.choice([idle, rng.uniform(2000, 3100)])) for _ in range(rng.integers(3, 9))]


def _run_up(rng, make):
    """Ignition checks and one or more bursts of power."""
    runs = []
    if rng.random() < 0.7:
        check = rng.uniform(3400, 4200)
        for _ in range(2):
            runs += [(rng.uniform(4, 10), check), (rng.uniform(2, 4), check - rng.uniform(50, 160))]
        runs += [(rng.uniform(3, 9), check), (rng.uniform(8, 40), make.idle_rpm + 200)]
    for _ in range(rng.choice([0, 1, 2, 3], p=[0.12, 0.5, 0.26, 0.12])):
        if rng.random() < 0.3:
            runs.append((rng.uniform(5, 25), rng.uniform(4000, 4800)))
        runs.append((rng.uniform(4, 24), make.top_rpm * rng.uniform(0.9, 1.0)))
        runs.append((rng.uniform(12, 60), make.idle_rpm + rng.uniform(0, 500)))
    return runs
