"""Find a wrong reading among the points, size it, and name the slip that would explain it."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Literal, Protocol

import numpy as np

from sensorcal.calibration.agreement import chi_squared_of_variants
from sensorcal.calibration.calibration import Calibration, CurvaturePrior, Model, u_statistical_at_c
from sensorcal.calibration.thermistor import TYPICAL, fit_thermistor
from sensorcal.errors import CurveError, FitError
from sensorcal.measure.interval import chi_squared_limit
from sensorcal.measure.outliers import OutlierTest, outlier_test
from sensorcal.measure.terms import Term, split, term
from sensorcal.physics.curves import KELVIN_AT_0_C, basis

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]


class _Refit(Protocol):
    def __call__(self, tt: Floats, rr: Floats, aside: int | None = None) -> Calibration | None: ...


Kind = Literal["decade", "digits", "swapped", "fahrenheit", "wrong-bath", "single"]

# Weights of the explanations before the data speak (common practice, no source), and the span of an error with no
# name: it makes a named slip that fits win over 'some other error', and lose where it does not fit.
_BEFORE: dict[Kind, float] = {
    "decade": 0.2,
    "digits": 0.25,
    "swapped": 0.15,
    "fahrenheit": 0.1,
    "wrong-bath": 0.1,
    "single": 0.2,
}
_UNNAMED_SPAN_K = 5.0
_ASIDE_K = 1e4


@dataclass(frozen=True, slots=True, kw_only=True)
class Blunder:
    """One explanation of readings that cannot all be right.

    Parameters
    ----------
    kind : str
        'decade', 'digits', 'swapped', 'fahrenheit', 'wrong-bath', or 'single' for an error without a name.
    points : tuple of int
        Index of each point concerned, from 0.
    side : {'temperature', 'resistance', 'either'}
        Which of the two entries is suspected.
    size_c : float
        Size of the error in °C, entered minus likely, seen on the temperature axis.
    typed, likely : float
        The suspected entry and its likely value, in °C or ohm (nan where there is no single one).
    probability : float
        Among the explanations considered, given that something is wrong.
    sentence : str
        All of it in plain words.
    """

    kind: Kind
    points: tuple[int, ...]
    side: Literal["temperature", "resistance", "either"]
    size_c: float
    typed: float
    likely: float
    probability: float
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Screening:
    """Verdict on a set of points.

    Parameters
    ----------
    suspect : bool
        True where sound data would look like this at most once in a hundred times.
    blunders : tuple of Blunder
        Explanations, the likeliest first; empty unless suspect.
    detectable_c : tuple of float
        For each point the smallest error in °C that would be found nine times in ten; infinite where none would.
    blind : str
        What these data cannot show, in plain words.
    """

    suspect: bool
    blunders: tuple[Blunder, ...]
    detectable_c: tuple[float, ...]
    blind: str


@dataclass(frozen=True, slots=True)
class _Slip:
    kind: Kind
    points: tuple[int, ...]
    side: Literal["temperature", "resistance", "either"]
    t: Floats
    r: Floats
    typed: float
    likely: float


def screen(
    temperature_c: ArrayLike,
    resistance_ohm: ArrayLike,
    terms: tuple[Term, ...],
    *,
    model: Model = "steinhart-hart",
    prior: CurvaturePrior | None = TYPICAL,
    labels: tuple[str, ...] = (),
    fixed: Sequence[bool] = (),
    entered_c: Sequence[float] = (),
    entered_ohm: Sequence[float] = (),
    correct_ohm: Callable[[float], float] | None = None,
    false_alarm: float = 0.01,
) -> Screening:
    """Look for a wrong reading among the points of one probe.

    Parameters
    ----------
    temperature_c, resistance_ohm : array, shape (n,)
    terms : tuple of Term
        As for `fit_thermistor`.
    labels : tuple of str, optional
        Names of the points for the sentences.
    fixed : sequence of bool, optional
        True for points whose temperature was not typed (ice, steam): no slip of digits is sought there.
    entered_c, entered_ohm : sequence of float, optional
        The numbers as they were written down, where corrections changed them: slips of digits are sought in these.
        Not a number where a point has no single written one.
    correct_ohm : callable, optional
        Corrected resistance for one as read, so that a slip is undone before the meter's correction is made.
    false_alarm : float
        Probability that sound readings are suspected.

    Returns
    -------
    Screening
        Nothing is dropped or changed: what to do is the user's decision.
    """
    t = np.asarray(temperature_c, dtype=np.float64)
    r = np.asarray(resistance_ohm, dtype=np.float64)
    n = t.size
    names = labels or tuple(f"point {i + 1}" for i in range(n))
    given = tuple(fixed) or (False,) * n
    written_c = np.asarray(entered_c, dtype=np.float64) if len(entered_c) else t
    written_ohm = np.asarray(entered_ohm, dtype=np.float64) if len(entered_ohm) else r
    as_read = correct_ohm or (lambda read: read)

    def explained() -> tuple[Blunder, ...]:
        slips = tuple(_slips(t, r, given, written_c, written_ohm, as_read))
        return _explain(t, r, _agreeing(slips, terms, model, prior), names, refit)

    def refit(tt: Floats, rr: Floats, aside: int | None = None) -> Calibration | None:
        # A point set aside keeps its place but no weight.
        apart = np.where(np.arange(n) == aside, _ASIDE_K, 0.0)
        extra = () if aside is None else (term("aside", apart, n, common=False),)
        try:
            return fit_thermistor(tt, rr, terms + extra, model=model, prior=prior)
        except FitError:
            return None

    base = refit(t, r)
    if base is None:
        return Screening(
            suspect=True,
            blunders=explained(),
            detectable_c=(math.inf,) * n,
            blind="no curve fits these readings as they stand",
        )
    test = _test(base, terms, false_alarm)
    suspect = bool(np.any(np.abs(test.statistic) > test.limit))
    return Screening(
        suspect=suspect,
        blunders=explained() if suspect else (),
        detectable_c=tuple(float(v) for v in test.detectable),
        blind=_blind(test, names, prior is not None and model == "steinhart-hart"),
    )


def _test(calibration: Calibration, terms: tuple[Term, ...], false_alarm: float) -> OutlierTest:
    points = calibration.points
    t, r = points.temperature_c, points.resistance_ohm
    curve = calibration.curve
    u, common, _ = split(terms, curve.slope_k_per_ln(r))
    n, p = t.size, calibration.root.shape[0]
    kelvin = t + KELVIN_AT_0_C
    design = basis(curve.x(r), curve.centre, curve.scale)[:, :p] * -(kelvin * kelvin)[:, None]
    variance = np.diag(u * u) + common.T @ common
    residual = -points.residual_c
    if calibration.prior is not None:
        prior = calibration.prior.prior
        # The prior's row, in units of its own standard uncertainty: p2 - kappa g p1 = 0.
        g = curve.scale**2 / (6.0 * curve.centre)
        unit = prior.u_kappa * g * curve.p1
        row = np.array([[0.0, -prior.kappa * g, 1.0]]) / unit
        design = np.vstack([design, row])
        left = (curve.p2 - prior.kappa * g * curve.p1) / unit
        residual = np.append(residual, -left)
        variance = np.pad(variance, (0, 1))
        variance[n, n] = 1.0
    return outlier_test(design, residual, variance, testable=n, false_alarm=false_alarm)


def _agreeing(
    slips: tuple[_Slip, ...], terms: tuple[Term, ...], model: Model, prior: CurvaturePrior | None
) -> tuple[tuple[_Slip, int], ...]:
    """Slips that, undone, let the readings agree; each with the number of slips of its kind that were tried."""
    if not slips:
        return ()
    count = Counter(slip.kind for slip in slips)
    chi_squared = chi_squared_of_variants(
        np.array([slip.t for slip in slips]), np.array([slip.r for slip in slips]), terms, model=model, prior=prior
    )
    p = 3 if model == "steinhart-hart" else 2
    dof = len(slips[0].t) - p + (prior is not None and p == 3)
    agree = chi_squared <= chi_squared_limit(max(dof, 1), 0.001)
    return tuple((slip, count[slip.kind]) for slip, ok in zip(slips, agree.tolist(), strict=True) if ok)


def _explain(
    t: Floats,
    r: Floats,
    agreeing: tuple[tuple[_Slip, int], ...],
    names: tuple[str, ...],
    refit: _Refit,
) -> tuple[Blunder, ...]:
    """Undo each slip that would let the readings agree, refit, and rank by how well they then do."""
    ranked: list[tuple[float, Blunder]] = []
    for slip, tried in agreeing:
        mended = refit(slip.t, slip.r)
        if mended is None:
            continue
        size = _size_c(slip, t, r, mended)
        if abs(size) < float(np.min(mended.points.u_c[list(slip.points)])):
            continue  # a slip too small to matter explains nothing
        score = -0.5 * mended.chi_squared + math.log(_BEFORE[slip.kind] / max(tried, len(t)))
        ranked.append((score, _named(slip, size, names)))
    for i in range(len(t)):
        without = refit(t, r, i)
        if without is None:
            continue
        try:
            size = float(t[i] - without.temperature_c(r[i]))
            u_size = math.hypot(float(without.points.u_c.min()), float(u_statistical_at_c(without, r[i])))
        except CurveError:
            continue  # the other points make a curve that never passes here
        if abs(size) < float(without.points.u_c.min()):
            continue
        score = -0.5 * without.chi_squared + math.log(_BEFORE["single"] / len(t))
        score += math.log(min(1.0, u_size / _UNNAMED_SPAN_K)) if abs(size) < 4.0 * _UNNAMED_SPAN_K else math.log(1e-3)
        ranked.append((score, _unnamed(i, size, t[i], names)))
    if not ranked:
        return ()
    ranked.sort(key=lambda pair: -pair[0])
    best = ranked[0][0]
    odds = [math.exp(score - best) for score, _ in ranked]
    whole = sum(odds)
    out: list[Blunder] = []
    for odd, (_, blunder) in zip(odds, ranked, strict=True):
        if odd / whole < 0.02 and out:
            break
        out.append(_with_probability(blunder, odd / whole))
    return tuple(out[:5])


def _slips(
    t: Floats,
    r: Floats,
    given: tuple[bool, ...],
    written_c: Floats,
    written_ohm: Floats,
    corrected: Callable[[float], float],
) -> Iterator[_Slip]:
    """Every named slip, undone: the readings as they would stand without it."""
    n = t.size

    def changed(values: Floats, index: Sequence[int], to: ArrayLike) -> Floats:
        out = values.copy()
        out[list(index)] = to
        return out

    # One reading stands as written; of several, the mean is taken back through the correction, which is a straight
    # line.
    offset, gain = corrected(0.0), corrected(1.0) - corrected(0.0)
    read = [float(w) if math.isfinite(w) else float((v - offset) / gain) for w, v in zip(written_ohm, r, strict=True)]
    for i in range(n):
        for factor in (10.0, 0.1, 1000.0, 0.001):
            mended = corrected(read[i] * factor)
            if mended > 0.0:
                yield _Slip("decade", (i,), "resistance", t, changed(r, (i,), mended), read[i], read[i] * factor)
        for value in transpositions(float(written_ohm[i])):
            mended = corrected(value)
            yield _Slip("digits", (i,), "resistance", t, changed(r, (i,), mended), float(written_ohm[i]), value)
        if not given[i]:
            for value in transpositions(float(written_c[i])):
                mended = float(t[i]) + value - float(written_c[i])
                yield _Slip("digits", (i,), "temperature", changed(t, (i,), mended), r, float(written_c[i]), value)
            celsius = float((t[i] - 32.0) / 1.8)
            yield _Slip("fahrenheit", (i,), "temperature", changed(t, (i,), celsius), r, float(t[i]), celsius)
        for j in range(n):
            if j != i and t[i] != t[j]:
                yield _Slip("wrong-bath", (i,), "temperature", changed(t, (i,), t[j]), r, float(t[i]), float(t[j]))
        for j in range(i + 1, n):
            if r[i] != r[j]:
                swapped = changed(r, (i, j), (r[j], r[i]))
                yield _Slip("swapped", (i, j), "resistance", t, swapped, math.nan, math.nan)
    typed = [i for i in range(n) if not given[i]]
    if len(typed) > 1:
        celsius_all = changed(t, typed, (t[typed] - 32.0) / 1.8)
        yield _Slip("fahrenheit", tuple(typed), "temperature", celsius_all, r, math.nan, math.nan)


def transpositions(value: float) -> Iterator[float]:
    """Values that become this one when two neighbouring digits change places."""
    text = f"{value:.10g}"
    if "e" in text or not math.isfinite(value):
        return
    at = [i for i, character in enumerate(text) if character.isdigit()]
    seen = {value}
    for a, b in pairwise(at):
        letters = list(text)
        letters[a], letters[b] = letters[b], letters[a]
        other = float("".join(letters))
        if other not in seen and (letters[at[0]] != "0" or value < 1.0):
            seen.add(other)
            yield other


def _size_c(slip: _Slip, t: Floats, r: Floats, mended: Calibration) -> float:
    """Entered minus likely, on the temperature axis, of the point with the larger change."""
    i = max(slip.points, key=lambda k: abs(math.log(r[k] / slip.r[k])) + abs(t[k] - slip.t[k]))
    if slip.side == "temperature":
        return float(t[i] - slip.t[i])
    try:
        return float(mended.temperature_c(r[i]) - mended.temperature_c(slip.r[i]))
    except CurveError:
        return math.inf


def _named(slip: _Slip, size_c: float, names: tuple[str, ...]) -> Blunder:
    where = " and ".join(names[i] for i in slip.points)
    unit = "°C" if slip.side == "temperature" else "ohm"
    words = {
        "decade": f"{where}: {slip.typed:.6g} {unit} looks like a slip of the decimal point, likely {slip.likely:.6g}",
        "digits": f"{where}: {slip.typed:.6g} {unit} has two digits transposed, likely {slip.likely:.6g}",
        "swapped": f"{where}: the two resistances look swapped",
        "fahrenheit": (
            f"{where}: {slip.typed:.6g} °C looks like °F, likely {slip.likely:.4g} °C"
            if len(slip.points) == 1
            else f"{where}: the temperatures look like °F"
        ),
        "wrong-bath": f"{where}: read in another bath than entered, likely the one at {slip.likely:.4g} °C",
        "single": "",
    }[slip.kind]
    return Blunder(
        kind=slip.kind,
        points=slip.points,
        side=slip.side,
        size_c=size_c,
        typed=slip.typed,
        likely=slip.likely,
        probability=0.0,
        sentence=f"{words} (worth {degrees(size_c)})",
    )


def _unnamed(i: int, size_c: float, entered_c: float, names: tuple[str, ...]) -> Blunder:
    return Blunder(
        kind="single",
        points=(i,),
        side="either",
        size_c=size_c,
        typed=float(entered_c),
        likely=float(entered_c - size_c),
        probability=0.0,
        sentence=(
            f"{names[i]}: stands {degrees(size_c)} too {'high' if size_c > 0 else 'low'} against the other points; "
            "no slip of the pen explains it (bath, immersion, contact?)"
        ),
    )


def degrees(size_c: float) -> str:
    """Write the size of an error in °C to two digits, without a power of ten."""
    return f"{abs(size_c):.0f} °C" if abs(size_c) >= 10.0 else f"{abs(size_c):.2g} °C"


def _with_probability(blunder: Blunder, probability: float) -> Blunder:
    from dataclasses import replace

    return replace(blunder, probability=probability)


def _blind(test: OutlierTest, names: tuple[str, ...], prior: bool) -> str:
    """Say what no check on these data can see."""
    limits = test.detectable
    if not np.any(np.isfinite(limits)):
        tail = "" if prior else ", no prior"
        return f"{len(names)} points{tail}: nothing can be detected, a wrong reading leaves no trace"
    parts = [f"{name} {degrees(limit)}" for name, limit in zip(names, limits, strict=True) if math.isfinite(limit)]
    unseen = [name for name, limit in zip(names, limits, strict=True) if not math.isfinite(limit)]
    text = "an error is found nine times in ten only above: " + ", ".join(parts)
    if unseen:
        text += "; never at: " + ", ".join(unseen)
    return text + "; an error shared by all points (the reference, the meter) never shows"
