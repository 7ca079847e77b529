"""The one family of errors a user of sensorcal can meet: what is wrong, where, and what to do about it."""

from __future__ import annotations


class SensorcalError(Exception):
    """A user's mistake or a limit of the method, told in one sentence.

    Parameters
    ----------
    what : str
        What is wrong, as a plain sentence without a final full stop.
    do : str, optional
        What the user can do about it.
    file, row, column : optional
        Where it is. Rows count from 1 at the top of the file, as a spreadsheet does.

    Examples
    --------
    >>> print(SensorcalError("'abc' is not a number", do="type ohms", file="run.csv", row=4, column="P1"))
    run.csv, row 4, column P1: 'abc' is not a number; type ohms.
    """

    def __init__(
        self,
        what: str,
        *,
        do: str = "",
        file: str = "",
        row: int | None = None,
        column: str = "",
    ) -> None:
        self.what = what
        self.do = do
        self.file = str(file)
        self.row = row
        self.column = column
        super().__init__(self._sentence())

    def _sentence(self) -> str:
        where = [self.file] if self.file else []
        if self.row is not None:
            where.append(f"row {self.row}")
        if self.column:
            where.append(f"column {self.column}")
        head = f"{', '.join(where)}: " if where else ""
        tail = f"; {self.do}" if self.do else ""
        return f"{head}{self.what}{tail}."


class InputError(SensorcalError):
    """A number or word that the user gave cannot be used as it stands."""


class FileError(SensorcalError):
    """A run, setup or record file cannot be read as it stands."""


class FitError(SensorcalError):
    """The readings do not determine the curve that was asked for."""


class CurveError(SensorcalError):
    """A curve cannot be inverted or used over the range that was asked for."""


class TableError(SensorcalError):
    """The monitor's grid, rows and range allow no table as asked for."""
