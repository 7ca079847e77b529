"""Logs from bytes: any dialect reads back the same, nothing is dropped or repaired, and bad cells are named."""

from __future__ import annotations

import time

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sensorcal.engine import LogColumns
from sensorcal.errors import FileError
from sensorcal.firststart.logread import log_from_bytes, read_log
from sensorcal.firststart.phases import find_phases
from sensorcal.firststart.simulate import draw_case, simulate_start
from sensorcal.firststart.simulate_files import draw_dialect, write_log_csv
from sensorcal.firststart.startlog import StartLog
from sensorcal.setup import Setup, UnitsOut
from sensorcal.units import from_si
from tests.firststart.starts import START_S, made_start


def read(text: str, setup: Setup | None = None, encoding: str = "utf-8") -> StartLog:
    """Read a log from text."""
    return log_from_bytes(text.encode(encoding), setup, file="log.csv")


UNITS = {
    "temperature": ("degC", "degF", "K"), "pressure": ("kPa", "psi", "bar", "inHg", "hPa", "mbar"),
}  # fmt: skip
ROWS = st.lists(
    st.tuples(
        st.one_of(st.none(), st.integers(-400, 1500)),
        st.one_of(st.none(), st.integers(0, 9000)),
        st.one_of(st.none(), st.integers(0, 6000)),
        st.one_of(st.none(), st.integers(80, 150)),
    ),
    min_size=2, max_size=40,
)  # fmt: skip


@settings(deadline=None, max_examples=150)
@given(
    rows=ROWS, mark=st.sampled_from([",", ";", "\t"]), comma=st.booleans(),
    blank=st.sampled_from(["", "---", "NaN", "OVR"]), encoding=st.sampled_from(["utf-8", "utf-16"]),
    bom=st.booleans(), ends=st.sampled_from(["\n", "\r\n"]), quoted=st.booleans(), preamble=st.integers(0, 4),
    degrees=st.sampled_from(UNITS["temperature"]), kpa=st.sampled_from(UNITS["pressure"]),
    style=st.sampled_from(["{} [{}]", "{} ({})", "{}_{}", "{} {}", "below"]),
)  # fmt: skip
def test_a_log_in_any_dialect_reads_back_the_same(
    rows, mark, comma, blank, bom, ends, quoted, preamble, degrees, kpa, style, encoding
):
    """If it failed, some way of writing a table would change numbers, lose rows or swap columns."""
    decimal = "," if comma else "."
    quoted = quoted or mark == decimal
    names = ("Coolant", "Oil pressure", "RPM", "Bus")
    units = (degrees, kpa, "rpm", "V")
    heads = ["Time [s]", *(name if style == "below" or i > 1 else style.format(name, unit)
                           for i, (name, unit) in enumerate(zip(names, units, strict=True)))]  # fmt: skip

    def written(value: float | None) -> str:
        text = blank if value is None else f"{value}".replace(".", decimal)
        return f'"{text}"' if quoted else text

    # 0.3 in the time column shows the decimal mark even where no other cell does.
    lines = [f"line {i} of the logger" for i in range(preamble)] + [mark.join(heads)]
    if style == "below":
        lines.append(mark.join(["s", *units]))
    for index, (coolant, oil, rpm, bus) in enumerate(rows):
        tenths = [None if number is None else number / 10 for number in (coolant, oil, bus)]
        cells = [0.3 + index, *tenths[:2], rpm, tenths[2]]
        lines.append(mark.join(written(cell) for cell in cells))
    text = ends.join(lines) + ends
    data = (("\ufeff" if bom and encoding == "utf-8" else "") + text).encode(encoding)
    log = log_from_bytes(data)
    assert len(log) == len(rows)
    np.testing.assert_allclose(log.time_s, np.arange(len(rows)), atol=1e-9)
    for channel, unit, place, scale in (
        ("coolant", degrees, 0, 10), ("oil_pressure", kpa, 1, 10), ("rpm", "", 2, 1), ("bus", "V", 3, 10)
    ):  # fmt: skip
        typed = np.array([np.nan if row[place] is None else row[place] / scale for row in rows])
        shown = from_si(log.values[channel], unit) if unit else log.values[channel]
        np.testing.assert_allclose(shown, typed, rtol=1e-12, atol=1e-9)


