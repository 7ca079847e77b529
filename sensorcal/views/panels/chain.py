"""The chain panel: sliders for wire, contacts, ground and pull-up, with the error at the redline beside them.

The line of text follows the sliders: it is one number, worked out in about a millisecond, with the inputs it was worked
out from. The budget and its picture are work: the button does that, and a moved slider only marks them as old.
"""

from __future__ import annotations

import threading
from dataclasses import dataclass, field, replace
from html import escape
from importlib import import_module
from typing import Any

import numpy as np

from sensorcal.errors import SensorcalError
from sensorcal.installed.budget import ChainPoint, budget
from sensorcal.installed.chain import Chain, shown
from sensorcal.installed.chainparts import Ground, wire_ohm
from sensorcal.views.budgetview import budget_sentence, budget_text, tornado_figure
from sensorcal.views.notebook import show

_OLD = "Sliders moved: press the button for the parts."
GAUGES = (16, 18, 20, 22, 24)


@dataclass(frozen=True, slots=True, kw_only=True)
class ChainInputs:
    """What stands on the sliders.

    Parameters
    ----------
    length_m : float
        One way.
    gauge : int
        American Wire Gauge of tin-plated aircraft wire.
    contact_ohm : float
    ground_v : float
        Lift of the engine's metal above the monitor's ground.
    pull_ohm : float
        True pull-up of the input.
    case : bool
        True for a probe grounded on the engine, False for an own return wire.
    """

    length_m: float
    gauge: int
    contact_ohm: float
    ground_v: float
    pull_ohm: float
    case: bool

    @property
    def text(self) -> str:
        """The inputs in one line."""
        back = "case ground" if self.case else "own return wire"
        return (
            f"{self.length_m:g} m of {self.gauge} AWG, contacts {self.contact_ohm:g} ohm, {back}, engine ground "
            f"{1000 * self.ground_v:+.0f} mV, pull-up {self.pull_ohm:g} ohm"
        )


def chain_of(base: Chain, inputs: ChainInputs) -> Chain:
    """Give the channel with the sliders' wire, contacts, ground and pull-up, and all else as it was.

    Parameters
    ----------
    base : Chain
        Of a thermistor.
    inputs : ChainInputs

    Raises
    ------
    InputError
        A value that no wire or resistor has.
    """
    ohm, u_ohm = wire_ohm(inputs.gauge, inputs.length_m, wires=1 if inputs.case else 2)
    return replace(
        base,
        wiring=replace(base.wiring, contact_ohm=inputs.contact_ohm, wire_20c_ohm=ohm, u_wire_20c_ohm=u_ohm),
        ground=Ground(
            returns="case" if inputs.case else "own wire",
            constant_v=inputs.ground_v,
            u_constant_v=base.ground.u_constant_v,
        ),
        divider=replace(base.divider, pull_ohm=inputs.pull_ohm),
    )


def error_at(base: Chain, inputs: ChainInputs, limit_c: float) -> float:
    """Shown minus true at the limit, degC, the steps of converter and display left out.

    Examples
    --------
    >>> from sensorcal.installed.chainparts import Thermistor
    >>> from sensorcal.installed.conversion import CurveConversion
    >>> from sensorcal.physics.curves import SteinhartHart
    >>> probe = SteinhartHart.through_points([0.0, 50.0, 97.7], [5230.0, 721.0, 172.1])
    >>> base = Chain(sensor=Thermistor(curve=probe), conversion=CurveConversion(curve=probe, pull_ohm=1000.0))
    >>> lifted = ChainInputs(length_m=0.0, gauge=20, contact_ohm=0.0, ground_v=0.020, pull_ohm=1000.0, case=True)
    >>> round(error_at(base, lifted, 120.0), 2)
    -1.84
    """
    chain = chain_of(base, inputs)
    plain = replace(chain, converter=replace(chain.converter, bits=None), display=replace(chain.display, step=0.0))
    return float(shown(plain, limit_c)) - limit_c


def live_text(base: Chain, inputs: ChainInputs, limit_c: float) -> str:
    """The inputs, and the error at the limit that they lead to."""
    error = error_at(base, inputs, limit_c)
    if not np.isfinite(error):
        said = f"at the {limit_c:g} °C redline the panel shows nothing"
    else:
        side = "too cold when hot, the dangerous direction" if error < -0.05 else "hot" if error > 0.05 else "true"
        said = f"at the {limit_c:g} °C redline the panel reads {error:+.2f} °C: {side}"
    return f"{inputs.text}:\n{said}"


