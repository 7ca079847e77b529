"""Offset and span of a manifold pressure sensor from the pressure in the workshop and a second point.

The second point is the same air plus or minus a water column, a hand vacuum or a gauge. What the two points share (the
workshop's pressure) moves both alike and so says nothing against the span.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from sensorcal.bench.budgetline import BudgetLine
from sensorcal.bench.station import StationPressure
from sensorcal.calibration.mapcheck import MapReading
from sensorcal.errors import InputError
from sensorcal.measure.interval import chi_squared_limit, coverage_factor
from sensorcal.physics.hydro import water_column_pa, water_column_slopes

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

Trim = Literal["none", "offset", "span", "both", "cannot-tell", "look-again"]
U_HEIGHT_M = 0.002 / math.sqrt(
    3.0
)  # both levels read to half a millimetre, half-width 2 mm; common practice, no source
U_WATER_C = 2.0 / math.sqrt(3.0)  # half-width 2 K; common practice, no source
_FALSE_ALARM = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class MapPoint:
    """The sensor at one known pressure.

    Parameters
    ----------
    label : str
    reference_pa : float
        Absolute pressure that it should show, Pa.
    u_reference_pa : float
        Standard uncertainty of that beside the workshop's pressure, Pa (height, gauge).
    reading : MapReading
    """

    label: str
    reference_pa: float
    u_reference_pa: float
    reading: MapReading


def open_point(station: StationPressure, reading: MapReading) -> MapPoint:
    """Take the hose open to the air as a point: what it should show is the workshop's pressure itself."""
    return MapPoint(label="open", reference_pa=station.pressure_pa, u_reference_pa=0.0, reading=reading)


def water_column_point(
    station: StationPressure,
    reading: MapReading,
    *,
    height_m: float,
    temperature_c: float = 20.0,
    u_height_m: float = U_HEIGHT_M,
    u_temperature_c: float = U_WATER_C,
) -> MapPoint:
    """Take a water U-tube as a point.

    Parameters
    ----------
    station : StationPressure
    reading : MapReading
    height_m : float
        Difference of the levels, m: positive where the sensor stands under pressure, negative under suction.
    temperature_c : float, optional
        Of the water, °C.
    u_height_m, u_temperature_c : float, optional
        Standard uncertainties, m and °C.

    Returns
    -------
    MapPoint

    Raises
    ------
    InputError
        If the height or the temperature cannot be.

    References
    ----------
    Hydrostatics with the density of water and the air's own weight, see `water_column_pa`.

    Examples
    --------
    >>> from sensorcal.bench.station import measured_station_pressure
    >>> from sensorcal.calibration.mapcheck import map_reading_shown
    >>> here = measured_station_pressure(pressure_pa=93_470.0, u_pressure_pa=80.0)
    >>> point = water_column_point(here, map_reading_shown(109_400.0, step_pa=100.0), height_m=1.5)
    >>> f"{point.reference_pa / 1000:.2f} kPa, u {point.u_reference_pa:.0f} Pa"
    '108.14 kPa, u 12 Pa'
    """
    air_kg_m3 = station.pressure_pa / (287.05287 * (temperature_c + 273.15))
    column_pa = float(water_column_pa(height_m, temperature_c=temperature_c, air_density_kg_m3=air_kg_m3))
    by_height, by_kelvin = water_column_slopes(height_m, temperature_c=temperature_c)
    u_pa = math.hypot(float(by_height) * u_height_m, float(by_kelvin) * u_temperature_c)
    return MapPoint(
        label=f"water {height_m:+.2f} m",
        reference_pa=station.pressure_pa + column_pa,
        u_reference_pa=u_pa,
        reading=reading,
    )


