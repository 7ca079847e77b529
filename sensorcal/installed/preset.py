"""Which of a monitor's presets suits a probe: by the worst error in the band that matters, signed at the limit."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sensorcal.errors import InputError
from sensorcal.physics.curves import KELVIN_AT_0_C, SteinhartHart

FloatArray = NDArray[np.float64]
BAND_POINTS = 141
_TOO_FAR_C = 2.0


class ReadingCurve(Protocol):
    """What a monitor takes a resistance for."""

    def temperature_c(self, resistance_ohm: ArrayLike) -> FloatArray:
        """Temperature in degC at resistances in ohm."""
        ...


class ProbeCurve(Protocol):
    """What a probe is."""

    def resistance_ohm(self, temperature_c: ArrayLike) -> FloatArray:
        """Resistance in ohm at temperatures in degC."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PairsCurve:
    """A preset known as a list of resistances and temperatures: smooth between them, and nothing beyond.

    Parameters
    ----------
    resistance_ohm, temperature_c : ndarray, shape (n,)
        Four pairs or more, in any order; temperature falls as resistance rises.
    """

    resistance_ohm: FloatArray
    values_c: FloatArray

    def __post_init__(self) -> None:
        ohm, value = np.array(self.resistance_ohm, dtype=float), np.array(self.values_c, dtype=float)
        if ohm.ndim != 1 or ohm.shape != value.shape or ohm.size < 4:
            raise InputError("a list of pairs needs four or more", do="use curve_from_pairs, which also takes fewer")
        order = np.argsort(ohm)
        ohm, value = ohm[order], value[order]
        if not (ohm[0] > 0 and (np.diff(ohm) > 0).all() and (np.diff(value) < 0).all()):
            raise InputError("temperature must fall as resistance rises in the pairs", do="look for a slip in the list")
        for name, array in (("resistance_ohm", ohm), ("values_c", value)):
            array.flags.writeable = False
            object.__setattr__(self, name, array)

    def temperature_c(self, resistance_ohm: ArrayLike) -> FloatArray:
        """Temperature in degC at resistances in ohm (any shape), monotone cubic in 1/T against ln R.

        Raises
        ------
        InputError
            A resistance lies beyond the pairs.
        """
        from scipy.interpolate import PchipInterpolator

        ohm = np.asarray(resistance_ohm, dtype=float)
        low, high = self.resistance_ohm[0], self.resistance_ohm[-1]
        if ohm.size and (ohm.min() < low * (1 - 1e-9) or ohm.max() > high * (1 + 1e-9)):
            raise InputError(
                f"the pairs end at {low:g} and {high:g} ohm, and the band needs {ohm.min():.4g} to {ohm.max():.4g}",
                do="give more pairs or a narrower band",
            )
        inverse_k = 1.0 / (self.values_c + KELVIN_AT_0_C)
        reader = PchipInterpolator(np.log(self.resistance_ohm), inverse_k)
        return np.asarray(1.0 / reader(np.log(ohm)) - KELVIN_AT_0_C)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PresetError:
    """A preset's error with this probe: shown minus true.

    Attributes
    ----------
    name : str
    worst_c, worst_at_c : float
        Largest error in the band, signed, and where.
    limit_c, at_limit_c : float
        The limit, and the signed error there; below zero reads cold, the dangerous side.
    alarm_shift_c : float
        To be added to an alarm made for a true temperature; the error at the limit.
    temperature_c, error_c : ndarray
        Error over the band, for a picture.
    """

    name: str
    worst_c: float
    worst_at_c: float
    limit_c: float
    at_limit_c: float
    alarm_shift_c: float
    temperature_c: FloatArray
    error_c: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class PresetChoice:
    """Presets from best to worst, and what to do.

    Attributes
    ----------
    ranked : tuple of PresetError
    verdict : str
    """

    ranked: tuple[PresetError, ...]
    verdict: str


