"""Readings judged by hand, without a log: the cold-soak glance, the pre-oiling crank, and one wrong temperature.

Each takes the few numbers that somebody wrote down, says what they amount to, and names what is found first.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from sensorcal.calibration.figures import Judgement, figures_of, judge
from sensorcal.engine import TEMPERATURES
from sensorcal.errors import InputError
from sensorcal.firststart.channels import WORDS
from sensorcal.firststart.expectedphases import still_air_c
from sensorcal.firststart.facts import SensorCurve, start_facts
from sensorcal.firststart.healthy import tail
from sensorcal.measure.interval import coverage_factor
from sensorcal.setup import Setup

Floats = NDArray[np.float64]

MEDIA = (("coolant", "gearbox_oil"), ("charge_in", "charge_out"))
"""Pairs that sit in one medium: liquid or metal, and still air."""
_U_PAIR_C = figures_of("temperature", "cold-soak pair").measurable / coverage_factor()
_U_AIR_C = figures_of("temperature", "cold soak against outside air").measurable / coverage_factor()


# --- the cold-soak glance -----------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class PairJudged:
    """Two probes of one medium.

    Parameters
    ----------
    first, second : str
        Channels.
    difference_c : float
        Second minus first, degC.
    judgement : Judgement
    """

    first: str
    second: str
    difference_c: float
    judgement: Judgement


@dataclass(frozen=True, slots=True, kw_only=True)
class ColdSoak:
    """The glance judged.

    Parameters
    ----------
    pairs : tuple of PairJudged
        Within a medium: the judgement that counts first.
    against_air : mapping of channel to Judgement
        Each against the outside air, its own warmth by the pull-up's current taken off as far as it may be.
    still_air_c : (float, float)
        By how much probes in still air may read above those in liquid or metal.
    finding : tuple of str
        Channels that do not fit, the likelier one first; empty where all fit.
    text : str
    """

    pairs: tuple[PairJudged, ...]
    against_air: Mapping[str, Judgement]
    still_air_c: tuple[float, float]
    finding: tuple[str, ...]
    text: str


def judge_cold_soak(
    shown_c: Mapping[str, float], oat_c: float, setup: Setup | None = None, *, u_pair_c: float = _U_PAIR_C,
    u_air_c: float = _U_AIR_C,
) -> ColdSoak:  # fmt: skip
    """Judge the four probes after a night in the shade: spread within a medium first, outside air second.

    Parameters
    ----------
    shown_c : mapping of channel to float
        What is shown, degC.
    oat_c : float
        Air, degC.
    setup : Setup, optional
        Curves and pull-ups, for the warmth by the probes' own current.
    u_pair_c, u_air_c : float
        Standard uncertainties of the two comparisons; those of the table of figures by default.

    Returns
    -------
    ColdSoak

    Raises
    ------
    InputError
        A channel that is none, or fewer than two.

    References
    ----------
    Figures: `sensorcal.calibration.figures`. Not for an engine that ran or was preheated.

    Examples
    --------
    >>> found = judge_cold_soak({"coolant": 11.8, "gearbox_oil": 12.1, "charge_in": 11.9, "charge_out": 14.6}, 12.0)
    >>> found.finding, found.pairs[1].judgement.verdict
    (('charge_out', 'charge_in'), 'worth-acting')
    """
    unknown = [name for name in shown_c if name not in TEMPERATURES]
    if unknown or len(shown_c) < 2:
        raise InputError(
            f"channel {unknown[0]!r} is not known" if unknown else "one reading has nothing to agree with",
            do=f"give two or more of {', '.join(TEMPERATURES)}",
        )
    facts = start_facts(setup or Setup())
    in_air = next((name for name in MEDIA[1] if name in shown_c), "charge_in")
    still = still_air_c(facts, in_air, oat_c)
    pair_figures = figures_of("temperature", "cold-soak pair")
    pairs = tuple(
        PairJudged(
            first=first, second=second, difference_c=shown_c[second] - shown_c[first],
            judgement=judge(pair_figures, shown_c[second] - shown_c[first], u_pair_c),
        )
        for first, second in MEDIA if first in shown_c and second in shown_c
    )  # fmt: skip
    air_figures = figures_of("temperature", "cold soak against outside air")
    away = {name: _beyond(value - oat_c, still[1] if name in MEDIA[1] else 0.0) for name, value in shown_c.items()}
    against = {name: judge(air_figures, value, u_air_c) for name, value in away.items()}
    wrong = [one for one in pairs if one.judgement.verdict != "agrees"]
    if wrong:
        worst = max(wrong, key=lambda one: abs(one.difference_c))
        finding = tuple(sorted((worst.first, worst.second), key=lambda name: -abs(shown_c[name] - oat_c)))
        text = (
            f"{WORDS[finding[0]]} against {WORDS[finding[1]]}: {abs(worst.difference_c):.1f} °C apart in one medium, "
            f"which {worst.judgement.text}; {WORDS[finding[0]]} lies further from the air ({oat_c:.1f} °C)"
        )
    else:
        finding = tuple(name for name, one in against.items() if one.verdict in {"worth-acting", "stop"})
        text = "the probes of each medium agree" if not finding else (
            f"{' and '.join(WORDS[name] for name in finding)} away from the air: a large block lags the weather by "
            "hours; read again with a thermometer laid on the engine"
        )  # fmt: skip
    allowance = (
        f". Probes in still air may read {still[0]:.1f} to {still[1]:.1f} °C above those in liquid or metal from their "
        "own current; the pair's limit holds within a medium only"
    )
    return ColdSoak(
        pairs=pairs, against_air=against, still_air_c=still, finding=finding, text=f"{text}{allowance}."
    )


def _beyond(difference_c: float, allowed_c: float) -> float:
    """Take off what a probe's own current may have added."""
    return difference_c - min(max(difference_c, 0.0), allowed_c)


