"""Records on disk: written in one piece, never over an older one, and read only when whole and known."""

from __future__ import annotations

import json
import os
import re
import tempfile
from functools import lru_cache
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, Any, cast

from sensorcal.book.digest import content_sha256
from sensorcal.book.record import SCHEMA, Record, document, record_of, text_of
from sensorcal.errors import FileError, InputError

if TYPE_CHECKING:
    from sensorcal.book.facts import Facts
    from sensorcal.calibration.calibration import Calibration

_KNOWN = (SCHEMA,)


def write_record(path: str | Path, calibration: Calibration, facts: Facts) -> Path | None:
    """Write the record of one calibration, keeping an older one beside it.

    The file appears whole or not at all. Where another record stands under that name it is first kept beside it
    as ``NAME.was-DATE.json``, DATE being its own; a file that is no record is never replaced.

    Parameters
    ----------
    path : str or Path
    calibration : Calibration
    facts : Facts
        Its dates come from the caller, so that the same inputs give the same bytes.

    Returns
    -------
    Path or None
        Where the older record was kept; None where there was none, or where it said the same.

    Raises
    ------
    FileError
        The place cannot be written, or holds a file that is no record.
    InputError
        A fact cannot be written as JSON.
    """
    return write_document(path, text_of(document(calibration, facts)))


def write_document(path: str | Path, text: str) -> Path | None:
    """Write the text of a record of any kind, keeping an older record beside it; see `write_record`."""
    path = Path(path)
    try:
        kept = _keep_older(path, text) if path.exists() else None
        _write_whole(path, text)
    except OSError as error:
        raise FileError(
            "the record cannot be written", do="check the folder and its permissions", file=str(path)
        ) from error
    return kept


def read_record(path: str | Path, *, allow_changed: bool = False) -> Record:
    """Read a record and check it: its version, its JSON Schema, its own checksum.

    Parameters
    ----------
    path : str or Path
    allow_changed : bool
        Read a record that was edited after it was written; its checksum is then not compared.

    Returns
    -------
    Record
        The calibration, exactly as it was written, and its facts.

    Raises
    ------
    FileError
        The file cannot be read, is no record, is of an unknown version, breaks the schema (the sentence names the
        path to the wrong element), or was changed after it was written.
    """
    found = read_document(path, _KNOWN, allow_changed=allow_changed)
    try:
        return record_of(found)
    except InputError as error:
        raise FileError(
            error.what, do="go back to an untouched copy, or fit again from the run", file=Path(path).name
        ) from error


def read_document(path: str | Path, known: tuple[str, ...], *, allow_changed: bool = False) -> dict[str, Any]:
    """Read the document of a record in one of the known formats and check it; see `read_record`."""
    path = Path(path)
    found = _load(path)
    version = found.get("schema")
    if version not in known:
        raise FileError(
            f"at schema: {version!r} is not a record format known here ({', '.join(known)})",
            do="read it with the version of sensorcal that wrote it, or a later one",
            file=path.name,
        )
    _validate(found, path)
    if not allow_changed and found["content_sha256"] != content_sha256(found):
        raise FileError(
            "at content_sha256: the record was changed after it was written",
            do="go back to an untouched copy, or fit again from the run",
            file=path.name,
        )
    return found


def schema() -> dict[str, Any]:
    """Return the JSON Schema (draft 2020-12) of the records written here."""
    return _schema(SCHEMA)


@lru_cache(maxsize=8)
def _schema(name: str) -> dict[str, Any]:
    text = files("sensorcal.book").joinpath("schemas", f"{name}.json").read_text(encoding="utf-8")
    return cast("dict[str, Any]", json.loads(text))


def _load(path: Path) -> dict[str, Any]:
    def refuse(word: str) -> float:
        raise ValueError(f"{word} is no number")

    try:
        found = json.loads(path.read_bytes().decode("utf-8"), parse_constant=refuse)
    except OSError as error:
        raise FileError("the record cannot be read", do="check its name and place", file=str(path)) from error
    except json.JSONDecodeError as error:
        raise FileError(
            f"no JSON from line {error.lineno} on ({error.msg})",
            do="give a record written by sensorcal fit",
            file=path.name,
            row=error.lineno,
        ) from error
    except (ValueError, RecursionError) as error:
        raise FileError(
            f"no readable JSON ({error})", do="give a record written by sensorcal fit", file=path.name
        ) from error
    if not isinstance(found, dict):
        raise FileError("a JSON file, but no record", do="give a record written by sensorcal fit", file=path.name)
    return found


def _validate(found: dict[str, Any], path: Path) -> None:
    from jsonschema import Draft202012Validator
    from jsonschema.exceptions import best_match

    error = best_match(Draft202012Validator(_schema(str(found["schema"]))).iter_errors(found))
    if error is None:
        return
    where = "".join(f"[{step}]" if isinstance(step, int) else f".{step}" for step in error.absolute_path).lstrip(".")
    message = error.message if len(error.message) < 160 else f"{error.message[:120]} … breaks {error.validator!r}"
    raise FileError(
        f"at {where or 'the top'}: {message}",
        do="go back to an untouched copy, or fit again from the run",
        file=path.name,
    )


def _keep_older(path: Path, text: str) -> Path | None:
    old = path.read_bytes()
    if old == text.encode("utf-8"):
        return None
    try:
        found = _load(path)
    except FileError as error:
        raise FileError(
            "another file that is no record stands under this name", do="choose another name", file=str(path)
        ) from error
    if not str(found.get("schema", "")).startswith(("sensorcal-calibration-", "sensorcal-pressure-")):
        raise FileError(
            "another file that is no record stands under this name", do="choose another name", file=str(path)
        )
    facts = found.get("facts")
    dates = [str(facts.get(name, "")) for name in ("written", "bench_date")] if isinstance(facts, dict) else []
    date = next((text for text in dates if re.fullmatch(r"\d{4}-\d{2}-\d{2}", text)), "undated")
    number = 1
    while True:
        tail = "" if number == 1 else f"-{number}"
        kept = path.with_name(f"{path.stem}.was-{date}{tail}{path.suffix}")
        if not kept.exists():
            _write_whole(kept, old.decode("utf-8"))
            return kept
        if kept.read_bytes() == old:
            return kept
        number += 1


def _write_whole(path: Path, text: str) -> None:
    """Write beside the file first and rename then, so that a crash leaves the old file or the new one."""
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.", suffix=".part")
    try:
        with os.fdopen(handle, "w", encoding="utf-8", newline="\n") as stream:
            stream.write(text)
            stream.flush()
            os.fsync(stream.fileno())
        # A temporary file is private by default; a record is meant to be read by others, as any file made here.
        Path(name).chmod(0o644)
        Path(name).replace(path)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise
