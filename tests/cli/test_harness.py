"""`sensorcal harness` as an installer types it."""

from __future__ import annotations

from pathlib import Path

import pytest

from sensorcal.cli.main import main

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
