"""Ground tests in millivolts: loads off and on, block to monitor while cranking, and what they do to readings."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from sensorcal.errors import InputError
from sensorcal.installed.chainparts import ResistanceCurve

Returns = Literal["own wire", "case"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ThermistorChannel:
    """A probe on a pull-up.

    Parameters
    ----------
    name : str
    curve : object
        With `temperature_c` and `resistance_ohm`.
    at_c : float
        Operating temperature at which the effect is asked.
    returns : {'own wire', 'case'}
        Own return wire to the monitor, or ground on the engine.
    pull_up_ohm, supply_v : float
    """

    name: str
    curve: ResistanceCurve
    at_c: float = 90.0
    returns: Returns = "case"
    pull_up_ohm: float = 1000.0
    supply_v: float = 5.0


@dataclass(frozen=True, slots=True, kw_only=True)
class TransducerChannel:
    """A ratiometric transducer fed by the monitor.

    Parameters
    ----------
    name : str
    at_ratio : float
        Output over supply at the operating pressure.
    pa_per_ratio : float
        Pressure per unit of the ratio: span over the ratios' difference.
    returns : {'own wire', 'case'}
    supply_v : float
    """

    name: str
    at_ratio: float
    pa_per_ratio: float
    returns: Returns = "own wire"
    supply_v: float = 5.0


Channel = ThermistorChannel | TransducerChannel


@dataclass(frozen=True, slots=True, kw_only=True)
class Moved:
    """What a lift does to a channel.

    Attributes
    ----------
    name : str
    shift, u_shift : float
        Shown minus true, and its standard uncertainty: degC or Pa.
    unit : str
    words : str
    """

    name: str
    shift: float
    u_shift: float
    unit: str
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class GroundFinding:
    """A ground offset, its path and its effects.

    Attributes
    ----------
    lift_v, u_lift_v : float
        Of the sensor's ground above the monitor's, in the state asked about.
    path_ohm, u_path_ohm : float or None
        Resistance of the shared path, where the current is known.
    moved, unmoved : tuple
        Channels that move, and the names of those that do not.
    unseen : str
        What this test cannot see.
    """

    lift_v: float
    u_lift_v: float
    path_ohm: float | None
    u_path_ohm: float | None
    moved: tuple[Moved, ...]
    unmoved: tuple[str, ...]
    unseen: str


def lift_shift(channel: Channel, lift_v: float) -> float:
    """Shown minus true of a channel whose own ground stands above the monitor's, degC or Pa.

    A thermistor behind a pull-up reads V = d + (S - d) R/(R + Rp): as if it had d (R + Rp)/(S - d) more ohms. A
    transducer fed from the monitor's supply shifts by d (1 - r).

    Parameters
    ----------
    channel : ThermistorChannel or TransducerChannel
    lift_v : float
        Positive while cranking (starter return), negative while charging, for a ground on the engine.

    Returns
    -------
    float

    Raises
    ------
    InputError
        If the lift leaves no resistance to read.

    References
    ----------
    Ohm's law.

    Examples
    --------
    >>> sensor = TransducerChannel(name="oil", at_ratio=0.1, pa_per_ratio=1e6 / 0.8)
    >>> round(lift_shift(sensor, 0.020))
    4500
    """
    if isinstance(channel, TransducerChannel):
        return lift_v * (1.0 - channel.at_ratio) / channel.supply_v * channel.pa_per_ratio
    ohm = float(np.asarray(channel.curve.resistance_ohm(np.asarray(channel.at_c, dtype=float))))
    seen = ohm + lift_v * (ohm + channel.pull_up_ohm) / (channel.supply_v - lift_v)
    if not (seen > 0 and lift_v < channel.supply_v):
        raise InputError(
            f"a lift of {lift_v * 1e3:.0f} mV takes {channel.name} below its range", do="measure again, and its sign"
        )
    return float(np.asarray(channel.curve.temperature_c(np.asarray(seen)))) - channel.at_c


def load_test(
    off_v: float, on_v: float, channels: tuple[Channel, ...] = (), *, u_v: float = 0.3e-3, own_path: bool = True
) -> GroundFinding:
    """Engine stopped, lights and pumps off and on: what the sensors' ground moves by.

    Parameters
    ----------
    off_v, on_v : float
        Sensor ground against the monitor's ground pin, V, meter's red lead on the sensor side.
    channels : tuple
        Channels to size the effect on.
    u_v : float
        Standard uncertainty of one voltage.
    own_path : bool
        Whether the reading was taken on the sensors' own return wire (True) or on the engine's metal.

    Returns
    -------
    GroundFinding
        For the loads on.

    References
    ----------
    Common practice, no source.

    Examples
    --------
    >>> round(load_test(0.0, 0.003).lift_v * 1e3, 1)
    3.0
    """
    _finite(off_v, on_v)
    lift, u = on_v - off_v, math.hypot(u_v, u_v)
    moved, unmoved = _effects(channels, lift, u, "own wire" if own_path else "case")
    return GroundFinding(
        lift_v=lift, u_lift_v=u, path_ohm=None, u_path_ohm=None, moved=moved, unmoved=unmoved,
        unseen="with the engine stopped no current passes its strap: measure block to monitor while cranking as well",
    )  # fmt: skip


def cranking_test(
    cranking_v: float,
    cranking_a: float,
    channels: tuple[Channel, ...] = (),
    *,
    charging_a: float = 0.0,
    rest_v: float = 0.0,
    u_v: float = 2e-3,
    u_cranking_a: float = 20.0,
    u_charging_a: float = 3.0,
) -> GroundFinding:
    """Block to monitor ground while cranking, ignition off: the strap's resistance, and the lift while charging.

    Parameters
    ----------
    cranking_v : float
        Block against the monitor's ground pin while cranking, V; positive for starter current returning.
    cranking_a, u_cranking_a : float
        Starter current; a clamp meter's or the battery's, and its standard uncertainty.
    channels : tuple
        Channels to size the effect on; those grounded on the case move.
    charging_a, u_charging_a : float
        Alternator current in cruise: it flows the other way through the strap.
    rest_v : float
        The same voltage with the starter still.
    u_v : float
        Standard uncertainty of a voltage while cranking.

    Returns
    -------
    GroundFinding
        For the charging current.

    Raises
    ------
    InputError
        If the current is not above zero, or the voltage has the wrong sign.

    References
    ----------
    Ohm's law; common practice, no source.

    Examples
    --------
    >>> found = cranking_test(0.180, 200.0, charging_a=30.0)
    >>> round(found.path_ohm * 1e3, 2), round(found.lift_v * 1e3)
    (0.9, -27)
    """
    _finite(cranking_v, cranking_a, charging_a, rest_v)
    if cranking_a <= 0 or charging_a < 0:
        raise InputError("currents are given by their size, above zero", do="give the starter's and the alternator's")
    drop = cranking_v - rest_v
    if drop < -2.0 * math.hypot(u_v, u_v):
        raise InputError(
            f"the block went {drop * 1e3:.0f} mV while cranking, which is no starter return",
            do="swap the meter's leads: red on the block",
        )
    path = drop / cranking_a
    u_path = math.hypot(math.hypot(u_v, u_v if rest_v else 0.0) / cranking_a, path * u_cranking_a / cranking_a)
    lift = -path * charging_a
    u_lift = math.hypot(u_path * charging_a, path * u_charging_a)
    moved, unmoved = _effects(channels, lift, u_lift, "case")
    return GroundFinding(
        lift_v=lift, u_lift_v=u_lift, path_ohm=path, u_path_ohm=u_path, moved=moved, unmoved=unmoved,
        unseen="a joint that only opens when warm or shaking: repeat after the first runs",
    )  # fmt: skip


def _effects(
    channels: tuple[Channel, ...], lift_v: float, u_lift_v: float, path: Returns
) -> tuple[tuple[Moved, ...], tuple[str, ...]]:
    moved = []
    for channel in channels:
        if channel.returns != path:
            continue
        shift = lift_shift(channel, lift_v)
        u = abs(lift_shift(channel, lift_v + u_lift_v) - lift_shift(channel, lift_v - u_lift_v)) / 2.0
        hot = isinstance(channel, ThermistorChannel)
        size = f"{shift:+.1f} degC at {channel.at_c:g}" if isinstance(channel, ThermistorChannel) else (
            f"{shift / 1e3:+.1f} kPa at a ratio of {channel.at_ratio:g}"
        )  # fmt: skip
        side = "" if not hot else ", reads cold when hot: the dangerous side" if shift < 0 else ", reads hot"
        moved.append(
            Moved(
                name=channel.name, shift=shift, u_shift=u, unit="degC" if hot else "Pa",
                words=f"{channel.name}: {size}{side}",
            )
        )  # fmt: skip
    return tuple(moved), tuple(channel.name for channel in channels if channel.returns != path)


def _finite(*numbers: float) -> None:
    if not np.isfinite(numbers).all():
        raise InputError("a voltage or current is no number", do="read the meter again")
