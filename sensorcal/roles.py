"""Which channel of the engine a sensor watches, by the words of its role in the setup."""

from __future__ import annotations

import re

from sensorcal.engine import PRESSURES, TEMPERATURES

_SAME: dict[str, str] = {
    word: idea
    for idea, words in {
        "coolant": "water clt ect h2o cooling",
        "gearbox": "gear gbx gbox reduction",
        "cooler": "intercooler aftercooler charge cac",
        "in": "inlet before pre upstream entering ahead",
        "out": "outlet after post downstream leaving behind",
        "compressor": "turbo turbocharger supercharger blower",
        "intake": "iat plenum induction",
        "manifold": "map boost",
        "pressure": "press pres",
        "temperature": "temp temps",
    }.items()
    for word in words.split()
}
"""Words of the trade that mean the same; common practice, no source."""

_WORDS: dict[str, tuple[tuple[str, ...], ...]] = {
    # Each channel by words that must all stand in the sensor's role; the first that fits is taken.
    "charge_in": (("cooler", "in"), ("compressor",)),
    "charge_out": (("cooler", "out"), ("intake",), ("manifold",)),
    "oil_pressure": (("oil",),),
    "fuel_pressure": (("fuel",),),
    "gearbox_oil": (("gearbox",), ("oil",)),
    "coolant": (("coolant",),),
    "map": (("manifold",),),
}


def channel_of_role(role: str, measurand: str) -> str | None:
    """Name the channel that a sensor's role in the setup stands for; None where the words do not say.

    Parameters
    ----------
    role : str
        In the owner's words: 'coolant', 'charge air before the cooler', 'CLT'.
    measurand : {'temperature', 'pressure'}

    Examples
    --------
    >>> channel_of_role("charge air before the cooler", "temperature"), channel_of_role("oil pressure", "pressure")
    ('charge_in', 'oil_pressure')
    >>> channel_of_role("CLT", "temperature"), channel_of_role("oil", "temperature"), channel_of_role("oil", "pressure")
    ('coolant', 'gearbox_oil', 'oil_pressure')
    """
    words = {_SAME.get(word, word) for word in re.split(r"[^a-z0-9]+", role.lower())}
    allowed = PRESSURES if measurand == "pressure" else TEMPERATURES
    for channel, choices in _WORDS.items():
        if channel.startswith("charge") and words & {"oil", "coolant"} and "air" not in words:
            continue  # an oil cooler is no charge-air cooler
        if channel in allowed and any(words.issuperset(choice) for choice in choices):
            return channel
    return None
