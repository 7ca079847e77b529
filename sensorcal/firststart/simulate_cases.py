"""Invented first starts drawn at random: weather, engine, panel, outing and logger, healthy, with legitimate mess.

Nothing here was measured. The ranges are those of a careful description of such engines: each an estimate or *common
practice, no source* (CP), as `sensorcal.firststart.simulate_scenario` says beside it. The engine maker's manual rules.
"""

from __future__ import annotations

import numpy as np

from sensorcal.engine import PRESSURES, TEMPERATURES
from sensorcal.firststart.simulate_scenario import (
    Day,
    Electrics,
    Motor,
    Outing,
    Panel,
    Recording,
    StartCase,
)

Rng = np.random.Generator


def draw_case(rng: Rng) -> StartCase:
    """Draw one healthy first start with its legitimate mess.

    Parameters
    ----------
    rng : numpy.random.Generator

    Returns
    -------
    StartCase

    Examples
    --------
    >>> import numpy as np
    >>> case = draw_case(np.random.default_rng(1))
    >>> 0.0 <= case.day.elevation_m <= 2500.0
    True
    """
    day = _day(rng)
    motor = _motor(rng, day)
    panel = _panel(rng, motor)
    recording = _recording(rng)
    return StartCase(
        seed=int(rng.integers(2**62)),
        day=day,
        motor=motor,
        electrics=_electrics(rng),
        panel=panel,
        outing=_outing(rng, day, recording),
        recording=recording,
        limits=_limits(rng, day, motor),
        sparse=bool(rng.random() < 0.35),
    )


def _day(rng: Rng) -> Day:
    elevation = float(rng.choice([rng.uniform(0.0, 300.0), rng.uniform(200.0, 1200.0), rng.uniform(1000.0, 2500.0)]))
    qnh = float(rng.normal(101_500.0, 900.0))
    oat = float(np.clip(rng.normal(14.0, 13.0), -20.0, 40.0))
    hot = bool(rng.random() < 0.12)
    hangar = float(rng.choice([0.0, rng.uniform(0.0, 3.0), rng.uniform(2.0, 8.0)]))
    sunny = bool(rng.random() < 0.3)
    sun = {channel: float(rng.uniform(0.0, 1.6)) if sunny and rng.random() < 0.4 else 0.0 for channel in TEMPERATURES}
    block = oat + hangar if not hot else float(max(oat + 15.0, rng.uniform(52.0, 88.0)))
    gearbox = block if not hot else oat + (block - oat) * float(rng.uniform(0.75, 1.0))
    bay = oat + 0.85 * hangar if not hot else oat + (block - oat) * float(rng.uniform(0.25, 0.5))
    if not hot and rng.random() < 0.2 * (oat < 8.0):  # preheated: a warm block in a cold bay
        hot, block = True, oat + float(rng.uniform(12.0, 40.0))
        gearbox, bay = oat + (block - oat) * float(rng.uniform(0.2, 0.8)), oat + 0.12 * (block - oat)
    return Day(
        elevation_m=elevation,
        elevation_typed_m=float(np.round(elevation + rng.uniform(-4.0, 4.0))),
        qnh_pa=qnh,
        qnh_typed_pa=float(np.floor((qnh + rng.uniform(-60.0, 80.0)) / 100.0) * 100.0),
        oat_c=oat,
        drift_k=float(rng.normal(0.0, 0.4)),
        hangar_k=hangar,
        sun_k=sun,
        hot=hot,
        block_c=block,
        gearbox_c=gearbox,
        bay_c=bay,
    )


