"""A pressure table, or zero and span, as text to keep or to print, with all that a reader needs above the rows."""

from __future__ import annotations

from sensorcal import units
from sensorcal.installed.pressuretable import PressureInput, PressureTable
from sensorcal.installed.rowtext import row_cells, row_remark
from sensorcal.installed.twoconstants import TwoConstants


def pressure_header(table: PressureTable | TwoConstants) -> list[str]:
    """What stands above the rows: input, units, range, worst error and what it compares with.

    Parameters
    ----------
    table : PressureTable or TwoConstants

    Returns
    -------
    list of str
        One plain sentence or fact each.
    """
    monitor = table.monitor
    unit = monitor.value_unit

    def size(pressure_pa: float) -> str:
        return f"{units.interval_from_si(abs(pressure_pa), unit):.2g} {unit}"

    def at(pressure_pa: float) -> str:
        return f"{units.from_si(pressure_pa, unit):.4g} {unit}"

    side = "high" if table.worst_error_pa > 0 else "low"
    steps = f"{units.shortest(monitor.signal_step)} {_word(monitor)} by {units.shortest(monitor.value_step)} {unit}"
    worst = f"worst error: {size(table.worst_error_pa)} {side}, at {at(table.worst_at_pa)}"
    if isinstance(table, PressureTable):
        lines = [
            f"input: {monitor.signal_name}, {_word(monitor)}{_behind(monitor)}",
            f"shown: {unit}",
            "between rows: linear in signal",
            f"beyond the ends: {monitor.past_ends}",
            f"range: {at(table.from_pa)} to {at(table.to_pa)}",
            f"steps: {steps}; one step of the signal is worth up to {size(table.step_worth_pa)}",
            worst,
            f"evenly spaced rows instead: {size(table.even_worst_error_pa)}",
            _best(table, size(table.bound_pa), size(table.proven_pa)),
        ]
    else:
        slope = units.interval_from_si(table.slope_pa, unit)
        lines = [
            f"input: {monitor.signal_name}, {_word(monitor)}{_behind(monitor)}",
            f"zero and span: the signal at {at(table.low_pa)} and at {at(table.high_pa)}, a straight line through both",
            f"slope: {slope:.5g} {unit} per {'unit of ratio' if monitor.kind == 'ratio' else _word(monitor)}",
            f"step: {units.shortest(monitor.signal_step)} {_word(monitor)}, worth {size(table.step_worth_pa)}",
            worst,
        ]
    return lines + [note.rstrip(".") for note in table.notes]


def pressure_csv(table: PressureTable | TwoConstants) -> str:
    """Write rows or constants as CSV, the facts above them as comment lines; the same table gives the same bytes.

    Parameters
    ----------
    table : PressureTable or TwoConstants

    Returns
    -------
    str
        Lines end in a line feed.
    """
    monitor = table.monitor
    first = "row" if isinstance(table, PressureTable) else "constant"
    signal = "signal" if monitor.kind == "ratio" else f"signal [{_word(monitor)}]"
    lines = [f"# {line}" for line in pressure_header(table)]
    lines.append(f"{first},{signal},value [{monitor.value_unit}],remark")
    lines += [",".join(cells) for cells in _cells(table)]
    return "\n".join(lines) + "\n"


def pressure_markdown(table: PressureTable | TwoConstants) -> str:
    """Write rows or constants as Markdown, the facts above them as a list."""
    monitor = table.monitor
    first = "row" if isinstance(table, PressureTable) else "constant"
    lines = [f"- {line}" for line in pressure_header(table)]
    lines += ["", f"| {first} | {monitor.signal_name}, {_word(monitor)} | {monitor.value_unit} | remark |"]
    lines += ["|---:|---:|---:|---|", *(f"| {' | '.join(cells)} |" for cells in _cells(table))]
    return "\n".join(lines) + "\n"


def _best(table: PressureTable, bound: str, proven: str) -> str:
    if table.bound_pa < 0.01 * abs(table.worst_error_pa):
        return f"the sensor is straight: only the steps leave an error, and none on these is better than {proven}"
    return f"no table of {table.rows_asked} rows can be better than {bound}; none on these steps better than {proven}"


def _cells(table: PressureTable | TwoConstants) -> list[list[str]]:
    monitor = table.monitor
    if isinstance(table, TwoConstants):
        ends = (("zero", table.zero_signal, table.low_pa), ("span", table.full_signal, table.high_pa))
        return [
            [name, monitor.signal_text(signal), units.shortest(round(units.from_si(at, monitor.value_unit), 6)), ""]
            for name, signal, at in ends
        ]
    remarks = [
        row_remark(fixed=fixed, outside=_outside(table, row), extrapolated=beyond)
        for row, (fixed, beyond) in enumerate(zip(table.forced, table.extrapolated, strict=True))
    ]
    return row_cells(monitor, table.signal, table.value, remarks)


def _outside(table: PressureTable, row: int) -> bool:
    at = float(units.to_si(float(table.value[row]), table.monitor.value_unit))
    step = float(units.interval_to_si(table.monitor.value_step, table.monitor.value_unit))
    return not table.from_pa - 0.5 * step <= at <= table.to_pa + 0.5 * step


def _word(monitor: PressureInput) -> str:
    return "no unit" if monitor.signal_unit == "1" else monitor.signal_unit


def _behind(monitor: PressureInput) -> str:
    if monitor.kind == "voltage":
        return f" (supply {units.shortest(float(monitor.supply_v or 0.0))} V)"
    return f" (full count {monitor.counts_full})" if monitor.kind == "counts" else ""
