"""When things happen on an invented outing, the trouble an engine can have, and the seeded ripples on everything."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from sensorcal.firststart.channels import Span
from sensorcal.firststart.simulate_scenario import StartCase

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """When things happen, s since power on.

    `cranks` are (begin, end); the engine fires at the end of the last; `steps` are (begin, speed 1/min, manifold Pa,
    word) while it runs; rows are logged from `begins_s` to `ends_s`.
    """

    pump_on_s: float
    cranks: tuple[tuple[float, float], ...]
    fires_s: float
    steps: tuple[tuple[float, float, float, str], ...]
    stop_s: float
    pump_off_s: float
    end_s: float
    begins_s: float
    ends_s: float

    @property
    def spans(self) -> tuple[Span, ...]:
        """True phases, s since the first row of the log; cranks as they are, even where the engine does not fire."""
        marks = [(0.0, "rest"), (self.pump_on_s, "pump")]
        for begin, end in self.cranks:
            marks += [(begin, "crank"), (end, "pump")]
        marks.append((self.fires_s, "first_30_s"))
        later = [(begin, word) for begin, _, _, word in self.steps if begin > self.fires_s + 30.0]
        word = [word for begin, _, _, word in self.steps if begin <= self.fires_s + 30.0][-1]
        marks += [(self.fires_s + 30.0, word), *later, (self.stop_s, "shutdown"), (self.stop_s + 10.0, "soak")]
        spans: list[Span] = []
        for (begin, phase), following in zip(marks, [*(m[0] for m in marks[1:]), self.end_s], strict=True):
            start = max(begin, self.begins_s) - self.begins_s
            end = min(following, self.ends_s) - self.begins_s
            if end > start:
                if spans and spans[-1].phase == phase:
                    spans[-1] = Span(phase=phase, start_s=spans[-1].start_s, end_s=end)
                else:
                    spans.append(Span(phase=phase, start_s=start, end_s=end))
        return tuple(spans)


def plan_of(case: StartCase) -> Plan:
    """Lay the outing of a case out in time.

    Examples
    --------
    >>> import numpy as np
    >>> from sensorcal.firststart.simulate_cases import draw_case
    >>> plan = plan_of(draw_case(np.random.default_rng(1)))
    >>> plan.pump_on_s < plan.fires_s < plan.stop_s < plan.end_s
    True
    """
    outing, motor, recording = case.outing, case.motor, case.recording
    pump_on = outing.rest_s
    at = pump_on + outing.pump_s
    cranks = []
    for index, length in enumerate(outing.cranks_s):
        cranks.append((at, at + length))
        at += length + (outing.pauses_s[index] if index < len(outing.pauses_s) else 0.0)
    fires = at
    idle = (motor.idle_rpm, motor.idle_map_pa)
    # Nobody sets the same throttle twice: a few per cent from one time to the next.
    hand = iter(1.0 + motor.wander_ratio * np.random.default_rng(case.seed).standard_normal(64).clip(-2.0, 2.0))

    def about(rpm: float, pressure_pa: float) -> tuple[float, float]:
        share = float(next(hand))
        return rpm * share, pressure_pa * share

    steps = [(fires, *idle, "idle")]
    at = fires + outing.idle_s
    steps.append((at, *about(motor.warm_rpm, motor.warm_map_pa), "warm_up"))
    for begin, length in outing.taxi_s:
        if begin + length < outing.warm_s - 20.0:
            again = about(motor.warm_rpm, motor.warm_map_pa)
            steps += [(at + begin, *idle, "warm_up"), (at + begin + length, *again, "warm_up")]
    at += outing.warm_s
    for run_s, full_s in outing.run_ups:
        run = about(motor.run_rpm, motor.run_map_pa)
        run_pa = min(run[1], 0.97 * case.day.station_pa)
        steps += [(at, run[0], run_pa, "run_up")]
        if outing.checks and run_s > 20.0:  # one ignition at a time: the speed falls by 2 or 3 per cent
            for tried, back in ((0.35, 0.5), (0.65, 0.8)):
                steps += [(at + tried * run_s, 0.975 * run[0], run_pa + 600.0, "run_up")]
                steps += [(at + back * run_s, run[0], run_pa, "run_up")]
        steps += [(at + run_s, motor.full_rpm, motor.full_map_pa, "run_up")]
        steps += [(at + run_s + full_s, *idle, "idle")]
        at += run_s + full_s + outing.between_s
    if not outing.run_ups:
        steps.append((at, *idle, "idle"))
    stop = at + outing.cool_s
    end = stop + outing.soak_s
    begins = {"rest": 0.0, "pump": pump_on + 0.3 * outing.pump_s, "crank": cranks[0][0] + 0.6, "running": fires + 12.0}
    ends = {"soak": end, "stop": stop + 0.6 * outing.soak_s, "running": stop - 5.0}
    return Plan(
        pump_on_s=pump_on, cranks=tuple(cranks), fires_s=fires, steps=tuple(steps), stop_s=stop,
        pump_off_s=stop + outing.pump_off_s, end_s=end, begins_s=begins[recording.begins], ends_s=ends[recording.ends],
    )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Trouble:
    """Genuine trouble as an edit of the engine; the default is none. Times in s since power on.

    Parameters
    ----------
    oil_ratio, oil_from_s, oil_fall_s : float
        Share of the pump's flow that is left, from when, and over how long it falls.
    oil_flutter : float
        Aeration: share of the pressure lost at full speed, fluttering.
    cooling_ratio, heat_ratio, cooling_from_s : float
        Share of the radiator's flow that is left, and heat of combustion into the water beside the usual.
    airlock_ratio, airlock_from_s : float
        How much of the time the coolant's tip stands in vapour, 0 to 1; its cooling is lost alike.
    fuel_sag_pa, fuel_loss_pa, fuel_from_s, fuel_fall_s : float
        Fuel pressure lost at full power (a blocked filter), and at any power (a weak pump), from when, and over how
        long it falls.
    """

    oil_ratio: float = 1.0
    oil_from_s: float = 0.0
    oil_fall_s: float = 0.0
    oil_flutter: float = 0.0
    cooling_ratio: float = 1.0
    heat_ratio: float = 0.0
    cooling_from_s: float = 0.0
    airlock_ratio: float = 0.0
    airlock_from_s: float = 0.0
    fuel_sag_pa: float = 0.0
    fuel_loss_pa: float = 0.0
    fuel_from_s: float = 0.0
    fuel_fall_s: float = 0.0


NO_TROUBLE = Trouble()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Truth:
    """What is true at every fine step.

    `values` by channel (oil and fuel gauge); `tip_c` is what surrounds the coolant probe; `running` and `turning` say
    whether the engine fires or is cranked; `current_a` flows from engine to airframe, negative when charging;
    `body_c` is the temperature of the pressure sensors' bodies.
    """

    plan: Plan
    time_s: Floats
    step_s: float
    values: Mapping[str, Floats]
    tip_c: Floats
    body_c: Floats
    running: Mask
    turning: Mask
    current_a: Floats
    station_pa: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ripple:
    """The seeded ripples of one outing, the same with and without a fault."""

    time_s: Floats
    step_s: float
    phase: float
    slow: Mapping[str, Floats] = field(default_factory=dict)


def ripple_of(case: StartCase, plan: Plan, rng: np.random.Generator) -> Ripple:
    """Draw the slow wander of speed, manifold, coolant and air: first-order noise of unit standard deviation."""
    step = 0.1 if case.recording.rate_hz > 4.0 else 0.2
    time_s = np.arange(0.0, plan.end_s + step, step)
    slow = {
        name: _wander(rng.standard_normal(time_s.size), step, tau)
        for name, tau in (
            ("rpm", 1.0), ("map", 0.8), ("coolant", 4.0), ("oat", 30.0), ("boost", 1.5), ("oil", 0.3), ("charge", 3.0),
            ("hand", 25.0),
        )
    }  # fmt: skip
    return Ripple(time_s=time_s, step_s=step, phase=float(rng.uniform(0.0, 2.0 * math.pi)), slow=slow)


def lagged(values: Floats, tau_s: float, step_s: float, start: float | None = None) -> Floats:
    """First-order lag of values at even steps; settled at the first value, or at `start`.

    Parameters
    ----------
    values : ndarray, shape (n,)
    tau_s, step_s : float
        Time constant and step, s.
    start : float, optional
        Where the lagged value begins.

    References
    ----------
    y' = (x - y)/tau, x constant over a step.

    Examples
    --------
    >>> import numpy as np
    >>> lagged(np.ones(3), 1.0, 1.0, start=0.0).round(3)
    array([0.632, 0.865, 0.95 ])
    """
    if tau_s <= 0.0:
        return values.copy()
    from scipy.signal import lfilter

    keep = math.exp(-step_s / tau_s)
    before = float(values[0]) if start is None else start
    return np.asarray(lfilter([1.0 - keep], [1.0, -keep], values, zi=[keep * before])[0], dtype=np.float64)


def _wander(white: Floats, step_s: float, tau_s: float) -> Floats:
    keep = math.exp(-step_s / tau_s)
    return lagged(white, tau_s, step_s, start=0.0) * math.sqrt((1.0 + keep) / (1.0 - keep))
