"""QNH and station pressure: inverse pairs, slopes, national variants, refusals."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sensorcal.errors import InputError
from sensorcal.physics import altimeter

QNH_PA = np.array([95_000.0, 100_900.0, 101_325.0, 104_000.0])[:, np.newaxis]
ELEVATION_M = np.array([-400.0, 0.0, 610.0, 2_000.0, 5_000.0, 9_000.0])


@given(st.floats(90_000.0, 108_000.0), st.floats(-400.0, 9_000.0))
def test_qnh_there_and_back(qnh, elevation_m):
    """A QNH would not survive the way to station pressure and back."""
    there = altimeter.station_pressure_pa(qnh, elevation_m)
    assert float(altimeter.qnh_pa(there, elevation_m)) == pytest.approx(qnh, abs=1e-6)


@pytest.mark.parametrize("variant", altimeter.VARIANTS)
def test_variants_there_and_back(variant):
    """A national formula's inverse would not undo it."""
    there = altimeter.station_pressure_by_variant_pa(QNH_PA, ELEVATION_M, variant)
    back = altimeter.altimeter_setting_by_variant_pa(there, ELEVATION_M, variant)
    np.testing.assert_allclose(back, np.broadcast_to(QNH_PA, back.shape), rtol=1e-12)


def test_slopes_are_the_derivatives():
    """The slopes used for uncertainty would not be the changes of the station pressure itself."""
    by_qnh, by_elevation = altimeter.station_pressure_slopes(QNH_PA, ELEVATION_M)

    def law(q, h):
        return altimeter.station_pressure_pa(q, h)

    np.testing.assert_allclose(
        by_qnh, (law(QNH_PA + 5.0, ELEVATION_M) - law(QNH_PA - 5.0, ELEVATION_M)) / 10.0, rtol=1e-6
    )
    measured = law(QNH_PA, ELEVATION_M + 0.5) - law(QNH_PA, ELEVATION_M - 0.5)
    np.testing.assert_allclose(by_elevation, measured, rtol=1e-6)


def test_altimeter_on_qnh_shows_the_field():
    """An altimeter set to QNH would not show the field's elevation on the ground."""
    there = altimeter.station_pressure_pa(QNH_PA, ELEVATION_M)
    shown = altimeter.shown_altitude_m(there, QNH_PA)
    np.testing.assert_allclose(shown, np.broadcast_to(ELEVATION_M, shown.shape), atol=1e-6)


def test_unknown_variant():
    """A misspelt national formula would fall back to another one."""
    with pytest.raises(InputError, match="'asus' is not known"):
        altimeter.station_pressure_by_variant_pa(100_900.0, 610.0, "asus")


def test_range_of_the_variants():
    """A QNH in inHg or an elevation in feet would be computed with."""
    with pytest.raises(InputError, match="qnh_pa"):
        altimeter.station_pressure_by_variant_pa(2_992.0, 610.0, "asos")
    with pytest.raises(InputError, match="elevation_m"):
        altimeter.altimeter_setting_by_variant_pa(95_000.0, 12_000.0, "asos")
