"""The command `sensorcal air`: what a person reads, what a machine reads, and one clear line on bad input."""

from __future__ import annotations

import argparse
import json

import pytest

from sensorcal.cli import air
from sensorcal.errors import SensorcalError


def call(capsys, *arguments):
    """Run the command as the main program does and return what it printed."""
    parser = argparse.ArgumentParser(prog="sensorcal")
    air.add_parser(parser.add_subparsers())
    args = parser.parse_args(["air", *arguments])
    assert args.run(args) == 0
    return capsys.readouterr().out


THREE = ("--elevation", "640", "--qnh", "1009", "--station-elevation", "610")


def test_three_numbers(capsys):
    """The first numbers would not be there, or without their ±, assumptions and caution."""
    out = call(capsys, *THREE)
    for told in (
        "97.73 °C ± 0.05",
        "93.47 kPa ± 0.16",
        "19 times in 20",
        "rounded down",
        "half a step",
        "+2.27 °C",
        "steam scalds",
    ):
        assert told in out
    assert "Question" not in out


def test_feet_and_inches(capsys):
    """The same workshop in feet, inches and Fahrenheit would get another boiling point."""
    report = json.loads(
        call(capsys, "--elevation", "2100ft", "--qnh", "29.80inHg", "--station-elevation", "2001 ft", "--json")
    )
    flags = ("--feet", "--inhg", "--elevation", "2100", "--qnh", "29.80", "--station-elevation", "2001")
    assert json.loads(call(capsys, *flags, "--json")) == report
    assert report["boiling_point_c"] == pytest.approx(97.735, abs=0.005)
    out = call(capsys, *flags, "--fahrenheit")
    assert "207.92 °F" in out
    assert "27.60 inHg" in out or "27.61 inHg" in out


def test_machine_form(capsys):
    """The JSON would lack a figure, use other units, or not match the printed page."""
    day = json.loads(call(capsys, *THREE, "--oat", "30", "--dew-point", "20", "--json"))
    assert day["format"] == "sensorcal-air/1"
    # 93 470 Pa in standard air; 30 m of air that is 19 K warmer weigh 21 Pa less (own arithmetic, p g h / R T)
    assert day["station_pressure_pa"] == pytest.approx(93_491, abs=1)
    assert day["expanded"]["U_boiling_point_c"] == pytest.approx(2 * day["u_boiling_point_c"])
    assert day["u_station_pressure_pa"] ** 2 == pytest.approx(sum(line["u_pa"] ** 2 for line in day["budget_pressure"]))
    assert day["density_altitude_m"] > day["pressure_altitude_m"] + 500
    assert day["other_formulas_minus_icao_pa"]["smithsonian"] == pytest.approx(27.2, abs=0.2)


def test_feet_question(capsys):
    """2100 typed for 640 m would not be asked about on the first line."""
    out = call(capsys, "--elevation", "2100", "--qnh", "1009", "--station-elevation", "610")
    assert out.startswith("Question: elevation 2100 m: feet? 2100 ft is 640 m")
    assert "-4.9 °C" in out


def test_typed_steam_question(capsys):
    """100 °C for the steam would pass, or a reason to keep it get lost."""
    out = call(capsys, *THREE, "--steam", "100", "--keep-anyway", "old habit")
    assert "+2.27 °C off" in out
    assert "Kept anyway: old habit" in out
    assert "Question" not in call(capsys, *THREE, "--steam", "97.7")


def test_step_follows_the_way_the_report_was_written(capsys):
    """A report to hundredths of an inch would be charged with a whole hectopascal of rounding."""

    def u_rounding(qnh):
        day = json.loads(call(capsys, "--elevation", "640", "--qnh", qnh, "--json"))
        return day["budget_pressure"][0]["u_input"]

    assert u_rounding("1009") == pytest.approx(100 / 3**0.5)
    assert u_rounding("1009.4") == pytest.approx(10 / 3**0.5)
    assert u_rounding("29.80 inHg") == pytest.approx(33.8639 / 3**0.5, rel=1e-5)


def test_barometer(capsys):
    """An absolute barometer in the workshop could not replace the report, or a QNH there would pass."""
    assert "97.73 °C ± 0.03" in call(capsys, "--elevation", "640", "--barometer", "934.7")
    assert "did you use QNH?" in call(capsys, "--elevation", "640", "--barometer", "1009")


def test_arithmetic(capsys):
    """The budget behind the ± could not be seen."""
    out = call(capsys, *THREE, "--arithmetic")
    assert "rounding of the report" in out
    assert "together" in out
    assert "smithsonian" in out


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (("--elevation", "640", "--qnh", "29.92"), r"^--qnh 29.92 hPa .* 29.92 inHg is 1013.2 hPa"),
        (("--elevation", "9500", "--qnh", "1009"), r"^--elevation 9500 m"),
        (("--elevation", "640", "--qnh", "1009", "--station-elevation", "20000"), r"^--station-elevation 20000 m"),
        (("--elevation", "six", "--qnh", "1009"), r"^--elevation: 'six' is not a number"),
        (("--elevation", "640 hPa", "--qnh", "1009"), r"^--elevation: .*not a length"),
        (("--qnh", "1009"), r"--elevation and --qnh are needed"),
        (("--elevation", "640", "--barometer", "-5"), r"^--barometer -0.5 kPa"),
        (("--elevation", "640", "--qnh", "1009", "--barometer", "934"), r"both given"),
        (("--elevation", "640", "--qnh", "1009", "--oat", "288"), r"^--oat 288"),
        (("--elevation", "640", "--qnh", "1009", "--dew-point", "10"), r"--dew-point needs"),
        (("--elevation", "640", "--qnh", "1009", "--half-step", "--rounding", "nearest"), r"half a step"),
    ],
)
def test_one_clear_line(capsys, arguments, told):
    """Bad input would end in a traceback, or in a line that does not name the option."""
    with pytest.raises(SensorcalError, match=told) as caught:
        call(capsys, *arguments)
    assert "\n" not in str(caught.value)


def test_help_shows_an_example(capsys):
    """The help would leave the newcomer without a line to copy."""
    with pytest.raises(SystemExit) as stopped:
        call(capsys, "--help")
    assert stopped.value.code == 0
    assert "sensorcal air --elevation 640 --qnh 1009 --station-elevation 610" in capsys.readouterr().out
