"""`sensorcal interpolation`, `preset` and `panelrun`: experiments with the monitor as its owner types them."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from sensorcal.bench.station import boiling_point, reported_station_pressure
from sensorcal.cli.main import main
from sensorcal.installed.keyedrows import keyed_rows
from tests.installed.chains import J_SH

SETUP = str(Path(__file__).parents[2] / "data" / "harness" / "setup.toml")
COMMANDS = ("interpolation", "preset", "panelrun")


@pytest.fixture
def four_rows(tmp_path):
    """A keyed table with rows at 50 and 75 degC."""
    path = tmp_path / "keyed.csv"
    path.write_text("signal [ohm],value [degC]\n98,120\n325,75\n721,50\n5230,0\n", encoding="utf-8")
    return str(path)


def machine(capsys, *argv):
    """The answer as JSON."""
    assert main([*argv, "--json"]) == 0
    return json.loads(capsys.readouterr().out)


def _fails(capsys, *argv):
    code = main(argv)
    error = capsys.readouterr().err
    assert code == 2
    assert error.count("\n") == 1
    return error


@pytest.mark.parametrize(("shown", "line"), [("62.5", "ln ohms"), ("63.4", "volts"), ("65.0", "ohms")])
def test_one_resistor_tells_the_line(shown, line, four_rows, capsys):
    """If this fails, 485 ohm between rows at 50 and 75 degC does not tell ln ohms, volts and ohms apart."""
    argv = ("interpolation", four_rows, "--pull-up", "1000", "--plugged", f"485={shown}", "--tolerance", "0.1")
    found = machine(capsys, *argv)
    assert found["line"][line] > 0.95
    assert f"straight line in {line}" in found["verdict"]


def test_first_and_next_resistor(four_rows, capsys):
    """If this fails, the owner is not told what to plug in, or is sent between the rows once the line is known."""
    assert main(["interpolation", four_rows, "--pull-up", "1000"]) == 0
    said = capsys.readouterr().out
    assert said.startswith("Plug in ")
    argv = ["interpolation", four_rows, "--pull-up", "1000", "--tolerance", "0.1", "--plugged", "485=62.5"]
    found = machine(capsys, *argv)
    assert not 98 <= found["next_ohm"] <= 5230
    assert main([*argv, "--plugged", "15000=blank"]) == 0
    said = capsys.readouterr().out
    assert "beyond the ends it shows nothing" in said
    assert "No resistor at hand would tell more" in said


def test_rows_in_volts_and_fahrenheit(tmp_path, capsys):
    """If this fails, a table in volts and degF gives another verdict than the same in ohms and degC."""
    ohm = np.array([98.0, 325.0, 721.0, 5230.0])
    volts = 5.0 * ohm / (ohm + 1000.0)
    rows = [f"{v:.6f},{t * 1.8 + 32:g}" for v, t in zip(volts, (120, 75, 50, 0), strict=True)]
    path = tmp_path / "v.csv"
    path.write_text("\n".join(["signal [V],value [degF]", *rows]), encoding="utf-8")
    argv = ("interpolation", str(path), "--setup", SETUP, "--step", "0.1", "--plugged", f"485={63.4 * 1.8 + 32:.1f}")
    assert machine(capsys, *argv, "--tolerance", "0.1")["line"]["volts"] > 0.9


def test_none_fits(four_rows, capsys):
    """If this fails, a display on no line at all is explained."""
    assert main(["interpolation", four_rows, "--pull-up", "1000", "--plugged", "485=80"]) == 0
    said = capsys.readouterr().out
    assert "None of these fits" in said
    assert "Plug in" not in said


def preset_argv(*more):
    """Three presets with the sheet probe's own ohms at 25 degC."""
    argv = ["preset", "--sensor", "P1", "--setup", SETUP]
    for name, off in (("far", 300.0), ("near", 30.0), ("mid", 100.0)):
        ohm = [1800.0 * np.exp((3570.0 + off) * (1 / (t + 273.15) - 1 / 298.15)) for t in (25, 85)]
        argv += ["--preset", f"{name}:25={ohm[0]:.6f}, 85={ohm[1]:.6f}"]
    return [*argv, *more]


def test_presets_ranked(capsys):
    """If this fails, presets of 30, 100 and 300 K more Beta are not ranked by their worst error in the band."""
    found = machine(capsys, *preset_argv())
    assert [one["name"] for one in found["ranked"]] == ["near", "mid", "far"]
    assert found["ranked"][0]["limit_c"] == 120.0
    assert 9.0 < abs(found["ranked"][2]["worst_c"]) < 11.0
    assert main(preset_argv()) == 0
    said = capsys.readouterr().out
    assert "Take near; move an alarm" in said
    assert "cold when hot" in said


