"""The chain built from the setup: what is stated arrives, what is not is assumed and named, nothing else."""

from __future__ import annotations

import dataclasses
import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sensorcal.calibration.calibration import u_temperature_c
from sensorcal.calibration.thermistor import fit_thermistor
from sensorcal.declared import key_of
from sensorcal.errors import FileError, InputError, TableError
from sensorcal.installed.budget import budget
from sensorcal.installed.chain import sensitivities, shown, trace
from sensorcal.installed.chainparts import RatioSensor, Thermistor
from sensorcal.installed.channelparts import thermistor_parts, transducer_parts, wire_of
from sensorcal.installed.channelsheet import channel_sheet, usual_values
from sensorcal.installed.fromsetup import claimed_u_c, installed_channel
from sensorcal.installed.inverse import true_interval
from sensorcal.installed.keyedrows import keyed_rows
from sensorcal.installed.monitor import monitor_input
from sensorcal.installed.tabletext import table_csv
from sensorcal.installed.throughchain import make_chain_table
from sensorcal.measure.interval import coverage_factor
from sensorcal.measure.terms import term
from sensorcal.monitorsetup import MonitorSetup, PressureInput
from sensorcal.setup import Probe
from sensorcal.setupfile import setup_from_text
from sensorcal.transducer import Transducer
from sensorcal.wiring import ChannelWiring

SHEET = '[probes.P1]\nredline = "120 degC"\nsheet = [["0 degC", "5230 ohm"], ["50 degC", "721 ohm"], ["97.7 degC", "172.1 ohm"]]\n'  # noqa: E501
WIRED = """
[channels.P1]
length = "4 m"
gauge = 18
contact = "0.3 ohm"
u_contact = "0.05 ohm"
leak = "100000 ohm"
returns = "case"
ground = "0.020 V"
strap = "0.0009 ohm"
current = "-10 A"
pull_up = "1012 ohm"
[monitor]
pull_up = "1000 ohm"
supply = "5 V"
bits = 10
display_step = 0.5
"""
PRESSURE = """
[probes.O1]
measurand = "pressure"
signal = "ratio"
model = "line"
[transducers.O1]
high = "1000 kPa"
[channels.O1]
length = "3 m"
gauge = 20
returns = "own wire"
supply = "4.93 V"
supply_current = "8 mA"
[pressure_input]
signal = "counts"
counts_full = 1023
value_step = 1
"""


def fitted():
    """A calibration through three points of the invented probe, tested up to 97.7 degC."""
    return fit_thermistor(
        [0.0, 50.0, 97.7], [5230.0, 721.0, 172.1], (term("bath", 0.1, 3, common=False),), sensor="P1"
    )


def test_every_stated_value_arrives():
    """If this fails, a measured wire, ground or pull-up of the setup is not the one of the chain."""
    setup = setup_from_text(SHEET + WIRED)
    chain = installed_channel(setup, "P1").chain
    assert chain.wiring.contact_ohm == 0.3
    assert chain.wiring.u_contact_ohm == 0.05
    assert chain.wiring.leak_siemens == pytest.approx(1e-5)
    # A case ground has one length of wire in its loop.
    assert chain.wiring.wire_20c_ohm == pytest.approx(wire_of(setup.channel("P1"))[0])
    assert chain.wiring.wire_20c_ohm == pytest.approx(0.0767, abs=1e-4)
    assert chain.ground.returns == "case"
    assert chain.ground.constant_v == pytest.approx(0.020)
    assert chain.ground.strap_ohm == pytest.approx(0.9e-3)
    assert chain.ground.current_a == pytest.approx(-10.0)
    assert chain.divider.pull_ohm == 1012.0
    assert chain.conversion.pull_ohm == 1000.0
    assert chain.converter.bits == 10
    assert chain.converter.ratiometric
    assert chain.display.step == 0.5
    assert chain.sensor.heating_k_per_w == pytest.approx(100.0)
    assert "pull_ohm" not in chain.shapes


