"""The dissipation constant of a probe found with two currents, and its zero-power temperature."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sensorcal.errors import InputError
from sensorcal.installed.chainparts import ResistanceCurve, Thermistor


@dataclass(frozen=True, slots=True, kw_only=True)
class SelfHeating:
    """What two readings at two currents tell of a probe's self-heating.

    Attributes
    ----------
    heating_k_per_w, u_heating_k_per_w : float
        Warming per watt (the reciprocal of the dissipation constant), and its standard uncertainty, K/W.
    temperature_c : float
        Temperature of the medium, the warming taken away, degC.
    rise_c : tuple of float
        Warming at each of the two currents, K.
    significant : bool
        True where the warming is larger than its uncertainty explains (19 times in 20).
    """

    heating_k_per_w: float
    u_heating_k_per_w: float
    temperature_c: float
    rise_c: tuple[float, float]
    significant: bool

    @property
    def dissipation_w_per_k(self) -> float:
        """Dissipation constant, W/K; infinite where no warming was seen."""
        return 1.0 / self.heating_k_per_w if self.heating_k_per_w > 0.0 else math.inf


def two_current_heating(
    curve: ResistanceCurve,
    resistance_ohm: Sequence[float],
    current_a: Sequence[float],
    *,
    u_resistance_ohm: float = 0.0,
) -> SelfHeating:
    """Find the self-heating of a probe from its resistance at two currents in the same steady medium.

    Parameters
    ----------
    curve : object
        The probe's curve; only its slope matters.
    resistance_ohm, current_a : two floats each
        Reading and current through the probe, for instance on two ranges of a meter.
    u_resistance_ohm : float
        Standard uncertainty of one reading against the other.

    Returns
    -------
    SelfHeating

    Raises
    ------
    InputError
        If the two powers differ too little to tell, or a number is not above zero.

    References
    ----------
    Zero-power resistance by extrapolation from two currents: common practice, no source.

    Examples
    --------
    >>> from sensorcal.physics.curves import SteinhartHart
    >>> probe = SteinhartHart.through_points([0.0, 50.0, 97.7], [5230.0, 721.0, 172.1])
    >>> ohm = [float(probe.resistance_ohm(25.0 + 250.0 * r * i * i)) for r, i in ((1803.0, 5e-4), (1803.0, 1.5e-3))]
    >>> found = two_current_heating(probe, ohm, [5e-4, 1.5e-3], u_resistance_ohm=0.5)
    >>> round(1000 * found.dissipation_w_per_k, 1), round(found.temperature_c, 2)
    (3.8, 25.0)
    """
    r, i = np.asarray(resistance_ohm, dtype=np.float64), np.asarray(current_a, dtype=np.float64)
    if r.shape != (2,) or i.shape != (2,) or not ((r > 0.0).all() and (i > 0.0).all()):
        raise InputError("two resistances and two currents above zero are needed", do="read the probe on two ranges")
    power = i * i * r
    if not power.max() > 1.5 * power.min():
        raise InputError("the two currents heat the probe alike", do="take currents at least a quarter apart")
    t = np.asarray(curve.temperature_c(r), dtype=np.float64)
    more = float(power[1] - power[0])
    heating = float(t[1] - t[0]) / more
    probe = Thermistor(curve=curve)
    slopes = 1.0 / probe.raw_slope(t)
    u = u_resistance_ohm * math.hypot(*slopes.tolist()) / abs(more)
    return SelfHeating(
        heating_k_per_w=heating,
        u_heating_k_per_w=u,
        temperature_c=float(t[0] - heating * power[0]),
        rise_c=(heating * float(power[0]), heating * float(power[1])),
        significant=heating > 1.96 * u,
    )
