"""Tables made for the whole channel: rows that undo the known wire, contacts, ground and pull resistor as well."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from sensorcal.errors import TableError
from sensorcal.installed.chain import Chain, fraction_at, in_blocks, shown
from sensorcal.installed.chainparts import FloatArray, RatioSensor, Thermistor
from sensorcal.installed.conversion import TableConversion, table_conversion
from sensorcal.installed.elements import Element, elements_of, ideal_of, value_of, values_of
from sensorcal.installed.inverse import measurand_at
from sensorcal.installed.monitor import MonitorInput
from sensorcal.installed.pressuretable import PressureInput, PressureTable, make_pressure_table
from sensorcal.installed.table import MonitorTable, make_table
from sensorcal.units import to_si

NOT_SETTLED = ("ground, by current", "self-heating", "insulation leak")
"""Groups of elements that a table does not undo unless told to: they change with load, medium and weather."""
_POINTS = 2001


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ChannelCurve:
    """A thermistor as the monitor's input sees it: through contacts, wire, ground, pull resistor and reference.

    Parameters
    ----------
    chain : Chain
        Of a thermistor; its steps and its conversion play no part but for the pull resistor it assumes.
    across : bool
        True where the signal is the voltage at the input whatever the arrangement; False where the monitor turns it
        into ohms by its own arrangement. They differ for a pull-down resistor only.

    Examples
    --------
    >>> from sensorcal.installed.chainparts import Wiring
    >>> from sensorcal.installed.conversion import CurveConversion
    >>> from sensorcal.physics.curves import SteinhartHart
    >>> probe = SteinhartHart.through_points([0.0, 50.0, 97.7], [5230.0, 721.0, 172.1])
    >>> chain = Chain(sensor=Thermistor(curve=probe), conversion=CurveConversion(curve=probe, pull_ohm=1000.0),
    ...               wiring=Wiring(contact_ohm=0.5))
    >>> seen = ChannelCurve(chain=chain)
    >>> float(seen.resistance_ohm(97.7).round(6)), float(seen.temperature_c(172.6).round(6))
    (172.6, 97.7)
    """

    chain: Chain
    across: bool = False

    def __post_init__(self) -> None:
        """Refuse a transducer, and a monitor that assumes no pull resistor."""
        if not isinstance(self.chain.sensor, Thermistor):
            raise TableError("a pressure channel has no ohms", do="use ChannelRatio")
        if self.chain.conversion.pull_ohm is None:
            raise TableError("the pull resistor that the monitor assumes is not known", do="state it in the setup")

    def resistance_ohm(self, temperature_c: ArrayLike, /) -> FloatArray:
        """Ohms that the monitor believes to see at a true temperature in degC (any shape)."""
        part = _fraction(self.chain, temperature_c)
        if not ((part > 0.0) & (part < 1.0)).all():
            raise TableError(
                "within the range the input stands at ground or supply",
                do="check ground, supply and pull resistor, or ask for a smaller range",
            )
        return np.asarray(self._pull * ((1.0 - part) / part if self._turned else part / (1.0 - part)))

    def temperature_c(self, resistance_ohm: ArrayLike, /) -> FloatArray:
        """True temperature in degC behind ohms that the monitor believes to see; infinite beyond the curve."""
        ohm = np.asarray(resistance_ohm, dtype=np.float64)
        return measurand_at(self.chain, (self._pull if self._turned else ohm) / (ohm + self._pull))

    @property
    def _turned(self) -> bool:
        return self.chain.divider.arrangement == "pull-down" and not self.across

    @property
    def _pull(self) -> float:
        pull = self.chain.conversion.pull_ohm
        assert pull is not None
        return pull


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ChannelRatio:
    """A transducer as the monitor's input sees it: through its supply, ground and wires.

    Parameters
    ----------
    chain : Chain
        Of a transducer.
    """

    chain: Chain

    def __post_init__(self) -> None:
        """Refuse a thermistor."""
        if not isinstance(self.chain.sensor, RatioSensor):
            raise TableError("a temperature channel has no ratio", do="use ChannelCurve")

    def ratio(self, pressure_pa: ArrayLike, /) -> FloatArray:
        """Part of the supply that the monitor reads at a true pressure in Pa (any shape)."""
        return _fraction(self.chain, pressure_pa)

    def pressure_pa(self, ratio: ArrayLike, /) -> FloatArray:
        """True pressure in Pa behind a part of the supply; infinite beyond the curve."""
        return measurand_at(self.chain, ratio)


@dataclass(frozen=True, slots=True, kw_only=True)
class Undone:
    """A group of elements that the table undoes, or leaves as it is, with what it is worth.

    Attributes
    ----------
    group : str
    worst_error : float
        What the group alone does to the shown value where it does most within the range, degC or Pa.
    worst_at : float
        True value there.
    undone : bool
        False for a group left out on purpose.
    """

    group: str
    worst_error: float
    worst_at: float
    undone: bool


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ChainTable:
    """A table for the whole channel beside one for the sensor alone.

    Attributes
    ----------
    table, plain : MonitorTable or PressureTable
        Made through the channel; made from the sensor's curve as if it stood at the input.
    worst_error, plain_worst_error : float
        Largest shown minus true of each through the channel, its known errors all present but for those left out,
        steps of converter and display aside; signed, degC or Pa.
    groups : tuple of Undone
        Largest first.
    """

    table: MonitorTable | PressureTable
    plain: MonitorTable | PressureTable
    worst_error: float
    plain_worst_error: float
    groups: tuple[Undone, ...]


def settled(chain: Chain, leave_out: Sequence[str] = NOT_SETTLED) -> Chain:
    """Give the chain with the elements of some groups at their ideal values: what a table may undo for good.

    Raises
    ------
    TableError
        A group that the chain does not have.

    Examples
    --------
    >>> from sensorcal.installed.chainparts import Ground
    >>> from sensorcal.installed.conversion import CurveConversion
    >>> from sensorcal.physics.curves import SteinhartHart
    >>> probe = SteinhartHart.through_points([0.0, 50.0, 97.7], [5230.0, 721.0, 172.1])
    >>> chain = Chain(sensor=Thermistor(curve=probe), conversion=CurveConversion(curve=probe, pull_ohm=1000.0),
    ...               ground=Ground(returns="case", constant_v=0.01, strap_ohm=0.001, current_a=-20.0))
    >>> settled(chain).ground.constant_v, settled(chain).ground.current_a
    (0.01, 0.0)
    """
    elements = elements_of(chain)
    known = {element.group for element in elements}
    for group in leave_out:
        if group not in known and group not in NOT_SETTLED:
            raise TableError(f"{group!r} is no group of this chain", do=f"write one of {', '.join(sorted(known))}")
    return with_ideal(chain, [e for e in elements if e.group in leave_out])


def with_ideal(chain: Chain, elements: Sequence[Element]) -> Chain:
    """Give the chain with these elements at the values at which they do no harm."""
    parts: dict[str, Any] = {}
    for element in elements:
        if element.part:
            part = parts.get(element.part, getattr(chain, element.part))
            parts[element.part] = replace(part, **{element.key: ideal_of(chain, element)})
    return replace(chain, **parts)


def make_chain_table(
    chain: Chain,
    monitor: MonitorInput,
    *,
    from_c: float,
    to_c: float,
    rows: int | None = None,
    at_c: Sequence[float] = (),
    tested_range_c: tuple[float, float] | None = None,
    leave_out: Sequence[str] = NOT_SETTLED,
) -> ChainTable:
    """Make the temperature table whose worst error through the installed channel is the smallest.

    Parameters
    ----------
    chain : Chain
        Of a thermistor, with the known values of wire, contacts, ground, pull resistor and reference.
    monitor : MonitorInput
        Its interpolation may be straight in ohms, in volts (a voltage input) or in ln ohm.
    from_c, to_c, rows, at_c, tested_range_c
        As for `make_table`.
    leave_out : sequence of str
        Groups of elements that the rows must not undo, because they come and go.

    Returns
    -------
    ChainTable

    Raises
    ------
    TableError
        If monitor and chain assume different circuits, or no such table exists.

    Notes
    -----
    A table undoes what it was told; the uncertainty of wire, contacts and ground stays. After a change of wiring,
    connector or monitor it has to be made anew.

    Examples
    --------
    >>> from sensorcal.installed.chainparts import Divider, Wiring
    >>> from sensorcal.installed.conversion import CurveConversion
    >>> from sensorcal.physics.curves import SteinhartHart
    >>> probe = SteinhartHart.through_points([0.0, 50.0, 97.7], [5230.0, 721.0, 172.1])
    >>> chain = Chain(sensor=Thermistor(curve=probe), conversion=CurveConversion(curve=probe, pull_ohm=1000.0),
    ...               wiring=Wiring(contact_ohm=1.5), divider=Divider(pull_ohm=988.0))
    >>> made = make_chain_table(chain, MonitorInput(rows=12), from_c=0.0, to_c=130.0)
    >>> round(made.worst_error, 1), round(made.plain_worst_error, 1)
    (-0.4, -1.4)
    """
    _same_circuit(chain, monitor)
    known = settled(chain, leave_out)
    sensor = known.sensor
    assert isinstance(sensor, Thermistor)
    asked: dict[str, Any] = {
        "from_c": from_c, "to_c": to_c, "rows": rows, "at_c": at_c, "tested_range_c": tested_range_c,
    }  # fmt: skip
    # A monitor described with its pull-down turns ohms into volts by itself.
    seen = ChannelCurve(chain=known, across=monitor.kind != "resistance" and not monitor.pull_down)
    bare = ChannelCurve(chain=with_ideal(known, elements_of(known)), across=seen.across)
    table, plain = (make_table(curve, monitor, **asked) for curve in (seen, bare))
    pull_down = chain.divider.arrangement == "pull-down"
    keyed = [replace(_keyed(one, chain), pull_down=pull_down) for one in (table, plain)]
    worst = [_worst(known, one, from_c, to_c) for one in keyed]
    return ChainTable(
        table=table,
        plain=plain,
        worst_error=worst[0],
        plain_worst_error=worst[1],
        groups=_groups(chain, keyed[1], from_c, to_c, leave_out),
    )


def make_chain_pressure_table(
    chain: Chain,
    monitor: PressureInput,
    *,
    from_pa: float,
    to_pa: float,
    rows: int | None = None,
    at_pa: Sequence[float] = (),
    tested_range_pa: tuple[float, float] | None = None,
    leave_out: Sequence[str] = NOT_SETTLED,
) -> ChainTable:
    """Make the pressure table whose worst error through the installed channel is the smallest.

    Parameters
    ----------
    chain : Chain
        Of a transducer.
    monitor : PressureInput
    from_pa, to_pa, rows, at_pa, tested_range_pa
        As for `make_pressure_table`.
    leave_out : sequence of str
        As for `make_chain_table`.

    Raises
    ------
    TableError
        If monitor and chain assume different circuits, or no such table exists.
    """
    _same_circuit(chain, monitor)
    known = settled(chain, leave_out)
    asked: dict[str, Any] = {
        "from_pa": from_pa, "to_pa": to_pa, "rows": rows, "at_pa": at_pa, "tested_range_pa": tested_range_pa,
    }  # fmt: skip
    seen, bare = ChannelRatio(chain=known), ChannelRatio(chain=with_ideal(known, elements_of(known)))
    table, plain = (make_pressure_table(curve, monitor, **asked) for curve in (seen, bare))
    keyed = [pressure_conversion(one) for one in (table, plain)]
    worst = [_worst(known, one, from_pa, to_pa) for one in keyed]
    return ChainTable(
        table=table,
        plain=plain,
        worst_error=worst[0],
        plain_worst_error=worst[1],
        groups=_groups(chain, keyed[1], from_pa, to_pa, leave_out),
    )


def pressure_conversion(table: PressureTable, *, supply_v: float = 5.0) -> TableConversion:
    """Take a pressure table as made for a monitor for the conversion of a chain.

    Parameters
    ----------
    table : PressureTable
    supply_v : float
        Supply that the monitor assumes, V, where its description does not name it.
    """
    monitor = table.monitor
    return TableConversion(
        signal=monitor.ratio(table.signal),
        reading=to_si(table.value, monitor.value_unit),
        reads="ratio",
        past_ends=monitor.past_ends,
        supply_v=supply_v if monitor.supply_v is None else monitor.supply_v,
    )


def _fraction(chain: Chain, measurand: ArrayLike) -> FloatArray:
    at = np.asarray(measurand, dtype=np.float64)
    sensor = chain.sensor
    near = 1e-9 * (sensor.high - sensor.low)
    if at.size and (at.min() < sensor.low - near or at.max() > sensor.high + near):
        raise TableError(
            f"the table would reach beyond {sensor.low:g} to {sensor.high:g} {sensor.unit}, where the curve is used",
            do="ask for a smaller range; nothing is extrapolated",
        )
    values = values_of(chain)
    converter = chain.converter
    part = in_blocks(lambda some: np.asarray(fraction_at(chain, values, some, limited=False)), at)
    ends = np.array([converter.low_v, converter.high_v])
    scale = chain.converter.reference_v if not converter.ratiometric else values["supply_v"]
    low, high = (ends * (1.0 + values["gain_ratio"]) + values["offset_v"]) / scale
    if at.size and (part.min() < low or part.max() > high):
        raise TableError(
            "the input is held at its limit within the range", do="ask for a smaller range: there nothing is measured"
        )
    return np.asarray(np.broadcast_to(part, at.shape))


def _same_circuit(chain: Chain, monitor: MonitorInput | PressureInput) -> None:
    """Refuse a table for another circuit than the one in which it will be read."""
    if monitor.supply_v is not None and monitor.kind == "voltage" and monitor.supply_v != chain.conversion.supply_v:
        raise TableError(
            f"the table is in volts of {monitor.supply_v:g} V, the chain's monitor assumes "
            f"{chain.conversion.supply_v:g} V",
            do="give both the same supply",
        )
    if not isinstance(monitor, MonitorInput):
        return
    if monitor.pull_down and chain.divider.arrangement != "pull-down":
        raise TableError(
            "the table is for a sensor between supply and input, the chain's sensor sits between input and ground",
            do="give both the same arrangement",
        )
    pull = chain.conversion.pull_ohm
    if monitor.pull_up_ohm is not None and pull is not None and monitor.pull_up_ohm != pull:
        raise TableError(
            f"the table is for a pull-up of {monitor.pull_up_ohm:g} ohm, the chain's monitor assumes {pull:g} ohm",
            do="give both the value that the monitor reckons with",
        )


def _keyed(table: MonitorTable, chain: Chain) -> TableConversion:
    return table_conversion(table, pull_ohm=chain.conversion.pull_ohm, supply_v=chain.conversion.supply_v)


def _without_steps(chain: Chain, keyed: TableConversion) -> Chain:
    """The chain with a table keyed in whose end lines go on, and without the steps of converter and display."""
    return replace(
        chain,
        conversion=replace(keyed, past_ends="extends"),
        converter=replace(chain.converter, bits=None),
        display=replace(chain.display, step=0.0, low=-np.inf, high=np.inf),
    )


def _worst(chain: Chain, keyed: TableConversion, low: float, high: float) -> float:
    """Largest signed error through a chain with a table keyed in, its own rows among the places looked at."""
    plain = _without_steps(chain, keyed)
    at = np.linspace(low, high, _POINTS)
    corners = measurand_at(plain, _row_fractions(keyed))
    at = np.sort(np.append(at, corners[(corners >= low) & (corners <= high)]))
    error = shown(plain, at) - at
    return float(error[int(np.argmax(np.abs(error)))])


def _row_fractions(keyed: TableConversion) -> FloatArray:
    """Fractions of the supply at which the rows stand."""
    reach = keyed.reach(keyed.values, keyed.values)
    return np.asarray(np.append(reach.low, reach.high))


def _groups(
    chain: Chain, keyed: TableConversion, low: float, high: float, leave_out: Sequence[str]
) -> tuple[Undone, ...]:
    """What each group alone does to the shown value, largest first."""
    base = _without_steps(chain, keyed)
    elements = elements_of(base)
    ideal = with_ideal(base, elements)
    at = np.linspace(low, high, 201)
    plain = shown(ideal, at)
    found = []
    for group in dict.fromkeys(element.group for element in elements):
        own = [e for e in elements if e.group == group and value_of(base, e) != ideal_of(base, e)]
        if not own:
            continue
        others = [e for e in elements if e.group != group]
        error = shown(with_ideal(base, others), at) - plain
        worst = int(np.argmax(np.abs(error)))
        found.append(
            Undone(
                group=group,
                worst_error=float(error[worst]),
                worst_at=float(at[worst]),
                undone=group not in leave_out,
            )
        )
    # Rounding of the arithmetic is no group.
    floor = 1e-9 * (high - low)
    return tuple(sorted((one for one in found if abs(one.worst_error) > floor), key=lambda one: -abs(one.worst_error)))
