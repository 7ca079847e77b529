"""`sensorcal probe` in the reader's units, and with what a setup knows of the bench."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from sensorcal.cli.main import main
from sensorcal.setupfile import read_setup

SHEET_C = "0=5230, 25=1800, 97.7=172.1, 120=98.2"
SHEET_F = "32=5230, 77=1800, 207.86=172.1, 248=98.2"
READ = ("probe", "--ice", "5262", "--steam", "172.9")
FIELD = ("--elevation", "640", "--qnh", "1009", "--station-elevation", "610")


def say(capsys: pytest.CaptureFixture[str], *argv: str) -> str:
    """Run the command and return what it printed."""
    assert main(argv) == 0
    return capsys.readouterr().out


def test_the_same_probe_in_fahrenheit(capsys: pytest.CaptureFixture[str]) -> None:
    """If it failed, the sheet or the redline of a builder who thinks in °F would be taken for °C."""
    celsius = json.loads(say(capsys, *READ, *FIELD, "--sheet", SHEET_C, "--json"))
    fahrenheit = json.loads(say(capsys, *READ, *FIELD, "--sheet", SHEET_F, "--unit", "F", "--json"))
    for name in ("a_per_k", "b_per_k", "c_per_k"):
        assert fahrenheit[name] == pytest.approx(celsius[name], rel=1e-9)
    said = say(capsys, *READ, *FIELD, "--sheet", SHEET_F, "--redline", "248", "--unit", "degF")
    before = said[: said.index("Assumed")]
    assert "At the 248 °F redline: 99.1 Ω; 248.0 °F ± 0.9" in before
    assert "°C" not in before
    # Job-map 9.4: -0.13 °C at ice is -0.24 °F.
    assert re.search(r"32\.0 °F: \+0\.6 % .* -0\.24 °F", before)


def test_a_setup_gives_field_meter_and_units(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """If it failed, the shorted leads of the setup would not be taken off, or its units not be printed."""
    setup = tmp_path / "setup.toml"
    text = (
        '[units]\ntemperature = "degF"\n[field]\nelevation = "640 m"\nqnh = "1009 hPa"\nstation_elevation = "610 m"\n'
    )
    setup.write_text(text, encoding="utf-8")
    plain = json.loads(say(capsys, *READ, *FIELD, "--json"))
    assert json.loads(say(capsys, *READ, "--setup", str(setup), "--json"))["claims"] == plain["claims"]
    assert "± °F" in say(capsys, *READ, "--setup", str(setup))
    setup.write_text(f'{text}[meter]\nleads_shorted = "0.3 ohm"\n', encoding="utf-8")
    with_leads = json.loads(say(capsys, *READ, "--setup", str(setup), "--json"))
    at = {claim["temperature_c"]: claim["resistance_ohm"] for claim in with_leads["claims"]}
    before = {claim["temperature_c"]: claim["resistance_ohm"] for claim in plain["claims"]}
    # 0.3 ohm at the steam point, in proportion to the resistance (1.23 times that of steam at 90 °C) at the most.
    assert 0.3 < before[90.0] - at[90.0] < 0.3 * 1.23
    written = tmp_path / "new.toml"
    say(capsys, *READ, "--setup", str(setup), "--write-setup", str(written))
    again = read_setup(written)
    assert again.units.temperature == "degF"
    assert again.meter.leads_shorted_ohm == 0.3
    assert "meter.leads_shorted" in again.stated


@pytest.mark.parametrize(
    ("extra", "told"),
    [
        (("--unit", "psi"), "--unit psi is not a unit of temperature"),
        (("--unit", "parsec"), "--unit"),
        (("--redline", "120 psi"), "--redline"),
    ],
)
def test_a_mistake_gets_one_line(extra: tuple[str, ...], told: str, capsys: pytest.CaptureFixture[str]) -> None:
    """If it failed, a wrong unit would end in a traceback or in °C."""
    assert main([*READ, *FIELD, *extra]) == 2
    error = capsys.readouterr().err
    assert told in error
    assert error.count("\n") == 1
