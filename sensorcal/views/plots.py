"""Pictures of a calibration and of a table: the curve, what it left of the points, its U, the table's error.

Every function returns a matplotlib `Figure` made without pyplot, so that it may be called from any thread.
"""

from __future__ import annotations

import re
import threading
from contextlib import contextmanager
from importlib.resources import as_file, files
from io import BytesIO
from typing import TYPE_CHECKING, Any

import numpy as np

from sensorcal.calibration.calibration import Calibration, expanded_c, u_form_c, u_statistical_c
from sensorcal.calibration.claims import point_expanded_c
from sensorcal.errors import CurveError
from sensorcal.measure.interval import coverage_factor
from sensorcal.setup import UnitsOut
from sensorcal.units import from_si, interval_from_si
from sensorcal.views.tableview import TableView, table_view
from sensorcal.views.words import unit_symbol

if TYPE_CHECKING:
    from collections.abc import Iterator

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from numpy.typing import NDArray

    from sensorcal.installed.table import MonitorTable

    Floats = NDArray[np.float64]

_INK, _RUST, _OLIVE, _GREY = "#0b4f6c", "#b3541e", "#5b6b2f", "#555555"
_BAND, _BEYOND = "#a9c8d6", "#f3f3f3"
_STEPS = 241
# matplotlib's settings are one global table: two pictures at once must not mix them.
_ONE_AT_A_TIME = threading.RLock()


@contextmanager
def _style() -> Iterator[None]:
    import matplotlib as mpl

    with _ONE_AT_A_TIME, as_file(files("sensorcal.views").joinpath("style.mplstyle")) as path:
        # Not over the user's own settings: a picture looks the same on every machine.
        found = mpl.rc_params_from_file(str(path), use_default_template=True)
        # The notebook's own window handling is none of a picture's business.
        settings = {key: found[key] for key in found if key not in {"backend", "backend_fallback", "interactive"}}
        with mpl.rc_context(settings):
            yield


def curve_figure(
    calibration: Calibration,
    *,
    range_c: tuple[float, float] = (-20.0, 150.0),
    redline_c: float | None = None,
    units: UnitsOut | None = None,
) -> Figure:
    """Draw resistance over temperature with the band of U (shown ten times as wide) and the tested points.

    Parameters
    ----------
    calibration : Calibration
    range_c : tuple of float
        Temperatures shown, °C; cut where the curve ends.
    redline_c : float, optional
        Limit to mark, °C.
    units : UnitsOut, optional
        Units of the axes.
    """
    units = units or UnitsOut()
    with _style():
        figure, axes = _axes()
        t = _span(calibration, range_c, redline_c)
        half = 10.0 * expanded_c(calibration, t)
        x = from_si(t, units.temperature)
        axes.fill_betweenx(
            from_si(calibration.resistance_ohm(t), units.resistance),
            from_si(t - half, units.temperature),
            from_si(t + half, units.temperature),
            color=_BAND,
            linewidth=0,
            label="U, drawn 10 × as wide",
        )
        axes.plot(x, from_si(calibration.resistance_ohm(t), units.resistance), color=_INK, label="curve")
        axes.plot(
            from_si(calibration.points.temperature_c, units.temperature),
            from_si(calibration.points.resistance_ohm, units.resistance),
            "o",
            color="black",
            markerfacecolor="white",
            label="points",
        )
        axes.set_yscale("log")
        axes.set_xlim(float(x[0]), float(x[-1]))
        _plain_log(axes)
        _beyond(axes, calibration, units, word=True)
        _mark_redline(axes, redline_c, units)
        axes.set_title(f"Curve of {calibration.sensor}")
        axes.set_ylabel(f"resistance, {unit_symbol(units.resistance)}")
        _temperature_axis(axes, units)
        axes.legend(loc="upper left", bbox_to_anchor=(0.27, 1.04))
    return figure


