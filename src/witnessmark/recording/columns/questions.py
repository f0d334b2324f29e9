"""Whether a column is to be asked about, and what: a name that is not sure, a unit that cannot be."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from witnessmark.recording.columns.candidates import Candidate, Question
from witnessmark.recording.columns.checks import CHECKS, unit_doubt
from witnessmark.recording.columns.evidence import value_cost
from witnessmark.recording.columns.readings import Reading
from witnessmark.recording.columns.relations import rank_correlation
from witnessmark.recording.columns.weighing import ANCHOR, ORDERS, Weighed, softmax
from witnessmark.units import conversion

__all__ = ["SURE", "checked_reading", "doubled", "question_about"]

FloatArray = NDArray[np.float64]
SURE = 0.8
"""Chance from which on a column is not asked about."""
_SURE_NOTHING, _SURE_UNIT = 0.9, 0.75
_DENIED = 4.5
_MOVES_MAP = frozenset({"throttle", "load", "absolute_load", "pedal"})
_FALLS_WITH_LOAD = -0.3
_WOULD_FIT = 0.5
_KM_PER_MILE = 1.609344
_MAYBE_SPEED, _CLAIMED = 0.03, 0.5


def question_about(
    column: Weighed, columns: list[Weighed], candidates: tuple[Candidate, ...], share: float
) -> Question | None:
    """What is to be asked about a column.

    Parameters
    ----------
    column : Weighed
    columns : list of Weighed
        All of the log.
    candidates : tuple of Candidate
        Of this column, the likeliest first.
    share : float [-]
        Chance of the first candidate's reading, given its signal.

    Returns
    -------
    Question or None
        None where it is sure.
    """
    first = candidates[0]
    words, heading = first.signal.words, column.column.label
    if column.told == "answer":
        return None
    if first.signal.id == "nothing":
        return _about_nothing(column, columns, candidates)
    if first.probability < SURE and not _orders_anyhow(candidates):
        other = f" or {candidates[1].signal.words}" if len(candidates) > 1 else ""
        return Question(
            f"“{heading}” may be {words}{other}; neither its heading nor its numbers decide it",
            f"whether the column is used as {words}",
        )
    scale = f"every value of {words} in this log"
    if not column.told and first.reading.odd:
        return Question(_odd(column, first), scale)
    silent = column.facts.levels == 1 and column.facts.low == 0.0
    if not column.told and share < _SURE_UNIT and not silent:
        return Question(f"“{heading}” is {words}, and its numbers fit more than one unit", scale)
    doubt = _doubt(column, columns, first)
    if doubt is None:
        return None
    before = "as remembered from an earlier log " if column.told else ""
    return Question(f"“{heading}” is {words} {before}in {first.reading.written or 'plain numbers'}, yet {doubt}", scale)


def _orders_anyhow(candidates: tuple[Candidate, ...]) -> bool:
    """Whether it is a time of day or a time since the beginning: both order the rows, and nothing hangs on which."""
    return sum(each.probability for each in candidates if each.signal.id in ORDERS) >= SURE and (
        candidates[0].signal.id in ORDERS
    )


def _about_nothing(column: Weighed, columns: list[Weighed], candidates: tuple[Candidate, ...]) -> Question | None:
    claimed = int(np.argmax(column.alone))
    signal = column.signals[claimed]
    if signal.id != "nothing" and column.alone[claimed] >= _CLAIMED:
        rivals = [each for each in columns if each is not column and each.signal == signal and each.key != column.key]
        if rivals:
            return doubled(column, rivals[0])
    if candidates[0].probability >= _SURE_NOTHING or len(candidates) == 1:
        return None
    return Question(
        f"“{column.column.label}” is most likely nothing of the engine, yet it may be {candidates[1].signal.words}",
        "whether the column is used at all",
    )


def checked_reading(column: Weighed, columns: list[Weighed], k: int) -> tuple[Reading, float]:
    """The best reading of a column that states no unit, once those that other columns deny are struck out.

    Parameters
    ----------
    column : Weighed
    columns : list of Weighed
        All of the log.
    k : int
        Which of its signals.

    Returns
    -------
    Reading
    float [-]
        Its chance among the readings of this signal.
    """
    reading, share = column.readings_of(k)
    parameter = column.signals[k].id
    if share >= _SURE_UNIT or parameter not in CHECKS or column.facts.kind != "number":
        return reading, share
    ways = np.flatnonzero(column.of == k)
    others = _sure_values(column, columns)
    left = [
        i
        for i in ways
        if unit_doubt(parameter, column.rows * column.ways[i][1].factor + column.ways[i][1].shift, others) is None
    ]
    if not left:
        return reading, share
    shares = softmax(-column.costs[left])
    best = int(np.argmax(shares))
    return column.ways[left[best]][1], float(shares[best])


def doubled(column: Weighed, other: Weighed) -> Question:
    """What is to be asked about a column that would be the same signal as another.

    Parameters
    ----------
    column, other : Weighed
        The other one is the likelier.

    Returns
    -------
    Question
    """
    words = other.signal.words
    return Question(
        f"“{column.column.label}” would be {words}, as “{other.column.label}” is", f"which column is used as {words}"
    )


def _odd(column: Weighed, first: Candidate) -> str:
    heading, words, stated = column.column.label, first.signal.words, column.stated
    facts = column.facts
    says = f"states “{stated}”" if stated else "states no unit"
    return f"“{heading}” {says}, and numbers from {facts.low:.4g} to {facts.high:.4g} do not fit {words} so"


def _doubt(column: Weighed, columns: list[Weighed], first: Candidate) -> str | None:
    """Why the numbers deny what heading and unit say; a clause for a question."""
    row, reading, facts = first.signal.parameter, first.reading, column.facts
    if not row.is_number or facts.kind != "number" or (facts.levels == 1 and facts.low == 0.0):
        return None
    if value_cost(row, facts, reading.factor, reading.shift) >= _DENIED:
        return f"its numbers, from {facts.low:.4g} to {facts.high:.4g}, cannot be"
    if column.told:
        return None
    if _is_other_scale(column, columns, first):
        return "other temperatures of the file are in the other scale, and its numbers would fit that too"
    if row.id in CHECKS:
        return unit_doubt(row.id, column.rows * reading.factor + reading.shift, _sure_values(column, columns))
    return "it falls as load grows, as pressure below the surroundings does" if _falls(column, columns, first) else None


def _falls(column: Weighed, columns: list[Weighed], first: Candidate) -> bool:
    """Whether what is called manifold pressure is the vacuum."""
    if first.signal.id != "map" or first.reading.factor < 0:
        return False
    for other in columns:
        if other is not column and other.signal.id in _MOVES_MAP and other.chance > ANCHOR:
            found = rank_correlation(column.rows, other.rows)
            if found is not None and found < _FALLS_WITH_LOAD:
                return True
    return False


def _is_other_scale(column: Weighed, columns: list[Weighed], first: Candidate) -> bool:
    """Whether a temperature is said in °F, others in °C (or the reverse), and would fit as the others do."""
    row = first.signal.parameter
    other = {"C": "F", "F": "C"}.get(column.stated or "")
    if other is None or row.unit != "C" or not any(each.stated == other for each in columns if each is not column):
        return False
    factor, shift = conversion(other, "C") if other != "C" else (1.0, 0.0)
    return value_cost(row, column.facts, factor, shift) <= _WOULD_FIT


def _sure_values(column: Weighed, columns: list[Weighed]) -> dict[str, FloatArray]:
    """The other sure columns by parameter, in their units; a second road speed by itself."""
    found: dict[str, FloatArray] = {}
    for other in columns:
        if other is column or other.facts.kind != "number":
            continue
        if other.chance >= ANCHOR:
            reading: Reading = other.readings_of(other.likeliest)[0]
            found.setdefault(other.signal.id, other.rows * reading.factor + reading.shift)
        maybe = [j for j, signal in enumerate(other.signals) if signal.id == "vehicle_speed"]
        if maybe and other.alone[maybe[0]] > _MAYBE_SPEED and other.stated in ("km/h", "mph"):
            found["other speed"] = other.rows * (1.0 if other.stated == "km/h" else _KM_PER_MILE)
    return found
