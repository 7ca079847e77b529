"""Pieces of a measurement to make after a start: cause, answer, catalogue entry, and what its numbers come from."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from sensorcal.calibration.calibration import Calibration, u_temperature_c
from sensorcal.firststart.cause import Cause
from sensorcal.firststart.channels import WORDS
from sensorcal.firststart.facts import StartFacts
from sensorcal.firststart.summary import W
from sensorcal.setup import Setup

Floats = NDArray[np.float64]

STOPPED = "Engine stopped, ignition off, key out, nobody in the propeller's arc."
UNPOWERED = "Master off before a plug is pulled; never an ohmmeter on a powered circuit."
COLD = "Engine cold; never open a hot cooling system."
FUEL = "Outdoors, fire guard ready; relieve the pressure before a line is opened, leak check after."
CRANKING = (
    "Ignition off, fuel off, plugs out, chocks and brakes, propeller's arc clear and watched; the starter rests as its "
    "maker says."
)
HANGAR_C, ICE_C, METER_RATIO = 0.3, 0.05, 0.003
"""Standard uncertainties of a hangar's thermometer and of crushed ice, degC, and of a hand meter's ohms: estimates."""
PLACES: dict[str, dict[str, float]] = {
    "open_circuit": {"probe": 0.45, "wire": 0.55}, "short_circuit": {"probe": 0.4, "wire": 0.6},
    "contact_resistance": {"probe": 0.15, "wire": 0.85}, "intermittent": {"probe": 0.3, "wire": 0.7},
    "wrong_curve": {"probe": 0.5, "table": 0.5},
}  # fmt: skip
"""Where a cause sits, in the sensor itself or outside it: estimates."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Hypothesis:
    """One cause with one name, in one place.

    Parameters
    ----------
    kind : str
        As in the judge, or 'sound'.
    channels : tuple of str
    probability : float
    cause : Cause or None
        With its size; None for a sound installation.
    place : {'', 'probe', 'wire', 'table'}
        Where it sits, for kinds that may sit in the sensor itself or outside it: what to mend depends on it.
    """

    kind: str
    channels: tuple[str, ...]
    probability: float
    cause: Cause | None = None
    place: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What a measurement gives under one cause: numbers, words, or some of both.

    Parameters
    ----------
    numbers : tuple of (weight, mean, standard deviation)
        A sum of Gaussians, in the measurement's unit.
    words : mapping of str to float
        Probabilities of what is seen. All weights and probabilities add up to 1.
    """

    numbers: tuple[tuple[float, float, float], ...] = ()
    words: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Measurement:
    """One entry of the catalogue, for one channel.

    Parameters
    ----------
    name, channel : str
    do : str
        Where and how, one sentence without its end.
    unit : {'ohm', 'V', 'degC', 'Pa', ''}
        Of its numbers.
    minutes : float
    cautions : tuple of str
    answer : callable
        Hypothesis to Answer.
    means : str
        What the number of sound parts means, with {} where it stands.
    difference : bool
        True where the numbers are differences.
    proves : tuple of str
        Kinds of real trouble that it proves or disproves.
    look_for : str
        What else to look for; of a proof, all of it.
    """

    name: str
    channel: str
    do: str
    minutes: float
    answer: Callable[[Hypothesis], Answer]
    means: str
    unit: str = ""
    cautions: tuple[str, ...] = (STOPPED,)
    difference: bool = False
    proves: tuple[str, ...] = ()
    look_for: str = ""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Bench:
    """What the expected numbers are computed from.

    Parameters
    ----------
    setup : Setup
    facts : StartFacts
    cold_c : float
        Temperature of the cold engine, degC.
    rows : mapping of channel to (windows,) float
        What the log shows.
    records : mapping of tag to Calibration
        Probes whose own curve is known.
    """

    setup: Setup
    facts: StartFacts
    cold_c: float
    rows: Mapping[str, Floats]
    records: Mapping[str, Calibration] = field(default_factory=dict)

    def error(self, one: Hypothesis, channel: str, *windows: str) -> float:
        """Shown minus true by a cause, largest among some windows of the log; 0 where it says nothing."""
        if one.cause is None or channel not in one.cause.rows or channel not in self.rows:
            return 0.0
        shown, true = self.rows[channel], np.broadcast_to(one.cause.rows[channel], self.rows[channel].shape)
        away = np.array([shown[W[name]] - true[W[name]] for name in windows])
        away = away[np.isfinite(away)]
        return float(away[int(np.argmax(np.abs(away)))]) if away.size else 0.0

    def resistance(self, channel: str, at_c: float, thermometer_c: float) -> tuple[float, float]:
        """Ohms of a sound probe and their standard uncertainty, by its record or its sheet.

        Parameters
        ----------
        channel : str
        at_c, thermometer_c : float
            Temperature and its standard uncertainty, degC.
        """
        tag = self.facts.tags.get(channel, "")
        record = self.records.get(tag)
        curve = self.facts.curves[channel]
        ohm = float(curve.resistance_ohm(at_c) if record is None else record.resistance_ohm(at_c))
        slope = abs(float(np.log(curve.resistance_ohm(at_c + 0.5) / curve.resistance_ohm(at_c - 0.5))))
        if record is None:
            # The maker's tolerance as half-width; a usual thermistor within 10 % where there is no sheet.
            own = (self.setup.probe(tag).sheet_tolerance_ratio if curve.known else 0.10) / 3.0**0.5
        else:
            own = slope * float(u_temperature_c(record, at_c))
        return ohm, ohm * float(np.sqrt(own**2 + (slope * thermometer_c) ** 2 + METER_RATIO**2))

    def name(self, channel: str) -> str:
        """The channel in words, with its sensor's tag."""
        tag = self.facts.tags.get(channel, "")
        return f"{WORDS[channel]}{f' ({tag})' if tag else ''}"


def number_with_margin(value: float, margin: float) -> tuple[str, str]:
    """Round a margin up to one digit, or two where it begins with 1, and the value to match.

    Examples
    --------
    >>> number_with_margin(5230.4, 62.0), number_with_margin(88.61, 1.37)
    (('5230', '70'), ('88.6', '1.4'))
    """
    digits = -math.floor(math.log10(margin)) if margin > 0 else 1
    if margin * 10.0**digits < 2.0:
        digits += 1
    scale, places = 10.0**digits, max(digits, 0)
    return f"{round(value * scale) / scale:.{places}f}", f"{math.ceil(margin * scale - 1e-9) / scale:.{places}f}"
