"""The invented engine as it really is over one outing: heat, oil, fuel, manifold, speed and bus, from the physics.

Lumped heat balances (C dT/dt = heat in - UA (T - T_air), any heat-transfer text), the compressor's law, a pump against
bearings and a relief valve. Every constant that is not a law is an estimate: see `simulate_scenario`.
"""

from __future__ import annotations

import math

import numpy as np

from sensorcal.firststart.simulate_plan import NO_TROUBLE, Floats, Mask, Plan, Ripple, Trouble, Truth, lagged
from sensorcal.firststart.simulate_scenario import Motor, StartCase
from sensorcal.physics.atmosphere import ZERO_C_K
from sensorcal.physics.compressor import compressor_outlet_c

COARSE_S = 2.0
"""Step of the heat balances."""
_FULL_FLOW_RPM = 5500.0
# Estimates: cranking speed 1/min; conductance of the whole water flow W/K; radiator and engine oil J/K; boiling degC.
_CRANK_RPM, _WATER_W_K, _RADIATOR_J_K, _OIL_J_K, _BOILS_C = 260.0, 1100.0, 9e3, 13e3, 138.0


def run_engine(case: StartCase, plan: Plan, ripple: Ripple, trouble: Trouble = NO_TROUBLE) -> Truth:
    """Let the engine run over its outing.

    Parameters
    ----------
    case : StartCase
    plan : Plan
    ripple : Ripple
    trouble : Trouble

    Returns
    -------
    Truth
    """
    t, step = ripple.time_s, ripple.step_s
    motor, day = case.motor, case.day
    running = (t >= plan.fires_s) & (t < plan.stop_s)
    cranking = np.zeros(t.shape, dtype=bool)
    for begin, end in plan.cranks:
        cranking |= (t >= begin) & (t < end)
    speed, target_pa, is_idle = _commanded(case, plan, t)
    rpm = _speed(motor, plan, ripple, speed, running, cranking, is_idle)
    manifold = _manifold(case, plan, ripple, target_pa, running, cranking, is_idle)
    air_c = day.oat_c + day.drift_k * t / plan.end_s
    flow = np.where(running, manifold / 1e5 * rpm / _FULL_FLOW_RPM, 0.0)
    # Open throttle needs the compressor; on a part throttle the wastegate leaves a few per cent.
    ratio = np.where(running, np.maximum(1.0 + 0.04 * flow, (manifold + 3e3) / day.station_pa), 1.0)
    ratio = np.where(manifold < 0.97 * day.station_pa, 1.0 + 0.04 * flow, ratio)
    heat = _heat(case, plan, t, rpm, flow, ratio, running, trouble)

    def fine(name: str) -> Floats:
        return np.interp(t, heat["time"], heat[name])

    coolant = fine("coolant") + _head_soak(case, plan, t, fine("coolant"), air_c)
    coolant = coolant + 0.12 * ripple.slow["coolant"] * running
    tip = coolant if trouble.airlock_ratio == 0.0 else _vapour(ripple, coolant, fine("bay"), running, trouble)
    ducts = fine("intake"), fine("wall"), fine("core")
    charge_in, charge_out = _charge(case, ripple, ducts, air_c, flow, ratio, running)
    oil = _oil(case, plan, ripple, rpm, fine("engine_oil"), trouble)
    fuel = _fuel(case, plan, t, manifold, flow, trouble)
    bus, current = _bus(case, plan, t, rpm, running)
    return Truth(
        plan=plan, time_s=t, step_s=step, running=running, turning=running | cranking, tip_c=tip,
        body_c=0.5 * (coolant + fine("bay")), current_a=current, station_pa=day.station_pa,
        values={
            "coolant": coolant, "gearbox_oil": fine("gearbox"), "charge_in": charge_in, "charge_out": charge_out,
            "oil_pressure": oil, "fuel_pressure": fuel, "map": manifold, "rpm": rpm, "bus": bus,
            "oat": air_c + 0.15 * ripple.slow["oat"],
        },
    )  # fmt: skip


