"""Where what the owner agreed to ends: the owner is asked again, and the case goes on from there."""

from __future__ import annotations

from dataclasses import replace

from witnessmark.plan.agreement import Agreed, Asking
from witnessmark.plan.problem import DecisionProblem
from witnessmark.plan.search import look_ahead

__all__ = ["ASKING_MINUTES", "asked_again"]

ASKING_MINUTES = 15.0
"""Telling the owner what was found, and waiting for the answer; our guess."""


def asked_again(problem: DecisionProblem) -> DecisionProblem:
    """A case with limits, whose end inside them is to ask for more.

    Parameters
    ----------
    problem : DecisionProblem
        With what was agreed to; its price is in minutes.

    Returns
    -------
    DecisionProblem

    Notes
    -----
    What asking at once would cost is looked at one step ahead, as what comes after asking later is: a longer look on
    one side alone would set them apart.
    """
    free = replace(problem, agreed=Agreed(), asking=None)
    plan = look_ahead(free, steps=1)
    return replace(problem, asking=Asking(ASKING_MINUTES, plan.price + ASKING_MINUTES))
