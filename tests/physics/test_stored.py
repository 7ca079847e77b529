"""Energy in a pumped-up hose: against the integral of the work, against a stretched spring, and refusals."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from scipy.integrate import quad

from sensorcal.errors import InputError
from sensorcal.physics.stored import gas_energy_j, liquid_energy_j


@pytest.mark.parametrize(("volume_m3", "gauge_pa", "ambient_pa"), [(0.2e-3, 1e6, 101_325.0), (1e-3, 4e5, 93_470.0)])
def test_air_gives_what_its_expansion_sums_up_to(volume_m3, gauge_pa, ambient_pa):
    """A forgotten share of the surrounding air would make the caution too large, a wrong logarithm too small."""
    p = gauge_pa + ambient_pa
    work, _ = quad(lambda v: p * volume_m3 / v - ambient_pa, volume_m3, volume_m3 * p / ambient_pa)
    assert float(gas_energy_j(volume_m3, gauge_pa, ambient_pa=ambient_pa)) == pytest.approx(work, rel=1e-9)


def test_liquid_gives_what_its_spring_sums_up_to():
    """A lost factor of two would be the energy of pumping, not of the spring."""
    work, _ = quad(lambda p: p * 0.2e-3 / 1.5e9, 0.0, 1e6)
    assert float(liquid_energy_j(0.2e-3, 1e6)) == pytest.approx(work, rel=1e-9)


def test_air_holds_thousands_of_times_more():
    """The reason for oil or water on the bench would be gone."""
    assert 3_000.0 < float(gas_energy_j(0.2e-3, 1e6) / liquid_energy_j(0.2e-3, 1e6)) < 8_000.0


def test_nothing_pumped_is_nothing_stored():
    """An open hose would be called dangerous, or a small pressure have energy below zero by the last bits."""
    assert float(gas_energy_j(1e-3, 0.0)) == pytest.approx(0.0, abs=1e-9)
    assert np.all(np.asarray(gas_energy_j(1e-3, np.array([1.0, 10.0, 1e3]))) >= 0.0)
    # Little pressure: p² V / (2 p0), the first term of the series.
    assert float(gas_energy_j(1e-3, 1e3)) == pytest.approx(1e-3 * 1e6 / (2 * 101_325.0), rel=0.01)


def test_a_column_stays_a_column():
    """A log would lose its index."""
    frame = pd.DataFrame({"p": [1e5, 2e5]}, index=[7, 9])
    assert list(gas_energy_j(1e-3, frame["p"]).index) == [7, 9]


@pytest.mark.parametrize(
    ("call", "name"),
    [
        (lambda: gas_energy_j(200.0, 1e6), "volume_m3"),
        (lambda: gas_energy_j(1e-3, -1.0), "gauge_pa"),
        (lambda: gas_energy_j(1e-3, 1e5, ambient_pa=0.0), "ambient_pa"),
        (lambda: liquid_energy_j(1e-3, 1e5, bulk_modulus_pa=1.5), "bulk_modulus_pa"),
    ],
)
def test_what_cannot_be_is_refused_by_name(call, name):
    """Litres for cubic metres, or GPa for Pa, would give a caution a thousand times off."""
    with pytest.raises(InputError, match=name):
        call()
