"""Two lists of rows compared, the table that was made and the one read back from the monitor: degC or kPa alike."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from sensorcal import units
from sensorcal.calibration.unitslip import unit_from_slope
from sensorcal.errors import TableError
from sensorcal.installed.chainparts import FloatArray
from sensorcal.installed.keyedrows import COUNTS, KeyedRows
from sensorcal.installed.readback import likely_slip

_SAME = 1e-9
_FACTOR = 2e-3
_POINTS = 4001


@dataclass(frozen=True, slots=True, kw_only=True)
class KeyedSlip:
    """One entry that was keyed differently, or a whole column in another unit.

    Attributes
    ----------
    row : int
        Counted from 1; 0 for a whole column.
    column : {'signal', 'value'}
    made, keyed : str
        Entries as they stand in the two lists; empty for a whole column.
    likely : str
        The likely slip.
    true, shown : float
        Where this slip alone does most harm: the right reading, and what the monitor then shows, in `value_unit`.
    value_unit : str
        Unit of the table's readings.
    """

    row: int
    column: str
    made: str
    keyed: str
    likely: str
    true: float
    shown: float
    value_unit: str

    @property
    def error(self) -> float:
        """Shown minus true, in `value_unit`."""
        return self.shown - self.true

    def sentence(self) -> str:
        """Say it in one line: 'row 7: 172 keyed as 127: true 109.4 shows 97.6, 11.8 low, digits transposed'."""
        words = ("hot", "cold") if units.dimension(self.value_unit) == "temperature" else ("high", "low")
        side = words[0] if self.error > 0 else words[1]
        head = f"row {self.row}: {self.made} keyed as {self.keyed}"
        if not self.row:
            head = f"the whole column of {self.column}s"
        reads = f"true {_short(self.true)} shows {_short(self.shown)} {self.value_unit}"
        return f"{head}: {reads}, {_short(abs(self.error))} {side}, {self.likely}"


def compare_rows(made: KeyedRows, keyed: KeyedRows, *, ln_signal: bool = False) -> list[KeyedSlip]:
    r"""Find every entry that was keyed differently, with the harm that it does by itself.

    Parameters
    ----------
    made : KeyedRows
        The table that was made; its own readings count as true.
    keyed : KeyedRows
        As read back from the monitor, in the same order.
    ln_signal : bool
        Whether the monitor draws its lines in ln of the signal.

    Returns
    -------
    list of KeyedSlip
        By row; empty when all is as made. One line for a whole column that is off by the factor of a unit.

    Raises
    ------
    TableError
        If the number of rows differs, or the two lists hold different quantities.

    References
    ----------
    Reading back what was keyed: common practice, no source.

    Examples
    --------
    >>> from sensorcal.installed.keyedrows import keyed_rows
    >>> made = keyed_rows(b"signal [V],value [kPa]\n0.50,0\n2.50,500\n4.50,1000\n")
    >>> keyed = keyed_rows(b"signal [V],value [kPa]\n0.50,0\n2.50,5000\n4.50,1000\n")
    >>> print(compare_rows(made, keyed)[0].sentence())
    row 2: 500 keyed as 5000: true 500 shows 5000 kPa, 4500 high, decimal point or a zero misplaced
    """
    n = made.signal.size
    if keyed.signal.size != n:
        raise TableError(
            f"{keyed.signal.size} rows read back, but the table has {n}", do="look for a row left out or keyed twice"
        )
    for name in ("signal_unit", "value_unit"):
        one, other = (_quantity(getattr(rows, name)) for rows in (made, keyed))
        if one != other:
            raise TableError(f"the table holds a {one}, what was read back a {other}", do="take the right two files")
    slips: list[KeyedSlip] = []
    for column, unit in (("signal", made.signal_unit), ("value", made.value_unit)):
        ours, theirs = (_in_unit(getattr(rows, column), unit) for rows in (made, keyed))
        differ = np.flatnonzero(np.abs(ours - theirs) > _SAME * np.maximum(np.abs(ours), 1.0))
        whole = _whole_column(ours, theirs, unit) if differ.size > max(2, n // 2) else ""
        if whole:
            slips.append(_slip(made, column, theirs, None, whole, ln_signal=ln_signal))
            continue
        for row in differ.tolist():
            texts = f"{ours[row]:.8g}", f"{theirs[row]:.8g}"
            likely = likely_slip(ours, theirs, row, *texts)
            entries = ours.copy()
            entries[row] = theirs[row]
            slip = _slip(made, column, entries, row, likely, ln_signal=ln_signal)
            slips.append(replace(slip, made=texts[0], keyed=texts[1]))
    return sorted(slips, key=lambda slip: (slip.row, slip.column))


def in_order(rows: KeyedRows) -> bool:
    """Whether rows run strictly one way in both columns, so that a monitor would take them."""
    signal, value = np.diff(rows.signal), np.diff(rows.value)
    return bool(((signal > 0).all() or (signal < 0).all()) and ((value > 0).all() or (value < 0).all()))


def _short(value: float) -> str:
    """Tenths below a hundred, whole numbers above; hundredths below one."""
    size = abs(value)
    text = f"{value:.{0 if size >= 99.95 else 1 if size >= 0.995 else 2}f}"
    return text if float(text) else "0"


def _quantity(unit: str) -> str:
    return unit if unit == COUNTS else units.dimension(unit)


def _in_unit(values: FloatArray, unit: str) -> FloatArray:
    """Values as they stand on the page, free of the last bits of a conversion."""
    shown = values if unit == COUNTS else np.asarray(units.from_si(values, unit))
    return np.asarray([float(f"{value:.12g}") for value in shown])


def _whole_column(ours: FloatArray, theirs: FloatArray, unit: str) -> str:
    """Name the unit slip of a whole column; '' where it is none."""
    kind = _quantity(unit)
    if kind == "temperature":
        for name, other in (("degF keyed as degC", 1.8 * ours + 32.0), ("degC keyed as degF", (ours - 32.0) / 1.8)):
            if np.abs(theirs - other).max() <= 0.6:
                return name
        return ""
    told = ours != 0.0
    if told.sum() < 2 or np.abs(theirs[~told]).max(initial=0.0) > 0.0:
        return ""
    ratios = theirs[told] / ours[told]
    middle = float(np.median(ratios))
    if not middle > 0.0 or np.abs(ratios / middle - 1.0).max() > 0.02:
        return ""
    if kind == "pressure":
        # Keyed pressures too large by f: a slope of 1/f in signal per pressure.
        guesses = unit_from_slope(1.0 / middle, tolerance_ratio=0.01, taken_as=unit)
        return guesses[0].text if guesses else ""
    if abs(np.log10(middle) - round(np.log10(middle))) < _FACTOR and round(np.log10(middle)) != 0:
        return f"a factor of {middle:.4g}: another unit of the {kind}"
    return ""


def _slip(
    made: KeyedRows, column: str, entries: FloatArray, row: int | None, likely: str, *, ln_signal: bool
) -> KeyedSlip:
    """Where rows with these entries differ most from the table, over the signals between its ends."""
    x, y = _in_unit(made.signal, made.signal_unit), _in_unit(made.value, made.value_unit)
    x_keyed, y_keyed = (entries, y) if column == "signal" else (x, entries)
    ends = float(x.min()), float(x.max())
    at = np.unique(np.concatenate([x, np.linspace(*ends, _POINTS), np.clip(x_keyed, *ends)]))
    true, shown = _read(x, y, at, ln_signal=ln_signal), _read(x_keyed, y_keyed, at, ln_signal=ln_signal)
    worst = int(np.argmax(np.abs(shown - true)))
    return KeyedSlip(
        row=0 if row is None else row + 1, column=column, made="", keyed="", likely=likely, true=float(true[worst]),
        shown=float(shown[worst]), value_unit=made.value_unit,
    )  # fmt: skip


def _read(x: FloatArray, y: FloatArray, at: FloatArray, *, ln_signal: bool) -> FloatArray:
    """Straight lines between the rows, the ends held; rows out of order are taken by their signal."""
    order = np.argsort(x, kind="stable")
    if ln_signal and (x > 0.0).all() and (at > 0.0).all():
        return np.asarray(np.interp(np.log(at), np.log(x[order]), y[order]))
    return np.asarray(np.interp(at, x[order], y[order]))
