"""Find a wrong reading among the points of a pressure sensor, size it, and name the slip that would explain it."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from sensorcal.bench.pressurepoints import nominal_groups
from sensorcal.bench.pressurewritten import Written
from sensorcal.calibration.pressureslips import (
    BEFORE,
    Side,
    Slip,
    SlipKind,
    joins_its_stop,
    kilopascals,
    sentence,
    slips,
    unnamed,
)
from sensorcal.measure.interval import chi_squared_limit
from sensorcal.measure.outliers import OutlierTest, outlier_test
from sensorcal.measure.straight import middle_line
from sensorcal.measure.terms import Term, split

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

# Sizes, in shares of the tested span, of what a sound sensor may do and no single reading is to blame for: bow,
# S-shape, loop, and a loop wider on one side. Wide, so that hardly anything of them is held against a reading.
_BOW, _S_SHAPE, _LOOP, _LOPSIDED = 0.01, 0.0025, 0.01, 0.001
_UNNAMED_SHARE = 0.02  # span of an error without a name, in shares of the tested span
_JOINS = math.log(100.0)  # weight of a slip that brings a row back among the others of its stop: an estimate
_AGREE = 0.001
_FEWEST_DOF = 3
_ASSUMED_DOF = 4.0  # readings that the assumed repeatability is worth: chosen so that false alarms stay near 1 %


@dataclass(frozen=True, slots=True, kw_only=True)
class PressureBlunder:
    """One explanation of readings that cannot all be right.

    Parameters
    ----------
    kind : str
        'decade', 'digits', 'digit', 'swapped', 'unit', or 'single' for an error without a name.
    points : tuple of int
        Index of each point concerned, from 0.
    side : {'gauge', 'output', 'supply', 'either'}
    size_pa : float
        Size of the error in Pa: gauge entered minus gauge that would fit.
    typed, likely, unit : str
        The suspected entry, its likely value, and its unit; empty where there is no single one.
    probability : float
        Among the explanations considered, given that something is wrong.
    sentence : str
        All of it in plain words.
    """

    kind: SlipKind
    points: tuple[int, ...]
    side: Side
    size_pa: float
    typed: str
    likely: str
    unit: str
    probability: float
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PressureScreening:
    """Verdict on the points of one sensor.

    Parameters
    ----------
    suspect : bool
        True where sound readings would look like this at most once in a hundred times.
    blunders : tuple of PressureBlunder
        Explanations, the likeliest first; where several readings are wrong at once, one for each of them.
    detectable_pa : tuple of float
        For each point the smallest error in Pa that would be found nine times in ten; infinite where none would.
    blind : str
        What these readings cannot show, in plain words.
    """

    suspect: bool
    blunders: tuple[PressureBlunder, ...]
    detectable_pa: tuple[float, ...]
    blind: str


@dataclass(frozen=True, slots=True)
class _Data:
    p: Floats
    r: Floats
    sign: Floats
    u: Floats
    shared: Floats
    slope: float
    low: float
    high: float

    def columns(self, ratio: Floats, offset: float) -> Floats:
        """Columns of the line, the sensor's shape and the shared terms, shape (..., n, k), all but the first in Pa."""
        shown = self.slope * ratio + offset
        x = np.clip((shown - self.low) / (self.high - self.low), 0.0, 1.0)
        span = self.high - self.low
        arch = 4.0 * x * (1.0 - x)
        s_shape = 10.392 * x * (1.0 - x) * (1.0 - 2.0 * x)
        own = [
            np.ones_like(x), (shown - 0.5 * (self.low + self.high)) / span,
            _BOW * span * arch, _S_SHAPE * span * s_shape,
            _LOOP * span * 0.5 * self.sign * arch, _LOPSIDED * span * 0.5 * self.sign * s_shape,
        ]  # fmt: skip
        shared = np.broadcast_to(self.shared.T, (*x.shape, self.shared.shape[0]))
        return np.concatenate([np.stack(own, axis=-1), shared], axis=-1)


