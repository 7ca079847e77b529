"""The ohmmeter proven: shorted leads and known resistors make a correction with its uncertainty."""

from __future__ import annotations

import math
from dataclasses import dataclass

from sensorcal.bench.point import UPart
from sensorcal.errors import InputError
from sensorcal.setup import Meter

_SQRT3 = math.sqrt(3.0)
_SQRT12 = math.sqrt(12.0)

U_LEAD_UNPROVEN_OHM = 0.3 / _SQRT3  # leads of 0.1 to 0.5 ohm are usual: common practice, no source
U_LEAD_MEASURED_OHM = 0.03  # contact of shorted leads repeats so: common practice, no source
U_GAIN_UNPROVEN_RATIO = 0.005 / _SQRT3  # a hand meter's scale within 0.5 %: common practice, no source


@dataclass(frozen=True, slots=True, kw_only=True)
class MeterCorrection:
    """What was found about the meter: read = leads + gain × true.

    Parameters
    ----------
    meter : str
        Tag of the meter.
    lead_ohm, u_lead_ohm : float
        Resistance of the leads, and its standard uncertainty.
    gain, u_gain_ratio : float
        Read ohms per true ohm, and its relative standard uncertainty.
    covariance_ohm : float
        Covariance of leads and gain, in ohm: both come from the same resistors.
    chi_squared, dof : float, int
        Misfit of the checks, and how many there are beyond two unknowns.
    notes : tuple of str
        What was proven, what was assumed.
    """

    meter: str = "M1"
    lead_ohm: float = 0.0
    u_lead_ohm: float = U_LEAD_UNPROVEN_OHM
    gain: float = 1.0
    u_gain_ratio: float = U_GAIN_UNPROVEN_RATIO
    covariance_ohm: float = 0.0
    chi_squared: float = 0.0
    dof: int = 0
    notes: tuple[str, ...] = ()

    def corrected_ohm(self, read_ohm: float) -> float:
        """Give the true resistance for a reading, in ohm (arrays work too).

        Examples
        --------
        >>> MeterCorrection(lead_ohm=0.3, gain=1.01).corrected_ohm(475.0)
        470.0
        """
        return (read_ohm - self.lead_ohm) / self.gain

    def shares(self, read_ohm: float) -> tuple[UPart, UPart]:
        """Give the two shared shares of a corrected resistance, in ohm, on the axis 'signal'.

        Leads and gain found from the same resistors are correlated; the shares are made independent of each
        other (Cholesky), so that their identifiers may be used apart.
        """
        true_ohm = self.corrected_ohm(read_ohm)
        by_lead, by_gain = -1.0 / self.gain, -true_ohm / self.gain
        u_gain = self.u_gain_ratio * self.gain
        along = self.covariance_ohm / u_gain if u_gain > 0 else 0.0
        rest = math.sqrt(max(self.u_lead_ohm**2 - along**2, 0.0))
        return (
            UPart(
                key=f"meter:{self.meter}:gain",
                u=by_gain * u_gain + by_lead * along,
                what="scale of the meter",
                axis="signal",
            ),
            UPart(key=f"meter:{self.meter}:leads", u=by_lead * rest, what="resistance of the leads", axis="signal"),
        )


