"""The record of a pressure calibration: a versioned JSON document and back, with the facts beside the curve."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from sensorcal.book.digest import content_sha256
from sensorcal.book.facts import STATEMENT, Facts, Source, assumed_lines, setup_data, traceability
from sensorcal.book.pressurefound import found_data, found_of, pressure_remarks, remarks_data, remarks_of
from sensorcal.book.record import text_of
from sensorcal.book.store import read_document, write_document
from sensorcal.calibration.pressurecal import (
    OrderTest,
    PressureCalibration,
    PressurePoints,
    UseTerm,
    expanded_pressure_pa,
)
from sensorcal.errors import CurveError, FileError, FitError, InputError
from sensorcal.measure.terms import Term
from sensorcal.physics.transducer import RatioCurve, RatioPolynomial, RatioTable

if TYPE_CHECKING:
    from sensorcal.bench.run import Run
    from sensorcal.calibration.pressurerun import PressureResult
    from sensorcal.setup import Setup

PRESSURE_SCHEMA = "sensorcal-pressure-1"
"""Name of the format written here; every format ever written stays readable."""

PRESSURE_METHOD = (
    "transducer beside a test gauge on one line, rising and falling; output over supply fitted by weighted least "
    "squares, the gauge's error kept as common to the run"
)
_TEXTS = (
    "identifier", "bench_date", "written", "due", "person", "role", "serial", "channel", "route", "hours", "condition",
    "software", "traceability", "method", "decision", "scenario",
)  # fmt: skip
_LISTS = ("assumed", "undetectable", "statements")
_ROWS = 11


@dataclass(frozen=True, slots=True, kw_only=True)
class PressureRecord:
    """A pressure calibration with its facts, as it was read from a record."""

    calibration: PressureCalibration
    facts: Facts
    content_sha256: str


def pressure_facts(
    result: PressureResult,
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
    result : PressureResult
    run : Run
    setup : Setup
    setup_file : Source, optional
        Name and hash of the setup file.
    written : str
        ISO date of the record; no clock is read here.
    identifier : str
        Number of the record; tag and date where none is given.
    """
    tag = result.calibration.sensor
    known = setup.probes.get(tag)
    seen = result.performance
    gauges = [one.point.reference_id for one in result.readings.points if not one.open_line]
    return Facts(
        identifier=identifier or f"{tag}-{run.date or written}".rstrip("-"),
        bench_date=run.date,
        written=written,
        role=known.role if known else "",
        serial=known.serial if known else "",
        run=Source(file=run.file, sha256=run.sha256),
        setup_file=setup_file or Source(),
        setup=setup_data(setup),
        assumed=assumed_lines(setup),
        remarks=pressure_remarks(result, run),
        undetectable=seen.missing if seen else ("linearity: readings at fewer than three pressures",),
        traceability=traceability(setup, gauges),
        method=PRESSURE_METHOD,
        statements=tuple(pressure_statements(result)),
        scenario=setup.note,
    )


def pressure_statements(result: PressureResult) -> list[str]:
    """Say in plain words what the run found, for record, page and command line.

    Returns
    -------
    list of str
        Zero and span, linearity by each definition, hysteresis, repeatability, zero return, bands, body, supply,
        liquid head, kind of the sensor, leak, and what a wrong reading would have to be to be found.
    """
    cal, seen = result.calibration, result.performance
    top = cal.zero_ratio + cal.span_ratio
    first = (
        f"output over supply {cal.zero_ratio:.5f} at {cal.low_pa / 1000:g} kPa, "
        f"{top:.5f} at {cal.high_pa / 1000:g} kPa ({cal.model})"
    )
    said = [first]
    if seen is not None:
        share = 100.0 / seen.span_pa
        told = ", ".join(f"{name} {share * size:.3f} %" for name, size in seen.linearity_pa.items())
        said.append(f"linearity, share of span: {told}")
        for name, size in (
            ("hysteresis", seen.hysteresis_pa),
            ("repeatability", seen.repeatability_pa),
            ("zero return", seen.zero_return_pa),
            ("error band about the data sheet's line", seen.total_error_band_pa),
        ):
            if size is not None:
                said.append(f"{name} {size / 1000:.2f} kPa ({share * size:.2f} % of span)")
    if result.body is not None:
        said.append(result.body.sentence)
    if result.supply_cost:
        worst = max(result.supply_cost, key=lambda cost: abs(cost.error_pa))
        said.append(
            f"supply {worst.supply_v:.3f} V: taking it for 5 V would have cost up to {worst.error_pa / 1000:+.1f} kPa "
            f"(at {worst.pressure_pa / 1000:.0f} kPa)"
        )
    said += [found.sentence for found in (cal.head, cal.kind_found, cal.leak) if found is not None]
    return [*said, result.screening.blind]


