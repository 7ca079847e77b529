"""The effect of a hot body on a transducer's zero and span, from readings in cold and in hot water."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sensorcal.calibration.cycles import K_GUIDE
from sensorcal.errors import FitError
from sensorcal.measure.estimate import gls
from sensorcal.measure.interval import chi_squared_limit

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

# Readings whose bodies differ by less belong to one bath: common practice, no source.
_SAME_BATH_K = 10.0


@dataclass(frozen=True, slots=True, kw_only=True)
class BodyEffect:
    """How zero and span move with the temperature of the body.

    Parameters
    ----------
    cold_c, hot_c : float
        Mean temperatures of the cold and of the hottest readings.
    zero_pa_per_k, span_pa_per_k : float
        Change of the shown pressure at the lower end of the range, and of the span, for one kelvin.
    u_zero_pa_per_k, u_span_pa_per_k : float
        Standard uncertainties; not a number for the span where only one pressure was read hot.
    span_pa : float
        Span to which the span effect belongs.
    notes : tuple of str
    """

    cold_c: float
    hot_c: float
    zero_pa_per_k: float
    span_pa_per_k: float
    u_zero_pa_per_k: float
    u_span_pa_per_k: float
    span_pa: float
    notes: tuple[str, ...] = ()

    @property
    def sentence(self) -> str:
        """The effect in plain words, with U (k = 2)."""
        step = self.hot_c - self.cold_c
        zero, u_zero = self.zero_pa_per_k * step / 1000.0, K_GUIDE * self.u_zero_pa_per_k * step / 1000.0
        words = (
            f"from {self.cold_c:.0f} to {self.hot_c:.0f} °C the zero moves {zero:+.2f} kPa ± {u_zero:.2f} "
            f"({1e5 * zero / self.span_pa:+.2f} % of span)"
        )
        if math.isnan(self.u_span_pa_per_k):
            return f"{words}; the span was not read hot"
        span, u_span = self.span_pa_per_k * step / 1000.0, K_GUIDE * self.u_span_pa_per_k * step / 1000.0
        return f"{words}, the span {span:+.2f} kPa ± {u_span:.2f}"


def body_effect(
    pressure_pa: ArrayLike,
    shown_pa: ArrayLike,
    body_c: ArrayLike,
    u_pa: ArrayLike,
    *,
    low_pa: float,
    span_pa: float,
) -> BodyEffect | None:
    """Estimate the temperature effect on zero and span from readings at two body temperatures or more.

    The same gauge stands beside cold and hot readings of one session, so its error cancels; `u_pa` is what each
    reading has of its own.

    Parameters
    ----------
    pressure_pa : array, shape (n,)
        Reference, Pa: the open line and at least one pressure near the middle or top.
    shown_pa : array, shape (n,)
        Pressure that the ideal or fitted curve gives for the output, Pa.
    body_c : array, shape (n,)
        Temperature of the body (of the water around it), °C.
    u_pa : array, shape (n,) or float
        Standard uncertainty of each reading's own error, Pa.
    low_pa, span_pa : float
        Lower end and span of the range.

    Returns
    -------
    BodyEffect or None
        None where all bodies were within 10 K.

    Raises
    ------
    FitError
        No cold and hot reading at one pressure at least.

    References
    ----------
    Thermal zero shift and thermal sensitivity shift, terms of ANSI/ISA-37.1 (from memory); test in water at 20 and
    70 °C: common practice, no source.

    Examples
    --------
    >>> found = body_effect([0.0, 400e3, 0.0, 400e3], [0.0, 400e3, 5e3, 407e3], [20.0, 20.0, 70.0, 70.0], 300.0,
    ...                     low_pa=0.0, span_pa=1e6)
    >>> round(found.zero_pa_per_k, 3), round(found.span_pa_per_k, 3)
    (100.0, 100.0)
    """
    p, shown, t = (np.asarray(v, dtype=np.float64) for v in (pressure_pa, shown_pa, body_c))
    u = np.broadcast_to(np.asarray(u_pa, dtype=np.float64), p.shape)
    if t.size == 0 or np.ptp(t) < _SAME_BATH_K:
        return None
    cold = t <= t.min() + _SAME_BATH_K
    cold_c, hot_c = float(t[cold].mean()), float(t[t >= t.max() - _SAME_BATH_K].mean())
    share = (p - low_pa) / span_pa
    warm = t - cold_c
    both = {bool(c) for c in cold}
    if both != {True, False}:
        raise FitError("the hot body has no cold reading beside it", do="read open line and pressure cold and hot")
    # The cold curve (level and slope) and what a kelvin adds to each.
    hot_places, cold_places = np.unique(share[~cold].round(2)), np.unique(share[cold].round(2))
    one_place = hot_places.size < 2 or cold_places.size < 2
    columns = [np.ones(p.size), warm] if one_place else [np.ones(p.size), share, warm, warm * share]
    estimate = gls(np.stack(columns, axis=1), shown - p, np.maximum(u, 1e-9 * span_pa))
    sizes = np.sqrt(np.diag(estimate.covariance))
    notes: tuple[str, ...] = ()
    if estimate.dof > 0 and estimate.chi_squared > chi_squared_limit(estimate.dof):
        sizes = sizes * math.sqrt(estimate.chi_squared / estimate.dof)
        scattered = "cold and hot readings do not agree with one effect (once in a hundred by chance): U is enlarged"
        notes = (f"{scattered}; look for a wrong reading, or wait until the body is warm through",)
    if one_place:
        zero, u_zero, span, u_span = float(estimate.parameters[1]), float(sizes[1]), 0.0, math.nan
        only = "hot readings at one pressure only: the effect on the span is not known; add one near full scale"
        notes = (*notes, only)
    else:
        zero, u_zero = float(estimate.parameters[2]), float(sizes[2])
        span, u_span = float(estimate.parameters[3]), float(sizes[3])
    return BodyEffect(
        cold_c=cold_c,
        hot_c=hot_c,
        zero_pa_per_k=zero,
        span_pa_per_k=span,
        u_zero_pa_per_k=u_zero,
        u_span_pa_per_k=u_span,
        span_pa=span_pa,
        notes=notes,
    )
