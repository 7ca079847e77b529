"""Phases from the data: found to the second, with any channel missing or wrong, and never invented."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from sensorcal.errors import InputError
from sensorcal.firststart.channels import KINDS, PHASES
from sensorcal.firststart.phases import Phases, find_phases
from sensorcal.firststart.simulate import draw_case, draw_fault, simulate_start
from sensorcal.firststart.startlog import StartLog, start_log
from tests.firststart.starts import CRANK_S, END_S, FAST_S, IDLE_S, POWER_S, PUMP_S, START_S, STOP_S, made_log

ORDER = ["rest", "pump", "crank", "first_30_s", "idle", "warm_up", "run_up", "idle", "shutdown", "soak"]


def names(phases: Phases) -> list[str]:
    """Give the phases in order of time."""
    return [span.phase for span in phases.spans]


@pytest.mark.parametrize("step_s", [0.1, 0.5, 1.0, 2.0])
def test_every_phase_is_found_to_the_second(step_s: float) -> None:
    """If it failed, every later judgement would compare a channel with what another phase expects."""
    phases = find_phases(made_log(step_s=step_s))
    assert names(phases) == ORDER
    begins = [span.start_s for span in phases.spans]
    true = [0.0, PUMP_S, CRANK_S, START_S, START_S + 30.0, FAST_S, POWER_S, IDLE_S, STOP_S, STOP_S + 10.0]
    # Two seconds and two rows: the windows over which speed is smoothed.
    np.testing.assert_allclose(begins, true, atol=4.0 + 2.0 * step_s)
    assert phases.start_s == pytest.approx(START_S, abs=step_s)
    assert phases.stop_s == pytest.approx(STOP_S, abs=step_s)
    assert len(phases.crank) == 1
    assert phases.crank[0].start_s == pytest.approx(CRANK_S, abs=step_s)


@pytest.mark.parametrize(
    "without",
    [("rpm",), ("rpm", "bus"), ("rpm", "map"), ("rpm", "oil_pressure"), ("rpm", "bus", "map"),
     ("rpm", "bus", "oil_pressure"), ("bus",), ("coolant", "gearbox_oil", "oat"), ("fuel_pressure",)],
    ids=" and ".join,
)  # fmt: skip
def test_start_and_stop_without_a_channel(without: tuple[str, ...]) -> None:
    """If it failed, a monitor that logs no engine speed, or no bus, could not be judged at all."""
    phases = find_phases(made_log(*without))
    # Oil pressure alone rises and falls within seconds of the engine.
    assert phases.start_s == pytest.approx(START_S, abs=4.0)
    assert phases.stop_s == pytest.approx(STOP_S, abs=4.0)
    assert {"rest", "first_30_s", "shutdown", "soak"} <= set(names(phases))
    if "bus" not in without:
        assert "crank" in names(phases)
    if "fuel_pressure" not in without:
        assert "pump" in names(phases)


@pytest.mark.parametrize(
    ("channel", "number"), [("map", 94e3), ("map", 0.0), ("oil_pressure", 0.0), ("oil_pressure", 700e3)]
)
def test_a_dead_channel_does_not_stop_the_engine(channel: str, number: float) -> None:
    """If it failed, a hose off or a dead oil sender would hide that the engine ever ran."""
    log = made_log("rpm")
    values = dict(log.values)
    values[channel] = np.full(len(log), number)
    phases = find_phases(dataclasses.replace(log, values=values))
    assert phases.start_s == pytest.approx(START_S, abs=4.0)
    assert phases.stop_s == pytest.approx(STOP_S, abs=4.0)


def test_a_log_that_begins_with_the_engine_running_has_no_start() -> None:
    """If it failed, oil pressure would be asked for 30 s after a start that happened before the log."""
    phases = find_phases(made_log(begin_s=200.0))
    assert phases.start_s is None
    assert not phases.has("first_30_s")
    assert phases.stop_s == pytest.approx(STOP_S - 200.0, abs=1.0)


def test_a_log_that_ends_before_the_shutdown_has_no_stop() -> None:
    """If it failed, the return to rest would be judged on a running engine."""
    phases = find_phases(made_log(end_s=600.0))
    assert phases.stop_s is None
    assert not phases.has("shutdown")
    assert not phases.has("soak")


def test_a_log_that_begins_while_cranking_knows_the_start() -> None:
    """If it failed, the oil pressure's time would not be counted from the moment the engine fires."""
    phases = find_phases(made_log(begin_s=CRANK_S + 1.0))
    assert names(phases)[0] == "crank"
    assert phases.start_s == pytest.approx(START_S - CRANK_S - 1.0, abs=1.0)


def test_an_engine_that_never_runs() -> None:
    """If it failed, a cold check with the master switch on would be read as a start."""
    phases = find_phases(made_log(end_s=CRANK_S - 1.0))
    assert set(names(phases)) == {"rest", "pump"}
    assert (phases.start_s, phases.stop_s) == (None, None)


