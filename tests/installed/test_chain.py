"""The chain forward and backward: round trips over random chains, tight intervals, open ends said."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sensorcal.errors import InputError, TableError
from sensorcal.installed import inverse
from sensorcal.installed.chain import shown, trace
from sensorcal.installed.chainparts import (
    Converter,
    Display,
    Divider,
    Ground,
    RatioSensor,
    Thermistor,
    Wiring,
    wire_ohm,
)
from sensorcal.installed.conversion import CurveConversion, TableConversion, table_conversion
from sensorcal.installed.inverse import true_interval
from sensorcal.installed.monitor import MonitorInput
from sensorcal.installed.table import make_table, shown_value
from sensorcal.physics.curves import SteinhartHart
from sensorcal.physics.transducer import RatioPolynomial, RatioTable
from tests.installed.chains import J_SH, line, pressure_chain, thermistor_chain

FEW = settings(max_examples=120, deadline=None)
SLOW = settings(max_examples=60, deadline=None)
number = st.floats


def rows_of(chain, lines, reads):
    """A keyed table of the probe's own curve at whole tens, in the form asked for."""
    at = np.arange(-60.0, 201.0, 10.0)
    ohm = np.asarray(chain.sensor.curve.resistance_ohm(at))
    pull = chain.conversion.pull_ohm
    part = (pull if chain.conversion.pull_down else ohm) / (ohm + pull)
    signal = {"resistance": ohm, "voltage": 5.0 * part, "ratio": part}[reads]
    return TableConversion(
        signal=signal, reading=at, reads=reads, lines=lines, past_ends="extends", pull_ohm=pull,
        pull_down=chain.conversion.pull_down,
    )  # fmt: skip


@st.composite
def thermistor_chains(draw):
    """Any thermistor chain a builder may have, without steps."""
    curve = SteinhartHart.from_beta(draw(number(3000.0, 4200.0)), draw(number(300.0, 12_000.0)))
    if draw(st.booleans()):
        curve = J_SH
    pull = draw(number(300.0, 10_000.0))
    arrangement = draw(st.sampled_from(["pull-up", "pull-down"]))
    ratiometric = draw(st.booleans())
    chain = thermistor_chain(
        curve,
        pull,
        sensor=Thermistor(
            curve=curve, low=-30.0, high=150.0, error=draw(number(-2.0, 2.0)),
            heating_k_per_w=draw(st.sampled_from([0.0, 100.0, 300.0])),
        ),
        wiring=Wiring(
            contact_ohm=draw(number(0.0, 20.0)), wire_20c_ohm=draw(number(0.0, 1.0)),
            wire_temperature_c=draw(number(-20.0, 90.0)), leak_siemens=draw(st.sampled_from([0.0, 1e-6, 1e-5])),
            leak_to=draw(st.sampled_from(["return", "engine"])),
        ),
        ground=Ground(
            returns=draw(st.sampled_from(["own wire", "case"])), constant_v=draw(number(-0.05, 0.05)),
            strap_ohm=draw(number(0.0, 1e-3)), current_a=draw(number(-30.0, 30.0)),
        ),
    )  # fmt: skip
    chain = replace(
        chain,
        divider=Divider(
            arrangement=arrangement, pull_ohm=pull * draw(number(0.95, 1.05)), tempco_per_k=1e-4,
            monitor_temperature_c=draw(number(0.0, 60.0)),
            # Against a fixed reference a higher supply drives the end of the range into the held rail, rightly.
            supply_v=draw(number(4.8, 5.2 if ratiometric else 4.88)),
            input_siemens=draw(st.sampled_from([0.0, 1e-6])),
        ),
        converter=Converter(
            ratiometric=ratiometric, reference_v=draw(number(4.9, 5.1)), gain_ratio=draw(number(-0.002, 0.002)),
            offset_v=draw(number(-0.002, 0.002)),
        ),
        conversion=CurveConversion(
            curve=curve, low=-130.0, high=600.0, pull_ohm=pull, pull_down=arrangement == "pull-down"
        ),
    )  # fmt: skip
    if draw(st.booleans()):
        form = draw(st.sampled_from([("signal", "resistance"), ("ln signal", "resistance"), ("voltage", "resistance"),
                                     ("signal", "voltage"), ("ln signal", "ratio")]))  # fmt: skip
        chain = replace(chain, conversion=rows_of(chain, *form))
    return chain