def _commanded(case: StartCase, plan: Plan, t: Floats) -> tuple[Floats, Floats, Mask]:
    """Speed and manifold pressure the pilot asks for, and where that is idle."""
    begins = np.array([step[0] for step in plan.steps])
    at = np.clip(np.searchsorted(begins, t, side="right") - 1, 0, None)
    speeds = np.array([step[1] for step in plan.steps])
    targets = np.array([step[2] for step in plan.steps])
    return speeds[at], targets[at], (speeds == case.motor.idle_rpm)[at]


def _speed(
    motor: Motor, plan: Plan, ripple: Ripple, asked: Floats, running: Mask, cranking: Mask, idle: Mask
) -> Floats:
    t, step = ripple.time_s, ripple.step_s
    since = np.clip(t - plan.fires_s, 0.0, None)
    target = np.where(running, asked, np.where(cranking, _CRANK_RPM, 0.0))
    # A flare when it catches, and a faster idle while cold: estimates.
    target = target + np.where(running & idle, motor.cold_idle_rpm * np.exp(-since / 150.0), 0.0)
    target = target + np.where(running, 350.0 * np.exp(-since / 1.5), 0.0)
    rpm = lagged(np.where(running & (since > 4.0), lagged(target, motor.throttle_s, step), target), 0.6, step)
    swing = motor.hunting_rpm * np.sin(2.0 * math.pi * t / motor.hunting_period_s + ripple.phase)
    return np.asarray(np.maximum(rpm + np.where(running, swing * idle + (0.006 * rpm) * ripple.slow["rpm"], 0.0), 0.0))


def _manifold(
    case: StartCase, plan: Plan, ripple: Ripple, target: Floats, running: Mask, cranking: Mask, idle: Mask
) -> Floats:
    """Manifold pressure, Pa absolute: throttle at once, boost behind the turbo's lag, ripple."""
    motor, station = case.motor, case.day.station_pa
    t, step = ripple.time_s, ripple.step_s
    dip = 2e3 + 6e3 * (0.5 + 0.5 * math.sin(ripple.phase))  # 2 to 8 kPa while cranking, common practice
    asked = np.where(running, target, np.where(cranking, station - dip, station))
    # The pilot's hand opens and closes within a second; an engine that stops lets the air in at once.
    hand = np.where(running, lagged(asked, motor.throttle_s, step), asked)
    steady = running & ~idle & (target < station)
    hand = hand * (1.0 + 0.4 * motor.wander_ratio * steady * ripple.slow["hand"])
    throttle = lagged(np.where(t < plan.fires_s + 4.0, asked, hand), 0.25, step)
    boost = lagged(np.where(running, np.maximum(target - station, 0.0), 0.0), motor.turbo_lag_s, step)
    settled = np.minimum(throttle, station + boost)
    swing = -0.02e3 * motor.hunting_rpm * np.sin(2.0 * math.pi * t / motor.hunting_period_s + ripple.phase - 0.6)
    wander = np.where(settled > station + 1e3, motor.boost_ripple_pa * ripple.slow["boost"], 300.0 * ripple.slow["map"])
    wanders = (settled < station - 2e3) | (settled > station + 1e3)
    return np.asarray(settled + np.where(running, swing * idle + wander * wanders, 0.0))


