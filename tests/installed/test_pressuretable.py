"""Pressure tables and the two constants: exact lines, bent sensors, fixed rows, units, refusals."""

from __future__ import annotations

import numpy as np
import pytest

from sensorcal.errors import TableError
from sensorcal.installed.pressuretable import PressureInput, make_pressure_table
from sensorcal.installed.twoconstants import two_constants
from sensorcal.physics.transducer import RatioPolynomial, RatioTable

LINE = RatioPolynomial.through(zero_ratio=0.1034, span_ratio=0.795, low_pa=0.0, high_pa=1e6)
BENT = RatioPolynomial(  # bows by 20 kPa in the middle
    coefficients_pa=np.array([520e3, 500e3, -20e3]), centre=0.5, scale=0.4, low_ratio=0.1, high_ratio=0.9
)
RATIO = PressureInput(kind="ratio", signal_step=0.001, value_step=1.0)
VOLTS = PressureInput(kind="voltage", supply_v=5.0, signal_step=0.01, value_step=1.0)
COUNTS = PressureInput(kind="counts", counts_full=1023, signal_step=1.0, value_step=0.1, value_unit="psi")


@pytest.mark.parametrize("monitor", [RATIO, VOLTS, COUNTS])
@pytest.mark.parametrize("curve", [LINE, BENT])
def test_worst_error_is_what_the_monitor_shows(curve, monitor):
    """If this fails, the printed worst error is not that of the keyed rows as the monitor reads them."""
    table = make_pressure_table(curve, monitor, from_pa=0.0, to_pa=1e6, rows=8)
    assert np.all(np.diff(table.signal) > 0)
    # The rows themselves belong to the samples: the error has its corners there.
    rows_pa = curve.pressure_pa(monitor.ratio(table.signal))
    at = np.sort(np.append(np.linspace(0.0, 1e6, 20_001), rows_pa[(rows_pa >= 0.0) & (rows_pa <= 1e6)]))
    apart = table.shown_pa(monitor.signal(curve.ratio(at))) - at
    assert float(np.abs(apart).max()) == pytest.approx(abs(table.worst_error_pa), abs=0.5)
    assert abs(table.worst_error_pa) <= abs(table.even_worst_error_pa) + 1e-6
    assert table.bound_pa <= table.proven_pa <= abs(table.worst_error_pa) + 1e-9
    np.testing.assert_allclose(table.signal / monitor.signal_step, np.round(table.signal / monitor.signal_step))
    np.testing.assert_allclose(table.value / monitor.value_step, np.round(table.value / monitor.value_step), atol=1e-7)


def test_no_other_two_rows_are_better():
    """If this fails, the search misses tables: every table of two rows on a coarse grid is tried here."""
    monitor = PressureInput(kind="ratio", signal_step=0.02, value_step=20.0)
    table = make_pressure_table(BENT, monitor, from_pa=0.0, to_pa=1e6, rows=2, outside_pa=70e3)
    at = np.linspace(0.0, 1e6, 2001)
    ratio = BENT.ratio(at)
    least = np.inf
    for x0 in np.arange(0.06, 0.1001, 0.02):
        for x1 in np.arange(0.9, 0.9401, 0.02):
            for y0 in np.arange(-100e3, 101e3, 20e3):
                for y1 in np.arange(900e3, 1101e3, 20e3):
                    shown = y0 + (ratio - x0) * (y1 - y0) / (x1 - x0)
                    least = min(least, float(np.abs(shown - at).max()))
    assert abs(table.worst_error_pa) <= least * 1.001  # the grid of pressures may miss the very worst by little


@pytest.mark.parametrize(("kind", "step"), [("ratio", 0.001), ("voltage", 0.01)])
def test_rows_on_the_steps_just_beyond_the_range_are_found(kind, step):
    """If this fails, a range that ends 0.03 of a step before a row is said to have no table at all."""
    nearly = RatioPolynomial.through(zero_ratio=0.10102883, span_ratio=0.79884959, low_pa=0.0, high_pa=1e6)
    monitor = PressureInput(kind=kind, supply_v=5.0, signal_step=step, value_step=1.0)
    table = make_pressure_table(nearly, monitor, from_pa=0.0, to_pa=1e6, rows=8, outside_pa=0.0)
    assert monitor.ratio(table.signal[[0, -1]]) == pytest.approx([0.101 if kind == "ratio" else 0.1, 0.9])
    assert abs(table.worst_error_pa) < 2.0 * table.step_worth_pa


