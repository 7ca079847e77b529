"""The elements of a chain by name: where each value stands, its unit, what it is ideally, and its words."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sensorcal.installed.chainparts import FloatArray, Thermistor, u_of
from sensorcal.measure.inputs import Shape

if TYPE_CHECKING:
    from sensorcal.installed.chain import Chain

_STEP_U = 1.0 / np.sqrt(12.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Element:
    """One element of a chain.

    Parameters
    ----------
    name : str
        Short fixed name.
    part, key : str
        Where it stands: `chain.part.key`; its standard uncertainty is `chain.part.u_key`. Empty for rounding.
    unit : str
        '' for the measurand's own unit.
    group : str
        Elements of one group act together, in plain words.
    thermistor, transducer : bool
        For which sensors it exists.
    """

    name: str
    part: str
    key: str
    unit: str
    group: str
    thermistor: bool = True
    transducer: bool = True


def _only_thermistor(name: str, part: str, key: str, unit: str, group: str) -> Element:
    return Element(name=name, part=part, key=key, unit=unit, group=group, transducer=False)


def _only_transducer(name: str, part: str, key: str, unit: str, group: str) -> Element:
    return Element(name=name, part=part, key=key, unit=unit, group=group, thermistor=False)


def _both(name: str, part: str, key: str, unit: str, group: str) -> Element:
    return Element(name=name, part=part, key=key, unit=unit, group=group)


ELEMENTS = (
    _both("sensor_error", "sensor", "error", "", "sensor"),
    _only_thermistor("heating_k_per_w", "sensor", "heating_k_per_w", "K/W", "self-heating"),
    _only_transducer("output_ohm", "sensor", "output_ohm", "ohm", "load on the output"),
    _only_transducer("current_a", "sensor", "current_a", "A", "supply wires"),
    _both("contact_ohm", "wiring", "contact_ohm", "ohm", "contacts"),
    _both("wire_20c_ohm", "wiring", "wire_20c_ohm", "ohm", "wire"),
    _both("wire_temperature_c", "wiring", "wire_temperature_c", "degC", "wire"),
    _both("leak_siemens", "wiring", "leak_siemens", "S", "insulation leak"),
    _only_transducer("feed_ohm", "wiring", "feed_ohm", "ohm", "supply wires"),
    _only_transducer("return_ohm", "wiring", "return_ohm", "ohm", "supply wires"),
    _both("ground_v", "ground", "constant_v", "V", "ground, constant"),
    _both("strap_ohm", "ground", "strap_ohm", "ohm", "ground, by current"),
    _both("ground_current_a", "ground", "current_a", "A", "ground, by current"),
    _both("supply_v", "divider", "supply_v", "V", "supply"),
    _both("pull_ohm", "divider", "pull_ohm", "ohm", "pull resistor"),
    _both("tempco_per_k", "divider", "tempco_per_k", "1/K", "pull resistor"),
    _both("monitor_temperature_c", "divider", "monitor_temperature_c", "degC", "pull resistor"),
    _both("input_siemens", "divider", "input_siemens", "S", "load of the input"),
    _both("reference_v", "converter", "reference_v", "V", "converter's reference"),
    _both("gain_ratio", "converter", "gain_ratio", "1", "converter's gain and offset"),
    _both("offset_v", "converter", "offset_v", "V", "converter's gain and offset"),
    _both("count_error", "", "", "count", "converter's steps"),
    _both("display_error", "", "", "", "display's steps"),
)
"""Every element of any chain; those of one chain come from `elements_of`."""


def elements_of(chain: Chain) -> tuple[Element, ...]:
    """List the elements that a chain has, in the order of the signal.

    Parameters
    ----------
    chain : Chain

    Returns
    -------
    tuple of Element
        Without those that its kind of sensor, pull resistor and converter leave out.
    """
    thermistor = isinstance(chain.sensor, Thermistor)
    absent: set[str] = set()
    if chain.divider.arrangement == "none":
        absent |= {"pull_ohm", "tempco_per_k", "monitor_temperature_c"}
    if chain.converter.ratiometric:
        absent.add("reference_v")
    if chain.converter.bits is None:
        absent.add("count_error")
    if not chain.display.step:
        absent.add("display_error")
    return tuple(e for e in ELEMENTS if (e.thermistor if thermistor else e.transducer) and e.name not in absent)


def value_of(chain: Chain, element: Element) -> float:
    """Value of an element as it stands in the chain; zero for rounding."""
    return float(getattr(getattr(chain, element.part), element.key)) if element.part else 0.0


def ideal_of(chain: Chain, element: Element) -> float:
    """Value at which an element does no harm: zero, or what the monitor takes it for."""
    if element.name == "supply_v":
        return chain.conversion.supply_v
    if element.name == "pull_ohm":
        assumed = chain.conversion.pull_ohm
        return chain.divider.pull_ohm if assumed is None else assumed
    if element.name == "reference_v":
        return chain.converter.nominal_reference_v
    return {"wire_temperature_c": 20.0, "monitor_temperature_c": 25.0}.get(element.name, 0.0)


def u_of_element(chain: Chain, element: Element, measurand: FloatArray) -> FloatArray:
    """Standard uncertainty of an element at values of the measurand, in the element's unit, same shape."""
    at = np.asarray(measurand, dtype=np.float64)
    if element.name == "count_error":
        return np.full(at.shape, _STEP_U)
    if element.name == "display_error":
        return np.full(at.shape, chain.display_step * _STEP_U)
    if element.name == "sensor_error":
        return u_of(chain.sensor.u_error, at)
    return np.full(at.shape, float(getattr(getattr(chain, element.part), f"u_{element.key}")))


def shape_of(chain: Chain, element: Element) -> Shape:
    """Distribution of an element's error: rectangular for rounding, else as the chain states, else normal."""
    if not element.part:
        return "rectangular"
    return chain.shapes.get(element.name, "normal")


def values_of(chain: Chain) -> dict[str, float]:
    """Give every value of the chain by the element's name, also of those that play no part in it."""
    values = {}
    for element in ELEMENTS:
        sensor = chain.sensor
        if element.part == "sensor" and not hasattr(sensor, element.key):
            values[element.name] = 0.0
        else:
            values[element.name] = value_of(chain, element)
    return values
