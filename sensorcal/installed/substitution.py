"""A monitor's input proven without the probe: known resistors and voltages, and what they tell pull-up and gain by."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sensorcal.errors import InputError
from sensorcal.installed.preset import ReadingCurve

FloatArray = NDArray[np.float64]
Part = Literal["pull-up", "gain", "offset"]
PARTS: tuple[Part, ...] = ("pull-up", "gain", "offset")

_STEP_U = 1.0 / np.sqrt(12.0)
_TOLERANCE_U = 1.0 / np.sqrt(3.0)
_EXHAUSTIVE = 60_000
_ROUNDS = 50


@dataclass(frozen=True, slots=True, kw_only=True)
class InputDescription:
    """The input as the table assumes it.

    Parameters
    ----------
    pull_up_ohm : float
        Nominal pull-up.
    step_ratio : float
        Smallest step of the shown signal, as a part of the supply: 1/1024 for 10 bits.
    u_noise_ratio : float
        Standard uncertainty of a repeated display, as a part of the supply, besides the step.
    u_pull_up, u_gain, u_offset_ratio : float
        What may be wrong with the input before the test: relative, relative, and as a part of the supply.
    """

    pull_up_ohm: float = 1000.0
    step_ratio: float = 1.0 / 1024.0
    u_noise_ratio: float = 0.0
    u_pull_up: float = 0.02
    u_gain: float = 0.02
    u_offset_ratio: float = 0.01

    def __post_init__(self) -> None:
        for name in ("pull_up_ohm", "step_ratio", "u_pull_up", "u_gain", "u_offset_ratio"):
            number = getattr(self, name)
            if not (np.isfinite(number) and number > 0):
                raise InputError(f"{name} cannot be {number:g}", do="give a number above zero")


@dataclass(frozen=True, slots=True, kw_only=True)
class Test:
    """One substitution: a resistor in place of the probe, or a stiff voltage at the input.

    Parameters
    ----------
    resistance_ohm : float or None
    ratio : float or None
        Voltage at the input over the supply, from a divider far below the pull-up in resistance, or its measured value.
    tolerance_ratio : float
        Half-width of the resistor or voltage, relative.
    """

    __test__ = False

    resistance_ohm: float | None = None
    ratio: float | None = None
    tolerance_ratio: float = 0.001

    def __post_init__(self) -> None:
        if (self.resistance_ohm is None) == (self.ratio is None):
            raise InputError("a substitution is a resistor or a voltage", do="give one of resistance_ohm and ratio")
        if self.resistance_ohm is not None and not self.resistance_ohm > 0:
            raise InputError(f"a resistor of {self.resistance_ohm:g} ohm is none", do="give its value")
        if self.ratio is not None and not 0 < self.ratio < 1:
            raise InputError(f"a voltage of {self.ratio:g} of the supply cannot be shown", do="stay between 0 and 1")

    @property
    def words(self) -> str:
        """What to plug in."""
        return f"{self.resistance_ohm:g} ohm" if self.resistance_ohm is not None else f"{self.ratio:.3g} of the supply"


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
    wrong_table_sigma : float or None
        How far the likeliest mistaken table would stand out, in standard deviations that no fault of the input
        imitates; None if none was given.
    """

    tests: tuple[Test, ...]
    expected_ratio: FloatArray
    u: dict[Part, float]
    u_at_limit_c: float
    before_c: float
    wrong_table_sigma: float | None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class InputFinding:
    """What the readings say about the input.

    Attributes
    ----------
    estimate, u : dict
        Relative error of pull-up and gain, offset as a part of the supply, and their standard uncertainties.
    significant : tuple of str
        Parts beyond twice their u.
    residual_sigma : ndarray
        What each reading keeps unexplained, over its standard uncertainty.
    chi_squared, dof
        Of the readings with the prior knowledge of the parts.
    fits : bool
        False if pull-up, gain and offset together cannot explain the readings: a wrong table or a slip.
    verdict : str
    """

    estimate: dict[Part, float]
    u: dict[Part, float]
    significant: tuple[Part, ...]
    residual_sigma: FloatArray
    chi_squared: float
    dof: int
    fits: bool
    verdict: str


def expected_ratio(
    given: InputDescription, tests: tuple[Test, ...], *, pull_up: float = 0.0, gain: float = 0.0, offset: float = 0.0
) -> FloatArray:
    """Signal that an input with these errors reports, as a part of the supply; shape (n,).

    Parameters
    ----------
    given : InputDescription
    tests : tuple of Test
    pull_up, gain : float
        Relative errors: 0.012 for a pull-up 1.2 % high. Gain covers a reference that is not the supply.
    offset : float
        As a part of the supply.

    Examples
    --------
    >>> expected_ratio(InputDescription(), (Test(resistance_ohm=1000.0),), pull_up=0.012).round(4)
    array([0.497])
    """
    source = np.array([
        t.resistance_ohm / (t.resistance_ohm + given.pull_up_ohm * (1.0 + pull_up))
        if t.resistance_ohm is not None else t.ratio for t in tests
    ], dtype=float)  # fmt: skip
    return np.asarray(source * (1.0 + gain) + offset)


