"""A monitor table, as it was computed, turned into what the pages print."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sensorcal.units import to_si
from sensorcal.views.tableview import RowView, TableView

if TYPE_CHECKING:
    from sensorcal.installed.table import MonitorTable


def table_view(table: MonitorTable) -> TableView:
    """Take from a monitor table what the pages print: texts as keyed in, and the error computed with it."""
    monitor = table.monitor
    circuit = f" ({monitor.circuit_text})" if monitor.circuit_text else ""
    return TableView(
        rows=tuple(
            RowView(
                signal=monitor.signal_text(float(signal)),
                value=monitor.value_text(float(value)),
                temperature_c=float(to_si(float(value), monitor.value_unit)),
                inside=not outside,
                extrapolated=extrapolated,
                redline=forced,
            )
            for signal, value, forced, extrapolated, outside in zip(
                table.signal, table.value, table.forced, table.extrapolated, table.outside, strict=True
            )
        ),
        signal_name=f"{monitor.signal_name}{circuit}",
        signal_unit=monitor.signal_unit,
        value_unit=monitor.value_unit,
        interpolation=monitor.interpolation,
        past_ends=monitor.past_ends,
        low_c=table.from_c,
        high_c=table.to_c,
        worst_error_c=table.worst_error_c,
        worst_at_c=table.worst_at_c,
        bound_c=table.bound_c,
        even_worst_c=table.even_worst_error_c,
        error_at_c=table.error_at_c,
        error_c=table.error_c,
        even_error_c=table.even_error_c,
        notes=table.notes,
    )
