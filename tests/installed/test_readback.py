"""Slips found by reading the keyed table back."""

from __future__ import annotations

import numpy as np
import pytest

from sensorcal.errors import TableError
from sensorcal.installed.monitor import MonitorInput
from sensorcal.installed.readback import keyed_in_order, read_back
from sensorcal.installed.table import make_table
from tests.probes import j_spline


@pytest.fixture(scope="module")
def table():
    """A table with a row at 172 ohm, the steam point of the invented scenario, read in tenths of a degree."""
    monitor = MonitorInput(rows=10, value_step=0.1, past_ends="holds")
    made = make_table(j_spline(), monitor, from_c=-20, to_c=150, at_c=[97.7])
    assert 172.0 in made.signal
    return made


def test_nothing_to_say(table):
    """If this fails, a table keyed as made is accused."""
    assert read_back(table, table.signal, table.value) == []


def test_transposed_digits(table):
    """If this fails, 172 keyed as 127, which stays in order, is not found with its 11.8 degC.

    The table's own readings count as true, so its worst error (1 degC) bounds the tolerance.
    """
    keyed = table.signal.copy()
    row = int(np.flatnonzero(keyed == 172.0)[0])
    keyed[row] = 127.0
    slip = read_back(table, keyed, table.value)
    assert len(slip) == 1
    assert slip[0].row == row + 1
    assert slip[0].likely == "digits transposed"
    assert keyed_in_order(table, keyed, table.value)
    assert slip[0].error_c == pytest.approx(-11.8, abs=0.4)
    assert slip[0].true_c == pytest.approx(109.5, abs=0.4)
    assert "cold, digits transposed" in slip[0].sentence()


@pytest.mark.parametrize(
    ("made", "keyed", "likely"),
    [
        ("172", "1720", "decimal point or a zero misplaced"),
        ("172", "12", "a digit left out"),
        ("172", "1172", "a digit keyed twice or added"),
        ("172", "173", "one digit wrong"),
        ("172", "271", "digits transposed"),
        ("172", "999", "no known slip"),
    ],
)
def test_named_slips(table, made, keyed, likely):
    """If this fails, the slip that explains an entry is named wrongly."""
    signal = table.signal.copy()
    signal[table.signal == float(made)] = float(keyed)
    assert [s.likely for s in read_back(table, signal, table.value)] == [likely]


def test_swapped_rows(table):
    """If this fails, two values in each other's place look like two unknown slips."""
    value = table.value.copy()
    value[[2, 3]] = value[[3, 2]]
    slips = read_back(table, table.signal, value)
    assert [s.row for s in slips] == [3, 4]
    assert {s.likely for s in slips} == {"rows 3 and 4 swapped"}
    assert not keyed_in_order(table, table.signal, value)


def test_missing_row(table):
    """If this fails, a table with a row left out is compared row by row with the wrong rows."""
    with pytest.raises(TableError, match="rows read back"):
        read_back(table, table.signal[1:], table.value[1:])
