"""The manifold sensor at rest: the story's numbers, mistakes recognised, coverage, offset split from span."""

from __future__ import annotations

import math

import numpy as np
import pytest

from sensorcal.bench.station import measured_station_pressure, reported_station_pressure
from sensorcal.calibration.mapcheck import MAP_SENSOR, check_map_at_rest, map_reading_from_volts, map_reading_shown
from sensorcal.calibration.mapsplit import (
    MapPoint,
    budget_of_point,
    gauge_point,
    open_point,
    split_offset_and_span,
    water_column_point,
)
from sensorcal.errors import InputError
from sensorcal.transducer import Transducer

SHOP = reported_station_pressure(elevation_m=640.0, qnh_pa=100_900.0, station_elevation_m=610.0)


def test_the_scenario():
    """Story of M1: 2.013 V on 5.000 V is 94.56 kPa where 93.47 ± 0.20 is due: 1.09 high, five times U."""
    check = check_map_at_rest(map_reading_from_volts(2.013, 5.000), SHOP)
    assert check.reading.shown_pa == pytest.approx(94_562.5, abs=0.1)
    assert SHOP.pressure_pa == pytest.approx(93_470.0, abs=5.0)
    assert check.difference_pa == pytest.approx(1_090.0, abs=5.0)
    assert check.expanded_pa() == pytest.approx(200.0, abs=10.0)
    assert check.difference_pa / check.expanded_pa() > 5.0
    assert check.judgement.verdict == "worth-acting"
    idle, boost = check.trims
    # the story says +1.24 from the difference rounded to 1.09; unrounded it is 1.245
    assert idle.span_trimmed_as_offset_pa == pytest.approx(-740.0, abs=5.0)
    assert boost.span_trimmed_as_offset_pa == pytest.approx(1_240.0, abs=10.0)
    assert idle.offset_trimmed_as_offset_pa == 0.0
    assert boost.offset_trimmed_as_span_pa == -boost.span_trimmed_as_offset_pa
    assert "second point before trimming" in check.text
    assert check.question == ""


def test_the_budget_adds_up():
    """The ± printed would not be made of the lines shown."""
    check = check_map_at_rest(map_reading_from_volts(2.013, 5.000), SHOP)
    assert math.sqrt(sum(line.u**2 for line in check.budget)) == pytest.approx(check.u_difference_pa, rel=1e-12)


def test_a_sound_sensor_is_left_alone():
    """A sensor within its uncertainty would be trimmed."""
    check = check_map_at_rest(map_reading_from_volts(1.9955, 5.000), SHOP)
    assert check.judgement.verdict == "agrees"
    assert check.trims == ()
    assert "trimming" not in check.text


def test_supply_cancels():
    """A supply of 4.93 V measured would change the pressure that the same ratio stands for."""
    full, low = map_reading_from_volts(2.013, 5.000), map_reading_from_volts(2.013 * 0.986, 4.930)
    assert low.shown_pa == pytest.approx(full.shown_pa, abs=1e-6)


def test_qnh_for_station_pressure_is_recognised():
    """The QNH typed as the pressure here would make a sound sensor look 7 kPa wrong."""
    typed = measured_station_pressure(pressure_pa=100_900.0, u_pressure_pa=100.0, elevation_m=640.0)
    check = check_map_at_rest(map_reading_shown(93_500.0, step_pa=100.0), typed)
    assert check.judgement.verdict == "stop"
    assert check.question.startswith("7.4 kPa: did you use QNH? At 640 m a QNH of 1009 hPa is 93.47 kPa")
    assert "First question" in check.text
    nowhere = measured_station_pressure(pressure_pa=100_900.0, u_pressure_pa=100.0)
    asked = check_map_at_rest(map_reading_shown(93_500.0, step_pa=100.0), nowhere).question
    assert asked == "7.4 kPa: did you use QNH? It would fit a field at about 640 m"


