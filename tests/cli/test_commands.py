"""The commands, as a user types them: outcome, files, one line for a mistake."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest

from sensorcal.bench.demo import BLUNDERS_RUN, WATER_BATH_RUN, write_scenario
from sensorcal.bench.scenario import FOUR_PROBES
from sensorcal.book.pressurerecord import read_pressure_record
from sensorcal.book.store import read_record
from sensorcal.calibration.calibration import expanded_c
from sensorcal.cli.main import main


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The invented scenario in a folder of its own."""
    top = tmp_path_factory.mktemp("bench")
    write_scenario(top)
    return top


def _fails(capsys: pytest.CaptureFixture[str], *argv: str) -> str:
    try:
        code = main(argv)
    except SystemExit as stop:
        code = int(stop.code or 0)
    out = capsys.readouterr()
    assert code == 2
    assert out.err.count("\n") == 1, out.err
    assert "Traceback" not in out.err
    return out.err


def test_fit_all_writes_records_that_hold_the_truth(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A record off by more than its U over the tested range would put a wrong table into the monitor."""
    cals = folder / "cals"
    code = main(
        ["fit", str(folder / WATER_BATH_RUN), "--setup", str(folder / "setup.toml"), "--all", "--out", str(cals)]
    )
    said = capsys.readouterr().out
    assert code == 0
    assert "At the 120 °C redline" in said
    at = np.linspace(0.0, 97.0, 30)
    outside = 0
    for probe in FOUR_PROBES:
        cal = read_record(cals / f"{probe.name}.json").calibration
        error = cal.temperature_c(np.asarray(probe.resistance_ohm(at))) - at
        outside += int(np.sum(np.abs(error) > expanded_c(cal, at)))
        assert np.abs(error).max() < 0.35
        assert "<html" in (cals / f"{probe.name}.html").read_text(encoding="utf-8")
    # 19 times in 20: of four probes times thirty temperatures, strongly alike, some may lie outside, not most.
    assert outside <= 30


def test_fit_names_the_slips_and_refuses_a_table(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A table made from a transposed digit looks as good as any other."""
    setup = str(folder / "setup.toml")
    out = folder / "slips"
    assert main(["fit", str(folder / BLUNDERS_RUN), "--setup", setup, "--all", "--out", str(out)]) == 0
    said = capsys.readouterr().out
    assert "1384 ohm has two digits transposed, likely 1834" in said
    assert "0.764 ohm looks like a slip of the decimal point, likely 764" in said
    assert "the two resistances look swapped" in said
    error = _fails(capsys, "table", str(out / "P1.json"), "--setup", setup, "--out", str(folder / "t.csv"))
    assert "a reading looks wrong" in error
    assert not (folder / "t.csv").exists()


def test_a_kept_reading_gets_its_table(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Every refusal can be overridden with a reason, and the reason is kept."""
    setup = folder / "kept.toml"
    text = (folder / "setup.toml").read_text(encoding="utf-8")
    keep = 'keep = [{what = "wrong-reading:P1", reason = "read twice, stands"}]\n'
    setup.write_text(keep + text, encoding="utf-8")
    out = folder / "kept" / "P1.json"
    assert main(["fit", str(folder / BLUNDERS_RUN), "--setup", str(setup), "--probe", "P1", "--out", str(out)]) == 0
    assert "kept, because read twice, stands" in capsys.readouterr().out
    remarks = [remark for remark in read_record(out).facts.remarks if remark.kind == "blunder"]
    assert remarks[0].answer == "kept, because read twice, stands"
    assert main(["table", str(out), "--setup", str(setup), "--rows", "5", "--out", str(folder / "kept.csv")]) == 0


def test_table_command_writes_csv_markdown_and_page(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The three forms must carry the same rows, and the redline row must stand on the curve."""
    setup = str(folder / "setup.toml")
    cal = folder / "one" / "P1.json"
    main(["fit", str(folder / WATER_BATH_RUN), "--setup", setup, "--probe", "P1", "--out", str(cal)])
    capsys.readouterr()
    out = folder / "tables" / "P1.csv"
    command = ["table", str(cal), "--setup", setup, "--rows", "10", "--from", "-20", "--to", "150", "--at", "120"]
    assert main([*command, "--out", str(out), "--json"]) == 0
    machine = json.loads(capsys.readouterr().out)
    assert len(machine["rows"]) == 10
    redline = next(row for row in machine["rows"] if row["value"] == 120)
    curve = read_record(cal).calibration
    assert abs(redline["signal"] - float(curve.resistance_ohm(120.0))) <= 0.5 + 1e-9
    assert machine["bound_c"] <= abs(machine["worst_error_c"]) < abs(machine["even_rows_worst_error_c"])
    lines = [line for line in out.read_text(encoding="utf-8").splitlines() if not line.startswith("#")]
    assert len(lines) == 11
    for form in (".md", ".html"):
        text = out.with_suffix(form).read_text(encoding="utf-8")
        assert all(f"{row['signal']:.0f}" in text for row in machine["rows"])


def test_probe_from_two_readings_and_its_sheet(capsys: pytest.CaptureFixture[str]) -> None:
    """Job-map 9.4: +0.6 % and +0.5 %, -0.13 and about -0.2 °C, meets the sheet; U at 120 °C near 0.33 and more."""
    sheet = "0=5230, 25=1800, 97.7=172.1, 120=98.2"
    code = main(
        [
            *("probe", "--ice", "5262", "--steam", "172.9", "--elevation", "640", "--qnh", "1009"),
            *("--station-elevation", "610", "--sheet", sheet, "--json"),
        ]
    )
    got = json.loads(capsys.readouterr().out)
    assert code == 0
    ice, steam = got["sheet"]
    assert round(100 * ice["ratio"], 1) == 0.6
    assert round(ice["error_c"], 2) == -0.13
    assert round(100 * steam["ratio"], 1) == 0.5
    assert ice["verdict"] == steam["verdict"] == "meets"
    u120 = next(claim for claim in got["claims"] if claim["temperature_c"] == 120.0)
    assert u120["extrapolated"]
    assert 0.3 < u120["expanded_c"] < 0.8


def test_probe_writes_the_setup_once(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The user never starts from an empty setup file, and never loses one."""
    path = tmp_path / "setup.toml"
    command = ["probe", "--ice", "5262", "--steam", "172.9", "--elevation", "640", "--qnh", "1009"]
    assert main([*command, "--write-setup", str(path)]) == 0
    capsys.readouterr()
    text = path.read_text(encoding="utf-8")
    assert "elevation = " in text
    assert "assumed" in text
    assert "nothing you wrote is overwritten" in _fails(capsys, *command, "--write-setup", str(path))


@pytest.mark.parametrize(
    ("argv", "word"),
    [
        (["fit", "nowhere.csv", "--setup", "nowhere.toml", "--all", "--out", "x"], "nowhere.toml"),
        (["fit", "nowhere.csv"], "--setup"),
        (["probe", "--ice", "52x2", "--sheet", "0=5230, 25=1800"], "--ice"),
        (["probe", "--ice", "5262"], "--sheet"),
        (["probe", "--ice", "5262", "--steam", "172.9"], "--elevation"),
        (["air", "--elevation", "640", "--qnh", "29.92"], "inHg"),
        (["air", "--elevation", "9500", "--qnh", "1009"], "--elevation"),
        (["table", "nowhere.json", "--setup", "nowhere.toml", "--out", "t.csv"], "nowhere.toml"),
        (["nonsense"], "nonsense"),
        ([], "COMMAND"),
    ],
)
def test_a_mistake_gets_one_line(argv: list[str], word: str, capsys: pytest.CaptureFixture[str]) -> None:
    """A traceback, or a page of usage, tells a builder nothing."""
    assert word in _fails(capsys, *argv)


def test_a_bad_cell_is_named_with_file_row_and_column(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Without the place the user hunts through forty rows."""
    text = (folder / WATER_BATH_RUN).read_text(encoding="utf-8").replace(",5240,", ",52a40,", 1)
    text = text if "52a40" in text else text.replace("5289", "52a89", 1)
    bad = tmp_path / "run.csv"
    bad.write_text(text, encoding="utf-8")
    error = _fails(capsys, "fit", str(bad), "--setup", str(folder / "setup.toml"), "--all", "--out", str(tmp_path))
    assert "run.csv" in error
    assert "row 4" in error
    assert "P1" in error
    assert list(tmp_path.iterdir()) == [bad]


def test_a_typed_hundred_degrees_stops_with_its_size(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Job-map story 2: water boils at 97.73 °C here, so a typed 100 is 2.27 °C off."""
    text = (folder / WATER_BATH_RUN).read_text(encoding="utf-8").replace(",steam,steam,", ",steam,100.0,")
    bad = tmp_path / "run.csv"
    bad.write_text(text, encoding="utf-8")
    error = _fails(capsys, "fit", str(bad), "--setup", str(folder / "setup.toml"), "--all", "--out", str(tmp_path))
    assert "2.27" in error
    assert "keep" in error


def test_help_is_quick_and_shows_an_example() -> None:
    """`sensorcal --help` under 0.3 s: the best of five, because the machine may be busy."""
    best = float("inf")
    for _ in range(5):
        start = time.perf_counter()
        done = subprocess.run(
            [sys.executable, "-m", "sensorcal", "--help"], capture_output=True, text=True, check=True, encoding="utf-8"
        )
        best = min(best, time.perf_counter() - start)
    assert best < 0.3
    assert "sensorcal air --elevation" in done.stdout


@pytest.mark.parametrize("command", ["demo", "air", "probe", "fit", "table", "check"])
def test_each_help_shows_an_example(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    """An option list alone does not tell how to begin."""
    with pytest.raises(SystemExit) as stop:
        main([command, "--help"])
    assert stop.value.code == 0
    assert f"  sensorcal {command} " in capsys.readouterr().out


@pytest.mark.slow
def test_demo_runs_from_an_installed_wheel_in_an_empty_folder(tmp_path: Path) -> None:
    """The demo must need nothing that only a clone has."""
    root = Path(__file__).parents[2]
    source = tmp_path / "source"
    shutil.copytree(
        root, source, ignore=shutil.ignore_patterns(".git", ".venv*", "build", "*.egg-info", "__pycache__", "notebooks")
    )
    wheels = tmp_path / "wheels"
    subprocess.run(
        [sys.executable, "-m", "pip", "wheel", "-q", "--no-deps", "-w", str(wheels), str(source)],
        check=True,
        capture_output=True,
    )
    (wheel,) = wheels.glob("*.whl")
    site, empty = tmp_path / "site", tmp_path / "empty"
    empty.mkdir()
    shutil.unpack_archive(str(wheel), str(site), "zip")
    shutil.rmtree(source)
    code = (
        f"import sys; sys.path.insert(0, {str(site)!r}); import sensorcal; "
        f"assert sensorcal.__file__.startswith({str(site)!r}), sensorcal.__file__; "
        "from sensorcal.cli.main import main; sys.exit(main(['demo', 'out']))"
    )
    done = subprocess.run(
        [sys.executable, "-I", "-c", code], cwd=empty, capture_output=True, text=True, check=False, encoding="utf-8"
    )
    assert done.returncode == 0, done.stderr
    tags = ["F1", "M1", "O1", *(f"P{i}" for i in range(1, 5))]
    assert sorted(p.stem for p in (empty / "out" / "calibrations").glob("*.json")) == tags
    for tag in tags:
        assert (empty / "out" / "calibrations" / f"{tag}.html").exists()
        assert (empty / "out" / "tables" / f"{tag}.html").exists()
    assert "Stop and check" in (empty / "out" / "findings" / "oil-falling.html").read_text(encoding="utf-8")
    assert "O1, F1, M1 by record" in (empty / "out" / "day-sheet.html").read_text(encoding="utf-8")
    assert (empty / "out" / "README.md").read_bytes() == (root / "data" / "README.md").read_bytes()


@pytest.mark.parametrize(("run", "tag"), [("oil", "O1"), ("fuel", "F1"), ("map", "M1")])
def test_fit_takes_pressure_sensors_too(run: str, tag: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """One command for every sensor: the setup says what the tag is."""
    folder = Path(__file__).parents[2] / "data" / "pressure"
    out = tmp_path / f"{tag}.json"
    command = ["fit", str(folder / f"2026-05-16-{run}.csv"), "--setup", str(folder / "setup.toml"), "--probe", tag]
    assert main([*command, "--out", str(out)]) == 0
    said = capsys.readouterr().out
    assert "hysteresis" in said
    assert "taking it for 5 V would have cost" in said
    calibration = read_pressure_record(out).calibration
    # What the simulator put in (data/pressure/README.md): span of the ratio over the range.
    span = {"O1": 0.797, "F1": 0.801, "M1": 0.7985}[tag]
    assert calibration.span_ratio == pytest.approx(span, rel=0.005)


def test_fit_in_fahrenheit_says_no_celsius(folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A builder who thinks in °F would read the size of a slip in another unit than the redline beside it."""
    text = (folder / "setup.toml").read_text(encoding="utf-8")
    american = text.replace('temperature = "degC"', 'temperature = "degF"', 1)
    assert american != text
    setup = tmp_path / "setup.toml"
    setup.write_text(american, encoding="utf-8")
    out = tmp_path / "out"
    assert main(["fit", str(folder / BLUNDERS_RUN), "--setup", str(setup), "--all", "--out", str(out)]) == 0
    said = capsys.readouterr().out
    assert "1384 ohm has two digits transposed, likely 1834 (worth 13.1 °F)" in said
    assert "°C" not in said
