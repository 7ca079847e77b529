"""A log at once equals the laws one by one, in every block; samples that cannot be are refused or counted."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from sensorcal.errors import InputError
from sensorcal.physics import atmosphere, manifold
from sensorcal.physics.manifoldlog import _BLOCK, manifold_log
from tests.studies.log_speed import a_log, study


def the_laws(map_pa, ambient_pa, charge_c):
    """Each column from the law of its own."""
    return {
        "boost_pa": manifold.boost_pa(map_pa, ambient_pa),
        "pressure_ratio": manifold.pressure_ratio(map_pa, ambient_pa),
        "sea_level_map_pa": manifold.sea_level_map_pa(map_pa, ambient_pa),
        "pressure_altitude_m": atmosphere.pressure_altitude_m(ambient_pa),
        "density_kg_m3": manifold.charge_density_kg_m3(map_pa, charge_c),
    }


@pytest.mark.parametrize("samples", [1, _BLOCK - 1, _BLOCK, _BLOCK + 1, 2 * _BLOCK + 7])
def test_a_log_equals_its_laws(samples):
    """The last or first sample of a block would be computed from its neighbours or left empty."""
    frame = a_log(samples)
    m, a, t = (frame[name].to_numpy() for name in ("map_pa", "ambient_pa", "charge_c"))
    for ambient in (a, 93_470.0):
        log = manifold_log(m, ambient_pa=ambient, charge_c=t)
        for name, column in the_laws(m, ambient, t).items():
            expected = np.broadcast_to(column, (samples,))
            np.testing.assert_allclose(log.columns()[name], expected, rtol=1e-14, atol=1e-9)
            assert not log.columns()[name].flags.writeable


def test_shapes_and_single_numbers():
    """Several engines side by side, or one reading, would lose their shape."""
    two = manifold_log(np.full((2, 3), 9e4), ambient_pa=9.5e4, charge_c=[10.0, 20.0, 30.0])
    assert two.density_kg_m3.shape == (2, 3)
    assert two.density_kg_m3[1].tolist() == two.density_kg_m3[0].tolist()
    one = manifold_log(9e4, ambient_pa=9.5e4, charge_c=10.0)
    assert one.boost_pa.shape == ()
    assert float(one.boost_pa) == -5_000.0
    assert manifold_log([], ambient_pa=9.5e4, charge_c=10.0).boost_pa.size == 0


def test_columns_go_back_into_their_frame():
    """A frame's rows would not meet again when the results are assigned to it."""
    frame = a_log(5).set_index(pd.date_range("2026-05-02", periods=5, freq="s"))
    log = manifold_log(frame["map_pa"], ambient_pa=frame["ambient_pa"], charge_c=frame["charge_c"])
    joined = frame.assign(**log.columns())
    assert joined.index.equals(frame.index)
    assert not joined.isna().any().any()
    np.testing.assert_array_equal(joined["boost_pa"], frame["map_pa"] - frame["ambient_pa"])


def test_a_sample_that_cannot_be_is_named():
    """One glitch deep in a log would pass, or be refused without telling where."""
    m = np.full(3 * _BLOCK, 9e4)
    m[2 * _BLOCK + 4] = -1.0
    with pytest.raises(InputError, match=rf"map_pa -1 Pa \(value {2 * _BLOCK + 5} of {3 * _BLOCK}\)"):
        manifold_log(m, ambient_pa=9.5e4, charge_c=20.0)
    with pytest.raises(InputError, match="charge_c 999 °C"):
        manifold_log(m[:10], ambient_pa=9.5e4, charge_c=np.full(10, 999.0))
    with pytest.raises(InputError, match=r"ambient_pa 29\.92 Pa"):
        manifold_log(m[:10], ambient_pa=29.92, charge_c=20.0)
    with pytest.raises(InputError, match="'drop' is not known"):
        manifold_log(m[:10], ambient_pa=9.5e4, charge_c=20.0, outside="drop")


def test_blanked_samples_are_counted():
    """Samples taken as missing would vanish without a word, or take good quantities with them."""
    log = manifold_log([9e4, -1.0, np.nan, 9e4], ambient_pa=9.5e4, charge_c=[20.0, 20.0, 20.0, 999.0], outside="blank")
    assert log.blanked == (("map_pa", 1), ("charge_c", 1))
    assert np.isnan(log.boost_pa).tolist() == [False, True, True, False]
    assert np.isnan(log.density_kg_m3).tolist() == [False, True, True, True]
    assert not np.isnan(log.pressure_altitude_m).any()


def test_five_million_samples_short_form():
    """A long log would take clearly longer than plain pandas columns, or give other numbers; full form: the study."""
    ours, theirs, difference = study(5_000_000, 3)
    assert difference < 1e-12
    # The quickest round of each, because other work on the machine can only add; measured 1.5 to 3.
    assert float(theirs.min() / ours.min()) > 0.8
    assert float(ours.min()) < 1.0  # half the samples in half of the 2 s allowed
