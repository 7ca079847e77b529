"""Measurements at the engine and its supply: ground, supply, gauge, hose, level, and which channel moves."""

from __future__ import annotations

from collections.abc import Mapping

from sensorcal.engine import PRESSURES, TEMPERATURES
from sensorcal.firststart.channels import WORDS
from sensorcal.firststart.checkparts import (
    COLD,
    CRANKING,
    FUEL,
    STOPPED,
    Answer,
    Bench,
    Hypothesis,
    Measurement,
)

_QUIET_BLOCK = (0.040, 0.030)
"""Block to monitor ground while cranking on a sound strap, V: 0.2 mΩ at 200 A; estimate."""


def engine_measurements(bench: Bench, channels: frozenset[str]) -> list[Measurement]:
    """List the measurements that concern more than one channel, or the engine itself.

    Parameters
    ----------
    bench : Bench
    channels : frozenset of str

    Returns
    -------
    list of Measurement
    """
    found = [_supply(bench), _cranking(bench), _loads(bench, channels), _logger()]
    if channels & set(TEMPERATURES):
        found.append(_hand_warm())
    if channels & set(PRESSURES):
        found.append(_pump())
    if "oil_pressure" in channels:
        found += [_oil_gauge(bench), _look("oil_pressure", "low_oil_pressure_real", 0.35)]
    if "fuel_pressure" in channels:
        found += [_fuel_gauge(bench), _look("fuel_pressure", "low_fuel_pressure_real", 0.45), _fuel_open(bench)]
    if "map" in channels:
        found += [_vacuum(bench), _hose()]
    if "coolant" in channels:
        found.append(_coolant_level())
    if "gearbox_oil" in channels:
        found.append(_look("gearbox_oil", "overheat_real", 0.4))
    found += [_quiet(name) for name in sorted(channels)]
    found += [_seat(name) for name in TEMPERATURES if name in channels]
    return found


def _words(
    hits: Mapping[str, Mapping[str, float]], usual: Mapping[str, float], one: Hypothesis, channel: str = ""
) -> Answer:
    """What is seen by the kind of cause; the usual where it does not concern the channel."""
    mine = not channel or channel in one.channels
    return Answer(words=hits.get(one.kind, usual) if mine else usual)


def _supply(bench: Bench) -> Measurement:
    supply = bench.setup.monitor.supply_v or 5.0

    def answer(one: Hypothesis) -> Answer:
        if one.kind != "ref_sag" or one.cause is None or not one.cause.size:
            return Answer(numbers=((1.0, supply, 0.015),))
        low = supply * (1.0 - one.cause.size[0])
        running, pull_up_only = "while running" in one.cause.text, not set(one.channels) & set(PRESSURES)
        seen = 0.5 if running or pull_up_only else 0.95
        return Answer(numbers=((seen, low, 0.03), (1.0 - seen, supply, 0.015)))

    return Measurement(
        name="supply at a sensor's plug", channel="", unit="V", minutes=6.0, answer=answer,
        do="measure volts between supply and ground pin at a pressure sensor's plug, all plugged in, with loads off "
        "and on",
        means="{} means the sensors' supply is what the monitor reckons with",
        cautions=(STOPPED, "Master on: no tool near the battery's live terminal."),
    )  # fmt: skip


def _cranking(bench: Bench) -> Measurement:
    del bench
    mean, sd = _QUIET_BLOCK

    def answer(one: Hypothesis) -> Answer:
        if one.kind != "ground_offset" or one.cause is None or len(one.cause.size) < 2:
            return Answer(numbers=((1.0, mean, sd),))
        lift = abs(one.cause.size[1])
        if lift < 1e-6:
            # The log shows no step while cranking, so the starter's current hardly takes that path.
            return Answer(numbers=((0.75, mean, sd), (0.25, 6.0 * abs(one.cause.size[0]), 0.1)))
        return Answer(numbers=((0.85, lift + mean, 0.25 * lift + sd), (0.15, mean, sd)))

    return Measurement(
        name="block to monitor while cranking", channel="", unit="V", minutes=15.0, answer=answer,
        do="measure volts from the engine block to the monitor's ground pin while cranking, ignition off",
        means="{} means the strap from engine to airframe is good", cautions=(CRANKING,),
    )  # fmt: skip


def _loads(bench: Bench, channels: frozenset[str]) -> Measurement:
    returns = {
        bench.setup.channel(tag).returns for name, tag in bench.facts.tags.items()
        if name in channels and tag in bench.setup.channels
    }  # fmt: skip
    # Lights and pumps return to the battery, not through the engine's strap: a case ground is hardly seen.
    chance = 0.5 if len(returns) != 1 else 0.8 if returns == {"own wire"} else 0.2

    def answer(one: Hypothesis) -> Answer:
        if one.kind != "ground_offset" or one.cause is None or not one.cause.size:
            return Answer(numbers=((1.0, 0.001, 0.002),))
        lift = 0.33 * abs(one.cause.size[0]) or 0.1 * abs(one.cause.size[-1])
        return Answer(numbers=((chance, lift, 0.3 * lift + 0.003), (1.0 - chance, 0.001, 0.002)))

    return Measurement(
        name="sensor ground with loads off and on", channel="", unit="V", minutes=6.0, answer=answer,
        do="engine stopped, measure millivolts from the sensors' ground to the monitor's ground pin with every load "
        "off, then on",
        means="a change of {} means the sensors' ground does not move with the loads (the engine's strap is not seen "
        "by this)",
    )  # fmt: skip


