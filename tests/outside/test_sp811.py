"""Unit conversions against NIST SP 811 (2008) appendix B.8: definitions in full digits, printed values from memory."""

import re
from typing import Any

import pytest

from sensorcal.errors import InputError
from sensorcal.units import from_si, interval_to_si, parse_quantity, parse_unit, to_si
from tests.outside.table import rows

TABLE = rows("09_unit_conversions.csv")
# Units of the file that no bench reading comes in. They must be refused, not taken for a neighbour.
NOT_OFFERED = {
    "inHg (60 degF)", "torr", "inH2O (4 degC = 39.2 degF)", "inH2O (60 degF)", "kgf/cm2 (technical atmosphere)",
    "hp (550 ft lbf/s)", "US gallon", "knot", "circular mil", "ohm/1000 ft",
}  # fmt: skip
SPECIAL = {"degF to degC", "degF interval", "0 degC", "1013.25 hPa", "29.92 inHg", "mbar = hPa"}
FACTORS = [row for row in TABLE if row["unit"] not in NOT_OFFERED | SPECIAL]


def _unit(text: str) -> str:
    return text.replace(" conventional (0 degC)", "").replace(" conventional", "")


def _convert(value: float, unit: str, to: str) -> float:
    return from_si(to_si(value, _unit(unit)), to)


@pytest.mark.parametrize("row", FACTORS, ids=lambda row: f"{row['unit']} to {row['to']}")
def test_factor(row: Any) -> None:
    """A wrong factor would shift every pressure, length or resistance by its error."""
    got = _convert(1.0, row["unit"], row["to"])
    # 1e-12: the file prints 13 digits of values that follow exactly from the definitions.
    assert got == pytest.approx(float(row["value"]), rel=1e-12)
    printed = re.match(r"([\d.]+) E([+-]\d+)", row["nist_sp811"] or "")
    if printed:
        # 1e-6: SP 811 prints seven digits (from memory).
        assert got == pytest.approx(float(f"{printed[1]}e{printed[2]}"), rel=1e-6)


@pytest.mark.parametrize("unit", sorted(NOT_OFFERED))
def test_not_offered(unit: str) -> None:
    """A unit that is not offered would be taken silently for another one, 0.28 % off for warm mercury."""
    assert any(row["unit"] == unit for row in TABLE)
    with pytest.raises(InputError):
        parse_unit(unit)


def test_every_row_is_used() -> None:
    """A row of the table would go unchecked."""
    assert len(FACTORS) + len(NOT_OFFERED) + len(SPECIAL) == len(TABLE)


@pytest.mark.parametrize(("fahrenheit", "celsius"), [(32.0, 0.0), (212.0, 100.0), (-40.0, -40.0), (0.0, -160 / 9)])
def test_fahrenheit(fahrenheit: float, celsius: float) -> None:
    """Fahrenheit readings would be off by zero or scale: (t - 32)/1.8, exact."""
    assert to_si(fahrenheit, "degF") == pytest.approx(celsius, abs=1e-12)


def test_fahrenheit_interval_and_kelvin() -> None:
    """An uncertainty in degF would be shifted by 32, or 273.15 lost."""
    assert interval_to_si(1.0, "degF") == pytest.approx(0.555555555556, abs=1e-12)
    assert from_si(0.0, "K") == 273.15


def test_altimeter_settings() -> None:
    """29.92 inHg would be taken for 1013.25 hPa, 4 Pa off."""
    assert from_si(101_325.0, "inHg") == pytest.approx(29.92125558, abs=5e-9)
    assert parse_quantity("29.92 inHg", "hPa") / 100 == pytest.approx(1013.207481, abs=5e-7)


def test_millibar() -> None:
    """A millibar would not be a hectopascal."""
    assert to_si(1.0, "mbar") == to_si(1.0, "hPa") == 100.0
