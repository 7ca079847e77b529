"""Each sensor's range against what its channel will see: cold starts, boost, altitude, the converter's counts."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from sensorcal.engine import JUDGED
from sensorcal.installed.boilmargin import coolant_boiling_c
from sensorcal.installed.chain import sensitivities
from sensorcal.installed.fromsetup import InstalledChannel
from sensorcal.installed.harness import Channels, is_transducer, known_channels, tags_of
from sensorcal.physics.atmosphere import standard_pressure_pa, standard_temperature_c
from sensorcal.physics.compressor import compressor_outlet_c
from sensorcal.roles import channel_of_role
from sensorcal.setup import Setup
from sensorcal.transducer import Transducer
from sensorcal.units import format_quantity, interval_from_si

COLD_OIL_PA = 800_000.0
"""Oil pressure of a start at -20 degC, the relief valve overwhelmed: 600 to 800 kPa are possible (from memory)."""
LEAST_MAP_PA = 20_000.0
"""Manifold pressure with a shut throttle and the propeller driving: common practice, no source."""
MOST_AIR_PA = 108_000.0
"""Highest air pressure at the lowest field: a strong winter high, common practice, no source."""
_OVER = 1.10
_ABOVE_LIMIT_C = 10.0  # so that an excess still has a number
_HOT_DAY_C = 20.0
_COMPRESSOR = 0.65
_SEALED_PA = 101_325.0
_COARSE_C = 1.0
_FOLLOWS_PA = 5_000.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """One end of what a channel will see; degC or Pa.

    Attributes
    ----------
    value : float
    why : str
        What makes it so, with its source.
    """

    value: float
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RangeCheck:
    """A sensor against its channel.

    Attributes
    ----------
    tag, channel, measurand : str
        `channel` is empty where the role does not say what the sensor watches.
    kind : str
        'gauge', 'sealed' or 'absolute'; empty for a thermistor.
    low, high : float or None
        What the sensor, or its sheet, covers: degC or Pa of its own kind.
    least, most : Seen or None
        What it will see, in the same kind of pressure.
    warnings : tuple of str
        Where it does not suit, in the setup's units; empty where it does.
    cautions : tuple of str
        What is to be settled, though the sensor's range is right.
    notes : tuple of str
        What is worth knowing and no reason for another sensor.
    """

    tag: str
    channel: str
    measurand: str
    kind: str
    low: float | None
    high: float | None
    least: Seen | None
    most: Seen | None
    warnings: tuple[str, ...]
    notes: tuple[str, ...]
    cautions: tuple[str, ...] = ()


def range_checks(
    setup: Setup, *, highest_m: float = 3000.0, coldest_c: float = -20.0, channels: Channels | None = None
) -> tuple[RangeCheck, ...]:
    """Compare the range of every sensor with what it will see.

    Parameters
    ----------
    setup : Setup
        Sensors with their roles, limits under `[limits.CHANNEL]` and the engine under `[engine]`.
    highest_m : float
        Highest pressure altitude that will be flown.
    coldest_c : float
        Coldest morning on which the engine is started.
    channels : mapping of str to InstalledChannel, optional
        From `known_channels`, where there are records; by the maker's sheets if left out.

    Returns
    -------
    tuple of RangeCheck

    Raises
    ------
    InputError
        No sensor in the setup.

    References
    ----------
    ISO 2533:1975 for the air; cold oil, overboost and compressor efficiency as the constants say.

    Examples
    --------
    >>> from sensorcal.setupfile import setup_from_text
    >>> setup = setup_from_text('''
    ... [probes.O1]
    ... role = "oil pressure"
    ... measurand = "pressure"
    ... [transducers.O1]
    ... high = "600 kPa"
    ... ''')
    >>> range_checks(setup)[0].warnings[0]
    'ends at 600 kPa and will see 800 kPa (start at -20 degC, relief valve overwhelmed): it stays flat at its end'
    """
    known = known_channels(setup) if channels is None else channels
    return tuple(
        _transducer(setup, tag, highest_m, coldest_c)
        if is_transducer(setup, tag)
        else _thermistor(setup, tag, known.get(tag), highest_m, coldest_c)
        for tag in tags_of(setup)
    )


def _channel(setup: Setup, tag: str, measurand: str) -> str:
    found = channel_of_role(setup.probe(tag).role, measurand)
    return found if found in JUDGED else ""


def _transducer(setup: Setup, tag: str, highest_m: float, coldest_c: float) -> RangeCheck:
    channel = _channel(setup, tag, "pressure")
    data = setup.transducers.get(tag)
    unit = setup.units.pressure
    if data is None:
        return RangeCheck(
            tag=tag, channel=channel, measurand="pressure", kind="", low=None, high=None, least=None, most=None,
            warnings=(), notes=(f"not checked: no data sheet under [transducers.{tag}]",),
        )  # fmt: skip
    high_air = float(standard_pressure_pa(highest_m))
    warnings: list[str] = []
    notes: list[str] = []
    least, most = _pressures(setup, channel, highest_m, coldest_c, notes)

    def said(pa: float) -> str:
        return f"{_round(pa, unit)} {unit}"

    if channel == "map" and data.kind != "absolute":
        warnings.append(
            f"is a {data.kind} sensor: manifold pressure is absolute, and this one moves with the air by "
            f"{said(_SEALED_PA - high_air)} up to {_metres(setup, highest_m)}"
        )
    if channel in {"oil_pressure", "fuel_pressure"} and data.kind == "absolute":
        warnings.append(f"is an absolute sensor: it shows the air, {said(_air_here(setup))}, with the engine stopped")
    if channel in {"oil_pressure", "fuel_pressure"} and data.kind == "sealed":
        drop = high_air - _SEALED_PA
        text = f"is sealed: at {_metres(setup, highest_m)} it shows {said(drop)} for an open line"
        (warnings if channel == "fuel_pressure" and -drop > _FOLLOWS_PA else notes).append(text)
    if data.kind == "gauge" and channel in {"oil_pressure", "fuel_pressure"}:
        notes.append("vented: keep its vent open and dry, it is the air that it compares with")
    same = (channel == "map") == (data.kind == "absolute")
    if most is not None and same and data.high_pa < most.value * (1.0 - 1e-9):
        warnings.append(
            f"ends at {said(data.high_pa)} and will see {said(most.value)} ({most.why}): it stays flat at its end"
        )
    if least is not None and same and data.low_pa > least.value * (1.0 + 1e-9) + 1.0:
        warnings.append(f"begins at {said(data.low_pa)} and will see {said(least.value)} ({least.why})")
    _wide(setup, channel, data, notes, said)
    return RangeCheck(
        tag=tag, channel=channel, measurand="pressure", kind=data.kind, low=data.low_pa, high=data.high_pa,
        least=least, most=most, warnings=tuple(warnings), notes=tuple(notes),
    )  # fmt: skip


def _pressures(
    setup: Setup, channel: str, highest_m: float, coldest_c: float, notes: list[str]
) -> tuple[Seen | None, Seen | None]:
    """Least and greatest pressure of a channel, gauge for oil and fuel, absolute for the manifold, Pa."""
    limit, engine = setup.limit(channel) if channel else None, setup.engine
    boosted = engine.boosted == "yes"
    if channel == "oil_pressure":
        cold = Seen(value=COLD_OIL_PA, why=f"start at {_degrees(setup, coldest_c)}, relief valve overwhelmed")
        if limit is not None and limit.high is not None and limit.high > cold.value:
            cold = Seen(value=limit.high, why="limit of the engine maker")
        return Seen(value=0.0, why="engine stopped"), cold
    if channel == "map":
        if not boosted:
            return Seen(value=LEAST_MAP_PA, why="throttle shut"), Seen(value=MOST_AIR_PA, why="air at sea level")
        top = limit.high if limit is not None and limit.high is not None else None
        if top is None:
            notes.append("boost not checked: no high under [limits.map]")
            return Seen(value=LEAST_MAP_PA, why="throttle shut"), None
        return Seen(value=LEAST_MAP_PA, why="throttle shut"), Seen(value=_OVER * top, why="limit and 10 % of overboost")
    if channel == "fuel_pressure":
        top = engine.fuel_set_pa
        if top is None:
            notes.append("not checked: no fuel_set under [engine]")
            return Seen(value=0.0, why="pump off"), None
        why = "regulated pressure and 10 %"
        manifold = setup.limit("map").high
        if engine.fuel_reference != "open air" and boosted:
            if manifold is None:
                notes.append("boost not counted: no high under [limits.map]")
            else:
                top += max(0.0, manifold - float(standard_pressure_pa(highest_m)))
                place = f"full boost and {_metres(setup, highest_m)}"
                why = f"regulated above the {engine.fuel_reference} at {place}, and 10 %"
        return Seen(value=0.0, why="pump off"), Seen(value=_OVER * top, why=why)
    notes.append("not checked: the role does not say what it watches")
    return None, None


def _wide(
    setup: Setup, channel: str, data: Transducer, notes: list[str], said: Callable[[float], str]
) -> None:
    low = setup.limit(channel).low if channel else None
    if low and data.assumed_body_effect_pa > 0.1 * low:
        notes.append(
            f"a hot body may move it by {said(data.assumed_body_effect_pa)}, with the low limit at {said(low)}: "
            "measure that on the bench, or take a smaller range"
        )


def _thermistor(
    setup: Setup, tag: str, resolved: InstalledChannel | None, highest_m: float, coldest_c: float
) -> RangeCheck:
    channel = _channel(setup, tag, "temperature")
    probe = setup.probe(tag)
    notes: list[str] = []
    warnings: list[str] = []
    most = _hottest(setup, channel, tag, highest_m, notes)
    least = Seen(value=min(coldest_c, probe.range_low), why="cold morning")
    sheet = [t for t, _ in probe.sheet]
    low, high = (min(sheet), max(sheet)) if sheet else (None, None)
    if not sheet:
        notes.append(f"ohms not checked: no sheet under [probes.{tag}]")
    elif most is not None and high is not None and high < most.value:
        warnings.append(
            f"its sheet ends at {_degrees(setup, high)} and it will see {_degrees(setup, most.value)} ({most.why})"
        )
    if low is not None and low > least.value:
        warnings.append(f"its sheet begins at {_degrees(setup, low)} and it will see {_degrees(setup, least.value)}")
    if most is not None and probe.range_high < most.value:
        warnings.append(
            f"its range ends at {_degrees(setup, probe.range_high)}, so does its table, and it will see "
            f"{_degrees(setup, most.value)} ({most.why})"
        )
    if resolved is not None:
        warnings += _coarse(setup, resolved, least.value, most)
    cautions = _boiling(setup, highest_m) if channel == "coolant" else []
    return RangeCheck(
        tag=tag, channel=channel, measurand="temperature", kind="", low=low, high=high, least=least, most=most,
        warnings=tuple(warnings), notes=tuple(notes),
        cautions=tuple(cautions),
    )  # fmt: skip


def _hottest(setup: Setup, channel: str, tag: str, highest_m: float, notes: list[str]) -> Seen | None:
    limit = setup.limit(channel).high if channel else None
    limit = setup.probe(tag).redline_c if limit is None else limit
    boost = setup.limit("map").high
    if channel == "charge_in" and setup.engine.boosted == "yes" and boost is not None:
        hot = max(_compressed_c(boost, altitude) for altitude in (0.0, highest_m))
        if limit is None or hot > limit:
            return Seen(value=hot, why=f"compressor at full boost up to {_metres(setup, highest_m)} on a hot day")
    if limit is not None:
        return Seen(value=limit + _ABOVE_LIMIT_C, why=f"its limit and {_apart(setup, _ABOVE_LIMIT_C, 0)} more")
    notes.append("hot end not checked: no limit in the setup")
    return None


def _compressed_c(boost_pa: float, altitude_m: float) -> float:
    """Air behind the compressor at full boost, 20 degC above the standard day, efficiency 0.65 (estimate)."""
    ratio = min(max(1.0, boost_pa / float(standard_pressure_pa(altitude_m))), 6.0)
    inlet = float(standard_temperature_c(altitude_m)) + _HOT_DAY_C
    return float(compressor_outlet_c(inlet, ratio, _COMPRESSOR))


def _coarse(setup: Setup, channel: InstalledChannel, least_c: float, most: Seen | None) -> list[str]:
    """Where one count of the converter is more than a degree."""
    if channel.chain.converter.bits is None:
        return []
    ends = [max(least_c, channel.chain.sensor.low)]
    ends += [] if most is None else [min(most.value, channel.chain.sensor.high)]
    size = np.abs(sensitivities(channel.chain, np.array(ends))["count_error"])
    return [
        f"one count of {channel.chain.converter.bits} bits is {_apart(setup, float(step))} at {_degrees(setup, end)}: "
        "another pull resistor, or a probe of other ohms, resolves more"
        for end, step in zip(ends, size, strict=True)
        if step > _COARSE_C
    ]


def _boiling(setup: Setup, highest_m: float) -> list[str]:
    limit, cap = setup.limit("coolant").high, setup.engine.cap_pressure_pa
    if limit is None or cap is None:
        return []
    boils = float(coolant_boiling_c(highest_m, cap))
    if boils >= limit:
        return []
    text = (
        f"the coolant's limit is {_degrees(setup, limit)}, and at {_metres(setup, highest_m)} water under this cap "
        f"boils at {_degrees(setup, boils)}: set the alarm below that, whatever the limit at sea level"
    )
    return [text]


def _air_here(setup: Setup) -> float:
    return float(standard_pressure_pa(setup.field.elevation_m or 0.0))


def _round(pa: float, unit: str) -> str:
    value = interval_from_si(pa, unit)
    return f"{value:.0f}" if abs(value) >= 100.0 else f"{value:.3g}"


def _degrees(setup: Setup, temperature_c: float) -> str:
    return _whole(format_quantity(temperature_c, setup.units.temperature, 0))


def _apart(setup: Setup, size_c: float, digits: int = 1) -> str:
    return format_quantity(size_c, setup.units.temperature, digits, difference=True)


def _metres(setup: Setup, altitude_m: float) -> str:
    return format_quantity(altitude_m, setup.units.altitude, 0)


def _whole(text: str) -> str:
    return text.removeprefix("-") if text.startswith("-0 ") else text
