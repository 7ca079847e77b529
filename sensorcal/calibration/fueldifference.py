"""Fuel pressure above the air that the injectors see, from a vented or a sealed sensor, with its uncertainty."""

from __future__ import annotations

from sensorcal.calibration.derived import Derived, derive
from sensorcal.calibration.sensorkind import SEALED_PA
from sensorcal.errors import InputError
from sensorcal.physics.manifold import fuel_differential_pa

LOW_CAUTION = "The difference is not above zero: fuel cannot flow; check which pressure is gauge and which absolute."
STEADY_CAUTION = "Both pressures of one moment: read them at a steady setting, or from one row of the log."


def fuel_difference(
    *,
    shown_pa: float,
    airbox_pa: float,
    u_shown_pa: float,
    u_airbox_pa: float,
    kind: str = "gauge",
    ambient_pa: float | None = None,
    u_ambient_pa: float = 0.0,
    sealed_pa: float = SEALED_PA,
    u_sealed_pa: float = 0.0,
    correlation: float = 0.0,
) -> Derived:
    """Fuel pressure across the injectors or above the float bowl, from the rail's sensor and the airbox.

    A vented sensor reads against the air outside, so that air is added. A sealed one reads against what was sealed in:
    the air outside does not come in at all.

    Parameters
    ----------
    shown_pa : float
        What the rail's sensor shows by its own calibration, Pa.
    airbox_pa : float
        Absolute pressure that regulator and injectors see (airbox or manifold), Pa.
    u_shown_pa, u_airbox_pa : float
        Standard uncertainties, Pa.
    kind : {'gauge', 'sealed', 'absolute'}
        Of the rail's sensor.
    ambient_pa, u_ambient_pa : float
        Pressure of the air outside, Pa, and its standard uncertainty; for a vented sensor only.
    sealed_pa, u_sealed_pa : float
        Pressure in a sealed sensor's back, Pa. The uncertainty is zero for a sensor that was calibrated with this very
        figure: its curve then holds the rest.
    correlation : float
        Of the errors of rail's and airbox's sensor, such as 0.9 where one sensor served for both.

    Returns
    -------
    Derived

    Raises
    ------
    InputError
        A kind that is none, a vented sensor without the air outside, or a pressure that cannot be.

    References
    ----------
    Definitions of gauge and absolute pressure; JCGM 100:2008 (GUM), equation (16).

    Examples
    --------
    >>> now = fuel_difference(shown_pa=346.5e3, airbox_pa=140e3, u_shown_pa=1600.0, u_airbox_pa=650.0,
    ...                       ambient_pa=93.5e3, u_ambient_pa=100.0)
    >>> f"{now.value / 1000:.1f} ± {now.expanded(2.0) / 1000:.1f} kPa"
    '300.0 ± 3.5 kPa'
    """
    inputs = [
        ("pressure of the rail, as shown", "rail", u_shown_pa, "Pa", 1.0),
        ("pressure in the airbox", "airbox", u_airbox_pa, "Pa", -1.0),
    ]
    if kind == "gauge":
        if ambient_pa is None:
            raise InputError(
                "ambient_pa is not given, and a vented sensor reads against the air outside",
                do="give the air's pressure of the place and day",
            )
        behind = ambient_pa
        inputs.append(("air outside", "station", u_ambient_pa, "Pa", 1.0))
    elif kind == "sealed":
        behind = sealed_pa
        inputs.append(("pressure sealed in", "sealed", u_sealed_pa, "Pa", 1.0))
    elif kind == "absolute":
        behind = 0.0
    else:
        raise InputError(f"kind {kind!r} is not known", do="use 'gauge', 'sealed' or 'absolute'")
    # The law knows vented sensors; any other is brought to what a vented one would show in the air of a standard day.
    as_gauge, air = (shown_pa, behind) if kind != "absolute" else (shown_pa - SEALED_PA, SEALED_PA)
    value = float(fuel_differential_pa(as_gauge, air, airbox_pa))
    return derive(
        name="fuel pressure above the airbox",
        value=value,
        unit="Pa",
        inputs=tuple(inputs),
        pairs={(0, 1): correlation},
        cautions=(STEADY_CAUTION,) if value > 0.0 else (LOW_CAUTION, STEADY_CAUTION),
    )
