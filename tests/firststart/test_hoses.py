"""The hose of the manifold sensor: one open hose is one finding."""

from __future__ import annotations

from sensorcal.firststart.judge import judge
from sensorcal.firststart.simulate import simulate_start
from sensorcal.firststart.simulate_demo import DEMO_FAULTS, demo_case, demo_setup


def test_an_open_hose_is_found_once():
    """Three findings of one open hose would send somebody to look for two more."""
    start = simulate_start(demo_case(), DEMO_FAULTS["map-hose-off.csv"])
    found = [(cause.kind, cause.channels) for cause in judge(start.log, demo_setup()).findings]
    assert found == [("map_hose_off", ("map",))]
