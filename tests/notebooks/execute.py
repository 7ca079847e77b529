"""Execute the shelf of notebooks anew, keep text and pictures, and write them in one form.

``python -m tests.notebooks.execute`` runs them all; names or their beginnings (``00 02``) choose some.
"""

from __future__ import annotations

import copy
import sys
from pathlib import Path
from typing import Any

SHELF = Path(__file__).resolve().parents[2] / "notebooks"
WIDGET_VIEW = "application/vnd.jupyter.widget-view+json"
KERNEL = {"display_name": "Python 3 (ipykernel)", "language": "python", "name": "python3"}


def notebooks(beginnings: tuple[str, ...] = ()) -> list[Path]:
    """Give the notebooks of the shelf whose names begin so, in order."""
    return [path for path in sorted(SHELF.glob("*.ipynb")) if not beginnings or path.name.startswith(beginnings)]


def normalised(notebook: Any) -> Any:
    """Give a notebook without anything that changes from run to run or from machine to machine."""
    nb = copy.deepcopy(notebook)
    nb["metadata"] = {"kernelspec": dict(KERNEL), "language_info": {"name": "python"}}
    nb["nbformat"], nb["nbformat_minor"] = 4, 5
    for number, cell in enumerate(nb["cells"], start=1):
        cell["id"] = f"cell-{number:02d}"
        tags = cell.get("metadata", {}).get("tags", [])
        cell["metadata"] = {"tags": list(tags)} if tags else {}
        if cell["cell_type"] != "code":
            continue
        # A widget is alive only in a running notebook; what it leaves in a file is an id that means nothing.
        cell["outputs"] = [one for one in cell["outputs"] if WIDGET_VIEW not in one.get("data", {})]
        for output in cell["outputs"]:
            if "execution_count" in output:
                output["execution_count"] = cell["execution_count"]
            output.pop("transient", None)
    return nb


def text_of(notebook: Any) -> str:
    """Give the bytes of a notebook file as text: the same notebook gives the same text everywhere."""
    import nbformat

    return nbformat.writes(notebook).rstrip("\n") + "\n"


def execute(path: Path) -> None:
    """Run one notebook in its own folder and write it back."""
    import nbformat
    from nbclient import NotebookClient

    notebook = nbformat.read(path, as_version=4)
    for cell in notebook.cells:
        if cell.cell_type == "code":
            cell.outputs, cell.execution_count = [], None
    client = NotebookClient(
        notebook, timeout=120, kernel_name="python3", resources={"metadata": {"path": str(path.parent)}}
    )
    client.execute()
    with path.open("w", encoding="utf-8", newline="\n") as file:
        file.write(text_of(normalised(notebook)))


def main(beginnings: tuple[str, ...]) -> int:
    """Run the notebooks that were asked for."""
    chosen = notebooks(beginnings)
    for path in chosen:
        print(path.name, flush=True)
        execute(path)
    return 0 if chosen else 2


if __name__ == "__main__":
    raise SystemExit(main(tuple(sys.argv[1:])))
