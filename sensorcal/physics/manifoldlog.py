"""A whole log of manifold pressure at once: boost, ratio, sea-level MAP, pressure altitude and density in one pass.

The arithmetic runs in blocks that stay in the processor's cache, in place: a log is far larger than the cache, and
each whole-column step would fetch it from memory again.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from sensorcal.errors import InputError
from sensorcal.physics.atmosphere import R_DRY_AIR_J_KG_K, SEA_LEVEL_PRESSURE_PA, ZERO_C_K, pressure_altitude_m
from sensorcal.physics.columns import (
    AMBIENT_HIGH_PA,
    AMBIENT_LOW_PA,
    CHARGE_HIGH_C,
    CHARGE_LOW_C,
    MAP_HIGH_PA,
    MAP_LOW_PA,
    absolute,
    rows_of,
)
from sensorcal.physics.numeric import FloatArray, floats, within

_BLOCK = 16_384  # 128 kB a column: inputs and outputs of a block fit the second-level cache together

_RANGES = {
    "map_pa": (MAP_LOW_PA, MAP_HIGH_PA),
    "ambient_pa": (AMBIENT_LOW_PA, AMBIENT_HIGH_PA),
    "charge_c": (CHARGE_LOW_C, CHARGE_HIGH_C),
}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ManifoldLog:
    """What a log of manifold pressure says, sample by sample.

    Parameters
    ----------
    boost_pa : array or pandas column
        Manifold gauge pressure, MAP minus ambient, Pa.
    pressure_ratio : array or pandas column
        MAP / ambient, both absolute.
    sea_level_map_pa : array or pandas column
        MAP / δ with δ = ambient / 101 325 Pa, Pa.
    pressure_altitude_m : array or pandas column
        Of the air outside, m.
    density_kg_m3 : array or pandas column
        Dry density of the charge, kg/m³.
    blanked : tuple of (name, count)
        Samples of each input that were taken as missing because they cannot be; empty unless asked for.

    Examples
    --------
    >>> log = manifold_log([40_000.0, 140_000.0], ambient_pa=93_470.0, charge_c=45.0)
    >>> log.boost_pa.tolist()
    [-53470.0, 46530.0]
    """

    boost_pa: FloatArray
    pressure_ratio: FloatArray
    sea_level_map_pa: FloatArray
    pressure_altitude_m: FloatArray
    density_kg_m3: FloatArray
    blanked: tuple[tuple[str, int], ...] = ()

    def columns(self) -> dict[str, FloatArray]:
        """Give the five columns by name, ready for `frame.assign(**log.columns())`."""
        return {
            "boost_pa": self.boost_pa,
            "pressure_ratio": self.pressure_ratio,
            "sea_level_map_pa": self.sea_level_map_pa,
            "pressure_altitude_m": self.pressure_altitude_m,
            "density_kg_m3": self.density_kg_m3,
        }


def manifold_log(
    map_pa: ArrayLike,
    *,
    ambient_pa: ArrayLike,
    charge_c: ArrayLike,
    outside: Literal["refuse", "blank"] = "refuse",
) -> ManifoldLog:
    """Boost, pressure ratio, sea-level MAP, pressure altitude and charge density of a whole log.

    Parameters
    ----------
    map_pa : array_like
        Manifold pressure, absolute, Pa: array or pandas column. Valid 1000 to 600 000 Pa.
    ambient_pa : array_like
        Pressure of the air outside (static, not QNH), Pa: one number for the field, or a column in flight.
        Valid 10 000 to 110 000 Pa.
    charge_c : array_like
        Temperature of the charge in the manifold, °C: one number or a column. Valid -60 to 350 °C.
    outside : {'refuse', 'blank'}, optional
        What to do with samples that cannot be: refuse the log and name the first one, or take them as missing and
        count them in `blanked`. Missing samples (NaN) stay missing in every quantity that needs them.

    Returns
    -------
    ManifoldLog
        Five columns of the log's shape; pandas columns with the log's rows where a pandas column was given.

    Raises
    ------
    InputError
        If a sample cannot be, or columns do not fit; the message names the argument and the sample.

    References
    ----------
    As for `boost_pa`, `pressure_ratio`, `sea_level_map_pa`, `pressure_altitude_m` and `charge_density_kg_m3`.

    Examples
    --------
    >>> log = manifold_log([40_000.0, 140_000.0], ambient_pa=93_470.0, charge_c=45.0)
    >>> {name: round(float(column[1]), 3) for name, column in log.columns().items()}  # doctest: +NORMALIZE_WHITESPACE
    {'boost_pa': 46530.0, 'pressure_ratio': 1.498, 'sea_level_map_pa': 151765.272,
     'pressure_altitude_m': 675.405, 'density_kg_m3': 1.533}
    """
    if outside not in {"refuse", "blank"}:
        raise InputError(f"outside = {outside!r} is not known", do="write 'refuse' or 'blank'")
    back = rows_of(map_pa=map_pa, ambient_pa=ambient_pa, charge_c=charge_c)
    given = {"map_pa": floats(map_pa), "ambient_pa": floats(ambient_pa), "charge_c": floats(charge_c)}
    blanked: list[tuple[str, int]] = []
    for name, column in given.items():
        if outside == "blank":
            given[name], count = _blanked(column, *_RANGES[name])
            blanked += [(name, count)] if count else []
        elif column.ndim == 0:
            _refuse(name, column)

    shape = np.broadcast_shapes(*(column.shape for column in given.values()))
    size = int(np.prod(shape, dtype=np.int64))
    # one number stays one number: only columns are cut into blocks
    flat = {name: column if column.ndim == 0 else np.broadcast_to(column, shape).reshape(-1)
            for name, column in given.items()}  # fmt: skip
    boost, ratio, sea_level, altitude, density = (np.empty(size) for _ in range(5))
    field_m = pressure_altitude_m(flat["ambient_pa"]) if flat["ambient_pa"].ndim == 0 else None
    to_kelvin_gas = np.empty(min(_BLOCK, size))
    for start in range(0, size, _BLOCK):
        part = slice(start, min(start + _BLOCK, size))
        parts = {name: column if column.ndim == 0 else column[part] for name, column in flat.items()}
        for name, column in parts.items():
            # while the block is in the cache; the whole column is asked again only for the message
            if column.ndim and not _all_within(column, *_RANGES[name]):
                _refuse(name, given[name])
        m, a, t = parts.values()
        np.subtract(m, a, out=boost[part])
        np.divide(m, a, out=ratio[part])
        np.multiply(ratio[part], SEA_LEVEL_PRESSURE_PA, out=sea_level[part])
        altitude[part] = pressure_altitude_m(a) if field_m is None else field_m
        gas = to_kelvin_gas[: part.stop - start]
        np.add(t, ZERO_C_K, out=gas)
        gas *= R_DRY_AIR_J_KG_K
        np.divide(m, gas, out=density[part])
    results = []
    for column in (boost, ratio, sea_level, altitude, density):
        shaped = back(column.reshape(shape))
        if isinstance(shaped, np.ndarray):
            shaped.setflags(write=False)
        results.append(shaped)
    return ManifoldLog(
        boost_pa=results[0],
        pressure_ratio=results[1],
        sea_level_map_pa=results[2],
        pressure_altitude_m=results[3],
        density_kg_m3=results[4],
        blanked=tuple(blanked),
    )


def _all_within(numbers: FloatArray, low: float, high: float) -> bool:
    """Whether all numbers that are there lie between the ends; fmin and fmax skip missing ones."""
    return not (np.fmin.reduce(numbers) < low or np.fmax.reduce(numbers) > high)


def _refuse(name: str, numbers: FloatArray) -> None:
    """Raise the error that names the first number outside, if there is one."""
    low, high = _RANGES[name]
    if name == "charge_c":
        within(name, numbers, low, high, "°C", "give the charge temperature in °C")
    else:
        absolute(name, numbers, low, high)


def _blanked(numbers: FloatArray, low: float, high: float) -> tuple[FloatArray, int]:
    wrong = (numbers < low) | (numbers > high)
    count = int(np.count_nonzero(wrong))
    return (floats(np.where(wrong, np.nan, numbers)), count) if count else (numbers, 0)
