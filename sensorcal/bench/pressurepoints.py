"""Pressure readings become points on the ratio: supply, counts, open line, direction, cycle, body temperature."""

from __future__ import annotations

import itertools
import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import PurePath

from sensorcal.bench.dialect import number_in
from sensorcal.bench.point import Correction, Point, UPart
from sensorcal.bench.pressurehead import LiquidHead, head_of
from sensorcal.bench.run import Reading, Run
from sensorcal.bench.settle import settled_points
from sensorcal.bench.watertube import WaterTube, rows_of_water, water_tube_of
from sensorcal.errors import InputError
from sensorcal.physics.transducer import ratio_of, sound_ratio
from sensorcal.setup import Probe, Reference, Setup
from sensorcal.transducer import Transducer
from sensorcal.units import parse_header, parse_quantity

_OPEN = re.compile(r"^\s*(open|line open|vented|zero|at rest)\b", re.IGNORECASE)
_LEAK = re.compile(r"^\s*(leak|decay|shut)", re.IGNORECASE)
_BODY = frozenset({"body", "body temperature", "transducer temperature", "sensor temperature", "water"})
_CYCLE = frozenset({"cycle", "series", "round"})
_SQRT12 = math.sqrt(12.0)
_SAME_SHARE = 0.005  # pressures within half a per cent of the span are one nominal pressure: common practice


@dataclass(frozen=True, slots=True, kw_only=True)
class PressurePoint:
    """One settled point of a transducer.

    Parameters
    ----------
    point : Point
        Reference in Pa against the ratio, with corrections, shares and notes.
    direction : str
        'up', 'down', or '' where it cannot be said.
    cycle : int
        Counted from 1; a cycle begins with rising pressure.
    open_line : bool
        True where the line was open, so that the pressure is the air's and no gauge is needed.
    body_c : float or None
        Temperature of the transducer's body, where it was written down.
    supply_v : float or None
        Supply at the plug, measured or stated; None where counts or ratios were read.
    """

    point: Point
    direction: str
    cycle: int
    open_line: bool
    body_c: float | None
    supply_v: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class LeakRow:
    """One reading of the shut line: time, what the gauge or else the sensor showed, and which gauge.

    `pressure_pa` is the gauge's; None where only the sensor was read, as `ratio`.
    """

    file_row: int
    time_s: float | None
    pressure_pa: float | None
    ratio: float | None
    reference_id: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PressureReadings:
    """All points of one transducer of a run, and what was understood without being told.

    Parameters
    ----------
    points : tuple of PressurePoint
        In the order of the file.
    supply_measured : bool
        True where every reading of volts had its own supply.
    gauge_id : str
        The gauge, or '' where the line was only open.
    notes : tuple of str
    leak : tuple of LeakRow
        Rows labelled 'leak', 'decay' or 'shut': no points of the curve, but how fast the shut line empties.
    head : LiquidHead or None
        Column of liquid between gauge and sensor, added to every reading of the gauge.
    """

    points: tuple[PressurePoint, ...]
    supply_measured: bool
    gauge_id: str
    notes: tuple[str, ...]
    leak: tuple[LeakRow, ...] = ()
    head: LiquidHead | None = None


