"""The demo's pressure evening: what was put in comes out of the calibration within its U."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest

from sensorcal.bench.demo_pressure import AIR_PA, FUEL, LEAK_TIME_CONSTANT_S, MAP, OIL, pressure_files
from sensorcal.bench.runfile import read_run
from sensorcal.calibration.leak import leak_down
from sensorcal.calibration.pressurecal import expanded_pressure_pa
from sensorcal.calibration.pressurerun import calibrate_pressure
from sensorcal.calibration.sensorkind import sensor_kind
from sensorcal.physics.transducer import RatioPolynomial
from sensorcal.setupfile import read_setup

DATA = Path(__file__).parents[2] / "data" / "pressure"


def _result(name, tag):
    setup = read_setup(DATA / "setup.toml")
    return calibrate_pressure(read_run(DATA / f"2026-05-16-{name}.csv", setup), setup, tag)


@pytest.mark.parametrize(
    ("name", "sensor", "offset"), [("oil", OIL, 0.0), ("fuel", FUEL, AIR_PA), ("map", MAP, AIR_PA)]
)
def test_truth_lies_within_u(name, sensor, offset):
    """A bias of the bench that no term stands for would put the true line outside the stated interval."""
    cal = _result(name, sensor.name).calibration
    low, high = cal.tested_pa
    felt = np.linspace(low, high, 9)
    gauge = felt - (offset - (sensor.sealed_pa or 0.0) if offset else 0.0)
    ratio = np.array([sensor.ratio(float(p), "", air_pa=AIR_PA) for p in gauge])
    off = np.abs(cal.pressure_pa(ratio) - felt)
    assert np.all(off <= expanded_pressure_pa(cal, felt, hot_body=False)), off


def test_oil_shows_its_loop_body_and_supply():
    """The three effects put into the oil evening must be the ones its reader is told."""
    found = _result("oil", "O1")
    step = found.body.hot_c - found.body.cold_c
    assert found.body.zero_pa_per_k * step == pytest.approx(70.0 * 50, abs=2.6 * found.body.u_zero_pa_per_k * step)
    # scatter and 0.5 kPa steps of the gauge make the widest of six loops wider than the true 2.1 kPa
    assert found.performance.hysteresis_pa == pytest.approx(2_100.0, abs=1_000.0)
    assert len(found.budgets.pressure_pa) == 6
    assert found.supply_cost[0].supply_v == pytest.approx(4.93)
    assert max(abs(cost.error_pa) for cost in found.supply_cost) > 15_000.0


def test_the_fuel_sensor_is_found_to_be_sealed():
    """Its first reading, the line open, must give the seal away."""
    setup = read_setup(DATA / "setup.toml")
    first = read_run(DATA / "2026-05-16-fuel.csv", setup).readings[0]
    line = RatioPolynomial.through(zero_ratio=0.1, span_ratio=0.8, low_pa=0.0, high_pa=600e3)
    shown = float(line.pressure_pa(first.signals["F1"] / first.supply_v))
    found = sensor_kind(shown, station_pressure_pa=AIR_PA, span_pa=600e3)
    assert found.kind == "sealed"
    assert found.probability["sealed"] > 0.9


def test_the_leak_comes_back():
    """The time constant put in must lie within U of the one that the decay gives."""
    with (DATA / "leak-down.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.reader(line for line in file if not line.startswith("#")))[1:]
    time, pressure = np.array(rows, dtype=float).T
    found = leak_down(time, pressure * 1000.0, u_pressure_pa=np.hypot(400.0 / 3**0.5, 200.0 / 12**0.5))
    assert found.seen
    assert found.fits
    assert found.time_constant_s == pytest.approx(LEAK_TIME_CONSTANT_S, abs=2.0 * found.u_time_constant_s)


def test_files_are_marked_and_the_same_each_time():
    """A file without the mark would pass for a measurement."""
    assert pressure_files() == pressure_files()
    assert all("Invented data" in text for text in pressure_files().values())
