"""Many logs at once: a bad file, even one that kills its process, stops nothing."""

from __future__ import annotations

import pickle
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context

import distributed
import pytest

from sensorcal.errors import InputError
from sensorcal.firststart.manylogs import check_many, check_one
from tests.firststart.soundstart import die_on_killer, fallen, opened, write_log


def test_a_bad_file_is_an_error_and_the_rest_go_on(tmp_path):
    """One empty file in a folder of a season must not cost the season."""
    good = write_log(tmp_path / "good.csv")
    bad = tmp_path / "bad.csv"
    bad.write_text("no,log\n1,2\n", encoding="utf-8")
    results = list(check_many([bad, tmp_path / "none.csv", good], workers=1))
    assert [bool(one.error) for one in results] == [True, True, False]
    assert "bad.csv" in results[0].error
    assert results[2].checked is not None
    assert results[2].checked.findings == ()


def test_a_file_that_kills_its_process_is_named_and_the_rest_go_on(tmp_path):
    """A crash in one process must neither hang the others nor lose their results."""
    names = ["a.csv", "killer.csv", "b.csv", "c.csv"]
    changes = {"b.csv": {"coolant": opened}, "c.csv": {"oil_pressure": fallen}}
    paths = [write_log(tmp_path / name, **changes.get(name, {})) for name in names]
    results = {one.path.name: one for one in check_many(paths, workers=2, each=die_on_killer)}
    assert sorted(results) == sorted(names)
    assert "process ended" in results["killer.csv"].error
    kinds = {name: [f.kind for f in one.checked.findings][:1] for name, one in results.items() if one.checked}
    assert kinds == {"a.csv": [], "b.csv": ["open_circuit"], "c.csv": ["low_oil_pressure_real"]}


def test_one_process_and_two_find_the_same(tmp_path):
    """A result that depended on the number of processes could not be looked up again."""
    paths = [write_log(tmp_path / "a.csv", coolant=opened), write_log(tmp_path / "b.csv")]
    alone, two = ({one.path: one.checked for one in check_many(paths, workers=n)} for n in (1, 2))
    assert alone == two


def test_an_engine_that_exists_already_finds_the_same(tmp_path):
    """A cluster must give what the own machine gives, bad file included."""
    bad = tmp_path / "bad.csv"
    bad.write_text("no,log\n", encoding="utf-8")
    paths = [write_log(tmp_path / "a.csv", coolant=opened), bad]
    options = {"n_workers": 1, "threads_per_worker": 1, "processes": False, "dashboard_address": None}
    with distributed.Client(**options) as client, client.get_executor() as executor:
        there = {one.path: (one.checked, one.error) for one in check_many(paths, executor=executor)}
    assert there == {one.path: (one.checked, one.error) for one in check_many(paths, workers=1)}


def test_a_lost_worker_is_the_error_of_its_file(tmp_path):
    """On a cluster a node may vanish: its file must be named, and the rest go on."""
    paths = [write_log(tmp_path / name) for name in ("killer.csv", "a.csv")] + [tmp_path / f"{n}.csv" for n in range(6)]
    with ProcessPoolExecutor(1, mp_context=get_context("spawn")) as pool:
        results = list(check_many(paths, executor=pool, each=die_on_killer, workers=1))
    assert sorted(one.path for one in results) == sorted(paths)
    assert "not judged by its worker" in next(one.error for one in results if one.path.name == "killer.csv")


def test_an_error_of_what_is_done_with_a_log_is_that_logs_error(tmp_path):
    """A full disk while one page is written must be told beside its name."""

    def full(*_):
        raise OSError(28, "no space left")

    result = check_one(write_log(tmp_path / "a.csv"), each=full)
    assert result.checked is None
    assert "no space left" in result.error


def test_what_comes_back_is_small(tmp_path):
    """Rows that travel back would fill the memory with the season's logs."""
    result = check_one(write_log(tmp_path / "a.csv", coolant=opened))
    assert len(pickle.dumps(result)) < 20_000


def test_no_process_at_all_is_refused():
    """Zero workers would wait for ever."""
    with pytest.raises(InputError, match="workers"):
        list(check_many([], workers=0))
