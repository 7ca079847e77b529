"""Runs as spreadsheets write them: every dialect to the same numbers, every bad cell named."""

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sensorcal.bench.run import Dialect, Reading, Run
from sensorcal.bench.runfile import read_run, run_bytes, run_from_bytes, write_run
from sensorcal.errors import FileError, InputError
from sensorcal.setup import Probe, Reference, Setup, UnitsOut

DIALECTS = [
    Dialect(delimiter=delimiter, decimal=decimal, encoding=encoding, byte_order_mark=mark)
    for delimiter, decimal in ((",", "."), (";", "."), (";", ","), ("\t", "."), ("\t", ","))
    for encoding, mark in (
        ("utf-8", False),
        ("utf-8", True),
        ("utf-16-le", True),
        ("utf-16-be", True),
        ("cp1252", False),
    )
]
TEXT = st.text(st.characters(codec="cp1252", categories=("L", "N", "P", "Zs")), max_size=12).map(str.strip)
LABEL = TEXT.filter(lambda text: not text.startswith("#"))
NUMBER = st.floats(-30, 200).map(lambda value: round(value, 3))
OHM = st.floats(10, 2e5).map(lambda value: round(value, 2))


@st.composite
def a_run(draw: st.DrawFn) -> Run:
    """Draw a run as a bench writes it."""
    probes = draw(st.lists(st.sampled_from(["P1", "P2", "P3", "P4"]), min_size=1, unique=True))
    date = draw(st.sampled_from(["", "2026-05-02"]))
    readings = []
    time_s = 0.0
    for row in range(draw(st.integers(1, 6))):
        fixed = draw(st.sampled_from(["", "ice", "steam"]))
        time_s += draw(st.integers(0, 40_000))
        readings.append(
            Reading(
                file_row=row + 2,
                time_s=time_s,
                point=draw(LABEL),
                reference=None if fixed else draw(st.none() | NUMBER),
                fixed=fixed,
                reference_id=draw(st.sampled_from(["", "T1"])),
                signals={name: draw(OHM) for name in probes if draw(st.booleans())},
                range_ohm=draw(st.none() | st.just(6000.0)),
                immersion_m=draw(st.none() | st.just(0.035)),
                direction=draw(st.sampled_from(["", "up", "down"])),
                supply_v=draw(st.none() | st.floats(4.5, 5.5).map(lambda v: round(v, 3))),
                note=draw(LABEL),
                other={"who": draw(LABEL)},
            )
        )
    return Run(readings=tuple(readings), signal_kinds=dict.fromkeys(probes, "resistance"), date=date)


def _same(got: float | None, wanted: float | None, *, exact: bool) -> bool:
    if got is None or wanted is None:
        return got is wanted
    # In other units: one rounding each way, at most a few units in the last place of the shifted number.
    return got == wanted if exact else got == pytest.approx(wanted, rel=1e-14, abs=2e-13)


@settings(max_examples=150, deadline=None)
@given(
    run=a_run(),
    dialect=st.sampled_from(DIALECTS),
    temperature=st.sampled_from(["degC", "degF", "K"]),
    resistance=st.sampled_from(["ohm", "kohm"]),
)
def test_written_runs_read_back(run: Run, dialect: Dialect, temperature: str, resistance: str) -> None:
    """A run saved in one dialect or unit would come back with other numbers, rows or words."""
    data = run_bytes(run, dialect=dialect, temperature_unit=temperature, resistance_unit=resistance)
    back = run_from_bytes(data, Setup())
    assert len(back.readings) == len(run.readings)
    assert back.probes == run.probes
    for got, wanted in zip(back.readings, run.readings, strict=True):
        assert _same(got.reference, wanted.reference, exact=temperature == "degC")
        assert got.time_s == wanted.time_s
        assert got.signals.keys() == wanted.signals.keys()
        for name, value in wanted.signals.items():
            assert _same(got.signals[name], value, exact=resistance == "ohm")
        for name in ("point", "fixed", "reference_id", "range_ohm", "immersion_m", "direction", "supply_v", "note"):
            assert getattr(got, name) == getattr(wanted, name), name
        assert got.other == wanted.other


def _read(text: str, setup: Setup | None = None, encoding: str = "utf-8") -> Run:
    return run_from_bytes(text.encode(encoding), setup, file="run.csv")


