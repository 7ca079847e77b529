"""The sensors, circuits and display of an invented start: sizes of every wiring fault on one worked circuit."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from sensorcal.engine import JUDGED
from sensorcal.firststart.simulate_chain import Rows, bursts, pressure_shown, shown_channels, temperature_shown
from sensorcal.firststart.simulate_faults import Fault
from sensorcal.firststart.simulate_scenario import Panel

AT_C = np.array([-20.0, 20.0, 90.0, 120.0])
NIL = dict.fromkeys((*JUDGED, "rpm", "bus", "oat"), 0.0)
PRESSURE_SENSORS = ("oil_pressure", "fuel_pressure", "map")


def panel(**other: Any) -> Panel:
    """Worked circuit: 2500 ohm at 25 degC, B 3500 K, 2200 ohm to 5 V; no error of its own, no self-heating."""
    parts: dict[str, Any] = {
        "ohm_25": 2500.0, "beta_k": 3500.0, "curvature_k2": 0.0, "pull_up_ohm": 2200.0, "bits": 30,
        "scale_error": NIL, "offset_k": NIL, "air_w_per_k": 1e9, "liquid_w_per_k": 1e9, "lag_s": NIL,
        "low_pa": NIL, "high_pa": {"oil_pressure": 1e6, "fuel_pressure": 6e5, "map": 240e3},
        "zero_pa": NIL, "span_ratio": NIL, "hot_pa": NIL, "step": dict.fromkeys(NIL, 1e-9), "noise": NIL,
        "pressure_open_v": 0.0, "pressure_rail_blank": False,
        "open_shows": "bottom", "short_shows": "top", "scale_c": (-60.0, 300.0), "clamps_zero": False,
    }  # fmt: skip
    return Panel(**(parts | other))


def rows(
    felt: dict[str, np.ndarray], *, current_a: float = 0.0, running: bool = False, station_pa: float = 101_325.0
) -> Rows:
    """Four rows of a quiet bench."""
    n = AT_C.size
    return Rows(
        time_s=np.arange(float(n)), felt=felt, noise={name: np.zeros(n) for name in NIL}, flowing=np.zeros(n),
        warm_k=np.zeros(n), current_a=np.full(n, current_a), running=np.full(n, running), bus_v=np.full(n, 14.2),
        rpm=np.zeros(n), station_pa=station_pa,
    )  # fmt: skip


def error_c(fault: Fault | None, *, current_a: float = 0.0, running: bool = False) -> np.ndarray:
    """Shown minus true at -20, 20, 90 and 120 degC."""
    bench = rows({"coolant": AT_C}, current_a=current_a, running=running)
    return temperature_shown(panel(), bench, fault, "coolant", "coolant") - AT_C


def one(kind: str, **size: float) -> Fault:
    """A fault of the coolant channel."""
    return Fault(kind=kind, channel="coolant", size=size)


# Computed by the project's own earlier analysis of the same circuit, with separate code: half a unit of the last digit.
WORKED = [
    (one("contact_resistance", series_ohm=10.0), (0.0, -0.1, -1.2, -2.9)),
    (one("contact_resistance", series_ohm=50.0), (0.0, -0.4, -5.6, -12.5)),
    (one("wrong_curve", ohm_ratio=1.1), (1.8, 2.4, 3.6, 4.3)),
    (one("wrong_pullup", pull_up_ratio=1.1), (1.8, 2.4, 3.6, 4.3)),
    (one("wrong_curve", beta_ratio=1.05), (1.8, 0.2, -3.7, -5.9)),
    (one("wrong_curve", beta_ratio=1.10), (3.5, 0.4, -7.1, -11.0)),
]


@pytest.mark.parametrize(("fault", "expected"), WORKED, ids=lambda v: v.kind if isinstance(v, Fault) else "")
def test_sizes_in_tenths(fault: Fault, expected: tuple[float, ...]) -> None:
    """A fault of another size than the wiring makes would train the judge on a world that does not exist."""
    np.testing.assert_allclose(error_c(fault), expected, atol=0.08)


@pytest.mark.parametrize(
    ("fault", "expected"),
    [
        (one("contact_resistance", series_ohm=100.0), (0.0, -0.8, -10.0, -22.0)),
        (one("wrong_curve", ohm_ratio=1.5), (8.0, 10.0, 16.0, 19.0)),
        (one("wrong_curve", ohm_ratio=2.0), (13.0, 18.0, 28.0, 33.0)),
        (one("wrong_curve", ohm_ratio=0.5), (-12.0, -16.0, -24.0, -28.0)),
    ],
    ids=["100 ohm", "R25 x1.5", "R25 x2", "R25 x0.5"],
)
def test_sizes_in_whole_degrees(fault: Fault, expected: tuple[float, ...]) -> None:
    """Large faults must be as large as the circuit makes them; these references are whole degrees."""
    np.testing.assert_allclose(error_c(fault), expected, atol=0.55)


def test_no_fault_no_error() -> None:
    """An ideal chain that shows another temperature would put a fault into every healthy log."""
    np.testing.assert_allclose(error_c(None), 0.0, atol=1e-4)


def test_wrong_curve_and_pull_up_are_one_equation() -> None:
    """R25 and pull-up of one ratio cannot be told apart by a log: their images must be identical."""
    np.testing.assert_allclose(
        error_c(one("wrong_curve", ohm_ratio=1.37)), error_c(one("wrong_pullup", pull_up_ratio=1.37)), atol=1e-4
    )


def test_ground_lift_has_the_sign_of_its_current() -> None:
    """Cranking must read cold and charging hot: the strap's voltage is I R with the sign of the current."""
    strap = one("ground_offset", strap_ohm=0.05 / 200.0)
    np.testing.assert_allclose(error_c(strap, current_a=200.0), (-0.2, -0.4, -3.0, -6.5), atol=0.06)
    np.testing.assert_allclose(error_c(strap, current_a=-200.0), (0.2, 0.4, 3.2, 7.8), atol=0.06)
    np.testing.assert_allclose(error_c(strap), 0.0, atol=1e-4)


