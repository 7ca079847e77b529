"""What a pressure calibration's own points tell again must be what the run said first."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from sensorcal.bench.runfile import read_run
from sensorcal.calibration.frompoints import at_altitudes, budgets_again, performance_again, pressure_claims, use_budget
from sensorcal.calibration.pressurecal import expanded_pressure_pa, u_pressure_pa
from sensorcal.calibration.pressurerun import calibrate_pressure
from sensorcal.setupfile import read_setup

DATA = Path(__file__).parents[2] / "data" / "pressure"


@pytest.fixture(scope="module", params=[("oil", "O1"), ("fuel", "F1"), ("map", "M1")], ids=["O1", "F1", "M1"])
def told(request):
    """One sensor of the invented evening, as the run tells it, with its data sheet."""
    name, tag = request.param
    setup = read_setup(DATA / "setup.toml")
    run = read_run(DATA / f"2026-05-16-{name}.csv", setup)
    return calibrate_pressure(run, setup, tag), setup.transducer(tag)


def test_terms_of_the_data_sheet_are_told_alike(told):
    """If it failed, the page would name another hysteresis or linearity than the command line."""
    result, sheet = told
    again = performance_again(result.calibration, sheet)
    for name in ("hysteresis_pa", "repeatability_pa", "zero_return_pa", "total_error_band_pa", "static_error_band_pa"):
        assert getattr(again, name) == getattr(result.performance, name), name
    assert again.linearity_pa == result.performance.linearity_pa


def test_budget_of_each_pressure_is_told_alike(told):
    """If it failed, U on the page would not be that of the run; the voltmeter's share differs by the slope taken."""
    result, _ = told
    again, first = budgets_again(result.calibration), result.budgets
    np.testing.assert_allclose(again.series.expanded, first.series.expanded, rtol=1e-3)
    np.testing.assert_allclose(again.gauge_pa, first.gauge_pa)
    np.testing.assert_allclose(again.reading_pa, first.reading_pa)
    np.testing.assert_allclose(again.meter_pa, first.meter_pa, rtol=5e-3)


def test_contributions_add_up(told):
    """If it failed, the budget on the page would hold a term twice, or miss one."""
    cal = told[0].calibration
    at = [cal.tested_pa[0], 0.5 * sum(cal.tested_pa), cal.tested_pa[1]]
    rows = use_budget(cal, at)
    np.testing.assert_allclose(sum(np.square(row.u_pa) for row in rows), np.square(u_pressure_pa(cal, at)), rtol=1e-12)
    cold = [row.u_pa for row in rows if not row.body]
    np.testing.assert_allclose(
        cal.k * np.sqrt(sum(np.square(u) for u in cold)), expanded_pressure_pa(cal, at, hot_body=False), rtol=1e-12
    )
    assert list(rows) == sorted(rows, key=lambda row: -max(row.u_pa))


def test_claims_say_what_was_tested(told):
    """If it failed, a pressure beyond the tested ones would stand without its word."""
    cal = told[0].calibration
    low, high = cal.tested_pa
    inside, above = pressure_claims(cal, [0.5 * (low + high), high + 0.02 * (high - low)])
    assert not inside.extrapolated
    assert above.extrapolated
    assert inside.expanded_pa == pytest.approx(float(expanded_pressure_pa(cal, inside.pressure_pa)))
    assert inside.expanded_bench_pa < inside.expanded_pa


def test_line_open_at_altitude():
    """Job-map step 7: a sealed gauge shows -31 kPa at 3000 m, an absolute sensor the standard atmosphere's 70.1."""
    assert [round(p / 1000, 1) for _, p in at_altitudes("absolute")] == [101.3, 84.6, 70.1]
    assert round(at_altitudes("sealed", [3000.0])[0][1] / 1000) == -31
    assert {p for _, p in at_altitudes("gauge")} == {0.0}
