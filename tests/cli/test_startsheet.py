"""`sensorcal startsheet` as a builder types it on the morning of the first start."""

from __future__ import annotations

from pathlib import Path

import pytest

from sensorcal.cli.main import main

DATA = Path(__file__).parents[2] / "data"
SETUP = str(DATA / "starts" / "setup.toml")


def test_page_and_list_are_written(tmp_path, capsys):
    """The page or the list would not be where it was asked for, or the list of a flown start be overwritten."""
    page, events = tmp_path / "out" / "start.html", tmp_path / "events.csv"
    command = ["startsheet", "--setup", SETUP, "--qnh", "1013", "--oat", "8"]
    assert main([*command, "--html", str(page), "--events", str(events)]) == 0
    said = capsys.readouterr().out
    assert "Air here 93.85" in said
    assert "Outside air 8 °C" in said
    assert "as in the setup" not in said
    assert "FIRE GUARD" in page.read_text(encoding="utf-8")
    assert events.read_text(encoding="utf-8").startswith("event,Coolant [°C]")
    assert main([*command, "--events", str(events)]) == 2
    assert "exists already" in capsys.readouterr().err


def test_the_setup_of_yesterday_is_named(capsys):
    """Yesterday's QNH would be taken without a word."""
    assert main(["startsheet", "--setup", SETUP]) == 0
    assert "QNH and outside air as in the setup; give today's" in capsys.readouterr().out


def test_without_a_setup(capsys):
    """Three inputs would not give the first number."""
    assert main(["startsheet", "--elevation", "2100ft", "--qnh", "29.80inHg", "--oat", "46F"]) == 0
    said = capsys.readouterr().out
    assert "Air here 93.4" in said
    assert "______" in said


@pytest.mark.parametrize(
    ("argv", "word"),
    [
        ([], "elevation is not stated"),
        (["--elevation", "640"], "qnh is not stated"),
        (["--elevation", "640", "--qnh", "29.92hPa"], "--qnh"),
        (["--elevation", "640", "--qnh", "x"], "--qnh"),
        (["--elevation", "9500", "--qnh", "1013"], "--elevation"),
        (["--elevation", "640", "--qnh", "1013", "--record", "nowhere.json"], "nowhere.json"),
    ],
)
def test_wrong_input_is_one_line(argv, word, capsys):
    """A mistake would end in a traceback, or not name the option."""
    assert main(["startsheet", *argv]) == 2
    error = capsys.readouterr().err
    assert error.count("\n") == 1
    assert word in error


def test_what_the_panel_shows_is_judged(capsys):
    """Job-map stories 7 and 8 would not be answered on the morning of the start."""
    shown = ["coolant=11.8", "gearbox_oil=12.1", "charge_in=11.9", "charge_out=14.6", "map=100.9", "oil_pressure=2"]
    argv = ["startsheet", "--setup", SETUP, "--oat", "12", "--qnh", "1009"]
    assert main([*argv, *(word for one in shown for word in ("--shown", one))]) == 0
    said = capsys.readouterr().out
    assert "charge air after the cooler against charge air before the cooler: 2.7 °C apart" in said
    assert "may read 0.7 °C to 1.9 °C above" in said
    assert "Manifold pressure at rest: 100.9 kPa, expected 93.5 kPa: is beyond 3 kPa: do not use" in said
    assert "Oil pressure at rest: 2 kPa, expected 0 kPa: agrees" in said


def test_the_crank_is_judged(capsys):
    """Job-map 9.9: gauge 210, panel 205, U 14 would not be consistent, or a gauge that stays down be passed."""
    argv = ["startsheet", "--setup", SETUP, "--qnh", "1009", "--oat", "12", "--oiling"]
    assert main([*argv, "210", "205", "14", "8"]) == 0
    assert "PANEL USABLE. gauge 210, panel 205 kPa, U 14 kPa: consistent" in capsys.readouterr().out
    assert main([*argv, "0", "205", "14", "none"]) == 0
    assert "DO NOT START" in capsys.readouterr().out
    assert main([*argv, "0", "205", "0", "none"]) == 2
    assert "above zero" in capsys.readouterr().err


@pytest.mark.parametrize("shown", ["egt=700", "coolant", "coolant=warm"])
def test_a_channel_that_is_none(shown, capsys):
    """A misspelt channel would be left out silently."""
    assert main(["startsheet", "--setup", SETUP, "--oat", "12", "--qnh", "1009", "--shown", shown]) == 2
    error = capsys.readouterr().err
    assert error.count("\n") == 1
    assert "--shown" in error


def test_other_units(tmp_path, capsys):
    """A difference would be converted as a temperature, so that 2.7 degC apart became 37 degF."""
    text = Path(SETUP).read_text(encoding="utf-8")
    mine = tmp_path / "mine.toml"
    mine.write_text(text.replace("[units]\n", '[units]\ntemperature = "degF"\npressure = "psi"\n'), encoding="utf-8")
    argv = ["startsheet", "--setup", str(mine), "--oat", "53.6", "--qnh", "1009"]
    shown = ["coolant=53.2", "gearbox_oil=53.8", "charge_in=53.4", "charge_out=58.3"]
    assert main([*argv, *(word for one in shown for word in ("--shown", one))]) == 0
    said = capsys.readouterr().out
    assert "4.9 °F apart in one medium, which is worth acting on (from 3.6 °F)" in said
    assert "may read 1.3 °F to 3.3 °F above" in said
    assert "°C" not in said
    assert main([*argv, "--oiling", "30.5", "29.7", "2.0", "8"]) == 0
    assert "gauge 30, panel 30 psi, U 2 psi: consistent" in capsys.readouterr().out
