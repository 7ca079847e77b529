"""The chain keeps up with long logs: short form of `tests.studies.chain_speed`."""

from __future__ import annotations

import pytest

from tests.studies.chain_speed import chains, times

CHAINS = chains()


@pytest.mark.parametrize("name", CHAINS)
def test_a_tenth_of_the_work(name):
    """If this fails, a million samples take over 0.5 s each way or the draws over 2 s, even on a busy machine."""
    forward, backward, drawn, held = times(CHAINS[name], samples=100_000, draws=10_000, rounds=5)
    assert held
    # A tenth of the work in a tenth of the time, doubled for a machine that does other work.
    assert forward < 2 * 0.05
    assert backward < 2 * 0.05
    assert drawn < 2 * 0.2
