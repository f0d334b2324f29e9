"""The handbook's check values: what was computed or read elsewhere, with its source beside each."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache
from pathlib import Path

__all__ = ["CheckValue", "check_value", "check_values"]


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
    return CheckValue(**row, expected=_number(expected), tolerance=float(tolerance) if tolerance else 0.0)


def _number(text: str) -> float | str:
    try:
        return float(text)
    except ValueError:
        return text
