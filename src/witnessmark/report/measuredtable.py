"""Rows and tables of what was measured, as the page and the terminal show them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

__all__ = ["NOTHING", "MeasuredRow", "MeasuredTable", "id_range"]

NOTHING = "–"
"""Stands where nothing is expected."""


@dataclass(frozen=True, slots=True)
class MeasuredRow:
    """A finding against what the leading hypothesis expects of it.

    ``at`` and ``expects`` are value and spread on the shared axis, in degrees, + = early;
    None where the quantity is no angle, or nothing is expected of it.
    """

    ids: str
    what: str
    value: str
    expected: str
    by_hand: bool
    at: tuple[float, float] | None
    expects: tuple[float, float] | None


@dataclass(frozen=True, slots=True)
class MeasuredTable:
    """Findings taken under one condition; ``quiet`` sums up those that say that nothing happened."""

    head: str
    rows: tuple[MeasuredRow, ...]
    quiet: str = ""

    @property
    def has_expected(self) -> bool:
        """Whether anything is expected of any row."""
        return any(row.expected not in ("", NOTHING) for row in self.rows)


def id_range(ids: Iterable[str]) -> str:
    """Ids in short: "f3", "f3 f4", "f10 to f15" where three and more follow one another."""
    names = list(ids)
    numbers = [int(name[1:]) for name in names if name[1:].isdigit()]
    if len(numbers) == len(names) > 2 and numbers == list(range(numbers[0], numbers[0] + len(numbers))):
        return f"{names[0]} to {names[-1]}"
    return " ".join(names)
