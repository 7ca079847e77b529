"""The sheet of a channel as people read it: the same numbers in words, pictures, page and JSON, in their own units."""

from __future__ import annotations

import json
import math
import re
from dataclasses import replace

import numpy as np
import pytest

from sensorcal.bench.demo_harness import harness_setup
from sensorcal.calibration.thermistor import fit_thermistor
from sensorcal.installed.channelsheet import channel_sheet
from sensorcal.installed.fromsetup import installed_channel
from sensorcal.installed.monitor import monitor_input
from sensorcal.installed.readout import ReadOut
from sensorcal.installed.throughchain import make_chain_table
from sensorcal.measure.terms import term
from sensorcal.setup import UnitsOut
from sensorcal.setupfile import setup_from_text
from sensorcal.views.budgetview import budget_lines, budget_sentence, budget_text, range_figure, tornado_figure
from sensorcal.views.chainpage import (
    chain_lines,
    chain_machine,
    chain_page_html,
    drawn_sentence,
    read_sentence,
    table_sentences,
)

SETUP = setup_from_text("""
[probes.P1]
role = "coolant"
redline = "120 degC"
range_low = "0 degC"
[channels.P1]
length = "4 m"
gauge = 18
contact = "0.3 ohm"
returns = "case"
ground = "0.020 V"
[monitor]
pull_up = "1000 ohm"
supply = "5 V"
past_ends = "holds"
interpolation = "linear in ln signal"
""")
CALIBRATION = fit_thermistor(
    [0.0, 50.0, 97.7], [5230.0, 721.0, 172.1], (term("bath", 0.1, 3, common=False),), sensor="P1"
)
CHANNEL = installed_channel(SETUP, "P1", CALIBRATION, record="record P1-invented")
SHEET = channel_sheet(CHANNEL, shown_values=[97.0, 180.0])
FAHRENHEIT = UnitsOut(temperature="degF")


def test_redline_first_and_the_dangerous_direction_called_out():
    """If this fails, a ground that hides an overheating engine stands somewhere in the middle of the page."""
    said = budget_sentence(SHEET.point, redline=True)
    assert said.startswith("At the 120 °C redline the panel is -1.")
    assert "what matters most is ground, constant (-1.84" in said
    assert said.endswith("DANGEROUS DIRECTION: it reads too cold when hot.")
    assert said in chain_lines(SHEET)
    assert 'class="big stop"' in chain_page_html(SHEET)
    hot = replace(SHEET.point, dangerous=False)
    assert "DANGEROUS" not in budget_sentence(hot)
    pressure = replace(SHEET.point, unit="Pa", dangerous=True)
    assert "safe-looking side" in budget_sentence(pressure)
    assert budget_sentence(replace(pressure, measurand=150e3), redline=True).startswith("At the 150 kPa limit")
    assert "the panel is 0.00 °C off" in budget_sentence(replace(hot, error=0.0))


def test_parts_add_up_to_the_total():
    """If this fails, the lines that people read are not the budget."""
    lines = budget_lines(SHEET.point)
    assert sum(line.error for line in lines) == pytest.approx(SHEET.point.error, abs=1e-9)
    assert math.hypot(*(line.expanded for line in lines)) == pytest.approx(SHEET.point.expanded, rel=1e-9)
    assert lines[0].name == "ground, constant"
    text = budget_text(SHEET.point)
    assert text[-1].split()[-2:] == [f"{SHEET.point.error:+.2f}", f"{SHEET.point.expanded:.2f}"]


def test_fahrenheit_all_through():
    """If this fails, a page in °F holds a number in °C."""
    lines = budget_lines(SHEET.point, FAHRENHEIT)
    assert lines[0].error == pytest.approx(1.8 * budget_lines(SHEET.point)[0].error)
    said = "\n".join(chain_lines(SHEET, FAHRENHEIT)[:20])
    assert "At the 248 °F redline" in said
    assert "°C" not in said
    page = chain_page_html(SHEET, FAHRENHEIT)
    assert "At the 248" in page
    made = make_chain_table(CHANNEL.chain, monitor_input(SETUP.monitor), from_c=0.0, to_c=120.0)
    assert not any("°C" in line for line in table_sentences(made, FAHRENHEIT))


def test_extrapolated_is_said():
    """If this fails, 120 °C from points below boiling looks as good as 90."""
    rows = [line for line in chain_lines(SHEET) if line.strip().startswith(("90 ", "120 "))]
    assert "extrapolated" not in rows[0]
    assert "extrapolated, dangerous side" in rows[1]
    far = channel_sheet(CHANNEL, [145.0])
    assert any("too far to be used" in line for line in chain_lines(far))


def test_what_was_read_is_traced_back():
    """If this fails, a held end is given a temperature, or a reading its own number back."""
    said = [line for line in chain_lines(SHEET) if " shown: " in line]
    assert said[0].startswith("97 °C shown: true 9")
    assert "no measurement" in said[1]
    open_low = ReadOut(shown=0.0, low=-math.inf, high=0.5, true=math.nan, u=math.nan, reasons=("held",))
    assert read_sentence(open_low) == "0 °C shown: 0.5 °C or less, no measurement: held."
    blank = ReadOut(shown=math.nan, low=math.nan, high=math.nan, true=math.nan, u=math.nan, reasons=("blank",))
    assert read_sentence(blank) == "nothing shown: nothing can be said: blank."
    pressure = ReadOut(shown=150e3, low=149e3, high=151e3, true=150e3, u=3e3, reasons=())
    assert read_sentence(pressure, pressure=True).startswith("150 kPa shown: true 150.0 kPa ± 5.9")


