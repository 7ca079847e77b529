"""`sensorcal readback`: slips of tables of temperature and pressure, whole columns, and what still looks right."""

from __future__ import annotations

import json

import numpy as np
import pytest

from sensorcal.cli.main import main
from sensorcal.installed.keyedrows import keyed_rows
from sensorcal.installed.readbackrows import compare_rows, in_order

PROBE = ((50, 150), (78, 130), (98, 120), (125, 110), (172, 97.7), (325, 75), (721, 50), (2199, 20), (5230, 0))
OIL = ((0.5, 0), (1.3, 200), (2.1, 400), (2.9, 600), (3.7, 800), (4.5, 1000))


def text(rows, signal="ohm", value="degC"):
    """Rows as a CSV."""
    return "\n".join([f"signal [{signal}],value [{value}]", *(f"{a:.6g},{b:.6g}" for a, b in rows)]) + "\n"


def slips(made, keyed, signal="ohm", value="degC", **more):
    """Compare two lists of rows."""
    one, other = (keyed_rows(text(rows, signal, value).encode(), "t.csv") for rows in (made, keyed))
    return compare_rows(one, other, **more)


def changed(rows, row, column, entry):
    """The rows with one entry changed, rows counted from 1."""
    return tuple(
        tuple(entry if (i, j) == (row - 1, column) else cell for j, cell in enumerate(pair))
        for i, pair in enumerate(rows)
    )


def test_transposed_digits_cost_eleven_degrees():
    """If this fails, 172 keyed as 127, which stays in order, is not told with its 11.8 degC."""
    keyed = changed(PROBE, 5, 0, 127)
    (found,) = slips(PROBE, keyed)
    assert (found.row, found.column, found.likely) == (5, "signal", "digits transposed")
    assert found.error == pytest.approx(-11.8, abs=0.05)
    assert "11.8 cold, digits transposed" in found.sentence()
    assert in_order(keyed_rows(text(keyed).encode()))


def test_a_pressure_row_in_kpa():
    """If this fails, a row of the oil table keyed 100 instead of 200 has no size in kPa."""
    (found,) = slips(OIL, changed(OIL, 2, 1, 100), "V", "kPa")
    assert (found.true, found.shown, found.value_unit) == (200.0, 100.0, "kPa")
    assert "100 low, one digit wrong" in found.sentence()


@pytest.mark.parametrize(
    ("factor", "words"), [(1 / 6.894757, "kPa"), (0.01, "bar"), (10.0, "hPa")], ids=["psi", "bar", "hPa"]
)
def test_a_pressure_column_in_another_unit(factor, words):
    """If this fails, a column keyed in psi or bar is reported as six slips of the pen."""
    keyed = tuple((a, float(f"{b * factor:.4g}")) for a, b in OIL)
    (found,) = slips(OIL, keyed, "V", "kPa")
    assert found.row == 0
    assert words in found.likely
    assert found.shown == pytest.approx(1000 * factor, rel=1e-3)


def test_a_temperature_column_in_fahrenheit():
    """If this fails, a column of degF in a monitor of degC is reported row by row."""
    keyed = tuple((a, round(1.8 * b + 32)) for a, b in PROBE)
    (found,) = slips(PROBE, keyed)
    assert found.likely == "degF keyed as degC"


def test_ohms_keyed_as_kilohm():
    """If this fails, a signal column a thousand times too small is reported row by row."""
    (found,) = slips(PROBE, tuple((a / 1000, b) for a, b in PROBE))
    assert "another unit of the resistance" in found.likely


def test_two_slips_are_two_and_swapped_rows_are_named():
    """If this fails, the second slip hides behind the first, or an exchange of two rows is two riddles."""
    assert [one.row for one in slips(PROBE, changed(changed(PROBE, 2, 0, 87), 8, 1, 25))] == [2, 8]
    swapped = (*PROBE[:2], (PROBE[3][0], PROBE[2][1]), (PROBE[2][0], PROBE[3][1]), *PROBE[4:])
    found = slips(PROBE, swapped)
    assert {one.likely for one in found} == {"rows 3 and 4 swapped"}
    assert not in_order(keyed_rows(text(swapped).encode()))


def test_lines_in_ln_of_the_signal():
    """If this fails, the size is told for straight lines where the monitor draws them in ln."""
    keyed = changed(PROBE, 8, 1, 25)
    plain, log = slips(PROBE, keyed)[0], slips(PROBE, keyed, ln_signal=True)[0]
    assert plain.error == log.error == 5.0
    far = changed(PROBE, 5, 0, 271)
    assert slips(PROBE, far)[0].error != pytest.approx(slips(PROBE, far, ln_signal=True)[0].error, abs=0.1)


@pytest.mark.parametrize("unit", ["degF", "K"])
def test_all_as_made_in_any_unit(unit):
    """If this fails, a table keyed as made is accused because of the last bit of a conversion."""
    rows = tuple((a, float(np.round(b * 1.8 + 32, 1))) for a, b in PROBE)
    assert slips(rows, rows, "kohm", unit) == []


def test_the_command(tmp_path, capsys):
    """If this fails, the slip is not on the screen, or the warning that nothing on the panel looks wrong is missing."""
    made, keyed = tmp_path / "P1.csv", tmp_path / "back.csv"
    made.write_text("# record\n" + text(PROBE), encoding="utf-8")
    keyed.write_text(text(changed(PROBE, 5, 0, 127)), encoding="utf-8")
    assert main(["readback", str(made), str(keyed)]) == 0
    said = capsys.readouterr().out
    assert "1 of 9 rows wrong" in said
    assert "row 5: 172 keyed as 127" in said
    assert "nothing on the panel looks wrong" in said
    assert main(["readback", str(made), str(keyed), "--json"]) == 0
    machine = json.loads(capsys.readouterr().out)
    assert machine["in_order"]
    assert machine["slips"][0]["error"] == pytest.approx(-11.8, abs=0.05)
    assert main(["readback", str(made), str(made)]) == 0
    assert "All 9 rows as made" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("keyed", "word"),
    [
        (text(PROBE[:-1]), "8 rows read back, but the table has 9"),
        (text(OIL, "V", "kPa"), "6 rows"),
        (text(PROBE, "V"), "holds a resistance"),
        (text(PROBE).replace("172", "1x2"), "row 6"),
    ],
    ids=["row left out", "another table", "another signal", "no number"],
)
def test_a_mistake_gets_one_line(keyed, word, tmp_path, capsys):
    """If this fails, a row left out is compared with its neighbour."""
    one, other = tmp_path / "a.csv", tmp_path / "b.csv"
    one.write_text(text(PROBE), encoding="utf-8")
    other.write_text(keyed, encoding="utf-8")
    assert main(["readback", str(one), str(other)]) == 2
    error = capsys.readouterr().err
    assert word in error
    assert error.count("\n") == 1


def test_help_shows_an_example(capsys):
    """If this fails, the options alone have to tell how to begin."""
    with pytest.raises(SystemExit):
        main(["readback", "--help"])
    assert "  sensorcal readback tables" in capsys.readouterr().out
