"""Cooler and compressor with U: the story's figures, what two calibrations share, an independent library."""

from __future__ import annotations

import GTC
import numpy as np
import pytest

from sensorcal.calibration.calibration import shared_shift_c, u_difference_c, u_temperature_c
from sensorcal.calibration.chargeair import charge_density, compressor_efficiency, expected_compressor_outlet
from sensorcal.calibration.cooler import (
    DUCT_CAUTION,
    OUTSIDE_CAUTION,
    cooler_loss,
    effectiveness,
    effectiveness_from_calibrations,
    effectiveness_shown_in_duct,
    pair_matched,
)
from sensorcal.calibration.thermistor import fit_thermistor
from sensorcal.errors import InputError
from sensorcal.measure.terms import term
from tests.probes import j_sh

STORY = {"in_c": 95.0, "out_c": 48.0, "ambient_c": 22.0}


@pytest.mark.parametrize(
    ("u_pair_c", "u_ambient_c", "common", "expanded"),
    [
        (2.0, 1.0, 0.0, 0.061),
        (1.0, 1.0, 0.0, 0.034),
        (1.0, 1.0, 0.95, 0.0255),
        (0.5, 1.0, 0.0, 0.023),
        (0.2, 0.5, 0.0, 0.0106),
    ],
)
def test_the_scenario_list(u_pair_c, u_ambient_c, common, expanded):
    """The list 0.06, 0.034, 0.025, 0.023, 0.011 (k = 2; cooling air 1 °C in the first four) would not come out."""
    found = effectiveness(**STORY, u_in_c=u_pair_c, u_out_c=u_pair_c, u_ambient_c=u_ambient_c, in_out=common)
    assert found.value == pytest.approx(0.644, abs=0.0005)
    assert found.expanded(2.0) == pytest.approx(expanded, abs=0.0003)
    assert DUCT_CAUTION in found.cautions


def test_all_three_shared_is_no_error_at_all():
    """An error common to all three probes would be counted, though the ratio does not see it."""
    all_one = {"in_out": 1.0, "in_ambient": 1.0, "out_ambient": 1.0}
    assert effectiveness(**STORY, u_in_c=1.0, u_out_c=1.0, u_ambient_c=1.0, **all_one).u == pytest.approx(0.0, abs=1e-9)


def test_doubling_every_u_doubles_it():
    """The uncertainty of the effectiveness would not follow its inputs'."""
    one = effectiveness(**STORY, u_in_c=0.3, u_out_c=0.2, u_ambient_c=0.5, in_out=0.7)
    two = effectiveness(**STORY, u_in_c=0.6, u_out_c=0.4, u_ambient_c=1.0, in_out=0.7)
    assert two.u == pytest.approx(2.0 * one.u, rel=1e-12)


def a_probe(name, *, seed, u_bath_c=0.3, inflated=False):
    """A probe J-SH of one invented evening: a reference error shared by all probes, and each point's own."""
    t = np.array([0.0, 25.0, 50.0, 75.0, 97.7])
    rng = np.random.default_rng(seed)
    scatter_c = (10.0 if inflated else 1.0) * 0.05 * rng.standard_normal(5)
    terms = (
        term("reference:T1", np.array([0.0, 1.0, 1.0, 1.0, 0.2]) * u_bath_c, 5, common=True),
        term(f"point:{name}", 0.05, 5, common=False),
    )
    return fit_thermistor(t, j_sh().resistance_ohm(t + scatter_c), terms, sensor=name, prior=None)


def test_two_calibrations_of_one_bath():
    """What two probes of one evening share would be counted twice, or an unshared error cancelled."""
    inlet, outlet, air = (a_probe(name, seed=i) for i, name in enumerate(("P3", "P4", "P1")))
    shared = effectiveness_from_calibrations(inlet=inlet, outlet=outlet, **STORY, u_ambient_c=0.5)
    apart = effectiveness(
        **STORY,
        u_in_c=float(u_temperature_c(inlet, 95.0)),
        u_out_c=float(u_temperature_c(outlet, 48.0)),
        u_ambient_c=0.5,
    )
    assert 0.0 < shared.u < apart.u
    assert [pair[:2] for pair in shared.correlations] == [("in", "out")]
    # with the cooling air's probe from the same evening most of it cancels
    all_three = effectiveness_from_calibrations(inlet=inlet, outlet=outlet, ambient=air, **STORY)
    assert all_three.u < shared.u
    read = effectiveness_from_calibrations(inlet=inlet, outlet=outlet, ambient=air, **STORY, u_reading_c=0.5)
    assert read.u > all_three.u


