"""Which resistors and voltages to plug in, so that pull-up, gain, offset and a wrong table can be told apart."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from sensorcal.errors import InputError
from sensorcal.installed.preset import ReadingCurve
from sensorcal.installed.substitution import (
    PARTS,
    FloatArray,
    InputDescription,
    Part,
    TablePair,
    Test,
    expected_ratio,
    limit_slope,
    prior_variance,
    slopes,
    u_reading,
)

_EXHAUSTIVE = 60_000
_ROUNDS = 50


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SubstitutionPlan:
    """The substitutions that tell the parts of the input apart best.

    Attributes
    ----------
    tests : tuple of Test
    expected_ratio : ndarray
        What a faultless input shows, as a part of the supply.
    u : dict
        Standard uncertainty of each part after the test.
    u_at_limit_c : float
        Of the temperature at the limit from all parts together.
    before_c : float
        The same before the test.
    wrong_table_sigma : dict
        By the name of each mistaken table: how far it would stand out, in standard deviations that no fault of the
        input imitates. Below 3 it can hide behind one.
    """

    tests: tuple[Test, ...]
    expected_ratio: FloatArray
    u: dict[Part, float]
    u_at_limit_c: float
    before_c: float
    wrong_table_sigma: dict[str, float]


def plan_substitution(
    given: InputDescription,
    candidates: tuple[Test, ...],
    *,
    limit_ohm: float,
    c_per_ohm: float,
    count: int = 5,
    wrong_tables: Mapping[str, TablePair] | None = None,
) -> SubstitutionPlan:
    """Choose the substitutions after which pull-up, gain, offset and a wrong table are told apart best.

    All choices are tried where there are at most 60 000, else single exchanges until none improves. Least sum of
    the variances, each over its variance before the test; a wrong table counts as one more unknown, from none of it
    to all of it.

    Parameters
    ----------
    given : InputDescription
    candidates : tuple of Test
        What is at hand.
    limit_ohm, c_per_ohm : float
        Resistance of the probe at the engine limit, and the slope of its curve there, degC per ohm.
    count : int
        How many to take; three at least.
    wrong_tables : mapping of str to (keyed, mistaken), optional
        Curves that might have been keyed instead, by name. A scale error of the probe's resistance looks exactly like
        one of the pull-up to any resistor: only a voltage among the candidates tells those two apart.

    Returns
    -------
    SubstitutionPlan

    Raises
    ------
    InputError
        If there are fewer candidates than `count`, or fewer than three are asked for.

    References
    ----------
    A-optimal design; exchange search after Fedorov 1972 (from memory). A resistor R and a stiff voltage of the ratio
    R/(R + pull-up) look alike to the table, but only the resistor sees the pull-up.

    Examples
    --------
    >>> at_hand = tuple(Test(resistance_ohm=ohm) for ohm in (5100.0, 2200.0, 680.0, 200.0, 100.0))
    >>> plan = plan_substitution(InputDescription(), at_hand, limit_ohm=98.2, c_per_ohm=-0.42, count=3)
    >>> [test.resistance_ohm for test in plan.tests]
    [5100.0, 680.0, 100.0]
    """
    if count < 3 or len(candidates) < count:
        raise InputError(
            f"{count} of {len(candidates)} substitutions cannot tell pull-up, gain and offset apart",
            do="take three or more, with different resistances",
        )
    prior = prior_variance(given)
    u = u_reading(given, candidates)
    rows = slopes(given, candidates) * np.sqrt(prior) / u[:, None]
    away = {name: _table_shift(given, candidates, *pair) / u for name, pair in (wrong_tables or {}).items()}
    # One set of unknowns for each mistaken table, so that a set of tests must do for all of them.
    wide = [np.column_stack([rows, shift]) for shift in away.values()] or [rows]
    pieces = np.stack([one[:, :, None] * one[:, None, :] for one in wide], axis=1)
    chosen = list(_search(pieces, count))
    tests = tuple(candidates[i] for i in chosen)
    scaled = np.linalg.inv(np.eye(3) + rows[chosen].T @ rows[chosen])
    scale = np.sqrt(prior)
    covariance = scaled * scale[:, None] * scale[None, :]
    toward = limit_slope(given, limit_ohm, c_per_ohm)
    return SubstitutionPlan(
        tests=tests,
        expected_ratio=expected_ratio(given, tests),
        u={part: float(np.sqrt(covariance[i, i])) for i, part in enumerate(PARTS)},
        u_at_limit_c=float(np.sqrt(toward @ covariance @ toward)),
        before_c=float(np.sqrt(toward**2 @ prior)),
        wrong_table_sigma={name: _stands_out(rows[chosen], shift[chosen]) for name, shift in away.items()},
    )


def _search(pieces: FloatArray, count: int) -> tuple[int, ...]:
    from math import comb

    unknowns = np.eye(pieces.shape[-1])

    def sizes(sets: NDArray[np.intp]) -> FloatArray:
        variance = np.trace(np.linalg.inv(unknowns + pieces[sets].sum(axis=1)), axis1=-2, axis2=-1)
        return np.asarray(variance.mean(axis=-1))

    n = pieces.shape[0]
    if comb(n, count) <= _EXHAUSTIVE:
        sets = np.array(list(combinations(range(n), count)), dtype=np.intp)
        return tuple(int(i) for i in sets[int(np.argmin(sizes(sets)))])
    chosen = np.linspace(0, n - 1, count).round().astype(np.intp)
    best = float(sizes(chosen[None, :])[0])
    for _ in range(_ROUNDS):
        before = best
        for place in range(count):
            others = np.setdiff1d(np.arange(n), np.delete(chosen, place))
            sets = np.repeat(chosen[None, :], others.size, axis=0)
            sets[:, place] = others
            found = sizes(sets)
            if float(found.min()) < best - 1e-12:
                best, chosen = float(found.min()), sets[int(np.argmin(found))]
        if best > before - 1e-12:
            break
    return tuple(int(i) for i in np.sort(chosen))


def _table_shift(
    given: InputDescription, tests: tuple[Test, ...], keyed: ReadingCurve, mistaken: ReadingCurve
) -> FloatArray:
    """Signal, read back through the right table, by which a mistaken one differs; parts of the supply."""
    s = expected_ratio(given, tests)
    ohm = given.ohm(s)
    away = np.asarray(mistaken.temperature_c(ohm)) - np.asarray(keyed.temperature_c(ohm))
    above, below = keyed.temperature_c(ohm * 1.001), keyed.temperature_c(ohm * 0.999)
    slope = (np.asarray(above) - np.asarray(below)) / (0.002 * ohm)
    shift = away / np.where(slope == 0.0, np.nan, slope) / given.ohm_per_ratio(s)
    # Where either table shows nothing, or does not move, nothing is claimed.
    return np.asarray(np.nan_to_num(shift, nan=0.0))


def _stands_out(rows: FloatArray, shift: FloatArray) -> float:
    """Distance of a mistaken table's readings from what pull-up, gain and offset could imitate, with their prior."""
    absorbed = rows @ np.linalg.solve(rows.T @ rows + np.eye(rows.shape[1]), rows.T @ shift)
    return float(np.sqrt(max(float(shift @ (shift - absorbed)), 0.0)))
