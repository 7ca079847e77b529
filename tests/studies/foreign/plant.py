"""The engine itself: true values on the grid, by small steps of heat and pressure balances.

Lumped heat balances (any text on heat transfer), compressor temperature T1 (PR^0.286 - 1)/eta (any text on
thermodynamics), Andrade's viscosity exp(B/T); constants are invented. Real trouble is an edit of this engine.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.signal import lfilter

from tests.studies.foreign.day import STEP_S


@dataclass(frozen=True, slots=True, kw_only=True)
class Trouble:
    """What is wrong with the engine itself; the defaults are a healthy engine.

    `oil` and `fuel` give, on the grid, what is left of the pressure; `radiator` and `thermostat` what is left of
    each; `gear_heat` multiplies the gearbox's own heat; `airlock_c` is how far the coolant tip reads low.
    """

    oil: np.ndarray | float = 1.0
    oil_aeration: float = 0.0
    fuel: np.ndarray | float = 1.0
    fuel_sag: float = 0.0
    radiator: np.ndarray | float = 1.0
    thermostat: float = 1.0
    gear_heat: float = 1.0
    airlock_c: float = 0.0
    airlock_from_s: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Truth:
    """True values on the grid: what each probe's place has, and what the limits are about (`state`)."""

    at_probe: dict[str, np.ndarray]
    state: dict[str, np.ndarray]
    rpm: np.ndarray
    bus: np.ndarray
    air_c: np.ndarray
    oil_warm: np.ndarray
    current_a: np.ndarray


def lag(values, seconds, first=None):
    """First-order lag of one time constant, started settled."""
    keep = np.exp(-STEP_S / max(seconds, 1e-3))
    start = values[0] if first is None else first
    return lfilter([1.0 - keep], [1.0, -keep], values, zi=[keep * start])[0]


def wander(rng, size, sigma, seconds):
    """Noise with a memory: an autoregression of order one."""
    keep = np.exp(-STEP_S / seconds)
    return lfilter([sigma * np.sqrt(1.0 - keep * keep)], [1.0, -keep], rng.standard_normal(size))


def run_engine(day, trouble=None):
    """Run the engine through the day's plan.

    The same day gives the same hunting and weather whatever the trouble is, so that a twin differs by it alone.
    """
    trouble = trouble or Trouble()
    rng = np.random.default_rng([day.seed, 22])
    plan, size = day.plan, day.plan.command_rpm.size
    air = day.weather.air_c + 0.4 * wander(rng, size, 1.0, 120.0)
    rpm = _speed(rng, day)
    map_pa, boost, power = _manifold(rng, day, rpm)
    heat = _heat(day, trouble, rpm, boost, power)
    probe, state = {}, {}
    for name in ("coolant", "gearbox_oil", "charge_in", "charge_out"):
        probe[name] = state[name] = heat[name]
    probe["coolant"] = heat["coolant"] + wander(rng, size, 0.12, 4.0) * plan.running
    if trouble.airlock_c:
        probe["coolant"] = _airlock(day, trouble, heat["coolant"])
    state["oil_pressure"] = _oil(rng, day, trouble, rpm, heat["block"])
    state["fuel_pressure"] = _fuel(rng, day, trouble, map_pa, boost, power)
    state["map"] = map_pa
    probe |= {name: state[name] for name in ("oil_pressure", "fuel_pressure", "map")}
    bus, current = _bus(rng, day, rpm)
    return Truth(
        at_probe=probe, state=state, rpm=rpm, bus=bus, air_c=air, oil_warm=heat["block"] > 40.0, current_a=current
    )


def _speed(rng, day):
    plan, make = day.plan, day.make
    size = plan.command_rpm.size
    rpm = lag(plan.command_rpm, rng.uniform(0.5, 1.1))
    if plan.fire_s is not None:
        since = plan.time_s - plan.fire_s
        rpm = rpm + np.where(since > 0, rng.uniform(150, 600) * np.exp(-np.maximum(since, 0) / 2.0), 0.0) * plan.running
    hunting = rng.uniform(6, 26) * np.minimum(1.0, (make.idle_rpm / np.maximum(rpm, 300.0)))
    rpm = rpm + hunting * wander(rng, size, 1.0, rng.uniform(0.8, 2.5)) * plan.running
    crank = lag(np.where(plan.cranking, rng.uniform(190, 320), 0.0), 0.25)
    return np.maximum(rpm, np.where(plan.running, 300.0, 0.0)) * (rpm > 25.0) + np.where(plan.running, 0.0, crank)


