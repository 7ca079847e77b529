"""A log in blocks: nothing that is no reading gets in, and the stretches lie where the engine did it."""

from __future__ import annotations

import numpy as np
import pytest

from sensorcal.firststart.digital import signs
from sensorcal.firststart.facts import start_facts
from sensorcal.firststart.phases import find_phases
from sensorcal.firststart.startlog import StartLog, start_log
from sensorcal.firststart.windows import middle_of, smoothed, windows
from sensorcal.setup import Field, Setup

from .starts import CRANK_S, START_S, STOP_S, made_log, made_start


def view_of(log, setup=None):
    """Windows of a log."""
    facts, phases = start_facts(setup or Setup()), find_phases(log)
    return windows(log, phases, facts, signs(log, phases, facts))


def test_the_stretches_lie_where_the_engine_did_it():
    """If it failed, a question about the rest would be asked of a running engine."""
    view = view_of(made_log())
    t = view.time_s
    assert t[view.rest].max() < CRANK_S
    assert t[view.before].min() > CRANK_S - 11.0
    assert ((t[view.crank] >= CRANK_S - 1.0) & (t[view.crank] <= START_S + 1.0)).all()
    assert (t[view.running].min(), t[view.running].max()) == pytest.approx((START_S + 15.0, STOP_S), abs=2.0)
    assert t[view.end_run].min() > STOP_S - 21.0
    assert ((t[view.after_stop] > STOP_S + 2.0) & (t[view.after_stop] < STOP_S + 11.0)).all()
    assert t[view.at_rest_again].min() > STOP_S + 14.0
    assert view.rest.any()
    assert view.crank.any()
    assert view.after_start.any()
    assert view.soak.any()
    assert not (view.rest & view.crank).any()
    assert not (view.running & (view.crank | view.after_start | view.soak)).any()


def test_blocks_are_means_of_their_rows():
    """If it failed, a fast log would be judged by other numbers than a slow one."""
    log = made_log(step_s=0.1)
    view = view_of(log)
    assert view.width_s == pytest.approx(1.0)
    assert view.time_s.size == pytest.approx(900, abs=2)
    block = (log.time_s >= 300.0) & (log.time_s < 301.0)
    at = int(np.argmin(np.abs(view.time_s - 300.45)))
    assert view.values["coolant"][at] == pytest.approx(log.values["coolant"][block].mean(), abs=0.02)


def test_a_long_log_has_a_bounded_number_of_blocks():
    """If it failed, an hour's log would take an hour's time."""
    t = np.arange(0.0, 7200.0, 0.5)
    view = view_of(start_log(t, {"rpm": np.where(t > 60.0, 1500.0, 0.0), "coolant": 15.0 + t / 100.0}))
    assert view.time_s.size <= 1501


def test_rails_spikes_and_blanks_are_left_out():
    """If it failed, an open wire would pull down the mean of its block."""
    made = made_start(0.25)
    t = made.pop("time")
    sound = view_of(start_log(t, made)).values["coolant"]
    marred = made["coolant"].copy()
    marred[(t > 200.0) & (t < 230.0)] = -40.0
    marred[np.isin(t, (350.0, 400.25, 450.5))] += 60.0
    marred[(t > 300.0) & (t < 320.0)] = np.nan
    seen = view_of(start_log(t, made | {"coolant": marred})).values["coolant"]
    known = np.isfinite(seen)
    assert np.abs(seen - sound)[known].max() < 0.3
    assert 45 <= (~known).sum() <= 52


def test_air_temperature_by_setup_then_column_then_probes():
    """If it failed, a typed air temperature would be overruled by a sensor in the sun."""
    typed = view_of(made_log(), Setup(field=Field(air_temperature_c=3.0)))
    column, probes = view_of(made_log()), view_of(made_log("oat"))
    nothing = view_of(start_log(np.arange(100.0), {"rpm": np.zeros(100)}))
    assert typed.ambient_c == 3.0
    assert column.ambient_c == pytest.approx(12.0)
    assert probes.ambient_c == pytest.approx(12.0, abs=1.0)
    assert typed.u_ambient_c < column.u_ambient_c < probes.u_ambient_c < nothing.u_ambient_c


def test_an_event_list_keeps_every_row():
    """If it failed, two typed rows a second apart would be averaged."""
    labels = ("master", "crank", "5 s", "10 s", "stop")
    log = StartLog(
        kind="events", time_s=np.array([0.0, 40.0, 40.4, 50.0, 300.0]), labels=labels,
        values={"coolant": np.array([14.0, 14.0, 15.0, 16.0, 60.0])},
    )  # fmt: skip
    assert view_of(log).values["coolant"].tolist() == [14.0, 14.0, 15.0, 16.0, 60.0]


def test_a_log_without_an_engine_has_no_run():
    """If it failed, windows of a run would be read from a parked aeroplane."""
    view = view_of(made_log(end_s=35.0))
    assert view.start_s is None
    assert view.stop_s is None
    assert not any(w.any() for w in (view.crank, view.after_start, view.running, view.end_run, view.after_stop))


def test_medians_and_means_leave_blanks_out():
    """If it failed, one blank would blank its window."""
    x = np.array([1.0, np.nan, 3.0, 100.0, 5.0])
    assert middle_of(x, np.array([True, True, True, False, True])) == 3.0
    assert np.isnan(middle_of(x, np.array([False, True, False, False, False])))
    assert smoothed(np.array([1.0, np.nan, 3.0]), 3).tolist() == [1.0, 2.0, 3.0]
    assert smoothed(x, 1) is x
