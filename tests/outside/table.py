"""Reader of the published tables in shared/: lines with # say source, status and traps."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

SHARED = Path(__file__).resolve().parents[2] / "shared"


def rows(name: str) -> list[dict[str, str]]:
    """All rows of one table, as text by column."""
    with (SHARED / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(line for line in file if not line.startswith("#")))


def cases(name: str, *id_columns: str) -> list[object]:
    """One test parameter a row, named after the table and the given columns."""
    stem = name.removesuffix(".csv")
    return [pytest.param(row, id=" ".join([stem, *(row[column] for column in id_columns)])) for row in rows(name)]