def _manifold(rng, day, rpm):
    """Manifold pressure: throttled air up to the surroundings, then a second-order turbo on top of it."""
    plan, make, station = day.plan, day.make, day.weather.station_pa
    size = rpm.size
    command = np.where(plan.running, plan.command_rpm, make.idle_rpm)
    wish = make.map_closed + make.map_span * (command / 5500.0) ** make.map_bend
    ceiling = 0.97 * station
    open_part = lag(np.minimum(wish, ceiling), 0.3)
    wished = np.maximum(wish - ceiling, 0.0).tolist()
    boost = np.zeros(size)
    if max(wished) > 0.0:
        x = v = 0.0
        w, z = 1.0 / make.turbo_s, make.turbo_damping
        held = [0.0] * size
        for i, target in enumerate(wished):
            if target < x - 1e3:  # a shut throttle vents at once
                x += (target - x) * STEP_S / 0.35
                v = 0.0
            elif target > 0.0 or x > 1.0:
                v += STEP_S * (w * w * (target - x) - 2.0 * z * w * v)
                x += STEP_S * v
            held[i] = x
        boost = np.maximum(np.array(held), 0.0)
    running = open_part + boost
    hunting = rng.uniform(250, 1100) * np.minimum(1.0, make.idle_rpm / np.maximum(rpm, 500.0))
    running = (
        running + hunting * wander(rng, size, 1.0, rng.uniform(0.5, 1.6)) + rng.normal(0, rng.uniform(60, 300), size)
    )
    pumping = np.clip(rpm / (0.55 * make.idle_rpm), 0.0, 1.0)
    pumping = np.where(plan.running, pumping, np.where(plan.cranking, 0.0, pumping**2))
    pumping = lag(pumping, 0.25)
    still = station - rng.uniform(2e3, 7e3) * lag(plan.cranking.astype(float), 0.3)
    map_pa = still + (running - still) * pumping
    power = np.where(plan.running, running * rpm / (135e3 * 5500.0), 0.0)
    return map_pa, boost * pumping, np.clip(power, 0.0, 1.5)


def _heat(day, trouble, rpm, boost, power):
    """Nine lumps, one explicit step a second."""
    make, w, plan = day.make, day.weather, day.plan
    station, air, size = w.station_pa, w.air_c, rpm.size
    every = round(1.0 / STEP_S)
    n_s, p_s = rpm[::every].tolist(), power[::every].tolist()
    ratio = ((station * (1.01 + 0.09 * power) + boost) / station)[::every]
    rise = ((ratio**0.286 - 1.0) / make.eta).tolist()
    radiator = np.broadcast_to(np.asarray(trouble.radiator, float), (size,))[::every].tolist()
    start = _start_temperatures(day)
    tc, th, tr, tb, tg, t1, t2, tw, tx = start
    wax = tc
    kept = []
    for n, q, up, rad in zip(n_s, p_s, rise, radiator, strict=True):
        on = n > 400.0
        speed = n / 5500.0
        wind = speed if on else 0.02
        flow = 0.12 + 0.88 * speed if on else 0.02
        heat = make.heat * q
        ua_head = 0.35 + 2.4 * flow
        wax += (tc - wax) / make.wax_s
        opening = trouble.thermostat / (1.0 + np.exp(-(wax - make.thermostat_c - 3.0) / make.thermostat_width)) + 0.01
        through = make.pump_flow * flow * opening
        to_coolant = ua_head * (th - tc)
        to_radiator = through * (tc - tr)
        to_block = make.ua_block * (1.0 if on else 0.12) * (tc - tb)
        ua_rad = make.ua_radiator * rad * (0.12 + 0.88 * wind)
        to_gear = make.ua_gear_block * (0.4 + 0.6 * on) * (tb - tg)
        gear = trouble.gear_heat * make.gear_heat * speed * speed * (0.45 + 0.55 * q) if on else 0.0
        kept.append((tc, tg, t1, t2, tb, tw))
        boil = 6.0 * max(0.0, tc - 128.0)  # what boils off carries its heat away
        tc += (to_coolant - to_radiator - to_block - (0.02 if on else 0.008) * (tc - tw) - boil) / make.c_coolant
        th += (0.82 * heat - to_coolant + make.exhaust * (tx - th)) / make.c_head
        tr += (to_radiator - ua_rad * (tr - air)) / make.c_radiator
        tb += (0.18 * heat + to_block - to_gear - (0.015 + 0.05 * wind) * (tb - tw)) / make.c_block
        gear *= min(1.0, max(0.0, (185.0 - tg) / 60.0))  # hot oil is thin and drags less
        tg += (gear + to_gear - (0.006 + make.ua_gear_air * wind) * (tg - tw)) / make.c_gear
        intake = air + make.pick_up_c + 0.08 * (tw - air)
        gas = intake + (intake + 273.15) * up
        if on:
            wall = 0.2 / (0.2 + 4.0 * q)
            t1 += (gas + wall * (tw - gas) - t1) / (make.duct_s * (1.0 + 2.5 / (1.0 + 12.0 * q)))
            cold = air + 0.12 * (tw - air) * (1.0 - speed)
            t2 += (t1 - make.cooler * (1.0 - 0.15 * q) * (t1 - cold) - t2) / make.core_s
            tw += (air + 3.0 + 0.09 * (th - air) * (1.0 - 0.5 * speed) - tw) / 45.0
            tx += (230.0 + 430.0 * q - tx) / 45.0
        else:
            t1 += (tw + 0.022 * (tx - tw) - t1) / 85.0
            t2 += (air + 0.55 * (tw - air) - t2) / 170.0
            tw += (air + make.cowl_soak * (th - air) - tw) / 110.0
            tx += (tw - tx) / 240.0
    table = np.array(kept)
    seconds, grid = np.arange(table.shape[0]), plan.time_s
    names = ("coolant", "gearbox_oil", "charge_in", "charge_out", "block", "cowl")
    return {name: np.interp(grid, seconds, table[:, k]) for k, name in enumerate(names)}


