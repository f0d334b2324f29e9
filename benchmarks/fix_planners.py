"""Ways from a complaint to a proven repair: the program's plan, and planners that it is measured against.

All pay the same prices: the catalogue's typical minutes, covers once, a proof after every repair. Who gives up has the
vehicle gone through from end to end, which finds whatever it is.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import Protocol

import numpy as np

from benchmarks.vehicle_answers import past_of
from benchmarks.vehicles.patient import Patient
from witnessmark.catalogue.procedures import Procedure, all_procedures
from witnessmark.engine.types import Engine
from witnessmark.finding import Finding
from witnessmark.infer.belief import Group
from witnessmark.infer.diagnose import Diagnosis, diagnose
from witnessmark.infer.history import REPAIR, History, Work
from witnessmark.infer.posterior import posterior
from witnessmark.infer.summary import groups_of
from witnessmark.plan.casedecision import END_TO_END_MINUTES
from witnessmark.plan.next import next_steps
from witnessmark.plan.repairs import PROVING_MINUTES
from witnessmark.plan.terms import Terms
from witnessmark.vocabulary import Condition, Place, Query

__all__ = ["FIRST_LOOK", "PLANNERS", "Step", "Way", "follow"]

FIRST_LOOK = ("complaint_heard", "trims_at_speeds", "misfires_read")
"""What everybody takes before anything else, codes beside it; it is part of nobody's price."""
_MOST_STEPS = 40
_SURE = 0.8  # from which on those who do not plan repair what leads
_BLOCK = 4  # tests that they take before they first look at what leads; twice as many each time after
_DOZEN = 12  # tests that they take at most; then they repair what leads, as long as there is any hope in it
_HOPELESS = 0.05  # under which they give up


@dataclass(frozen=True)
class Step:
    """One thing done, and what it took."""

    name: str
    kind: str
    minutes: float


@dataclass
class Way:
    """One vehicle on its way, as one planner goes it.

    Parameters
    ----------
    patient : Patient
    told : Engine
        As described to whoever plans.
    findings : list of Finding
    history : History
    steps : list of Step
    taken : set of str
        Tests that were made since the last thing changed.
    off : set of str
        Covers that are off.
    foreseen : float [min]
        What was expected at the first look, where somebody expects anything.
    """

    patient: Patient
    told: Engine
    findings: list[Finding] = field(default_factory=list)
    history: History = field(default_factory=History)
    steps: list[Step] = field(default_factory=list)
    taken: set[str] = field(default_factory=set)
    off: set[str] = field(default_factory=set)
    foreseen: float = float("nan")
    _read: set[Query] = field(default_factory=set)

    @property
    def minutes(self) -> float:
        """So far [min]."""
        return sum(step.minutes for step in self.steps)

    @property
    def is_cured(self) -> bool:
        """Whether nothing is broken any more."""
        return not self.patient.broken

    def look(self) -> None:
        """What everybody takes first, and again when something has changed."""
        self.findings, self._read, self.taken = [], set(), set()
        for name in FIRST_LOOK:
            self._take(_named(name))
        codes = [Query("code_state", Place.of(code=name), Condition()) for name in self.patient.variant.asked.codes]
        self.findings += self.patient.read(codes)

    def test(self, procedure: Procedure) -> None:
        """Take a test's readings, and pay for it."""
        opening = {procedure.cover} - self.off - {None}
        minutes = procedure.minutes + sum(all_procedures().covers[str(name)][0] for name in opening)
        self.off |= {str(name) for name in opening}
        self.steps.append(Step(procedure.id, "test", minutes))
        self._take(procedure)

    def _take(self, procedure: Procedure) -> None:
        self.taken.add(procedure.id)
        fresh = [query for query in self.patient.can_read(procedure) if query not in self._read]
        self._read |= set(fresh)
        self.findings += self.patient.read(fresh)

    def repair(self, name: str, minutes: float) -> None:
        """Do a repair and measure again whether it cured."""
        self.steps.append(Step(name, "repair", minutes + PROVING_MINUTES))
        work = Work(REPAIR, name, cured=False)
        changed = self.patient.repair(work.repairs)
        if self.is_cured:
            return
        self.history = History((*self.history.done, work), self.history.circumstances, self.history.known, True)
        if changed:
            self.look()

    def give_up(self) -> None:
        """Everything gone through, part by part; then what is broken is put right."""
        repairs = {one.repair_key: one.row.repair.minutes[1] for one in self.patient.broken}
        self.steps.append(Step("end to end", "end", END_TO_END_MINUTES + sum(repairs.values()) + PROVING_MINUTES))
        self.patient.cured = set(range(len(self.patient.vehicle.instances)))

    def leader(self) -> Group | None:
        """What leads of the repairs that were not done yet; no more of an answer than that is worked out."""
        post = posterior(self.told, [one.with_id(f"f{k}") for k, one in enumerate(self.findings)], self.history)
        ids = {name: name if isinstance(name, str) else f"h{k}" for k, name in enumerate(post.log_mass)}
        done = {work.part for work in self.history.done if work.is_repair}
        return next((group for group in groups_of(post, ids) if group.repair not in done), None)

    def asked(self) -> Diagnosis:
        """What the program believes now."""
        return diagnose(self.told, self.findings, self.history)