@st.composite
def pressure_chains(draw):
    """Any transducer chain, without steps."""
    curve = draw(
        st.sampled_from(
            [
                line(), line(10e3, 250e3), RatioTable(knots_ratio=[0.1, 0.5, 0.9], coefficients_pa=[0.0, 505e3, 1e6]),
                RatioPolynomial(coefficients_pa=np.array([5e5, 5e5, 8e3]), centre=0.5, scale=0.4, low_ratio=0.1,
                                high_ratio=0.9),
            ]
        )
    )  # fmt: skip
    low, high = (float(p) for p in curve.pressure_pa([0.05, 0.95]))
    arrangement = draw(st.sampled_from(["none", "pull-up", "pull-down"]))
    return pressure_chain(
        curve,
        sensor=RatioSensor(
            curve=curve, low=low, high=high, error=draw(number(-5e3, 5e3)), output_ohm=draw(number(0.0, 200.0)),
            current_a=draw(number(0.0, 0.015)),
        ),
        conversion=CurveConversion(
            curve=curve, low=float(curve.pressure_pa(-0.15)), high=float(curve.pressure_pa(1.15))
        ),
        wiring=Wiring(
            contact_ohm=draw(number(0.0, 20.0)), feed_ohm=draw(number(0.0, 5.0)), return_ohm=draw(number(0.0, 5.0)),
            leak_siemens=draw(st.sampled_from([0.0, 1e-5])),
        ),
        ground=Ground(returns=draw(st.sampled_from(["own wire", "case"])), constant_v=draw(number(-0.05, 0.05))),
        divider=Divider(arrangement=arrangement, pull_ohm=100e3, supply_v=draw(number(4.8, 5.2)), input_siemens=1e-6),
        converter=Converter(ratiometric=draw(st.booleans()), offset_v=draw(number(-0.002, 0.002))),
    )  # fmt: skip


@FEW
@given(thermistor_chains())
def test_thermistor_forward_then_inverse(chain):
    """If this fails, a reading corrected for its wiring is not the temperature it came from (1e-9 K)."""
    at = np.linspace(-30.0, 150.0, 61)
    found = true_interval(chain, shown(chain, at))
    # A lifted ground or a low reference can drive the end of the range into the rail: then that is said.
    fraction = trace(chain, at).fraction
    railed = (fraction < 1e-6) | (fraction > 1.0 - 1e-6)
    if isinstance(chain.conversion, CurveConversion):
        railed |= (shown(chain, at) >= chain.conversion.high) | (shown(chain, at) <= chain.conversion.low)
    assert ((found.why == 0) | railed).all(), found.reasons(int(np.flatnonzero(found.why)[0]))
    plain = found.why == 0
    assert plain.mean() > 0.7
    np.testing.assert_allclose(found.low[plain], at[plain], rtol=0, atol=1e-9)
    np.testing.assert_array_equal(found.high[plain], found.low[plain])
    assert ((found.low <= at + 1e-9) & (found.high >= at - 1e-9)).all()


@FEW
@given(pressure_chains())
def test_pressure_forward_then_inverse(chain):
    """If this fails, a pressure corrected for supply and ground is not the pressure it came from (1e-9 of span)."""
    sensor = chain.sensor
    at = np.linspace(sensor.low, sensor.high, 61)
    found = true_interval(chain, shown(chain, at))
    assert not found.why.any()
    np.testing.assert_allclose(found.low, at, rtol=0, atol=1e-9 * (sensor.high - sensor.low))
    np.testing.assert_array_equal(found.low, found.high)


