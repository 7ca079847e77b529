"""The chain run backwards: which true values give what the panel shows, as an interval, open where it is at an end."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sensorcal.installed.chain import (
    Chain,
    Values,
    assumed_scale,
    in_blocks,
    node_of,
    return_v,
    series_of,
    supply_pins,
)
from sensorcal.installed.chainparts import FloatArray, RatioSensor, Thermistor
from sensorcal.installed.elements import values_of
from sensorcal.physics import loop

NOTHING_SHOWN, IMPOSSIBLE, AT_DISPLAY_END, AT_TABLE_END, AT_CONVERTER_END, AT_SENSOR_END = 1, 2, 4, 8, 16, 32
_WORDS = {
    NOTHING_SHOWN: "nothing is shown: beyond the table's ends, or not a number",
    IMPOSSIBLE: "no signal gives this reading: check it, and what was told of the monitor",
    AT_DISPLAY_END: "the display is at its end",
    AT_TABLE_END: "the monitor holds the end of its table or curve",
    AT_CONVERTER_END: "the input or its converter is at the end of its range",
    AT_SENSOR_END: "the sensor is at its end: short, open, or beyond the range of its curve",
}
_NEAR = 1e-6
"""Part of a count by which a reading may miss one, from rounding of the arithmetic."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TrueInterval:
    """True values that the chain shows as what was read.

    Attributes
    ----------
    low, high : ndarray
        degC or Pa; infinite where that end is open, nan where nothing can be said.
    why : ndarray of uint8
        Zero for a closed interval, else the sum of the reasons; `reasons` says them in words.
    """

    low: FloatArray
    high: FloatArray
    why: NDArray[np.uint8]

    @property
    def middle(self) -> FloatArray:
        """Middle of a closed interval; nan for an open one."""
        closed = np.isfinite(self.low) & np.isfinite(self.high)
        with np.errstate(invalid="ignore"):
            return np.asarray(np.where(closed, 0.5 * (self.low + self.high), np.nan))

    @property
    def closed(self) -> NDArray[np.bool_]:
        """True where both ends are known."""
        return np.asarray(np.isfinite(self.low) & np.isfinite(self.high))

    def reasons(self, index: int | tuple[int, ...] = ()) -> tuple[str, ...]:
        """Say why one interval is open, or empty; nothing for a closed one."""
        code = int(self.why[index])
        return tuple(words for bit, words in _WORDS.items() if code & bit)


def true_interval(chain: Chain, shown: ArrayLike) -> TrueInterval:
    """Find what is true, given what is shown.

    Parameters
    ----------
    chain : Chain
        With the values of its elements; their uncertainties are the budget's matter.
    shown : array_like
        degC or Pa, any shape.

    Returns
    -------
    TrueInterval
        Without steps of converter and display one value (low equals high, to rounding); with steps every value
        that is rounded to the reading, and no others. Where table, input, converter or sensor stand at an end,
        that side is open and `why` says so: a held reading is no measurement.

    Examples
    --------
    >>> from sensorcal.installed.chain import Chain, shown
    >>> from sensorcal.installed.chainparts import Converter, Display
    >>> from sensorcal.installed.conversion import CurveConversion
    >>> from sensorcal.physics.curves import SteinhartHart
    >>> probe = SteinhartHart.through_points([0.0, 50.0, 97.7], [5230.0, 721.0, 172.1])
    >>> chain = Chain(
    ...     sensor=Thermistor(curve=probe),
    ...     conversion=CurveConversion(curve=probe, low=-30.0, high=150.0, pull_ohm=1000.0),
    ...     converter=Converter(bits=10), display=Display(unit="degC", step=1.0),
    ... )
    >>> found = true_interval(chain, [90.0, 150.0])
    >>> found.low.round(2).tolist(), found.high.round(2).tolist()
    ([89.38, 149.98], [90.61, inf])
    >>> found.reasons(1)[0]
    'the monitor holds the end of its table or curve'
    """
    reading = np.asarray(shown, dtype=np.float64)
    values = values_of(chain)
    stacked = in_blocks(lambda part: _backward(chain, values, part), reading)
    return TrueInterval(low=stacked[0], high=stacked[1], why=stacked[2].astype(np.uint8))


