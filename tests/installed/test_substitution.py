"""The input proven without the probe: resistors and voltages, what the plan promises, and a wrong table found out."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given as given_any
from hypothesis import settings
from hypothesis import strategies as st

from sensorcal.errors import InputError
from sensorcal.installed.chain import shown as panel
from sensorcal.installed.chainparts import Converter, Divider
from sensorcal.installed.preset import curve_from_pairs
from sensorcal.installed.substitution import (
    InputDescription,
    Test,
    expected_ratio,
    fit_substitution,
    limit_effect,
)
from sensorcal.installed.substitutionplan import plan_substitution
from sensorcal.physics.curves import SteinhartHart
from sensorcal.physics.eseries import preferred_ohm
from tests.installed.chains import J_SH, thermistor_chain
from tests.probes import TABLE_C, TABLE_OHM

TEN_BITS = InputDescription()
FINE = InputDescription(step_ratio=1e-6)
FIVE = tuple(Test(resistance_ohm=ohm) for ohm in (5100.0, 2200.0, 680.0, 200.0, 100.0))
DRAWER = tuple(Test(resistance_ohm=float(ohm)) for ohm in preferred_ohm("E24", 51.0, 10e3))
DIVIDERS = tuple(Test(ratio=ratio) for ratio in (0.1, 0.25, 0.5, 0.75, 0.9))
LIMIT = {"limit_ohm": 98.2, "c_per_ohm": -0.43}
TABLES = {
    "the same probe with 100 K more Beta": (J_SH, SteinhartHart.from_beta(3660.0, 1800.0)),
    "a probe of 1980 ohm": (J_SH, SteinhartHart.from_beta(3560.0, 1980.0)),
    "a probe of 2700 ohm": (J_SH, SteinhartHart.from_beta(3560.0, 2700.0)),
    "a probe of 10 kohm": (J_SH, SteinhartHart.from_beta(3950.0, 10_000.0)),
}


class Scaled:
    """A probe's curve with all resistances a tenth higher."""

    def temperature_c(self, resistance_ohm):
        """Temperature at a resistance."""
        return J_SH.temperature_c(np.asarray(resistance_ohm) / 1.1)


def counts(ratio, bits=10):
    """As a converter rounds."""
    return np.rint(np.asarray(ratio) * 2**bits) / 2**bits


def through(keyed, mistaken, tests, given=TEN_BITS):
    """Signal that a good input with a mistaken table seems to have, when read back through the right one."""
    s = expected_ratio(given, tests)
    shown_c = mistaken.temperature_c(given.pull_up_ohm * s / (1.0 - s))
    ohm = keyed.resistance_ohm(shown_c)
    return ohm / (ohm + given.pull_up_ohm)


def test_a_good_input_stays_within_a_count():
    """If this fails, five 0.1 % resistors on a good input of ten bits are shown wrong by a count or more."""
    found = fit_substitution(TEN_BITS, FIVE, counts(expected_ratio(TEN_BITS, FIVE)))
    assert found.verdict == "the input agrees with its description"
    assert np.abs(counts(expected_ratio(TEN_BITS, FIVE)) - expected_ratio(TEN_BITS, FIVE)).max() < 1 / 1024
    assert found.significant == ()


def test_a_pull_up_one_per_cent_high_is_found():
    """If this fails, a pull-up 1.2 % high hides behind ten bits, or another part is blamed for it."""
    found = fit_substitution(TEN_BITS, FIVE, counts(expected_ratio(TEN_BITS, FIVE, pull_up=0.012)))
    assert found.significant == ("pull-up",)
    assert abs(found.estimate["pull-up"] - 0.012) < 2.0 * found.u["pull-up"]
    assert found.verdict.startswith("pull-up")
    assert "high" in found.verdict


@pytest.mark.parametrize(
    ("error", "part"), [({"pull_up": -0.03}, "pull-up"), ({"gain": 0.004}, "gain"), ({"offset": -0.004}, "offset")]
)
def test_each_part_is_told_from_the_others(error, part):
    """If this fails, a reference error is mended by a wrong pull-up, which moves cold and hot readings apart."""
    found = fit_substitution(TEN_BITS, FIVE + DIVIDERS, counts(expected_ratio(TEN_BITS, FIVE + DIVIDERS, **error)))
    assert found.significant == (part,)
    assert found.estimate[part] == pytest.approx(next(iter(error.values())), abs=2.0 * found.u[part])


