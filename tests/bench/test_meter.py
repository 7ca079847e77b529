"""The meter proven with shorted leads and known resistors."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sensorcal.bench.meter import MeterCorrection, meter_correction
from sensorcal.errors import InputError
from sensorcal.setup import Meter, MeterCheck
from tests.probes import j_spline

PROVEN = Meter(
    leads_shorted_ohm=0.3,
    checks=(MeterCheck(true_ohm=470.0, read_ohm=475.0), MeterCheck(true_ohm=2200.0, read_ohm=2222.5)),
)


def test_scenario() -> None:
    """Leads 0.3, 475.0 on 470.0 and 2222.5 on 2200 would not give +1.0 % (scenario of the issue, invented)."""
    found = meter_correction(PROVEN)
    assert 100 * (found.gain - 1) == pytest.approx(1.0, abs=0.01)
    assert found.lead_ohm == pytest.approx(0.30, abs=0.01)
    assert found.corrected_ohm(2222.5) == pytest.approx(2200.0, abs=1.5)


@pytest.mark.parametrize(("temperature_c", "ignored_c"), [(25.0, 0.25), (120.0, 0.41)])
def test_ignored_gain_in_degrees(temperature_c: float, ignored_c: float) -> None:
    """The size of the ignored 1 % would be told wrongly: +0.25 at 25 and +0.41 at 120 degC for probe J."""
    probe = j_spline()
    true_ohm = float(probe.resistance_ohm(temperature_c))
    shift = temperature_c - float(probe.temperature_c(np.array([true_ohm * 1.01]))[0])
    # Half of the last printed digit, and half a hundredth for the spline's slope.
    assert shift == pytest.approx(ignored_c, abs=0.01)


def test_unproven() -> None:
    """An unproven meter would be corrected, or believed too well."""
    found = meter_correction(Meter())
    assert found.corrected_ohm(1800.0) == 1800.0
    assert found.u_lead_ohm == pytest.approx(0.3 / math.sqrt(3))
    assert found.u_gain_ratio == pytest.approx(0.005 / math.sqrt(3))
    assert "not proven" in found.notes[0]


def test_shorted_leads_only() -> None:
    """Shorted leads without a resistor would not be corrected."""
    found = meter_correction(Meter(leads_shorted_ohm=0.3))
    assert found.corrected_ohm(172.1) == pytest.approx(171.8)
    assert found.u_lead_ohm < 0.05


def test_resistors_only() -> None:
    """Without shorted leads the gain would swallow them."""
    found = meter_correction(Meter(checks=PROVEN.checks))
    assert 100 * (found.gain - 1) == pytest.approx(1.0, abs=0.06)
    assert "not shorted" in found.notes[1]


def test_same_line_by_a_general_fit() -> None:
    """Leads, gain and their covariance would not be the weighted least-squares ones (numpy.polyfit, cov unscaled)."""
    found = meter_correction(PROVEN)
    x = np.array([470.0, 2200.0, 0.0])
    y = np.array([475.0, 2222.5, 0.3])
    resistors = [math.hypot(r * 0.001 / 3**0.5, step / 12**0.5, 0.03) for r, step in ((470.0, 0.1), (2200.0, 1.0))]
    u = np.array([*resistors, math.hypot(0.03, 0.1 / 12**0.5)])
    line, covariance = np.polyfit(x, y, 1, w=1 / u, cov="unscaled")
    assert (found.gain, found.lead_ohm) == pytest.approx(tuple(line), rel=1e-9)
    assert found.u_gain_ratio * found.gain == pytest.approx(math.sqrt(covariance[0, 0]), rel=1e-9)
    assert found.u_lead_ohm == pytest.approx(math.sqrt(covariance[1, 1]), rel=1e-9)
    assert found.covariance_ohm == pytest.approx(covariance[0, 1], rel=1e-9)


@given(read=st.floats(50, 20_000), other=st.floats(50, 20_000))
def test_shares_carry_the_covariance(read: float, other: float) -> None:
    """Shares of two readings would not add up to the covariance of the two corrected values."""
    found = meter_correction(PROVEN)
    a, b = found.shares(read), found.shares(other)
    got = sum(x.u * y.u for x, y in zip(a, b, strict=True))
    ta, tb = found.corrected_ohm(read), found.corrected_ohm(other)
    u_gain = found.u_gain_ratio * found.gain
    wanted = (found.u_lead_ohm**2 + ta * tb * u_gain**2 + (ta + tb) * found.covariance_ohm) / found.gain**2
    assert got == pytest.approx(wanted, rel=1e-9, abs=1e-12)


@given(lead=st.floats(0, 1), gain=st.floats(0.9, 1.1), ohm=st.floats(10, 1e5))
def test_correction_inverts_the_meter(lead: float, gain: float, ohm: float) -> None:
    """A known error put in would not come out."""
    found = MeterCorrection(lead_ohm=lead, gain=gain)
    assert found.corrected_ohm(lead + gain * ohm) == pytest.approx(ohm, rel=1e-12)


def test_no_meter_error() -> None:
    """A resistor read in the wrong unit would become a gain of a thousand."""
    with pytest.raises(InputError, match="no meter error"):
        meter_correction(Meter(checks=(MeterCheck(true_ohm=2200.0, read_ohm=2.2),)))


def test_disagreeing_resistors_are_told() -> None:
    """Resistors that contradict each other would be averaged in silence."""
    odd = Meter(leads_shorted_ohm=0.3, checks=(*PROVEN.checks, MeterCheck(true_ohm=1000.0, read_ohm=1040.0)))
    assert any("disagree" in note for note in meter_correction(odd).notes)
    assert not any("disagree" in note for note in meter_correction(PROVEN).notes)


def test_stated_uncertainties_win() -> None:
    """An uncertainty that the user states would be overruled."""
    found = meter_correction(Meter(leads_shorted_ohm=0.3, checks=PROVEN.checks, u_lead_ohm=0.1, u_gain_ratio=0.002))
    assert (found.u_lead_ohm, found.u_gain_ratio) == (0.1, 0.002)
