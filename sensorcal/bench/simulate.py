"""A bench evening played through with known truth: what the thermometer, the meter and the clock would show.

The forward model is wider than any fit's: besides the errors a budget names it has lag, cooling baths,
conduction along the body, self-heating, ranges that disagree, clips, clock and last digits. What was drawn
comes back as `Truth`, so that a test can put an error in and look for it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from random import Random
from statistics import NormalDist

from sensorcal.bench.played import SimulatedEvening, SimulatedRow, SimulatedSignal, Truth
from sensorcal.bench.run import Reading, Run
from sensorcal.bench.scenario import Evening, Stage, TrueProbe
from sensorcal.errors import InputError


class _Draws:
    """Random draws by name: a cause switched on or off never shifts the draws of another.

    Python's own generator with a text seed gives the same numbers on every platform and version, which
    NumPy's distributions do not promise; the files in `data/` depend on it.
    """

    def __init__(self, seed: int) -> None:
        self._seed = seed

    def unit(self, name: str) -> float:
        """Give a draw between 0 and 1, never exactly 0."""
        return max(Random(f"{self._seed}/{name}").random(), 2.0**-60)  # noqa: S311 - a simulator, no secret

    def normal(self, name: str, u: float) -> float:
        """Give a draw from a normal distribution about 0 with standard deviation `u`."""
        return u * NormalDist().inv_cdf(self.unit(name)) if u > 0.0 else 0.0

    def within(self, name: str, half: float) -> float:
        """Give a draw from a rectangular distribution from -half to half."""
        return half * (2.0 * self.unit(name) - 1.0) if half > 0.0 else 0.0


def as_shown(value: float, step: float) -> float:
    """Round a value to the last digit that a display shows.

    Parameters
    ----------
    value : float
        What would be shown with endless digits.
    step : float
        Size of one last digit, in the same unit.

    Examples
    --------
    >>> as_shown(172.1499999, 0.1)
    172.1
    """
    # The inner rounding makes a difference in the last bit between platforms harmless.
    return round(round(round(value / step, 6)) * step, 9)


def lagging_c(
    *,
    elapsed_s: float,
    start_c: float,
    room_c: float,
    bath_time_constant_s: float,
    sensor_time_constant_s: float,
) -> float:
    """Give the temperature of a sensor put at room temperature into a bath that cools towards the room.

    Parameters
    ----------
    elapsed_s : float
        Seconds since it went in.
    start_c, room_c : float
        Temperature of the bath at that moment, and of the room, in °C.
    bath_time_constant_s, sensor_time_constant_s : float
        Time constants of the bath's cooling and of the sensor; 0 for a sensor that follows at once.

    Raises
    ------
    InputError
        If the bath does not cool slower than the sensor follows.

    References
    ----------
    Exact solution of dT/dt = (T_bath - T) / tau for an exponential T_bath; from memory, checked against
    numerical integration in the tests.

    Examples
    --------
    A tau of 20 s in a bath falling 0.5 K/min from 90 °C lags by 0.17 K after three minutes.

    >>> t = lagging_c(elapsed_s=180.0, start_c=90.0, room_c=20.0, bath_time_constant_s=8400.0,
    ...               sensor_time_constant_s=20.0)
    >>> print(round(t - (20.0 + 70.0 * math.exp(-180.0 / 8400.0)), 2))
    0.15
    """
    if not bath_time_constant_s > sensor_time_constant_s >= 0.0:
        raise InputError(
            "the bath must cool slower than the sensor follows it",
            do="give a bath time constant above the sensor's",
        )
    excess = (start_c - room_c) * bath_time_constant_s / (bath_time_constant_s - sensor_time_constant_s)
    settled = math.exp(-elapsed_s / bath_time_constant_s)
    transient = math.exp(-elapsed_s / sensor_time_constant_s) if sensor_time_constant_s > 0.0 else 0.0
    return room_c + excess * (settled - transient)


def steam_temperature_c(evening: Evening) -> float:
    """Give the true temperature of clean steam at the evening's station pressure, in °C."""
    from sensorcal.physics.water import boiling_point_c

    return float(boiling_point_c(evening.station_pressure_pa))


