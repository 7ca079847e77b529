"""Power corrections against the recomputed rows of shared/12_power_correction.csv (formulas from memory)."""

from __future__ import annotations

import pytest

from sensorcal.physics.power import compression_ignition_factor, power_correction
from tests.outside.table import cases

COLUMNS = (("sae-j1349", "sae_j1349"), ("iso-1585", "iso1585_si"), ("60-degf", "old_std"))


@pytest.mark.parametrize("row", cases("12_power_correction.csv", "pd_hPa", "t_degC"))
def test_factors(row):
    """A published correction would be computed wrongly by more than a printed digit, or its range missed."""
    air = {"dry_pressure_pa": float(row["pd_hPa"]) * 100.0, "intake_c": float(row["t_degC"])}
    for rule, column in COLUMNS:
        ours = power_correction(rule, **air, outside="flag")
        assert float(ours.factor_ratio) == pytest.approx(float(row[column]), abs=6e-7), rule
        if rule == "iso-1585":
            assert bool(ours.within_range) == (row["iso_valid"] == "yes")
    assert float(compression_ignition_factor(**air)) == pytest.approx(float(row["fa_ci_na"]), abs=6e-7)
    turbo = compression_ignition_factor(**air, turbocharged=True)
    assert float(turbo) == pytest.approx(float(row["fa_ci_turbo"]), abs=6e-7)
