"""From what surrounds each sensor to the number on the invented panel: circuit, converter, display, their faults."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sensorcal.engine import PRESSURES, TEMPERATURES
from sensorcal.firststart.simulate_faults import Fault, wrong_unit_shown
from sensorcal.firststart.simulate_scenario import Panel
from sensorcal.physics.atmosphere import ZERO_C_K
from sensorcal.physics.loop import input_voltage_v, transducer_output_v
from sensorcal.physics.transducer import RatioPolynomial

Floats = NDArray[np.float64]
SUPPLY_V = 5.0
_ZERO_RATIO, _SPAN_RATIO = 0.1, 0.8  # 0.5 to 4.5 V of 5 V, common practice
_SEALED_PA = 101_325.0
_OPEN_OHM, _SHORT_OHM = 50e6, 0.2
_RAIL_LOW, _RAIL_HIGH = 0.04, 0.96
_OPEN_AT, _SHORT_AT = 0.997, 0.0025
"""Share of the supply beyond which a thermistor input counts as open or short: estimates."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Rows:
    """What the sensors stand in at each logged row, with the seeded noise of the panel.

    `felt` by sensor: degC, or Pa (oil and fuel gauge, manifold absolute); `noise` in home units by channel.
    """

    time_s: Floats
    felt: Mapping[str, Floats]
    noise: Mapping[str, Floats]
    flowing: Floats
    warm_k: Floats
    current_a: Floats
    running: NDArray[np.bool_]
    bus_v: Floats
    rpm: Floats
    station_pa: float


def since_mask(rows: Rows, fault: Fault) -> NDArray[np.bool_]:
    """Rows on which the fault is there."""
    return np.asarray(rows.time_s >= fault.from_s)


def feed_v(rows: Rows, fault: Fault | None) -> Floats | float:
    """Supply at the sensors: 5 V, or sagging, at rest or with the bus."""
    if fault is None or fault.kind != "ref_sag":
        return SUPPLY_V
    sag = np.where(since_mask(rows, fault), SUPPLY_V - fault.get("feed_v", SUPPLY_V), 0.0)
    if fault.get("follows_bus"):  # a regulator without headroom: worst while cranking, gone when charging
        return np.asarray(SUPPLY_V - sag * np.clip((14.2 - rows.bus_v) / 2.0, 0.0, 2.0))
    return np.asarray(SUPPLY_V - sag)


def lift_v(rows: Rows, fault: Fault | None, channel: str) -> Floats | float:
    """Lift of the sensor's ground over the monitor's: V = I R of the strap, or a constant while running."""
    if fault is None or fault.kind != "ground_offset" or channel not in fault.channels:
        return 0.0
    lift = fault.get("strap_ohm") * rows.current_a + fault.get("running_v") * rows.running
    return np.asarray(lift * since_mask(rows, fault))


def temperature_shown(panel: Panel, rows: Rows, fault: Fault | None, channel: str, sensor: str) -> Floats:
    """What a temperature channel shows before its last digit, degC; NaN where the monitor shows nothing."""
    curve = panel.curve
    felt = rows.felt[sensor]
    has = fault is not None and channel in fault.channels
    scale, pull = 1.0 + panel.scale_error[channel], panel.pull_up_ohm
    z = 1.0 / (felt + ZERO_C_K) - 1.0 / (25.0 + ZERO_C_K)
    curve_beta = fault.get("beta_ratio", 1.0) if has and fault is not None and fault.kind == "wrong_curve" else 1.0
    curve_ohm = fault.get("ohm_ratio", 1.0) if has and fault is not None and fault.kind == "wrong_curve" else 1.0
    if has and fault is not None and fault.kind == "wrong_pullup":
        pull = pull * fault.get("pull_up_ratio", 1.0)
    true_ohm = panel.sheet_ohm(felt) * scale
    supply = feed_v(rows, fault) if fault is not None and fault.get("pull_up_too") else SUPPLY_V
    # Self-heating: less in moving or liquid media than in still air; one step, since it is small.
    still = panel.air_w_per_k if sensor.startswith("charge") else panel.liquid_w_per_k
    watt_per_k = still * (1.0 + 3.0 * rows.flowing)
    power = (supply / (true_ohm + pull)) ** 2 * true_ohm
    slope = (panel.beta_k + panel.curvature_k2 * z) / (felt + ZERO_C_K) ** 2
    ohm = true_ohm * np.exp(-slope * power / watt_per_k)
    series: Floats | float = 0.0
    if has and fault is not None and fault.kind == "contact_resistance":
        wobble = np.random.default_rng(fault.seed).standard_normal(felt.size)
        wobble = fault.get("jitter_ratio") * wobble * (0.3 + rows.running)
        series = fault.get("series_ohm") * np.maximum(1.0 + wobble, 0.0) * since_mask(rows, fault)
    loop = ohm + series
    if has and fault is not None and fault.kind == "open_circuit":
        loop = np.where(since_mask(rows, fault), _OPEN_OHM, loop)
    if has and fault is not None and fault.kind == "short_circuit":
        loop = np.where(since_mask(rows, fault), _SHORT_OHM, loop)
    volts = input_voltage_v(lift_v(rows, fault, channel), loop, pull_v=supply, pull_siemens=1.0 / pull)
    share = volts / SUPPLY_V  # the monitor reckons with 5 V and its nominal pull-up
    full = 2**panel.bits - 1
    share = np.clip(np.round(share * full), 0, full) / full
    opened, shorted = share >= _OPEN_AT, share <= _SHORT_AT
    safe = np.clip(share, _SHORT_AT, _OPEN_AT)
    assumed = panel.pull_up_ohm * safe / (1.0 - safe)
    if curve_ohm != 1.0 or curve_beta != 1.0:
        # The monitor's curve has another R25 or B than the probe: R_m = ratio R25 (R / R25)^beta_ratio.
        assumed = panel.ohm_25 * (assumed / (curve_ohm * panel.ohm_25)) ** (1.0 / curve_beta)
    shown = np.clip(curve.temperature_c(assumed), *panel.scale_c) + panel.offset_k[channel]
    bottom = panel.scale_c[0] if panel.open_shows == "bottom" else np.nan
    top = panel.scale_c[1] if panel.short_shows == "top" else np.nan
    return np.asarray(np.where(opened, bottom, np.where(shorted, top, shown + rows.noise[channel])))


