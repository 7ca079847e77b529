"""A ratiometric pressure transducer as its data sheet describes it, and how it stood on the bench."""

from __future__ import annotations

import math
from dataclasses import dataclass

from sensorcal.declared import declared, not_negative, one_of
from sensorcal.errors import InputError

KINDS = ("gauge", "sealed", "absolute")


@dataclass(frozen=True, slots=True, kw_only=True)
class Transducer:
    """What is known of a pressure transducer before it is read, under ``[transducers.TAG]`` in the setup.

    The pressures at the two ends and the ratios V_out / V_supply that stand for them are the data sheet's line. What
    a bench run does not measure (hysteresis with rising readings only, the effect of a hot body) stands in the budget
    with the values below.

    Examples
    --------
    >>> oil = Transducer(name="O1", high_pa=1_000_000.0, supply_v=5.0)
    >>> oil.span_pa, oil.supply_stability_v
    (1000000.0, 0.01)
    """

    name: str = "O1"
    kind: str = declared("gauge", "'gauge' (vented), 'sealed' or 'absolute'", why="most oil and fuel transducers")
    low_pa: float = declared(0.0, "pressure at the lower end of the output", "kPa", why="nothing else stated")
    high_pa: float = declared(1_000_000.0, "pressure at the upper end of the output", "kPa", why="nothing else stated")
    output_low_ratio: float = declared(
        0.1, "output over supply at the lower end", "%", why="0.5 V on 5 V, common practice, no source"
    )
    output_high_ratio: float = declared(
        0.9, "output over supply at the upper end", "%", why="4.5 V on 5 V, common practice, no source"
    )
    line_ratio: float | None = declared(
        None, "half-width within which the sensor keeps to that line, of the span, where no run was made", "%"
    )
    supply_v: float | None = declared(None, "supply at the sensor's plug, where the run has no supply column", "V")
    supply_stability_v: float = declared(
        0.01, "half-width within which a supply read once stays", "V", difference=True,
        why="a regulated 5 V under the same load, estimate",
    )  # fmt: skip
    meter_step_v: float = declared(
        0.001, "last digit of the voltmeter", "V", difference=True, why="a hand meter on its 6 V range"
    )
    u_meter_ratio: float = declared(
        0.0003, "standard uncertainty of output over supply read with one meter, relative", "%",
        why="same meter and range, so that its scale cancels in the ratio; estimate",
    )  # fmt: skip
    counts_full: int = declared(0, "count that stands for output = supply, such as 1023, where the run holds counts")
    reference_reads: str = declared(
        "gauge", "what the gauge beside it shows: 'gauge' or 'absolute' pressure", why="most test gauges"
    )
    u_gauge_reading_pa: float | None = declared(
        None, "standard uncertainty of reading the gauge's pointer", "kPa", difference=True,
        why="half-width three tenths of the gauge's limits, estimate",
    )  # fmt: skip
    hysteresis_pa: float | None = declared(
        None, "data sheet's hysteresis, full width, where rising and falling were not both read", "kPa",
        difference=True, why="0.2 % of the span, common practice, no source",
    )  # fmt: skip
    body_effect_pa: float | None = declared(
        None, "half-width of the effect of a hot body, where it was not measured", "kPa", difference=True,
        why="2 % of the span, common practice, no source",
    )  # fmt: skip
    head_height_m: float | None = declared(
        None, "height of the gauge above the sensor (negative below), the hose between full of liquid", "m"
    )
    u_head_height_m: float = declared(
        0.01, "standard uncertainty of that height", "m", difference=True, why="a tape rule, estimate"
    )
    head_density_kg_m3: float | None = declared(None, "density of the liquid in the hose, kg/m3: oil 870, water 997")
    u_head_density_kg_m3: float = declared(12.0, "standard uncertainty of that density, kg/m3", why="± 20, estimate")
    body_low_c: float = declared(20.0, "coldest body in use", "degC", why="a cold engine's start is brief")
    body_high_c: float = declared(90.0, "hottest body in use", "degC", why="on a warm engine block, estimate")

    def __post_init__(self) -> None:
        """Refuse a line that is none, and a supply of zero."""
        one_of(self, "kind", KINDS)
        one_of(self, "reference_reads", ("gauge", "absolute"))
        if not self.high_pa > self.low_pa:
            raise InputError(
                f"transducer {self.name} ends at {self.high_pa:g} Pa, not above its lower end {self.low_pa:g} Pa",
                do="correct low and high",
            )
        if not 0.0 <= self.output_low_ratio < self.output_high_ratio <= 1.0:
            raise InputError(
                f"transducer {self.name} has ratios {self.output_low_ratio:g} and {self.output_high_ratio:g}",
                do="output over supply lies between 0 and 1 and rises: correct output_low and output_high",
            )
        if self.kind == "absolute" and self.low_pa < 0.0:
            raise InputError(
                f"transducer {self.name} has a negative absolute pressure, low = {self.low_pa:g} Pa",
                do="correct low, or write kind = 'gauge'",
            )
        if self.supply_v is not None and not self.supply_v > 0.0:
            raise InputError(
                f"transducer {self.name} has supply = {self.supply_v:g} V",
                do="measure the supply at the sensor's plug; nothing can be said without it",
            )
        if self.body_low_c >= self.body_high_c:
            raise InputError(f"transducer {self.name} has body_low not below body_high", do="correct the two")
        not_negative(
            self, "line_ratio", "supply_stability_v", "meter_step_v", "u_meter_ratio", "counts_full",
            "u_gauge_reading_pa", "hysteresis_pa", "body_effect_pa", "u_head_height_m", "head_density_kg_m3",
            "u_head_density_kg_m3",
        )  # fmt: skip

    def stand_in(self, name: str) -> str | None:
        """Say what stands in for a value that was not stated."""
        if name == "hysteresis_pa":
            return f"{0.002 * self.span_pa / 1000:.3g} kPa"
        if name == "body_effect_pa":
            return f"{0.02 * self.span_pa / 1000:.3g} kPa"
        if name == "u_gauge_reading_pa":
            return "0.17 of the gauge's limits"
        if name.startswith("u_head") and self.head_height_m is None:
            return ""
        return None

    @property
    def span_pa(self) -> float:
        """Pressure span of the data sheet's line."""
        return self.high_pa - self.low_pa

    @property
    def assumed_hysteresis_pa(self) -> float:
        """Full width of the hysteresis where the run does not show it."""
        return 0.002 * self.span_pa if self.hysteresis_pa is None else self.hysteresis_pa

    @property
    def assumed_body_effect_pa(self) -> float:
        """Half-width of the hot body's effect where the run does not show it."""
        return 0.02 * self.span_pa if self.body_effect_pa is None else self.body_effect_pa

    def gauge_reading_u_pa(self, gauge_u_pa: float) -> float:
        """Standard uncertainty of reading a gauge whose own standard uncertainty is given."""
        # Limits L have u = L / root 3; a reading within 0.3 L has 0.3 L / root 3.
        return 0.3 * gauge_u_pa if self.u_gauge_reading_pa is None else self.u_gauge_reading_pa

    @property
    def supply_u_ratio(self) -> float:
        """Relative standard uncertainty of a supply read once."""
        return self.supply_stability_v / math.sqrt(3.0) / self.supply_v if self.supply_v else 0.0
