"""Bench calibration of engine thermistors and pressure sensors, from readings to the monitor's table."""

from __future__ import annotations

__version__ = "0.1.0"
