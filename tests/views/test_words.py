"""Words: rounding that never makes U smaller, units of the user's choice, the redline line."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sensorcal.calibration.claims import Claim
from sensorcal.views import words


@given(value=st.floats(-1e5, 1e5), expanded=st.floats(1e-6, 1e4), digits=st.integers(1, 3))
def test_rounded_u_is_never_smaller_and_at_most_one_step_larger(value: float, expanded: float, digits: int) -> None:
    """If it failed, a page would claim more than was computed, or throw accuracy away."""
    text_value, text_u = words.rounded(value, expanded, digits)
    u = Decimal(text_u)
    assert float(u) >= expanded * (1.0 - 1e-11)
    # One digit of two significant ones is at most a tenth of U, of one significant digit all of it.
    assert float(u) <= expanded * (1.0 + 10.0 ** (1 - digits)) * (1.0 + 1e-9)
    place = Decimal(text_u).as_tuple().exponent
    assert Decimal(text_value).as_tuple().exponent == place
    step = 10.0 ** (u.adjusted() - digits + 1)
    assert abs(float(text_value) - value) <= 0.5 * step + 1e-9 * abs(value)


@given(value=st.floats(-300, 300), expanded=st.floats(1e-4, 500))
def test_plain_u_is_never_smaller(value: float, expanded: float) -> None:
    """If it failed, the line at the top of the page would promise more than the table below it."""
    said = words.plainly(value, expanded, "degC", coverage=False)
    number, u = said.split(" °C ± ")
    assert float(u) >= expanded * (1.0 - 1e-11)
    assert not number.startswith("-0") or float(number) != 0.0


@pytest.mark.parametrize(
    ("value", "expanded", "unit", "said"),
    [
        (97.2341, 0.2713, "degC", "97.2 °C ± 0.3 (19 times in 20)"),
        (97.2341, 0.3, "degC", "97.2 °C ± 0.3 (19 times in 20)"),
        (97.2341, 0.1 + 0.2, "degC", "97.2 °C ± 0.3 (19 times in 20)"),
        (97.2341, 0.2713, "degF", "207.0 °F ± 0.5 (19 times in 20)"),
        (97.2341, 0.2713, "K", "370.4 K ± 0.3 (19 times in 20)"),
        (97.2341, 12.3, "degC", "97 °C ± 13 (19 times in 20)"),
        (0.0001, 0.0123, "degC", "0.000 °C ± 0.013 (19 times in 20)"),
        (-0.0001, 0.2, "degC", "0.0 °C ± 0.2 (19 times in 20)"),
        (93_470.0, 96.0, "kPa", "93.5 kPa ± 0.1 (19 times in 20)"),
    ],
)
def test_plain_words(value: float, expanded: float, unit: str, said: str) -> None:
    """If it failed, the wording a person reads first would be wrong, or have a wrong unit."""
    assert words.plainly(value, expanded, unit) == said


def claim(**changes: object) -> Claim:
    """Make a claim at a redline of 120 °C."""
    fields = {
        "temperature_c": 120.0,
        "resistance_ohm": 98.48,
        "u_c": 0.29,
        "u_statistical_c": 0.25,
        "u_form_c": 0.15,
        "expanded_c": 0.57,
        "claim_c": 1.5,
        "extrapolated": True,
        "far": False,
    }
    return Claim(**(fields | changes))


def test_redline_line_in_every_case() -> None:
    """If it failed, the one line that matters most would hide that it is extrapolated, or give no reason."""
    assert words.redline(claim(), "degC", "ohm").endswith(", extrapolated: claim ± 1.5 °C")
    assert words.redline(claim(), "degF", "kohm") == (
        "At the 248 °F redline: 0.0985 kΩ; 248.0 °F ± 1.1 (19 times in 20), extrapolated: claim ± 2.7 °F"
    )
    assert words.redline(claim(claim_c=0.57), "degC", "ohm").endswith("(19 times in 20), extrapolated")
    assert words.redline(claim(claim_c=0.57, extrapolated=False), "degC", "ohm").endswith("(19 times in 20)")
    assert words.redline(claim(far=True), "degC", "ohm").endswith("not calibrated there")
    none = claim(resistance_ohm=None, u_c=None, expanded_c=None, claim_c=None, why_not="the curve turns at 110 °C")
    assert words.redline(none, "degC", "ohm") == "At the 120 °C redline: no value, because the curve turns at 110 °C"


def test_differences_are_not_offset_by_the_unit() -> None:
    """If it failed, a shift of zero would read 32 °F."""
    assert words.shift(0.0, "degF") == "0.00 °F"
    assert words.shift(1.0, "degF", 1) == "+1.8 °F"
    assert words.margin(1.0, "degF") == "± 1.8 °F"


def test_pages_have_true_minus_signs_but_dates_and_names_keep_their_hyphens() -> None:
    """If it failed, a date or a row label on the page could not be copied or searched."""
    assert words.typeset("-20 to 2026-05-02, bath-25, P1-7") == "−20 to 2026-05-02, bath-25, P1-7"
    assert words.typeset("1.2e-03, (-4.5)") == "1.2e-03, (−4.5)"
    assert words.typeset("99.0 °C ± 0.3") == "99.0\u00a0°C ±\u00a00.3"


def test_units_as_people_write_them() -> None:
    """If it failed, pages would print degC and ohm where °C and Ω belong."""
    assert [words.unit_symbol(u) for u in ("degC", "degF", "K", "ohm", "kohm", "V", "1")] == [
        "°C", "°F", "K", "Ω", "kΩ", "V", "",
    ]  # fmt: skip
    assert words.resistance(999.96, "ohm") == "1000 Ω"
    assert words.resistance(14079.0, "kohm", symbol=False) == "14.079"


@pytest.mark.parametrize(
    ("said", "expected"),
    [
        ("the bath moved +0.3 °C a minute", "the bath moved +0.5 °F a minute"),
        ("lag of up to +0.20 °C not corrected", "lag of up to +0.36 °F not corrected"),
        ("stands 3.6 °C too high against the others", "stands 6.5 °F too high against the others"),
        ("likely the one at -20 °C (worth 1 °C)", "likely the one at -4 °F (worth 1.8 °F)"),
        ("77 °C looks like °F, likely 25 °C (worth 52 °C)", "77 °C looks like °F, likely 25 °C (worth 93.6 °F)"),
        ("up to 0.9 °C off (at 98 °C, ± 0.10)", "up to 1.6 °F off (at 208 °F, ± 0.18)"),
        ("found from 4.6 °C on", "found from 4.6 °C on"),
    ],
)
def test_sentences_change_their_degrees(said: str, expected: str) -> None:
    """If it failed, a difference would get 32 added, a temperature lose them, or an unclear number be changed."""
    assert words.in_degrees(said, "degF") == expected
    assert words.in_degrees(said, "degC") == said
