"""From a pressure evening to a calibration: supply, loop, hot body, absolute and sealed sensors, bad input."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sensorcal.bench.run import Reading, Run
from sensorcal.bench.simulate_pressure import (
    PressureBench,
    PressureStop,
    TrueTransducer,
    simulate_pressure,
    up_and_down,
)
from sensorcal.calibration.pressurecal import (
    expanded_pressure_pa,
    pressure_extrapolated,
    u_pressure_difference_pa,
    u_pressure_pa,
)
from sensorcal.calibration.pressurerun import calibrate_pressure
from sensorcal.errors import FitError, InputError
from sensorcal.setup import Field, Probe, Reference, Setup
from sensorcal.transducer import Transducer

GAUGE = Reference(identifier="G1", kind="gauge", limits=5000.0)
SHEET = Transducer(name="O1")


def _setup(sheet: Transducer = SHEET, gauge: Reference = GAUGE, **more) -> Setup:
    return Setup(references={gauge.identifier: gauge}, transducers={sheet.name: sheet}, **more)


def _evening(supply_v: float = 5.0, *, points: int = 6, cycles: int = 1, seed: int = 5, **truth) -> Run:
    plan = up_and_down(1e6, points=points, cycles=cycles)
    loop = truth.pop("loop_pa", 2100.0)
    return simulate_pressure(
        TrueTransducer(loop_pa=loop, **truth), PressureBench(supply_v=supply_v, meter_step_v=0.0), plan, seed=seed
    )


def test_story_13():
    """The same sensor at 4.93 V must give the same constants as at 5.00 V, and the cost of ignoring it is told."""
    plan = (*up_and_down(1e6), PressureStop(pressure_pa=0.0, direction="down"))
    truth = TrueTransducer(loop_pa=2100.0 / (4 * 0.4 * 0.6))  # 2.1 kPa at 400 and 600 kPa, the widest points read
    found = {
        volts: calibrate_pressure(simulate_pressure(truth, PressureBench(supply_v=volts), plan, seed=1), _setup(), "O1")
        for volts in (4.93, 5.00)
    }
    low, full = found[4.93], found[5.00]
    at = np.linspace(0.0, 1e6, 11)
    shift = low.calibration.pressure_pa(full.calibration.ratio(at)) - at
    assert np.abs(shift).max() < 500.0
    cost = {round(c.pressure_pa, -4): c.error_pa / 1000 for c in low.supply_cost}
    assert cost[400e3] == pytest.approx(-7.4, abs=0.1)
    assert all(abs(c.error_pa) < 1.0 for c in full.supply_cost)
    assert low.performance.hysteresis_pa / 1000 == pytest.approx(2.1, abs=0.2)  # volts are read to 1 mV: 0.25 kPa
    at_400 = int(np.argmin(np.abs(low.budgets.pressure_pa - 400e3)))
    assert low.budgets.series.expanded[at_400] / 1000 == pytest.approx(6.5, abs=0.1)
    assert float(expanded_pressure_pa(low.calibration, 400e3, hot_body=False)) / 1000 == pytest.approx(6.3, abs=0.3)


def test_truth_is_returned():
    """Put a zero, a span and a loop in, and get them back: the middle of the loop, not one branch."""
    found = calibrate_pressure(_evening(zero_ratio=0.103, span_ratio=0.795), _setup(), "O1")
    assert found.calibration.zero_ratio == pytest.approx(0.103, abs=1e-5)
    assert found.calibration.span_ratio == pytest.approx(0.795, abs=2e-5)  # 25 Pa: the loop bends what is weighted
    assert found.calibration.model == "line"
    assert found.performance.zero_return_pa == pytest.approx(0.0, abs=1.0)


def test_an_unequal_number_of_falling_readings_pulls_nothing():
    """Half the falling readings left out must not shift the curve towards the rising branch."""
    run = _evening(points=11, loop_pa=4000.0)
    kept = tuple(r for i, r in enumerate(run.readings) if i < 11 or i % 2)
    full = calibrate_pressure(run, _setup(), "O1").calibration
    part = calibrate_pressure(replace(run, readings=kept), _setup(), "O1").calibration
    shift = part.pressure_pa(full.ratio(500e3)) - 500e3
    assert abs(shift) < 150.0  # half of the loop in the middle is 2000 Pa


def test_loop_repeat_and_zero_are_seen():
    """Three cycles with known scatter must give it back as the sensor's repeatability."""
    run = _evening(cycles=3, repeat_pa=800.0, points=11)
    found = calibrate_pressure(run, _setup(replace(SHEET, u_gauge_reading_pa=1.0)), "O1")
    assert found.repeat.source == "readings"
    assert found.repeat.dof == pytest.approx(3 * 22 - 22)
    assert found.repeat.u_pa == pytest.approx(800.0, rel=0.3)
    assert found.performance.repeatability_pa > 800.0
    assert found.budgets.series.repeatability is not None
    assert max(one.cycle for one in found.readings.points) == 3


