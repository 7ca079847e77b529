"""Beside the curve: the kind of the sensor from its open line, and a leak from rows of the shut line."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from sensorcal.bench.run import Reading
from sensorcal.bench.simulate_pressure import PressureBench, TrueTransducer, simulate_pressure, up_and_down
from sensorcal.calibration.frompoints import budgets_again
from sensorcal.calibration.pressurecal import shared_shift_pa
from sensorcal.calibration.pressurerun import calibrate_pressure
from sensorcal.setup import Field, Reference, Setup
from sensorcal.transducer import Transducer

GAUGE = Reference(identifier="G1", kind="gauge", limits=5000.0)
HERE = Field(elevation_m=640.0, qnh_pa=100_900.0, station_elevation_m=610.0)


def _setup(kind: str = "gauge", field: Field = HERE) -> Setup:
    return Setup(
        references={"G1": GAUGE}, transducers={"O1": Transducer(name="O1", kind=kind)}, field=field
    )  # fmt: skip


def _run(*, sealed_pa: float | None = None, open_zeros: bool = True):
    truth = TrueTransducer(sealed_pa=sealed_pa)
    return simulate_pressure(truth, PressureBench(), up_and_down(1e6, open_zeros=open_zeros), seed=1)


@pytest.mark.parametrize(
    ("sealed_pa", "kind", "at_3000"), [(None, "gauge", 0.0), (101_325.0, "sealed", -31.2), (0.0, "absolute", 70.1)]
)
@pytest.mark.parametrize("open_zeros", [True, False])
def test_the_kind_is_told_and_a_wrong_one_questioned(sealed_pa, kind, at_3000, open_zeros):
    """A sealed sensor called vented in the setup would read 31 kPa low at 3000 m, and the run had shown it."""
    run = _run(sealed_pa=sealed_pa, open_zeros=open_zeros)
    found = calibrate_pressure(run, _setup(), "O1").calibration
    assert found.kind_found.kind == kind
    assert dict(found.kind_found.shown_pa)[3000.0] / 1000 == pytest.approx(at_3000, abs=0.5)
    assert sum(found.kind_found.probability.values()) == pytest.approx(1.0)
    questioned = [note for note in found.notes if "it behaves like a" in note]
    # Through a 0.5 % gauge 7.9 kPa is two standard uncertainties: no ground to question, and said to be uncertain.
    unsure = kind == "sealed" and not open_zeros
    assert bool(questioned) == (kind != "gauge" and not unsure)
    assert "not certain" in found.kind_found.sentence or not unsure
    right = calibrate_pressure(run, _setup(kind), "O1").calibration
    assert not [note for note in right.notes if "it behaves like a" in note]
    says = "open to the air" if open_zeros else "with the gauge at zero"
    assert found.kind_found.sentence.startswith(f"{says} it reads")


def test_without_the_air_no_kind_is_guessed():
    """Where the air's pressure is not known the kind would be a guess: the run must say what is missing."""
    found = calibrate_pressure(_run(), _setup(field=Field()), "O1").calibration
    assert found.kind_found is None
    assert any("state elevation and qnh" in note for note in found.notes)
    away = replace(_run(open_zeros=False), readings=_run(open_zeros=False).readings[1:-1])
    assert calibrate_pressure(away, _setup(), "O1").calibration.kind_found is None


def _with_leak(time_constant_s: float, *, gauge: bool = True, rows: int = 8):
    base = _run(open_zeros=False)
    end = base.readings[-1].time_s or 0.0
    rng = np.random.default_rng(5)
    decay = []
    for n in range(rows):
        p = 600e3 * math.exp(-30.0 * n / time_constant_s)
        shown = round((p + rng.uniform(-500.0, 500.0)) / 200.0) * 200.0
        decay.append(
            Reading(
                file_row=base.readings[-1].file_row + 1 + n,
                time_s=end + 60.0 + 30.0 * n,
                point="leak" if n == 0 else "",
                reference=shown if gauge else None,
                signals={} if gauge else {"O1": round(5.0 * (0.1 + 0.8e-6 * p), 3)},
                supply_v=None if gauge else 5.0,
            )
        )
    return replace(base, readings=(*base.readings, *decay))


@pytest.mark.parametrize("gauge", [True, False])
def test_a_leak_is_sized_and_budgeted(gauge):
    """A leak of 2400 s costs 0.6 % in 15 s: unseen, it would pass for the sensor's own span error."""
    run = _with_leak(2400.0, gauge=gauge)
    found = calibrate_pressure(run, _setup(), "O1").calibration
    tight = calibrate_pressure(_run(open_zeros=False), _setup(), "O1").calibration
    assert len(found.points.pressure_pa) == len(tight.points.pressure_pa) == 12
    assert found.leak.time_constant_s == pytest.approx(2400.0, rel=0.12)
    assert any(note.startswith("leak: ") and "stands in the budget" in note for note in found.notes)
    (name,) = [one for one in found.shared_identifiers if one.startswith("leak:")]
    effect = 800e3 * (1.0 - math.exp(-15.0 / found.leak.time_constant_s)) / math.sqrt(3.0)
    assert abs(float(shared_shift_pa(found, 800e3)[name])) == pytest.approx(effect, rel=0.05)
    assert tight.leak is None
    whole = calibrate_pressure(run, _setup(), "O1")
    at_top = np.hypot(5000.0 / 3**0.5, float(shared_shift_pa(found, 1e6)[name]))
    assert whole.budgets.gauge_pa[-1] == pytest.approx(at_top, rel=0.01)
    assert budgets_again(found).gauge_pa == pytest.approx(whole.budgets.gauge_pa, rel=1e-9)


def test_a_tight_line_costs_nothing():
    """A line that holds would be charged for a leak nobody saw."""
    found = calibrate_pressure(_with_leak(1e9), _setup(), "O1").calibration
    assert found.leak is not None
    assert not found.leak.seen
    assert not [one for one in found.shared_identifiers if one.startswith("leak:")]


def test_rows_that_cannot_size_a_leak_say_so():
    """Two readings, or readings without a clock, would be dropped in silence."""
    few = calibrate_pressure(_with_leak(2400.0, rows=2), _setup(), "O1").calibration
    assert any("the leak is not sized" in note for note in few.notes)
    run = _with_leak(2400.0)
    clockless = replace(run, readings=tuple(replace(r, time_s=None) for r in run.readings))
    told = calibrate_pressure(clockless, _setup(), "O1").calibration.notes
    assert any("have no time" in note for note in told)


def test_rows_before_the_first_label_stay_points_of_their_own():
    """One label at the end of a file would gather all rows above it into one point."""
    run = _run(open_zeros=False)
    last = replace(run.readings[-1], point="open", reference=None)
    found = calibrate_pressure(replace(run, readings=(*run.readings[:-1], last)), _setup(), "O1").calibration
    assert len(found.points.pressure_pa) == 12
