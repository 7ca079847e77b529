"""Power of the search for a wrong reading of a pressure sensor: found, at the right row, with its right name.

Run `python -m tests.studies.pressure_blunder_power` (4000 evenings a case) or add `--short`. Six pressures up and down,
0 to 1000 kPa, against a 0.5 % gauge: its level and tilt, the pointer and the voltmeter's digits are drawn from the
stated limits; the sensor's zero, span, bow (up to 0.3 % of span), loop (up to 0.4 %) and scatter (0.1 %, standard) with
the evening. The pump stops within 2 kPa of its mark; the gauge is written to half a kilopascal, volts to a millivolt,
the supply in each row. One slip is put into what is written down. The points are made and searched by the product.

'Worth 10' counts only the slips that move a point by 10 kPa (1 % of span) or more: an exchange of the last two digits
may be worth nothing.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from sensorcal.bench.pressurepoints import pressure_points
from sensorcal.bench.run import Reading, Run
from sensorcal.calibration.pressurefindings import screening_of
from sensorcal.setup import Reference, Setup
from sensorcal.transducer import Transducer

SEED = 20_260_711
LIMITS_PA = 5_000.0
POINTER_PA = 1_500.0
REPEAT_PA = 1_000.0
SETUP = Setup(
    references={"G1": Reference(identifier="G1", kind="gauge", limits=LIMITS_PA)},
    transducers={"O1": Transducer(name="O1")},
)
KINDS = (
    "none, one cycle", "none, two cycles", "none, three cycles", "none, rising only",
    "none, two cycles, twice the scatter", "none, two cycles, a third of it",
    "gauge digits", "gauge digit", "gauge decade", "gauge psi", "volt digits", "volt digit", "volt decade",
    "supply digits", "swapped", "off 5", "off 8", "off 12",
)  # fmt: skip
NAMES = {
    "digits": "digits", "digit": "digit", "decade": "decade", "psi": "unit", "swapped": "swapped",
    "5": "single", "8": "single", "12": "single",
}  # fmt: skip


@dataclass(slots=True)
class Power:
    """Counts of one case."""

    evenings: int = 0
    found: int = 0
    large: int = 0
    large_found: int = 0
    right_row: int = 0
    right_name: int = 0
    right_entry: int = 0

    @property
    def share(self) -> float:
        """Found, of all evenings."""
        return self.found / self.evenings

    @property
    def large_share(self) -> float:
        """Found, of the slips worth 10 kPa or more."""
        return self.large_found / max(self.large, 1)


def evening(rng, *, cycles: int = 1, falling: bool = True, repeat_pa: float = REPEAT_PA) -> tuple[Reading, ...]:
    """One sound evening, as written down."""
    marks = np.linspace(0.0, 1e6, 6)
    order = [(p, "up") for p in marks] + ([(p, "down") for p in marks[::-1]] if falling else [])
    level, tilt = rng.uniform(-LIMITS_PA, LIMITS_PA), 0.5 * rng.uniform(-LIMITS_PA, LIMITS_PA)
    bow, loop = rng.uniform(-3_000.0, 3_000.0), rng.uniform(0.0, 4_000.0)
    zero, span = 0.1 + rng.uniform(-0.003, 0.003), 0.8 * (1.0 + rng.uniform(-0.005, 0.005))
    supply = 4.93
    rows = []
    for n, (mark, way) in enumerate(order * cycles, start=2):
        p = abs(mark + (rng.uniform(-2_000.0, 2_000.0) if mark else 0.0))
        x = p / 1e6
        arch = 4.0 * x * (1.0 - x)
        felt = p + arch * (bow + (-0.5 if way == "up" else 0.5) * loop) + repeat_pa * rng.standard_normal()
        shown = p + level + tilt * (2.0 * x - 1.0) + POINTER_PA * rng.uniform(-1.0, 1.0)
        supply -= 2e-4
        rows.append(
            Reading(
                file_row=n,
                reference=round(shown / 500.0) * 500.0,
                signals={"O1": round((zero + span * felt / 1e6) * supply, 3)},
                supply_v=round(supply, 3),
                direction=way,
            )
        )
    return tuple(rows)


def exchanged(rng, text: str) -> str | None:
    """The number with two neighbouring, different digits exchanged; None where there are none."""
    at = [i for i, c in enumerate(text) if c.isdigit()]
    pairs = [(a, b) for a, b in pairwise(at) if text[a] != text[b] and not (a == at[0] and text[b] == "0")]
    if not pairs:
        return None
    a, b = pairs[rng.integers(len(pairs))]
    letters = list(text)
    letters[a], letters[b] = letters[b], letters[a]
    return "".join(letters)


def mistyped(rng, text: str) -> str:
    """The number with one digit replaced by another."""
    at = [i for i, c in enumerate(text) if c.isdigit()]
    i = at[rng.integers(len(at))]
    choices = [d for d in "0123456789" if d != text[i] and not (i == at[0] and d == "0")]
    return text[:i] + choices[rng.integers(len(choices))] + text[i + 1 :]


def put_in(rng, kind: str, rows: tuple[Reading, ...]):
    """Put one slip into the entries; return the rows, the points concerned and the size in Pa, or None."""
    i = int(rng.integers(len(rows)))
    row = rows[i]
    per_volt = 1e6 / 0.8 / 4.93
    where, *rest = kind.split()
    if where == "swapped":
        j = (i + 1 + int(rng.integers(len(rows) - 1))) % len(rows)
        other = rows[j]
        changed = {i: replace(row, signals=other.signals), j: replace(other, signals=row.signals)}
        size = (row.signals["O1"] - other.signals["O1"]) * per_volt
        return tuple(changed.get(k, r) for k, r in enumerate(rows)), {i, j}, size
    if where == "off":
        new = replace(row, reference=row.reference + 1e3 * float(rest[0]) * rng.choice((-1.0, 1.0)))
        return (*rows[:i], new, *rows[i + 1 :]), {i}, new.reference - row.reference
    old = {"gauge": row.reference / 1e3, "volt": row.signals["O1"], "supply": row.supply_v}[where]
    text = f"{old:.10g}"
    if rest[0] == "decade":
        typed = old * rng.choice((10.0, 0.1, 100.0, 0.01))
    elif rest[0] == "psi":
        typed = round(old / 6.894757, 1)
    else:
        changed_text = exchanged(rng, text) if rest[0] == "digits" else mistyped(rng, text)
        if changed_text is None:
            return None
        typed = float(changed_text)
    if where == "gauge":
        new, size = replace(row, reference=typed * 1e3), (typed - old) * 1e3
    elif where == "volt":
        if not 0.0 < typed < row.supply_v:
            return None  # refused before the search, with its row
        new, size = replace(row, signals={"O1": typed}), (typed - old) * per_volt
    else:
        if not typed > row.signals["O1"]:
            return None
        new = replace(row, supply_v=typed)
        size = row.signals["O1"] * (1.0 / typed - 1.0 / old) * 1e6 / 0.8
    if size == 0.0:
        return None
    return (*rows[:i], new, *rows[i + 1 :]), {i}, size


def search(rows: tuple[Reading, ...]):
    """The product's own points and search."""
    run = Run(readings=rows, measurand="pressure", signal_kinds={"O1": "voltage"})
    readings = pressure_points(run, SETUP, "O1")
    sheet = SETUP.transducer("O1")
    p = np.array([one.point.value for one in readings.points])
    r = np.array([one.point.signal for one in readings.points])
    beside = float(np.hypot(0.3 * LIMITS_PA / 3**0.5, 1e-3 / 12**0.5 / 4.93 * 1.25e6))
    return screening_of(run, readings, SETUP, sheet, p, r, sensor="O1", stated_repeat_pa=None, beside_pa=beside)


