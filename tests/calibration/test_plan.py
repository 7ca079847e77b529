"""What a plan promises before any water is heated."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sensorcal.bench.scenario import probe_j_resistance_ohm
from sensorcal.calibration.calibration import CurvaturePrior, expanded_c, u_statistical_at_c
from sensorcal.calibration.plan import (
    expected_from_sheet,
    expected_reading,
    planned_calibration,
    predicted_expanded_c,
)
from sensorcal.calibration.thermistor import TYPICAL, fit_thermistor
from sensorcal.errors import InputError
from sensorcal.measure.terms import term
from sensorcal.physics.curves import SteinhartHart

ICE, BATH, STEAM, OIL = 0.08, 0.25, 0.12, 0.5
AT_C = np.array([25.0, 60.0, 90.0, 110.0, 120.0, 130.0, 150.0])
J_SH = SteinhartHart.through_points([0.0, 50.0, 97.7], [5230.0, 721.0, 172.1])

# The project's own worked table of expanded U (k = 2) for the invented probe J, computed apart from this code with
# the coefficient C known to 30 %: points in °C, standard uncertainties, whether with that prior, U at AT_C.
TABLE = {
    "ice, 50, steam": ([0, 50, 97.7], [ICE, BATH, STEAM], False, [0.40, 0.47, 0.23, 0.43, 0.68, 0.97, 1.68]),
    "five points": (
        [0, 25, 50, 75, 97.7],
        [ICE, BATH, BATH, BATH, STEAM],
        False,
        [0.28, 0.33, 0.20, 0.39, 0.57, 0.79, 1.31],
    ),
    "three and prior": ([0, 50, 97.7], [ICE, BATH, STEAM], True, [0.27, 0.31, 0.22, 0.34, 0.48, 0.66, 1.08]),
    "ends twice and prior": (
        [0, 0, 50, 97.7, 97.7],
        [ICE, ICE, BATH, STEAM, STEAM],
        True,
        [0.26, 0.30, 0.17, 0.27, 0.41, 0.59, 1.02],
    ),
    "with 117": ([0, 50, 97.7, 117], [ICE, BATH, STEAM, OIL], False, [0.36, 0.44, 0.23, 0.37, 0.58, 0.84, 1.46]),
    "with 117 and prior": (
        [0, 50, 97.7, 117],
        [ICE, BATH, STEAM, OIL],
        True,
        [0.26, 0.31, 0.22, 0.31, 0.44, 0.60, 1.01],
    ),
}


class _J:
    """The invented probe J itself, which is not quite of the Steinhart-Hart form."""

    def resistance_ohm(self, temperature_c: object) -> object:
        return probe_j_resistance_ohm(temperature_c)


def _c_to_30_percent(points_c: list[float], u_c: list[float]) -> CurvaturePrior:
    """State 'C is known to 30 %' as what it is for the local curvature kappa = 6 C m / (B + 3 C m²)."""
    curve = planned_calibration(points_c, u_c, curve=_J(), prior=None).curve
    _, b, c = curve.abc
    m = float(np.mean(np.log(probe_j_resistance_ohm(points_c))))
    kappa = 6.0 * c * m / (b + 3.0 * c * m * m)
    return replace(TYPICAL, kappa=kappa, u_kappa=0.30 * kappa * b / (b + 3.0 * c * m * m))


@pytest.mark.parametrize("name", TABLE)
def test_worked_table_of_six_plans(name: str) -> None:
    """The U promised before the evening would differ from a computation made apart from this code."""
    points, u, with_prior, expected = TABLE[name]
    prior = _c_to_30_percent(points, u) if with_prior else None
    plan = planned_calibration(points, u, curve=_J(), prior=prior)
    two_u = 2.0 * u_statistical_at_c(plan, probe_j_resistance_ohm(AT_C))
    # The table has two decimals: one unit of the last, since it is not known how it was rounded.
    assert np.abs(np.round(two_u, 2) - expected) == pytest.approx(0.0, abs=0.0101)


def test_hot_oil_gains_less_than_a_tenth() -> None:
    """A plan that praised a home-made 117 °C point would send people to hot oil for nothing."""
    for prior in (None, TYPICAL):
        three, four = (
            predicted_expanded_c(*TABLE[name][:2], [120.0], curve=J_SH, prior=prior, with_form=False)[0]
            for name in ("ice, 50, steam", "with 117")
        )
        assert 0.02 < three - four < 0.1


def test_plan_equals_the_fit_of_the_same_points_with_noise() -> None:
    """U must come from the points' places and uncertainties, not from what happens to be read there."""
    t, u = np.array([0.0, 25.0, 50.0, 75.0, 97.7]), np.array([ICE, BATH, BATH, BATH, STEAM])
    promised = predicted_expanded_c(t, u, AT_C, curve=J_SH)
    noise = np.array([0.05, -0.2, 0.15, 0.1, -0.1])
    fitted = fit_thermistor(t + noise, J_SH.resistance_ohm(t), (term("own", u, 5, common=False),))
    assert expanded_c(fitted, AT_C) == pytest.approx(promised, rel=0.08)


