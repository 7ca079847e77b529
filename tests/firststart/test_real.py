"""Trouble of the engine itself: seen when it is there, with its times, and not where the engine is sound."""

from __future__ import annotations

import numpy as np

from sensorcal.engine import ChannelLimits, Engine
from sensorcal.firststart.digital import signs
from sensorcal.firststart.facts import start_facts
from sensorcal.firststart.phases import find_phases
from sensorcal.firststart.real import trouble
from sensorcal.firststart.startlog import start_log
from sensorcal.setup import Setup

from .soundstart import fallen, sound_values


def troubles(setup=None, **changes):
    """Find trouble of the sound start with some channels changed, by kind and channel."""
    t, values = sound_values(**changes)
    log, facts = start_log(t, values), start_facts(setup or Setup())
    phases = find_phases(log)
    found = trouble(log, phases, facts, signs(log, phases, facts))
    return {(one.kind, one.channel): one for one in sorted(found, key=lambda one: one.crossed)}  # crossed rules


def limits(name, low=None, high=None, **engine):
    """Give a setup with one typed limit."""
    return Setup(limits={name: ChannelLimits(name=name, low=low, high=high)}, engine=Engine(**engine))


def test_a_sound_engine_has_no_trouble():
    """If it failed, a good engine would be stopped; oil at zero before the start and after the stop is no trouble."""
    assert troubles() == {}
    assert troubles(limits("oil_pressure", low=150e3)) == {}


def test_low_oil_is_found_with_its_time_and_worst():
    """If it failed, an engine without oil would run on."""
    one = troubles(oil_pressure=fallen)["low_oil_pressure_real", "oil_pressure"]
    assert one.crossed
    assert (one.start_s, one.worst // 5e3) == (401.0, 2.0)


def test_a_typed_limit_rules_and_a_moment_below_it_does_not():
    """If it failed, the maker's limit would not count, or one bad row would ground the aeroplane."""
    falls = lambda x, t: np.where((t > 400.0) & (t < 500.0), x - 300e3, x)  # noqa: E731
    assert troubles(oil_pressure=falls) == {}
    assert ("low_oil_pressure_real", "oil_pressure") in troubles(limits("oil_pressure", low=150e3), oil_pressure=falls)
    assert troubles(limits("oil_pressure", low=150e3), oil_pressure=lambda x, t: np.where(t == 400.0, 20e3, x)) == {}


def test_a_jump_is_no_overheat_and_a_climb_is():
    """If it failed, a loose contact would be an overheated engine, or an overheated engine a loose contact."""
    jump = troubles(limits("coolant", high=118.0), coolant=lambda x, t: np.where((t > 400) & (t < 440), 135.0, x))
    climb = troubles(
        limits("coolant", high=118.0), coolant=lambda x, t: x + np.interp(t, [300, 600, 900], [0, 60, 60])
    )
    assert not any(one.crossed for (kind, _), one in jump.items() if kind == "overheat_real")
    assert climb["overheat_real", "coolant"].crossed


def test_low_fuel_needs_something_typed():
    """If it failed, a carburettor's 30 kPa would be trouble, or a failing pump none."""
    low = lambda x, t: np.where((t > 300) & (t < 700), 100e3, x)  # noqa: E731
    assert troubles(fuel_pressure=low) == {}
    typed = limits("fuel_pressure", low=200e3)
    assert ("low_fuel_pressure_real", "fuel_pressure") in troubles(typed, fuel_pressure=low)
    assert ("low_fuel_pressure_real", "fuel_pressure") in troubles(
        Setup(engine=Engine(fuel_set_pa=300e3)), fuel_pressure=low
    )


def test_erratic_coolant_is_trouble_and_noise_is_not():
    """If it failed, vapour at the probe would pass for a bad wire, or a bad wire for vapour."""
    wave = troubles(coolant=lambda x, t: x - 9.0 * ((t > 300) & (t % 30.0 < 12.0)))
    white = np.random.default_rng(5).standard_normal(900)
    assert not wave["coolant_airlock_real", "coolant"].crossed
    assert ("coolant_airlock_real", "coolant") not in troubles(coolant=lambda x, _: x + white)
