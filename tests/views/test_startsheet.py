"""The start sheet as a page: complete, black and white, one card with six numbers, in the reader's units."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest

from sensorcal.bench.demo_harness import harness_setup
from sensorcal.engine import JUDGED
from sensorcal.firststart.expected import EVENTS, PHASES, start_sheet
from sensorcal.firststart.logread import read_log
from sensorcal.setup import Field, Setup, UnitsOut
from sensorcal.setupfile import read_setup
from sensorcal.views.startsheet import CAUTIONS, events_csv, start_sheet_html, start_sheet_lines

STARTS = read_setup(Path(__file__).parents[2] / "data" / "starts" / "setup.toml")
SHEET = start_sheet(STARTS)


def page_of(sheet, units=None):
    """Give the page with plain spaces and minus signs."""
    return start_sheet_html(sheet, units, field="invented field").replace("\u00a0", " ").replace("\u2212", "-")


PAGE = page_of(SHEET, STARTS.units)


def test_every_phase_and_channel_is_on_the_page():
    """A phase or channel would be missing on the sheet that is taken to the aircraft."""
    for phase in PHASES:
        assert f"<th>{phase}</th>" in PAGE
    for name in ("Coolant", "Gearbox oil", "Charge air in", "Charge air out", "Oil pressure", "Fuel pressure", "MAP"):
        assert name in PAGE
    # A box for every event and column.
    assert PAGE.count('<td class="n">') == 3 * len(JUDGED) + len(EVENTS)
    assert PAGE.count("<td></td>") == len(EVENTS) * 9


def test_numbers_of_the_sheet():
    """The page would show other numbers than were computed."""
    for told in ("93.5 ± 1.2", "11 to 17", "84 to 98", "5 to 15 a minute", "300 ± 15", "0 ± 10", "above 120"):
        assert told in PAGE, told
    assert "119 °C" in PAGE
    assert "BELOW the coolant" in PAGE


def test_the_card_of_the_fire_guard():
    """Job-map 9.10: the card would not hold six numbers and the stop rule, or guess a limit nobody typed."""
    card = PAGE[PAGE.index("FIRE GUARD") :]
    numbers = re.findall(r'<td class="v">([^<]+)</td>', card)
    assert numbers == ["10 s", "120 kPa", "120 °C", "130 °C", "230 kPa", "145 kPa"]
    assert "STOP at once: no oil pressure by 10 s" in card
    # Nobody stated the maker's time: the usual one must not pass for it.
    assert "or the maker&#39;s shorter time" in card
    stated = replace(STARTS, engine=replace(STARTS.engine, oil_rise_s=8.0))
    assert "shorter time" not in page_of(start_sheet(stated))
    empty = page_of(start_sheet(Setup(field=Field(elevation_m=640.0, qnh_pa=100_900.0))))
    numbers = re.findall(r'<td class="v">([^<]+)</td>', empty)
    assert numbers[1:] == ["______ kPa", "______ °C", "______ °C", "______ kPa", "______ kPa"]
    assert "Fill in from the engine maker" in empty


@pytest.mark.parametrize(
    "word",
    ["Propeller", "Chocks", "fire guard", "extinguisher", "Hearing", "exhaust", "stop signal", "whatever any software",
     "until a gauge", "makers' manuals", "in the maker's time: do not start", "Ignition off, fuel off, plugs out"],
)  # fmt: skip
def test_cautions(word):
    """A caution of the first start would be missing."""
    assert word in PAGE.replace("&#39;", "'")
    assert len(CAUTIONS) == 8


def test_it_prints_in_black_and_white_without_anything_fetched():
    """The page would need colour, a script or a network at the field."""
    assert "<script" not in PAGE
    assert not re.search(r"https?://|@import|url\(", PAGE)
    for colour in re.findall(r"#([0-9a-fA-F]{3})\b", PAGE):
        assert len(set(colour.lower())) == 1, colour
    assert "Invented data" in PAGE
    assert "safe to" not in PAGE
    assert "airworthy" not in PAGE


def test_reader_units():
    """A reader of °F and psi would find degrees of the other kind on the card."""
    units = UnitsOut(temperature="degF", pressure="psi")
    page = page_of(start_sheet(replace(STARTS, units=units)), units)
    numbers = re.findall(r'<td class="v">([^<]+)</td>', page)
    assert numbers == ["10 s", "17.4 psi", "248 °F", "266 °F", "33.4 psi", "21.0 psi"]
    assert "13.56" in page  # 93.47 kPa
    assert "52 to 63" in page  # 11 to 17 degC at rest
    assert "9 to 27 a minute" in page  # 5 to 15 degC: a difference
    assert "°C" not in page.replace("19 times", "")


def test_typed_list_is_read_as_events(tmp_path):
    """The list that the sheet asks for could not be read by the check of the log."""
    rows = events_csv(STARTS.units).splitlines()
    assert [row.split(",")[0] for row in rows] == ["event", *EVENTS]
    filled = [rows[0]]
    for index, event in enumerate(EVENTS):
        cells = [str(12 + index), str(12 + index), "13", "13", "0", "300" if index else "0", "93.5", "0", "12.6"]
        filled.append(",".join([event, *cells]))
    path = tmp_path / "events.csv"
    path.write_text("\n".join(filled) + "\n", encoding="utf-8")
    log = read_log(path, STARTS)
    assert log.kind == "events"
    assert set(log.values) >= set(JUDGED) | {"rpm", "bus"}
    assert len(log) == len(EVENTS)
    assert log.values["map"][0] == pytest.approx(93_500.0)
    assert log.values["coolant"][-1] == pytest.approx(24.0)


def test_lines_for_a_screen():
    """The short form would lack the card or the numbers at rest."""
    said = "\n".join(start_sheet_lines(start_sheet(harness_setup())))
    assert "sealed gauge" in said
    assert "Oil pressure shows within, or the maker's shorter time: 10 s" in said
    assert "93.5 ± 1.2" in said
    assert "lowest fuel pressure" in said
