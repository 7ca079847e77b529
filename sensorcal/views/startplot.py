"""A picture of a first start: what was logged over time, the phases shaded and named, and what was found marked."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Protocol

import numpy as np

from sensorcal.engine import TEMPERATURES
from sensorcal.firststart.channels import DIMENSION, PHASES, WORDS
from sensorcal.firststart.phases import Phases, find_phases
from sensorcal.firststart.startlog import StartLog
from sensorcal.firststart.words import SHORT
from sensorcal.setup import UnitsOut
from sensorcal.units import from_si
from sensorcal.views.plots import _GREY, _INK, _OLIVE, _RUST, _style
from sensorcal.views.words import unit_symbol

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

PHASE_NAMES = {
    "rest": "rest", "pump": "pump", "crank": "crank", "first_30_s": "first 30 s", "idle": "idle", "warm_up": "warm-up",
    "run_up": "run-up", "shutdown": "shutdown", "soak": "soak",
}  # fmt: skip
"""Each phase as it stands above the picture."""

# Greys that a black-and-white printer keeps apart from their neighbours in time; power is the darkest.
_SHADES = {
    "rest": "#ffffff", "pump": "#f0eee6", "crank": "#cfc4b4", "first_30_s": "#dce6ea", "idle": "#f4f7f8",
    "warm_up": "#e6edf0", "run_up": "#c6d5dc", "shutdown": "#e2dccf", "soak": "#f6f3ec",
}  # fmt: skip
_STYLES: dict[str, tuple[str, str, float]] = {
    "coolant": (_INK, "-", 1.3), "gearbox_oil": (_OLIVE, "-", 1.3), "charge_in": (_RUST, "-", 1.0),
    "charge_out": (_RUST, (0, (4, 1.5)), 1.0), "oat": (_GREY, ":", 1.0),  # type: ignore[dict-item]
    "oil_pressure": (_INK, "-", 1.2), "fuel_pressure": (_OLIVE, (0, (4, 1.5)), 1.2),  # type: ignore[dict-item]
    "map": (_INK, "-", 1.1), "rpm": (_INK, "-", 1.1), "bus": (_INK, "-", 1.1),
}  # fmt: skip
_PANELS: tuple[tuple[str, tuple[str, ...], float], ...] = (
    ("temperature", (*TEMPERATURES, "oat"), 1.75),
    ("oil, fuel", ("oil_pressure", "fuel_pressure"), 1.35),
    ("manifold", ("map",), 1.1),
    ("engine", ("rpm",), 0.8),
    ("bus", ("bus",), 0.7),
)
_WIDTH_IN = 7.2
_POINTS = 4000


class Found(Protocol):
    """What can be marked: a cause of one kind in some channels, between two times."""

    @property
    def kind(self) -> str:
        """Kind of the cause."""

    @property
    def channels(self) -> tuple[str, ...]:
        """Channels it concerns."""

    @property
    def start_s(self) -> float:
        """Beginning, s since the first row."""

    @property
    def end_s(self) -> float:
        """End, s since the first row."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Axis:
    """How time is drawn: in minutes or seconds, or one place for each row of an event list."""

    places: Floats
    scale: float
    unit: str

    def at(self, log: StartLog, time_s: float) -> float:
        """Give the place of a moment."""
        if self.unit:
            return time_s / self.scale
        return float(np.interp(time_s, log.time_s, self.places))


def start_figure(
    log: StartLog, phases: Phases | None = None, findings: Sequence[Found] = (), *, units: UnitsOut | None = None
) -> Figure:
    """Draw a first start in stacked panels: temperatures, oil and fuel pressure, manifold, engine speed, bus.

    Parameters
    ----------
    log : StartLog
        A logger's rows, or an event list, whose rows then stand side by side under their labels.
    phases : Phases, optional
        Shaded and named; found from the log when left out.
    findings : sequence of Found
        Marked by their number in the panel of their channels, over the time in which they show; the first in rank
        carries 1.
    units : UnitsOut, optional
        Units of temperatures and pressures.

    Returns
    -------
    matplotlib.figure.Figure
        Made without pyplot.
    """
    units = units or UnitsOut()
    phases = phases or find_phases(log)
    axis = _axis_of(log)
    panels = [(name, shown, height) for name, wanted, height in _PANELS if (shown := [c for c in wanted if log.has(c)])]
    with _style():
        figure, strip, axes = _sheets([height for _, _, height in panels], findings)
        _phase_strip(strip, log, phases, axis)
        for sheet, (name, channels, _) in zip(axes, panels, strict=True):
            _shade(sheet, log, phases, axis)
            _draw(sheet, log, axis, name, channels, units)
            _mark(sheet, log, axis, channels, findings)
        _time_axis(axes[-1], log, axis)
        figure.align_ylabels(axes)
        _finding_lines(figure, findings)
    return figure


