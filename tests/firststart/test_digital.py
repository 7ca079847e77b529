"""Signs in one channel: what is there is found, and a coarse but healthy display is left alone."""

from __future__ import annotations

import numpy as np
import pytest

from sensorcal.firststart.clues import clues
from sensorcal.firststart.digital import signs, stretches
from sensorcal.firststart.facts import start_facts
from sensorcal.firststart.phases import find_phases
from sensorcal.firststart.startlog import start_log
from sensorcal.setup import Setup

from .soundstart import sound_values

FACTS = start_facts(Setup())
TEMPERATURES = ("coolant", "gearbox_oil", "charge_in", "charge_out")


def signs_of(**changes):
    """Signs of the sound start with some channels changed."""
    t, values = sound_values(**changes)
    log = start_log(t, values)
    return signs(log, find_phases(log), FACTS)


def clues_of(**changes):
    """Kinds and channels of the clues of that start."""
    t, values = sound_values(**changes)
    log = start_log(t, values)
    phases = find_phases(log)
    return {(clue.kind, clue.channel): clue for clue in clues(log, phases, FACTS, signs(log, phases, FACTS))}


def coarse(step):
    """Show a channel in steps."""
    return lambda x, _: np.round(x / step) * step


def test_a_sound_channel_has_no_signs():
    """If it failed, healthy rows would be thrown away before anything is judged."""
    for name, sign in signs_of().items():
        assert not sign.bad.any(), name
        parts = (sign.blanks, sign.low_rail, sign.high_rail, sign.spikes, sign.frozen, sign.clipped)
        assert not any(parts), name
    assert clues_of() == {}


@pytest.mark.parametrize("name", TEMPERATURES)
@pytest.mark.parametrize("step", [0.1, 0.5, 1.0, 2.0])
def test_a_coarse_display_of_temperature_is_healthy(name, step):
    """If it failed, every panel without a decimal would be called frozen, clipped or noisy."""
    assert clues_of(**{name: coarse(step)}) == {}


@pytest.mark.parametrize(("name", "step"), [("oil_pressure", 10e3), ("fuel_pressure", 10e3), ("map", 1e3)])
def test_a_coarse_display_of_pressure_is_healthy(name, step):
    """If it failed, a gauge in tenths of a bar would be called frozen."""
    assert clues_of(**{name: coarse(step)}) == {}


@pytest.mark.parametrize(
    ("name", "value", "side"),
    [("coolant", -40.0, "low_rail"), ("charge_out", -50.0, "low_rail"), ("coolant", 150.0, "high_rail"),
     ("oil_pressure", 1_000e3, "high_rail"), ("map", 250e3, "high_rail"), ("oil_pressure", -125e3, "low_rail"),
     ("map", 0.0, "low_rail")],
)  # fmt: skip
def test_a_rail_is_found_with_its_rows(name, value, side):
    """If it failed, a broken or shorted wire would be read as a temperature or a pressure."""
    seen = signs_of(**{name: lambda x, t: np.where(t > 300.0, value, x)})
    (part,) = getattr(seen[name], side)
    assert (part.start_s, part.end_s, part.rows) == (301.0, 899.0, 599)
    assert seen[name].bad.sum() == 599
    assert not any(sign.bad.any() for other, sign in seen.items() if other != name)
    kind = "open_circuit" if side == "low_rail" else "short_circuit"
    assert clues_of(**{name: lambda x, t: np.where(t > 300.0, value, x)})[kind, name].hard


def test_a_cold_winter_day_is_no_rail():
    """If it failed, a real morning at -25 °C would be an open wire."""
    seen = signs_of(**{name: lambda x, _: x - 40.0 for name in TEMPERATURES})
    assert not any(sign.low_rail for sign in seen.values())


def test_heat_that_climbs_is_no_short():
    """If it failed, an engine that overheats would be taken for a shorted wire, and its rows thrown away."""
    seen = signs_of(coolant=lambda x, t: np.where(t > 300.0, np.minimum(x + 0.4 * (t - 300.0), 152.0), x))
    assert not seen["coolant"].high_rail


def test_single_excursions_are_spikes():
    """If it failed, a loose plug would be averaged into the temperature."""
    at = (200.0, 333.0, 480.0)
    seen = signs_of(coolant=lambda x, t: np.where(np.isin(t, at), x - 25.0, x))["coolant"]
    assert seen.spikes == at
    assert seen.spike_size == pytest.approx(25.0, abs=2.0)
    assert np.flatnonzero(seen.bad).tolist() == [200, 333, 480]
    found = clues_of(coolant=lambda x, t: np.where(np.isin(t, at), x - 25.0, x))
    assert set(found) == {("intermittent", "coolant")}
    assert found["intermittent", "coolant"].start_s == 200.0


