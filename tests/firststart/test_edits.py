"""Every cause as an edit: the chain's own mistake of a known size, undone, must give the log without it."""

from __future__ import annotations

import numpy as np
import pytest

from sensorcal.engine import PRESSURES, TEMPERATURES
from sensorcal.firststart.channels import KINDS, TOLERANCE
from sensorcal.firststart.edits import edits
from sensorcal.firststart.simulate import simulate_start
from sensorcal.firststart.simulate_faults import Fault
from sensorcal.firststart.summary import WINDOWS, W

from .exactstart import BOTH, exact_case, exact_facts, pair_of, rows_of


def rows_of_twin():
    """Rows of the sound start on the ideal panel."""
    return rows_of(simulate_start(exact_case()).log)


def undone(kind, channels, rows, size, detail=""):
    """Undo the edit of a kind in exactly these channels with one size."""
    for edit in edits(rows, exact_facts()):
        if edit.kind == kind and edit.channels == channels and detail in {edit.detail, edit.unit}:
            return {name: x[0] for name, x in edit.undo(rows, np.array([size], dtype=float)).items()}
    raise AssertionError(f"no edit {kind} in {channels} ({detail})")


def away(left, right, channels, without=()):
    """Largest difference over windows and channels, in what is worth acting on."""
    kept = [i for name, i in W.items() if name not in without]
    return max(float(np.nanmax(np.abs(left[name][kept] - right[name][kept]))) / TOLERANCE[name] for name in channels)


SERIES, ALL_HOT = {"series_ohm": 90.0}, tuple(TEMPERATURES)
# kind, where, the simulator's size, the edit's own size, its detail, the change as a share of what is worth acting on
STATIC = [
    ("wrong_curve", ("coolant",), {"ohm_ratio": 1.3, "beta_ratio": 1.0}, (np.log(1.3),), "ratio"),
    ("wrong_curve", ("gearbox_oil",), {"ohm_ratio": 0.7, "beta_ratio": 1.0}, (np.log(0.7),), "ratio"),
    ("wrong_curve", ("charge_in",), {"ohm_ratio": 1.0, "beta_ratio": 1.12}, (1.12,), "slope"),
    ("wrong_curve", ALL_HOT, {"ohm_ratio": 1.0, "beta_ratio": 0.9}, (0.9,), "slope"),
    ("wrong_pullup", ALL_HOT, {"pull_up_ratio": 2.2}, (np.log(2.2),), "ratio"),
    ("wrong_pullup", ALL_HOT, {"pull_up_ratio": 0.6}, (np.log(0.6),), "ratio"),
    ("contact_resistance", ("coolant",), SERIES, (90.0,), "{:.0f} ohm in series"),
]  # fmt: skip


@pytest.mark.parametrize(("kind", "channels", "size", "own", "detail"), STATIC)
def test_a_resistance_mistaken_is_put_right(kind, channels, size, own, detail):
    """If it failed, the right cause of the right size would not explain the log that it made."""
    name = channels[0] if len(channels) == 1 else "multiple"
    shown, twin = pair_of(Fault(kind=kind, channel=name, channels=channels, size=size))
    # Curve and pull-up share their equation; the edit in several channels is named after the pull-up.
    also = "wrong_pullup" if kind == "wrong_curve" and len(channels) > 1 and detail == "ratio" else kind
    back = undone(also, channels, shown, own, detail)
    assert away(shown, twin, channels) > 1.0
    # 0.5 degC: the setup's sheet is straight between rows 20 degC apart, the monitor's curve is not.
    assert away(back, twin, channels) * TOLERANCE[channels[0]] < 0.5


@pytest.mark.parametrize("channels", [("coolant",), ALL_HOT])
def test_fahrenheit_in_a_celsius_column_is_put_right(channels):
    """If it failed, the commonest wrong unit of a temperature would stay unexplained."""
    name = channels[0] if len(channels) == 1 else "multiple"
    shown, twin = pair_of(Fault(kind="wrong_unit", channel=name, channels=channels, unit="degF"))
    back = undone("wrong_unit", channels, shown, (0.0,), "degF in a degC column")
    assert away(back, twin, channels) < 1e-2
    assert away(shown, twin, channels) > 1.0


@pytest.mark.parametrize("channels", [("coolant",), ALL_HOT])
def test_celsius_in_a_fahrenheit_column_is_put_right(channels):
    """If it failed, a column that was converted once too often would stay unexplained."""
    twin = rows_of_twin()
    shown = dict(twin) | {name: (twin[name] - 32.0) / 1.8 for name in channels}
    back = undone("wrong_unit", channels, shown, (0.0,), "degC in a degF column")
    assert away(back, twin, channels) < 1e-9