def pressure_points(run: Run, setup: Setup, probe: str) -> PressureReadings:
    """Gather a transducer's readings into points on the ratio V_out / V_supply.

    Volts are divided by the supply of their own row, or by the one stated in the setup; counts by their full count.
    A row labelled 'open' without a gauge reading stands for zero gauge pressure, its line open at the sensor. Rows
    labelled 'leak' are those of the shut line. Cycles are those of a 'cycle' column, or begin where pressure rises
    again; directions not written down follow from the pressures. A head of liquid stated at the head of the run file or
    in the setup is added to the gauge.

    Parameters
    ----------
    run : Run
        A session with references of pressure.
    setup : Setup
        Transducer, gauge and probe.
    probe : str
        Tag of the transducer.

    Returns
    -------
    PressureReadings

    Raises
    ------
    InputError
        Naming row and field: no supply, a supply of zero, an output beyond its supply, no gauge, or a gauge without
        limits.

    Examples
    --------
    >>> from sensorcal.setup import Reference
    >>> gauge = Reference(identifier="G1", kind="gauge", limits=5000.0)
    >>> row = Reading(file_row=2, reference=400e3, signals={"O1": 2.0706}, supply_v=4.93)
    >>> run = Run(readings=(row,), measurand="pressure", signal_kinds={"O1": "voltage"})
    >>> found = pressure_points(run, Setup(references={"G1": gauge}), "O1")
    >>> round(found.points[0].point.signal, 4)
    0.42
    """
    if run.measurand != "pressure":
        raise InputError(f"{probe} stands in a run of {run.measurand}", do="head the reference 'gauge [kPa]'")
    run.of_probe(probe)
    if len({reading.file_row for reading in run.readings}) < len(run.readings):  # made in memory, without rows
        numbered = tuple(replace(reading, file_row=n) for n, reading in enumerate(run.readings, start=1))
        run = replace(run, readings=numbered)
    sheet = setup.transducer(probe)
    kind = run.signal_kinds[probe]
    notes: list[str] = []
    everything = [_on_ratio(reading, run, sheet, kind, probe) for reading in run.readings]
    readings, leak = _without_leak(everything, probe)
    head = head_of(run, sheet)
    open_rows = {r.file_row for r in readings if probe in r.signals and _OPEN.match(r.point)}
    shown = [r.reference for r in readings if r.file_row in open_rows and r.reference]
    if shown:
        worst = max(shown, key=abs)
        notes.append(
            f"with the line open the gauge shows {worst / 1000:+.2f} kPa: check = {{at = '0 kPa', reads = …}} under "
            "its name in the setup takes that off every reading"
        )
    known = setup.probes.get(probe, Probe(name=probe))
    plain = replace(known, measurand="pressure", signal="ratio", model="line", prior="off", u_repeat=0.0)
    ready = replace(setup, probes={**setup.probes, probe: plain})
    ready, readings = _with_open_reference(ready, readings, open_rows)
    zeroed = [
        replace(r, reference=0.0, reference_id=_OPEN_ID) if r.file_row in open_rows and r.reference is None
        else replace(r, reference_id=_OPEN_ID) if r.file_row in open_rows
        else r
        for r in readings
    ]  # fmt: skip
    on_ratio = replace(run, readings=tuple(zeroed), signal_kinds={**run.signal_kinds, probe: "ratio"})
    rows = {reading.file_row: reading for reading in run.readings}
    points = [
        _with_meter(point, [rows[i] for i in point.file_rows], sheet, kind, run)
        for point in settled_points(on_ratio, ready, probe)
    ]
    is_open = [point.reference_id == _OPEN_ID for point in points]
    session = PurePath(run.file).stem or "run"
    tube = water_tube_of(run)
    wet = rows_of_water(run, tube)
    if tube is not None:
        notes.append(tube.sentence)
        points = [_in_water(point, tube, session) if wet.issuperset(point.file_rows) else point for point in points]
    points = [
        _opened(point) if o else _with_head(point, head, session) for point, o in zip(points, is_open, strict=True)
    ]
    directions, told = _directions(points)
    notes += told
    cycles = _cycles(points, directions, rows)
    gauges = {point.reference_id for point, o in zip(points, is_open, strict=True) if not o}
    return PressureReadings(
        points=tuple(
            PressurePoint(
                point=replace(point, direction=direction),
                direction=direction,
                cycle=cycle,
                open_line=opened,
                body_c=_body(run, [rows[i] for i in point.file_rows]),
                supply_v=point.supply_v or (sheet.supply_v if kind == "voltage" and not sheet.counts_full else None),
            )
            for point, direction, cycle, opened in zip(points, directions, cycles, is_open, strict=True)
        ),
        supply_measured=kind == "voltage"
        and all(rows[i].supply_v is not None for point in points for i in point.file_rows),
        gauge_id=gauges.pop() if len(gauges) == 1 else "",
        notes=tuple(notes),
        leak=leak,
        head=head,
    )


_OPEN_ID = "open line"


def _on_ratio(reading: Reading, run: Run, sheet: Transducer, kind: str, probe: str) -> Reading:
    """Turn one row's signal into a ratio."""
    if probe not in reading.signals:
        return reading
    try:
        ratio = _ratio(reading.signals[probe], reading.supply_v, sheet, kind, probe)
    except InputError as error:
        supply = reading.supply_v is not None and not reading.supply_v > 0.0
        column = next((one.heading for one in run.columns if one.holds == "supply"), "supply") if supply else probe
        do = error.do if supply else _decimal_point(reading, sheet, kind, probe) or error.do
        raise InputError(error.what, do=do, file=run.file, row=reading.file_row or None, column=column) from None
    return replace(reading, signals={**reading.signals, probe: ratio})