def _heat(
    case: StartCase, plan: Plan, t: Floats, rpm: Floats, flow: Floats, ratio: Floats, running: Mask, trouble: Trouble
) -> dict[str, Floats]:
    """Step the heat balances of block, radiator, oils, bay, turbo, charge duct and cooler, two seconds at a time."""
    motor, day = case.motor, case.day
    clock = np.arange(0.0, float(t[-1]) + COARSE_S, COARSE_S)
    at = np.minimum((clock / (t[1] - t[0])).astype(int), t.size - 1)
    speeds, flows, on = (rpm[at] / _FULL_FLOW_RPM).tolist(), flow[at].tolist(), running[at].tolist()
    # The compressor's law, from the physics room: rise over the absolute inlet temperature.
    rise = (compressor_outlet_c(0.0, ratio[at], motor.compressor_ratio) / ZERO_C_K).tolist()
    airs = (day.oat_c + day.drift_k * clock / plan.end_s).tolist()
    block, gearbox, bay = day.block_c, day.gearbox_c, day.bay_c
    radiator, engine_oil = (day.oat_c + 0.8 * (block - day.oat_c) if not day.hot else 0.5 * (block + day.oat_c)), block
    turbo, wall, core = bay + (40.0 if day.hot else 0.0), bay, bay
    lift = 0.0
    rows = []
    dt = COARSE_S
    for i, speed in enumerate(speeds):
        air, w, fires = airs[i], flows[i], on[i]
        bad = clock[i] >= trouble.cooling_from_s
        # Wax thermostat: a band of 10 K, slow; the cold radiator behind it makes the knee.
        wants = min(max((block - motor.thermostat_c) / 10.0, motor.thermostat_stuck), 1.0)
        lift += (wants - lift) * dt / 15.0
        wash = 0.3 + 0.7 * speed if fires else 0.08
        cooling = trouble.cooling_ratio if bad else 1.0
        if trouble.airlock_ratio > 0.0 and clock[i] >= trouble.airlock_from_s:
            cooling *= (1.0 - trouble.airlock_ratio) ** 2  # a pump full of vapour moves little: estimate
        through = (_WATER_W_K * lift * cooling * min(1.0, 0.35 + speed)) if fires else 0.0
        heat = (motor.heat_w * w + motor.friction_w * speed) if fires else 0.0
        heat *= 1.0 + (trouble.heat_ratio if bad else 0.0)
        loss = motor.block_loss_w_k * (0.6 + 1.2 * wash)
        link, oil_link = motor.gearbox_link_w_k * (1.0 if fires else 0.35), 150.0 if fires else 40.0
        drive = motor.gearbox_heat_w * (speed**1.5 + 1.5 * w) if fires else 0.0
        intake = air + motor.intake_share * (bay - air)
        gas = intake + (intake + ZERO_C_K) * rise[i]
        cool = air + 0.12 * (bay - air)
        behind = gas - motor.cooler_ratio * (gas - cool)
        if fires:
            bay_aim, bay_tau = air + motor.bay_rise_k * (1.3 - speed) * min(1.0, max(0.0, (block - air) / 60.0)), 70.0
            turbo_aim, turbo_tau = air + 170.0 + 260.0 * w, 60.0
            wall_aim, wall_tau = 0.72 * gas + 0.25 * bay + 0.03 * turbo, 60.0
            core_aim, core_tau = behind, 25.0
        else:
            bay_aim, bay_tau = air + motor.soak_share * (block - air) + 0.05 * (turbo - air), 110.0
            turbo_aim, turbo_tau = bay, 220.0
            wall_aim, wall_tau = bay + 0.05 * (turbo - bay), 90.0
            core_aim, core_tau = air + 0.65 * (bay - air), 240.0
        rows.append((block, radiator, gearbox, engine_oil, bay, wall, core, intake))
        block_new = block + dt / motor.block_j_k * (
            heat
            - loss * (block - air)
            - through * (block - radiator)
            - link * (block - gearbox)
            - oil_link * (block - engine_oil)
        )
        radiator += dt / _RADIATOR_J_K * (through * (block - radiator) - motor.radiator_w_k * wash * (radiator - air))
        gearbox += dt / motor.gearbox_j_k * (
            drive + link * (block - gearbox) - motor.gearbox_loss_w_k * (0.6 + 1.2 * wash) * (gearbox - air)
        )
        engine_oil += dt / _OIL_J_K * (oil_link * (block - engine_oil) + 0.06 * heat - 14.0 * (engine_oil - air))
        block = min(block_new, _BOILS_C)  # boiling under the cap holds it there
        bay += (bay_aim - bay) * dt / bay_tau
        turbo += (turbo_aim - turbo) * dt / turbo_tau
        wall += (wall_aim - wall) * dt / wall_tau
        core += (core_aim - core) * dt / core_tau
    table = np.array(rows)
    names = ("coolant", "radiator", "gearbox", "engine_oil", "bay", "wall", "core", "intake")
    return {"time": clock, **{name: table[:, k] for k, name in enumerate(names)}}