def residual_figure(calibration: Calibration, *, units: UnitsOut | None = None) -> Figure:
    """Draw curve minus reference at each point, with the U of the point (all its terms) as error bar."""
    units = units or UnitsOut()
    with _style():
        figure, axes = _axes()
        points = calibration.points
        axes.axhline(0.0, color=_GREY, linewidth=0.8)
        x = from_si(points.temperature_c, units.temperature)
        residual = interval_from_si(points.residual_c, units.temperature)
        for half, width, label in (
            (point_expanded_c(calibration), 0.7, "U, all terms"),
            (point_expanded_c(calibration, own=True), 1.8, "of it the point's own"),
        ):
            axes.errorbar(
                x,
                residual,
                yerr=interval_from_si(half, units.temperature),
                fmt="none",
                ecolor=_INK,
                elinewidth=width,
                capsize=2 if width < 1 else 0,
                label=label,
            )
        axes.plot(x, residual, "o", color="black", markerfacecolor="white")
        low, high = from_si(np.array(calibration.tested_c), units.temperature).tolist()
        pad = 0.08 * (high - low)
        axes.set_xlim(low - pad, high + pad)
        _beyond(axes, calibration, units, word=False)
        axes.set_title("What the curve leaves of the points")
        axes.set_ylabel(f"curve − ref., {unit_symbol(units.temperature)}")
        top = float(
            interval_from_si(np.max(np.abs(points.residual_c) + point_expanded_c(calibration)), units.temperature)
        )
        axes.set_ylim(-1.6 * top, 1.15 * top)
        _temperature_axis(axes, units)
        axes.legend(loc="lower center", ncols=2)
    return figure


def uncertainty_figure(
    calibration: Calibration,
    *,
    range_c: tuple[float, float] = (-20.0, 150.0),
    redline_c: float | None = None,
    units: UnitsOut | None = None,
) -> Figure:
    """Draw U over temperature, with the part from the stated terms and the part from the form of the curve."""
    units = units or UnitsOut()
    with _style():
        figure, axes = _axes()
        t = _span(calibration, range_c, redline_c)
        x = from_si(t, units.temperature)
        k = coverage_factor(calibration.dof_effective)
        for values, style, color, label in (
            (expanded_c(calibration, t), "-", _INK, "U, 19 times in 20"),
            (k * u_statistical_c(calibration, t), "--", _OLIVE, "from the stated terms"),
            (k * u_form_c(calibration, t), ":", _RUST, "from extrapolating the form"),
        ):
            axes.plot(x, interval_from_si(values, units.temperature), style, color=color, label=label)
        axes.set_xlim(float(x[0]), float(x[-1]))
        axes.set_ylim(0.0, None)
        _beyond(axes, calibration, units, word=True)
        _mark_redline(axes, redline_c, units)
        axes.set_title("How far the curve can be trusted")
        axes.set_ylabel(f"± {unit_symbol(units.temperature)}")
        _temperature_axis(axes, units)
        axes.legend(loc="upper center")
    return figure


def table_figure(
    table: MonitorTable | TableView, *, redline_c: float | None = None, units: UnitsOut | None = None
) -> Figure:
    """Draw what the keyed table adds: shown minus true, against evenly spaced rows and the best possible bound."""
    units = units or UnitsOut()
    table = table_view(table, redline_c)
    with _style():
        figure, axes = _axes()
        x = from_si(table.error_at_c, units.temperature)
        for sign in (1.0, -1.0):
            axes.axhline(
                sign * interval_from_si(table.worst_error_c, units.temperature),
                color=_INK,
                linewidth=0.6,
                linestyle=(0, (6, 3)),
                label="its worst error" if sign > 0 else None,
            )
            if table.bound_c is not None:
                axes.axhline(
                    sign * interval_from_si(table.bound_c, units.temperature),
                    color=_OLIVE,
                    linewidth=0.8,
                    linestyle=":",
                    label="no table can do better" if sign > 0 else None,
                )
        if table.even_error_c is not None:
            axes.plot(
                x,
                interval_from_si(table.even_error_c, units.temperature),
                "-",
                color="#999999",
                linewidth=0.8,
                label="evenly spaced rows",
            )
        axes.plot(x, interval_from_si(table.error_c, units.temperature), color=_INK, linewidth=1.1, label="this table")
        rows = np.array([row.temperature_c for row in table.rows if x.size and row.inside])
        axes.plot(
            from_si(rows, units.temperature),
            np.zeros_like(rows),
            "|",
            color="black",
            markersize=5,
            label="rows",
        )
        axes.set_xlim(float(x[0]), float(x[-1]))
        low, high = axes.get_ylim()
        axes.set_ylim(low, high + 0.6 * (high - low))
        _mark_redline(axes, redline_c, units, low=True)
        axes.set_title("What the table adds between its rows")
        axes.set_ylabel(f"shown − true, {unit_symbol(units.temperature)}")
        _temperature_axis(axes, units)
        axes.legend(loc="upper center", ncols=3)
    return figure