def _start_temperatures(day):
    """Temperatures when the log begins: coolant, head, radiator, block, gearbox, charge in and out, cowl, turbo."""
    rng = np.random.default_rng([day.seed, 23])
    w, air = day.weather, day.weather.air_c
    if w.start == "hot":
        tc = rng.uniform(48, 76)
        tb, tg = tc - rng.uniform(2, 8), tc - rng.uniform(0, 14)
        tw = air + rng.uniform(0.15, 0.35) * (tc - air)
        t1 = tw + rng.uniform(0, 6)
        return tc, tc + 1, air + 0.5 * (tc - air), tb, tg, t1, air + 0.6 * (tw - air), tw, tw + rng.uniform(10, 90)
    spread = np.clip(rng.normal(0, 0.35, 6), -0.8, 0.8)
    soak = w.soak_c
    if w.start == "preheated":
        up = rng.uniform(15, 40)
        return (
            soak + up, soak + up, soak + 0.3 * up, soak + 0.8 * up, soak + 0.4 * up, soak + 0.1 * up, soak + 0.05 * up,
            soak + 0.15 * up, soak + 0.1 * up,
        )  # fmt: skip
    return (
        soak + spread[0], soak + spread[0], soak + spread[4], soak + spread[0], soak + spread[1], soak + spread[2],
        soak + spread[3], soak + spread[5], soak,
    )  # fmt: skip


def _airlock(day, trouble, liquid):
    """What a tip in vapour shows: low, slow, with sudden visits of hot liquid."""
    rng = np.random.default_rng([day.seed, 24])
    size, time = liquid.size, day.plan.time_s
    on = day.plan.running & (time > trouble.airlock_from_s)
    visits = np.zeros(size)
    for start in np.flatnonzero(rng.random(size) < STEP_S / rng.uniform(12, 45)):
        length = int(rng.uniform(1.5, 9) / STEP_S)
        visits[start : start + length] = rng.uniform(0.3, 1.0)
    depth = trouble.airlock_c * np.clip((liquid - day.weather.air_c - 10.0) / 45.0, 0.0, 1.3)
    low = liquid - depth * lag(on.astype(float), 15.0)
    low = low + wander(rng, size, 0.12 * trouble.airlock_c, 5.0) * on * np.clip(
        (liquid - day.weather.air_c) / 40.0, 0, 1
    )
    return low + (liquid - low) * lag(visits * on, 0.8)


