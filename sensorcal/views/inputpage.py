"""The input test in plain words: the plan as a page with boxes and as a CSV to type into, and the verdict."""

from __future__ import annotations

import csv
import io
import math
from typing import TYPE_CHECKING, Any

from sensorcal.setup import UnitsOut
from sensorcal.units import from_si, interval_from_si
from sensorcal.views.daysheet import DECIDES
from sensorcal.views.words import TIMES, number, unit_symbol

if TYPE_CHECKING:
    from sensorcal.installed.fromsetup import InstalledChannel
    from sensorcal.installed.inputproof import InputPlan, InputProof, Substitute

COLUMNS = ("resistor [ohm]", "voltage [% of supply]", "should show", "shown")
_POWER_CAUTION = (
    "Master on, ignition off, key out. Plug and unplug resistors with the master off; never put an ohmmeter on a "
    "powered circuit."
)
_SEEN = 3.0


def plan_lines(plan: InputPlan, channel: InstalledChannel, units: UnitsOut) -> list[str]:
    """Write the plan for a screen.

    Parameters
    ----------
    plan : InputPlan
    channel : InstalledChannel
        It was made for.
    units : UnitsOut

    Returns
    -------
    list of str
    """
    symbol = unit_symbol(units.temperature)
    lines = [f"Plug in instead of {plan.tag}, and write down what the panel shows ({channel.monitor}):"]
    lines += [
        f"  {_plug(one):<22} {number(one.volts, 2):>6} V   should show {_shown(one, channel, units):>7} {symbol}"
        for one in plan.substitutes
    ]
    return [*lines, _after(plan, units), *_tables(plan)]


def plan_csv(plan: InputPlan, channel: InstalledChannel, units: UnitsOut, note: str = "") -> str:
    """Write the plan as a CSV to type the shown values into; `sensorcal inputtest` reads it back.

    Parameters
    ----------
    plan, channel, units
        As for `plan_lines`.
    note : str, optional
        Marks invented data.
    """
    out = io.StringIO()
    out.write(f"# input test of {plan.tag}: type what the panel shows into the last column\n")
    for line in filter(None, note.splitlines()):
        out.write(f"# {line}\n")
    writer = csv.writer(out, lineterminator="\n")
    unit = units.temperature
    writer.writerow([*COLUMNS[:2], f"{COLUMNS[2]} [{unit}]", f"{COLUMNS[3]} [{unit}]"])
    for one in plan.substitutes:
        ohm = "" if one.resistance_ohm is None else f"{one.resistance_ohm:g}"
        share = "" if one.ratio is None else f"{100 * one.ratio:g}"
        writer.writerow([ohm, share, _shown(one, channel, units), ""])
    return out.getvalue()


def plan_page_html(
    plan: InputPlan, channel: InstalledChannel, units: UnitsOut, *, role: str = "", scenario: str = ""
) -> str:
    """Write the plan as a page to print, with a box for each reading.

    Parameters
    ----------
    plan, channel, units
        As for `plan_lines`.
    role, scenario : str, optional
        Place of the sensor; mark of invented data.

    Returns
    -------
    str
        Self-contained HTML.
    """
    from sensorcal.views.report import _environment

    title = f"Input test: {plan.tag} {role}".strip()
    pins = (
        "between the two pins of the sensor's plug"
        if channel.chain.ground.returns == "own wire"
        else "from the pin of the sensor's plug to the engine's metal beside it"
    )
    page = {
        "title": title,
        "subtitle": scenario,
        "big": f"Resistors {pins}, in place of the probe; within {100 * plan.tolerance_ratio:g} % or measured.",
        "steps": (
            "Measure each resistor, write its ohms here and into the CSV; --tolerance is then the meter's.",
            "Master off, plug in, master on; wait until the display stands.",
            "Write down what the panel shows, then the next.",
        ),
        "head": unit_symbol(units.temperature),
        "rows": [
            {"plug": _plug(one), "volts": f"{number(one.volts, 2)} V", "shown": _shown(one, channel, units)}
            for one in plan.substitutes
        ],
        "after": _after(plan, units),
        "tables": _tables(plan),
        "cautions": (_POWER_CAUTION, f"Reckoned for: {channel.monitor}; curve by {channel.source}.", DECIDES),
    }
    return _environment().get_template("inputpage.html").render(p=page)


