"""Sizes of wiring faults in degC and kPa, in two circuits: figures worked out beforehand for the invented scenario."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sensorcal.installed.chain import sensitivities, shown, trace
from sensorcal.installed.chainparts import Converter, Divider, Ground, Thermistor, Wiring, wire_ohm
from sensorcal.physics import loop
from sensorcal.physics.curves import SteinhartHart
from tests.installed.chains import J_SH, line, pressure_chain, thermistor_chain
from tests.probes import j_spline

J = j_spline()
# Half of the last printed digit of 0.01 degC, and 0.02 more where the two forms of probe J themselves differ.
BY_FORM = {120.0: 0.03, 130.0: 0.03}


def error(chain, at):
    """Shown minus true."""
    return shown(chain, np.array(at)) - np.array(at)


@pytest.mark.parametrize("curve", [J, J_SH], ids=["J", "J-SH"])
@pytest.mark.parametrize(
    ("lift_mv", "expected"),
    [(20, (-0.36, -0.82, -1.84, -2.37)), (50, (-0.90, -2.03, -4.46, -5.70))],
)
def test_lifted_probe_ground(curve, lift_mv, expected):
    """If this fails, the largest of all wiring errors is wrong in size or sign."""
    at = (60.0, 90.0, 120.0, 130.0)
    chain = thermistor_chain(curve, ground=Ground(returns="case", constant_v=lift_mv / 1000))
    for found, wanted, t in zip(error(chain, at), expected, at, strict=True):
        assert found == pytest.approx(wanted, abs=BY_FORM.get(t, 0.0055))


@pytest.mark.parametrize(("lift_mv", "lifted", "quoted"), [(-20, 0.84, 1.0), (-27, 1.14, 1.4), (-120, 5.31, 6.5)])
def test_charging_reads_hot_and_the_quoted_sizes_are_another_circuit(lift_mv, lifted, quoted):
    """If this fails, the sign while charging is wrong, or it is no longer known where the larger figures come from.

    The scenario's notes give +1.0, +1.4 and +6.5 degC at 90 for these lifts. They belong to 'shown voltage = true
    voltage + offset', an offset of the input; a probe whose own ground is lifted moves less, as the pull-up's
    current falls with it.
    """
    chain = thermistor_chain(J, ground=Ground(returns="case", constant_v=lift_mv / 1000))
    assert error(chain, 90.0) == pytest.approx(lifted, abs=0.006)
    offset = thermistor_chain(J, converter=Converter(offset_v=lift_mv / 1000))
    assert error(offset, 90.0) == pytest.approx(quoted, abs=0.12)


def test_own_return_wire_does_not_see_the_engine():
    """If this fails, a probe with its own return moves with the engine's ground."""
    chain = thermistor_chain(ground=Ground(returns="own wire", constant_v=0.1, strap_ohm=0.001, current_a=200.0))
    assert error(chain, 120.0) == pytest.approx(0.0, abs=1e-9)


def test_a_leak_to_the_engine_brings_the_lift_back():
    """If this fails, damp between wire and engine metal is taken for damp across the probe."""
    ground = Ground(returns="own wire", constant_v=-0.5)
    wiring = Wiring(leak_siemens=1e-5, leak_to="engine")
    dry = error(thermistor_chain(wiring=replace(wiring, leak_to="return"), ground=ground), 0.0)
    wet = error(thermistor_chain(wiring=wiring, ground=ground), 0.0)
    assert dry == pytest.approx(1.11, abs=0.01)
    assert wet > dry + 0.1


def test_strap_seen_while_cranking():
    """If this fails, 180 mV at 200 A is not 0.9 milliohm, or charging has the starter's sign."""
    strap_ohm = 0.180 / 200.0
    assert strap_ohm == pytest.approx(0.9e-3)
    assert loop.ground_lift_v(0.0, strap_ohm, -30.0) == pytest.approx(-0.027)
    by_current = thermistor_chain(J, ground=Ground(returns="case", strap_ohm=strap_ohm, current_a=-30.0))
    assert error(by_current, 90.0) == pytest.approx(1.14, abs=0.006)
    cranking = thermistor_chain(J, ground=Ground(returns="case", strap_ohm=strap_ohm, current_a=200.0))
    assert error(cranking, 90.0) < -6.0


