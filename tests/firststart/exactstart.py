"""The demo's invented start on an ideal panel, so that only the fault stands between a log and its twin."""

from __future__ import annotations

import dataclasses
from functools import lru_cache

from sensorcal.engine import PRESSURES, TEMPERATURES
from sensorcal.firststart.digital import signs
from sensorcal.firststart.facts import start_facts
from sensorcal.firststart.phases import find_phases
from sensorcal.firststart.simulate import simulate_start
from sensorcal.firststart.simulate_demo import demo_case
from sensorcal.firststart.summary import summarise
from sensorcal.firststart.windows import windows

BOTH = (*TEMPERATURES, *PRESSURES)


@lru_cache(maxsize=1)
def exact_case():
    """No noise, no calibration errors, 26 bits, hardly a display step, straight thermistors, fast probes."""
    case = demo_case()
    nil = dict.fromkeys(BOTH, 0.0)
    panel = dataclasses.replace(
        case.panel, bits=26, curvature_k2=0.0, scale_error=nil, offset_k=nil, zero_pa=nil, span_ratio=nil, hot_pa=nil,
        step={**case.panel.step, **dict.fromkeys(TEMPERATURES, 1e-3), **dict.fromkeys(PRESSURES, 1.0)},
        noise=dict.fromkeys(case.panel.noise, 0.0), air_w_per_k=1.0, liquid_w_per_k=1.0,
        lag_s={**case.panel.lag_s, **dict.fromkeys(TEMPERATURES, 2.0)}, scale_c=(-60.0, 250.0),
    )  # fmt: skip
    return dataclasses.replace(case, panel=panel)


def exact_facts():
    """What the builder of that start wrote down."""
    return start_facts(exact_case().setup)


def view_of(log, phases=None):
    """Blocks and windows of a log by the phases given: a fault must not move the windows of its twin."""
    facts = exact_facts()
    found = phases or find_phases(log)
    return windows(log, found, facts, signs(log, found, facts))


def rows_of(log, phases=None):
    """Medians of a log by window."""
    return dict(summarise(view_of(log, phases)).rows)


def pair_of(fault):
    """Rows with the fault and without, in the same windows."""
    start = simulate_start(exact_case(), fault)
    phases = find_phases(start.twin)
    return rows_of(start.log, phases), rows_of(start.twin, phases)