def fig_to_svg(figure: Figure, name: str = "", alt: str = "") -> str:
    """Write a figure as an SVG element to stand in a page: the same figure gives the same text.

    Parameters
    ----------
    figure : Figure
    name : str
        Put before every id, so that several pictures can stand in one page.
    alt : str
        What the picture shows, for those who cannot see it.
    """
    buffer = BytesIO()
    with _style():
        figure.savefig(buffer, format="svg", metadata={"Date": None, "Creator": None, "Format": None, "Type": None})
    text = buffer.getvalue().decode("utf-8").replace("\r\n", "\n")
    text = text[text.index("<svg") :]
    text = re.sub(r'\s(?:xmlns:xlink|version)="[^"]*"', "", text, count=2)
    text = text.replace("xlink:href=", "href=")
    if name:
        text = re.sub(r'\bid="', f'id="{name}-', text)
        text = re.sub(r'href="#', f'href="#{name}-', text)
        text = text.replace("url(#", f"url(#{name}-")
    label = alt.replace("&", "&amp;").replace('"', "&quot;").replace("<", "&lt;")
    return text.replace("<svg", f'<svg role="img" aria-label="{label}"', 1) if alt else text


def fig_to_png(figure: Figure, dpi: float = 150.0) -> bytes:
    """Write a figure as PNG; on one machine the same figure gives the same bytes."""
    buffer = BytesIO()
    with _style():
        figure.savefig(buffer, format="png", dpi=dpi, metadata={"Software": None})
    return buffer.getvalue()


def _axes() -> tuple[Figure, Axes]:
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure()
    FigureCanvasAgg(figure)
    return figure, figure.add_subplot()


def _span(calibration: Calibration, range_c: tuple[float, float], redline_c: float | None) -> Floats:
    """Temperatures to draw: the range asked, widened to the points, cut where the curve ends."""
    low = min(range_c[0], calibration.tested_c[0])
    high = max(range_c[1], calibration.tested_c[1], redline_c if redline_c is not None else -np.inf)
    t = np.linspace(low, high, _STEPS)
    try:
        calibration.resistance_ohm(t)
    except CurveError:
        reached = np.array([_reaches(calibration, float(one)) for one in t])
        t = t[reached]
    return t


def _reaches(calibration: Calibration, temperature_c: float) -> bool:
    try:
        calibration.resistance_ohm(temperature_c)
    except CurveError:
        return False
    return True


def _temperature_axis(axes: Axes, units: UnitsOut) -> None:
    axes.set_xlabel(f"temperature, {unit_symbol(units.temperature)}")


def _beyond(axes: Axes, calibration: Calibration, units: UnitsOut, *, word: bool) -> None:
    """Shade what lies beyond the tested points, and say 'extrapolated' there."""
    low, high = from_si(np.array(calibration.tested_c), units.temperature).tolist()
    left, right = axes.get_xlim()
    for start, end in ((left, low), (high, right)):
        if end <= start:
            continue
        axes.axvspan(start, end, facecolor=_BEYOND, edgecolor="#d0d0d0", hatch="///", linewidth=0, zorder=0)
        if word and (end - start) > 0.16 * (right - left):
            axes.text(
                0.5 * (start + end),
                0.03,
                "extrapolated",
                transform=axes.get_xaxis_transform(),
                ha="center",
                va="bottom",
                fontsize=6.5,
                style="italic",
                bbox={"facecolor": "white", "edgecolor": "none", "alpha": 0.85, "pad": 1.0},
            )
    axes.set_xlim(left, right)


def _mark_redline(axes: Axes, redline_c: float | None, units: UnitsOut, *, low: bool = False) -> None:
    if redline_c is None:
        return
    at = from_si(redline_c, units.temperature)
    axes.axvline(at, color=_RUST, linewidth=1.2, linestyle="-")
    text: dict[str, Any] = {"facecolor": "white", "edgecolor": _RUST, "linewidth": 0.5, "pad": 1.2}
    axes.text(
        at,
        0.04 if low else 0.97,
        f"redline {at:.6g}",
        transform=axes.get_xaxis_transform(),
        ha="center",
        va="bottom" if low else "top",
        fontsize=6.5,
        color=_RUST,
        bbox=text,
    )


def _plain_log(axes: Axes) -> None:
    """Label a logarithmic axis with 50, 100, 200 … in place of powers of ten."""
    from matplotlib.ticker import FuncFormatter, LogLocator, NullFormatter, NullLocator

    axes.yaxis.set_major_locator(LogLocator(base=10.0, subs=(1.0, 2.0, 5.0)))
    axes.yaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))
    axes.yaxis.set_minor_locator(NullLocator())
    axes.yaxis.set_minor_formatter(NullFormatter())