def _head_soak(case: StartCase, plan: Plan, t: Floats, coolant: Floats, air: Floats) -> Floats:
    """Rise at the head once the pump stands still: two lumps, hot metal and the water round the tip."""
    since = np.clip(t - plan.stop_s, 0.0, None)
    excess = case.motor.head_soak_k * np.clip((coolant - air) / 70.0, 0.0, 1.3)
    return np.asarray(1.25 * excess * (np.exp(-since / 400.0) - np.exp(-since / 50.0)))


def _vapour(ripple: Ripple, coolant: Floats, bay: Floats, running: Mask, trouble: Trouble) -> Floats:
    """Temperature round the coolant's tip in an airlock: vapour between bay and coolant, wetted by slugs."""
    t = ripple.time_s
    dry = lagged((ripple.slow["coolant"] > 1.6 - 2.4 * trouble.airlock_ratio).astype(float), 2.0, ripple.step_s)
    away = dry * np.where(running & (t >= trouble.airlock_from_s), 1.0, 0.0)
    vapour = bay + (0.75 - 0.45 * trouble.airlock_ratio) * (coolant - bay)
    return np.asarray(coolant + away * (vapour - coolant))


def _charge(
    case: StartCase, ripple: Ripple, ducts: tuple[Floats, Floats, Floats], air: Floats, flow: Floats, ratio: Floats,
    running: Mask,
) -> tuple[Floats, Floats]:  # fmt: skip
    """Charge before and after the cooler: compressor law, duct lag, wall's pull, effectiveness."""
    motor, step = case.motor, ripple.step_s
    intake, wall, core = ducts
    gas = compressor_outlet_c(intake, ratio, motor.compressor_ratio)
    gas = lagged(np.asarray(gas), 3.0, step)
    # 0.05 of the difference at full flow, 0.5 at idle: see physics.compressor.pulled_temperature_c.
    pull = lagged(np.where(running, 0.05 + 0.45 * np.exp(-flow / 0.25), 1.0), 6.0, step)
    before = gas + pull * (wall - gas)
    cool = air + 0.2 * (intake - air)
    behind = lagged(before - motor.cooler_ratio * (before - cool), 12.0, step)
    pull_out = lagged(np.where(running, 0.25 + 0.35 * np.exp(-flow / 0.25), 1.0), 10.0, step)
    wander = np.where(running, 0.15 * ripple.slow["charge"], 0.0)
    return np.asarray(before + wander), np.asarray(behind + pull_out * (core - behind) + 0.5 * wander)


def viscosity_cst(temperature_c: Floats, at_40_cst: float, at_100_cst: float) -> Floats:
    """Kinematic viscosity of an oil of known values at 40 and 100 degC, cSt.

    References
    ----------
    log10 log10(v + 0.7) = A - B log10 T, ASTM D341 (form from memory, above 2 cSt).

    Examples
    --------
    >>> import numpy as np
    >>> viscosity_cst(np.array([40.0, 100.0]), 90.0, 14.0).round(3)
    array([90., 14.])
    """
    y40, y100 = (math.log10(math.log10(v + 0.7)) for v in (at_40_cst, at_100_cst))
    x40, x100 = math.log10(40.0 + ZERO_C_K), math.log10(100.0 + ZERO_C_K)
    slope = (y100 - y40) / (x100 - x40)
    return np.asarray(10.0 ** (10.0 ** (y40 + slope * (np.log10(temperature_c + ZERO_C_K) - x40))) - 0.7)


