"""Wrong readings of a pressure sensor: found, named, kept with a reason, and not suspected in sound evenings."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from sensorcal.bench.pressurewritten import Written
from sensorcal.bench.runfile import run_from_bytes
from sensorcal.calibration.pressure import places_of
from sensorcal.calibration.pressurerun import calibrate_pressure
from sensorcal.calibration.pressurescreen import screen_pressure, sound_repeat
from sensorcal.errors import FitError
from sensorcal.measure.terms import term
from sensorcal.setup import Keep, Reference, Setup
from tests.studies.pressure_blunder_power import run_case

SETUP = Setup(references={"G1": Reference(identifier="G1", kind="gauge", limits=5000.0)})
UP = [(0.5, 0.5), (200.5, 1.287), (400.0, 2.072), (600.0, 2.856), (800.0, 3.644), (998.5, 4.429)]
DOWN = [(999.5, 4.429), (798.5, 3.646), (600.0, 2.863), (401.0, 2.08), (200.0, 1.293), (0.0, 0.502)]


def _file(changes: dict[tuple[int, str], str] | None = None, *, unit: str = "kPa", decimal: str = ".") -> bytes:
    """An invented evening of twelve rows (file rows 2 to 13), with entries changed by row and column."""
    lines = [f"gauge [{unit}];O1 [V];supply [V];direction"]
    for n, (gauge, volts) in enumerate(UP + DOWN, start=2):
        shown = gauge if unit == "kPa" else gauge / 6.894757
        cells = {"gauge": f"{shown:.1f}", "O1": f"{volts:.3f}", "supply": f"{4.93 - 0.0005 * n:.3f}"}
        cells |= {column: text for (row, column), text in (changes or {}).items() if row == n}
        lines.append(";".join([*cells.values(), "up" if n < 8 else "down"]))
    return "\n".join(lines).replace(".", decimal).encode()


def _fitted(data: bytes, setup: Setup = SETUP):
    return calibrate_pressure(run_from_bytes(data, setup, file="evening.csv"), setup, "O1")


def test_a_sound_evening_is_left_alone():
    """A sound evening would be questioned."""
    found = _fitted(_file())
    assert not found.questioned
    assert found.blunders == ()
    assert all(3e3 < size < 10e3 for size in found.screening.detectable_pa)
    assert "nine times in ten" in found.screening.blind


@pytest.mark.parametrize(
    ("change", "kind", "side", "typed", "likely", "size"),
    [
        ({(9, "gauge"): "978.5"}, "digits", "gauge", "978.5", "798.5", 180e3),
        ({(3, "gauge"): "20.1"}, "decade", "gauge", "20.1", "201", -181e3),
        ({(10, "gauge"): "500.0"}, "digit", "gauge", "500.0", "600.0", -100e3),
        ({(5, "O1"): "2.586"}, "digits", "output", "2.586", "2.856", 68e3),
        ({(4, "supply"): "4.298"}, "digits", "supply", "4.298", "4.928", -76e3),
        ({(5, "gauge"): "87.0"}, "unit", "gauge", "87.0", "psi", -513e3),
    ],
)
def test_each_slip_is_named(change, kind, side, typed, likely, size):
    """A slip would be found without its row, or with another name, or sized wrong."""
    found = _fitted(_file(change))
    assert found.questioned
    first = found.blunders[0]
    (row, _), = change  # fmt: skip
    assert first.points == (row - 2,)
    assert (first.kind, first.side, first.typed, first.likely) == (kind, side, typed, likely)
    assert first.size_pa == pytest.approx(size, abs=8e3)
    assert f"row {row}" in first.sentence
    assert first.probability > 0.5


def test_two_rows_swapped_are_named():
    """Two outputs written into each other's rows would be two unexplained errors."""
    found = _fitted(_file({(4, "O1"): "3.644", (6, "O1"): "2.072"}))
    first = found.blunders[0]
    assert (first.kind, first.points) == ("swapped", (2, 4))
    assert "row 4" in first.sentence
    assert "row 6" in first.sentence


def test_psi_and_decimal_commas_are_sought_as_written():
    """In a file of psi with decimal commas the digits must be exchanged in psi, not in kilopascals."""
    sound = f"{600.0 / 6.894757:.1f}"  # 87.0
    assert sound == "87.0"
    found = _fitted(_file({(5, "gauge"): "78.0"}, unit="psi", decimal=","))
    first = found.blunders[0]
    assert (first.kind, first.typed, first.likely, first.unit) == ("digits", "78.0", "87.0", "psi")
    assert "psi" in first.sentence


