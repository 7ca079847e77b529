"""Compressor and charge with the uncertainty of their readings: efficiency, outlet temperature, density."""

from __future__ import annotations

from sensorcal.calibration.derived import Derived, derive
from sensorcal.physics.compressor import (
    compressor_outlet_c,
    compressor_outlet_slopes,
    isentropic_efficiency,
    isentropic_efficiency_slopes,
)
from sensorcal.physics.manifold import charge_density_kg_m3, pressure_ratio

EFFICIENCY_CAUTION = "Outside 0.3 to 0.85 the probes and pressures are to be questioned before the compressor."
STEADY_CAUTION = "Steady readings only: after a burst, ducts and probes still lag."


def compressor_efficiency(
    *,
    inlet_c: float,
    outlet_c: float,
    inlet_pa: float,
    outlet_pa: float,
    u_inlet_c: float,
    u_outlet_c: float,
    u_inlet_pa: float,
    u_outlet_pa: float,
    temperatures: float = 0.0,
    pressures: float = 0.0,
) -> Derived:
    """Isentropic efficiency of the compressor with its uncertainty, as a check of probes and pressures.

    Parameters
    ----------
    inlet_c, outlet_c : float
        Temperatures before and behind it, °C.
    inlet_pa, outlet_pa : float
        Absolute pressures there, Pa.
    u_inlet_c, u_outlet_c, u_inlet_pa, u_outlet_pa : float
        Standard uncertainties, °C and Pa.
    temperatures, pressures : float, optional
        Correlation of the two temperatures' errors and of the two pressures', -1 to 1.

    Returns
    -------
    Derived

    Raises
    ------
    InputError
        If an input cannot be, or the outlet is not warmer than the inlet.

    References
    ----------
    As for `isentropic_efficiency`; JCGM 100:2008 (GUM), equation (16).

    Examples
    --------
    >>> check = compressor_efficiency(inlet_c=15.0, outlet_c=65.0, inlet_pa=93_470.0, outlet_pa=140_000.0,
    ...     u_inlet_c=0.5, u_outlet_c=1.0, u_inlet_pa=100.0, u_outlet_pa=650.0)
    >>> f"{check.value:.2f} ± {check.expanded():.2f}"
    '0.71 ± 0.04'
    """
    ratio, by_inlet, by_outlet = _ratio_slopes(inlet_pa, outlet_pa)
    slopes = [float(slope) for slope in isentropic_efficiency_slopes(inlet_c, outlet_c, ratio)]
    value = float(isentropic_efficiency(inlet_c, outlet_c, ratio))
    odd = () if 0.3 <= value <= 0.85 else (EFFICIENCY_CAUTION,)
    return derive(
        name="isentropic efficiency of the compressor",
        value=value,
        unit="1",
        inputs=(
            ("temperature before it", "inlet", u_inlet_c, "degC", slopes[0]),
            ("temperature behind it", "outlet", u_outlet_c, "degC", slopes[1]),
            ("pressure before it", "inlet-pressure", u_inlet_pa, "Pa", slopes[2] * by_inlet),
            ("pressure behind it", "outlet-pressure", u_outlet_pa, "Pa", slopes[2] * by_outlet),
        ),
        pairs={(0, 1): temperatures, (2, 3): pressures},
        cautions=(STEADY_CAUTION, *odd),
    )


def expected_compressor_outlet(
    *,
    inlet_c: float,
    inlet_pa: float,
    outlet_pa: float,
    efficiency_ratio: float,
    u_inlet_c: float,
    u_inlet_pa: float,
    u_outlet_pa: float,
    u_efficiency_ratio: float,
    pressures: float = 0.0,
) -> Derived:
    """Temperature to expect behind the compressor, with its uncertainty.

    Parameters
    ----------
    inlet_c, inlet_pa, outlet_pa : float
        Temperature before it, °C, and absolute pressures, Pa.
    efficiency_ratio : float
        Isentropic efficiency taken, 0.2 to 1.
    u_inlet_c, u_inlet_pa, u_outlet_pa, u_efficiency_ratio : float
        Standard uncertainties.
    pressures : float, optional
        Correlation of the two pressures' errors.

    Returns
    -------
    Derived

    Raises
    ------
    InputError
        If an input cannot be.

    References
    ----------
    As for `compressor_outlet_c`; JCGM 100:2008 (GUM), equation (16).

    Examples
    --------
    >>> hot = expected_compressor_outlet(inlet_c=15.0, inlet_pa=93_470.0, outlet_pa=140_000.0, efficiency_ratio=0.65,
    ...     u_inlet_c=0.5, u_inlet_pa=100.0, u_outlet_pa=650.0, u_efficiency_ratio=0.03)
    >>> f"{hot.value:.0f} ± {hot.expanded():.0f} °C"
    '69 ± 5 °C'
    """
    ratio, by_inlet, by_outlet = _ratio_slopes(inlet_pa, outlet_pa)
    slopes = [float(slope) for slope in compressor_outlet_slopes(inlet_c, ratio, efficiency_ratio)]
    return derive(
        name="temperature behind the compressor",
        value=float(compressor_outlet_c(inlet_c, ratio, efficiency_ratio)),
        unit="degC",
        inputs=(
            ("temperature before it", "inlet", u_inlet_c, "degC", slopes[0]),
            ("pressure before it", "inlet-pressure", u_inlet_pa, "Pa", slopes[1] * by_inlet),
            ("pressure behind it", "outlet-pressure", u_outlet_pa, "Pa", slopes[1] * by_outlet),
            ("efficiency taken", "efficiency", u_efficiency_ratio, "1", slopes[2]),
        ),
        pairs={(1, 2): pressures},
        cautions=(STEADY_CAUTION,),
    )


def charge_density(*, map_pa: float, charge_c: float, u_map_pa: float, u_charge_c: float) -> Derived:
    """Density of the charge in the manifold with its uncertainty (dry).

    Parameters
    ----------
    map_pa, charge_c : float
        Manifold pressure, absolute, Pa, and charge temperature, °C.
    u_map_pa, u_charge_c : float
        Standard uncertainties, Pa and °C.

    Returns
    -------
    Derived

    Raises
    ------
    InputError
        If an input cannot be.

    References
    ----------
    As for `charge_density_kg_m3`; JCGM 100:2008 (GUM), equation (10).

    Examples
    --------
    >>> rho = charge_density(map_pa=140_000.0, charge_c=45.0, u_map_pa=650.0, u_charge_c=0.5)
    >>> f"{rho.value:.3f} ± {rho.expanded():.3f} kg/m³"
    '1.533 ± 0.015 kg/m³'
    """
    value = float(charge_density_kg_m3(map_pa, charge_c))
    return derive(
        name="density of the charge",
        value=value,
        unit="kg/m3",
        inputs=(
            ("manifold pressure", "map", u_map_pa, "Pa", value / map_pa),
            ("charge temperature", "charge", u_charge_c, "degC", -value / (charge_c + 273.15)),
        ),
        pairs={},
        cautions=(),
    )


def _ratio_slopes(inlet_pa: float, outlet_pa: float) -> tuple[float, float, float]:
    """Pressure ratio and its change with the pressure before and behind, 1/Pa."""
    ratio = float(pressure_ratio(outlet_pa, inlet_pa))
    return ratio, -ratio / inlet_pa, 1.0 / inlet_pa
