"""Plain words for numbers: rounding, units, ±, and the cautions that stand where the step is."""

from __future__ import annotations

import math
import re
from decimal import ROUND_CEILING, ROUND_HALF_EVEN, Decimal
from typing import TYPE_CHECKING

from sensorcal.units import from_si, interval_from_si, parse_unit

if TYPE_CHECKING:
    from sensorcal.calibration.claims import Claim

TIMES = "19 times in 20"
"""How the coverage of every ± is said."""

CAUTIONS = (
    "The engine maker's manual, local rules and a licensed mechanic decide; this page gives numbers, no permission.",
    "Own workshop record, not an accredited certificate.",
    "Steam and boiling water scald: lid never sealed, probe in before the heat. Hot oil is not recommended.",
    "Never fuel on the bench. A low oil pressure or a high temperature is real until proved otherwise.",
)
"""Cautions of the bench that stand on every page."""

_SYMBOLS = {
    "degC": "°C",
    "degF": "°F",
    "ohm": "Ω",
    "kohm": "kΩ",
    "Mohm": "MΩ",
    "uA": "µA",
    "1": "",
}
# Above this U tenths of a degree (of a kilopascal, ...) would be make-believe even in plain words.
_TENTHS_UP_TO = Decimal(10)


def unit_symbol(unit: str) -> str:
    """Give the sign people write for a unit.

    Examples
    --------
    >>> unit_symbol("degC"), unit_symbol("kohm"), unit_symbol("kPa")
    ('°C', 'kΩ', 'kPa')
    """
    name = parse_unit(unit)
    return _SYMBOLS.get(name, name)


def rounded(value: float, expanded: float, digits: int = 2) -> tuple[str, str]:
    """Round U up to `digits` significant digits and the value to the same place.

    Parameters
    ----------
    value, expanded : float
        In the unit that is shown. U is never rounded down: the interval said aloud holds the computed one.
    digits : int
        Significant digits of U.

    Returns
    -------
    tuple of str
        Value and U. A U of zero, or one that is no number, leaves the value in six digits.

    References
    ----------
    JCGM 100:2008 (GUM), 7.2.6: at most two digits of U, which may be rounded up, and the value to match.

    Examples
    --------
    >>> rounded(97.2341, 0.2713), rounded(346.5, 12.1), rounded(20.0, 0.0996)
    (('97.23', '0.28'), ('346', '13'), ('20.00', '0.10'))
    """
    if not (math.isfinite(value) and math.isfinite(expanded)) or expanded <= 0.0:
        return f"{value:.6g}", f"{expanded:.3g}"
    exact = _short(expanded)
    place = exact.adjusted() - digits + 1
    up = exact.quantize(Decimal(1).scaleb(place), rounding=ROUND_CEILING)
    if up.adjusted() > exact.adjusted():  # 0.0996 became 0.100: one digit fewer now
        place += 1
        up = up.quantize(Decimal(1).scaleb(place), rounding=ROUND_CEILING)
    return _fixed(value, place), _plain(up, place)


def plus_minus(value_si: float, expanded_si: float, unit: str, digits: int = 2) -> str:
    """Write value ± U in a unit: U up to two significant digits, the value to match.

    Parameters
    ----------
    value_si, expanded_si : float
        In the home unit (degC, ohm, Pa, ...).
    unit : str
        Unit to show; U is converted as a difference.
    digits : int
        Significant digits of U.

    Examples
    --------
    >>> plus_minus(97.2341, 0.2713, "degC"), plus_minus(97.2341, 0.2713, "degF")
    ('97.23 °C ± 0.28', '207.02 °F ± 0.49')
    """
    value, expanded = rounded(from_si(value_si, unit), interval_from_si(expanded_si, unit), digits)
    return f"{value} {unit_symbol(unit)}".rstrip() + f" ± {expanded}"


def plainly(value_si: float, expanded_si: float, unit: str, *, coverage: bool = True) -> str:
    """Write value ± U for the person at the bench: tenths, rounded up, and how often it holds.

    A U below a tenth keeps its two digits, one of ten or more loses its tenths.

    Examples
    --------
    >>> plainly(97.2341, 0.2713, "degC"), plainly(120.0, 0.5712, "degC", coverage=False)
    ('97.2 °C ± 0.3 (19 times in 20)', '120.0 °C ± 0.6')
    """
    value, expanded = _tenths(from_si(value_si, unit), interval_from_si(expanded_si, unit))
    said = f"{value} {unit_symbol(unit)}".rstrip() + f" ± {expanded}"
    return f"{said} ({TIMES})" if coverage else said