@pytest.mark.parametrize("seed", range(12))
def test_simulated_starts_in_drawn_dialects(tmp_path, seed: int) -> None:
    """If it failed, a log written by another hand of this project would not come back as it was."""
    rng = np.random.default_rng(77_000 + seed)
    start = simulate_start(draw_case(rng))
    path = tmp_path / "start.csv"
    write_log_csv(start.log, path, dialect=draw_dialect(rng), clock_s=start.clock_s)
    log = read_log(path, start.setup)
    assert set(log.values) == set(start.log.values)
    for channel, numbers in start.log.values.items():
        size = {"rpm": 1.0, "bus": 0.02}.get(channel, 0.1 if "press" not in channel and channel != "map" else 300.0)
        np.testing.assert_allclose(log.values[channel], numbers, atol=size)


def test_comments_messages_and_headings_among_the_rows() -> None:
    """If it failed, a logger's remarks would be read as readings, or be lost without a word."""
    log = read(
        "Invented engine\nField;500 m\n\nTime [s];CLT [°C]\n0;20\n# pump on\n1;21\n"
        "Time [s];CLT [°C]\npower restored\n2;22\n;\n"
    )
    assert log.values["coolant"].tolist() == [20.0, 21.0, 22.0]
    said = " | ".join(log.notes)
    for part in ("2 lines above the headings", "1 comments", "1 headings written again", "row 9: 'power restored'",
                 "1 rows of blank cells"):  # fmt: skip
        assert part in said


def test_columns_that_are_not_read_are_named() -> None:
    """If it failed, a column could be left aside without a word."""
    log = read("Time [s],CLT [°C],,EGT1,phase\n0,20,7,640,idle\n1,20,7,650,idle\n2,20,,650,idle\n")
    said = " | ".join(log.notes)
    assert "column 3 has no heading: not read" in said
    assert "no channel is known for 'EGT1'" in said
    assert "column 'phase' was not read" in said


def test_words_in_cells_are_blanks_counted_by_column() -> None:
    """If it failed, an overrange would be read as a number, or vanish unseen."""
    log = read("t,CLT °C,Oil kPa\n0,---,10\n1,OVR,inf\n2,21.5,\n3,nan,ERR\n")
    np.testing.assert_array_equal(log.values["coolant"], [np.nan, np.nan, 21.5, np.nan])
    np.testing.assert_array_equal(log.values["oil_pressure"], [10e3, np.nan, np.nan, np.nan])
    said = " | ".join(log.notes)
    assert "'CLT °C' has 3 of 4 cells without a number ('---' 1 times, 'OVR' 1 times, 'nan' 1 times)" in said
    assert "'Oil kPa' has 3 of 4 cells" in said


@pytest.mark.parametrize("encoding", ["utf-8", "cp1252", "utf-16", "utf-8-sig"])
def test_degree_signs_in_every_encoding(encoding: str) -> None:
    """If it failed, the unit of a heading would hang on the computer that wrote it."""
    log = read("Time [s],CLT [°F]\n0,68\n1,68\n", encoding=encoding)
    assert log.columns["coolant"].unit == "degF"
    np.testing.assert_allclose(log.values["coolant"], 20.0)


def test_nothing_is_repaired() -> None:
    """If it failed, a monitor that shows °F under °C would be corrected before anybody could find its fault."""
    log = read("t [s],CLT [°C],Oil [kPa]\n0,68,0\n1,68,58\n2,190,58\n")
    assert log.values["coolant"].tolist() == [68.0, 68.0, 190.0]
    assert log.values["oil_pressure"].max() == 58e3


