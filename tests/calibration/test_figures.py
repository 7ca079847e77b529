"""Three figures a check: the table itself and the verdicts on either side of each figure."""

from __future__ import annotations

import pytest

from sensorcal.calibration.figures import AT_REST, FIGURES, LOAD_STEP, RUNNING, figures_of, judge, kind_of_channel
from sensorcal.engine import JUDGED
from sensorcal.errors import InputError
from sensorcal.firststart.channels import TOLERANCE

MAP_AT_REST = figures_of("map", "at rest against station pressure")


def test_every_line_rises():
    """A check would be worth acting on before it can be measured, or stop before it is worth acting on."""
    names = [(figures.channel, figures.check) for figures in FIGURES]
    assert len(set(names)) == len(names)
    for figures in FIGURES:
        assert 0.0 < figures.measurable < figures.worth_acting
        assert figures.stop is None or figures.stop > figures.worth_acting
        assert figures.source


@pytest.mark.parametrize(
    ("difference_pa", "verdict", "close"),
    [(150.0, "agrees", False), (-500.0, "measurable", False), (950.0, "measurable", True),
     (1_050.0, "worth-acting", True), (-2_000.0, "worth-acting", False),
     (3_100.0, "stop", True), (-6_300.0, "stop", False)],
)  # fmt: skip
def test_verdicts_of_the_manifold_sensor(difference_pa, verdict, close):
    """A difference would be judged by the wrong figure, or a close call passed off as a clear one."""
    for u_pa in (None, 200.0 / 1.96):
        found = judge(MAP_AT_REST, difference_pa, u_pa)
        assert (found.verdict, found.close) == (verdict, close)


def test_a_worse_instrument_sees_less():
    """A difference within a large uncertainty would be acted on."""
    assert judge(MAP_AT_REST, 1_100.0, 700.0).verdict == "agrees"


def test_unknown_check():
    """A misspelt check would be judged by another's figures."""
    with pytest.raises(InputError, match="no figures for map: at idle"):
        figures_of("map", "at idle")


@pytest.mark.parametrize("channel", JUDGED)
def test_every_channel_of_the_engine_has_its_figures(channel):
    """A channel would be judged by numbers that stand in some other place, or by none."""
    kind = kind_of_channel(channel)
    for check in (AT_REST[kind], RUNNING, LOAD_STEP):
        assert figures_of(kind, check).worth_acting > 0.0
    assert TOLERANCE[channel] == figures_of(kind, RUNNING).worth_acting


def test_figures_of_the_job_map():
    """Job-map 9.12: the example rows would differ from what the builder was told."""
    told = {
        ("temperature", "cold-soak pair"): (0.3, 2.0, None),
        ("temperature", "cold soak against outside air"): (0.9, 3.0, None),
        ("map", "at rest against station pressure"): (200.0, 1_000.0, 3_000.0),
        ("loop", "resistance change"): (0.5, 2.0, None),
    }
    for (channel, check), three in told.items():
        found = figures_of(channel, check)
        assert (found.measurable, found.worth_acting, found.stop) == three
