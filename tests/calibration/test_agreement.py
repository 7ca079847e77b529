"""The quick chi-squared of many variants is that of the whole fit."""

from __future__ import annotations

import math

import numpy as np
import pytest

from sensorcal.calibration.agreement import chi_squared_of_variants
from sensorcal.calibration.thermistor import TYPICAL, fit_thermistor
from sensorcal.errors import FitError
from sensorcal.measure.terms import term
from tests.probes import k_sh
from tests.studies.coverage import USUAL


def _chi_squared(t, r, terms, model, prior):
    try:
        return fit_thermistor(t, r, terms, model=model, prior=prior).chi_squared
    except FitError:
        return math.inf


@pytest.mark.parametrize("prior", [None, TYPICAL], ids=["prior off", "prior on"])
@pytest.mark.parametrize("model", ["steinhart-hart", "beta"])
@pytest.mark.parametrize("n", [3, 4, 7])
def test_same_as_the_whole_fit(prior, model, n):
    """A slip would be judged by another chi-squared than the fit has, or allowed where no curve fits."""
    rng = np.random.default_rng(n)
    t_true = np.linspace(0.0, 98.0, n)
    t = t_true + rng.normal(0.0, 5.0, (60, n))
    r = k_sh().resistance_ohm(t_true) * np.exp(rng.normal(0.0, 1.0, (60, n)))
    r[:5, [0, -1]] = r[:5, [-1, 0]] * (3.0, 1 / 3.0)  # cold and hot exchanged: no thermistor
    r[5] = -r[5] if n == 4 else 0.0
    terms = USUAL.terms(t_true)
    ours = chi_squared_of_variants(t, r, terms, model=model, prior=prior)
    right = np.array([_chi_squared(*pair, terms, model, prior) for pair in zip(t, r, strict=True)])
    assert 0 < np.count_nonzero(np.isinf(right)) < 60
    assert np.array_equal(np.isinf(ours), np.isinf(right))
    kept = np.isfinite(right)
    assert ours[kept] == pytest.approx(right[kept], rel=1e-9, abs=1e-9)


def test_impossible_readings_are_set_aside():
    """One variant below absolute zero or below a few ohms would spoil the others, or pass."""
    t = np.array([[0.0, 50.0, 97.7, 120.0], [0.0, -400.0, 97.7, 120.0], [0.0, 50.0, 97.7, 120.0]])
    r = np.array([[5230.0, 721.0, 172.1, 98.2], [5230.0, 721.0, 172.1, 98.2], [5.230, 0.721, 0.172, 0.098]])
    sound, cold, low = chi_squared_of_variants(t, r, (term("bath", 0.15, 4, common=False),), prior=TYPICAL)
    assert sound < 5.0
    assert math.isinf(cold)
    assert math.isinf(low)


def test_a_budget_without_own_uncertainty():
    """A budget that the fit refuses would pass here."""
    t, r = np.array([[0.0, 50.0, 97.7, 120.0]]), np.array([[5230.0, 721.0, 172.1, 98.2]])
    assert math.isinf(chi_squared_of_variants(t, r, (term("reference", 0.15, 4, common=True),))[0])
