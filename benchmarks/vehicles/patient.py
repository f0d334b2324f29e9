"""One simulated vehicle that can be asked anything: any test, any repair, one after the other until it is cured.

What it reads comes from ``predict`` on its true state with its own differences from other sound engines, its
instruments' biases and noise, and misreadings; nothing here comes from ``infer``.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from zlib import crc32

import numpy as np
from numpy.typing import NDArray

from benchmarks.vehicles.differences import Differences
from benchmarks.vehicles.gauges import Gauges
from benchmarks.vehicles.generate import Vehicle
from benchmarks.vehicles.law import ANSWER_ERROR, BIAS, SCALE_ODDS, SCALES, WIDE, Law, noted
from benchmarks.vehicles.variant import Variant
from witnessmark.catalogue.faults import FaultInstance
from witnessmark.catalogue.placeof import ALL
from witnessmark.catalogue.procedures import Procedure
from witnessmark.engine.state import State
from witnessmark.finding import Finding, Provenance
from witnessmark.predict import expect, nuisances, why_not
from witnessmark.predict.batch import Batch
from witnessmark.predict.codes import code_chance
from witnessmark.predict.graded import grades, is_graded
from witnessmark.vocabulary import GRADES, Condition, Query

__all__ = ["Patient"]

Array = NDArray[np.float64]
_FURTHER = 0.1  # of wrong grades, how many are wrong by one more; a person takes a grade for its neighbour


@dataclass
class Patient:
    """A vehicle on the bench.

    What befalls one reading hangs on the vehicle and the reading alone, so that everybody who takes it reads the same.

    Parameters
    ----------
    vehicle : Vehicle
        What is broken, awake and to be cured.
    variant : Variant
        The engine that it has.
    law : Law
    seed : tuple of int
    cured : set of int
        Numbers of the faults that are cured.
    """

    vehicle: Vehicle
    variant: Variant
    law: Law
    seed: tuple[int, ...]
    cured: set[int] = field(default_factory=set)

    @property
    def broken(self) -> tuple[FaultInstance, ...]:
        """Faults that are still there."""
        return tuple(one for k, one in enumerate(self.vehicle.instances) if k not in self.cured)

    def would_hold(self, fault: FaultInstance) -> bool:
        """Whether the repair of a fault would cure it: one that failed once fails again."""
        return bool(self._luck("repair", fault.key).random() < fault.row.repair.success)

    def repair(self, jobs: Iterable[tuple[str, str]]) -> bool:
        """Do some jobs; a job on all parts of a kind takes in every single one.

        Returns
        -------
        bool
            Whether anything changed.
        """
        done, before = set(jobs), len(self.cured)
        for k, one in enumerate(self.vehicle.instances):
            job, scope = one.repair_key
            if {(job, scope), (job, ALL)} & done and self.would_hold(one):
                self.cured.add(k)
        return len(self.cured) > before

    def can_read(self, procedure: Procedure) -> tuple[Query, ...]:
        """What a test would yield on this engine, as far as it is predicted."""
        model, found = self.variant.model, procedure.queries(self.variant.model.engine)
        return tuple(query for query in found if _is_code(query) or why_not(model, query) is None)

    def read(self, queries: Iterable[Query]) -> tuple[Finding, ...]:
        """Take readings; those that are not to be had are left out.

        Parameters
        ----------
        queries : iterable of Query

        Returns
        -------
        tuple of Finding
        """
        codes, looks, answers, numbers = [], [], [], []
        for query in queries:
            if _is_code(query):
                codes.append(query)
            elif is_graded(query):
                looks.append(query)
            else:
                (answers if query.kind.kind in ("yes_no", "sign") else numbers).append(query)
        return (*self._numbers(numbers), *self._answers(answers), *self._looks(looks), *self._codes(codes))

    def _luck(self, *what: object) -> np.random.Generator:
        """Chance of its own for whatever is named."""
        return np.random.default_rng([*self.seed, crc32(repr(what).encode())])

    def _state(self, differences: Differences) -> tuple[State, dict[str, Array]]:
        own = [self._luck(one.variable, one.place).standard_normal() for one in differences.moved]
        awake = tuple(one for k, one in enumerate(self.vehicle.way) if k not in self.cured)
        return differences.state(differences.values(np.array([own])), [awake])

    def _differences(self, queries: Sequence[Query]) -> Differences:
        return Differences(nuisances(self.variant.model, tuple(queries)))

    def _numbers(self, queries: Sequence[Query]) -> Iterator[Finding]:
        if not queries:
            return
        differences, model = self._differences(queries), self.variant.model
        seen = expect(model, queries, *self._state(differences), rows=1)
        usual = differences.values(np.zeros((1, len(differences.moved))), blended=True)
        gauges = Gauges.of(queries, expect(model, queries, *differences.state(usual, [()]), rows=1).mean[0])
        sd = gauges.spread(np.nan_to_num(seen.mean[0]))
        luck = [self._luck(query, len(self.cured)) for query in queries]
        bias = np.array([self._luck(query.kind.instrument).standard_normal() for query in queries])
        scale = float(self._luck("scale").choice(SCALES, p=SCALE_ODDS))
        off = np.array([one.random() < self.law.misread for one in luck])
        noise, own = (np.array([one.standard_normal() for one in luck]) for _ in range(2))
        read = seen.mean[0] + np.nan_to_num(seen.tolerance[0]) * own
        read = gauges.ended(
            read + sd * (BIAS * self.law.noise * bias + np.where(off, WIDE, scale * self.law.noise) * noise)
        )
        stated = gauges.spread(np.nan_to_num(read))
        for query, value, spread in zip(queries, read, stated, strict=True):
            if not np.isnan(value):
                yield _finding(query, value, spread)

    def _answers(self, queries: Sequence[Query]) -> Iterator[Finding]:
        if not queries:
            return
        chances = expect(self.variant.model, queries, *self._state(self._differences(queries)), rows=1).mean[0]
        for query, chance in zip(queries, chances, strict=True):
            if not np.isnan(chance):
                yes = self._luck(query, len(self.cured)).random() < noted(chance)
                yield _finding(query, yes, ANSWER_ERROR)

    def _looks(self, queries: Sequence[Query]) -> Iterator[Finding]:
        if not queries:
            return
        chances = grades(self.variant.model, queries, *self._state(self._differences(queries)), rows=1)[0]
        for query, chance in zip(queries, chances, strict=True):
            if np.isnan(chance).any():
                continue
            luck = self._luck(query, len(self.cured))
            grade = int(luck.choice(GRADES, p=chance / chance.sum()))
            if luck.random() < (query.kind.sd if query.kind.kind == "grade" else ANSWER_ERROR):
                far = 2 if luck.random() < _FURTHER else 1
                grade = int(np.clip(grade + far * luck.choice([-1, 1]), 0, GRADES - 1))
            yield _finding(query, grade, query.kind.sd)

    def _codes(self, queries: Sequence[Query]) -> Iterator[Finding]:
        if not queries:
            return
        model, (state, numbers) = self.variant.model, self._state(self.variant.differences)
        odds = self.variant.limit_odds
        limit, batch = int(self._luck("limit").choice(odds.size, p=odds)), Batch(model, state, numbers, 1)
        for query in queries:
            chance = code_chance(model, str(query.place.get("code")), state, numbers, 1, batch=batch)
            if chance is not None:
                yes = self._luck(query, len(self.cured)).random() < noted(np.nan_to_num(chance[0, limit]), code=True)
                yield _finding(query, yes, ANSWER_ERROR)


def _is_code(query: Query) -> bool:
    return query.quantity == "code_state"


def _finding(query: Query, value: float, sd: float) -> Finding:
    condition = Condition(**{**query.condition.as_dict(), "complaint": "present"})  # type: ignore[arg-type]
    return Finding(query.quantity, query.place, float(value), float(sd), condition, Provenance("simulated"))
