"""The monitor found by experiment: which line between rows, what beyond the ends, and what to plug in next."""

from __future__ import annotations

import numpy as np
import pytest

from sensorcal.errors import InputError, TableError
from sensorcal.installed.interpolation import (
    PASTS,
    KeyedTable,
    Plugged,
    find_interpolation,
    next_resistor,
    shown_value,
)  # fmt: skip
from sensorcal.physics.eseries import preferred_ohm

TABLE = KeyedTable(resistance_ohm=[721.0, 325.0], value=[50.0, 75.0], pull_up_ohm=1000.0)


@pytest.mark.parametrize(
    ("shown", "line"), [(62.5, "ln ohms"), (63.4, "volts"), (65.0, "ohms")], ids=["ln ohms", "volts", "ohms"]
)
def test_one_resistor_tells_the_line(shown, line):
    """485 ohm between rows at 50 and 75 degC must tell the three lines apart: a table for the wrong one is useless."""
    found = find_interpolation(TABLE, [Plugged(resistance_ohm=485.0, shown=shown)])
    assert found.line[line] > 0.99
    assert found.fits
    assert f"straight line in {line}" in found.verdict
    assert sum(found.line.values()) == pytest.approx(1.0)


@pytest.mark.parametrize("shown", [60.0, 70.0])
def test_none_fits(shown):
    """A display on none of the lines must not be called one of them."""
    assert not find_interpolation(TABLE, [Plugged(resistance_ohm=485.0, shown=shown)]).fits


@pytest.mark.parametrize("line", TABLE.lines)
@pytest.mark.parametrize("past", PASTS)
def test_every_monitor_is_found(line, past):
    """Two resistors chosen by expected information must find any of the nine monitors."""
    table = KeyedTable(resistance_ohm=[5230, 721.0, 325.0, 98.0], value=[0, 50.0, 75.0, 120], pull_up_ohm=1000.0)
    drawer = preferred_ohm("E24", 51.0, 10000.0)
    plugged, found = [], None
    for _ in range(2):
        ohm = next_resistor(table, drawer, found).resistance_ohm
        value = float(shown_value(table, ohm, line, past))
        plugged.append(Plugged(resistance_ohm=ohm, shown=None if np.isnan(value) else round(value, 1)))
        found = find_interpolation(table, plugged)
    if found.joint[line, past] < 0.95:
        ohm = next_resistor(table, drawer, found).resistance_ohm
        value = float(shown_value(table, ohm, line, past))
        plugged.append(Plugged(resistance_ohm=ohm, shown=None if np.isnan(value) else round(value, 1)))
        found = find_interpolation(table, plugged)
    assert found.joint[line, past] > 0.95


def test_coarse_display_stays_undecided():
    """With whole degrees and a 5 % resistor the lines in ln ohms and volts differ by less than can be seen."""
    table = KeyedTable(resistance_ohm=[721.0, 325.0], value=[50.0, 75.0], pull_up_ohm=1000.0, step=1.0)
    found = find_interpolation(table, [Plugged(resistance_ohm=485.0, shown=63.0, tolerance_ratio=0.05)])
    assert max(found.line.values()) < 0.95
    assert "undecided" in found.verdict


def test_order_and_slip():
    """The order of the resistors is no evidence, and one misread display must not outvote three good ones."""
    pairs = [Plugged(resistance_ohm=r, shown=round(float(shown_value(TABLE, r, "volts")), 1)) for r in (400, 485, 560)]
    pairs.append(Plugged(resistance_ohm=485.0, shown=62.4))
    one, other = find_interpolation(TABLE, pairs), find_interpolation(TABLE, pairs[::-1])
    assert one.line["volts"] == pytest.approx(other.line["volts"])
    assert one.line["volts"] > 0.95


def test_refusals():
    """A blank between rows is a wiring fault, and an empty experiment no finding."""
    with pytest.raises(InputError):
        find_interpolation(TABLE, [Plugged(resistance_ohm=485.0, shown=None)])
    with pytest.raises(InputError):
        find_interpolation(TABLE, [])
    with pytest.raises(TableError):
        shown_value(KeyedTable(resistance_ohm=[721.0, 325.0], value=[50.0, 75.0]), 485.0, "volts")
