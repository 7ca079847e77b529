"""The sound engine's lines: silent without their windows, at their best on a sound start, each able to speak."""

from __future__ import annotations

import numpy as np
import pytest

from sensorcal.firststart.healthy import Context, healthy, tail
from sensorcal.firststart.simulate import simulate_start
from sensorcal.firststart.summary import WINDOWS, W

from .exactstart import exact_case, exact_facts, rows_of

ROWS = rows_of(simulate_start(exact_case()).log)
for row in ROWS.values():  # the demo's lamps are too small to show on the bus: a load that moves nothing
    row[[W["unloaded"], W["loaded"]]] = row[W["s300"]]
CONTEXT = Context(facts=exact_facts(), ambient_c=14.0, u_ambient_c=1.5, resolution={})
SOUND = {name: float(value) for name, value in healthy(ROWS, CONTEXT).items()}


def lines_with(channel, **windows):
    """Lines of the sound start with some windows of one channel moved."""
    row = ROWS[channel].copy()
    for name, away in windows.items():
        row[W[name]] += away
    return {name: float(value) for name, value in healthy({**ROWS, channel: row}, CONTEXT).items()}


def test_a_sound_start_fits_every_line():
    """If it failed, a good engine would lose probability on some line of physics."""
    told = {name: value for name, value in SOUND.items() if np.isfinite(value)}
    assert len(told) > 35
    # One line in some 30 may lie at three spreads: the demo's engine is no mean of all engines.
    assert min(told.values()) > -3.3, min(told, key=told.get)
    assert sum(told.values()) > -25.0


def test_no_line_rewards_more_than_a_fit():
    """If it failed, a log could be made likelier than sound by an edit that fits too well."""
    rng = np.random.default_rng(4)
    for _ in range(40):
        rows = {name: x * rng.uniform(0.3, 1.7, x.size) for name, x in ROWS.items()}
        values = np.array([float(value) for value in healthy(rows, CONTEXT).values()])
        # Two ways to be right at once (fuel: nothing, or what is left of an earlier run) may add a few hundredths.
        assert np.nanmax(values) <= 0.13


def test_lines_are_silent_where_all_windows_are_missing():
    """If it failed, a channel would be judged by numbers that the log does not have."""
    empty = {name: np.full(len(WINDOWS), np.nan) for name in ROWS}
    values = {name: float(value) for name, value in healthy(empty, CONTEXT).items()}
    assert not [name for name, value in values.items() if np.isfinite(value) and value != 0.0]
    assert healthy({}, CONTEXT).keys() <= {"rest"}


@pytest.mark.parametrize(
    ("window", "silent"),
    [("boost", ("charge_in.boost", "charge.order", "charge.effectiveness", "oil_pressure.with_speed")),
     ("after_stop", ("coolant.stop_step", "charge_in.stop_step")), ("loaded", ("coolant.load_step", "map.load_step")),
     ("again", ("map.again", "oil_pressure.again")), ("crank", ("coolant.crank_step",)),
     ("s60", ("coolant.onset",)), ("idle_cold", ("charge_in.idle_cold", "charge.idle_cold_pair"))],
)  # fmt: skip
def test_a_missing_window_silences_its_own_lines_and_no_other(window, silent):
    """If it failed, a log that ends early would be blamed for it, or lose what it can still tell."""
    rows = {name: np.where(np.arange(x.size) == W[window], np.nan, x) for name, x in ROWS.items()}
    values = {name: float(value) for name, value in healthy(rows, CONTEXT).items()}
    for name in silent:
        assert np.isfinite(SOUND[name]), f"{name} says nothing even with its window"
        assert np.isnan(values[name]), name
    for name, value in values.items():
        assert np.isnan(value) or value > SOUND[name] - 3.0, f"{name} speaks against a start that lacks {window}"


@pytest.mark.parametrize("channel", sorted(set(ROWS) - {"rpm", "bus", "oat", "map"}))
def test_a_blank_channel_counts_as_none(channel):
    """If it failed, a column of blanks would be judged otherwise than a column that is not there."""
    blank = healthy({**ROWS, channel: np.full(len(WINDOWS), np.nan)}, CONTEXT)
    gone = healthy({name: x for name, x in ROWS.items() if name != channel}, CONTEXT)
    assert set(gone) <= set(blank)
    for name, value in blank.items():
        if np.isfinite(value) and name in gone:
            assert float(value) == pytest.approx(float(gone[name]), abs=1e-12), name


