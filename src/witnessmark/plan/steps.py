"""A planned step in full: how to take it, what must come off, and what each outcome would mean."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from witnessmark.catalogue.procedures import Procedure, all_procedures
from witnessmark.infer.belief import Group
from witnessmark.infer.diagnose import Diagnosis
from witnessmark.infer.explain import CAUSE_AT
from witnessmark.infer.history import REPAIR
from witnessmark.infer.summary import percent
from witnessmark.plan.casedecision import CaseDecision, Tried
from witnessmark.plan.decision import ESCALATE, Valued
from witnessmark.plan.outcomes import entropy_bits
from witnessmark.plan.repairs import repair_name
from witnessmark.plan.supply import HELD, HOLDING_MINUTES, HOLDING_WORDS
from witnessmark.plan.types import Outcome, PlannedStep
from witnessmark.plan.words import is_signed, outcome_readings, reading_words

__all__ = ["parts_bits", "planned_repair", "planned_test"]

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
_MOSTLY_UNLIKELY = 0.6  # chance of all the unlikely causes together from which on nothing else is named first
_SELDOM = 0.02  # chance under which an outcome is not told by itself
_OTHER_WORDS = {
    "elsewhere": "the cause is nothing of this list",
    "nothing_wrong": "nothing wrong",
    "none_of_these": "none of these",
}
_ASK = "ask the owner again"
_HAND_ON = "go through everything from end to end"


def planned_test(case: CaseDecision, value: Valued, then: Sequence[str]) -> PlannedStep:
    """A test or an intervention, priced.

    Parameters
    ----------
    case : CaseDecision
    value : Valued
    then : sequence of str
        What would be done after each outcome; empty where nobody looked.

    Returns
    -------
    PlannedStep
    """
    tried = case.tests[value.action]
    procedure = tried.procedure
    action = case.problem.action(value.action)
    opening = [cover.name for cover in case.problem.to_open(action)]
    opened = [name for name in opening if name != HELD]
    held = HELD in opening
    minutes = procedure.minutes + sum(all_procedures().covers[name][0] for name in opened) + held * HOLDING_MINUTES
    return PlannedStep(
        test=procedure.id,
        words=procedure.words,
        minutes=(0.5 * minutes, minutes, 2.0 * minutes),
        teardown=tuple(all_procedures().covers[name][1] for name in opened),
        needs=(procedure.tool, *((HOLDING_WORDS,) if held else ())),
        tells_bits=_bits(case, tried),
        minutes_to_proof=value.price,
        hazards=(*case.runs.said_of(tried.law.queries), *procedure.hazards, all_procedures().last_hazard),
        outcomes=_outcomes(case, tried, then),
    )


def planned_repair(diagnosis: Diagnosis, case: CaseDecision, value: Valued) -> PlannedStep:
    """A repair with its proof, priced.

    Parameters
    ----------
    diagnosis : Diagnosis
    case : CaseDecision
    value : Valued

    Returns
    -------
    PlannedStep
    """
    group = case.groups[value.action]
    cures = float(case.problem.action(value.action).cures @ case.problem.chance)
    outcomes = (
        Outcome("the same readings come right", cures, "Proven; keep the good numbers", group.id or "elsewhere"),
        Outcome("they do not", 1.0 - cures, _not_cured(group.repair), "none_of_these"),
    )
    return PlannedStep(
        test=group.repair,
        words=group.words,
        minutes=group.minutes,
        teardown=(),
        needs=(),
        tells_bits=0.0,
        minutes_to_proof=value.price,
        hazards=(*_repair_hazards(diagnosis, value.action), all_procedures().last_hazard),
        outcomes=outcomes,
        kind="repair",
    )


def _not_cured(repair: str) -> str:
    """What a repair in vain means, and how to go on from it."""
    return f'Not this, or not this alone. Then: examine again with --did "{REPAIR} {repair} cured=no"'


def _repair_hazards(diagnosis: Diagnosis, repair: str) -> tuple[str, ...]:
    """Cautions of everything that a repair may have to open, each once."""
    jobs = set(repair.split("+"))
    instances = diagnosis.posterior.instances.values()
    systems = dict.fromkeys(one.row.system for one in instances if repair_name((one.repair_key,)) in jobs)
    return tuple(dict.fromkeys(text for system in systems for text in all_procedures().repair_hazards[system]))


def parts_bits(case: CaseDecision, tried: Tried) -> float:
    """Expected information about whether the likeliest repair is the one.

    Parameters
    ----------
    case : CaseDecision
    tried : Tried

    Returns
    -------
    float, shape () [bit]
    """
    count = len(case.cloud.groups)
    before = case.causes.of_groups(count, case.causes.chance)
    named = [g for g in range(count) if not isinstance(case.cloud.groups[g], str)]
    if not named:
        return 0.0
    lead = max(named, key=lambda g: float(before[g]))
    after = case.causes.of_groups(count, tried.after)[:, lead]
    own, left = (np.stack([p, 1.0 - p], axis=-1) for p in (np.clip(before[lead], 0.0, 1.0), np.clip(after, 0.0, 1.0)))
    return float(max(entropy_bits(own) - entropy_bits(left).mean(), 0.0))


def _bits(case: CaseDecision, tried: Tried) -> float:
    """Expected information about the repair."""
    count = len(case.cloud.groups)
    after = case.causes.of_groups(count, tried.after)
    before = case.causes.of_groups(count, case.causes.chance)
    return float(max(entropy_bits(before) - entropy_bits(after).mean(), 0.0))


def _outcomes(case: CaseDecision, tried: Tried, then: Sequence[str]) -> tuple[Outcome, ...]:
    """Outcomes as the plan takes them: those after which the same cause leads and the same is done are one."""
    chances = tried.table.table @ case.problem.chance
    alike: dict[tuple[int, str], list[int]] = {}
    for k in range(len(chances)):
        mine = tried.table.label == k
        if mine.any():
            follow = then[k] if k < len(then) else ""
            alike.setdefault((_leader(case, tried.after[mine].mean(axis=0))[0], follow), []).append(k)
    found: list[Outcome] = []
    for (_, follow), several in alike.items():
        chance = float(chances[several].sum())
        mine = np.isin(tried.table.label, several)
        if chance < _SELDOM:
            continue
        words, name = _meaning(case, tried.after[mine].mean(axis=0), follow)
        for part in _by_side(tried, mine):
            readings = outcome_readings(tried.law.queries, tried.draws[part], _telling(tried, part), tried.law.nowhere)
            shows = ", ".join(reading_words(one) for one in readings)
            found.append(Outcome(shows, chance * float(part.sum() / mine.sum()), words, name, readings))
    found.sort(key=lambda outcome: -outcome.chance)
    left = 1.0 - sum(outcome.chance for outcome in found)
    if left > 1e-9:
        seldom = f"Several causes, each in less than {percent(_SELDOM)} of cases"
        return (*found, Outcome("anything else", left, seldom, "elsewhere"))
    return tuple(found)


def _leader(case: CaseDecision, after: Array) -> tuple[int, int, Array]:
    """The likeliest group that has a name, the next one, and the chances of all."""
    by_group = case.causes.of_groups(len(case.cloud.groups), after)
    order = [int(g) for g in np.argsort(-by_group)]
    if order[0] == len(case.cloud.groups) and by_group[order[0]] < _MOSTLY_UNLIKELY:
        order = order[1:]
    return order[0], order[1], by_group


def _by_side(tried: Tried, mine: Flags) -> list[Flags]:
    """One outcome may show on either side (an early or a late wheel): told apart, not as one wide range."""
    law, draws = tried.law, tried.draws
    best = _telling(tried, mine)[0]
    clear = 3.0 * float(law.spread[best])
    early, late = mine & (draws[:, best] > clear), mine & (draws[:, best] < -clear)
    if not is_signed(law.queries[best]) or min(early.sum(), late.sum()) < 0.1 * mine.sum():
        return [mine]
    return [mine & (draws[:, best] >= 0.0), mine & (draws[:, best] < 0.0)]


def _telling(tried: Tried, mine: Flags) -> list[int]:
    """Readings that part these draws from the rest, the best first."""
    law, draws = tried.law, tried.law.warp.there(tried.draws)
    scale = law.spread + 0.05
    rest = draws[~mine] if (~mine).any() else draws
    apart = np.abs(_middle(law.is_chance, draws[mine]) - _middle(law.is_chance, rest)) / scale
    tight = np.std(draws[mine], axis=0) / scale
    order = np.argsort(-(apart - 0.02 * tight))
    first = float(apart[order[0]])
    return [int(j) for j in order if apart[j] > 0.5 * first] or [int(order[0])]


def _middle(is_chance: Flags, draws: Array) -> Array:
    """Median of what is measured, share of yes of what is not."""
    return np.where(is_chance, draws.mean(axis=0), np.median(draws, axis=0))


def _meaning(case: CaseDecision, after: Array, then: str) -> tuple[str, str]:
    """What an outcome would mean, and the step after it."""
    index, second, by_group = _leader(case, after)
    chance = float(by_group[index])
    text = f"{_cause(case, index)}, {percent(chance)}"
    text = text[0].upper() + text[1:]
    if chance < CAUSE_AT:
        text += f"; still open: {_cause(case, second)}, {percent(float(by_group[second]))}"
    follow = _follow(case, then)
    return (f"{text}. Then: {follow}" if follow else text), _label(case, index)


def _follow(case: CaseDecision, then: str) -> str:
    if then == ESCALATE:
        return _ASK if case.problem.agreed.is_limited else _HAND_ON
    if then in case.tests:
        return _lower(case.tests[then].procedure)
    return case.groups[then].words if then in case.groups else ""


def _lower(procedure: Procedure) -> str:
    words = procedure.words
    return words[0].lower() + words[1:] if words[1:2].islower() else words


def _group(case: CaseDecision, index: int) -> Group | None:
    names = case.cloud.groups
    if index >= len(names) or isinstance(names[index], str):
        return None
    return case.groups[repair_name(names[index])]


def _cause(case: CaseDecision, index: int) -> str:
    group = _group(case, index)
    if group is not None:
        return group.cause
    return (
        _OTHER_WORDS[str(case.cloud.groups[index])] if index < len(case.cloud.groups) else "one of many unlikely causes"
    )


def _label(case: CaseDecision, index: int) -> str:
    group = _group(case, index)
    if group is not None:
        return group.id or "elsewhere"
    return str(case.cloud.groups[index]) if index < len(case.cloud.groups) else "elsewhere"
