"""`sensorcal air` with a setup: the field, the sensors and the units are taken from it, and options go before it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from sensorcal.bench.demo_pressure import pressure_setup
from sensorcal.calibration.pressurecal import u_pressure_pa
from sensorcal.cli.main import main
from sensorcal.setupfile import setup_text

DATA = Path(__file__).parents[2] / "data" / "pressure"
SETUP = str(DATA / "setup.toml")


def say(capsys: pytest.CaptureFixture[str], *argv: str) -> str:
    """Run the command and return what it printed."""
    assert main(["air", *argv]) == 0
    return capsys.readouterr().out


def changed(tmp_path: Path, *changes: tuple[str, str], units: str = "") -> str:
    """Write the demo's setup with some lines changed."""
    text = setup_text(pressure_setup())
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    path = tmp_path / "mine.toml"
    path.write_text(text.replace("\n[units]\n", f"\n[units]\n{units}") if units else text, encoding="utf-8")
    return str(path)


def test_the_setup_gives_the_same_day_as_the_options(capsys: pytest.CaptureFixture[str]) -> None:
    """If it failed, the field of the setup would be read otherwise than the same numbers typed."""
    typed = json.loads(say(capsys, "--elevation", "640", "--qnh", "1009", "--station-elevation", "610", "--json"))
    known = json.loads(say(capsys, "--setup", SETUP, "--json"))
    for name in ("station_pressure_pa", "u_station_pressure_pa", "boiling_point_c", "pressure_altitude_m"):
        assert known[name] == typed[name]
    assert [one["name"] for one in known["at_rest"]] == ["O1", "F1", "M1"]
    assert [one["kind"] for one in typed["at_rest"]] == ["absolute", "gauge", "sealed"]


def test_what_the_sensors_show_at_rest(capsys: pytest.CaptureFixture[str]) -> None:
    """Job-map story 14 and 9.12: 0 vented, -7.9 sealed, 93.5 absolute, with figures 10, 5, 1 and 3 kPa."""
    day = json.loads(say(capsys, "--setup", SETUP, "--json"))
    oil, fuel, manifold = day["at_rest"]
    assert oil["expected_pa"] == 0.0
    assert round(fuel["expected_pa"] / 1000, 1) == -7.9
    assert round(manifold["expected_pa"] / 1000, 1) == 93.5
    assert [one["worth_acting_pa"] for one in (oil, fuel, manifold)] == [10_000.0, 5_000.0, 1_000.0]
    assert manifold["stop_pa"] == 3_000.0
    # A quarter of a per cent of the span as standard uncertainty, and the air's: own arithmetic.
    u = (625.0**2 + day["u_station_pressure_pa"] ** 2) ** 0.5
    assert manifold["tolerance_pa"] == pytest.approx(1.96 * u, rel=1e-3)
    said = say(capsys, "--setup", SETUP)
    for told in ("0.0 ± 4.9", "-7.9 ± 3.6", "93.5 ± 1.3", "0.500 V", "1.996 V", "sealed gauge", "± 3 kPa stop"):
        assert told in said
    assert "give today's with --qnh" in said


def test_options_go_before_the_setup(capsys: pytest.CaptureFixture[str]) -> None:
    """Yesterday's QNH in the file must not win against today's on the command line."""
    day = json.loads(say(capsys, "--setup", SETUP, "--qnh", "1021", "--json"))
    assert day["qnh_pa"] == 102_100.0
    assert day["elevation_m"] == 640.0
    assert "give today's" not in say(capsys, "--setup", SETUP, "--qnh", "1021")


def test_a_record_replaces_the_data_sheet(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The record's own output and U at bench temperature must stand on the line, not the data sheet's."""
    from sensorcal.book.pressurerecord import read_pressure_record

    out = tmp_path / "M1.json"
    assert main(["fit", str(DATA / "2026-05-16-map.csv"), "--setup", SETUP, "--probe", "M1", "--out", str(out)]) == 0
    capsys.readouterr()
    day = json.loads(say(capsys, "--setup", SETUP, "--record", str(out), "--json"))
    rest = day["at_rest"][2]
    record = read_pressure_record(out).calibration
    assert rest["calibrated"]
    assert rest["ratio"] == pytest.approx(float(record.ratio(rest["expected_pa"])))
    assert rest["u_zero_pa"] == pytest.approx(float(u_pressure_pa(record, rest["expected_pa"], hot_body=False)))
    assert not day["at_rest"][0]["calibrated"]
    said = say(capsys, "--setup", SETUP, "--record", str(out))
    assert "M1 by record" in said
    assert "M1: ± is wider than what is worth acting on" in said  # a gauge of ± 1 kPa cannot show a fault of 1 kPa


def test_the_setups_units_on_every_number(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A builder who thinks in psi, feet and degF would have to convert the sheet by hand."""
    units = 'pressure = "psi"\ntemperature = "degF"\naltitude = "ft"\n'
    said = say(capsys, "--setup", changed(tmp_path, units=units), "--oat", "68")
    for told in ("207.9", "°F", "13.56", "psi ± 0.02", "0.00 ± 0.72", "-1.14 ± 0.52", " ft", "± 1.5 psi"):
        assert told in said, told
    for told in (
        "14.69 psi sealed in it",
        "+0.00682 psi, +0.025 °F of boiling point",
        "+4.08 °F  100 °C taken for the steam",
    ):
        assert told in said, told
    assert "kPa" not in said


def test_one_page_to_print(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The page must hold what the screen says, need nothing from outside, and leave a box for each sensor."""
    page = tmp_path / "sheets" / "day.html"
    said = say(capsys, "--setup", SETUP, "--html", str(page))
    assert str(page) in said
    text = page.read_text(encoding="utf-8").replace("\u00a0", " ").replace("−", "-")
    for told in ("93.47 kPa ± 0.16", "97.73 °C ± 0.05", "-7.9 ± 3.6", "O1 oil pressure", "Invented data", "steam"):
        assert told.lower() in text.lower(), told
    assert text.count('<td class="w"></td>') == 3
    assert "<script" not in text
    assert "http" not in text


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ('qnh = "1009 hPa"', 'qnh = "29.92 hPa"', "mine.toml: qnh under [field] 29.92 hPa"),
        ('elevation = "640 m"', 'elevation = "9500 m"', "mine.toml: elevation under [field] 9500 m"),
        ('station_elevation = "610 m"', 'station_elevation = "20000 m"', "mine.toml: station_elevation under [field]"),
        ('qnh = "1009 hPa"', "", "--qnh missing: the setup has no qnh under [field]"),
    ],
)
def test_a_mistake_in_the_setup_names_the_field(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], old: str, new: str, told: str
) -> None:
    """A message that speaks of an option nobody typed sends the user to the wrong place."""
    assert main(["air", "--setup", changed(tmp_path, (old, new))]) == 2
    error = capsys.readouterr().err
    assert told in error
    assert error.count("\n") == 1


def test_a_record_that_is_none_of_the_setups(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A record without its data sheet would vanish from the sheet without a word."""
    out = tmp_path / "O1.json"
    assert main(["fit", str(DATA / "2026-05-16-oil.csv"), "--setup", SETUP, "--probe", "O1", "--out", str(out)]) == 0
    capsys.readouterr()
    assert main(["air", "--elevation", "640", "--qnh", "1009", "--record", str(out)]) == 2
    assert "transducers.O1" in capsys.readouterr().err
