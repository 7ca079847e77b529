"""The hose of the manifold sensor: one open hose is one finding, a pinched one lags."""

from __future__ import annotations

import pytest

from sensorcal.firststart.hoses import lag_lines, lags
from sensorcal.firststart.judge import judge
from sensorcal.firststart.simulate import simulate_start
from sensorcal.firststart.simulate_demo import DEMO_FAULTS, demo_case, demo_setup
from sensorcal.firststart.simulate_faults import Fault

from .exactstart import exact_case, view_of


def test_an_open_hose_is_found_once():
    """Three findings of one open hose would send somebody to look for two more."""
    start = simulate_start(demo_case(), DEMO_FAULTS["map-hose-off.csv"])
    found = [(cause.kind, cause.channels) for cause in judge(start.log, demo_setup()).findings]
    assert found == [("map_hose_off", ("map",))]


@pytest.mark.parametrize("lag_s", [8.0, 20.0])
def test_a_pinched_hose_lags_by_its_time_constant(lag_s):
    """If it failed, the size in the finding would be another than that of the restriction."""
    start = simulate_start(exact_case(), Fault(kind="map_hose_pinched", channel="map", size={"lag_s": lag_s}))
    support, tau_s = lag_lines(lags(view_of(start.log)))
    assert support > 0.0
    assert lag_s / 1.8 < tau_s < 1.8 * lag_s


def test_an_open_bore_does_not_lag():
    """If it failed, every engine would be told to look at its hose."""
    assert lag_lines(lags(view_of(simulate_start(exact_case()).log)))[0] < 0.0
    assert lag_lines({}) == (0.0, 0.0)
