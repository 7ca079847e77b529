"""An invented probe, fitted and described, for the tests of records and pages."""

from __future__ import annotations

from sensorcal.book.facts import Correction, Facts, Remark, Source, assumed_lines, setup_data, traceability
from sensorcal.calibration.calibration import Calibration
from sensorcal.calibration.thermistor import TYPICAL, fit_thermistor
from sensorcal.measure.terms import term
from sensorcal.setup import Field, Meter, MeterCheck, Probe, Reference, Setup

TEMPERATURES_C = (0.0, 25.1, 50.0, 62.3, 74.8, 97.73, 0.0)
OHMS = (5249.0, 1807.0, 723.9, 482.9, 328.9, 172.9, 5250.0)
LABELS = ("ice", "bath-25", "bath-50", "bath-62", "bath-75", "steam", "ice-again")


def calibration(*, prior: bool = True, model: str = "steinhart-hart", sensor: str = "P1") -> Calibration:
    """Fit the invented evening of probe P1."""
    n = len(OHMS)
    bath = [0.0 if label.startswith(("ice", "steam")) else 0.1 for label in LABELS]
    terms = (
        term("own place and film", [0.05, 0.08, 0.08, 0.08, 0.08, 0.08, 0.05], n, common=False),
        term("reference:T1", bath, n, common=True),
        term("meter:M1 gain", 0.001, n, common=True, axis="signal"),
        term("stem", [0.0008 * (t - 20.0) for t in TEMPERATURES_C], n, common=True),
        term("last digit", 0.0004, n, common=False, axis="signal"),
    )
    return fit_thermistor(
        TEMPERATURES_C,
        OHMS,
        terms,
        sensor=sensor,
        model=model,
        prior=TYPICAL if prior else None,
        labels=LABELS,
        rows=tuple((3 * i + 2, 3 * i + 3) for i in range(n)),
    )


def setup() -> Setup:
    """Build the invented bench."""
    return Setup(
        field=Field(name="Hazelbrook", elevation_m=640.0, qnh_pa=100_900.0, station_elevation_m=610.0),
        meter=Meter(leads_shorted_ohm=0.3, checks=(MeterCheck(true_ohm=470.0, read_ohm=475.0),)),
        references={"T1": Reference(identifier="T1", limits=0.2)},
        probes={"P1": Probe(role="coolant", redline=120.0)},
        note="invented scenario",
    )


def facts() -> Facts:
    """Describe the invented evening."""
    bench = setup()
    return Facts(
        identifier="P1-2026-05-02",
        bench_date="2026-05-02",
        written="2026-05-03",
        due="2027-05-02",
        person="the builder",
        role="coolant",
        serial="batch 7, no. 1",
        channel="monitor input 1",
        condition="new sensor",
        run=Source(file="2026-05-02-water-bath.csv", sha256="ab" * 32),
        setup_file=Source(file="setup.toml", sha256="cd" * 32),
        setup=setup_data(bench),
        assumed=assumed_lines(bench),
        corrections=(
            Correction(what="meter reads 1.0 % high, found on the known resistor", size="-1.0 %", size_c=0.41),
            Correction(what="leads shorted read 0.3 ohm", size="-0.3 ohm", size_c=0.13),
        ),
        remarks=(
            Remark(
                kind="question",
                what="steam-100",
                text="the steam row says 100 °C, but water boils at 97.73 °C here",
                size_c=2.27,
                file_rows=(17,),
                suggestion="write 'steam' and let the weather report decide",
                answer="taken as 'steam'",
            ),
            Remark(
                kind="blunder",
                what="row-8",
                text="row 8 lies 7.3 °C from the curve through the others",
                size_c=7.3,
                file_rows=(8,),
                suggestion="perhaps 1837 ohm for 1387: two digits transposed",
                answer="kept out, because the repeat at 18:52 read 1837 ohm",
            ),
        ),
        undetectable=(
            "an error of the thermometer T1 that is the same at every bath point, up to 0.4 °C",
            "a wrong reading below 0.4 °C at the ends (ice, steam), below 0.5 °C between",
        ),
        traceability=traceability(bench, ["ice", "T1", "steam"]),
        statements=("Meets its sheet of ± 3 %: +0.4 % in ice, +0.5 % in steam.",),
        redline_c=120.0,
        scenario="invented scenario",
    )
