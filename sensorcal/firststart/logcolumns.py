"""Which column of a log is which channel: by the setup first, by a probe's tag, by trade words, and always said."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from sensorcal.engine import JUDGED
from sensorcal.errors import FileError, InputError
from sensorcal.firststart.channels import CHANNELS, DIMENSION, WORDS
from sensorcal.firststart.logwords import Heading, channel_of_role, split_unit, understand, unit_of
from sensorcal.firststart.startlog import LogColumn
from sensorcal.setup import Setup
from sensorcal.units import dimension

_TIMES = ("time", "date", "label")


@dataclass(frozen=True, slots=True, kw_only=True)
class Columns:
    """What the columns of a file hold.

    Parameters
    ----------
    channels : mapping of str to int
        By channel: index of its column.
    described : mapping of str to LogColumn
        By channel: how the column was understood.
    time, date, label : int or None
        Index of the column with the clock, the date and the event's name.
    time_unit : str
        's', 'ms', 'min', 'h', a clock format, or '' where not stated.
    ignored, notes, cautions : tuple of str
    """

    channels: Mapping[str, int] = field(default_factory=dict)
    described: Mapping[str, LogColumn] = field(default_factory=dict)
    time: int | None = None
    date: int | None = None
    label: int | None = None
    time_unit: str = ""
    ignored: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class _Claim:
    """What one column claims to be, and by what right: 3 the setup, 2 a tag or exact words, 1 a general word."""

    index: int
    heading: str
    found: Heading
    right: int
    why: str


def recognised(headings: Sequence[str], setup: Setup) -> int:
    """Count the cells of a row that would be headings of a channel, a time or a label."""
    listed = {_plain(name) for name in setup.log.columns}
    tags = {name.casefold() for name in setup.probes}
    return sum(
        1
        for cell in headings
        if cell and (_plain(cell) in listed or understand(cell).holds or split_unit(cell)[0].casefold() in tags)
    )


def read_columns(
    headings: Sequence[str], setup: Setup, *, units: Sequence[str] = (), file: str = "", row: int = 1
) -> Columns:
    """Say which column is which channel.

    Parameters
    ----------
    headings : sequence of str
        The heading row.
    setup : Setup
        Its ``[log.columns]`` rules; then the tags and roles of its probes; then trade words. Its units stand in
        where neither says one.
    units : sequence of str, optional
        A second heading row with the units.
    file, row : optional
        For messages.

    Raises
    ------
    FileError
        When two columns claim one channel with the same right, or the setup names a channel nobody knows.

    Examples
    --------
    >>> found = read_columns(["Time [s]", "CLT [°F]", "Oil P"], Setup())
    >>> found.channels, found.described["coolant"].unit, found.described["oil_pressure"].stated
    ({'coolant': 1, 'oil_pressure': 2}, 'degF', False)
    """
    listed = {_plain(name): (name, value) for name, value in setup.log.columns.items()}
    claims: list[_Claim] = []
    notes: list[str] = []
    cautions: list[str] = []
    ignored: list[str] = []
    doubts: list[str] = []
    for index, heading in enumerate(headings):
        if not heading:
            continue
        unit_below = unit_of(units[index])[0] if index < len(units) and units[index] else ""
        claim = _claim(index, heading, unit_below, listed, setup, file, row)
        if claim.found.holds in {*CHANNELS, *_TIMES}:
            claims.append(claim)
            continue
        ignored.append(heading)
        if claim.found.doubt:
            doubts.append(
                f"column {heading!r} was not read: {claim.found.doubt}; if it is a channel, say so under [log.columns]"
            )
        elif claim.found.holds == "ignored":
            notes.append(f"column {heading!r} was not read, as the setup asks")
        elif claim.found.holds == "statistic":
            notes.append(f"column {heading!r} is a statistic, not the reading: not read")
    for name, (typed, _) in listed.items():
        if name not in {_plain(heading) for heading in headings}:
            cautions.append(f"[log.columns] names {typed!r}, which is no column of this file")
    kept = _settled(claims, notes, ignored, file, row)
    # Where every channel was found, a doubtful column is none of them.
    (cautions if set(JUDGED) - kept.keys() else notes).extend(doubts)
    described = {
        channel: _described(claim, channel, setup, notes, cautions)
        for channel, claim in kept.items()
        if channel in CHANNELS
    }
    time = kept.get("time")
    return Columns(
        channels={channel: claim.index for channel, claim in kept.items() if channel in CHANNELS},
        described=described,
        time=time.index if time else None,
        date=kept["date"].index if "date" in kept else None,
        label=kept["label"].index if "label" in kept else None,
        time_unit=time.found.unit if time else "",
        ignored=tuple(ignored), notes=tuple(notes), cautions=tuple(cautions),
    )  # fmt: skip


def _claim(
    index: int, heading: str, unit_below: str, listed: Mapping[str, tuple[str, str]], setup: Setup, file: str, row: int
) -> _Claim:
    """Say what one column is: the setup's word first, then a probe's tag, then trade words."""
    if _plain(heading) in listed:
        typed, value = listed[_plain(heading)]
        try:
            found = _from_setup(value, heading)
        except InputError as error:
            raise FileError(
                f"[log.columns] says {typed!r} = {value!r}, and {error.what}", do=error.do, file=file, row=row,
                column=heading,
            ) from None  # fmt: skip
        if not found.unit and unit_below:
            found = replace(found, unit=unit_below)
        return _Claim(index=index, heading=heading, found=found, right=3, why="by the setup's [log.columns]")
    tagged = _from_tag(heading, unit_below, setup)
    if tagged is not None:
        return _Claim(index=index, heading=heading, found=tagged[0], right=2, why=tagged[1])
    found = understand(heading)
    if unit_below and not found.unit:
        # Oil above degC is its temperature: the unit below decides what the word leaves open.
        found = understand(f"{heading} [{unit_below}]")
    return _Claim(index=index, heading=heading, found=found, right=1 if found.general else 2, why="by trade words")


def _from_setup(value: str, heading: str) -> Heading:
    """Read 'CHANNEL', 'CHANNEL UNIT', 'time UNIT', 'label' or 'ignore'."""
    text = " ".join(value.replace("_", " ").split())
    if text.lower() in {"ignore", "ignored", "-", ""}:
        return Heading(holds="ignored")
    spellings = {channel.replace("_", " "): channel for channel in CHANNELS}
    spellings |= {words: channel for channel, words in WORDS.items()}
    spellings |= {name: name for name in _TIMES}
    name = next((s for s in sorted(spellings, key=len, reverse=True) if f"{text.lower()} ".startswith(f"{s} ")), "")
    if not name:
        raise InputError("that is no channel", do=f"write one of {', '.join(CHANNELS)}, time, label or ignore")
    channel, rest = spellings[name], text[len(name) :].strip()
    unit, datum = unit_of(rest) if rest else split_unit(heading)[1:]
    kind = "time" if channel in _TIMES else DIMENSION[channel]
    if rest and not unit:
        raise InputError(f"{rest!r} is no unit known here", do="write it as in 'coolant degF' or 'map inHg'")
    if not rest and unit and not _fits(unit, kind):
        unit, datum = "", ""
    if unit and not _fits(unit, kind):
        raise InputError(f"{unit} is no unit of {kind}", do="correct the unit")
    return Heading(holds=channel, unit=unit, datum=datum)


def _from_tag(heading: str, unit_below: str, setup: Setup) -> tuple[Heading, str] | None:
    """Recognise a column headed by the tag of a probe of the setup, by what its role is."""
    name, unit, datum = split_unit(heading)
    words = name.casefold().split()
    tag = next((tag for tag in setup.probes if words and tag.casefold() == words[0]), "")
    if not tag:
        return None
    probe = setup.probe(tag)
    unit = unit or unit_below
    channel = channel_of_role(probe.role, probe.measurand) if probe.role else ""
    if not channel:
        said = f"whose role {probe.role!r} is no channel" if probe.role else "which has no role in the setup"
        return Heading(doubt=f"it names probe {tag}, {said}"), ""
    if len(words) > 1 and understand(" ".join(words[1:])).holds not in {channel, ""}:
        return Heading(doubt=f"probe {tag} is {WORDS[channel]} in the setup, but the heading says otherwise"), ""
    if unit and not _fits(unit, DIMENSION[channel]):
        return Heading(doubt=f"{unit} is not what the monitor shows of {WORDS[channel]}"), ""
    return Heading(holds=channel, unit=unit, datum=datum), f"by the tag of probe {tag}"


def _fits(unit: str, kind: str) -> bool:
    """Say whether a unit measures that."""
    if kind == "speed":
        return unit.endswith("/min")
    if unit.endswith("/min"):
        return False
    return kind == "time" if unit == "ms" or ":" in unit or unit in {"hms", "iso"} else dimension(unit) == kind


def _settled(
    claims: Sequence[_Claim], notes: list[str], ignored: list[str], file: str, row: int
) -> dict[str, _Claim]:
    """Let the best claim to each channel stand; refuse two of the same right."""
    kept: dict[str, _Claim] = {}
    for holds in dict.fromkeys(claim.found.holds for claim in claims):
        rivals = sorted((c for c in claims if c.found.holds == holds), key=lambda c: -c.right)
        best = rivals[0]
        if holds == "time":
            # Seconds since the start say more than a clock in whole seconds.
            best = min(rivals, key=lambda c: (-c.right, c.found.unit not in {"s", "ms", "min"}, c.index))
        elif len(rivals) > 1 and rivals[1].right == best.right:
            raise FileError(
                f"{best.heading!r} and {rivals[1].heading!r} both claim to be {WORDS.get(holds, holds)}",
                do=f'write under [log.columns] in the setup which one is, as in "{best.heading}" = "{holds}" and '
                f'"{rivals[1].heading}" = "ignore"',
                file=file, row=row, column=rivals[1].heading,
            )  # fmt: skip
        kept[holds] = best
        for other in rivals:
            if other is not best:
                notes.append(f"column {other.heading!r} was not read: {best.heading!r} is {WORDS.get(holds, holds)}")
                ignored.append(other.heading)
    return kept


def _described(claim: _Claim, channel: str, setup: Setup, notes: list[str], cautions: list[str]) -> LogColumn:
    """Describe a column, with the unit assumed where none is stated."""
    kind = DIMENSION[channel]
    assumed = {
        "temperature": setup.units.temperature, "pressure": setup.units.pressure, "speed": "1/min", "voltage": "V",
    }[kind]  # fmt: skip
    unit = claim.found.unit or assumed
    stated = bool(claim.found.unit) or kind in {"speed", "voltage"}
    notes.append(f"column {claim.heading!r} is {WORDS[channel]} in {unit}, {claim.why}")
    if not stated:
        notes[-1] += "; no unit stands there, so the setup's is assumed"
    if channel == "map" and claim.found.datum == "gauge":
        cautions.append(f"column {claim.heading!r} says gauge: manifold pressure is judged as absolute, read as shown")
    elif channel == "map" and "boost" in claim.heading.lower() and not claim.found.datum:
        cautions.append(f"column {claim.heading!r} may be counted from the air outside: read as absolute, as shown")
    elif channel in {"oil_pressure", "fuel_pressure"} and claim.found.datum == "absolute":
        cautions.append(f"column {claim.heading!r} says absolute: {WORDS[channel]} is judged as gauge, read as shown")
    return LogColumn(heading=claim.heading, unit=unit, stated=stated, why=claim.why)


def _plain(heading: str) -> str:
    """Bring a heading to what counts when two are compared."""
    return " ".join(heading.casefold().split())
