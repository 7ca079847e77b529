"""Reading and writing that several commands share."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from sensorcal.errors import FileError

if TYPE_CHECKING:
    from sensorcal.book.facts import Source
    from sensorcal.setup import Setup


def setup_and_source(path: str) -> tuple[Setup, Source]:
    """Read a setup file, and say where it came from."""
    from sensorcal.book.digest import sha256_of_file
    from sensorcal.book.facts import Source
    from sensorcal.setupfile import read_setup

    setup = read_setup(path)
    return setup, Source(file=Path(path).name, sha256=sha256_of_file(path))


def write_text(path: Path, text: str) -> None:
    """Write a text file with line feeds, in UTF-8, making its folder."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8", newline="\n")
    except OSError as error:
        raise FileError(
            f"cannot be written ({error.strerror})", do="check the folder and its permissions", file=str(path)
        ) from None