def _holds_and_is_tight(chain, at, tolerance):
    """The interval holds the truth; just inside both ends the panel shows the same, just outside it does not."""
    reading = shown(chain, at)
    found = true_interval(chain, reading)
    plain = ~np.isnan(reading)
    assert (found.low[plain] <= at[plain] + tolerance).all()
    assert (found.high[plain] >= at[plain] - tolerance).all()
    assert np.isnan(found.low[~plain]).all()
    assert ((found.why > 0) == ~found.closed).all()
    for end, inward in ((found.low, 1.0), (found.high, -1.0)):
        for step, same in ((4.0 * tolerance, True), (-4.0 * tolerance, False)):
            probe = end + inward * step
            inside = np.isfinite(probe) & (probe > chain.sensor.low) & (probe < chain.sensor.high) & plain
            if step > 0.0 and chain.display_step:
                # A value midway between two digits may be rounded either way; the interval includes it.
                digits = (trace(chain, np.where(inside, probe, at)).value - chain.display_zero) / chain.display_step
                inside &= np.abs(np.abs(digits - np.floor(digits)) - 0.5) > 1e-5
            again = shown(chain, probe[inside])
            assert ((np.abs(again - reading[inside]) < 1e-6) == same).all()


@SLOW
@given(
    thermistor_chains(), st.sampled_from([None, 8, 10, 12]),
    st.sampled_from([("degC", 0.0), ("degC", 1.0), ("degF", 1.0), ("degC", 0.1)]),
)  # fmt: skip
def test_thermistor_interval_holds_the_truth_and_nothing_more(chain, bits, display):
    """If this fails, the interval misses the truth, or is wider than what rounds to the reading."""
    unit, step = display
    chain = replace(
        chain, converter=replace(chain.converter, bits=bits), display=Display(unit=unit, step=step),
        conversion=replace(chain.conversion, past_ends="holds") if bits else chain.conversion,
    )  # fmt: skip
    at = np.linspace(-29.9, 149.9, 97)
    if bits or step:
        _holds_and_is_tight(chain, at, 1e-6)


@SLOW
@given(pressure_chains(), st.sampled_from([None, 10, 12]), st.sampled_from([("kPa", 1.0), ("psi", 0.5), ("kPa", 5.0)]))
def test_pressure_interval_holds_the_truth_and_nothing_more(chain, bits, display):
    """If this fails, a count of the converter or a digit of the display is propagated wrongly."""
    unit, step = display
    chain = replace(chain, converter=replace(chain.converter, bits=bits), display=Display(unit=unit, step=step))
    span = chain.sensor.high - chain.sensor.low
    _holds_and_is_tight(chain, np.linspace(chain.sensor.low, chain.sensor.high, 97)[1:-1], 1e-7 * span)


def test_width_is_at_most_one_step_propagated():
    """If this fails, steps are counted twice: a display of 1 degC with ten bits leaves at most that and one count."""
    at = np.linspace(0.0, 140.0, 500)
    for bits, step in ((10, 0.0), (None, 1.0), (10, 1.0)):
        chain = thermistor_chain(converter=Converter(bits=bits), display=Display(unit="degC", step=step))
        found = true_interval(chain, shown(chain, at))
        width = found.high - found.low
        count = 0.0
        if bits:
            # One whole count at the true value: from half a count below to half above, by the curve itself.
            y = np.asarray(J_SH.resistance_ohm(at))
            y = y / (y + 1000.0)
            edge = [J_SH.temperature_c(1000.0 * e / (1.0 - e)) for e in (y - 1.0 / 1024, y + 1.0 / 1024)]
            count = np.abs(edge[0] - edge[1]) / 2 * 1.05  # a count at the interval's far end is a little larger
        assert (width <= step + count + 1e-9).all()


def test_held_table_end_is_open():
    """If this fails, a monitor that holds its last row is believed to measure."""
    rows = TableConversion(signal=[5230.0, 721.0, 172.1], reading=[0.0, 50.0, 98.0], pull_ohm=1000.0)
    chain = thermistor_chain(conversion=rows, display=Display(unit="degC", step=1.0))
    found = true_interval(chain, shown(chain, [-20.0, 50.0, 120.0]))
    assert found.low[0] == -np.inf
    assert found.high[2] == np.inf
    assert found.closed.tolist() == [False, True, False]
    assert found.reasons(0) == ("the monitor holds the end of its table or curve",)
    assert found.reasons(1) == ()


