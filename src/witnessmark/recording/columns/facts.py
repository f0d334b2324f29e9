"""What is known of a column's numbers before anybody says what they are."""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.recording.columns.naming import heading_pieces
from witnessmark.recording.logtable import LogColumn

__all__ = ["Facts", "column_facts", "thinned"]

FloatArray = NDArray[np.float64]
_ROWS = 4000
_BYTE_STEP = 100.0 / 255.0
_TROUBLE_CODE = re.compile(r"(?i)\b[PCBU][0-3][0-9A-F]{3}\b")


@dataclass(frozen=True, slots=True)
class Facts:
    """What is known of a column's numbers before anybody says what they are.

    Parameters
    ----------
    kind : str
        As in the log table.
    count : int
        Values looked at.
    low, high, q05, median, q95 : float
    whole : bool
    levels : int
        Different values.
    falls, rises : float
        Shares of the steps that go down, up.
    jump : float
        A large step (the 95th percentile), as a share of the spread.
    wander : float
        Way that the numbers go up and down, in spreads: 1 for one that only rises.
    moves : float
        Share of the steps that change it.
    bytelike : bool
        All values are hundredths of 255.
    zeros : float
        Share of zeros.
    speaks : tuple of str
        Of a column of text: parameters that its words speak of.
    """

    kind: str
    count: int = 0
    low: float = 0.0
    high: float = 0.0
    q05: float = 0.0
    median: float = 0.0
    q95: float = 0.0
    whole: bool = False
    levels: int = 0
    falls: float = 0.0
    rises: float = 0.0
    jump: float = 0.0
    wander: float = 0.0
    moves: float = 0.0
    bytelike: bool = False
    zeros: float = 0.0
    speaks: tuple[str, ...] = ()


def thinned(values: FloatArray) -> FloatArray:
    """Values of at most some thousand rows, evenly taken, the last known one where a row has none.

    Parameters
    ----------
    values : array, shape (n_rows,)
        NaN where there is none.

    Returns
    -------
    array, shape (n,)
        NaN before the first value.
    """
    at = np.where(np.isfinite(values), np.arange(values.size), -1)
    last = np.maximum.accumulate(at) if values.size else at
    filled = np.where(last >= 0, values[np.maximum(last, 0)], np.nan)
    return filled[:: max(1, -(-filled.size // _ROWS))]


def column_facts(column: LogColumn) -> Facts:
    """The facts of one column.

    Parameters
    ----------
    column : LogColumn

    Returns
    -------
    Facts
    """
    values = column.values[column.there]
    values = values[:: max(1, -(-values.size // _ROWS))]
    if column.kind == "text":
        return Facts("text", count=column.filled, levels=len(column.words), speaks=_spoken(column.words))
    if not values.size:
        return Facts("empty")
    q05, median, q95 = np.quantile(values, (0.05, 0.5, 0.95))
    steps = np.diff(values)
    moved = np.abs(steps[steps != 0])
    spread = float(values.max() - values.min())
    return Facts(
        kind=column.kind,
        count=int(values.size),
        low=float(values.min()),
        high=float(values.max()),
        q05=float(q05),
        median=float(median),
        q95=float(q95),
        whole=bool((values == np.rint(values)).all()),
        levels=int(np.unique(values).size),
        falls=float((steps < 0).mean()) if steps.size else 0.0,
        rises=float((steps > 0).mean()) if steps.size else 0.0,
        jump=float(np.quantile(moved, 0.95)) / spread if moved.size and spread else 0.0,
        wander=float(np.abs(steps).sum()) / spread if spread else 0.0,
        moves=float((steps != 0).mean()) if steps.size else 0.0,
        bytelike=_is_bytelike(values),
        zeros=float((values == 0).mean()),
    )


def _spoken(words: tuple[str, ...]) -> tuple[str, ...]:
    """Which parameters of text the words of a column speak of."""
    found: set[str] = set()
    for word in words[:20]:
        concepts = {
            c for p in heading_pieces(word[:60]) for meaning, cost in p.meanings.items() if cost < 0.8 for c in meaning
        }
        if concepts & {"loop", "openclosed"}:
            found.add("fuel_status")
        if _TROUBLE_CODE.search(word):
            found.add("code_list")
        elif concepts & {"lamp"} or (concepts & {"code"} and re.search(r"\d", word)):
            found.add("code_count")
        if "fuel" in concepts and "code" not in concepts:
            found.add("fuel_type")
    return tuple(sorted(found))


def _is_bytelike(values: FloatArray) -> bool:
    """Whether the numbers are steps of 100/255, as rounded in the file, and not steps of something rounder."""
    if values.min() < 0.0 or values.max() > 100.1:
        return False
    different = np.unique(values)
    if different.size < 5 or bool((np.abs(different - np.rint(different)) < 1e-9).all()):
        return False
    away = np.abs(different / _BYTE_STEP - np.rint(different / _BYTE_STEP)) * _BYTE_STEP
    return bool((away <= 0.0501).mean() > 0.98)
