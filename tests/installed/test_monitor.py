"""The monitor's input and its circuit."""

from __future__ import annotations

import numpy as np
import pytest

from sensorcal.errors import InputError, TableError
from sensorcal.installed.monitor import MonitorInput, monitor_input
from sensorcal.monitorsetup import MonitorSetup
from sensorcal.physics import circuit

INPUTS = [
    MonitorInput(),
    MonitorInput(signal_unit="kohm", signal_step=0.01),
    MonitorInput(kind="voltage", pull_up_ohm=1000.0, supply_v=5.0, signal_unit="V", signal_step=0.01),
    MonitorInput(kind="ratio", pull_up_ohm=2200.0, signal_unit="1", signal_step=0.001),
]


@pytest.mark.parametrize("monitor", INPUTS, ids=lambda m: f"{m.kind} {m.signal_unit}")
def test_signal_and_back(monitor):
    """If this fails, a signal and its resistance are not each other's inverse."""
    ohm = np.geomspace(10.0, 1e6, 200)
    np.testing.assert_allclose(monitor.resistance_ohm(monitor.signal(ohm)), ohm, rtol=1e-10)


def test_divider_by_hand():
    """If this fails, the voltage of the plainest divider is wrong: 1800 ohm under 1000 ohm on 5 V."""
    monitor = INPUTS[2]
    assert monitor.signal(1800.0) == pytest.approx(5.0 * 1800 / 2800)
    assert monitor.signal_text(3.214) == "3.21"
    assert monitor.circuit_text == "1000 ohm pull-up to 5 V"


def test_divider_slope_is_the_derivative():
    """If this fails, an error in ohms is carried wrongly into volts."""
    for r in (50.0, 1000.0, 14000.0):
        h = 1e-4 * r
        numeric = (circuit.divider_voltage(r + h, 1e3, 5.0) - circuit.divider_voltage(r - h, 1e3, 5.0)) / (2 * h)
        assert circuit.divider_slope_v_per_ohm(r, 1e3, 5.0) == pytest.approx(numeric, rel=1e-6)


@pytest.mark.parametrize("voltage", [0.0, 5.0, -0.1, 5.1])
def test_short_and_open_are_not_readings(voltage):
    """If this fails, a broken wire gets a temperature."""
    with pytest.raises(InputError):
        circuit.divider_resistance(voltage, 1000.0, 5.0)


@pytest.mark.parametrize(
    "wrong",
    [
        {"kind": "current"},
        {"rows": 1},
        {"signal_step": 0.0},
        {"signal_unit": "V"},
        {"kind": "voltage", "signal_unit": "V", "supply_v": 5.0},
        {"kind": "voltage", "signal_unit": "V", "pull_up_ohm": 1000.0},
        {"past_ends": "maybe"},
    ],
)
def test_contradictions_are_refused(wrong):
    """If this fails, a description that cannot be true makes a table."""
    with pytest.raises(TableError):
        MonitorInput(**wrong)


def test_from_the_setup_file():
    """If this fails, the setup file and the table describe two monitors."""
    monitor = monitor_input(
        MonitorSetup(
            input="voltage",
            pull_up_ohm=1000.0,
            supply_v=5.0,
            rows=10,
            signal_unit="V",
            signal_step=0.01,
            value_unit="degF",
            order="descending",
            past_ends="holds",
        )
    )
    assert (monitor.kind, monitor.rows, monitor.value_unit) == ("voltage", 10, "degF")
    assert (monitor.order, monitor.past_ends, monitor.signal_step) == ("descending", "holds", 0.01)