def _axis_of(log: StartLog) -> _Axis:
    """Choose minutes, seconds or the rows of a list."""
    if log.kind == "events":
        return _Axis(places=np.arange(float(len(log))), scale=1.0, unit="")
    scale, unit = (60.0, "min") if log.time_s[-1] > 240.0 else (1.0, "s")
    return _Axis(places=log.time_s / scale, scale=scale, unit=unit)


def _sheets(heights: Sequence[float], findings: Sequence[Found]) -> tuple[Figure, Axes, list[Axes]]:
    """Make the figure: a strip for the phases' names and one sheet a panel under it, all with one time."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    below_in = 0.12 * len(findings) + (0.08 if findings else 0.0)
    figure = Figure(figsize=(_WIDTH_IN, 0.62 + sum(heights) + 0.35 + below_in))
    FigureCanvasAgg(figure)
    below = below_in / figure.get_figheight()
    engine: Any = figure.get_layout_engine()
    engine.set(rect=(0.0, below, 1.0, 1.0 - below), hspace=0.0)
    grid = figure.add_gridspec(1 + len(heights), 1, height_ratios=[0.55, *heights])
    strip = figure.add_subplot(grid[0])
    axes = [figure.add_subplot(grid[1 + index], sharex=strip) for index in range(len(heights))]
    for one in (strip, *axes[:-1]):
        one.tick_params(labelbottom=False, bottom=False)
    return figure, strip, axes


def _phase_strip(strip: Axes, log: StartLog, phases: Phases, axis: _Axis) -> None:
    """Draw the phases as a band with their names above it, moved apart where they are short."""
    left, right = _ends(axis)
    strip.set_xlim(left, right)
    strip.set_ylim(0.0, 1.0)
    strip.set_axis_off()
    strip.set_title(f"First start{': ' if log.file else ''}{log.file}")
    spans = [(PHASES[code], begin, end) for code, begin, end in _stretches(phases, axis)]
    middles = np.array([0.5 * (begin + end) for _, begin, end in spans])
    places = _apart(middles, 0.042 * (right - left), left, right)
    for (phase, begin, end), middle, place in zip(spans, middles, places, strict=True):
        strip.axvspan(begin, end, ymin=0.0, ymax=0.18, facecolor=_SHADES[phase], edgecolor="#888888", linewidth=0.4)
        strip.plot([middle, place], [0.2, 0.34], color=_GREY, linewidth=0.5, clip_on=False)
        strip.text(place, 0.36, PHASE_NAMES[phase], rotation=38.0, ha="left", va="bottom", rotation_mode="anchor")


def _stretches(phases: Phases, axis: _Axis) -> list[tuple[int, float, float]]:
    """Give each stretch of one phase: code, and its two ends on the axis."""
    code = phases.code
    edges = [0, *(np.flatnonzero(np.diff(code)) + 1).tolist(), code.size]
    found = []
    for index in range(len(edges) - 1):
        begin, end = edges[index], edges[index + 1]
        if code[begin] < 0:
            continue
        if axis.unit:
            found.append((int(code[begin]), float(axis.places[begin]), float(axis.places[min(end, code.size - 1)])))
        else:
            found.append((int(code[begin]), begin - 0.5, end - 0.5))
    return found


def _apart(middles: Floats, least: float, left: float, right: float) -> Floats:
    """Move places apart until each two stand `least` from each other, as little as need be."""
    places = middles.copy()
    for _ in range(200):
        gaps = np.diff(places)
        close = np.flatnonzero(gaps < least - 1e-9)
        if not close.size:
            break
        push = 0.5 * (least - gaps[close]) + 1e-9
        np.add.at(places, close, -push)
        np.add.at(places, close + 1, push)
        places = np.clip(places, left, right)
    return places


def _shade(sheet: Axes, log: StartLog, phases: Phases, axis: _Axis) -> None:
    """Shade the phases behind a panel, and the pauses of the log with hatching."""
    for code, begin, end in _stretches(phases, axis):
        sheet.axvspan(begin, end, facecolor=_SHADES[PHASES[code]], edgecolor="none", zorder=0)
    for begin_s, end_s in log.gaps if axis.unit else ():
        begin, end = axis.at(log, begin_s), axis.at(log, end_s)
        sheet.axvspan(begin, end, facecolor="none", edgecolor="#999999", hatch="////", linewidth=0, zorder=1)
    for restart_s in log.restarts_s:
        sheet.axvline(axis.at(log, restart_s), color=_RUST, linewidth=0.7, linestyle=(0, (1, 1.5)), zorder=2)


def _draw(sheet: Axes, log: StartLog, axis: _Axis, name: str, channels: Sequence[str], units: UnitsOut) -> None:
    """Draw the channels of one panel."""
    symbol = ""
    for channel in channels:
        unit = {"temperature": units.temperature, "pressure": units.pressure}.get(DIMENSION[channel], "")
        symbol = unit_symbol(unit) if unit else {"speed": "1/min", "voltage": "V"}[DIMENSION[channel]]
        numbers = log.values[channel]
        shown = from_si(numbers, unit) if unit else numbers
        color, line, width = _STYLES[channel]
        places, shown = _thinned(axis.places, shown)
        marks: dict[str, Any] = {} if axis.unit else {"marker": "o", "markersize": 3.0}
        sheet.plot(places, shown, color=color, linestyle=line, linewidth=width, label=WORDS[channel], zorder=3, **marks)
    sheet.set_ylabel(f"{name}, {symbol}")
    sheet.margins(y=0.08)
    if len(channels) > 1 or WORDS[channels[0]].split()[0] not in name:
        sheet.legend(loc="upper left", ncols=1, fontsize=6.0, bbox_to_anchor=(1.0, 1.02), borderaxespad=0.3)


def _thinned(places: Floats, numbers: Floats) -> tuple[Floats, Floats]:
    """Keep the lowest and highest reading of each pixel's worth of rows, so that no spike is lost."""
    if places.size <= 2 * _POINTS:
        return places, numbers
    size = places.size // _POINTS
    whole = places.size - places.size % size
    blocks = np.where(np.isnan(numbers[:whole]), np.inf, numbers[:whole]).reshape(-1, size)
    low = blocks.argmin(axis=1)
    high = np.where(np.isinf(blocks), -np.inf, blocks).argmax(axis=1)
    at = np.arange(blocks.shape[0]) * size
    kept = np.unique(np.concatenate([at + low, at + high, np.arange(whole, places.size)]))
    return places[kept], numbers[kept]


