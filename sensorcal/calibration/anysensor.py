"""One door for every sensor kind: the setup and the run say which calibration a tag needs."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sensorcal.calibration.fromrun import BenchResult, calibrate
from sensorcal.calibration.pressurerun import PressureResult, calibrate_pressure
from sensorcal.errors import InputError

if TYPE_CHECKING:
    from sensorcal.bench.run import Run
    from sensorcal.setup import Setup


def calibrate_any(run: Run, setup: Setup, probe: str) -> BenchResult | PressureResult:
    """Fit one sensor of a session, thermistor or pressure transducer.

    Parameters
    ----------
    run : Run
        Its references, temperatures or pressures, decide the kind.
    setup : Setup
    probe : str
        Tag of the sensor.

    Returns
    -------
    BenchResult or PressureResult
        As `calibrate` or `calibrate_pressure` gives it.

    Raises
    ------
    InputError
        The setup calls the tag a sensor of another kind than the run's references.

    Examples
    --------
    >>> from sensorcal.bench.simulate_pressure import PressureBench, TrueTransducer, simulate_pressure, up_and_down
    >>> from sensorcal.setup import Reference, Setup
    >>> run = simulate_pressure(TrueTransducer(), PressureBench(), up_and_down(1e6), seed=1)
    >>> found = calibrate_any(run, Setup(references={"G1": Reference(identifier="G1", kind="gauge", limits=5e3)}), "O1")
    >>> type(found).__name__
    'PressureResult'
    """
    known = setup.probes.get(probe)
    stated = "pressure" if probe in setup.transducers else known.measurand if known is not None else run.measurand
    if stated != run.measurand:
        raise InputError(
            f"{probe} is a {stated} sensor in the setup and stands in a run of {run.measurand}",
            do="correct its tag, or measurand in the setup, or the unit in the heading of the reference",
            file=run.file,
        )
    return calibrate_pressure(run, setup, probe) if run.measurand == "pressure" else calibrate(run, setup, probe)
