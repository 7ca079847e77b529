"""The bare estimate: arrays in, coefficients and covariance out, for those who fit by the thousand."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from sensorcal.errors import FitError
from sensorcal.measure.estimate import gls
from sensorcal.physics.curves import KELVIN_AT_0_C

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]


def fit_core(
    temperature_c: Floats, resistance_ohm: Floats, u_c: Floats, common_c: Floats | None = None
) -> tuple[Floats, Floats]:
    """Estimate A, B, C of 1/T = A + B ln R + C (ln R)³ and their covariance, with no prior, checks or records.

    The same weighting and the same digits as `fit_thermistor`, which is the function to use on real readings: this
    one finds no wrong unit and no wrong row.

    Parameters
    ----------
    temperature_c, resistance_ohm : array of float64, shape (n,)
        Reference in °C and resistance in ohm, n at least 3.
    u_c : array of float64, shape (n,)
        Independent standard uncertainty of each point in °C, > 0, that of the resistance brought over by the slope.
    common_c : array of float64, shape (m, n), optional
        One row a shared error: what one standard uncertainty of it adds to each reference, °C.

    Returns
    -------
    coefficients : array, shape (3,)
        A, B, C in 1/K.
    covariance : array, shape (3, 3)
        Of A, B, C, in 1/K². It is nearly singular: keep all its digits.

    Raises
    ------
    FitError
        The points do not determine three coefficients, or an uncertainty is zero.

    References
    ----------
    Steinhart J.S., Hart S.R. (1968), Deep-Sea Research 15, 497-503, eq. 1.

    Examples
    --------
    >>> import numpy as np
    >>> t, r = np.array([0.0, 25.0, 50.0, 97.7]), np.array([5230.0, 1803.2, 721.0, 172.1])
    >>> abc, covariance = fit_core(t, r, np.full(4, 0.1))
    >>> [f"{v:.4g}" for v in abc], f"{covariance[1, 1] ** 0.5:.1g}"
    (['0.001312', '0.0002658', '1.159e-07'], '3e-06')
    """
    ohm = resistance_ohm.tolist()
    least, most, n = min(ohm), max(ohm), len(ohm)
    if least <= 0.0:
        raise FitError("a resistance is not above zero", do="check the readings, in ohm")
    ln_r = np.log(resistance_ohm)
    centre, scale = math.fsum(ln_r.tolist()) / n, 0.5 * (math.log(most) - math.log(least))
    if not (math.isfinite(centre) and scale > 0.0):
        raise FitError("the resistances are no numbers, or all the same", do="check the readings, in ohm")
    kelvin = temperature_c + KELVIN_AT_0_C
    x = (ln_r - centre) / scale
    design = np.empty((n, 3), order="F")
    # 1/T and its u come to T by the factor -T²: the same residuals and the same weights.
    weight = np.multiply(kelvin, -kelvin, out=design[:, 0])
    slope = np.multiply(weight, x, out=design[:, 1])
    np.multiply(slope * x, x + 3.0 * centre / scale, out=design[:, 2])
    estimate = gls(design, -kelvin, u_c, common_c)
    p0, p1, p2 = estimate.parameters.tolist()
    m, cubed = centre / scale, scale**3
    back = np.array(
        (
            (1.0, -m, 2.0 * m * m * m),
            (0.0, 1.0 / scale, -3.0 * centre * centre / cubed),
            (0.0, 0.0, 1.0 / cubed),
        )
    )
    coefficients = np.array((p0 - m * p1 + back[0, 2] * p2, p1 / scale + back[1, 2] * p2, p2 / cubed))
    root = back @ estimate.root
    return coefficients, root @ root.T