@pytest.mark.parametrize("past", ["blank", "unknown"])
def test_blank_is_no_reading(past):
    """If this fails, a blank panel or an untried end gets a temperature."""
    rows = TableConversion(signal=[5230.0, 172.1], reading=[0.0, 98.0], pull_ohm=1000.0, past_ends=past)
    chain = thermistor_chain(conversion=rows)
    reading = shown(chain, [-20.0, 120.0])
    assert np.isnan(reading).all()
    assert true_interval(chain, reading).why.tolist() == [inverse.NOTHING_SHOWN] * 2


def test_clipped_input_is_said():
    """If this fails, a flat top from a 3.3 V input is read as a pressure."""
    chain = pressure_chain(converter=Converter(bits=12, high_v=3.3), display=Display(unit="kPa", step=1.0))
    at = np.array([500e3, 690e3, 750e3, 900e3])
    reading = shown(chain, at)
    assert reading[2] == reading[3]
    found = true_interval(chain, reading)
    assert found.high[2:].tolist() == [np.inf, np.inf]
    assert "converter" in found.reasons(2)[0]
    assert trace(chain, at).clipped.tolist() == [False, False, True, True]


def test_short_reference_saturates():
    """If this fails, a converter on a 3.3 V reference that saturates under a cold probe is not seen to."""
    chain = thermistor_chain(converter=Converter(bits=10, ratiometric=False, reference_v=3.3, nominal_reference_v=3.3))
    assert shown(chain, 60.0) == pytest.approx(60.0, abs=0.2)
    found = true_interval(chain, shown(chain, [-20.0, 0.0]))
    assert (found.low == -np.inf).all()
    assert found.reasons(0)[0].startswith("the input or its converter")


def test_display_that_hides_negatives():
    """If this fails, a sealed sensor's -8 kPa, hidden by a display that ends at zero, is taken for zero."""
    chain = pressure_chain(display=Display(unit="kPa", step=1.0, low=0.0))
    reading = shown(chain, [-7.9e3, 300e3])
    assert reading.tolist() == [0.0, 300e3]
    found = true_interval(chain, reading)
    assert found.low[0] == -np.inf
    assert found.high[0] == pytest.approx(500.0)
    assert found.reasons(0) == ("the display is at its end",)


def test_impossible_reading_is_said():
    """If this fails, a number that the monitor cannot show is explained by some temperature."""
    rows = TableConversion(signal=[5230.0, 172.1], reading=[0.0, 98.0], pull_ohm=1000.0)
    found = true_interval(thermistor_chain(conversion=rows), [150.0, -5.0])
    assert np.isnan(found.low).all()
    assert "no signal" in found.reasons(0)[0]
    coarse = thermistor_chain(converter=Converter(bits=6))
    assert "no signal" in true_interval(coarse, 63.21).reasons()[0]


def test_open_and_short_circuit():
    """If this fails, a broken wire or a short has a temperature: rails are the ends of the scale, open."""
    chain = thermistor_chain(converter=Converter(bits=10))
    rails = shown(replace(chain, wiring=Wiring(contact_ohm=1e9)), 20.0)
    assert rails < -80.0
    found = true_interval(chain, rails)
    assert found.low == -np.inf
    assert found.reasons() == ("the input or its converter is at the end of its range",)
    short = thermistor_chain(converter=Converter(bits=10))
    assert true_interval(short, short.conversion.high).high == np.inf


def test_flat_rows_belong_to_the_interval():
    """If this fails, two rows of the same reading give one temperature instead of all between them."""
    rows = TableConversion(signal=[800.0, 700.0, 600.0, 500.0], reading=[46.0, 51.0, 51.0, 60.0], pull_ohm=1000.0)
    found = true_interval(thermistor_chain(conversion=rows), 51.0)
    ends = J_SH.temperature_c([700.0, 600.0])
    assert [float(found.low), float(found.high)] == pytest.approx(ends.tolist(), abs=1e-9)


@pytest.mark.parametrize(("interpolation", "expected"), [("ln signal", 62.5), ("voltage", 63.4), ("signal", 65.0)])
def test_how_a_monitor_reads_between_rows(interpolation, expected):
    """If this fails, 485 ohm between rows at 50 and 75 degC does not tell the three ways of reading apart."""
    rows = TableConversion(signal=[721.0, 325.4], reading=[50.0, 75.0], lines=interpolation, pull_ohm=1000.0)
    assert float(rows.value(485.0 / 1485.0)) == pytest.approx(expected, abs=0.09)