@pytest.mark.parametrize("curve", [J, J_SH], ids=["J", "J-SH"])
def test_wire_and_contacts(curve):
    """If this fails, 2 x 5 m are not -0.05 and -0.09 at 97.7 and 120; with 0.3 ohm of contacts -0.11 and -0.22."""
    ohm, _ = wire_ohm(18, 5.0, wires=2, kind="solid")
    assert ohm == pytest.approx(0.21, abs=0.005)
    at = (97.7, 120.0)
    alone = error(thermistor_chain(curve, wiring=Wiring(wire_20c_ohm=ohm)), at)
    assert alone == pytest.approx((-0.05, -0.09), abs=5e-3)
    both = error(thermistor_chain(curve, wiring=Wiring(wire_20c_ohm=ohm, contact_ohm=0.3)), at)
    assert both == pytest.approx((-0.11, -0.22), abs=5e-3)


@pytest.mark.parametrize(("ohm", "expected"), [(1.0, -0.4), (3.0, -1.3)])
def test_corroded_connector(ohm, expected):
    """If this fails, 1 to 3 ohm of corrosion are not -0.4 to -1.3 degC at 120."""
    assert error(thermistor_chain(J, wiring=Wiring(contact_ohm=ohm)), 120.0) == pytest.approx(expected, abs=0.05)


def test_seeded_ten_ohm():
    """If this fails, 10 ohm put into the coolant's return do not read 1.7 low at 90, the seeded fault of the proof."""
    assert error(thermistor_chain(J, wiring=Wiring(contact_ohm=10.0)), 90.0) == pytest.approx(-1.7, abs=0.05)


@pytest.mark.parametrize(("ratio", "low", "high"), [(0.99, -0.3, -0.4), (0.95, -1.5, -2.1)])
def test_pull_up_off(ratio, low, high):
    """If this fails, a pull-up of 1 or 5 % too few ohms is not -0.3 to -0.4 and -1.5 to -2.1 degC from 60 to 120."""
    found = error(thermistor_chain(J, divider=Divider(pull_ohm=1000.0 * ratio)), np.linspace(60.0, 120.0, 13))
    assert found.max() == pytest.approx(low, abs=0.09)
    assert found.min() == pytest.approx(high, abs=0.05)


def test_not_ratiometric():
    """If this fails, 4.90 V taken for 5.00 is not +2.6 degC at 0 and +0.9 at 90 to 120; ratiometric it is nothing."""
    low = Divider(supply_v=4.90)
    found = error(thermistor_chain(J, divider=low, converter=Converter(ratiometric=False)), (0.0, 90.0, 120.0))
    assert found == pytest.approx((2.6, 0.9, 0.9), abs=0.05)
    assert error(thermistor_chain(J, divider=low), (0.0, 90.0, 120.0)) == pytest.approx(0.0, abs=1e-9)


def test_ten_bit_counts():
    """If this fails, one count of ten bits is not 0.25, 0.5 and 0.64 degC at 90, 120 and 130."""
    chain = thermistor_chain(J, converter=Converter(bits=10))
    assert -sensitivities(chain, np.array([90.0, 120.0, 130.0]))["count_error"] == pytest.approx(
        (0.25, 0.5, 0.64), abs=0.005
    )
    counts = trace(chain, np.array([90.0])).counts
    assert counts == pytest.approx(np.rint(1024 * 211.8 / 1211.8))


def test_damp_connector():
    """If this fails, 100 kohm of damp are not +2.5 at -20, +1.1 at 0 and +0.07 at 98."""
    found = error(thermistor_chain(J, wiring=Wiring(leak_siemens=1e-5)), (-20.0, 0.0, 98.0))
    assert found == pytest.approx((2.5, 1.1, 0.07), abs=(0.05))
    assert found[2] == pytest.approx(0.07, abs=0.006)


