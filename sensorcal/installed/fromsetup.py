"""The chain of one installed sensor, from the setup and its calibration, or from its maker's sheet without one."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sensorcal.calibration.calibration import END_TOLERANCE_C, Calibration, extrapolated, u_temperature_c
from sensorcal.calibration.claims import CLAIM_AGREED_C, CLAIM_BEYOND_C, REACH_BEYOND_C
from sensorcal.calibration.pressurecal import PressureCalibration, u_pressure_pa
from sensorcal.calibration.sheet import sheet_curve
from sensorcal.declared import Assumed, assumptions
from sensorcal.errors import InputError, SensorcalError
from sensorcal.installed.budget import Limit
from sensorcal.installed.chain import Chain
from sensorcal.installed.chainparts import FloatArray, RatioSensor, ResistanceCurve, Thermistor
from sensorcal.installed.channelparts import ChannelParts, thermistor_parts, transducer_parts
from sensorcal.installed.conversion import Conversion, CurveConversion
from sensorcal.installed.keyedrows import KeyedRows, pressure_rows_conversion, temperature_conversion
from sensorcal.measure.interval import coverage_factor
from sensorcal.physics.transducer import RatioCurve, RatioPolynomial
from sensorcal.roles import channel_of_role
from sensorcal.setup import Probe, Setup
from sensorcal.transducer import Transducer

_SQRT3 = 3.0**0.5
_AROUND_C = 30.0
"""How far beyond the range that matters a chain is computed, so that a reading at its end has two sides."""
_AROUND = 0.1
_HEATING = 0.30
"""How well the dissipation constant is known: estimate."""
_SHEET_PRESSURE = 0.01
"""Half-width of a transducer's data sheet, as a share of the span, where it is not stated: estimate."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class InstalledChannel:
    """One sensor with everything up to the panel.

    Attributes
    ----------
    tag : str
    chain : Chain
    source, monitor : str
        In words: where the sensor's curve comes from, and what the monitor is taken to hold.
    low, high : float
        The range that matters, degC or Pa.
    redline : float or None
        The engine maker's limit, degC or Pa.
    limit : {'high', 'low'}
        Which limit is to be guarded.
    tested : tuple of float or None
        Where the curve was tested; None without a calibration.
    assumed : tuple of Assumed
        What nobody stated.
    sheet : tuple of float or None
        First and last temperature of the maker's sheet that stands in for a calibration, degC.
    """

    tag: str
    chain: Chain
    source: str
    monitor: str
    low: float
    high: float
    redline: float | None
    limit: Limit
    tested: tuple[float, float] | None
    assumed: tuple[Assumed, ...]
    sheet: tuple[float, float] | None = None

    @property
    def supported(self) -> tuple[float, float] | None:
        """Range of the tested points, or of the sheet that stands in for them; beyond it a curve is extrapolated."""
        return self.sheet if self.tested is None else self.tested

    @property
    def pressure(self) -> bool:
        """True for a pressure, False for a temperature."""
        return isinstance(self.chain.sensor, RatioSensor)

    def beyond(self, measurand: FloatArray) -> NDArray[np.bool_]:
        """Whether values lie beyond the tested points, or beyond the sheet without them (any shape)."""
        at = np.asarray(measurand, dtype=np.float64)
        if self.supported is None:
            return np.zeros(at.shape, dtype=bool)
        low, high = self.supported
        near = 0.005 * (high - low) if self.pressure else END_TOLERANCE_C
        return np.asarray((at < low - near) | (at > high + near))

    def far(self, measurand: FloatArray) -> NDArray[np.bool_]:
        """Whether temperatures lie further beyond those points than a curve should be used (any shape)."""
        at = np.asarray(measurand, dtype=np.float64)
        if self.supported is None or self.pressure:
            return np.zeros(at.shape, dtype=bool)
        low, high = self.supported
        return np.asarray((at < low - REACH_BEYOND_C) | (at > high + REACH_BEYOND_C))


