"""Decisions against a limit when the measured value is uncertain: probabilities, guard bands and risks."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from sensorcal.errors import InputError

Statement = Literal["pass", "conditional pass", "conditional fail", "fail"]

GUARD_FACTORS = {
    "6 sigma": 3.0,
    "3 sigma": 1.5,
    "ilac-g8": 1.0,
    "iso 14253-1": 0.83,
    "simple": 0.0,
}
"""Guard band over U (k = 2) by rule: ILAC-G8:09/2019, table 1 (from memory)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Risks:
    """Probabilities before an item is measured.

    Attributes
    ----------
    conforming : float
        Of an item being within the limits.
    false_accept, false_reject : float
        Of an item being accepted and outside, or rejected and inside: consumer's and producer's risk.
    """

    conforming: float
    false_accept: float
    false_reject: float


def conformance_probability(
    value: float, u: float, *, lower: float | None = None, upper: float | None = None
) -> float:
    """Probability that the true value lies within the limits, given a measured one with a normal uncertainty.

    Parameters
    ----------
    value, u : float
        Measured value and its standard uncertainty, in one unit.
    lower, upper : float, optional
        Limits, at least one of them.

    Returns
    -------
    float

    Raises
    ------
    InputError
        If u is not above zero, or there is no limit, or the limits are crossed.

    References
    ----------
    JCGM 106:2012, 7.2 to 7.4 (from memory); no knowledge of the value but the measurement.

    Examples
    --------
    >>> round(conformance_probability(-5.47, 0.05, upper=-5.40), 3)
    0.919
    """
    _limits(lower, upper)
    _positive(u, "the standard uncertainty")
    # Tails, not differences of two numbers near one: a risk of 1e-9 keeps its digits.
    above = 0.0 if upper is None else _tail((upper - value) / u)
    below = 0.0 if lower is None else _tail((value - lower) / u)
    return 1.0 - above - below


def false_accept_probability(guard_factor: float, k: float = 2.0) -> float:
    """Probability that the true value is beyond the limit when the reading sits exactly at the guarded one.

    Parameters
    ----------
    guard_factor : float
        Guard band over the expanded uncertainty.
    k : float
        Coverage factor of that expanded uncertainty.

    Returns
    -------
    float

    References
    ----------
    ILAC-G8:09/2019, table 1 (from memory): the factor multiplies U, not u.

    Examples
    --------
    >>> round(false_accept_probability(1.0), 4)
    0.0228
    """
    return _tail(guard_factor * k)


def guard_band(expanded_u: float, *, rule: str = "ilac-g8", accepted: float | None = None, k: float = 2.0) -> float:
    """Width to keep from a limit, in the unit of the expanded uncertainty.

    Parameters
    ----------
    expanded_u : float
        Expanded uncertainty at the limit.
    rule : str
        A key of `GUARD_FACTORS`.
    accepted : float, optional
        Probability of a false accept at the guarded limit that is accepted, instead of a rule; 0.5 and below.
    k : float
        Coverage factor of `expanded_u`.

    Returns
    -------
    float

    Raises
    ------
    InputError
        If the rule is not known, U is negative or the probability does not lie above 0 and up to 0.5.

    References
    ----------
    ILAC-G8:09/2019, table 1; JCGM 106:2012, 8.3.2 (both from memory).

    Examples
    --------
    >>> guard_band(1.6), round(guard_band(1.6, accepted=0.05), 2)
    (1.6, 1.32)
    """
    if not (math.isfinite(expanded_u) and expanded_u >= 0.0):
        raise InputError(f"an expanded uncertainty cannot be {expanded_u:g}", do="give it at the limit")
    if accepted is not None:
        from statistics import NormalDist

        if not 0.0 < accepted <= 0.5:
            raise InputError(
                f"an accepted probability of {accepted:g} is none to guard with", do="give one above 0 and up to 0.5"
            )
        return -NormalDist().inv_cdf(accepted) * expanded_u / k
    if rule not in GUARD_FACTORS:
        raise InputError(f"decision rule {rule!r} is not known", do=f"use one of {', '.join(map(repr, GUARD_FACTORS))}")
    # The factors are printed for U with k = 2.
    return GUARD_FACTORS[rule] * expanded_u * 2.0 / k


