"""What is true, given what the panel shows: the interval that steps leave, and the uncertainty of the whole chain."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from sensorcal.installed.chain import Chain, sensitivities
from sensorcal.installed.elements import elements_of, u_of_element
from sensorcal.installed.inverse import true_interval
from sensorcal.measure.interval import coverage_factor


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadOut:
    """One shown value traced back to what is true.

    Attributes
    ----------
    shown : float
        degC or Pa.
    low, high : float
        True values that the steps of converter and display turn into this reading, the known errors of the chain
        undone; infinite where that end is open, nan where nothing can be said.
    true : float
        Middle of a closed interval; nan for an open one.
    u : float
        Standard uncertainty of `true`, the steps counted as rectangular; nan for an open interval.
    reasons : tuple of str
        Why the interval is open or empty.
    """

    shown: float
    low: float
    high: float
    true: float
    u: float
    reasons: tuple[str, ...]

    @property
    def closed(self) -> bool:
        """Whether both ends are known: a held reading is no measurement."""
        return math.isfinite(self.low) and math.isfinite(self.high)

    @property
    def expanded(self) -> float:
        """Expanded uncertainty of `true`, 19 times in 20."""
        return coverage_factor() * self.u


def read_out(chain: Chain, shown: ArrayLike) -> tuple[ReadOut, ...]:
    """Trace shown values back to what is true.

    Parameters
    ----------
    chain : Chain
    shown : array_like
        degC or Pa; a number or one dimension.

    Returns
    -------
    tuple of ReadOut
        One a value.

    Notes
    -----
    The uncertainty is that of the shown value by the law of propagation, divided by the slope of shown against true.

    References
    ----------
    JCGM 100:2008 (GUM), equation (10).

    Examples
    --------
    >>> from sensorcal.installed.chainparts import Display, Thermistor, Wiring
    >>> from sensorcal.installed.conversion import CurveConversion
    >>> from sensorcal.physics.curves import SteinhartHart
    >>> probe = SteinhartHart.through_points([0.0, 50.0, 97.7], [5230.0, 721.0, 172.1])
    >>> chain = Chain(sensor=Thermistor(curve=probe, u_error=0.2), wiring=Wiring(contact_ohm=10.0),
    ...               conversion=CurveConversion(curve=probe, pull_ohm=1000.0), display=Display(step=1.0))
    >>> (found,) = read_out(chain, 97.0)
    >>> round(found.low, 1), round(found.high, 1), round(found.true, 1), round(found.expanded, 1)
    (98.7, 99.8, 99.2, 0.7)
    """
    readings = np.atleast_1d(np.asarray(shown, dtype=np.float64))
    found = true_interval(chain, readings)
    middle = found.middle
    closed = found.closed & np.isfinite(middle)
    u = np.full(readings.shape, np.nan)
    if closed.any():
        sensor = chain.sensor
        at = np.clip(middle[closed], sensor.low, sensor.high)
        slopes = sensitivities(chain, at)
        parts = [slopes[e.name] * u_of_element(chain, e, at) for e in elements_of(chain)]
        total = np.sqrt(np.sum(np.square(parts), axis=0))
        slope = np.abs(slopes["measurand"])
        u[closed] = np.where(slope > 0.0, total / np.where(slope > 0.0, slope, 1.0), np.nan)
    return tuple(
        ReadOut(
            shown=float(readings[k]),
            low=float(found.low[k]),
            high=float(found.high[k]),
            true=float(middle[k]),
            u=float(u[k]),
            reasons=found.reasons(k),
        )
        for k in range(readings.size)
    )