def _oil(rng, day, trouble, rpm, oil_c):
    """Oil pressure: a pump that moves by the turn, a leak that thins, and a relief valve that softens the two."""
    make, plan = day.make, day.plan
    size = rpm.size
    thin = np.exp(make.oil_b * (1.0 / (oil_c + 273.15) - 1.0 / 363.15))
    free = make.oil_scale * (rpm / 5500.0) * thin**0.65
    relief = make.oil_relief * (1.0 + make.oil_cold_lift * np.log(np.maximum(thin, 1.0)) + 0.06 * rpm / 5500.0)
    pressure = free / (1.0 + (free / relief) ** make.oil_bend) ** (1.0 / make.oil_bend)
    if trouble.oil_aeration:
        over = np.clip((rpm - 2300.0) / 2500.0, 0.0, 1.0)
        bubble = 0.35 * trouble.oil_aeration * np.abs(wander(rng_for(day, 25), size, 1.0, 0.6))
        pressure = pressure * np.clip(1.0 - over * (trouble.oil_aeration + bubble), 0.02, 1.0)
    pressure = pressure * trouble.oil
    cold = np.clip((20.0 - oil_c[0]) / 40.0, 0.0, 1.0)
    fill = np.zeros(size)
    if plan.fire_s is not None:
        since = plan.time_s - plan.fire_s - make.oil_fill_s * (1.0 + cold)
        fill = np.where(since > 0, 1.0 - np.exp(-np.maximum(since, 0.0) / (0.6 + 0.9 * cold)), 0.0)
    running = lag(np.where(plan.running, pressure * fill, 0.0), 0.25, first=0.0)
    noise = rng.uniform(0.8e3, 3.5e3) * wander(rng, size, 1.0, 0.5) * np.sqrt(np.clip(running / 3e5, 0, 1.5))
    crank = rng.uniform(0, 60e3) * lag(plan.cranking.astype(float), 1.2) * np.asarray(trouble.oil)
    out = running + noise + crank
    if plan.stop_s is not None:
        at = min(int(plan.stop_s / STEP_S), size - 1)
        after = plan.time_s[at:] - plan.time_s[at]
        out[at:] = max(out[max(at - 1, 0)], 0.0) * np.exp(-after / make.oil_drain_s)
    return np.maximum(out, 0.0)


def rng_for(day, salt):
    """A stream of its own, so that one trouble's noise does not move another's."""
    return np.random.default_rng([day.seed, salt])


def _fuel(rng, day, trouble, map_pa, boost, power):
    """Fuel pressure (gauge) after pump and regulator; trapped after the pump stops."""
    make, plan, station = day.make, day.plan, day.weather.station_pa
    size = map_pa.size
    reference = {"open air": 0.0, "manifold": map_pa - station, "airbox": 0.9 * boost}[make.fuel_reference]
    wanted = np.maximum(make.fuel_set + reference - make.fuel_droop * power, 0.0)
    wanted = wanted * trouble.fuel - trouble.fuel_sag * power**1.6
    wanted = wanted + rng.uniform(0.2e3, 1.4e3) * wander(rng, size, 1.0, 0.7)
    rise = STEP_S / rng.uniform(0.25, 0.8)
    slow = STEP_S / make.fuel_hold_s
    x = make.fuel_residual * make.fuel_set
    out = [0.0] * size
    for i, (want, on) in enumerate(zip(np.maximum(wanted, 0.0).tolist(), plan.pump.tolist(), strict=True)):
        x += (want - x) * rise if on else -x * slow
        out[i] = x
    fuel = np.array(out)
    if make.fuel_soak_rise and plan.stop_s is not None:
        since = np.maximum(plan.time_s - plan.stop_s, 0.0)
        fuel = fuel + make.fuel_soak_rise * (1.0 - np.exp(-since / 90.0)) * np.exp(-since / make.fuel_hold_s)
    return fuel


def _bus(rng, day, rpm):
    """Bus voltage, and the current in the engine's ground strap: starter positive, charging negative."""
    plan, size = day.plan, rpm.size
    battery, inner = rng.uniform(12.3, 12.9), rng.uniform(0.012, 0.02)
    charge_v, cut_in = rng.uniform(13.7, 14.4), rng.uniform(900, 1700)
    cranking = lag(plan.cranking.astype(float), 0.12)
    edge = plan.cranking & ~np.roll(plan.cranking, 4)
    starter = rng.uniform(110, 190) * cranking + 60.0 * lag(edge.astype(float), 0.2)
    if day.weather.soak_c < 0:
        starter = starter * 1.2
    # Below its cut-in speed the alternator carries a part of the load only.
    carried = rng.uniform(0.25, 0.6) + np.clip((lag(rpm, 2.0) - cut_in) / 350.0, 0.0, 1.0)
    charging = lag(plan.running * np.minimum(carried, 1.0), rng.uniform(0.6, 2.5))
    since = np.maximum(plan.time_s - (plan.fire_s or 0.0), 0.0)
    refill = rng.uniform(4, 18) * np.exp(-since / rng.uniform(60, 400))
    rest = battery - inner * (plan.load_a + starter)
    bus = rest + (charge_v - 0.004 * plan.load_a - rest) * charging + rng.normal(0, 0.02, size)
    return bus, starter - charging * (plan.load_a + refill)