def test_against_simulated_evenings():
    """Over 4000 simulated evenings the effectiveness would scatter otherwise than its stated u."""
    rng = np.random.default_rng(20_260_616)
    inlet, outlet, air = (a_probe(name, seed=i) for i, name in enumerate(("P3", "P4", "P1")))
    stated = effectiveness_from_calibrations(inlet=inlet, outlet=outlet, ambient=air, **STORY).u
    draws = 4_000
    common = rng.standard_normal(draws)
    found = {}
    for probe, at_c in ((inlet, 95.0), (outlet, 48.0), (air, 22.0)):
        # the curve's error at this temperature: what it shares, and the rest of its covariance
        shift = float(shared_shift_c(probe, at_c)["reference:T1"])
        rest = np.sqrt(float(u_temperature_c(probe, at_c)) ** 2 - shift**2)
        found[probe.sensor] = at_c + shift * common + rest * rng.standard_normal(draws)
    ratio = (found["P3"] - found["P4"]) / (found["P3"] - found["P1"])
    assert float(np.std(ratio)) == pytest.approx(stated, rel=0.05)  # 4 standard errors of 4000 draws


def test_enlarged_calibrations_agree_with_their_difference():
    """Two probes enlarged differently by their own scatter would share more error than either has."""
    calm, wild = a_probe("P3", seed=1), a_probe("P4", seed=2, inflated=True)
    assert wild.inflation > calm.inflation == 1.0
    found = effectiveness_from_calibrations(
        inlet=calm, outlet=wild, in_c=60.0, out_c=60.0, ambient_c=20.0, u_ambient_c=0.0
    )
    # with in = out the effectiveness is minus the difference over 40 K, and its slope to the air is zero
    assert found.u * 40.0 == pytest.approx(float(u_difference_c(calm, wild, 60.0)), rel=1e-9)


def test_extrapolated_probes_say_so():
    """A charge of 130 °C, beyond the bench's hottest point, would be reported without the word."""
    inlet, outlet = a_probe("P3", seed=1), a_probe("P4", seed=2)
    hot = effectiveness_from_calibrations(
        inlet=inlet, outlet=outlet, in_c=130.0, out_c=60.0, ambient_c=20.0, u_ambient_c=0.5
    )
    assert any("P3 is extrapolated at 130 °C" in caution for caution in hot.cautions)
    assert not any("P4" in caution for caution in hot.cautions)


def test_exchanged_probes_are_questioned():
    """A ratio outside 0 to 1 would be reported as a cooler's."""
    odd = effectiveness(in_c=60.0, out_c=75.0, ambient_c=20.0, u_in_c=0.2, u_out_c=0.2, u_ambient_c=0.5)
    assert odd.cautions[0] == OUTSIDE_CAUTION


def test_the_duct_under_reads():
    """The size of what the bench cannot see would not be the scenario's: 2 to 3 °C at 35 K, effectiveness lower."""
    shown = effectiveness_shown_in_duct(**STORY, wall_c=60.0, pull_ratio=0.07)
    assert 0.60 < shown < 0.644
    assert effectiveness_shown_in_duct(**STORY, wall_c=60.0, pull_ratio=0.4) < shown


def test_matched_pair_of_the_story():
    """Differences of 0.05, 0.21 and 0.18 with u 0.2 would not be called matched, or one of 0.5 would."""
    assert pair_matched((0.05, 0.21, 0.18), (0.2, 0.2, 0.2))[0]
    matched, text = pair_matched((0.05, 0.5), (0.2, 0.2))
    assert not matched
    assert text == "not matched: 0.50 °C, beyond ± 0.39"