@pytest.mark.parametrize(
    ("channel", "unit", "pascal"),
    [("oil_pressure", "psi", 6894.757), ("oil_pressure", "bar", 1e5), ("fuel_pressure", "psi", 6894.757),
     ("fuel_pressure", "bar", 1e5), ("map", "inHg", 3386.389), ("map", "hPa", 100.0), ("map", "psi", 6894.757),
     ("map", "bar", 1e5)],
)  # fmt: skip
def test_a_pressure_unit_mistaken_is_put_right(channel, unit, pascal):
    """If it failed, numbers of another unit under the heading kPa would not be recognised, or by a wrong factor."""
    shown, twin = pair_of(Fault(kind="wrong_unit", channel=channel, unit=unit))
    edit = next(
        e for e in edits(shown, exact_facts()) if e.channels == (channel,) and e.unit == f"{unit} in a kPa column"
    )
    assert edit.sizes[0, 0] == pytest.approx(1000.0 / pascal, rel=1e-6)  # SI factors: psi, bar, conventional inHg
    back = {channel: edit.row_of(shown)[channel][0]}
    # The panel shows the mistaken numbers in steps as coarse as 100 Pa of its own unit, that is up to 0.7 kPa.
    assert away(back, twin, (channel,)) < 0.5
    assert away(shown, twin, (channel,)) > 1.0


@pytest.mark.parametrize(
    ("channel", "sealed", "text"),
    [("oil_pressure", 0.0, "an absolute sensor shown as gauge"),
     ("fuel_pressure", 0.0, "an absolute sensor shown as gauge"),
     ("oil_pressure", 1.0, "a gauge sensor sealed at sea level"),
     ("fuel_pressure", 1.0, "a gauge sensor sealed at sea level"),
     ("map", 0.0, "a gauge sensor shown as absolute")],
)  # fmt: skip
def test_a_sensor_of_the_other_kind_is_put_right(channel, sealed, text):
    """If it failed, the shift by the air's pressure would have the wrong sign or size."""
    fault = Fault(kind="wrong_reference_type", channel=channel, size={"sealed": sealed, "other": 1.0 - sealed})
    shown, twin = pair_of(fault)
    size = next(e.sizes[0] for e in edits(shown, exact_facts()) if e.channels == (channel,) and e.unit == text)
    back = undone("wrong_reference_type", (channel,), shown, size, text)
    # A gauge sensor cannot follow a vacuum below its output stage: those windows say nothing of the shift.
    cut = {name for name, i in W.items() if channel == "map" and twin["map"][i] < 75e3}
    assert len(cut) < len(WINDOWS) - 4
    assert away(back, twin, (channel,), cut) < 0.15
    assert away(shown, twin, (channel,), cut) > 0.35


@pytest.mark.parametrize("share", [0.1, 0.4])
def test_a_leak_of_the_hose_is_put_right(share):
    """If it failed, the pull towards the air outside would not be undone."""
    shown, twin = pair_of(Fault(kind="map_hose_leak", channel="map", size={"leak_ratio": share}))
    back = undone("map_hose_leak", ("map",), shown, (share,), "{:.0%} of the way to the air outside")
    assert away(back, twin, ("map",)) < 0.1
    assert away(shown, twin, ("map",)) > 1.0


@pytest.mark.parametrize(("channels", "too"), [(tuple(PRESSURES), 0.0), (BOTH, 1.0)])
def test_a_supply_that_sags_is_put_right(channels, too):
    """If it failed, a low 5 V would be blamed on several sensors at once."""
    size = {"feed_v": 4.8, "follows_bus": 0.0, "pull_up_too": too}
    shown, twin = pair_of(Fault(kind="ref_sag", channel="multiple", channels=channels, size=size))
    back = undone("ref_sag", channels, shown, (0.04,), "sensor supply {:.1%} below its reference")
    assert away(shown, twin, channels) > 1.0
    assert away(back, twin, channels) < 0.17


def test_a_sag_while_running_leaves_the_rest_alone():
    """If it failed, a fault that is there with the alternator only would change the readings at rest."""
    rows = rows_of_twin()
    unit = "sensor supply {:.1%} below its reference while running"
    back = undone("ref_sag", tuple(PRESSURES), rows, (0.04,), unit)
    always = undone("ref_sag", tuple(PRESSURES), rows, (0.04,), "sensor supply {:.1%} below its reference")
    for name in PRESSURES:
        for window in ("rest", "crank", "again"):
            assert back[name][W[window]] == rows[name][W[window]]
        assert back[name][W["run_high"]] == always[name][W["run_high"]] > rows[name][W["run_high"]]


