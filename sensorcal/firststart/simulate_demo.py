"""The first start of the invented scenario: one healthy log, the same start with faults, an event list; for `data/`."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import numpy as np

from sensorcal.bench.scenario import COOLANT_LIMIT_C, ELEVATION_M, OIL_LIMIT_C, PROBE_J_TABLE, QNH_PA
from sensorcal.engine import PRESSURES, TEMPERATURES
from sensorcal.errors import FileError
from sensorcal.firststart.simulate import SimulatedStart, simulate_start
from sensorcal.firststart.simulate_faults import Fault
from sensorcal.firststart.simulate_files import LogDialect, log_text
from sensorcal.firststart.simulate_plan import plan_of
from sensorcal.firststart.simulate_scenario import (
    INVENTED,
    TAGS,
    Day,
    Electrics,
    Motor,
    Outing,
    Panel,
    Recording,
    StartCase,
    setup_of,
)
from sensorcal.setup import Setup
from sensorcal.setupfile import setup_text

SEED = 20_260_620
FOLDER = "starts"
_HEAD = "# Invented data: no measurement, no real engine."

DEMO_FAULTS: dict[str, Fault | None] = {
    "healthy.csv": None,
    "coolant-joint.csv": Fault(
        kind="contact_resistance", channel="coolant", size={"series_ohm": 10.0, "jitter_ratio": 0.04}, seed=1
    ),
    "loose-strap.csv": Fault(
        kind="ground_offset", channel="multiple", channels=("coolant", "oil_pressure", "fuel_pressure"),
        size={"strap_ohm": 0.010},
    ),
    "map-hose-off.csv": Fault(kind="map_hose_off", channel="map", size={"ripple_pa": 250.0}, seed=2),
    "oil-falling.csv": Fault(
        kind="low_oil_pressure_real", channel="oil_pressure", size={"flow_ratio": 0.25, "fall_s": 40.0}, from_s=560.0
    ),
}  # fmt: skip
"""Each log of the demo and what was put into it."""

_EVENTS = (
    ("master", "rest", 5.0), ("pump", "pump", 8.0), ("crank", "crank", 1.0),
    ("5 s", "fires", 5.0), ("10 s", "fires", 10.0), ("30 s", "fires", 30.0), ("1 min", "fires", 60.0),
    ("2 min", "fires", 120.0), ("5 min", "fires", 300.0), ("10 min", "fires", 600.0),
    ("stop", "stop", 0.0), ("+10 s", "stop", 10.0), ("+3 min", "stop", 180.0),
)  # fmt: skip


def demo_case() -> StartCase:
    """Give the healthy start of the scenario: 640 m, QNH 1009 hPa, 14 degC, probes like J, 1 kohm to 5 V, ten bits.

    Examples
    --------
    >>> round(demo_case().day.station_pa)
    93470
    """
    same = dict.fromkeys
    nil = same((*TEMPERATURES, *PRESSURES), 0.0)
    return StartCase(
        seed=SEED,
        sparse=False,
        day=Day(
            elevation_m=ELEVATION_M, elevation_typed_m=ELEVATION_M, qnh_pa=QNH_PA, qnh_typed_pa=QNH_PA, oat_c=14.0,
            drift_k=0.3, hangar_k=1.5, sun_k=same(TEMPERATURES, 0.0), hot=False, block_c=15.5, gearbox_c=15.5,
            bay_c=15.2,
        ),
        motor=Motor(
            idle_rpm=1700.0, warm_rpm=2300.0, run_rpm=4000.0, full_rpm=5200.0, idle_map_pa=36e3, warm_map_pa=43e3,
            run_map_pa=68e3, full_map_pa=132e3, throttle_s=0.8, wander_ratio=0.01, turbo_lag_s=1.2, hunting_rpm=0.0,
            hunting_period_s=4.0, cold_idle_rpm=150.0, pulsation_pa=200.0, boost_ripple_pa=500.0, thermostat_c=86.0,
            thermostat_stuck=0.0, block_j_k=36e3, heat_w=37e3, friction_w=2.5e3, radiator_w_k=1500.0,
            block_loss_w_k=18.0, gearbox_j_k=9e3, gearbox_link_w_k=22.0, gearbox_loss_w_k=8.0, gearbox_heat_w=300.0,
            head_soak_k=9.0, compressor_ratio=0.66, cooler_ratio=0.65, intake_share=0.35, bay_rise_k=12.0,
            soak_share=0.38, oil_40_cst=95.0, oil_100_cst=13.5, oil_hot_idle_pa=220e3, oil_relief_pa=450e3,
            oil_relief_slope=25e3, oil_prime_s=0.9, oil_fill_s=0.9, oil_drain_s=1.5, oil_ripple_pa=2e3,
            fuel_set_pa=300e3, fuel_reference="open air", fuel_aux_pa=0.0, fuel_droop_pa=3e3, fuel_up_s=0.5,
            fuel_residual_pa=0.0,
            fuel_decay_s=180.0, fuel_soak_pa=15e3, fuel_ripple_pa=1e3,
        ),
        electrics=Electrics(
            rest_v=12.7, crank_v=10.2, dip_v=0.8, charge_v=14.1, idle_droop_v=0.3, excited_rpm=0.0,
            pump_step_v=0.12, crank_a=200.0,
            load_a=12.0, recharge_a=15.0,
        ),
        panel=Panel(
            # The quadratic in 1/T nearest to probe J: within 0.17 degC of its twelve points.
            ohm_25=1800.0, beta_k=3506.7, curvature_k2=-2.030e5, pull_up_ohm=1000.0, bits=10,
            scale_error={"coolant": 0.004, "gearbox_oil": -0.006, "charge_in": 0.008, "charge_out": 0.005},
            offset_k=same(TEMPERATURES, 0.0), air_w_per_k=0.003, liquid_w_per_k=0.02,
            lag_s={
                "coolant": 8.0, "gearbox_oil": 10.0, "charge_in": 7.0, "charge_out": 7.0, "oil_pressure": 0.2,
                "fuel_pressure": 0.2, "map": 0.1, "oat": 20.0,
            },
            low_pa=same(PRESSURES, 0.0), high_pa={"oil_pressure": 1e6, "fuel_pressure": 6e5, "map": 250e3},
            zero_pa={"oil_pressure": 2e3, "fuel_pressure": -1e3, "map": 400.0}, span_ratio=nil,
            hot_pa={"oil_pressure": 4e3, "fuel_pressure": -2e3, "map": 0.0},
            step={
                **same(TEMPERATURES, 0.1), "oil_pressure": 1e3, "fuel_pressure": 1e3, "map": 100.0, "rpm": 10.0,
                "bus": 0.1, "oat": 0.1,
            },
            noise={
                **same(TEMPERATURES, 0.05), "oil_pressure": 500.0, "fuel_pressure": 300.0, "map": 80.0, "rpm": 6.0,
                "bus": 0.02, "oat": 0.1,
            },
            open_shows="bottom", short_shows="top", pressure_open_v=0.0, pressure_rail_blank=False,
            scale_c=(-40.0, 150.0), clamps_zero=False,
        ),
        outing=Outing(
            rest_s=40.0, pump_s=12.0, cranks_s=(2.4,), pauses_s=(), idle_s=50.0, warm_s=480.0,
            taxi_s=(), run_ups=((25.0, 15.0),), between_s=40.0, cool_s=60.0, pump_off_s=1.0, soak_s=200.0,
            checks=False, loads_s=((120.0, 20.0),),
        ),
        recording=Recording(
            rate_hz=1.0, jitter=0.0, begins="rest", ends="soak", blank_ratio=0.0, lost_ratio=0.0,
            update_s=0.0, gap_s=(0.0, 0.0), brown_out_s=0.0,
            clock_restarts=False, channels=(*TEMPERATURES, *PRESSURES, "rpm", "bus", "oat"),
        ),
        limits={
            "coolant": (None, COOLANT_LIMIT_C), "gearbox_oil": (None, OIL_LIMIT_C), "oil_pressure": (120e3, 900e3),
            "fuel_pressure": (230e3, 380e3), "map": (None, 145e3),
        },
    )  # fmt: skip


def demo_setup() -> Setup:
    """Give the setup of the demo's starts: that of the case, with the maker's sheet of probe J."""
    setup = setup_of(demo_case())
    probes = {
        tag: dataclasses.replace(probe, sheet=PROBE_J_TABLE) if tag in {TAGS[c] for c in TEMPERATURES} else probe
        for tag, probe in setup.probes.items()
    }
    return dataclasses.replace(setup, probes=probes)


def start_files() -> dict[str, str]:
    """Give the text of every demo start by its path within the folder.

    Returns
    -------
    dict of str to str
        Path to text with plain line feeds.

    References
    ----------
    Invented; no source.

    Examples
    --------
    >>> sorted(start_files())[0]
    'starts/README.md'
    """
    case = demo_case()
    starts = {name: simulate_start(case, fault) for name, fault in DEMO_FAULTS.items()}
    dialect = LogDialect(preamble=(_HEAD,))
    files = {name: log_text(start.log, dialect=dialect) for name, start in starts.items()}
    files["events.csv"] = _events(starts["healthy.csv"])
    files["setup.toml"] = setup_text(demo_setup())
    files["README.md"] = _readme(starts)
    return {f"{FOLDER}/{name}": text for name, text in files.items()}


def write_starts(directory: str | Path, *, overwrite: bool = False) -> list[Path]:
    """Write the demo's first starts into the folder `starts` of a directory.

    Parameters
    ----------
    directory : path
        Made where it does not exist. UTF-8 and plain line feeds on every system.
    overwrite : bool, optional
        True replaces files that differ; otherwise nothing of the user's is touched.

    Returns
    -------
    list of Path
        The files, sorted.

    Raises
    ------
    FileError
        If a file of that name exists with other content; nothing is written then.
    """
    content = {Path(directory) / name: text.encode("utf-8") for name, text in start_files().items()}
    for path, data in content.items():
        if not overwrite and path.exists() and path.read_bytes() != data:
            raise FileError("the file exists and is not the demo's", do="choose an empty folder", file=str(path))
    for path, data in content.items():
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)
    return sorted(content)


def _events(start: SimulatedStart) -> str:
    """The healthy start as somebody would type it from a phone recording."""
    plan = plan_of(start.case)
    origin = {
        "rest": 0.0, "pump": plan.pump_on_s, "crank": plan.cranks[0][0], "fires": plan.fires_s, "stop": plan.stop_s,
    }  # fmt: skip
    names = ("coolant", "gearbox_oil", "charge_in", "charge_out", "oil_pressure", "fuel_pressure", "map", "bus")
    dialect = LogDialect()
    lines = [_HEAD, ",".join(["event", *(dialect.heading(name) for name in names)])]
    for label, mark, later in _EVENTS:
        moment = origin[mark] + later
        if mark == "fires" and moment > plan.stop_s:
            continue
        row = int(np.argmin(np.abs(start.log.time_s - moment)))
        cells = []
        for name in names:
            value = float(start.log.values[name][row])
            shown = value / 1e3 if name in PRESSURES else value
            cells.append(f"{shown:.1f}" if name == "bus" else f"{shown:.0f}")
        lines.append(",".join([label, *cells]))
    return "\n".join(lines) + "\n"


def _readme(starts: dict[str, SimulatedStart]) -> str:
    rows = []
    for name, start in starts.items():
        fault = start.fault
        if fault is None:
            what = "nothing: a healthy first start"
        else:
            size = ", ".join(f"{key} {value:g}" for key, value in fault.size.items())
            since = f", from {fault.from_s:g} s" if fault.from_s else ""
            what = f"{fault.kind} in {', '.join(fault.channels)}: {size}{since}"
            what += f"; effect {start.effect:.1f} ({start.bucket})"
        rows.append(f"| `{name}` | {what} |")
    case = demo_case()
    motor, day, panel, power = case.motor, case.day, case.panel, case.electrics
    kpa = {
        name: f"{value / 1e3:g}"
        for name, value in (
            ("hot idle", motor.oil_hot_idle_pa), ("relief", motor.oil_relief_pa), ("fuel", motor.fuel_set_pa),
            ("idle", motor.idle_map_pa), ("boost", motor.full_map_pa), ("oil zero", panel.zero_pa["oil_pressure"]),
            ("map zero", panel.zero_pa["map"]),
        )
    }  # fmt: skip
    return _README.format(
        invented=INVENTED, seed=SEED, table="\n".join(rows), motor=motor, day=day, power=power, kpa=kpa,
        qnh=day.qnh_pa / 100.0, block=motor.block_j_k / 1e3, heat=motor.heat_w / 1e3, gearbox=motor.gearbox_j_k / 1e3,
    )  # fmt: skip


_README = """# Invented first starts

