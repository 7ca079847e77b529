"""Pictures of a pressure calibration: the line, the loop of rising and falling readings, its U, and a table's error.

As in `sensorcal.views.plots`, every function returns a matplotlib `Figure` made without pyplot.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from sensorcal.calibration.frompoints import performance_again
from sensorcal.calibration.pressurecal import PressureCalibration, expanded_pressure_pa, u_curve_pa
from sensorcal.errors import CurveError
from sensorcal.setup import UnitsOut
from sensorcal.transducer import Transducer
from sensorcal.units import from_si, interval_from_si
from sensorcal.views.plots import _BAND, _BEYOND, _GREY, _INK, _OLIVE, _RUST, _axes, _style
from sensorcal.views.pressurewords import plain_number
from sensorcal.views.words import unit_symbol

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from numpy.typing import NDArray

    from sensorcal.installed.pressuretable import PressureTable

    Floats = NDArray[np.float64]

_STEPS = 201
_MARKS = {"up": ("^", "rising"), "down": ("v", "falling"), "": ("o", "")}


def line_figure(
    calibration: PressureCalibration, *, limits_pa: tuple[float, ...] = (), units: UnitsOut | None = None
) -> Figure:
    """Draw pressure over output, with U in use drawn ten times as wide, and the tested points.

    Parameters
    ----------
    calibration : PressureCalibration
    limits_pa : tuple of float
        Limits to mark, Pa.
    units : UnitsOut, optional
    """
    unit = (units or UnitsOut()).pressure
    with _style():
        figure, axes = _axes()
        p = _span(calibration)
        ratio = 100.0 * calibration.ratio(p)
        half = 10.0 * expanded_pressure_pa(calibration, p)
        axes.fill_between(
            ratio, from_si(p - half, unit), from_si(p + half, unit), color=_BAND, linewidth=0
        )  # fmt: skip
        axes.plot(ratio, from_si(p, unit), color=_INK, label="fitted")
        points = calibration.points
        axes.plot(
            100.0 * points.ratio, from_si(points.pressure_pa, unit), "o", color="black", markerfacecolor="white",
            markersize=3, label="points",
        )  # fmt: skip
        axes.set_xlim(float(ratio[0]), float(ratio[-1]))
        for limit in limits_pa:
            axes.axhline(from_si(limit, unit), color=_RUST, linewidth=1.0)
            axes.text(
                0.015, from_si(limit, unit), f"limit {plain_number(from_si(limit, unit))}", ha="left", va="center",
                transform=axes.get_yaxis_transform(), fontsize=6.5, color=_RUST,
                bbox={"facecolor": "white", "edgecolor": _RUST, "linewidth": 0.5, "pad": 1.0},
            )  # fmt: skip
        axes.set_title(f"Output of {calibration.sensor} (U in use drawn 10 × as wide)")
        axes.set_xlabel("output, % of supply")
        axes.set_ylabel(f"pressure, {unit_symbol(unit)}")
        axes.legend(loc="lower right")
    return figure


def loop_figure(
    calibration: PressureCalibration, *, sheet: Transducer | None = None, units: UnitsOut | None = None
) -> Figure:
    """Draw what rising and falling readings leave of the independent straight line: linearity and hysteresis.

    Parameters
    ----------
    calibration : PressureCalibration
    sheet : Transducer, optional
        Data sheet, for its line.
    units : UnitsOut, optional

    Returns
    -------
    Figure
        Readings alone, each cycle a thin line; a thick line where the fitted curve is not straight.
    """
    unit = (units or UnitsOut()).pressure
    points = calibration.points
    seen = performance_again(calibration, sheet or Transducer(name=calibration.sensor, high_pa=calibration.high_pa))
    with _style():
        figure, axes = _axes()
        slope, intercept = _independent(calibration, seen)

        def off(pressure_pa: Floats, ratio: Floats) -> Any:  # noqa: ANN401 - an array
            return interval_from_si((ratio - intercept) / slope - pressure_pa, unit)

        axes.axhline(0.0, color=_GREY, linewidth=0.8)
        p = np.linspace(*calibration.tested_pa, _STEPS)
        ways, cycles = np.array(points.direction), np.array(points.cycle)
        apart = off(points.pressure_pa, points.ratio)
        x = from_si(points.pressure_pa, unit)
        for way, color, style in (("up", _INK, "-"), ("down", _RUST, "--"), ("", _OLIVE, ":")):
            chosen = ways == way
            if not chosen.any():
                continue
            mark, name = _MARKS[way]
            for n, cycle in enumerate(np.unique(cycles[chosen])):
                one = np.flatnonzero(chosen & (cycles == cycle))
                one = one[np.argsort(points.pressure_pa[one], kind="stable")]
                axes.plot(
                    x[one], apart[one], style, marker=mark, color=color, markersize=3.2, linewidth=0.8,
                    markerfacecolor="white" if way == "down" else color, label=(name or "read") if n == 0 else None,
                )  # fmt: skip
        if calibration.model != "line":
            axes.plot(
                from_si(p, unit), off(p, calibration.ratio(p)), color="black", linewidth=1.8, label="fitted curve"
            )
        if sheet is not None:
            per_pa = (sheet.output_high_ratio - sheet.output_low_ratio) / sheet.span_pa
            by_sheet = off(p, sheet.output_low_ratio + (p - sheet.low_pa) * per_pa)
            axes.plot(from_si(p, unit), by_sheet, "-.", color=_GREY, linewidth=0.9, label="data sheet's line")
        low, high = axes.get_ylim()
        axes.set_ylim(low - 0.45 * (high - low), high)
        axes.set_title("Rising and falling, against a straight line")
        axes.set_xlabel(f"pressure, {unit_symbol(unit)}")
        axes.set_ylabel(f"shown − gauge, {unit_symbol(unit)}")
        axes.legend(loc="lower center", ncols=4, columnspacing=1.0)
    return figure


def trust_figure(
    calibration: PressureCalibration, *, limits_pa: tuple[float, ...] = (), units: UnitsOut | None = None
) -> Figure:
    """Draw U of one reading over pressure: in use, at bench temperature, and of the curve alone."""
    unit = (units or UnitsOut()).pressure
    with _style():
        figure, axes = _axes()
        p = _span(calibration)
        x = from_si(p, unit)
        for values, style, color, label in (
            (expanded_pressure_pa(calibration, p), "-", _INK, "in use, body hot or cold"),
            (expanded_pressure_pa(calibration, p, hot_body=False), "--", _OLIVE, "at bench temperature"),
            (calibration.k * u_curve_pa(calibration, p), ":", _RUST, "curve alone"),
        ):
            axes.plot(x, interval_from_si(values, unit), style, color=color, label=label)
        axes.set_xlim(float(x[0]), float(x[-1]))
        top = float(interval_from_si(expanded_pressure_pa(calibration, p).max(), unit))
        axes.set_ylim(0.0, 1.6 * top)
        _beyond(axes, calibration, unit)
        for limit in limits_pa:
            axes.axvline(from_si(limit, unit), color=_RUST, linewidth=1.0)
        axes.set_title("U: how far a reading can be trusted")
        axes.set_xlabel(f"pressure, {unit_symbol(unit)}")
        axes.set_ylabel(f"± {unit_symbol(unit)}")
        axes.legend(loc="upper center", ncols=3, columnspacing=0.8, handlelength=1.6, fontsize=6)
    return figure


def pressure_table_figure(table: PressureTable, *, units: UnitsOut | None = None) -> Figure:
    """Draw what the keyed rows add between them: shown minus true, beside the smallest worst error possible."""
    unit = (units or UnitsOut()).pressure
    with _style():
        figure, axes = _axes()
        x = from_si(table.error_at_pa, unit)
        for size, color, style, name in (
            (abs(table.worst_error_pa), _INK, (0, (6, 3)), "its worst error"),
            (table.bound_pa, _OLIVE, ":", "no table can do better"),
        ):
            for sign in (1.0, -1.0):
                axes.axhline(
                    sign * interval_from_si(size, unit), color=color, linewidth=0.7, linestyle=style,
                    label=name if sign > 0 else None,
                )  # fmt: skip
        axes.plot(x, interval_from_si(table.error_pa, unit), color=_INK, linewidth=1.1, label="this table")
        rows = from_si(table.shown_pa(table.signal), unit)
        inside = (rows >= x[0]) & (rows <= x[-1])
        axes.plot(rows[inside], np.zeros(int(inside.sum())), "|", color="black", markersize=5, label="rows")
        axes.set_xlim(float(x[0]), float(x[-1]))
        low, high = axes.get_ylim()
        axes.set_ylim(low, high + 0.5 * (high - low))
        axes.set_title("What the table adds between its rows")
        axes.set_xlabel(f"pressure, {unit_symbol(unit)}")
        axes.set_ylabel(f"shown − true, {unit_symbol(unit)}")
        axes.legend(loc="upper center", ncols=4, columnspacing=0.8, handlelength=1.4, fontsize=6)
    return figure


def _independent(calibration: PressureCalibration, seen: Any) -> tuple[float, float]:  # noqa: ANN401
    """Slope and intercept of the independent line, or of the curve's chord where too few pressures were read."""
    if seen is not None:
        line = seen.lines["independent"]
        return float(line.slope), float(line.intercept)
    slope = calibration.span_ratio / (calibration.high_pa - calibration.low_pa)
    return slope, calibration.zero_ratio - slope * calibration.low_pa


