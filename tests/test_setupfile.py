"""The setup file: round trip, units as typed, every slip named."""

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sensorcal.errors import FileError
from sensorcal.setup import (
    Field,
    Keep,
    Meter,
    MeterCheck,
    MonitorSetup,
    Probe,
    Reference,
    ReferenceCheck,
    Setup,
    UnitsOut,
)
from sensorcal.setupfile import read_setup, setup_from, setup_from_text, setup_text, write_setup

FULL = Setup(
    units=UnitsOut(temperature="degF", resistance="kohm", pressure="psi", altitude="ft"),
    field=Field(name="invented", elevation_m=640.0, qnh_pa=100_900.0, station_elevation_m=610.0,
                air_temperature_c=12.3, room_temperature_c=21.7),
    meter=Meter(name="M2", leads_shorted_ohm=0.3, u_gain_ratio=0.0007,
                checks=(MeterCheck(true_ohm=470.0, read_ohm=475.0), MeterCheck(true_ohm=2200.0, read_ohm=2222.5,
                                                                              tolerance_ratio=0.01))),
    references={
        "T1": Reference(identifier="T1", expanded_u=0.3, k=3.0, checks=(ReferenceCheck(at="ice", reads=0.6),
                        ReferenceCheck(at="98.1 degC", reads=98.9, u=0.05)), time_constant_s=4.0),
        "G 1": Reference(identifier="G 1", kind="gauge", limits=5000.0, certificate='none, "kitchen drawer"'),
    },
    probes={
        "P1": Probe(name="P1", role="coolant", sheet=((0.0, 5230.0), (25.0, 1800.0), (97.7, 172.1)), prior="sheet",
                    redline=120.0, time_constant_s=20.0, immersion_m=0.035),
        "O1": Probe(name="O1", measurand="pressure", signal="voltage", model="line", range_low=0.0, range_high=1e6,
                    redline=1.5e5, u_repeat=123.0),
    },
    monitor=MonitorSetup(input="voltage", pull_up_ohm=1000.0, supply_v=5.0, rows=10, signal_unit="V",
                         signal_step=0.01, past_ends="holds"),
    note="invented scenario\nsecond line",
    keep=(Keep(what="steam-100", reason="dry block, not steam"),),
)  # fmt: skip


@pytest.mark.parametrize("setup", [Setup(), FULL, setup_from(elevation_m=640.0, qnh_pa=100_900.0)])
def test_round_trip(setup: Setup, tmp_path: Path) -> None:
    """The file would not give back the setup, or state what was only assumed."""
    path = tmp_path / "setup.toml"
    write_setup(setup, path)
    back = read_setup(path)
    assert back == setup
    assert back.assumed == setup.assumed
    assert b"\r" not in path.read_bytes()


@given(
    elevation=st.floats(-400, 9000),
    room=st.floats(-30, 45),
    gain=st.floats(1e-6, 0.02),
    current=st.floats(1e-6, 1e-3),
    temperature=st.sampled_from(["degC", "degF", "K"]),
    altitude=st.sampled_from(["m", "ft"]),
)
def test_round_trip_to_the_last_bit(
    elevation: float, room: float, gain: float, current: float, temperature: str, altitude: str
) -> None:
    """A number written in the user's units would come back changed."""
    setup = Setup(
        units=UnitsOut(temperature=temperature, altitude=altitude),
        field=Field(elevation_m=elevation, room_temperature_c=room),
        meter=Meter(u_gain_ratio=gain, test_current_a=current),
    )
    assert setup_from_text(setup_text(setup)) == setup


def test_assumed_values_are_comments_that_state_when_uncommented() -> None:
    """The user would not find the value to correct, or taking the # away would not state it."""
    text = setup_text(Setup())
    line = next(line for line in text.splitlines() if line.startswith("# room_temperature"))
    assert "assumed" in line
    stated = setup_from_text(text.replace(line, line.removeprefix("# ").replace("20 degC", "17 degC")))
    assert stated.field.room_temperature_c == 17.0
    assert "field.room_temperature" not in {entry.name for entry in stated.assumed}