def margin(expanded_si: float, unit: str) -> str:
    """Write a U or a worst error alone, as '± 0.3 °C', rounded up.

    Examples
    --------
    >>> margin(0.2713, "degC"), margin(0.2713, "degF")
    ('± 0.3 °C', '± 0.5 °F')
    """
    _, expanded = _tenths(0.0, interval_from_si(expanded_si, unit))
    return f"± {expanded} {unit_symbol(unit)}".rstrip()


def size(largest_si: float, unit: str) -> str:
    """Write a largest error, rounded up to two digits.

    Examples
    --------
    >>> size(0.4123, "degC"), size(1.0, "degF")
    ('0.42 °C', '1.8 °F')
    """
    _, text = rounded(0.0, interval_from_si(largest_si, unit))
    return f"{text} {unit_symbol(unit)}".rstrip()


def shift(difference_si: float, unit: str, decimals: int = 2) -> str:
    """Write a signed difference with its unit.

    Examples
    --------
    >>> shift(-0.0213, "degC"), shift(7.3, "degF", 1)
    ('-0.02 °C', '+13.1 °F')
    """
    text = f"{interval_from_si(difference_si, unit):+.{decimals}f}"
    if not float(text):
        text = text.lstrip("+-")
    return f"{text} {unit_symbol(unit)}".rstrip()


def temperature(temperature_c: float, unit: str, decimals: int = 1) -> str:
    """Write a temperature in the unit asked.

    Examples
    --------
    >>> temperature(97.73, "degC"), temperature(-0.004, "degC"), temperature(100.0, "degF", 0)
    ('97.7 °C', '0.0 °C', '212 °F')
    """
    return f"{number(from_si(temperature_c, unit), decimals)} {unit_symbol(unit)}"


def resistance(resistance_ohm: float, unit: str, *, symbol: bool = True) -> str:
    """Write a resistance to a tenth of an ohm below 1000 ohm and to an ohm above, whatever the unit.

    Examples
    --------
    >>> resistance(98.4812, "ohm"), resistance(5230.2, "kohm"), resistance(98.4812, "kohm")
    ('98.5 Ω', '5.230 kΩ', '0.0985 kΩ')
    """
    finest = 1 if abs(resistance_ohm) < 999.95 else 0
    decimals = finest + {"ohm": 0, "kohm": 3, "Mohm": 6}[parse_unit(unit)]
    text = number(from_si(resistance_ohm, unit), decimals)
    return f"{text} {unit_symbol(unit)}" if symbol else text


def redline(claim: Claim, temperature_unit: str, resistance_unit: str) -> str:
    """Write the line that stands first: what the probe has at the redline, and how far that is to be believed.

    Examples
    --------
    >>> from sensorcal.calibration.claims import Claim
    >>> claim = Claim(temperature_c=120.0, resistance_ohm=98.48, u_c=0.29, u_statistical_c=0.25, u_form_c=0.15,
    ...               expanded_c=0.57, claim_c=1.5, extrapolated=True, far=False)
    >>> redline(claim, "degC", "ohm")
    'At the 120 °C redline: 98.5 Ω; 120.0 °C ± 0.6 (19 times in 20), extrapolated: claim ± 1.5 °C'
    """
    at = from_si(claim.temperature_c, temperature_unit)
    name = f"At the {at:.6g} {unit_symbol(temperature_unit)} redline"
    if claim.resistance_ohm is None or claim.expanded_c is None or claim.claim_c is None:
        return f"{name}: no value, because {claim.why_not}"
    said = (
        f"{name}: {resistance(claim.resistance_ohm, resistance_unit)}; "
        f"{plainly(claim.temperature_c, claim.expanded_c, temperature_unit)}"
    )
    if claim.far:
        return f"{said}, extrapolated too far: not calibrated there"
    if not claim.extrapolated:
        return said
    if claim.claim_c > claim.expanded_c:
        return f"{said}, extrapolated: claim {margin(claim.claim_c, temperature_unit)}"
    return f"{said}, extrapolated"


def number(value: float, decimals: int) -> str:
    """Write a number with fixed decimals and never a minus before zero."""
    text = f"{value:.{decimals}f}"
    return text if float(text) else text.lstrip("-")


def typeset(text: str) -> str:
    r"""Put a true minus sign before numbers and a hard space before units, for pages (a console may not have them).

    Examples
    --------
    >>> typeset("-0.1 °C on 2026-05-02")
    '−0.1\xa0°C on 2026-05-02'
    """
    text = re.sub(r"(?<![\w\-.])-(?=[\d.])", "−", text)
    text = re.sub(r"(?<=\d )deg([CF])\b", r"°\1", text)
    # A number and its unit stay on one line.
    return re.sub(r"(?<=\d) (?=(?:°C|°F|K|Ω|kΩ|V|%)(?!\w))|(?<=±) (?=\d)", "\u00a0", text)


