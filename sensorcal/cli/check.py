"""The command `sensorcal check`: logs of engine starts in, findings out, one log or a whole folder."""

from __future__ import annotations

import argparse
import sys
import time
from collections import Counter
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import quote

from sensorcal.cli.files import setup_and_source, write_text
from sensorcal.errors import FileError, InputError

if TYPE_CHECKING:
    from sensorcal.book.facts import Source
    from sensorcal.firststart.checkedlog import CheckedLog
    from sensorcal.firststart.judge import Verdict
    from sensorcal.firststart.manylogs import LogResult
    from sensorcal.setup import Setup

_EXAMPLE = """\
example:
  sensorcal check first-start.csv --setup setup.toml --out findings.json --html findings.html
  sensorcal check logs --setup setup.toml --out findings --html findings --workers 2
"""
_LOG_ENDINGS = (".csv", ".tsv", ".txt", ".log")
_SUMMARY = "summary"


def add_parser(subparsers: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add `check` to the commands."""
    parser = subparsers.add_parser(
        "check",
        help="judge the log of an engine start: what does not fit, the likeliest cause, the next check",
        description=(
            "Read the log of a first start (a logger's CSV of any origin, or a list of events typed afterwards), find "
            "its phases, and weigh every cause that could explain what does not fit. Findings are no failure: the exit "
            "code is 0 with and without them, 2 where nothing could be read. Several logs, or a folder, are checked in "
            "parallel; one bad file never stops the rest."
        ),
        epilog=_EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.set_defaults(run=run)
    parser.add_argument("logs", metavar="LOG.csv", nargs="+", help="log, event list, or a folder of them")
    parser.add_argument("--setup", metavar="SETUP.toml", help="sensors, limits, field, engine, [log.columns]")
    parser.add_argument("--out", metavar="FINDINGS.json", help="findings to write; a folder for several logs")
    parser.add_argument("--csv", metavar="TABLE.csv", help="findings of one log as a table for a spreadsheet")
    parser.add_argument("--html", metavar="PAGE.html", help="page to print; a folder for several logs")
    parser.add_argument("--json", action="store_true", help="print JSON instead of words")
    parser.add_argument("--workers", metavar="N", type=int, help="processes for several logs (all processors)")


def run(args: argparse.Namespace) -> int:
    """Check one log or many."""
    from sensorcal.book.facts import Source
    from sensorcal.setup import Setup

    setup, source = setup_and_source(args.setup) if args.setup else (Setup(), Source())
    if len(args.logs) == 1 and not Path(args.logs[0]).is_dir():
        return _one(args, setup, source)
    return _many(args, setup, source)


def _one(args: argparse.Namespace, setup: Setup, source: Source) -> int:
    from sensorcal.book.findings import findings_csv, findings_document, findings_text, write_findings
    from sensorcal.firststart.checkedlog import check_log
    from sensorcal.views.startreport import start_lines

    path = Path(args.logs[0])
    for option, name in (("--out", args.out), ("--csv", args.csv), ("--html", args.html)):
        if name and Path(name).resolve() == path.resolve():
            raise InputError(f"{option} names the log itself", do="choose another name")
    checked, verdict = check_log(path, setup)
    log = _source(path)
    document = findings_document(checked, log, source)
    written = []
    if args.out:
        write_findings(args.out, document)
        written.append(args.out)
    if args.csv:
        write_text(Path(args.csv), findings_csv(document))
        written.append(args.csv)
    if args.html:
        _write_page(Path(args.html), checked, verdict, setup, log, source)
        written.append(args.html)
    if args.json:
        print(findings_text(document), end="")
        return 0
    print("\n".join(start_lines(checked)))
    if written:
        print(f"\nWritten: {', '.join(written)}")
    return 0


def _source(path: Path) -> Source:
    from sensorcal.book.digest import sha256_of_file
    from sensorcal.book.facts import Source

    return Source(file=path.name, sha256=sha256_of_file(path))


def _write_page(path: Path, checked: CheckedLog, verdict: Verdict, setup: Setup, log: Source, source: Source) -> None:
    from sensorcal.views.startreport import start_page_html

    write_text(path, start_page_html(checked, verdict, setup.units, log=log, setup=source))


# --- many logs ----------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class _Places:
    """Where the files of each log go; sent to every process once."""

    setup: Setup
    source: Source
    findings: dict[Path, Path]
    pages: dict[Path, Path]


def _write_files(places: _Places, path: Path, checked: CheckedLog, verdict: Verdict) -> None:
    """Write the files of one log, in its own process."""
    from sensorcal.book.findings import findings_document, write_findings

    log = _source(path)
    write_findings(places.findings[path], findings_document(checked, log, places.source))
    if path in places.pages:
        _write_page(places.pages[path], checked, verdict, places.setup, log, places.source)


def _many(args: argparse.Namespace, setup: Setup, source: Source) -> int:
    from sensorcal.book.findings import findings_text, summary_csv, summary_document
    from sensorcal.firststart.manylogs import check_many

    if args.csv:
        raise InputError("--csv is the table of one log", do="several logs get summary.csv in the folder of --out")
    if args.html and not args.out:
        raise InputError("pages of several logs need a folder for their findings too", do="give --out FOLDER")
    out = Path(args.out) if args.out else None
    for option, name in (("--out", args.out), ("--html", args.html)):
        if name and Path(name).is_file():
            raise InputError(f"{option} {name} is a file", do="several logs need a folder")
    names = _logs(args.logs, [Path(name) for name in (args.out, args.html) if name])
    findings = {path: out / name for path, name in _endings(names, ".json").items()} if out else {}
    pages = {path: Path(args.html) / name for path, name in _endings(names, ".html").items()} if args.html else {}
    places = _Places(setup=setup, source=source, findings=findings, pages=pages)
    results: list[LogResult] = []
    progress = _Progress(len(names))
    write = partial(_write_files, places) if out else None
    for result in check_many(names, setup, workers=args.workers, each=write):
        results.append(result)
        progress.show(result)
    progress.done()
    base = args.logs[0] if len(args.logs) == 1 else None
    document = summary_document(results, base)
    if out:
        write_text(out / f"{_SUMMARY}.json", findings_text(document))
        write_text(out / f"{_SUMMARY}.csv", summary_csv(document))
    if args.html:
        _write_index(Path(args.html), document, pages, base)
    if args.json:
        print(findings_text(document), end="")
    else:
        print("\n".join(_told(document, results, time.perf_counter() - progress.begun)))
        if out:
            print(f"Written: {out / 'summary.csv'}, {out / 'summary.json'} and a file of findings for each log")
        else:
            print("One log alone is told in full; --out FOLDER keeps the findings of all.")
        if args.html:
            print(f"Open {Path(args.html) / 'index.html'}")
    return 0 if document["checked"] else 2


def _write_index(folder: Path, document: dict[str, Any], pages: dict[Path, Path], base: str | None) -> None:
    """Write the page that leads to all others; links are relative, so that the folder can be moved."""
    from sensorcal.book.findings import summary_name
    from sensorcal.views.startindex import start_index_html

    links = {summary_name(path, base): quote(page.relative_to(folder).as_posix()) for path, page in pages.items()}
    write_text(folder / "index.html", start_index_html(document, links))


def _logs(names: list[str], outputs: list[Path]) -> dict[Path, Path]:
    """Each log with the name that its findings get, in order; what was written by an earlier run is left out."""
    found: dict[Path, Path] = {}
    own = {(one / f"{_SUMMARY}.csv").resolve() for one in outputs}
    for name in names:
        place = Path(name)
        if not place.is_dir():
            found[place] = Path(place.name)
            continue
        inside = sorted(
            path for path in place.rglob("*")
            if path.is_file() and path.suffix.lower() in _LOG_ENDINGS and not path.name.startswith(".")
            and not any(path.is_relative_to(one) for one in outputs if one.resolve() != place.resolve())
            and path.resolve() not in own
        )  # fmt: skip
        if not inside:
            raise FileError(f"no log in this folder ({', '.join(_LOG_ENDINGS)})", do="check the folder", file=name)
        found |= {path: path.relative_to(place) for path in inside}
    return found


def _endings(names: dict[Path, Path], ending: str) -> dict[Path, Path]:
    """Replace the ending of each name; where two would meet, or meet the summary, the old one stays before it."""
    short = Counter(str(name.with_suffix(ending)).lower() for name in names.values())
    for own in (_SUMMARY, "index"):
        short[f"{own}{ending}"] += 1
    given: dict[Path, Path] = {}
    taken: set[str] = set()
    for path, name in names.items():
        alone = short[str(name.with_suffix(ending)).lower()] == 1
        new = name.with_suffix(ending) if alone else name.with_name(name.name + ending)
        number = 2
        while str(new).lower() in taken:
            new = name.with_name(f"{name.name}-{number}{ending}")
            number += 1
        taken.add(str(new).lower())
        given[path] = new
    return given


def _told(document: dict[str, object], results: list[LogResult], seconds: float) -> list[str]:
    stops = [one for one in results if one.checked and any(finding.genuine for finding in one.checked.findings)]
    found = f"{document['with_findings']} with findings, {len(stops)} of them to stop and check"
    lines = [f"{document['logs']} logs in {seconds:.1f} s: {found}, {document['errors']} not read."]
    lines += [f"  STOP AND CHECK: {one.path}: {one.checked.findings[0].title}" for one in stops[:20] if one.checked]
    others = [one for one in results if one.checked and one.checked.findings and one not in stops]
    lines += [f"  {one.path}: {one.checked.findings[0].title}" for one in others[:20] if one.checked]
    left = max(len(stops) - 20, 0) + max(len(others) - 20, 0)
    lines += [f"  and {left} more with findings"] if left else []
    lines += [f"  not read: {one.error}" for one in results if one.error][:20]
    return lines


class _Progress:
    """One line that tells how far it is, on a terminal only."""

    def __init__(self, count: int) -> None:
        self.count, self.seen, self.errors = count, 0, 0
        self.begun = time.perf_counter()
        self.last = 0.0

    def show(self, result: LogResult) -> None:
        self.seen += 1
        self.errors += bool(result.error)
        now = time.perf_counter()
        if not sys.stderr.isatty() or (now - self.last < 0.2 and self.seen < self.count):
            return
        self.last = now
        share = self.seen / self.count
        left = (now - self.begun) * (1.0 - share) / share
        bar = "#" * round(30 * share)
        print(
            f"\r[{bar:<30}] {self.seen}/{self.count}, {left:.0f} s left, {self.errors} not read ", end="",
            file=sys.stderr, flush=True,
        )  # fmt: skip

    def done(self) -> None:
        if sys.stderr.isatty():
            print(file=sys.stderr)
