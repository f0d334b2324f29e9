"""The best plan of a small problem, exactly: dynamic programming over everything that can have been done and seen.

The order in which things were done leaves no trace: what is known, what is off and what was spent depend only on
*which* actions were done and how they came out. So there are as many situations as ways to choose, for every action,
"not yet" or one of its outcomes, and each is worked out once, those with most done first.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.errors import InputError
from witnessmark.plan.decision import ESCALATE
from witnessmark.plan.problem import DecisionProblem
from witnessmark.plan.tables import Situations, Tables, tables_of

__all__ = ["Exact", "exact_plan", "situations_of"]

Array = NDArray[np.float64]
_MOST = 4_000_000


@dataclass(frozen=True, slots=True, eq=False)
class Exact:
    """The best plan in every situation.

    Parameters
    ----------
    tables : Tables
    price : ndarray, shape (situations,) [-]
        Expected price of the best plan times the chance of coming there.
    best : ndarray of int, shape (situations,)
        Index of the best action; the number of actions where the case is best handed on.
    stride : ndarray of int, shape (actions,)
        A situation's number is the sum of stride times (1 + outcome) over what was done.
    first : ndarray, shape (actions + 1,) [-]
        Price of each action taken first and the best plan after it; escalation last.
    """

    tables: Tables
    price: Array
    best: NDArray[np.int16]
    stride: NDArray[np.intp]
    first: Array

    @property
    def expected(self) -> float:
        """Expected price of the best plan."""
        return float(self.price[0])

    @property
    def action(self) -> str:
        """The best first action, or ``ESCALATE``."""
        return (*self.tables.names, ESCALATE)[int(self.best[0])]


def situations_of(problem: DecisionProblem) -> int:
    """How many situations a problem has: the product of one more than each action's outcomes.

    Parameters
    ----------
    problem : DecisionProblem

    Returns
    -------
    int
    """
    tables = tables_of(problem)
    count = 1
    for outcomes in _outcomes(tables):
        count *= 1 + int(outcomes)
    return count


def exact_plan(problem: DecisionProblem) -> Exact:
    """The best plan.

    Parameters
    ----------
    problem : DecisionProblem

    Returns
    -------
    Exact

    Raises
    ------
    InputError
        If there are more than four million situations.
    """
    tables = tables_of(problem)
    count = situations_of(problem)
    if count > _MOST:
        raise InputError(
            f"{count:.3g} situations are too many to plan exactly",
            expected=f"at most {_MOST:,}",
            todo="Use the look-ahead",
        )
    outcomes = _outcomes(tables)
    stride = np.ones(len(outcomes), dtype=np.intp)
    stride[1:] = np.cumprod(1 + outcomes)[:-1]
    at = _all(tables, outcomes)
    weight, stop = at.mass.sum(axis=1), at.mass @ tables.escalation
    price, best = stop.copy(), np.full(count, len(outcomes), dtype=np.int16)
    first = np.append(np.full(len(outcomes), np.inf), stop[0])
    layer = at.done.sum(axis=1)
    order = np.argsort(layer, kind="stable")
    edges = np.searchsorted(layer[order], np.arange(len(outcomes) + 1))
    for level in reversed(range(len(outcomes))):
        rows = order[edges[level] : edges[level + 1]]
        may, cost = tables.may(at.done[rows], at.off[rows]), tables.cost(at.off[rows])
        for action in range(len(outcomes)):
            mine = np.flatnonzero(may[:, action])
            here = rows[mine]
            value = weight[here] * cost[mine, action]
            for outcome in range(outcomes[action]):
                value += price[here + (1 + outcome) * stride[action]]
            if not level and len(here):
                first[action] = value[0]
            better = value < price[here]
            price[here[better]] = value[better]
            best[here[better]] = action
    return Exact(tables, price, best, stride, first)


def _outcomes(tables: Tables) -> NDArray[np.intp]:
    return np.bincount(tables.owner, minlength=len(tables.names)).astype(np.intp)


def _all(tables: Tables, outcomes: NDArray[np.intp]) -> Situations:
    """Every situation, numbered so that the first action's outcome runs fastest."""
    at = tables.start()
    for action, count in enumerate(outcomes):
        done = at.done.copy()
        done[:, action] = True
        off = at.off | tables.need[action]
        branches = [at.mass * tables.branch[tables.first[action] + k] for k in range(count)]
        at = Situations(
            np.concatenate([at.mass, *branches]),
            np.concatenate([at.done, *[done] * count]),
            np.concatenate([at.off, *[off] * count]),
        )
    return at
