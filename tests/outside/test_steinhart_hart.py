"""Steinhart and Hart's equation with a common set of coefficients: forth, back and its slope."""

from __future__ import annotations

import pytest

from sensorcal.physics.curves import SteinhartHart
from tests.outside.table import cases

CURVE = SteinhartHart.from_abc(1.12924e-3, 2.34108e-4, 0.87755e-7)


@pytest.mark.parametrize("row", cases("03_steinhart_hart_apply.csv", "R_ohm"))
def test_row(row):
    """A temperature, slope or resistance of a common 10 kohm set would differ (Steinhart and Hart 1968, eq. 1)."""
    ohm, t_c = float(row["R_ohm"]), float(row["t_degC"])
    slope = float(row["dt_dR_K_per_ohm"])
    assert float(CURVE.temperature_c(ohm)) == pytest.approx(t_c, abs=0.51e-5)  # half a printed digit
    assert float(CURVE.slope_k_per_ohm(ohm)) == pytest.approx(slope, rel=1e-7)  # eight digits printed
    # half a digit of the temperature, brought over by the slope
    assert float(CURVE.resistance_ohm(t_c)) == pytest.approx(ohm, abs=0.51e-5 / abs(slope))


@pytest.mark.parametrize(("ohm", "moved_k"), [(10_000.0, 0.028), (680.0, 0.040)])
def test_trap_of_four_digits(ohm, moved_k):
    """Coefficients rounded to four digits would pass for the full ones: an export must not do that."""
    rounded = SteinhartHart.from_abc(1.129e-3, 2.341e-4, 8.776e-8)
    assert float(rounded.temperature_c(ohm) - CURVE.temperature_c(ohm)) == pytest.approx(moved_k, abs=0.5e-3)
