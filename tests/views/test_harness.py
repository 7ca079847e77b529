"""The harness page: a box beside every expected number, black and white, complete, and in the owner's units."""

from __future__ import annotations

import csv
import io
import re
from dataclasses import replace

import pytest

from sensorcal.bench.demo_harness import harness_setup
from sensorcal.installed.harnesssheet import harness_sheet
from sensorcal.setup import UnitsOut
from sensorcal.views.harness import harness_html, harness_lines, wires_csv

SHEET = harness_sheet(harness_setup())
PAGE = harness_html(SHEET)


def test_a_box_for_every_wire_and_every_check():
    """If this fails, an expected number stands on the page without a place to write the reading."""
    read = 1 * len(SHEET.wires)  # ohms end to end
    insulation = len(SHEET.roles)
    sensor = 2 * sum(one.kind == "sensor" for one in SHEET.checks)
    body = sum(one.label == "body to ground" for one in SHEET.checks)
    powered = sum(len(one.expected) for one in SHEET.checks if one.powered)
    assert PAGE.count('class="w"') == read + insulation + sensor + body + powered


@pytest.mark.parametrize("label", [one.label for one in SHEET.wires])
def test_every_wire_is_on_the_page_and_in_the_csv(label):
    """If this fails, a wire is left out of the list that is taken to the aircraft."""
    assert PAGE.count(f"<b>{label}</b>") == 1
    assert wires_csv(SHEET).count(f"{label},") == 1


def test_positions_in_the_firewall():
    """If this fails, positions are not beside their wires, or there is no box where one is to be chosen."""
    for one in SHEET.wires:
        row = PAGE[PAGE.index(f"<b>{one.label}</b>") :].split("</tr>")[0]
        if one.firewall:
            assert f">{one.firewall}</td>" in row
        else:
            assert row.count('class="k"') == 2


def test_expected_numbers_are_those_of_the_checks():
    """If this fails, the page shows other volts than were computed."""
    for check in SHEET.checks:
        if check.kind == "substitution":
            assert f"{check.expected[0].value:.2f}" in PAGE


def test_warnings_stand_first():
    """If this fails, the installer crimps before reading that the oil sensor is too small."""
    assert PAGE.index("will see 800 kPa") < PAGE.index("P1-S")
    assert "4 things to settle" in PAGE
    assert "NO, see the top of the sheet" in PAGE


def test_it_prints_in_black_and_white_without_anything_fetched():
    """If this fails, the page needs colour, a script or a network in the hangar."""
    assert "<script" not in PAGE
    assert not re.search(r"https?://|@import|url\(", PAGE)
    for colour in re.findall(r"#([0-9a-fA-F]{3})\b", PAGE):
        assert len(set(colour.lower())) == 1, colour


def test_marked_as_invented_with_cautions():
    """If this fails, an invented harness passes for a real one, or the page goes out without its cautions."""
    assert "Invented data" in PAGE
    assert "Never put an ohmmeter on a powered" in PAGE
    assert "makers&#39; manuals" in PAGE
    assert wires_csv(SHEET).startswith("# Invented data")
    assert "safe to fly" not in PAGE


def test_the_csv_reads_back():
    """If this fails, a spreadsheet gets broken rows or lengths that are no numbers."""
    rows = list(csv.DictReader(io.StringIO("".join(wires_csv(SHEET).splitlines(keepends=True)[1:]))))
    assert len(rows) == len(SHEET.wires)
    assert sum(float(row["length_m"]) for row in rows) == pytest.approx(sum(one.length_m for one in SHEET.wires))
    assert rows[0]["from"] == "thermostat housing, 2-pin plug"


def test_feet_and_fahrenheit():
    """If this fails, lengths stay in metres or displays in degC for an owner of the other units."""
    units = UnitsOut(temperature="degF", pressure="psi", altitude="ft")
    page = harness_html(harness_sheet(replace(harness_setup(), units=units)), units)
    assert "buy, ft" in page
    assert "°F" in page
    assert "°C" not in page
    assert "kPa" not in page


def test_text_of_the_setup_is_escaped():
    """If this fails, a role with an angle bracket breaks the page."""
    setup = harness_setup()
    wired = {**setup.channels, "P1": replace(setup.channels["P1"], start="<b>head & block</b>")}
    page = harness_html(harness_sheet(replace(setup, channels=wired)))
    assert "&lt;b&gt;head &amp; block&lt;/b&gt;" in page


def test_the_same_sheet_gives_the_same_page():
    """If this fails, a page cannot be compared with last year's."""
    assert harness_html(harness_sheet(harness_setup())) == PAGE


def test_lines_for_a_screen():
    """If this fails, the command does not say what to buy and what is in doubt."""
    said = "\n".join(harness_lines(SHEET))
    assert "16 wires for 7 sensors" in said
    assert "15 m of 20 AWG tin-plated (4 runs)" in said
    assert "O1 oil pressure: ends at 600 kPa" in said
