"""From a session to its record: nothing that was questioned, corrected or assumed gets lost on the way."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import pytest

from sensorcal.bench.runfile import read_run
from sensorcal.book.facts import Facts, Source
from sensorcal.book.frombench import facts_of
from sensorcal.book.store import read_record, write_record
from sensorcal.calibration.fromrun import BenchResult, calibrate
from sensorcal.setup import Keep
from sensorcal.setupfile import read_setup

DATA = Path(__file__).parents[2] / "data"


def session(name: str, probe: str, reason: str = "") -> tuple[BenchResult, Facts]:
    """Fit one probe of the invented scenario and collect its facts."""
    setup = read_setup(DATA / "setup.toml")
    if reason:
        setup = dataclasses.replace(setup, keep=(Keep(what=f"wrong-reading:{probe}", reason=reason),))
    run = read_run(DATA / "runs" / name, setup)
    result = calibrate(run, setup, probe)
    return result, facts_of(result, run, setup, setup_file=Source(file="setup.toml"), written="2026-05-03")


def test_a_real_session_goes_into_the_record_and_back(tmp_path: Path) -> None:
    """If it failed, something of a real evening could not be written, or would come back changed."""
    result, facts = session("2026-05-02-water-bath.csv", "P1")
    write_record(tmp_path / "P1.json", result.calibration, facts)
    record = read_record(tmp_path / "P1.json")
    assert record.facts == facts
    assert facts.identifier == "P1-2026-05-02"
    assert facts.run.file == "2026-05-02-water-bath.csv"
    assert len(facts.run.sha256) == 64
    assert facts.redline_c == 120.0
    assert facts.traceability.startswith("0 °C by ice; ")
    assert "steam by the QNH of field invented field" in facts.traceability
    assert len(facts.terms) == len(result.terms)
    assert all(len(line.u_c or line.u_ratio or ()) == len(result.points) for line in facts.terms)
    assert {line.identifier for line in facts.terms if line.shared} >= set(result.calibration.shared_identifiers)


def test_corrections_carry_the_sign_of_the_temperature() -> None:
    """If it failed, ohms taken off would be reported as degrees taken off, the wrong way round for a thermistor."""
    _, facts = session("2026-05-02-water-bath.csv", "P1")
    meter = next(one for one in facts.corrections if one.what == "leads and scale of the meter")
    assert meter.size.startswith("-")
    assert meter.size_c is not None
    assert meter.size_c > 0.3


def test_an_open_blunder_is_recorded_as_open_and_a_kept_one_with_its_reason() -> None:
    """If it failed, a wrong reading would vanish from the record, or the reason for keeping it."""
    name = "2026-05-02-water-bath-with-blunders.csv"
    result, facts = session(name, "P1")
    found = [remark for remark in facts.remarks if remark.kind == "blunder"]
    assert len(found) == len(result.blunders) > 0
    assert found[0].answer == ""
    assert found[0].file_rows
    assert abs(found[0].size_c or 0.0) == pytest.approx(7.3, abs=0.1)
    assert not facts.shape_confirmed
    _, kept = session(name, "P1", reason="read twice")
    assert [remark.answer for remark in kept.remarks if remark.kind == "blunder"] == ["kept, because read twice"]


def test_the_sheet_confirms_the_shape_only_where_it_was_the_prior_and_is_met() -> None:
    """If it failed, a page would claim less than 1.5 °C beyond the tested points without the sheet behind it."""
    _, facts = session("2026-05-02-water-bath.csv", "P1")
    assert facts.shape_confirmed
    assert facts.statements[0].lower().startswith("meets its sheet at all 7 points")
    assert session("2026-05-02-water-bath-with-fahrenheit.csv", "P1")[1].shape_confirmed is False