@pytest.mark.parametrize("unit", ["degC", "degF"])
@pytest.mark.parametrize("interpolation", ["linear in signal", "linear in ln signal"])
@pytest.mark.parametrize("past", ["holds", "extends", "blank"])
def test_a_made_table_in_the_chain_shows_what_it_shows_alone(unit, interpolation, past):
    """If this fails, the table that was keyed and the table in the chain are two."""
    monitor = MonitorInput(
        kind="voltage", pull_up_ohm=1000.0, supply_v=5.0, signal_unit="V", signal_step=0.01, rows=8, value_unit=unit,
        interpolation=interpolation, past_ends=past,
    )  # fmt: skip
    table = make_table(J_SH, monitor, from_c=0.0, to_c=130.0)
    chain = thermistor_chain(conversion=table_conversion(table))
    at = np.linspace(-25.0, 145.0, 300)
    alone = shown_value(table, monitor.signal(J_SH.resistance_ohm(at)))
    if unit == "degF":
        alone = (alone - 32.0) / 1.8
    np.testing.assert_allclose(shown(chain, at), alone, rtol=0, atol=1e-9)


def test_nothing_is_extrapolated():
    """If this fails, a temperature beyond the curve's range is computed without a word."""
    with pytest.raises(InputError, match="beyond"):
        shown(thermistor_chain(), [20.0, 250.0])


def test_missing_stays_missing_and_shape_stays():
    """If this fails, a gap in a log becomes a number, or rows move."""
    at = np.array([[20.0, np.nan], [90.0, 120.0]])
    reading = shown(thermistor_chain(), at)
    np.testing.assert_allclose(reading, at, atol=1e-9)


def test_blocks_change_nothing():
    """If this fails, a long log is read otherwise than a short one."""
    chain = thermistor_chain(wiring=Wiring(contact_ohm=1.0), converter=Converter(bits=10))
    at = np.linspace(-30.0, 150.0, 40_001)
    reading = shown(chain, at)
    np.testing.assert_array_equal(reading[::1000], shown(chain, at[::1000]))
    np.testing.assert_array_equal(true_interval(chain, reading).low[::1000], true_interval(chain, reading[::1000]).low)


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: thermistor_chain(divider=Divider(arrangement="none")),
        lambda: thermistor_chain(divider=Divider(arrangement="pull-down")),
        lambda: thermistor_chain(shapes={"nothing": "normal"}),
        lambda: Wiring(contact_ohm=-1.0),
        lambda: Wiring(leak_to="sky"),
        lambda: Ground(returns="air"),
        lambda: Divider(pull_ohm=0.0),
        lambda: Converter(bits=1),
        lambda: Display(step=-1.0),
        lambda: wire_ohm(18, 1.0, area_m2=1e-6),
        wire_ohm,
        lambda: Thermistor(curve=J_SH, low=10.0, high=0.0),
        lambda: RatioSensor(curve=line(), low=0.0, high=1e6, output_ohm=-1.0),
    ],
)
def test_parts_that_cannot_be_are_refused(wrong):
    """If this fails, a slip in describing the wiring becomes a result."""
    with pytest.raises(InputError):
        wrong()


@pytest.mark.parametrize(
    "wrong",
    [
        {"reading": [50.0, 60.0, 55.0], "signal": [3.0, 2.0, 1.0]},
        {"reading": [50.0, 60.0], "signal": [1.0, 1.0]},
        {"reading": [50.0], "signal": [1.0]},
        {"reading": [50.0, np.nan], "signal": [1.0, 2.0]},
        {"reading": [50.0, 60.0], "signal": [2.0, 1.0], "pull_ohm": None},
        {"reading": [50.0, 60.0], "signal": [2.0, 0.0], "lines": "ln signal"},
        {"reading": [50.0, 60.0], "signal": [2.0, 1.0], "lines": "curved"},
    ],
)
def test_tables_that_cannot_be_read_backwards_are_refused(wrong):
    """If this fails, a table that stands for two truths is inverted."""
    with pytest.raises(TableError):
        TableConversion(**{"pull_ohm": 1000.0, **wrong})