@pytest.mark.parametrize(("w_per_k", "expected"), [(0.010, 0.5), (0.004, 1.4), (0.002, 2.9)])
def test_self_heating_by_the_pull_up(w_per_k, expected):
    """If this fails, the cold soak's bias by the input's current is not 0.5 in liquid and 1.4 to 2.9 in still air."""
    volts = loop.input_voltage_v(0.0, 1800.0, pull_v=5.0, pull_siemens=1e-3)
    assert loop.dissipated_w(0.0, volts, 1800.0, 1800.0) == pytest.approx(5.7e-3, abs=5e-5)
    warm = thermistor_chain(J, sensor=Thermistor(curve=J, low=-45.0, high=180.0, heating_k_per_w=1.0 / w_per_k))
    assert error(warm, 25.0) == pytest.approx(expected, abs=0.1)


# The second circuit: R25 2500 ohm, Beta 3500 K, pull-up 2200 ohm. Columns: true -20, 20, 90, 120 degC.
SECOND = SteinhartHart.from_beta(3500.0, 2500.0)
AT = (-20.0, 20.0, 90.0, 120.0)


def beta(k=1.0, r=1.0):
    """A preset with Beta and R25 off by factors."""
    return {"preset": SteinhartHart.from_beta(3500.0 * k, 2500.0 * r)}


@pytest.mark.parametrize(
    ("what", "parts", "expected", "tolerance"),
    [
        ("R25 x1.1", beta(r=1.1), (1.8, 2.4, 3.6, 4.3), 0.055),
        ("R25 x1.5", beta(r=1.5), (8, 10, 16, 19), 0.55),
        ("R25 x2", beta(r=2.0), (13, 18, 28, 33), 0.55),
        ("R25 x0.5", beta(r=0.5), (-12, -16, -24, -28), 0.55),
        ("Beta x1.05", beta(k=1.05), (1.8, 0.2, -3.7, -5.9), 0.055),
        ("Beta x1.10", beta(k=1.10), (3.5, 0.4, -7.1, -11), 0.075),
        ("pull-up x1.1", {"divider": Divider(pull_ohm=2420.0)}, (1.8, 2.4, 3.6, 4.3), 0.055),
        ("pull-up x2", {"divider": Divider(pull_ohm=4400.0)}, (13, 18, 28, 33), 0.55),
        ("contact 10", {"wiring": Wiring(contact_ohm=10.0)}, (0.0, -0.1, -1.2, -2.9), 0.055),
        ("contact 50", {"wiring": Wiring(contact_ohm=50.0)}, (0.0, -0.4, -5.6, -12.5), 0.055),
        ("contact 100", {"wiring": Wiring(contact_ohm=100.0)}, (-0.1, -0.8, -10, -22), 0.37),
        (
            "rail 4.75",
            {"divider": Divider(pull_ohm=2200.0, supply_v=4.75), "converter": Converter(ratiometric=False)},
            (8, 2.9, 2.2, 2.4),
            0.095,
        ),
        ("ground +50 mV", {"ground": Ground(returns="case", constant_v=0.05)}, (-0.2, -0.4, -3.0, -6.5), 0.055),
        ("ground -50 mV", {"ground": Ground(returns="case", constant_v=-0.05)}, (0.2, 0.4, 3.2, 7.8), 0.055),
    ],
    ids=lambda x: x if isinstance(x, str) else "",
)
def test_second_circuit(what, parts, expected, tolerance):
    """If this fails, a fault's size on the first start is wrong; tolerance half a printed digit and a little."""
    assert what
    assert error(thermistor_chain(SECOND, 2200.0, **parts), AT) == pytest.approx(expected, abs=tolerance)


def test_lifted_ground_of_a_transducer():
    """If this fails, 20 mV under a transducer fed by the monitor are not +4.5 kPa at zero and +2.9 at 400."""
    chain = pressure_chain(ground=Ground(returns="case", constant_v=0.020))
    assert error(chain, (0.0, 400e3)) / 1000 == pytest.approx((4.5, 2.9), abs=0.05)


