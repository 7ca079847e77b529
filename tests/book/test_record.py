"""Records: the same curve back, the same bytes again, and one clear sentence for a broken file."""

from __future__ import annotations

import dataclasses
import json
import math
from pathlib import Path

import numpy as np
import pytest

from sensorcal.book.digest import content_sha256, sha256_of_bytes, sha256_of_file
from sensorcal.book.facts import Facts, setup_data, traceability
from sensorcal.book.record import document, text_of
from sensorcal.book.store import read_record, schema, write_record
from sensorcal.calibration.calibration import (
    Calibration,
    CurvaturePrior,
    FitPoints,
    PriorReport,
    expanded_c,
    shared_shift_c,
    u_form_c,
    u_statistical_c,
)
from sensorcal.errors import FileError, InputError
from tests.book import example

GRID_C = np.linspace(-40.0, 150.0, 381)
OLD_RECORDS = sorted((Path(__file__).parent / "records").glob("v1_*.json"))


def same(first: Calibration, second: Calibration) -> bool:
    """Compare two calibrations field by field, bit by bit."""

    def pack(value: object) -> object:
        if dataclasses.is_dataclass(value):
            return {f.name: pack(getattr(value, f.name)) for f in dataclasses.fields(value)}
        return (value.shape, value.dtype.str, value.tobytes()) if isinstance(value, np.ndarray) else value

    return pack(first) == pack(second)


@pytest.mark.parametrize("prior", [True, False])
@pytest.mark.parametrize("model", ["steinhart-hart", "beta"])
def test_round_trip_is_bit_exact(tmp_path: Path, model: str, prior: bool) -> None:
    """If it failed, a curve read from its record would not be the curve that was fitted."""
    fitted = example.calibration(model=model, prior=prior)
    path = tmp_path / "P1.json"
    assert write_record(path, fitted, example.facts()) is None
    record = read_record(path)
    assert same(record.calibration, fitted)
    assert record.facts == example.facts()
    ohm = fitted.resistance_ohm(GRID_C)
    for ask in (
        lambda c: c.resistance_ohm(GRID_C),
        lambda c: c.temperature_c(ohm),
        lambda c: expanded_c(c, GRID_C),
        lambda c: u_form_c(c, GRID_C),
        *((lambda c, k=k: shared_shift_c(c, GRID_C)[k]) for k in fitted.shared_identifiers),
    ):
        assert ask(record.calibration).tobytes() == ask(fitted).tobytes()


def test_finite_degrees_of_freedom_and_no_shared_terms_survive(tmp_path: Path) -> None:
    """If it failed, an estimated u would come back as a known one, or an empty list of shared terms as broken."""
    fitted = example.calibration()
    odd = dataclasses.replace(
        fitted, dof_effective=7.25, shared_identifiers=(), sensitivities=np.empty((0, 3)), notes=("weigh this",)
    )
    write_record(tmp_path / "x.json", odd, Facts())
    assert same(read_record(tmp_path / "x.json").calibration, odd)


def test_no_field_is_left_out_of_the_record() -> None:
    """If it failed, a field was added to the calibration that records do not carry: extend record.py and the schema."""
    names = {
        Calibration: "sensor model curve root shared_identifiers sensitivities points chi_squared dof inflation prior "
        "form_carried form_size form_order dof_effective notes",
        FitPoints: "temperature_c resistance_ohm residual_c u_c u_independent_c labels rows",
        PriorReport: "prior kappa_data u_kappa_data kappa u_kappa disagreement pull_c",
        CurvaturePrior: "kappa u_kappa source form_ratio",
    }
    for kind, known in names.items():
        assert {f.name for f in dataclasses.fields(kind)} == set(known.split())


def test_same_inputs_same_bytes(tmp_path: Path) -> None:
    """If it failed, a record would change although nothing in it had, and every diff would be noise."""
    for name in ("a.json", "b.json"):
        write_record(tmp_path / name, example.calibration(), example.facts())
    data = (tmp_path / "a.json").read_bytes()
    assert data == (tmp_path / "b.json").read_bytes()
    assert b"\r" not in data
    assert data.endswith(b"}\n")


def test_for_people_part_gives_the_curve_by_hand() -> None:
    """If it failed, A, B and C typed from the record into a spreadsheet would give another temperature."""
    fitted = example.calibration()
    people = document(fitted, example.facts())["for_people"]
    for ohm in (5249.0, 328.9, 98.5):
        ln = math.log(ohm)
        by_hand = 1.0 / (people["a_per_k"] + people["b_per_k"] * ln + people["c_per_k"] * ln**3) - 273.15
        assert by_hand == pytest.approx(float(fitted.temperature_c(ohm)), abs=2e-6)
    assert len(people["table"]) == 18
    assert [row["temperature_c"] for row in people["table"] if not row["remark"]] == [10.0 * i for i in range(10)]
    assert people["redline"]["remark"] == "extrapolated"
    assert people["redline"]["claim_c"] == 1.5


