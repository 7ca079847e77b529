"""The pressure part of the demo folder: oil, fuel and manifold sensor, a leak, and what was put in; all invented."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from sensorcal.bench.runfile import run_bytes
from sensorcal.bench.simulate_pressure import (
    PressureBench,
    PressureStop,
    TrueTransducer,
    simulate_pressure,
    up_and_down,
)
from sensorcal.setup import Field, Probe, Reference, Setup
from sensorcal.setupfile import setup_text
from sensorcal.transducer import Transducer

FOLDER = "pressure"
INVENTED = "# Invented data: no measurement, no real sensor."
SEED = 20_260_516
OIL = TrueTransducer(
    name="O1",
    zero_ratio=0.1015,
    span_ratio=0.797,
    bow_pa=900.0,
    loop_pa=2_100.0 / 0.96,
    zero_pa_per_k=70.0,
    span_pa_per_k=-40.0,
    repeat_pa=400.0,
)
FUEL = TrueTransducer(
    name="F1",
    high_pa=600_000.0,
    zero_ratio=0.0992,
    span_ratio=0.801,
    loop_pa=900.0,
    sealed_pa=101_325.0,
    repeat_pa=200.0,
)
MAP = TrueTransducer(
    name="M1", high_pa=250_000.0, zero_ratio=0.1031, span_ratio=0.7985, loop_pa=200.0, sealed_pa=0.0, repeat_pa=40.0
)
AIR_PA = 93_470.0
LEAK_TIME_CONSTANT_S = 2_400.0
_BENCH = PressureBench(
    supply_v=4.93, supply_drift_v_per_s=-8e-6, air_pa=AIR_PA, gauge_step_pa=500.0, pointer_pa=1_000.0
)
_EVENING_S = 19.0 * 3600.0
_DATE = "2026-05-16"


def pressure_setup() -> Setup:
    """Give the setup of the pressure evening."""
    gauges = (
        Reference(identifier="G1", kind="gauge", limits=5_000.0, certificate="none"),
        Reference(identifier="G2", kind="gauge", limits=2_000.0, certificate="none"),
        Reference(identifier="G3", kind="gauge", limits=1_000.0, certificate="none"),
    )
    roles = (("O1", "oil pressure", 0.0, 1e6), ("F1", "fuel pressure", 0.0, 4e5), ("M1", "manifold pressure", 3e4, 2e5))
    return Setup(
        field=Field(name="invented field", elevation_m=640.0, qnh_pa=100_900.0, station_elevation_m=610.0),
        references={gauge.identifier: gauge for gauge in gauges},
        probes={
            tag: Probe(
                name=tag,
                role=role,
                measurand="pressure",
                signal="voltage",
                model="line",
                range_low=low,
                range_high=high,
            )
            for tag, role, low, high in roles
        },
        transducers={
            "O1": Transducer(name="O1"),
            "F1": Transducer(name="F1", kind="sealed", high_pa=600_000.0),
            "M1": Transducer(name="M1", kind="absolute", high_pa=250_000.0),
        },
        note="Invented data: scenario of the pressure evening",
    )


def pressure_files() -> dict[str, str]:
    """Give the text of every pressure file of the demo by its path within the folder.

    Returns
    -------
    dict of str to str
        Forward-slash path to text with plain line feeds.

    References
    ----------
    Invented; no source.

    Examples
    --------
    >>> sorted(pressure_files())[0]
    'pressure/2026-05-16-fuel.csv'
    """
    hot = [
        PressureStop(pressure_pa=p, direction="up", body_c=c)
        for c in (20.0, 70.0)
        for p in (0.0, 400e3)
        for _ in range(2)
    ]
    oil_plan = (*(replace(s, body_c=20.0) for s in up_and_down(1e6, cycles=2)), *hot)
    vacuum = PressureBench(
        supply_v=5.0, supply_drift_v_per_s=-4e-6, air_pa=AIR_PA, gauge_step_pa=200.0, pointer_pa=300.0,
        gauge_level_pa=150.0, gauge_top_pa=100_000.0,
    )  # fmt: skip
    fuel_bench = replace(
        _BENCH, gauge_step_pa=200.0, pointer_pa=400.0, gauge_level_pa=500.0, gauge_scale_pa=-300.0,
        gauge_top_pa=400_000.0, leak_time_constant_s=LEAK_TIME_CONSTANT_S,
    )  # fmt: skip
    oil_bench = replace(_BENCH, gauge_level_pa=1_200.0, gauge_scale_pa=-900.0)
    plans = {
        "oil": (OIL, oil_bench, oil_plan, "G1", "oil transducer, two cycles, then bagged in 20 and 70 °C water"),
        "fuel": (FUEL, fuel_bench, up_and_down(400e3), "G2", "fuel transducer, sealed gauge; the hose leaks"),
        "map": (MAP, vacuum, up_and_down(100e3, low_pa=-60e3, points=9), "G3", "manifold sensor, vacuum and pressure"),
    }
    files = {f"{FOLDER}/setup.toml": setup_text(pressure_setup())}
    for n, (name, (sensor, bench, plan, gauge, words)) in enumerate(plans.items()):
        run = simulate_pressure(sensor, bench, plan, seed=SEED + n)
        rows = tuple(
            replace(r, reference_id=gauge, time_s=_EVENING_S + 3600.0 * n + (r.time_s or 0.0)) for r in run.readings
        )
        commented = replace(run, readings=rows, date=_DATE, comments=((1, INVENTED), (2, f"# {words}")))
        files[f"{FOLDER}/{_DATE}-{name}.csv"] = run_bytes(commented).decode("utf-8")
    files[f"{FOLDER}/leak-down.csv"] = _leak_text()
    files[f"{FOLDER}/README.md"] = _readme()
    return files


def _leak_text() -> str:
    """Gauge pressure of the shut fuel hose, every half minute."""
    generator = np.random.default_rng(SEED + 10)
    lines = [INVENTED, "# Shut hose of the fuel bench after pumping, gauge G2.", "time [s],gauge [kPa]"]
    for n in range(13):
        time_s = 30.0 * n
        warm = 6_000.0 * math.exp(-time_s / 8.0)  # pumped air is warm and cools within half a minute
        pressure = 350_000.0 * math.exp(-time_s / LEAK_TIME_CONSTANT_S) + warm + float(generator.uniform(-400.0, 400.0))
        lines.append(f"{time_s:g},{round(pressure / 200.0) * 0.2:.1f}")
    return "\n".join(lines) + "\n"


def _readme() -> str:
    """Say what stands in the folder and what was put in."""
    rows = "\n".join(
        f"| {t.name} | 0-{t.high_pa / 1000:g} kPa {kind} | {t.zero_ratio} | {t.span_ratio} | {t.bow_pa / 1000:g} | "
        f"{t.loop_pa / 1000:.3g} | {t.zero_pa_per_k:g} / {t.span_pa_per_k:g} | {t.repeat_pa / 1000:g} |"
        for t, kind in ((OIL, "gauge, vented"), (FUEL, "gauge, sealed at 101.325 kPa"), (MAP, "absolute"))
    )
    return f"""# Pressure evening

