"""The report of a pressure sensor: what stands on it, in which order and units, and on one sheet."""

from __future__ import annotations

import dataclasses
import math
import re
from pathlib import Path

import pytest

from sensorcal.bench.runfile import read_run
from sensorcal.book.facts import Remark
from sensorcal.book.pressurerecord import (
    PressureRecord,
    pressure_document,
    pressure_facts,
    read_pressure_record,
    write_pressure_record,
)
from sensorcal.calibration.pressurerun import calibrate_pressure
from sensorcal.installed.pressuretable import PressureInput, make_pressure_table
from sensorcal.installed.twoconstants import two_constants
from sensorcal.setup import UnitsOut
from sensorcal.setupfile import read_setup
from sensorcal.views.pressurekeyed import pressure_table_page_html
from sensorcal.views.pressurereport import pressure_report_html
from sensorcal.views.pressurewords import in_unit
from tests.views.test_report import BROWSER, Text, printed_pages

DATA = Path(__file__).parents[2] / "data" / "pressure"
VOLTS = PressureInput(kind="voltage", supply_v=5.0, signal_step=0.01, value_step=1.0, rows=8)
AMERICAN = UnitsOut(pressure="psi", temperature="degF", altitude="ft")
LIMITS = (("low limit", 150e3),)


def made(name: str, tag: str) -> PressureRecord:
    """Fit one sensor of the invented evening."""
    setup = read_setup(DATA / "setup.toml")
    run = read_run(DATA / f"2026-05-16-{name}.csv", setup)
    result = calibrate_pressure(run, setup, tag)
    facts = pressure_facts(result, run, setup, written="2026-05-17")
    digest = str(pressure_document(result.calibration, facts)["content_sha256"])
    return PressureRecord(calibration=result.calibration, facts=facts, content_sha256=digest)


@pytest.fixture(scope="module")
def oil() -> PressureRecord:
    """The oil pressure sensor."""
    return made("oil", "O1")


@pytest.fixture(scope="module")
def table(oil):
    """Its table in volts with a row at the low limit."""
    return make_pressure_table(
        oil.calibration, VOLTS, from_pa=0.0, to_pa=1e6, at_pa=[150e3], tested_range_pa=oil.calibration.tested_pa
    )


def test_order_of_the_page(oil, table):
    """If it failed, a mechanic would look for the limit and the rows behind statistics."""
    text = str(Text(pressure_report_html(oil, table, limits_pa=LIMITS)))
    order = [
        "At the 150 kPa low limit: 22.09 % of supply (1.104 V at 5 V); 150.0 kPa ± 8.2 (19 times in 20)",
        "What to key in",
        "In plain words",
        "The engine maker's manual, local rules and a licensed mechanic decide",
        "Never fuel on the bench",
        "In the terms of its data sheet",
        "U at each pressure",
        "What stands behind ± in use",
        "Questions and blunders",
        "Where it comes from",
        "Content of the record: SHA-256",
        "Show the arithmetic",
        "Signed",
    ]
    places = [text.index(one) for one in order]
    assert places == sorted(places)
    assert "Record O1-2026-05-16" in text
    assert "own workshop record, not an accredited certificate" in text
    assert oil.content_sha256[:16] in text
    for word in ("airworthy", "safe to fly"):
        assert word not in text.lower()


def test_numbers_are_those_of_the_record(oil):
    """If it failed, the page would be a picture of another sensor: zero, terms, U per point and budget."""
    text = str(Text(pressure_report_html(oil)))
    cal = oil.calibration
    assert f"{100 * cal.zero_ratio:.2f} % of supply at 0 kPa" in text
    hysteresis = next(line for line in oil.facts.statements if line.startswith("hysteresis")).split()[1]
    assert f"hysteresis {hysteresis} 0.28 %" in text
    assert re.search(r"linearity, independent 0\.45 0\.04 %", text)
    # U at 400 kPa by hand from its parts as printed in the guides' manner: gauge 3.01 kPa, loop, cycles, zero, digits.
    u = (3.01**2 + (1.478**2 + 4.498**2 + 2.147**2 + 0.28**2) / 12) ** 0.5
    assert re.search(rf"400\.1 \S+ \S+ 1\.48 4\.50 3\.01 {math.ceil(20 * u) / 10:.1f} ", text)
    assert "together 4.26 3.90 4.29" in text


def test_the_record_alone_makes_the_page(oil, table, tmp_path):
    """If it failed, the page of an old record could not be printed again."""
    path = tmp_path / "O1.json"
    write_pressure_record(path, oil.calibration, oil.facts)
    assert pressure_report_html(read_pressure_record(path), table) == pressure_report_html(oil, table)