def test_more_rows_bend_with_the_sensor():
    """A bow of 20 kPa in a straight table would stay 10 kPa; with free rows it falls with their number squared."""
    fine = PressureInput(kind="ratio", signal_step=0.001, value_step=0.5)
    worst = {n: abs(make_pressure_table(BENT, fine, from_pa=0, to_pa=1e6, rows=n).worst_error_pa) for n in (2, 3, 5)}
    assert worst[2] == pytest.approx(10e3, rel=0.02)
    assert worst[3] == pytest.approx(10e3 / 4, rel=0.1)
    assert worst[5] == pytest.approx(10e3 / 16, rel=0.4)


def test_a_very_fine_grid_says_what_it_left():
    """If this fails, a fine grid takes minutes, or claims to be the best without proof."""
    fine = PressureInput(kind="voltage", supply_v=5.0, signal_step=0.001, value_step=0.1)
    table = make_pressure_table(BENT, fine, from_pa=0.0, to_pa=1e6, rows=8)
    assert table.proven_pa == table.bound_pa < abs(table.worst_error_pa) < 1.5 * table.bound_pa
    assert any("could gain" in note for note in table.notes)


def test_row_at_the_low_limit():
    """If this fails, the row at the limit does not lie on the curve to half a step."""
    table = make_pressure_table(BENT, VOLTS, from_pa=0.0, to_pa=1e6, rows=6, at_pa=[150e3])
    row = table.forced.index(True)
    assert table.value[row] == 150.0
    assert abs(table.signal[row] - 5.0 * float(BENT.ratio(150e3))) <= 0.005 + 1e-9


def test_rows_beyond_the_tested_range_say_so():
    """If this fails, a pressure that nobody tested is keyed in as if it had been."""
    table = make_pressure_table(BENT, RATIO, from_pa=0.0, to_pa=1e6, rows=6, tested_range_pa=(0.0, 600e3))
    assert table.extrapolated == tuple(bool(v > 605.0 or v < -5.0) for v in table.value)
    assert any("extrapolated" in note for note in table.notes)


def test_a_curve_of_points_can_be_tabulated():
    """If this fails, sensors whose curve is the tested points themselves get no table."""
    knots = RatioTable(knots_ratio=[0.1, 0.3, 0.5, 0.7, 0.9], coefficients_pa=[0.0, 255e3, 495e3, 752e3, 1e6])
    table = make_pressure_table(knots, RATIO, from_pa=0.0, to_pa=1e6, rows=8)
    assert abs(table.worst_error_pa) < 1500.0


def test_two_constants_of_a_line_and_of_a_bow():
    """If this fails, zero and span are not the best line: rounding alone for a line, half the bow for a bent one."""
    fine = PressureInput(kind="ratio", signal_step=1e-5)
    straight = two_constants(LINE, fine, high_pa=1e6)
    assert straight.zero_signal == pytest.approx(0.1034, abs=1e-9)
    assert straight.full_signal == pytest.approx(0.8984, abs=1e-9)
    assert abs(straight.worst_error_pa) < 1.0
    bent = two_constants(BENT, fine, high_pa=1e6)
    assert abs(bent.worst_error_pa) == pytest.approx(10e3, rel=0.02)
    shown = bent.shown_pa(BENT.ratio(np.array([0.0, 0.5e6, 1e6]))) - np.array([0.0, 0.5e6, 1e6])
    assert np.all(np.abs(shown) <= abs(bent.worst_error_pa) + 1e-6)
    coarse = two_constants(LINE, VOLTS, high_pa=1e6)
    per_step = 1e6 / (0.795 * 5.0) * 0.01
    assert abs(coarse.worst_error_pa) <= 0.5 * per_step * 1.01


@pytest.mark.parametrize(
    ("make", "told"),
    [
        (lambda: PressureInput(kind="voltage"), "supply"),
        (lambda: PressureInput(kind="voltage", supply_v=0.0), "supply"),
        (lambda: PressureInput(kind="counts"), "full count"),
        (lambda: PressureInput(value_unit="degC"), "degC"),
        (lambda: PressureInput(signal_step=0.0), "signal_step"),
        (lambda: make_pressure_table(LINE, RATIO, from_pa=1e6, to_pa=0.0), "empty"),
        (lambda: make_pressure_table(LINE, RATIO, from_pa=0.0, to_pa=1e6, rows=17), "17 rows"),
        (lambda: make_pressure_table(LINE, RATIO, from_pa=0.0, to_pa=1e6, at_pa=[150.4e3]), "150.4 kPa"),
        (lambda: make_pressure_table(LINE, RATIO, from_pa=0.0, to_pa=1e6, at_pa=[2e6]), "outside the range"),
        (lambda: two_constants(LINE, RATIO, low_pa=1e6, high_pa=0.0), "empty"),
    ],
)
def test_one_clear_line(make, told):
    """Bad input would end in a traceback, or in a line that does not name what is wrong."""
    with pytest.raises(TableError, match=told):
        make()
