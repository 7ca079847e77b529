"""Pressure rows become points: direction, cycle, body and open line, from a file as people write it."""

from __future__ import annotations

import pytest

from sensorcal.bench.pressurepoints import pressure_points
from sensorcal.bench.runfile import run_from_bytes
from sensorcal.errors import FileError, InputError
from sensorcal.setup import Probe, Reference, Setup
from sensorcal.transducer import Transducer

SETUP = Setup(
    references={"G1": Reference(identifier="G1", kind="gauge", limits=5000.0)},
    transducers={"O1": Transducer(name="O1", supply_v=5.0)},
)
HEAD = "point,G1 [kPa],O1 [V],supply [V],direction,body [degF]\n"


def _points(text, setup=SETUP):
    return pressure_points(run_from_bytes(text.encode(), setup), setup, "O1")


def test_cycles_directions_and_bodies():
    """A falling reading taken for a rising one would hide the loop."""
    rows = ["0,0.5", "500,2.5", "1000,4.5", "500,2.51", "0,0.5", "500,2.5", "0,0.5"]
    found = _points(HEAD + "".join(f",{row},5.0,,68\n" for row in rows))
    assert [one.direction for one in found.points] == ["up", "up", "up", "down", "down", "up", "down"]
    assert [one.cycle for one in found.points] == [1, 1, 1, 1, 1, 2, 2]
    assert found.points[0].body_c == pytest.approx(20.0)
    assert "not written down" in found.notes[0]
    assert found.supply_measured


def test_open_line_and_gauge_zero():
    """A gauge that shows 2 kPa with the line open must not make the zero 2 kPa."""
    found = _points(HEAD + "open,2,0.5,5.0,up,\n,500,2.5,5.0,up,\nopen,,0.501,5.0,down,\n")
    assert [one.point.value for one in found.points] == [0.0, 500e3, 0.0]
    assert [one.open_line for one in found.points] == [True, False, True]
    assert found.gauge_id == "G1"
    assert any("+2.00 kPa" in note for note in found.notes)


def test_a_supply_that_is_missing_in_one_row():
    """Where some rows have no supply, the stated one stands in, and that is not called measured."""
    found = _points("G1 [kPa],O1 [V],supply [V]\n0,0.5,4.9\n500,2.5,\n")
    assert not found.supply_measured
    assert found.points[0].point.signal == pytest.approx(0.5 / 4.9)
    assert found.points[1].point.signal == pytest.approx(0.5)
    assert any(part.key.startswith("supply:") for part in found.points[1].point.parts)
    assert not any(part.key.startswith("supply:") for part in found.points[0].point.parts)


def test_bad_words_are_named():
    """A word that is no direction, or a body that is no number, must be found by row and column."""
    with pytest.raises(FileError, match="row 2, column direction"):
        _points(HEAD + ",0,0.5,5.0,sideways,\n")
    with pytest.raises(InputError, match="row 2, column body"):
        _points(HEAD + ",0,0.5,5.0,up,hot\n")
    with pytest.raises(InputError, match="no number of a cycle"):
        _points("G1 [kPa],O1 [V],supply [V],cycle\n0,0.5,5.0,first\n")


def test_counts_are_read_under_their_own_heading():
    """A column of counts headed as such would be refused for its unit, or taken for a ratio beyond one."""
    setup = Setup(
        references={"G1": Reference(identifier="G1", kind="gauge", limits=5000.0)},
        probes={"O1": Probe(name="O1", measurand="pressure", signal="ratio", model="line")},
        transducers={"O1": Transducer(name="O1", counts_full=1023)},
    )
    found = _points("G1 [kPa];O1 [counts]\n0;102\n500;512\n1000;921\n", setup)
    assert [one.point.signal for one in found.points] == pytest.approx([102 / 1023, 512 / 1023, 921 / 1023])
    with pytest.raises(InputError, match="count over full count"):
        _points("G1 [kPa];O1 [counts]\n0;102\n500;1100\n", setup)
