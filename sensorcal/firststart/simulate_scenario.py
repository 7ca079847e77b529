"""An invented first start as data: the day, the engine, the panel, the outing, the logger's habits, and the setup.

Nothing here was measured. The ranges are those of a careful description of such engines; beside each stands whether it
is an estimate or *common practice, no source* (CP). The engine maker's manual rules; limits are examples.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from sensorcal.engine import PRESSURES, TEMPERATURES, ChannelLimits, Engine
from sensorcal.monitorsetup import MonitorSetup
from sensorcal.physics.altimeter import station_pressure_pa
from sensorcal.physics.curves import SteinhartHart
from sensorcal.setup import Field, Probe, Setup
from sensorcal.transducer import Transducer

INVENTED = (
    "Invented data, made by the seeded simulator of first starts; nothing here was measured. The limits are examples."
)
TAGS = {
    "coolant": "P1", "gearbox_oil": "P2", "charge_in": "P3", "charge_out": "P4",
    "oil_pressure": "O1", "fuel_pressure": "F1", "map": "M1",
}  # fmt: skip
ROLES = {
    "coolant": "coolant", "gearbox_oil": "gearbox oil", "charge_in": "charge air before the cooler",
    "charge_out": "charge air after the cooler", "oil_pressure": "oil pressure", "fuel_pressure": "fuel pressure",
    "map": "manifold pressure",
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Day:
    """Field and weather, and what the engine starts from.

    Parameters
    ----------
    elevation_m, qnh_pa, qnh_typed_pa : float
        The true altimeter setting, and the one the builder typed in whole hPa from a report of the last hour.
    elevation_typed_m : float
    oat_c, humid_k : float
        Outside air, and its slow drift over the outing, K.
    hangar_k : float
        How much warmer than the air a hangared engine still is, 0 to 8 K (CP).
    sun_k : mapping of channel to float
        Warmth of the sunny side, K (CP: spread within 2 K).
    hot : bool
        A hot restart, or a preheated block: block, gearbox and bay begin at `block_c`, `gearbox_c`, `bay_c`.
    """

    elevation_m: float
    elevation_typed_m: float
    qnh_pa: float
    qnh_typed_pa: float
    oat_c: float
    drift_k: float
    hangar_k: float
    sun_k: Mapping[str, float]
    hot: bool
    block_c: float
    gearbox_c: float
    bay_c: float

    @property
    def station_pa(self) -> float:
        """True air pressure at the field, Pa."""
        return float(station_pressure_pa(self.qnh_pa, self.elevation_m))


@dataclass(frozen=True, slots=True, kw_only=True)
class Motor:
    """The invented engine: liquid-cooled, geared, turbocharged, charge-cooled; every figure an estimate.

    Speeds in 1/min, pressures in Pa (manifold absolute, oil and fuel gauge), heat capacities in J/K, heat flows in W,
    conductances in W/K, times in s.
    """

    idle_rpm: float
    warm_rpm: float
    run_rpm: float
    full_rpm: float
    idle_map_pa: float
    warm_map_pa: float
    run_map_pa: float
    full_map_pa: float
    throttle_s: float
    wander_ratio: float
    turbo_lag_s: float
    hunting_rpm: float
    hunting_period_s: float
    cold_idle_rpm: float
    pulsation_pa: float
    boost_ripple_pa: float
    thermostat_c: float
    thermostat_stuck: float
    block_j_k: float
    heat_w: float
    friction_w: float
    radiator_w_k: float
    block_loss_w_k: float
    gearbox_j_k: float
    gearbox_link_w_k: float
    gearbox_loss_w_k: float
    gearbox_heat_w: float
    head_soak_k: float
    compressor_ratio: float
    cooler_ratio: float
    intake_share: float
    bay_rise_k: float
    soak_share: float
    oil_40_cst: float
    oil_100_cst: float
    oil_hot_idle_pa: float
    oil_relief_pa: float
    oil_relief_slope: float
    oil_prime_s: float
    oil_fill_s: float
    oil_drain_s: float
    oil_ripple_pa: float
    fuel_set_pa: float
    fuel_reference: str
    fuel_aux_pa: float
    fuel_droop_pa: float
    fuel_up_s: float
    fuel_residual_pa: float
    fuel_decay_s: float
    fuel_soak_pa: float
    fuel_ripple_pa: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Electrics:
    """Battery, starter and alternator: V and A; the alternator wakes when first `excited_rpm` is reached."""

    rest_v: float
    crank_v: float
    dip_v: float
    charge_v: float
    idle_droop_v: float
    excited_rpm: float
    pump_step_v: float
    crank_a: float
    load_a: float
    recharge_a: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Panel:
    """Sensors, circuits and monitor, with the small errors of honest calibration.

    Parameters
    ----------
    ohm_25, beta_k, curvature_k2 : float
        The thermistors: ln(R/R25) = beta z + curvature z²/2 with z = 1/T - 1/298.15 K.
    pull_up_ohm, supply_v, bits : float
        Circuit of the four thermistor inputs; the supply is 5 V.
    scale_error, offset_k : mapping of channel to float
        What is left of each temperature calibration: relative, in ohms, and in K.
    air_w_per_k, liquid_w_per_k : float
        Self-heating, power for 1 K: 2 to 4 mW/K in still air, ten times that in liquid (CP).
    lag_s : mapping of channel to float
        Time constant of each sensor in its medium.
    high_pa, low_pa : mapping of channel to float
        Ends of the pressure sensors' lines, at 10 and 90 % of the supply.
    zero_pa, span_ratio, hot_pa : mapping of channel to float
        What is left of each pressure calibration: zero, span, and zero with a body 60 K warmer.
    step : mapping of channel to float
        Display steps, degC, Pa, 1/min, V.
    noise : mapping of channel to float
        Standard deviation of the display before its step.
    open_shows, short_shows : {'bottom', 'blank'}, {'top', 'blank'}
        What the monitor shows at a rail of a thermistor input.
    pressure_open_v : float
        Where an open pressure input is pulled to, V; `pressure_rail_blank` tells that a rail is shown as a blank.
    scale_c : (float, float)
        Ends of the temperature scale.
    clamps_zero : bool
        True where a pressure below zero is shown as zero.
    """

    ohm_25: float
    beta_k: float
    curvature_k2: float
    pull_up_ohm: float
    bits: int
    scale_error: Mapping[str, float]
    offset_k: Mapping[str, float]
    air_w_per_k: float
    liquid_w_per_k: float
    lag_s: Mapping[str, float]
    low_pa: Mapping[str, float]
    high_pa: Mapping[str, float]
    zero_pa: Mapping[str, float]
    span_ratio: Mapping[str, float]
    hot_pa: Mapping[str, float]
    step: Mapping[str, float]
    noise: Mapping[str, float]
    open_shows: str
    pressure_open_v: float
    pressure_rail_blank: bool
    short_shows: str
    scale_c: tuple[float, float]
    clamps_zero: bool

    @property
    def curve(self) -> SteinhartHart:
        """The thermistors' curve as the monitor knows it: through three points of the sheet."""
        return _curve(self.ohm_25, self.beta_k, self.curvature_k2)

    def sheet_ohm(self, temperature_c: np.ndarray) -> np.ndarray:
        """Resistance of the maker's sheet at temperatures in degC, ohm."""
        return _sheet_ohm(self.ohm_25, self.beta_k, self.curvature_k2, temperature_c)


