"""Charge-air cooler with the uncertainty of its probes, and with what the probes share.

Two probes calibrated in one bath share its reference: that error moves both alike and nearly cancels. Each function
takes plain standard uncertainties and correlations; the effectiveness also takes two calibrations as they are.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from sensorcal.calibration.calibration import Calibration, extrapolated, shared_shift_c, u_temperature_c
from sensorcal.calibration.derived import Derived, derive
from sensorcal.errors import InputError
from sensorcal.measure.interval import coverage_factor
from sensorcal.physics.compressor import (
    cooler_effectiveness,
    cooler_effectiveness_slopes,
    pressure_loss_pa,
    pulled_temperature_c,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

DUCT_CAUTION = (
    "The bench cannot see the duct: a short probe is pulled towards the wall of its duct, most at low power. The hot "
    "end then reads low and the cold end high, so the effectiveness is under-read. Compare at the same power only, and "
    "trust the trend before the figure."
)
OUTSIDE_CAUTION = "Outside 0 to 1 the probes, their places or their plugs are to be questioned before the cooler."


def effectiveness(
    *,
    in_c: float,
    out_c: float,
    ambient_c: float,
    u_in_c: float,
    u_out_c: float,
    u_ambient_c: float,
    in_out: float = 0.0,
    in_ambient: float = 0.0,
    out_ambient: float = 0.0,
) -> Derived:
    """Effectiveness of a charge-air cooler with its uncertainty.

    Parameters
    ----------
    in_c, out_c, ambient_c : float
        Charge before and behind the cooler, and cooling air as it enters, °C.
    u_in_c, u_out_c, u_ambient_c : float
        Standard uncertainties, °C. Where what the charge probes share has been taken out of theirs, it is nearly
        lost: the ambient's slope times it is what would have remained.
    in_out, in_ambient, out_ambient : float, optional
        Correlation of each pair's errors, -1 to 1; 0 if left out. Two probes of equal u that share 95 % of its
        square have 0.95.

    Returns
    -------
    Derived

    Raises
    ------
    InputError
        If a temperature, an uncertainty or a correlation cannot be, or the charge is less than 5 K above the air.

    References
    ----------
    Definition of effectiveness; JCGM 100:2008 (GUM), equation (16).

    Examples
    --------
    >>> matched = effectiveness(in_c=95.0, out_c=48.0, ambient_c=22.0, u_in_c=0.2, u_out_c=0.2, u_ambient_c=0.5)
    >>> f"{matched.value:.3f} ± {matched.expanded(2.0):.3f}"
    '0.644 ± 0.011'
    """
    slopes = [float(slope) for slope in cooler_effectiveness_slopes(in_c, out_c, ambient_c)]
    return derive(
        name="cooler effectiveness",
        value=float(cooler_effectiveness(in_c, out_c, ambient_c)),
        unit="1",
        inputs=(
            ("charge before the cooler", "in", u_in_c, "degC", slopes[0]),
            ("charge behind the cooler", "out", u_out_c, "degC", slopes[1]),
            ("cooling air", "ambient", u_ambient_c, "degC", slopes[2]),
        ),
        pairs={(0, 1): in_out, (0, 2): in_ambient, (1, 2): out_ambient},
        cautions=_effectiveness_cautions(in_c, out_c, ambient_c),
    )


def effectiveness_from_calibrations(
    *,
    inlet: Calibration,
    outlet: Calibration,
    in_c: float,
    out_c: float,
    ambient_c: float,
    ambient: Calibration | None = None,
    u_ambient_c: float | None = None,
    u_reading_c: float = 0.0,
) -> Derived:
    """Effectiveness of a charge-air cooler from probes calibrated here, with what their calibrations share.

    Parameters
    ----------
    inlet, outlet : Calibration
        Of the probes before and behind the cooler.
    in_c, out_c, ambient_c : float
        Temperatures by these calibrations, °C.
    ambient : Calibration, optional
        Of the probe in the cooling air.
    u_ambient_c : float, optional
        Standard uncertainty of the cooling air's temperature where it comes from elsewhere, °C.
    u_reading_c : float, optional
        Standard uncertainty of one reading of each probe beside its calibration (display, noise, place), °C.

    Returns
    -------
    Derived
        Errors with the same identifier in two calibrations are the same error and enter once.

    Raises
    ------
    InputError
        If neither `ambient` nor `u_ambient_c` is given, or both are.

    References
    ----------
    JCGM 100:2008 (GUM), equation (16) and F.1.2.3 for errors shared through a common reference.
    """
    if (ambient is None) == (u_ambient_c is None):
        raise InputError(
            "the cooling air needs one uncertainty", do="give either ambient, its calibration, or u_ambient_c"
        )
    probes = ((inlet, in_c), (outlet, out_c), (ambient, ambient_c))
    covariance = _covariance(probes)
    covariance += np.diag(
        [u_reading_c**2, u_reading_c**2, u_reading_c**2 if ambient else float(u_ambient_c or 0.0) ** 2]
    )
    u = [math.sqrt(max(float(variance), 0.0)) for variance in covariance.diagonal()]
    pairs = {
        (i, j): max(-1.0, min(1.0, float(covariance[i, j]) / (u[i] * u[j]))) if u[i] * u[j] > 0.0 else 0.0
        for i, j in ((0, 1), (0, 2), (1, 2))
    }
    result = effectiveness(
        in_c=in_c, out_c=out_c, ambient_c=ambient_c, u_in_c=u[0], u_out_c=u[1], u_ambient_c=u[2],
        in_out=pairs[0, 1], in_ambient=pairs[0, 2], out_ambient=pairs[1, 2],
    )  # fmt: skip
    beyond = tuple(
        f"{probe.sensor} is extrapolated at {at_c:g} °C"
        for probe, at_c in probes
        if probe is not None and bool(extrapolated(probe, at_c))
    )
    return replace(result, cautions=(*result.cautions, *beyond))


def effectiveness_shown_in_duct(
    *, in_c: float, out_c: float, ambient_c: float, wall_c: float, pull_ratio: float
) -> float:
    """Effectiveness that the probes would show when the duct pulls both towards its wall.

    Parameters
    ----------
    in_c, out_c, ambient_c : float
        True temperatures, °C.
    wall_c : float
        Wall of the ducts and engine bay, °C.
    pull_ratio : float
        Share of the difference that a probe takes, see `pulled_temperature_c`.

    Returns
    -------
    float
        Ratio; below the true one as a rule.

    References
    ----------
    As for `pulled_temperature_c`: an estimate of size, no correction.

    Examples
    --------
    >>> shown = effectiveness_shown_in_duct(in_c=95.0, out_c=48.0, ambient_c=22.0, wall_c=60.0, pull_ratio=0.07)
    >>> f"{shown:.2f} shown where 0.64 is true"
    '0.62 shown where 0.64 is true'
    """
    return float(
        cooler_effectiveness(
            pulled_temperature_c(in_c, wall_c, pull_ratio), pulled_temperature_c(out_c, wall_c, pull_ratio), ambient_c
        )
    )


def cooler_loss(
    *, before_pa: float, after_pa: float, u_before_pa: float, u_after_pa: float, correlation: float = 0.0
) -> Derived:
    """Pressure lost in the cooler with its uncertainty.

    Parameters
    ----------
    before_pa, after_pa : float
        Absolute pressures on both sides, Pa.
    u_before_pa, u_after_pa : float
        Standard uncertainties, Pa.
    correlation : float, optional
        Of the two errors: near 1 for one sensor moved from port to port, or two zeroed together.

    Returns
    -------
    Derived

    Raises
    ------
    InputError
        If a pressure, an uncertainty or the correlation cannot be.

    References
    ----------
    JCGM 100:2008 (GUM), equation (16).

    Examples
    --------
    >>> loss = cooler_loss(before_pa=146e3, after_pa=140e3, u_before_pa=600.0, u_after_pa=600.0, correlation=0.95)
    >>> f"{loss.value / 1000:.1f} ± {loss.expanded() / 1000:.1f} kPa"
    '6.0 ± 0.4 kPa'
    """
    return derive(
        name="pressure lost in the cooler",
        value=float(pressure_loss_pa(before_pa, after_pa)),
        unit="Pa",
        inputs=(
            ("pressure before the cooler", "before", u_before_pa, "Pa", 1.0),
            ("pressure behind the cooler", "after", u_after_pa, "Pa", -1.0),
        ),
        pairs={(0, 1): correlation},
        cautions=("The two ports may be exchanged.",) if after_pa > before_pa else (),
    )


def pair_matched(difference_c: tuple[float, ...], u_difference_c: tuple[float, ...]) -> tuple[bool, str]:
    """Say whether two probes agree: every difference within its expanded uncertainty.

    Parameters
    ----------
    difference_c, u_difference_c : tuple of float
        Differences of the two probes at a few temperatures and their standard uncertainties (with what the probes
        share taken out, as by `u_difference_c`), °C.

    Returns
    -------
    matched : bool
    text : str
        The largest difference in plain words.

    Raises
    ------
    InputError
        If there is none, the lengths differ or an uncertainty is not above zero.

    References
    ----------
    Each difference against 1.96 u, JCGM 100:2008 (GUM), G.1.3; of three independent
    differences one is beyond it by chance once in seven.

    Examples
    --------
    >>> pair_matched((0.05, 0.21, 0.18), (0.2, 0.2, 0.2))
    (True, 'matched: the largest difference is 0.21 °C, within ± 0.39')
    """
    if not difference_c or len(difference_c) != len(u_difference_c):
        raise InputError("differences and their uncertainties do not pair up", do="give one u for each difference")
    if not all(math.isfinite(u) and u > 0.0 for u in u_difference_c):
        raise InputError("u_difference_c has a value that is not above zero", do="give the standard uncertainty in °C")
    ratios = [abs(d) / u for d, u in zip(difference_c, u_difference_c, strict=True)]
    worst = int(np.argmax(ratios))
    k = coverage_factor()
    matched = ratios[worst] <= k
    said = "matched: the largest difference is" if matched else "not matched:"
    how = "within" if matched else "beyond"
    return matched, f"{said} {abs(difference_c[worst]):.2f} °C, {how} ± {k * u_difference_c[worst]:.2f}"


def _effectiveness_cautions(in_c: float, out_c: float, ambient_c: float) -> tuple[str, ...]:
    inside = ambient_c <= out_c <= in_c
    return (DUCT_CAUTION,) if inside else (OUTSIDE_CAUTION, DUCT_CAUTION)


def _covariance(probes: tuple[tuple[Calibration | None, float], ...]) -> Floats:
    """Covariance of the calibrations' errors at their temperatures, °C²; zero where there is no calibration.

    A shared error is one error: where the probes' own points have enlarged it differently, the larger factor counts
    for all, as in `u_difference_c`.
    """
    covariance = np.zeros((len(probes), len(probes)))
    shared: dict[str, list[tuple[int, float, float]]] = {}
    for i, (probe, at_c) in enumerate(probes):
        if probe is None:
            continue
        covariance[i, i] = float(u_temperature_c(probe, at_c)) ** 2
        for name, shift in shared_shift_c(probe, at_c).items():
            shared.setdefault(name, []).append((i, float(shift), probe.inflation))
    for held in shared.values():
        largest = max(inflation for _, _, inflation in held)
        for i, shift_i, inflation in held:
            covariance[i, i] += (largest**2 - inflation**2) * shift_i**2
            for j, shift_j, _ in held:
                if i != j:
                    covariance[i, j] += largest**2 * shift_i * shift_j
    return covariance