def curve_from_coefficients(a: float, b: float, c: float = 0.0) -> SteinhartHart:
    """Curve from Steinhart-Hart coefficients as a monitor's manual prints them.

    Parameters
    ----------
    a, b, c : float
        Of 1/T = a + b ln R + c (ln R)³, R in ohm, T in kelvin.

    Returns
    -------
    SteinhartHart

    References
    ----------
    Steinhart and Hart 1968, equation 1.

    Examples
    --------
    >>> curve = curve_from_coefficients(1.129148e-3, 2.34125e-4, 8.76741e-8)
    >>> float(curve.temperature_c(10000.0).round(2))
    25.0
    """
    if not np.isfinite([a, b, c]).all():
        raise InputError("a coefficient is no number", do="copy all of them from the manual")
    curve = SteinhartHart(p0=float(a), p1=float(b), p2=float(c), centre=0.0, scale=1.0)
    curve.resistance_ohm(50.0)  # refuses a curve that turns, with a sentence of its own
    return curve


def curve_from_pairs(temperature_c: ArrayLike, resistance_ohm: ArrayLike) -> ReadingCurve:
    """Curve from pairs that the user types in: two make Beta, three Steinhart-Hart, more a smooth line through all.

    Parameters
    ----------
    temperature_c, resistance_ohm : array_like, shape (n,)

    Returns
    -------
    object
        With `temperature_c(resistance_ohm)`. Made of four pairs or more it ends at the last ones.

    Examples
    --------
    >>> curve = curve_from_pairs([0.0, 50.0, 97.7], [5230.0, 721.0, 172.1])
    >>> float(curve.temperature_c(721.0).round(6))
    50.0
    """
    if np.size(resistance_ohm) in {2, 3}:
        return SteinhartHart.through_points(temperature_c, resistance_ohm)
    return PairsCurve(resistance_ohm=np.asarray(resistance_ohm), values_c=np.asarray(temperature_c))


def preset_error(
    probe: ProbeCurve, name: str, preset: ReadingCurve, *, low_c: float, high_c: float, limit_c: float
) -> PresetError:
    """Error that a preset makes with a probe over a band, shown minus true; see `choose_preset`."""
    if not low_c < high_c:
        raise InputError(f"the band from {low_c:g} to {high_c:g} degC is empty", do="give the colder end first")
    at = np.linspace(low_c, high_c, BAND_POINTS)
    error = preset.temperature_c(probe.resistance_ohm(at)) - at
    limit = float(preset.temperature_c(probe.resistance_ohm(limit_c))) - limit_c
    worst = int(np.argmax(np.abs(error)))
    return PresetError(
        name=name, worst_c=float(error[worst]), worst_at_c=float(at[worst]), limit_c=float(limit_c), at_limit_c=limit,
        alarm_shift_c=limit, temperature_c=at, error_c=error,
    )  # fmt: skip


def choose_preset(
    probe: ProbeCurve,
    presets: dict[str, ReadingCurve],
    *,
    limit_c: float,
    low_c: float = 60.0,
    high_c: float = 130.0,
) -> PresetChoice:
    """Rank presets by their worst error in the band that matters, never by the resistance at 25 degC.

    Parameters
    ----------
    probe : object
        With `resistance_ohm(temperature_c)`, such as the curve of a calibration.
    presets : dict
        Name to curve, from `curve_from_coefficients` or `curve_from_pairs`: typed in by the user.
    limit_c : float
        Engine limit.
    low_c, high_c : float
        Band that matters.

    Returns
    -------
    PresetChoice

    Raises
    ------
    InputError
        If there is no preset, or its pairs do not span the band.

    References
    ----------
    Common practice, no source.

    Examples
    --------
    >>> probe = curve_from_pairs([25.0, 85.0], [1800.0, 247.0])
    >>> wrong = curve_from_pairs([25.0, 85.0], [1800.0, 260.0])
    >>> choose_preset(probe, {"second": wrong, "first": probe}, limit_c=120.0).ranked[0].name
    'first'
    """
    if not presets:
        raise InputError("there is no preset to choose from", do="type in the curves that the monitor offers")
    found = [
        preset_error(probe, name, curve, low_c=low_c, high_c=high_c, limit_c=limit_c)
        for name, curve in presets.items()
    ]
    ranked = tuple(sorted(found, key=lambda one: abs(one.worst_c)))
    best = ranked[0]
    text = (
        f"take {best.name}: worst {best.worst_c:+.1f} degC at {best.worst_at_c:.0f}, {best.at_limit_c:+.1f} at"
        f" {limit_c:g}; move the alarm by {best.alarm_shift_c:+.1f}"
    )
    if abs(best.at_limit_c) > _TOO_FAR_C:
        text += "; over 2 degC at the limit: trim it with a resistor, or use another probe"
    return PresetChoice(ranked=ranked, verdict=text)
