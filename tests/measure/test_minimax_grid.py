"""The exact table search against brute force over every table of small grids."""

from __future__ import annotations

import numpy as np
import pytest

from sensorcal.errors import TableError
from sensorcal.measure import minimax


def worst(function, x, y, x0, x1, to_z):
    """Largest error of a table by dense sampling, refined around the worst sample: no code of the product."""
    at = np.concatenate([np.linspace(x0, x1, 1501), x[(x >= x0) & (x <= x1)]])
    apart = np.abs(np.interp(to_z(at), to_z(x), y) - function(at))
    best = float(apart.max())
    for k in np.argsort(apart)[-3:]:
        near = np.clip(np.linspace(at[k] - (x1 - x0) / 1500, at[k] + (x1 - x0) / 1500, 4001), x0, x1)
        best = max(best, float(np.abs(np.interp(to_z(near), to_z(x), y) - function(near)).max()))
    return best


def brute_force(function, case, to_z, cap):
    """Smallest worst error over every strictly monotone table of at most `rows` rows, by dynamic programming.

    Every pair of grid points is measured by dense sampling; nothing is assumed about the curve.
    """
    x0, x1 = case["x0"], case["x1"]
    steps = np.arange(np.ceil(case["x_low"] / case["gx"]), np.floor(case["x_high"] / case["gx"]) + 1)
    edges = sorted((float(function(case["x_low"])), float(function(case["x_high"]))))
    points = []
    for x in steps * case["gx"]:
        inside = x0 <= x <= x1
        low, high = (function(x) - cap, function(x) + cap) if inside else edges
        points += [(x, k * case["gy"]) for k in np.arange(np.ceil(low / case["gy"]), np.floor(high / case["gy"]) + 1)]
    p = np.array(points)
    forced = case.get("forced", ())
    for x, y in forced:
        p = p[(np.abs(p[:, 0] - x) > 1e-9) | (np.abs(p[:, 1] - y) < 1e-9)]
    sign = np.sign(function(x1) - function(x0))
    error = np.full((len(p), len(p)), np.inf)
    at = np.linspace(x0, x1, 1501)
    true, z = function(at), to_z(at)
    for a, (xa, ya) in enumerate(p):
        for b, (xb, yb) in enumerate(p):
            passes = any(xa < x < xb for x, _ in forced)
            if xb <= xa or sign * (yb - ya) <= 0 or xb <= x0 or xa >= x1 or passes:
                continue
            part = (at >= xa) & (at <= xb)
            line = ya + (yb - ya) * (z[part] - to_z(xa)) / (to_z(xb) - to_z(xa))
            if part.any() and np.abs(line - true[part]).max() > cap:
                continue
            error[a, b] = worst(function, np.array([xa, xb]), np.array([ya, yb]), max(x0, xa), min(x1, xb), to_z)
    first = min([x for x, _ in forced], default=np.inf)
    last = max([x for x, _ in forced], default=-np.inf)
    best = np.where((p[:, 0] <= x0) & (p[:, 0] <= first), 0.0, np.inf)
    for _ in range(case["rows"] - 1):
        best = np.minimum(best, np.maximum(best[:, None], error).min(axis=0))
    return float(best[(p[:, 0] >= x1) & (p[:, 0] >= last)].min(initial=np.inf))


CURVES = {
    "falling, curved up": lambda x: 60 - 18 * np.log(x),
    "falling, with an inflection": lambda x: -18 * np.log(x / (20 - x)),
    "rising, curved up": lambda x: x**2 / 8 + x,
    "rising, with an inflection": lambda x: 18 * np.log(x / (20 - x)) + x,
    "falling, wavy": lambda x: -x - 2.7 * np.sin(x / 3),
}


