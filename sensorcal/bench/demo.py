"""The demo folder: every file of the invented scenario, the same bytes on every machine."""

from __future__ import annotations

from pathlib import Path

from sensorcal.bench.demo_harness import harness_files
from sensorcal.bench.demo_pressure import pressure_files
from sensorcal.bench.played import Truth
from sensorcal.bench.scenario import DEMO_SEED, FOUR_PROBES
from sensorcal.bench.scenariofiles import (
    GEARBOX_OIL,
    HURRIED,
    INVENTED,
    OIL_SEED,
    WATER_BATH,
    Slip,
    fahrenheit_slips,
    run_text,
    run_text_semicolon,
    scenario_setup,
    sheet_text,
    truth_text,
    typing_slips,
)
from sensorcal.bench.simulate import simulate_evening
from sensorcal.errors import FileError
from sensorcal.setupfile import setup_text

WATER_BATH_RUN = "runs/2026-05-02-water-bath.csv"
BLUNDERS_RUN = "runs/2026-05-02-water-bath-with-blunders.csv"
FAHRENHEIT_RUN = "runs/2026-05-02-water-bath-with-fahrenheit.csv"
OIL_RUN = "runs/2026-05-09-gearbox-oil.csv"


def scenario_files() -> dict[str, str]:
    """Give the text of every demo file by its path within the folder.

    Returns
    -------
    dict of str to str
        Forward-slash path to text with plain line feeds.

    References
    ----------
    Invented; no source.

    Examples
    --------
    >>> sorted(scenario_files())[0]
    'README.md'
    """
    water = simulate_evening(FOUR_PROBES, WATER_BATH, seed=DEMO_SEED)
    hurried = simulate_evening(FOUR_PROBES, HURRIED, seed=DEMO_SEED)
    oil_probe = tuple(p for p in FOUR_PROBES if p.name == "P2")
    oil = simulate_evening(oil_probe, GEARBOX_OIL, seed=OIL_SEED)

    head = (INVENTED, "Workshop evening: coolant, gearbox oil, cooler in, cooler out.")
    slip_head = (INVENTED, "The same evening in a hurry, with slips put in on purpose: see README.md.")
    slips = typing_slips(hurried, rows_above=len(slip_head) + 1)
    fahrenheit = fahrenheit_slips(hurried, rows_above=len(slip_head) + 1)
    files = {
        "setup.toml": setup_text(scenario_setup(water, oil)),
        WATER_BATH_RUN: run_text(water, date="2026-05-02", reference_id="T1", comments=head),
        BLUNDERS_RUN: run_text(hurried, date="2026-05-02", reference_id="T1", comments=slip_head, slips=slips),
        FAHRENHEIT_RUN: run_text(hurried, date="2026-05-02", reference_id="T1", comments=slip_head, slips=fahrenheit),
        OIL_RUN: run_text_semicolon(
            oil, reference_id="T2", comments=(INVENTED, "Gearbox oil probe alone, 2026-05-09.")
        ),
        "sheets/probe-j.csv": sheet_text(),
        "truth.csv": truth_text(),
    }
    files["README.md"] = readme_text(water.truth, oil.truth, slips=slips, fahrenheit=fahrenheit)
    return files | pressure_files() | harness_files()


def write_scenario(directory: str | Path, *, overwrite: bool = False) -> list[Path]:
    """Write the demo folder: setup, runs, maker's sheet, true curves and README.

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
        If a file of that name exists with other content, or the folder cannot be written; nothing is written then.
    """
    root = Path(directory)
    content = {root / name: text.encode("utf-8") for name, text in scenario_files().items()}
    if not overwrite:
        for path, data in content.items():
            if path.exists() and not (path.is_file() and path.read_bytes() == data):
                raise FileError("the file exists and is not the demo's", do="choose an empty folder", file=str(path))
    try:
        for path, data in content.items():
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(data)
    except OSError as error:
        raise FileError(
            f"the folder cannot be written ({error.strerror})", do="choose another folder", file=str(root)
        ) from None
    return sorted(content)


