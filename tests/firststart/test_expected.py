"""The start sheet's numbers: from the day, the sensors, their records and the engine as its builder describes it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from sensorcal.bench.demo_harness import harness_setup
from sensorcal.calibration.figures import figures_of, judge
from sensorcal.engine import JUDGED, ChannelLimits, Engine
from sensorcal.errors import InputError
from sensorcal.firststart.expected import EVENTS, PHASES, start_sheet
from sensorcal.firststart.expectedphases import fuel_expected_pa
from sensorcal.firststart.facts import start_facts
from sensorcal.physics.manifold import hidden_deficit_pa
from sensorcal.setup import Field, Setup
from sensorcal.setupfile import read_setup
from tests.book.example import calibration

STARTS = read_setup(Path(__file__).parents[2] / "data" / "starts" / "setup.toml")
SHEET = start_sheet(STARTS)
FIELD = Field(elevation_m=640.0, qnh_pa=100_900.0, station_elevation_m=610.0, air_temperature_c=12.0)


def test_every_channel_in_every_phase():
    """A channel or a phase would have no expected value, and a wrong reading there would pass."""
    assert tuple(one.channel for one in SHEET.channels) == JUDGED
    for one in SHEET.channels:
        assert tuple(row.phase for row in one.expected) == PHASES
        for row in one.expected:
            assert row.low is None or row.high is None or row.low < row.high
            # Where nothing bounds it the row says at least what to look at.
            assert row.low is not None or row.high is not None or row.note


def test_the_manifold_at_rest_and_its_three_figures():
    """Job-map story 7: expected 93.47 kPa, and 94.56 shown would not be found worth acting on."""
    setup = replace(STARTS, field=FIELD)
    rest = start_sheet(setup).channel("map").phase("master on")
    middle = (rest.low + rest.high) / 2.0
    assert middle == pytest.approx(93_470.0, abs=15.0)
    found = judge(figures_of("map", "at rest against station pressure"), 94_560.0 - middle, 105.0)
    assert found.verdict == "worth-acting"
    # QNH read as station pressure is beyond the figure at which the channel is not used.
    assert judge(figures_of("map", "at rest against station pressure"), 100_900.0 - middle).verdict == "stop"


def test_fuel_pressure_by_its_reference():
    """Job-map story 15: 346.5 kPa expected at 140 kPa in the airbox, and a fixed alarm at 310 hides 36 kPa."""
    setup = Setup(
        field=replace(FIELD, qnh_pa=100_930.0),
        engine=Engine(fuel_reference="airbox", fuel_set_pa=300e3, boosted="yes"),
        limits={"map": ChannelLimits(name="map", high=140e3)},
    )
    facts = replace(start_facts(setup), station_pa=93_500.0)
    expected = fuel_expected_pa(facts, None, 140e3)
    assert expected == pytest.approx(346_500.0)
    assert float(hidden_deficit_pa(310e3, expected)) == pytest.approx(36_500.0)
    manifold = replace(facts, engine=replace(setup.engine, fuel_reference="manifold"))
    assert fuel_expected_pa(manifold, 40e3, None) == pytest.approx(246_500.0)
    # A sealed gauge shows the air less what was sealed in: 7.8 kPa less here.
    assert fuel_expected_pa(facts, None, 140e3, kind="sealed") == pytest.approx(346_500.0 - 7_825.0)
    # The sheet's row at run-up reaches to the boosted value, its row at idle does not.
    row = start_sheet(setup).channel("fuel_pressure")
    assert row.phase("run-up").high > 346_500.0 > row.phase("idle").high


def test_sealed_sensor_and_short_range_are_said():
    """A sealed gauge's -7.9 kPa would be taken for a fault, or a regulator's reference be forgotten."""
    sheet = start_sheet(harness_setup())
    fuel = sheet.channel("fuel_pressure")
    rest = fuel.phase("master on")
    assert (rest.low + rest.high) / 2.0 == pytest.approx(-7_855.0, abs=30.0)
    assert any("sealed" in note for note in fuel.notes)
    assert any("airbox" in note for note in fuel.notes)


def test_a_record_narrows_what_is_measurable():
    """A calibrated probe would be judged as loosely as one by its maker's sheet."""
    # Inside the tested points; beyond them the claim of a record is as wide as a sheet's.
    setup = replace(harness_setup(), limits={"coolant": ChannelLimits(name="coolant", high=90.0)})
    with_record = start_sheet(setup, records={"P1": calibration(sensor="P1")}).channel("coolant")
    without = start_sheet(setup).channel("coolant")
    assert (with_record.known_by, without.known_by) == ("record", "sheet")
    assert with_record.measurable < without.measurable
    assert start_sheet(Setup(field=FIELD)).channel("coolant").known_by == "usual"


