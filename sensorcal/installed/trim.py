"""Series and parallel resistors of preferred values that bring a probe to a monitor's preset."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from sensorcal.errors import InputError
from sensorcal.installed.preset import PairsCurve, ProbeCurve, ReadingCurve
from sensorcal.physics.eseries import Series, preferred_ohm

FloatArray = NDArray[np.float64]
Where = Literal["none", "series", "parallel", "parallel to the probe, then series", "parallel to probe and series"]

_POINTS = 29
_NEAR = 1.12


@dataclass(frozen=True, slots=True, kw_only=True)
class Trim:
    """Resistors at a probe and what they do.

    Attributes
    ----------
    where : str
        How they are wired.
    series_ohm, parallel_ohm : float or None
    worst_c, worst_at_c : float
        Largest error with the preset over the band, shown minus true, and where.
    at_limit_c : float
        Error at the limit.
    worst_with_tolerance_c : float
        Largest size of the error with either resistor anywhere within its tolerance.
    untrimmed_c : float
        Largest error without resistors.
    open_circuit_c : float or None
        What a broken probe would show with a parallel resistor: it no longer reads as open. None where it does.
    """

    where: Where
    series_ohm: float | None
    parallel_ohm: float | None
    worst_c: float
    worst_at_c: float
    at_limit_c: float
    worst_with_tolerance_c: float
    untrimmed_c: float
    open_circuit_c: float | None


def find_trim(
    probe: ProbeCurve,
    preset: ReadingCurve,
    *,
    limit_c: float,
    low_c: float = 60.0,
    high_c: float = 130.0,
    series: Series = "E96",
    tolerance_ratio: float = 0.01,
    parallel_allowed: bool = True,
) -> Trim:
    """Search preferred resistors, one or two, that bring a probe nearest to a preset.

    Every single resistor is tried; pairs first coarsely (E24), then all neighbours in the fine series.

    Parameters
    ----------
    probe : object
        With `resistance_ohm(temperature_c)`.
    preset : object
        With `temperature_c(resistance_ohm)`.
    limit_c, low_c, high_c
        Limit and band that matters, degC.
    series : {'E96', 'E24'}
    tolerance_ratio : float
        Half-width of the resistors' values: 0.01 for 1 %.
    parallel_allowed : bool
        Whether a parallel resistor may be used; it hides a broken probe.

    Returns
    -------
    Trim
        The one with the least worst error, tolerance included; 'none' where no resistor helps.

    Raises
    ------
    InputError
        If the band is empty.

    References
    ----------
    Common practice, no source; preferred values IEC 60063 (from memory).

    Examples
    --------
    >>> from sensorcal.installed.preset import curve_from_pairs
    >>> probe = curve_from_pairs([25.0, 85.0], [1800.0, 247.0])
    >>> class Lower:
    ...     def resistance_ohm(self, temperature_c):
    ...         return probe.resistance_ohm(temperature_c) - 10.0
    >>> trim = find_trim(Lower(), probe, limit_c=120.0, low_c=60.0, high_c=120.0, parallel_allowed=False)
    >>> trim.where, trim.series_ohm
    ('series', 10.0)
    """
    if not low_c < high_c:
        raise InputError(f"the band from {low_c:g} to {high_c:g} degC is empty", do="give the colder end first")
    at = np.append(np.linspace(low_c, high_c, _POINTS), limit_c)
    ohm = np.asarray(probe.resistance_ohm(at), dtype=float)
    middle = float(np.exp(np.log(ohm).mean()))
    coarse = _values("E24", middle)
    fine = _values(series, middle)
    none = np.array([0.0])
    open_ = np.array([np.inf])
    tried: list[tuple[Where, float, float, float]] = [("none", 0.0, np.inf, _size(preset, ohm, at, 0.0, np.inf))]
    tried.append(_best("series", preset, ohm, at, fine, open_, tolerance_ratio))
    if parallel_allowed:
        tried.append(_best("parallel", preset, ohm, at, none, fine, tolerance_ratio))
        pairs: tuple[Where, ...] = ("parallel to the probe, then series", "parallel to probe and series")
        for where in pairs:
            _, rough_s, rough_p, _ = _best(where, preset, ohm, at, coarse, coarse, tolerance_ratio)
            near_s = fine[(fine > rough_s / _NEAR) & (fine < rough_s * _NEAR)]
            near_p = fine[(fine > rough_p / _NEAR) & (fine < rough_p * _NEAR)]
            tried.append(_best(where, preset, ohm, at, near_s, near_p, tolerance_ratio))
    where, s, p, size = min(tried, key=lambda one: one[3])
    error = np.asarray(preset.temperature_c(_network(where, ohm, s, p))) - at
    worst = int(np.argmax(np.abs(error[:-1])))
    broken = None
    if np.isfinite(p):
        broken_ohm = p + s if where == "parallel to the probe, then series" else p
        try:
            broken = float(preset.temperature_c(broken_ohm))
        except InputError:
            broken = None  # beyond the preset's pairs: what is shown there is not known
    return Trim(
        where=where,
        series_ohm=s if s > 0 else None,
        parallel_ohm=p if np.isfinite(p) else None,
        worst_c=float(error[worst]),
        worst_at_c=float(at[worst]),
        at_limit_c=float(error[-1]),
        worst_with_tolerance_c=size,
        untrimmed_c=tried[0][3],
        open_circuit_c=broken,
    )


def _values(series: Series, middle: float) -> FloatArray:
    """Resistors worth trying: from one that hardly adds to a probe, to one that hardly shunts it."""
    return preferred_ohm(series, middle * 3e-3, middle * 3e2)


def _network(where: Where, ohm: FloatArray, s: ArrayOrFloat, p: ArrayOrFloat) -> FloatArray:
    if where == "parallel to probe and series":
        total = ohm + s
        return np.asarray(total / (1.0 + total / p))
    return np.asarray(ohm / (1.0 + ohm / p) + s)


ArrayOrFloat = FloatArray | float


def _size(preset: ReadingCurve, ohm: FloatArray, at: FloatArray, s: float, p: float) -> float:
    error = np.asarray(preset.temperature_c(_network("series", ohm, s, p))) - at
    return float(np.abs(error).max())


def _best(
    where: Where,
    preset: ReadingCurve,
    ohm: FloatArray,
    at: FloatArray,
    series: FloatArray,
    parallel: FloatArray,
    tolerance_ratio: float,
) -> tuple[Where, float, float, float]:
    """Least worst error over all pairs of resistors, each at both ends of its tolerance."""
    s, p = (grid.ravel() for grid in np.meshgrid(series, parallel, indexing="ij"))
    worst = np.zeros(s.size)
    for ts in (-1.0, 1.0):
        for tp in (-1.0, 1.0):
            network = _network(
                where, ohm, s[:, None] * (1.0 + ts * tolerance_ratio), p[:, None] * (1.0 + tp * tolerance_ratio)
            )
            worst = np.maximum(worst, _worst(preset, network, at))
    best = int(np.argmin(worst))
    return where, float(s[best]), float(p[best]), float(worst[best])


def _worst(preset: ReadingCurve, network: FloatArray, at: FloatArray) -> FloatArray:
    """Worst error of each network; infinite where the preset does not reach."""
    reached = np.ones(network.shape[0], dtype=bool)
    if isinstance(preset, PairsCurve):
        low, high = preset.resistance_ohm[0], preset.resistance_ohm[-1]
        reached = np.asarray((network.min(axis=1) >= low) & (network.max(axis=1) <= high))
    worst = np.full(network.shape[0], np.inf)
    if reached.any():
        worst[reached] = np.abs(np.asarray(preset.temperature_c(network[reached])) - at).max(axis=1)
    return worst
