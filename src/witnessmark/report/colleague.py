"""What one technician would say to another of a case: made from its numbers, each sentence with what it rests on."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from witnessmark.case.assessment import Assessment
from witnessmark.engine.types import Engine
from witnessmark.finding import Finding
from witnessmark.infer.belief import Hypothesis
from witnessmark.plan.types import Outcome
from witnessmark.report.askedback import doubted, slip_words
from witnessmark.report.foreseen import shows_words
from witnessmark.report.lead import Lead
from witnessmark.report.likely import likely_words
from witnessmark.report.nextstep import outside
from witnessmark.report.sentences import PLAN, Sentence, said
from witnessmark.report.standing import SPECIAL, hypothesis_words, size_words
from witnessmark.report.tellings import SOUND, Tellings
from witnessmark.report.words import NBSP, chance, inside, listed, number

__all__ = ["colleague_sentences"]

_MOST = 7
_FITS = 2.0  # spreads within which a finding counts as explained
_SPEAKS = 3.0  # decibans from which on a single finding is said to speak for one cause over another
_STRONGLY, _ALL_BUT = 8.0, 15.0
_SOUND = {"shows": "a sound engine: ", "of": "of sound engines"}
_IT = {"shows": "it would show ", "of": "of such cases"}
_LIKELY = 0.66  # below it the number says more than a word
_OPEN_FROM = 0.05
_MOST_OPEN = 2
_MOST_OUTCOMES = 2
_MOST_RULED_OUT = 2


def colleague_sentences(assessment: Assessment) -> tuple[Sentence, ...]:
    """The technician's explanation.

    Parameters
    ----------
    assessment : Assessment

    Returns
    -------
    tuple of Sentence
        Three to seven where anything was weighed: what was found, what explains it and how sure, what speaks against
        it, what was ruled out and by which finding, what is still open, what to do next and what it would show.
    """
    lead, tellings = Lead.of(assessment), Tellings(assessment)
    found = _found_ones(lead, tellings)
    every = [
        *_asked_back(assessment),
        *_found(assessment, found, tellings),
        *_explains(lead, found, tellings),
        *_against(lead, tellings),
        *_ruled_out(lead, tellings),
        *_open(assessment, lead),
        *_next(assessment),
    ]
    return tuple(every) if len(every) <= _MOST else _shortened(every)


def _shortened(every: Sequence[Sentence]) -> tuple[Sentence, ...]:
    """At most seven: the next step and what it would show are said in one."""
    *before, step, outcomes = every
    return (*before, said(f"{step.text} {outcomes.text}", step.rests_on, outcomes.rests_on))[:_MOST]


def _asked_back(assessment: Assessment) -> Iterator[Sentence]:
    for finding in doubted(assessment)[:1]:
        yield said(slip_words(assessment.engine, finding), finding.id)


def _found_ones(lead: Lead, tellings: Tellings) -> tuple[Finding, ...]:
    """The findings that weigh most: for the cause that leads over a sound vehicle, or the oddest."""
    if lead.leads and tellings.knows(lead.fault.id):
        telling = tellings.telling(lead.fault.id, SOUND)
        if telling:
            return telling
    return tellings.oddest(SOUND)


def _found(assessment: Assessment, found: Sequence[Finding], tellings: Tellings) -> Iterator[Sentence]:
    if found:
        yield said(f"What weighs most: {tellings.listed(found, SOUND, **_SOUND)}.", _ids(found))
        return
    weighed = tellings.weighed[:3]
    if weighed:
        what = tellings.listed(weighed, SOUND, **_SOUND)
        yield said(f"Nothing that was read is off by itself: {what}.", _ids(weighed))
    elif assessment.findings:
        text = "Nothing that was read is weighed: nothing here predicts it."
        yield said(text, [finding.id for finding in assessment.findings[:3]])


def _explains(lead: Lead, found: Sequence[Finding], tellings: Tellings) -> Iterator[Sentence]:
    if not lead.leads:
        yield _nothing_leads(lead)
        return
    fault, group = lead.fault, lead.group
    size = size_words(fault)
    name = f"{hypothesis_words(fault)}{f', {size},' if size else ''}"
    explained = [finding for finding in found if tellings.off(finding, fault.id) < _FITS]
    how = _how_many(explained, found, tellings)
    sure = chance(fault.probability)
    if fault.probability >= _LIKELY:
        sure = f"{likely_words(fault.probability)}, {sure}"
    ids = [fault.id, *(finding.id for finding in explained)]
    if group is not None and group.probability - fault.probability > 0.02:
        together = f"{chance(group.probability)} together with what the same repair cures"
        yield said(f"{name} {how}: by itself {chance(fault.probability)}, {together}.", ids, group.id)
        return
    yield said(f"{name} {how}: {sure}.", ids)


def _how_many(explained: Sequence[Finding], found: Sequence[Finding], tellings: Tellings) -> str:
    if not found:
        return "leads by how often it happens; no reading speaks for it"
    if len(explained) == len(found):
        return {1: "explains it", 2: "explains both"}.get(len(found), "explains all three")
    if not explained:
        return "leads, though it fits none of that closely"
    return f"explains {listed([tellings.name(finding) for finding in explained])}"


def _nothing_leads(lead: Lead) -> Sentence:
    special = lead.special
    title, means = SPECIAL[special.id]
    text = f"No cause of the list leads. {title.rstrip('.')}, {chance(special.probability)}: {inside(means)}"
    if lead.belief.verdict.cleared:
        systems = listed([name.replace("_", " ") for name in lead.belief.verdict.cleared])
        text = (
            f"Cleared by what was found: {systems}. {title.rstrip('.')}, {chance(special.probability)}: {inside(means)}"
        )
    if lead.group is None:
        return said(f"{text}.", special.id)
    first = f"the likeliest repair on the list is for {inside(lead.group.cause)}, {chance(lead.group.probability)}"
    return said(f"{text}; {first}.", special.id, lead.group.id)


def _against(lead: Lead, tellings: Tellings) -> Iterator[Sentence]:
    fault = lead.fault
    if not lead.leads or not tellings.knows(fault.id):
        return
    misfit = tellings.oddest(fault.id, most=2)
    if misfit:
        yield said(f"What does not fit it: {tellings.listed(misfit, fault.id, **_IT)}.", fault.id, _ids(misfit))
        return
    rival = lead.rival
    if rival is not None and tellings.knows(rival.id):
        better = tellings.telling(rival.id, fault.id, most=1, least=_SPEAKS)
        name = inside(hypothesis_words(rival))
        if better:
            own = tellings.listed(better, fault.id, **_IT)
            its = tellings.beside(better[0], rival.id, shows="it would show ", of="of its cases")
            text = f"Against it: {own}, which suits another better: {name} ({its})."
            yield said(text, rival.id, fault.id, _ids(better))
            return
        if lead.is_rarer:
            text = f"No finding speaks against it; it is only the rarer to begin with, beside {name}."
            yield said(text, fault.id, rival.id)
            return
    yield said("No finding speaks against it by more than a hint.", fault.id)


def _ruled_out(lead: Lead, tellings: Tellings) -> Iterator[Sentence]:
    best = lead.fault if lead.leads else lead.special
    parts: list[str] = []
    ids: list[str] = []
    weakest = float("inf")
    for name in lead.belief.ruled_out:
        other = lead.belief.hypothesis(name)
        by = tellings.telling(best.id, name, most=1, least=_SPEAKS)
        if not by or len(parts) == _MOST_RULED_OUT:
            continue
        finding = by[0]
        parts.append(f"{inside(hypothesis_words(other))}, by {tellings.listed(by, name, **_IT)}")
        ids += [name, finding.id]
        weakest = min(weakest, tellings.decibans(finding, best.id, name))
    if parts:
        how = "Spoken against" if weakest < _STRONGLY else "Strongly spoken against"
        yield said(f"{'All but ruled out' if weakest >= _ALL_BUT else how}: {'; '.join(parts)}.", ids)


def _open(assessment: Assessment, lead: Lead) -> Iterator[Sentence]:
    belief = assessment.belief
    own = lead.group.id if lead.leads and lead.group is not None else ""
    groups = [group for group in belief.groups if group.id != own and group.probability >= _OPEN_FROM][:_MOST_OPEN]
    special = [h for h in belief.hypotheses if h.id in SPECIAL and h.probability >= _OPEN_FROM and h.id != lead.shown]
    left = [*(f"{inside(g.cause)}, {chance(g.probability)}" for g in groups), *map(_special_words, special)]
    if not left:
        return
    apart = [belief.hypothesis(name) for name in belief.inseparable[1:3]]
    text = f"Still open: {'; '.join(left)}"
    if apart and lead.leads:
        names = listed([inside(hypothesis_words(one)) for one in apart], "or")
        text += f". Nothing found so far parts the leader from {names}"
    yield said(f"{text}.", [g.id for g in groups], [h.id for h in special], [h.id for h in apart])


def _special_words(hypothesis: Hypothesis) -> str:
    words = {
        "elsewhere": "a cause that these findings would not show",
        "none_of_these": "something that is not on the list",
        "nothing_wrong": "nothing wrong at all",
    }
    return f"{words[hypothesis.id]}, {chance(hypothesis.probability)}"


def _next(assessment: Assessment) -> Iterator[Sentence]:
    steps = assessment.plan.steps
    if not steps:
        asked = outside(assessment.plan, assessment.engine)
        if asked is not None:
            yield said(" ".join([asked.sentence, *asked.offers[:1]]), PLAN)
        return
    step = steps[0]
    kind = "Next, the repair" if step.kind == "repair" else "Next"
    yield said(f"{kind}, about {number(step.minutes[1])}{NBSP}minutes: {inside(step.words)}.", "t1")
    outcomes = sorted(step.outcomes, key=lambda one: -one.chance)[:_MOST_OUTCOMES]
    if outcomes:
        yield said(f"{'; '.join(_outcome(assessment.engine, one) for one in outcomes)}.", "t1")


def _outcome(engine: Engine, outcome: Outcome) -> str:
    """What an outcome shows first of all, and what it would mean."""
    means = re.split(r"[.;] ", outcome.then)[0].rstrip(".")
    shows = inside(shows_words(engine, outcome).split("; ")[0])
    when = "" if shows.startswith("anything") else "if "
    return f"{when}{shows} ({chance(outcome.chance)}): {inside(means)}"


def _ids(findings: Sequence[Finding]) -> list[str]:
    return [finding.id for finding in findings]
