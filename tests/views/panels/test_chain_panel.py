"""The chain panel, driven without a browser: sliders, the line that follows, button, picture, errors."""

from __future__ import annotations

import threading
import time

import pytest

from sensorcal.installed.chain import shown
from sensorcal.installed.chainparts import Converter, Display, Thermistor
from sensorcal.views.panels import chain as chain_module
from sensorcal.views.panels.chain import ChainInputs, chain_of, chain_panel, error_at
from tests.installed.chains import J_SH, thermistor_chain

pytest.importorskip("ipywidgets")

BASE = thermistor_chain(
    sensor=Thermistor(curve=J_SH, low=-45.0, high=180.0, u_error=0.3),
    converter=Converter(bits=10),
    display=Display(unit="degC", step=1.0),
)


def panel():
    """Give the panel as a notebook makes it."""
    return chain_panel(BASE, limit_c=120.0, length_m=0.0, contact_ohm=0.0)


def test_the_line_follows_the_sliders_and_prints_what_it_used():
    """If it failed, the error at the redline would stand beside other sliders than it was worked out for."""
    board = panel()
    assert "reads 0.00" in board.live.value or "reads +0.00" in board.live.value
    board.ground_mv.value = 20.0
    assert "engine ground +20 mV" in board.live.value
    assert "reads -1.8" in board.live.value or "reads -1.9" in board.live.value
    assert "dangerous direction" in board.live.value
    board.returns.value = "own wire"
    assert "own return wire" in board.live.value
    assert "dangerous" not in board.live.value
    board.pull_ohm.value = 950.0
    assert "reads -2.1" in board.live.value or "reads -2.0" in board.live.value


def test_a_moved_slider_does_no_work(monkeypatch):
    """If it failed, a slider would compute a budget and draw for half-moved values, in two threads at once."""
    asked = []
    monkeypatch.setattr(chain_module, "budget", lambda *given, **named: asked.append((given, named)))
    monkeypatch.setattr(chain_module, "tornado_figure", lambda *given: asked.append(given))
    board = panel()
    start = time.perf_counter()
    for mv in range(100):
        board.ground_mv.value = float(mv)
    each = (time.perf_counter() - start) / 100
    assert asked == []
    assert "Sliders moved" in board.said.value
    # A handler of a third of a second makes the next click see old values; this one takes about a millisecond.
    assert each < 0.05


def test_the_button_shows_the_parts_of_what_the_sliders_say():
    """If it failed, picture and table would be of another channel than the sliders."""
    board = panel()
    board.contact_ohm.value = 3.0
    board.button.click()
    assert "contacts 3 ohm" in board.said.value
    assert board.point.lines[0].group == "contacts"
    assert board.point.error == pytest.approx(error_at(BASE, board.inputs(), 120.0), abs=1e-9)
    first = bytes(board.picture.value)
    assert first.startswith(b"\x89PNG")
    board.contact_ohm.value = 1.0
    assert "Sliders moved" in board.said.value
    board.button.click()
    assert bytes(board.picture.value) != first


def test_error_at_is_that_of_the_chain():
    """If it failed, the panel would have arithmetic of its own."""
    inputs = ChainInputs(length_m=5.0, gauge=18, contact_ohm=0.3, ground_v=0.02, pull_ohm=990.0, case=True)
    made = chain_of(BASE, inputs)
    assert made.wiring.wire_20c_ohm == pytest.approx(0.0959, abs=1e-4)
    assert made.ground.constant_v == 0.02
    # Within one count of ten bits and half a degree of the display.
    assert abs(float(shown(made, 120.0)) - 120.0 - error_at(BASE, inputs, 120.0)) < 0.5 + 0.51


def test_two_presses_at_once_compute_once(monkeypatch):
    """If it failed, two threads would write one picture."""
    asked, go = [], threading.Event()
    real = chain_module.budget

    def slow(*given, **named):
        asked.append(given)
        go.wait(10.0)
        return real(*given, **named)

    monkeypatch.setattr(chain_module, "budget", slow)
    board = panel()
    first = threading.Thread(target=board.compute)
    first.start()
    while not asked:
        pass
    board.compute()
    go.set()
    first.join()
    assert len(asked) == 1
    board.button.click()
    assert len(asked) == 2, "the lock was not given back"


def test_a_slip_is_one_line(monkeypatch):
    """If it failed, a traceback would vanish in the kernel's log while the old picture stays."""
    board = panel()
    board.button.click()
    monkeypatch.setattr(chain_module, "GAUGES", (19,))
    board.gauge.options = (19,)
    board.gauge.value = 19
    assert "no aircraft wire of 19" in board.live.value
    board.button.click()
    assert "no aircraft wire of 19" in board.said.value
    assert bytes(board.picture.value) == b""
    assert board.point is None
