"""Wire by hand: lengths, warmth, and what is refused."""

from __future__ import annotations

import numpy as np
import pytest

from sensorcal.errors import InputError
from sensorcal.physics import wire


def test_two_lengths_of_five_metres_18_awg():
    """If this fails, 2 x 5 m of 18 AWG are not the 0.21 ohm that every wiring figure starts from."""
    ohm = wire.wire_resistance_ohm(wire.copper_ohm_per_m(wire.awg_area_m2(18)), 10.0)
    assert float(ohm) == pytest.approx(0.21, abs=0.005)


def test_worked_use_of_the_table():
    """If this fails, 3 m of two-wire 22 AWG are not 0.319 ohm at 20 degC and 0.407 ohm at 90."""
    most = wire.aircraft_wire_limits_ohm_per_m(22)[1]
    cold, hot = wire.wire_resistance_ohm(most, 6.0, [20.0, 90.0])
    assert float(cold) == pytest.approx(0.319, abs=5e-4)
    assert float(hot) == pytest.approx(0.407, abs=5e-4)


@pytest.mark.parametrize("gauge", [8, 10, 12, 14, 16, 18, 20, 22, 24])
def test_pure_copper_is_less_than_the_maximum(gauge):
    """If this fails, the limits of aircraft wire are the wrong way round."""
    least, most = wire.aircraft_wire_limits_ohm_per_m(gauge)
    assert 1.1 * least < most < 1.31 * least


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: wire.awg_diameter_m(41),
        lambda: wire.awg_diameter_m(18.5),
        lambda: wire.copper_ohm_per_m(0.0),
        lambda: wire.aircraft_wire_limits_ohm_per_m(19),
        lambda: wire.copper_factor(300.0),
        lambda: wire.wire_resistance_ohm(0.02, -1.0),
    ],
)
def test_what_is_no_wire_is_refused(wrong):
    """If this fails, a slip in gauge, area, length or temperature becomes ohms."""
    with pytest.raises(InputError):
        wrong()


def test_any_shape():
    """If this fails, a log of temperatures cannot be carried through."""
    assert wire.wire_resistance_ohm(0.02, np.ones((3, 1)), np.linspace(0, 100, 4)).shape == (3, 4)
