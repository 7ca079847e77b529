"""The column of liquid between gauge and sensor: stated in the head of a run file, or in the setup."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from sensorcal.bench.run import Run
from sensorcal.errors import InputError
from sensorcal.physics.atmosphere import G0_M_S2
from sensorcal.physics.hydro import OIL_DENSITY_KG_M3, liquid_head_pa
from sensorcal.transducer import Transducer
from sensorcal.units import interval_to_si, parse_unit

_SQRT3 = math.sqrt(3.0)
# Density and half-width in kg/m³ at the bench's temperature: common practice, no source; for water 10 to 35 °C.
_LIQUIDS = {"oil": (OIL_DENSITY_KG_M3, 20.0), "water": (997.0, 3.0)}
_NONE = frozenset({"air", "empty", "none", "gas"})
_NUMBER = r"([+\-−]?\d+(?:[.,]\d+)?)"
_HEIGHT = re.compile(
    rf"gauge\s+(above|below)\s+(?:the\s+)?sensor\s*[:=]\s*{_NUMBER}\s*([a-z]+)?\s*(?:(?:±|\+/-|\+-)\s*{_NUMBER}\s*([a-z]+)?)?",
    re.IGNORECASE,
)
_LIQUID = re.compile(
    rf"liquid\s*[:=]\s*(?:{_NUMBER}\s*kg\s*/\s*m(?:3|³|\^3)\s*(?:(?:±|\+/-|\+-)\s*{_NUMBER})?|([a-z]+))", re.IGNORECASE
)


@dataclass(frozen=True, slots=True, kw_only=True)
class LiquidHead:
    """What a hose full of liquid adds at the sensor.

    Parameters
    ----------
    height_m, u_height_m : float
        Of the gauge above the sensor (negative below), and its standard uncertainty.
    density_kg_m3, u_density_kg_m3 : float
    stated_in : str
        'run file' or 'setup'.
    """

    height_m: float
    u_height_m: float
    density_kg_m3: float
    u_density_kg_m3: float
    stated_in: str = "setup"

    @property
    def pressure_pa(self) -> float:
        """To be added to every reading of the gauge, Pa."""
        return float(liquid_head_pa(self.height_m, density_kg_m3=self.density_kg_m3))

    @property
    def u_pressure_pa(self) -> float:
        """Its standard uncertainty, Pa; alike for all readings of the run."""
        return G0_M_S2 * math.hypot(self.density_kg_m3 * self.u_height_m, self.height_m * self.u_density_kg_m3)

    @property
    def sentence(self) -> str:
        """The correction in plain words, with U (k = 2)."""
        way = "above" if self.height_m >= 0.0 else "below"
        return (
            f"the gauge stands {abs(self.height_m):.3g} m {way} the sensor, the hose full of liquid of "
            f"{self.density_kg_m3:.0f} kg/m³ ({self.stated_in}): {self.pressure_pa / 1000:+.2f} kPa ± "
            f"{2.0 * self.u_pressure_pa / 1000:.2f} at the sensor, added to every reading of the gauge"
        )


def head_of(run: Run, sheet: Transducer) -> LiquidHead | None:
    """Give the liquid head of a run; None where none is stated, or the hose holds air.

    Two comment lines at the head of the run file rule over the setup::

        # gauge above sensor: 0.35 m ± 0.02 m
        # liquid: oil

    'below' in place of 'above' turns the sign; a liquid is 'oil', 'water', 'air' or a density such as
    '870 kg/m3 ± 20'. What stands behind ± is a half-width.

    Raises
    ------
    InputError
        A height without a liquid, a liquid nobody knows, or a height or density that cannot be.

    References
    ----------
    Hydrostatics, see `sensorcal.physics.hydro.liquid_head_pa`.

    Examples
    --------
    >>> run = Run(readings=(), comments=((1, "# gauge above sensor: 1 m"), (2, "# liquid: oil")))
    >>> round(head_of(run, Transducer()).pressure_pa)
    8532
    """
    height: tuple[float, float] | None = None
    liquid: tuple[float, float] | None = None
    air = False
    for row, text in run.comments:
        try:
            if found := _HEIGHT.search(text):
                height = _height(found, sheet)
            if found := _LIQUID.search(text):
                liquid, air = _liquid(found, sheet)
        except InputError as error:
            raise InputError(error.what, do=error.do, file=run.file, row=row) from None
    stated_in = "run file"
    if height is None:
        if sheet.head_height_m is None or (air and liquid is None):
            return None
        height, stated_in = (sheet.head_height_m, sheet.u_head_height_m), "setup"
    if air:
        return None
    if liquid is None and sheet.head_density_kg_m3 is not None:
        liquid = (sheet.head_density_kg_m3, sheet.u_head_density_kg_m3)
    if liquid is None:
        raise InputError(
            f"the gauge stands {abs(height[0]):.3g} m {'above' if height[0] >= 0.0 else 'below'} {sheet.name}, and the "
            "liquid in the hose is not stated",
            do="write '# liquid: oil' (or water, air, '870 kg/m3') at the head of the run file, or head_density_kg_m3 "
            f"under [transducers.{sheet.name}]",
            file=run.file,
        )
    head = LiquidHead(
        height_m=height[0],
        u_height_m=height[1],
        density_kg_m3=liquid[0],
        u_density_kg_m3=liquid[1],
        stated_in=stated_in,
    )
    liquid_head_pa(head.height_m, density_kg_m3=head.density_kg_m3)  # refuses what cannot be, by name
    return head


def _height(found: re.Match[str], sheet: Transducer) -> tuple[float, float]:
    """Height in m, positive with the gauge above, and its standard uncertainty."""
    way, number, unit, wide, wide_unit = found.groups()
    sign = 1.0 if way.lower() == "above" else -1.0
    u = _metres(wide, wide_unit or unit) / _SQRT3 if wide else sheet.u_head_height_m
    return sign * _metres(number, unit), u


def _metres(number: str, unit: str | None) -> float:
    name = parse_unit(unit or "m")
    if name not in {"m", "cm", "mm", "ft", "in"}:
        raise InputError(f"{number} {unit} is no height", do="write it as in 'gauge above sensor: 0.35 m'")
    return float(interval_to_si(_float(number), name))


def _liquid(found: re.Match[str], sheet: Transducer) -> tuple[tuple[float, float] | None, bool]:
    """Density and its standard uncertainty, and whether the hose holds air."""
    number, wide, word = found.groups()
    if number:
        return (_float(number), _float(wide) / _SQRT3 if wide else sheet.u_head_density_kg_m3), False
    name = word.lower()
    if name in _NONE:
        return None, True
    if name not in _LIQUIDS:
        raise InputError(f"{word!r} is no liquid known here", do="write oil, water, air, or its density in kg/m3")
    density, half_width = _LIQUIDS[name]
    return (density, half_width / _SQRT3), False


def _float(text: str) -> float:
    return float(text.replace(",", ".").replace("−", "-"))
