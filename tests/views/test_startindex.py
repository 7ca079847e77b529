"""The page over many logs: what must not wait stands first, every log is on it."""

from __future__ import annotations

import re
from pathlib import Path

from sensorcal.book.findings import summary_document
from sensorcal.firststart.checkedlog import checked
from sensorcal.firststart.manylogs import LogResult
from sensorcal.views.startindex import start_index_html
from tests.firststart.soundstart import engine, low_oil, opened


def test_stop_and_check_stands_first_and_no_log_is_missing():
    """In a season of logs the one with low oil pressure must not be on line 300."""
    found = {"a": engine(), "b": engine(coolant=opened), "d": low_oil()}
    results = [LogResult(path=Path(f"{name}.csv"), checked=checked(verdict)) for name, verdict in found.items()]
    results.append(LogResult(path=Path("c.csv"), error="c.csv: there is nothing in it."))
    page = start_index_html(summary_document(results), {"d.csv": "d.html"})
    rows = re.findall(r"\b([a-d])\.csv(?:</a>)?</td>", page)
    assert rows == ["d", "b", "c", "a"]
    assert 'href="d.html"' in page
    assert "2 with findings, 1 to stop and check" in page
    assert "there is nothing in it" in page


def test_a_name_cannot_break_the_page():
    """A file name is the user's text and must not become markup."""
    result = LogResult(path=Path("<b>x.csv"), error="<script>")
    page = start_index_html(summary_document([result]))
    assert "<script>" not in page
    assert "<b>x" not in page