def screen_pressure(
    pressure_pa: ArrayLike,
    ratio: ArrayLike,
    terms: tuple[Term, ...],
    *,
    direction: tuple[str, ...] = (),
    entries: tuple[tuple[Written, ...], ...] = (),
    labels: tuple[str, ...] = (),
    dof: float = math.inf,
    false_alarm: float = 0.01,
) -> PressureScreening:
    """Look for a wrong reading among the points of one pressure sensor.

    The sensor may be bent, S-shaped and have a loop of any ordinary size; the gauge may err alike everywhere and along
    its scale. What remains is held against single readings.

    Parameters
    ----------
    pressure_pa, ratio : array, shape (n,)
    terms : tuple of Term
        As for `fit_pressure`, with a repeatability that no wrong reading has blown up: see `sound_repeat`. A measured
        loop is not among them.
    direction : tuple of str
        'up', 'down' or '' for each point.
    entries : tuple of tuple of Written, optional
        The numbers of each point's rows as they were written down, in which slips are sought.
    labels : tuple of str, optional
        Names of the points for the sentences.
    dof : float
        Degrees of freedom of the points' own u; infinite where it is taken as known.
    false_alarm : float
        Probability that sound readings are suspected.

    Returns
    -------
    PressureScreening
        Nothing is dropped or changed: what to do is the user's decision.

    References
    ----------
    As for `sensorcal.measure.outliers.outlier_test`; weights and shares of the sensor's shape: common practice, no
    source.

    Examples
    --------
    >>> from sensorcal.measure.terms import term
    >>> p = np.array([0.0, 200e3, 400e3, 460e3, 800e3, 1000e3])
    >>> r = np.array([0.1, 0.26, 0.42, 0.612, 0.74, 0.9])
    >>> entries = tuple((Written(gauge=f"{v / 1000:g}", gauge_unit="kPa"),) for v in p)
    >>> found = screen_pressure(p, r, (term("repeat", 1000.0, 6, common=False),), entries=entries)
    >>> found.blunders[0].kind, found.blunders[0].typed, found.blunders[0].likely
    ('digits', '460', '640')
    """
    p, r = np.asarray(pressure_pa, dtype=np.float64), np.asarray(ratio, dtype=np.float64)
    n = p.size
    names = labels or tuple(f"point {i + 1}" for i in range(n))
    if n < 3:
        return PressureScreening(
            suspect=False,
            blunders=(),
            detectable_pa=(math.inf,) * n,
            blind=f"{n} points: nothing can be detected, a wrong reading leaves no trace",
        )
    data, offset = _data(p, r, terms, direction or ("",) * n)
    test = _test(data, offset, np.arange(n), false_alarm, dof)
    suspect = bool(np.any(np.abs(test.statistic) > test.limit))
    found: tuple[PressureBlunder, ...] = ()
    if suspect:
        found = _explained(data, offset, test, entries or ((),) * n, names)
        if not found and _only_shape(data, offset):
            suspect = False
        elif not found:
            found = _several(data, offset, names, false_alarm, dof)
    return PressureScreening(
        suspect=suspect,
        blunders=found,
        detectable_pa=tuple(float(v) for v in test.detectable),
        blind=_blind(test, names),
    )


def _data(p: Floats, r: Floats, terms: tuple[Term, ...], direction: tuple[str, ...]) -> tuple[_Data, float]:
    """Put the points on the sensor's own axis, by a line through the middle of all pairs that no one point bends."""
    slope, offset = _line(p, r)
    shown = slope * r + offset
    # An end of the range is where gauge and sensor both are: one of them alone may be the slip.
    low, high = float(np.maximum(p, shown).min()), float(np.minimum(p, shown).max())
    if not high > low:
        low, high = float(min(p.min(), shown.min())), float(max(p.max(), shown.max()))
    u, shared, _ = split(terms, np.full(p.size, slope))
    sign = np.array([{"up": -1.0, "down": 1.0}.get(way, 0.0) for way in direction])
    return _Data(p, r, sign, u, shared, slope, low, high), offset


