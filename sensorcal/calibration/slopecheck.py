"""Two standards for one slope: a water U-tube about the air's pressure, and a gauge over the whole range.

The two meet in the sensor alone. Where their slopes differ by more than both can be wrong, one of the standards is off:
a gauge out of its class, a hose half filled, centimetres for inches, or a leak while reading.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from sensorcal.calibration.mapsplit import MapSplit
from sensorcal.calibration.pressurecal import PressureCalibration, pressure_extrapolated
from sensorcal.errors import InputError
from sensorcal.measure.interval import coverage_factor

_STEEP_U = 0.05  # a standard whose slope is known to no better than this says nothing: common practice, no source


@dataclass(frozen=True, slots=True, kw_only=True)
class SlopeCheck:
    """What two standards say of one sensor's slope, both against its data sheet's line.

    Parameters
    ----------
    water_ratio, u_water_ratio : float
        By how much the output rises too steeply, by the water column, and its standard uncertainty.
    gauge_ratio, u_gauge_ratio : float
        The same by the gauge.
    difference_ratio, expanded_ratio : float
        Gauge minus water, and its U, 19 times in 20.
    agree : bool
        True where the difference is within its U.
    tells : bool
        False where U is so wide that even a misread unit might hide in it.
    text : str
        In plain words.
    """

    water_ratio: float
    u_water_ratio: float
    gauge_ratio: float
    u_gauge_ratio: float
    difference_ratio: float
    expanded_ratio: float
    agree: bool
    tells: bool
    text: str


def slope_of_gauge(
    calibration: PressureCalibration, *, between_pa: tuple[float, float] | None = None, sheet_span_ratio: float = 0.8
) -> tuple[float, float]:
    """Slope that a calibration against a gauge found, relative to the data sheet's, with its standard uncertainty.

    What is alike at all pressures (level of the gauge, the air's pressure) does not count.

    Parameters
    ----------
    calibration : PressureCalibration
    between_pa : (float, float), optional
        Where the slope is taken, Pa; all tested pressures if left out. Only a bent sensor has more than one slope.
    sheet_span_ratio : float
        Rise of output over supply that the data sheet gives for the whole range: 0.8 for 10 to 90 %.

    Returns
    -------
    error_ratio, u_ratio : float

    Raises
    ------
    InputError
        A span of the data sheet that is none, or pressures that the gauge did not test.

    References
    ----------
    JCGM 100:2008 (GUM), equation (16), with the covariance of the fit.

    Examples
    --------
    >>> from sensorcal.calibration.pressure import fit_pressure
    >>> from sensorcal.measure.terms import term
    >>> p = np.array([40e3, 90e3, 140e3, 190e3])
    >>> own = term("repeat", 100.0, 4, common=False)
    >>> cal = fit_pressure(p, 0.1 + 0.808 * p / 250e3, (own,), low_pa=0.0, high_pa=250e3)
    >>> error, u = slope_of_gauge(cal)
    >>> f"{100 * error:+.2f} % ± {100 * 2 * u:.2f}"
    '+1.00 % ± 0.18'
    """
    if not 0.0 < sheet_span_ratio <= 1.0:
        raise InputError(
            f"sheet_span_ratio {sheet_span_ratio:g} is outside 0 to 1", do="give output over supply at both ends"
        )
    low, high = calibration.tested_pa if between_pa is None else between_pa
    if not high - low > 0.0 or np.any(pressure_extrapolated(calibration, (low, high))):
        tested = " to ".join(f"{p / 1000:.1f}" for p in calibration.tested_pa)
        raise InputError(
            f"a slope between {low / 1000:.1f} and {high / 1000:.1f} kPa is not what the gauge tested ({tested} kPa)",
            do="read the gauge on both sides of the air's pressure too",
        )
    ends = np.array([low, high])
    at = calibration.ratio(ends)
    measured = float(np.ptp(ends))
    # What the data sheet's line would show for the same rise of the output, over what the gauge showed.
    shown = float(np.ptp(at)) / sheet_span_ratio * (calibration.high_pa - calibration.low_pa)
    rows = calibration.curve.design(at) @ calibration.root
    u = float(np.linalg.norm(rows[1] - rows[0])) / measured
    return shown / measured - 1.0, u


def check_slopes(water: MapSplit, calibration: PressureCalibration, *, sheet_span_ratio: float = 0.8) -> SlopeCheck:
    """Compare the slope by a water U-tube with the slope by a gauge, within their combined uncertainty.

    Parameters
    ----------
    water : MapSplit
        From points either side of the air's pressure, with `split_offset_and_span`; its readings turned into pressure
        by the data sheet's line.
    calibration : PressureCalibration
        The same sensor against the gauge.
    sheet_span_ratio : float
        As for `slope_of_gauge`.

    Returns
    -------
    SlopeCheck

    Raises
    ------
    InputError
        As for `slope_of_gauge`.

    References
    ----------
    JCGM 100:2008 (GUM), equation (16), the two taken as unrelated: one voltmeter served for both, so that the true U is
    a little smaller and a finding a little stronger than said.
    """
    by_gauge, u_gauge = slope_of_gauge(calibration, between_pa=water.tested_pa, sheet_span_ratio=sheet_span_ratio)
    by_water, u_water = water.span_error_ratio, water.u_span_error_ratio
    difference = by_gauge - by_water
    u = math.hypot(u_gauge, u_water)
    expanded = coverage_factor() * u
    agree = abs(difference) <= expanded
    tells = u <= _STEEP_U
    u_100 = 100.0 * coverage_factor()
    both = (
        f"slope against the data sheet: {100 * by_water:+.2f} % ± {u_100 * u_water:.2f} by the water, "
        f"{100 * by_gauge:+.2f} % ± {u_100 * u_gauge:.2f} by the gauge"
    )
    if not tells:
        verdict = "too uncertain to tell anything; take a higher column or read it more finely"
    elif agree:
        verdict = f"they agree: {100 * difference:+.2f} % apart, within ± {100 * expanded:.2f}"
    else:
        verdict = (
            f"they do not agree: {100 * difference:+.2f} % apart, beyond ± {100 * expanded:.2f}; look at the gauge, "
            "its unit, the height of the column and the hose before the sensor"
        )
    return SlopeCheck(
        water_ratio=by_water,
        u_water_ratio=u_water,
        gauge_ratio=by_gauge,
        u_gauge_ratio=u_gauge,
        difference_ratio=difference,
        expanded_ratio=expanded,
        agree=agree,
        tells=tells,
        text=f"{both}: {verdict}.",
    )
