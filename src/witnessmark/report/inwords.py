"""Both explanations as the page shows them: each sentence with marks that lead to what it rests on."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from witnessmark.case.assessment import Assessment
from witnessmark.report.causes import Causes
from witnessmark.report.explanation import explanation
from witnessmark.report.sentences import COMPLAINT, PLAN, Sentence

__all__ = ["InWords", "Mark", "Marked", "in_words"]


@dataclass(frozen=True, slots=True)
class Mark:
    """A small sign behind a sentence: where it leads, and what is written."""

    href: str
    text: str


@dataclass(frozen=True, slots=True)
class Marked:
    """A sentence with its marks."""

    text: str
    marks: tuple[Mark, ...]


@dataclass(frozen=True, slots=True)
class InWords:
    """The two explanations."""

    technician: tuple[Marked, ...]
    owner: tuple[Marked, ...]


def in_words(assessment: Assessment, causes: Causes) -> InWords:
    """Both explanations, ready to be shown.

    Parameters
    ----------
    assessment : Assessment
    causes : Causes
        As the page shows them.

    Returns
    -------
    InWords
    """
    shown = [cause.id for cluster in causes.clusters for cause in cluster.causes]
    at = {name: name for name in shown}
    for group in assessment.belief.groups:
        first = next((name for name in shown if name in group.hypotheses), None)
        if first is not None:
            at[group.id] = first
    told = explanation(assessment)
    findings = {finding.id for finding in assessment.findings}
    return InWords(
        tuple(_marked(sentence, at, findings) for sentence in told.technician),
        tuple(_marked(sentence, at, findings) for sentence in told.owner),
    )


def _marked(sentence: Sentence, at: dict[str, str], findings: Collection[str]) -> Marked:
    marks = dict.fromkeys(_mark(name, at, findings) for name in sentence.rests_on)
    return Marked(sentence.text, tuple(_one_a_part(list(marks))))


def _mark(name: str, at: dict[str, str], findings: Collection[str]) -> Mark:
    if name in findings:
        return Mark(f"#{name}", name)
    if name == COMPLAINT:
        return Mark("#says", "part 1")
    if name[0] == "d" and name[1:].isdigit():
        return Mark("#done", "part 2")
    if name == PLAN or (name[0] == "t" and name[1:].isdigit()):
        return Mark("#next", "part 6")
    return Mark(f"#{at.get(name, 'explains')}", "part 5")


def _one_a_part(marks: list[Mark]) -> list[Mark]:
    """Of several marks that read alike the first: a row of "part 5, part 5" helps nobody."""
    seen: dict[str, Mark] = {}
    for mark in marks:
        seen.setdefault(mark.text, mark)
    return list(seen.values())
