"""The next check: information from the posterior, the choice that follows the log, and the numbers to look for."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sensorcal.firststart.cause import Cause
from sensorcal.firststart.channels import GENUINE, KINDS
from sensorcal.firststart.checkparts import Answer, Bench, Hypothesis
from sensorcal.firststart.checks import channel_measurements
from sensorcal.firststart.enginechecks import engine_measurements
from sensorcal.firststart.judge import Verdict, judge
from sensorcal.firststart.nextcheck import (
    answer_table,
    entropy_bits,
    hypotheses,
    information_bits,
    next_check_texts,
    next_checks,
)
from sensorcal.firststart.summary import W
from sensorcal.setup import UnitsOut
from sensorcal.setupfile import read_setup
from tests.book.example import calibration
from tests.firststart.starts import made_log

SETUP = read_setup(Path(__file__).parents[2] / "data" / "starts" / "setup.toml")
LOG = made_log(step_s=2.0)
BASE = judge(LOG, SETUP)
ROWS = BASE.summary.rows
CURVE = BASE.facts.curves["coolant"]


def cause(kind: str, channels: tuple[str, ...], probability: float, **more) -> Cause:
    """Give one weighed cause."""
    return Cause(
        kind=kind, channels=channels, probability=probability, weight=float(np.log(probability)),
        lines={}, rows=more.pop("rows", {}), **more,
    )  # fmt: skip


def undone(error_cold: float, error_hot: float) -> dict[str, np.ndarray]:
    """Give the coolant's row without a cause that adds so much when cold and when hot."""
    row = np.array(ROWS["coolant"])
    hot = [W[name] for name in ("end_run", "s300", "s600", "idle_warm", "boost")]
    row = row - error_cold
    row[hot] -= error_hot - error_cold
    return {"coolant": row}


def verdict_of(*causes: Cause, found: int = 1) -> Verdict:
    """Give a verdict with that posterior and its first causes as findings."""
    left = 1.0 - sum(one.probability for one in causes)
    return replace(BASE, weighed=causes, findings=causes[:found], sound=max(left, 0.0))


CONTACT = cause("contact_resistance", ("coolant",), 0.6, size=(40.0,), text="40 ohm in series", rows=undone(0.0, -6.0))
CURVES = cause("wrong_curve", ("coolant",), 0.35, size=(1.07,), text="B 1.070 times", rows=undone(0.0, -6.0))


def test_information_is_zero_where_outcomes_do_not_depend_on_the_cause():
    """A measurement that gives the same under every cause would be recommended."""
    prior = np.array([0.5, 0.3, 0.2])
    assert information_bits(prior, np.tile([0.2, 0.5, 0.3], (3, 1))) == pytest.approx(0.0, abs=1e-12)
    table, _, _ = answer_table([Answer(numbers=((0.7, 5.0, 1.0),), words={"open": 0.3})] * 3)
    assert information_bits(prior, table) == pytest.approx(0.0, abs=1e-12)


def test_information_is_the_entropy_where_the_outcome_names_the_cause():
    """A measurement that settles everything would be undervalued; and Shannon's own example of half a bit lost."""
    prior = np.array([0.5, 0.3, 0.2])
    assert information_bits(prior, np.eye(3)) == pytest.approx(entropy_bits(prior))
    # Two equal causes, told apart with 11 % error: 1 - H(0.11) = 0.5 bit.
    told = information_bits(np.array([0.5, 0.5]), np.array([[0.89, 0.11], [0.11, 0.89]]))
    assert told == pytest.approx(0.5, abs=0.001)


@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.floats(0.01, 1.0), min_size=2, max_size=5),
    st.lists(st.tuples(st.floats(-50.0, 50.0), st.floats(0.1, 5.0)), min_size=5, max_size=5),
)
def test_information_lies_between_nothing_and_everything(weights, numbers):
    """Bits would be gained from nothing, or more than there are to gain."""
    prior = np.array(weights) / np.sum(weights)
    answers = [Answer(numbers=((1.0, mean, sd),)) for mean, sd in numbers[: prior.size]]
    table, _, _ = answer_table(answers)
    assert np.allclose(table.sum(axis=1), 1.0)
    bits = information_bits(prior, table)
    assert -1e-9 <= bits <= entropy_bits(prior) + 1e-9


def test_two_gaussians_by_numerical_integration():
    """The intervals would be too coarse for the information of a number."""
    x = np.linspace(-10.0, 14.0, 200_001)
    dens = [np.exp(-0.5 * ((x - m) / s) ** 2) / (s * np.sqrt(2 * np.pi)) for m, s in ((0.0, 1.0), (2.0, 1.5))]
    prior = np.array([0.6, 0.4])
    mixed = prior[0] * dens[0] + prior[1] * dens[1]
    exact = sum(
        p * np.sum(d * np.log2(np.maximum(d, 1e-300) / mixed)) * (x[1] - x[0])
        for p, d in zip(prior, dens, strict=True)
    )
    table, _, _ = answer_table([Answer(numbers=((1.0, 0.0, 1.0),)), Answer(numbers=((1.0, 2.0, 1.5),))])
    assert information_bits(prior, table) == pytest.approx(exact, rel=0.02)