def _mark(sheet: Axes, log: StartLog, axis: _Axis, channels: Sequence[str], findings: Sequence[Found]) -> None:
    """Mark the findings of a panel's channels by a bar at its foot with their number."""
    own = [(number, found) for number, found in enumerate(findings, start=1) if set(found.channels) & set(channels)]
    if not own:
        return
    low, high = sheet.get_ylim()
    room = 0.09 * len(own)  # of the panel, below everything drawn
    ticks = [tick for tick in sheet.get_yticks() if low <= tick <= high]
    sheet.set_ylim(low - room / (1.0 - room) * (high - low), high)
    sheet.set_yticks(ticks)
    for level, (number, found) in enumerate(own):
        begin, end = axis.at(log, found.start_s), axis.at(log, found.end_s)
        if not end > begin:
            begin, end = _ends(axis)
        foot = 0.035 + 0.09 * level
        sheet.plot(
            [begin, end], [foot, foot], transform=sheet.get_xaxis_transform(), color=_RUST, linewidth=3.0, zorder=5,
            solid_capstyle="butt",
        )  # fmt: skip
        sheet.text(
            begin, foot, f"{number}", transform=sheet.get_xaxis_transform(), ha="center", va="center", fontsize=6.0,
            color="white", zorder=6, bbox={"boxstyle": "circle,pad=0.18", "facecolor": _RUST, "edgecolor": "none"},
        )  # fmt: skip


def _finding_lines(figure: Figure, findings: Sequence[Found]) -> None:
    """Write the findings' names under the picture."""
    height = figure.get_figheight()
    for number, found in enumerate(findings, start=1):
        names = ", ".join(WORDS[channel] for channel in found.channels if channel in WORDS)
        figure.text(
            0.012, (0.12 * (len(findings) - number) + 0.06) / height,
            f"{number}  {names + ': ' if names else ''}{SHORT.get(found.kind, found.kind)}",
            fontsize=7.0, color=_RUST, va="center",
        )  # fmt: skip


def _ends(axis: _Axis) -> tuple[float, float]:
    """Give the two ends of the time axis."""
    if not axis.unit:
        return -0.5, float(axis.places.size) - 0.5
    return 0.0, float(max(axis.places[-1], 1e-6))


def _time_axis(sheet: Axes, log: StartLog, axis: _Axis) -> None:
    """Name the time, or the events."""
    if axis.unit:
        sheet.set_xlabel(f"time since the log's first row, {axis.unit}")
        return
    sheet.set_xticks(axis.places.tolist(), labels=list(log.labels), rotation=35.0, ha="right", rotation_mode="anchor")
    sheet.set_xlabel("events, in order; not to scale of time")