def test_flooded_start_keeps_its_two_cranks() -> None:
    """If it failed, a cough between two cranks would be taken for the start."""
    log = made_log()
    first = (log.time_s >= 42.0) & (log.time_s < 46.0)
    values = {name: numbers.copy() for name, numbers in log.values.items()}
    values["rpm"][first], values["bus"][first] = 220.0, 10.0
    values["rpm"][(log.time_s >= 46.0) & (log.time_s < 48.0)] = 900.0  # it coughs
    phases = find_phases(dataclasses.replace(log, values=values))
    assert phases.start_s == pytest.approx(START_S, abs=1.0)
    assert len(phases.crank) == 2


def test_brown_out_at_the_crank_is_a_crank() -> None:
    """If it failed, the monitor's restart would be read as a dropout, and the crank as never having happened."""
    log = made_log()
    kept = (log.time_s < CRANK_S) | (log.time_s >= START_S + 6.0)
    short = start_log(log.time_s[kept], {name: numbers[kept] for name, numbers in log.values.items()})
    phases = find_phases(short)
    assert len(phases.crank) == 1
    assert phases.crank[0].start_s == pytest.approx(CRANK_S - 1.0)
    assert phases.crank[0].end_s == pytest.approx(START_S + 6.0)
    assert phases.start_s == pytest.approx(START_S + 6.0)


def test_a_hot_restart_has_two_runs() -> None:
    """If it failed, the second start of a log would be called heat soak."""
    first = made_log(end_s=750.0)
    second = made_log()
    joined = start_log(
        np.concatenate([first.time_s, 750.0 + second.time_s]),
        {name: np.concatenate([first.values[name], second.values[name]]) for name in first.values},
    )
    phases = find_phases(joined)
    assert names(phases).count("first_30_s") == 2
    assert phases.start_s == pytest.approx(START_S, abs=1.0)
    assert phases.stop_s == pytest.approx(750.0 + STOP_S, abs=1.0)


def test_missed_readings_of_the_speed_do_not_stop_the_engine() -> None:
    """If it failed, blanks and a second of zeros would cut a run in pieces."""
    log = made_log()
    values = {name: numbers.copy() for name, numbers in log.values.items()}
    values["rpm"][200:240] = np.nan
    values["rpm"][300:302] = 0.0
    assert names(find_phases(dataclasses.replace(log, values=values))) == ORDER


def test_no_channel_says_anything() -> None:
    """If it failed, temperatures alone would be given phases that nobody saw."""
    log = made_log()
    only = start_log(log.time_s, {"coolant": np.full(len(log), 20.0)})
    phases = find_phases(only)
    assert (phases.code == -1).all()
    assert phases.spans == ()


def test_mask_and_code_tell_the_same() -> None:
    """If it failed, a misspelt phase would select no rows without a word."""
    phases = find_phases(made_log())
    np.testing.assert_array_equal(phases.mask("idle", "soak"), np.isin(phases.code, [PHASES.index("idle"), 8]))
    with pytest.raises(InputError, match="no phase"):
        phases.mask("taxi")
    with pytest.raises(ValueError, match="read-only"):
        phases.code[0] = 1


def found_within(log: StartLog, spans: object, phases: Phases) -> bool:
    """Say whether start and stop agree with the simulator's own within 4 s."""
    time_s = log.time_s
    true = np.full(len(log), -1)
    for span in spans:
        true[time_s >= span.start_s] = PHASES.index(span.phase)
    running = np.flatnonzero((true >= PHASES.index("first_30_s")) & (true <= PHASES.index("run_up")))
    start = time_s[running[0]] if running[0] > 0 else None
    stop = time_s[running[-1] + 1] if running[-1] + 1 < len(log) else None
    return all(
        (one is None) == (other is None) and (one is None or abs(one - other) <= 4.0)
        for one, other in ((start, phases.start_s), (stop, phases.stop_s))
    )


@pytest.mark.slow
@pytest.mark.parametrize(("without", "least"), [((), 48), (("rpm",), 41)], ids=["all channels", "no speed"])
def test_simulated_starts_with_every_kind_of_fault(without: tuple[str, ...], least: int) -> None:
    """If it failed, faults of the sensors would move the phases by which they are judged (50 starts, fixed seeds)."""
    right = 0
    for seed in range(50):
        rng = np.random.default_rng(31_000 + seed)
        case = draw_case(rng)
        start = simulate_start(case, draw_fault(rng, KINDS[seed % len(KINDS)], case))
        kept = {name: numbers for name, numbers in start.log.values.items() if name not in without}
        log = dataclasses.replace(start.log, values=kept)
        right += found_within(log, start.spans, find_phases(log))
    assert right >= least


def test_ten_hertz_for_an_hour_is_quick() -> None:
    """If it failed, a long log would wait for its phases."""
    import time

    log = made_log()
    time_s = np.linspace(0.0, END_S, 36_000)
    long = start_log(time_s, {name: np.interp(time_s, log.time_s, numbers) for name, numbers in log.values.items()})
    begun = time.process_time()
    phases = find_phases(long)
    assert time.process_time() - begun < 0.5
    assert phases.start_s == pytest.approx(START_S, abs=1.0)
