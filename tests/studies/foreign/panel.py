"""The panel: probes, wires and monitor turn true values into shown ones; what is wrong there is an edit of it.

Thermistor between input and ground under a pull-up; transducers 10 to 90 % of their supply, read against a fixed 5 V;
the quadratic ln R(1/T) curve is a textbook form. Constants are invented.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from tests.studies.foreign.day import CHANNELS, STEP_S, THERMISTORS, TRANSDUCERS
from tests.studies.foreign.plant import lag

TOP_RATIO, BOTTOM_RATIO = 0.9985, 0.0012
"""Beyond these a thermistor input counts as open or shorted."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PanelMake:
    """One monitor with its probes."""

    r25: float
    beta: float
    bend: float
    pull_up: float
    ranges: dict[str, tuple[float, float]]
    probe_s: dict[str, float]
    zero: dict[str, float]
    gain: dict[str, float]
    hiss: dict[str, float]
    scale_c: tuple[float, float]
    rail: str  # 'end' of the scale, or 'blank'
    floor_zero: bool
    bits: int
    rate_hz: float
    oat_error: float
    crank_rpm_seen: bool
    restarts_below_v: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Edits:
    """What is wrong between the true values and the file. Empty mappings are a healthy panel."""

    series_ohm: dict[str, np.ndarray] = field(default_factory=dict)
    pull_up_ratio: dict[str, float] = field(default_factory=dict)
    keyed_curve: dict[str, tuple[float, float]] = field(default_factory=dict)
    rail_v: dict[str, float] = field(default_factory=dict)
    ground_v: dict[str, np.ndarray] = field(default_factory=dict)
    pressure_added: dict[str, float] = field(default_factory=dict)
    order: dict[str, str] = field(default_factory=dict)
    lag_s: dict[str, float] = field(default_factory=dict)
    hose: tuple[str, float] = ("", 0.0)
    pulsation: float = 0.0
    noise: dict[str, float] = field(default_factory=dict)
    rails: dict[str, list[tuple[float, float, str]]] = field(default_factory=dict)
    stuck_from: dict[str, float] = field(default_factory=dict)
    clip: dict[str, tuple[float, float]] = field(default_factory=dict)
    unit: dict[str, tuple[float, float]] = field(default_factory=dict)  # shown = factor * true + offset, at home units
    blanks: dict[str, list[tuple[float, float]]] = field(default_factory=dict)
    holds: dict[str, list[tuple[float, float]]] = field(default_factory=dict)
    lost_rows: list[tuple[float, float]] = field(default_factory=list)


def draw_panel(seed):
    """Draw a monitor and its probes."""
    rng = np.random.default_rng([seed, 33])
    u = rng.uniform
    spans = {
        "oil_pressure": (0.0, float(rng.choice([690e3, 1000e3, 1000e3, 1034e3]))),
        "fuel_pressure": (0.0, float(rng.choice([600e3, 690e3, 700e3]))),
        "map": (float(rng.choice([0.0, 0.0, 20e3])), float(rng.choice([200e3, 250e3, 300e3]))),
    }
    zero = {name: float(np.clip(rng.normal(0, 0.3), -0.7, 0.7)) for name in THERMISTORS}
    zero |= {name: float(np.clip(rng.normal(0, 0.003), -0.008, 0.008)) * spans[name][1] for name in TRANSDUCERS}
    zero["map"] = float(np.clip(rng.normal(0, 500), -1200, 1200))
    gain = {name: float(np.clip(rng.normal(1, 0.003), 0.993, 1.007)) for name in CHANNELS}
    hiss = {name: u(0.01, 0.08) for name in THERMISTORS}
    r25 = float(rng.choice([1000, 2000, 2252, 2500, 2800, 5000, 10000]))
    likely = [ohm for ohm in (470, 1000, 1500, 2200, 2490, 3300, 4700, 10000) if 0.3 * r25 <= ohm <= 1.5 * r25]
    pull_up = float(rng.choice(likely))
    hiss |= {name: spans[name][1] * 10 ** u(-4.0, -3.1) for name in TRANSDUCERS}
    return PanelMake(
        r25=r25 * u(0.99, 1.01),
        beta=u(3350, 3980), bend=u(-1.5e5, 0.3e5),
        pull_up=pull_up, ranges=spans,
        probe_s={name: u(3, 12) for name in THERMISTORS} | {name: u(0.02, 0.25) for name in TRANSDUCERS},
        zero=zero, gain=gain, hiss=hiss,
        scale_c=(float(rng.choice([-50, -40, -40, -30])), float(rng.choice([150, 160, 180, 200]))),
        rail=str(rng.choice(["end", "blank"], p=[0.65, 0.35])), floor_zero=bool(rng.random() < 0.3),
        bits=int(rng.choice([10, 12, 12, 14, 16])),
        rate_hz=float(rng.choice([1, 2, 4, 5, 10], p=[0.34, 0.27, 0.12, 0.17, 0.1])),
        oat_error=float(np.clip(rng.normal(0, 0.6), -1.5, 1.5)), crank_rpm_seen=bool(rng.random() < 0.7),
        restarts_below_v=float(rng.choice([7.0, 8.5, 9.2])),
    )  # fmt: skip


def ohms(make, temperature_c):
    """Resistance of a probe, ohm."""
    x = 1.0 / (temperature_c + 273.15) - 1.0 / 298.15
    return make.r25 * np.exp(make.beta * x + make.bend * x * x)


