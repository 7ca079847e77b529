"""What a pressure record keeps beside the curve: the sensor's kind, a leak, a liquid head, questioned readings."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from sensorcal.bench.pressurehead import LiquidHead
from sensorcal.book.facts import Remark
from sensorcal.calibration.leak import Leak
from sensorcal.calibration.pressurerun import WRONG_READING, PressureResult
from sensorcal.calibration.sensorkind import SensorKind

if TYPE_CHECKING:
    from sensorcal.bench.run import Run
    from sensorcal.calibration.pressurecal import PressureCalibration


def found_data(calibration: PressureCalibration) -> dict[str, Any]:
    """Give kind, leak and head as data; null where the run did not show them."""
    kind = calibration.kind_found
    return {
        "kind_found": None
        if kind is None
        else {**dataclasses.asdict(kind), "shown_pa": [list(pair) for pair in kind.shown_pa]},
        "leak": None if calibration.leak is None else dataclasses.asdict(calibration.leak),
        "head": None if calibration.head is None else dataclasses.asdict(calibration.head),
    }


def found_of(data: Mapping[str, Any]) -> dict[str, Any]:
    """Give them back from a record; records written before they were kept have none."""
    kind, leak, head = (data.get(name) for name in ("kind_found", "leak", "head"))
    return {
        "kind_found": None
        if kind is None
        else SensorKind(**{**kind, "shown_pa": tuple((float(a), float(p)) for a, p in kind["shown_pa"])}),
        "leak": None if leak is None else Leak(**leak),
        "head": None if head is None else LiquidHead(**head),
    }


def pressure_remarks(result: PressureResult, run: Run) -> tuple[Remark, ...]:
    """Give what was questioned, with its answer, and what was understood without being told."""
    answer = f"kept, because {result.kept}" if result.kept else ""
    points = result.calibration.points
    questioned = tuple(
        Remark(
            kind="blunder",
            what=f"{WRONG_READING}:{result.calibration.sensor}",
            text=one.sentence,
            file_rows=tuple(row for index in one.points for row in points.rows[index] if row),
            suggestion=f"{one.likely} {one.unit}".strip() if one.likely else "",
            answer=answer,
        )
        for one in result.blunders
    )
    if result.screening.suspect and not questioned:
        told = "the readings do not agree, and no single one is to blame"
        questioned = (
            Remark(kind="blunder", what=f"{WRONG_READING}:{result.calibration.sensor}", text=told, answer=answer),
        )
    understood = tuple(
        Remark(
            kind="note",
            what="understood",
            text=str(note),
            file_rows=(note.file_row,) if note.file_row else (),
            answer="read so",
        )
        for note in run.notes
    )
    return questioned + understood


def remarks_data(remarks: tuple[Remark, ...]) -> list[dict[str, Any]]:
    """Give remarks as data."""
    return [
        {"kind": r.kind, "what": r.what, "text": r.text, "file_rows": list(r.file_rows), "suggestion": r.suggestion,
         "answer": r.answer}
        for r in remarks
    ]  # fmt: skip


def remarks_of(data: list[Mapping[str, Any]]) -> tuple[Remark, ...]:
    """Give remarks back from a record."""
    return tuple(Remark(**{**one, "file_rows": tuple(one["file_rows"])}) for one in data)