def _motor(rng: Rng, day: Day) -> Motor:
    def u(low: float, high: float) -> float:
        return float(rng.uniform(low, high))

    full_map = float(rng.choice([u(100e3, 120e3), u(115e3, 150e3), u(140e3, 185e3)]))
    # The wastegate holds the absolute figure; a thin air's compressor does not reach it on the ground.
    full_map = min(full_map, 1.95 * day.station_pa)
    hunting = u(30.0, 130.0) if rng.random() < 0.3 else 0.0
    idle_map = u(29e3, 47e3)
    idle_rpm = u(1400.0, 1950.0)
    carburettor = rng.random() < 0.08
    fuel_set = u(25e3, 50e3) if carburettor else u(240e3, 380e3)
    reference = str(rng.choice(["open air", "manifold", "airbox"], p=[0.6, 0.28, 0.12]))
    return Motor(
        # Speeds of a small geared engine; manifold 30 to 50 kPa at idle, some kPa of hunting (CP).
        idle_rpm=idle_rpm,
        warm_rpm=idle_rpm + (u(350.0, 850.0) if rng.random() < 0.9 else 0.0),
        run_rpm=u(3600.0, 4300.0),
        full_rpm=u(4700.0, 5600.0),
        idle_map_pa=idle_map,
        warm_map_pa=idle_map + u(3e3, 10e3),
        run_map_pa=min(u(55e3, 88e3), 0.97 * day.station_pa),
        full_map_pa=full_map,
        # The turbo answers in 0.5 to 2 s, above the air outside only (CP); the hand and the ripples are estimates.
        throttle_s=u(0.25, 1.6),
        wander_ratio=u(0.0, 0.03),
        turbo_lag_s=u(0.5, 2.0),
        hunting_rpm=hunting,
        hunting_period_s=u(2.5, 7.0),
        cold_idle_rpm=u(0.0, 350.0),
        pulsation_pa=float(rng.choice([u(60.0, 250.0), u(200.0, 600.0)])),
        boost_ripple_pa=u(250.0, 900.0),
        # Thermostats open at 76 to 88 degC (from memory); heat, masses and conductances are estimates chosen so that
        # coolant warms by 5 to 15 K/min and gearbox oil stays behind it (CP).
        thermostat_c=u(75.0, 89.0),
        thermostat_stuck=u(0.04, 0.2) if rng.random() < (0.15 if day.oat_c < 8.0 else 0.02) else 0.0,
        block_j_k=u(30e3, 50e3),
        heat_w=u(30e3, 42e3),
        friction_w=u(1.5e3, 4.0e3),
        radiator_w_k=u(1250.0, 1900.0),
        block_loss_w_k=u(12.0, 35.0),
        gearbox_j_k=u(7e3, 14e3),
        gearbox_link_w_k=u(14.0, 32.0),
        gearbox_loss_w_k=u(5.0, 12.0),
        gearbox_heat_w=u(150.0, 500.0),
        # After the stop the head rises by 2 to 10 K (from memory), charge probes by 10 to 45 K.
        head_soak_k=u(5.0, 15.0),
        # Efficiency 0.6 to 0.7, effectiveness 0.4 to 0.85 on the ground (CP); charge 2 to 10 K above air at idle (CP).
        compressor_ratio=u(0.58, 0.74),
        cooler_ratio=u(0.45, 0.82),
        intake_share=u(0.15, 0.6),
        bay_rise_k=u(6.0, 18.0),
        soak_share=u(0.25, 0.5),
        # A multigrade oil; pressure within 5 to 10 s, 600 to 800 kPa possible at -20 degC (from memory).
        oil_40_cst=u(70.0, 125.0),
        oil_100_cst=u(10.5, 16.0),
        oil_hot_idle_pa=u(150e3, 280e3),
        oil_relief_pa=u(380e3, 520e3),
        oil_relief_slope=u(15e3, 40e3),
        oil_prime_s=u(0.3, 2.0),
        oil_fill_s=u(0.5, 1.6),
        oil_drain_s=u(0.8, 3.0),
        oil_ripple_pa=u(1e3, 4e3),
        # Regulated within 1 to 3 s, decaying over seconds to many minutes, rising from trapped hot fuel (CP).
        fuel_set_pa=fuel_set,
        fuel_reference="open air" if carburettor else reference,
        fuel_aux_pa=0.02 * fuel_set * u(0.5, 2.0) if rng.random() < 0.15 else 0.0,
        fuel_droop_pa=0.0 if carburettor else u(0.0, 5e3),
        fuel_up_s=u(0.2, 0.9),
        fuel_residual_pa=fuel_set * u(0.1, 1.1 if day.hot else 0.95) if rng.random() < 0.35 else 0.0,
        fuel_decay_s=float(np.exp(u(np.log(15.0), np.log(1800.0)))),
        fuel_soak_pa=0.2 * fuel_set * u(0.2, 1.0) if rng.random() < 0.4 else 0.0,
        fuel_ripple_pa=u(0.002, 0.008) * fuel_set,
    )


