"""Pictures: they show the numbers that were computed, in the units asked, and come out the same each time."""

from __future__ import annotations

import re
import subprocess
import sys
import xml.etree.ElementTree as ET

import numpy as np
import pytest

from sensorcal.calibration.calibration import expanded_c, u_form_c
from sensorcal.setup import UnitsOut
from sensorcal.views import plots
from tests.book import example
from tests.views.drawn import table_view

AMERICAN = UnitsOut(temperature="degF", resistance="kohm")


def drawn(units: UnitsOut | None = None) -> dict[str, object]:
    """Draw all four pictures."""
    cal = example.calibration()
    return {
        "curve": plots.curve_figure(cal, redline_c=120.0, units=units),
        "left": plots.residual_figure(cal, units=units),
        "trust": plots.uncertainty_figure(cal, redline_c=120.0, units=units),
        "table": plots.table_figure(table_view(cal), redline_c=120.0, units=units),
    }


def line(figure: object, label: str) -> tuple[np.ndarray, np.ndarray]:
    """Give the data of the line of that name."""
    found = [one for one in figure.axes[0].lines if one.get_label() == label]
    assert len(found) == 1, label
    return np.asarray(found[0].get_xdata()), np.asarray(found[0].get_ydata())


def words_in(figure: object) -> str:
    """Give every text of a picture."""
    axes = figure.axes[0]
    return " | ".join(
        [text.get_text() for text in axes.texts]
        + [axes.get_title(loc="left"), axes.get_xlabel(), axes.get_ylabel()]
        + [text.get_text() for text in axes.get_legend().get_texts()]
    )


def test_uncertainty_picture_shows_the_computed_u_and_says_extrapolated() -> None:
    """If it failed, the picture would show another U than the table, or hide where it is extrapolated."""
    cal = example.calibration()
    figure = plots.uncertainty_figure(cal, redline_c=120.0)
    t, u = line(figure, "U, 19 times in 20")
    np.testing.assert_allclose(u, expanded_c(cal, t), rtol=1e-12)
    t, u = line(figure, "from extrapolating the form")
    np.testing.assert_allclose(u, 1.959964 * u_form_c(cal, t), rtol=1e-6)
    assert u[(t > 1.0) & (t < 97.0)].max() < 0.05
    assert words_in(figure).count("extrapolated") == 1
    assert "redline 120" in words_in(figure)


def test_curve_picture_shows_points_and_curve_in_the_units_asked() -> None:
    """If it failed, a person who asked for °F and kΩ would read °C or Ω off the axis."""
    cal = example.calibration()
    figure = plots.curve_figure(cal, redline_c=120.0, units=AMERICAN)
    f, kohm = line(figure, "points")
    np.testing.assert_allclose(f, cal.points.temperature_c * 1.8 + 32.0)
    np.testing.assert_allclose(kohm, cal.points.resistance_ohm / 1000.0)
    f, kohm = line(figure, "curve")
    np.testing.assert_allclose(kohm * 1000.0, cal.resistance_ohm((f - 32.0) / 1.8), rtol=1e-12)
    said = words_in(figure)
    assert "°F" in said
    assert "kΩ" in said
    assert "redline 248" in said
    assert figure.axes[0].get_yscale() == "log"


def test_residual_bars_are_the_expanded_uncertainty_of_the_points() -> None:
    """If it failed, the bars would be one u instead of 19 times in 20, or leave the inflation out."""
    cal = example.calibration()
    figure = plots.residual_figure(cal)
    segments = figure.axes[0].collections[0].get_segments()
    half = np.array([(s[1][1] - s[0][1]) / 2 for s in segments])
    np.testing.assert_allclose(half, 1.959964 * cal.inflation * cal.points.u_c, rtol=1e-6)


def test_table_picture_shows_error_bound_and_evenly_spaced_rows() -> None:
    """If it failed, the picture would not show what the chosen rows gain."""
    cal = example.calibration()
    table = table_view(cal)
    figure = plots.table_figure(table, redline_c=120.0, units=AMERICAN)
    _, error = line(figure, "this table")
    np.testing.assert_allclose(error, 1.8 * table.error_c)
    _, even = line(figure, "evenly spaced rows")
    np.testing.assert_allclose(even, 1.8 * table.even_error_c)
    _, bound = line(figure, "no table can do better")
    assert bound[0] == pytest.approx(0.9)


@pytest.mark.parametrize("name", ["curve", "left", "trust", "table"])
def test_pictures_come_out_the_same_each_time(name: str) -> None:
    """If it failed, every report would differ from the last one although nothing changed."""
    first, second = (plots.fig_to_svg(drawn()[name], name, "picture") for _ in range(2))
    assert first == second
    first, second = (plots.fig_to_png(drawn()[name]) for _ in range(2))
    assert first == second
    assert first.startswith(b"\x89PNG")


def test_svg_stands_alone_in_a_page() -> None:
    """If it failed, two pictures in one page would share ids and show each other's marks, or need the network."""
    ids: list[str] = []
    for name, figure in drawn().items():
        svg = plots.fig_to_svg(figure, name, 'U & "range" <hot>')
        root = ET.fromstring(svg)  # noqa: S314 - our own picture
        assert root.attrib["aria-label"] == 'U & "range" <hot>'
        own = re.findall(r'\sid="([^"]+)"', svg)
        assert all(one.startswith(f"{name}-") for one in own)
        ids += own
        for target in re.findall(r'href="#([^"]+)"|url\(#([^)]+)\)', svg):
            assert "".join(target) in own
        assert not re.search(r'(?:href|src)="(?!#)', svg)
        assert "<script" not in svg
    assert len(ids) == len(set(ids))


def test_a_curve_that_turns_is_drawn_as_far_as_it_goes() -> None:
    """If it failed, one bad curve would leave its owner without any picture of it."""
    import dataclasses

    from sensorcal.errors import CurveError

    cal = example.calibration(prior=False)
    bent = dataclasses.replace(cal, curve=dataclasses.replace(cal.curve, p2=1.0e-5))
    with pytest.raises(CurveError):
        bent.resistance_ohm(150.0)
    t, _ = line(plots.curve_figure(bent), "curve")
    assert t[0] >= -20.0
    assert 117.0 < t[-1] < 118.2


def test_no_pyplot_and_no_change_of_the_users_settings() -> None:
    """If it failed, drawing in a notebook's callback could mix pictures of two threads or change the user's style."""
    code = (
        "import sys, matplotlib as mpl;"
        # To look at the backend is to load one, pyplot included.
        "look = lambda: {k: mpl.rcParams[k] for k in mpl.rcParams if k != 'backend'}; before = look();"
        "from tests.book import example; from sensorcal.views import plots;"
        "plots.fig_to_svg(plots.curve_figure(example.calibration(), redline_c=120.0), 'a');"
        "assert look() == before; print('matplotlib.pyplot' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"
