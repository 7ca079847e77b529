"""Claims: at least 1.5 °C beyond the hottest point, none where the curve ends, and A, B, C with their covariance."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from sensorcal.calibration.calibration import expanded_c
from sensorcal.calibration.claims import (
    abc_covariance,
    claim_at,
    point_expanded_c,
    round_temperatures_c,
    shape_confirmed,
    worst_tested,
)
from sensorcal.calibration.sheet import check_against_sheet
from tests.book import example

SHEET = [(0.0, 5230.0), (25.0, 1800.0), (50.0, 721.0), (97.7, 172.1), (120.0, 98.2)]


def test_beyond_the_hottest_point_at_least_one_and_a_half_degrees_are_claimed() -> None:
    """If it failed, an extrapolated figure would be trusted as if it had been tested (job of the redline line)."""
    cal = example.calibration()
    at = claim_at(cal, 120.0)
    assert at.extrapolated
    assert at.expanded_c == pytest.approx(float(expanded_c(cal, 120.0)))
    assert at.claim_c == 1.5
    confirmed = claim_at(cal, 120.0, shape_confirmed=True)
    assert confirmed.expanded_c is not None
    assert confirmed.claim_c == max(1.0, confirmed.expanded_c)
    inside = claim_at(cal, 97.0)
    assert not inside.extrapolated
    assert inside.claim_c == inside.expanded_c
    cold = claim_at(cal, -10.0)
    assert cold.extrapolated
    assert cold.claim_c == cold.expanded_c
    assert not claim_at(cal, 130.0).far
    assert claim_at(cal, 133.0).far


def test_where_the_curve_ends_there_is_a_reason_instead_of_a_number() -> None:
    """If it failed, a curve that turns would give a resistance that belongs to another temperature."""
    cal = example.calibration()
    bent = dataclasses.replace(cal, curve=dataclasses.replace(cal.curve, p2=1.0e-5))
    at = claim_at(bent, 150.0)
    assert at.resistance_ohm is None
    assert at.claim_c is None
    assert "turns at" in at.why_not


def test_worst_tested_is_the_largest_u_between_the_points() -> None:
    """If it failed, the page would promise more between the points than holds."""
    cal = example.calibration()
    fine = expanded_c(cal, np.linspace(*cal.tested_c, 20_001))
    assert worst_tested(cal).expanded_c == pytest.approx(float(fine.max()), rel=1e-4)


def test_covariance_of_a_b_c_gives_the_stated_u() -> None:
    """If it failed, a reader who propagates A, B and C by hand would get another U."""
    for model, size in (("steinhart-hart", 3), ("beta", 2)):
        cal = example.calibration(model=model)
        covariance = abc_covariance(cal)
        assert covariance.shape == (size, size)
        ln = np.log(cal.resistance_ohm(60.0))
        row = np.array([1.0, ln, ln**3])[:size]
        u = np.sqrt(row @ covariance @ row) * (60.0 + 273.15) ** 2
        direct = np.sqrt((claim_at(cal, 60.0).u_statistical_c or 0.0) ** 2)
        assert u == pytest.approx(direct, rel=1e-5)  # raw powers of ln R lose about seven of sixteen digits


def test_point_u_holds_inflation() -> None:
    """If it failed, points that scatter too much would be shown with bars that are too short."""
    cal = dataclasses.replace(example.calibration(), inflation=2.0)
    np.testing.assert_allclose(point_expanded_c(cal), 2.0 * 1.959964 * cal.points.u_c, rtol=1e-6)
    assert np.all(point_expanded_c(cal, own=True) <= point_expanded_c(cal))


def test_the_sheet_confirms_only_where_used_met_and_not_contradicted() -> None:
    """If it failed, the cautious 1.5 °C would fall away without the sheet behind it."""
    cal = example.calibration()
    t, r = cal.points.temperature_c.tolist(), cal.points.resistance_ohm.tolist()
    met = check_against_sheet(t, r, cal.points.u_c.tolist(), SHEET, tolerance_ratio=0.03)
    missed = check_against_sheet(t, [1.1 * one for one in r], cal.points.u_c.tolist(), SHEET, tolerance_ratio=0.03)
    assert shape_confirmed(cal, met, sheet_is_prior=True)
    assert not shape_confirmed(cal, met, sheet_is_prior=False)
    assert not shape_confirmed(cal, missed, sheet_is_prior=True)
    assert not shape_confirmed(cal, (), sheet_is_prior=True)
    assert not shape_confirmed(example.calibration(prior=False), met, sheet_is_prior=True)
    assert cal.prior is not None
    quarrel = dataclasses.replace(cal, prior=dataclasses.replace(cal.prior, disagreement=3.0))
    assert not shape_confirmed(quarrel, met, sheet_is_prior=True)


def test_round_temperatures_stay_inside() -> None:
    """If it failed, a page would list temperatures nobody asked for, or leave out the ends."""
    assert round_temperatures_c(-20.0, 20.0) == (-20.0, -10.0, 0.0, 10.0, 20.0)
    assert round_temperatures_c(1.0, 9.0) == ()
