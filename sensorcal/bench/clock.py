"""The clock beside a reading: '19:05', '2026-05-02 19:05:30' or seconds, on one time line past midnight."""

from __future__ import annotations

import datetime as dt
import re

from sensorcal.errors import InputError

_CLOCK = re.compile(r"(\d{1,3}):(\d{2})(?::(\d{2}(?:[.,]\d+)?))?\s*([AaPp])?\.?[Mm]?\.?")
_DAY_S = 86400.0


def clock_s(cell: str, unit: str = "", decimal: str = ".") -> tuple[float, str]:
    """Read one time cell.

    Parameters
    ----------
    cell : str
        'HH:MM', 'HH:MM:SS', with am or pm if need be; an ISO date and time; or a number in `unit`.
    unit : str, optional
        's', 'min' or 'h' for bare numbers; 'm:ss' (or 'mm:ss', 'min:s') makes '1:30' a minute and a half.
    decimal : str, optional
        Decimal mark of bare numbers.

    Returns
    -------
    float, str
        Seconds since midnight (or since zero), and the ISO date where the cell has one.

    Raises
    ------
    InputError
        When it is no time.

    Examples
    --------
    >>> clock_s("19:05"), clock_s("1:30", "m:ss"), clock_s("2026-05-02T00:01")
    ((68700.0, ''), (90.0, ''), (60.0, '2026-05-02'))
    """
    stopwatch = unit in {"m:ss", "mm:ss", "min:s"}
    found = _CLOCK.fullmatch(cell)
    if found:
        first, second, third, half = found.groups()
        if stopwatch and third is None:
            return _within(int(first) * 60.0, int(second), 60, cell), ""
        hours = _twelve(int(first), half, cell)
        seconds = float(third.replace(",", ".")) if third else 0.0
        return _within(hours * 3600.0 + seconds, int(second), 60, cell, scale=60.0, seconds=seconds), ""
    iso = cell.replace("Z", "").strip()
    if re.match(r"\d{4}-\d{2}-\d{2}", iso):
        try:
            moment = dt.datetime.fromisoformat(iso)
        except ValueError:
            raise InputError(f"{cell!r} is not a date and time", do="write it as 2026-05-02 19:05") from None
        midnight = moment.replace(hour=0, minute=0, second=0, microsecond=0)
        return (moment - midnight).total_seconds(), moment.date().isoformat()
    try:
        number = float(cell.replace(decimal, "."))
    except ValueError:
        raise InputError(f"{cell!r} is not a time", do="write it as 19:05, 19:05:30 or in seconds") from None
    if unit not in {"", "s", "min", "h"}:
        raise InputError(f"{cell!r} is not a clock time", do="write it as 19:05")
    return number * {"": 1.0, "s": 1.0, "min": 60.0, "h": 3600.0}[unit], ""


def clock_text(time_s: float) -> str:
    """Write seconds since midnight as 'HH:MM:SS', with as many decimals as it takes.

    Examples
    --------
    >>> clock_text(68730.0), clock_text(0.25)
    ('19:05:30', '00:00:00.25')
    """
    whole = int(time_s)
    part = repr(round(time_s - whole, 6)).lstrip("0") if time_s != whole else ""
    return f"{whole // 3600:02d}:{whole // 60 % 60:02d}:{whole % 60:02d}{part}"


def days_between(first: str, date: str) -> float:
    """Give the seconds from one ISO date to another."""
    return (dt.date.fromisoformat(date) - dt.date.fromisoformat(first)).days * _DAY_S


def after(previous_s: float, time_s: float) -> tuple[float, bool]:
    """Put a clock time on the time line after the one before it; say whether it went back.

    A clock that falls by more than twelve hours has passed midnight.

    Examples
    --------
    >>> after(86_100.0, 300.0), after(3600.0, 3000.0)
    ((86700.0, False), (3000.0, True))
    """
    while time_s < previous_s - _DAY_S / 2:
        time_s += _DAY_S
    return time_s, time_s < previous_s


def _twelve(hours: int, half: str | None, cell: str) -> int:
    """Bring a twelve-hour clock to twenty-four."""
    if not half:
        return hours
    if not 1 <= hours <= 12:
        raise InputError(f"{cell!r} is not a time", do="write it as 7:05 pm or 19:05")
    return hours % 12 + (12 if half in "pP" else 0)


def _within(base_s: float, value: int, limit: int, cell: str, *, scale: float = 1.0, seconds: float = 0.0) -> float:
    """Add the last pair of a clock time, refusing 60 and more."""
    if value >= limit or seconds >= 60.0:
        raise InputError(f"{cell!r} is not a time", do="minutes and seconds end at 59")
    return base_s + value * scale
