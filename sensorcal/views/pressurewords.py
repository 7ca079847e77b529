"""Plain words for pressures: the sensor's kind, its terms, and sentences of others in the reader's unit."""

from __future__ import annotations

import math
import re

from sensorcal.calibration.frompoints import PressureClaim, at_altitudes
from sensorcal.calibration.sensorkind import KIND_WORDS
from sensorcal.setup import UnitsOut
from sensorcal.units import from_si, interval_from_si, interval_to_si, to_si
from sensorcal.views.words import in_degrees, number, plainly, rounded, unit_symbol

CAUTIONS = (
    "The engine maker's manual, local rules and a licensed mechanic decide; this page gives numbers, no permission.",
    "Own workshop record, not an accredited certificate.",
    (
        "Never fuel on the bench: water or light oil in a clean pump. Pumped-up air stores energy: stay within every "
        "part's limit, let the pressure off before a fitting is opened."
    ),
    "A fuel or oil line that was opened is checked for leaks. A low oil pressure is real until proved otherwise.",
)
"""Cautions of the pressure bench that stand on every page."""
WRONG = "A READING LOOKS WRONG"
"""How a questioned reading is announced; notes that begin so are told with the question itself."""
ROUND_SUPPLY_V = 5.0
_NUMBER = r"[+\-−]?\d+(?:\.\d+)?"
_IN_KPA = re.compile(rf"(?P<lead>± ?)?(?P<value>{_NUMBER}) kPa(?: ± (?P<margin>\d+(?:\.\d+)?)(?![\d.]|\s*%|\s*kPa))?")


def pressure(pressure_pa: float, unit: str, decimals: int | None = None) -> str:
    """Write a pressure in the unit asked, to a tenth of a kilopascal or what comes near it.

    Examples
    --------
    >>> pressure(93_470.0, "kPa"), pressure(93_470.0, "psi"), pressure(400e3, "bar", 1)
    ('93.5 kPa', '13.56 psi', '4.0 bar')
    """
    places = _PLACES.get(unit, 2) if decimals is None else decimals
    return f"{number(from_si(pressure_pa, unit), places)} {unit_symbol(unit)}"


_PLACES = {"Pa": 0, "hPa": 0, "mbar": 0, "kPa": 1, "MPa": 4, "bar": 3, "atm": 3, "psi": 2, "inHg": 2, "mmHg": 0}
"""Decimals at which a tenth of a kilopascal shows."""


def plain_pressure(pressure_pa: float, unit: str) -> str:
    """Write a round pressure in the fewest digits, such as a limit or an end of a range.

    Examples
    --------
    >>> plain_pressure(150e3, "kPa"), plain_pressure(1e6, "psi"), plain_pressure(-7_855.0, "kPa")
    ('150 kPa', '145 psi', '-7.86 kPa')
    >>> plain_pressure(1e6, "hPa"), plain_pressure(999_500.0, "kPa")
    ('10000 hPa', '1000 kPa')
    """
    return f"{plain_number(from_si(pressure_pa, unit))} {unit_symbol(unit)}"


def beside(pressure_pa: float, top_pa: float, unit: str) -> str:
    """Write a pressure to the digits that matter beside a larger one.

    Examples
    --------
    >>> beside(500.0, 1e6, "kPa"), beside(33_300.0, 193_000.0, "kPa"), beside(500.0, 1e6, "bar")
    ('0 kPa', '33 kPa', '0.0 bar')
    """
    top = abs(from_si(max(abs(top_pa), abs(pressure_pa)), unit))
    decimals = max(2 - math.floor(math.log10(top) + 1e-9), 0) if top else 0
    return f"{number(from_si(pressure_pa, unit), decimals)} {unit_symbol(unit)}"


def round_pressures_pa(low_pa: float, high_pa: float, unit: str, most: int = 11) -> list[float]:
    """List pressures that are round in a unit, from one end of a range to the other.

    Examples
    --------
    >>> [round(from_si(p, "psi")) for p in round_pressures_pa(0.0, 1e6, "psi")]
    [0, 20, 40, 60, 80, 100, 120, 140]
    >>> [p / 1000 for p in round_pressures_pa(0.0, 600e3, "kPa")]
    [0.0, 100.0, 200.0, 300.0, 400.0, 500.0, 600.0]
    """
    low, high = from_si(low_pa, unit), from_si(high_pa, unit)
    least = (high - low) / (most - 1)
    decade = 10.0 ** math.floor(math.log10(least))
    step = next(decade * n for n in (1.0, 2.0, 2.5, 5.0, 10.0) if decade * n >= least * (1.0 - 1e-9))
    first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
    return [float(to_si(n * step, unit)) for n in range(first, last + 1)]


def plain_number(value: float) -> str:
    """Write a number in three significant digits, never in powers of ten, zeros at the end left out.

    Examples
    --------
    >>> plain_number(999.54), plain_number(14.5038), plain_number(0.0), plain_number(12345.0)
    ('1000', '14.5', '0', '12345')
    """
    decimals = 2 - math.floor(math.log10(abs(value))) if value else 0
    text = f"{value:.{max(decimals, 0)}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return text if float(text) else text.lstrip("-")


