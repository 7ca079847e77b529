"""The findings of a first start as a JSON document with a published schema; times are s since the log's first row."""

from __future__ import annotations

import csv
import io
import json
from functools import lru_cache
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, Any, cast

from sensorcal import __version__
from sensorcal.book.facts import Source
from sensorcal.errors import FileError

if TYPE_CHECKING:
    from collections.abc import Iterable

    from sensorcal.firststart.checkedlog import CheckedLog
    from sensorcal.firststart.findings import Finding
    from sensorcal.firststart.manylogs import LogResult

FINDINGS_SCHEMA = "sensorcal-findings-1"
"""Name of the format written here."""

STATEMENT = (
    "what a log shows, judged afterwards; not a certificate; the engine maker's manual, local rules and licensed "
    "practice decide"
)


def findings_document(checked: CheckedLog, log: Source | None = None, setup: Source | None = None) -> dict[str, Any]:
    """Write a checked log as a JSON document (plain dicts, lists, numbers and texts).

    Parameters
    ----------
    checked : CheckedLog
    log, setup : Source, optional
        Names and SHA-256 of the files that went in.

    Returns
    -------
    dict
        The same inputs give the same document: no clock is read.
    """
    return {
        "schema": FINDINGS_SCHEMA,
        "statement": STATEMENT,
        "software": f"sensorcal {__version__}",
        "log": {
            "file": checked.file, "sha256": log.sha256 if log else "", "kind": checked.kind, "rows": checked.rows,
            "duration_s": _time(checked.duration_s),
        },
        "setup": {"file": setup.file if setup else "", "sha256": setup.sha256 if setup else ""},
        "scenario": checked.scenario,
        "sound_probability": _share(checked.sound_probability),
        "findings": [_finding(one) for one in checked.findings],
        "weighed": [
            {"kind": one.kind, "channels": list(one.channels), "probability": _share(one.probability)}
            for one in checked.weighed
        ],
        "judged": {
            channel: {"column": one.column, "verdict": one.verdict, "lines": one.lines, "findings": list(one.findings)}
            for channel, one in checked.judged.items()
        },
        "not_judged": list(checked.not_judged),
        "phases": [
            {"phase": span.phase, "start_s": _time(span.start_s), "end_s": _time(span.end_s)} for span in checked.phases
        ],
        "columns": {
            channel: {"column": one.heading, "unit": one.unit, "unit_stated": one.stated, "why": one.why}
            for channel, one in checked.columns.items()
        },
        "ignored": list(checked.ignored),
        "notes": list(checked.notes),
        "cautions": list(checked.cautions),
    }  # fmt: skip


def _finding(one: Finding) -> dict[str, Any]:
    return {
        "rank": one.rank, "kind": one.kind, "also": list(one.also), "family": one.family, "channel": one.channel,
        "columns": list(one.columns), "channels": list(one.channels), "probability": _share(one.probability),
        "title": one.title, "genuine": one.genuine, "limit_crossed": one.crossed,
        "start_s": _time(one.start_s), "end_s": _time(one.end_s),
        "size": {
            "value": None if one.size.value is None else float(f"{one.size.value:.6g}"),
            "unit": one.size.unit, "text": one.size.text,
        },
        "evidence": [
            {
                "text": said.text,
                "start_s": None if said.start_s is None else _time(said.start_s),
                "end_s": None if said.end_s is None else _time(said.end_s),
            }
            for said in one.evidence
        ],
        "stop_and_check": one.stop_and_check, "next_check": one.next_check,
        "checks": [
            {
                "text": check.text, "minutes": check.minutes, "bits": _share(check.bits), "proof": check.proof,
                "cautions": list(check.cautions),
            }
            for check in one.checks
        ],
    }  # fmt: skip


def findings_text(document: dict[str, Any]) -> str:
    """Write the document as text: one key a line, ending with a line feed."""
    return json.dumps(document, indent=1, ensure_ascii=False, allow_nan=False) + "\n"


TABLE_COLUMNS = (
    "rank", "kind", "also", "family", "channel", "probability", "title", "genuine", "limit_crossed", "start_s", "end_s",
    "size", "unit", "size_text", "evidence", "stop_and_check", "next_check",
)  # fmt: skip
"""Columns of the table of findings; names as in the document, several texts in a cell parted by ' | '."""