def test_a_bent_sensor_gets_a_quadratic_and_is_told_so():
    """A bow of 2 % of span hidden in a line would be 20 kPa in the middle."""
    exact = replace(GAUGE, limits=500.0)
    run = _evening(cycles=2, bow_pa=20_000.0, repeat_pa=300.0)
    found = calibrate_pressure(run, _setup(gauge=exact), "O1").calibration
    assert found.model == "quadratic"
    assert any("quadratic is used" in note for note in found.notes)
    assert float(found.pressure_pa(TrueTransducer(bow_pa=20_000.0).ratio(500e3, ""))) == pytest.approx(500e3, abs=600)
    straight = calibrate_pressure(_evening(cycles=2, repeat_pa=300.0), _setup(gauge=exact), "O1").calibration
    assert straight.model == "line"


def test_an_s_shaped_sensor_gets_a_table():
    """Where even a quadratic leaves a misfit the points themselves are the curve."""
    base = _evening(cycles=3, repeat_pa=200.0, points=7)
    bent = tuple(
        replace(r, signals={"O1": r.signals["O1"] + 0.05 * np.sin(2 * np.pi * (r.reference or 0.0) / 1e6)})
        for r in base.readings
    )
    found = calibrate_pressure(replace(base, readings=bent), _setup(gauge=replace(GAUGE, limits=500.0)), "O1")
    assert found.calibration.model == "table"
    assert any("between the tested pressures" in note for note in found.calibration.notes)
    ratio = TrueTransducer().ratio(250e3, "") + 0.05 * np.sin(np.pi / 2) / 5.0
    # between two tested pressures the sine bows by up to 1.5 kPa: the table cannot know
    assert float(found.calibration.pressure_pa(ratio)) == pytest.approx(250e3, abs=2500)


def test_bodies_cold_and_hot():
    """The effect of a hot body put in must come out, and stand in the budget instead of the assumed one."""
    hot = [
        PressureStop(pressure_pa=p, direction="up", body_c=c) for c in (20.0, 70.0) for p in (0.0, 400e3) for _ in "ab"
    ]
    plan = (*[replace(stop, body_c=20.0) for stop in up_and_down(1e6)], *hot)
    truth = TrueTransducer(zero_pa_per_k=60.0, span_pa_per_k=100.0, loop_pa=1000.0)
    run = simulate_pressure(truth, PressureBench(meter_step_v=0.0), plan, seed=3)
    found = calibrate_pressure(run, _setup(), "O1")
    assert found.body.zero_pa_per_k == pytest.approx(60.0, abs=15.0)
    assert found.body.span_pa_per_k == pytest.approx(100.0, abs=30.0)
    assert found.body.u_zero_pa_per_k > 0.0
    assert "20 to 70 °C" in found.body.sentence
    assert len(found.calibration.points.pressure_pa) == len(plan) - 4  # hot readings are not in the curve
    cold = calibrate_pressure(_evening(), _setup(), "O1").calibration
    assert any("hot body not tested" in note for note in cold.notes)
    # not measured: half-widths 10, 20, 30 kPa give U 13, 24, 35 (gauge 0.5 %)
    for half_width, expanded in ((10e3, 13), (20e3, 24), (30e3, 35)):
        setup = _setup(replace(SHEET, body_effect_pa=half_width))
        u95 = float(expanded_pressure_pa(calibrate_pressure(_evening(), setup, "O1").calibration, 400e3))
        assert u95 / 1000 == pytest.approx(expanded, abs=0.6)


