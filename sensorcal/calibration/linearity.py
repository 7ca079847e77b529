"""What a bench run says of a transducer in the words of its data sheet: linearity, hysteresis, repeatability, band."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sensorcal.bench.pressurepoints import nominal_groups
from sensorcal.calibration.cycles import SeriesBudget, series_budget
from sensorcal.calibration.pressurecal import frozen
from sensorcal.errors import FitError
from sensorcal.measure.straight import Definition, Line, straight_lines

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from sensorcal.physics.transducer import RatioCurve

    Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Performance:
    """A transducer in the terms of its data sheet, each from the readings alone.

    Linearities, hysteresis, repeatability, zero return and band are in Pa; divided by `span_pa` they are the shares
    of span that data sheets give. None stands where the readings cannot show it, and `missing` says why.

    Parameters
    ----------
    zero_ratio, span_ratio : float
        Output over supply at the lower end of the range and its rise to the upper end, by the independent line.
    span_pa : float
        Of the range.
    linearity_pa : dict of str to float
        Largest deviation of the mean of rising and falling readings from the line of each definition.
    lines : dict of str to Line
        The lines themselves: ratio against Pa.
    hysteresis_pa : float or None
        Largest difference of falling from rising readings at one pressure, mean over the cycles.
    hysteresis_at_pa : float or None
        Where it is largest.
    repeatability_pa : float or None
        Largest difference between readings at one pressure from one direction.
    zero_return_pa : float or None
        Zero after the last cycle minus zero before the first.
    total_error_band_pa : float
        Largest deviation of any reading from the data sheet's line, at bench temperature, gauge included.
    static_error_band_pa : float
        Largest deviation of any reading from the independent line.
    missing : tuple of str
    """

    zero_ratio: float
    span_ratio: float
    span_pa: float
    linearity_pa: dict[Definition, float]
    lines: dict[Definition, Line]
    hysteresis_pa: float | None
    hysteresis_at_pa: float | None
    repeatability_pa: float | None
    zero_return_pa: float | None
    total_error_band_pa: float
    static_error_band_pa: float
    missing: tuple[str, ...] = ()


def performance(
    pressure_pa: ArrayLike,
    ratio: ArrayLike,
    direction: tuple[str, ...],
    cycle: tuple[int, ...],
    *,
    sheet_line: RatioCurve,
    low_pa: float,
    high_pa: float,
) -> Performance:
    """Describe a transducer by its readings.

    Parameters
    ----------
    pressure_pa, ratio : array, shape (n,)
        Reference and output over supply.
    direction : tuple of str
        'up', 'down' or ''.
    cycle : tuple of int
    sheet_line : RatioCurve
        The data sheet's line.
    low_pa, high_pa : float
        Range of the sensor.

    Returns
    -------
    Performance

    Raises
    ------
    FitError
        Readings at fewer than three pressures, or an output that does not rise.

    References
    ----------
    ANSI/ISA-51.1-1979 (R1993): accuracy, hysteresis, linearity, repeatability; IEC 61298-2:2008; IEC 62828-1 and -2
    for the test of transmitters (all from memory). 'Total error band': data-sheet word, common practice, no source.

    Examples
    --------
    >>> from sensorcal.physics.transducer import RatioPolynomial
    >>> line = RatioPolynomial.through(zero_ratio=0.1, span_ratio=0.8, low_pa=0.0, high_pa=1e6)
    >>> p = [0.0, 500e3, 1000e3, 500e3, 0.0]
    >>> r = [0.1, 0.5, 0.9, 0.5016, 0.1]
    >>> found = performance(p, r, ("up", "up", "up", "down", "down"), (1,) * 5, sheet_line=line, low_pa=0, high_pa=1e6)
    >>> round(found.hysteresis_pa), round(found.total_error_band_pa), round(found.linearity_pa["independent"])
    (2000, 2000, 500)
    """
    p, r = np.asarray(pressure_pa, dtype=np.float64), np.asarray(ratio, dtype=np.float64)
    groups = [np.array(g) for g in nominal_groups(p.tolist())]
    if len(groups) < 3:
        raise FitError(
            f"readings at {len(groups)} pressures cannot show linearity", do="read zero, half-way and full scale"
        )
    ways, rounds = np.array(direction), np.array(cycle)
    slope = float(np.ptp(p) / np.ptp(r))
    at = np.array([p[g].mean() for g in groups])
    # Readings of one nominal pressure are brought to it along the mean slope, so that a pump off by 1 kPa is no error.
    level = r - (p - _of_group(groups, at, p.size)) / slope
    mean, loops, spreads = [], [], []
    for g in groups:
        up, down = g[ways[g] == "up"], g[ways[g] == "down"]
        if up.size and down.size:
            mean.append(0.5 * float(level[up].mean() + level[down].mean()))
            loops.append(float(level[down].mean() - level[up].mean()) * slope)
        else:
            mean.append(float(level[g].mean()))
            loops.append(np.nan)
        for way in ("up", "down", ""):
            same = g[ways[g] == way]
            if same.size > 1 and np.unique(rounds[same]).size > 1:
                spreads.append(float(np.ptp(level[same])) * slope)
    lines = straight_lines(at, mean)
    if not min(line.slope for line in lines.values()) > 0.0:
        raise FitError("the output does not rise with pressure", do="check the entries, the sign and the wiring")
    independent = lines["independent"]
    loop = np.array(loops)
    seen = np.isfinite(loop)
    missing = []
    if not seen.any():
        missing.append("hysteresis: read falling pressures too")
    if not spreads:
        missing.append("repeatability: take a second cycle")
    first = groups[0]
    zero_return = float(level[first[-1]] - level[first[0]]) * slope if first.size > 1 else None
    if zero_return is None:
        missing.append("zero return: read the zero again at the end")
    worst = int(np.nanargmax(np.abs(loop))) if seen.any() else 0
    return Performance(
        zero_ratio=independent.intercept + independent.slope * low_pa,
        span_ratio=independent.slope * (high_pa - low_pa),
        span_pa=high_pa - low_pa,
        linearity_pa={name: line.max_deviation / line.slope for name, line in lines.items()},
        lines=lines,
        hysteresis_pa=float(abs(loop[worst])) if seen.any() else None,
        hysteresis_at_pa=float(at[worst]) if seen.any() else None,
        repeatability_pa=max(spreads) if spreads else None,
        zero_return_pa=zero_return,
        total_error_band_pa=float(np.abs(sheet_line.pressure_pa(r) - p).max()),
        static_error_band_pa=float(
            np.abs((r - independent.intercept) / independent.slope - p).max(),
        ),
        missing=tuple(missing),
    )


def _of_group(groups: list[NDArray[np.intp]], at: Floats, n: int) -> Floats:
    """Nominal pressure of each point."""
    out = np.empty(n)
    for group, value in zip(groups, at, strict=True):
        out[group] = value
    return out


def _whole_cycles(groups: list[NDArray[np.intp]], ways: NDArray[np.str_], rounds: NDArray[np.int_]) -> list[int]:
    """Cycles through most of the pressures, rising and (where any does) falling; a few odd points are none."""
    counts = {
        int(number): [
            sum(bool(np.any((rounds[g] == number) & (ways[g] == way))) for g in groups) for way in ("up", "down")
        ]
        for number in np.unique(rounds)
    }
    most = np.max(list(counts.values()), axis=0)
    return [number for number, seen in counts.items() if np.all(2 * np.array(seen) >= most)]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PointBudgets:
    """U at each tested pressure in the manner of the guides, all in Pa.

    Parameters
    ----------
    pressure_pa : array, shape (n,)
    series : SeriesBudget
        Readings turned into Pa by the curve; its u and expanded are those of each pressure.
    gauge_pa, reading_pa, meter_pa, repeat_pa : array, shape (n,)
        The parts of its ``u_standard``: gauge, reading of its pointer, voltmeter, and repeatability where one cycle
        could not show it.
    """

    pressure_pa: Floats
    series: SeriesBudget
    gauge_pa: Floats
    reading_pa: Floats
    meter_pa: Floats
    repeat_pa: Floats

    def __post_init__(self) -> None:
        """Copy the arrays and make them read-only."""
        for name in ("pressure_pa", "gauge_pa", "reading_pa", "meter_pa", "repeat_pa"):
            object.__setattr__(self, name, frozen(getattr(self, name)))


def point_budgets(
    pressure_pa: ArrayLike,
    shown_pa: ArrayLike,
    direction: tuple[str, ...],
    cycle: tuple[int, ...],
    *,
    u_gauge_pa: ArrayLike,
    u_reading_pa: ArrayLike,
    u_meter_pa: ArrayLike,
    u_repeat_pa: float,
    resolution_pa: float,
) -> PointBudgets | None:
    """Give U at each nominal pressure from the cycles of a run.

    Parameters
    ----------
    pressure_pa, shown_pa : array, shape (n,)
        Reference, and what the fitted curve gives for the output.
    direction, cycle : tuple
    u_gauge_pa, u_reading_pa, u_meter_pa : float or array, shape (n,)
        Standard uncertainties at each point.
    u_repeat_pa : float
        Taken where there is one cycle only.
    resolution_pa : float
        Last digit of the voltmeter in Pa, full width.

    Returns
    -------
    PointBudgets or None
        None where no pressure stands in every cycle.

    References
    ----------
    As for `sensorcal.calibration.cycles.series_budget`.
    """
    p, shown = np.asarray(pressure_pa, dtype=np.float64), np.asarray(shown_pa, dtype=np.float64)
    gauge, reading, meter = (
        np.broadcast_to(np.asarray(u, dtype=np.float64), p.shape) for u in (u_gauge_pa, u_reading_pa, u_meter_pa)
    )
    ways, rounds = np.array(direction), np.array(cycle)
    falls = "down" in direction and "up" in direction  # falling readings alone are a series as well
    up, down, places, index = [], [], [], []
    groups = [np.array(g) for g in nominal_groups(p.tolist())]
    whole = _whole_cycles(groups, ways, rounds)
    if not whole:
        return None
    for n, group in enumerate(groups):
        columns = []
        for number in whole:
            here = group[rounds[group] == number]
            rise, fall = here[ways[here] != "down"], here[ways[here] == "down"]
            rise = rise if falls else here
            # At the top the loop closes, and the lowest point before the first rise may be the one after the fall.
            rise = rise if rise.size or n else fall
            fall = fall if fall.size or 0 < n < len(groups) - 1 else rise
            columns.append((rise, fall))
        if any(not rise.size or (falls and not fall.size) for rise, fall in columns):
            continue
        place = float(p[group].mean())
        off = shown - p
        up.append([place + float(off[rise].mean()) for rise, _ in columns])
        down.append([place + float(off[fall].mean()) for _, fall in columns] if falls else [])
        places.append(place)
        index.append(group)
    if not places:
        return None
    parts = [np.array([float(np.sqrt(np.mean(u[g] ** 2))) for g in index]) for u in (gauge, reading, meter)]
    one_cycle = len(whole) == 1
    repeat = np.full(len(places), u_repeat_pa if one_cycle else 0.0)
    u_standard = np.sqrt(sum((u**2 for u in parts), start=repeat**2))
    series = series_budget(
        np.array(up).T,
        np.array(down).T if falls else np.empty((0, len(places))),
        u_standard=u_standard,
        resolution=resolution_pa,
    )
    return PointBudgets(
        pressure_pa=np.array(places),
        series=series,
        gauge_pa=parts[0],
        reading_pa=parts[1],
        meter_pa=parts[2],
        repeat_pa=repeat,
    )
