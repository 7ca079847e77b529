"""Saturation line and liquid water against IAPWS R7-97, against IAPWS-95, and against two independent libraries."""

from __future__ import annotations

import numpy as np
import pytest

from sensorcal.physics.water import (
    boiling_point_c,
    boiling_slope_c_per_pa,
    liquid_density_kg_m3,
    saturation_pressure_pa,
)
from tests.outside.table import cases

ZERO_C_K = 273.15


@pytest.mark.parametrize("row", cases("04_iapws_r7_97_verification.csv", "direction", "input"))
def test_verification_values(row):
    """A coefficient of the saturation line would be mistyped (IAPWS R7-97 tables 35 and 36, from memory, 9 digits)."""
    if row["direction"] == "Ts_to_ps":
        ours = float(saturation_pressure_pa(float(row["input"]) - ZERO_C_K)) / 1e6
    else:
        ours = float(boiling_point_c(float(row["input"]) * 1e6)) + ZERO_C_K
    # half a unit of the ninth printed digit is at most 5e-9; the library column has three digits more
    assert ours == pytest.approx(float(row["published"]), rel=2e-9)
    assert ours == pytest.approx(float(row["library"]), rel=3e-12)


@pytest.mark.parametrize("row", cases("04_water_boiling_vs_pressure.csv", "p_kPa"))
def test_boiling_point_and_slope_by_pressure(row):
    """The steam point would be wrong by more than 0.1 mK, or its slope by more than the last digit of the table."""
    pressure_pa = float(row["p_kPa"]) * 1000.0
    t_c = float(boiling_point_c(pressure_pa))
    assert t_c == pytest.approx(float(row["t_if97_degC"]), abs=0.6e-4)  # half a printed digit
    iapws95_c = float(row["t_if97_degC"]) - float(row["if97_minus_iapws95_mK"]) / 1000.0
    assert t_c == pytest.approx(iapws95_c, abs=1e-3)  # the two formulations differ by up to 0.23 mK
    # the table's slope is of IAPWS-95 or a difference quotient: one unit of its last digit
    assert float(boiling_slope_c_per_pa(pressure_pa)) * 1000.0 == pytest.approx(float(row["dt_dp_K_per_kPa"]), abs=2e-5)


@pytest.mark.parametrize("row", cases("04_water_boiling_vs_altitude.csv", "H_m"))
def test_boiling_point_by_altitude(row):
    """The chain altitude, pressure, boiling point would break somewhere (recomputed by two chains of libraries)."""
    from sensorcal.physics.atmosphere import standard_pressure_pa

    pressure_pa = float(standard_pressure_pa(float(row["H_m"])))
    assert pressure_pa / 1000.0 == pytest.approx(float(row["p_kPa"]), abs=0.6e-4)
    assert float(boiling_point_c(pressure_pa)) == pytest.approx(float(row["t_boil_degC"]), abs=3e-4)


@pytest.mark.parametrize("row", cases("04_iapws_r7_97_coefficients.csv", "i"))
def test_coefficients(row):
    """A coefficient in the code would differ from table 34."""
    from sensorcal.physics import water

    assert getattr(water, f"_N{row['i']}") == float(row["n_i"])


def test_line_against_the_iapws_library():
    """Our saturation line would differ from the library iapws over 1 to 370 °C."""
    iapws97 = pytest.importorskip("iapws").IAPWS97
    temperatures_c = np.array([1.0, 25.0, 60.0, 97.73, 120.0, 200.0, 300.0, 345.0])
    theirs_pa = [iapws97(T=t_c + ZERO_C_K, x=0).P * 1e6 for t_c in temperatures_c]
    np.testing.assert_allclose(saturation_pressure_pa(temperatures_c), theirs_pa, rtol=1e-11)


def test_boiling_point_against_coolprop():
    """Our boiling point would differ from IAPWS-95 by more than the two formulations do, 60 to 110 kPa."""
    props = pytest.importorskip("CoolProp.CoolProp").PropsSI
    pressures_pa = np.arange(60_000.0, 110_001.0, 5_000.0)
    theirs_c = np.array([props("T", "P", p, "Q", 0, "Water") for p in pressures_pa]) - ZERO_C_K
    np.testing.assert_allclose(boiling_point_c(pressures_pa), theirs_c, atol=1e-3)


def test_liquid_density_against_coolprop():
    """The water in a U-tube would have the wrong weight (IAPWS-95; the tables agree to about 1 part in a million)."""
    props = pytest.importorskip("CoolProp.CoolProp").PropsSI
    temperatures_c = np.arange(1.0, 40.1, 3.0)
    theirs = [props("D", "P", 101_325.0, "T", t_c + ZERO_C_K, "Water") for t_c in temperatures_c]
    np.testing.assert_allclose(liquid_density_kg_m3(temperatures_c), theirs, rtol=5e-6)


@pytest.mark.parametrize("row", [c for c in cases("04_its90_fixed_points.csv", "point") if "boiling" in c.id])
def test_boiling_point_among_the_fixed_points(row):
    """The boiling point at one atmosphere would not be the 99.974 °C of the list of fixed points."""
    assert float(boiling_point_c(101_325.0)) == pytest.approx(float(row["t_degC"]), abs=5e-4)
