"""The harness sheet in plain words: a page to print, the wire list as CSV, and a few lines for a screen."""

from __future__ import annotations

import csv
import io
from itertools import groupby
from typing import TYPE_CHECKING, Any

from sensorcal.setup import UnitsOut
from sensorcal.units import from_si, interval_from_si
from sensorcal.views.daysheet import DECIDES, LINE_CAUTION
from sensorcal.views.words import number, unit_symbol

if TYPE_CHECKING:
    from sensorcal.installed.harness import CopperCost
    from sensorcal.installed.harnesschecks import Check, Expected
    from sensorcal.installed.harnesssheet import HarnessSheet
    from sensorcal.installed.sensorrange import RangeCheck

CAUTIONS = (
    (
        "Battery disconnected, negative first, until part B; fuse every supply. Never put an ohmmeter on a powered "
        "circuit. Ignition off, key out, nobody in the propeller's arc."
    ),
    LINE_CAUTION,
    DECIDES,
)
_KIND_WORDS = {"gauge": "gauge, vented", "sealed": "gauge, sealed", "absolute": "absolute"}


def harness_lines(sheet: HarnessSheet, units: UnitsOut | None = None) -> list[str]:
    """Say in a few lines for a screen what is in doubt and what to buy.

    Parameters
    ----------
    sheet : HarnessSheet
    units : UnitsOut, optional
        Lengths are in feet where the altitude is.

    Returns
    -------
    list of str
    """
    length = "ft" if units is not None and units.altitude == "ft" else "m"
    found = _warnings(sheet)
    lines = [sheet.note] if sheet.note else []
    lines += [f"{_many(len(sheet.wires), 'wire')} for {_many(len(sheet.roles), 'sensor')}."]
    if found:
        lines += ["Before the first crimp:", *(f"  - {tag}: {text}" for tag, text in found)]
    else:
        lines.append("No sensor's range and no wire is in doubt.")
    lines += ["To buy:"]
    for one in sheet.purchases:
        buy = f"{one.buy_m:g}" if length == "m" else number(from_si(one.buy_m, length), 0)
        lines.append(f"  {buy} {length} of {one.wire} ({_many(one.runs, 'run')})")
    return lines


def _many(count: int, what: str) -> str:
    return f"{count} {what}" if count == 1 else f"{count} {what}s"


def wires_csv(sheet: HarnessSheet) -> str:
    """Write the wire list as CSV: one row a wire, lengths in m, ohms at 20 degC.

    Parameters
    ----------
    sheet : HarnessSheet

    Returns
    -------
    str
    """
    out = io.StringIO()
    for line in filter(None, sheet.note.splitlines()):
        out.write(f"# {line}\n")
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(
        ["label", "sensor", "role", "wire", "from", "to", "firewall", "kind", "length_m", "ohm_at_20c", "shield"]
    )
    for one in sheet.wires:
        writer.writerow(
            [
                one.label, one.tag, sheet.roles[one.tag], one.job, one.start, one.end, one.firewall, one.wire,
                f"{one.length_m:g}", f"{one.ohm_20c:.4f}", one.shield,
            ]
        )  # fmt: skip
    return out.getvalue()


def harness_html(sheet: HarnessSheet, units: UnitsOut | None = None) -> str:
    """Write the harness sheet as a page to print: black and white, self-contained, a box beside every check.

    Parameters
    ----------
    sheet : HarnessSheet
    units : UnitsOut, optional
        Units of temperature and pressure; lengths are in feet where the altitude is.

    Returns
    -------
    str
        HTML; the same sheet gives the same text.
    """
    from sensorcal.views.report import _environment

    units = units or UnitsOut()
    length = "ft" if units.altitude == "ft" else "m"
    warnings = _warnings(sheet)
    count = f"{len(warnings)} thing{'s' if len(warnings) > 1 else ''} to settle"
    page = {
        "title": "Harness sheet",
        "subtitle": sheet.note,
        "count": count,
        "warnings": warnings,
        "length_head": length,
        "length_unit": length,
        "wires": _wires(sheet, length),
        "purchases": [
            {
                "wire": one.wire,
                "runs": one.runs,
                "length": number(from_si(one.length_m, length), 1),
                "buy": number(from_si(one.buy_m, length), 1 if length == "m" else 0),
            }
            for one in sheet.purchases
        ],
        "copper": [_copper(one, units) for one in sheet.copper],
        "ranges": [_range(one, sheet.roles[one.tag], units) for one in sheet.ranges],
        "off": _off(sheet, units),
        "blocks": _blocks(sheet, units),
        "tolerance": f"{100 * sheet.tolerance_ratio:g}",
        "temperature": unit_symbol(units.temperature),
        "assumed": sheet.assumed,
        "cautions": CAUTIONS,
    }
    return _environment().get_template("harness.html").render(p=page)