def run_case(kind: str, evenings: int, *, seed: int = SEED) -> Power:
    """Play one case."""
    rng = np.random.default_rng([seed, KINDS.index(kind)])
    power = Power()
    while power.evenings < evenings:
        cycles = {"two": 2, "three": 3}.get(kind.split()[1] if kind.startswith("none") else "", 1)
        scatter = 2.0 if "twice" in kind else 1.0 / 3.0 if "third of" in kind else 1.0
        rows = evening(rng, cycles=cycles, falling="rising only" not in kind, repeat_pa=scatter * REPEAT_PA)
        concerned: set[int] = set()
        size, right = 0.0, rows
        if not kind.startswith("none"):
            placed = put_in(rng, kind, rows)
            if placed is None:
                continue
            rows, concerned, size = placed
        verdict = search(rows)
        large = abs(size) >= 10e3
        power.evenings += 1
        power.found += verdict.suspect
        power.large += large
        power.large_found += large and verdict.suspect
        if not verdict.blunders:
            continue
        first = verdict.blunders[0]
        same = set(first.points) == concerned
        power.right_row += same
        power.right_name += same and first.kind == NAMES.get(kind.rsplit(maxsplit=1)[-1], "")
        if same and first.side == "gauge" and first.likely and first.kind != "unit":
            power.right_entry += float(first.likely) == right[first.points[0]].reference / 1e3
        elif same and first.side == "output" and first.likely:
            power.right_entry += float(first.likely) == right[first.points[0]].signals["O1"]
    return power


def main() -> None:
    """Print the power of the search."""
    evenings = 300 if "--short" in sys.argv else 4_000
    print(f"{evenings} evenings a case, in %; of those found: row, name and entry right at the first place")
    print(f"{'':<36}{'found':>8}{'worth 10':>10} |{'row':>7}{'name':>7}{'entry':>7}")
    for kind in KINDS:
        power = run_case(kind, evenings)
        n = max(power.found, 1)
        tail = "".join(f"{100 * v / n:7.1f}" for v in (power.right_row, power.right_name, power.right_entry))
        print(f"{kind:<36}{100 * power.share:8.2f}{100 * power.large_share:10.2f} |{tail}", flush=True)


if __name__ == "__main__":
    main()
