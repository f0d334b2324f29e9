"""What was taken for granted, and which number to look up first."""

from __future__ import annotations

from dataclasses import dataclass

from witnessmark.infer.belief import Assumed, Belief
from witnessmark.plan.types import Plan
from witnessmark.report.words import NBSP, at_start, inside, number

__all__ = ["AssumedRow", "LookUp", "look_up"]

SHOWN = 6


@dataclass(frozen=True, slots=True)
class AssumedRow:
    """A number that is not known: what it is, what was taken, what knowing it is worth."""

    what: str
    taken_as: str
    worth: str
    share: float


@dataclass(frozen=True, slots=True)
class LookUp:
    """The numbers, the one worth most first, and that one in a sentence."""

    first: str
    rows: tuple[AssumedRow, ...]
    more: tuple[AssumedRow, ...]


def look_up(belief: Belief, plan: Plan) -> LookUp | None:
    """Which numbers were assumed, by what knowing them is worth; None where none was.

    Parameters
    ----------
    belief : Belief
    plan : Plan
        For how much is open at all.

    Returns
    -------
    LookUp or None
    """
    if not belief.assumed:
        return None
    ranked = sorted(belief.assumed, key=lambda a: (-a.worth_bits, a.number))
    rows = tuple(_row(item, plan.open_bits) for item in ranked)
    best = ranked[0]
    first = "None of these would change the answer by much."
    if best.worth_bits >= 0.05:
        first = f"Look up or count first: {inside(best.words)}. It is worth {number(best.worth_bits, 1)}{NBSP}bit"
        first += f" of the {number(plan.open_bits, 1)} that are open." if plan.open_bits > best.worth_bits else "."
    return LookUp(first, rows[:SHOWN], rows[SHOWN:])


def _row(item: Assumed, open_bits: float) -> AssumedRow:
    share = min(1.0, item.worth_bits / open_bits) if open_bits > 0 else 0.0
    worth = f"{number(item.worth_bits, 1)}{NBSP}bit" if item.worth_bits >= 0.05 else f"<{NBSP}0.1{NBSP}bit"
    return AssumedRow(at_start(inside(item.words)), item.taken_as, worth, share)
