"""Score a judge of first starts on the logs of `foreign_starts`, beside a plain threshold checker.

Run `python -m tests.studies.start_score --count 2000 --first 1000000` (two processes) for the judge in process;
`--judge cli` for the installed command, `--judge package.module:function` for any callable that takes the paths of
log and setup and gives the findings, `--judge baseline` for the threshold checker alone. `--kinds genuine`, or
`--kinds stuck,noise`, takes these kinds only; `--list KIND` names the seeds that went wrong; `--out` keeps every row.

What is counted (issue 5): healthy logs with any finding; by size class, detected (any finding), right family first,
right kind first, right channel first; for real trouble whose true state broke a typed limit: silent, or explained
away (a cause that is not of the engine at rank 1).
"""

from __future__ import annotations

import argparse
import importlib
import json
import multiprocessing
import subprocess
import sys
import tempfile
import time
import warnings
from collections import Counter, defaultdict
from pathlib import Path

import numpy as np

from sensorcal.firststart.channels import FAMILY, GENUINE, KINDS
from tests.studies.foreign_starts import BUCKETS, make_start, write_start

LOW_SCALE_C, HIGH_SCALE_C = -30.0, 140.0
"""Beyond these the threshold checker calls a thermistor open or shorted."""


# --- judges -----------------------------------------------------------------------------------------------------


def in_process(log_path, setup_path):
    """Ask the judge of this project, in this process."""
    from sensorcal.firststart.judge import judge
    from sensorcal.firststart.logread import read_log
    from sensorcal.setupfile import read_setup

    setup = read_setup(setup_path)
    return judge(read_log(log_path, setup), setup).findings


def by_command(log_path, setup_path):
    """Ask the installed command."""
    out = Path(log_path).with_name("FINDINGS.json")
    command = [Path(sys.executable).with_name("sensorcal"), "check", log_path, "--setup", setup_path, "--out", out]
    done = subprocess.run([str(part) for part in command], capture_output=True, text=True, check=False)
    if not out.exists():
        raise RuntimeError(f"exit code {done.returncode}: {(done.stderr or done.stdout).strip()[-300:]}")
    return json.loads(out.read_text(encoding="utf-8"))


def threshold_checker(start):
    """Compare with the typed limits and the ends of the scale, and know nothing else; worst first.

    Low limits are asked from twelve seconds after the speed first rose, while it stays above 1000 1/min.
    """
    shown, t, found = start.shown, start.time_s, []
    step_s = float(np.median(np.diff(t)))
    fast = shown["rpm"] > 1000.0
    on = fast & (t > (t[np.argmax(fast)] if fast.any() else np.inf) + 12.0)
    for name, (low, high) in start.truth["limits"].items():
        value = shown[name]
        if high is not None and (value > high).any():
            kind = "overheat_real" if name not in {"oil_pressure", "fuel_pressure", "map"} else "wrong_unit"
            found.append({"kind": kind, "channel": name})
        if low is not None and ((value < low) & on).sum() * step_s >= 3.0:  # not the last turns after the stop
            kind = "low_oil_pressure_real" if name == "oil_pressure" else "low_fuel_pressure_real"
            found.append({"kind": kind, "channel": name})
    for name in ("coolant", "gearbox_oil", "charge_in", "charge_out"):
        value = shown[name]
        if (value < LOW_SCALE_C).any() or np.isnan(value).mean() > 0.5:
            found.append({"kind": "open_circuit", "channel": name})
        if (value > HIGH_SCALE_C).any():
            found.insert(0, {"kind": "short_circuit", "channel": name})
    for name, (low, high) in start.truth["ranges"].items():
        value = shown[name]
        if (value < low - 0.02 * (high - low)).any() or (value > high).any():
            found.append({"kind": "wrong_reference_type", "channel": name})
    return found


def _callable(name):
    if name in {"judge", "cli"}:
        return {"judge": in_process, "cli": by_command}[name]
    module, _, function = name.partition(":")
    return getattr(importlib.import_module(module), function)


# --- one log ----------------------------------------------------------------------------------------------------


def score_one(task):
    """Make the start of one seed, ask the judge and the threshold checker, and keep what is needed to count."""
    seed, kind, judge_name = task
    start = make_start(seed, kind)
    row = {
        key: start.truth[key]
        for key in ("seed", "kind", "channels", "bucket", "effect", "broken_limits", "sparse", "start")
    }
    row |= {"cold_oil": start.truth["cold_oil_over_limit"], "headings": start.truth["headings"], "error": ""}
    row["baseline"] = [plain_finding(f) for f in threshold_checker(start)]
    begun = time.perf_counter()
    if judge_name == "baseline":
        row["findings"] = row["baseline"]
    else:
        try:
            with tempfile.TemporaryDirectory() as folder, warnings.catch_warnings():
                warnings.simplefilter("error")
                write_start(start, folder, twin=False)
                begun = time.perf_counter()
                row["findings"] = plain_findings(
                    _callable(judge_name)(Path(folder) / "LOG.csv", Path(folder) / "SETUP.toml")
                )
        except Exception as error:  # noqa: BLE001 - whatever a judge does, the score goes on and counts it
            row |= {"findings": [], "error": f"{type(error).__name__}: {error}"[:300]}
    row["seconds"] = time.perf_counter() - begun
    return row


