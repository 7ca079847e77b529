"""Settled points: the reference at the reading's moment, lag, stops, notes and shares."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sensorcal.bench.point import Point
from sensorcal.bench.run import Reading, Run
from sensorcal.bench.runfile import run_from_bytes
from sensorcal.bench.settle import settled_points
from sensorcal.errors import InputError
from sensorcal.setup import Field, Meter, MeterCheck, Probe, Reference, Setup

FIELD = Field(elevation_m=640.0, qnh_pa=100_900.0, station_elevation_m=610.0)
PLAIN = Setup(field=FIELD, references={"T1": Reference(identifier="T1", limits=0.5)})


def _points(text: str, setup: Setup = PLAIN, probe: str = "P1") -> tuple[Point, ...]:
    return settled_points(run_from_bytes(text.encode(), setup, file="run.csv"), setup, probe)


@pytest.mark.parametrize("label", ["point,", ""])
def test_reference_is_taken_at_the_readings_moment(label: str) -> None:
    """61.8 at 0:00 and 60.9 at 1:30 would not give 61.35 for a probe read at 0:45."""
    cell = "a," if label else ""
    text = f"time [m:ss],{label}reference,P1\n0:00,{cell}61.8,\n0:45,{cell},515\n1:30,{cell}60.9,\n"
    (point,) = _points(text)
    assert point.value == pytest.approx(61.35)
    assert point.file_rows == (3,)


def test_lag_is_corrected_and_half_of_it_stays_uncertain() -> None:
    """20 s at 0.6 degC a minute would not be +0.2 degC, or its half would be missing from u."""
    setup = Setup(
        field=FIELD,
        references={"T1": Reference(identifier="T1", limits=0.5, time_constant_s=5.0)},
        probes={"P1": Probe(name="P1", time_constant_s=25.0)},
    )
    (point,) = _points("time [m:ss],point,reference,P1\n0:00,a,61.8,\n0:45,a,,515\n1:30,a,60.9,\n", setup)
    (lag,) = [c for c in point.corrections if c.name.startswith("lag")]
    assert point.rate_per_s * 60 == pytest.approx(-0.6)
    assert lag.size == pytest.approx(0.2)
    assert point.value == pytest.approx(61.55)
    assert [abs(part.u) for part in point.parts if part.key == "lag:P1"] == [pytest.approx(0.1)]


def test_lag_that_cannot_be_corrected_is_told() -> None:
    """A known probe lag would be forgotten because the thermometer's is not known."""
    setup = Setup(field=FIELD, references=PLAIN.references, probes={"P1": Probe(name="P1", time_constant_s=20.0)})
    (point,) = _points("time [m:ss],point,reference,P1\n0:00,a,61.8,\n0:45,a,,515\n1:30,a,60.9,\n", setup)
    assert point.value == pytest.approx(61.35)
    assert any("+0.20" in note and "not corrected" in note for note in point.notes)
    assert any(part.key == "lag:P1" for part in point.parts)


@given(
    start=st.floats(20, 90),
    rate=st.floats(-1.0, 1.0),
    tau=st.floats(5, 60),
    moments=st.lists(st.integers(1, 179), min_size=1, max_size=4, unique=True),
)
def test_a_bath_that_falls_evenly_gives_its_truth_back(
    start: float, rate: float, tau: float, moments: list[int]
) -> None:
    """Interpolation and lag put in by a bath of even drift would not come out."""
    per_s = rate / 60
    setup = Setup(
        references={"T1": Reference(identifier="T1", limits=0.5, time_constant_s=4.0)},
        probes={"P1": Probe(name="P1", time_constant_s=tau)},
        meter=Meter(test_current_a=0.0),
    )

    def probe_c(t: float) -> float:
        return start + per_s * (t - tau)

    rows = [Reading(point="a", time_s=t, reference=start + per_s * (t - 4.0)) for t in (0.0, 180.0)]
    readings = [
        Reading(point="a", time_s=float(t), signals={"P1": 1800.0 * math.exp(-0.03 * (probe_c(t) - 25))})
        for t in moments
    ]
    (point,) = settled_points(Run(readings=(rows[0], *readings, rows[1])), setup, "P1")
    mean = sum(probe_c(t) for t in moments) / len(moments)
    assert point.value == pytest.approx(mean, abs=1e-9)
    assert point.signal == pytest.approx(1800.0 * math.exp(-0.03 * (mean - 25)), rel=1e-9)


