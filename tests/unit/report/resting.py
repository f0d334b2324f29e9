"""Whether a sentence rests on what it says it does: its ids lead somewhere, its numbers are found there."""

from __future__ import annotations

import re
from collections.abc import Iterator

from witnessmark.case.assessment import Assessment
from witnessmark.report.foreseen import shows_words
from witnessmark.report.sentences import COMPLAINT, PLAN, Sentence

# A code keeps its letter: P0171. Thousands are set apart by a no-break space.
_CODE = re.compile(r"\b[PBCU][0-3][0-9A-F]{3}\b")
_NUMBER = re.compile(r"\d+(?:\N{NO-BREAK SPACE}\d{3})*(?:\.\d+)?")
_WORDS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")
_COUNTED = re.compile(
    rf"\b({'|'.join(_WORDS[1:])}) readings?\b|\bexplains all (three)\b|\bexplains (both)\b", re.IGNORECASE
)


def numbers_of(text: str) -> list[str]:
    """Numbers as printed, codes left out."""
    return [found.replace("\N{NO-BREAK SPACE}", "") for found in _NUMBER.findall(_CODE.sub("", text))]


def unfounded(sentence: Sentence, assessment: Assessment) -> list[str]:
    """Numbers and codes of a sentence that nothing it rests on holds."""
    values = [abs(value) for name in sentence.rests_on for value in values_of(name, assessment)]
    texts = " ".join(text for name in sentence.rests_on for text in texts_of(name, assessment))
    said = set(numbers_of(texts))
    found = [code for code in _CODE.findall(sentence.text) if code not in texts]
    for printed in numbers_of(sentence.text):
        places = len(printed.partition(".")[2])
        if printed not in said and not any(f"{value:.{places}f}" == printed for value in values):
            found.append(printed)
    return [printed for printed in found if not _is_limit(printed, sentence.text, values)]


def _is_limit(printed: str, text: str, values: list[float]) -> bool:
    """ "< 1 %" and "> 99 %" stand for what lies beyond."""
    plain = text.replace("\N{NO-BREAK SPACE}", " ")
    low = printed == "1" and "< 1 %" in plain and any(value < 0.95 for value in values)
    return low or (printed == "99" and "> 99 %" in plain and any(value > 99.05 for value in values))


def miscounted(sentence: Sentence) -> list[str]:
    """Counts in words that are more than what the sentence rests on."""
    found = []
    for groups in _COUNTED.findall(sentence.text):
        word = next(one for one in groups if one).lower()
        count = {"both": 2}.get(word) or _WORDS.index(word)
        if count > len([name for name in sentence.rests_on if name[0] == "f"]):
            found.append(word)
    return found


def values_of(name: str, assessment: Assessment) -> Iterator[float]:
    """Every number behind an id; chances in percent."""
    belief = assessment.belief
    for finding in assessment.findings:
        if finding.id == name:
            yield from (finding.value, finding.sd, finding.source.number or 0.0)
            yield from (value for value in finding.condition.as_dict().values() if isinstance(value, float))
            if finding.doubt is not None:
                doubt = finding.doubt
                yield from (100.0 * doubt.chance, doubt.usual, doubt.usual_sd, doubt.low, doubt.high)
                yield from (doubt.meant or 0.0, float(doubt.places))
    for tell in belief.tells:
        if tell.finding == name:
            yield from (tell.expected, tell.sd, 100.0 * tell.expected)
    for hypothesis in belief.hypotheses:
        if hypothesis.id == name:
            yield 100.0 * hypothesis.probability
            for fault in hypothesis.faults:
                yield from (value for p in fault.parameters for value in (p.value, p.sd))
    for group in belief.groups:
        if group.id == name:
            yield from (100.0 * group.probability, *group.minutes)
    yield from (100.0 * vain.probability for vain in belief.in_vain if vain.id == name)
    for step in steps_of(name, assessment):
        yield from (*step.minutes, *(100.0 * outcome.chance for outcome in step.outcomes))
        for outcome in step.outcomes:
            yield from (value for one in outcome.readings for value in (one.low, one.high))
    if name == PLAN:
        yield from (value for o in assessment.plan.offers for value in (o.saves_minutes, o.minutes, o.money))


def texts_of(name: str, assessment: Assessment) -> Iterator[str]:
    """Every text behind an id; none where the id leads nowhere."""
    belief = assessment.belief
    if name == COMPLAINT:
        yield assessment.intake.complaint
    for finding in assessment.findings:
        if finding.id == name:
            yield f"{finding.place} {finding.condition.as_dict()}"
    for hypothesis in belief.hypotheses:
        if hypothesis.id == name:
            yield " ".join([hypothesis.words, *(fault.words for fault in hypothesis.faults)])
    for group in belief.groups:
        if group.id == name:
            yield f"{group.words} {group.cause}"
    yield from (vain.words for vain in belief.in_vain if vain.id == name)
    for step in steps_of(name, assessment):
        shows = (shows_words(assessment.engine, outcome) for outcome in step.outcomes)
        yield " ".join([step.words, *shows, *(f"{outcome.shows} {outcome.then}" for outcome in step.outcomes)])
    if name == PLAN:
        yield " ".join(f"{offer.words} {offer.first_words}" for offer in assessment.plan.offers)


def steps_of(name: str, assessment: Assessment) -> list:  # type: ignore[type-arg]
    """The step of the plan with this id."""
    every = (*assessment.plan.steps, *assessment.plan.alternatives)
    return [step for number, step in enumerate(every, start=1) if name == f"t{number}"]