def _named(name: str) -> Procedure:
    return next(one for one in all_procedures().all if one.id == name)


def _planned(way: Way, rng: np.random.Generator) -> None:
    """The program's own plan, step by step."""
    while not way.is_cured:
        plan = next_steps(way.asked(), terms=Terms(lacks=tuple(way.taken), covers_open=tuple(sorted(way.off))))
        if not way.steps:
            way.foreseen = plan.expected_minutes_to_proof
        step = plan.steps[0] if plan.steps else None
        if step is None or len(way.steps) >= _MOST_STEPS or plan.end_minutes < step.minutes_to_proof:
            way.give_up()
        elif step.kind == "test":
            way.test(_named(step.test))
        else:
            way.repair(step.test, step.minutes[1])


def _omniscient(way: Way, rng: np.random.Generator) -> None:
    """Does what is needed and nothing else."""
    minutes = {":".join(one.repair_key): one.row.repair.minutes[1] for one in way.patient.broken}
    way.repair("+".join(sorted(minutes)), sum(minutes.values()))
    if not way.is_cured:
        way.give_up()


def _in_order(order: Callable[[Sequence[Procedure], np.random.Generator], list[Procedure]]) -> Callable[..., None]:
    """One after the other in an order, whatever they show; what leads is repaired once it is rather sure."""

    def go(way: Way, rng: np.random.Generator) -> None:
        tests = order([one for one in all_procedures().all if way.patient.can_read(one)], rng)[:_DOZEN]
        block = _BLOCK
        while not way.is_cured:
            waiting = [one for one in tests if one.id not in way.taken]
            leads = way.leader()
            chance = leads.probability if leads is not None else 0.0
            if leads is not None and (chance >= _SURE or (not waiting and chance >= _HOPELESS)):
                way.repair(leads.repair, leads.minutes[1])
            elif not waiting or len(way.steps) > len(tests) + _MOST_STEPS:
                way.give_up()
            else:
                for procedure in waiting[:block]:
                    way.test(procedure)
                block *= 2

    return go


def _cheapest_first(tests: Sequence[Procedure], rng: np.random.Generator) -> list[Procedure]:
    covers = all_procedures().covers
    return sorted(tests, key=lambda one: one.minutes + (covers[one.cover][0] if one.cover else 0.0))


def _shuffled(tests: Sequence[Procedure], rng: np.random.Generator) -> list[Procedure]:
    return [tests[k] for k in rng.permutation(len(tests))]


class _Planner(Protocol):
    def __call__(self, way: Way, rng: np.random.Generator) -> None: ...


PLANNERS: dict[str, _Planner] = {
    "plan": _planned,
    "omniscient": _omniscient,
    "cheapest first": _in_order(_cheapest_first),
    "random": _in_order(_shuffled),
}
"""The program, and those it is measured against."""


def follow(
    make: Callable[[], Patient], told: Engine, seed: int, names: Sequence[str] = tuple(PLANNERS)
) -> Iterator[tuple[str, Way]]:
    """Go one vehicle's way as several planners would.

    Parameters
    ----------
    make : callable
        Lays out the same vehicle anew.
    told : Engine
    seed : int
        Of planners that throw dice.
    names : sequence of str
        Of :data:`PLANNERS`.
    """
    for name in names:
        patient = make()
        way = Way(patient, told, history=_of_the_past(patient))
        way.look()
        PLANNERS[name](way, np.random.default_rng(seed))
        yield name, way


def _of_the_past(patient: Patient) -> History:
    past = past_of(patient.vehicle)
    return History(past.done, past.circumstances, past.known, complaint_seen=True)