def pressure_document(calibration: PressureCalibration, facts: Facts) -> dict[str, Any]:
    """Write a pressure calibration and its facts as a JSON document; the same inputs give the same document.

    Raises
    ------
    InputError
        A fact or the setup holds something JSON cannot carry, such as a number that is not finite.
    """
    told = {name: getattr(facts, name) for name in _TEXTS}
    told |= {name: list(getattr(facts, name)) for name in _LISTS}
    told |= {name: dataclasses.asdict(getattr(facts, name)) for name in ("run", "setup_file")}
    told["remarks"] = remarks_data(facts.remarks)
    told["setup"] = _plain(facts.setup)
    body = {
        "schema": PRESSURE_SCHEMA,
        "statement": STATEMENT,
        "facts": told,
        "for_people": _for_people(calibration),
        "calibration": _calibration(calibration),
    }
    try:
        return {**body, "content_sha256": content_sha256(body)}
    except (TypeError, ValueError) as error:
        raise InputError(
            f"the record holds something that JSON cannot carry ({error})",
            do="look for a value that is no finite number",
        ) from error


def pressure_record_of(checked: Mapping[str, Any]) -> PressureRecord:
    """Build calibration and facts from a document that its JSON Schema has accepted.

    Raises
    ------
    InputError
        Lists that belong together differ in length, or a curve turns round.
    """
    facts = dict(checked["facts"])
    for name in ("run", "setup_file"):
        facts[name] = Source(**facts[name])
    for name in _LISTS:
        facts[name] = tuple(facts[name])
    facts["remarks"] = remarks_of(facts.get("remarks", []))
    try:
        calibration = _calibration_of(checked["calibration"])
    except (FitError, CurveError, ValueError) as error:
        raise InputError(f"at calibration: {error}") from error
    return PressureRecord(calibration=calibration, facts=Facts(**facts), content_sha256=str(checked["content_sha256"]))


