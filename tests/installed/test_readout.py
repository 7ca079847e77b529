"""From the panel back to the truth: interval, uncertainty, and open ends that stay open."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from sensorcal.installed.chain import shown
from sensorcal.installed.chainparts import Converter, Display, Divider, Ground, Thermistor, Wiring
from sensorcal.installed.conversion import TableConversion
from sensorcal.installed.elements import elements_of, u_of_element, values_of
from sensorcal.installed.readout import read_out
from tests.installed.chains import J_SH, thermistor_chain

CHAIN = thermistor_chain(
    sensor=Thermistor(curve=J_SH, low=-45.0, high=180.0, u_error=0.2),
    wiring=Wiring(contact_ohm=2.0, u_contact_ohm=0.5),
    ground=Ground(returns="case", constant_v=0.015, u_constant_v=0.005),
    divider=Divider(pull_ohm=1004.0, u_pull_ohm=3.0),
    converter=Converter(bits=10),
    display=Display(unit="degC", step=1.0),
)


def test_known_errors_are_undone():
    """If this fails, a reading traced back still carries the wire and ground that are known."""
    at = np.linspace(10.0, 130.0, 25)
    for true, found in zip(at, read_out(CHAIN, shown(CHAIN, at)), strict=True):
        assert found.closed
        assert found.low - 1e-6 <= true <= found.high + 1e-6
        assert found.low < found.true < found.high
        assert found.reasons == ()


def test_uncertainty_covers_drawn_chains():
    """If this fails, the ± beside a traced-back reading does not hold the truth 19 times in 20.

    2000 chains are drawn from the stated uncertainties, each shows a temperature drawn too, and the nominal chain
    traces it back: 95 % ± 1.5 (three standard errors) must lie within U, steps rounded off included.
    """
    generator = np.random.default_rng(11)
    n = 2000
    true = generator.uniform(60.0, 120.0, n)
    actual = values_of(CHAIN)
    drawn = {
        e.name: generator.normal(0.0, 1.0, n) * u_of_element(CHAIN, e, np.array(90.0))
        for e in elements_of(CHAIN)
        if e.part
    }
    readings = np.empty(n)
    for k in range(n):
        parts = {}
        for e in elements_of(CHAIN):
            if e.part and e.part != "sensor":
                part = parts.get(e.part, getattr(CHAIN, e.part))
                parts[e.part] = replace(part, **{e.key: max(actual[e.name] + drawn[e.name][k], 0.0)})
        sensor = replace(CHAIN.sensor, error=drawn["sensor_error"][k])
        readings[k] = shown(replace(CHAIN, sensor=sensor, **parts), true[k])
    found = read_out(CHAIN, readings)
    inside = np.mean([abs(one.true - t) <= one.expanded for one, t in zip(found, true, strict=True)])
    assert inside == pytest.approx(0.95, abs=0.015)


def test_a_flatter_panel_is_less_certain():
    """If this fails, the uncertainty of the truth is that of the shown number, whatever the slope between them."""
    steep = TableConversion(signal=J_SH.resistance_ohm([0.0, 130.0]), reading=[0.0, 65.0], lines="ln signal",
                            pull_ohm=1000.0)  # fmt: skip
    sensor = Thermistor(curve=J_SH, low=-45.0, high=180.0)
    half = thermistor_chain(sensor=sensor, conversion=steep, display=Display(step=1.0))
    (found,) = read_out(half, 40.0)
    assert found.high - found.low == pytest.approx(2.0, rel=0.2)
    assert found.u == pytest.approx((found.high - found.low) / math.sqrt(12.0), rel=0.01)


def test_open_ends_have_no_middle():
    """If this fails, a monitor that holds the end of its table is believed to measure."""
    rows = TableConversion(signal=[5230.0, 721.0, 172.1], reading=[0.0, 50.0, 98.0], pull_ohm=1000.0)
    held, blank = read_out(replace(CHAIN, conversion=rows), [98.0, np.nan])
    assert not held.closed
    assert held.high == math.inf
    assert math.isnan(held.true)
    assert math.isnan(held.expanded)
    assert "holds the end" in held.reasons[0]
    assert "nothing is shown" in blank.reasons[0]
