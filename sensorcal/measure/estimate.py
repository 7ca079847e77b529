"""Generalised least squares of a model linear in its parameters, with errors shared between observations."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Any

import numpy as np

from sensorcal.errors import FitError

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Estimate:
    """Parameters, their covariance and what is needed to judge both.

    Parameters
    ----------
    parameters : array, shape (p,)
    root : array, shape (p, p)
        Upper triangular; ``root @ root.T`` is the covariance of the parameters. Keeping the factor, not the
        product, keeps the digits: u of a combination a is the length of ``a @ root``.
    sensitivities : array, shape (m, p)
        Change of the parameters for one standard uncertainty of each shared term.
    chi_squared : float
        Weighted sum of squares of the residuals, prior rows included.
    dof : int
        Observations, prior rows included, minus parameters.
    carried : array, shape (k, p)
        Each passenger column fitted by the model: what the parameters would take up of it.
    leftover : array, shape (at most k + 1, k + 1)
        Triangle of what the model leaves of the observations and the passengers, whitened: its column 0 is the
        observations' (one entry, the root of chi-squared), the others the passengers'.
    """

    parameters: Floats
    root: Floats
    sensitivities: Floats
    chi_squared: float
    dof: int
    carried: Floats
    leftover: Floats

    @property
    def covariance(self) -> Floats:
        """Covariance of the parameters, shape (p, p)."""
        return self.root @ self.root.T


@cache
def _lapack() -> tuple[Any, ...]:
    from scipy.linalg import lapack

    return lapack.dpotrf, lapack.dtrtrs, lapack.dgeqrf, lapack.dtrtri


@cache
def _upper(p: int) -> Floats:
    return np.triu(np.ones((p, p)))


def gls(
    design: Floats,
    observed: Floats,
    u: Floats,
    common: Floats | None = None,
    passengers: Floats | None = None,
) -> Estimate:
    """Fit ``observed = design @ parameters`` with independent and shared errors of known size.

    The covariance of the observations is ``diag(u²) + commonᵀ common``. It is factored (Cholesky), the whitened
    design by Householder QR; the right-hand sides, and the shared terms for their sensitivities, ride along as
    further columns, so nothing is inverted and nothing is squared.

    Parameters
    ----------
    design : array, shape (n, p)
        One row an observation; rows of prior knowledge are ordinary rows.
    observed : array, shape (n,)
    u : array, shape (n,)
        Independent standard uncertainty of each observation, > 0.
    common : array, shape (m, n), optional
        Each row: how far one standard uncertainty of a shared term moves every observation.
    passengers : array, shape (n, k), optional
        Columns that are not fitted but carried through, such as the next term of a series.

    Returns
    -------
    Estimate

    Raises
    ------
    FitError
        Fewer observations than parameters, observations that do not determine them, or an uncertainty of zero.

    References
    ----------
    Aitken A.C. (1935), On least squares and linear combinations of observations, Proc. R. Soc. Edinburgh 55;
    JCGM 100:2008 (GUM), H.3.

    Examples
    --------
    >>> import numpy as np
    >>> line = gls(np.array([[1.0, 0.0], [1.0, 1.0], [1.0, 2.0]]), np.array([1.0, 3.0, 5.0]), np.full(3, 0.1))
    >>> line.parameters.round(6).tolist(), line.dof
    ([1.0, 2.0], 1)
    """
    dpotrf, dtrtrs, dgeqrf, dtrtri = _lapack()
    n, p = design.shape
    if n < p:
        raise FitError(
            f"{n} points cannot determine {p} coefficients",
            do="take more points, add a shape prior, or ask for the two-term Beta curve",
        )
    m = 0 if common is None else common.shape[0]
    k = 0 if passengers is None else passengers.shape[1]
    work = np.empty((n, p + 1 + k + m), order="F")
    work[:, :p] = design
    work[:, p] = observed
    if passengers is not None:
        work[:, p + 1 : p + 1 + k] = passengers
    if common is not None and m:
        work[:, p + 1 + k :] = common.T
        variance = common.T @ common
        variance.ravel()[:: n + 1] += u * u
        factor, info = dpotrf(variance, lower=1, overwrite_a=1)
        if info == 0:
            work, info = dtrtrs(factor, work, lower=1, overwrite_b=1)
        if info != 0:
            raise FitError("an observation has no uncertainty of its own", do="state one above zero for each point")
    else:
        if 0.0 in u.tolist():
            raise FitError("an observation has no uncertainty of its own", do="state one above zero for each point")
        work /= u[:, None]
    qr, _, _, info = dgeqrf(work, overwrite_a=1)
    top = qr[:p, :p]
    diagonal = [abs(d) for d in top.diagonal().tolist()]
    inverse, info = dtrtri(top, lower=0)
    if info != 0 or min(diagonal) <= 1e-13 * max(diagonal):
        raise FitError(
            "the points do not determine the curve: too few different ones",
            do="take points further apart, or ask for fewer coefficients",
        )
    root = inverse * _upper(p)
    # A shared term's column of QᵀL⁻¹c, pulled back through R, is its sensitivity; so is the solution itself.
    solved = root @ qr[:p, p:]
    return Estimate(
        parameters=solved[:, 0],
        root=root,
        sensitivities=solved[:, 1 + k :].T,
        chi_squared=float(qr[p, p] ** 2) if n > p else 0.0,
        dof=n - p,
        carried=solved[:, 1 : 1 + k].T,
        leftover=qr[p : p + 1 + k, p : p + 1 + k] * _upper(1 + k)[: n - p],
    )


def standard_uncertainty(estimate: Estimate, rows: Floats) -> Floats:
    """Return u of the combinations ``rows @ parameters``, rows of shape (k, p); shape (k,)."""
    product = rows @ estimate.root
    return np.asarray(np.sqrt(np.einsum("ij,ij->i", product, product)), dtype=np.float64)


def gain(estimate: Estimate, design: Floats, u: Floats, common: Floats | None = None) -> Floats:
    """Return the matrix G with ``parameters = G @ observed``, shape (p, n); rows of the prior included."""
    n = design.shape[0]
    variance = np.diag(u * u)
    if common is not None and common.size:
        variance = variance + common.T @ common
    # G = cov Xᵀ V⁻¹; V is solved for, never inverted.
    weighted = np.linalg.solve(variance, design).T
    out = estimate.root @ (estimate.root.T @ weighted)
    return np.asarray(out.reshape(-1, n), dtype=np.float64)
