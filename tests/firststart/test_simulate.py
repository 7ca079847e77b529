"""Invented logs: a start without a fault is its own twin, every kind of fault comes in every size it is meant for."""

from __future__ import annotations

import dataclasses
import time

import numpy as np
import pytest

from sensorcal.engine import JUDGED
from sensorcal.errors import InputError
from sensorcal.firststart.channels import GENUINE, KINDS, PHASES, TOLERANCE
from sensorcal.firststart.simulate import (
    BUCKETS,
    Fault,
    SimulatedStart,
    StartCase,
    bucket_of,
    draw_case,
    draw_fault,
    simulate_start,
)
from sensorcal.setupfile import setup_from_text, setup_text

ALL_SIZES = frozenset(BUCKETS)
MEANT: dict[str, frozenset[str]] = {
    **dict.fromkeys(KINDS, ALL_SIZES),
    # A rail, a column in another unit, an open hose, crossed wires: there is no small one.
    **dict.fromkeys(("open_circuit", "short_circuit", "wrong_unit", "map_hose_off"), frozenset({"gross"})),
    "swapped_charge": frozenset({"faint", "mild", "clear", "gross"}),
    "swapped_oil_fuel": frozenset({"clear", "gross"}),
    "channel_slip": frozenset({"gross"}),
    # Genuine trouble is drawn from what a pilot could first notice.
    **dict.fromkeys(GENUINE, frozenset({"faint", "mild", "clear", "gross"})),
}
"""Sizes in which each kind must come; other sizes may."""


def same(first: SimulatedStart, second: SimulatedStart) -> bool:
    """Say whether two logs are equal to the last bit."""
    return first.log.time_s.tobytes() == second.log.time_s.tobytes() and all(
        values.tobytes() == second.log.values[name].tobytes() for name, values in first.log.values.items()
    )


@pytest.fixture(scope="module")
def short_cases() -> list[StartCase]:
    """Cases of at most 20 minutes at 2 Hz or slower, with every judged channel."""
    rng = np.random.default_rng(31)
    found = []
    while len(found) < 60:
        case = draw_case(rng)
        if case.recording.rate_hz <= 2.0 and case.outing.warm_s < 500.0 and set(JUDGED) <= set(case.recording.channels):
            found.append(case)
    return found


def test_same_seed_same_log() -> None:
    """A log that cannot be made again cannot be argued about."""
    first, second = (simulate_start(draw_case(np.random.default_rng(8))) for _ in range(2))
    assert same(first, second)


def test_without_a_fault_the_log_is_its_twin(short_cases: list[StartCase]) -> None:
    """A healthy log that differs from its twin would count as a fault."""
    start = simulate_start(short_cases[0])
    assert start.log is start.twin
    assert (start.effect, start.bucket, start.broke_limit) == (0.0, "healthy", False)


def test_a_fault_of_no_size_changes_nothing(short_cases: list[StartCase]) -> None:
    """The twin must use the very same random draws: a fault of size zero leaves every cell as it is."""
    nothing = [
        Fault(kind="contact_resistance", channel="coolant", size={"series_ohm": 0.0}),
        Fault(kind="wrong_curve", channel="coolant", size={"ohm_ratio": 1.0, "beta_ratio": 1.0}),
        Fault(kind="ref_sag", channel="multiple", channels=JUDGED, size={"feed_v": 5.0, "pull_up_too": 1.0}),
        Fault(kind="ground_offset", channel="multiple", channels=JUDGED, size={"strap_ohm": 0.0}),
        Fault(kind="map_hose_leak", channel="map", size={"leak_ratio": 0.0}),
        Fault(kind="noise", channel="map", size={"rms": 0.0}),
        Fault(kind="clipped", channel="map", size={"top": 1e9}),
        Fault(kind="low_oil_pressure_real", channel="oil_pressure", size={"flow_ratio": 1.0}),
        Fault(kind="overheat_real", channel="coolant", size={"cooling_ratio": 1.0}),
    ]
    for fault in nothing:
        start = simulate_start(short_cases[1], fault)
        assert start.bucket == "unseen", fault.kind
        for name, values in start.log.values.items():
            np.testing.assert_allclose(values, start.twin.values[name], atol=1e-9, err_msg=f"{fault.kind} {name}")


def test_a_fault_stays_in_its_channels(short_cases: list[StartCase]) -> None:
    """A sensor fault that leaks into other channels would teach the judge false company."""
    rng = np.random.default_rng(32)
    for number, kind in enumerate(k for k in KINDS if k not in GENUINE):
        case = short_cases[number % len(short_cases)]
        fault = draw_fault(rng, kind, case)
        start = simulate_start(case, fault)
        for name, values in start.log.values.items():
            if name not in fault.channels:
                assert values.tobytes() == start.twin.values[name].tobytes(), (kind, name)