def _line(p: Floats, r: Floats) -> tuple[float, float]:
    """Slope and offset of pressure against ratio that no one point bends; the mean one where that does not rise."""
    slope, offset = middle_line(r, p) if np.ptp(r) > 0.0 else (0.0, 0.0)
    if slope > 0.0:
        return slope, offset
    slope = float(np.ptp(p) / max(np.ptp(r), 1e-9))
    return slope, float(np.median(p - slope * r))


def _test(data: _Data, offset: float, kept: NDArray[np.intp], false_alarm: float, dof: float) -> OutlierTest:
    """Test the kept points; few degrees of freedom widen the limit as Student's t widens the normal."""
    columns = data.columns(data.r, offset)[kept]
    design, shapes = columns[:, :2], columns[:, 2:]
    variance = np.diag(data.u[kept] ** 2) + shapes @ shapes.T
    solved = np.linalg.solve(variance, np.column_stack([design, data.p[kept]]))
    fitted = np.linalg.solve(design.T @ solved[:, :2], design.T @ solved[:, 2])
    test = outlier_test(design, data.p[kept] - design @ fitted, variance, false_alarm=false_alarm)
    if math.isinf(dof) or math.isinf(test.limit):
        return test
    from scipy.special import ndtr, stdtrit

    return replace(test, limit=-float(stdtrit(dof, float(ndtr(-test.limit)))))


def _chi_squared(columns: Floats, p: Floats, u: Floats) -> Floats:
    """Chi-squared of each variant, its shapes and shared terms held by their own sizes, shape (h,)."""
    weight = 1.0 / (u * u)
    prior = np.diag(np.concatenate([np.zeros(2), np.ones(columns.shape[-1] - 2)]))
    weighted = columns * weight[:, None]
    normal = np.swapaxes(columns, -1, -2) @ weighted + prior
    # A slip undone may leave all outputs alike: a trifle on the diagonal keeps that variant solvable.
    diagonal = np.einsum("...kk->...k", normal)
    diagonal *= 1.0 + 1e-10
    diagonal += 1e-12 * diagonal.max(axis=-1, keepdims=True)
    right = np.einsum("hnk,hn->hk", weighted, p)
    solved = np.linalg.solve(normal, right[..., None])[..., 0]
    left = p - np.einsum("hnk,hk->hn", columns, solved)
    return np.asarray((left * left * weight).sum(axis=-1) + (solved[:, 2:] ** 2).sum(axis=-1))


def _agreement(data: _Data, offset: float) -> float:
    """What chi-squared of sound readings stays below, 999 times in 1000, with the dof that the shapes leave."""
    columns = data.columns(data.r, offset)
    weighted = columns / data.u[:, None]
    prior = np.diag(np.concatenate([np.zeros(2), np.ones(columns.shape[1] - 2)]))
    normal = weighted.T @ weighted
    taken = float(np.trace(np.linalg.solve(normal + prior, normal)))
    return chi_squared_limit(max(round(data.p.size - taken), 1), _AGREE)


