"""Altimeter settings against the three national formulas, published examples and the handbook's table."""

from __future__ import annotations

import pytest

from sensorcal.physics.altimeter import (
    altimeter_setting_by_variant_pa,
    qnh_pa,
    station_pressure_by_variant_pa,
    station_pressure_pa,
    variant_spread_pa,
)
from sensorcal.physics.atmosphere import pressure_altitude_m
from tests.outside.table import cases

INHG_PA = 3386.38864
FT_M = 0.3048


@pytest.mark.parametrize("row", cases("05_altimeter_setting_to_station_pressure.csv", "H_m", "QNH_hPa"))
def test_station_pressure_by_three_formulas(row):
    """QNH to station pressure would be wrong by more than 0.01 hPa in one of the formulas in use."""
    qnh, h = float(row["QNH_hPa"]) * 100.0, float(row["H_m"])
    tolerance_pa = 0.02  # the table is rounded to 0.01 Pa; gas constants differ by 1e-7
    assert float(station_pressure_pa(qnh, h)) == pytest.approx(float(row["p_icao_hPa"]) * 100.0, abs=tolerance_pa)
    for variant, column in (("smithsonian", "p_smithsonian_hPa"), ("asos", "p_asos_hPa")):
        ours_pa = float(station_pressure_by_variant_pa(qnh, h, variant))
        assert ours_pa == pytest.approx(float(row[column]) * 100.0, abs=tolerance_pa)
        assert float(altimeter_setting_by_variant_pa(ours_pa, h, variant)) == pytest.approx(qnh, abs=1e-6)
    spread = variant_spread_pa(qnh, h)
    assert float(spread["smithsonian"]) == pytest.approx(float(row["smithsonian_minus_icao_hPa"]) * 100.0, abs=0.02)
    assert float(spread["asos"]) == pytest.approx(float(row["asos_minus_icao_hPa"]) * 100.0, abs=0.02)


@pytest.mark.parametrize("row", cases("05_station_pressure_published_examples.csv", "case"))
def test_published_station_pressures(row):
    """A published worked example, in feet and inches of mercury, would not come out to 2 Pa (printed in whole Pa)."""
    setting_pa, h = float(row["altimeter_inHg"]) * INHG_PA, float(row["elev_ft"]) * FT_M
    assert float(station_pressure_by_variant_pa(setting_pa, h, "asos")) == pytest.approx(
        float(row["published_Pa"]), abs=2.0
    )
    assert float(station_pressure_pa(setting_pa, h)) == pytest.approx(float(row["recomputed_icao_Pa"]), abs=0.1)


@pytest.mark.parametrize("row", cases("05_pressure_altitude_correction.csv", "altimeter_inHg"))
def test_pressure_altitude_correction(row):
    """The correction from altimeter setting to pressure altitude would miss the handbook's table (from memory)."""
    ours_ft = float(pressure_altitude_m(float(row["altimeter_inHg"]) * INHG_PA)) / FT_M
    assert ours_ft == pytest.approx(float(row["icao_ft"]), abs=0.01)
    assert ours_ft == pytest.approx(float(row["handbook_ft"]), abs=2.0)


@pytest.mark.parametrize("row", cases("05_density_altitude_cases.csv", "case"))
def test_station_pressure_of_the_density_altitude_cases(row):
    """Elevation and altimeter setting would not give the pressure that these cases start from."""
    ours_pa = station_pressure_pa(float(row["altimeter_inHg"]) * INHG_PA, float(row["elev_ft"]) * FT_M)
    assert float(ours_pa) / 100.0 == pytest.approx(float(row["p_hPa"]), abs=1e-3)


def test_half_a_hectopascal_at_sea_level():
    """The formula that takes 0.3 hPa off first would seem to return QNH at elevation zero; only it does not."""
    assert float(qnh_pa(101_325.0, 0.0)) == pytest.approx(101_325.0, abs=1e-6)
    assert float(station_pressure_by_variant_pa(101_325.0, 0.0, "smithsonian")) == pytest.approx(101_355.0, abs=0.01)
    assert float(station_pressure_by_variant_pa(101_325.0, 0.0, "asos")) == pytest.approx(101_325.0, abs=0.01)
