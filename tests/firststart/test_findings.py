"""Findings in words: column names, sizes in the user's units, evidence with times; nothing is explained away."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest

from sensorcal.firststart.channels import FAMILY, GENUINE, KINDS
from sensorcal.firststart.checkedlog import FITS, FITS_NOT, TOO_LITTLE, checked
from sensorcal.firststart.evidence import Asked, context_of, fitting_range, questions_of
from sensorcal.firststart.findings import MULTIPLE, findings_of
from sensorcal.firststart.healthy import healthy
from sensorcal.firststart.judge import judge
from sensorcal.firststart.real import DO_FIRST
from sensorcal.firststart.startlog import start_log
from sensorcal.firststart.summary import WINDOWS, W
from sensorcal.firststart.words import NEXT, SHORT, TITLES, in_units, where_words
from sensorcal.setup import Setup, UnitsOut
from tests.firststart.soundstart import engine, low_oil, opened


def test_nothing_found_is_an_empty_list():
    """A finding made of nothing would send somebody to take a sound engine apart."""
    assert findings_of(engine()) == ()


def test_a_finding_says_column_time_and_next_check():
    """Without column and time nobody could look it up in the log; without a next check it is mere alarm."""
    verdict = engine(coolant=opened)
    first = findings_of(verdict)[0]
    assert (first.kind, first.family, first.channel, first.rank) == ("open_circuit", "hard_electrical", "CLT", 1)
    assert first.start_s == pytest.approx(301.0, abs=2.0)
    assert first.evidence
    assert first.next_check
    assert not first.genuine
    assert first.stop_and_check == ""


def test_low_oil_pressure_says_stop_and_check_and_never_the_sensor():
    """A crossed limit that is talked away as a sensor is how engines are lost."""
    verdict = low_oil()
    first = findings_of(verdict)[0]
    assert first.genuine
    assert first.crossed
    assert first.channel == "Oil P"
    assert first.stop_and_check.startswith("Stop and check")
    said = " ".join([first.title, *(one.text for one in first.evidence)])
    assert "sensor" not in said
    assert first.size.value == pytest.approx(15.0, abs=4.0)
    assert first.size.unit == "kPa"


def test_sizes_and_sentences_stand_in_the_users_units():
    """A user who thinks in °F and psi would take 5 °C for 5 °F."""
    verdict = low_oil()
    first = findings_of(verdict, UnitsOut(temperature="degF", pressure="psi"))[0]
    assert first.size.unit == "psi"
    assert first.size.value == pytest.approx(15e3 / 6894.757, abs=0.6)
    text = " ".join(one.text for one in first.evidence)
    assert "psi" in text
    assert "kPa" not in text


def test_a_constant_scale_error_is_sized_in_degrees_and_named_by_its_undoing():
    """'Resistance off by 40 %' says little at the panel; degrees do."""
    verdict = engine(coolant=lambda x, _: x * 1.8 + 32.0)
    cause = next(one for one in verdict.weighed if (one.kind, one.channels) == ("wrong_unit", ("coolant",)))
    (unit,) = findings_of(replace(verdict, findings=(cause,)))
    assert unit.channel == "CLT"
    assert unit.size.value == pytest.approx(0.8 * np.max(verdict.log.values["coolant"] - 32.0) / 1.8 + 32.0, rel=0.1)
    assert "without this cause" in " ".join(one.text for one in unit.evidence)


def test_the_check_that_tells_most_is_the_next_one():
    """A usual look in place of a computed one would waste the minutes that the computation saves."""
    done = checked(engine(coolant=opened))
    first = done.findings[0]
    assert first.checks
    assert first.next_check == first.checks[0].text
    assert len({check.name for check in first.checks}) == len(first.checks)
    bare = findings_of(engine(coolant=opened))[0]
    assert (bare.next_check, bare.checks) == (NEXT["open_circuit"], ())


def test_causes_in_a_channel_with_a_crossed_limit_are_only_also_consistent():
    """The installation may be a second reading of a crossed limit, never a verdict beside it."""
    verdict = low_oil()
    base = verdict.findings[0]
    other = replace(base, kind="wrong_unit", crossed=False, evidence=(), lines={}, size=(), text="bar in a kPa column")
    both = findings_of(replace(verdict, findings=(base, other)))
    assert "also consistent with" in both[1].title
    assert "also consistent with" not in both[0].title


def test_several_channels_are_multiple():
    """A finding of two columns under the name of one would hide the other."""
    verdict = engine()
    base = replace(
        low_oil().findings[0], kind="swapped_charge", channels=("charge_in", "charge_out"), crossed=False, size=()
    )
    swapped = findings_of(replace(verdict, findings=(base,)))[0]
    assert (swapped.channel, swapped.columns) == (MULTIPLE, ("charge_in", "charge_out"))
    blanks = np.arange(900) % 10 == 3
    whole = engine(**dict.fromkeys(("coolant", "gearbox_oil", "charge_in", "charge_out", "oil_pressure",
                                     "fuel_pressure", "map"), lambda x, _: np.where(blanks, np.nan, x)))  # fmt: skip
    for one in findings_of(whole):
        assert (one.channel == MULTIPLE) == (len(one.channels) != 1)


def test_every_kind_has_words():
    """A kind without words would show its code to a mechanic."""
    for words in (TITLES, SHORT, NEXT):
        assert set(words) == set(KINDS)
    assert set(DO_FIRST) == set(GENUINE)
    for text in (*TITLES.values(), *NEXT.values(), *DO_FIRST.values()):
        assert not re.search(r"\bsafe\b|airworthy|only the sensor\b(?!' needs)", text)
    assert set(FAMILY) == set(KINDS)


def test_every_line_of_the_healthy_engine_can_be_said():
    """A line without words would count in a probability without ever being shown as evidence."""
    verdict = engine()
    flat = {name: np.full(len(WINDOWS), 20.0 if "p" not in name else 1e5) for name in verdict.summary.rows}
    for line in healthy(flat, context_of(verdict)):
        asked = questions_of(line, flat)
        assert asked, line
        assert all(one.window in W for one in asked)


@pytest.mark.parametrize("channel", ["coolant", "map", "oil_pressure"])
def test_the_fitting_range_is_where_the_line_itself_says_so(channel):
    """A range that were not the judge's own would show evidence that the judge never had."""
    verdict = engine()
    rows, context = verdict.summary.rows, context_of(verdict)
    line = f"{channel}.rest" if channel != "coolant" else "rest"
    asked = Asked(channel=channel, window="rest", words="")
    low, high = fitting_range(line, asked, rows, context)
    row = rows[channel]

    def value(at):
        changed = row.copy()
        changed[W["rest"]] = at
        return float(healthy({**rows, channel: changed}, context)[line])

    inside, width = value(0.5 * (low + high)), high - low
    for edge, out in ((low, low - 0.2 * width), (high, high + 0.2 * width)):
        assert value(edge) == pytest.approx(inside - 1.8, abs=0.5)
        assert value(out) < inside - 1.8