def gauge_point(
    station: StationPressure, reading: MapReading, *, gauge_pa: float, u_gauge_pa: float, label: str = "gauge"
) -> MapPoint:
    """Take a vented gauge or a vacuum gauge as a point.

    Parameters
    ----------
    station : StationPressure
    reading : MapReading
    gauge_pa : float
        Pressure above (positive) or below the air, Pa.
    u_gauge_pa : float
        Its standard uncertainty, Pa.
    label : str, optional

    Returns
    -------
    MapPoint

    Raises
    ------
    InputError
        If the absolute pressure would be negative: a vacuum gauge's reading typed with the wrong sign or unit.
    """
    reference_pa = station.pressure_pa + gauge_pa
    if reference_pa <= 0.0:
        raise InputError(
            f"gauge_pa {gauge_pa / 1000:g} kPa below an air of {station.pressure_pa / 1000:.1f} kPa is no pressure",
            do="give the vacuum as a negative gauge pressure in Pa",
        )
    return MapPoint(label=label, reference_pa=reference_pa, u_reference_pa=u_gauge_pa, reading=reading)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MapSplit:
    """Error of the sensor as a straight line in pressure, with what the points can tell of it.

    Parameters
    ----------
    station_pa : float
        Pressure in the workshop, where the line is anchored, Pa.
    error_at_rest_pa, u_error_at_rest_pa : float
        Shown minus true at that pressure, Pa.
    span_error_ratio, u_span_error_ratio : float
        Error per pascal: how much too long (positive) the span is, and its standard uncertainty.
    zero_error_pa, u_zero_error_pa : float
        Error at the lower end of the sensor's line, Pa: far outside the points as a rule.
    covariance : array, shape (2, 2)
        Of the error at rest and the span error.
    tested_pa : tuple of two float
        Lowest and highest pressure of the points.
    trim : {'none', 'offset', 'span', 'both', 'cannot-tell', 'look-again'}
        What explains the points at one false alarm in twenty: no error at all, an offset alone, a span alone, only the
        two together; 'cannot-tell' where offset alone and span alone both do; 'look-again' where no straight line
        explains three points or more.
    residuals_pa : tuple of float
        What the line leaves at each point, Pa.
    text : str
        In plain words.
    """

    station_pa: float
    error_at_rest_pa: float
    u_error_at_rest_pa: float
    span_error_ratio: float
    u_span_error_ratio: float
    zero_error_pa: float
    u_zero_error_pa: float
    covariance: Floats
    tested_pa: tuple[float, float]
    trim: Trim
    residuals_pa: tuple[float, ...]
    text: str

    def __post_init__(self) -> None:
        """Keep the covariance from being changed."""
        kept = np.array(self.covariance, dtype=np.float64)
        kept.setflags(write=False)
        object.__setattr__(self, "covariance", kept)

    def error_pa(self, pressure_pa: float) -> float:
        """Shown minus true at a pressure, Pa."""
        return self.error_at_rest_pa + self.span_error_ratio * (pressure_pa - self.station_pa)

    def u_error_pa(self, pressure_pa: float) -> float:
        """Standard uncertainty of the error at a pressure, Pa, if the sensor is straight."""
        row = np.array([1.0, pressure_pa - self.station_pa])
        return math.sqrt(max(float(row @ self.covariance @ row), 0.0))

    def extrapolated(self, pressure_pa: float) -> bool:
        """Whether a pressure lies outside the points."""
        return not self.tested_pa[0] <= pressure_pa <= self.tested_pa[1]


