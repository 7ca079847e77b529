"""The one rule in all its branches: nothing explains away real trouble but positive evidence."""

from __future__ import annotations

import pytest

from sensorcal.firststart.cause import Cause
from sensorcal.firststart.channels import GENUINE
from sensorcal.firststart.healthy import Context, healthy
from sensorcal.firststart.real import DO_FIRST, LINES, STOP, Trouble
from sensorcal.firststart.realfirst import contradicts, real_first
from sensorcal.firststart.simulate import simulate_start

from .exactstart import exact_case, exact_facts, rows_of
from .soundstart import engine, fallen, opened

OIL, COOLANT, FUEL = "oil_pressure", "coolant", "fuel_pressure"
MUCH = 30.0  # far beyond what any of the thresholds is tuned to
BAD = {"oil_pressure.level": -20.0, "coolant.plateau": -20.0, "fuel_pressure.level": -20.0}


def real(kind="low_oil_pressure_real", channel=OIL, *, crossed=True, support=0.0, start_s=100.0):
    """Trouble as the channels show it."""
    return Trouble(
        kind=kind, channel=channel, crossed=crossed, support=support, evidence=("shown",), start_s=start_s,
        end_s=start_s + 60.0, worst=1.0,
    )  # fmt: skip


def cause(kind, channels, lines=None, **more):
    """A cause in the installation, with what each line gains by it."""
    return Cause(kind=kind, channels=channels, support=MUCH, lines=lines or {}, rows={}, **more)


def kinds(found, troubles, weighed=None, lines=None):
    """Kinds by rank after the rule."""
    ranked = real_first(found, troubles, found if weighed is None else weighed, BAD if lines is None else lines)
    return [one.kind for one in ranked]


def test_a_crossed_limit_stands_before_a_cause_that_merely_fits():
    """If it failed, low oil pressure would be sent to the wiring because a unit happens to fit its level."""
    fit = cause("wrong_unit", (OIL,), {"oil_pressure.level": 40.0, "oil_pressure.idle": 20.0})
    assert kinds([fit], [real()])[0] == "low_oil_pressure_real"


def test_a_crossed_limit_is_reported_though_nothing_else_was_found():
    """If it failed, a limit crossed in an otherwise sound log would be silent."""
    assert kinds([], [real()]) == ["low_oil_pressure_real"]


def test_a_pattern_needs_support_and_a_crossed_limit_none():
    """If it failed, a faint pattern would ground an aeroplane, or a strong one would be dropped."""
    weak = real("coolant_airlock_real", COOLANT, crossed=False, support=0.5)
    strong = real("coolant_airlock_real", COOLANT, crossed=False, support=MUCH)
    assert kinds([], [weak]) == []
    assert kinds([], [strong]) == ["coolant_airlock_real"]


@pytest.mark.parametrize(
    ("rival", "channel", "why"),
    [
        (cause("short_circuit", (COOLANT,), hard=True), COOLANT, "a rail"),
        (cause("open_circuit", (OIL,), hard=True), OIL, "a rail"),
        (cause("wrong_curve", (COOLANT,), fits_cold=True), COOLANT, "far from a cold engine, and on it when undone"),
        (cause("wrong_pullup", (COOLANT, "gearbox_oil"), {"rest": MUCH}), COOLANT, "seen before the start"),
        (cause("ref_sag", (OIL,), {"oil_pressure.rest": MUCH}), OIL, "its own zero"),
        (cause("ref_sag", (OIL, "map"), {"map.rest": MUCH}), OIL, "the air's pressure at rest"),
        (cause("wrong_reference_type", (OIL,), {"oil_pressure.again": MUCH}), OIL, "its zero after the stop"),
        (cause("ground_offset", (COOLANT,), {"coolant.start_step": MUCH}), COOLANT, "steps with the current"),
        (cause("swapped_oil_fuel", (OIL, FUEL), {"fuel_pressure.rest": MUCH}), OIL, "whole behaviour exchanged"),
        (cause("channel_slip", (COOLANT, "charge_in"), {"charge.order": MUCH}), COOLANT, "others put right"),
    ],
)  # fmt: skip
def test_positive_evidence_contradicts(rival, channel, why):
    """If it failed, a fault of the sensor that is proven would stop the first flight for the engine's sake."""
    kind = "low_oil_pressure_real" if channel == OIL else "overheat_real"
    assert contradicts(rival, channel, BAD), why
    ranked = kinds([rival], [real(kind, channel)])
    assert ranked[0] == rival.kind, why
    assert kind in ranked, "contradicted trouble stays in the list"


@pytest.mark.parametrize(
    ("rival", "channel"),
    [
        (cause("wrong_unit", (OIL,), {"oil_pressure.level": MUCH, "oil_pressure.idle": MUCH}, low=True), OIL),
        (cause("wrong_curve", (COOLANT,), {"coolant.plateau": MUCH, "coolant.rate": MUCH}), COOLANT),
        (cause("contact_resistance", (COOLANT,), {"coolant.too_hot": MUCH, "coolant.soak": MUCH}), COOLANT),
        (cause("channel_slip", (COOLANT, "gearbox_oil"), {"coolant.plateau": MUCH}), COOLANT),
        (cause("stuck", (COOLANT,)), COOLANT),
        (cause("intermittent", (COOLANT,), hard=True), COOLANT),
        (cause("dropouts", (OIL,), hard=True), OIL),
        (cause("noise", (OIL,)), OIL),
        (cause("wrong_unit", (FUEL,), {"fuel_pressure.level": 20.0}, exact=False), FUEL),
    ],
)  # fmt: skip
def test_a_mere_fit_does_not_contradict(rival, channel):
    """If it failed, a story about a sensor that merely fits the trouble's own lines would silence it."""
    kind = {OIL: "low_oil_pressure_real", FUEL: "low_fuel_pressure_real"}.get(channel, "overheat_real")
    assert not contradicts(rival, channel, BAD)
    assert kinds([rival], [real(kind, channel)])[0] == kind


