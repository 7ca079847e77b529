"""Trim resistors: found when put in, no worse with their tolerance than said, and what a broken probe then shows."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest

from sensorcal.errors import InputError
from sensorcal.installed.preset import curve_from_pairs, preset_error
from sensorcal.installed.trim import find_trim
from sensorcal.physics.curves import SteinhartHart
from sensorcal.physics.eseries import preferred_ohm
from tests.installed.chains import J_SH
from tests.probes import TABLE_C, TABLE_OHM

AT = np.append(np.linspace(60.0, 130.0, 141), 120.0)


class Network:
    """The probe that, with resistors, is the preset's own: what the search has to undo."""

    def __init__(self, curve, series=0.0, parallel=np.inf, order="parallel first"):
        self.curve, self.series, self.parallel, self.order = curve, series, parallel, order

    def resistance_ohm(self, temperature_c):
        """Resistance of the bare probe."""
        whole = self.curve.resistance_ohm(temperature_c)
        if self.order == "parallel first":
            return 1.0 / (1.0 / (whole - self.series) - 1.0 / self.parallel)
        return 1.0 / (1.0 / whole - 1.0 / self.parallel) - self.series


@pytest.mark.parametrize(
    ("probe", "where", "series", "parallel"),
    [
        (Network(J_SH, series=10.0), "series", 10.0, None),
        (Network(J_SH, parallel=2490.0), "parallel", None, 2490.0),
        (Network(J_SH, 12.1, 1210.0), "parallel to the probe, then series", 12.1, 1210.0),
        (Network(J_SH, 12.1, 1210.0, "series first"), "parallel to probe and series", 12.1, 1210.0),
    ],
    ids=["series", "parallel", "parallel first", "series first"],
)
def test_what_was_put_in_is_found(probe, where, series, parallel):
    """If this fails, the resistors that make the preset exact are passed over; without tolerance nothing is left."""
    found = find_trim(probe, J_SH, limit_c=120.0, tolerance_ratio=0.0)
    assert (found.where, found.series_ohm, found.parallel_ohm) == (where, series, parallel)
    assert abs(found.worst_c) < 1e-6
    assert found.untrimmed_c > 0.5


def test_a_preset_too_steep_or_too_flat():
    """If this fails, 100 K less Beta is not mended from 3.9 to 0.8 degC by a series resistor of E96."""
    probe = SteinhartHart.from_beta(3570.0, 1800.0)
    flat = SteinhartHart.from_beta(3470.0, 1800.0)
    found = find_trim(probe, flat, limit_c=120.0)
    assert found.untrimmed_c == pytest.approx(4.0, abs=0.2)
    assert found.worst_with_tolerance_c < 0.9
    assert abs(found.at_limit_c) < 0.3
    assert found.series_ohm is not None
    assert found.series_ohm in preferred_ohm("E96", 1.0, 1e4)


def test_no_resistor_helps_a_probe_that_fits():
    """If this fails, a probe that is its preset gets a resistor anyway."""
    found = find_trim(J_SH, J_SH, limit_c=120.0)
    assert found.where == "none"
    assert found.series_ohm is None
    assert found.parallel_ohm is None
    assert abs(found.worst_c) < 1e-9


@pytest.mark.parametrize("tolerance", [0.01, 0.05])
def test_tolerance_is_the_worst_of_its_corners_and_inside(tolerance):
    """If this fails, a resistor within its tolerance makes an error larger than the one that was promised."""
    probe = Network(J_SH, 12.1, 1210.0)
    found = find_trim(probe, J_SH, limit_c=120.0, tolerance_ratio=tolerance)
    worst = 0.0
    for a, b in product(np.linspace(-1.0, 1.0, 5), repeat=2):
        s = (found.series_ohm or 0.0) * (1.0 + a * tolerance)
        p = (found.parallel_ohm or np.inf) * (1.0 + b * tolerance)
        bare = probe.resistance_ohm(AT)
        whole = (bare + s) / (1 + (bare + s) / p) if "probe and" in found.where else bare / (1 + bare / p) + s
        worst = max(worst, float(np.abs(J_SH.temperature_c(whole) - AT).max()))
    assert found.worst_with_tolerance_c == pytest.approx(worst, abs=0.01)
    assert found.worst_with_tolerance_c >= abs(found.worst_c) - 1e-9


def test_every_single_resistor_was_tried():
    """If this fails, a better single resistor of the series exists than the one found."""
    probe, preset = SteinhartHart.from_beta(3570.0, 1800.0), SteinhartHart.from_beta(3400.0, 1850.0)
    found = find_trim(probe, preset, limit_c=120.0, parallel_allowed=False, tolerance_ratio=0.0)
    ohm = probe.resistance_ohm(AT)
    best = min(
        float(np.abs(preset.temperature_c(ohm + s) - AT).max()) for s in np.append(preferred_ohm("E96", 1.0, 1e5), 0.0)
    )
    assert abs(found.worst_c) == pytest.approx(best, abs=0.01)
    assert found.parallel_ohm is None


def test_error_agrees_with_the_preset():
    """If this fails, trim and preset use two kinds of error for one thing."""
    probe, preset = J_SH, SteinhartHart.from_beta(3600.0, 1850.0)
    bare = preset_error(probe, "x", preset, low_c=60.0, high_c=130.0, limit_c=120.0)
    found = find_trim(probe, preset, limit_c=120.0)
    assert found.untrimmed_c == pytest.approx(abs(bare.worst_c), abs=1e-9)


def test_a_broken_probe_no_longer_reads_open():
    """If this fails, nobody is told that with a parallel resistor a broken wire shows a believable temperature."""
    found = find_trim(Network(J_SH, parallel=2490.0), J_SH, limit_c=120.0)
    assert found.parallel_ohm is not None
    assert found.open_circuit_c == pytest.approx(float(J_SH.temperature_c(found.parallel_ohm)))
    assert 0.0 < found.open_circuit_c < 40.0
    assert find_trim(Network(J_SH, series=10.0), J_SH, limit_c=120.0, parallel_allowed=False).open_circuit_c is None
    both = find_trim(Network(J_SH, 12.1, 1210.0), J_SH, limit_c=120.0, tolerance_ratio=0.0)
    assert both.open_circuit_c == pytest.approx(float(J_SH.temperature_c(1210.0 + 12.1)))
    swapped = find_trim(Network(J_SH, 12.1, 1210.0, "series first"), J_SH, limit_c=120.0, tolerance_ratio=0.0)
    assert swapped.open_circuit_c == pytest.approx(float(J_SH.temperature_c(1210.0)))


def test_a_preset_of_pairs_is_not_left():
    """If this fails, a network is judged by a preset beyond the pairs that were typed in."""
    preset = curve_from_pairs(TABLE_C[4:], TABLE_OHM[4:])
    found = find_trim(Network(J_SH, series=10.0), preset, limit_c=120.0)
    assert found.series_ohm == pytest.approx(10.0, rel=0.1)
    # Broken, the network would lie far beyond the pairs: what is shown is not known.
    assert found.open_circuit_c is None or found.parallel_ohm is not None


def test_refusal():
    """If this fails, a band given the wrong way round is searched."""
    with pytest.raises(InputError, match="empty"):
        find_trim(J_SH, J_SH, limit_c=120.0, low_c=130.0, high_c=60.0)
