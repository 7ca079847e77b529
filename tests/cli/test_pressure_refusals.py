"""Wrong input of a pressure evening at the command line: one clear line that names file, row and field."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from sensorcal.cli.main import main

DATA = Path(__file__).parents[2] / "data" / "pressure"
RUN = DATA / "2026-05-16-map.csv"


def _line(capsys: pytest.CaptureFixture[str], *argv: str) -> str:
    assert main(argv) == 2
    told = capsys.readouterr()
    assert told.out == ""
    lines = told.err.strip().splitlines()
    assert len(lines) == 1, told.err
    return lines[0]


def _fit(tmp_path: Path, *, run: tuple[str, str] | None = None, setup: tuple[str, str] | None = None) -> list[str]:
    """Arguments of a fit of the demo's manifold run, with one text of the run or a pattern of the setup changed."""
    readings = RUN.read_text(encoding="utf-8")
    around = (DATA / "setup.toml").read_text(encoding="utf-8")
    if run:
        assert run[0] in readings
        readings = readings.replace(*run, 1)
    if setup:
        around, changed = re.subn(setup[0], setup[1], around, count=1, flags=re.MULTILINE)
        assert changed == 1
    (tmp_path / "map.csv").write_text(readings, encoding="utf-8")
    (tmp_path / "setup.toml").write_text(around, encoding="utf-8")
    out = tmp_path / "out"
    return ["fit", str(tmp_path / "map.csv"), "--setup", str(tmp_path / "setup.toml"), "--all", "--out", str(out)]


@pytest.mark.parametrize(
    ("run", "setup", "told"),
    [
        (("-60.2,G3", "-160.2,G3"), None, r"row 4, column reference: reference -160\.2 kPa .* negative absolute"),
        (("1.049,5.0", "1.049,0"), None, r"row 4, column supply \[V\]: supply_v 0 V is not above zero"),
        (("1.049,5.0", "10.49,5.0"), None, r"row 4, column M1: .* outside 0 to 1; perhaps 1\.049 V"),
        (("1.049,5.0", "1049,5.0"), None, r"row 4, column M1: .* outside 0 to 1; perhaps 1\.049 V: millivolts"),
        (None, (r"^qnh = .*", 'qnh = "29.92 hPa"'), r"qnh under \[field\] 29\.92 hPa .* inches of mercury"),
        (None, (r"^qnh = .*", "qnh = 29.92"), r"qnh under \[field\] 29\.92 hPa .* inches of mercury"),
        (None, (r"^elevation = .*", 'elevation = "9500 m"'), r"elevation under \[field\] 9500 m .* if these are feet"),
        (None, (r'^# supply = "… V".*', 'supply = "0 V"'), r"setup\.toml, .*supply = 0 V"),
        (None, (r'^high = "250 kPa".*', 'high = "-5 kPa"'), r"setup\.toml, .*ends at -5000 Pa"),
    ],
)
def test_a_fit_names_what_is_wrong(run, setup, told, tmp_path, capsys):
    """A slip of the pen would give a traceback, a wrong curve, or a message that names nothing."""
    line = _line(capsys, *_fit(tmp_path, run=run, setup=setup))
    assert re.search(told, line), line
    assert not (tmp_path / "out").exists()


def test_a_wrong_reading_is_in_what_fit_prints(tmp_path, capsys):
    """A transposed gauge reading would be fitted, its question left unsaid."""
    assert main(_fit(tmp_path, run=("40.4,G3", "4.04,G3"))) == 0
    printed = capsys.readouterr().out
    assert "A READING LOOKS WRONG: row 9" in printed
    assert "likely 40.4 kPa" in printed
    assert 'what = "wrong-reading:M1"' in printed


@pytest.mark.parametrize(
    ("argv", "told"),
    [
        (("--elevation", "640", "--qnh", "29.92"), r"--qnh 29\.92 hPa .* inches of mercury"),
        (("--elevation", "9500", "--qnh", "1013"), r"--elevation 9500 m"),
        (("--elevation", "640", "--barometer", "-5 kPa"), r"--barometer -5 kPa is no air pressure"),
    ],
)
def test_the_day_sheet_names_what_is_wrong(argv, told, capsys):
    """A QNH in inches, an elevation in feet or a negative pressure would be computed with."""
    assert re.search(told, _line(capsys, "air", *argv))