def write_pressure_record(path: str | Path, calibration: PressureCalibration, facts: Facts) -> Path | None:
    """Write the record of one pressure calibration, keeping an older one beside it.

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
    return write_document(path, text_of(pressure_document(calibration, facts)))


def read_pressure_record(path: str | Path, *, allow_changed: bool = False) -> PressureRecord:
    """Read a pressure record and check it: its version, its JSON Schema, its own checksum.

    Raises
    ------
    FileError
        The file cannot be read, is no pressure record, breaks the schema, or was changed after it was written.
    """
    try:
        return pressure_record_of(read_document(path, (PRESSURE_SCHEMA,), allow_changed=allow_changed))
    except InputError as error:
        raise FileError(
            error.what, do="go back to an untouched copy, or fit again from the run", file=Path(path).name
        ) from error


def _for_people(cal: PressureCalibration) -> dict[str, Any]:
    """Repeat in readable numbers what the calibration holds; nothing here is read back."""
    at = np.linspace(cal.low_pa, cal.high_pa, _ROWS)
    u95, cold = expanded_pressure_pa(cal, at), expanded_pressure_pa(cal, at, hot_body=False)
    return {
        "zero_ratio": _digits(cal.zero_ratio, 6),
        "span_ratio": _digits(cal.span_ratio, 6),
        "tested_low_pa": cal.tested_pa[0],
        "tested_high_pa": cal.tested_pa[1],
        "coverage_factor_k": _digits(cal.k, 4),
        "table": [
            {
                "pressure_pa": _digits(float(p), 7),
                "ratio": _digits(float(r), 6),
                "expanded_pa": _digits(float(hot), 3),
                "expanded_bench_pa": _digits(float(bench), 3),
            }
            for p, r, hot, bench in zip(at, cal.ratio(at), u95, cold, strict=True)
        ],
    }


def _calibration(cal: PressureCalibration) -> dict[str, Any]:
    points = cal.points
    return {
        "sensor": cal.sensor,
        "model": cal.model,
        "kind": cal.kind,
        "low_pa": cal.low_pa,
        "high_pa": cal.high_pa,
        "curve": _curve(cal.curve),
        "root_pa": cal.root.tolist(),
        "shared_identifiers": list(cal.shared_identifiers),
        "sensitivities_pa": cal.sensitivities.tolist(),
        "gain": cal.gain.tolist(),
        "terms": [
            {
                "identifier": one.identifier,
                "meaning": one.meaning,
                "shared": one.common,
                "shape": one.shape,
                "dof": _dof(one.dof),
                "u_pa": one.u.tolist(),
            }
            for one in cal.terms
        ],
        "points": {
            "labels": list(points.labels),
            "file_rows": [list(rows) for rows in points.rows],
            "direction": list(points.direction),
            "cycle": list(points.cycle),
            **{name: getattr(points, name).tolist() for name in _COLUMNS},
        },
        "chi_squared": cal.chi_squared,
        "dof": cal.dof,
        "inflation": cal.inflation,
        "orders": [
            {key: _dof(v) if isinstance(v, float) else v for key, v in dataclasses.asdict(one).items()}
            for one in cal.orders
        ],
        "use": [
            {
                "identifier": one.identifier,
                "meaning": one.meaning,
                "shape": one.shape,
                "each_reading": one.each_reading,
                "dof": _dof(one.dof),
                "pressure_pa": one.pressure_pa.tolist(),
                "u_pa": one.u_pa.tolist(),
            }
            for one in cal.use
        ],
        "dof_effective": _dof(cal.dof_effective),
        "notes": list(cal.notes),
        **found_data(cal),
    }


_COLUMNS = ("pressure_pa", "ratio", "residual_pa", "u_pa", "u_independent_pa")


def _calibration_of(data: Mapping[str, Any]) -> PressureCalibration:
    points = data["points"]
    n = len(points["labels"])
    unequal = [name for name in (*_COLUMNS, "file_rows", "direction", "cycle") if len(points[name]) != n]
    if unequal:
        raise FitError(f"points.{unequal[0]} has not one entry for each of the {n} points")
    return PressureCalibration(
        sensor=data["sensor"],
        model=data["model"],
        kind=data["kind"],
        low_pa=float(data["low_pa"]),
        high_pa=float(data["high_pa"]),
        curve=_curve_of(data["curve"]),
        root=np.array(data["root_pa"], dtype=np.float64),
        shared_identifiers=tuple(data["shared_identifiers"]),
        sensitivities=_matrix(data["sensitivities_pa"], len(data["root_pa"])),
        gain=_matrix(data["gain"], n),
        terms=tuple(
            Term(
                identifier=one["identifier"],
                meaning=one["meaning"],
                common=one["shared"],
                shape=one["shape"],
                dof=_dof_of(one["dof"]),
                u=np.array(one["u_pa"], dtype=np.float64),
            )
            for one in data["terms"]
        ),
        points=PressurePoints(
            labels=tuple(points["labels"]),
            rows=tuple(tuple(rows) for rows in points["file_rows"]),
            direction=tuple(points["direction"]),
            cycle=tuple(points["cycle"]),
            **{name: np.array(points[name], dtype=np.float64) for name in _COLUMNS},
        ),
        chi_squared=float(data["chi_squared"]),
        dof=int(data["dof"]),
        inflation=float(data["inflation"]),
        orders=tuple(
            OrderTest(
                simpler=one["simpler"],
                richer=one["richer"],
                chi_squared_drop=float(one["chi_squared_drop"]),
                added=int(one["added"]),
                limit=float(one["limit"]),
                f_ratio=_dof_of(one["f_ratio"]),
                f_limit=_dof_of(one["f_limit"]),
                demanded=bool(one["demanded"]),
            )
            for one in data["orders"]
        ),
        use=tuple(
            UseTerm(
                identifier=one["identifier"],
                meaning=one["meaning"],
                shape=one["shape"],
                each_reading=one["each_reading"],
                dof=_dof_of(one["dof"]),
                pressure_pa=np.array(one["pressure_pa"], dtype=np.float64),
                u_pa=np.array(one["u_pa"], dtype=np.float64),
            )
            for one in data["use"]
        ),
        dof_effective=_dof_of(data["dof_effective"]),
        notes=tuple(data["notes"]),
        **found_of(data),
    )


def _curve(curve: RatioCurve) -> dict[str, Any]:
    if isinstance(curve, RatioTable):
        return {"knots_ratio": curve.knots_ratio.tolist(), "coefficients_pa": curve.coefficients_pa.tolist()}
    return {
        "coefficients_pa": curve.coefficients_pa.tolist(),
        "centre": curve.centre,
        "scale": curve.scale,
        "low_ratio": curve.low_ratio,
        "high_ratio": curve.high_ratio,
    }


def _curve_of(data: Mapping[str, Any]) -> RatioCurve:
    both = ("knots_ratio", "coefficients_pa")
    arrays = {name: np.array(data[name], dtype=np.float64) for name in both if name in data}
    if "knots_ratio" in data:
        return RatioTable(**arrays)
    numbers = {name: float(data[name]) for name in ("centre", "scale", "low_ratio", "high_ratio")}
    return RatioPolynomial(coefficients_pa=arrays["coefficients_pa"], **numbers)


def _matrix(rows: list[list[float]], width: int) -> np.ndarray[Any, np.dtype[np.float64]]:
    return np.array(rows, dtype=np.float64).reshape(len(rows), width)


def _dof(value: float) -> float | None:
    """JSON has no infinity: null stands for 'known'."""
    return None if math.isinf(value) else value


def _dof_of(value: float | None) -> float:
    return math.inf if value is None else float(value)


def _plain(value: Any) -> Any:  # noqa: ANN401 - JSON has lists where we have tuples
    if isinstance(value, Mapping):
        return {key: _plain(item) for key, item in value.items()}
    return [_plain(item) for item in value] if isinstance(value, tuple | list) else value


def _digits(value: float, digits: int) -> float:
    return float(f"{value:.{digits}g}")