def plain_findings(given):
    """Give findings as a list of plain dictionaries, by rank, from JSON or from objects."""
    found = given.get("findings", []) if isinstance(given, dict) else getattr(given, "findings", given)
    plain = [plain_finding(f) for f in found]
    return sorted(plain, key=lambda f: f["rank"])


def plain_finding(finding):
    """Take from a finding what is scored.

    Examples
    --------
    >>> plain_finding({"kind": "stuck", "channel": "MAP kPa", "rank": 1})["also"]
    []
    """

    def take(name, default):
        return finding.get(name, default) if isinstance(finding, dict) else getattr(finding, name, default)

    also = take("also", ()) or ()
    channels = tuple(take("channels", ()) or ())
    channel = take("channel", channels[0] if len(channels) == 1 else "multiple" if channels else "")
    return {
        "kind": str(take("kind", "")), "channel": str(channel), "rank": int(take("rank", 1) or 1),
        "also": [also] if isinstance(also, str) else [str(a) for a in also], "probability": take("probability", None),
    }  # fmt: skip


def marks(row, findings):
    """Judge the first finding of a log against the truth: detected, family, kind, channel."""
    if not findings:
        return {"detected": False, "family": False, "kind": False, "channel": False}
    first = findings[0]
    kinds = {first["kind"], *first["also"]}
    right = {*row["channels"], *(row["headings"].get(name, name) for name in row["channels"])}
    many = len(row["channels"]) > 1 and first["channel"] == "multiple"
    return {
        "detected": True, "family": FAMILY[row["kind"]] in {FAMILY.get(kind, "") for kind in kinds},
        "kind": row["kind"] in kinds, "channel": many or first["channel"] in right,
    }  # fmt: skip


# --- all logs ---------------------------------------------------------------------------------------------------


def run(seeds, kinds, judge_name, processes=2):
    """Score many seeds; `kinds` is empty for what each seed draws, else cycled through."""
    tasks = [(seed, kinds[k % len(kinds)] if kinds else None, judge_name) for k, seed in enumerate(seeds)]
    if processes == 1:
        return [score_one(task) for task in tasks]
    rows = []
    with multiprocessing.get_context("spawn").Pool(processes) as pool:
        for row in pool.imap_unordered(score_one, tasks, chunksize=8):
            rows.append(row)
            if sys.stderr.isatty() and len(rows) % 25 == 0:
                print(f"\r{len(rows)}/{len(tasks)}", end="", file=sys.stderr)
    return sorted(rows, key=lambda row: row["seed"])


def share(part, whole):
    """Give '12.3 % ± 0.7 (n)' with its binomial standard error."""
    if not whole:
        return "-"
    p = part / whole
    return f"{100 * p:5.1f} % ± {100 * (p * (1 - p) / whole) ** 0.5:.1f} ({part}/{whole})"


def report(rows):
    """Write the whole score as text."""
    lines = [f"{len(rows)} logs; {sum(bool(r['error']) for r in rows)} not judged for an error"]
    for message, n in Counter(r["error"].split("tmp")[0][:110] for r in rows if r["error"]).most_common(6):
        lines.append(f"  {n} x {message}")
    seconds = np.array([r["seconds"] for r in rows])
    lines.append(
        f"seconds a log: median {np.median(seconds):.3f}, 95 % {np.quantile(seconds, 0.95):.3f}, "
        f"most {seconds.max():.3f}"
    )
    for title, who in (("the judge", "findings"), ("threshold checker (baseline)", "baseline")):
        lines += ["", f"== {title}", *_healthy(rows, who), *_buckets(rows, who), *_genuine(rows, who)]
    return "\n".join([*lines, "", *_kinds(rows), "", *_confusion(rows)])


