"""Invented logs as files, in as many dialects as loggers and spreadsheets have: headings, units, separators, times.

The headings are trade words and unit symbols only; none is taken from any product.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import ArrayLike

from sensorcal.errors import InputError
from sensorcal.firststart.channels import CHANNELS, DIMENSION
from sensorcal.firststart.simulate_cases import Rng
from sensorcal.firststart.startlog import StartLog
from sensorcal.units import from_si

_WORDS: dict[str, tuple[str, ...]] = {
    "coolant": ("Coolant", "Coolant temp", "Water temp", "CLT", "coolant_temperature", "CoolantTemp", "ECT"),
    "gearbox_oil": ("Gearbox oil", "Gearbox oil temp", "gearbox_oil", "GearboxOilTemp", "Gear oil temp"),
    "charge_in": ("Charge air in", "Charge before cooler", "charge_in", "Compressor outlet", "ChargeAirIn"),
    "charge_out": ("Charge air out", "Charge after cooler", "charge_out", "Intercooler out", "ChargeAirOut"),
    "oil_pressure": ("Oil pressure", "Oil press", "oil_pressure", "OilPressure", "Oil P"),
    "fuel_pressure": ("Fuel pressure", "Fuel press", "fuel_pressure", "FuelPressure", "Fuel P"),
    "map": ("MAP", "Manifold pressure", "manifold_pressure", "ManifoldPressure", "Manifold"),
    "rpm": ("RPM", "Engine speed", "engine_speed", "EngineSpeed"),
    "bus": ("Bus", "Volts", "Bus voltage", "Battery", "bus_voltage"),
    "oat": ("OAT", "Outside air temp", "Ambient", "outside_air_temperature", "OutsideAir"),
}
_SYMBOLS = {
    "degC": ("°C", "degC", "C"), "degF": ("°F", "degF", "F"), "kPa": ("kPa", "kpa"), "bar": ("bar",), "psi": ("psi",),
    "hPa": ("hPa", "mbar"), "inHg": ("inHg", "in Hg"), "V": ("V",), "1/min": ("rpm", "1/min"),
}  # fmt: skip
_STYLES = ("bracket", "paren", "comma", "suffix", "none")
TIMES = ("s", "ms", "min", "clock", "date")
"""How a log tells the time: seconds, milliseconds, minutes, h:mm:ss, or date and time."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LogDialect:
    r"""How a log is written.

    Parameters
    ----------
    separator : {',', ';', 'tab'}
    decimal : {'.', ','}
        Never both commas.
    temperature, pressure, manifold : str
        Units of the temperatures, of oil and fuel, and of the manifold.
    time : str
        One of `TIMES`.
    headings : mapping of str to str
        By channel, without its unit; the channel's first trade word where left out.
    style : {'bracket', 'paren', 'comma', 'suffix', 'none'}
        How the unit stands in the heading: [kPa], (kPa), ', kPa', _kpa, or not at all.
    symbol : int
        Which spelling of a unit's symbol.
    blank : str
        What stands in an empty cell: '', 'NaN', '---'.
    bom : bool
        A byte-order mark at the beginning.
    preamble : tuple of str
        Lines above the headings.
    newline : {'\\n', '\\r\\n'}

    Raises
    ------
    InputError
        A comma that both separates and marks decimals, or an unknown word.

    Examples
    --------
    >>> LogDialect(separator=";", decimal=",", pressure="bar").heading("oil_pressure")
    'Oil pressure [bar]'
    """

    separator: str = ","
    decimal: str = "."
    temperature: str = "degC"
    pressure: str = "kPa"
    manifold: str = "kPa"
    time: str = "s"
    headings: Mapping[str, str] | None = None
    style: str = "bracket"
    symbol: int = 0
    blank: str = ""
    bom: bool = False
    preamble: tuple[str, ...] = ()
    newline: str = "\n"

    def __post_init__(self) -> None:
        """Refuse what no reader could take apart."""
        if self.separator == self.decimal:
            raise InputError("a comma cannot both separate and mark decimals", do="take ';' or 'tab'")
        if self.separator not in {",", ";", "tab"} or self.style not in _STYLES or self.time not in TIMES:
            raise InputError("that dialect of a log is not known", do="see LogDialect")

    def unit(self, channel: str) -> str:
        """Unit of a channel's column."""
        kind = DIMENSION[channel]
        if kind == "pressure":
            return self.manifold if channel == "map" else self.pressure
        return {"temperature": self.temperature, "voltage": "V", "speed": "1/min"}[kind]

    def heading(self, channel: str) -> str:
        """Heading of a channel's column with its unit."""
        word = (self.headings or {}).get(channel, _WORDS[channel][0])
        return self._with_unit(word, self.unit(channel))

    def time_heading(self) -> str:
        """Heading of the time's column."""
        if self.time in {"clock", "date"}:
            return {"clock": "Time", "date": "Date time"}[self.time]
        return self._with_unit("Time", self.time)

    def _with_unit(self, word: str, unit: str) -> str:
        symbols = _SYMBOLS.get(unit, (unit,))
        symbol = symbols[self.symbol % len(symbols)]
        if self.style == "none":
            return word
        if self.style == "suffix":
            plain = {"°C": "degC", "°F": "degF", "1/min": "rpm", "in Hg": "inHg"}.get(symbol, symbol)
            return f"{word}_{plain}".replace(" ", "_")
        if self.style == "comma" and self.separator != ",":
            return f"{word}, {symbol}"
        return f"{word} ({symbol})" if self.style == "paren" else f"{word} [{symbol}]"


