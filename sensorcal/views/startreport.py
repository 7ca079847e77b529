"""What a first start showed, in plain words: a page to print, a picture of the causes weighed, lines for a screen."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

from sensorcal import __version__
from sensorcal.firststart.channels import WORDS
from sensorcal.firststart.checkedlog import FITS, TOO_LITTLE
from sensorcal.firststart.words import SHORT, in_units, likely_words, where_words
from sensorcal.setup import UnitsOut
from sensorcal.views.plots import _GREY, _INK, _RUST, _axes, _style, fig_to_svg
from sensorcal.views.startplot import PHASE_NAMES, start_figure

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.figure import Figure

    from sensorcal.book.facts import Source
    from sensorcal.firststart.checkedlog import CheckedLog
    from sensorcal.firststart.evidence import Evidence
    from sensorcal.firststart.findings import Finding
    from sensorcal.firststart.judge import Verdict

CAUTIONS = (
    (
        "Written from a log after the event: it cannot save an engine. A low oil pressure or a high temperature is "
        "real until a measurement says otherwise."
    ),
    (
        "'Consistent with a sound installation' means that nothing in this log speaks against it. It is no proof, and "
        "no permission for anything."
    ),
    (
        "Checks with the engine off, ignition off, key out, nobody in the propeller's arc, hot parts cooled down; "
        "pressure relieved before a line is opened, a leak check after it. Fuel lines outdoors, extinguisher and fire "
        "guard ready."
    ),
    "The engine, sensor and monitor makers' manuals, local rules and licensed practice decide.",
)
"""What stands on every page."""

NO_FINDING = "No finding in what this log lets one judge."
NOTHING_JUDGED = "Not enough data: nothing in this log could be judged."
_UNLIKELY = 0.5
_BARS = 6
_LONG = 32  # letters beside a bar


def start_page_html(
    checked: CheckedLog,
    verdict: Verdict,
    units: UnitsOut | None = None,
    *,
    log: Source | None = None,
    setup: Source | None = None,
) -> str:
    """Write the findings of a first start as a page to print: self-contained, black and white will do.

    Parameters
    ----------
    checked : CheckedLog
    verdict : Verdict
        With the rows of the log, for the picture.
    units : UnitsOut, optional
        Units of the picture; the sentences hold their own.
    log, setup : Source, optional
        Names and SHA-256 of the files that went in.

    Returns
    -------
    str
        HTML; the same log and setup give the same text.
    """
    from sensorcal.views.report import _environment

    units = units or UnitsOut()
    findings = checked.findings
    page = {
        "title": "First start: what the log shows",
        "subtitle": _subtitle(checked),
        "scenario": checked.scenario,
        "stops": [_stop(one, findings) for one in findings if one.genuine],
        "headline": headline(checked),
        "doubt": _doubt(checked),
        "findings": [_finding(one, verdict) for one in findings],
        "log_picture": _svg(start_figure(verdict.log, verdict.phases, findings, units=units), "log", _alt(checked)),
        "causes_picture": _svg(causes_figure(checked), "causes", "Probability of each cause that was weighed"),
        "channels": [
            {
                "name": WORDS[channel], "column": one.column, "verdict": one.verdict, "bad": bool(one.findings),
                "open": one.verdict == TOO_LITTLE, "findings": ", ".join(str(rank) for rank in one.findings),
                "lines": one.lines,
            }
            for channel, one in checked.judged.items()
        ],
        "not_judged": checked.not_judged,
        "phases": _phases(checked),
        "columns": [
            {"name": WORDS[channel], "column": one.heading, "unit": one.unit, "stated": one.stated, "why": one.why}
            for channel, one in checked.columns.items()
        ],
        "ignored": checked.ignored,
        # What each column was taken for stands in the table above them.
        "notes": [in_units(text, units) for text in checked.notes if not text.startswith("column '")],
        # Beside one finding it fits on the first sheet; after several it has the second to itself.
        "picture_width": 66 if len(findings) == 1 else 88,
        "log_cautions": checked.cautions,
        "cautions": CAUTIONS,
        "software": f"sensorcal {__version__}",
        "sources": [
            f"{name} {one.file} sha256 {one.sha256[:16]}…" for name, one in (("log", log), ("setup", setup))
            if one is not None and one.sha256
        ],
    }  # fmt: skip
    return _environment().get_template("startreport.html").render(p=page)


def start_lines(checked: CheckedLog) -> list[str]:
    """Say in a few lines for a screen what was found, the first thing first.

    Parameters
    ----------
    checked : CheckedLog

    Returns
    -------
    list of str
    """
    lines = [f"{checked.file or 'the log'}: {_subtitle(checked)}"]
    if checked.scenario:
        lines.append(checked.scenario)
    for one in checked.findings:
        if one.genuine:
            lines += ["", f"STOP AND CHECK - {one.title}.", f"  {_after_colon(one.stop_and_check)}"]
    lines += ["", headline(checked)]
    for one in checked.findings:
        lines += ["", f"{one.rank}. {one.title}", f"   column: {one.channel}; {how_likely(one)}"]
        if one.size.text:
            lines.append(f"   size: {one.size.text}")
        lines += [f"   - {said.text}" for said in one.evidence]
        minutes = f" (about {one.checks[0].minutes:g} min)" if one.checks else ""
        lines.append(f"   next: {one.next_check}{minutes}")
        lines += [f"         {' '.join(one.checks[0].cautions)}"] if one.checks else []
    doubt = _doubt(checked)
    lines += ["", doubt] if doubt else []
    for words in (FITS, TOO_LITTLE):
        names = [WORDS[channel] for channel, one in checked.judged.items() if one.verdict == words]
        if names:
            lines += ["", f"{words[0].upper()}{words[1:]}: {', '.join(names)}."]
    if checked.not_judged:
        lines += ["", "Not judged:", *(f"  - {text}" for text in checked.not_judged)]
    if checked.cautions:
        lines += ["", "Look at these first:", *(f"  - {text}" for text in checked.cautions)]
    return lines


def headline(checked: CheckedLog) -> str:
    """Say in one sentence what came out."""
    count = len(checked.findings)
    if count == 0:
        return NO_FINDING if any(one.verdict == FITS for one in checked.judged.values()) else NOTHING_JUDGED
    return f"{count} finding{'s' if count > 1 else ''}: not consistent with a sound engine and installation."


def how_likely(one: Finding) -> str:
    """Say how far to believe a finding; a crossed limit is believed whatever the odds."""
    percent = 100.0 * one.probability
    share = "over 99 %" if percent > 99.0 else "under 1 %" if percent < 1.0 else f"{percent:.0f} %"
    if one.genuine:
        why = "a limit was crossed" if one.crossed else "its pattern is alarming"
        return f"taken as real until a measurement says otherwise, because {why}"
    return f"{likely_words(one.probability)} ({share} of all that was weighed)"


def causes_figure(checked: CheckedLog) -> Figure:
    """Draw the probability of the likeliest causes, and of nothing being wrong.

    Parameters
    ----------
    checked : CheckedLog

    Returns
    -------
    matplotlib.figure.Figure
    """
    bars = [(_bar_name(one.kind, one.channels), one.probability) for one in checked.weighed[:_BARS]]
    rest = max(0.0, 1.0 - checked.sound_probability - sum(share for _, share in bars))
    bars = [("nothing wrong, as far as this log shows", checked.sound_probability), *bars, ("all other causes", rest)]
    with _style():
        figure, axes = _axes()
        figure.set_size_inches(3.7, 0.32 + 0.17 * len(bars))
        places = range(len(bars) - 1, -1, -1)
        colors = [_INK, *[_RUST] * (len(bars) - 2), _GREY]
        axes.barh(list(places), [100.0 * share for _, share in bars], height=0.62, color=colors)
        for place, (_, share) in zip(places, bars, strict=True):
            text = f"{100.0 * share:.0f} %" if share >= 0.01 else "< 1 %"
            axes.text(100.0 * share + 1.0, place, text, va="center", fontsize=6.0)
        axes.set_yticks(list(places), [name for name, _ in bars])
        axes.set_xlim(0.0, 112.0)
        axes.set_xticks([0.0, 50.0, 100.0])
        axes.grid(visible=False, axis="y")
        axes.set_xlabel("probability, %")
    return figure


def _bar_name(kind: str, channels: tuple[str, ...]) -> str:
    """Name a bar in few words, so that there is room for the bar itself."""
    where = where_words(channels)
    if len(where) > _LONG:
        where = f"{len(channels)} channels"
    return f"{SHORT[kind]}: {where}"


def clock(time_s: float) -> str:
    """Write a time since the log's first row as minutes and seconds.

    Examples
    --------
    >>> clock(75.4), clock(3725.0)
    ('1:15', '62:05')
    """
    whole = round(time_s)
    return f"{whole // 60}:{whole % 60:02d}"


def _svg(figure: Figure, name: str, alt: str) -> str:
    """Write a picture whose ids are numbers in order, not hashes of a layout's last digits: same log, same bytes."""
    text = fig_to_svg(figure, name, alt)
    numbers: dict[str, str] = {}
    hashed = rf"\b{name}-[a-z][0-9a-f]{{10}}\b"
    return re.sub(hashed, lambda found: numbers.setdefault(found[0], f"{name}-{len(numbers)}"), text)


