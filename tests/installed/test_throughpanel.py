"""Calibration through the panel: shown values and the keyed table give signals, a fit and a corrected table."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sensorcal.errors import InputError, TableError
from sensorcal.installed.chain import shown
from sensorcal.installed.chainparts import Divider, Wiring
from sensorcal.installed.monitor import MonitorInput
from sensorcal.installed.table import read_rows
from sensorcal.installed.throughpanel import calibrate_through_panel, signal_of_shown
from tests.installed.chains import J_SH, thermistor_chain

OHMS = MonitorInput()
VOLTS = MonitorInput(kind="voltage", pull_up_ohm=1000.0, supply_v=5.0, signal_unit="V", signal_step=0.001)
ROWS_C = np.array([-20.0, 0.0, 25.0, 40.0, 55.0, 70.0, 85.0, 97.7, 110.0, 120.0])
KEYED = J_SH.resistance_ohm(ROWS_C)


def run(true_c, seen, monitor=OHMS, keyed=KEYED, **more):
    """A run of a display in tenths with the ordinary table."""
    options = {"from_c": 0.0, "to_c": 97.0, "monitor": monitor, "keyed_signal": keyed, "keyed_value": ROWS_C, **more}
    return calibrate_through_panel(true_c, seen, **options)


def test_ice_and_steam_through_the_panel():
    """If this fails, 1.2 shown in ice and 96.1 in steam are called one offset, and no proof of the input is asked."""
    found = run([0.0, 97.7], [1.2, 96.1], to_c=120.0)
    assert found.error_c == pytest.approx([1.2, -1.6])
    assert not found.one_offset
    assert "prove the input with 5100 and 200 ohm" in found.notes[0]
    assert any("extrapolated" in note for note in found.notes)


def test_the_corrected_table_shows_the_truth_at_the_points():
    """If this fails, the new table repeats the old one's errors where they were measured."""
    found = run([0.0, 97.7], [1.2, 96.1])
    table = found.table
    order = np.argsort(table.signal)
    shown_c = read_rows(table.monitor, table.signal[order], table.value[order], found.resistance_ohm)
    # The table's own straight lines and 1 ohm at the hot end, 0.2 degC.
    assert shown_c == pytest.approx([0.0, 97.7], abs=0.25)
    assert np.abs(shown_c - found.true_c).max() < np.abs(found.error_c).min() / 3.0


@pytest.mark.parametrize("shift", [1.0, -2.5])
def test_one_offset_is_called_one(shift):
    """If this fails, three displays off by one and the same amount are not called one offset."""
    true = np.array([0.0, 50.0, 95.0])
    found = run(true, np.round(true + shift, 1))
    assert found.one_offset
    assert f"one offset of {shift:+.1f}" in found.notes[0]


@pytest.mark.parametrize(
    ("parts", "what"),
    [
        ({"wiring": Wiring(contact_ohm=6.0)}, "contacts"),
        ({"divider": Divider(pull_ohm=1030.0)}, "pull-up"),
    ],
    ids=["6 ohm of contacts", "pull-up 3 % high"],
)
def test_the_corrected_table_mends_a_real_channel(parts, what):
    """If this fails, a run through wire, pull-up and table leaves the channel as wrong as it was.

    The chain plays the installed channel; a monitor of volts takes the corrected table and must then show the truth
    to 0.4 degC over the run, where the old table was up to 3 degC off.
    """
    assert what
    chain = thermistor_chain(J_SH, **parts)
    at = np.array([0.0, 25.0, 50.0, 75.0, 97.0])
    monitor = replace(VOLTS, rows=16)
    fine = np.linspace(-5.0, 105.0, 56)
    seen = np.round(np.asarray(shown(chain, at)), 1)
    found = calibrate_through_panel(
        at, seen, monitor=monitor, keyed_signal=monitor.signal(J_SH.resistance_ohm(fine)), keyed_value=fine,
        from_c=0.0, to_c=97.0, u_true_c=0.05,
    )  # fmt: skip
    # What the monitor measures in the installed channel, in volts of its nominal circuit.
    check = np.linspace(1.0, 96.0, 40)
    apparent = np.asarray(J_SH.resistance_ohm(np.asarray(shown(chain, check))))
    order = np.argsort(found.table.signal)
    after = read_rows(monitor, found.table.signal[order], found.table.value[order], monitor.signal(apparent)) - check
    before = np.asarray(shown(chain, check)) - check
    assert np.abs(before).max() > 0.8
    assert np.abs(after).max() < 0.4


