"""How one log of the forty is described, filled from the small car, and written with its right answers.

A column is one line of text: ``heading | signal | unit of the file | digits | option: value | …``; a line that begins
with "  | " goes on with the one above it. The options:

``of: KEY``          value of the simulation it shows, where that is not the signal's own text
``scale: A B``       written number = A · value + B, after the unit (a lie of the file)
``ask: S, S``        a careful person could not know: the signals that are acceptable as a first candidate
``or: S, S``         signals that are as right, without a question
``must``             answering without a question is never right here
``claims: UNIT``     the unit that the file itself states, where it is wrong
``why: WORDS``       what the question is about
``also: U, U``       other names of units that are as right
``row: TEXT``        what stands in the row of units
``cell: TEXT``       what follows each number inside its cell
``every: N K``       filled in every Nth row only, from row K
``rate: S START``    a block with its own time: one sample each S seconds from START, empty cells below its end
``missing: SHARE M`` share of cells that hold M instead
``words: A/B/C``     text, each word for a stretch of rows
``open: A/B``        text by closed or open loop
``blank``            no value in any row
``group: C``         C between thousands
``stamp: WAY``       a time as "hms", "hms0" (elapsed), "clock", "date", "iso"
"""

from __future__ import annotations

import csv
import io
import json
from dataclasses import dataclass, field
from datetime import datetime, timedelta

import numpy as np

from tests.data.headers.vehicle import Car, Values, simulate

__all__ = ["TROUBLES", "UNITS", "Column", "Sheet", "answers"]

TROUBLES = (
    "abbreviated", "accents broken", "accents transliterated", "ambiguous heading", "blocks with own time",
    "camel case", "clock", "date and time", "decimal comma", "duplicated heading", "elapsed as h:m:s",
    "empty column", "heading lies", "latin-1", "milliseconds", "missing cells", "misspelt", "mixed units",
    "no separator at all in names", "no time column", "preamble", "quoted cells", "repeated header",
    "semicolons", "several rates", "snake case", "swapped banks", "tabs", "text cells", "thousands",
    "trailing delimiter", "truncated row", "unit after slash", "unit in brackets", "unit in cells",
    "unit in second row", "units missing", "upper case", "utf-16", "utf-8 mark", "vowels missing", "wrong unit",
)  # fmt: skip

# Unit of the file: value in it = factor · value in the parameter's own unit + offset. Factors by the definitions of the
# units (pound force per square inch 6.894757 kPa, kilogram force per square centimetre 98.0665 kPa, inch of mercury
# 3.386389 kPa, pound 453.59237 g, mile 1.609344 km).
UNITS: dict[str, tuple[float, float]] = {
    "psi": (1.0 / 6.894757, 0.0), "mbar": (10.0, 0.0), "hPa": (10.0, 0.0), "bar": (0.01, 0.0), "MPa": (0.001, 0.0),
    "inHg": (1.0 / 3.386389, 0.0), "mmHg": (1.0 / 0.133322387415, 0.0), "F": (1.8, 32.0), "K": (1.0, 273.15),
    "mph": (1.0 / 1.609344, 0.0), "mi": (1.0 / 1.609344, 0.0), "kg/h": (3.6, 0.0), "lb/min": (60.0 / 453.59237, 0.0),
    "m/s": (1.0 / 3.6, 0.0), "mV": (1000.0, 0.0), "ms_of_s": (1000.0, 0.0), "min_of_s": (1.0 / 60.0, 0.0),
    "us": (1000.0, 0.0), "gal/h": (1.0 / 3.785411784, 0.0), "A_of_mA": (0.001, 0.0), "fraction": (0.01, 0.0),
    "AFR": (14.7, 0.0), "lbf ft": (1.0 / 1.3558179483, 0.0), "h_of_min": (1.0 / 60.0, 0.0),
    "kgf/cm2": (1.0 / 98.0665, 0.0),
}  # fmt: skip


@dataclass(frozen=True)
class Column:
    """One column: its line, taken apart."""

    heading: str
    signal: str
    unit: str
    digits: int
    options: dict[str, str]

    @classmethod
    def of(cls, line: str) -> Column:
        heading, signal, unit, digits, *rest = (part.strip() for part in line.split(" | "))
        options = {}
        for part in rest:
            key, _, value = part.partition(":")
            options[key.strip()] = value.strip()
        return cls(heading.replace("¦", "|").strip('"'), signal, "" if unit == "-" else unit, int(digits), options)

    @property
    def file_unit(self) -> str:
        """The unit's name as the answers give it."""
        return self.unit.partition("_of_")[0]


