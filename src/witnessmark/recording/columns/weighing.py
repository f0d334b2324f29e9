"""The chances of what each column is: heading, unit and numbers of each, and what the columns say about each other."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from witnessmark.recording.columns.evidence import value_cost
from witnessmark.recording.columns.facts import Facts, column_facts, thinned
from witnessmark.recording.columns.lexicon import folded
from witnessmark.recording.columns.naming import heading_pieces, name_costs
from witnessmark.recording.columns.places import heading_place, signals_at
from witnessmark.recording.columns.readings import Reading, implied, readings
from witnessmark.recording.columns.relations import relation_cost
from witnessmark.recording.columns.statedunit import name_and_stated
from witnessmark.recording.logtable import LogColumn
from witnessmark.recording.parameters import Signal, parameters

__all__ = ["ANCHOR", "ORDERS", "SHARED", "Weighed", "agree", "fixed", "relate", "settle", "softmax", "weighed"]

FloatArray = NDArray[np.float64]
ANCHOR = 0.9
"""Chance from which on a column tells about others."""
_FAR = 9.0
SHARED = frozenset({"nothing", "time", "clock"})
"""Parameters that several columns of a log may be."""
_ROUNDS = 8
_SYSTEM, _TELLING = 0.8, frozenset({"C", "km/h", "km"})
ORDERS = frozenset({"time", "clock"})
"""Parameters that order the rows, and stand in the first column of most logs."""
_NOT_FIRST = 0.7


def softmax(scores: FloatArray) -> FloatArray:
    """Chances in the ratio of the exponentials of scores.

    Parameters
    ----------
    scores : array, shape (n,) [nats]

    Returns
    -------
    array, shape (n,) [-]
    """
    odds = np.exp(scores - scores.max())
    return np.asarray(odds / odds.sum())


@dataclass(slots=True)
class Weighed:
    """A column while its meaning is weighed.

    Parameters
    ----------
    column : LogColumn
    facts : Facts
    stated : str or None
        Unit that the file states.
    rows : array, shape (n,)
        Thinned values.
    key : str
        The heading, folded.
    ways : list of (Signal, Reading)
        All ways to read it, and in ``costs`` what each costs [nats].
    signals : list of Signal
        Different ones; ``of`` says which one each way is, ``extra`` what beside its ways a signal costs, ``chances``
        how likely it is, ``alone`` how likely it were without the other columns' claims.
    told : str
        Who said what it is: "answer", "remembered" or "" for nobody.
    """

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
    alone: FloatArray = field(default_factory=lambda: np.zeros(0))
    told: str = ""

    @property
    def likeliest(self) -> int:
        """Which of its signals."""
        return int(np.argmax(self.chances))

    @property
    def signal(self) -> Signal:
        """The likeliest."""
        return self.signals[self.likeliest]

    @property
    def chance(self) -> float:
        """Of the likeliest."""
        return float(self.chances[self.likeliest])

    def readings_of(self, k: int) -> tuple[Reading, float]:
        """The best way to read it as its signal number ``k``, and the share of that way among the others."""
        ways = np.flatnonzero(self.of == k)
        shares = softmax(-self.costs[ways])
        best = int(np.argmax(shares))
        return self.ways[ways[best]][1], float(shares[best])


def weighed(column: LogColumn) -> Weighed:
    """All ways to read a column, and what each costs by its heading, its unit and its numbers.

    Parameters
    ----------
    column : LogColumn

    Returns
    -------
    Weighed
    """
    name, stated = name_and_stated(column)
    facts = column_facts(column)
    rows = thinned(column.values) if column.kind in ("number", "clock") else np.zeros(0)
    pieces = heading_pieces(name)
    found = Weighed(column, facts, stated, rows, folded(column.heading).strip())
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
                costs.append(match.cost + own + cost + (_NOT_FIRST if column.index and signal.id in ORDERS else 0.0))
    return _counted(found, costs)


def fixed(column: LogColumn, signal: Signal, reading: Reading, told: str) -> Weighed:
    """A column of which somebody said what it is.

    Parameters
    ----------
    column : LogColumn
    signal : Signal
    reading : Reading
    told : str
        "answer" or "remembered".

    Returns
    -------
    Weighed
    """
    rows = thinned(column.values) if column.kind in ("number", "clock") else np.zeros(0)
    stated = name_and_stated(column)[1]
    found = Weighed(column, column_facts(column), stated, rows, folded(column.heading).strip(), told=told)
    found.ways.append((signal, reading))
    return _counted(found, [0.0])


def _counted(found: Weighed, costs: list[float]) -> Weighed:
    found.costs = np.array(costs)
    found.signals = list(dict.fromkeys(signal for signal, _ in found.ways))
    at = {signal: k for k, signal in enumerate(found.signals)}
    found.of = np.array([at[signal] for signal, _ in found.ways])
    found.extra = np.zeros(len(found.signals))
    return found


def settle(columns: list[Weighed]) -> None:
    """Chances of each column's signals, given that no signal stands in two columns of different headings.

    Parameters
    ----------
    columns : list of Weighed
        Their ``chances`` are set.
    """
    own = [_by_signal(column) - column.extra for column in columns]
    for column, scores in zip(columns, own, strict=True):
        column.chances = column.alone = softmax(scores)
    for _ in range(_ROUNDS):
        taken: dict[Signal, list[tuple[int, float]]] = defaultdict(list)
        for i, column in enumerate(columns):
            for signal, chance in zip(column.signals, column.chances, strict=True):
                if signal.id not in SHARED and chance > 1e-3:
                    taken[signal].append((i, float(chance)))
        for i, (column, scores) in enumerate(zip(columns, own, strict=True)):
            free = np.zeros(len(column.signals))
            for k, signal in enumerate(column.signals):
                for j, chance in taken.get(signal, ()):
                    if j != i and columns[j].key != column.key:
                        free[k] += np.log1p(-0.999 * chance)
            column.chances = 0.5 * column.chances + 0.5 * softmax(scores + free)


def _by_signal(column: Weighed) -> FloatArray:
    scores = np.full(len(column.signals), -np.inf)
    np.logaddexp.at(scores, column.of, -column.costs)
    return scores


def agree(columns: list[Weighed]) -> None:
    """Let the units that a file states, or that are plain from its numbers, speak for those that it does not state.

    Parameters
    ----------
    columns : list of Weighed
        Their ``costs`` are moved.
    """
    votes = sum(_vote(column) for column in columns)
    if not votes:
        return
    for column in columns:
        if column.stated is None and not column.told:
            for i, (_, reading) in enumerate(column.ways):
                if reading.imperial:
                    column.costs[i] -= float(np.clip(_SYSTEM * votes, -2.0 * _SYSTEM, 2.0 * _SYSTEM))


def _vote(column: Weighed) -> int:
    """1 for feet and pounds, -1 for metres and °C, 0 for a column that does not tell."""
    if column.facts.kind != "number" or column.chance < ANCHOR:
        return 0
    reading, share = column.readings_of(column.likeliest)
    if share < ANCHOR or column.signal.parameter.unit not in _TELLING:
        return 0
    return 1 if reading.imperial else -1


def relate(columns: list[Weighed]) -> None:
    """Costs of what the sure columns say about the others.

    Parameters
    ----------
    columns : list of Weighed
        Their ``extra`` is set.
    """
    sure: dict[str, tuple[int, FloatArray]] = {}
    for i, column in enumerate(columns):
        if column.chance >= ANCHOR and column.facts.kind in ("number", "clock"):
            sure.setdefault(column.signal.id, (i, column.rows))
    for i, column in enumerate(columns):
        if column.facts.kind not in ("number", "clock"):
            continue
        others = {parameter: rows for parameter, (j, rows) in sure.items() if j != i}
        if "maf" in others and "engine_speed" in others:
            with np.errstate(all="ignore"):
                others["air/turn"] = np.where(
                    others["engine_speed"] > 300.0, others["maf"] / others["engine_speed"], np.nan
                )
        for k, signal in enumerate(column.signals):
            if column.chances[k] > 1e-4:
                column.extra[k] = relation_cost(signal.id, column.rows, others)
