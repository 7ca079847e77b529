"""The number to key in as an alarm: the limit less what the reading cannot know, with the arithmetic shown."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sensorcal.errors import InputError
from sensorcal.measure import decide

Side = Literal["high", "low"]
_RUNS_RPM = 500.0
_STOP_S = 3.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Alarm:
    """An alarm and how it came about; every number is in `unit`.

    Attributes
    ----------
    unit : str
        Unit of the limit and of everything below: 'degC', 'degF', 'kPa', 'psi'.
    side : {'high', 'low'}
    limit : float
    red : float
        To key in as the alarm, on the display's steps, rounded away from the limit.
    caution : float
        To key in as the caution.
    guard, travel, half_step : float
        Guard band, what the quantity moves while the reading lags, and half a display step.
    exact : float
        Before rounding.
    false_accept : float
        Probability of being beyond the limit when the reading, at rest, is the guard band away from it.
    arithmetic : tuple of str
        One line each, to be printed.
    """

    unit: str
    side: Side
    limit: float
    red: float
    caution: float
    guard: float
    travel: float
    half_step: float
    exact: float
    false_accept: float
    arithmetic: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SustainedRate:
    """Fastest change in a log that lasted a given time.

    Attributes
    ----------
    unit : str
        Of the log's values.
    rate_per_s : float
        Slope of the straight line through the window, in `unit` per second; rising is positive.
    u_rate_per_s : float
        Standard uncertainty from the scatter about that line.
    from_s, to_s : float
        The window.
    readings : int
        In the window.
    """

    unit: str
    rate_per_s: float
    u_rate_per_s: float
    from_s: float
    to_s: float
    readings: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Nuisance:
    """Whether an alarm would sound in normal running.

    Attributes
    ----------
    unit : str
        As the alarm's.
    room, needed : float
        Between alarm and normal extreme, and what ripple and repeatability take of it.
    likely : bool
    words : str
    """

    unit: str
    room: float
    needed: float
    likely: bool
    words: str


def alarm(
    limit: float,
    expanded_u: float,
    *,
    side: Side = "high",
    rate_per_s: float = 0.0,
    lag_s: float = 0.0,
    step: float = 1.0,
    caution_before: float = 5.0,
    rule: str = "ilac-g8",
    accepted: float | None = None,
    k: float = 2.0,
    unit: str = "degC",
) -> Alarm:
    """Alarm and caution for an engine limit, so that the true value has not passed the limit when it sounds.

    Parameters
    ----------
    limit : float
        From the engine's maker, in any one unit.
    expanded_u : float
        Expanded uncertainty of the shown value at the limit.
    side : {'high', 'low'}
        'low' for a limit that must not be undershot.
    rate_per_s : float
        How fast the quantity moves toward the limit at worst, from the owner's own log; see `worst_rate`.
    lag_s : float
        Of probe and monitor together.
    step : float
        Display step.
    caution_before : float
        Distance of the caution from the alarm.
    rule, accepted, k
        As in `sensorcal.measure.decide.guard_band`.
    unit : str
        Unit of limit, U, rate, step and caution distance alike; nothing is converted.

    Returns
    -------
    Alarm

    Raises
    ------
    InputError
        If a number is negative or not finite.

    References
    ----------
    Guard band: ILAC-G8:09/2019 (from memory). Lag, display step and caution: common practice, no source.

    Examples
    --------
    >>> red = alarm(120.0, 1.6, rate_per_s=0.3, lag_s=15.0)
    >>> red.red, red.caution
    (113.0, 108.0)
    >>> for line in red.arithmetic[:4]:
    ...     print(line)
    limit                             120.0 degC
    guard band for U 1.6               -1.6
    0.3 per s for 15 s                 -4.5
    half a display step                -0.5
    """
    if side not in {"high", "low"}:
        raise InputError(f"side {side!r} is not known", do="use 'high' or 'low'")
    if not math.isfinite(limit):
        raise InputError("the limit is no number", do="take it from the engine's manual")
    for name, number in (("rate", rate_per_s), ("lag", lag_s), ("caution distance", caution_before)):
        if not (math.isfinite(number) and number >= 0.0):
            raise InputError(f"the {name} cannot be {number:g}", do="give its size, zero or above")
    if not (math.isfinite(step) and step > 0.0):
        raise InputError(f"the display step cannot be {step:g}", do="give the smallest step that is shown")
    guard = decide.guard_band(expanded_u, rule=rule, accepted=accepted, k=k)
    travel, half = rate_per_s * lag_s, 0.5 * step
    sign = -1.0 if side == "high" else 1.0
    exact = limit + sign * (guard + travel + half)
    # Away from the limit; a hair's breadth of the step keeps 113.0 from becoming 112 by the last bit.
    red = (math.floor(exact / step + 1e-9) if side == "high" else math.ceil(exact / step - 1e-9)) * step
    caution_exact = red + sign * caution_before
    caution = (
        math.floor(caution_exact / step + 1e-9) if side == "high" else math.ceil(caution_exact / step - 1e-9)
    ) * step
    factor = guard / expanded_u * k / 2.0 if expanded_u > 0 else 0.0
    mark = "-" if side == "high" else "+"
    # A tenth of the display step and no finer: the lines must add up to what is keyed in.
    digits = max(1, math.ceil(-math.log10(0.1 * step) - 1e-9))
    rows = (
        ("limit", f"{limit:.{digits}f} {unit}"),
        (f"guard band for U {expanded_u:.3g}", _signed(mark, guard, digits)),
        (f"{rate_per_s:.3g} per s for {lag_s:g} s", _signed(mark, travel, digits)),
        ("half a display step", _signed(mark, half, digits)),
        ("sum", f"{exact:.{digits}f} {unit}"),
        ("key in, red", f"{red:g} {unit}"),
        (f"key in, caution ({caution_before:.3g} before)", f"{caution:g} {unit}"),
    )
    width = max(len(text.split(" ")[0]) for _, text in rows)
    lines = []
    for name, text in rows:
        figure, _, tail = text.partition(" ")
        lines.append(f"{name:<33}{figure:>{width + 1}}{' ' + tail if tail else ''}")
    return Alarm(
        unit=unit, side=side, limit=float(limit), red=float(red), caution=float(caution), guard=guard, travel=travel,
        half_step=half, exact=float(exact), false_accept=decide.false_accept_probability(factor, 2.0),
        arithmetic=tuple(lines),
    )  # fmt: skip


def _signed(mark: str, size: float, digits: int) -> str:
    text = f"{size:.{digits}f}"
    return f"{mark}{text}" if float(text) else text


def running_rows(time_s: ArrayLike, rpm: ArrayLike) -> NDArray[np.bool_]:
    """Rows of a log in which the engine runs, the last seconds before it stops left out.

    A stopping engine loses its oil pressure in two seconds; no alarm has to come before that.

    Parameters
    ----------
    time_s : array_like, shape (n,)
        Rising.
    rpm : array_like, shape (n,)
        Engine speed, 1/min; a missing one (nan) counts as standing.

    Returns
    -------
    ndarray of bool, shape (n,)
        Faster than 500 1/min, between starter and idle, and so for 3 s more.

    References
    ----------
    Common practice, no source.

    Examples
    --------
    >>> running_rows([0, 1, 2, 5, 6, 7], [0.0, 300.0, 1700.0, 1690.0, 900.0, 0.0]).tolist()
    [False, False, True, False, False, False]
    """
    t = np.asarray(time_s, dtype=float)
    fast = np.nan_to_num(np.asarray(rpm, dtype=float)) > _RUNS_RPM
    slow_s = t[~fast]
    following = np.searchsorted(slow_s, t, side="right")
    until = np.append(slow_s, np.inf)[following] - t
    return np.asarray(fast & (until > _STOP_S))


def worst_rate(
    time_s: ArrayLike, value: ArrayLike, *, window_s: float, side: Side = "high", unit: str = "degC"
) -> SustainedRate:
    """Fastest change toward a limit that a log shows for at least a window: the steepest straight line in it.

    Parameters
    ----------
    time_s, value : array_like, shape (n,)
        Log; time rises.
    window_s : float
        How long the change must last; the lag of the reading or longer.
    side : {'high', 'low'}
        'high' looks for the fastest rise, 'low' for the fastest fall.
    unit : str
        Of the values.

    Returns
    -------
    SustainedRate

    Raises
    ------
    InputError
        If time does not rise, a value is missing, or no stretch of the log holds three readings over the window.

    References
    ----------
    Common practice, no source; ordinary least squares in each window.

    Examples
    --------
    >>> rate = worst_rate([0, 10, 20, 30, 40, 50], [80.0, 80.0, 80.0, 81.0, 82.0, 83.0], window_s=20.0)
    >>> round(rate.rate_per_s, 3), rate.from_s
    (0.1, 20.0)
    """
    t = np.asarray(time_s, dtype=float)
    y = np.asarray(value, dtype=float)
    if t.ndim != 1 or t.shape != y.shape:
        raise InputError("the log needs one value for every time", do="give two columns of one length")
    if not (np.isfinite(t).all() and np.isfinite(y).all()):
        raise InputError("a time or value of the log is no number", do="cut the log there, or leave the row out")
    if (np.diff(t) <= 0).any():
        row = int(np.argmax(np.diff(t) <= 0)) + 1
        raise InputError("time does not rise", do="sort the log, or cut it where the clock was set", row=row + 1)
    if not (math.isfinite(window_s) and window_s > 0):
        raise InputError(f"a window of {window_s:g} s is none", do="give the lag of the reading or longer")
    end = np.searchsorted(t, t + window_s * (1 - 1e-12))
    start = np.arange(t.size)[end < t.size]
    end = end[end < t.size] + 1
    enough = end - start >= 3
    # A hole in the log is no sustained change: no step of a window may be longer than half of it.
    gap = np.append(0.0, np.cumsum(np.diff(t) > 0.5 * window_s * (1 + 1e-9)))
    enough &= gap[end - 1] == gap[start]
    start, end = start[enough], end[enough]
    if start.size == 0:
        raise InputError(
            f"no stretch of the log holds three readings over {window_s:g} s", do="log faster, or take a longer window"
        )
    best: SustainedRate | None = None
    sign = 1.0 if side == "high" else -1.0
    for i, j in zip(start.tolist(), end.tolist(), strict=True):
        x, z = t[i:j] - t[i:j].mean(), y[i:j] - y[i:j].mean()
        square = float(x @ x)
        slope = float(x @ z) / square
        if best is None or sign * slope > sign * best.rate_per_s:
            left = z - slope * x
            u = math.sqrt(float(left @ left) / max(j - i - 2, 1) / square)
            best = SustainedRate(
                unit=unit, rate_per_s=slope, u_rate_per_s=u, from_s=float(t[i]), to_s=float(t[j - 1]), readings=j - i
            )
    assert best is not None
    return best


def nuisance(set_alarm: Alarm, normal_extreme: float, *, repeatability: float, ripple: float = 0.0) -> Nuisance:
    """Check an alarm against normal running: it must stand clear of the normal extreme by what the reading jitters.

    Parameters
    ----------
    set_alarm : Alarm
    normal_extreme : float
        Highest (for a low alarm, lowest) value in normal running.
    repeatability : float
        Standard deviation of the shown value at rest.
    ripple : float
        Half of the peak-to-peak swing in normal running.

    Returns
    -------
    Nuisance

    References
    ----------
    Common practice, no source: room above twice the repeatability plus the ripple.

    Examples
    --------
    >>> nuisance(alarm(120.0, 5.0, rate_per_s=0.3, lag_s=15.0), 110.0, repeatability=0.3, ripple=1.0).likely
    True
    """
    high, unit = set_alarm.side == "high", set_alarm.unit
    room = set_alarm.red - normal_extreme if high else normal_extreme - set_alarm.red
    needed = 2.0 * repeatability + ripple
    likely = room <= needed
    words = (
        f"nuisance alarms are likely: {room:.3g} {unit} of room where {needed:.3g} is needed; a better calibration, a"
        " shorter lag or a slower climb buys room"
        if likely
        else f"clear of normal running: {room:.3g} {unit} of room where {needed:.3g} is needed"
    )
    return Nuisance(unit=set_alarm.unit, room=room, needed=needed, likely=likely, words=words)