def test_labels_gather_and_repeats_stay_apart() -> None:
    """Ice before and after the boil would be averaged, and the shift between them hidden."""
    points = _points("point,reference,P1\nice,ice,5230\nice,ice,5232\na,50.1,721\na,50.3,719\nice,ice,5262\n")
    assert [point.label for point in points] == ["ice", "a", "ice (2)"]
    assert [point.n for point in points] == [2, 2, 1]
    assert points[1].value == pytest.approx(50.2)
    assert points[0].reference_id == "ice"
    assert points[1].reference_id == "T1"


def test_without_labels() -> None:
    """Rows without labels would be averaged together, or three ice readings counted as three points."""
    points = _points("reference,P1\nice,5230\nice,5232\nice,5231\n50.1,721\n75.2,325\nsteam,172\n")
    assert [point.n for point in points] == [3, 1, 1, 1]
    assert [point.label for point in points] == ["ice", "row 5", "row 6", "steam"]
    assert points[3].value == pytest.approx(97.73, abs=0.01)


def test_a_probe_without_a_reading_has_no_point() -> None:
    """A blank cell would become a point."""
    points = _points("point,reference,P1,P2\na,50.1,721,\nb,60.2,,530\n", probe="P2")
    assert [point.label for point in points] == ["b"]


def test_blank_label_goes_on_and_is_told() -> None:
    """A label written only in the first row of its stop would lose the others."""
    (point,) = _points("point,reference,P1\na,50.1,721\n,50.3,719\n")
    assert point.n == 2
    assert any("row 3" in note for note in point.notes)


def test_fixed_point_by_label_is_told() -> None:
    """'ice' in the point column alone would be refused, or taken in silence."""
    (point,) = _points("point,reference,P1\nice,,5230\nice,,5231\n")
    assert point.reference_id == "ice"
    assert any("by its label" in note for note in point.notes)


def test_up_and_down_stay_apart() -> None:
    """Rising and falling pressure would be averaged, and the hysteresis lost."""
    setup = Setup(
        probes={"O1": Probe(name="O1", measurand="pressure", signal="voltage", model="line")},
        references={"G1": Reference(identifier="G1", kind="gauge", limits=5000.0)},
    )
    text = "point,reference [kPa],O1 [V],supply [V],direction\n400,400,2.06,4.93,up\n400,400,2.08,4.92,down\n"
    points = _points(text, setup, "O1")
    assert [(p.direction, p.signal, p.supply_v) for p in points] == [("up", 2.06, 4.93), ("down", 2.08, 4.92)]
    assert points[0].value == 400_000.0
    assert points[0].u_value == pytest.approx(math.hypot(5000.0 / math.sqrt(3), 20.0))


def test_meter_is_corrected_with_both_values_kept() -> None:
    """The correction of the meter would be lost from the record or made twice."""
    meter = Meter(leads_shorted_ohm=0.3, checks=(MeterCheck(true_ohm=470.0, read_ohm=475.0),))
    (point,) = _points("reference,P1\n50,475.0\n", Setup(field=FIELD, references=PLAIN.references, meter=meter))
    assert point.signal_read == 475.0
    assert point.signal == pytest.approx(470.0, abs=0.05)
    assert [c.size for c in point.corrections if c.axis == "signal"] == [pytest.approx(point.signal - 475.0)]


def test_self_heating_is_corrected_where_the_current_is_known() -> None:
    """0.5 mA in 5230 ohm and 10 mW/K is +0.13 degC; unknown, it would be corrected by guess."""
    (known,) = _points("reference,P1,current [mA]\nice,5230,0.5\n")
    (unknown,) = _points("reference,P1\nice,5230\n")
    assert known.value == pytest.approx(0.131, abs=0.001)
    assert unknown.value == 0.0
    parts = {part.key: part.u for part in unknown.parts}
    assert parts["self-heating"] == pytest.approx(0.131 / math.sqrt(3), abs=0.001)


def test_shared_shares_have_the_same_key_for_all_probes() -> None:
    """What two probes share would be counted as independent, and their difference would look worse than it is."""
    text = "point,reference,P1,P2\na,50.1,721,723\n"
    first, second = (_points(text, probe=name)[0] for name in ("P1", "P2"))
    keys = [{part.key for part in point.parts if part.key} for point in (first, second)]
    assert keys[0] == keys[1]
    assert {"reference:T1", "gradient:a@run", "stem", "meter:M1:gain"} <= keys[0]


