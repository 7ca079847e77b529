"""Columns of a log through the laws: a named pandas column comes back as one with the same rows, an array as an array.

pandas is never imported here: a column is recognised by what it is.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, cast

import numpy as np
from numpy.typing import ArrayLike

from sensorcal.errors import InputError
from sensorcal.physics.numeric import FloatArray, floats

_INHG_PA = 0.0254 * 13_595.1 * 9.80665
_SUSPECTS = (("kPa", 1e3), ("hPa", 1e2), ("inHg", _INHG_PA))

MAP_LOW_PA, MAP_HIGH_PA = 1_000.0, 600_000.0  # absolute pressure that a manifold can have
AMBIENT_LOW_PA, AMBIENT_HIGH_PA = 10_000.0, 110_000.0  # outside air, from below sea level to 16 km
CHARGE_LOW_C, CHARGE_HIGH_C = -60.0, 350.0  # charge air, from winter to behind a compressor


def rows_of(**columns: ArrayLike) -> Callable[[FloatArray], FloatArray]:
    """Check that columns have the same rows, and return what puts a result back on them.

    Parameters
    ----------
    **columns : array_like
        The arguments of a law by name: numbers, arrays or pandas columns.

    Returns
    -------
    callable
        Takes the result as an array. Returns it unchanged where no argument was a pandas column, otherwise as a
        column with the rows (index) of the first one.

    Raises
    ------
    InputError
        If two pandas columns have different rows, which pandas would line up or blank without a word, or if
        lengths do not fit.

    Examples
    --------
    >>> rows_of(map_pa=[90_000.0, 95_000.0])(floats([1.0, 2.0])).tolist()
    [1.0, 2.0]
    """
    first: tuple[str, Any] | None = None
    for name, column in columns.items():
        if not _is_column(column):
            continue
        if first is None:
            first = name, column
        elif not (first[1].index is cast("Any", column).index or first[1].index.equals(cast("Any", column).index)):
            raise InputError(
                f"{first[0]} and {name} have different rows",
                do="take both columns from the same log, or align them first",
            )
    shapes = {name: np.shape(column) for name, column in columns.items()}
    try:
        np.broadcast_shapes(*shapes.values())
    except ValueError:
        told = ", ".join(f"{name} {'x'.join(map(str, shape)) or 'one number'}" for name, shape in shapes.items())
        raise InputError(f"lengths do not fit: {told}", do="give columns of one length, or single numbers") from None
    if first is None:
        return _unchanged
    column = first[1]
    # every result is an array of its own, so that nothing has to be copied once more
    return lambda result: cast("FloatArray", type(column)(result, index=column.index, copy=False))


def absolute(name: str, value: ArrayLike, low_pa: float, high_pa: float) -> FloatArray:
    """Hand on absolute pressures that can be, and refuse any other with a guess at its unit.

    Parameters
    ----------
    name : str
        Name of the argument.
    value : array_like
        Pressures, Pa; a missing reading (NaN) stays missing.
    low_pa, high_pa : float
        Ends of the plausible range, Pa, both included.

    Returns
    -------
    ndarray of float
        The same numbers.

    Raises
    ------
    InputError
        If a pressure lies outside; the first one is shown, with its row where there are several.

    Examples
    --------
    >>> absolute("map_pa", 93.47, MAP_LOW_PA, MAP_HIGH_PA)
    Traceback (most recent call last):
    sensorcal.errors.InputError: map_pa 93.47 Pa is outside 1000 to 600000 Pa absolute; it looks like kPa: \
93.47 kPa is 93470 Pa.
    """
    numbers = floats(value)
    if numbers.size and (np.fmin.reduce(numbers, axis=None) < low_pa or np.fmax.reduce(numbers, axis=None) > high_pa):
        at = int(np.flatnonzero((numbers < low_pa) | (numbers > high_pa))[0])
        wrong = float(numbers.reshape(-1)[at])
        where = f" (value {at + 1} of {numbers.size})" if numbers.size > 1 else ""
        raise InputError(
            f"{name} {wrong:g} Pa{where} is outside {low_pa:.0f} to {high_pa:.0f} Pa absolute",
            do=_pressure_hint(wrong, max(low_pa, 15_000.0), high_pa),
        )
    return numbers


def _pressure_hint(wrong: float, low_pa: float, high_pa: float) -> str:
    if wrong <= 0.0:
        return "give the absolute pressure, not a gauge reading"
    # 29.92 is a pressure in kPa as well, but nobody reads a manifold at 9 km: inches of mercury come first there
    suspects = sorted(_SUSPECTS, key=lambda suspect: suspect[0] != "inHg") if 27.0 <= wrong <= 32.0 else _SUSPECTS
    for unit, factor in suspects:
        if low_pa <= wrong * factor <= high_pa:
            return f"it looks like {unit}: {wrong:g} {unit} is {wrong * factor:.0f} Pa"
    return "give the absolute pressure in Pa and check the unit"


def _is_column(value: object) -> bool:
    """Whether it is a pandas Series, without importing pandas to ask."""
    kind = type(value)
    return any(base.__name__ == "Series" and base.__module__.startswith("pandas") for base in kind.__mro__)


def _unchanged(result: FloatArray) -> FloatArray:
    return result
