"""The command `sensorcal chain`, as a user types it."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from sensorcal.bench.demo import WATER_BATH_RUN, write_scenario
from sensorcal.bench.scenario import FOUR_PROBES
from sensorcal.cli.main import main

WIRED = """
[channels.P1]
length = "5 m"
gauge = 18
wire = "solid"
contact = "0.3 ohm"
u_contact = "0.1 ohm"
returns = "case"
ground = "0.020 V"
"""


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The invented scenario with a wired coolant probe and its record."""
    top = tmp_path_factory.mktemp("chain")
    write_scenario(top)
    setup = top / "setup.toml"
    setup.write_text(setup.read_text(encoding="utf-8") + WIRED, encoding="utf-8")
    assert (
        main(["fit", str(top / WATER_BATH_RUN), "--setup", str(setup), "--probe", "P1", "--out", str(top / "P1.json")])
        == 0
    )
    return top


def _run(capsys: pytest.CaptureFixture[str], *argv: str) -> str:
    capsys.readouterr()
    assert main(["chain", *argv]) == 0
    return capsys.readouterr().out


def _fails(capsys: pytest.CaptureFixture[str], *argv: str) -> str:
    capsys.readouterr()
    try:
        code = main(["chain", *argv])
    except SystemExit as stop:
        code = int(stop.code or 0)
    err = capsys.readouterr().err
    assert code == 2
    assert err.count("\n") == 1, err
    return err


def test_forward_backward_and_the_dangerous_side(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """If this fails, the lifted ground of the scenario is not -1.8 °C at the redline, or is not called dangerous."""
    setup = str(folder / "setup.toml")
    said = _run(capsys, str(folder / "P1.json"), "--setup", setup, "--at", "90,120", "--shown", "97")
    assert "At the 120 °C redline the panel is -1." in said
    assert "ground, constant (-1.8" in said
    assert "DANGEROUS DIRECTION" in said
    # At 97.7: -1.0 by the ground, -0.1 by wire and contacts, +0.3 by the input's own current.
    assert "97 °C shown: true 97.7 °C ±" in said or "97 °C shown: true 97.8 °C ±" in said
    assert "channels.P1.wire_temperature" in said
    machine = json.loads(_run(capsys, str(folder / "P1.json"), "--setup", setup, "--at", "90degC,248degF", "--json"))
    assert [round(point["true"], 6) for point in machine["points"]] == [90.0, 120.0]
    parts = {part["group"]: part["error"] for part in machine["points"][1]["parts"]}
    assert parts["ground, constant"] == pytest.approx(-1.84, abs=0.03)
    # One wire of 5 m, 18 AWG, at 40 degC, and 0.3 ohm of contacts at about 0.43 degC an ohm.
    assert parts["wire"] + parts["contacts"] == pytest.approx(-(0.105 * 1.08 + 0.3) * 0.43, abs=0.01)


def test_table_through_the_channel_is_read_back_as_keyed(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """If this fails, the table made for the channel does not take its errors away once keyed in."""
    setup, record, out = str(folder / "setup.toml"), str(folder / "P1.json"), folder / "tables" / "P1-channel.csv"
    said = _run(capsys, record, "--setup", setup, "--table", str(out), "--row-at", "120", "--undo-all")
    assert "Table through the channel: worst error" in said
    text = out.read_text(encoding="utf-8")
    assert "It undoes ground, constant" in text
    keyed = json.loads(_run(capsys, record, "--setup", setup, "--keyed", str(out), "--at", "20,60,90,120", "--json"))
    assert "16 rows as keyed" in keyed["monitor"] or "rows as keyed" in keyed["monitor"]
    errors = np.array([point["error"] for point in keyed["points"]])
    # Steps of 1 ohm and 1 degC leave half a degree at most; the channel itself was worth 2 degC.
    assert np.abs(errors).max() < 0.5
    plain = json.loads(_run(capsys, record, "--setup", setup, "--at", "120", "--json"))
    assert plain["points"][0]["error"] < -1.5


def test_from_the_makers_sheet_alone(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """If this fails, nothing can be said of the wiring before the first water is boiled."""
    said = _run(capsys, "--sensor", "P2", "--setup", str(folder / "setup.toml"))
    assert "P2: maker's sheet, within 3 %" in said
    assert "At the 130 °C redline" in said
    assert FOUR_PROBES[1].name == "P2"


def test_pictures_and_page(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """If this fails, a file that was asked for is not there, or is no picture."""
    png, page = folder / "out" / "p1.png", folder / "out" / "p1.html"
    said = _run(
        capsys, str(folder / "P1.json"), "--setup", str(folder / "setup.toml"), "--png", str(png), "--html", str(page)
    )
    assert png.read_bytes().startswith(b"\x89PNG")
    assert png.with_name("p1-range.png").read_bytes().startswith(b"\x89PNG")
    assert "From sensor to panel: P1, coolant" in page.read_text(encoding="utf-8")
    assert "Invented data" in page.read_text(encoding="utf-8")
    assert str(page) in said


def test_a_transducer_from_its_data_sheet(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """If this fails, 20 mV under the oil sensor are not the +4.5 kPa at zero that hide a low pressure."""
    setup = tmp_path / "setup.toml"
    setup.write_text(
        '[transducers.O1]\nhigh = "1000 kPa"\n[channels.O1]\nreturns = "case"\nground = "0.02 V"\n'
        '[pressure_input]\nsignal = "voltage"\n',
        encoding="utf-8",
    )
    machine = json.loads(
        _run(capsys, "--sensor", "O1", "--setup", str(setup), "--at", "0,400", "--shown", "155", "--json")
    )
    errors = [{part["group"]: part["error"] for part in point["parts"]} for point in machine["points"]]
    assert errors[0]["ground, constant"] == pytest.approx(4500.0, abs=50.0)
    assert errors[1]["ground, constant"] == pytest.approx(2900.0, abs=50.0)
    assert machine["guarded_limit"] == "low"
    assert machine["shown"][0]["true"] == pytest.approx(151e3, abs=600.0)
    out = tmp_path / "oil.csv"
    said = _run(capsys, "--sensor", "O1", "--setup", str(setup), "--table", str(out))
    assert "Table through the channel" in said
    assert "signal [V],value [kPa]" in out.read_text(encoding="utf-8")
    keyed = json.loads(
        _run(capsys, "--sensor", "O1", "--setup", str(setup), "--keyed", str(out), "--at", "400", "--json")
    )
    assert abs(keyed["points"][0]["error"]) < 1500.0


def test_slips_get_one_line(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """If this fails, a mistyped option becomes a traceback or a wrong number."""
    setup, record = str(folder / "setup.toml"), str(folder / "P1.json")
    assert "one of the two" in _fails(capsys, "--setup", setup)
    assert "one of the two" in _fails(capsys, record, "--setup", setup, "--sensor", "P1")
    assert "not in the setup" in _fails(capsys, "--setup", setup, "--sensor", "P9")
    assert "--at" in _fails(capsys, record, "--setup", setup, "--at", "9x")
    assert "nothing is extrapolated" in _fails(capsys, record, "--setup", setup, "--at", "400")
    assert "kPa" in _fails(capsys, record, "--setup", setup, "--shown", "97 kPa")
    assert "nowhere.csv" in _fails(capsys, record, "--setup", setup, "--keyed", "nowhere.csv")
    assert "no column 'signal'" in _fails(capsys, record, "--setup", setup, "--keyed", str(folder / "truth.csv"))