def test_two_sessions_do_not_share_their_flasks() -> None:
    """Ice of two evenings would be taken for one flask, and their agreement for proof of nothing."""
    data = b"reference,P1\nice,5230\n"
    keys = [
        {part.key for part in settled_points(run_from_bytes(data, PLAIN, file=f"{day}.csv"), PLAIN, "P1")[0].parts}
        for day in ("may", "june")
    ]
    assert {key.split(":")[0] for key in keys[0] & keys[1] if key} == {"stem", "meter", "self-heating"}
    assert "gradient:ice@june" in keys[1]


def test_doubling_every_stated_u_doubles_the_share() -> None:
    """The u of the reference would not follow what is stated."""
    one, two = (
        _points("reference,P1\n50,721\n", Setup(references={"T1": Reference(identifier="T1", u=u)}))[0]
        for u in (0.1, 0.2)
    )
    share = [next(part.u for part in point.parts if part.key == "reference:T1") for point in (one, two)]
    assert share[1] == 2 * share[0] == 0.2


def test_partly_immersed_body_is_told_in_degrees() -> None:
    """20 mm immersed at 95 degC may be 1.1 degC off and nobody would be told (fin model, estimate)."""
    (point,) = _points("reference,P1,immersion [mm]\n95,185,20\n")
    assert any("-1.1" in note and "sink" in note for note in point.notes)
    stem = next(part for part in point.parts if part.key == "stem")
    assert stem.u == pytest.approx(1.1 / math.sqrt(3), abs=0.02)


def test_stem_share_changes_sign_with_the_room() -> None:
    """Conduction would push ice and steam the same way."""
    ice, steam = _points("reference,P1\nice,5230\nsteam,172\n")
    u = [next(part.u for part in point.parts if part.key == "stem") for point in (ice, steam)]
    assert u[0] < 0 < u[1]


def test_moving_signal_and_fast_bath_are_told() -> None:
    """A probe still falling, or an open cup, would settle in silence."""
    (ice,) = _points("reference,P1\nice,5200\nice,5215\nice,5230\n")
    assert any("wait" in note for note in ice.notes)
    (cup,) = _points("time [m:ss],point,reference,P1\n0:00,a,85,\n0:30,a,,240\n1:00,a,80,\n")
    assert any("-5.0" in note for note in cup.notes)


def test_scatter_beyond_repeat_enters_u() -> None:
    """Readings that scatter by 1 % would be believed to the last digit."""
    quiet, wild = (_points(f"reference,P1\nice,5230\nice,{5230 + d}\nice,{5230 - d}\n")[0] for d in (1, 52))
    assert not any("scatter" in part.what for part in quiet.parts)
    part = next(part for part in wild.parts if "scatter" in part.what)
    assert part.u == pytest.approx(52 / math.sqrt(3), rel=0.1)
    assert wild.scatter == pytest.approx(52, rel=0.01)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("time,point,reference,P1\n19:00,a,61.8,\n19:01,a,,515\n", ("P1 at a", "row 3", "no reference after")),
        ("time,point,reference,P1\n19:01,a,,515\n19:02,a,61.8,\n", ("row 2", "no reference before")),
        ("time,reference,P1\n19:00,61.8,\n19:20,,515\n19:40,50.1,\n", ("row 3", "40 minutes apart")),
        ("point,reference,P1\na,,515\n", ("no reference was read",)),
        ("time,point,reference,P1\n19:00,a,61.8,\n,a,,515\n", ("row 3", "no time")),
        ("point,reference,P1\na,ice,5230\na,0.1,5231\n", ("'a'", "ice", "number")),
        ("point,reference,P1\na,ice,5230\na,steam,172\n", ("ice and steam",)),
        ("point,reference,reference_id,P1\na,50,T1,721\na,50,T2,722\n", ("T1 and T2",)),
        ("reference,reference_id,P1\n50,T9,721\n", ("T9", "not in the setup")),
    ],
)
def test_refusals(text: str, words: tuple[str, ...]) -> None:
    """A reading without a sure reference would be given one by guess."""
    with pytest.raises(InputError) as caught:
        _points(text)
    message = str(caught.value)
    assert message.startswith("run.csv")
    assert all(word in message for word in words), message


def test_which_of_two_thermometers() -> None:
    """With two thermometers described the first would be taken."""
    two = Setup(references={name: Reference(identifier=name, limits=0.5) for name in ("T1", "T2")})
    with pytest.raises(InputError, match="T1, T2"):
        _points("reference,P1\n50,721\n", two)


def test_untimed_stop_takes_the_mean_reference() -> None:
    """Paper notes without a clock could not be used."""
    (point,) = _points("point,reference,P1\na,61.8,\na,,515\na,60.8,\n")
    assert point.value == pytest.approx(61.3)
    assert point.rate_per_s is None
