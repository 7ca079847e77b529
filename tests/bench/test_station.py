"""Three numbers to pressure and boiling point: the scenario's figures, the budget, its coverage, the refusals."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from sensorcal.bench.station import (
    altimeter_station_pressure,
    boiling_point,
    measured_station_pressure,
    reported_station_pressure,
)
from sensorcal.bench.weather import WeatherReport
from sensorcal.errors import InputError
from sensorcal.physics.air import reported_pressure_pa

HERE = {"elevation_m": 640.0, "qnh_pa": 100_900.0, "station_elevation_m": 610.0}


def test_the_workshop():
    """The scenario's three numbers would not give 93.47 kPa and 97.73 °C, or more than 0.05 °C of doubt."""
    here = reported_station_pressure(**HERE)
    steam = boiling_point(here)
    assert here.pressure_pa == pytest.approx(93_470.0, abs=5.0)
    assert steam.temperature_c == pytest.approx(97.73, abs=0.005)
    assert 2.0 * here.u_pressure_pa * steam.slope_c_per_pa <= 0.05
    assert 2.0 * here.u_pressure_pa * steam.slope_c_per_pa >= 0.02  # less could not be honest with whole hPa
    assert here.questions == ()
    assert any("rounded down" in told for told in here.assumptions)
    assert any("10.8 °C" in told for told in here.assumptions)


def test_half_step():
    """Adding half a step would not raise pressure by half of 1 hPa, or would leave the whole step in the budget."""
    plain = reported_station_pressure(**HERE)
    added = reported_station_pressure(**HERE, report=WeatherReport(half_step=True))
    assert added.pressure_pa - plain.pressure_pa == pytest.approx(47.0, abs=0.1)
    assert boiling_point(added).temperature_c - boiling_point(plain).temperature_c == pytest.approx(0.0139, abs=1e-4)
    assert added.budget[0].u == pytest.approx(plain.budget[0].u / 2.0, rel=1e-3)
    assert "+0.014 °C" in plain.notes[0]
    assert "has been added" in added.notes[0]


def test_budget_adds_up():
    """The total would not be the root of the sum of the squares of its lines."""
    steam = boiling_point(reported_station_pressure(**HERE))
    for result, total in ((steam.station, steam.station.u_pressure_pa), (steam, steam.u_temperature_c)):
        assert total**2 == pytest.approx(sum(line.u**2 for line in result.budget), rel=1e-12)


def test_doubt_follows_the_stated_doubt():
    """Doubling every stated uncertainty would not double that of the pressure."""
    plain = WeatherReport(step_pa=0.0)
    names = ("u_sensor_pa", "u_age_pa", "u_building_pa", "u_gradient_pa_per_m")
    twice = dataclasses.replace(plain, **{name: 2.0 * getattr(plain, name) for name in names})
    one = reported_station_pressure(
        **HERE, report=plain, u_elevation_m=2.0, u_station_elevation_m=1.0, u_temperature_k=5.0
    )
    two = reported_station_pressure(
        **HERE, report=twice, u_elevation_m=4.0, u_station_elevation_m=2.0, u_temperature_k=10.0
    )
    assert two.u_pressure_pa == pytest.approx(2.0 * one.u_pressure_pa, rel=1e-12)


@pytest.mark.parametrize("half_step", [False, True])
def test_coverage_of_the_stated_interval(half_step):
    """±2u would not hold the true pressure 19 times in 20, with the report rounded down as stated (100 000 days)."""
    days = 100_000
    random = np.random.default_rng(20_260_502)
    report = WeatherReport(half_step=half_step)
    here = reported_station_pressure(**HERE, report=report)

    def rectangular(u):
        return random.uniform(-1.0, 1.0, days) * u * 3.0**0.5

    inputs = {line.identifier: line.u_input for line in here.budget}
    # the report hides 0 to 100 Pa above what it prints, whatever the tool assumes about it
    true_qnh = 100_900.0 + random.uniform(0.0, 100.0, days)
    true_pa = reported_pressure_pa(
        true_qnh,
        610.0 + rectangular(inputs["station-elevation"]),
        640.0 + rectangular(inputs["elevation"]),
        here.temperature_c + rectangular(inputs["air-temperature"]),
    )
    for term in ("station-barometer", "report-age", "building"):
        true_pa = true_pa + rectangular(inputs[term])
    covered = float(np.mean(np.abs(true_pa - here.pressure_pa) <= 2.0 * here.u_pressure_pa))
    # 95 % at least; the one-sided step makes the plain form a little wide, hardly ever beyond 98 %
    assert 0.95 <= covered <= 0.985


