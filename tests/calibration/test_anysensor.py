"""One door for thermistors and transducers."""

from __future__ import annotations

import pytest

from sensorcal.bench.run import Reading, Run
from sensorcal.bench.simulate_pressure import PressureBench, TrueTransducer, simulate_pressure, up_and_down
from sensorcal.calibration.anysensor import calibrate_any
from sensorcal.calibration.fromrun import BenchResult
from sensorcal.calibration.pressurerun import PressureResult
from sensorcal.errors import InputError
from sensorcal.setup import Probe, Reference, Setup
from sensorcal.transducer import Transducer

GAUGE = Reference(identifier="G1", kind="gauge", limits=5000.0)
THERMOMETER = Reference(identifier="T1")


def test_each_kind_goes_its_way():
    """A transducer fitted as a thermistor would give a curve of nonsense."""
    pressure = simulate_pressure(TrueTransducer(), PressureBench(), up_and_down(1e6), seed=1)
    setup = Setup(references={"G1": GAUGE, "T1": THERMOMETER}, transducers={"O1": Transducer(name="O1")})
    assert isinstance(calibrate_any(pressure, setup, "O1"), PressureResult)
    rows = [(0.5, 5230.0), (25.0, 1800.0), (50.0, 721.0), (75.0, 325.4)]
    warm = Run(readings=tuple(Reading(reference=t, signals={"P1": r}) for t, r in rows))
    assert isinstance(calibrate_any(warm, setup, "P1"), BenchResult)


def test_a_tag_of_the_other_kind_is_refused():
    """Pressures read as temperatures must not be fitted."""
    run = simulate_pressure(TrueTransducer(name="P1"), PressureBench(), up_and_down(1e6), seed=1)
    with pytest.raises(InputError, match="P1 is a temperature sensor"):
        calibrate_any(run, Setup(references={"G1": GAUGE}, probes={"P1": Probe(name="P1")}), "P1")
