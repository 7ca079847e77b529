"""A table view made by hand, so that the pages can be tested without the search for the best table."""

from __future__ import annotations

import numpy as np

from sensorcal.calibration.calibration import Calibration
from sensorcal.views.tableview import RowView, TableView

ROWS_C = (-20.0, -4.0, 12.0, 28.0, 44.0, 58.0, 68.0, 79.0, 91.0, 102.0, 113.0, 120.0, 129.0, 138.0, 145.0, 150.0)


def table_view(calibration: Calibration, rows_c: tuple[float, ...] = ROWS_C) -> TableView:
    """Put rows on the curve and compute what straight lines between them show."""
    at = np.linspace(rows_c[0], rows_c[-1], 341)
    ohm = calibration.resistance_ohm(at)

    def error(t: np.ndarray) -> np.ndarray:
        return np.interp(-ohm, -calibration.resistance_ohm(t), t) - at

    rows, even = np.array(rows_c), np.linspace(rows_c[0], rows_c[-1], len(rows_c))
    this, other = error(rows), error(even)
    low, high = calibration.tested_c
    return TableView(
        rows=tuple(
            RowView(
                signal=f"{r:.0f}",
                value=f"{t:.0f}",
                temperature_c=float(t),
                extrapolated=not low <= t <= high,
                redline=t == 120.0,
            )
            for t, r in zip(rows, calibration.resistance_ohm(rows), strict=True)
        ),
        signal_name="resistance",
        signal_unit="ohm",
        value_unit="degC",
        interpolation="linear in signal",
        past_ends="holds",
        low_c=rows_c[0],
        high_c=rows_c[-1],
        worst_error_c=float(np.abs(this).max()),
        worst_at_c=float(at[np.abs(this).argmax()]),
        bound_c=0.5,
        error_at_c=at,
        error_c=this,
        even_error_c=other,
        even_worst_c=float(np.abs(other).max()),
    )
