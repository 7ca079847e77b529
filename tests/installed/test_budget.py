"""The budget: its sums, its order, and Monte Carlo beside it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sensorcal.errors import InputError
from sensorcal.installed.budget import budget, budget_figure
from sensorcal.installed.budgetmc import drawn_budget
from sensorcal.installed.chain import shown, value_at
from sensorcal.installed.chainparts import Converter, Display, Divider, Ground, RatioSensor, Thermistor, Wiring
from sensorcal.installed.conversion import TableConversion
from sensorcal.installed.elements import elements_of, shape_of, u_of_element, values_of
from sensorcal.installed.selfheat import two_current_heating
from sensorcal.measure.inputs import Input
from sensorcal.measure.montecarlo import monte_carlo
from tests.installed.chains import J_SH, line, pressure_chain, thermistor_chain

AT = np.array([0.0, 60.0, 90.0, 120.0, 130.0])
WIRED = thermistor_chain(
    sensor=Thermistor(curve=J_SH, low=-45.0, high=180.0, u_error=0.15),
    wiring=Wiring(contact_ohm=0.3, wire_20c_ohm=0.21, u_contact_ohm=0.1, u_wire_20c_ohm=0.01),
    ground=Ground(returns="case", constant_v=0.020, u_constant_v=0.005),
    divider=Divider(pull_ohm=1005.0, u_pull_ohm=2.0),
    converter=Converter(bits=10),
    display=Display(unit="degC", step=1.0),
)


def test_story_of_the_wiring():
    """If this fails, 2 x 5 m, 0.3 ohm and 20 mV do not give their sizes, or the ground is not named."""
    found = budget(WIRED, AT)
    at_120 = found.points[3]
    lines = {one.group: one for one in at_120.lines}
    assert lines["ground, constant"].error == pytest.approx(-1.84, abs=0.01)
    assert lines["contacts"].error + lines["wire"].error == pytest.approx(-0.22, abs=0.005)
    assert at_120.lines[0].group == "ground, constant"
    assert at_120.dangerous


def test_errors_add_up_to_the_total():
    """If this fails, a line is missing from the sum, or the total is not what the panel shows."""
    for point in budget(WIRED, AT).points:
        assert sum(one.error for one in point.lines) == pytest.approx(point.error, abs=1e-6)
        plain = replace(WIRED, converter=Converter(), display=Display())
        assert point.shown == pytest.approx(float(shown(plain, point.measurand)), abs=1e-9)
        weights = [one.weight for one in point.lines]
        assert weights == sorted(weights, reverse=True)


def test_uncertainty_is_the_root_of_the_squares_and_doubles():
    """If this fails, U does not follow the u of the elements."""
    once = budget(replace(WIRED, converter=Converter(), display=Display()), AT)
    twice = budget(
        replace(
            WIRED, converter=Converter(), display=Display(),
            sensor=replace(WIRED.sensor, u_error=0.30),
            wiring=replace(WIRED.wiring, u_contact_ohm=0.2, u_wire_20c_ohm=0.02),
            ground=replace(WIRED.ground, u_constant_v=0.010), divider=replace(WIRED.divider, u_pull_ohm=4.0),
        ), AT,
    )  # fmt: skip
    for one, two in zip(once.points, twice.points, strict=True):
        assert two.u == pytest.approx(2.0 * one.u, rel=1e-9)
        assert one.expanded == pytest.approx(1.96 * one.u, rel=1e-4)


def test_rounding_alone():
    """If this fails, a display of 1 degC is not u = 0.29 and a count of 0.5 degC at 120 not 0.145."""
    bare = thermistor_chain(converter=Converter(bits=10), display=Display(unit="degC", step=1.0))
    lines = {one.group: one.u for one in budget(bare, 120.0).points[0].lines}
    assert lines["display's steps"] == pytest.approx(1 / np.sqrt(12.0))
    assert lines["converter's steps"] == pytest.approx(0.503 / np.sqrt(12.0), abs=0.001)


def test_dangerous_side_follows_the_limit():
    """If this fails, an oil pressure shown too high, hiding a low one, is not called dangerous."""
    lifted = pressure_chain(ground=Ground(returns="case", constant_v=0.020))
    assert budget(lifted, 150e3, limit="low").points[0].dangerous
    assert not budget(lifted, 150e3, limit="high").points[0].dangerous
    damp = thermistor_chain(wiring=Wiring(leak_siemens=1e-5))
    assert not budget(damp, 0.0).points[0].dangerous


def test_ideal_chain_has_nothing_to_say():
    """If this fails, an ideal chain has errors of its own."""
    (point,) = budget(thermistor_chain(), 90.0).points
    assert point.lines == ()
    assert point.error == pytest.approx(0.0, abs=1e-9)
    assert point.u == 0.0


def test_the_table_is_a_line_of_its_own():
    """If this fails, the error of straight lines between rows is laid on the wiring."""
    rows = TableConversion(signal=J_SH.resistance_ohm([0.0, 50.0, 97.7, 130.0]), reading=[0.0, 50.0, 97.7, 130.0],
                           pull_ohm=1000.0)  # fmt: skip
    lines = {one.group: one.error for one in budget(thermistor_chain(conversion=rows), 75.0).points[0].lines}
    straight = 50.0 + 47.7 * (721.0 - float(J_SH.resistance_ohm(75.0))) / (721.0 - 172.1) - 75.0
    assert lines == {"table or curve": pytest.approx(straight, abs=1e-3)}


def test_figure_holds_the_same_numbers():
    """If this fails, the picture says something else than the budget."""
    found = budget(WIRED, AT)
    figure = budget_figure(found)
    assert figure.groups[0] == "ground, constant"
    np.testing.assert_allclose(figure.error.sum(axis=0), figure.total, atol=1e-6)
    np.testing.assert_allclose(np.sqrt((figure.expanded**2).sum(axis=0)), figure.expanded_total, rtol=1e-9)
    assert not figure.error.flags.writeable


def test_blank_has_no_budget():
    """If this fails, a budget is given where the monitor shows nothing."""
    rows = TableConversion(signal=[721.0, 172.1], reading=[50.0, 98.0], pull_ohm=1000.0, past_ends="blank")
    with pytest.raises(InputError, match="shows nothing"):
        budget(thermistor_chain(conversion=rows), 120.0)


def test_monte_carlo_agrees_where_the_chain_is_straight():
    """If this fails, the two methods do not share their inputs."""
    straight = replace(WIRED, converter=Converter(), display=Display())
    found = drawn_budget(straight, AT, seed=1)
    assert found.agree.all(), found.why
    np.testing.assert_allclose(found.u, found.first_order_u, rtol=0.02)
    assert found.why == (None,) * AT.size
    again = drawn_budget(straight, AT, seed=1)
    np.testing.assert_array_equal(found.u, again.u)


def test_monte_carlo_against_the_general_engine():
    """If this fails, the fast draws are not those of the engine proven on JCGM 101."""
    found = drawn_budget(WIRED, 120.0, draws=200_000, seed=3)
    elements = [e for e in elements_of(WIRED) if u_of_element(WIRED, e, np.array(120.0)) > 0]
    values = values_of(WIRED)
    inputs = [
        Input(name=e.name, value=values[e.name], u=float(u_of_element(WIRED, e, np.array(120.0))),
              shape=shape_of(WIRED, e))
        for e in elements
    ]  # fmt: skip

    def model(*trial):
        named = dict(zip((e.name for e in elements), trial, strict=True))
        return value_at(WIRED, {**values, **named}, np.array(120.0))

    slow = monte_carlo(model, inputs, draws=200_000, seed=4)
    assert found.u[0] == pytest.approx(slow.u, rel=0.01)  # 1 % is six standard errors of u
    assert found.value[0] == pytest.approx(slow.value, abs=0.01)
    assert found.high[0] - found.low[0] == pytest.approx(slow.high - slow.low, rel=0.015)


def test_disagreement_is_said_with_its_cause():
    """If this fails, a wide contact resistance, lopsided in degC, is believed to be normal."""
    wide = thermistor_chain(wiring=Wiring(contact_ohm=60.0, u_contact_ohm=20.0))
    found = drawn_budget(wide, 120.0, seed=1)
    assert not found.agree[0]
    assert found.why[0].cause == "bend"
    assert found.why[0].element == "contact_ohm"
    assert found.why[0].bend > 0.05 * found.first_order_u[0]
    flat = thermistor_chain(display=Display(unit="degC", step=1.0))
    boxed = drawn_budget(flat, 90.0, seed=1)
    assert not boxed.agree[0]
    assert boxed.why[0].cause == "shape"
    assert boxed.why[0].shapes == ("rectangular",)
    assert boxed.high[0] - boxed.low[0] == pytest.approx(0.95, abs=0.01)


def test_stated_shape_is_drawn():
    """If this fails, a tolerance given as limits is drawn as if it had tails."""
    limits = thermistor_chain(divider=Divider(u_pull_ohm=50.0 / np.sqrt(3.0)), shapes={"pull_ohm": "rectangular"})
    found = drawn_budget(limits, 90.0, seed=1)
    ends = [float(shown(thermistor_chain(divider=Divider(pull_ohm=p)), 90.0)) for p in (952.5, 1047.5)]
    assert [found.low[0], found.high[0]] == pytest.approx(ends, abs=0.01)


def test_blank_draws_are_counted():
    """If this fails, draws beyond the table are dropped without a word."""
    rows = TableConversion(signal=[721.0, 172.1], reading=[50.0, 97.7], pull_ohm=1000.0, past_ends="blank")
    edge = thermistor_chain(conversion=rows, wiring=Wiring(u_contact_ohm=5.0))
    found = drawn_budget(edge, 97.7, seed=1)
    assert found.blank[0] == pytest.approx(0.5, abs=0.01)
    assert found.why[0].cause == "blank"
    assert not found.agree[0]


def test_curve_of_uncertainty():
    """If this fails, a calibration's u(t) is used at one temperature only."""
    chain = thermistor_chain(sensor=Thermistor(curve=J_SH, low=-45.0, high=180.0, u_error=lambda t: 0.1 + 0.001 * t))
    assert [p.u for p in budget(chain, [0.0, 100.0]).points] == pytest.approx([0.1, 0.2], rel=1e-9)
    np.testing.assert_allclose(drawn_budget(chain, [0.0, 100.0]).u, [0.1, 0.2], rtol=0.01)


