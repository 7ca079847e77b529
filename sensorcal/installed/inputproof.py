"""A real channel's input proven without its probe: what to plug in, what a sound one shows, and what the shown says."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from sensorcal.errors import InputError
from sensorcal.installed.chain import Chain, displayed, series_of
from sensorcal.installed.chainparts import FloatArray
from sensorcal.installed.conversion import Conversion
from sensorcal.installed.elements import values_of
from sensorcal.installed.fromsetup import InstalledChannel
from sensorcal.installed.substitution import (
    InputDescription,
    InputFinding,
    TablePair,
    Test,
    expected_ratio,
    fit_substitution,
    limit_effect,
)
from sensorcal.installed.substitutionplan import plan_substitution
from sensorcal.measure.interval import coverage_factor
from sensorcal.physics.eseries import preferred_ohm

FINEST_RATIO = 1.0 / 65536.0
"""Step of an input whose bits are not known: too fine to matter beside the display's."""
DIVIDERS = (0.1, 0.25, 0.5, 0.75, 0.9)
_STEP_U = 1.0 / math.sqrt(12.0)
_DRAWER_OHM = (51.0, 10e3)
_SLOPE_C = 0.1


@dataclass(frozen=True, slots=True, kw_only=True)
class Substitute:
    """One thing to plug in instead of the probe, and what a sound input makes of it.

    Attributes
    ----------
    resistance_ohm : float or None
        As marked or measured; the wire to it is added by itself.
    ratio : float or None
        A stiff voltage at the input instead, over the supply.
    test : Test
        As the fit takes it.
    volts : float
        At the input.
    shown_c : float
        On the panel, rounded as it rounds; nan where it shows nothing.
    """

    resistance_ohm: float | None
    ratio: float | None
    test: Test
    volts: float
    shown_c: float


@dataclass(frozen=True, slots=True, kw_only=True)
class InputPlan:
    """What to plug in, in the order of the sheet, and what is then known.

    Attributes
    ----------
    tag : str
    substitutes : tuple of Substitute
        Highest resistance first, voltages last.
    u : dict
        Standard uncertainty of pull-up, gain and offset after the test.
    at_c : float
        The limit.
    u_at_limit_c, before_c : float
        Standard uncertainty of the shown value there from the input, after and before.
    wrong_table_sigma : dict
        How far each mistaken table would stand out.
    tolerance_ratio : float
    """

    tag: str
    substitutes: tuple[Substitute, ...]
    u: dict[str, float]
    at_c: float
    u_at_limit_c: float
    before_c: float
    wrong_table_sigma: dict[str, float]
    tolerance_ratio: float

    @property
    def expanded(self) -> dict[str, float]:
        """Expanded uncertainty of pull-up, gain and offset after the test, 19 times in 20."""
        return {part: coverage_factor() * u for part, u in self.u.items()}

    @property
    def expanded_at_limit_c(self) -> float:
        """Expanded uncertainty at the limit after the test, degC."""
        return coverage_factor() * self.u_at_limit_c

    @property
    def expanded_before_c(self) -> float:
        """The same before it."""
        return coverage_factor() * self.before_c


@dataclass(frozen=True, slots=True, kw_only=True)
class InputProof:
    """What the readings say, and what that does at the limit.

    Attributes
    ----------
    tag : str
    substitutes : tuple of Substitute
    read_c : tuple of float
        As shown, degC.
    finding : InputFinding
    at_c, error_c, u_error_c : float
        The limit; shown minus true there by the found parts, and its standard uncertainty.
    """

    tag: str
    substitutes: tuple[Substitute, ...]
    read_c: tuple[float, ...]
    finding: InputFinding
    at_c: float
    error_c: float
    u_error_c: float

    @property
    def expanded_error_c(self) -> float:
        """Expanded uncertainty of the error at the limit, 19 times in 20, degC."""
        return coverage_factor() * self.u_error_c


@dataclass(frozen=True, slots=True, kw_only=True)
class TableReading:
    """A monitor's conversion read as a curve: degC from the ohms that it sees."""

    conversion: Conversion
    given: InputDescription

    def temperature_c(self, resistance_ohm: ArrayLike) -> FloatArray:
        """Temperature that is shown, degC, before the display rounds it."""
        return np.asarray(self.conversion.value(self.given.ratio(resistance_ohm)), dtype=float)


