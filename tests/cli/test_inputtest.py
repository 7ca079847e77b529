"""`sensorcal inputtest`: plan, page and CSV; the filled CSV back with its verdict; every slip with its place."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from sensorcal.cli.main import main
from sensorcal.installed.chain import displayed
from sensorcal.installed.fromsetup import installed_channel
from sensorcal.installed.harness import copper_cost
from sensorcal.installed.inputproof import plan_input, prove_input, substitute
from sensorcal.setupfile import read_setup

SETUP = str(Path(__file__).parents[2] / "data" / "harness" / "setup.toml")
P1 = installed_channel(read_setup(SETUP), "P1")
WIRE = substitute(P1, resistance_ohm=1000.0).test.resistance_ohm - 1000.0
FIVE = (5100.0, 2200.0, 680.0, 200.0, 100.0)


def panel_c(ohm, pull=1000.0, gain=1.0, offset=0.0, conversion=None):
    """What a monitor of ten bits with this input shows for a resistor at the plug."""
    r = ohm + WIRE
    ratio = np.rint((r / (r + pull) * gain + offset) * 1024.0) / 1024.0
    return float(displayed(P1.chain, np.asarray((conversion or P1.chain.conversion).value(np.array(ratio)))))


def filled(path, shown, ohms=FIVE, head="resistor [ohm],shown [degC]"):
    """A CSV of readings."""
    rows = [f"{ohm:g},{value:g}" for ohm, value in zip(ohms, shown, strict=True)]
    path.write_text("\n".join(["# typed", head, *rows]) + "\n", encoding="utf-8")
    return str(path)


def _fails(capsys, *argv):
    code = main(["inputtest", *argv])
    error = capsys.readouterr().err
    assert code == 2
    assert error.count("\n") == 1
    return error


def finding(capsys, path, *more):
    """The finding as JSON."""
    assert main(["inputtest", "--sensor", "P1", "--setup", SETUP, "--readings", path, "--json", *more]) == 0
    return json.loads(capsys.readouterr().out)


def test_plan_page_and_csv_hold_the_same(tmp_path, capsys):
    """If this fails, page, CSV and screen tell three different tests."""
    page, readings = tmp_path / "plan.html", tmp_path / "plan.csv"
    argv = ["inputtest", "--sensor", "P1", "--setup", SETUP, "--plan", str(page), "--csv", str(readings)]
    assert main(argv) == 0
    said = capsys.readouterr().out
    text = page.read_text(encoding="utf-8")
    plan = plan_input(P1, limit_c=120.0)
    assert len(plan.substitutes) == 5
    assert text.count('class="w"') == 10
    for one in plan.substitutes:
        assert f"{one.resistance_ohm:g} Ω" in text
        assert f"{one.resistance_ohm:g} Ω" in said
        assert f"\n{one.resistance_ohm:g},,{one.shown_c:.0f}," in readings.read_text(encoding="utf-8")
    assert "Invented data" in text
    assert "Invented data" in readings.read_text(encoding="utf-8")


def test_the_wire_to_the_plug_counts():
    """If this fails, the wire between monitor and plug is left out, or counted for a voltage at the input."""
    assert pytest.approx(copper_cost(read_setup(SETUP), "P1").loop_ohm, rel=1e-9) == WIRE
    assert substitute(P1, ratio=0.5).test.ratio == 0.5


def test_a_sound_input_passes(tmp_path, capsys):
    """If this fails, the plan's own expected values are called a fault when typed back."""
    path = filled(tmp_path / "r.csv", [panel_c(ohm) for ohm in FIVE])
    found = finding(capsys, path, "--tolerance", "0.1")
    assert found["fits"]
    assert found["verdict"] == "the input agrees with its description"
    assert [row["shown_c"] for row in found["readings"]] == [row["expected_c"] for row in found["readings"]]