def test_what_is_assumed_is_named_and_what_is_stated_is_not():
    """If this fails, a guess passes for the builder's own statement, or the other way round."""
    bare = {one.name for one in installed_channel(setup_from_text(SHEET), "P1").assumed}
    for name in (
        "channels.P1.length", "channels.P1.gauge", "channels.P1.contact", "channels.P1.returns", "monitor.pull_up",
        "monitor.supply", "monitor.bits", "monitor.reference", "monitor.pull_up_tolerance", "monitor.display_step",
        "probes.P1.dissipation", "probes.P1.sheet_tolerance", "channels.P1.wire_temperature",
    ):  # fmt: skip
        assert name in bare, name
    stated = {one.name for one in installed_channel(setup_from_text(SHEET + WIRED), "P1").assumed}
    for name in (
        "channels.P1.length", "channels.P1.gauge", "channels.P1.contact", "channels.P1.ground", "channels.P1.strap",
        "channels.P1.current", "monitor.pull_up", "monitor.supply", "monitor.bits", "monitor.pull_up_tolerance",
        "monitor.display_step",
    ):  # fmt: skip
        assert name not in stated, name


def test_an_unknown_case_ground_is_the_largest_doubt():
    """If this fails, a case-grounded probe whose ground nobody measured looks as good as one with its own wire."""
    own = setup_from_text(SHEET + '[channels.P1]\nreturns = "own wire"\n')
    case = setup_from_text(SHEET + '[channels.P1]\nreturns = "case"\n')
    u = []
    for setup in (own, case):
        lines = {line.group: line.u for line in budget(installed_channel(setup, "P1").chain, 120.0).points[0].lines}
        u.append(lines.get("ground, constant", 0.0))
    # 20 mV are 1.84 degC at 120; as a half-width 1.06 standard, 3 % more by the slope at no lift.
    assert u[0] == 0.0
    assert u[1] == pytest.approx(1.84 / math.sqrt(3.0), abs=0.035)
    names = {one.name for one in installed_channel(case, "P1").assumed}
    assert "channels.P1.ground" in names


def test_a_setup_made_in_code_states_what_differs_from_the_usual():
    """If this fails, a ground lift given in a notebook is doubted as if nobody had measured it."""
    wired = ChannelWiring(name="P1", returns="case", ground_v=0.020)
    setup = replace(setup_from_text(SHEET), channels={"P1": wired})
    channel = installed_channel(setup, "P1")
    assert channel.chain.ground.u_constant_v == pytest.approx(0.001)
    names = {one.name for one in channel.assumed}
    assert "channels.P1.ground" not in names
    assert "channels.P1.length" in names


def test_tolerance_of_the_pull_up_is_rectangular():
    """If this fails, 1 % of the pull-up is taken for a standard uncertainty."""
    parts = thermistor_parts(setup_from_text('[monitor]\npull_up = "2200 ohm"\npull_up_tolerance = "5 %"\n'), "P1")
    assert parts.divider.u_pull_ohm == pytest.approx(2200.0 * 0.05 / math.sqrt(3.0))
    assert dict(parts.shapes) == {"pull_ohm": "rectangular", "tempco_per_k": "rectangular"}


def test_record_and_sheet_give_their_own_uncertainty():
    """If this fails, the sensor's part of the budget is not what its record, or its sheet, says."""
    setup = setup_from_text(SHEET)
    calibration = fitted()
    chain = installed_channel(setup, "P1", calibration).chain
    at = np.array([20.0, 60.0, 90.0])
    np.testing.assert_allclose(chain.sensor.u_error(at), u_temperature_c(calibration, at))
    sheet = installed_channel(setup, "P1").chain
    # 3 % of R over the slope of 2.75 %/K at 90 degC, rectangular.
    assert float(sheet.sensor.u_error(np.array(90.0))) == pytest.approx(3.0 / 2.75 / math.sqrt(3.0), rel=0.02)


def test_beyond_the_tested_points_no_less_than_the_claim():
    """If this fails, the panel's budget promises more at 120 degC than the sensor's own page."""
    calibration = fitted()
    k = coverage_factor(calibration.dof_effective)
    at = np.array([97.7, 120.0])
    inside, hot = claimed_u_c(calibration, at)
    assert inside == pytest.approx(float(u_temperature_c(calibration, 97.7)))
    assert k * hot == pytest.approx(max(1.5, k * float(u_temperature_c(calibration, 120.0))))
    agreed = claimed_u_c(calibration, at, shape_confirmed=True)[1]
    assert k * agreed == pytest.approx(max(1.0, k * float(u_temperature_c(calibration, 120.0))))
    sheet = channel_sheet(installed_channel(setup_from_text(SHEET), "P1", calibration), [60.0, 120.0])
    assert sheet.extrapolated == (False, True)