def proof_lines(proof: InputProof, channel: InstalledChannel, units: UnitsOut) -> list[str]:
    """Write verdict, readings and effect at the limit for a screen.

    Parameters
    ----------
    proof : InputProof
    channel : InstalledChannel
    units : UnitsOut

    Returns
    -------
    list of str
    """
    unit = units.temperature
    symbol = unit_symbol(unit)
    found = proof.finding
    lines = [f"{proof.tag}: {found.verdict}.", ""]
    lines.append(f"  {'plugged in':<22} {'should show':>12} {'shows':>9}   unexplained, in its own u")
    for one, read, sigma in zip(proof.substitutes, proof.read_c, found.residual_sigma, strict=True):
        lines.append(
            f"  {_plug(one):<22} {_shown(one, channel, units):>12} {_text(read, channel, units):>9} {sigma:+10.1f}"
        )
    lines.append("")
    at = f"{number(from_si(proof.at_c, unit), 0)} {symbol}"
    if found.fits:
        effect = interval_from_si(proof.error_c, unit)
        margin = interval_from_si(proof.expanded_error_c, unit)
        side = "" if abs(effect) <= margin else ", cold when hot" if effect < 0.0 else ", reads hot"
        moved = f"{effect:+.1f} ± {margin:.1f} {symbol}"
        lines.append(f"The input moves the reading at {at} by {moved} ({TIMES}){side}.")
    else:
        lines.append(f"No effect at {at} is told: the readings are not explained.")
    for name, value in sorted(found.table_chi_squared.items(), key=lambda one: one[1]):
        word = "would explain the readings" if name in found.suspects else "does not explain them"
        lines.append(f"Keyed table of {name}: {word} (chi-squared {value:.1f} for {found.dof} readings).")
    return lines


def proof_machine(proof: InputProof) -> dict[str, Any]:
    """Give the finding for machines, in SI units."""
    found = proof.finding
    return {
        "format": "sensorcal-inputtest/1",
        "sensor": proof.tag,
        "verdict": found.verdict,
        "fits": found.fits,
        "estimate": found.estimate,
        "u": found.u,
        "significant": list(found.significant),
        "chi_squared": found.chi_squared,
        "dof": found.dof,
        "table_chi_squared": found.table_chi_squared,
        "at_c": proof.at_c,
        "error_c": proof.error_c,
        "u_error_c": proof.u_error_c,
        "readings": [
            {"resistance_ohm": one.resistance_ohm, "ratio": one.ratio, "expected_c": one.shown_c, "shown_c": read}
            for one, read in zip(proof.substitutes, proof.read_c, strict=True)
        ],
    }


def _plug(one: Substitute) -> str:
    if one.resistance_ohm is not None:
        return f"{one.resistance_ohm:g} Ω"
    return f"{100 * (one.ratio or 0.0):g} % of the supply"


def _shown(one: Substitute, channel: InstalledChannel, units: UnitsOut) -> str:
    return _text(one.shown_c, channel, units)


def _text(temperature_c: float, channel: InstalledChannel, units: UnitsOut) -> str:
    if not math.isfinite(temperature_c):
        return "nothing"
    step = interval_from_si(channel.chain.display_step, units.temperature)
    return number(from_si(temperature_c, units.temperature), 0 if step >= 0.95 else 1)


def _after(plan: InputPlan, units: UnitsOut) -> str:
    unit = units.temperature
    symbol = unit_symbol(unit)
    after, before = (interval_from_si(u, unit) for u in (plan.expanded_at_limit_c, plan.expanded_before_c))
    parts = {part: 100.0 * u for part, u in plan.expanded.items()}
    at = number(from_si(plan.at_c, unit), 0)
    return (
        f"Afterwards the input is known to ± {after:.1f} {symbol} at {at} {symbol}, instead of ± {before:.0f}: pull-up "
        f"to ± {parts['pull-up']:.1f} %, gain to ± {parts['gain']:.1f} %, offset to ± {parts['offset']:.2f} % of the "
        f"supply ({TIMES})."
    )


def _tables(plan: InputPlan) -> list[str]:
    return [
        f"The table of {name}, if it were keyed instead, would stand out by {sigma:.0f} times its uncertainty."
        if sigma >= _SEEN
        else f"The table of {name}, if it were keyed instead, could hide behind a pull-up error: read the table back."
        for name, sigma in plan.wrong_table_sigma.items()
    ]
