"""What each column of a log is: the likeliest of all assignments, with a question where it is not sure."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from witnessmark.recording.columns.evidence import Facts, column_facts, thinned, value_cost
from witnessmark.recording.columns.lexicon import folded
from witnessmark.recording.columns.naming import heading_pieces, name_costs
from witnessmark.recording.columns.places import heading_place, signals_at
from witnessmark.recording.columns.readings import Reading, implied, readings
from witnessmark.recording.columns.statedunit import name_and_stated
from witnessmark.recording.columns.relations import rank_correlation, relation_cost
from witnessmark.recording.logtable import ColumnUse, LogColumn, LogTable
from witnessmark.recording.parameters import Signal, parameters

__all__ = ["Candidate", "ColumnProposal", "Proposal", "Question", "propose"]

FloatArray = NDArray[np.float64]
SURE = 0.85
_SURE_UNIT = 0.75
_ANCHOR = 0.9
_FAR = 9.0
_SHARED = frozenset({"nothing", "time", "clock"})
_ROUNDS = 8


@dataclass(frozen=True, slots=True)
class Candidate:
    """What a column may be.

    Parameters
    ----------
    signal : Signal
    reading : Reading
    probability : float [-]
    """

    signal: Signal
    reading: Reading
    probability: float


@dataclass(frozen=True, slots=True)
class Question:
    """What a person should say about a column.

    Parameters
    ----------
    reason : str
        Why it is asked, in one sentence.
    changes : str
        What the answer changes.
    """

    reason: str
    changes: str


@dataclass(frozen=True, slots=True)
class ColumnProposal:
    """What one column is taken for.

    Parameters
    ----------
    index : int
    heading : str
    candidates : tuple of Candidate
        The likeliest first; never empty.
    question : Question, optional
    """

    index: int
    heading: str
    candidates: tuple[Candidate, ...]
    question: Question | None = None

    @property
    def signal(self) -> Signal:
        """The likeliest."""
        return self.candidates[0].signal

    @property
    def reading(self) -> Reading:
        """How its numbers are read."""
        return self.candidates[0].reading

    @property
    def probability(self) -> float:
        """Of the likeliest."""
        return self.candidates[0].probability


@dataclass(frozen=True, slots=True)
class Proposal:
    """What the columns of a log are."""

    columns: tuple[ColumnProposal, ...]

    @property
    def questions(self) -> tuple[ColumnProposal, ...]:
        """Columns to be asked about."""
        return tuple(column for column in self.columns if column.question is not None)


@dataclass(slots=True)
class _Column:
    """A column while its meaning is weighed."""

    column: LogColumn
    facts: Facts
    stated: str | None
    rows: FloatArray
    key: str
    ways: list[tuple[Signal, Reading]] = field(default_factory=list)
    costs: FloatArray = field(default_factory=lambda: np.zeros(0))
    signals: list[Signal] = field(default_factory=list)
    of: NDArray[np.intp] = field(default_factory=lambda: np.zeros(0, dtype=np.intp))
    extra: FloatArray = field(default_factory=lambda: np.zeros(0))
    chances: FloatArray = field(default_factory=lambda: np.zeros(0))


def propose(table: LogTable) -> Proposal:
    """What each column of a log is.

    Parameters
    ----------
    table : LogTable

    Returns
    -------
    Proposal
    """
    columns = [_weighed(column) for column in table.columns]
    _settle(columns)
    _relate(columns)
    _settle(columns)
    return Proposal(tuple(_proposed(column, columns) for column in columns))


def _weighed(column: LogColumn) -> _Column:
    name, stated = name_and_stated(column)
    facts = column_facts(column)
    rows = thinned(column.values) if column.kind in ("number", "clock") else np.zeros(0)
    pieces = heading_pieces(name)
    found = _Column(column, facts, stated, rows, folded(column.heading).strip())
    names, place, known = name_costs(pieces, implied(stated)), heading_place(pieces), parameters()
    least = min(match.cost for match in names.values())
    costs: list[float] = []
    for parameter, match in names.items():
        if match.cost > max(least + _FAR, 8.0):
            continue
        row = known[parameter]
        ways = [(r, r.cost + value_cost(row, facts, r.factor, r.shift)) for r in readings(row, stated, facts)]
        for signal, own in signals_at(parameter, place):
            for reading, cost in ways:
                found.ways.append((signal, reading))
                costs.append(match.cost + own + cost)
    found.costs = np.array(costs)
    found.signals = list(dict.fromkeys(signal for signal, _ in found.ways))
    at = {signal: k for k, signal in enumerate(found.signals)}
    found.of = np.array([at[signal] for signal, _ in found.ways])
    found.extra = np.zeros(len(found.signals))
    return found


def _settle(columns: list[_Column]) -> None:
    """Chances of each column's signals, given that no signal stands in two columns of different headings."""
    own = [_by_signal(column) - column.extra for column in columns]
    for column, scores in zip(columns, own, strict=True):
        column.chances = _softmax(scores)
    for _ in range(_ROUNDS):
        taken: dict[Signal, list[tuple[int, float]]] = defaultdict(list)
        for i, column in enumerate(columns):
            for signal, chance in zip(column.signals, column.chances, strict=True):
                if signal.id not in _SHARED and chance > 1e-3:
                    taken[signal].append((i, float(chance)))
        for i, (column, scores) in enumerate(zip(columns, own, strict=True)):
            free = np.zeros(len(column.signals))
            for k, signal in enumerate(column.signals):
                for j, chance in taken.get(signal, ()):
                    if j != i and columns[j].key != column.key:
                        free[k] += np.log1p(-0.985 * chance)
            column.chances = 0.5 * column.chances + 0.5 * _softmax(scores + free)


