"""A settled point: what the reference and the signal were, what was corrected, and each share of its uncertainty."""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class UPart:
    """One share of the uncertainty of a settled point.

    Parameters
    ----------
    key : str
        Identifier of an error that other points or probes share, such as 'reference:T1' or
        'gradient:ice@2026-05-02' (of one session); '' where the error is
        this point's own.
    u : float
        Standard uncertainty, in degC or Pa on the axis 'value', in ohm, V or ratio on the axis 'signal'. Where
        `key` is given the sign counts: it says which way this point moves with the others.
    what : str
        The share in plain words.
    axis : str
        'value' or 'signal'.
    """

    key: str
    u: float
    what: str
    axis: str = "value"


@dataclass(frozen=True, slots=True, kw_only=True)
class Correction:
    """Something added to a reading: its name, its size, and on which axis ('value' in degC or Pa, 'signal')."""

    name: str
    size: float
    axis: str = "value"


@dataclass(frozen=True, slots=True, kw_only=True)
class Point:
    """One settled point of one probe.

    Parameters
    ----------
    label, probe : str
        Of which stop and which probe.
    file_rows : tuple of int
        Rows of the file in which the probe was read.
    value : float
        Reference, corrected, in degC or Pa.
    signal, signal_read : float
        Mean signal corrected for the meter, and as read: ohm, V or ratio. Ohms are averaged in ln R.
    measurand, signal_kind : str
        'temperature' or 'pressure'; 'resistance', 'voltage' or 'ratio'.
    reference_id : str
        'ice', 'steam', or the identifier of the thermometer or gauge.
    n : int
        Number of readings.
    scatter : float
        Standard deviation of the readings about the drift of the bath, in the signal's unit; nan for one reading.
    time_s : float, optional
        Mean time of the readings.
    rate_per_s : float, optional
        Drift of the reference, degC/s or Pa/s, where it was read at two times.
    current_a, immersion_m, supply_v : float, optional
        Means over the readings, or from the setup.
    direction : str
        'up', 'down' or ''.
    corrections : tuple of Correction
        What was added, with its size.
    parts : tuple of UPart
        Shares of the uncertainty.
    notes : tuple of str
        What the user should weigh.
    """

    label: str
    probe: str
    file_rows: tuple[int, ...]
    value: float
    signal: float
    signal_read: float
    measurand: str = "temperature"
    signal_kind: str = "resistance"
    reference_id: str = ""
    n: int = 1
    scatter: float = math.nan
    time_s: float | None = None
    rate_per_s: float | None = None
    current_a: float | None = None
    immersion_m: float | None = None
    supply_v: float | None = None
    direction: str = ""
    corrections: tuple[Correction, ...] = ()
    parts: tuple[UPart, ...] = ()
    notes: tuple[str, ...] = ()

    @property
    def temperature_c(self) -> float:
        """Reference temperature, degC."""
        return self.value

    @property
    def resistance_ohm(self) -> float:
        """Corrected resistance, ohm."""
        return self.signal

    @property
    def u_value(self) -> float:
        """Standard uncertainty on the axis of the reference, degC or Pa, shared and own together."""
        return math.hypot(*(part.u for part in self.parts if part.axis == "value"))

    @property
    def u_signal(self) -> float:
        """Standard uncertainty on the axis of the signal, in its unit, shared and own together."""
        return math.hypot(*(part.u for part in self.parts if part.axis == "signal"))
