"""`sensorcal fit` and `sensorcal table` for pressure sensors, as a user types them."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest

from sensorcal.book.pressurerecord import read_pressure_record
from sensorcal.calibration.pressurecal import expanded_pressure_pa
from sensorcal.cli.main import main

DATA = Path(__file__).parents[2] / "data" / "pressure"
SETUP = DATA / "setup.toml"


def fails(capsys: pytest.CaptureFixture[str], *argv: str) -> str:
    """Run a command that must end with one line."""
    assert main(argv) == 2
    error = capsys.readouterr().err
    assert error.count("\n") == 1, error
    return error


@pytest.fixture(scope="module")
def cals(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Records and pages of the three sensors."""
    top = tmp_path_factory.mktemp("cals")
    for name in ("oil", "fuel", "map"):
        run = str(DATA / f"2026-05-16-{name}.csv")
        assert main(["fit", run, "--setup", str(SETUP), "--all", "--out", str(top), "--date", "2026-05-17"]) == 0
    return top


def with_input(tmp_path: Path, **entries: object) -> str:
    """Write the demo's setup with another pressure input."""
    text = SETUP.read_text(encoding="utf-8")
    lines = "\n".join(f"{key} = {json.dumps(value)}" for key, value in entries.items())
    path = tmp_path / "setup.toml"
    path.write_text(text.replace("\n[pressure_input]\n", f"\n[pressure_input]\n{lines}\n"), encoding="utf-8")
    return str(path)


def test_fit_writes_the_page_beside_the_record(cals: Path) -> None:
    """If it failed, a pressure sensor would have a record that nobody can read, or a page of another record."""
    for tag in ("O1", "F1", "M1"):
        page = (cals / f"{tag}.html").read_text(encoding="utf-8")
        assert read_pressure_record(cals / f"{tag}.json").content_sha256[:16] in page
        assert "not an accredited certificate" in page


def test_table_holds_to_what_it_says(cals: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """If it failed, the rows keyed in would show something else than the worst error printed beside them."""
    out = tmp_path / "tables" / "O1.csv"
    command = ["table", str(cals / "O1.json"), "--setup", str(SETUP), "--at", "150", "--out", str(out), "--json"]
    assert main(command) == 0
    told = json.loads(capsys.readouterr().out)
    cal = read_pressure_record(cals / "O1.json").calibration
    rows = [(row["signal"], row["value"]) for row in told["rows"]]
    volts, kpa = zip(*rows, strict=True)
    fixed = [row for row in told["rows"] if row["fixed"]]
    assert [row["value"] for row in fixed] == [150.0]
    assert abs(fixed[0]["signal"] - 5.0 * float(cal.ratio(150e3))) <= 0.005 + 1e-9
    worst = 0.0
    for n in range(1001):
        p = 1e3 * n
        at = 5.0 * float(cal.ratio(p))
        i = max(j for j in range(len(volts) - 1) if volts[j] <= at or j == 0)
        shown = kpa[i] + (at - volts[i]) * (kpa[i + 1] - kpa[i]) / (volts[i + 1] - volts[i])
        worst = max(worst, abs(1e3 * shown - p))
    assert worst == pytest.approx(abs(told["worst_error_pa"]), abs=20.0)
    assert worst < float(expanded_pressure_pa(cal, 500e3))
    kept = [line for line in out.read_text(encoding="utf-8").splitlines() if not line.startswith("#")]
    assert [(float(row[1]), float(row[2])) for row in csv.reader(kept[1:])] == rows
    for form in (out.with_suffix(".md"), out.with_suffix(".html"), out.with_name("O1-report.html")):
        assert all(f"{signal:.2f}" in form.read_text(encoding="utf-8") for signal in volts)


@pytest.mark.parametrize(
    ("entries", "unit", "full"),
    [
        ({"signal": "ratio"}, "1", 1.0),
        ({"signal": "counts", "counts_full": 1023}, "counts", 1023.0),
        ({"signal": "voltage", "supply": "4.93 V"}, "V", 4.93),
    ],
)
def test_ratio_volts_and_counts(
    cals: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], entries: dict[str, object], unit: str, full: float
) -> None:
    """If it failed, the signal column would hold volts of another supply, or counts of another converter."""
    setup = with_input(tmp_path, **entries)
    command = ["table", str(cals / "O1.json"), "--setup", setup, "--out", str(tmp_path / "t.csv"), "--json"]
    assert main(command) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["signal_unit"] == unit
    cal = read_pressure_record(cals / "O1.json").calibration
    low, high = told["rows"][0], told["rows"][-1]
    for row in (low, high):
        exact = full * float(cal.ratio(1e3 * row["value"]))
        assert abs(row["signal"] - exact) <= full * 0.0025


