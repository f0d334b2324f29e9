"""A case as a decision: the causes still open, every test as a table of outcomes, every repair with its proof."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.catalogue.procedures import Procedure, all_procedures
from witnessmark.infer.belief import Group
from witnessmark.infer.history import Work
from witnessmark.infer.points import Particles
from witnessmark.plan.actions import Action, Cover, make_test
from witnessmark.plan.causes import UNLIKELY, Causes, stacked, told_apart
from witnessmark.plan.forecast import Forecast
from witnessmark.plan.mayrun import MayRun
from witnessmark.plan.outcomes import OutcomeTable, PointLaw, believe, cut, entropy_bits
from witnessmark.plan.problem import DecisionProblem
from witnessmark.plan.repairs import PROVING_MINUTES, repair_name, repairs_of
from witnessmark.plan.supply import HELD, HOLDING_MINUTES, is_in_doubt, rests_on
from witnessmark.plan.terms import Terms
from witnessmark.plan.testlaw import TestLaw
from witnessmark.vocabulary import Query

__all__ = ["END_TO_END_MINUTES", "CaseDecision", "Tried", "case_decision", "tried_on"]

Array = NDArray[np.float64]

END_TO_END_MINUTES = 900.0
"""Everything gone through, part by part, where nothing on the list cured it; then comes the repair. Our guess."""
# What ends a case whose cause is none of the repairs listed, minutes; our guesses.
_OTHER_ENDS = {"elsewhere": 240.0, "nothing_wrong": 60.0, "none_of_these": 480.0}
_DRAWS = 240
_OUTLIER = 0.01
_UNLISTED_SHOWS = 0.2  # chance that an unlisted cause moves the readings of a test that nobody made yet; our guess
_OUTCOMES, _TRIFLE_BITS = 12, 0.03
# Units of what cannot be below nothing.
_NEVER_BELOW = {"L/min", "g/s", "mL/s", "rpm", "1/min", "1/1000", "mA", "ohm", "mohm"}
_NOT_NEGATIVE = {"phase_scatter", "wheel_pitch_error", "edges_missing", "phaser_slew", "tensioner_extension"}


@dataclass(frozen=True, slots=True)
class Tried:
    """A test tried on many drawn readings.

    Parameters
    ----------
    procedure : Procedure
    law : TestLaw
    draws : ndarray, shape (m, q)
        The readings drawn.
    after : ndarray, shape (m, hypotheses)
        What would be believed after each.
    table : OutcomeTable
    """

    procedure: Procedure
    law: TestLaw
    draws: Array
    after: Array
    table: OutcomeTable


@dataclass(frozen=True, slots=True)
class CaseDecision:
    """A case as a decision, with what its actions stand for.

    Parameters
    ----------
    problem : DecisionProblem
    causes : Causes
    cloud : Particles
    groups : mapping of str to Group
        Every repair by its name.
    tests : mapping of str to Tried
    runs : MayRun
        What holds of running the engine.
    """

    problem: DecisionProblem
    causes: Causes
    cloud: Particles
    groups: Mapping[str, Group]
    tests: Mapping[str, Tried]
    runs: MayRun

    @property
    def open_bits(self) -> float:
        """What is not known about which repair it is, in bits."""
        return float(entropy_bits(self.cloud.chance / self.cloud.chance.sum()))


def case_decision(
    cloud: Particles,
    foreseen: Forecast,
    groups: Mapping[str, Group],
    terms: Terms,
    *,
    in_vain: Sequence[Work] = (),
) -> CaseDecision:
    """The decision that a case stands before.

    Parameters
    ----------
    cloud : Particles
    foreseen : Forecast
    groups : mapping of str to Group
        Every repair of the points by its name.
    terms : Terms
    in_vain : sequence of Work
        Repairs that were done without cure.

    Returns
    -------
    CaseDecision
    """
    known = all_procedures()
    laws = {p.id: (p, foreseen.law(p.id)) for p in known.all if p.id in foreseen.tests}
    causes = told_apart(cloud, _readings(len(cloud.weight), (law for _, law in laws.values())))
    tests = {name: tried_on(procedure, law, cloud, causes) for name, (procedure, law) in laws.items()}
    held = is_in_doubt(cloud)
    repairs = repairs_of(cloud, causes, groups, terms, in_vain)
    problem = DecisionProblem(
        hypotheses=tuple(_hypotheses(cloud, causes)),
        chance=causes.chance / causes.chance.sum(),
        actions=(*(_test(tried, terms, held=held) for tried in tests.values()), *repairs.actions),
        escalation=np.array([_end(cloud, causes, h, groups) for h in range(len(causes.group))]),
        covers=(*_covers(terms), *repairs.shared),
        open_covers=frozenset(terms.covers_open),
        rates=terms.rates,
        agreed=terms.with_jobs((HELD, *(cover.name for cover in repairs.shared))),
    )
    return CaseDecision(problem, causes, cloud, groups, tests, foreseen.runs)


def _readings(points: int, laws: Iterable[TestLaw]) -> Array:
    told = [(law.scaled, np.where(law.is_chance, 0.3, law.spread)) for law in laws]
    return stacked([mean for mean, _ in told], [sd for _, sd in told]) if told else np.zeros((points, 1))


def tried_on(procedure: Procedure, law: TestLaw, cloud: Particles, causes: Causes) -> Tried:
    """A test tried on drawn readings, each believed, and cut into outcomes.

    Parameters
    ----------
    procedure : Procedure
    law : TestLaw
        Of all its readings, or of some.
    cloud : Particles
    causes : Causes

    Returns
    -------
    Tried
    """
    points = PointLaw(
        mean=law.scaled,
        covariance=law.covariance,
        is_chance=law.is_chance,
        weight=cloud.weight,
        group=causes.of_point,
        wide=law.broad,
        outlier=np.where(np.arange(len(cloud.weight)) >= cloud.none_from, _UNLISTED_SHOWS, _OUTLIER),
        not_negative=np.array([_is_not_negative(query) for query in law.queries]),
    )
    draws, after = believe(points, len(causes.group), draws=_DRAWS)
    return Tried(procedure, law, law.warp.back(draws), after, cut(after, most=_OUTCOMES, trifle=_TRIFLE_BITS))


def _is_not_negative(query: Query) -> bool:
    return query.quantity in _NOT_NEGATIVE or query.kind.unit_at(query.place) in _NEVER_BELOW


def _test(tried: Tried, terms: Terms, *, held: bool) -> Action:
    """A test; where the battery is in doubt one that rests on it needs the supply held up."""
    procedure = tried.procedure
    rests = held and bool(rests_on(tried.law.queries).any())
    return make_test(
        procedure.id,
        terms.cost(procedure.minutes),
        tried.table.table,
        covers=(*((HELD,) if rests else ()), *(() if procedure.cover is None else (procedure.cover,))),
        available=terms.has(procedure.id, procedure.tool),
    )


def _hypotheses(cloud: Particles, causes: Causes) -> Iterable[str]:
    for number, group in enumerate(causes.group):
        yield f"{number} {'unlikely ones' if group == UNLIKELY else repair_name(cloud.groups[group])}"


def _end(cloud: Particles, causes: Causes, hypothesis: int, groups: Mapping[str, Group]) -> float:
    """Minutes of what ends the case when nothing else does: for a cause of the list the search and its repair."""
    points = causes.of_point == hypothesis
    weight = cloud.weight * points
    each = np.array([_end_of(repair_name(name), groups) for name in cloud.groups])
    return float(weight @ each[cloud.group] / max(weight.sum(), 1e-300)) if points.any() else END_TO_END_MINUTES


def _end_of(name: str, groups: Mapping[str, Group]) -> float:
    if name in _OTHER_ENDS:
        return _OTHER_ENDS[name]
    return END_TO_END_MINUTES + groups[name].minutes[1] + PROVING_MINUTES


def _covers(terms: Terms) -> tuple[Cover, ...]:
    held = Cover(HELD, terms.cost(HOLDING_MINUTES))
    return (*(Cover(name, terms.cost(minutes)) for name, (minutes, _) in all_procedures().covers.items()), held)
