"""What a pressure calibration's own points tell once more: data-sheet terms, U at each pressure, the reading at rest.

A record keeps the points and every error term, so that a page can be written from it without the run.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sensorcal.calibration.linearity import Performance, PointBudgets, performance, point_budgets
from sensorcal.calibration.pressurecal import (
    BODY,
    PressureCalibration,
    expanded_pressure_pa,
    pressure_extrapolated,
    u_curve_pa,
    u_pressure_pa,
)
from sensorcal.calibration.sensorkind import ALTITUDES_M, SEALED_PA
from sensorcal.errors import FitError
from sensorcal.physics.atmosphere import standard_pressure_pa
from sensorcal.physics.transducer import RatioPolynomial

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from sensorcal.transducer import Transducer

    Floats = NDArray[np.float64]


def performance_again(calibration: PressureCalibration, sheet: Transducer) -> Performance | None:
    """Describe a sensor in the words of its data sheet from the points of its calibration.

    Parameters
    ----------
    calibration : PressureCalibration
    sheet : Transducer
        Data sheet, whose line the error band is taken from.

    Returns
    -------
    Performance or None
        None with readings at fewer than three pressures.
    """
    points = calibration.points
    line = RatioPolynomial.through(
        zero_ratio=sheet.output_low_ratio,
        span_ratio=sheet.output_high_ratio - sheet.output_low_ratio,
        low_pa=sheet.low_pa,
        high_pa=sheet.high_pa,
    )
    try:
        return performance(
            points.pressure_pa,
            points.ratio,
            points.direction,
            points.cycle,
            sheet_line=line,
            low_pa=calibration.low_pa,
            high_pa=calibration.high_pa,
        )
    except FitError:
        return None


def budgets_again(calibration: PressureCalibration) -> PointBudgets | None:
    """Give U at each tested pressure in the manner of the guides, from the terms of the calibration.

    Returns
    -------
    PointBudgets or None
        None where no pressure stands in every cycle.
    """
    points = calibration.points
    n = points.pressure_pa.size
    gauge, reading, meter, repeat = (np.zeros(n) for _ in range(4))
    resolution = 0.0
    for one in calibration.terms:
        own = one.u**2
        if one.identifier.startswith("reference:"):
            if one.identifier.count(":") == 1:  # its tilt and bow are the fit's, not a reading's
                gauge = gauge + own
        elif one.identifier.startswith(("head:", "leak:", "water:", "station")):
            gauge = gauge + own  # what the reference pressure at the sensor rests on beside the gauge
        elif one.identifier == "repeat":
            repeat = repeat + own
        elif one.identifier.startswith(("voltmeter", "supply:", "hysteresis:")):
            continue
        elif one.identifier.startswith("last digit of the voltmeter") or one.identifier == "last count":
            meter = meter + own
            resolution = max(resolution, float(np.abs(one.u).max()) * np.sqrt(12.0))
        else:
            reading = reading + own
    return point_budgets(
        points.pressure_pa,
        calibration.pressure_pa(points.ratio),
        points.direction,
        points.cycle,
        u_gauge_pa=np.sqrt(gauge),
        u_reading_pa=np.sqrt(reading),
        u_meter_pa=np.sqrt(meter),
        u_repeat_pa=float(np.sqrt(repeat.max())),
        resolution_pa=resolution,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class UseRow:
    """One contribution to U of a reading in use.

    Parameters
    ----------
    meaning : str
    u_pa : tuple of float
        Standard uncertainty at each pressure asked for, Pa, without sign.
    body : bool
        True where it belongs to a body that is not at bench temperature.
    """

    meaning: str
    u_pa: tuple[float, ...]
    body: bool = False


def use_budget(calibration: PressureCalibration, pressure_pa: Sequence[float]) -> tuple[UseRow, ...]:
    """List what stands behind U of one reading in use, the largest first.

    Parameters
    ----------
    calibration : PressureCalibration
    pressure_pa : sequence of float

    Returns
    -------
    tuple of UseRow
        Their squares add up to the square of `u_pressure_pa`; rows of one meaning are taken together.

    References
    ----------
    Law of propagation, JCGM 100:2008, equation (10), independent contributions.
    """
    at = np.asarray(pressure_pa, dtype=np.float64)
    found: dict[str, tuple[Floats, bool]] = {}
    for one in calibration.use:
        variance, body = found.get(one.meaning, (np.zeros(at.shape), False))
        found[one.meaning] = (variance + one.at(at) ** 2, body or one.identifier.startswith(BODY))
    rows = [
        UseRow(meaning=meaning, u_pa=tuple(np.sqrt(variance).tolist()), body=body)
        for meaning, (variance, body) in found.items()
    ]
    rows.append(
        UseRow(
            meaning="curve: gauge, reading, voltmeter and scatter of the bench",
            u_pa=tuple(u_curve_pa(calibration, at).tolist()),
        )
    )
    return tuple(sorted(rows, key=lambda row: -max(row.u_pa)))


@dataclass(frozen=True, slots=True, kw_only=True)
class PressureClaim:
    """What the calibration says of one pressure.

    Parameters
    ----------
    pressure_pa, ratio : float
    u_pa, expanded_pa : float
        Of one reading in use, body hot or cold.
    expanded_bench_pa : float
        At bench temperature.
    extrapolated : bool
    """

    pressure_pa: float
    ratio: float
    u_pa: float
    expanded_pa: float
    expanded_bench_pa: float
    extrapolated: bool


def pressure_claims(calibration: PressureCalibration, pressure_pa: Sequence[float]) -> tuple[PressureClaim, ...]:
    """Say output and U at pressures, and whether they were tested.

    Parameters
    ----------
    calibration : PressureCalibration
    pressure_pa : sequence of float

    Returns
    -------
    tuple of PressureClaim
    """
    at = np.asarray(pressure_pa, dtype=np.float64)
    columns = (
        at,
        calibration.ratio(at),
        u_pressure_pa(calibration, at),
        expanded_pressure_pa(calibration, at),
        expanded_pressure_pa(calibration, at, hot_body=False),
        pressure_extrapolated(calibration, at),
    )
    return tuple(
        PressureClaim(
            pressure_pa=float(p),
            ratio=float(r),
            u_pa=float(u),
            expanded_pa=float(hot),
            expanded_bench_pa=float(bench),
            extrapolated=bool(beyond),
        )
        for p, r, u, hot, bench, beyond in zip(*columns, strict=True)
    )


def at_altitudes(kind: str, altitudes_m: Sequence[float] = ALTITUDES_M) -> tuple[tuple[float, float], ...]:
    """What a sound sensor of a kind shows with its line open on a standard day, by altitude.

    Parameters
    ----------
    kind : {'gauge', 'sealed', 'absolute'}
    altitudes_m : sequence of float

    Returns
    -------
    tuple of (altitude_m, pressure_pa)

    References
    ----------
    ISO 2533:1975 standard atmosphere; one standard atmosphere sealed in: common practice, no source.

    Examples
    --------
    >>> [round(p / 1000, 1) for _, p in at_altitudes("sealed")]
    [0.0, -16.8, -31.2]
    """
    air = [float(standard_pressure_pa(one)) for one in altitudes_m]
    zero = {"gauge": [0.0] * len(air), "sealed": [p - SEALED_PA for p in air], "absolute": air}[kind]
    return tuple(zip(map(float, altitudes_m), zero, strict=True))