def measurand_at(chain: Chain, fraction: ArrayLike) -> FloatArray:
    """Find what is true behind a signal, given as a part of the supply that the monitor assumes, without any steps.

    Parameters
    ----------
    chain : Chain
    fraction : array_like
        As the converter reads it before it rounds; any shape.

    Returns
    -------
    ndarray
        degC or Pa; minus or plus infinity beyond the ends of the sensor's curve, nan where input limits hide it.

    Examples
    --------
    >>> from sensorcal.installed.chain import Chain
    >>> from sensorcal.installed.chainparts import Thermistor, Wiring
    >>> from sensorcal.installed.conversion import CurveConversion
    >>> from sensorcal.physics.curves import SteinhartHart
    >>> probe = SteinhartHart.through_points([0.0, 50.0, 97.7], [5230.0, 721.0, 172.1])
    >>> chain = Chain(sensor=Thermistor(curve=probe), conversion=CurveConversion(curve=probe, pull_ohm=1000.0),
    ...               wiring=Wiring(contact_ohm=10.0))
    >>> float(measurand_at(chain, 182.1 / 1182.1).round(3))
    97.7
    """
    at = np.asarray(fraction, dtype=np.float64)
    values = values_of(chain)
    volts = np.asarray(_input_v(chain, values, at / assumed_scale(chain)))
    low, high, _ = _before_circuit(chain, values, volts, volts, np.zeros(at.shape, dtype=np.int_))
    out = np.where(np.isposinf(high), np.inf, low)
    hidden = (volts < chain.converter.low_v) | (volts > chain.converter.high_v) | np.isnan(at)
    return np.asarray(np.where(hidden, np.nan, out))


def _input_v(chain: Chain, values: Values, read: FloatArray) -> FloatArray:
    """Voltage at the input behind what the converter reads, as a part of its reference."""
    reference = values["supply_v"] if chain.converter.ratiometric else values["reference_v"]
    return np.asarray((read * reference - values["offset_v"]) / (1.0 + values["gain_ratio"]))


def _backward(chain: Chain, values: Values, reading: FloatArray) -> FloatArray:
    """Rows low, high and why of one block."""
    blank = np.isnan(reading)
    why = np.where(blank, NOTHING_SHOWN, 0)
    safe = np.where(blank, 0.5 * (chain.sensor.low + chain.sensor.high), reading) if blank.any() else reading
    low, high, why = _before_display(chain, safe, why)
    reach = chain.conversion.reach(low, high)
    # An end that the display leaves open already is not the table's doing.
    closed = np.isfinite(low) & np.isfinite(high)
    why = why | np.where(closed & (np.isinf(reach.low) | np.isinf(reach.high)), AT_TABLE_END, 0)
    why = why | np.where(reach.impossible, IMPOSSIBLE, 0)
    low, high, why = _before_steps(chain, values, reach.low, reach.high, why)
    low, high, why = _before_circuit(chain, values, low, high, why)
    dead = (why & (IMPOSSIBLE | NOTHING_SHOWN)) > 0
    if dead.any():
        low, high = np.where(dead, np.nan, low), np.where(dead, np.nan, high)
    return np.stack([low, high, why.astype(np.float64)])


def _before_display(
    chain: Chain, reading: FloatArray, why: NDArray[np.int_]
) -> tuple[FloatArray, FloatArray, NDArray[np.int_]]:
    """Values that the display rounds to a reading."""
    display = chain.display
    half = 0.5 * chain.display_step
    low, high = (reading - half, reading + half) if half else (reading, reading)
    for end, below in ((display.low, True), (display.high, False)):
        if not math.isfinite(end):
            continue
        held = (low <= end if below else high >= end) & (reading == reading)  # noqa: PLR0124
        beyond = low > end if not below else high < end
        why = why | np.where(held, AT_DISPLAY_END, 0) | np.where(beyond, IMPOSSIBLE, 0)
        if below:
            low = np.where(held, -np.inf, low)
        else:
            high = np.where(held, np.inf, high)
    return low, high, why


def _before_steps(
    chain: Chain, values: Values, low: FloatArray, high: FloatArray, why: NDArray[np.int_]
) -> tuple[FloatArray, FloatArray, NDArray[np.int_]]:
    """Voltages at the input that converter and input limits turn into such fractions."""
    converter = chain.converter
    low, high = low / assumed_scale(chain), high / assumed_scale(chain)
    if converter.bits is not None:
        counts = converter.counts
        first = np.maximum(np.ceil(low * counts - _NEAR), 0.0)
        last = np.minimum(np.floor(high * counts + _NEAR), counts - 1.0)
        why = why | np.where(first > last, IMPOSSIBLE, 0)
        at_low, at_high = first <= 0.0, last >= counts - 1.0
        # An end that the table leaves open already is not the converter's doing.
        ends = (at_low & np.isfinite(low)) | (at_high & np.isfinite(high))
        why = why | np.where(ends, AT_CONVERTER_END, 0)
        low = np.where(at_low, -np.inf, (first - 0.5) / counts)
        high = np.where(at_high, np.inf, (last + 0.5) / counts)
    low, high = (_input_v(chain, values, end) for end in (low, high))
    if math.isfinite(converter.low_v):
        held = low <= converter.low_v
        why = why | np.where(held, AT_CONVERTER_END, 0) | np.where(high < converter.low_v, IMPOSSIBLE, 0)
        low = np.where(held, -np.inf, low)
    if math.isfinite(converter.high_v):
        held = high >= converter.high_v
        why = why | np.where(held, AT_CONVERTER_END, 0) | np.where(low > converter.high_v, IMPOSSIBLE, 0)
        high = np.where(held, np.inf, high)
    return low, high, why


