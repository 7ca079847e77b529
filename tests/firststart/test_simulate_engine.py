"""The invented engine: its physics against the laws, and healthy starts against what an engine does."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from sensorcal.firststart.simulate import StartCase, draw_case
from sensorcal.firststart.simulate_engine import run_engine, viscosity_cst
from sensorcal.firststart.simulate_plan import Plan, Trouble, Truth, lagged, plan_of, ripple_of
from sensorcal.physics.altimeter import station_pressure_pa


def engine(case: StartCase, trouble: Trouble | None = None) -> tuple[Plan, Truth]:
    """Run the engine of a case."""
    plan = plan_of(case)
    ripple = ripple_of(case, plan, np.random.default_rng(case.seed))
    return plan, run_engine(case, plan, ripple, trouble or Trouble())


@pytest.fixture(scope="module")
def cold_case() -> StartCase:
    """A cold, unhangared start with a warm-up and a run-up."""
    rng = np.random.default_rng(21)
    while True:
        case = draw_case(rng)
        day, motor, outing = case.day, case.motor, case.outing
        plain = not day.hot and day.hangar_k == 0.0 and motor.thermostat_stuck == 0.0
        if plain and outing.run_ups and outing.warm_s > 600.0 and motor.full_map_pa > day.station_pa + 25e3:
            return case


@pytest.fixture(scope="module")
def healthy() -> list[tuple[StartCase, Plan, Truth]]:
    """Sixty drawn engines."""
    rng = np.random.default_rng(22)
    cases = [draw_case(rng) for _ in range(60)]
    return [(case, *engine(case)) for case in cases]


def test_lag_is_first_order() -> None:
    """A probe that does not lag by tau on a ramp would hide slow probes, or invent them."""
    ramp = np.arange(4000) * 0.1 / 6.0  # 10 K/min
    late = ramp - lagged(ramp, 20.0, 0.1)
    assert late[-1] == pytest.approx(20.0 * 10.0 / 60.0, rel=0.01)


def test_manifold_at_rest_is_station_pressure(healthy: list[tuple[StartCase, Plan, Truth]]) -> None:
    """An engine that stands still has the air of its field in the manifold: p = (QNH^n - c h)^(1/n)."""
    for case, plan, truth in healthy:
        at_rest = truth.time_s < plan.cranks[0][0] - 0.3
        expected = float(station_pressure_pa(case.day.qnh_pa, case.day.elevation_m))
        np.testing.assert_allclose(truth.values["map"][at_rest], expected, atol=1.0)
        stopped = truth.time_s > plan.stop_s + 3.0
        np.testing.assert_allclose(truth.values["map"][stopped], expected, atol=100.0)


def test_compressor_rise_follows_the_law(cold_case: StartCase) -> None:
    """Charge before the cooler under long boost must come up to T1 (PR^0.286 - 1)/eta above its intake."""
    outing = dataclasses.replace(cold_case.outing, run_ups=((20.0, 400.0),))
    case = dataclasses.replace(cold_case, outing=outing)
    plan, truth = engine(case)
    end = next(begin for begin, rpm, _, _ in reversed(plan.steps) if rpm == case.motor.idle_rpm)
    at = int(np.searchsorted(truth.time_s, end - 2.0))
    ratio = (truth.values["map"][at] + 3e3) / case.day.station_pa
    air = truth.values["oat"][at]
    for intake in (air, air + case.motor.bay_rise_k):
        rise = (intake + 273.15) * (ratio**0.2857 - 1.0) / case.motor.compressor_ratio
        if intake == air:
            lowest = air + 0.85 * rise  # the wall takes a few per cent
        else:
            highest = intake + 1.1 * rise + 4.0
    assert lowest < truth.values["charge_in"][at] < highest


def test_cooler_effectiveness_shows_under_boost(cold_case: StartCase) -> None:
    """Charge behind the cooler must lie where the drawn effectiveness puts it, within the core's pull."""
    outing = dataclasses.replace(cold_case.outing, run_ups=((20.0, 400.0),))
    case = dataclasses.replace(cold_case, outing=outing)
    plan, truth = engine(case)
    end = next(begin for begin, rpm, _, _ in reversed(plan.steps) if rpm == case.motor.idle_rpm)
    at = int(np.searchsorted(truth.time_s, end - 2.0))
    hot, cold, air = (truth.values[name][at] for name in ("charge_in", "charge_out", "oat"))
    assert (hot - cold) / (hot - air) == pytest.approx(case.motor.cooler_ratio, abs=0.1)