Invented data: no measurement, no real sensor. Written by `sensorcal.bench.demo_pressure`, seed {SEED} and following.

| file | what |
|---|---|
| setup.toml | field, three gauges, three transducers |
| {_DATE}-oil.csv | time, gauge G1 [kPa], O1 [V], supply [V], direction, body [degC] |
| {_DATE}-fuel.csv | the same for F1 against G2, without body; the hose leaks while a point is read |
| {_DATE}-map.csv | the same for M1 against G3, from -60 to 100 kPa gauge |
| leak-down.csv | time [s], gauge [kPa] of the shut fuel hose |

## What a pressure run may hold beside these columns

| where | write | what it does |
|---|---|---|
| point | `open` | line open at the sensor: zero gauge pressure, no gauge needed; tells the sensor's kind |
| point | `leak` | rows of the shut line, with time: no points, the leak is sized from them |
| column | `cycle`, `body [degC]` | number of the cycle; temperature of the sensor's body (20 then 70 °C water) |
| column | `O1 [counts]` | counts, with `counts_full` under `[transducers.O1]` |
| column | `U-tube [mmH2O]` | difference of the levels of a water U-tube as the reference |
| first lines | `# gauge above sensor: 0.35 m ± 0.02 m` and `# liquid: oil` | head of liquid, added to the gauge |
| first lines | `# water in the tube: 22 degC` | density of the water in the U-tube |

## What was put in

output / supply = zero + span (p + 4x(1-x) (bow ± loop/2) + (T - 20 °C)(zero effect + span effect x)) / range, with
x = p / range, + falling, - rising. p is the gauge pressure; for F1 the air's is added and the sealed pressure taken
off, and for M1 the air's is added.

| sensor | range | zero | span | bow, kPa | loop, kPa | body, Pa/K | repeat, kPa |
|---|---|---|---|---|---|---|---|
{rows}

Air {AIR_PA / 1000:g} kPa. Supply 4.93 V falling 8 µV a second (oil, fuel), 5 V falling 4 µV a second (map).
Gauges, shown minus true, at zero and at the top of the run: G1 +1.2 and -0.9 kPa, G2 +0.5 and -0.3 kPa, G3 +0.15 and
0 kPa, between them as cosine and sine of a quarter turn. Pointers are read within ± 1, ± 0.4 and ± 0.3 kPa and written
to 0.5, 0.2 and 0.2 kPa. The hose of the fuel bench empties with a time constant of {LEAK_TIME_CONSTANT_S:g} s; volts
are read 5 s after the gauge. Freshly pumped air is 6 kPa too high at first and cools with a time constant of 8 s.
"""
