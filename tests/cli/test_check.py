"""`sensorcal check` as a builder types it."""

from __future__ import annotations

import json

import pytest
from jsonschema import Draft202012Validator

from sensorcal.book.findings import findings_schema
from sensorcal.cli.main import main
from tests.firststart.soundstart import fallen, opened, write_log
from tests.firststart.test_events import LABELS, sheet


def _fails(capsys, *argv):
    code = main([str(one) for one in argv])
    error = capsys.readouterr().err
    assert code == 2
    assert error.count("\n") == 1
    return error


def test_findings_and_page_are_written_and_told(tmp_path, capsys):
    """If this fails, the findings are not where they were asked for, or not said aloud."""
    log = write_log(tmp_path / "start.csv", oil_pressure=fallen)
    setup = tmp_path / "setup.toml"
    setup.write_text("[limits.oil_pressure]\nlow = 150\n", encoding="utf-8")
    out, page, table = (tmp_path / "out" / f"f.{ending}" for ending in ("json", "html", "csv"))
    argv = ["check", str(log), "--setup", str(setup), "--out", str(out), "--html", str(page), "--csv", str(table)]
    assert main(argv) == 0
    said = capsys.readouterr().out
    assert "STOP AND CHECK" in said
    assert str(out) in said
    document = json.loads(out.read_text(encoding="utf-8"))
    Draft202012Validator(findings_schema()).validate(document)
    first = document["findings"][0]
    assert (first["rank"], first["kind"], first["channel"]) == (1, "low_oil_pressure_real", "Oil P kPa")
    assert len(document["log"]["sha256"]) == len(document["setup"]["sha256"]) == 64
    assert "low_oil_pressure_real" in table.read_text(encoding="utf-8")
    assert "Stop and check" in page.read_text(encoding="utf-8")


