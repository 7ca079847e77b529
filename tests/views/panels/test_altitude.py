"""The altitude panel, driven without a browser: boxes, button, answer, errors."""

from __future__ import annotations

import threading

import numpy as np
import pytest

from sensorcal.views.panels import altitude
from sensorcal.views.panels.altitude import altitude_answer, altitude_figure, altitude_panel

pytest.importorskip("ipywidgets")


def panel():
    """Give the panel as a notebook makes it."""
    return altitude_panel(elevation_m=640.0, qnh_hpa=1009.0, temperature_c=20.0)


def test_nothing_is_computed_until_the_button_is_pressed(monkeypatch):
    """A handler that works while somebody types computes for half-typed numbers, and in two threads at once."""
    asked = []
    monkeypatch.setattr(altitude, "altitude_answer", lambda **inputs: asked.append(inputs))
    shown = panel()
    shown.qnh_hpa.value = 1020.0
    shown.elevation_m.value = 100.0
    assert asked == []
    assert "Inputs changed" in shown.said.value
    assert shown.answer is None


def test_the_button_prints_the_inputs_beside_the_answer():
    """If it failed, an old answer could stand beside new inputs and nobody would see it."""
    shown = panel()
    shown.button.click()
    assert shown.answer.map_pa == pytest.approx(93_470.0, abs=1.0)
    assert "elevation 640 m, QNH 1009 hPa, outside air 20 °C" in shown.said.value
    assert bytes(shown.picture.value).startswith(b"\x89PNG")
    first = bytes(shown.picture.value)
    shown.qnh_hpa.value = 985.0
    assert "Inputs changed" in shown.said.value
    shown.button.click()
    assert "QNH 985 hPa" in shown.said.value
    assert bytes(shown.picture.value) != first


def test_bad_input_is_one_line_and_takes_the_picture_away():
    """If it failed, a traceback would vanish in the kernel's log while the old answer stays on the screen."""
    shown = panel()
    shown.button.click()
    shown.qnh_hpa.value = 29.92
    shown.button.click()
    assert "qnh_pa" in shown.said.value
    assert bytes(shown.picture.value) == b""
    assert shown.answer is None
    shown.qnh_hpa.value = 1013.25
    shown.button.click()
    assert shown.answer is not None, "the lock was not given back"


def test_two_presses_at_once_compute_once(monkeypatch):
    """If it failed, two threads would write one picture."""
    asked, go = [], threading.Event()
    real = altitude.altitude_answer

    def slow(**inputs):
        asked.append(inputs)
        go.wait(10.0)
        return real(**inputs)

    monkeypatch.setattr(altitude, "altitude_answer", slow)
    shown = panel()
    first = threading.Thread(target=shown.compute)
    first.start()
    while not asked:
        pass
    shown.compute()
    go.set()
    first.join()
    assert len(asked) == 1


def test_the_picture_is_the_answer():
    """If it failed, ring, line or second scale would show another air than the text."""
    answer = altitude_answer(elevation_m=640.0, qnh_pa=100_900.0, temperature_c=20.0)
    (axes,) = altitude_figure(answer).axes
    x, y = axes.lines[0].get_data()
    assert float(np.interp(640.0, x, y)) == pytest.approx(answer.map_pa / 1000, abs=0.02)
    assert float(axes.lines[1].get_ydata()[0]) == pytest.approx(answer.map_pa / 1000)
    # Story 14: -7.9 kPa here today; about -31 kPa at 3000 m.
    assert answer.sealed_pa / 1000 == pytest.approx(-7.9, abs=0.05)
    high = altitude_answer(elevation_m=3000.0, qnh_pa=101_325.0, temperature_c=-4.5)
    assert high.sealed_pa / 1000 == pytest.approx(-31.2, abs=0.1)
    assert high.density_altitude_m == pytest.approx(3000.0, abs=5.0)