def plan_input(
    channel: InstalledChannel,
    *,
    limit_c: float,
    at_hand_ohm: ArrayLike | None = None,
    voltages: bool = False,
    count: int = 5,
    tolerance_ratio: float = 0.01,
    wrong_tables: Mapping[str, Conversion] | None = None,
) -> InputPlan:
    """Choose what to plug in, for a channel as the setup describes it.

    Parameters
    ----------
    channel : InstalledChannel
        Of a thermistor.
    limit_c : float
        Where the error matters, degC.
    at_hand_ohm : array_like, optional
        Resistors at hand; every third of E24 from 51 ohm to 10 kohm if left out.
    voltages : bool
        Whether voltages from a stiff divider are at hand as well.
    count : int
        How many to take; three at least.
    tolerance_ratio : float
        Half-width of the resistors; measure them and give less.
    wrong_tables : mapping of str to Conversion, optional
        Tables that might have been keyed instead.

    Returns
    -------
    InputPlan

    Raises
    ------
    InputError
        A transducer, too few resistors, or none that the table can show.

    Examples
    --------
    >>> from sensorcal.installed.fromsetup import installed_channel
    >>> from sensorcal.setupfile import setup_from_text
    >>> setup = setup_from_text('''
    ... [probes.P1]
    ... sheet = [["0 degC", "5230 ohm"], ["50 degC", "721 ohm"], ["97.7 degC", "172.1 ohm"]]
    ... [monitor]
    ... bits = 10
    ... value_step = 0.1
    ... ''')
    >>> plan = plan_input(installed_channel(setup, "P1"), limit_c=120.0, at_hand_ohm=[100, 200, 680, 2200, 5100])
    >>> [one.resistance_ohm for one in plan.substitutes], float(round(plan.substitutes[-1].shown_c, 1))
    ([5100.0, 2200.0, 680.0, 200.0, 100.0], 119.2)
    """
    chain = _thermistor(channel)
    given = describe(channel)
    # Every third of E24, a third apart: neighbours would tell the same thing thrice and show no wrong table.
    ohms = preferred_ohm("E24", *_DRAWER_OHM)[::3] if at_hand_ohm is None else np.atleast_1d(
        np.asarray(at_hand_ohm, dtype=float)
    )
    made = [substitute(channel, resistance_ohm=float(ohm), tolerance_ratio=tolerance_ratio) for ohm in ohms]
    if voltages:
        made += [substitute(channel, ratio=ratio, tolerance_ratio=tolerance_ratio) for ratio in DIVIDERS]
    usable = [one for one in made if math.isfinite(one.shown_c) and math.isfinite(one.test.u_shown_ratio)]
    if len(usable) < count:
        raise InputError(
            f"{len(usable)} of what is at hand give a reading within the table, {count} are wanted",
            do="add resistors between its ends, or ask for fewer with three at least",
        )
    ohm, slope = _at_limit(channel, limit_c)
    plan = plan_substitution(
        given, tuple(one.test for one in usable), limit_ohm=ohm, c_per_ohm=slope, count=count,
        wrong_tables=_pairs(chain, given, wrong_tables),
    )  # fmt: skip
    chosen = [next(one for one in usable if one.test is test) for test in plan.tests]
    chosen.sort(key=lambda one: (one.resistance_ohm is None, -(one.resistance_ohm or 0.0), -(one.ratio or 0.0)))
    return InputPlan(
        tag=channel.tag, substitutes=tuple(chosen), u={str(k): u for k, u in plan.u.items()}, at_c=limit_c,
        u_at_limit_c=plan.u_at_limit_c, before_c=plan.before_c,
        wrong_table_sigma=plan.wrong_table_sigma, tolerance_ratio=tolerance_ratio,
    )  # fmt: skip