def _subtitle(checked: CheckedLog) -> str:
    plural = "s" if checked.rows > 1 else ""
    rows = f"{checked.rows} row{plural}" if checked.kind == "log" else f"{checked.rows} event{plural} typed afterwards"
    return f"{rows}, {clock(checked.duration_s)} min from the first to the last"


def _stop(one: Finding, findings: Sequence[Finding]) -> dict[str, Any]:
    """What stands in the box on top."""
    others = [
        other for other in findings
        if not other.genuine and other.rank < one.rank and set(other.channels) & set(one.channels)
    ]  # fmt: skip
    against = ""
    if others:
        against = (
            f"The log itself also holds evidence for finding {others[0].rank}. Prove it by the measurement named there "
            "before the engine is started again; until then this is real."
        )
    return {
        "title": one.title,
        "rank": one.rank,
        "seen": one.evidence[0].text,
        "do": _after_colon(one.stop_and_check),
        "against": against,
    }


def _after_colon(text: str) -> str:
    """Take off 'Stop and check:', which stands in large print already."""
    head, _, rest = text.partition(": ")
    return f"{rest[:1].upper()}{rest[1:]}" if head == "Stop and check" and rest else text


def _finding(one: Finding, verdict: Verdict) -> dict[str, Any]:
    return {
        "rank": one.rank,
        "title": one.title,
        "genuine": one.genuine,
        "column": "; ".join(one.columns) if one.columns else "the log as a whole",
        "likely": how_likely(one),
        "size": one.size.text,
        "evidence": [{"text": said.text, "when": _when(said, verdict)} for said in one.evidence],
        "next": one.next_check,
        "minutes": f"about {one.checks[0].minutes:g} min" if one.checks else "",
        "cautions": " ".join(one.checks[0].cautions) if one.checks else "",
        "others": [f"{check.text} (about {check.minutes:g} min)" for check in one.checks[1:]],
    }


