"""Coverage of U through the whole product: from the rows as written to a reading in use, at bench temperature.

Run `python -m tests.studies.pressure_whole_run` (2000 evenings a bench) or add `--short`. Six pressures up and down
against a 0.5 % gauge whose level and tilt, pointer and digits are drawn from the stated limits; the sensor's zero,
span, bow, loop and scatter with the evening. Points, terms, repeatability, loop, order of the curve and U are the
product's own. Truth: what a later reading, somewhere in the loop, is off.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass

import numpy as np

from sensorcal.bench.run import Reading, Run
from sensorcal.calibration.pressurecal import expanded_pressure_pa
from sensorcal.calibration.pressurerun import calibrate_pressure
from tests.studies.pressure_blunder_power import LIMITS_PA, POINTER_PA, REPEAT_PA, SETUP

SEED = 20_260_714
AT_PA = np.array([0.0, 200e3, 500e3, 800e3, 1e6])


@dataclass(frozen=True, slots=True, kw_only=True)
class WholeRuns:
    """Shares of evenings."""

    held: np.ndarray
    """Whose reading at each of the five pressures was within U."""
    questioned: float
    inflated: float
    bent: float
    """That got another curve than a line."""


def _evening(rng, cycles: int, bow_pa: float):
    marks = np.linspace(0.0, 1e6, 6)
    order = [(p, -1.0) for p in marks] + [(p, 1.0) for p in marks[::-1]]
    level, tilt = rng.uniform(-LIMITS_PA, LIMITS_PA), 0.5 * rng.uniform(-LIMITS_PA, LIMITS_PA)
    loop, bow = rng.uniform(0.0, 4_000.0), bow_pa * rng.uniform(-1.0, 1.0)
    zero, span = 0.1 + rng.uniform(-0.003, 0.003), 0.8 * (1.0 + rng.uniform(-0.005, 0.005))

    def ratio(p, branch):
        x = p / 1e6
        scatter = REPEAT_PA * rng.standard_normal()
        return zero + span * (p + 4.0 * x * (1.0 - x) * (bow + 0.5 * branch * loop) + scatter) / 1e6

    rows = []
    for n, (mark, branch) in enumerate(order * cycles, start=2):
        p = abs(mark + (rng.uniform(-2_000.0, 2_000.0) if mark else 0.0))
        shown = p + level + tilt * (2.0 * p / 1e6 - 1.0) + POINTER_PA * rng.uniform(-1.0, 1.0)
        rows.append(
            Reading(
                file_row=n,
                reference=round(shown / 500.0) * 500.0,
                signals={"O1": round(ratio(p, branch) * 4.93, 3)},
                supply_v=4.93,
                direction="up" if branch < 0.0 else "down",
            )
        )
    run = Run(readings=tuple(rows), measurand="pressure", signal_kinds={"O1": "voltage"})
    result = calibrate_pressure(run, SETUP, "O1")
    later = np.array([ratio(p, rng.uniform(-1.0, 1.0)) for p in AT_PA])
    error = result.calibration.pressure_pa(later) - AT_PA
    return np.abs(error) <= expanded_pressure_pa(result.calibration, AT_PA, hot_body=False), result


def whole_runs(evenings: int, *, cycles: int = 1, bow_pa: float = 1_000.0, seed: int = SEED) -> WholeRuns:
    """Play many evenings of one bench."""
    rng = np.random.default_rng([seed, cycles])
    held, questioned, inflated, bent = np.zeros(AT_PA.size), 0, 0, 0
    for _ in range(evenings):
        inside, result = _evening(rng, cycles, bow_pa)
        held += inside
        questioned += result.questioned
        inflated += result.calibration.inflation > 1.0
        bent += result.calibration.model != "line"
    return WholeRuns(
        held=held / evenings,
        questioned=questioned / evenings,
        inflated=inflated / evenings,
        bent=bent / evenings,
    )


def main() -> None:
    """Print one line a bench."""
    evenings = 300 if "--short" in sys.argv else 2_000
    print(f"{evenings} evenings; within U in % at 0, 200, 500, 800, 1000 kPa; questioned, U enlarged, bent, %")
    for cycles in (1, 2):
        found = whole_runs(evenings, cycles=cycles)
        shares = "".join(f"{100 * share:7.2f}" for share in found.held)
        others = "".join(f"{100 * share:7.2f}" for share in (found.questioned, found.inflated, found.bent))
        print(f"{cycles} cycle{'s' if cycles > 1 else ' '}{shares} |{others}", flush=True)


if __name__ == "__main__":
    main()