def installed_channel(
    setup: Setup,
    tag: str,
    calibration: Calibration | PressureCalibration | None = None,
    *,
    keyed: KeyedRows | None = None,
    shape_confirmed: bool = False,
    record: str = "",
) -> InstalledChannel:
    """Build the chain of one sensor.

    Parameters
    ----------
    setup : Setup
        Probe or transducer, its wiring under `[channels.TAG]`, and the monitor; what is missing is assumed and named.
    tag : str
        Of the sensor, such as 'P1'.
    calibration : Calibration or PressureCalibration, optional
        Without one the maker's sheet of the setup stands in, with its tolerance.
    keyed : KeyedRows, optional
        The table that stands in the monitor; without one it is taken to hold the sensor's own curve.
    shape_confirmed : bool
        As in the record: how much may be claimed beyond the tested points.
    record : str
        Name of the record, for the words.

    Returns
    -------
    InstalledChannel

    Raises
    ------
    InputError
        Neither a calibration nor a sheet, or a wire that no table knows.
    TableError
        Keyed rows that do not fit the monitor of the setup.

    Examples
    --------
    >>> from sensorcal.installed.chain import shown
    >>> from sensorcal.setupfile import setup_from_text
    >>> setup = setup_from_text('''
    ... [probes.P1]
    ... sheet = [["0 degC", "5230 ohm"], ["50 degC", "721 ohm"], ["97.7 degC", "172.1 ohm"]]
    ... [channels.P1]
    ... contact = "10 ohm"
    ... returns = "own wire"
    ... ''')
    >>> found = installed_channel(setup, "P1")
    >>> float(shown(found.chain, 90.0)), found.source
    (89.0, "maker's sheet, within 3 %")
    """
    pressure = isinstance(calibration, PressureCalibration) or (
        calibration is None and (tag in setup.transducers or setup.probe(tag).measurand == "pressure")
    )
    known = {*setup.probes, *setup.transducers, *setup.channels}
    if calibration is None and tag not in known:
        raise InputError(
            f"sensor {tag!r} is not in the setup", do=f"choose from {', '.join(sorted(known)) or 'its tags'}"
        )
    if pressure:
        return _pressure(setup, tag, calibration, keyed, record)  # type: ignore[arg-type]  # decided above
    return _temperature(setup, tag, calibration, keyed, record, shape_confirmed=shape_confirmed)  # type: ignore[arg-type]


def _temperature(
    setup: Setup,
    tag: str,
    calibration: Calibration | None,
    keyed: KeyedRows | None,
    record: str,
    *,
    shape_confirmed: bool,
) -> InstalledChannel:
    parts = thermistor_parts(setup, tag)
    probe = setup.probe(tag)
    assumed = [a for a in assumptions(probe, f"probes.{tag}", setup.stated) if a.name.endswith(".dissipation")]
    u_heating = probe.u_dissipation_ratio
    if u_heating is None:
        u_heating = _HEATING
        value = f"{100 * _HEATING:g} %"
        assumed.append(Assumed(name=f"probes.{tag}.u_dissipation", value=value, why="estimate; two currents find it"))
    tested = None
    if calibration is not None:
        curve: ResistanceCurve = calibration
        source = record or "calibration"
        tested = calibration.tested_c

        def u_error(t: FloatArray) -> FloatArray:
            return claimed_u_c(calibration, t, shape_confirmed=shape_confirmed)
    else:
        if len(probe.sheet) < 2:
            raise InputError(
                f"sensor {tag} has neither a record nor a maker's sheet",
                do=f"give its record, or its sheet under [probes.{tag}]",
            )
        curve = sheet_curve(probe.sheet)
        source = f"maker's sheet, within {100 * probe.sheet_tolerance_ratio:g} %"
        assumed += [
            a for a in assumptions(probe, f"probes.{tag}", setup.stated) if a.name.endswith(".sheet_tolerance")
        ]

        def u_error(t: FloatArray) -> FloatArray:
            return _u_sheet_c(curve, probe, t)

    low, high = _reach(curve, *probe.range_c)
    heating = 1.0 / probe.dissipation_w_per_k
    sensor = Thermistor(
        curve=curve,
        low=low,
        high=high,
        u_error=u_error,
        heating_k_per_w=heating,
        u_heating_k_per_w=u_heating * heating,
    )
    if keyed is None:
        conversion: Conversion = CurveConversion(
            curve=curve, low=low, high=high, pull_ohm=parts.pull_ohm, supply_v=parts.supply_v,
            pull_down=parts.divider.arrangement == "pull-down",
        )  # fmt: skip
        monitor = "no table given: the monitor is taken to hold the sensor's own curve"
    else:
        conversion = temperature_conversion(
            keyed, setup.monitor, pull_ohm=parts.pull_ohm, supply_v=parts.supply_v
        )
        monitor = f"table of {keyed.signal.size} rows as keyed, {setup.monitor.interpolation}"
    return InstalledChannel(
        tag=tag,
        chain=_chain(sensor, conversion, parts),
        source=source,
        monitor=monitor,
        low=probe.range_low,
        high=probe.range_high,
        redline=probe.redline_c if probe.redline_c is not None else _limit_of(setup, probe.role, "high", "temperature"),
        limit="high",
        tested=tested,
        assumed=(*parts.assumed, *assumed),
        sheet=None if calibration is not None else _sheet_ends(probe),
    )


