"""A calibration as a versioned JSON document and back, bit for bit; no file is touched here."""

from __future__ import annotations

import dataclasses
import json
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, cast

import numpy as np

from sensorcal.book.digest import content_sha256
from sensorcal.book.facts import STATEMENT, Correction, Facts, Remark, Source, TermLine
from sensorcal.calibration.calibration import Calibration, CurvaturePrior, FitPoints, PriorReport
from sensorcal.calibration.claims import Claim, abc_covariance, claim_at, claims, round_temperatures_c
from sensorcal.errors import InputError
from sensorcal.measure.interval import COVERAGE, coverage_factor
from sensorcal.physics.curves import SteinhartHart

if TYPE_CHECKING:
    from collections.abc import Mapping

SCHEMA = "sensorcal-calibration-1"
"""Name of the format written here; every format ever written stays readable."""

# Digits of A, B, C for people: ten, so that the rounding moves no temperature by more than a microkelvin.
_ABC_DIGITS = 10


@dataclass(frozen=True, slots=True, kw_only=True)
class Record:
    """A calibration with its facts, as it was read from a record."""

    calibration: Calibration
    facts: Facts
    content_sha256: str


def document(calibration: Calibration, facts: Facts) -> dict[str, Any]:
    """Write a calibration and its facts as a JSON document (plain dicts, lists, numbers and texts).

    The same inputs give the same document: no clock is read.

    Raises
    ------
    InputError
        A fact or the setup holds something JSON cannot carry, such as a number that is not finite.
    """
    body = {
        "schema": SCHEMA,
        "statement": STATEMENT,
        "facts": _facts(facts),
        "for_people": _for_people(calibration, facts),
        "calibration": _calibration(calibration),
    }
    try:
        return {**body, "content_sha256": content_sha256(body)}
    except (TypeError, ValueError) as error:
        raise InputError(
            f"the record holds something that JSON cannot carry ({error})",
            do="look for a value that is no finite number",
        ) from error


def record_of(checked: Mapping[str, Any]) -> Record:
    """Build the calibration and its facts from a document that its JSON Schema has accepted.

    Raises
    ------
    InputError
        Lists that belong together differ in length; the sentence names the element.
    """
    return Record(
        calibration=_calibration_of(checked["calibration"]),
        facts=_facts_of(checked["facts"]),
        content_sha256=str(checked["content_sha256"]),
    )


def text_of(body: Mapping[str, Any]) -> str:
    """Write a document as text that a person can read and a diff can show: lists of numbers on one line."""
    return _text(body, "") + "\n"


def _text(value: Any, indent: str) -> str:  # noqa: ANN401 - a JSON document has any shape
    inner = indent + "  "
    if isinstance(value, dict) and value and (indent == "" or not _flat(value)):
        lines = [f"{inner}{json.dumps(k, ensure_ascii=False)}: {_text(v, inner)}" for k, v in value.items()]
        return "{\n" + ",\n".join(lines) + f"\n{indent}}}"
    if isinstance(value, list) and any(isinstance(item, dict | list | str) for item in value):
        return "[\n" + ",\n".join(inner + _text(item, inner) for item in value) + f"\n{indent}]"
    return json.dumps(value, ensure_ascii=False, allow_nan=False)


def _flat(value: dict[str, Any]) -> bool:
    return not any(isinstance(item, dict | list) for item in value.values()) and len(json.dumps(value)) < 140


def _numbers(values: Any) -> list[Any]:  # noqa: ANN401 - vector or matrix
    return cast("list[Any]", np.asarray(values, dtype=np.float64).tolist())


