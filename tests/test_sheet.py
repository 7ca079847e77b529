"""The maker's sheet as people paste it."""

import pytest

from sensorcal.errors import InputError
from sensorcal.sheet import parse_sheet

PAIRS = ((0.0, 5230.0), (25.0, 1800.0), (97.7, 172.1))


@pytest.mark.parametrize(
    "text",
    [
        "0 5230\n25 1800\n97.7 172.1",
        "0; 5,23k\n25; 1,80k\n97,7; 0,1721k",
        "T [°C]; R [kΩ]\n0; 5,23\n25; 1,80\n97,7; 0,1721",
        "T (°F)\tR (ohm)\n32\t5230\n77\t1800\n207.86\t172.1",
        "97.7,172.1\n25,1800\n0,5230",
        "temperature,resistance\n0, 5230\n25, 1800\n97.7, 172.1",
        "# our sheet\n\n0 °C 5230 Ω\n25 °C 1.8 kΩ\n97.7 °C 172.1 Ω",
        "R [ohm];T [K]\n5230;273.15\n1800;298.15\n172.1;370.85",
        "\ufeff0 | 5230\n25 | 1800\n97.7 | 172.1",
        "0\t5230\r\n25\t1800\r\n97.7\t172.1\r\n",
    ],
)
def test_writings(text: str) -> None:
    """One of the usual ways of writing a sheet would be read wrongly."""
    got = parse_sheet(text)
    assert [t for t, _ in got] == pytest.approx([t for t, _ in PAIRS], abs=1e-9)
    assert [r for _, r in got] == pytest.approx([r for _, r in PAIRS], rel=1e-12)


@pytest.mark.parametrize(
    ("text", "row", "word"),
    [
        ("0 5230\n25 8100", 2, "falls"),
        ("0 5230\n0 5231", 2, "twice"),
        ("0 5230\n25", 2, "one temperature"),
        ("0 5230 5300\n25 1800 1900", 1, "nominal"),
        ("5230 0\n1800 25", 1, "temperature first"),
        ("0 5230\n25 -3", 2, "ohm"),
        ("0 5230\n25 abc", 2, "one temperature"),
    ],
)
def test_refusals(text: str, row: int, word: str) -> None:
    """A typing slip in the sheet would become the prior of every fit."""
    with pytest.raises(InputError) as caught:
        parse_sheet(text)
    assert caught.value.row == row
    assert word in str(caught.value)


def test_empty() -> None:
    """An empty sheet would pass as a sheet."""
    with pytest.raises(InputError, match="no rows"):
        parse_sheet("# nothing\n\n")
