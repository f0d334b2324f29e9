"""One candidate engine with the findings to explain: turns rows into log likelihoods."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from witnessmark.catalogue.faults import Kind
from witnessmark.engine.candidates import Candidate, naming_odds
from witnessmark.engine.state import HEALTHY, State
from witnessmark.infer.components import SOUND, Component, Rows, choices_of
from witnessmark.infer.distinct import once_for_alike
from witnessmark.infer.evidence import Evidence
from witnessmark.infer.foretold import Foretold, GradeRead, is_cheap
from witnessmark.infer.graded import error_of
from witnessmark.infer.logsum import log_sum
from witnessmark.infer.lookup import Lookup
from witnessmark.infer.sorting import Findings, query_of
from witnessmark.infer.sound import Sound, differences, one_at_a_time, rows_of
from witnessmark.infer.stops import Stops
from witnessmark.infer.unlisted import log_all_codes, log_unlisted, none_spread
from witnessmark.infer.warp import Warp
from witnessmark.predict import DriveModel
from witnessmark.predict.codes import code_chance, felt_key, limits_of, monitored_phase, same_sense
from witnessmark.predict.looksat import asked_of
from witnessmark.predict.model import Numbers

__all__ = ["World"]

Array = NDArray[np.float64]
_LEAST_CHANCE = 1e-6
_MADE_UP = 0.02  # a code that was read is seldom made up: this share of the chance to overlook one; our guess
_MOVES, _MOVES_CHANCE = 0.05, 0.005  # spreads, and of a chance, by which a fault has to move what was found


@dataclass(frozen=True, slots=True)
class _Read:
    """What a batch of rows should read.

    Parameters
    ----------
    means : ndarray, shape (n, measured)
    chances : ndarray, shape (n, yes/no findings)
    told : ndarray, shape (n, codes)
        Chance of each code that is laid out beforehand; of the others not a number.
    graded : ndarray, shape (n, graded)
        Chance of each grade that was given.
    state, numbers
        As the rows stand, for what is worked out as needed; empty where nothing is.
    """

    means: Array
    chances: Array
    told: Array
    graded: Array
    state: State
    numbers: Numbers


class World:
    """One candidate engine, its findings and their law.

    Parameters
    ----------
    candidate : Candidate
    findings : Findings
    foretold : Foretold
        Predictions for its engine.
    """

    def __init__(self, candidate: Candidate, findings: Findings, foretold: Foretold) -> None:
        self.candidate, self.findings, self.foretold = candidate, findings, foretold
        self.model = foretold.model
        self.queries = tuple(query_of(f) for f in findings.measured)
        self.chance_queries = tuple(query_of(f) for f in findings.chances)
        self.code_queries = tuple(query_of(f) for f in findings.codes)
        self.sound: Sound = foretold.sound(self.queries)
        read, own = (np.array([getattr(f, name) for f in findings.measured]) for name in ("value", "sd"))
        by_share = np.array([query.kind.by_share for query in self.queries], dtype=bool)
        self.warp = Warp.of(self.sound, read, own, by_share)
        self.healthy = self.warp.there(self.sound.mean)
        self.instances = foretold.instances
        self.graded = tuple(GradeRead(query_of(f), round(f.value), error_of(f)) for f in findings.graded)
        self._lookup = Lookup(foretold, (*self.queries, *self.chance_queries, *self.code_queries, *self.graded))
        self.broad = self._broad()
        steepness = self.warp.slope(self.sound.mean)
        self.slope, spread = self.sound.slope * steepness, self.sound.spread(steepness)
        self.evidence = Evidence(
            findings.measured, self.warp.tolerance, spread, broad=self.broad, warp=self.warp, usual=self.healthy
        )
        self._stops = Stops(self.queries, self.sound, self.evidence, self.warp, self.broad)
        self.namings = _namings(self.model)
        cheap = {query.condition for query in self.queries if is_cheap(query)}
        self.commands = (
            tuple(n for n in self.sound.moved if n.is_number and n.variable.startswith("command:")) if cheap else ()
        )
        driven = any(is_cheap(query) for query in self.code_queries) and bool(cheap)
        self.felt = _Felt.of(self) if driven else None

    def _broad(self) -> Array:
        """How far causes that are not listed may move each measured finding: as far as the listed ones do."""
        usual = none_spread(self.queries)
        for j, query in enumerate(self.queries):
            if not is_cheap(query):
                usual[j] = self._reach_of(j)
        return usual

    def _reach_of(self, j: int) -> float:
        healthy = float(np.nan_to_num(self.sound.mean[j]))
        own = float(np.hypot(self.queries[j].kind.default_sd(healthy), self.warp.tolerance[j]))
        off = self.warp.some(np.arange(len(self.queries)) == j).there(self._lookup.middles(j)) - self.healthy[j]
        off = np.abs(np.nan_to_num(off))
        off = off[off > own]
        # A listed fault in its middle: half of them within this, so that a few gross ones do not make it boundless.
        return float(max(2.0 * np.median(off), 3.0 * own)) if len(off) else 6.0 * own

    def moved(self, ways: Sequence[Kind]) -> NDArray[np.bool_]:
        """Which ways of faults move anything that was found.

        Parameters
        ----------
        ways : sequence of Kind, length n
            Of :attr:`instances`.

        Returns
        -------
        ndarray of bool, shape (n,)
        """
        own = np.sqrt(np.diag(self.evidence.covariance())) if self.queries else np.zeros(0)
        own = own / self.warp.slope(self.sound.mean)
        scale = np.concatenate([own * _MOVES, np.full(len(self._lookup.queries) - len(own), _MOVES_CHANCE)])
        found = self._lookup.moves(ways, scale)
        if not self._all_looked_up:
            near = [k for k, way in enumerate(ways) if not found[k] and self._is_read(way)]
            if near:
                found[near] = self._reach([_ends(self._bare(ways[k])) for k in near], own)
        return found

    def _is_read(self, way: Kind) -> bool:
        """Whether what is worked out as it is needed looks at anything that a way of a fault edits."""
        read = self._read_off
        return read is None or any((term.variable, term.place) in read for term in way.terms)

    @cached_property
    def _read_off(self) -> frozenset[tuple[str, str]] | None:
        every = (*self.queries, *self.chance_queries, *self.code_queries)
        return asked_of(self.model, [query for query in every if is_cheap(query)])

    def _bare(self, way: Kind) -> Component:
        return Component((), (), (way,), choices_of(self.model, way, self.commands), (), 0.0)

    def _reach(self, ends: Sequence[Rows], own: Array) -> NDArray[np.bool_]:
        read = self._read(ends)
        first = np.cumsum([0, *(len(rows.choice) for rows in ends)])[:-1]
        off = np.zeros(len(read.means), dtype=bool)
        cheap = [j for j, query in enumerate(self.queries) if is_cheap(query)]
        if cheap:
            gone = np.isnan(read.means[:, cheap]) != np.isnan(self.healthy[cheap])
            far = np.abs(read.means[:, cheap] - self.healthy[cheap]) > _MOVES * own[cheap]
            off |= np.any(far | gone, axis=1)
        sound = self._read([SOUND])
        if len(self.chance_queries):
            off |= np.any(np.abs(read.chances - sound.chances[0]) > _MOVES_CHANCE, axis=1)
        if any(is_cheap(query) for query in self.code_queries):
            told = self._codes_told(ends, read), self._codes_told([SOUND], sound)
            off |= np.any(np.abs(told[0] - told[1]) > _MOVES_CHANCE, axis=(1, 2))
        return np.asarray(np.logical_or.reduceat(off, first))

    @cached_property
    def _all_looked_up(self) -> bool:
        return not any(is_cheap(query) for query in (*self.queries, *self.chance_queries, *self.code_queries))

    def _read(self, batch: Sequence[Rows]) -> _Read:
        """Predictions for a batch, sleepers put back to healthy."""
        measured, chances = len(self.queries), len(self.chance_queries)
        every, state, numbers = self._lookup.read(batch)
        if any(part.component.asleep for part in batch):
            self._put_to_sleep(batch, every)
        codes = measured + chances + len(self.code_queries)
        means = self.warp.there(every[:, :measured])
        split = every[:, measured : measured + chances], every[:, measured + chances : codes], every[:, codes:]
        return _Read(means, *split, state, numbers)

    def _put_to_sleep(self, batch: Sequence[Rows], every: Array) -> None:
        """What a fault slept through reads as on a sound engine; codes that are worked out as needed stay unknown."""
        measured, codes, chances = len(self.queries), len(self.code_queries), len(self.chance_queries)
        # Findings are numbered with codes before the other yes-or-no ones, columns the other way about.
        column = np.arange(every.shape[1])
        column[measured : measured + codes] += chances
        column[measured + codes : measured + codes + chances] -= codes
        start = 0
        for part in batch:
            stop = start + len(part.choice)
            if part.component.asleep:
                asleep = column[list(part.component.asleep)]
                every[start:stop, asleep] = self._sound_every[asleep]
            start = stop

    @cached_property
    def _sound_every(self) -> Array:
        every: Array = np.asarray(self._lookup.read([SOUND])[0][0])
        every[: len(self.queries)] = self.sound.mean
        return every

    @cached_property
    def _sound_read(self) -> _Read:
        return self._read([SOUND])

    def means(self, batch: Sequence[Rows]) -> tuple[Array, State, Numbers]:
        """Predictions of the measured findings for a batch, sleepers put back to healthy.

        Parameters
        ----------
        batch : sequence of Rows
            n rows in all.

        Returns
        -------
        means : ndarray, shape (n, q)
            On the scales of :attr:`warp`.
        state : State
        numbers : mapping of str to ndarray, shape (n,)
            Both empty where nothing is worked out as it is needed.
        """
        read = self._read(batch)
        return read.means, read.state, read.numbers

    def each(self, batch: Sequence[Rows]) -> tuple[Array, Array, Array, Array]:
        """Predictions of every finding by itself for a batch.

        Parameters
        ----------
        batch : sequence of Rows
            n rows in all.

        Returns
        -------
        means : ndarray, shape (n, q)
            On the scales of :attr:`warp`.
        codes, chances, graded : ndarray, shape (n, each) [-]
            Chance that a code is set, of yes, and of the grade that was given.
        """
        read = self._read(batch)
        codes = read.told.copy()
        cheap = [k for k, query in enumerate(self.code_queries) if is_cheap(query)]
        if cheap:
            codes[:, cheap] = self._codes_told(batch, read) @ np.asarray(limits_of(self.model.engine)[1]).reshape(-1)
        return read.means, codes, read.chances, read.graded

    def evaluate(self, batch: Sequence[Rows]) -> tuple[Array, Array]:
        """Log probability of all findings for every row of a batch, and the predictions.

        Parameters
        ----------
        batch : sequence of Rows
            n rows in all.

        Returns
        -------
        log_density : ndarray, shape (n,) [nat]
        means : ndarray, shape (n, q)
        """
        read = self._read(batch)
        total = once_for_alike(self._stops.log_density, read.means)
        total = total + self._log_codes(batch, read) + self._log_chances(read)
        total += np.log(np.maximum(read.graded, _LEAST_CHANCE)).sum(axis=1)
        return total, read.means

    def _log_codes(self, batch: Sequence[Rows], read: _Read) -> Array:
        """Codes share the maker's unknown limit and naming: both integrated over, jointly for all codes."""
        if not self.findings.codes:
            return np.zeros(len(read.means))
        return log_sum(self._log_by_naming(batch, read))

    def _log_by_naming(self, batch: Sequence[Rows], read: _Read) -> Array:
        """Log odds of each naming plus log probability of all codes under it, shape (n, namings)."""
        felt = self.felt.numbers(read.means) if self.felt is not None else {}
        told: dict[tuple[object, ...], Array] = {}
        logs = [np.log(odds) + self._log_named(model, batch, read, felt, told) for model, odds in self.namings]
        return np.stack(logs, axis=1)

    @cached_property
    def made_up(self) -> tuple[float, ...]:
        """Of every code the chance that it was read though it is not set [-]."""
        return tuple(finding.sd * _MADE_UP for finding in self.findings.codes)

    def naming_shares(self, batch: Sequence[Rows]) -> Array:
        """Posterior share of each naming of A and B on every row.

        Parameters
        ----------
        batch : sequence of Rows

        Returns
        -------
        ndarray, shape (n, namings) [-]
        """
        logs = self._log_by_naming(batch, self._read(batch))
        return np.asarray(np.exp(logs - log_sum(logs)[:, None]))

    def residuals(self, batch: Sequence[Rows]) -> list[tuple[float, float]]:
        """What each row leaves unexplained of the angles read.

        Parameters
        ----------
        batch : sequence of Rows

        Returns
        -------
        list of (float [deg], float [-])
            The largest residual, and the same in its spread.
        """
        means = self.means(batch)[0]
        angles = [i for i, f in enumerate(self.findings.measured) if f.unit == "deg"]
        if not angles:
            return [(0.0, 0.0)] * len(means)
        covariance = self.evidence.covariance()[np.ix_(angles, angles)]
        left = np.nan_to_num((self.evidence.values - means)[:, angles])
        worst = np.argmax(np.abs(left), axis=1)
        own = left[np.arange(len(left)), worst]
        return [(float(r), float(r / covariance[k, k] ** 0.5)) for r, k in zip(own, worst, strict=True)]

    def _log_named(
        self,
        model: DriveModel,
        batch: Sequence[Rows],
        read: _Read,
        felt: Numbers,
        told: dict[tuple[object, ...], Array],
    ) -> Array:
        """Log probability of all codes under one naming; ``told`` keeps the chances that namings share."""
        _, odds = limits_of(model.engine)
        logs = np.broadcast_to(np.log(odds), (len(read.told), odds.size)).copy()
        for k, finding in enumerate(self.findings.codes):
            if is_cheap(self.code_queries[k]):
                chance = self._driven(model, batch, k, read, felt, told)
            else:
                chance = read.told[:, k : k + 1]
            seen = chance * (1.0 - finding.sd) + (1.0 - chance) * self.made_up[k]
            logs += np.log(seen if finding.value > 0.5 else 1.0 - seen)
        return log_sum(logs)

    def _driven(
        self,
        model: DriveModel,
        batch: Sequence[Rows],
        k: int,
        read: _Read,
        felt: Numbers,
        told: dict[tuple[object, ...], Array],
    ) -> Array:
        """Chance of a code of the timing drive under every limit, sleepers put back to healthy; shape (n, limits)."""
        name, index, rows = (
            str(self.findings.codes[k].place.get("code")),
            len(self.findings.measured) + k,
            len(read.told),
        )
        sense = same_sense(model.engine, name)
        if sense not in told:
            found = code_chance(model, name, read.state, {**read.numbers, **felt}, rows)
            assert found is not None
            told[sense] = found
        if not any(index in part.component.asleep for part in batch):
            return told[sense]
        healthy = code_chance(model, name, HEALTHY, felt, rows)
        assert healthy is not None
        return self._asleep(batch, told[sense].copy(), healthy, index)

    def _codes_told(self, batch: Sequence[Rows], read: _Read) -> Array:
        """Chances of the codes of the timing drive as the likeliest naming has them, shape (n, codes, limits)."""
        model = max(self.namings, key=lambda named: named[1])[0]
        cheap = [k for k, query in enumerate(self.code_queries) if is_cheap(query)]
        return np.stack([self._driven(model, batch, k, read, {}, {}) for k in cheap], axis=1)

    def _log_chances(self, read: _Read) -> Array:
        if not self.findings.chances:
            return np.zeros(len(read.chances))
        error = np.clip([f.sd for f in self.findings.chances], _LEAST_CHANCE, 1.0 - _LEAST_CHANCE)
        yes = np.array([f.value > (0.0 if f.kind.kind == "sign" else 0.5) for f in self.findings.chances])
        seen = read.chances * (1.0 - error) + (1.0 - read.chances) * error
        return np.asarray(np.log(np.where(yes, seen, 1.0 - seen)).sum(axis=1))

    @staticmethod
    def _asleep(batch: Sequence[Rows], values: Array, healthy: Array | float, index: int) -> Array:
        asleep = np.repeat([index in part.component.asleep for part in batch], [len(part.choice) for part in batch])
        values[asleep] = np.broadcast_to(healthy, values.shape)[asleep]
        return values

    def all_asleep(self, component: Component) -> bool:
        """Whether a component slept through every finding.

        Parameters
        ----------
        component : Component

        Returns
        -------
        bool
        """
        return len(component.asleep) == len(self.findings.all) > 0

    @cached_property
    def log_healthy(self) -> float:
        """Log probability of all findings with nothing edited [nat]."""
        return float(self.evaluate([SOUND])[0][0])

    def log_none(self) -> float:
        """Log probability of all findings under "none of these".

        See :mod:`witnessmark.infer.unlisted`.

        Returns
        -------
        float, shape () [nat]
        """
        codes = [f.value > 0.5 for f in self.findings.codes]
        odd = []
        if self.findings.chances:
            healthy = self._sound_read.chances[0]
            yes = np.array([f.value > (0.0 if f.kind.kind == "sign" else 0.5) for f in self.findings.chances])
            odd = list(yes != (healthy > 0.5))
        odd += list(self._sound_read.graded[0] < 0.5)  # a grade that a sound engine would hardly be given
        driven = [is_cheap(query) for query in self.code_queries]
        of_drive, others = ([c for c, d in zip(codes, driven, strict=True) if d is own] for own in (True, False))
        told = log_all_codes(of_drive, others, float(self._log_codes([SOUND], self._sound_read)[0]))
        law = self.evidence.nominal, self.broad, self.healthy
        return told + log_unlisted(self.findings.measured, *law, odd, self.warp)


