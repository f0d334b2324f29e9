"""A case in words: for a technician, and for the owner."""

from __future__ import annotations

from dataclasses import dataclass

from witnessmark.case.assessment import Assessment
from witnessmark.report.colleague import colleague_sentences
from witnessmark.report.owner import owner_sentences
from witnessmark.report.sentences import Sentence

__all__ = ["Explanation", "explanation"]


@dataclass(frozen=True, slots=True)
class Explanation:
    """Both explanations of one answer.

    Parameters
    ----------
    technician, owner : tuple of Sentence
    """

    technician: tuple[Sentence, ...]
    owner: tuple[Sentence, ...]


def explanation(assessment: Assessment) -> Explanation:
    """An answer in words, generated from its numbers.

    Parameters
    ----------
    assessment : Assessment

    Returns
    -------
    Explanation
    """
    return Explanation(colleague_sentences(assessment), owner_sentences(assessment))
