"""How fast a pumped-up line loses pressure, and what that does to a reading."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sensorcal.calibration.cycles import K_GUIDE
from sensorcal.errors import InputError
from sensorcal.measure.estimate import gls
from sensorcal.measure.interval import chi_squared_limit

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

SETTLING_S = 20.0
"""Freshly pumped air is warm, and falls as it cools: readings of the first seconds are no leak (common practice)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Leak:
    """A leak as a decay shows it.

    Parameters
    ----------
    start_pa : float
        Gauge pressure at the first reading used.
    rate_pa_per_s, u_rate_pa_per_s : float
        Loss of pressure at the start, positive where it falls, and its standard uncertainty.
    time_constant_s, u_time_constant_s : float or None
        Time in which a laminar leak takes the pressure to 37 %; None where no leak is seen.
    seen : bool
        True where the fall exceeds U (k = 2).
    fits : bool
        False where the readings do not follow an exponential (1 % test): not a steady leak.
    sentence : str
    """

    start_pa: float
    rate_pa_per_s: float
    u_rate_pa_per_s: float
    time_constant_s: float | None
    u_time_constant_s: float | None
    seen: bool
    fits: bool
    sentence: str

    def effect_pa(self, delay_s: float, pressure_pa: float | None = None) -> float:
        """Give what is lost between reading the gauge and reading the sensor, Pa.

        Parameters
        ----------
        delay_s : float
            Time between the two.
        pressure_pa : float, optional
            At which pressure; that of the start where left out.
        """
        p = self.start_pa if pressure_pa is None else pressure_pa
        if self.time_constant_s is None or self.start_pa == 0.0:
            return self.rate_pa_per_s * delay_s
        return p * (1.0 - math.exp(-delay_s / self.time_constant_s))


def leak_down(
    time_s: ArrayLike,
    pressure_pa: ArrayLike,
    *,
    u_pressure_pa: ArrayLike,
    settling_s: float = SETTLING_S,
    read_delay_s: float = 15.0,
) -> Leak:
    """Estimate a leak from gauge pressures of a closed line.

    Parameters
    ----------
    time_s : array, shape (n,)
        Since the valve was shut.
    pressure_pa : array, shape (n,)
        Gauge pressure, or the sensor's own reading: a common offset of the gauge counts little.
    u_pressure_pa : float or array, shape (n,)
        Standard uncertainty of each reading's own error (last digit, pointer), Pa.
    settling_s : float
        Readings before it are left out, and counted in the sentence.
    read_delay_s : float
        Between reading gauge and sensor: sizes the effect in the sentence.

    Returns
    -------
    Leak

    Raises
    ------
    InputError
        Fewer than three readings after settling, times that do not rise, or pressures at or below zero.

    References
    ----------
    p = p0 exp(-t / tau) for a small laminar leak to the air: common practice, no source; weighted straight line in
    ln p.

    Examples
    --------
    >>> found = leak_down([30.0, 90.0, 150.0], [600e3, 588.1e3, 576.5e3], u_pressure_pa=300.0)
    >>> round(found.rate_pa_per_s), round(found.time_constant_s), found.seen
    (200, 3003, True)
    """
    t, p = np.asarray(time_s, dtype=np.float64), np.asarray(pressure_pa, dtype=np.float64)
    if t.ndim != 1 or t.shape != p.shape:
        raise InputError(f"{t.size} times stand beside {p.size} pressures", do="give one of each for every reading")
    u = np.broadcast_to(np.asarray(u_pressure_pa, dtype=np.float64), p.shape)
    if np.any(np.diff(t) <= 0.0):
        raise InputError("time_s does not rise", do="give the readings in the order they were taken")
    if np.any(u <= 0.0):
        raise InputError("u_pressure_pa is not above zero", do="state the last digit of the reading")
    later = t >= settling_s
    left_out = int((~later).sum())
    t, p, u = t[later], p[later], u[later]
    if t.size < 3:
        raise InputError(
            f"{t.size} readings after {settling_s:g} s show no leak", do="read the shut line at 1, 2 and 3 minutes"
        )
    if np.any(p <= 0.0):
        raise InputError("pressure_pa is not above zero", do="give gauge pressures of the pumped-up line")
    x = t - t[0]
    estimate = gls(np.stack([np.ones(t.size), -x], axis=1), np.log(p), u / p)
    start = math.exp(float(estimate.parameters[0]))
    per_s, u_per_s = float(estimate.parameters[1]), float(np.sqrt(estimate.covariance[1, 1]))
    seen = per_s > K_GUIDE * u_per_s
    fits = estimate.dof == 0 or estimate.chi_squared <= chi_squared_limit(estimate.dof)
    rate, u_rate = per_s * start, u_per_s * start
    tau, u_tau = (1.0 / per_s, u_per_s / per_s**2) if seen else (None, None)
    skipped = f" ({left_out} reading{'s' * (left_out > 1)} before {settling_s:g} s left out)" if left_out else ""
    if seen and tau is not None and u_tau is not None:
        lost = start * (1.0 - math.exp(-read_delay_s / tau))
        a_minute, u_minute = 0.06 * rate, 0.06 * K_GUIDE * u_rate
        words = (
            f"leak: {a_minute:.2f} kPa a minute ± {u_minute:.2f} at {start / 1000:.0f} kPa, "
            f"time constant {tau:.0f} s ± {K_GUIDE * u_tau:.0f}; {read_delay_s:g} s between gauge and sensor cost "
            f"{lost / 1000:.2f} kPa{skipped}"
        )
    elif per_s < -K_GUIDE * u_per_s:
        words = f"the pressure rises by {-rate * 60 / 1000:.2f} kPa a minute: the line is warming, or the pump leaks in"
    else:
        most = (max(rate, 0.0) + K_GUIDE * u_rate) * 60.0 / 1000.0
        words = f"no leak seen: less than {most:.2f} kPa a minute at {start / 1000:.0f} kPa{skipped}"
    if not fits:
        words += "; the fall is not steady (1 % test): wait longer after pumping, or look for a moving valve"
    return Leak(
        start_pa=start,
        rate_pa_per_s=rate,
        u_rate_pa_per_s=u_rate,
        time_constant_s=tau,
        u_time_constant_s=u_tau,
        seen=seen,
        fits=fits,
        sentence=words,
    )
