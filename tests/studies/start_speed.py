"""Time of one large log from file to findings, and of a folder of logs in parallel processes.

Run `python -m tests.studies.start_speed`: the large log (36 000 rows, 12 columns), step by step, best of five warm
runs, in processor time as well as by the clock (the machine may be busy); `--many 1000` writes that many invented logs
into a temporary folder and checks them with one and with two processes. What is reported for many is the share of the
processors' time that the checking itself took: 1 means limited by nothing else.
"""

from __future__ import annotations

import argparse
import os
import resource
import tempfile
import time
from pathlib import Path

import numpy as np

from sensorcal.firststart.checkedlog import checked
from sensorcal.firststart.judge import judge
from sensorcal.firststart.logread import read_log
from sensorcal.firststart.manylogs import check_many
from sensorcal.firststart.phases import find_phases
from sensorcal.firststart.simulate import draw_case, draw_fault, simulate_start
from sensorcal.setup import Setup
from tests.firststart.starts import made_start

ROWS = 36_000
SEED = 20_261_125


def write_large(path, rows=ROWS, *, faulty=False):
    """Write an invented start at a high rate: time, ten channels and a count nobody asked for; two faults at will."""
    step_s = 900.0 / rows
    values = made_start(step_s)
    rng = np.random.default_rng(SEED)
    for name, size in (("coolant", 0.1), ("gearbox_oil", 0.1), ("charge_in", 0.2), ("charge_out", 0.2), ("bus", 0.02)):
        values[name] = values[name] + size * rng.standard_normal(rows)
    for name in ("oil_pressure", "fuel_pressure", "map"):
        values[name] = values[name] / 1e3 + 0.8 * rng.standard_normal(rows)
    if faulty:
        values["charge_in"], values["charge_out"] = values["charge_out"], values["charge_in"]
        values["map"] = np.where(np.arange(rows) % 7 == 3, np.nan, values["map"])
    heads = ["Time s", "CLT degC", "Gearbox oil temp degC", "Charge air in degC", "Charge air out degC", "Oil P kPa",
             "Fuel P kPa", "MAP kPa", "RPM", "Volts", "OAT degC", "Rows so far"]  # fmt: skip
    table = np.column_stack([*values.values(), np.arange(rows)])
    with Path(path).open("w", encoding="utf-8", newline="\n") as out:
        out.write(",".join(heads) + "\n")
        np.savetxt(out, table, fmt=["%.3f", *["%.1f"] * 8, "%.2f", "%.1f", "%d"], delimiter=",")
    return Path(path)


def steps(path, setup=None):
    """Time each step from file to findings once: name to (clock, processor), s."""
    setup = setup or Setup()
    found = {}

    def timed(name, what, *args):
        clock, cpu = time.perf_counter(), time.process_time()
        result = what(*args)
        found[name] = (time.perf_counter() - clock, time.process_time() - cpu)
        return result

    log = timed("read", read_log, path, setup)
    phases = timed("phases", find_phases, log)
    verdict = timed("judge", judge, log, setup, phases)
    timed("words", checked, verdict, setup)
    found["whole"] = tuple(sum(part[k] for part in found.values()) for k in (0, 1))
    return found


def best_of(path, rounds=5):
    """Take the best of some warm rounds of each step."""
    steps(path)
    seen = [steps(path) for _ in range(rounds)]
    return {name: tuple(min(one[name][k] for one in seen) for k in (0, 1)) for name in seen[0]}


def many(count, workers):
    """Check many invented logs: seconds by the clock, of the processors, peak memory of a process in MB, errors."""
    from sensorcal.firststart.channels import KINDS
    from sensorcal.firststart.simulate_files import LogDialect, write_log_csv

    rng = np.random.default_rng(SEED)
    with tempfile.TemporaryDirectory() as folder:
        paths = []
        for number in range(count):
            case = draw_case(rng)
            kind = KINDS[number % len(KINDS)] if number % 2 else None
            start = simulate_start(case, draw_fault(rng, kind, case) if kind else None)
            paths.append(Path(folder) / f"{number:05d}.csv")
            write_log_csv(start.log, paths[-1], dialect=LogDialect())
        rows = sum(1 for path in paths for _ in path.open(encoding="utf-8"))
        before, clock = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
        own = time.process_time()
        errors = sum(bool(one.error) for one in check_many(paths, Setup(), workers=workers))
        clock, own = time.perf_counter() - clock, time.process_time() - own
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
    cpu = own + (after.ru_utime + after.ru_stime) - (before.ru_utime + before.ru_stime)
    return {"rows": rows, "clock_s": clock, "cpu_s": cpu, "memory_mb": after.ru_maxrss / 1024.0, "errors": errors}


def main():
    """Print the figures."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--many", type=int, default=0)
    parser.add_argument("--workers", type=int, default=os.cpu_count())
    args = parser.parse_args()
    print(f"load of the machine before: {os.getloadavg()[0]:.1f}")
    if args.many:
        for workers in sorted({1, args.workers}):
            found = many(args.many, workers)
            busy = found["cpu_s"] / (found["clock_s"] * min(workers, os.cpu_count() or 1))
            print(
                f"{args.many} logs ({found['rows']} rows), {workers} processes: {found['clock_s']:.1f} s by the clock, "
                f"{found['cpu_s']:.1f} s of processors ({busy:.0%} of {workers}), {found['errors']} errors, "
                f"largest process {found['memory_mb']:.0f} MB"
            )
        return
    with tempfile.TemporaryDirectory() as folder:
        for faulty in (False, True):
            path = write_large(Path(folder) / "large.csv", faulty=faulty)
            size, what = path.stat().st_size / 1e6, "two faults" if faulty else "sound"
            print(f"{ROWS} rows, 12 columns, {size:.1f} MB, {what}, best of five")
            for name, (clock, cpu) in best_of(path).items():
                print(f"  {name:<7} {1e3 * clock:7.0f} ms by the clock, {1e3 * cpu:7.0f} ms of the processor")


if __name__ == "__main__":
    main()
