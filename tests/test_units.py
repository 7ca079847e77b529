"""Units: round trips, spellings, headings, and what must be refused."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sensorcal import units
from sensorcal.errors import InputError

ALL = sorted(units._TABLE)


@given(unit=st.sampled_from(ALL), value=st.floats(-1e7, 1e7))
def test_round_trip(unit: str, value: float) -> None:
    """Going to the home unit and back would change the number."""
    # Two roundings of a shift by up to 460: a few units in the last place of value and shift.
    assert units.from_si(units.to_si(value, unit), unit) == pytest.approx(value, rel=1e-14, abs=2e-13)
    assert units.interval_from_si(units.interval_to_si(value, unit), unit) == pytest.approx(value, rel=1e-14)


def test_arrays() -> None:
    """A column of readings could not be converted at once."""
    got = units.to_si(np.array([32.0, 212.0]), "degF")
    assert got.tolist() == [0.0, 100.0]


@pytest.mark.parametrize(
    ("text", "unit"),
    [("°C", "degC"), ("° C", "degC"), ("Celsius", "degC"), ("C", "degC"), ("°F", "degF"), ("K", "K"), ("k", "kohm"),
     ("kΩ", "kohm"), ("k\u2126", "kohm"), ("KOHM", "kohm"), ("Ω", "ohm"), ("ohms", "ohm"), ("MΩ", "Mohm"),
     ("HPA", "hPa"), ("mb", "mbar"), ("in Hg", "inHg"), ("psi", "psi"), ("PSI", "psi"), ("feet", "ft"), ("'", "ft"),
     ("%", "%"), ("µA", "uA"), ("mm", "mm"), ("MPa", "MPa")],
)  # fmt: skip
def test_spellings(text: str, unit: str) -> None:
    """A usual spelling would not be understood, or be taken for another unit."""
    assert units.parse_unit(text) == unit


@pytest.mark.parametrize("text", ["mΩ", "mohm", "furlong", "", "degX"])
def test_refused_units(text: str) -> None:
    """Milliohm would become megohm, or nonsense pass."""
    with pytest.raises(InputError):
        units.parse_unit(text)


@pytest.mark.parametrize(
    ("text", "default", "si"),
    [("2100ft", "m", 640.08), ("29.80inHg", "hPa", 100914.38), ("0,3 ohm", "", 0.3), ("1.80k", "ohm", 1800.0),
     ("640", "m", 640.0), (640, "m", 640.0), ("3 %", "1", 0.03), ("−5 °C", "degC", -5.0), ("20 k", "degC", -253.15),
     (".5 V", "", 0.5), ("1e3 Pa", "", 1000.0)],
)  # fmt: skip
def test_quantities(text: str, default: str, si: float) -> None:
    """A typed quantity would be read wrongly."""
    assert units.parse_quantity(text, default) == pytest.approx(si, rel=1e-7)


@pytest.mark.parametrize(
    ("text", "default", "dimension"),
    [("abc", "m", ""), ("5", "", ""), ("5 kPa", "m", ""), ("1,234.5", "m", ""), ("nan", "m", ""), ("1e999", "m", ""),
     ("5 ft", "", "pressure"), (float("inf"), "m", "")],
)  # fmt: skip
def test_refused_quantities(text: str, default: str, dimension: str) -> None:
    """Nonsense, a missing unit or another quantity would pass as a number."""
    with pytest.raises(InputError):
        units.parse_quantity(text, default, dimension)


def test_differences() -> None:
    """An uncertainty of 0.9 degF would be read as -17 degC."""
    assert units.parse_quantity("0.9 degF", "degC", difference=True) == pytest.approx(0.5)
    assert units.format_quantity(0.5, "degF", 1, difference=True) == "0.9 degF"


@pytest.mark.parametrize(
    ("heading", "name", "unit"),
    [("P1 [kΩ]", "P1", "kohm"), ("P1 (ohm)", "P1", "ohm"), ("P1/ohm", "P1", "ohm"), ("P1_ohm", "P1", "ohm"),
     ("reference °C", "reference", "degC"), ("P1", "P1", ""), ("reference_id", "reference_id", ""),
     ("supply volts", "supply", "V"), ("note", "note", ""), ("T [K]", "T", "K"), ("P1 []", "P1", ""),
     ("time [min]", "time", "min")],
)  # fmt: skip
def test_headings(heading: str, name: str, unit: str) -> None:
    """A column would get the wrong unit."""
    assert units.parse_header(heading) == (name, unit)


def test_heading_with_nonsense_unit() -> None:
    """A unit nobody knows would be ignored in silence."""
    with pytest.raises(InputError):
        units.parse_header("P1 [furlong]")
