"""The altitude panel: elevation, QNH and outside air to the engine-off manifold pressure, boiling point, sealed gauge.

A box that changes only marks the answer as old. The button computes, and prints the inputs it used beside the result.
"""

from __future__ import annotations

import threading
from dataclasses import dataclass, field
from importlib import import_module
from typing import TYPE_CHECKING, Any

import numpy as np

from sensorcal.bench.station import boiling_point, reported_station_pressure
from sensorcal.calibration.atrest import expected_at_rest
from sensorcal.errors import SensorcalError
from sensorcal.measure.interval import coverage_factor
from sensorcal.physics.air import density_altitude_m
from sensorcal.physics.altimeter import station_pressure_pa
from sensorcal.physics.atmosphere import pressure_altitude_m
from sensorcal.units import from_si
from sensorcal.views.notebook import line_figure, show

if TYPE_CHECKING:
    from matplotlib.figure import Figure

_PICTURE_M = (0.0, 4000.0)
_OLD = "Inputs changed: press the button."


@dataclass(frozen=True, slots=True, kw_only=True)
class AltitudeAnswer:
    """What a stopped engine's sensors should show at one place and weather, with the inputs it was computed from.

    Parameters
    ----------
    elevation_m, qnh_pa, temperature_c : float
        As typed; QNH is that of the field itself.
    map_pa, u_map_pa : float
        Expected manifold pressure, which is the air's, Pa.
    boiling_c, u_boiling_c : float
        Boiling point of water, °C.
    sealed_pa, u_sealed_pa : float
        What a sealed gauge shows with its line open: its error against the air here, Pa.
    pressure_altitude_m, density_altitude_m : float
        The second for dry air at the outside air's temperature.
    """

    elevation_m: float
    qnh_pa: float
    temperature_c: float
    map_pa: float
    u_map_pa: float
    boiling_c: float
    u_boiling_c: float
    sealed_pa: float
    u_sealed_pa: float
    pressure_altitude_m: float
    density_altitude_m: float

    @property
    def text(self) -> str:
        """The inputs, and the answer to them, line by line."""
        k, air = coverage_factor(), self.temperature_c
        u_kpa, inches = k * self.u_map_pa / 1000, float(from_si(self.map_pa, "inHg"))
        return "\n".join(
            (
                f"for elevation {self.elevation_m:g} m, QNH {self.qnh_pa / 100:g} hPa, outside air {air:g} °C:",
                f"manifold pressure, engine off   {self.map_pa / 1000:.2f} kPa ± {u_kpa:.2f}  ({inches:.2f} inHg)",
                f"water boils at                  {self.boiling_c:.2f} °C ± {k * self.u_boiling_c:.2f}",
                f"sealed gauge, line open         {self.sealed_pa / 1000:+.1f} kPa ± {k * self.u_sealed_pa / 1000:.1f}",
                f"pressure altitude               {self.pressure_altitude_m:.0f} m",
                f"density altitude, dry air       {self.density_altitude_m:.0f} m",
            )
        )


def altitude_answer(*, elevation_m: float, qnh_pa: float, temperature_c: float) -> AltitudeAnswer:
    """Collect what a field's elevation and weather say of a stopped engine's sensors.

    Parameters
    ----------
    elevation_m : float
        Of the field, m.
    qnh_pa : float
        QNH of the same field, Pa.
    temperature_c : float
        Outside air, °C: it moves the density altitude, not the pressures.

    Returns
    -------
    AltitudeAnswer

    Raises
    ------
    InputError
        If an input cannot be; the message names it.

    References
    ----------
    As for the functions it calls: ISO 2533:1975, ICAO Doc 7488/3, IAPWS R7-97(2012).

    Examples
    --------
    >>> print(altitude_answer(elevation_m=640.0, qnh_pa=100_900.0, temperature_c=20.0).text.splitlines()[1])
    manifold pressure, engine off   93.47 kPa ± 0.15  (27.60 inHg)
    """
    here = reported_station_pressure(elevation_m=elevation_m, qnh_pa=qnh_pa, temperature_c=temperature_c)
    steam = boiling_point(here)
    rest = {one.kind: one for one in expected_at_rest(here)}
    return AltitudeAnswer(
        elevation_m=elevation_m,
        qnh_pa=qnh_pa,
        temperature_c=temperature_c,
        map_pa=rest["absolute"].expected_pa,
        u_map_pa=rest["absolute"].u_expected_pa,
        boiling_c=steam.temperature_c,
        u_boiling_c=steam.u_temperature_c,
        sealed_pa=rest["sealed"].expected_pa,
        u_sealed_pa=rest["sealed"].u_expected_pa,
        pressure_altitude_m=float(pressure_altitude_m(here.pressure_pa)),
        density_altitude_m=float(density_altitude_m(here.pressure_pa, temperature_c)),
    )


