"""The start log: one clock that rises, arrays that nobody changes, and what each column was."""

from __future__ import annotations

import numpy as np
import pytest

from sensorcal.errors import InputError
from sensorcal.firststart.startlog import StartLog, gaps_in, start_log


def test_arrays_are_copied_and_locked() -> None:
    """If it failed, a judge could change the readings it judges."""
    numbers = np.array([20.0, 21.0])
    log = start_log([0.0, 1.0], {"coolant": numbers})
    numbers[0] = 99.0
    assert log.values["coolant"][0] == 20.0
    with pytest.raises(ValueError, match="read-only"):
        log.values["coolant"][0] = 99.0
    with pytest.raises(ValueError, match="read-only"):
        log.time_s[0] = 5.0


@pytest.mark.parametrize(
    ("time_s", "values", "said"),
    [([0.0, 1.0, 1.0], {"coolant": [1.0, 2.0, 3.0]}, "rise"), ([0.0, np.nan], {"coolant": [1.0, 2.0]}, "rise"),
     ([0.0, 1.0], {"coolant": [1.0]}, "1 values for 2 times"), ([0.0, 1.0], {"egt": [1.0, 2.0]}, "no channel"),
     ([], {}, "one row")],
)  # fmt: skip
def test_what_is_no_log_is_refused(time_s: list[float], values: dict[str, list[float]], said: str) -> None:
    """If it failed, a folded clock or a misspelt channel would be judged."""
    with pytest.raises(InputError, match=said):
        start_log(time_s, values)


def test_labels_stand_one_a_row() -> None:
    """If it failed, an event's readings would stand under the label of another."""
    with pytest.raises(InputError, match="1 labels stand for 2 rows"):
        StartLog(time_s=np.array([0.0, 1.0]), values={}, labels=("master",))


@pytest.mark.parametrize(
    ("numbers", "step"),
    [([20.0, 20.0, 21.0, 25.0], 1.0), ([0.1, 0.2, 0.30000000000000004, 0.3], 0.1), ([5.0, 5.0, 5.0], 0.0),
     ([np.nan, 3.0, np.nan], 0.0), ([np.nan, 3.0, 3.5], 0.5)],
)  # fmt: skip
def test_resolution_is_the_smallest_step_seen(numbers: list[float], step: float) -> None:
    """If it failed, a coarse display would be called stuck, or rounding of the computer a step of the display."""
    log = start_log(np.arange(len(numbers)), {"coolant": numbers})
    assert log.resolution("coolant") == pytest.approx(step)
    assert log.resolution("map") == 0.0


def test_headings_and_presence() -> None:
    """If it failed, a finding would name a column that does not stand in the file."""
    log = start_log([0.0, 1.0], {"coolant": [1.0, 2.0], "oat": [np.nan, np.nan]}, headings={"coolant": "CLT [°C]"})
    assert log.heading("coolant") == "CLT [°C]"
    assert log.heading("map") == "map"
    assert (log.has("coolant"), log.has("oat"), log.has("map"), len(log)) == (True, False, False, 2)


def test_gaps_are_pauses_not_jitter() -> None:
    """If it failed, every uneven step of a logger would be called a dropout, or a brown-out none."""
    rng = np.random.default_rng(3)
    time_s = np.cumsum(1.0 + 0.3 * rng.standard_normal(500).clip(-2.0, 2.0))
    assert gaps_in(time_s) == ()
    late = np.where(np.arange(500) >= 250, time_s + 6.0, time_s)
    assert gaps_in(late) == ((float(late[249]), float(late[250])),)
