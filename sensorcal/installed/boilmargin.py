"""How far a coolant stays below boiling, with altitude and the pressure its cap holds."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sensorcal.errors import InputError
from sensorcal.physics.atmosphere import standard_pressure_pa
from sensorcal.physics.water import boiling_point_c

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BoilingMargin:
    """Boiling of the coolant by altitude; arrays of the altitudes' shape.

    Attributes
    ----------
    altitude_m : ndarray
    boiling_c, unsealed_c : ndarray
        With the cap holding, and with a cap that does not seal.
    margin_c, unsealed_margin_c : ndarray
        Boiling less the hottest true temperature asked about.
    """

    altitude_m: FloatArray
    boiling_c: FloatArray
    unsealed_c: FloatArray
    margin_c: FloatArray
    unsealed_margin_c: FloatArray


def coolant_boiling_c(
    altitude_m: ArrayLike, cap_gauge_pa: float, *, mixture_raise_c: float = 0.0, ambient_pa: ArrayLike | None = None
) -> FloatArray:
    """Boiling point of the coolant under its cap in the standard atmosphere, degC.

    Parameters
    ----------
    altitude_m : array_like
        Pressure altitude (geopotential), any shape; also used where `ambient_pa` is not given.
    cap_gauge_pa : float
        Pressure above ambient that the cap holds; 0 for one that does not seal.
    mixture_raise_c : float
        By how much the mixture boils above water, from its maker; 0 is plain water and on the safe side.
    ambient_pa : array_like, optional
        Ambient pressure instead of the standard one.

    Returns
    -------
    ndarray

    Raises
    ------
    InputError
        If the cap pressure or the raise is negative.

    References
    ----------
    IAPWS R7-97(2012), equation 31; ISO 2533:1975.

    Examples
    --------
    >>> coolant_boiling_c([0.0, 640.0, 3000.0], 90e3).round(1).tolist()
    [118.8, 117.6, 113.3]
    """
    if not (np.isfinite(cap_gauge_pa) and cap_gauge_pa >= 0.0):
        raise InputError(f"a cap cannot hold {cap_gauge_pa:g} Pa", do="give what is stamped on it, above ambient")
    if not (np.isfinite(mixture_raise_c) and mixture_raise_c >= 0.0):
        raise InputError(f"a mixture raise of {mixture_raise_c:g} degC is none", do="give zero for plain water")
    ambient = standard_pressure_pa(altitude_m) if ambient_pa is None else np.asarray(ambient_pa, dtype=float)
    return np.asarray(boiling_point_c(ambient + cap_gauge_pa) + mixture_raise_c)


def boiling_margin(
    hottest_c: float, altitude_m: ArrayLike, cap_gauge_pa: float, *, mixture_raise_c: float = 0.0
) -> BoilingMargin:
    """Distance from a temperature to boiling at altitudes, with the cap holding and with it leaking.

    Parameters
    ----------
    hottest_c : float
        Hottest true temperature that may occur: the limit, or a shown value with its U.
    altitude_m, cap_gauge_pa, mixture_raise_c
        As in `coolant_boiling_c`.

    Returns
    -------
    BoilingMargin

    Examples
    --------
    >>> boiling_margin(113.0, [0.0, 4500.0], 90e3).margin_c.round(1).tolist()
    [5.8, -2.1]
    """
    altitude = np.asarray(altitude_m, dtype=float)
    sealed = coolant_boiling_c(altitude, cap_gauge_pa, mixture_raise_c=mixture_raise_c)
    loose = coolant_boiling_c(altitude, 0.0, mixture_raise_c=mixture_raise_c)
    return BoilingMargin(
        altitude_m=altitude, boiling_c=sealed, unsealed_c=loose, margin_c=np.asarray(sealed - hottest_c),
        unsealed_margin_c=np.asarray(loose - hottest_c),
    )  # fmt: skip