def _calibration(cal: Calibration) -> dict[str, Any]:
    points = cal.points
    return {
        "sensor": cal.sensor,
        "model": cal.model,
        "curve": {
            "p0_per_k": cal.curve.p0,
            "p1_per_k": cal.curve.p1,
            "p2_per_k": cal.curve.p2,
            "centre_ln_ohm": cal.curve.centre,
            "scale_ln_ohm": cal.curve.scale,
        },
        "root_per_k": _numbers(cal.root),
        "shared_identifiers": list(cal.shared_identifiers),
        "sensitivities_per_k": _numbers(cal.sensitivities),
        "points": {
            "labels": list(points.labels),
            "file_rows": [list(rows) for rows in points.rows],
            "temperature_c": _numbers(points.temperature_c),
            "resistance_ohm": _numbers(points.resistance_ohm),
            "residual_c": _numbers(points.residual_c),
            "u_c": _numbers(points.u_c),
            "u_independent_c": _numbers(points.u_independent_c),
        },
        "chi_squared": cal.chi_squared,
        "dof": cal.dof,
        "inflation": cal.inflation,
        "prior": None if cal.prior is None else _prior(cal.prior),
        "form_carried": _numbers(cal.form_carried),
        "form_size_per_k": cal.form_size,
        "form_order": cal.form_order,
        "dof_effective": None if math.isinf(cal.dof_effective) else cal.dof_effective,
        "notes": list(cal.notes),
    }


def _prior(report: PriorReport) -> dict[str, Any]:
    return {
        "kappa_stated": report.prior.kappa,
        "u_kappa_stated": report.prior.u_kappa,
        "source": report.prior.source,
        "form_ratio": report.prior.form_ratio,
        "kappa_data": report.kappa_data,
        "u_kappa_data": report.u_kappa_data,
        "kappa": report.kappa,
        "u_kappa": report.u_kappa,
        "disagreement": report.disagreement,
        "pull": [{"temperature_c": t, "shift_c": shift} for t, shift in report.pull_c],
    }


def _calibration_of(data: Mapping[str, Any]) -> Calibration:
    curve, points, prior = data["curve"], data["points"], data["prior"]
    p, n = len(data["root_per_k"]), len(points["temperature_c"])
    names = data["shared_identifiers"]
    lengths = {f"points.{key}": (len(values), n) for key, values in points.items()}
    lengths |= {f"root_per_k[{i}]": (len(row), p) for i, row in enumerate(data["root_per_k"])}
    lengths |= {f"sensitivities_per_k[{i}]": (len(row), p) for i, row in enumerate(data["sensitivities_per_k"])}
    lengths |= {
        "sensitivities_per_k": (len(data["sensitivities_per_k"]), len(names)),
        "form_carried": (len(data["form_carried"]), p),
    }
    for where, (found, wanted) in lengths.items():
        if found != wanted:
            raise InputError(f"at calibration.{where} stand {found} entries where {wanted} belong")
    return Calibration(
        sensor=data["sensor"],
        model=data["model"],
        curve=SteinhartHart(
            p0=float(curve["p0_per_k"]),
            p1=float(curve["p1_per_k"]),
            p2=float(curve["p2_per_k"]),
            centre=float(curve["centre_ln_ohm"]),
            scale=float(curve["scale_ln_ohm"]),
        ),
        root=np.array(data["root_per_k"], dtype=np.float64),
        shared_identifiers=tuple(names),
        sensitivities=np.array(data["sensitivities_per_k"], dtype=np.float64).reshape(len(names), p),
        points=FitPoints(
            labels=tuple(points["labels"]),
            rows=tuple(tuple(rows) for rows in points["file_rows"]),
            **{
                key: np.array(points[key], dtype=np.float64)
                for key in ("temperature_c", "resistance_ohm", "residual_c", "u_c", "u_independent_c")
            },
        ),
        chi_squared=float(data["chi_squared"]),
        dof=int(data["dof"]),
        inflation=float(data["inflation"]),
        prior=None if prior is None else _prior_of(prior),
        form_carried=np.array(data["form_carried"], dtype=np.float64),
        form_size=float(data["form_size_per_k"]),
        form_order=int(data["form_order"]),
        dof_effective=math.inf if data["dof_effective"] is None else float(data["dof_effective"]),
        notes=tuple(data["notes"]),
    )


