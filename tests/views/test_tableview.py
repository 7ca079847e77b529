"""The monitor table on the pages: the very rows that were made, with the very errors."""

from __future__ import annotations

import re

import numpy as np

from sensorcal.installed.monitor import MonitorInput
from sensorcal.installed.table import make_table
from sensorcal.views.report import report_html, table_page_html
from sensorcal.views.tableview import table_view
from tests.book import example


def test_made_table_stands_on_the_pages_as_it_is() -> None:
    """If it failed, the rows on paper would not be the rows that were found, or their error another."""
    cal = example.calibration()
    monitor = MonitorInput(rows=10, past_ends="holds", order="descending")
    table = make_table(cal, monitor, from_c=-20, to_c=150, at_c=[120.0], tested_range_c=cal.tested_c)
    view = table_view(table, 120.0)
    assert [float(row.signal) for row in view.rows] == table.signal.tolist()
    assert [float(row.value) for row in view.rows] == table.value.tolist()
    assert [row.value for row in view.rows if row.redline] == ["120"]
    assert view.worst_error_c == abs(table.worst_error_c)
    assert np.abs(view.error_c).max() <= view.worst_error_c + 1e-9
    assert view.bound_c is not None
    assert view.bound_c <= view.worst_error_c <= (view.even_worst_c or 0.0)
    assert any(row.extrapolated for row in view.rows)
    page = report_html(cal, table, example.facts())
    sheet = table_page_html(table, example.facts(), sensor="P1")
    for html in (page, sheet):
        rows = re.findall(r"<tr[^>]*><td[^>]*>\d+</td><td>([^<]+)</td><td class=\"v\">([^<]+)<", html)
        assert [(a, b.replace("−", "-")) for a, b in rows] == [(row.signal, row.value) for row in view.rows]


def test_volts_and_fahrenheit_name_the_circuit() -> None:
    """If it failed, a table for a pull-up of 1 kΩ could be keyed into an input with another one."""
    cal = example.calibration()
    monitor = MonitorInput(
        kind="voltage", pull_up_ohm=1000.0, supply_v=5.0, rows=6, signal_unit="V", signal_step=0.01, value_unit="degF"
    )
    table = make_table(cal, monitor, from_c=-20, to_c=150, at_c=[120.0])
    sheet = table_page_html(table, example.facts(), sensor="P1").replace("\u00a0", " ")
    assert "Input: voltage (1000 ohm pull-up to 5 V) in V; shown in °F; 6 rows" in sheet
    assert '<tr class="red">' in sheet
    assert re.search(r"<td>\d\.\d\d</td><td class=\"v\">248", sheet)
