"""NIST StRD MGH10 read as a thermistor: our estimators on public data, against a re-fit in 40 digits."""

from __future__ import annotations

import numpy as np
import pytest

from sensorcal.calibration.core import fit_core
from sensorcal.calibration.thermistor import fit_thermistor
from sensorcal.measure.estimate import gls
from sensorcal.measure.terms import term
from sensorcal.physics.curves import SteinhartHart, basis
from tests.outside.table import rows

DATA = rows("01_nist_strd_mgh10_data.csv")
T_C = np.array([float(row["x"]) for row in DATA])
R_OHM = np.array([float(row["y"]) for row in DATA])
RIGHT = {row["quantity"]: float(row["value"]) for row in rows("01_mgh10_as_thermistor_derived.csv")}
KELVIN = T_C + 273.15
# The table's fit weighs every 1/T alike; on the temperature axis that is u in proportion to T².
U_C = 1e-7 * KELVIN**2


def _by_gls():
    ln_r = np.log(R_OHM)
    centre, scale = float(ln_r.mean()), float(np.ptp(ln_r)) / 2
    p = gls(basis((ln_r - centre) / scale, centre, scale), 1.0 / KELVIN, np.ones(T_C.size)).parameters
    return SteinhartHart(p0=p[0], p1=p[1], p2=p[2], centre=centre, scale=scale).abc


def _by_core():
    return tuple(fit_core(T_C, R_OHM, U_C)[0])


def _by_calibration():
    return fit_thermistor(T_C, R_OHM, (term("alike", U_C, T_C.size, common=False),), prior=None).curve.abc


@pytest.mark.parametrize("how", [_by_gls, _by_core, _by_calibration], ids=["gls", "fit_core", "fit_thermistor"])
def test_coefficients(how):
    """A coefficient would be wrong in the eighth digit: of the estimator, the bare fit or the whole one."""
    for name, ours in zip("ABC", how(), strict=True):
        assert ours == pytest.approx(RIGHT[name], rel=1e-8)  # the two recomputations agree to 1e-8; 12 digits printed


def test_residuals():
    """The curve would miss the data by other than the 10 mK at worst and 4 mK rms of the re-fit."""
    residual = SteinhartHart.from_abc(*_by_gls()).temperature_c(R_OHM) - T_C
    assert np.max(np.abs(residual)) == pytest.approx(RIGHT["max_abs_T_residual"], abs=0.5e-5)  # half a printed digit
    assert np.sqrt(np.mean(residual**2)) == pytest.approx(RIGHT["rms_T_residual"], abs=0.5e-5)


def test_beta_through_the_ends():
    """Beta from the two end points, or its error in between, would be wrong."""
    curve = SteinhartHart.through_points(T_C[[0, -1]], R_OHM[[0, -1]])
    assert 1.0 / curve.abc[1] == pytest.approx(RIGHT["beta_from_50_and_125C"], abs=0.5e-4)
    error_c = float(curve.temperature_c(R_OHM[T_C == 90.0][0])) - 90.0
    assert error_c == pytest.approx(RIGHT["beta_line_T_error_at_90C"], abs=0.5e-4)
