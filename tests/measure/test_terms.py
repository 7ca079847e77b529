"""Terms of a budget: spread over the points, put on one axis, shared or not."""

from __future__ import annotations

import numpy as np
import pytest

from sensorcal.measure.terms import Term, split, term


def test_one_number_for_all_points():
    """A term given as one number would not reach every point, or could be changed behind the fit's back."""
    one = term("bath", 0.2, 4, common=False)
    assert one.u.tolist() == [0.2] * 4
    with pytest.raises(ValueError, match="read-only"):
        one.u[0] = 1.0
    mine = np.array([0.1, 0.2])
    kept = Term(identifier="bath", u=mine, common=False)
    mine[0] = 9.0
    assert kept.u[0] == 0.1


def test_wrong_length_is_refused():
    """A term of three points would silently be stretched over four."""
    with pytest.raises(ValueError, match="broadcast"):
        term("bath", [0.1, 0.2, 0.3], 4, common=False)


def test_split_by_hand():
    """Independent terms would not add in squares, shared ones not stay apart, or ohms not go through the slope."""
    slope = np.array([-20.0, -30.0])
    terms = (
        term("bath", [0.3, 0.4], 2, common=False),
        term("meter noise", 0.02, 2, common=False, axis="signal"),
        term("reference", 0.15, 2, common=True),
        term("gain", 0.01, 2, common=True, axis="signal"),
        term("absent", 0.0, 2, common=True),
    )
    u, common, names = split(terms, slope)
    assert u == pytest.approx([0.5, np.hypot(0.4, 0.6)])
    assert names == ("reference", "gain")
    # the sign says which way: a meter that reads high pairs each bath with too many ohms, as if it were hotter
    assert common == pytest.approx(np.array([[0.15, 0.15], [0.2, 0.3]]))


def test_no_shared_terms():
    """A budget without shared terms would break the fit's matrices."""
    u, common, names = split((term("bath", 0.1, 3, common=False),), np.ones(3))
    assert u.shape == (3,)
    assert common.shape == (0, 3)
    assert names == ()
