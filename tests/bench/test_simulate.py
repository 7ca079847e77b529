"""The simulated evening: every error put in comes out with its size, and nothing else does."""

from __future__ import annotations

import math
from dataclasses import fields, replace

import numpy as np
import pytest

from sensorcal.bench.played import SimulatedEvening, SimulatedSignal
from sensorcal.bench.scenario import (
    FOUR_PROBES,
    PROBE_J_TABLE,
    SHEET_TOLERANCE_RATIO,
    Evening,
    Stage,
    TrueProbe,
    probe_j_resistance_ohm,
)
from sensorcal.bench.settle import settled_points
from sensorcal.bench.simulate import (
    as_shown,
    lagging_c,
    run_of,
    simulate_evening,
    steam_temperature_c,
)
from sensorcal.errors import InputError
from sensorcal.setup import Field, Meter, MeterCheck, Probe, Reference, Setup

IDEAL = TrueProbe(name="P1", role="coolant", time_constant_s=0.0, stem_ratio=0.0)
QUIET = Evening().without_mess()
# A meter with a thousand million counts: what is left is far below any error looked for.
FINE = replace(QUIET, meter_counts=1_000_000_000, reference_resolution_c=1e-6)


def signals(played: SimulatedEvening, point: str) -> list[SimulatedSignal]:
    """All readings of the first probe at one stop."""
    return [s for row in played.rows if row.point == point for s in row.signals if s.probe == "P1"]


def felt_c(signal: SimulatedSignal) -> float:
    """Temperature of probe J at the shown ohms, by bisection independent of the simulator."""
    low, high = -19.0, 149.0
    for _ in range(60):
        middle = 0.5 * (low + high)
        if float(probe_j_resistance_ohm(middle)) > signal.shown_ohm:
            low = middle
        else:
            high = middle
    return low


def test_probe_j_goes_through_its_table() -> None:
    """A probe J that misses its twelve points is another probe."""
    for temperature, resistance in PROBE_J_TABLE:
        assert float(probe_j_resistance_ohm(temperature)) == pytest.approx(resistance, rel=1e-12)


def test_probe_j_falls_everywhere_with_the_slope_of_its_table() -> None:
    """A wiggle between the points would let a curve be right and called wrong."""
    temperature = np.linspace(-20.0, 150.0, 3401)
    slope = np.diff(np.log(probe_j_resistance_ohm(temperature))) / np.diff(temperature)
    assert np.all(slope < 0.0)
    # Slopes printed with the scenario's table, %/K; one unit of the last digit, as its ohms are rounded.
    printed = {0: -4.62, 25: -3.94, 50: -3.40, 75: -2.97, 97.7: -2.65, 120: -2.38, 130: -2.28}
    for at, percent in printed.items():
        assert 100.0 * np.interp(at, temperature[:-1], slope) == pytest.approx(percent, abs=0.01)


def test_probe_j_is_not_of_the_steinhart_hart_form() -> None:
    """If the three-term form were exact there would be no error of form for an extrapolation to show."""
    t = np.array([0.0, 50.0, 97.7])
    x = np.log(probe_j_resistance_ohm(t))
    abc = np.linalg.solve(np.column_stack([np.ones(3), x, x**3]), 1.0 / (t + 273.15))
    y = math.log(float(probe_j_resistance_ohm(120.0)))
    bias = 1.0 / (abc @ np.array([1.0, y, y**3])) - 273.15 - 120.0
    # The scenario prints +0.11 at 120 °C; half a last digit of 98.2 ohm there is 0.02 °C.
    assert bias == pytest.approx(0.11, abs=0.02)


@pytest.mark.parametrize("temperature", [-20.1, 150.1, math.nan])
def test_probe_j_is_not_extrapolated(temperature: float) -> None:
    """A value outside -20..150 °C would be made up silently."""
    with pytest.raises(InputError, match="-20 to 150"):
        probe_j_resistance_ohm(temperature)


def test_four_probes_are_alike_and_meet_their_sheet() -> None:
    """Probes unlike each other by more than the story says would make the demo's matching meaningless."""
    temperature = np.linspace(-20.0, 150.0, 171)
    for probe in FOUR_PROBES:
        ratio = probe.resistance_ohm(temperature) / probe_j_resistance_ohm(temperature)
        assert float(probe.resistance_ohm(25.0)) / 1800.0 == pytest.approx(1.0, abs=0.01)
        assert np.all(np.abs(ratio - 1.0) < SHEET_TOLERANCE_RATIO)
        assert np.ptp(ratio) > 1e-4, "each curve has its own shape"
    assert [p.name for p in FOUR_PROBES] == ["P1", "P2", "P3", "P4"]


