"""Everything asked of an engine worked out abreast: sound, each healthy difference, faulty, and under interventions.

Most of what a prediction costs is the same for one state as for a thousand. So the engine as it stands, every
intervention on it, the healthy differences of each and the fault are rows of one batch, and not batches of their own.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.intervention import intervention, interventions, while_done
from witnessmark.engine.state import HEALTHY, State
from witnessmark.predict.batch import Batch
from witnessmark.predict.differing import one_upward, sound_states
from witnessmark.predict.model import DriveModel
from witnessmark.predict.rule import Nuisance
from witnessmark.predict.rules import rule_of
from witnessmark.predict.run import nuisances
from witnessmark.vocabulary import Query

__all__ = ["Foreseen", "Stood", "foresee"]

Array = NDArray[np.float64]

_MOST_ROWS = 6000
"""Of one batch: beyond, every reading would work out more rows of others than it saves."""


@dataclass(frozen=True, slots=True)
class Foreseen:
    """What one query should read.

    Parameters
    ----------
    sound : float, shape ()
        In the quantity's unit, like all of them; not a number where there would be no such reading.
    spread : float, shape ()
        Standard deviation of what sound engines differ in.
    tolerance : float, shape ()
        Of the nominal beyond that.
    faulty : float or None, shape ()
        None where no other state was asked about.
    """

    sound: float
    spread: float
    tolerance: float
    faulty: float | None


@dataclass(frozen=True, slots=True)
class Stood:
    """The batch of the engine as it stands, with what its readings have worked out.

    Parameters
    ----------
    batch : Batch
    sound, faulty : int
        Rows of it; the same one where no other state was asked about.
    """

    batch: Batch
    sound: int
    faulty: int


@dataclass(frozen=True, slots=True)
class _Group:
    """Queries that look at one and the same engine."""

    queries: tuple[Query, ...]
    moved: tuple[Nuisance, ...]
    state: State
    numbers: Mapping[str, Array]
    rows: int


def foresee(
    model: DriveModel, queries: Sequence[Query], state: State | None = None
) -> tuple[dict[Query, Foreseen], Stood]:
    """What every query should read on a sound engine, how far sound ones spread, and what it reads in another state.

    Parameters
    ----------
    model : DriveModel
    queries : sequence of Query
        Each must be predictable here (:func:`witnessmark.predict.run.why_not` gives None).
    state : State, optional
        One state, such as a fault leaves.

    Returns
    -------
    foreseen : dict of Query to Foreseen
    stood : Stood
        For whoever asks more of the engine without any intervention.

    Raises
    ------
    InputError
        For a place this engine does not have.

    Notes
    -----
    First order: each healthy difference is moved by one standard deviation, one at a time, and the changes are added as
    squares. Of each intervention only those differences are moved that bear on what is read meanwhile.
    """
    engines: dict[Hashable, list[Query]] = {None: []}
    for query in dict.fromkeys(queries):
        engines.setdefault(_engine(model, query), []).append(query)
    groups = [_group(model, tuple(asked), _moved(model, asked, queries), state) for asked in engines.values()]
    usual = {one.variable: one.mean for group in groups for one in group.moved if one.is_number}
    found: dict[Query, Foreseen] = {}
    stands = _batch(model, groups[:1], usual)
    _read(stands, groups[:1], found, faulty=state is not None)
    for some in _chunks(groups[1:]):
        _read(_batch(model, some, usual), some, found, faulty=state is not None)
    return found, Stood(stands, 0, stands.rows - 1 if state is not None else 0)


def _engine(model: DriveModel, query: Query) -> Hashable:
    """What is done to the engine meanwhile, and to which part of it; None for nothing."""
    during = query.condition.during
    if during is None or while_done(model.engine, HEALTHY, during, query.place) is HEALTHY:
        return None
    return (during, None if ":" in during else query.place)


def _moved(model: DriveModel, asked: Sequence[Query], queries: Sequence[Query]) -> tuple[Nuisance, ...]:
    """Healthy differences that bear on what is read of one engine."""
    during = asked[0].condition.during if asked else None
    if during is None or during.partition(":")[0] not in interventions() or not intervention(during)[0].exchanges:
        return nuisances(model, asked)
    # Each of the two now has what belonged to the other, whose differences only its own readings name.
    kind = during.partition(":")[0]
    return nuisances(model, [one for one in queries if (one.condition.during or "").partition(":")[0] == kind])


def _group(model: DriveModel, queries: tuple[Query, ...], moved: tuple[Nuisance, ...], state: State | None) -> _Group:
    rows = 1 + len(moved) + (state is not None)
    sound, numbers = sound_states(moved, one_upward(moved, rows))
    edits = dict(sound.edits)
    for (variable, place), value in (state.edits if state is not None else {}).items():
        column = np.array(edits.get((variable, place), np.full(rows, HEALTHY.get(variable, place))))
        column[-1] = np.ravel(value)[0]
        edits[variable, place] = column
    own = queries[0].place if queries else None
    during = queries[0].condition.during if queries else None
    changed = State(edits) if own is None else while_done(model.engine, State(edits), during, own)
    return _Group(queries, moved, changed, numbers, rows)


def _chunks(groups: Sequence[_Group]) -> Iterator[list[_Group]]:
    some: list[_Group] = []
    for group in groups:
        if some and sum(one.rows for one in some) + group.rows > _MOST_ROWS:
            yield some
            some = []
        some.append(group)
    if some:
        yield some


def _batch(model: DriveModel, groups: Sequence[_Group], usual: Mapping[str, float]) -> Batch:
    """All groups below one another."""
    rows, start = sum(group.rows for group in groups), 0
    edits: dict[tuple[str, str], Array] = {}
    numbers: dict[str, Array] = {}
    for group in groups:
        for key, value in group.state.edits.items():
            column = edits.get(key)
            if column is None:
                column = edits[key] = np.full(rows, HEALTHY.get(*key))
            column[start : start + group.rows] = value
        for name, value in group.numbers.items():
            column = numbers.setdefault(name, np.full(rows, usual[name]))
            column[start : start + group.rows] = value
        start += group.rows
    return Batch(model, State(edits), numbers, rows)


def _read(batch: Batch, groups: Sequence[_Group], found: dict[Query, Foreseen], *, faulty: bool) -> None:
    start = 0
    for group in groups:
        stop = start + group.rows
        for query in group.queries:
            rule = rule_of(query.quantity)
            assert rule is not None
            own = np.broadcast_to(np.asarray(rule.read(batch, query), dtype=np.float64), (batch.rows,))[start:stop]
            sound = float(own[0])
            off = np.nan_to_num(own[1 : 1 + len(group.moved)] - sound)
            tolerance = rule.tolerance_of(batch.model, query)
            found[query] = Foreseen(
                sound,
                float(np.sqrt(np.sum(off**2))),
                float(np.hypot(tolerance.absolute, tolerance.share * abs(np.nan_to_num(sound)))),
                float(own[-1]) if faulty else None,
            )
        start = stop