def _electrics(rng: Rng) -> Electrics:
    """Battery at rest 12.4 to 12.9 V, 9 to 11 V while cranking, 13.5 to 14.5 V charging, less at low idle (CP)."""
    light = rng.random() < 0.3
    asleep = rng.random() < 0.15
    return Electrics(
        rest_v=float(rng.uniform(12.35, 12.95)),
        crank_v=float(rng.uniform(9.2, 11.0)),
        dip_v=float(rng.uniform(0.3, 1.6)),
        charge_v=float(rng.uniform(13.7, 14.4)),
        idle_droop_v=float(rng.choice([rng.uniform(0.0, 0.2), rng.uniform(0.3, 1.1)])),
        excited_rpm=float(rng.uniform(1900.0, 2200.0)) if asleep else 0.0,
        pump_step_v=float(rng.uniform(0.05, 0.25)),
        crank_a=float(rng.uniform(130.0, 260.0)),
        load_a=float(rng.uniform(3.0, 7.0) if light else rng.uniform(8.0, 16.0)),
        recharge_a=float(rng.uniform(1.0, 4.0) if light else rng.uniform(6.0, 20.0)),
    )


def _panel(rng: Rng, motor: Motor) -> Panel:
    ohm_25 = float(np.exp(rng.uniform(np.log(1000.0), np.log(10_000.0))))
    # A maker pairs the pull-up with the probe, so that a warm engine lies in the middle of the converter (CP).
    usual = np.array([470.0, 1000.0, 1500.0, 2200.0, 3300.0, 4700.0])
    pull_up = float(rng.choice(usual[(usual > 0.25 * ohm_25) & (usual < 2.0 * ohm_25)]))
    coarse_t, coarse_p, coarse_m = (rng.random() < p for p in (0.35, 0.2, 0.35))
    step_p = float(rng.choice([5e3, 10e3])) if coarse_p else float(rng.choice([100.0, 1e3]))
    high_oil = float(rng.choice([700e3, 1000e3, 1000e3]))
    high_fuel = float(rng.choice([600e3, 600e3, 700e3]) if motor.fuel_set_pa > 100e3 else rng.choice([100e3, 200e3]))
    high_map = float(rng.choice([240e3, 250e3, 300e3]))
    high = {"oil_pressure": high_oil, "fuel_pressure": high_fuel, "map": high_map}
    low = {"oil_pressure": 0.0, "fuel_pressure": 0.0, "map": float(rng.choice([0.0, 0.0, 20e3]))}
    if motor.oil_relief_pa > 0.7 * high_oil:
        high["oil_pressure"] = 1000e3
    span = {channel: high[channel] - low[channel] for channel in PRESSURES}
    hot = bool(rng.random() < 0.5)
    return Panel(
        ohm_25=ohm_25,
        beta_k=float(rng.uniform(3250.0, 4050.0)),
        curvature_k2=float(rng.uniform(-1.3e5, -0.3e5)),
        pull_up_ohm=pull_up,
        bits=int(rng.choice([10, 12, 12, 16])) if ohm_25 > 2000.0 else int(rng.choice([12, 12, 16])),
        scale_error={c: float(np.clip(rng.normal(0.0, 0.006), -0.015, 0.015)) for c in TEMPERATURES},
        offset_k={c: float(np.clip(rng.normal(0.0, 0.15), -0.4, 0.4)) for c in TEMPERATURES},
        air_w_per_k=float(rng.uniform(0.002, 0.004)),
        liquid_w_per_k=float(rng.uniform(0.010, 0.030)),
        lag_s={
            "coolant": float(rng.uniform(3.0, 14.0)), "gearbox_oil": float(rng.uniform(4.0, 18.0)),
            "charge_in": float(rng.uniform(3.0, 12.0)), "charge_out": float(rng.uniform(3.0, 14.0)),
            "oil_pressure": float(rng.uniform(0.05, 0.5)), "fuel_pressure": float(rng.uniform(0.05, 0.5)),
            "map": float(rng.uniform(0.03, 0.3)), "oat": 20.0,
        },
        low_pa=low,
        high_pa=high,
        zero_pa={c: float(np.clip(rng.normal(0.0, 0.003), -0.006, 0.006)) * span[c] for c in PRESSURES},
        span_ratio={c: float(np.clip(rng.normal(0.0, 0.004), -0.01, 0.01)) for c in PRESSURES},
        hot_pa={
            c: (float(rng.uniform(-0.009, 0.009)) if hot and c != "map" else 0.0) * span[c] for c in PRESSURES
        },
        step={
            **dict.fromkeys(TEMPERATURES, 1.0 if coarse_t else 0.1),
            "oil_pressure": step_p, "map": 1e3 if coarse_m else 100.0,
            "fuel_pressure": min(step_p, 5e3 if motor.fuel_set_pa > 100e3 else 1e3),
            "rpm": float(rng.choice([1.0, 10.0, 50.0])), "bus": float(rng.choice([0.01, 0.1])),
            "oat": 1.0 if coarse_t else 0.1,
        },
        noise={
            **{c: float(rng.uniform(0.02, 0.2)) for c in TEMPERATURES},
            "oil_pressure": float(rng.uniform(0.0003, 0.0015)) * span["oil_pressure"],
            "fuel_pressure": float(rng.uniform(0.0003, 0.0015)) * span["fuel_pressure"],
            "map": float(rng.uniform(30.0, 200.0)), "rpm": float(rng.uniform(3.0, 15.0)),
            "bus": float(rng.uniform(0.01, 0.04)), "oat": float(rng.uniform(0.05, 0.2)),
        },
        pressure_open_v=5.0 if rng.random() < 0.2 else 0.0,
        pressure_rail_blank=bool(rng.random() < 0.25),
        open_shows=str(rng.choice(["bottom", "bottom", "blank"])),
        short_shows=str(rng.choice(["top", "top", "blank"])),
        scale_c=(float(rng.choice([-40.0, -50.0, -30.0])), float(rng.choice([150.0, 160.0, 200.0]))),
        clamps_zero=bool(rng.random() < 0.4),
    )  # fmt: skip


