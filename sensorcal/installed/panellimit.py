"""An engine limit as the panel of one installed channel shows it: shifted by the known error, with the channel's U."""

from __future__ import annotations

from dataclasses import dataclass

from sensorcal import units
from sensorcal.errors import InputError
from sensorcal.installed.budget import ChainPoint, Limit, budget
from sensorcal.installed.fromsetup import InstalledChannel
from sensorcal.installed.throughchain import NOT_SETTLED, settled
from sensorcal.measure.interval import coverage_factor
from sensorcal.roles import channel_of_role
from sensorcal.setup import Setup


@dataclass(frozen=True, slots=True, kw_only=True)
class PanelLimit:
    """A limit to be guarded; numbers in `unit`.

    Attributes
    ----------
    unit : str
    limit : float
        On the panel: the true limit plus what the channel is known to show too much there, but for what comes and
        goes where that would move the alarm toward the limit.
    true_c : float or None
        The true limit of a temperature, degC; None for a pressure.
    expanded, k : float
        Expanded uncertainty of the shown value at the limit, and its coverage factor.
    step : float or None
        Display step, where it is known.
    low : bool
        True for a limit that must not be undershot.
    channel : str
        The engine's channel by the sensor's role; empty where it is not known.
    said : tuple of str
        Where the numbers come from.
    """

    unit: str
    limit: float
    true_c: float | None
    expanded: float
    k: float
    step: float | None
    low: bool
    channel: str
    said: tuple[str, ...]


def typed_limit(limit: float, expanded: float, *, unit: str, low: bool) -> PanelLimit:
    """Take a limit and its U as somebody typed them, in one unit.

    Examples
    --------
    >>> typed_limit(248.0, 2.9, unit="degF", low=False).true_c
    120.0
    """
    true_c = float(units.to_si(limit, unit)) if units.dimension(unit) == "temperature" else None
    return PanelLimit(
        unit=unit, limit=limit, true_c=true_c, expanded=expanded, k=2.0, step=None, low=low, channel="", said=()
    )


def panel_limit(
    setup: Setup,
    channel: InstalledChannel,
    role: str,
    *,
    limit_si: float | None = None,
    unit: str = "",
    low: bool | None = None,
    expanded_si: float | None = None,
) -> PanelLimit:
    """Work out the limit of an installed channel as its panel shows it.

    Parameters
    ----------
    setup : Setup
    channel : InstalledChannel
    role : str
        Place of the sensor on the engine.
    limit_si : float, optional
        degC or Pa; that of the setup if left out.
    unit : str, optional
        Of the result; what the panel shows if left out.
    low : bool, optional
        Whether the low limit is guarded. If left out: the low one of an oil or fuel pressure, the high one of a
        temperature or a manifold pressure, and the other where the setup holds that only.
    expanded_si : float, optional
        Expanded uncertainty, degC or Pa, instead of the chain's own.

    Returns
    -------
    PanelLimit

    Raises
    ------
    InputError
        No limit in the setup, or one beyond the sensor's curve; a typed limit of a pressure without its side.

    Notes
    -----
    A lift that comes with the alternator, self-heating and damp are not there all the time. Such a known error shifts
    the limit only where that makes the alarm sound earlier.

    References
    ----------
    Common practice, no source.

    Examples
    --------
    >>> from sensorcal.bench.demo_harness import harness_setup
    >>> from sensorcal.installed.fromsetup import installed_channel
    >>> setup = harness_setup()
    >>> found = panel_limit(setup, installed_channel(setup, "O1"), "oil pressure")
    >>> round(found.limit), found.unit, found.low
    (150, 'kPa', True)
    """
    named = channel_of_role(role, "pressure" if channel.pressure else "temperature") or ""
    home = setup.units.pressure if channel.pressure else setup.units.temperature
    unit = unit or channel.chain.display.unit or home
    where = "as given"
    if limit_si is None:
        limit_si, where, low = _of_setup(setup, channel, named, low=low)
    elif low is None:
        if channel.pressure:
            raise InputError(
                f"{units.from_si(limit_si, home):g} {home} may be a low or a high limit", do="add --low or --high"
            )
        low = False
    side: Limit = "low" if low else "high"
    point = budget(channel.chain, [limit_si], limit=side).points[0]
    lasting = budget(settled(channel.chain), [limit_si], limit=side).points[0].error
    counted = max(point.error, lasting) if low else min(point.error, lasting)
    expanded = point.expanded if expanded_si is None else expanded_si
    moved, shift = (_rounded(float(units.interval_from_si(one, unit))) for one in (point.error, counted))
    shown_u = float(units.interval_from_si(expanded, unit))
    mostly = f" (most of it: {point.lines[0].group})" if expanded_si is None else " (as given)"
    true = float(units.from_si(limit_si, unit))
    also = "" if unit == home else f", {units.from_si(limit_si, home):.5g} {home}"
    title = f"{channel.tag} {role}".strip()
    said = [
        f"{title}: {side} limit {true:.5g} {unit}{also} ({where}); {channel.source}; {channel.monitor}",
        f"shown minus true there {moved:+.2g} {unit}, U {shown_u:.2g}{mostly}",
    ]
    if abs(moved - shift) > 0.05 * (float(units.interval_from_si(channel.chain.display_step, unit)) or 1.0):
        said.append(
            f"{moved - shift:+.2g} {unit} of it comes and goes ({', '.join(_passing(point))}) and would move the alarm "
            "past the limit: not counted on"
        )
    said.append("the limit below is the one on the panel, shifted by what the channel is known to show at all times")
    return PanelLimit(
        unit=unit,
        limit=true + shift,
        true_c=None if channel.pressure else limit_si,
        expanded=shown_u,
        k=coverage_factor() if expanded_si is None else 2.0,
        step=float(units.interval_from_si(channel.chain.display_step, unit)) or None,
        low=low,
        channel=named,
        said=tuple(said),
    )


def _passing(point: ChainPoint) -> list[str]:
    """Groups of elements that come and go and do something here, largest first."""
    return [line.group for line in point.lines if line.group in NOT_SETTLED and abs(line.error) > 0.0]


def _rounded(error: float) -> float:
    """Rounding of the arithmetic is no error of the channel."""
    return round(error, 9) + 0.0


def _of_setup(
    setup: Setup, channel: InstalledChannel, named: str, *, low: bool | None
) -> tuple[float, str, bool]:
    """Limit of the setup, where it stands, and whether it is a low one."""
    limits = setup.limit(named) if named else None
    first_low = channel.limit == "low" if low is None else low
    sides: list[Limit] = ["low", "high"] if first_low else ["high", "low"]
    for side in sides if low is None else sides[:1]:
        wanted = None if limits is None else (limits.low if side == "low" else limits.high)
        if wanted is not None:
            return wanted, f"{side} of [limits.{named}]", side == "low"
        if channel.redline is not None and side == channel.limit:
            return channel.redline, f"red line of {channel.tag}", side == "low"
    asked = "" if low is None else f"{sides[0]} "
    raise InputError(
        f"no {asked}limit of {channel.tag} in the setup", do="give --limit, or [limits.CHANNEL] in the setup"
    )