def _by_signal(column: _Column) -> FloatArray:
    scores = np.full(len(column.signals), -np.inf)
    np.logaddexp.at(scores, column.of, -column.costs)
    return scores


def _softmax(scores: FloatArray) -> FloatArray:
    odds = np.exp(scores - scores.max())
    return odds / odds.sum()


def _relate(columns: list[_Column]) -> None:
    """Costs of what the sure columns say about the others."""
    sure: dict[str, tuple[int, FloatArray]] = {}
    for i, column in enumerate(columns):
        k = int(np.argmax(column.chances))
        if column.chances[k] >= _ANCHOR and column.facts.kind in ("number", "clock"):
            sure.setdefault(column.signals[k].id, (i, column.rows))
    for i, column in enumerate(columns):
        if column.facts.kind not in ("number", "clock"):
            continue
        others = {parameter: rows for parameter, (j, rows) in sure.items() if j != i}
        if "maf" in others and "engine_speed" in others:
            with np.errstate(all="ignore"):
                others["air/turn"] = np.where(others["engine_speed"] > 300.0, others["maf"] / others["engine_speed"], np.nan)
        for k, signal in enumerate(column.signals):
            if column.chances[k] > 1e-4:
                column.extra[k] = relation_cost(signal.id, column.rows, others)


def _proposed(column: _Column, columns: list[_Column]) -> ColumnProposal:
    order = np.argsort(-column.chances)
    candidates = []
    for k in order[:6]:
        if candidates and column.chances[k] < 0.01:
            break
        ways = np.flatnonzero(column.of == k)
        shares = _softmax(-column.costs[ways])
        best = int(np.argmax(shares))
        reading = column.ways[ways[best]][1]
        candidates.append((Candidate(column.signals[k], reading, float(column.chances[k])), float(shares[best])))
    first, share = candidates[0]
    question = None if column.facts.kind == "empty" else _question(column, columns, first, share)
    return ColumnProposal(column.column.index, column.column.heading, tuple(c for c, _ in candidates), question)


def _question(column: _Column, columns: list[_Column], first: Candidate, share: float) -> Question | None:
    words = first.signal.words
    if first.probability < SURE:
        return Question(f"neither its heading nor its numbers say surely what it is; most likely {words}", "what it is used for")
    if first.signal.id == "nothing":
        return None
    if first.reading.odd or share < _SURE_UNIT:
        stated = column.stated or "no unit"
        return Question(f"the file says {stated}, which does not fit numbers of {words}", "the scale of its numbers")
    if _is_contradicted(column, columns, first):
        return Question(f"its numbers do not behave like {words}", "whether it is used at all")
    return None


def _is_contradicted(column: _Column, columns: list[_Column], first: Candidate) -> bool:
    """Whether the numbers deny what heading and unit say: out of all bounds, or pressure that falls as load grows."""
    row = first.signal.parameter
    if not row.is_number or column.facts.kind != "number":
        return False
    reading = first.reading
    if column.facts.levels == 1 and column.facts.low == 0.0:
        return False
    if value_cost(row, column.facts, reading.factor, reading.shift) >= 4.5:
        return True
    if row.id != "map":
        return False
    for other in columns:
        k = int(np.argmax(other.chances))
        if other.signals[k].id in ("throttle", "load", "absolute_load", "pedal") and other.chances[k] > _ANCHOR:
            found = rank_correlation(column.rows, other.rows)
            if found is not None and found < -0.3:
                return True
    return False


def use_of(proposal: ColumnProposal) -> ColumnUse:
    """What the log table makes a trace of.

    Parameters
    ----------
    proposal : ColumnProposal

    Returns
    -------
    ColumnUse
    """
    reading = proposal.reading
    return ColumnUse(str(proposal.signal), reading.unit or None, reading.scale, reading.offset)
