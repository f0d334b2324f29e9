"""Random decision problems for the planner, and what a planner's policy really costs.

Invented, not taken from vehicles: clusters of causes that share symptoms and a cover, tests that part clusters or
causes within one, with errors; interventions, dearer and surer; repairs that do not always cure; now and then one
repair for a whole cluster or two repairs for one cause; one fault that is not on the list.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.plan.actions import Action, Cost, Cover, make_repair, make_test
from witnessmark.plan.decision import ESCALATE
from witnessmark.plan.problem import DecisionProblem

_PROVING = Cost(15.0)
_IMPOSSIBLE = 1e-12


@dataclass(frozen=True)
class Size:
    """How large the problems are: clusters, causes in each (from, to), tests and interventions."""

    clusters: int
    causes: tuple[int, int]
    tests: int


SMALL = Size(2, (1, 2), 2)
EXACT = Size(3, (2, 4), 7)
LARGE = Size(17, (2, 5), 40)


def draw_problem(seed: int, size: Size) -> DecisionProblem:
    """A problem; the same one for the same seed.

    Parameters
    ----------
    seed : int
    size : Size
    """
    rng = np.random.default_rng([20, seed])
    counts = rng.integers(size.causes[0], size.causes[1] + 1, size.clusters)
    cluster = np.append(np.repeat(np.arange(size.clusters), counts), -1)
    listed = rng.dirichlet(np.full(len(cluster) - 1, 0.7))
    unlisted = rng.uniform(0.03, 0.12)
    covers, cover_of = _covers(rng, size.clusters)
    tests = [_test(rng, k, cluster, cover_of) for k in range(size.tests)]
    repairs = _repairs(rng, cluster, cover_of)
    return DecisionProblem(
        hypotheses=(*(f"cause {k}" for k in range(len(listed))), "unlisted"),
        chance=np.append(listed * (1.0 - unlisted), unlisted),
        actions=(*tests, *repairs),
        escalation=np.full(len(cluster), rng.uniform(250.0, 700.0)),
        covers=covers,
    )


def draw_between(
    seed: int, size: Size, least: int, most: int, count: Callable[[DecisionProblem], int]
) -> DecisionProblem:
    """The first problem of a seed's series that has so many situations."""
    for turn in range(1000):
        problem = draw_problem(1000 * seed + turn, size)
        if least <= count(problem) <= most:
            return problem
    raise AssertionError("no problem of that size in a thousand")


def _covers(rng: np.random.Generator, clusters: int) -> tuple[tuple[Cover, ...], dict[int, str]]:
    covers: list[Cover] = []
    cover_of: dict[int, str] = {}
    for k in range(clusters):
        if rng.random() < 0.6:
            behind = covers[-1].name if covers and rng.random() < 0.25 else None
            covers.append(Cover(f"cover {k}", Cost(float(rng.uniform(10.0, 80.0))), behind))
            cover_of[k] = covers[-1].name
    return tuple(covers), cover_of


def _test(rng: np.random.Generator, number: int, cluster: NDArray[np.intp], cover_of: dict[int, str]) -> Action:
    about = int(rng.integers(cluster.max() + 1))
    parts = rng.choice(["clusters", "causes", "anything"], p=[0.35, 0.45, 0.2])
    is_intervention = rng.random() < 0.25
    outcomes = 3 if rng.random() < 0.3 else 2
    error = rng.uniform(0.01, 0.06) if is_intervention else rng.uniform(0.02, 0.2)
    shows = np.zeros(len(cluster), dtype=np.intp)
    mine = np.flatnonzero(cluster == about)
    if parts == "clusters":
        shows[mine] = 1
    elif parts == "causes":
        shows[mine] = rng.integers(0, outcomes, len(mine))
        shows[rng.choice(mine)] = 1
    else:
        shows[:-1] = rng.integers(0, outcomes, len(cluster) - 1)
    table = np.full((outcomes, len(cluster)), error / (outcomes - 1))
    table[shows, np.arange(len(cluster))] = 1.0 - error
    table[:, -1] = rng.dirichlet(np.full(outcomes, 2.0))
    behind = parts == "causes" and about in cover_of and rng.random() < 0.5
    minutes = float(rng.uniform(3.0, 40.0) * (1.6 if is_intervention else 1.0))
    return make_test(
        f"look {number}",
        Cost(minutes),
        table,
        covers=(cover_of[about],) if behind else (),
        kind="intervention" if is_intervention else "test",
    )


def _repairs(rng: np.random.Generator, cluster: NDArray[np.intp], cover_of: dict[int, str]) -> list[Action]:
    found = []
    for cause in range(len(cluster) - 1):
        home = int(cluster[cause])
        behind = (cover_of[home],) if home in cover_of and rng.random() < 0.8 else ()
        cures = np.zeros(len(cluster))
        cures[cause] = rng.uniform(0.75, 1.0) if rng.random() < 0.6 else 1.0
        cost = Cost(float(rng.uniform(20.0, 150.0)))
        found.append(make_repair(f"repair {cause}", cost, cures, covers=behind, proving=_PROVING))
    clusters = int(cluster.max()) + 1
    for home in range(clusters):
        if rng.random() < 0.6 / min(clusters, 3):
            cures = np.where(cluster == home, rng.uniform(0.8, 1.0), 0.0)
            behind = (cover_of[home],) if home in cover_of else ()
            cost = Cost(float(rng.uniform(120.0, 300.0)))
            found.append(make_repair(f"exchange {home}", cost, cures, covers=behind, proving=_PROVING))
    return found


def policy_price(problem: DecisionProblem, decide: Callable[[DecisionProblem], str]) -> tuple[float, int]:
    """Expected price of doing what a planner says, asked anew in every situation that it leads to.

    Parameters
    ----------
    problem : DecisionProblem
    decide : callable
        From what is left of the problem to the name of an action, or ``ESCALATE``.

    Returns
    -------
    tuple of float and int
        The price, summed over every possible course of the case; and how often it was asked.
    """
    known: dict[frozenset[tuple[str, int]], float] = {}

    def price(left: DecisionProblem, past: frozenset[tuple[str, int]]) -> float:
        if past not in known:
            name = decide(left)
            known[past] = float(left.chance @ left.escalation) if name == ESCALATE else act(left, past, name)
        return known[past]

    def act(left: DecisionProblem, past: frozenset[tuple[str, int]], name: str) -> float:
        action = left.action(name)
        total = left.rates.price(left.cost_now(action))
        for k, chance in enumerate(action.table @ left.chance):
            if chance > _IMPOSSIBLE:
                total += float(chance) * price(left.after(name, k), past | {(name, k)})
        return total

    return price(problem, frozenset()), len(known)
