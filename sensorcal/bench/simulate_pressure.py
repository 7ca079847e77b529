"""An invented pressure bench: a transducer with a bent line, a loop, a hot body and a seal; gauge, supply and leak."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sensorcal.bench.run import Reading, Run


@dataclass(frozen=True, slots=True, kw_only=True)
class TrueTransducer:
    """What the transducer really does; all invented.

    output / supply = zero + span x + bow 4x(1 - x) + half loop + body effect, x the share of the range.

    Parameters
    ----------
    name : str
    high_pa : float
        Upper end of the range; the lower is zero.
    zero_ratio, span_ratio : float
    bow_pa : float
        Largest departure from the straight line, in the middle.
    loop_pa : float
        Falling minus rising in the middle of the range.
    zero_pa_per_k, span_pa_per_k : float
        Effect of the body's temperature above 20 °C.
    sealed_pa : float or None
        Pressure in its back where it is a sealed gauge; 0 for an absolute sensor.
    repeat_pa : float
        Standard deviation of one reading.
    """

    name: str = "O1"
    high_pa: float = 1_000_000.0
    zero_ratio: float = 0.1
    span_ratio: float = 0.8
    bow_pa: float = 0.0
    loop_pa: float = 0.0
    zero_pa_per_k: float = 0.0
    span_pa_per_k: float = 0.0
    sealed_pa: float | None = None
    repeat_pa: float = 0.0

    def ratio(self, pressure_pa: float, direction: str, *, body_c: float = 20.0, air_pa: float = 101_325.0) -> float:
        """Output over supply at a gauge pressure, on the rising or falling branch.

        Examples
        --------
        >>> round(TrueTransducer(loop_pa=2000.0).ratio(500e3, "down"), 4)
        0.5008
        """
        felt = pressure_pa if self.sealed_pa is None else pressure_pa + air_pa - self.sealed_pa
        x = felt / self.high_pa
        arch = 4.0 * x * (1.0 - x) if 0.0 < x < 1.0 else 0.0
        branch = {"up": -0.5, "down": 0.5}.get(direction, 0.0)
        warm = (body_c - 20.0) * (self.zero_pa_per_k + self.span_pa_per_k * x)
        shown = felt + arch * (self.bow_pa + branch * self.loop_pa) + warm
        return self.zero_ratio + self.span_ratio * shown / self.high_pa


@dataclass(frozen=True, slots=True, kw_only=True)
class PressureBench:
    """Gauge, supply, voltmeter and hose of the invented bench.

    Parameters
    ----------
    gauge_level_pa, gauge_scale_pa : float
        Error of the gauge (shown minus true) at zero and at `gauge_top_pa`, between them as cosine and sine of a
        quarter turn.
    gauge_top_pa : float
    pointer_pa : float
        Half-width of reading the pointer.
    gauge_step_pa : float
        Step to which its reading is written down; 0 leaves it whole.
    supply_v, supply_drift_v_per_s : float
    meter_step_v : float
        Last digit of the voltmeter; 0 leaves the volts whole.
    leak_time_constant_s : float or None
        The hose empties as exp(-t / time constant) while a point is read.
    air_pa : float
        Station pressure.
    """

    gauge_level_pa: float = 0.0
    gauge_scale_pa: float = 0.0
    gauge_top_pa: float = 1_000_000.0
    pointer_pa: float = 0.0
    gauge_step_pa: float = 0.0
    supply_v: float = 5.0
    supply_drift_v_per_s: float = 0.0
    meter_step_v: float = 0.001
    leak_time_constant_s: float | None = None
    air_pa: float = 93_470.0

    def shown_pa(self, pressure_pa: float) -> float:
        """What the gauge shows at a pressure, its pointer read exactly."""
        angle = 0.5 * math.pi * min(max(pressure_pa / self.gauge_top_pa, 0.0), 1.0)
        return pressure_pa + self.gauge_level_pa * math.cos(angle) + self.gauge_scale_pa * math.sin(angle)


@dataclass(frozen=True, slots=True, kw_only=True)
class PressureStop:
    """One stop of the plan: wanted pressure, direction, temperature of the body, whether the line is open."""

    pressure_pa: float
    direction: str
    body_c: float | None = None
    open_line: bool = False


def up_and_down(
    high_pa: float, *, points: int = 6, cycles: int = 1, low_pa: float = 0.0, open_zeros: bool = False
) -> tuple[PressureStop, ...]:
    """Plan of rising and falling points, evenly spaced, the top read on both ways.

    Examples
    --------
    >>> [f"{s.pressure_pa / 1000:.0f} {s.direction}" for s in up_and_down(1e6, points=3)]
    ['0 up', '500 up', '1000 up', '1000 down', '500 down', '0 down']
    """
    steps = [low_pa + (high_pa - low_pa) * i / (points - 1) for i in range(points)]
    found = []
    for _ in range(cycles):
        for way, order in (("up", steps), ("down", steps[::-1])):
            found += [PressureStop(pressure_pa=p, direction=way, open_line=open_zeros and p == 0.0) for p in order]
    return tuple(found)


def simulate_pressure(
    transducer: TrueTransducer,
    bench: PressureBench,
    plan: Sequence[PressureStop],
    *,
    seed: int,
    every_s: float = 60.0,
    read_after_s: float = 5.0,
    supply_column: bool = True,
) -> Run:
    """Play one pressure evening.

    Parameters
    ----------
    transducer : TrueTransducer
    bench : PressureBench
    plan : sequence of PressureStop
    seed : int
    every_s : float
        Time between stops.
    read_after_s : float
        Time between reading gauge and volts, in which a leak tells.
    supply_column : bool
        False leaves the supply unread.

    Returns
    -------
    Run
        With references in Pa and volts.

    References
    ----------
    Invented; no source.

    Examples
    --------
    >>> run = simulate_pressure(TrueTransducer(), PressureBench(supply_v=4.93), up_and_down(1e6), seed=1)
    >>> len(run.readings), round(run.readings[2].signals["O1"], 3)
    (12, 2.071)
    """
    generator = np.random.default_rng(seed)
    rows = []
    for n, stop in enumerate(plan):
        time_s = n * every_s
        pointer = bench.pointer_pa * float(generator.uniform(-1.0, 1.0))
        shown = _digits(bench.shown_pa(stop.pressure_pa) + pointer, bench.gauge_step_pa)
        left = stop.pressure_pa
        if bench.leak_time_constant_s and not stop.open_line:
            left *= math.exp(-read_after_s / bench.leak_time_constant_s)
        noise = transducer.repeat_pa * float(generator.standard_normal())
        ratio = transducer.ratio(
            left + noise, stop.direction, body_c=20.0 if stop.body_c is None else stop.body_c, air_pa=bench.air_pa
        )
        supply = bench.supply_v + bench.supply_drift_v_per_s * time_s
        volts = _digits(ratio * supply, bench.meter_step_v)
        rows.append(
            Reading(
                file_row=n + 2,
                time_s=time_s,
                point="open" if stop.open_line else "",
                reference=None if stop.open_line else shown,
                signals={transducer.name: volts},
                direction=stop.direction,
                supply_v=_digits(supply, bench.meter_step_v) if supply_column else None,
                other={} if stop.body_c is None else {"body [degC]": f"{stop.body_c:g}"},
            )
        )
    return Run(readings=tuple(rows), measurand="pressure", signal_kinds={transducer.name: "voltage"})


def _digits(value: float, step: float) -> float:
    return round(round(value / step) * step, 9) if step else value
