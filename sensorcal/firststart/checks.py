"""The measurements that can be made at one channel after a start, and what each would give under every cause.

All of them are made with the engine stopped. How often a cause shows in a measurement, and how long it takes, are
estimates (common practice, no source); ohms, volts, degrees and pressures are computed from the setup.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np

from sensorcal.calibration.figures import figures_of
from sensorcal.engine import PRESSURES, TEMPERATURES
from sensorcal.firststart.checkparts import (
    HANGAR_C,
    ICE_C,
    STOPPED,
    UNPOWERED,
    Answer,
    Bench,
    Hypothesis,
    Measurement,
    number_with_margin,
)
from sensorcal.installed.channelparts import wire_of
from sensorcal.measure.interval import coverage_factor
from sensorcal.physics.eseries import preferred_ohm

END_OF_SCALE = "end of scale"
_WIRING = frozenset({"swapped_charge", "swapped_oil_fuel", "channel_slip"})
_LOOP_SD_OHM = figures_of("loop", "shorted at the sensor").measurable
_RESTING = ("rest", "before")
_BEHIND_THE_PLUG: dict[str, dict[str, float]] = {
    "open_circuit": {END_OF_SCALE: 0.97}, "short_circuit": {END_OF_SCALE: 0.97}, "stuck": {"does not move": 0.6},
    "intermittent": {"jumps": 0.55}, "noise": {"jumps": 0.3},
}  # fmt: skip
"""What is seen with a resistor in place of the sensor where the cause sits in wire, input or display."""


def channel_measurements(bench: Bench, channels: frozenset[str]) -> list[Measurement]:
    """List the measurements that are made at one channel.

    Parameters
    ----------
    bench : Bench
    channels : frozenset of str
        Those that a cause worth weighing concerns.

    Returns
    -------
    list of Measurement
    """
    found: list[Measurement] = []
    for channel in TEMPERATURES:
        if channel in channels:
            found += [make(bench, channel) for make in _FOR_A_PROBE]
    for channel in PRESSURES:
        if channel in channels:
            found += [make(bench, channel) for make in _FOR_A_PRESSURE]
    for channel in (*TEMPERATURES, *PRESSURES):
        if channel in channels:
            found += [make(bench, channel) for make in _FOR_ANY]
    return found


def hot_error(bench: Bench, one: Hypothesis, channel: str) -> float:
    """Error by a cause with a warm engine."""
    return bench.error(one, channel, "end_run", "s600", "s300", "idle_warm", "boost")


def _number(mean: float, sd: float) -> Answer:
    return Answer(numbers=((1.0, mean, sd),))


def _mixed(parts: list[tuple[float, float, float]], words: Mapping[str, float] | None = None) -> Answer:
    """Numbers share what the words leave."""
    left = 1.0 - sum((words or {}).values())
    whole = sum(weight for weight, _, _ in parts)
    return Answer(numbers=tuple((left * w / whole, mean, sd) for w, mean, sd in parts), words=words or {})


def _table(
    hits: Mapping[str, float], *, yes: str, no: str, sound: float, channel: str, outside: bool = False
) -> Callable[[Hypothesis], Answer]:
    """Say yes with a chance by kind, for causes that concern the channel; not in the sensor itself if outside."""

    def answer(one: Hypothesis) -> Answer:
        mine = channel in one.channels and not (outside and one.place == "probe")
        chance = hits.get(one.kind, sound) if mine else sound
        return Answer(words={yes: chance, no: 1.0 - chance})

    return answer


# --- one thermistor -----------------------------------------------------------------------------------------------


def _ohms_at_probe(bench: Bench, channel: str) -> Measurement:
    curve = bench.facts.curves[channel]
    at = round(bench.cold_c)
    ohm, sd = bench.resistance(channel, at, HANGAR_C)
    in_ice, sd_in_ice = bench.resistance(channel, 0.0, ICE_C)
    slope = float(np.log(curve.resistance_ohm(at) / curve.resistance_ohm(at + 1.0)))

    def answer(one: Hypothesis) -> Answer:
        if channel not in one.channels:
            return _number(ohm, sd)
        size = one.cause.size[0] if one.cause is not None and one.cause.size else 0.0
        if one.place != "probe":
            return _number(ohm, sd)
        if one.kind == "wrong_curve":
            # The probe is another than its sheet says: it has the ohms that the sheet gives for what is shown.
            return _number(float(curve.resistance_ohm(at + bench.error(one, channel, *_RESTING))), sd)
        if one.kind == "contact_resistance":
            return _number(ohm + size, sd)
        words = {
            "open_circuit": {"open": 0.97}, "short_circuit": {"shorted": 0.97}, "intermittent": {"jumps": 0.6},
        }.get(one.kind, {})  # fmt: skip
        return _mixed([(1.0, ohm, sd)], words)

    return Measurement(
        name="ohms at the probe", channel=channel, unit="ohm", minutes=8.0, answer=answer,
        do=f"engine cold, unplug {bench.name(channel)} at the probe and put an ohmmeter on its pins",
        means=f"{{}} at {at:.0f} °C means the probe is good", cautions=(STOPPED, UNPOWERED),
        look_for=f"each °C warmer takes {100 * slope:.1f} % off; in crushed ice "
        f"{number_with_margin(in_ice, coverage_factor() * sd_in_ice)[0]} Ω ± "
        f"{number_with_margin(in_ice, coverage_factor() * sd_in_ice)[1]}",
    )  # fmt: skip


def _loop(bench: Bench, channel: str) -> Measurement:
    wired = bench.setup.channel(bench.facts.tags.get(channel, ""))
    each = wire_of(wired)[0] if wired.gauge or wired.area_mm2 is not None else 0.033 * wired.length_m
    loop = wired.wires * each

    def answer(one: Hypothesis) -> Answer:
        if channel not in one.channels:
            return _number(loop, _LOOP_SD_OHM)
        size = one.cause.size[0] if one.cause is not None and one.cause.size else 0.0
        if one.place != "wire":
            return _number(loop, _LOOP_SD_OHM)
        if one.kind == "contact_resistance":
            return _number(loop + size, 0.2 * size + _LOOP_SD_OHM)
        words = {"open_circuit": {"open": 0.97}, "intermittent": {"jumps": 0.6}}.get(one.kind, {})
        return _mixed([(1.0, loop, _LOOP_SD_OHM)], words)

    return Measurement(
        name="loop shorted at the probe", channel=channel, unit="ohm", minutes=10.0, answer=answer,
        do=f"short the wires at the plug of {bench.name(channel)} and measure the loop at the monitor's plug, leads "
        "taken off",
        means="{} means wire and contacts are good", cautions=(STOPPED, UNPOWERED),
    )  # fmt: skip


def _substitute(bench: Bench, channel: str) -> Measurement:
    curve = bench.facts.curves[channel]
    drawer = preferred_ohm("E24", 1.0, 1e6)
    ohm = float(drawer[int(np.argmin(np.abs(np.log(drawer / float(curve.resistance_ohm(90.0))))))])
    at = float(curve.temperature_c(ohm))

    def answer(one: Hypothesis) -> Answer:
        if channel not in one.channels:
            return _number(at, 0.7)
        if one.kind in _WIRING:
            return _mixed([(1.0, at, 0.7)], {"another channel moves": 0.95})
        hot = hot_error(bench, one, channel)
        if one.kind == "wrong_unit":
            fahrenheit = one.cause is None or not one.cause.text.startswith("degC")
            return _number(1.8 * at + 32.0 if fahrenheit else (at - 32.0) / 1.8, 1.3)
        if one.place == "probe":
            return _number(at, 0.7)
        if one.kind in {"wrong_curve", "contact_resistance", "wrong_pullup"} or (
            one.kind == "ref_sag" and not _only_running(one)
        ):
            return _number(at + hot, 0.7 + 0.2 * abs(hot))
        return _mixed([(1.0, at, 0.7)], _BEHIND_THE_PLUG.get(one.kind))

    return Measurement(
        name="substitution resistor", channel=channel, unit="degC", minutes=9.0, answer=answer,
        do=f"put {ohm:g} Ω (1 %) in place of {bench.name(channel)} at its plug and read the panel",
        means="{} means wire, input and keyed table are good", cautions=(STOPPED, UNPOWERED),
    )  # fmt: skip


def _thermometer(bench: Bench, channel: str) -> Measurement:
    def answer(one: Hypothesis) -> Answer:
        cold = channel in one.channels and one.kind not in _WIRING
        return _number(bench.error(one, channel, *_RESTING) if cold else 0.0, 0.7)

    return Measurement(
        name="thermometer on the cold engine", channel=channel, unit="degC", difference=True, minutes=5.0,
        answer=answer, means="panel minus thermometer {} means the reading is right when cold",
        do=f"after a night in the shade lay a thermometer beside {bench.name(channel)} and read both",
    )  # fmt: skip


def _contact_thermometer(bench: Bench, channel: str) -> Measurement:
    def answer(one: Hypothesis) -> Answer:
        if one.kind == "coolant_airlock_real" and channel in one.channels:
            return _number(-15.0, 8.0)
        if one.kind == "ground_offset":
            return _number(0.0, 2.0)  # nothing charges once the engine has stopped
        return _number(hot_error(bench, one, channel) if channel in one.channels else 0.0, 2.0)

    return Measurement(
        name="contact thermometer after the next stop", channel=channel, unit="degC", difference=True, minutes=35.0,
        answer=answer, means="panel minus thermometer {} means the reading is right when hot",
        do=f"within a minute of the next stop hold a contact thermometer to the metal beside {bench.name(channel)}",
        cautions=("Engine stopped and propeller still before anyone comes near; hot parts burn.",),
    )  # fmt: skip


def _swap(bench: Bench, channel: str) -> Measurement:
    partner = {"coolant": "gearbox_oil", "gearbox_oil": "coolant", "charge_in": "charge_out",
               "charge_out": "charge_in"}[channel]  # fmt: skip

    def answer(one: Hypothesis) -> Answer:
        # Cold, so only what is wrong at rest can be followed.
        alone = one.channels == (channel,) and one.kind not in _WIRING
        wild = one.kind in {"open_circuit", "short_circuit"}
        if not alone or not (wild or abs(bench.error(one, channel, *_RESTING)) > 2.0):
            return Answer(words={"nothing to see cold": 1.0})
        moves = 0.97 if one.place == "probe" else 0.03
        return Answer(words={"goes with the probe": moves, "stays": 1.0 - moves})

    return Measurement(
        name="plug swap", channel=channel, minutes=8.0, answer=answer, means="",
        do=f"cold, exchange the plugs of {bench.name(channel)} and {bench.name(partner)} and see whether the wrong "
        "reading goes with the probe",
        cautions=(STOPPED, UNPOWERED, "Put the plugs back and mark it."),
    )  # fmt: skip


# --- one pressure sensor ------------------------------------------------------------------------------------------


def _divider(bench: Bench, channel: str) -> Measurement:
    low, high = bench.facts.ranges_pa[channel]
    at, sd = 0.5 * (low + high), 0.006 * (high - low)

    def answer(one: Hypothesis) -> Answer:
        if channel not in one.channels:
            return _number(at, sd)
        if one.kind in _WIRING:
            return _mixed([(1.0, at, sd)], {"another channel moves": 0.95})
        size = one.cause.size[0] if one.cause is not None and one.cause.size else 0.0
        if one.kind == "wrong_unit":
            return _number(at * (size or 1.0), sd)
        if one.kind == "ref_sag" and not _only_running(one):
            # The divider hangs on the sensor's own supply, as the sensor does.
            return _number(at - size * (at - low + (high - low) / 8.0), sd)
        return _mixed([(1.0, at, sd)], {} if one.place == "probe" else _BEHIND_THE_PLUG.get(one.kind))

    return Measurement(
        name="two resistors in place of the sensor", channel=channel, unit="Pa", minutes=12.0, answer=answer,
        do=f"unplug {bench.name(channel)}; 1 kΩ from supply to signal pin and 1 kΩ from signal to ground pin, and "
        "read the panel",
        means="{} means wire, input and keyed table are good",
        cautions=(STOPPED, UNPOWERED, "Never supply to ground directly: it can harm the monitor."),
    )  # fmt: skip


def _label(bench: Bench, channel: str) -> Measurement:
    return Measurement(
        name="label of the sensor", channel=channel, minutes=7.0, means="",
        do=f"read the label of {bench.name(channel)}: range, and gauge (G), sealed (S) or absolute (A)",
        answer=_table({"wrong_reference_type": 0.9, "clipped": 0.4, "wrong_unit": 0.1}, yes="not as in the setup",
                      no="as in the setup", sound=0.03, channel=channel),
    )  # fmt: skip


# --- any channel --------------------------------------------------------------------------------------------------


def _settings(bench: Bench, channel: str) -> Measurement:
    return Measurement(
        name="table and units read back", channel=channel, minutes=7.0, means="",
        do=f"read the keyed table, the sensor type and the unit of {bench.name(channel)} back from the monitor, and "
        "the unit of the log's column",
        answer=_table({"wrong_curve": 0.95, "wrong_unit": 0.9, "wrong_pullup": 0.2, "clipped": 0.15},
                      yes="differs from what was meant", no="as meant", sound=0.02, channel=channel, outside=True),
    )  # fmt: skip


def _unit(bench: Bench, channel: str) -> Measurement:
    return Measurement(
        name="unit looked up", channel=channel, minutes=3.0, means="",
        do=f"look up the unit of {bench.name(channel)} in the monitor and in the log's export",
        answer=_table({"wrong_unit": 0.9}, yes="another unit", no="the unit that was meant", sound=0.01,
                      channel=channel),
    )  # fmt: skip


def _wiggle(bench: Bench, channel: str) -> Measurement:
    hits = {"intermittent": 0.75, "noise": 0.25, "open_circuit": 0.35, "short_circuit": 0.25,
            "contact_resistance": 0.4, "dropouts": 0.15}  # fmt: skip

    def answer(one: Hypothesis) -> Answer:
        chance = hits.get(one.kind, 0.02) if channel in one.channels else 0.02
        at_sensor = {"probe": 0.9, "wire": 0.1}.get(one.place, 0.3)
        return Answer(words={"jumps at the sensor": chance * at_sensor,
                             "jumps at a wire or plug": chance * (1.0 - at_sensor), "steady": 1.0 - chance})

    return Measurement(
        name="wiggle test", channel=channel, minutes=8.0, means="", answer=answer,
        do=f"power on, wiggle sensor, plugs and wires of {bench.name(channel)} one by one while somebody watches the "
        "reading",
    )  # fmt: skip


def _open_line(bench: Bench, channel: str) -> Measurement:
    top = "the bottom" if channel in TEMPERATURES else "one end"

    def answer(one: Hypothesis) -> Answer:
        if channel not in one.channels:
            return Answer(words={"goes to an end": 0.98, "does not change": 0.02})
        still = {"stuck": 0.7, "open_circuit": 0.98, "clipped": 0.05}.get(one.kind, 0.02)
        still = 0.97 if one.kind == "short_circuit" and one.place == "wire" else still
        other = 0.95 if one.kind in _WIRING else 0.0
        return Answer(words={"another channel moves": other, "does not change": (1.0 - other) * still,
                             "goes to an end": (1.0 - other) * (1.0 - still)})  # fmt: skip

    return Measurement(
        name="reading with the plug open", channel=channel, minutes=4.0, answer=answer, means="",
        do=f"master on, read {bench.name(channel)}; master off, unplug it, master on, read again: a sound input goes "
        f"to {top} of its scale or blank",
        cautions=(STOPPED, UNPOWERED),
    )  # fmt: skip


def _ends(bench: Bench, channel: str) -> Measurement:
    return Measurement(
        name="ends of the range", channel=channel, minutes=3.0, means="",
        do=f"compare the number at which {bench.name(channel)} stands with the ends of sensor, table and display",
        answer=_table({"clipped": 0.95, "open_circuit": 0.9, "short_circuit": 0.9, "stuck": 0.05}, sound=0.03,
                      yes="it is an end", no="it is no end", channel=channel),
    )  # fmt: skip


def _only_running(one: Hypothesis) -> bool:
    return one.cause is not None and "while running" in one.cause.text


_FOR_A_PROBE = (_ohms_at_probe, _loop, _substitute, _thermometer, _contact_thermometer, _swap)
_FOR_A_PRESSURE = (_divider, _label)
_FOR_ANY = (_unit, _settings, _wiggle, _open_line, _ends)
