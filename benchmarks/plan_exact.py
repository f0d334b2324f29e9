"""Plans against exact dynamic programming, and large ones against a long search and the bound that nothing beats.

What is judged is the price of *following* the planner: it is asked anew in every situation that its own choices lead
to, each time with the stated time, and the courses of the case are summed exactly. Its own exact solver for small cases
is not used there; the same solver, on the whole problem, gives the optimum (tests compare it with a plain recursion).
Time is that of the process, because other work runs on the same machine.
"""

from __future__ import annotations

import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from benchmarks.common_plans import EXACT, LARGE, draw_between, draw_problem, policy_price
from benchmarks.plan_summary import summary
from benchmarks.run import Options, Outcome
from benchmarks.shards import Row, origin, run_shards
from witnessmark.plan.decision import ESCALATE, Decision
from witnessmark.plan.exact import exact_plan, situations_of
from witnessmark.plan.problem import DecisionProblem
from witnessmark.plan.search import look_ahead

WHAT = "plans against exact dynamic programming, large ones against a minute's search"

HERE = Path(__file__).resolve()
FILES = [HERE, HERE.with_name("common_plans.py")]
_FIRST_SEED, _CASES, _LARGE_CASES = 70_000, 500, 100
_FEWEST, _MOST = 100_000, 600_000
_SHORT, _LONG, _MINUTE = 0.08, 2.0, 60.0
_COURSES = 5
_FIXED_EVERY = 5  # fixed numbers of steps are measured on one problem of five


class Asked:
    """A planner with a stated time that keeps count of what it took."""

    def __init__(self, seconds: float, steps: int | None = None) -> None:
        self.seconds, self.steps = seconds, steps
        self.took: list[float] = []
        self.plans: list[Decision] = []

    def __call__(self, problem: DecisionProblem) -> str:
        """The next action."""
        more = {} if self.steps is None else {"steps": self.steps}
        plan = look_ahead(problem, seconds=self.seconds, clock=time.process_time, **more)
        self.took.append(plan.seconds)
        self.plans.append(plan)
        return plan.action


def small_case(seed: int) -> Iterator[Row]:
    """One problem that can be solved exactly."""
    problem = draw_between(seed, EXACT, _FEWEST, _MOST, situations_of)
    best = exact_plan(problem).expected
    row: Row = {"situations": situations_of(problem), "hypotheses": len(problem.chance), "best": best}
    planners = {"short": Asked(_SHORT), "long": Asked(_LONG)}
    if seed % _FIXED_EVERY == 0:
        planners |= {"two": Asked(_LONG, 2), "three": Asked(_LONG, 3), "four": Asked(_LONG, 4)}
    for name, asked in planners.items():
        price, times = policy_price(problem, asked)
        row |= {f"{name}_excess": 100.0 * (price / best - 1.0), f"{name}_asked": times,
                f"{name}_took": max(asked.took), f"{name}_mean": float(np.mean(asked.took)),
                f"{name}_proved": asked.plans[0].exact, f"{name}_gap": 100.0 * asked.plans[0].gap,
                f"{name}_steps": asked.plans[0].steps}  # fmt: skip
    yield row


def large_case(seed: int) -> Iterator[Row]:
    """One problem of about 60 faults and 40 tests."""
    problem = draw_problem(seed, LARGE)
    row: Row = {"hypotheses": len(problem.chance), "actions": len(problem.actions)}
    minute = look_ahead(problem, seconds=_MINUTE, steps=4, clock=time.process_time)
    row |= {"minute": minute.price, "cannot_beat": minute.cannot_beat, "known_cause": minute.known_cause,
            "minute_steps": minute.steps}  # fmt: skip
    for name, seconds in (("short", _SHORT), ("long", _LONG)):
        plan = look_ahead(problem, seconds=seconds, clock=time.process_time)
        row |= {name: plan.price, f"{name}_same": plan.action == minute.action, f"{name}_steps": plan.steps,
                f"{name}_choice": minute.instead(plan.action).price, f"{name}_left": plan.left_out,
                f"{name}_took": plan.seconds}  # fmt: skip
    rng = np.random.default_rng([21, seed])
    row["courses"] = [_course(problem, rng, Asked(_SHORT)) for _ in range(_COURSES)]
    yield row


def _course(problem: DecisionProblem, rng: np.random.Generator, asked: Asked) -> float:
    """What one vehicle of the problem costs, its cause drawn, the planner followed."""
    truth = rng.choice(len(problem.chance), p=problem.chance)
    spent, left = 0.0, problem
    while True:
        name = asked(left)
        if name == ESCALATE:
            return spent + float(problem.escalation[truth])
        action = left.action(name)
        spent += left.rates.price(left.cost_now(action))
        chances = np.append(action.table[:, truth], action.cures[truth])
        outcome = int(rng.choice(len(chances), p=chances / chances.sum()))
        if outcome == len(action.outcomes):
            return spent
        left = left.after(name, outcome)


def run(options: Options) -> Outcome:
    """Measure."""
    if options.small:
        seeds = range(_FIRST_SEED, _FIRST_SEED + 8)
        return summary([row for seed in seeds for row in small_case(seed)], [], origin(*FILES).label, small=True)
    seeds = range(_FIRST_SEED, _FIRST_SEED + _CASES)
    small = run_shards(
        "plan_exact", small_case, seeds, files=FILES, size=10, processes=options.processes, so_far=options.so_far
    )
    seeds = range(_FIRST_SEED, _FIRST_SEED + _LARGE_CASES)
    large = run_shards(
        "plan_large", large_case, seeds, files=FILES, size=1, processes=options.processes, so_far=options.so_far
    )
    return summary(small, large, origin(*FILES).label, whole=(_CASES, _LARGE_CASES))