def test_shared_errors_count_in_a_plan() -> None:
    """A thermometer's bias moves all bath points together; a plan that averaged it away would promise too much."""
    t, u = [0.0, 25.0, 50.0, 75.0, 97.7], [ICE, 0.1, 0.1, 0.1, STEAM]
    bias = term("reference:T1", [0.0, 0.2, 0.2, 0.2, 0.0], 5, common=True)
    alone = predicted_expanded_c(t, u, [50.0], curve=J_SH)
    assert predicted_expanded_c(t, u, [50.0], curve=J_SH, terms=(bias,))[0] > 1.3 * alone[0]


def test_form_is_added_beyond_the_points() -> None:
    """Without the form of the curve a U at 120 °C would be statistics alone and too small."""
    t, u = TABLE["five points"][:2]
    whole = predicted_expanded_c(t, u, [60.0, 120.0], curve=J_SH)
    bare = predicted_expanded_c(t, u, [60.0, 120.0], curve=J_SH, with_form=False)
    assert bare[0] < whole[0] < 1.05 * bare[0]
    assert whole[1] > bare[1]


def test_sealed_envelope_of_the_steam_point() -> None:
    """After ice, 25 and 75 °C the steam ohms are foretold to about ± 0.8 °C (k = 2, prior ± 30 %), ± 3.8 ohm."""
    own = term("own", [ICE, BATH, BATH], 3, common=False)
    read = fit_thermistor([0.0, 25.0, 75.0], [5230.0, 1800.0, 325.4], (own,))
    steam = expected_reading(read, 97.73)
    assert steam.expanded_c == pytest.approx(0.8, abs=0.05)
    assert 0.5 * (steam.high_ohm - steam.low_ohm) == pytest.approx(3.8, abs=0.1)
    assert steam.holds(172.1)
    assert not steam.holds(179.0)
    # Two digits changed about: found before it is ever fitted.
    assert not steam.holds(127.1)
    assert expected_reading(read, 97.73, u_point_c=STEAM).expanded_c > steam.expanded_c


def test_expected_ohms_of_the_plan() -> None:
    """The worksheet's boxes would carry wrong ohms: 5230, 1800, 721, 325, 172 for the invented sheet."""
    sheet = (
        (-20.0, 14079.0),
        (0.0, 5230.0),
        (25.0, 1800.0),
        (50.0, 721.0),
        (75.0, 325.4),
        (97.7, 172.1),
        (150.0, 50.3),
    )
    rows = expected_from_sheet(
        [0.0, 25.0, 50.0, 75.0, 97.73], [ICE, BATH, BATH, BATH, STEAM], sheet, tolerance_ratio=0.03
    )
    assert [round(row.resistance_ohm) for row in rows] == [5230, 1800, 721, 325, 172]
    for row in rows:
        assert row.low_ohm < 0.97 * row.resistance_ohm
        assert row.high_ohm > 1.03 * row.resistance_ohm


def test_a_point_without_uncertainty_is_refused() -> None:
    """A planned u of zero would promise a curve without error."""
    with pytest.raises(InputError, match="not above zero"):
        planned_calibration([0.0, 97.7], [0.0, 0.1], curve=J_SH)
