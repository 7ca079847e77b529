"""How often a wrong reading is found, at the right row, with its right name? One slip put into simulated evenings.

Run `python -m tests.studies.blunder_power` (20 000 evenings a case) or add `--short`. Six points from 0 to 98 degC,
each off by u = 0.15 degC of its own, normal noise and the rounding to 0.1 degC together; a four-digit meter. The
probe is drawn with the evening: 10 kohm at 25 degC within 2 % (normal), its curvature from the prior. Which digits
stand in a reading decides how much exchanging two of them matters, so 'R digits' is also played with sizes anywhere
in a decade.

'Ceiling' is what a test could find that knew the row, the sign and the size beforehand.

The share found comes from the screening's own test; where a slip leaves no curve at all, that counts as found, as in
`screen`. Rows and names come from whole screenings of a part of the evenings.
"""

from __future__ import annotations

import math
import sys
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from scipy.special import ndtr, ndtri

from sensorcal.calibration.blunders import _test as outlier_test_of
from sensorcal.calibration.blunders import screen
from sensorcal.calibration.thermistor import TYPICAL, fit_thermistor
from sensorcal.errors import FitError
from sensorcal.measure.terms import term
from tests.probes import k_sh
from tests.studies.coverage import points_of, probe_of_kappa

POINTS = 6
U_C = 0.15
STEP_C = 0.1
NOISE_C = math.sqrt(U_C**2 - STEP_C**2 / 12.0)
"""What is drawn, so that with the rounding of the entries each point is off by U_C in all."""
SEED = 20_260_612
ANY_SIZE = "R digits, any size"
KINDS = (
    "none", "off 0.5", "off 1", "off 2", "R digits", ANY_SIZE, "T digits", "swapped", "decade", "fahrenheit",
    "wrong bath",
)  # fmt: skip
NAME = {
    "off 0.5": "single",
    "off 1": "single",
    "off 2": "single",
    "R digits": "digits",
    ANY_SIZE: "digits",
    "T digits": "digits",
    "swapped": "swapped",
    "decade": "decade",
    "fahrenheit": "fahrenheit",
    "wrong bath": "wrong-bath",
}


@dataclass(slots=True)
class Power:
    """Counts of one case."""

    evenings: int = 0
    found: int = 0
    interior: int = 0
    interior_found: int = 0
    ceiling: float = 0.0
    screened: int = 0
    right_row: int = 0
    right_name: int = 0
    false_name: int = 0
    """Another slip's name came first, with probability above a half."""
    likely_right: int = 0
    """The corrected entry came first, to half a unit of the fourth digit."""

    @property
    def share(self) -> float:
        """Found, of all evenings."""
        return self.found / self.evenings

    @property
    def interior_share(self) -> float:
        """Found, of the evenings whose slip was at neither end."""
        return self.interior_found / max(self.interior, 1)


def four_digits(ohm: float) -> float:
    """A reading as a four-digit meter shows it."""
    return float(f"{ohm:.4g}")


def with_digits_transposed(rng, text: str) -> float | None:
    """The number with two neighbouring, different digits exchanged; None where there are none."""
    at = [i for i, character in enumerate(text) if character.isdigit()]
    pairs = [(a, b) for a, b in pairwise(at) if text[a] != text[b] and not (a == at[0] and text[b] == "0")]
    if not pairs:
        return None
    a, b = pairs[rng.integers(len(pairs))]
    letters = list(text)
    letters[a], letters[b] = letters[b], letters[a]
    return float("".join(letters))


def four_digit_text(ohm: float) -> str:
    """Four significant digits, the last zero written too."""
    places = max(0, 3 - int(np.floor(np.log10(ohm))))
    return f"{ohm:.{places}f}" if ohm < 9999.5 else f"{ohm / 1000.0:.{max(0, 3 - int(np.floor(np.log10(ohm / 1e3))))}f}"