def test_supply_read_once_costs_uncertainty_and_counts_need_none():
    """A supply stated once is good to its stability only, in proportion to the output."""
    run = _evening(supply_v=4.93)
    once = replace(run, readings=tuple(replace(r, supply_v=None) for r in run.readings))
    sheet = replace(SHEET, supply_v=4.93, supply_stability_v=0.05)
    each = calibrate_pressure(run, _setup(), "O1").calibration
    stated = calibrate_pressure(once, _setup(sheet), "O1").calibration
    assert stated.zero_ratio == pytest.approx(each.zero_ratio, abs=1e-7)  # weights differ a little
    assert u_pressure_pa(stated, 1e6) ** 2 - u_pressure_pa(each, 1e6) ** 2 == pytest.approx(
        (0.9 * 0.05 / 3**0.5 / 4.93 * 1.25e6) ** 2, rel=0.05
    )
    counts = tuple(
        replace(r, signals={"O1": round(r.signals["O1"] / 4.93 * 1023)}, supply_v=None) for r in run.readings
    )
    counted = calibrate_pressure(
        replace(run, readings=counts, signal_kinds={"O1": "ratio"}), _setup(replace(SHEET, counts_full=1023)), "O1"
    )
    assert counted.calibration.zero_ratio == pytest.approx(0.1, abs=5e-4)  # half a count is 0.0005
    assert counted.supply_cost == ()


def test_rising_only_keeps_hysteresis_in_the_budget():
    """A loop nobody looked for must not vanish from U."""
    run = _evening()
    rising = replace(run, readings=run.readings[:6])
    found = calibrate_pressure(rising, _setup(replace(SHEET, hysteresis_pa=8000.0)), "O1").calibration
    both = calibrate_pressure(run, _setup(), "O1").calibration
    assert any("only one direction" in note for note in found.notes)
    two = calibrate_pressure(replace(run, readings=(run.readings[0], run.readings[5])), _setup(), "O1").calibration
    assert any("only one direction" in note for note in two.notes)
    assert float(u_pressure_pa(found, 500e3, hot_body=False)) > float(u_pressure_pa(both, 500e3, hot_body=False)) + 500


def test_odd_rows_end_in_a_curve_or_a_sentence():
    """Falling rows alone, or two rows of two cycles, must give a curve; one output in all rows, one sentence."""
    run = _evening()
    falling = calibrate_pressure(replace(run, readings=run.readings[6:]), _setup(), "O1")
    assert falling.calibration.zero_ratio == pytest.approx(0.1, abs=2e-3)
    assert falling.budgets.pressure_pa.size == 6
    two = replace(run, readings=(run.readings[8], replace(run.readings[1], file_row=20)))
    assert calibrate_pressure(two, _setup(), "O1").budgets is None
    dead = replace(run, readings=tuple(replace(r, signals={"O1": 0.5}) for r in run.readings))
    level = [(0.0, 0.1), (0.0, 0.5), (5e5, 0.3), (1e6, 0.1), (1e6, 0.5), (1e6, 0.51)]
    rows = tuple(Reading(reference=at, signals={"O1": 5.0 * r}, supply_v=5.0, direction="up") for at, r in level)
    with pytest.raises(FitError, match=r"does not rise with pressure; row \d"):
        calibrate_pressure(replace(run, readings=rows), _setup(), "O1")
    with pytest.raises(FitError, match="O1: all 12 points have the same pressure or output"):
        calibrate_pressure(dead, _setup(), "O1")


def test_open_line_needs_no_gauge():
    """With the line open the pressure is the air's: the gauge's own error has no part in the zero."""
    plan = up_and_down(1e6, open_zeros=True)
    run = simulate_pressure(TrueTransducer(), PressureBench(gauge_level_pa=4000.0), plan, seed=2)
    found = calibrate_pressure(run, _setup(), "O1").calibration
    assert float(u_pressure_pa(found, 0.0, hot_body=False)) < 1300.0  # 1 kPa of it is one reading's repeat
    assert abs(float(found.pressure_pa(0.1))) < 700.0
    assert float(u_pressure_pa(found, 1e6, hot_body=False)) > 2500.0


