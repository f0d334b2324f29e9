"""The next step: what to do first, by the least expected minutes to a proven repair as far ahead as time allows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from witnessmark.catalogue.procedures import all_procedures
from witnessmark.errors import one_of
from witnessmark.infer.belief import Group
from witnessmark.infer.components import Key
from witnessmark.infer.diagnose import Diagnosis
from witnessmark.infer.points import particles
from witnessmark.infer.sorting import query_of
from witnessmark.infer.summary import group_of, repair_of
from witnessmark.plan.asking import asked_again
from witnessmark.plan.casedecision import CaseDecision, case_decision
from witnessmark.plan.confirming import confirming_test, is_confirmed
from witnessmark.plan.decision import ESCALATE, Decision, Valued
from witnessmark.plan.forecast import forecast
from witnessmark.plan.further import further_agreements
from witnessmark.plan.repairs import repair_name
from witnessmark.plan.search import next_action, price_instead
from witnessmark.plan.steps import parts_bits, planned_repair, planned_test
from witnessmark.plan.terms import Effort, Terms
from witnessmark.plan.types import FurtherAgreement, Plan, PlannedStep, Priced

__all__ = ["next_steps", "repairs_in_question"]

_ALTERNATIVES = 6
_TIE = 1e-9
_EVEN = 0.02
"""First steps whose prices differ by less than this share are as good as each other, by what the look ahead can tell:
its outcomes are cut from some hundred draws; our choice."""
_PARTS = 0.1  # bits by which a test has to part the likeliest repair from the rest to come first among them; our choice
_REPAIRS_SHOWN = 2  # among the alternatives


def next_steps(diagnosis: Diagnosis, *, terms: Terms | None = None, covers_open: Sequence[str] = ()) -> Plan:
    """What to do next, by least expected minutes to a proven repair.

    Parameters
    ----------
    diagnosis : Diagnosis
    terms : Terms, optional
        What the owner and the shop allow; nothing is limited where left out.
    covers_open : sequence of str
        Covers that are off already, besides those of the terms.

    Returns
    -------
    Plan
        The best step first. No step at all where none lies inside what was agreed.

    Raises
    ------
    InputError
        If the technician's own choice is neither a test that would read something new nor a repair in question.
    """
    terms = terms or Terms()
    terms = replace(terms, covers_open=tuple(dict.fromkeys((*terms.covers_open, *covers_open))))
    cloud = particles(diagnosis.posterior)
    done = [query_of(f) for f in diagnosis.posterior.worlds[0].findings.all]
    foreseen = forecast(cloud, all_procedures().all, done)
    case = case_decision(cloud, foreseen, repairs_in_question(diagnosis), terms, in_vain=diagnosis.in_vain)
    effort = terms.effort
    if terms.agreed.is_limited:
        effort = effort.part(0.5)  # two questions then: inside the limits, and with each one lifted
        case = replace(case, problem=asked_again(case.problem))
    decision = next_action(case.problem, seconds=effort.seconds, situations=effort.situations)
    ranked = _ranked(diagnosis, case, decision, inside=terms.agreed.is_limited)
    ranked, confirms = _confirmed(diagnosis, case, ranked)
    steps = tuple(_step(diagnosis, case, decision, value) for value in _shown(case, ranked))
    return Plan(
        steps=steps[:1],
        alternatives=steps[1:],
        expected_minutes_to_proof=steps[0].minutes_to_proof if steps else decision.price,
        cannot_beat_minutes=decision.known_cause,
        open_bits=case.open_bits,
        no_plan_beats=min(decision.cannot_beat, steps[0].minutes_to_proof) if steps else decision.cannot_beat,
        looked_ahead=decision.steps,
        end_minutes=_price_of_the_end(decision),
        priced=tuple(_priced(case, value) for value in ranked),
        offers=_offers(case, decision, effort),
        instead=_instead(diagnosis, case, decision, terms),
        limited=terms.agreed.is_limited,
        waits=case.runs.waits,
        confirms=confirms,
    )


def repairs_in_question(diagnosis: Diagnosis) -> dict[str, Group]:
    """Every repair by its name: those of the answer, of faults that nothing found would show, and parts of them.

    Parameters
    ----------
    diagnosis : Diagnosis

    Returns
    -------
    dict of str to Group
    """
    post = diagnosis.posterior
    members: dict[object, list[Key]] = {}
    for key in (cloud.integrated.component.key for cloud in (*post.clouds, *post.unseen)):
        for own in (key, *((part,) for part in key if len(key) > 1)):
            members.setdefault(group_of(post, own), []).append(own)
    known = [repair_of(post, list(dict.fromkeys(names))) for names in members.values()]
    return {group.repair: group for group in (*known, *diagnosis.belief.groups)}


def _ranked(diagnosis: Diagnosis, case: CaseDecision, decision: Decision, *, inside: bool) -> tuple[Valued, ...]:
    """First actions by what they cost in the end; once the cause is plain its repair comes first.

    Before that, of first steps that cost as good as the same, the test that tells most about whether the likeliest
    repair is the one: its minutes are in the price, and a repair that was not needed is not taken back.

    Inside an agreement only what costs no more than asking the owner at once: asked after it, the owner knows more.
    """
    end = _price_of_the_end(decision)
    values = [v for v in decision.values if v.action != ESCALATE and (v.price <= end * (1.0 + _TIE) or not inside)]
    verdict = diagnosis.belief.verdict
    if verdict.kind == "cause":
        repair = next((g.repair for g in diagnosis.belief.groups if g.id == verdict.group), "")
        values.sort(key=lambda value: value.action != repair)
    elif values:
        dearest = values[0].price * (1.0 + _EVEN)
        even = [value.action for value in values if value.action in case.tests and value.price <= dearest]
        parts = {test: parts_bits(case, case.tests[test]) for test in even}
        first = max(parts, key=lambda test: parts[test], default="")
        if parts.get(first, 0.0) >= _PARTS:
            values.sort(key=lambda value: value.action != first)
    return tuple(values)


def _confirmed(diagnosis: Diagnosis, case: CaseDecision, ranked: tuple[Valued, ...]) -> tuple[tuple[Valued, ...], str]:
    """Before a dear repair that nothing has confirmed, what looks at its cause directly; and which repair that is."""
    if not ranked or ranked[0].action in case.tests:
        return ranked, ""
    cause = _likeliest(diagnosis, ranked[0].action)
    if cause is not None and is_confirmed(diagnosis.posterior, cause):
        return ranked, ""
    first = confirming_test(case, ranked[0].action, ranked)
    if first is None:
        return ranked, ""
    return (first, *(value for value in ranked if value is not first)), ranked[0].action


def _likeliest(diagnosis: Diagnosis, repair: str) -> Key | None:
    """The likeliest hypothesis that a repair cures."""
    post = diagnosis.posterior
    faults = (name for name in diagnosis.keys if not isinstance(name, str))
    return next((name for name in faults if repair_name(group_of(post, name)) == repair), None)


def _price_of_the_end(decision: Decision) -> float:
    return next(value.price for value in decision.values if value.action == ESCALATE)


def _shown(case: CaseDecision, ranked: Sequence[Valued]) -> list[Valued]:
    """The best, and of the rest tests before a long tail of repairs."""
    shown: list[Valued] = []
    repairs = 0
    for value in ranked:
        is_repair = value.action not in case.tests
        if is_repair and shown and repairs >= _REPAIRS_SHOWN:
            continue
        repairs += is_repair
        shown.append(value)
        if len(shown) > _ALTERNATIVES:
            break
    return shown


def _step(diagnosis: Diagnosis, case: CaseDecision, decision: Decision, value: Valued) -> PlannedStep:
    if value.action in case.tests:
        return planned_test(case, value, decision.then.get(value.action, ()))
    return planned_repair(diagnosis, case, value)


def _priced(case: CaseDecision, value: Valued) -> Priced:
    kind = "test" if value.action in case.tests else "repair"
    minutes = case.problem.cost_now(case.problem.action(value.action)).minutes
    return Priced(value.action, kind, minutes, value.price, value.cannot_beat)


def _instead(diagnosis: Diagnosis, case: CaseDecision, decision: Decision, terms: Terms) -> PlannedStep | None:
    """The technician's own choice with a look of its own behind each outcome."""
    if not terms.instead:
        return None
    names = [action.name for action in case.problem.actions]
    if terms.instead not in names:
        raise one_of("test that would read something new, or repair in question", terms.instead, names)
    effort = terms.effort
    value = price_instead(case.problem, terms.instead, seconds=effort.seconds, situations=effort.situations)
    return _step(diagnosis, case, decision, value)


def _offers(case: CaseDecision, decision: Decision, effort: Effort) -> tuple[FurtherAgreement, ...]:
    """What a further agreement would buy, in words."""
    if not case.problem.agreed.is_limited:
        return ()
    offers = further_agreements(case.problem, decision, seconds=effort.seconds, situations=effort.situations)
    return tuple(
        FurtherAgreement(
            what=offer.what,
            words=_limit_words(offer.what),
            saves_minutes=offer.saves,
            first=offer.action,
            first_words=_action_words(case, offer.action),
            minutes=offer.cost.minutes,
            money=offer.cost.money,
        )
        for offer in offers
    )


def _limit_words(what: str) -> str:
    covers = all_procedures().covers
    return covers[what][1] if what in covers else what


def _action_words(case: CaseDecision, action: str) -> str:
    if action in case.tests:
        return case.tests[action].procedure.words
    return case.groups[action].words if action in case.groups else ""