def _when(said: Evidence, verdict: Verdict) -> str:
    if said.start_s is None or said.end_s is None or verdict.log.kind == "events":
        return ""
    begin, end = clock(said.start_s), clock(said.end_s)
    return begin if begin == end else f"{begin} to {end}"


def _doubt(checked: CheckedLog) -> str:
    """Say where something may be wrong though no single cause makes a finding."""
    if checked.findings or checked.sound_probability >= _UNLIKELY:
        return ""
    first = checked.weighed[0] if checked.weighed else None
    named = "" if first is None else f", the likeliest {SHORT[first.kind]} ({where_words(first.channels)})"
    return (
        f"Something may be wrong all the same: a sound installation has {100 * checked.sound_probability:.0f} % of all "
        f"that was weighed, and no cause stands out enough to be a finding{named}. Not enough data."
    )


def _phases(checked: CheckedLog) -> str:
    return ", ".join(
        f"{PHASE_NAMES[span.phase]} {clock(span.start_s)} to {clock(span.end_s)}" for span in checked.phases[:14]
    ) + ("…" if len(checked.phases) > 14 else "")


def _alt(checked: CheckedLog) -> str:
    sound = [WORDS[channel] for channel, one in checked.judged.items() if one.verdict == FITS]
    return f"The log over time with its phases; {headline(checked)} Consistent: {', '.join(sound) or 'none'}."
