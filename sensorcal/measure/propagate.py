"""The law of propagation for a result of a few inputs, some of whose errors are correlated."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np

from sensorcal.errors import InputError

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]


def correlation_matrix(size: int, pairs: Mapping[tuple[int, int], float]) -> Floats:
    """Write the correlation matrix of a few inputs from the pairs that are correlated.

    Parameters
    ----------
    size : int
        Number of inputs.
    pairs : mapping of (i, j) to float
        Correlation of input i with input j, -1 to 1; pairs left out are uncorrelated.

    Returns
    -------
    array, shape (size, size)

    Raises
    ------
    InputError
        If a correlation lies outside -1 to 1, or the correlations contradict each other.

    References
    ----------
    JCGM 100:2008 (GUM), 5.2.2, equation (14).

    Examples
    --------
    >>> correlation_matrix(2, {(0, 1): 0.95}).tolist()
    [[1.0, 0.95], [0.95, 1.0]]
    """
    matrix = np.eye(size)
    for (i, j), r in pairs.items():
        if not -1.0 <= r <= 1.0:
            raise InputError(
                f"correlation {r:g} is outside -1 to 1", do="give the share of the variance held in common"
            )
        matrix[i, j] = matrix[j, i] = r
    if np.linalg.eigvalsh(matrix)[0] < -1e-9:
        raise InputError(
            "the correlations contradict each other", do="two inputs that both follow a third also follow one another"
        )
    return matrix


def propagated_u(slopes: Sequence[float], u: Sequence[float], correlation: Floats | None = None) -> float:
    """Combine the standard uncertainties of a few inputs into that of the result.

    Parameters
    ----------
    slopes : sequence of float
        Change of the result with each input.
    u : sequence of float
        Standard uncertainty of each input, zero or more.
    correlation : array, shape (n, n), optional
        Correlation matrix of the inputs' errors; independent if left out.

    Returns
    -------
    float
        Standard uncertainty of the result.

    Raises
    ------
    InputError
        If an uncertainty is negative or not a number.

    References
    ----------
    JCGM 100:2008 (GUM), equations (10) and (16).

    Examples
    --------
    >>> propagated_u([1.0, -1.0], [0.3, 0.4])
    0.5
    >>> round(propagated_u([1.0, -1.0], [0.3, 0.3], correlation_matrix(2, {(0, 1): 1.0})), 12)
    0.0
    """
    for value in u:
        if not (math.isfinite(value) and value >= 0.0):
            raise InputError(f"standard uncertainty {value:g} is negative or not a number", do="give zero or more")
    parts = np.array(slopes, dtype=np.float64) * np.array(u, dtype=np.float64)
    if correlation is None:
        return math.sqrt(float(parts @ parts))
    return math.sqrt(max(float(parts @ correlation @ parts), 0.0))