@pytest.mark.slow
@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_comes_in_every_size(kind: str, short_cases: list[StartCase]) -> None:
    """A size that is never drawn is a size on which the judge is never tried."""
    rng = np.random.default_rng(33)
    seen: set[str] = set()
    for number in range(150):
        case = short_cases[number % len(short_cases)]
        seen.add(simulate_start(case, draw_fault(rng, kind, case)).bucket)
        if seen >= MEANT[kind]:
            return
    assert seen >= MEANT[kind]


def test_effect_is_the_95th_percentile_on_the_worst_channel(short_cases: list[StartCase]) -> None:
    """The size of a fault is defined; another formula would move every logged fault to another bucket."""
    pressures = ("oil_pressure", "fuel_pressure", "map")
    fault = Fault(kind="ref_sag", channel="multiple", channels=pressures, size={"feed_v": 4.7})
    start = simulate_start(short_cases[2], fault)
    sizes = {
        name: np.nanpercentile(np.abs(start.log.values[name] - start.twin.values[name]), 95.0) / TOLERANCE[name]
        for name in fault.channels
    }
    assert start.effect == pytest.approx(max(sizes.values()), rel=1e-9)
    assert start.worst == max(sizes, key=lambda name: sizes[name])


def test_buckets_have_the_published_edges() -> None:
    """0.5, 1.5, 3 and 8 tolerances part the buckets; 0.3, 1, 2 and 4 for noise and pulsation."""
    assert [bucket_of("stuck", e) for e in (0.49, 0.5, 1.5, 3.0, 8.0)] == list(BUCKETS)
    assert [bucket_of("noise", e) for e in (0.29, 0.3, 1.0, 2.0, 4.0)] == list(BUCKETS)
    assert bucket_of("map_pulsation", 3.0) == "clear"


def test_dropouts_count_the_rows_they_lose(short_cases: list[StartCase]) -> None:
    """Dropouts change no number: their size is the share of rows lost, 2 % to a tolerance."""
    case = short_cases[3]
    size = {"share": 0.2, "length_s": 3.0, "repeats": 0.0}
    start = simulate_start(case, Fault(kind="dropouts", channel="coolant", size=size, seed=4))
    lost = np.isnan(start.log.values["coolant"]) & ~np.isnan(start.twin.values["coolant"])
    assert start.effect == pytest.approx(lost.mean() / 0.02, abs=0.3)
    held = simulate_start(case, Fault(kind="dropouts", channel="coolant", size=size | {"repeats": 1.0}, seed=4))
    assert held.effect == pytest.approx(start.effect)
    assert not np.isnan(held.log.values["coolant"]).sum() > np.isnan(held.twin.values["coolant"]).sum()


@pytest.mark.slow
def test_healthy_engines_keep_their_limits() -> None:
    """A healthy engine beyond a typed limit would make every judge look wrong, whatever it says."""
    rng = np.random.default_rng(34)
    assert not any(simulate_start(draw_case(rng)).broke_limit for _ in range(150))


def test_genuine_trouble_breaks_limits_when_it_is_large(short_cases: list[StartCase]) -> None:
    """`broke_limit` must come from the true state, or the rule of 'never explained away' is tried on nothing."""
    case = next(c for c in short_cases if "oil_pressure" in c.limits and c.recording.ends == "soak")
    bad = simulate_start(case, Fault(kind="low_oil_pressure_real", channel="oil_pressure", size={"flow_ratio": 0.02}))
    assert bad.broke_limit
    assert bad.broke_by > 1.0
    low = case.limits["oil_pressure"][0]
    assert low is not None
    running = bad.truth["rpm"] > 1000.0
    assert (bad.truth["oil_pressure"][running] < low).mean() > 0.9
    sensor = simulate_start(case, Fault(kind="open_circuit", channel="oil_pressure"))
    assert not sensor.broke_limit


