"""The check to make next: the one that tells most about the cause for the minutes it takes.

From the posterior over causes and what each measurement would give under every one of them: the expected fall of the
entropy of the cause, in bits, over the effort. Where real trouble was found the mechanical proof comes first, whatever
it costs; nothing is ever measured on a running engine.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from sensorcal.calibration.calibration import Calibration
from sensorcal.firststart.cause import Cause
from sensorcal.firststart.channels import GENUINE
from sensorcal.firststart.checkparts import PLACES, Answer, Bench, Hypothesis, Measurement, number_with_margin
from sensorcal.firststart.checks import channel_measurements
from sensorcal.firststart.enginechecks import engine_measurements
from sensorcal.firststart.words import SHORT, where_words
from sensorcal.measure.interval import coverage_factor
from sensorcal.setup import Setup, UnitsOut
from sensorcal.units import from_si, interval_from_si

if TYPE_CHECKING:
    from sensorcal.firststart.judge import Verdict

Floats = NDArray[np.float64]

SOUND = "sound"
DOUBT = 0.05
"""That neither log nor list of causes holds the truth, so that even a sure finding is worth a check: estimate."""
LEAST_BITS = 0.02
"""A check that tells less is not worth naming."""
_LEAST_PROBABILITY = 1e-4
_CONCERNS = 0.01
_SYMBOL = {"ohm": "Ω", "V": "V", "degC": "°C", "degF": "°F"}
_IN = {"probe": " (the sensor itself)", "wire": " (wire or plug)", "table": " (the keyed table)"}
_TITLES = {**SHORT, SOUND: "installation sound"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """One thing that the measurement may give.

    Parameters
    ----------
    result : str
        With its unit.
    probability : float
        That it comes out so.
    then : tuple of (str, float)
        The likeliest causes after it, in words, with their probability.
    expected : bool
        What sound parts give.
    """

    result: str
    probability: float
    then: tuple[tuple[str, float], ...]
    expected: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class NextCheck:
    """A measurement to make, with the numbers to look for.

    Parameters
    ----------
    name, channel : str
        Of the measurement; '' as channel where it concerns several.
    text : str
        What to do and what to look for, in one or two sentences.
    bits : float
        Expected information on the cause.
    minutes : float
        Effort; estimate.
    cautions : tuple of str
    outcomes : tuple of Outcome
        The expected one first, then by probability.
    proof : bool
        Mechanical proof of real trouble: first, whatever it costs.
    """

    name: str
    channel: str
    text: str
    bits: float
    minutes: float
    cautions: tuple[str, ...]
    outcomes: tuple[Outcome, ...]
    proof: bool = False

    @property
    def bits_per_minute(self) -> float:
        """What it is ranked by."""
        return self.bits / self.minutes


def next_checks(
    verdict: Verdict, setup: Setup | None = None, n: int = 3, *, finding: int | None = None,
    records: Mapping[str, Calibration] | None = None,
) -> tuple[NextCheck, ...]:  # fmt: skip
    """Choose the measurements to make next.

    Parameters
    ----------
    verdict : Verdict
    setup : Setup, optional
        Sheets, wiring and supply, from which the numbers to look for are computed.
    n : int
        At most so many.
    finding : int, optional
        Index of a finding to be settled; all causes of the first round if left out.
    records : mapping of tag to Calibration, optional
        Probes whose own curve is known; the sheets of the setup stand in for the others.

    Returns
    -------
    tuple of NextCheck
        Proof of real trouble first, then by bits per minute. Empty where no check tells anything.

    References
    ----------
    Expected information: C. E. Shannon, A Mathematical Theory of Communication (1948), section 12, equivocation.
    Efforts and chances: common practice, no source.
    """
    setup = setup or Setup()
    weighed = hypotheses(verdict, finding)
    # The judge undid earlier findings before it came to this one.
    earlier = verdict.findings[: finding or 0]
    rows = {**verdict.summary.rows, **{name: row for cause in earlier for name, row in cause.rows.items()}}
    oat_c = verdict.facts.oat_c
    cold_c = _finite(verdict.view.ambient_c, 15.0) if oat_c is None else oat_c
    bench = Bench(setup=setup, facts=verdict.facts, cold_c=cold_c, rows=rows, records=records or {})
    real = _real(verdict, finding)
    proofs = {kind for kind, _ in real}
    concerned = frozenset(
        name for one in weighed if one.probability > _CONCERNS for name in one.channels
    ) | {name for _, names in real for name in names}  # fmt: skip
    ran_into_trouble = any(cause.kind in GENUINE for cause in verdict.findings)
    found = []
    for one in (*channel_measurements(bench, concerned), *engine_measurements(bench, concerned)):
        proof = bool(proofs & set(one.proves)) and any(one.channel in names for _, names in real)
        if ran_into_trouble and one.name.startswith("contact thermometer after the next stop"):
            continue  # no further run before the trouble is settled
        check = _check(one, weighed, setup.units, proof=proof)
        if proof or check.bits > LEAST_BITS:
            found.append(check)
    found.sort(key=lambda one: (not one.proof, -(one.bits if one.proof else one.bits_per_minute)))
    # One of a kind: the same check at another channel is no second idea.
    best: dict[str, NextCheck] = {}
    for check in found:
        best.setdefault(check.name, check)
    return tuple(best.values())[:n]


def next_check_texts(verdict: Verdict, setup: Setup | None = None) -> dict[str, str]:
    """Text of the best check for the kind of each finding, where one tells anything.

    Parameters
    ----------
    verdict : Verdict
    setup : Setup, optional

    Returns
    -------
    dict of kind to str
    """
    texts: dict[str, str] = {}
    for index, cause in enumerate(verdict.findings):
        checks = next_checks(verdict, setup, 1, finding=index)
        if checks:
            texts.setdefault(cause.kind, checks[0].text)
    return texts


def hypotheses(verdict: Verdict, finding: int | None = None) -> tuple[Hypothesis, ...]:
    """Give the posterior over causes, each under one name, with the sound installation; probabilities add up to 1.

    Parameters
    ----------
    verdict : Verdict
    finding : int, optional
        Causes that touch the channels of that finding, with the probability it was reported with.

    Returns
    -------
    tuple of Hypothesis
    """
    causes = [(cause, cause.probability) for cause in verdict.weighed]
    sound = verdict.sound
    if finding is not None:
        chosen = verdict.findings[finding]
        before = {(one.kind, one.channels) for one in verdict.findings[:finding]}
        mine = {chosen.kind, *chosen.also}
        near = [
            cause for cause in verdict.weighed
            if (cause.kind, cause.channels) not in before
            and (not chosen.channels or set(cause.channels) & set(chosen.channels))
        ]  # fmt: skip
        own = [cause for cause in near if cause.channels == chosen.channels and cause.kind in mine and not before]
        others = [cause for cause in near if cause.channels != chosen.channels or cause.kind not in mine]
        left = max(1.0 - chosen.probability, 0.0)
        causes = [*_shared(own or [chosen], chosen.probability), *_shared(others, left)]
        # The later finding was weighed with the earlier one undone: what was left then is not known any more.
        sound = 0.0 if others else left
    one_name = [
        Hypothesis(kind=kind, channels=cause.channels, probability=share * part / (1 + len(names)), cause=cause,
                   place=place)
        for cause, share in causes
        for names in [tuple(dict.fromkeys(kind for kind in cause.also if kind != cause.kind))]
        for kind in (cause.kind, *names)
        for place, part in PLACES.get(kind, {"": 1.0}).items()
    ]  # fmt: skip
    merged: dict[tuple[str, tuple[str, ...], str], Hypothesis] = {}
    for one in [*one_name, Hypothesis(kind=SOUND, channels=(), probability=sound)]:
        known = merged.get((one.kind, one.channels, one.place))
        larger = one if known is None or one.probability > known.probability else known
        total = one.probability + (known.probability if known else 0.0)
        merged[one.kind, one.channels, one.place] = replace(larger, probability=total)
    kept = [one for one in merged.values() if one.probability > _LEAST_PROBABILITY or one.kind == SOUND]
    whole = sum(one.probability for one in kept)
    return tuple(
        replace(one, probability=(1.0 - DOUBT) * one.probability / whole + (DOUBT if one.kind == SOUND else 0.0))
        for one in kept
    )


def entropy_bits(probability: Floats) -> float:
    """Entropy of a distribution, bits.

    Parameters
    ----------
    probability : (n,) float

    Returns
    -------
    float

    Examples
    --------
    >>> import numpy as np
    >>> entropy_bits(np.array([0.5, 0.25, 0.25]))
    1.5
    """
    p = np.asarray(probability, dtype=float)
    p = p[p > 0.0]
    return float(-(p * np.log2(p)).sum()) + 0.0


def information_bits(prior: Floats, chances: Floats) -> float:
    """Expected fall of the entropy of the cause by one measurement, bits.

    Parameters
    ----------
    prior : (h,) float
        Probabilities of the causes.
    chances : (h, o) float
        Of each outcome under each cause; rows add up to 1.

    Returns
    -------
    float
        Zero where the outcomes do not depend on the cause.

    References
    ----------
    C. E. Shannon, A Mathematical Theory of Communication (1948), section 12.

    Examples
    --------
    >>> import numpy as np
    >>> information_bits(np.array([0.5, 0.5]), np.array([[1.0, 0.0], [0.0, 1.0]]))
    1.0
    """
    joint = np.asarray(prior)[:, None] * np.asarray(chances)
    outcome = joint.sum(axis=0)
    return entropy_bits(np.asarray(prior)) + entropy_bits(outcome) - entropy_bits(joint.ravel())


def answer_table(answers: Sequence[Answer]) -> tuple[Floats, Floats, tuple[str, ...]]:
    """Bring the answers under all causes to one list of outcomes.

    Parameters
    ----------
    answers : sequence of Answer

    Returns
    -------
    chances : (h, o) float
        First the intervals between `edges`, then the words.
    edges : (b,) float
        Half a standard deviation apart around every number that may come; empty without numbers.
    words : tuple of str

    Examples
    --------
    >>> chances, _, words = answer_table([Answer(words={"open": 0.9, "holds": 0.1}), Answer(words={"holds": 1.0})])
    >>> words, chances.tolist()
    (('open', 'holds'), [[0.9, 0.1], [0.0, 1.0]])
    """
    words = tuple(dict.fromkeys(name for one in answers for name in one.words))
    numbers = {(mean, sd) for one in answers for _, mean, sd in one.numbers}
    steps = np.arange(-4.0, 4.01, 0.5)
    inner = np.unique(np.concatenate([mean + sd * steps for mean, sd in numbers])) if numbers else np.zeros(0)
    bins = inner.size + 1 if inner.size else 0
    table = np.zeros((len(answers), bins + len(words)))
    for row, one in zip(table, answers, strict=True):
        for weight, mean, sd in one.numbers:
            below = np.concatenate(([0.0], _normal((inner - mean) / sd), [1.0]))
            row[:bins] += weight * np.diff(below)
        for index, name in enumerate(words):
            row[bins + index] = one.words.get(name, 0.0)
    return table, np.asarray(inner), words


def _normal(z: Floats) -> Floats:
    return np.array([0.5 * math.erfc(-value / math.sqrt(2.0)) for value in z])


# --- one check in words -------------------------------------------------------------------------------------------


def _check(one: Measurement, weighed: Sequence[Hypothesis], units: UnitsOut, *, proof: bool) -> NextCheck:
    prior = np.array([each.probability for each in weighed])
    answers = [one.answer(each) for each in weighed]
    chances, edges, words = answer_table(answers)
    outcomes = _outcomes(one, weighed, prior, answers, chances, edges, words, units)
    return NextCheck(
        name=one.name, channel=one.channel, text=_text(one, outcomes), minutes=one.minutes, cautions=one.cautions,
        bits=max(information_bits(prior, chances), 0.0), outcomes=outcomes, proof=proof,
    )  # fmt: skip


def _outcomes(
    one: Measurement, weighed: Sequence[Hypothesis], prior: Floats, answers: Sequence[Answer], chances: Floats,
    edges: Floats, words: tuple[str, ...], units: UnitsOut,
) -> tuple[Outcome, ...]:  # fmt: skip
    """Group the outcomes: the number of sound parts, the numbers of the likely causes, and the words."""
    sound = one.answer(Hypothesis(kind=SOUND, channels=(), probability=0.0))
    joint = prior[:, None] * chances
    found: list[Outcome] = []
    taken = np.zeros(edges.size + 1 if edges.size else 0, bool)
    centres = [(True, mean, sd) for _, mean, sd in sound.numbers[:1]]
    likely = sorted(
        ((p * weight, mean, sd) for p, each in zip(prior, answers, strict=True) for weight, mean, sd in each.numbers),
        reverse=True,
    )
    centres += [(False, mean, sd) for p, mean, sd in likely if p > _CONCERNS]
    lower = np.concatenate(([-np.inf], edges))
    upper = np.concatenate((edges, [np.inf]))
    for expected, mean, sd in centres:
        inside = (upper > mean - 2.0 * sd) & (lower < mean + 2.0 * sd) & ~taken if taken.size else taken
        at = inside & (lower <= mean) & (mean <= upper)
        if not inside.any() or (not expected and not at.any()):
            continue
        taken |= inside
        mass = joint[:, : taken.size][:, inside].sum(axis=1)
        if expected or mass.sum() > _CONCERNS:
            found.append(_outcome(_plus_minus(one, mean, sd, units), mass, weighed, expected=expected))
    for index, name in enumerate(words):
        mass = joint[:, taken.size + index]
        if mass.sum() > 0.005:
            usual = sound.words.get(name, 0.0) > 0.5
            found.append(_outcome(name, mass, weighed, expected=usual))
    return tuple(sorted(found, key=lambda each: (not each.expected, -each.probability))[:6])


def _outcome(result: str, mass: Floats, weighed: Sequence[Hypothesis], *, expected: bool) -> Outcome:
    total = float(mass.sum())
    order = np.argsort(-mass)[:3]
    then = tuple(
        (_cause_words(weighed[index]), float(mass[index] / total)) for index in order if mass[index] > 0.1 * total
    )
    return Outcome(result=result, probability=total, then=then if total > 0 else (), expected=expected)


def _cause_words(one: Hypothesis) -> str:
    if one.kind == SOUND or not one.channels:
        return _TITLES[one.kind]
    return f"{where_words(one.channels)}: {_TITLES[one.kind]}{_IN.get(one.place, '')}"


def _text(one: Measurement, outcomes: tuple[Outcome, ...]) -> str:
    """What to do, the number of sound parts, and what the likeliest other result would mean."""
    told = f"{one.do[:1].upper()}{one.do[1:]}"
    if one.proves:
        # Of a proof no result is weighed away: what it means is written, not computed.
        return f"{told}: {one.look_for}."
    parts = []
    expected = next((each for each in outcomes if each.expected), None)
    if expected is not None and "{}" in one.means:
        parts.append(one.means.format(expected.result))
    if one.look_for:
        parts.append(one.look_for)
    sound = _TITLES[SOUND]
    for other in [each for each in outcomes if not each.expected and each.then and each.then[0][0] != sound][:2]:
        result = other.result if one.unit and other.result.lstrip("+-")[:1].isdigit() else f"'{other.result}'"
        parts.append(f"{result} points to {other.then[0][0]}")
    return f"{told}: {'; '.join(parts)}." if parts else f"{told}."


def _plus_minus(one: Measurement, mean: float, sd: float, units: UnitsOut) -> str:
    """Value ± U, 19 times in 20, in the reader's unit."""
    unit = {"degC": units.temperature, "Pa": units.pressure}.get(one.unit, one.unit)
    half = coverage_factor() * sd
    if one.unit in {"degC", "Pa"}:
        mean = float(interval_from_si(mean, unit) if one.difference else from_si(mean, unit))
        half = float(interval_from_si(half, unit))
    if one.unit == "V" and abs(mean) < 1.0:
        mean, half, unit = 1e3 * mean, 1e3 * half, "mV"
    value, margin = number_with_margin(mean, half)
    if one.difference and float(value) >= 0.0:
        value = f"+{value}" if float(value) > 0.0 else value.lstrip("-")
    return f"{value} {_SYMBOL.get(unit, unit)} ± {margin}"


# --- the posterior ------------------------------------------------------------------------------------------------


def _shared(causes: Sequence[Cause], total: float) -> list[tuple[Cause, float]]:
    """Spread a probability over causes as they were weighed."""
    if not causes:
        return []
    weights = np.array([cause.weight for cause in causes], dtype=float)
    shares = np.exp(weights - np.logaddexp.reduce(weights))
    return [(cause, total * float(share)) for cause, share in zip(causes, shares, strict=True)]


def _real(verdict: Verdict, finding: int | None) -> list[tuple[str, tuple[str, ...]]]:
    """Trouble of the engine that is to be proved first: of the finding asked about, or all where one leads them."""
    if finding is not None:
        asked = verdict.findings[finding]
        return [(asked.kind, asked.channels)] if asked.kind in GENUINE else []
    if not verdict.findings or verdict.findings[0].kind not in GENUINE:
        return []
    return [(cause.kind, cause.channels) for cause in verdict.findings if cause.kind in GENUINE]


def _finite(value: float, other: float) -> float:
    return float(value) if math.isfinite(value) else other