def test_pressure_channel():
    """If this fails, supply, wires or counts of a transducer are not those of the setup."""
    setup = setup_from_text(PRESSURE)
    channel = installed_channel(setup, "O1")
    chain = channel.chain
    assert isinstance(chain.sensor, RatioSensor)
    assert chain.converter.bits == 10
    assert chain.divider.supply_v == 4.93
    assert chain.conversion.supply_v == 5.0
    assert chain.sensor.current_a == pytest.approx(0.008)
    warm = wire_of(setup.channel("O1"))[0] * (1 + 0.00393 * 20.0)
    assert chain.wiring.feed_ohm == pytest.approx(warm)
    assert chain.wiring.return_ohm == pytest.approx(warm)
    assert channel.limit == "low"
    # One wire of 0.1 ohm at 8 mA under a ratio read against the supply: d (1 - r) for the ground, -d r for the feed.
    drop = 0.008 * warm / 4.93
    found = budget(chain, [0.0], limit="low").points[0].error
    assert found == pytest.approx((drop * (1 - 0.1) - drop * 0.1) * 1e6 / 0.8, rel=1e-3)
    names = {one.name for one in channel.assumed}
    assert "channels.O1.supply" not in names
    assert "monitor.bits" not in names
    assert {"monitor.reference", "transducers.O1.hysteresis"} <= names


def test_limits_of_the_engine_are_those_of_the_role():
    """If this fails, the budget is given at another value than the one at which the engine is in danger."""
    limits = '[limits.oil_pressure]\nlow = "150 kPa"\nhigh = "500 kPa"\n[limits.coolant]\nhigh = "115 degC"\n'
    oil = setup_from_text(PRESSURE.replace('model = "line"', 'model = "line"\nrole = "oil pressure"') + limits)
    channel = installed_channel(oil, "O1")
    assert channel.redline == pytest.approx(150e3)
    sheet = channel_sheet(channel)
    assert sheet.at_limit
    assert sheet.point.measurand == pytest.approx(150e3)
    coolant = SHEET.replace('redline = "120 degC"', 'role = "coolant"')
    assert installed_channel(setup_from_text(coolant + limits), "P1").redline == pytest.approx(115.0)
    stated = SHEET.replace("[probes.P1]", '[probes.P1]\nrole = "coolant"')
    assert installed_channel(setup_from_text(stated + limits), "P1").redline == pytest.approx(120.0)
    assert installed_channel(setup_from_text(coolant), "P1").redline is None


def test_case_grounded_transducer_has_no_return_wire():
    """If this fails, a transducer grounded on the block drops its supply current in a wire that is not there."""
    setup = setup_from_text(PRESSURE.replace('returns = "own wire"', 'returns = "case"'))
    parts = transducer_parts(setup, "O1")
    assert parts.wiring.return_ohm == 0.0
    assert parts.ground.u_constant_v == pytest.approx(0.020 / math.sqrt(3.0))


def test_keyed_rows_become_the_conversion():
    """If this fails, what stands in the monitor is not what the chain shows."""
    text = b"# record\nrow,signal [ohm],value [degF],remark\n1,98,248,fixed\n2,721,122,\n3,5230,32,\n"
    setup = setup_from_text(SHEET + '[monitor]\npast_ends = "holds"\npull_up = "1000 ohm"\n')
    channel = installed_channel(setup, "P1", keyed=keyed_rows(text, "t.csv"))
    chain = channel.chain
    assert chain.conversion.reading.tolist() == pytest.approx([120.0, 50.0, 0.0])
    assert float(chain.conversion.value(721.0 / 1721.0)) == pytest.approx(50.0)
    assert "3 rows" in channel.monitor
    with pytest.raises(TableError, match="a pressure"):
        installed_channel(setup, "P1", keyed=keyed_rows(b"signal [V],value [kPa]\n1,100\n2,200\n"))
    with pytest.raises(TableError, match="hold a voltage"):
        installed_channel(setup, "P1", keyed=keyed_rows(b"signal [V],value [degC]\n1,100\n2,50\n"))