def _logger() -> Measurement:
    return Measurement(
        name="logger's connection and supply", channel="", minutes=8.0, means="",
        do="look at the logger's plug, card and supply, and log five minutes with the engine stopped",
        answer=lambda one: _words(
            {"dropouts": {"blanks again": 0.7, "none": 0.3}}, {"blanks again": 0.03, "none": 0.97}, one
        ),
    )  # fmt: skip


def _hand_warm() -> Measurement:
    usual = {"the right one moves": 0.98, "another moves": 0.01, "late": 0.01}

    def answer(one: Hypothesis) -> Answer:
        if not set(one.channels) & set(TEMPERATURES):
            return Answer(words=usual)
        return _words(
            {
                "swapped_charge": {"another moves": 0.98, "the right one moves": 0.02},
                "channel_slip": {"another moves": 0.98, "the right one moves": 0.02},
                "slow_probe": {"late": 0.6, "the right one moves": 0.4},
                "stuck": {"none moves": 0.7, "the right one moves": 0.3},
                "open_circuit": {"none moves": 0.97, "the right one moves": 0.03},
                "short_circuit": {"none moves": 0.97, "the right one moves": 0.03},
            },
            usual, one,
        )  # fmt: skip

    return Measurement(
        name="warm each probe by hand", channel="", minutes=8.0, answer=answer, means="",
        do="engine cold, master on, warm each probe in turn with a hand or a warm cup and write down which channel "
        "moves: exactly one must, within a minute",
    )  # fmt: skip


def _pump() -> Measurement:
    usual = {"only fuel moves": 0.98, "another moves": 0.02}
    other = {"another moves": 0.98, "only fuel moves": 0.02}

    def answer(one: Hypothesis) -> Answer:
        mine = set(one.channels) & set(PRESSURES)
        return _words({"swapped_oil_fuel": other, "channel_slip": other} if mine else {}, usual, one)

    return Measurement(
        name="fuel pump on", channel="", minutes=3.0, answer=answer, means="",
        do="engine stopped, switch the fuel pump on and see which channel moves",
        cautions=(STOPPED, "No smell, no drip: look along the fuel lines with the pump on; fire guard ready."),
    )  # fmt: skip


def _low_too(kind: str) -> dict[str, Mapping[str, float]]:
    return {kind: {"gauge low too": 0.95, "gauge good": 0.05}}


def _oil_gauge(bench: Bench) -> Measurement:
    low = bench.facts.low.get("oil_pressure")
    least = f"; limit while running {low / 1e3:.0f} kPa" if low else ""
    return Measurement(
        name="mechanical gauge on the oil", channel="oil_pressure", minutes=45.0, means="",
        do="tee a mechanical gauge in beside the oil sensor and crank with ignition off and plugs out",
        answer=lambda one: _words(
            _low_too("low_oil_pressure_real"), {"gauge low too": 0.02, "gauge good": 0.98}, one
        ),
        cautions=(CRANKING, "A line opened is closed with a leak check."),
        proves=("low_oil_pressure_real",),
        look_for="the gauge must rise in the maker's time and agree with the panel within their U; no rise: do not "
        f"start; gauge low too: it is real; gauge good and panel low: the channel is wrong and is found first{least}",
    )  # fmt: skip


def _fuel_gauge(bench: Bench) -> Measurement:
    set_pa = bench.facts.engine.fuel_set_pa
    return Measurement(
        name="mechanical gauge on the fuel", channel="fuel_pressure", minutes=45.0, means="",
        do="by somebody who is allowed to: a mechanical gauge teed into the fuel line, pump on, engine stopped",
        answer=lambda one: _words(
            _low_too("low_fuel_pressure_real"), {"gauge low too": 0.03, "gauge good": 0.97}, one
        ),
        cautions=(STOPPED, FUEL), proves=("low_fuel_pressure_real",),
        look_for="gauge low too: it is real, no flight; gauge good and panel low: the channel is wrong"
        + ("" if set_pa is None else f"; {set_pa / 1e3:.0f} kPa above its reference by the setup"),
    )  # fmt: skip


def _look(channel: str, kind: str, chance: float) -> Measurement:
    what = {
        "oil_pressure": "oil level, prime, filter and leaks", "gearbox_oil": "gearbox oil level and cooler",
        "fuel_pressure": "fuel filter, vent, pump and leaks",
    }[channel]  # fmt: skip
    return Measurement(
        name=f"look: {what}", channel=channel, minutes=20.0, means="",
        do=f"look at {what}", cautions=(STOPPED, FUEL if channel == "fuel_pressure" else COLD),
        answer=lambda one: _words(
            {kind: {"something found": chance, "nothing": 1.0 - chance}}, {"something found": 0.03, "nothing": 0.97},
            one, channel,
        ),
        proves=(kind,),
        look_for="anything found is put right before the engine runs again",
    )  # fmt: skip


