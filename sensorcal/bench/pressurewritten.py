"""The numbers of a pressure point as a person wrote them down, in their own unit: slips of the pen live there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sensorcal.bench.dialect import number_in
from sensorcal.bench.pressurepoints import PressurePoint
from sensorcal.bench.run import Column, Run
from sensorcal.errors import InputError
from sensorcal.units import from_si, parse_unit

_NOTHING = ("", "")


@dataclass(frozen=True, slots=True, kw_only=True)
class Written:
    """Gauge, output and supply of one row as written: digits with a decimal point, and their unit; '' where not."""

    file_row: int = 0
    gauge: str = ""
    gauge_unit: str = ""
    output: str = ""
    output_unit: str = ""
    supply: str = ""
    supply_unit: str = ""


def written_of(run: Run, points: Sequence[PressurePoint], probe: str) -> tuple[tuple[Written, ...], ...]:
    r"""Give the entries behind each point, row by row.

    Parameters
    ----------
    run : Run
        As read; for one made in memory the numbers stand in kPa and V.
    points : sequence of PressurePoint
    probe : str
        Tag of the transducer.

    Returns
    -------
    tuple of tuple of Written
        One for each row of each point.

    Examples
    --------
    >>> from sensorcal.bench.pressurepoints import pressure_points
    >>> from sensorcal.bench.runfile import run_from_bytes
    >>> from sensorcal.setup import Reference, Setup
    >>> setup = Setup(references={"G1": Reference(identifier="G1", kind="gauge", limits=5000.0)})
    >>> run = run_from_bytes("G1 [psi];O1 [V];supply [V]\n58,0;2,070;4,93\n".encode(), setup)
    >>> (one,), = written_of(run, pressure_points(run, setup, "O1").points, "O1")
    >>> one.gauge, one.gauge_unit, one.output, one.supply
    ('58.0', 'psi', '2.070', '4.93')
    """
    cells = dict(run.cells)
    columns = {
        holds: [(index, one) for index, one in enumerate(run.columns) if one.holds == holds]
        for holds in ("reference", "signal", "supply")
    }
    columns["signal"] = [pair for pair in columns["signal"] if pair[1].name == probe]
    readings = {reading.file_row or n: reading for n, reading in enumerate(run.readings, start=1)}
    unit = "V" if run.signal_kinds.get(probe, "voltage") == "voltage" else "1"

    def written(row: int, *, open_line: bool) -> Written:
        if row not in readings:
            return Written()
        reading = readings[row]
        if run.columns:
            gauge, output, supply = (
                _typed(cells.get(row, ()), columns[holds], run.dialect.decimal)
                for holds in ("reference", "signal", "supply")
            )
        else:
            gauge, output = _made(reading.reference, "kPa"), _made(reading.signals.get(probe), unit)
            supply = _made(reading.supply_v, "V")
        if open_line:
            gauge = _NOTHING
        return Written(
            file_row=row,
            gauge=gauge[0],
            gauge_unit=gauge[1],
            output=output[0],
            output_unit=output[1],
            supply=supply[0],
            supply_unit=supply[1],
        )

    return tuple(tuple(written(row, open_line=one.open_line) for row in one.point.file_rows) for one in points)


def _typed(cells: Sequence[str], columns: Sequence[tuple[int, Column]], decimal: str) -> tuple[str, str]:
    """Give the one filled cell among the columns, its decimal mark as a point."""
    for index, column in columns:
        text = cells[index].strip() if index < len(cells) else ""
        if not text:
            continue
        try:
            value, own = number_in(text, decimal)
            unit = parse_unit(own) if own else column.unit
        except InputError:
            return _NOTHING
        plain = text[: len(text) - len(own)].strip().replace(decimal, ".").replace("−", "-").lstrip("+")
        try:
            same = float(plain) == value
        except ValueError:
            same = False
        return (plain if same else f"{value:.10g}"), unit
    return _NOTHING


def _made(value: float | None, unit: str) -> tuple[str, str]:
    return _NOTHING if value is None else (f"{from_si(value, unit):.10g}", unit)

