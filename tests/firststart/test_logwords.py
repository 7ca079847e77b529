"""Headings in trade words: understood where they leave one meaning, doubted where they leave two."""

from __future__ import annotations

import pytest

from sensorcal.firststart.channels import CHANNELS, WORDS
from sensorcal.firststart.logwords import channel_of_role, split_unit, understand, unit_of

MEANT = {
    "coolant": "Coolant|CLT|ECT|water temp|WaterTemp|coolant_c|Coolant degC|coolantDegC|COOLANT TEMP [°F]|clt_degf|"
    "CLT C|Coolant temperature (degC)|Water T|coolanttempc|Coolant Â°C|Coolant [?C]",
    "gearbox_oil": "Gearbox oil|gearbox_oil_c|Oil temp|OilTemp|Oil T [°C]|GearboxOilTemp|oil °C|oilT|gear oil",
    "charge_in": "Charge in|CAC in C|Charge air before cooler|CAC inlet temp|intercooler in|pre cooler °C|turbo out °C|"
    "Compressor outlet|cooler in °C|ChargeInTemp|charge air temperature in (°C)|before cooler",
    "charge_out": "Charge out|CAC out C|after cooler|intercooler out|IAT|intake temp|manifold temp|Cooler outlet [°C]|"
    "aftercooler out|IC out|CHARGE OUT °C",
    "oil_pressure": "Oil press|Oil P kPa|oil_pressure_kpa|OilPress|Oil pressure [bar]|oil psi|oilPressurePsi|OIL PRES|"
    "Oil P (bar g)|oilp|oilpresskpa|Oil kPa|oil pressure / bar",
    "fuel_pressure": "Fuel press|Fuel P kPa|FuelP|Fuel pressure (kPa)|fuel bar|FUEL_P|fuel pressure, kPa",
    "map": "MAP|MAP kPa|map_kpa|manifold|Manifold pressure|MP|MAP [inHg]|MAP (kPa abs)|boost|ManifoldPressure hPa|"
    "mapkpa|Intake pressure mbar|map_pa",
    "rpm": "RPM|rpm|Engine speed|engine_rpm|EngineSpeed [1/min]|Engine RPM|revs|rpm x100|Tach|rpm 1/min|Engine r/min",
    "bus": "Bus|Volts|Bus V|bus_v|Battery|Batt V|Bus voltage|VOLTS|vbat|main bus volts|Bus [V]",
    "oat": "OAT|oat_c|Ambient|ambient temp|Outside air|OAT [degF]|OutsideAir|outside air temp °C",
    "time": "Time|time_s|t|Time (s)|Elapsed [ms]|timestamp|Clock|seconds|millis|Date Time|t (s)|Time, s|Time (UTC)",
    "label": "event|label|Phase|step",
    "statistic": "coolant max|Oil temp min|MAP avg",
    "": "EGT1|fuel flow|Fuel level|Amps|Ambient pressure|Oil alarm|speed|note|5V ref|n|CHT 1|lambda",
}  # fmt: skip
CASES = [(heading, holds) for holds, joined in MEANT.items() for heading in joined.split("|")]


@pytest.mark.parametrize(("heading", "holds"), CASES)
def test_headings_of_the_trade(heading: str, holds: str) -> None:
    """If it failed, a column would be judged as another channel, or not at all."""
    assert understand(heading).holds == holds


@pytest.mark.parametrize(
    "heading",
    ["oil", "fuel", "charge air temp", "air temp", "T", "Prop RPM", "Oil P volts", "MAP V", "coolant left",
     "compressor pressure", "intercooler", "gearbox oil pressure"],
)  # fmt: skip
def test_doubtful_headings_are_never_guessed(heading: str) -> None:
    """If it failed, one of two meanings would be taken without a word."""
    found = understand(heading)
    assert found.holds == ""
    assert found.doubt


@pytest.mark.parametrize(
    ("heading", "unit", "datum"),
    [("CLT [°F]", "degF", ""), ("Oil P (bar g)", "bar", "gauge"), ("MAP (kPa abs)", "kPa", "absolute"),
     ("MAP psia", "psi", "absolute"), ("Fuel barg", "bar", "gauge"), ("MAP, in Hg", "inHg", ""), ("RPM", "1/min", ""),
     ("rpm x100", "100/min", ""), ("Bus VDC", "V", ""), ("Elapsed [ms]", "ms", ""), ("oilPressurePsi", "psi", ""),
     ("Coolant", "", ""), ("time [hh:mm:ss]", "hh:mm:ss", ""), ("coolant_c", "degC", ""), ("MAP mbar", "mbar", "")],
)  # fmt: skip
def test_units_in_headings(heading: str, unit: str, datum: str) -> None:
    """If it failed, 14.5 psi would be read as 14.5 kPa although the heading says psi."""
    found = understand(heading)
    assert (found.unit, found.datum) == (unit, datum)


def test_every_channel_is_known_by_its_own_name_and_words() -> None:
    """If it failed, a log written with the tool's own names would not be read back."""
    for channel in CHANNELS:
        assert understand(channel).holds == channel
        assert understand(channel.replace("_", " ").title()).holds == channel
        assert understand(WORDS[channel]).holds == channel


def test_a_unit_of_another_kind_is_a_doubt() -> None:
    """If it failed, a pressure of the coolant would be taken for its temperature."""
    assert understand("Coolant pressure [kPa]").holds == ""
    assert understand("Oil [°C]").holds == "gearbox_oil"
    assert understand("RPM [kPa]").holds == ""


@pytest.mark.parametrize("text", ["", "note", "kg", "%", "ohm", "Nm"])
def test_what_is_no_unit_of_a_log(text: str) -> None:
    """If it failed, a word in brackets would be taken for a unit."""
    assert unit_of(text) == ("", "")


def test_the_name_is_kept_whole() -> None:
    """If it failed, 'charge in' would lose the word that tells it from 'charge out'."""
    assert split_unit("cooler in °C")[0] == "cooler in"
    assert split_unit("charge in, degC")[0] == "charge in"


@pytest.mark.parametrize(
    ("role", "measurand", "channel"),
    [("coolant", "temperature", "coolant"), ("gearbox oil", "temperature", "gearbox_oil"),
     ("charge-air cooler in", "temperature", "charge_in"), ("charge-air cooler out", "temperature", "charge_out"),
     ("oil pressure", "pressure", "oil_pressure"), ("manifold pressure", "pressure", "map"), ("oil", "pressure",
     "oil_pressure"), ("rear seat", "temperature", "")],
)  # fmt: skip
def test_roles_of_probes(role: str, measurand: str, channel: str) -> None:
    """If it failed, a column headed P3 would be read as another place on the engine."""
    assert channel_of_role(role, measurand) == channel