@pytest.mark.parametrize(
    ("line", "channel", "windows"),
    [
        ("rest", "coolant", {"rest": 25.0}), ("rest", "charge_out", {"rest": -20.0}),
        ("coolant.crank_step", "coolant", {"crank": 6.0}), ("coolant.start_step", "coolant", {"after_start": -9.0}),
        ("gearbox_oil.stop_step", "gearbox_oil", {"after_stop": 8.0}),
        ("charge_in.load_step", "charge_in", {"loaded": 5}),
        ("coolant.plateau", "coolant", {"end_run": 40.0, "s600": 40.0}),
        ("coolant.too_hot", "coolant", {"run_high": 40}), ("coolant.below_air", "coolant", {"run_low": -60.0}),
        ("gearbox_oil.too_hot", "gearbox_oil", {"run_high": 90.0}),
        ("charge.idle_cold_pair", "charge_in", {"idle_cold": 40.0}),
        ("charge_in.boost", "charge_in", {"boost": 200.0}), ("charge.order", "charge_out", {"boost": 90.0}),
        ("map.rest", "map", {"rest": -15e3}), ("map.again", "map", {"again": 8e3}),
        ("map.idle", "map", {"idle_warm": 45e3, "run_low": 45e3}), ("map.vacuum", "map", {"run_low": 75e3}),
        ("oil_pressure.rest", "oil_pressure", {"rest": 97e3}),
        ("oil_pressure.again", "oil_pressure", {"again": 97e3}),
        ("oil_pressure.level", "oil_pressure", {"run_high": -4e5}),
        ("oil_pressure.with_speed", "oil_pressure", {"boost": -3e5}),
        ("fuel_pressure.rest", "fuel_pressure", {"rest": 6e5}),
        ("fuel_pressure.level", "fuel_pressure", {"idle_warm": -2e5}),
        ("fuel_pressure.power", "fuel_pressure", {"boost": -2e5}),
        ("fuel_pressure.surge", "fuel_pressure", {"boost": 2e5}),
    ],
)  # fmt: skip
def test_every_line_can_speak(line, channel, windows):
    """If it failed, this statement of physics would never tell anything."""
    assert np.isfinite(SOUND[line])
    assert lines_with(channel, **windows)[line] < SOUND[line] - 3.0


def test_many_sizes_at_once_are_each_judged_alone():
    """If it failed, one size of an edit would change the weight of another."""
    rng = np.random.default_rng(8)
    many = {name: x * rng.uniform(0.7, 1.3, (5, x.size)) for name, x in ROWS.items()}
    together = healthy(many, CONTEXT)
    for k in range(5):
        alone = healthy({name: x[k] for name, x in many.items()}, CONTEXT)
        for name, value in alone.items():
            assert float(np.broadcast_to(together[name], 5)[k]) == pytest.approx(float(value), nan_ok=True), name


@pytest.mark.parametrize("channel", sorted(set(ROWS) - {"rpm", "bus", "oat"}))
def test_asking_only_what_changed_gives_the_same(channel):
    """If it failed, an edit would be weighed by other lines than the log."""
    part = healthy(ROWS, CONTEXT, [channel])
    assert part
    assert all(float(value) == pytest.approx(SOUND[name], nan_ok=True) for name, value in part.items())
    moved = lines_with(channel, **dict.fromkeys(WINDOWS, 5.0))
    touched = {name for name in moved if moved[name] != SOUND[name] and np.isfinite(moved[name] + SOUND[name])}
    assert touched <= set(part)


def test_a_hot_restart_is_sound():
    """If it failed, an engine that ran an hour ago could not be judged."""
    warm = {"coolant": 50.0, "gearbox_oil": 42.0, "charge_in": 15.0, "charge_out": 11.0}
    rows = {name: x + warm.get(name, 0.0) for name, x in ROWS.items()}
    assert float(healthy(rows, CONTEXT)["rest"]) > -6.0


def test_one_warm_probe_among_cold_ones_is_not():
    """If it failed, a probe 50 degC off on a cold engine would be called a hot restart."""
    assert lines_with("charge_out", rest=50.0)["rest"] < -12.0


def test_coarse_steps_widen_the_lines():
    """If it failed, a display in whole degrees would be held to a tenth."""
    moved = {**ROWS, "coolant": ROWS["coolant"] + 2.0 * (np.arange(len(WINDOWS)) == W["crank"])}
    crank = []
    for step in (0.1, 2.0):
        seen = Context(facts=CONTEXT.facts, ambient_c=14.0, u_ambient_c=1.5, resolution={"coolant": step})
        crank.append(float(healthy(moved, seen)["coolant.crank_step"]))
    assert crank[1] > crank[0] + 1.0


def test_tails_are_even_and_fall():
    """If it failed, one side would be punished more than the other, or a gross misfit cost nothing more."""
    z = np.linspace(0.0, 20.0, 50)
    assert tail(z) == pytest.approx(tail(-z))
    assert (np.diff(tail(z)) < 0).all()
    assert tail(np.array(3.0)) > -4.5  # heavier than normal: -4.5 at three spreads
