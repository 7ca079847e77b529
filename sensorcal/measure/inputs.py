"""Inputs of a measurement: value, standard uncertainty and distribution, described once for every method."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, get_args

import numpy as np

from sensorcal.errors import InputError

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

Shape = Literal["normal", "rectangular", "triangular", "arcsine", "student"]
"""How an error is distributed: 'rectangular' for limits, 'arcsine' for a swing, 'student' for a u from few readings."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Input:
    """One input quantity.

    Parameters
    ----------
    name : str
    value : float
        Best estimate.
    u : float
        Standard uncertainty, in the unit of `value`.
    shape : {'normal', 'rectangular', 'triangular', 'arcsine', 'student'}
    dof : float
        Degrees of freedom of u; needed for 'student', where u is the scale of the t distribution (s over root n).

    Examples
    --------
    >>> limits("gauge", 400.0, half_width=5.0).u.__round__(3)
    2.887
    """

    name: str
    value: float
    u: float
    shape: Shape = "normal"
    dof: float = math.inf

    def __post_init__(self) -> None:
        """Refuse a negative uncertainty and a distribution nobody knows."""
        if self.shape not in get_args(Shape):
            raise InputError(
                f"{self.name} has the distribution {self.shape!r}", do=f"write one of {', '.join(get_args(Shape))}"
            )
        if not (math.isfinite(self.value) and math.isfinite(self.u) and self.u >= 0.0):
            raise InputError(
                f"{self.name} has value {self.value:g} and standard uncertainty {self.u:g}",
                do="give a number and an uncertainty of zero or more",
            )
        if self.shape == "student" and not (math.isfinite(self.dof) and self.dof >= 1.0):
            raise InputError(f"{self.name} needs its degrees of freedom", do="give dof of one or more")


def limits(name: str, value: float, *, half_width: float) -> Input:
    """Give an input known only to lie within ± half_width: rectangular.

    References
    ----------
    JCGM 100:2008 (GUM), 4.3.7; JCGM 101:2008, 6.4.2.
    """
    return Input(name=name, value=value, u=half_width / math.sqrt(3.0), shape="rectangular")


def standard_draws(
    shape: Shape, size: int | tuple[int, ...], generator: np.random.Generator, dof: float = math.inf
) -> Floats:
    """Draw errors of zero mean and unit standard uncertainty.

    For 'student' the scale is one, so that the spread is the t distribution's own, wider than one.

    References
    ----------
    JCGM 101:2008, 6.4 (rectangular 6.4.2, triangular 6.4.5, arc sine 6.4.6, normal 6.4.7, t 6.4.9).

    Examples
    --------
    >>> z = standard_draws("rectangular", 100_000, np.random.default_rng(1))
    >>> round(float(z.std()), 2), round(float(abs(z).max()), 2)
    (1.0, 1.73)
    """
    if shape == "normal" or (shape == "student" and math.isinf(dof)):
        return generator.standard_normal(size)
    if shape == "student":
        return np.asarray(generator.standard_t(dof, size), dtype=np.float64)
    if shape == "rectangular":
        return np.asarray(generator.uniform(-math.sqrt(3.0), math.sqrt(3.0), size), dtype=np.float64)
    if shape == "triangular":
        reach = math.sqrt(6.0)
        return np.asarray(generator.triangular(-reach, 0.0, reach, size), dtype=np.float64)
    return np.asarray(math.sqrt(2.0) * np.sin(generator.uniform(-np.pi, np.pi, size)), dtype=np.float64)