def _explained(
    data: _Data, offset: float, test: OutlierTest, entries: tuple[tuple[Written, ...], ...], names: tuple[str, ...]
) -> tuple[PressureBlunder, ...]:
    """Undo each slip; keep those that let the readings agree, ranked by how well they then do."""
    n = data.p.size
    limit = _agreement(data, offset)
    least = float(data.u.min())
    tried: list[tuple[Slip, float]] = []
    for slip in slips(data.p, data.r, entries):
        size = _size(slip, data)
        if abs(size) >= least and 0.0 < slip.ratio < 1.0:
            tried.append((slip, size))
    ranked: list[tuple[float, PressureBlunder]] = []
    count = Counter(slip.kind for slip, _ in tried)
    if tried:
        pp, rr = np.tile(data.p, (len(tried), 1)), np.tile(data.r, (len(tried), 1))
        for h, (slip, _) in enumerate(tried):
            i = slip.points[0]
            pp[h, i], rr[h, i] = slip.pressure_pa, slip.ratio
            if slip.kind == "swapped":
                rr[h, slip.points[1]] = data.r[i]
        chi_squared = _chi_squared(data.columns(rr, offset), pp, data.u)
        for (slip, size), value in zip(tried, chi_squared.tolist(), strict=True):
            if value <= limit:
                score = -0.5 * value + math.log(BEFORE[slip.kind] / max(count[slip.kind], n))
                score += _JOINS if joins_its_stop(slip, entries[slip.points[0]]) else 0.0
                ranked.append((score, _named(slip, size, names)))
    base = float(_chi_squared(data.columns(data.r, offset)[None], data.p[None], data.u)[0])
    span = _UNNAMED_SHARE * (data.high - data.low)
    for i in range(n):
        # Setting one observation aside takes the square of its statistic off chi-squared.
        value, size, u_size = base - float(test.statistic[i]) ** 2, float(test.size[i]), float(test.u_size[i])
        if value <= limit and math.isfinite(u_size) and abs(size) >= least:
            score = -0.5 * value + math.log(BEFORE["single"] / n)
            score += math.log(min(1.0, u_size / span)) if abs(size) < 4.0 * span else math.log(1e-3)
            ranked.append((score, _alone(i, size, names)))
    ranked.sort(key=lambda pair: -pair[0])
    odds = [math.exp(score - ranked[0][0]) for score, _ in ranked]
    whole = sum(odds)
    kept = [(odd / whole, one) for odd, (_, one) in zip(odds, ranked, strict=True)]
    return tuple(replace(one, probability=share) for k, (share, one) in enumerate(kept[:5]) if share >= 0.02 or k == 0)


def _size(slip: Slip, data: _Data) -> float:
    """Gauge entered minus gauge that would fit, Pa, of the point concerned."""
    i = slip.points[0]
    if slip.side == "gauge":
        return float(data.p[i] - slip.pressure_pa)
    return float((slip.ratio - data.r[i]) * data.slope)


def _named(slip: Slip, size_pa: float, names: tuple[str, ...]) -> PressureBlunder:
    return PressureBlunder(
        kind=slip.kind,
        points=slip.points,
        side=slip.side,
        size_pa=size_pa,
        typed=slip.typed,
        likely=slip.likely,
        unit=slip.unit,
        probability=0.0,
        sentence=sentence(slip, size_pa, names),
    )


def _alone(i: int, size_pa: float, names: tuple[str, ...]) -> PressureBlunder:
    return PressureBlunder(
        kind="single",
        points=(i,),
        side="either",
        size_pa=size_pa,
        typed="",
        likely="",
        unit="",
        probability=0.0,
        sentence=unnamed(i, size_pa, names),
    )


def _only_shape(data: _Data, offset: float) -> bool:
    """Whether free heights at the tested pressures explain everything: then it is the sensor's form, no reading."""
    groups = nominal_groups(data.p.tolist())
    if any(len(group) < 2 for group in groups):
        return False
    place = np.zeros((data.p.size, len(groups)))
    for k, group in enumerate(groups):
        place[group, k] = 1.0
    columns = data.columns(data.r, offset)
    off = data.p - (data.slope * data.r + offset)
    design = np.concatenate([place, columns[:, 4:]], axis=1) / data.u[:, None]
    held = np.concatenate([np.zeros(len(groups)), np.ones(columns.shape[1] - 4)])
    solved = np.linalg.lstsq(np.vstack([design, np.diag(held)]), np.append(off / data.u, 0.0 * held), rcond=None)[0]
    left = off / data.u - design @ solved
    value = float(left @ left + ((held * solved) ** 2).sum())
    return value <= chi_squared_limit(max(data.p.size - len(groups), 1), _AGREE)


