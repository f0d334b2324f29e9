"""The catalogue cut down to the timing drive: what both sides of the drive's own measures take for the list."""

from __future__ import annotations

from witnessmark.catalogue import faults
from witnessmark.catalogue.faultrows import Catalogue

__all__ = ["DRIVE", "SYSTEM"]

SYSTEM = ("drive",)
_PURE_WORK = 0.1  # of its prior is what a fault of earlier work has where nobody worked


def _drive() -> Catalogue:
    whole = faults.catalogue()
    mine = tuple(row for row in whole.rows if row.system in SYSTEM)
    rest = sum(row.prior * (_PURE_WORK if row.onset == "W" else 1.0) for row in whole.rows if row.system not in SYSTEM)
    return Catalogue(mine, {**whole.others, "elsewhere": whole.others["elsewhere"] + rest})


DRIVE = _drive()
"""The drive's rows; what all other faults would take falls to "elsewhere"."""