def test_trim_and_its_caution(capsys):
    """If this fails, a parallel resistor is proposed without saying what a broken probe then shows."""
    argv = ["preset", "--sensor", "P1", "--setup", SETUP, "--preset", "B:25=1800, 85=260", "--trim"]
    found = machine(capsys, *argv, "--series-only")
    assert found["trim"]["parallel_ohm"] is None
    assert abs(found["trim"]["worst_with_tolerance_c"]) < 1.0 < abs(found["trim"]["untrimmed_c"])
    a = ["preset", "--sensor", "P1", "--setup", SETUP, "--preset", "A:25=1800, 85=247", "--trim"]
    parallel = machine(capsys, *a)["trim"]["parallel_ohm"]
    assert main(a) == 0
    assert ("Caution: a broken probe then shows" in capsys.readouterr().out) == (parallel is not None)


def test_coefficients(capsys):
    """If this fails, A, B and C of the probe itself are not an exact preset."""
    x = np.log([5230.0, 721.0, 172.1])
    abc = np.linalg.solve(np.stack([np.ones(3), x, x**3], axis=1), 1.0 / (np.array([0.0, 50.0, 97.7]) + 273.15))
    text = ",".join(f"{c:.12g}" for c in abc)
    argv = ("preset", "--sensor", "P1", "--setup", SETUP, "--coefficients", f"own:{text}")
    # The sheet's smooth curve and the one through three of its points differ by up to 0.3 degC.
    assert abs(machine(capsys, *argv)["ranked"][0]["worst_c"]) < 0.3


@pytest.fixture
def wrong_table(tmp_path):
    """The table of probe J-SH, as keyed."""
    at = np.array([-20.0, 0.0, 25.0, 40.0, 55.0, 70.0, 85.0, 97.7, 110.0, 120.0])
    rows = [f"{r:.3f},{t:g}" for t, r in zip(at, J_SH.resistance_ohm(at), strict=True)]
    path = tmp_path / "keyed.csv"
    path.write_text("\n".join(["signal [ohm],value [degC]", *rows]), encoding="utf-8")
    return str(path)


def test_ice_and_steam_on_the_panel(wrong_table, tmp_path, capsys):
    """If this fails, 1.2 in ice and 96.1 in steam give no corrected table, or steam is taken for 100 degC."""
    out = tmp_path / "corrected.csv"
    argv = ["panelrun", "--setup", SETUP, "--keyed", wrong_table, "--read", "ice=1.2", "--read", "steam=96.1"]
    found = machine(capsys, *argv, "--step", "0.1", "--out", str(out))
    station = reported_station_pressure(elevation_m=640.0, qnh_pa=100_900.0, station_elevation_m=610.0)
    assert found["true_c"] == pytest.approx([0.0, boiling_point(station).temperature_c])
    assert found["error_c"] == pytest.approx([1.2, -1.63], abs=0.01)
    assert not found["one_offset"]
    rows = keyed_rows(out.read_bytes(), "corrected.csv")
    assert rows.signal.tolist() == found["signal"]
    assert "Invented data" in out.read_text(encoding="utf-8")
    order = np.argsort(rows.signal)
    after = np.interp(found["resistance_ohm"], rows.signal[order], rows.value[order])
    assert after == pytest.approx(found["true_c"], abs=0.6)
    assert main([*argv, "--step", "0.1"]) == 0
    assert "prove the input with 5100 and 200 ohm" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("argv", "word"),
    [
        (("interpolation", "KEYED", "--plugged", "485"), "R=SHOWN"),
        (("interpolation", "KEYED", "--plugged", "x=62"), "--plugged"),
        (("interpolation", "KEYED", "--plugged", "485=blank"), "lies between the rows"),
        (("interpolation", "nowhere.csv"), "nowhere.csv"),
        (("preset", "--sensor", "P1", "--setup", SETUP), "no preset"),
        (("preset", "--sensor", "P1", "--setup", SETUP, "--preset", "0=5230, 25=1800"), "no name"),
        (("preset", "--sensor", "P1", "--setup", SETUP, "--preset", "A:0=5230, 25=x"), "--preset A"),
        (("preset", "--sensor", "P1", "--setup", SETUP, "--coefficients", "A:1e-3"), "two or three"),
        (("preset", "--sensor", "O1", "--setup", SETUP, "--preset", "A:0=5230, 25=1800"), "pressure sensor"),
        (("panelrun", "--setup", SETUP, "--keyed", "KEYED", "--read", "ice=1.2"), "two or more pairs"),
        (("panelrun", "--setup", SETUP, "--keyed", "KEYED", "--read", "ice", "--read", "50=49"), "TRUE=SHOWN"),
        (("panelrun", "--setup", SETUP, "--keyed", "KEYED", "--read", "ice=1", "--read", "50=200"), "keyed table ends"),
    ],
)
def test_a_mistake_gets_one_line(argv, word, four_rows, capsys):
    """If this fails, a slip on the command line ends in a traceback."""
    assert word in _fails(capsys, *(four_rows if one == "KEYED" else one for one in argv))


@pytest.mark.parametrize("command", COMMANDS)
def test_help_shows_an_example(command, capsys):
    """If this fails, the options alone have to tell how to begin."""
    with pytest.raises(SystemExit):
        main([command, "--help"])
    assert f"  sensorcal {command} " in capsys.readouterr().out