def test_heat_balance_warms_as_power_over_capacity(cold_case: StartCase) -> None:
    """From cold, before anything is lost, the block warms by its heat over the capacity of block and oils."""
    plan, truth = engine(cold_case)
    motor = cold_case.motor
    at = plan.steps[1][0] + 30.0
    first, last = (int(np.searchsorted(truth.time_s, s)) for s in (at, at + 30.0))
    rate = (truth.values["coolant"][last] - truth.values["coolant"][first]) / 30.0
    stretch = slice(first, last)
    flow = float(np.mean(truth.values["map"][stretch] / 1e5 * truth.values["rpm"][stretch] / 5500.0))
    heat = motor.heat_w * flow + motor.friction_w * float(np.mean(truth.values["rpm"][stretch])) / 5500.0
    # Oils take a part and losses begin: between the block alone and all capacities together.
    assert heat / (motor.block_j_k + 13e3 + motor.gearbox_j_k) * 0.6 < rate < heat / motor.block_j_k


def test_warm_up_is_what_engines_do(healthy: list[tuple[StartCase, Plan, Truth]]) -> None:
    """Coolant rises 3 to 17 K/min in a warm-up, and gearbox oil stays behind it: an engine heats no other way."""
    for case, plan, truth in healthy:
        t, values = truth.time_s, truth.values
        if case.day.hot or case.motor.thermostat_stuck:
            continue
        begin = plan.steps[1][0]
        window = (t > begin) & (t < begin + 90.0) & (values["coolant"] < case.motor.thermostat_c - 8.0)
        if window.sum() * truth.step_s > 60.0 and len(case.outing.taxi_s) == 0:
            rate = np.polyfit(t[window], values["coolant"][window], 1)[0] * 60.0
            assert 3.0 < rate < 17.0, case.seed
        late = t > plan.fires_s + 60.0
        assert (values["gearbox_oil"][late] < values["coolant"][late] + 1.0).all()


def test_first_seconds(healthy: list[tuple[StartCase, Plan, Truth]]) -> None:
    """Bus 8 to 11.5 V while cranking, manifold dips, oil shows within 10 s of running and 80 kPa at most before."""
    for case, plan, truth in healthy:
        t, values = truth.time_s, truth.values
        begin, end = plan.cranks[-1]
        crank = (t > begin + 0.5) & (t < end)
        assert 7.5 < values["bus"][crank].min() < 11.5
        assert values["oil_pressure"][t < plan.fires_s].max() < 80e3, case.seed
        soon = int(np.searchsorted(t, plan.fires_s + 10.0))
        assert values["oil_pressure"][soon] > 100e3, case.seed
        idle = int(np.searchsorted(t, plan.fires_s + 3.0))
        assert values["map"][idle] < 0.75 * case.day.station_pa


def test_after_the_stop(healthy: list[tuple[StartCase, Plan, Truth]]) -> None:
    """Head soak of up to 12 K, charge warmed by the bay, oil at zero within 12 s: heat has nowhere else to go."""
    soaks = []
    for case, plan, truth in healthy:
        t, values = truth.time_s, truth.values
        stop = int(np.searchsorted(t, plan.stop_s))
        after = t > plan.stop_s + 12.0
        if not after.any() or case.recording.ends != "soak":
            continue
        assert values["oil_pressure"][after].max() < 20e3
        assert -1.0 < values["coolant"][stop:].max() - values["coolant"][stop] < 13.0
        soaks.append(values["charge_in"][stop:].max() - values["charge_in"][stop])
    assert min(soaks) > 3.0
    assert 10.0 < float(np.median(soaks)) < 45.0