def _fuel_open(bench: Bench) -> Measurement:
    span = bench.facts.span_pa("fuel_pressure")

    def answer(one: Hypothesis) -> Answer:
        shift = 0.0
        if one.kind == "wrong_reference_type" and one.cause is not None and "fuel_pressure" in one.channels:
            shift = one.cause.size[0] if one.cause.size else 0.0
        if one.kind == "ref_sag" and one.cause is not None and "while running" not in one.cause.text:
            shift = -one.cause.size[0] * span / 8.0 if "fuel_pressure" in one.channels else 0.0
        return Answer(numbers=((1.0, shift, 0.005 * span),))

    return Measurement(
        name="fuel line open to the air", channel="fuel_pressure", unit="Pa", minutes=25.0, answer=answer,
        do="relieve the fuel pressure, open the line at the sensor to the air and read the panel",
        means="{} means the zero is right and the sensor is a vented gauge", cautions=(STOPPED, FUEL),
    )  # fmt: skip


def _vacuum(bench: Bench) -> Measurement:
    down = (bench.facts.station_pa - 50e3) / 1e3
    return Measurement(
        name="hand vacuum on the hose", channel="map", minutes=10.0, means="",
        do="take the hose off at the manifold and draw 50 kPa of vacuum on it by hand",
        look_for=f"the panel goes to about {down:.0f} kPa at once and loses less than 1 kPa in a minute",
        answer=lambda one: _words(
            {
                "map_hose_off": {"holds": 0.05, "does not hold": 0.95},
                "map_hose_leak": {"holds": 0.1, "does not hold": 0.9},
                "map_hose_pinched": {"holds": 0.2, "slow to follow": 0.8},
                "stuck": {"panel does not move": 0.8, "holds": 0.2},
            },
            {"holds": 0.97, "does not hold": 0.03}, one,
        ),
    )  # fmt: skip


def _hose() -> Measurement:
    return Measurement(
        name="look along the hose", channel="map", minutes=5.0, means="",
        do="follow the manifold hose from end to end: off, kinked, water, dirt, no restrictor or small volume in it",
        answer=lambda one: _words(
            {
                "map_hose_off": {"off or open": 0.9, "nothing": 0.1},
                "map_hose_leak": {"off or open": 0.35, "nothing": 0.65},
                "map_hose_pinched": {"kink, water or dirt": 0.7, "nothing": 0.3},
                "map_pulsation": {"no restrictor": 0.75, "nothing": 0.25},
            },
            {"off or open": 0.01, "kink, water or dirt": 0.03, "no restrictor": 0.3, "nothing": 0.66}, one,
        ),
    )  # fmt: skip


def _coolant_level() -> Measurement:
    return Measurement(
        name="coolant level, leaks, bleeding", channel="coolant", minutes=20.0, means="",
        do="cold engine: coolant level, leaks, then bleed at the highest point",
        look_for="low, or air at the bleed: it is real and put right before the engine runs; full and no air: "
        "thermostat, pump and cooler before the probe is doubted",
        answer=lambda one: _words(
            {
                "coolant_airlock_real": {"low or air": 0.85, "full": 0.15},
                "overheat_real": {"low or air": 0.4, "full": 0.6},
            },
            {"low or air": 0.03, "full": 0.97},
            one, "coolant",
        ),
        cautions=(STOPPED, COLD), proves=("overheat_real", "coolant_airlock_real"),
    )  # fmt: skip


def _quiet(channel: str) -> Measurement:
    other = {"noisy": 0.02, "quiet": 0.98}
    return Measurement(
        name="quiet with the engine stopped", channel=channel, minutes=8.0, means="",
        do=f"engine stopped, master on: watch {WORDS[channel]} while pump, strobe and radio are switched one by one",
        answer=lambda one: _words(
            {"noise": {"noisy": 0.55, "quiet": 0.45}, "intermittent": {"noisy": 0.25, "quiet": 0.75}}, other,
            one, channel,
        ),
    )  # fmt: skip


def _seat(channel: str) -> Measurement:
    return Measurement(
        name="seat and depth of the probe", channel=channel, minutes=25.0, means="",
        do=f"cold engine: look how deep the probe of {WORDS[channel]} sits in the flow, and for an air gap at its tip",
        answer=lambda one: _words(
            {"slow_probe": {"shallow or a gap": 0.65, "in the flow": 0.35},
             "coolant_airlock_real": {"shallow or a gap": 0.25, "in the flow": 0.75}},
            {"shallow or a gap": 0.04, "in the flow": 0.96},
            one, channel,
        ),
        cautions=(STOPPED, COLD),
    )  # fmt: skip