def degrees(make, resistance_ohm, r25_ratio=1.0, beta_ratio=1.0):
    """Temperature by the keyed curve, the inverse of `ohms` when both ratios are one."""
    y = np.log(resistance_ohm / (make.r25 * r25_ratio))
    b = make.beta * beta_ratio
    x = 2.0 * y / (b + np.sqrt(np.maximum(b * b + 4.0 * make.bend * y, 0.04 * b * b)))
    return 1.0 / (x + 1.0 / 298.15) - 273.15


def show(day, make, truth, edits):
    """Give the shown values on the grid: degC, Pa, and the side channels; NaN where the panel is blank.

    The noise depends on the day only, so that two calls with other edits differ by these alone.
    """
    rng = np.random.default_rng([day.seed, 44])
    size = truth.rpm.size
    reached, ratios = {}, {}
    for name in THERMISTORS:
        body = lag(truth.at_probe[name], make.probe_s[name])
        if name in edits.lag_s:
            body = lag(body, edits.lag_s[name])
        reached[name] = make.gain[name] * body + make.zero[name] + make.hiss[name] * rng.standard_normal(size)
        r = ohms(make, reached[name]) + edits.series_ohm.get(name, 0.0)
        d = edits.ground_v.get(name, 0.0)
        ratio = (
            d + (edits.rail_v.get(name, 5.0) - d) * r / (r + make.pull_up * edits.pull_up_ratio.get(name, 1.0))
        ) / 5.0
        ratios[name] = _railed(edits, name, ratio)
    for name in TRANSDUCERS:
        true = truth.at_probe[name]
        if name == "map":
            true = _hose(day, truth, edits, true)
        low, high = make.ranges[name]
        felt = lag(true, make.probe_s[name]) + edits.pressure_added.get(name, 0.0)
        if name == "map":
            felt = felt + edits.pulsation * np.where(
                day.plan.running, np.minimum(1.0, day.make.idle_rpm / np.maximum(truth.rpm, 500.0)), 0.0
            ) * np.random.default_rng([day.seed, 45]).standard_normal(size)  # fmt: skip
        felt = make.gain[name] * felt + make.zero[name] + make.hiss[name] * rng.standard_normal(size)
        d = edits.ground_v.get(name, 0.0)
        ratio = (d + (edits.rail_v.get(name, 5.0) - d) * (0.1 + 0.8 * (felt - low) / (high - low))) / 5.0
        ratios[name] = _railed(edits, name, ratio)
    step = 2.0**-make.bits
    shown = {}
    for name in CHANNELS:
        ratio = np.clip(np.round(ratios[edits.order.get(name, name)] / step) * step, 0.0, 1.0)
        value = _converted(make, edits, name, ratio)
        if name in edits.clip:
            value = np.clip(value, *edits.clip[name])
        if name in edits.noise:
            noise = np.random.default_rng([day.seed, 46, CHANNELS.index(name)]).standard_normal(size)
            value = value + edits.noise[name] * noise
        if name in edits.unit:
            factor, offset = edits.unit[name]
            value = factor * value + offset
        for at, length in edits.holds.get(name, ()):
            a, b = int(at / STEP_S), int((at + length) / STEP_S) + 1
            value[a:b] = value[max(a - 1, 0)]
        if name in edits.stuck_from:
            at = min(int(edits.stuck_from[name] / STEP_S), size - 1)
            value[at:] = value[at]
        for at, length in edits.blanks.get(name, ()):
            value[int(at / STEP_S) : int((at + length) / STEP_S) + 1] = np.nan
        shown[name] = value
    seen = truth.rpm if make.crank_rpm_seen else np.where(truth.rpm < 420.0, 0.0, truth.rpm)
    shown["rpm"] = seen
    shown["bus"] = truth.bus + 0.01 * rng.standard_normal(size)
    shown["oat"] = lag(truth.air_c, 20.0) + make.oat_error + 0.03 * rng.standard_normal(size)
    return shown


def _railed(edits, name, ratio):
    """Put the moments at a rail into a ratio: an open loop reads full scale, a shorted one nothing."""
    if name not in edits.rails:
        return ratio
    ratio = ratio.copy()
    for at, length, which in edits.rails[name]:
        a = int(at / STEP_S)
        ratio[a : max(a + 1, int((at + length) / STEP_S))] = {"open": 1.0, "short": 0.0}[which]
    return ratio


def _converted(make, edits, name, ratio):
    """Turn a ratio into degC or Pa as the monitor does."""
    if name in THERMISTORS:
        inside = np.clip(ratio, BOTTOM_RATIO, TOP_RATIO)
        value = degrees(make, make.pull_up * inside / (1.0 - inside), *edits.keyed_curve.get(name, (1.0, 1.0)))
        value = np.where(ratio >= TOP_RATIO, -300.0, np.where(ratio <= BOTTOM_RATIO, 900.0, value))
        low, high = make.scale_c
        outside = (value < low) | (value > high)
        return np.where(outside, np.nan, value) if make.rail == "blank" else np.clip(value, low, high)
    low, high = make.ranges[name]
    value = low + (ratio - 0.1) / 0.8 * (high - low)
    return np.maximum(value, 0.0) if make.floor_zero else value


def _hose(day, truth, edits, true):
    """What arrives at the far end of the manifold hose."""
    what, size = edits.hose
    if what == "off":
        wash = np.random.default_rng([day.seed, 47]).standard_normal(true.size)
        return day.weather.station_pa + lag(60.0 * wash, 0.4) * (0.3 + 4.0 * truth.rpm / 5500.0)
    if what == "leak":
        return true + size * (day.weather.station_pa - true)
    return lag(true, size) if what == "pinched" else true