def test_cold_thick_oil_stands_above_the_relief() -> None:
    """Cold oil overwhelms the relief valve: a start at -20 degC shows hundreds of kPa more than a warm one."""
    rng = np.random.default_rng(5)
    case = draw_case(rng)
    peaks = {}
    for oat in (-20.0, 15.0, 40.0):
        day = dataclasses.replace(case.day, oat_c=oat, hot=False, block_c=oat, gearbox_c=oat, bay_c=oat)
        plan, truth = engine(dataclasses.replace(case, day=day))
        at = int(np.searchsorted(truth.time_s, plan.steps[1][0] + 15.0))
        peaks[oat] = float(truth.values["oil_pressure"][at])
    assert peaks[-20.0] > peaks[15.0] + 20e3 > peaks[40.0] + 20e3
    assert case.motor.oil_relief_pa < peaks[-20.0] < 950e3


def test_viscosity_goes_through_its_two_points() -> None:
    """The oil's law must give back the sheet's two viscosities and thicken in the cold."""
    cst = viscosity_cst(np.array([-20.0, 40.0, 100.0]), 100.0, 14.0)
    np.testing.assert_allclose(cst[1:], [100.0, 14.0], rtol=1e-9)
    assert 2000.0 < cst[0] < 20_000.0


def test_fuel_follows_the_manifold_where_its_regulator_does(cold_case: StartCase) -> None:
    """A regulator referenced to the manifold holds the difference: gauge pressure moves with manifold less ambient."""
    motor = dataclasses.replace(cold_case.motor, fuel_reference="manifold", fuel_droop_pa=0.0, fuel_aux_pa=0.0)
    case = dataclasses.replace(cold_case, motor=motor)
    plan, truth = engine(case)
    running = (truth.time_s > plan.fires_s + 20.0) & (truth.time_s < plan.stop_s)
    gauge = truth.values["fuel_pressure"][running]
    expected = motor.fuel_set_pa + truth.values["map"][running] - case.day.station_pa
    np.testing.assert_allclose(gauge, expected, atol=1.0)


@pytest.mark.parametrize(
    ("trouble", "channel", "sign"),
    [
        (Trouble(oil_ratio=0.3), "oil_pressure", -1.0),
        (Trouble(oil_flutter=0.6), "oil_pressure", -1.0),
        (Trouble(cooling_ratio=0.02), "coolant", 1.0),
        (Trouble(airlock_ratio=0.9, airlock_from_s=200.0), "coolant", 1.0),
        (Trouble(fuel_sag_pa=100e3), "fuel_pressure", -1.0),
    ],
    ids=["low oil", "aerated oil", "overheat", "airlock", "fuel sag"],
)
def test_genuine_trouble_changes_the_truth(cold_case: StartCase, trouble: Trouble, channel: str, sign: float) -> None:
    """Trouble that left the true state alone would teach the judge that limits mean nothing."""
    _, well = engine(cold_case)
    _, ill = engine(cold_case, trouble)
    away = sign * (ill.values[channel] - well.values[channel])
    assert away.max() > (5.0 if channel == "coolant" else 30e3)


def test_airlock_reads_low_and_erratic_while_the_block_is_hot(cold_case: StartCase) -> None:
    """Vapour round the tip hides an overheat: the tip must stand well below the block and jump."""
    _, ill = engine(cold_case, Trouble(airlock_ratio=0.7, airlock_from_s=300.0))
    late = ill.running & (ill.time_s > 500.0)
    gap = (ill.values["coolant"] - ill.tip_c)[late]
    assert gap.max() > 10.0
    assert np.ptp(gap) > 8.0
