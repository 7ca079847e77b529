"""Invented chains that the tests of this room share."""

from __future__ import annotations

from dataclasses import replace

from sensorcal.installed.chain import Chain
from sensorcal.installed.chainparts import Divider, RatioSensor, Thermistor
from sensorcal.installed.conversion import CurveConversion
from sensorcal.physics.curves import SteinhartHart
from sensorcal.physics.transducer import RatioPolynomial

J_SH = SteinhartHart.through_points([0.0, 50.0, 97.7], [5230.0, 721.0, 172.1])
"""Probe J-SH of the invented scenario, exactly Steinhart-Hart."""


def thermistor_chain(curve=J_SH, pull_ohm=1000.0, preset=None, **parts):
    """A chain whose monitor holds the probe's own curve: ideal but for the parts given."""
    low, high = -45.0, 180.0
    return replace(
        Chain(
            sensor=Thermistor(curve=curve, low=low, high=high),
            conversion=CurveConversion(curve=preset or curve, low=low - 50, high=high + 70, pull_ohm=pull_ohm),
            divider=Divider(pull_ohm=pull_ohm),
        ),
        **parts,
    )


def line(low_pa=0.0, high_pa=1e6):
    """The data sheet's line: 0.1 to 0.9 of the supply."""
    return RatioPolynomial.through(zero_ratio=0.1, span_ratio=0.8, low_pa=low_pa, high_pa=high_pa)


def pressure_chain(curve=None, **parts):
    """A transducer of 0-1000 kPa on the monitor's 5 V, ideal but for the parts given."""
    curve = curve or line()
    low, high = (float(p) for p in curve.pressure_pa([0.001, 0.999]))
    return replace(
        Chain(
            sensor=RatioSensor(curve=curve, low=low, high=high),
            conversion=CurveConversion(curve=curve, low=3 * low, high=high - 2 * low),
            divider=Divider(arrangement="none"),
        ),
        **parts,
    )
