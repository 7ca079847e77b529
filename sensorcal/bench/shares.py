"""The shares of a settled point's uncertainty that come from bath, body, meter and current."""

from __future__ import annotations

import itertools
import math

from sensorcal.bench.meter import MeterCorrection
from sensorcal.bench.point import UPart
from sensorcal.setup import Probe, Setup

_SQRT3, _SQRT12 = math.sqrt(3.0), math.sqrt(12.0)
HIGHEST_TEST_CURRENT_A = 0.5e-3  # where the current was not measured; many hand meters use a fifth (from memory)
_U_DISSIPATION_RATIO = 0.5  # a dissipation constant taken from the kind of bath: estimate, no source
# Brass body of 10 mm with only the tip wet, stirred bath: share of (T - T_room) lost at an immersion in mm.
# Fin model with 0.012 W/K to the room, an estimate.
_STEM_BY_IMMERSION = ((10.0, 0.035), (20.0, 0.0147), (40.0, 0.004))


def bath_parts(fixed: str, stop: str, setup: Setup, probe: Probe) -> list[UPart]:
    """Give the shares of ice, steam or bath itself at one stop, degC.

    What all probes in the same flask share at this stop has a key with the stop's name; what is each probe's
    own has none.
    """
    bath = setup.bath
    repeat = UPart(key="", u=probe.repeatability, what="repeat")
    if fixed == "ice":
        return [
            UPart(key=f"gradient:{stop}", u=bath.u_ice_gradient_c, what="gradient in the ice"),
            UPart(key="", u=bath.u_place_c / 3.0, what="place of the probe in the ice"),
            repeat,
        ]
    if fixed == "steam":
        return [
            UPart(key=f"vapour:{stop}", u=bath.u_steam_vapour_c, what="superheat or air in the vapour"),
            UPart(key="", u=bath.u_steam_film_c, what="film on the probe"),
            repeat,
        ]
    return [
        UPart(key=f"gradient:{stop}", u=bath.u_gradient_c, what="gradient between thermometer and bundle"),
        UPart(key="", u=bath.u_place_c, what="place of the probe in the bundle"),
        repeat,
    ]


def stem_part(temperature_c: float, immersion_m: float | None, setup: Setup) -> tuple[UPart, list[str]]:
    """Give the share of conduction along the body: one factor for all stops, growing with (T - T_room).

    Parameters
    ----------
    temperature_c : float
        Of the bath, degC.
    immersion_m : float or None
        Length under water; None for the whole body sunk.
    setup : Setup
        Its bath and room.

    Returns
    -------
    UPart, list of str
        The share, and a note where it may exceed 0.3 degC.
    """
    above = temperature_c - setup.field.room_temperature_c
    if immersion_m is None:
        return UPart(key="stem", u=setup.bath.u_stem_ratio * above, what="conduction along the body"), []
    half = _stem_ratio(immersion_m * 1e3)
    size = half * above
    notes = []
    if abs(size) > 0.3:
        notes.append(f"{immersion_m * 1e3:.0f} mm immersed may read {-size:+.1f} °C by conduction: sink the whole body")
    return UPart(key="stem", u=size / _SQRT3, what="conduction along the body, partly immersed"), notes


def _stem_ratio(immersion_mm: float) -> float:
    """Interpolate the share lost in ln; held at the ends of the table."""
    points = _STEM_BY_IMMERSION
    if immersion_mm <= points[0][0]:
        return points[0][1]
    for (x0, y0), (x1, y1) in itertools.pairwise(points):
        if immersion_mm <= x1:
            return float(y0 * (y1 / y0) ** ((immersion_mm - x0) / (x1 - x0)))
    return points[-1][1]


def meter_parts(meter: MeterCorrection, read_ohm: float, range_ohm: float | None, setup: Setup) -> list[UPart]:
    """Give the shares of leads, scale and last digit, ohm on the axis 'signal'."""
    digit = setup.meter.resolution(read_ohm, range_ohm) / _SQRT12
    return [*meter.shares(read_ohm), UPart(key="", u=digit, what="last digit of the meter", axis="signal")]


def heating(resistance_ohm: float, current_a: float | None, probe: Probe, *, measured: bool) -> tuple[float, UPart]:
    """Give how much warmer than the bath the meter's current makes the probe, and the share it leaves, degC.

    Where the current was measured the heating is added, and half of it stays uncertain because the dissipation
    constant is an estimate. Where it was not, nothing is added and the highest usual current bounds it.

    Examples
    --------
    >>> size, part = heating(5230.0, 0.5e-3, Probe(name="P1"), measured=True)
    >>> round(size, 2), round(part.u, 3)
    (0.13, 0.065)
    """
    amps = HIGHEST_TEST_CURRENT_A if current_a is None else current_a
    size = amps**2 * resistance_ohm / probe.dissipation_w_per_k
    if measured:
        u, what = size * _U_DISSIPATION_RATIO, "self-heating, half of its correction"
        return size, UPart(key="self-heating", u=u, what=what)
    return 0.0, UPart(key="self-heating", u=size / _SQRT3, what="self-heating, current not measured")