def put_in(rng, kind: str, t, r):
    """Put one slip into the readings; return the points concerned and the right entry, or None if it cannot be put."""
    i = int(rng.integers(t.size))
    right = float("nan")
    if kind.startswith("off"):
        t[i] += float(kind.split()[1]) * rng.choice((-1.0, 1.0))
    elif kind.startswith("R digits"):
        right = r[i]
        text = four_digit_text(r[i])
        value = with_digits_transposed(rng, text)
        if value is None:
            return None
        r[i] = value * (1000.0 if float(text) < 0.5 * right else 1.0)
    elif kind == "T digits":
        right = t[i]
        value = with_digits_transposed(rng, f"{t[i]:.1f}")
        if value is None or t[i] < 10.0:
            return None
        t[i] = value
    elif kind == "swapped":
        j = (i + 1 + int(rng.integers(t.size - 1))) % t.size
        r[i], r[j] = r[j], r[i]
        return tuple(sorted((i, j))), right
    elif kind == "decade":
        right = r[i]
        r[i] *= rng.choice((10.0, 0.1, 1000.0, 0.001))
    elif kind == "fahrenheit":
        right = t[i]
        t[i] = t[i] * 1.8 + 32.0
    elif kind == "wrong bath":
        j = (i + 1 + int(rng.integers(t.size - 1))) % t.size
        right = t[j]
        r[i] = r[j]
    return (i,), right


@dataclass(frozen=True, slots=True, kw_only=True)
class Sized:
    """A probe like another one, so many times its resistance."""

    like: object
    times: float

    def resistance_ohm(self, temperature_c):
        """Resistance of the probe at a temperature."""
        return self.times * self.like.resistance_ohm(temperature_c)


def run(kind: str, evenings: int, screened: int, *, prior=TYPICAL) -> Power:
    """Play one case."""
    rng = np.random.default_rng([SEED, KINDS.index(kind), prior is None])
    terms = (term("bath", U_C, POINTS, common=False),)
    like = k_sh()
    power = Power()
    while power.evenings < evenings:
        times = 10.0 ** rng.uniform(-1.0, 0.0) if kind == ANY_SIZE else 1.0 + 0.02 * rng.standard_normal()
        sized = Sized(like=like, times=times)
        _, true_ohm = points_of(sized, POINTS)
        probe = probe_of_kappa(sized, POINTS, TYPICAL.kappa + TYPICAL.u_kappa * rng.standard_normal())
        t = np.round(probe.temperature_c(true_ohm) + NOISE_C * rng.standard_normal(POINTS), 1)
        r = np.array([four_digits(v) for v in true_ohm])
        sound_t, sound_r = t.copy(), r.copy()
        placed = put_in(rng, kind, t, r)
        if placed is None:
            continue
        concerned, right = placed
        size_c = np.abs(t - sound_t) + np.abs(probe.temperature_c(r) - probe.temperature_c(sound_r))
        ceiling = 1.0
        try:
            test = outlier_test_of(fit_thermistor(t, r, terms, prior=prior), terms, 0.01)
            found = bool(np.any(np.abs(test.statistic) > test.limit))
            if len(concerned) == 1:
                ceiling = float(ndtr(size_c[concerned[0]] / test.u_size[concerned[0]] - ndtri(0.99)))
        except FitError:
            found = True
        inside = all(0 < i < POINTS - 1 for i in concerned)
        power.evenings += 1
        power.found += found
        power.ceiling += ceiling
        power.interior += inside
        power.interior_found += found and inside
        if not found or power.screened >= screened or kind == "none":
            continue
        power.screened += 1
        verdict = screen(t, r, terms, prior=prior)
        assert verdict.suspect
        if not verdict.blunders:
            continue
        first = verdict.blunders[0]
        power.right_row += set(first.points) == set(concerned)
        power.right_name += first.kind == NAME[kind] and set(first.points) == set(concerned)
        power.false_name += first.kind not in (NAME[kind], "single") and first.probability > 0.5
        power.likely_right += abs(first.likely - right) <= 6e-4 * abs(right)
    return power


def main() -> None:
    """Print the power of the screening, with the prior and without."""
    short = "--short" in sys.argv
    evenings, screened = (1000, 200) if short else (20_000, 2_000)
    print(f"{evenings} evenings a case, {screened} of the found ones screened in full; 6 points, u 0.15 degC; in %")
    for title, prior in (("with the prior, 30 %", TYPICAL), ("prior off", None)):
        print(f"\n{title:<22}{'found':>8}{'interior':>10}{'ceiling':>9} | found:  row   name  other name  entry")
        for kind in KINDS:
            power = run(kind, evenings, screened, prior=prior)
            n = max(power.screened, 1)
            tail = (
                ""
                if kind == "none"
                else f"{100 * power.right_row / n:20.1f}{100 * power.right_name / n:7.1f}"
                f"{100 * power.false_name / n:12.1f}{100 * power.likely_right / n:7.1f}"
            )
            print(
                f"{kind:<22}{100 * power.share:8.2f}{100 * power.interior_share:10.2f}"
                f"{100 * power.ceiling / power.evenings:9.2f} |{tail}",
                flush=True,
            )


if __name__ == "__main__":
    main()