def _several(
    data: _Data, offset: float, names: tuple[str, ...], false_alarm: float, dof: float
) -> tuple[PressureBlunder, ...]:
    """Set the worst reading aside until the others agree; at most a third of them."""
    kept = np.arange(data.p.size)
    found: list[PressureBlunder] = []
    while len(found) < max(data.p.size // 3, 1):
        test = _test(data, offset, kept, false_alarm, dof)
        worst = int(np.argmax(np.abs(test.statistic)))
        if not abs(test.statistic[worst]) > test.limit:
            break
        found.append(replace(_alone(int(kept[worst]), float(test.size[worst]), names), probability=1.0))
        kept = np.delete(kept, worst)
    return tuple(found)


def _blind(test: OutlierTest, names: tuple[str, ...]) -> str:
    """Say what no check on these readings can see."""
    sizes = [float(v) for v in test.detectable if math.isfinite(v)]
    if not sizes:
        return f"{len(names)} points: nothing can be detected, a wrong reading leaves no trace"
    unseen = [name for name, v in zip(names, test.detectable, strict=True) if not math.isfinite(v)]
    text = f"one wrong point is found nine times in ten from {kilopascals(min(sizes))} on where it is seen best, from "
    text += f"{kilopascals(max(sizes))} on where worst"
    if unseen:
        text += "; never at " + ", ".join(unseen)
    return text + "; an error shared by all points (the gauge's level, the meter) never shows"


def sound_repeat(
    p: Floats, r: Floats, direction: tuple[str, ...], *, beside_pa: float, otherwise_pa: float
) -> tuple[float, float]:
    """Repeatability from repeated readings with the worst of them left out, so that a wrong one does not hide itself.

    Parameters
    ----------
    p, r : array, shape (n,)
    direction : tuple of str
    beside_pa : float
        Standard uncertainty of reading gauge and voltmeter, Pa, which the scatter holds too.
    otherwise_pa : float
        Assumed: taken where fewer than four readings were repeated, else worth four readings beside them.

    Returns
    -------
    u_pa, dof : float
        Standard uncertainty of a reading's repeatability, Pa, and the degrees of freedom of all that is a reading's
        own; infinite where nothing was estimated.
    """
    slope, _ = _line(p, r)
    shows = slope * r - p
    ways = np.array(direction)
    squares: list[float] = []
    counts: list[int] = []
    for group in nominal_groups(p.tolist()):
        index = np.array(group)
        for way in ("up", "down", ""):
            same = shows[index[ways[index] == way]]
            if same.size > 1:
                squares.append(float(np.square(same - same.mean()).sum()))
                counts.append(same.size - 1)
    if sum(counts) - max(counts, default=0) < _FEWEST_DOF:
        return otherwise_pa, math.inf
    worst = int(np.argmax(squares))
    share, dof = _trimmed(tuple(counts))
    scatter2 = (sum(squares) - squares[worst]) / sum(counts) / share
    # Scatter that happens to be small is no small repeatability: the assumed one weighs as much as a few readings.
    whole = dof + _ASSUMED_DOF
    own2 = (dof * max(scatter2 - beside_pa**2, 0.0) + _ASSUMED_DOF * otherwise_pa**2) / whole
    return math.sqrt(own2), math.inf if own2 == 0.0 else whole * ((own2 + beside_pa**2) / own2) ** 2


@lru_cache(maxsize=64)
def _trimmed(counts: tuple[int, ...]) -> tuple[float, float]:
    """Mean and degrees of freedom of what is left of sound scatter when its largest group is taken away."""
    generator = np.random.default_rng(20_260_516)
    drawn = generator.chisquare(np.array(counts, dtype=np.float64), (20_000, len(counts)))
    left = (drawn.sum(axis=1) - drawn.max(axis=1)) / sum(counts)
    mean = float(left.mean())
    return mean, 2.0 * mean**2 / float(left.var())