def test_same_seed_same_evening_other_seed_another() -> None:
    """Without this the files of the demo could not be compared with the simulator."""
    one, two, other = (simulate_evening(FOUR_PROBES, Evening(), seed=s) for s in (5, 5, 6))
    assert one == two
    assert one.rows != other.rows


def test_draws_do_not_depend_on_each_other() -> None:
    """Switching one cause off must not redraw the others, or causes could not be told apart one by one."""
    full = simulate_evening(FOUR_PROBES, Evening(), seed=7)
    calm = simulate_evening(FOUR_PROBES, replace(Evening(), u_contact_ohm=0.0, half_clock_s=0.0), seed=7)
    assert calm.truth.reference_bias_c == full.truth.reference_bias_c
    assert calm.truth.gradient_c == full.truth.gradient_c
    alone = simulate_evening(FOUR_PROBES[:1], Evening(), seed=7)
    assert [s.shown_ohm for s in signals(alone, "steam")] == [s.shown_ohm for s in signals(full, "steam")]


def test_lines_stand_in_the_order_of_the_bench() -> None:
    """A-B-A with its own clock time on each line is what makes a cooling bath usable."""
    played = simulate_evening(FOUR_PROBES, Evening(), seed=1)
    bath = [row for row in played.rows if row.point == "bath-75"]
    order = ["".join(s.probe for s in row.signals) or "ref" for row in bath]
    assert order == ["ref", "P1", "P2", "P3", "P4", "ref", "P4", "P3", "P2", "P1", "ref"]
    assert all((row.reference_c is None) == bool(row.signals) for row in bath)
    ice = [row for row in played.rows if row.point == "ice"]
    assert len(ice) == 3
    assert all(len(row.signals) == 4 and row.reference_c is None for row in ice)
    clock = [row.clock_s for row in played.rows]
    assert clock == sorted(clock)
    assert all(c == round(c) for c in clock)
    assert max(abs(row.clock_s - 66_600.0 - row.time_s) for row in played.rows) <= 4.5


def test_an_evening_without_errors_shows_the_true_curve() -> None:
    """If this failed, an error would be hidden in the simulator itself."""
    played = simulate_evening([IDEAL], FINE, seed=3)
    for row in played.rows:
        for s in row.signals:
            assert felt_c(s) == pytest.approx(row.medium_c, abs=2e-4)
        if row.reference_c is not None:
            assert row.reference_c == pytest.approx(row.medium_c, abs=1e-6)
    assert played.truth.fixed_c["ice"] == 0.0
    assert played.truth.fixed_c["steam"] == steam_temperature_c(FINE)
    assert played.truth.shorted_ohm == 0.0


def test_steam_is_the_boiling_point_of_the_workshop() -> None:
    """The scenario's 97.73 °C at 93.47 kPa; a demo at 100 °C would teach the wrong thing."""
    # Computed figure of the scenario (ISO 2533 altimetry and IAPWS R7-97); half a unit of its last digit.
    assert steam_temperature_c(replace(FINE, station_pressure_pa=93_470.0)) == pytest.approx(97.73, abs=0.005)
    # The evening itself has the half hectopascal that a rounded-down report hides: +0.015 °C.
    assert steam_temperature_c(Evening()) == pytest.approx(97.745, abs=0.005)


@pytest.mark.parametrize(
    ("change", "point", "size_c"),
    [
        # 0.3 ohm of leads: -0.07 °C at 97.7 (job of the scenario, computed); -0.001 in ice.
        ({"lead_ohm": 0.3}, "steam", -0.066),
        ({"lead_ohm": 0.3}, "ice", -0.0012),
        # 1 % of meter gain over the slope 2.65 %/K at 97.7 and 4.62 %/K at 0.
        ({"meter_gain_ratio": 0.01}, "steam", -0.376),
        ({"meter_gain_ratio": 0.01}, "ice", -0.215),
        # I²R over 10 mW/K in ice: 0.5 mA through 5230 ohm is 1.31 mW, +0.131 °C.
        ({"meter_ranges": ((6e4, 5e-4),)}, "ice", 0.131),
        # The same current through 171.9 ohm in vapour that cools 0.6 times as well: +0.0072 °C.
        ({"meter_ranges": ((6e4, 5e-4),)}, "steam", 0.0072),
    ],
    ids=str,
)
def test_each_error_put_in_has_its_size(change: dict[str, float], point: str, size_c: float) -> None:
    """A wrong sign or factor in the forward model would make every later test of the fit worthless."""
    clean = simulate_evening([IDEAL], FINE, seed=3)
    dirty = simulate_evening([IDEAL], replace(FINE, **change), seed=3)
    size = felt_c(signals(dirty, point)[0]) - felt_c(signals(clean, point)[0])
    # 2 % of the effect: the slope itself changes over it.
    assert size == pytest.approx(size_c, rel=0.02, abs=2e-4)


