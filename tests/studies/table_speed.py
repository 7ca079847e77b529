"""Times of the best tables and their ratio to the bound: `python -m tests.studies.table_speed [--short]`."""

from __future__ import annotations

import statistics
import sys
import time

import numpy as np

from sensorcal.measure import minimax
from tests.probes import j_sh, j_spline, k_sh

GRIDS = (
    ("ohm", 1.0, 1.0), ("ohm", 1.0, 0.1), ("ohm", 0.1, 1.0), ("ohm", 0.1, 0.1),
    ("V", 0.01, 1.0), ("V", 0.01, 0.1), ("V", 0.001, 1.0), ("V", 0.001, 0.1),
)  # fmt: skip


def prepared(probe, pull_up_ohm):
    """Curves over -20..150 degC in ohm and in volts on 5 V; rows may lie 3 degC outside."""
    x = probe.resistance_ohm(np.array([153.0, 150.0, -20.0, -23.0]))
    v = 5.0 * x / (x + pull_up_ohm)
    return {
        "ohm": minimax.target(probe.temperature_c, x[1], x[2], x_low=x[0], x_high=x[3]),
        "V": minimax.target(
            lambda at: probe.temperature_c(pull_up_ohm * at / (5.0 - at)), v[1], v[2], x_low=v[0], x_high=v[3]
        ),
    }


def timed(make, rounds):
    """Median time of a few rounds, with the result."""
    times = []
    for _ in range(rounds):
        start = time.perf_counter()
        result = make()
        times.append(time.perf_counter() - start)
    return statistics.median(times), result


def main(*, short: bool = False) -> list[tuple[str, float, float, float]]:
    """Print the figures; return (what, seconds, ratio to bound, proven gap)."""
    found = []
    probes = (("J", j_spline(), 1000.0),) if short else (
        ("J", j_spline(), 1000.0), ("J-SH", j_sh(), 1000.0), ("K", k_sh(), 2200.0),
    )  # fmt: skip
    rounds = 1 if short else 3
    print("probe unit step      rows  worst degC  rows used  x bound  proven gap  s")
    for name, probe, pull_up_ohm in probes:
        curves = prepared(probe, pull_up_ohm)
        for unit, curve in curves.items():
            for rows in (16,) if short else (5, 8, 10, 12, 16, 20, 32):
                seconds, best = timed(lambda c=curve, n=rows: minimax.best_unrounded(c, n), rounds)
                ratio = abs(best.worst_error) / best.bound
                print(
                    f"{name:5} {unit:4} unrounded {rows:3} {abs(best.worst_error):10.4f} {'':10} "
                    f"{ratio:8.4f} {'':10} {seconds:.3f}"
                )
                found.append((f"{name} {unit} unrounded {rows}", seconds, ratio, ratio - 1))
        for unit, gx, gy in GRIDS[:6] if short else GRIDS:
            for rows in (16,) if short else (5, 8, 12, 16, 20, 32):
                seconds, best = timed(
                    lambda c=curves[unit], x=gx, y=gy, n=rows: minimax.best_on_grid(c, n, x_step=x, y_step=y, gap=0.01),
                    rounds,
                )
                error = abs(best.worst_error)
                print(
                    f"{name:5} {unit:4} {gx:g} x {gy:g} {rows:6} {error:10.4f} {best.x.size:8} "
                    f"{error / best.bound:10.3f} {error / best.proven - 1:10.1e} {seconds:.2f}"
                )
                found.append(
                    (f"{name} {unit} {gx:g} x {gy:g} {rows}", seconds, error / best.bound, error / best.proven - 1)
                )
    return found


if __name__ == "__main__":
    main(short="--short" in sys.argv[1:])
