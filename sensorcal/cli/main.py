"""The command `sensorcal`: finds the sub-command, and turns a user's mistake into one line and exit code 2."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Sequence
from typing import NoReturn

from sensorcal import __version__
from sensorcal.errors import SensorcalError

BAD_INPUT = 2

_DESCRIPTION = """\
From bench readings of an engine's temperature probes to curves with an honest uncertainty, tables to key into the
monitor, and a record. The engine, sensor and monitor makers' manuals, local rules and licensed practice decide;
nothing here is an accredited certificate.
"""
_EXAMPLE = """\
start here:
  sensorcal demo my-first-look
  sensorcal air --elevation 640 --qnh 1009 --station-elevation 610
  sensorcal probe --ice 5262 --steam 172.9 --elevation 640 --qnh 1009 --station-elevation 610
  sensorcal COMMAND --help
"""


class _Parser(argparse.ArgumentParser):
    def error(self, message: str) -> NoReturn:
        self.exit(BAD_INPUT, f"{self.prog}: {message}; `{self.prog} --help` shows an example\n")


def parser() -> argparse.ArgumentParser:
    """Build the parser of all commands; nothing heavy is imported for it."""
    from sensorcal.cli import (
        air,
        alarm,
        chain,
        check,
        demo,
        fit,
        groundtest,
        harness,
        inputtest,
        interpolation,
        panelrun,
        preset,
        probe,
        readback,
        reading,
        startsheet,
        table,
    )

    top = _Parser(
        prog="sensorcal",
        description=_DESCRIPTION,
        epilog=_EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    top.add_argument("--version", action="version", version=f"sensorcal {__version__}")
    commands = top.add_subparsers(title="commands", metavar="COMMAND", required=True, parser_class=_Parser)
    bench = (demo, air, probe, fit, interpolation, table, readback, preset)
    installed = (chain, harness, inputtest, groundtest, panelrun, alarm)
    started = (startsheet, check, reading)
    for command in (*bench, *installed, *started):
        command.add_parser(commands)
    return top


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command.

    Parameters
    ----------
    argv : sequence of str, optional
        Arguments after the program's name; those of the process by default.

    Returns
    -------
    int
        0 where it worked, 2 for bad input, with one line on the standard error that says what to do.
    """
    for stream in (sys.stdout, sys.stderr):
        # A Windows console in a legacy code page cannot print ohm or degree signs otherwise.
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(encoding="utf-8", errors="replace")
    args = parser().parse_args(argv)
    try:
        code = int(args.run(args))
        sys.stdout.flush()
    except SensorcalError as error:
        print(f"sensorcal: {error}", file=sys.stderr)
        return BAD_INPUT
    except BrokenPipeError:
        # The reader has gone (`sensorcal … | head`): nothing is left to say, not even at exit.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except OSError as error:
        print(f"sensorcal: {error.filename or 'a file'}: {error.strerror or error}.", file=sys.stderr)
        return BAD_INPUT
    return code


if __name__ == "__main__":
    sys.exit(main())
