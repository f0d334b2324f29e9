"""Several unknowns of many states at once: Newton's rule from one Jacobian, then Broyden's updates of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

__all__ = ["Problem", "settled_together"]

Array = NDArray[np.float64]
Rows = NDArray[np.bool_]

_STEPS = 16  # at most; whoever needs more is better bracketed
_ANEW = 6  # steps after which the Jacobian is worked out again
_NUDGE = 1e-6  # by which an unknown is moved for it
_RESTS = 1e-9  # a step, in the unknown's scale: the next one is a thousandth of it or less
_NOTHING = 1e-8  # what is left over of a balance once it is met
_TOWARDS = 0.9  # of the way to a limit is gone at most
_PINNED = 5  # steps in a row towards a limit: no root inside, or none that this rule finds
_FEWER = 0.7  # share of rows still moving, below which the others are left out of the arithmetic


class Problem(Protocol):
    """Equations of n states, as many as unknowns, in unknowns that are about 1."""

    def left(self, unknown: Array) -> Array:
        """What is left over of each equation, shape (n, m)."""
        ...

    def of(self, rows: Rows) -> Problem:
        """The same for some of the states."""
        ...


@dataclass(slots=True)
class _Moving:
    """States that have not come to rest."""

    problem: Problem
    where: NDArray[np.intp]  # among all
    x: Array
    left: Array
    low: Array
    high: Array
    pinned: NDArray[np.intp]
    inverse: Array
    good: Rows  # goes on

    def step(self) -> Rows:
        """Moves every state on; those that have come to rest with it."""
        wanted = self.x - np.einsum("nij,nj->ni", self.inverse, self.left)
        held = self.good[:, None] & np.isfinite(wanted)
        bound = np.clip(wanted, self.low, self.high)
        new = np.where(bound == wanted, wanted, self.x + _TOWARDS * (bound - self.x))
        new = np.where(held, new, self.x)
        self.pinned = np.where(np.any(new != wanted, axis=1), self.pinned + 1, 0)
        moved, before = new - self.x, self.left
        self.x, self.left = new, self.problem.left(new)
        self.inverse = _updated(self.inverse, moved, self.left - before)
        sound = np.all(np.isfinite(self.left), axis=1)
        done: Rows = self.good & sound & (self.pinned == 0) & (np.max(np.abs(moved), axis=1) <= _RESTS)
        done &= np.max(np.abs(self.left), axis=1) <= _NOTHING  # a poor slope makes small steps too
        self.good = self.good & sound & ~done & (self.pinned < _PINNED)
        return done

    def anew(self) -> None:
        """The Jacobian once more, where the states are now."""
        columns = []
        for j in range(self.x.shape[1]):
            there = self.x.copy()
            there[:, j] += _NUDGE
            columns.append((self.problem.left(there) - self.left) / _NUDGE)
        jacobian = np.stack(columns, axis=2)
        size = np.abs(np.linalg.det(np.where(np.isfinite(jacobian), jacobian, 0.0)))
        self.good = self.good & (size > 1e-200) & np.all(np.isfinite(jacobian), axis=(1, 2))
        self.inverse = np.linalg.inv(np.where(self.good[:, None, None], jacobian, np.eye(self.x.shape[1])))

    def fewer(self) -> None:
        """Leaves out of the arithmetic what does not go on."""
        rows = self.good
        self.problem = self.problem.of(rows)
        for name in ("where", "x", "left", "low", "high", "pinned", "inverse", "good"):
            setattr(self, name, getattr(self, name)[rows])


def settled_together(problem: Problem, start: Array, low: Array, high: Array) -> tuple[Array, Rows]:
    """Unknowns with nothing left over, shape (n, m), and which states got there.

    Broyden's good updates of the inverse (Mathematics of Computation 19 (1965), from memory) after Newton's first step.
    Each state on its own: it stops once it has come to rest, whatever the others do. A state that is driven against a
    limit or does not come to rest is said not to have got there: whoever asks has to bracket it.
    """
    n, m = start.shape
    answer, got = np.clip(start, low, high), np.zeros(n, dtype=np.bool_)
    if not n:
        return answer, got
    with np.errstate(all="ignore"):
        now = _Moving(
            problem,
            np.arange(n),
            answer.copy(),
            problem.left(answer),
            np.broadcast_to(low, (n, m)),
            np.broadcast_to(high, (n, m)),
            np.zeros(n, dtype=np.intp),
            np.empty((n, m, m)),
            np.ones(n, dtype=np.bool_),
        )
        for turn in range(_STEPS):
            if turn % _ANEW == 0:
                now.anew()
            done = now.step()
            answer[now.where[done]], got[now.where[done]] = now.x[done], True
            going = np.count_nonzero(now.good)
            if not going:
                break
            if going < _FEWER * len(now.good):
                now.fewer()
    return answer, got


def _updated(inverse: Array, moved: Array, change: Array) -> Array:
    """Broyden's good update: the least change to the Jacobian that agrees with the step just made."""
    seen = np.einsum("nij,nj->ni", inverse, change)
    along = np.einsum("ni,nij->nj", moved, inverse)
    size = np.einsum("ni,ni->n", moved, seen)
    share = np.where(np.abs(size) > 1e-300, 1.0 / size, 0.0)
    sound = np.isfinite(share)[:, None, None]
    return np.asarray(
        np.where(sound, inverse + (moved - seen)[:, :, None] * along[:, None, :] * share[:, None, None], inverse)
    )
