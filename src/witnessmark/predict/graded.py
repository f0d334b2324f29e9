"""The door to graded observations: the chance of every grade, for many states and queries at once."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import cache
from importlib import import_module

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.intervention import while_done
from witnessmark.engine.state import State
from witnessmark.predict.batch import Batch
from witnessmark.predict.grading import binned
from witnessmark.predict.model import DriveModel, Numbers
from witnessmark.predict.rules import HOMES, rule_of
from witnessmark.vocabulary import GRADES, Query

__all__ = ["grades", "is_graded"]

_Array = NDArray[np.float64]
_Chances = Callable[[Batch, Query], _Array]
_NUMBERED = "0..3"


def is_graded(query: Query) -> bool:
    """Whether what is read is a grade from 0 to 3.

    Parameters
    ----------
    query : Query

    Returns
    -------
    bool
        Also of what is predicted as a number on that scale.
    """
    return query.kind.unit == _NUMBERED


def grades(
    model: DriveModel,
    queries: Sequence[Query],
    state: State,
    numbers: Numbers | None = None,
    *,
    rows: int = 1,
    batch: Batch | None = None,
) -> _Array:
    """Chance of every grade of every query under every state.

    Parameters
    ----------
    model : DriveModel
    queries : sequence of Query, length q
        Graded ones (:func:`is_graded`), each predictable here (``why_not`` gives None). A condition's intervention
        edits the state for the queries that name it.
    state : State
        n states side by side.
    numbers : mapping, optional
        Description numbers assumed for this batch.
    rows : int
        n.
    batch : Batch, optional
        Of the same model, state, numbers and rows: what other quantities have worked out for it is used.

    Returns
    -------
    array, shape (n, q, 4) [-]
        Of grades 0 to 3 as a careful person would give them; the chance of a wrong answer is not in it
        (``infer.graded`` puts it on). NaN throughout where there could be no such observation.

    Raises
    ------
    InputError
        For a place this engine does not have.

    Notes
    -----
    What is predicted as a number from 0 to 3 (``runs_rough``, ``lacks_power``) is rounded to a grade, spread by its
    rule's tolerance.
    """
    found = np.empty((rows, len(queries), GRADES))
    untouched = Batch(model, state, numbers or {}, rows) if batch is None else batch
    for j, query in enumerate(queries):
        batch = _changed(untouched, query)
        own = _homes().get(query.quantity)
        found[:, j] = _numbered(batch, query) if own is None else own(batch, query)
    return found


def _changed(untouched: Batch, query: Query) -> Batch:
    """The batch that a query is read of: with its intervention under way, one batch for each."""
    during = query.condition.during
    state = while_done(untouched.model.engine, untouched.state, during, query.place)
    if state is untouched.state:
        return untouched
    key = ("graded during", during, None if during and ":" in during else query.place)
    return untouched.once(key, lambda: Batch(untouched.model, state, untouched.numbers, untouched.rows))


def _numbered(batch: Batch, query: Query) -> _Array:
    rule = rule_of(query.quantity)
    assert rule is not None
    mean = np.broadcast_to(np.asarray(rule.read(batch, query), dtype=np.float64), (batch.rows,))
    return binned(mean, rule.tolerance_of(batch.model, query).absolute)


@cache
def _homes() -> Mapping[str, _Chances]:
    """Who gives the grades of what is graded by words."""
    found: dict[str, _Chances] = {}
    for module in ("looks", "smells", "noises", "leakheard"):
        home = import_module(f"witnessmark.predict.{module}")
        found |= dict.fromkeys(HOMES[module], home.OBSERVED.chances)
    return found
