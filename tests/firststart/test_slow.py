"""A probe that lags is put right by its own rate of change."""

from __future__ import annotations

import numpy as np
import pytest

from sensorcal.firststart.phases import find_phases
from sensorcal.firststart.simulate import simulate_start
from sensorcal.firststart.simulate_faults import Fault
from sensorcal.firststart.slow import charge_lag_s, slow_edits
from sensorcal.firststart.summary import W

from .exactstart import exact_case, rows_of, view_of

SMOOTH = ("s120", "s180", "s300", "s600", "end_run")


def test_a_lag_of_a_known_size_is_put_right():
    """If it failed, a slow probe would be a wrong curve, or a slow engine."""
    start = simulate_start(exact_case(), Fault(kind="slow_probe", channel="coolant", size={"lag_s": 70.0}))
    phases = find_phases(start.twin)
    view, rows, twin = view_of(start.log, phases), rows_of(start.log, phases), rows_of(start.twin, phases)
    (edit,) = (one for one in slow_edits(rows, view) if one.channels == ("coolant",))
    at = [W[name] for name in SMOOTH]
    off = np.abs(edit.row_of(rows)["coolant"][:, at] - twin["coolant"][at]).max(axis=1)
    assert edit.sizes[int(np.argmin(off)), 0] == 70.0
    # A smoothed derivative of the warm-up is good to half a degree; the lag alone is several.
    assert off.min() < 1.5
    assert np.abs(rows["coolant"][at] - twin["coolant"][at]).max() > 5.0


@pytest.mark.parametrize("lag_s", [12.0, 55.0])
def test_the_lag_behind_the_boost_is_measured(lag_s):
    """If it failed, a slow charge-air probe could not be told from a fast one."""
    start = simulate_start(exact_case(), Fault(kind="slow_probe", channel="charge_in", size={"lag_s": lag_s}))
    found = charge_lag_s(view_of(start.log), "charge_in", exact_case().day.station_pa)
    assert lag_s / 2.0 < found < 2.0 * lag_s


def test_without_boost_no_lag_is_claimed():
    """If it failed, noise at idle would be read as a time constant."""
    view = view_of(simulate_start(exact_case()).log)
    assert np.isnan(charge_lag_s(view, "charge_in", 200e3))
