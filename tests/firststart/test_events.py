"""Event lists typed afterwards: labels in plain words, nominal times in order, phases by the label."""

from __future__ import annotations

import numpy as np
import pytest

from sensorcal.firststart.events import events_of, nominal_times
from sensorcal.firststart.logread import log_from_bytes
from sensorcal.firststart.phases import find_phases

LABELS = (
    "master", "pump", "crank", "5 s", "10 s", "30 s", "1 min", "2 min", "5 min", "10 min", "stop", "+10 s", "+3 min"
)  # fmt: skip
PHASES = ["rest", "pump", "crank", *["first_30_s"] * 3, *["warm_up"] * 4, "shutdown", "shutdown", "soak"]


@pytest.mark.parametrize(
    "labels",
    [LABELS,
     ("Master ON", "fuel pump on", "cranking", "5s", "10sec", "30 seconds", "1min", "2 minutes", "5 min",
      "10 min after start", "engine stop", "10 s", "3 min"),
     ("power on", "Pump", "Starter", "+5 s", "+10 s", "+30 s", "1'", "2'", "5'", "10'", "shut down", "stop +10 s",
      "3 min after stop"),
     ("before start", "boost pump", "crank", "start + 5 s", "start+10s", "0.5 min", "running 1 min", "t+2 min", "5 MIN",
      "10 MIN", "STOP", "stop_10_s", "after stop 3 min")],
    ids=["plain", "words", "signs", "mixed"],
)  # fmt: skip
def test_plain_variants_of_the_labels(labels: tuple[str, ...]) -> None:
    """If it failed, the list would have to be typed in exactly one spelling."""
    events = events_of(labels)
    assert [event.phase for event in events] == PHASES
    assert [event.offset_s for event in events][3:10] == [5.0, 10.0, 30.0, 60.0, 120.0, 300.0, 600.0]
    assert [event.offset_s for event in events][-2:] == [10.0, 180.0]


@pytest.mark.parametrize(
    ("label", "phase"),
    [("idle", "idle"), ("warm-up", "warm_up"), ("run-up", "run_up"), ("runup 4000", "run_up"), ("mag check", "run_up"),
     ("full throttle", "run_up"), ("idle 2 min", "idle"), ("heat soak", "soak"), ("fuel pump on, engine off", "pump")],
)  # fmt: skip
def test_phases_by_their_own_word(label: str, phase: str) -> None:
    """If it failed, a row that says what the engine does would be placed by a guess."""
    assert events_of([label])[0].phase == phase


def test_times_rise_and_keep_the_labels_differences() -> None:
    """If it failed, '10 s' and '30 s' would not be twenty seconds apart, or rows would fold back."""
    times = np.array(nominal_times(events_of(LABELS)))
    assert times[0] == 0.0
    assert (np.diff(times) > 0).all()
    assert times[5] - times[3] == 25.0
    assert times[9] - times[6] == 540.0
    assert times[-1] - times[-3] == 180.0


def test_labels_nobody_knows_still_have_a_time() -> None:
    """If it failed, one odd remark would stop the list from being read."""
    events = events_of(["master", "tea", "crank", "10 s"])
    assert events[1] is None
    assert (np.diff(nominal_times(events)) > 0).all()


def sheet(head: str = "event") -> bytes:
    """Write an invented list: thirteen events, coolant, oil pressure and manifold."""
    rows = [f"{head},CLT [°C],Oil kPa,MAP kPa,Fuel kPa"]
    for index, label in enumerate(LABELS):
        running = 3 <= index <= 9
        rows.append(f"{label},{15 + 5 * index},{400 if running else 0},{38 if running else 94},{300 if index else 0}")
    return ("\n".join(rows) + "\n").encode()


@pytest.mark.parametrize("head", ["event", "Label", "time", "", "When"])
def test_a_list_is_read_as_events(head: str) -> None:
    """If it failed, a list typed from a phone's recording would be refused for want of a clock."""
    log = log_from_bytes(sheet(head))
    assert log.kind == "events"
    assert log.labels == LABELS
    assert log.values["map"][0] == 94e3
    assert any("nominal" in note for note in log.notes)
    assert not any("not read" in caution for caution in log.cautions)


def test_phases_of_a_list_are_those_of_its_labels() -> None:
    """If it failed, the list would be judged by times nobody measured."""
    phases = find_phases(log_from_bytes(sheet()))
    np.testing.assert_array_equal(phases.mask("rest"), [True] + [False] * 12)
    assert phases.mask("soak")[-1]
    assert phases.start_s == 45.0
    assert phases.stop_s == pytest.approx(phases.start_s + 630.0)
    assert len(phases.crank) == 1
    assert not phases.has("run_up")


def test_a_label_nobody_knows_is_a_caution() -> None:
    """If it failed, a row would be left out of the judgement without a word."""
    log = log_from_bytes(sheet().replace(b"2 min,", b"tea,"))
    assert log.kind == "events"
    assert any("'tea'" in caution for caution in log.cautions)
    assert (find_phases(log).code == -1).sum() == 1


def test_power_and_idle_in_a_list_show_by_manifold_and_speed() -> None:
    """If it failed, a reading at full throttle would be judged as warm-up because its label gives only a time."""
    text = (
        "event,RPM,MAP kPa,CLT C\nmaster,0,94,15\n10 s,1700,38,15\n2 min,1700,38,30\n5 min,2400,44,55\n"
        "10 min,5000,118,80\nstop,0,94,80\n"
    )
    phases = find_phases(log_from_bytes(text.encode()))
    assert [span.phase for span in phases.spans] == ["rest", "first_30_s", "idle", "warm_up", "run_up", "shutdown"]


@pytest.mark.parametrize(("at_stop", "phase"), [("38,300", "warm_up"), ("94,5", "shutdown"), (",300", "warm_up")])
def test_readings_at_the_stop_may_be_those_before_it(at_stop: str, phase: str) -> None:
    """If it failed, oil pressure read with a hand still on the key would be a pressure that does not fall."""
    text = f"event,MAP kPa,Oil kPa\nmaster,94,0\n10 s,38,400\n5 min,38,300\nstop,{at_stop}\n+10 s,94,0\n"
    phases = find_phases(log_from_bytes(text.encode()))
    assert next(span.phase for span in phases.spans if span.end_s > phases.stop_s) == phase
    assert phases.stop_s == phases.start_s + 330.0


def test_a_logger_with_a_column_of_phases_is_no_list() -> None:
    """If it failed, a log with remarks would lose its clock."""
    rows = "\n".join(f"{second},{20 + second},idle" for second in range(50))
    log = log_from_bytes(f"Time [s],CLT [°C],phase\n{rows}\n".encode())
    assert log.kind == "log"
    assert log.time_s[-1] == 49.0


def test_a_list_with_its_own_times_uses_them() -> None:
    """If it failed, times that somebody did write down would be replaced by nominal ones."""
    text = "Time [s],event,CLT C\n0,master,15\n20,pump,15\n31,crank,15\n41,10 s,16\n"
    log = log_from_bytes(text.encode())
    assert log.kind == "events"
    assert log.time_s.tolist() == [0.0, 20.0, 31.0, 41.0]