def test_keyed_rows_of_a_pressure():
    """If this fails, counts or volts of a keyed pressure table are taken for ratios."""
    setup = setup_from_text(PRESSURE)
    rows = keyed_rows(b"row;signal [counts];value [kPa]\n1;102,3;0\n2;920,7;1000\n")
    chain = installed_channel(setup, "O1", keyed=rows).chain
    assert float(chain.conversion.value(np.array(0.5))) == pytest.approx(500e3, abs=10.0)
    volts = setup_from_text(PRESSURE.replace('signal = "counts"', 'signal = "voltage"\nform = "two constants"'))
    constants = keyed_rows(b"constant,signal [V],value [bar]\nzero,0.5,0\nspan,4.5,10\n")
    two = installed_channel(volts, "O1", keyed=constants)
    assert float(two.chain.conversion.value(np.array(0.05))) == pytest.approx(-62.5e3)
    with pytest.raises(TableError, match="takes voltage"):
        installed_channel(volts, "O1", keyed=rows)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (b"row,ohm,degC\n1,2,3\n", "no column 'signal'"),
        (b"signal [ohm],value\n1,2\n3,4\n", "has no unit"),
        (b"signal [ohm],value [degC]\n1,2\n", "two rows"),
        (b"signal [ohm],value [degC]\n1,2\n3,x\n", "row 3"),
        (b"signal [ohm],value [degC]\n1,2\n3 k,4\n", "bare number"),
        (b"signal [stones],value [degC]\n1,2\n3,4\n", "not a unit"),
    ],
)
def test_keyed_rows_that_cannot_be_read(text, words):
    """If this fails, a table with a slip in it is taken as keyed, or the message does not say where it is."""
    with pytest.raises(FileError, match=words):
        keyed_rows(text, "table.csv")


def test_neither_record_nor_sheet():
    """If this fails, a chain is made of a probe of which nothing is known."""
    with pytest.raises(InputError, match="neither a record nor"):
        installed_channel(setup_from_text('[channels.P1]\nlength = "4 m"\n'), "P1")
    with pytest.raises(InputError, match="not in the setup"):
        installed_channel(setup_from_text(SHEET), "P9")
    with pytest.raises(InputError, match="no aircraft wire of 19"):
        installed_channel(setup_from_text(SHEET + "[channels.P1]\ngauge = 19\n"), "P1")
    probe_only = setup_from_text('[probes.O1]\nmeasurand = "pressure"\n')
    with pytest.raises(InputError, match="data sheet"):
        installed_channel(probe_only, "O1")


def test_sheet_of_a_channel_holds_together():
    """If this fails, panel, budget, Monte Carlo and the way back are of different chains."""
    channel = installed_channel(setup_from_text(SHEET + WIRED), "P1", fitted())
    assert isinstance(channel.chain.sensor, Thermistor)
    assert usual_values(channel) == (0.0, 60.0, 90.0, 120.0)
    sheet = channel_sheet(channel, shown_values=[97.0, 118.0])
    assert sheet.at_limit
    assert sheet.point.measurand == 120.0
    assert sheet.point.lines[0].group == "ground, constant"
    for point, displayed in zip(sheet.budget.points, sheet.displayed, strict=True):
        # Display 0.5 and one count of ten bits (half of each) part the number on the panel from the exact one.
        assert abs(displayed - point.shown) <= 0.25 + 0.6 * 0.55
        assert displayed == pytest.approx(float(shown(channel.chain, point.measurand)))
    np.testing.assert_allclose(sheet.drawn.first_order_u, [point.u for point in sheet.budget.points], rtol=1e-9)
    for read in sheet.reads:
        assert read.low < read.true < read.high
        # What the channel adds at the truth leads back to the reading, within the steps.
        added = budget(channel.chain, read.true).points[0].error
        assert read.true + added == pytest.approx(read.shown, abs=0.5 * (read.high - read.low))
    assert sheet.over_range.measurand[0] == channel.low
    low = channel_sheet(channel, [60.0, 90.0])
    assert low.point.measurand == 90.0
    assert not low.at_limit