{invented}
Written by `sensorcal.firststart.simulate_demo.write_starts`, seed {seed}; a test compares every byte. Do not edit by
hand. Each log is the same start, with the same random draws; only what the table says was put in.

| file | put in |
|---|---|
{table}
| `events.csv` | the healthy start as typed from a phone recording |
| `setup.toml` | what the builder knew |

Effect: 95th percentile of the difference from the healthy log on the worst channel, in tolerances (3 °C; oil 20,
fuel 12, manifold 2 kPa): unseen below 0.5, faint 1.5, mild 3, clear 8, gross.

## Model

Home units; every figure that is not a law is an estimate, or common practice without source.

- Air of the field: {day.elevation_m:g} m, QNH {qnh:g} hPa, {day.oat_c:g} °C; the engine {day.hangar_k:g} K warmer from
  its hangar.
- Block with coolant, radiator behind a thermostat ({motor.thermostat_c:g} °C, band 10 K), gearbox oil, engine oil, bay,
  turbo, charge duct and cooler: lumped heat balances C dT/dt = heat in - UA (T - T_air), steps of two seconds.
  Block {block:g} kJ/K; heat {heat:g} kW at 100 kPa and 5500 1/min; gearbox oil {gearbox:g} kJ/K.
- Charge: compressor law with efficiency {motor.compressor_ratio:g}, duct lag 3 s, effectiveness {motor.cooler_ratio:g};
  at low flow the probes are pulled towards the wall (0.05 of the difference at full flow, 0.5 at idle).
- After the stop the head rises by up to {motor.head_soak_k:g} K; the bay takes {motor.soak_share:g} of the
  block's excess.
- Oil: displacement pump against bearings (laminar) and orifices, half and half at hot idle ({kpa[hot idle]} kPa),
  relief at {kpa[relief]} kPa; {motor.oil_40_cst:g} and {motor.oil_100_cst:g} cSt at 40 and 100 °C by ASTM D341
  (form from memory).
- Fuel: {kpa[fuel]} kPa above the open air. Manifold: idle {kpa[idle]}, boost {kpa[boost]} kPa behind a turbo lag of
  {motor.turbo_lag_s:g} s.
- Bus: rest {power.rest_v:g} V, crank {power.crank_v:g} V at {power.crank_a:g} A, charging {power.charge_v:g} V.
- Probes of 1800 Ω at 25 °C, the quadratic of ln R in 1/T nearest to probe J (within 0.17 °C), 1 kΩ to 5 V, ten bits;
  left-over errors of calibration up to 0.8 % of R, {kpa[oil zero]} kPa oil, {kpa[map zero]} kPa manifold;
  self-heating over 3 mW/K in still air.
"""