def cases():
    """Seeded random small grids: steps, ranges, rows, fixed rows, straight in x or in ln x."""
    rng = np.random.default_rng(20)
    for n in range(25):
        name = list(CURVES)[n % len(CURVES)]
        function = CURVES[name]
        gx, gy = float(rng.choice([0.5, 0.7, 1.0])), float(rng.choice([0.5, 1.0, 2.0, 3.3]))
        x0, x1 = float(rng.uniform(1.2, 3)), float(rng.uniform(14, 18))
        case = {
            "x0": x0, "x1": x1, "gx": gx, "gy": gy, "rows": int(rng.integers(3, 6)),
            "x_low": max(x0 - gx, 0.3), "x_high": min(x1 + gx, 19.7),
        }  # fmt: skip
        if rng.random() < 0.4:
            x = round(float(rng.uniform(x0 + 3, x1 - 3)) / gx) * gx
            case["forced"] = ((x, round(float(function(x)) / gy) * gy),)
        yield pytest.param(name, case, "ln x" if rng.random() < 0.3 else "x", id=f"{n}: {name}")


@pytest.mark.parametrize(("name", "case", "lines"), list(cases()))
def test_equal_to_brute_force(name, case, lines):
    """If this fails, the table printed as the best is not the best of all tables on its grid."""
    function = CURVES[name]
    curve = minimax.target(function, case["x0"], case["x1"], lines=lines, x_low=case["x_low"], x_high=case["x_high"])
    best = minimax.best_on_grid(
        curve, case["rows"], x_step=case["gx"], y_step=case["gy"], forced=case.get("forced", ())
    )
    found = abs(best.worst_error)
    to_z = np.log if lines == "ln x" else np.asarray
    # The tolerance is the sampling error of the brute force: 1/8 y'' h^2 with h = 1e-5 of the range.
    assert worst(function, best.x, best.y, case["x0"], case["x1"], to_z) == pytest.approx(found, abs=1e-6)
    assert brute_force(function, case, to_z, found + 1e-3) == pytest.approx(found, abs=1e-6)
    assert best.proven == pytest.approx(found, abs=1e-8)
    assert best.bound <= found + 1e-9
    for x, y in case.get("forced", ()):
        assert any(np.isclose(best.x, x) & np.isclose(best.y, y))
    steps = np.array([best.x / case["gx"], best.y / case["gy"]])
    np.testing.assert_allclose(steps, np.round(steps), atol=1e-9)
    assert len(best.x) <= case["rows"]
    assert (np.diff(best.x) > 0).all()
    assert len(np.unique(np.sign(np.diff(best.y)))) == 1


def test_proven_gap_on_a_fine_grid():
    """If this fails, the gap claimed on very fine grids is not the gap."""
    curve = minimax.target(lambda x: 3600 / (10 + np.log(x)) - 270, 50.0, 14000.0)
    best = minimax.best_on_grid(curve, 12, x_step=0.1, y_step=0.1, gap=0.02)
    assert abs(best.worst_error) <= 1.02 * best.proven
    assert abs(best.worst_error) >= best.bound


def test_straight_curve_is_met_exactly():
    """If this fails, a linear sensor gets an error that is not there."""
    best = minimax.best_on_grid(minimax.target(lambda x: 2 * x - 1, 0.0, 10.0), 5, x_step=0.5, y_step=0.5)
    assert abs(best.worst_error) < 1e-9
    assert best.x.size == 2


@pytest.mark.parametrize(
    ("rows", "x_step", "forced"),
    [(1, 1.0, ()), (3, 0.0, ()), (2, 1.0, ((3.0, 9.0), (4.0, 16.0), (5.0, 25.0))), (3, 20.0, ())],
)
def test_impossible_tables_are_refused(rows, x_step, forced):
    """If this fails, a table that cannot exist is not told in plain words."""
    curve = minimax.target(np.square, 1.5, 9.0)
    with pytest.raises(TableError):
        minimax.best_on_grid(curve, rows, x_step=x_step, y_step=1.0, forced=forced)


@pytest.mark.parametrize("bad", [np.sin, lambda x: x * 0.0, lambda x: np.where(x > 3, np.nan, x)])
def test_curves_that_turn_are_refused(bad):
    """If this fails, a table is made of a curve that cannot be read backwards."""
    with pytest.raises(TableError):
        minimax.target(bad, 0.0, 6.0)