def test_a_step_of_the_engine_is_no_spike():
    """If it failed, a throttle that is moved would be a loose plug."""
    seen = signs_of(map=lambda x, t: np.where((t > 400.0) & (t < 420.0), 120e3, x))["map"]
    assert seen.spikes == ()


def test_blanks_of_one_channel_are_its_own():
    """If it failed, blank cells would be read as numbers or pass unseen."""
    holes = lambda x, t: np.where((t % 20.0 < 2.0) & (t > 100.0), np.nan, x)  # noqa: E731
    seen = signs_of(fuel_pressure=holes)["fuel_pressure"]
    assert len(seen.blanks) == 40
    assert sum(part.rows for part in seen.blanks) == int(np.isnan(holes(np.zeros(900), np.arange(900.0))).sum())
    assert set(clues_of(fuel_pressure=holes)) == {("dropouts", "fuel_pressure")}


def test_a_row_blank_everywhere_is_no_channels_fault():
    """If it failed, one lost row of the logger would be seven broken wires."""
    names = (*TEMPERATURES, "oil_pressure", "fuel_pressure", "map")
    seen = signs_of(**{name: lambda x, t: np.where(t % 50.0 == 0.0, np.nan, x) for name in names})
    assert not any(sign.blanks for sign in seen.values())


def test_a_frozen_stretch_is_found_with_its_times():
    """If it failed, a channel that the monitor no longer renews would pass for a steady one."""
    held = lambda x, t: np.where(t > 400.0, x[400] - 3.0, x)  # noqa: E731
    seen = signs_of(gearbox_oil=held)["gearbox_oil"]
    assert seen.frozen
    longest = max(seen.frozen, key=lambda part: part.rows)
    assert longest.start_s == pytest.approx(400.0, abs=2.0)
    assert longest.end_s > 700.0
    assert seen.frozen_expected > 100.0
    assert ("stuck", "gearbox_oil") in clues_of(gearbox_oil=held)


def test_a_clipped_top_is_found():
    """If it failed, a sensor whose range ends below full boost would show a steady boost."""
    boost = lambda x, t: np.where((t > 300) & (t < 600), 80e3 + 30e3 * np.sin(t / 12.0), x) + 60.0 * np.sin(t * 9)  # noqa: E731
    whole, cut = signs_of(map=boost)["map"], signs_of(map=lambda x, t: np.minimum(boost(x, t), 100e3))["map"]
    assert whole.clipped == ()
    assert cut.clipped
    assert all(part.start_s > 300.0 and part.end_s < 600.0 for part in cut.clipped)
    assert ("clipped", "map") in clues_of(map=lambda x, t: np.minimum(boost(x, t), 100e3))


@pytest.mark.parametrize(("name", "size"), [("coolant", 4.0), ("oil_pressure", 60e3), ("map", 8e3)])
def test_noise_is_measured_and_named(name, size):
    """If it failed, ignition noise on a wire would be unseen, or its size be wrong."""
    white = np.random.default_rng(3).standard_normal(900)
    seen = signs_of(**{name: lambda x, _: x + size * white})[name]
    # 900 rows give a standard deviation within some 5 %; the estimate leaves the largest steps out on purpose.
    assert 0.6 * size < seen.noise_run < 1.1 * size
    assert 0.3 * size < seen.noise_rest < 1.2 * size
    assert ("noise", name) in clues_of(**{name: lambda x, _: x + size * white})


def test_pulsation_is_not_noise_of_the_wire():
    """If it failed, a missing restrictor in the hose would be sought in the wiring."""
    white = np.random.default_rng(3).standard_normal(900)
    found = clues_of(map=lambda x, t: x + np.where((t > 125.0) & (t < 725.0), 8e3 * white, 0.0))
    assert ("map_pulsation", "map") in found
    assert ("noise", "map") not in found


def test_stretches_cover_exactly_the_true_rows():
    """If it failed, the times in the evidence would be beside the rows that they speak of."""
    rng = np.random.default_rng(11)
    for _ in range(50):
        mask = rng.random(rng.integers(1, 40)) < 0.5
        t = np.cumsum(rng.uniform(0.1, 2.0, mask.size))
        again = np.zeros(mask.size, bool)
        for part in stretches(t, mask):
            inside = (t >= part.start_s) & (t <= part.end_s)
            assert inside.sum() == part.rows
            again |= inside
        assert np.array_equal(again, mask)
