"""A thermometer corrected by its readings in ice and steam."""

import math

import pytest

from sensorcal.bench.reference import corrected_reference
from sensorcal.errors import InputError
from sensorcal.setup import Field, Reference, ReferenceCheck, Setup

HERE = Setup(field=Field(elevation_m=640.0, qnh_pa=100_900.0, station_elevation_m=610.0))
KITCHEN = Reference(
    identifier="T2", limits=1.0, checks=(ReferenceCheck(at="ice", reads=0.6), ReferenceCheck(at="steam", reads=98.9))
)


def test_kitchen_thermometer() -> None:
    """0.6 in ice and 98.9 in steam (true 97.73) would not be corrected by -0.6 to -1.2 in a line."""
    sizes = [corrected_reference(reading, KITCHEN, HERE).correction for reading in (0.6, 49.75, 98.9)]
    assert sizes[0] == pytest.approx(-0.6, abs=0.001)
    assert sizes[2] == pytest.approx(-1.17, abs=0.005)
    assert sizes[1] == pytest.approx((sizes[0] + sizes[2]) / 2, abs=0.001)
    expanded = 2 * corrected_reference(50.0, KITCHEN, HERE).u
    assert expanded == pytest.approx(0.36, abs=0.02)  # job asked for about 0.5 with the bath's own share
    assert 2 * KITCHEN.standard_u == pytest.approx(1.15, abs=0.01)


def test_at_the_checks_only_the_checks_count() -> None:
    """At the checks the bow would still be charged, or a check's own uncertainty forgotten."""
    found = corrected_reference(0.6, KITCHEN, HERE)
    bath = HERE.bath
    wanted = math.hypot(bath.u_ice_purity_c, bath.u_ice_gradient_c, 0.1 / math.sqrt(12))
    assert found.u == pytest.approx(wanted, rel=1e-6)


def test_without_checks() -> None:
    """A thermometer as bought would be corrected."""
    found = corrected_reference(50.0, Reference(identifier="T1", limits=0.5), HERE)
    assert (found.value, found.correction) == (50.0, 0.0)
    assert found.u == pytest.approx(0.5 / math.sqrt(3))
    assert found.parts[0].key == "reference:T1"


def test_one_check() -> None:
    """One check in ice would be taken for proof of the whole scale."""
    reference = Reference(identifier="T1", limits=0.5, checks=(ReferenceCheck(at="ice", reads=0.3),))
    near, far = (corrected_reference(value, reference, HERE) for value in (0.3, 95.0))
    assert near.correction == far.correction == pytest.approx(-0.3)
    assert near.u < 0.06
    assert far.u > reference.standard_u
    assert "one point only" in far.notes[0]


def test_beyond_the_checks_is_said() -> None:
    """A correction would be carried beyond the checks in silence."""
    assert "extrapolated" in corrected_reference(-15.0, KITCHEN, HERE).notes[0]
    assert not corrected_reference(50.0, KITCHEN, HERE).notes


def test_certified_value_as_check() -> None:
    """A check at a stated value would need ice or steam."""
    checks = (ReferenceCheck(at="212 degF", reads=101.0, u=0.02), ReferenceCheck(at="0 degC", reads=0.0, u=0.02))
    found = corrected_reference(101.0, Reference(identifier="T1", checks=checks), HERE)
    assert found.value == pytest.approx(100.0)


def test_gauge_in_ice_and_equal_checks() -> None:
    """Nonsense checks would end in a traceback."""
    gauge = Reference(identifier="G1", kind="gauge", limits=5000.0, checks=(ReferenceCheck(at="ice", reads=0.0),))
    with pytest.raises(InputError, match="pressure"):
        corrected_reference(1000.0, gauge, HERE)
    twice = Reference(
        identifier="T1", checks=(ReferenceCheck(at="ice", reads=0.6), ReferenceCheck(at="ice", reads=0.6))
    )
    with pytest.raises(InputError, match="all read the same"):
        corrected_reference(50.0, twice, HERE)
