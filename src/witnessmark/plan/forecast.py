"""What every test would read on every point of the posterior.

The readings of the timing drive are short sums. All others are worked out for the few hundred points alone
(:mod:`witnessmark.infer.pointreadings`); interventions only where they touch what is suspected.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.catalogue.procedures import Procedure, procedures
from witnessmark.engine.intervention import interventions, while_done
from witnessmark.engine.state import HEALTHY, State
from witnessmark.infer.components import SOUND, assemble
from witnessmark.infer.foretold import is_cheap
from witnessmark.infer.lookup import Lookup
from witnessmark.infer.pointreadings import readings_on
from witnessmark.infer.points import Part, Particles
from witnessmark.infer.sound import Sound
from witnessmark.infer.testreadings import is_chance
from witnessmark.infer.unlisted import none_spread
from witnessmark.infer.world import World
from witnessmark.predict import Nuisance, why_not
from witnessmark.predict.codes import code_chance
from witnessmark.vocabulary import Place, Query

__all__ = ["Forecast", "TestLaw", "forecast"]

Array = NDArray[np.float64]
Picks = NDArray[np.intp]

_TOUCHED = 0.04  # share of the belief that an intervention has to bear on, to be thought of
_INTERVENTIONS = 6  # worked out at once: those that bear on most
_UNTOLD = 0.02  # of its spread, or of a chance: a reading that varies less over the points tells nothing
_OUTSIDE = 0.15  # share of the belief outside the timing drive, from which on tests of the whole engine are tried
_SCREENED = 0.3  # share of the belief outside what was found, from which on looks, smells and noises are thought of
_SEEN = 0.05  # share of the belief at a place, to look at it
_CAM_ANGLES = {"cam_deviation", "cam_phase_reported", "cam_phase_error"}
_NO_POSITION = {"phase_scatter", "wheel_pitch_error", "edges_missing", "phaser_slew", "signal_polarity"}
_REPEATS_WITHIN = 2.0  # deg: how well an unlisted cause repeats itself on the same cam; our guess


@dataclass(frozen=True, slots=True)
class TestLaw:
    """What a test would read on every point.

    Parameters
    ----------
    queries : tuple of Query
    mean : ndarray, shape (n, q)
        Of yes/no quantities the chance of yes.
    covariance : ndarray, shape (q, q)
    is_chance : ndarray of bool, shape (q,)
    broad : ndarray, shape (q,)
        Further spread of the points of none_of_these.
    """

    queries: tuple[Query, ...]
    mean: Array
    covariance: Array
    is_chance: NDArray[np.bool_]
    broad: Array


@dataclass(frozen=True, slots=True)
class _Told:
    """Readings on the points of one posterior: means (n, q), the sound engine's, and how sound engines differ."""

    mean: Array
    sound: Sound
    broad: Array


@dataclass(frozen=True)
class Forecast:
    """The readings of all tests that would be news.

    Parameters
    ----------
    cloud : Particles
    tests : mapping of str to tuple of Query
        What each procedure would read that nobody has read.
    """

    cloud: Particles
    tests: Mapping[str, tuple[Query, ...]]
    _at: Mapping[Query, int]
    _told: _Told

    def law(self, test: str) -> TestLaw:
        """The law of a test's readings.

        Parameters
        ----------
        test : str
            One of :attr:`tests`.

        Returns
        -------
        TestLaw
        """
        queries = self._telling(self.tests[test])
        at = [self._at[query] for query in queries]
        mean, broad = self._told.mean[:, at].copy(), self._told.broad[at].copy()
        reference = self._told.sound.mean[at]
        mean = np.where(np.isnan(mean), np.nan_to_num(reference) + 4.0 * broad, mean)
        _repeat(self.cloud, queries, mean[self.cloud.none_from :], broad)
        chances = np.array([is_chance(query) for query in queries])
        return TestLaw(queries, mean, self._covariance(queries, at, chances), chances, broad)

    def _telling(self, queries: tuple[Query, ...]) -> tuple[Query, ...]:
        """Those that differ at all from point to point; the one that does most where none does enough."""
        at = [self._at[query] for query in queries]
        own = [
            _UNTOLD if is_chance(q) else _UNTOLD * q.kind.default_sd(self._size(j))
            for q, j in zip(queries, at, strict=True)
        ]
        spread = np.nanstd(self._told.mean[:, at], axis=0) / np.maximum(own, 1e-9)
        spread = np.where(np.isnan(self._told.mean[:, at]).any(axis=0), np.inf, spread)
        kept = np.flatnonzero(spread > 1.0)
        return tuple(queries[k] for k in (kept if len(kept) else [int(np.argmax(spread))]))

    def _size(self, j: int) -> float:
        return float(np.nan_to_num(self._told.sound.mean[j]))

    def _covariance(self, queries: Sequence[Query], at: Sequence[int], is_chance: NDArray[np.bool_]) -> Array:
        sound = self._told.sound
        reference = np.nan_to_num(sound.mean[at])
        own = np.array([query.kind.default_sd(float(value)) for query, value in zip(queries, reference, strict=True)])
        slope = sound.slope[:, at]
        nominal = np.hypot(sound.absolute[at], sound.share[at] * (np.abs(reference) + 0.5 * self._told.broad[at]))
        covariance = slope.T @ slope + np.diag(nominal**2 + own**2 + 1e-6)
        covariance[is_chance, :] = covariance[:, is_chance] = 0.0
        covariance[is_chance, is_chance] = 1e-4
        return np.asarray(covariance)


