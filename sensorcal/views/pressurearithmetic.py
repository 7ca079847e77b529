"""What stands behind 'Show the arithmetic' of a pressure sensor: coefficients, tests, shared errors, assumptions."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from sensorcal.calibration.pressurecal import PressureCalibration, shared_shift_pa
from sensorcal.physics.transducer import RatioTable
from sensorcal.views.pressurewords import beside, small
from sensorcal.views.words import TIMES

if TYPE_CHECKING:
    from sensorcal.book.pressurerecord import PressureRecord

_KNOWN_DOF = 1e4  # more degrees of freedom than that change no digit of k


def pressure_arithmetic(cal: PressureCalibration, unit: str) -> dict[str, Any]:
    """Collect the arithmetic of a pressure calibration as texts for a page."""
    curve = cal.curve
    if isinstance(curve, RatioTable):
        formula = "Straight lines between knots; r is output over supply."
        names = [f"p at r = {knot:.5f}" for knot in curve.knots_ratio]
    else:
        formula = f"p = Σ aₙ zⁿ with z = (r − {curve.centre:.5f})/{curve.scale:.5f}; r is output over supply."
        names = [f"a{n}" for n in range(curve.coefficients_pa.size)]
    covariance = cal.covariance
    shifts = shared_shift_pa(cal, list(cal.tested_pa))
    largest = sorted(shifts, key=lambda name: -float(abs(shifts[name]).max()))
    meaning = {one.identifier: one.meaning for one in cal.terms}
    lines = [
        (
            f"U = k u with k = {cal.k:.3g} (the calibration guides', {TIMES})."
            if cal.dof_effective > _KNOWN_DOF
            else f"U = k u with k = {cal.k:.3g}, for {cal.dof_effective:.1f} effective degrees of freedom."
        ),
        (
            f"Chi-squared {cal.chi_squared:.2f} on {cal.dof} degrees of freedom; every u of the fit multiplied by "
            f"{cal.inflation:.3g}."
        ),
    ]
    lines += [
        (
            f"A {one.richer} instead of a {one.simpler}: chi-squared falls by {one.chi_squared_drop:.2f}, chance alone "
            f"exceeds {one.limit:.2f} once in a hundred: {'needed' if one.demanded else 'not needed'}."
        )
        for one in cal.orders
    ]
    return {
        "formula": formula,
        "size": covariance.shape[0],
        "coefficients": [
            {
                "name": name,
                "value": f"{value:.2f}",
                "u": f"{covariance[i, i] ** 0.5:.1f}",
                "covariance": [f"{entry:.3e}" for entry in covariance[i].tolist()],
            }
            for i, (name, value) in enumerate(zip(names, curve.coefficients_pa.tolist(), strict=True))
        ],
        "lines": lines,
        "shift_heads": [beside(one, cal.tested_pa[1], unit) for one in cal.tested_pa],
        "shifts": [
            {
                "name": meaning.get(name) or name,
                "shifts": [small(float(one), unit, signed=True) for one in shifts[name]],
            }
            for name in largest
        ],
    }


def pressure_assumed(record: PressureRecord) -> str:
    """Name the assumed numbers of this sensor and of the gauge that stood beside it."""
    sensor = record.calibration.sensor
    used = tuple(
        f"references.{one.split()[1].rstrip(':')}" for one in record.facts.traceability.split("; ") if " " in one
    )
    said = []
    for line in record.facts.assumed:
        name, _, rest = line.partition(" = ")
        if not name.startswith((f"transducers.{sensor}.", *(f"{one}." for one in used))):
            continue
        if name.endswith((".kind", ".k")):
            continue
        said.append(f"{name.removeprefix(f'transducers.{sensor}.')} = {rest.split(' (', 1)[0]}")
    return "; ".join(said)