def meter_correction(meter: Meter) -> MeterCorrection:
    """Find leads and gain from the shorted reading and the known resistors, by weighted least squares.

    Parameters
    ----------
    meter : Meter
        With `leads_shorted_ohm` and `checks` where they were measured.

    Returns
    -------
    MeterCorrection
        What was not measured stays uncorrected, with the assumed uncertainty, named in the notes. An
        uncertainty that the setup states outright replaces the one found.

    Raises
    ------
    InputError
        When a check cannot be this meter: more than 20 % off.

    References
    ----------
    Weighted straight line, JCGM 100:2008 H.3 for its covariance; tolerances as rectangular half-widths, 4.3.7.

    Examples
    --------
    >>> from sensorcal.setup import MeterCheck
    >>> found = meter_correction(Meter(leads_shorted_ohm=0.3, checks=(
    ...     MeterCheck(true_ohm=470.0, read_ohm=475.0), MeterCheck(true_ohm=2200.0, read_ohm=2222.5))))
    >>> f"{found.lead_ohm:.2f} ohm, {100 * (found.gain - 1):+.2f} %"
    '0.30 ohm, +1.00 %'
    """
    for check in meter.checks:
        if not 0.8 < check.read_ohm / check.true_ohm < 1.25:
            raise InputError(
                f"{check.read_ohm:g} ohm on a resistor of {check.true_ohm:g} ohm is no meter error",
                do="check the resistor's marking and the unit (ohm or kohm)",
            )
    # x = 1 for what depends on the leads: (true, read, u, weight of leads)
    rows = [(c.true_ohm, c.read_ohm, _u_check(meter, c.true_ohm, c.u_true_ratio)) for c in meter.checks]
    lead_known = meter.leads_shorted_ohm is not None
    if meter.leads_shorted_ohm is not None:
        rows.append((0.0, meter.leads_shorted_ohm, _u_short(meter)))
    if not meter.checks:
        return _unproven(meter)
    if not lead_known:
        # Leads not shorted: known only to lie within 0.3 ohm of zero.
        rows.append((0.0, 0.0, _stated(meter.u_lead_ohm, U_LEAD_UNPROVEN_OHM)))
    lead, gain, covariance, chi_squared = _line(rows)
    u_lead, u_gain = math.sqrt(covariance[0]), math.sqrt(covariance[1])
    notes = [
        f"meter {meter.name}: gain {100 * (gain - 1):+.2f} % from known resistors ({len(meter.checks)}), corrected",
        f"leads {lead:.2f} ohm, {'shorted and corrected' if lead_known else 'not shorted: taken as 0 within 0.3 ohm'}",
    ]
    dof = len(rows) - 2
    if dof > 0 and chi_squared > 6.63 * dof:
        notes.append(
            f"the known resistors disagree with one straight line (chi-squared {chi_squared:.1f} for {dof}): "
            "check their markings and the ranges used"
        )
    return MeterCorrection(
        meter=meter.name,
        lead_ohm=lead,
        u_lead_ohm=u_lead if meter.u_lead_ohm is None else meter.u_lead_ohm,
        gain=gain,
        u_gain_ratio=_stated(meter.u_gain_ratio, u_gain / gain),
        covariance_ohm=covariance[2] if meter.u_gain_ratio is None and meter.u_lead_ohm is None else 0.0,
        chi_squared=chi_squared,
        dof=dof,
        notes=tuple(notes),
    )


def _unproven(meter: Meter) -> MeterCorrection:
    """Correct the leads if they were shorted; leave the gain at one."""
    shorted = meter.leads_shorted_ohm
    u_lead = _stated(meter.u_lead_ohm, U_LEAD_UNPROVEN_OHM if shorted is None else _u_short(meter))
    u_gain = _stated(meter.u_gain_ratio, U_GAIN_UNPROVEN_RATIO)
    leads = "leads not shorted: not corrected" if shorted is None else f"leads {shorted:.2f} ohm, corrected"
    return MeterCorrection(
        meter=meter.name,
        lead_ohm=shorted or 0.0,
        u_lead_ohm=u_lead,
        u_gain_ratio=u_gain,
        notes=(f"meter {meter.name}: scale not proven, within {100 * u_gain:.2f} % (standard)", leads),
    )


def _stated(value: float | None, otherwise: float) -> float:
    """Give the stated value where there is one."""
    return otherwise if value is None else value


def _u_short(meter: Meter) -> float:
    """Standard uncertainty of the shorted reading: contact, and the last digit."""
    return _stated(
        meter.u_lead_ohm,
        math.hypot(
            U_LEAD_MEASURED_OHM, 0.1 / _SQRT12 if meter.resolution_ohm is None else meter.resolution_ohm / _SQRT12
        ),
    )


def _u_check(meter: Meter, true_ohm: float, u_true_ratio: float) -> float:
    """Standard uncertainty of one check: the resistor's tolerance, the last digit, and the contact."""
    return math.hypot(true_ohm * u_true_ratio, meter.resolution(true_ohm) / _SQRT12, U_LEAD_MEASURED_OHM)


def _line(rows: list[tuple[float, float, float]]) -> tuple[float, float, tuple[float, float, float], float]:
    """Fit read = lead + gain × true with weights; give both, their (co)variances, and chi-squared."""
    weights = [1.0 / u**2 for _, _, u in rows]
    total = sum(weights)
    centre = sum(w * x for w, (x, _, _) in zip(weights, rows, strict=True)) / total
    mean = sum(w * y for w, (_, y, _) in zip(weights, rows, strict=True)) / total
    spread = sum(w * (x - centre) ** 2 for w, (x, _, _) in zip(weights, rows, strict=True))
    gain = sum(w * (x - centre) * (y - mean) for w, (x, y, _) in zip(weights, rows, strict=True)) / spread
    lead = mean - gain * centre
    chi_squared = sum(w * (y - lead - gain * x) ** 2 for w, (x, y, _) in zip(weights, rows, strict=True))
    return lead, gain, (1.0 / total + centre**2 / spread, 1.0 / spread, -centre / spread), chi_squared