def test_cells_with_their_own_unit() -> None:
    """If it failed, '21.5 °C' would not be a reading, or 70 °F in a °C column be read as 70 °C."""
    log = read("t,CLT,Volts\n0,21.5 °C,12.7 V\n1,70.7 °F,12700 mV\n2,22,12.7\n")
    np.testing.assert_allclose(log.values["coolant"], [21.5, 21.5, 22.0])
    np.testing.assert_allclose(log.values["bus"], [12.7, 12.7, 12.7])


def test_a_row_cut_at_the_end_of_the_file() -> None:
    """If it failed, 9 of a cut 93 would be believed."""
    log = read("t,CLT °C,MAP kPa\n0,20,94\n1,20,94\n2,20,9")
    assert log.values["map"].tolist() == [94e3, 94e3, 9e3]  # whole: as many cells as headings
    log = read("t,CLT °C,MAP kPa\n0,20,94\n1,20,94\n2,2")
    np.testing.assert_array_equal(log.values["coolant"], [20.0, 20.0, np.nan])
    assert any("was cut" in note for note in log.notes)


def test_zero_bytes_of_a_lost_supply() -> None:
    """If it failed, a logger that lost power while writing would leave an unreadable file."""
    log = log_from_bytes(b"t,CLT C,MAP kPa\n0,20,94\n1,20,94\n" + b"\x00" * 64)
    assert len(log) == 2
    assert any("64 zero bytes" in note for note in log.notes)


def test_pauses_and_repeats_are_counted() -> None:
    """If it failed, half a minute without rows, or a logger that hangs, would go unsaid."""
    log = read("t,CLT °C\n0,20\n1,20\n2,20\n2,20\n32,21\n33,21\n34,21\n")
    assert log.gaps[0][1] == 32.0
    assert any("1 pauses in the log" in note for note in log.notes)
    assert any("1 rows repeat the row above" in note for note in log.notes)


def test_a_restart_is_a_caution_and_kept_in_the_log() -> None:
    """If it failed, the phases would not know that the monitor was off."""
    log = read("Time [s],CLT [°C]\n0,20\n1,20\n2,20\n0,21\n1,21\n")
    assert log.restarts_s == (3.0,)
    assert len(log) == 5
    assert any("begins anew at row 5" in caution for caution in log.cautions)


def test_unlabelled_units_are_those_of_the_setup() -> None:
    """If it failed, a bare number would be read in a unit nobody named."""
    setup = Setup(units=UnitsOut(temperature="degF", pressure="psi"))
    log = read("time,clt,oil press\n0,68,10\n", setup)
    assert log.values["coolant"][0] == pytest.approx(20.0)
    assert log.values["oil_pressure"][0] == pytest.approx(68947.57, abs=0.01)
    assert not log.columns["coolant"].stated
    assert any("no unit stands there" in note for note in log.notes)


def test_columns_by_the_setup() -> None:
    """If it failed, a log with headings of no trade could not be read at all."""
    setup = Setup(log=LogColumns(columns={"ch1": "coolant degF", "ch2": "map inHg", "n": "time s"}))
    log = read("n,ch1,ch2\n0,68,29.92\n2,68,29.92\n", setup)
    assert log.values["coolant"][0] == pytest.approx(20.0)
    assert log.values["map"][0] == pytest.approx(101_320.0, rel=1e-4)
    assert log.time_s.tolist() == [0.0, 2.0]


def test_missing_channels_are_a_caution() -> None:
    """If it failed, a log without oil pressure would seem to have a healthy one."""
    log = read("t,CLT °C,RPM\n0,20,0\n")
    assert any("oil pressure" in caution and "not judged" in caution for caution in log.cautions)
    silent = read("t,CLT °C,Oil kPa\n0,20,\n1,20,---\n")
    assert any("'Oil kPa' holds no number at all" in caution for caution in silent.cautions)


