"""An invented first start in plain steps, made by hand: every moment is known, nothing is random but a fixed noise."""

from __future__ import annotations

import numpy as np

from sensorcal.firststart.startlog import StartLog, start_log

PUMP_S, CRANK_S, START_S, FAST_S, POWER_S, IDLE_S, STOP_S, END_S = 40.0, 50.0, 54.0, 120.0, 500.0, 560.0, 700.0, 900.0


def made_start(step_s: float = 1.0, begin_s: float = 0.0, end_s: float = END_S) -> dict[str, np.ndarray]:
    """Give the channels and 'time' of the invented start between two moments."""
    t = np.arange(0.0, END_S, step_s)
    rng = np.random.default_rng(5)
    run = (t >= START_S) & (t < STOP_S)
    crank = (t >= CRANK_S) & (t < START_S)
    fast, power = run & (t >= FAST_S) & (t < POWER_S), run & (t >= POWER_S) & (t < IDLE_S)
    rpm = np.select([power, fast, run, crank], [4200.0, 2400.0, 1700.0, 230.0], 0.0)
    warm = np.clip(t - START_S, 0.0, STOP_S - START_S)
    coolant = 12.0 + 76.0 * (1.0 - np.exp(-warm / 260.0))
    oil = np.where(run, 420e3 - 150.0 * warm, np.where(t >= STOP_S, 300e3 * np.exp(-(t - STOP_S) / 3.0), 0.0))
    values = {
        "coolant": coolant,
        "gearbox_oil": 12.0 + 70.0 * (1.0 - np.exp(-warm / 520.0)),
        "charge_in": 12.0 + 60.0 * power + 0.02 * warm,
        "charge_out": 12.0 + 20.0 * power + 0.015 * warm,
        "oil_pressure": oil * (1.0 - np.exp(-np.clip(t - START_S, 0.0, None) / 2.0)),
        "fuel_pressure": np.where(t >= PUMP_S, 300e3, 0.0) * np.where(t > STOP_S, np.exp(-(t - STOP_S) / 200.0), 1.0),
        "map": np.select([power, fast, run, crank], [118e3, 46e3, 38e3, 90e3], 94e3)
        + 300.0 * rng.standard_normal(t.size),
        "rpm": rpm + 12.0 * run * rng.standard_normal(t.size),
        "bus": np.select([crank, run], [10.1, 13.9], 12.7) - 0.15 * ((t >= PUMP_S) & ~run & ~crank),
        "oat": np.full(t.size, 12.0),
    }
    kept = (t >= begin_s) & (t < end_s)
    return {"time": t[kept]} | {name: numbers[kept] for name, numbers in values.items()}


def made_log(*without: str, step_s: float = 1.0, begin_s: float = 0.0, end_s: float = END_S) -> StartLog:
    """Give that start as a log, without the channels named."""
    made = made_start(step_s, begin_s, end_s)
    time_s = made.pop("time")
    return start_log(time_s, {name: numbers for name, numbers in made.items() if name not in without})
