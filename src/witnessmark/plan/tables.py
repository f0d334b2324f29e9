"""A decision problem as arrays, so that thousands of situations are worked on at once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.plan.actions import Action
from witnessmark.plan.problem import DecisionProblem

__all__ = ["Situations", "Tables", "tables_of"]

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
Indices = NDArray[np.intp]
# A price of nothing would make a ratio without end.
_LEAST_PRICE = 1e-9


@dataclass(frozen=True, slots=True)
class Situations:
    """Many states of a case side by side.

    Parameters
    ----------
    mass : ndarray, shape (n, hypotheses) [-]
        Chance of coming here and of each hypothesis: not divided by its sum.
    done : ndarray of bool, shape (n, actions)
    off : ndarray of bool, shape (n, covers)
        Covers that are off.
    """

    mass: Array
    done: Flags
    off: Flags

    def __len__(self) -> int:
        return len(self.mass)

    def take(self, rows: Indices | Flags) -> Situations:
        """Some of them.

        Parameters
        ----------
        rows : ndarray of int or bool

        Returns
        -------
        Situations
        """
        return Situations(self.mass[rows], self.done[rows], self.off[rows])


@dataclass(frozen=True, slots=True, eq=False)
class Tables:
    """The arrays of a problem; only actions that can be taken at all are in them.

    Parameters
    ----------
    names : tuple of str
        Actions.
    chance : ndarray, shape (hypotheses,) [-]
    branch : ndarray, shape (branches, hypotheses) [-]
        Chance of each outcome of each action, action by action.
    owner : ndarray of int, shape (branches,)
        The action of a branch.
    first : ndarray of int, shape (actions,)
        The first branch of an action.
    cures : ndarray, shape (actions, hypotheses) [-]
    repairs : ndarray of int
        Actions that may cure something.
    price : ndarray, shape (actions,) [-]
        Without covers.
    need : ndarray of bool, shape (actions, covers)
        Covers that must be off, those in front of them included.
    cover_price : ndarray, shape (covers,) [-]
    use : ndarray, shape (actions, 2)
        Minutes and money of an action, without covers.
    cover_use : ndarray, shape (covers, 2)
    limit : ndarray, shape (2,)
        Minutes and money agreed to; infinite where no limit was set.
    escalation : ndarray, shape (hypotheses,) [-]
    off : ndarray of bool, shape (covers,)
        Covers that are off now.
    """

    names: tuple[str, ...]
    chance: Array
    branch: Array
    owner: Indices
    first: Indices
    cures: Array
    repairs: Indices
    price: Array
    need: Flags
    cover_price: Array
    use: Array
    cover_use: Array
    limit: Array
    escalation: Array
    off: Flags

    @property
    def is_limited(self) -> bool:
        """Whether minutes or money are limited."""
        return bool(np.isfinite(self.limit).any())

    def start(self) -> Situations:
        """Where the case stands now.

        Returns
        -------
        Situations
            One.
        """
        return Situations(self.chance[None, :], np.zeros((1, len(self.names)), dtype=bool), self.off[None, :].copy())

    def cost(self, off: Flags) -> Array:
        """Price of every action with the covers it would still have to open.

        Parameters
        ----------
        off : ndarray of bool, shape (n, covers)

        Returns
        -------
        ndarray, shape (n, actions) [-]
        """
        if not len(self.cover_price):
            return np.broadcast_to(self.price, (len(off), len(self.price)))
        return np.asarray(self.price + (~off) @ (self.need * self.cover_price).T)

    def may(self, done: Flags, off: Flags) -> Flags:
        """Which actions are left and inside what was agreed.

        Parameters
        ----------
        done : ndarray of bool, shape (n, actions)
        off : ndarray of bool, shape (n, covers)

        Returns
        -------
        ndarray of bool, shape (n, actions)
        """
        allowed = ~done
        for k in np.flatnonzero(np.isfinite(self.limit)):
            opened = off & ~self.off
            spent = done @ self.use[:, k] + opened @ self.cover_use[:, k]
            needed = self.use[:, k] + (~off) @ (self.need * self.cover_use[:, k]).T
            allowed &= spent[:, None] + needed <= self.limit[k] + _LEAST_PRICE
        return allowed


def tables_of(problem: DecisionProblem) -> Tables:
    """Arrays of a problem, without the actions that lack their tool or lie behind a cover nobody agreed to open.

    Parameters
    ----------
    problem : DecisionProblem

    Returns
    -------
    Tables
    """
    number = {cover.name: k for k, cover in enumerate(problem.covers)}
    off = np.zeros(len(number), dtype=bool)
    off[[number[cover.name] for cover in problem.cover_chain(problem.open_covers)]] = True
    agreed = problem.agreed.covers
    actions = [a for a in problem.actions if a.available and _agreed_to(problem, a, agreed)]
    need = np.zeros((len(actions), len(number)), dtype=bool)
    for row, action in enumerate(actions):
        need[row, [number[cover.name] for cover in problem.cover_chain(action.covers)]] = True
    counts = np.array([len(a.outcomes) for a in actions], dtype=np.intp)
    size = len(problem.hypotheses)
    limits = (problem.agreed.minutes, problem.agreed.money)
    cures = np.array([a.cures for a in actions]).reshape(-1, size)
    return Tables(
        names=tuple(a.name for a in actions),
        chance=problem.chance,
        branch=np.vstack([np.zeros((0, size)), *(a.table for a in actions)]),
        owner=np.repeat(np.arange(len(actions)), counts),
        first=(np.cumsum(counts) - counts).astype(np.intp),
        cures=cures,
        repairs=np.flatnonzero((cures > 0.0).any(axis=1)),
        price=_prices(problem, actions),
        need=need,
        cover_price=np.array([problem.rates.price(c.cost) for c in problem.covers]),
        use=_use(actions),
        cover_use=_use(problem.covers),
        limit=np.array([np.inf if limit is None else limit for limit in limits]),
        escalation=problem.escalation,
        off=off,
    )


def _agreed_to(problem: DecisionProblem, action: Action, agreed: frozenset[str] | None) -> bool:
    return agreed is None or all(cover.name in agreed for cover in problem.to_open(action))


def _prices(problem: DecisionProblem, actions: Sequence[Action]) -> Array:
    return np.maximum(np.array([problem.rates.price(a.cost) for a in actions], dtype=np.float64), _LEAST_PRICE)


def _use(items: Sequence[object]) -> Array:
    return np.array([(i.cost.minutes, i.cost.money) for i in items], dtype=np.float64).reshape(-1, 2)  # type: ignore[attr-defined]
