"""How long the next step takes to choose, apart from what the tests would read, and what longer thought would save.

Cases are the first readings of tests/data/first_readings. The limit of the machine is one batch of matrix products of
the size of all that was searched: beliefs after every branch, and the chance of every outcome.
"""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar

import numpy as np

if __name__ == "__main__":  # run by itself: the project's folder is not on the path yet
    sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from benchmarks.first_readings import diagnosed
from benchmarks.run import Options, Outcome
from benchmarks.shards import origin
from tests.first_readings import FirstReading, first_readings
from witnessmark.catalogue.procedures import all_procedures
from witnessmark.infer.points import particles
from witnessmark.infer.sorting import query_of
from witnessmark.plan.casedecision import case_decision
from witnessmark.plan.forecast import forecast
from witnessmark.plan.next import repairs_in_question
from witnessmark.plan.problem import DecisionProblem
from witnessmark.plan.search import look_ahead
from witnessmark.plan.terms import Terms

WHAT = "the planner on first readings: building the decision, searching it, and what two seconds would save"

SMALL = 3
_LONG_SECONDS = 2.0
_REPEATS = 3
Result = TypeVar("Result")


@dataclass(frozen=True, slots=True)
class Timed:
    """One example planned.

    Parameters
    ----------
    name : str
    size : str
        Hypotheses, actions, outcomes.
    build_ms, search_ms, products_ms : float [ms]
        Tables of outcomes; the search as ``examine`` does it; the bare matrix products.
    situations, deepest : int
    saved, bound : float [-]
        Share of the price that two seconds save, and that no plan can save.
    """

    name: str
    size: str
    build_ms: float
    search_ms: float
    products_ms: float
    situations: int
    deepest: int
    saved: float
    bound: float


def timed(example: FirstReading) -> Timed:
    """One example, its predictions at hand already.

    Parameters
    ----------
    example : FirstReading
    """
    diagnosis = diagnosed(example)
    cloud = particles(diagnosis.posterior)
    done = [query_of(finding) for finding in diagnosis.posterior.worlds[0].findings.all]
    foreseen = forecast(cloud, all_procedures().all, done)
    groups, terms = repairs_in_question(diagnosis), Terms()
    built, case = _least(lambda: case_decision(cloud, foreseen, groups, terms))
    problem = case.problem
    effort = terms.effort
    took, decision = _least(lambda: look_ahead(problem, seconds=effort.seconds, situations=effort.situations))
    longer = look_ahead(problem, seconds=_LONG_SECONDS)
    products, _ = _least(lambda: _products(problem, decision.situations))
    branches = sum(len(action.outcomes) for action in problem.actions)
    return Timed(
        example.id,
        f"{len(problem.hypotheses)}, {len(problem.actions)}, {branches}",
        built,
        took,
        products,
        decision.situations,
        decision.deepest,
        1.0 - longer.price / decision.price,
        1.0 - max(decision.cannot_beat, longer.cannot_beat) / decision.price,
    )


def _least(work: Callable[[], Result]) -> tuple[float, Result]:
    """The shortest of a few runs in milliseconds of processor time, and what it gave."""
    found = []
    for _ in range(_REPEATS):
        start = time.process_time()
        result = work()
        found.append(time.process_time() - start)
    return 1e3 * min(found), result


def _products(problem: DecisionProblem, situations: int) -> float:
    """Chances of all outcomes after each situation, and of each repair's cure."""
    rows = np.vstack([np.vstack([action.table, action.cures[None, :]]) for action in problem.actions])
    mass = np.ones((situations, len(problem.hypotheses))) * problem.chance
    return float((mass @ rows.T).sum())


def run(options: Options) -> Outcome:
    """All examples, every so many of them (``WITNESSMARK_EVERY``), or the first few."""
    every = int(os.environ.get("WITNESSMARK_EVERY", "1"))
    examples = first_readings()[:SMALL] if options.small else first_readings()[::every]
    return Outcome(summary([timed(example) for example in examples]))


def summary(done: list[Timed]) -> str:
    """Quantiles over all examples, and a line for each.

    Parameters
    ----------
    done : list of Timed

    Returns
    -------
    str
    """

    def spread(name: str) -> str:
        values = np.array([getattr(one, name) for one in done])
        return f"{np.median(values):.0f} | {np.quantile(values, 0.95):.0f} | {values.max():.0f}"

    ratio = np.median([one.search_ms / one.products_ms for one in done])
    saved = np.array([one.saved for one in done])
    rows = "\n".join(
        f"| {one.name} | {one.size} | {one.build_ms:.0f} | {one.search_ms:.0f} | {one.situations} | {one.deepest} | "
        f"{100 * one.saved:.1f} % | {100 * one.bound:.0f} % |"
        for one in done
    )
    return f"""# Time of the planner

{origin(Path(__file__)).label}. Processor time on one core, the least of {_REPEATS} runs; what tests would read
is at hand already ([first_readings.md](first_readings.md) has the whole). The search takes **{ratio:.0f} times** as
long as the bare matrix products of its size.

| ms | median | 19 of 20 below | most |
|---|---|---|---|
| building tables of outcomes | {spread("build_ms")} |
| searching | {spread("search_ms")} |

Two seconds instead would save {100 * np.median(saved):.1f} % of the expected minutes in the median,
{100 * saved.max():.1f} % at most. The bound is loose: it is what every cause would cost were it known.

| example | causes, actions, outcomes | build | search | situations | deepest | 2 s save | nobody can save more than |
|---|---|---|---|---|---|---|---|
{rows}
"""