def test_legitimate_mess_is_there() -> None:
    """A simulator without mess would let a judge pass that cries wolf at every real log."""
    rng = np.random.default_rng(35)
    cases = [draw_case(rng) for _ in range(400)]
    share = {
        "hot": sum(c.day.hot for c in cases), "hangar": sum(c.day.hangar_k > 4.0 for c in cases),
        "residual": sum(c.motor.fuel_residual_pa > 0.0 for c in cases),
        "hunting": sum(c.motor.hunting_rpm > 0.0 for c in cases),
        "brown-out": sum(c.recording.brown_out_s > 0.0 for c in cases),
        "flooded": sum(len(c.outing.cranks_s) > 1 for c in cases),
        "stuck thermostat": sum(c.motor.thermostat_stuck > 0.0 for c in cases),
        "late": sum(c.recording.begins in {"crank", "running"} for c in cases),
        "short": sum(c.recording.ends != "soak" for c in cases),
        "coarse": sum(c.panel.step["oil_pressure"] >= 5e3 for c in cases),
        "sparse": sum(c.sparse for c in cases), "no oat": sum("oat" not in c.recording.channels for c in cases),
        "no rpm": sum("rpm" not in c.recording.channels for c in cases),
        "blanks": sum(c.recording.blank_ratio > 0.0 for c in cases),
    }  # fmt: skip
    assert all(count >= 8 for count in share.values()), share
    assert min(c.day.oat_c for c in cases) < -10.0
    assert max(c.day.oat_c for c in cases) > 34.0
    assert max(c.day.elevation_m for c in cases) > 2000.0


def test_brown_out_leaves_a_gap_and_restarts_the_clock(short_cases: list[StartCase]) -> None:
    """A monitor that restarts at the crank leaves seconds out; its clock may begin anew."""
    case = short_cases[4]
    recording = dataclasses.replace(case.recording, begins="rest", brown_out_s=5.0, clock_restarts=True, lost_ratio=0.0)
    start = simulate_start(dataclasses.replace(case, recording=recording))
    assert any(end - begin > 4.0 for begin, end in start.log.gaps)
    assert len(start.log.restarts_s) == 1
    at = int(np.searchsorted(start.log.time_s, start.log.restarts_s[0]))
    assert start.clock_s[at] == 0.0
    assert (np.diff(start.log.time_s) > 0.0).all()


def test_display_steps_are_kept(short_cases: list[StartCase]) -> None:
    """Coarse displays are part of the mess: every shown number is a whole number of steps."""
    start = simulate_start(short_cases[5])
    for name, values in start.log.values.items():
        steps = values[np.isfinite(values)] / short_cases[5].panel.step[name]
        np.testing.assert_allclose(steps, np.round(steps), atol=1e-6, err_msg=name)


def test_true_phases_follow_each_other(short_cases: list[StartCase]) -> None:
    """The true phases must cover the log without holes, to try the finder of phases on."""
    for case in short_cases[:20]:
        start = simulate_start(case)
        assert all(span.phase in PHASES for span in start.spans)
        assert start.spans[0].start_s == pytest.approx(0.0)
        for before, after in zip(start.spans, start.spans[1:], strict=False):
            assert after.start_s == pytest.approx(before.end_s)
        assert start.spans[-1].end_s >= start.log.time_s[-1] - 2.0 / case.recording.rate_hz


def test_setup_survives_its_file(short_cases: list[StartCase]) -> None:
    """The judge gets the setup as a file: what the builder wrote must come back from it."""
    for case in short_cases[:8]:
        setup = case.setup
        again = setup_from_text(setup_text(setup))
        assert again.engine == setup.engine
        assert again.limits.keys() == setup.limits.keys()
        assert again.transducers == setup.transducers


def test_thousands_can_be_made(short_cases: list[StartCase]) -> None:
    """A 20-minute start at 1 Hz must take below 30 ms of the processor, or studies of thousands never end."""
    case = short_cases[6]
    outing = dataclasses.replace(case.outing, warm_s=900.0, run_ups=((30.0, 20.0),), soak_s=100.0)
    recording = dataclasses.replace(case.recording, rate_hz=1.0, begins="rest", ends="soak")
    long_case = dataclasses.replace(case, outing=outing, recording=recording)
    fault = draw_fault(np.random.default_rng(1), "ground_offset", long_case)
    simulate_start(long_case, fault)
    taken = []
    for _ in range(5):
        begin = time.process_time()
        start = simulate_start(long_case, fault)
        taken.append(time.process_time() - begin)
    assert start.log.time_s[-1] > 1100.0
    assert min(taken) < 0.03


def test_unknown_kinds_are_refused() -> None:
    """A mistyped kind must not pass for a healthy start."""
    with pytest.raises(InputError, match="no kind of fault"):
        Fault(kind="gremlins", channel="map")
    with pytest.raises(InputError, match="no kind of fault"):
        draw_fault(np.random.default_rng(0), "gremlins", draw_case(np.random.default_rng(0)))
