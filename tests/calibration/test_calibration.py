"""What a calibration says of itself: covariance and u against numerical propagation, form term, shared shifts."""

from __future__ import annotations

import numpy as np
import pytest

from sensorcal.calibration.calibration import (
    expanded_c,
    extrapolated,
    shared_shift_c,
    u_difference_c,
    u_form_c,
    u_statistical_at_c,
    u_statistical_c,
    u_temperature_c,
)
from sensorcal.calibration.thermistor import fit_thermistor
from sensorcal.measure.terms import term
from tests.probes import j_sh, k_sh
from tests.studies.coverage import USUAL

T_C = np.array([0.0, 25.0, 50.0, 75.0, 97.7])
R_OHM = np.asarray(j_sh().resistance_ohm(T_C))
AT_C = np.array([-10.0, 0.0, 25.0, 60.0, 97.7, 120.0])


def fit(t=T_C, r=R_OHM, terms=None, **options):
    """Fit probe J-SH with the usual bench."""
    return fit_thermistor(t, r, USUAL.terms(T_C) if terms is None else terms, **options)


@pytest.mark.parametrize("prior_on", [False, True], ids=["prior off", "prior on"])
def test_u_is_the_spread_of_repeated_evenings(prior_on):
    """The stated u would not be the standard deviation that repeated evenings show."""
    options = {} if prior_on else {"prior": None}
    cal = fit(**options)
    ohm = cal.resistance_ohm(AT_C)
    # every source moved by one u, to first order: the sum of squares is the variance
    variance = np.zeros(AT_C.size)
    for source in range(2 * T_C.size + 2):
        z = np.zeros(2 * T_C.size + 2)
        z[source] = 1.0
        moved_t = T_C + USUAL.reference_c * z[0] + USUAL.independent_c(T_C) * z[2 : T_C.size + 2]
        moved_r = R_OHM * np.exp(USUAL.meter_gain_ratio * z[1] + USUAL.meter_noise_ratio * z[T_C.size + 2 :])
        variance += (fit(moved_t, moved_r, **options).temperature_c(ohm) - AT_C) ** 2
    if prior_on:
        # the prior's own doubt is no scatter of evenings: it can only add
        assert np.all(u_statistical_c(cal, AT_C) >= 0.98 * np.sqrt(variance))
    else:
        assert u_statistical_c(cal, AT_C) == pytest.approx(np.sqrt(variance), rel=0.02)


def test_shared_shift_is_what_the_shared_error_does():
    """One standard uncertainty of the reference would move the curve otherwise than stated."""
    cal = fit(prior=None)
    moved = fit(T_C + USUAL.reference_c, prior=None)
    ohm = cal.resistance_ohm(AT_C)
    shift = shared_shift_c(cal, AT_C)
    assert set(shift) == {"reference", "meter gain"}
    assert shift["reference"] == pytest.approx(moved.temperature_c(ohm) - AT_C, rel=0.01)
    # a meter that reads high by one u: the curve made with it is too hot at every resistance
    gained = fit(T_C, R_OHM * np.exp(USUAL.meter_gain_ratio), prior=None)
    assert shift["meter gain"] == pytest.approx(gained.temperature_c(ohm) - AT_C, rel=0.02)


def test_difference_of_two_probes():
    """The reference that two probes share would not cancel, or that of two different evenings would."""
    own = term("bath", 0.05, 5, common=False)
    first = fit(terms=(own, term("reference:T1", 0.5, 5, common=True)), prior=None)
    r = np.asarray(k_sh().resistance_ohm(T_C))
    second = fit(r=r, terms=(own, term("reference:T1", 0.5, 5, common=True)), prior=None)
    other_day = fit(r=r, terms=(own, term("reference:T2", 0.5, 5, common=True)), prior=None)
    at = np.array([25.0, 60.0])
    alone = np.hypot(*(u_temperature_c(fit(r=s, terms=(own,), prior=None), at) for s in (R_OHM, r)))
    assert u_difference_c(first, second, at) == pytest.approx(alone, rel=0.02)
    apart = np.hypot(u_temperature_c(first, at), u_temperature_c(other_day, at))
    assert u_difference_c(first, other_day, at) == pytest.approx(apart, rel=1e-9)
    assert np.all(apart > 0.65)