@st.composite
def setups(draw):
    """Any wiring and monitor that a setup may hold."""
    wired = {
        "length_m": draw(st.sampled_from([0.0, 1.0, 5.0, 30.0])),
        "gauge": draw(st.sampled_from([0, 16, 18, 24])),
        "wire": draw(st.sampled_from(["aircraft", "solid"])),
        "contact_ohm": draw(st.floats(0.0, 50.0)),
        "u_contact_ohm": draw(st.floats(0.0, 10.0)),
        "leak_ohm": draw(st.sampled_from([None, 1e4, 1e6])),
        "returns": draw(st.sampled_from(["own wire", "case"])),
        "ground_v": draw(st.floats(-0.15, 0.15)),
        "strap_ohm": draw(st.sampled_from([None, 0.0, 1e-3])),
        "current_a": draw(st.sampled_from([0.0, -30.0, 200.0])),
        "supply_v": draw(st.sampled_from([None, 4.7, 5.1])),
        "supply_current_a": draw(st.sampled_from([0.0, 0.01])),
        "pull_up_ohm": draw(st.sampled_from([None, 990.0, 2200.0])),
    }
    monitor = MonitorSetup(
        pull_up_ohm=draw(st.sampled_from([None, 1000.0, 2200.0])),
        supply_v=draw(st.sampled_from([None, 5.0])),
        bits=draw(st.sampled_from([0, 8, 10, 16])),
        reference_v=draw(st.sampled_from([None, 5.0, 3.3])),
        display_step=draw(st.sampled_from([None, 0.0, 0.1, 1.0])),
        value_unit=draw(st.sampled_from(["degC", "degF"])),
    )
    pressure = PressureInput(
        signal=draw(st.sampled_from(["ratio", "voltage", "counts"])), value_unit=draw(st.sampled_from(["kPa", "psi"]))
    )
    return replace(
        setup_from_text(SHEET),
        channels={tag: ChannelWiring(name=tag, **wired) for tag in ("P1", "O1")},
        transducers={"O1": Transducer(name="O1", kind=draw(st.sampled_from(["gauge", "absolute", "sealed"])))},
        monitor=monitor,
        pressure_input=pressure,
    )


@settings(max_examples=20, deadline=None)
@given(setups())
def test_any_setup_gives_a_budget_that_adds_up_and_leads_back(setup):
    """If this fails, some wiring a builder may well have makes a command fail, or its numbers not fit each other."""
    for tag in ("P1", "O1"):
        channel = installed_channel(setup, tag)
        sheet = channel_sheet(channel, draws=1000)
        scale = channel.high - channel.low
        for point in sheet.budget.points:
            assert sum(line.error for line in point.lines) == pytest.approx(point.error, abs=1e-7 * scale)
            assert math.hypot(*(line.u for line in point.lines)) == pytest.approx(point.u, rel=1e-9)
        found = true_interval(channel.chain, sheet.displayed)
        true = np.array([point.measurand for point in sheet.budget.points])
        assert ((found.low <= true + 1e-6 * scale) & (found.high >= true - 1e-6 * scale)).all()
        assert all((found.why[k] == 0) == found.closed[k] for k in range(true.size))


def test_every_assumption_can_be_stated():
    """If this fails, a page names a value that was taken for granted, and no setup file can correct it."""
    wired = SHEET + WIRED.replace('pull_up = "1012 ohm"', "") + PRESSURE
    parts = {
        "channels": ChannelWiring, "probes": Probe, "transducers": Transducer, "monitor": MonitorSetup,
        "pressure_input": PressureInput,
    }  # fmt: skip
    seen = set()
    for text in (SHEET, wired, SHEET + WIRED, "[transducers.O1]\n"):
        setup = setup_from_text(text)
        for tag in [*setup.probes, *setup.transducers]:
            for one in installed_channel(setup, tag).assumed:
                room, _, key = one.name.rpartition(".")
                fields = {key_of(entry.name) for entry in dataclasses.fields(parts[room.split(".")[0]])}
                assert key in fields, one.name
                seen.add(key)
    assert {"u_ground", "u_strap", "u_current", "u_leak", "u_pull_up", "line", "input_resistance"} <= seen