def _before_circuit(
    chain: Chain, values: Values, low: FloatArray, high: FloatArray, why: NDArray[np.int_]
) -> tuple[FloatArray, FloatArray, NDArray[np.int_]]:
    """Measurands that give such voltages; pressure rises with the voltage, temperature falls under a pull-up."""
    sensor = chain.sensor
    same = high is low or bool((high == low).all())
    if isinstance(sensor, RatioSensor):
        ends = [_pressure(sensor, chain, values, v) for v in ((low,) if same else (low, high))]
    else:
        ends = [_temperature(sensor, chain, values, v) for v in ((low,) if same else (low, high))]
        if not same and chain.divider.arrangement == "pull-up":
            ends.reverse()
    bottom, top = ends[0], ends[-1]
    below, above = bottom < sensor.low, top > sensor.high
    # Rounding of the arithmetic must not open the interval of a truth that stands on the very end.
    near = 1e-9 * (sensor.high - sensor.low)
    nowhere = (top < sensor.low - near) | (bottom > sensor.high + near)
    below &= bottom < sensor.low - near
    above &= top > sensor.high + near
    closed = np.isfinite(low) & np.isfinite(high)
    why = why | np.where((below | above) & closed, AT_SENSOR_END, 0)
    # All that is known of a value wholly beyond the curve is the side on which it lies.
    low = np.where(below, -np.inf, np.where(nowhere, sensor.high, bottom))
    high = np.where(above, np.inf, np.where(nowhere, sensor.low, top))
    return low, high, why


def _pressure(sensor: RatioSensor, chain: Chain, values: Values, voltage_v: FloatArray) -> FloatArray:
    """Pressure behind a voltage at the input; infinite beyond the ends of the output or the curve."""
    circuit = node_of(chain, values)
    series = values["output_ohm"] + series_of(values)
    source = loop.source_from_voltage_v(voltage_v, series, **circuit)
    feed_v, ground_v = supply_pins(chain, values)
    ratio = (source - ground_v) / (feed_v - ground_v)
    near = 1e-12
    off = values["sensor_error"]
    first = max(sensor.low_ratio, float(sensor.raw(np.asarray(sensor.low + off))) - 1e-6)
    last = min(sensor.high_ratio, float(sensor.raw(np.asarray(sensor.high + off))) + 1e-6)
    pressure = sensor.measurand(np.clip(ratio, first, last)) - values["sensor_error"]
    # At the very end of the output any pressure further out gives the same.
    low_end = ratio <= sensor.low_ratio + near if first == sensor.low_ratio else ratio < first
    high_end = ratio >= sensor.high_ratio - near if last == sensor.high_ratio else ratio > last
    return np.asarray(np.where(low_end, -np.inf, np.where(high_end, np.inf, pressure)))


def _temperature(sensor: Thermistor, chain: Chain, values: Values, voltage_v: FloatArray) -> FloatArray:
    """Temperature behind a voltage at the input; infinite for a short, an open circuit, or beyond the curve."""
    circuit = node_of(chain, values)
    pull_up = chain.divider.arrangement == "pull-up"
    end_v = return_v(chain, values) if pull_up else values["supply_v"]
    finite = np.clip(voltage_v, -1e6, 1e6)
    in_loop = loop.series_from_voltage_ohm(finite, end_v, **circuit)
    # The voltage of an open circuit, towards which every resistance strives; beyond it the law turns negative.
    hanging = circuit["pull_siemens"] + circuit["leak_siemens"] + circuit["input_siemens"]
    open_v = (circuit["pull_v"] * circuit["pull_siemens"] + circuit["leak_v"] * circuit["leak_siemens"]) / hanging
    is_open = finite >= open_v if end_v < open_v else finite <= open_v
    resistance = np.where(is_open, np.inf, in_loop - series_of(values))
    margin = 1.0 + abs(values["sensor_error"]) + 20.0 * (values["heating_k_per_w"] > 0.0)
    hottest, coldest = _ends(sensor, margin)
    ohm = np.clip(resistance, hottest, coldest)
    t = sensor.measurand(ohm) - values["sensor_error"]
    if values["heating_k_per_w"]:
        t = t - values["heating_k_per_w"] * loop.dissipated_w(end_v, finite, ohm, ohm + series_of(values))
    return np.asarray(np.where(resistance > coldest, -np.inf, np.where(resistance < hottest, np.inf, t)))


def _ends(sensor: Thermistor, margin: float) -> tuple[float, float]:
    """Resistances a little beyond the range of the curve, or at its ends where it goes no further."""
    try:
        ends = sensor.raw(np.array([sensor.high + margin, sensor.low - margin]))
    except Exception:  # noqa: BLE001  # a curve of the user's may refuse in its own way
        ends = sensor.raw(np.array([sensor.high, sensor.low]))
    return float(ends[0]), float(ends[1])
