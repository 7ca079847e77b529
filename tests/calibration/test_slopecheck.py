"""Water column against gauge: the slopes of one sensor agree, a gauge out of its class or a misread column is found."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sensorcal.bench.simulate_pressure import PressureBench, TrueTransducer, simulate_pressure, up_and_down
from sensorcal.bench.station import StationPressure, measured_station_pressure
from sensorcal.calibration.mapcheck import map_reading_from_volts
from sensorcal.calibration.mapsplit import MapSplit, split_offset_and_span, water_column_point
from sensorcal.calibration.pressure import fit_pressure
from sensorcal.calibration.pressurecal import PressureCalibration
from sensorcal.calibration.pressurerun import calibrate_pressure
from sensorcal.calibration.slopecheck import check_slopes, slope_of_gauge
from sensorcal.errors import InputError
from sensorcal.measure.terms import Term, term
from sensorcal.physics.hydro import water_column_pa
from sensorcal.setup import Field, Reference, Setup
from sensorcal.transducer import Transducer

HERE = measured_station_pressure(pressure_pa=93_470.0, u_pressure_pa=80.0)
ZERO, SPAN = 0.1031, 0.7985  # the sensor's own line, 0 to 250 kPa absolute


def by_gauge(scale: float = 1.0, *, u_scale_pa: float = 290.0, level_pa: float = 0.0) -> PressureCalibration:
    """The sensor against a gauge that shows `scale` times the pressure above the air."""
    gauge = np.linspace(-60e3, 100e3, 9)
    shown = HERE.pressure_pa + scale * gauge + level_pa
    terms: tuple[Term, ...] = (
        term("reference:G3", 577.0, 9, common=True),
        Term(identifier="reference:G3:scale", u=u_scale_pa * np.linspace(-1.0, 1.0, 9), common=True),
        term("reading", 170.0, 9, common=False),
    )
    ratio = ZERO + SPAN * (HERE.pressure_pa + gauge) / 250e3
    return fit_pressure(shown, ratio, terms, sensor="M1", low_pa=0.0, high_pa=250e3, kind="absolute")


def by_water(read_as: float = 1.0, *, here: StationPressure = HERE, u_repeat_pa: float | None = None) -> MapSplit:
    """The sensor against a water column read as `read_as` times its true height."""
    points = []
    for height_m in (-1.5, -0.75, 0.0, 0.75, 1.5):
        air = here.pressure_pa / (287.05287 * 293.15)
        true_pa = here.pressure_pa + float(water_column_pa(height_m, temperature_c=20.0, air_density_kg_m3=air))
        volts = 5.0 * (ZERO + SPAN * true_pa / 250e3)
        reading = map_reading_from_volts(volts, 5.0, u_repeat_pa=u_repeat_pa)
        points.append(water_column_point(here, reading, height_m=read_as * height_m))
    return split_offset_and_span(points, here)


def test_one_sensor_has_one_slope():
    """Two sound standards would be set against each other, or a slope be taken the wrong way up."""
    found = check_slopes(by_water(), by_gauge())
    assert found.water_ratio == pytest.approx(SPAN / 0.8 - 1.0, abs=1e-5)
    assert found.gauge_ratio == pytest.approx(SPAN / 0.8 - 1.0, abs=1e-5)
    assert found.agree
    assert found.tells
    assert "they agree" in found.text


def test_the_combined_uncertainty_is_the_root_of_squares():
    """A finding would be judged by one standard alone."""
    found = check_slopes(by_water(), by_gauge())
    u = float(np.hypot(found.u_water_ratio, found.u_gauge_ratio))
    assert found.expanded_ratio == pytest.approx(1.96 * u, rel=1e-3)
    # Five readings at -15 to +15 kPa with 66 Pa each: slope good to u = 66 / sqrt(sum of squares).
    assert found.u_water_ratio == pytest.approx(66.0 / np.sqrt(2 * (14_670.0**2 + 7_335.0**2)), rel=0.05)
    # A tilt of 290 Pa at both ends of 160 kPa, and the readings' own part.
    own = 170.0 / np.sqrt(np.square(np.linspace(-80e3, 80e3, 9)).sum())
    assert found.u_gauge_ratio == pytest.approx(np.hypot(2 * 290.0 / 160e3, own), rel=0.03)


def test_what_is_alike_everywhere_does_not_count():
    """A gauge off by the same everywhere, or a wrong barometer, would spoil a slope that it cannot touch."""
    plain, shifted = slope_of_gauge(by_gauge()), slope_of_gauge(by_gauge(level_pa=2_000.0))
    assert shifted == pytest.approx(plain, rel=1e-9)
    vague = replace(HERE, u_pressure_pa=2_000.0)
    assert by_water(here=vague).u_span_error_ratio == pytest.approx(by_water().u_span_error_ratio, rel=1e-3)


@pytest.mark.parametrize(("water", "gauge"), [(1.0, 0.98), (1.02, 1.0), (1.0 / 2.54, 1.0), (1.0, 1.1)])
def test_a_standard_that_is_off_is_found(water, gauge):
    """A gauge 2 % out, a column read 2 % long or inches for centimetres would pass unseen."""
    found = check_slopes(by_water(water), by_gauge(gauge))
    assert not found.agree
    assert "do not agree" in found.text


def test_a_difference_within_the_uncertainty_is_no_finding():
    """A gauge within its class would be called wrong."""
    assert check_slopes(by_water(), by_gauge(0.995)).agree


def test_a_column_that_tells_nothing_says_so():
    """Agreement within ten per cent would be taken for a proof."""
    found = check_slopes(by_water(u_repeat_pa=2_000.0), by_gauge())
    assert found.agree
    assert not found.tells
    assert "too uncertain" in found.text


def test_where_the_gauge_tested_nothing_is_refused():
    """A slope would be compared with one that was extrapolated."""
    with pytest.raises(InputError, match="not what the gauge tested"):
        slope_of_gauge(by_gauge(), between_pa=(10e3, 20e3))
    with pytest.raises(InputError, match="sheet_span_ratio"):
        slope_of_gauge(by_gauge(), sheet_span_ratio=80.0)


def test_the_tilt_of_a_gauge_runs_from_vacuum_to_pressure():
    """A scale error mirrored about the open line would cancel, and the slope look twice as good as the gauge allows."""
    setup = Setup(
        field=Field(elevation_m=640.0, qnh_pa=100_900.0, station_elevation_m=610.0),
        references={"G3": Reference(identifier="G3", kind="gauge", limits=1_000.0)},
        transducers={"M1": Transducer(name="M1", kind="absolute", high_pa=250e3)},
    )
    sensor = TrueTransducer(name="M1", high_pa=250e3, sealed_pa=0.0)
    plan = up_and_down(100e3, low_pa=-60e3, points=9)
    run = simulate_pressure(sensor, PressureBench(meter_step_v=0.0), plan, seed=3)
    found = calibrate_pressure(run, setup, "M1").calibration
    _, u = slope_of_gauge(found)
    tilt = 0.5 * 1_000.0 / np.sqrt(3.0)  # at each end
    assert u == pytest.approx(2.0 * tilt / 160e3, rel=0.15)