def _sheet_ohm(ohm_25: float, beta_k: float, curvature_k2: float, temperature_c: np.ndarray) -> np.ndarray:
    z = 1.0 / (np.asarray(temperature_c, dtype=float) + 273.15) - 1.0 / 298.15
    return np.asarray(ohm_25 * np.exp(beta_k * z + 0.5 * curvature_k2 * z * z))


@lru_cache(maxsize=64)
def _curve(ohm_25: float, beta_k: float, curvature_k2: float) -> SteinhartHart:
    points = np.array([-20.0, 40.0, 120.0])
    return SteinhartHart.through_points(points, _sheet_ohm(ohm_25, beta_k, curvature_k2, points))


@dataclass(frozen=True, slots=True, kw_only=True)
class Outing:
    """What the pilot does, in s: rest, pump, crank, idle, warm-up, run-ups, idle, stop, soak.

    `cranks` are the lengths of each crank; the engine fires at the end of the last one, after `pauses_s` between.
    `run_ups` are (seconds at run-up speed, seconds at full power), with `between_s` of idle after each; `checks` tells
    that each ignition is tried in them.
    """

    rest_s: float
    pump_s: float
    cranks_s: tuple[float, ...]
    pauses_s: tuple[float, ...]
    idle_s: float
    warm_s: float
    taxi_s: tuple[tuple[float, float], ...]
    run_ups: tuple[tuple[float, float], ...]
    between_s: float
    cool_s: float
    pump_off_s: float
    soak_s: float
    checks: bool
    loads_s: tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Recording:
    """Habits of the logger.

    Parameters
    ----------
    rate_hz, jitter : float
        Rows a second, and the spread of their times as a share of the step.
    begins : {'rest', 'pump', 'crank', 'running'}
    ends : {'soak', 'stop', 'running'}
    blank_ratio, lost_ratio : float
        Shares of single cells left blank and of rows missing, legitimately.
    update_s : float
        The monitor renews its numbers this often; a faster logger writes them several times.
    gap_s : (float, float)
        One pause of the logger: its begin as a share of the log, and its length.
    brown_out_s : float
        Length of the gap while cranking; 0 for none.
    clock_restarts : bool
        True where the logger's clock begins anew after the brown-out.
    channels : tuple of str
        Columns that are logged.
    """

    rate_hz: float
    jitter: float
    begins: str
    ends: str
    blank_ratio: float
    lost_ratio: float
    update_s: float
    gap_s: tuple[float, float]
    brown_out_s: float
    clock_restarts: bool
    channels: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class StartCase:
    """One invented first start, healthy: everything that `simulate_start` needs.

    `seed` fixes noise and ripple, so that a start with a fault and its twin without differ by the fault alone.
    `sparse` tells that the setup given to the judge states the field and the limits only.
    """

    seed: int
    day: Day
    motor: Motor
    electrics: Electrics
    panel: Panel
    outing: Outing
    recording: Recording
    limits: Mapping[str, tuple[float | None, float | None]]
    sparse: bool

    @property
    def setup(self) -> Setup:
        """What the builder wrote down; without the engine's figures and the sensors' sheets where sparse."""
        return setup_of(self)


