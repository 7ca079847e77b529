"""Many first starts on one page: what came of each log, what is to stop and check first."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sensorcal.views.startreport import CAUTIONS, clock

_FIRST, _BAD, _UNREAD, _NONE = range(4)


def start_index_html(summary: Mapping[str, Any], pages: Mapping[str, str] | None = None) -> str:
    """Write the summary of many logs as a page: stop-and-check first, then findings, then what could not be read.

    Parameters
    ----------
    summary : mapping
        As of `book.findings.summary_document`.
    pages : mapping of str, optional
        By the name of a log in the summary: where its own page lies, beside this one.

    Returns
    -------
    str
        HTML; the same summary gives the same text.
    """
    from sensorcal.views.report import _environment

    pages = pages or {}
    rows = sorted((_row(entry, pages) for entry in summary["entries"]), key=lambda row: (row["order"], row["file"]))
    stops = sum(row["stop"] for row in rows)
    page = {
        "title": "First starts: what the logs show",
        "subtitle": f"{summary['logs']} logs, {summary['errors']} of them not read",
        "headline": f"{summary['with_findings']} with findings, {stops} to stop and check.",
        "rows": rows,
        "cautions": (*CAUTIONS[:2], CAUTIONS[-1]),
        "software": summary["software"],
    }
    return _environment().get_template("startindex.html").render(p=page)


def _row(entry: Mapping[str, Any], pages: Mapping[str, str]) -> dict[str, Any]:
    stop, bad = bool(entry["stop_and_check"]), bool(entry["findings"])
    said = entry["error"] or entry["title"] or "no finding in what it lets one judge"
    if stop:
        said = f"Stop and check. {said}"
    return {
        "file": entry["file"],
        "page": pages.get(entry["file"], "") if not entry["error"] else "",
        "said": said,
        "column": entry["channel"] or "",
        "count": "" if entry["findings"] is None else entry["findings"],
        "minutes": "" if entry["duration_s"] is None else clock(entry["duration_s"]),
        "stop": stop,
        "bad": bad or bool(entry["error"]),
        "order": _FIRST if stop else _BAD if bad else _UNREAD if entry["error"] else _NONE,
    }
