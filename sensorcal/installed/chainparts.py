"""The parts between a sensor and the number on the panel, with standard uncertainties; ideal unless stated."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal, Protocol, get_args

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sensorcal.errors import InputError
from sensorcal.physics import wire
from sensorcal.physics.transducer import RatioCurve

FloatArray = NDArray[np.float64]
UError = float | Callable[[FloatArray], FloatArray]
"""A standard uncertainty: one number, or a function of the measurand such as a calibration's u(t)."""

_SQRT12 = math.sqrt(12.0)
_STEP = 0.02  # K; a difference of fourth order in ln R over this step is exact to 1e-11


class ResistanceCurve(Protocol):
    """Anything that turns temperature into resistance and back, arrays of any shape."""

    def temperature_c(self, resistance_ohm: FloatArray, /) -> FloatArray:
        """Temperature at a resistance."""
        ...

    def resistance_ohm(self, temperature_c: FloatArray, /) -> FloatArray:
        """Resistance at a temperature."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Thermistor:
    """A thermistor: a curve of resistance against temperature, how far it may be off, and its self-heating.

    Parameters
    ----------
    curve : object
        With `resistance_ohm(temperature_c)` and `temperature_c(resistance_ohm)`, such as a Calibration.
    low, high : float
        Range in which the curve is used, degC; nothing is extrapolated beyond it.
    error : float
        How much warmer the probe's element is than the measurand, or its curve off, degC: positive reads hot.
    u_error : float or callable
        Its standard uncertainty, degC, or a function of temperature, such as u(t) of a calibration.
    heating_k_per_w : float
        Warming by the input's current: the reciprocal of the dissipation constant, K/W; 100 for 10 mW/K. Zero
        leaves it out.
    u_heating_k_per_w : float
    """

    curve: ResistanceCurve
    low: float = -55.0
    high: float = 200.0
    error: float = 0.0
    u_error: UError = 0.0
    heating_k_per_w: float = 0.0
    u_heating_k_per_w: float = 0.0

    def __post_init__(self) -> None:
        """Refuse an empty range and a probe that cools itself."""
        _range(self.low, self.high)
        _not_negative(self, "heating_k_per_w", "u_heating_k_per_w")

    @property
    def unit(self) -> str:
        """Unit of the measurand, in words."""
        return "degC"

    def raw(self, temperature_c: FloatArray) -> FloatArray:
        """Resistance at a temperature, ohm."""
        return np.asarray(self.curve.resistance_ohm(temperature_c), dtype=np.float64)

    def raw_slope(self, temperature_c: FloatArray) -> FloatArray:
        """Slope dR/dT, ohm/K, by differences of fourth order in ln R."""
        t = np.asarray(temperature_c, dtype=np.float64)
        far, near = (
            np.log(self.raw(t + h * _STEP)) - np.log(self.raw(t - h * _STEP)) for h in (2.0, 1.0)
        )  # fmt: skip
        return np.asarray(self.raw(t) * (8.0 * near - far) / (12.0 * _STEP), dtype=np.float64)

    def measurand(self, resistance_ohm: FloatArray) -> FloatArray:
        """Temperature at a resistance, degC."""
        return np.asarray(self.curve.temperature_c(resistance_ohm), dtype=np.float64)


@dataclass(frozen=True, slots=True, kw_only=True)
class RatioSensor:
    """A three-wire transducer whose output is a part of its supply: oil, fuel or manifold pressure.

    Parameters
    ----------
    curve : RatioPolynomial or RatioTable
        Pressure against output over supply.
    low, high : float
        Range in which the curve is used, Pa.
    low_ratio, high_ratio : float
        Ends of the output over supply: beyond them it stays flat.
    error, u_error : float
        Zero or body effect, Pa: positive reads high; and its standard uncertainty, or a function of pressure.
    output_ohm, u_output_ohm : float
        Output resistance.
    current_a, u_current_a : float
        Supply current, A; with the wires of supply and ground it lowers the supply and lifts the ground.
    """

    curve: RatioCurve
    low: float
    high: float
    low_ratio: float = 0.0
    high_ratio: float = 1.0
    error: float = 0.0
    u_error: UError = 0.0
    output_ohm: float = 0.0
    u_output_ohm: float = 0.0
    current_a: float = 0.0
    u_current_a: float = 0.0

    def __post_init__(self) -> None:
        """Refuse an empty range and negative ohms."""
        _range(self.low, self.high)
        _range(self.low_ratio, self.high_ratio)
        _not_negative(self, "output_ohm", "u_output_ohm", "current_a", "u_current_a")

    @property
    def unit(self) -> str:
        """Unit of the measurand, in words."""
        return "Pa"

    def raw(self, pressure_pa: FloatArray) -> FloatArray:
        """Output over supply at a pressure, without the ends of the output."""
        return np.asarray(self.curve.ratio(pressure_pa), dtype=np.float64)

    def raw_slope(self, pressure_pa: FloatArray) -> FloatArray:
        """Slope of the ratio, 1/Pa."""
        return np.asarray(1.0 / self.curve.slope_pa_per_ratio(self.raw(pressure_pa)), dtype=np.float64)

    def measurand(self, ratio: FloatArray) -> FloatArray:
        """Pressure at an output over supply, Pa."""
        return np.asarray(self.curve.pressure_pa(ratio), dtype=np.float64)


Sensor = Thermistor | RatioSensor


@dataclass(frozen=True, slots=True, kw_only=True)
class Wiring:
    """Contacts, wire and insulation between sensor and monitor.

    Parameters
    ----------
    contact_ohm, wire_20c_ohm : float
        All contacts, and all wire at 20 degC, in the signal's loop, ohm. A thermistor with its own return has two
        lengths of wire in it, a case-grounded one has one.
    wire_temperature_c : float
    leak_siemens : float
        Conductance of damp or dirt from the signal wire, 1/ohm: 1e-5 for 100 kohm; panel side of the contacts.
    leak_to : {'return', 'engine'}
        Where the leak goes: to the sensor's own return, or to the engine's metal, whose voltage moves with the loads.
    feed_ohm, return_ohm : float
        Supply and ground wire of a transducer with their contacts, ohm.
    u_contact_ohm, u_wire_20c_ohm, u_wire_temperature_c, u_leak_siemens, u_feed_ohm, u_return_ohm : float
        Their standard uncertainties.

    Examples
    --------
    >>> round(Wiring(wire_20c_ohm=wire_ohm(18, 5.0, wires=2, kind="solid")[0]).wire_20c_ohm, 2)
    0.21
    """

    contact_ohm: float = 0.0
    wire_20c_ohm: float = 0.0
    wire_temperature_c: float = 20.0
    leak_siemens: float = 0.0
    leak_to: Literal["return", "engine"] = "return"
    feed_ohm: float = 0.0
    return_ohm: float = 0.0
    u_contact_ohm: float = 0.0
    u_wire_20c_ohm: float = 0.0
    u_wire_temperature_c: float = 0.0
    u_leak_siemens: float = 0.0
    u_feed_ohm: float = 0.0
    u_return_ohm: float = 0.0

    def __post_init__(self) -> None:
        """Refuse negative ohms."""
        if self.leak_to not in {"return", "engine"}:
            raise InputError(f"a leak to {self.leak_to!r} is not known", do="write 'return' or 'engine'")
        _not_negative(
            self, "contact_ohm", "wire_20c_ohm", "leak_siemens", "feed_ohm", "return_ohm", "u_contact_ohm",
            "u_wire_20c_ohm", "u_wire_temperature_c", "u_leak_siemens", "u_feed_ohm", "u_return_ohm",
        )  # fmt: skip


def wire_ohm(
    gauge: int | None = None,
    length_m: float = 0.0,
    *,
    area_m2: float | None = None,
    wires: int = 2,
    kind: Literal["aircraft", "solid"] = "aircraft",
) -> tuple[float, float]:
    """Resistance at 20 degC of the wires of one sensor, with its standard uncertainty, ohm.

    Parameters
    ----------
    gauge : int, optional
        American Wire Gauge; or give `area_m2`.
    length_m : float
        One way, m.
    area_m2 : float, optional
        Copper area, m² (0.75 mm² is 0.75e-6).
    wires : int
        Lengths in the loop: two with an own return wire, one with a case ground.
    kind : {'aircraft', 'solid'}
        Tin-plated aircraft wire lies between pure copper of its area and the specified maximum: the middle is
        taken, with rectangular limits. Solid wire and a stated area are taken within 2 % (estimate).

    Raises
    ------
    InputError
        Both or neither of gauge and area, or an unknown gauge.

    References
    ----------
    ASTM B258; IEC 60028:1925; AC 43.13-1B change 1, table 11-9; see `sensorcal.physics.wire`.

    Examples
    --------
    >>> [round(x, 4) for x in wire_ohm(18, 5.0)]
    [0.1917, 0.0073]
    """
    if (gauge is None) == (area_m2 is None):
        raise InputError("a wire needs its gauge or its copper area, one of the two", do="give one")
    if wires < 1 or not length_m >= 0.0:
        raise InputError(f"{wires} wires of {length_m:g} m are none", do="give lengths in the loop and metres one way")
    metres = wires * length_m
    if gauge is not None and kind == "aircraft":
        least, most = wire.aircraft_wire_limits_ohm_per_m(gauge)
        return 0.5 * (least + most) * metres, (most - least) / _SQRT12 * metres
    if kind not in {"aircraft", "solid"}:
        raise InputError(f"wire of kind {kind!r} is not known", do="write 'aircraft' or 'solid'")
    area = wire.awg_area_m2(gauge) if gauge is not None else area_m2
    assert area is not None
    each = wire.copper_ohm_per_m(area)
    return each * metres, 0.02 / math.sqrt(3.0) * each * metres


@dataclass(frozen=True, slots=True, kw_only=True)
class Ground:
    """How the sensor returns to the monitor's ground, and how far the engine's metal is lifted above it.

    Parameters
    ----------
    returns : {'own wire', 'case'}
        'case' for a sensor grounded on the engine, or any return shared with other currents.
    constant_v : float
        Lift of the engine above the monitor's ground that does not follow the current, V.
    strap_ohm : float
        Resistance of the path from engine to the monitor's ground.
    current_a : float
        Current in it, A: positive for the starter's return, negative while the engine's alternator charges.
    u_constant_v, u_strap_ohm, u_current_a : float
        Their standard uncertainties.
    """

    returns: Literal["own wire", "case"] = "own wire"
    constant_v: float = 0.0
    strap_ohm: float = 0.0
    current_a: float = 0.0
    u_constant_v: float = 0.0
    u_strap_ohm: float = 0.0
    u_current_a: float = 0.0

    def __post_init__(self) -> None:
        """Refuse words nobody knows."""
        if self.returns not in {"own wire", "case"}:
            raise InputError(f"a return by {self.returns!r} is not known", do="write 'own wire' or 'case'")
        _not_negative(self, "strap_ohm", "u_constant_v", "u_strap_ohm", "u_current_a")


Arrangement = Literal["pull-up", "pull-down", "none"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Divider:
    """The monitor's supply, its pull resistor and its input resistance, as they truly are.

    Parameters
    ----------
    arrangement : {'pull-up', 'pull-down', 'none'}
        'pull-down': the thermistor stands between supply and input. 'none' suits transducers only.
    pull_ohm : float
        Pull resistor at 25 degC.
    tempco_per_k : float
        Its temperature coefficient, 1/K: 100e-6 for 100 ppm/K.
    monitor_temperature_c : float
        Temperature inside the monitor.
    supply_v : float
        Supply of sensor and pull resistor.
    input_siemens : float
        Conductance of the input to the monitor's ground, 1/ohm: 1e-6 for 1 Mohm.
    u_pull_ohm, u_tempco_per_k, u_monitor_temperature_c, u_supply_v, u_input_siemens : float
        Their standard uncertainties.
    """

    arrangement: Arrangement = "pull-up"
    pull_ohm: float = 1000.0
    tempco_per_k: float = 0.0
    monitor_temperature_c: float = 25.0
    supply_v: float = 5.0
    input_siemens: float = 0.0
    u_pull_ohm: float = 0.0
    u_tempco_per_k: float = 0.0
    u_monitor_temperature_c: float = 0.0
    u_supply_v: float = 0.0
    u_input_siemens: float = 0.0

    def __post_init__(self) -> None:
        """Refuse words nobody knows and resistors that are none."""
        if self.arrangement not in get_args(Arrangement):
            raise InputError(
                f"the arrangement {self.arrangement!r} is not known", do="write 'pull-up', 'pull-down' or 'none'"
            )
        if not (self.pull_ohm > 0.0 and math.isfinite(self.pull_ohm) and self.supply_v > 0.0):
            raise InputError("pull resistor and supply must be above zero", do="give their measured values")
        _not_negative(
            self, "input_siemens", "u_pull_ohm", "u_tempco_per_k", "u_monitor_temperature_c", "u_supply_v",
            "u_input_siemens",
        )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Converter:
    """The analogue-to-digital converter: nearest count of its reference.

    Parameters
    ----------
    bits : int, optional
        None for steps too fine to matter.
    ratiometric : bool
        True where the supply is the reference.
    reference_v : float
        True reference otherwise.
    nominal_reference_v : float
        What the monitor takes it for.
    gain_ratio, offset_v : float
        Errors of the input: reading = voltage (1 + gain) + offset.
    low_v, high_v : float
        Limits of the input: beyond them the voltage is held (clamps, or a 3.3 V input on a 5 V sensor).
    u_reference_v, u_gain_ratio, u_offset_v : float
        Standard uncertainties.
    """

    bits: int | None = None
    ratiometric: bool = True
    reference_v: float = 5.0
    nominal_reference_v: float = 5.0
    gain_ratio: float = 0.0
    offset_v: float = 0.0
    low_v: float = -math.inf
    high_v: float = math.inf
    u_reference_v: float = 0.0
    u_gain_ratio: float = 0.0
    u_offset_v: float = 0.0

    def __post_init__(self) -> None:
        """Refuse a converter that is none."""
        if self.bits is not None and not 4 <= self.bits <= 32:
            raise InputError(f"a converter of {self.bits} bits is none", do="give 8 to 24, or leave it out")
        if not (self.reference_v > 0.0 and self.nominal_reference_v > 0.0):
            raise InputError("the converter's reference must be above zero", do="give its value in V")
        _range(self.low_v, self.high_v)
        _not_negative(self, "u_reference_v", "u_gain_ratio", "u_offset_v")

    @property
    def counts(self) -> float:
        """Counts that stand for the reference; 1 without steps."""
        return 1.0 if self.bits is None else float(2**self.bits)


@dataclass(frozen=True, slots=True, kw_only=True)
class Display:
    """The number on the panel.

    Parameters
    ----------
    unit : str
        Unit shown.
    step : float
        Resolution in that unit; zero for none.
    low, high : float
        Ends of the display in degC or Pa: beyond them it stays.
    """

    unit: str = ""
    step: float = 0.0
    low: float = -math.inf
    high: float = math.inf

    def __post_init__(self) -> None:
        """Refuse a negative step."""
        if not (self.step >= 0.0 and math.isfinite(self.step)):
            raise InputError(f"a display step of {self.step:g} is none", do="give the last digit, or 0")
        _range(self.low, self.high)


def _range(low: float, high: float) -> None:
    if not low < high:
        raise InputError(f"a range from {low:g} to {high:g} is empty", do="give the lower end first")


def _not_negative(part: object, *names: str) -> None:
    for name in names:
        value = getattr(part, name)
        if not (value >= 0.0 and math.isfinite(value)):
            raise InputError(f"{name} = {value:g} is below zero or not a number", do="give zero or more")


def u_of(u_error: UError, measurand: ArrayLike) -> FloatArray:
    """Standard uncertainty of the sensor at values of the measurand."""
    at = np.asarray(measurand, dtype=np.float64)
    return np.broadcast_to(np.asarray(u_error(at) if callable(u_error) else u_error, dtype=np.float64), at.shape)
