"""Bench calibration of engine thermistors and pressure sensors, from readings to the monitor's table.

The names below are the door; everything else lives under its room (`sensorcal.physics`, `sensorcal.bench`, ...).
Nothing heavy is imported until a name is used.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

__version__ = "0.1.0"

_WHERE = {
    # words and the setup
    "SensorcalError": "errors",
    "Setup": "setup",
    "setup_from": "setupfile",
    "read_setup": "setupfile",
    "write_setup": "setupfile",
    "parse_sheet": "sheet",
    # the bench
    "reported_station_pressure": "bench.station",
    "boiling_point": "bench.station",
    "read_run": "bench.runfile",
    "settled_points": "bench.settle",
    "write_scenario": "bench.demo",
    # calibration
    "SteinhartHart": "physics.curves",
    "CurvaturePrior": "calibration.calibration",
    "Calibration": "calibration.calibration",
    "expanded_c": "calibration.calibration",
    "fit_thermistor": "calibration.thermistor",
    "calibrate": "calibration.fromrun",
    "check_against_sheet": "calibration.sheet",
    "claim_at": "calibration.claims",
    # the monitor
    "MonitorInput": "installed.monitor",
    "make_table": "installed.table",
    # the book and the page
    "write_record": "book.store",
    "read_record": "book.store",
    "report_html": "views.report",
}

__all__ = [*sorted(_WHERE), "__version__"]  # noqa: PLE0604 - the keys are text

if TYPE_CHECKING:
    from sensorcal.bench.demo import write_scenario as write_scenario
    from sensorcal.bench.runfile import read_run as read_run
    from sensorcal.bench.settle import settled_points as settled_points
    from sensorcal.bench.station import boiling_point as boiling_point
    from sensorcal.bench.station import reported_station_pressure as reported_station_pressure
    from sensorcal.book.store import read_record as read_record
    from sensorcal.book.store import write_record as write_record
    from sensorcal.calibration.calibration import Calibration as Calibration
    from sensorcal.calibration.calibration import CurvaturePrior as CurvaturePrior
    from sensorcal.calibration.calibration import expanded_c as expanded_c
    from sensorcal.calibration.claims import claim_at as claim_at
    from sensorcal.calibration.fromrun import calibrate as calibrate
    from sensorcal.calibration.sheet import check_against_sheet as check_against_sheet
    from sensorcal.calibration.thermistor import fit_thermistor as fit_thermistor
    from sensorcal.errors import SensorcalError as SensorcalError
    from sensorcal.physics.curves import SteinhartHart as SteinhartHart
    from sensorcal.setup import Setup as Setup
    from sensorcal.setupfile import read_setup as read_setup
    from sensorcal.setupfile import setup_from as setup_from
    from sensorcal.setupfile import write_setup as write_setup
    from sensorcal.sheet import parse_sheet as parse_sheet
    from sensorcal.views.report import report_html as report_html


def __getattr__(name: str) -> object:
    if name not in _WHERE:
        raise AttributeError(f"module 'sensorcal' has no attribute {name!r}")
    value = getattr(import_module(f"sensorcal.{_WHERE[name]}"), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return list(__all__)
