"""Causes as edits of the signal chain that can be undone: what the log would show without each of them.

Every edit has a grid of sizes with equal weights; its likelihood is the mean over the grid, so that a cause with a
free size pays for its freedom. An edit works on the rows of `summary`, all sizes at once.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sensorcal.engine import PRESSURES, TEMPERATURES
from sensorcal.firststart.facts import StartFacts
from sensorcal.firststart.summary import WINDOWS, W

Floats = NDArray[np.float64]
Rows = Mapping[str, Floats]
Undo = Callable[[Rows, Floats], dict[str, Floats]]

_SEALED_PA = 101_325.0
_RUNNING = ("after_start", "s60", "s120", "s180", "s300", "s600", "end_run", "idle_cold", "idle_warm", "boost",
            "near_boost", "run_high", "run_low", "unloaded")  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Edit:
    """One way in which the installation can be wrong.

    Parameters
    ----------
    kind : str
    also : tuple of str
        Other kinds that leave the same trace.
    channels : tuple of str
        The channels it changes.
    sizes : (k, p) float
        Grid of its sizes; p numbers each.
    unit : str
        What the sizes are, in words with a place for each: '{:.0f} ohm in series'.
    undo : callable
        Rows and sizes (k, p) to the changed rows (k, windows) of its channels as they would be without it.
    weight : float
        Prior weight relative to a usual cause.
    """

    kind: str
    also: tuple[str, ...]
    channels: tuple[str, ...]
    sizes: Floats
    unit: str
    undo: Undo
    weight: float = 1.0
    detail: str = ""

    def row_of(self, rows: Rows) -> dict[str, Floats]:
        """Undo every size of the grid."""
        with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
            return self.undo(rows, self.sizes)


def edits(rows: Rows, facts: StartFacts, units: Mapping[str, str] | None = None) -> list[Edit]:
    """List every edit that the channels of the log allow.

    Parameters
    ----------
    rows : mapping of channel to (windows,) float
    facts : StartFacts
    units : mapping of channel to str, optional
        Unit in which each column was read, where the file or the setup states it: only that one can be mistaken.

    Returns
    -------
    list of Edit
    """
    stated = units or {}
    hot = [name for name in TEMPERATURES if name in rows]
    wet = [name for name in PRESSURES if name in rows]
    found: list[Edit] = []
    for name in hot:
        found += _resistance((name,), facts, weight=1.0)
        found += _degrees((name,), 0.6, stated.get(name, ""))
    if len(hot) > 1:
        found += _resistance(tuple(hot), facts, weight=1.5)
        common = {stated.get(name, "") for name in hot}
        found += _degrees(tuple(hot), 0.6, common.pop() if len(common) == 1 else "")
    for name in wet:
        found += _units(name, stated.get(name, ""))
        found += _reference(name, facts)
    if "map" in rows:
        found.append(_leak(facts))
    found += list(_sags(hot, wet, facts)) + list(_grounds(hot, wet, facts)) + list(_orders(hot, wet, facts))
    return found


def _column(sizes: Floats, index: int = 0) -> Floats:
    return sizes[:, index : index + 1]


# --- resistance ------------------------------------------------------------------------------------------------


def _resistance(channels: tuple[str, ...], facts: StartFacts, *, weight: float) -> list[Edit]:
    """Curve, pull-up and series resistance: one equation each in the resistance that the monitor believes."""

    def scale(rows: Rows, sizes: Floats) -> dict[str, Floats]:
        return {
            name: facts.curves[name].temperature_c(
                facts.curves[name].resistance_ohm(rows[name]) * np.exp(_column(sizes))
            )
            for name in channels
        }

    def bend(rows: Rows, sizes: Floats) -> dict[str, Floats]:
        at = 1.0 / 298.15
        return {name: 1.0 / (at + _column(sizes) * (1.0 / (rows[name] + 273.15) - at)) - 273.15 for name in channels}

    def series(rows: Rows, sizes: Floats) -> dict[str, Floats]:
        out = {}
        for name in channels:
            shown = facts.curves[name].resistance_ohm(rows[name])
            out[name] = facts.curves[name].temperature_c(np.maximum(shown - _column(sizes), 0.02 * shown))
        return out

    ratios = np.concatenate((np.linspace(-1.0, -0.08, 24), np.linspace(0.08, 1.0, 24)))[:, None]
    slopes = np.concatenate((np.linspace(0.78, 0.97, 10), np.linspace(1.03, 1.25, 10)))[:, None]
    hottest = min(float(facts.curves[name].resistance_ohm(95.0)) for name in channels)
    ohms = hottest * np.geomspace(0.05, 2.0, 22)[:, None]
    common = len(channels) > 1
    part = 0.2 if common else 0.5
    first, second = ("wrong_pullup", "wrong_curve") if common else ("wrong_curve", "wrong_pullup")
    found = [
        Edit(kind=first, also=(second,), channels=channels, sizes=ratios, undo=scale, weight=weight,
             unit="resistance taken {:+.0%} from what it is", detail="ratio"),
        Edit(kind="wrong_curve", also=(), channels=channels, sizes=slopes, undo=bend, weight=part * weight,
             unit="B {:.3f} times what it should be", detail="slope"),
    ]  # fmt: skip
    if not common:
        found.append(
            Edit(kind="contact_resistance", also=("wrong_curve",), channels=channels, sizes=ohms, undo=series,
                 weight=weight, unit="{:.0f} ohm in series")
        )  # fmt: skip
    return found


# --- units and reference ---------------------------------------------------------------------------------------


def _degrees(channels: tuple[str, ...], weight: float, unit: str) -> list[Edit]:
    """Degrees Fahrenheit read as Celsius, and the other way round."""

    def too_high(rows: Rows, sizes: Floats) -> dict[str, Floats]:
        del sizes
        return {name: ((rows[name] - 32.0) / 1.8)[None, :] for name in channels}

    def too_low(rows: Rows, sizes: Floats) -> dict[str, Floats]:
        del sizes
        return {name: (rows[name] * 1.8 + 32.0)[None, :] for name in channels}

    return [
        Edit(kind="wrong_unit", also=(), channels=channels, sizes=np.zeros((1, 1)), undo=undo, weight=share * weight,
             unit=text, detail=text)
        for undo, text, share, column in (
            (too_high, "degF in a degC column", 1.0, "degC"), (too_low, "degC in a degF column", 0.5, "degF"),
        )
        if unit in {"", column}
    ]  # fmt: skip


_UNITS_PA = {"kPa": 1e3, "psi": 6894.757, "bar": 1e5, "inHg": 3386.389, "hPa": 100.0}


def _units(channel: str, unit: str) -> list[Edit]:
    """Pressure units mixed up: the zero stays, the ratio is constant."""
    found = []
    for number, size in _UNITS_PA.items():
        for column, read_as in _UNITS_PA.items():
            if number == column or (unit in _UNITS_PA and unit != column):
                continue
            # Numbers meant in one unit stand under another: usual ones first; inches and hPa belong to the manifold.
            weight = 0.5 if column == "kPa" else 0.2
            if channel != "map" and {number, column} & {"inHg", "hPa"}:
                weight *= 0.05
            found.append(_factor(channel, f"{number} in a {column} column", read_as / size, weight))
    return found


def _factor(channel: str, text: str, factor: float, weight: float) -> Edit:
    def undo(rows: Rows, sizes: Floats) -> dict[str, Floats]:
        return {channel: rows[channel] / _column(sizes)}

    return Edit(kind="wrong_unit", also=(), channels=(channel,), sizes=np.array([[factor]]), undo=undo,
                weight=weight, unit=text, detail=text)  # fmt: skip


def _reference(channel: str, facts: StartFacts) -> list[Edit]:
    """A sensor of the other kind: gauge for absolute, absolute for gauge, sealed for vented."""
    station = facts.station_pa
    if channel == "map":
        cases = [("a gauge sensor shown as absolute", -station, 1.0)]
        if _SEALED_PA - station > 2_000.0:
            cases.append(("a gauge sensor sealed at sea level", -_SEALED_PA, 0.3))
    else:
        cases = [("an absolute sensor shown as gauge", station, 1.0)]
        if _SEALED_PA - station > 2_500.0:
            cases.append(("a gauge sensor sealed at sea level", station - _SEALED_PA, 1.0))
    return [_shifted(channel, text, shift, weight) for text, shift, weight in cases]


def _shifted(channel: str, text: str, shift_pa: float, weight: float) -> Edit:
    def undo(rows: Rows, sizes: Floats) -> dict[str, Floats]:
        return {channel: rows[channel] - _column(sizes)}

    return Edit(kind="wrong_reference_type", also=(), channels=(channel,), sizes=np.array([[shift_pa]]), undo=undo,
                weight=weight, unit=text, detail=text)  # fmt: skip


def _leak(facts: StartFacts) -> Edit:
    def undo(rows: Rows, sizes: Floats) -> dict[str, Floats]:
        f = _column(sizes)
        still = (rows["map"][..., W["rest"]], rows["map"][..., W["again"]], np.asarray(facts.station_pa))
        # The leak lets in the air as this very sensor reads it.
        air = next(float(value) for value in still if np.isfinite(value))
        return {"map": (rows["map"] - f * air) / (1.0 - f)}

    return Edit(kind="map_hose_leak", also=(), channels=("map",), sizes=np.geomspace(0.08, 0.75, 12)[:, None],
                undo=undo, weight=2.0, unit="{:.0%} of the way to the air outside")  # fmt: skip


# --- supply and ground -----------------------------------------------------------------------------------------


def _sags(hot: list[str], wet: list[str], facts: StartFacts) -> Iterable[Edit]:
    """The sensors' 5 V below what the monitor's converter compares with: always, or while running."""
    if not wet and not hot:
        return
    shares = np.linspace(0.006, 0.16, 32)[:, None]
    for always in (True, False):
        active = np.ones(len(WINDOWS)) if always else _mask((*_RUNNING, "loaded"))
        choices = [(tuple(wet), 1.0), ((*hot, *wet), 0.7), (tuple(hot), 0.3)]
        for channels, weight in choices:
            if channels:
                yield _sag(channels, facts, shares, active, weight * (1.0 if always else 0.4), always=always)


def _sag(
    channels: tuple[str, ...], facts: StartFacts, shares: Floats, active: Floats, weight: float, *, always: bool
) -> Edit:
    def undo(rows: Rows, sizes: Floats) -> dict[str, Floats]:
        keep = 1.0 - _column(sizes) * active
        out = {}
        for name in channels:
            if name in TEMPERATURES:
                curve = facts.curves[name]
                out[name] = curve.temperature_of_fraction_c(curve.fraction(rows[name]) / keep)
            else:
                low, high = facts.ranges_pa[name]
                below = low - (high - low) / 8.0  # 0.5 V of 5 V stands for the lower end: zero volts lie there
                out[name] = below + (rows[name] - below) / keep
        return out

    return Edit(kind="ref_sag", also=(), channels=channels, sizes=shares, undo=undo, weight=weight,
                unit="sensor supply {:.1%} below its reference" + ("" if always else " while running"))  # fmt: skip


def _grounds(hot: list[str], wet: list[str], facts: StartFacts) -> Iterable[Edit]:
    """Ground of one sensor, of a kind or of all lifted by a current: one lift running, one cranking."""
    run = np.concatenate((np.geomspace(0.012, 0.25, 9), -np.geomspace(0.012, 0.25, 9)))
    pairs = [(lift, lift * factor) for lift in run for factor in (0.0, -2.5, -6.0, 1.0) if abs(lift * factor) < 1.4]
    pairs += [(0.0, lift) for lift in np.geomspace(0.02, 1.2, 10)] + [(0.0, -lift) for lift in (0.05, 0.15)]
    sizes = np.array(pairs)
    sets: list[tuple[tuple[str, ...], float]] = [((*hot, *wet), 1.5), (tuple(hot), 1.0), (tuple(wet), 0.4)]
    sets += [((name,), 0.25) for name in (*hot, *wet)]
    seen = set()
    for channels, weight in sets:
        if channels and channels not in seen:
            seen.add(channels)
            yield _ground(channels, facts, sizes, weight)


def _ground(channels: tuple[str, ...], facts: StartFacts, sizes: Floats, weight: float) -> Edit:
    running, cranking = _mask((*_RUNNING, "loaded")), _mask(("crank", "crank_low"))
    extra = _mask(("loaded",))

    def undo(rows: Rows, sizes: Floats) -> dict[str, Floats]:
        # A load that comes on takes part of the charging current away: about a third of it, estimate.
        lift = _column(sizes) * (running - 0.33 * extra) + _column(sizes, 1) * cranking
        out = {}
        for name in channels:
            if name in TEMPERATURES:
                curve = facts.curves[name]
                share = (curve.fraction(rows[name]) - lift / 5.0) / (1.0 - lift / 5.0)
                out[name] = curve.temperature_of_fraction_c(share)
            else:
                low, high = facts.ranges_pa[name]
                # V = d + r (5 - d): the lift shows most at the lower end of the range.
                shown = 0.1 + 0.8 * (rows[name] - low) / (high - low)
                true = (shown - lift / 5.0) / (1.0 - lift / 5.0)
                out[name] = low + (true - 0.1) / 0.8 * (high - low)
        return out

    return Edit(kind="ground_offset", also=(), channels=channels, sizes=sizes, undo=undo, weight=weight,
                unit="ground lifted {:+.3f} V while running, {:+.3f} V while cranking")  # fmt: skip


def _mask(names: Iterable[str]) -> Floats:
    out = np.zeros(len(WINDOWS))
    for name in names:
        out[W[name]] = 1.0
    return out


# --- order of the wires ----------------------------------------------------------------------------------------


def _orders(hot: list[str], wet: list[str], facts: StartFacts) -> Iterable[Edit]:
    """Two plugs exchanged, or a row of channels slipped by one."""
    if "charge_in" in hot and "charge_out" in hot:
        yield _order("swapped_charge", {"charge_in": "charge_out", "charge_out": "charge_in"}, facts, 3.0)
    if "oil_pressure" in wet and "fuel_pressure" in wet:
        yield _order("swapped_oil_fuel", {"oil_pressure": "fuel_pressure", "fuel_pressure": "oil_pressure"}, facts, 1.5)
    for names in (hot, wet):
        if len(names) >= 3:
            for shift in (1, -1):
                moved = {name: names[(index + shift) % len(names)] for index, name in enumerate(names)}
                yield _order("channel_slip", moved, facts, 0.7)
    for first, second in (("coolant", "gearbox_oil"), ("gearbox_oil", "charge_in"), ("coolant", "charge_in"),
                          ("coolant", "charge_out"), ("gearbox_oil", "charge_out"), ("fuel_pressure", "map"),
                          ("oil_pressure", "map")):  # fmt: skip
        if (first in hot and second in hot) or (first in wet and second in wet):
            yield _order("channel_slip", {first: second, second: first}, facts, 0.4)
    if len(hot) == 4:
        for left in ((0, 1, 2), (1, 2, 3)):
            names = [hot[index] for index in left]
            for shift in (1, 2):
                yield _order("channel_slip", {n: names[(i + shift) % 3] for i, n in enumerate(names)}, facts, 0.4)


def _order(kind: str, sensor_on: Mapping[str, str], facts: StartFacts, weight: float) -> Edit:
    """Channel by channel, the sensor that is truly plugged into it."""

    def undo(rows: Rows, sizes: Floats) -> dict[str, Floats]:
        del sizes
        out = {}
        for channel, sensor in sensor_on.items():
            x = rows[channel]
            if sensor in PRESSURES:
                low, high = facts.ranges_pa[channel]
                own_low, own_high = facts.ranges_pa[sensor]
                x = own_low + (x - low) / (high - low) * (own_high - own_low)
            out[sensor] = x[None, :]
        return out

    text = ", ".join(f"{sensor} on {channel}" for channel, sensor in sensor_on.items())
    return Edit(kind=kind, also=(), channels=tuple(sensor_on), sizes=np.zeros((1, 1)), undo=undo, weight=weight,
                unit=text.replace("_", " "), detail=text)  # fmt: skip
