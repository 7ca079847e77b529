"""Monitor tables of the invented probes: sizes of errors, fixed rows, units, texts."""

from __future__ import annotations

import numpy as np
import pytest

from sensorcal.errors import TableError
from sensorcal.installed.monitor import MonitorInput
from sensorcal.installed.table import make_table, shown_value
from sensorcal.installed.tabletext import table_csv, table_markdown
from sensorcal.measure import minimax
from tests.probes import j_spline, k_sh

VOLTS = MonitorInput(kind="voltage", pull_up_ohm=1000.0, supply_v=5.0, signal_unit="V", signal_step=0.01)

# rows: even degC in ohm, best on the curve in ohm, even in volts, best on the curve in volts, even in ln ohm,
# even in ohm; worst errors in degC over -20..150 degC with the invented probe J (the project's job map, 3.4).
JOB_MAP = {
    6: (7.6, 5.4, 3.8, 2.1, 1.0, 68),
    8: (4.0, 2.8, 2.2, 1.4, 0.5, 60),
    10: (2.5, 1.7, 1.4, 0.74, 0.3, 54),
    16: (0.93, 0.61, 0.56, 0.27, 0.1, 43),
    20: (0.58, 0.38, 0.36, 0.18, 0.07, 38),
}


@pytest.mark.parametrize("rows", JOB_MAP)
def test_how_many_rows(rows):
    """If this fails, the advice on rows and interpolation rests on wrong figures.

    Tolerances: 2 % of each figure and half its last digit. Best rows on the curve are held to twice the best
    with free values (exact in ohm, where the curvature has one sign; at most that in volts).
    """
    probe = j_spline()
    t = np.linspace(150.0, -20.0, rows)
    r = probe.resistance_ohm(t)
    v = VOLTS.signal(r)
    even_ohm, best_ohm, even_v, best_v, even_ln, even_r = JOB_MAP[rows]
    ohm = minimax.target(probe.temperature_c, r[0], r[-1])
    volts = minimax.target(lambda at: probe.temperature_c(VOLTS.resistance_ohm(at)), v[0], v[-1])
    ln = minimax.target(probe.temperature_c, r[0], r[-1], lines="ln x")
    steps = np.linspace(r[0], r[-1], rows)
    assert abs(minimax.table_error(ohm, r, t)[0]) == pytest.approx(even_ohm, rel=0.02)
    assert abs(minimax.table_error(volts, v, t)[0]) == pytest.approx(even_v, rel=0.02)
    assert abs(minimax.table_error(ln, r, t)[0]) == pytest.approx(even_ln, rel=0.02, abs=0.05)
    assert abs(minimax.table_error(ohm, steps, probe.temperature_c(steps))[0]) == pytest.approx(even_r, abs=0.5)
    assert 2 * abs(minimax.best_unrounded(ohm, rows).worst_error) == pytest.approx(best_ohm, rel=0.02)
    free = abs(minimax.best_unrounded(volts, rows).worst_error)
    assert 0.95 * best_v < 2 * free < 1.05 * best_v


def test_values_free_halve_the_error():
    """If this fails, the table is no better than the best rows on the curve (0.74 degC) or even ones (1.4)."""
    probe = j_spline()
    fine = MonitorInput(
        kind="voltage", pull_up_ohm=1000.0, supply_v=5.0, signal_unit="V", signal_step=0.001, value_step=0.1, rows=10
    )
    table = make_table(probe, fine, from_c=-20, to_c=150)
    assert abs(table.worst_error_c) < 0.74 / 1.85
    assert table.bound_c <= abs(table.worst_error_c) <= 1.1 * table.bound_c


@pytest.mark.parametrize("monitor", [MonitorInput(), VOLTS, MonitorInput(interpolation="linear in ln signal")])
def test_worst_error_is_what_the_monitor_shows(monitor):
    """If this fails, the printed worst error is not that of the table as the monitor reads it."""
    probe = j_spline()
    table = make_table(probe, monitor, from_c=-20, to_c=150, rows=12)
    # The rows themselves belong to the samples: the error has its corners there.
    rows_c = probe.temperature_c(monitor.resistance_ohm(table.signal))
    at = np.sort(np.append(np.linspace(-20, 150, 50_001), rows_c[(rows_c >= -20) & (rows_c <= 150)]))
    apart = shown_value(table, monitor.signal(probe.resistance_ohm(at))) - at
    k = int(np.argmax(np.abs(apart)))
    assert table.worst_error_c == pytest.approx(apart[k], abs=1e-5)
    assert table.worst_at_c == pytest.approx(at[k], abs=0.2)
    assert abs(table.error_c).max() <= abs(table.worst_error_c) + 1e-9
    assert abs(table.worst_error_c) < abs(table.even_worst_error_c)
    for column, step in ((table.signal, monitor.signal_step), (table.value, monitor.value_step)):
        np.testing.assert_allclose(column / step, np.round(column / step), atol=1e-7)