def test_self_heating_in_the_draws():
    """If this fails, the shortcut for many draws warms the probe otherwise than the chain does."""
    warm = thermistor_chain(
        sensor=Thermistor(curve=J_SH, low=-45.0, high=180.0, heating_k_per_w=300.0, u_heating_k_per_w=60.0)
    )
    found = drawn_budget(warm, [25.0], seed=1)
    assert found.value[0] == pytest.approx(float(shown(warm, 25.0)), abs=0.01)
    assert found.u[0] == pytest.approx(found.first_order_u[0], rel=0.02)
    rise = float(shown(warm, 25.0)) - 25.0
    assert found.u[0] == pytest.approx(0.2 * rise, rel=0.1)  # 20 % of the warming, which feeds back a little


def test_pressure_draws():
    """If this fails, transducers are left out of the Monte Carlo budget."""
    chain = pressure_chain(
        sensor=RatioSensor(curve=line(), low=-100e3, high=1.1e6, u_error=2000.0),
        ground=Ground(returns="case", u_constant_v=0.010),
    )
    found = drawn_budget(chain, [0.0, 400e3], seed=2)
    assert found.agree.all()
    np.testing.assert_allclose(found.u, np.hypot(2000.0, 1.25e6 * 0.010 / 5.0 * np.array([0.9, 0.58])), rtol=0.01)


