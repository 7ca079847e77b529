"""What a test gauge is good for before it is bought: U of one comparison, with the hot body added on request."""

from __future__ import annotations

import math
from dataclasses import dataclass

from sensorcal.bench.budgetline import BudgetLine, combined
from sensorcal.calibration.cycles import K_GUIDE
from sensorcal.errors import InputError

_SQRT3 = math.sqrt(3.0)
READING_SHARE = 0.3
"""Half-width of reading a pointer, in shares of the gauge's limits: estimate, no source."""
REST_SHARE = 0.001
"""Half-width of hysteresis and voltmeter together, in shares of the transducer's range: estimate, no source."""
REPEAT_PA = 1000.0
"""Repeatability of a transducer with its hose and pump, as a standard uncertainty: estimate, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class GaugeBudget:
    """U of a transducer's point against a gauge.

    Parameters
    ----------
    lines : tuple of BudgetLine
        In Pa, largest first.
    u_pa, expanded_pa : float
        Standard uncertainty, and U with k = 2.
    """

    lines: tuple[BudgetLine, ...]
    u_pa: float
    expanded_pa: float

    def share(self, identifier: str) -> float:
        """Share of one line in the square of u."""
        return sum(line.u**2 for line in self.lines if line.identifier == identifier) / self.u_pa**2


def gauge_budget(
    *,
    gauge_range_pa: float,
    gauge_class_ratio: float,
    transducer_range_pa: float,
    repeat_pa: float = REPEAT_PA,
    body_effect_pa: float = 0.0,
) -> GaugeBudget:
    """Budget of one point of a transducer read against a test gauge.

    Parameters
    ----------
    gauge_range_pa : float
        Full scale of the gauge.
    gauge_class_ratio : float
        Its limits as a share of full scale, such as 0.005.
    transducer_range_pa : float
        Full scale of the transducer.
    repeat_pa : float
        Standard uncertainty of repeating a point.
    body_effect_pa : float
        Half-width of the effect of a hot body; 0 at bench temperature.

    Returns
    -------
    GaugeBudget

    Raises
    ------
    InputError
        A range or class of zero or less, or a negative uncertainty.

    References
    ----------
    JCGM 100:2008 (GUM), 4.3.7 (limits as rectangular) and 5.1.2; half-widths without source, as the constants of
    this module say.

    Examples
    --------
    >>> found = gauge_budget(gauge_range_pa=1e6, gauge_class_ratio=0.005, transducer_range_pa=1e6)
    >>> round(found.expanded_pa / 1000, 1)
    6.5
    """
    for name, value in (
        ("gauge_range_pa", gauge_range_pa),
        ("gauge_class_ratio", gauge_class_ratio),
        ("transducer_range_pa", transducer_range_pa),
    ):
        if not value > 0.0:
            raise InputError(f"{name} = {value:g} is not above zero", do="give the gauge's range and class as printed")
    if repeat_pa < 0.0 or body_effect_pa < 0.0:
        raise InputError("repeat_pa and body_effect_pa are widths", do="give them as zero or more")
    limit = gauge_range_pa * gauge_class_ratio
    lines = [
        _line("gauge", "gauge", limit / _SQRT3, "class of the gauge, rectangular"),
        _line(
            "reading the gauge", "reading", READING_SHARE * limit / _SQRT3, "three tenths of its limits, an estimate"
        ),
        _line("repeat of the point", "repeat", repeat_pa, "estimate"),
        _line("hysteresis and meter", "rest", REST_SHARE * transducer_range_pa / _SQRT3, "0.1 % of range, an estimate"),
        _line("hot body", "body", body_effect_pa / _SQRT3, "half-width as stated"),
    ]
    kept = tuple(sorted((line for line in lines if line.u > 0.0), key=lambda line: -line.u))
    u = combined(kept)
    return GaugeBudget(lines=kept, u_pa=u, expanded_pa=K_GUIDE * u)


def _line(name: str, identifier: str, u_pa: float, source: str) -> BudgetLine:
    return BudgetLine(name=name, identifier=identifier, u_input=u_pa, unit="Pa", slope=1.0, source=source)
