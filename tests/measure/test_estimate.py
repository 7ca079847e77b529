"""Generalised least squares against the textbook's matrix formula, worked with plain inverses on easy problems."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sensorcal.errors import FitError
from sensorcal.measure.estimate import gain, gls, standard_uncertainty


def _problem(seed, n=7, p=3, m=2):
    rng = np.random.default_rng(seed)
    design = rng.standard_normal((n, p))
    return design, rng.standard_normal(n), rng.uniform(0.5, 2.0, n), rng.standard_normal((m, n))


def _textbook(design, observed, u, common):
    weight = np.linalg.inv(np.diag(u * u) + common.T @ common)
    covariance = np.linalg.inv(design.T @ weight @ design)
    gain_matrix = covariance @ design.T @ weight
    p = gain_matrix @ observed
    residual = observed - design @ p
    return p, covariance, gain_matrix, float(residual @ weight @ residual)


@settings(deadline=None, max_examples=60, derandomize=True)
@given(st.integers(0, 10_000), st.integers(3, 9), st.integers(0, 3))
def test_against_the_formula(seed, n, m):
    """Parameters, covariance, chi-squared or sensitivities would differ from (XᵀV⁻¹X)⁻¹XᵀV⁻¹y."""
    design, observed, u, common = _problem(seed, n=n, m=m)
    p, covariance, gain_matrix, chi_squared = _textbook(design, observed, u, common)
    ours = gls(design, observed, u, common)
    scale = np.sqrt(np.diag(covariance))
    assert ours.parameters / scale == pytest.approx(p / scale, rel=1e-6, abs=1e-6)
    assert ours.covariance / np.outer(scale, scale) == pytest.approx(covariance / np.outer(scale, scale), abs=1e-7)
    assert ours.chi_squared == pytest.approx(chi_squared, rel=1e-6, abs=1e-8)
    assert ours.dof == n - 3
    # one standard uncertainty of a shared term moves the parameters by G times it
    moved = common @ gain_matrix.T / scale
    assert (ours.sensitivities / scale).reshape(m, 3) == pytest.approx(moved.reshape(m, 3), abs=1e-6)
    ours_gain = gain(ours, design, u, common)
    assert ours_gain / scale[:, None] == pytest.approx(gain_matrix / scale[:, None], abs=1e-6)


def test_straight_line_by_hand():
    """A line through 1, 3, 5 at 0, 1, 2 with u 0.1 would not have slope 2 and u(slope) 0.1/√2."""
    line = gls(np.array([[1.0, 0.0], [1.0, 1.0], [1.0, 2.0]]), np.array([1.0, 3.0, 5.0]), np.full(3, 0.1))
    assert line.parameters == pytest.approx([1.0, 2.0])
    assert standard_uncertainty(line, np.array([[0.0, 1.0], [1.0, 1.0]])) == pytest.approx(
        [0.1 / np.sqrt(2.0), 0.1 / np.sqrt(3.0)]
    )


def test_shared_error_of_an_offset_is_not_averaged_down():
    """Ten readings would seem to make the reference they all share ten times less wrong."""
    n = 10
    ours = gls(np.ones((n, 1)), np.zeros(n), np.full(n, 0.1), np.full((1, n), 0.15))
    assert standard_uncertainty(ours, np.ones((1, 1)))[0] == pytest.approx(np.hypot(0.15, 0.1 / np.sqrt(n)))
    assert ours.sensitivities == pytest.approx(np.array([[0.15]]))


def test_doubling_every_u_doubles_u():
    """U would not be in proportion to the stated uncertainties."""
    design, observed, u, common = _problem(5)
    one, two = gls(design, observed, u, common), gls(design, observed, 2.0 * u, 2.0 * common)
    assert two.parameters == pytest.approx(one.parameters, rel=1e-12)
    assert two.root @ two.root.T == pytest.approx(4.0 * one.covariance, rel=1e-12)
    assert two.chi_squared == pytest.approx(one.chi_squared / 4.0, rel=1e-12)


def test_order_of_the_points_does_not_matter():
    """Typing the points in another order would change the curve."""
    design, observed, u, common = _problem(6)
    order = np.random.default_rng(1).permutation(observed.size)
    one, other = gls(design, observed, u, common), gls(design[order], observed[order], u[order], common[:, order])
    assert other.parameters == pytest.approx(one.parameters, rel=1e-10)
    assert other.covariance == pytest.approx(one.covariance, rel=1e-10)


def test_passengers():
    """What the parameters take up of a term left out, or what is left of it, would not be its own fit."""
    design, observed, u, common = _problem(7)
    passenger = np.random.default_rng(2).standard_normal((observed.size, 1))
    ours = gls(design, observed, u, common, passenger)
    alone = gls(design, passenger[:, 0], u, common)
    assert ours.carried[0] == pytest.approx(alone.parameters, rel=1e-10)
    assert float(np.sum(ours.leftover[:, 1] ** 2)) == pytest.approx(alone.chi_squared, rel=1e-10)
    assert float(ours.leftover[0, 0] ** 2) == pytest.approx(ours.chi_squared, rel=1e-12)
    # the fit with the passenger as a fourth parameter has the chi-squared that the second row leaves
    full = gls(np.hstack([design, passenger]), observed, u, common)
    strength = float(np.sum(ours.leftover[:, 1] ** 2))
    explained = float(ours.leftover[0, 0] * ours.leftover[0, 1]) ** 2 / strength
    assert ours.chi_squared - full.chi_squared == pytest.approx(explained, rel=1e-9)


def test_the_inputs_stay_as_they_are():
    """A fit would overwrite the caller's arrays."""
    design, observed, u, common = _problem(8)
    copies = [a.copy() for a in (design, observed, u, common)]
    gls(design, observed, u, common)
    for before, after in zip(copies, (design, observed, u, common), strict=True):
        assert np.array_equal(before, after)


def test_refusals():
    """Too few points, points all alike, or a point without uncertainty would give numbers."""
    design, observed, u, common = _problem(9)
    with pytest.raises(FitError, match="2 points cannot determine 3"):
        gls(design[:2], observed[:2], u[:2])
    with pytest.raises(FitError, match="do not determine"):
        gls(np.ones((5, 2)), np.zeros(5), np.ones(5))
    for shared in (None, np.zeros((0, 7)), common):
        with pytest.raises(FitError, match="no uncertainty of its own"):
            gls(design, observed, np.zeros(7), shared)
