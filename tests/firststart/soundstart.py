"""A plain start at 1 Hz that the judge takes for sound, with changes at will; as a verdict or as a file."""

from __future__ import annotations

import os
from functools import lru_cache

import numpy as np

from sensorcal.firststart.judge import judge
from sensorcal.firststart.startlog import start_log
from sensorcal.setup import Setup

HEADINGS = {"coolant": "CLT", "oil_pressure": "Oil P"}
COLUMNS = {
    "coolant": "CLT degC", "gearbox_oil": "Gearbox oil temp degC", "charge_in": "Charge air in degC",
    "charge_out": "Charge air out degC", "oil_pressure": "Oil P kPa", "fuel_pressure": "Fuel P kPa", "map": "MAP kPa",
    "rpm": "RPM",
}  # fmt: skip


def sound_values(**changes):
    """Two minutes of rest, a crank, ten minutes of running, three minutes of soak; time and home units."""
    t = np.arange(0.0, 900.0)
    on = (t >= 125.0) & (t < 725.0)
    since = np.clip(t - 125.0, 0.0, 600.0)
    quiet = np.random.default_rng(7).standard_normal((8, t.size))
    values = {
        "coolant": 15.0 + 65.0 * (1.0 - np.exp(-since / 260.0)) + 0.05 * quiet[0],
        "gearbox_oil": 15.0 + 38.0 * (1.0 - np.exp(-since / 300.0)) + 0.05 * quiet[1],
        "charge_in": 15.5 + 9.0 * (1.0 - np.exp(-since / 60.0)) + 0.05 * quiet[2],
        "charge_out": 15.3 + 5.0 * (1.0 - np.exp(-since / 60.0)) + 0.05 * quiet[3],
        "oil_pressure": np.where(on, 420e3, 0.0) + 800.0 * quiet[4],
        "fuel_pressure": np.where(t > 60.0, 300e3, 0.0) + 500.0 * quiet[5],
        "map": np.where(on, 40e3, 97e3) + 150.0 * quiet[6],
        "rpm": np.where(on, 1500.0, np.where((t >= 122.0) & (t < 125.0), 220.0, 0.0)),
    }  # fmt: skip
    for name, change in changes.items():
        values[name] = change(values[name], t)
    return t, values


def engine(**changes):
    """Judge that start."""
    return _judged(**changes) if changes else _sound()


@lru_cache(maxsize=1)
def _sound():
    return _judged()


@lru_cache(maxsize=1)
def low_oil():
    """The same start with oil pressure that falls to 15 kPa while running."""
    return _judged(oil_pressure=fallen)


def fallen(x, t):
    """Oil pressure falls to 15 kPa in the middle of the run."""
    return np.where((t > 400.0) & (t < 725.0), x - 405e3, x)


def opened(x, t):
    """A wire breaks at 300 s."""
    return np.where(t > 300.0, -40.0, x)


def _judged(**changes):
    t, values = sound_values(**changes)
    return judge(start_log(t, values, headings=HEADINGS), Setup())


def write_log(path, **changes):
    """Write that start as a CSV file."""
    t, values = sound_values(**changes)
    table = [t, *(values[name] / (1e3 if "kPa" in head else 1.0) for name, head in COLUMNS.items())]
    rows = np.column_stack(table)
    heads = ",".join(["Time s", *COLUMNS.values()])
    lines = [heads, *(",".join(f"{number:.2f}" for number in row) for row in rows)]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def die_on_killer(path, checked, verdict):
    """End the process at once for a file named killer.csv, as a crash or the system's memory guard would."""
    del checked, verdict
    if path.name == "killer.csv":
        os._exit(1)