@pytest.mark.parametrize(
    "text",
    [
        "time,point,reference [°C],P1 [ohm]\n19:05,a,61.8,513.5\n",
        "time;point;reference [°C];P1 [ohm]\n19:05;a;61,8;513,5\n",
        "time\tpoint\tbath °C\tP1/kΩ\n19:05\ta\t61,8\t0,5135\n",
        "sep=;\nclock;label;ref [°F];p1 [kohm];;\n19:05;a;143.24;0.5135;;\n\n;;;;;\n",
        '\ufeff"time","step","thermometer (K)","P1_ohm"\r\n"19:05","a","334.95","513.5"\r\n',
        "# a comment, with a comma\ntime,point,temp,P1,\n# another\n19:05:00,a,61.8 °C,0.5135k,\n,,,,\n",
        'time,point,temperature,P1\n7:05 pm,a,"61,8","513,5"\n',
        "time;point;reference;P1\n;;°C;Ω\n19:05;a;61,8;513,5\n",
    ],
)
def test_spreadsheet_writings(text: str) -> None:
    """One of the usual ways in which a spreadsheet writes the same row would be read differently."""
    (reading,) = _read(text).readings
    assert reading.time_s == 68_700.0
    assert reading.point == "a"
    assert reading.reference == pytest.approx(61.8, abs=1e-9)
    assert reading.signals["P1"] == pytest.approx(513.5, rel=1e-12)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"])
def test_encodings(encoding: str) -> None:
    """The degree sign of a Windows spreadsheet would spoil the heading."""
    run = _read("reference [°C];P1 [ohm];note\n61,8;513,5;gerührt\n", encoding=encoding)
    assert run.readings[0].note == "gerührt"
    assert run.readings[0].reference == 61.8


@pytest.mark.parametrize(
    ("cell", "ohm"),
    [("5 230", 5230.0), ("5\u00a0230", 5230.0), ("14'079", 14079.0), ("1.234,5", 1234.5), ("1.234.567,5", 1234567.5),
     ("5,23k", 5230.0), ("5,23 kΩ", 5230.0), ("5230 Ω", 5230.0)],
)  # fmt: skip
def test_thousands_that_can_be_read_in_one_way(cell: str, ohm: float) -> None:
    """A grouped number that can only mean one thing would be refused or read as another."""
    assert _read(f"reference;P1 [ohm]\n0,5;{cell}\n").readings[0].signals["P1"] == pytest.approx(ohm)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("reference,P1\n10,abc\n", ("row 2", "P1", "not a number")),
        ("time,reference,P1\n19:05,10,700\n19:10,12,O7\n", ("row 3", "P1")),
        ("reference,P1\n10,OL\n", ("row 2", "overload", "blank")),
        ("reference,P1\n10,700?\n", ("row 2", "P1")),
        ("reference,P1\n10,-700\n", ("row 2", "P1", "no resistance")),
        ("reference,P1\n10,7 kPa\n", ("row 2", "P1", "not a resistance")),
        ("reference,P1\n-300,700\n", ("row 2", "absolute zero")),
        ("reference,P1\nicy,700\n", ("row 2", "reference", "ice")),
        ("reference,P1\n10,1,84\n", ("row 2", "without a heading", "decimal commas")),
        ("reference;P1\n10;5,230\n", ("5.230 or 5230",)),
        ("reference;P1\n10,5;5.230\n", ("row 2", "two ways")),
        ("reference;P1\n10,5;5.25\n", ("decimal mark",)),
        ("reference,P1\n10,'5'230\n", ("row 2", "P1")),
        ("reference,P1,P1\n1,2,3\n", ("row 1", "same thing")),
        ("reference,bath,P1\n1,2,3\n", ("row 1", "same thing")),
        ("reference [kPa],P1 [kPa]\n1,2\n", ("row 1", "P1 [kPa]", "no unit of")),
        ("reference [furlong],P1\n1,2\n", ("row 1", "furlong")),
        ("T,R\n1,2\n", ("row 1", "no probe column")),
        ("time,P1\n19:05,2\n", ("row 1", "no reference")),
        ("time,reference,P1\n25:99,1,2\n", ("row 2", "time")),
        ("time,reference,P1\nnoon,1,2\n", ("row 2", "time", "19:05")),
        ("reference,P1,direction\n1,2,sideways\n", ("row 2", "direction")),
        ("reference,P1\n1,1e400\n", ("row 2", "finite")),
        ("reference,P1\n", ("no readings",)),
        ("", ("nothing in it",)),
        ("# only a comment\n", ("nothing in it",)),
        ('reference,P1\n1,"2\n', ("quotation mark",)),
    ],
)
def test_bad_cells(text: str, words: tuple[str, ...]) -> None:
    """A bad cell would be dropped, guessed at, or not be found again by its row and column."""
    with pytest.raises(FileError) as caught:
        _read(text)
    message = str(caught.value)
    assert message.startswith("run.csv")
    assert all(word in message for word in words), message


def test_unknown_columns_rows_and_comments_are_kept() -> None:
    """What the tool does not know would be lost from the record."""
    run = _read("# by lamp light\nwho,reference,P1,weather\nme,10,700,rain\n\nyou,11,680,\n")
    assert run.readings[0].other == {"who": "me", "weather": "rain"}
    assert [reading.file_row for reading in run.readings] == [3, 5]
    assert run.comments == ((1, "# by lamp light"),)
    assert run.cells[1] == (3, ("me", "10", "700", "rain"))


