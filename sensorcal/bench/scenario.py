"""The invented scenario: probe J, its four sisters P1 to P4, and the bench evening they are read on.

Nothing here was measured. Every constant is ours, chosen to have the size a careful builder meets; the
comment beside it says where that size comes from: *estimate* (order of size only), *common practice, no
source*, or *computed*. The engine maker's manual rules; the limits here are examples.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any, Literal

from sensorcal.errors import InputError

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

ZERO_C_K = 273.15
"""The ice point of the Celsius scale in kelvin, exact by definition (SI Brochure, section 2.3.1)."""

PROBE_J_TABLE: tuple[tuple[float, float], ...] = (
    (-20.0, 14079.0),
    (0.0, 5230.0),
    (20.0, 2199.0),
    (25.0, 1800.0),
    (50.0, 721.0),
    (75.0, 325.4),
    (90.0, 211.8),
    (97.7, 172.1),
    (110.0, 125.4),
    (120.0, 98.2),
    (130.0, 77.8),
    (150.0, 50.3),
)
"""The twelve points (temperature_c, resistance_ohm) of the invented probe J."""

SHEET_TOLERANCE_RATIO = 0.03
"""The invented maker's promise: every probe within 3 % of the sheet in resistance."""

ELEVATION_M = 640.0
STATION_ELEVATION_M = 610.0
QNH_PA = 100_900.0
OIL_LIMIT_C = 130.0
COOLANT_LIMIT_C = 120.0
DEMO_SEED = 20_260_502
"""Seed of the files in `data/`: the date of the invented evening, not a chosen outcome."""


@lru_cache(maxsize=1)
def _spline_j() -> Any:  # noqa: ANN401 - scipy's class is imported where it is used
    import numpy as np
    from scipy.interpolate import CubicSpline

    points = sorted((1.0 / (t + ZERO_C_K), math.log(r)) for t, r in PROBE_J_TABLE)
    return CubicSpline(np.array([x for x, _ in points]), np.array([y for _, y in points]), bc_type="natural")


def probe_j_resistance_ohm(temperature_c: ArrayLike) -> NDArray[Any]:
    """Give the resistance of the invented probe J, from -20 to 150 °C.

    Natural cubic spline of ln R against 1/T through `PROBE_J_TABLE`: smooth, monotone, and deliberately not
    exactly of the Steinhart–Hart form, so that errors of form exist.

    Parameters
    ----------
    temperature_c : array_like
        Temperature of the ceramic in °C, scalar or any shape.

    Returns
    -------
    ndarray
        Resistance in ohm, same shape.

    Raises
    ------
    InputError
        If a temperature lies outside -20..150 °C, where nothing is defined.

    References
    ----------
    Invented; no source.

    Examples
    --------
    >>> print(probe_j_resistance_ohm([0.0, 60.0]).round(1))
    [5230.   517.8]
    """
    import numpy as np

    temperature = np.asarray(temperature_c, dtype=float)
    low, high = PROBE_J_TABLE[0][0], PROBE_J_TABLE[-1][0]
    # The ends may be passed by rounding of a sum, never by a real amount.
    if not bool(np.all((temperature >= low - 1e-9) & (temperature <= high + 1e-9))):
        raise InputError(
            f"the invented probe J is defined from {low:g} to {high:g} °C only",
            do="ask for a temperature in that range",
        )
    return np.asarray(np.exp(_spline_j()(1.0 / (temperature + ZERO_C_K))))


