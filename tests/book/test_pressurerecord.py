"""The record of a pressure calibration: the same bits back, checked by schema and checksum, an older one kept."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest

from sensorcal.bench.simulate_pressure import PressureBench, TrueTransducer, simulate_pressure, up_and_down
from sensorcal.book.digest import content_sha256
from sensorcal.book.pressurerecord import (
    pressure_document,
    pressure_facts,
    read_pressure_record,
    write_pressure_record,
)
from sensorcal.book.store import read_record
from sensorcal.calibration.pressurecal import expanded_pressure_pa, shared_shift_pa
from sensorcal.calibration.pressureintervals import pressure_intervals
from sensorcal.calibration.pressurerun import calibrate_pressure
from sensorcal.errors import FileError
from sensorcal.setup import Field, Keep, Reference, Setup
from sensorcal.transducer import Transducer

AT = np.linspace(0.0, 1e6, 7)


def _made(order=None):
    run = replace(
        simulate_pressure(
            TrueTransducer(loop_pa=2000.0, repeat_pa=400.0), PressureBench(supply_v=4.93), up_and_down(1e6, cycles=2),
            seed=4,
        ),
        date="2026-05-16",
        file="2026-05-16-oil-pressure.csv",
    )  # fmt: skip
    setup = Setup(
        references={"G1": Reference(identifier="G1", kind="gauge", limits=5000.0)},
        transducers={"O1": Transducer(name="O1")},
        note="Invented data",
    )
    result = calibrate_pressure(run, setup, "O1", order=order)
    return result, pressure_facts(result, run, setup, written="2026-05-17")


@pytest.mark.parametrize("order", [None, 2, "table"])
def test_round_trip(tmp_path, order):
    """A digit lost on disk would make another curve, another U or another interval of the same sensor."""
    result, facts = _made(order)
    path = tmp_path / "O1.json"
    assert write_pressure_record(path, result.calibration, facts) is None
    back = read_pressure_record(path)
    assert back.facts == facts
    cal, again = result.calibration, back.calibration
    assert np.array_equal(cal.pressure_pa(AT / 1e6), again.pressure_pa(AT / 1e6))
    assert np.array_equal(expanded_pressure_pa(cal, AT), expanded_pressure_pa(again, AT))
    assert {k: v.tolist() for k, v in shared_shift_pa(cal, AT).items()} == {
        k: v.tolist() for k, v in shared_shift_pa(again, AT).items()
    }
    assert pressure_intervals(cal, draws=1000) == pressure_intervals(again, draws=1000)
    assert cal.notes == again.notes
    assert cal.orders == again.orders
    assert pressure_document(again, back.facts) == pressure_document(cal, facts)


def test_what_the_run_found_beside_the_curve_comes_back(tmp_path):
    """Kind, leak, head and a questioned reading would be lost on the way, or a record without them be refused."""
    plan = up_and_down(1e6, open_zeros=True)
    run = simulate_pressure(TrueTransducer(), PressureBench(), plan, seed=4)
    wrong = replace(run.readings[3], reference=460e3)  # 600 written as 460
    decay = tuple(
        replace(run.readings[-1], file_row=20 + n, time_s=900.0 + 30.0 * n, point="leak", signals={}, supply_v=None,
                reference=600e3 - 1500.0 * n)
        for n in range(6)
    )  # fmt: skip
    run = replace(
        run,
        readings=(*run.readings[:3], wrong, *run.readings[4:], *decay),
        comments=((1, "# gauge above sensor: 0.5 m"), (2, "# liquid: water")),
    )
    setup = Setup(
        references={"G1": Reference(identifier="G1", kind="gauge", limits=5000.0)},
        field=Field(elevation_m=640.0, qnh_pa=100_900.0),
        keep=(Keep(what="wrong-reading:O1", reason="a drill"),),
    )
    result = calibrate_pressure(run, setup, "O1")
    facts = pressure_facts(result, run, setup, written="2026-05-20")
    path = tmp_path / "O1.json"
    write_pressure_record(path, result.calibration, facts)
    back = read_pressure_record(path)
    assert back.facts.remarks == facts.remarks
    assert (facts.remarks[0].kind, facts.remarks[0].answer) == ("blunder", "kept, because a drill")
    assert facts.remarks[0].file_rows == (run.readings[3].file_row,)
    for name in ("kind_found", "leak", "head"):
        assert getattr(back.calibration, name) == getattr(result.calibration, name) is not None
    told = " ".join(facts.statements)
    assert "vented gauge" in told
    assert "leak: 3.0" in told
    assert "0.5 m above the sensor" in told
    old = pressure_document(result.calibration, facts)
    for name in ("kind_found", "leak", "head"):
        del old["calibration"][name]
    del old["facts"]["remarks"]
    del old["content_sha256"]
    path.write_text(json.dumps({**old, "content_sha256": content_sha256(old)}), encoding="utf-8")
    assert read_pressure_record(path).calibration.leak is None


def test_what_people_read():
    """The record must say what the data sheet's reader looks for, and name the supply's cost."""
    _, facts = _made()
    text = " ".join(facts.statements)
    for word in ("linearity", "independent", "terminal-based", "zero-based", "hysteresis", "repeatability", "4.930 V"):
        assert word in text
    assert facts.traceability.startswith("gauge G1")
    assert facts.setup["transducers"]["O1"]["kind"] == "gauge"


def test_a_changed_record_is_refused(tmp_path):
    """A span edited by hand must not pass for a calibration."""
    result, facts = _made()
    path = tmp_path / "O1.json"
    write_pressure_record(path, result.calibration, facts)
    data = json.loads(path.read_text(encoding="utf-8"))
    data["calibration"]["curve"]["coefficients_pa"][1] *= 1.01
    path.write_text(json.dumps(data), encoding="utf-8")
    with pytest.raises(FileError, match="changed after it was written"):
        read_pressure_record(path)
    del data["calibration"]["curve"]["coefficients_pa"]
    path.write_text(json.dumps(data), encoding="utf-8")
    with pytest.raises(FileError, match=r"at calibration\.curve"):
        read_pressure_record(path)


def test_kinds_are_not_mixed_up_and_older_ones_kept(tmp_path):
    """A pressure record read as a thermistor's, or overwritten, would be lost."""
    result, facts = _made()
    path = tmp_path / "O1.json"
    write_pressure_record(path, result.calibration, facts)
    with pytest.raises(FileError, match="not a record format"):
        read_record(path)
    kept = write_pressure_record(path, result.calibration, replace(facts, person="N. N."))
    assert kept is not None
    assert read_pressure_record(kept).facts == facts
