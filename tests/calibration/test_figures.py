"""Three figures a check: the table itself and the verdicts on either side of each figure."""

from __future__ import annotations

import pytest

from sensorcal.calibration.figures import FIGURES, figures_of, judge
from sensorcal.errors import InputError

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