def _warnings(sheet: HarnessSheet) -> list[tuple[str, str]]:
    found = [(one.tag, text) for one in sheet.ranges for text in (*one.warnings, *one.cautions)]
    order = {tag: i for i, tag in enumerate(sheet.roles)}
    named = [(f"{tag} {sheet.roles[tag]}".rstrip(), text, order[tag]) for tag, text in [*found, *sheet.doubts]]
    return [(tag, text) for tag, text, _ in sorted(named, key=lambda one: one[2])]


def _wires(sheet: HarnessSheet, length: str) -> list[dict[str, Any]]:
    """One group a sensor: where it runs, and its wires with the ohms they may have end to end."""
    most = {one.tag: one.expected[0].high for one in sheet.checks if one.label == "each wire"}
    groups = []
    for tag, group in groupby(sheet.wires, key=lambda one: one.tag):
        own = list(group)
        extra = [f"shield: {own[0].shield}"] if own[0].shield else []
        if all(run.job != "return" for run in own):
            extra.append("return through the sensor's body and the engine")
        shared = len({run.firewall for run in own}) < len(own)
        groups.append(
            {
                "title": f"{tag} {sheet.roles[tag]}".rstrip(),
                "way": f"from {own[0].start or '………………'} to {own[0].end or '………………'}",
                "extra": "; ".join(extra),
                "rows": [
                    {
                        "label": one.label,
                        "job": one.job,
                        "firewall": "" if shared and len(own) > 1 and i else one.firewall,
                        "wire": one.wire,
                        "length": number(from_si(one.length_m, length), 1),
                        "ohm": number(one.ohm_20c, 2),
                        "most": number(most[tag] or 0.0, 2),
                    }
                    for i, one in enumerate(own)
                ],
            }
        )
    return groups


def _copper(one: CopperCost, units: UnitsOut) -> dict[str, str]:
    drop, left = "-", "-"
    if one.drop_v is not None and one.at_sensor_v is not None:
        mark = " assumed" if one.current_assumed else ""
        drop = f"{number(1e3 * one.drop_v, 1)} mV at {1e3 * one.current_a:g} mA{mark}"
        left = f"{number(one.at_sensor_v, 3)} V"
    moved = "no curve"
    if one.error is not None and one.at is not None:
        unit = units.pressure if one.measurand == "pressure" else units.temperature
        decimals = 2 if abs(interval_from_si(one.error, unit)) < 1.0 else 1
        moved = f"{interval_from_si(one.error, unit):+.{decimals}f} {unit_symbol(unit)} at {_plain(one.at, unit)}"
    return {"tag": one.tag, "loop": number(one.loop_ohm, 2), "drop": drop, "left": left, "error": moved}


def _range(one: RangeCheck, role: str, units: UnitsOut) -> dict[str, Any]:
    unit = units.pressure if one.measurand == "pressure" else units.temperature
    symbol = unit_symbol(unit)

    def end(value_si: float) -> str:
        return _figure(from_si(value_si, unit))

    covers = "not known"
    if one.low is not None and one.high is not None:
        covers = f"{end(one.low)} to {end(one.high)} {symbol}"
        covers += f", {_KIND_WORDS[one.kind]}" if one.kind else " (sheet)"
    sees = "not known"
    if one.most is not None and one.least is not None:
        sees = f"{end(one.least.value)} to {end(one.most.value)} {symbol}: {one.least.why}; {one.most.why}"
    elif one.least is not None:
        sees = f"from {end(one.least.value)} {symbol}: {one.least.why}"
    bad = bool(one.warnings)
    known = one.most is not None and one.low is not None
    verdict = "NO, see the top of the sheet" if bad else "yes" if known else "not fully checked"
    return {
        "tag": one.tag, "role": role, "covers": covers, "sees": sees, "verdict": verdict, "bad": bad,
        "notes": one.notes,
    }  # fmt: skip


