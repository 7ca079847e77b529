"""Rising and falling series of a pressure sensor: zero deviation, repeatability, reproducibility, hysteresis, and U."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sensorcal.errors import FitError

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

K_GUIDE = 2.0
"""Coverage factor of the calibration guides: about 95 % for a normal distribution (EA-4/02, from memory)."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SeriesBudget:
    """What rising and falling series show at each pressure, and the uncertainty of their mean.

    All widths are full widths in the unit of the readings, and stand in the budget as rectangular: halved, then
    divided by root 3.

    Parameters
    ----------
    mean, mean_up, mean_down : array, shape (n,)
        Mean reading at each pressure.
    zero_deviation : float
        f0: largest change of the zero over one rise and fall.
    repeatability : array, shape (n,) or None
        b': largest difference between cycles of one mounting, zero taken off; None with one cycle.
    reproducibility : array, shape (n,) or None
        b: the same after the sensor was mounted again; None where it was not.
    hysteresis : array, shape (n,) or None
        h: mean over the cycles of falling minus rising, without sign, zero taken off; None without falling readings.
    u, expanded : array, shape (n,)
        Standard uncertainty, and U = 2 u.
    missing : tuple of str
        What these series could not show, in plain words.
    """

    mean: Floats
    mean_up: Floats
    mean_down: Floats
    zero_deviation: float
    repeatability: Floats | None
    reproducibility: Floats | None
    hysteresis: Floats | None
    u: Floats
    expanded: Floats
    missing: tuple[str, ...]

    def __post_init__(self) -> None:
        """Copy the arrays and make them read-only."""
        for name in ("mean", "mean_up", "mean_down", "repeatability", "reproducibility", "hysteresis", "u", "expanded"):
            values = getattr(self, name)
            if values is not None:
                copied = np.array(values, dtype=np.float64)
                copied.setflags(write=False)
                object.__setattr__(self, name, copied)


def series_budget(
    up: ArrayLike,
    down: ArrayLike,
    *,
    u_standard: ArrayLike,
    resolution: float,
    mounted_again_at: int | None = None,
) -> SeriesBudget:
    """Judge rising and falling series in the manner of the pressure guides.

    Parameters
    ----------
    up, down : array, shape (c, n)
        Reading of each cycle at the same n pressures in rising order, the first of them zero; `down` may have no
        cycles (shape (0, n)).
    u_standard : float or array, shape (n,)
        Standard uncertainty of the reference, in the unit of the readings.
    resolution : float
        Last digit of the readings.
    mounted_again_at : int, optional
        First cycle (counted from 0) after the sensor was taken off and mounted again.

    Returns
    -------
    SeriesBudget

    Raises
    ------
    FitError
        Series of different length, or no rising series.

    References
    ----------
    EURAMET Calibration Guide No. 17 and DKD-R 6-1: zero deviation, repeatability, reproducibility and hysteresis as
    rectangular contributions (formulas from memory; no worked record of the guides was at hand).

    Examples
    --------
    >>> found = series_budget([[0.50, 2.10, 4.50]], [[0.51, 2.13, 4.50]], u_standard=0.001, resolution=0.01)
    >>> [round(float(h), 3) for h in found.hysteresis], round(found.zero_deviation, 3)
    ([0.01, 0.03, 0.0], 0.01)
    """
    rising, falling = np.atleast_2d(np.asarray(up, float)), np.atleast_2d(np.asarray(down, float))
    if rising.size == 0:
        raise FitError("there is no rising series", do="read the sensor at rising pressures first")
    if falling.size == 0:
        falling = np.empty((0, rising.shape[1]))
    if falling.shape[1] != rising.shape[1] or falling.shape[0] not in {0, rising.shape[0]}:
        raise FitError(
            f"{rising.shape[0]} rising series of {rising.shape[1]} points stand beside {falling.shape[0]} falling of "
            f"{falling.shape[1]}",
            do="take each cycle up and down through the same pressures",
        )
    cycles, n = rising.shape
    first = cycles if mounted_again_at is None else mounted_again_at
    zero = rising[:, :1]
    up_0, down_0 = rising - zero, falling - zero[: falling.shape[0]]
    missing: list[str] = []
    zero_deviation = float(np.abs(falling[:, 0] - rising[:, 0]).max()) if falling.shape[0] else 0.0
    hysteresis = np.abs(falling - rising).mean(axis=0) if falling.shape[0] else None
    if hysteresis is None:
        missing.append("hysteresis and zero deviation: no falling readings")
    repeatability = _spread(up_0[:first], down_0[:first])
    if repeatability is None:
        missing.append("repeatability: one cycle only")
    reproducibility = None
    if first < cycles:
        against = [np.abs(s[first:] - s[:1]).max(axis=0) for s in (up_0, down_0) if s.shape[0]]
        reproducibility = np.max(against, axis=0)
    else:
        missing.append("reproducibility: the sensor was not taken off and mounted again")
    widths = [np.full(n, zero_deviation), np.full(n, resolution)]
    widths += [w for w in (repeatability, reproducibility, hysteresis) if w is not None]
    variance = np.broadcast_to(np.asarray(u_standard, float), (n,)) ** 2
    variance = variance + sum((0.5 * w / math.sqrt(3.0)) ** 2 for w in widths)
    u = np.sqrt(variance)
    both = np.concatenate([rising, falling])
    return SeriesBudget(
        mean=both.mean(axis=0),
        mean_up=rising.mean(axis=0),
        mean_down=falling.mean(axis=0) if falling.shape[0] else np.full(n, np.nan),
        zero_deviation=zero_deviation,
        repeatability=repeatability,
        reproducibility=reproducibility,
        hysteresis=hysteresis,
        u=u,
        expanded=K_GUIDE * u,
        missing=tuple(missing),
    )


def _spread(*series: Floats) -> Floats | None:
    """Largest difference of any cycle from another, at each pressure; None with one cycle."""
    several = [s for s in series if s.shape[0] > 1]
    return np.asarray(np.max([np.ptp(s, axis=0) for s in several], axis=0)) if several else None