def test_absolute_sensor_beside_a_gauge():
    """The station pressure is added, and its uncertainty with it."""
    place = Field(elevation_m=640.0, qnh_pa=100_900.0, station_elevation_m=610.0)
    sheet = Transducer(name="M1", kind="absolute", high_pa=250_000.0)
    gauge = replace(GAUGE, limits=500.0)
    rows = tuple(
        Reading(reference=p, signals={"M1": 5.0 * (0.1 + 0.8 * (p + 93_470.0) / 250e3)}, supply_v=5.0, direction="up")
        for p in (-60e3, -30e3, 0.0, 50e3, 100e3)
    )
    run = Run(readings=rows, measurand="pressure", signal_kinds={"M1": "voltage"})
    found = calibrate_pressure(run, _setup(sheet, gauge, field=place), "M1")
    assert found.station_pa == pytest.approx(93_470.0, abs=20.0)
    assert found.calibration.zero_ratio == pytest.approx(0.1, abs=1e-4)
    assert "station" in found.calibration.shared_identifiers
    low = replace(run, readings=(replace(rows[0], reference=-110e3), *rows[1:]))
    with pytest.raises(InputError, match="negative absolute pressure"):
        calibrate_pressure(low, _setup(sheet, gauge, field=place), "M1")
    with pytest.raises(InputError, match="elevation of the field is not stated"):
        calibrate_pressure(run, _setup(sheet, gauge), "M1")


@pytest.mark.parametrize("kind", ["gauge", "absolute", "sealed"])
@pytest.mark.parametrize("reads", ["gauge", "absolute"])
def test_every_kind_beside_every_gauge_with_an_open_line(kind, reads):
    """An open line is at the air's pressure: beside an absolute gauge it was taken for a vacuum, 93 kPa off."""
    place = Field(elevation_m=640.0, qnh_pa=100_900.0, station_elevation_m=610.0)
    air = 93_470.0
    felt = {"gauge": 0.0, "absolute": air, "sealed": air - 101_325.0}[kind]
    rows = [
        Reading(point="open", signals={"O1": 5.0 * (0.1 + 0.8e-6 * felt)}, supply_v=5.0),
        *(
            Reading(
                reference=p + (air if reads == "absolute" else 0.0),
                signals={"O1": 5.0 * (0.1 + 0.8e-6 * (p + felt))},
                supply_v=5.0,
            )
            for p in (200e3, 400e3, 600e3, 800e3)
        ),
    ]
    run = Run(readings=tuple(rows), measurand="pressure", signal_kinds={"O1": "voltage"})
    sheet = replace(SHEET, kind=kind, reference_reads=reads)
    found = calibrate_pressure(run, _setup(sheet, replace(GAUGE, limits=500.0), field=place), "O1")
    assert found.calibration.zero_ratio == pytest.approx(0.1, abs=5e-5)
    assert found.calibration.span_ratio == pytest.approx(0.8, abs=5e-5)
    assert found.calibration.kind_found.kind == kind
    assert not found.questioned
    needs_air = not (kind == "gauge" and reads == "gauge")
    assert (found.station_pa is not None) == needs_air
    assert ("station" in found.calibration.shared_identifiers) == needs_air
    if needs_air and (kind, reads) != ("sealed", "gauge"):
        with pytest.raises(InputError, match="elevation of the field is not stated"):
            calibrate_pressure(run, _setup(sheet), "O1")


