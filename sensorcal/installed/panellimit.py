"""An engine limit as the panel of one installed channel shows it: shifted by the known error, with the channel's U."""

from __future__ import annotations

from dataclasses import dataclass

from sensorcal import units
from sensorcal.errors import InputError
from sensorcal.installed.budget import budget
from sensorcal.installed.fromsetup import InstalledChannel
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
        On the panel: the true limit plus what the channel is known to show too much there.
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
    low: bool = False,
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
        Of the result; that of the setup if left out.
    low : bool
        Whether the low limit is guarded.
    expanded_si : float, optional
        Expanded uncertainty, degC or Pa, instead of the chain's own.

    Returns
    -------
    PanelLimit

    Raises
    ------
    InputError
        No limit in the setup, or one beyond the sensor's curve.

    Examples
    --------
    >>> from sensorcal.bench.demo_harness import harness_setup
    >>> from sensorcal.installed.fromsetup import installed_channel
    >>> setup = harness_setup()
    >>> found = panel_limit(setup, installed_channel(setup, "O1"), "oil pressure", low=True)
    >>> round(found.limit), found.unit, found.low
    (150, 'kPa', True)
    """
    named = channel_of_role(role, "pressure" if channel.pressure else "temperature") or ""
    unit = unit or (setup.units.pressure if channel.pressure else setup.units.temperature)
    where = "as given"
    if limit_si is None:
        limit_si, where, low = _of_setup(setup, channel, named, low=low)
    point = budget(channel.chain, [limit_si], limit="low" if low else "high").points[0]
    expanded = point.expanded if expanded_si is None else expanded_si
    moved = float(units.interval_from_si(point.error, unit))
    shown_u = float(units.interval_from_si(expanded, unit))
    mostly = f" (most of it: {point.lines[0].group})" if expanded_si is None else " (as given)"
    true = float(units.from_si(limit_si, unit))
    title = f"{channel.tag} {role}".strip()
    return PanelLimit(
        unit=unit,
        limit=true + moved,
        true_c=None if channel.pressure else limit_si,
        expanded=shown_u,
        k=coverage_factor() if expanded_si is None else 2.0,
        step=float(units.interval_from_si(channel.chain.display_step, unit)) or None,
        low=low,
        channel=named,
        said=(
            f"{title}: limit {true:.5g} {unit} ({where}); {channel.source}; {channel.monitor}",
            f"shown minus true there {moved:+.2g} {unit}, U {shown_u:.2g}{mostly}",
            "the limit below is the one on the panel, shifted by what the channel is known to show",
        ),
    )


def _of_setup(setup: Setup, channel: InstalledChannel, named: str, *, low: bool) -> tuple[float, str, bool]:
    """Limit of the setup, where it stands, and whether it is a low one."""
    limits = setup.limit(named) if named else None
    if limits is not None:
        wanted = limits.low if low else limits.high
        if wanted is not None:
            return wanted, f"{'low' if low else 'high'} of [limits.{named}]", low
        if not low and limits.low is not None and channel.redline is None:
            return limits.low, f"low of [limits.{named}]", True
    if channel.redline is not None and not low:
        return channel.redline, f"red line of {channel.tag}", False
    side = "low " if low else ""
    raise InputError(
        f"no {side}limit of {channel.tag} in the setup", do="give --limit, or [limits.CHANNEL] in the setup"
    )