@dataclass(frozen=True)
class Sheet:
    """One file.

    Parameters
    ----------
    number : int
    language : str
    lines : str
        One column a line; see the module.
    trouble : tuple of str
        Of :data:`TROUBLES`.
    car : Car
    rows, step_s : int, float
    delimiter, decimal, encoding, newline : str
    preamble : tuple of str
        Lines above the header.
    unit_row, trailing, cut, mojibake : bool
        A row of units under the header; a delimiter at each row's end; the last row cut; accents read wrongly once.
    repeat : int
        The header again after that many rows; 0 for never.
    order : str
        Heading's signal that orders the rows where there is no time column.
    """

    number: int
    language: str
    lines: str
    trouble: tuple[str, ...]
    car: Car = field(default_factory=Car)
    rows: int = 40
    step_s: float = 0.5
    delimiter: str = ","
    decimal: str = "."
    encoding: str = "utf-8"
    newline: str = "\n"
    preamble: tuple[str, ...] = ()
    unit_row: bool = False
    trailing: bool = False
    cut: bool = False
    mojibake: bool = False
    repeat: int = 0
    began: datetime = datetime(2031, 3, 14, 9, 41, 7)

    @property
    def name(self) -> str:
        return f"{self.number:02d}.csv"

    @property
    def columns(self) -> tuple[Column, ...]:
        whole = self.lines.replace("\n  | ", " | ")
        return tuple(Column.of(line) for line in whole.strip().splitlines())

    def headings(self) -> list[str]:
        """As they stand in the file."""
        found = [column.heading for column in self.columns]
        return [_misread(name) for name in found] if self.mojibake else found

    def write(self) -> bytes:
        """The file's bytes."""
        lasts = self.rows * self.step_s + 2.0
        values = simulate(self.car, lasts, 7000 + self.number)
        rng = np.random.default_rng(90_000 + self.number)
        cells = [self._cells(column, values, rng) for column in self.columns]
        rows = [list(row) for row in zip(*cells, strict=True)]
        head = [column.heading for column in self.columns]
        lines = [*self.preamble, self._line(head)]
        if self.unit_row:
            lines.append(self._line([c.options.get("row", c.file_unit) for c in self.columns]))
        for i, row in enumerate(rows):
            if self.repeat and i == self.repeat:
                lines.append(self._line(head))
            lines.append(self._line(row))
        if self.cut:
            lines[-1] = lines[-1][: int(len(lines[-1]) * 0.55)]
        text = self.newline.join(lines) + ("" if self.cut else self.newline)
        return (_misread(text) if self.mojibake else text).encode(self.encoding)

    def _line(self, cells: list[str]) -> str:
        out = io.StringIO()
        csv.writer(out, delimiter=self.delimiter, lineterminator="").writerow(cells)
        return out.getvalue() + (self.delimiter if self.trailing else "")

    def _times(self, column: Column) -> Values:
        rate = column.options.get("rate", "").split()
        each = float(rate[0]) if rate else self.step_s
        start = float(rate[1]) if len(rate) > 1 else 0.0
        times = start + each * np.arange(self.rows)
        return np.where(times <= self.rows * self.step_s, times, np.nan)

    def _cells(self, column: Column, values: dict[str, Values], rng: np.random.Generator) -> list[str]:
        options, times = column.options, self._times(column)
        numbers = self._numbers(column, values, times)
        every = [int(word) for word in options.get("every", "1 0").split()]
        missing = options.get("missing", "").split(" ", 1)
        opened = np.interp(np.nan_to_num(times), values["time"], values["_open"]) > 0.5
        cells = []
        for i, at in enumerate(times):
            if np.isnan(at) or i % every[0] != every[1] or "blank" in options:
                cells.append("")
            elif missing[0] and rng.random() < float(missing[0]):
                cells.append(missing[1])
            elif "words" in options:
                words = options["words"].split("/")
                cells.append(words[min(i * len(words) // self.rows, len(words) - 1)])
            elif "open" in options:
                cells.append(options["open"].split("/")[int(opened[i])])
            elif "stamp" in options:
                cells.append(self._stamp(options["stamp"], at, numbers[i]))
            else:
                cells.append(self._number(column, numbers[i]))
        return cells

    def _numbers(self, column: Column, values: dict[str, Values], times: Values) -> Values:
        key = column.options.get("of", column.signal)
        at = np.nan_to_num(times)
        if key == "time":
            found = at
        elif key not in values:
            found = np.zeros(times.size)
        elif key in ("gear", "warm_ups", "idle_target", "_open") or key.startswith("misfire"):
            found = values[key][np.searchsorted(values["time"], at - 1e-9)]
        else:
            found = np.interp(at, values["time"], values[key])
        factor, offset = UNITS.get(column.unit, (1.0, 0.0))
        found = factor * found + offset
        if "scale" in column.options:
            a, b = (float(word) for word in column.options["scale"].split())
            found = a * found + b
        if column.options.get("less") == "baro":
            found = found - UNITS.get(column.unit, (1.0, 0.0))[0] * self.car.baro_kpa
        return found

    def _stamp(self, way: str, at: float, number: float) -> str:
        if way in ("hms", "hms0"):
            whole = int(number)
            text = f"{whole // 3600:02d}:{whole // 60 % 60:02d}:{whole % 60:02d}"
            return text if way == "hms" else f"{text}{self.decimal}{int(round(number % 1.0, 3) * 10) % 10}"
        moment = self.began + timedelta(seconds=float(at))
        tenth = f"{self.decimal}{moment.microsecond // 100_000}"
        if way == "clock":
            return moment.strftime("%H:%M:%S") + tenth
        if way == "iso":
            return moment.strftime("%Y-%m-%dT%H:%M:%S") + f".{moment.microsecond // 1000:03d}"
        return moment.strftime("%d.%m.%Y %H:%M:%S" if self.language == "de" else "%d/%m/%Y %H:%M:%S") + tenth

    def _number(self, column: Column, value: float) -> str:
        text = f"{value:,.{column.digits}f}" if "group" in column.options else f"{value:.{column.digits}f}"
        if float(text.replace(",", "")) == 0.0:
            text = text.lstrip("-")
        mark = {",": column.options.get("group", "").replace("_", " "), ".": self.decimal}
        cell = column.options.get("cell", "").replace("_", " ")
        return "".join(mark.get(letter, letter) for letter in text) + cell


def answers(sheets: list[Sheet]) -> str:
    """The right answers of some files, as TOML.

    Parameters
    ----------
    sheets : list of Sheet

    Returns
    -------
    str
    """
    out = ["# The right answers. Made by make.py beside the files; how to read them: README.md and score.py.", ""]
    for sheet in sheets:
        signals = [column.signal for column in sheet.columns]
        order = next((signals.index(name) for name in ("time", "clock", "run_time") if name in signals), None)
        out += [
            "[[file]]",
            f"name = {_text(sheet.name)}",
            f"language = {_text(sheet.language)}",
            f"encoding = {_text(sheet.encoding)}",
            f"delimiter = {_text(sheet.delimiter)}",
            f"decimal = {_text(sheet.decimal)}",
            f"header_line = {len(sheet.preamble) + 1}",
            f"rows = {sheet.rows - sheet.cut}",
            f"truncated = {_bool(sheet.cut)}",
            f"time = {signals.index('time') if 'time' in signals else _text('none')}",
            f"order = {_text('none') if order is None else order}",
            f"trouble = [{', '.join(_text(word) for word in sorted(sheet.trouble))}]",
            "",
        ]
        for i, (column, heading) in enumerate(zip(sheet.columns, sheet.headings(), strict=True)):
            out += _answer(i, heading, column)
    return "\n".join(out)


def _answer(index: int, heading: str, column: Column) -> list[str]:
    options = column.options
    lines = ["[[file.column]]", f"index = {index}", f"heading = {_text(heading)}", f"signal = {_text(column.signal)}"]
    if column.unit:
        lines.append(f"unit = {_text(column.file_unit)}")
    for key, name in (("also", "units_also"), ("or", "signals_also"), ("ask", "candidates")):
        if key in options:
            words = ", ".join(_text(word.strip()) for word in options[key].split(","))
            lines += ["ask = true"] * (key == "ask") + [f"{name} = [{words}]"]
    if "must" in options:
        lines.append("must_ask = true")
    for key in ("claims", "why"):
        if key in options:
            lines.append(f"{key} = {_text(options[key])}")
    return [*lines, ""]


def _misread(text: str) -> str:
    """Text written as UTF-8 and read once as Latin-1."""
    return text.encode("utf-8").decode("latin-1")


def _text(value: str) -> str:
    return json.dumps(value, ensure_ascii=False)


def _bool(value: bool) -> str:
    return "true" if value else "false"
