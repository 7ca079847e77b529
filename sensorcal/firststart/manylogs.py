"""Many logs in parallel processes: one bad file never stops the rest, and memory stays bounded.

The processes are fed a few files ahead and renewed after some hundreds, so that neither a long list nor what a library
keeps for itself can grow. What comes back is the checked log without its rows.
"""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import FIRST_COMPLETED, Executor, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass
from functools import partial
from itertools import islice
from multiprocessing import get_context
from pathlib import Path
from typing import TYPE_CHECKING

from sensorcal.errors import InputError, SensorcalError
from sensorcal.firststart.checkedlog import CheckedLog, check_log
from sensorcal.setup import Setup

if TYPE_CHECKING:
    from sensorcal.firststart.judge import Verdict

Each = Callable[[Path, CheckedLog, "Verdict"], None]
"""What is done with a checked log in its own process, such as writing its files; must be a function of a module."""

_AHEAD = 4
_RENEWED_AFTER = 400
_MOST = 60  # Windows waits for 63 things at once and no more


@dataclass(frozen=True, slots=True, kw_only=True)
class LogResult:
    """What came of one file.

    Parameters
    ----------
    path : Path
    checked : CheckedLog or None
    error : str
        In one sentence; '' where it was checked.
    seconds : float
        From file to findings, in its process.
    """

    path: Path
    checked: CheckedLog | None = None
    error: str = ""
    seconds: float = 0.0


def check_many(
    paths: Iterable[str | Path],
    setup: Setup | None = None,
    *,
    workers: int | None = None,
    each: Each | None = None,
    executor: Executor | None = None,
) -> Iterator[LogResult]:
    """Check many logs in parallel processes, of this machine or of others.

    Parameters
    ----------
    paths : iterable of str or Path
    setup : Setup, optional
        The same for all.
    workers : int, optional
        Processes; as many as there are processors if left out, none but this one for 1.
    each : callable, optional
        Called in the log's process with path, checked log and verdict; an error it raises is that file's error.
    executor : concurrent.futures.Executor, optional
        An engine that exists already, such as ``distributed.Client(...).get_executor()`` of Dask; its processes must
        see the files under the same names. The caller closes it.

    Yields
    ------
    LogResult
        In the order in which they are done.

    Raises
    ------
    InputError
        Fewer than one process is asked for.

    Examples
    --------
    >>> [result.error != "" for result in check_many(["no-such-log.csv"], workers=1)]
    [True]
    """
    count = workers if workers is not None else min(os.cpu_count() or 1, _MOST)
    if not 1 <= count <= _MOST:
        raise InputError(f"{count} processes cannot check logs", do=f"give 1 to {_MOST} workers")
    setup = setup or Setup()
    files = iter(Path(path) for path in paths)
    if executor is not None:
        yield from _elsewhere(files, executor, count, partial(check_one, setup=setup, each=each))
        return
    if count == 1:
        for path in files:
            yield check_one(path, setup, each)
        return
    while batch := list(islice(files, _RENEWED_AFTER * count)):
        yield from _batch(batch, setup, count, each)


def check_one(path: str | Path, setup: Setup | None = None, each: Each | None = None) -> LogResult:
    """Check one log; whatever is wrong with it becomes its error.

    Parameters
    ----------
    path : str or Path
    setup : Setup, optional
    each : callable, optional
        As for `check_many`.

    Returns
    -------
    LogResult
    """
    begun = time.perf_counter()
    try:
        done, verdict = check_log(path, setup)
        seconds = time.perf_counter() - begun
        if each is not None:
            each(Path(path), done, verdict)
    except SensorcalError as error:
        return LogResult(path=Path(path), error=str(error))
    except Exception as error:  # noqa: BLE001 - one file must never stop the others, whatever is wrong with it
        said = f"{Path(path).name}: cannot be judged ({type(error).__name__}: {error})."
        return LogResult(path=Path(path), error=said)
    return LogResult(path=Path(path), checked=done, seconds=seconds)


# --- inside and around the processes ------------------------------------------------------------------------------

_shared: dict[str, object] = {}


def _begin(setup: Setup, each: Each | None) -> None:
    """Take what all logs share once for each process."""
    _shared.update(setup=setup, each=each)


def _task(path: Path) -> LogResult:
    return check_one(path, _shared["setup"], _shared["each"])  # type: ignore[arg-type]


def _pool(count: int, setup: Setup, each: Each | None) -> ProcessPoolExecutor:
    # Spawned on every system: a forked process would share locks with the threads of a notebook.
    return ProcessPoolExecutor(count, mp_context=get_context("spawn"), initializer=_begin, initargs=(setup, each))


def _batch(files: list[Path], setup: Setup, count: int, each: Each | None) -> Iterator[LogResult]:
    """Check some hundred logs; where a process dies, find the file that killed it by giving each its own process."""
    done: set[Path] = set()
    try:
        with _pool(count, setup, each) as pool:
            for future, _ in _fed(iter(files), pool, _task, count * _AHEAD):
                result = future.result()
                done.add(result.path)
                yield result
    except BrokenProcessPool:
        pass
    for path in files:
        if path not in done:
            yield _alone(path, setup, each)


def _elsewhere(
    files: Iterator[Path], executor: Executor, count: int, task: Callable[[Path], LogResult]
) -> Iterator[LogResult]:
    """Check logs on an engine that is not ours: whatever befalls a task there is that file's error."""
    for future, path in _fed(files, executor, task, count * _AHEAD):
        try:
            yield future.result()
        except Exception as error:  # noqa: BLE001 - a lost worker must not cost the other logs
            said = f"{path.name}: not judged by its worker ({type(error).__name__}: {error})."
            yield LogResult(path=path, error=said)


def _fed(
    files: Iterator[Path], executor: Executor, task: Callable[[Path], LogResult], ahead: int
) -> Iterator[tuple[Future[LogResult], Path]]:
    """Feed an executor a few files ahead; give each task that is done with its file."""
    waiting: dict[Future[LogResult], Path] = {}
    while True:
        for path in islice(files, ahead - len(waiting)):
            try:
                future = executor.submit(task, path)
            except Exception as error:  # noqa: BLE001 - a broken executor refuses: that is an answer about this file
                future = Future()
                future.set_exception(error)
            waiting[future] = path
        if not waiting:
            return
        for future in wait(waiting, return_when=FIRST_COMPLETED).done:
            yield future, waiting.pop(future)


def _alone(path: Path, setup: Setup, each: Each | None) -> LogResult:
    try:
        with _pool(1, setup, each) as pool:
            return pool.submit(_task, path).result()
    except BrokenProcessPool:
        return LogResult(path=path, error=f"{path.name}: its process ended without a word; is there enough memory?")