def draw_dialect(rng: Rng) -> LogDialect:
    """Draw a dialect; its units always stand in the headings or are those of the house.

    Examples
    --------
    >>> import numpy as np
    >>> draw_dialect(np.random.default_rng(0)).time in TIMES
    True
    """
    separator = str(rng.choice([",", ",", ";", "tab"]))
    style = str(rng.choice(_STYLES))
    plain = style == "none"
    return LogDialect(
        separator=separator,
        decimal="," if separator != "," and rng.random() < 0.5 else ".",
        temperature="degC" if plain else str(rng.choice(["degC", "degC", "degF"])),
        pressure="kPa" if plain else str(rng.choice(["kPa", "kPa", "bar", "psi"])),
        manifold="kPa" if plain else str(rng.choice(["kPa", "kPa", "hPa", "inHg"])),
        time=str(rng.choice(TIMES)) if not plain else str(rng.choice(["s", "clock", "date"])),
        headings={channel: str(rng.choice(_WORDS[channel])) for channel in CHANNELS},
        style=style,
        symbol=int(rng.integers(3)),
        blank=str(rng.choice(["", "NaN", "---"])),
        bom=bool(rng.random() < 0.2),
        preamble=("# invented log of a first start", "# logger 3") if rng.random() < 0.3 else (),
        newline=str(rng.choice(["\n", "\r\n"])),
    )


def write_log_csv(
    log: StartLog, path: str | Path, *, dialect: LogDialect | None = None, clock_s: ArrayLike | None = None
) -> Path:
    """Write a log as a text table in a dialect.

    Parameters
    ----------
    log : StartLog
    path : path
        Written anew.
    dialect : LogDialect, optional
        Commas, seconds, degC and kPa where left out.
    clock_s : array_like, shape (n,), optional
        What the logger's own clock wrote, where it began anew; the log's time where left out.

    Returns
    -------
    Path

    Raises
    ------
    InputError
        A clock of another length.
    """
    way = dialect or LogDialect()
    file = Path(path)
    file.write_bytes(log_text(log, dialect=way, clock_s=clock_s).encode("utf-8-sig" if way.bom else "utf-8"))
    return file


def log_text(log: StartLog, *, dialect: LogDialect | None = None, clock_s: ArrayLike | None = None) -> str:
    """Give a log as the text of a table; see `write_log_csv`."""
    way = dialect or LogDialect()
    seconds = log.time_s if clock_s is None else np.asarray(clock_s, dtype=float)
    if seconds.shape != log.time_s.shape:
        raise InputError(f"{seconds.size} clock times stand for {log.time_s.size} rows")
    columns = [[_time(second, way) for second in seconds.tolist()]]
    head = [way.time_heading()]
    for channel, values in log.values.items():
        head.append(way.heading(channel))
        unit = way.unit(channel)
        numbers = values if unit == "1/min" else np.asarray(from_si(values, unit))
        # Ten digits: what was shown comes back, and 21.3 is not 21.299999999999997.
        columns.append([_number(number, way) for number in numbers.tolist()])
    joint = "\t" if way.separator == "tab" else way.separator
    lines = [*way.preamble, joint.join(head), *(joint.join(row) for row in zip(*columns, strict=True))]
    return way.newline.join(lines) + way.newline


def _number(number: float, way: LogDialect) -> str:
    if math.isnan(number):
        return way.blank
    text = f"{number:.10g}"
    return text.replace(".", ",") if way.decimal == "," else text


def _time(second: float, way: LogDialect) -> str:
    if way.time in {"clock", "date"}:
        hundredths = round((second + 36_000.0) * 100.0)
        minutes, rest = divmod(hundredths, 6000)
        hours, minute = divmod(minutes, 60)
        clock = f"{hours:02d}:{minute:02d}:{rest // 100:02d}.{rest % 100:02d}"
        text = clock if way.time == "clock" else f"2026-06-20 {clock}"
    else:
        text = f"{second / {'s': 1.0, 'ms': 1e-3, 'min': 60.0}[way.time]:.10g}"
    return text.replace(".", ",") if way.decimal == "," else text
