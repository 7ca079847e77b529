"""A monitor's input proven without the probe: known resistors and voltages, and what they say of pull-up and gain."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sensorcal.errors import InputError, SensorcalError
from sensorcal.installed.preset import PairsCurve, ReadingCurve

FloatArray = NDArray[np.float64]
Part = Literal["pull-up", "gain", "offset"]
PARTS: tuple[Part, ...] = ("pull-up", "gain", "offset")

_STEP_U = 1.0 / np.sqrt(12.0)
_TOLERANCE_U = 1.0 / np.sqrt(3.0)
_ROUNDS = 50
_GRID_OHM = np.geomspace(0.5, 5e6, 6001)

TablePair = tuple[ReadingCurve, ReadingCurve]
"""The table meant to be keyed, and one that might have been keyed instead."""


@dataclass(frozen=True, slots=True, kw_only=True)
class InputDescription:
    """The input as the table assumes it.

    Parameters
    ----------
    pull_up_ohm : float
        Nominal pull-up.
    pull_down : bool
        True where the resistor goes to ground and the sensor to the supply; the part keeps its name.
    step_ratio : float
        Smallest step of the shown signal, as a part of the supply: 1/1024 for 10 bits.
    u_noise_ratio : float
        Standard uncertainty of a repeated display, as a part of the supply, besides the step.
    u_pull_up, u_gain, u_offset_ratio : float
        What may be wrong with the input before the test: relative, relative, and as a part of the supply.
    """

    pull_up_ohm: float = 1000.0
    pull_down: bool = False
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

    def ratio(self, resistance_ohm: ArrayLike, *, pull_up: float = 0.0) -> FloatArray:
        """Voltage at a sound input over the supply, for ohms at it and a relative error of the pull-up; any shape."""
        ohm, pull = np.asarray(resistance_ohm, dtype=float), self.pull_up_ohm * (1.0 + pull_up)
        return np.asarray((pull if self.pull_down else ohm) / (ohm + pull))

    def ohm(self, ratio: ArrayLike) -> FloatArray:
        """Ohms that the monitor believes to see behind a part of the supply: the inverse of `ratio`."""
        part = np.asarray(ratio, dtype=float)
        part = 1.0 - part if self.pull_down else part
        return np.asarray(self.pull_up_ohm * part / (1.0 - part))

    def ohm_per_ratio(self, ratio: ArrayLike) -> FloatArray:
        """Slope of `ohm`."""
        part = np.asarray(ratio, dtype=float)
        return np.asarray(-self.pull_up_ohm / part**2 if self.pull_down else self.pull_up_ohm / (1.0 - part) ** 2)


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
    u_shown_ratio : float
        Standard uncertainty of its display by the display's step through the table, as a part of the supply; besides
        the input's own step and noise.
    """

    __test__ = False

    resistance_ohm: float | None = None
    ratio: float | None = None
    tolerance_ratio: float = 0.001
    u_shown_ratio: float = 0.0

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
        if self.resistance_ohm is None:
            return f"{self.ratio:.3g} of the supply"
        return f"{self.resistance_ohm:.4g} ohm"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class InputFinding:
    """What the readings say about the input.

    Attributes
    ----------
    estimate, u : dict
        Relative error of pull-up and gain, offset as a part of the supply, and their standard uncertainties.
    covariance : ndarray, shape (3, 3)
        Of pull-up, gain and offset.
    significant : tuple of str
        Parts beyond twice their u.
    off : bool
        Whether the three together differ from zero at 5 %, even where no single one does.
    residual_sigma : ndarray
        What each reading keeps unexplained, over its standard uncertainty.
    chi_squared, dof
        Of the readings with the prior knowledge of the parts.
    fits : bool
        False if pull-up, gain and offset together cannot explain the readings: a wrong table or a slip.
    table_chi_squared : dict
        By the name of each mistaken table: chi-squared if that one were keyed, small where it would explain the
        readings as well; only tables that could show them are listed.
    suspects : tuple of str
        Tables that explain the readings, likeliest first.
    verdict : str
    """

    estimate: dict[Part, float]
    u: dict[Part, float]
    covariance: FloatArray
    significant: tuple[Part, ...]
    off: bool
    residual_sigma: FloatArray
    chi_squared: float
    dof: int
    fits: bool
    table_chi_squared: dict[str, float]
    suspects: tuple[str, ...]
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
        given.ratio(t.resistance_ohm, pull_up=pull_up) if t.resistance_ohm is not None else t.ratio for t in tests
    ], dtype=float)  # fmt: skip
    return np.asarray(source * (1.0 + gain) + offset)


