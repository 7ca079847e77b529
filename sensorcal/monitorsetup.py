"""The panel monitor as its owner describes it: the table it takes, its input circuit and its converter."""

from __future__ import annotations

from dataclasses import dataclass

from sensorcal.declared import declared, not_negative, one_of
from sensorcal.errors import InputError


@dataclass(frozen=True, slots=True, kw_only=True)
class MonitorSetup:
    """The panel monitor as its owner describes it; `sensorcal.installed` turns this into a table and a chain."""

    name: str = declared("", "tag of the monitor")
    input: str = declared(
        "resistance", "what a row holds: 'resistance', 'voltage' or 'ratio'", why="nothing else stated"
    )
    pull_up_ohm: float | None = declared(None, "pull-up resistor, for a voltage or ratio input", "ohm")
    supply_v: float | None = declared(None, "supply of the pull-up", "V")
    arrangement: str = declared(
        "pull-up", "'pull-up', or 'pull-down' where the sensor sits between supply and input", why="the usual input"
    )
    rows: int = declared(16, "rows of the table", why="nothing else stated")
    signal_unit: str = declared("ohm", "unit of the signal column", why="nothing else stated")
    signal_step: float = declared(1.0, "rounding step of the signal column, in its unit", why="nothing else stated")
    value_unit: str = declared("degC", "unit of the value column", why="nothing else stated")
    value_step: float = declared(1.0, "rounding step of the value column, in its unit", why="nothing else stated")
    order: str = declared("ascending", "'ascending' or 'descending' in the signal", why="nothing else stated")
    interpolation: str = declared(
        "linear in signal", "'linear in signal' or 'linear in ln signal'", why="not yet found by experiment"
    )
    past_ends: str = declared("unknown", "'holds', 'extends', 'blank' or 'unknown'", why="not yet found by experiment")
    pull_up_tolerance_ratio: float = declared(
        0.01, "half-width of the pull-up's tolerance", "%", why="a 1 % resistor, estimate"
    )
    pull_up_tempco_per_k: float = declared(
        1e-4, "half-width of its temperature coefficient", "ppm/K", why="a film resistor, 100 ppm/K, estimate"
    )
    temperature_c: float = declared(35.0, "temperature inside the monitor", "degC", why="behind a panel, estimate")
    input_resistance_ohm: float | None = declared(None, "resistance of the input to ground, where it is known", "ohm")
    bits: int = declared(0, "bits of its converter, such as 10; 0 when not known")
    reference_v: float | None = declared(None, "full scale of the converter, where it does not follow the supply", "V")
    u_reference_v: float | None = declared(None, "standard uncertainty of that full scale", "V", difference=True)
    display_step: float | None = declared(None, "step of the shown number, in the value's unit")

    def __post_init__(self) -> None:
        """Refuse words nobody knows."""
        one_of(self, "input", ("resistance", "voltage", "ratio"))
        one_of(self, "arrangement", ("pull-up", "pull-down"))
        one_of(self, "order", ("ascending", "descending"))
        one_of(self, "interpolation", ("linear in signal", "linear in ln signal"))
        one_of(self, "past_ends", ("holds", "extends", "blank", "unknown"))
        if self.rows < 2:
            raise InputError(f"a monitor table of {self.rows} rows is none", do="give two rows or more")
        if self.signal_step <= 0 or self.value_step <= 0:
            raise InputError("the rounding steps of the monitor must be above zero")
        if self.bits < 0 or self.bits > 32:
            raise InputError(f"a converter of {self.bits} bits is none", do="give its bits, such as 10")
        if self.reference_v is not None and not self.reference_v > 0:
            raise InputError("the converter's full scale must be above zero", do="measure it, in volts")
        if self.input_resistance_ohm is not None and not self.input_resistance_ohm > 0:
            raise InputError("the input's resistance to ground must be above zero", do="measure it, or leave it out")
        not_negative(self, "pull_up_tolerance_ratio", "pull_up_tempco_per_k", "u_reference_v", "display_step")


@dataclass(frozen=True, slots=True, kw_only=True)
class PressureInput:
    """What the monitor takes for a pressure sensor, under ``[pressure_input]`` in the setup.

    Examples
    --------
    >>> PressureInput().form
    'table'
    """

    form: str = declared(
        "table", "'table' of rows, or 'two constants' where it takes zero and span", why="nothing else stated"
    )
    signal: str = declared("voltage", "what a row holds: 'ratio', 'voltage' or 'counts'", why="nothing else stated")
    supply_v: float = declared(5.0, "supply that stands behind the volts", "V", why="a 5 V sensor supply")
    counts_full: int = declared(1023, "count that stands for output = supply", why="ten bits; not needed for volts")
    rows: int = declared(8, "rows of the table", why="nothing else stated")
    signal_step: float = declared(
        0.01, "rounding step of the signal column: volts, counts or ratio", why="nothing else stated"
    )
    value_unit: str = declared("kPa", "unit of the value column", why="nothing else stated")
    value_step: float = declared(1.0, "rounding step of the value column, in its unit", why="nothing else stated")
    past_ends: str = declared("unknown", "'holds', 'extends', 'blank' or 'unknown'", why="not yet found by experiment")
    input_resistance_ohm: float | None = declared(None, "resistance of the input to ground, where it is known", "ohm")
    display_step: float | None = declared(None, "step of the shown number, in the value's unit")

    def __post_init__(self) -> None:
        """Refuse words nobody knows."""
        one_of(self, "form", ("table", "two constants"))
        one_of(self, "signal", ("ratio", "voltage", "counts"))
        one_of(self, "past_ends", ("holds", "extends", "blank", "unknown"))
        if self.rows < 2:
            raise InputError(f"a pressure table of {self.rows} rows is none", do="give two rows or more")
        if self.signal_step <= 0 or self.value_step <= 0 or self.supply_v <= 0 or self.counts_full <= 0:
            raise InputError("steps, supply and counts of the pressure input must be above zero")
        if self.input_resistance_ohm is not None and not self.input_resistance_ohm > 0:
            raise InputError("the input's resistance to ground must be above zero", do="measure it, or leave it out")
        not_negative(self, "display_step")
