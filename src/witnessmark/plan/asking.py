"""Where what the owner agreed to ends: the owner is asked again, and the case goes on from there."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from witnessmark.plan.problem import Agreed, DecisionProblem
from witnessmark.plan.search import next_action

__all__ = ["ASKING_MINUTES", "asked_again"]

ASKING_MINUTES = 15.0
"""Telling the owner what was found, and waiting for the answer; our guess."""


def asked_again(problem: DecisionProblem, *, seconds: float, situations: int | None = None) -> DecisionProblem:
    """A case with limits, whose end inside them is to ask for more.

    Parameters
    ----------
    problem : DecisionProblem
        With what was agreed to; its price is in minutes.
    seconds : float [s]
        Time to plan the case without limits, which prices what comes after asking.
    situations : int, optional
        As for :func:`witnessmark.plan.search.next_action`.

    Returns
    -------
    DecisionProblem
        Escalation is no longer the end of the case: for each cause it has the price of asking, of its cheapest proven
        fix, and of as much searching as the unlimited plan expects now. Searching inside the agreement makes the rest
        cheaper in truth, so that this is a cautious price.
    """
    free = replace(problem, agreed=Agreed())
    plan = next_action(free, seconds=seconds, situations=situations)
    fix = _cheapest_fix(free)
    # The search costs as much whatever the cause turns out to be: in the mean this is the plan without limits.
    searching = max(plan.price - float(free.chance @ fix), 0.0)
    return replace(problem, escalation=fix + searching + ASKING_MINUTES)


def _cheapest_fix(problem: DecisionProblem) -> NDArray[np.float64]:
    """Of each hypothesis were it known, with everything that has to come off as things stand."""
    found = problem.escalation.copy()
    for action in problem.actions:
        if action.available and action.cures.any():
            price = problem.rates.price(problem.cost_now(action))
            found = np.minimum(found, price / np.maximum(action.cures, 1e-12))
    return np.asarray(found)
