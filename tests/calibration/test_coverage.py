"""The stated intervals hold the truth as often as they say: short forms of `tests.studies.coverage`."""

from __future__ import annotations

import math

import numpy as np
import pytest

from sensorcal.calibration.calibration import u_difference_c, u_temperature_c
from sensorcal.calibration.thermistor import fit_thermistor
from sensorcal.measure.interval import coverage_factor
from sensorcal.measure.terms import term
from tests.probes import j_sh, k_sh
from tests.studies.coverage import Bench, case_a, case_b, case_c, case_d, fixed_probes, play, points_of, pooled

COUNTS = (4, 6, 8)


def allowed(share, evenings, times=2.0):
    """Binomial standard errors of a share."""
    return times * math.sqrt(share * (1.0 - share) / evenings)


def holds(coverage, evenings):
    """Whether coverages are 95 ± 1 %, two standard errors of the drawing allowed."""
    return np.all(np.abs(coverage - 0.95) <= 0.01 + allowed(0.95, evenings))


@pytest.mark.slow
def test_prior_off():
    """With the prior off, 95 % would not mean 95 % for each of several probes, or be bought by width (a)."""
    every = fixed_probes()
    for name, probe in every.items():
        tally = pooled(case_a(900, {name: probe}, COUNTS))
        assert holds(tally.coverage, tally.evenings)
        assert np.all(tally.width_ratio <= 1.05)
        assert tally.coverage_with_form[3] >= 0.95  # 120 °C, model-form term added
        # inside the tested points that term adds nothing
        assert tally.half_width_with_form[:3] == pytest.approx(tally.half_width[:3], rel=1e-6)
        assert tally.inflated / tally.evenings == pytest.approx(0.01, abs=allowed(0.01, tally.evenings, 3.0))


@pytest.mark.slow
def test_prior_on():
    """With curvatures drawn as the prior says, 95 % would not mean 95 % (b)."""
    tally = pooled(case_b(700, COUNTS))
    assert holds(tally.coverage, tally.evenings)
    assert np.all(tally.width_ratio <= 1.05)
    assert tally.coverage_with_form[3] >= 0.95
    # the prior is right here: 'disagree' is said once in twenty
    assert tally.disagree / tally.evenings == pytest.approx(0.05, abs=allowed(0.05, tally.evenings, 3.0))


@pytest.mark.slow
def test_prior_narrows_beyond_the_points():
    """The prior would buy nothing at 120 °C."""
    off = pooled(case_a(150, {"J": j_sh()}, (4,)))
    on = pooled(case_b(150, (4,)))
    assert (on.half_width[3] / on.evenings) < 0.97 * (off.half_width[3] / off.evenings)


@pytest.mark.slow
def test_strong_curvature():
    """A probe far from the prior would be bent to it in silence where the readings can show it (c)."""
    cells = case_c(400, counts=COUNTS)
    by_bench = {}
    for (name, _), tally in cells.items():
        by_bench.setdefault(name.rpartition("bench ")[2], []).append(tally)
    shares = {
        bench: (sum(t.disagree for t in tallies), sum(t.evenings for t in tallies))
        for bench, tallies in by_bench.items()
    }
    told = {bench: disagree / evenings for bench, (disagree, evenings) in shares.items()}
    assert told["usual"] > 0.55
    assert told["x 1/3"] > 0.97
    assert told["x 1/10"] == 1.0
    for tallies in by_bench.values():
        for tally in tallies:
            # inside the points the readings rule; 93 % at least, whatever the prior says
            assert np.all(tally.coverage[:3] >= 0.94 - allowed(0.94, tally.evenings))
            assert tally.coverage_with_form[3] >= 0.95 - allowed(0.95, tally.evenings)
            assert np.all(tally.plain_ratio[:3] <= 1.05)


@pytest.mark.slow
def test_another_form():
    """At 120 °C, a probe that is not Steinhart-Hart would lie outside the band more than once in twenty (d)."""
    for tally in case_d(500, COUNTS).values():
        assert tally.coverage_with_form[3] >= 0.95 - allowed(0.95, tally.evenings)
    # and the term is needed: without it, at a good bench, half of them would
    bad = pooled({key: tally for key, tally in case_d(100, (5,)).items() if "1/3" in key[0]})
    assert bad.coverage[3] < 0.75


@pytest.mark.slow
def test_this_study_can_fail():
    """A budget that forgets the reference all points share would pass the study as well."""
    forgetful = Bench(reference_c=1e-6)
    tally = play(np.random.default_rng(1), j_sh(), 6, 500, told=forgetful)
    assert np.all(tally.coverage[:3] < 0.85)


@pytest.mark.slow
def test_difference_of_two_probes_in_one_bath():
    """U of a difference would count the reference both probes share, or forget what each has for itself."""
    rng = np.random.default_rng(11)
    k, at = coverage_factor(), np.array([25.0, 60.0, 90.0])
    probes = (j_sh(), k_sh())
    held, evenings, widths = np.zeros(3), 1500, []
    for _ in range(evenings):
        reference = 0.5 * rng.standard_normal()
        cals = []
        for probe in probes:
            t, r = points_of(probe, 5)
            seen = t + reference + 0.05 * rng.standard_normal(5)
            terms = (term("bath", 0.05, 5, common=False), term("reference:T1", 0.5, 5, common=True))
            cals.append(fit_thermistor(seen, r, terms, prior=None))
        shown = [c.temperature_c(p.resistance_ohm(at)) for c, p in zip(cals, probes, strict=True)]
        u = u_difference_c(cals[0], cals[1], at)
        widths.append(k * u)
        held += np.abs(shown[0] - shown[1]) <= k * u
    assert np.all(np.abs(held / evenings - 0.95) <= 0.01 + allowed(0.95, evenings))
    assert np.max(widths) < 0.35  # against 2 x 0.5 of each alone
    assert np.min(u_temperature_c(cals[0], at)) > 0.49
