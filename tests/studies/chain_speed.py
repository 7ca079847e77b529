"""Times of the chain over a long log and of a Monte Carlo budget: `python -m tests.studies.chain_speed`."""

from __future__ import annotations

import time

import numpy as np

from sensorcal.calibration.thermistor import fit_thermistor
from sensorcal.installed.budgetmc import drawn_budget
from sensorcal.installed.chain import shown
from sensorcal.installed.chainparts import Converter, Display, Divider, Ground, Thermistor, Wiring
from sensorcal.installed.conversion import TableConversion
from sensorcal.installed.fromsetup import installed_channel
from sensorcal.installed.inverse import true_interval
from sensorcal.measure.terms import term
from sensorcal.monitorsetup import MonitorSetup
from sensorcal.setup import Setup
from sensorcal.wiring import ChannelWiring
from tests.installed.chains import J_SH, pressure_chain, thermistor_chain

ROWS = np.array([-45.0, -20.0, 0.0, 20.0, 40.0, 60.0, 75.0, 90.0, 100.0, 110.0, 120.0, 130.0, 150.0])


def chains():
    """A whole chain with every kind of element, by the monitor's conversion, and with self-heating."""
    parts = {
        "sensor": Thermistor(curve=J_SH, low=-45.0, high=180.0, u_error=0.2),
        "wiring": Wiring(contact_ohm=0.3, wire_20c_ohm=0.21, u_contact_ohm=0.1, u_wire_20c_ohm=0.01, leak_siemens=1e-6),
        "ground": Ground(returns="case", constant_v=0.01, u_constant_v=0.005),
        "divider": Divider(pull_ohm=1003.0, u_pull_ohm=3.0, u_supply_v=0.02, monitor_temperature_c=40.0,
                           u_tempco_per_k=1e-4),
        "converter": Converter(bits=10, u_offset_v=0.002, u_gain_ratio=0.001),
        "display": Display(unit="degC", step=1.0),
    }  # fmt: skip
    table = TableConversion(signal=J_SH.resistance_ohm(ROWS), reading=ROWS, pull_ohm=1000.0)
    setup = Setup(
        channels={"P1": ChannelWiring(name="P1", gauge=18, contact_ohm=0.3, returns="case", ground_v=0.02)},
        monitor=MonitorSetup(pull_up_ohm=1000.0, supply_v=5.0, bits=10),
    )
    fitted = fit_thermistor(
        [0.0, 50.0, 97.7], [5230.0, 721.0, 172.1], (term("bath", 0.1, 3, common=False),), sensor="P1"
    )
    warm = Thermistor(curve=J_SH, low=-45.0, high=180.0, u_error=0.2, heating_k_per_w=200.0, u_heating_k_per_w=40.0)
    return {
        "curve": thermistor_chain(**parts),
        "table": thermistor_chain(**parts, conversion=table),
        "table, self-heating": thermistor_chain(**{**parts, "sensor": warm}, conversion=table),
        "from the setup": installed_channel(setup, "P1", fitted).chain,
        "pressure": pressure_chain(
            **{k: parts[k] for k in ("wiring", "ground", "converter")}, display=Display(unit="kPa", step=1.0)
        ),
    }


def times(chain, *, samples=1_000_000, draws=100_000, temperatures=50, rounds=3):
    """Best of a few rounds, s: forward, backward, Monte Carlo; and whether the interval held every truth.

    Seconds of the processor, which are those of the clock on a machine that does nothing else.
    """
    sensor = chain.sensor
    low, high = (0.0, 1e6) if sensor.unit == "Pa" else (-40.0, 145.0)
    at = np.random.default_rng(5).uniform(low, high, samples)
    best = [np.inf] * 3
    held = True
    for _ in range(rounds):
        start = time.process_time()
        reading = shown(chain, at)
        forward = time.process_time()
        found = true_interval(chain, reading)
        backward = time.process_time()
        drawn_budget(chain, np.linspace(low + 0.01 * (high - low), high, temperatures), draws=draws)
        done = time.process_time()
        best = [min(b, t) for b, t in zip(best, (forward - start, backward - forward, done - backward), strict=True)]
        held &= bool(((found.low <= at) & (at <= found.high)).all())
    return (*best, held)


def main() -> None:
    """Print the times."""
    print("chain                 forward s  backward s  Monte Carlo s   (1e6 samples; 1e5 draws x 50)")
    for name, chain in chains().items():
        forward, backward, drawn, held = times(chain)
        print(f"{name:20} {forward:10.3f} {backward:11.3f} {drawn:14.3f}   {'' if held else 'TRUTH MISSED'}")


if __name__ == "__main__":
    main()
