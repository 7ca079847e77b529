"""Compressor and cooler: inverse pairs, slopes, what is missing and what is refused."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sensorcal.errors import InputError
from sensorcal.physics import compressor


@given(st.floats(-30.0, 50.0), st.floats(1.1, 3.0), st.floats(0.4, 0.9))
def test_efficiency_undoes_the_outlet_temperature(inlet_c, ratio, efficiency):
    """The efficiency found from an outlet temperature would not be the one that made it."""
    outlet = compressor.compressor_outlet_c(inlet_c, ratio, efficiency)
    assert float(compressor.isentropic_efficiency(inlet_c, outlet, ratio)) == pytest.approx(efficiency, rel=1e-10)


def central(law, at, i, step):
    """Slope of a law in one argument by central difference."""
    up, down = list(at), list(at)
    up[i] += step
    down[i] -= step
    return (float(law(*up)) - float(law(*down))) / (2.0 * step)


@pytest.mark.parametrize(
    ("law", "slopes", "at"),
    [
        (compressor.compressor_outlet_c, compressor.compressor_outlet_slopes, (15.0, 1.5, 0.7)),
        (compressor.isentropic_efficiency, compressor.isentropic_efficiency_slopes, (15.0, 62.0, 1.5)),
        (compressor.cooler_effectiveness, compressor.cooler_effectiveness_slopes, (95.0, 48.0, 22.0)),
    ],
)
def test_slopes_are_the_derivatives(law, slopes, at):
    """The slopes that carry the uncertainties would not be the changes of the law."""
    for i, slope in enumerate(slopes(*at)):
        assert float(slope) == pytest.approx(central(law, at, i, 1e-4 * abs(at[i])), rel=1e-6)


def test_shared_errors_cancel_in_the_effectiveness():
    """A reference error common to all three probes would be counted against the effectiveness."""
    assert sum(float(s) for s in compressor.cooler_effectiveness_slopes(95.0, 48.0, 22.0)) == pytest.approx(
        0.0, abs=1e-15
    )


def test_the_duct_makes_a_cooler_look_worse():
    """The caution that short probes under-read effectiveness, more so at low power, would not follow from the model."""
    true = float(compressor.cooler_effectiveness(95.0, 48.0, 22.0))
    shown = [
        float(
            compressor.cooler_effectiveness(
                compressor.pulled_temperature_c(95.0, 60.0, pull),
                compressor.pulled_temperature_c(48.0, 60.0, pull),
                22.0,
            )
        )
        for pull in (0.07, 0.3)
    ]
    assert true > shown[0] > shown[1]


def test_samples_without_meaning_are_missing_and_a_log_without_any_is_refused():
    """Idle samples would give effectiveness of any size, or a pair of exchanged probes would pass as a log."""
    column = pd.Series([95.0, 24.0], index=[10, 20])
    result = compressor.cooler_effectiveness(column, 48.0, 22.0)
    assert result.index.tolist() == [10, 20]
    assert np.isnan(result).tolist() == [False, True]
    with pytest.raises(InputError, match="in_c is nowhere 5 K above ambient_c"):
        compressor.cooler_effectiveness(20.0, 48.0, 22.0)
    with pytest.raises(InputError, match="outlet_c is nowhere 1 K above inlet_c"):
        compressor.isentropic_efficiency(60.0, 15.0, 1.5)


@pytest.mark.parametrize(
    ("call", "told"),
    [
        (lambda: compressor.compressor_outlet_c(15.0, 0.5), "pressure_ratio 0.5"),
        (lambda: compressor.compressor_outlet_c(15.0, 1.5, 70.0), "efficiency_ratio 70 .* give 0.7 for 70 %"),
        (lambda: compressor.compressor_outlet_c(15.0, 1.5, 0.7, 14.0), "k_ratio 14"),
        (lambda: compressor.compressor_outlet_c(900.0, 1.5), "inlet_c 900 °C"),
        (lambda: compressor.pressure_loss_pa(146.0, 140e3), "before_pa 146 Pa .* looks like kPa"),
    ],
)
def test_refusals_name_the_field(call, told):
    """Per cent for a ratio, gauge for absolute or kPa for Pa would be computed with."""
    with pytest.raises(InputError, match=told):
        call()
