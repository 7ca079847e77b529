"""The notebooks as they lie on the shelf: run, whole, small, and without anything that changes by itself.

That their outputs are still true is checked by nbval, which runs every cell and compares.
"""

from __future__ import annotations

import json
import re
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from tests.notebooks.execute import WIDGET_VIEW, normalised, notebooks, text_of

SHELF = notebooks()
IGNORED = {"nbval-ignore-output", "nbval-skip"}
WIDGET = "widget"
YOURS = "yours"

# Nothing of this belongs on a page: an object without words, an address, a clock, a progress bar, a warning.
UNREADABLE = {
    "object without words": r"<[\w.]+ (object|at)\b|<(class|function|module|bound method) |\barray\(|\w+\(\w+=",
    "address": r"0x[0-9a-fA-F]{6,}|/tmp/|/home/|[A-Z]:\\",
    "clock": r"\b\d{1,2}:\d{2}:\d{2}\b",
    "progress bar": r"\d+%\||it/s|\r",
    "warning": r"\w+Warning\b|Traceback",
    "number that was not rounded": r"\d\.\d{7,}",
}


@cache
def loaded(path: Path) -> dict[str, Any]:
    """Give a notebook as JSON."""
    return json.loads(path.read_text(encoding="utf-8"))


def code_cells(path: Path) -> list[dict[str, Any]]:
    """Give its code cells."""
    return [cell for cell in loaded(path)["cells"] if cell["cell_type"] == "code"]


def source(cell: dict[str, Any]) -> str:
    """Give what a cell runs."""
    return "".join(cell["source"])


def tags(cell: dict[str, Any]) -> set[str]:
    """Give a cell's tags."""
    return set(cell["metadata"].get("tags", []))


def said(cell: dict[str, Any]) -> str:
    """Every text that a cell leaves on the page."""
    found: list[str] = []
    for output in cell["outputs"]:
        found.append("".join(output.get("text", "")))
        found += ["".join(v) for kind, v in output.get("data", {}).items() if kind.startswith("text/")]
    return "\n".join(found)


each = pytest.mark.parametrize("path", SHELF, ids=lambda path: path.stem)


def test_the_shelf_is_not_empty() -> None:
    """Without a notebook every test below would pass and prove nothing."""
    assert [path.name[:2] for path in SHELF][:4] == ["00", "01", "02", "03"]


@each
def test_every_cell_was_executed_in_order(path: Path) -> None:
    """Strict nbval compares nothing in a cell that was never run."""
    cells = code_cells(path)
    assert [cell["execution_count"] for cell in cells] == list(range(1, len(cells) + 1))


@each
def test_no_error_and_nothing_on_stderr(path: Path) -> None:
    """A page with a traceback or a warning on it was not looked at."""
    for cell in code_cells(path):
        for output in cell["outputs"]:
            assert output["output_type"] != "error", source(cell)
            assert output.get("name") != "stderr", source(cell)


@each
@pytest.mark.parametrize("what", UNREADABLE)
def test_outputs_are_words_and_rounded_numbers(path: Path, what: str) -> None:
    """A bare object or an address says nothing, and a clock makes the page differ on every run."""
    for cell in code_cells(path):
        found = re.search(UNREADABLE[what], said(cell))
        assert not found, f"{what}: {found.group(0)!r} from {source(cell)!r}"


@each
def test_the_file_is_in_the_one_form(path: Path) -> None:
    """Widget state, timings or a machine's name in the file would change with everyone who runs it."""
    import nbformat

    notebook = nbformat.read(path, as_version=4)
    assert "widgets" not in notebook.metadata
    assert text_of(normalised(notebook)) == path.read_text(encoding="utf-8")


def test_hardly_any_cell_is_ignored() -> None:
    """A cell that is ignored may say anything: at most three in a hundred, widgets apart."""
    cells = [cell for path in SHELF for cell in code_cells(path)]
    ignored = [cell for cell in cells if tags(cell) & IGNORED and WIDGET not in tags(cell)]
    assert len(ignored) <= 0.03 * len(cells)


@each
def test_a_widget_is_followed_by_a_cell_that_asserts(path: Path) -> None:
    """What only shows on a living screen must be proven by the cell after it, and by nothing that was stored."""
    cells = code_cells(path)
    for cell, following in zip(cells, [*cells[1:], None], strict=True):
        shows_widget = any(WIDGET_VIEW in output.get("data", {}) for output in cell["outputs"])
        assert not shows_widget, "a widget's view was stored"
        if WIDGET in tags(cell):
            assert tags(cell) & IGNORED
            assert following is not None
            assert "assert " in source(following)


@each
def test_what_a_picture_shows_is_asserted_beside_it(path: Path) -> None:
    """Nbval never compares pictures: without an assert a wrong one would go unseen."""
    for cell in code_cells(path):
        if any("image/png" in output.get("data", {}) for output in cell["outputs"]):
            assert "assert " in source(cell), source(cell)


@each
def test_pictures_have_one_size(path: Path) -> None:
    """Pictures of many sizes make a page that jumps about."""
    sizes = {
        tuple(sorted(output["metadata"]["image/png"].items()))
        for cell in code_cells(path)
        for output in cell["outputs"]
        if "image/png" in output.get("data", {})
    }
    assert sizes in (set(), {(("height", 288), ("width", 600))})


@each
def test_cells_are_short_and_one_is_yours(path: Path) -> None:
    """A reader follows a few lines at a time, and must know the one cell that is meant to be changed."""
    cells = code_cells(path)
    assert sum(YOURS in tags(cell) for cell in cells) == 1
    for cell in cells:
        lines = [line for line in source(cell).splitlines() if line.strip()]
        assert len(lines) <= 14, source(cell)
        assert max((len(line) for line in lines), default=0) <= 96


@each
def test_the_page_opens_with_what_a_reader_needs(path: Path) -> None:
    """Who it is for, what is on the bench, how long it takes and what can hurt stand before the first number."""
    opening = "".join(loaded(path)["cells"][0]["source"])
    for word in ("**For**", "**On the bench**", "**Time**", "**Caution**", "Run All"):
        assert word in opening, word
    assert "invented" in opening.lower()