def test_far_station_is_worth_less():
    """A report from 40 km away and 300 m lower would be trusted like one from the same field."""
    near = reported_station_pressure(**HERE, temperature_c=15.0)
    far = reported_station_pressure(
        elevation_m=640.0,
        qnh_pa=100_900.0,
        station_elevation_m=340.0,
        temperature_c=15.0,
        report=WeatherReport(distance_m=40_000.0),
    )
    assert far.u_pressure_pa > 1.3 * near.u_pressure_pa
    assert {line.identifier: line.u for line in far.budget}["report-distance"] == pytest.approx(86.6, abs=0.1)


def test_station_elevation_hardly_matters():
    """The station's elevation would carry the weight of the workshop's own."""
    lines = {line.identifier: line for line in reported_station_pressure(**HERE).budget}
    assert abs(lines["station-elevation"].slope) < 0.02
    assert lines["elevation"].slope == pytest.approx(-11.24, abs=0.01)


def test_three_ways_to_the_same_pressure():
    """Report, barometer and altimeter would disagree about one and the same air."""
    reported = reported_station_pressure(**HERE)
    measured = measured_station_pressure(pressure_pa=reported.pressure_pa, u_pressure_pa=58.0, elevation_m=640.0)
    shown = altimeter_station_pressure(shown_altitude_m=640.0, setting_pa=100_900.0)
    assert boiling_point(measured).temperature_c == boiling_point(reported).temperature_c
    assert shown.pressure_pa == pytest.approx(reported.pressure_pa, abs=1.0)
    assert measured.u_pressure_pa == 58.0


def test_missing_station_elevation_is_assumed_and_named():
    """A missing station elevation would be filled in without a word."""
    here = reported_station_pressure(elevation_m=640.0, qnh_pa=100_900.0)
    assert here.station_elevation_m == 640.0
    assert "station elevation: 640 m, the workshop's own" in here.assumptions


@pytest.mark.parametrize(
    ("changed", "field"),
    [
        ({"elevation_m": 9_100.0}, "elevation_m 9100"),
        ({"elevation_m": float("nan")}, "elevation_m nan"),
        ({"elevation_m": -600.0}, "elevation_m -600"),
        ({"station_elevation_m": 20_000.0}, "station_elevation_m 20000"),
        ({"qnh_pa": 2_992.0}, "qnh_pa 29.92 hPa.*29.92 inHg is 1013.2 hPa"),
        ({"qnh_pa": 299_200.0}, "qnh_pa 2992 hPa.*29.92 inHg is 1013.2 hPa"),
        ({"qnh_pa": 10_090.0}, "qnh_pa 100.9 hPa.*kilopascals"),
        ({"qnh_pa": 93_470.0}, "qnh_pa 934.7 hPa.*a barometer at 640 m"),
        ({"qnh_pa": -100.0}, "qnh_pa -1 hPa"),
        ({"qnh_pa": float("nan")}, "qnh_pa nan"),
        ({"temperature_c": 288.0}, "temperature_c 288"),
        ({"u_elevation_m": -1.0}, "u_elevation_m -1"),
    ],
)
def test_refusals_name_the_field(changed, field):
    """An impossible input would be computed with, or refused without saying which one it is."""
    with pytest.raises(InputError, match=field):
        reported_station_pressure(**(HERE | changed))


@pytest.mark.parametrize("pressure_pa", [-5_000.0, 0.0, 934.7, 9_347_000.0, float("nan")])
def test_no_air_pressure(pressure_pa):
    """A gauge reading or hPa given as Pa would be taken for the pressure of the air."""
    with pytest.raises(InputError, match="pressure_pa"):
        measured_station_pressure(pressure_pa=pressure_pa, u_pressure_pa=58.0)


@pytest.mark.parametrize(
    ("inputs", "field"),
    [
        ({"rounding": "nearest", "half_step": True}, "half a step"),
        ({"rounding": "up"}, "rounding 'up'"),
        ({"distance_m": -1.0}, "distance_m -1"),
    ],
)
def test_report_refusals(inputs, field):
    """A report that contradicts itself would be accepted."""
    with pytest.raises(InputError, match=field):
        WeatherReport(**inputs)