def test_two_constants_by_option_and_by_setup(cals: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """If it failed, a monitor without a table would get rows, or another line by each way of asking."""
    out = str(tmp_path / "O1.csv")
    assert main(["table", str(cals / "O1.json"), "--setup", str(SETUP), "--two-constants", "--out", out, "--json"]) == 0
    first = json.loads(capsys.readouterr().out)
    setup = with_input(tmp_path, form="two constants")
    assert main(["table", str(cals / "O1.json"), "--setup", setup, "--out", out, "--json"]) == 0
    assert json.loads(capsys.readouterr().out) == first
    cal = read_pressure_record(cals / "O1.json").calibration
    assert abs(first["zero_signal"] - 5.0 * float(cal.ratio(0.0))) <= 0.01
    assert abs(first["full_signal"] - 5.0 * float(cal.ratio(1e6))) <= 0.01
    # Half a step of 0.01 V is worth 1.25 kPa: the two rounded ends cannot do worse together.
    assert abs(first["worst_error_pa"]) <= 1.3e3


def test_units_of_the_setup(cals: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """If it failed, --at 20 of a builder who thinks in psi would be taken for 20 kPa."""
    setup = Path(with_input(tmp_path, value_unit="psi"))
    text = setup.read_text(encoding="utf-8").replace("\n[units]\n", '\n[units]\npressure = "psi"\n')
    setup.write_text(text, encoding="utf-8")
    out = tmp_path / "O1.csv"
    assert main(["table", str(cals / "O1.json"), "--setup", str(setup), "--at", "20", "--out", str(out)]) == 0
    assert "| 20 | fixed |" in capsys.readouterr().out
    page = out.with_name("O1-report.html").read_text(encoding="utf-8")
    assert "psi" in page
    assert "0\u00a0kPa" not in page.replace(" kPa", "\u00a0kPa")[: page.index("Show the arithmetic")]


def test_a_slip_stands_first_and_stops_the_table(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """If it failed, 2.702 V written for 2.072 V would become a table; kept with a reason it may."""
    run = tmp_path / "oil.csv"
    text = (DATA / "2026-05-16-oil.csv").read_text(encoding="utf-8")
    assert text.count(",2.072,") == 1
    run.write_text(text.replace(",2.072,", ",2.702,"), encoding="utf-8")
    out, rows = tmp_path / "O1.json", tmp_path / "t.csv"
    fit = ["fit", str(run), "--probe", "O1", "--out", str(out)]
    assert main([*fit, "--setup", str(SETUP)]) == 0
    said = capsys.readouterr().out.splitlines()
    assert "A READING LOOKS WRONG: row 6" in said[1]
    assert "likely 2.072 V" in said[1]
    assert 'what = "wrong-reading:O1"' in said[2]
    assert not any("linearity" in line for line in said)
    page = out.with_suffix(".html").read_text(encoding="utf-8")
    assert page.index("A reading is questioned") < page.index("In plain words")
    assert "a reading looks wrong" in fails(capsys, "table", str(out), "--setup", str(SETUP), "--out", str(rows))
    assert not rows.exists()
    kept = tmp_path / "setup.toml"
    keep = 'keep = [{what = "wrong-reading:O1", reason = "read twice"}]\n'
    kept.write_text(keep + SETUP.read_text(encoding="utf-8"), encoding="utf-8")
    assert main([*fit, "--setup", str(kept)]) == 0
    said = capsys.readouterr().out.splitlines()
    assert "kept, because read twice" in said[1]
    assert any("linearity" in line for line in said)
    assert sum("LOOKS WRONG" in line for line in said) == 1
    assert main(["table", str(out), "--setup", str(kept), "--out", str(rows)]) == 0


def test_limits_of_the_engine_stand_first(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """If it failed, the low oil pressure limit of the setup would stand on no page."""
    setup = tmp_path / "setup.toml"
    text = SETUP.read_text(encoding="utf-8") + '\n[limits.oil_pressure]\nlow = "150 kPa"\n'
    setup.write_text(text, encoding="utf-8")
    run, out = str(DATA / "2026-05-16-oil.csv"), tmp_path / "O1.json"
    assert main(["fit", run, "--setup", str(setup), "--probe", "O1", "--out", str(out)]) == 0
    assert "At the 150 kPa low limit: 22.09" in out.with_suffix(".html").read_text(encoding="utf-8")
    command = ["table", str(out), "--setup", str(setup), "--out", str(tmp_path / "t.csv")]
    assert main(command) == 0
    assert "--at 150 puts one on the curve" in capsys.readouterr().out
    assert main([*command, "--at", "150"]) == 0
    assert "puts one on the curve" not in capsys.readouterr().out


def test_a_mistake_gets_one_line(cals: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """If it failed, a wrong option would end in a traceback, or in a table of something else."""
    base = ("table", str(cals / "O1.json"), "--setup", str(SETUP), "--out", str(tmp_path / "t.csv"))
    assert "--from" in fails(capsys, *base, "--from", "20 degC")
    assert "--at belongs to a table" in fails(capsys, *base, "--two-constants", "--at", "150")
    assert "whole step" in fails(capsys, *base, "--at", "150.4")
    assert "9 rows" in fails(capsys, *base, "--rows", "9")
    assert "supply" in fails(capsys, *base[:3], with_input(tmp_path, supply="0 V"), *base[4:])
    assert not (tmp_path / "t.csv").exists()


def test_a_thermistor_has_no_two_constants(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """If it failed, a thermistor's curve would be keyed in as a straight line."""
    record = Path(__file__).parents[1] / "book" / "records" / "v1_p1.json"
    error = fails(
        capsys, "table", str(record), "--setup", str(SETUP), "--two-constants", "--out", str(tmp_path / "t.csv")
    )
    assert "--two-constants is for pressure sensors" in error
