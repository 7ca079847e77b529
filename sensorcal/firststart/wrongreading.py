"""One temperature that a thermometer contradicts: its causes ranked from a few typed facts, without a log."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sensorcal.engine import TEMPERATURES
from sensorcal.errors import InputError
from sensorcal.firststart.facts import SensorCurve, start_facts
from sensorcal.firststart.healthy import tail
from sensorcal.setup import Setup

Floats = NDArray[np.float64]


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

    Examples
    --------
    >>> found = judge_reading(shown_c=84.0, true_c=90.0, u_true_c=1.0, cold_c=10.0, load_step_c=3.0)
    >>> found[0].kind
    'ground_offset'
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

    Examples
    --------
    >>> from sensorcal.bench.demo_harness import harness_setup
    >>> curve = start_facts(harness_setup()).curves["coolant"]
    >>> reading_error_c(curve, "ground_offset", np.array([0.020]), 90.0).round(1).tolist()
    [-0.8]
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
