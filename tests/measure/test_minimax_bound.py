"""The lower bound and unrounded tables, against closed forms and an independent fit."""

from __future__ import annotations

import numpy as np
import pytest

from sensorcal.measure import minimax
from tests.probes import j_sh, j_spline, k_sh


def targets(probe, pull_up_ohm, lines="x"):
    """Tables of a probe over -20..150 degC, in ohm and in volts on 5 V."""
    low, high = probe.resistance_ohm(np.array([150.0, -20.0]))
    ohm = minimax.target(probe.temperature_c, low, high, lines=lines)
    volts = minimax.target(
        lambda v: probe.temperature_c(pull_up_ohm * v / (5.0 - v)),
        5.0 * low / (low + pull_up_ohm),
        5.0 * high / (high + pull_up_ohm),
    )
    return ohm, volts


def test_parabola_in_closed_form():
    """If this fails, the bound is wrong where it is known: f'' L^2 / (16 n^2)."""
    curve = minimax.target(lambda x: x**2 + x, 0.0, 4.0)
    for rows in (2, 3, 5, 9):
        n = rows - 1
        assert minimax.bound(curve, rows) == pytest.approx(2 * 16 / (16 * n**2), rel=1e-8)
        best = minimax.best_unrounded(curve, rows)
        assert abs(best.worst_error) == pytest.approx(2 * 16 / (16 * n**2), rel=1e-7)
        np.testing.assert_allclose(best.x, np.linspace(0, 4, rows), atol=1e-6)


def test_bound_across_an_inflection():
    """If this fails, the bound is not that of the best single line on a curve with an inflection.

    For x^3 on [-1, 1] the best line is 3x/4 with error 1/4 (Chebyshev polynomial T3, from memory, checked here
    by the closed form). The curve is tilted so that it rises; a tilt changes no error of a best line.
    """
    curve = minimax.target(lambda x: x**3 + 3 * x, -1.0, 1.0)
    assert minimax.bound(curve, 2) == pytest.approx(0.25, rel=1e-5)
    assert minimax.bound(curve, 2) <= 0.25


# Bounds printed in the anchors of this project (degC): computed there by an independent prototype, to 3 digits.
K_OHM = {5: 4.54, 8: 1.51, 10: 0.920, 12: 0.617, 16: 0.333, 20: 0.207, 32: 0.0781}
K_VOLTS = {5: 2.24, 8: 0.633, 10: 0.399, 12: 0.274, 16: 0.152, 20: 0.0964, 32: 0.0368}


def test_bounds_of_an_independent_prototype():
    """If this fails, our bound and that of an independent computation differ by more than its sampling."""
    ohm, volts = targets(k_sh(), 2200.0)
    for rows, printed in K_OHM.items():
        assert minimax.bound(ohm, rows) == pytest.approx(printed, rel=0.004)
    for rows, printed in K_VOLTS.items():
        assert minimax.bound(volts, rows) == pytest.approx(printed, rel=0.004)


@pytest.mark.parametrize("probe", [j_spline, j_sh, k_sh])
def test_unrounded_tables_reach_the_bound(probe):
    """If this fails, unrounded tables are worse than promised: 1.001 of the bound in ohm, 1.06 in volts."""
    ohm, volts = targets(probe(), 1000.0)
    for rows in (5, 8, 16):
        best = minimax.best_unrounded(ohm, rows)
        assert best.bound <= abs(best.worst_error) <= 1.001 * best.bound
        best = minimax.best_unrounded(volts, rows)
        assert best.bound * (1 - 1e-6) <= abs(best.worst_error) <= (1.06 if rows < 8 else 1.05) * best.bound


def test_read_table_and_errors_agree():
    """If this fails, the worst error printed is not that of the table as it is read."""
    probe = j_spline()
    low, high = probe.resistance_ohm(np.array([150.0, -20.0]))
    for lines in ("x", "ln x"):
        curve = minimax.target(probe.temperature_c, low, high, lines=lines)
        x = np.array([50.0, 98.0, 300.0, 2000.0, 14100.0])
        y = np.array([150.0, 120.0, 78.0, 22.0, -20.0])
        at = np.geomspace(low, high, 400_001)
        apart = minimax.read_table(x, y, at, lines=lines) - probe.temperature_c(at)
        k = int(np.argmax(np.abs(apart)))
        error, where = minimax.table_error(curve, x, y)
        assert error == pytest.approx(apart[k], abs=1e-7)
        assert where == pytest.approx(at[k], rel=1e-3)
