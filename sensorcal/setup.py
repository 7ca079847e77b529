"""The setup as data: field, meter, references, bath, probes and monitor, each value with its unit and its why.

Every value may be left out. What is then assumed, and why, is listed by `Setup.assumed`, so that a result can
name it. Reading and writing the TOML file is in `sensorcal.setupfile`.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping
from dataclasses import dataclass

from sensorcal.declared import Assumed, assumptions, declared, not_negative, one_of
from sensorcal.engine import ChannelLimits, Engine, LogColumns
from sensorcal.errors import InputError
from sensorcal.monitorsetup import MonitorSetup, PressureInput
from sensorcal.transducer import Transducer
from sensorcal.units import dimension
from sensorcal.wiring import ChannelWiring

_SQRT3 = math.sqrt(3.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitsOut:
    """Units of printed results, and of bare numbers in the setup file."""

    temperature: str = declared("degC", "degC, degF or K", why="nothing else stated")
    resistance: str = declared("ohm", "ohm or kohm", why="nothing else stated")
    pressure: str = declared("kPa", "kPa, hPa, bar, psi or inHg", why="nothing else stated")
    altitude: str = declared("m", "m or ft", why="nothing else stated")

    def __post_init__(self) -> None:
        """Refuse a unit of another kind."""
        for name, kind in (
            ("temperature", "temperature"),
            ("resistance", "resistance"),
            ("pressure", "pressure"),
            ("altitude", "length"),
        ):
            unit = getattr(self, name)
            if dimension(unit) != kind:
                raise InputError(f"{unit!r} is not a unit of {name}", do="correct it under [units]")


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """Where the bench stands and what the weather report said."""

    name: str = declared("", "name of the field with the weather report")
    elevation_m: float | None = declared(None, "elevation of the workshop", "m")
    qnh_pa: float | None = declared(None, "reported altimeter setting (QNH)", "hPa")
    station_elevation_m: float | None = declared(None, "elevation of the reporting station", "m")
    air_temperature_c: float | None = declared(None, "outside air temperature", "degC")
    room_temperature_c: float = declared(
        20.0,
        "air temperature at the bench",
        "degC",
        why="an ordinary room; it only sizes the stem-conduction term",
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class MeterCheck:
    """One known resistor read with the meter."""

    true_ohm: float = declared(0.0, "marked value of the known resistor", "ohm")
    read_ohm: float = declared(0.0, "what the meter read", "ohm")
    tolerance_ratio: float = declared(0.001, "half-width of the resistor's tolerance", "%", why="a 0.1 % resistor")

    @property
    def u_true_ratio(self) -> float:
        """Relative standard uncertainty of the resistor: its tolerance as a rectangular half-width."""
        return self.tolerance_ratio / _SQRT3

    def __post_init__(self) -> None:
        """Refuse a resistor without ohms."""
        if self.true_ohm <= 0 or self.read_ohm <= 0:
            raise InputError("a known resistor needs its marked and its read value above zero")


@dataclass(frozen=True, slots=True, kw_only=True)
class Meter:
    """The ohmmeter, with what was proven about it.

    `resolution(read_ohm)` gives its last digit. The correction itself is made by `sensorcal.bench.meter`.
    """

    name: str = declared("M1", "tag of the meter", why="one meter on the bench")
    leads_shorted_ohm: float | None = declared(
        None, "reading with the leads shorted", "ohm", why="leads not measured: taken as 0 within 0.3 ohm"
    )
    u_lead_ohm: float | None = declared(
        None,
        "standard uncertainty of the lead resistance",
        "ohm",
        why="contact of shorted leads, common practice",
    )
    checks: tuple[MeterCheck, ...] = declared((), "known resistors, as read")
    u_gain_ratio: float | None = declared(
        None, "relative standard uncertainty of the meter's scale", "%", why="scale not proven: within 0.5 %"
    )
    counts: int = declared(6000, "counts of a full range of the display", why="a common hand meter")
    resolution_ohm: float | None = declared(None, "step of the last digit, if the same everywhere", "ohm")
    test_current_a: float | None = declared(
        None, "current the meter sends through the probe", "mA", why="not measured: anything up to 0.5 mA"
    )

    def __post_init__(self) -> None:
        """Refuse what no meter has."""
        if self.counts < 100:
            raise InputError(f"a display of {self.counts} counts is too small", do="give the counts, such as 6000")
        not_negative(self, "leads_shorted_ohm", "u_lead_ohm", "u_gain_ratio", "resolution_ohm", "test_current_a")

    def stand_in(self, name: str) -> str | None:
        """Say what stands in for a value that was not measured."""
        if name == "leads_shorted_ohm":
            return f"0 ohm, standard uncertainty {0.3 / _SQRT3:.2f} ohm" if self.u_lead_ohm is None else "0 ohm"
        if name == "u_lead_ohm":
            return "" if self.leads_shorted_ohm is None else "0.03 ohm"
        if name == "u_gain_ratio":
            return "" if self.checks else f"{0.5 / _SQRT3:.2f} %"
        return "0.5 mA at most" if name == "test_current_a" else None

    def resolution(self, read_ohm: float, range_ohm: float | None = None) -> float:
        """Give the step of the last digit in ohm at a reading, from the counts and the smallest range that holds it.

        Examples
        --------
        >>> Meter(counts=6000).resolution(172.1), Meter(counts=6000).resolution(5230.0)
        (0.1, 1.0)
        """
        if self.resolution_ohm is not None:
            return self.resolution_ohm
        # Display steps are decades: the smallest decade step whose counts reach the reading (common practice).
        reach = max(abs(read_ohm), 1e-9) if range_ohm is None else range_ohm
        step = 10.0 ** math.ceil(math.log10(reach / self.counts) - 1e-9)
        return max(step, 0.1) if range_ohm is None else step


@dataclass(frozen=True, slots=True, kw_only=True)
class ReferenceCheck:
    """What the reference read at a point known better: in ice, in steam, or at a stated value."""

    at: str = declared("ice", "'ice', 'steam' or a value with its unit")
    reads: float = declared(0.0, "what the reference read", "measurand")
    u: float | None = declared(None, "standard uncertainty of a stated value", "measurand", difference=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class Reference:
    """A thermometer or gauge that is believed, within stated limits.

    Give one of `limits` (half-width of the maker's tolerance), `expanded_u` with `k`, or `u` (standard), in degC or Pa.
    """

    identifier: str = "T1"
    kind: str = declared("thermometer", "'thermometer' or 'gauge'", why="most evenings have one thermometer")
    u: float | None = declared(None, "standard uncertainty", "measurand", difference=True)
    expanded_u: float | None = declared(None, "expanded uncertainty of its certificate", "measurand", difference=True)
    k: float = declared(2.0, "coverage factor of the expanded uncertainty", why="usual on certificates")
    limits: float | None = declared(
        None, "half-width of the maker's tolerance", "measurand", difference=True,
        why="no tolerance given: a household probe within 1 degC",
    )  # fmt: skip
    resolution: float | None = declared(None, "last digit", "measurand", difference=True, why="a display with tenths")
    checks: tuple[ReferenceCheck, ...] = declared((), "readings at ice, steam or a known value")
    u_between: float | None = declared(
        None, "standard uncertainty left half-way between two checks", "measurand", difference=True,
        why="bow between the checks within 0.3 degC, an estimate without source",
    )  # fmt: skip
    time_constant_s: float | None = declared(None, "time constant in the bath", "s")
    certificate: str = declared("", "certificate and due date, or 'none'")

    def __post_init__(self) -> None:
        """Refuse two statements of one uncertainty, and impossible ones."""
        given = [name for name in ("u", "expanded_u", "limits") if getattr(self, name) is not None]
        if len(given) > 1:
            raise InputError(
                f"reference {self.identifier} states its uncertainty twice ({' and '.join(given)})",
                do="keep one",
            )
        if self.kind not in {"thermometer", "gauge"}:
            raise InputError(
                f"reference {self.identifier} is of kind {self.kind!r}", do="write 'thermometer' or 'gauge'"
            )
        if self.k <= 0:
            raise InputError(f"reference {self.identifier} has k = {self.k:g}", do="give the certificate's k")
        not_negative(self, "u", "expanded_u", "limits", "resolution", "u_between", "time_constant_s")

    def stand_in(self, name: str) -> str | None:
        """Say what stands in for a value that was not stated."""
        if name == "limits":
            unstated = self.u is None and self.expanded_u is None and self.kind != "gauge"
            return "1 degC" if unstated else ""
        if name == "u_between":
            return f"{0.3 / _SQRT3:.2f} degC" if len(self.checks) > 1 else ""
        if name == "resolution":
            return "" if self.kind == "gauge" else "0.1 degC"
        return "" if name == "k" and self.expanded_u is None else None

    @property
    def measurand(self) -> str:
        """'temperature' or 'pressure'."""
        return "pressure" if self.kind == "gauge" else "temperature"

    @property
    def step(self) -> float:
        """Last digit in degC or Pa; a gauge's is within its limits unless stated."""
        if self.resolution is not None:
            return self.resolution
        return 0.0 if self.kind == "gauge" else 0.1

    @property
    def standard_u(self) -> float:
        """Standard uncertainty of the reference as bought, in degC or Pa, before any check of our own."""
        if self.u is not None:
            return self.u
        if self.expanded_u is not None:
            return self.expanded_u / self.k
        if self.limits is not None:
            return self.limits / _SQRT3
        if self.kind == "gauge":
            raise InputError(
                f"gauge {self.identifier} has no stated uncertainty",
                do="add limits, for instance 0.5 % of its full scale as '5 kPa'",
            )
        return 1.0 / _SQRT3


@dataclass(frozen=True, slots=True, kw_only=True)
class Bath:
    """What is uncertain about ice, bath and steam themselves, as standard uncertainties in degC.

    Common to all probes in the same flask at the same point: purity, gradient, vapour. Own to each probe
    and point: place. Growing with (T - T_room), alike for all points and for probes sunk alike: stem.
    """

    u_ice_purity_c: float = declared(
        0.012, "purity of the ice, common to all probes", "degC", difference=True,
        why="tap-water ice, half-width 0.02 degC, estimate",
    )  # fmt: skip
    u_ice_gradient_c: float = declared(
        0.029, "gradient in the packed flask, common to all probes at one point", "degC", difference=True,
        why="packed ice, half-width 0.05 degC, estimate",
    )  # fmt: skip
    u_gradient_c: float = declared(
        0.10, "stirred bath: thermometer's place against the bundle's, common to all probes at one point", "degC",
        difference=True, why="insulated and stirred, half-width 0.2 degC with the place term, estimate",
    )  # fmt: skip
    u_place_c: float = declared(
        0.05, "each probe's own place within the bundle, at ice a third of it", "degC", difference=True,
        why="tips tied level, estimate",
    )  # fmt: skip
    u_steam_vapour_c: float = declared(
        0.029, "superheat or air in the vapour, common to all probes at one point", "degC", difference=True,
        why="half-width 0.05 degC, estimate; 1 % air in the vapour is -0.28 degC",
    )  # fmt: skip
    u_steam_film_c: float = declared(
        0.06, "wet or dry film on each probe in the vapour", "degC", difference=True,
        why="half-width 0.1 degC, estimate",
    )  # fmt: skip
    u_stem_ratio: float = declared(
        0.0008, "stem conduction as a share of (T - T_room), one factor for all points", "%",
        why="whole body sealed and sunk, about 0.06 degC in steam, estimate",
    )  # fmt: skip

    def __post_init__(self) -> None:
        """Refuse negative uncertainties."""
        not_negative(self, *(entry.name for entry in dataclasses.fields(self)))


@dataclass(frozen=True, slots=True, kw_only=True)
class Probe:
    """One sensor: its tag, its job, its maker's sheet, and the limits that matter."""

    name: str = "P1"
    role: str = declared("", "its place on the engine, for instance 'coolant'")
    serial: str = declared("", "serial or batch number")
    measurand: str = declared("temperature", "'temperature' or 'pressure'", why="a thermistor")
    signal: str = declared("resistance", "'resistance', 'voltage' or 'ratio'", why="a thermistor")
    model: str = declared("steinhart-hart", "'steinhart-hart', 'beta' or 'line'", why="three terms fit a thermistor")
    sheet: tuple[tuple[float, float], ...] = declared((), "maker's sheet: pairs of degC and ohm")
    sheet_tolerance_ratio: float = declared(
        0.03, "tolerance of the maker's resistances", "%", why="no tolerance given with the sheet"
    )
    sheet_shape_ratio: float = declared(
        0.05, "how well the sheet's curvature is believed", "%", why="the sheet's shape to 5 %, an estimate"
    )
    prior: str = declared("typical", "what is known of the curve's shape: 'typical', 'sheet' or 'off'", why="no sheet")
    prior_u_ratio: float = declared(
        0.30,
        "standard uncertainty of the typical curvature",
        "%",
        why="curvature of thermistors within 30 %, estimate",
    )
    dissipation_w_per_k: float = declared(
        0.010, "self-heating: power for 1 K", "mW/K", why="stirred water, estimate; 2 to 4 mW/K in still air"
    )
    u_dissipation_ratio: float | None = declared(None, "standard uncertainty of that, relative", "%")
    immersion_m: float | None = declared(None, "length under water, if not the whole body", "mm")
    time_constant_s: float | None = declared(None, "time constant in the bath", "s")
    redline: float | None = declared(None, "limit of the engine maker's manual", "measurand")
    range_low: float = declared(-20.0, "lower end of the range that matters", "measurand", why="a cold morning")
    range_high: float = declared(150.0, "upper end of the range that matters", "measurand", why="above any red line")
    u_repeat: float | None = declared(
        None, "repeatability of one settled point", "measurand", difference=True, why="estimate"
    )

    def __post_init__(self) -> None:
        """Refuse words nobody knows and sheets that turn round."""
        one_of(self, "measurand", ("temperature", "pressure"))
        one_of(self, "signal", ("resistance", "voltage", "ratio"))
        one_of(self, "model", ("steinhart-hart", "beta", "line"))
        one_of(self, "prior", ("typical", "sheet", "off"))
        if self.prior == "sheet" and len(self.sheet) < 3:
            raise InputError(
                f"probe {self.name} asks for its sheet as prior but has {len(self.sheet)} sheet rows",
                do="give three rows or more, or prior = 'typical'",
            )
        if self.range_low >= self.range_high:
            raise InputError(f"probe {self.name} has a range that ends before it begins")
        not_negative(
            self, "sheet_tolerance_ratio", "sheet_shape_ratio", "prior_u_ratio", "immersion_m", "time_constant_s",
            "u_repeat",
        )  # fmt: skip
        if self.dissipation_w_per_k <= 0:
            raise InputError(f"probe {self.name} has a dissipation constant of zero or less")

    def stand_in(self, name: str) -> str | None:
        """Say what is assumed of the sheet only where there is one."""
        if name == "u_repeat":
            return "0.02 degC" if self.measurand == "temperature" else "20 Pa"
        return "" if name.startswith("sheet_") and not self.sheet else None

    @property
    def redline_c(self) -> float | None:
        """Red line in degC of a temperature probe."""
        return self.redline if self.measurand == "temperature" else None

    @property
    def range_c(self) -> tuple[float, float]:
        """Range that matters in degC of a temperature probe."""
        return self.range_low, self.range_high

    @property
    def repeatability(self) -> float:
        """Repeatability of one settled point in degC or Pa, stated or assumed."""
        if self.u_repeat is not None:
            return self.u_repeat
        return 0.02 if self.measurand == "temperature" else 20.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Keep:
    """A refusal the user overrides, with the reason that the record keeps."""

    what: str = declared("", "name of the question, as the message gave it")
    reason: str = declared("", "why it stands as typed")

    def __post_init__(self) -> None:
        """Refuse an override without a reason."""
        if not self.what.strip() or not self.reason.strip():
            raise InputError("'keep' needs what is kept and the reason", do="write both in the setup file")


@dataclass(frozen=True, slots=True, kw_only=True)
class Setup:
    """Everything that stands around the readings of one bench.

    Parameters
    ----------
    units, field, meter, bath, monitor, pressure_input, engine
        One of each; an empty one assumes its defaults.
    references, probes, transducers : mapping of str
        By identifier and by tag; a pressure sensor's data sheet stands under `transducers` by the tag of its probe.
    channels : mapping of str to ChannelWiring
        How each sensor is wired, by its tag.
    limits : mapping of str to ChannelLimits
        The engine maker's limits, by the name of the channel.
    log : LogColumns
        Which column of a log is which channel.
    note : str
        Free text, for instance that the scenario is invented.
    keep : tuple of Keep
        Refusals overridden with a reason.
    stated : frozenset of str
        Dotted names that the file gave, so that a stated default is not called assumed; with ':unit' at the end
        where the unit stood beside the value.

    Examples
    --------
    >>> len(Setup().assumed) > 10
    True
    >>> [a.value for a in Setup().assumed if a.name == "field.room_temperature"]
    ['20 degC']
    """

    units: UnitsOut = UnitsOut()
    field: Field = Field()
    meter: Meter = Meter()
    references: Mapping[str, Reference] = dataclasses.field(default_factory=dict)
    bath: Bath = Bath()
    probes: Mapping[str, Probe] = dataclasses.field(default_factory=dict)
    transducers: Mapping[str, Transducer] = dataclasses.field(default_factory=dict)
    channels: Mapping[str, ChannelWiring] = dataclasses.field(default_factory=dict)
    monitor: MonitorSetup = dataclasses.field(default_factory=MonitorSetup)
    pressure_input: PressureInput = dataclasses.field(default_factory=PressureInput)
    engine: Engine = dataclasses.field(default_factory=Engine)
    limits: Mapping[str, ChannelLimits] = dataclasses.field(default_factory=dict)
    log: LogColumns = dataclasses.field(default_factory=LogColumns)
    note: str = ""
    keep: tuple[Keep, ...] = ()
    stated: frozenset[str] = dataclasses.field(default=frozenset(), compare=False)

    def __post_init__(self) -> None:
        """Copy the mappings and check that every entry is filed under its own name."""
        for name, key in (
            ("references", "identifier"), ("probes", "name"), ("transducers", "name"), ("channels", "name"),
            ("limits", "name"),
        ):  # fmt: skip
            entries = dict(getattr(self, name))
            for filed, entry in entries.items():
                if getattr(entry, key) != filed:
                    raise InputError(f"{getattr(entry, key)} is filed as {filed} among the {name}")
            object.__setattr__(self, name, entries)

    def reason_to_keep(self, what: str) -> str:
        """Give the reason for which a questioned thing is kept as typed, or '' when there is none."""
        return next((entry.reason for entry in self.keep if entry.what == what), "")

    def probe(self, name: str) -> Probe:
        """Give the probe of that tag, or a thermistor with every default when the setup does not list it."""
        return self.probes.get(name, Probe(name=name))

    def reference(self, identifier: str) -> Reference:
        """Give the reference of that identifier, or a household thermometer when the setup does not list it."""
        return self.references.get(identifier, Reference(identifier=identifier))

    def transducer(self, name: str) -> Transducer:
        """Give the data sheet of that tag, or one with every default when the setup does not list it."""
        return self.transducers.get(name, Transducer(name=name))

    def channel(self, name: str) -> ChannelWiring:
        """Give the wiring of that tag, or one with every default when the setup does not list it."""
        return self.channels.get(name, ChannelWiring(name=name))

    def limit(self, channel: str) -> ChannelLimits:
        """Give the limits of that channel, or none when the setup does not list it."""
        return self.limits.get(channel, ChannelLimits(name=channel))

    @property
    def assumed(self) -> tuple[Assumed, ...]:
        """Every value that was assumed, with its value and why."""
        return tuple(line for path, part in parts(self) for line in assumptions(part, path, self.stated))


Part = (
    UnitsOut | Field | Meter | Reference | Bath | Probe | Transducer | ChannelWiring | MonitorSetup | PressureInput
    | Engine | ChannelLimits
)  # fmt: skip
"""Any part of the setup that has values of its own."""


def parts(setup: Setup) -> list[tuple[str, Part]]:
    """List the setup's parts with the dotted path at which each stands in the file."""
    found: list[tuple[str, Part]] = [(name, getattr(setup, name)) for name in ("units", "field", "meter")]
    found += [(f"references.{key}", entry) for key, entry in setup.references.items()]
    found.append(("bath", setup.bath))
    found += [(f"probes.{key}", entry) for key, entry in setup.probes.items()]
    found += [(f"transducers.{key}", entry) for key, entry in setup.transducers.items()]
    found += [(f"channels.{key}", entry) for key, entry in setup.channels.items()]
    found.append(("monitor", setup.monitor))
    if setup.transducers or setup.pressure_input != PressureInput():
        found.append(("pressure_input", setup.pressure_input))
    if setup.limits or setup.engine != Engine() or any(name.startswith("engine.") for name in setup.stated):
        found.append(("engine", setup.engine))
    found += [(f"limits.{key}", entry) for key, entry in setup.limits.items()]
    return found