def test_covariance_for_people_agrees_with_the_centred_one() -> None:
    """If it failed, the printed covariance of A, B and C would not give the printed U."""
    fitted = example.calibration()
    covariance = np.array(document(fitted, example.facts())["for_people"]["covariance_of_abc_per_k2"])
    ln = math.log(float(fitted.resistance_ohm(60.0)))
    row = np.array([1.0, ln, ln**3])
    u = math.sqrt(row @ covariance @ row) * (60.0 + 273.15) ** 2
    # The raw powers of ln R cancel about seven of sixteen digits here.
    assert u == pytest.approx(float(u_statistical_c(fitted, 60.0)), rel=1e-5)


@pytest.mark.parametrize("path", OLD_RECORDS, ids=lambda p: p.name)
def test_old_records_load_for_ever(path: Path) -> None:
    """If it failed, an owner could no longer read the record of the curve that is in the monitor."""
    record = read_record(path)
    expected = json.loads(path.with_name("expected.json").read_text(encoding="utf-8"))[path.name]
    for temperature_c, ohm, expanded in expected:
        assert float(record.calibration.resistance_ohm(temperature_c)) == pytest.approx(ohm, rel=1e-13)
        assert float(expanded_c(record.calibration, temperature_c)) == pytest.approx(expanded, rel=1e-12)


def test_there_are_old_records() -> None:
    """If it failed, the test above would have nothing to check."""
    assert OLD_RECORDS


def broken(tmp_path: Path, change: object, *, reseal: bool = True) -> Path:
    """Write a record, change its document, and seal it again so that only the change is wrong."""
    found = json.loads(text_of(document(example.calibration(), example.facts())))
    change(found)
    if reseal:
        found["content_sha256"] = content_sha256(found)
    path = tmp_path / "P1.json"
    path.write_text(json.dumps(found), encoding="utf-8")
    return path


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda d: d.update(schema="sensorcal-calibration-9"), "at schema: 'sensorcal-calibration-9' is not"),
        (lambda d: d.pop("schema"), "at schema: None is not"),
        (
            lambda d: d["calibration"]["points"]["residual_c"].__setitem__(2, "cold"),
            "at calibration.points.residual_c[2]",
        ),
        (lambda d: d["calibration"]["curve"].pop("p1_per_k"), "at calibration.curve: 'p1_per_k' is a required"),
        (lambda d: d["calibration"].update(colour="red"), "at calibration: "),
        (lambda d: d["calibration"].update(inflation=0.5), "at calibration.inflation"),
        (lambda d: d["calibration"]["points"]["u_c"].append(0.1), "at calibration.points.u_c stand 8 entries where 7"),
        (lambda d: d["calibration"]["root_per_k"][1].pop(), "at calibration.root_per_k[1] stand 2 entries where 3"),
        (lambda d: d["calibration"]["shared_identifiers"].pop(), "at calibration.sensitivities_per_k stand"),
        (lambda d: d["facts"].update(written="3 May"), "at facts.written"),
    ],
)
def test_broken_record_names_the_element(tmp_path: Path, change: object, said: str) -> None:
    """If it failed, a broken record would load, or its owner would not learn what is wrong with it."""
    path = broken(tmp_path, change)
    with pytest.raises(FileError) as caught:
        read_record(path)
    assert said in str(caught.value)
    assert str(caught.value).startswith("P1.json")
    assert "\n" not in str(caught.value)


def test_changed_record_is_refused_unless_allowed(tmp_path: Path) -> None:
    """If it failed, somebody could change the curve of a record and nobody would see."""
    path = broken(tmp_path, lambda d: d["calibration"]["curve"].update(p0_per_k=0.0031), reseal=False)
    with pytest.raises(FileError, match="changed after it was written"):
        read_record(path)
    assert read_record(path, allow_changed=True).calibration.curve.p0 == 0.0031


@pytest.mark.parametrize(
    ("text", "said"),
    [("{", "no JSON from line 1"), ("[1]", "no record"), ('{"a": NaN}', "no readable JSON"), ("\xff", "no JSON")],
)
def test_other_files_are_refused_in_one_sentence(tmp_path: Path, text: str, said: str) -> None:
    """If it failed, a run or a picture given by mistake would end in a traceback."""
    path = tmp_path / "x.json"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(FileError, match=said):
        read_record(path)
    with pytest.raises(FileError, match="cannot be read"):
        read_record(tmp_path / "missing.json")


