"""`sensorcal groundtest`: millivolts of a voltmeter to degC and kPa of every channel of the setup."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from sensorcal.cli.main import main
from sensorcal.installed.chain import shown
from sensorcal.installed.chainparts import Ground
from sensorcal.installed.fromsetup import installed_channel
from sensorcal.installed.harness import bare_chain
from sensorcal.setupfile import read_setup

SETUP = str(Path(__file__).parents[2] / "data" / "harness" / "setup.toml")


def machine(capsys, *argv):
    """The findings as JSON."""
    assert main(["groundtest", "--setup", SETUP, *argv, "--json"]) == 0
    return json.loads(capsys.readouterr().out)


def test_both_tests(capsys):
    """If this fails, 180 mV at 200 A are not 0.9 milliohm and -27 mV at 30 A, or the wrong sensors move."""
    loads, crank = machine(capsys, "--loads", "0.2,3.2", "--cranking", "180mV,200A", "--charging", "30A")
    assert loads["lift_v"] == pytest.approx(0.003)
    assert {one["name"].split()[0] for one in loads["moved"]} == {"P1", "P2", "P3", "O1", "F1", "M1"}
    assert crank["path_ohm"] == pytest.approx(0.9e-3)
    assert crank["lift_v"] == pytest.approx(-0.027)
    assert [one["name"] for one in crank["moved"]] == ["P4 cooler out"]
    assert crank["moved"][0]["shift"] > 0.0


@pytest.mark.parametrize(("tag", "at"), [("P1", 120.0), ("O1", 150e3)])
def test_the_sizes_are_the_chains(tag, at, capsys):
    """If this fails, the command and the signal chain disagree about the same millivolts; 1e-6 of a degree, 0.1 Pa."""
    (loads,) = machine(capsys, "--loads", "0,20")
    found = next(one for one in loads["moved"] if one["name"].startswith(tag))
    bare = bare_chain(installed_channel(read_setup(SETUP), tag))
    plain = replace(bare, wiring=type(bare.wiring)())
    if tag == "O1":
        plain = replace(plain, sensor=replace(plain.sensor, current_a=0.0))
    lifted = replace(plain, ground=Ground(returns="case", constant_v=0.020))
    expected = float(shown(lifted, np.array(at))) - at
    assert found["shift"] == pytest.approx(expected, abs=1e-6 if tag == "P1" else 0.1)


def test_on_the_engines_metal(capsys):
    """If this fails, millivolts of the engine's metal are put on sensors with their own return wire."""
    (loads,) = machine(capsys, "--loads", "0,20", "--metal")
    assert [one["name"] for one in loads["moved"]] == ["P4 cooler out"]


def test_screen(capsys):
    """If this fails, sign, danger, blind spot, the line for the setup or the caution is missing."""
    argv = ["groundtest", "--setup", SETUP, "--loads", "0.2,3.2", "--cranking", "180mV,200A", "--charging", "30A"]
    assert main(argv) == 0
    said = capsys.readouterr().out
    for word in (
        "+3.0 mV", "the dangerous side", "-27.0 mV", "0.9 ± 0.2 milliohm", "reads hot", "not moved, another return",
        "no current passes its strap", 'strap = "0.0009 ohm", current = "-30 A"', "propeller's arc", "Invented data",
    ):  # fmt: skip
        assert word in said


def test_the_line_for_the_setup_can_be_read(tmp_path, capsys):
    """If this fails, what the command tells to write into the setup is refused by it, or means something else."""
    assert main(["groundtest", "--setup", SETUP, "--cranking", "180mV,200A", "--charging", "30A"]) == 0
    capsys.readouterr()
    text = Path(SETUP).read_text(encoding="utf-8").replace(
        "[channels.P4]\n", '[channels.P4]\nstrap = "0.0009 ohm"\ncurrent = "-30 A"\n', 1
    )
    path = tmp_path / "setup.toml"
    path.write_text(text, encoding="utf-8")
    wired = read_setup(path).channels["P4"]
    assert wired.strap_ohm == pytest.approx(0.9e-3)
    assert wired.current_a == -30.0


@pytest.mark.parametrize(
    ("argv", "word"),
    [
        ((), "no voltage"),
        (("--loads", "3"), "two numbers"),
        (("--loads", "3,x"), "--loads"),
        (("--cranking=-180mV,200A",), "swap the meter's leads"),
        (("--cranking", "180mV,0A"), "above zero"),
    ],
)
def test_a_mistake_gets_one_line(argv, word, capsys):
    """If this fails, swapped leads or one missing number pass, or end in a traceback."""
    code = main(["groundtest", "--setup", SETUP, *argv])
    error = capsys.readouterr().err
    assert code == 2
    assert error.count("\n") == 1
    assert word in error


def test_help_shows_an_example(capsys):
    """If this fails, the options alone have to tell how to begin."""
    with pytest.raises(SystemExit):
        main(["groundtest", "--help"])
    assert "  sensorcal groundtest --setup" in capsys.readouterr().out