def test_milliseconds_without_a_unit_are_asked_about() -> None:
    """If it failed, a log in milliseconds would be a log of a week without a word."""
    log = read("Time,CLT °C\n0,20\n100,20\n200,20\n")
    assert log.time_s.tolist() == [0.0, 100.0, 200.0]
    assert any("milliseconds" in caution and '"Time" = "time ms"' in caution for caution in log.cautions)


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        ("t,CLT °C\n0,20\n1,2x4\n", ("row 3", "column CLT °C", "'2x4'")),
        ("t,CLT °C\n0,20\n1,20,94\n", ("row 3", "3 cells stand under 2 headings")),
        ("t,CLT °C,Water temp\n0,20,20\n", ("'CLT °C'", "'Water temp'", "ignore")),
        ("CLT °C,MAP kPa\n20,94\n", ("no column with the time", "Time [s]")),
        ("a,b\n1,2\n", ("no row of headings", "[log.columns]")),
        ("t,EGT1\n0,20\n", ("'EGT1'", "[log.columns]")),
        ("", ("nothing in it",)),
        ("t,CLT °C\n", ("no readings",)),
        ("Time,CLT °C\n12:61:00,20\n", ("row 2", "column Time", "12:61:00")),
        ("t;CLT °C\n0;20,5\n1;20.5\n", ("decimal mark",)),
        ("t;RPM\n0;1,850\n1;1,900\n", ("1,850", "1850")),
        ("t,CLT °C,Volts\n0,20,12 kPa\n", ("row 2", "column Volts", "12 kPa")),
    ],
)
def test_mistakes_are_named_with_place_and_remedy(text: str, parts: tuple[str, ...]) -> None:
    """If it failed, the user would not know where to look or what to do."""
    with pytest.raises(FileError) as caught:
        read(text)
    said = str(caught.value)
    assert "log.csv" in said
    for part in parts:
        assert part in said


def test_a_missing_file_is_named(tmp_path) -> None:
    """If it failed, a misspelt name would end in a traceback."""
    with pytest.raises(FileError, match="no such file"):
        read_log(tmp_path / "gone.csv")


def long_log(kind: str) -> bytes:
    """Write 36 000 rows of 12 columns in one of the ways that need a path of their own."""
    made = made_start(0.025)
    names = list(made)
    units = {"oil_pressure": "kPa", "fuel_pressure": "kPa", "map": "kPa", "time": "s"}
    columns = [np.round(made[name] / (1e3 if units.get(name) == "kPa" else 1.0), 2) for name in names]
    head = [f"{name} [{units[name]}]" if name in units else name for name in names] + ["EGT1"]
    rows = [[f"{v}" for v in row] + ["640"] for row in zip(*(c.tolist() for c in columns), strict=True)]
    if kind == "dates":
        head[0] = "Date time"
        stamps = np.datetime64("2026-05-02T19:05:00.000") + (columns[0] * 1000).astype("timedelta64[ms]")
        rows = [[str(stamp).replace("T", " "), *row[1:]] for stamp, row in zip(stamps, rows, strict=True)]
    elif kind == "words":
        rows = [["---" if cell.endswith("7.0") else cell for cell in row] for row in rows]
    mark = ";" if kind == "decimal commas" else ","
    text = "\n".join(mark.join(row) for row in [head, *rows]) + "\n"
    return (text.replace(".", ",") if kind == "decimal commas" else text).encode()


@pytest.mark.parametrize("kind", ["plain", "decimal commas", "dates", "words"])
def test_an_hour_at_ten_hertz_is_read_at_once(kind: str) -> None:
    """If it failed, a long log would keep its reader waiting: 36 000 rows by 12 columns.

    Goal 0.25 s of processor time; the bound here is twice that, for the machine runs other tests beside it.
    """
    data = long_log(kind)
    took = []
    for _ in range(3):
        begun = time.process_time()
        log = log_from_bytes(data)
        took.append(time.process_time() - begun)
    assert len(log) == 36_000
    assert len(log.values) == 10
    assert min(took) < 0.5
    assert find_phases(log).start_s == pytest.approx(START_S, abs=1.0)
