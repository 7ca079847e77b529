"""Readings judged by hand before the start: the cold-soak glance, the pressures at rest, the pre-oiling crank.

Each takes the few numbers that somebody wrote down and says what they amount to.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from sensorcal.calibration.figures import AT_REST, Judgement, figures_of, judge, kind_of_channel
from sensorcal.engine import PRESSURES, TEMPERATURES
from sensorcal.errors import InputError
from sensorcal.firststart.channels import WORDS
from sensorcal.firststart.expected import StartSheet
from sensorcal.firststart.expectedphases import still_air_c
from sensorcal.firststart.facts import start_facts
from sensorcal.firststart.words import number_text, quantity_text
from sensorcal.measure.interval import coverage_factor
from sensorcal.setup import Setup, UnitsOut

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
    u_air_c: float = _U_AIR_C, units: UnitsOut | None = None,
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
    units : UnitsOut, optional
        Of the text; those of the setup by default.

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
    setup = setup or Setup()
    units = units or setup.units

    def apart(difference_c: float) -> str:
        return quantity_text("coolant", abs(difference_c), units, difference=True).lstrip("+")

    facts = start_facts(setup)
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
            f"{WORDS[finding[0]]} against {WORDS[finding[1]]}: {apart(worst.difference_c)} apart in one medium, "
            f"{_ACT[worst.judgement.verdict].format(apart(pair_figures.worth_acting))}; {WORDS[finding[0]]} lies "
            f"further from the air ({quantity_text('oat', oat_c, units)})"
        )
    else:
        finding = tuple(name for name, one in against.items() if one.verdict in {"worth-acting", "stop"})
        text = "the probes of each medium agree" if not finding else (
            f"{' and '.join(WORDS[name] for name in finding)} away from the air: a large block lags the weather by "
            "hours; read again with a thermometer laid on the engine"
        )  # fmt: skip
    allowance = (
        f". Probes in still air may read {apart(still[0])} to {apart(still[1])} above those in liquid or metal from "
        "their own current; the pair's limit holds within a medium only"
    )
    return ColdSoak(
        pairs=pairs, against_air=against, still_air_c=still, finding=finding, text=f"{text}{allowance}."
    )


_ACT = {
    "measurable": "which is measurable, but less than the {} worth acting on",
    "worth-acting": "which is worth acting on (from {})", "stop": "which is worth acting on (from {})",
}  # fmt: skip


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
    least_pa: float = 20e3, units: UnitsOut | None = None,
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
    units : UnitsOut, optional
        Of the text.

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
    units = units or UnitsOut()

    def told_of(value_pa: float) -> str:
        return quantity_text("oil_pressure", value_pa, units)

    said = (
        f"gauge {number_text('oil_pressure', gauge_pa, units)}, panel {told_of(panel_pa)}, U {told_of(expanded_pa)}"
    )
    if abs(difference) <= expanded_pa:
        return PreOiling(verdict="panel usable", difference_pa=difference, text=f"{said}: consistent, panel usable")
    return PreOiling(
        verdict="panel wrong", difference_pa=difference,
        text=f"{said}: {told_of(abs(difference))} apart: the panel is not to be used until the cause is found; "
        "leave the gauge teed in",
    )  # fmt: skip


# --- what the panel shows before the start ------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class RestJudged:
    """One pressure before the start.

    Parameters
    ----------
    channel : str
    shown_pa, expected_pa : float
    judgement : Judgement
        By the three figures, with the uncertainty of the expected value and of the sensor.
    """

    channel: str
    shown_pa: float
    expected_pa: float
    judgement: Judgement


def judge_pressures_at_rest(shown_pa: Mapping[str, float], sheet: StartSheet) -> tuple[RestJudged, ...]:
    """Judge what the pressure channels show with the engine stopped and nothing under pressure.

    Parameters
    ----------
    shown_pa : mapping of channel to float
        Pa; manifold absolute.
    sheet : StartSheet
        Of the day.

    Returns
    -------
    tuple of RestJudged

    Raises
    ------
    InputError
        A channel that is no pressure.

    References
    ----------
    Figures: `sensorcal.calibration.figures`.

    Examples
    --------
    >>> from sensorcal.firststart.expected import start_sheet
    >>> from sensorcal.setupfile import setup_from
    >>> day = start_sheet(setup_from(elevation_m=640.0, qnh_pa=100_900.0, station_elevation_m=610.0, probes=()))
    >>> judge_pressures_at_rest({"map": 99_900.0}, day)[0].judgement.verdict
    'stop'
    """
    found = []
    for channel, value in shown_pa.items():
        if channel not in PRESSURES:
            raise InputError(f"channel {channel!r} is no pressure", do=f"give some of {', '.join(PRESSURES)}")
        one = sheet.channel(channel)
        kind = kind_of_channel(channel)
        judgement = judge(figures_of(kind, AT_REST[kind]), value - one.at_rest, one.u_at_rest)
        found.append(RestJudged(channel=channel, shown_pa=value, expected_pa=one.at_rest, judgement=judgement))
    return tuple(found)
