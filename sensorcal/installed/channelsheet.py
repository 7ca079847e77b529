"""Everything that is said of one installed channel: forward, budget, over the range, backward; computed once."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from sensorcal.errors import InputError
from sensorcal.installed.budget import BudgetFigure, ChainBudget, ChainPoint, Limit, budget, budget_figure, has_budget
from sensorcal.installed.budgetmc import DrawnBudget, drawn_budget
from sensorcal.installed.chain import shown
from sensorcal.installed.fromsetup import InstalledChannel
from sensorcal.installed.readout import ReadOut, read_out
from sensorcal.installed.throughchain import settled

_RANGE_POINTS = 61
DRAWS = 20_000
_USUAL_C = (0.0, 60.0, 90.0)
_USUAL_LIMIT_C = 120.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ChannelSheet:
    """What one channel shows, why, and what stands behind a shown number.

    Attributes
    ----------
    channel : InstalledChannel
    displayed : tuple of float
        The number on the panel at each point of the budget, degC or Pa.
    extrapolated, far : tuple of bool
        Per point: beyond the tested points of the calibration; further beyond than its curve should be used.
    budget : ChainBudget
    drawn : DrawnBudget
        The same by Monte Carlo.
    over_range : BudgetFigure
        Errors at many values of the range, for a picture.
    reads : tuple of ReadOut
        Shown values traced back.
    main : int
        Index of the point that matters most: the limit where it is among them.
    lasting : float
        Shown minus true there without what comes and goes (charging, self-heating, damp), degC or Pa.
    """

    channel: InstalledChannel
    displayed: tuple[float, ...]
    extrapolated: tuple[bool, ...]
    far: tuple[bool, ...]
    budget: ChainBudget
    drawn: DrawnBudget
    over_range: BudgetFigure
    reads: tuple[ReadOut, ...]
    main: int
    lasting: float

    @property
    def point(self) -> ChainPoint:
        """The budget at the value that matters most."""
        return self.budget.points[self.main]

    @property
    def at_limit(self) -> bool:
        """Whether that value is the engine maker's limit."""
        redline = self.channel.redline
        return redline is not None and abs(self.point.measurand - redline) <= 1e-9 * max(1.0, abs(redline))


def channel_sheet(
    channel: InstalledChannel,
    at: ArrayLike | None = None,
    shown_values: ArrayLike = (),
    *,
    limit: Limit | None = None,
    draws: int = DRAWS,
    seed: int = 0,
) -> ChannelSheet:
    """Work out everything that is said of one channel.

    Parameters
    ----------
    channel : InstalledChannel
    at : array_like, optional
        True values of interest, degC or Pa; usual ones and the limit if not given.
    shown_values : array_like
        Readings to trace back, degC or Pa.
    limit : {'high', 'low'}, optional
        Which limit is guarded; that of the channel if not given.
    draws, seed : int
        For Monte Carlo.

    Returns
    -------
    ChannelSheet

    Raises
    ------
    InputError
        A value beyond the range of the sensor's curve, or one at which the panel shows nothing.

    Examples
    --------
    >>> from sensorcal.installed.fromsetup import installed_channel
    >>> from sensorcal.setupfile import setup_from_text
    >>> setup = setup_from_text('''
    ... [probes.P1]
    ... sheet = [["0 degC", "5230 ohm"], ["50 degC", "721 ohm"], ["97.7 degC", "172.1 ohm"]]
    ... redline = "120 degC"
    ... [channels.P1]
    ... returns = "case"
    ... ground = "0.02 V"
    ... ''')
    >>> sheet = channel_sheet(installed_channel(setup, "P1"))
    >>> sheet.point.measurand, sheet.point.dangerous, sheet.point.lines[0].group
    (120.0, True, 'ground, constant')
    """
    values = np.atleast_1d(np.asarray(usual_values(channel) if at is None else at, dtype=np.float64))
    if not values.size:
        raise InputError("there is no value of interest", do="give one or more")
    chain = channel.chain
    guarded = channel.limit if limit is None else limit
    found = budget(chain, values, limit=guarded)
    over = np.linspace(channel.low, channel.high, _RANGE_POINTS)
    over = over[has_budget(chain, over)]
    reads = np.atleast_1d(np.asarray(shown_values, dtype=np.float64))
    main = _main(channel, values, guarded)
    return ChannelSheet(
        channel=channel,
        displayed=tuple(shown(chain, values).tolist()),
        extrapolated=tuple(channel.beyond(values).tolist()),
        far=tuple(channel.far(values).tolist()),
        budget=found,
        drawn=drawn_budget(chain, values, draws=draws, seed=seed),
        over_range=budget_figure(budget(chain, over, limit=guarded)),
        reads=read_out(chain, reads) if reads.size else (),
        main=main,
        lasting=budget(settled(chain), values[main : main + 1], limit=guarded).points[0].error,
    )


def usual_values(channel: InstalledChannel) -> tuple[float, ...]:
    """Give the values that are looked at where nobody asks for others, degC or Pa.

    Temperatures of a cold, a warm and a hot engine, and the limit (120 degC where none is stated); a fifth, half and
    four fifths of a pressure sensor's range, and the limit.
    """
    if channel.pressure:
        span = channel.high - channel.low
        # Whole kilopascals, as a person would ask.
        found = [1000.0 * round((channel.low + share * span) / 1000.0) for share in (0.2, 0.5, 0.8)]
    else:
        found = [t for t in _USUAL_C if channel.low <= t <= channel.high]
        if channel.redline is None and channel.low <= _USUAL_LIMIT_C <= channel.high:
            found.append(_USUAL_LIMIT_C)
    if channel.redline is not None:
        found.append(channel.redline)
    return tuple(sorted(set(found)))


def _main(channel: InstalledChannel, values: np.ndarray, limit: Limit) -> int:
    if channel.redline is not None:
        near = np.abs(values - channel.redline)
        if near.min() <= 1e-9 * max(1.0, abs(channel.redline)):
            return int(near.argmin())
    return int(values.argmax() if limit == "high" else values.argmin())
