"""The signal chain from what is measured to the number on the panel: forward, step by step, and its derivatives."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sensorcal import units
from sensorcal.errors import InputError
from sensorcal.installed.chainparts import (
    Converter,
    Display,
    Divider,
    FloatArray,
    Ground,
    RatioSensor,
    Sensor,
    Thermistor,
    Wiring,
)
from sensorcal.installed.conversion import Conversion
from sensorcal.installed.elements import ELEMENTS, Element, elements_of, values_of
from sensorcal.measure.inputs import Shape
from sensorcal.physics import loop
from sensorcal.physics.wire import COPPER_PER_K

Values = Mapping[str, Any]
"""Element values by name: floats, complex numbers or arrays."""

_BLOCK = 16_384
_TINY = 1e-30
"""Complex step: so small that nothing but the derivative remains, to the last digit."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Chain:
    """Everything between a sensor and the number on the panel.

    Parameters
    ----------
    sensor : Thermistor or RatioSensor
    conversion : TableConversion, CurveConversion or alike
        What the monitor makes of the signal, and the circuit it assumes.
    wiring, ground, divider, converter, display
        The parts between; ideal unless stated. A thermistor needs a pull resistor.
    shapes : mapping of element name to distribution
        For Monte Carlo, where an element's error is not normal, such as 'rectangular' for a tolerance.

    Raises
    ------
    InputError
        Parts that do not fit each other.

    Examples
    --------
    >>> from sensorcal.installed.conversion import CurveConversion
    >>> from sensorcal.physics.curves import SteinhartHart
    >>> probe = SteinhartHart.through_points([0.0, 50.0, 97.7], [5230.0, 721.0, 172.1])
    >>> chain = Chain(
    ...     sensor=Thermistor(curve=probe),
    ...     conversion=CurveConversion(curve=probe, pull_ohm=1000.0),
    ...     wiring=Wiring(contact_ohm=10.0),
    ... )
    >>> float(shown(chain, 90.0).round(1))
    88.3
    """

    sensor: Sensor
    conversion: Conversion
    wiring: Wiring = field(default_factory=Wiring)
    ground: Ground = field(default_factory=Ground)
    divider: Divider = field(default_factory=Divider)
    converter: Converter = field(default_factory=Converter)
    display: Display = field(default_factory=Display)
    shapes: Mapping[str, Shape] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Refuse a thermistor without a pull resistor, and words that name no element."""
        if isinstance(self.sensor, Thermistor) and self.divider.arrangement == "none":
            raise InputError("a thermistor needs a pull resistor", do="write 'pull-up' or 'pull-down'")
        down = getattr(self.conversion, "pull_down", False)
        if isinstance(self.sensor, Thermistor) and down != (self.divider.arrangement == "pull-down"):
            raise InputError(
                "the monitor reckons with the other arrangement of sensor and resistor",
                do="set pull_down of the conversion as the divider is wired",
            )
        names = {element.name for element in ELEMENTS}
        for name in self.shapes:
            if name not in names:
                raise InputError(f"{name!r} is no element of a chain", do=f"write one of {', '.join(sorted(names))}")
        if self.display.unit:
            units.interval_to_si(1.0, self.display.unit)
        object.__setattr__(self, "shapes", dict(self.shapes))

    @property
    def display_step(self) -> float:
        """Last digit of the display in degC or Pa."""
        step = self.display.step
        return float(units.interval_to_si(step, self.display.unit)) if self.display.unit else step

    @property
    def display_zero(self) -> float:
        """Zero of the display's unit in degC or Pa: -17.8 for degF."""
        return float(units.to_si(0.0, self.display.unit)) if self.display.unit else 0.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Trace:
    """A value on its way through the chain, one array a stage, for one look at where it goes wrong.

    Attributes
    ----------
    measurand : ndarray
        degC or Pa.
    sensor : ndarray
        Ohm of a thermistor, output over supply of a transducer.
    input_v : ndarray
        Voltage at the monitor's input, before its limits.
    counts : ndarray
        Counts of the converter; nan without steps.
    fraction : ndarray
        What the converter makes of it, as a part of the supply that the monitor assumes.
    value : ndarray
        Before the display rounds it.
    shown : ndarray
        nan where nothing is shown.
    clipped : ndarray of bool
        The converter, its input limits or the sensor's output are at their end.
    """

    measurand: FloatArray
    sensor: FloatArray
    input_v: FloatArray
    counts: FloatArray
    fraction: FloatArray
    value: FloatArray
    shown: FloatArray
    clipped: NDArray[np.bool_]


