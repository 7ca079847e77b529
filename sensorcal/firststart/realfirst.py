"""The one rule: real trouble is never explained away.

A crossed limit, low oil pressure, a climbing or an erratic and low coolant reading is reported as real first, unless
the log holds positive evidence against it. A story about a sensor that merely fits is not evidence.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from sensorcal.firststart.cause import Cause
from sensorcal.firststart.channels import FAMILY, GENUINE
from sensorcal.firststart.real import LINES, Trouble

_SLIPS = (0.1450377, 0.01, 0.0689476)
"""psi or bar in a kPa column, bar in a psi column: the only slips exact enough to speak against low fuel pressure."""
_LEAST = 3.5  # support that a pattern without a crossed limit needs to be reported
_AT_REST, _STEPS, _ORDER, _OTHER = 4.0, 6.0, 6.0, 8.0
"""Natural logarithms of likelihood ratios that count as positive evidence: from about 50 to 3000 to 1."""


def real_first(
    found: Sequence[Cause], troubles: Sequence[Trouble], weighed: Sequence[Cause], lines: Mapping[str, float]
) -> list[Cause]:
    """Put trouble of the engine before every cause in the installation, unless positive evidence speaks against it.

    Parameters
    ----------
    found : sequence of Cause
        Findings as ranked by their weight.
    troubles : sequence of Trouble
        What the channels show of real trouble.
    weighed : sequence of Cause
        All causes with their probability.
    lines : mapping of line to float
        Log-likelihood of each line of the healthy engine.

    Returns
    -------
    list of Cause
        Real trouble that nothing contradicts comes first; contradicted trouble stays in the list, after its cause.
    """
    first: list[Cause] = []
    proven: list[Cause] = []
    later: list[Cause] = []
    for one in _all_troubles(found, troubles, weighed):
        channel = one.channels[0] if one.channels else ""
        rivals = [*found, *(cause for cause in weighed if cause.support > max(_LEAST, 0.5 * one.support))]
        against = [
            cause for cause in rivals
            if cause.kind not in GENUINE and channel in cause.channels and contradicts(cause, channel, lines)
        ]  # fmt: skip
        place = later if against else first
        if against and against[0] not in found and against[0] not in proven:
            proven.append(against[0])
        if all((cause.kind, cause.channels) != (one.kind, one.channels) for cause in place):
            place.append(one)
    # An erratic coolant reading hides the heat that follows from it: it is named before the limit it leads to.
    first.sort(key=lambda one: (one.kind != "coolant_airlock_real", not one.crossed, one.start_s))
    named = {(cause.kind, cause.channels) for cause in (*first, *later)}
    known = (*proven, *(cause for cause in found if (cause.kind, cause.channels) not in named))
    return [*first, *known, *later]


def contradicts(cause: Cause, channel: str, lines: Mapping[str, float]) -> bool:
    """Say whether a cause in the installation has positive evidence against real trouble in this channel.

    Positive is: a rail or a blank; a mistake already seen at rest or after the stop; a step with the current; two
    channels that exchange their whole behaviour; a typed regulator value met exactly, at idle and at power, through
    one mistaken unit; probes that stood far from a cold engine's temperature before the start and are all on it with
    the cause undone. A fitting level is not.

    Parameters
    ----------
    cause : Cause
    channel : str
        The channel that shows the trouble.
    lines : mapping of line to float
        Log-likelihood of each line of the healthy engine, without the cause.

    Returns
    -------
    bool
    """
    if (cause.hard and cause.kind in {"open_circuit", "short_circuit"}) or cause.fits_cold:
        return True
    own = {name for names in LINES.values() for name in names}
    gains = cause.lines
    if FAMILY[cause.kind] == "wiring_order":
        return sum(gain for line, gain in gains.items() if line not in own) > _ORDER
    at_rest = ("rest", "map.rest", f"{channel}.rest", f"{channel}.again", f"{channel}.before")
    if sum(gains.get(line, 0.0) for line in at_rest) > _AT_REST:
        return True
    steps = [gain for line, gain in gains.items() if line.startswith(f"{channel}.") and line.endswith("_step")]
    if sum(steps) > _STEPS:
        return True
    if sum(gain for line, gain in gains.items() if line not in own and not line.endswith("_step")) > _OTHER:
        return True  # it puts right what the trouble would leave unexplained
    if cause.kind == "wrong_unit" and channel == "fuel_pressure":
        # Only a typed regulator value makes these lines narrow enough to count.
        checked = [name for name in ("level", "power", "surge") if f"fuel_pressure.{name}" in gains]
        met = (lines[f"fuel_pressure.{name}"] + gains[f"fuel_pressure.{name}"] for name in checked)
        usual_slip = bool(cause.size) and min(abs(cause.size[0] / slip - 1.0) for slip in _SLIPS) < 0.01
        return cause.exact and usual_slip and "level" in checked and all(value > -0.8 for value in met)
    return False


def _all_troubles(found: Sequence[Cause], troubles: Sequence[Trouble], weighed: Sequence[Cause]) -> list[Cause]:
    """Trouble as the channels show it; and oil that reads low through a mere fit of a unit is trouble too."""
    out: list[Cause] = []
    for one in troubles:
        if not (one.crossed or one.support > _LEAST):
            continue
        known = next((cause for cause in weighed if cause.kind == one.kind and one.channel in cause.channels), None)
        real = known or Cause(kind=one.kind, channels=(one.channel,), lines={}, rows={})
        out.append(
            replace(
                real, channels=(one.channel,), evidence=one.evidence, start_s=one.start_s, end_s=one.end_s,
                size=(one.worst,), crossed=one.crossed,
            )
        )  # fmt: skip
    if any(cause.kind == "wrong_unit" and cause.channels == ("oil_pressure",) and cause.low for cause in found):
        out += [cause for cause in weighed if cause.kind == "low_oil_pressure_real"]
    out += [cause for cause in found if cause.kind in GENUINE]
    return out
