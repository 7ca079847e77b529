"""Time of a whole log beside the plain pandas way, interleaved in one run: the ratio counts, the machine may be busy.

Run `python -m tests.studies.log_speed`: ten million samples, seven rounds, needs some 2.5 GB; `--short` for a million.
The peer is what a pandas user types: one column expression a quantity, the same formulas, no checks of the input.
"""

from __future__ import annotations

import sys
import time

import numpy as np
import pandas as pd

from sensorcal.physics.manifoldlog import manifold_log

SEED = 20_260_614


def a_log(samples):
    """An invented flight: climb to 3000 m, MAP 1.2 times ambient, charge air about 40 °C; white noise on all three."""
    rng = np.random.default_rng(SEED)
    climb = np.linspace(93_470.0, 70_000.0, samples)
    return pd.DataFrame(
        {
            "map_pa": climb * 1.2 + 3_000.0 * rng.standard_normal(samples),
            "ambient_pa": climb + 50.0 * rng.standard_normal(samples),
            "charge_c": 40.0 + 5.0 * rng.standard_normal(samples),
        }
    )


def pandas_way(frame):
    """Five column expressions as typed by hand; the troposphere only."""
    n = 287.05287 * 0.0065 / 9.80665
    return pd.DataFrame(
        {
            "boost_pa": frame["map_pa"] - frame["ambient_pa"],
            "pressure_ratio": frame["map_pa"] / frame["ambient_pa"],
            "sea_level_map_pa": frame["map_pa"] / (frame["ambient_pa"] / 101_325.0),
            "pressure_altitude_m": 288.15 / 0.0065 * (1.0 - (frame["ambient_pa"] / 101_325.0) ** n),
            "density_kg_m3": frame["map_pa"] / (287.05287 * (frame["charge_c"] + 273.15)),
        }
    )


def our_way(frame):
    """The same five columns, inputs checked."""
    return manifold_log(frame["map_pa"], ambient_pa=frame["ambient_pa"], charge_c=frame["charge_c"])


def largest_difference(frame):
    """Largest relative difference between the two, over all columns (altitude: relative to 1000 m)."""
    ours, theirs = our_way(frame).columns(), pandas_way(frame)
    worst = 0.0
    for name in theirs:
        size = 1_000.0 if name == "pressure_altitude_m" else float(np.abs(theirs[name]).max())
        worst = max(worst, float(np.abs(ours[name] - theirs[name]).max()) / size)
    return worst


def study(samples, rounds):
    """Seconds of each round: ours, theirs; the two take turns within a round."""
    frame = a_log(samples)
    ours, theirs = [], []
    for number in range(rounds):
        for way, seconds in ((our_way, ours), (pandas_way, theirs))[:: 1 if number % 2 else -1]:
            begin = time.perf_counter()
            result = way(frame)
            seconds.append(time.perf_counter() - begin)
            del result
    return np.array(ours), np.array(theirs), largest_difference(frame)


def main(arguments):
    """Print one line a figure."""
    samples, rounds = (1_000_000, 7) if "--short" in arguments else (10_000_000, 7)
    ours, theirs, difference = study(samples, rounds)
    print(f"{samples:,} samples, {rounds} interleaved rounds, one process")
    print(f"manifold_log   median {np.median(ours):.3f} s, slowest {ours.max():.3f} s")
    print(f"pandas columns median {np.median(theirs):.3f} s, slowest {theirs.max():.3f} s")
    print(f"ratio pandas / ours, median over the rounds {np.median(theirs / ours):.2f}")
    print(f"largest relative difference between the two {difference:.1e}")


if __name__ == "__main__":
    main(sys.argv[1:])