def test_compressor_efficiency_against_gtc():
    """The efficiency's u with correlated temperatures and pressures would differ from GTC's."""
    x = [
        GTC.ureal(value, u, independent=False)
        for value, u in ((15.0, 0.5), (65.0, 1.0), (93_470.0, 100.0), (140_000.0, 650.0))
    ]
    GTC.set_correlation(0.8, x[0], x[1])
    GTC.set_correlation(0.4, x[2], x[3])
    eta = (x[0] + 273.15) * ((x[3] / x[2]) ** (0.4 / 1.4) - 1.0) / (x[1] - x[0])
    given = {"u_inlet_c": 0.5, "u_outlet_c": 1.0, "u_inlet_pa": 100.0, "u_outlet_pa": 650.0}
    at = {"inlet_c": 15.0, "outlet_c": 65.0, "inlet_pa": 93_470.0, "outlet_pa": 140_000.0}
    ours = compressor_efficiency(**at, **given, temperatures=0.8, pressures=0.4)
    assert ours.value == pytest.approx(GTC.value(eta), rel=1e-12)
    assert ours.u == pytest.approx(GTC.uncertainty(eta), rel=1e-9)
    assert compressor_efficiency(**at | {"outlet_c": 30.0}, **given).value > 1.0
    assert any("questioned" in c for c in compressor_efficiency(**at | {"outlet_c": 30.0}, **given).cautions)


def test_outlet_density_and_loss_against_gtc():
    """Outlet temperature, charge density or pressure loss would carry another u than GTC gives."""
    t1, p1, p2, eta = (GTC.ureal(v, u) for v, u in ((15.0, 0.5), (93_470.0, 100.0), (140_000.0, 650.0), (0.65, 0.03)))
    outlet = (t1 + 273.15) * (1.0 + ((p2 / p1) ** (0.4 / 1.4) - 1.0) / eta) - 273.15
    ours = expected_compressor_outlet(
        inlet_c=15.0, inlet_pa=93_470.0, outlet_pa=140_000.0, efficiency_ratio=0.65,
        u_inlet_c=0.5, u_inlet_pa=100.0, u_outlet_pa=650.0, u_efficiency_ratio=0.03,
    )  # fmt: skip
    assert (ours.value, ours.u) == pytest.approx((GTC.value(outlet), GTC.uncertainty(outlet)), rel=1e-9)
    charge = GTC.ureal(45.0, 0.5)
    rho = p2 / (287.05287 * (charge + 273.15))
    density = charge_density(map_pa=140_000.0, charge_c=45.0, u_map_pa=650.0, u_charge_c=0.5)
    assert (density.value, density.u) == pytest.approx((GTC.value(rho), GTC.uncertainty(rho)), rel=1e-9)
    loss = cooler_loss(before_pa=146e3, after_pa=140e3, u_before_pa=600.0, u_after_pa=600.0, correlation=1.0)
    assert (loss.value, loss.u) == (6_000.0, pytest.approx(0.0, abs=1e-9))
    apart = cooler_loss(before_pa=139e3, after_pa=140e3, u_before_pa=300.0, u_after_pa=400.0)
    assert (apart.value, apart.u) == (-1_000.0, pytest.approx(500.0))
    assert apart.cautions == ("The two ports may be exchanged.",)


@pytest.mark.parametrize(
    ("call", "told"),
    [
        (lambda: effectiveness(**STORY, u_in_c=-1.0, u_out_c=1.0, u_ambient_c=1.0), "standard uncertainty -1"),
        (lambda: effectiveness(**STORY, u_in_c=1.0, u_out_c=1.0, u_ambient_c=1.0, in_out=95.0), "correlation 95"),
        (
            lambda: effectiveness_from_calibrations(inlet=a_probe("P3", seed=1), outlet=a_probe("P4", seed=2), **STORY),
            "the cooling air needs one uncertainty",
        ),
        (lambda: pair_matched((0.1,), ()), "do not pair up"),
        (lambda: pair_matched((0.1,), (0.0,)), "u_difference_c has a value"),
    ],
)
def test_refusals_name_the_field(call, told):
    """Per cent for a correlation or a missing uncertainty would be computed with."""
    with pytest.raises(InputError, match=told):
        call()