def _pressure(
    setup: Setup, tag: str, calibration: PressureCalibration | None, keyed: KeyedRows | None, record: str
) -> InstalledChannel:
    parts = transducer_parts(setup, tag)
    data, probe = setup.transducer(tag), setup.probe(tag)
    assumed = [*parts.assumed]
    tested = None
    if calibration is not None:
        curve: RatioCurve = calibration.curve
        source, tested = record or "calibration", calibration.tested_pa
        low_pa, high_pa, kind = calibration.low_pa, calibration.high_pa, calibration.kind

        def u_error(p: FloatArray) -> FloatArray:
            return u_pressure_pa(calibration, p)
    else:
        if tag not in setup.transducers:
            raise InputError(
                f"sensor {tag} has neither a record nor a data sheet",
                do=f"give its record, or its data sheet under [transducers.{tag}]",
            )
        curve = RatioPolynomial.through(
            zero_ratio=data.output_low_ratio,
            span_ratio=data.output_high_ratio - data.output_low_ratio,
            low_pa=data.low_pa,
            high_pa=data.high_pa,
        )
        line_ratio = _SHEET_PRESSURE if data.line_ratio is None else data.line_ratio
        source = f"data sheet, taken within {100 * line_ratio:g} % of the span"
        low_pa, high_pa, kind = data.low_pa, data.high_pa, data.kind
        assumed += assumptions(data, f"transducers.{tag}", setup.stated)
        assumed = [a for a in assumed if a.name.rpartition(".")[2] not in _NOT_IN_USE]
        if data.line_ratio is None:
            value, why = f"{100 * line_ratio:g} %", "no record: taken to keep to the data sheet's line, estimate"
            assumed.append(Assumed(name=f"transducers.{tag}.line", value=value, why=why))
        u_all = _u_data_sheet_pa(data, line_ratio)

        def u_error(p: FloatArray) -> FloatArray:
            return np.full(np.shape(p), u_all)

    low, high = _pressure_reach(curve, low_pa, high_pa)
    wired = setup.channel(tag)
    silent = {one.name for one in assumptions(wired, f"channels.{tag}", setup.stated)}
    stated = f"channels.{tag}.supply_current" not in silent
    if not stated:
        assumed.append(
            Assumed(name=f"channels.{tag}.supply_current", value="0 mA, up to 10 mA", why="not stated, estimate")
        )
    u_current = wired.u_supply_current_a
    if u_current is None:
        u_current = 0.1 * wired.supply_current_a if stated else 0.010 / _SQRT3
        if stated:
            name, value = f"channels.{tag}.u_supply_current", f"{1e3 * u_current:.2g} mA"
            assumed.append(Assumed(name=name, value=value, why="10 %, estimate"))
    sensor = RatioSensor(
        curve=curve,
        low=low,
        high=high,
        u_error=u_error,
        current_a=wired.supply_current_a,
        u_current_a=u_current,
    )
    if keyed is None:
        conversion: Conversion = CurveConversion(curve=curve, low=low, high=high, supply_v=parts.supply_v)
        monitor = "no table given: the monitor is taken to hold the sensor's own curve"
    else:
        conversion = pressure_rows_conversion(keyed, setup.pressure_input)
        monitor = f"table of {keyed.signal.size} rows as keyed"
    # A manifold pressure is guarded against too much boost; oil and fuel against too little.
    guarded: Limit = "high" if kind == "absolute" else "low"
    stated_limit = probe.redline if probe.measurand == "pressure" else None
    return InstalledChannel(
        tag=tag,
        chain=_chain(sensor, conversion, parts),
        source=source,
        monitor=monitor,
        low=low_pa,
        high=high_pa,
        redline=stated_limit if stated_limit is not None else _limit_of(setup, probe.role, guarded, "pressure"),
        limit=guarded,
        tested=tested,
        assumed=tuple(assumed),
    )


