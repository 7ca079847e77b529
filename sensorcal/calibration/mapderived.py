"""Figures made of the manifold pressure and the air outside, each with its uncertainty and what the two share."""

from __future__ import annotations

from sensorcal.bench.station import StationPressure
from sensorcal.calibration.derived import Derived, derive
from sensorcal.errors import InputError
from sensorcal.physics.air import density_altitude_m
from sensorcal.physics.atmosphere import (
    SEA_LEVEL_PRESSURE_PA,
    pressure_altitude_m,
    standard_pressure_slope_pa_per_m,
)
from sensorcal.physics.manifold import (
    boost_pa,
    full_throttle_map_pa,
    pressure_ratio,
    sea_level_map_pa,
    temperature_referred_map_pa,
)

NOT_AT_REST = "Ambient is the air outside now and up here: the field's pressure holds on the ground only."


def manifold_figures(
    *,
    map_pa: float,
    ambient_pa: float,
    u_map_pa: float,
    u_ambient_pa: float,
    charge_c: float | None = None,
    u_charge_c: float = 0.0,
    correlation: float = 0.0,
) -> tuple[Derived, ...]:
    """Boost, pressure ratio and manifold pressure referred to sea level, with their uncertainties.

    Parameters
    ----------
    map_pa, ambient_pa : float
        Manifold pressure and air outside, absolute, Pa.
    u_map_pa, u_ambient_pa : float
        Standard uncertainties, Pa.
    charge_c, u_charge_c : float, optional
        Charge temperature and its standard uncertainty, °C: adds the pressure referred to the standard temperature.
    correlation : float
        Of the two errors: near 1 where one sensor reads both, one with engine stopped and one running; above zero
        where the manifold sensor was trimmed on the very station pressure that stands for the air outside.

    Returns
    -------
    tuple of Derived
        'boost' in Pa, 'pressure ratio', 'manifold pressure referred to sea level' in Pa, and with a charge temperature
        'manifold pressure referred to standard temperature' in Pa.

    Raises
    ------
    InputError
        If a pressure, a temperature or the correlation cannot be.

    References
    ----------
    The laws of `sensorcal.physics.manifold`; JCGM 100:2008 (GUM), equation (16).

    Examples
    --------
    >>> apart = manifold_figures(map_pa=140e3, ambient_pa=93.47e3, u_map_pa=600.0, u_ambient_pa=100.0)
    >>> shared = manifold_figures(map_pa=140e3, ambient_pa=93.47e3, u_map_pa=600.0, u_ambient_pa=600.0, correlation=0.9)
    >>> [f"{one.value / 1000:.2f} ± {one.expanded(2.0) / 1000:.2f} kPa" for one in (apart[0], shared[0])]
    ['46.53 ± 1.22 kPa', '46.53 ± 0.54 kPa']
    """
    pair = {(0, 1): correlation}
    boost, ratio = float(boost_pa(map_pa, ambient_pa)), float(pressure_ratio(map_pa, ambient_pa))
    referred = float(sea_level_map_pa(map_pa, ambient_pa))

    def of(name: str, value: float, unit: str, by_map: float, by_ambient: float) -> Derived:
        inputs = (
            ("manifold pressure", "map", u_map_pa, "Pa", by_map),
            ("air outside", "ambient", u_ambient_pa, "Pa", by_ambient),
        )
        return derive(name=name, value=value, unit=unit, inputs=inputs, pairs=pair, cautions=(NOT_AT_REST,))

    found = [
        of("boost", boost, "Pa", 1.0, -1.0),
        of("pressure ratio", ratio, "1", 1.0 / ambient_pa, -ratio / ambient_pa),
        of(
            "manifold pressure referred to sea level",
            referred,
            "Pa",
            SEA_LEVEL_PRESSURE_PA / ambient_pa,
            -referred / ambient_pa,
        ),
    ]
    if charge_c is not None:
        warm = float(temperature_referred_map_pa(map_pa, charge_c))
        inputs = (
            ("manifold pressure", "map", u_map_pa, "Pa", warm / map_pa),
            ("charge temperature", "charge", u_charge_c, "degC", -warm / (charge_c + 273.15)),
        )
        name = "manifold pressure referred to standard temperature"
        found.append(derive(name=name, value=warm, unit="Pa", inputs=inputs, pairs={}, cautions=()))
    return tuple(found)


