"""What a monitor makes of a signal: rows with straight lines between them, or a curve kept inside; with its inverse."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal, Protocol, get_args

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sensorcal import units
from sensorcal.errors import TableError
from sensorcal.installed.chainparts import ResistanceCurve, Thermistor
from sensorcal.installed.table import MonitorTable
from sensorcal.physics.transducer import RatioCurve

FloatArray = NDArray[np.float64]
Reads = Literal["resistance", "voltage", "ratio"]
Lines = Literal["signal", "ln signal", "voltage"]
Past = Literal["holds", "extends", "blank", "unknown"]
_EDGE = 1e-9
"""Nearest to ground or supply, as a part of it, that a resistance is computed: 1e-6 ohm under 1 kohm."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Reach:
    """Fractions of the assumed supply that give a shown value, as an interval.

    Attributes
    ----------
    low, high : ndarray
        Infinite where the end is open: any signal further out shows the same.
    impossible : ndarray of bool
        True where no signal gives that value.
    """

    low: FloatArray
    high: FloatArray
    impossible: NDArray[np.bool_]


class Conversion(Protocol):
    """What turns a fraction of the supply into a value and back; the circuit is what the monitor takes it for."""

    @property
    def supply_v(self) -> float:
        """Supply that the monitor assumes, V."""
        ...

    @property
    def pull_ohm(self) -> float | None:
        """Pull resistor that the monitor assumes, ohm."""
        ...

    def value(self, fraction: FloatArray, /) -> FloatArray:
        """Value at a fraction of the supply; nan where nothing is shown."""
        ...

    def slope(self, fraction: FloatArray, /) -> FloatArray:
        """Change of the value per unit of the fraction; zero where it is held."""
        ...

    def reach(self, low: FloatArray, high: FloatArray, /) -> Reach:
        """Fractions that give values from `low` to `high`."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TableConversion:
    """Rows (signal, reading) with straight lines between them.

    Parameters
    ----------
    signal, reading : array_like, shape (n,)
        The rows in ohm, V or ratio, and degC or Pa, in any order; readings must rise or fall all the way.
    reads : {'resistance', 'voltage', 'ratio'}
        What the signal column holds.
    lines : {'signal', 'ln signal', 'voltage'}
        Straight in the signal, in its logarithm, or in volts between the rows.
    past_ends : {'holds', 'extends', 'blank', 'unknown'}
        What the monitor shows beyond its first and last row; 'unknown' is treated as 'blank': nothing can be said.
    pull_ohm : float, optional
        Pull resistor that the monitor assumes; needed for rows in ohm.
    supply_v : float
        Supply that it assumes.
    pull_down : bool
        True where the thermistor stands between supply and input.

    Raises
    ------
    TableError
        Rows that turn round, fewer than two, or a circuit that is missing.

    Examples
    --------
    >>> rows = TableConversion(signal=[721.0, 325.4], reading=[50.0, 75.0], pull_ohm=1000.0)
    >>> float(rows.value(np.array(485.0 / 1485.0)).round(1))
    64.9
    """

    signal: ArrayLike
    reading: ArrayLike
    reads: Reads = "resistance"
    lines: Lines = "signal"
    past_ends: Past = "holds"
    pull_ohm: float | None = None
    supply_v: float = 5.0
    pull_down: bool = False
    knots: FloatArray = field(init=False, repr=False)
    values: FloatArray = field(init=False, repr=False)

    def __post_init__(self) -> None:
        """Sort the rows along the coordinate in which the monitor draws its lines."""
        for name, words in (("reads", Reads), ("lines", Lines), ("past_ends", Past)):
            if getattr(self, name) not in get_args(words):
                choices = ", ".join(repr(word) for word in get_args(words))
                raise TableError(f"{name} {getattr(self, name)!r} is not known", do=f"use one of {choices}")
        if self.reads == "resistance" and self.pull_ohm is None:
            raise TableError("rows in ohm need the pull resistor that the monitor assumes", do="set pull_ohm")
        signal, reading = np.array(self.signal, dtype=float), np.array(self.reading, dtype=float)
        if signal.shape != reading.shape or signal.ndim != 1 or signal.size < 2:
            raise TableError("a table needs two rows or more, each a signal and a reading")
        if not (np.isfinite(signal).all() and np.isfinite(reading).all()):
            raise TableError("an entry of the table is not a number", do="read the row again")
        if self.lines == "ln signal" and not (signal > 0.0).all():
            raise TableError("a row with a signal of zero has no logarithm", do="correct the row")
        order = np.argsort(self._z_of_signal(signal), kind="stable")
        knots, values = self._z_of_signal(signal)[order], reading[order]
        if not (np.diff(knots) > 0.0).all():
            raise TableError("two rows of the table have the same signal", do="correct or drop one of them")
        steps = np.diff(values)
        if not ((steps >= 0.0).all() or (steps <= 0.0).all()) or not steps.any():
            turn = int(np.flatnonzero(np.sign(steps) != np.sign(values[-1] - values[0]))[0])
            raise TableError(
                f"the table turns round between {values[turn]:g} and {values[turn + 1]:g}",
                do="look for a row keyed wrong: what is shown there stands for two truths",
            )
        for name, array in (("signal", signal), ("reading", reading), ("knots", knots), ("values", values)):
            array.setflags(write=False)
            object.__setattr__(self, name, array)

    def value(self, fraction: ArrayLike, /) -> FloatArray:
        """Value at a fraction of the supply; nan where nothing is shown or nobody knows."""
        z = self._z(np.asarray(fraction, dtype=np.float64))
        z0, z1, v0, v1 = self._ends
        blank = self.past_ends in {"blank", "unknown"}
        out = np.interp(z, self.knots, self.values, left=np.nan if blank else v0, right=np.nan if blank else v1)
        if self.past_ends == "extends":
            first, last = self._end_slopes
            out = np.where(z < z0, v0 + (z - z0) * first, np.where(z > z1, v1 + (z - z1) * last, out))
        return np.asarray(out)

    def slope(self, fraction: ArrayLike, /) -> FloatArray:
        """Slope of the line on which a fraction lies; zero where the end is held."""
        y = np.asarray(fraction, dtype=np.float64)
        z = self._z(y)
        slopes = np.diff(self.values) / np.diff(self.knots)
        at = np.searchsorted(self.knots, z, side="right") - 1
        dv = slopes[np.clip(at, 0, slopes.size - 1)]
        if self.past_ends != "extends":
            dv = np.where((z < self.knots[0]) | (z > self.knots[-1]), 0.0, dv)
        return np.asarray(dv * self._z_slope(y))

    def reach(self, low: ArrayLike, high: ArrayLike, /) -> Reach:
        """Fractions that give readings from `low` to `high`."""
        a, b = np.asarray(low, dtype=np.float64), np.asarray(high, dtype=np.float64)
        rising = self.values[-1] > self.values[0]
        w = self.values if rising else -self.values
        a, b = (a, b) if rising else (-b, -a)
        # Of a flat stretch between rows of the same reading the whole belongs to the answer.
        first = np.searchsorted(w, a, side="left")
        last = np.searchsorted(w, b, side="right")
        z_low = self._on_line(w, np.clip(first - 1, 0, w.size - 2), a)
        z_high = self._on_line(w, np.clip(last - 1, 0, w.size - 2), b)
        impossible = np.zeros(a.shape, dtype=bool)
        if self.past_ends == "extends":
            below, above = (slope == 0.0 for slope in self._end_slopes)
            z_low = np.where((first == 0) & below, -np.inf, z_low)
            z_high = np.where((last == w.size) & above, np.inf, z_high)
        else:
            impossible = (b < w[0]) | (a > w[-1])
            hold = self.past_ends == "holds"
            z_low = np.where(first == 0, -np.inf if hold else self.knots[0], z_low)
            z_high = np.where(last == w.size, np.inf if hold else self.knots[-1], z_high)
        y = np.stack([self._fraction(z_low), self._fraction(z_high)])
        y.sort(axis=0)
        if self.lines != "voltage" and (self.reads == "resistance" or self.lines == "ln signal"):
            # No nearer to a short or an open circuit is anything computed: there a line that goes on is held.
            y[0] = np.where(y[0] <= 2.0 * _EDGE, -np.inf, y[0])
            if self.reads == "resistance":
                y[1] = np.where(y[1] >= 1.0 - 2.0 * _EDGE, np.inf, y[1])
        return Reach(low=y[0], high=y[1], impossible=impossible)

    @property
    def _ends(self) -> tuple[float, float, float, float]:
        return float(self.knots[0]), float(self.knots[-1]), float(self.values[0]), float(self.values[-1])

    @property
    def _end_slopes(self) -> tuple[float, float]:
        slopes = np.diff(self.values) / np.diff(self.knots)
        return float(slopes[0]), float(slopes[-1])

    def _on_line(self, w: FloatArray, at: NDArray[np.intp], wanted: FloatArray) -> FloatArray:
        rise = w[at + 1] - w[at]
        with np.errstate(divide="ignore", invalid="ignore"):
            z = self.knots[at] + (wanted - w[at]) * (self.knots[at + 1] - self.knots[at]) / rise
        return np.asarray(np.where(rise > 0.0, z, self.knots[at]))

    def _z_of_signal(self, signal: FloatArray) -> FloatArray:
        if self.lines == "ln signal":
            return np.asarray(np.log(signal))
        if self.lines == "voltage" and self.reads == "resistance":
            return _fraction_of(signal, self._pull, pull_down=self.pull_down)
        if self.lines == "voltage" and self.reads == "voltage":
            return signal / self.supply_v
        return signal

    def _z(self, y: FloatArray) -> FloatArray:
        """Coordinate of the lines at a fraction of the supply."""
        if self.lines == "voltage":
            return y
        if self.reads == "resistance":
            signal = _ohm_of(np.clip(y, _EDGE, 1.0 - _EDGE), self._pull, pull_down=self.pull_down)
        else:
            scale = self.supply_v if self.reads == "voltage" else 1.0
            signal = scale * (np.maximum(y, _EDGE) if self.lines == "ln signal" else y)
        return np.log(signal) if self.lines == "ln signal" else np.asarray(signal)

    def _z_slope(self, y: FloatArray) -> FloatArray | float:
        if self.lines == "voltage":
            return 1.0
        part = np.clip(y, _EDGE, 1.0 - _EDGE)
        if self.reads == "resistance":
            down = -1.0 if self.pull_down else 1.0
            if self.lines == "ln signal":
                return np.asarray(down / (part * (1.0 - part)))
            return np.asarray(down * self._pull / (part if self.pull_down else 1.0 - part) ** 2)
        if self.lines == "ln signal":
            return np.asarray(1.0 / part)
        return self.supply_v if self.reads == "voltage" else 1.0

    def _fraction(self, z: FloatArray) -> FloatArray:
        """Fraction of the supply at a coordinate of the lines; an open end stays infinite."""
        if self.lines == "voltage":
            return z
        with np.errstate(over="ignore", invalid="ignore"):
            signal = np.exp(z) if self.lines == "ln signal" else z
            if self.reads == "resistance":
                # An extended line may lead below zero ohm, where no signal lies: that end is open.
                part = _fraction_of(np.maximum(signal, 0.0), self._pull, pull_down=self.pull_down)
                far = -np.inf if self.pull_down else np.inf
                part = np.where(np.isposinf(z), far, np.where(np.isneginf(z) | (signal < 0.0), -far, part))
                return np.asarray(part)
            return np.asarray(np.where(np.isinf(z), z, signal / (self.supply_v if self.reads == "voltage" else 1.0)))

    @property
    def _pull(self) -> float:
        assert self.pull_ohm is not None
        return self.pull_ohm


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CurveConversion:
    """A curve kept inside the monitor: coefficients, a Beta, a preset, or a transducer's line.

    Parameters
    ----------
    curve : object
        A thermistor's curve (`resistance_ohm`, `temperature_c`) or a transducer's (`ratio`, `pressure_pa`).
    low, high : float
        Range of values that the monitor computes, degC or Pa.
    past_ends : {'holds', 'blank'}
        What it shows beyond them.
    pull_ohm : float, optional
        Pull resistor that the monitor assumes; needed for a thermistor.
    supply_v : float
        Supply that it assumes.
    pull_down : bool
        True where the thermistor stands between supply and input.

    Raises
    ------
    TableError
        A missing pull resistor or an empty range.

    Examples
    --------
    >>> from sensorcal.physics.curves import SteinhartHart
    >>> preset = SteinhartHart.from_beta(3500.0, 2500.0)
    >>> CurveConversion(curve=preset, pull_ohm=2200.0).value(np.array(2500.0 / 4700.0)).round(6)
    np.float64(25.0)
    """

    curve: ResistanceCurve | RatioCurve
    low: float = -55.0
    high: float = 200.0
    past_ends: Literal["holds", "blank"] = "holds"
    pull_ohm: float | None = None
    supply_v: float = 5.0
    pull_down: bool = False
    raw_ends: tuple[float, float] = field(init=False, repr=False)

    def __post_init__(self) -> None:
        """Find the signals at the ends."""
        if not self.low < self.high:
            raise TableError(f"the range from {self.low:g} to {self.high:g} is empty", do="give the lower end first")
        if self.past_ends not in {"holds", "blank"}:
            raise TableError(f"past_ends {self.past_ends!r} is not known for a curve", do="use 'holds' or 'blank'")
        if not self._transducer and self.pull_ohm is None:
            raise TableError("a thermistor's preset needs the pull resistor that the monitor assumes")
        ends = np.sort(self._raw(np.array([self.low, self.high])))
        object.__setattr__(self, "raw_ends", (float(ends[0]), float(ends[1])))

    def value(self, fraction: ArrayLike, /) -> FloatArray:
        """Value at a fraction of the supply; beyond the ends held, or nan."""
        raw = self._raw_of(np.asarray(fraction, dtype=np.float64))
        inside = np.clip(raw, *self.raw_ends)
        out = self._value(inside)
        if self.past_ends == "blank":
            out = np.where(inside == raw, out, np.nan)
        else:
            # Held means the very same number every time, without the curve's last digit.
            first, last = (self.low, self.high) if self._transducer else (self.high, self.low)
            out = np.where(raw <= self.raw_ends[0], first, np.where(raw >= self.raw_ends[1], last, out))
        return np.asarray(out)

    def slope(self, fraction: ArrayLike, /) -> FloatArray:
        """Slope of the value per unit of the fraction; zero beyond the ends."""
        y = np.asarray(fraction, dtype=np.float64)
        raw = self._raw_of(y)
        inside = np.clip(raw, *self.raw_ends)
        if self._transducer:
            dv = np.asarray(self.curve.slope_pa_per_ratio(inside))  # type: ignore[union-attr]
        else:
            probe = Thermistor(curve=self.curve, low=self.low, high=self.high)  # type: ignore[arg-type]
            part = np.clip(y, _EDGE, 1.0 - _EDGE)
            d_ohm = -self._pull / part**2 if self.pull_down else self._pull / (1.0 - part) ** 2
            dv = d_ohm / probe.raw_slope(self._value(inside))
        return np.asarray(np.where(inside == raw, dv, 0.0))

    def reach(self, low: ArrayLike, high: ArrayLike, /) -> Reach:
        """Fractions that give values from `low` to `high`."""
        a, b = np.asarray(low, dtype=np.float64), np.asarray(high, dtype=np.float64)
        open_low, open_high = ((a <= self.low), (b >= self.high)) if self.past_ends == "holds" else (False, False)
        y_low = np.asarray(self._fraction_at(np.clip(a, self.low, self.high)))
        y_high = y_low if b is a else np.asarray(self._fraction_at(np.clip(b, self.low, self.high)))
        falls = not self._transducer and not self.pull_down
        far = np.inf if falls else -np.inf
        y_low, y_high = np.where(open_low, far, y_low), np.where(open_high, -far, y_high)
        if falls:
            y_low, y_high = y_high, y_low
        return Reach(low=y_low, high=y_high, impossible=(b < self.low) | (a > self.high))

    @property
    def _transducer(self) -> bool:
        return hasattr(self.curve, "pressure_pa")

    @property
    def _pull(self) -> float:
        assert self.pull_ohm is not None
        return self.pull_ohm

    def _raw(self, value: FloatArray) -> FloatArray:
        if self._transducer:
            return np.asarray(self.curve.ratio(value))  # type: ignore[union-attr]
        return np.asarray(self.curve.resistance_ohm(value))  # type: ignore[union-attr]

    def _value(self, raw: FloatArray) -> FloatArray:
        if self._transducer:
            return np.asarray(self.curve.pressure_pa(raw))  # type: ignore[union-attr]
        return np.asarray(self.curve.temperature_c(raw))  # type: ignore[union-attr]

    def _raw_of(self, y: FloatArray) -> FloatArray:
        if self._transducer:
            return y
        return _ohm_of(np.clip(y, _EDGE, 1.0 - _EDGE), self._pull, pull_down=self.pull_down)

    def _fraction_at(self, value: FloatArray) -> FloatArray:
        raw = self._raw(value)
        return raw if self._transducer else _fraction_of(raw, self._pull, pull_down=self.pull_down)


def table_conversion(table: MonitorTable, *, pull_ohm: float | None = None, supply_v: float = 5.0) -> TableConversion:
    """Take a table as made for a monitor for the conversion of a chain.

    Parameters
    ----------
    table : MonitorTable
    pull_ohm, supply_v : float, optional
        Circuit that the monitor assumes, where its description does not name it (rows in ohm).

    Returns
    -------
    TableConversion
        With readings in degC, whatever the unit of the rows.
    """
    monitor = table.monitor
    return TableConversion(
        signal=units.to_si(table.signal, monitor.signal_unit),
        reading=units.to_si(table.value, monitor.value_unit),
        reads=monitor.kind,
        lines="ln signal" if monitor.interpolation == "linear in ln signal" else "signal",
        past_ends=monitor.past_ends,
        pull_ohm=monitor.pull_up_ohm if pull_ohm is None else pull_ohm,
        supply_v=supply_v if monitor.supply_v is None else monitor.supply_v,
        pull_down=monitor.pull_down,
    )


def _ohm_of(fraction: FloatArray, pull_ohm: float, *, pull_down: bool) -> FloatArray:
    if pull_down:
        return np.asarray(pull_ohm * (1.0 - fraction) / fraction)
    return np.asarray(pull_ohm * fraction / (1.0 - fraction))


def _fraction_of(resistance_ohm: FloatArray, pull_ohm: float, *, pull_down: bool) -> FloatArray:
    return np.asarray((pull_ohm if pull_down else resistance_ohm) / (resistance_ohm + pull_ohm))