def test_boiling_margin_of_the_coolant():
    """The sheet would hide that plain water under this cap boils below the coolant's limit."""
    engine = replace(STARTS.engine, cap_pressure_pa=90e3)
    at_home = start_sheet(replace(STARTS, engine=engine, field=FIELD))
    # 93.47 + 90 kPa: 117.6 degC, as in `sensorcal.installed.boilmargin`.
    assert at_home.coolant_boils_c == pytest.approx(117.5, abs=0.1)
    assert at_home.boiling_margin_c == pytest.approx(at_home.coolant_boils_c - 120.0)
    loose = start_sheet(replace(STARTS, engine=replace(engine, cap_pressure_pa=None), field=FIELD))
    assert loose.coolant_boils_c == pytest.approx(97.73, abs=0.02)
    assert "pressure of the coolant cap" in loose.missing


def test_limits_of_the_manual_stand_as_stops():
    """A typed limit would not reach the card of the fire guard."""
    assert SHEET.channel("oil_pressure").stop_low == 120e3
    assert SHEET.channel("coolant").stop_high == 120.0
    assert start_sheet(Setup(field=FIELD)).missing[0] == "lowest oil pressure"


@pytest.mark.parametrize(("field", "name"), [(Field(qnh_pa=1e5), "elevation"), (Field(elevation_m=640.0), "qnh")])
def test_what_is_needed_is_asked_for(field, name):
    """A sheet would rest on a standard day that nobody chose."""
    with pytest.raises(InputError, match=f"{name} is not stated"):
        start_sheet(Setup(field=field))


def test_events_in_the_order_of_a_start():
    """Job-map 9.10: a moment of the list would be missing."""
    assert EVENTS == (
        "master", "pump", "crank", "5 s", "10 s", "30 s", "1 min", "2 min", "5 min", "10 min", "stop", "+10 s",
        "+3 min",
    )  # fmt: skip


def test_without_a_compressor_the_manifold_stays_below_the_air():
    """An engine without boost would be allowed more than the air's pressure, and its charge air a compressor's heat."""
    setup = replace(STARTS, engine=replace(STARTS.engine, boosted="no"))
    sheet = start_sheet(setup)
    manifold = sheet.channel("map")
    assert manifold.phase("run-up").high == pytest.approx(manifold.phase("master on").high)
    assert sheet.channel("charge_in").phase("run-up").high < SHEET.channel("charge_in").phase("run-up").high


def test_heat_of_full_boost_by_the_law_of_compression():
    """The upper bound of the charge air would not be that of 145 kPa on 93.5 at 14 degC and an efficiency of 0.6."""
    station = SHEET.station.pressure_pa
    rise = 287.15 * ((145e3 / station) ** (0.4 / 1.4) - 1.0) / 0.60
    assert SHEET.channel("charge_in").phase("run-up").high == pytest.approx(14.0 + rise + 10.0, abs=0.1)
    assert SHEET.channel("charge_out").phase("run-up").high == pytest.approx(14.0 + 0.6 * rise + 10.0, abs=0.1)
