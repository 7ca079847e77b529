"""Do the stated intervals hold the truth as often as they say? Simulated bench evenings with known truth.

Run `python -m tests.studies.coverage` (20 000 evenings a cell) or add `--short`. An evening draws one reference bias
and one meter gain for all its points, and for each point a bath gradient and the noise of thermometer and meter.
The fit is the product's own, its 1 % chi-squared rule included, judged as a reader would use it: the probe shows the
true resistance of a temperature; does the stated interval hold that temperature?
"""

from __future__ import annotations

import sys
from dataclasses import dataclass, field

import numpy as np

from sensorcal.calibration.calibration import CurvaturePrior, u_form_c, u_statistical_at_c
from sensorcal.calibration.thermistor import TYPICAL, fit_thermistor
from sensorcal.errors import FitError
from sensorcal.measure.estimate import gls, standard_uncertainty
from sensorcal.measure.interval import coverage_factor
from sensorcal.measure.terms import Term, split, term
from sensorcal.physics.curves import KELVIN_AT_0_C, SteinhartHart, basis
from tests.probes import TABLE_C, TABLE_OHM, j_sh, j_spline, k_sh, through

AT_C = np.array([25.0, 60.0, 90.0, 120.0])
COUNTS = (4, 5, 6, 7, 8)
COLDEST_C, HOTTEST_C = 0.0, 98.0
SEED = 20_260_611


@dataclass(frozen=True, slots=True, kw_only=True)
class Bench:
    """Standard uncertainties of one bench; all normal."""

    reference_c: float = 0.15
    gradient_c: float = 0.12
    """Of the hottest bath; in proportion to its distance from the room at 22 degC."""
    thermometer_c: float = 0.06
    meter_noise_ratio: float = 0.002
    meter_gain_ratio: float = 0.002

    def independent_c(self, temperature_c):
        """Gradient and thermometer noise of each point together."""
        return np.hypot(self.thermometer_c, self.gradient_c * (np.asarray(temperature_c) - 22.0) / 76.0)

    def terms(self, temperature_c) -> tuple[Term, ...]:
        """The budget as the fit is told it: exactly what is drawn."""
        n = len(temperature_c)
        return (
            term("bath", self.independent_c(temperature_c), n, common=False),
            term("reference", self.reference_c, n, common=True),
            term("meter noise", self.meter_noise_ratio, n, common=False, axis="signal"),
            term("meter gain", self.meter_gain_ratio, n, common=True, axis="signal"),
        )

    def scaled(self, factor: float) -> Bench:
        """A bench better or worse in everything."""
        return Bench(
            reference_c=self.reference_c * factor,
            gradient_c=self.gradient_c * factor,
            thermometer_c=self.thermometer_c * factor,
            meter_noise_ratio=self.meter_noise_ratio * factor,
            meter_gain_ratio=self.meter_gain_ratio * factor,
        )

    def draw(self, rng, temperature_c, resistance_ohm):
        """One evening's readings of points whose truth is given."""
        n = temperature_c.size
        z = rng.standard_normal(2 * n + 2)
        t = temperature_c + self.reference_c * z[0] + self.independent_c(temperature_c) * z[2 : n + 2]
        r = resistance_ohm * np.exp(self.meter_gain_ratio * z[1] + self.meter_noise_ratio * z[n + 2 :])
        return t, r


USUAL = Bench()


@dataclass(slots=True)
class Tally:
    """Counts of one cell: how often each interval held the truth."""

    evenings: int = 0
    held: np.ndarray = field(default_factory=lambda: np.zeros(AT_C.size))
    held_with_form: np.ndarray = field(default_factory=lambda: np.zeros(AT_C.size))
    half_width: np.ndarray = field(default_factory=lambda: np.zeros(AT_C.size))
    half_width_with_form: np.ndarray = field(default_factory=lambda: np.zeros(AT_C.size))
    half_width_plain: np.ndarray = field(default_factory=lambda: np.zeros(AT_C.size))
    """Before the 1 % chi-squared rule enlarges it."""
    full_budget: np.ndarray = field(default_factory=lambda: np.zeros(AT_C.size))
    inflated: int = 0
    disagree: int = 0
    refused: int = 0

    def add(self, other: Tally) -> None:
        """Pool another cell with this one."""
        for name in self.__slots__:
            setattr(self, name, getattr(self, name) + getattr(other, name))

    @property
    def coverage(self):
        """Share of evenings whose interval from the stated terms alone held the truth."""
        return self.held / self.evenings

    @property
    def coverage_with_form(self):
        """The same with the model-form term."""
        return self.held_with_form / self.evenings

    @property
    def width_ratio(self):
        """Mean half width over that of the full budget with the true covariance."""
        return self.half_width / self.full_budget

    @property
    def plain_ratio(self):
        """The same before the 1 % chi-squared rule enlarges any interval."""
        return self.half_width_plain / self.full_budget