@dataclass(slots=True, kw_only=True, eq=False)
class ChainPanel:
    """Sliders, a line that follows them, a button and a picture; `point` is the last budget computed.

    Examples
    --------
    >>> from sensorcal.installed.chainparts import Thermistor
    >>> from sensorcal.installed.conversion import CurveConversion
    >>> from sensorcal.physics.curves import SteinhartHart
    >>> probe = SteinhartHart.through_points([0.0, 50.0, 97.7], [5230.0, 721.0, 172.1])
    >>> base = Chain(sensor=Thermistor(curve=probe), conversion=CurveConversion(curve=probe, pull_ohm=1000.0))
    >>> panel = chain_panel(base, limit_c=120.0)
    >>> panel.ground_mv.value = 20
    >>> "reads -2.0" in panel.live.value
    True
    """

    base: Chain
    limit_c: float
    length_m: Any
    gauge: Any
    contact_ohm: Any
    ground_mv: Any
    pull_ohm: Any
    returns: Any
    live: Any
    button: Any
    said: Any
    picture: Any
    box: Any
    point: ChainPoint | None = None
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def inputs(self) -> ChainInputs:
        """Give what stands on the sliders now."""
        return ChainInputs(
            length_m=float(self.length_m.value),
            gauge=int(self.gauge.value),
            contact_ohm=float(self.contact_ohm.value),
            ground_v=float(self.ground_mv.value) / 1000.0,
            pull_ohm=float(self.pull_ohm.value),
            case=self.returns.value == "case",
        )

    def follow(self, _: object = None) -> None:
        """Write the error at the redline for the sliders as they stand; the parts are marked as old."""
        try:
            text = live_text(self.base, self.inputs(), self.limit_c)
        except SensorcalError as error:
            text = str(error)
        self.live.value = f"<pre>{escape(text, quote=False)}</pre>"
        self.said.value = f"<pre>{_OLD}</pre>"

    def compute(self, _: object = None) -> None:
        """Work out the parts for the sliders as they stand; a second press while it computes does nothing."""
        if not self._lock.acquire(blocking=False):
            return
        try:
            inputs = self.inputs()
            try:
                point = budget(chain_of(self.base, inputs), self.limit_c).points[0]
            except SensorcalError as error:
                self.point, self.picture.value = None, b""
                self.said.value = f"<pre>{escape(str(error), quote=False)}</pre>"
                return
            self.picture.value = show(tornado_figure(point)).png
            lines = (f"for {inputs.text}:", *_wrapped(budget_sentence(point, redline=True)), "", *budget_text(point))
            self.said.value = f"<pre>{escape(chr(10).join(lines), quote=False)}</pre>"
            self.point = point
        finally:
            self._lock.release()


def chain_panel(
    base: Chain,
    *,
    limit_c: float,
    length_m: float = 5.0,
    gauge: int = 18,
    contact_ohm: float = 0.3,
    ground_mv: float = 0.0,
    returns: str = "case",
) -> ChainPanel:
    """Make the chain panel; show its `box` in a notebook.

    Parameters
    ----------
    base : Chain
        The channel; its wire, contacts, ground and pull-up are replaced by the sliders'.
    limit_c : float
        The redline, degC.
    length_m, gauge, contact_ohm, ground_mv : float
        Where the sliders stand at first; the pull-up begins at that of the channel.
    returns : {'case', 'own wire'}

    Returns
    -------
    ChainPanel
    """
    widgets = import_module("ipywidgets")
    wide: dict[str, Any] = {"style": {"description_width": "11em"}, "layout": {"width": "36em"}}
    pull = base.divider.pull_ohm

    def slider(low: float, high: float, step: float, value: float, words: str) -> Any:  # noqa: ANN401 - a widget
        digits = ".0f" if step >= 1.0 else ".1f"
        return widgets.FloatSlider(
            value=value, min=low, max=high, step=step, description=words, readout_format=digits, **wide
        )

    panel = ChainPanel(
        base=base,
        limit_c=limit_c,
        length_m=slider(0.0, 10.0, 0.5, length_m, "wire one way, m"),
        gauge=widgets.Dropdown(options=GAUGES, value=gauge, description="gauge, AWG", **wide),
        contact_ohm=slider(0.0, 10.0, 0.1, contact_ohm, "contacts, ohm"),
        ground_mv=slider(-150.0, 150.0, 1.0, ground_mv, "engine ground, mV"),
        pull_ohm=slider(0.9 * pull, 1.1 * pull, 0.001 * pull, pull, "true pull-up, ohm"),
        returns=widgets.Dropdown(options=("case", "own wire"), value=returns, description="return", **wide),
        live=widgets.HTML(),
        button=widgets.Button(description="Show the parts", tooltip="budget and picture for the sliders as they stand"),
        said=widgets.HTML(value=f"<pre>{_OLD}</pre>"),
        picture=widgets.Image(format="png", width=600),
        box=None,
    )
    moved = (panel.length_m, panel.gauge, panel.contact_ohm, panel.ground_mv, panel.pull_ohm, panel.returns)
    panel.box = widgets.VBox([*moved, panel.live, panel.button, panel.said, panel.picture])
    for widget in moved:
        widget.observe(panel.follow, names="value")
    panel.button.on_click(panel.compute)
    panel.follow()
    return panel


def _wrapped(text: str) -> list[str]:
    from textwrap import wrap

    return wrap(text, 88)