def test_scatter_of_one_probe_leaves_the_shared_reference_alone():
    """A probe whose points scatter too much would bring back the reference error that the difference cancels."""
    terms = (term("bath", 0.05, 5, common=False), term("reference:T1", 0.5, 5, common=True))
    wild = fit(T_C + 0.3 * np.array([1, -1, 1, -1, 1]), terms=terms, prior=None)
    calm = fit(r=np.asarray(k_sh().resistance_ohm(T_C)), terms=terms, prior=None)
    assert wild.inflation > 3.0
    own = [u_statistical_c(fit(terms=terms[:1], prior=None), 60.0)] * 2
    expected = np.hypot(wild.inflation * own[0], own[1])
    assert float(u_difference_c(wild, calm, 60.0)) == pytest.approx(float(expected), rel=0.2)


def test_form_term_in_full_beyond_the_points_and_by_half_between():
    """The form of the curve would be doubted inside the points, trusted beyond them, or not doubted for Beta."""
    cal = fit()
    assert extrapolated(cal, AT_C).tolist() == [True, False, False, False, False, True]
    form = u_form_c(cal, AT_C)
    assert np.all(form[1:5] < 0.03)  # hundredths between the points, and twice as much just beyond the last
    high = cal.tested_c[1]
    assert float(u_form_c(cal, high + 0.06)) == pytest.approx(2.0 * float(u_form_c(cal, high)), rel=0.15)
    assert form[0] > 0.0
    assert 0.05 < form[5] < 0.5
    assert np.all(np.diff(u_form_c(cal, np.array([100.0, 110.0, 120.0, 130.0, 150.0]))) > 0.0)
    beta = fit(model="beta", prior=None)
    assert np.max(u_form_c(beta, np.array([10.0, 25.0, 50.0, 85.0]))) > 0.2
    assert u_temperature_c(cal, AT_C) == pytest.approx(np.hypot(u_statistical_c(cal, AT_C), form))


def test_expanded_is_nineteen_in_twenty():
    """The half-width would be another multiple than 1.96, or than Student's factor where u is from few readings."""
    cal = fit()
    assert expanded_c(cal, 60.0) == pytest.approx(1.959964 * float(u_temperature_c(cal, 60.0)), rel=1e-6)
    few = fit(terms=(term("repeat", 0.2, 5, common=False, dof=4.0),), prior=None)
    assert few.dof_effective == pytest.approx(4.0)
    assert expanded_c(few, 60.0) == pytest.approx(2.776 * float(u_temperature_c(few, 60.0)), rel=1e-3)


def test_by_resistance_and_by_temperature_agree():
    """U at a resistance would not be U at the temperature that belongs to it."""
    cal = fit()
    assert u_statistical_at_c(cal, cal.resistance_ohm(AT_C)) == pytest.approx(u_statistical_c(cal, AT_C), rel=1e-12)
    assert u_statistical_c(cal, 60.0).shape == ()
    assert u_statistical_c(cal, np.full((2, 3), 60.0)).shape == (2, 3)


def test_covariance_is_kept_as_a_factor():
    """The covariance would not be its factor times itself, or could be changed by a reader."""
    cal = fit()
    assert cal.covariance == pytest.approx(cal.root @ cal.root.T)
    assert np.all(np.linalg.eigvalsh(cal.covariance / np.outer(*2 * [np.sqrt(np.diag(cal.covariance))])) > 0.0)
    for values in (cal.root, cal.sensitivities, cal.form_carried, cal.points.temperature_c):
        assert not values.flags.writeable
