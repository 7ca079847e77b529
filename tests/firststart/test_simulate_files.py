"""Invented logs as files: whatever the dialect, what was shown comes back."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from sensorcal.errors import InputError
from sensorcal.firststart.logread import read_log
from sensorcal.firststart.simulate import SimulatedStart, draw_case, simulate_start
from sensorcal.firststart.simulate_files import LogDialect, draw_dialect, write_log_csv
from sensorcal.firststart.startlog import StartLog


@pytest.fixture(scope="module")
def start() -> SimulatedStart:
    """A start of some minutes with blanks in it."""
    rng = np.random.default_rng(44)
    while True:
        case = draw_case(rng)
        if case.recording.blank_ratio > 0.002 and case.recording.rate_hz == 1.0 and case.recording.begins == "rest":
            return simulate_start(case)


def assert_same(read: StartLog, written: StartLog, *, within_s: float) -> None:
    """Every channel, cell by cell, blanks included."""
    np.testing.assert_allclose(read.time_s, written.time_s, atol=within_s)
    assert set(read.values) == set(written.values)
    for name, values in written.values.items():
        np.testing.assert_allclose(read.values[name], values, rtol=1e-8, atol=1e-6, err_msg=name)


@pytest.mark.parametrize("seed", range(40))
def test_any_dialect_reads_back_the_same(seed: int, start: SimulatedStart, tmp_path: Path) -> None:
    """A dialect that writer and reader understand differently would show as a fault of a sensor."""
    dialect = draw_dialect(np.random.default_rng(seed))
    file = write_log_csv(start.log, tmp_path / "log.csv", dialect=dialect)
    assert_same(read_log(file), start.log, within_s=0.011)


def test_plain_file_is_what_people_expect(start: SimulatedStart, tmp_path: Path) -> None:
    """The plain form must need no explanation: seconds, degC and kPa, units in brackets."""
    text = write_log_csv(start.log, tmp_path / "log.csv").read_text(encoding="utf-8")
    assert text.splitlines()[0].startswith("Time [s],Coolant [°C]")
    assert "MAP [kPa]" in text.splitlines()[0]


def test_a_clock_that_begins_anew_is_written_so(start: SimulatedStart, tmp_path: Path) -> None:
    """The restart of a logger's clock must stand in the file as the logger would write it, and be joined again."""
    clock = start.log.time_s.copy()
    clock[200:] -= clock[200]
    log = read_log(write_log_csv(start.log, tmp_path / "log.csv", clock_s=clock))
    assert len(log) == len(start.log)
    assert len(log.restarts_s) == 1


def test_impossible_dialects_are_refused(start: SimulatedStart, tmp_path: Path) -> None:
    """Decimal commas between commas cannot be read by anybody."""
    with pytest.raises(InputError, match="comma"):
        LogDialect(separator=",", decimal=",")
    with pytest.raises(InputError, match="clock times"):
        write_log_csv(start.log, tmp_path / "log.csv", clock_s=[0.0, 1.0])
