"""What a further agreement with the owner would buy."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, replace

from witnessmark.plan.actions import Cost
from witnessmark.plan.agreement import Agreed
from witnessmark.plan.decision import ESCALATE, Decision
from witnessmark.plan.problem import DecisionProblem
from witnessmark.plan.search import next_action

__all__ = ["Offer", "further_agreements"]

_WORTH_SAYING = 1e-6
_LEAST_SITUATIONS = 600  # a look at every first action and what lies behind the best of them


@dataclass(frozen=True, slots=True)
class Offer:
    """One thing the owner could agree to besides.

    Parameters
    ----------
    what : str
        "minutes", "money", the name of a cover, or "everything".
    saves : float [-]
        Expected price that it would save, 0 or more.
    action : str
        What would be done first then.
    cost : Cost
        What that action takes, its covers included: the least that must be agreed to for it.
    """

    what: str
    saves: float
    action: str
    cost: Cost


def further_agreements(
    problem: DecisionProblem,
    inside: Decision,
    *,
    seconds: float = 0.08,
    situations: int | None = None,
    clock: Callable[[], float] = time.perf_counter,
) -> tuple[Offer, ...]:
    """Each limit lifted alone, then all of them, and what the case would cost then.

    Parameters
    ----------
    problem : DecisionProblem
        As agreed so far.
    inside : Decision
        The plan inside it.
    seconds : float [s]
        Time for all of them together, about.
    situations : int, optional
        Situations of all of them together, as for :func:`witnessmark.plan.search.next_action`.
    clock : callable
        Gives seconds.

    Returns
    -------
    tuple of Offer
        Those that save anything, the most first; empty where nothing is limited.
    """
    lifted = _lifted(problem)
    if not lifted:
        return ()
    most = None if situations is None else max(situations // len(lifted), _LEAST_SITUATIONS)
    each = seconds / (len(lifted) + 1)
    # With and without the limit as long a look, so that what is saved is not what a shorter look did not find.
    if problem.asking is not None:
        free = next_action(replace(problem, agreed=Agreed(), asking=None), seconds=each, situations=most, clock=clock)
        now = min(problem.asking.now, free.price + problem.asking.price)
        problem = replace(problem, asking=replace(problem.asking, now=now))
    alike = next_action(problem, seconds=each, situations=most, clock=clock).price
    offers = []
    for what, agreed in lifted:
        # Nobody is asked again where nothing is limited.
        wider = replace(problem, agreed=agreed, asking=problem.asking if agreed.is_limited else None)
        plan = next_action(wider, seconds=each, situations=most, clock=clock)
        saves = alike - plan.price
        if saves > _WORTH_SAYING * inside.price:
            cost = Cost(0.0) if plan.action == ESCALATE else wider.cost_now(wider.action(plan.action))
            offers.append(Offer(what, saves, plan.action, cost))
    return tuple(sorted(offers, key=lambda offer: -offer.saves))


def _lifted(problem: DecisionProblem) -> list[tuple[str, Agreed]]:
    agreed = problem.agreed
    found = []
    if agreed.minutes is not None:
        found.append(("minutes", replace(agreed, minutes=None)))
    if agreed.money is not None:
        found.append(("money", replace(agreed, money=None)))
    if agreed.covers is not None:
        needed = {cover.name: None for action in problem.actions for cover in problem.to_open(action)}
        for name in needed:
            if name not in agreed.covers:
                chain = {cover.name for cover in problem.cover_chain([name])}
                found.append((name, replace(agreed, covers=agreed.covers | chain)))
    if len(found) > 1:
        found.append(("everything", Agreed()))
    return found