# --- the pre-oiling crank -----------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class PreOiling:
    """What the crank with a mechanical gauge teed in says.

    Parameters
    ----------
    verdict : {'panel usable', 'panel wrong', 'do not start'}
    difference_pa : float or None
        Panel minus gauge.
    text : str
    """

    verdict: Literal["panel usable", "panel wrong", "do not start"]
    difference_pa: float | None
    text: str


def judge_pre_oiling(
    *, gauge_pa: float, panel_pa: float | None, expanded_pa: float, rise_s: float | None, allowed_s: float,
    least_pa: float = 20e3,
) -> PreOiling:  # fmt: skip
    """Judge oil pressure while cranking with the ignition off, by a mechanical gauge beside the panel's sensor.

    Parameters
    ----------
    gauge_pa, panel_pa : float
        At the end of the crank, Pa; None for a panel that showed nothing.
    expanded_pa : float
        Expanded uncertainty of their difference, gauge and sensor together, Pa.
    rise_s : float or None
        Time until the gauge rose, s; None where it did not.
    allowed_s : float
        By the engine maker.
    least_pa : float
        Below this the gauge counts as not risen; estimate.

    Returns
    -------
    PreOiling

    Raises
    ------
    InputError
        An uncertainty or a time that is not above zero.

    References
    ----------
    Common practice, no source. The starter rests as its maker says.

    Examples
    --------
    >>> judge_pre_oiling(gauge_pa=210e3, panel_pa=205e3, expanded_pa=14e3, rise_s=12.0, allowed_s=30.0).verdict
    'panel usable'
    >>> judge_pre_oiling(gauge_pa=0.0, panel_pa=205e3, expanded_pa=14e3, rise_s=None, allowed_s=30.0).verdict
    'do not start'
    """
    if not (expanded_pa > 0 and allowed_s > 0):
        raise InputError("uncertainty and allowed time must be above zero", do="take them from gauge and manual")
    if rise_s is None or rise_s > allowed_s or gauge_pa < least_pa:
        shown = "" if panel_pa is None or panel_pa < least_pa else "; the panel's number is not to be believed"
        return PreOiling(
            verdict="do not start", difference_pa=None if panel_pa is None else panel_pa - gauge_pa,
            text=f"no rise on the gauge in the maker's time of {allowed_s:g} s: do not start; level, prime, filter, "
            f"pick-up, relief valve{shown}",
        )  # fmt: skip
    if panel_pa is None or not math.isfinite(panel_pa):
        told = "the engine makes oil pressure and the panel does not show it: do not start on it"
        return PreOiling(verdict="panel wrong", difference_pa=None, text=told)
    difference = panel_pa - gauge_pa
    said = f"gauge {gauge_pa / 1e3:.0f}, panel {panel_pa / 1e3:.0f} kPa, U {expanded_pa / 1e3:.0f} kPa"
    if abs(difference) <= expanded_pa:
        return PreOiling(verdict="panel usable", difference_pa=difference, text=f"{said}: consistent, panel usable")
    return PreOiling(
        verdict="panel wrong", difference_pa=difference,
        text=f"{said}: {abs(difference) / 1e3:.0f} kPa apart: the panel is not to be used until the cause is found; "
        "leave the gauge teed in",
    )  # fmt: skip


