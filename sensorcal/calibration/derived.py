"""A figure worked out from a few readings, with its uncertainty, what each reading adds, and what they share."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from sensorcal.bench.budgetline import BudgetLine
from sensorcal.measure.interval import coverage_factor
from sensorcal.measure.propagate import correlation_matrix, propagated_u


@dataclass(frozen=True, slots=True, kw_only=True)
class Derived:
    """A figure worked out from several readings, with its uncertainty.

    Parameters
    ----------
    name : str
    value, u : float
        The figure and its standard uncertainty, in `unit`.
    unit : str
        '1' for a ratio, 'degC', 'Pa' or 'kg/m3'.
    budget : tuple of BudgetLine
        What each input contributes on its own; with correlations the squares do not simply add up.
    correlations : tuple of (identifier, identifier, float)
        Pairs of inputs whose errors are correlated.
    cautions : tuple of str
    """

    name: str
    value: float
    u: float
    unit: str
    budget: tuple[BudgetLine, ...]
    correlations: tuple[tuple[str, str, float], ...] = ()
    cautions: tuple[str, ...] = ()

    def expanded(self, k: float | None = None) -> float:
        """Half-width U = k u; k for 19 times in 20 where it is left out."""
        return (coverage_factor() if k is None else k) * self.u


def derive(
    *,
    name: str,
    value: float,
    unit: str,
    inputs: tuple[tuple[str, str, float, str, float], ...],
    pairs: Mapping[tuple[int, int], float],
    cautions: tuple[str, ...],
) -> Derived:
    """Put a figure, its inputs and the correlations of their errors together.

    Parameters
    ----------
    name, unit : str
    value : float
    inputs : tuple of (name, identifier, u, unit, slope)
        Slope: change of the figure per unit of the input.
    pairs : mapping of (i, j) to float
        Correlation of the errors of two inputs by their places.
    cautions : tuple of str

    Returns
    -------
    Derived

    Raises
    ------
    InputError
        If an uncertainty is negative, or the correlations cannot be.

    References
    ----------
    JCGM 100:2008 (GUM), equation (16).

    Examples
    --------
    >>> inputs = (("first", "a", 0.3, "Pa", 1.0), ("second", "b", 0.4, "Pa", -1.0))
    >>> derive(name="difference", value=2.0, unit="Pa", inputs=inputs, pairs={}, cautions=()).u
    0.5
    """
    u = propagated_u(
        [entry[4] for entry in inputs], [entry[2] for entry in inputs], correlation_matrix(len(inputs), pairs)
    )
    return Derived(
        name=name,
        value=value,
        u=u,
        unit=unit,
        budget=tuple(
            BudgetLine(name=told, identifier=key, u_input=u_in, unit=of, slope=slope, source="as given")
            for told, key, u_in, of, slope in inputs
        ),
        correlations=tuple((inputs[i][1], inputs[j][1], r) for (i, j), r in pairs.items() if r != 0.0),
        cautions=cautions,
    )