def in_unit(text: str, unit: str) -> str:
    """Rewrite the kilopascals of a sentence in another unit of pressure, to as many digits; the rest stays.

    Pressures and differences convert alike, so that nothing has to be guessed.

    Parameters
    ----------
    text : str
        A sentence whose pressures are in kPa.
    unit : str

    Examples
    --------
    >>> in_unit("the zero moves +2.72 kPa ± 1.35 (+0.27 % of span)", "psi")
    'the zero moves +0.395 psi ± 0.196 (+0.27 % of span)'
    >>> in_unit("hysteresis 2.83 kPa", "kPa")
    'hysteresis 2.83 kPa'
    """
    if unit == "kPa":
        return text

    def other(found: re.Match[str]) -> str:
        said = f"{found['lead'] or ''}{_as_many(found['value'], unit)} {unit_symbol(unit)}"
        return f"{said} ± {_as_many(found['margin'], unit)}" if found["margin"] else said

    return _IN_KPA.sub(other, text)


def in_units(text: str, units: UnitsOut) -> str:
    """Rewrite kilopascals and degrees of a sentence in the reader's units, as `in_unit` and `words.in_degrees` do."""
    return in_degrees(in_unit(text, units.pressure), units.temperature)


def _as_many(text: str, unit: str) -> str:
    """Convert one number of kPa, keeping its significant digits (three at least) and a plus sign."""
    plain = text.replace("−", "-")
    digits = max(len(plain.lstrip("+-").replace(".", "").lstrip("0")), 3)
    value = float(interval_from_si(interval_to_si(float(plain), "kPa"), unit))
    if value == 0.0:
        return "0"
    decimals = max(digits - 1 - int(f"{abs(value):e}".split("e")[1]), 0)
    sign = "+" if plain.startswith("+") and value > 0 else ""
    return f"{sign}{number(value, decimals)}"


def limit_line(claim: PressureClaim, name: str, unit: str) -> str:
    """Write the line that stands first: output and U at a limit.

    Examples
    --------
    >>> claim = PressureClaim(pressure_pa=150e3, ratio=0.2209, u_pa=3.8e3, expanded_pa=7.6e3, expanded_bench_pa=6.1e3,
    ...                       extrapolated=False)
    >>> limit_line(claim, "low limit", "kPa")
    'At the 150 kPa low limit: 22.09 % of supply (1.105 V at 5 V); 150.0 kPa ± 7.6 (19 times in 20)'
    """
    beyond = ", extrapolated" if claim.extrapolated else ""
    return (
        f"At the {plain_pressure(claim.pressure_pa, unit)} {name}: {100 * claim.ratio:.2f} % of supply "
        f"({number(ROUND_SUPPLY_V * claim.ratio, 3)} V at {ROUND_SUPPLY_V:g} V); "
        f"{plainly(claim.pressure_pa, claim.expanded_pa, unit)}{beyond}"
    )


def kind_lines(kind: str, unit: str) -> list[str]:
    """Say what a sensor's pressures are measured from, and what it shows with its line open at altitude.

    Examples
    --------
    >>> kind_lines("gauge", "kPa")[0]
    'vented gauge: pressure above the air of the place and day; line open, it shows 0'
    """
    if kind == "gauge":
        return [f"{KIND_WORDS[kind]}: pressure above the air of the place and day; line open, it shows 0"]
    ahead = ", ".join(f"{pressure(p, unit)} at {altitude:.0f} m" for altitude, p in at_altitudes(kind))
    first = {
        "sealed": "pressure above the 101.325 kPa of air sealed in it",
        "absolute": "pressure above vacuum",
    }[kind]
    return [f"{KIND_WORDS[kind]}: {in_unit(first, unit)}; line open on a standard day it shows {ahead}"]


def share(size_pa: float, span_pa: float) -> str:
    """Write a size as a share of the span, in per cent."""
    return f"{100 * size_pa / span_pa:.2f} %"


def u_text(expanded_pa: float, unit: str) -> str:
    """Write U alone in the unit, two digits, rounded up."""
    return rounded(0.0, interval_from_si(expanded_pa, unit))[1]


def small(size_pa: float, unit: str, *, signed: bool = False) -> str:
    """Write a small pressure difference to three digits or a hundredth of a kilopascal, without its unit.

    Examples
    --------
    >>> small(2831.0, "kPa"), small(-1853.0, "kPa", signed=True), small(2831.0, "psi")
    ('2.83', '-1.85', '0.411')
    """
    value = float(interval_from_si(size_pa, unit))
    places = {"Pa": 0, "hPa": 1, "mbar": 1, "kPa": 2, "MPa": 5, "bar": 4, "atm": 4, "mmHg": 1}.get(unit, 3)
    text = f"{value:+.{places}f}" if signed else f"{value:.{places}f}"
    return text if float(text) else text.lstrip("+-")