@settings(max_examples=50, deadline=None)
@given_any(pull=st.floats(-0.05, 0.05), gain=st.floats(-0.02, 0.02), offset=st.floats(-0.01, 0.01))
def test_any_errors_come_back(pull, gain, offset):
    """If this fails, the fit is no inverse of the input: fine steps, next to no prior, and what was put in is lost."""
    wide = replace(FINE, u_pull_up=10.0, u_gain=10.0, u_offset_ratio=10.0)
    exact = tuple(replace(test, tolerance_ratio=0.0) for test in FIVE)
    shown = expected_ratio(wide, exact, pull_up=pull, gain=gain, offset=offset)
    found = fit_substitution(wide, exact, shown)
    got = [found.estimate[part] for part in ("pull-up", "gain", "offset")]
    assert got == pytest.approx([pull, gain, offset], abs=1e-7)


def test_off_together_where_no_part_is():
    """If this fails, an input off by 4 % is called sound because pull-up and gain share the blame."""
    coarse = tuple(replace(test, tolerance_ratio=0.01, u_shown_ratio=0.002) for test in FIVE)
    shown = expected_ratio(TEN_BITS, coarse, pull_up=0.04)
    found = fit_substitution(TEN_BITS, coarse, shown)
    assert found.significant == ()
    assert found.off
    assert "the input is off" in found.verdict
    assert not fit_substitution(TEN_BITS, coarse, expected_ratio(TEN_BITS, coarse)).off


def test_order_is_no_evidence():
    """If this fails, the verdict hangs on which resistor was plugged in first."""
    shown = counts(expected_ratio(TEN_BITS, FIVE, pull_up=0.012))
    one, other = fit_substitution(TEN_BITS, FIVE, shown), fit_substitution(TEN_BITS, FIVE[::-1], shown[::-1])
    assert one.estimate == pytest.approx(other.estimate, abs=1e-12)


@pytest.mark.slow
def test_the_stated_u_holds_the_truth():
    """If this fails, 19 times in 20 is another share: 600 inputs and drawers, whole parts drawn from their prior."""
    rng = np.random.default_rng(11)
    inside = np.zeros(3)
    n = 600
    for _ in range(n):
        true = rng.normal(0.0, [0.02, 0.02, 0.01])
        real = tuple(
            Test(resistance_ohm=t.resistance_ohm * (1 + 0.001 * rng.uniform(-1, 1)), tolerance_ratio=0.001)
            for t in FIVE
        )
        shown = counts(expected_ratio(TEN_BITS, real, pull_up=true[0], gain=true[1], offset=true[2]))
        found = fit_substitution(TEN_BITS, FIVE, shown)
        for i, part in enumerate(("pull-up", "gain", "offset")):
            inside[i] += abs(found.estimate[part] - true[i]) <= 1.96 * found.u[part]
    # 95 % of 600 within four standard errors of that share.
    assert inside / n == pytest.approx(0.95, abs=4 * np.sqrt(0.95 * 0.05 / n))


def test_a_coarse_display_widens_u():
    """If this fails, whole degrees on the panel promise what only counts can give."""
    shown = expected_ratio(TEN_BITS, FIVE, pull_up=0.012)
    fine, coarse = (
        fit_substitution(TEN_BITS, tuple(replace(test, u_shown_ratio=u) for test in FIVE), shown) for u in (0.0, 0.003)
    )
    assert coarse.u["pull-up"] > 2.0 * fine.u["pull-up"]


