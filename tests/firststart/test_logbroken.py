"""Broken files: whatever was cut, mixed or mistyped, a log is read or refused in one sentence, never a traceback."""

from __future__ import annotations

import random

import numpy as np
import pytest

from sensorcal.errors import SensorcalError
from sensorcal.firststart.logread import log_from_bytes
from sensorcal.firststart.phases import find_phases
from sensorcal.firststart.startlog import start_log
from tests.firststart.starts import made_start

HEAD = "Time [s],CLT °C,Gearbox oil °C,Charge in C,Charge out C,Oil kPa,Fuel kPa,MAP kPa,RPM,Volts,OAT"
PIECES = (
    "", "---", "NaN", '"', "'", ";", ",", ",", "\t", "\n", "#", "\x00", "12:30", "1e999", "-1e400", "ü", "°",
    "2026-05-02", "=", "0", "99999999999999", "--5", "1,5", "1.5.2", "∞",
    "\r", "|", " ", "+", "−5", "1 234", "\ufeff", "nan:nan",
)  # fmt: skip


def whole_text() -> str:
    """Write a small sound log."""
    made = made_start(20.0)
    scale = {"oil_pressure": 1e3, "fuel_pressure": 1e3, "map": 1e3}
    columns = [numbers / scale.get(name, 1.0) for name, numbers in made.items()]
    return "\n".join([HEAD, *(",".join(f"{v:.1f}" for v in row) for row in zip(*columns, strict=True))]) + "\n"


def broken(text: str, seed: int) -> bytes:
    """Break a log in up to five places."""
    rnd = random.Random(seed)  # noqa: S311 - a seeded study, no secret
    if rnd.random() < 0.5:
        text = text.replace(",", ";").replace(".", ",")
    for _ in range(rnd.randint(1, 5)):
        at = rnd.randrange(len(text))
        upto = min(len(text), at + rnd.choice([0, 0, 1, 3, 20, 200]))
        text = text[:at] + rnd.choice(PIECES) * rnd.choice([1, 1, 1, 3]) + text[upto:]
    data = text.encode(rnd.choice(["utf-8", "utf-8", "cp1252", "utf-16"]), errors="replace")
    return data[: rnd.randint(0, len(data))] if rnd.random() < 0.1 else data


def test_a_broken_file_is_read_or_refused_in_one_sentence() -> None:
    """If it failed, some damage to a file would end in a traceback (800 broken files, fixed seeds)."""
    text = whole_text()
    refusals: list[str] = []
    for seed in range(800):
        try:
            find_phases(log_from_bytes(broken(text, seed), file="log.csv"))
        except SensorcalError as error:
            refusals.append(str(error))
    assert 100 < len(refusals) < 760
    assert all(said.startswith("log.csv") and "\n" not in said for said in refusals)


@pytest.mark.parametrize(
    ("text", "row"), [('t,CLT C\n0,20\n1,"20\n2,21\n3,22\n', 3), ('t,CLT C,MAP kPa\n0,20,94\n1,"20\n', 3)]
)
def test_an_open_quotation_mark_is_named_by_its_row(text: str, row: int) -> None:
    """If it failed, one mark would swallow all the rows below it."""
    with pytest.raises(SensorcalError, match="quotation mark") as caught:
        log_from_bytes(text.encode(), file="log.csv")
    assert f"row {row}" in str(caught.value)


def test_phases_of_nonsense_are_phases_or_none() -> None:
    """If it failed, a log of broken channels could stop the judgement (600 logs of noise, fixed seed)."""
    rng = np.random.default_rng(11)
    for _ in range(600):
        n = int(rng.integers(1, 120))
        values = {}
        for channel in ("rpm", "map", "bus", "oil_pressure", "fuel_pressure", "coolant", "oat"):
            if rng.random() < 0.4:
                continue
            numbers = rng.normal(0.0, 1.0, n) * 10 ** rng.uniform(0.0, 6.0) + rng.choice([0.0, 12.0, 94e3, 2000.0])
            numbers = np.round(numbers, -2) if rng.random() < 0.3 else numbers
            numbers[rng.random(n) < rng.random() * (rng.random() < 0.4)] = np.nan
            values[channel] = np.full(n, numbers[0]) if rng.random() < 0.2 else numbers
        phases = find_phases(start_log(np.cumsum(rng.exponential(1.0, n) + 1e-3), values))
        assert phases.code.shape == (n,)
        assert all(span.end_s >= span.start_s for span in phases.spans)
