"""The likeliest hypotheses, and all others as one."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from witnessmark.plan.problem import DecisionProblem

__all__ = ["thin"]

# Names for the tail: one of them is free, as at most one hypothesis can bear each.
_OTHER = ("other", "all others")


def thin(problem: DecisionProblem, keep: int) -> tuple[DecisionProblem, float]:
    """A problem with fewer hypotheses: the tail taken as one that behaves as its members do in the mean.

    Parameters
    ----------
    problem : DecisionProblem
    keep : int
        Hypotheses left, the one that stands for the tail included; at least 2.

    Returns
    -------
    tuple of DecisionProblem and float
        The problem, and the chance of those taken together (0 if nothing was).
    """
    if len(problem.hypotheses) <= keep:
        return problem, 0.0
    order = np.argsort(-problem.chance, kind="stable")
    kept, tail = np.sort(order[: keep - 1]), order[keep - 1 :]
    weight = problem.chance[tail]
    mass = float(weight.sum())
    weight = weight / mass if mass > 0.0 else np.full(len(tail), 1.0 / len(tail))

    def merged(values: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.concatenate([values[..., kept], (values[..., tail] @ weight)[..., None]], axis=-1)

    actions = tuple(replace(a, table=merged(a.table), cures=merged(a.cures)) for a in problem.actions)
    chance = np.append(problem.chance[kept], mass)
    names = tuple(problem.hypotheses[k] for k in kept)
    other = next(name for name in _OTHER if name not in names)
    smaller = replace(
        problem, hypotheses=(*names, other), chance=chance, actions=actions, escalation=merged(problem.escalation)
    )
    return smaller, mass