def _decimal_point(reading: Reading, sheet: Transducer, kind: str, probe: str) -> str:
    """Suggest the output that a slipped decimal point, or millivolts, would explain; '' where none does."""
    supply = reading.supply_v or sheet.supply_v
    if kind != "voltage" or not supply:
        return ""
    low, high = sheet.output_low_ratio - 0.05, sheet.output_high_ratio + 0.05
    for factor, why in ((0.1, "the decimal point slipped"), (0.01, "the decimal point slipped"), (0.001, "millivolts")):
        likely = reading.signals[probe] * factor
        if low <= likely / supply <= high:
            return f"perhaps {likely:.6g} V: {why}? check volts, supply and the unit"
    return ""


def _ratio(read: float, supply_v: float | None, sheet: Transducer, kind: str, probe: str) -> float:
    """Give the ratio of one reading in volts, counts or ratio."""
    if kind == "ratio":
        if sheet.counts_full:
            return float(sound_ratio(read / sheet.counts_full, name="count over full count"))
        return float(sound_ratio(read))
    if kind != "voltage":
        raise InputError(f"{probe} was read in ohms", do=f"head its column '{probe} [V]'")
    supply = supply_v if supply_v is not None else sheet.supply_v
    if supply is None:
        raise InputError(
            f"{probe} has an output in volts but no supply",
            do=f"add a supply column, or supply = '5.00 V' under [transducers.{probe}] with its stability",
        )
    return float(ratio_of(read, supply))


def _without_leak(readings: Sequence[Reading], probe: str) -> tuple[list[Reading], tuple[LeakRow, ...]]:
    """Take the rows of the shut line out; a row without a label goes on with the one above."""
    kept: list[Reading] = []
    leak: list[LeakRow] = []
    shut = False
    for reading in readings:
        shut = bool(_LEAK.match(reading.point)) if reading.point else shut
        if not shut:
            kept.append(reading)
        elif reading.reference is not None or probe in reading.signals:
            leak.append(
                LeakRow(
                    file_row=reading.file_row,
                    time_s=reading.time_s,
                    pressure_pa=reading.reference,
                    ratio=reading.signals.get(probe),
                    reference_id=reading.reference_id,
                )
            )
    return kept, tuple(leak)


def _in_water(point: Point, tube: WaterTube, session: str) -> Point:
    """Bring a height of conventional water to the water in the tube."""
    change = (tube.factor - 1.0) * point.value
    part = UPart(key=f"water:{session}", u=tube.u_factor_ratio * point.value, what="density of the water in the tube")
    return replace(
        point,
        value=point.value + change,
        corrections=(*point.corrections, Correction(name="water in the tube against conventional water", size=change)),
        parts=(*point.parts, part),
    )


def _with_head(point: Point, head: LiquidHead | None, session: str) -> Point:
    """Add the column of liquid between gauge and sensor."""
    if head is None:
        return point
    part = UPart(key=f"head:{session}", u=head.u_pressure_pa, what="liquid between gauge and sensor")
    return replace(
        point,
        value=point.value + head.pressure_pa,
        corrections=(*point.corrections, Correction(name="liquid between gauge and sensor", size=head.pressure_pa)),
        parts=(*point.parts, part),
    )


def _with_open_reference(setup: Setup, readings: Sequence[Reading], open_rows: set[int]) -> tuple[Setup, list[Reading]]:
    """Let an open line stand among the references: it knows zero gauge pressure."""
    if not open_rows:
        return setup, list(readings)
    gauges = [r.identifier for r in setup.references.values() if r.measurand == "pressure"]
    only = gauges[0] if len(gauges) == 1 else ""
    named, last = [], ""
    for reading in readings:
        last = reading.point or last
        row = reading
        if row.file_row not in open_rows and row.reference is not None:
            # A blank label goes on with the label above, but not with an open line once a gauge is read, nor where
            # nothing has been labelled yet.
            label = row.point or (f"row {row.file_row}" if not last or _OPEN.match(last) else "")
            row = replace(row, reference_id=row.reference_id or only, point=label)
        named.append(row)
    opened = Reference(identifier=_OPEN_ID, kind="gauge", u=0.0)
    return replace(setup, references={**setup.references, _OPEN_ID: opened}), named


def _opened(point: Point) -> Point:
    """An open line is at zero gauge pressure, whatever the gauge showed."""
    return replace(point, value=0.0, parts=tuple(part for part in point.parts if part.axis == "signal"))


