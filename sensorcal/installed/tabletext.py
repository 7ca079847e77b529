"""A monitor table as text to keep or to print: CSV and Markdown, with all that a reader needs above the rows."""

from __future__ import annotations

from sensorcal import units
from sensorcal.installed.rowtext import row_cells, row_remark
from sensorcal.installed.table import MonitorTable


def header_lines(table: MonitorTable) -> list[str]:
    """What stands above the rows: input, units, interpolation, range, worst error and what it compares with.

    Parameters
    ----------
    table : MonitorTable

    Returns
    -------
    list of str
        One plain sentence or fact each.
    """
    monitor = table.monitor
    unit = monitor.value_unit
    low, high = (float(units.from_si(c, unit)) for c in (table.from_c, table.to_c))
    circuit = f" ({monitor.circuit_text})" if monitor.circuit_text else ""
    steps = f"{_number(monitor.signal_step, monitor.signal_unit)} by {_number(monitor.value_step, unit)}"
    fixed = " with the fixed rows" if any(table.forced) else ""
    side = "high" if table.worst_error > 0 else "low"
    lines = [
        f"input: {monitor.signal_name}, {_unit_word(monitor.signal_unit)}{circuit}",
        f"shown: {unit}",
        f"between rows: {monitor.interpolation}",
        f"beyond the ends: {monitor.past_ends}",
        f"range: {low:.6g} to {high:.6g} {unit}",
        f"steps: {steps}",
        f"worst error: {abs(table.worst_error):.2g} {unit} {side}, at {table.worst_at:.4g} {unit}",
        f"evenly spaced rows instead: {abs(table.even_worst_error):.2g} {unit}",
        (
            f"no table of {table.rows_asked} rows can be better than {table.bound:.2g} {unit}; "
            f"none on these steps{fixed} better than {table.proven:.2g} {unit}"
        ),
    ]
    return lines + [note.rstrip(".") for note in table.notes]


def table_csv(table: MonitorTable) -> str:
    """Write the table as CSV, the facts above it as comment lines; the same table gives the same bytes.

    Parameters
    ----------
    table : MonitorTable

    Returns
    -------
    str
        Lines end in a line feed.
    """
    monitor = table.monitor
    lines = [f"# {line}" for line in header_lines(table)]
    lines.append(f"row,{_column('signal', monitor.signal_unit)},{_column('value', monitor.value_unit)},remark")
    lines += [",".join(cells) for cells in _cells(table)]
    return "\n".join(lines) + "\n"


def table_markdown(table: MonitorTable) -> str:
    """Write the table as Markdown, the facts above it as a list."""
    monitor = table.monitor
    lines = [f"- {line}" for line in header_lines(table)]
    lines += [
        "",
        f"| row | {monitor.signal_name}, {_unit_word(monitor.signal_unit)} | {monitor.value_unit} | remark |",
        "|---:|---:|---:|---|",
    ]
    lines += [f"| {' | '.join(cells)} |" for cells in _cells(table)]
    return "\n".join(lines) + "\n"


def remark(table: MonitorTable, row: int) -> str:
    """What is to be said of one row (counted from 0): 'fixed', 'extrapolated', 'outside the range'."""
    return row_remark(fixed=table.forced[row], outside=table.outside[row], extrapolated=table.extrapolated[row])


def _cells(table: MonitorTable) -> list[list[str]]:
    remarks = [remark(table, row) for row in range(table.signal.size)]
    return row_cells(table.monitor, table.signal, table.value, remarks)


def _number(value: float, unit: str) -> str:
    return f"{units.shortest(value)} {unit}".removesuffix(" 1")


def _unit_word(unit: str) -> str:
    return "no unit" if unit == "1" else unit


def _column(name: str, unit: str) -> str:
    return name if unit == "1" else f"{name} [{unit}]"