def test_a_sentence_in_fahrenheit_converts_differences_as_differences():
    """'Rises of more than 5 °C' is 9 °F and not 41."""
    text = "coolant at 110 °C, 5 °C below its limit: 2 quick rises of more than 5 °C within 3 s"
    said = in_units(text, UnitsOut(temperature="degF"))
    assert said == "coolant at 230 °F, 9.0 °F below its limit: 2 quick rises of more than 9.0 °F within 3 s"


def test_where_words_name_groups():
    """Four names in a row where 'all four temperatures' is meant are not read."""
    assert where_words(("coolant", "gearbox_oil", "charge_in", "charge_out", "map")) == (
        "all four temperatures and manifold pressure"
    )


def test_what_could_not_be_judged_is_said():
    """Silence about a missing run-up would read as a clean bill of it."""
    verdict = engine()
    done = checked(verdict)
    assert not done.findings
    assert any("high power" in text for text in done.not_judged)
    assert {one.verdict for one in done.judged.values()} <= {FITS, TOO_LITTLE}
    few = judge(start_log(np.arange(30.0), {"coolant": np.full(30, 20.0)}), Setup())
    short = checked(few)
    assert any("oil pressure" in text and "no column" in text for text in short.not_judged)
    assert any("does not show it running" in text for text in short.not_judged)
    assert short.judged["coolant"].verdict == TOO_LITTLE


def test_a_channel_with_a_finding_is_not_consistent():
    """The table of channels and the list of findings must not contradict each other."""
    done = checked(engine(coolant=opened))
    assert done.judged["coolant"].verdict == FITS_NOT
    assert done.judged["coolant"].findings == (1,)
    assert done.judged["map"].verdict == FITS
