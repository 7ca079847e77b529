"""Slopes of the shown value: against the circuit's nodal equations, against differences, and against GTC."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sensorcal.installed.chain import fraction_at, sensitivities, trace, value_at
from sensorcal.installed.chainparts import Converter, Display, Divider, Ground, RatioSensor, Thermistor, Wiring
from sensorcal.installed.conversion import TableConversion
from sensorcal.installed.elements import elements_of, values_of
from tests.installed.chains import J_SH, line, pressure_chain, thermistor_chain

WIRING = Wiring(
    contact_ohm=0.8, wire_20c_ohm=0.4, wire_temperature_c=45.0, leak_siemens=2e-5, leak_to="engine", feed_ohm=1.5,
    return_ohm=0.9,
)  # fmt: skip
GROUND = Ground(returns="case", constant_v=0.012, strap_ohm=0.9e-3, current_a=-12.0)
DIVIDER = Divider(pull_ohm=1013.0, tempco_per_k=1e-4, monitor_temperature_c=42.0, supply_v=4.93, input_siemens=2e-6)
CONVERTER = Converter(ratiometric=False, reference_v=5.02, gain_ratio=0.001, offset_v=0.0015, bits=12)
THERMISTOR = thermistor_chain(
    sensor=Thermistor(curve=J_SH, low=-45.0, high=180.0, error=0.3, heating_k_per_w=150.0),
    wiring=WIRING, ground=GROUND, divider=DIVIDER, converter=CONVERTER, display=Display(unit="degC", step=1.0),
)  # fmt: skip
ROWS = np.arange(-60.0, 201.0, 15.0)
TABLE = replace(
    THERMISTOR,
    conversion=TableConversion(
        signal=J_SH.resistance_ohm(ROWS), reading=ROWS, lines="ln signal", past_ends="extends", pull_ohm=1000.0
    ),
)
DOWN = replace(
    THERMISTOR, divider=replace(DIVIDER, arrangement="pull-down"),
    conversion=replace(THERMISTOR.conversion, pull_down=True),
)  # fmt: skip
PRESSURE = pressure_chain(
    sensor=RatioSensor(curve=line(), low=-100e3, high=1.1e6, error=800.0, output_ohm=120.0, current_a=0.008),
    wiring=WIRING, ground=GROUND, divider=replace(DIVIDER, pull_ohm=100e3), converter=CONVERTER,
)  # fmt: skip
CHAINS = {"curve": THERMISTOR, "table": TABLE, "pull-down": DOWN, "pressure": PRESSURE}
AT = {True: np.array([-20.0, 20.0, 67.0, 97.0, 131.0]), False: np.array([0.0, 150e3, 400e3, 900e3])}


def points(chain):
    """Values of interest of a chain's own measurand."""
    return AT[isinstance(chain.sensor, Thermistor)]


@pytest.mark.parametrize("name", CHAINS)
def test_against_differences(name):
    """If this fails, a slope by the complex step is not the change that a small change makes."""
    chain = CHAINS[name]
    at, values = points(chain), values_of(chain)
    slopes = sensitivities(chain, at)
    pressure = chain is PRESSURE
    for element in elements_of(chain):
        v = values[element.name]
        h = 1e-4 * abs(v) if v else {"S": 1e-7, "count": 1e-3, "": 1.0 if pressure else 1e-3}.get(element.unit, 1e-4)
        found = []
        for k in (1.0, 0.5):  # Richardson: the error of second order cancels
            up, down = (value_at(chain, {**values, element.name: v + s * k * h}, at) for s in (1.0, -1.0))
            found.append((up - down) / (2.0 * k * h))
        numeric = (4.0 * found[1] - found[0]) / 3.0
        noise = 1e-12 * np.abs(value_at(chain, values, at)).max() / h
        np.testing.assert_allclose(
            slopes[element.name], numeric, rtol=2e-7, atol=20 * noise + 1e-12, err_msg=element.name
        )
    h = 1.0 if pressure else 1e-3
    numeric = (value_at(chain, values, at + h) - value_at(chain, values, at - h)) / (2 * h)
    np.testing.assert_allclose(slopes["measurand"], numeric, rtol=1e-6)


def nodal_input_v(ohm, chain):
    """Voltage at the input of a thermistor chain from nodal equations, each contact and wire a branch of its own."""
    v = values_of(chain)
    lift = v["ground_v"] + v["strap_ohm"] * v["ground_current_a"]
    pull = v["pull_ohm"] * (1 + v["tempco_per_k"] * (v["monitor_temperature_c"] - 25.0))
    wire = v["wire_20c_ohm"] * (1 + 0.00393 * (v["wire_temperature_c"] - 20.0))
    end = lift if chain.divider.arrangement == "pull-up" else v["supply_v"]
    # nodes: 0 input, 1 between contact and wire, 2 between wire and probe; known: supply, ground, end, lift
    g = np.zeros((3, 3))
    b = np.zeros(3)

    def branch(i, j, conductance):
        g[i, i] += conductance
        g[j, j] += conductance
        g[i, j] -= conductance
        g[j, i] -= conductance

    def to_known(i, voltage, conductance):
        g[i, i] += conductance
        b[i] += conductance * voltage

    branch(0, 1, 1 / v["contact_ohm"])
    branch(1, 2, 1 / wire)
    to_known(2, end, 1 / ohm)
    to_known(0, v["supply_v"] if chain.divider.arrangement == "pull-up" else 0.0, 1 / pull)
    to_known(0, lift, v["leak_siemens"])
    to_known(0, 0.0, v["input_siemens"])
    return np.linalg.solve(g, b)[0]


