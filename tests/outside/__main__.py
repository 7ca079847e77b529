"""Print every outside check as a table: which source and row, our value, theirs, the tolerance.

Run `python -m tests.outside`, with `-k WORD` for some of them. The tests themselves are run; every comparison with
`pytest.approx` in them becomes a line.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest

_approx = pytest.approx


class _Told:
    """A value to compare with, that writes down each comparison."""

    __array_ufunc__ = None  # so that an array leaves the comparison to it

    def __init__(self, lines, expected, keywords) -> None:
        self.lines, self.expected, self.keywords = lines, expected, keywords

    def __eq__(self, ours) -> bool:
        right = bool(ours == _approx(self.expected, **self.keywords))
        theirs, mine = np.ravel(np.asarray(self.expected, dtype=float)), np.ravel(np.asarray(ours, dtype=float))
        worst = int(np.argmax(np.abs(theirs - mine)))
        tolerance = ", ".join(f"{name} {value:.2g}" for name, value in self.keywords.items())
        self.lines.append((mine[worst], theirs[worst], tolerance, right))
        return right

    __hash__ = None


class _Printer:
    """Pytest's plugin: prints the lines of each test under its name."""

    def __init__(self) -> None:
        self.lines: list[tuple[float, float, str, bool]] = []
        self.count = 0

    def approx(self, expected, **keywords) -> _Told:
        """Stand in for `pytest.approx`."""
        return _Told(self.lines, expected, keywords)

    def pytest_runtest_logreport(self, report) -> None:
        """Print what the test compared."""
        if report.when != "call":
            return
        name = report.nodeid.removeprefix("tests/outside/").replace(".py::", " ")
        if not self.lines:
            print(f"{name:<95} {report.outcome}")
        for ours, theirs, tolerance, right in self.lines:
            self.count += 1
            print(f"{name:<95} {ours:<18.12g} {theirs:<18.12g} {tolerance:<14} {'ok' if right else 'NO'}")
        self.lines.clear()


def main() -> int:
    """Run the outside checks and print them."""
    printer = _Printer()
    pytest.approx = printer.approx
    print(f"{'source and row':<95} {'ours':<18} {'theirs':<18} tolerance")
    # Pytest's own report would stand between the lines.
    quiet = ["-p", "no:terminal", "-o", "addopts=--import-mode=importlib"]
    code = pytest.main([str(Path(__file__).parent), *quiet, *sys.argv[1:]], plugins=[printer])
    print(f"{printer.count} comparisons; {'all within tolerance' if code == 0 else 'NOT ALL within tolerance'}")
    return int(code)


if __name__ == "__main__":
    sys.exit(main())