@pytest.mark.parametrize(
    ("curve", "at", "expected"),
    [
        (line(0.0, 1e6), 450e3, (-11, -29, -57)),
        (line(0.0, 600e3), 300e3, (-7, -19, -37)),
        (line(10e3, 250e3), 95e3, (-2.3, -5.8, -11.5)),
    ],
    ids=["oil", "fuel", "MAP"],
)
def test_sensor_supply_low_and_reference_fixed(curve, at, expected):
    """If this fails, a low 5 V is not known by its common mark on all three pressures."""
    for supply_v, wanted in zip((4.9, 4.75, 4.5), expected, strict=True):
        chain = pressure_chain(
            curve,
            divider=Divider(arrangement="none", supply_v=supply_v),
            converter=Converter(ratiometric=False),
        )
        assert error(chain, at) / 1000 == pytest.approx(wanted, abs=0.05 if wanted > -6 and wanted % 1 else 0.55)


class Scaled:
    """A probe of the same material in another size."""

    def __init__(self, curve, ratio):
        self.curve, self.ratio = curve, ratio

    def resistance_ohm(self, temperature_c):
        """Resistance of the larger or smaller probe."""
        return self.ratio * self.curve.resistance_ohm(temperature_c)

    def temperature_c(self, resistance_ohm):
        """Temperature at a resistance."""
        return self.curve.temperature_c(np.asarray(resistance_ohm) / self.ratio)


@pytest.mark.parametrize(
    ("r25", "wire", "leads"),
    [(1800.0, (-0.05, -0.09), (-0.07, -0.13)), (300.0, (None, -0.53), (-0.40, -0.76)), (10e3, None, (-0.01, -0.02))],
)
def test_the_same_copper_on_other_probes(r25, wire, leads):
    """If this fails, whether 0.21 ohm of wire or 0.3 ohm of leads matter is wrong for a probe of another size."""
    probe = Scaled(J, r25 / 1800.0)
    at = (97.7, 120.0)
    found = error(thermistor_chain(probe, wiring=Wiring(contact_ohm=0.3)), at)
    assert found == pytest.approx(leads, abs=0.0085)
    if wire is not None:
        found = error(thermistor_chain(probe, wiring=Wiring(wire_20c_ohm=0.21)), at)
        wanted = [(f, w) for f, w in zip(found, wire, strict=True) if w is not None]
        assert [f for f, _ in wanted] == pytest.approx([w for _, w in wanted], abs=0.0055)


@pytest.mark.parametrize(
    ("mv", "pull_ohm", "at", "quoted", "lifted"),
    [
        (20, 1000.0, (60.0, 90.0, 120.0, 130.0), (-0.55, -1.0, -2.0, -2.5), (-0.36, -0.82, -1.84, -2.37)),
        (50, 1000.0, (60.0, 90.0, 120.0, 130.0), (-1.4, -2.5, -4.9, -6.1), (-0.90, -2.03, -4.46, -5.70)),
        (20, 2200.0, (90.0, 120.0), (-1.77, -3.9), (-1.62, -3.73)),
    ],
)
def test_first_figures_of_the_ground_are_an_offset_of_the_input(mv, pull_ohm, at, quoted, lifted):
    """If this fails, the larger figures of the scenario's notes are no longer known for what they are.

    They say 'shown voltage = true voltage + offset', which is an error of the input; a probe whose own ground is
    lifted moves less. Half a unit of the last digit, and what the forms of the probe differ by.
    """
    offset = thermistor_chain(J, pull_ohm, converter=Converter(offset_v=mv / 1000))
    assert error(offset, at) == pytest.approx(quoted, abs=0.055)
    ground = thermistor_chain(J, pull_ohm, ground=Ground(returns="case", constant_v=mv / 1000))
    assert error(ground, at) == pytest.approx(lifted, abs=0.03)


def test_forty_ohm_or_145_mv_for_six_degrees():
    """If this fails, a coolant that shows 84 at a true 90 does not ask for about 145 mV of ground or 40 ohm."""
    ground = error(thermistor_chain(J, ground=Ground(returns="case", constant_v=0.145)), 90.0)
    connector = error(thermistor_chain(J, wiring=Wiring(contact_ohm=40.0)), 90.0)
    # The contact thermometer is good to 2 degC; the two causes stand within a degree of the six.
    assert ground == pytest.approx(-6.0, abs=0.5)
    assert connector == pytest.approx(-6.0, abs=0.5)
