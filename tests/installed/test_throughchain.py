"""Tables made for the whole channel: what they undo, what they leave, and that nothing else gets worse."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sensorcal.errors import TableError
from sensorcal.installed.chain import shown
from sensorcal.installed.chainparts import Converter, Divider, Ground, RatioSensor, Thermistor, Wiring
from sensorcal.installed.conversion import CurveConversion, table_conversion
from sensorcal.installed.monitor import MonitorInput
from sensorcal.installed.pressuretable import PressureInput
from sensorcal.installed.throughchain import (
    ChannelCurve,
    ChannelRatio,
    make_chain_pressure_table,
    make_chain_table,
    pressure_conversion,
    settled,
)
from tests.installed.chains import J_SH, line, pressure_chain, thermistor_chain

WIRED = {
    "wiring": Wiring(contact_ohm=2.5, wire_20c_ohm=0.4, wire_temperature_c=40.0, leak_siemens=1e-6),
    "ground": Ground(returns="case", constant_v=0.010, strap_ohm=0.9e-3, current_a=-20.0),
    "divider": Divider(pull_ohm=988.0, supply_v=4.95),
    "converter": Converter(offset_v=0.001),
}
VOLTS = MonitorInput(
    kind="voltage", pull_up_ohm=1000.0, supply_v=5.0, signal_unit="V", signal_step=0.01, rows=10, past_ends="extends"
)
OHMS = MonitorInput(rows=12, past_ends="extends")
SAMPLED = 1e-3
"""A corner of the error curve lies between two of 20 001 samples, 0.007 K apart; its slope is below 0.2 there."""
LN = MonitorInput(rows=10, interpolation="linear in ln signal", past_ends="extends")


def error_through(chain, table, low=-10.0, high=130.0):
    """Largest error that the panel shows with a table keyed in, by the chain itself."""
    at = np.linspace(low, high, 20_001)
    keyed = replace(chain, conversion=table_conversion(table, pull_ohm=1000.0))
    return float(np.max(np.abs(shown(keyed, at) - at)))


@pytest.mark.parametrize("monitor", [OHMS, VOLTS, LN], ids=["ohm", "volts", "ln ohm"])
def test_the_worst_error_through_the_chain_is_that_of_the_table(monitor):
    """If this fails, a table made for the channel leaves wire, ground or pull-up in the shown number."""
    chain = thermistor_chain(**WIRED)
    made = make_chain_table(chain, monitor, from_c=-10.0, to_c=130.0, leave_out=())
    assert error_through(chain, made.table) == pytest.approx(abs(made.table.worst_error_c), abs=SAMPLED)
    assert abs(made.worst_error) == pytest.approx(abs(made.table.worst_error_c), abs=1e-5)
    assert made.table.bound_c <= abs(made.worst_error) <= abs(made.table.worst_error_c) + 1e-5
    # The table of the bare probe shows the channel's faults on top of its own.
    assert abs(made.plain_worst_error) > 1.0 + abs(made.plain.worst_error_c)
    assert error_through(chain, made.plain) == pytest.approx(abs(made.plain_worst_error), abs=SAMPLED)


def test_bare_probe_and_ideal_channel_give_one_table():
    """If this fails, a channel without faults changes the rows."""
    made = make_chain_table(thermistor_chain(), OHMS, from_c=0.0, to_c=120.0)
    np.testing.assert_array_equal(made.table.signal, made.plain.signal)
    np.testing.assert_array_equal(made.table.value, made.plain.value)
    assert made.groups == ()


def test_what_comes_and_goes_is_not_undone():
    """If this fails, a table keyed while charging is wrong with the alternator off."""
    chain = thermistor_chain(**WIRED)
    made = make_chain_table(chain, LN, from_c=-10.0, to_c=130.0)
    idle = replace(chain, ground=replace(chain.ground, current_a=0.0), wiring=replace(chain.wiring, leak_siemens=0.0))
    assert error_through(idle, made.table) == pytest.approx(abs(made.table.worst_error_c), abs=SAMPLED)
    told = {one.group: one.undone for one in made.groups}
    assert told["ground, by current"] is False
    assert told["insulation leak"] is False
    assert told["ground, constant"]
    assert told["contacts"]
    assert settled(chain).ground.constant_v == 0.010
    # -18 mV of charging at 120 and more: the sign is hot, the size that of the chain.
    charging = next(one for one in made.groups if one.group == "ground, by current")
    assert 1.0 < charging.worst_error < 2.5


def test_sizes_are_those_of_each_group_alone():
    """If this fails, the user is told that the wrong part of the wiring was worth undoing."""
    made = make_chain_table(thermistor_chain(wiring=Wiring(contact_ohm=10.0)), LN, from_c=60.0, to_c=120.0)
    (contacts,) = made.groups
    assert contacts.worst_at == pytest.approx(120.0, abs=1.0)
    alone = float(shown(thermistor_chain(wiring=Wiring(contact_ohm=10.0)), 120.0)) - 120.0
    assert contacts.worst_error == pytest.approx(alone, abs=0.1)


@pytest.mark.parametrize("kind", ["resistance", "voltage"])
def test_pull_down(kind):
    """If this fails, a monitor with the probe between supply and input gets the table of the other arrangement."""
    conversion = CurveConversion(curve=J_SH, low=-95.0, high=250.0, pull_ohm=1000.0, pull_down=True)
    chain = thermistor_chain(
        divider=Divider(arrangement="pull-down", pull_ohm=1012.0), conversion=conversion, wiring=Wiring(contact_ohm=2.0)
    )
    monitor = VOLTS if kind == "voltage" else OHMS
    made = make_chain_table(chain, monitor, from_c=0.0, to_c=120.0)
    keyed = replace(table_conversion(made.table, pull_ohm=1000.0), pull_down=True)
    at = np.linspace(0.0, 120.0, 5001)
    off = shown(replace(chain, conversion=keyed), at) - at
    assert np.abs(off).max() == pytest.approx(abs(made.table.worst_error_c), abs=1e-4)


def test_channel_curve_there_and_back():
    """If this fails, the curve that the table is made from is not the one that the chain shows."""
    chain = thermistor_chain(**WIRED)
    curve = ChannelCurve(chain=chain)
    at = np.linspace(-40.0, 150.0, 400)
    np.testing.assert_allclose(curve.temperature_c(curve.resistance_ohm(at)), at, atol=1e-9)
    assert curve.temperature_c(np.array([1e-3]))[0] == np.inf
    assert curve.temperature_c(np.array([1e9]))[0] == -np.inf


@pytest.mark.parametrize(
    "monitor",
    [
        PressureInput(kind="voltage", supply_v=5.0, signal_step=0.01, rows=6, past_ends="extends"),
        PressureInput(kind="counts", counts_full=1024, signal_step=1.0, rows=6, past_ends="extends"),
        PressureInput(kind="ratio", rows=4, past_ends="extends"),
    ],
    ids=["volts", "counts", "ratio"],
)
def test_pressure_through_the_channel(monitor):
    """If this fails, 20 mV of ground under an oil transducer stay in the table that was to undo them."""
    chain = pressure_chain(
        sensor=RatioSensor(curve=line(), low=-100e3, high=1.1e6, current_a=0.008),
        ground=Ground(returns="case", constant_v=0.020),
        wiring=Wiring(feed_ohm=0.5, return_ohm=0.5),
    )
    made = make_chain_pressure_table(chain, monitor, from_pa=0.0, to_pa=1e6)
    at = np.linspace(0.0, 1e6, 5001)
    worst = [
        np.abs(shown(replace(chain, conversion=pressure_conversion(one)), at) - at).max()
        for one in (made.table, made.plain)
    ]
    assert worst[0] == pytest.approx(abs(made.table.worst_error_pa), abs=2.0)
    assert abs(made.worst_error) == pytest.approx(worst[0], abs=2.0)
    assert worst[1] == pytest.approx(abs(made.plain_worst_error), abs=2.0)
    assert worst[1] > worst[0] + 3e3
    assert next(one.group for one in made.groups) == "ground, constant"


def test_wrong_asks_are_refused():
    """If this fails, a table for another circuit, or where nothing is measured, is made without a word."""
    chain = thermistor_chain(**WIRED)
    with pytest.raises(TableError, match="pull-up of 2200 ohm"):
        make_chain_table(chain, MonitorInput(pull_up_ohm=2200.0), from_c=0.0, to_c=100.0)
    with pytest.raises(TableError, match="volts of 12 V"):
        make_chain_table(chain, replace(VOLTS, supply_v=12.0), from_c=0.0, to_c=100.0)
    with pytest.raises(TableError, match="no group"):
        make_chain_table(chain, OHMS, from_c=0.0, to_c=100.0, leave_out=("weather",))
    with pytest.raises(TableError, match="beyond"):
        make_chain_table(chain, OHMS, from_c=0.0, to_c=190.0)
    held = thermistor_chain(converter=Converter(high_v=3.3))
    with pytest.raises(TableError, match="held at its limit"):
        make_chain_table(held, OHMS, from_c=-20.0, to_c=100.0)
    lifted = thermistor_chain(
        sensor=Thermistor(curve=J_SH, low=-45.0, high=180.0), ground=Ground(returns="case", constant_v=-0.5)
    )
    with pytest.raises(TableError, match="ground or supply"):
        make_chain_table(lifted, OHMS, from_c=0.0, to_c=120.0)
    with pytest.raises(TableError, match="no ohms"):
        ChannelCurve(chain=pressure_chain())
    with pytest.raises(TableError, match="no ratio"):
        ChannelRatio(chain=chain)
