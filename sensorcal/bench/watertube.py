"""A water U-tube among the gauges of a run: heights written in conventional water become those of the water in it."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from sensorcal.bench.run import Run
from sensorcal.errors import InputError
from sensorcal.physics.water import liquid_density_kg_m3
from sensorcal.units import from_si, interval_to_si, parse_unit, to_si

CONVENTIONAL_KG_M3 = 1000.0
"""Density behind the units inH2O, cmH2O and mmH2O (NIST SP 811, appendix B)."""
AIR_KG_M3 = 1.15  # in the open leg, which weighs against the water; ± 0.1, common practice, no source
U_WATER_K = 2.0 / math.sqrt(3.0)  # half-width 2 K; common practice, no source
ASSUMED_C, U_ASSUMED_K = 20.0, 10.0 / math.sqrt(3.0)
UNITS = frozenset({"inH2O", "cmH2O", "mmH2O"})
_WATER = re.compile(
    r"water\s+in\s+the\s+tube\s*[:=]\s*([+\-−]?\d+(?:[.,]\d+)?)\s*(°\s*[CF]|deg\s*[CF]|[CFK])?\s*"
    r"(?:(?:±|\+/-|\+-)\s*(\d+(?:[.,]\d+)?))?",
    re.IGNORECASE,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class WaterTube:
    """The water in a U-tube.

    Parameters
    ----------
    temperature_c, u_temperature_c : float
    stated : bool
        False where 20 °C is assumed.
    columns : frozenset of str
        Headings of the columns that hold heights of water.
    """

    temperature_c: float
    u_temperature_c: float
    stated: bool
    columns: frozenset[str]

    @property
    def factor(self) -> float:
        """True pressure over that of the conventional water column; both levels read."""
        return (float(liquid_density_kg_m3(self.temperature_c)) - AIR_KG_M3) / CONVENTIONAL_KG_M3

    @property
    def u_factor_ratio(self) -> float:
        """Standard uncertainty of the factor."""
        low, high = max(self.temperature_c - 0.5, 0.0), min(self.temperature_c + 0.5, 40.0)
        slope = float(liquid_density_kg_m3(high) - liquid_density_kg_m3(low)) / (high - low)
        return math.hypot(slope * self.u_temperature_c, 0.1 / math.sqrt(3.0)) / CONVENTIONAL_KG_M3

    @property
    def sentence(self) -> str:
        """What was done, in plain words."""
        how = "as stated" if self.stated else "assumed; write '# water in the tube: 22 degC' at the head of the run"
        return (
            f"heights of water at {self.temperature_c:g} °C ({how}): {100 * (self.factor - 1):+.2f} % of the "
            "conventional water column, the air in the open leg included"
        )


def water_tube_of(run: Run) -> WaterTube | None:
    r"""Give the water of the run's U-tube; None where no reference is in units of water.

    Raises
    ------
    InputError
        A temperature outside 0 to 40 °C.

    References
    ----------
    Tanaka et al. (2001), see `sensorcal.physics.water.liquid_density_kg_m3`; unit: NIST SP 811 (2008), appendix B.

    Examples
    --------
    >>> from sensorcal.bench.runfile import run_from_bytes
    >>> run = run_from_bytes(b"# water in the tube: 35 degC\nmanometer [mmH2O],M1 [V]\n1500,2.24\n")
    >>> f"{100 * (water_tube_of(run).factor - 1):+.2f} %"
    '-0.71 %'
    """
    columns = frozenset(one.heading for one in run.columns if one.holds == "reference" and one.unit in UNITS)
    if not columns:
        return None
    for row, text in run.comments:
        if found := _WATER.search(text):
            number, unit, wide = found.groups()
            name = parse_unit((unit or "degC").replace(" ", ""))
            temperature_c = float(to_si(float(number.replace(",", ".").replace("−", "-")), name))
            u = float(interval_to_si(float(wide.replace(",", ".")), name)) / math.sqrt(3.0) if wide else U_WATER_K
            if not 0.0 <= temperature_c <= 40.0:
                raise InputError(
                    f"water at {from_si(temperature_c, 'degC'):g} °C in the tube is outside 0 to 40 °C",
                    do="check the temperature and its unit",
                    file=run.file,
                    row=row,
                )
            return WaterTube(temperature_c=temperature_c, u_temperature_c=u, stated=True, columns=columns)
    return WaterTube(temperature_c=ASSUMED_C, u_temperature_c=U_ASSUMED_K, stated=False, columns=columns)


def rows_of_water(run: Run, tube: WaterTube | None) -> frozenset[int]:
    """Rows of the file whose reference is a height of water."""
    if tube is None:
        return frozenset()
    places = [index for index, one in enumerate(run.columns) if one.heading in tube.columns]
    heads = {one.heading for one in run.columns}
    return frozenset(
        row
        for row, cells in run.cells
        if not heads.issuperset(cells) and any(index < len(cells) and cells[index].strip() for index in places)
    )
