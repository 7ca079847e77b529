"""A reading that does not agree with its neighbours in the same bath, minute to minute."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from sensorcal.calibration.blunders import Blunder, degrees, transpositions

if TYPE_CHECKING:
    from collections.abc import Sequence

    from sensorcal.bench.point import Point
    from sensorcal.bench.run import Reading, Run
    from sensorcal.calibration.calibration import Calibration

# Readings of one settled stop agree to about 0.05 °C (repeat, last digit, drift between reference readings); six
# times that is no scatter. Common practice, no source.
_AGREE_C = 0.05
_TOO_FAR = 6.0
_SHORTEST = 2


def questioned_readings(run: Run, points: Sequence[Point], probe: str, calibration: Calibration) -> tuple[Blunder, ...]:
    """Find single readings of a stop that stand apart from the other readings of the same stop.

    Parameters
    ----------
    run : Run
    points : sequence of Point
        Of this probe, in the order of the calibration's points.
    probe : str
    calibration : Calibration
        Its slope turns ohms into degrees; its level does not matter here.

    Returns
    -------
    tuple of Blunder
        With the row of the file, the size in °C and the likely slip. Where a stop has two readings only, both are
        named: nothing tells which is wrong.
    """
    rows = {reading.file_row: reading for reading in run.readings}
    found: list[Blunder] = []
    for index, point in enumerate(points):
        readings = [rows[row] for row in point.file_rows]
        if len(readings) < _SHORTEST:
            continue
        ohms = np.array([reading.signals[probe] for reading in readings])
        per_ln = float(calibration.curve.slope_k_per_ln(float(np.median(ohms))))
        drift = np.array([_reference(reading, readings, point) for reading in readings])
        # What each reading says of the bath beyond what the reference says, K.
        says = per_ln * np.log(ohms) - drift
        moving = abs(point.rate_per_s or 0.0) * _span_s(readings) if np.ptp(drift) == 0.0 else 0.0
        limit = _TOO_FAR * math.hypot(_AGREE_C, moving / math.sqrt(12.0))
        for i, reading in enumerate(readings):
            others = np.delete(says, i)
            size = float(says[i] - np.median(others))
            if abs(size) <= limit or (len(readings) > 2 and np.ptp(others) > limit and abs(size) < np.ptp(others)):
                continue
            found.append(_blunder(index, point, reading, probe, size, float(ohms[i]), per_ln, len(readings), limit))
            if len(readings) == _SHORTEST:
                break
    return tuple(found)


def _reference(reading: Reading, readings: Sequence[Reading], point: Point) -> float:
    """Reference of a reading where every reading of the stop has one; else the stop's, alike for all."""
    if all(one.reference is not None for one in readings) and reading.reference is not None:
        return reading.reference
    return point.value


def _span_s(readings: Sequence[Reading]) -> float:
    times = [reading.time_s for reading in readings if reading.time_s is not None]
    return max(times) - min(times) if len(times) > 1 else 0.0


def _blunder(
    index: int,
    point: Point,
    reading: Reading,
    probe: str,
    size: float,
    ohm: float,
    per_ln: float,
    n: int,
    limit: float,
) -> Blunder:
    likely = ohm * math.exp(-size / per_ln)
    where = f"{point.label}, row {reading.file_row}, {probe}"
    kind, value, words = "single", likely, f"{ohm:.6g} ohm stands {degrees(size)} apart from the readings beside it"
    slips = [("digits", v, "has two digits transposed") for v in transpositions(ohm)]
    slips += [("decade", ohm * f, "looks like a slip of the decimal point") for f in (10.0, 0.1, 1000.0, 0.001)]
    # Of two readings either may be the wrong one: a slip that would turn one into the other proves nothing.
    for name, candidate, what in slips if n > _SHORTEST else ():
        if abs(per_ln * math.log(candidate / likely)) < limit:
            kind, value = name, candidate
            words = f"{ohm:.6g} ohm {what}, likely {candidate:.6g} (worth {degrees(size)})"
            break
    if n == _SHORTEST:
        words = f"the two readings of {point.label} differ by {degrees(size)}: nothing tells which is wrong"
    return Blunder(
        kind="decade" if kind == "decade" else "digits" if kind == "digits" else "single",
        points=(index,),
        side="resistance",
        size_c=size,
        typed=ohm,
        likely=value,
        probability=1.0 if kind != "single" else 0.5,
        sentence=f"{where}: {words}",
    )
