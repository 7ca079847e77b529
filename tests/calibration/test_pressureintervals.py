"""The two intervals of a pressure sensor follow from one description of its errors."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sensorcal.bench.simulate_pressure import PressureBench, TrueTransducer, simulate_pressure, up_and_down
from sensorcal.calibration.pressureintervals import pressure_intervals
from sensorcal.calibration.pressurerun import calibrate_pressure
from sensorcal.errors import InputError
from sensorcal.setup import Reference, Setup

GAUGE = Reference(identifier="G1", kind="gauge", limits=5000.0)


@pytest.fixture(scope="module")
def cal():
    """A calibration of two cycles, with every kind of term."""
    run = simulate_pressure(
        TrueTransducer(loop_pa=2000.0, repeat_pa=500.0), PressureBench(), up_and_down(1e6, cycles=2), seed=1
    )
    return calibrate_pressure(run, Setup(references={"G1": GAUGE}), "O1").calibration


def test_draws_have_the_u_of_the_law(cal):
    """A term forgotten in one of the two methods would part their u; few degrees of freedom widen only the draws."""
    known = replace(
        cal,
        terms=tuple(replace(one, dof=np.inf) for one in cal.terms),
        use=tuple(replace(one, dof=np.inf) for one in cal.use),
    )
    for one in pressure_intervals(known, draws=100_000, seed=2):
        assert one.u_drawn_pa == pytest.approx(one.u_pa, rel=0.01)
        assert one.low_pa < 0.0 < one.high_pa
    for one in pressure_intervals(cal, draws=100_000, seed=2):
        assert one.u_pa * 0.99 < one.u_drawn_pa < 1.1 * one.u_pa


def test_names_values_and_seed(cal):
    """The same seed must give the same digits, and each row must say what it is of."""
    found = pressure_intervals(cal, draws=2_000, seed=3)
    assert [one.name for one in found] == ["zero", "span", "reading at 20 %", "reading at 50 %", "reading at 80 %"]
    assert [one.value_pa for one in found] == pytest.approx([0.0, 1e6, 2e5, 5e5, 8e5])
    assert found == pressure_intervals(cal, draws=2_000, seed=3)
    assert all(one.k >= 2.0 for one in found)


def test_a_cold_body_is_surer(cal):
    """Leaving the hot body out must narrow every interval."""
    hot, cold = (pressure_intervals(cal, draws=5_000, hot_body=hot) for hot in (True, False))
    for warm, cool in zip(hot, cold, strict=True):
        assert cool.expanded_pa < warm.expanded_pa
        assert cool.half_width_pa < warm.half_width_pa


def test_bad_input_is_named(cal):
    """A hundred draws cannot give the ends of a 95 % interval."""
    with pytest.raises(InputError, match="100 draws"):
        pressure_intervals(cal, draws=100)
    with pytest.raises(InputError, match="leave the range"):
        pressure_intervals(cal, shares=(1.5,))
