"""The files of the invented scenario: setup, runs, maker's sheet and true curves, as the simulator writes them.

The text of a run is made here cell by cell, not through the run writer, because it stands for what a builder
typed: the display's own digits, a spreadsheet's own dialect, and now and then a slip.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from sensorcal.bench.played import SimulatedEvening, SimulatedSignal
from sensorcal.bench.scenario import (
    COOLANT_LIMIT_C,
    DEMO_SEED,
    ELEVATION_M,
    FOUR_PROBES,
    OIL_LIMIT_C,
    PROBE_J_TABLE,
    QNH_PA,
    SHEET_TOLERANCE_RATIO,
    STATION_ELEVATION_M,
    Evening,
    Stage,
    TrueProbe,
)
from sensorcal.monitorsetup import MonitorSetup
from sensorcal.setup import Field, Meter, MeterCheck, Probe, Reference, ReferenceCheck, Setup

INVENTED = "Invented data, made by the seeded simulator of sensorcal; nothing here was measured."

WATER_BATH = Evening()
"""The evening of 2 May: four probes, a 0.1 °C thermometer."""

HURRIED = replace(WATER_BATH, bath_passes=1)
"""The same evening with one reading of each probe in each bath, into which the slips are put."""

GEARBOX_OIL = Evening(
    stages=(
        Stage(label="ice", kind="ice", start_s=0.0),
        Stage(label="bath-88", kind="bath", start_s=1500.0, temperature_c=88.0),
        Stage(label="bath-70", kind="bath", start_s=2520.0, temperature_c=70.0),
        Stage(label="bath-45", kind="bath", start_s=3600.0, temperature_c=45.0),
        Stage(label="bath-25", kind="bath", start_s=4680.0, temperature_c=25.0),
        Stage(label="steam", kind="steam", start_s=6600.0),
        Stage(label="ice-again", kind="ice", start_s=8400.0),
    ),
    u_reference_bias_c=0.3,  # estimate: kitchen thermometer
    u_reference_slope_ratio=0.005,  # estimate: kitchen thermometer
    reference_resolution_c=0.1 * 5.0 / 9.0,  # it shows tenths of °F
    reference_time_constant_s=12.0,  # estimate: thicker sheath
)
"""The evening of 9 May: the gearbox oil probe alone, a kitchen thermometer in °F."""

OIL_SEED = DEMO_SEED + 7
TRUTH_TEMPERATURES_C = (-20.0, 0.0, 25.0, 50.0, 60.0, 75.0, 90.0, 97.73, 110.0, 120.0, 130.0, 150.0)


_STATED = (
    *("units.temperature", "units.resistance", "units.pressure", "units.altitude"),
    *("field.room_temperature", "meter.name", "meter.counts", "references.T1.resolution"),
    *(f"probes.P{n}.sheet_tolerance" for n in (1, 2, 3, 4)),
    *(f"monitor.{key}" for key in ("input", "rows", "signal_unit", "signal_step", "value_unit", "value_step")),
    "monitor.order",
)
# What the builder of the scenario stated although it equals what would have been assumed.


@dataclass(frozen=True, slots=True, kw_only=True)
class Slip:
    """A mistake put into a run on purpose: where, of what kind, and what should have stood there.

    Parameters
    ----------
    file_row : int
        Row in the file, counted from 1.
    column : str
        Name of the probe, or 'reference'.
    kind : {'transposed digits', 'decade', 'swapped points', 'degF as degC'}
        What went wrong.
    meant, typed : str
        The cell as it should be and as it is.
    """

    file_row: int
    column: str
    kind: str
    meant: str
    typed: str


def scenario_setup(water: SimulatedEvening, oil: SimulatedEvening) -> Setup:
    """Give the setup of the two invented evenings, as the builder knew it.

    It holds what was read and what the sheet says, never the simulator's truth.

    Parameters
    ----------
    water, oil : SimulatedEvening
        The evenings, for what the meter showed on known resistors and the thermometer in ice and steam.
    """
    redlines = {"P1": COOLANT_LIMIT_C, "P2": OIL_LIMIT_C}
    checks = oil.truth.reference_checks_c
    return Setup(
        note=f"{INVENTED} The limits are examples: the engine maker's manual rules.",
        field=Field(
            name="invented field",
            elevation_m=ELEVATION_M,
            qnh_pa=QNH_PA,
            station_elevation_m=STATION_ELEVATION_M,
            room_temperature_c=WATER_BATH.room_temperature_c,
        ),
        meter=Meter(
            name="M1",
            leads_shorted_ohm=water.truth.shorted_ohm,
            checks=tuple(
                MeterCheck(true_ohm=nominal, read_ohm=shown, tolerance_ratio=WATER_BATH.check_tolerance_ratio)
                for nominal, _, shown in water.truth.checks_ohm
            ),
            counts=WATER_BATH.meter_counts,
            test_current_a=WATER_BATH.meter_ranges[1][1],
        ),
        references={
            "T1": Reference(
                identifier="T1",
                limits=0.2,
                resolution=WATER_BATH.reference_resolution_c,
                time_constant_s=WATER_BATH.reference_time_constant_s,
                certificate="none",
            ),
            "T2": Reference(
                identifier="T2",
                limits=1.0,
                resolution=round(GEARBOX_OIL.reference_resolution_c, 4),
                checks=tuple(ReferenceCheck(at=at, reads=round(checks[at], 3)) for at in ("ice", "steam")),
                time_constant_s=GEARBOX_OIL.reference_time_constant_s,
                certificate="none",
            ),
        },
        probes={
            p.name: Probe(
                name=p.name,
                role=p.role,
                sheet=PROBE_J_TABLE,
                sheet_tolerance_ratio=SHEET_TOLERANCE_RATIO,
                prior="sheet",
                redline=redlines.get(p.name),
                time_constant_s=20.0,  # what the builder timed once; the probes really differ a little
            )
            for p in FOUR_PROBES
        },
        monitor=MonitorSetup(
            name="panel",
            input="resistance",
            pull_up_ohm=1000.0,
            supply_v=5.0,
            rows=16,
            past_ends="holds",
        ),
        stated=frozenset(_STATED),
    )


def run_text(
    played: SimulatedEvening,
    *,
    date: str,
    reference_id: str,
    comments: Sequence[str] = (),
    slips: Sequence[Slip] = (),
) -> str:
    """Write an evening as the builder's spreadsheet saved it: commas, decimal points, °C and ohm.

    Parameters
    ----------
    played : SimulatedEvening
        The evening.
    date : str
        ISO date of the evening.
    reference_id : str
        Tag of the thermometer.
    comments : sequence of str
        Lines put on top after '#'.
    slips : sequence of Slip
        Cells typed wrongly on purpose.
    """
    names = [p.name for p in played.truth.probes]
    lines = [f"# {text}" for text in comments]
    lines.append(",".join(["time", "point", "reference [°C]", "reference_id", *(f"{n} [ohm]" for n in names)]))
    typed = {(slip.file_row, slip.column): slip.typed for slip in slips}
    for row in played.rows:
        at = len(lines) + 1
        shown = {s.probe: ohm_text(s) for s in row.signals}
        reference = row.kind if row.kind != "bath" else ""
        if row.reference_c is not None:
            reference = typed.get((at, "reference"), f"{row.reference_c:.1f}")
        cells = [f"{date} {clock_text(row.clock_s)}", row.point, reference]
        cells.append(reference_id if row.kind == "bath" else "")
        cells += [typed.get((at, n), shown.get(n, "")) for n in names]
        lines.append(",".join(cells))
    return "\n".join(lines) + "\n"


def run_text_semicolon(played: SimulatedEvening, *, reference_id: str, comments: Sequence[str] = ()) -> str:
    """Write an evening in another dialect: semicolons, decimal commas, °F, kilohms, a column of remarks."""
    names = [p.name for p in played.truth.probes]
    lines = [f"# {text}" for text in comments]
    signals = [f"{n} [kΩ]" for n in names]
    lines.append(";".join(["time", "point", "reference [°F]", "reference_id", *signals, "note"]))
    remarks = {"ice": "packed flask, drained", "bath": "whole body sunk", "steam": "in the vapour"}
    before = ""
    for row in played.rows:
        reference = row.kind if row.kind != "bath" else ""
        if row.reference_c is not None:
            reference = f"{row.reference_c * 1.8 + 32.0:.1f}"
        shown = {s.probe: kohm_text(s) for s in row.signals}
        cells = [clock_text(row.clock_s), row.point, reference, reference_id if row.kind == "bath" else ""]
        cells += [shown.get(n, "") for n in names]
        cells.append(remarks[row.kind] if row.point != before else "")
        before = row.point
        lines.append(";".join([cells[0], cells[1], *(cell.replace(".", ",") for cell in cells[2:])]))
        if row is played.rows[2]:
            lines.append("")  # a blank line, as a spreadsheet leaves it
    return "\n".join(lines) + "\n"


def ohm_text(signal: SimulatedSignal) -> str:
    """Write ohms with the digits that the display had."""
    return f"{signal.shown_ohm:.{1 if signal.resolution_ohm < 1.0 else 0}f}"


def kohm_text(signal: SimulatedSignal) -> str:
    """Write kilohms with the digits that the display had."""
    return f"{signal.shown_ohm / 1000.0:.{4 if signal.resolution_ohm < 1.0 else 3}f}"


def clock_text(clock_s: float) -> str:
    """Write seconds after midnight as HH:MM:SS.

    Examples
    --------
    >>> clock_text(66_605.0)
    '18:30:05'
    """
    whole = round(clock_s) % 86_400
    return f"{whole // 3600:02d}:{whole // 60 % 60:02d}:{whole % 60:02d}"


def typing_slips(played: SimulatedEvening, *, rows_above: int) -> tuple[Slip, ...]:
    """Choose the slips of the hurried evening: one kind for each of P1, P2 and P3; P4 stays as read.

    P1 at 25 °C has two digits transposed, P2 at 50 °C is read in kilohms and typed as ohms, and P3 at 62 and
    75 °C stand in each other's rows.

    Parameters
    ----------
    played : SimulatedEvening
        An evening with one reading a bath.
    rows_above : int
        Rows above the first reading: comments and heading.
    """
    at = {
        (row.point, s.probe): (n + rows_above + 1, ohm_text(s))
        for n, row in enumerate(played.rows)
        for s in row.signals
    }
    row, meant = at["bath-25", "P1"]
    slips = [Slip(file_row=row, column="P1", kind="transposed digits", meant=meant, typed=_transposed(meant))]
    row, meant = at["bath-50", "P2"]
    slips.append(Slip(file_row=row, column="P2", kind="decade", meant=meant, typed=f"{float(meant) / 1000:.3f}"))
    (hot, hot_text), (warm, warm_text) = at["bath-75", "P3"], at["bath-62", "P3"]
    slips.append(Slip(file_row=hot, column="P3", kind="swapped points", meant=hot_text, typed=warm_text))
    slips.append(Slip(file_row=warm, column="P3", kind="swapped points", meant=warm_text, typed=hot_text))
    return tuple(slips)


def fahrenheit_slips(played: SimulatedEvening, *, rows_above: int) -> tuple[Slip, ...]:
    """Choose the slip of a thermometer switched to °F: every reference of the 25 °C bath, typed as °C."""
    return tuple(
        Slip(
            file_row=n + rows_above + 1,
            column="reference",
            kind="degF as degC",
            meant=f"{row.reference_c:.1f}",
            typed=f"{row.reference_c * 1.8 + 32.0:.1f}",
        )
        for n, row in enumerate(played.rows)
        if row.point == "bath-25" and row.reference_c is not None
    )


def _transposed(text: str) -> str:
    """Exchange the first two neighbouring digits that differ, the leading one apart."""
    for n in range(1, len(text) - 1):
        if text[n : n + 2].isdigit() and text[n] != text[n + 1]:
            return text[:n] + text[n + 1] + text[n] + text[n + 2 :]
    return text


def sheet_text() -> str:
    """Write the invented maker's sheet of probe J."""
    lines = [
        f"# {INVENTED}",
        f"# Sheet of the invented probe J; tolerance {100 * SHEET_TOLERANCE_RATIO:g} % of resistance.",
        "temperature/°C,resistance/ohm",
        *(f"{t:g},{r:g}" for t, r in PROBE_J_TABLE),
    ]
    return "\n".join(lines) + "\n"


def truth_text(probes: Sequence[TrueProbe] = FOUR_PROBES) -> str:
    """Write the true resistances of the invented probes, to hold a finished curve against."""
    lines = [
        f"# {INVENTED}",
        "# True resistances, for judging a finished curve only: no fit may read them.",
        ",".join(["temperature_c", *(f"{p.name}_resistance_ohm" for p in probes)]),
    ]
    lines += [
        ",".join([f"{t:g}", *(f"{float(p.resistance_ohm(t)):.3f}" for p in probes)]) for t in TRUTH_TEMPERATURES_C
    ]
    return "\n".join(lines) + "\n"
