"""Coolant under its cap: boiling with altitude, and how far a limit stays below it."""

from __future__ import annotations

import numpy as np
import pytest

from sensorcal.errors import InputError
from sensorcal.installed.boilmargin import boiling_margin, coolant_boiling_c
from sensorcal.physics.atmosphere import standard_pressure_pa
from sensorcal.physics.water import boiling_point_c, saturation_pressure_pa

ALTITUDE_M = np.array([0.0, 640.0, 2000.0, 3000.0, 4500.0])


def test_under_a_cap_and_without():
    """If this fails, gauge is taken for absolute: boiling under 90 kPa would come to 97 degC at sea level."""
    assert coolant_boiling_c(ALTITUDE_M, 90e3) == pytest.approx([118.8, 117.6, 115.1, 113.3, 110.9], abs=0.05)
    # The scenario prints whole degrees but for 97.9; 640 m is 97.85.
    assert coolant_boiling_c(ALTITUDE_M, 0.0) == pytest.approx([100.0, 97.9, 93.3, 90.0, 84.9], abs=0.06)


def test_boiling_is_where_the_vapour_pressure_equals_the_systems():
    """If this fails, cap and ambient are not added: the vapour pressure at boiling must be their sum to 1 Pa."""
    boiling = coolant_boiling_c(ALTITUDE_M, 90e3)
    assert saturation_pressure_pa(boiling) == pytest.approx(standard_pressure_pa(ALTITUDE_M) + 90e3, abs=1.0)


def test_a_measured_pressure_goes_before_the_standard_one():
    """If this fails, a day of low pressure is taken for a standard day."""
    found = float(coolant_boiling_c(640.0, 90e3, ambient_pa=91_000.0))
    assert found == pytest.approx(float(boiling_point_c(181_000.0)))
    assert found < float(coolant_boiling_c(640.0, 90e3))


def test_margin_of_a_limit_that_sea_level_permits():
    """If this fails, a limit of 115 degC looks fit for 3000 m, where water under 90 kPa boils at 113.3."""
    found = boiling_margin(115.0, ALTITUDE_M, 90e3)
    assert found.margin_c[0] == pytest.approx(3.8, abs=0.05)
    assert found.margin_c[3] == pytest.approx(-1.7, abs=0.05)
    assert (found.unsealed_margin_c < found.margin_c).all()
    assert (found.unsealed_margin_c < 0.0).all()
    assert (np.diff(found.margin_c) < 0.0).all()


def test_a_mixture_moves_it_by_what_its_maker_says():
    """If this fails, the raise of a glycol mix is lost or counted twice, or only with the cap tight."""
    plain, mixed = (boiling_margin(115.0, ALTITUDE_M, 90e3, mixture_raise_c=raise_c) for raise_c in (0.0, 4.0))
    assert mixed.margin_c - plain.margin_c == pytest.approx(4.0)
    assert mixed.unsealed_margin_c - plain.unsealed_margin_c == pytest.approx(4.0)


@pytest.mark.parametrize(
    ("cap_pa", "raise_c", "word"), [(-1.0, 0.0, "cap cannot hold"), (float("nan"), 0.0, "cap"), (9e4, -1.0, "raise")]
)
def test_refusals(cap_pa, raise_c, word):
    """If this fails, a cap typed as a suction, or a mixture that boils early, passes."""
    with pytest.raises(InputError, match=word):
        coolant_boiling_c(0.0, cap_pa, mixture_raise_c=raise_c)
