"""The harness part of the demo folder: seven sensors, their wires and the engine they watch; all invented."""

from __future__ import annotations

from sensorcal.bench.scenario import (
    COOLANT_LIMIT_C,
    ELEVATION_M,
    FOUR_PROBES,
    OIL_LIMIT_C,
    PROBE_J_TABLE,
    QNH_PA,
    SHEET_TOLERANCE_RATIO,
    STATION_ELEVATION_M,
)
from sensorcal.engine import ChannelLimits, Engine
from sensorcal.monitorsetup import MonitorSetup, PressureInput
from sensorcal.setup import Field, Probe, Setup
from sensorcal.setupfile import setup_text
from sensorcal.transducer import Transducer
from sensorcal.wiring import ChannelWiring

FOLDER = "harness"
_INVENTED = "Invented data: no measurement, no real aircraft, engine or sensor."
_REDLINES_C = {"P1": COOLANT_LIMIT_C, "P2": OIL_LIMIT_C}
# tag, role, start, monitor pins, firewall positions, length, gauge, return, shield
_WIRES = (
    ("P1", "thermostat housing, 2-pin plug", "plug A, pins 1 and 2", "F-1, F-2", 3.2, 20, "own wire", ""),
    ("P2", "gearbox, left, 2-pin plug", "plug A, pins 3 and 4", "F-3, F-4", 3.6, 20, "own wire", ""),
    ("P3", "duct before the cooler, 2-pin plug", "plug A, pins 5 and 6", "F-5, F-6", 2.9, 22, "own wire", ""),
    ("P4", "duct after the cooler, 1 pin and body", "plug A, pin 7", "F-7", 2.7, 22, "case", ""),
    ("O1", "oil gallery, 3-pin plug", "plug B, pins 1, 2 and 3", "F-8, F-9, F-10", 3.4, 22, "own wire", ""),
    ("F1", "fuel rail, 3-pin plug", "plug B, pins 4, 5 and 6", "F-11, F-12, F-13", 3.8, 22, "own wire", ""),
    ("M1", "firewall, cabin side, 3-pin plug", "plug B, pins 7, 8 and 9", "", 1.1, 22, "own wire",
     "braid, grounded at the monitor only"),
)  # fmt: skip
_PRESSURES = (
    ("O1", "oil pressure", "gauge", 600_000.0, 0.0, 600_000.0),
    ("F1", "fuel pressure", "sealed", 600_000.0, 0.0, 400_000.0),
    ("M1", "manifold pressure", "absolute", 250_000.0, 30_000.0, 200_000.0),
)


def harness_setup() -> Setup:
    """Give the setup of the invented harness: with an oil sensor too small and a case ground, for the sheet to find.

    Returns
    -------
    Setup

    References
    ----------
    Invented; no source.
    """
    probes = {
        p.name: Probe(
            name=p.name,
            role=p.role,
            sheet=PROBE_J_TABLE,
            sheet_tolerance_ratio=SHEET_TOLERANCE_RATIO,
            prior="sheet",
            redline=_REDLINES_C.get(p.name),
        )
        for p in FOUR_PROBES
    }
    probes |= {
        tag: Probe(
            name=tag, role=role, measurand="pressure", signal="voltage", model="line", range_low=low, range_high=high
        )
        for tag, role, _, _, low, high in _PRESSURES
    }
    return Setup(
        note=f"{_INVENTED} The limits are examples: the engine maker's manual rules.",
        field=Field(
            name="invented field", elevation_m=ELEVATION_M, qnh_pa=QNH_PA, station_elevation_m=STATION_ELEVATION_M
        ),
        probes=probes,
        transducers={tag: Transducer(name=tag, kind=kind, high_pa=high) for tag, _, kind, high, _, _ in _PRESSURES},
        channels={
            tag: ChannelWiring(
                name=tag,
                start=start,
                end=f"monitor {end}",
                firewall=firewall,
                length_m=length,
                gauge=gauge,
                returns=returns,
                shield=shield,
                supply_current_a=0.008 if tag in {"O1", "F1"} else 0.0,
            )
            for tag, start, end, firewall, length, gauge, returns, shield in _WIRES
        },
        monitor=MonitorSetup(
            name="panel monitor", input="resistance", pull_up_ohm=1000.0, supply_v=5.0, rows=16, bits=10
        ),
        pressure_input=PressureInput(supply_v=5.0),
        engine=Engine(
            name="invented engine", boosted="yes", fuel_reference="airbox", fuel_set_pa=300_000.0,
            cap_pressure_pa=90_000.0,
        ),
        limits={
            "coolant": ChannelLimits(name="coolant", high=COOLANT_LIMIT_C),
            "gearbox_oil": ChannelLimits(name="gearbox_oil", high=OIL_LIMIT_C),
            "charge_out": ChannelLimits(name="charge_out", high=80.0),
            "oil_pressure": ChannelLimits(name="oil_pressure", low=150_000.0, high=500_000.0),
            "map": ChannelLimits(name="map", high=140_000.0),
        },
    )  # fmt: skip


def harness_files() -> dict[str, str]:
    """Give the text of every harness file of the demo by its path within the folder.

    Returns
    -------
    dict of str to str
        Forward-slash path to text with plain line feeds.

    References
    ----------
    Invented; no source.

    Examples
    --------
    >>> sorted(harness_files())
    ['harness/README.md', 'harness/setup.toml']
    """
    return {f"{FOLDER}/setup.toml": setup_text(harness_setup()), f"{FOLDER}/README.md": _readme()}


def _readme() -> str:
    rows = "\n".join(
        f"| {tag} | {start} | {end} | {firewall or '-'} | {length} | {gauge} | {returns} |"
        for tag, start, end, firewall, length, gauge, returns, _ in _WIRES
    )
    return f"""# Harness

{_INVENTED} Written by `sensorcal.bench.demo_harness`.

`setup.toml` describes four thermistors, three pressure transducers, their wires, the monitor and the engine's limits.
Print the sheet with `sensorcal harness --setup setup.toml --out sheet.html --csv wires.csv`.

| sensor | begins | ends | firewall | m one way | AWG | return |
|---|---|---|---|---|---|---|
{rows}

Put in on purpose, for the sheet to find: the oil sensor ends at 600 kPa, below a cold start's 800 kPa; P4 is grounded
on the engine; the coolant's limit of 120 °C lies above boiling at 3000 m under a 90 kPa cap; F1 is a sealed sensor.
The supply currents of O1 and F1 are 8 mA; that of M1 is not stated.
"""