# --- one wrong temperature ----------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingCause:
    """One cause of a wrong reading.

    Parameters
    ----------
    kind : str
        As in the judge, or 'sound'.
    probability : float
        Among those weighed.
    size : float or None
        Most likely size: V, ohm, or a ratio.
    text : str
    """

    kind: str
    probability: float
    size: float | None
    text: str


_SIZES: dict[str, Floats] = {
    # Volts and ohms evenly in their logarithm, ratios evenly: sizes that are seen, estimate.
    "ground_offset": np.concatenate((-np.geomspace(0.3, 0.005, 200), np.geomspace(0.005, 0.3, 200))),
    "contact_resistance": np.geomspace(1.0, 150.0, 400),
    "wrong_curve": np.concatenate((np.linspace(0.80, 0.985, 200), np.linspace(1.015, 1.20, 200))),
    "wrong_pullup": np.concatenate((np.linspace(-0.7, -0.02, 200), np.linspace(0.02, 0.7, 200))),
}
_TEXT: dict[str, tuple[str, Callable[[float], float]]] = {
    "ground_offset": ("sensor ground lifted by about {:+.0f} mV", lambda size: 1e3 * size),
    "contact_resistance": ("about {:.0f} ohm too many in the connector or wire", lambda size: size),
    "wrong_curve": ("wrong preset: B {:.3f} times what it should be, right at 25 °C", lambda size: size),
    "wrong_pullup": ("resistance scale off by {:+.0%}: pull-up, or R25 of the preset", math.expm1),
}


