"""IEC 60063 preferred values: the rule of the generator against lists written down from memory."""

from __future__ import annotations

import numpy as np

from sensorcal.physics.eseries import preferred_ohm

# From memory, every value; not copied from the standard.
E24 = (10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30, 33, 36, 39, 43, 47, 51, 56, 62, 68, 75, 82, 91)
E96 = (
    100, 102, 105, 107, 110, 113, 115, 118, 121, 124, 127, 130, 133, 137, 140, 143, 147, 150, 154, 158, 162, 165, 169,
    174, 178, 182, 187, 191, 196, 200, 205, 210, 215, 221, 226, 232, 237, 243, 249, 255, 261, 267, 274, 280, 287, 294,
    301, 309, 316, 324, 332, 340, 348, 357, 365, 374, 383, 392, 402, 412, 422, 432, 442, 453, 464, 475, 487, 499, 511,
    523, 536, 549, 562, 576, 590, 604, 619, 634, 649, 665, 681, 698, 715, 732, 750, 768, 787, 806, 825, 845, 866, 887,
    909, 931, 953, 976,
)  # fmt: skip


def test_e24():
    """A value of E24 by the bare rule (260, 290, 320 ...) is in no drawer."""
    assert np.array_equal(preferred_ohm("E24", 10.0, 91.0), np.array(E24, dtype=float))


def test_e96():
    """A wrong rounding would propose a trim resistor that nobody sells."""
    assert np.array_equal(preferred_ohm("E96", 100.0, 976.0), np.array(E96, dtype=float))


def test_decades():
    """A decade missed or doubled would leave resistors out of a search."""
    values = preferred_ohm("E24", 1.0, 1e6)
    assert values.size == 6 * 24 + 1
    assert values[0] == 1.0
    assert values[-1] == 1e6
    assert (np.diff(values) > 0).all()
