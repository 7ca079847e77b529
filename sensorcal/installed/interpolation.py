"""How a monitor reads between and beyond the rows of its table, found from resistors plugged in and what it shows."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sensorcal.errors import InputError, TableError
from sensorcal.units import parse_unit

FloatArray = NDArray[np.float64]
Line = Literal["ln ohms", "volts", "ohms"]
Past = Literal["holds", "extends", "blank"]
PASTS: tuple[Past, ...] = ("holds", "extends", "blank")

# Chance that any display is a slip (misread, wrong resistor taken): keeps one bad pair from ruling out the truth.
_SLIP = 1e-4
# A departure of this many standard deviations is no longer one of the three lines.
_NONE_FITS = 5.0
_DECIDED = 0.95
_NODES = 9


@dataclass(frozen=True, slots=True, kw_only=True)
class Plugged:
    """One resistor plugged into the monitor's input, and what was shown.

    Parameters
    ----------
    resistance_ohm : float
        Its marked or measured value.
    shown : float or None
        In the keyed table's `value_unit`; None for a blank or dashes.
    tolerance_ratio : float
        Half-width of its value as a part of it: 0.001 for a 0.1 % resistor.
    """

    resistance_ohm: float
    shown: float | None
    tolerance_ratio: float = 0.001


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class KeyedTable:
    """The table now keyed, and what bears on how exactly a display repeats.

    Parameters
    ----------
    resistance_ohm, value : ndarray, shape (n,)
        Rows in any order; resistances differ. `value`, and every value shown, stands in `value_unit`.
    pull_up_ohm : float, optional
        Needed to try a line in volts; the supply drops out of a line between two rows.
    step : float
        Display step, in the unit of `value`.
    u_shown : float
        Standard uncertainty of the input before rounding, in the unit of `value`.
    value_unit : str
        Unit of the table's values and of what is shown; nothing is converted.
    """

    resistance_ohm: FloatArray
    value: FloatArray
    pull_up_ohm: float | None = None
    step: float = 0.1
    u_shown: float = 0.05
    value_unit: str = "degC"

    def __post_init__(self) -> None:
        ohm = np.array(self.resistance_ohm, dtype=float)
        value = np.array(self.value, dtype=float)
        if ohm.ndim != 1 or ohm.shape != value.shape or ohm.size < 2 or not (ohm > 0).all():
            raise TableError("the keyed table needs two rows or more of ohms and values", do="read it from the monitor")
        order = np.argsort(ohm)
        if (np.diff(ohm[order]) <= 0).any():
            raise TableError("two rows of the keyed table have the same resistance", do="read it from the monitor")
        if not (self.step > 0 and self.u_shown > 0):
            raise InputError("the display step and u_shown must be above zero")
        object.__setattr__(self, "value_unit", parse_unit(self.value_unit))
        for name, array in (("resistance_ohm", ohm[order]), ("value", value[order])):
            array.flags.writeable = False
            object.__setattr__(self, name, array)

    @property
    def lines(self) -> tuple[Line, ...]:
        """The lines that can be tried: without a pull-up, volts cannot."""
        return ("ln ohms", "ohms") if self.pull_up_ohm is None else ("ln ohms", "volts", "ohms")


@dataclass(frozen=True, slots=True, kw_only=True)
class InterpolationFinding:
    """What the displays say about the monitor.

    Attributes
    ----------
    line : dict
        Posterior probability of each line between rows; they sum to one.
    past_ends : dict
        The same for what it does beyond the ends; equal parts if no resistor was tried there.
    joint : dict
        Probability of each pair of the two.
    verdict : str
        One sentence.
    fits : bool
        Whether the likeliest pair explains every display.
    """

    line: dict[Line, float]
    past_ends: dict[Past, float]
    joint: dict[tuple[Line, Past], float]
    verdict: str
    fits: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class NextResistor:
    """The resistor to plug in next.

    Attributes
    ----------
    resistance_ohm : float
    information_bit : float
        Expected information about line and ends, bit.
    expected : dict
        Display that each pair of line and past-ends would give, in the table's `value_unit`; None for blank.
    """

    resistance_ohm: float
    information_bit: float
    expected: dict[tuple[Line, Past], float | None]


def shown_value(table: KeyedTable, resistance_ohm: ArrayLike, line: Line, past_ends: Past = "extends") -> FloatArray:
    """Value that a monitor shows for a resistance, before rounding; NaN where it is blank.

    Parameters
    ----------
    table : KeyedTable
    resistance_ohm : array_like
        Any shape.
    line : {'ln ohms', 'volts', 'ohms'}
        In what it draws the straight line between two rows.
    past_ends : {'holds', 'extends', 'blank'}

    Returns
    -------
    ndarray

    Raises
    ------
    TableError
        If a line in volts is asked and the pull-up is not known.

    References
    ----------
    Common practice, no source.

    Examples
    --------
    >>> table = KeyedTable(resistance_ohm=[721.0, 325.0], value=[50.0, 75.0], pull_up_ohm=1000.0)
    >>> [float(shown_value(table, 485.0, line).round(1)) for line in table.lines]
    [62.4, 63.3, 64.9]
    """
    ohm = np.asarray(resistance_ohm, dtype=float)
    if not (ohm > 0).all():
        raise InputError("a resistance must be above zero", do="leave shorts and open circuits out")
    rows, at = _axis(table, table.resistance_ohm, line), _axis(table, ohm, line)
    segment = np.clip(np.searchsorted(rows, at) - 1, 0, rows.size - 2)
    slope = np.diff(table.value) / np.diff(rows)
    value = table.value[segment] + slope[segment] * (at - rows[segment])
    beyond = (ohm < table.resistance_ohm[0]) | (ohm > table.resistance_ohm[-1])
    if past_ends == "holds":
        value = np.where(beyond, np.where(ohm < table.resistance_ohm[0], table.value[0], table.value[-1]), value)
    elif past_ends == "blank":
        value = np.where(beyond, np.nan, value)
    return np.asarray(value)


def find_interpolation(table: KeyedTable, plugged: list[Plugged] | tuple[Plugged, ...]) -> InterpolationFinding:
    """Odds of every way a monitor may read its table, from resistors and what it showed.

    Equal odds before the first resistor. A display has the chance that a resistor anywhere within its tolerance, plus
    the input's own error, rounds to it; one display in 10 000 is taken to be a slip.

    Parameters
    ----------
    table : KeyedTable
    plugged : sequence of Plugged
        In any number and order.

    Returns
    -------
    InterpolationFinding

    Raises
    ------
    InputError
        If nothing was plugged in, or the display was blank between the ends.

    References
    ----------
    Bayes' rule; common practice, no source.

    Examples
    --------
    >>> table = KeyedTable(resistance_ohm=[721.0, 325.0], value=[50.0, 75.0], pull_up_ohm=1000.0)
    >>> found = find_interpolation(table, [Plugged(resistance_ohm=485.0, shown=62.5)])
    >>> found.verdict
    'between rows a straight line in ln ohms; beyond the ends not tried'
    """
    if not plugged:
        raise InputError("no resistor was plugged in", do="plug one between two rows and write down what is shown")
    low, high = table.resistance_ohm[0], table.resistance_ohm[-1]
    pairs = [(line, past) for line in table.lines for past in PASTS]
    log = np.zeros(len(pairs))
    far = np.zeros(len(pairs))
    tried_in = tried_out = False
    for each in plugged:
        beyond = not low <= each.resistance_ohm <= high
        tried_in, tried_out = tried_in or not beyond, tried_out or beyond
        if each.shown is None and not beyond:
            raise InputError(
                f"blank with {each.resistance_ohm:g} ohm, which lies between the rows", do="look at plug and wiring"
            )
        for index, (line, past) in enumerate(pairs):
            chance, away = _chance(table, each, line, past)
            log[index] += np.log((1.0 - _SLIP) * chance + _SLIP)
            far[index] = max(far[index], away)
    odds = np.exp(log - log.max())
    odds /= odds.sum()
    joint = {pair: float(p) for pair, p in zip(pairs, odds, strict=True)}
    lines: dict[Line, float] = {line: sum(p for (a, _), p in joint.items() if a == line) for line in table.lines}
    pasts: dict[Past, float] = {past: sum(p for (_, b), p in joint.items() if b == past) for past in PASTS}
    fits = bool(far[int(np.argmax(odds))] <= _NONE_FITS)
    return InterpolationFinding(
        line=lines, past_ends=pasts, joint=joint, fits=fits,
        verdict=_verdict(lines, pasts, fits=fits, tried_in=tried_in, tried_out=tried_out),
    )  # fmt: skip


def next_resistor(
    table: KeyedTable,
    candidates_ohm: ArrayLike,
    finding: InterpolationFinding | None = None,
    *,
    tolerance_ratio: float = 0.001,
) -> NextResistor:
    """Resistor, of those at hand, whose display is expected to tell most about the monitor.

    Parameters
    ----------
    table : KeyedTable
    candidates_ohm : array_like, shape (m,)
        Those at hand; `sensorcal.physics.eseries.preferred_ohm` lists the preferred values.
    finding : InterpolationFinding, optional
        What is known so far; equal odds without.
    tolerance_ratio : float
        Of the resistors.

    Returns
    -------
    NextResistor

    Raises
    ------
    InputError
        If there is no candidate.

    References
    ----------
    Lindley 1956 (from memory): expected information of an experiment.

    Examples
    --------
    >>> table = KeyedTable(resistance_ohm=[721.0, 325.0], value=[50.0, 75.0], pull_up_ohm=1000.0)
    >>> best = next_resistor(table, [330.0, 470.0, 680.0])
    >>> best.resistance_ohm
    470.0
    """
    ohms = np.atleast_1d(np.asarray(candidates_ohm, dtype=float))
    if ohms.size == 0:
        raise InputError("there is no resistor to choose from", do="list those at hand")
    pairs = [(line, past) for line in table.lines for past in PASTS]
    prior = np.full(len(pairs), 1.0 / len(pairs))
    if finding is not None:
        prior = np.array([finding.joint[pair] for pair in pairs])
    gains = [_information(table, float(ohm), pairs, prior, tolerance_ratio) for ohm in ohms]
    best = float(ohms[int(np.argmax(gains))])
    expected: dict[tuple[Line, Past], float | None] = {}
    for line, past in pairs:
        value = float(shown_value(table, best, line, past))
        expected[line, past] = None if np.isnan(value) else round(value / table.step) * table.step
    return NextResistor(resistance_ohm=best, information_bit=float(max(gains)), expected=expected)


def _axis(table: KeyedTable, ohm: FloatArray, line: Line) -> FloatArray:
    if line == "ohms":
        return ohm
    if line == "ln ohms":
        return np.asarray(np.log(ohm))
    if table.pull_up_ohm is None:
        raise TableError("a line in volts needs the pull-up resistor", do="measure it and set pull_up_ohm")
    return np.asarray(ohm / (ohm + table.pull_up_ohm))


def _spread(resistance_ohm: float, tolerance_ratio: float) -> FloatArray:
    """Middles of equal parts of the tolerance: what a resistor may truly be."""
    parts = (2.0 * np.arange(_NODES) + 1.0) / _NODES - 1.0
    return np.asarray(resistance_ohm * (1.0 + tolerance_ratio * parts))


def _chance(table: KeyedTable, each: Plugged, line: Line, past: Past) -> tuple[float, float]:
    """Chance of a display, and how many standard deviations beyond its rounding it lies."""
    from scipy.special import ndtr

    value = shown_value(table, _spread(each.resistance_ohm, each.tolerance_ratio), line, past)
    blank = np.isnan(value)
    if each.shown is None:
        return float(blank.mean()), 0.0 if blank.any() else np.inf
    if blank.all():
        return 0.0, np.inf
    away = value[~blank] - each.shown
    half = 0.5 * table.step
    chance = ndtr((away + half) / table.u_shown) - ndtr((away - half) / table.u_shown)
    nearest = float(np.maximum(np.abs(away).min() - half, 0.0)) / table.u_shown
    return float(chance.sum() / value.size), nearest


def _information(
    table: KeyedTable, ohm: float, pairs: list[tuple[Line, Past]], prior: FloatArray, tolerance_ratio: float
) -> float:
    """Mutual information of line-and-ends and display, bit."""
    from scipy.special import ndtr

    values = np.array([shown_value(table, _spread(ohm, tolerance_ratio), line, past) for line, past in pairs])
    blank = np.isnan(values)
    finite = values[~blank]
    reach = 5.0 * table.u_shown + table.step
    first = np.floor((finite.min() - reach) / table.step) if finite.size else 0.0
    last = np.ceil((finite.max() + reach) / table.step) if finite.size else 0.0
    # A few hundred cells are enough to tell the pairs apart, however far a display may run.
    edges = (np.linspace(first, last, int(min(last - first, 4000.0)) + 1) - 0.5) * table.step
    below = ndtr((edges[:, None, None] - values) / table.u_shown)
    cells = np.diff(np.where(blank, 0.0, below), axis=0).mean(axis=2).T
    chance = np.column_stack([cells, blank.mean(axis=1)])
    mixed = prior @ chance
    return float(_entropy(mixed) - prior @ _entropy(chance))


def _entropy(chance: FloatArray) -> FloatArray:
    safe = np.where(chance > 0, chance, 1.0)
    return np.asarray(-(chance * np.log2(safe)).sum(axis=-1))


def _verdict(
    lines: dict[Line, float], pasts: dict[Past, float], *, fits: bool, tried_in: bool, tried_out: bool
) -> str:
    if not fits:
        return "none of these fits: check the keyed rows, the pull-up and the resistors"
    line = max(lines, key=lambda key: lines[key])
    past = max(pasts, key=lambda key: pasts[key])
    between = "between rows not tried"
    if tried_in:
        between = "between rows undecided"
        if lines[line] >= _DECIDED:
            between = f"between rows a straight line in {line}"
    beyond = "beyond the ends not tried"
    if tried_out:
        beyond = f"beyond the ends it {_PAST_WORDS[past]}" if pasts[past] >= _DECIDED else "beyond the ends undecided"
    return f"{between}; {beyond}"


_PAST_WORDS = {"holds": "holds the last row", "extends": "extends the line", "blank": "shows nothing"}
