"""Ground tests: millivolts to degC and kPa, the strap seen only while cranking, and the chain beside it."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sensorcal.errors import InputError
from sensorcal.installed.chain import shown
from sensorcal.installed.chainparts import Divider, Ground
from sensorcal.installed.groundtest import (
    ThermistorChannel,
    TransducerChannel,
    cranking_test,
    lift_shift,
    load_test,
)
from tests.installed.chains import J_SH, line, pressure_chain, thermistor_chain
from tests.probes import j_spline

J = j_spline()
COOLANT = ThermistorChannel(name="P1 coolant", curve=J, at_c=90.0)
OWN = ThermistorChannel(name="P3 cooler in", curve=J, at_c=60.0, returns="own wire")
OIL = TransducerChannel(name="O1 oil", at_ratio=0.42, pa_per_ratio=1e6 / 0.8)


@pytest.mark.parametrize(
    ("lift_mv", "expected"), [(20, (-0.36, -0.82, -1.84, -2.37)), (50, (-0.90, -2.03, -4.46, -5.70))]
)
def test_a_lifted_probe_ground(lift_mv, expected):
    """If this fails, the largest of all wiring errors is told in another size; half a digit, 0.03 by probe J's form."""
    found = [
        lift_shift(ThermistorChannel(name="P", curve=J, at_c=t), lift_mv / 1e3) for t in (60.0, 90.0, 120.0, 130.0)
    ]
    assert found == pytest.approx(expected, abs=0.03)
    assert found[:2] == pytest.approx(expected[:2], abs=0.0055)


def test_a_lifted_transducer():
    """If this fails, 20 mV under a 1000 kPa transducer are not 4.5 kPa at zero and 2.9 at 400."""
    at = [TransducerChannel(name="O1", at_ratio=r, pa_per_ratio=1e6 / 0.8) for r in (0.1, 0.1 + 0.8 * 0.4)]
    assert [lift_shift(one, 0.020) / 1e3 for one in at] == pytest.approx([4.5, 2.9], abs=1e-9)


@settings(max_examples=60, deadline=None)
@given(
    lift_v=st.floats(-0.3, 0.3), at_c=st.floats(-20.0, 130.0), pull_ohm=st.floats(300.0, 10e3),
    supply_v=st.floats(3.0, 12.0),
)  # fmt: skip
def test_the_chain_gives_the_same_thermistor_shift(lift_v, at_c, pull_ohm, supply_v):
    """If this fails, the ground test and the signal chain disagree about one and the same millivolt."""
    ratio = float(J_SH.resistance_ohm(at_c)) / (float(J_SH.resistance_ohm(at_c)) + pull_ohm)
    if lift_v + (supply_v - lift_v) * ratio <= 0.02 * supply_v:
        return  # at the very end of the input the chain holds its table's end
    channel = ThermistorChannel(name="P", curve=J_SH, at_c=at_c, pull_up_ohm=pull_ohm, supply_v=supply_v)
    chain = thermistor_chain(
        J_SH, pull_ohm, ground=Ground(returns="case", constant_v=lift_v),
        divider=Divider(pull_ohm=pull_ohm, supply_v=supply_v),
    )  # fmt: skip
    assert lift_shift(channel, lift_v) == pytest.approx(float(shown(chain, at_c)) - at_c, abs=1e-6)


@settings(max_examples=40, deadline=None)
@given(lift_v=st.floats(-0.2, 0.2), part=st.floats(0.0, 1.0), supply_v=st.floats(4.5, 5.5))
def test_the_chain_gives_the_same_transducer_shift(lift_v, part, supply_v):
    """If this fails, oil pressure moves by another amount in the chain than in the ground test; 1e-6 of the span."""
    at_pa = 1e6 * part
    channel = TransducerChannel(name="O1", at_ratio=0.1 + 0.8 * part, pa_per_ratio=1e6 / 0.8, supply_v=supply_v)
    chain = pressure_chain(
        line(), ground=Ground(returns="case", constant_v=lift_v),
        divider=Divider(arrangement="none", supply_v=supply_v),
    )  # fmt: skip
    assert lift_shift(channel, lift_v) == pytest.approx(float(shown(chain, at_pa)) - at_pa, abs=1.0)


