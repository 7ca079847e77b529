"""Digits of the covariance against 60-digit arithmetic (`tests.studies.precision` prints them all)."""

from __future__ import annotations

import pytest

from tests.probes import j_sh, k_sh
from tests.studies.precision import measure


@pytest.mark.parametrize("shared", [False, True], ids=["independent", "shared reference"])
@pytest.mark.parametrize("probe", [j_sh(), k_sh()], ids=["J-SH", "K"])
def test_digits(probe, shared):
    """The covariance would lose digits: below 14 from 0 to 100 °C, below 12 over a single kelvin."""
    for low, high, least in ((0.0, 100.0, 14.0), (20.0, 21.0, 12.0)):
        digits = measure(probe, low, high, shared=shared)
        assert digits["centred covariance"] >= least
        assert digits["variance of T"] >= least
        assert digits["core, covariance of A, B, C"] >= least
    # over one kelvin the powers of ln R as typed keep seven at best: the reason for the centred terms
    assert digits["as typed, variance of T"] < 8.0