@pytest.mark.parametrize("monitor", [OHMS, VOLTS, replace(OHMS, interpolation="linear in ln signal")])
def test_signal_of_shown_undoes_reading(monitor):
    """If this fails, what is shown is inverted through another line than the monitor draws."""
    signal = monitor.signal(KEYED)
    order = np.argsort(signal)
    between = np.linspace(signal.min(), signal.max(), 77)
    values = read_rows(monitor, signal[order], ROWS_C[order], between)
    assert signal_of_shown(monitor, signal, ROWS_C, values) == pytest.approx(between, rel=1e-12)


def test_fahrenheit_panels():
    """If this fails, a display in degF is taken for degC: the same run in another unit must give the same ohms."""
    true, seen = np.array([0.0, 50.0, 97.0]), np.array([1.0, 50.5, 96.5])
    celsius = run(true, seen)
    monitor = replace(OHMS, value_unit="degF")
    fahrenheit = calibrate_through_panel(
        true, seen * 1.8 + 32.0, monitor=monitor, keyed_signal=KEYED, keyed_value=ROWS_C * 1.8 + 32.0, from_c=0.0,
        to_c=97.0, display_step=0.18,
    )  # fmt: skip
    assert fahrenheit.resistance_ohm == pytest.approx(celsius.resistance_ohm, rel=1e-9)
    assert fahrenheit.error_c == pytest.approx(celsius.error_c, abs=1e-9)
    assert fahrenheit.one_offset == celsius.one_offset
    assert fahrenheit.calibration.curve.temperature_c(500.0) == pytest.approx(
        celsius.calibration.curve.temperature_c(500.0), abs=1e-6
    )


def test_u_follows_the_display_step():
    """If this fails, whole degrees on the panel claim the curve of tenths."""
    true, seen = np.array([0.0, 50.0, 97.0]), np.array([1.0, 51.0, 96.0])
    tenth, whole = run(true, seen), run(true, seen, display_step=1.0)
    assert whole.u_resistance_ohm[1] == pytest.approx(10.0 * tenth.u_resistance_ohm[1], rel=1e-6)
    # In ohms on a straight line between 40 and 55 degC: the slope of the rows times a step of 1/sqrt(12).
    slope = (KEYED[3] - KEYED[4]) / 15.0
    assert whole.u_resistance_ohm[1] == pytest.approx(slope / np.sqrt(12.0), rel=1e-6)


@pytest.mark.parametrize(
    ("call", "error", "word"),
    [
        (lambda: run([0.0], [1.0]), InputError, "two or more pairs"),
        (lambda: run([0.0, 50.0], [1.0]), InputError, "pairs"),
        (lambda: run([0.0, 97.7], [1.0, 130.0]), TableError, "the keyed table ends at -20 and 120"),
        (lambda: run([0.0, 97.7], [1.0, np.nan]), TableError, "no number"),
        (lambda: run([0.0, 97.7], [1.0, 96.0], keyed=np.append(KEYED[:-1], 300.0)), TableError, "not monotone"),
        (lambda: signal_of_shown(OHMS, [100.0], [50.0], 50.0), TableError, "two rows"),
    ],
    ids=["one pair", "unequal", "beyond", "blank", "not monotone", "one row"],
)
def test_refusals(call, error, word):
    """If this fails, a display at the end of its table, which says nothing of the signal, is inverted all the same."""
    with pytest.raises(error, match=word):
        call()


def test_a_display_step_in_fahrenheit_is_no_wider_than_it_is():
    """If this fails, a step of 1 degF counts as 1 degC where it is judged whether one offset explains the errors."""
    rows = [(5230.0, 32.0), (721.0, 122.0), (172.1, 207.9), (98.2, 248.0)]
    monitor = MonitorInput(value_unit="degF", rows=8)
    # Errors of +0.6 and -0.7 degF: 0.7 degC apart, 2.6 u of their difference; with the step in degC it were 1.6 u.
    run = calibrate_through_panel(
        [0.0, 97.7], [32.6, 207.2], monitor=monitor, keyed_signal=[r for r, _ in rows],
        keyed_value=[t for _, t in rows], from_c=0.0, to_c=97.7, u_true_c=0.1, display_step=1.0,
    )  # fmt: skip
    u = (0.1**2 + (1.0 / 1.8) ** 2 / 12.0) ** 0.5
    apart = float(np.ptp(run.error_c)) / (2.0**0.5 * u)
    assert run.one_offset == (apart**2 <= 3.841)
    assert not run.one_offset  # with the step taken for degC it would be
    assert "°" not in run.notes[0]
    assert "degF" in run.notes[0]
