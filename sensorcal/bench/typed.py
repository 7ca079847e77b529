"""A session of a few readings typed by hand: no file, ice and steam by name."""

from __future__ import annotations

from collections.abc import Mapping

from sensorcal.bench.run import Reading, Run
from sensorcal.errors import InputError


def typed_run(readings_ohm: Mapping[str | float, float], *, probe: str = "P1") -> Run:
    """Make a session of one probe from readings typed by hand.

    Parameters
    ----------
    readings_ohm : mapping
        From 'ice', 'steam' or a reference temperature in °C to the resistance read there, in ohm.
    probe : str
        Tag of the probe.

    Returns
    -------
    Run

    Raises
    ------
    InputError
        A resistance is not above zero, or a name is no fixed point.

    Examples
    --------
    >>> run = typed_run({"ice": 5262.0, "steam": 172.9})
    >>> [(reading.fixed, reading.signals["P1"]) for reading in run.readings]
    [('ice', 5262.0), ('steam', 172.9)]
    """
    for place, ohm in readings_ohm.items():
        if not ohm > 0.0:
            raise InputError(f"the resistance at {place} is {ohm:g} ohm, not above zero", do="read it again")
    return Run(
        readings=tuple(
            Reading(
                file_row=row,
                point=place if isinstance(place, str) else f"{place:g}",
                fixed=place if isinstance(place, str) else "",
                reference=None if isinstance(place, str) else float(place),
                signals={probe: float(ohm)},
            )
            for row, (place, ohm) in enumerate(readings_ohm.items(), start=1)
        )
    )
