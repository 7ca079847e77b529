"""Liquid between gauge and sensor: stated in the file or the setup, added to the gauge, with its uncertainty."""

from __future__ import annotations

import math

import pytest

from sensorcal.bench.pressurehead import head_of
from sensorcal.bench.pressurepoints import pressure_points
from sensorcal.bench.run import Run
from sensorcal.bench.runfile import run_from_bytes
from sensorcal.calibration.pressurecal import shared_shift_pa
from sensorcal.calibration.pressurerun import calibrate_pressure
from sensorcal.errors import InputError
from sensorcal.setup import Reference, Setup
from sensorcal.setupfile import setup_from_text
from sensorcal.transducer import Transducer

SETUP = Setup(references={"G1": Reference(identifier="G1", kind="gauge", limits=5000.0)})
BODY = "point,gauge [kPa],O1 [V],supply [V],direction\n" + "".join(
    f",{p},{5 * (0.1 + 0.8e-3 * p):.4f},5.0,up\n" for p in (0, 200, 400, 600, 800, 1000)
)


def _run(head: str, body: str = BODY):
    return run_from_bytes((head + body).encode(), SETUP, file="evening.csv")


def _head(*lines: str, sheet: Transducer | None = None):
    run = Run(readings=(), comments=tuple(enumerate(lines, start=1)), file="evening.csv")
    return head_of(run, sheet or Transducer())


def test_a_metre_of_oil_and_ten_centimetres_of_water():
    """A metre of oil is 8.53 kPa, ten centimetres of water 0.98 kPa: a slip of sign or unit would double them."""
    oil = _head("# gauge above sensor: 1 m ± 2 cm", "# liquid: oil")
    assert oil.pressure_pa == pytest.approx(870 * 9.80665, abs=0.1)
    assert oil.u_pressure_pa == pytest.approx(9.80665 * math.hypot(870 * 0.02, 20.0) / math.sqrt(3), rel=1e-6)
    water = _head("# gauge below the sensor = 10 cm; liquid = 997 kg/m3 ± 3")
    assert water.pressure_pa == pytest.approx(-977.7, abs=0.1)
    assert "0.1 m below the sensor" in water.sentence
    assert _head("# gauge above sensor: 1 m", "# liquid: air") is None
    assert _head("# an ordinary comment") is None


def test_it_moves_the_curve_and_stands_in_the_budget():
    """The sensor feels 8.53 kPa more than the gauge shows: left out, its zero would be wrong by as much."""
    plain = calibrate_pressure(_run(""), SETUP, "O1").calibration
    filled = calibrate_pressure(_run("# gauge above sensor: 1 m ± 0.02 m\n# liquid: oil\n"), SETUP, "O1").calibration
    at = plain.ratio(400e3)
    assert float(filled.pressure_pa(at) - plain.pressure_pa(at)) == pytest.approx(8532.0, abs=1.0)
    assert filled.head.stated_in == "run file"
    shift = {k: v for k, v in shared_shift_pa(filled, 400e3).items() if k.startswith("head:")}
    assert list(shift) == ["head:evening"]
    assert abs(float(shift["head:evening"])) == pytest.approx(filled.head.u_pressure_pa, rel=1e-6)
    assert plain.head is None
    run = _run("# gauge above sensor: 1 m ± 0.5 m\n# liquid: oil\n")
    budget = calibrate_pressure(run, SETUP, "O1").budgets
    assert budget.gauge_pa[2] == pytest.approx(math.hypot(5000.0, 870 * 9.80665 * 0.5, 20 * 9.80665) / 3**0.5, rel=1e-4)


def test_an_open_line_has_no_column_above_it():
    """With the line open at the sensor the pressure is the air's, whatever stands in the hose."""
    body = BODY.replace(",0,0.5000", "open,,0.5000")
    found = pressure_points(_run("# gauge above sensor: 1 m\n# liquid: oil\n", body), SETUP, "O1")
    assert [one.point.value for one in found.points[:2]] == pytest.approx([0.0, 208_532.0], abs=1.0)
    assert found.points[1].point.corrections[0].size == pytest.approx(8532.0, abs=1.0)
    assert found.points[0].point.corrections == ()


def test_the_setup_states_it_once_for_all_runs():
    """A head stated in the setup would be ignored, or would rule over what a run's own head says."""
    text = '[transducers.O1]\nhead_height = "50 cm"\nhead_density_kg_m3 = 870\n'
    sheet = setup_from_text(text).transducer("O1")
    assert _head(sheet=sheet).pressure_pa == pytest.approx(4266.0, abs=0.5)
    assert _head(sheet=sheet).stated_in == "setup"
    assert _head("# gauge above sensor: 0.2 m", sheet=sheet).pressure_pa == pytest.approx(1706.4, abs=0.5)
    assert _head("# liquid: air", sheet=sheet) is None


@pytest.mark.parametrize(
    ("lines", "told"),
    [
        (("# gauge above sensor: 1 m",), "the liquid in the hose is not stated"),
        (("# gauge above sensor: 1 m", "# liquid: honey"), "row 2: 'honey' is no liquid known here"),
        (("# gauge above sensor: 100 m", "# liquid: oil"), "height_m 100"),
        (("# gauge above sensor: 1 m", "# liquid: 0.87 kg/m3"), "density_kg_m3 0.87"),
        (("# gauge above sensor: 1 kg", "# liquid: oil"), "row 1: .*kg"),
    ],
)
def test_bad_heads_are_named(lines, told):
    """A head that cannot be, or half of one, would be left out in silence."""
    with pytest.raises(InputError, match=told):
        _head(*lines)