@pytest.mark.parametrize("error", [{"pull_up": 0.02}, {"gain": 0.01}, {"offset": 0.004}])
def test_effect_at_the_limit_by_the_chain(error):
    """If this fails, the degrees at the red line are not what the signal chain makes of the same error.

    By the chain, which is not linear: within 5 %; twice the degrees per ohm double the U.
    """
    exact = tuple(replace(test, tolerance_ratio=0.0) for test in FIVE)
    found = fit_substitution(FINE, exact, expected_ratio(FINE, exact, **error))
    ohm = float(J_SH.resistance_ohm(120.0))
    slope = (120.1 - 119.9) / float(J_SH.resistance_ohm(120.1) - J_SH.resistance_ohm(119.9))
    effect, u = limit_effect(found, FINE, limit_ohm=ohm, c_per_ohm=slope)
    parts = {
        "pull_up": {"divider": Divider(pull_ohm=1000.0 * (1 + error.get("pull_up", 0.0)))},
        "gain": {"converter": Converter(gain_ratio=error.get("gain", 0.0))},
        "offset": {"converter": Converter(offset_v=5.0 * error.get("offset", 0.0))},
    }[next(iter(error))]
    assert effect == pytest.approx(float(panel(thermistor_chain(J_SH, **parts), 120.0)) - 120.0, rel=0.05)
    assert u < 0.05
    assert limit_effect(found, FINE, limit_ohm=ohm, c_per_ohm=2.0 * slope)[1] == pytest.approx(2.0 * u)


@pytest.mark.parametrize("count", [3, 4, 5])
def test_no_other_choice_is_better(count):
    """If this fails, the plan is not the best of all choices: every one is tried here by the fit's own u."""
    from itertools import combinations

    few = DRAWER[::6] + DIVIDERS[::2]
    plan = plan_substitution(TEN_BITS, few, count=count, **LIMIT)
    prior = {"pull-up": 0.02, "gain": 0.02, "offset": 0.01}

    def size(tests):
        found = fit_substitution(TEN_BITS, tests, expected_ratio(TEN_BITS, tests))
        return sum((found.u[part] / prior[part]) ** 2 for part in prior)

    best = min(size(tests) for tests in combinations(few, count))
    assert size(plan.tests) == pytest.approx(best, rel=1e-9)


def test_exchange_comes_close_to_exhaustive():
    """If this fails, the search among many resistors is caught far from the best: within 3 % of a chain of swaps."""
    many = DRAWER + DIVIDERS
    plan = plan_substitution(TEN_BITS, many, count=5, **LIMIT)

    def size(tests):
        found = fit_substitution(TEN_BITS, tests, expected_ratio(TEN_BITS, tests))
        return (found.u["pull-up"] / 0.02) ** 2 + (found.u["gain"] / 0.02) ** 2 + (found.u["offset"] / 0.01) ** 2

    rng = np.random.default_rng(3)
    draws = min(size(tuple(many[i] for i in rng.choice(len(many), 5, replace=False))) for _ in range(1500))
    assert size(plan.tests) <= draws * 1.0 + 1e-12


def test_the_plan_says_what_the_fit_will_say():
    """If this fails, the promise on the printed plan is not the u that the readings then give."""
    plan = plan_substitution(TEN_BITS, DRAWER, count=5, **LIMIT)
    found = fit_substitution(TEN_BITS, plan.tests, plan.expected_ratio)
    assert found.u == pytest.approx(plan.u, rel=1e-9)
    assert plan.u_at_limit_c < 0.05 * plan.before_c


@pytest.mark.parametrize("name", TABLES)
def test_a_wrong_table_stands_out_as_promised(name):
    """If this fails, the plan's distance of a mistaken table is not the square root of the chi-squared it causes."""
    plan = plan_substitution(TEN_BITS, FIVE, count=5, wrong_tables={name: TABLES[name]}, **LIMIT)
    found = fit_substitution(TEN_BITS, plan.tests, through(*TABLES[name], plan.tests))
    sigma = plan.wrong_table_sigma[name]
    # The promise is a straight line in the shift: good to 10 % while the shift is small, an order of size beyond.
    assert np.sqrt(found.chi_squared) == pytest.approx(sigma, rel=0.1 if sigma < 10.0 else 0.4)


@pytest.mark.parametrize("name", [name for name in TABLES if "1980" not in name])
def test_a_wrong_table_is_named(name):
    """If this fails, the owner hunts for a bad input while another probe's table is keyed."""
    shown = counts(through(*TABLES[name], FIVE))
    found = fit_substitution(TEN_BITS, FIVE, shown, wrong_tables=TABLES)
    assert not found.fits
    assert found.table_chi_squared[name] == min(found.table_chi_squared.values())
    assert f"the table of {name}" in found.verdict
    blind = fit_substitution(TEN_BITS, FIVE, shown)
    assert "read the keyed table back" in blind.verdict