def _oil(case: StartCase, plan: Plan, ripple: Ripple, rpm: Floats, oil_c: Floats, trouble: Trouble) -> Floats:
    """Oil pressure, Pa gauge: a displacement pump against bearings, an orifice and the relief valve."""
    motor, t, step = case.motor, ripple.time_s, ripple.step_s
    thick = np.maximum(viscosity_cst(oil_c, motor.oil_40_cst, motor.oil_100_cst), 4.0)
    falls = [trouble.oil_from_s, trouble.oil_from_s + max(trouble.oil_fall_s, 0.1)]
    left = np.interp(t, falls, [1.0 if trouble.oil_from_s > 0.0 else trouble.oil_ratio, trouble.oil_ratio])
    pumped = rpm / motor.idle_rpm * left
    # At hot idle half the flow leaves through laminar bearings (p over viscosity), half through orifices (root p).
    # The bearings' clearance heats the film: viscosity in it saturates (estimate).
    film = thick / (1.0 + thick / 500.0)
    hot = motor.oil_hot_idle_pa
    reference = 14.0 / (1.0 + 14.0 / 500.0)
    laminar = 0.5 / hot * reference / film
    orifice = 0.5 / math.sqrt(hot)
    root = (-orifice + np.sqrt(orifice**2 + 4.0 * laminar * pumped)) / (2.0 * laminar)
    free = root**2
    relief = motor.oil_relief_pa
    excess = np.maximum(pumped - (laminar * relief + orifice * math.sqrt(relief)), 0.0)
    held = relief + motor.oil_relief_slope * excess * (1.0 + np.sqrt(thick / 400.0))
    pressure = np.where(free > relief, np.minimum(free, held), free)
    primed = t >= plan.cranks[-1][0] + motor.oil_prime_s * (0.3 if case.day.hot else 1.0)
    pressure = np.where(primed & (rpm > 60.0), pressure, 0.0)
    # Fills slowly, follows the speed once it is full, drains slowly.
    filling = motor.oil_fill_s * (1.0 + math.sqrt(float(thick[0]) / 1500.0))
    risen = np.clip((t - plan.cranks[-1][0]) / (6.0 * filling), 0.0, 1.0)
    slow = lagged(np.minimum(pressure, relief), filling, step)
    running = np.minimum(slow, pressure) * (1.0 - risen) + lagged(pressure, 0.4, step) * risen
    at_stop = running[int(np.searchsorted(t, plan.stop_s)) - 1]
    drained = at_stop * np.exp(-np.clip(t - plan.stop_s, 0.0, None) / motor.oil_drain_s)
    running = np.where(t < plan.stop_s, running, drained)
    if trouble.oil_flutter > 0.0:
        drop = trouble.oil_flutter * np.clip((rpm - motor.idle_rpm) / (motor.run_rpm - motor.idle_rpm), 0.0, 1.5)
        running = running * np.clip(1.0 - drop * (0.6 + 0.4 * ripple.slow["map"]), 0.02, 1.0)
    ripple_pa = motor.oil_ripple_pa * ripple.slow["oil"] * np.clip(running / hot, 0.0, 1.5)
    return np.asarray(np.maximum(running + ripple_pa, 0.0))


