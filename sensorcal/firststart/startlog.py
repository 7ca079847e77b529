"""The log of a first start as all that follows sees it: one clock, channels in home units, how each was read."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sensorcal.errors import InputError
from sensorcal.firststart.channels import CHANNELS, DIMENSION
from sensorcal.units import HOME

Floats = NDArray[np.float64]

HOME_UNIT = {channel: "1/min" if kind == "speed" else HOME[kind] for channel, kind in DIMENSION.items()}
"""Home unit of each channel: degC, Pa, V or 1/min."""

# A pause longer than this many usual steps is a gap (common practice, no source); jitter of a logger stays well below.
_GAP_STEPS = 3.5


@dataclass(frozen=True, slots=True, kw_only=True)
class LogColumn:
    """How one column of the file was understood.

    Parameters
    ----------
    heading : str
        As it stands in the file.
    unit : str
        Unit in which its numbers were read, such as 'degF'.
    stated : bool
        True where file or setup name the unit, False where the setup's units were assumed.
    why : str
        In words: by the setup, by which trade word, by which probe's tag.
    """

    heading: str
    unit: str
    stated: bool = True
    why: str = ""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StartLog:
    """What was logged, row by row, in home units: degC, Pa, 1/min, V and s; a blank is NaN.

    Parameters
    ----------
    file : str
        Name of the file, for messages.
    kind : {'log', 'events'}
        A logger's rows, or a list of events typed afterwards whose times are nominal.
    time_s : ndarray, shape (n,)
        Seconds since the first row, rising from row to row; where the logger's clock began anew the stretches are
        joined.
    values : mapping of str to ndarray, shape (n,)
        By channel. Manifold pressure is absolute; oil and fuel pressure are as shown.
    columns : mapping of str to LogColumn
        By channel: which column it is and how that was known.
    labels : tuple of str
        What each row of an event list is; empty for a log.
    restarts_s : tuple of float
        Where the logger's clock began anew: time of the first row after it.
    gaps : tuple of (float, float)
        Last row before and first row after each pause.
    ignored : tuple of str
        Headings that no channel was read from.
    notes : tuple of str
        What was understood without being told.
    cautions : tuple of str
        What the user should look at before believing any judgement.

    Raises
    ------
    InputError
        When lengths differ, a channel is unknown or the time does not rise.
    """

    file: str = ""
    kind: Literal["log", "events"] = "log"
    time_s: Floats
    values: Mapping[str, Floats]
    columns: Mapping[str, LogColumn] = field(default_factory=dict)
    labels: tuple[str, ...] = ()
    restarts_s: tuple[float, ...] = ()
    gaps: tuple[tuple[float, float], ...] = ()
    ignored: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        """Copy the arrays, lock them, and check that they fit together."""
        time_s = _locked(self.time_s)
        if time_s.ndim != 1 or not time_s.size:
            raise InputError("a log needs one time for each row, and one row at least")
        if not (np.isfinite(time_s).all() and (np.diff(time_s) > 0).all()):
            raise InputError("the time of a log must rise from row to row", do="sort the rows, or read the file")
        values = {}
        for channel, numbers in self.values.items():
            if channel not in CHANNELS:
                raise InputError(f"{channel!r} is no channel of a first start", do=f"use one of {', '.join(CHANNELS)}")
            values[channel] = _locked(numbers)
            if values[channel].shape != time_s.shape:
                raise InputError(f"{channel} has {values[channel].size} values for {time_s.size} times")
        if self.labels and len(self.labels) != time_s.size:
            raise InputError(f"{len(self.labels)} labels stand for {time_s.size} rows")
        object.__setattr__(self, "time_s", time_s)
        object.__setattr__(self, "values", values)
        object.__setattr__(self, "columns", dict(self.columns))

    def __len__(self) -> int:
        """Count the rows."""
        return int(self.time_s.size)

    def heading(self, channel: str) -> str:
        """Give the name of the channel's column in the file, or the channel's own name where there is none."""
        column = self.columns.get(channel)
        return column.heading if column else channel

    def has(self, channel: str) -> bool:
        """Say whether the channel was logged and shows at least one number."""
        numbers = self.values.get(channel)
        return numbers is not None and bool(np.isfinite(numbers).any())

    def resolution(self, channel: str) -> float:
        """Give the smallest step between two values the channel shows, in its home unit; 0 where it never moves.

        Examples
        --------
        >>> start_log([0, 1, 2], {"coolant": [20.0, 20.5, 21.5]}).resolution("coolant")
        0.5
        """
        numbers = self.values.get(channel)
        if numbers is None:
            return 0.0
        shown = np.unique(numbers[np.isfinite(numbers)])
        if shown.size < 2:
            return 0.0
        steps = np.diff(shown)
        # Two prints of one number may differ in the last bit after a conversion: that is no step.
        steps = steps[steps > 1e-9 * max(1.0, float(np.abs(shown).max()))]
        return float(steps.min()) if steps.size else 0.0


def start_log(
    time_s: ArrayLike,
    values: Mapping[str, ArrayLike],
    *,
    file: str = "",
    headings: Mapping[str, str] | None = None,
) -> StartLog:
    """Make a log from arrays that are in home units already.

    Parameters
    ----------
    time_s : array_like, shape (n,)
        Rising seconds; counted from the first row.
    values : mapping of str to array_like, shape (n,)
        By channel, in degC, Pa, 1/min or V; NaN for a blank.
    file : str, optional
        Name for messages.
    headings : mapping of str, optional
        By channel: what its column is called; the channel's own name where left out.

    Raises
    ------
    InputError
        As for `StartLog`.

    Examples
    --------
    >>> log = start_log([10.0, 11.0, 12.0, 30.0], {"map": [93e3, 93e3, 92e3, 40e3]})
    >>> log.time_s.tolist(), log.gaps
    ([0.0, 1.0, 2.0, 20.0], ((2.0, 20.0),))
    """
    headings = headings or {}
    seconds = np.asarray(time_s, dtype=np.float64)
    if seconds.size:
        seconds = seconds - seconds[0]
    return StartLog(
        file=file,
        time_s=seconds,
        values={channel: np.asarray(numbers, dtype=np.float64) for channel, numbers in values.items()},
        columns={
            channel: LogColumn(
                heading=headings.get(channel, channel), unit=HOME_UNIT.get(channel, ""), why="given as an array"
            )
            for channel in values
        },
        gaps=gaps_in(seconds),
    )


def gaps_in(time_s: Floats) -> tuple[tuple[float, float], ...]:
    """Find the pauses of a log: steps over 3.5 times the usual one.

    Parameters
    ----------
    time_s : ndarray, shape (n,)
        Rising seconds.

    Returns
    -------
    tuple of (float, float)
        Last row before and first row after each pause, s.
    """
    if time_s.size < 3:
        return ()
    steps = np.diff(time_s)
    at = np.flatnonzero(steps > _GAP_STEPS * float(np.median(steps)))
    return tuple((float(time_s[i]), float(time_s[i + 1])) for i in at)


def _locked(numbers: ArrayLike) -> Floats:
    """Copy an array and make the copy read-only."""
    copy = np.array(numbers, dtype=np.float64)
    copy.flags.writeable = False
    return copy
