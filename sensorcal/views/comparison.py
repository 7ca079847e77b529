"""Pictures that hold one curve against another: the maker's sheet, a simpler curve, another prior.

As in `sensorcal.views.plots`, every function returns a matplotlib `Figure` made without pyplot.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np

from sensorcal.calibration.calibration import Calibration, expanded_c, u_temperature_c
from sensorcal.calibration.claims import point_expanded_c
from sensorcal.calibration.sheet import check_against_sheet
from sensorcal.setup import UnitsOut
from sensorcal.units import from_si, interval_from_si
from sensorcal.views.plots import (
    _BAND,
    _GREY,
    _INK,
    _OLIVE,
    _RUST,
    _axes,
    _beyond,
    _mark_redline,
    _span,
    _style,
    _temperature_axis,
)
from sensorcal.views.words import unit_symbol

if TYPE_CHECKING:
    from matplotlib.figure import Figure

# Told apart in black and white by their dashes.
_LINES = (("-", _INK), ("--", _OLIVE), (":", _RUST), ("-.", _GREY))


def sheet_figure(
    calibration: Calibration,
    sheet: Sequence[tuple[float, float]],
    *,
    tolerance_ratio: float,
    range_c: tuple[float, float] = (-20.0, 150.0),
    redline_c: float | None = None,
    units: UnitsOut | None = None,
) -> Figure:
    """Draw what a monitor that uses the maker's sheet would show with this probe, minus the truth, in degrees.

    Parameters
    ----------
    calibration : Calibration
    sheet : sequence of (temperature_c, resistance_ohm)
    tolerance_ratio : float
        Half-width of the sheet's tolerance on resistance, such as 0.03.
    range_c : tuple of float
        Temperatures shown, °C; cut to the sheet's own.
    redline_c : float, optional
        Limit to mark, °C.
    units : UnitsOut, optional
    """
    units = units or UnitsOut()
    low, high = min(t for t, _ in sheet), max(t for t, _ in sheet)
    with _style():
        figure, axes = _axes()
        t = _span(calibration, (max(range_c[0], low), min(range_c[1], high)), redline_c)
        line = check_against_sheet(
            t.tolist(),
            calibration.resistance_ohm(t).tolist(),
            u_temperature_c(calibration, t).tolist(),
            sheet,
            tolerance_ratio=tolerance_ratio,
        )
        points = calibration.points
        dots = check_against_sheet(
            points.temperature_c.tolist(),
            points.resistance_ohm.tolist(),
            points.u_c.tolist(),
            sheet,
            tolerance_ratio=tolerance_ratio,
        )
        x = from_si(t, units.temperature)
        error, half, allowed = (
            interval_from_si(np.array(values), units.temperature)
            for values in (
                [one.error_c for one in line],
                [one.expanded_c for one in line],
                [one.tolerance_c for one in line],
            )
        )
        axes.axhline(0.0, color=_GREY, linewidth=0.8)
        axes.fill_between(x, error - half, error + half, color=_BAND, linewidth=0, label="U, 19 times in 20")
        axes.plot(x, error, color=_INK, label="this probe")
        for sign in (1.0, -1.0):
            axes.plot(
                x,
                sign * allowed,
                color=_OLIVE,
                linestyle="--",
                label="what the sheet allows" if sign > 0 else None,
            )
        axes.errorbar(
            from_si(points.temperature_c, units.temperature),
            interval_from_si(np.array([one.error_c for one in dots]), units.temperature),
            yerr=interval_from_si(point_expanded_c(calibration), units.temperature),
            fmt="o",
            color="black",
            markerfacecolor="white",
            elinewidth=0.7,
            label="points",
        )
        axes.set_xlim(float(x[0]), float(x[-1]))
        top = 1.1 * float(np.max(np.abs(np.concatenate([allowed, error + half, error - half]))))
        axes.set_ylim(-top, 1.55 * top)
        _beyond(axes, calibration, units, word=True)
        _mark_redline(axes, redline_c, units)
        axes.set_title(f"{calibration.sensor} held against its maker's sheet")
        axes.set_ylabel(f"sheet − true, {unit_symbol(units.temperature)}")
        _temperature_axis(axes, units)
        axes.legend(loc="upper left", ncols=2)
    return figure


def trust_figure(
    calibrations: Mapping[str, Calibration],
    *,
    range_c: tuple[float, float] = (-20.0, 150.0),
    redline_c: float | None = None,
    units: UnitsOut | None = None,
) -> Figure:
    """Draw the U of several calibrations, or plans, over temperature.

    Parameters
    ----------
    calibrations : mapping of str to Calibration
        By the name that stands in the legend; at most four.
    range_c, redline_c, units
        As for `sensorcal.views.plots.uncertainty_figure`.
    """
    units = units or UnitsOut()
    first = next(iter(calibrations.values()))
    with _style():
        figure, axes = _axes()
        t = _span(first, range_c, redline_c)
        x = from_si(t, units.temperature)
        for (label, calibration), (dashes, colour) in zip(calibrations.items(), _LINES, strict=False):
            axes.plot(
                x, interval_from_si(expanded_c(calibration, t), units.temperature), dashes, color=colour, label=label
            )
        axes.set_xlim(float(x[0]), float(x[-1]))
        axes.set_ylim(0.0, None)
        _beyond(axes, first, units, word=True)
        _mark_redline(axes, redline_c, units)
        axes.set_title("U, 19 times in 20")
        axes.set_ylabel(f"± {unit_symbol(units.temperature)}")
        _temperature_axis(axes, units)
        axes.legend(loc="upper left", bbox_to_anchor=(0.2, 1.0))
    return figure


def difference_figure(
    base: Calibration,
    others: Mapping[str, Calibration],
    *,
    range_c: tuple[float, float] = (-20.0, 150.0),
    redline_c: float | None = None,
    units: UnitsOut | None = None,
) -> Figure:
    """Draw what other curves would show where the base curve is taken as true, within the base curve's U.

    Parameters
    ----------
    base : Calibration
        Its U is the band about zero.
    others : mapping of str to Calibration
        By the name that stands in the legend; at most three.
    range_c, redline_c, units
        As for `sensorcal.views.plots.uncertainty_figure`.
    """
    units = units or UnitsOut()
    with _style():
        figure, axes = _axes()
        t = _span(base, range_c, redline_c)
        ohm = base.resistance_ohm(t)
        x = from_si(t, units.temperature)
        half = interval_from_si(expanded_c(base, t), units.temperature)
        axes.axhline(0.0, color=_GREY, linewidth=0.8)
        axes.fill_between(x, -half, half, color=_BAND, linewidth=0, label=f"U of {base.sensor}")
        for (label, other), (dashes, colour) in zip(others.items(), _LINES, strict=False):
            shown = interval_from_si(other.temperature_c(ohm) - t, units.temperature)
            axes.plot(x, shown, dashes, color=colour, label=label)
        axes.set_xlim(float(x[0]), float(x[-1]))
        low, high = axes.get_ylim()
        axes.set_ylim(low, high + 0.3 * (high - low))
        _beyond(axes, base, units, word=True)
        _mark_redline(axes, redline_c, units)
        axes.set_title("What another curve would show")
        axes.set_ylabel(f"shown − {base.sensor}, {unit_symbol(units.temperature)}")
        _temperature_axis(axes, units)
        axes.legend(loc="upper left", ncols=2)
    return figure
