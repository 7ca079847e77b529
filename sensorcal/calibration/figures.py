"""Three figures for each check of a channel: what can be measured, what is worth acting on, and where to stop.

One table, used wherever a difference is judged. The figures are common practice without a source, unless the line
says otherwise; the engine maker's manual rules. Where a difference comes with its own uncertainty, that takes the
place of the first figure.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from sensorcal.engine import TEMPERATURES
from sensorcal.errors import InputError
from sensorcal.measure.interval import coverage_factor

Verdict = Literal["agrees", "measurable", "worth-acting", "stop"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Figures:
    """The three figures of one check.

    Parameters
    ----------
    channel, check : str
        Kind of channel, and what is compared with what.
    unit : {'degC', 'Pa', 'ohm', 'V'}
        Unit of the figures.
    measurable : float
        Expanded uncertainty of the check as a careful evening gives it.
    worth_acting : float
        From here something is done about it.
    stop : float or None
        From here the channel is not to be used until the cause is found; None where no such figure is agreed.
    source : str
        Where the figures come from.
    """

    channel: str
    check: str
    unit: Literal["degC", "Pa", "ohm", "V"]
    measurable: float
    worth_acting: float
    stop: float | None
    source: str = "common practice, no source"


RUNNING = "engine running"
LOAD_STEP = "step with a load or the starter"

FIGURES: tuple[Figures, ...] = (
    Figures(
        channel="temperature", check="cold-soak pair", unit="degC", measurable=0.3, worth_acting=2.0, stop=None
    ),
    Figures(
        channel="temperature", check="cold soak against outside air", unit="degC",
        measurable=0.9, worth_acting=3.0, stop=None,
    ),
    Figures(channel="map", check="at rest against station pressure", unit="Pa",
            measurable=200.0, worth_acting=1_000.0, stop=3_000.0),
    Figures(channel="loop", check="resistance change", unit="ohm", measurable=0.5, worth_acting=2.0, stop=None),
    Figures(channel="oil pressure", check="zero at rest", unit="Pa",
            measurable=7_000.0, worth_acting=10_000.0, stop=None),
    Figures(channel="fuel pressure", check="zero at rest, line open", unit="Pa",
            measurable=3_000.0, worth_acting=5_000.0, stop=None),
    # Engine running: what a channel may be off before somebody looks. Where to stop is the engine maker's limit.
    Figures(channel="temperature", check=RUNNING, unit="degC", measurable=1.0, worth_acting=3.0, stop=None),
    Figures(channel="oil pressure", check=RUNNING, unit="Pa", measurable=14_000.0, worth_acting=20_000.0, stop=None),
    Figures(channel="fuel pressure", check=RUNNING, unit="Pa", measurable=6_000.0, worth_acting=12_000.0, stop=None),
    Figures(channel="map", check=RUNNING, unit="Pa", measurable=1_000.0, worth_acting=2_000.0, stop=None),
    # Switching a load or the starter must move nothing: half a per cent of a usual range, or a display step.
    Figures(channel="temperature", check=LOAD_STEP, unit="degC", measurable=0.5, worth_acting=1.0, stop=None),
    Figures(channel="oil pressure", check=LOAD_STEP, unit="Pa", measurable=2_500.0, worth_acting=5_000.0, stop=None),
    Figures(channel="fuel pressure", check=LOAD_STEP, unit="Pa", measurable=1_500.0, worth_acting=3_000.0, stop=None),
    Figures(channel="map", check=LOAD_STEP, unit="Pa", measurable=500.0, worth_acting=1_250.0, stop=None),
    Figures(channel="map", check="after the stop against before", unit="Pa",
            measurable=350.0, worth_acting=1_000.0, stop=None),
    Figures(channel="loop", check="shorted at the sensor", unit="ohm", measurable=0.3, worth_acting=2.0, stop=None),
    Figures(channel="supply", check="at the sensor's plug", unit="V", measurable=0.01, worth_acting=0.05, stop=None),
    # 20 mV on a case ground is about 1 degC at 90 degC (lifted-ground circuit, computed).
    Figures(channel="ground", check="sensor ground, loads on against off", unit="V",
            measurable=0.001, worth_acting=0.020, stop=None),
    Figures(channel="ground", check="block to monitor while cranking", unit="V",
            measurable=0.005, worth_acting=0.130, stop=None),
)  # fmt: skip
"""Every check that sensorcal judges by figures."""


AT_REST = {
    "temperature": "cold soak against outside air", "map": "at rest against station pressure",
    "oil pressure": "zero at rest", "fuel pressure": "zero at rest, line open",
}  # fmt: skip
"""Check of each kind of channel with the engine stopped."""


def kind_of_channel(channel: str) -> str:
    """Name the kind of channel under which the table holds the figures of a channel of the engine.

    Examples
    --------
    >>> kind_of_channel("gearbox_oil"), kind_of_channel("oil_pressure"), kind_of_channel("map")
    ('temperature', 'oil pressure', 'map')
    """
    return "temperature" if channel in TEMPERATURES else channel.replace("_", " ")


@dataclass(frozen=True, slots=True, kw_only=True)
class Judgement:
    """What a difference amounts to.

    Parameters
    ----------
    verdict : {'agrees', 'measurable', 'worth-acting', 'stop'}
        'agrees': within its expanded uncertainty. The others: beyond it, and which of the figures it has reached.
    close : bool
        True where the uncertainty reaches across the figure that decided, so that the verdict could as well be the
        neighbouring one.
    text : str
        In plain words.
    """

    verdict: Verdict
    close: bool
    text: str


def figures_of(channel: str, check: str) -> Figures:
    """Look up the three figures of a check.

    Raises
    ------
    InputError
        If there is no such check; the message lists those that are.

    Examples
    --------
    >>> figures_of("map", "at rest against station pressure").worth_acting
    1000.0
    """
    for figures in FIGURES:
        if (figures.channel, figures.check) == (channel, check):
            return figures
    known = "; ".join(f"{figures.channel}: {figures.check}" for figures in FIGURES)
    raise InputError(f"no figures for {channel}: {check}", do=f"take one of {known}")


def judge(figures: Figures, difference: float, u: float | None = None) -> Judgement:
    """Judge a difference by the figures of its check.

    Parameters
    ----------
    figures : Figures
    difference : float
        Shown minus expected, in the figures' unit.
    u : float, optional
        Standard uncertainty of the difference; left out, the figure 'measurable' stands for the expanded one.

    Returns
    -------
    Judgement

    References
    ----------
    Simple acceptance at each figure, ILAC-G8:09/2019 (from memory); `close` says where a guard band of U would decide
    otherwise.

    Examples
    --------
    >>> judge(figures_of("map", "at rest against station pressure"), 1_093.0, 105.0).verdict
    'worth-acting'
    >>> judge(figures_of("map", "at rest against station pressure"), 150.0, 105.0).text
    'agrees within the uncertainty of the check'
    """
    expanded = figures.measurable if u is None else coverage_factor() * u
    size = abs(difference)
    if size <= expanded:
        return Judgement(verdict="agrees", close=False, text="agrees within the uncertainty of the check")
    steps: list[tuple[Verdict, float]] = [("worth-acting", figures.worth_acting)]
    if figures.stop is not None:
        steps.append(("stop", figures.stop))
    verdict: Verdict = "measurable"
    for name, limit in steps:
        if size >= limit:
            verdict = name
    close = any(abs(size - limit) < expanded for _, limit in steps)
    told = {
        "measurable": f"is measurable, but less than the {_said(figures, figures.worth_acting)} worth acting on",
        "worth-acting": f"is worth acting on (from {_said(figures, figures.worth_acting)})",
        "stop": f"is beyond {_said(figures, figures.stop or 0.0)}: do not use the channel until the cause is found",
    }[verdict]
    if close:
        told += "; within its uncertainty the verdict next to it is as likely"
    return Judgement(verdict=verdict, close=close, text=told)


def _said(figures: Figures, value: float) -> str:
    if figures.unit == "Pa":
        return f"{value / 1000:g} kPa"
    return f"{value:g} { {'degC': '°C', 'ohm': 'Ω'}.get(figures.unit, figures.unit)}"