def forecast(cloud: Particles, asked: Iterable[Procedure], done: Sequence[Query]) -> Forecast:
    """What every test would read on every point.

    Parameters
    ----------
    cloud : Particles
    asked : iterable of Procedure
    done : sequence of Query
        Already read.

    Returns
    -------
    Forecast
        Without the tests that would read nothing new on this engine.
    """
    best = cloud.post.worlds[int(np.argmax(cloud.post.world_mass))]
    taken = {_same(query) for query in done}
    wide = _outside_the_drive(cloud) > _OUTSIDE
    suspected, screen = _suspected(cloud), _unknown(cloud) > _SCREENED
    tests: dict[str, tuple[Query, ...]] = {}
    for name, queries in _askable(best, asked, wide=wide).items():
        news = (query for query in queries if _same(query) not in taken)
        tests[name] = tuple(
            query for query in news if is_cheap(query) or _worth_a_look(query, suspected, screen=screen)
        )
    dear = [query for queries in tests.values() for query in queries if not is_cheap(query)]
    doings = _worth_doing(cloud, best, dear)
    tests = {
        name: tuple(q for q in queries if is_cheap(q) or _doing(q) is None or _doing(q) in doings)
        for name, queries in tests.items()
    }
    tests = {name: queries for name, queries in tests.items() if queries}
    every = tuple(dict.fromkeys(query for queries in tests.values() for query in queries))
    return Forecast(cloud, tests, {query: j for j, query in enumerate(every)}, _tell(cloud, best, every))


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
            found[procedure.id] = (*(query for query in cheap if _can_be_told(best, query)), *valves)
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


def _can_be_told(world: World, query: Query) -> bool:
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


def _tell(cloud: Particles, best: World, queries: tuple[Query, ...]) -> _Told:
    """Means on all points: the drive's own readings engine by engine, then the rest where it is worked out."""
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
    return _Told(mean, whole, _broad(queries, mean, cloud, whole))


def _healthy_points(cloud: Particles, world: int) -> Picks:
    """Points of an engine on which nothing is wrong, which follow those of faults."""
    first = cloud.parts[-1].stop if cloud.parts else 0
    return first + np.flatnonzero(np.array(cloud.healthy) == world)


def _tell_drive(cloud: Particles, queries: Sequence[Query], cheap: Sequence[int], mean: Array) -> None:
    if not cheap:
        return
    for w, world in enumerate(cloud.post.worlds):
        there = np.array([j for j in cheap if _can_be_told(world, queries[j])], dtype=np.intp)
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
    slopes: dict[Nuisance, Array] = {}
    for at, part in parts:
        mean[list(at)], absolute[list(at)], share[list(at)] = part.mean, part.absolute, part.share
        for nuisance, row in zip(part.moved, part.slope, strict=True):
            slopes.setdefault(nuisance, np.zeros(q))[list(at)] = row
    return Sound(mean, absolute, share, tuple(slopes), np.array(list(slopes.values())).reshape(len(slopes), q))


def _broad(queries: Sequence[Query], mean: Array, cloud: Particles, sound: Sound) -> Array:
    """How far an unlisted cause may move each reading: as far as the suspected ones do, where they do."""
    broad = none_spread(queries)
    points = cloud.parts[-1].stop if cloud.parts else 0
    for j, query in enumerate(queries):
        if is_cheap(query):
            continue
        own = query.kind.default_sd(float(np.nan_to_num(sound.mean[j])))
        off = np.abs(np.nan_to_num(mean[:points, j] - sound.mean[j]))
        off = off[off > own]
        broad[j] = max(2.0 * float(np.median(off)), 3.0 * own) if len(off) else 6.0 * own
    return broad


def _repeat(cloud: Particles, queries: Sequence[Query], means: Array, broad: Array) -> None:
    """Whatever an unlisted cause is, it shows about the same again where it has shown already."""
    read = {f.place: f.value for f in cloud.post.worlds[0].findings.measured if f.quantity in _CAM_ANGLES}
    for j, query in enumerate(queries):
        if query.quantity in _NO_POSITION:  # nothing says that an unlisted cause would show here at all
            broad[j] = 0.0
        elif query.quantity in _CAM_ANGLES and query.place in read:
            means[:, j] = read[query.place]
            broad[j] = _REPEATS_WITHIN


def _same(query: Query) -> tuple[object, ...]:
    """What makes a second reading no news: same quantity and place, and for measurements the same state."""
    state = None if query.quantity == "code_state" else query.condition.state
    return query.quantity, query.place, state, query.condition.phaser == "moved", query.condition.during