def _outing(rng: Rng, day: Day, recording: Recording) -> Outing:
    def u(low: float, high: float) -> float:
        return float(rng.uniform(low, high))

    flooded = rng.random() < 0.1
    cold = max(0.0, 5.0 - day.oat_c) / 25.0
    crank = u(1.2, 4.0) + 3.0 * cold * u(0.3, 1.0)
    warm = u(150.0, 480.0) if day.hot else float(rng.choice([u(120.0, 400.0), u(360.0, 900.0), u(700.0, 1500.0)]))
    taxi = []
    at = 60.0
    while rng.random() < 0.45 and at < warm - 100.0:
        begins = u(at, warm - 60.0)
        taxi.append((begins, u(15.0, 60.0)))
        at = begins + 120.0
    runs: tuple[tuple[float, float], ...] = ()
    if rng.random() < 0.82:
        longest = 35.0 if day.oat_c < 26.0 else 18.0  # nobody holds full power on a hot apron
        runs = tuple((u(12.0, 45.0), u(5.0, longest)) for _ in range(int(rng.choice([1, 1, 2, 3]))))
    loads = []
    if rng.random() < 0.4:
        begins = u(20.0, warm * 0.8)
        loads.append((begins, u(8.0, 60.0)))
    rest = u(8.0, 120.0)
    return Outing(
        rest_s=rest,
        pump_s=u(3.0, 25.0),
        cranks_s=(u(3.0, 7.0), crank) if flooded else (crank,),
        pauses_s=(u(5.0, 25.0),) if flooded else (),
        idle_s=u(30.0, 120.0),
        warm_s=warm,
        taxi_s=tuple(taxi),
        run_ups=runs,
        between_s=u(15.0, 90.0),
        cool_s=u(20.0, 200.0),
        pump_off_s=float(rng.choice([0.0, u(0.0, 4.0), u(2.0, 20.0)])),
        soak_s=u(60.0, 330.0) if recording.ends == "soak" else 20.0,
        checks=bool(rng.random() < 0.5),
        loads_s=tuple(loads),
    )