def test_strap_seen_while_cranking():
    """If this fails, 180 mV at 200 A are not 0.9 milliohm, -27 mV at 30 A charging and +1.14 degC at 90."""
    found = cranking_test(0.180, 200.0, (COOLANT, OWN, OIL), charging_a=30.0)
    assert found.path_ohm == pytest.approx(0.9e-3)
    assert found.lift_v == pytest.approx(-0.027)
    assert [one.name for one in found.moved] == ["P1 coolant"]
    assert found.unmoved == ("P3 cooler in", "O1 oil")
    # The notes' +1.4 belongs to an offset of the input; a lifted probe moves by 1.14 (see the chain's test).
    assert found.moved[0].shift == pytest.approx(1.14, abs=0.006)
    assert "reads hot" in found.moved[0].words


def test_charging_and_cranking_move_a_probe_opposite_ways():
    """If this fails, the sign of the current path is lost: cranking reads cold, charging hot."""
    found = cranking_test(0.180, 200.0, (COOLANT,), charging_a=30.0)
    assert lift_shift(COOLANT, 0.180) < -6.0
    assert found.moved[0].shift > 0.0


def test_load_test_sees_its_own_path_only():
    """If this fails, 3 mV of loads on the return wire are blamed on the strap, or the strap is called proven."""
    found = load_test(0.0, 0.003, (COOLANT, OWN, OIL))
    assert found.lift_v == pytest.approx(0.003)
    assert [one.name for one in found.moved] == ["P3 cooler in", "O1 oil"]
    assert found.unmoved == ("P1 coolant",)
    assert "cranking" in found.unseen
    assert "the dangerous side" in found.moved[0].words
    assert found.moved[1].unit == "Pa"
    assert found.moved[1].shift == pytest.approx(0.003 / 5.0 * (1 - 0.42) * 1.25e6)
    metal = load_test(0.0, 0.003, (COOLANT, OWN, OIL), own_path=False)
    assert [one.name for one in metal.moved] == ["P1 coolant"]


def test_uncertainty_follows_the_meter():
    """If this fails, a lift of 3 mV with a meter good to 2 mV looks proven: u must double with the voltmeter's u."""
    near, far = (load_test(0.0, 0.003, (OWN,), u_v=u) for u in (1e-3, 2e-3))
    assert near.u_lift_v == pytest.approx(1e-3 * np.sqrt(2.0))
    assert far.u_lift_v == pytest.approx(2.0 * near.u_lift_v)
    assert far.moved[0].u_shift == pytest.approx(2.0 * near.moved[0].u_shift, rel=0.01)


def test_uncertainty_of_the_strap_against_draws():
    """If this fails, the strap's u is not that of voltage and current: 200 000 draws, to 1 %."""
    rng = np.random.default_rng(7)
    volts, amps = rng.normal(0.180, 2e-3, 200_000), rng.normal(200.0, 5.0, 200_000)
    charge = rng.normal(30.0, 1.0, 200_000)
    found = cranking_test(0.180, 200.0, charging_a=30.0, u_cranking_a=5.0, u_charging_a=1.0)
    assert found.u_path_ohm == pytest.approx((volts / amps).std(), rel=0.01)
    assert found.u_lift_v == pytest.approx((volts / amps * charge).std(), rel=0.01)


@pytest.mark.parametrize(
    ("call", "word"),
    [
        (lambda: cranking_test(-0.18, 200.0), "swap the meter's leads"),
        (lambda: cranking_test(0.18, 0.0), "above zero"),
        (lambda: cranking_test(0.18, 200.0, charging_a=-30.0), "above zero"),
        (lambda: load_test(0.0, float("nan")), "no number"),
        (lambda: lift_shift(COOLANT, -2.0), "below its range"),
        (lambda: lift_shift(COOLANT, 6.0), "below its range"),
    ],
    ids=["red lead on the monitor", "no current", "negative current", "blank", "below zero ohm", "beyond the supply"],
)
def test_refusals(call, word):
    """If this fails, swapped leads would turn a bad strap into a good one without a word."""
    with pytest.raises(InputError, match=word):
        call()
