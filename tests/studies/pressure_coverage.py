"""Do the stated intervals of a pressure sensor hold the truth as often as they say? Simulated evenings.

Run `python -m tests.studies.pressure_coverage` (2000 evenings a bench) or add `--short`. An evening draws, from the
stated distributions, one level and one tilt of the gauge for the whole run, a supply that was read once, the pointer
and voltmeter of each reading and the sensor's scatter; then the sensor is used: somewhere in its loop, with a body as
hot as it happens to be, its zero where the last cycle left it. The fit and both intervals are the product's own.
Truth: what a later reading is off, at the zero, over the span, and at 20, 50 and 80 % of range.
"""

from __future__ import annotations

import math
import sys
from dataclasses import dataclass

import numpy as np

from sensorcal.calibration.pressure import fit_pressure
from sensorcal.calibration.pressurecal import UseTerm
from sensorcal.calibration.pressureintervals import pressure_intervals
from sensorcal.measure.terms import term

SEED = 20_260_712
HIGH_PA = 1_000_000.0
RATIO_PER_PA = 0.8e-6
SHARES = (0.2, 0.5, 0.8)
NAMES = ("zero", "span", "20 %", "50 %", "80 %")
ROOT3 = math.sqrt(3.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class PressureEvening:
    """Half-widths (rectangular) in Pa unless a standard deviation is named."""

    name: str
    gauge_pa: float = 5_000.0
    tilt: float = 0.5
    pointer_pa: float = 1_500.0
    repeat_sd_pa: float = 1_000.0
    loop_pa: float = 2_100.0
    """Full width in the middle of the range."""
    supply_ratio: float = 0.002
    """Half-width of the drift of a supply read once, relative."""
    body_pa: float = 20_000.0
    zero_return_pa: float = 500.0
    cycles: int = 1

    def pressures(self):
        """Six up and six down, each cycle."""
        up = np.linspace(0.0, HIGH_PA, 6)
        return np.tile(np.concatenate([up, up[::-1]]), self.cycles)

    def arch(self, pressure_pa):
        """Form of the loop."""
        x = np.asarray(pressure_pa) / HIGH_PA
        return 4.0 * x * (1.0 - x)


HARD = PressureEvening(name="0.5 % gauge, hot body ± 20 kPa")
BENCH = PressureEvening(name="0.5 % gauge, bench temperature", body_pa=0.0)
FINE = PressureEvening(
    name="0.05 % gauge, two cycles, large loop",
    gauge_pa=500.0,
    pointer_pa=100.0,
    repeat_sd_pa=300.0,
    loop_pa=6_000.0,
    supply_ratio=0.0005,
    body_pa=2_000.0,
    cycles=2,
)
BENCHES = (HARD, BENCH, FINE)


def _play(evening: PressureEvening, rng, draws: int, seed: int):
    """One evening: errors of five later quantities, with both intervals for each."""
    p = evening.pressures()
    n = p.size
    ways = ("up",) * 6 + ("down",) * 6
    directions = ways * evening.cycles
    sign = np.array([{"up": -0.5, "down": 0.5}[way] for way in directions])
    ratio_true = 0.1 + RATIO_PER_PA * p
    tilt = evening.tilt * (2.0 * p / HIGH_PA - 1.0)
    # what the bench does: shown gauge = true + error; shown ratio = true ratio off by the supply's drift
    gauge = evening.gauge_pa * (rng.uniform(-1, 1) + tilt * rng.uniform(-1, 1))
    shown_p = p + gauge + evening.pointer_pa * rng.uniform(-1, 1, n)
    output = p + sign * evening.loop_pa * evening.arch(p) + evening.repeat_sd_pa * rng.standard_normal(n)
    supply = evening.supply_ratio * rng.uniform(-1, 1)
    shown_r = (0.1 + RATIO_PER_PA * output) * (1.0 + supply)
    terms = (
        term("reference:G1", evening.gauge_pa / ROOT3, n, common=True, shape="rectangular"),
        term("reference:G1:scale", evening.gauge_pa / ROOT3 * tilt, n, common=True, shape="rectangular"),
        term("pointer", evening.pointer_pa / ROOT3, n, common=False, shape="rectangular"),
        term("repeat", evening.repeat_sd_pa, n, common=False),
        term("supply", ratio_true * evening.supply_ratio / ROOT3, n, common=True, axis="signal", shape="rectangular"),
    )
    at = np.linspace(0.0, HIGH_PA, 21)
    x = 0.5 * math.pi * at / HIGH_PA
    use = [
        UseTerm(
            identifier="hysteresis",
            pressure_pa=at,
            u_pa=0.5 * evening.loop_pa * evening.arch(at) / ROOT3,
            shape="rectangular",
            each_reading=True,
        ),
        UseTerm(identifier="repeat", pressure_pa=at, u_pa=np.full(21, evening.repeat_sd_pa), each_reading=True),
        UseTerm(
            identifier="zero return",
            pressure_pa=at,
            u_pa=np.full(21, evening.zero_return_pa / ROOT3),
            shape="rectangular",
        ),
        UseTerm(identifier="body:level", pressure_pa=at, u_pa=evening.body_pa / ROOT3 * np.cos(x), shape="rectangular"),
        UseTerm(identifier="body:scale", pressure_pa=at, u_pa=evening.body_pa / ROOT3 * np.sin(x), shape="rectangular"),
    ]
    cal = fit_pressure(
        shown_p, shown_r, terms, order=1, direction=directions, low_pa=0.0, high_pa=HIGH_PA, use=tuple(use)
    )
    # the sensor in use, its supply right
    where = np.array([0.0, HIGH_PA, *(share * HIGH_PA for share in SHARES)])
    angle = 0.5 * math.pi * where / HIGH_PA
    felt = (
        where
        + rng.uniform(-0.5, 0.5, where.size) * evening.loop_pa * evening.arch(where)
        + evening.repeat_sd_pa * rng.standard_normal(where.size)
        + evening.zero_return_pa * rng.uniform(-1, 1)
        + evening.body_pa * (rng.uniform(-1, 1) * np.cos(angle) + rng.uniform(-1, 1) * np.sin(angle))
    )
    error = cal.pressure_pa(0.1 + RATIO_PER_PA * felt) - where
    error[1] -= error[0]
    intervals = pressure_intervals(cal, shares=SHARES, draws=draws, seed=seed)
    guide = np.abs(error) <= [one.expanded_pa for one in intervals]
    # the interval is of the error of estimate, and symmetric in sign: truth = shown - error
    drawn = (error >= [one.low_pa for one in intervals]) & (error <= [one.high_pa for one in intervals])
    widths = np.array([(one.expanded_pa, one.half_width_pa) for one in intervals])
    return guide, drawn, widths, (error / [one.u_pa for one in intervals]) ** 2, cal.inflation > 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Coverage:
    """Coverage of both intervals, for zero, span and readings."""

    evenings: int
    guide: np.ndarray
    monte_carlo: np.ndarray
    half_widths_pa: np.ndarray
    spread_ratio: np.ndarray
    """Root mean square of the true errors in standard uncertainties: 1 where u is right."""
    inflated: float


def coverage(evening: PressureEvening, *, evenings: int, draws: int, seed: int = SEED) -> Coverage:
    """Play many evenings of one bench."""
    rng = np.random.default_rng(seed)
    guide, drawn, widths, squares, inflated = np.zeros(5), np.zeros(5), np.zeros((5, 2)), np.zeros(5), 0
    for n in range(evenings):
        held, held_mc, both, square, wide = _play(evening, rng, draws, seed + n)
        guide += held
        drawn += held_mc
        widths += both
        squares += square
        inflated += wide
    return Coverage(
        evenings=evenings,
        guide=guide / evenings,
        monte_carlo=drawn / evenings,
        half_widths_pa=widths / evenings,
        spread_ratio=np.sqrt(squares / evenings),
        inflated=inflated / evenings,
    )


def main() -> None:
    """Print one table a bench."""
    short = "--short" in sys.argv
    evenings, draws = (400, 4_000) if short else (2_000, 20_000)
    for bench in BENCHES:
        found = coverage(bench, evenings=evenings, draws=draws)
        one_se = 100 * math.sqrt(0.95 * 0.05 / evenings)
        print(f"{bench.name}: {evenings} evenings, {draws} draws, one standard error {one_se:.2f} %")
        print("                    " + "".join(f"{name:>9}" for name in NAMES))
        print("  guide, k = 2, %   " + "".join(f"{100 * value:9.2f}" for value in found.guide))
        print("  Monte Carlo, %    " + "".join(f"{100 * value:9.2f}" for value in found.monte_carlo))
        print("  U guide, kPa      " + "".join(f"{value / 1000:9.2f}" for value in found.half_widths_pa[:, 0]))
        print("  half width MC, kPa" + "".join(f"{value / 1000:9.2f}" for value in found.half_widths_pa[:, 1]))
        print("  true spread / u   " + "".join(f"{value:9.3f}" for value in found.spread_ratio))
        print(f"  evenings whose chi-squared failed at 1 %: {100 * found.inflated:.2f} %")


if __name__ == "__main__":
    main()