def test_too_few_draws_are_refused():
    """If this fails, ten draws pass for a distribution."""
    with pytest.raises(InputError):
        drawn_budget(WIRED, 90.0, draws=10)


def test_two_currents_find_the_dissipation():
    """If this fails, self-heating put into readings at two currents is not found again."""
    k, medium = 250.0, 25.0

    def reading(current):
        t = medium
        for _ in range(100):
            t = medium + k * current**2 * float(J_SH.resistance_ohm(t))
        return float(J_SH.resistance_ohm(t))

    ohm = [reading(0.5e-3), reading(2e-3)]
    found = two_current_heating(J_SH, ohm, (0.5e-3, 2e-3), u_resistance_ohm=0.5)
    assert found.heating_k_per_w == pytest.approx(k, rel=1e-9)
    assert found.dissipation_w_per_k == pytest.approx(0.004, rel=1e-9)
    assert found.temperature_c == pytest.approx(medium, abs=1e-9)
    assert found.significant
    assert not two_current_heating(J_SH, ohm, (0.5e-3, 2e-3), u_resistance_ohm=200.0).significant
    with pytest.raises(InputError):
        two_current_heating(J_SH, ohm, (1e-3, 1e-3))
    with pytest.raises(InputError):
        two_current_heating(J_SH, [0.0, 1.0], (1e-3, 2e-3))
