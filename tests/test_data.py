"""The demo folder equals what the simulator writes, reads back as what was played, and is marked as invented."""

from __future__ import annotations

import csv
import io
import os
import subprocess
import sys
from pathlib import Path

import pytest

from sensorcal.bench.demo import (
    BLUNDERS_RUN,
    FAHRENHEIT_RUN,
    OIL_RUN,
    WATER_BATH_RUN,
    scenario_files,
    write_scenario,
)
from sensorcal.bench.played import SimulatedEvening
from sensorcal.bench.runfile import read_run
from sensorcal.bench.scenario import DEMO_SEED, FOUR_PROBES, PROBE_J_TABLE
from sensorcal.bench.scenariofiles import (
    GEARBOX_OIL,
    HURRIED,
    OIL_SEED,
    WATER_BATH,
    fahrenheit_slips,
    scenario_setup,
    typing_slips,
)
from sensorcal.bench.simulate import simulate_evening
from sensorcal.errors import FileError
from sensorcal.firststart.simulate_demo import start_files
from sensorcal.setupfile import read_setup
from sensorcal.sheet import parse_sheet

DATA = Path(__file__).parents[1] / "data"
REMAKE = 'write_scenario("data", overwrite=True) of sensorcal.bench.demo remakes the folder'
WATER = simulate_evening(FOUR_PROBES, WATER_BATH, seed=DEMO_SEED)
HURRY = simulate_evening(FOUR_PROBES, HURRIED, seed=DEMO_SEED)
OIL = simulate_evening(FOUR_PROBES[1:2], GEARBOX_OIL, seed=OIL_SEED)


@pytest.mark.parametrize("name", sorted(scenario_files()))
def test_data_equals_the_simulator_byte_for_byte(name: str) -> None:
    """An edited or stale file would no longer be what its README says it is."""
    assert (DATA / name).read_bytes() == scenario_files()[name].encode("utf-8"), REMAKE


def test_data_holds_nothing_else() -> None:
    """A file that no simulator wrote would pass for invented data with a known truth."""
    found = {p.relative_to(DATA).as_posix() for p in DATA.rglob("*") if p.is_file()}
    assert found == set(scenario_files()) | set(start_files())


def test_every_file_says_that_it_is_invented() -> None:
    """A reader who opens one file alone must not take it for a measurement."""
    for name, text in scenario_files().items():
        assert "Invented data" in text, name


def test_lines_end_alike_on_every_system(tmp_path: Path) -> None:
    """Carriage returns from Windows would change the hash that a record keeps."""
    for path in write_scenario(tmp_path):
        data = path.read_bytes()
        assert b"\r" not in data, path.name
        assert data.endswith(b"\n"), path.name


def test_another_process_writes_the_same_bytes(tmp_path: Path) -> None:
    """Output that hangs on the hash seed or the order of a set would differ from one run to the next."""
    code = f"from sensorcal.bench.demo import write_scenario; write_scenario({str(tmp_path)!r})"
    subprocess.run([sys.executable, "-c", code], check=True, env={**os.environ, "PYTHONHASHSEED": "7"})
    for name, text in scenario_files().items():
        assert (tmp_path / name).read_bytes() == text.encode("utf-8"), name


def test_writing_twice_changes_nothing_and_touches_no_other_file(tmp_path: Path) -> None:
    """A second `demo` into a folder in which the user has worked must not undo that work."""
    write_scenario(tmp_path)
    assert write_scenario(tmp_path)
    own = tmp_path / "setup.toml"
    own.write_text("mine", encoding="utf-8")
    (tmp_path / "README.md").unlink()
    with pytest.raises(FileError, match="not the demo's"):
        write_scenario(tmp_path)
    assert own.read_text(encoding="utf-8") == "mine"
    assert not (tmp_path / "README.md").exists(), "nothing is written when one file is refused"
    write_scenario(tmp_path, overwrite=True)
    assert own.read_bytes() == scenario_files()["setup.toml"].encode("utf-8")


def test_a_folder_that_cannot_be_made_is_told(tmp_path: Path) -> None:
    """A traceback would be the user's first meeting with the demo."""
    (tmp_path / "taken").write_text("a file", encoding="utf-8")
    with pytest.raises(FileError, match="cannot be written"):
        write_scenario(tmp_path / "taken")


def test_setup_reads_back_as_the_builder_knew_it() -> None:
    """A value lost on the way to the file would be assumed again without a word."""
    setup = read_setup(DATA / "setup.toml")
    assert setup == scenario_setup(WATER, OIL)
    assert setup.field.qnh_pa == 100_900.0
    assert {name: p.redline_c for name, p in setup.probes.items()} == {
        "P1": 120.0,
        "P2": 130.0,
        "P3": None,
        "P4": None,
    }


