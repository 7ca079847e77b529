"""Wire: ASTM B258 geometry, AC 43.13-1B maxima, copper with temperature."""

from __future__ import annotations

import pytest

from sensorcal.physics import wire
from tests.outside.table import cases


@pytest.mark.parametrize("row", cases("06_awg_solid_copper.csv", "AWG"))
def test_solid_awg(row):
    """If this fails, a gauge number gives the wrong copper."""
    gauge = int(row["AWG"])
    assert wire.awg_diameter_m(gauge) * 1e3 == pytest.approx(float(row["d_mm"]), abs=5.1e-6)  # half a printed digit
    assert wire.awg_area_m2(gauge) * 1e6 == pytest.approx(float(row["area_mm2"]), abs=5.1e-7)
    per_km = 1e3 * wire.copper_ohm_per_m(wire.awg_area_m2(gauge))
    assert per_km == pytest.approx(float(row["ohm_per_km_20C"]), abs=5.1e-4)
    if row["public_ohm_per_kft"]:
        # 0.1 %: the public table rounds to four digits and uses an older resistivity
        assert per_km * 0.3048 == pytest.approx(float(row["public_ohm_per_kft"]), rel=1e-3)


@pytest.mark.parametrize("row", cases("06_aircraft_wire_tin_plated.csv", "AWG"))
def test_aircraft_wire(row):
    """If this fails, the specified maximum of a gauge, or the copper behind it, is another wire's."""
    least, most = wire.aircraft_wire_limits_ohm_per_m(int(row["AWG"]))
    assert most * 304.8 == pytest.approx(float(row["max_ohm_per_kft_20C"]), rel=1e-12)  # exact: the table's own figure
    assert most * 1e3 == pytest.approx(float(row["max_ohm_per_km_20C"]), abs=5.1e-3)  # half a printed digit
    assert most / least == pytest.approx(float(row["max_over_pure_copper"]), abs=5.1e-4)


@pytest.mark.parametrize("row", cases("06_copper_temperature_factor.csv", "t_degC"))
def test_copper_with_temperature(row):
    """If this fails, a warm wire has a cold wire's resistance."""
    assert float(wire.copper_factor(float(row["t_degC"]))) == pytest.approx(float(row["factor"]), abs=5.1e-6)
