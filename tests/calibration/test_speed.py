"""Time beside the peer, interleaved in one run (`tests.studies.speed` prints it): ratios, not microseconds."""

from __future__ import annotations

import timeit

import pytest

from sensorcal.calibration.blunders import screen
from sensorcal.measure.terms import term
from tests.probes import k_sh
from tests.studies.coverage import points_of
from tests.studies.speed import ratios

LIMITS = {"fit_core": 0.25, "fit_thermistor, prior, 4 terms, 2 shared": 2.0}


@pytest.mark.slow
def test_fit_beside_curve_fit():
    """The bare fit would take more than a quarter, the whole more than twice the time of SciPy's curve_fit."""
    for _ in range(3):  # a busy machine may spoil a round, not three
        measured = {name: ratio for name, (_, ratio) in ratios(rounds=7, calls=40).items()}
        if all(measured[name] <= limit for name, limit in LIMITS.items()):
            break
    for name, limit in LIMITS.items():
        assert measured[name] <= limit


@pytest.mark.slow
def test_screening():
    """Looking through a hundred possible slips would make the user wait: more than 15 ms for six points."""
    t, r = points_of(k_sh(), 6)
    t[2] += 2.0
    terms = (term("bath", 0.15, 6, common=False),)
    assert screen(t, r, terms).suspect
    assert min(timeit.repeat(lambda: screen(t, r, terms), number=3, repeat=7)) / 3 < 0.015