def test_two_sensors_on_one_gauge():
    """Their difference must not carry the gauge's error twice."""
    run = _evening(seed=1)
    other = replace(
        run,
        readings=tuple(replace(r, signals={"O2": r.signals["O1"]}) for r in run.readings),
        signal_kinds={"O2": "voltage"},
    )
    sheets = {"O1": SHEET, "O2": replace(SHEET, name="O2")}
    found = []
    for limits in (5000.0, 10_000.0):
        setup = Setup(references={"G1": replace(GAUGE, limits=limits)}, transducers=sheets)
        first = calibrate_pressure(run, setup, "O1").calibration
        second = calibrate_pressure(other, setup, "O2").calibration
        found.append(
            (float(u_pressure_pa(first, 5e5, hot_body=False)), float(u_pressure_difference_pa(first, second, 5e5)))
        )
    assert found[1][0] > 1.5 * found[0][0]
    assert found[1][1] == pytest.approx(found[0][1], rel=0.05)  # the reading of the pointer grows with the limits


def test_doubled_limits_double_their_share():
    """U must follow the gauge's stated limits."""
    narrow = calibrate_pressure(_evening(), _setup(), "O1").calibration
    wide = calibrate_pressure(_evening(), _setup(gauge=replace(GAUGE, limits=10_000.0)), "O1").calibration
    assert u_pressure_pa(wide, 1e6, hot_body=False) / u_pressure_pa(narrow, 1e6, hot_body=False) == pytest.approx(
        2.0, rel=0.1
    )


def test_beyond_the_tested_pressures():
    """A curve tested to 600 kPa must call 800 kPa extrapolated."""
    found = calibrate_pressure(replace(run := _evening(), readings=run.readings[:4]), _setup(), "O1").calibration
    assert pressure_extrapolated(found, [300e3, 800e3]).tolist() == [False, True]


def test_a_unit_mixed_up_is_noted():
    """Gauge readings in psi typed as kPa make the sensor 6.9 times too steep."""
    run = _evening()
    psi = tuple(replace(r, reference=(r.reference or 0.0) / 6.894757) for r in run.readings)
    found = calibrate_pressure(replace(run, readings=psi), _setup(), "O1").calibration
    assert any("6.89" in note for note in found.notes)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"supply_v": 0.0}, "supply_v 0 V is not above zero"),
        ({"supply_v": None}, "no supply"),
        ({"signals": {"O1": 5.2}}, "outside 0 to 1"),
        ({"signals": {"O1": -0.1}}, "outside 0 to 1"),
    ],
)
def test_bad_readings_are_named(change, words):
    """One clear sentence must name the field and the row."""
    run = _evening()
    rows = (replace(run.readings[0], **change), *run.readings[1:])
    with pytest.raises(InputError, match=words) as told:
        calibrate_pressure(replace(run, readings=rows), _setup(), "O1")
    assert told.value.row == 2


def test_bad_setups_are_named():
    """A gauge without limits, no gauge, a supply of zero and a line that falls are refused by name."""
    run = _evening()
    with pytest.raises(InputError, match="gauge G1 has no stated uncertainty"):
        calibrate_pressure(run, _setup(gauge=replace(GAUGE, limits=None)), "O1")
    with pytest.raises(InputError, match="no gauge is described"):
        calibrate_pressure(run, Setup(), "O1")
    with pytest.raises(InputError, match="supply = 0 V"):
        Transducer(supply_v=0.0)
    with pytest.raises(InputError, match="negative absolute pressure"):
        Transducer(kind="absolute", low_pa=-1000.0)
    with pytest.raises(InputError, match="between 0 and 1"):
        Transducer(output_high_ratio=4.5)
    with pytest.raises(InputError, match="run of temperature"):
        calibrate_pressure(replace(run, measurand="temperature"), _setup(), "O1")
    falling = tuple(replace(r, signals={"O1": 5.0 - r.signals["O1"]}) for r in run.readings)
    with pytest.raises(FitError, match="does not rise"):
        calibrate_pressure(replace(run, readings=falling), _setup(), "O1")


def test_a_stated_repeat_is_kept():
    """What the user states of repeatability rules over what two cycles happen to show."""
    setup = _setup(
        probes={"O1": Probe(name="O1", measurand="pressure", signal="voltage", model="line", u_repeat=900.0)}
    )
    found = calibrate_pressure(_evening(cycles=2, repeat_pa=10.0), setup, "O1")
    assert (found.repeat.source, found.repeat.u_pa) == ("stated", 900.0)
