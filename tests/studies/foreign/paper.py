"""What reaches the builder's desk: the log as a CSV of one of several habits, and the setup file."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tests.studies.foreign.day import CHANNELS, SIDE, STEP_S, THERMISTORS
from tests.studies.foreign.panel import ohms

# Invented habits: (headings in the order of CHANNELS, rpm, bus, oat; units of the ten; time heading; stated in setup?)
_STYLES = (
    (("Coolant degC", "Gearbox oil T [°C]", "CAC in C", "CAC out C", "Oil P kPa", "Fuel P kPa", "MAP kPa",
      "RPM", "Volts", "OAT"),
     "degC degC degC degC kPa kPa kPa 1 V degC", "Time (s)", 0.35),
    (("coolant_c", "gearbox_oil_c", "charge_in_c", "charge_out_c", "oil_pressure_kpa",
      "fuel_pressure_kpa", "map_kpa", "rpm", "bus_v", "oat_c"),
     "degC degC degC degC kPa kPa kPa 1 V degC", "time_s", 0.0),
    (("Water temp °F", "Gearbox oil temp °F", "Charge air before cooler °F",
      "Charge air after cooler °F", "Oil press psi",
      "Fuel press psi", "MAP inHg", "Engine speed rpm", "Bus V", "Outside air °F"),
     "degF degF degF degF psi psi inHg 1 V degF", "Elapsed (s)", 0.2),
    (("CLT (°C)", "Gearbox (°C)", "Compressor outlet (°C)", "After cooler (°C)", "Oil press (bar)", "Fuel press (bar)",
      "Manifold (kPa)", "Engine RPM", "Battery (V)", "Ambient (°C)"),
     "degC degC degC degC bar bar kPa 1 V degC", "Clock", 0.3),
    (("AI1", "AI2", "AI3", "AI4", "AI5", "AI6", "AI7", "N", "U", "TA"),
     "degC degC degC degC kPa kPa kPa 1 V degC", "t", 1.0),
    (("Coolant temp [°C]", "Gearbox oil temp [°C]", "Charge air in [°C]", "Charge air out [°C]", "Oil pressure [psi]",
      "Fuel pressure [psi]", "Manifold pressure [mbar]", "Engine speed [rpm]", "Bus voltage [V]", "OAT [°C]"),
     "degC degC degC degC psi psi mbar 1 V degC", "Time [s]", 0.15),
)  # fmt: skip
_HOME = {"kPa": 1e3, "psi": 6894.757, "bar": 1e5, "inHg": 3386.389, "mbar": 100.0, "V": 1.0, "1": 1.0}
_STEPS = {
    "degC": (1.0, 0.5, 0.1, 0.1), "degF": (1.0, 1.0, 0.1), "kPa": (1.0, 1.0, 0.1), "psi": (1.0, 0.1, 0.1),
    "bar": (0.01, 0.01, 0.1), "inHg": (0.1, 0.01), "mbar": (1.0,), "V": (0.1, 0.01), "1": (1.0, 10.0),
}  # fmt: skip
_JOBS = ("coolant", "gearbox oil", "cooler in", "cooler out", "oil pressure", "fuel pressure", "manifold pressure")
_ROLES = dict(zip(CHANNELS, _JOBS, strict=True))
_TAGS = dict(zip(CHANNELS, ("P1", "P2", "P3", "P4", "O1", "F1", "M1"), strict=True))


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """How this logger writes."""

    headings: dict[str, str]
    units: dict[str, str]
    steps: dict[str, float]
    time_heading: str
    columns_stated: bool
    order: tuple[str, ...]
    clock: bool
    comma: bool
    bom: bool
    blank: str
    index: np.ndarray
    extra: tuple[str, ...]
    restart: tuple[float, float, bool] | None
    sparse: bool


def draw_layout(day, panel, truth):
    """Draw the logger's habits and which instants it writes; a brown-out at cranking loses rows of any log."""
    rng = np.random.default_rng([day.seed, 66])
    headings, units, time_heading, stated = _STYLES[rng.choice(len(_STYLES), p=[0.28, 0.2, 0.16, 0.14, 0.08, 0.14])]
    names = (*CHANNELS, *SIDE)
    heads, unit = dict(zip(names, headings, strict=True)), dict(zip(names, units.split(), strict=True))
    steps = {name: float(rng.choice(_STEPS[unit[name]])) for name in names}
    common = float(rng.choice(_STEPS[unit["coolant"]]))
    steps |= dict.fromkeys(THERMISTORS, common)
    if unit["fuel_pressure"] == "bar":
        steps["fuel_pressure"] = 0.01
    order = list(names)
    if rng.random() < 0.3:
        order = ["rpm", "map", "oil_pressure", "fuel_pressure", *THERMISTORS, "bus", "oat"]
    if rng.random() < 0.25:
        order.remove("oat")
    clock = time_heading == "Clock" or rng.random() < 0.05
    size = truth.rpm.size
    rows = np.arange(0.0, size - 1, 1.0 / (STEP_S * panel.rate_hz))
    if rng.random() < 0.4:
        rows = rows + rng.uniform(-0.35, 0.35, rows.size)
    index = np.unique(np.clip(np.round(rows), 0, size - 1).astype(int))
    lost = np.zeros(size, bool)
    restart = None
    low = np.flatnonzero(day.plan.cranking & (truth.bus < panel.restarts_below_v))
    if low.size:
        away = rng.uniform(1.5, 6.5)
        lost[low[0] : low[0] + int(away / STEP_S)] = True
        restart = (low[0] * STEP_S, low[0] * STEP_S + away, bool(rng.random() < 0.55 and not clock))
    if rng.random() < 0.25:  # the logger hiccups once or twice
        for at in rng.integers(0, size, rng.integers(1, 3)):
            lost[at : at + int(rng.uniform(0.5, 2.5) / STEP_S)] = True
    return Layout(
        headings=heads, units=unit, steps=steps, time_heading=time_heading, columns_stated=bool(rng.random() < stated),
        order=tuple(order), clock=bool(clock), comma=bool(rng.random() < 0.08), bom=bool(rng.random() < 0.1),
        blank=str(rng.choice(["", "", "---", "NaN"])), index=index[~lost[index]],
        extra=("Fuel flow L/h",) if rng.random() < 0.12 else (),
        restart=restart, sparse=bool(rng.random() < 0.4),
    )  # fmt: skip


