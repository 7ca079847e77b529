"""Typed mistakes are asked about with their size, and right numbers are left in peace."""

from __future__ import annotations

import pytest

from sensorcal.bench.plausible import (
    check_qnh,
    questions_about_air,
    questions_about_barometer,
    questions_about_steam,
    usual_mistakes,
)
from sensorcal.bench.station import reported_station_pressure
from sensorcal.errors import InputError
from sensorcal.physics.altimeter import station_pressure_pa

HERE = {"elevation_m": 640.0, "qnh_pa": 100_900.0, "station_elevation_m": 610.0}


def asked(**changed):
    """Codes and sizes of the questions about these inputs."""
    return [(question.code, round(question.size_c, 2)) for question in questions_about_air(**(HERE | changed))]


def test_sizes_of_the_usual_mistakes():
    """A mistake at the steam point would have another size than the scenario's arithmetic says."""
    sizes = {mistake.code: mistake.size_c for mistake in usual_mistakes(**HERE)}
    expected = {"steam-100": 2.27, "qnh-as-station": 2.13, "no-weather": 0.12, "feet": -4.86, "metres": 1.48}
    assert sizes == pytest.approx(expected, abs=0.005)


def test_feet_for_metres():
    """2100 typed for 640 m would pass, with or without a station elevation to compare with."""
    assert asked(elevation_m=2_100.0) == [("feet", -4.86)]
    assert asked(elevation_m=2_100.0, station_elevation_m=2_000.0) == [("feet", -4.86)]
    question = questions_about_air(**(HERE | {"elevation_m": 2_100.0}))[0]
    assert question.suggestion == pytest.approx(640.08)
    assert "feet?" in question.text


def test_metres_for_feet():
    """640 m read as 640 ft (195 m) would pass."""
    assert asked(elevation_m=640.0 * 0.3048) == [("metres", 1.48)]


def test_high_ground_with_its_unit_is_left_in_peace():
    """Somebody whose workshop is at 2100 m would be asked although the unit was written."""
    assert asked(elevation_m=2_100.0, station_elevation_m=2_000.0, unit_stated=True) == []


@pytest.mark.parametrize("elevation_m", [0.0, 5.0, 120.0, 640.0, 1_400.0])
@pytest.mark.parametrize("higher_m", [0.0, 30.0, 100.0])
@pytest.mark.parametrize("qnh_pa", [98_600.0, 100_900.0, 104_000.0])
def test_no_false_question(elevation_m, higher_m, qnh_pa):
    """Ordinary fields in ordinary weather would be asked about."""
    assert asked(elevation_m=elevation_m + higher_m, station_elevation_m=elevation_m, qnh_pa=qnh_pa) == []


def test_station_pressure_typed_as_qnh():
    """At 350 m the station pressure lies inside the range of QNH and would pass."""
    typed = float(station_pressure_pa(100_900.0, 350.0))
    assert 94_000.0 < typed < 98_500.0
    found = asked(elevation_m=350.0, station_elevation_m=350.0, qnh_pa=typed)
    assert [code for code, _ in found] == ["station-as-qnh"]
    assert found[0][1] == pytest.approx(-1.15, abs=0.05)


def test_far_station():
    """A station a kilometre lower would be used without a word."""
    assert [code for code, _ in asked(elevation_m=1_480.0, station_elevation_m=20.0)] == ["far-station"]


def test_unusual_qnh_needs_a_reason():
    """A QNH of 930 hPa would be refused for good, or kept without its reason."""
    with pytest.raises(InputError, match="outside 940 to 1060"):
        check_qnh(93_000.0)
    kept = reported_station_pressure(elevation_m=5.0, qnh_pa=93_000.0, keep_reason="deep low, tower confirmed")
    assert [question.code for question in kept.questions] == ["qnh-unusual"]
    assert kept.questions[0].reason == "deep low, tower confirmed"
    with pytest.raises(InputError, match="outside"):
        check_qnh(2_992.0, keep_reason="because")


@pytest.mark.parametrize(
    ("pressure_pa", "elevation_m", "codes"),
    [
        (93_470.0, 640.0, []),
        (100_900.0, 640.0, ["qnh-as-station"]),
        (100_900.0, 20.0, []),
        (80_000.0, 640.0, ["pressure-elevation"]),
        (93_470.0, 2_100.0, ["pressure-elevation"]),
    ],
)
def test_barometer_against_elevation(pressure_pa, elevation_m, codes):
    """A QNH typed as the barometer's reading, or an elevation in feet, would pass."""
    found = questions_about_barometer(pressure_pa=pressure_pa, elevation_m=elevation_m)
    assert [question.code for question in found] == codes
    if codes == ["qnh-as-station"]:
        assert found[0].size_c == pytest.approx(2.13, abs=0.005)


@pytest.mark.parametrize(
    ("typed_c", "boiling_c", "code", "size_c"),
    [
        (100.0, 97.729, "steam-100", 2.271),
        (99.856, 97.729, "qnh-as-station", 2.127),
        (207.9, 97.729, "fahrenheit", 110.171),
        (96.0, 97.729, "steam-typed", -1.729),
    ],
)
def test_typed_steam(typed_c, boiling_c, code, size_c):
    """A wrong steam temperature would pass, or its size be wrong."""
    (question,) = questions_about_steam(typed_c, boiling_c, u_boiling_c=0.024, qnh_pa=100_900.0, keep_reason="why not")
    assert question.code == code
    assert question.size_c == pytest.approx(size_c, abs=1e-9)
    assert question.reason == "why not"


@pytest.mark.parametrize(("typed_c", "boiling_c"), [(100.0, 99.974), (97.7, 97.729), (97.85, 97.729)])
def test_right_steam_is_left_in_peace(typed_c, boiling_c):
    """At sea level on a standard day 100 °C is 0.03 off and would be questioned all the same."""
    assert questions_about_steam(typed_c, boiling_c, u_boiling_c=0.024) == ()