def shown(chain: Chain, measurand: ArrayLike) -> FloatArray:
    """Value that the panel shows.

    Parameters
    ----------
    chain : Chain
    measurand : array_like
        True temperature in degC or pressure in Pa, any shape; a missing one (nan) stays missing.

    Returns
    -------
    ndarray
        In degC or Pa, rounded as the display rounds; nan where it shows nothing, or nobody knows what.

    Raises
    ------
    InputError
        A value beyond the range of the sensor's curve: nothing is extrapolated.
    """
    at = _checked(chain, measurand)
    values = values_of(chain)

    def forward(part: FloatArray) -> FloatArray:
        return displayed(chain, chain.conversion.value(converted(chain, fraction_at(chain, values, part))))

    missing = np.isnan(at)
    if not missing.any():
        return in_blocks(forward, at)
    return np.where(missing, np.nan, in_blocks(forward, np.where(missing, chain.sensor.low, at)))


def trace(chain: Chain, measurand: ArrayLike) -> Trace:
    """Follow values through every stage of the chain; arguments as `shown`."""
    at = _checked(chain, measurand)
    values = values_of(chain)
    volts, raw = input_at(chain, values, at)
    fraction = fraction_at(chain, values, at)
    stepped = converted(chain, fraction)
    value = chain.conversion.value(stepped)
    converter = chain.converter
    counts = stepped / assumed_scale(chain) * converter.counts
    ends = (volts < converter.low_v) | (volts > converter.high_v)
    if converter.bits is not None:
        wanted = fraction / assumed_scale(chain) * converter.counts
        ends |= (wanted < -0.5) | (wanted > converter.counts - 0.5)
    if isinstance(chain.sensor, RatioSensor):
        unclipped = chain.sensor.raw(at + values["sensor_error"])
        ends |= (unclipped < chain.sensor.low_ratio) | (unclipped > chain.sensor.high_ratio)
    return Trace(
        measurand=at,
        sensor=raw,
        input_v=np.asarray(volts),
        counts=np.full(at.shape, np.nan) if converter.bits is None else counts,
        fraction=stepped,
        value=value,
        shown=displayed(chain, value),
        clipped=np.asarray(ends),
    )


def sensitivities(chain: Chain, measurand: ArrayLike) -> dict[str, FloatArray]:
    """Derivative of the shown value by every element, steps of converter and display left out.

    Parameters
    ----------
    chain : Chain
    measurand : array_like
        degC or Pa, any shape.

    Returns
    -------
    dict of ndarray
        By element name, and under 'measurand' by the measurand itself (1 in a chain without errors); in degC or Pa
        per unit of the element. Zero where the chain is at an end.

    Notes
    -----
    A complex step through the circuit, exact to rounding; the slopes of the curves by their own formulas or by
    differences of fourth order.

    Examples
    --------
    >>> from sensorcal.installed.conversion import CurveConversion
    >>> from sensorcal.physics.curves import SteinhartHart
    >>> probe = SteinhartHart.through_points([0.0, 50.0, 97.7], [5230.0, 721.0, 172.1])
    >>> chain = Chain(sensor=Thermistor(curve=probe), conversion=CurveConversion(curve=probe, pull_ohm=1000.0))
    >>> slopes = sensitivities(chain, 90.0)
    >>> float(slopes["contact_ohm"].round(3)), float(slopes["measurand"].round(9))
    (-0.172, 1.0)
    """
    at = _checked(chain, measurand)
    values = values_of(chain)
    nothing = np.asarray(chain.conversion.value(fraction_at(chain, values, at)))
    slope = np.where(np.isnan(nothing), np.nan, chain.conversion.slope(fraction_at(chain, values, at)))
    found = {"measurand": slope * fraction_at(chain, values, at + 1j * _TINY).imag / _TINY}
    for element in elements_of(chain):
        found[element.name] = slope * _by(chain, values, at, element)
    if chain.display.step:
        found["display_error"] = np.where(np.isnan(nothing), np.nan, 1.0)
    return found


def _by(chain: Chain, values: Values, at: FloatArray, element: Element) -> FloatArray:
    stepped = {**values, element.name: values[element.name] + 1j * _TINY}
    fraction = np.asarray(fraction_at(chain, stepped, at))
    return np.broadcast_to(fraction.imag / _TINY, at.shape)


def value_at(chain: Chain, values: Values, measurand: FloatArray) -> FloatArray:
    """Value for given element values, the steps replaced by `count_error` and `display_error`.

    Parameters
    ----------
    values : mapping
        A value, or an array that broadcasts with the measurand, for every element name.
    """
    return np.asarray(chain.conversion.value(fraction_at(chain, values, measurand)) + values["display_error"])


