"""The page of a first start: what matters stands on top, nothing is called safe, every finding is on it."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from sensorcal.firststart.checkedlog import checked
from sensorcal.firststart.judge import judge
from sensorcal.firststart.startlog import start_log
from sensorcal.setup import UnitsOut
from sensorcal.views.startreport import (
    NO_FINDING,
    NOTHING_JUDGED,
    causes_figure,
    clock,
    headline,
    how_likely,
    start_lines,
    start_page_html,
)
from tests.firststart.soundstart import engine, low_oil, opened


def _text(page):
    """Words of a page without its pictures and marks."""
    page = re.sub(r"<(svg|style)\b.*?</\1>", " ", page, flags=re.DOTALL)
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", page)).replace("\u00a0", " ")


@pytest.fixture(scope="module")
def pages():
    """A sound start, a broken wire, low oil pressure."""
    found = {"sound": engine(), "open": engine(coolant=opened), "oil": low_oil()}
    return {name: start_page_html(checked(verdict), verdict) for name, verdict in found.items()}


def test_stop_and_check_stands_before_everything_else(pages):
    """A crossed limit under a picture is a crossed limit that nobody reads."""
    words = _text(pages["oil"])
    assert 0 < words.index("Stop and check: Oil pressure low") < words.index("not consistent with a sound engine")
    assert "mechanical gauge" in words
    assert "Stop and check" not in _text(pages["open"])


def test_a_page_without_findings_says_what_was_and_was_not_judged(pages):
    """An empty page would be read as a permission."""
    words = _text(pages["sound"])
    assert NO_FINDING in words
    assert "Not judged" in words
    assert "high power" in words
    assert "no permission for anything" in words


def test_a_log_that_lets_nothing_be_judged_says_so():
    """'No finding' over three rows would be read as a verdict on the engine."""
    few = judge(start_log([0.0, 1.0, 2.0], {"coolant": [20.0, 20.0, 20.0]}))
    lines = start_lines(checked(few))
    assert NOTHING_JUDGED in lines
    assert NO_FINDING not in lines


def test_no_page_says_safe(pages):
    """No log can say that anything is safe to fly."""
    for page in pages.values():
        assert not re.search(r"\bsafe(ly)?\b|airworth|\bOK\b", _text(page))


def test_each_finding_has_column_reason_and_next_check(pages):
    """A finding without its column or check cannot be followed up."""
    words = _text(pages["open"])
    for part in ("CLT", "open circuit", "5:01", "check next", "ohmmeter"):
        assert part in words, part
    assert "not consistent: finding 1" in words


def test_nothing_is_fetched(pages):
    """A page that needs a network is blank at the aircraft."""
    for page in pages.values():
        assert not re.search(r"(src|href)=\"(?!#)", page)
        assert "<script" not in page


def test_the_same_log_gives_the_same_page(pages):
    """Two prints that differ could not be compared."""
    verdict = low_oil()
    assert start_page_html(checked(verdict), verdict) == pages["oil"]


def test_the_bars_name_nothing_wrong_and_the_causes():
    """Bars without 'nothing wrong' would make the likeliest cause look certain."""
    done = checked(engine(coolant=opened))
    axes = causes_figure(done).axes[0]
    said = " ".join(label.get_text() for label in axes.get_yticklabels())
    assert "nothing wrong" in said
    assert "open circuit: coolant" in said


def test_lines_for_a_screen_say_the_same():
    """The screen must not be calmer than the page."""
    done = checked(low_oil())
    lines = start_lines(done)
    stop = next(i for i, line in enumerate(lines) if line.startswith("STOP AND CHECK"))
    assert stop < lines.index(headline(done))
    assert any("next:" in line for line in lines)


def test_a_crossed_limit_is_never_a_small_percentage():
    """'Under 1 %' beside a crossed limit would be read as 'it is only the sensor'."""
    first = replace(checked(low_oil()).findings[0], probability=0.001)
    assert "%" not in how_likely(first)
    assert "real until a measurement says otherwise" in how_likely(first)


def test_a_limit_crossed_beside_evidence_against_it_still_says_stop():
    """Evidence for a wiring fault earns the first rank, not silence about the limit."""
    verdict = low_oil()
    real = verdict.findings[0]
    wiring = replace(
        real, kind="swapped_oil_fuel", channels=("oil_pressure", "fuel_pressure"), crossed=False, size=(),
        evidence=("x",),
    )  # fmt: skip
    both = replace(verdict, findings=(wiring, real))
    words = _text(start_page_html(checked(both), both))
    assert "Stop and check: Oil pressure low" in words
    assert "evidence for finding 1" in words


def test_units_of_the_user_reach_the_picture():
    """A picture in °C over sentences in °F invites a wrong reading."""
    verdict = engine(coolant=opened)
    page = start_page_html(checked(verdict), verdict, UnitsOut(temperature="degF", pressure="psi"))
    assert page != start_page_html(checked(verdict), verdict)


def test_a_doubt_without_a_finding_is_said():
    """A log that is likelier faulty than sound, without one cause, must not read as a clean one."""
    verdict = engine()
    words = " ".join(start_lines(replace(checked(verdict), sound_probability=0.2)))
    assert "Something may be wrong" in words
    assert "Not enough data" in words


def test_times_are_minutes_and_seconds():
    """Seconds up to the thousands are not found on a panel clock."""
    assert clock(59.6) == "1:00"