@pytest.mark.parametrize(
    ("shown_pa", "asked"),
    [
        (27_600.0, "inHg shown as kPa"),
        (13_560.0, "psi shown as kPa"),
        (935_000.0, "hPa shown as kPa"),
        (100.0, "gauge sensor"),
        (60_000.0, ""),
    ],
)
def test_other_mistakes_are_recognised(shown_pa, asked):
    """A unit or a gauge sensor would be taken for a broken one, or a broken one for a unit."""
    question = check_map_at_rest(map_reading_shown(shown_pa, step_pa=100.0), SHOP).question
    assert asked in question
    assert bool(question) == bool(asked)


@pytest.mark.parametrize(
    ("call", "told"),
    [
        (lambda: map_reading_from_volts(2.0, 0.0), "supply"),
        (lambda: map_reading_from_volts(0.3, 5.0), "shown_pa -12500 Pa is a negative absolute pressure"),
        (lambda: map_reading_shown(-100.0, step_pa=100.0), "negative absolute pressure"),
        (lambda: map_reading_shown(9e4, step_pa=0.0), "step_pa 0"),
        (lambda: map_reading_shown(9e4, step_pa=100.0, u_repeat_pa=-1.0), "u_repeat_pa -1"),
        (lambda: map_reading_from_volts(2.0, 5.0, sensor=Transducer(name="O1")), "O1 is a gauge sensor"),
        (lambda: reported_station_pressure(elevation_m=640.0, qnh_pa=2_992.0), "qnh_pa 29.92 hPa .* inches of mercury"),
        (lambda: reported_station_pressure(elevation_m=9_500.0, qnh_pa=101_300.0), "elevation_m 9500 m"),
    ],
)
def test_refusals_name_the_field(call, told):
    """A supply of zero, a negative absolute pressure, 29.92 hPa or 9500 m would be computed with."""
    with pytest.raises(InputError, match=told):
        call()


def reading_of(shown_pa):
    """A reading in volts on a 5 V supply that stands for a pressure."""
    return map_reading_from_volts(5.0 * (0.1 + 0.8 * shown_pa / 250e3), 5.0)


def test_two_water_columns_tell_offset_from_span():
    """A pure offset, or a pure span error, of 2 kPa at rest would not be told from the other over ± 15 kPa."""
    for name, error in (("offset", lambda _: 2_000.0), ("span", lambda p: 2_000.0 * p / SHOP.pressure_pa)):
        points = [open_point(SHOP, reading_of(SHOP.pressure_pa + error(SHOP.pressure_pa)))]
        for height_m in (-1.5, 1.5):
            true_pa = water_column_point(SHOP, reading_of(9e4), height_m=height_m).reference_pa
            points.append(water_column_point(SHOP, reading_of(true_pa + error(true_pa)), height_m=height_m))
        split = split_offset_and_span(points, SHOP)
        assert split.trim == name
        assert split.error_at_rest_pa == pytest.approx(2_000.0, abs=0.1)
        assert split.span_error_ratio == pytest.approx(
            0.0 if name == "offset" else 2_000.0 / SHOP.pressure_pa, abs=1e-6
        )
        assert split.zero_error_pa == pytest.approx(2_000.0 if name == "offset" else 0.0, abs=0.5)
        assert split.extrapolated(30_000.0)
        assert not split.extrapolated(93_000.0)


def test_one_water_column_cannot_tell_the_scenario():
    """1.09 kPa at rest and one column of 1.5 m would be sold as an offset or a span though U of the span is 1.3 %."""
    points = [
        open_point(SHOP, map_reading_from_volts(2.013, 5.0)),
        water_column_point(SHOP, map_reading_from_volts(2.248, 5.0), height_m=1.5),
    ]
    split = split_offset_and_span(points, SHOP)
    assert split.trim == "cannot-tell"
    assert 1.96 * split.u_span_error_ratio == pytest.approx(0.0128, abs=0.0005)