def fraction_at(chain: Chain, values: Values, measurand: Any, *, limited: bool = True) -> Any:  # noqa: ANN401
    """Part of the assumed supply that the converter reads, before its steps; real or complex."""
    return fraction_of_input(chain, values, input_at(chain, values, measurand)[0], limited=limited)


def fraction_of_input(chain: Chain, values: Values, volts: Any, *, limited: bool = True) -> Any:  # noqa: ANN401
    """Part of the assumed supply that the converter reads of a voltage at the input, before its steps."""
    converter = chain.converter
    if limited and (math.isfinite(converter.low_v) or math.isfinite(converter.high_v)):
        volts = clipped(volts, converter.low_v, converter.high_v)
    read = volts * (1.0 + values["gain_ratio"]) + values["offset_v"]
    reference = values["supply_v"] if converter.ratiometric else values["reference_v"]
    return (read / reference + values["count_error"] / converter.counts) * assumed_scale(chain)


def input_at(chain: Chain, values: Values, measurand: Any) -> tuple[Any, Any]:  # noqa: ANN401
    """Voltage at the monitor's input, and the sensor's ohms or ratio."""
    v = values
    circuit = node_of(chain, v)
    series = series_of(v)
    true = measurand + v["sensor_error"]
    sensor = chain.sensor
    if isinstance(sensor, RatioSensor):
        ratio = clipped(_through(sensor.raw, sensor.raw_slope, true), sensor.low_ratio, sensor.high_ratio)
        source = loop.transducer_output_v(ratio, *supply_pins(chain, v))
        return loop.input_voltage_v(source, v["output_ohm"] + series, **circuit), ratio
    end_v = return_v(chain, v) if chain.divider.arrangement == "pull-up" else v["supply_v"]

    if np.any(v["heating_k_per_w"]):
        resistance = _heated(chain, v, measurand)
    else:
        resistance = _through(sensor.raw, sensor.raw_slope, true)
    return loop.input_voltage_v(end_v, resistance + series, **circuit), resistance


def node_of(chain: Chain, values: Values) -> dict[str, Any]:
    """What hangs on the input besides the sensor, as `loop.input_voltage_v` takes it."""
    v = values
    lift = loop.ground_lift_v(v["ground_v"], v["strap_ohm"], v["ground_current_a"])
    pull: Any = 0.0
    if chain.divider.arrangement != "none":
        pull = 1.0 / (v["pull_ohm"] * (1.0 + v["tempco_per_k"] * (v["monitor_temperature_c"] - 25.0)))
    return {
        "pull_v": v["supply_v"] if chain.divider.arrangement == "pull-up" else 0.0,
        "pull_siemens": pull,
        "leak_v": lift if chain.wiring.leak_to == "engine" else return_v(chain, v),
        "leak_siemens": v["leak_siemens"],
        "input_siemens": v["input_siemens"],
    }


def return_v(chain: Chain, values: Values) -> Any:  # noqa: ANN401
    """Voltage of the end of the sensor's return above the monitor's ground."""
    if chain.ground.returns == "own wire":
        return 0.0
    return loop.ground_lift_v(values["ground_v"], values["strap_ohm"], values["ground_current_a"])


def series_of(values: Values) -> Any:  # noqa: ANN401
    """Contacts and wire in the signal's loop, ohm."""
    warm = 1.0 + COPPER_PER_K * (values["wire_temperature_c"] - 20.0)
    return values["contact_ohm"] + values["wire_20c_ohm"] * warm


def supply_pins(chain: Chain, values: Values) -> tuple[Any, Any]:
    """Voltages at the supply and ground pins of a transducer, against the monitor's ground."""
    v = values
    return (
        v["supply_v"] - v["current_a"] * v["feed_ohm"],
        return_v(chain, v) + v["current_a"] * v["return_ohm"],
    )


def converted(chain: Chain, fraction: FloatArray) -> FloatArray:
    """Round to the nearest count and hold the ends of the converter."""
    if chain.converter.bits is None:
        return np.asarray(fraction)
    scale = assumed_scale(chain)
    counts = chain.converter.counts
    return np.asarray(np.clip(np.rint(fraction * (counts / scale)), 0.0, counts - 1.0) * (scale / counts))


def displayed(chain: Chain, value: FloatArray) -> FloatArray:
    """Hold the ends of the display and round to its last digit."""
    display = chain.display
    if math.isfinite(display.low) or math.isfinite(display.high):
        value = np.clip(value, display.low, display.high)
    step = chain.display_step
    if not step:
        return np.asarray(value)
    zero = chain.display_zero
    return np.asarray(np.rint((value - zero) / step) * step + zero)