def test_a_slip_in_one_of_several_rows_is_named_by_its_row():
    """Three readings a stop, one of them mistyped: the mean is off by a third, and the row is to be found."""
    lines = ["point,gauge [kPa],O1 [V],supply [V],direction"]
    for n, (gauge, volts) in enumerate(UP + DOWN):
        way = "up" if n < 6 else "down"
        lines += [f"stop {n},{gauge},{volts + 0.001 * k:.3f},{4.93 - 0.001 * n:.3f},{way}" for k in (-1, 0, 1)]
    sound = "\n".join(lines)
    assert not _fitted(sound.encode()).questioned
    found = _fitted(sound.replace("600.0,2.856", "600.0,2.586").encode())
    first = found.blunders[0]
    assert (first.kind, first.typed, first.likely) == ("digits", "2.586", "2.856")
    assert "rows 11 to 13 (600 kPa, rising), row 12: " in first.sentence
    assert first.size_pa == pytest.approx(68.5e3 / 3, abs=3e3)


def test_the_note_says_how_to_keep_it_and_the_reason_is_kept():
    """A reading that looks wrong would pass in silence, or could never be overruled."""
    data = _file({(5, "O1"): "2.586"})
    first = _fitted(data)
    assert first.calibration.notes[0].startswith("A READING LOOKS WRONG: row 5 (600 kPa, rising)")
    assert 'what = "wrong-reading:O1"' in first.calibration.notes[0]
    kept = _fitted(data, replace(SETUP, keep=(Keep(what="wrong-reading:O1", reason="read twice"),)))
    assert not kept.questioned
    assert kept.kept == "read twice"
    assert kept.calibration.notes[0].startswith("a reading looks wrong; kept, because read twice: row 5")
    assert kept.calibration.points.pressure_pa.size == 12  # nothing is dropped


def test_one_wrong_entry_does_not_bend_the_whole_curve():
    """A shared error sized at the wrong entry would let the fit tilt by a tenth of the span to excuse it."""
    sound = _fitted(_file()).calibration
    spoilt = _fitted(_file({(8, "gauge"): "99.95"})).calibration  # the top, falling: a decimal point
    moved = np.abs(spoilt.pressure_pa(sound.ratio(np.linspace(0.0, 1e6, 11))) - np.linspace(0.0, 1e6, 11))
    # least squares alone would move 900 kPa / 12 points by some 75 kPa in the middle, 240 kPa at the end
    assert moved.max() < 300e3
    rng = np.random.default_rng(1)
    p = np.linspace(0.0, 1e6, 12)
    r = 0.1 + 0.8e-6 * (p + 500.0 * rng.standard_normal(12))
    wrong = p.copy()
    wrong[8] = 72_727.0
    assert places_of(p, r) == pytest.approx(p)
    assert places_of(wrong, r)[8] == pytest.approx(p[8], abs=2e3)
    assert places_of(wrong, r)[:8] == pytest.approx(p[:8])


def test_an_output_that_falls_names_its_slip():
    """Where the slip leaves no curve at all, the error must still name it."""
    rows = b"gauge [kPa],O1 [V],supply [V]\n0,0.5,5\n250,1.5,5\n500,2.5,5\n750,3.5,5\n10000,4.5,5\n"
    assert _fitted(rows).blunders[0].likely == "1000"
    low = b"gauge [kPa],O1 [V],supply [V]\n0,0.5,5\n250,1.5,5\n500,2.5,5\n750,3.5,5\n1000,0.45,5\n"
    with pytest.raises(FitError, match=r"decimal point, likely 4\.5"):
        _fitted(low)


@pytest.mark.parametrize(
    ("heading", "read_in", "told"),
    [("kPa", 6.894757, "psi entered as kPa"), ("kPa", 3.386389, "inHg entered as kPa"),
     ("kPa", 100.0, "bar entered as kPa"), ("psi", 14.50377 * 6.894757, "bar entered as psi"),
     ("inH2O", 27.7076 * 0.2490889, "psi entered as inH2O")],
)  # fmt: skip
def test_a_unit_mixed_up_all_evening_is_named(heading, read_in, told):
    """Every reading wrong by one factor is no single slip: the sensor's slope against its data sheet tells it."""
    rows = [f"gauge [{heading}],O1 [V],supply [V]"]
    rows += [f"{p / read_in:.4f},{5 * (0.1 + 0.8e-3 * p):.4f},5.0" for p in (0, 200, 400, 600, 800, 1000)]
    found = _fitted("\n".join(rows).encode())
    assert not found.screening.suspect
    assert any(note.endswith(f"says: {told} (a factor of {_factor(note)})?") for note in found.calibration.notes)


def test_a_heading_in_a_rare_unit_stops_nothing():
    """A gauge in millibar, far from its data sheet's slope, would end in an error about its unit."""
    rows = ["gauge [mbar],O1 [V],supply [V]"] + [f"{p},{5 * (0.1 + 0.8e-3 * p):.4f},5.0" for p in (0, 300, 600, 900)]
    found = _fitted("\n".join(rows).encode())
    assert any("10 times as fast" in note for note in found.calibration.notes)


