"""One line of an uncertainty budget, as a person reads it."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class BudgetLine:
    """One line of a budget: an input's standard uncertainty, its slope, and what it contributes.

    Parameters
    ----------
    name : str
        What is uncertain, in plain words.
    identifier : str
        Fixed short name of the term; errors with the same identifier are the same error.
    u_input : float
        Standard uncertainty of the input.
    unit : str
        Unit of the input.
    slope : float
        Change of the result per unit of the input.
    source : str
        Where the figure comes from.

    Examples
    --------
    >>> BudgetLine(name="elevation", identifier="elevation", u_input=2.0, unit="m", slope=-11.2, source="map").u
    22.4
    """

    name: str
    identifier: str
    u_input: float
    unit: str
    slope: float
    source: str

    @property
    def u(self) -> float:
        """Contribution to the standard uncertainty of the result, in the result's unit."""
        return abs(self.slope) * self.u_input


def combined(budget: Iterable[BudgetLine]) -> float:
    """Add independent contributions: the root of the sum of their squares.

    Parameters
    ----------
    budget : iterable of BudgetLine
        Lines whose errors are independent of each other.

    Returns
    -------
    float
        Standard uncertainty of the result, in its unit.

    References
    ----------
    JCGM 100:2008, equation (10).

    Examples
    --------
    >>> line = BudgetLine(name="elevation", identifier="elevation", u_input=2.0, unit="m", slope=-1.5, source="map")
    >>> combined([line])
    3.0
    """
    return math.hypot(*(line.u for line in budget))