def statement(value: float, guard: float, *, lower: float | None = None, upper: float | None = None) -> Statement:
    """Say pass, conditional pass, conditional fail or fail, with a guard band on either side of each limit.

    Parameters
    ----------
    value, guard : float
        Measured value, and the width of the guard band.
    lower, upper : float, optional
        Limits, at least one of them.

    Returns
    -------
    {'pass', 'conditional pass', 'conditional fail', 'fail'}

    References
    ----------
    ILAC-G8:09/2019, 4.2.3, the non-binary statement (from memory).

    Examples
    --------
    >>> statement(1.9, 0.8, lower=-2.0, upper=2.0)
    'conditional pass'
    """
    _limits(lower, upper)
    inside = min(
        math.inf if upper is None else upper - value,
        math.inf if lower is None else value - lower,
    )
    # A value on the guarded limit, but for the last bit of the subtraction, is within it.
    rounding = 1e-12 * max(abs(value), guard)
    if inside >= guard - rounding:
        return "pass"
    if inside >= 0.0:
        return "conditional pass"
    return "conditional fail" if inside >= -guard - rounding else "fail"


def global_risks(
    *, mean: float, spread: float, u: float, lower: float, upper: float, accept_lower: float, accept_upper: float
) -> Risks:
    """Consumer's and producer's risk of a way of deciding, for items drawn from a known normal population.

    Parameters
    ----------
    mean, spread : float
        Of the population: mean and standard deviation.
    u : float
        Standard uncertainty of the measurement.
    lower, upper : float
        Tolerance limits.
    accept_lower, accept_upper : float
        Limits on the measured value within which an item is accepted.

    Returns
    -------
    Risks

    References
    ----------
    JCGM 106:2012, 9.5 (from memory).

    Examples
    --------
    >>> risks = global_risks(
    ...     mean=0.0, spread=0.12, u=0.04, lower=-0.2, upper=0.2, accept_lower=-0.2, accept_upper=0.2
    ... )
    >>> round(risks.false_accept, 3), round(risks.false_reject, 3)
    (0.019, 0.037)
    """
    import numpy as np
    from scipy.special import ndtr

    _positive(u, "the standard uncertainty")
    _positive(spread, "the spread of the population")
    _limits(lower, upper)
    _limits(accept_lower, accept_upper)
    nodes, weights = np.polynomial.legendre.leggauss(200)

    def over(start: float, end: float, *, accepted: bool) -> float:
        """Probability of items between two true values being accepted, or rejected."""
        start, end = max(start, mean - 12 * spread), min(end, mean + 12 * spread)
        # Pieces shorter than u, so that the acceptance edge is resolved wherever it lies.
        count = max(1, math.ceil((end - start) / (20.0 * min(u, spread)))) if end > start else 0
        total = 0.0
        for piece in range(count):
            a, b = start + (end - start) * piece / count, start + (end - start) * (piece + 1) / count
            x = 0.5 * (a + b) + 0.5 * (b - a) * nodes
            density = np.exp(-0.5 * ((x - mean) / spread) ** 2) / (spread * math.sqrt(2.0 * math.pi))
            inside = ndtr((accept_upper - x) / u) - ndtr((accept_lower - x) / u)
            total += 0.5 * (b - a) * float(weights @ (density * (inside if accepted else 1.0 - inside)))
        return total

    conforming = conformance_probability(mean, spread, lower=lower, upper=upper)
    false_accept = over(-math.inf, lower, accepted=True) + over(upper, math.inf, accepted=True)
    return Risks(
        conforming=conforming, false_accept=false_accept, false_reject=over(lower, upper, accepted=False)
    )


def _tail(z: float) -> float:
    """Probability of a standard normal value above z."""
    return 0.5 * math.erfc(z / math.sqrt(2.0))


def _positive(number: float, name: str) -> None:
    if not (math.isfinite(number) and number > 0.0):
        raise InputError(f"{name} cannot be {number:g}", do="give a number above zero")


def _limits(lower: float | None, upper: float | None) -> None:
    if lower is None and upper is None:
        raise InputError("there is no limit to decide against", do="give a lower or an upper one")
    if lower is not None and upper is not None and not lower < upper:
        raise InputError(f"limits {lower:g} and {upper:g} are crossed", do="give the lower one first")
