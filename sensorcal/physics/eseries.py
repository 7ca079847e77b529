"""Preferred values of resistors: the E24 and E96 series."""

from __future__ import annotations

from typing import Literal

import numpy as np

from sensorcal.errors import InputError
from sensorcal.physics.numeric import FloatArray

Series = Literal["E24", "E96"]

# Eight values of E24 were kept from before the rule: they differ from the rounded power of ten.
_E24_KEPT = {10: 2.7, 11: 3.0, 12: 3.3, 13: 3.6, 14: 3.9, 15: 4.3, 16: 4.7, 22: 8.2}


def preferred_ohm(series: Series = "E24", low_ohm: float = 1.0, high_ohm: float = 1e6) -> FloatArray:
    """List the preferred resistances of a series between two limits, rising, ohm.

    Parameters
    ----------
    series : {'E24', 'E96'}
        24 or 96 values a decade.
    low_ohm, high_ohm : float
        Limits, both included.

    Returns
    -------
    ndarray

    Raises
    ------
    InputError
        If the limits are not positive and rising, or the series is not known.

    References
    ----------
    IEC 60063 (from memory): powers of ten to the 1/24 or 1/96, rounded to two or three digits; eight values of E24
    differ from that rule.

    Examples
    --------
    >>> [float(ohm) for ohm in preferred_ohm("E24", 100.0, 150.0)]
    [100.0, 110.0, 120.0, 130.0, 150.0]
    """
    if series not in {"E24", "E96"}:
        raise InputError(f"{series!r} is no series known here", do="use 'E24' or 'E96'")
    if not 0.0 < low_ohm <= high_ohm < np.inf:
        raise InputError(f"no resistor lies between {low_ohm:g} and {high_ohm:g} ohm", do="give the lower limit first")
    count = int(series[1:])
    digits = 1 if series == "E24" else 2
    decade = np.round(10.0 ** (np.arange(count) / count), digits)
    if series == "E24":
        for index, kept in _E24_KEPT.items():
            decade[index] = kept
    first, last = int(np.floor(np.log10(low_ohm))) - 1, int(np.floor(np.log10(high_ohm))) + 1
    values = np.concatenate([np.round(decade * 10.0**power, digits + 6) for power in range(first, last + 1)])
    return np.asarray(values[(values >= low_ohm * (1 - 1e-12)) & (values <= high_ohm * (1 + 1e-12))])
