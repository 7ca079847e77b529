"""Pictures and tables as a notebook shows them."""

from __future__ import annotations

import struct

from sensorcal.firststart.startlog import start_log
from sensorcal.views import plots
from sensorcal.views.notebook import line_figure, listing, show, start_picture
from tests.book import example


def test_picture_has_its_title_as_text_and_one_size() -> None:
    """If it failed, a page would hold an address in place of words, or pictures of many sizes."""
    data, metadata = show(plots.residual_figure(example.calibration()))._repr_mimebundle_()
    assert data["text/plain"] == "[picture: What the curve leaves of the points]"
    assert metadata["image/png"] == {"width": 600, "height": 288}
    width, height = struct.unpack(">II", data["image/png"][16:24])
    assert (width, height) == (960, 460)


def test_table_is_text_in_a_console_and_markdown_in_a_notebook() -> None:
    """If it failed, cells would change columns, or a stroke in a cell would break the table."""
    table = listing([("ice", 5230.0), ("a|b", -1.5)], {"point": "{0}", "ohm": "{1:.1f}"})
    assert repr(table).splitlines() == ["point     ohm", "  ice  5230.0", "  a|b    -1.5"]
    assert table._repr_mimebundle_()["text/markdown"].splitlines() == [
        "| point | ohm |",
        "| :--- | ---: |",
        "| ice | 5230.0 |",
        "| a/b | −1.5 |",
    ]


def test_table_of_results_takes_their_attributes_and_no_signed_zero() -> None:
    """If it failed, a number would stand under another heading, or 'minus nothing' would be read as something."""
    table = listing(
        [example.calibration().points], {"°C": "{0.temperature_c[0]:.1f}", "rest": "{0.residual_c[0]:.0f} °C"}
    )
    assert table.head == ("°C", "rest")
    assert table.rows[0][1] == "0 °C"
    assert listing([(-0.0001,)], {"x": "{0:+.2f}"}).rows == (("0.00",),)


def test_plain_lines_keep_their_names_and_the_mark() -> None:
    """If it failed, two lines would change names, or the marked point would stand elsewhere."""
    figure = line_figure(
        [0.0, 1.0], {"a": [1.0, 2.0], "b": [3.0, 4.0]}, title="t", x_label="x", y_label="y", mark=(1.0, 2.0, "here")
    )
    drawn = {line.get_label(): list(line.get_ydata()) for line in figure.axes[0].lines}
    assert drawn["a"] == [1.0, 2.0]
    assert drawn["b"] == [3.0, 4.0]
    assert [2.0] in drawn.values()
    assert [text.get_text() for text in figure.axes[0].texts] == ["here"]


def test_a_start_is_drawn_with_its_chosen_channels_only() -> None:
    """If it failed, a page would show five panels in the room of one, or a finding in another channel's panel."""
    log = start_log([0.0, 1.0, 2.0], {"map": [93e3, 60e3, 36e3], "bus": [12.7, 10.0, 14.0]})
    picture = start_picture(log, ("map",), "Manifold")
    assert repr(picture) == "[picture: Manifold]"
    assert picture.png != start_picture(log, ("bus",), "Manifold").png
    assert len({len(start_picture(log, ("map",), "Manifold").png), len(picture.png)}) == 1
