"""An alarm in plain words: the arithmetic, what it leaves to chance, normal running, and boiling with altitude."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from sensorcal.units import from_si, interval_from_si
from sensorcal.views.words import number, unit_symbol

if TYPE_CHECKING:
    from sensorcal.installed.alarm import Alarm, Nuisance, SustainedRate
    from sensorcal.installed.boilmargin import BoilingMargin

ALARM_CAUTION = (
    "An alarm is a call to look, not a diagnosis: low oil pressure and overheating are real until proved otherwise. "
    "The engine maker's manual rules."
)


def alarm_lines(
    found: Alarm,
    *,
    before: tuple[str, ...] = (),
    rate: SustainedRate | None = None,
    room: Nuisance | None = None,
    boiling: BoilingMargin | None = None,
    at_boiling: Alarm | None = None,
    altitude_unit: str = "m",
) -> list[str]:
    """Write an alarm for a screen or a logbook page.

    Parameters
    ----------
    found : Alarm
    before : tuple of str
        Where limit and U come from.
    rate : SustainedRate, optional
        The stretch of the log that the rate was taken from.
    room : Nuisance, optional
    boiling : BoilingMargin, optional
        Of a coolant, degC.
    at_boiling : Alarm, optional
        The same arithmetic from the lowest boiling point, where that lies below the limit.
    altitude_unit : str

    Returns
    -------
    list of str
    """
    symbol = unit_symbol(found.unit)
    lines = [*before, *([""] if before else [])]
    lines += [line.replace(f" {found.unit}", f" {symbol}") for line in found.arithmetic]
    side = "past" if found.side == "high" else "below"
    chance = _chance(found.false_accept)
    lines += ["", f"At rest and shown {_guarded(found)}, the true value is {side} the limit {chance}."]
    if not found.travel:
        lines.append("No climb is counted: give --rate, or a --log of your own, with --lag.")
    if rate is not None:
        lines.append(
            f"Rate from the log: {rate.rate_per_s:+.3g} ± {2.0 * rate.u_rate_per_s:.1g} {symbol}/s over "
            f"{rate.to_s - rate.from_s:.0f} s from {rate.from_s:.0f} s on ({rate.readings} readings); "
            + (
                "it holds for climbs no faster than the log's."
                if found.side == "high"
                else "it holds for falls no faster than the log's; closing the throttle counts too: give --rate then."
            )
        )
    if room is not None:
        lines.append(f"{room.words[:1].upper()}{room.words[1:].replace(found.unit, symbol)}.")
    if boiling is not None:
        lines += ["", *boiling_lines(boiling, found.unit, altitude_unit)]
    if at_boiling is not None:
        lines.append(
            f"From the lowest of these, {number(at_boiling.limit, 1)} {symbol}, the same arithmetic gives "
            f"{at_boiling.red:g} {symbol}, caution {at_boiling.caution:g}: key that in where the altitude is flown."
        )
    return [*lines, "", ALARM_CAUTION]


def boiling_lines(boiling: BoilingMargin, unit: str, altitude_unit: str) -> list[str]:
    """Write boiling with altitude, cap tight and cap leaking, with the margin of the limit."""
    symbol = unit_symbol(unit)
    lines = [f"Boiling of the coolant, {symbol}, and how far the limit stays below it:"]
    for altitude, tight, loose, margin in zip(
        boiling.altitude_m, boiling.boiling_c, boiling.unsealed_c, boiling.margin_c, strict=True
    ):
        away = interval_from_si(float(margin), unit)
        word = "" if margin > 0.0 else "  the limit lies above boiling"
        lines.append(
            f"  {number(from_si(float(altitude), altitude_unit), 0):>6} {altitude_unit}  cap tight "
            f"{number(from_si(float(tight), unit), 1)} ({away:+.1f}), cap leaking "
            f"{number(from_si(float(loose), unit), 1)}{word}"
        )
    return lines


def alarm_machine(found: Alarm, **more: object) -> dict[str, Any]:
    """Give everything for machines; numbers in the alarm's own unit."""
    extra = {name: asdict(part) for name, part in more.items() if part is not None}  # type: ignore[call-overload]
    for part in extra.values():
        for key, value in part.items():
            if hasattr(value, "tolist"):
                part[key] = value.tolist()
    return {"format": "sensorcal-alarm/1", **asdict(found), **extra}


def _guarded(found: Alarm) -> str:
    sign = -1.0 if found.side == "high" else 1.0
    return f"{number(found.limit + sign * found.guard, 1)} {unit_symbol(found.unit)}"


def _chance(probability: float) -> str:
    if probability < 1e-4:
        return "less than once in 10 000 times"
    return f"{100.0 * probability:.2g} times in 100"