@pytest.mark.parametrize(("left", "proven"), [(0.0, True), (-10.0, False)])
def test_a_typed_regulator_met_exactly_by_one_unit_is_evidence(left, proven):
    """If it failed, fuel in psi under kPa would ground the aeroplane, or any unit that comes near would clear it."""
    lines = {"fuel_pressure.level": -20.0, "fuel_pressure.power": -15.0}
    gains = {"fuel_pressure.level": 20.0, "fuel_pressure.power": 15.0 + left}
    psi = (0.1450377,)
    rival = cause("wrong_unit", (FUEL,), gains, exact=True, size=psi)
    assert contradicts(rival, FUEL, lines) is proven
    assert not contradicts(cause("wrong_unit", (FUEL,), gains, exact=False, size=psi), FUEL, lines)
    # A ratio that no usual slip gives is a fit among many: a failing pump may meet it as well.
    assert not contradicts(cause("wrong_unit", (FUEL,), gains, exact=True, size=(0.4912,)), FUEL, lines)


def test_evidence_in_another_channel_clears_nobody():
    """If it failed, an open coolant wire would excuse oil pressure that is low."""
    rival = cause("open_circuit", (COOLANT,), hard=True)
    ranked = kinds([rival], [real()])
    assert ranked == ["low_oil_pressure_real", "open_circuit"]


def test_a_proven_cause_is_named_though_another_was_found():
    """If it failed, trouble would be put aside for a cause that the reader never sees."""
    rival = cause("ground_offset", (COOLANT,), {"coolant.start_step": MUCH})
    ranked = kinds([], [real("overheat_real", COOLANT)], weighed=[rival])
    assert ranked == ["ground_offset", "overheat_real"]


def test_oil_that_reads_low_through_a_unit_is_trouble_first():
    """If it failed, oil pressure that reads a seventh would be 'psi under kPa' and nobody would stop."""
    low = cause("wrong_unit", (OIL,), {"oil_pressure.level": MUCH}, low=True)
    weighed = [low, cause("low_oil_pressure_real", (OIL,))]
    assert kinds([low], [], weighed)[0] == "low_oil_pressure_real"


def test_oil_that_reads_high_through_a_unit_stops_nobody():
    """If it failed, a wrong unit that shows too much would be taken for low pressure."""
    high = cause("wrong_unit", (OIL,), {"oil_pressure.level": MUCH}, low=False)
    assert kinds([high], [], [high, cause("low_oil_pressure_real", (OIL,))]) == ["wrong_unit"]


def test_erratic_coolant_stands_before_the_limit_it_leads_to():
    """If it failed, the reader would learn of the heat and not of the air that hides it."""
    heat = real("overheat_real", COOLANT, start_s=50.0)
    vapour = real("coolant_airlock_real", COOLANT, crossed=False, support=MUCH, start_s=200.0)
    assert kinds([], [heat, vapour]) == ["coolant_airlock_real", "overheat_real"]


def test_trouble_stands_by_its_time_and_once():
    """If it failed, the later of two troubles would stand first, or one of them twice."""
    late, early = real(start_s=300.0), real("low_fuel_pressure_real", FUEL, start_s=20.0)
    found = [cause("low_oil_pressure_real", (OIL,))]
    assert kinds(found, [late, early]) == ["low_fuel_pressure_real", "low_oil_pressure_real"]


def test_trouble_tells_what_the_channel_showed():
    """If it failed, the first finding would lack its time, its size, or that a limit was crossed."""
    first = real_first([], [real()], [cause("low_oil_pressure_real", (OIL,))], BAD)[0]
    assert (first.start_s, first.end_s, first.size, first.crossed) == (100.0, 160.0, (1.0,), True)
    assert first.evidence == ("shown",)
    assert first.support == MUCH


def test_every_trouble_has_its_lines_and_its_first_words():
    """If it failed, a kind of trouble would be weighed by nothing, or reported without the words 'stop and check'."""
    facts = exact_facts()
    context = Context(facts=facts, ambient_c=14.0, u_ambient_c=1.5, resolution={})
    known = set(healthy(rows_of(simulate_start(exact_case()).log), context))
    assert set(LINES) == set(DO_FIRST) == set(GENUINE)
    for kind in GENUINE:
        assert set(LINES[kind]) <= known, kind
        assert DO_FIRST[kind].startswith(STOP), kind


def test_in_a_log_low_oil_is_first_beside_a_broken_wire():
    """If it failed, two things wrong at once would hide the one that ruins the engine."""
    found = engine(oil_pressure=fallen, charge_in=opened).findings
    assert [one.kind for one in found][:2] == ["low_oil_pressure_real", "open_circuit"]