def test_stem_conduction_grows_with_the_distance_from_room_temperature() -> None:
    """Its signature is proportion to T - T_room: warm in ice, cold in steam."""
    short = replace(IDEAL, stem_ratio=0.02)
    played = simulate_evening([short], FINE, seed=3)
    assert felt_c(signals(played, "ice")[0]) == pytest.approx(0.4, abs=1e-3)
    steam = played.truth.fixed_c["steam"]
    assert felt_c(signals(played, "steam")[0]) - steam == pytest.approx(-0.02 * (steam - 20.0), abs=1e-3)


def test_reference_error_is_one_draw_for_the_evening() -> None:
    """Common to all points and probes: drawn anew per point it would average out and flatter the fit."""
    played = simulate_evening([IDEAL], replace(FINE, u_reference_bias_c=0.5), seed=11)
    bias = [row.reference_c - row.medium_c for row in played.rows if row.reference_c is not None]
    assert len(bias) == 12
    assert np.ptp(bias) < 1e-5
    assert bias[0] == pytest.approx(played.truth.reference_bias_c, abs=1e-5)
    assert abs(bias[0]) > 1e-3


def test_a_reference_checked_in_ice_and_steam_shows_its_own_error() -> None:
    """A builder's check of the thermometer must see the same bias and slope as the baths did."""
    evening = replace(FINE, u_reference_bias_c=0.3, u_reference_slope_ratio=0.01)
    played = simulate_evening([IDEAL], evening, seed=8)
    truth = played.truth
    for label in ("ice", "steam"):
        true = truth.fixed_c[label]
        error = truth.reference_bias_c + truth.reference_slope_ratio * (true - 20.0)
        assert truth.reference_checks_c[label] - true == pytest.approx(error, abs=1e-5)
    assert set(truth.reference_checks_c) == {"ice", "steam", "ice-again"}


def test_known_resistors_and_shorted_leads_show_the_meter() -> None:
    """What the setup is told about the meter must follow from the same meter that read the probes."""
    truth = simulate_evening(FOUR_PROBES, Evening(), seed=4).truth
    # Leads 0.30 ± 0.02 (normal) ohm times 1.01, shown to 0.1 ohm.
    assert truth.shorted_ohm == pytest.approx(0.3, abs=0.11)
    for nominal, actual, shown in truth.checks_ohm:
        assert abs(actual / nominal - 1.0) <= 0.001
        # Five standard deviations of range gain and noise, and one last digit.
        assert shown == pytest.approx((actual + 0.3) * 1.01, rel=5 * 4.5e-4, abs=1.0)


def test_meter_chooses_its_range_and_last_digit() -> None:
    """A meter with endless digits would hide the error of its display."""
    played = simulate_evening(FOUR_PROBES, Evening(), seed=2)
    for s in (s for row in played.rows for s in row.signals):
        assert s.resolution_ohm == pytest.approx(0.1 if s.shown_ohm < 600.0 else 1.0)
        counts = s.shown_ohm / s.resolution_ohm
        assert counts == pytest.approx(round(counts), abs=1e-6)


@pytest.mark.parametrize("tau", [0.0, 8.0, 20.0, 60.0])
def test_lag_agrees_with_numerical_integration(tau: float) -> None:
    """The closed form is from memory; an error would put a false lag into every bath point."""
    room, start, bath = 20.0, 80.0, 600.0
    given = lagging_c(
        elapsed_s=150.0,
        start_c=start,
        room_c=room,
        bath_time_constant_s=bath,
        sensor_time_constant_s=tau,
    )
    if tau == 0.0:
        assert given == pytest.approx(room + (start - room) * math.exp(-150.0 / bath), abs=1e-12)
        return
    steps = 150_000
    h, t = 150.0 / steps, room
    for n in range(steps):
        middle = room + (start - room) * math.exp(-(n + 0.5) * h / bath)
        t += (middle - t) * (1.0 - math.exp(-h / tau))
    # Exponential stepping with midpoint temperatures: error of order h² of the curvature, below 1e-6 here.
    assert given == pytest.approx(t, abs=1e-5)


def test_a_probe_in_a_falling_bath_reads_late() -> None:
    """Lag has the size rate times tau and reads warm while the bath cools."""
    slow = replace(IDEAL, time_constant_s=20.0)
    played = simulate_evening([slow], FINE, seed=3)
    row = next(r for r in played.rows if r.point == "bath-75" and r.signals)
    rate = (row.medium_c - 20.0) / 8400.0
    # The bundle went in cold 195 s before: 55 K times exp(-195/20) is 0.003 still missing.
    assert row.signals[0].sensor_c - row.medium_c == pytest.approx(20.0 * rate, abs=0.004)


