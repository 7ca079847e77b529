"""Expected readings of pressure sensors with the engine stopped."""

from __future__ import annotations

import pytest

from sensorcal.bench.simulate_pressure import PressureBench, TrueTransducer, simulate_pressure, up_and_down
from sensorcal.bench.station import measured_station_pressure, reported_station_pressure
from sensorcal.calibration.atrest import expected_at_rest
from sensorcal.calibration.pressurecal import u_pressure_pa
from sensorcal.calibration.pressurerun import calibrate_pressure
from sensorcal.setup import Reference, Setup
from sensorcal.transducer import Transducer

HERE = reported_station_pressure(elevation_m=640.0, qnh_pa=100_900.0, station_elevation_m=610.0)
SENSORS = {
    "M1": Transducer(name="M1", kind="absolute", high_pa=250e3),
    "O1": Transducer(name="O1"),
    "F1": Transducer(name="F1", kind="sealed", high_pa=600e3),
}


def test_story_14_by_kind():
    """If this fails, the morning glance looks for the wrong number: 93.5 absolute, 0 vented, -7.9 sealed."""
    m, o, f = expected_at_rest(HERE, SENSORS, roles={"O1": "oil pressure", "F1": "fuel pressure"})
    assert m.expected_pa / 1000 == pytest.approx(93.47, abs=0.01)
    assert o.expected_pa == 0.0
    assert f.expected_pa / 1000 == pytest.approx(-7.9, abs=0.05)
    assert (m.worth_acting_pa, o.worth_acting_pa, f.worth_acting_pa) == (1_000.0, 10_000.0, 5_000.0)
    assert m.u_expected_pa == HERE.u_pressure_pa
    assert f.u_expected_pa > m.u_expected_pa > o.u_expected_pa == 0.0


def test_the_output_to_expect():
    """If this fails, the volts written on the worksheet are not those of the data sheet's line."""
    m, o, f = expected_at_rest(HERE, SENSORS)
    assert 5.0 * m.ratio == pytest.approx(0.5 + 4.0 * 93.47 / 250, abs=1e-3)
    assert 5.0 * o.ratio == pytest.approx(0.5)
    assert 5.0 * f.ratio == pytest.approx(0.5 - 4.0 * 7.855 / 600, abs=1e-3)
    assert o.worth_acting_pa is None  # nobody said what it measures


def test_a_better_barometer_narrows_map_and_nothing_else():
    """If this fails, U does not follow the barometer's u."""
    wide, narrow = (
        expected_at_rest(measured_station_pressure(pressure_pa=93_470.0, u_pressure_pa=u)) for u in (100.0, 50.0)
    )
    assert wide[0].expanded_pa == pytest.approx(2 * narrow[0].expanded_pa)
    assert wide[1].expanded_pa == narrow[1].expanded_pa == 0.0
    assert wide[2].expanded_pa == pytest.approx(narrow[2].expanded_pa, rel=0.01)  # what was sealed in decides


def test_tolerance_holds_air_and_sensor():
    """If this fails, a sound sensor would be called wrong, or a wrong one sound: 1.96 times both u together."""
    m, o, f = expected_at_rest(HERE, SENSORS)
    assert m.tolerance_pa == pytest.approx(1.96 * (625.0**2 + HERE.u_pressure_pa**2) ** 0.5, rel=1e-3)
    assert o.tolerance_pa == pytest.approx(1.96 * 2_500.0, rel=1e-3)
    assert f.tolerance_pa == pytest.approx(1.96 * (1_500.0**2 + 1_000.0**2 + HERE.u_pressure_pa**2) ** 0.5, rel=1e-3)
    assert (m.stop_pa, o.stop_pa) == (3_000.0, None)


def test_a_record_takes_the_place_of_the_data_sheet():
    """If this fails, the volts of the worksheet stay those of the data sheet although the sensor was calibrated."""
    run = simulate_pressure(TrueTransducer(), PressureBench(), up_and_down(1e6), seed=3)
    gauge = Reference(identifier="G1", kind="gauge", limits=1e3)
    record = calibrate_pressure(run, Setup(references={"G1": gauge}), "O1").calibration
    (plain,) = expected_at_rest(HERE, {"O1": SENSORS["O1"]})
    (told,) = expected_at_rest(HERE, {"O1": SENSORS["O1"]}, calibrations={"O1": record})
    assert told.calibrated
    assert not plain.calibrated
    assert told.expected_pa == plain.expected_pa == 0.0
    assert told.ratio == float(record.ratio(0.0)) != plain.ratio
    assert told.u_zero_pa == float(u_pressure_pa(record, 0.0, hot_body=False)) < plain.u_zero_pa
