"""A water U-tube as the reference of a run: real water is lighter than that of the unit."""

from __future__ import annotations

import pytest

from sensorcal.bench.pressurepoints import pressure_points
from sensorcal.bench.runfile import run_from_bytes
from sensorcal.bench.watertube import water_tube_of
from sensorcal.calibration.pressurecal import shared_shift_pa
from sensorcal.calibration.pressurerun import calibrate_pressure
from sensorcal.errors import InputError
from sensorcal.physics.hydro import water_column_pa
from sensorcal.setup import Field, Reference, Setup
from sensorcal.transducer import Transducer

SETUP = Setup(
    field=Field(elevation_m=640.0, qnh_pa=100_900.0, station_elevation_m=610.0),
    references={"W1": Reference(identifier="W1", kind="gauge", limits=20.0)},
    transducers={"M1": Transducer(name="M1", kind="absolute", high_pa=250_000.0)},
)
HEIGHTS_MM = (-1500.0, -750.0, 0.0, 750.0, 1500.0)


def _run(head: str = "", unit: str = "mmH2O", scale: float = 1.0):
    """A perfect sensor beside a tube of water at 35 °C, in still air of 93.47 kPa."""
    lines = [f"U-tube [{unit}],M1 [V],supply [V],direction"]
    for height in HEIGHTS_MM:
        p = 93_470.0 + float(water_column_pa(height / 1000.0, temperature_c=35.0, air_density_kg_m3=1.15))
        lines.append(f"{height * scale:.4f},{5 * (0.1 + 0.8 * p / 250e3):.6f},5.0,up")
    return run_from_bytes((head + "\n".join(lines)).encode(), SETUP, file="tube.csv")


def test_warm_water_is_lighter_than_the_unit_says():
    """1500 mm of water at 35 °C are 14.61 kPa, not the 14.71 of the unit: 0.7 % of span left in the sensor's slope."""
    found = pressure_points(_run("# water in the tube: 35 °C ± 1\n"), SETUP, "M1")
    true = [float(water_column_pa(h / 1000.0, temperature_c=35.0, air_density_kg_m3=1.15)) for h in HEIGHTS_MM]
    assert [one.point.value for one in found.points] == pytest.approx(true, abs=0.05)
    assert true[-1] == pytest.approx(14_606.0, abs=5.0)
    assert found.points[-1].point.corrections[-1].size == pytest.approx(-104.0, abs=1.0)
    assert any("heights of water at 35 °C (as stated): -0.71 %" in note for note in found.notes)
    cal = calibrate_pressure(_run("# water in the tube: 35 °C ± 1\n"), SETUP, "M1").calibration
    assert cal.span_ratio == pytest.approx(0.8, abs=2e-5)
    (key,) = [name for name in cal.shared_identifiers if name.startswith("water:")]
    assert abs(float(shared_shift_pa(cal, 93_470.0 + 14_606.0)[key])) < 10.0


def test_other_units_and_fahrenheit_say_the_same():
    """Inches of water, or a thermometer in °F, would give another pressure for the same tube."""
    mm = pressure_points(_run("# water in the tube: 35 degC\n"), SETUP, "M1").points
    inch = pressure_points(_run("# Water in the tube = 95 °F\n", "inH2O", 1 / 25.4), SETUP, "M1").points
    cm = pressure_points(_run("# water in the tube: 35\n", "cm H2O", 0.1), SETUP, "M1").points
    for other in (inch, cm):
        assert [one.point.value for one in other] == pytest.approx([one.point.value for one in mm], abs=0.3)


def test_unstated_water_is_assumed_aloud_and_counted():
    """Water of unknown warmth would be taken for that of the unit in silence."""
    found = pressure_points(_run(), SETUP, "M1")
    assert found.points[-1].point.value == pytest.approx(1500 * 9.80665 * (0.99821 - 0.00115), rel=1e-5)
    assert any("assumed; write '# water in the tube" in note for note in found.notes)
    (part,) = [one for one in found.points[-1].point.parts if one.key == "water:tube"]
    assert part.u == pytest.approx(14_660 * 0.21e-3 * 5.77, rel=0.1)  # 0.021 % a kelvin at 20 °C, ± 10 K
    gauge = run_from_bytes(b"W1 [kPa],M1 [V],supply [V]\n0,2,5\n10,2.16,5\n", SETUP)
    assert water_tube_of(gauge) is None


def test_boiling_water_is_refused():
    """A temperature in the wrong unit would be computed with, or stop without a row."""
    with pytest.raises(InputError, match=r"tube\.csv, row 1: water at 95 °C"):
        pressure_points(_run("# water in the tube: 95 degC\n"), SETUP, "M1")
