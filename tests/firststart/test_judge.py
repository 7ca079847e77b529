"""The judge as a whole: behaviour that must hold whatever its thresholds are."""

from __future__ import annotations

import time

import numpy as np
import pytest

from sensorcal.firststart.channels import CHANNELS, GENUINE, KINDS
from sensorcal.firststart.events import events_of, nominal_times
from sensorcal.firststart.judge import judge
from sensorcal.firststart.startlog import StartLog, start_log
from sensorcal.setup import Setup

from .exactstart import exact_case
from .soundstart import engine, fallen, opened, sound_values

LABELS = ("master", "pump", "crank", "5 s", "10 s", "30 s", "1 min", "2 min", "5 min", "10 min", "stop", "+10 s",
          "+3 min")  # fmt: skip
EVENTS = {
    "coolant": [14, 14, 14, 14.5, 15, 18, 22, 31, 52, 74, 74, 75, 78],
    "gearbox_oil": [14, 14, 14, 14, 14, 15, 17, 21, 33, 47, 47, 47, 48],
    "oil_pressure": [0, 0, 60e3, 380e3, 430e3, 430e3, 430e3, 420e3, 410e3, 400e3, 0, 0, 0],
    "fuel_pressure": [0, 300e3, 295e3, *[300e3] * 7, 290e3, 280e3, 200e3],
    "map": [97e3, 97e3, 90e3, *[40e3] * 7, 97e3, 97e3, 97e3],
}  # fmt: skip


def events(**changes):
    """Judge the event list, with some channels changed."""
    values = {name: np.array(numbers, dtype=float) for name, numbers in (EVENTS | changes).items()}
    times = np.array(nominal_times(events_of(LABELS)))
    return judge(StartLog(kind="events", time_s=times, values=values, labels=LABELS))


def parts_of(*, without=(), only=None, first_s=-1.0, last_s=1e9, every=1, blank=False):
    """Cut the sound start down to some channels, rows and times."""
    t, values = sound_values()
    kept = (t >= first_s) & (t <= last_s) & (np.arange(t.size) % every == 0)
    names = [name for name in values if name not in without and (only is None or name in only)]
    return start_log(t[kept], {n: np.full(kept.sum(), np.nan) if blank else values[n][kept] for n in names})


def test_a_sound_start_is_an_empty_list():
    """If it failed, every builder would be sent looking for a fault that is not there."""
    verdict = engine()
    assert verdict.findings == ()
    assert verdict.sound > 0.5


POOR = {
    "no rpm": parts_of(without=("rpm",)),
    "no rest": parts_of(first_s=124.0),
    "running only": parts_of(first_s=200.0, last_s=600.0),
    "no run": parts_of(last_s=100.0),
    "three rows": parts_of(every=300),
    "one row": parts_of(last_s=0.0),
    "two rows": parts_of(last_s=1.0),
    "all blank": parts_of(blank=True),
    "rpm alone": parts_of(only=("rpm",)),
    "no pressures": parts_of(without=("oil_pressure", "fuel_pressure", "map")),
    "no temperatures": parts_of(without=("coolant", "gearbox_oil", "charge_in", "charge_out")),
    "nothing": start_log([0.0, 1.0, 2.0], {}),
    **{f"only {name}": parts_of(only=(name, "rpm")) for name in sound_values()[1]},
}


@pytest.mark.parametrize("name", POOR)
def test_a_poor_log_of_a_sound_start_is_silent(name):
    """If it failed, a log that lacks a column, a phase or nearly all rows would crash or be told of a fault."""
    verdict = judge(POOR[name], Setup())
    assert verdict.findings == ()
    assert 0.0 < verdict.sound <= 1.0
    assert verdict.notes  # an empty setup: what was assumed is said


@pytest.mark.parametrize("name", ["coolant", "oil_pressure", "map", "rpm"])
def test_one_blank_column_is_no_crash_and_blames_no_other(name):
    """If it failed, a column that is blank throughout would be judged as numbers, or hide behind another channel."""
    found = engine(**{name: lambda x, _: np.full(x.size, np.nan)}).findings
    assert {channel for cause in found for channel in cause.channels} <= {name}


def test_probabilities_add_up_to_one_with_the_sound_one():
    """If it failed, what the page calls a probability would be none."""
    for verdict in (engine(), engine(coolant=opened), engine(oil_pressure=fallen), judge(POOR["three rows"])):
        total = verdict.sound + sum(cause.probability for cause in verdict.weighed)
        assert total == pytest.approx(1.0, abs=1e-9)
        assert all(0.0 <= cause.probability <= 1.0 for cause in (*verdict.weighed, *verdict.findings))
        assert all(np.diff([cause.weight for cause in verdict.weighed]) <= 1e-12)


def test_the_judge_is_deterministic():
    """If it failed, the same log would be judged otherwise on another day."""
    first, second = (engine(coolant=opened, map=lambda x, _: x + 9e3) for _ in range(2))
    assert first.sound == second.sound
    for name in ("findings", "weighed"):
        one, two = (
            [(c.kind, c.channels, c.weight, c.probability, c.text) for c in getattr(verdict, name)]
            for verdict in (first, second)
        )
        assert one == two