@dataclass(frozen=True, slots=True, kw_only=True)
class TrueProbe:
    """An invented probe as it really is, which nobody at the bench knows.

    Parameters
    ----------
    name, role : str
        Tag on the body and what it watches.
    scale_ratio : float
        Its resistance at 25 °C over that of probe J.
    slope_shift_k : float
        Added to the slope d(ln R)/d(1/T) of probe J, in kelvin (the Beta of other makers' sheets).
    curvature_shift_k2 : float
        Added to the second derivative of ln R by 1/T, in K²; probe J has about -1.0e5.
    time_constant_s : float
        Time to 63 % of a step in stirred water.
    dissipation_w_per_k : float
        Power that warms the ceramic by 1 K in stirred water.
    stem_ratio : float
        Share of the difference medium minus room that the ceramic misses by conduction along the body.

    Examples
    --------
    >>> probe = TrueProbe(name="P9", role="coolant", scale_ratio=1.01)
    >>> print(f"{float(probe.resistance_ohm(25.0)):.0f}")
    1818
    """

    name: str
    role: str
    scale_ratio: float = 1.0
    slope_shift_k: float = 0.0
    curvature_shift_k2: float = 0.0
    time_constant_s: float = 20.0  # estimate: brass body in stirred water
    dissipation_w_per_k: float = 0.010  # estimate: in stirred water
    stem_ratio: float = 0.0008  # estimate: whole body sunk, only the leads conduct

    def resistance_ohm(self, temperature_c: ArrayLike) -> NDArray[Any]:
        """Give the true resistance in ohm at a temperature in °C, from -20 to 150 °C.

        Raises
        ------
        InputError
            If a temperature lies outside -20..150 °C.
        """
        import numpy as np

        base = probe_j_resistance_ohm(temperature_c)
        z = 1.0 / (np.asarray(temperature_c, dtype=float) + ZERO_C_K) - 1.0 / (25.0 + ZERO_C_K)
        shape = self.slope_shift_k * z + 0.5 * self.curvature_shift_k2 * z**2
        return np.asarray(base * self.scale_ratio * np.exp(shape))


