"""What a record says beside the curve: where it came from, what was corrected, what was asked and answered."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Literal

from sensorcal import __version__
from sensorcal.errors import InputError

if TYPE_CHECKING:
    from sensorcal.measure.terms import Term
    from sensorcal.setup import Setup

STATEMENT = "own workshop record, not an accredited certificate"
"""What every record says of itself."""

DECISION = (
    "nothing is passed or failed here; where a limit is compared, it counts as kept only if it still is with U added "
    "on the unsafe side"
)
"""The decision rule a record states unless its owner states another."""

METHOD = (
    "probe beside the reference in ice, stirred water and steam, read by an ohmmeter; one curve by weighted least "
    "squares, shared errors kept as shared"
)
"""The method a record states unless its owner states another."""

RemarkKind = Literal["question", "blunder", "note"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """A file that went in: its name (never its folder) and the SHA-256 of its bytes."""

    file: str = ""
    sha256: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Correction:
    """One correction that was made: what, by how much in words, and how many °C that is where it is largest."""

    what: str
    size: str = ""
    size_c: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Remark:
    """A question the tool asked, or a blunder it found, with the answer it got.

    Parameters
    ----------
    kind : {'question', 'blunder', 'note'}
    what : str
        Short name, by which an answer is found again.
    text : str
        The sentence for people.
    size_c : float, optional
        How large it is, in °C.
    file_rows : tuple of int
        Rows of the run file.
    suggestion : str
        The likely correction, such as 'perhaps 1837 ohm: two digits transposed'.
    answer : str
        What was done about it, such as 'kept, because ...'; '' while it is open.
    """

    kind: RemarkKind = "question"
    what: str = ""
    text: str = ""
    size_c: float | None = None
    file_rows: tuple[int, ...] = ()
    suggestion: str = ""
    answer: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class TermLine:
    """One error of the bench as the fit saw it: whether the points share it, and its u at each point.

    Either `u_c` (°C) or `u_ratio` (of the resistance) is given; a shared one is signed.
    """

    identifier: str
    meaning: str = ""
    shared: bool = False
    u_c: tuple[float, ...] | None = None
    u_ratio: tuple[float, ...] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    """Everything a record holds beside the calibration. Texts may be empty; dates are ISO (2026-05-02).

    Parameters
    ----------
    identifier : str
        Number of the record, printed on every page.
    bench_date, written, due : str
        Day of the readings, day of the record, day of the next check.
    person : str
        Who read and who signs.
    role, serial, channel, route, hours : str
        Place on the engine, serial number, monitor channel, wiring, hours of aircraft and engine.
    condition : str
        As found and as left, or 'new sensor'.
    run, setup_file : Source
    software : str
    setup : mapping
        The setup as data, from `setup_data`.
    assumed : tuple of str
        Values nobody stated, each with its reason.
    terms : tuple of TermLine
        Every error of the bench as the fit saw it, point by point.
    corrections, remarks : tuple
    undetectable : tuple of str
        What these readings cannot show.
    traceability, method, decision : str
    statements : tuple of str
        Further findings for people, such as whether the probe meets its sheet.
    redline_c : float, optional
        The limit that matters, °C.
    range_c : tuple of float
        The range that matters, °C.
    shape_confirmed : bool
        Sheet and readings agree, or a dry block was used: see `sensorcal.calibration.claims`.
    scenario : str
        Marks invented data.
    """

    identifier: str = ""
    bench_date: str = ""
    written: str = ""
    due: str = ""
    person: str = ""
    role: str = ""
    serial: str = ""
    channel: str = ""
    route: str = ""
    hours: str = ""
    condition: str = ""
    run: Source = Source()
    setup_file: Source = Source()
    software: str = f"sensorcal {__version__}"
    setup: Mapping[str, Any] = field(default_factory=dict)
    assumed: tuple[str, ...] = ()
    terms: tuple[TermLine, ...] = ()
    corrections: tuple[Correction, ...] = ()
    remarks: tuple[Remark, ...] = ()
    undetectable: tuple[str, ...] = ()
    traceability: str = ""
    method: str = METHOD
    decision: str = DECISION
    statements: tuple[str, ...] = ()
    redline_c: float | None = None
    range_c: tuple[float, float] = (-20.0, 150.0)
    shape_confirmed: bool = False
    scenario: str = ""

    def __post_init__(self) -> None:
        """Copy the setup; refuse a range that runs backwards and a redline that is no number."""
        object.__setattr__(self, "setup", dict(self.setup))
        if not self.range_c[0] < self.range_c[1]:
            raise InputError("the range of a record ends before it begins", do="give the lower temperature first")
        if self.redline_c is not None and not math.isfinite(self.redline_c):
            raise InputError("the redline is not a finite number", do="give it in degC")


def traceability(setup: Setup, reference_ids: Iterable[str]) -> str:
    """Say in one line where the temperatures come from.

    Parameters
    ----------
    setup : Setup
    reference_ids : iterable of str
        'ice', 'steam' and the identifiers of the thermometers used, in any order, repeated or not.

    Examples
    --------
    >>> from sensorcal.setup import Field, Setup
    >>> traceability(Setup(field=Field(name="X")), ["ice", "steam", "T1"])
    '0 °C by ice; steam by the QNH of field X; thermometer T1: certificate none'
    """
    used = list(dict.fromkeys(reference_ids))
    said = []
    if "ice" in used:
        said.append("0 °C by ice")
    if "steam" in used:
        where = f"field {setup.field.name}" if setup.field.name else "the nearest field, not named"
        said.append(f"steam by the QNH of {where}")
    for identifier in used:
        if identifier in {"ice", "steam", ""}:
            continue
        reference = setup.reference(identifier)
        said.append(f"{reference.kind} {identifier}: certificate {reference.certificate or 'none'}")
    return "; ".join(said)


def setup_data(setup: Setup) -> dict[str, Any]:
    """Return the setup as plain data for a record: every value, numbers with their unit in the key.

    Examples
    --------
    >>> from sensorcal.setup import Probe, Setup
    >>> setup_data(Setup(probes={"P1": Probe(redline=120.0)}))["probes"]["P1"]["redline_c"]
    120.0
    """
    data: dict[str, Any] = {
        name: _part(getattr(setup, name)) for name in ("units", "field", "meter", "bath", "monitor")
    }
    data["references"] = {name: _part(part) for name, part in setup.references.items()}
    data["probes"] = {name: _part(part) for name, part in setup.probes.items()}
    data["transducers"] = {name: dataclasses.asdict(sheet) for name, sheet in setup.transducers.items()}
    data["note"] = setup.note
    data["keep"] = [_part(entry) for entry in setup.keep]
    data["stated"] = sorted(setup.stated)
    return data


def term_lines(terms: Iterable[Term]) -> tuple[TermLine, ...]:
    """Write the error terms of a fit as the record keeps them.

    Examples
    --------
    >>> from sensorcal.measure.terms import term
    >>> term_lines([term("gain", 0.001, 2, common=True, axis="signal")])[0].u_ratio
    (0.001, 0.001)
    """
    return tuple(
        TermLine(
            identifier=term.identifier,
            meaning=term.meaning,
            shared=term.common,
            u_c=None if term.axis == "signal" else tuple(term.u.tolist()),
            u_ratio=tuple(term.u.tolist()) if term.axis == "signal" else None,
        )
        for term in terms
    )


def assumed_lines(setup: Setup) -> tuple[str, ...]:
    """Every value the setup assumes, one readable line each."""
    return tuple(str(line) for line in setup.assumed)


def _part(part: Any, measurand: str = "") -> dict[str, Any]:  # noqa: ANN401 - any part of the setup
    measurand = str(getattr(part, "measurand", measurand) or "temperature")
    out: dict[str, Any] = {}
    for entry in dataclasses.fields(part):
        key, value = entry.name, getattr(part, entry.name)
        if entry.metadata.get("unit") == "measurand":
            key += "_pa" if measurand == "pressure" else "_c"
        if isinstance(value, tuple):
            out[key] = [_entry(item, measurand) for item in value]
        else:
            out[key] = value
    return out


def _entry(item: Any, measurand: str) -> Any:  # noqa: ANN401 - a nested part, a pair of a sheet, or a number
    if dataclasses.is_dataclass(item):
        return _part(item, measurand)
    if isinstance(item, tuple) and len(item) == 2:
        return {"temperature_c": float(item[0]), "resistance_ohm": float(item[1])}
    return item
