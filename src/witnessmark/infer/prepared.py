"""Predictions of an engine laid out before anybody asks: its first reading is then answered as quickly as its second.

What is laid out is what a first reading mostly hangs on, and is kept as if it had been asked for: every code, every
reading of every test along every way of every fault, and the same readings as they are typed where less is said of
their circumstances. What is not among it is worked out when it is asked for, as ever.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

from witnessmark.catalogue.codes import codes as known_codes
from witnessmark.engine.airkinds import air_kinds
from witnessmark.engine.types import Engine
from witnessmark.infer.foretold import Asked, Foretold, GradeRead, is_cheap
from witnessmark.infer.graded import error_within
from witnessmark.infer.ruled import ruled
from witnessmark.infer.settle import candidates_for, one_of_each_number_of_banks
from witnessmark.infer.testtable import TestTable
from witnessmark.predict import DriveModel
from witnessmark.predict.graded import is_graded
from witnessmark.vocabulary import GRADES, Condition, Place, Query

__all__ = ["engines_of", "lay_out", "typed_readings"]

_HANGS_ON = ((), ("air:speed_density",))
"""What first readings mostly hang on: not on how the engine's air is managed, or on how its computer knows the air."""
_RAISED_RPM = 2500.0  # where an engine is held with its speed raised and the speed is noted; common practice, no source
_WARM_C = 90.0  # as the tests ask for it
_WARM_STATES = ("idle", "raised", "cruise")
_GRADED = {"runs_rough": ("idle", "cruise", "acceleration"), "lacks_power": ("acceleration", "full_load")}
"""Complaints that are told as a number from 0 to 3, and in which states."""
_AT_ONCE = 2000  # nodes of faults whose test readings are worked out together: beyond, memory and no time


def engines_of(engine: Engine) -> tuple[Engine, ...]:
    """The engines that a first reading of a described one is mostly weighed on.

    Parameters
    ----------
    engine : Engine
        As far as described.

    Returns
    -------
    tuple of Engine
        For each number of banks the likeliest layout: as it stands, known by a meter, known by pressure.
    """
    found: dict[str, Engine] = {}
    for candidate in one_of_each_number_of_banks(candidates_for(engine, ())):
        for bearing in _HANGS_ON:
            for kind, _, _ in air_kinds(candidate.engine, bearing):
                found.setdefault(repr(kind), kind)
    return tuple(found.values())


def lay_out(engine: Engine, done: Callable[[float], None] = lambda share: None) -> None:
    """Lay out and keep what a first reading of one engine hangs on; what is kept already is not made again.

    Parameters
    ----------
    engine : Engine
        One of :func:`engines_of`.
    done : callable (float) -> None, optional
        Told which share is done.
    """
    foretold = Foretold(DriveModel.of(engine))
    names = [name for name in known_codes() if foretold.tells_code(name)]
    asked: list[Asked] = [
        query for query in (Query("code_state", Place.of(code=name)) for name in names) if not is_cheap(query)
    ]
    # A batch keeps what its readings have worked out: one for each state of the engine, and not all of them at once.
    by_state: dict[str | None, list[Asked]] = {}
    for query in typed_readings(foretold):
        by_state.setdefault(query.condition.state, []).append(query)
    batches: list[list[Asked]] = [asked, list(_complaints()), *by_state.values()]
    for k, queries in enumerate(batches):
        foretold.columns(queries)
        done(0.5 * (k + 1) / len(batches))
    table = TestTable(foretold)
    read = [query for query in _of_tests(foretold) if query.condition.during is None]
    for k, (ways, share) in enumerate(_some_ways(foretold)):
        table.lay_out(read, ways if k else [0, *ways])
        done(0.5 + 0.5 * share)


def typed_readings(foretold: Foretold) -> tuple[Query, ...]:
    """What the tests read with a number of the engine as it stands, and the same as it is typed.

    Parameters
    ----------
    foretold : Foretold

    Returns
    -------
    tuple of Query
        Each with and without the warmth that the test asks for, with the engine running also warm, with speed raised
        also at 2,500 rpm.
    """
    measured = [q for q in _of_tests(foretold) if not is_graded(q) and q.condition.during is None]
    every = list(dict.fromkeys(replace(q, condition=said) for q in measured for said in _said_of(q.condition)))
    rules = ruled(foretold.model, every)
    return tuple(query for query, one in zip(every, rules, strict=True) if one.refusal is None)


def _complaints() -> Iterator[GradeRead]:
    """Every grade of what a complaint is told as, with the usual doubt about a grade."""
    for quantity, states in _GRADED.items():
        for state in states:
            query = Query(quantity, Place(), Condition(state=state))
            for grade in range(GRADES):
                error = error_within(query.kind.kind, query.kind.default_sd(float(grade)))
                yield GradeRead(query, grade, error)


def _said_of(condition: Condition) -> Iterator[Condition]:
    speeds = dict.fromkeys((condition.speed_rpm, _RAISED_RPM if condition.state == "raised" else None))
    warmths = dict.fromkeys((condition.coolant_c, None, _WARM_C if condition.state in _WARM_STATES else None))
    for speed in speeds:
        for warmth in warmths:
            yield replace(condition, speed_rpm=speed, coolant_c=warmth)


def _of_tests(foretold: Foretold) -> list[Query]:
    """What the tests read on this engine, each once; neither codes nor the timing drive's readings."""
    every = dict.fromkeys(query for queries in foretold.tests.askable.values() for query in queries)
    return [query for query in every if not is_cheap(query)]


def _some_ways(foretold: Foretold) -> Iterator[tuple[Sequence[int], float]]:
    """Ways of faults that are worked out together, and which share of all is done with them."""
    sizes = foretold.shape.prod(axis=1)
    some: list[int] = []
    for way in range(1, len(sizes)):
        some.append(way)
        if sizes[some].sum() >= _AT_ONCE or way == len(sizes) - 1:
            yield some, float(sizes[: way + 1].sum() / sizes.sum())
            some = []
