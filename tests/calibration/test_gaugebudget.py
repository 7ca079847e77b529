"""Gauge classes and the hot body: the figures a builder sees before buying a gauge."""

from __future__ import annotations

import pytest

from sensorcal.calibration.gaugebudget import gauge_budget
from sensorcal.errors import InputError

# The project's own budget table (estimates, no outside source): class, gauge range, transducer range, u, U, gauge share
TABLE = [
    (0.0025, 1e6, 1e6, 1.9, 3.8, 0.58),
    (0.005, 1e6, 1e6, 3.2, 6.5, 0.80),
    (0.01, 1e6, 1e6, 6.1, 12.3, 0.88),
    (0.005, 400e3, 600e3, 1.6, 3.2, 0.52),
]


@pytest.mark.parametrize(("grade", "gauge_range", "range_pa", "u", "expanded", "share"), TABLE)
def test_gauge_classes(grade, gauge_range, range_pa, u, expanded, share):
    """A full width taken for a half-width, or a standard for an expanded u, would double or halve these."""
    found = gauge_budget(gauge_range_pa=gauge_range, gauge_class_ratio=grade, transducer_range_pa=range_pa)
    assert found.u_pa / 1000 == pytest.approx(u, abs=0.05)
    assert found.expanded_pa / 1000 == pytest.approx(expanded, abs=0.05)
    assert found.share("gauge") == pytest.approx(share, abs=0.006)


@pytest.mark.parametrize(("half_width", "expanded"), [(10e3, 13), (20e3, 24), (30e3, 35)])
def test_hot_body(half_width, expanded):
    """A hot body left out of the budget would promise 6.5 kPa where 13 to 35 is true."""
    found = gauge_budget(
        gauge_range_pa=1e6, gauge_class_ratio=0.005, transducer_range_pa=1e6, body_effect_pa=half_width
    )
    assert round(found.expanded_pa / 1000) == expanded
    assert found.lines[0].identifier == "body"


def test_a_gauge_without_class_is_refused():
    """A class of zero would make the gauge perfect."""
    with pytest.raises(InputError, match="gauge_class_ratio"):
        gauge_budget(gauge_range_pa=1e6, gauge_class_ratio=0.0, transducer_range_pa=1e6)
