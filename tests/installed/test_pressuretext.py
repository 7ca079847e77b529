"""Pressure tables and two constants as text, and the monitor's pressure input as the setup describes it."""

from __future__ import annotations

import csv
import io

import pytest

from sensorcal.installed.pressureinput import pressure_input, whole_range
from sensorcal.installed.pressuretable import PressureInput, make_pressure_table
from sensorcal.installed.pressuretext import pressure_csv, pressure_header, pressure_markdown
from sensorcal.installed.twoconstants import two_constants
from sensorcal.monitorsetup import PressureInput as PressureInputSetup
from sensorcal.physics.transducer import RatioPolynomial

LINE = RatioPolynomial.through(zero_ratio=0.1034, span_ratio=0.795, low_pa=0.0, high_pa=1e6)
VOLTS = PressureInput(kind="voltage", supply_v=5.0, signal_step=0.01, value_step=1.0)
PSI = PressureInput(kind="counts", counts_full=1023, signal_step=1.0, value_step=0.5, value_unit="psi")


def rows_of(text: str) -> list[list[str]]:
    """The rows of a CSV without its comments."""
    return list(csv.reader(io.StringIO("".join(line for line in text.splitlines(True) if not line.startswith("#")))))


@pytest.mark.parametrize("monitor", [VOLTS, PSI])
def test_csv_and_markdown_hold_the_rows(monitor):
    """If it failed, a row on paper would not be the row that was found."""
    table = make_pressure_table(LINE, monitor, from_pa=0.0, to_pa=1e6, rows=5)
    head, *rows = rows_of(pressure_csv(table))
    assert head == ["row", f"signal [{monitor.signal_unit}]", f"value [{monitor.value_unit}]", "remark"]
    assert [(float(row[1]), float(row[2])) for row in rows] == [
        (pytest.approx(s), pytest.approx(v)) for s, v in zip(table.signal, table.value, strict=True)
    ]
    marked = [line for line in pressure_markdown(table).splitlines() if line.startswith("| ")][1:]
    assert [[cell.strip() for cell in line.strip("|").split("|")] for line in marked] == rows


def test_header_says_the_worst_error_and_the_supply():
    """If it failed, a table made for 5 V could be keyed in without knowing how good it is, or at what supply."""
    table = make_pressure_table(LINE, VOLTS, from_pa=0.0, to_pa=1e6, rows=5)
    head = "\n".join(pressure_header(table))
    assert "supply 5 V" in head
    assert f"worst error: {abs(table.worst_error_pa) / 1000:.2g} kPa" in head
    assert "Volts hold at a supply of 5 V only" in head
    assert "-0 kPa" not in head


def test_a_row_beyond_the_range_says_so():
    """If it failed, a row at -20 kPa would look like a pressure that somebody wants to see."""
    table = make_pressure_table(LINE, VOLTS, from_pa=0.0, to_pa=1e6, rows=5)
    remarks = {float(row[2]): row[3] for row in rows_of(pressure_csv(table))[1:]}
    assert any(value < 0.0 for value in remarks)
    assert all(("outside the range" in told) == (not 0.0 <= value <= 1000.0) for value, told in remarks.items())
    assert any("no value below zero" in note for note in table.notes)


def test_two_constants_as_text():
    """If it failed, zero and span would stand at other pressures than they were made for."""
    constants = two_constants(LINE, VOLTS, high_pa=1e6, tested_range_pa=(0.0, 800e3))
    rows = rows_of(pressure_csv(constants))
    assert rows[1:] == [["zero", "0.52", "0", ""], ["span", "4.49", "1000", ""]]
    head = "\n".join(pressure_header(constants))
    # 1000 kPa over 4.49 - 0.52 V
    assert "slope: 251.89 kPa per V" in head
    assert "extrapolated" in head
    assert constants.step_worth_pa == pytest.approx(1e6 / 3.97 * 0.01)


def test_setup_describes_the_input():
    """If it failed, a monitor that takes counts would get volts, or a step of a hundredth of a count."""
    counts = pressure_input(PressureInputSetup(signal="counts", counts_full=4095), frozenset())
    assert (counts.kind, counts.counts_full, counts.signal_step) == ("counts", 4095, 1.0)
    stated = pressure_input(
        PressureInputSetup(signal="ratio", signal_step=0.01), frozenset({"pressure_input.signal_step"})
    )
    assert (stated.signal_step, stated.full_signal) == (0.01, 1.0)
    assert pressure_input(PressureInputSetup(signal="ratio"), frozenset()).signal_step == 0.001
    volts = pressure_input(PressureInputSetup(supply_v=4.93), frozenset())
    assert (volts.supply_v, volts.signal_step, volts.rows) == (4.93, 0.01, 8)


def test_ends_that_can_be_keyed_in():
    """If it failed, a monitor in psi would be asked for a row at 145.04 psi."""
    low, high = whole_range(PSI, 0.0, 1e6)
    assert low == 0.0
    assert high / 6894.757293168 == pytest.approx(145.0)
    assert whole_range(VOLTS, 30e3, 200e3) == (30e3, 200e3)
    assert str(whole_range(VOLTS, -0.4e3, 200e3)[0]) == "0.0"
    assert whole_range(PressureInput(value_step=50.0), 1e3, 2e3) == (1e3, 2e3)