def points_of(probe, n: int):
    """True temperatures, evenly spread, and resistances of n points."""
    t = np.linspace(COLDEST_C, HOTTEST_C, n)
    return t, np.asarray(probe.resistance_ohm(t), dtype=float)


def probe_of_kappa(like, n: int, kappa: float) -> SteinhartHart:
    """The Steinhart-Hart probe through the ends of another one whose curvature in the middle of its points is kappa.

    Centre and scale are those of the other probe's resistances at n points, which stay the points of the evening;
    the temperatures between the ends follow the curve.
    """
    t, r = points_of(like, n)
    ln_r = np.log(r)
    centre, scale = float(ln_r.mean()), float(np.ptp(ln_r)) / 2
    g = scale * scale / (6.0 * centre)
    ends = (ln_r[[0, -1]] - centre) / scale
    columns = basis(ends, centre, scale)
    reduced = np.stack([columns[:, 0], columns[:, 1] + kappa * g * columns[:, 2]], axis=1)
    p0, p1 = np.linalg.solve(reduced, 1.0 / (t[[0, -1]] + KELVIN_AT_0_C))
    return SteinhartHart(p0=float(p0), p1=float(p1), p2=float(kappa * g * p1), centre=centre, scale=scale)


def full_budget_c(probe, t, r, bench: Bench, prior: CurvaturePrior | None):
    """Half width of the same estimate with the true covariance: no inflation, no form term."""
    ln_r = np.log(r)
    centre, scale = float(ln_r.mean()), float(np.ptp(ln_r)) / 2
    step = 1e-4
    slope = (probe.temperature_c(r * (1 + step)) - probe.temperature_c(r * (1 - step))) / (2 * step)
    u, common, _ = split(bench.terms(t), slope)
    kelvin = t + KELVIN_AT_0_C
    design = -basis((ln_r - centre) / scale, centre, scale) * (kelvin * kelvin)[:, None]
    if prior is not None:
        g = scale * scale / (6.0 * centre)
        p1 = float(np.linalg.lstsq(-design / kelvin[:, None], np.ones(t.size), rcond=None)[0][1])
        design = np.vstack([design, [0.0, -prior.kappa * g, 1.0]])
        u = np.append(u, prior.u_kappa * g * p1)
        common = np.pad(common, ((0, 0), (0, 1)))
    estimate = gls(design, np.zeros(u.size), u, common)
    rows = -basis((np.log(probe.resistance_ohm(AT_C)) - centre) / scale, centre, scale)
    return coverage_factor() * standard_uncertainty(estimate, rows * ((AT_C + KELVIN_AT_0_C) ** 2)[:, None])


def play(rng, probe, n: int, evenings: int, *, bench=USUAL, prior=None, drawn: CurvaturePrior | None = None, told=None):
    """Play evenings of one cell.

    `prior` is what the fit is told; `drawn`, where given, is what the probe's curvature is drawn from each evening;
    `told` is the budget the fit is told where it is not the true one.
    """
    tally = Tally()
    k = coverage_factor()
    one = probe
    t, r = points_of(probe, n)
    true_ohm = np.asarray(probe.resistance_ohm(AT_C), dtype=float)
    if drawn is not None:
        one = probe_of_kappa(probe, n, drawn.kappa)
        t = one.temperature_c(r)
    width = full_budget_c(one, t, r, bench, prior)
    for _ in range(evenings):
        if drawn is not None:
            one = probe_of_kappa(probe, n, drawn.kappa + drawn.u_kappa * rng.standard_normal())
            t, true_ohm = one.temperature_c(r), one.resistance_ohm(AT_C)
        seen_c, seen_ohm = bench.draw(rng, t, r)
        try:
            cal = fit_thermistor(seen_c, seen_ohm, (told or bench).terms(t), prior=prior)
        except FitError:
            tally.refused += 1
            tally.evenings += 1
            continue
        shown = cal.temperature_c(true_ohm)
        error = np.abs(shown - AT_C)
        u = u_statistical_at_c(cal, true_ohm)
        both = np.hypot(u, u_form_c(cal, shown))
        tally.evenings += 1
        # Between the tested points what the tool states, half the form term included; beyond them the statistical
        # part by itself, because its own coverage is asked for there.
        u = np.where(t.max() + 0.05 < AT_C, u, both)
        tally.held += error <= k * u
        tally.held_with_form += error <= k * both
        tally.half_width += k * u
        tally.half_width_plain += k * u / cal.inflation
        tally.half_width_with_form += k * both
        tally.full_budget += width
        tally.inflated += cal.inflation > 1.0
        tally.disagree += cal.prior is not None and cal.prior.disagrees
    return tally


