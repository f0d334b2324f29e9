"""What a hypothesis would also show, where nobody has looked yet."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from witnessmark.catalogue.procedures import procedures
from witnessmark.infer.belief import Expected
from witnessmark.infer.components import Key, Rows
from witnessmark.infer.foretold import is_cheap
from witnessmark.infer.lookup import Lookup
from witnessmark.infer.posterior import Posterior
from witnessmark.infer.summary import clouds_of
from witnessmark.infer.world import World
from witnessmark.predict import why_not
from witnessmark.vocabulary import Query

__all__ = ["also_shows"]

_POINTS = 24  # heaviest points that stand for a hypothesis
_TELLS = 2.5  # spreads off healthy, to be worth saying
_MOST = 4


def also_shows(post: Posterior, name: Key, done: Sequence[Query]) -> tuple[Expected, ...]:
    """What a hypothesis predicts off healthy and nobody has looked for, the clearest first.

    Parameters
    ----------
    post : Posterior
    name : Key
        The hypothesis.
    done : sequence of Query
        Already read.

    Returns
    -------
    tuple of Expected
        At most four, on the hypothesis' likeliest engine; spread over its severity and the usual
        spread of the instrument.
    """
    cloud = max(clouds_of(post, name), key=lambda c: c.log_total)
    world = post.worlds[cloud.world]
    of_drive = all(post.instances[part].row.system == "drive" for part in name)
    queries = _unread(world, done, of_drive=of_drive)
    if not queries:
        return ()
    best = np.argsort(-cloud.log_weight)[:_POINTS]
    rows = Rows(cloud.integrated.component, cloud.integrated.share[best], cloud.integrated.choice[best])
    weight = np.exp(cloud.log_weight[best] - cloud.log_weight[best[0]])
    weight = weight / weight.sum()
    means = Lookup(world.foretold, queries).read([rows])[0]
    sound = world.foretold.sound(queries)
    found = []
    for j, query in enumerate(queries):
        column = means[:, j]
        if np.isnan(column).any():
            continue
        mean = float(weight @ column)
        known = float(np.hypot(sound.absolute[j], sound.share[j] * abs(mean)))
        own = float(np.hypot(query.kind.default_sd(mean), known))
        spread = float(np.hypot(own, np.sqrt(weight @ (column - mean) ** 2)))
        off = abs(mean - sound.mean[j]) / max(own, 1e-6)
        if off > _TELLS:
            found.append(
                (
                    off,
                    Expected(
                        query.quantity, query.place, query.condition, mean, spread, query.kind.unit_at(query.place)
                    ),
                )
            )
    found.sort(key=lambda pair: -pair[0])
    return tuple(expected for _, expected in found[:_MOST])


def _unread(world: World, done: Sequence[Query], *, of_drive: bool) -> list[Query]:
    """Quantities of the tests listed that nobody has read, each once."""
    found: dict[tuple[object, ...], Query] = {}
    every = _of_the_drive(world) if of_drive else world.foretold.askable.values()
    for queries in every:
        for query in queries:
            plain = query.condition.during is None and query.kind.kind in ("number", "count")
            if not plain or _is_read(query, done):
                continue
            if world.foretold.has(query):
                found.setdefault((query.quantity, query.place), query)
    return list(found.values())


def _of_the_drive(world: World) -> list[tuple[Query, ...]]:
    """What the drive's own tests read: a fault of the drive is told by what is near it."""
    each = (procedure.queries(world.model.engine) for procedure in procedures().all)
    return [tuple(q for q in queries if is_cheap(q) and why_not(world.model, q) is None) for queries in each]


def _is_read(query: Query, done: Sequence[Query]) -> bool:
    """Whether somebody has read this: the same quantity at the same place, or at one that says more."""
    wanted = set(query.place.items)
    return any(q.quantity == query.quantity and (wanted <= set(q.place.items)) for q in done)
