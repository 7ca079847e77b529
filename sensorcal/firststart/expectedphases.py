"""Bounds of what each channel shows, phase by phase: physics where there is a law, trade practice else.

Rates, knees, dips and decays of the engine are common practice, no source; each can be narrowed by the setup.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from sensorcal.calibration.atrest import AtRest
from sensorcal.calibration.figures import AT_REST, LOAD_STEP, RUNNING, figures_of, kind_of_channel
from sensorcal.calibration.sensorkind import SEALED_PA
from sensorcal.firststart.facts import StartFacts
from sensorcal.physics.compressor import compressor_outlet_c
from sensorcal.physics.manifold import expected_rail_gauge_pa

PHASES = (
    "master on", "pump on", "cranking", "first 30 s", "idle", "warm-up", "run-up", "stop +10 s", "stop +3 min",
)  # fmt: skip
"""Columns of the sheet."""
Form = Literal["value", "change", "rate"]
STILL_AIR_W_PER_K = (0.002, 0.004)
"""Self-heating of a probe in still air, power for 1 K: estimate, to be measured with two currents."""
_LIQUID_W_PER_K = 0.010
_USUAL_THERMOSTAT_C = (76.0, 88.0)
EFFICIENCY, EFFECTIVENESS = 0.60, 0.40
"""Least isentropic efficiency of the compressor, least effectiveness of its cooler: common practice, no source."""
_OPEN_AIR_IDLE_C = 25.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Expected:
    """What one channel should show in one phase.

    Parameters
    ----------
    phase : str
        One of `PHASES`.
    form : {'value', 'change', 'rate'}
        Bounds of what is shown; of its change against the phase before; or of its change in a minute.
    low, high : float or None
        degC or Pa; None where there is no bound on that side.
    note : str
        What else to look at, without numbers.
    """

    phase: str
    form: Form = "value"
    low: float | None = None
    high: float | None = None
    note: str = ""


def still_air_c(facts: StartFacts, channel: str, at_c: float) -> tuple[float, float]:
    """By how much a probe in still air may read above a like one in liquid or metal, from the pull-up's current.

    Parameters
    ----------
    facts : StartFacts
    channel : str
    at_c : float
        Temperature of both, degC.

    Returns
    -------
    (float, float)
        Least and most, degC.

    References
    ----------
    Joule heat over dissipation constant; 2 to 4 mW/K in still air and 10 in liquid are estimates.

    Examples
    --------
    >>> from sensorcal.bench.demo_harness import harness_setup
    >>> from sensorcal.firststart.facts import start_facts
    >>> low, high = still_air_c(start_facts(harness_setup()), "charge_in", 12.0)
    >>> round(low, 1), round(high, 1)
    (0.7, 1.9)
    """
    curve = facts.curves[channel]
    ohm = float(curve.resistance_ohm(at_c))
    watt = ohm * (5.0 / (ohm + curve.pull_up_ohm)) ** 2
    small, large = STILL_AIR_W_PER_K
    return watt / large - watt / _LIQUID_W_PER_K, watt / small - watt / _LIQUID_W_PER_K


def fuel_expected_pa(
    facts: StartFacts, map_pa: float | None, airbox_pa: float | None, *, kind: str = "gauge"
) -> float | None:
    """Fuel pressure that the panel should show at one moment, by the regulator's reference, Pa.

    Parameters
    ----------
    facts : StartFacts
    map_pa, airbox_pa : float or None
        Absolute; only the one that the regulator looks at is needed.
    kind : {'gauge', 'sealed', 'absolute'}
        Of the fuel sensor.

    Returns
    -------
    float or None
        None where the regulated pressure or the reference's pressure is not known.

    References
    ----------
    Definitions of gauge and absolute pressure.
    """
    engine = facts.engine
    seen = {"open air": facts.station_pa, "manifold": map_pa, "airbox": airbox_pa}[engine.fuel_reference]
    if engine.fuel_set_pa is None or seen is None:
        return None
    rail = float(expected_rail_gauge_pa(engine.fuel_set_pa, facts.station_pa, seen))
    behind = {"gauge": 0.0, "sealed": facts.station_pa - SEALED_PA, "absolute": facts.station_pa}[kind]
    return rail + behind


# --- temperatures -------------------------------------------------------------------------------------------------


def temperature_phases(
    name: str, facts: StartFacts, oat_c: float | None, still: tuple[float, float] | None
) -> list[Expected]:
    """Bounds of a temperature in every phase, degC, in any order.

    Parameters
    ----------
    name : str
        Channel.
    facts : StartFacts
    oat_c : float or None
    still : (float, float) or None
        From `still_air_c`.
    """
    near = figures_of("temperature", AT_REST["temperature"]).worth_acting
    step = figures_of("temperature", LOAD_STEP).worth_acting
    low, high = (None, None) if oat_c is None else (oat_c - near, oat_c + near)
    if high is not None and still is not None and name in {"charge_in", "charge_out"}:
        high += still[1]
    found = [
        Expected(phase="master on", low=low, high=high, note="all four alike"),
        Expected(phase="pump on", form="change", low=-step, high=step, note="no step"),
        Expected(phase="cranking", form="change", low=-step, high=step, note="no step"),
    ]
    if name == "coolant":
        opens = facts.engine.thermostat_c
        first, last = (opens - 2.0, opens + 12.0) if opens is not None else _USUAL_THERMOSTAT_C
        found += [
            Expected(phase="first 30 s", form="change", low=-1.0, high=5.0, note="a slow rise"),
            Expected(phase="idle", form="rate", low=5.0, high=15.0, note="a steady climb"),
            Expected(phase="warm-up", low=first, high=last, note="a knee at the thermostat, then level"),
            Expected(phase="run-up", low=first, high=facts.high.get(name), note="once warm, levels again"),
            Expected(phase="stop +10 s", form="change", low=-1.0, high=3.0),
            Expected(phase="stop +3 min", form="change", low=-3.0, high=10.0, note="rises first, then falls"),
        ]
    elif name == "gearbox_oil":
        found += [
            Expected(phase="first 30 s", form="change", low=-1.0, high=3.0),
            Expected(phase="idle", form="rate", low=0.0, high=10.0, note="behind the coolant"),
            Expected(phase="warm-up", low=None if oat_c is None else oat_c + 15.0, note="rising, below the coolant"),
            Expected(phase="run-up", high=facts.high.get(name), note="rising"),
            Expected(phase="stop +10 s", form="change", low=-2.0, high=2.0),
            Expected(phase="stop +3 min", form="change", low=-5.0, high=5.0, note="towards the block"),
        ]
    else:
        found += _charge(name, facts, oat_c)
    return found


def _charge(name: str, facts: StartFacts, oat_c: float | None) -> list[Expected]:
    first = name == "charge_in"
    idle = Expected(phase="idle")
    power = Expected(phase="run-up", note="in above out")
    if oat_c is not None:
        # Turbo and bay warm the ducts at idle; the two may cross there.
        idle = Expected(phase="idle", low=oat_c - 2.0, high=oat_c + _OPEN_AIR_IDLE_C, note="the two may cross")
        limit = facts.high.get("map")
        if facts.engine.boosted == "yes" and limit is not None and limit > 1.05 * facts.station_pa:
            ratio = limit / facts.station_pa
            # As hot as a steady full boost makes it: a short burst, or less boost, shows less.
            most = float(compressor_outlet_c(oat_c, ratio, EFFICIENCY)) - oat_c
            top = most + 10.0 if first else (1.0 - EFFECTIVENESS) * most + 10.0
            power = Expected(
                phase="run-up", low=oat_c, high=oat_c + top,
                note="well above out at boost" if first else "well below in at boost",
            )
        elif facts.engine.boosted == "yes":
            power = Expected(phase="run-up", low=oat_c - 2.0, note="in well above out at boost")
        else:
            power = Expected(phase="run-up", low=oat_c - 2.0, high=oat_c + _OPEN_AIR_IDLE_C)
    return [
        Expected(phase="first 30 s", form="change", low=-2.0, high=6.0),
        idle,
        Expected(phase="warm-up", low=idle.low, high=None if idle.high is None else idle.high + 5.0),
        power,
        Expected(phase="stop +10 s", form="change", low=-3.0, high=6.0),
        Expected(phase="stop +3 min", form="change", low=0.0, high=45.0, note="heat soak, in leads"),
    ]


def pressure_phases(name: str, facts: StartFacts, rest: AtRest, measurable_pa: float) -> list[Expected]:
    """Bounds of a pressure in every phase, Pa: at rest by the kind of sensor, running by the typed limits.

    Parameters
    ----------
    name : str
        Channel.
    facts : StartFacts
    rest : AtRest
    measurable_pa : float
        Expanded uncertainty of the shown value.
    """
    kind = kind_of_channel(name)
    act = figures_of(kind, AT_REST[kind]).worth_acting
    within = max(act, rest.tolerance_pa)
    low, high = rest.expected_pa - within, rest.expected_pa + within
    still = Expected(phase="master on", low=low, high=high)
    engine, limits = facts.engine, (facts.low.get(name), facts.high.get(name))
    if name == "map":
        idle = (engine.idle_map_pa - 9e3, engine.idle_map_pa + 9e3) if engine.idle_map_pa else (25e3, 50e3)
        # Without a compressor the manifold cannot pass the air outside.
        boosted = engine.boosted == "yes"
        top, told = (limits[1], "never beyond its limit") if boosted else (rest.expected_pa + within, "near the air's")
        back = figures_of("map", "after the stop against before").worth_acting
        return [
            still,
            Expected(phase="pump on", low=low, high=high, note="no step"),
            Expected(phase="cranking", form="change", low=-8e3, high=-1e3, note="dips"),
            Expected(phase="first 30 s", low=idle[0], high=idle[1] + 5e3, note="falls within 2 s"),
            Expected(phase="idle", low=idle[0], high=idle[1], note="hunts a little"),
            Expected(phase="warm-up", low=idle[0], high=idle[1] + 10e3),
            Expected(phase="run-up", low=idle[1], high=top, note=told),
            Expected(phase="stop +10 s", low=rest.expected_pa - within, high=rest.expected_pa + within,
                     note="as before the start"),
            Expected(phase="stop +3 min", form="change", low=-back, high=back),
        ]  # fmt: skip
    if name == "oil_pressure":
        warm = engine.oil_warm_pa
        run = (0.6 * warm, 1.4 * warm) if warm else limits
        return [
            still,
            Expected(phase="pump on", low=low, high=high, note="no step"),
            Expected(phase="cranking", low=low, high=80e3 + high, note="may show"),
            Expected(phase="first 30 s", low=limits[0], note="in the maker's time, or stop"),
            Expected(phase="idle", low=limits[0], note="high while cold, falling as it warms"),
            Expected(phase="warm-up", low=limits[0], high=limits[1], note="falls smoothly"),
            Expected(phase="run-up", low=max(filter(None, (run[0], limits[0])), default=None), high=limits[1] or run[1],
                     note="rises with speed up to the relief valve"),
            Expected(phase="stop +10 s", low=low, high=high, note="as before the start"),
            Expected(phase="stop +3 min", low=low, high=high, note="as before the start"),
        ]  # fmt: skip
    return _fuel(facts, rest, (low, high), measurable_pa)


def _fuel(facts: StartFacts, rest: AtRest, still: tuple[float, float], measurable_pa: float) -> list[Expected]:
    engine, kind = facts.engine, rest.kind
    # A sensor that is not calibrated may be off by more than what is worth acting on.
    act = max(figures_of("fuel pressure", RUNNING).worth_acting, measurable_pa)

    def around(map_pa: float | None, airbox_pa: float | None) -> tuple[float | None, float | None]:
        at = fuel_expected_pa(facts, map_pa, airbox_pa, kind=kind)
        return (None, None) if at is None else (at - act, at + act)

    idle_map = engine.idle_map_pa or 40e3
    pump, idle = around(facts.station_pa, facts.station_pa), around(idle_map, facts.station_pa)
    top = facts.high.get("map")
    boost = around(top, top) if engine.boosted == "yes" and top is not None else pump
    run = (pump[0], boost[1])
    low, high = facts.low.get("fuel_pressure"), facts.high.get("fuel_pressure")

    def row(phase: str, bounds: tuple[float | None, float | None], note: str = "") -> Expected:
        return Expected(phase=phase, low=bounds[0] if bounds[0] is not None else low,
                        high=bounds[1] if bounds[1] is not None else high, note=note)  # fmt: skip

    follows = "" if engine.fuel_reference == "open air" else f"follows the {engine.fuel_reference}"
    return [
        Expected(phase="master on", low=still[0], high=still[1], note="or what an earlier run left"),
        row("pump on", pump, "within 3 s"),
        row("cranking", pump),
        row("first 30 s", idle, follows),
        row("idle", idle, follows),
        row("warm-up", idle, follows),
        row("run-up", run, follows or "holds"),
        Expected(phase="stop +10 s", low=still[0], high=pump[1], note="decays, may rise a little"),
        Expected(phase="stop +3 min", low=still[0], high=pump[1], note="decays, may rise a little"),
    ]


def pressure_notes(name: str, facts: StartFacts, rest: AtRest) -> tuple[str, ...]:
    """What to know about a pressure sensor before its number is read."""
    notes = []
    if rest.kind == "sealed":
        notes.append(
            "sealed gauge: shows the air minus what was sealed in, no fault; a display that ends at zero hides it"
        )
    limit = facts.high.get(name)
    if limit is not None and facts.ranges_pa[name][1] < limit:
        notes.append("the sensor ends below the limit: it cannot show that it is crossed")
    if name == "fuel_pressure" and facts.engine.fuel_reference != "open air":
        notes.append(
            f"the regulator looks at the {facts.engine.fuel_reference}: a fixed alarm hides a deficit under boost"
        )
    return tuple(notes)