def test_the_order_of_the_columns_does_not_matter():
    """If it failed, the verdict would depend on how the logger was set up."""
    t, values = sound_values(coolant=opened)
    turned = dict(reversed(values.items()))
    one, two = judge(start_log(t, values)), judge(start_log(t, turned))
    assert [(c.kind, c.channels) for c in one.findings] == [(c.kind, c.channels) for c in two.findings]
    assert one.sound == pytest.approx(two.sound, rel=1e-9)


def test_the_judge_leaves_the_log_alone():
    """If it failed, the report would show other numbers than the file."""
    log = parts_of()
    before = {name: x.copy() for name, x in log.values.items()}
    judge(log)
    assert all(np.array_equal(before[name], log.values[name], equal_nan=True) for name in before)


FAULTS = {
    "open_circuit": ("charge_in", opened),
    "short_circuit": ("coolant", lambda x, t: np.where(t > 300.0, 150.0, x)),
    "wrong_unit": ("coolant", lambda x, _: 1.8 * x + 32.0),
    "stuck": ("coolant", lambda x, t: np.where(t > 200.0, 30.0, x)),
    "noise": ("gearbox_oil", lambda x, _: x + 9.0 * np.random.default_rng(2).standard_normal(x.size)),
    "dropouts": ("oil_pressure", lambda x, t: np.where(t % 10.0 < 2.0, np.nan, x)),
    "wrong_reference_type": ("oil_pressure", lambda x, _: x + 97e3),
    "low_oil_pressure_real": ("oil_pressure", fallen),
}


@pytest.mark.parametrize("kind", FAULTS)
def test_a_gross_fault_is_named_in_its_channel(kind):
    """If it failed, the plainest case of a cause would be missed or blamed on another channel."""
    channel, change = FAULTS[kind]
    found = engine(**{channel: change}).findings
    assert found, "nothing was found"
    assert kind in {found[0].kind, *found[0].also}
    assert found[0].channels == (channel,)


def test_findings_are_of_known_kinds_and_channels():
    """If it failed, a finding would have no words, no next check and no place in the schema."""
    for channel, change in FAULTS.values():
        for cause in engine(**{channel: change}).findings:
            assert {cause.kind, *cause.also} <= set(KINDS)
            assert set(cause.channels) <= set(CHANNELS)
            assert cause.kind not in cause.also
            assert cause.start_s <= cause.end_s


def test_two_faults_are_two_findings():
    """If it failed, the second fault would only show after the first is mended and the engine started again."""
    found = engine(charge_in=opened, oil_pressure=lambda x, t: np.where(t % 10.0 < 2.0, np.nan, x)).findings
    assert {(c.kind, c.channels) for c in found} >= {
        ("open_circuit", ("charge_in",)), ("dropouts", ("oil_pressure",)),
    }  # fmt: skip


def test_a_sound_event_list_is_an_empty_list():
    """If it failed, thirteen typed rows of a good start would be called a fault."""
    assert events().findings == ()


@pytest.mark.parametrize(
    ("channel", "numbers", "kind"),
    [("oil_pressure", [0, 0, 0, 0, 0, 5e3, *[10e3] * 4, 0, 0, 0], "low_oil_pressure_real"),
     ("coolant", [14, 14, 14, 15, 16, 22, 35, 70, 115, 138, 138, 139, 139], "overheat_real"),
     ("coolant", [1.8 * c + 32.0 for c in EVENTS["coolant"]], "wrong_unit")],
)  # fmt: skip
def test_event_lists_are_judged(channel, numbers, kind):
    """If it failed, who has no logger would be left without a judgement, or without the stop."""
    first = events(**{channel: numbers}).findings[0]
    assert kind in {first.kind, *first.also}
    assert first.channels == (channel,)


def test_phases_given_are_used():
    """If it failed, phases corrected by the user would be found anew behind their back."""
    log = parts_of()
    phases = engine().phases
    assert judge(log, Setup(), phases).phases is phases


def test_a_crossed_limit_names_trouble_first_whatever_the_setup():
    """If it failed, a full setup would silence what a sparse one reports."""
    t, values = sound_values(oil_pressure=fallen)
    for setup in (Setup(), exact_case().setup):
        assert judge(start_log(t, values), setup).findings[0].kind in GENUINE


def test_a_large_log_takes_less_than_a_second_and_a_half():
    """If it failed, an hour at 10 Hz would keep the builder waiting, and a folder of them a day."""
    t, values = sound_values()
    fine = np.linspace(0.0, t[-1], 36_000)
    rng = np.random.default_rng(1)
    wide = {name: np.interp(fine, t, x) + 1e-3 * np.ptp(x) * rng.standard_normal(fine.size)
            for name, x in values.items()}  # fmt: skip
    wide |= {"bus": np.interp(fine, t, np.where(values["rpm"] > 500.0, 13.9, 12.6)), "oat": np.full(fine.size, 15.0)}
    log = start_log(fine, wide)
    engine()  # warm
    best = 9e9
    for _ in range(2):  # CPU time of this thread: other work on the machine does not count
        begun = time.thread_time()
        judge(log)
        best = min(best, time.thread_time() - begun)
    assert best < 1.5
