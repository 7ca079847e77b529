"""What a sound engine and sound instruments show, as a log-likelihood of the few dozen numbers of a log.

Each line is one statement of physics with its spread; the sizes are common practice without a source unless a
reference stands beside them, and wide enough for hangars, hot restarts, hunting idle and cold oil. A line whose
windows the log lacks says nothing. All functions work on arrays of shape (..., windows), so that many sizes of an
edit are judged at once.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from sensorcal.engine import TEMPERATURES
from sensorcal.firststart.facts import StartFacts
from sensorcal.firststart.summary import W

Floats = NDArray[np.float64]
Rows = Mapping[str, Floats]
Parts = dict[str, Floats]
"""Line by name: log-likelihood against the best value, about zero or less, NaN where it is silent, shape (...)."""

_ZERO_K = 273.15
_RESTING = {"coolant": (0.0, 0.8), "gearbox_oil": (0.0, 0.8), "charge_in": (0.6, 1.2), "charge_out": (0.5, 1.2)}
# Self-heating in still air lifts the charge pair by 0.7-1.8 degC at most (job's own figures, computed).
_WARMTH = np.array([6.0, 10.0, 15.0, 20.0, 26.0, 33.0, 40.0, 48.0, 56.0, 64.0, 72.0, 80.0])
_WARM_SHARE = {  # share of the coolant's warmth, and its spread
    "coolant": (1.0, 0.05), "gearbox_oil": (0.78, 0.17), "charge_in": (0.3, 0.11), "charge_out": (0.22, 0.11),
}  # fmt: skip
_STEPS = {  # change at: cranking, 5-15 s after the start, 3-10 s after the stop: mean and spread, degC
    "coolant": ((0.0, 0.35), (0.7, 1.0), (0.3, 0.9)), "gearbox_oil": ((0.0, 0.35), (0.2, 0.7), (0.0, 0.6)),
    "charge_in": ((0.1, 0.8), (1.5, 3.5), (0.5, 2.5)), "charge_out": ((0.0, 0.7), (0.7, 3.0), (0.5, 2.0)),
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Context:
    """What the lines need besides the rows."""

    facts: StartFacts
    ambient_c: float
    u_ambient_c: float
    resolution: Mapping[str, float]
    units: Mapping[str, str] = field(default_factory=dict)


def tail(z: Floats, freedom: float = 6.0) -> Floats:
    """Log-likelihood of a standardised difference, with tails; zero at the mean, NaN where nothing is known.

    Examples
    --------
    >>> import numpy as np
    >>> tail(np.array([1.0, 3.0, np.nan])).round(2).tolist()
    [-0.54, -3.21, nan]
    """
    return np.asarray(-0.5 * (freedom + 1.0) * np.log1p(np.square(z) / freedom))


def healthy(rows: Rows, context: Context, only: Iterable[str] | None = None) -> Parts:
    """Judge all lines, or those that depend on some channels.

    Parameters
    ----------
    rows : mapping of channel to (..., windows) float
    context : Context
    only : iterable of str, optional
        Channels that have changed.

    Returns
    -------
    Parts

    References
    ----------
    Lumped heat balance, adiabatic compression: any text of heat transfer and thermodynamics.
    """
    touched = set(rows) if only is None else set(only)
    parts: Parts = {}
    with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
        for lines, needs in _GROUPS:
            if touched & needs:
                parts |= lines(rows, context)
    return parts


def temperatures(rows: Rows, context: Context) -> Parts:
    """Cold soak, steps with the current, warm-up and heat soak of the four probes."""
    parts: Parts = {}
    present = [name for name in TEMPERATURES if name in rows]
    parts["rest"] = _rest(rows, present, context)
    for name in present:
        x = rows[name]
        step = 0.7 * context.resolution.get(name, 0.1)
        start = x[..., W["before"]]
        start = np.where(np.isfinite(start), start, x[..., W["rest"]])
        for label, window, against, index in (
            ("crank_step", "crank", start, 0), ("start_step", "after_start", start, 1),
            ("stop_step", "after_stop", x[..., W["end_run"]], 2),
        ):  # fmt: skip
            mean, own = _STEPS[name][index]
            # A hot restart moves warm pockets along: the first flow may step by some degrees.
            spread = np.where(start > 42.0, own + 5.0, own) if index < 2 else own
            parts[f"{name}.{label}"] = tail((x[..., W[window]] - against - mean) / np.hypot(spread, step), 4.0)
        moved = x[..., W["loaded"]] - x[..., W["unloaded"]]
        parts[f"{name}.load_step"] = tail(moved / np.hypot(0.5, step), 4.0)
        below = context.ambient_c - 4.0 - x[..., W["run_low"]]
        parts[f"{name}.below_air"] = tail(np.maximum(below, 0.0) / (2.5 + context.u_ambient_c))
    if "coolant" in rows:
        parts |= _coolant(rows["coolant"], context)
    if "gearbox_oil" in rows:
        parts |= _gearbox(rows["gearbox_oil"], rows.get("coolant"))
    return parts


def _rest(rows: Rows, present: list[str], context: Context) -> Floats:
    """Four probes before the start: cold and alike, or warm from an earlier run and cooling in order."""
    seen = [name for name in present if np.isfinite(np.asarray(rows[name][..., W["rest"]])).all()]
    if not seen:
        return np.zeros(())
    t = np.stack(np.broadcast_arrays(*(rows[name][..., W["rest"]] for name in seen)), axis=-1)
    offset = np.array([_RESTING[name][0] for name in seen])
    own = np.array([np.hypot(_RESTING[name][1], 0.4 * context.resolution.get(name, 0.1)) for name in seen])
    air = context.u_ambient_c
    # Cold in the shade; cold in a hangar or in the sun. What each state costs is its rarity, not its width.
    states = [
        _joint(t - context.ambient_c - offset - 0.5, own, np.hypot(1.2, air)),
        _joint(t - context.ambient_c - offset - 4.5, own, np.hypot(3.0, air)) - 0.8,
    ]
    # Warm from an earlier run or from a preheater: the coolant stands `warmth` above the air, the others below it.
    share = np.array([_WARM_SHARE[name][0] for name in seen])
    spread = np.array([_WARM_SHARE[name][1] for name in seen])
    states += [
        _joint(t - context.ambient_c - warmth * share, 2.0 + warmth * spread, 1.0 + min(air, 3.0)) - 3.5
        for warmth in _WARMTH
    ]
    return np.asarray(np.max(np.stack(states), axis=0))


def _joint(away: Floats, own: Floats, common: float, freedom: float = 6.0) -> Floats:
    """Log-likelihood of differences that share one common part, multivariate t; zero where there is none."""
    inverse = 1.0 / own**2
    total = inverse.sum()
    shrink = 1.0 / (1.0 / common**2 + total)
    square = (away * away * inverse).sum(axis=-1) - shrink * (away * inverse).sum(axis=-1) ** 2
    count = away.shape[-1]
    return np.asarray(-0.5 * (freedom + count) * np.log1p(square / freedom))


def _coolant(x: Floats, context: Context) -> Parts:
    rest, s60, s120, s180, s300, s600 = (x[..., W[name]] for name in ("rest", "s60", "s120", "s180", "s300", "s600"))
    end = x[..., W["end_run"]]
    cold = rest < 45.0
    # Rate by the longest stretch that still lies below the thermostat.
    rate = np.where(s300 < 70.0, (s300 - s60) / 4.0, np.where(s180 < 72.0, (s180 - s60) / 2.0, s120 - s60))
    rate = np.where(cold & (s60 < 65.0), rate, np.nan)
    parts = {"coolant.rate": tail((np.log(np.maximum(rate, 0.15)) - np.log(7.5)) / 0.6)}
    # A block of metal begins to warm at once; a probe that lags begins late. Two scales: 1 min, and 2 against 3 min.
    first, later = (s60 - rest) / (s120 - s60), (s120 - rest) / 120.0 / ((s300 - s120) / 180.0)
    first = np.where(cold & (s120 - s60 > 2.0) & (s120 < 70.0), first, np.nan)
    later = np.where(cold & (s300 - s120 > 4.0) & (s300 < 72.0), later, np.nan)
    parts["coolant.onset"] = tail((np.log(np.maximum(first, 0.05)) + 0.27) / 0.22)
    parts["coolant.onset_late"] = tail((np.log(np.maximum(later, 0.05)) + 0.03) / 0.3)
    opens = context.facts.engine.thermostat_c
    mean, spread = (85.0, 5.5) if opens is None else (opens + 4.0, 4.0)
    steady = np.where((np.abs(end - s600) < 5.0) & (end > 45.0), end, np.nan)
    # A plateau too low is a thermostat that stands open in the cold, most often: half as telling.
    away = steady - mean
    parts["coolant.plateau"] = tail(np.where(away > 0.0, away, 0.5 * away) / spread)
    parts["coolant.too_hot"] = tail(np.maximum(x[..., W["run_high"]] - 96.0, 0.0) / 3.5)
    soak = np.fmax(x[..., W["soak60"]], x[..., W["soak150"]])
    parts["coolant.soak"] = tail(np.where(end > 55.0, (soak - end - 3.5) / 4.0, np.nan))
    return parts


def _gearbox(x: Floats, coolant: Floats | None) -> Parts:
    rest, end = x[..., W["rest"]], x[..., W["end_run"]]
    parts = {"gearbox_oil.too_hot": tail(np.maximum(x[..., W["run_high"]] - 95.0, 0.0) / 7.0)}
    if coolant is not None:
        rise = coolant[..., W["end_run"]] - coolant[..., W["rest"]]
        ratio = np.where((rise > 20.0) & (rest < 45.0), (end - rest) / rise, np.nan)
        parts["gearbox_oil.behind"] = tail((ratio - 0.58) / 0.27)
        parts["gearbox_oil.after_soak"] = tail(np.where(end > 40.0, (x[..., W["soak150"]] - end - 1.0) / 4.0, np.nan))
    return parts


def charge(rows: Rows, context: Context) -> Parts:
    """Charge air before and after its cooler against the air, each other and the boost."""
    parts: Parts = {}
    before, after = rows.get("charge_in"), rows.get("charge_out")
    air, u_air = context.ambient_c, context.u_ambient_c
    power = rows["map"][..., W["boost"]] if "map" in rows else None
    rise: Floats | None = None
    if power is not None and context.facts.engine.boosted == "yes":
        ratio = np.clip(power / context.facts.station_pa, 0.2, 4.0)
        # Adiabatic compression at 65 % (thermodynamics text); a short burst shows less.
        rise = (air + _ZERO_K) * (np.maximum(ratio, 1.0) ** 0.286 - 1.0) / 0.65
    for name, x, mean, spread in (("charge_in", before, 9.0, 9.0), ("charge_out", after, 6.0, 8.0)):
        if x is None:
            continue
        for window in ("idle_cold", "idle_warm"):
            wide = spread if window == "idle_cold" else 1.3 * spread
            parts[f"{name}.{window}"] = tail((x[..., W[window]] - air - mean) / np.hypot(wide, u_air))
        soak = np.fmax(x[..., W["soak60"]], x[..., W["soak150"]]) - x[..., W["end_run"]]
        parts[f"{name}.soak"] = tail((soak - 6.0) / 11.0)
        if rise is not None:
            share, own = (0.8, 0.3) if name == "charge_in" else (0.3, 0.2)
            high = x[..., W["boost"]] - air
            parts[f"{name}.boost"] = tail(
                np.where(rise > 8.0, (high - share * rise - 5.0) / np.hypot(own * rise + 6.0, u_air), np.nan)
            )
            climb = x[..., W["boost"]] - x[..., W["near_boost"]]
            part, own = (0.55, 0.28) if name == "charge_in" else (0.12, 0.14)
            parts[f"{name}.climb"] = tail(np.where(rise > 8.0, (climb - part * rise) / (own * rise + 4.0), np.nan))
    if before is not None and after is not None:
        for window in ("idle_cold", "idle_warm"):
            width = 4.5 if window == "idle_cold" else 3.2
            parts[f"charge.{window}_pair"] = tail((before[..., W[window]] - after[..., W[window]] - 4.0) / width)
        # After the stop the side of the turbocharger leads.
        soaked = before[..., W["soak150"]] - after[..., W["soak150"]]
        parts["charge.soak_pair"] = tail((soaked - 9.0) / 8.0)
        high, low = before[..., W["boost"]], after[..., W["boost"]]
        if rise is not None:
            warm = np.where((rise > 8.0) & (high - air > 10.0), (high - low) / (high - air), np.nan)
            parts["charge.effectiveness"] = tail((warm - 0.6) / 0.17)
            parts["charge.order"] = tail(np.where(rise > 8.0, np.minimum(high - low - 4.0, 0.0) / 3.0, np.nan))
    return parts


def manifold(rows: Rows, context: Context) -> Parts:
    """Manifold pressure: the air at rest, before and after alike, the dip, the idle."""
    x = rows.get("map")
    if x is None:
        return {}
    facts = context.facts
    step = 0.4 * context.resolution.get("map", 0.0)
    rest, again = x[..., W["rest"]], x[..., W["again"]]
    sensor = np.hypot(850.0, step)
    station = np.hypot(sensor, facts.u_station_pa)
    at_rest = np.where(np.isfinite(rest), rest, again)
    dip = rest - x[..., W["crank_low"]]
    idle = np.fmin(x[..., W["idle_warm"]], x[..., W["run_low"]])
    usual, spread = (facts.engine.idle_map_pa, 3_800.0) if facts.engine.idle_map_pa else (40_000.0, 5_500.0)
    quiet = facts.station_pa - 6_000.0 - x[..., W["run_low"]]
    return {
        "map.rest": tail((at_rest - facts.station_pa) / station),
        "map.again": tail((again - rest) / np.hypot(350.0, step)),
        "map.crank": tail(np.minimum(dip + 1_000.0, 0.0) / np.hypot(1_500.0, step)),
        "map.idle": tail((idle - usual) / spread),
        "map.vacuum": tail(np.minimum(quiet, 0.0) / 3_000.0),
        "map.load_step": tail((x[..., W["loaded"]] - x[..., W["unloaded"]]) / np.hypot(1_500.0, step), 4.0),
    }


def oil(rows: Rows, context: Context) -> Parts:
    """Oil pressure: zero at rest and again, its level while running."""
    x = rows.get("oil_pressure")
    if x is None:
        return {}
    facts = context.facts
    span = facts.span_pa("oil_pressure")
    step = 0.4 * context.resolution.get("oil_pressure", 0.0)
    zero = np.hypot(0.007 * span, step)
    known = facts.engine.oil_warm_pa
    mean, spread = (known, 0.22) if known else (430e3, 0.4)
    return {
        "oil_pressure.rest": tail(x[..., W["rest"]] / zero),
        "oil_pressure.before": tail(x[..., W["before"]] / (1.5 * zero)),
        "oil_pressure.again": tail((x[..., W["again"]] - 0.002 * span) / (1.4 * zero)),
        "oil_pressure.level": tail(_log(x[..., W["run_high"]], mean) / spread),
        "oil_pressure.idle": tail(_log(x[..., W["idle_warm"]], 0.7 * mean) / (spread + 0.2)),
        # Oil rises with the speed, or stands at the relief valve: it never falls.
        "oil_pressure.with_speed": tail(
            np.minimum(np.log(np.maximum(x[..., W["boost"]], 1e3) / np.maximum(_beside(x), 1e3)) - 0.05, 0.0) / 0.12
        ),
        "oil_pressure.load_step": tail(
            (x[..., W["loaded"]] - x[..., W["unloaded"]]) / np.hypot(0.02 * span, step), 4.0
        ),
    }


def _beside(x: Floats) -> Floats:
    """Level at idle nearest to the run-up."""
    near, warm = x[..., W["near_boost"]], x[..., W["idle_warm"]]
    return np.asarray(np.where(np.isfinite(near), near, warm))


def fuel(rows: Rows, context: Context) -> Parts:
    """Fuel pressure: nothing or what an earlier run left, then the regulator's value by its reference."""
    x = rows.get("fuel_pressure")
    if x is None:
        return {}
    facts = context.facts
    engine = facts.engine
    span = facts.span_pa("fuel_pressure")
    step = 0.4 * context.resolution.get("fuel_pressure", 0.0)
    zero = np.hypot(0.008 * span, step)
    typed = facts.low.get("fuel_pressure")
    # A typed lower limit tells a carburettor's 30 kPa from an injection's 300.
    usual = engine.fuel_set_pa or (1.3 * typed if typed else 300e3)
    rest = x[..., W["rest"]]
    # Residual pressure from an earlier run, or the pump already on, is no fault: anything up to the regulator's value.
    residual = np.where(
        (rest > -zero) & (rest < 1.15 * usual),
        -3.6,
        tail((np.abs(rest - 0.5 * usual) - 0.65 * usual) / (0.1 * usual)) - 3.6,
    )
    idle, high = x[..., W["idle_warm"]], x[..., W["boost"]]
    idle = np.where(np.isfinite(idle), idle, x[..., W["idle_cold"]])
    m = rows.get("map")
    lift_idle = _lift(m, "idle_warm", facts)
    # Where the manifold pressure is not known, a usual idle lies 50 kPa below the air.
    lift_idle = np.where(np.isfinite(lift_idle), lift_idle, -50e3 if engine.fuel_reference == "manifold" else 0.0)
    later, sooner = x[..., W["idle_warm"]], x[..., W["idle_cold"]]
    fade = later - sooner - (_lift(m, "idle_warm", facts) - _lift(m, "idle_cold", facts))
    parts = {
        # At one speed a regulator holds one value from the first minutes to the last.
        "fuel_pressure.fade": tail(np.minimum(fade, 0.0) / np.hypot(0.035 * usual + 1e3, step)),
        "fuel_pressure.rest": np.logaddexp(tail(rest / zero), residual),
        "fuel_pressure.load_step": tail(
            (x[..., W["loaded"]] - x[..., W["unloaded"]]) / np.hypot(0.012 * span, step), 4.0
        ),
    }
    if engine.fuel_set_pa is not None:
        parts["fuel_pressure.level"] = tail((idle - usual - lift_idle) / np.hypot(0.05 * usual, step))
        if m is not None:
            lift = _lift(m, "boost", facts)
            away = (high - usual - lift) / np.hypot(0.06 * usual, step)
            parts["fuel_pressure.power"] = tail(np.minimum(away, 0.0))
            parts["fuel_pressure.surge"] = tail(np.maximum(away, 0.0))
    else:
        injected = tail(_log(idle - lift_idle, usual) / 0.25)
        low = tail(_log(idle, 30e3) / 0.35) - (9.0 if typed else 2.0)
        parts["fuel_pressure.level"] = np.logaddexp(injected, low)
        drop = high - idle
        lift = np.maximum(m[..., W["boost"]] - m[..., W["idle_warm"]], 0.0) if m is not None else np.zeros(())
        # Whether the regulator looks at the open air or at the manifold is not known: between the two is no fault.
        parts["fuel_pressure.power"] = tail(np.minimum(drop, 0.0) / (0.06 * usual))
        parts["fuel_pressure.surge"] = tail(np.maximum(drop - lift, 0.0) / (0.06 * usual))
    return parts


def _lift(m: Floats | None, window: str, facts: StartFacts) -> Floats:
    """How far the regulator's reference stands above the air outside, Pa; before the throttle never below it."""
    reference = facts.engine.fuel_reference
    if reference == "open air":
        return np.zeros(())
    if m is None:
        return np.full((), np.nan)
    above = m[..., W[window]] - facts.station_pa
    return np.asarray(above if reference == "manifold" else np.maximum(above, 0.0))


def _log(x: Floats, mean: float) -> Floats:
    """Natural logarithm of a pressure against its usual value; what is not above zero counts as a thousandth."""
    return np.asarray(np.log(np.maximum(x, 1e-3 * mean) / mean))


_GROUPS: tuple[tuple[Callable[[Rows, Context], Parts], set[str]], ...] = (
    (temperatures, set(TEMPERATURES)), (charge, {"charge_in", "charge_out", "map"}), (manifold, {"map"}),
    (oil, {"oil_pressure"}), (fuel, {"fuel_pressure", "map"}),
)  # fmt: skip
