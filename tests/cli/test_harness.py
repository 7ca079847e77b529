"""`sensorcal harness` as an installer types it."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from sensorcal.book.store import read_record
from sensorcal.cli.main import main
from sensorcal.installed.harnesssheet import harness_sheet
from sensorcal.installed.keyedrows import keyed_rows
from sensorcal.setupfile import read_setup

SETUP = str(Path(__file__).parents[2] / "data" / "harness" / "setup.toml")


def _fails(capsys, *argv):
    code = main(argv)
    error = capsys.readouterr().err
    assert code == 2
    assert error.count("\n") == 1
    return error


def test_page_and_csv_are_written(tmp_path, capsys):
    """If this fails, the sheet or the wire list is not where it was asked for."""
    page, wires = tmp_path / "sheets" / "harness.html", tmp_path / "wires.csv"
    assert main(["harness", "--setup", SETUP, "--out", str(page), "--csv", str(wires)]) == 0
    said = capsys.readouterr().out
    assert "Before the first crimp" in said
    assert str(page) in said
    assert "<html" in page.read_text(encoding="utf-8")
    assert len(wires.read_text(encoding="utf-8").splitlines()) == 2 + 16


def test_options_reach_the_sheet(tmp_path, capsys):
    """If this fails, altitude, cold and tolerance are read and forgotten."""
    page = tmp_path / "h.html"
    command = ["harness", "--setup", SETUP, "--out", str(page), "--highest", "0 ft", "--coldest", "-40", "--tolerance"]
    assert main([*command, "0.1"]) == 0
    said = capsys.readouterr().out
    assert "boils at 119 degC" in said
    assert "its sheet begins at -20 degC and it will see -40 degC" in said
    assert "count as 0.1 % ones" in page.read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("change", "word"),
    [
        (["--setup", "nowhere.toml"], "nowhere.toml"),
        (["--highest", "3000 kPa"], "--highest"),
        (["--tolerance", "50"], "prove nothing"),
    ],
)
def test_a_mistake_gets_one_line(change, word, tmp_path, capsys):
    """If this fails, a slip on the command line ends in a traceback."""
    assert word in _fails(capsys, "harness", "--setup", SETUP, "--out", str(tmp_path / "h.html"), *change)
    assert not (tmp_path / "h.html").exists()


def test_an_empty_setup_says_what_to_write(tmp_path, capsys):
    """If this fails, a setup without sensors gives an empty sheet."""
    setup = tmp_path / "setup.toml"
    setup.write_text("", encoding="utf-8")
    error = _fails(capsys, "harness", "--setup", str(setup), "--out", str(tmp_path / "h.html"))
    assert "[channels.TAG]" in error


def test_help_shows_an_example(capsys):
    """If this fails, the options alone have to tell how to begin."""
    with pytest.raises(SystemExit) as stop:
        main(["harness", "--help"])
    assert stop.value.code == 0
    assert "  sensorcal harness --setup" in capsys.readouterr().out


@pytest.fixture(scope="module")
def record(tmp_path_factory):
    """Record of P1 from the invented evening, and a table made from it."""
    data = Path(__file__).parents[2] / "data"
    top = tmp_path_factory.mktemp("record")
    fit = ["fit", str(data / "runs" / "2026-05-02-water-bath.csv"), "--setup", str(data / "setup.toml")]
    assert main([*fit, "--probe", "P1", "--out", str(top / "P1.json")]) == 0
    table = ["table", str(top / "P1.json"), "--setup", str(data / "setup.toml"), "--rows", "10", "--at", "120"]
    assert main([*table, "--out", str(top / "P1.csv")]) == 0
    return top


def test_a_record_takes_the_place_of_the_sheet(record, tmp_path, capsys):
    """If this fails, the sheet's 3 % stand beside the box of a probe that is known to half a degree."""
    page = tmp_path / "h.html"
    argv = ["harness", "--setup", SETUP, "--out", str(page), "--record", str(record / "P1.json")]
    assert main([*argv, "--keyed", f"P1={record / 'P1.csv'}"]) == 0
    text = page.read_text(encoding="utf-8")
    assert "curve of P2, P3, P4, O1, F1, M1 by the maker&#39;s sheet" in text
    assert "own curve for P2, P3, P4, O1, F1, M1" in text
    setup = read_setup(SETUP)
    curve = read_record(record / "P1.json").calibration
    keyed = keyed_rows((record / "P1.csv").read_bytes(), "P1.csv")
    known = harness_sheet(setup, records={"P1": curve}, keyed={"P1": keyed})
    sensor = next(one for one in known.checks if one.tag == "P1" and one.kind == "sensor")
    at20 = next(one for one in sensor.expected if one.what == "20")
    loop = next(one for one in known.copper if one.tag == "P1").loop_ohm
    assert at20.value == pytest.approx(float(curve.resistance_ohm(20.0)) + loop, rel=1e-6)
    # Half a degree of the hangar's thermometer is 2 %, the curve's own U 0.2 degC and the meter's 0.5 % are the rest.
    assert at20.high / at20.value - 1.0 == pytest.approx(0.027, abs=0.004)
    # Through the keyed table the panel shows what the table makes of the resistor.
    for one in (c for c in known.checks if c.tag == "P1" and c.kind == "substitution"):
        ohm = float(one.label.split()[0]) + loop
        order = keyed.signal.argsort()
        if keyed.signal.min() < ohm < keyed.signal.max():
            by_table = float(np.interp(ohm, keyed.signal[order], keyed.value[order]))
            # One count of ten bits and half a display step.
            assert one.expected[1].value == pytest.approx(by_table, abs=1.1)
    capsys.readouterr()


@pytest.mark.parametrize(
    ("more", "word"),
    [
        (["--record", "nowhere.json"], "nowhere.json"),
        (["--keyed", "tables.csv"], "names no sensor"),
        (["--keyed", "P9=KEYED"], "no sensor P9"),
    ],
)
def test_records_and_tables_that_do_not_fit(more, word, record, tmp_path, capsys):
    """If this fails, a table of a sensor that is not there is read and forgotten."""
    more = [one.replace("KEYED", str(record / "P1.csv")) for one in more]
    assert word in _fails(capsys, "harness", "--setup", SETUP, "--out", str(tmp_path / "h.html"), *more)