def _healthy(rows, who):
    sound = [r for r in rows if r["kind"] == "healthy" and not r["error"]]
    warm = [r for r in sound if not r["cold_oil"]]
    lines = [
        f"healthy with any finding          {share(sum(bool(r[who]) for r in sound), len(sound))}",
        f"  without cold oil over its limit {share(sum(bool(r[who]) for r in warm), len(warm))}",
    ]
    for title, rule in (("sparse setup", True), ("full setup", False)):
        some = [r for r in sound if r["sparse"] is rule]
        lines.append(f"  {title:31s} {share(sum(bool(r[who]) for r in some), len(some))}")
    false = Counter(
        f"{f['kind']} {next((n for n, h in r['headings'].items() if h == f['channel']), f['channel'])}"
        for r in sound
        for f in r[who][:1]
    )
    return lines + [f"    {n} x {what}" for what, n in false.most_common(8)]


def _buckets(rows, who):
    lines = [f"{'size class':12s} {'detected':>26s} {'family first':>26s} {'kind first':>26s} {'channel first':>26s}"]
    faulty = [r for r in rows if r["kind"] != "healthy"]
    groups = [(b, [r for r in faulty if r["bucket"] == b]) for b in BUCKETS]
    both = [r for r in faulty if r["bucket"] in {"clear", "gross"}]
    groups.append(("clear+gross", both))
    groups += [("  sparse", [r for r in both if r["sparse"]]), ("  full", [r for r in both if not r["sparse"]])]
    for title, some in groups:
        m = [marks(r, r[who]) for r in some]
        cells = [share(sum(x[key] for x in m), len(m)) for key in ("detected", "family", "kind", "channel")]
        lines.append(f"{title:12s} " + " ".join(f"{cell:>26s}" for cell in cells))
    return lines


def _genuine(rows, who):
    broke = [r for r in rows if r["kind"] in GENUINE and r["broken_limits"]]
    silent = [r for r in broke if not r[who]]
    away = [r for r in broke if r[who] and not {r[who][0]["kind"], *r[who][0]["also"]} & set(GENUINE)]
    lines = [f"real trouble that broke a typed limit: {len(broke)}; silent {len(silent)}, explained away {len(away)}"]
    if who == "findings":
        lines += [f"    silent: seed {r['seed']} {r['kind']} {r['broken_limits']} {r['error']}" for r in silent[:15]]
        lines += [
            f"    away: seed {r['seed']} {r['kind']} {r['broken_limits']} as {r[who][0]['kind']}" for r in away[:15]
        ]
    return lines


def _kinds(rows):
    lines = ["clear and gross by kind: n, detected, family, kind, channel in %"]
    for kind in KINDS:
        some = [marks(r, r["findings"]) for r in rows if r["kind"] == kind and r["bucket"] in {"clear", "gross"}]
        if some:
            cells = [
                f"{100 * sum(m[key] for m in some) / len(some):6.0f}"
                for key in ("detected", "family", "kind", "channel")
            ]
            lines.append(f"  {kind:24s} {len(some):4d} " + "".join(cells))
    return lines


def _confusion(rows):
    """Name, for each true kind of mild size or more, what stood first."""
    table = defaultdict(Counter)
    for r in rows:
        if r["kind"] == "healthy" or r["bucket"] in {"mild", "clear", "gross"}:
            table[r["kind"]][r["findings"][0]["kind"] if r["findings"] else "nothing"] += 1
    lines = ["what stood first, mild and larger (true kind: first kind x n)"]
    for kind in ("healthy", *KINDS):
        first = ", ".join(f"{what} {n}" for what, n in table[kind].most_common())
        lines += [f"  {kind:24s} {first}"] if first else []
    return lines


def main(arguments=None):
    """Score and print."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--count", type=int, default=400)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--kinds", default="", help="'genuine', or kinds with commas; 'healthy' is one")
    parser.add_argument("--judge", default="judge", help="'judge', 'cli', 'baseline' or package.module:function")
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument(
        "--list", default="", help="name the seeds of this kind whose first finding has the wrong family"
    )
    parser.add_argument("--out", type=Path, help="keep every row as JSON lines")
    told = parser.parse_args(arguments)
    kinds = GENUINE if told.kinds == "genuine" else tuple(k for k in told.kinds.split(",") if k)
    unknown = set(kinds) - {*KINDS, "healthy"}
    if unknown:
        parser.error(f"no such kind: {', '.join(sorted(unknown))}")
    rows = run(range(told.first, told.first + told.count), kinds, told.judge, told.processes)
    print(report(rows))
    for r in rows:
        wrong = bool(r["findings"]) if r["kind"] == "healthy" else not marks(r, r["findings"])["family"]
        if r["kind"] == told.list and wrong:
            first = r["findings"][0] if r["findings"] else {"kind": "nothing", "channel": r["error"]}
            print(
                f"seed {r['seed']} {r['bucket']} {r['effect']} {r['channels'][:2]}: {first['kind']} {first['channel']}"
            )
    if told.out:
        told.out.write_text("".join(json.dumps(r) + "\n" for r in rows), encoding="utf-8", newline="\n")


if __name__ == "__main__":
    main()
