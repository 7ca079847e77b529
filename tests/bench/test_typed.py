"""Readings typed by hand."""

from __future__ import annotations

import pytest

from sensorcal.bench.settle import settled_points
from sensorcal.bench.typed import typed_run
from sensorcal.errors import InputError
from sensorcal.setup import Field, Setup


def test_names_and_numbers_become_points() -> None:
    """Ice and steam by name would lose their temperatures, or a typed temperature its place."""
    setup = Setup(field=Field(elevation_m=640.0, qnh_pa=100_900.0, station_elevation_m=610.0))
    points = settled_points(typed_run({"ice": 5262.0, 50.0: 725.0, "steam": 172.9}), setup, "P1")
    assert [point.reference_id for point in points] == ["ice", "T1", "steam"]
    assert [round(point.value, 2) for point in points] == pytest.approx([0.0, 50.0, 97.73], abs=0.03)


@pytest.mark.parametrize(("readings", "words"), [({"ice": 0.0}, "not above zero"), ({"boil": 172.0}, "fixed point")])
def test_what_cannot_be_is_refused(readings: dict[str, float], words: str) -> None:
    """A short or a misspelt fixed point would become a point of the curve."""
    with pytest.raises(InputError, match=words):
        typed_run(readings)