def test_sagging_rail_warms_the_thermistors() -> None:
    """A rail at 4.75 V against a fixed reference reads hot, most in the cold."""
    sag = Fault(kind="ref_sag", channel="multiple", channels=("coolant",), size={"feed_v": 4.75, "pull_up_too": 1.0})
    np.testing.assert_allclose(error_c(sag), (8.1, 2.9, 2.2, 2.4), atol=0.06)
    kept = Fault(kind="ref_sag", channel="multiple", channels=("coolant",), size={"feed_v": 4.75})
    np.testing.assert_allclose(error_c(kept), 0.0, atol=1e-4)


def pressure_error_kpa(channel: str, true_pa: float, fault: Fault, **bench: Any) -> float:
    """Shown minus true of one pressure channel, kPa."""
    here = rows({channel: np.full(AT_C.size, true_pa)}, **bench)
    return float((pressure_shown(panel(), here, fault, channel, channel)[0] - true_pa) / 1e3)


@pytest.mark.parametrize("feed_v", [4.9, 4.75, 4.5])
def test_sagging_supply_lowers_every_pressure(feed_v: float) -> None:
    """A sensor fed with less loses (1 - V/5)(p - p0 + span/8), zero included."""
    fault = Fault(kind="ref_sag", channel="multiple", channels=PRESSURE_SENSORS, size={"feed_v": feed_v})
    for channel, true_pa in (("oil_pressure", 450e3), ("fuel_pressure", 300e3), ("map", 95e3), ("oil_pressure", 0.0)):
        expected = -(1.0 - feed_v / 5.0) * (true_pa + panel().high_pa[channel] / 8.0) / 1e3
        assert pressure_error_kpa(channel, true_pa, fault) == pytest.approx(expected, abs=0.01)
    worked_kpa = {4.9: -11.5, 4.75: -28.75, 4.5: -57.5}
    assert pressure_error_kpa("oil_pressure", 450e3, fault) == pytest.approx(worked_kpa[feed_v])


def test_lifted_ground_moves_a_transducer_by_d_one_minus_r() -> None:
    """20 mV on a 1000 kPa sensor is 4.5 kPa at zero and 2.9 at 400."""
    fault = Fault(kind="ground_offset", channel="multiple", channels=PRESSURE_SENSORS, size={"running_v": 0.020})
    assert pressure_error_kpa("oil_pressure", 0.0, fault, running=True) == pytest.approx(4.5, abs=0.01)
    assert pressure_error_kpa("oil_pressure", 400e3, fault, running=True) == pytest.approx(2.9, abs=0.01)
    assert pressure_error_kpa("oil_pressure", 400e3, fault) == pytest.approx(0.0, abs=0.01)


