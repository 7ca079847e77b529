"""Readings become settled points: rows gathered by stop, reference carried to each reading's clock, lag corrected."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import PurePath

from sensorcal.bench.fixed import fixed_point
from sensorcal.bench.meter import meter_correction
from sensorcal.bench.point import Correction, Point, UPart
from sensorcal.bench.reference import corrected_reference
from sensorcal.bench.run import Reading, Run
from sensorcal.bench.shares import bath_parts, heating, meter_parts, stem_part
from sensorcal.bench.stops import Stop, stops
from sensorcal.errors import InputError
from sensorcal.setup import Probe, Reference, Setup

_LONGEST_GAP_S = 600.0  # a bath may turn within ten minutes: common practice, no source
_TYPICAL_BETA_K = 3500.0  # only to take the bath's drift out of the scatter; the fit has its own slope
_STILL_MOVING_RATIO = 0.002  # 0.2 % of R is about 0.05 degC at ice
_FAST_C_PER_S = 1.0 / 60.0


@dataclass(frozen=True, slots=True, kw_only=True)
class _Paired:
    """One reading of the probe with the reference at its moment."""

    row: int
    time_s: float | None
    reference: float
    signal: float
    reading: Reading


def settled_points(run: Run, setup: Setup, probe: str) -> tuple[Point, ...]:
    """Gather one probe's readings into settled points.

    Rows of one stop (same label, one after the other) are averaged. A row without a reference takes the
    reference interpolated in time between the readings on both sides of it. Without labels, rows of one fixed
    point that follow each other make a point, and each other row makes one of its own. A stop in which the probe
    was not read gives no point.

    Parameters
    ----------
    run : Run
        The session.
    setup : Setup
        Meter, references, bath, field and probes.
    probe : str
        Tag of the probe.

    Returns
    -------
    tuple of Point
        In the order of the file, each with corrections, shares of its uncertainty, and notes.

    Raises
    ------
    InputError
        Naming the rows, when a reading has no reference on both sides of it or it is not clear which reference
        was used; a typed 100 degC is not stopped here but by `sensorcal.bench.fixed.require_answers`.

    References
    ----------
    A-B-A interpolation and lag = rate × time constant: common practice, no source.

    Examples
    --------
    >>> rows = [Reading(point="50", time_s=0.0, reference=61.8), Reading(point="50", time_s=90.0, reference=60.9),
    ...         Reading(point="50", time_s=45.0, signals={"P1": 515.0})]
    >>> point, = settled_points(Run(readings=tuple(rows)), Setup(), "P1")
    >>> round(point.value, 2)
    61.35
    """
    run.of_probe(probe)  # refuses a probe that is not in the run
    entry = setup.probe(probe)
    found = []
    for stop in stops(run, probe):
        try:
            found.append(_point(stop, run, setup, entry))
        except InputError as error:
            rows = ", ".join(str(reading.file_row) for reading in stop.readings if probe in reading.signals)
            what = f"{probe} at {stop.label or 'row ' + rows}: {error.what}"
            raise InputError(what, do=error.do, file=run.file) from None
    return tuple(found)


def _point(stop: Stop, run: Run, setup: Setup, probe: Probe) -> Point:
    """Settle one stop."""
    kind = run.signal_kinds[probe.name]
    paired = _paired(stop, probe.name, setup)
    fixed = stop.fixed
    rate = None if fixed else _rate(stop.references)
    shown = sum(p.reference for p in paired) / len(paired)
    parts: list[UPart] = []
    corrections: list[Correction] = []
    notes = list(stop.notes)
    value = shown
    reference: Reference | None = None
    if fixed:
        parts += fixed_point(fixed, setup).shared
    else:
        reference = _which(stop, run, setup)
        corrected = corrected_reference(shown, reference, setup)
        if corrected.correction:
            corrections.append(Correction(name=f"correction of {reference.identifier}", size=corrected.correction))
        value = corrected.value
        parts += corrected.parts
        notes += corrected.notes
        if reference.step:
            parts.append(UPart(key="", u=reference.step / math.sqrt(12.0), what="last digit of the reference"))
        size, lag_parts, lag_notes = _lag(rate, probe, reference)
        if size:
            corrections.append(Correction(name="lag of the probe behind the reference", size=size))
        value += size
        parts += lag_parts
        notes += lag_notes
        if rate is not None and run.measurand == "temperature" and abs(rate) > _FAST_C_PER_S:
            notes.append(f"the bath moved {rate * 60:+.1f} °C a minute: insulate it, or wait")
    immersion = _mean([p.reading.immersion_m for p in paired], probe.immersion_m)
    current = _mean([p.reading.current_a for p in paired], setup.meter.test_current_a)
    if run.measurand == "temperature":
        parts += bath_parts(fixed, stop.key, setup, probe)
        stem, stem_notes = stem_part(value, immersion, setup)
        parts.append(stem)
        notes += stem_notes
    else:
        parts.append(UPart(key="", u=probe.repeatability, what="repeat"))
    signal_read, scatter, trend = _averaged(paired, kind)
    signal = signal_read
    if kind == "resistance":
        meter = meter_correction(setup.meter)
        signal = meter.corrected_ohm(signal_read)
        if signal != signal_read:
            corrections.append(
                Correction(name="leads and scale of the meter", size=signal - signal_read, axis="signal")
            )
        parts += meter_parts(meter, signal_read, paired[0].reading.range_ohm, setup)
        warmer, part = heating(signal, current, probe, measured=current is not None)
        if warmer:
            corrections.append(Correction(name="self-heating by the meter's current", size=warmer))
        value += warmer
        parts.append(part)
    parts += _scatter_part(scatter, len(paired), parts, kind, value, signal, probe)
    if fixed and abs(trend) > _STILL_MOVING_RATIO and len(paired) > 2:
        notes.append(f"the signal moved {100 * trend:+.1f} % over the readings: wait until it stands")
    return Point(
        label=stop.key,
        probe=probe.name,
        file_rows=tuple(p.row for p in paired),
        value=value,
        signal=signal,
        signal_read=signal_read,
        measurand=run.measurand,
        signal_kind=kind,
        reference_id=fixed or (reference.identifier if reference else ""),
        n=len(paired),
        scatter=scatter,
        time_s=_mean([p.time_s for p in paired], None),
        rate_per_s=rate,
        current_a=current,
        immersion_m=immersion,
        supply_v=_mean([p.reading.supply_v for p in paired], None),
        direction=stop.direction,
        corrections=tuple(corrections),
        parts=tuple(_in_session(part, run) for part in parts),
        notes=tuple(dict.fromkeys(notes)),
    )


def _in_session(part: UPart, run: Run) -> UPart:
    """Name the session in the key of an error that belongs to one flask, pot or day, so that two evenings differ."""
    session = PurePath(run.file).stem
    if not session or part.key.split(":", maxsplit=1)[0] not in {"gradient", "vapour", "ice", "steam"}:
        return part
    return replace(part, key=f"{part.key}@{session}")


def _paired(stop: Stop, probe: str, setup: Setup) -> list[_Paired]:
    """Give each reading of the probe the reference at its moment."""
    fixed_c = fixed_point(stop.fixed, setup).temperature_c if stop.fixed else math.nan
    found = []
    for reading in stop.readings:
        if probe not in reading.signals:
            continue
        if stop.fixed:
            reference = fixed_c
        elif reading.reference is not None:
            reference = reading.reference
        else:
            reference = _carried(reading, stop.references)
        found.append(
            _Paired(
                row=reading.file_row,
                time_s=reading.time_s,
                reference=reference,
                signal=reading.signals[probe],
                reading=reading,
            )
        )
    return found


def _carried(reading: Reading, references: Sequence[Reading]) -> float:
    """Interpolate the reference in time to one reading; never beyond the readings on both sides."""
    known = [(r.time_s, r.reference) for r in references if r.reference is not None]
    if not known:
        raise InputError("no reference was read", do="read it before and after the probes, or write 'ice' or 'steam'")
    if reading.time_s is None or any(time is None for time, _ in known):
        if reading.time_s is None and all(time is None for time, _ in known):
            return sum(value for _, value in known) / len(known)
        raise InputError(
            f"row {reading.file_row} or its reference has no time", do="write the clock time in every row of the stop"
        )
    timed = sorted((time, value) for time, value in known if time is not None)
    before = [pair for pair in timed if pair[0] <= reading.time_s]
    after = [pair for pair in timed if pair[0] >= reading.time_s]
    if not before or not after:
        side = "before" if not before else "after"
        raise InputError(
            f"row {reading.file_row} has no reference {side} it",
            do="read reference, probes, reference, or write the reference in that row",
        )
    (t0, v0), (t1, v1) = before[-1], after[0]
    if t1 - t0 > _LONGEST_GAP_S:
        raise InputError(
            f"the references on both sides of row {reading.file_row} are {(t1 - t0) / 60:.0f} minutes apart",
            do="read the reference within ten minutes, or write it in that row",
        )
    return v0 if t1 == t0 else v0 + (v1 - v0) * (reading.time_s - t0) / (t1 - t0)


def _rate(references: Sequence[Reading]) -> float | None:
    """Slope of the reference over the stop, by least squares; None where it was not read at two times."""
    timed = [(r.time_s, r.reference) for r in references if r.time_s is not None and r.reference is not None]
    if len({time for time, _ in timed}) < 2:
        return None
    mean_t = sum(time for time, _ in timed) / len(timed)
    mean_v = sum(value for _, value in timed) / len(timed)
    spread = sum((time - mean_t) ** 2 for time, _ in timed)
    return sum((time - mean_t) * (value - mean_v) for time, value in timed) / spread


def _lag(rate: float | None, probe: Probe, reference: Reference) -> tuple[float, list[UPart], list[str]]:
    """Correct the lag of the probe behind the reference where both time constants are known.

    A probe slower than the reference is still at the temperature of a moment ago: warmer in a falling bath.
    """
    if rate is None or probe.time_constant_s is None:
        return 0.0, [], []
    key = f"lag:{probe.name}"
    if reference.time_constant_s is None:
        size = -rate * probe.time_constant_s
        note = f"lag of up to {size:+.2f} °C not corrected: the time constant of {reference.identifier} is not stated"
        part = UPart(key=key, u=size / math.sqrt(3.0), what="lag of the probe, not corrected")
        return 0.0, [part], [note] if abs(size) >= 0.05 else []
    size = -rate * (probe.time_constant_s - reference.time_constant_s)
    # Time constants timed by hand are good to about half (common practice, no source).
    return size, [UPart(key=key, u=size / 2.0, what="lag of the probe, half of its correction")], []


def _which(stop: Stop, run: Run, setup: Setup) -> Reference:
    """Say which thermometer or gauge was used at a stop."""
    names = sorted({r.reference_id for r in stop.references if r.reference_id})
    fitting = [r for r in setup.references.values() if r.measurand == run.measurand]
    if len(names) > 1:
        raise InputError(f"two references at one stop ({' and '.join(names)})", do="give each a stop of its own")
    if names:
        if setup.references and names[0] not in setup.references:
            known = ", ".join(setup.references)
            raise InputError(f"reference {names[0]} is not in the setup", do=f"describe it there, or use {known}")
        chosen = setup.reference(names[0])
    elif len(fitting) == 1:
        chosen = fitting[0]
    elif fitting:
        tags = ", ".join(r.identifier for r in fitting)
        raise InputError(f"which of {tags} was used is not said", do="name it in a reference_id column")
    elif run.measurand == "temperature":
        chosen = Reference(identifier="T1")
    else:
        raise InputError("no gauge is described in the setup", do="add one under [references.G1] with its limits")
    if chosen.measurand != run.measurand:
        raise InputError(f"{chosen.identifier} is a {chosen.kind}", do=f"name a reference of {run.measurand}")
    return chosen


def _averaged(paired: Sequence[_Paired], kind: str) -> tuple[float, float, float]:
    """Mean signal, scatter about the bath's drift, and relative change from first to last reading."""
    n = len(paired)
    signals = [p.signal for p in paired]
    if kind != "resistance":
        mean = sum(signals) / n
        scatter = math.sqrt(sum((s - mean) ** 2 for s in signals) / (n - 1)) if n > 1 else math.nan
        return mean, scatter, (signals[-1] - signals[0]) / mean if mean else 0.0
    logs = [math.log(s) for s in signals]
    mean_log = sum(logs) / n
    mean_t = sum(p.reference for p in paired) / n
    slope = -_TYPICAL_BETA_K / (mean_t + 273.15) ** 2
    rest = [log - mean_log - slope * (p.reference - mean_t) for log, p in zip(logs, paired, strict=True)]
    scatter = math.exp(mean_log) * math.sqrt(sum(r * r for r in rest) / (n - 1)) if n > 1 else math.nan
    # The logarithm's mean belongs to the mean temperature even when the bath fell by a kelvin between readings.
    signal = signals[0] if n == 1 else math.exp(mean_log)
    return signal, scatter, logs[-1] - logs[0]


def _scatter_part(
    scatter: float, n: int, parts: Sequence[UPart], kind: str, value: float, signal: float, probe: Probe
) -> list[UPart]:
    """Add what the readings scatter beyond what repeat and last digit explain."""
    if n < 3 or not scatter > 0.0:
        return []
    digit = math.hypot(*(part.u for part in parts if part.axis == "signal" and part.what.startswith("last digit")), 0.0)
    slope = signal * _TYPICAL_BETA_K / (value + 273.15) ** 2 if kind == "resistance" else 0.0
    beyond = scatter**2 / n - digit**2 - (probe.repeatability * slope) ** 2
    if beyond <= 0.0:
        return []
    return [UPart(key="", u=math.sqrt(beyond), what=f"scatter of {n} readings", axis="signal")]


def _mean(values: Sequence[float | None], otherwise: float | None) -> float | None:
    """Mean of those that are there, or what stands in for them."""
    there = [value for value in values if value is not None]
    return sum(there) / len(there) if there else otherwise
