"""What shows by itself becomes a cause with times; what the logger does as a whole is no channel's fault."""

from __future__ import annotations

import numpy as np
import pytest

from sensorcal.firststart.channels import KINDS
from sensorcal.firststart.clues import clues
from sensorcal.firststart.digital import signs
from sensorcal.firststart.phases import find_phases
from sensorcal.firststart.startlog import start_log

from .soundstart import sound_values
from .test_digital import FACTS, clues_of


def clues_in(log):
    """Clues of any log."""
    phases = find_phases(log)
    return clues(log, phases, FACTS, signs(log, phases, FACTS))


def without(lost):
    """Give the sound start without some rows."""
    t, values = sound_values()
    kept = ~lost(t)
    return start_log(t[kept], {name: x[kept] for name, x in values.items()})


def test_holes_of_the_whole_log_blame_no_channel():
    """If it failed, a logger that pauses would be reported as a fault of each sensor, or not at all."""
    (clue,) = clues_in(without(lambda t: (t % 60.0 > 45.0) & (t > 180.0)))
    assert (clue.kind, clue.channel) == ("dropouts", "")


def test_a_monitor_that_restarts_at_the_crank_is_healthy():
    """If it failed, the commonest brown-out would be called a fault."""
    assert clues_in(without(lambda t: (t > 122.0) & (t < 134.0))) == []


@pytest.mark.parametrize("since", [150.0, 400.0, 700.0])
def test_a_broken_wire_tells_since_when(since):
    """If it failed, the evidence would point at another moment than that of the break."""
    clue = clues_of(coolant=lambda x, t: np.where(t >= since, -40.0, x))["open_circuit", "coolant"]
    assert (clue.start_s, clue.end_s) == (since, 899.0)
    assert f"{since:.0f} s" in clue.evidence[0]


def test_a_wire_that_comes_and_goes_is_no_broken_one():
    """If it failed, a loose plug would be sought as a cut wire."""
    found = clues_of(coolant=lambda x, t: np.where((t % 60.0 < 5.0) & (t > 150.0), -40.0, x))
    assert ("intermittent", "coolant") in found
    assert ("open_circuit", "coolant") not in found


def test_more_excursions_weigh_more():
    """If it failed, ten signs would tell no more than three."""
    few = clues_of(coolant=lambda x, t: np.where(np.isin(t, (200.0, 300.0, 400.0)), x - 25.0, x))
    many = clues_of(coolant=lambda x, t: np.where((t % 50.0 == 0) & (t > 150.0), x - 25.0, x))
    assert 0.0 < few["intermittent", "coolant"].support < many["intermittent", "coolant"].support


def test_a_gauge_sensor_as_manifold_pressure_shows_by_itself():
    """If it failed, a manifold that reads zero at rest would be a broken wire."""
    found = clues_of(map=lambda x, t: np.where((t > 400.0) & (t < 430.0), 30e3, np.maximum(x - 97e3, 0.0)))
    assert ("wrong_reference_type", "map") in found


def test_a_flat_regulator_is_no_stuck_channel():
    """If it failed, good fuel pressure on a coarse display would be called dead."""
    assert clues_of(fuel_pressure=lambda x, _: np.full(x.size, 300e3)) == {}


def test_a_plateau_at_the_thermostat_is_no_stuck_channel():
    """If it failed, coolant held by its thermostat would be called dead."""
    assert ("stuck", "coolant") not in clues_of(coolant=lambda x, _: np.round(np.minimum(1.15 * x, 80.0)))


def test_one_number_while_the_engine_starts_is_a_dead_channel():
    """If it failed, oil pressure that stands at one number through start and stop would pass for steady."""
    assert ("stuck", "oil_pressure") in clues_of(oil_pressure=lambda x, _: np.full(x.size, 210e3))


def test_clues_speak_for_a_known_cause_in_words():
    """If it failed, a clue would have no name, no words, or speak against its own cause."""
    changes = {
        "coolant": lambda x, t: np.where(t > 300.0, 150.0, x), "map": lambda x, t: np.where(t % 9.0 == 0.0, np.nan, x),
        "gearbox_oil": lambda x, t: np.where(t > 400.0, x[400], x), "charge_in": lambda x, t: x + 8.0 * np.sin(t * t),
    }  # fmt: skip
    found = clues_of(**changes)
    assert {channel for _, channel in found} >= set(changes)
    for clue in found.values():
        assert {clue.kind, *clue.also} <= set(KINDS)
        assert clue.support > 0
        assert clue.evidence[0]
        assert clue.start_s <= clue.end_s