def _factor(note: str) -> str:
    return note.rsplit("(a factor of ", 1)[-1].rstrip(")?")


def test_two_wrong_readings_are_both_told():
    """Two blunders of one evening would hide each other's explanation."""
    found = _fitted(_file({(4, "gauge"): "460.0", (11, "O1"): "2.18"}))
    assert found.questioned
    assert {point for one in found.blunders for point in one.points} >= {2, 9}


def test_a_bent_sensor_is_no_wrong_reading():
    """A bow or a wide loop would be blamed on the reading where it is largest."""
    rng = np.random.default_rng(7)
    p = np.tile(np.concatenate([np.linspace(0, 1e6, 6), np.linspace(1e6, 0, 6)]), 2)
    ways = (("up",) * 6 + ("down",) * 6) * 2
    x = p / 1e6
    sign = np.array([{"up": -0.5, "down": 0.5}[way] for way in ways])
    terms = (term("repeat", 500.0, 24, common=False),)
    for bow, loop in ((20e3, 0.0), (0.0, 15e3), (-10e3, 8e3)):
        felt = p + 4 * x * (1 - x) * (bow + sign * loop) + 500.0 * rng.standard_normal(24)
        found = screen_pressure(p, 0.1 + 0.8e-6 * felt, terms, direction=ways)
        assert not found.suspect, (bow, loop)
    # A form that no bow and no S can follow, the same in every cycle, is the sensor's own as well.
    kink = p + 9e3 * np.sin(4 * np.pi * x) + 4e3 * np.sin(6 * np.pi * x) + 500.0 * rng.standard_normal(24)
    assert not screen_pressure(p, 0.1 + 0.8e-6 * kink, terms, direction=ways).suspect


def test_a_wrong_reading_does_not_hide_in_the_scatter():
    """One slip among repeated readings would blow up the repeatability and so excuse itself."""
    rng = np.random.default_rng(3)
    p = np.tile(np.concatenate([np.linspace(0, 1e6, 6), np.linspace(1e6, 0, 6)]), 2)
    ways = (("up",) * 6 + ("down",) * 6) * 2
    r = 0.1 + 0.8e-6 * (p + 800.0 * rng.standard_normal(24))
    sound = sound_repeat(p, r, ways, beside_pa=100.0, otherwise_pa=1000.0)
    r[9] += 0.8e-6 * 30e3
    spoilt = sound_repeat(p, r, ways, beside_pa=100.0, otherwise_pa=1000.0)
    assert spoilt[0] == pytest.approx(sound[0], rel=0.35)
    assert 500.0 < spoilt[0] < 1200.0
    assert 8.0 < spoilt[1] < 30.0
    assert sound_repeat(p[:6], r[:6], ways[:6], beside_pa=100.0, otherwise_pa=1000.0) == (1000.0, math.inf)


def test_outputs_that_a_slip_would_make_alike_stop_nothing():
    """Undoing a swap or a digit may leave one output in all rows: a variant to pass over, no traceback."""
    found = screen_pressure(
        [800e3, 800e3, 0.0],
        [758 / 1023, 757 / 1023, 757 / 1023],
        (term("repeat", 1000.0, 3, common=False),),
        entries=tuple((Written(output=text, output_unit="1"),) for text in ("758", "757", "757")),
    )
    assert found.suspect
    assert all(one.likely != "757" for one in found.blunders)


def test_too_few_points_say_so():
    """Two points cannot show a wrong one, and that must be said."""
    found = screen_pressure([0.0, 1e6], [0.1, 0.9], (term("repeat", 1000.0, 2, common=False),))
    assert not found.suspect
    assert "nothing can be detected" in found.blind
    assert found.detectable_pa == (math.inf, math.inf)


@pytest.mark.slow
@pytest.mark.parametrize("kind", ["none, one cycle", "none, two cycles"])
def test_false_alarms_are_about_one_in_a_hundred(kind):
    """More questions than that, and nobody would read them."""
    power = run_case(kind, 300)
    # 1 % of 300 is 3: more than 8 come by chance once in 250 times
    assert power.found <= 8


@pytest.mark.slow
@pytest.mark.parametrize(
    ("kind", "named"), [("gauge digits", 0.6), ("volt digits", 0.6), ("gauge psi", 0.9), ("swapped", 0.9)]
)
def test_power(kind, named):
    """A slip worth 1 % of span would be missed, or blamed on another row."""
    power = run_case(kind, 40)
    assert power.large_share == 1.0
    assert power.right_row / power.found >= 0.9
    assert power.right_name / power.found >= named
