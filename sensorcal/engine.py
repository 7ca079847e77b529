"""The engine as its maker's manual and its builder describe it: what the first start is judged against."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from sensorcal.declared import declared, not_negative, one_of
from sensorcal.errors import InputError

TEMPERATURES = ("coolant", "gearbox_oil", "charge_in", "charge_out")
PRESSURES = ("oil_pressure", "fuel_pressure", "map")
JUDGED = (*TEMPERATURES, *PRESSURES)
"""The channels that have limits and sensors, by their names in the setup."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Engine:
    """What is known of the engine, under ``[engine]`` in the setup. Everything may be left out.

    Examples
    --------
    >>> Engine().oil_rise_s
    10.0
    """

    name: str = declared("", "what the engine is called in this record")
    boosted: str = declared("yes", "'yes' for a turbocharged or supercharged engine, else 'no'", why="has a cooler")
    fuel_reference: str = declared(
        "open air", "what the fuel regulator is referenced to: 'open air', 'manifold' or 'airbox'",
        why="the simplest regulator",
    )  # fmt: skip
    fuel_set_pa: float | None = declared(None, "regulated fuel pressure above its reference", "kPa")
    oil_rise_s: float = declared(
        10.0, "time by which oil pressure must show after the start", "s",
        why="the maker's time is often 10 s or less, 30 s at most (handbook); use the maker's",
    )  # fmt: skip
    oil_warm_pa: float | None = declared(None, "usual oil pressure, warm, well above idle", "kPa")
    idle_rpm: float | None = declared(None, "idle speed, 1/min")
    idle_map_pa: float | None = declared(None, "usual manifold pressure at warm idle, absolute", "kPa")
    thermostat_c: float | None = declared(None, "temperature at which the coolant thermostat opens", "degC")
    cap_pressure_pa: float | None = declared(None, "pressure of the coolant cap above the air outside", "kPa")
    coolant: str = declared("glycol mix", "'water' or 'glycol mix'", why="the usual filling")

    def __post_init__(self) -> None:
        """Refuse words nobody knows."""
        one_of(self, "boosted", ("yes", "no"))
        one_of(self, "fuel_reference", ("open air", "manifold", "airbox"))
        one_of(self, "coolant", ("water", "glycol mix"))
        not_negative(
            self, "fuel_set_pa", "oil_rise_s", "oil_warm_pa", "idle_rpm", "idle_map_pa", "cap_pressure_pa"
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class ChannelLimits:
    """The engine maker's limits for one channel, under ``[limits.CHANNEL]``; degC or Pa by the channel.

    `low` holds while the engine runs, `high` always.

    Examples
    --------
    >>> ChannelLimits(name="oil_pressure", low=150_000.0).measurand
    'pressure'
    """

    name: str = "coolant"
    low: float | None = declared(None, "lower limit while running, by the engine maker's manual", "measurand")
    high: float | None = declared(None, "upper limit by the engine maker's manual", "measurand")

    def __post_init__(self) -> None:
        """Refuse an unknown channel and limits that cross."""
        if self.name not in JUDGED:
            raise InputError(f"limits of {self.name!r} are not known", do=f"write one of {', '.join(JUDGED)}")
        if self.low is not None and self.high is not None and self.low >= self.high:
            raise InputError(f"limits of {self.name} cross", do="low lies below high")

    @property
    def measurand(self) -> str:
        """'temperature' or 'pressure'."""
        return "pressure" if self.name in PRESSURES else "temperature"


@dataclass(frozen=True, slots=True, kw_only=True)
class LogColumns:
    """Which column of a log is which channel, under ``[log]``; what is not listed is guessed and shown.

    Parameters
    ----------
    columns : mapping of str
        Heading in the file to 'CHANNEL', 'CHANNEL UNIT' or 'ignore', such as ``"CLT" = "coolant degF"``.
    """

    columns: Mapping[str, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Copy the mapping."""
        object.__setattr__(self, "columns", dict(self.columns))
