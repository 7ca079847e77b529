"""What stands behind 'Show the arithmetic': coefficients, covariance, tests, shared errors, the prior's pull."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from sensorcal.calibration.calibration import Calibration, shared_shift_c
from sensorcal.calibration.claims import abc_covariance, claim_at
from sensorcal.measure.interval import coverage_factor
from sensorcal.views.words import number, plus_minus, resistance, shift, temperature

if TYPE_CHECKING:
    from sensorcal.book.facts import Facts
    from sensorcal.setup import UnitsOut

_ABC_DIGITS = 9
# Shared errors shown, the largest first; the record holds all of them.
_SHARED_SHOWN = 8
# Assumed values that no U depends on.
_WORDS = {"units", "monitor", "measurand", "signal", "model", "prior", "kind", "name", "range_low", "range_high"}


def arithmetic(calibration: Calibration, facts: Facts, units: UnitsOut) -> dict[str, Any]:
    """Collect the arithmetic of a calibration as texts for a page."""
    covariance = abc_covariance(calibration)
    at = _temperatures(calibration, facts)
    shifts = shared_shift_c(calibration, at)
    largest = sorted(shifts, key=lambda name: -max(abs(s) for s in shifts[name].tolist()))
    meaning = {line.identifier: line.meaning for line in facts.terms if line.shared}
    # Two baths may have a term of the same meaning: then its identifier tells them apart.
    meaning = {key: text for key, text in meaning.items() if list(meaning.values()).count(text) == 1}
    return {
        "formula": "1/T = A + B ln R + C (ln R)³ with T in kelvin (t = T − 273.15 °C) and R in ohm.",
        "size": covariance.shape[0],
        "coefficients": [
            {
                "name": name,
                "value": f"{value:.{_ABC_DIGITS}e}",
                "u": f"{math.sqrt(covariance[i, i]):.1e}",
                "covariance": [f"{entry:.3e}" for entry in covariance[i].tolist()],
            }
            for i, (name, value) in enumerate(zip("ABC"[: covariance.shape[0]], calibration.curve.abc, strict=False))
        ],
        "lines": _lines(calibration, facts, units),
        "shift_heads": [temperature(t, units.temperature, 0) for t in at],
        "shifts": [
            {
                "name": meaning.get(name) or name,
                "shifts": [shift(float(s), units.temperature, 3).split()[0] for s in shifts[name]],
            }
            for name in largest[:_SHARED_SHOWN]
        ],
        "more_shifts": len(largest[_SHARED_SHOWN:]),
        "prior": _prior_lines(calibration, units),
        "assumed": _assumed(calibration.sensor, facts),
    }


def _assumed(sensor: str, facts: Facts) -> str:
    """Name the assumed numbers behind U; words, units and other probes are left to the record."""
    said = []
    for line in facts.assumed:
        name = line.split(" = ", 1)[0]
        other = name.startswith("probes.") and not name.startswith(f"probes.{sensor}.")
        unused = name.startswith("references.") and f" {name.split('.')[1]}:" not in facts.traceability
        if other or unused or name.split(".")[0] in _WORDS or name.rsplit(".", 1)[-1] in _WORDS:
            continue
        said.append(line.split(" (", 1)[0].removeprefix(f"probes.{sensor}."))
    return "; ".join(said)


def _temperatures(calibration: Calibration, facts: Facts) -> list[float]:
    low, high = calibration.tested_c
    at = [low, 0.5 * (low + high), high]
    limit = facts.redline_c
    if limit is not None and claim_at(calibration, limit).resistance_ohm is not None:
        at.append(limit)
    return at


def _lines(calibration: Calibration, facts: Facts, units: UnitsOut) -> list[str]:
    k = coverage_factor(calibration.dof_effective)
    freedom = (
        "every u taken as known"
        if math.isinf(calibration.dof_effective)
        else f"{calibration.dof_effective:.1f} effective degrees of freedom"
    )
    lines = [
        (
            f"U = k u with k = {k:.3f} ({freedom}): 19 times in 20. The covariance of A, B, C is nearly singular; "
            "the record holds that of the centred coefficients."
        )
    ]
    if calibration.dof > 0:
        lines.append(
            f"Chi-squared {calibration.chi_squared:.2f} on {calibration.dof} degrees of freedom; every u multiplied by "
            f"{calibration.inflation:.3g}."
        )
    else:
        lines.append("No degree of freedom is left: the points could not be tested against one another.")
    limit = facts.redline_c
    if limit is not None:
        claim = claim_at(calibration, limit, shape_confirmed=facts.shape_confirmed)
        if claim.resistance_ohm is not None and claim.expanded_c is not None:
            lines.append(
                f"At the redline {resistance(claim.resistance_ohm, units.resistance)}, "
                f"{plus_minus(limit, claim.expanded_c, units.temperature)}: standard uncertainty "
                f"{shift(claim.u_statistical_c or 0.0, units.temperature, 3)[1:]} from the stated terms and "
                f"{shift(claim.u_form_c or 0.0, units.temperature, 3).lstrip('+')} from the form of the curve beyond "
                "the points."
            )
    return lines


def _prior_lines(calibration: Calibration, units: UnitsOut) -> list[str]:
    report = calibration.prior
    if report is None:
        return ["Shape prior: off."]
    lines = [
        f"Shape prior: bend {report.prior.kappa:.4f}, u {report.prior.u_kappa:.4f} ({report.prior.source}). "
        + (
            "The readings alone cannot tell it. "
            if report.kappa_data is None or report.u_kappa_data is None
            else f"Readings alone {report.kappa_data:.4f}, u {report.u_kappa_data:.4f}. "
        )
        + f"Result {report.kappa:.4f}, u {report.u_kappa:.4f}. (bend = −d ln B/d ln R, no unit)"
    ]
    if report.pull_c:
        pulls = ", ".join(
            f"{shift(pull, units.temperature, 3).split()[0]} at {temperature(t, units.temperature, 0)}"
            for t, pull in report.pull_c
        )
        lines.append(
            f"Its pull on the curve: {pulls}; parted by {number(report.disagreement, 1)} standard uncertainties."
        )
    return lines