def full_throttle_expected(
    *, ambient_pa: float, u_ambient_pa: float, loss_ratio: float, u_loss_ratio: float, ram_pa: float = 0.0
) -> Derived:
    """Manifold pressure to expect at full throttle without a compressor, with its uncertainty.

    Parameters
    ----------
    ambient_pa, u_ambient_pa : float
        Air outside and its standard uncertainty, Pa.
    loss_ratio, u_loss_ratio : float
        Share lost in the inlet, as the engine's own full-throttle reading tells it, and its standard uncertainty.
    ram_pa : float, optional
        Gained from the airflow, Pa.

    Returns
    -------
    Derived

    Raises
    ------
    InputError
        As for `full_throttle_map_pa`.

    References
    ----------
    As for `full_throttle_map_pa`; JCGM 100:2008 (GUM), equation (10).

    Examples
    --------
    >>> now = full_throttle_expected(ambient_pa=93_470.0, u_ambient_pa=80.0, loss_ratio=0.03, u_loss_ratio=0.005)
    >>> f"{now.value / 1000:.1f} ± {now.expanded(2.0) / 1000:.1f} kPa"
    '90.7 ± 0.9 kPa'
    """
    value = float(full_throttle_map_pa(ambient_pa, loss_ratio=loss_ratio, ram_pa=ram_pa))
    return derive(
        name="manifold pressure expected at full throttle",
        value=value,
        unit="Pa",
        inputs=(
            ("air outside", "ambient", u_ambient_pa, "Pa", 1.0 - loss_ratio),
            ("share lost in the inlet", "inlet-loss", u_loss_ratio, "1", -(ambient_pa + ram_pa)),
        ),
        pairs={},
        cautions=(NOT_AT_REST,),
    )


def altitudes(
    station: StationPressure,
    *,
    temperature_c: float | None = None,
    u_temperature_c: float = 0.0,
    vapour_pressure_pa: float = 0.0,
    u_vapour_pressure_pa: float = 0.0,
) -> tuple[Derived, ...]:
    """Pressure altitude and, with the air's temperature, density altitude, with their uncertainties.

    Parameters
    ----------
    station : StationPressure
        Pressure of the place and day.
    temperature_c, u_temperature_c : float, optional
        Outside air and its standard uncertainty, °C.
    vapour_pressure_pa, u_vapour_pressure_pa : float, optional
        Of the water vapour, Pa; dry air if left out.

    Returns
    -------
    tuple of Derived
        In m, geopotential.

    Raises
    ------
    InputError
        If a temperature or a vapour pressure cannot be.

    References
    ----------
    ISO 2533:1975; JCGM 100:2008 (GUM), equation (10); the slopes of the density altitude by central differences.

    Examples
    --------
    >>> from sensorcal.bench.station import reported_station_pressure
    >>> here = reported_station_pressure(elevation_m=640.0, qnh_pa=100_900.0, station_elevation_m=610.0)
    >>> for one in altitudes(here, temperature_c=30.0, u_temperature_c=1.0, vapour_pressure_pa=1_500.0):
    ...     print(f"{one.name} {one.value:.0f} ± {one.expanded(2.0):.0f} m")
    pressure altitude 675 ± 14 m
    density altitude 1410 ± 69 m
    """
    high = float(pressure_altitude_m(station.pressure_pa))
    by_pressure = 1.0 / float(standard_pressure_slope_pa_per_m(high))
    found = [
        derive(
            name="pressure altitude",
            value=high,
            unit="m",
            inputs=(("pressure of the place", "station", station.u_pressure_pa, "Pa", by_pressure),),
            pairs={},
            cautions=(),
        )
    ]
    if temperature_c is None:
        return tuple(found)
    if vapour_pressure_pa < 0.0:
        raise InputError(f"vapour_pressure_pa {vapour_pressure_pa:g} is negative", do="give zero for dry air")
    at = (station.pressure_pa, temperature_c, vapour_pressure_pa)
    slopes = []
    for i, step in enumerate((10.0, 0.1, 10.0)):
        up, down = list(at), list(at)
        up[i] += step
        down[i] = max(down[i] - step, 0.0) if i == 2 else down[i] - step
        slopes.append(float(density_altitude_m(*up) - density_altitude_m(*down)) / (up[i] - down[i]))
    found.append(
        derive(
            name="density altitude",
            value=float(density_altitude_m(*at)),
            unit="m",
            inputs=(
                ("pressure of the place", "station", station.u_pressure_pa, "Pa", slopes[0]),
                ("outside air", "outside-air", u_temperature_c, "degC", slopes[1]),
                ("water vapour", "vapour", u_vapour_pressure_pa, "Pa", slopes[2]),
            ),
            pairs={},
            cautions=(),
        )
    )
    return tuple(found)
