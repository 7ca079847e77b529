"""A ground test in plain words: lift, strap, which readings it moves and which it leaves alone."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from sensorcal.units import from_si, interval_from_si
from sensorcal.views.words import TIMES, number, unit_symbol

if TYPE_CHECKING:
    from sensorcal.installed.groundsetup import GroundChannels
    from sensorcal.installed.groundtest import GroundFinding, Moved
    from sensorcal.setup import UnitsOut

GROUND_CAUTION = (
    "Cranking: ignition off, mixture or fuel shut, spark plugs out where the maker says so, starter rest times by its "
    "maker, nobody in the propeller's arc, leads and hair kept behind."
)
K = 2.0


def ground_lines(head: str, found: GroundFinding, known: GroundChannels, units: UnitsOut) -> list[str]:
    """Write what one ground test says.

    Parameters
    ----------
    head : str
        What was measured.
    found : GroundFinding
    known : GroundChannels
        It was sized on.
    units : UnitsOut

    Returns
    -------
    list of str
    """
    lines = [f"{head}: sensors' ground {_mv(found.lift_v)} ± {1e3 * K * found.u_lift_v:.2g} mV ({TIMES})."]
    if found.path_ohm is not None and found.u_path_ohm is not None:
        lines.append(
            f"Path from engine to monitor {1e3 * found.path_ohm:.2g} ± {1e3 * K * found.u_path_ohm:.1g} milliohm."
        )
    lines += [_moved(one, known.at[one.name], units) for one in found.moved]
    if not found.moved:
        lines.append("  no sensor of the setup returns by that path")
    if found.unmoved:
        lines.append(f"  not moved, another return: {', '.join(found.unmoved)}")
    if known.ungrounded:
        lines.append(f"  not moved, between supply and input: {', '.join(known.ungrounded)}")
    if known.left_out:
        lines.append(f"  not known, no sheet in the setup: {', '.join(known.left_out)}")
    return [*lines, f"  not seen by this test: {found.unseen}"]


def ground_machine(found: GroundFinding) -> dict[str, Any]:
    """Give the finding for machines, in SI units."""
    return {"format": "sensorcal-groundtest/1", **asdict(found)}


def _moved(one: Moved, at: float, units: UnitsOut) -> str:
    unit = units.temperature if one.unit == "degC" else units.pressure
    symbol = unit_symbol(unit)
    shift, u = interval_from_si(one.shift, unit), interval_from_si(K * one.u_shift, unit)
    where = from_si(at, unit)
    side = ""
    if one.unit == "degC" and abs(shift) > u:
        side = ", reads hot" if shift > 0.0 else ", cold when hot: the dangerous side"
    place = f"{number(where, 0 if abs(where) >= 20 else 1)} {symbol}"
    return f"  {one.name}: {shift:+.2f} ± {u:.2f} {symbol} at {place}{side}"


def _mv(volts: float) -> str:
    return f"{1e3 * volts:+.1f} mV"