def _recording(rng: Rng) -> Recording:
    rate = float(rng.choice([0.5, 1.0, 1.0, 1.0, 1.0, 2.0, 2.0, 4.0, 5.0, 10.0]))
    missing = {"oat": 0.3, "rpm": 0.08, "bus": 0.1, "fuel_pressure": 0.04, "gearbox_oil": 0.04, "charge_out": 0.03}
    every = (*TEMPERATURES, *PRESSURES, "rpm", "bus", "oat")
    channels = tuple(c for c in every if rng.random() >= missing.get(c, 0.0))
    brown_out = float(rng.uniform(1.5, 7.0)) if rng.random() < 0.1 else 0.0
    return Recording(
        rate_hz=rate,
        jitter=float(rng.choice([0.0, 0.02, 0.1])),
        begins=str(rng.choice(["rest", "pump", "crank", "running"], p=[0.74, 0.08, 0.12, 0.06])),
        ends=str(rng.choice(["soak", "stop", "running"], p=[0.6, 0.2, 0.2])),
        blank_ratio=float(rng.uniform(0.0, 0.004)) if rng.random() < 0.3 else 0.0,
        lost_ratio=float(rng.uniform(0.0, 0.01)) if rng.random() < 0.3 else 0.0,
        update_s=float(rng.choice([0.5, 1.0, 2.0])) if rate >= 2.0 and rng.random() < 0.4 else 0.0,
        gap_s=(float(rng.uniform(0.1, 0.9)), float(rng.uniform(5.0, 40.0)) if rng.random() < 0.06 else 0.0),
        brown_out_s=brown_out,
        clock_restarts=bool(rng.random() < 0.5),
        channels=channels,
    )


def _limits(rng: Rng, day: Day, motor: Motor) -> dict[str, tuple[float | None, float | None]]:
    """Draw the maker's limits so that the healthy engine stays inside them."""
    fuel_low = motor.fuel_set_pa - min(float(rng.uniform(45e3, 90e3)), 0.6 * motor.fuel_set_pa)
    if motor.fuel_reference == "manifold":  # gauge pressure at idle is lower by all the manifold's depression
        fuel_low -= day.station_pa - 26e3
    limits: dict[str, tuple[float | None, float | None]] = {
        "coolant": (None, float(rng.choice([112.0, 115.0, 118.0, 120.0]))),
        "gearbox_oil": (None, float(rng.choice([115.0, 120.0, 130.0]))),
        "oil_pressure": (float(np.round(motor.oil_hot_idle_pa * rng.uniform(0.35, 0.6), -4)), None),
        "fuel_pressure": (float(np.floor(fuel_low / 5e3) * 5e3), None),
        "map": (None, float(np.ceil((max(motor.full_map_pa, day.station_pa) + rng.uniform(8e3, 15e3)) / 1e3) * 1e3)),
    }
    for channel in ("gearbox_oil", "fuel_pressure", "map"):
        if rng.random() < 0.2:
            del limits[channel]
    return limits
