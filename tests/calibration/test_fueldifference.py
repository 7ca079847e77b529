"""Fuel above the airbox: vented, sealed and absolute sensors agree, U follows its inputs, an independent library."""

from __future__ import annotations

import GTC
import pytest

from sensorcal.calibration.fueldifference import LOW_CAUTION, STEADY_CAUTION, fuel_difference
from sensorcal.errors import InputError

AIR, AIRBOX, HELD = 93_500.0, 140_000.0, 300_000.0
U = {"u_shown_pa": 1_600.0, "u_airbox_pa": 650.0}


def test_every_kind_of_sensor_tells_the_same_difference():
    """The air outside would be added to a sealed sensor, or forgotten for a vented one: 93 kPa."""
    rail = HELD + AIRBOX
    for kind, behind in (("gauge", AIR), ("sealed", 101_325.0), ("absolute", 0.0)):
        found = fuel_difference(shown_pa=rail - behind, airbox_pa=AIRBOX, kind=kind, ambient_pa=AIR, **U)
        assert found.value == pytest.approx(HELD)
        assert found.cautions == (STEADY_CAUTION,)


def test_the_story():
    """346.5 kPa gauge at 140 kPa in the airbox must be 300 kPa of difference; 310 must be 263.5."""
    plain = {"airbox_pa": AIRBOX, "ambient_pa": AIR, **U}
    assert fuel_difference(shown_pa=346_500.0, **plain).value == pytest.approx(HELD)
    assert fuel_difference(shown_pa=310_000.0, **plain).value == pytest.approx(263_500.0)


@pytest.mark.parametrize("correlation", [0.0, 0.9, -0.4])
def test_uncertainty_beside_an_independent_library(correlation):
    """An input would be left out, or a shared error counted with the wrong sign."""
    found = fuel_difference(
        shown_pa=HELD, airbox_pa=AIRBOX, ambient_pa=AIR, u_ambient_pa=100.0, correlation=correlation, **U
    )
    rail = GTC.ureal(HELD, 1_600.0, independent=False)
    box = GTC.ureal(AIRBOX, 650.0, independent=False)
    GTC.set_correlation(correlation, rail, box)
    assert found.u == pytest.approx(GTC.uncertainty(rail + GTC.ureal(AIR, 100.0) - box), rel=1e-9)


def test_a_sealed_sensor_does_not_feel_the_weather():
    """The air outside would enter a figure in which it has no part."""
    one, two = (
        fuel_difference(shown_pa=HELD, airbox_pa=AIRBOX, kind="sealed", ambient_pa=air, u_ambient_pa=u, **U)
        for air, u in ((AIR, 100.0), (70_000.0, 5_000.0))
    )
    assert (one.value, one.u) == (two.value, two.u)
    worse = fuel_difference(shown_pa=HELD, airbox_pa=AIRBOX, kind="sealed", u_sealed_pa=1_000.0, **U)
    assert worse.u**2 - one.u**2 == pytest.approx(1_000.0**2)


def test_fuel_that_cannot_flow_is_said():
    """A rail below the airbox would be printed as a figure like any other."""
    found = fuel_difference(shown_pa=20_000.0, airbox_pa=AIRBOX, ambient_pa=AIR, **U)
    assert found.cautions[0] == LOW_CAUTION


def test_wrong_input_is_named():
    """A vented sensor without the air outside would silently get that of sea level."""
    with pytest.raises(InputError, match="ambient_pa is not given"):
        fuel_difference(shown_pa=HELD, airbox_pa=AIRBOX, **U)
    with pytest.raises(InputError, match="kind 'vented' is not known"):
        fuel_difference(shown_pa=HELD, airbox_pa=AIRBOX, kind="vented", **U)
    with pytest.raises(InputError, match=r"airbox_pa 140 Pa .* looks like kPa"):
        fuel_difference(shown_pa=HELD, airbox_pa=140.0, ambient_pa=AIR, **U)