def readme_text(
    water: Truth,
    oil: Truth,
    *,
    slips: tuple[Slip, ...],
    fahrenheit: tuple[Slip, ...],
) -> str:
    """Write the README of the demo folder: columns, units, seeds, model, and what was put in on purpose.

    Parameters
    ----------
    water, oil : Truth
        What was drawn for the two evenings.
    slips, fahrenheit : tuple of Slip
        The mistakes of the two runs that have them.
    """
    e, kitchen = WATER_BATH, GEARBOX_OIL
    kitchen_error = f"{kitchen.u_reference_bias_c:g} °C and {100 * kitchen.u_reference_slope_ratio:g} %"
    lags = f"{e.reference_time_constant_s:g} and {kitchen.reference_time_constant_s:g} s"
    ranges = "; ".join(
        f"{full:g} Ω in steps of {full / e.meter_counts:g} Ω at {1e3 * current:g} mA"
        for full, current in e.meter_ranges
    )
    return f"""# Invented demo data

{INVENTED}
The limits in `setup.toml` (coolant 120 °C, gearbox oil 130 °C) are examples: the engine maker's manual rules.
Written by `sensorcal.bench.demo.write_scenario`; a test compares every byte. Do not edit by hand.

| file | what it is |
|---|---|
| `setup.toml` | workshop, weather report, meter, thermometers, probes, monitor, as the builder knew them |
| `{WATER_BATH_RUN}` | four probes against T1, seed {DEMO_SEED}; commas, decimal points, °C, Ω |
| `{BLUNDERS_RUN}` | the same evening in a hurry (one reading a bath), with slips in P1, P2 and P3 |
| `{FAHRENHEIT_RUN}` | the same in a hurry; the thermometer of one bath was switched to °F |
| `{OIL_RUN}` | P2 alone against T2, seed {OIL_SEED}; semicolons, decimal commas, °F, kΩ |
| `sheets/probe-j.csv` | the invented maker's sheet, ± 3 % of resistance |
| `pressure/` | an evening of oil, fuel and manifold pressure sensors, with a README and a setup of its own |
| `harness/` | seven sensors with their wires, for the harness sheet |
| `starts/` | a first start: logs, sound and with faults, and as a typed list; README and setup of its own |
| `truth.csv` | true resistances of the four probes, to judge a finished curve by; no fit reads it |

## Columns of a run

| column | unit | meaning |
|---|---|---|
| `time` | | date and clock, or clock alone; as the builder saw it, within {e.half_clock_s:g} s |
| `point` | | label of the stop; rows with one label belong together |
| `reference` | °C or °F, in the heading | what the thermometer showed, or `ice` or `steam` by name |
| `reference_id` | | which thermometer |
| `P1` … `P4` | Ω or kΩ, in the heading | what the meter showed, with its own digits; blank where not read |
| `note` | | remarks |

In a bath the order is thermometer, probes, thermometer, probes back, thermometer, {e.bath_interval_s:g} s apart,
each with its own time, because the bath falls meanwhile. In ice and steam a row a minute has all probes.

## Scenario

Workshop 640 m; field with the weather report 610 m; QNH 1009 hPa as reported; air and room {e.room_temperature_c:g} °C.
The report happens to be the same on both evenings.
The true station pressure is {e.station_pressure_pa / 1000:.2f} kPa, because a report in whole hPa is rounded down.
Probe J is the natural cubic spline of ln R against 1/T through its twelve sheet points, so it is not exactly of
the Steinhart–Hart form. The true probes are R(T) = scale · R_J(T) · exp(b z + c z²/2) with z = 1/T − 1/298.15 K:

| probe | role | scale | b, K | c, K² | time constant, s | stem share |
|---|---|---|---|---|---|---|
{_probe_rows()}

## What happens at the bench, and what the builder cannot see

Standard deviations of normal draws unless said otherwise; the kind of source of each number stands beside it in
`sensorcal/bench/scenario.py` (nearly all are estimates).

- Thermometers, error drawn once an evening: T1 bias {e.u_reference_bias_c:g} °C and scale
  {100 * e.u_reference_slope_ratio:g} % of the distance from room temperature, T2 {kitchen_error}.
  Noise {e.u_reference_noise_c:g} °C. Last digit 0.1 °C and 0.1 °F, time constants {lags}.
- Baths: fall towards the room with a time constant of {e.bath_time_constant_s:g} s. Bundle against thermometer
  {e.u_gradient_common_c:g} °C a bath, each probe against the bundle {e.u_gradient_probe_c:g} °C.
- Ice: up to {e.ice_below_zero_c:g} °C below zero (rectangular); each probe {e.u_ice_probe_c:g} °C.
- Steam: air in the vapour {e.u_steam_common_c:g} °C; wet and dry film {e.u_steam_probe_c:g} °C a probe.
- Each probe: lag; conduction (stem share of medium minus room); repeat {e.u_repeat_c:g} °C a stop; change by the
  first boil {e.u_cycling_c:g} °C; self-heating I²R over 10 mW/K in water,
  {10 * e.steam_dissipation_ratio:g} mW/K in vapour.
- Meter: reads {100 * e.meter_gain_ratio:g} % high; ranges differ by {100 * e.u_range_gain_ratio:g} %;
  leads {e.lead_ohm:g} Ω; clips {e.u_contact_ohm:g} Ω; noise {100 * e.u_meter_noise_ratio:g} %.
  Ranges: {ranges}.
- Clock: within {e.half_clock_s:g} s (rectangular), written in whole seconds.

## Drawn for these evenings

| what | 2 May | 9 May |
|---|---|---|
{_drawn_rows(water, oil)}

## Slips put in on purpose

| file | row | column | kind | meant | typed |
|---|---|---|---|---|---|
{_slip_rows(BLUNDERS_RUN, slips)}
{_slip_rows(FAHRENHEIT_RUN, fahrenheit)}
"""


def _probe_rows() -> str:
    return "\n".join(
        f"| {p.name} | {p.role} | {p.scale_ratio:.4f} | {p.slope_shift_k:g} | {p.curvature_shift_k2:g} "
        f"| {p.time_constant_s:g} | {p.stem_ratio:g} |"
        for p in FOUR_PROBES
    )


def _drawn_rows(water: Truth, oil: Truth) -> str:
    rows = [
        ("thermometer bias, °C", *(f"{t.reference_bias_c:+.3f}" for t in (water, oil))),
        ("thermometer scale, %", *(f"{100 * t.reference_slope_ratio:+.3f}" for t in (water, oil))),
        ("ice, °C", *(f"{t.fixed_c['ice']:.3f}" for t in (water, oil))),
        ("steam, °C", *(f"{t.fixed_c['steam']:.3f}" for t in (water, oil))),
    ]
    return "\n".join(f"| {' | '.join(row)} |" for row in rows)


def _slip_rows(name: str, slips: tuple[Slip, ...]) -> str:
    return "\n".join(f"| `{name}` | {s.file_row} | {s.column} | {s.kind} | {s.meant} | {s.typed} |" for s in slips)