@pytest.mark.parametrize("pull", [1040.0, 960.0])
def test_a_wrong_pull_up_is_found_in_whole_degrees(pull, tmp_path, capsys):
    """If this fails, a pull-up 4 % off hides behind a display of whole degrees, or its effect has another size."""
    path = filled(tmp_path / "r.csv", [panel_c(ohm, pull=pull) for ohm in FIVE])
    found = finding(capsys, path, "--tolerance", "0.1")
    assert "pull-up" in found["significant"]
    assert abs(found["estimate"]["pull-up"] - (pull / 1000.0 - 1.0)) < 2.0 * found["u"]["pull-up"]
    # By the chain: 4 % of pull-up at 120 degC.
    r = 98.2
    true_effect = float(P1.chain.sensor.measurand(np.array(r * 1000.0 / pull))) - float(
        P1.chain.sensor.measurand(np.array(r))
    )
    assert abs(found["error_c"] - true_effect) < 2.5 * found["u_error_c"] + 0.1


def test_typed_by_hand_in_fahrenheit_with_semicolons(tmp_path, capsys):
    """If this fails, a spreadsheet of another country gives another verdict."""
    shown = [panel_c(ohm, pull=1040.0) for ohm in FIVE]
    plain = finding(capsys, filled(tmp_path / "a.csv", shown))
    path = tmp_path / "b.csv"
    rows = [f"{ohm / 1000:g};{v * 1.8 + 32:.1f}".replace(".", ",") for ohm, v in zip(FIVE, shown, strict=True)]
    path.write_text("\n".join(["resistor [kohm];shown [degF]", *rows]), encoding="utf-8")
    other = finding(capsys, str(path))
    assert other["estimate"] == pytest.approx(plain["estimate"], abs=1e-6)


def test_a_wrong_table_is_named(tmp_path, capsys):
    """If this fails, another probe's table in the monitor is taken for a broken input."""
    from sensorcal.installed.keyedrows import keyed_rows, temperature_conversion

    at = np.array([-20, 0, 15, 30, 45, 60, 75, 90, 105, 120, 135, 150], dtype=float)
    right = tmp_path / "P1.csv"
    wrong = tmp_path / "P9.csv"
    for path, factor in ((right, 1.0), (wrong, 1.6)):
        ohm = np.rint(np.asarray(P1.chain.sensor.raw(at)) * factor)
        rows = [f"{r:g},{t:g}" for r, t in zip(ohm[::-1], at[::-1], strict=True)]
        path.write_text("\n".join(["signal [ohm],value [degC]", *rows]) + "\n", encoding="utf-8")
    setup = read_setup(SETUP)
    mistaken = temperature_conversion(
        keyed_rows(wrong.read_bytes(), "P9.csv"), setup.monitor, pull_ohm=1000.0, supply_v=5.0
    )
    ohms = (4700.0, 2200.0, 680.0, 200.0, 110.0)
    path = filled(tmp_path / "r.csv", [panel_c(ohm, conversion=mistaken) for ohm in ohms], ohms)
    found = finding(capsys, path, "--keyed", str(right), "--wrong-table", str(wrong), "--tolerance", "0.1")
    assert "the table of P9" in found["verdict"]
    assert found["table_chi_squared"]["P9"] < found["chi_squared"]
    argv = ["--sensor", "P1", "--setup", SETUP, "--keyed", str(right), "--wrong-table", str(wrong)]
    assert main(["inputtest", *argv]) == 0
    assert "The table of P9" in capsys.readouterr().out


def test_voltages_are_planned_and_read(tmp_path, capsys):
    """If this fails, a voltage at the input cannot be planned, or its row cannot be read back."""
    path = tmp_path / "plan.csv"
    argv = ["--sensor", "P1", "--setup", SETUP, "--at-hand", "5100,680,100", "--voltages", "--csv", str(path)]
    assert main(["inputtest", *argv]) == 0
    lines = path.read_text(encoding="utf-8").splitlines()
    assert sum(line.startswith(",") for line in lines) == 2
    body = [line if line[0] in "#r" else line + line.split(",")[2] for line in lines]
    path.write_text("\n".join(body), encoding="utf-8")
    capsys.readouterr()
    assert finding(capsys, str(path))["fits"]