def test_older_record_is_kept_beside_the_new_one(tmp_path: Path) -> None:
    """If it failed, fitting again would wipe out the record of the table that is keyed in."""
    path = tmp_path / "P1.json"
    write_record(path, example.calibration(), example.facts())
    first = path.read_bytes()
    assert write_record(path, example.calibration(), example.facts()) is None
    later = dataclasses.replace(example.facts(), written="2027-05-02")
    kept = write_record(path, example.calibration(prior=False), later)
    assert kept is not None
    assert kept.name == "P1.was-2026-05-03.json"
    assert kept.read_bytes() == first
    again = write_record(path, example.calibration(), example.facts())
    assert again is not None
    assert again.name == "P1.was-2027-05-02.json"
    assert write_record(path, example.calibration(prior=False), later) == kept
    assert sorted(p.name for p in tmp_path.iterdir()) == ["P1.json", kept.name, again.name]


def test_a_file_that_is_no_record_is_never_replaced(tmp_path: Path) -> None:
    """If it failed, a slip in the output name would destroy a run or a setup."""
    for name, text in (("run.csv", "time,P1\n"), ("other.json", '{"schema": "something else"}')):
        path = tmp_path / name
        path.write_text(text, encoding="utf-8")
        with pytest.raises(FileError, match="no record stands under this name"):
            write_record(path, example.calibration(), Facts())
        assert path.read_text(encoding="utf-8") == text


def test_missing_folder_is_one_sentence(tmp_path: Path) -> None:
    """If it failed, a mistyped folder would end in a traceback."""
    with pytest.raises(FileError, match="cannot be written"):
        write_record(tmp_path / "no" / "P1.json", example.calibration(), Facts())


def test_no_half_written_file_is_left(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """If it failed, a full disk or a crash would leave half a record under the good name."""
    path = tmp_path / "P1.json"
    write_record(path, example.calibration(), example.facts())
    before = path.read_bytes()

    def fail(*_: object) -> None:
        raise OSError("disk full")

    monkeypatch.setattr("os.fsync", fail)
    with pytest.raises(FileError):
        write_record(path, example.calibration(), dataclasses.replace(example.facts(), person="another"))
    monkeypatch.undo()
    assert path.read_bytes() == before
    assert not list(tmp_path.glob(".*"))


def test_facts_that_are_no_numbers_are_refused(tmp_path: Path) -> None:
    """If it failed, a record with NaN in it would be written that no JSON reader accepts."""
    facts = dataclasses.replace(example.facts(), setup={"meter": {"gain_ratio": math.nan}})
    with pytest.raises(InputError, match="JSON cannot carry"):
        write_record(tmp_path / "x.json", example.calibration(), facts)
    with pytest.raises(InputError, match="redline"):
        Facts(redline_c=math.inf)
    with pytest.raises(InputError, match="range"):
        Facts(range_c=(10.0, 10.0))


def test_schema_is_a_draft_2020_12_schema_that_refuses_strangers() -> None:
    """If it failed, the published schema itself would be wrong, or would let anything through."""
    from jsonschema import Draft202012Validator

    Draft202012Validator.check_schema(schema())
    assert not Draft202012Validator(schema()).is_valid({"schema": "sensorcal-calibration-1"})
    assert Draft202012Validator(schema()).is_valid(
        json.loads(text_of(document(example.calibration(), example.facts())))
    )


def test_setup_in_the_record_names_units() -> None:
    """If it failed, a number of the setup would stand in the record without its unit."""
    data = setup_data(example.setup())
    assert data["references"]["T1"]["limits_c"] == 0.2
    assert data["probes"]["P1"]["redline_c"] == 120.0
    assert data["meter"]["checks"] == [{"true_ohm": 470.0, "read_ohm": 475.0, "tolerance_ratio": 0.001}]


def test_traceability_names_what_was_used_and_nothing_else() -> None:
    """If it failed, a record would claim a steam point or a certificate that never was."""
    line = traceability(example.setup(), ["ice", "ice", "T1"])
    assert line == "0 °C by ice; thermometer T1: certificate none"


def test_digests_of_file_and_bytes_agree(tmp_path: Path) -> None:
    """If it failed, a record would point at no file at all. Check value: FIPS 180-4 example 'abc' (from memory)."""
    path = tmp_path / "abc"
    path.write_bytes(b"abc")
    expected = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    assert sha256_of_file(path) == sha256_of_bytes(b"abc") == expected
    with pytest.raises(FileError):
        sha256_of_file(tmp_path / "missing")
