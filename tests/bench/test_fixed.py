"""Fixed points by name, and the typed 100 degC."""

import math

import pytest

from sensorcal.bench.fixed import fixed_point, questions_about_run, require_answers
from sensorcal.bench.run import Reading, Run
from sensorcal.errors import InputError
from sensorcal.setup import Field, Keep, Setup
from sensorcal.setupfile import setup_from_text

HERE = Setup(field=Field(elevation_m=640.0, qnh_pa=100_900.0, station_elevation_m=610.0))
SEA = Setup(field=Field(elevation_m=0.0, qnh_pa=101_325.0, station_elevation_m=0.0))


def _typed(value: float, **words: str) -> Run:
    return Run(readings=(Reading(file_row=7, reference=value, signals={"P1": 172.0}, **words),))


def test_ice_and_steam() -> None:
    """Ice or steam by name would not be what they are here (97.73 degC: scenario of the issue, by IF97)."""
    assert fixed_point("ice", HERE).temperature_c == 0.0
    steam = fixed_point("steam", HERE)
    assert steam.temperature_c == pytest.approx(97.73, abs=0.005)
    assert 2 * steam.u_c <= 0.05  # from pressure alone
    with pytest.raises(InputError, match="ice"):
        fixed_point("kettle", HERE)


def test_steam_needs_the_weather() -> None:
    """Without elevation and QNH the boiling point would be assumed."""
    with pytest.raises(InputError, match="elevation"):
        fixed_point("steam", Setup())


def test_typed_hundred_is_questioned_with_its_size() -> None:
    """100 degC would be taken for the steam where water boils at 97.73."""
    (question,) = questions_about_run(_typed(100.0, point="steam"), HERE)
    assert question.code == "steam-100"
    assert question.size_c == pytest.approx(2.27, abs=0.005)
    assert "row 7" in question.text
    with pytest.raises(InputError, match=r"2\.27.*write 'steam'.*keep"):
        require_answers((question,))


def test_unlabelled_hundred_is_questioned_too() -> None:
    """A 100 without a word beside it would pass."""
    assert questions_about_run(_typed(100.0), HERE)


def test_sea_level_passes() -> None:
    """At sea level on a standard day 100 is 0.03 off and needs no question."""
    assert questions_about_run(_typed(100.0, point="steam"), SEA) == ()


def test_other_typed_temperatures() -> None:
    """A bath at 60 would be questioned, or a steam typed as 95 would pass."""
    assert questions_about_run(_typed(60.0, point="bath"), HERE) == ()
    assert questions_about_run(_typed(97.7, note="steam"), HERE) == ()
    (question,) = questions_about_run(_typed(95.0, note="boiling, lid on"), HERE)
    assert question.size_c == pytest.approx(-2.73, abs=0.005)


def test_kept_with_a_reason() -> None:
    """'Keep as typed' would not be recorded, or would still stop."""
    setup = Setup(field=HERE.field, keep=(Keep(what="steam-100", reason="dry block at 100"),))
    (question,) = questions_about_run(_typed(100.0), setup)
    assert question.reason == "dry block at 100"
    require_answers((question,))


def test_hundred_without_a_field() -> None:
    """Where nothing is known of the field a typed 100 would pass unasked."""
    (question,) = questions_about_run(_typed(100.0), Setup())
    assert math.isnan(question.size_c)
    with pytest.raises(InputError, match="elevation"):
        require_answers((question,))


def _steam_run() -> Run:
    return Run(readings=(Reading(fixed="steam", signals={"P1": 172.0}),))


def test_feet_in_the_field_are_questioned() -> None:
    """2100 ft typed as metres would put the steam point 4.9 degC off (job's figure, recomputed by IF97)."""
    setup = Setup(field=Field(elevation_m=2100.0, qnh_pa=100_900.0, station_elevation_m=610.0))
    (question,) = questions_about_run(_steam_run(), setup)
    assert question.code == "feet"
    assert question.size_c == pytest.approx(-4.9, abs=0.05)
    with pytest.raises(InputError, match=r"correct \[field\].*keep"):
        require_answers((question,))
    assert questions_about_run(_typed(60.0, point="bath"), setup) == ()
    kept = Setup(field=setup.field, keep=(Keep(what="feet", reason="the mountain field"),))
    require_answers(questions_about_run(_steam_run(), kept))


@pytest.mark.parametrize(("elevation", "asked"), [("2100", True), ('"2100 m"', False)])
def test_high_ground_with_its_unit_is_not_questioned(elevation: str, asked: bool) -> None:
    """Somebody on high ground who wrote metres would be asked each time, or a bare 2100 never."""
    text = f'[field]\nelevation = {elevation}\nstation_elevation = "2050 m"\nqnh = "1009 hPa"'
    assert bool(questions_about_run(_steam_run(), setup_from_text(text))) is asked