_N = r"[+\-−]?\d+(?:\.\d+)?"
_AT = re.compile(
    rf"\b(?P<before>(?:at|typed as|outside air:) )(?P<value>{_N}) °C(?P<margin>, ± \d+(?:\.\d+)?)?(?! off)"
)
_BY = re.compile(
    rf"(?P<before>(?:\b(?:worth|stands|off by|up to|moved|allows|at most|lag of) |± ?))(?P<value>{_N}) °C"
    rf"|(?P<bare>{_N}) °C(?= off\b| too\b| a minute\b| of boiling\b)"
)
_FROM_TO = re.compile(
    rf"(?P<before>\b(?:from|at|in) )(?P<low>{_N})(?P<between> (?:to|then) )(?P<high>{_N}) °C"
    r"(?= the zero| water|, effect)"
)
_ANY = re.compile(rf"(?P<before>)(?P<value>{_N}) °C(?P<bare>)")


def in_degrees(text: str, unit: str, *, sizes: bool = False) -> str:
    """Rewrite the degrees Celsius of a sentence in another unit, where it is plain what they are.

    'at 98 °C' is a temperature, 'worth 7.3 °C' and '0.13 °C off' are differences; a number whose sentence does not
    say which keeps its °C, so that no number is ever wrong.

    Parameters
    ----------
    text : str
    unit : str
        'degC', 'degF' or 'K'.
    sizes : bool
        True where every number of the sentence is a difference, such as a list of errors that would be found.

    Examples
    --------
    >>> in_degrees("at most 0.13 °C off (at 0 °C, ± 0.16), where the sheet allows 0.65 °C", "degF")
    'at most 0.23 °F off (at 32 °F, ± 0.29), where the sheet allows 1.17 °F'
    >>> in_degrees("bath-25: 1384 ohm has two digits transposed (worth 7.3 °C)", "degF")
    'bath-25: 1384 ohm has two digits transposed (worth 13.1 °F)'
    >>> in_degrees("only above: ice 1.2 °C, steam 1.6 °C", "degF", sizes=True)
    'only above: ice 2.2 °F, steam 2.9 °F'
    >>> in_degrees("from 20 to 70 °C the zero moves", "degF")
    'from 68 to 158 °F the zero moves'
    >>> in_degrees("lies 7.3 °C from the curve", "degF")
    'lies 7.3 °C from the curve'
    """
    if parse_unit(unit) == "degC":
        return text
    symbol = unit_symbol(unit)

    def temperature_of(found: re.Match[str]) -> str:
        value = from_si(_value(found["value"]), unit)
        margin = found["margin"]
        half = "" if margin is None else f", ± {_like(margin[4:], interval_from_si(float(margin[4:]), unit))}"
        return f"{found['before']}{_like(found['value'], value)} {symbol}{half}"

    def size_of(found: re.Match[str]) -> str:
        said = found["value"] or found["bare"]
        sign = "+" if said.startswith("+") else ""
        # A whole number of degrees keeps its size: 1 °C is 1.8 °F and not 2.
        shown = interval_from_si(_value(said), unit)
        return f"{found['before'] or ''}{sign}{_like(said if '.' in said else f'{said}.0', shown)} {symbol}"

    def both_of(found: re.Match[str]) -> str:
        low, high = (_like(found[name], from_si(_value(found[name]), unit)) for name in ("low", "high"))
        return f"{found['before']}{low}{found['between']}{high} {symbol}"

    if sizes:
        return _ANY.sub(size_of, text)
    return _BY.sub(size_of, _AT.sub(temperature_of, _FROM_TO.sub(both_of, text)))


def _value(text: str) -> float:
    return float(text.replace("−", "-"))


def _like(text: str, value: float) -> str:
    """Write a value with as many decimals as a text has."""
    decimals = len(text.partition(".")[2])
    return number(value, decimals)


def _short(value: float) -> Decimal:
    # Twelve digits: what binary fractions add behind them must not push a stated 0.30 up to 0.31.
    return Decimal(f"{value:.12g}")


def _tenths(value: float, expanded: float) -> tuple[str, str]:
    if not math.isfinite(expanded) or expanded <= 0.0:
        return rounded(value, expanded)
    exact = _short(expanded)
    if exact > _TENTHS_UP_TO or exact <= Decimal("0.09"):
        return rounded(value, expanded)
    up = exact.quantize(Decimal("0.1"), rounding=ROUND_CEILING)
    return _fixed(value, -1), _plain(up, -1)


def _fixed(value: float, place: int) -> str:
    text = _plain(_short(value).quantize(Decimal(1).scaleb(place), rounding=ROUND_HALF_EVEN), place)
    return text if any(c in "123456789" for c in text) else text.lstrip("-")


def _plain(value: Decimal, place: int) -> str:
    return f"{value:.{max(0, -place)}f}"