def test_spread_of_draws_follows_the_stated_u() -> None:
    """A draw half as wide as stated would make an honest interval look too wide."""
    evening = replace(FINE, u_reference_bias_c=0.08, stages=(Stage(label="ice", kind="ice", start_s=0.0),))
    bias = [simulate_evening([IDEAL], evening, seed=s).truth.reference_bias_c for s in range(800)]
    # The standard deviation of 800 normal draws scatters by 2.5 %; four of those.
    assert np.std(bias) == pytest.approx(0.08, rel=0.10)
    assert np.mean(bias) == pytest.approx(0.0, abs=4 * 0.08 / math.sqrt(800))


def test_without_mess_leaves_no_error_on() -> None:
    """A new cause that is forgotten here would sit in every test that believes the bench is quiet."""
    kept = {
        "stages", "start_time_s", "room_temperature_c", "station_pressure_pa", "ice_wait_s", "bath_wait_s",
        "steam_wait_s", "fixed_readings", "fixed_interval_s", "bath_passes", "bath_interval_s",
        "bath_time_constant_s", "steam_dissipation_ratio", "reference_resolution_c", "meter_counts",
        "meter_ranges", "check_resistors_ohm",
    }  # fmt: skip
    for field in fields(QUIET):
        if field.name not in kept:
            assert getattr(QUIET, field.name) == 0.0, field.name
    assert all(current == 0.0 for _, current in QUIET.meter_ranges)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: simulate_evening([], Evening(), seed=1), "at least one probe"),
        (lambda: simulate_evening([IDEAL, IDEAL], Evening(), seed=1), "own name"),
        (lambda: simulate_evening([IDEAL], replace(FINE, meter_ranges=((600.0, 0.0),)), seed=1), "no range"),
        (lambda: simulate_evening(FOUR_PROBES, replace(FINE, bath_time_constant_s=5.0), seed=1), "slower"),
    ],
)
def test_impossible_evenings_are_refused(call, words: str) -> None:
    """A made-up number in place of a refusal would travel into the demo data."""
    with pytest.raises(InputError, match=words):
        call()


def test_last_digit_is_not_moved_by_the_last_bit() -> None:
    """A value on the edge between two digits must print alike on every platform."""
    assert as_shown(0.1 + 0.2, 0.1) == 0.3
    assert as_shown(math.nextafter(172.15, 0.0), 0.1) == as_shown(math.nextafter(172.15, 999.0), 0.1)


def test_bench_corrections_give_back_what_was_put_in() -> None:
    """Lag, leads and gain put in here must leave the settled points, or the two rooms disagree on a sign."""
    slow = replace(IDEAL, time_constant_s=20.0)
    evening = replace(
        FINE,
        meter_gain_ratio=0.01,
        lead_ohm=0.3,
        reference_time_constant_s=8.0,
        station_pressure_pa=93_470.0,
    )
    played = simulate_evening([slow], evening, seed=3)
    checks = tuple(MeterCheck(true_ohm=true, read_ohm=shown) for _, true, shown in played.truth.checks_ohm)
    setup = Setup(
        field=Field(elevation_m=640.0, qnh_pa=100_900.0, station_elevation_m=610.0),
        meter=Meter(leads_shorted_ohm=played.truth.shorted_ohm, checks=checks, test_current_a=0.0),
        references={"T1": Reference(identifier="T1", time_constant_s=8.0)},
        probes={"P1": Probe(name="P1", time_constant_s=20.0)},
    )
    points = settled_points(run_of(played), setup, "P1")
    assert [p.label for p in points] == [s.label for s in evening.stages]
    for point in points:
        true = float(probe_j_resistance_ohm(point.value))
        error = math.log(point.signal / true) / -0.03
        # Whole seconds of clock at 0.0065 °C/s, the rounding of the scenario's 93.47 kPa, the 2.5 mK of ice by
        # which a room may define 0 °C: 0.01 °C together. Each error put in is 0.07 °C or more at 75 °C.
        assert error == pytest.approx(0.0, abs=0.01), point.label


def test_a_played_evening_is_a_run_of_its_display() -> None:
    """The run in memory and the run on file must be the same evening."""
    played = simulate_evening(FOUR_PROBES, Evening(), seed=9)
    run = run_of(played, reference_id="T7")
    assert len(run.readings) == len(played.rows)
    assert {r.reference_id for r in run.readings if r.reference is not None} == {"T7"}
    assert [r.fixed for r in run.of_probe("P3") if r.point == "steam"] == ["steam"] * 3
    shown = [s.shown_ohm for row in played.rows for s in row.signals if s.probe == "P3"]
    assert [r.signals["P3"] for r in run.of_probe("P3")] == shown
