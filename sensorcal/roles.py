"""Which channel of the engine a sensor watches, by the words of its role in the setup."""

from __future__ import annotations

from sensorcal.engine import PRESSURES, TEMPERATURES

_WORDS: dict[str, tuple[tuple[str, ...], ...]] = {
    # Each channel by words that must all stand in the sensor's role; the first that fits is taken.
    "charge_in": (("cooler", "in"), ("charge", "in"), ("before", "cooler"), ("compressor",), ("charge", "before")),
    "charge_out": (("cooler", "out"), ("charge", "out"), ("after", "cooler"), ("intake",), ("charge", "after")),
    "oil_pressure": (("oil", "pressure"), ("oil", "press")),
    "fuel_pressure": (("fuel",),),
    "gearbox_oil": (("gearbox",), ("oil", "temperature"), ("oil",)),
    "coolant": (("coolant",), ("water",)),
    "map": (("manifold",), ("map",), ("boost",)),
}


def channel_of_role(role: str, measurand: str) -> str | None:
    """Name the channel that a sensor's role in the setup stands for; None where the words do not say.

    Examples
    --------
    >>> channel_of_role("charge air before the cooler", "temperature"), channel_of_role("oil pressure", "pressure")
    ('charge_in', 'oil_pressure')
    """
    words = role.lower().replace("-", " ").replace("_", " ").split()
    allowed = PRESSURES if measurand == "pressure" else TEMPERATURES
    for channel, choices in _WORDS.items():
        if channel in allowed and any(all(word in words for word in choice) for choice in choices):
            return channel
    return None
