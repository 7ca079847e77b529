"""Power corrections: the reference day, the published range, refusals."""

from __future__ import annotations

import numpy as np
import pytest

from sensorcal.errors import InputError
from sensorcal.physics import power


def test_one_on_the_reference_day():
    """A rule would change a power that was measured on its own reference day."""
    for rule, p, t in (("sae-j1349", 99_000.0, 25.0), ("iso-1585", 99_000.0, 25.0), ("60-degf", 101_325.0, 15.55)):
        assert float(power.power_correction(rule, dry_pressure_pa=p, intake_c=t).factor_ratio) == pytest.approx(1.0)
    assert float(power.compression_ignition_factor(dry_pressure_pa=99_000.0, intake_c=25.0)) == pytest.approx(1.0)
    same = power.iso3046_power_ratio(pressure_ratio=1.0, temperature_ratio=1.0, exponents=(1.0, 0.5, 0.0))
    assert float(same) == pytest.approx(1.0)


def test_thin_or_hot_air_needs_more_than_one():
    """The correction would be turned round, making a weak engine look weaker."""
    thin = {"dry_pressure_pa": 95_000.0, "intake_c": 30.0}
    for rule in ("sae-j1349", "iso-1585", "60-degf"):
        assert float(power.power_correction(rule, **thin, outside="flag").factor_ratio) > 1.0
    lean = power.iso3046_power_ratio(pressure_ratio=0.95, temperature_ratio=0.98, exponents=(1.0, 0.75, 0.0))
    assert float(lean) < 0.95


def test_outside_its_range_a_rule_is_refused_or_flagged():
    """A factor would be used where its rule was never published."""
    with pytest.raises(InputError, match="sae-j1349 does not hold at 88 kPa dry and 20 °C"):
        power.power_correction("sae-j1349", dry_pressure_pa=[95e3, 88e3], intake_c=20.0)
    with pytest.raises(InputError, match="sae-j1349 does not hold at 95 kPa dry and 40 °C"):
        power.power_correction("sae-j1349", dry_pressure_pa=95e3, intake_c=40.0)
    flagged = power.power_correction("iso-1585", dry_pressure_pa=[95e3, 88e3, np.nan], intake_c=20.0, outside="flag")
    assert flagged.within_range.tolist() == [True, False, True]
    assert np.isnan(flagged.factor_ratio[2])


@pytest.mark.parametrize(
    ("call", "told"),
    [
        (lambda: power.power_correction("sae", dry_pressure_pa=99e3, intake_c=25.0), "rule 'sae' is not known"),
        (lambda: power.power_correction("iso-1585", dry_pressure_pa=990.0, intake_c=25.0), "dry_pressure_pa 990 Pa"),
        (lambda: power.power_correction("iso-1585", dry_pressure_pa=99e3, intake_c=77.0), "intake_c 77 °C"),
        (
            lambda: power.iso3046_power_ratio(pressure_ratio=90.0, temperature_ratio=1.0, exponents=(1, 1, 0)),
            "pressure_ratio 90",
        ),
    ],
)
def test_refusals_name_the_field(call, told):
    """A pressure in hPa for Pa, °F for °C or per cent for a ratio would be computed with."""
    with pytest.raises(InputError, match=told):
        call()