def test_wrong_reference_types() -> None:
    """Sealed is low by 101.3 less station, absolute high by station, a gauge sensor for the manifold low by it."""
    sealed = Fault(kind="wrong_reference_type", channel="oil_pressure", size={"sealed": 1.0})
    other = Fault(kind="wrong_reference_type", channel="oil_pressure", size={"other": 1.0})
    gauge = Fault(kind="wrong_reference_type", channel="map", size={"other": 1.0})
    assert pressure_error_kpa("oil_pressure", 300e3, sealed, station_pa=84_525.0) == pytest.approx(-16.8, abs=0.01)
    assert pressure_error_kpa("oil_pressure", 0.0, other, station_pa=84_525.0) == pytest.approx(84.5, abs=0.1)
    assert pressure_error_kpa("map", 84_525.0, gauge, station_pa=84_525.0) == pytest.approx(-84.5, abs=0.1)


def test_swapped_sensors_are_scaled_by_each_others_range() -> None:
    """A 600 kPa sensor on the 1000 kPa input shows 10/6 of its pressure."""
    fault = Fault(kind="swapped_oil_fuel", channel="multiple", channels=("oil_pressure", "fuel_pressure"))
    bench = rows({"oil_pressure": np.full(4, 400e3), "fuel_pressure": np.full(4, 300e3)})
    shown = shown_channels(panel(), bench, fault, fault.channels)
    assert shown["oil_pressure"][0] == pytest.approx(500e3, rel=1e-6)
    assert shown["fuel_pressure"][0] == pytest.approx(240e3, rel=1e-6)


def test_wrong_units() -> None:
    """Degrees Fahrenheit, psi and bar under the house's heading: 20 shows 68, oil at 400 shows 58 and 4."""
    bench = rows({"coolant": np.full(4, 20.0), "oil_pressure": np.full(4, 400e3)})

    def shown(channel: str, unit: str) -> float:
        fault = Fault(kind="wrong_unit", channel=channel, unit=unit)
        return float(shown_channels(panel(), bench, fault, (channel,))[channel][0])

    assert shown("coolant", "degF") == pytest.approx(68.0, abs=1e-3)
    assert shown("oil_pressure", "psi") / 1e3 == pytest.approx(58.0, abs=0.05)
    assert shown("oil_pressure", "bar") / 1e3 == pytest.approx(4.0, abs=1e-3)


def test_rails_are_shown_as_the_monitor_does() -> None:
    """Open is the bottom of the scale, short the top, or a blank where that is what the monitor shows."""
    bench = rows({"coolant": AT_C})
    for kind, shows, rail in (("open_circuit", "bottom", -60.0), ("short_circuit", "top", 300.0)):
        seen = temperature_shown(panel(), bench, one(kind), "coolant", "coolant")
        assert (seen == rail).all(), shows
        blank = panel(open_shows="blank", short_shows="blank")
        assert np.isnan(temperature_shown(blank, bench, one(kind), "coolant", "coolant")).all()


def test_self_heating_in_still_air() -> None:
    """2.8 mW in a probe of 2500 ohm warm it by 1 K in still air of 2.8 mW/K: a judge must allow for it."""
    bench = rows({"charge_in": np.full(4, 25.0)})
    shown = temperature_shown(panel(air_w_per_k=0.002829), bench, None, "charge_in", "charge_in")
    assert float(shown[0] - 25.0) == pytest.approx(1.0, abs=0.02)


def test_bursts_cover_the_share_that_was_asked() -> None:
    """Dropouts of another share than drawn would stand in the wrong bucket."""
    time_s = np.arange(60_000.0)
    for share in (0.02, 0.1, 0.3):
        bad = bursts(np.random.default_rng(4), time_s, np.full(time_s.size, share), 4.0)
        # Bursts may overlap, so that a large share falls short by about share squared over two.
        assert 0.75 * share < bad.mean() < 1.1 * share
