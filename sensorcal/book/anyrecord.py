"""Reading a record without knowing beforehand whether it is of a thermistor or of a pressure sensor."""

from __future__ import annotations

from pathlib import Path

from sensorcal.book.pressurerecord import PRESSURE_SCHEMA, PressureRecord, pressure_record_of
from sensorcal.book.record import SCHEMA, Record, record_of
from sensorcal.book.store import read_document
from sensorcal.errors import FileError, InputError


def read_any_record(path: str | Path, *, allow_changed: bool = False) -> Record | PressureRecord:
    """Read a record of either kind and check it: its version, its JSON Schema, its own checksum.

    Parameters
    ----------
    path : str or Path
    allow_changed : bool
        Read a record that was edited after it was written; its checksum is then not compared.

    Returns
    -------
    Record or PressureRecord

    Raises
    ------
    FileError
        As for `sensorcal.book.store.read_record`.
    """
    found = read_document(path, (SCHEMA, PRESSURE_SCHEMA), allow_changed=allow_changed)
    try:
        return pressure_record_of(found) if found["schema"] == PRESSURE_SCHEMA else record_of(found)
    except InputError as error:
        raise FileError(
            error.what, do="go back to an untouched copy, or fit again from the run", file=Path(path).name
        ) from error