def plan_substitution(
    given: InputDescription,
    candidates: tuple[Test, ...],
    *,
    limit_ohm: float,
    c_per_ohm: float,
    count: int = 5,
    wrong_tables: tuple[tuple[ReadingCurve, ReadingCurve], ...] = (),
) -> SubstitutionPlan:
    """Choose the substitutions after which pull-up, gain and offset are known best, each against what it was before.

    All choices are tried where there are at most 60 000, else single exchanges until none improves. Least sum of
    the variances, each over its variance before the test.

    Parameters
    ----------
    given : InputDescription
    candidates : tuple of Test
        What is at hand.
    limit_ohm, c_per_ohm : float
        Resistance of the probe at the engine limit, and the slope of its curve there, degC per ohm.
    count : int
        How many to take; three at least.
    wrong_tables : tuple of pairs (keyed, mistaken)
        Curves that might have been keyed instead; the plan says how far they would stand out.

    Returns
    -------
    SubstitutionPlan

    Raises
    ------
    InputError
        If there are fewer candidates than `count`, or fewer than three are asked for.

    References
    ----------
    A-optimal design; exchange search after Fedorov 1972 (from memory).

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
    prior = _prior(given)
    rows = _jacobian(given, candidates) * np.sqrt(prior) / _u(given, candidates)[:, None]
    pieces = rows[:, :, None] * rows[:, None, :]
    chosen = _search(pieces, count)
    tests = tuple(candidates[i] for i in chosen)
    scaled = np.linalg.inv(np.eye(3) + pieces[list(chosen)].sum(axis=0))
    scale = np.sqrt(prior)
    covariance = scaled * scale[:, None] * scale[None, :]
    toward = _limit_slope(given, limit_ohm, c_per_ohm)
    sigma = [_stands_out(given, tests, keyed, mistaken) for keyed, mistaken in wrong_tables]
    return SubstitutionPlan(
        tests=tests,
        expected_ratio=expected_ratio(given, tests),
        u={part: float(np.sqrt(covariance[i, i])) for i, part in enumerate(PARTS)},
        u_at_limit_c=float(np.sqrt(toward @ covariance @ toward)),
        before_c=float(np.sqrt(toward**2 @ prior)),
        wrong_table_sigma=min(sigma) if sigma else None,
    )


def fit_substitution(given: InputDescription, tests: tuple[Test, ...], shown_ratio: ArrayLike) -> InputFinding:
    """Find the errors of pull-up, gain and offset from what the monitor showed.

    Parameters
    ----------
    given : InputDescription
        What was known before belongs to the fit: its u of each part.
    tests : tuple of Test
    shown_ratio : array_like, shape (n,)
        Signal as a part of the supply. From shown degC: invert the table now keyed first.

    Returns
    -------
    InputFinding

    Raises
    ------
    InputError
        If the number of readings is not that of the tests.

    References
    ----------
    Generalised least squares with prior; common practice, no source.

    Examples
    --------
    >>> given = InputDescription()
    >>> tests = tuple(Test(resistance_ohm=ohm) for ohm in (5100.0, 2200.0, 680.0, 200.0, 100.0))
    >>> fit_substitution(given, tests, expected_ratio(given, tests, pull_up=0.012)).verdict
    'pull-up 1.2 % high (U 0.5); gain and offset not to be told from zero'
    """
    shown = np.asarray(shown_ratio, dtype=float)
    if shown.shape != (len(tests),) or not np.isfinite(shown).all():
        raise InputError(f"{shown.size} readings stand beside {len(tests)} substitutions", do="give one for each")
    prior = 1.0 / _prior(given)
    u = _u(given, tests)
    x = np.zeros(3)
    for _ in range(_ROUNDS):
        left = (shown - expected_ratio(given, tests, pull_up=x[0], gain=x[1], offset=x[2])) / u
        design = _jacobian(given, tests, x) / u[:, None]
        information = design.T @ design + np.diag(prior)
        step = np.linalg.solve(information, design.T @ left - prior * x)
        x = x + step
        if float(np.abs(step).max()) < 1e-13:
            break
    covariance = np.linalg.inv(information)
    left = (shown - expected_ratio(given, tests, pull_up=x[0], gain=x[1], offset=x[2])) / u
    chi = float(left @ left + prior @ x**2)
    from scipy.stats import chi2

    u_part = np.sqrt(np.diag(covariance))
    dof = len(tests)
    fits = bool(chi <= chi2.ppf(0.99, dof))
    significant = tuple(part for part, value, width in zip(PARTS, x, u_part, strict=True) if abs(value) > 2.0 * width)
    estimate = {part: float(value) for part, value in zip(PARTS, x, strict=True)}
    spread = {part: float(value) for part, value in zip(PARTS, u_part, strict=True)}
    return InputFinding(
        estimate=estimate, u=spread, significant=significant, residual_sigma=np.asarray(left), chi_squared=chi, dof=dof,
        fits=fits, verdict=_verdict(estimate, spread, significant, fits=fits, left=left, tests=tests),
    )  # fmt: skip


def _prior(given: InputDescription) -> FloatArray:
    return np.array([given.u_pull_up, given.u_gain, given.u_offset_ratio]) ** 2


def _u(given: InputDescription, tests: tuple[Test, ...]) -> FloatArray:
    """Standard uncertainty of a reading: step, noise, and the resistor's own tolerance."""
    own = np.array([
        t.tolerance_ratio * _TOLERANCE_U * (s * (1.0 - s) if t.resistance_ohm is not None else s)
        for t, s in zip(tests, expected_ratio(given, tests), strict=True)
    ])  # fmt: skip
    return np.asarray(np.sqrt((given.step_ratio * _STEP_U) ** 2 + given.u_noise_ratio**2 + own**2))