def _fuel(case: StartCase, plan: Plan, t: Floats, manifold: Floats, flow: Floats, trouble: Trouble) -> Floats:
    """Fuel pressure, Pa gauge: residual, regulated against its reference, decaying and heat-soaked after the stop."""
    motor, station = case.motor, case.day.station_pa
    share = np.clip(flow / max(motor.full_map_pa / 1e5 * motor.full_rpm / _FULL_FLOW_RPM, 0.1), 0.0, 1.0)
    regulated = motor.fuel_set_pa - motor.fuel_droop_pa * share
    if motor.fuel_reference == "manifold":
        regulated = regulated + (manifold - station)
    elif motor.fuel_reference == "airbox":  # upstream of the throttle: never below the air outside
        regulated = regulated + np.maximum(manifold - station, 0.0)
    run_ups = [begin for begin, _, _, word in plan.steps if word == "run_up"]
    if run_ups:
        regulated = regulated + motor.fuel_aux_pa * (t > run_ups[0] - 20.0)
    come = np.clip((t - trouble.fuel_from_s) / max(trouble.fuel_fall_s, 0.1), 0.0, 1.0)
    if trouble.fuel_from_s <= 0.0:
        come = np.ones(t.shape)
    lost = come * (trouble.fuel_sag_pa * share**1.3 + trouble.fuel_loss_pa)
    regulated = np.maximum(regulated - lost, 0.0)
    residual = motor.fuel_residual_pa * np.exp(-t / motor.fuel_decay_s)
    up = np.clip(t - plan.pump_on_s, 0.0, None)
    on = regulated - (regulated - residual) * np.exp(-up / motor.fuel_up_s)
    off = np.clip(t - plan.pump_off_s, 0.0, None)
    last = float(on[min(int(np.searchsorted(t, plan.pump_off_s)), t.size - 1)])
    after = last * np.exp(-off / motor.fuel_decay_s) + motor.fuel_soak_pa * (1.0 - np.exp(-off / 150.0))
    return np.asarray(np.where(t < plan.pump_on_s, residual, np.where(t < plan.pump_off_s, on, after)))


def _bus(case: StartCase, plan: Plan, t: Floats, rpm: Floats, running: Mask) -> tuple[Floats, Floats]:
    """Bus voltage, and the current from engine to airframe that lifts the engine's metal."""
    power, motor = case.electrics, case.motor
    step = float(t[1] - t[0])
    rest = power.rest_v - 0.08 * (1.0 - np.exp(-t / 30.0))
    pump = ((t >= plan.pump_on_s) & (t < plan.pump_off_s)) * power.pump_step_v
    volts = rest - pump
    current = np.zeros(t.shape)
    for begin, end in plan.cranks:
        inside = (t >= begin) & (t < end)
        dip = np.exp(-np.clip(t - begin, 0.0, None) / 0.4)
        volts = np.where(inside, power.crank_v - power.dip_v * dip, volts)
        current = np.where(inside, power.crank_a * (1.0 + 0.6 * dip), current)
    slow = np.clip((1.25 * motor.idle_rpm - rpm) / (0.25 * motor.idle_rpm), 0.0, 1.0)
    alternator = power.charge_v - power.idle_droop_v * slow - pump * 0.2
    light = np.zeros(t.shape)
    for begin, length in case.outing.loads_s:
        at = plan.fires_s + case.outing.idle_s + begin
        light = np.where((t >= at) & (t < at + length), 1.0, light)
    alternator = alternator - 0.12 * light
    since = np.clip(t - plan.fires_s, 0.0, None)
    charging = (power.load_a + 8.0 * light + power.recharge_a * np.exp(-since / 150.0)) * (1.0 - 0.35 * slow)
    awake = plan.fires_s
    if power.excited_rpm > 0.0 and (reached := running & (rpm > power.excited_rpm) & (since > 6.0)).any():
        awake = float(t[np.argmax(reached)])
    elif power.excited_rpm > 0.0:
        awake = plan.stop_s
    came = 1.0 - np.exp(-np.clip(t - awake, 0.0, None) / 1.5)
    volts = np.where(running, volts + (alternator - volts) * came, volts)
    current = np.where(running, -charging * came, current)
    stopped = t >= plan.stop_s
    after = np.clip(t - plan.stop_s, 0.0, None)
    resting = power.rest_v + 0.5 * np.exp(-after / 80.0) - pump
    before = float(volts[max(int(np.searchsorted(t, plan.stop_s)) - 1, 0)])
    volts = np.where(stopped, resting + (before - resting) * np.exp(-after / 1.0), volts)
    return lagged(volts, 0.1, step), current