def test_gauge_points_and_both():
    """An offset with a span error would be trimmed by one constant, and a wrong point averaged in."""

    def point(gauge_pa, extra_pa=0.0):
        true_pa = SHOP.pressure_pa + gauge_pa
        shown = reading_of(true_pa + 1_500.0 + 0.03 * (true_pa - SHOP.pressure_pa) + extra_pa)
        if gauge_pa == 0.0:
            return open_point(SHOP, shown)
        return gauge_point(SHOP, shown, gauge_pa=gauge_pa, u_gauge_pa=300.0)

    split = split_offset_and_span([point(0.0), point(-60e3), point(100e3)], SHOP)
    assert split.trim == "both"
    assert split.error_pa(SHOP.pressure_pa + 100e3) == pytest.approx(4_500.0, abs=1.0)
    wrong = split_offset_and_span([point(0.0), point(-60e3), point(100e3), point(50e3, extra_pa=4_000.0)], SHOP)
    assert wrong.trim == "look-again"
    budget = budget_of_point(point(100e3), SHOP)
    assert {line.identifier for line in budget} >= {"map-reference:gauge", "meter-ratio", "report-rounding"}


def test_the_stated_intervals_hold_the_truth():
    """Over 20 000 simulated benches the 95 % intervals of offset and span would hold the truth too rarely."""
    rng = np.random.default_rng(20_260_615)
    at_pa = [
        open_point(SHOP, reading_of(9e4)),
        *(water_column_point(SHOP, reading_of(9e4), height_m=h) for h in (-1.5, 1.5)),
    ]
    own = np.array([math.hypot(p.u_reference_pa, p.reading.u_shown_pa) for p in at_pa])
    reference = np.array([p.reference_pa for p in at_pa])
    # the estimate is linear: its gain is found from unit errors, and the draws are passed through it
    base = split_offset_and_span([MapPoint(label="x", reference_pa=p.reference_pa, u_reference_pa=p.u_reference_pa,
                                           reading=reading_of(p.reference_pa)) for p in at_pa], SHOP)  # fmt: skip
    gains = []
    for i in range(3):
        moved = [MapPoint(label="x", reference_pa=p.reference_pa, u_reference_pa=p.u_reference_pa,
                          reading=reading_of(p.reference_pa + (1_000.0 if i == j else 0.0)))
                 for j, p in enumerate(at_pa)]  # fmt: skip
        split = split_offset_and_span(moved, SHOP)
        gains.append(((split.error_at_rest_pa - base.error_at_rest_pa) / 1e3,
                      (split.span_error_ratio - base.span_error_ratio) / 1e3))  # fmt: skip
    errors = rng.normal(size=(20_000, 3)) * own + rng.normal(size=(20_000, 1)) * SHOP.u_pressure_pa
    found = errors @ np.array(gains)
    for column, u in ((0, base.u_error_at_rest_pa), (1, base.u_span_error_ratio)):
        assert np.mean(np.abs(found[:, column]) <= 1.96 * u) == pytest.approx(0.95, abs=0.006)  # 4 standard errors
    u_here = base.u_error_pa(reference[2])
    here = found[:, 0] + found[:, 1] * (reference[2] - SHOP.pressure_pa)
    assert np.mean(np.abs(here) <= 1.96 * u_here) == pytest.approx(0.95, abs=0.006)


def test_refusals_of_the_split():
    """One point, the same pressure twice or a vacuum typed as pressure would give a span."""
    only = open_point(SHOP, reading_of(9e4))
    with pytest.raises(InputError, match="1 point within 1 kPa cannot tell"):
        split_offset_and_span([only], SHOP)
    with pytest.raises(InputError, match="2 points within 1 kPa"):
        split_offset_and_span([only, only], SHOP)
    with pytest.raises(InputError, match=r"gauge_pa -100 kPa below an air of 93\.5 kPa"):
        gauge_point(SHOP, reading_of(1e3), gauge_pa=-100e3, u_gauge_pa=500.0)
    assert MAP_SENSOR.kind == "absolute"