@pytest.mark.parametrize(
    ("stated", "group", "u"),
    [
        ('u_ground = "3 mV"', "ground, constant", 3e-3),
        ('u_strap = "0.3 milliohm"', "ground, by current", 3e-3),
        ('u_current = "5 A"', "ground, by current", 4.5e-3),
    ],
)
def test_the_doubt_of_a_ground_is_the_stated_one(stated, group, u):
    """If this fails, a ground test's own uncertainty is replaced by the tool's 10 %, or counted in other units."""
    # WIRED: 20 mV, 0.9 milliohm, -10 A; every other doubt of the ground is stated as none.
    sure = [f'{key} = "{none}"' for key, none in (("u_ground", "0 V"), ("u_strap", "0 ohm"), ("u_current", "0 A"))]
    lines = "\n".join([*(one for one in sure if one.split(" ")[0] != stated.split(" ")[0]), stated])
    chain = installed_channel(setup_from_text(SHEET + WIRED.replace("[monitor]", f"{lines}\n[monitor]")), "P1").chain
    slope = abs(float(sensitivities(chain, 120.0)["ground_v"]))
    assert slope == pytest.approx(92.0, rel=0.1)
    found = {line.group: line.u for line in budget(chain, 120.0).points[0].lines}
    assert found[group] == pytest.approx(slope * u, rel=1e-6)


def test_a_pull_down_input_of_the_setup(tmp_path):
    """If this fails, a sensor between supply and input is read as if it sat between input and ground."""
    down = SHEET + '[channels.P1]\ncontact = "10 ohm"\nlength = "0 m"\n[monitor]\narrangement = "pull-down"\n'
    down += 'input = "voltage"\npull_up = "1000 ohm"\nsupply = "5 V"\nsignal_unit = "V"\nsignal_step = 0.001\n'
    setup = setup_from_text(down)
    channel = installed_channel(setup, "P1")
    volts = float(trace(channel.chain, 90.0).input_v)
    ohm = float(channel.chain.sensor.raw(90.0 + 0.0)) + 10.0
    # By hand, but for self-heating of some tenths of a degree: 5 V over the probe, its contacts and 1000 ohm.
    assert volts == pytest.approx(5.0 * 1000.0 / (1000.0 + ohm), abs=0.01)
    # Ten ohms more in the loop read cold, as with a pull-up.
    line = {one.group: one.error for one in budget(channel.chain, 90.0).points[0].lines}
    assert line["contacts"] == pytest.approx(-10.0 * 0.172, rel=0.03)
    monitor = monitor_input(setup.monitor)
    made = make_chain_table(channel.chain, monitor, from_c=0.0, to_c=120.0, rows=16)
    assert made.table.value[0] < made.table.value[-1]  # volts rise with temperature
    path = tmp_path / "rows.csv"
    path.write_text(table_csv(made.table), encoding="utf-8")
    keyed = installed_channel(setup, "P1", keyed=keyed_rows(path.read_bytes(), "rows.csv"))
    at = np.array([20.0, 60.0, 90.0, 115.0])
    assert np.abs(shown(keyed.chain, at) - at).max() <= 1.0 + abs(made.worst_error)
    with pytest.raises(InputError, match="grounded on the engine"):
        installed_channel(setup_from_text(down.replace("[monitor]", 'returns = "case"\n[monitor]')), "P1")


def test_a_sheet_is_extrapolated_beyond_its_ends():
    """If this fails, a sheet of three rows up to 98 degC speaks of 120 degC without the word extrapolated."""
    channel = installed_channel(setup_from_text(SHEET), "P1")
    assert channel.tested is None
    assert channel.supported == (0.0, 97.7)
    assert channel.beyond(np.array([-5.0, 50.0, 120.0])).tolist() == [True, False, True]


def test_drift_of_the_pull_up_with_the_monitors_warmth():
    """If this fails, a monitor behind a hot panel has the pull-up of a cool bench: 100 ppm/K over 10 K is 0.1 %."""
    warm = setup_from_text(SHEET + '[monitor]\npull_up_tempco = "100 ppm/K"\ntemperature = "65 degC"\n')
    chain = installed_channel(warm, "P1").chain
    assert chain.divider.u_tempco_per_k == pytest.approx(1e-4 / math.sqrt(3.0))
    (point,) = budget(chain, 100.0).points
    by = next(line for line in point.lines if line.group == "pull resistor").by_element
    # 40 K of 58 ppm/K are 0.23 % of the pull-up; its own 1 % is 0.58 %.
    assert abs(by["tempco_per_k"] / by["pull_ohm"]) == pytest.approx(40e-4 / 1e-2, rel=1e-6)
