"""Energy that waits in a pumped-up hose: much where it holds air, next to nothing where it holds oil or water."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from sensorcal.physics.columns import rows_of
from sensorcal.physics.numeric import FloatArray, floats, within

OIL_BULK_MODULUS_PA = 1.5e9  # mineral oil near 20 °C without bubbles, ± 0.3e9; common practice, no source
_HIGHEST_PA = 3e6


def gas_energy_j(volume_m3: ArrayLike, gauge_pa: ArrayLike, *, ambient_pa: ArrayLike = 101_325.0) -> FloatArray:
    """Most work that pumped-up air can do when its hose or bottle lets go.

    It expands to the pressure around it at the temperature of the room; what it needs to push the air of the room aside
    is taken off.

    Parameters
    ----------
    volume_m3 : array_like
        Volume that holds the air under pressure, m³. Valid 0 to 1 m³.
    gauge_pa : array_like
        Pressure above the air around it, Pa. Valid 0 to 3 MPa.
    ambient_pa : array_like, optional
        Pressure of the air around it, Pa. Valid 10 000 to 110 000 Pa.

    Returns
    -------
    ndarray of float, or pandas column
        Energy, J: p V (ln(p / p0) - 1 + p0 / p) with absolute pressures.

    Raises
    ------
    InputError
        If a volume or a pressure cannot be.

    References
    ----------
    Available work of an ideal gas at constant temperature: any text on thermodynamics, from memory. A quick burst gives
    less, because the air cools.

    Examples
    --------
    >>> round(float(gas_energy_j(0.2e-3, 1e6)))
    326
    """
    back = rows_of(volume_m3=volume_m3, gauge_pa=gauge_pa, ambient_pa=ambient_pa)
    volume = within("volume_m3", volume_m3, 0.0, 1.0, "m³", "give the volume in m³: 0.001 is a litre")
    around = within("ambient_pa", ambient_pa, 10_000.0, 110_000.0, "Pa")
    inside = around + within("gauge_pa", gauge_pa, 0.0, _HIGHEST_PA, "Pa", "give the pressure above the air in Pa")
    ratio = inside / around
    return back(floats(inside * volume * (np.log(ratio) - 1.0 + 1.0 / ratio)))


def liquid_energy_j(
    volume_m3: ArrayLike, gauge_pa: ArrayLike, *, bulk_modulus_pa: ArrayLike = OIL_BULK_MODULUS_PA
) -> FloatArray:
    """Work that a pumped-up liquid can do when its hose lets go, the stretch of the hose left out.

    Parameters
    ----------
    volume_m3 : array_like
        Volume of liquid under pressure, m³. Valid 0 to 1 m³.
    gauge_pa : array_like
        Pressure above the air around it, Pa. Valid 0 to 3 MPa.
    bulk_modulus_pa : array_like, optional
        Stiffness of the liquid, Pa: about 1.5e9 for oil (`OIL_BULK_MODULUS_PA`), 2.2e9 for water. Valid 0.5e9 to 5e9.

    Returns
    -------
    ndarray of float, or pandas column
        Energy, J: V p² / (2 K). Air bubbles in the liquid store far more: `gas_energy_j` for their volume.

    Raises
    ------
    InputError
        If a volume, a pressure or a stiffness cannot be.

    References
    ----------
    Work of a linear spring; the moduli are common practice, no source.

    Examples
    --------
    >>> round(float(liquid_energy_j(0.2e-3, 1e6)), 2)
    0.07
    """
    back = rows_of(volume_m3=volume_m3, gauge_pa=gauge_pa, bulk_modulus_pa=bulk_modulus_pa)
    volume = within("volume_m3", volume_m3, 0.0, 1.0, "m³", "give the volume in m³: 0.001 is a litre")
    above = within("gauge_pa", gauge_pa, 0.0, _HIGHEST_PA, "Pa", "give the pressure above the air in Pa")
    stiff = within("bulk_modulus_pa", bulk_modulus_pa, 0.5e9, 5e9, "Pa", "give 1.5e9 for oil, 2.2e9 for water")
    return back(floats(volume * above**2 / (2.0 * stiff)))