def test_no_resistor_tells_a_scale_of_the_table_from_the_pull_up():
    """If this fails, resistors alone are said to tell ohms off by a tenth from a pull-up off by as much: they cannot.

    R/(R + Rp) keeps its value when both are scaled; a voltage at the input does not see the pull-up.
    """
    table = {"ohms a tenth higher": (J_SH, Scaled())}
    resistors = plan_substitution(TEN_BITS, FIVE, count=5, wrong_tables=table, **LIMIT)
    wide = replace(TEN_BITS, u_pull_up=1.0)
    free = plan_substitution(wide, FIVE, count=5, wrong_tables=table, **LIMIT)
    both = plan_substitution(wide, FIVE + DIVIDERS, count=5, wrong_tables=table, **LIMIT)
    assert free.wrong_table_sigma["ohms a tenth higher"] < 0.2
    assert resistors.wrong_table_sigma["ohms a tenth higher"] == pytest.approx(0.1 / 0.02, rel=0.1)
    assert both.wrong_table_sigma["ohms a tenth higher"] > 20.0
    assert any(test.ratio is not None for test in both.tests)
    assert any(test.resistance_ohm is not None for test in both.tests)


def test_a_table_in_mind_changes_the_plan():
    """If this fails, the plan does not care which table might be wrong: it must stand out more than without."""
    name = "the same probe with 100 K more Beta"
    plain = plan_substitution(TEN_BITS, DRAWER, count=4, **LIMIT)
    aware = plan_substitution(TEN_BITS, DRAWER, count=4, wrong_tables={name: TABLES[name]}, **LIMIT)
    seen = plan_substitution(TEN_BITS, plain.tests, count=4, wrong_tables={name: TABLES[name]}, **LIMIT)
    assert aware.wrong_table_sigma[name] > 1.3 * seen.wrong_table_sigma[name]


def test_a_table_of_pairs_is_tried_only_where_it_reaches():
    """If this fails, a table typed as pairs is extrapolated to explain a reading."""
    pairs = curve_from_pairs(TABLE_C, np.array(TABLE_OHM) * 1.5)
    found = fit_substitution(TEN_BITS, FIVE, through(J_SH, SteinhartHart.from_beta(3560.0, 2700.0), FIVE))
    assert found.table_chi_squared == {}
    tried = fit_substitution(
        TEN_BITS, FIVE, expected_ratio(TEN_BITS, FIVE), wrong_tables={"pairs": (J_SH, pairs)}
    )
    assert "pairs" in tried.table_chi_squared
    short = curve_from_pairs(TABLE_C[4:8], TABLE_OHM[4:8])
    none = fit_substitution(TEN_BITS, FIVE, expected_ratio(TEN_BITS, FIVE), wrong_tables={"short": (J_SH, short)})
    assert none.table_chi_squared == {}


@pytest.mark.parametrize(
    ("call", "word"),
    [
        (Test, "a resistor or a voltage"),
        (lambda: Test(resistance_ohm=100.0, ratio=0.5), "a resistor or a voltage"),
        (lambda: Test(resistance_ohm=0.0), "0 ohm"),
        (lambda: Test(ratio=1.2), "cannot be shown"),
        (lambda: InputDescription(pull_up_ohm=0.0), "pull_up_ohm"),
        (lambda: plan_substitution(TEN_BITS, FIVE, count=2, **LIMIT), "three or more"),
        (lambda: plan_substitution(TEN_BITS, FIVE[:2], count=3, **LIMIT), "cannot tell"),
        (lambda: fit_substitution(TEN_BITS, FIVE, [0.5, 0.4]), "2 readings stand beside 5"),
        (lambda: fit_substitution(TEN_BITS, FIVE, [0.5, 0.4, 0.3, 0.2, np.nan]), "readings"),
    ],
)  # fmt: skip
def test_refusals(call, word):
    """If this fails, a reading without its resistor, or a plan that can decide nothing, passes."""
    with pytest.raises(InputError, match=word):
        call()