def _ends(component: Component) -> Rows:
    """A way of one fault at the middle and the two ends of its sizes."""
    share = np.array([[0.0], [0.5], [1.0]]).repeat(len(component.axes), axis=1)
    return Rows(component, share, np.full(3, len(component.choices) // 2, dtype=np.intp))


@dataclass(frozen=True, slots=True)
class _Felt:
    """What readings tell of how a sound engine's own differences move each cam, for the codes that see them too.

    Parameters
    ----------
    evidence : Evidence
    cams : tuple of str
    gain : ndarray, shape (cams, q)
        Mean of each cam's own phase for a residual of one.
    spread : ndarray, shape (cams,)
        Its standard deviation before any reading.
    """

    evidence: Evidence
    cams: tuple[str, ...]
    gain: Array
    spread: Array

    @classmethod
    def of(cls, world: World) -> _Felt:
        """Along the straight lines of what sound engines differ in."""
        moved = world.sound.moved
        rows = rows_of(moved)
        state, numbers = one_at_a_time(moved, rows)
        cams = tuple(cam.id for cam in world.model.engine.cams)
        phase = np.stack(
            [np.broadcast_to(monitored_phase(world.model, cam, state, numbers), rows) for cam in cams], axis=1
        )
        own = differences(phase)[0]
        spread = np.sqrt(np.maximum(np.einsum("nc,nc->c", own, own), 1e-12))
        return cls(world.evidence, cams, own.T @ world.slope @ world.evidence.precision, spread)

    def numbers(self, means: Array) -> dict[str, Array]:
        """Assumed numbers for predictions of shape (n, q). A reading that looks misread tells nothing."""
        evidence = self.evidence
        residual = np.nan_to_num(evidence.values - means) * evidence.sound(means)
        felt = residual @ self.gain.T
        felt = np.clip(felt, -_FELT_AT_MOST * self.spread, _FELT_AT_MOST * self.spread)
        return {felt_key(cam): felt[:, i] for i, cam in enumerate(self.cams)}


_FELT_AT_MOST = 4.0  # spreads: beyond, the straight line is not to be trusted


def _namings(model: DriveModel) -> tuple[tuple[DriveModel, float], ...]:
    """The engine under each naming of A and B that the description leaves open, with odds."""
    engine = model.engine
    found = []
    for kind, odds in naming_odds(engine):
        named = replace(engine, reporting=replace(engine.reporting, a_is=kind))
        found.append((replace(model, engine=named), odds))
    return tuple(found)
