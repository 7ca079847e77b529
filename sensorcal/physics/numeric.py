"""What the laws share: numbers as float arrays, and the refusal to leave a law's range."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sensorcal.errors import InputError

FloatArray = NDArray[np.float64]


def floats(value: ArrayLike) -> FloatArray:
    """Read a number or a sequence of numbers as float64, without copying where that is possible.

    Parameters
    ----------
    value : array_like
        Numbers; scalar or any shape.

    Returns
    -------
    ndarray of float
        The same numbers.

    Examples
    --------
    >>> floats([1, 2]).dtype.name
    'float64'
    """
    return np.asarray(value, dtype=np.float64)


def within(name: str, value: ArrayLike, low: float, high: float, unit: str, do: str = "") -> FloatArray:
    """Hand a quantity on if it lies where its law holds, and refuse it otherwise.

    A missing reading (NaN) stays missing: it is neither inside nor outside.

    Parameters
    ----------
    name : str
        Name of the argument, as the user knows it.
    value : array_like
        The quantity; scalar or any shape.
    low, high : float
        Ends of the range where the law holds, both included.
    unit : str
        Unit, for the message.
    do : str, optional
        What the user can do about a refused value.

    Returns
    -------
    ndarray of float
        The same numbers.

    Raises
    ------
    InputError
        If any number lies outside; the first such number is shown.

    Examples
    --------
    >>> float(within("altitude_m", 640, -5000, 80000, "m"))
    640.0
    """
    numbers = floats(value)
    # fmin and fmax skip missing readings; comparing the two ends costs less than a mask over a long log
    if numbers.size and (np.fmin.reduce(numbers, axis=None) < low or np.fmax.reduce(numbers, axis=None) > high):
        wrong = float(numbers[(numbers < low) | (numbers > high)].flat[0])
        raise InputError(
            f"{name} {wrong:g} {unit} is outside {low:g} to {high:g} {unit}, where this law holds",
            do=do or f"check the number and its unit ({unit})",
        )
    return numbers