def altitude_figure(answer: AltitudeAnswer) -> Figure:
    """Draw the engine-off manifold pressure against elevation at this QNH; the second scale is the sealed gauge's."""
    low, high = _PICTURE_M
    at = np.linspace(min(low, answer.elevation_m), max(high, answer.elevation_m), 81)
    air = np.asarray(station_pressure_pa(answer.qnh_pa, at)) / 1000.0
    figure = line_figure(
        at,
        {"": air},
        title=f"Engine off, QNH {answer.qnh_pa / 100:g} hPa",
        x_label="elevation, m",
        y_label="manifold pressure, kPa",
        mark=(
            answer.elevation_m,
            answer.map_pa / 1000.0,
            f"{answer.map_pa / 1000:.1f} kPa, water boils at {answer.boiling_c:.1f} °C",
        ),
    )
    axes = figure.axes[0]
    shift = (answer.map_pa - answer.sealed_pa) / 1000.0

    def to_sealed(kpa: Any) -> Any:  # noqa: ANN401 - whatever matplotlib hands over
        return kpa - shift

    def from_sealed(kpa: Any) -> Any:  # noqa: ANN401
        return kpa + shift

    second = axes.secondary_yaxis("right", functions=(to_sealed, from_sealed))
    second.set_ylabel("sealed gauge, line open, kPa", fontsize=axes.yaxis.label.get_fontsize())
    second.tick_params(labelsize=axes.get_yticklabels()[0].get_fontsize())
    return figure


@dataclass(slots=True, kw_only=True, eq=False)
class AltitudePanel:
    """Three boxes, a button and a picture; `answer` is the last one computed.

    Examples
    --------
    >>> panel = altitude_panel(elevation_m=640.0, qnh_hpa=1009.0, temperature_c=20.0)
    >>> panel.button.click()
    >>> round(panel.answer.map_pa)
    93470
    """

    elevation_m: Any
    qnh_hpa: Any
    temperature_c: Any
    button: Any
    said: Any
    picture: Any
    box: Any
    answer: AltitudeAnswer | None = None
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def mark_old(self, _: object = None) -> None:
        """Say that the answer is no longer that of the boxes; nothing is computed."""
        self.said.value = f"<pre>{_OLD}</pre>"

    def compute(self, _: object = None) -> None:
        """Compute for what stands in the boxes now; a second press while it computes does nothing."""
        if not self._lock.acquire(blocking=False):
            return
        try:
            inputs = {
                "elevation_m": float(self.elevation_m.value),
                "qnh_pa": 100.0 * float(self.qnh_hpa.value),
                "temperature_c": float(self.temperature_c.value),
            }
            try:
                answer = altitude_answer(**inputs)
            except SensorcalError as error:
                self.answer = None
                self.picture.value = b""
                self.said.value = f"<pre>{_escaped(str(error))}</pre>"
                return
            self.picture.value = show(altitude_figure(answer)).png
            self.said.value = f"<pre>{_escaped(answer.text)}</pre>"
            self.answer = answer
        finally:
            self._lock.release()


def altitude_panel(*, elevation_m: float, qnh_hpa: float, temperature_c: float) -> AltitudePanel:
    """Make the altitude panel; show its `box` in a notebook.

    Parameters
    ----------
    elevation_m, qnh_hpa, temperature_c : float
        What stands in the boxes at first.

    Returns
    -------
    AltitudePanel
        Nothing is computed until the button is pressed.

    References
    ----------
    As for `altitude_answer`.

    Examples
    --------
    >>> altitude_panel(elevation_m=640.0, qnh_hpa=1009.0, temperature_c=20.0).button.description
    'Compute'
    """
    widgets = import_module("ipywidgets")
    wide = {"description_width": "9em"}
    boxes = [
        widgets.FloatText(value=value, description=words, style=wide)
        for value, words in (
            (elevation_m, "elevation, m"),
            (qnh_hpa, "QNH, hPa"),
            (temperature_c, "outside air, °C"),
        )
    ]
    button = widgets.Button(description="Compute", tooltip="compute for the numbers in the boxes")
    said, picture = widgets.HTML(value=f"<pre>{_OLD}</pre>"), widgets.Image(format="png", width=600)
    panel = AltitudePanel(
        elevation_m=boxes[0],
        qnh_hpa=boxes[1],
        temperature_c=boxes[2],
        button=button,
        said=said,
        picture=picture,
        box=widgets.VBox([*boxes, button, said, picture]),
    )
    for box in boxes:
        box.observe(panel.mark_old, names="value")
    button.on_click(panel.compute)
    return panel


def _escaped(text: str) -> str:
    from html import escape

    return escape(text, quote=False)