@pytest.mark.parametrize("monitor", [MonitorInput(), VOLTS])
def test_redline_row(monitor):
    """If this fails, the row at the redline is not on the curve, or the table around it shows needlessly cold."""
    probe = j_spline()
    table = make_table(probe, monitor, from_c=-20, to_c=150, at_c=[120.0])
    row = table.forced.index(True)
    assert table.value[row] == 120.0
    exact = float(monitor.signal(probe.resistance_ohm(np.array([120.0])))[0])
    assert abs(table.signal[row] - exact) <= 0.5 * monitor.signal_step
    own = 120.0 - float(probe.temperature_c(monitor.resistance_ohm(table.signal[row])))
    near = np.abs(table.error_at_c - 120.0) <= 5.0
    assert table.error_c[near].min() >= min(own, 0.0) - 1e-6


def test_rows_that_do_not_help_are_left_out():
    """If this fails, the user keys in rows for nothing and is not told that the step is to blame."""
    table = make_table(j_spline(), MonitorInput(rows=32), from_c=-20, to_c=150)
    again = make_table(j_spline(), MonitorInput(rows=32), from_c=-20, to_c=150, rows=table.signal.size)
    fewer = make_table(j_spline(), MonitorInput(rows=32), from_c=-20, to_c=150, rows=table.signal.size - 1)
    assert table.signal.size < 32
    assert "do as well as 32" in table.notes[0]
    assert abs(again.worst_error) == pytest.approx(abs(table.worst_error), abs=1e-6)
    assert abs(fewer.worst_error) > abs(table.worst_error) + 1e-6
    assert table.step_worth == pytest.approx(1 / 1.05, abs=0.01)  # 1.05 ohm a degree at 150 degC


def test_units_of_the_users_choice():
    """If this fails, a table in degF and kohm is not the same physics, or not on its own grid."""
    monitor = MonitorInput(
        signal_unit="kohm", signal_step=0.001, value_unit="degF", value_step=1.0, order="descending", rows=12
    )
    probe = k_sh()
    table = make_table(probe, monitor, from_c=0, to_c=120, at_c=[110])
    assert (np.diff(table.signal) < 0).all()
    assert table.value[table.forced.index(True)] == 230.0
    assert table.worst_error_c == pytest.approx(table.worst_error / 1.8)
    shown_f = shown_value(table, probe.resistance_ohm(np.array([25.0])) / 1000)
    assert shown_f[0] == pytest.approx(77.0, abs=abs(table.worst_error))


def test_extrapolated_rows_carry_the_word():
    """If this fails, rows beyond the tested range pass for calibrated."""
    table = make_table(j_spline(), MonitorInput(), from_c=-20, to_c=150, tested_range_c=(0.0, 97.7))
    assert table.extrapolated == tuple(not 0 <= v <= 97.7 for v in table.value)
    hot = [line for line in table_csv(table).splitlines() if line.startswith("1,")]
    assert "extrapolated" in hot[0]


def test_past_the_ends():
    """If this fails, what the monitor shows beyond its rows is not as found by experiment."""
    shown = {}
    for past_ends in ("holds", "extends", "blank", "unknown"):
        table = make_table(j_spline(), MonitorInput(past_ends=past_ends), from_c=0, to_c=100, rows=6)
        shown[past_ends] = float(shown_value(table, table.signal[-1] * 1.5))
        assert float(shown_value(table, table.signal[-1])) == table.value[-1]
    assert shown["holds"] == table.value[-1]
    assert shown["extends"] < shown["holds"]
    assert np.isnan(shown["blank"])
    assert np.isnan(shown["unknown"])


def test_texts_are_complete_and_repeatable():
    """If this fails, a printed table misses what its reader needs, or two prints of one table differ."""
    texts = []
    for _ in range(2):
        table = make_table(j_spline(), VOLTS, from_c=-20, to_c=150, rows=8, at_c=[120])
        texts.append((table_csv(table), table_markdown(table)))
    assert texts[0] == texts[1]
    for text in texts[0]:
        for word in ("voltage", "1000 ohm pull-up to 5 V", "linear in signal", "-20 to 150 degC", "worst error"):
            assert word in text
    rows = [line for line in texts[0][0].splitlines() if not line.startswith("#")]
    assert rows[0] == "row,signal [V],value [degC],remark"
    assert len(rows) == 1 + table.signal.size


@pytest.mark.parametrize(
    "wrong",
    [
        {"from_c": 150, "to_c": -20},
        {"rows": 1},
        {"rows": 99},
        {"at_c": [119.5]},
        {"at_c": [200.0]},
        {"rows": 2, "at_c": [60.0]},
    ],
)
def test_what_cannot_be_made_is_refused(wrong):
    """If this fails, a table that the monitor cannot hold is printed, or a fixed row moves silently."""
    with pytest.raises(TableError):
        make_table(j_spline(), MonitorInput(), **({"from_c": -20, "to_c": 150} | wrong))