def prove_input(
    channel: InstalledChannel,
    plugged: Sequence[Substitute],
    shown_c: ArrayLike,
    *,
    limit_c: float,
    wrong_tables: Mapping[str, Conversion] | None = None,
) -> InputProof:
    """Find what is wrong with an input from what the panel showed.

    Parameters
    ----------
    channel : InstalledChannel
        With the table that is meant to stand in the monitor.
    plugged : sequence of Substitute
        From `substitute`.
    shown_c : array_like, shape (n,)
        Shown values, degC.
    limit_c : float
        Where the effect is told.
    wrong_tables : mapping of str to Conversion, optional
        Tables that might have been keyed instead.

    Returns
    -------
    InputProof

    Raises
    ------
    InputError
        A value that the table cannot show, or that stands at its held end, where the signal cannot be told.
    """
    chain = _thermistor(channel)
    given = describe(channel)
    seen = np.atleast_1d(np.asarray(shown_c, dtype=float))
    half = 0.5 * chain.display_step
    reach = chain.conversion.reach(seen - half, seen + half)
    bad = reach.impossible | ~np.isfinite(reach.low) | ~np.isfinite(reach.high)
    if bad.any():
        row = int(np.argmax(bad))
        raise InputError(
            f"{seen[row]:g} degC, shown for {plugged[row].test.words}, is at or beyond the end of the table",
            do="leave that reading out: at the end the signal cannot be told",
        )
    signal = 0.5 * (reach.low + reach.high)
    finding = fit_substitution(
        given, tuple(one.test for one in plugged), signal, wrong_tables=_pairs(chain, given, wrong_tables)
    )
    ohm, slope = _at_limit(channel, limit_c)
    error, u = limit_effect(finding, given, limit_ohm=ohm, c_per_ohm=slope)
    return InputProof(
        tag=channel.tag, substitutes=tuple(plugged), read_c=tuple(seen.tolist()), finding=finding, at_c=limit_c,
        error_c=error, u_error_c=u,
    )  # fmt: skip


def describe(channel: InstalledChannel) -> InputDescription:
    """Take the input as the setup describes it: pull resistor and the step of its converter."""
    chain = _thermistor(channel)
    assumed = chain.conversion.pull_ohm
    assert assumed is not None
    bits = chain.converter.bits
    return InputDescription(
        pull_up_ohm=assumed,
        pull_down=chain.divider.arrangement == "pull-down",
        step_ratio=FINEST_RATIO if bits is None else 1.0 / 2**bits,
    )


def substitute(
    channel: InstalledChannel,
    *,
    resistance_ohm: float | None = None,
    ratio: float | None = None,
    tolerance_ratio: float = 0.01,
) -> Substitute:
    """One resistor or voltage, with what a sound input shows; the wire to the plug is added to a resistor.

    Raises
    ------
    InputError
        Both or neither of resistor and voltage, or a value that is none.
    """
    chain = _thermistor(channel)
    given = describe(channel)
    wire = float(series_of(values_of(chain)))
    bare = Test(resistance_ohm=resistance_ohm, ratio=ratio, tolerance_ratio=tolerance_ratio)
    at_input = bare if bare.resistance_ohm is None else Test(
        resistance_ohm=bare.resistance_ohm + wire, tolerance_ratio=tolerance_ratio
    )  # fmt: skip
    signal = expected_ratio(given, (at_input,))
    value = np.asarray(chain.conversion.value(signal), dtype=float)
    slope = abs(float(np.asarray(chain.conversion.slope(signal))[0]))
    # A display that does not move tells nothing of the signal.
    u_shown = chain.display_step * _STEP_U / slope if slope > 0.0 else math.inf
    test = Test(
        resistance_ohm=at_input.resistance_ohm, ratio=at_input.ratio, tolerance_ratio=tolerance_ratio,
        u_shown_ratio=u_shown,
    )  # fmt: skip
    return Substitute(
        resistance_ohm=resistance_ohm, ratio=ratio, test=test, volts=float(signal[0]) * chain.divider.supply_v,
        shown_c=float(displayed(chain, value)[0]),
    )  # fmt: skip


def _thermistor(channel: InstalledChannel) -> Chain:
    if channel.pressure or channel.chain.conversion.pull_ohm is None:
        raise InputError(
            f"{channel.tag} is a pressure sensor: its input has no pull resistor to prove",
            do="use the dividers of the harness sheet, or a thermistor's tag",
        )
    return channel.chain


def _at_limit(channel: InstalledChannel, limit_c: float) -> tuple[float, float]:
    """Resistance at the input at the limit, and degC per ohm there."""
    chain = channel.chain
    if not chain.sensor.low + _SLOPE_C <= limit_c <= chain.sensor.high - _SLOPE_C:
        raise InputError(
            f"{limit_c:g} degC is beyond the curve of {channel.tag}, {chain.sensor.low:g} to {chain.sensor.high:g}",
            do="give a limit within it",
        )
    near = np.array([limit_c - _SLOPE_C, limit_c, limit_c + _SLOPE_C])
    ohm = np.asarray(chain.sensor.raw(near), dtype=float)
    return float(ohm[1]), float(2.0 * _SLOPE_C / (ohm[2] - ohm[0]))


def _pairs(
    chain: Chain, given: InputDescription, wrong: Mapping[str, Conversion] | None
) -> dict[str, TablePair]:
    right = TableReading(conversion=chain.conversion, given=given)
    return {name: (right, TableReading(conversion=other, given=given)) for name, other in (wrong or {}).items()}
