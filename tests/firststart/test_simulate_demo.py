"""The demo's first starts equal what the simulator writes, read back, and hold what their page says."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from sensorcal.errors import FileError
from sensorcal.firststart.logread import read_log
from sensorcal.firststart.simulate import simulate_start
from sensorcal.firststart.simulate_demo import DEMO_FAULTS, demo_case, demo_setup, start_files, write_starts
from sensorcal.setupfile import read_setup

DATA = Path(__file__).parents[2] / "data"
FILES = start_files()


@pytest.mark.parametrize("name", sorted(FILES))
def test_data_equals_the_simulator_byte_for_byte(name: str) -> None:
    """A stale log would no longer be what its page says: write_starts('data', overwrite=True) writes it anew."""
    assert (DATA / name).read_bytes() == FILES[name].encode("utf-8")
    assert "nvented" in FILES[name][:600]


@pytest.mark.parametrize("name", sorted(DEMO_FAULTS))
def test_a_log_reads_back_as_it_was_made(name: str) -> None:
    """Whoever opens the demo must get the very numbers of the simulator."""
    start = simulate_start(demo_case(), DEMO_FAULTS[name])
    log = read_log(DATA / "starts" / name, read_setup(DATA / "starts" / "setup.toml"))
    for channel, values in start.log.values.items():
        np.testing.assert_allclose(log.values[channel], values, rtol=1e-9, atol=1e-6)
    assert not log.cautions


def test_the_event_list_reads() -> None:
    """The typed list of the healthy start must be understood as events, each of the thirteen with its row."""
    log = read_log(DATA / "starts" / "events.csv", read_setup(DATA / "starts" / "setup.toml"))
    assert log.kind == "events"
    assert log.labels[0] == "master"
    assert len(log) == len(log.labels)
    assert log.values["oil_pressure"].max() > 300e3


def test_ten_ohms_in_the_coolant_joint_read_two_degrees_cold() -> None:
    """10 ohm in probe J's loop on 1 kohm are -1.7 at 90 degC: the seeded fault by which the judge is proven."""
    fault = DEMO_FAULTS["coolant-joint.csv"]
    start = simulate_start(demo_case(), fault)
    off = start.log.values["coolant"] - start.twin.values["coolant"]
    hot = np.abs(start.truth["coolant"] - 88.0) < 3.0
    assert float(off[hot].mean()) == pytest.approx(-1.6, abs=0.25)


def test_setup_is_the_scenarios() -> None:
    """The judge's setup must name the scenario's field, circuit and limits."""
    setup = demo_setup()
    assert (setup.field.elevation_m, setup.monitor.pull_up_ohm, setup.monitor.bits) == (640.0, 1000.0, 10)
    assert setup.limit("coolant").high == 120.0
    assert setup.probes["P1"].sheet[1] == (0.0, 5230.0)


def test_own_files_are_not_replaced(tmp_path: Path) -> None:
    """Writing the demo over somebody's own log would destroy it."""
    (tmp_path / "starts").mkdir()
    (tmp_path / "starts" / "healthy.csv").write_text("mine", encoding="utf-8")
    with pytest.raises(FileError, match="not the demo's"):
        write_starts(tmp_path)
    write_starts(tmp_path, overwrite=True)
    assert (tmp_path / "starts" / "healthy.csv").read_text(encoding="utf-8") == FILES["starts/healthy.csv"]