def fit_substitution(
    given: InputDescription,
    tests: tuple[Test, ...],
    shown_ratio: ArrayLike,
    *,
    wrong_tables: Mapping[str, TablePair] | None = None,
) -> InputFinding:
    """Find the errors of pull-up, gain and offset from what the monitor showed.

    Parameters
    ----------
    given : InputDescription
        What was known before belongs to the fit: its u of each part.
    tests : tuple of Test
    shown_ratio : array_like, shape (n,)
        Signal as a part of the supply. From shown degC: invert the table meant to be keyed first.
    wrong_tables : mapping of str to (keyed, mistaken), optional
        What might have been keyed instead; each is tried as another explanation.

    Returns
    -------
    InputFinding

    Raises
    ------
    InputError
        If the number of readings is not that of the tests, or a reading is no part of the supply.

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
    u = u_reading(given, tests)
    x, covariance, left, chi = _solve(given, tests, shown, u)
    from scipy.stats import chi2

    u_part = np.sqrt(np.diag(covariance))
    dof = len(tests)
    allowed = float(chi2.ppf(0.99, dof))
    fits = bool(chi <= allowed)
    tables = {}
    for name, pair in (wrong_tables or {}).items():
        seen = _seen_through(given, shown, *pair)
        if seen is not None:
            tables[name] = _solve(given, tests, seen, u)[3]
    suspects = tuple(name for name, value in sorted(tables.items(), key=lambda one: one[1]) if value <= allowed)
    significant = tuple(part for part, value, width in zip(PARTS, x, u_part, strict=True) if abs(value) > 2.0 * width)
    off = bool(x @ np.linalg.solve(covariance, x) > chi2.ppf(0.95, len(PARTS)))
    estimate = {part: float(value) for part, value in zip(PARTS, x, strict=True)}
    spread = {part: float(value) for part, value in zip(PARTS, u_part, strict=True)}
    return InputFinding(
        estimate=estimate, u=spread, covariance=covariance, significant=significant, off=off,
        residual_sigma=np.asarray(left),
        chi_squared=chi, dof=dof, fits=fits, table_chi_squared=tables,
        suspects=suspects,
        verdict=_verdict(
            estimate, spread, significant, fits=fits, off=off, left=left, tests=tests,
            suspects=tuple(name for name in suspects if not fits or tables[name] < chi),
        ),
    )  # fmt: skip


def _solve(
    given: InputDescription, tests: tuple[Test, ...], shown: FloatArray, u: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray, float]:
    """Errors of pull-up, gain and offset with their prior, covariance, what is left over u, and chi-squared."""
    prior = 1.0 / prior_variance(given)
    x: FloatArray = np.zeros(3)
    for _ in range(_ROUNDS):
        left = (shown - expected_ratio(given, tests, pull_up=x[0], gain=x[1], offset=x[2])) / u
        design = slopes(given, tests, x) / u[:, None]
        information = design.T @ design + np.diag(prior)
        step = np.linalg.solve(information, design.T @ left - prior * x)
        # A pull-up cannot lose more than nine tenths of itself in one step, however odd the readings.
        step[0] = max(float(step[0]), -0.9 * (1.0 + float(x[0])))
        x = np.asarray(x + step, dtype=float)
        if float(np.abs(step).max()) < 1e-13:
            break
    covariance = np.asarray(np.linalg.inv(information), dtype=float)
    left = (shown - expected_ratio(given, tests, pull_up=x[0], gain=x[1], offset=x[2])) / u
    return x, covariance, np.asarray(left), float(left @ left + prior @ x**2)


def prior_variance(given: InputDescription) -> FloatArray:
    """Variance of each part before the test."""
    return np.array([given.u_pull_up, given.u_gain, given.u_offset_ratio]) ** 2


def u_reading(given: InputDescription, tests: tuple[Test, ...]) -> FloatArray:
    """Standard uncertainty of a reading: steps of input and display, noise, and the resistor's own tolerance."""
    own = np.array([
        t.tolerance_ratio * _TOLERANCE_U * (s * (1.0 - s) if t.resistance_ohm is not None else s)
        for t, s in zip(tests, expected_ratio(given, tests), strict=True)
    ])  # fmt: skip
    shown = np.array([t.u_shown_ratio for t in tests])
    return np.asarray(np.sqrt((given.step_ratio * _STEP_U) ** 2 + given.u_noise_ratio**2 + own**2 + shown**2))