def _span(calibration: PressureCalibration) -> Floats:
    """Pressures to draw: the sensor's range, cut to the tested part where the curve cannot be carried on."""
    p = np.linspace(
        min(calibration.low_pa, calibration.tested_pa[0]), max(calibration.high_pa, calibration.tested_pa[1]), _STEPS
    )
    try:
        calibration.ratio(p)
    except CurveError:
        return np.linspace(*calibration.tested_pa, _STEPS)
    return p


def _beyond(axes: Axes, calibration: PressureCalibration, unit: str) -> None:
    """Shade what lies beyond the tested points, and say 'extrapolated' where there is room."""
    low, high = from_si(np.array(calibration.tested_pa), unit).tolist()
    left, right = axes.get_xlim()
    for start, end in ((left, low), (high, right)):
        if end - start <= 0.005 * (right - left):
            continue
        axes.axvspan(start, end, facecolor=_BEYOND, edgecolor="#d0d0d0", hatch="///", linewidth=0, zorder=0)
        if end - start > 0.16 * (right - left):
            axes.text(
                0.5 * (start + end), 0.04, "extrapolated", transform=axes.get_xaxis_transform(), ha="center",
                va="bottom", fontsize=6.5, style="italic",
                bbox={"facecolor": "white", "edgecolor": "none", "alpha": 0.85, "pad": 1.0},
            )  # fmt: skip
    axes.set_xlim(left, right)
