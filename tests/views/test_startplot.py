"""The picture of a first start shows what was logged, in the units asked, with every phase named and no spike lost."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass

import numpy as np
import pytest

from sensorcal.firststart.logread import log_from_bytes
from sensorcal.firststart.phases import find_phases
from sensorcal.firststart.startlog import start_log
from sensorcal.setup import UnitsOut
from sensorcal.views.plots import fig_to_png
from sensorcal.views.startplot import PHASE_NAMES, start_figure
from tests.firststart.starts import made_log
from tests.firststart.test_events import LABELS, sheet


@dataclass
class Mark:
    """Something found, for the picture."""

    kind: str
    channels: tuple[str, ...]
    start_s: float
    end_s: float


def line(figure: object, label: str) -> tuple[np.ndarray, np.ndarray]:
    """Give the data of the line of that name, wherever it stands."""
    found = [one for axes in figure.axes for one in axes.lines if one.get_label() == label]
    assert len(found) == 1, label
    return np.asarray(found[0].get_xdata()), np.asarray(found[0].get_ydata())


def words_in(figure: object) -> list[str]:
    """Give every text of the picture."""
    return [text.get_text() for axes in figure.axes for text in axes.texts] + [text.get_text() for text in figure.texts]


def test_every_channel_is_drawn_with_its_numbers() -> None:
    """If it failed, the picture would show another log than the one judged."""
    log = made_log()
    figure = start_figure(log)
    for channel, label in (("coolant", "coolant"), ("oil_pressure", "oil pressure"), ("rpm", "engine speed")):
        minutes, shown = line(figure, label)
        np.testing.assert_allclose(minutes * 60.0, log.time_s)
        np.testing.assert_allclose(shown, log.values[channel] / (1e3 if "pressure" in channel else 1.0))


def test_units_are_those_asked() -> None:
    """If it failed, somebody who asked for °F and psi would read °C and kPa off the axes."""
    log = made_log()
    figure = start_figure(log, units=UnitsOut(temperature="degF", pressure="psi"))
    np.testing.assert_allclose(line(figure, "coolant")[1], log.values["coolant"] * 1.8 + 32.0)
    labels = " ".join(axes.get_ylabel() for axes in figure.axes)
    assert "°F" in labels
    assert "psi" in labels
    np.testing.assert_allclose(line(figure, "manifold pressure")[1], log.values["map"] / 6894.757293, rtol=1e-6)


def test_every_phase_found_is_named_once_for_each_stretch() -> None:
    """If it failed, the builder could not see how the tool understood the log."""
    log = made_log()
    phases = find_phases(log)
    said = words_in(start_figure(log, phases))
    assert [word for word in said if word in PHASE_NAMES.values()] == [PHASE_NAMES[s.phase] for s in phases.spans]


def test_names_of_short_phases_do_not_cover_each_other() -> None:
    """If it failed, pump, crank and first 30 s would be one black spot."""
    figure = start_figure(made_log())
    places = [text.get_position()[0] for text in figure.axes[0].texts]
    assert min(np.diff(places)) > 0.03 * 15.0


def test_findings_are_numbered_in_their_own_panels() -> None:
    """If it failed, a finding would point at another channel or at another time."""
    log = made_log()
    marks = (Mark("slow_probe", ("coolant",), 120.0, 480.0), Mark("ref_sag", ("oil_pressure", "map"), 0.0, 0.0))
    figure = start_figure(log, findings=marks)
    sheets = {axes.get_ylabel().split(",")[0]: axes for axes in figure.axes if axes.get_ylabel()}
    numbers = {name: [text.get_text() for text in axes.texts] for name, axes in sheets.items()}
    assert numbers == {"temperature": ["1"], "oil": ["2"], "manifold": ["2"], "engine": [], "bus": []}
    bar = next(one for one in sheets["temperature"].lines if one.get_linewidth() == 3.0)
    assert list(bar.get_xdata()) == [2.0, 8.0]
    # Without a time of its own a finding holds for the whole log.
    whole = next(one for one in sheets["manifold"].lines if one.get_linewidth() == 3.0)
    assert whole.get_xdata()[1] == pytest.approx(log.time_s[-1] / 60.0)
    said = " | ".join(words_in(figure))
    assert "1  coolant: slow probe" in said
    assert "2  oil pressure, manifold pressure: " in said


def test_missing_channels_leave_no_empty_panel() -> None:
    """If it failed, half the page would be white for a monitor that logs three channels."""
    figure = start_figure(made_log("rpm", "bus", "fuel_pressure", "oil_pressure", "oat"))
    assert [axes.get_ylabel().split(",")[0] for axes in figure.axes[1:]] == ["temperature", "manifold"]


def test_no_spike_is_lost_in_a_long_log() -> None:
    """If it failed, an intermittent contact of one row in 36 000 would be invisible."""
    time_s = np.arange(36_000) * 0.1
    coolant = np.full(time_s.size, 80.0)
    coolant[17_777], coolant[20_001] = 150.0, np.nan
    figure = start_figure(start_log(time_s, {"coolant": coolant}))
    places, shown = line(figure, "coolant")
    assert shown.size < 20_000
    assert np.nanmax(shown) == 150.0
    assert places[np.nanargmax(shown)] == pytest.approx(1777.7 / 60.0)


def test_an_event_list_stands_under_its_labels() -> None:
    """If it failed, nominal times would look like measured ones."""
    figure = start_figure(log_from_bytes(sheet()))
    ticks = [label.get_text() for label in figure.axes[-1].get_xticklabels()]
    assert ticks == list(LABELS)
    assert "not to scale" in figure.axes[-1].get_xlabel()


def test_pauses_and_restarts_are_marked() -> None:
    """If it failed, a line drawn across a pause would look like readings."""
    log = made_log()
    kept = (log.time_s < 50.0) | (log.time_s > 90.0)
    short = start_log(log.time_s[kept], {name: numbers[kept] for name, numbers in log.values.items()})
    plain, marked = start_figure(log), start_figure(dataclasses.replace(short, restarts_s=(91.0,)))

    def hatched(figure: object) -> int:
        return sum(bool(patch.get_hatch()) for patch in figure.axes[1].patches)

    assert hatched(plain) == 0
    assert hatched(marked) == 1


def test_the_same_log_gives_the_same_picture() -> None:
    """If it failed, every report would differ from the last one although nothing changed."""
    first, second = (fig_to_png(start_figure(made_log())) for _ in range(2))
    assert first == second
    assert first.startswith(b"\x89PNG")
