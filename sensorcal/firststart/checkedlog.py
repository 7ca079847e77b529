"""One log checked from file to findings, and what of it could be judged: plain content to save, show or send on."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from sensorcal.engine import JUDGED, TEMPERATURES
from sensorcal.firststart.channels import WORDS, Span
from sensorcal.firststart.findings import Finding, findings_of
from sensorcal.firststart.judge import judge
from sensorcal.firststart.logread import read_log
from sensorcal.firststart.nextcheck import NextCheck, next_checks
from sensorcal.firststart.phases import find_phases
from sensorcal.firststart.startlog import LogColumn
from sensorcal.firststart.words import in_units
from sensorcal.setup import Setup

if TYPE_CHECKING:
    from sensorcal.firststart.judge import Verdict

FITS = "consistent with a sound installation"
FITS_NOT = "not consistent with a sound installation"
TOO_LITTLE = "not enough data"

_LEAST_LINES = 2
_PHASE_SERVES = {
    "rest": "rest before the start: agreement of the cold probes, zeros, manifold pressure against the air",
    "crank": "cranking: steps with the starter's current, the dip of the manifold pressure",
    "run_up": "high power: order of the charge-air probes, the cooler, fuel and oil pressure at power",
    "soak": "after the stop: return of the pressures to rest, heat soak",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class ChannelJudged:
    """How one channel came out.

    Parameters
    ----------
    column : str
        Its heading in the log.
    verdict : str
        Consistent with a sound installation, not consistent, or not enough data.
    lines : int
        Statements about the healthy engine that this log lets one ask of it.
    findings : tuple of int
        Ranks of the findings that concern it.
    """

    column: str
    verdict: str
    lines: int
    findings: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighed:
    """One cause with its probability, for a picture of all of them."""

    kind: str
    channels: tuple[str, ...]
    probability: float


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckedLog:
    """What a log shows, without its rows.

    Parameters
    ----------
    file, kind : str
        Name of the file; 'log' or 'events'.
    rows : int
    duration_s : float
    findings : tuple of Finding
    sound_probability : float
        That nothing is wrong, as far as this log can show it.
    weighed : tuple of Weighed
        The likeliest causes, whether they made a finding or not.
    judged : mapping of channel to ChannelJudged
    not_judged : tuple of str
        What could not be judged, and what was missing for it.
    phases : tuple of Span
    columns : mapping of channel to LogColumn
    ignored, notes, cautions : tuple of str
    scenario : str
        Mark of invented data, from the setup.
    """

    file: str
    kind: str
    rows: int
    duration_s: float
    findings: tuple[Finding, ...]
    sound_probability: float
    weighed: tuple[Weighed, ...]
    judged: Mapping[str, ChannelJudged]
    not_judged: tuple[str, ...]
    phases: tuple[Span, ...]
    columns: Mapping[str, LogColumn]
    ignored: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    scenario: str = ""


def check_log(path: str | Path, setup: Setup | None = None) -> tuple[CheckedLog, Verdict]:
    """Read a log or an event list and judge it.

    Parameters
    ----------
    path : str or Path
    setup : Setup, optional
        What it does not state is assumed, and said.

    Returns
    -------
    CheckedLog
    Verdict
        With the rows and everything weighed, for pictures.

    Raises
    ------
    FileError
        The file cannot be read as a log.
    """
    setup = setup or Setup()
    log = read_log(path, setup)
    verdict = judge(log, setup, find_phases(log))
    return checked(verdict, setup), verdict


def checked(verdict: Verdict, setup: Setup | None = None) -> CheckedLog:
    """Put a verdict in words, and say what could not be judged.

    Parameters
    ----------
    verdict : Verdict
    setup : Setup, optional

    Returns
    -------
    CheckedLog
    """
    setup = setup or Setup()
    log = verdict.log
    findings = findings_of(verdict, setup.units, _checks(verdict, setup))
    judged = _judged(verdict, findings)
    return CheckedLog(
        file=log.file, kind=log.kind, rows=len(log), duration_s=float(log.time_s[-1]),
        findings=findings, sound_probability=float(np.clip(verdict.sound, 0.0, 1.0)),
        weighed=tuple(
            Weighed(kind=cause.kind, channels=cause.channels, probability=float(np.clip(cause.probability, 0.0, 1.0)))
            for cause in verdict.weighed[:8]
        ),
        judged=judged, not_judged=tuple(in_units(text, setup.units) for text in _not_judged(verdict, judged)),
        phases=verdict.phases.spans,
        columns=dict(log.columns), ignored=log.ignored,
        notes=tuple(dict.fromkeys((*verdict.notes, *verdict.phases.notes))), cautions=verdict.cautions,
        scenario=setup.note,
    )  # fmt: skip


_CHECKS = 3


def _checks(verdict: Verdict, setup: Setup) -> list[tuple[NextCheck, ...]]:
    """For each finding the measurements that tell most; of the same one in several channels the best only."""
    found = []
    for index in range(len(verdict.findings)):
        best: dict[str, NextCheck] = {}
        for check in next_checks(verdict, setup, 4 * _CHECKS, finding=index):
            best.setdefault(check.name, replace(check, text=in_units(check.text, setup.units)))
        found.append(tuple(best.values())[:_CHECKS])
    return found


def _judged(verdict: Verdict, findings: tuple[Finding, ...]) -> dict[str, ChannelJudged]:
    """Say for each channel of the log how it came out."""
    found = {}
    for channel in JUDGED:
        if channel not in verdict.log.values:
            continue
        lines = sum(
            1 for name, value in verdict.lines.items() if np.isfinite(value) and _concerns(name, channel, verdict)
        )
        ranks = tuple(finding.rank for finding in findings if channel in finding.channels)
        words = FITS_NOT if ranks else FITS if lines >= _LEAST_LINES and verdict.log.has(channel) else TOO_LITTLE
        found[channel] = ChannelJudged(
            column=verdict.log.heading(channel), verdict=words, lines=lines, findings=ranks
        )
    return found


def _concerns(line: str, channel: str, verdict: Verdict) -> bool:
    if line == "rest":
        from sensorcal.firststart.summary import W

        row = verdict.summary.rows.get(channel)
        return channel in TEMPERATURES and row is not None and bool(np.isfinite(row[W["rest"]]))
    if line.startswith("charge."):
        return channel in {"charge_in", "charge_out"}
    return line.startswith(f"{channel}.")


def _not_judged(verdict: Verdict, judged: Mapping[str, ChannelJudged]) -> tuple[str, ...]:
    """Name the channels, phases and limits without which questions stayed open."""
    log, phases, facts = verdict.log, verdict.phases, verdict.facts
    without = [WORDS[channel] for channel in JUDGED if channel not in log.values]
    said = [f"{', '.join(without)}: no column in this log"] if without else []
    said += [
        f"{WORDS[channel]} ({log.heading(channel)}): too few readings that can be asked anything"
        for channel, one in judged.items() if one.verdict == TOO_LITTLE
    ]  # fmt: skip
    rest = phases.has("rest") or phases.has("pump")
    seen = {"rest": rest, "crank": bool(phases.crank), "run_up": phases.has("run_up"), "soak": phases.has("soak")}
    said += [f"{words}; this log has no such phase" for phase, words in _PHASE_SERVES.items() if not seen[phase]]
    if not phases.has("idle") and not phases.has("warm_up") and not phases.has("run_up"):
        said.append("the running engine: this log does not show it running")
    if verdict.summary.load_steps == 0:
        said.append(
            "steps with an electrical load: "
            + ("no load was switched at idle" if "bus" in log.values else "no bus voltage in this log")
        )
    if "oil_pressure" in log.values and "oil_pressure" not in facts.low:
        said.append("oil pressure against the maker's limit: none is typed, 40 kPa after 30 s stands in")
    said += [
        f"{WORDS[channel]} against the maker's limit: none is typed"
        for channel in ("coolant", "gearbox_oil") if channel in log.values and channel not in facts.high
    ]  # fmt: skip
    if "fuel_pressure" in log.values and "fuel_pressure" not in facts.low:
        said.append("fuel pressure against the maker's limit: none is typed")
    return tuple(said)