def fixed_probes():
    """Invented probes of several sizes and shapes, all exactly Steinhart-Hart."""
    t, r = TABLE_C, np.array(TABLE_OHM)
    hot = [t.index(c) for c in (25.0, 75.0, 130.0)]
    return {
        "J-SH, 1.8 kohm": j_sh(),
        "K, 10 kohm": k_sh(),
        "300 ohm": through((25.0, 75.0, 130.0), r[hot] / 6.0),
        "100 kohm, kappa 0.024": probe_of_kappa(through((0.0, 25.0, 100.0), (327_000.0, 100_000.0, 6_750.0)), 5, 0.024),
    }


def case_a(evenings: int, probes=None, counts=COUNTS):
    """Prior off, each probe fixed."""
    rng = np.random.default_rng(SEED)
    chosen = probes or fixed_probes()
    return {(name, n): play(rng, probe, n, evenings) for name, probe in chosen.items() for n in counts}


def case_b(evenings: int, counts=COUNTS):
    """Prior on, curvature drawn from it."""
    rng = np.random.default_rng(SEED + 1)
    return {
        (name, n): play(rng, probe, n, evenings, prior=TYPICAL, drawn=TYPICAL)
        for name, probe in (("J size", j_sh()), ("K size", k_sh()))
        for n in counts
    }


def case_c(evenings: int, kappa: float = 0.030, counts=COUNTS):
    """Prior on, a probe of strong curvature held fixed; at the usual bench, and at better ones."""
    rng = np.random.default_rng(SEED + 2)
    out = {}
    for name, bench in (("usual", USUAL), ("x 1/3", USUAL.scaled(1 / 3)), ("x 1/10", USUAL.scaled(0.1))):
        for n in counts:
            probe = probe_of_kappa(j_sh(), n, kappa)
            out[f"J size, kappa {kappa:.3f}, bench {name}", n] = play(
                rng, probe, n, evenings, bench=bench, prior=TYPICAL
            )
    return out


def case_d(evenings: int, counts=COUNTS):
    """A probe that is not exactly Steinhart-Hart: the spline through the table of probe J."""
    rng = np.random.default_rng(SEED + 3)
    out = {}
    for name, prior in (("prior off", None), ("prior on", TYPICAL)):
        for bench_name, bench in (("usual", USUAL), ("x 1/3", USUAL.scaled(1 / 3))):
            for n in counts:
                key = f"J spline, {name}, bench {bench_name}", n
                out[key] = play(rng, j_spline(), n, evenings, bench=bench, prior=prior)
    return out


def pooled(cells) -> Tally:
    """All cells together."""
    whole = Tally()
    for tally in cells.values():
        whole.add(tally)
    return whole


def show(title: str, cells) -> None:
    """Print one table: coverage in percent and mean half width in degC."""
    print(f"\n{title}", flush=True)
    print(
        f"{'probe':<38}{'n':>3} | cover % 25    60    90   120 |120+form| half width 25   60    90   120  120+form |"
        " / full budget 25, 60, 90, 120 (90 before the 1 % rule) | inflated % disagree % refused"
    )
    for (name, n), tally in [*cells.items(), (("all", 0), pooled(cells))]:
        e = tally.evenings
        w = tally.half_width / (e - tally.refused)
        ratio = tally.width_ratio
        print(
            f"{name:<38}{n or '':>3} |       "
            + " ".join(f"{100 * c:5.2f}" for c in tally.coverage)
            + f" | {100 * tally.coverage_with_form[3]:6.2f} |        "
            + " ".join(f"{v:5.3f}" for v in w)
            + f"   {tally.half_width_with_form[3] / (e - tally.refused):5.3f}   |   "
            + " ".join(f"{v:5.3f}" for v in ratio)
            + f" ({tally.plain_ratio[2]:5.3f})"
            + f" | {100 * tally.inflated / e:5.2f} {100 * tally.disagree / e:6.2f} {tally.refused:5d}"
        )


def main() -> None:
    """Print all cases."""
    evenings = 500 if "--short" in sys.argv else 20_000
    print(f"{evenings} evenings a cell; binomial standard error at 95 %: {100 * (0.95 * 0.05 / evenings) ** 0.5:.2f} %")
    show("(a) prior off, probe fixed", case_a(evenings))
    show("(b) prior on, curvature drawn from it", case_b(evenings))
    show("(c) prior on, strong curvature held fixed", case_c(evenings))
    show("(d) form not true: J spline", case_d(evenings))


if __name__ == "__main__":
    main()
