"""Clocks of loggers: any format, joined where they begin anew, spread where they repeat, and always said."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sensorcal.errors import InputError
from sensorcal.firststart.logclock import seconds_in, time_line


def line_of(cells: list[str], unit: str = "", dates: list[str] | None = None) -> tuple[list[float], tuple[str, ...]]:
    """Give the line of a column of cells, and everything said."""
    raw, of_day, notes = seconds_in(cells, unit, dates)
    line = time_line(raw, of_day=of_day)
    return line.time_s.tolist(), (*notes, *line.notes, *line.cautions)


@pytest.mark.parametrize(
    ("cells", "unit"),
    [(["0", "0.5", "2"], "s"), (["0", "500", "2000"], "ms"), (["1000", "1500", "3000"], "ms"),
     (["0", "0.00833333333", "0.0333333333"], "min"), (["19:05:30.0", "19:05:30.5", "19:05:32"], ""),
     (["00:00:00.0", "00:00:00.5", "00:00:02.0"], ""), (["0:00.0", "0:00.5", "0:02.0"], ""),
     (["00:00", "00:00.5", "00:02"], "mm:ss"), (["7:05:30.0 pm", "7:05:30.5 pm", "7:05:32 PM"], ""),
     (["2026-05-02 19:05:30.0", "2026-05-02 19:05:30.5", "2026-05-02 19:05:32"], ""),
     (["2026-05-02T19:05:30.000Z", "2026-05-02T19:05:30.500Z", "2026-05-02T19:05:32.000Z"], ""),
     (["02.05.2026 19:05:30.0", "02.05.2026 19:05:30.5", "02.05.2026 19:05:32.0"], ""),
     (["5/2/2026 7:05:30.0 PM", "5/2/2026 7:05:30.5 PM", "5/2/2026 7:05:32 PM"], ""),
     (["1777748730.0", "1777748730.5", "1777748732.0"], "s")],
)  # fmt: skip
def test_formats(cells: list[str], unit: str) -> None:
    """If it failed, a log of this clock could not be read, or its seconds would be minutes."""
    np.testing.assert_allclose(line_of(cells, unit)[0], [0.0, 0.5, 2.0], atol=1e-6)


def test_midnight_is_no_new_beginning() -> None:
    """If it failed, an evening's log would be joined in the wrong place."""
    assert line_of(["23:59:58", "23:59:59", "00:00:00", "00:00:03"])[0] == [0.0, 1.0, 2.0, 5.0]
    cells = ["2026-05-02 23:59:59", "2026-05-03 00:00:00", "2026-05-03 00:00:01"]
    assert line_of(cells)[0] == [0.0, 1.0, 2.0]
    assert line_of(["23:59:59", "00:00:00", "00:00:01"], dates=["2.5.26", "3.5.26", "3.5.26"])[0] == [0.0, 1.0, 2.0]


def test_twelve_hours_without_am_and_pm() -> None:
    """If it failed, lunch time would be a pause of eleven hours."""
    times, said = line_of(["12:59:58", "12:59:59", "1:00:00", "1:00:01"])
    assert times == [0.0, 1.0, 2.0, 3.0]
    assert any("twelve hours" in one for one in said)


@pytest.mark.parametrize("again", [0.0, 0.4, 7.0])
def test_a_clock_that_begins_anew_is_joined_and_said(again: float) -> None:
    """If it failed, rows after a brown-out would be dropped or would run backwards."""
    raw = np.concatenate([np.arange(0.0, 20.0), again + np.arange(30.0)])
    line = time_line(raw, rows=range(2, raw.size + 2))
    assert line.restarts == (20,)
    np.testing.assert_allclose(line.time_s, np.arange(50.0))
    assert "row 22" in line.cautions[0]
    assert "not known" in line.cautions[0]


def test_a_clock_that_is_set_during_the_log() -> None:
    """If it failed, a clock that finds the date would make a pause of years."""
    line = time_line(np.array([0.0, 1.0, 2.0, 8e8, 8e8 + 1.0]))
    assert line.time_s.tolist() == [0.0, 1.0, 2.0, 3.0, 4.0]
    assert line.restarts == (3,)
    assert "was set" in line.cautions[0]


def test_a_clock_reset_to_an_early_date_is_no_midnight() -> None:
    """If it failed, a real-time clock that lost its battery would shift the log by years."""
    cells = ["2026-05-02 20:00:00", "2026-05-02 20:00:01", "2000-01-01 00:00:00", "2000-01-01 00:00:01"]
    assert line_of(cells)[0] == [0.0, 1.0, 2.0, 3.0]


def test_whole_seconds_of_a_fast_logger_are_spread() -> None:
    """If it failed, five rows would share one time and no rate could be computed."""
    raw = np.repeat(np.arange(10.0), 5)
    line = time_line(raw)
    np.testing.assert_allclose(line.time_s, np.arange(50) * 0.2, atol=1e-9)
    assert any("40 rows have the time of the row above" in note for note in line.notes)


def test_a_repeat_before_a_pause_stays_before_it() -> None:
    """If it failed, a repeated row would wander into the middle of a gap."""
    line = time_line(np.array([0.0, 1.0, 2.0, 2.0, 30.0, 31.0]))
    assert line.time_s[3] == pytest.approx(2.75, abs=0.3)


def test_rows_out_of_order_are_kept() -> None:
    """If it failed, jitter of a logger would be called a restart."""
    line = time_line(np.array([0.0, 1.0, 3.0, 2.0, 4.0, 5.0]))
    assert line.restarts == ()
    assert (np.diff(line.time_s) > 0).all()
    assert any("before the row above" in note for note in line.notes)


def test_rows_without_a_time_stand_between() -> None:
    """If it failed, a blank time would drop its row."""
    line = time_line(np.array([np.nan, 1.0, np.nan, 3.0, np.nan]))
    assert line.time_s.tolist() == [0.0, 1.0, 2.0, 3.0, 4.0]
    with pytest.raises(InputError, match="no row has a time"):
        time_line(np.array([np.nan, np.nan]))


@pytest.mark.parametrize("cell", ["19:61:00", "19:05:75", "noon o'clock", "2026-13-45 19:00:00"])
def test_what_is_no_time_is_named_by_its_row(cell: str) -> None:
    """If it failed, the user would have to find the bad cell among thousands."""
    with pytest.raises(InputError) as caught:
        seconds_in(["19:05:00", "19:05:01", cell], "")
    assert caught.value.row == 2


@given(
    st.lists(st.floats(min_value=0.0, max_value=4e5, allow_nan=False), min_size=1, max_size=60),
    st.booleans(),
)
def test_any_clock_gives_a_line_that_rises(raw: list[float], of_day: bool) -> None:
    """If it failed, some broken clock would stop a log from being read at all, or fold it."""
    line = time_line(np.array(raw), of_day=of_day)
    assert line.time_s.size == len(raw)
    assert line.time_s[0] == 0.0
    assert (np.diff(line.time_s) > 0.0).all()