@pytest.mark.parametrize(("channels", "volt"), [(BOTH, 0.06), (BOTH, -0.06), (("coolant",), 0.1)])
def test_a_lifted_ground_is_put_right(channels, volt):
    """If it failed, a ground that lifts with the alternator would have the wrong sign or slope at the input."""
    name = channels[0] if len(channels) == 1 else "multiple"
    size = {"strap_ohm": 0.0, "running_v": volt}
    shown, twin = pair_of(Fault(kind="ground_offset", channel=name, channels=channels, size=size))
    back = undone(
        "ground_offset", channels, shown, (volt, 0.0),
        "ground lifted {:+.3f} V while running, {:+.3f} V while cranking",
    )  # fmt: skip
    # A load step takes a third of the current by the edit; this lift is constant. The start lies within a block.
    assert away(back, twin, channels, ("loaded", "after_start", "crank", "crank_low")) < 0.3
    assert away(shown, twin, channels, ("loaded",)) > 1.0


def test_a_lift_while_cranking_leaves_the_run_alone():
    """If it failed, the starter's current would be blamed for what the panel shows an hour later."""
    rows = rows_of_twin()
    back = undone(
        "ground_offset", BOTH, rows, (0.0, 0.2), "ground lifted {:+.3f} V while running, {:+.3f} V while cranking"
    )
    for name in BOTH:
        assert abs(back[name][W["crank"]] - rows[name][W["crank"]]) > 0.3 * TOLERANCE[name]
        assert back[name][W["s300"]] == pytest.approx(rows[name][W["s300"]], rel=1e-6, abs=1e-6)


@pytest.mark.parametrize(
    ("kind", "channels", "steps"),
    [("swapped_charge", ("charge_in", "charge_out"), 1.0), ("swapped_oil_fuel", ("oil_pressure", "fuel_pressure"), 1.0),
     ("channel_slip", tuple(TEMPERATURES), 1.0), ("channel_slip", tuple(TEMPERATURES), -1.0),
     ("channel_slip", tuple(PRESSURES), 1.0), ("channel_slip", tuple(PRESSURES), -1.0),
     ("channel_slip", ("coolant", "gearbox_oil"), 1.0)],
)  # fmt: skip
def test_plugs_in_a_wrong_order_are_put_right(kind, channels, steps):
    """If it failed, exchanged plugs would be sorted the wrong way round, or their ranges forgotten."""
    fault = Fault(kind=kind, channel="multiple", channels=channels, size={"steps": steps})
    shown, twin = pair_of(fault)
    best = []
    for edit in edits(shown, exact_facts()):
        if edit.kind == kind and set(edit.channels) == set(channels):
            back = {name: x[0] for name, x in edit.row_of(shown).items()}
            best.append(away(back, twin, channels))
    assert min(best) < 0.1
    assert away(shown, twin, channels) > 1.0
    assert sum(value < 0.1 for value in best) == 1  # only one of the orders is right


def test_edits_keep_to_their_channels_and_kinds():
    """If it failed, undoing a cause would change a channel that it does not name, or report a kind nobody knows."""
    rows = rows_of_twin()
    for edit in edits(rows, exact_facts()):
        back = edit.row_of(rows)
        assert edit.kind in KINDS
        assert set(edit.also) <= set(KINDS)
        assert edit.weight > 0
        assert set(back) == set(edit.channels)
        for x in back.values():
            assert x.shape == (edit.sizes.shape[0], len(WINDOWS))


def test_every_edit_changes_something():
    """If it failed, a cause of size nil would stand in the list and share the probability of a sound installation."""
    rows = rows_of_twin()
    for edit in edits(rows, exact_facts()):
        back = edit.row_of(rows)
        for index in range(edit.sizes.shape[0]):
            moved = max(
                float(np.nanmax(np.abs(x[index] - rows[name]), initial=0.0)) / TOLERANCE[name]
                for name, x in back.items()
            )
            assert moved > 0.02 or np.isnan([x[index] for x in back.values()]).any(), (edit.kind, edit.channels, index)


def test_only_channels_of_the_log_are_edited():
    """If it failed, a log without a column would crash, or be told of a plug that nobody sees."""
    rows = {name: x for name, x in rows_of_twin().items() if name in {"coolant", "map"}}
    found = edits(rows, exact_facts())
    assert found
    assert {name for edit in found for name in edit.channels} == {"coolant", "map"}
    assert not [edit for edit in found if edit.kind.startswith("swapped") or edit.kind == "channel_slip"]
    assert edits({}, exact_facts()) == []