def simulate_evening(probes: Sequence[TrueProbe], evening: Evening, *, seed: int) -> SimulatedEvening:
    """Play one bench evening through and give every line written and the truth behind it.

    Ice and steam stops have a line a minute with all probes; in a bath the reference is read, the probes in
    turn, the reference, the probes back, the reference, each on its own line with its own time.

    Parameters
    ----------
    probes : sequence of TrueProbe
        The probes in the bundle, in the order they are read.
    evening : Evening
        What happens and how large each error is.
    seed : int
        The same seed gives the same evening on every platform.

    Returns
    -------
    SimulatedEvening
        Lines as written and the drawn truth.

    Raises
    ------
    InputError
        If no probe is given, a name occurs twice, a temperature leaves -20..150 °C, or the meter has no range
        for a resistance.

    References
    ----------
    Invented; sizes of the errors in `sensorcal.bench.scenario`, each with its kind of source.

    Examples
    --------
    >>> from sensorcal.bench.scenario import FOUR_PROBES, Evening
    >>> first = simulate_evening(FOUR_PROBES, Evening(), seed=1).rows[0]
    >>> first.point, [s.probe for s in first.signals]
    ('ice', ['P1', 'P2', 'P3', 'P4'])
    """
    names = [p.name for p in probes]
    if not names or len(set(names)) != len(names):
        raise InputError("an evening needs at least one probe, each with its own name", do="name them P1, P2")
    draws = _Draws(seed)
    truth = _draw_truth(tuple(probes), evening, draws)
    rows: list[SimulatedRow] = []
    boiled = False
    for stage in evening.stages:
        bench = _Stop(stage=stage, evening=evening, truth=truth, draws=draws, boiled=boiled)
        rows += bench.bath_rows() if stage.kind == "bath" else bench.fixed_rows()
        boiled = boiled or stage.kind == "steam"
    return SimulatedEvening(rows=tuple(rows), truth=truth, evening=evening, seed=seed)


def run_of(played: SimulatedEvening, *, reference_id: str = "T1") -> Run:
    """Give a played evening as a run in memory, with the display's values and no file between.

    Parameters
    ----------
    played : SimulatedEvening
        The evening.
    reference_id : str, optional
        Tag of the thermometer.

    Examples
    --------
    >>> from sensorcal.bench.scenario import FOUR_PROBES, Evening
    >>> run_of(simulate_evening(FOUR_PROBES, Evening(), seed=1)).probes
    ('P1', 'P2', 'P3', 'P4')
    """
    return Run(
        readings=tuple(
            Reading(
                file_row=n,
                time_s=row.clock_s,
                point=row.point,
                reference=row.reference_c,
                fixed="" if row.kind == "bath" else row.kind,
                reference_id=reference_id if row.kind == "bath" else "",
                signals={s.probe: s.shown_ohm for s in row.signals},
            )
            for n, row in enumerate(played.rows, start=2)
        ),
        signal_kinds={p.name: "resistance" for p in played.truth.probes},
    )


def _draw_truth(probes: tuple[TrueProbe, ...], evening: Evening, draws: _Draws) -> Truth:
    shorted, _, _ = _meter_shows(0.0, "shorted leads", evening, draws)
    checks = []
    for nominal in evening.check_resistors_ohm:
        tag = f"check resistor {nominal:g}"
        actual = nominal * (1.0 + draws.within(tag, evening.check_tolerance_ratio))
        shown, _, _ = _meter_shows(actual, tag, evening, draws)
        checks.append((nominal, actual, shown))
    fixed = {s.label: _fixed_c(s, evening, draws) for s in evening.stages if s.kind != "bath"}
    bias = draws.normal("reference bias", evening.u_reference_bias_c)
    slope = draws.normal("reference slope", evening.u_reference_slope_ratio)
    return Truth(
        probes=probes,
        fixed_c=fixed,
        reference_bias_c=bias,
        reference_slope_ratio=slope,
        meter_gain_ratio=evening.meter_gain_ratio,
        lead_ohm=evening.lead_ohm,
        gradient_c={
            s.label: draws.normal(f"gradient {s.label}", evening.u_gradient_common_c)
            for s in evening.stages
            if s.kind == "bath"
        },
        cycling_c={p.name: draws.normal(f"cycling {p.name}", evening.u_cycling_c) for p in probes},
        shorted_ohm=shorted,
        checks_ohm=tuple(checks),
        reference_checks_c={
            label: as_shown(
                medium + bias + slope * (medium - evening.room_temperature_c),
                evening.reference_resolution_c,
            )
            for label, medium in fixed.items()
        },
    )


def _fixed_c(stage: Stage, evening: Evening, draws: _Draws) -> float:
    if stage.kind == "ice":
        return -evening.ice_below_zero_c * draws.unit(f"impurity {stage.label}")
    return steam_temperature_c(evening) + draws.normal(f"steam {stage.label}", evening.u_steam_common_c)


def _meter_shows(true_ohm: float, tag: str, evening: Evening, draws: _Draws) -> tuple[float, float, float]:
    """Give what the meter shows, its last digit, and the test current of the range it chose."""
    clipped = true_ohm + evening.lead_ohm + draws.normal(f"contact {tag}", evening.u_contact_ohm)
    noise = 1.0 + draws.normal(f"meter noise {tag}", evening.u_meter_noise_ratio)
    for full_scale, current in evening.meter_ranges:
        range_gain = draws.normal(f"range {full_scale:g}", evening.u_range_gain_ratio)
        reading = clipped * (1.0 + evening.meter_gain_ratio) * (1.0 + range_gain) * noise
        step = full_scale / evening.meter_counts
        shown = as_shown(reading, step)
        if shown < full_scale:
            return shown, step, current
    raise InputError(f"the meter has no range for {true_ohm:.0f} ohm", do="give it a higher one")