def rounded(layout, shown):
    """Round each column to the display's step at the written instants, back in home units."""
    out = {}
    for name in layout.order:
        step = layout.steps[name]
        out[name] = from_unit(
            np.round(to_unit(shown[name][layout.index], layout.units[name]) / step) * step, layout.units[name]
        )
    return out


def to_unit(value, unit):
    """Home units to the unit of the column."""
    return value if unit == "degC" else value * 1.8 + 32.0 if unit == "degF" else value / _HOME[unit]


def from_unit(value, unit):
    """Unit of the column to home units."""
    return value if unit == "degC" else (value - 32.0) / 1.8 if unit == "degF" else value * _HOME[unit]


def log_text(day, layout, values, lost_rows):
    """Write the log; `lost_rows` are spans (start, length in s) in which nothing was written."""
    rng = np.random.default_rng([day.seed, 67])
    time = layout.index * STEP_S
    keep = np.ones(time.size, bool)
    for at, length in lost_rows:
        keep &= ~((time >= at) & (time < at + length))
    stamp = time + float(rng.choice([0.0, 0.0, rng.uniform(1, 400)]))
    if layout.restart and layout.restart[2]:
        stamp = np.where(time >= layout.restart[1], time - layout.restart[1] + 0.5, stamp)
    columns = [_clock(rng, time) if layout.clock else _numbers(stamp, 0.1, layout)]
    heads = [layout.time_heading]
    for name in layout.order:
        heads.append(layout.headings[name])
        columns.append(_numbers(to_unit(values[name], layout.units[name]), layout.steps[name], layout))
    for name in layout.extra:
        heads.append(name)
        columns.append(_numbers(np.where(day.plan.running[layout.index], 6.0, 0.0), 0.1, layout))
    rows = zip(*columns, strict=True)
    separator = ";" if layout.comma else ","
    lines = [separator.join(row) for row, kept in zip(rows, keep.tolist(), strict=True) if kept]
    return ("\ufeff" if layout.bom else "") + separator.join(heads) + "\n" + "\n".join(lines) + "\n"


def _numbers(values, step, layout):
    digits = 0 if step >= 1.0 else 2 if step < 0.1 else 1
    pattern = f"%.{digits}f"
    finite = np.isfinite(values).all()
    text = [pattern % v for v in values.tolist()]
    if not finite:
        text = [layout.blank if t == "nan" else t for t in text]
    return [t.replace(".", ",") for t in text] if layout.comma else text


