"""From a bench session to the calibration of one probe: points, error terms, prior, fit and everything questioned."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from sensorcal.bench.fixed import questions_about_run
from sensorcal.bench.meter import meter_correction
from sensorcal.bench.settle import settled_points
from sensorcal.calibration.blunders import Blunder, Screening, screen
from sensorcal.calibration.calibration import Calibration, CurvaturePrior, Model
from sensorcal.calibration.readings import questioned_readings
from sensorcal.calibration.sheet import SheetCheck, check_against_sheet, sheet_prior
from sensorcal.calibration.thermistor import TYPICAL, fit_thermistor
from sensorcal.errors import FitError, InputError
from sensorcal.measure.terms import Axis, Term

if TYPE_CHECKING:
    from collections.abc import Sequence

    from sensorcal.bench.plausible import Question
    from sensorcal.bench.point import Point
    from sensorcal.bench.run import Run
    from sensorcal.setup import Probe, Setup

WRONG_READING = "wrong-reading"
"""Word under which a questioned reading is kept in the setup, followed by a colon and the probe's tag."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BenchResult:
    """What one session says of one probe.

    Parameters
    ----------
    calibration : Calibration
    points : tuple of Point
        The settled points with corrections and notes, in the order of the fit.
    terms : tuple of Term
        Every error of the bench, as the fit saw it.
    screening : Screening
        Whether a point looks wrong, which, and what could not be seen.
    blunders : tuple of Blunder
        Single readings within a point first, then whole points.
    sheet : tuple of SheetCheck
        Against the maker's sheet; empty where there is none.
    questions : tuple of Question
        About what was typed, with their answers.
    kept : str
        Reason for which questioned readings are kept; empty where none was given.
    """

    calibration: Calibration
    points: tuple[Point, ...]
    terms: tuple[Term, ...]
    screening: Screening
    blunders: tuple[Blunder, ...]
    sheet: tuple[SheetCheck, ...]
    questions: tuple[Question, ...]
    kept: str

    @property
    def questioned(self) -> bool:
        """True while a reading is suspected and nobody has said why it may stand."""
        return bool(self.blunders) and not self.kept


def calibrate(run: Run, setup: Setup, probe: str) -> BenchResult:
    """Fit one probe of a session.

    Parameters
    ----------
    run : Run
        The session as read.
    setup : Setup
        Probes, references, meter, bath and field.
    probe : str
        Tag of the probe.

    Returns
    -------
    BenchResult

    Raises
    ------
    InputError
        The probe is no thermistor, or was not read at two temperatures at least.
    FitError
        The readings do not determine a curve.
    """
    entry = setup.probe(probe)
    if entry.measurand != "temperature" or entry.signal != "resistance":
        raise InputError(
            f"{probe} is a {entry.measurand} sensor with a {entry.signal} signal; only thermistors can be fitted yet",
            do="choose another probe",
            file=run.file,
        )
    points = settled_points(run, setup, probe)
    if len({point.reference_id + f"{point.value:.1f}" for point in points}) < 2:
        raise InputError(
            f"{probe} was read at {len(points)} point{'s' if len(points) != 1 else ''}; a curve takes two temperatures",
            do="read it in ice and in steam at least",
            file=run.file,
        )
    temperature = np.array([point.value for point in points])
    resistance = np.array([point.signal for point in points])
    terms = terms_of(points)
    model: Model = "beta" if entry.model == "beta" else "steinhart-hart"
    prior = prior_of(entry, resistance.tolist()) if model == "steinhart-hart" else None
    labels = tuple(point.label for point in points)
    rows = tuple(point.file_rows for point in points)
    named = tuple(f"{label} (row{'s' if len(r) > 1 else ''} {_span(r)})" for label, r in zip(labels, rows, strict=True))
    screening = screen(
        temperature,
        resistance,
        terms,
        model=model,
        prior=prior,
        labels=named,
        fixed=tuple(point.reference_id in {"ice", "steam"} for point in points),
        entered_c=[_written_c(run, point) for point in points],
        entered_ohm=[point.signal_read if point.n == 1 else math.nan for point in points],
        correct_ohm=meter_correction(setup.meter).corrected_ohm,
    )
    try:
        calibration = fit_thermistor(
            temperature, resistance, terms, sensor=probe, model=model, prior=prior, labels=labels, rows=rows
        )
    except FitError as error:
        # No curve at all: the likeliest slip is the most useful thing to say.
        slip = screening.blunders[0].sentence if screening.blunders else error.do
        raise FitError(f"{probe}: {error.what}", do=slip, file=run.file) from None
    blunders = questioned_readings(run, points, probe, calibration) + screening.blunders
    checks: tuple[SheetCheck, ...] = ()
    if entry.sheet:
        checks = check_against_sheet(
            temperature.tolist(),
            resistance.tolist(),
            calibration.points.u_c.tolist(),
            entry.sheet,
            tolerance_ratio=entry.sheet_tolerance_ratio,
        )
    notes = calibration.notes + tuple(f"{point.label}: {note}" for point in points for note in point.notes)
    return BenchResult(
        calibration=replace(calibration, notes=notes),
        points=points,
        terms=terms,
        screening=screening,
        blunders=blunders,
        sheet=checks,
        questions=questions_about_run(run, setup),
        kept=setup.reason_to_keep(f"{WRONG_READING}:{probe}"),
    )


def terms_of(points: Sequence[Point]) -> tuple[Term, ...]:
    """Turn the shares of settled points into error terms of a fit.

    Shares with one key are one draw for all points that have it, sign included; the others are each point's own.
    Ohms become ln R.
    """
    n = len(points)
    shared: dict[tuple[str, Axis], np.ndarray] = {}
    own: dict[tuple[str, Axis], np.ndarray] = {}
    words: dict[str, str] = {}
    for i, point in enumerate(points):
        for part in point.parts:
            axis: Axis = "signal" if part.axis == "signal" else "value"
            u = part.u / point.signal if axis == "signal" else part.u
            if part.key:
                column = shared.setdefault((part.key, axis), np.zeros(n))
                column[i] += u
                words.setdefault(part.key, part.what)
            else:
                column = own.setdefault((part.what, axis), np.zeros(n))
                column[i] = math.hypot(column[i], u)
    found = [Term(identifier=key, u=u, common=True, axis=axis, meaning=words[key]) for (key, axis), u in shared.items()]
    found += [Term(identifier=what, u=u, common=False, axis=axis, meaning=what) for (what, axis), u in own.items()]
    return tuple(found)


def prior_of(probe: Probe, tested_ohm: Sequence[float]) -> CurvaturePrior | None:
    """Choose the shape prior that the setup asks for; None where it is off."""
    if probe.prior == "off":
        return None
    if probe.prior == "sheet":
        return sheet_prior(probe.sheet, tested_ohm, shape_ratio=probe.sheet_shape_ratio)
    return replace(
        TYPICAL,
        u_kappa=probe.prior_u_ratio * TYPICAL.kappa,
        source=f"typical ceramic thermistor, ± {100 * probe.prior_u_ratio:.0f} % (standard)",
    )


def _written_c(run: Run, point: Point) -> float:
    """Give the reference as written where one row holds it; not a number where it was carried from other rows."""
    if point.n != 1:
        return math.nan
    value = next(one.reference for one in run.readings if one.file_row == point.file_rows[0])
    return math.nan if value is None else value


def _span(rows: tuple[int, ...]) -> str:
    return f"{rows[0]}" if len(rows) == 1 else f"{rows[0]} to {rows[-1]}"
