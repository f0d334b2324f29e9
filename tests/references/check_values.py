"""The handbook's check values: what was computed or read elsewhere, with its source beside each."""

from __future__ import annotations

import csv
import re
from dataclasses import dataclass
from functools import cache
from pathlib import Path

__all__ = ["CheckValue", "Row", "check_value", "check_values", "rows_of"]


@dataclass(frozen=True, slots=True)
class CheckValue:
    """One row of check_values.csv; ``expected`` and ``tolerance`` as numbers where they are numbers."""

    topic: str
    quantity: str
    inputs: str
    expected: float | str
    unit: str
    tolerance: float
    source: str
    status: str


@dataclass(frozen=True)
class Row:
    """One row to be recomputed; an "as above" in its inputs is written out."""

    number: int
    quantity: str
    inputs: str
    expected: float
    tolerance: float
    source: str
    status: str

    @property
    def n(self) -> dict[str, float]:
        """Numbers of the inputs by their names."""
        return {name.strip(): float(value) for name, value in re.findall(r"([\w/ ]+?)=([\d.]+)", self.inputs)}

    def __str__(self) -> str:
        return f"row {self.number}: {self.quantity} [{self.inputs}] ({self.status}: {self.source[:60]})"


def rows_of(topic: str) -> list[Row]:
    """The rows of one topic whose expected value is a number, in the order of the file.

    A row that stands for a range or for words ("0.4..1.3", "<10") has nothing to recompute and is left out.
    """
    found: list[Row] = []
    above = ""
    for number, row in enumerate(check_values(), start=2):
        if row.topic != topic:
            continue
        inputs = row.inputs
        if inputs.startswith("as above"):
            inputs = above.partition(" plus ")[0] + inputs.removeprefix("as above")
        above = inputs
        if isinstance(row.expected, float):
            found.append(Row(number, row.quantity, inputs, row.expected, row.tolerance, row.source, row.status))
    return found


@cache
def check_values() -> tuple[CheckValue, ...]:
    """All rows."""
    with Path(__file__).with_name("check_values.csv").open(encoding="utf-8", newline="") as stream:
        return tuple(_row(row) for row in csv.DictReader(stream))


def check_value(quantity: str, inputs: str) -> CheckValue:
    """The one row with this quantity and these inputs."""
    found = [row for row in check_values() if row.quantity == quantity and row.inputs == inputs]
    assert len(found) == 1, f"{len(found)} rows for {quantity}; {inputs}"
    return found[0]


def _row(row: dict[str, str]) -> CheckValue:
    tolerance = row.pop("tolerance")
    expected = row.pop("expected")
    # "7E8" is an identifier and no number of seven hundred million.
    value = expected if row["unit"] == "hex" else _number(expected)
    return CheckValue(**row, expected=value, tolerance=float(tolerance) if tolerance else 0.0)


def _number(text: str) -> float | str:
    try:
        return float(text)
    except ValueError:
        return text
