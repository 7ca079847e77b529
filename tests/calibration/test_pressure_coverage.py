"""Short form of the coverage study of pressure sensors: both intervals hold the truth as often as they say."""

from __future__ import annotations

import math

import numpy as np
import pytest

from tests.studies.pressure_coverage import BENCH, FINE, HARD, coverage
from tests.studies.pressure_whole_run import whole_runs

EVENINGS = 1000
# Two standard errors of a coverage of 95 % from so many evenings.
NOISE = 2.0 * math.sqrt(0.95 * 0.05 / EVENINGS)


@pytest.mark.slow
@pytest.mark.parametrize("bench", [HARD, BENCH, FINE], ids=lambda bench: bench.name)
def test_both_intervals_hold(bench):
    """An error that the bench shares but the fit takes for independent would leave coverage far below 95 %."""
    found = coverage(bench, evenings=EVENINGS, draws=4_000)
    assert np.all(found.guide >= 0.95 - NOISE), found.guide
    # the study's own margin of 1 % and the noise of so few evenings; 4000 draws give 0.25 % too little besides
    assert np.all(np.abs(found.monte_carlo - 0.9475) <= 0.01 + NOISE), found.monte_carlo
    assert found.spread_ratio == pytest.approx(np.ones(5), abs=0.07)
    # limits are rectangular: the Monte Carlo interval is narrower than k = 2 promises
    assert np.all(found.half_widths_pa[:, 1] < found.half_widths_pa[:, 0])


@pytest.mark.slow
def test_u_of_a_whole_run_holds():
    """A term lost between the rows and U, or a loop counted in none of them, would leave too many errors outside."""
    found = whole_runs(200)
    # at least 95 % asked; two standard errors of 200 evenings are 3 %
    assert found.held.min() >= 0.92, found.held
    assert found.questioned <= 0.035  # 1 % expected: more than 7 come by chance once in 900 times
    assert found.inflated <= 0.035