def _with_meter(point: Point, readings: Sequence[Reading], sheet: Transducer, kind: str, run: Run) -> Point:
    """Add the shares of voltmeter and supply, on the ratio."""
    ratio = point.signal
    parts = [part for part in point.parts if part.what != "repeat"]
    if kind != "voltage":
        if sheet.counts_full:
            parts.append(UPart(key="", u=1.0 / sheet.counts_full / _SQRT12, what="last count", axis="signal"))
        return replace(point, parts=tuple(parts))
    measured = all(reading.supply_v is not None for reading in readings)
    supply = point.supply_v if measured and point.supply_v else sheet.supply_v
    assert supply is not None
    digits = sheet.meter_step_v / _SQRT12 / supply * (math.hypot(1.0, ratio) if measured else 1.0)
    parts.append(UPart(key="", u=digits, what="last digit of the voltmeter", axis="signal"))
    parts.append(
        UPart(
            key="voltmeter:ratio", u=ratio * sheet.u_meter_ratio, what="voltmeter, what its ratio leaves", axis="signal"
        )
    )
    if not measured:
        key = f"supply:{PurePath(run.file).stem or 'run'}"
        parts.append(UPart(key=key, u=ratio * sheet.supply_u_ratio, what="supply, read once", axis="signal"))
    return replace(point, parts=tuple(parts))


def _directions(points: Sequence[Point]) -> tuple[list[str], list[str]]:
    """Take the directions as written, and infer those that are not."""
    found = [point.direction for point in points]
    if all(found) or not points:
        return found, []
    for i, point in enumerate(points):
        if found[i]:
            continue
        before = point.value - points[i - 1].value if i else 0.0
        after = points[i + 1].value - point.value if i + 1 < len(points) else 0.0
        step = before or after
        found[i] = "up" if step > 0.0 else "down" if step < 0.0 else ""
    missing = sum(1 for point in points if not point.direction)
    return found, [f"direction of {missing} points not written down: taken from the order of the pressures"]


def _cycles(points: Sequence[Point], directions: Sequence[str], rows: dict[int, Reading]) -> list[int]:
    """Number the cycles: as written, or a new one where pressure rises again."""
    written = [_written_cycle(rows[point.file_rows[0]]) for point in points]
    if points and all(written):
        return [int(number or 0) for number in written]
    cycles, now = [], 1
    for before, direction in itertools.zip_longest(["", *directions[:-1]], directions):
        if before == "down" and direction == "up":
            now += 1
        cycles.append(now)
    return cycles[: len(points)]


def _written_cycle(reading: Reading) -> int | None:
    """Number in the cycle column of a row; None where there is none."""
    for heading, cell in reading.other.items():
        if heading.strip().casefold() in _CYCLE and cell.strip():
            if not cell.strip().isdigit():
                raise InputError(
                    f"{cell!r} is no number of a cycle", do="count the cycles 1, 2, 3", row=reading.file_row,
                    column=heading,
                )  # fmt: skip
            return int(cell)
    return None


def _body(run: Run, readings: Sequence[Reading]) -> float | None:
    """Mean body temperature in degC over the rows of a point; None where it was not written down."""
    found: list[float] = []
    for reading in readings:
        for heading, cell in reading.other.items():
            try:
                name, unit = parse_header(heading)
            except InputError:
                continue
            if " ".join(name.lower().replace("_", " ").split()) not in _BODY or not cell.strip():
                continue
            try:
                value, own = number_in(cell, run.dialect.decimal)
                found.append(parse_quantity(value, own or unit or "degC", "temperature"))
            except InputError as error:
                raise InputError(error.what, do=error.do, file=run.file, row=reading.file_row, column=heading) from None
    return sum(found) / len(found) if found else None


def nominal_groups(pressure_pa: Sequence[float]) -> list[list[int]]:
    """Gather points whose pressures are within half a per cent of the span: one nominal pressure.

    Returns
    -------
    list of list of int
        Indices of each group, in rising order of pressure.

    Examples
    --------
    >>> nominal_groups([0.0, 200e3, 201e3, 1e6])
    [[0], [1, 2], [3]]
    """
    order = sorted(range(len(pressure_pa)), key=lambda i: pressure_pa[i])
    if not order:
        return []
    near = _SAME_SHARE * (pressure_pa[order[-1]] - pressure_pa[order[0]])
    groups = [[order[0]]]
    for i in order[1:]:
        if pressure_pa[i] - pressure_pa[groups[-1][0]] <= near:
            groups[-1].append(i)
        else:
            groups.append([i])
    return groups
