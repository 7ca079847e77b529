"""The command `sensorcal readback`: the rows that stand in the monitor against the table that was made."""

from __future__ import annotations

import argparse
import json

from sensorcal.cli.channel import keyed_of

_EXAMPLE = """\
example:
  sensorcal readback tables/P1.csv read-back.csv
  sensorcal readback tables/O1.csv read-back.csv --ln
"""


def add_parser(subparsers: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add `readback` to the commands."""
    parser = subparsers.add_parser(
        "readback",
        help="the table read back from the monitor, row by row",
        description=(
            "Type the rows that the monitor now holds into a CSV with the headings of the table, and compare: every "
            "wrong entry with its effect and the likely slip, also where the table still looks right."
        ),
        epilog=_EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.set_defaults(run=run)
    parser.add_argument("made", metavar="TABLE.csv", help="as `sensorcal table` wrote it")
    parser.add_argument("keyed", metavar="READ-BACK.csv", help="signal [unit] and value [unit], in the same order")
    parser.add_argument("--ln", action="store_true", help="the monitor draws its lines in ln of the signal")
    parser.add_argument("--json", action="store_true", help="the slips for machines, in the table's unit")


def run(args: argparse.Namespace) -> int:
    """Compare the two lists and say what is wrong."""
    from dataclasses import asdict

    from sensorcal.installed.readbackrows import compare_rows, in_order
    from sensorcal.views.words import unit_symbol

    made, keyed = keyed_of(args.made), keyed_of(args.keyed)
    slips = compare_rows(made, keyed, ln_signal=args.ln)
    if args.json:
        machine = {
            "format": "sensorcal-readback/1",
            "rows": int(made.signal.size),
            "in_order": in_order(keyed),
            "slips": [asdict(slip) | {"error": slip.error} for slip in slips],
        }
        print(json.dumps(machine, indent=2, ensure_ascii=False))
        return 0
    if not slips:
        print(f"All {made.signal.size} rows as made.")
        return 0
    rows = len({slip.row for slip in slips})
    print(f"{rows} of {made.signal.size} rows wrong:" if slips[0].row else "A column is wrong as a whole:")
    for slip in slips:
        print(f"  {slip.sentence().replace(slip.value_unit, unit_symbol(slip.value_unit))}")
    if in_order(keyed):
        print("The rows still run one way, so the monitor takes them and nothing on the panel looks wrong.")
    else:
        print("The rows no longer run one way: what a monitor makes of that nobody knows; the sizes take them sorted.")
    print("Key the rows anew and read all of them back again.")
    return 0
