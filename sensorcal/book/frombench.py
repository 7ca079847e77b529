"""From the result of a bench session to the facts of its record."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from sensorcal.book.facts import (
    Correction,
    Facts,
    Remark,
    Source,
    TermLine,
    assumed_lines,
    setup_data,
    traceability,
)
from sensorcal.calibration.claims import shape_confirmed
from sensorcal.calibration.fromrun import WRONG_READING, BenchResult
from sensorcal.calibration.sheet import sheet_sentence

if TYPE_CHECKING:
    from sensorcal.bench.run import Run
    from sensorcal.measure.terms import Term
    from sensorcal.setup import Setup

# Corrections below this change no digit that is read, °C.
_TOO_SMALL_C = 0.005


def facts_of(
    result: BenchResult,
    run: Run,
    setup: Setup,
    *,
    setup_file: Source | None = None,
    written: str = "",
    identifier: str = "",
) -> Facts:
    """Collect what a record says beside the curve; add person, hours and the like with `dataclasses.replace`.

    Parameters
    ----------
    result : BenchResult
    run : Run
    setup : Setup
    setup_file : Source, optional
        Name and hash of the setup file.
    written : str
        ISO date of the record; no clock is read here.
    identifier : str
        Number of the record; 'P1-2026-05-02' after probe and run where none is given.
    """
    calibration = result.calibration
    tag = calibration.sensor
    probe = setup.probe(tag)
    statement = sheet_sentence(result.sheet) if result.sheet else ""
    return Facts(
        identifier=identifier or (f"{tag}-{run.date or written}".rstrip("-")),
        bench_date=run.date,
        written=written,
        role=probe.role,
        serial=probe.serial,
        run=Source(file=run.file, sha256=run.sha256),
        setup_file=setup_file or Source(),
        setup=setup_data(setup),
        assumed=assumed_lines(setup),
        terms=tuple(_term_line(term) for term in result.terms),
        corrections=_corrections(result),
        remarks=_remarks(result, run),
        undetectable=(result.screening.blind,) if result.screening.blind else (),
        traceability=traceability(setup, [point.reference_id for point in result.points]),
        statements=(f"{statement[0].upper()}{statement[1:]}.",) if statement else (),
        redline_c=probe.redline_c,
        range_c=probe.range_c,
        shape_confirmed=shape_confirmed(calibration, result.sheet, sheet_is_prior=probe.prior == "sheet"),
        scenario=setup.note,
    )


def _term_line(term: Term) -> TermLine:
    u = tuple(term.u.tolist())
    return TermLine(
        identifier=term.identifier,
        meaning=term.meaning,
        shared=term.common,
        u_c=None if term.axis == "signal" else u,
        u_ratio=u if term.axis == "signal" else None,
    )


def _corrections(result: BenchResult) -> tuple[Correction, ...]:
    """Name each correction once, with its size at the point where it is largest in °C."""
    slope = np.abs(result.calibration.curve.slope_k_per_ohm(result.calibration.points.resistance_ohm))
    largest: dict[str, tuple[float, str]] = {}
    for point, per_ohm in zip(result.points, slope.tolist(), strict=True):
        for one in point.corrections:
            # Ohms taken off a thermistor are degrees added.
            size_c = one.size if one.axis == "value" else -one.size * per_ohm
            unit = "°C on the reference" if one.axis == "value" else "Ω"
            text = f"{one.size:+.2g} {unit} at {point.label}"
            if abs(size_c) > abs(largest.get(one.name, (0.0, ""))[0]):
                largest[one.name] = (size_c, text)
    return tuple(
        Correction(what=name, size=text, size_c=float(f"{size_c:.3g}"))
        for name, (size_c, text) in largest.items()
        if abs(size_c) >= _TOO_SMALL_C
    )


def _remarks(result: BenchResult, run: Run) -> tuple[Remark, ...]:
    asked = tuple(
        Remark(
            kind="question",
            what=question.code,
            text=question.text,
            size_c=question.size_c,
            answer=f"kept, because {question.reason}" if question.reason else "",
        )
        for question in result.questions
    )
    answer = f"kept, because {result.kept}" if result.kept else ""
    found = tuple(
        Remark(
            kind="blunder",
            what=f"{WRONG_READING}:{result.calibration.sensor}",
            text=blunder.sentence,
            size_c=blunder.size_c,
            file_rows=tuple(row for index in blunder.points for row in result.points[index].file_rows),
            answer=answer,
        )
        for blunder in result.blunders
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
    return asked + found + understood