def test_units_as_typed() -> None:
    """Text with units, bare numbers and keys with units would not mean the same."""
    setup = setup_from_text(
        """
        [units]
        altitude = "ft"
        temperature = "degF"
        resistance = "kohm"
        [field]
        elevation = 2100
        station_elevation_m = 610
        qnh = "29.80 inHg"
        room_temperature = 68
        [meter]
        leads_shorted = "0,3 ohm"
        u_gain = "0.5 %"
        [references.T1]
        limits = 0.9
        [probes.P1]
        sheet = [[32, 5.23], ["25 °C", "1800 ohm"], [207.86, 0.1721]]
        """
    )
    assert setup.field.elevation_m == pytest.approx(640.08)
    assert setup.field.station_elevation_m == 610.0
    assert setup.field.qnh_pa == pytest.approx(100_914.38, abs=0.01)
    assert setup.field.room_temperature_c == pytest.approx(20.0)
    assert setup.meter.leads_shorted_ohm == 0.3
    assert setup.meter.u_gain_ratio == pytest.approx(0.005)
    assert setup.references["T1"].limits == pytest.approx(0.5)
    assert setup.probes["P1"].sheet[0] == pytest.approx((0.0, 5230.0))


def test_pasted_sheet() -> None:
    """A sheet pasted as text would be refused."""
    setup = setup_from_text('[probes.P1]\nsheet = """\n0 5230\n25 1.80k\n97.7 172.1\n"""\nprior = "sheet"')
    assert setup.probes["P1"].sheet == ((0.0, 5230.0), (25.0, 1800.0), (97.7, 172.1))


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[fild]\nelevation = 1", ("'fild'", "'field'")),
        ('[field]\nelevaton = "640 m"', ("'elevaton'", "'elevation'")),
        ('[field]\nelevation = "640 kPa"', ("field.elevation", "not a length")),
        ("[field]\nelevation = true", ("field.elevation", "quantity")),
        ('[field]\nelevation = "640 m"\nelevation_m = 640', ("twice",)),
        ("[meter]\nu_gain = 0.5", ("meter.u_gain", "%")),
        ('[meter]\ncounts = "many"', ("meter.counts", "number")),
        ("[meter]\ncounts = 6000.5", ("meter.counts", "whole")),
        ('[meter]\nchecks = "470"', ("meter.checks", "list")),
        ('[meter]\nchecks = [{tru = "470 ohm"}]', ("'tru'", "'true'")),
        ("[probes]\nP1 = 5", ("probes.P1", "table")),
        ("[probes.P1]\nrole = 5", ("probes.P1.role", "quotes")),
        ('[probes.P1]\nmodel = "magic"', ("probes.P1", "steinhart-hart")),
        ("[probes.P1]\nsheet = [[0, 5230], [25, 8100]]", ("probes.P1.sheet", "falls")),
        ("[probes.P1]\nsheet = [[0, 5230, 1]]", ("probes.P1.sheet", "pairs")),
        ('[references.T1]\nlimits = "1 degC"\nu = "0.5 degC"', ("references.T1", "twice")),
        ("keep = [{what = 'steam-100'}]", ("keep", "reason")),
        ("[field\n", ("TOML", "row 1")),
    ],
)
def test_refusals(text: str, words: tuple[str, ...], tmp_path: Path) -> None:
    """A slip in the file would pass, or the message would not name file, place and remedy."""
    path = tmp_path / "setup.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(FileError) as caught:
        read_setup(path)
    message = str(caught.value)
    assert "setup.toml" in message
    assert all(word in message for word in words), message


def test_missing_file(tmp_path: Path) -> None:
    """A missing file would end in a traceback."""
    with pytest.raises(FileError, match="no such file"):
        read_setup(tmp_path / "none.toml")


def test_windows_text(tmp_path: Path) -> None:
    """A file saved by a Windows editor, with mark and CRLF, would not be read."""
    path = tmp_path / "setup.toml"
    path.write_bytes(b"\xef\xbb\xbf" + setup_text(FULL).replace("\n", "\r\n").encode())
    assert read_setup(path) == FULL
