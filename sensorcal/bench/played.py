"""An evening that was played through: the lines as written, and the truth behind each of them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from sensorcal.bench.scenario import Evening, TrueProbe


@dataclass(frozen=True, slots=True, kw_only=True)
class SimulatedSignal:
    """One probe read once: what the meter showed, and what was really there.

    Parameters
    ----------
    probe : str
        Name of the probe.
    shown_ohm, resolution_ohm : float
        What the display showed, and its last digit.
    true_ohm : float
        Resistance of the probe alone at that moment.
    sensor_c : float
        True temperature of the ceramic before the meter's current warmed it.
    self_heating_c : float
        By how much the current warmed it.
    current_a : float
        Test current of the range that the meter chose.
    """

    probe: str
    shown_ohm: float
    resolution_ohm: float
    true_ohm: float
    sensor_c: float
    self_heating_c: float
    current_a: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SimulatedRow:
    """One line of the builder's notes, with the truth behind it.

    Parameters
    ----------
    point : str
        Label of the stop.
    kind : str
        'ice', 'bath' or 'steam'.
    clock_s : float
        Time as written, in whole seconds after midnight.
    time_s : float
        When it was really read, in seconds after the evening began.
    medium_c : float
        True temperature of the medium where the probes hang.
    reference_c : float or None
        What the reference thermometer showed; None where it was not read (ice and steam stand by name).
    signals : tuple of SimulatedSignal
        The probes read on this line; none on a line of the reference alone.
    """

    point: str
    kind: str
    clock_s: float
    time_s: float
    medium_c: float
    reference_c: float | None
    signals: tuple[SimulatedSignal, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Truth:
    """What was drawn for one evening: the values a fit tries to see through.

    Parameters
    ----------
    probes : tuple of TrueProbe
        The probes as they really are.
    fixed_c : mapping of str to float
        True temperature of the melting ice and of the vapour at each such stop, by label.
    reference_bias_c, reference_slope_ratio : float
        The reference thermometer shows T + bias + slope (T - room temperature).
    meter_gain_ratio, lead_ohm : float
        The meter shows (R + leads) (1 + gain), before its ranges, noise and last digit.
    gradient_c : mapping of str to float
        Bundle minus reference in each bath, by label.
    cycling_c : mapping of str to float
        How much warmer each probe reads after its first boil.
    shorted_ohm : float
        What the meter showed with its leads shorted.
    checks_ohm : tuple of (float, float, float)
        Known resistors: nominal, true, as shown by the meter.
    reference_checks_c : mapping of str to float
        What the reference thermometer would show in ice and steam, for a builder who checks it there.
    """

    probes: tuple[TrueProbe, ...]
    fixed_c: Mapping[str, float]
    reference_bias_c: float
    reference_slope_ratio: float
    meter_gain_ratio: float
    lead_ohm: float
    gradient_c: Mapping[str, float]
    cycling_c: Mapping[str, float]
    shorted_ohm: float
    checks_ohm: tuple[tuple[float, float, float], ...]
    reference_checks_c: Mapping[str, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class SimulatedEvening:
    """The lines of one evening in the order they were written, and the truth behind them."""

    rows: tuple[SimulatedRow, ...]
    truth: Truth
    evening: Evening
    seed: int
