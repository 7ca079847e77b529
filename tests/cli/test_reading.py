"""`sensorcal reading`: story 9 of the job map as a builder types it."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from sensorcal.cli.main import main

SETUP = str(Path(__file__).parents[2] / "data" / "starts" / "setup.toml")
STORY = ["reading", "--setup", SETUP, "--shown", "84", "--thermometer", "90", "--within", "2", "--cold", "10"]


def test_story_nine(capsys):
    """The ground would not come first with about 145 mV, the connector second, the preset third."""
    assert main([*STORY, "--load-step", "3"]) == 0
    said = capsys.readouterr().out
    rows = re.findall(r"^ *([\d.]+)%  (.*)$", said, re.MULTILINE)
    assert float(rows[0][0]) > 60.0
    assert re.search(r"lifted by about \+14\d mV", rows[0][1])
    assert re.search(r"about (3[6-9]|4[0-4]) ohm too many", rows[1][1])
    assert rows[2][1].startswith("wrong preset")
    assert "Measure millivolts between the engine block" in said
    assert "real until it is proved otherwise" in said


def test_too_little_is_said(capsys):
    """Three causes of like weight would be passed off as an answer."""
    assert main(["reading", "--shown", "84", "--thermometer", "90", "--within", "2"]) == 0
    said = capsys.readouterr().out
    assert "more is told by a cold soak (--cold) and a load test (--load-step)" in said
    assert main(["reading", "--shown", "84", "--thermometer", "90", "--within", "2", "--cold", "10"]) == 0
    asked_again = capsys.readouterr().out
    assert "(--cold)" not in asked_again
    assert "Assumed: a usual thermistor" in said


@pytest.mark.parametrize(
    ("change", "word"),
    [(["--within", "0"], "--within"), (["--channel", "map"], "no thermistor"), (["--shown", "hot"], "--shown")],
)
def test_wrong_input_is_one_line(change, word, capsys):
    """A mistake would end in a traceback, or not name the option."""
    assert main([*STORY, *change]) == 2
    error = capsys.readouterr().err
    assert error.count("\n") == 1
    assert word in error