def setup_of(case: StartCase) -> Setup:
    """Give what the builder wrote down of a case.

    Examples
    --------
    >>> import numpy as np
    >>> from sensorcal.firststart.simulate_cases import draw_case
    >>> sorted(setup_of(draw_case(np.random.default_rng(1))).limits)[0]
    'coolant'
    """
    day, motor, panel = case.day, case.motor, case.panel
    field = Field(
        name="invented field",
        elevation_m=day.elevation_typed_m,
        qnh_pa=day.qnh_typed_pa,
        station_elevation_m=day.elevation_typed_m,
        air_temperature_c=None if case.sparse else float(np.round(day.oat_c)),
    )
    limits = {name: ChannelLimits(name=name, low=low, high=high) for name, (low, high) in case.limits.items()}
    if case.sparse:
        return Setup(field=field, limits=limits, note=INVENTED)
    at = np.array([-20.0, 0.0, 25.0, 50.0, 80.0, 100.0, 120.0, 150.0])
    sheet = tuple(zip(at.tolist(), np.round(panel.sheet_ohm(at), 1).tolist(), strict=True))
    probes = {
        TAGS[channel]: Probe(name=TAGS[channel], role=ROLES[channel], sheet=sheet) for channel in TEMPERATURES
    } | {
        TAGS[channel]: Probe(
            name=TAGS[channel], role=ROLES[channel], measurand="pressure", signal="ratio", model="line",
            range_low=panel.low_pa[channel], range_high=panel.high_pa[channel],
        )
        for channel in PRESSURES
    }  # fmt: skip
    transducers = {
        TAGS[channel]: Transducer(
            name=TAGS[channel], kind="absolute" if channel == "map" else "gauge",
            low_pa=panel.low_pa[channel], high_pa=panel.high_pa[channel], supply_v=5.0,
        )
        for channel in PRESSURES
    }  # fmt: skip
    engine = Engine(
        name="invented engine",
        fuel_reference=motor.fuel_reference,
        fuel_set_pa=float(np.round(motor.fuel_set_pa, -3)),
        oil_warm_pa=float(np.round(motor.oil_relief_pa, -4)),
        idle_rpm=float(np.round(motor.idle_rpm, -2)),
        idle_map_pa=float(np.round(motor.idle_map_pa, -3)),
        thermostat_c=float(np.round(motor.thermostat_c)),
        cap_pressure_pa=100e3,
    )
    return Setup(
        field=field, probes=probes, transducers=transducers, engine=engine, limits=limits, note=INVENTED,
        monitor=MonitorSetup(pull_up_ohm=panel.pull_up_ohm, supply_v=5.0, bits=panel.bits),
    )  # fmt: skip
