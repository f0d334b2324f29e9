"""What every reading is on every point of the posterior, and on a sound engine.

The readings of the timing drive are short sums. All others are worked out for the few hundred points alone
(:mod:`witnessmark.infer.pointreadings`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.infer.components import SOUND
from witnessmark.infer.foretold import is_cheap
from witnessmark.infer.lookup import Lookup
from witnessmark.infer.pointreadings import readings_on
from witnessmark.infer.points import Part, Particles
from witnessmark.infer.sound import Sound
from witnessmark.infer.unlisted import none_spread
from witnessmark.infer.world import World
from witnessmark.plan.asked import can_be_told
from witnessmark.plan.supply import is_in_doubt, rests_on, weak_points
from witnessmark.predict import Nuisance
from witnessmark.predict.codes import code_chance
from witnessmark.vocabulary import Query

__all__ = ["Told", "tell"]

Array = NDArray[np.float64]
Picks = NDArray[np.intp]


@dataclass(frozen=True, slots=True)
class Told:
    """Readings on the points of one posterior.

    Parameters
    ----------
    mean : ndarray, shape (n, q)
        Not a number where there would be no such reading.
    sound : Sound
        The sound engine's, and how sound engines differ.
    broad : ndarray, shape (q,)
        How far an unlisted cause may move each.
    """

    mean: Array
    sound: Sound
    broad: Array


def tell(cloud: Particles, best: World, queries: tuple[Query, ...]) -> Told:
    """Means on all points: the drive's own readings engine by engine, then the rest where it is worked out.

    Parameters
    ----------
    cloud : Particles
    best : World
        The likeliest engine.
    queries : tuple of Query, length q

    Returns
    -------
    Told
    """
    mean = np.full((len(cloud.weight), len(queries)), np.nan)
    cheap = [j for j, query in enumerate(queries) if is_cheap(query)]
    dear = [j for j, query in enumerate(queries) if not is_cheap(query)]
    _tell_drive(cloud, queries, cheap, mean)
    _tell_rest(cloud, queries, dear, mean)
    measured = [j for j in cheap if queries[j].quantity != "code_state"]  # codes' chances have no spread of their own
    sound = [
        (measured, best.foretold.sound([queries[j] for j in measured])),
        (dear, best.foretold.tests.sound([queries[j] for j in dear])),
    ]
    whole = _together(len(queries), sound)
    first = cloud.parts[-1].stop if cloud.parts else 0
    gone = np.isnan(mean[first:])
    mean[first:][gone] = np.broadcast_to(whole.mean, mean[first:].shape)[gone]
    _hold_up(cloud, queries, whole, mean)
    return Told(mean, whole, _broad(queries, mean, cloud, whole))


def _hold_up(cloud: Particles, queries: Sequence[Query], sound: Sound, mean: Array) -> None:
    """What rests on a battery in doubt is read with the supply held up: there a weak one reads as a sound one does."""
    if is_in_doubt(cloud):
        resting = np.flatnonzero(rests_on(queries))
        mean[np.ix_(np.flatnonzero(weak_points(cloud)), resting)] = sound.mean[resting]


def _healthy_points(cloud: Particles, world: int) -> Picks:
    """Points of an engine on which nothing is wrong, which follow those of faults."""
    first = cloud.parts[-1].stop if cloud.parts else 0
    return first + np.flatnonzero(np.array(cloud.healthy) == world)


def _tell_drive(cloud: Particles, queries: Sequence[Query], cheap: Sequence[int], mean: Array) -> None:
    if not cheap:
        return
    for w, world in enumerate(cloud.post.worlds):
        there = np.array([j for j in cheap if can_be_told(world, queries[j])], dtype=np.intp)
        lookup = Lookup(world.foretold, [queries[j] for j in there])
        mean[np.ix_(_healthy_points(cloud, w), there)] = _looked_up(lookup, None)
        for part in cloud.parts:
            if part.world == w:
                mean[part.start : part.stop, there] = _looked_up(lookup, part)


def _tell_rest(cloud: Particles, queries: Sequence[Query], dear: Sequence[int], mean: Array) -> None:
    if not dear:
        return
    readings = readings_on(cloud.post)
    for w in readings.stands:
        can = cloud.post.worlds[w].foretold.tests.all
        there = np.array([j for j in dear if queries[j] in can], dtype=np.intp)
        sound, points = readings.read(w, [queries[j] for j in there])
        mean[np.ix_(readings.points_of(w), there)] = points
        mean[np.ix_(_healthy_points(cloud, w), there)] = sound


def _looked_up(lookup: Lookup, part: Part | None) -> Array:
    values, state, numbers = lookup.read((SOUND,) if part is None else part.rows)
    for j, query in enumerate(lookup.queries):
        if query.quantity == "code_state" and is_cheap(query):
            chance = code_chance(lookup.foretold.model, str(query.place.get("code")), state, numbers, len(values))
            if chance is not None:
                values[:, j] = chance.mean(axis=1)
    return values


def _together(q: int, parts: Sequence[tuple[Sequence[int], Sound]]) -> Sound:
    """Sound engines’ readings from several sources, what they share told once."""
    mean, absolute, share = np.full(q, np.nan), np.zeros(q), np.zeros(q)
    does: dict[Nuisance, Array] = {}  # straight and bent
    for at, part in parts:
        mean[list(at)], absolute[list(at)], share[list(at)] = part.mean, part.absolute, part.share
        for nuisance, slope, bend in zip(part.moved, part.slope, part.bend, strict=True):
            does.setdefault(nuisance, np.zeros((2, q)))[:, list(at)] = slope, bend
    slope, bend = np.moveaxis(np.array(list(does.values())).reshape(len(does), 2, q), 1, 0)
    return Sound(mean, absolute, share, tuple(does), slope, bend)


def _broad(queries: Sequence[Query], mean: Array, cloud: Particles, sound: Sound) -> Array:
    """How far an unlisted cause may move each reading: as far as the suspected ones do, where they do."""
    broad = none_spread(queries)
    points = cloud.parts[-1].stop if cloud.parts else 0
    usual, far = np.nan_to_num(sound.mean), np.abs(np.nan_to_num(mean[:points] - sound.mean))
    for j, query in enumerate(queries):
        if is_cheap(query):
            continue
        own = query.kind.default_sd(float(usual[j]))
        off = far[:, j]
        off = off[off > own]
        broad[j] = max(2.0 * float(np.median(off)), 3.0 * own) if len(off) else 6.0 * own
    return broad