def _prior_of(data: Mapping[str, Any]) -> PriorReport:
    return PriorReport(
        prior=CurvaturePrior(
            kappa=float(data["kappa_stated"]),
            u_kappa=float(data["u_kappa_stated"]),
            source=data["source"],
            form_ratio=float(data["form_ratio"]),
        ),
        kappa_data=None if data["kappa_data"] is None else float(data["kappa_data"]),
        u_kappa_data=None if data["u_kappa_data"] is None else float(data["u_kappa_data"]),
        kappa=float(data["kappa"]),
        u_kappa=float(data["u_kappa"]),
        disagreement=float(data["disagreement"]),
        pull_c=tuple((float(entry["temperature_c"]), float(entry["shift_c"])) for entry in data["pull"]),
    )


def _facts(facts: Facts) -> dict[str, Any]:
    out: dict[str, Any] = {}
    for entry in dataclasses.fields(facts):
        value = getattr(facts, entry.name)
        if isinstance(value, Source):
            out[entry.name] = dataclasses.asdict(value)
        elif entry.name in {"corrections", "remarks", "terms"}:
            out[entry.name] = [_lists(dataclasses.asdict(item)) for item in value]
        else:
            out[entry.name] = _lists(value)
    return out


def _lists(value: Any) -> Any:  # noqa: ANN401 - JSON has lists where we have tuples
    if isinstance(value, dict):
        return {key: _lists(item) for key, item in value.items()}
    return [_lists(item) for item in value] if isinstance(value, tuple | list) else value


def _tuples(entry: Mapping[str, Any]) -> dict[str, Any]:
    return {key: tuple(item) if isinstance(item, list) else item for key, item in entry.items()}


def _facts_of(data: Mapping[str, Any]) -> Facts:
    plain = dict(data)
    for name in ("run", "setup_file"):
        plain[name] = Source(**data[name])
    plain["corrections"] = tuple(Correction(**item) for item in data["corrections"])
    plain["remarks"] = tuple(Remark(**_tuples(item)) for item in data["remarks"])
    plain["terms"] = tuple(TermLine(**_tuples(line)) for line in data["terms"])
    for name in ("assumed", "undetectable", "statements", "range_c"):
        plain[name] = tuple(data[name])
    return Facts(**plain)


def _for_people(cal: Calibration, facts: Facts) -> dict[str, Any]:
    """Repeat in readable numbers what the calibration holds; nothing here is read back."""
    a, b, c = (float(f"{value:.{_ABC_DIGITS}g}") for value in cal.curve.abc)
    rows = claims(cal, round_temperatures_c(*facts.range_c), shape_confirmed=facts.shape_confirmed)
    redline = facts.redline_c
    return {
        "formula": "1/T = A + B ln R + C (ln R)^3, T in kelvin (t = T - 273.15 degC), R in ohm",
        "a_per_k": a,
        "b_per_k": b,
        "c_per_k": c,
        "covariance_of_abc_per_k2": _numbers(abc_covariance(cal)),
        "tested_low_c": cal.tested_c[0],
        "tested_high_c": cal.tested_c[1],
        "coverage_probability": COVERAGE,
        "coverage_factor_k": float(f"{coverage_factor(cal.dof_effective):.6g}"),
        "redline": None if redline is None else _claim(claim_at(cal, redline, shape_confirmed=facts.shape_confirmed)),
        "table": [_claim(row) for row in rows],
    }


def _claim(claim: Claim) -> dict[str, Any]:
    return {
        "temperature_c": claim.temperature_c,
        "resistance_ohm": _digits(claim.resistance_ohm, 6),
        "expanded_c": _digits(claim.expanded_c, 3),
        "claim_c": _digits(claim.claim_c, 3),
        "remark": ", ".join(
            word
            for word, holds in (
                ("extrapolated", claim.extrapolated),
                ("too far beyond the tested points to be used", claim.far),
                (claim.why_not, bool(claim.why_not)),
            )
            if holds
        ),
    }


def _digits(value: float | None, digits: int) -> float | None:
    return None if value is None else float(f"{value:.{digits}g}")
