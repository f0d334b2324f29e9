"""Which readings of a test are worth thinking of: what can be told on the engine, and bears on what is suspected."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from witnessmark.catalogue.procedures import Procedure, procedures
from witnessmark.engine.intervention import interventions, while_done
from witnessmark.engine.state import HEALTHY, State
from witnessmark.infer.components import assemble
from witnessmark.infer.foretold import is_cheap
from witnessmark.infer.points import Part, Particles
from witnessmark.infer.world import World
from witnessmark.plan.mayrun import MayRun
from witnessmark.predict import why_not
from witnessmark.vocabulary import Place, Query

__all__ = ["can_be_told", "news"]

_TOUCHED = 0.04  # share of the belief that an intervention has to bear on, to be thought of
_INTERVENTIONS = 6  # worked out at once: those that bear on most
_OUTSIDE = 0.15  # share of the belief outside the timing drive, from which on tests of the whole engine are tried
_SCREENED = 0.3  # share of the belief outside what was found, from which on looks, smells and noises are thought of
_SEEN = 0.05  # share of the belief at a place, to look at it


def news(
    cloud: Particles, best: World, asked: Iterable[Procedure], done: Sequence[Query], runs: MayRun
) -> dict[str, tuple[Query, ...]]:
    """What each test would read that nobody has read and that bears on what is suspected.

    Parameters
    ----------
    cloud : Particles
    best : World
        The likeliest engine.
    asked : iterable of Procedure
    done : sequence of Query
        Already read.
    runs : MayRun
        What holds of running the engine.

    Returns
    -------
    dict of str to tuple of Query
        By the tests' ids; without those that would read nothing new.
    """
    taken = {_same(query) for query in done}
    wide = _outside_the_drive(cloud) > _OUTSIDE
    suspected, screen = _suspected(cloud), _unknown(cloud) > _SCREENED
    tests: dict[str, tuple[Query, ...]] = {}
    for name, queries in _askable(best, asked, wide=wide).items():
        fresh = (query for query in queries if _same(query) not in taken and runs.allows(query))
        tests[name] = tuple(
            query for query in fresh if is_cheap(query) or _worth_a_look(query, suspected, screen=screen)
        )
    dear = [query for queries in tests.values() for query in queries if not is_cheap(query)]
    doings = _worth_doing(cloud, best, dear)
    tests = {
        name: tuple(q for q in queries if is_cheap(q) or _doing(q) is None or _doing(q) in doings)
        for name, queries in tests.items()
    }
    return {name: queries for name, queries in tests.items() if queries}


def _suspected(cloud: Particles) -> set[str]:
    """Places that what is suspected sits at, by every name that a look may have for them."""
    found: set[str] = set()
    for part in cloud.parts:
        state = assemble(part.rows)[0]
        weight = cloud.weight[part.start : part.stop]
        for (variable, place), value in state.edits.items():
            edited = np.broadcast_to(np.asarray(value) != HEALTHY.get(variable, place), weight.shape)
            if float(weight[edited].sum()) > _SEEN:
                found |= {place, place.rpartition("_")[2], place.partition(".")[0], place.partition(":")[0]}
    return found


def _askable(best: World, asked: Iterable[Procedure], *, wide: bool) -> dict[str, tuple[Query, ...]]:
    """What procedures would read; of the rest of the engine only where it may be at fault.

    What clears a wheel stays in either way: where the valves open and shut, by the pressure in the first cylinder.
    """
    engine, drive = best.model.engine, {procedure.id: procedure for procedure in procedures().all}
    found = {}
    for procedure in asked:
        own = drive.get(procedure.id)
        cheap = [query for query in own.queries(engine) if is_cheap(query)] if own is not None else []
        if wide:
            codes = tuple(query for query in cheap if query.quantity == "code_state")
            found[procedure.id] = (*best.foretold.tests.askable.get(procedure.id, ()), *codes)
        else:
            whole = best.foretold.tests.askable.get(procedure.id, ()) if own is not None else ()
            valves = tuple(query for query in whole if _of_the_first_valves(query))
            found[procedure.id] = (*(query for query in cheap if can_be_told(best, query)), *valves)
    return found


def _of_the_first_valves(query: Query) -> bool:
    return query.quantity == "valve_event" and str(query.place.get("valve")).startswith("1.")


def _outside_the_drive(cloud: Particles) -> float:
    """Share of the belief in causes outside the timing drive: what tests of the rest of the engine are for."""
    post = cloud.post
    names = (name for name in post.log_mass if not isinstance(name, str))
    inside = (name for name in names if all(post.instances[part].row.system == "drive" for part in name))
    return 1.0 - post.probability("none_of_these") - sum(post.probability(name) for name in inside)


def _unknown(cloud: Particles) -> float:
    """Share of the belief in causes that nothing found would show."""
    hidden = sum(float(np.exp(one.log_total - cloud.post.log_total)) for one in cloud.post.unseen)
    return hidden + float(sum(np.exp(value - cloud.post.log_total) for value in cloud.post.beyond.values()))


def _worth_a_look(query: Query, suspected: set[str], *, screen: bool) -> bool:
    """Of looks those at places of what is suspected; those that take in a whole zone while much is open."""
    if query.kind.kind != "grade":
        return True
    if query.place.get("zone") is not None:
        return screen
    return any(str(value) in suspected for key, value in query.place.items if key != "word")


def can_be_told(world: World, query: Query) -> bool:
    """Whether an engine has such a reading, and it can be worked out.

    Parameters
    ----------
    world : World
    query : Query

    Returns
    -------
    bool
    """
    if query.quantity == "code_state":
        return is_cheap(query)
    return why_not(world.model, query) is None


def _doing(query: Query) -> tuple[str, Place] | None:
    """The intervention under which a reading is taken, where it changes the engine."""
    during = query.condition.during
    if during is None or during.partition(":")[0] not in interventions():
        return None
    return during, query.place if ":" not in during else Place()


def _worth_doing(cloud: Particles, world: World, queries: Iterable[Query]) -> set[tuple[str, Place]]:
    """Interventions that touch enough of what is suspected."""
    doings = dict.fromkeys(doing for query in queries if (doing := _doing(query)) is not None)
    parts = [(part, assemble(part.rows)[0]) for part in cloud.parts]
    bearing = {doing: sum(_borne(cloud, world, part, state, doing) for part, state in parts) for doing in doings}
    order = sorted((doing for doing in bearing if bearing[doing] > _TOUCHED), key=lambda doing: -bearing[doing])
    return set(order[:_INTERVENTIONS])


def _borne(cloud: Particles, world: World, part: Part, state: State, doing: tuple[str, Place]) -> float:
    """Share of the belief in states whose own edits an intervention would change.

    Points lie side by side: what one of them edits stands healthy in all others, and there it does not count.
    """
    after = while_done(world.model.engine, state, *doing)
    n = part.stop - part.start
    touched = np.zeros(n, dtype=bool)
    for key, value in state.edits.items():
        if after.edits.get(key) is not value:
            before = np.asarray(value)
            changes = (np.asarray(after.get(*key)) != before) & (before != HEALTHY.get(*key))
            touched |= np.broadcast_to(changes, (n,))
    return float(cloud.weight[part.start : part.stop][touched].sum())


def _same(query: Query) -> tuple[object, ...]:
    """What makes a second reading no news: same quantity and place, and for measurements the same state."""
    state = None if query.quantity == "code_state" else query.condition.state
    return query.quantity, query.place, state, query.condition.phaser == "moved", query.condition.during
