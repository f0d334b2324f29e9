"""Small problems that are made in several tests."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from witnessmark.plan.actions import Cost, make_repair
from witnessmark.plan.casedecision import END_TO_END_MINUTES
from witnessmark.plan.leaf import repair_price
from witnessmark.plan.problem import DecisionProblem
from witnessmark.plan.tables import Situations, tables_of


def repairs_in_order(
    chance: ArrayLike, minutes: Sequence[float], success: ArrayLike = 1.0, *, end: float = END_TO_END_MINUTES
) -> NDArray[np.float64]:
    """Expected minutes if each cause has one repair and no test is made, for each row of chances."""
    mass = np.atleast_2d(np.asarray(chance, dtype=np.float64))
    count = len(minutes)
    cures = np.eye(count) * np.broadcast_to(success, count)
    repairs = tuple(make_repair(f"r{k}", Cost(float(minutes[k])), cures[k]) for k in range(count))
    problem = DecisionProblem(tuple(f"h{k}" for k in range(count)), mass[0], repairs, np.full(count, end))
    tables = tables_of(problem)
    at = Situations(mass, np.zeros((len(mass), count), dtype=bool), np.zeros((len(mass), 0), dtype=bool))
    return repair_price(tables, at)