def test_setup_holds_no_truth() -> None:
    """A fit that is told the true gain or bias would only seem good."""
    text = (DATA / "setup.toml").read_text(encoding="utf-8")
    truth = WATER.truth
    for secret in (truth.reference_bias_c, *(actual for _, actual, _ in truth.checks_ohm)):
        assert f"{secret:.3f}" not in text


def test_sheet_reads_back_as_probe_j() -> None:
    """The sheet that the demo pastes must be the probe that the demo simulates."""
    assert parse_sheet((DATA / "sheets/probe-j.csv").read_text(encoding="utf-8")) == PROBE_J_TABLE


def _same(name: str, played: SimulatedEvening, *, tolerance_c: float) -> None:
    """Compare a run as read with the evening as played."""
    run = read_run(DATA / name, read_setup(DATA / "setup.toml"))
    assert len(run.readings) == len(played.rows)
    for reading, row in zip(run.readings, played.rows, strict=True):
        assert reading.point == row.point
        assert reading.time_s == row.clock_s
        assert reading.fixed == ("" if row.kind == "bath" else row.kind)
        if row.reference_c is None:
            assert reading.reference is None
        else:
            assert reading.reference == pytest.approx(row.reference_c, abs=tolerance_c)
        assert dict(reading.signals) == pytest.approx({s.probe: s.shown_ohm for s in row.signals}, abs=1e-9)


def test_water_bath_reads_back_as_played() -> None:
    """A reading changed between the display and the fit would be blamed on the probe."""
    _same(WATER_BATH_RUN, WATER, tolerance_c=1e-9)


def test_gearbox_oil_reads_back_from_its_own_dialect() -> None:
    """Semicolons, decimal commas, °F and kΩ must come to the same numbers in °C and ohm."""
    _same(OIL_RUN, OIL, tolerance_c=1e-9)


@pytest.mark.parametrize(
    ("name", "slips"),
    [
        (BLUNDERS_RUN, typing_slips(HURRY, rows_above=3)),
        (FAHRENHEIT_RUN, fahrenheit_slips(HURRY, rows_above=3)),
    ],
    ids=["blunders", "fahrenheit"],
)
def test_slips_stand_where_the_readme_says_and_nowhere_else(name: str, slips) -> None:
    """A test of the blunder search needs to know every slip and its true value."""
    rows = list(csv.reader(io.StringIO((DATA / name).read_text(encoding="utf-8"))))
    heading = rows[2]
    clean = {}
    for n, row in enumerate(HURRY.rows, start=4):
        if row.reference_c is not None:
            clean[n, "reference"] = f"{row.reference_c:.1f}"
        for s in row.signals:
            clean[n, s.probe] = f"{s.shown_ohm:.{1 if s.resolution_ohm < 1 else 0}f}"
    different = {}
    for (n, column), text in clean.items():
        at = next(i for i, h in enumerate(heading) if h.split(" [")[0] == column)
        if rows[n - 1][at] != text:
            different[n, column] = (text, rows[n - 1][at])
    assert different == {(s.file_row, s.column): (s.meant, s.typed) for s in slips}
    readme = (DATA / "README.md").read_text(encoding="utf-8")
    for s in slips:
        assert f"| `{name}` | {s.file_row} | {s.column} | {s.kind} | {s.meant} | {s.typed} |" in readme


def test_slips_have_their_sizes() -> None:
    """A slip too small to matter, or of another kind than named, would test nothing."""
    slips = {s.kind: s for s in typing_slips(HURRY, rows_above=3)}
    transposed = slips["transposed digits"]
    assert sorted(transposed.meant) == sorted(transposed.typed)
    assert transposed.meant != transposed.typed
    assert float(slips["decade"].meant) / float(slips["decade"].typed) == pytest.approx(1000.0)
    swapped = [s for s in typing_slips(HURRY, rows_above=3) if s.kind == "swapped points"]
    assert (swapped[0].meant, swapped[0].typed) == (swapped[1].typed, swapped[1].meant)
    for s in fahrenheit_slips(HURRY, rows_above=3):
        assert float(s.typed) == pytest.approx(float(s.meant) * 1.8 + 32.0, abs=0.05)


def test_truth_is_the_simulators_own() -> None:
    """A finished curve is judged against these numbers."""
    lines = (DATA / "truth.csv").read_text(encoding="utf-8").splitlines()
    rows = list(csv.DictReader(line for line in lines if not line.startswith("#")))
    assert len(rows) == 12
    for row in rows:
        for p in FOUR_PROBES:
            given = float(row[f"{p.name}_resistance_ohm"])
            assert given == pytest.approx(float(p.resistance_ohm(float(row["temperature_c"]))), abs=0.0005)
