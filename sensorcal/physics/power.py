"""Ambient correction of measured power as published for ground engines on a test bed.

These rules bring a full-throttle power measured in today's air to that of a reference day, within a stated range.
They are no substitute for an aircraft's own charts, and say nothing of part throttle.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from sensorcal.errors import InputError
from sensorcal.physics.numeric import FloatArray, floats, within

Rule = Literal["sae-j1349", "iso-1585", "60-degf"]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Published:
    """One published rule: its formula in dry kPa and °C, the range it holds in, and where it stands."""

    factor: Callable[[FloatArray, FloatArray], FloatArray]
    pressure_kpa: tuple[float, float]
    temperature_c: tuple[float, float]
    factor_range: tuple[float, float]
    reference: str
    told: str


_ALL = (-math.inf, math.inf)
_RULES: dict[str, _Published] = {
    "sae-j1349": _Published(
        factor=lambda p, t: floats(1.180 * (99.0 / p) * np.sqrt((t + 273.0) / 298.0) - 0.18),
        pressure_kpa=(90.0, 105.0),
        temperature_c=(15.0, 35.0),
        factor_range=_ALL,
        reference="SAE J1349, spark ignition, mechanical efficiency 85 %; formula and range from memory",
        told="dry pressure 90 to 105 kPa, intake 15 to 35 °C",
    ),
    "iso-1585": _Published(
        factor=lambda p, t: floats((99.0 / p) ** 1.2 * ((t + 273.0) / 298.0) ** 0.6),
        pressure_kpa=_ALL,
        temperature_c=_ALL,
        factor_range=(0.93, 1.07),
        reference="ISO 1585 and UN Regulation 85, spark ignition; formula and range from memory",
        told="factor 0.93 to 1.07",
    ),
    "60-degf": _Published(
        factor=lambda p, t: floats(101.325 / p * np.sqrt((t + 273.15) / 288.7)),
        pressure_kpa=_ALL,
        temperature_c=_ALL,
        factor_range=_ALL,
        reference="older rule to 29.92 inHg dry and 60 °F, seen in a public mailing list of 1995",
        told="no range stated in the source",
    ),
}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PowerCorrection:
    """A factor on measured power, and whether the published rule holds there.

    Parameters
    ----------
    factor_ratio : array, or float array of no dimension
        Corrected power = measured power × factor.
    within_range : array of bool
        False where the rule is used outside its published range: report the measured power there.
    rule, range_told, reference : str
        Name of the rule, its range in words, and where it stands.
    """

    factor_ratio: FloatArray
    within_range: np.ndarray
    rule: str
    range_told: str
    reference: str


def power_correction(
    rule: Rule,
    *,
    dry_pressure_pa: ArrayLike,
    intake_c: ArrayLike,
    outside: Literal["refuse", "flag"] = "refuse",
) -> PowerCorrection:
    """Factor that brings full-throttle power measured today to a reference day.

    Parameters
    ----------
    rule : {'sae-j1349', 'iso-1585', '60-degf'}
        Published rule. The three have different reference days: their factors are not to be mixed.
    dry_pressure_pa : array_like
        Air pressure at the intake without its water vapour (total minus vapour pressure), Pa.
        Valid 50 000 to 110 000 Pa.
    intake_c : array_like
        Temperature of the intake air, °C. Valid -40 to 60 °C.
    outside : {'refuse', 'flag'}, optional
        Outside the rule's published range: refuse, or compute and say so in `within_range`.

    Returns
    -------
    PowerCorrection

    Raises
    ------
    InputError
        If an input cannot be, the rule is unknown, or (unless flagged) the rule does not hold.

    References
    ----------
    SAE J1349; ISO 1585 / UN Regulation 85 (both from memory); shared/12_power_correction.csv.

    Examples
    --------
    >>> today = power_correction("iso-1585", dry_pressure_pa=96_000.0, intake_c=20.0)
    >>> round(float(today.factor_ratio), 4)
    1.0271
    >>> power_correction("iso-1585", dry_pressure_pa=88_000.0, intake_c=20.0)
    Traceback (most recent call last):
    sensorcal.errors.InputError: iso-1585 does not hold at 88 kPa dry and 20 °C: it gives 1.1402 and is published for \
