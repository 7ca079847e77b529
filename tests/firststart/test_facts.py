"""What is known before the log is opened; what is not is assumed aloud."""

from __future__ import annotations

import numpy as np
import pytest

from sensorcal.engine import ChannelLimits, Engine
from sensorcal.firststart.facts import start_facts
from sensorcal.setup import Field, Setup

from .exactstart import exact_case, exact_facts


def test_the_station_pressure_follows_from_elevation_and_qnh():
    """If it failed, manifold pressure at rest would be held against the wrong air."""
    facts = start_facts(Setup(field=Field(elevation_m=640.0, qnh_pa=100_900.0)))
    # Altimeter setting by the standard atmosphere: p = (QNH^n - (p0^n L/T0) H)^(1/n), n = 0.190263 (ICAO Doc 7488).
    n = 0.190263
    expected = (100_900.0**n - 101_325.0**n * 0.0065 / 288.15 * 640.0) ** (1.0 / n)
    assert facts.station_known
    assert facts.station_pa == pytest.approx(expected, abs=5.0)  # rounding of the exponent
    assert 0.0 < facts.u_station_pa < 500.0


def test_what_is_not_stated_is_wide_and_said():
    """If it failed, an assumed air pressure would be believed like a report."""
    nothing, place = start_facts(Setup()), start_facts(Setup(field=Field(elevation_m=640.0)))
    assert not nothing.station_known
    assert not place.station_known
    assert nothing.u_station_pa > place.u_station_pa > exact_facts().u_station_pa
    assert any("elevation" in note for note in nothing.notes)
    assert any("QNH" in note for note in place.notes)
    assert sum("range" in note for note in nothing.notes) == 3
    assert not any(curve.known for curve in nothing.curves.values())


def test_stated_ranges_and_limits_are_taken():
    """If it failed, the judge would not know the sensors and limits that the builder typed."""
    facts = exact_facts()
    assert facts.ranges_known == {"oil_pressure", "fuel_pressure", "map"}
    assert facts.span_pa("oil_pressure") == 1e6
    assert facts.low["oil_pressure"] == exact_case().limits["oil_pressure"][0]
    assert "coolant" not in facts.low
    assert not any("range" in note for note in facts.notes)
    one = start_facts(Setup(limits={"coolant": ChannelLimits(name="coolant", high=118.0)}, engine=Engine()))
    assert one.high == {"coolant": 118.0}


def test_a_curve_by_the_sheet_gives_its_rows_and_its_inverse():
    """If it failed, every edit in ohms would be of another size than on the bench."""
    curve, panel = exact_facts().curves["coolant"], exact_case().panel
    rows = np.array([-20.0, 0.0, 25.0, 50.0, 80.0, 100.0, 120.0, 150.0])
    assert curve.known
    assert curve.pull_up_ohm == panel.pull_up_ohm
    # The sheet is printed to 0.1 ohm: at 150 degC that is 0.1 % of the resistance.
    assert curve.resistance_ohm(rows) == pytest.approx(panel.sheet_ohm(rows), rel=2e-3)
    for values in (np.linspace(-60.0, 200.0, 131), rows):
        assert curve.temperature_c(curve.resistance_ohm(values)) == pytest.approx(values, abs=1e-8)
        assert curve.temperature_of_fraction_c(curve.fraction(values)) == pytest.approx(values, abs=1e-6)
    assert (np.diff(curve.resistance_ohm(np.linspace(-60.0, 200.0, 131))) < 0).all()


def test_a_resistance_that_is_none_is_no_temperature():
    """If it failed, a negative resistance left over by an edit would read as hot."""
    assert np.isnan(exact_facts().curves["coolant"].temperature_c([0.0, -5.0])).all()


def test_half_the_supply_is_the_pull_up():
    """If it failed, the share of the supply would be that of the pull-up, not of the probe."""
    curve = exact_facts().curves["coolant"]
    at = float(curve.temperature_c(curve.pull_up_ohm))
    assert float(curve.fraction(at)) == pytest.approx(0.5, abs=1e-12)
    assert float(curve.fraction(at + 30.0)) < 0.5