def _clock(rng, time):
    begin = float(rng.integers(7 * 3600, 19 * 3600))
    return [
        f"{int(s // 3600):02d}:{int(s % 3600 // 60):02d}:{s % 60:04.1f}" for s in np.round(begin + time, 1).tolist()
    ]


def setup_text(day, panel, layout):
    """Write what the builder wrote down: everything with holes in it, or no more than the field and the limits."""
    rng = np.random.default_rng([day.seed, 68])
    w, make = day.weather, day.make
    lines = [
        'note = "Invented scenario; nothing here was measured."',
        "",
        "[field]",
        f'elevation = "{w.typed_elevation_m:.0f} m"',
    ]
    if rng.random() > 0.05:
        lines.append(
            f'qnh = "{w.typed_qnh_pa / 100:.0f} hPa"'
            if rng.random() < 0.7
            else f'qnh = "{w.typed_qnh_pa / 3386.389:.2f} inHg"'
        )
    if "oat" not in layout.order and rng.random() < 0.7:
        lines.append(f'air_temperature = "{w.air_c + rng.normal(0, 0.8):.0f} degC"')
    if not layout.sparse:
        lines += _engine(rng, make) + _sensors(rng, panel)
    for name, (low, high) in make.limits.items():
        lines += ["", f"[limits.{name}]"]
        lines += [f'low = "{_limit(low, name)}"'] if low is not None else []
        lines += [f'high = "{_limit(high, name)}"'] if high is not None else []
    if layout.columns_stated:
        lines += ["", "[log.columns]"]
        for name in layout.order:
            unit = {"1": "", "degC": " degC", "degF": " degF"}.get(layout.units[name], " " + layout.units[name])
            lines.append(f'"{layout.headings[name]}" = "{name}{unit}"')
    return "\n".join(lines) + "\n"


def _limit(value, name):
    return f"{value:.0f} degC" if name in THERMISTORS else f"{value / 1e3:.0f} kPa"


def _engine(rng, make):
    warm = 1.0 / (1.0 / (make.oil_scale * 0.65) ** make.oil_bend + 1.0 / (make.oil_relief * 1.04) ** make.oil_bend) ** (
        1.0 / make.oil_bend
    )
    idle_map = make.map_closed + make.map_span * (make.idle_rpm / 5500.0) ** make.map_bend
    known = {
        "fuel_set": f'"{make.fuel_set / 1e3:.0f} kPa"', "oil_rise": '"10 s"',
        "oil_warm": f'"{round(warm / 2e4) * 20:.0f} kPa"',
        "idle_rpm": f"{make.idle_rpm:.0f}.0", "idle_map": f'"{idle_map / 1e3:.0f} kPa"',
        "thermostat": f'"{make.thermostat_c:.0f} degC"', "cap_pressure": '"90 kPa"', "coolant": '"glycol mix"',
    }  # fmt: skip
    lines = ["", "[engine]", 'name = "invented engine"', 'boosted = "yes"', f'fuel_reference = "{make.fuel_reference}"']
    return lines + [f"{key} = {value}" for key, value in known.items() if rng.random() < 0.82]


def _sensors(rng, panel):
    lines = [
        "",
        "[monitor]",
        'name = "panel"',
        'input = "voltage"',
        f'pull_up = "{panel.pull_up:.0f} ohm"',
        'supply = "5 V"',
    ]
    if rng.random() < 0.5:
        lines.append(f"bits = {panel.bits}")
    sheet = rng.random() < 0.7
    off = 1.0 + rng.uniform(-0.01, 0.01)
    pairs = ", ".join(
        f'["{t} degC", "{float(ohms(panel, float(t))) * off:.4g} ohm"]' for t in (-20, 0, 25, 50, 75, 100, 120)
    )
    pairs = pairs.replace("e+03", "e3").replace("e+04", "e4").replace("e+05", "e5")
    for name in CHANNELS:
        lines += ["", f"[probes.{_TAGS[name]}]", f'role = "{_ROLES[name]}"']
        if name in THERMISTORS:
            lines += [f"sheet = [{pairs}]"] if sheet else []
        else:
            lines += ['measurand = "pressure"', 'signal = "voltage"', 'model = "line"']
    for name in CHANNELS[4:]:
        low, high = panel.ranges[name]
        lines += ["", f"[transducers.{_TAGS[name]}]", f'kind = "{"absolute" if name == "map" else "gauge"}"']
        lines += [f'low = "{low / 1e3:.0f} kPa"', f'high = "{high / 1e3:.0f} kPa"']
    return lines