def in_blocks(function: Callable[..., FloatArray], *arrays: FloatArray) -> FloatArray:
    """Apply an elementwise function in blocks that stay in the processor's cache; any shape."""
    first = arrays[0]
    if first.size <= 2 * _BLOCK:
        return function(*arrays)
    flat = [array.reshape(-1) for array in arrays]
    parts = [function(*(array[start : start + _BLOCK] for array in flat)) for start in range(0, first.size, _BLOCK)]
    return np.concatenate(parts, axis=-1).reshape(*parts[0].shape[:-1], *first.shape)


def clipped(number: Any, low: float, high: float) -> Any:  # noqa: ANN401
    """Hold a number between two ends; of a complex one the derivative vanishes there."""
    if not np.iscomplexobj(number):
        return np.clip(number, low, high)
    return np.where(number.real < low, low, np.where(number.real > high, high, number))


def assumed_scale(chain: Chain) -> float:
    """Reference that the monitor assumes, over the supply that it assumes."""
    if chain.converter.ratiometric:
        return 1.0
    return chain.converter.nominal_reference_v / chain.conversion.supply_v


def _through(
    function: Callable[[FloatArray], FloatArray],
    slope: Callable[[FloatArray], FloatArray],
    number: Any,  # noqa: ANN401
) -> Any:  # noqa: ANN401
    """Apply a real function to a real number, or along its slope to one with a small imaginary part."""
    if not np.iscomplexobj(number):
        return function(np.asarray(number, dtype=np.float64))
    real = np.asarray(number.real, dtype=np.float64)
    return function(real) + 1j * slope(real) * number.imag


def _heated(chain: Chain, values: Values, measurand: Any) -> Any:  # noqa: ANN401
    """Resistance of a probe that its own current has warmed: t = true + heating · power(R(t))."""
    sensor = chain.sensor
    assert isinstance(sensor, Thermistor)
    heating = values["heating_k_per_w"]
    true = measurand + values["sensor_error"]

    def warmed(t: Any) -> Any:  # noqa: ANN401
        return true + heating * _power(chain, values, _through(sensor.raw, sensor.raw_slope, t))

    if np.iscomplexobj(true) or any(np.iscomplexobj(value) for value in values.values()):
        # Derivative of the fixed point t = g(t, e): dt/de = g_e / (1 - g_t).
        real = {name: np.real(value) for name, value in values.items()}
        ohm = input_at(chain, real, np.real(measurand))[1]
        t = sensor.measurand(ohm)
        by_element = np.imag(warmed(t))
        own = np.imag(
            real["heating_k_per_w"] * _power(chain, real, _through(sensor.raw, sensor.raw_slope, t + 1j * _TINY))
        )
        return ohm + 1j * sensor.raw_slope(t) * by_element / (1.0 - own / _TINY)
    t, following = true, warmed(true)
    for _ in range(40):
        after = warmed(following)
        left, step = after - following, following - t
        # Secant of the fixed point; two steps that differ by rounding only have no slope.
        small = np.abs(step) < 1e-9
        bend = np.where(small, 0.0, left / np.where(small, 1.0, step))
        t, following = following, following + left / (1.0 - np.where(np.abs(bend) < 0.9, bend, 0.0))
        # The slope is then known to 1 % or better, so that what is left after this turn is below 1e-10 K.
        if np.all(np.abs(left) <= 1e-8):
            return sensor.raw(following)
    raise InputError("the probe's self-heating does not settle", do="check the dissipation constant, in W/K")


def _power(chain: Chain, values: Values, resistance: Any) -> Any:  # noqa: ANN401
    """Power in a thermistor of a given resistance in its chain, W."""
    end_v = return_v(chain, values) if chain.divider.arrangement == "pull-up" else values["supply_v"]
    in_loop = resistance + series_of(values)
    volts = loop.input_voltage_v(end_v, in_loop, **node_of(chain, values))
    return loop.dissipated_w(end_v, volts, resistance, in_loop)


def _checked(chain: Chain, measurand: ArrayLike) -> FloatArray:
    at = np.asarray(measurand, dtype=np.float64)
    sensor = chain.sensor
    if at.size and (np.fmin.reduce(at, axis=None) < sensor.low or np.fmax.reduce(at, axis=None) > sensor.high):
        wrong = float(at[(at < sensor.low) | (at > sensor.high)].flat[0])
        raise InputError(
            f"{wrong:g} {sensor.unit} is beyond {sensor.low:g} to {sensor.high:g} {sensor.unit}, where the sensor's "
            "curve is used",
            do="check the number and its unit; nothing is extrapolated",
        )
    return at
