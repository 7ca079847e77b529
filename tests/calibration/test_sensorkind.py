"""Vented, sealed or absolute from one open-line reading."""

from __future__ import annotations

import pytest

from sensorcal.calibration.sensorkind import sensor_kind
from sensorcal.errors import InputError

HERE_PA = 93_470.0  # 640 m, QNH 1009 hPa at 610 m, the invented scenario


@pytest.mark.parametrize(
    ("reading", "kind", "at_3000"), [(-7_900.0, "sealed", -31.3), (0.0, "gauge", 0.0), (93_500.0, "absolute", 70.1)]
)
def test_story_14(reading, kind, at_3000):
    """A sealed gauge taken for a vented one would read 31 kPa low at 3000 m and nobody would know why."""
    found = sensor_kind(reading, station_pressure_pa=HERE_PA)
    assert found.kind == kind
    assert found.probability[kind] > 0.9
    assert sum(found.probability.values()) == pytest.approx(1.0)
    assert dict(found.shown_pa)[3000.0] / 1000 == pytest.approx(at_3000, abs=0.1)
    assert found.expected_pa["sealed"] / 1000 == pytest.approx(-7.9, abs=0.05)


def test_sea_level_cannot_tell_vented_from_sealed():
    """Where both would show zero the answer must be the prior, and say that it is not certain."""
    found = sensor_kind(0.0, station_pressure_pa=101_325.0)
    assert found.kind == "gauge"
    assert found.probability["sealed"] > 0.2
    assert "not certain" in found.sentence


def test_a_wide_zero_error_takes_the_certainty():
    """A zero good to 1 % of span only cannot tell -7.9 kPa from an ordinary zero error."""
    sure = sensor_kind(-7_900.0, station_pressure_pa=HERE_PA)
    wide = sensor_kind(-7_900.0, station_pressure_pa=HERE_PA, u_zero_pa=10_000.0)
    assert wide.probability["sealed"] < 0.5 < sure.probability["sealed"]


def test_the_prior_is_the_users():
    """Where the user knows that there is no sealed sensor, none may be found."""
    found = sensor_kind(-7_900.0, station_pressure_pa=HERE_PA, prior={"gauge": 0.9, "sealed": 0.0, "absolute": 0.1})
    assert found.probability["sealed"] == 0.0


def test_no_kind_fits():
    """A broken wire must not be called the nearest kind."""
    found = sensor_kind(-125_000.0, station_pressure_pa=HERE_PA)
    assert found.kind == "none"
    assert "no kind explains" in found.sentence
    assert found.shown_pa == ()


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"station_pressure_pa": 934.7}, "station_pressure_pa 934.7 Pa"),
        ({"u_zero_pa": 0.0}, "u_zero_pa"),
        ({"prior": {"gauge": 0.5, "sealed": 0.2, "absolute": 0.1}}, "no probability"),
    ],
)
def test_bad_input_is_named(change, words):
    """Hectopascals typed as pascals would make every sensor absolute."""
    with pytest.raises(InputError, match=words):
        sensor_kind(0.0, **{"station_pressure_pa": HERE_PA, **change})
