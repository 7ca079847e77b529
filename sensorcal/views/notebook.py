"""Pictures, tables and pages as a notebook shows them: always the same text underneath, no address, no clock."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from sensorcal.views.plots import _INK, _OLIVE, _RUST, _axes, _style, fig_to_png
from sensorcal.views.words import typeset

if TYPE_CHECKING:
    from matplotlib.figure import Figure
    from numpy.typing import ArrayLike

    from sensorcal.firststart.phases import Phases
    from sensorcal.firststart.startlog import StartLog
    from sensorcal.setup import UnitsOut
    from sensorcal.views.startplot import Found

_WIDTH_PX = 600
_INCHES = (4.8, 2.3)
_DPI = 200.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Picture:
    """A picture that a notebook shows at one fixed size, with its title as text."""

    png: bytes
    title: str

    def _repr_mimebundle_(self, **_: Any) -> tuple[dict[str, Any], dict[str, Any]]:  # noqa: ANN401 - the protocol's own
        size = {"width": _WIDTH_PX, "height": round(_WIDTH_PX * _INCHES[1] / _INCHES[0])}
        return {"image/png": self.png, "text/plain": repr(self)}, {"image/png": size}

    def __repr__(self) -> str:
        return f"[picture: {self.title}]"


@dataclass(frozen=True, slots=True, kw_only=True)
class Rows:
    """A small table that a notebook shows as such, and a console as aligned columns."""

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]

    def _repr_mimebundle_(self, **_: Any) -> dict[str, str]:  # noqa: ANN401 - the protocol's own
        lines = [self.head, ("---:",) * len(self.head), *self.rows]
        if not all(_is_number(row[0]) for row in self.rows):
            lines[1] = (":---", *lines[1][1:])
        text = "\n".join("| " + " | ".join(typeset(cell.replace("|", "/")) for cell in line) + " |" for line in lines)
        return {"text/markdown": text, "text/plain": repr(self)}

    def __repr__(self) -> str:
        widths = [max(len(line[i]) for line in (self.head, *self.rows)) for i in range(len(self.head))]
        return "\n".join(
            "  ".join(cell.rjust(width) for cell, width in zip(line, widths, strict=True)).rstrip()
            for line in (self.head, *self.rows)
        )


def show(figure: Figure) -> Picture:
    """Make a picture of a figure, in the one size that all notebooks use.

    Parameters
    ----------
    figure : Figure
        From `sensorcal.views.plots` or `sensorcal.views.comparison`; its size is changed.

    Examples
    --------
    >>> from matplotlib.figure import Figure
    >>> figure = Figure()
    >>> _ = figure.add_subplot().set_title("Curve of P1", loc="left")
    >>> show(figure)
    [picture: Curve of P1]
    """
    figure.set_size_inches(*_INCHES)
    titles = [axes.get_title(loc=where) for axes in figure.axes for where in ("left", "center", "right")]
    return Picture(png=fig_to_png(figure, _DPI), title="; ".join(title for title in titles if title) or "untitled")


def line_figure(
    x: ArrayLike,
    lines: Mapping[str, ArrayLike],
    *,
    title: str,
    x_label: str,
    y_label: str,
    mark: tuple[float, float, str] | None = None,
) -> Figure:
    """Draw a few plain lines, in the ink of every other picture.

    Parameters
    ----------
    x : array, shape (n,)
    lines : mapping of str to array, shape (n,)
        By the name that stands in the legend; at most three. One line alone has no legend.
    title, x_label, y_label : str
    mark : tuple of (x, y, text), optional
        One point with a word beside it.
    """
    with _style():
        figure, axes = _axes()
        for (label, y), (dashes, colour) in zip(
            lines.items(), (("-", _INK), ("--", _OLIVE), (":", _RUST)), strict=False
        ):
            axes.plot(x, y, dashes, color=colour, label=label)
        if mark is not None:
            axes.plot([mark[0]], [mark[1]], "o", color="black", markerfacecolor="white")
            axes.annotate(
                mark[2],
                (mark[0], mark[1]),
                xytext=(6, -6),
                textcoords="offset points",
                va="top",
                fontsize=7,
                bbox={"facecolor": "white", "edgecolor": "none", "alpha": 0.85, "pad": 1.0},
            )
        axes.set_title(title)
        axes.set_xlabel(x_label)
        axes.set_ylabel(y_label)
        if len(lines) > 1:
            axes.legend(loc="best")
    return figure


def start_picture(
    log: StartLog, channels: Sequence[str], title: str, *, phases: Phases | None = None,
    findings: Sequence[Found] = (), units: UnitsOut | None = None,
) -> Picture:  # fmt: skip
    """Show a few channels of a first start in the one size, its phases shaded and named.

    Parameters
    ----------
    log : StartLog
    channels : sequence of str
        What to draw; temperatures share a panel, and so do oil and fuel pressure. Two panels have room.
    title : str
    phases : Phases, optional
        Found from the whole log when left out.
    findings : sequence of Found, optional
        Marked in the panel of their channels.
    units : UnitsOut, optional
    """
    from sensorcal.firststart.phases import find_phases
    from sensorcal.views.startplot import start_figure

    few = replace(log, values={name: log.values[name] for name in channels})
    shown = [one for one in findings if set(one.channels) & set(channels)]
    figure = start_figure(few, phases or find_phases(log), shown, units=units)
    strip, *panels = figure.axes
    with _style():
        # On a small page the names of the phases need the room in which the title would stand.
        strip.set_title(title, pad=22.0)
        for axes in panels:
            axes.yaxis.label.set_fontsize(6.0)
            if axes.get_legend() is not None:
                axes.legend(loc="best", fontsize=5.5)
    return show(figure)


def listing(items: Iterable[object], columns: Mapping[str, str]) -> Rows:
    """Make a small table: a line for each item, a column for each heading.

    Parameters
    ----------
    items : iterable
        Results, or tuples of them.
    columns : mapping of str to str
        From a heading to how its cell is written: ``'{0.temperature_c:.1f}'`` takes an attribute of the item, and
        where items are tuples ``{1:.2f}`` takes their second member.

    Examples
    --------
    >>> listing([(90.0, 0.213), (120.0, 0.57)], {"°C": "{0:.0f}", "± °C": "{1:.1f}"})
     °C  ± °C
     90   0.2
    120   0.6
    """
    lines = []
    for item in items:
        members = item if isinstance(item, tuple) else (item,)
        lines.append(tuple(_without_signed_zero(cell.format(*members)) for cell in columns.values()))
    return Rows(head=tuple(columns), rows=tuple(lines))


def _without_signed_zero(text: str) -> str:
    return text[1:] if re.fullmatch(r"[+-]0(\.0+)?( .*)?", text) else text


def _is_number(text: str) -> bool:
    try:
        float(text.replace("−", "-"))
    except ValueError:
        return False
    return True