factor 0.93 to 1.07; report the measured power with its air, or ask for outside='flag'.
    """
    if rule not in _RULES:
        raise InputError(f"rule {rule!r} is not known", do=f"write one of {', '.join(map(repr, _RULES))}")
    if outside not in {"refuse", "flag"}:
        raise InputError(f"outside = {outside!r} is not known", do="write 'refuse' or 'flag'")
    published = _RULES[rule]
    kpa = within("dry_pressure_pa", dry_pressure_pa, 50e3, 110e3, "Pa", "give the dry air pressure in Pa") / 1e3
    celsius = within("intake_c", intake_c, -40.0, 60.0, "°C")
    factor = published.factor(kpa, celsius)
    inside = _between(kpa, published.pressure_kpa) & _between(celsius, published.temperature_c)
    inside = (inside & _between(factor, published.factor_range)) | np.isnan(factor)  # missing stays missing
    if outside == "refuse" and not bool(np.all(inside)):
        at = int(np.flatnonzero(~inside)[0])
        p, t, f = (float(values.reshape(-1)[at]) for values in np.broadcast_arrays(kpa, celsius, factor))
        raise InputError(
            f"{rule} does not hold at {p:g} kPa dry and {t:g} °C: it gives {f:.4f} and is published for "
            f"{published.told}",
            do="report the measured power with its air, or ask for outside='flag'",
        )
    return PowerCorrection(
        factor_ratio=factor,
        within_range=np.asarray(inside),
        rule=rule,
        range_told=published.told,
        reference=published.reference,
    )


def compression_ignition_factor(
    *, dry_pressure_pa: ArrayLike, intake_c: ArrayLike, turbocharged: bool = False
) -> FloatArray:
    """Atmospheric factor fa of ISO 1585 for compression ignition: the base of its power correction, not the factor.

    Parameters
    ----------
    dry_pressure_pa, intake_c : array_like
        As for `power_correction`.
    turbocharged : bool, optional
        True with an exhaust turbocharger, False for natural or mechanical charging.

    Returns
    -------
    ndarray of float
        fa; the correction of power is fa to the power of the engine factor, see `engine_factor`.

    Raises
    ------
    InputError
        If an input cannot be.

    References
    ----------
    ISO 1585; exponents from memory, the references 99 kPa and 298 K seen in a public engine manual.

    Examples
    --------
    >>> round(float(compression_ignition_factor(dry_pressure_pa=93_000.0, intake_c=35.0)), 4)
    1.0894
    """
    kpa = within("dry_pressure_pa", dry_pressure_pa, 50e3, 110e3, "Pa", "give the dry air pressure in Pa") / 1e3
    warm = (within("intake_c", intake_c, -40.0, 60.0, "°C") + 273.0) / 298.0
    return floats((99.0 / kpa) ** 0.7 * warm**1.5 if turbocharged else (99.0 / kpa) * warm**0.7)


def engine_factor(fuel_mg_per_litre: ArrayLike) -> FloatArray:
    """Exponent fm of the compression-ignition correction of ISO 1585.

    Parameters
    ----------
    fuel_mg_per_litre : array_like
        Corrected fuel delivery qc: mg of fuel a cycle and litre of air swept, divided by the boost pressure ratio.

    Returns
    -------
    ndarray of float
        fm = 0.036 qc - 1.14 between qc = 40 and 65; 0.3 below and 1.2 above.

    Raises
    ------
    InputError
        If a delivery cannot be.

    References
    ----------
    ISO 1585: line seen in a public engine manual, ends from memory.

    Examples
    --------
    >>> [round(float(engine_factor(q)), 2) for q in (30.0, 50.0, 80.0)]
    [0.3, 0.66, 1.2]
    """
    qc = within("fuel_mg_per_litre", fuel_mg_per_litre, 1.0, 300.0, "mg/(L cycle)")
    return floats(np.clip(0.036 * qc - 1.14, 0.3, 1.2))


def iso3046_power_ratio(
    *,
    pressure_ratio: ArrayLike,
    temperature_ratio: ArrayLike,
    coolant_ratio: ArrayLike = 1.0,
    exponents: tuple[float, float, float],
    mechanical_efficiency_ratio: float = 0.8,
) -> FloatArray:
    """Power at the site as a share of power at reference conditions, in the form of ISO 3046-1.

    Parameters
    ----------
    pressure_ratio : array_like
        Site over reference pressure (dry, where the standard's row says so).
    temperature_ratio, coolant_ratio : array_like
        Reference over site, kelvin over kelvin: intake air, and charge-air coolant.
    exponents : tuple of three float
        m, n, s of the standard's row for the kind of engine. They are not known here for certain and have to be
        typed from the standard.
    mechanical_efficiency_ratio : float, optional
        0.8 unless the engine's maker states another.

    Returns
    -------
    ndarray of float
        α = k - 0.7 (1 - k) (1/η - 1) with k the product of the three ratios to their powers.

    Raises
    ------
    InputError
        If a ratio or the efficiency cannot be.

    References
    ----------
    ISO 3046-1, power adjustment (form and the value 0.8 from memory).

    Examples
    --------
    >>> round(float(iso3046_power_ratio(pressure_ratio=0.9, temperature_ratio=1.0, exponents=(1.0, 0.75, 0.0))), 4)
    0.8825
    """
    eta = float(within("mechanical_efficiency_ratio", mechanical_efficiency_ratio, 0.5, 1.0, "(ratio)"))
    m, n, s = exponents
    k = (
        within("pressure_ratio", pressure_ratio, 0.3, 1.3, "(ratio)") ** m
        * within("temperature_ratio", temperature_ratio, 0.7, 1.4, "(ratio)") ** n
        * within("coolant_ratio", coolant_ratio, 0.7, 1.4, "(ratio)") ** s
    )
    return floats(k - 0.7 * (1.0 - k) * (1.0 / eta - 1.0))


def _between(values: FloatArray, ends: tuple[float, float]) -> np.ndarray:
    return np.asarray((values >= ends[0] - 1e-9) & (values <= ends[1] + 1e-9))
