"""Power of the judge on our own simulator, in the same words as `start_score` on the independent generator.

Run `python -m tests.studies.start_power --count 2000 --first 700000` (two processes). Every fifth log is healthy, the
others go through all kinds in turn; `--kinds` and `--list` as there. Seeds from 700 000 on are kept from tuning.
"""

from __future__ import annotations

import argparse
import multiprocessing
import time
import warnings
from types import SimpleNamespace

import numpy as np

from sensorcal.engine import PRESSURES, TEMPERATURES
from sensorcal.firststart.channels import GENUINE, KINDS
from sensorcal.firststart.simulate import draw_start
from tests.studies.start_score import marks, plain_finding, plain_findings, report, threshold_checker

FIRST = 700_000
HEALTHY = "healthy"
CYCLE = tuple(kind for four in range(0, len(KINDS), 4) for kind in (HEALTHY, *KINDS[four : four + 4]))


def power_one(task):
    """Draw the start of one seed and kind, judge it, and keep what `start_score.report` counts."""
    from sensorcal.firststart.judge import judge

    seed, kind = task
    start = draw_start(seed, "" if kind == HEALTHY else kind)
    limits, panel = start.case.limits, start.case.panel
    ranges = {name: (panel.low_pa[name], panel.high_pa[name]) for name in PRESSURES if name in start.log.values}
    # The threshold checker asks all temperatures and the speed: what is not logged says nothing to it.
    mute = {name: np.full(len(start.log), 20.0) for name in (*TEMPERATURES, "rpm")}
    shown = SimpleNamespace(
        shown=mute | dict(start.log.values), time_s=start.log.time_s,
        truth={"limits": {n: pair for n, pair in limits.items() if n in start.log.values}, "ranges": ranges},
    )  # fmt: skip
    row = {
        "seed": seed, "kind": kind, "channels": list(start.fault.channels) if start.fault else [],
        "bucket": start.bucket, "effect": round(start.effect, 2), "sparse": start.case.sparse, "headings": {},
        "broken_limits": [start.worst] if kind in GENUINE and start.broke_limit else [],
        "cold_oil": kind == HEALTHY and start.broke_limit, "error": "",
        "baseline": [plain_finding(f) for f in threshold_checker(shown)],
    }  # fmt: skip
    begun = time.perf_counter()
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            found = judge(start.log, start.setup).findings
        row["findings"] = plain_findings([plain_finding(f) | {"rank": n + 1} for n, f in enumerate(found)])
    except Exception as error:  # noqa: BLE001 - the study goes on and counts it
        row |= {"findings": [], "error": f"{type(error).__name__}: {error}"[:300]}
    row["seconds"] = time.perf_counter() - begun
    return row


def tasks_of(count, first=FIRST, kinds=CYCLE):
    """Pair seeds with kinds in turn."""
    return [(first + k, kinds[k % len(kinds)]) for k in range(count)]


def run(tasks, processes=2):
    """Judge many starts."""
    if processes == 1:
        return [power_one(task) for task in tasks]
    with multiprocessing.get_context("spawn").Pool(processes) as pool:
        return pool.map(power_one, tasks, chunksize=8)


def shares(rows):
    """Count what is asked for: false alarms, detection, family, and real trouble that was silent or explained away."""
    sound = [row for row in rows if row["kind"] == HEALTHY]
    found = {}
    for title, buckets in (("mild", {"mild"}), ("large", {"clear", "gross"})):
        some = [marks(row, row["findings"]) for row in rows if row["kind"] != HEALTHY and row["bucket"] in buckets]
        for key in ("detected", "family"):
            found[f"{title}_{key}"] = sum(m[key] for m in some) / max(len(some), 1)
    broke = [row for row in rows if row["broken_limits"]]
    return found | {
        "false": sum(bool(row["findings"]) for row in sound) / max(len(sound), 1),
        "errors": sum(bool(row["error"]) for row in rows),
        "broke": len(broke),
        "silent": [row["seed"] for row in broke if not row["findings"]],
        "away": [
            row["seed"] for row in broke
            if row["findings"] and not {row["findings"][0]["kind"], *row["findings"][0]["also"]} & set(GENUINE)
        ],
    }  # fmt: skip


def main(arguments=None):
    """Judge and print."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--count", type=int, default=400)
    parser.add_argument("--first", type=int, default=FIRST)
    parser.add_argument("--kinds", default="", help="'genuine', or kinds with commas; 'healthy' is one")
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--list", default="", help="name the seeds of this kind whose first finding is wrong")
    told = parser.parse_args(arguments)
    kinds = GENUINE if told.kinds == "genuine" else tuple(k for k in told.kinds.split(",") if k) or CYCLE
    unknown = set(kinds) - {*KINDS, HEALTHY}
    if unknown:
        parser.error(f"no such kind: {', '.join(sorted(unknown))}")
    rows = run(tasks_of(told.count, told.first, kinds), told.processes)
    print(report(rows))
    for row in rows:
        wrong = bool(row["findings"]) if row["kind"] == HEALTHY else not marks(row, row["findings"])["family"]
        if row["kind"] == told.list and wrong:
            print(row["seed"], row["bucket"], row["effect"], row["channels"], row["findings"][:1] or row["error"])


if __name__ == "__main__":
    main()