@dataclass(frozen=True, slots=True, kw_only=True)
class _Stop:
    """One stop of the evening, with what it needs to be read."""

    stage: Stage
    evening: Evening
    truth: Truth
    draws: _Draws
    boiled: bool

    def fixed_rows(self) -> list[SimulatedRow]:
        """Read all probes a few times in ice or steam, where nothing moves with time."""
        evening, stage = self.evening, self.stage
        medium = self.truth.fixed_c[stage.label]
        wait = evening.ice_wait_s if stage.kind == "ice" else evening.steam_wait_s
        rows = []
        for n in range(evening.fixed_readings):
            time = stage.start_s + wait + n * evening.fixed_interval_s
            signals = tuple(self._signal(p, medium, f"{stage.label} {n}") for p in self.truth.probes)
            rows.append(self._row(n, time, medium, None, signals))
        return rows

    def bath_rows(self) -> list[SimulatedRow]:
        """Read reference, probes, reference, probes back, reference, while the bath cools."""
        order: list[TrueProbe | None] = [None]
        for n in range(self.evening.bath_passes):
            order += (self.truth.probes, self.truth.probes[::-1])[n % 2]
            order.append(None)
        start = self.stage.temperature_c + self.draws.normal(f"mixing {self.stage.label}", self.evening.u_bath_start_c)
        rows = []
        for n, probe in enumerate(order):
            elapsed = self.evening.bath_wait_s + n * self.evening.bath_interval_s
            gradient = self.truth.gradient_c[self.stage.label]
            medium = self._bath_c(elapsed, start, 0.0) + gradient
            if probe is None:
                felt = self._bath_c(elapsed, start, self.evening.reference_time_constant_s)
                shown = self._reference_shows(felt, n)
                rows.append(self._row(n, self.stage.start_s + elapsed, medium, shown, ()))
            else:
                felt = self._bath_c(elapsed, start, probe.time_constant_s) + gradient
                signal = self._signal(probe, felt, f"{self.stage.label} {n}")
                rows.append(self._row(n, self.stage.start_s + elapsed, medium, None, (signal,)))
        return rows

    def _bath_c(self, elapsed_s: float, start_c: float, sensor_time_constant_s: float) -> float:
        return lagging_c(
            elapsed_s=elapsed_s,
            start_c=start_c,
            room_c=self.evening.room_temperature_c,
            bath_time_constant_s=self.evening.bath_time_constant_s,
            sensor_time_constant_s=sensor_time_constant_s,
        )

    def _reference_shows(self, felt_c: float, n: int) -> float:
        slope = self.truth.reference_slope_ratio * (felt_c - self.evening.room_temperature_c)
        noise = self.draws.normal(f"reference noise {self.stage.label} {n}", self.evening.u_reference_noise_c)
        return as_shown(felt_c + self.truth.reference_bias_c + slope + noise, self.evening.reference_resolution_c)

    def _signal(self, probe: TrueProbe, felt_c: float, tag: str) -> SimulatedSignal:
        """Read one probe that feels `felt_c` before conduction, unevenness and the meter's own warmth."""
        evening, kind = self.evening, self.stage.kind
        uneven = {
            "ice": evening.u_ice_probe_c,
            "bath": evening.u_gradient_probe_c,
            "steam": evening.u_steam_probe_c,
        }
        visit = f"{self.stage.label} {probe.name}"
        sensor = (
            felt_c
            - probe.stem_ratio * (felt_c - evening.room_temperature_c)
            + self.draws.normal(f"uneven {visit}", uneven[kind])
            + self.draws.normal(f"repeat {visit}", evening.u_repeat_c)
            + (self.truth.cycling_c[probe.name] if self.boiled else 0.0)
        )
        full_tag = f"{tag} {probe.name}"
        cold = float(probe.resistance_ohm(sensor))
        _, _, current = _meter_shows(cold, full_tag, evening, self.draws)
        cooling = evening.steam_dissipation_ratio if kind == "steam" else 1.0
        dissipation = probe.dissipation_w_per_k * cooling
        warmed = current**2 * cold / dissipation
        true = float(probe.resistance_ohm(sensor + warmed))
        shown, step, current = _meter_shows(true, full_tag, evening, self.draws)
        return SimulatedSignal(
            probe=probe.name,
            shown_ohm=shown,
            resolution_ohm=step,
            true_ohm=true,
            sensor_c=sensor,
            self_heating_c=warmed,
            current_a=current,
        )

    def _row(
        self,
        n: int,
        time_s: float,
        medium_c: float,
        reference_c: float | None,
        signals: tuple[SimulatedSignal, ...],
    ) -> SimulatedRow:
        glance = self.draws.within(f"clock {self.stage.label} {n}", self.evening.half_clock_s)
        return SimulatedRow(
            point=self.stage.label,
            kind=self.stage.kind,
            clock_s=as_shown(self.evening.start_time_s + time_s + glance, 1.0),
            time_s=time_s,
            medium_c=medium_c,
            reference_c=reference_c,
            signals=signals,
        )