def test_units_of_the_users_choice_everywhere(oil):
    """If it failed, kPa would stand beside psi on one page without saying so."""
    text = str(Text(pressure_report_html(oil, None, AMERICAN, limits_pa=LIMITS)))
    before = text[: text.index("Assumed, not measured")]
    assert "kPa" not in before
    assert "°C" not in before
    assert "From 68 to 158 °F the zero moves +0.476 psi ± 0.206" in text
    assert "body at 68 to 194 °F, effect as measured" in text
    assert "At the 21.8 psi low limit" in text
    # 2.83 kPa over 6.895 kPa a psi
    assert "hysteresis 0.411 0.28 %" in text


@pytest.mark.parametrize(
    ("said", "expected"),
    [
        ("supply 4.921 V: up to -17.8 kPa (at 999 kPa)", "supply 4.921 V: up to -2.58 psi (at 145 psi)"),
        ("± 12 kPa stands in the budget", "± 1.74 psi stands in the budget"),
        ("0.6 kPa (standard) is assumed", "0.0870 psi (standard) is assumed"),
        ("plus 101.325 kPa minus the air's pressure", "plus 14.6959 psi minus the air's pressure"),
        ("it reads 0.0 kPa ± 5.0 here", "it reads 0 psi ± 0.725 here"),
    ],
)
def test_sentences_change_their_unit(said, expected):
    """If it failed, a sentence would keep a number of kPa under the name psi, or lose its ±."""
    assert in_unit(said, "psi") == expected
    assert in_unit(said, "kPa") == said


def test_rows_and_constants_are_on_both_pages(oil, table):
    """If it failed, a row would be missing in the monitor."""
    for html in (pressure_report_html(oil, table), pressure_table_page_html(table, oil)):
        found = re.findall(r"<tr[^>]*><td[^>]*>(\d+)</td><td>([^<]+)</td><td class=\"v\">([^<]+)<", html)
        assert [(int(n), a, b.replace("−", "-")) for n, a, b in found] == [
            (n, VOLTS.signal_text(s), VOLTS.value_text(v))
            for n, (s, v) in enumerate(zip(table.signal, table.value, strict=True), start=1)
        ]
        assert html.count('<span class="star">*</span>') == sum(table.extrapolated)
    assert html.count('class="box"') == len(table.signal)
    constants = two_constants(oil.calibration, VOLTS, high_pa=1e6)
    for html in (pressure_report_html(oil, constants), pressure_table_page_html(constants, oil)):
        text = str(Text(html))
        assert f"zero {VOLTS.signal_text(constants.zero_signal)} 0" in text
        assert f"span {VOLTS.signal_text(constants.full_signal)} 1000" in text
        assert "Where the monitor asks for a slope" in text
    assert "two constants" in text


def test_an_open_question_stops_the_reader_at_the_top(oil):
    """If it failed, somebody would key in a table made from a wrong reading."""
    remark = Remark(kind="blunder", what="wrong-reading:O1", text="row 6: 400 kPa, likely 404 kPa")
    facts = dataclasses.replace(oil.facts, remarks=(remark,))
    text = str(Text(pressure_report_html(dataclasses.replace(oil, facts=facts))))
    assert text.index("A reading is questioned: row 6: 400 kPa, likely 404 kPa. Key nothing in") < text.index(
        "plain words"
    )
    assert "Still open." in text
    kept = dataclasses.replace(facts, remarks=(dataclasses.replace(remark, answer="kept, because read twice"),))
    assert "Key nothing in" not in str(Text(pressure_report_html(dataclasses.replace(oil, facts=kept))))


def test_texts_of_the_user_cannot_break_the_page(oil):
    """If it failed, a '<' in a note would hide the rest of the page, or run as a script; nothing may be fetched."""
    facts = dataclasses.replace(oil.facts, role="<script>alert(1)</script>")
    html = pressure_report_html(dataclasses.replace(oil, facts=facts))
    assert "&lt;script&gt;" in html
    assert not re.search(r"<(?:script|link|img|iframe|object|embed)\b|@import|\son\w+=", html)
    assert not re.search(r'(?:href|src)="(?!#)', html)


@pytest.mark.skipif(BROWSER is None, reason="no Chromium here to print with")
@pytest.mark.parametrize("paper", ["A4", "letter"])
def test_prints_on_one_page(oil, table, tmp_path, paper):
    """If it failed, half of the record would be lost in a drawer."""
    fuel = made("fuel", "F1")
    remark = Remark(
        kind="blunder", text="row 6: 400 kPa, likely 404 kPa, two digits of the gauge transposed", answer=""
    )
    crowded = dataclasses.replace(fuel, facts=dataclasses.replace(fuel.facts, remarks=(remark,) * 2))
    pages = {
        "with table": pressure_report_html(oil, table, limits_pa=LIMITS),
        "crowded": pressure_report_html(crowded, None, AMERICAN),
        "sheet": pressure_table_page_html(table, oil, limits_pa=LIMITS),
    }
    for name, html in pages.items():
        assert printed_pages(html, tmp_path, paper) == 1, name
