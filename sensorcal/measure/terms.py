"""Terms of an uncertainty budget: how large, on which axis, and shared by whom."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from sensorcal.measure.inputs import Shape

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

Axis = Literal["value", "signal"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Term:
    """One source of error of a set of points.

    Parameters
    ----------
    identifier : str
        Name by which other fits recognise a shared term, such as ``'reference:T1'``.
    u : array of float, shape (n,)
        Standard uncertainty at each point: in the measurand's unit for the axis ``'value'``, in the fit's signal
        coordinate (ln R, ratio) for ``'signal'``. A common term is signed: the sign says which way each point
        moves with the others.
    common : bool
        True where one draw moves all points together, False where every point draws its own.
    axis : {'value', 'signal'}
    dof : float
        Degrees of freedom of u; infinite where u is taken as known.
    meaning : str
        The term in plain words, for budgets.
    shape : {'normal', 'rectangular', 'triangular', 'arcsine', 'student'}
        Distribution of the error, for Monte Carlo; least squares needs its u only.
    """

    identifier: str
    u: Floats
    common: bool
    axis: Axis = "value"
    dof: float = float("inf")
    meaning: str = ""
    shape: Shape = "normal"

    def __post_init__(self) -> None:
        u = np.array(self.u, dtype=np.float64, ndmin=1)
        u.setflags(write=False)
        object.__setattr__(self, "u", u)


def term(
    identifier: str,
    u: ArrayLike,
    n: int,
    *,
    common: bool,
    axis: Axis = "value",
    dof: float = float("inf"),
    meaning: str = "",
    shape: Shape = "normal",
) -> Term:
    """Make a term of n points, spreading one number over them.

    Parameters
    ----------
    u : float or array of float, shape (n,)
    n : int
        Number of points.
    """
    return Term(
        identifier=identifier,
        u=np.broadcast_to(np.asarray(u, dtype=np.float64), (n,)),
        common=common,
        axis=axis,
        dof=dof,
        meaning=meaning,
        shape=shape,
    )


def split(terms: tuple[Term, ...], slope: Floats) -> tuple[Floats, Floats, tuple[str, ...]]:
    """Put all terms on the measurand's axis.

    Parameters
    ----------
    terms : tuple of Term
    slope : array, shape (n,)
        d(value)/d(signal coordinate) at each point.

    Returns
    -------
    u : array, shape (n,)
        Independent standard uncertainty of each point.
    common : array, shape (m, n)
        One row a shared term: what one standard uncertainty of it adds to the values, signals held fast.
    identifiers : tuple of str, length m
    """
    n = slope.size
    variance = np.zeros(n)
    rows: list[Floats] = []
    names: list[str] = []
    for t in terms:
        # A signal read too high pairs the point's true value with too high a signal: the curve moves the other way.
        u = t.u * -slope if t.axis == "signal" else t.u
        if not t.common:
            variance += u * u
        elif t.identifier in names:
            # One identifier is one draw, on whichever axis it acts.
            rows[names.index(t.identifier)] = rows[names.index(t.identifier)] + u
        elif np.count_nonzero(u):
            rows.append(u)
            names.append(t.identifier)
    common = np.array(rows) if rows else np.empty((0, n))
    return np.sqrt(variance), common, tuple(names)
