"""Statistics of the judge on the simulator, in short; the full form is `python -m tests.studies.start_power`."""

from __future__ import annotations

import pytest

from sensorcal.firststart.channels import GENUINE
from tests.studies.start_power import CYCLE, run, shares, tasks_of
from tests.studies.start_score import report


@pytest.mark.slow
def test_the_judge_finds_what_it_should_and_leaves_sound_engines_alone():
    """If it failed, the judge would cry wolf, miss faults of size, or keep silent over an engine in trouble."""
    rows = run([*tasks_of(66), *tasks_of(14, 701_000, GENUINE)], processes=1)
    told = shares(rows)
    assert told["errors"] == 0
    assert told["broke"] >= 4
    assert told["silent"] == []
    assert told["away"] == []
    # Floors against a step back, well below what these seeds measured (7 %, 80 %, 64 % of 44 faults), no goals: the
    # goals of 2, 95 and 90 % need the thousands of logs of the full study.
    assert told["false"] <= 0.15
    assert told["large_detected"] >= 0.7
    assert told["large_family"] >= 0.5
    assert "healthy with any finding" in report(rows)


def test_every_kind_takes_its_turn():
    """If it failed, a kind would never be drawn, and its power never be known."""
    from sensorcal.firststart.channels import KINDS

    assert set(CYCLE) == {"healthy", *KINDS}
    assert [seed for seed, _ in tasks_of(3)] == [700_000, 700_001, 700_002]
