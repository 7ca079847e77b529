"""Medians by window: they commute with every edit, or all edits would be undone wrongly."""

from __future__ import annotations

import numpy as np
import pytest

from sensorcal.firststart.startlog import start_log
from sensorcal.firststart.summary import WINDOWS, W, summarise, summarise_channel

from .exactstart import exact_facts
from .starts import made_log, made_start
from .test_windows import view_of

CURVE = exact_facts().curves["coolant"]
RISING = {
    "a unit": lambda x: 1.8 * x + 32.0,
    "a pull-up": lambda x: CURVE.temperature_c(CURVE.resistance_ohm(x) * 0.7),
    "a contact": lambda x: CURVE.temperature_c(CURVE.resistance_ohm(x) + 80.0),
    "a sag": lambda x: CURVE.temperature_of_fraction_c(CURVE.fraction(x) * 0.95),
}
# A step of load is a difference of medians; quantiles and even medians interpolate between two rows.
PLAIN = [name for name in WINDOWS if name not in {"loaded", "unloaded"}]


@pytest.mark.parametrize("name", RISING)
def test_medians_commute_with_a_rising_curve(name):
    """If it failed, an edit undone on the medians would not be the edit undone on the log."""
    view = view_of(made_log())
    x = view.values["coolant"]
    first, last = summarise_channel(view, RISING[name](x)), RISING[name](summarise_channel(view, x))
    at = [W[window] for window in PLAIN]
    assert np.isfinite(first[at]).sum() >= 18
    assert np.array_equal(np.isfinite(first), np.isfinite(last))
    # Between neighbouring rows, at most 0.3 degC apart, the curves are straight to a few thousandths.
    assert np.nanmax(np.abs(first[at] - last[at])) < 5e-3


def test_all_windows_of_a_whole_start_are_filled_in_order():
    """If it failed, a question would be asked of a window that is never there, or of another moment."""
    rows = summarise(view_of(made_log())).rows
    coolant = rows["coolant"]
    missing = {name for name in WINDOWS if not np.isfinite(coolant[W[name]])}
    assert missing <= {"loaded", "unloaded", "soak280"}
    order = [coolant[W[name]] for name in ("rest", "after_start", "s60", "s120", "s180", "s300", "s600")]
    assert (np.diff(order) > 0).all()
    made = made_start()
    for name, seconds in (("s60", 60.0), ("s120", 120.0), ("s300", 300.0)):
        at = np.interp(54.0 + seconds, made["time"], made["coolant"])
        assert coolant[W[name]] == pytest.approx(at, abs=0.5), name
    assert rows["map"][W["rest"]] == pytest.approx(94e3, abs=500.0)
    assert rows["map"][W["boost"]] == pytest.approx(118e3, abs=500.0)
    assert rows["rpm"][W["idle_cold"]] < 2500.0 < rows["rpm"][W["boost"]]


def test_a_window_that_the_log_lacks_is_no_number():
    """If it failed, a log that ends at idle would be told what its run-up showed."""
    rows = summarise(view_of(made_log(begin_s=30.0, end_s=400.0))).rows
    for name in ("after_stop", "soak60", "again", "s600", "boost"):
        assert np.isnan(rows["map"][W[name]]), name
    assert np.isfinite(rows["map"][W["s180"]])


def test_a_column_in_which_nothing_can_be_believed_has_no_rows():
    """If it failed, a blank column would be judged."""
    made = made_start()
    t = made.pop("time")
    rows = summarise(view_of(start_log(t, made | {"charge_in": np.full(t.size, np.nan)}))).rows
    assert "charge_in" not in rows
    assert "charge_out" in rows


def with_loads(**steps):
    """Rows and count of load steps of the made start, with a load on the bus for 20 s of each 50 s at idle."""
    made = made_start()
    t = made.pop("time")
    on = (t > 150.0) & (t < 480.0) & (t % 50.0 < 20.0)
    for name, step in ({"bus": -0.5} | steps).items():
        made[name] = made[name] + step * on
    summary = summarise(view_of(start_log(t, made)))
    return summary.rows, summary.load_steps


def test_load_steps_are_found_with_their_sign():
    """If it failed, a reading that falls with a load would be taken for one that rises."""
    for step in (3.0, -3.0):
        rows, count = with_loads(charge_in=step)
        assert count >= 6
        assert rows["charge_in"][W["loaded"]] - rows["charge_in"][W["unloaded"]] == pytest.approx(step, abs=0.6)
        assert rows["map"][W["loaded"]] - rows["map"][W["unloaded"]] == pytest.approx(0.0, abs=500.0)


def test_a_throttle_that_moves_is_no_load_step():
    """If it failed, what the engine does would be blamed on the ground strap."""
    assert with_loads(rpm=900.0)[1] == 0
    assert with_loads(bus=0.0)[1] == 0
