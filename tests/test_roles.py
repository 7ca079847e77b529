"""Roles of sensors in their owner's words: each finds the channel whose limits it has, or none."""

from __future__ import annotations

import pytest

from sensorcal.firststart import logwords
from sensorcal.roles import channel_of_role


@pytest.mark.parametrize(
    ("role", "measurand", "channel"),
    [
        ("coolant", "temperature", "coolant"), ("CLT", "temperature", "coolant"),
        ("Water temp, in", "temperature", "coolant"), ("cooling water", "temperature", "coolant"),
        ("gearbox oil", "temperature", "gearbox_oil"), ("oil cooler out", "temperature", "gearbox_oil"),
        ("oil", "temperature", "gearbox_oil"), ("oil", "pressure", "oil_pressure"),
        ("cooler in", "temperature", "charge_in"), ("charge_air/before-cooler", "temperature", "charge_in"),
        ("compressor outlet", "temperature", "charge_in"), ("turbo out", "temperature", "charge_in"),
        ("after the intercooler", "temperature", "charge_out"), ("IAT", "temperature", "charge_out"),
        ("fuel rail", "pressure", "fuel_pressure"), ("boost", "pressure", "map"), ("MAP", "pressure", "map"),
        ("fuel", "temperature", None), ("coolant", "pressure", None), ("", "temperature", None),
        ("hangar", "temperature", None), ("paint", "pressure", None),
    ],
)  # fmt: skip
def test_a_role_finds_its_channel(role, measurand, channel):
    """If this fails, a sensor is given another channel's limit, or none although its role is plain."""
    assert channel_of_role(role, measurand) == channel
    if channel is not None:
        assert logwords.channel_of_role(role, measurand) == channel
