"""Causes that show by themselves in one channel: how much more likely the log is with them than without."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sensorcal.engine import TEMPERATURES
from sensorcal.firststart.channels import TOLERANCE, WORDS
from sensorcal.firststart.digital import Signs, Stretch, stretches
from sensorcal.firststart.facts import StartFacts
from sensorcal.firststart.phases import Phases
from sensorcal.firststart.startlog import StartLog

Floats = NDArray[np.float64]

_QUIET_RUN = {  # quick part of a sound channel while running and at rest: common practice, no source
    "coolant": (0.15, 0.08), "gearbox_oil": (0.15, 0.08), "charge_in": (0.35, 0.1), "charge_out": (0.3, 0.1),
    "oil_pressure": (6.5e3, 1.5e3), "fuel_pressure": (2.5e3, 1.2e3), "map": (0.6e3, 0.25e3),
}  # fmt: skip
_SPREAD = 0.34


@dataclass(frozen=True, slots=True, kw_only=True)
class Clue:
    """One cause with its support.

    Parameters
    ----------
    kind : str
    channel : str
        '' for the log as a whole.
    support : float
        Log-likelihood ratio against a sound channel.
    evidence : tuple of str
    start_s, end_s : float
    size : float or None
        In the channel's home unit.
    hard : bool
        True where no engine can do this: a rail, a blank.
    also : tuple of str
    """

    kind: str
    channel: str
    support: float
    evidence: tuple[str, ...]
    start_s: float
    end_s: float
    size: float | None = None
    hard: bool = False
    also: tuple[str, ...] = ()


def clues(log: StartLog, phases: Phases, facts: StartFacts, signs: Mapping[str, Signs]) -> list[Clue]:
    """List what the channels show by themselves.

    Parameters
    ----------
    log : StartLog
    phases : Phases
    facts : StartFacts
    signs : mapping of channel to Signs

    Returns
    -------
    list of Clue
        Only those that speak for a cause.
    """
    found: list[Clue] = []
    for name, sign in signs.items():
        rails = list(_rails(log, name, sign))
        found += rails
        if rails:
            continue  # the rest of a channel on a rail says nothing more
        found += _broken(log, name, sign)
        found += _frozen(log, phases, name, sign, signs, facts.station_pa)
        found += _clipped(name, sign)
        found += _noisy(name, sign, log, phases)
    found += _holes(log, phases, signs)
    gauge = list(_gauge_manifold(log, phases, signs))
    if gauge:
        found = [clue for clue in found if clue.channel != "map"] + gauge
    return [clue for clue in found if clue.support > 0]


def _persists(parts: tuple[Stretch, ...], log: StartLog) -> tuple[float, float] | None:
    """First moment from which a sign holds to the end almost without a break; with its share of the rows."""
    if not parts:
        return None
    t = log.time_s
    inside = np.zeros(t.size, bool)
    for part in parts:
        inside |= (t >= part.start_s) & (t <= part.end_s)
    tail_share = np.cumsum(inside[::-1])[::-1] / np.arange(t.size, 0, -1)
    starts = [int(np.searchsorted(t, part.start_s)) for part in parts]
    for index in starts:
        if tail_share[index] > 0.85 and t.size - index >= max(6, 0.03 * t.size):
            return float(t[index]), float(inside.mean())
    return None


def _rails(log: StartLog, name: str, sign: Signs) -> Iterable[Clue]:
    where = WORDS[name]
    for kind, parts, words in (
        ("open_circuit", sign.low_rail, "at the bottom of the scale"), ("open_circuit", sign.blanks, "blank"),
        ("short_circuit", sign.high_rail, "at the top of the scale"),
    ):  # fmt: skip
        held = _persists(parts, log)
        if held is None:
            continue
        since, share = held
        begin = "from the beginning" if since <= log.time_s[0] + 1.0 else f"from {since:.0f} s"
        yield Clue(
            kind=kind, channel=name, support=12.0 + min(40.0, 60.0 * share), hard=True,
            evidence=(f"{where} stands {words} {begin} to the end ({share:.0%} of the rows)",),
            start_s=since, end_s=float(log.time_s[-1]),
        )  # fmt: skip


def _broken(log: StartLog, name: str, sign: Signs) -> Iterable[Clue]:
    """Excursions to a rail, spikes and blanks that come and go."""
    rails = (*sign.low_rail, *sign.high_rail)
    blanks = sign.blanks
    persistent = _persists(sign.low_rail, log) or _persists(sign.high_rail, log) or _persists(blanks, log)
    if persistent:
        return
    times = sorted([*(part.start_s for part in rails), *sign.spikes])
    if len(times) >= 2:
        size = f", about {sign.spike_size:.3g} in size" if sign.spikes else ""
        yield Clue(
            kind="intermittent", channel=name, support=min(45.0, 3.5 * len(times) - 3.0), hard=bool(rails),
            evidence=(f"{len(times)} short excursions{size}; the first at {times[0]:.0f} s",),
            start_s=times[0], end_s=times[-1], size=sign.spike_size or None,
        )  # fmt: skip
    rows = sum(part.rows for part in blanks)
    share = rows / len(log)
    if rows >= 3:
        yield Clue(
            kind="dropouts", channel=name, support=min(40.0, 350.0 * (share - 0.012)),
            evidence=(f"{rows} blank rows in {len(blanks)} places ({share:.1%} of the log)",),
            start_s=blanks[0].start_s, end_s=blanks[-1].end_s, hard=True,
        )  # fmt: skip


def _frozen(
    log: StartLog, phases: Phases, name: str, sign: Signs, signs: Mapping[str, Signs], air_pa: float
) -> Iterable[Clue]:
    parts = sign.frozen
    if not parts:
        yield from _never_moves(log, phases, name, signs, air_pa)
        return
    longest = max(parts, key=lambda part: part.end_s - part.start_s)
    total = sum(part.rows for part in parts)
    long = longest.end_s - longest.start_s
    support = min(45.0, 0.6 * sign.frozen_expected - 8.0) if long > 15.0 or len(parts) >= 4 else 0.0
    x = log.values[name]
    held = float(x[np.searchsorted(log.time_s, longest.start_s)])
    top = float(np.nanmax(np.where(sign.bad, np.nan, x)))
    ran = log.time_s[phases.mask("first_30_s", "idle", "warm_up", "run_up")]
    to_end = longest.end_s > (float(ran[-1]) if ran.size else float(log.time_s[-1])) - 3.0
    first = int(np.searchsorted(log.time_s, longest.start_s))
    rising = first > 20 and held - float(np.nanmin(x[max(first - 40, 0) : first])) > 4.0 * sign.resolution
    # What climbed up to its highest number and stands there met the end of an input or died there: both are named.
    if held >= top - 1e-9 * abs(top) and (rising or sign.clipped):
        kind = "clipped"
    elif longest.rows > 0.25 * len(log) or to_end or (len(parts) == 1 and longest.rows > 60):
        kind = "stuck"
    else:
        kind = "dropouts"
    said = (
        f"{WORDS[name]} does not change from {longest.start_s:.0f} s to {longest.end_s:.0f} s"
        f" ({total} rows in {len(parts)} stretches), where about {sign.frozen_expected:.0f} changes were due"
    )
    yield Clue(
        kind=kind, channel=name, support=support, evidence=(said,), start_s=longest.start_s, end_s=longest.end_s,
        also=("stuck",) if kind == "clipped" and to_end else (),
    )  # fmt: skip


def _never_moves(log: StartLog, phases: Phases, name: str, signs: Mapping[str, Signs], air_pa: float) -> Iterable[Clue]:
    """A channel with one value from some moment to the end, while the engine does what must move it."""
    if log.kind == "events":
        return
    sign = signs[name]
    good = np.flatnonzero(~sign.bad)
    if good.size < 30:
        return
    t, x = log.time_s[good], log.values[name][good]
    changed = np.flatnonzero(np.abs(np.diff(x)) > 1e-9 * (1.0 + np.abs(x[1:])))
    first = int(changed[-1]) + 1 if changed.size else 0
    since, until = float(t[first]), float(t[-1])
    if until - since < 45.0 or t.size - first < 20:
        return
    # The pressure of the air, seen with coarse steps: a hose that is off is at least as likely.
    most = 0.35 if name == "map" and abs(float(x[first]) - air_pa) < 3e3 else 1.0
    moved, said = _due(log, phases, name, signs, since, float(x[first]), air_pa)
    steps = moved / max(sign.resolution, 0.02 * TOLERANCE[name])
    support = most * min(40.0, 2.5 * steps - 4.0)
    if moved <= 0 or support <= 0:
        return
    # A value that was climbing up to its highest and then stands is a stop of the input as likely as a dead channel.
    rising = first > 20 and float(x[first] - x[max(first - 30, 0)]) > 3.0 * max(sign.resolution, 1e-9)
    stop = rising and x[first] >= x.max()
    kind = "clipped" if stop else "stuck"
    yield Clue(
        kind=kind, also=("stuck" if kind == "clipped" else "clipped",) if stop else (), channel=name, support=support,
        evidence=(f"{WORDS[name]} shows one number from {since:.0f} s to the end, while {said}",),
        start_s=since, end_s=until,
    )  # fmt: skip


def _due(
    log: StartLog, phases: Phases, name: str, signs: Mapping[str, Signs], since: float, value: float, air_pa: float
) -> tuple[float, str]:
    """How far a sound channel must have moved since then, home unit, and why."""
    t = log.time_s
    good = t[~signs[name].bad]
    running = phases.mask("first_30_s", "idle", "warm_up", "run_up") & (t >= since) & (t <= good[-1])
    stopped = phases.stop_s is not None and phases.stop_s > since + 20.0
    started = phases.start_s is not None and phases.start_s > since + 5.0 and phases.start_s < t[-1] - 30.0
    air = name == "map" and abs(value - air_pa) < 3e3
    speed = log.values.get("rpm")
    # Without an engine speed only a start or a stop within the stretch says that the engine changed its state.
    steady = True
    if speed is not None and (running & np.isfinite(speed)).sum() > 20:
        low, high = np.quantile(speed[running & np.isfinite(speed)], (0.05, 0.97))
        steady = high < 1.4 * max(low, 300.0)
    if name in {"map", "oil_pressure"}:
        # One number near the pressure of the air: a hose that is off, seen with coarse steps, is as likely.
        # One number near the pressure of the air: a hose that is off, seen with coarse steps, is as likely.
        most = 3e3 if air else 30e3 if name == "map" else 150e3
        if stopped or started:
            return most, "the engine starts or stops"
        if not steady and (name == "map" or value < 300e3):
            return 0.4 * most, "the engine speed changes by far"
        return 0.0, ""
    if name == "fuel_pressure":
        return 0.0, ""  # a regulated pressure is legitimately flat, and stays after the stop
    boost = log.values.get("map")
    seconds = float(np.sum(np.diff(t, append=t[-1])[running]))
    if name == "coolant" and value < 70.0 and seconds > 240.0:
        return 10.0, f"the engine runs for {seconds:.0f} s below its thermostat"
    if name == "charge_in" and boost is not None:
        pushed = running & np.isfinite(boost) & (boost > 1.15 * air_pa)
        if np.sum(np.diff(t, append=t[-1])[pushed]) > 10.0:
            return 10.0, "the boost heats it"
    others = [other for other in TEMPERATURES if other in signs and other != name]
    swings = {}
    for other in others:
        y = np.where(signs[other].bad, np.nan, log.values[other])[running]
        y = y[np.isfinite(y)]
        if y.size > 20:
            swings[other] = float(np.ptp(y))
    if not swings or running.sum() < 30:
        return 0.0, ""
    if name in {"coolant", "gearbox_oil"}:
        partner = "gearbox_oil" if name == "coolant" else "coolant"
        swing = swings.get(partner, 0.0)
        # Below the thermostat coolant must climb while the oil does; a plateau is its right.
        if name == "coolant" and value > 70.0:
            return 0.0, ""
        return 0.16 * max(swing - 4.0, 0.0), f"{WORDS[partner]} moves by {swing:.0f} °C"
    partner = "charge_out" if name == "charge_in" else "charge_in"
    swing = swings.get(partner, 0.0)
    return 0.12 * max(swing - 6.0, 0.0), f"{WORDS[partner]} moves by {swing:.0f} °C"


def _gauge_manifold(log: StartLog, phases: Phases, signs: Mapping[str, Signs]) -> Iterable[Clue]:
    """Manifold pressure of about nothing with the engine at rest, and above nothing at times: a gauge sensor."""
    if "map" not in signs:
        return
    x = log.values["map"]
    rest = x[phases.mask("rest", "pump") & np.isfinite(x)]
    ran = x[phases.mask("first_30_s", "idle", "warm_up", "run_up") & np.isfinite(x)]
    if rest.size < 4 or ran.size < 10 or abs(float(np.median(rest))) > 3e3:
        return
    moves = float(np.quantile(ran, 0.99)) > 4e3 or float(np.quantile(ran, 0.05)) < -8e3
    pinned = float(np.median(ran)) <= float(np.median(rest)) + 1e3
    if not (moves or (pinned and not phases.has("run_up"))):
        return  # nothing at all, not even at power: an open input
    yield Clue(
        kind="wrong_reference_type", channel="map", support=30.0 if moves else 18.0,
        also=() if moves else ("open_circuit",),
        evidence=(f"manifold pressure shows {np.median(rest) / 1e3:.1f} kPa at rest: the air is missing",),
        start_s=float(log.time_s[0]), end_s=float(log.time_s[-1]),
    )  # fmt: skip


def _clipped(name: str, sign: Signs) -> Iterable[Clue]:
    if not sign.clipped or sign.clip_expected < 6.0:
        return
    held = sum(part.rows for part in sign.clipped)
    yield Clue(
        kind="clipped", channel=name, support=min(30.0, 0.7 * sign.clip_expected - 4.0),
        evidence=(
            (f"{WORDS[name]} stands at exactly its highest number for {held} rows in {len(sign.clipped)} stretches, "
            f"where about {sign.clip_expected:.0f} changes were due"),
        ),
        start_s=sign.clipped[0].start_s, end_s=sign.clipped[-1].end_s,
    )  # fmt: skip


def _noisy(name: str, sign: Signs, log: StartLog, phases: Phases) -> Iterable[Clue]:
    """Quick changes far above what a sound channel shows."""
    base_run, base_rest = _QUIET_RUN[name]
    step = 0.35 * sign.resolution
    run = _excess(sign.noise_run, float(np.hypot(base_run, step)), TOLERANCE[name])
    rest = (
        0.0 if name == "fuel_pressure" else _excess(sign.noise_rest, float(np.hypot(base_rest, step)), TOLERANCE[name])
    )
    support = max(run, 0.0) + max(rest, 0.0)
    if support <= 0:
        return
    size = float(np.nanmax([sign.noise_run, sign.noise_rest]))
    in_rest = np.isfinite(sign.noise_rest) and sign.noise_rest > 0.45 * sign.noise_run and rest > 0
    kind = "map_pulsation" if name == "map" and not in_rest else "noise"
    unit = "°C" if name in TEMPERATURES else "kPa"
    scale = 1.0 if name in TEMPERATURES else 1e-3
    yield Clue(
        kind=kind, channel=name, support=min(support, 45.0),
        evidence=(
            (f"{WORDS[name]} changes from row to row with a standard deviation of {sign.noise_run * scale:.2g} {unit} "
            f"while running and {sign.noise_rest * scale:.2g} {unit} at rest"),
        ),
        start_s=float(log.time_s[0]), end_s=float(log.time_s[-1]), size=size,
    )  # fmt: skip
    del phases


def _excess(seen: float, usual: float, tolerance: float) -> float:
    """Log-likelihood ratio of a noise level: a sound channel's against a disturbed one's."""
    if not np.isfinite(seen) or seen <= usual:
        return 0.0
    sound = np.log(seen / usual) / _SPREAD
    faulty = np.log(seen / tolerance) / 1.2
    return float(0.5 * sound**2 - 0.5 * faulty**2 + np.log(_SPREAD / 1.2))


def _holes(log: StartLog, phases: Phases, signs: Mapping[str, Signs]) -> Iterable[Clue]:
    """Gaps and blank rows of the whole log, other than a monitor that restarts at the crank."""
    near = [(span.start_s - 3.0, span.end_s + 20.0) for span in phases.crank]

    def cranking(a: float, b: float) -> bool:
        return any(first <= b and a <= last for first, last in near)

    table = np.vstack([log.values[name] for name in signs]) if signs else np.empty((0, len(log)))
    empty = stretches(log.time_s, np.asarray(np.isnan(table).all(axis=0)) if signs else np.zeros(len(log), bool))
    holes = [(a, b) for a, b in log.gaps if not cranking(a, b)]
    holes += [(part.start_s, part.end_s) for part in empty if not cranking(part.start_s, part.end_s)]
    step = float(np.median(np.diff(log.time_s))) if len(log) > 1 else 1.0
    lost = sum(b - a - step for a, b in log.gaps if not cranking(a, b))
    lost += sum(part.rows for part in empty if not cranking(part.start_s, part.end_s)) * step
    share = lost / max(float(log.time_s[-1] - log.time_s[0]), 1.0)
    if len(holes) < 3 or share < 0.01:
        return
    yield Clue(
        kind="dropouts", channel="", support=min(40.0, 350.0 * (share - 0.018)), hard=True,
        evidence=(f"{len(holes)} holes in the whole log, {lost:.0f} s together ({share:.1%} of it)",),
        start_s=min(a for a, _ in holes), end_s=max(b for _, b in holes),
    )  # fmt: skip