def test_blank_cells_are_blanks() -> None:
    """A probe that was not read would get a reading."""
    run = _read("reference,P1,P2\n10,700,\n11,-,690\n")
    assert run.readings[0].signals == {"P1": 700.0}
    assert run.readings[1].signals == {"P2": 690.0}
    assert [reading.file_row for reading in run.of_probe("P2")] == [3]
    with pytest.raises(InputError, match="choose from P1, P2"):
        run.of_probe("P9")


def test_clock_past_midnight_and_back() -> None:
    """An evening past midnight would run backwards, or a mistyped clock would pass in silence."""
    run = _read("time,reference,P1\n23:58,10,700\n0:03:30,9,701\n00:01,9,702\n")
    assert [reading.time_s for reading in run.readings] == [86_280.0, 86_610.0, 86_460.0]
    assert [str(note) for note in run.notes if "earlier" in note.text] == [
        "row 4, time: 00:01 is earlier than the row above"
    ]


def test_dates_and_stopwatch() -> None:
    """A logger's date or a stopwatch's minutes would be taken for something else."""
    run = _read("time,reference,P1\n2026-05-02 23:59,10,700\n2026-05-03T00:01:30,9,701\n")
    assert run.date == "2026-05-02"
    assert [reading.time_s for reading in run.readings] == [86_340.0, 86_490.0]
    run = _read("time [m:ss],reference,P1\n0:45,10,700\n1:30,9,701\n")
    assert [reading.time_s for reading in run.readings] == [45.0, 90.0]


def test_pressure_run() -> None:
    """Pressure sensors would need another format."""
    setup = Setup(
        probes={"OIL": Probe(name="OIL", measurand="pressure", signal="voltage", model="line")},
        references={"G1": Reference(identifier="G1", kind="gauge", limits=5000.0)},
    )
    run = _read("G1 [psi];oil [V];supply [V];direction\n14,5;1,25;4,93;up\n", setup)
    (reading,) = run.readings
    assert run.measurand == "pressure"
    assert run.signal_kinds == {"OIL": "voltage"}
    assert reading.reference == pytest.approx(14.5 * 6894.757293168)
    assert reading.reference_id == "G1"
    assert (reading.signals["OIL"], reading.supply_v, reading.direction) == (1.25, 4.93, "up")


def test_units_from_the_setup_are_said() -> None:
    """A heading without a unit would be read in the setup's unit without a word."""
    run = _read("reference,P1\n212,1.84\n", Setup(units=UnitsOut(temperature="degF", resistance="kohm")))
    assert run.readings[0].reference == 100.0
    assert run.readings[0].signals["P1"] == 1840.0
    assert {note.column for note in run.notes} == {"reference", "P1"}


def test_files_and_their_hash(tmp_path: Path) -> None:
    """The record would not name the very bytes that were read."""
    path = tmp_path / "run.csv"
    run = Run(readings=(Reading(fixed="ice", signals={"P1": 5230.0}),))
    write_run(run, path)
    back = read_run(path)
    assert back.file == "run.csv"
    assert len(back.sha256) == 64
    assert back.sha256 != read_run_changed(path).sha256
    with pytest.raises(FileError, match="no such file"):
        read_run(tmp_path / "none.csv")


def read_run_changed(path: Path) -> Run:
    """Read the file again with one more blank line."""
    path.write_bytes(path.read_bytes() + b"\n")
    return read_run(path)


def test_writer_refuses_what_cannot_be_read_back() -> None:
    """A file would be written that reads back as something else."""
    with pytest.raises(InputError, match="separator"):
        run_bytes(Run(readings=(Reading(fixed="ice"),)), dialect=Dialect(delimiter=",", decimal=","))
    with pytest.raises(InputError, match="empty"):
        run_bytes(Run(readings=(Reading(),)))


_PIECES = (
    *("time", "point", "reference [°C]", "P1 [kΩ]", "ice", "1,5", "1.5", "19:05", "-", "1e9", "k", "2026-05-02"),
    *(",", ";", "\n", '"', "\t", "#", "\u00a0", "1 234", "%", "[", "]"),
)


@settings(max_examples=300, deadline=None)
@given(
    st.binary(max_size=60)
    | st.lists(
        st.sampled_from([*_PIECES, "9" * 400]),
        max_size=30,
    ).map(lambda cells: "".join(cells).encode())
)
def test_any_bytes_end_in_a_run_or_a_clear_error(data: bytes) -> None:
    """Some file would end in a traceback instead of one clear line."""
    try:
        run = run_from_bytes(data, Setup(), file="run.csv")
    except FileError as error:
        assert str(error).startswith("run.csv")  # noqa: PT017
    else:
        assert run.readings
