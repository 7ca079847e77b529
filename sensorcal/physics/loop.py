"""The wire loop from a sensor to a monitor's input: one node with everything that hangs on it, and its inverses.

Every law here is plain arithmetic on floats or complex numbers of any shape, so that a derivative can be taken by a
complex step, exact to rounding.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from sensorcal.errors import InputError

Numbers = Any
"""A float, a complex number or an array of either."""


def ground_lift_v(constant_v: Numbers, strap_ohm: Numbers, current_a: Numbers) -> Numbers:
    """Voltage of the engine's metal above the monitor's ground, V.

    Parameters
    ----------
    constant_v : float or array
        Part that does not follow the current.
    strap_ohm : float or array
        Resistance of the path that the engine's current shares with the monitor's ground.
    current_a : float or array
        Current from the engine into the airframe: positive while the starter's current returns from the engine,
        negative while the alternator on the engine charges.

    References
    ----------
    Ohm's law. The charging alternator feeds the battery through its own wire, and its current comes back to the
    engine through the strap: the engine then stands below the airframe.

    Examples
    --------
    >>> strap_ohm = 0.180 / 200.0
    >>> round(1000 * strap_ohm, 2), round(1000 * ground_lift_v(0.0, strap_ohm, -30.0), 1)
    (0.9, -27.0)
    """
    return constant_v + strap_ohm * current_a


def input_voltage_v(
    source_v: Numbers,
    series_ohm: Numbers,
    *,
    pull_v: Numbers = 0.0,
    pull_siemens: Numbers = 0.0,
    leak_v: Numbers = 0.0,
    leak_siemens: Numbers = 0.0,
    input_siemens: Numbers = 0.0,
) -> Numbers:
    """Voltage at a monitor's input, V.

    The node is fed through `series_ohm` from `source_v`: for a thermistor its far end (the lifted ground) through
    its own ohms and the wire; for a transducer its output voltage through its output resistance and the wire. On
    the node hang the pull-up or pull-down resistor, an insulation leak, and the input's own resistance to ground.

    Parameters
    ----------
    source_v, series_ohm : float or array
    pull_v, pull_siemens : float or array
        Where the pull resistor ends (the supply, or zero) and its conductance, 1/ohm.
    leak_v, leak_siemens : float or array
        Where the leak ends and its conductance.
    input_siemens : float or array
        Conductance of the input to the monitor's ground.

    References
    ----------
    Kirchhoff's current law at the input.

    Examples
    --------
    A probe of 98.2 ohm whose ground is lifted by 20 mV, on 1 kohm to 5 V, and on a quiet ground:

    >>> lifted = input_voltage_v(0.020, 98.2, pull_v=5.0, pull_siemens=1e-3)
    >>> round(lifted, 4), round(input_voltage_v(0.0, 98.2, pull_v=5.0, pull_siemens=1e-3), 4)
    (0.4653, 0.4471)
    """
    fed = source_v + series_ohm * (pull_v * pull_siemens + leak_v * leak_siemens)
    return fed / (1.0 + series_ohm * (pull_siemens + leak_siemens + input_siemens))


def series_from_voltage_ohm(
    voltage_v: Numbers,
    source_v: Numbers,
    *,
    pull_v: Numbers,
    pull_siemens: Numbers,
    leak_v: Numbers = 0.0,
    leak_siemens: Numbers = 0.0,
    input_siemens: Numbers = 0.0,
) -> NDArray[np.float64]:
    """Resistance between source and input that gives a voltage at the input, ohm: an inverse of `input_voltage_v`.

    Returns
    -------
    ndarray
        Negative or infinite where no resistance gives that voltage: a short, or an open circuit.

    Examples
    --------
    >>> float(series_from_voltage_ohm(2.5, 0.0, pull_v=5.0, pull_siemens=1e-3))
    1000.0
    """
    drawn = voltage_v * (pull_siemens + leak_siemens + input_siemens) - pull_v * pull_siemens - leak_v * leak_siemens
    with np.errstate(divide="ignore"):
        return np.asarray((source_v - np.asarray(voltage_v)) / drawn, dtype=np.float64)


def source_from_voltage_v(
    voltage_v: Numbers,
    series_ohm: Numbers,
    *,
    pull_v: Numbers = 0.0,
    pull_siemens: Numbers = 0.0,
    leak_v: Numbers = 0.0,
    leak_siemens: Numbers = 0.0,
    input_siemens: Numbers = 0.0,
) -> Numbers:
    """Voltage of the source behind a voltage at the input, V: the other inverse of `input_voltage_v`.

    Examples
    --------
    >>> v = input_voltage_v(2.1, 150.0, pull_siemens=1e-5)
    >>> round(source_from_voltage_v(v, 150.0, pull_siemens=1e-5), 12)
    2.1
    """
    loaded = voltage_v * (1.0 + series_ohm * (pull_siemens + leak_siemens + input_siemens))
    return loaded - series_ohm * (pull_v * pull_siemens + leak_v * leak_siemens)


def transducer_output_v(ratio: Numbers, feed_v: Numbers, ground_v: Numbers = 0.0) -> Numbers:
    """Output of a ratiometric transducer whose ground is lifted, against the monitor's ground, V.

    Parameters
    ----------
    ratio : float or array
        Output over supply, both against the transducer's own ground.
    feed_v, ground_v : float or array
        Voltages at its supply and ground pins, against the monitor's ground.

    References
    ----------
    Kirchhoff's voltage law: d + r (supply - d), so a lift d adds d (1 - r).

    Examples
    --------
    >>> round(transducer_output_v(0.42, 5.0, 0.020) - transducer_output_v(0.42, 5.0), 4)
    0.0116
    """
    return ground_v + ratio * (feed_v - ground_v)


def dissipated_w(source_v: Numbers, input_v: Numbers, sensor_ohm: Numbers, series_ohm: Numbers) -> Numbers:
    """Power that the monitor's current turns to heat in a resistive sensor, W.

    Parameters
    ----------
    source_v, input_v : float or array
        Voltages at the two ends of sensor and wire in series.
    sensor_ohm, series_ohm : float or array
        The sensor alone, and sensor and wire together.

    Examples
    --------
    >>> v = input_voltage_v(0.0, 1800.0, pull_v=5.0, pull_siemens=1e-3)
    >>> round(1000 * dissipated_w(0.0, v, 1800.0, 1800.0), 2)
    5.74
    """
    current = (input_v - source_v) / series_ohm
    return current * current * sensor_ohm


def conductance_siemens(resistance_ohm: float) -> float:
    """Conductance of a resistance, 1/ohm; zero for an infinite one.

    Raises
    ------
    InputError
        If the resistance is not above zero.

    Examples
    --------
    >>> conductance_siemens(100_000.0), conductance_siemens(float("inf"))
    (1e-05, 0.0)
    """
    if not resistance_ohm > 0.0:
        raise InputError(f"a resistance of {resistance_ohm:g} ohm has no conductance", do="give ohms above zero")
    return 1.0 / resistance_ohm
