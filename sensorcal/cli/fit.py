"""The command `sensorcal fit`: a run becomes a calibration record and a page for each probe or pressure sensor."""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sensorcal.cli.files import setup_and_source, write_text
from sensorcal.cli.pressure import fit_pressure_sensor
from sensorcal.errors import InputError

if TYPE_CHECKING:
    from sensorcal.book.facts import Facts
    from sensorcal.calibration.fromrun import BenchResult
    from sensorcal.setup import Setup

_EXAMPLE = """\
example:
  sensorcal fit runs/2026-05-02-water-bath.csv --setup setup.toml --probe P1 --out calibrations/P1.json
  sensorcal fit runs/2026-05-02-water-bath.csv --setup setup.toml --all --out calibrations
  sensorcal fit runs/2026-05-16-oil.csv --setup setup.toml --probe O1 --out calibrations/O1.json
"""


def add_parser(subparsers: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add `fit` to the commands."""
    parser = subparsers.add_parser(
        "fit",
        help="fit the curve of a probe or pressure sensor to a bench run",
        description=(
            "Fit the probes or pressure sensors of a bench run; write a record (JSON) and a one-page report (HTML) for "
            "each."
        ),
        epilog=_EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.set_defaults(run=run)
    parser.add_argument("readings", metavar="RUN.csv", help="the bench run")
    parser.add_argument("--setup", metavar="SETUP.toml", required=True, help="probes, references, meter, field")
    which = parser.add_mutually_exclusive_group(required=True)
    which.add_argument("--probe", metavar="TAG", help="one probe, such as P1")
    which.add_argument("--all", action="store_true", help="every probe of the run")
    parser.add_argument("--out", metavar="PATH", required=True, help="CAL.json, or with --all a folder")
    parser.add_argument("--date", metavar="YYYY-MM-DD", help="day of the record (today)")
    parser.add_argument("--person", metavar="NAME", default="", help="who read and signs")
    parser.add_argument("--json", action="store_true", help="print the result for machines, in SI units")


def run(args: argparse.Namespace) -> int:
    """Fit, write record and page, and say the outcome in plain words."""
    from dataclasses import replace

    from sensorcal.bench.fixed import questions_about_run, require_answers
    from sensorcal.bench.runfile import read_run
    from sensorcal.book.frombench import facts_of
    from sensorcal.book.store import write_record
    from sensorcal.calibration.anysensor import calibrate_any
    from sensorcal.calibration.fromrun import BenchResult
    from sensorcal.views.report import report_html

    setup, source = setup_and_source(args.setup)
    session = read_run(args.readings, setup)
    require_answers(questions_about_run(session, setup), file=session.file)
    if args.probe and args.probe not in session.probes:
        raise InputError(
            f"--probe {args.probe} is not in {session.file}", do=f"choose from {', '.join(session.probes)}"
        )
    probes = session.probes if args.all else (args.probe,)
    out = Path(args.out)
    if args.all and out.suffix == ".json":
        raise InputError(f"--out {args.out} is one file, and --all writes several", do="give a folder")
    # All are fitted before the first is written: a mistake in one leaves no half set behind.
    results = [calibrate_any(session, setup, name) for name in probes]
    written = _day(args.date)
    machine: list[dict[str, Any]] = []
    for result in results:
        name = result.calibration.sensor
        record = out / f"{name}.json" if args.all else out
        record.parent.mkdir(parents=True, exist_ok=True)
        if not isinstance(result, BenchResult):
            machine.append(fit_pressure_sensor(result, session, setup, source, written, args, record))
            continue
        facts = replace(facts_of(result, session, setup, written=written, setup_file=source), person=args.person)
        older = write_record(record, result.calibration, facts)
        page = record.with_suffix(".html")
        write_text(page, report_html(result.calibration, None, facts, setup.units))
        machine.append(_summary(result, facts, record))
        if not args.json:
            print("\n".join([*_lines(result, facts, setup), f"  record {record}, page {page}"]))
            if older is not None:
                print(f"  the record that stood there is kept as {older}")
            print()
    if args.json:
        print(json.dumps(machine, indent=2, ensure_ascii=False))
    else:
        print(
            "The engine maker's manual, local rules and licensed practice decide; this is an own workshop record, "
            "not an accredited certificate."
        )
    return 0


def _day(text: str | None) -> str:
    import datetime as dt

    if text is None:
        return dt.datetime.now().astimezone().date().isoformat()
    try:
        return dt.date.fromisoformat(text).isoformat()
    except ValueError:
        raise InputError(f"--date {text} is no date", do="write it as 2026-05-02") from None


def _lines(result: BenchResult, facts: Facts, setup: Setup) -> list[str]:
    """The outcome in plain words, the redline first."""
    from sensorcal.calibration.claims import claim_at, worst_tested
    from sensorcal.views import words

    cal, units = result.calibration, setup.units
    low, high = cal.tested_c
    role = f" ({facts.role})" if facts.role else ""
    unit = units.temperature
    span = f"{words.temperature(low, unit)} to {words.temperature(high, unit)}"
    out = [f"{cal.sensor}{role}: {len(result.points)} points from {span}"]
    if result.questioned:
        out.append("  A READING LOOKS WRONG, and no table is made until it is settled:")
        out += [f"    {words.in_degrees(blunder.sentence, unit)}" for blunder in result.blunders[:4]]
        out.append(
            "    mend the run file and fit again, or keep it: "
            f'keep = [{{what = "wrong-reading:{cal.sensor}", reason = "…"}}] in the setup'
        )
        return out
    if result.blunders:
        out.append(f"  A reading looks wrong; kept, because {result.kept}:")
        out += [f"    {words.in_degrees(blunder.sentence, unit)}" for blunder in result.blunders[:4]]
    if facts.redline_c is not None:
        claim = claim_at(cal, facts.redline_c, shape_confirmed=facts.shape_confirmed)
        out.append("  " + words.redline(claim, unit, units.resistance))
    worst = worst_tested(cal)
    if worst.expanded_c is not None:
        out.append(f"  between the tested points at worst {words.margin(worst.expanded_c, unit)} (19 times in 20)")
    out += [f"  {words.in_degrees(statement, unit)}" for statement in facts.statements]
    if cal.prior is not None:
        pull = max((abs(shift) for _, shift in cal.prior.pull_c), default=0.0)
        out.append(f"  shape prior: {cal.prior.prior.source}; it moved the curve by at most {_size(pull, unit)}")
    out += [f"  note: {words.in_degrees(note, unit)}" for note in cal.notes]
    seen = [value for value in result.screening.detectable_c if value < float("inf")]
    if seen:
        out.append(
            f"  one wrong point would have been found from {_size(min(seen), unit)} to {_size(max(seen), unit)} on, by "
            "where it stands; an error shared by all never shows"
        )
    else:
        out.append(f"  {result.screening.blind}")
    return out


def _size(size_c: float, unit: str) -> str:
    """Write the size of an error to two digits."""
    from sensorcal.units import interval_from_si
    from sensorcal.views.words import unit_symbol

    return f"{interval_from_si(size_c, unit):.2g} {unit_symbol(unit)}"


def _summary(result: BenchResult, facts: Facts, record: Path) -> dict[str, Any]:
    """The same for machines."""
    from dataclasses import asdict

    from sensorcal.book.record import document

    body = document(result.calibration, facts)
    return {
        "sensor": result.calibration.sensor,
        "record": str(record),
        "questioned": result.questioned,
        "blunders": [_finite(asdict(blunder)) for blunder in result.blunders],
        "sheet": [asdict(check) for check in result.sheet],
        "for_people": body["for_people"],
        "calibration": body["calibration"],
    }


def _finite(data: dict[str, Any]) -> dict[str, Any]:
    """JSON has no word for 'not a number': leave it out as null."""
    import math

    return {
        key: None if isinstance(value, float) and not math.isfinite(value) else value for key, value in data.items()
    }