_NOT_IN_USE = {"supply_stability", "meter_step", "u_meter", "reference_reads", "u_gauge_reading", "counts_full"}
"""What a data sheet holds for the bench only."""


def _limit_of(setup: Setup, role: str, side: Limit, measurand: str) -> float | None:
    """The engine maker's limit of the channel that the sensor's role names."""
    channel = channel_of_role(role, measurand)
    if channel is None:
        return None
    limits = setup.limit(channel)
    return limits.high if side == "high" else limits.low


def claimed_u_c(calibration: Calibration, temperature_c: FloatArray, *, shape_confirmed: bool = False) -> FloatArray:
    """Standard uncertainty of a thermistor in use, degC: that of the curve, and never less than what is claimed.

    Beyond the hottest tested point the claim of the record (1.5 degC, or 1.0 where the sheet confirms the shape) is a
    floor under the computed one, so that the budget of a chain promises no more than the page of its sensor.

    Parameters
    ----------
    calibration : Calibration
    temperature_c : ndarray
        Any shape.
    shape_confirmed : bool

    References
    ----------
    Common practice, no source; see `sensorcal.calibration.claims`.
    """
    t = np.asarray(temperature_c, dtype=np.float64)
    u = u_temperature_c(calibration, t)
    least = (CLAIM_AGREED_C if shape_confirmed else CLAIM_BEYOND_C) / coverage_factor(calibration.dof_effective)
    hot = extrapolated(calibration, t) & (t > calibration.tested_c[1])
    return np.asarray(np.where(hot, np.maximum(u, least), u))


def _sheet_ends(probe: Probe) -> tuple[float, float]:
    """Coldest and hottest temperature of a maker's sheet, degC."""
    at = [t for t, _ in probe.sheet]
    return min(at), max(at)


def _u_sheet_c(curve: ResistanceCurve, probe: Probe, temperature_c: FloatArray) -> FloatArray:
    """The sheet's tolerance on resistance as a standard uncertainty in degC."""
    t = np.asarray(temperature_c, dtype=np.float64)
    step = 0.01
    ln = np.log(curve.resistance_ohm(t + step)) - np.log(curve.resistance_ohm(t - step))
    return np.asarray(probe.sheet_tolerance_ratio / _SQRT3 * 2.0 * step / np.abs(ln))


def _u_data_sheet_pa(data: Transducer, line_ratio: float) -> float:
    """Line, hysteresis and hot body of a data sheet as one standard uncertainty, Pa."""
    widths = (line_ratio * data.span_pa, 0.5 * data.assumed_hysteresis_pa, data.assumed_body_effect_pa)
    return float(np.sqrt(sum(width**2 for width in widths)) / _SQRT3)


def _reach(curve: ResistanceCurve, low_c: float, high_c: float) -> tuple[float, float]:
    """Range that matters and some more, as far as the curve goes."""
    ends = []
    for end, away in ((low_c, -1.0), (high_c, 1.0)):
        at = end
        for more in np.arange(5.0, _AROUND_C + 1.0, 5.0):
            try:
                ohm = curve.resistance_ohm(np.array([end, end + away * (more + 1.0)]))
            except SensorcalError:
                break
            if not np.all(np.isfinite(ohm)):
                break
            at = end + away * float(more)
        ends.append(at)
    return ends[0], ends[1]


def _pressure_reach(curve: RatioCurve, low_pa: float, high_pa: float) -> tuple[float, float]:
    """Range of the sensor and a tenth more, as far as the curve goes."""
    more = _AROUND * (high_pa - low_pa)
    ends = []
    for end, away in ((low_pa, -more), (high_pa, more)):
        try:
            curve.ratio(np.array([end + away]))
        except SensorcalError:
            ends.append(end)
        else:
            ends.append(end + away)
    return ends[0], ends[1]


def _chain(sensor: Thermistor | RatioSensor, conversion: Conversion, parts: ChannelParts) -> Chain:
    return Chain(
        sensor=sensor,
        conversion=conversion,
        wiring=parts.wiring,
        ground=parts.ground,
        divider=parts.divider,
        converter=parts.converter,
        display=parts.display,
        shapes=dict(parts.shapes),
    )
