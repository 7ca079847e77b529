"""`sensorcal alarm` as an owner types it: worked numbers, a channel of the setup, a log, one line for a slip."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from sensorcal.cli.main import main
from sensorcal.installed.budget import budget
from sensorcal.installed.fromsetup import installed_channel
from sensorcal.installed.throughchain import settled
from sensorcal.setupfile import read_setup

SETUP = str(Path(__file__).parents[2] / "data" / "harness" / "setup.toml")


def machine(capsys, *argv):
    """The alarm as JSON."""
    assert main(["alarm", *argv, "--json"]) == 0
    return json.loads(capsys.readouterr().out)


def _fails(capsys, *argv):
    code = main(["alarm", *argv])
    error = capsys.readouterr().err
    assert code == 2
    assert error.count("\n") == 1
    return error


@pytest.mark.parametrize(
    ("argv", "red", "caution"),
    [
        (("--limit", "120degC", "--u", "1.6", "--rate", "0.3", "--lag", "15"), 113, 108),
        (("--limit", "120", "--u", "1.6", "--rate", "0.05", "--lag", "15"), 117, 112),
        (("--limit", "150kPa", "--low", "--u", "7"), 158, 163),
        (("--limit", "150 kPa", "--low", "--u", "7", "--step", "0.1", "--caution", "10kPa"), 157.1, 167.1),
        (("--limit", "248 degF", "--u", "1.6 degC"), 244, 239),
    ],
    ids=["fast climb", "slow climb", "oil", "oil in tenths", "fahrenheit"],
)
def test_the_worked_numbers(argv, red, caution, capsys):
    """If this fails, 120 with U 1.6 is not 113 or 117 by the climb, or oil at 150 with U 7 not 157 and half a step."""
    found = machine(capsys, *argv)
    assert (found["red"], found["caution"]) == (pytest.approx(red), pytest.approx(caution))


def test_the_arithmetic_is_printed(capsys):
    """If this fails, the owner has to believe the number."""
    assert main(["alarm", "--limit", "120", "--u", "1.6", "--rate", "0.3", "--lag", "15", "--normal", "109"]) == 0
    said = capsys.readouterr().out
    for word in ("-1.6", "-4.5", "-0.5", "113.4 °C", "key in, red", "2.3 times in 100", "Clear of normal running"):
        assert word in said


def test_an_accepted_probability_and_another_rule(capsys):
    """If this fails, rule and probability are read and forgotten."""
    wide = machine(capsys, "--limit", "120", "--u", "1.6", "--rule", "3 sigma", "--step", "0.1")
    narrow = machine(capsys, "--limit", "120", "--u", "1.6", "--accept", "0.05", "--step", "0.1")
    assert wide["guard"] == pytest.approx(2.4)
    assert narrow["guard"] == pytest.approx(1.645 * 0.8, abs=1e-3)
    assert narrow["false_accept"] == pytest.approx(0.05, abs=1e-6)


def test_a_channel_of_the_setup(capsys):
    """If this fails, limit, U or step are not those of the installed channel, or its known error is not undone."""
    found = machine(capsys, "--setup", SETUP, "--sensor", "P1", "--rate", "0.05", "--lag", "15")
    point = budget(installed_channel(read_setup(SETUP), "P1").chain, [120.0]).points[0]
    # Self-heating in the bath's figure comes and goes: it would move the alarm past the limit, so it is not counted.
    lasting = budget(settled(installed_channel(read_setup(SETUP), "P1").chain), [120.0]).points[0].error
    assert lasting < 0.0 < point.error
    assert found["limit"] == pytest.approx(120.0 + lasting)
    # The rule's factor is meant for k = 2; U is 1.96 u.
    assert found["guard"] == pytest.approx(2.0 * point.u, rel=1e-3)
    assert found["half_step"] == 0.5
    boils = found["boiling"]["boiling_c"]
    assert found["at_boiling"]["limit"] == pytest.approx(min(boils) + lasting)
    assert found["at_boiling"]["red"] < found["red"]


@pytest.mark.parametrize("flags", [(), ("--low",)])
def test_oil_of_the_setup_takes_its_low_limit(flags, capsys):
    """If this fails, an oil alarm is keyed in below its low limit, guarded as if it were a high one."""
    found = machine(capsys, "--setup", SETUP, "--sensor", "O1", *flags)
    assert found["side"] == "low"
    assert found["unit"] == "kPa"
    assert found["limit"] == pytest.approx(150.0, abs=0.2)
    assert 160.0 < found["red"] < 175.0
    high = machine(capsys, "--setup", SETUP, "--sensor", "O1", "--high")
    assert (high["side"], high["limit"]) == ("high", pytest.approx(500.0, abs=0.5))
    assert 470.0 < high["red"] < 490.0
    assert machine(capsys, "--setup", SETUP, "--sensor", "M1")["side"] == "high"


def test_the_alarm_is_in_the_unit_of_the_panel(tmp_path, capsys):
    """If this fails, an owner who thinks in psi keys psi into a panel that shows kPa."""
    text = Path(SETUP).read_text(encoding="utf-8")
    mine = tmp_path / "setup.toml"
    mine.write_text(text.replace('# pressure = "kPa"', 'pressure = "psi"  #'), encoding="utf-8")
    argv = ("--setup", str(mine), "--sensor", "O1")
    found = machine(capsys, *argv, "--limit", "25", "--low", "--caution", "2")
    assert found["unit"] == "kPa"
    assert found["limit"] == pytest.approx(172.4, abs=0.2)
    assert found["caution"] - found["red"] == pytest.approx(14.0, abs=1.0)
    assert "may be a low or a high limit" in _fails(capsys, *argv, "--limit", "25")
    assert main(["alarm", *argv]) == 0
    assert "150 kPa, 21.756 psi" in capsys.readouterr().out


def test_a_lift_that_comes_with_the_alternator_moves_no_alarm_past_the_limit(tmp_path, capsys):
    """If this fails, the alarm counts on the alternator: when it stops charging, the engine overheats unheard."""
    mine = tmp_path / "setup.toml"
    case = '[channels.T1]\nreturns = "case"\nground = "0 V"\nstrap = "1 milliohm"\ncurrent = "%s A"\n'
    probe = '[probes.T1]\nrole = "coolant"\nredline = "120 degC"\ndissipation = "1000 mW/K"\n'
    probe += 'sheet = [["0 degC", "5230 ohm"], '
    probe += '["50 degC", "721 ohm"], ["97.7 degC", "172.1 ohm"], ["150 degC", "50.3 ohm"]]\n'
    limits = {}
    for amps in (0, -30, 30):
        mine.write_text(probe + case % amps, encoding="utf-8")
        limits[amps] = machine(capsys, "--setup", str(mine), "--sensor", "T1")["limit"]
    assert limits[-30] == pytest.approx(limits[0])  # charging reads hot: not counted on
    assert limits[30] < limits[0] - 1.0  # a return current reads cold: counted
    mine.write_text(probe + case % -30, encoding="utf-8")
    assert main(["alarm", "--setup", str(mine), "--sensor", "T1"]) == 0
    assert "comes and goes (ground, by current" in capsys.readouterr().out


def test_rate_from_a_log(tmp_path, capsys):
    """If this fails, the owner's own climb of 0.05 degC/s is not what moves the alarm: 117."""
    t = np.arange(0, 600, 2)
    clt = np.round(70.0 + 0.05 * np.clip(t - 100, 0, 300), 1)
    log = tmp_path / "climb.csv"
    rows = [f"{a},{b:.1f}" for a, b in zip(t, clt, strict=True)]
    log.write_text("\n".join(["time [s],coolant [degC]", *rows]) + "\n", encoding="utf-8")
    argv = ("--limit", "120", "--u", "1.6", "--log", str(log), "--channel", "coolant", "--lag", "15", "--window", "60")
    found = machine(capsys, *argv)
    assert found["rate"]["rate_per_s"] == pytest.approx(0.05, abs=0.002)
    assert found["travel"] == pytest.approx(0.75, abs=0.04)
    assert found["red"] == 117
    assert main(["alarm", *argv]) == 0
    assert "Rate from the log: +0.05" in capsys.readouterr().out
    assert "--channel" in _fails(capsys, *argv[:6], "--channel", "map", *argv[8:])
    assert "oil" not in _fails(capsys, "--limit", "150kPa", "--high", "--u", "7", *argv[4:8], "--lag", "5")


