"""Rising and falling series: the invented record whose budget was computed twice by other means."""

from __future__ import annotations

import numpy as np
import pytest

from sensorcal.calibration.cycles import series_budget
from tests.outside.table import cases, rows

DATA = rows("07_pressure_series_data.csv")


def _budget():
    up = np.array([[float(row[name]) for row in DATA] for name in ("M1", "M3", "M5")])
    down = np.array([[float(row[name]) for row in DATA] for name in ("M2", "M4", "M6")])
    return series_budget(up, down, u_standard=0.0016, resolution=0.0001, mounted_again_at=2)


@pytest.mark.parametrize("row", cases("07_pressure_series_results.csv", "p_kPa"))
def test_series(row):
    """A mean taken for a maximum, or a full width not halved, would state U wrong (trap 9)."""
    found = _budget()
    i = [r["p_kPa"] for r in DATA].index(row["p_kPa"])
    # 1e-6 V as the table asks; its u and U carry a digit more
    assert found.mean_up[i] == pytest.approx(float(row["mean_up_V"]), abs=1e-6)
    assert found.mean_down[i] == pytest.approx(float(row["mean_down_V"]), abs=1e-6)
    assert found.mean[i] == pytest.approx(float(row["mean_V"]), abs=1e-6)
    assert found.zero_deviation == pytest.approx(float(row["f0_V"]), abs=1e-6)
    assert found.repeatability[i] == pytest.approx(float(row["b_prime_V"]), abs=1e-6)
    assert found.reproducibility[i] == pytest.approx(float(row["b_V"]), abs=1e-6)
    assert found.hysteresis[i] == pytest.approx(float(row["h_V"]), abs=1e-6)
    assert found.u[i] == pytest.approx(float(row["u_V"]), abs=1e-7)
    assert found.expanded[i] == pytest.approx(float(row["U_k2_V"]), abs=1e-7)
    assert found.expanded[i] / 0.004 == pytest.approx(float(row["U_k2_kPa"]), abs=5e-5)


def test_what_the_series_cannot_show_is_said():
    """A single rising series must not pass for one without hysteresis."""
    up = [[float(row["M1"]) for row in DATA]]
    found = series_budget(up, np.empty((0, len(DATA))), u_standard=0.0016, resolution=0.0001)
    assert found.hysteresis is None
    assert any("no falling readings" in line for line in found.missing)
    assert any("one cycle" in line for line in found.missing)