def pressure_shown(panel: Panel, rows: Rows, fault: Fault | None, channel: str, sensor: str) -> Floats:
    """What a pressure channel shows before its last digit, Pa, for the sensor that hangs on it."""
    has = fault is not None and channel in fault.channels
    at_port = rows.felt[sensor]
    if has and fault is not None and fault.kind == "wrong_reference_type":
        gauge = at_port - (rows.station_pa if sensor == "map" else 0.0)
        absolute = gauge + rows.station_pa
        sealed = absolute - _SEALED_PA
        other = gauge if sensor == "map" else absolute
        at_port = sealed if fault.get("sealed") else other
    low, high = panel.low_pa[sensor], panel.high_pa[sensor]
    line = RatioPolynomial.through(zero_ratio=_ZERO_RATIO, span_ratio=_SPAN_RATIO, low_pa=low, high_pa=high)
    zero = panel.zero_pa[sensor] + panel.hot_pa[sensor] * rows.warm_k / 60.0
    seen = at_port * (1.0 + panel.span_ratio[sensor]) + zero
    ratio = np.clip(line.ratio(seen), 0.02, 0.98)  # the output stage's ends, estimate
    volts = np.asarray(transducer_output_v(ratio, feed_v(rows, fault), lift_v(rows, fault, channel)))
    volts = volts + rows.noise[sensor] * _SPAN_RATIO / (high - low) * SUPPLY_V
    if has and fault is not None and fault.kind == "open_circuit":
        volts = np.where(since_mask(rows, fault), panel.pressure_open_v, volts)
    if has and fault is not None and fault.kind == "short_circuit":
        volts = np.where(since_mask(rows, fault), SUPPLY_V, volts)
    full = 2**panel.bits - 1
    share = np.clip(np.round(volts / SUPPLY_V * full), 0, full) / full
    span = panel.high_pa[channel] - panel.low_pa[channel]
    shown = panel.low_pa[channel] + (share - _ZERO_RATIO) / _SPAN_RATIO * span
    shown = np.maximum(shown, 0.0) if panel.clamps_zero else shown
    if panel.pressure_rail_blank:
        shown = np.where((share < _RAIL_LOW) | (share > _RAIL_HIGH), np.nan, shown)
    return np.asarray(shown)