def _off(sheet: HarnessSheet, units: UnitsOut) -> dict[str, Any]:
    """Checks with the power off, but for the wires themselves, whose boxes stand in the wire list: a row a sensor."""
    by_tag: dict[str, dict[str, Check]] = {}
    for check in sheet.checks:
        by_tag.setdefault(check.tag, {})[check.label] = check
    rows, heads = [], []
    for tag, role in sheet.roles.items():
        own = by_tag.get(tag, {})
        sensor = own.get("the sensor")
        ohms: list[str] = []
        if sensor is not None:
            heads = [
                f"{_figure(from_si(float(one.what), units.temperature))} {unit_symbol(units.temperature)}"
                for one in sensor.expected
            ]
            ohms = [number(one.value or 0.0, 0) for one in sensor.expected]
            first = sensor.expected[0]
            ohms.append("" if not first.value or first.high is None else f"{100 * (first.high / first.value - 1):.0f}")
        body = own.get("body to ground")
        rows.append({"tag": tag, "role": role, "ohms": ohms, "body": None if body is None else _cell(body.expected[0])})
    return {"heads": heads, "rows": rows, "insulation": "1 MΩ", "body": any(row["body"] for row in rows)}


def _blocks(sheet: HarnessSheet, units: UnitsOut) -> list[dict[str, Any]]:
    """Checks with the master on, one table a sensor."""
    blocks: list[dict[str, Any]] = []
    said = ""
    powered = [check for check in sheet.checks if check.powered]
    for tag, group in groupby(powered, key=lambda one: one.tag):
        own = list(group)
        pressure = any(one.unit == "Pa" for check in own for one in check.expected)
        where = next((check.do for check in own if check.kind == "substitution"), "")
        rest = [f"{check.label}: {check.do}" for check in own if check.kind != "substitution"]
        before, said = said, "; ".join(filter(None, [*rest, where]))
        blocks.append(
            {
                "title": f"{tag} {sheet.roles[tag]}".rstrip(),
                "where": said if said != before else "",
                "head": unit_symbol(units.pressure if pressure else units.temperature),
                "rows": [
                    {
                        "label": check.label.replace(" ohm", " Ω").replace(" and ", " / "),
                        "volts": _between(check.expected[0], "V"),
                        "shown": _between(check.expected[1], units.pressure if pressure else units.temperature)
                        if len(check.expected) > 1
                        else None,
                    }
                    for check in own
                ],
            }
        )
    return blocks


def _between(one: Expected, unit: str) -> tuple[str, str]:
    """Value and limits without their unit."""
    if one.value is None or one.low is None or one.high is None:
        return "?", ""
    if unit == "V":
        return number(one.value, 2), f"{number(one.low, 2)} to {number(one.high, 2)}"
    low, middle, high = (_figure(from_si(value, unit)) for value in (one.low, one.value, one.high))
    return middle, f"{low} to {high}"


def _cell(one: Expected) -> str:
    return f"above {_ohms(one.low)}" if one.value is None else f"at most {_ohms(one.high)}"


def _ohms(value: float | None) -> str:
    if value is None:
        return "-"
    return f"{number(value, 1)} Ω" if value < 100.0 else f"{number(value, 0)} Ω"


def _figure(value: float) -> str:
    """Three or four digits, as a panel would show them."""
    size = abs(value)
    return number(value, 0 if size >= 20.0 else 1 if size >= 2.0 else 2).removesuffix(".0").removesuffix(".00")


def _plain(value_si: float, unit: str) -> str:
    return f"{_figure(from_si(value_si, unit))} {unit_symbol(unit)}"