def test_a_sound_log_is_an_empty_list_and_exit_code_0(tmp_path, capsys):
    """A script must be able to tell 'no finding' from 'not read'."""
    assert main(["check", str(write_log(tmp_path / "start.csv")), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["findings"] == []


def test_an_event_list_is_judged(tmp_path, capsys):
    """What was typed afterwards from a recording is a log too."""
    path = tmp_path / "events.csv"
    path.write_bytes(sheet(LABELS))
    assert main(["check", str(path), "--json"]) == 0
    document = json.loads(capsys.readouterr().out)
    assert document["log"]["kind"] == "events"
    assert document["log"]["rows"] == len(LABELS)


def test_mistakes_are_one_line(tmp_path, capsys):
    """A traceback tells a builder nothing."""
    log = write_log(tmp_path / "start.csv")
    assert "none.csv" in _fails(capsys, "check", tmp_path / "none.csv")
    assert "log itself" in _fails(capsys, "check", log, "--out", log)
    other = tmp_path / "notes.txt"
    other.write_text("do not lose me", encoding="utf-8")
    assert "another file" in _fails(capsys, "check", log, "--out", other)
    assert "--out" in _fails(capsys, "check", tmp_path, "--html", tmp_path / "pages")
    assert "summary.csv" in _fails(capsys, "check", tmp_path, "--out", tmp_path / "o", "--csv", tmp_path / "t.csv")
    assert "workers" in _fails(capsys, "check", tmp_path, "--out", tmp_path / "o", "--workers", "0")
    empty = tmp_path / "empty"
    empty.mkdir()
    assert "no log" in _fails(capsys, "check", empty, "--out", tmp_path / "o")


def test_a_folder_gives_a_summary_with_the_bad_file_in_it(tmp_path, capsys):
    """One bad file must be listed and must cost no other its findings."""
    folder = tmp_path / "logs"
    (folder / "june").mkdir(parents=True)
    write_log(folder / "a.csv", oil_pressure=fallen)
    write_log(folder / "june" / "b.csv", coolant=opened)
    (folder / "bad.csv").write_text("no,log\n", encoding="utf-8")
    out = folder / "findings"
    argv = ["check", str(folder), "--out", str(out), "--html", str(out), "--workers", "1"]
    assert main(argv) == 0
    said = capsys.readouterr().out
    assert "3 logs" in said
    assert "bad.csv" in said
    summary = json.loads((out / "summary.json").read_text(encoding="utf-8"))
    assert [(one["file"], one["kind"]) for one in summary["entries"]] == [
        ("a.csv", "low_oil_pressure_real"), ("bad.csv", None), ("june/b.csv", "open_circuit"),
    ]  # fmt: skip
    for name in ("a.json", "a.html", "june/b.json", "june/b.html", "summary.csv"):
        assert (out / name).is_file(), name
    index = (out / "index.html").read_text(encoding="utf-8")
    assert [index.index(name) for name in ('"a.html"', '"june/b.html"', "bad.csv")] == sorted(
        index.index(name) for name in ('"a.html"', '"june/b.html"', "bad.csv")
    )
    assert "Stop and check. Oil pressure low" in index
    # A second run reads the logs again and none of what the first one wrote.
    assert main(argv) == 0
    assert "3 logs" in capsys.readouterr().out


def test_several_logs_without_a_folder_are_told_on_the_screen(tmp_path, capsys):
    """Who only looks would be sent away, or find files that nobody asked for; and each finding must be named."""
    names = [
        write_log(tmp_path / "a.csv", oil_pressure=fallen), write_log(tmp_path / "b.csv", coolant=opened),
        write_log(tmp_path / "c.csv"),
    ]  # fmt: skip
    assert main(["check", *(str(name) for name in names), "--workers", "1"]) == 0
    said = capsys.readouterr().out
    assert "2 with findings, 1 of them to stop and check" in said
    assert "STOP AND CHECK" in said
    assert "a.csv" in said
    assert "b.csv: Coolant: " in said
    assert "c.csv" not in said
    assert sorted(path.name for path in tmp_path.iterdir()) == ["a.csv", "b.csv", "c.csv"]


def test_names_that_would_meet_are_kept_apart(tmp_path, capsys):
    """Two logs of one name with different endings would overwrite each other's findings."""
    folder = tmp_path / "logs"
    folder.mkdir()
    write_log(folder / "a.csv", coolant=opened)
    write_log(folder / "a.txt")
    write_log(folder / "summary.csv")
    assert main(["check", str(folder), "--out", str(tmp_path / "out"), "--workers", "1"]) == 0
    assert "3 logs" in capsys.readouterr().out
    assert (tmp_path / "out" / "summary.csv.json").is_file()
    found = {path.name: json.loads(path.read_text(encoding="utf-8")) for path in (tmp_path / "out").glob("a*.json")}
    assert sorted(found) == ["a.csv.json", "a.txt.json"]
    assert found["a.csv.json"]["findings"]
    assert not found["a.txt.json"]["findings"]


def test_a_folder_in_which_nothing_can_be_read_fails(tmp_path, capsys):
    """Exit code 0 over nothing but errors would hide them from a script."""
    folder = tmp_path / "logs"
    folder.mkdir()
    (folder / "bad.csv").write_text("no,log\n", encoding="utf-8")
    assert main(["check", str(folder), "--out", str(tmp_path / "out"), "--workers", "1"]) == 2
    assert "not read" in capsys.readouterr().out


@pytest.mark.parametrize("option", ["--out", "--html"])
def test_a_file_where_a_folder_is_needed_is_refused(tmp_path, capsys, option):
    """Findings of many logs in the place of one file would end in a file system error."""
    folder = tmp_path / "logs"
    folder.mkdir()
    write_log(folder / "a.csv")
    taken = tmp_path / "taken"
    taken.write_text("x", encoding="utf-8")
    argv = {"--out": str(tmp_path / "o"), option: str(taken)}
    assert "is a file" in _fails(capsys, "check", folder, *[word for pair in argv.items() for word in pair])
