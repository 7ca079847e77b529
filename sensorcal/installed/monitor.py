"""A monitor's input as its owner found it: what it measures, how it rounds, and how it reads between rows."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, get_args

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sensorcal import units
from sensorcal.errors import TableError
from sensorcal.monitorsetup import MonitorSetup
from sensorcal.physics import circuit

FloatArray = NDArray[np.float64]
Kind = Literal["resistance", "voltage", "ratio"]
Order = Literal["ascending", "descending"]
Interpolation = Literal["linear in signal", "linear in ln signal"]
PastEnds = Literal["holds", "extends", "blank", "unknown"]

_DIMENSION = {"resistance": "resistance", "voltage": "voltage", "ratio": "ratio"}
_NAMES = {"resistance": "resistance", "voltage": "voltage", "ratio": "ratio of voltage to supply"}


@dataclass(frozen=True, slots=True, kw_only=True)
class MonitorInput:
    """One input of an engine monitor, with the form of the table it accepts.

    Parameters
    ----------
    kind : {'resistance', 'voltage', 'ratio'}
        What stands in the signal column.
    pull_up_ohm : float, optional
        Pull-up resistor, ohm; needed for voltage and ratio.
    supply_v : float, optional
        Supply of the pull-up, V; needed for voltage.
    pull_down : bool
        True where the sensor sits between supply and input, and the resistor between input and ground: volts then
        rise as the resistance falls.
    rows : int
        Most rows the table can hold.
    signal_step, value_step : float
        Smallest step that can be keyed into each column, in that column's unit.
    signal_unit, value_unit : str
        Units of the columns, such as 'ohm', 'kohm', 'V', '1' and 'degC', 'degF', 'K'.
    order : {'ascending', 'descending'}
        Order of the signal column.
    interpolation : {'linear in signal', 'linear in ln signal'}
        How the monitor reads between rows. Find out by experiment before keying anything in.
    past_ends : {'holds', 'extends', 'blank', 'unknown'}
        What it shows beyond the first and last row.
    signal_low, signal_high, value_low, value_high : float, optional
        Range that each column accepts, in that column's unit.

    Raises
    ------
    TableError
        If the description contradicts itself.

    References
    ----------
    Common practice, no source.

    Examples
    --------
    >>> monitor = MonitorInput(
    ...     kind="voltage", pull_up_ohm=1000.0, supply_v=5.0, signal_unit="V", signal_step=0.01
    ... )
    >>> monitor.signal(172.1).round(3)
    np.float64(0.734)
    """

    kind: Kind = "resistance"
    pull_up_ohm: float | None = None
    supply_v: float | None = None
    pull_down: bool = False
    rows: int = 16
    signal_step: float = 1.0
    value_step: float = 1.0
    signal_unit: str = "ohm"
    value_unit: str = "degC"
    order: Order = "ascending"
    interpolation: Interpolation = "linear in signal"
    past_ends: PastEnds = "unknown"
    signal_low: float | None = None
    signal_high: float | None = None
    value_low: float | None = None
    value_high: float | None = None

    def __post_init__(self) -> None:
        for name, words in (
            ("kind", Kind), ("order", Order), ("interpolation", Interpolation), ("past_ends", PastEnds),
        ):  # fmt: skip
            if getattr(self, name) not in get_args(words):
                choices = ", ".join(repr(word) for word in get_args(words))
                raise TableError(f"{name} {getattr(self, name)!r} is not known", do=f"use one of {choices}")
        if self.rows < 2:
            raise TableError(f"a monitor table of {self.rows} rows is none", do="give two rows or more")
        for name in ("signal_step", "value_step"):
            step = getattr(self, name)
            if not (np.isfinite(step) and step > 0):
                raise TableError(f"the rounding step {name} must be above zero, not {step:g}")
        if units.dimension(self.signal_unit) != _DIMENSION[self.kind]:
            raise TableError(f"a {self.kind} cannot be keyed in {self.signal_unit!r}", do="correct signal_unit")
        if self.kind != "resistance" and self.pull_up_ohm is None:
            raise TableError(f"a {self.kind} input needs its pull-up resistor", do="measure it and set pull_up_ohm")
        if self.kind == "voltage" and self.supply_v is None:
            raise TableError("a voltage input needs the supply of its pull-up", do="measure it and set supply_v")
        object.__setattr__(self, "signal_unit", units.parse_unit(self.signal_unit))
        object.__setattr__(self, "value_unit", units.parse_unit(self.value_unit))

    @property
    def signal_name(self) -> str:
        """What the signal column holds, in words."""
        return _NAMES[self.kind]

    def signal(self, resistance_ohm: ArrayLike) -> FloatArray:
        """What the monitor measures with a sensor of this resistance, in `signal_unit`; any shape."""
        if self.kind == "resistance":
            home = np.asarray(resistance_ohm, dtype=float)
        else:
            across = circuit.divider_ratio(resistance_ohm, self._pull_up)
            home = (1.0 - across if self.pull_down else across) * (self._supply if self.kind == "voltage" else 1.0)
        return np.asarray(units.from_si(home, self.signal_unit))

    def resistance_ohm(self, signal: ArrayLike) -> FloatArray:
        """Resistance of the sensor behind a signal in `signal_unit`, ohm: the inverse of `signal`."""
        home = np.asarray(units.to_si(np.asarray(signal, dtype=float), self.signal_unit))
        if self.kind == "resistance":
            return home
        part = home / self._supply if self.kind == "voltage" else home
        return circuit.ratio_resistance(1.0 - part if self.pull_down else part, self._pull_up)

    def signal_text(self, signal: float) -> str:
        """Write a signal with the decimals of its step."""
        return f"{signal:.{_decimals(self.signal_step)}f}"

    def value_text(self, value: float) -> str:
        """Write a value with the decimals of its step."""
        text = f"{value:.{_decimals(self.value_step)}f}"
        return text.removeprefix("-") if float(text) == 0 else text

    @property
    def circuit_text(self) -> str:
        """The circuit behind the signal, in words; empty for a resistance input."""
        if self.kind == "resistance":
            return ""
        if self.pull_down:
            pull = f"{units.shortest(self._pull_up)} ohm to ground, sensor to the supply"
            return pull if self.supply_v is None else f"{pull} of {units.shortest(self.supply_v)} V"
        pull = f"{units.shortest(self._pull_up)} ohm pull-up"
        return pull if self.supply_v is None else f"{pull} to {units.shortest(self.supply_v)} V"

    @property
    def _pull_up(self) -> float:
        assert self.pull_up_ohm is not None
        return self.pull_up_ohm

    @property
    def _supply(self) -> float:
        assert self.supply_v is not None
        return self.supply_v


def monitor_input(setup: MonitorSetup) -> MonitorInput:
    """Take the monitor as the setup file describes it.

    Parameters
    ----------
    setup : MonitorSetup
        The monitor's part of the setup.

    Returns
    -------
    MonitorInput

    Examples
    --------
    >>> monitor_input(MonitorSetup(rows=10)).rows
    10
    """
    return MonitorInput(
        kind=setup.input,  # type: ignore[arg-type]  # the setup and MonitorInput check the words themselves
        pull_up_ohm=setup.pull_up_ohm,
        supply_v=setup.supply_v,
        pull_down=setup.arrangement == "pull-down",
        rows=setup.rows,
        signal_step=setup.signal_step,
        value_step=setup.value_step,
        signal_unit=setup.signal_unit,
        value_unit=setup.value_unit,
        order=setup.order,  # type: ignore[arg-type]
        interpolation=setup.interpolation,  # type: ignore[arg-type]
        past_ends=setup.past_ends,  # type: ignore[arg-type]
    )


def _decimals(step: float) -> int:
    """Decimals that show whole multiples of a step exactly; at most 9."""
    for decimals in range(10):
        if abs(step * 10**decimals - round(step * 10**decimals)) < 1e-6 * step * 10**decimals:
            return decimals
    return 9
