"""Findings on disk keep to the published schema, in the same words every time."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

from sensorcal.book.findings import (
    FINDINGS_SCHEMA,
    SUMMARY_COLUMNS,
    TABLE_COLUMNS,
    findings_csv,
    findings_document,
    findings_schema,
    findings_text,
    summary_csv,
    summary_document,
    write_findings,
)
from sensorcal.errors import FileError
from sensorcal.firststart.channels import CHANNELS, FAMILY, KINDS, PHASES
from sensorcal.firststart.checkedlog import FITS, FITS_NOT, TOO_LITTLE, checked
from sensorcal.firststart.manylogs import LogResult
from tests.firststart.soundstart import engine, low_oil, opened


@pytest.fixture(scope="module")
def documents():
    """A log without findings, one with a broken wire, one with low oil pressure."""
    return [findings_document(checked(verdict)) for verdict in (engine(), engine(coolant=opened), low_oil())]


def test_the_schema_is_a_schema_and_names_what_the_code_names():
    """A kind or phase that the schema does not know would make a true document invalid."""
    schema = findings_schema()
    Draft202012Validator.check_schema(schema)
    finding = schema["properties"]["findings"]["items"]["properties"]
    assert set(finding["kind"]["enum"]) == set(KINDS)
    assert set(finding["family"]["enum"]) == set(FAMILY.values())
    assert set(finding["channels"]["items"]["enum"]) == set(CHANNELS)
    assert set(schema["properties"]["phases"]["items"]["properties"]["phase"]["enum"]) == set(PHASES)
    verdicts = schema["properties"]["judged"]["additionalProperties"]["properties"]["verdict"]["enum"]
    assert set(verdicts) == {FITS, FITS_NOT, TOO_LITTLE}


def test_documents_keep_to_the_schema(documents):
    """A program that trusts the schema would stumble over our own findings."""
    validator = Draft202012Validator(findings_schema())
    for document in documents:
        validator.validate(json.loads(findings_text(document)))
    assert documents[0]["findings"] == []
    assert documents[1]["findings"][0]["channel"] == "CLT"
    assert documents[0]["schema"] == FINDINGS_SCHEMA


def test_real_trouble_without_stop_and_check_is_invalid(documents):
    """The rule that a crossed limit says what to do first stands in the format itself."""
    bad = json.loads(findings_text(documents[2]))
    assert bad["findings"][0]["genuine"]
    bad["findings"][0]["stop_and_check"] = ""
    assert list(Draft202012Validator(findings_schema()).iter_errors(bad))


def test_the_same_log_gives_the_same_bytes(documents):
    """Two runs that differ in a clock could not be compared."""
    assert findings_text(findings_document(checked(low_oil()))) == findings_text(documents[2])


def test_findings_never_replace_another_file(tmp_path, documents):
    """A mistyped --out must not cost the log."""
    log = tmp_path / "log.csv"
    log.write_text("Time s,CLT\n0,20\n", encoding="utf-8")
    with pytest.raises(FileError, match="another file"):
        write_findings(log, documents[0])
    place = tmp_path / "new" / "findings.json"
    write_findings(place, documents[0])
    write_findings(place, documents[1])
    assert json.loads(place.read_text(encoding="utf-8"))["findings"]


def test_the_table_has_a_row_for_each_finding(documents):
    """A spreadsheet that lost a finding, or its next check, would be worse than none."""
    assert findings_csv(documents[0]).splitlines() == [",".join(TABLE_COLUMNS)]
    (row,) = csv.DictReader(io.StringIO(findings_csv(documents[2])))
    first = documents[2]["findings"][0]
    assert (row["rank"], row["kind"], row["channel"]) == ("1", "low_oil_pressure_real", "Oil P")
    assert (row["genuine"], row["unit"]) == ("yes", "kPa")
    assert row["next_check"] == first["next_check"]
    assert row["evidence"].count(" | ") == len(first["evidence"]) - 1


def test_the_summary_counts_and_sorts():
    """A season's table that lost a log, or its error, would hide the one that matters."""
    done = checked(low_oil())
    results = [
        LogResult(path=Path("logs/b.csv"), error="b.csv: empty."),
        LogResult(path=Path("logs/a.csv"), checked=done, seconds=0.1),
    ]
    document = summary_document(results, "logs")
    counted = [document[name] for name in ("logs", "checked", "with_findings", "errors")]
    assert counted == [2, 1, 1, 1]
    rows = list(csv.DictReader(io.StringIO(summary_csv(document))))
    assert [row["file"] for row in rows] == ["a.csv", "b.csv"]
    assert list(rows[0]) == list(SUMMARY_COLUMNS)
    assert (rows[0]["kind"], rows[0]["stop_and_check"]) == ("low_oil_pressure_real", "yes")
    assert rows[1]["error"] == "b.csv: empty."