def test_disagreement_of_monte_carlo_is_said():
    """If this fails, a ± that does not hold stands without a word."""
    assert "the ± above hold" in drawn_sentence(SHEET)
    half = 0.5 * (SHEET.drawn.high - SHEET.drawn.low)
    assert (half <= [point.expanded + 0.03 for point in SHEET.budget.points]).all()
    rough = setup_from_text(
        '[probes.P1]\nredline = "120 degC"\n[channels.P1]\ncontact = "60 ohm"\nu_contact = "20 ohm"'
    )
    found = channel_sheet(installed_channel(rough, "P1", CALIBRATION))
    said = drawn_sentence(found)
    assert "at 120 °C take ± " in said
    assert "bends over the width of 'contacts'" in said
    assert "°C" not in drawn_sentence(found, FAHRENHEIT)
    json.dumps(chain_machine(found), allow_nan=False)


def test_table_says_what_it_undoes():
    """If this fails, a table that hides a loose ground is keyed in without knowing it."""
    made = make_chain_table(CHANNEL.chain, monitor_input(SETUP.monitor), from_c=0.0, to_c=120.0)
    said = " ".join(table_sentences(made))
    assert "It undoes ground, constant (-1.8" in said
    assert "better mended than undone" in said
    assert "It leaves self-heating" in said


def test_pictures_show_the_budget():
    """If this fails, bars, whiskers or the line over the range are other numbers than the text."""
    figure = tornado_figure(SHEET.point)
    (axes,) = figure.axes
    names = [label.get_text() for label in axes.get_yticklabels()]
    lines = budget_lines(SHEET.point)
    assert names == [*(line.name for line in lines), "all together"]
    widths = [bar.get_width() for bar in axes.patches]
    np.testing.assert_allclose(widths, [*(line.error for line in lines), SHEET.point.error])
    hatched = [bar.get_hatch() is not None for bar in axes.patches]
    assert hatched == [width < 0 for width in widths]
    segments = axes.collections[0].get_segments()
    halves = [0.5 * (s[1][0] - s[0][0]) for s in segments]
    np.testing.assert_allclose(halves, [*(line.expanded for line in lines), SHEET.point.expanded])
    over = range_figure(SHEET.over_range, redline=120.0, tested=CHANNEL.tested)
    total = next(line for line in over.axes[0].lines if line.get_label() == "all together")
    np.testing.assert_allclose(total.get_ydata(), SHEET.over_range.total)
    assert "redline 120" in [text.get_text() for text in over.axes[0].texts]


def test_machine_form_is_json_in_si():
    """If this fails, a program gets rounded numbers, another unit, or no JSON at all."""
    out = json.loads(json.dumps(chain_machine(SHEET), allow_nan=False))
    point = next(one for one in out["points"] if one["true"] == 120.0)
    assert point["error"] == SHEET.point.error
    assert point["dangerous"]
    assert point["extrapolated"]
    assert sum(part["error"] for part in point["parts"]) == pytest.approx(point["error"], abs=1e-6)
    assert out["shown"][1]["high"] is None
    assert out["unit"] == "degC"
    assert {one["name"] for one in out["assumed"]} >= {"channels.P1.wire", "monitor.bits"}


def test_page_is_one_sheet_without_script_and_escapes():
    """If this fails, the page fetches something, or a name of the user's becomes markup."""
    page = chain_page_html(SHEET, title="P1 <b>coolant</b>", scenario="Invented.")
    assert "<script" not in page
    assert "http" not in page.replace("http://www.w3.org", "")
    assert "P1 &lt;b&gt;coolant" in page
    assert "Invented." in page
    assert page.count("<svg") == 2
    assert "manuals, local rules and licensed practice decide" in page


def test_an_owner_in_fahrenheit_and_psi_reads_no_other_unit():
    """If this fails, a page in °F says 40 degC of its wire, or a pressure of 24.946452 psi."""
    units = UnitsOut(temperature="degF", pressure="psi")
    for tag in ("P1", "O1"):
        lines = chain_lines(channel_sheet(installed_channel(harness_setup(), tag), draws=2000), units)
        text = "\n".join(line for line in lines if "_step" not in line)
        assert "degC" not in text
        assert "°C" not in text
        assert re.search(r"\d\.\d{4,} (psi|°F)", text) is None
    assert "wire_temperature = 104 degF" in "\n".join(
        chain_lines(channel_sheet(installed_channel(harness_setup(), "P1"), draws=2000), units)
    )


def test_what_comes_and_goes_hides_no_dangerous_side():
    """If this fails, a probe that reads cold when hot looks harmless because the alternator happens to charge."""
    lifted = '[channels.P1]\nreturns = "case"\nground = "10 mV"\nstrap = "1 milliohm"\ncurrent = "-30 A"\n'
    sheet = '[probes.P1]\nredline = "120 degC"\nsheet = [["0 degC", "5230 ohm"], ["50 degC", "721 ohm"], '
    sheet += '["97.7 degC", "172.1 ohm"], ["150 degC", "50.3 ohm"]]\n'
    said = "\n".join(chain_lines(channel_sheet(installed_channel(setup_from_text(sheet + lifted), "P1"), draws=2000)))
    assert re.search(r"Without ground, by current, self-heating it is -\d\.\d\d, on the dangerous side\.", said)
    sound = setup_from_text(sheet + lifted.replace("-30 A", "0 A").replace("10 mV", "0 V"))
    assert "Without" not in "\n".join(chain_lines(channel_sheet(installed_channel(sound, "P1"), draws=2000)))