def findings_csv(document: dict[str, Any]) -> str:
    """Write the findings of a document as a table for a spreadsheet, one row a finding; only the heading where none.

    Parameters
    ----------
    document : dict
        As of `findings_document`.

    Returns
    -------
    str
        CSV with commas and decimal points.
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(TABLE_COLUMNS)
    for one in document["findings"]:
        row = one | {
            "also": " | ".join(one["also"]), "size": one["size"]["value"], "unit": one["size"]["unit"],
            "size_text": one["size"]["text"], "evidence": " | ".join(said["text"] for said in one["evidence"]),
        }  # fmt: skip
        writer.writerow([_cell(row[name]) for name in TABLE_COLUMNS])
    return out.getvalue()


def write_findings(path: str | Path, document: dict[str, Any]) -> None:
    """Write the document to a file; older findings are replaced, any other file is not.

    Raises
    ------
    FileError
        The place cannot be written, or holds a file that is no findings.
    """
    path = Path(path)
    try:
        if path.exists() and not _is_findings(path):
            raise FileError(
                "another file that holds no findings stands under this name", do="choose another name", file=str(path)
            )
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(findings_text(document), encoding="utf-8", newline="\n")
    except OSError as error:
        raise FileError(
            f"cannot be written ({error.strerror})", do="check the folder and its permissions", file=str(path)
        ) from None


def _is_findings(path: Path) -> bool:
    try:
        found = json.loads(path.read_text(encoding="utf-8"))
    except (ValueError, UnicodeDecodeError):
        return path.stat().st_size == 0
    return isinstance(found, dict) and str(found.get("schema", "")).startswith("sensorcal-findings-")


@lru_cache(maxsize=1)
def findings_schema() -> dict[str, Any]:
    """Return the JSON Schema (draft 2020-12) of the findings written here."""
    text = files("sensorcal.book").joinpath("schemas", f"{FINDINGS_SCHEMA}.json").read_text(encoding="utf-8")
    return cast("dict[str, Any]", json.loads(text))


def _time(seconds: float) -> float:
    return round(float(seconds), 3)


def _share(probability: float) -> float:
    return round(float(probability), 4)




# --- many logs ----------------------------------------------------------------------------------------------------

SUMMARY_COLUMNS = (
    "file", "error", "findings", "stop_and_check", "kind", "channel", "probability", "title", "sound_probability",
    "rows", "duration_s",
)  # fmt: skip
"""What the summary says of each log; kind, channel, probability and title are those of the first finding."""


def summary_document(results: Iterable[LogResult], base: str | Path | None = None) -> dict[str, Any]:
    """Write what came of many logs as one document, sorted by file.

    Parameters
    ----------
    results : iterable of LogResult
    base : str or Path, optional
        Folder that the names are told from.

    Returns
    -------
    dict
        'logs', 'checked', 'with_findings', 'errors' as counts, and one entry a log.
    """
    entries = sorted((_entry(result, base) for result in results), key=lambda entry: str(entry["file"]))
    return {
        "schema": "sensorcal-findings-summary-1",
        "statement": STATEMENT,
        "software": f"sensorcal {__version__}",
        "logs": len(entries),
        "checked": sum(not entry["error"] for entry in entries),
        "with_findings": sum(bool(entry["findings"]) for entry in entries),
        "errors": sum(bool(entry["error"]) for entry in entries),
        "entries": entries,
    }


def summary_name(path: Path, base: str | Path | None = None) -> str:
    """Name of a log in the summary: told from a folder where it lies in it, with forward slashes.

    Examples
    --------
    >>> summary_name(Path("logs/june/a.csv"), "logs")
    'june/a.csv'
    """
    return path.relative_to(base).as_posix() if base is not None and path.is_relative_to(base) else path.as_posix()


def _entry(result: LogResult, base: str | Path | None) -> dict[str, Any]:
    done = result.checked
    entry: dict[str, Any] = dict.fromkeys(SUMMARY_COLUMNS)
    entry |= {"file": summary_name(result.path, base), "error": result.error}
    if done is None:
        return entry
    first = done.findings[0] if done.findings else None
    entry |= {
        "findings": len(done.findings), "stop_and_check": any(one.genuine for one in done.findings),
        "sound_probability": _share(done.sound_probability), "rows": done.rows, "duration_s": _time(done.duration_s),
    }  # fmt: skip
    if first is not None:
        entry |= {
            "kind": first.kind, "channel": first.channel, "probability": _share(first.probability),
            "title": first.title,
        }  # fmt: skip
    return entry


def summary_csv(document: dict[str, Any]) -> str:
    """Write the same as a table for a spreadsheet, one row a log."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(SUMMARY_COLUMNS)
    for entry in document["entries"]:
        writer.writerow([_cell(entry[name]) for name in SUMMARY_COLUMNS])
    return out.getvalue()


def _cell(value: object) -> object:
    if value is None:
        return ""
    return ("yes" if value else "no") if isinstance(value, bool) else value