def test_posterior_adds_up_and_keeps_a_doubt():
    """Names that share a cause would be counted twice, or a sure finding leave nothing to check."""
    both = cause("wrong_curve", ("coolant",), 0.9, also=("wrong_pullup",))
    weighed = hypotheses(verdict_of(both))
    assert sum(one.probability for one in weighed) == pytest.approx(1.0)
    named = {(one.kind, one.place): one.probability for one in weighed}
    assert set(named) == {("wrong_curve", "probe"), ("wrong_curve", "table"), ("wrong_pullup", ""), ("sound", "")}
    assert named["wrong_pullup", ""] == pytest.approx(2.0 * named["wrong_curve", "probe"])
    assert hypotheses(verdict_of(cause("map_hose_off", ("map",), 1.0)))[-1].probability == pytest.approx(0.05)


@pytest.mark.parametrize(
    ("causes", "names"),
    [
        ((CONTACT, CURVES), {"loop shorted at the probe", "substitution resistor"}),
        ((cause("swapped_oil_fuel", ("oil_pressure", "fuel_pressure"), 0.9),), {"fuel pump on"}),
        ((cause("map_hose_off", ("map",), 0.9),), {"look along the hose", "hand vacuum on the hose"}),
        ((cause("ref_sag", ("oil_pressure", "fuel_pressure", "map"), 0.9, size=(0.05,), text="5 % below"),),
         {"supply at a sensor's plug"}),
        ((cause("wrong_unit", ("coolant",), 0.9, text="degF in a degC column"),), {"unit looked up"}),
        ((cause("dropouts", (), 0.9),), {"logger's connection and supply"}),
        ((cause("intermittent", ("coolant",), 0.9),), {"wiggle test"}),
        ((cause("wrong_reference_type", ("fuel_pressure",), 0.9, size=(-7.9e3,)),), {"label of the sensor"}),
    ],
    ids=["connector or curve", "plugs", "hose", "supply", "unit", "logger", "loose", "sealed"],
)  # fmt: skip
def test_the_choice_changes_with_the_log(causes, names):
    """Whatever the log shows, the same measurement would be named."""
    chosen = next_checks(verdict_of(*causes), SETUP)
    assert chosen[0].name in names
    rates = [one.bits_per_minute for one in chosen if not one.proof]
    assert rates == sorted(rates, reverse=True)
    assert len({one.name for one in chosen}) == len(chosen)


def test_effort_counts():
    """A quarter of an hour of cranking would be chosen where a look of a few minutes tells as much."""
    lift = cause("ground_offset", ("coolant",), 0.6, size=(-0.12, 0.72), text="", rows=undone(0.0, 5.0))
    by_name = {one.name: one for one in next_checks(verdict_of(lift, CURVES), SETUP, 20)}
    crank = by_name["block to monitor while cranking"]
    assert crank.bits > 0.2
    assert crank.bits_per_minute == pytest.approx(crank.bits / 15.0)


def test_numbers_to_look_for_by_the_sheet():
    """The ohms on the page would not be those of this probe: 5230 in ice, and 2820 at the day's 14 degC."""
    other = cause("wrong_curve", ("coolant",), 0.9, size=(-0.3,), text="resistance taken", rows=undone(7.0, 9.0))
    ohms = next(one for one in next_checks(verdict_of(other), SETUP, 20) if one.name == "ohms at the probe")
    assert "in crushed ice 5230 Ω ± 190" in ohms.text
    good = next(one for one in ohms.outcomes if one.expected)
    expected = float(CURVE.resistance_ohm(14.0))
    assert good.result.startswith(f"{round(expected, -1):.0f} Ω ± ")
    assert f"{good.result} at 14 °C means the probe is good" in ohms.text
    # Another probe has the ohms that the sheet gives for what is shown.
    away = next(one for one in ohms.outcomes if not one.expected)
    assert float(away.result.split(" ")[0]) == pytest.approx(float(CURVE.resistance_ohm(21.0)), rel=0.01)
    assert "the sensor itself" in away.then[0][0]


def test_a_record_makes_the_number_narrow():
    """A calibrated probe would be judged by three per cent: 5230 ± 60 in ice is what it can promise."""
    bench = Bench(setup=SETUP, facts=BASE.facts, cold_c=14.0, rows=ROWS, records={"P1": calibration(sensor="P1")})
    ohm, sd = bench.resistance("coolant", 0.0, 0.05)
    assert ohm == pytest.approx(5230.0, rel=0.01)
    assert 40.0 < 1.96 * sd < 80.0
    assert 1.96 * replace(bench, records={}).resistance("coolant", 0.0, 0.05)[1] > 150.0