@pytest.mark.parametrize("name", ["curve", "pull-down"])
def test_thermistor_circuit_against_nodal_equations(name):
    """If this fails, the circuit's formula breaks Kirchhoff's law somewhere."""
    found = trace(CHAINS[name], points(CHAINS[name]))
    for ohm, volts in zip(found.sensor, found.input_v, strict=True):
        assert volts == pytest.approx(nodal_input_v(ohm, CHAINS[name]), rel=1e-12)


def test_transducer_circuit_against_nodal_equations():
    """If this fails, supply current, lifted ground or load of a transducer is wired wrongly."""
    chain = PRESSURE
    v = values_of(chain)
    found = trace(chain, points(chain))
    lift = v["ground_v"] + v["strap_ohm"] * v["ground_current_a"]
    pull = v["pull_ohm"] * (1 + v["tempco_per_k"] * (v["monitor_temperature_c"] - 25.0))
    wire = v["wire_20c_ohm"] * (1 + 0.00393 * (v["wire_temperature_c"] - 20.0))
    for ratio, volts in zip(found.sensor, found.input_v, strict=True):
        # nodes: 0 input, 1 output pin behind the output resistance, 2 supply pin, 3 ground pin; the source
        # e = v3 + r (v2 - v3) stands behind the output resistance and is one equation more (4)
        a, b = np.zeros((5, 5)), np.zeros(5)
        g_line, g_out = 1 / (v["contact_ohm"] + wire), 1 / v["output_ohm"]
        a[0, :2] = (g_line + 1 / pull + v["leak_siemens"] + v["input_siemens"], -g_line)
        b[0] = v["leak_siemens"] * lift + v["supply_v"] / pull
        a[1, [0, 1, 4]] = (-g_line, g_line + g_out, -g_out)
        a[2, 2], b[2] = 1 / v["feed_ohm"], v["supply_v"] / v["feed_ohm"] - v["current_a"]
        a[3, 3], b[3] = 1 / v["return_ohm"], lift / v["return_ohm"] + v["current_a"]
        a[4, [2, 3, 4]] = (-ratio, -(1 - ratio), 1.0)
        assert volts == pytest.approx(np.linalg.solve(a, b)[0], rel=1e-12)


def test_against_gtc():
    """If this fails, slopes or u differ from those of an independent uncertainty library, in the same circuit."""
    from GTC import log, reporting, ureal

    a, b, c = J_SH.abc
    chain = thermistor_chain(
        wiring=Wiring(contact_ohm=0.8, u_contact_ohm=0.3, leak_siemens=2e-5, u_leak_siemens=1e-5),
        ground=Ground(returns="case", constant_v=0.012, u_constant_v=0.004),
        divider=Divider(pull_ohm=1013.0, u_pull_ohm=4.0, supply_v=4.93, u_supply_v=0.02),
        converter=Converter(ratiometric=False, reference_v=5.02, u_reference_v=0.01, offset_v=0.001, u_offset_v=0.002),
    )
    for t in (-20.0, 20.0, 90.0, 120.0):
        ohm = float(J_SH.resistance_ohm(t))
        inputs = {
            "contact_ohm": ureal(0.8, 0.3), "leak_siemens": ureal(2e-5, 1e-5), "ground_v": ureal(0.012, 0.004),
            "pull_ohm": ureal(1013.0, 4.0), "supply_v": ureal(4.93, 0.02), "reference_v": ureal(5.02, 0.01),
            "offset_v": ureal(0.001, 0.002),
        }  # fmt: skip
        x = inputs
        # By hand in another form: the three branches' currents into the input.
        loop_g = 1 / (ohm + x["contact_ohm"])
        volts = (x["supply_v"] / x["pull_ohm"] + x["ground_v"] * (loop_g + x["leak_siemens"])) / (
            1 / x["pull_ohm"] + loop_g + x["leak_siemens"]
        )
        y = (volts + x["offset_v"]) / x["reference_v"]
        ln = log(1000.0 * y / (1 - y))
        shown_c = 1 / (a + b * ln + c * ln**3) - 273.15
        slopes = sensitivities(chain, t)
        assert float(value_at(chain, values_of(chain), np.array(t))) == pytest.approx(shown_c.x, abs=1e-9)
        for name, one in inputs.items():
            assert float(slopes[name]) * one.u == pytest.approx(reporting.u_component(shown_c, one), rel=1e-9), name


def test_slopes_vanish_at_an_end():
    """If this fails, a clipped chain is said to measure still."""
    chain = pressure_chain(converter=Converter(high_v=3.3))
    slopes = sensitivities(chain, [400e3, 900e3])
    assert slopes["measurand"][0] == pytest.approx(1.0)
    assert slopes["measurand"][1] == 0.0
    held = replace(THERMISTOR, conversion=replace(TABLE.conversion, past_ends="holds"))
    held = replace(held, conversion=TableConversion(signal=[721.0, 172.1], reading=[50.0, 97.7], pull_ohm=1000.0))
    assert sensitivities(held, 120.0)["contact_ohm"] == 0.0


def test_count_is_what_the_converter_makes():
    """If this fails, the trace's counts are not the voltage over the reference."""
    found = trace(PRESSURE, points(PRESSURE))
    read = found.input_v * 1.001 + 0.0015
    np.testing.assert_array_equal(found.counts, np.rint(read / 5.02 * 4096))
    assert np.abs(found.fraction - fraction_at(PRESSURE, values_of(PRESSURE), points(PRESSURE))).max() < 0.51 / 4096