FOUR_PROBES: tuple[TrueProbe, ...] = (
    TrueProbe(
        name="P1",
        role="coolant",
        scale_ratio=1.0040,
        slope_shift_k=-4.0,
        curvature_shift_k2=3.0e3,
        time_constant_s=20.0,
        stem_ratio=0.0008,
    ),
    TrueProbe(
        name="P2",
        role="gearbox oil",
        scale_ratio=0.9940,
        slope_shift_k=6.0,
        curvature_shift_k2=-4.0e3,
        time_constant_s=24.0,
        stem_ratio=0.0010,
    ),
    TrueProbe(
        name="P3",
        role="cooler in",
        scale_ratio=1.0080,
        slope_shift_k=3.0,
        curvature_shift_k2=2.0e3,
        time_constant_s=18.0,
        stem_ratio=0.0006,
    ),
    TrueProbe(
        name="P4",
        role="cooler out",
        scale_ratio=1.0050,
        slope_shift_k=1.0,
        curvature_shift_k2=1.0e3,
        time_constant_s=18.0,
        stem_ratio=0.0007,
    ),
)
"""The four invented probes of the scenario: alike within 1 %, as one batch is."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stage:
    """One stop of the evening: the ice flask, a stirred bath, or the steam above boiling water.

    Parameters
    ----------
    label : str
        Name of the point as the builder writes it.
    kind : {'ice', 'bath', 'steam'}
        What the probes hang in.
    start_s : float
        When the bundle goes in, in seconds after the evening began.
    temperature_c : float, optional
        Bath temperature the builder mixes for; what it becomes differs a little. Unused for ice and steam.
    """

    label: str
    kind: Literal["ice", "bath", "steam"]
    start_s: float
    temperature_c: float = math.nan


SIX_POINTS_AND_ICE: tuple[Stage, ...] = (
    Stage(label="ice", kind="ice", start_s=0.0),
    Stage(label="bath-75", kind="bath", start_s=1500.0, temperature_c=75.0),
    Stage(label="bath-62", kind="bath", start_s=2520.0, temperature_c=62.0),
    Stage(label="bath-50", kind="bath", start_s=3540.0, temperature_c=50.0),
    Stage(label="bath-25", kind="bath", start_s=4680.0, temperature_c=25.0),
    Stage(label="steam", kind="steam", start_s=6600.0),
    Stage(label="ice-again", kind="ice", start_s=8400.0),
)
"""The planned order: ice, four baths falling, steam, and ice again to see what the boil changed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Evening:
    """Everything that goes on at the bench, the mess that no fit is told included.

    A name `u_…` is the standard deviation of a normal draw, `half_…` the half-width of a rectangular one. A
    value of 0 switches a cause off. The source tag stands in the comment beside each number.
    """

    stages: tuple[Stage, ...] = SIX_POINTS_AND_ICE
    start_time_s: float = 66_600.0  # 18:30:00 on the builder's clock; invented
    half_clock_s: float = 4.0  # estimate: glance at the watch, then at the meter
    room_temperature_c: float = 20.0  # invented
    station_pressure_pa: float = 93_520.0  # invented: half a reported hPa above what QNH 1009 computes to

    ice_wait_s: float = 600.0  # common practice, no source: ten minutes after the flask has stood
    bath_wait_s: float = 180.0  # nine time constants of the bundle
    steam_wait_s: float = 600.0  # common practice, no source: until the ohms stop
    fixed_readings: int = 3  # common practice, no source
    fixed_interval_s: float = 60.0
    bath_passes: int = 2  # reference, probes there, reference, probes back, reference
    bath_interval_s: float = 15.0  # estimate: clip on, wait, read, write

    u_bath_start_c: float = 1.0  # estimate: mixing hot and cold by hand
    bath_time_constant_s: float = 8400.0  # computed: 0.5 K/min at 90 °C in an insulated flask (estimate)
    u_gradient_common_c: float = 0.08  # estimate: 0.1 to 0.3 °C from top to bottom when stirred, one draw a bath
    u_gradient_probe_c: float = 0.05  # estimate: probe against bundle, one draw a bath and probe
    ice_below_zero_c: float = 0.02  # computed: tap-water ice, rectangular from 0 down to this
    u_ice_probe_c: float = 0.03  # estimate: unevenly packed flask
    u_steam_common_c: float = 0.04  # estimate: a little air in the vapour
    u_steam_probe_c: float = 0.06  # estimate: wet and dry film on the body
    steam_dissipation_ratio: float = 0.6  # estimate: vapour cools the ceramic less than stirred water

    u_reference_bias_c: float = 0.08  # estimate: 0.1 °C digital thermometer, the same all evening
    u_reference_slope_ratio: float = 0.001  # estimate: its scale error about room temperature
    u_reference_noise_c: float = 0.02  # estimate
    reference_resolution_c: float = 0.1  # what it shows
    reference_time_constant_s: float = 8.0  # estimate: thin sheath, quicker than a brass body

    meter_gain_ratio: float = 0.010  # invented: this meter reads 1.0 % high, which known resistors show
    u_range_gain_ratio: float = 0.0004  # estimate: its ranges differ a little from each other
    lead_ohm: float = 0.30  # common practice, no source: 0.1 to 0.5 ohm of leads and clips
    u_contact_ohm: float = 0.02  # estimate: clips put on anew each time
    u_meter_noise_ratio: float = 0.0002  # estimate
    meter_counts: int = 6000  # common practice, no source: hand meter
    meter_ranges: tuple[tuple[float, float], ...] = ((600.0, 5e-4), (6e3, 1e-4), (6e4, 1e-5))
    # (full scale in ohm, test current in A): estimates
    check_resistors_ohm: tuple[float, ...] = (470.0, 2200.0)
    check_tolerance_ratio: float = 0.001  # 0.1 % resistors, rectangular

    u_repeat_c: float = 0.02  # estimate: a probe does not come back exactly, one draw a point and probe
    u_cycling_c: float = 0.015  # estimate: change of a probe by its first boil

    def without_mess(self) -> Evening:
        """Give the same evening with every error of bench and meter off; only the last digit shown is left.

        The baths still cool and the readings still stand seconds apart. The probes keep their own lag and
        conduction: see `TrueProbe`.

        Examples
        --------
        >>> Evening().without_mess().lead_ohm
        0.0
        """
        return _quiet(self)


def _quiet(evening: Evening) -> Evening:
    from dataclasses import replace

    return replace(
        evening,
        half_clock_s=0.0,
        u_bath_start_c=0.0,
        u_gradient_common_c=0.0,
        u_gradient_probe_c=0.0,
        ice_below_zero_c=0.0,
        u_ice_probe_c=0.0,
        u_steam_common_c=0.0,
        u_steam_probe_c=0.0,
        u_reference_bias_c=0.0,
        u_reference_slope_ratio=0.0,
        u_reference_noise_c=0.0,
        reference_time_constant_s=0.0,
        meter_gain_ratio=0.0,
        u_range_gain_ratio=0.0,
        lead_ohm=0.0,
        u_contact_ohm=0.0,
        u_meter_noise_ratio=0.0,
        meter_ranges=tuple((full, 0.0) for full, _ in evening.meter_ranges),
        check_tolerance_ratio=0.0,
        u_repeat_c=0.0,
        u_cycling_c=0.0,
    )