def test_a_stopping_engine_sets_no_rate(tmp_path, capsys):
    """If this fails, the stop at the end of a log, 100 kPa/s, makes the oil alarm sound in normal running."""
    t = np.arange(0, 200)
    rpm = np.where(t < 180, 1700.0, np.clip(1700.0 - 800.0 * (t - 179), 0.0, None))
    oil = np.where(t < 180, 400.0 - 0.5 * np.clip(t - 60, 0, 60), np.clip(370.0 - 100.0 * (t - 179), 0.0, None))
    log = tmp_path / "stop.csv"
    rows = [f"{a},{b:.1f},{c:.0f}" for a, b, c in zip(t, oil, rpm, strict=True)]
    log.write_text("\n".join(["time [s],oil pressure [kPa],rpm [rpm]", *rows]) + "\n", encoding="utf-8")
    argv = ("--limit", "150kPa", "--low", "--u", "7", "--channel", "oil_pressure", "--lag", "5", "--log", str(log))
    found = machine(capsys, *argv)
    assert found["rate"]["rate_per_s"] == pytest.approx(-0.5, abs=0.02)
    assert found["travel"] == pytest.approx(2.5, abs=0.1)
    assert main(["alarm", *argv]) == 0
    assert "falls no faster than the log's" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("argv", "word"),
    [
        ((), "--limit"),
        (("--limit", "120"), "--u"),
        (("--limit", "hot", "--u", "1"), "--limit"),
        (("--limit", "120", "--u", "1 kPa"), "--u"),
        (("--limit", "120", "--u", "1.6", "--rate", "0.3"), "--lag"),
        (("--limit", "120", "--u", "1.6", "--rule", "mine"), "mine"),
        (("--limit", "120", "--u", "1.6", "--rate", "-1", "--lag", "5"), "rate"),
        (("--limit", "150kPa", "--u", "7"), "--low or --high"),
        (("--limit", "150kPa", "--u", "7", "--low", "--cap", "90kPa"), "coolant"),
        (("--sensor", "P1"), "--setup"),
        (("--setup", SETUP), "record or a sensor"),
        (("--setup", SETUP, "--sensor", "P3"), "P3"),
        (("--limit", "120", "--u", "1.6", "--log", "nowhere.csv"), "nowhere.csv"),
    ],
)
def test_a_mistake_gets_one_line(argv, word, capsys):
    """If this fails, a slip ends in a traceback, or in an alarm of its own."""
    assert word in _fails(capsys, *argv)


def test_help_shows_an_example(capsys):
    """If this fails, the options alone have to tell how to begin."""
    with pytest.raises(SystemExit):
        main(["alarm", "--help"])
    assert "  sensorcal alarm --limit 120degC" in capsys.readouterr().out
