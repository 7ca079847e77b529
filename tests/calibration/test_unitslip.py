"""Unit slips from a slope: every pair found again, what cannot be told apart, refusals."""

from __future__ import annotations

import itertools

import pytest

from sensorcal.calibration.unitslip import unit_from_slope
from sensorcal.errors import InputError
from sensorcal.units import to_si

UNITS = ("Pa", "hPa", "kPa", "bar", "psi", "inHg", "mmHg", "inH2O")


@pytest.mark.parametrize(
    ("slope", "told"),
    [
        (6.9, "psi entered as kPa"),
        (3.386, "inHg entered as kPa"),
        (14.5, "bar entered as psi"),
        (100.0, "bar entered as kPa"),
        (1 / 27.7, "inH2O entered as psi"),
        (27.7, "psi entered as inH2O"),
        (1 / 6.9, "kPa entered as psi"),
        (0.1, "hPa entered as kPa"),
    ],
)
def test_slips_of_the_bench(slope, told):
    """A usual mix-up would not be named first (factors: NIST SP 811)."""
    assert unit_from_slope(slope)[0].text.startswith(told)


@pytest.mark.parametrize(("entered", "wanted"), list(itertools.permutations(UNITS, 2)))
def test_every_mixed_pair_is_found(entered, wanted):
    """A pair of units would be missing, also with the sensor's span 2 % off."""
    slope = to_si(1.0, entered) / to_si(1.0, wanted)
    for off in (0.98, 1.0, 1.02):
        found = unit_from_slope(slope * off, taken_as=wanted)
        assert entered in {guess.entered for guess in found}
        assert all(guess.taken_as in {wanted, ""} for guess in found)


def test_what_cannot_be_told_apart():
    """A slipped decimal point and bar for kPa have one factor: naming only one would be a guess sold as a finding."""
    found = unit_from_slope(100.0, taken_as="kPa")
    assert [guess.entered for guess in found] == ["bar", ""]
    assert "decimal point" in unit_from_slope(10.0, taken_as="kPa")[0].text


def test_a_sound_slope_accuses_nobody():
    """A span error of a few per cent would be called a unit."""
    for slope in (0.98, 1.0, 1.025, 1.4, 0.6):
        assert unit_from_slope(slope) == ()


def test_refusals():
    """A falling slope or a unit that is no pressure would be looked up."""
    with pytest.raises(InputError, match=r"slope_ratio -6\.9"):
        unit_from_slope(-6.9)
    with pytest.raises(InputError, match="taken_as = 'degC'"):
        unit_from_slope(6.9, taken_as="degC")
    with pytest.raises(InputError, match="tolerance_ratio 3"):
        unit_from_slope(6.9, tolerance_ratio=3.0)
