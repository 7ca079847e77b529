"""Time of a fit beside the peer, interleaved in one run: ratios count, the machine may be busy.

Run `python -m tests.studies.speed` or add `--short`. The peer is `scipy.optimize.curve_fit` of 1/T with start values
close to the answer and `absolute_sigma=True`: the best that a careful user types. The lower edge of each block of
calls is taken (other work can only add time), the median over the rounds of the ratio in one round is reported.
"""

from __future__ import annotations

import sys
import timeit

import numpy as np
from scipy.optimize import curve_fit

from sensorcal.calibration.blunders import screen
from sensorcal.calibration.calibration import u_temperature_c
from sensorcal.calibration.core import fit_core
from sensorcal.calibration.thermistor import TYPICAL, fit_thermistor
from sensorcal.measure.terms import term
from tests.probes import j_sh

N = 8
PEER = "curve_fit of 1/T"


def contenders():
    """Every fit timed, by name, each a call without arguments that returns its result."""
    rng = np.random.default_rng(20_260_613)
    t_true = np.linspace(0.0, 100.0, N)
    r = j_sh().resistance_ohm(t_true)
    t = t_true + rng.normal(0.0, 0.1, N)
    u = np.full(N, 0.1)
    common = np.full((1, N), 0.15)
    inverse, u_inverse = 1.0 / (t + 273.15), u / (t + 273.15) ** 2
    start = [1.3e-3, 2.6e-4, 1.1e-7]
    plain = (term("bath", u, N, common=False),)
    bench = (
        *plain,
        term("reference", 0.15, N, common=True),
        term("meter", 0.002, N, common=False, axis="signal"),
        term("gain", 0.003, N, common=True, axis="signal"),
    )
    grid = np.linspace(-20.0, 150.0, 171)

    def law(ohm, a, b, c):
        x = np.log(ohm)
        return a + b * x + c * x**3

    return {
        PEER: lambda: curve_fit(law, r, inverse, p0=start, sigma=u_inverse, absolute_sigma=True),
        "fit_core": lambda: fit_core(t, r, u),
        "fit_core, shared reference": lambda: fit_core(t, r, u, common),
        "fit_thermistor, prior off, one term": lambda: fit_thermistor(t, r, plain, prior=None),
        "fit_thermistor, prior, 4 terms, 2 shared": lambda: fit_thermistor(t, r, bench, prior=TYPICAL),
        "the same and u at 171 temperatures": lambda: u_temperature_c(fit_thermistor(t, r, bench), grid),
        "screen, sound readings": lambda: screen(t, r, bench),
    }


def ratios(rounds: int = 9, calls: int = 60, repeats: int = 4):
    """Median time in us, and median over the rounds of the time over the peer's, of each contender."""
    every = contenders()
    for call in every.values():
        call()
    spent = {name: [] for name in every}
    for _ in range(rounds):
        for name, call in every.items():
            spent[name].append(min(timeit.repeat(call, number=calls, repeat=repeats)) / calls * 1e6)
    peer = np.array(spent[PEER])
    return {name: (float(np.median(v)), float(np.median(np.array(v) / peer))) for name, v in spent.items()}


def main() -> None:
    """Print the table."""
    rounds, calls = (7, 30) if "--short" in sys.argv else (15, 150)
    print(f"{N} points; median of {rounds} interleaved rounds; this machine is shared: read the ratios")
    for name, (us, ratio) in ratios(rounds, calls).items():
        print(f"{name:<44}{us:9.1f} us {ratio:8.3f} x peer")


if __name__ == "__main__":
    main()
