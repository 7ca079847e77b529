"""Two intervals for zero, span and readings of a pressure sensor: the guides' k = 2, and Monte Carlo's shortest."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sensorcal.calibration.pressurecal import BODY, PressureCalibration, UseTerm
from sensorcal.errors import InputError
from sensorcal.measure.inputs import standard_draws
from sensorcal.measure.interval import COVERAGE
from sensorcal.measure.montecarlo import shortest_interval

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from sensorcal.measure.terms import Term

    Floats = NDArray[np.float64]

SHARES = (0.2, 0.5, 0.8)
_BLOCK = 20_000


@dataclass(frozen=True, slots=True, kw_only=True)
class PressureInterval:
    """What may be said of one quantity of a pressure sensor in use.

    Parameters
    ----------
    name : str
        'zero', 'span' or 'reading at 50 %'.
    value_pa : float
        Pressure to which it belongs: the zero's, the span, or the reading's.
    u_pa : float
        Standard uncertainty by the first-order law.
    expanded_pa : float
        U = k u.
    k : float
        The guides' 2, or more where u rests on few readings.
    low_pa, high_pa : float
        Shortest interval by Monte Carlo, as errors to be added to the value.
    u_drawn_pa : float
        Standard deviation of the draws.
    """

    name: str
    value_pa: float
    u_pa: float
    expanded_pa: float
    k: float
    low_pa: float
    high_pa: float
    u_drawn_pa: float

    @property
    def half_width_pa(self) -> float:
        """Half the width of the Monte Carlo interval."""
        return 0.5 * (self.high_pa - self.low_pa)


def pressure_intervals(
    calibration: PressureCalibration,
    *,
    shares: tuple[float, ...] = SHARES,
    draws: int = 100_000,
    seed: int = 0,
    hot_body: bool = True,
    probability: float = COVERAGE,
) -> tuple[PressureInterval, ...]:
    """Give both intervals for the zero, the span and readings at shares of the range.

    Both come from one description of the errors: the terms of the bench carried through the fit, and the terms of the
    sensor in use. 'Zero' is what a reading at the lower end of the range is off, 'span' what two readings of one
    session at both ends differ from the true difference.

    Parameters
    ----------
    calibration : PressureCalibration
    shares : tuple of float
        Of the range, for the readings.
    draws : int
        Monte Carlo trials, a thousand or more.
    seed : int
    hot_body : bool
        False leaves the body's temperature out.
    probability : float
        Of the Monte Carlo interval.

    Returns
    -------
    tuple of PressureInterval

    Raises
    ------
    InputError
        Fewer than a thousand draws, or a share outside 0 to 1.

    References
    ----------
    EURAMET Calibration Guide No. 17 and EA-4/02 for k = 2 (from memory); JCGM 101:2008, clause 7, for the draws and the
    shortest interval.

    Examples
    --------
    >>> from sensorcal.calibration.pressure import fit_pressure
    >>> from sensorcal.measure.terms import term
    >>> p = np.array([0.0, 250e3, 500e3, 750e3, 1000e3])
    >>> gauge = term("reference:G1", 2887.0, 5, common=True, shape="rectangular")
    >>> cal = fit_pressure(p, 0.1 + 0.8e-6 * p, (gauge, term("repeat", 10.0, 5, common=False)))
    >>> half = pressure_intervals(cal, seed=1)[3]
    >>> half.name, round(half.expanded_pa, -2), round(half.half_width_pa, -2)
    ('reading at 50 %', 5800.0, 4700.0)
    """
    if draws < 1000:
        raise InputError(f"{draws} draws say little", do="ask for a thousand or more")
    if any(not 0.0 <= share <= 1.0 for share in shares):
        raise InputError(f"shares {shares} leave the range", do="give shares between 0 and 1")
    low, high = calibration.low_pa, calibration.high_pa
    at = np.array([low, high, *(low + share * (high - low) for share in shares)])
    use = tuple(one for one in calibration.use if hot_body or not one.identifier.startswith(BODY))
    rows = calibration.curve.design(calibration.ratio(at))
    covariance = rows @ calibration.covariance @ rows.T
    for one in use:
        u = one.at(at)
        covariance = covariance + (np.diag(u * u) if one.each_reading else np.outer(u, u))
    # Row by row: zero, span, readings.
    pick = np.eye(at.size)
    pick[1, 0] = -1.0
    sizes = np.sqrt(np.diag(pick @ covariance @ pick.T))
    errors = _draw(calibration, use, at, rows, draws, seed) @ pick.T
    names = ["zero", "span", *(f"reading at {100 * share:.0f} %" for share in shares)]
    values = [low, high - low, *at[2:].tolist()]
    found = []
    for i, name in enumerate(names):
        ends = shortest_interval(errors[:, i], probability)
        found.append(
            PressureInterval(
                name=name,
                value_pa=values[i],
                u_pa=float(sizes[i]),
                expanded_pa=float(calibration.k * sizes[i]),
                k=calibration.k,
                low_pa=ends[0],
                high_pa=ends[1],
                u_drawn_pa=float(errors[:, i].std()),
            )
        )
    return tuple(found)


def _draw(
    calibration: PressureCalibration, use: tuple[UseTerm, ...], at: Floats, rows: Floats, draws: int, seed: int
) -> Floats:
    """Draw the error at each pressure, shape (draws, pressures)."""
    generator = np.random.default_rng(seed)
    through = rows @ calibration.gain
    blocks = []
    for start in range(0, draws, _BLOCK):
        n = min(_BLOCK, draws - start)
        widths: dict[str, Floats] = {}
        fit = np.zeros((n, at.size))
        for one in calibration.terms:
            fit += _of_term(one, through, n, generator, widths)
        error = fit * calibration.inflation
        for used in use:
            size = (n, at.size) if used.each_reading else (n, 1)
            z = standard_draws(used.shape, size, generator)
            error += z * used.at(at) * _width(used.identifier, used.dof, n, generator, widths)
        blocks.append(error)
    return np.concatenate(blocks)


def _of_term(one: Term, through: Floats, n: int, generator: np.random.Generator, widths: dict[str, Floats]) -> Floats:
    """Draw what one term of the bench does to the curve at each pressure."""
    width = _width(one.identifier, one.dof, n, generator, widths)
    if one.common:
        z = standard_draws(one.shape, (n, 1), generator)
        return np.asarray(z * (through @ one.u) * width, dtype=np.float64)
    z = standard_draws(one.shape, (n, one.u.size), generator)
    return np.asarray((z @ (through * one.u).T) * width, dtype=np.float64)


def _width(identifier: str, dof: float, n: int, generator: np.random.Generator, widths: dict[str, Floats]) -> Floats:
    """How much wider the true spread may be than one estimated from few readings; the same for all its readings."""
    if math.isinf(dof):
        return np.ones((1, 1))
    if identifier not in widths:
        widths[identifier] = np.sqrt(dof / generator.chisquare(dof, (n, 1)))
    return widths[identifier]
