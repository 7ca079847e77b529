"""Which unit was mistaken for which, from a slope that is wrong by a factor."""

from __future__ import annotations

import math
from dataclasses import dataclass

from sensorcal.errors import InputError
from sensorcal.units import parse_unit, to_si

UNITS = ("Pa", "hPa", "kPa", "bar", "psi", "inHg", "mmHg", "inH2O")
"""Units that are mixed up with one another."""
# Units that a person at this bench reads off a gauge come first among equals; common practice, no source.
_USUAL = {"kPa": 0, "psi": 1, "bar": 2, "inHg": 3, "hPa": 4, "inH2O": 5, "mmHg": 6, "Pa": 7}
_DECIMAL = (10.0, 100.0, 1000.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitGuess:
    """One slip that would explain the factor.

    Parameters
    ----------
    entered : str
        Unit in which the numbers really are; '' for a slipped decimal point.
    taken_as : str
        Unit that they were taken for; '' for a slipped decimal point.
    factor_ratio : float
        Slope that the slip makes, as a multiple of the right one.
    deviation_ratio : float
        How far the observed factor is from it, relative.
    text : str
        In plain words.
    """

    entered: str
    taken_as: str
    factor_ratio: float
    deviation_ratio: float
    text: str


def unit_from_slope(slope_ratio: float, *, tolerance_ratio: float = 0.03, taken_as: str = "") -> tuple[UnitGuess, ...]:
    """Name the unit slips that explain a slope which is a multiple of the expected one.

    Parameters
    ----------
    slope_ratio : float
        Signal per entered pressure, as a multiple of what the sensor should give. Numbers entered too small (psi
        where kPa were wanted) make it larger than 1.
    tolerance_ratio : float, optional
        How far, relative, the slope may be from a slip's factor: the sensor's own span error and the fit's
        uncertainty together.
    taken_as : str, optional
        Unit that the numbers were taken for, where it is known; slips to other units are then left out.

    Returns
    -------
    tuple of UnitGuess
        Nearest factor first, commoner units first among those equally near; empty where the slope is right within the
        tolerance or no slip explains it. More than one means that this number alone cannot tell.

    Raises
    ------
    InputError
        If the slope is not positive, or the unit is not a pressure.

    References
    ----------
    NIST SP 811 (2008), appendix B.8 for the units.

    Examples
    --------
    >>> unit_from_slope(6.9, taken_as="kPa")[0].text
    'psi entered as kPa (a factor of 6.895)'
    >>> [guess.text for guess in unit_from_slope(1 / 27.7)][:1]
    ['inH2O entered as psi (a factor of 0.03613)']
    >>> unit_from_slope(1.01)
    ()
    """
    if not (math.isfinite(slope_ratio) and slope_ratio > 0.0):
        raise InputError(
            f"slope_ratio {slope_ratio:g} is not above zero", do="a slope that falls means exchanged wires, not units"
        )
    if not 0.0 < tolerance_ratio < 0.2:
        raise InputError(f"tolerance_ratio {tolerance_ratio:g} is outside 0 to 0.2", do="give 0.03 for 3 %")
    if taken_as:
        taken_as = parse_unit(taken_as)
        if taken_as not in UNITS:
            raise InputError(f"taken_as = {taken_as!r} is not among {', '.join(UNITS)}", do="name the gauge's unit")
    if abs(slope_ratio - 1.0) <= tolerance_ratio:
        return ()
    guesses: list[tuple[float, int, UnitGuess]] = []
    for entered in UNITS:
        for wanted in UNITS:
            if entered == wanted or (taken_as and wanted != taken_as):
                continue
            factor = to_si(1.0, entered) / to_si(1.0, wanted)
            off = slope_ratio / factor - 1.0
            if abs(off) <= tolerance_ratio:
                told = f"{entered} entered as {wanted} (a factor of {factor:.4g})"
                guess = UnitGuess(entered=entered, taken_as=wanted, factor_ratio=factor, deviation_ratio=off, text=told)
                guesses.append((abs(off), _USUAL[entered] + _USUAL[wanted], guess))
    for factor in (*_DECIMAL, *(1.0 / f for f in _DECIMAL)):
        off = slope_ratio / factor - 1.0
        if abs(off) <= tolerance_ratio:
            way = "small" if factor > 1.0 else "large"
            told = f"numbers {max(factor, 1.0 / factor):.0f} times too {way}: the decimal point slipped"
            guess = UnitGuess(entered="", taken_as="", factor_ratio=factor, deviation_ratio=off, text=told)
            guesses.append((abs(off), 5, guess))
    # Factors that differ by less than a thousandth are the same slope: the commoner unit decides.
    guesses.sort(key=lambda entry: (round(entry[0], 3), entry[1]))
    return tuple(guess for _, _, guess in guesses)