def slopes(given: InputDescription, tests: tuple[Test, ...], x: FloatArray | None = None) -> FloatArray:
    """Change of each reading with pull-up, gain and offset; shape (n, 3)."""
    at = np.zeros(3) if x is None else x
    source = expected_ratio(given, tests, pull_up=at[0])
    resistor = np.array([t.resistance_ohm is not None for t in tests])
    sign = 1.0 if given.pull_down else -1.0
    by_pull = np.where(resistor, sign * source * (1.0 - source) / (1.0 + at[0]) * (1.0 + at[1]), 0.0)
    return np.column_stack([by_pull, source, np.ones(len(tests))])


def limit_slope(given: InputDescription, limit_ohm: float, c_per_ohm: float) -> FloatArray:
    """Error at the limit, degC, per unit of each part: what the table makes of the signal."""
    s = float(given.ratio(limit_ohm))
    by_pull = (1.0 if given.pull_down else -1.0) * s * (1.0 - s)
    return np.asarray(c_per_ohm * float(given.ohm_per_ratio(s)) * np.array([by_pull, s, 1.0]))


def limit_effect(
    finding: InputFinding, given: InputDescription, *, limit_ohm: float, c_per_ohm: float
) -> tuple[float, float]:
    """Error that the found parts make at the limit, and its standard uncertainty, degC.

    Parameters
    ----------
    finding : InputFinding
    given : InputDescription
    limit_ohm, c_per_ohm : float
        Resistance of the probe at the engine limit, and the slope of its curve there, degC per ohm.

    Returns
    -------
    error_c, u_c : float
        Shown minus true to first order.

    Examples
    --------
    >>> given, tests = InputDescription(), tuple(Test(resistance_ohm=ohm) for ohm in (5100.0, 680.0, 100.0))
    >>> found = fit_substitution(given, tests, expected_ratio(given, tests, pull_up=-0.05))
    >>> [round(x, 1) for x in limit_effect(found, given, limit_ohm=98.2, c_per_ohm=-0.42)]
    [-2.1, 0.2]
    """
    toward = limit_slope(given, limit_ohm, c_per_ohm)
    x = np.array([finding.estimate[part] for part in PARTS])
    return float(toward @ x), float(np.sqrt(toward @ finding.covariance @ toward))


def _seen_through(
    given: InputDescription, shown: FloatArray, keyed: ReadingCurve, mistaken: ReadingCurve
) -> FloatArray | None:
    """What stood at the input if the mistaken table is keyed; None where it could not have shown this."""
    if not ((shown > 0) & (shown < 1)).all():
        return None
    try:
        value = np.asarray(keyed.temperature_c(given.ohm(shown)))
        grid = _GRID_OHM
        if isinstance(mistaken, PairsCurve):
            low, high = mistaken.resistance_ohm[0], mistaken.resistance_ohm[-1]
            grid = np.concatenate([[low], grid[(grid > low) & (grid < high)], [high]])
        falls = np.asarray(mistaken.temperature_c(grid))
    except SensorcalError:
        return None
    told = np.isfinite(falls)
    grid, falls = grid[told], falls[told]
    if not grid.size or not np.isfinite(value).all() or (value < falls[-1]).any() or (value > falls[0]).any():
        return None
    ohm = np.exp(np.interp(value, falls[::-1], np.log(grid)[::-1]))
    return given.ratio(ohm)


def _verdict(
    estimate: dict[Part, float], u: dict[Part, float], significant: tuple[Part, ...], *, fits: bool, off: bool,
    left: FloatArray, tests: tuple[Test, ...], suspects: tuple[str, ...] = (),
) -> str:  # fmt: skip
    if not fits and suspects:
        return f"the table of {' or '.join(suspects)} is keyed: pull-up, gain and offset cannot explain these readings"
    if not fits:
        worst = int(np.argmax(np.abs(left)))
        return (
            "pull-up, gain and offset cannot explain these readings: read the keyed table back, and look at the one"
            f" with {tests[worst].words} first"
        )
    if not significant and off:
        return "the input is off, but not which of pull-up, gain and offset: measure the resistors, or plug in more"
    if not significant:
        return "the input agrees with its description"
    said = [
        f"{part} {abs(estimate[part]) * 100:.1f} % {'high' if estimate[part] > 0 else 'low'} (U {200 * u[part]:.1f})"
        if part != "offset"
        else f"offset {estimate[part] * 100:+.2f} % of the supply (U {200 * u[part]:.2f})"
        for part in significant
    ]
    rest = [part for part in PARTS if part not in significant]
    words = ", ".join(said) + (f"; {' and '.join(rest)} not to be told from zero" if rest else "")
    return words + (f"; or the table of {' or '.join(suspects)} is keyed: read it back" if suspects else "")