def shown_channels(panel: Panel, rows: Rows, fault: Fault | None, channels: tuple[str, ...]) -> dict[str, Floats]:
    """What each channel shows, with its display step; faults of the sensors, circuits and display are in it."""
    found: dict[str, Floats] = {}
    for channel in channels:
        if channel in TEMPERATURES:
            numbers = temperature_shown(panel, rows, fault, channel, source_of(fault, channel))
        elif channel in PRESSURES:
            numbers = pressure_shown(panel, rows, fault, channel, source_of(fault, channel))
        else:
            numbers = rows.felt[channel] + rows.noise[channel]
            if channel == "rpm":
                numbers = np.maximum(numbers, 0.0) * (rows.felt[channel] > 20.0)
        step = panel.step[channel]
        if fault is not None and channel in fault.channels:
            numbers = _marred(panel, rows, fault, channel, numbers)
            if fault.kind == "wrong_unit":
                numbers = wrong_unit_shown(numbers, fault.unit)
                if fault.unit in {"psi", "bar", "inHg"}:
                    step = min(step, {"psi": 100.0, "bar": 10.0, "inHg": 10.0}[fault.unit])
        numbers = np.round(numbers / step) * step + 0.0  # no zero with a minus sign
        if fault is not None and channel in fault.channels and fault.kind == "stuck":
            numbers = _held(panel, rows, fault, channel, numbers)
        found[channel] = numbers
    return found


def source_of(fault: Fault | None, channel: str) -> str:
    """Which sensor hangs on a channel: its own, or another's where the wiring order is wrong."""
    if fault is None or channel not in fault.channels:
        return channel
    if fault.kind in {"swapped_charge", "swapped_oil_fuel"}:
        return next(other for other in fault.channels if other != channel)
    if fault.kind == "channel_slip":
        names = fault.channels
        return names[(names.index(channel) + int(fault.get("steps", 1.0))) % len(names)]
    return channel


def _held(panel: Panel, rows: Rows, fault: Fault, channel: str, numbers: Floats) -> Floats:
    at = int(np.searchsorted(rows.time_s, fault.from_s))
    held = numbers.copy()
    if "held" in fault.size:
        step = panel.step[channel]
        return np.full(held.shape, round(fault.get("held") / step) * step)
    if at < held.size:
        finite = np.flatnonzero(np.isfinite(held[at:]))
        if finite.size:
            held[at:] = held[at + finite[0]]
    return held


def _marred(panel: Panel, rows: Rows, fault: Fault, channel: str, numbers: Floats) -> Floats:
    """Intermittent contact, electrical noise, pulsation and a clipped end."""
    rng = np.random.default_rng(fault.seed)
    since = since_mask(rows, fault)
    speed = np.clip(rows.rpm / 4000.0, 0.0, 1.4)
    if fault.kind == "noise":
        share = fault.get("with_speed")
        size = fault.get("rms") * ((1.0 - share) + share * speed)
        return np.asarray(numbers + np.where(since, size * rng.standard_normal(numbers.size), 0.0))
    if fault.kind == "map_pulsation":
        # Worst at idle and low speed, nil at rest: the hose without a restrictor.
        size = fault.get("rms_pa") * np.where(rows.rpm > 150.0, np.clip(1.35 - rows.rpm / 4500.0, 0.15, 1.2), 0.0)
        return np.asarray(np.maximum(numbers + np.where(since, size * rng.standard_normal(numbers.size), 0.0), 2e3))
    if fault.kind == "clipped":
        return np.minimum(numbers, fault.get("top"))
    if fault.kind == "intermittent":
        shares = fault.get("share") * (speed if fault.get("with_speed") else np.ones(numbers.size))
        bad = since & bursts(rng, rows.time_s, shares, fault.get("length_s"))
        whole = fault.get("depth") >= 1.0
        depth = np.ones(numbers.size) if whole else fault.get("depth") * rng.uniform(0.6, 1.0, numbers.size)
        if channel in TEMPERATURES:
            open_end = fault.get("top") == 0.0
            rail = panel.scale_c[0] if open_end else panel.scale_c[1]
            blank = panel.open_shows == "blank" if open_end else panel.short_shows == "blank"
            gone = blank and whole
        else:
            span = panel.high_pa[channel] - panel.low_pa[channel]
            rail = panel.low_pa[channel] + (1.125 if fault.get("top") else -0.125) * span
            rail, gone = max(rail, 0.0) if panel.clamps_zero else rail, panel.pressure_rail_blank and whole
        away = numbers + depth * (rail - numbers)
        return np.asarray(np.where(bad, np.nan if gone else away, numbers))
    return numbers


def bursts(rng: np.random.Generator, time_s: Floats, share: Floats, length_s: float) -> NDArray[np.bool_]:
    """Rows in random bursts of a mean length that cover a share of the time; the share may change from row to row."""
    n = time_s.size
    step = float(np.median(np.diff(time_s))) if n > 1 else 1.0
    mean = max(length_s / step, 1.0)
    begins = rng.random(n) < np.clip(share, 0.0, 0.95) / mean
    lengths = 1 + rng.geometric(1.0 / mean, n) - 1
    reach = np.where(begins, np.arange(n) + np.maximum(lengths, 1), 0)
    return np.asarray(np.maximum.accumulate(reach) > np.arange(n))