def test_screen_says_readings_and_effect(tmp_path, capsys):
    """If this fails, the verdict stands without the readings and degrees it rests on."""
    path = filled(tmp_path / "r.csv", [panel_c(ohm, pull=1040.0) for ohm in FIVE])
    argv = ["inputtest", "--sensor", "P1", "--setup", SETUP, "--readings", path]
    assert main(argv) == 0
    assert "P1: the input is off" in capsys.readouterr().out
    assert main([*argv, "--tolerance", "0.1"]) == 0
    said = capsys.readouterr().out
    assert "P1: pull-up" in said
    assert "The input moves the reading at 120 °C by +" in said
    assert "reads hot" in said


@pytest.mark.parametrize(
    ("body", "words"),
    [
        ("resistor [ohm],shown [degC]\n5100,1\n2200,\n680,52\n", ("row 3", "column shown", "nothing is written")),
        ("resistor [ohm],shown [degC]\n5100,1\n22x0,20\n680,52\n", ("row 3", "column resistor")),
        ("ohms,shown [degC]\n5100,1\n", ("columns resistor",)),
        ("resistor [ohm],shown [degC]\n", ("no reading",)),
        ("resistor [ohm],voltage [%],shown [degC]\n5100,10,1\n680,,52\n", ("row 2", "a resistor or a voltage")),
        ("resistor [ohm],shown [degC]\n5100,900\n680,52\n100,119\n", ("900 degC",)),
    ],
    ids=["blank", "no number", "heading", "empty", "both", "beyond"],
)
def test_a_slip_in_the_csv_is_named(body, words, tmp_path, capsys):
    """If this fails, the owner hunts through the rows for a slip."""
    path = tmp_path / "r.csv"
    path.write_text(body, encoding="utf-8")
    error = _fails(capsys, "--sensor", "P1", "--setup", SETUP, "--readings", str(path))
    for word in words:
        assert word in error


@pytest.mark.parametrize(
    ("argv", "word"),
    [
        (("--sensor", "O1", "--setup", SETUP), "pressure sensor"),
        (("--setup", SETUP), "record or a sensor"),
        (("--sensor", "P1", "--setup", SETUP, "--at-hand", "100,200"), "5 are wanted"),
        (("--sensor", "P1", "--setup", SETUP, "--at-hand", "100,x"), "--at-hand"),
        (("--sensor", "P1", "--setup", SETUP, "--tolerance", "30"), "prove nothing"),
        (("--sensor", "P1", "--setup", SETUP, "--limit", "500"), "beyond the curve"),
        (("--sensor", "P1", "--setup", SETUP, "--readings", "nowhere.csv"), "nowhere.csv"),
    ],
)
def test_a_mistake_gets_one_line(argv, word, capsys):
    """If this fails, a slip on the command line ends in a traceback."""
    assert word in _fails(capsys, *argv)


def test_a_held_end_is_no_reading():
    """If this fails, a display at the end of a table that holds its last row is inverted as if it were a signal."""
    from dataclasses import replace

    from sensorcal.errors import InputError
    from sensorcal.installed.keyedrows import keyed_rows

    setup = read_setup(SETUP)
    setup = replace(setup, monitor=replace(setup.monitor, past_ends="holds"))
    rows = keyed_rows(b"signal [ohm],value [degC]\n100,119\n500,61\n5000,1\n", "t.csv")
    channel = installed_channel(setup, "P1", keyed=rows)
    plugged = [substitute(channel, resistance_ohm=ohm) for ohm in (9000.0, 680.0, 110.0)]
    with pytest.raises(InputError, match="end of the table"):
        prove_input(channel, plugged, [1.0, 58.0, 117.0], limit_c=100.0)


def test_help_shows_an_example(capsys):
    """If this fails, the options alone have to tell how to begin."""
    with pytest.raises(SystemExit):
        main(["inputtest", "--help"])
    assert "  sensorcal inputtest --sensor P1" in capsys.readouterr().out
