"""From a session to a calibration: terms, priors, single readings that stand apart."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from sensorcal.bench.run import Reading, Run
from sensorcal.bench.settle import settled_points
from sensorcal.calibration.calibration import shared_shift_c, u_difference_c, u_temperature_c
from sensorcal.calibration.fromrun import calibrate, prior_of, terms_of
from sensorcal.errors import FitError, InputError
from sensorcal.setup import Field, Keep, Probe, Setup
from tests.probes import j_spline

SETUP = Setup(field=Field(elevation_m=640.0, qnh_pa=100_900.0, station_elevation_m=610.0))
J = j_spline()
STEAM_C = 97.73


def _evening(probes: tuple[str, ...] = ("P1",), **changed: float) -> Run:
    """Ice three times, two baths, steam three times; exact ohms but for the ones changed, by 'row_tag'."""
    rows: list[Reading] = []

    def add(point: str, fixed: str, reference: float | None, t: float) -> None:
        row = len(rows) + 2
        signals = {tag: changed.get(f"r{row}_{tag}", float(J.resistance_ohm(t))) for tag in probes}
        rows.append(
            Reading(file_row=row, time_s=60.0 * row, point=point, fixed=fixed, reference=reference, signals=signals)
        )

    for _ in range(3):
        add("ice", "ice", None, 0.0)
    add("bath-50", "", 50.0, 50.0)
    add("bath-75", "", 75.0, 75.0)
    for _ in range(3):
        add("steam", "steam", None, STEAM_C)
    return Run(readings=tuple(rows), file="run.csv")


def test_exact_readings_give_the_curve_back() -> None:
    """If clean readings do not return the probe, nothing later can."""
    result = calibrate(_evening(), SETUP, "P1")
    at = np.array([0.0, 30.0, 60.0, 97.0])
    assert (
        np.abs(result.calibration.temperature_c(J.resistance_ohm(at)) - at).max() < 0.1
    )  # J is not Steinhart-Hart: 0.075 at 30 °C
    assert not result.blunders
    assert result.calibration.inflation == 1.0
    assert not result.questioned


def test_one_reading_of_three_is_found_by_row() -> None:
    """A digit slip inside an average of three moves the point by a third and hides there."""
    true = round(float(J.resistance_ohm(0.0)))  # 5230
    result = calibrate(_evening(r3_P1=5320.0), SETUP, "P1")
    assert true == 5230
    found = result.blunders[0]
    assert found.kind == "digits"
    assert "row 3" in found.sentence
    assert found.likely == 5230.0
    assert found.size_c == pytest.approx(-0.37, abs=0.03)
    assert result.questioned


def test_two_readings_that_differ_are_both_named() -> None:
    """With two readings nothing tells which is wrong; blaming one would be a guess."""
    run = _evening()
    rows = tuple(r for r in run.readings if r.file_row != 4)
    rows = tuple(dataclasses.replace(r, signals={"P1": 5340.0}) if r.file_row == 3 else r for r in rows)
    result = calibrate(dataclasses.replace(run, readings=rows), SETUP, "P1")
    assert "nothing tells which is wrong" in result.blunders[0].sentence


def test_a_whole_point_in_kilohms_is_undone_before_the_meter_is_corrected() -> None:
    """Taking the leads off a number in the wrong unit would spoil the guess by hundreds of ohms."""
    from sensorcal.setup import Meter, MeterCheck

    meter = Meter(leads_shorted_ohm=0.3, checks=(MeterCheck(true_ohm=470.0, read_ohm=470.3),))
    setup = dataclasses.replace(SETUP, meter=meter)
    read = {f"r{row}_P1": (5230.3) / 1000.0 for row in (2, 3, 4)}
    # With ice at 5.23 ohm the resistance rises with temperature: no curve, but the slip is named.
    with pytest.raises(FitError, match=r"rows 2 to 4\): 5\.2303 ohm looks like a slip .* likely 5230\.3"):
        calibrate(_evening(**read), setup, "P1")


def test_kept_readings_are_not_questioned() -> None:
    """A refusal without a way past it would be worked around outside the tool."""
    setup = dataclasses.replace(SETUP, keep=(Keep(what="wrong-reading:P1", reason="checked twice"),))
    result = calibrate(_evening(r3_P1=5320.0), setup, "P1")
    assert result.blunders
    assert not result.questioned
    assert result.kept == "checked twice"


def test_shared_errors_cancel_in_the_difference_of_two_probes() -> None:
    """The reference, the meter and the steam moved both probes alike: the pair is known better than either."""
    run = _evening(("P3", "P4"))
    first, second = (calibrate(run, SETUP, tag).calibration for tag in ("P3", "P4"))
    at = np.array([40.0, 75.0])
    pair = u_difference_c(first, second, at)
    alone = np.hypot(u_temperature_c(first, at), u_temperature_c(second, at))
    assert np.all(pair < 0.85 * alone)
    shifts = shared_shift_c(first, at)
    assert any(name.startswith("meter:") for name in shifts)


def test_terms_keep_the_sum_of_the_shares() -> None:
    """A share lost on the way from the points to the fit would make every U too small."""
    points = settled_points(_evening(), SETUP, "P1")
    terms = terms_of(points)
    for i, point in enumerate(points):
        on_value = np.sqrt(sum(float(t.u[i]) ** 2 for t in terms if t.axis == "value"))
        on_signal = np.sqrt(sum(float(t.u[i]) ** 2 for t in terms if t.axis == "signal")) * point.signal
        assert on_value == pytest.approx(point.u_value, rel=1e-12)
        assert on_signal == pytest.approx(point.u_signal, rel=1e-12)


def test_order_of_rows_does_not_matter() -> None:
    """Hot first or cold first, the probe is the same."""
    run = _evening()
    turned = dataclasses.replace(run, readings=tuple(reversed(run.readings)))
    one, other = calibrate(run, SETUP, "P1").calibration, calibrate(turned, SETUP, "P1").calibration
    at = np.array([0.0, 50.0, 120.0])
    assert np.allclose(one.resistance_ohm(at), other.resistance_ohm(at), rtol=1e-9)
    assert np.allclose(u_temperature_c(one, at), u_temperature_c(other, at), rtol=1e-9)


def test_prior_follows_the_setup() -> None:
    """A prior that cannot be switched off would be an opinion, not a setting."""
    sheet = ((0.0, 5230.0), (25.0, 1800.0), (97.7, 172.1), (120.0, 98.2))
    assert prior_of(Probe(name="P1", prior="off"), [5230.0, 172.0]) is None
    typical = prior_of(Probe(name="P1", prior_u_ratio=0.15), [5230.0, 172.0])
    assert typical is not None
    assert typical.u_kappa == pytest.approx(0.15 * typical.kappa)
    of_sheet = prior_of(Probe(name="P1", prior="sheet", sheet=sheet), [5230.0, 172.0])
    assert of_sheet is not None
    assert of_sheet.source.startswith("maker's sheet")
    assert of_sheet.u_kappa < typical.u_kappa


def test_a_probe_read_at_one_temperature_is_refused() -> None:
    """One point makes no curve, and the message must say what is missing."""
    run = Run(readings=(Reading(file_row=2, fixed="ice", signals={"P1": 5230.0}),), file="run.csv")
    with pytest.raises(InputError, match="two temperatures"):
        calibrate(run, SETUP, "P1")
