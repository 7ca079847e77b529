"""The setup as data: assumptions named, impossible values refused."""

import pytest

from sensorcal.errors import InputError
from sensorcal.setup import (
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


def _names(setup: Setup) -> dict[str, str]:
    return {line.name: line.value for line in setup.assumed}


def test_empty_setup_names_what_it_assumes() -> None:
    """A default would enter a result without being named."""
    names = _names(Setup(probes={"P1": Probe(name="P1")}, references={"T1": Reference(identifier="T1")}))
    assert names["field.room_temperature"] == "20 degC"
    assert names["meter.u_gain"] == "0.29 %"
    assert names["references.T1.limits"] == "1 degC"
    assert names["probes.P1.u_repeat"] == "0.02 degC"
    assert "bath.u_gradient" in names
    assert all(line.why for line in Setup().assumed)


def test_measured_values_are_not_called_assumed() -> None:
    """A measured value would be printed as an assumption, or one no longer needed would remain."""
    setup = Setup(
        meter=Meter(leads_shorted_ohm=0.3, checks=(MeterCheck(true_ohm=470.0, read_ohm=475.0),)),
        references={"T1": Reference(identifier="T1", limits=0.5, checks=(ReferenceCheck(at="ice", reads=0.1),))},
    )
    names = _names(setup)
    assert not {"meter.leads_shorted", "meter.u_gain", "references.T1.limits", "references.T1.u_between"} & set(names)
    assert names["meter.u_lead"] == "0.03 ohm"


def test_a_stated_default_is_not_assumed() -> None:
    """Somebody who measured 20 degC in the room would be told that it was assumed."""
    assert "field.room_temperature" not in _names(Setup(stated=frozenset({"field.room_temperature"})))


@pytest.mark.parametrize(
    ("reference", "u"),
    [
        (Reference(limits=0.5), 0.5 / 3**0.5),
        (Reference(expanded_u=0.3, k=3.0), 0.1),
        (Reference(u=0.07), 0.07),
        (Reference(), 1.0 / 3**0.5),
    ],
)
def test_standard_uncertainty_of_a_reference(reference: Reference, u: float) -> None:
    """Limits, U and u would be mixed up: up to twice the uncertainty (GUM 4.3.7 and 4.3.3)."""
    assert reference.standard_u == pytest.approx(u)


def test_gauge_needs_its_limits() -> None:
    """A gauge without stated limits would get a thermometer's."""
    with pytest.raises(InputError, match="no stated uncertainty"):
        _ = Reference(identifier="G1", kind="gauge").standard_u


@pytest.mark.parametrize(
    ("read", "range_ohm", "step"),
    [(172.1, None, 0.1), (599.0, None, 0.1), (601.0, None, 1.0), (5230.0, None, 1.0), (14079.0, None, 10.0),
     (172.1, 6000.0, 1.0), (172.1, 600.0, 0.1)],
)  # fmt: skip
def test_last_digit(read: float, range_ohm: float | None, step: float) -> None:
    """The last digit of a 6000-count display would be taken wrongly by a factor of ten."""
    assert Meter(counts=6000).resolution(read, range_ohm) == pytest.approx(step)


def test_stated_resolution() -> None:
    """A stated last digit would be overruled by the counts."""
    assert Meter(resolution_ohm=0.5).resolution(14079.0) == 0.5


@pytest.mark.parametrize(
    "make",
    [
        lambda: Reference(limits=0.5, u=0.2),
        lambda: Reference(kind="wish"),
        lambda: Reference(u=-0.1),
        lambda: Probe(model="magic"),
        lambda: Probe(prior="sheet"),
        lambda: Probe(range_low=150.0, range_high=-20.0),
        lambda: Probe(dissipation_w_per_k=0.0),
        lambda: Meter(leads_shorted_ohm=-0.3),
        lambda: Meter(counts=3),
        lambda: MeterCheck(true_ohm=0.0, read_ohm=1.0),
        lambda: MonitorSetup(past_ends="maybe"),
        lambda: MonitorSetup(rows=1),
        lambda: MonitorSetup(value_step=0.0),
        lambda: UnitsOut(temperature="kPa"),
        lambda: Keep(what="steam-100", reason=" "),
        lambda: Setup(probes={"P1": Probe(name="P2")}),
    ],
)
def test_refusals(make) -> None:
    """An impossible statement would be believed."""
    with pytest.raises(InputError):
        make()


def test_unlisted_probe_and_kept_reason() -> None:
    """A probe that the setup does not list could not be fitted, or an override would lose its reason."""
    setup = Setup(keep=(Keep(what="steam-100", reason="oil bath"),))
    assert setup.probe("P7").name == "P7"
    assert setup.reason_to_keep("steam-100") == "oil bath"
    assert not setup.reason_to_keep("feet")