def test_shorted_loop_names_the_connector():
    """Forty ohm in a connector would not be told from a wrong curve."""
    loop = next(one for one in next_checks(verdict_of(CONTACT, CURVES), SETUP, 20) if one.name.startswith("loop"))
    away = next(one for one in loop.outcomes if not one.expected)
    assert away.result.startswith("40 Ω")
    assert away.then[0] == ("coolant: contact resistance (wire or plug)", pytest.approx(1.0, abs=0.01))
    assert "means wire and contacts are good" in loop.text


@pytest.mark.parametrize("kind", GENUINE)
def test_real_trouble_is_proved_first(kind):
    """A cheap electrical check would stand before the mechanical proof of real trouble."""
    channel = {"low_oil_pressure_real": "oil_pressure", "low_fuel_pressure_real": "fuel_pressure"}.get(kind, "coolant")
    story = cause("wrong_unit", (channel,), 0.2, text="psi in a kPa column", size=(0.145,))
    chosen = next_checks(verdict_of(cause(kind, (channel,), 0.7, crossed=True), story), SETUP)
    assert chosen[0].proof
    assert kind == "overheat_real" or "gauge" in chosen[0].text or "bleed" in chosen[0].text
    if kind.startswith("low_"):
        assert chosen[0].name.startswith("mechanical gauge")
        # What a good gauge means is written, never weighed away in a probability.
        assert "it is real" in chosen[0].text
    assert all("next stop" not in one.name for one in next_checks(verdict_of(cause(kind, (channel,), 0.7)), SETUP, 30))


def test_never_on_a_running_engine():
    """A check would send somebody to a turning propeller, or open a line without a word."""
    bench = Bench(setup=SETUP, facts=BASE.facts, cold_c=14.0, rows=ROWS)
    every = frozenset(ROWS) - {"rpm", "bus", "oat"}
    found = [*channel_measurements(bench, every), *engine_measurements(bench, every)]
    assert len({one.name for one in found}) >= 20
    for one in found:
        assert any("stopped" in said or "Ignition off" in said for said in one.cautions), one.name
        assert "running engine" not in one.do
        if "crank" in one.do:
            assert any("propeller's arc" in said for said in one.cautions)
        if "fuel line" in one.do:
            assert any("fire guard" in said for said in one.cautions)
        assert one.minutes > 0.0


def test_every_answer_is_a_distribution():
    """Chances under some cause would not add up to 1, and its information be wrong."""
    bench = Bench(setup=SETUP, facts=BASE.facts, cold_c=14.0, rows=ROWS)
    every = frozenset(ROWS) - {"rpm", "bus", "oat"}
    sized = cause("ground_offset", ("coolant",), 0.5, size=(0.05, 0.2), text="degF", rows=undone(1.0, 4.0))
    for one in [*channel_measurements(bench, every), *engine_measurements(bench, every)]:
        for kind in (*KINDS, "sound"):
            for channels in ((), ("coolant",), ("map",), ("oil_pressure", "fuel_pressure")):
                for place in ("", "probe", "wire", "table"):
                    said = one.answer(
                        Hypothesis(kind=kind, channels=channels, probability=0.5, cause=sized, place=place)
                    )
                    total = sum(w for w, _, _ in said.numbers) + sum(said.words.values())
                    assert total == pytest.approx(1.0), (one.name, kind)
                    assert all(sd > 0.0 for _, _, sd in said.numbers)


def test_texts_for_the_findings():
    """A finding would get the check of another, or none although one tells something."""
    first = cause("swapped_charge", ("charge_in", "charge_out"), 0.9)
    second = cause("map_hose_off", ("map",), 0.05)
    texts = next_check_texts(verdict_of(first, second, found=2), SETUP)
    assert set(texts) == {"swapped_charge", "map_hose_off"}
    assert "another channel moves" in texts["swapped_charge"] or "another moves" in texts["swapped_charge"]
    assert "hose" in texts["map_hose_off"]


def test_reader_units():
    """A reader of Fahrenheit would get the numbers of another scale."""
    setup = replace(SETUP, units=UnitsOut(temperature="degF", pressure="psi"))
    by_name = {one.name: one for one in next_checks(verdict_of(CONTACT, CURVES), setup, 20)}
    assert "192 °F ± 3" in by_name["substitution resistor"].text  # 220 ohm is 88.6 degC on the sheet


def test_nothing_to_check():
    """A check would be named although nothing is left to find out."""
    assert next_checks(replace(BASE, weighed=(), findings=(), sound=1.0), SETUP) == ()