def _jacobian(given: InputDescription, tests: tuple[Test, ...], x: FloatArray | None = None) -> FloatArray:
    at = np.zeros(3) if x is None else x
    source = expected_ratio(given, tests, pull_up=at[0])
    resistor = np.array([t.resistance_ohm is not None for t in tests])
    by_pull = np.where(resistor, -source * (1.0 - source) / (1.0 + at[0]) * (1.0 + at[1]), 0.0)
    return np.column_stack([by_pull, source, np.ones(len(tests))])


def _search(pieces: FloatArray, count: int) -> tuple[int, ...]:
    from math import comb

    def sizes(sets: NDArray[np.intp]) -> FloatArray:
        return np.asarray(np.trace(np.linalg.inv(np.eye(3) + pieces[sets].sum(axis=1)), axis1=1, axis2=2))

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


def _limit_slope(given: InputDescription, limit_ohm: float, c_per_ohm: float) -> FloatArray:
    """Error at the limit, degC, per unit of each part: what the table makes of the signal."""
    s = limit_ohm / (limit_ohm + given.pull_up_ohm)
    ohm_per_ratio = given.pull_up_ohm / (1.0 - s) ** 2
    return np.asarray(c_per_ohm * ohm_per_ratio * np.array([-s * (1.0 - s), s, 1.0]))


def _stands_out(given: InputDescription, tests: tuple[Test, ...], keyed: ReadingCurve, mistaken: ReadingCurve) -> float:
    """Distance of a mistaken table's displays from what pull-up, gain and offset could imitate."""
    ohm = np.array([t.resistance_ohm for t in tests if t.resistance_ohm is not None])
    kept = tuple(t for t in tests if t.resistance_ohm is not None)
    away = np.asarray(mistaken.temperature_c(ohm)) - np.asarray(keyed.temperature_c(ohm))
    above, below = keyed.temperature_c(ohm * 1.001), keyed.temperature_c(ohm * 0.999)
    slope = (np.asarray(above) - np.asarray(below)) / (0.002 * ohm)
    s = expected_ratio(given, kept)
    u = _u(given, kept)
    # Read back through the right table, the wrong display is a signal that differs by so much.
    shift = away / slope * (1.0 - s) ** 2 / given.pull_up_ohm / u
    design = _jacobian(given, kept) / u[:, None]
    absorbed = design @ np.linalg.solve(design.T @ design + np.diag(1.0 / _prior(given)), design.T @ shift)
    return float(np.sqrt(max(float(shift @ (shift - absorbed)), 0.0)))


def _verdict(
    estimate: dict[Part, float], u: dict[Part, float], significant: tuple[Part, ...], *, fits: bool, left: FloatArray,
    tests: tuple[Test, ...],
) -> str:  # fmt: skip
    if not fits:
        worst = int(np.argmax(np.abs(left)))
        return (
            "pull-up, gain and offset cannot explain these readings: read the keyed table back, and look at the one"
            f" with {tests[worst].words} first"
        )
    if not significant:
        return "the input agrees with its description"
    said = [
        f"{part} {abs(estimate[part]) * 100:.1f} % {'high' if estimate[part] > 0 else 'low'} (U {200 * u[part]:.1f})"
        if part != "offset"
        else f"offset {estimate[part] * 100:+.2f} % of the supply (U {200 * u[part]:.2f})"
        for part in significant
    ]
    rest = [part for part in PARTS if part not in significant]
    return ", ".join(said) + (f"; {' and '.join(rest)} not to be told from zero" if rest else "")
