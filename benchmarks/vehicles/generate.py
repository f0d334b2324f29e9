"""Simulated vehicles: an engine, a past, what is broken, what is read and told of it.

A batch shares one engine, so all its vehicles are predicted in one call. Truth goes through ``predict`` with every
healthy difference drawn for itself; then come the tolerance of the nominal, the bias of each class of instrument, its
true noise, and misreadings.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from benchmarks.vehicles.asked import GROUPS
from benchmarks.vehicles.law import (
    ANSWER_ERROR,
    BIAS,
    SCALE_ODDS,
    SCALES,
    SHOWS,
    SHOWS_ASLEEP,
    WIDE,
    History,
    Law,
    draw_history,
    noted,
    prior_of,
    sleeps,
    type_odds,
)
from benchmarks.vehicles.variant import Variant, Way
from witnessmark.catalogue.faults import FaultInstance
from witnessmark.finding import Finding, Provenance
from witnessmark.vocabulary import Condition, Place

__all__ = ["TAKEN", "Vehicle", "draw_vehicles", "fault_weights", "same_part"]

Array = NDArray[np.float64]
Key = tuple[tuple[str, str], ...] | str

_TOLD = 0.8  # chance that somebody noted whether the complaint was there
_LAVISH = 0.45  # vehicles that are looked at twice as thoroughly
_AT_MOST = 0.97
# Odds of each thoroughness, and how often it takes a procedure.
TAKEN: tuple[tuple[float, Callable[[str], float]], ...] = (
    (1.0 - _LAVISH, lambda name: min(_AT_MOST, GROUPS[name][0])),
    (_LAVISH, lambda name: min(_AT_MOST, 2.0 * GROUPS[name][0])),
)


@dataclass
class Vehicle:
    """One vehicle.

    Parameters
    ----------
    truth : key
        Fault and place of all that is broken; "nothing_wrong", "elsewhere" or "none_of_these".
    instances : tuple of FaultInstance
    variant : int
        Which of the engine's variants it is.
    way : Way
        What is broken and awake.
    asleep : bool
        Whether something broken was asleep.
    history : History
    complaint : bool, optional
        Whether it was there, where somebody noted it.
    taken : ndarray of int
        Numbers of the readings tried; answers counted on after them.
    values : ndarray
        What was read; NaN where there was nothing to read.
    codes : ndarray of bool
        Which of the codes asked for were set; empty where nobody read them.
    """

    truth: Key
    instances: tuple[FaultInstance, ...]
    variant: int
    way: Way
    asleep: bool
    history: History
    complaint: bool | None
    taken: NDArray[np.intp] = field(default_factory=lambda: np.zeros(0, dtype=np.intp))
    values: Array = field(default_factory=lambda: np.zeros(0))
    codes: NDArray[np.bool_] = field(default_factory=lambda: np.zeros(0, dtype=bool))

    def findings(self, variant: Variant) -> tuple[Finding, ...]:
        """As the product takes them."""
        said = {True: "present", False: "absent", None: None}[self.complaint]
        source = Provenance("simulated")
        queries = (*variant.asked.readings, *variant.asked.answers)
        found = []
        for number, value in zip(self.taken, self.values, strict=True):
            query = queries[number]
            if np.isnan(value):
                continue
            answer = number >= len(variant.asked.readings)
            sd = ANSWER_ERROR if answer else float(variant.gauges.some([number]).spread(np.array([value]))[0])
            found.append(Finding(query.quantity, query.place, float(value), sd, _with(query.condition, said), source))
        for name, is_set in zip(variant.asked.codes, self.codes, strict=False):
            found.append(
                Finding(
                    "code_state", Place.of(code=name), float(is_set), ANSWER_ERROR, Condition(complaint=said), source
                )
            )
        return tuple(found)

    def seen_on(self, own: Variant, other: Variant) -> Vehicle | None:
        """The same findings, numbered as another variant of the engine numbers them.

        Parameters
        ----------
        own : Variant
            What it is.
        other : Variant

        Returns
        -------
        Vehicle or None
            None where the other has other readings in a procedure that was gone through, or other codes: then what
            could be read tells that it is not that one.
        """
        if own is other:
            return self
        mine, theirs = ((*one.asked.readings, *one.asked.answers) for one in (own, other))
        place = {query: number for number, query in enumerate(theirs)}
        took = {mine[number] for number in self.taken}
        if took - place.keys() or (self.codes.size and own.asked.codes != other.asked.codes):
            return None
        for name in GROUPS:
            here, there = ({one[i] for i in v.asked.groups.get(name, ())} for one, v in ((mine, own), (theirs, other)))
            if here <= took and here != there and (here or there & took):
                return None
        numbers = np.array([place[mine[number]] for number in self.taken], dtype=np.intp)
        order = np.argsort(numbers)
        return replace(self, taken=numbers[order], values=self.values[order])


def _with(condition: Condition, complaint: str | None) -> Condition:
    return Condition(**{**condition.as_dict(), "complaint": complaint})  # type: ignore[arg-type]


def fault_weights(variant: Variant, history: History, law: Law) -> Array:
    """Prior weight of every fault of the catalogue on this engine, shape (instances,)."""
    return np.array([prior_of(instance, history, law) for instance in variant.instances])


def same_part(a: FaultInstance, b: FaultInstance) -> bool:
    """Two names for one edit at one place are no pair."""
    edits = [{(t.variable, t.place) for kind in one.kinds for t in kind.terms} for one in (a, b)]
    return bool(edits[0] & edits[1])


def draw_vehicles(variants: list[Variant], law: Law, count: int, rng: np.random.Generator) -> list[Vehicle]:
    """So many vehicles with one engine."""
    found = [_broken(variants, law, rng) for _ in range(count)]
    for k, variant in enumerate(variants):
        mine = [vehicle for vehicle in found if vehicle.variant == k]
        if mine:
            _read(variant, mine, law, rng)
    return found


def _broken(variants: list[Variant], law: Law, rng: np.random.Generator) -> Vehicle:
    which = int(rng.choice(len(variants), p=[v.odds for v in variants]))
    variant, history = variants[which], draw_history(rng)
    weights = fault_weights(variant, history, law)
    odds = type_odds(float(weights.sum()), law)
    sort = str(rng.choice(list(odds), p=list(odds.values())))
    instances: tuple[FaultInstance, ...] = ()
    truth: Key = sort
    if sort == "outside":
        instances, truth = (variant.outside[int(rng.integers(len(variant.outside)))],), "none_of_these"
    elif sort in ("single", "pair"):
        share = weights / weights.sum()
        while True:
            numbers = rng.choice(len(share), size=1 if sort == "single" else 2, p=share)
            instances = tuple(variant.instances[i] for i in sorted(numbers))
            if len(instances) == 1 or not same_part(*instances):
                break
        truth = tuple(sorted(one.key for one in instances))
    awake = [rng.random() >= sleeps(one.row, law) for one in instances]
    real = sort != "nothing_wrong" and (any(awake) or not instances)
    shows = rng.random() < (SHOWS if real else SHOWS_ASLEEP)
    complaint = bool(shows) if rng.random() < _TOLD else None
    way = tuple(_sized(one, rng) for one, on in zip(instances, awake, strict=True) if on)
    return Vehicle(truth, instances, which, way, not all(awake), history, complaint)


def _sized(instance: FaultInstance, rng: np.random.Generator) -> tuple[object, Array]:
    share = np.array([kind.weight for kind in instance.kinds])
    kind = instance.kinds[int(rng.choice(len(share), p=share / share.sum()))]
    return kind, np.array([float(axis.at(rng.random(1))[0]) for axis in kind.axes])


def _read(variant: Variant, vehicles: list[Vehicle], law: Law, rng: np.random.Generator) -> None:
    n = len(vehicles)
    seen = variant.see([v.way for v in vehicles], rng.standard_normal((n, variant.count)))
    queries, gauges = variant.asked.readings, variant.gauges
    instruments = sorted({query.kind.instrument for query in queries})
    for row, vehicle in enumerate(vehicles):
        mean = seen.mean[row]
        sd = gauges.spread(mean)
        bias = dict(zip(instruments, rng.standard_normal(len(instruments)), strict=True))
        scale = float(rng.choice(SCALES, p=SCALE_ODDS))
        shared = np.array([bias[q.kind.instrument] for q in queries])
        own = scale * sd * law.noise
        off = rng.random(len(queries)) < law.misread
        noise = np.where(off, WIDE * sd * rng.standard_normal(len(queries)), own * rng.standard_normal(len(queries)))
        # Bias is part of the instrument's stated spread: it grows with the noise.
        read = mean + BIAS * sd * law.noise * shared + noise + seen.tolerance[row] * rng.standard_normal(len(queries))
        absent = np.isnan(mean) ^ (rng.random(len(queries)) < law.unread)
        read = np.where(np.isnan(read), gauges.stray(rng), read)  # read where there is nothing to read
        read = gauges.ended(read)
        read = np.where(absent, np.nan, read)
        yes = rng.random(seen.yes.shape[1]) < noted(seen.yes[row])
        groups = _groups(variant, rng)
        taken = sorted({number for name in groups for number in variant.asked.groups[name]})
        vehicle.taken = np.array(taken, dtype=np.intp)
        vehicle.values = np.concatenate([read, yes.astype(float)])[taken]
        if rng.random() < _AT_MOST and law.coded:
            limit = int(rng.choice(variant.limit_odds.size, p=variant.limit_odds))
            vehicle.codes = rng.random(len(variant.asked.codes)) < noted(seen.code[row, :, limit], code=True)


def _groups(variant: Variant, rng: np.random.Generator) -> list[str]:
    chance = TAKEN[int(rng.choice(len(TAKEN), p=[odds for odds, _ in TAKEN]))][1]
    return [name for name in variant.asked.groups if rng.random() < chance(name)]
