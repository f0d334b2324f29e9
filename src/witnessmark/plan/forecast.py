"""What every test would read on every point of the posterior.

Where an engine's columns are at hand they are looked up. Elsewhere the readings are worked out for the few hundred
points alone, all those of one state of the engine together; interventions only where they touch what is suspected.
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
from witnessmark.infer.foretold import Asked, Foretold, GradeRead, Sound, is_cheap, one_at_a_time
from witnessmark.infer.graded import read_chances
from witnessmark.infer.lookup import Lookup
from witnessmark.infer.unlisted import none_spread
from witnessmark.infer.world import World
from witnessmark.plan.particles import Part, Particles
from witnessmark.predict import Nuisance, expect, nuisances, tolerance_of, why_not
from witnessmark.predict.codes import code_chance
from witnessmark.predict.graded import grades, is_graded
from witnessmark.vocabulary import Place, Query

__all__ = ["Forecast", "TestLaw", "forecast"]

Array = NDArray[np.float64]

_TOUCHED = 0.04  # share of the belief that an intervention has to bear on, to be thought of
_INTERVENTIONS = 6  # worked out at once: those that bear on most
_UNTOLD = 0.02  # of its spread, or of a chance: a reading that varies less over the points tells nothing
_OUTSIDE = 0.15  # share of the belief outside the timing drive, from which on tests of the whole engine are tried
_SCREENED = 0.3  # share of the belief outside what was found, from which on looks, smells and noises are thought of
_SEEN = 0.05  # share of the belief at a place, to look at it
_SHARE = 0.1  # of the belief that an engine has to have, for its readings to be worked out by themselves
_CAM_ANGLES = {"cam_deviation", "cam_phase_reported", "cam_phase_error"}
_NO_POSITION = {"phase_scatter", "wheel_pitch_error", "edges_missing", "phaser_slew", "signal_polarity"}
_EYE = 0.1  # chance of a wrong grade
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
        is_chance = np.array([_is_chance(query) for query in queries])
        return TestLaw(queries, mean, self._covariance(queries, at, is_chance), is_chance, broad)

    def _telling(self, queries: tuple[Query, ...]) -> tuple[Query, ...]:
        """Those that differ at all from point to point; the one that does most where none does enough."""
        at = [self._at[query] for query in queries]
        own = [
            _UNTOLD if _is_chance(q) else _UNTOLD * q.kind.default_sd(self._size(j))
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
            found[procedure.id] = (*best.foretold.askable.get(procedure.id, ()), *codes)
        else:
            whole = best.foretold.askable.get(procedure.id, ()) if own is not None else ()
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
    """Means on all points, what is looked up first, then the rest."""
    post = cloud.post
    mean = np.full((len(cloud.weight), len(queries)), np.nan)
    sound: list[tuple[Sequence[int], Sound]] = []
    first = cloud.parts[-1].stop if cloud.parts else 0
    tail = {w: first + np.flatnonzero(np.array(cloud.healthy) == w) for w in range(len(post.worlds))}
    lent: list[Part] = []  # points of engines too unlikely to be worked out by themselves: as on the likeliest
    own: list[tuple[World, int, list[int]]] = []
    for w, world in enumerate(post.worlds):
        there = [j for j, query in enumerate(queries) if _can_be_told(world, query)]
        if world is best or post.world_mass[w] >= _SHARE:
            world.foretold.columns([queries[j] for j in there if _is_kept_once_made(queries[j])])
        kept = [j for j in there if world.foretold.has(_looked_at(queries[j]))]
        lookup = Lookup(world.foretold, [_looked_at(queries[j]) for j in kept])
        for part in cloud.parts:
            if part.world == w:
                mean[part.start : part.stop, kept] = _looked_up(lookup, part)
        mean[np.ix_(tail[w], np.array(kept, dtype=np.intp))] = _looked_up(lookup, None)
        if world is best:
            sound.append(_sound_of(world, queries, kept))
        missing = [j for j in there if j not in set(kept)]
        if world is best or post.world_mass[w] >= _SHARE:
            own.append((world, w, missing))
        else:
            lent += [part for part in cloud.parts if part.world == w]
    for world, w, missing in own:
        if not missing:
            continue
        parts = [part for part in cloud.parts if part.world == w] + (lent if world is best else [])
        asked = [queries[j] for j in missing]
        told, known = _worked_out(world.foretold, asked, parts)
        start = 0
        for part in parts:
            rows = np.arange(part.start, part.stop)
            mean[np.ix_(rows, np.array(missing, dtype=np.intp))] = told[start : start + len(rows)]
            start += len(rows)
        mean[np.ix_(tail[w], np.array(missing, dtype=np.intp))] = known.mean
        if world is best:
            sound.append((missing, known))
    whole = _together(len(queries), sound)
    gone = np.isnan(mean[first:])
    mean[first:][gone] = np.broadcast_to(whole.mean, mean[first:].shape)[gone]
    return _Told(mean, whole, _broad(queries, mean, cloud, whole))


def _is_chance(query: Query) -> bool:
    return query.kind.kind in ("yes_no", "sign") or query.quantity == "code_state" or is_graded(query)


def _is_kept_once_made(query: Query) -> bool:
    """Readings of an engine as it stands serve every later question; others are worked out for what is suspected."""
    return not is_cheap(query) and not is_graded(query) and _doing(query) is None and query.quantity != "code_state"


def _looked_at(query: Query) -> Asked:
    """What a column tells of a look: that nothing is seen there."""
    return GradeRead(query, 0, _EYE) if is_graded(query) else query


def _sound_of(world: World, queries: Sequence[Query], kept: Sequence[int]) -> tuple[Sequence[int], Sound]:
    """Of what is at hand, codes left out: their chances have no spread of their own."""
    at = [j for j in kept if queries[j].quantity != "code_state" and not is_graded(queries[j])]
    return at, world.foretold.sound([queries[j] for j in at])


def _looked_up(lookup: Lookup, part: Part | None) -> Array:
    values, state, numbers = lookup.read((SOUND,) if part is None else part.rows)
    for j, query in enumerate(lookup.queries):
        if isinstance(query, GradeRead):
            values[:, j] = 1.0 - values[:, j]  # something is seen there, however much
        if query.quantity == "code_state" and is_cheap(query):
            chance = code_chance(lookup.foretold.model, str(query.place.get("code")), state, numbers, len(values))
            if chance is not None:
                values[:, j] = chance.mean(axis=1)
    return values


def _worked_out(foretold: Foretold, queries: Sequence[Query], parts: Sequence[Part]) -> tuple[Array, Sound]:
    """Readings on some points, and on sound engines, without columns."""
    model = foretold.model
    graded = [j for j, query in enumerate(queries) if is_graded(query)]
    plain = [j for j, query in enumerate(queries) if not is_graded(query)]
    moved = nuisances(model, [queries[j] for j in plain])
    first = 1 + len(moved)
    batch = [rows for part in parts for rows in part.rows]
    points, assumed, count = assemble(batch)
    rows = first + count
    state, numbers = one_at_a_time(moved, rows)
    edits = dict(state.edits)
    for key, value in points.edits.items():
        column = np.full(rows, float(HEALTHY.get(*key))) if key not in edits else np.array(edits[key])
        column[first:] = value
        edits[key] = column
    del assumed  # tooth counts and commands bear on the drive's own readings, which are looked up
    mean = np.empty((rows, len(queries)))
    mean[:, plain] = expect(model, [queries[j] for j in plain], State(edits), numbers, rows=rows).mean
    if graded:
        asked = [queries[j] for j in graded]
        chances = read_chances(grades(model, asked, State(edits), numbers, rows=rows), [_EYE] * len(graded))
        mean[:, graded] = 1.0 - np.nan_to_num(chances[:, :, 0], nan=1.0)
    slope = np.nan_to_num(mean[1:first] - mean[0])
    slope[:, graded] = 0.0
    known = [tolerance_of(model, query) for query in queries]
    absolute, share = np.array([t.absolute for t in known]), np.array([t.share for t in known])
    return mean[first:], Sound(mean[0], absolute, share, moved, slope)


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