def judge_reading(
    *, shown_c: float, true_c: float, u_true_c: float, channel: str = "coolant", setup: Setup | None = None,
    cold_c: float | None = None, cold_difference_c: float = 0.0, u_cold_c: float = 0.5,
    load_step_c: float | None = None, u_load_c: float = 0.5,
) -> tuple[ReadingCause, ...]:  # fmt: skip
    """Rank the causes of a temperature that a contact thermometer contradicts, from a few typed facts.

    Parameters
    ----------
    shown_c, true_c, u_true_c : float
        Panel, contact thermometer and its standard uncertainty, degC. Engine stopped for the thermometer.
    channel : str
    setup : Setup, optional
        The probe's sheet and its pull-up.
    cold_c : float, optional
        Temperature of a cold soak; left out where there was none.
    cold_difference_c, u_cold_c : float
        Panel minus the others at the cold soak, and its standard uncertainty.
    load_step_c : float, optional
        By how much the reading moved with the loads on; its size counts, as the sign depends on the path.
    u_load_c : float
        Standard uncertainty of that step.

    Returns
    -------
    tuple of ReadingCause
        Likeliest first; probabilities add up to 1.

    Raises
    ------
    InputError
        A channel without a thermistor, or an uncertainty that is not above zero.

    References
    ----------
    Circuit of a lifted ground and of a series resistance: Ohm's law. Priors 0.3 ground, 0.3 connector, 0.2 curve,
    0.1 pull-up, 0.1 sound: estimates.
    """
    if channel not in TEMPERATURES:
        raise InputError(f"{channel!r} has no thermistor", do=f"give one of {', '.join(TEMPERATURES)}")
    if not min(u_true_c, u_cold_c, u_load_c) > 0:
        raise InputError("a standard uncertainty is not above zero", do="half of the thermometer's ± stands for it")
    curve = start_facts(setup or Setup()).curves[channel]
    priors = {"ground_offset": 0.3, "contact_resistance": 0.3, "wrong_curve": 0.2, "wrong_pullup": 0.1}

    def weight(error_hot: Floats, error_cold: Floats, step: Floats | None) -> Floats:
        total = tail((shown_c - true_c - error_hot) / u_true_c)
        if cold_c is not None:
            total = total + tail((cold_difference_c - error_cold) / u_cold_c)
        if load_step_c is not None:
            # A lifted ground moves with the loads by some part of itself; nothing else does.
            miss = abs(load_step_c) - (np.zeros(()) if step is None else np.minimum(abs(load_step_c), np.abs(step)))
            total = total + tail(miss / u_load_c)
        return np.asarray(total)

    logs: dict[str, float] = {"sound": math.log(0.1) + float(weight(np.zeros(()), np.zeros(()), None))}
    best: dict[str, float | None] = {"sound": None}
    for kind, prior in priors.items():
        sizes = _SIZES[kind]
        hot = reading_error_c(curve, kind, sizes, true_c)
        cold = reading_error_c(curve, kind, sizes, cold_c) if cold_c is not None else np.zeros(sizes.size)
        each = np.nan_to_num(weight(hot, cold, hot if kind == "ground_offset" else None), nan=-np.inf)
        logs[kind] = math.log(prior) + float(np.logaddexp.reduce(each)) - math.log(sizes.size)
        best[kind] = float(sizes[int(np.argmax(each))])
    whole = float(np.logaddexp.reduce(list(logs.values())))
    return tuple(
        ReadingCause(kind=kind, probability=math.exp(value - whole), size=best[kind], text=_said(kind, best[kind]))
        for kind, value in sorted(logs.items(), key=lambda one: -one[1])
    )


def reading_error_c(curve: SensorCurve, kind: str, sizes: Floats, true_c: float) -> Floats:
    """Shown minus true of a thermistor with one fault of several sizes, degC.

    Parameters
    ----------
    curve : SensorCurve
    kind : {'ground_offset', 'contact_resistance', 'wrong_curve', 'wrong_pullup'}
    sizes : (n,) float
        V of lift on 5 V; ohm in series; B over what it should be; natural logarithm of the resistance ratio.
    true_c : float

    Returns
    -------
    (n,) float

    References
    ----------
    V = d + (5 - d) R/(R + Rp) for a lifted ground; Ohm's law for the others.
    """
    size = np.asarray(sizes, dtype=float)
    ohm = float(curve.resistance_ohm(true_c))
    if kind == "ground_offset":
        share = size / 5.0 + (1.0 - size / 5.0) * ohm / (ohm + curve.pull_up_ohm)
        return np.asarray(curve.temperature_of_fraction_c(share) - true_c)
    if kind == "contact_resistance":
        return np.asarray(curve.temperature_c(ohm + size) - true_c)
    if kind == "wrong_curve":
        # The preset's B is larger than the probe's by that factor, both right at 25 degC.
        at, here = 1.0 / 298.15, 1.0 / (true_c + 273.15)
        return np.asarray(1.0 / (at + (here - at) / size) - 273.15 - true_c)
    return np.asarray(curve.temperature_c(ohm * np.exp(-size)) - true_c)


def _said(kind: str, size: float | None) -> str:
    if size is None:
        return "nothing wrong in the installation: thermometer, place or time"
    words, shown = _TEXT[kind]
    return words.format(shown(size))
