"""Columns to channels: the setup rules, a probe's tag comes next, words last; two claims to one channel are refused."""

from __future__ import annotations

import pytest

from sensorcal.engine import LogColumns
from sensorcal.errors import FileError
from sensorcal.firststart.logcolumns import read_columns
from sensorcal.setup import Probe, Setup, UnitsOut


def setup(**columns: str) -> Setup:
    """Give a setup whose [log.columns] are these."""
    return Setup(log=LogColumns(columns={name.replace("__", " "): value for name, value in columns.items()}))


def test_the_setup_rules_over_words() -> None:
    """If it failed, a builder could not correct a wrong guess."""
    found = read_columns(["Time [s]", "CLT", "Oil temp"], setup(CLT="gearbox_oil degF", Oil__temp="ignore"))
    assert found.channels == {"gearbox_oil": 1}
    assert found.described["gearbox_oil"].unit == "degF"
    assert found.described["gearbox_oil"].why == "by the setup's [log.columns]"
    assert found.ignored == ("Oil temp",)


@pytest.mark.parametrize("value", ["oil_pressure bar", "oil pressure bar", "Oil Pressure [bar]", "oil_pressure"])
def test_spellings_in_the_setup(value: str) -> None:
    """If it failed, a builder would have to know how the tool spells a channel."""
    found = read_columns(["n [s]", "X1 [bar]"], setup(**{"X1 [bar]": value, "n [s]": "time s"}))
    assert found.channels == {"oil_pressure": 1}
    assert found.described["oil_pressure"].unit == "bar"
    assert (found.time, found.time_unit) == (0, "s")


@pytest.mark.parametrize(
    ("value", "said"), [("coolent", "no channel"), ("coolant psi", "no unit"), ("coolant furlongs", "no unit known")]
)
def test_a_wrong_word_in_the_setup_is_named(value: str, said: str) -> None:
    """If it failed, a misspelling would silently leave a channel out."""
    with pytest.raises(FileError, match=said) as caught:
        read_columns(["Time", "CLT"], setup(CLT=value), file="log.csv", row=3)
    assert "log.csv, row 3, column CLT" in str(caught.value)
    assert value in str(caught.value)


def test_a_name_in_the_setup_that_the_file_lacks_is_a_caution() -> None:
    """If it failed, a setup of another monitor would go unnoticed."""
    found = read_columns(["Time", "CLT"], setup(ECT="coolant"))
    assert any("'ECT', which is no column" in caution for caution in found.cautions)


def test_tags_of_the_probes_name_columns() -> None:
    """If it failed, a monitor labelled P1 to P4 could not be read although the setup says what they are."""
    probes = {
        "P1": Probe(name="P1", role="coolant"), "P2": Probe(name="P2", role="gearbox oil"),
        "O1": Probe(name="O1", role="oil pressure", measurand="pressure", signal="ratio"), "P4": Probe(name="P4"),
    }  # fmt: skip
    found = read_columns(["Time", "P1 [°F]", "p2", "O1 bar", "P4"], Setup(probes=probes))
    assert found.channels == {"coolant": 1, "gearbox_oil": 2, "oil_pressure": 3}
    assert found.described["coolant"].unit == "degF"
    assert found.described["gearbox_oil"].why == "by the tag of probe P2"
    assert any("P4, which has no role" in caution for caution in found.cautions)


def test_a_tag_and_a_word_that_disagree_are_not_read() -> None:
    """If it failed, one of two contradicting names would win silently."""
    found = read_columns(["Time", "P1 oil temp"], Setup(probes={"P1": Probe(name="P1", role="coolant")}))
    assert found.channels == {}
    assert any("says otherwise" in caution for caution in found.cautions)


def test_two_columns_for_one_channel_are_refused() -> None:
    """If it failed, one of two coolant readings would be thrown away by chance."""
    with pytest.raises(FileError) as caught:
        read_columns(["Time", "CLT", "Water temp"], Setup(), file="log.csv", row=1)
    said = str(caught.value)
    for part in ("log.csv", "'CLT'", "'Water temp'", "[log.columns]", "ignore"):
        assert part in said


@pytest.mark.parametrize(
    ("headings", "channel", "place"),
    [(["Time", "CLT", "CLT max"], "coolant", 1), (["Time", "Oil temp", "Gearbox oil temp"], "gearbox_oil", 2),
     (["Time", "Prop RPM", "Engine RPM"], "rpm", 2), (["Time", "Volts", "Bus V"], "bus", 2)],
)  # fmt: skip
def test_the_exact_heading_wins_over_the_general_one(headings: list[str], channel: str, place: int) -> None:
    """If it failed, a maximum, the propeller or the engine's oil would be read as the channel, or the file refused."""
    found = read_columns(headings, Setup())
    assert found.channels == {channel: place}
    assert len(found.ignored) == 1


def test_missing_units_are_those_of_the_setup_and_said() -> None:
    """If it failed, a bare column would be read in a unit nobody named."""
    found = read_columns(["Time", "CLT", "Oil P", "MAP"], Setup(units=UnitsOut(temperature="degF", pressure="psi")))
    assert {name: (c.unit, c.stated) for name, c in found.described.items()} == {
        "coolant": ("degF", False), "oil_pressure": ("psi", False), "map": ("psi", False),
    }  # fmt: skip
    assert sum("no unit stands there" in note for note in found.notes) == 3


def test_a_row_of_units_below_the_headings() -> None:
    """If it failed, 'Oil' over 'degC' would stay in doubt although the file says which it is."""
    found = read_columns(["Time", "Oil", "Oil P", "MAP"], Setup(), units=["s", "degC", "bar", "inHg"])
    assert {name: c.unit for name, c in found.described.items()} == {
        "gearbox_oil": "degC", "oil_pressure": "bar", "map": "inHg",
    }  # fmt: skip


def test_gauge_and_boost_are_a_caution_not_a_repair() -> None:
    """If it failed, a manifold pressure counted from the air outside would pass as absolute, or be changed silently."""
    for heading in ("MAP (kPa gauge)", "Boost [psi]"):
        found = read_columns(["Time", heading], Setup())
        assert found.channels == {"map": 1}
        assert any("read as" in caution for caution in found.cautions)
    assert read_columns(["Time", "MAP (kPa abs)"], Setup()).cautions == ()


def test_every_column_read_is_told_with_its_why() -> None:
    """If it failed, a guess would not be shown."""
    found = read_columns(["Time [s]", "CLT [°C]", "RPM", "EGT1"], Setup())
    assert any("'CLT [°C]' is coolant in degC, by trade words" in note for note in found.notes)
    assert any("'RPM' is engine speed" in note for note in found.notes)
    assert found.ignored == ("EGT1",)
