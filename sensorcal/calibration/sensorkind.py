"""Vented gauge, sealed gauge or absolute: told from one reading with the line open, and what it will show higher up."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from sensorcal.errors import InputError
from sensorcal.physics.atmosphere import standard_pressure_pa

SEALED_PA = 101_325.0
U_SEALED_PA = 1_000.0
"""Pressure sealed in at the factory, about one standard atmosphere: estimate, no source."""
U_ZERO_SHARE = 0.0025
"""Zero error of a data sheet, as a standard uncertainty in shares of the span: common practice, no source."""
PRIOR: Mapping[str, float] = {"gauge": 0.6, "sealed": 0.25, "absolute": 0.15}
"""How common each kind is among oil and fuel transducers before any reading: estimate, no source."""
ALTITUDES_M = (0.0, 1500.0, 3000.0)
KIND_WORDS = {"gauge": "vented gauge", "sealed": "sealed gauge", "absolute": "absolute"}
_NONE_FITS = 4.0  # standard uncertainties
_SURE = 0.95


@dataclass(frozen=True, slots=True, kw_only=True)
class SensorKind:
    """What one open-line reading says of a sensor's kind.

    Parameters
    ----------
    kind : {'gauge', 'sealed', 'absolute', 'none'}
        The most probable; 'none' where no kind explains the reading.
    probability : dict of str to float
        Of each kind, from the prior and the reading.
    expected_pa : dict of str to float
        What each kind should show with the line open here and today.
    shown_pa : tuple of (altitude_m, pressure_pa)
        What this sensor will show with the line open on a standard day.
    prior : dict of str to float
    sentence : str
    """

    kind: str
    probability: dict[str, float]
    expected_pa: dict[str, float]
    shown_pa: tuple[tuple[float, float], ...]
    prior: dict[str, float]
    sentence: str


def sensor_kind(
    reading_pa: float,
    *,
    station_pressure_pa: float,
    u_station_pressure_pa: float = 100.0,
    span_pa: float = 1_000_000.0,
    u_zero_pa: float | None = None,
    sealed_pa: float = SEALED_PA,
    u_sealed_pa: float = U_SEALED_PA,
    prior: Mapping[str, float] | None = None,
    altitudes_m: tuple[float, ...] = ALTITUDES_M,
) -> SensorKind:
    """Tell the kind of a pressure sensor from what it shows with the line open to the air.

    Parameters
    ----------
    reading_pa : float
        What the data sheet's line makes of its output, Pa.
    station_pressure_pa, u_station_pressure_pa : float
        Air pressure of the place and day, and its standard uncertainty.
    span_pa : float
        The sensor's span: sizes the zero error where none is stated.
    u_zero_pa : float, optional
        Standard uncertainty of the zero; a quarter of a per cent of the span where left out.
    sealed_pa, u_sealed_pa : float
        Pressure sealed in the back of a sealed gauge.
    prior : mapping of str to float, optional
        Probability of 'gauge', 'sealed' and 'absolute' before the reading; `PRIOR` where left out.
    altitudes_m : tuple of float
        Where to foretell its reading.

    Returns
    -------
    SensorKind

    Raises
    ------
    InputError
        A station pressure that is none, a prior that is no probability, or an uncertainty of zero.

    References
    ----------
    Bayes' theorem with normal errors; ISO 2533:1975 for the pressures at altitude; what is sealed in: common
    practice, no source.

    Examples
    --------
    >>> found = sensor_kind(-7_900.0, station_pressure_pa=93_470.0)
    >>> found.kind, round(found.shown_pa[-1][1] / 1000)
    ('sealed', -31)
    """
    before = dict(PRIOR if prior is None else prior)
    if set(before) != set(PRIOR) or min(before.values()) < 0.0 or abs(sum(before.values()) - 1.0) > 1e-6:
        raise InputError(
            f"prior {before} is no probability", do="give 'gauge', 'sealed' and 'absolute' so that they add up to 1"
        )
    if not 10_000.0 < station_pressure_pa < 120_000.0:
        raise InputError(
            f"station_pressure_pa {station_pressure_pa:g} Pa is no air pressure", do="check the number and its unit"
        )
    if not math.isfinite(reading_pa):
        raise InputError("reading_pa is no number", do="read the sensor with the line open")
    u_zero = U_ZERO_SHARE * span_pa if u_zero_pa is None else u_zero_pa
    if not (u_zero > 0.0 and u_sealed_pa >= 0.0 and u_station_pressure_pa >= 0.0):
        raise InputError(f"u_zero_pa {u_zero:g} Pa is not above zero", do="state how well the zero is known")
    expected = {
        "gauge": 0.0,
        "sealed": station_pressure_pa - sealed_pa,
        "absolute": station_pressure_pa,
    }
    u = {
        "gauge": u_zero,
        "sealed": math.hypot(u_zero, u_sealed_pa, u_station_pressure_pa),
        "absolute": math.hypot(u_zero, u_station_pressure_pa),
    }
    off = {name: (reading_pa - expected[name]) / u[name] for name in expected}
    log_weight = {
        name: math.log(before[name]) - 0.5 * off[name] ** 2 - math.log(u[name]) if before[name] > 0.0 else -math.inf
        for name in expected
    }
    most = max(log_weight.values())
    weight = {name: math.exp(value - most) for name, value in log_weight.items()}
    total = sum(weight.values())
    probability = {name: value / total for name, value in weight.items()}
    kind = max(probability, key=lambda name: probability[name])
    if abs(off[kind]) > _NONE_FITS:
        kind = "none"
    # The same sensor moves with the air by what its kind says, from what it shows now.
    shown = tuple(
        (
            altitude,
            reading_pa
            if kind in {"gauge", "none"}
            else reading_pa + float(standard_pressure_pa(altitude)) - station_pressure_pa,
        )
        for altitude in altitudes_m
    )
    return SensorKind(
        kind=kind,
        probability=probability,
        expected_pa=expected,
        shown_pa=() if kind == "none" else shown,
        prior=before,
        sentence=_sentence(kind, reading_pa, probability, expected, shown),
    )


def _sentence(
    kind: str,
    reading_pa: float,
    probability: dict[str, float],
    expected: dict[str, float],
    shown: tuple[tuple[float, float], ...],
) -> str:
    reads = f"open to the air it reads {reading_pa / 1000:.1f} kPa"
    if kind == "none":
        would = ", ".join(f"{KIND_WORDS[name]} {value / 1000:.1f}" for name, value in expected.items())
        return f"{reads}; no kind explains that ({would} kPa expected): check range, supply, wiring and the open line"
    ahead = ", ".join(f"{p / 1000:.1f} kPa at {h:.0f} m" for h, p in shown)
    words = f"{reads}: {KIND_WORDS[kind]} ({100 * probability[kind]:.0f} %); with the line open it will show {ahead}"
    if probability[kind] < _SURE:
        words += "; not certain: read it again at another elevation or air pressure, or narrow its zero error"
    return words