def split_offset_and_span(points: Sequence[MapPoint], station: StationPressure) -> MapSplit:
    """Split the error of a manifold pressure sensor into offset and span.

    Parameters
    ----------
    points : sequence of MapPoint
        Two at least, at different pressures.
    station : StationPressure
        Its error is common to all points.

    Returns
    -------
    MapSplit

    Raises
    ------
    InputError
        If there are fewer than two different pressures, or a point has no uncertainty of its own.

    References
    ----------
    Generalised least squares, JCGM 100:2008 (GUM), H.3 for the line; chi-squared test for what explains the points.

    Examples
    --------
    >>> from sensorcal.bench.station import measured_station_pressure
    >>> from sensorcal.calibration.mapcheck import map_reading_from_volts
    >>> here = measured_station_pressure(pressure_pa=93_470.0, u_pressure_pa=80.0)
    >>> points = [open_point(here, map_reading_from_volts(2.013, 5.0)),
    ...           water_column_point(here, map_reading_from_volts(2.248, 5.0), height_m=1.5)]
    >>> split = split_offset_and_span(points, here)
    >>> print(split.text)
    error at rest +1.09 kPa ± 0.20, span error +0.14 % ± 1.28 %: an offset explains the points and a span error does \
too; take a point further away (vacuum or boost) before trimming.
    """
    reference = np.array([point.reference_pa for point in points])
    if reference.size < 2 or float(np.ptp(reference)) < 1_000.0:
        raise InputError(
            f"{reference.size} point{'s' if reference.size != 1 else ''} within 1 kPa cannot tell offset from span",
            do="add a water column, a hand vacuum or a gauge point",
        )
    own = np.array([math.hypot(point.u_reference_pa, point.reading.u_shown_pa) for point in points])
    if not float(own.min()) > 0.0:
        raise InputError("a point has no uncertainty of its own", do="state the reading's noise or the gauge's u")
    error = np.array([point.reading.shown_pa for point in points]) - reference
    # If the air is really higher than taken, every reference is too low by the same, and every error too large.
    variance = np.diag(own**2) + station.u_pressure_pa**2
    low_pa = points[0].reading.low_pa
    line = np.column_stack([np.ones(reference.size), reference - station.pressure_pa])
    both, covariance, chi_both = _fitted(line, error, variance)
    zero_row = np.array([1.0, low_pa - station.pressure_pa])
    trim = _trim(reference - low_pa, error, variance, chi_both)
    k = coverage_factor()
    u_rest, u_span = math.sqrt(covariance[0, 0]), math.sqrt(covariance[1, 1])
    told = {
        "none": "the sensor agrees with the points as it is",
        "offset": "an offset explains the points and a span error does not: trim the offset",
        "span": "a span error explains the points and an offset does not: trim the span",
        "both": "neither alone explains the points: trim both",
        "look-again": "no straight line explains the points: look for a wrong one before trimming",
        "cannot-tell": "an offset explains the points and a span error does too; take a point further away "
        "(vacuum or boost) before trimming",
    }[trim]
    return MapSplit(
        station_pa=station.pressure_pa,
        error_at_rest_pa=float(both[0]),
        u_error_at_rest_pa=u_rest,
        span_error_ratio=float(both[1]),
        u_span_error_ratio=u_span,
        zero_error_pa=float(zero_row @ both),
        u_zero_error_pa=math.sqrt(max(float(zero_row @ covariance @ zero_row), 0.0)),
        covariance=covariance,
        tested_pa=(float(reference.min()), float(reference.max())),
        trim=trim,
        residuals_pa=tuple(float(left) for left in error - line @ both),
        text=(
            f"error at rest {both[0] / 1000:+.2f} kPa ± {k * u_rest / 1000:.2f}, span error {100 * both[1]:+.2f} % "
            f"± {100 * k * u_span:.2f} %: {told}."
        ),
    )


def budget_of_point(point: MapPoint, station: StationPressure) -> tuple[BudgetLine, ...]:
    """List what the uncertainty of one point is made of, Pa."""
    own = BudgetLine(
        name=f"reference beside the air's pressure ({point.label})", identifier=f"map-reference:{point.label}",
        u_input=point.u_reference_pa, unit="Pa", slope=-1.0, source="height and water, or the gauge, as stated",
    )  # fmt: skip
    return (*point.reading.budget, own, *station.budget)


def _fitted(design: Floats, observed: Floats, variance: Floats) -> tuple[Floats, Floats, float]:
    """Parameters, covariance and chi-squared; the columns are scaled so that pascals and ratios share digits."""
    scale = np.abs(design).max(axis=0)
    factor = np.linalg.cholesky(variance)
    white = np.linalg.solve(factor, np.column_stack([design / scale, observed]))
    q, r = np.linalg.qr(white[:, :-1])
    solved = np.linalg.solve(r, q.T @ white[:, -1]) / scale
    root = np.linalg.solve(r, np.eye(r.shape[0])) / scale[:, None]
    left = white[:, -1] - white[:, :-1] @ (solved * scale)
    return solved, root @ root.T, float(left @ left)


def _trim(above_low_pa: Floats, error: Floats, variance: Floats, chi_both: float) -> Trim:
    n = error.size
    if float(error @ np.linalg.solve(variance, error)) <= chi_squared_limit(n, _FALSE_ALARM):
        return "none"
    if n > 2 and chi_both > chi_squared_limit(n - 2, _FALSE_ALARM):
        return "look-again"
    # What the second constant takes away is chi-squared with one degree of freedom.
    limit = chi_squared_limit(1, _FALSE_ALARM)
    offset = _fitted(np.ones((n, 1)), error, variance)[2] - chi_both <= limit
    span = _fitted(above_low_pa[:, None], error, variance)[2] - chi_both <= limit
    if offset and span:
        return "cannot-tell"
    if offset or span:
        return "offset" if offset else "span"
    return "both"
