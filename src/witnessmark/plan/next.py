"""The next step: every test tried on the posterior, priced to a proven repair."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from witnessmark.catalogue.procedures import Procedure, all_procedures
from witnessmark.infer.belief import Group
from witnessmark.infer.components import Key
from witnessmark.infer.diagnose import Diagnosis
from witnessmark.infer.explain import CAUSE_AT
from witnessmark.infer.sorting import query_of
from witnessmark.infer.summary import group_of, percent, repair_of
from witnessmark.plan.forecast import TestLaw, forecast
from witnessmark.plan.particles import Particles, particles
from witnessmark.plan.types import Outcome, Plan, PlannedStep
from witnessmark.plan.value import (
    PROVING_MINUTES,
    Option,
    Tried,
    entropy_bits,
    expected_minutes,
    least_minutes,
    try_test,
)
from witnessmark.plan.words import outcome_words

__all__ = ["next_steps"]

Array = NDArray[np.float64]
# What ends a case whose cause is none of the repairs listed: minutes, our guess.
_OTHER_OPTIONS = {
    "elsewhere": Option(240.0, 0.9),
    "nothing_wrong": Option(60.0, 0.9),
    "none_of_these": Option(480.0, 0.8),
}
_ALTERNATIVES = 6
_SELDOM = 0.02  # chance under which an outcome is not told by itself
_OTHER_WORDS = {
    "elsewhere": "the cause is nothing of this list",
    "nothing_wrong": "nothing wrong",
    "none_of_these": "none of these",
}


def next_steps(diagnosis: Diagnosis, *, covers_open: Sequence[str] = ()) -> Plan:
    """What to do next, by least expected minutes to a proven repair, one step ahead.

    Parameters
    ----------
    diagnosis : Diagnosis
    covers_open : sequence of str
        Covers that are off already; tests behind them cost no more than themselves.

    Returns
    -------
    Plan
        The best step first; a repair only when no test is expected to save minutes.
    """
    cloud = particles(diagnosis.posterior)
    groups = _repairs(diagnosis)
    options = tuple(_option(name, groups) for name in cloud.groups)
    done = [query_of(f) for f in diagnosis.posterior.worlds[0].findings.all]
    now = float(expected_minutes(cloud.chance, options))
    tests = []
    foreseen = forecast(cloud, all_procedures().all, done)
    for procedure in all_procedures().all:
        if procedure.id in foreseen.tests:
            law = foreseen.law(procedure.id)
            minutes = _minutes(procedure, covers_open)
            tried = try_test(cloud, law, options, minutes)
            tests.append(_planned(procedure, cloud, law, tried, groups, covers_open))
    tests.sort(key=lambda step: step.minutes_to_proof)
    repair = _repair_step(diagnosis, cloud, options, now)
    decided = diagnosis.belief.verdict.kind in ("cause", "cleared")
    steps = [*tests]
    if repair is not None and (decided or not tests or now <= tests[0].minutes_to_proof):
        steps = [repair, *tests]
    elif repair is not None:
        steps.insert(min(2, len(steps)), repair)
    best = now if decided or not tests else min(now, tests[0].minutes_to_proof)
    return Plan(
        steps=tuple(steps[:1]),
        alternatives=tuple(steps[1 : 1 + _ALTERNATIVES]),
        expected_minutes_to_proof=best,
        cannot_beat_minutes=least_minutes(cloud.chance, options),
        open_bits=float(entropy_bits(cloud.chance)),
    )


def _repairs(diagnosis: Diagnosis) -> dict[str, Group]:
    """Every repair by its name: those of the answer, and those of faults that nothing found would show."""
    post = diagnosis.posterior
    members: dict[object, list[Key]] = {}
    for cloud in post.unseen:
        key = cloud.integrated.component.key
        members.setdefault(group_of(post, key), []).append(key)
    hidden = [repair_of(post, names) for names in members.values()]
    return {group.repair: group for group in (*hidden, *diagnosis.belief.groups)}


def _repair_name(name: object) -> str:
    return name if isinstance(name, str) else "+".join(f"{job}:{scope}" for job, scope in name)  # type: ignore[attr-defined]


def _option(name: object, groups: dict[str, Group]) -> Option:
    if isinstance(name, str):
        return _OTHER_OPTIONS[name]
    group = groups[_repair_name(name)]
    return Option(group.minutes[1] + PROVING_MINUTES, group.success)


def _minutes(procedure: Procedure, covers_open: Sequence[str]) -> float:
    cover = procedure.cover
    extra = all_procedures().covers[cover][0] if cover is not None and cover not in covers_open else 0.0
    return procedure.minutes + extra


def _planned(
    procedure: Procedure,
    cloud: Particles,
    law: TestLaw,
    tried: Tried,
    groups: dict[str, Group],
    covers_open: Sequence[str],
) -> PlannedStep:
    minutes = _minutes(procedure, covers_open)
    cover = procedure.cover
    off = (all_procedures().covers[cover][1],) if cover is not None and cover not in covers_open else ()
    return PlannedStep(
        test=procedure.id,
        words=procedure.words,
        minutes=(0.5 * minutes, minutes, 2.0 * minutes),
        teardown=off,
        needs=(procedure.tool,),
        tells_bits=tried.bits,
        minutes_to_proof=tried.minutes,
        hazards=(*procedure.hazards, all_procedures().last_hazard),
        outcomes=_outcomes(cloud, law, tried, groups),
    )


def _outcomes(cloud: Particles, law: TestLaw, tried: Tried, groups: dict[str, Group]) -> tuple[Outcome, ...]:
    """Outcomes gathered by what would lead after them."""
    leader = np.argmax(tried.after, axis=1)
    found: list[Outcome] = []
    for index in np.unique(leader):
        for mine in _by_side(law, tried.draws, leader == index):
            chance = float(mine.mean())
            if chance < _SELDOM:
                continue
            shows = outcome_words(law.queries, tried.draws[mine], _telling(law, tried.draws, mine))
            then, name = _meaning(cloud, tried.after[mine].mean(axis=0), int(index), groups)
            found.append(Outcome(shows, chance, then, name))
    left = 1.0 - sum(outcome.chance for outcome in found)
    if left > 1e-9:
        seldom = Outcome(
            "anything else", left, f"Several causes, each in less than {percent(_SELDOM)} of cases", "elsewhere"
        )
        return (*sorted(found, key=lambda o: -o.chance), seldom)
    return tuple(sorted(found, key=lambda o: -o.chance))


def _by_side(law: TestLaw, draws: Array, mine: NDArray[np.bool_]) -> list[NDArray[np.bool_]]:
    """One outcome may show on either side (an early or a late wheel): told apart, not as one wide range."""
    best = _telling(law, draws, mine)[0]
    clear = 3.0 * float(np.sqrt(law.covariance[best, best]))
    early, late = mine & (draws[:, best] > clear), mine & (draws[:, best] < -clear)
    if law.is_chance[best] or min(early.sum(), late.sum()) < 0.1 * mine.sum():
        return [mine]
    return [mine & (draws[:, best] >= 0.0), mine & (draws[:, best] < 0.0)]


def _telling(law: TestLaw, draws: Array, mine: NDArray[np.bool_]) -> list[int]:
    """Readings that part these draws from the rest, the best first."""
    scale = np.sqrt(np.diag(law.covariance)) + 0.05
    rest = draws[~mine] if (~mine).any() else draws
    apart = np.abs(np.median(draws[mine], axis=0) - np.median(rest, axis=0)) / scale
    tight = np.std(draws[mine], axis=0) / scale
    order = np.argsort(-(apart - 0.02 * tight))
    first = float(apart[order[0]])
    return [int(j) for j in order if apart[j] > 0.5 * first] or [int(order[0])]


def _meaning(cloud: Particles, after: Array, index: int, groups: dict[str, Group]) -> tuple[str, str]:
    name = cloud.groups[index]
    chance = float(after[index])
    order = [int(i) for i in np.argsort(-after) if i != index]
    label = name if isinstance(name, str) else groups[_repair_name(name)].id or "elsewhere"
    text = f"{_cause(name, groups)}, {percent(chance)}"
    text = text[0].upper() + text[1:]
    if chance >= CAUSE_AT:
        return text, label
    second = cloud.groups[order[0]]
    return f"{text}; still open: {_cause(second, groups)}, {percent(float(after[order[0]]))}", label


def _cause(name: object, groups: dict[str, Group]) -> str:
    return _OTHER_WORDS[name] if isinstance(name, str) else groups[_repair_name(name)].cause


def _repair_step(diagnosis: Diagnosis, cloud: Particles, options: tuple[Option, ...], now: float) -> PlannedStep | None:
    """The repair that would be tried first."""
    groups = diagnosis.belief.groups
    if not groups or diagnosis.belief.verdict.kind == "cleared":
        return None
    group = max(groups, key=lambda g: g.probability * g.success / (g.minutes[1] + PROVING_MINUTES))
    if diagnosis.belief.verdict.group is not None and diagnosis.belief.verdict.kind == "cause":
        group = next(g for g in groups if g.id == diagnosis.belief.verdict.group)
    cures = group.probability * group.success
    outcomes = (
        Outcome("the same readings come right", cures, "Proven; keep the good numbers", group.id),
        Outcome("they do not", 1.0 - cures, "Not this, or not this alone", "none_of_these"),
    )
    return PlannedStep(
        test=group.repair,
        words=group.words,
        minutes=group.minutes,
        teardown=(),
        needs=(),
        tells_bits=0.0,
        minutes_to_proof=now,
        hazards=(*_repair_hazards(diagnosis, group), all_procedures().last_hazard),
        outcomes=outcomes,
        kind="repair",
    )


def _repair_hazards(diagnosis: Diagnosis, group: Group) -> tuple[str, ...]:
    """Cautions of everything that a repair may have to cure, each once."""
    known = diagnosis.posterior.instances
    faults = (fault for name in group.hypotheses for fault in diagnosis.belief.hypothesis(name).faults)
    systems = dict.fromkeys(known[fault.fault, fault.place[0][1]].row.system for fault in faults)
    return tuple(dict.fromkeys(text for system in systems for text in all_procedures().repair_hazards[system]))
